/* Weather from EPW: eight header lines, then one row an hour with 35 comma-separated fields. The
 * rules by which values are repaired or a file is refused are in reference/manual/resource.md. */
#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/sky.h"
#include "resource/weather.h"

enum {
  HOURS = STEADING_HOURS_PER_YEAR,
  FIELDS_READ = 16,       /* nothing behind the diffuse irradiance is used */
  HEADER_LINES_MOST = 30, /* eight by the format; a few more comments do no harm */
  LONGEST_TEMP_GAP_H = 6,
  LONGEST_LIGHT_GAP_H = 3,
};

typedef struct slice {
  const char *start, *end;
} slice;

typedef struct column {
  int field; /* counted from 1 */
  const char *name;
  double low, high;    /* outside this a value is an error */
  double missing_from; /* from here on a value means 'missing' */
  const char *expected;
} column;

/* Below this a number is the code for 'missing' of another format (-999, -9900, -9999). */
static const double missing_below = -900;

enum { TEMP, GHI, DNI, DHI, COLUMNS };

static const column columns[COLUMNS] = {
    [TEMP] = {7, "dry-bulb temperature", -90, 60, 99.9, "-90 to 60 C, or 99.9 for missing"},
    [GHI] = {14, "global horizontal", -50, 1500, 9999, "0 to 1500 Wh/m2, or 9999 for missing"},
    [DNI] = {15, "direct normal", -50, 1500, 9999, "0 to 1500 Wh/m2, or 9999 for missing"},
    [DHI] = {16, "diffuse horizontal", -50, 1500, 9999, "0 to 1500 Wh/m2, or 9999 for missing"},
};

typedef struct reader {
  const char *name;
  const char *at, *end; /* what is not read yet */
  size_t line;          /* number of the line read last */
  char where[256];
  steading_error *error;
  steading_place place;
  bool daylight_saving;    /* the header names dates of it */
  int fields_a_row;        /* of the first row; all others have as many */
  size_t rows, capacity;   /* hours read, 29 February not counted */
  double *values[COLUMNS]; /* [rows], NaN where missing */
  size_t *lines;           /* [rows] line of each hour */
  size_t leap_hours;       /* rows of 29 February, dropped */
  int leap_hour;           /* hour 1..24 of 29 February read last, 0 outside it */
  size_t negatives;        /* irradiance below zero, set to zero */
} reader;

/* ---- text ---- */

static slice trimmed(slice text) {
  while (text.start < text.end && (*text.start == ' ' || *text.start == '\t')) text.start++;
  while (text.end > text.start &&
         (text.end[-1] == ' ' || text.end[-1] == '\t' || text.end[-1] == '\r')) {
    text.end--;
  }
  return text;
}

static bool next_line(reader *r, slice *line) {
  const char *newline = NULL;
  if (r->at >= r->end) return false;
  newline = memchr(r->at, '\n', (size_t)(r->end - r->at));
  line->start = r->at;
  line->end = newline == NULL ? r->end : newline;
  r->at = newline == NULL ? r->end : newline + 1;
  r->line++;
  return true;
}

static bool starts_with(slice text, const char *word) {
  size_t length = strlen(word);
  return (size_t)(text.end - text.start) >= length && memcmp(text.start, word, length) == 0;
}

/* What the short way below does not take: exponents and more than 15 digits. */
static bool parse_rare_number(slice text, double *value) {
  char copy[64], *rest = NULL;
  size_t length = (size_t)(text.end - text.start);
  if (length == 0 || length >= sizeof copy) return false;
  memcpy(copy, text.start, length);
  copy[length] = '\0';
  /* strtod alone would take 'nan', 'inf' and hexadecimal. */
  if (strspn(copy, "0123456789+-.eE") != length) return false;
  *value = strtod(copy, &rest);
  return rest == copy + length && isfinite(*value);
}

/* A decimal number, exactly as strtod would round it: up to 15 digits and a power of ten up to 22
 * are both exact in a double, so that their quotient is rounded once (Clinger 1990, "How to read
 * floating point numbers accurately"). `text` is trimmed. */
