#include "resource/measured.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/sky.h"

enum { LONGEST_AIR_GAP_H = 6, LONGEST_LIGHT_GAP_H = 3 }; /* air: temperature and wind */

static const double most_zone_miss_h = 1.5, most_centroid_h = 2, noted_centroid_h = 0.35;

/* A step closes well while its miss is at most this share of global; so does a file whose median
 * is. */
static const double fair_closure = 0.05;

/* ---- memory and messages ---- */

bool steading_measured_allocate(steading_measured *m, size_t rows) {
  m->rows = rows;
  m->lines = calloc(rows, sizeof *m->lines);
  m->years = m->instant ? calloc(rows, sizeof *m->years) : NULL;
  if (m->lines == NULL || (m->instant && m->years == NULL)) return false;
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    m->values[q] = malloc(rows * sizeof(double));
    if (m->values[q] == NULL) return false;
    for (size_t i = 0; i < rows; i++) m->values[q][i] = (double)NAN;
  }
  return true;
}

void steading_measured_free(steading_measured *m) {
  for (int q = 0; q < STEADING_QUANTITIES; q++) free(m->values[q]);
  free(m->lines);
  free(m->years);
}

const char *steading_measured_at(steading_measured *m, size_t line) {
  snprintf(m->where, sizeof m->where, "%.200s: line %zu", m->name, line);
  return m->where;
}

static steading_status no_memory(steading_measured *m) {
  return steading_fail(m->error, STEADING_NO_MEMORY, m->name, "not enough memory");
}

/* ---- single values ---- */

bool steading_measured_bound(steading_measured *m, steading_quantity quantity, double *value,
                             const char **expected) {
  bool hourly = m->step_minutes == 60;
  if (quantity == STEADING_TEMP) {
    *expected = "-90 to 60 C";
    return *value >= -90 && *value <= 60;
  }
  if (quantity == STEADING_WIND) {
    *expected = "0 to 75 m/s";
    return *value >= 0 && *value <= 75;
  }
  *expected = hourly ? "0 to 1500 W/m2" : "0 to 2000 W/m2";
  if (!(*value >= -50 && *value <= (hourly ? 1500 : 2000))) return false;
  if (*value < 0) { /* the zero offset of a sensor at night */
    m->negatives++;
    *value = 0;
  }
  return true;
}

const char *steading_quantity_unit(steading_quantity quantity) {
  return quantity == STEADING_TEMP ? "C" : quantity == STEADING_WIND ? "m/s" : "W/m2";
}

/* The same sun stands over zones that are a whole day apart, as on both sides of the date line. */
static double zone_miss_h(const steading_place *place) {
  double miss = place->utc_offset_h - place->longitude_deg / 15;
  return miss - 24 * floor(miss / 24 + 0.5);
}

steading_status steading_check_zone(const steading_place *place, unsigned allow, const char *path,
                                    steading_error *error) {
  if (fabs(zone_miss_h(place)) <= most_zone_miss_h || (allow & STEADING_ALLOW_ZONE))
    return STEADING_OK;
  return steading_fail(error, STEADING_BAD_INPUT, path,
                       "the time zone %+g h does not belong to longitude %g, whose sun runs at "
                       "%+.1f h: one of the two is wrong, perhaps in its sign (utc_offset_h "
                       "corrects a zone; allow = { \"zone_far_from_longitude\" } waives the check)",
                       place->utc_offset_h, place->longitude_deg, place->longitude_deg / 15);
}

/* ---- a shift in time ---- */

static void rotate(void *array, size_t size, size_t rows, size_t by, void *scratch) {
  char *bytes = array;
  memcpy(scratch, bytes + (rows - by) * size, by * size);
  memmove(bytes + by * size, bytes, (rows - by) * size);
  memcpy(bytes, scratch, by * size);
}

steading_status steading_measured_shift(steading_measured *m, int minutes) {
  double steps = m->late + minutes / (double)m->step_minutes;
  double whole = floor(steps + 1e-9);
  double wrapped = fmod(whole, (double)m->rows);
  size_t by = (size_t)(wrapped < 0 ? wrapped + (double)m->rows : wrapped);
  void *scratch = NULL;
  m->late = fmax(0, steps - whole);
  if (by == 0) return STEADING_OK;
  scratch = malloc(m->rows * sizeof(double));
  if (scratch == NULL) return no_memory(m);
  for (int q = 0; q < STEADING_QUANTITIES; q++)
    rotate(m->values[q], sizeof(double), m->rows, by, scratch);
  rotate(m->lines, sizeof *m->lines, m->rows, by, scratch);
  if (m->years != NULL) rotate(m->years, sizeof *m->years, m->rows, by, scratch);
  free(scratch);
  return STEADING_OK;
}

