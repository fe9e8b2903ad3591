#include "resource/synthesis.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "random.h"
#include "resource/air.h"
#include "resource/hours.h"
#include "resource/markov.h"
#include "resource/months.h"
#include "resource/sky.h"
#include "resource/weather.h"

enum { DAYS = STEADING_DAYS_PER_YEAR, HOURS = 24 };

static const double pi = 3.14159265358979323846;

/* Days follow each other like this: Graham, Hollands and Huget 1988, "A time series model for Kt",
 * Solar Energy 40, 83-92. */
static const double day_correlation = 0.29;

static const double clearness_low = 0.05, clearness_high = 0.80;

/* ---- parts ---- */

/* Mean of the density exp(x t) on 0..1, as a share of the way; rises from 0 to 1 with x. */
static double exponential_mean(double x) {
  if (fabs(x) < 1e-3) return 0.5 + x / 12; /* the next term is x^3 / 720 */
  return -1 / expm1(-x) - 1 / x;
}

steading_clearness steading_clearness_of_month(double mean) {
  steading_clearness clearness = {.lowest = 0.05};
  double fitted = fmax(mean, 0.3), below = -2000, above = 2000, share = 0;
  assert(mean >= clearness_low && mean <= clearness_high);
  if (mean < 0.1) clearness.lowest = mean / 2;
  clearness.highest = 0.6313 + 0.267 * fitted - 11.9 * pow(fitted - 0.75, 8);
  share = (mean - clearness.lowest) / (clearness.highest - clearness.lowest);
  for (int i = 0; i < 60; i++) {
    double x = (below + above) / 2;
    if (exponential_mean(x) < share) {
      below = x;
    } else {
      above = x;
    }
  }
  clearness.gamma = (below + above) / 2 / (clearness.highest - clearness.lowest);
  return clearness;
}

double steading_clearness_quantile(const steading_clearness *clearness, double u) {
  double width = clearness->highest - clearness->lowest, x = clearness->gamma * width;
  double value = 0;
  if (fabs(x) < 1e-9) return clearness->lowest + u * width;
  /* Three forms of one expression, each where it neither overflows nor loses digits. */
  if (fabs(x) < 1) {
    value = clearness->lowest + log1p(u * expm1(x)) / clearness->gamma;
  } else if (x > 0) {
    value = clearness->highest + log(u + (1 - u) * exp(-x)) / clearness->gamma;
  } else {
    value = clearness->lowest + log(1 - u + u * exp(x)) / clearness->gamma;
  }
  return fmin(fmax(value, clearness->lowest), clearness->highest);
}

/* ---- what does not change from year to year ---- */

enum { POINTS = 10 }; /* days that stand for all days of a month; as many as a chain has states */

typedef struct month_plan {
  double target;    /* Wh/m2 of the month */
  double clearness; /* the month's mean */
  steading_clearness spread;
  steading_chain chain;
  double toward, share;   /* each day of the chain moves by this share of its way toward that */
  double lowest, highest; /* limits of a day's clearness, beyond which exact_months moves none */
  double range_share;     /* mean of steading_temp_range_share */
  double wind_scale_m_per_s;
} month_plan;

typedef struct day_plan {
  double extraterrestrial; /* Wh/m2 on the horizontal */
  double shape_range_k;    /* mean range of the shape of temperature */
  double noon_spread_k;    /* of its process of noons */
} day_plan;

typedef struct year_plan {
  day_plan days[DAYS];
  double extraterrestrial[DAYS * HOURS]; /* W/m2 on the horizontal, mean over each step */
  double sin_height[DAYS * HOURS];
  double clearest[DAYS * HOURS]; /* clearness of an hour without clouds */
  double temp_c[DAYS * HOURS];   /* mean of every date */
  double temp_shape[HOURS], wind_cycle[HOURS];
  month_plan months[12];
  double states[DAYS][STEADING_CHAIN_STATES]; /* long-run shares of the chains' states */
} year_plan;

static double solar_hour(const steading_sun_step *sun, double sin_latitude, double cos_latitude) {
  double toward_equator = sun->up * cos_latitude - sun->north * sin_latitude;
  double angle = sun->lit_share > 0 ? atan2(-sun->east, toward_equator) : 0;
  return 12 + angle * 12 / pi;
}

