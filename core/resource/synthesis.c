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
#include "resource/sky.h"
#include "resource/weather.h"

enum { DAYS = STEADING_DAYS_PER_YEAR, HOURS = 24 };

static const double pi = 3.14159265358979323846;

/* Days follow each other like this: Graham, Hollands and Huget 1988, "A time series model for Kt",
 * Solar Energy 40, 83-92. */
static const double day_correlation = 0.29;

/* No hour is clearer than this; common practice, no source. It is above the clearest day that the
 * distribution knows (0.845), so that a day's total always finds room in its hours. */
static const double clearest_hour = 0.85;

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

double steading_hour_clearness_ratio(double sunset_angle_rad, double cos_hour_angle) {
  double turned = sin(sunset_angle_rad - pi / 3);
  return 0.409 + 0.5016 * turned + (0.6609 - 0.4767 * turned) * cos_hour_angle;
}

double steading_temp_shape(double clock_h) {
  double t = 2 * pi * (clock_h - 1) / 24;
  return 0.4632 * cos(t - 3.805) + 0.0984 * cos(2 * t - 0.360) + 0.0168 * cos(3 * t - 0.822) +
         0.0138 * cos(4 * t - 3.513);
}

double steading_month_curve(const double months[12], double day) {
  int month = 0;
  while (month < 11 && day >= steading_days_before_month[month + 1]) month++;
  double first = steading_days_before_month[month];
  double length = steading_days_before_month[month + 1] - first;
  double here = months[month];
  double start = (months[(month + 11) % 12] + here) / 2,
         end = (here + months[(month + 1) % 12]) / 2;
  double middle = 2 * here - (start + end) / 2; /* makes the month's mean `here` */
  double along = (day - first) / length * 2;
  return along < 1 ? start + (middle - start) * along : middle + (end - middle) * (along - 1);
}

/* ---- what does not change from year to year ---- */

typedef struct day_plan {
  double extraterrestrial; /* Wh/m2 of the day on the horizontal */
  double steepest;         /* largest hourly clearness over the day's clearness */
  double share[HOURS];     /* of the day's global in each hour; sums to 1, or all 0 in the dark */
} day_plan;

typedef struct year_plan {
  day_plan days[DAYS];
  double extraterrestrial[DAYS * HOURS]; /* W/m2 on the horizontal, mean over each step */
  double temp_c[DAYS * HOURS];
  steading_clearness clearness[12];
  double target[12]; /* Wh/m2 of the month */
} year_plan;

static double cos_hour_angle(const steading_sun_step *sun, double sin_latitude,
                             double cos_latitude) {
  double toward_equator = sun->up * cos_latitude - sun->north * sin_latitude;
  double length = hypot(toward_equator, sun->east);
  return length > 0 ? toward_equator / length : 1;
}

static void plan_day(year_plan *plan, const steading_weather *weather, int day) {
  day_plan *d = &plan->days[day];
  const steading_sun_step *sun = weather->sun + (size_t)day * HOURS;
  double *extraterrestrial = plan->extraterrestrial + (size_t)day * HOURS;
  double latitude = weather->place.latitude_deg * pi / 180;
  double sin_latitude = sin(latitude), cos_latitude = cos(latitude), lit_hours = 0, sum = 0;
  for (int h = 0; h < HOURS; h++) {
    extraterrestrial[h] = sun[h].extraterrestrial_w_per_m2 * sun[h].up * sun[h].lit_share;
    d->extraterrestrial += extraterrestrial[h];
    lit_hours += sun[h].lit_share;
  }
  for (int h = 0; h < HOURS; h++) {
    double ratio = steading_hour_clearness_ratio(
        lit_hours / HOURS * pi, cos_hour_angle(&sun[h], sin_latitude, cos_latitude));
    d->share[h] = fmax(0, ratio) * extraterrestrial[h];
    sum += d->share[h];
  }
  for (int h = 0; h < HOURS && sum > 0; h++) {
    d->share[h] /= sum;
    if (extraterrestrial[h] > 0) {
      d->steepest = fmax(d->steepest, d->share[h] * d->extraterrestrial / extraterrestrial[h]);
    }
  }
}

static void plan_temperature(year_plan *plan, const steading_climate *climate) {
  for (int day = 0; day < DAYS; day++) {
    double range = fmax(0, steading_month_curve(climate->temp_range_c, day + 0.5));
    for (int h = 0; h < HOURS; h++) {
      double mean = steading_month_curve(climate->temp_mean_c, day + (h + 0.5) / HOURS);
      plan->temp_c[day * HOURS + h] = mean + range * steading_temp_shape(h + 0.5);
    }
  }
}

static steading_status plan_month(year_plan *plan, const steading_climate *climate, int month,
                                  steading_error *error) {
  int first = steading_days_before_month[month], end = steading_days_before_month[month + 1];
  double given = climate->ghi_kwh_per_m2_day[month], most = 0, clearness = 0;
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
  plan->clearness[month] =
      steading_clearness_of_month(fmin(fmax(clearness, clearness_low), clearness_high));
  plan->target[month] = given * 1000 * (end - first);
  return STEADING_OK;
}

/* ---- years ---- */