/* ---- temperature and wind ---- */

static double hours_of(const steading_measured *m, size_t steps) {
  return (double)steps * m->step_minutes / 60;
}

typedef struct gap {
  size_t start, steps; /* of the first gap that is too long; no steps: none is */
  size_t filled;       /* steps, in shorter ones */
} gap;

/* Fills gaps of up to LONGEST_AIR_GAP_H by straight lines; December goes on into January. At least
 * one value has to be there. */
static gap fill_gaps(const steading_measured *m, double *values) {
  gap found = {0};
  size_t n = m->rows, start = 0;
  while (isnan(values[start])) start++;
  for (size_t i = start + 1; i <= start + n; i++) { /* once around from a known value */
    size_t length = 0;
    double before = values[(i - 1) % n], after = 0;
    while (isnan(values[(i + length) % n])) length++;
    if (length == 0) continue;
    if (hours_of(m, length) > LONGEST_AIR_GAP_H) {
      found.start = i % n;
      found.steps = length;
      return found;
    }
    after = values[(i + length) % n];
    for (size_t k = 0; k < length; k++)
      values[(i + k) % n] = before + (after - before) * (double)(k + 1) / (double)(length + 1);
    found.filled += length;
    i += length;
  }
  return found;
}

static bool has_value(const steading_measured *m, steading_quantity quantity) {
  for (size_t i = 0; i < m->rows; i++)
    if (!isnan(m->values[quantity][i])) return true;
  return false;
}

static steading_status repair_temperature(steading_measured *m, size_t *filled) {
  gap found;
  if (!has_value(m, STEADING_TEMP))
    return steading_fail(m->error, STEADING_BAD_INPUT, m->name, "%s is missing in every %s",
                         m->called[STEADING_TEMP], m->step_minutes == 60 ? "hour" : "row");
  found = fill_gaps(m, m->values[STEADING_TEMP]);
  if (found.steps > 0)
    return steading_fail(m->error, STEADING_BAD_INPUT,
                         steading_measured_at(m, m->lines[found.start]),
                         "%s is missing for %g hours from here; gaps up to %d hours are filled",
                         m->called[STEADING_TEMP], hours_of(m, found.steps), LONGEST_AIR_GAP_H);
  *filled = found.filled;
  return STEADING_OK;
}

/* Wind is a help, not a need: where it cannot be had in every step the weather has none. */
typedef struct wind_repairs {
  bool has;
  size_t filled, gap_line; /* line where the gap that is too long begins; 0: there is none */
  double gap_h;
} wind_repairs;

static wind_repairs repair_wind(steading_measured *m) {
  wind_repairs wind = {0};
  gap found;
  if (m->called[STEADING_WIND] == NULL || !has_value(m, STEADING_WIND)) return wind;
  found = fill_gaps(m, m->values[STEADING_WIND]);
  wind.filled = found.filled;
  wind.has = found.steps == 0;
  if (!wind.has) {
    wind.gap_line = m->lines[found.start];
    wind.gap_h = hours_of(m, found.steps);
  }
  return wind;
}

/* ---- light ---- */

/* In how many sunlit steps something was rebuilt, by rule. */
typedef struct light_repairs {
  size_t lit;           /* sunlit steps */
  size_t without_dni;   /* direct normal missing, which is no loss */
  size_t dhi_from_dni;  /* closure */
  size_t ghi_from_both; /* closure */
  size_t dhi_from_erbs;
  size_t interpolated; /* global, in clearness */
  size_t above_global; /* diffuse above global, bounded */
} light_repairs;

/* The suns that belong to the values: one a step of the year, or one a row. */
typedef struct suns {
  const steading_sun_step *steps;
  size_t count;
} suns;

static const steading_sun_step *sun_of(const suns *s, size_t row) {
  return &s->steps[s->count > row ? row : row % s->count];
}

static double outside_w_per_m2(const steading_sun_step *sun) {
  return sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
}

/* Diffuse of a step whose global is known: from the beam, else from the clearness. */
static void rebuild_diffuse(const steading_sun_step *sun, double ghi, double dni, double *dhi,
                            light_repairs *repairs) {
  if (!isnan(dni)) {
    *dhi = fmin(fmax(ghi - dni * sun->up, 0), ghi);
    repairs->dhi_from_dni++;
  } else {
    *dhi = ghi * steading_sky_diffuse_fraction(ghi / outside_w_per_m2(sun));
    repairs->dhi_from_erbs++;
  }
}