static bool parse_number(slice text, double *value) {
  static const double powers[16] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  const char *p = text.start;
  bool negative = false, in_fraction = false;
  int64_t digits = 0;
  int count = 0, fraction = 0;
  if (p < text.end && (*p == '-' || *p == '+')) negative = *p++ == '-';
  for (; p < text.end; p++) {
    if (*p >= '0' && *p <= '9') {
      if (++count > 15) return parse_rare_number(text, value);
      digits = digits * 10 + (*p - '0');
      fraction += in_fraction;
    } else if (*p == '.' && !in_fraction) {
      in_fraction = true;
    } else {
      return parse_rare_number(text, value);
    }
  }
  if (count == 0) return false;
  *value = (double)digits / powers[fraction];
  if (negative) *value = -*value;
  return true;
}

/* ---- errors ---- */

static const char *at_line(reader *r, size_t line) {
  snprintf(r->where, sizeof r->where, "%.200s: line %zu", r->name, line);
  return r->where;
}

static steading_status no_memory(reader *r) {
  return steading_fail(r->error, STEADING_NO_MEMORY, r->name, "not enough memory");
}

static steading_status bad_field(reader *r, int field, const char *what, slice found,
                                 const char *expected) {
  int length = found.end - found.start > 40 ? 40 : (int)(found.end - found.start);
  return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "field %d (%s): found \"%.*s\", expected %s", field, what, length,
                       found.start, expected);
}

/* ---- header ---- */

/* Fields of a header line, with quotes taken off; a comma inside quotes does not divide. Returns
 * how many there are, at most `most`. */
static int split_header(slice line, slice *fields, int most) {
  const char *p = line.start;
  int count = 0;
  while (count < most) {
    slice field = {p, p};
    bool quoted = false;
    for (; p < line.end && (quoted || *p != ','); p++) {
      if (*p == '"') quoted = !quoted;
    }
    field.end = p;
    field = trimmed(field);
    if (field.end - field.start >= 2 && *field.start == '"' && field.end[-1] == '"') {
      field.start++;
      field.end--;
    }
    fields[count++] = field;
    if (p >= line.end) break;
    p++;
  }
  return count;
}

static steading_status header_number(reader *r, const slice *fields, int count, int field,
                                     const char *what, double low, double high, double *value) {
  slice text = {"", ""};
  char expected[64];
  if (field <= count) text = fields[field - 1];
  if (parse_number(text, value) && *value >= low && *value <= high) return STEADING_OK;
  snprintf(expected, sizeof expected, "a number from %g to %g", low, high);
  return bad_field(r, field, what, text, expected);
}

/* The same sun stands over zones that are a whole day apart, as on both sides of the date line. */
static double zone_miss_h(const steading_place *place) {
  double miss = place->utc_offset_h - place->longitude_deg / 15;
  return miss - 24 * floor(miss / 24 + 0.5);
}

static steading_status read_location(reader *r, slice line) {
  slice fields[10];
  int count = split_header(line, fields, 10);
  steading_place *place = &r->place;
  steading_status status = STEADING_OK;
  if ((status = header_number(r, fields, count, 7, "latitude", -90, 90, &place->latitude_deg)) ||
      (status = header_number(r, fields, count, 8, "longitude, east positive", -180, 180,
                              &place->longitude_deg)) ||
      (status = header_number(r, fields, count, 9, "time zone", -12, 14, &place->utc_offset_h)) ||
      (status =
           header_number(r, fields, count, 10, "elevation", -500, 9000, &place->elevation_m))) {
    return status;
  }
  if (fabs(zone_miss_h(place)) > 1.5) {
    return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->line),
                         "the time zone %+g h does not belong to longitude %g, whose sun runs at "
                         "%+.1f h: one of the two is wrong, perhaps in its sign",
                         place->utc_offset_h, place->longitude_deg, place->longitude_deg / 15);
  }
  return STEADING_OK;
}

static steading_status read_periods(reader *r, slice line) {
  slice fields[3];
  int count = split_header(line, fields, 3);
  double an_hour = 0;
  steading_status status = header_number(r, fields, count, 3, "records per hour", 1, 60, &an_hour);
  if (status != STEADING_OK) return status;
  if (an_hour > 1) {
    return steading_fail(r->error, STEADING_NOT_YET, at_line(r, r->line),
                         "the file has %g records an hour; only hourly files are read", an_hour);
  }
  return STEADING_OK;
}

