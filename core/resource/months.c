#include "resource/months.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"

enum { LONGEST_MONTH_DAYS = 31 };

static size_t steps_a_day(const steading_weather *weather) {
  return weather->steps_per_year / STEADING_DAYS_PER_YEAR;
}

/* First step of a month of a year, and how many it has. */
static size_t month_steps(const steading_weather *weather, size_t year, int month, size_t *count) {
  size_t a_day = steps_a_day(weather);
  size_t first = (size_t)steading_days_before_month[month] * a_day;
  *count = (size_t)steading_days_before_month[month + 1] * a_day - first;
  return year * weather->steps_per_year + first;
}

steading_weather_month steading_weather_month_of(const steading_weather *weather, size_t year,
                                                 int month) {
  size_t count = 0, first = month_steps(weather, year, month, &count);
  double to_kwh = weather->step_minutes / 60000.0;
  steading_weather_month m = {.temp_lowest_c = weather->temp_c[first],
                              .temp_highest_c = weather->temp_c[first]};
  for (size_t i = first; i < first + count; i++) {
    m.ghi_kwh_per_m2 += weather->ghi_w_per_m2[i];
    m.dni_kwh_per_m2 += weather->dni_w_per_m2[i];
    m.dhi_kwh_per_m2 += weather->dhi_w_per_m2[i];
    m.temp_mean_c += weather->temp_c[i];
    m.temp_lowest_c = fmin(m.temp_lowest_c, weather->temp_c[i]);
    m.temp_highest_c = fmax(m.temp_highest_c, weather->temp_c[i]);
    if (weather->wind_m_per_s != NULL) m.wind_mean_m_per_s += weather->wind_m_per_s[i];
  }
  m.ghi_kwh_per_m2 *= to_kwh;
  m.dni_kwh_per_m2 *= to_kwh;
  m.dhi_kwh_per_m2 *= to_kwh;
  m.temp_mean_c /= (double)count;
  m.wind_mean_m_per_s /= (double)count;
  return m;
}

static double outside_of_day(const steading_weather *weather, size_t day_of_year) {
  size_t a_day = steps_a_day(weather);
  double sum = 0;
  for (size_t i = day_of_year * a_day; i < (day_of_year + 1) * a_day; i++)
    sum +=
        weather->sun[i].extraterrestrial_w_per_m2 * weather->sun[i].up * weather->sun[i].lit_share;
  return sum;
}

static double light_of_day(const steading_weather *weather, size_t day) {
  size_t a_day = steps_a_day(weather);
  double sum = 0;
  for (size_t i = day * a_day; i < (day + 1) * a_day; i++) sum += weather->ghi_w_per_m2[i];
  return sum;
}

steading_dull_run steading_weather_dull_run(const steading_weather *weather) {
  double dull_below[STEADING_DAYS_PER_YEAR] = {0};
  steading_dull_run longest = {0}, now = {0};
  for (int m = 0; m < 12; m++) {
    size_t first = (size_t)steading_days_before_month[m],
           end = (size_t)steading_days_before_month[m + 1];
    double light = 0, outside = 0;
    for (size_t day = first; day < end; day++) {
      dull_below[day] = outside_of_day(weather, day);
      outside += dull_below[day];
      for (size_t y = 0; y < weather->years; y++)
        light += light_of_day(weather, y * STEADING_DAYS_PER_YEAR + day);
    }
    for (size_t day = first; day < end && outside > 0; day++)
      dull_below[day] *= 0.5 * light / ((double)weather->years * outside);
  }
  for (size_t day = 0; day < weather->years * STEADING_DAYS_PER_YEAR; day++) {
    if (light_of_day(weather, day) >= dull_below[day % STEADING_DAYS_PER_YEAR]) {
      now.days = 0;
      continue;
    }
    if (now.days++ == 0) now.first_day = day;
    if (now.days > longest.days) longest = now;
  }
  return longest;
}