static void repair_dark_step(double *ghi, double *dhi) {
  if (isnan(*ghi)) *ghi = isnan(*dhi) ? 0 : *dhi;
  *dhi = *ghi;
}

/* All that can be had from the other values of the same step; global stays NaN where it cannot. */
static void repair_alone(const steading_sun_step *sun, double *ghi, double dni, double *dhi,
                         light_repairs *repairs) {
  if (sun->lit_share <= 0) {
    repair_dark_step(ghi, dhi);
    return;
  }
  repairs->lit++;
  if (isnan(dni)) repairs->without_dni++;
  if (isnan(*ghi) && !isnan(dni) && !isnan(*dhi)) {
    *ghi = dni * sun->up + *dhi;
    repairs->ghi_from_both++;
  } else if (!isnan(*ghi) && isnan(*dhi)) {
    rebuild_diffuse(sun, *ghi, dni, dhi, repairs);
  }
  if (*dhi > *ghi) repairs->above_global++;
}

/* Clearness of the nearest known sunlit step before or behind (`step` is 1 or n - 1, going round
 * the end); `*distance` in steps. At least one sunlit step has to be known. */
static double nearest_clearness(const steading_measured *m, const suns *s, size_t from, size_t step,
                                size_t *distance) {
  const double *ghi = m->values[STEADING_GHI];
  size_t at = from;
  *distance = 0;
  do {
    at = (at + step) % m->rows;
    ++*distance;
  } while (sun_of(s, at)->lit_share <= 0 || isnan(ghi[at]));
  return fmin(ghi[at] / outside_w_per_m2(sun_of(s, at)), 1);
}

static void interpolate_step(const steading_measured *m, const suns *s, size_t at, double *ghi,
                             double *dhi, light_repairs *repairs) {
  size_t back = 0, ahead = 0;
  double before = nearest_clearness(m, s, at, m->rows - 1, &back);
  double after = nearest_clearness(m, s, at, 1, &ahead);
  double weight = (double)back / (double)(back + ahead);
  light_repairs not_counted = {0}; /* the step counts once, as interpolated */
  *ghi = (before + (after - before) * weight) * outside_w_per_m2(sun_of(s, at));
  if (isnan(*dhi))
    rebuild_diffuse(sun_of(s, at), *ghi, m->values[STEADING_DNI][at], dhi, &not_counted);
  repairs->interpolated++;
}

/* Length of the run of sunlit steps without global from `start` on, dark ones skipped; *end is
 * behind it. */
static size_t gap_length(const steading_measured *m, const suns *s, size_t start, size_t *end) {
  size_t length = 0, at = start;
  for (; at < m->rows; at++) {
    if (sun_of(s, at)->lit_share <= 0) continue;
    if (!isnan(m->values[STEADING_GHI][at])) break;
    length++;
  }
  *end = at;
  return length;
}

static const char *called(const steading_measured *m, steading_quantity quantity) {
  static const char *const standard[STEADING_QUANTITIES] = {"air temperature", "global irradiance",
                                                            "direct normal irradiance",
                                                            "diffuse irradiance", "wind"};
  return m->called[quantity] != NULL ? m->called[quantity] : standard[quantity];
}

/* Gaps are filled from measured neighbours, not from steps filled before: hence `ghi`, a copy. */
static steading_status repair_gaps(steading_measured *m, const suns *s, double *ghi,
                                   light_repairs *repairs) {
  size_t end = 0;
  for (size_t i = 0; i < m->rows; i++) {
    size_t length = 0;
    if (!isnan(m->values[STEADING_GHI][i])) continue;
    length = gap_length(m, s, i, &end);
    if (hours_of(m, length) > LONGEST_LIGHT_GAP_H) {
      return steading_fail(m->error, STEADING_BAD_INPUT, steading_measured_at(m, m->lines[i]),
                           "%s is missing, and cannot be had from direct and diffuse, for %g "
                           "sunlit hours from here; gaps up to %d hours are filled",
                           called(m, STEADING_GHI), hours_of(m, length), LONGEST_LIGHT_GAP_H);
    }
    for (size_t k = i; k < end; k++) {
      if (isnan(m->values[STEADING_GHI][k])) {
        interpolate_step(m, s, k, &ghi[k], &m->values[STEADING_DHI][k], repairs);
      }
    }
    i = end;
  }
  return STEADING_OK;
}