static void read_daylight_saving(reader *r, slice line) {
  slice fields[3];
  double number = 1;
  if (split_header(line, fields, 3) < 3 || fields[2].start == fields[2].end) return;
  r->daylight_saving = !parse_number(fields[2], &number) || number > 0;
}

static steading_status read_header(reader *r) {
  slice line;
  steading_status status = STEADING_OK;
  if (!steading_weather_is_epw(r->at, (size_t)(r->end - r->at))) {
    return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, 1),
                         "an EPW file begins with \"LOCATION,\"; this %s",
                         r->at >= r->end ? "file is empty" : "one does not");
  }
  if (r->end - r->at >= 3 && memcmp(r->at, "\xEF\xBB\xBF", 3) == 0) r->at += 3;
  next_line(r, &line);
  status = read_location(r, line);
  while (status == STEADING_OK && r->line < HEADER_LINES_MOST && next_line(r, &line)) {
    if (starts_with(line, "DATA PERIODS")) return read_periods(r, line);
    if (starts_with(line, "HOLIDAYS")) read_daylight_saving(r, line);
  }
  if (status != STEADING_OK) return status;
  return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "the header has no line \"DATA PERIODS\"");
}

/* ---- rows ---- */

static steading_status read_value(reader *r, slice text, const column *c, double *value) {
  if (text.start == text.end) {
    *value = (double)NAN;
    return STEADING_OK;
  }
  if (!parse_number(text, value)) return bad_field(r, c->field, c->name, text, "a number");
  if (*value >= c->missing_from || *value <= missing_below) {
    *value = (double)NAN;
  } else if (*value < c->low || *value > c->high) {
    return bad_field(r, c->field, c->name, text, c->expected);
  } else if (c != &columns[TEMP] && *value < 0) { /* the zero offset of a sensor at night */
    r->negatives++;
    *value = 0;
  }
  return STEADING_OK;
}

static steading_status read_label(reader *r, slice text, int field, const char *what, int *value) {
  double number = 0;
  if (!parse_number(text, &number) || number != floor(number) || fabs(number) > 1e6) {
    return bad_field(r, field, what, text, "a whole number");
  }
  *value = (int)number;
  return STEADING_OK;
}

static steading_status out_of_order(reader *r, int month, int day, int hour) {
  int next_month = 2, next_day = 29, next_hour = r->leap_hour + 1;
  if (r->leap_hour == 0 || r->leap_hour == 24) {
    size_t next = r->rows % HOURS;
    steading_month_of_day((int)(next / 24), &next_month, &next_day);
    next_hour = (int)(next % 24) + 1;
  }
  return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "fields 2 to 4 (month, day, hour): found %d/%d hour %d, expected %d/%d hour "
                       "%d: rows follow each other from 1 January, hour 1 to 24 each day",
                       month, day, hour, next_month, next_day, next_hour);
}

/* Whether the row's date is the next one; a row of 29 February is told by *leap. */
static steading_status check_label(reader *r, const slice *fields, bool *leap) {
  int month = 0, day = 0, hour = 0, minute = 0, next_month = 0, next_day = 0;
  size_t next = r->rows % HOURS;
  steading_status status = STEADING_OK;
  if ((status = read_label(r, fields[1], 2, "month", &month)) ||
      (status = read_label(r, fields[2], 3, "day", &day)) ||
      (status = read_label(r, fields[3], 4, "hour", &hour)) ||
      (status = read_label(r, fields[4], 5, "minute", &minute))) {
    return status;
  }
  if (minute != 0 && minute != 60) {
    return bad_field(r, 5, "minute", fields[4], "0 or 60: hours end at their label");
  }
  *leap = month == 2 && day == 29;
  steading_month_of_day((int)(next / 24), &next_month, &next_day);
  if (*leap) {
    bool in_place = next == (size_t)(steading_days_before_month[2] * 24) && r->rows > 0;
    if (!in_place || hour != r->leap_hour + 1) return out_of_order(r, month, day, hour);
    r->leap_hour = hour;
    r->leap_hours++;
    return STEADING_OK;
  }
  if ((r->leap_hour != 0 && r->leap_hour != 24) || month != next_month || day != next_day ||
      hour != (int)(next % 24) + 1) {
    return out_of_order(r, month, day, hour);
  }
  r->leap_hour = 0;
  return STEADING_OK;
}