static void copy_steps(const steading_weather *from, size_t first, steading_weather *to, size_t at,
                       size_t count) {
  memcpy(to->ghi_w_per_m2 + at, from->ghi_w_per_m2 + first, count * sizeof(double));
  memcpy(to->dhi_w_per_m2 + at, from->dhi_w_per_m2 + first, count * sizeof(double));
  memcpy(to->dni_w_per_m2 + at, from->dni_w_per_m2 + first, count * sizeof(double));
  memcpy(to->temp_c + at, from->temp_c + first, count * sizeof(double));
  if (to->wind_m_per_s != NULL)
    memcpy(to->wind_m_per_s + at, from->wind_m_per_s + first, count * sizeof(double));
}

steading_weather *steading_weather_like(const steading_weather *from, size_t years,
                                        int step_minutes) {
  steading_weather *made = steading_weather_new(&from->place, years, step_minutes, from->source);
  if (made == NULL) return NULL;
  if (from->wind_m_per_s != NULL && steading_weather_add_wind(made) != STEADING_OK) {
    steading_weather_release(made);
    return NULL;
  }
  memcpy(made->time_zone, from->time_zone, sizeof made->time_zone);
  made->has_record_low = from->has_record_low;
  made->record_low_c = from->record_low_c;
  return made;
}

bool steading_weather_copy_notes(const steading_weather *from, const char *name,
                                 steading_weather *to) {
  for (size_t i = 0; i < from->note_count; i++) {
    steading_status status = name == NULL
                                 ? steading_weather_note(to, "%s", from->notes[i])
                                 : steading_weather_note(to, "%s: %s", name, from->notes[i]);
    if (status != STEADING_OK) return false;
  }
  return true;
}

steading_weather *steading_weather_of_months(const steading_weather *from,
                                             const size_t years_of[12]) {
  static const char *const names[12] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  steading_weather *made = steading_weather_like(from, 1, from->step_minutes);
  char list[256] = "";
  size_t used = 0;
  bool one = true;
  if (made == NULL) return NULL;
  for (int m = 0; m < 12; m++) {
    size_t count = 0, first = month_steps(from, years_of[m], m, &count);
    size_t at = month_steps(made, 0, m, &count);
    copy_steps(from, first, made, at, count);
    one = one && years_of[m] == years_of[0];
    used += (size_t)snprintf(list + used, sizeof list - used, "%s%s %zu", m == 0 ? "" : ", ",
                             names[m], years_of[m] + 1);
  }
  if (!steading_weather_copy_notes(from, NULL, made) ||
      (one ? steading_weather_note(made, "year %zu of %zu", years_of[0] + 1, from->years)
           : steading_weather_note(made, "months from these of %zu years: %s", from->years,
                                   list)) != STEADING_OK) {
    steading_weather_release(made);
    return NULL;
  }
  return made;
}

/* ---- the typical year ---- */

