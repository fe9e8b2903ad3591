/* Civil time of a run: the days on which clocks change, by the laws of the countries. */
#include <check.h>
#include <stdio.h>

#include "calendar.h"
#include "demand/clock.h"
#include "suites.h"

enum { MOST_DAYS = 400 };

/* Steps in a row that lie on one civil day. */
typedef struct civil_day {
  int first, hours, month, weekday;
} civil_day;

static steading_civil_step hours_of_year[STEADING_HOURS_PER_YEAR];

static int civil_days(const char *zone_name, int year, int month, double utc_offset_h,
                      civil_day *days) {
  steading_zone *zone = NULL;
  steading_error error = {.status = STEADING_OK};
  int count = 0;
  ck_assert_msg(steading_zone_load(zone_name, &zone, &error) == STEADING_OK, "%s", error.text);
  steading_clock_year(year, month, zone, utc_offset_h, 60, hours_of_year);
  steading_zone_free(zone);
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) {
    const steading_civil_step *h = &hours_of_year[i];
    if (i == 0 || h->weekday != hours_of_year[i - 1].weekday) {
      ck_assert_int_lt(count, MOST_DAYS);
      days[count++] = (civil_day){.first = i, .month = h->month, .weekday = h->weekday};
    }
    days[count - 1].hours++;
    ck_assert_int_eq(days[count - 1].month, h->month);
    ck_assert_int_lt(h->minute / 60, 24);
  }
  return count;
}

static int first_of(int year_day) { return year_day * 24; }

/* United States, Energy Policy Act of 2005: second Sunday of March to first Sunday of November, at
 * 2:00. In 2027: 14 March (day 72 of the year, from 0) and 7 November (day 310). */
START_TEST(denver_has_a_day_of_23_and_a_day_of_25_hours_in_2027_and_loses_no_step) {
  civil_day days[MOST_DAYS];
  int count = civil_days("America/Denver", 2027, 1, -7, days);
  ck_assert_int_eq(count, 365);
  for (int d = 0; d < count; d++) {
    ck_assert_int_eq(days[d].hours, d == 72 ? 23 : d == 310 ? 25 : 24);
    ck_assert_int_eq(days[d].weekday, (4 + d) % 7); /* 1 January 2027 is a Friday */
  }
  /* 14 March: 1:00 is followed by 3:00; 7 November: 1:00 stands twice */
  ck_assert_int_eq(hours_of_year[first_of(72) + 1].minute / 60, 1);
  ck_assert_int_eq(hours_of_year[first_of(72) + 2].minute / 60, 3);
  ck_assert_int_eq(hours_of_year[first_of(310) - 1].minute / 60, 0);
  ck_assert_int_eq(hours_of_year[first_of(310)].minute / 60, 1);
  ck_assert_int_eq(hours_of_year[first_of(310) + 1].minute / 60, 1);
  ck_assert_int_eq(hours_of_year[first_of(310) + 2].minute / 60, 2);
}
END_TEST

/* New South Wales, Standard Time Act 1987: first Sunday of October to first Sunday of April, at
 * 2:00 standard. In 2027: 4 April (day 93) and 3 October (day 275). The year of a run begins at
 * 0:00 standard time, which is 1:00 civil time in January: its first civil day has 23 steps and
 * the last step lies on 1 January of the next. */
START_TEST(sydney_has_its_long_day_in_april_and_its_short_one_in_october) {
  civil_day days[MOST_DAYS];
  int count = civil_days("Australia/Sydney", 2027, 1, 10, days);
  ck_assert_int_eq(count, 366);
  for (int d = 0; d < count; d++) {
    int expected = d == 0 ? 23 : d == 93 ? 25 : d == 275 ? 23 : d == 365 ? 1 : 24;
    ck_assert_int_eq(days[d].hours, expected);
    ck_assert_int_eq(days[d].weekday, (4 + d) % 7);
  }
  ck_assert_int_eq(hours_of_year[0].minute / 60, 1);
  ck_assert_int_eq(hours_of_year[STEADING_HOURS_PER_YEAR - 1].minute / 60, 0);
  ck_assert_int_eq(hours_of_year[STEADING_HOURS_PER_YEAR - 1].month, 1);
  ck_assert_int_eq(hours_of_year[STEADING_HOURS_PER_YEAR - 1].standard_month, 12);
  ck_assert_int_eq(hours_of_year[STEADING_HOURS_PER_YEAR - 1].next_month, 1);
}
END_TEST