/* The first fields of a row; returns how many fields it has in all. */
static int split_row(slice line, slice *fields) {
  const char *p = line.start;
  int count = 0, commas = 0;
  for (bool more = true; more && count < FIELDS_READ; count++, p++) {
    slice field = {p, p};
    while (p < line.end && *p != ',') p++;
    field.end = p;
    fields[count] = trimmed(field);
    more = p < line.end;
  }
  if (p > line.end) return count; /* the line ended within the first fields */
  for (; p < line.end; p++) commas += *p == ',';
  return count + commas + 1;
}

static steading_status read_row(reader *r, slice line) {
  slice fields[FIELDS_READ];
  int count = split_row(line, fields);
  bool leap = false;
  steading_status status = STEADING_OK;
  if (r->rows == 0) r->fields_a_row = count;
  if (count < FIELDS_READ || count != r->fields_a_row) { /* a lost comma shifts the columns */
    return steading_fail(
        r->error, STEADING_BAD_INPUT, at_line(r, r->line), "the row has %d fields, expected %d%s",
        count, r->rows == 0 ? 35 : r->fields_a_row, r->rows == 0 ? "" : " as in the first row");
  }
  status = check_label(r, fields, &leap);
  if (status != STEADING_OK || leap) return status;
  assert(r->rows < r->capacity);
  for (int c = 0; c < COLUMNS; c++) {
    status = read_value(r, fields[columns[c].field - 1], &columns[c], &r->values[c][r->rows]);
    if (status != STEADING_OK) return status;
  }
  r->lines[r->rows++] = r->line;
  return STEADING_OK;
}

static size_t lines_left(const reader *r) {
  size_t count = 1;
  for (const char *p = r->at; p < r->end; count++) {
    p = memchr(p, '\n', (size_t)(r->end - p));
    if (p == NULL) break;
    p++;
  }
  return count;
}

static steading_status read_rows(reader *r) {
  slice line;
  r->capacity = lines_left(r);
  r->lines = malloc(r->capacity * sizeof *r->lines);
  if (r->lines == NULL) return no_memory(r);
  for (int c = 0; c < COLUMNS; c++) {
    r->values[c] = malloc(r->capacity * sizeof(double));
    if (r->values[c] == NULL) return no_memory(r);
  }
  while (next_line(r, &line)) {
    slice text = trimmed(line);
    steading_status status = STEADING_OK;
    if (text.start == text.end) continue;
    status = read_row(r, line);
    if (status != STEADING_OK) return status;
  }
  if (r->rows == 0 || r->rows % HOURS != 0) {
    return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->line),
                         "the file ends after %zu hours, expected %d or a whole multiple of it",
                         r->rows, HOURS);
  }
  return STEADING_OK;
}

/* ---- temperature ---- */

/* Fills gaps by straight lines; December goes on into January. Returns BAD_INPUT for a longer gap.
 * `*filled` counts the hours. */
static steading_status repair_temperature(reader *r, size_t *filled) {
  double *temp = r->values[TEMP];
  size_t n = r->rows, start = 0;
  *filled = 0;
  while (start < n && isnan(temp[start])) start++;
  if (start == n) {
    return steading_fail(r->error, STEADING_BAD_INPUT, r->name,
                         "field 7 (dry-bulb temperature) is missing in every hour");
  }
  for (size_t i = start + 1; i <= start + n; i++) { /* once around from a known value */
    size_t length = 0;
    double before = temp[(i - 1) % n], after = 0;
    while (isnan(temp[(i + length) % n])) length++;
    if (length == 0) continue;
    if (length > LONGEST_TEMP_GAP_H) {
      return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->lines[i % n]),
                           "field 7 (dry-bulb temperature) is missing for %zu hours from here; "
                           "gaps up to %d hours are filled",
                           length, LONGEST_TEMP_GAP_H);
    }
    after = temp[(i + length) % n];
    for (size_t k = 0; k < length; k++) {
      temp[(i + k) % n] = before + (after - before) * (double)(k + 1) / (double)(length + 1);
    }
    *filled += length;
    i += length;
  }
  return STEADING_OK;
}

/* ---- light ---- */

