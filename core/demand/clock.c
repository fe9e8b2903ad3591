#include "demand/clock.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "calendar.h"

/* Seconds that civil time is ahead of the run's standard time at an instant of standard time. */
static int32_t ahead_s(const steading_zone *zone, int64_t standard_s, int64_t offset_s) {
  return (int32_t)(steading_zone_offset_s(zone, standard_s - offset_s) - offset_s);
}

/* The day before a day, over the 29 February that a run does not have. */
static void set_day_before(int64_t day, steading_civil_step *out) {
  int year = 0, month = 0, date = 0;
  steading_date_of_day(day - 1, &year, &month, &date);
  if (month == 2 && date == 29) date = 28;
  out->month_before = (uint8_t)month;
  out->day_before = (uint8_t)date;
}

static void set_day(int64_t day, int standard_month, steading_civil_step *out) {
  int year = 0, month = 0, date = 0;
  steading_date_of_day(day, &year, &month, &date);
  out->month = (uint8_t)month;
  out->day = (uint8_t)date;
  out->weekday = (uint8_t)steading_weekday(day);
  set_day_before(day, out);
  out->standard_month = (uint8_t)standard_month;
  out->next_month = 0;
  if (month != standard_month) out->next_month = month == standard_month % 12 + 1 ? 1 : -1;
}

/* The civil day that was asked for last: most steps lie on the same one as the step before. */
typedef struct known_day {
  int64_t day; /* as civil time counts */
  int standard_month;
  steading_civil_step early, late; /* before and after its noon: they differ on 29 February */
} known_day;

static void set_step(int64_t civil_s, int standard_month, int step_minutes, known_day *known,
                     steading_civil_step *out) {
  int64_t day = civil_s >= 0 ? civil_s / 86400 : -((86399 - civil_s) / 86400);
  int64_t minute = (civil_s - day * 86400) / 60;
  if (known->day != day || known->standard_month != standard_month) {
    int year = 0, month = 0, date = 0;
    bool leap = false;
    steading_date_of_day(day, &year, &month, &date);
    leap = month == 2 && date == 29; /* the day that a run does not have: its neighbour goes on */
    known->day = day;
    known->standard_month = standard_month;
    set_day(leap ? day + 1 : day, standard_month, &known->early);
    set_day(leap ? day - 1 : day, standard_month, &known->late);
  }
  *out = minute < 720 ? known->early : known->late;
  out->minute = (uint16_t)(minute - minute % step_minutes);
}

void steading_clock_year(int year, int month, const steading_zone *zone, double utc_offset_h,
                         int step_minutes, steading_civil_step *steps) {
  int64_t offset_s = llround(utc_offset_h * 3600);
  int64_t day = steading_day_number(year, month, 1);
  int a_day = 1440 / step_minutes;
  int32_t ahead = 0, ahead_after = 0;
  known_day known = {.standard_month = 0};
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++, day++) {
    int y = 0, m = 0, date = 0;
    steading_civil_step of_day = {.minute = 0};
    steading_date_of_day(day, &y, &m, &date);
    if (m == 2 && date == 29) {
      day++;
      steading_date_of_day(day, &y, &m, &date);
    }
    if (d % 7 == 0 && zone != NULL) { /* no zone changes twice within a week */
      ahead = ahead_s(zone, day * 86400, offset_s);
      ahead_after = ahead_s(zone, (day + 8) * 86400, offset_s);
    }
    set_day(day, m, &of_day);
    for (int i = 0; i < a_day; i++) {
      int64_t standard_s = day * 86400 + i * step_minutes * 60;
      int32_t now = ahead;
      if (ahead != ahead_after) /* at the middle of the step */
        now = ahead_s(zone, standard_s + step_minutes * 30, offset_s);
      if (now == 0) {
        steps[d * a_day + i] = of_day;
        steps[d * a_day + i].minute = (uint16_t)(i * step_minutes);
      } else {
        set_step(standard_s + now, m, step_minutes, &known, &steps[d * a_day + i]);
      }
    }
  }
}
