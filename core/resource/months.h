/* Weathers made of the months of another, and what is said of months. */
#ifndef STEADING_RESOURCE_MONTHS_H
#define STEADING_RESOURCE_MONTHS_H

#include "resource/weather.h"

typedef struct steading_weather_month {
  double ghi_kwh_per_m2, dni_kwh_per_m2, dhi_kwh_per_m2; /* of the month */
  double temp_mean_c, temp_lowest_c, temp_highest_c;     /* of its steps */
} steading_weather_month;

/* A month 0..11 of a year 0..years - 1 of the weather. */
steading_weather_month steading_weather_month_of(const steading_weather *weather, size_t year,
                                                 int month);

/* A weather of one year, whose month m is that of year years_of[m] (0..years - 1). NULL when memory
 * ends. Its sha256 is left empty, its notes say where the months come from. */
steading_weather *steading_weather_of_months(const steading_weather *from,
                                             const size_t years_of[12]);

/* For each month the year that is most typical of all years: the one whose days' distributions of
 * global irradiation and of mean temperature are nearest to those of the month's days of all years,
 * by the mean distance of the two cumulative distributions (Finkelstein and Schafer 1971, "Improved
 * goodness-of-fit tests", Biometrika 58, 641-645), the two quantities counting alike and equal
 * values half. Of equal years the first. NO_MEMORY or OK. */
steading_status steading_weather_typical(const steading_weather *weather, size_t years_of[12]);

/* One weather of the years of several, in their order. They have to lie at one place (0.05 degrees)
 * with one offset from UT and one step; the path of an error is `names` of the one that differs.
 * Notes are kept with the name before them. *joined is NULL on failure. */
steading_status steading_weather_join(steading_weather *const *parts, const char *const *names,
                                      size_t count, steading_weather **joined,
                                      steading_error *error);

#endif
