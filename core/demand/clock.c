#include "demand/clock.h"

#include <math.h>
#include <stddef.h>

#include "calendar.h"

/* Seconds that civil time is ahead of the run's standard time at the middle of an hour. */
static int32_t ahead_s(const steading_zone *zone, int64_t standard_s, int64_t offset_s) {
  return (int32_t)(steading_zone_offset_s(zone, standard_s - offset_s + 1800) - offset_s);
}

static void set_hour(int64_t civil_s, int standard_month, steading_civil_hour *out) {
  int64_t day = civil_s >= 0 ? civil_s / 86400 : -((86399 - civil_s) / 86400);
  int year = 0, month = 0, date = 0, month_before = 0;
  steading_date_of_day(day, &year, &month, &date);
  if (month == 2 && date == 29) { /* the day that a run does not have: 28 February goes on */
    day += civil_s % 86400 < 43200 ? 1 : -1;
    steading_date_of_day(day, &year, &month, &date);
  }
  steading_date_of_day(day - 1, &year, &month_before, &date);
  out->month = (uint8_t)month;
  out->weekday = (uint8_t)steading_weekday(day);
  out->hour = (uint8_t)((civil_s -
                         (civil_s >= 0 ? civil_s / 86400 : -((86399 - civil_s) / 86400)) * 86400) /
                        3600);
  out->month_before = (uint8_t)month_before;
  out->standard_month = (uint8_t)standard_month;
  out->next_month = 0;
  if (month != standard_month) out->next_month = month == standard_month % 12 + 1 ? 1 : -1;
}

void steading_clock_year(int year, int month, const steading_zone *zone, double utc_offset_h,
                         steading_civil_hour *hours) {
  int64_t offset_s = llround(utc_offset_h * 3600);
  int64_t day = steading_day_number(year, month, 1);
  int32_t ahead = 0, ahead_after = 0;
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++, day++) {
    int y = 0, m = 0, date = 0, weekday = 0, month_before = 0, unused = 0;
    steading_date_of_day(day, &y, &m, &date);
    if (m == 2 && date == 29) {
      day++;
      steading_date_of_day(day, &y, &m, &date);
    }
    if (d % 7 == 0 && zone != NULL) { /* no zone changes twice within a week */
      ahead = ahead_s(zone, day * 86400, offset_s);
      ahead_after = ahead_s(zone, (day + 8) * 86400, offset_s);
    }
    weekday = steading_weekday(day);
    steading_date_of_day(day - 1, &unused, &month_before, &unused);
    for (int h = 0; h < 24; h++) {
      int64_t standard_s = day * 86400 + h * 3600;
      int32_t now = ahead != ahead_after ? ahead_s(zone, standard_s, offset_s) : ahead;
      if (now == 0)
        hours[d * 24 + h] = (steading_civil_hour){.month = (uint8_t)m,
                                                  .weekday = (uint8_t)weekday,
                                                  .hour = (uint8_t)h,
                                                  .month_before = (uint8_t)month_before,
                                                  .standard_month = (uint8_t)m};
      else
        set_hour(standard_s + now, m, &hours[d * 24 + h]);
    }
  }
}
