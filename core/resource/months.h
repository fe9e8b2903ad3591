/* Weathers made of the months of another, and what is said of months. */
#ifndef STEADING_RESOURCE_MONTHS_H
#define STEADING_RESOURCE_MONTHS_H

#include "resource/weather.h"

typedef struct steading_weather_month {
  double ghi_kwh_per_m2, dni_kwh_per_m2, dhi_kwh_per_m2; /* of the month */
  double temp_mean_c, temp_lowest_c, temp_highest_c;     /* of its steps */
  double wind_mean_m_per_s;                              /* 0 in a weather without wind */
} steading_weather_month;

/* An empty weather of so many years at the same place, with wind if `from` has it. NULL when memory
 * ends. */
steading_weather *steading_weather_like(const steading_weather *from, size_t years,
                                        int step_minutes);

/* Its notes, with `name: ` before each unless it is NULL. False when memory ends. */
bool steading_weather_copy_notes(const steading_weather *from, const char *name,
                                 steading_weather *to);

/* A month 0..11 of a year 0..years - 1 of the weather. */
steading_weather_month steading_weather_month_of(const steading_weather *weather, size_t year,
                                                 int month);

/* Days in a row of which each has less than half of the clearness that its month has in the mean of
 * all years (clearness: global over what reaches the top of the atmosphere, on the horizontal); a
 * day without sun is none. */
typedef struct steading_dull_run {
  size_t days, first_day; /* how long, and from which day of the weather, counted from 0 */
} steading_dull_run;

/* The longest such run, the first of equal ones; it may go on from year to year. */
steading_dull_run steading_weather_dull_run(const steading_weather *weather);

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
 * with one offset from UT and one step, and all have wind or none; the path of an error is `names`
 * of the one that differs. Notes are kept with the name before them. *joined is NULL on failure. */
steading_status steading_weather_join(steading_weather *const *parts, const char *const *names,
                                      size_t count, steading_weather **joined,
                                      steading_error *error);

#endif