/* Johannesburg keeps one time, UT + 2, since 1944. */
START_TEST(without_daylight_saving_civil_time_is_standard_time) {
  static steading_civil_step plain[STEADING_HOURS_PER_YEAR];
  civil_day days[MOST_DAYS];
  ck_assert_int_eq(civil_days("Africa/Johannesburg", 2027, 1, 2, days), 365);
  steading_clock_year(2027, 1, NULL, 2, 60, plain);
  ck_assert_mem_eq(plain, hours_of_year, sizeof plain);
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) {
    ck_assert_int_eq(plain[i].minute / 60, i % 24);
    ck_assert_int_eq(plain[i].month, plain[i].standard_month);
  }
}
END_TEST

/* Newfoundland: UT - 3:30, the rule of the United States. */
START_TEST(a_zone_of_half_hours_has_whole_civil_hours) {
  civil_day days[MOST_DAYS];
  int count = civil_days("America/St_Johns", 2027, 1, -3.5, days);
  ck_assert_int_eq(count, 365);
  for (int d = 0; d < count; d++)
    ck_assert_int_eq(days[d].hours, d == 72 ? 23 : d == 310 ? 25 : 24);
}
END_TEST

/* 28 February 2028 is a Monday and 1 March a Wednesday; a run has no day between them. */
START_TEST(in_a_leap_year_1_march_follows_28_february_and_keeps_its_weekday) {
  civil_day days[MOST_DAYS];
  int count = civil_days("America/Denver", 2028, 1, -7, days);
  ck_assert_int_eq(count, 365);
  ck_assert_int_eq(days[0].weekday, 5); /* 1 January 2028 is a Saturday */
  ck_assert_int_eq(days[58].weekday, 0);
  ck_assert_int_eq(days[58].month, 2);
  ck_assert_int_eq(days[59].weekday, 2);
  ck_assert_int_eq(days[59].month, 3);
  ck_assert_int_eq(days[364].weekday, 6); /* 31 December 2028 is a Sunday */
  ck_assert_int_eq(hours_of_year[first_of(59)].month_before, 2);
}
END_TEST

/* In Sydney's summer the hour before 1 March in standard time is the civil 29 February. */
START_TEST(a_civil_29_february_is_counted_as_its_neighbour) {
  civil_day days[MOST_DAYS];
  int count = civil_days("Australia/Sydney", 2028, 1, 10, days);
  ck_assert_int_eq(count, 366);
  for (int d = 1; d < 90; d++) ck_assert_int_eq(days[d].hours, 24);
  ck_assert_int_eq(days[58].month, 2);
  ck_assert_int_eq(days[58].weekday, 0);
  ck_assert_int_eq(days[59].month, 3);
  ck_assert_int_eq(days[59].weekday, 2);
}
END_TEST

START_TEST(a_year_may_begin_in_any_month) {
  static steading_civil_step july[STEADING_HOURS_PER_YEAR];
  steading_clock_year(2027, 7, NULL, 0, 60, july);
  ck_assert_int_eq(july[0].month, 7);
  ck_assert_int_eq(july[0].weekday, 3); /* 1 July 2027 is a Thursday */
  ck_assert_int_eq(july[0].month_before, 6);
  ck_assert_int_eq(july[184 * 24].month, 1);
  ck_assert_int_eq(july[184 * 24].month_before, 12);
  ck_assert_int_eq(july[184 * 24].weekday, 5); /* 1 January 2028 is a Saturday */
  ck_assert_int_eq(july[STEADING_HOURS_PER_YEAR - 1].month, 6);
  ck_assert_int_eq(july[STEADING_HOURS_PER_YEAR - 1].weekday, 4); /* 30 June 2028, a Friday */
}
END_TEST

/* For every year of a long run: each step's civil hour is its standard hour, or one more. */
START_TEST(civil_time_is_never_more_than_an_hour_ahead) {
  steading_zone *zone = NULL;
  ck_assert_int_eq(steading_zone_load("America/Denver", &zone, NULL), STEADING_OK);
  for (int year = 2020; year < 2060; year++) {
    int ahead = 0, broken = 0;
    steading_clock_year(year, 1, zone, -7, 60, hours_of_year);
    for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) {
      int more = (hours_of_year[i].minute / 60 - i % 24 + 24) % 24;
      broken += more > 1;
      ahead += more;
    }
    ck_assert_int_eq(broken, 0);
    /* from 2:00 standard time on the second Sunday of March to 1:00 (2:00 summer time) on the
     * first Sunday of November: 34 weeks less an hour in every year */
    ck_assert_int_eq(ahead, 34 * 7 * 24 - 1);
  }
  steading_zone_free(zone);
}
END_TEST

