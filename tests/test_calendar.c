#include <check.h>
#include <string.h>
#include <time.h>

#include "calendar.h"
#include "suites.h"

/* Facts about dates, from memory: 1970-01-01 was a Thursday (POSIX), 2000-01-01 a Saturday,
 * 1900-01-01 a Monday; Unix day numbers 0, 10957, -25567. */
START_TEST(days_are_counted_from_1970) {
  ck_assert_int_eq(steading_day_number(1970, 1, 1), 0);
  ck_assert_int_eq(steading_day_number(2000, 1, 1), 10957);
  ck_assert_int_eq(steading_day_number(1900, 1, 1), -25567);
  ck_assert_int_eq(steading_day_number(1969, 12, 31), -1);
}
END_TEST

START_TEST(weekdays_begin_with_monday) {
  ck_assert_int_eq(steading_weekday(steading_day_number(1970, 1, 1)), 3);
  ck_assert_int_eq(steading_weekday(steading_day_number(2000, 1, 1)), 5);
  ck_assert_int_eq(steading_weekday(steading_day_number(1900, 1, 1)), 0);
  ck_assert_int_eq(steading_weekday(-4), 6); /* 1969-12-28, the Sunday before that Thursday */
}
END_TEST

/* Independent calculation: the C library's timegm, every day of four centuries. */
START_TEST(every_day_of_four_centuries_agrees_with_the_c_library) {
  for (int64_t day = steading_day_number(1800, 1, 1); day < steading_day_number(2200, 1, 1);
       day++) {
    time_t instant = (time_t)day * 86400;
    struct tm date;
    int year = 0, month = 0, day_of_month = 0;
    ck_assert_ptr_nonnull(gmtime_r(&instant, &date));
    steading_date_of_day(day, &year, &month, &day_of_month);
    if (year != date.tm_year + 1900 || month != date.tm_mon + 1 || day_of_month != date.tm_mday ||
        steading_weekday(day) != (date.tm_wday + 6) % 7 ||
        steading_day_number(year, month, day_of_month) != day) {
      ck_abort_msg("day %lld is %d-%d-%d by the C library, found %d-%d-%d", (long long)day,
                   date.tm_year + 1900, date.tm_mon + 1, date.tm_mday, year, month, day_of_month);
    }
  }
}
END_TEST

/* Gregorian rule: a year divisible by 4 is leap, by 100 is not, by 400 is. */
START_TEST(only_dates_of_the_calendar_exist) {
  ck_assert(steading_date_exists(2028, 2, 29));
  ck_assert(steading_date_exists(2000, 2, 29));
  ck_assert(!steading_date_exists(2100, 2, 29));
  ck_assert(!steading_date_exists(2027, 2, 29));
  ck_assert(!steading_date_exists(2027, 4, 31));
  ck_assert(!steading_date_exists(2027, 13, 1));
  ck_assert(!steading_date_exists(2027, 0, 1));
  ck_assert(!steading_date_exists(2027, 1, 0));
  ck_assert(!steading_date_exists(2027, 1, 32));
  ck_assert(steading_date_exists(2027, 12, 31));
}
END_TEST

START_TEST(a_day_that_does_not_exist_counts_on) {
  ck_assert_int_eq(steading_day_number(2027, 2, 30), steading_day_number(2027, 3, 2));
}
END_TEST

START_TEST(months_of_a_year_of_365_days_follow_each_other) {
  static const int lengths[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  int day_of_year = 0;
  for (int m = 1; m <= 12; m++) {
    ck_assert_int_eq(steading_days_before_month[m - 1], day_of_year);
    for (int d = 1; d <= lengths[m - 1]; d++, day_of_year++) {
      int month = 0, day = 0;
      steading_month_of_day(day_of_year, &month, &day);
      ck_assert_int_eq(month, m);
      ck_assert_int_eq(day, d);
    }
  }
  ck_assert_int_eq(day_of_year, STEADING_DAYS_PER_YEAR);
  ck_assert_int_eq(steading_days_before_month[12], 365);
}
END_TEST

/* Walked day by day, without 29 February, over two centuries with leap years; 29 February counts as
 * the 28th. */
START_TEST(days_between_dates_leave_out_29_february) {
  int64_t from = steading_day_number(1999, 7, 1), day = from, walked = 0;
  for (; day < steading_day_number(2110, 1, 1); day++) {
    int year = 0, month = 0, date = 0;
    steading_date_of_day(day, &year, &month, &date);
    if (month == 2 && date == 29) walked--;
    ck_assert_int_eq(steading_days_between(from, day), walked);
    ck_assert_int_eq(steading_days_between(day, from), -walked);
    if (month == 7 && date == 1)
      ck_assert_double_eq(steading_years_between(from, day), year - 1999);
    walked++;
  }
}
END_TEST

Suite *calendar_suite(void) {
  Suite *suite = suite_create("calendar");
  TCase *tcase = tcase_create("calendar");
  tcase_add_test(tcase, days_are_counted_from_1970);
  tcase_add_test(tcase, weekdays_begin_with_monday);
  tcase_add_test(tcase, every_day_of_four_centuries_agrees_with_the_c_library);
  tcase_add_test(tcase, only_dates_of_the_calendar_exist);
  tcase_add_test(tcase, a_day_that_does_not_exist_counts_on);
  tcase_add_test(tcase, months_of_a_year_of_365_days_follow_each_other);
  tcase_add_test(tcase, days_between_dates_leave_out_29_february);
  suite_add_tcase(suite, tcase);
  return suite;
}
