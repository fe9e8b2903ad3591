/* Months of a weather: their sums, weathers made of them, the typical year, several files. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/months.h"
#include "suites.h"

static const steading_place place = {.latitude_deg = 35, .longitude_deg = -105, .utc_offset_h = -7};

/* Every day of month m of year y has level[y][m] W/m2 at noon (12 to 13 h) and the temperature. */
static steading_weather *of_levels(size_t years, int step_minutes, double light[][12],
                                   double temp[][12]) {
  steading_weather *weather = steading_weather_new(&place, years, step_minutes, "made");
  size_t a_day = weather->steps_per_year / 365, an_hour = a_day / 24;
  ck_assert_ptr_nonnull(weather);
  for (size_t i = 0; i < weather->steps; i++) {
    size_t year = i / weather->steps_per_year, at = i % weather->steps_per_year;
    int month = 0, day = 0;
    steading_month_of_day((int)(at / a_day), &month, &day);
    weather->temp_c[i] = temp[year][month - 1];
    if (at % a_day / an_hour == 12) weather->ghi_w_per_m2[i] = light[year][month - 1];
    weather->dhi_w_per_m2[i] = weather->ghi_w_per_m2[i] / 4;
    weather->dni_w_per_m2[i] = weather->ghi_w_per_m2[i] * 2;
  }
  return weather;
}

static void fill(double level[12], double value) {
  for (int m = 0; m < 12; m++) level[m] = value;
}

/* 500 W/m2 for one hour a day: 15.5 kWh/m2 in 31 days, 14 in 28, whatever the step. */
START_TEST(a_month_has_the_sums_by_hand) {
  double light[2][12], temp[2][12];
  fill(light[0], 400);
  fill(light[1], 500);
  fill(temp[0], 1);
  fill(temp[1], -3);
  for (int step = 60; step >= 15; step /= 2) {
    steading_weather *weather = of_levels(2, step, light, temp);
    steading_weather_month january, february;
    weather->temp_c[weather->steps_per_year + 3] = -40;
    weather->temp_c[weather->steps_per_year + 4] = 34;
    january = steading_weather_month_of(weather, 1, 0);
    february = steading_weather_month_of(weather, 1, 1);
    ck_assert_double_eq_tol(january.ghi_kwh_per_m2, 15.5, 1e-9);
    ck_assert_double_eq_tol(january.dni_kwh_per_m2, 31, 1e-9);
    ck_assert_double_eq_tol(january.dhi_kwh_per_m2, 3.875, 1e-9);
    ck_assert_double_eq_tol(january.temp_mean_c, -3, 1e-9); /* -37 and +37 */
    ck_assert_double_eq(january.temp_lowest_c, -40);
    ck_assert_double_eq(january.temp_highest_c, 34);
    ck_assert_double_eq_tol(february.ghi_kwh_per_m2, 14, 1e-9);
    ck_assert_double_eq_tol(steading_weather_month_of(weather, 0, 11).ghi_kwh_per_m2, 12.4, 1e-9);
    steading_weather_release(weather);
  }
}
END_TEST

START_TEST(a_weather_of_months_has_their_steps) {
  double light[3][12], temp[3][12];
  size_t years_of[12] = {2, 1, 0, 2, 1, 0, 2, 1, 0, 2, 1, 0};
  steading_weather *from = NULL, *made = NULL;
  for (int y = 0; y < 3; y++)
    for (int m = 0; m < 12; m++) {
      light[y][m] = 100 * (y + 1) + m;
      temp[y][m] = 10 * y - m;
    }
  from = of_levels(3, 30, light, temp);
  strcpy(from->time_zone, "America/Denver");
  ck_assert_int_eq(steading_weather_note(from, "a note"), STEADING_OK);
  made = steading_weather_of_months(from, years_of);
  ck_assert_ptr_nonnull(made);
  ck_assert_uint_eq(made->years, 1);
  ck_assert_int_eq(made->step_minutes, 30);
  ck_assert_str_eq(made->time_zone, "America/Denver");
  ck_assert_str_eq(made->notes[0], "a note");
  for (size_t i = 0; i < made->steps; i++) {
    int month = 0, day = 0;
    size_t at = 0;
    steading_month_of_day((int)(i / 48), &month, &day);
    at = years_of[month - 1] * from->steps_per_year + i;
    ck_assert_double_eq(made->ghi_w_per_m2[i], from->ghi_w_per_m2[at]);
    ck_assert_double_eq(made->dhi_w_per_m2[i], from->dhi_w_per_m2[at]);
    ck_assert_double_eq(made->dni_w_per_m2[i], from->dni_w_per_m2[at]);
    ck_assert_double_eq(made->temp_c[i], from->temp_c[at]);
  }
  ck_assert_int_eq(memcmp(made->sun, from->sun, made->steps_per_year * sizeof *made->sun), 0);
  steading_weather_release(made);
  steading_weather_release(from);
}
END_TEST