static void plan_sun(year_plan *plan, const steading_weather *weather) {
  double latitude = weather->place.latitude_deg * pi / 180;
  double sin_latitude = sin(latitude), cos_latitude = cos(latitude);
  for (int i = 0; i < DAYS * HOURS; i++) {
    const steading_sun_step *sun = &weather->sun[i];
    plan->extraterrestrial[i] = sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
    plan->sin_height[i] = sun->up;
    plan->clearest[i] = steading_hour_clearest(solar_hour(sun, sin_latitude, cos_latitude));
    plan->days[i / HOURS].extraterrestrial += plan->extraterrestrial[i];
  }
}

static steading_status plan_month(year_plan *plan, const steading_climate *climate, int month,
                                  steading_error *error) {
  int first = steading_days_before_month[month], end = steading_days_before_month[month + 1];
  double given = climate->ghi_kwh_per_m2_day[month], most = 0, clearness = 0;
  month_plan *m = &plan->months[month];
  char path[32];
  for (int day = first; day < end; day++) most += plan->days[day].extraterrestrial;
  most /= 1000 * (end - first);
  snprintf(path, sizeof path, "ghi_kwh_per_m2_day[%d]", month + 1);
  if (given > clearness_high * most) {
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%g is above %.4g, which is %.2f of the %.4g kWh/m2 a day that reach the "
                         "top of the atmosphere at latitude %g in that month",
                         given, clearness_high * most, clearness_high, most,
                         climate->place.latitude_deg);
  }
  if (given < clearness_low * most) {
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%g is below %.4g, which is %.2f of the %.4g kWh/m2 a day that reach the "
                         "top of the atmosphere at latitude %g in that month",
                         given, clearness_low * most, clearness_low, most,
                         climate->place.latitude_deg);
  }
  clearness = given / most;
  m->clearness = fmin(fmax(clearness, clearness_low), clearness_high);
  m->spread = steading_clearness_of_month(m->clearness);
  m->chain = steading_chain_numbered(steading_chain_of_month(m->clearness));
  m->target = given * 1000 * (end - first);
  if (climate->days == STEADING_DAYS_MARKOV) {
    m->lowest = m->chain.lowest;
    m->highest = m->chain.highest;
  } else {
    m->lowest = m->spread.lowest;
    m->highest = m->spread.highest;
  }
  return STEADING_OK;
}

/* Long-run shares of the states of every day of the year: the chains change with the months, so
 * that the first days of a month still remember the one before. The second year has forgotten where
 * the first began. */
static void plan_states(year_plan *plan) {
  double now[STEADING_CHAIN_STATES] = {1}, carried[STEADING_CHAIN_STATES];
  const steading_chain *before = &plan->months[11].chain;
  for (int round = 0; round < 2; round++)
    for (int month = 0; month < 12; month++) {
      const steading_chain *chain = &plan->months[month].chain;
      for (int day = steading_days_before_month[month]; day < steading_days_before_month[month + 1];
           day++) {
        steading_chain_carry(before, now, chain, carried);
        steading_chain_step(chain, carried, now);
        memcpy(plan->states[day], now, sizeof now);
        before = chain;
      }
    }
}

/* The chains' own long-run mean lies somewhere in the class of the month: every day is moved by one
 * share of its way to the clearest (or the dullest) day that the chain knows, so that the mean
 * becomes the month's and no day leaves the chain's limits. */
static void plan_chain(year_plan *plan, int month) {
  month_plan *m = &plan->months[month];
  double sum = 0, outside = 0, mean = 0;
  for (int day = steading_days_before_month[month]; day < steading_days_before_month[month + 1];
       day++) {
    double of_day = 0;
    for (int i = 0; i < STEADING_CHAIN_STATES; i++)
      of_day += plan->states[day][i] * steading_chain_clearness(&m->chain, i + 0.5);
    sum += of_day * plan->days[day].extraterrestrial;
    outside += plan->days[day].extraterrestrial;
  }
  mean = sum / outside;
  m->toward = m->target / outside > mean ? m->chain.highest : m->chain.lowest;
  m->share = (m->target / outside - mean) / (m->toward - mean);
}

static double moved(const month_plan *month, double clearness) {
  return clearness + month->share * (month->toward - clearness);
}