/* Moves every day of a month toward the clearest (or the dullest) day that the distribution knows,
 * each by the same share of its distance, so that the month's total is exact and no day leaves the
 * limits. A common factor would push clear days of a dull month beyond what a sky can do. */
static void make_month_exact(const year_plan *plan, int month, double *clearness) {
  int first = steading_days_before_month[month], end = steading_days_before_month[month + 1];
  double sum = 0, room = 0, limit = 0, share = 0;
  for (int day = first; day < end; day++) {
    sum += clearness[day] * plan->days[day].extraterrestrial;
  }
  limit =
      sum < plan->target[month] ? plan->clearness[month].highest : plan->clearness[month].lowest;
  for (int day = first; day < end; day++) {
    room += (limit - clearness[day]) * plan->days[day].extraterrestrial;
  }
  if (fabs(room) > 0) share = (plan->target[month] - sum) / room;
  for (int day = first; day < end; day++) clearness[day] += share * (limit - clearness[day]);
}

/* One year of daily clearness. `*z` is the Gaussian state of the day before. */
static void draw_days(const year_plan *plan, const steading_climate *climate, uint32_t year,
                      double *z, double clearness[DAYS]) {
  const double fresh = sqrt(1 - day_correlation * day_correlation);
  for (int month = 0; month < 12; month++) {
    for (int day = steading_days_before_month[month]; day < steading_days_before_month[month + 1];
         day++) {
      double normal =
          steading_random_normal(climate->seed, year, STEADING_DRAW_DAY_CLEARNESS, (uint64_t)day);
      *z = year == 0 && day == 0 ? normal : day_correlation * *z + fresh * normal;
      clearness[day] =
          steading_clearness_quantile(&plan->clearness[month], 0.5 * erfc(-*z / sqrt(2)));
    }
    if (climate->exact_months) make_month_exact(plan, month, clearness);
  }
}

/* Brings hours above the clearest one down to it and spreads what they lose over the other hours of
 * the day in proportion; repeated while that lifts others above it. */
static void limit_hours(const double *extraterrestrial, double total, double ghi[HOURS]) {
  bool capped[HOURS] = {false};
  for (int round = 0; round < HOURS; round++) {
    double free_sum = 0, left = total, factor = 1;
    bool more = false;
    for (int h = 0; h < HOURS; h++) {
      if (!capped[h] && ghi[h] > clearest_hour * extraterrestrial[h]) {
        capped[h] = more = true;
        ghi[h] = clearest_hour * extraterrestrial[h];
      }
      if (capped[h]) {
        left -= ghi[h];
      } else {
        free_sum += ghi[h];
      }
    }
    if (!more || free_sum <= 0) return;
    factor = left / free_sum;
    for (int h = 0; h < HOURS; h++) ghi[h] *= capped[h] ? 1 : factor;
  }
}

static void make_day(const year_plan *plan, int day, double clearness, double *ghi, double *dhi) {
  const day_plan *d = &plan->days[day];
  const double *extraterrestrial = plan->extraterrestrial + (size_t)day * HOURS;
  double total = clearness * d->extraterrestrial;
  for (int h = 0; h < HOURS; h++) ghi[h] = total * d->share[h];
  if (clearness * d->steepest > clearest_hour) limit_hours(extraterrestrial, total, ghi);
  for (int h = 0; h < HOURS; h++) {
    if (ghi[h] <= 0) continue;
    dhi[h] = ghi[h] * steading_sky_diffuse_fraction(ghi[h] / extraterrestrial[h]);
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
  }
  return STEADING_OK;
}

static steading_status make_plan(year_plan *plan, const steading_climate *climate,
                                 const steading_weather *weather, steading_error *error) {
  for (int day = 0; day < DAYS; day++) plan_day(plan, weather, day);
  plan_temperature(plan, climate);
  for (int month = 0; month < 12; month++) {
    steading_status status = plan_month(plan, climate, month, error);
    if (status != STEADING_OK) return status;
  }
  return STEADING_OK;
}

static void make_years(const year_plan *plan, const steading_climate *climate,
                       steading_weather *weather) {
  double clearness[DAYS], z = 0;
  for (size_t year = 0; year < weather->years; year++) {
    size_t first = year * STEADING_HOURS_PER_YEAR;
    draw_days(plan, climate, (uint32_t)year, &z, clearness);
    for (int day = 0; day < DAYS; day++) {
      size_t at = first + (size_t)day * HOURS;
      make_day(plan, day, clearness[day], weather->ghi_w_per_m2 + at, weather->dhi_w_per_m2 + at);
    }
    memcpy(weather->temp_c + first, plan->temp_c, sizeof plan->temp_c);
  }
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
  if (made == NULL || plan == NULL) {
    status = steading_fail(error, STEADING_NO_MEMORY, "weather", "not enough memory");
  } else {
    status = make_plan(plan, climate, made, error);
  }
  if (status == STEADING_OK) {
    make_years(plan, climate, made);
    steading_weather_split_light(made);
    status = steading_weather_note(made,
                                   "%d years made from twelve monthly means (seed %" PRIu64
                                   "), not measured; temperature is the mean day of each date",
                                   climate->years, climate->seed);
  }
  free(plan);
  if (status != STEADING_OK) {
    steading_weather_release(made);
    return status;
  }
  *weather = made;
  return STEADING_OK;
}