/* Days of three years that are alike within a year: the middle one is the typical one, in light as
 * in temperature. By hand: the year in the middle has half of all days below or half equal, as its
 * own; the outer ones 1/6 or 5/6. Where light and temperature disagree both count alike: distances
 * 1/3 + 0, 0 + 1/3 and 1/3 + 1/3. */
START_TEST(the_typical_month_is_the_one_in_the_middle) {
  double light[3][12], temp[3][12];
  size_t years_of[12];
  steading_weather *weather = NULL;
  static const double three[3] = {300, 500, 400};
  for (int y = 0; y < 3; y++) {
    fill(light[y], 400);
    fill(temp[y], 10);
    for (int m = 0; m < 6; m++) light[y][m] = three[(y + m) % 3];
    for (int m = 6; m < 12; m++) temp[y][m] = three[(y + m) % 3] / 20;
  }
  weather = of_levels(3, 60, light, temp);
  ck_assert_int_eq(steading_weather_typical(weather, years_of), STEADING_OK);
  for (int m = 0; m < 12; m++) ck_assert_int_eq((int)(years_of[m] + (size_t)m) % 3, 2);
  steading_weather_release(weather);
  for (int y = 0; y < 3; y++) { /* light: 0 in the middle; temperature: 1 in the middle */
    static const double in_light[3] = {400, 300, 500}, in_temp[3] = {30, 20, 10};
    fill(light[y], in_light[y]);
    fill(temp[y], in_temp[y]);
  }
  weather = of_levels(3, 60, light, temp);
  ck_assert_int_eq(steading_weather_typical(weather, years_of), STEADING_OK);
  for (int m = 0; m < 12; m++) ck_assert_uint_le(years_of[m], 1); /* never the third */
  steading_weather_release(weather);
}
END_TEST

/* Of many years the months of the typical one miss the mean of all years by less than half the
 * years' spread, on the average over the months; years taken by chance miss it by 0.8 of it (the
 * mean distance of a normal distribution, square root of 2 / pi). */
START_TEST(a_typical_year_has_typical_months) {
  const steading_climate climate = {
      .place = place,
      .ghi_kwh_per_m2_day = {3, 4, 5, 6, 7, 7, 7, 7, 6, 5, 3, 3},
      .temp_range_c = {14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 14},
      .years = 20,
      .seed = 3};
  steading_weather *weather = NULL;
  size_t years_of[12];
  double miss = 0, spread = 0;
  ck_assert_int_eq(steading_weather_synthesize(&climate, &weather, NULL), STEADING_OK);
  ck_assert_int_eq(steading_weather_typical(weather, years_of), STEADING_OK);
  for (int m = 0; m < 12; m++) {
    double mean = 0, square = 0,
           own = steading_weather_month_of(weather, years_of[m], m).ghi_kwh_per_m2;
    for (size_t y = 0; y < 20; y++) {
      double value = steading_weather_month_of(weather, y, m).ghi_kwh_per_m2;
      mean += value / 20;
      square += value * value / 20;
    }
    miss += fabs(own - mean) / 12;
    spread += sqrt(square - mean * mean) / 12;
  }
  ck_assert_double_lt(miss, 0.5 * spread);
  steading_weather_release(weather);
}
END_TEST