/* Days that stand for all of a month: their clearness, and the share of days of each. */
static void stand_for(const year_plan *plan, const steading_climate *climate, int month,
                      double clearness[POINTS], double weight[POINTS]) {
  const month_plan *m = &plan->months[month];
  int first = steading_days_before_month[month], end = steading_days_before_month[month + 1];
  for (int i = 0; i < POINTS; i++) {
    weight[i] = 1.0 / POINTS;
    clearness[i] = steading_clearness_quantile(&m->spread, (i + 0.5) / POINTS);
    if (climate->days == STEADING_DAYS_GAUSSIAN) continue;
    clearness[i] = moved(m, steading_chain_clearness(&m->chain, i + 0.5));
    weight[i] = 0;
    for (int day = first; day < end; day++) weight[i] += plan->states[day][i] / (end - first);
  }
}

static void plan_temperature(year_plan *plan, const steading_climate *climate) {
  double shape_range_k[12], noon_spread_k[12];
  for (int m = 0; m < 12; m++) {
    double clearness[POINTS], weight[POINTS], factor[POINTS], mean = 0;
    double spread = steading_temp_month_spread(climate->temp_mean_c[m], climate->temp_mean_c);
    stand_for(plan, climate, m, clearness, weight);
    for (int i = 0; i < POINTS; i++) {
      factor[i] = steading_temp_range_share(clearness[i], plan->months[m].clearness);
      mean += weight[i] * factor[i];
    }
    for (int i = 0; i < POINTS; i++) factor[i] /= mean;
    plan->months[m].range_share = mean;
    noon_spread_k[m] =
        STEADING_NOON_SPREAD * steading_temp_day_spread(spread, steading_days_before_month[m + 1] -
                                                                    steading_days_before_month[m]);
    shape_range_k[m] = steading_temp_shape_range(climate->temp_range_c[m], noon_spread_k[m], POINTS,
                                                 weight, factor);
  }
  for (int h = 0; h < HOURS; h++) plan->temp_shape[h] = steading_temp_shape(h + 0.5);
  for (int day = 0; day < DAYS; day++) {
    plan->days[day].shape_range_k = fmax(0, steading_month_curve(shape_range_k, day + 0.5));
    plan->days[day].noon_spread_k = fmax(0, steading_month_curve(noon_spread_k, day + 0.5));
    for (int h = 0; h < HOURS; h++)
      plan->temp_c[day * HOURS + h] =
          steading_month_curve(climate->temp_mean_c, day + (h + 0.5) / HOURS);
  }
}

static void plan_wind(year_plan *plan, const steading_climate *climate) {
  for (int h = 0; h < HOURS; h++) plan->wind_cycle[h] = steading_wind_cycle(h + 0.5);
  for (int m = 0; m < 12; m++)
    plan->months[m].wind_scale_m_per_s =
        steading_wind_scale(climate->wind_m_per_s[m], climate->wind_shape);
}

/* ---- light ---- */

/* What goes on from one year into the next. */
typedef struct going_on {
  bool begun;          /* whether there is a day before */
  double clearness;    /* of the last day, as its chain drew it */
  double z;            /* Gaussian state of the last day's clearness */
  double noon, noon_k; /* the last noon of temperature: its normal number, and in K */
  double wind;         /* Gaussian state of the last hour's wind */
} going_on;

/* Moves every day of a month toward the clearest (or the dullest) day that there is, each by the
 * same share of its distance, so that the month's total is exact and no day leaves the limits. A
 * common factor would push clear days of a dull month beyond what a sky can do. */
static void make_month_exact(const year_plan *plan, int month, double *clearness) {
  int first = steading_days_before_month[month], end = steading_days_before_month[month + 1];
  const month_plan *m = &plan->months[month];
  double sum = 0, room = 0, limit = 0, share = 0;
  for (int day = first; day < end; day++) {
    sum += clearness[day] * plan->days[day].extraterrestrial;
  }
  limit = sum < m->target ? m->highest : m->lowest;
  for (int day = first; day < end; day++) {
    room += (limit - clearness[day]) * plan->days[day].extraterrestrial;
  }
  if (fabs(room) > 0) share = (m->target - sum) / room;
  for (int day = first; day < end; day++) clearness[day] += share * (limit - clearness[day]);
}

static double uniform_of_day(uint64_t seed, uint32_t year, int index) {
  return steading_random_uniform(seed, year, STEADING_DRAW_DAY_CLEARNESS, (uint64_t)index);
}