/* A column that the file never had is derived in every step: that is no repair of gaps. */
static size_t count_repaired(const steading_measured *m, const light_repairs *repairs) {
  size_t repaired = repairs->interpolated;
  if (m->called[STEADING_GHI] != NULL) repaired += repairs->ghi_from_both;
  if (m->called[STEADING_DHI] != NULL) repaired += repairs->dhi_from_dni + repairs->dhi_from_erbs;
  return repaired;
}

/* Completes global and diffuse among the values. */
static steading_status repair_light(steading_measured *m, const suns *s, light_repairs *repairs) {
  double *ghi = malloc(m->rows * sizeof *ghi);
  size_t repaired = 0;
  steading_status status = STEADING_OK;
  if (ghi == NULL) return no_memory(m);
  for (size_t i = 0; i < m->rows; i++) {
    repair_alone(sun_of(s, i), &m->values[STEADING_GHI][i], m->values[STEADING_DNI][i],
                 &m->values[STEADING_DHI][i], repairs);
  }
  memcpy(ghi, m->values[STEADING_GHI], m->rows * sizeof *ghi);
  status = repair_gaps(m, s, ghi, repairs);
  memcpy(m->values[STEADING_GHI], ghi, m->rows * sizeof *ghi);
  free(ghi);
  if (status != STEADING_OK) return status;
  repaired = count_repaired(m, repairs);
  if (repaired * 10 > repairs->lit) {
    return steading_fail(m->error, STEADING_BAD_INPUT, m->name,
                         "global or diffuse irradiance (%s, %s) is missing in %g of %g sunlit "
                         "hours; at most a tenth is filled",
                         called(m, STEADING_GHI), called(m, STEADING_DHI), hours_of(m, repaired),
                         hours_of(m, repairs->lit));
  }
  return STEADING_OK;
}

/* A column that is nowhere above 0 says nothing: placeholders, or missing throughout. From zeros
 * in place of direct and diffuse, say, a wrong split of the light would follow. Whether a column's
 * zeros were taken as missing is told in zeros[]. */
static steading_status drop_empty_columns(steading_measured *m, bool zeros[STEADING_QUANTITIES]) {
  for (int q = STEADING_GHI; q < STEADING_QUANTITIES; q++) {
    bool above = false;
    zeros[q] = false;
    for (size_t i = 0; i < m->rows && !above; i++) {
      above = m->values[q][i] > 0;
      zeros[q] = zeros[q] || m->values[q][i] == 0;
    }
    if (above) {
      zeros[q] = false;
      continue;
    }
    m->called[q] = NULL;
    for (size_t i = 0; i < m->rows; i++) m->values[q][i] = (double)NAN;
  }
  if (m->called[STEADING_GHI] != NULL ||
      (m->called[STEADING_DNI] != NULL && m->called[STEADING_DHI] != NULL))
    return STEADING_OK;
  return steading_fail(m->error, STEADING_BAD_INPUT, m->name,
                       "%s: global irradiance is missing or 0 in every row, and cannot be had from "
                       "direct normal and diffuse",
                       m->called[STEADING_DNI] == NULL && m->called[STEADING_DHI] == NULL
                           ? "there is no light"
                           : "there is too little light");
}

/* ---- from the values' own times to the weather's steps ---- */

/* Means over the steps. Means that begin late are cut at the steps' ends; between instants the
 * value follows straight lines. Weights of a row, of the one before and of the one behind sum to 1,
 * so that the sum over a year stays. */
static void resample(const steading_measured *m, steading_quantity quantity, double *out) {
  const double *in = m->values[quantity];
  double late = m->late, before = 0, behind = 0;
  size_t n = m->rows;
  if (m->instant) {
    before = late * late / 2;
    behind = (1 - late) * (1 - late) / 2;
  } else {
    before = late;
  }
  if (before == 0 && behind == 0) {
    memcpy(out, in, n * sizeof *out);
    return;
  }
  for (size_t i = 0; i < n; i++) {
    double last = in[i == 0 ? n - 1 : i - 1], next = in[i + 1 == n ? 0 : i + 1];
    out[i] = before * last + (1 - before - behind) * in[i] + behind * next;
  }
}

