#include "calendar.h"

#include <assert.h>

const int steading_days_before_month[13] = {0,   31,  59,  90,  120, 151, 181,
                                            212, 243, 273, 304, 334, 365};

/* Howard Hinnant, "chrono-compatible low-level date algorithms" (2013): years counted from March,
 * so that the leap day is the last one of its year. */
int64_t steading_day_number(int year, int month, int day) {
  int64_t y = (int64_t)year - (month <= 2);
  int64_t era = (y >= 0 ? y : y - 399) / 400;
  int64_t year_of_era = y - era * 400;
  int64_t day_of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
  int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
  return era * 146097 + day_of_era - 719468;
}

void steading_date_of_day(int64_t day_number, int *year, int *month, int *day) {
  int64_t z = day_number + 719468;
  int64_t era = (z >= 0 ? z : z - 146096) / 146097;
  int64_t day_of_era = z - era * 146097;
  int64_t year_of_era =
      (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
  int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
  int64_t shifted_month = (5 * day_of_year + 2) / 153;
  *day = (int)(day_of_year - (153 * shifted_month + 2) / 5 + 1);
  *month = (int)(shifted_month < 10 ? shifted_month + 3 : shifted_month - 9);
  *year = (int)(year_of_era + era * 400 + (*month <= 2));
}

bool steading_date_exists(int year, int month, int day) {
  int y = 0, m = 0, d = 0;
  if (month < 1 || month > 12 || day < 1 || day > 31) return false;
  steading_date_of_day(steading_day_number(year, month, day), &y, &m, &d);
  return y == year && m == month && d == day;
}

int steading_weekday(int64_t day_number) {
  int64_t from_monday = (day_number + 3) % 7; /* 1970-01-01 was a Thursday */
  return (int)(from_monday < 0 ? from_monday + 7 : from_monday);
}

void steading_month_of_day(int day_of_year, int *month, int *day) {
  int m = 1;
  assert(day_of_year >= 0 && day_of_year < STEADING_DAYS_PER_YEAR);
  while (day_of_year >= steading_days_before_month[m]) m++;
  *month = m;
  *day = day_of_year - steading_days_before_month[m - 1] + 1;
}

int64_t steading_days_between(int64_t from, int64_t to) {
  int y[2] = {0, 0}, month = 0, day = 0, day_of_year[2] = {0, 0};
  int64_t days[2] = {from, to};
  for (int i = 0; i < 2; i++) {
    steading_date_of_day(days[i], &y[i], &month, &day);
    if (month == 2 && day == 29) day = 28;
    day_of_year[i] = steading_days_before_month[month - 1] + day - 1;
  }
  return (int64_t)(y[1] - y[0]) * STEADING_DAYS_PER_YEAR + day_of_year[1] - day_of_year[0];
}

double steading_years_between(int64_t from, int64_t to) {
  return (double)steading_days_between(from, to) / STEADING_DAYS_PER_YEAR;
}