START_TEST(years_of_several_files_follow_each_other) {
  double light[2][12], temp[2][12];
  steading_weather *parts[2], *joined = NULL;
  const char *const names[2] = {"a.epw", "b.epw"};
  steading_error error = {0};
  fill(light[0], 300);
  fill(light[1], 600);
  fill(temp[0], 1);
  fill(temp[1], 2);
  parts[0] = of_levels(2, 60, light, temp);
  parts[1] = of_levels(1, 60, light + 1, temp + 1);
  ck_assert_int_eq(steading_weather_note(parts[1], "odd"), STEADING_OK);
  ck_assert_int_eq(steading_weather_join(parts, names, 2, &joined, &error), STEADING_OK);
  ck_assert_uint_eq(joined->years, 3);
  ck_assert_double_eq_tol(steading_weather_month_of(joined, 1, 0).ghi_kwh_per_m2, 18.6, 1e-9);
  ck_assert_double_eq_tol(steading_weather_month_of(joined, 2, 0).ghi_kwh_per_m2, 18.6, 1e-9);
  ck_assert_double_eq_tol(steading_weather_month_of(joined, 0, 0).ghi_kwh_per_m2, 9.3, 1e-9);
  ck_assert_str_eq(joined->notes[0], "b.epw: odd");
  steading_weather_release(joined);
  parts[1]->place.longitude_deg += 0.06;
  ck_assert_int_eq(steading_weather_join(parts, names, 2, &joined, &error), STEADING_BAD_INPUT);
  ck_assert_ptr_null(joined);
  ck_assert_str_eq(error.path, "b.epw");
  parts[1]->place = place;
  parts[1]->place.utc_offset_h = -6;
  ck_assert_int_eq(steading_weather_join(parts, names, 2, &joined, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.text, "its standard time is -6 h from UT, that of the first file -7 h");
  steading_weather_release(parts[1]);
  parts[1] = of_levels(1, 15, light, temp);
  ck_assert_int_eq(steading_weather_join(parts, names, 2, &joined, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.text, "has steps of 15 min, the first file of 60 min");
  for (int i = 0; i < 2; i++) steading_weather_release(parts[i]);
}
END_TEST

/* By hand: two years of days with 0.6 of what is outside; the last three days of the first year and
 * the first two of the second have 0.1, and so has a day in June. The months' means fall to at
 * least 0.6 less 0.5 3 / 62, half of which is above 0.1. With half steps it is the same run. */
START_TEST(the_longest_run_of_dull_days_goes_on_into_the_next_year) {
  for (int step = 60; step >= 30; step -= 30) {
    steading_weather *weather = steading_weather_new(&place, 2, step, "made");
    size_t a_day = weather->steps_per_year / 365;
    steading_dull_run run;
    for (size_t i = 0; i < weather->steps; i++) {
      const steading_sun_step *sun = &weather->sun[i % weather->steps_per_year];
      size_t day = i / a_day;
      bool dull = (day >= 362 && day < 367) || day == 160;
      weather->ghi_w_per_m2[i] =
          (dull ? 0.1 : 0.6) * sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
    }
    run = steading_weather_dull_run(weather);
    ck_assert_uint_eq(run.days, 5);
    ck_assert_uint_eq(run.first_day, 362);
    memset(weather->ghi_w_per_m2, 0, weather->steps * sizeof(double));
    ck_assert_uint_eq(steading_weather_dull_run(weather).days, 0); /* all alike: none is dull */
    steading_weather_release(weather);
  }
}
END_TEST

/* Wind goes where the rest goes; what is joined has it or not. */
START_TEST(wind_is_carried_along) {
  double light[2][12], temp[2][12];
  const size_t second[12] = {1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1};
  steading_weather *weather = NULL, *year = NULL, *joined = NULL, *parts[2];
  const char *const names[2] = {"a.csv", "b.csv"};
  steading_error error = {0};
  for (int y = 0; y < 2; y++) {
    fill(light[y], 400);
    fill(temp[y], 10);
  }
  weather = of_levels(2, 60, light, temp);
  ck_assert_double_eq(steading_weather_month_of(weather, 1, 4).wind_mean_m_per_s, 0);
  ck_assert_int_eq(steading_weather_add_wind(weather), STEADING_OK);
  for (size_t i = 0; i < weather->steps; i++) weather->wind_m_per_s[i] = (double)(i / 8760) + 3;
  ck_assert_double_eq_tol(steading_weather_month_of(weather, 1, 4).wind_mean_m_per_s, 4, 1e-12);
  year = steading_weather_of_months(weather, second);
  ck_assert_ptr_nonnull(year->wind_m_per_s);
  for (size_t i = 0; i < year->steps; i++) ck_assert_double_eq(year->wind_m_per_s[i], 4);
  parts[0] = year;
  parts[1] = weather;
  ck_assert_int_eq(steading_weather_join(parts, names, 2, &joined, &error), STEADING_OK);
  ck_assert_double_eq(joined->wind_m_per_s[8759], 4);
  ck_assert_double_eq(joined->wind_m_per_s[8760], 3);
  steading_weather_release(joined);
  parts[1] = of_levels(1, 60, light, temp);
  ck_assert_int_eq(steading_weather_join(parts, names, 2, &joined, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, "b.csv");
  ck_assert_str_eq(error.text, "has no wind, the first file has it");
  steading_weather_release(parts[1]);
  steading_weather_release(year);
  steading_weather_release(weather);
}
END_TEST

Suite *months_suite(void) {
  Suite *suite = suite_create("resource/months");
  TCase *tcase = tcase_create("months");
  tcase_add_test(tcase, a_month_has_the_sums_by_hand);
  tcase_add_test(tcase, a_weather_of_months_has_their_steps);
  tcase_add_test(tcase, the_typical_month_is_the_one_in_the_middle);
  tcase_add_test(tcase, a_typical_year_has_typical_months);
  tcase_add_test(tcase, years_of_several_files_follow_each_other);
  tcase_add_test(tcase, the_longest_run_of_dull_days_goes_on_into_the_next_year);
  tcase_add_test(tcase, wind_is_carried_along);
  suite_add_tcase(suite, tcase);
  return suite;
}