static int ascending(const void *left, const void *right) {
  double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

static void day_values(const steading_weather *weather, const double *of_step, size_t year,
                       int month, double *days) {
  size_t count = 0, first = month_steps(weather, year, month, &count), a_day = steps_a_day(weather);
  for (size_t d = 0; d < count / a_day; d++) {
    days[d] = 0;
    for (size_t i = 0; i < a_day; i++) days[d] += of_step[first + d * a_day + i];
  }
}

/* How many of the sorted values are below x, or at most x. */
static size_t rank(const double *sorted, size_t count, double x, bool with_equal) {
  size_t low = 0, high = count;
  while (low < high) {
    size_t middle = (low + high) / 2;
    if (sorted[middle] < x || (with_equal && sorted[middle] == x))
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

/* Share of the sorted values below x, equal ones counted half: a month of low days and one of high
 * days are then equally far from all years'. */
static double cumulative(const double *sorted, size_t count, double x) {
  return (double)(rank(sorted, count, x, false) + rank(sorted, count, x, true)) /
         (2 * (double)count);
}

/* Finkelstein and Schafer's statistic of one year's days against all years'. */
static double distance(const double *all, size_t all_count, const double *own, size_t count) {
  double sorted[LONGEST_MONTH_DAYS], sum = 0;
  memcpy(sorted, own, count * sizeof *own);
  qsort(sorted, count, sizeof *sorted, ascending);
  for (size_t i = 0; i < count; i++)
    sum += fabs(cumulative(all, all_count, sorted[i]) - cumulative(sorted, count, sorted[i]));
  return sum / (double)count;
}

/* Adds to miss[year] the distance of each year's month in one quantity. `days` and `all` hold
 * years * 31 elements. */
static void add_distances(const steading_weather *weather, const double *of_step, int month,
                          double *days, double *all, double *miss) {
  size_t n = (size_t)(steading_days_before_month[month + 1] - steading_days_before_month[month]);
  for (size_t y = 0; y < weather->years; y++) day_values(weather, of_step, y, month, days + y * n);
  memcpy(all, days, weather->years * n * sizeof *all);
  qsort(all, weather->years * n, sizeof *all, ascending);
  for (size_t y = 0; y < weather->years; y++)
    miss[y] += distance(all, weather->years * n, days + y * n, n);
}

steading_status steading_weather_typical(const steading_weather *weather, size_t years_of[12]) {
  size_t most = weather->years * LONGEST_MONTH_DAYS;
  double *days = malloc(most * sizeof *days), *all = malloc(most * sizeof *all);
  double *miss = malloc(weather->years * sizeof *miss);
  bool fine = days != NULL && all != NULL && miss != NULL;
  for (int m = 0; fine && m < 12; m++) {
    for (size_t y = 0; y < weather->years; y++) miss[y] = 0;
    add_distances(weather, weather->ghi_w_per_m2, m, days, all, miss);
    add_distances(weather, weather->temp_c, m, days, all, miss);
    years_of[m] = 0;
    for (size_t y = 1; y < weather->years; y++)
      if (miss[y] < miss[years_of[m]]) years_of[m] = y;
  }
  free(days);
  free(all);
  free(miss);
  return fine ? STEADING_OK : STEADING_NO_MEMORY;
}

/* ---- several files ---- */

static steading_status check_alike(const steading_weather *first, const steading_weather *other,
                                   const char *name, steading_error *error) {
  if (fabs(first->place.latitude_deg - other->place.latitude_deg) > 0.05 ||
      fabs(first->place.longitude_deg - other->place.longitude_deg) > 0.05)
    return steading_fail(
        error, STEADING_BAD_INPUT, name,
        "lies at %g, %g, the first file at %g, %g: the years of one weather are of "
        "one place",
        other->place.latitude_deg, other->place.longitude_deg, first->place.latitude_deg,
        first->place.longitude_deg);
  if (first->place.utc_offset_h != other->place.utc_offset_h)
    return steading_fail(error, STEADING_BAD_INPUT, name,
                         "its standard time is %+g h from UT, that of the first file %+g h",
                         other->place.utc_offset_h, first->place.utc_offset_h);
  if (first->step_minutes != other->step_minutes)
    return steading_fail(error, STEADING_BAD_INPUT, name,
                         "has steps of %d min, the first file of %d min", other->step_minutes,
                         first->step_minutes);
  if ((first->wind_m_per_s == NULL) != (other->wind_m_per_s == NULL))
    return steading_fail(error, STEADING_BAD_INPUT, name, "has %s, the first file has %s",
                         other->wind_m_per_s == NULL ? "no wind" : "wind",
                         first->wind_m_per_s == NULL ? "none" : "it");
  return STEADING_OK;
}

steading_status steading_weather_join(steading_weather *const *parts, const char *const *names,
                                      size_t count, steading_weather **joined,
                                      steading_error *error) {
  steading_weather *made = NULL;
  size_t years = 0, at = 0;
  *joined = NULL;
  for (size_t i = 0; i < count; i++) {
    steading_status status = check_alike(parts[0], parts[i], names[i], error);
    if (status != STEADING_OK) return status;
    years += parts[i]->years;
  }
  made = steading_weather_like(parts[0], years, parts[0]->step_minutes);
  for (size_t i = 0; made != NULL && i < count; i++) {
    copy_steps(parts[i], 0, made, at, parts[i]->steps);
    at += parts[i]->steps;
    if (steading_weather_copy_notes(parts[i], names[i], made)) continue;
    steading_weather_release(made);
    made = NULL;
  }
  if (made == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "weather.read", "not enough memory");
  *joined = made;
  return STEADING_OK;
}