static steading_sun_step *instant_suns(const steading_measured *m, size_t steps_per_year) {
  steading_sun_step *steps = malloc(m->rows * sizeof *steps);
  size_t a_day = steps_per_year / STEADING_DAYS_PER_YEAR;
  int64_t epoch = steading_day_number(2000, 1, 1);
  if (steps == NULL) return NULL;
  for (size_t i = 0; i < m->rows; i++) {
    size_t at = i % steps_per_year;
    int month = 0, day = 0, day_of_year = (int)(at / a_day);
    double minute = ((double)(at % a_day) + m->late) * m->step_minutes;
    steading_month_of_day(day_of_year, &month, &day);
    steading_sun_instant(m->place.latitude_deg, m->place.longitude_deg,
                         (double)(steading_day_number(m->years[i], month, day) - epoch) - 0.5 +
                             minute / 1440 - m->place.utc_offset_h / 24,
                         day_of_year, &steps[i]);
  }
  return steps;
}

/* Where the values do not stand in the weather's own steps, suns of their own; *own is to be
 * freed. */
static bool find_suns(const steading_measured *m, const steading_weather *weather, suns *s,
                      steading_sun_step **own) {
  *own = NULL;
  *s = (suns){weather->sun, weather->steps_per_year};
  if (m->instant) {
    *own = instant_suns(m, weather->steps_per_year);
    s->count = m->rows;
  } else if (m->late > 0) {
    *own = malloc(weather->steps_per_year * sizeof **own);
    /* a clock that is behind by as much */
    if (*own != NULL)
      steading_sun_year(m->place.latitude_deg, m->place.longitude_deg,
                        m->place.utc_offset_h - m->late * m->step_minutes / 60, m->step_minutes,
                        *own);
  } else {
    return true;
  }
  s->steps = *own;
  return *own != NULL;
}

/* ---- is the file what it says? ---- */

/* Irradiance-weighted mean of solar time less noon, in hours, with the sun of mid-step. */
static double centroid_h(const steading_weather *weather) {
  double weighted = 0, sum = 0, step_h = weather->step_minutes / 60.0;
  size_t a_day = weather->steps_per_year / STEADING_DAYS_PER_YEAR;
  int64_t first = steading_day_number(2030, 1, 1) - steading_day_number(2000, 1, 1);
  for (int day = 0; day < STEADING_DAYS_PER_YEAR; day++) {
    steading_sun_query noon = {
        .latitude_deg = weather->place.latitude_deg,
        .longitude_deg = weather->place.longitude_deg,
        .days_from_2000 = (double)(first + day) - weather->place.utc_offset_h / 24,
        .pressure_pa = 101325,
        .temp_c = 12};
    steading_sun sun;
    double ahead = 0;
    steading_sun_position(&noon, &sun);
    ahead = sun.equation_of_time_min / 60 + weather->place.longitude_deg / 15 -
            weather->place.utc_offset_h;
    for (size_t i = 0; i < a_day; i++) {
      double hour = ((double)i + 0.5) * step_h + ahead - 12;
      hour -= 24 * floor(hour / 24 + 0.5);
      for (size_t year = 0; year < weather->years; year++) {
        double ghi =
            weather->ghi_w_per_m2[year * weather->steps_per_year + (size_t)day * a_day + i];
        weighted += ghi * hour;
        sum += ghi;
      }
    }
  }
  return sum > 0 ? weighted / sum : 0;
}

/* Steps with light that lie more than an hour from sunlit ones. */
static size_t lit_nights(const steading_weather *weather) {
  size_t count = 0, n = weather->steps_per_year, hour = (size_t)(60 / weather->step_minutes);
  for (size_t i = 0; i < weather->steps; i++) {
    bool dark = weather->ghi_w_per_m2[i] >= 1 && weather->sun[i % n].lit_share <= 0;
    for (size_t k = 1; dark && k <= hour; k++)
      dark =
          weather->sun[(i + k) % n].lit_share <= 0 && weather->sun[(i + n - k) % n].lit_share <= 0;
    count += dark;
  }
  return count;
}

/* Steps with the sun above 6 degrees and more light on the ground than outside the atmosphere. */
static size_t brighter_than_outside(const steading_weather *weather) {
  size_t count = 0;
  for (size_t i = 0; i < weather->steps; i++) {
    const steading_sun_step *sun = &weather->sun[i % weather->steps_per_year];
    count += sun->up > 0.1 && weather->ghi_w_per_m2[i] > outside_w_per_m2(sun);
  }
  return count;
}