static double next_of_chain(const year_plan *plan, const steading_climate *climate, uint32_t year,
                            int day, const month_plan *month, going_on *on) {
  const double *share = NULL;
  if (!on->begun) { /* the day before the first is any 31 December */
    on->begun = true;
    on->clearness = steading_chain_draw(&plan->months[11].chain, plan->states[DAYS - 1],
                                        uniform_of_day(climate->seed, year, 2 * DAYS),
                                        uniform_of_day(climate->seed, year, 2 * DAYS + 1));
  }
  share = month->chain.share[steading_chain_state(&month->chain, on->clearness)];
  on->clearness =
      steading_chain_draw(&month->chain, share, uniform_of_day(climate->seed, year, 2 * day),
                          uniform_of_day(climate->seed, year, 2 * day + 1));
  return moved(month, on->clearness);
}

static double next_of_process(const steading_climate *climate, uint32_t year, int day,
                              const month_plan *month, going_on *on) {
  double normal =
      steading_random_normal(climate->seed, year, STEADING_DRAW_DAY_CLEARNESS, (uint64_t)day);
  on->z = year == 0 && day == 0
              ? normal
              : day_correlation * on->z + sqrt(1 - day_correlation * day_correlation) * normal;
  return steading_clearness_quantile(&month->spread, 0.5 * erfc(-on->z / sqrt(2)));
}

static void draw_days(const year_plan *plan, const steading_climate *climate, uint32_t year,
                      going_on *on, double clearness[DAYS]) {
  for (int month = 0; month < 12; month++) {
    const month_plan *m = &plan->months[month];
    for (int day = steading_days_before_month[month]; day < steading_days_before_month[month + 1];
         day++) {
      clearness[day] = climate->days == STEADING_DAYS_MARKOV
                           ? next_of_chain(plan, climate, year, day, m, on)
                           : next_of_process(climate, year, day, m, on);
    }
    if (climate->exact_months) make_month_exact(plan, month, clearness);
  }
}

/* A clearness of the hour within 0..clearest: drawn again while it is outside, the nearer limit
 * when that does not help. *y is the departure in spreads. */
static double draw_hour(uint64_t seed, uint32_t year, int hour, const steading_hour_law *law,
                        double mean, double spread, double clearest, bool first, double *y) {
  enum { TRIES = 8 };
  double expected = first ? 0 : law->correlation * *y;
  double fresh = first ? 1 : sqrt(1 - law->correlation * law->correlation), kt = mean;
  for (int i = 0; i < TRIES; i++) {
    double now = expected + fresh * steading_random_normal(seed, year, STEADING_DRAW_HOUR_CLEARNESS,
                                                           (uint64_t)hour * TRIES + (uint64_t)i);
    kt = mean + spread * now;
    if (kt >= 0 && kt <= clearest) {
      *y = now;
      return kt;
    }
  }
  kt = fmin(fmax(kt, 0), clearest);
  *y = expected;
  return kt;
}

static void make_day(const year_plan *plan, const steading_climate *climate, uint32_t year, int day,
                     double clearness, double *ghi, double *dhi) {
  const double *extraterrestrial = plan->extraterrestrial + (size_t)day * HOURS;
  const double *clearest = plan->clearest + (size_t)day * HOURS;
  steading_hour_law law = steading_hour_law_of(clearness);
  double kt[HOURS] = {0}, y = 0;
  bool first = true;
  if (plan->days[day].extraterrestrial <= 0) return;
  for (int h = 0; h < HOURS; h++) {
    double sin_height = plan->sin_height[day * HOURS + h];
    if (extraterrestrial[h] <= 0) continue;
    kt[h] =
        draw_hour(climate->seed, year, day * HOURS + h, &law, steading_hour_mean(&law, sin_height),
                  steading_hour_spread(&law, sin_height), clearest[h], first, &y);
    first = false;
  }
  steading_share_out(HOURS, extraterrestrial, clearest,
                     clearness * plan->days[day].extraterrestrial, kt);
  for (int h = 0; h < HOURS; h++) {
    ghi[h] = kt[h] * extraterrestrial[h];
    dhi[h] = ghi[h] * steading_sky_diffuse_fraction(kt[h]);
  }
}

/* ---- air ---- */

static double noon_number(const steading_climate *climate, uint32_t year, int day, double before) {
  double normal =
      steading_random_normal(climate->seed, year, STEADING_DRAW_DAY_TEMPERATURE, (uint64_t)day);
  if (year == 0 && day == 0) return normal;
  return STEADING_NOON_CORRELATION * before +
         sqrt(1 - STEADING_NOON_CORRELATION * STEADING_NOON_CORRELATION) * normal;
}

/* Adds to the hours of a year what its months lack to their means: a curve without jumps, which is
 * 0 at the ends of the year. */