/* Quarters of 14 March and 7 November 2027 in Denver: after 1:45 comes 3:00, and 1:00 to 1:45 stand
 * twice. Each quarter lies in the civil hour of its hour. */
START_TEST(finer_steps_have_the_minutes_of_their_civil_hour) {
  static steading_civil_step quarters[4 * STEADING_HOURS_PER_YEAR];
  civil_day days[MOST_DAYS];
  steading_zone *zone = NULL;
  civil_days("America/Denver", 2027, 1, -7, days);
  ck_assert_int_eq(steading_zone_load("America/Denver", &zone, NULL), STEADING_OK);
  steading_clock_year(2027, 1, zone, -7, 15, quarters);
  steading_zone_free(zone);
  for (int i = 0; i < 4 * STEADING_HOURS_PER_YEAR; i++) {
    const steading_civil_step *hour = &hours_of_year[i / 4], *q = &quarters[i];
    ck_assert_int_eq(q->minute, hour->minute + i % 4 * 15);
    ck_assert_int_eq(q->month * 100 + q->day, hour->month * 100 + hour->day);
    ck_assert_int_eq(q->weekday, hour->weekday);
  }
  ck_assert_int_eq(quarters[4 * first_of(72) + 7].minute, 105);
  ck_assert_int_eq(quarters[4 * first_of(72) + 8].minute, 180);
  ck_assert_int_eq(quarters[4 * first_of(310) + 3].minute, 105);
  ck_assert_int_eq(quarters[4 * first_of(310) + 4].minute, 60);
}
END_TEST

/* Lord Howe Island goes half an hour ahead of UT + 10:30 (from the first Sunday of October, 3
 * October 2027): exact in half hours; in hours it counts from the last whole one, so that no hour
 * is lost. */
START_TEST(summer_time_of_half_an_hour_is_exact_in_half_hours) {
  static steading_civil_step halves[2 * STEADING_HOURS_PER_YEAR];
  steading_zone *zone = NULL;
  const int day = 275; /* 3 October, from 0 */
  ck_assert_int_eq(steading_zone_load("Australia/Lord_Howe", &zone, NULL), STEADING_OK);
  steading_clock_year(2027, 1, zone, 10.5, 30, halves);
  steading_clock_year(2027, 1, zone, 10.5, 60, hours_of_year);
  steading_zone_free(zone);
  for (int i = 0; i < 48; i++) { /* from 2:00 on it is half an hour ahead */
    int minute = i * 30 + (i >= 4 ? 30 : 0);
    ck_assert_int_eq(halves[2 * first_of(day) + i].minute, minute % 1440);
    ck_assert_int_eq(halves[2 * first_of(day) + i].weekday, minute < 1440 ? 6 : 0);
  }
  for (int i = 0; i < 24; i++) ck_assert_int_eq(hours_of_year[first_of(day) + i].minute, i * 60);
}
END_TEST

Suite *clock_suite(void) {
  Suite *suite = suite_create("clock");
  TCase *tests = tcase_create("clock");
  tcase_add_test(tests, denver_has_a_day_of_23_and_a_day_of_25_hours_in_2027_and_loses_no_step);
  tcase_add_test(tests, sydney_has_its_long_day_in_april_and_its_short_one_in_october);
  tcase_add_test(tests, without_daylight_saving_civil_time_is_standard_time);
  tcase_add_test(tests, a_zone_of_half_hours_has_whole_civil_hours);
  tcase_add_test(tests, in_a_leap_year_1_march_follows_28_february_and_keeps_its_weekday);
  tcase_add_test(tests, a_civil_29_february_is_counted_as_its_neighbour);
  tcase_add_test(tests, a_year_may_begin_in_any_month);
  tcase_add_test(tests, civil_time_is_never_more_than_an_hour_ahead);
  tcase_add_test(tests, finer_steps_have_the_minutes_of_their_civil_hour);
  tcase_add_test(tests, summer_time_of_half_an_hour_is_exact_in_half_hours);
  suite_add_tcase(suite, tests);
  return suite;
}