/* In how many sunlit hours something was rebuilt, by rule. */
typedef struct light_repairs {
  size_t lit;           /* sunlit hours */
  size_t without_dni;   /* direct normal missing, which is no loss */
  size_t dhi_from_dni;  /* closure */
  size_t ghi_from_both; /* closure */
  size_t dhi_from_erbs;
  size_t interpolated; /* global, in clearness */
  size_t above_global; /* diffuse above global, bounded */
} light_repairs;

static double outside_w_per_m2(const steading_sun_step *sun) {
  return sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
}

/* Diffuse of an hour whose global is known: from the beam, else from the clearness. */
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

static void repair_dark_hour(double *ghi, double *dhi) {
  if (isnan(*ghi)) *ghi = isnan(*dhi) ? 0 : *dhi;
  *dhi = *ghi;
}

/* All that can be had from the other values of the same hour; global stays NaN where it cannot. */
static void repair_alone(const steading_sun_step *sun, double *ghi, double dni, double *dhi,
                         light_repairs *repairs) {
  if (sun->lit_share <= 0) {
    repair_dark_hour(ghi, dhi);
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

/* Clearness of the nearest known sunlit hour before or behind (`step` is 1 or n - 1, going round
 * the end); `*distance` in hours. At least one sunlit hour has to be known. */
static double nearest_clearness(const reader *r, const steading_sun_step *sun, size_t from,
                                size_t step, size_t *distance) {
  size_t at = from;
  *distance = 0;
  do {
    at = (at + step) % r->rows;
    ++*distance;
  } while (sun[at % HOURS].lit_share <= 0 || isnan(r->values[GHI][at]));
  return fmin(r->values[GHI][at] / outside_w_per_m2(&sun[at % HOURS]), 1);
}

static void interpolate_hour(const reader *r, const steading_sun_step *sun, size_t at, double *ghi,
                             double *dhi, light_repairs *repairs) {
  const steading_sun_step *s = &sun[at % HOURS];
  size_t back = 0, ahead = 0;
  double before = nearest_clearness(r, sun, at, r->rows - 1, &back);
  double after = nearest_clearness(r, sun, at, 1, &ahead);
  double weight = (double)back / (double)(back + ahead);
  light_repairs not_counted = {0}; /* the hour counts once, as interpolated */
  *ghi = (before + (after - before) * weight) * outside_w_per_m2(s);
  if (isnan(*dhi)) rebuild_diffuse(s, *ghi, r->values[DNI][at], dhi, &not_counted);
  repairs->interpolated++;
}

/* Length of the run of sunlit hours without global from `start` on, dark hours skipped; *end is
 * behind it. */
static size_t gap_length(const reader *r, const steading_sun_step *sun, size_t start, size_t *end) {
  size_t length = 0, at = start;
  for (; at < r->rows; at++) {
    if (sun[at % HOURS].lit_share <= 0) continue;
    if (!isnan(r->values[GHI][at])) break;
    length++;
  }
  *end = at;
  return length;
}

static steading_status repair_gaps(reader *r, const steading_sun_step *sun, double *ghi,
                                   light_repairs *repairs) {
  size_t end = 0;
  for (size_t i = 0; i < r->rows; i++) {
    size_t length = 0;
    if (!isnan(r->values[GHI][i])) continue;
    length = gap_length(r, sun, i, &end);
    if (length > LONGEST_LIGHT_GAP_H) {
      return steading_fail(r->error, STEADING_BAD_INPUT, at_line(r, r->lines[i]),
                           "field 14 (global horizontal) is missing, with field 15 or 16, for %zu "
                           "sunlit hours from here; gaps up to %d hours are filled",
                           length, LONGEST_LIGHT_GAP_H);
    }
    for (size_t k = i; k < end; k++) {
      if (isnan(r->values[GHI][k])) {
        interpolate_hour(r, sun, k, &ghi[k], &r->values[DHI][k], repairs);
      }
    }
    i = end;
  }
  return STEADING_OK;
}

/* Fills `ghi` and `dhi` of the weather from what was read. */
static steading_status repair_light(reader *r, steading_weather *weather, light_repairs *repairs) {
  double *ghi = weather->ghi_w_per_m2;
  size_t repaired = 0;
  steading_status status = STEADING_OK;
  for (size_t i = 0; i < r->rows; i++) {
    repair_alone(&weather->sun[i % HOURS], &r->values[GHI][i], r->values[DNI][i],
                 &r->values[DHI][i], repairs);
  }
  /* Gaps are filled from measured neighbours, not from hours filled before: hence a copy. */
  memcpy(ghi, r->values[GHI], r->rows * sizeof *ghi);
  status = repair_gaps(r, weather->sun, ghi, repairs);
  if (status != STEADING_OK) return status;
  memcpy(weather->dhi_w_per_m2, r->values[DHI], r->rows * sizeof *ghi);
  repaired = repairs->dhi_from_dni + repairs->ghi_from_both + repairs->dhi_from_erbs +
             repairs->interpolated;
  if (repaired * 10 > repairs->lit) {
    return steading_fail(r->error, STEADING_BAD_INPUT, r->name,
                         "global or diffuse irradiance (fields 14, 16) is missing in %zu of %zu "
                         "sunlit hours; at most a tenth is filled",
                         repaired, repairs->lit);
  }
  return STEADING_OK;
}

/* ---- is the file what it says? ---- */

/* Irradiance-weighted mean of solar time less noon, in hours, with the sun of mid-hour. */
static double centroid_h(const steading_weather *weather) {
  double weighted = 0, sum = 0;
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
    for (int h = 0; h < 24; h++) {
      double hour = h + 0.5 + ahead - 12;
      hour -= 24 * floor(hour / 24 + 0.5);
      for (size_t year = 0; year < weather->years; year++) {
        double ghi = weather->ghi_w_per_m2[year * HOURS + (size_t)(day * 24 + h)];
        weighted += ghi * hour;
        sum += ghi;
      }
    }
  }
  return sum > 0 ? weighted / sum : 0;
}

/* Hours with light that lie more than an hour from sunlit ones. */
static size_t lit_nights(const steading_weather *weather) {
  size_t count = 0;
  for (size_t i = 0; i < weather->steps; i++) {
    size_t at = i % HOURS;
    if (weather->ghi_w_per_m2[i] >= 1 && weather->sun[at].lit_share <= 0 &&
        weather->sun[(at + 1) % HOURS].lit_share <= 0 &&
        weather->sun[(at + HOURS - 1) % HOURS].lit_share <= 0) {
      count++;
    }
  }
  return count;
}

/* Hours with the sun above 6 degrees and more light on the ground than outside the atmosphere. */
static size_t brighter_than_outside(const steading_weather *weather) {
  size_t count = 0;
  for (size_t i = 0; i < weather->steps; i++) {
    const steading_sun_step *sun = &weather->sun[i % HOURS];
    count += sun->up > 0.1 && weather->ghi_w_per_m2[i] > outside_w_per_m2(sun);
  }
  return count;
}

static int ascending(const void *left, const void *right) {
  double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

/* Median of |global - (direct cos z + diffuse)| / global as read, where all three are given, global
 * is at least 50 W/m2 and the sun is above 6 degrees. Uses `scratch` [rows]; *count may be 0. */
static double closure_miss(const reader *r, const steading_sun_step *sun, double *scratch,
                           size_t *count) {
  *count = 0;
  for (size_t i = 0; i < r->rows; i++) {
    double ghi = r->values[GHI][i], dni = r->values[DNI][i], dhi = r->values[DHI][i];
    double up = sun[i % HOURS].up;
    if (isnan(ghi + dni + dhi) || ghi < 50 || up < 0.1) continue;
    scratch[(*count)++] = fabs(ghi - (dni * up + dhi)) / ghi;
  }
  if (*count == 0) return 0;
  qsort(scratch, *count, sizeof *scratch, ascending);
  return scratch[*count / 2];
}

/* ---- notes ---- */

typedef struct findings {
  size_t temp_filled, moved, closure_count;
  double closure, centroid;
  light_repairs light;
} findings;

static bool note_if(steading_weather *weather, size_t count, const char *text) {
  return count == 0 || steading_weather_note(weather, "%zu %s", count, text) == STEADING_OK;
}

static steading_status write_notes(reader *r, steading_weather *weather, const findings *f) {
  const light_repairs *light = &f->light;
  bool fine =
      note_if(weather, r->leap_hours, "hours of 29 February dropped") &&
      note_if(weather, f->temp_filled,
              "hours without air temperature filled by straight lines (gaps up to 6 h)") &&
      note_if(weather, r->negatives, "negative values of irradiance set to 0") &&
      note_if(weather, light->without_dni,
              "sunlit hours without direct normal irradiance: derived, as always, from global and "
              "diffuse") &&
      note_if(weather, light->dhi_from_dni,
              "sunlit hours without diffuse: global less direct on the horizontal") &&
      note_if(weather, light->ghi_from_both,
              "sunlit hours without global: direct on the horizontal and diffuse") &&
      note_if(weather, light->dhi_from_erbs,
              "sunlit hours without direct and diffuse: diffuse from global (Erbs 1982)") &&
      note_if(
          weather, light->interpolated,
          "sunlit hours without global and one more: clearness interpolated (gaps up to 3 h)") &&
      note_if(weather, light->above_global, "sunlit hours with diffuse above global: bounded") &&
      note_if(weather, f->moved,
              "hours in which the beam would be stronger than outside the atmosphere: the rest "
              "counted as diffuse") &&
      note_if(weather, brighter_than_outside(weather),
              "hours with more global than outside the atmosphere") &&
      note_if(weather, lit_nights(weather),
              "hours with light while the sun is more than an hour below the horizon: a shifted or "
              "wrong time, or odd data");
  if (fine && f->closure_count > 0) {
    fine =
        steading_weather_note(weather,
                              "closure: global differs from direct on the horizontal and diffuse "
                              "by %.1f %% (median of %zu hours)",
                              f->closure * 100, f->closure_count) == STEADING_OK;
  }
  if (fine && fabs(f->centroid) > 0.35) {
    fine = steading_weather_note(
               weather,
               "the light is centred %.2f h %s solar noon: fog or afternoon cloud, "
               "or shifted times; nothing was corrected",
               fabs(f->centroid), f->centroid < 0 ? "before" : "after") == STEADING_OK;
  }
  if (fine && r->daylight_saving) {
    fine = steading_weather_note(weather,
                                 "the header names dates of daylight saving; rows are read as "
                                 "standard time") == STEADING_OK;
  }
  return fine ? STEADING_OK : no_memory(r);
}

/* ---- the whole ---- */

static steading_status check_centroid(reader *r, double centroid) {
  if (fabs(centroid) <= 2) return STEADING_OK;
  return steading_fail(r->error, STEADING_BAD_INPUT, r->name,
                       "the light is centred %.1f h %s solar noon: longitude, time zone or the "
                       "hours of the rows are wrong",
                       fabs(centroid), centroid < 0 ? "before" : "after");
}

static steading_status fill_weather(reader *r, steading_weather *weather) {
  findings f = {0};
  steading_status status = repair_temperature(r, &f.temp_filled);
  if (status != STEADING_OK) return status;
  memcpy(weather->temp_c, r->values[TEMP], r->rows * sizeof(double));
  /* dni is written last: until then it is the scratch space of the median. */
  f.closure = closure_miss(r, weather->sun, weather->dni_w_per_m2, &f.closure_count);
  status = repair_light(r, weather, &f.light);
  if (status != STEADING_OK) return status;
  f.moved = steading_weather_split_light(weather);
  f.centroid = centroid_h(weather);
  status = check_centroid(r, f.centroid);
  return status != STEADING_OK ? status : write_notes(r, weather, &f);
}

bool steading_weather_is_epw(const char *bytes, size_t length) {
  static const char start[] = "LOCATION,";
  if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) {
    bytes += 3;
    length -= 3;
  }
  return length >= sizeof start - 1 && memcmp(bytes, start, sizeof start - 1) == 0;
}

steading_status steading_weather_read_epw(const char *bytes, size_t length, const char *name,
                                          steading_weather **weather, steading_error *error) {
  reader r = {.name = name, .at = bytes, .end = bytes + length, .error = error};
  steading_weather *made = NULL;
  steading_status status = read_header(&r);
  *weather = NULL;
  if (status == STEADING_OK) status = read_rows(&r);
  if (status == STEADING_OK) {
    made = steading_weather_new(&r.place, r.rows / HOURS, "epw");
    status = made == NULL ? no_memory(&r) : fill_weather(&r, made);
  }
  for (int c = 0; c < COLUMNS; c++) free(r.values[c]);
  free(r.lines);
  if (status != STEADING_OK) {
    steading_weather_release(made);
    return status;
  }
  *weather = made;
  return STEADING_OK;
}