static void make_months_of_temp_exact(const steading_climate *climate, double *temp_c) {
  double lack[12];
  for (int m = 0; m < 12; m++) {
    int first = steading_days_before_month[m] * HOURS,
        end = steading_days_before_month[m + 1] * HOURS;
    double sum = 0;
    for (int i = first; i < end; i++) sum += temp_c[i];
    lack[m] = climate->temp_mean_c[m] - sum / (end - first);
  }
  for (int m = 0; m < 12; m++) {
    int first = steading_days_before_month[m] * HOURS,
        end = steading_days_before_month[m + 1] * HOURS;
    double start = m == 0 ? 0 : (lack[m - 1] + lack[m]) / 2;
    double stop = m == 11 ? 0 : (lack[m] + lack[m + 1]) / 2;
    for (int i = first; i < end; i++)
      temp_c[i] += steading_span_curve(start, lack[m], stop, (i - first + 0.5) / (end - first));
  }
}

static void make_temp(const year_plan *plan, const steading_climate *climate, uint32_t year,
                      const double clearness[DAYS], going_on *on, double *temp_c) {
  double noon_k[DAYS + 2] = {0}, range_k[DAYS + 1] = {0}, z = on->noon;
  int day = 0;
  for (int m = 0; m < 12; m++)
    for (; day < steading_days_before_month[m + 1]; day++) {
      z = noon_number(climate, year, day, z);
      noon_k[day + 1] = plan->days[day].noon_spread_k * z;
      range_k[day] = plan->days[day].shape_range_k *
                     steading_temp_range_share(clearness[day], plan->months[m].clearness) /
                     plan->months[m].range_share;
    }
  noon_k[0] = year == 0 ? noon_k[1] : on->noon_k;
  noon_k[DAYS + 1] = plan->days[0].noon_spread_k * noon_number(climate, year + 1, 0, z);
  range_k[DAYS] = range_k[DAYS - 1];
  on->noon = z;
  on->noon_k = noon_k[DAYS];
  for (day = 0; day < DAYS; day++)
    for (int h = 0; h < HOURS; h++) {
      double from_noon = (h + 0.5 - 12) / HOURS, noon = noon_k[day + 1];
      double other = from_noon < 0 ? noon_k[day] : noon_k[day + 2];
      /* the shape crosses 0 at about 21 h: there one day's range can follow another's */
      double range = h < 21 ? range_k[day] : range_k[day + 1];
      temp_c[day * HOURS + h] = plan->temp_c[day * HOURS + h] + range * plan->temp_shape[h] + noon +
                                (other - noon) * fabs(from_noon);
    }
  if (climate->exact_months) make_months_of_temp_exact(climate, temp_c);
}

static void make_wind(const year_plan *plan, const steading_climate *climate, uint32_t year,
                      going_on *on, double *wind) {
  const double fresh = sqrt(1 - STEADING_WIND_CORRELATION * STEADING_WIND_CORRELATION);
  for (int m = 0; m < 12; m++) {
    int first = steading_days_before_month[m] * HOURS,
        end = steading_days_before_month[m + 1] * HOURS;
    double sum = 0;
    for (int i = first; i < end; i++) {
      double normal =
          steading_random_normal(climate->seed, year, STEADING_DRAW_HOUR_WIND, (uint64_t)i);
      on->wind =
          year == 0 && i == 0 ? normal : STEADING_WIND_CORRELATION * on->wind + fresh * normal;
      wind[i] =
          plan->wind_cycle[i % HOURS] *
          steading_wind_speed(plan->months[m].wind_scale_m_per_s, climate->wind_shape, on->wind);
      sum += wind[i];
    }
    if (!climate->exact_months || sum <= 0) continue;
    for (int i = first; i < end; i++) wind[i] *= climate->wind_m_per_s[m] * (end - first) / sum;
  }
}

/* ---- the whole ---- */

static steading_status check_number(double value, double low, double high, const char *name,
                                    int month, steading_error *error) {
  char path[64];
  if (value >= low && value <= high) return STEADING_OK;
  if (month < 0) {
    snprintf(path, sizeof path, "%s", name);
  } else {
    snprintf(path, sizeof path, "%s[%d]", name, month + 1);
  }
  return steading_fail(error, STEADING_BAD_INPUT, path, "%g, expected %g to %g", value, low, high);
}