static int ascending(const void *left, const void *right) {
  double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

typedef struct closure {
  size_t count, beyond; /* steps looked at, and those that miss by more than fair_closure */
  double median;        /* of |global - (direct cos z + diffuse)| / global */
} closure;

/* As read, where all three are given, global is at least 50 W/m2 and the sun is above 6 degrees.
 * Uses `scratch` [rows]. */
static closure closure_of(const steading_measured *m, const suns *s, double *scratch) {
  closure c = {0};
  for (size_t i = 0; i < m->rows; i++) {
    double ghi = m->values[STEADING_GHI][i], dni = m->values[STEADING_DNI][i];
    double dhi = m->values[STEADING_DHI][i], up = sun_of(s, i)->up;
    if (isnan(ghi + dni + dhi) || ghi < 50 || up < 0.1) continue;
    scratch[c.count] = fabs(ghi - (dni * up + dhi)) / ghi;
    c.beyond += scratch[c.count++] > fair_closure;
  }
  if (c.count == 0) return c;
  qsort(scratch, c.count, sizeof *scratch, ascending);
  c.median = scratch[c.count / 2];
  return c;
}

static double mean_of(const double *values, size_t count) {
  double sum = 0;
  for (size_t i = 0; i < count; i++) sum += values[i];
  return sum / (double)count;
}

/* Direct normal above the irradiance outside the atmosphere, as read. */
static size_t count_too_direct(const steading_measured *m, const suns *s) {
  size_t count = 0;
  for (size_t i = 0; i < m->rows; i++)
    count += m->values[STEADING_DNI][i] > sun_of(s, i)->extraterrestrial_w_per_m2;
  return count;
}

/* ---- notes ---- */

typedef struct findings {
  size_t temp_filled, moved, too_direct;
  double centroid, file_dni; /* mean W/m2 of direct normal as read; NaN where some is missing */
  closure closure;
  light_repairs light;
  wind_repairs wind;
  bool zeros[STEADING_QUANTITIES]; /* columns whose zeros were taken as missing */
} findings;

/* "17 sunlit hours without diffuse: ..." or "17 sunlit steps of 30 min without ...". */
static bool note_steps(steading_weather *weather, size_t count, const char *which,
                       const char *text) {
  char step[32] = "hours";
  if (count == 0) return true;
  if (weather->step_minutes != 60)
    snprintf(step, sizeof step, "steps of %d min", weather->step_minutes);
  return steading_weather_note(weather, "%zu %s%s %s", count, which, step, text) == STEADING_OK;
}

static bool note_values(steading_weather *weather, size_t count, const char *text) {
  return count == 0 || steading_weather_note(weather, "%zu %s", count, text) == STEADING_OK;
}

static bool note_light(steading_measured *m, steading_weather *weather,
                       const light_repairs *light) {
  bool no_ghi = m->called[STEADING_GHI] == NULL, no_dhi = m->called[STEADING_DHI] == NULL;
  return note_steps(weather, light->without_dni, "sunlit ",
                    "without direct normal irradiance: derived, as always, from global and "
                    "diffuse") &&
         note_steps(weather, light->dhi_from_dni, "sunlit ",
                    no_dhi ? "without diffuse (the file has none): global less direct on the "
                             "horizontal"
                           : "without diffuse: global less direct on the horizontal") &&
         note_steps(weather, light->ghi_from_both, "sunlit ",
                    no_ghi ? "without global (the file has none): direct on the horizontal and "
                             "diffuse"
                           : "without global: direct on the horizontal and diffuse") &&
         note_steps(weather, light->dhi_from_erbs, "sunlit ",
                    "without direct and diffuse: diffuse from global (Erbs 1982)") &&
         note_steps(weather, light->interpolated, "sunlit ",
                    "without global and one more: clearness interpolated (gaps up to 3 h)") &&
         note_steps(weather, light->above_global, "sunlit ", "with diffuse above global: bounded");
}

static bool note_centroid(const steading_measured *m, steading_weather *weather, double centroid) {
  if (fabs(centroid) <= noted_centroid_h)
    return steading_weather_note(weather, "centre of the light: %.2f h %s solar noon",
                                 fabs(centroid), centroid < 0 ? "before" : "after") == STEADING_OK;
  return steading_weather_note(
             weather, "the light is centred %.2f h %s solar noon: %s", fabs(centroid),
             centroid < 0 ? "before" : "after",
             fabs(centroid) > most_centroid_h && (m->allow & STEADING_ALLOW_LIGHT)
                 ? "allowed by light_far_from_noon"
                 : "fog or afternoon cloud, or shifted times; nothing was corrected") ==
         STEADING_OK;
}

static bool note_zone(const steading_measured *m, steading_weather *weather) {
  double miss = zone_miss_h(&m->place);
  if (fabs(miss) <= most_zone_miss_h)
    return steading_weather_note(weather,
                                 "time zone %+g h; the sun of longitude %g runs at %+.1f h",
                                 m->place.utc_offset_h, m->place.longitude_deg,
                                 m->place.utc_offset_h - miss) == STEADING_OK;
  return steading_weather_note(weather,
                               "the time zone %+g h is %.1f h from the sun of longitude %g: "
                               "allowed by zone_far_from_longitude",
                               m->place.utc_offset_h, fabs(miss),
                               m->place.longitude_deg) == STEADING_OK;
}

/* What was read, and what of it had to be estimated. */
static bool note_rows(const steading_measured *m, steading_weather *weather, const findings *f) {
  char absent[64] = "", wind[48] = "";
  if (m->absent > 0) snprintf(absent, sizeof absent, ", %zu steps without a row", m->absent);
  if (f->wind.has) snprintf(wind, sizeof wind, ", wind %zu", f->wind.filled);
  return steading_weather_note(weather,
                               "%zu rows read, %zu used%s; steps estimated: light %zu, "
                               "temperature %zu%s",
                               m->read, m->rows - m->absent, absent, count_repaired(m, &f->light),
                               f->temp_filled, wind) == STEADING_OK;
}

/* The year's sums, by which a person knows a place: beam is derived, hence the file's own beside.
 */
static bool note_sums(steading_weather *weather, const findings *f) {
  static const double kwh = STEADING_HOURS_PER_YEAR / 1000.0;
  char own[64] = "";
  if (!isnan(f->file_dni))
    snprintf(own, sizeof own, " (%.0f in the file's own column)", f->file_dni * kwh);
  return steading_weather_note(weather,
                               "a year has %.0f kWh/m2 of global, %.0f of direct normal%s and %.0f "
                               "of diffuse",
                               mean_of(weather->ghi_w_per_m2, weather->steps) * kwh,
                               mean_of(weather->dni_w_per_m2, weather->steps) * kwh, own,
                               mean_of(weather->dhi_w_per_m2, weather->steps) * kwh) == STEADING_OK;
}

static bool note_closure(const steading_measured *m, steading_weather *weather, const closure *c) {
  const char *steps = m->step_minutes == 60 ? "hours" : "steps";
  if (c->count == 0) return true;
  if (steading_weather_note(weather,
                            "closure: global differs from direct on the horizontal and diffuse by "
                            "%.1f %% (median of %zu %s), by more than %.0f %% in %.1f %% of them",
                            c->median * 100, c->count, steps, fair_closure * 100,
                            100 * (double)c->beyond / (double)c->count) != STEADING_OK)
    return false;
  if (c->median <= fair_closure) return true;
  return steading_weather_note(weather,
                               "closure is poor: the columns of light do not belong together, or "
                               "to another time; the split of beam and diffuse is doubtful") ==
         STEADING_OK;
}

static bool note_zeros(steading_weather *weather, const findings *f) {
  static const char *const names[STEADING_QUANTITIES] = {
      NULL, "global irradiance", "direct normal irradiance", "diffuse irradiance", "wind"};
  for (int q = STEADING_GHI; q < STEADING_QUANTITIES; q++)
    if (f->zeros[q] && steading_weather_note(weather, "%s is 0 in every row: taken as missing",
                                             names[q]) != STEADING_OK)
      return false;
  return true;
}

static bool note_wind(steading_weather *weather, const wind_repairs *wind) {
  if (wind->has)
    return note_steps(weather, wind->filled, "",
                      "without wind filled by straight lines (gaps up to 6 h)") &&
           steading_weather_note(weather, "wind: %.2f m/s on average",
                                 mean_of(weather->wind_m_per_s, weather->steps)) == STEADING_OK;
  if (wind->gap_line == 0) return steading_weather_note(weather, "no wind") == STEADING_OK;
  return steading_weather_note(weather,
                               "no wind: it is missing for %g hours from line %zu; gaps up to %d "
                               "hours are filled",
                               wind->gap_h, wind->gap_line, LONGEST_AIR_GAP_H) == STEADING_OK;
}

static steading_status write_notes(steading_measured *m, steading_weather *weather,
                                   const findings *f) {
  bool fine =
      note_rows(m, weather, f) && note_sums(weather, f) &&
      note_steps(weather, m->leap_rows, "", "of 29 February dropped") && note_zeros(weather, f) &&
      note_steps(weather, f->temp_filled, "",
                 "without air temperature filled by straight lines (gaps up to 6 h)") &&
      note_values(weather, m->negatives, "negative values of irradiance set to 0") &&
      note_light(m, weather, &f->light) &&
      note_steps(weather, f->moved, "",
                 "in which the beam would be stronger than outside the atmosphere: the rest "
                 "counted as diffuse") &&
      note_steps(weather, f->too_direct, "",
                 "with more direct normal irradiance in the file than outside the atmosphere") &&
      note_steps(weather, brighter_than_outside(weather), "",
                 "with more global than outside the atmosphere") &&
      note_steps(weather, lit_nights(weather), "",
                 "with light while the sun is more than an hour below the horizon: a shifted or "
                 "wrong time, or odd data") &&
      note_closure(m, weather, &f->closure);
  if (fine && m->instant)
    fine = steading_weather_note(weather,
                                 "values of instants: means over steps of %d min along straight "
                                 "lines between them",
                                 m->step_minutes) == STEADING_OK;
  fine = fine && note_centroid(m, weather, f->centroid) && note_zone(m, weather) &&
         note_wind(weather, &f->wind);
  return fine ? STEADING_OK : no_memory(m);
}

steading_status steading_weather_note_options(steading_weather *weather,
                                              const steading_read_options *options,
                                              double said_offset_h) {
  steading_status status = STEADING_OK;
  if (options->has_utc_offset && options->utc_offset_h != said_offset_h)
    status = steading_weather_note(weather, "the file says %+g h from UT; utc_offset_h = %g stands",
                                   said_offset_h, options->utc_offset_h);
  if (status == STEADING_OK && options->shift_minutes != 0)
    status = steading_weather_note(weather, "all stamps moved by %+d min (shift_minutes)",
                                   options->shift_minutes);
  return status;
}

/* ---- the whole ---- */

static steading_status check_centroid(steading_measured *m, double centroid) {
  if (fabs(centroid) <= most_centroid_h || (m->allow & STEADING_ALLOW_LIGHT)) return STEADING_OK;
  return steading_fail(m->error, STEADING_BAD_INPUT, m->name,
                       "the light is centred %.1f h %s solar noon: longitude, time zone or the "
                       "hours of the rows are wrong",
                       fabs(centroid), centroid < 0 ? "before" : "after");
}

static steading_status fill(steading_measured *m, const suns *s, steading_weather *weather) {
  findings f = {0};
  steading_status status = repair_temperature(m, &f.temp_filled);
  if (status != STEADING_OK) return status;
  status = drop_empty_columns(m, f.zeros);
  if (status != STEADING_OK) return status;
  f.wind = repair_wind(m);
  f.too_direct = count_too_direct(m, s);
  f.file_dni = mean_of(m->values[STEADING_DNI], m->rows);
  /* dni is written last: until then it is the scratch space of the median. */
  f.closure = closure_of(m, s, weather->dni_w_per_m2);
  status = repair_light(m, s, &f.light);
  if (status != STEADING_OK) return status;
  resample(m, STEADING_TEMP, weather->temp_c);
  resample(m, STEADING_GHI, weather->ghi_w_per_m2);
  resample(m, STEADING_DHI, weather->dhi_w_per_m2);
  if (f.wind.has) {
    if (steading_weather_add_wind(weather) != STEADING_OK) return no_memory(m);
    resample(m, STEADING_WIND, weather->wind_m_per_s);
  }
  f.moved = steading_weather_split_light(weather);
  f.centroid = centroid_h(weather);
  status = check_centroid(m, f.centroid);
  return status != STEADING_OK ? status : write_notes(m, weather, &f);
}

steading_status steading_measured_weather(steading_measured *m, const char *source,
                                          steading_weather **weather) {
  size_t a_year = (size_t)(STEADING_HOURS_PER_YEAR * 60 / m->step_minutes);
  steading_weather *made =
      steading_weather_new(&m->place, m->rows / a_year, m->step_minutes, source);
  steading_sun_step *own = NULL;
  suns s;
  steading_status status = STEADING_OK;
  *weather = NULL;
  if (made == NULL || !find_suns(m, made, &s, &own))
    status = no_memory(m);
  else
    status = fill(m, &s, made);
  free(own);
  if (status != STEADING_OK) {
    steading_weather_release(made);
    return status;
  }
  *weather = made;
  return STEADING_OK;
}
