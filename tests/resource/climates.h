/* Published monthly means of places, for tests of the weather that is made from them. */
#ifndef STEADING_TESTS_CLIMATES_H
#define STEADING_TESTS_CLIMATES_H

#include <check.h>
#include <string.h>

#include "calendar.h"
#include "resource/weather.h"

/* Golden, Colorado: monthly means of the typical year of station 724666 (NREL 2008, TMY3), daily
 * ranges of ASHRAE 2009. */
static inline steading_climate golden(int years, uint64_t seed) {
  steading_climate climate = {
      .place = {39.733, -105.167, 1829, -7},
      .ghi_kwh_per_m2_day = {2.317, 3.049, 4.701, 5.685, 6.114, 6.262, 6.175, 5.892, 4.929, 3.482,
                             2.881, 1.701},
      .temp_mean_c = {1.1, -1.3, 3.2, 8.4, 13.1, 18.8, 20.8, 21.5, 17.0, 9.4, 2.6, 1.8},
      .temp_range_c = {12.9, 13.1, 13.7, 13.6, 14.1, 15.1, 15.2, 14.3, 14.8, 14.6, 13.5, 12.6},
      .wind_shape = 2,
      .years = years,
      .seed = seed};
  return climate;
}

/* Lethbridge, Alberta: monthly means of the typical year of station 712430. */
static inline void go_to_lethbridge(steading_climate *climate) {
  static const double ghi[12] = {1.417, 2.491, 3.777, 5.061, 5.946, 6.647,
                                 7.259, 5.965, 4.186, 3.075, 1.645, 1.174};
  climate->place = (steading_place){49.617, -112.8, 921, -7};
  memcpy(climate->ghi_kwh_per_m2_day, ghi, sizeof ghi);
}

/* A hill in Baden, Germany: monthly means of a satellite climatology, 2001-2020. */
static inline void go_to_baden(steading_climate *climate) {
  static const double ghi[12] = {1.00, 1.76, 3.04, 4.46, 5.21, 5.87,
                                 5.67, 4.83, 3.72, 2.20, 1.15, 0.81};
  climate->place = (steading_place){48.066, 7.923, 702, 1};
  memcpy(climate->ghi_kwh_per_m2_day, ghi, sizeof ghi);
}

static inline steading_weather *made(const steading_climate *climate) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_status status = steading_weather_synthesize(climate, &weather, &error);
  ck_assert_msg(status == STEADING_OK, "%s: %s", error.path, error.text);
  ck_assert_ptr_nonnull(weather);
  return weather;
}

/* What reaches the top of the atmosphere over a day, Wh/m2 on the horizontal. */
static inline double outside_of_day(const steading_weather *weather, int day) {
  double sum = 0;
  for (int h = day * 24; h < day * 24 + 24; h++) {
    const steading_sun_step *sun = &weather->sun[h];
    sum += sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
  }
  return sum;
}

static inline double clearness_of_day(const steading_weather *weather, size_t year, int day) {
  double sum = 0;
  for (int h = day * 24; h < day * 24 + 24; h++)
    sum += weather->ghi_w_per_m2[year * STEADING_HOURS_PER_YEAR + (size_t)h];
  return sum / outside_of_day(weather, day);
}

static inline int days_of(int month) {
  return steading_days_before_month[month + 1] - steading_days_before_month[month];
}

/* Mean over a month's hours of one year. */
static inline double month_mean(const double *values, size_t year, int month) {
  double sum = 0;
  for (int h = steading_days_before_month[month] * 24;
       h < steading_days_before_month[month + 1] * 24; h++)
    sum += values[year * STEADING_HOURS_PER_YEAR + (size_t)h];
  return sum / (days_of(month) * 24);
}

#endif