static steading_status check_climate(const steading_climate *climate, steading_error *error) {
  const steading_place *place = &climate->place;
  steading_status status = STEADING_OK;
  if ((status = check_number(place->latitude_deg, -90, 90, "place.latitude_deg", -1, error)) ||
      (status = check_number(place->longitude_deg, -180, 180, "place.longitude_deg", -1, error)) ||
      (status = check_number(place->utc_offset_h, -12, 14, "place.utc_offset_h", -1, error)) ||
      (status = check_number(climate->years, 1, 200, "years", -1, error))) {
    return status;
  }
  for (int m = 0; m < 12; m++) {
    if ((status = check_number(climate->ghi_kwh_per_m2_day[m], 0.05, 12, "ghi_kwh_per_m2_day", m,
                               error)) ||
        (status = check_number(climate->temp_mean_c[m], -60, 50, "temp_mean_c", m, error)) ||
        (status = check_number(climate->temp_range_c[m], 0, 40, "temp_range_c", m, error))) {
      return status;
    }
    if (climate->has_wind &&
        (status = check_number(climate->wind_m_per_s[m], 0, 30, "wind_m_per_s", m, error)))
      return status;
  }
  if (climate->has_wind) return check_number(climate->wind_shape, 1, 5, "wind_shape", -1, error);
  return STEADING_OK;
}

static steading_status make_plan(year_plan *plan, const steading_climate *climate,
                                 const steading_weather *weather, steading_error *error) {
  plan_sun(plan, weather);
  for (int month = 0; month < 12; month++) {
    steading_status status = plan_month(plan, climate, month, error);
    if (status != STEADING_OK) return status;
  }
  plan_states(plan);
  for (int month = 0; month < 12; month++) plan_chain(plan, month);
  plan_temperature(plan, climate);
  if (climate->has_wind) plan_wind(plan, climate);
  return STEADING_OK;
}

static void make_years(const year_plan *plan, const steading_climate *climate,
                       steading_weather *weather) {
  double clearness[DAYS];
  going_on on = {.begun = false};
  for (size_t year = 0; year < weather->years; year++) {
    size_t first = year * STEADING_HOURS_PER_YEAR;
    uint32_t of = (uint32_t)year;
    draw_days(plan, climate, of, &on, clearness);
    for (int day = 0; day < DAYS; day++) {
      size_t at = first + (size_t)day * HOURS;
      make_day(plan, climate, of, day, clearness[day], weather->ghi_w_per_m2 + at,
               weather->dhi_w_per_m2 + at);
    }
    make_temp(plan, climate, of, clearness, &on, weather->temp_c + first);
    if (climate->has_wind) make_wind(plan, climate, of, &on, weather->wind_m_per_s + first);
  }
}

static steading_status tell(const steading_climate *climate, steading_weather *weather) {
  steading_dull_run dull = steading_weather_dull_run(weather);
  int month = 0, day = 0;
  steading_status status = steading_weather_note(
      weather, "%d years made from twelve monthly means (seed %" PRIu64 "), not measured; days: %s",
      climate->years, climate->seed,
      climate->days == STEADING_DAYS_MARKOV ? "Markov chains" : "a Gaussian process");
  if (status != STEADING_OK || dull.days == 0) return status;
  steading_month_of_day((int)(dull.first_day % DAYS), &month, &day);
  return steading_weather_note(weather,
                               "longest run of dull days (clearness below half of the month's "
                               "mean): %zu, from %02d-%02d of year %zu",
                               dull.days, month, day, dull.first_day / DAYS + 1);
}

steading_status steading_weather_synthesize(const steading_climate *climate,
                                            steading_weather **weather, steading_error *error) {
  steading_status status = check_climate(climate, error);
  steading_weather *made = NULL;
  year_plan *plan = NULL;
  *weather = NULL;
  if (status != STEADING_OK) return status;
  made = steading_weather_new(&climate->place, (size_t)climate->years, 60, "synthesized");
  plan = calloc(1, sizeof *plan);
  if (made == NULL || plan == NULL ||
      (climate->has_wind && steading_weather_add_wind(made) != STEADING_OK)) {
    status = steading_fail(error, STEADING_NO_MEMORY, "weather", "not enough memory");
  } else {
    status = make_plan(plan, climate, made, error);
  }
  if (status == STEADING_OK) {
    make_years(plan, climate, made);
    steading_weather_split_light(made);
    status = tell(climate, made);
  }
  free(plan);
  if (status != STEADING_OK) {
    steading_weather_release(made);
    return status;
  }
  *weather = made;
  return STEADING_OK;
}
