/* A weather in shorter steps. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "climates.h"
#include "resource/clear_sky.h"
#include "resource/refine.h"
#include "suites.h"

static steading_weather *refined(const steading_weather *from, int step, uint64_t seed) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_status status = steading_weather_refine(from, step, seed, &weather, &error);
  ck_assert_msg(status == STEADING_OK, "%s: %s", error.path, error.text);
  return weather;
}

/* Haurwitz and Skartveit and Olseth by hand (both from memory): the sun in the zenith and at 30
 * degrees; half of the cloudless light beside equal hours, and beside hours that differ by 0.2. */
START_TEST(the_formulas_are_the_published_ones) {
  ck_assert_double_eq_tol(steading_clear_haurwitz_w_per_m2(1), 1037.2, 0.1);
  ck_assert_double_eq_tol(steading_clear_haurwitz_w_per_m2(0.5), 489.9, 0.1);
  ck_assert_double_eq_tol(steading_spread_within(0.5, 0), 0.10875, 1e-9);
  ck_assert_double_eq_tol(steading_spread_within(0.5, 0.2), 0.10875 + 0.39 * 0.70710678 * 0.2,
                          1e-8);
  ck_assert_double_eq(steading_spread_within(1.2, 0), 0);
  ck_assert_double_eq(steading_spread_within(0, 0.3), 0);
}
END_TEST

/* From the matrix of correlations of sixty minutes, element by element. */
START_TEST(noise_of_minutes_gives_five_minutes_their_spread) {
  double of_hour = 0, of_five = 0;
  for (int i = 0; i < 60; i++)
    for (int j = 0; j < 60; j++) {
      double c = exp(-abs(i - j) / 10.0);
      of_hour += c / 3600;
      if (i < 5 && j < 5) of_five += c / 25;
    }
  ck_assert_double_eq_tol(steading_minute_spread(), 1 / sqrt(of_five - of_hour), 1e-9);
}
END_TEST

/* Every promise of the header, for a weather of hours. */
static void check_parts(const steading_weather *from, int step) {
  steading_weather *to = refined(from, step, 3);
  size_t parts = (size_t)(from->step_minutes / step);
  ck_assert_int_eq(to->step_minutes, step);
  ck_assert_uint_eq(to->steps, from->steps * parts);
  for (size_t i = 0; i < from->steps; i++) {
    double ghi = 0, dhi = 0, temp = 0, wind = 0;
    for (size_t j = i * parts; j < (i + 1) * parts; j++) {
      const steading_sun_step *sun = &to->sun[j % to->steps_per_year];
      double outside = sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
      ghi += to->ghi_w_per_m2[j] / (double)parts;
      dhi += to->dhi_w_per_m2[j] / (double)parts;
      temp += to->temp_c[j] / (double)parts;
      if (to->wind_m_per_s != NULL) {
        wind += to->wind_m_per_s[j] / (double)parts;
        ck_assert_double_ge(to->wind_m_per_s[j], 0);
      }
      if (!(to->ghi_w_per_m2[j] >= 0 && to->dhi_w_per_m2[j] >= 0 && to->dni_w_per_m2[j] >= 0 &&
            to->dhi_w_per_m2[j] <= to->ghi_w_per_m2[j]) ||
          (outside <= 0 && to->ghi_w_per_m2[j] > 0) || to->ghi_w_per_m2[j] > outside * (1 + 1e-9) ||
          fabs(to->dhi_w_per_m2[j] + to->dni_w_per_m2[j] * sun->up - to->ghi_w_per_m2[j]) > 1e-9)
        ck_abort_msg("step %zu: ghi %g dhi %g dni %g outside %g", j, to->ghi_w_per_m2[j],
                     to->dhi_w_per_m2[j], to->dni_w_per_m2[j], outside);
    }
    ck_assert_double_eq_tol(ghi, from->ghi_w_per_m2[i], 1e-9);
    ck_assert_double_eq_tol(dhi, from->dhi_w_per_m2[i], 1e-9);
    ck_assert_double_eq_tol(temp, from->temp_c[i], 1e-9);
    if (from->wind_m_per_s != NULL) ck_assert_double_eq_tol(wind, from->wind_m_per_s[i], 1e-9);
  }
  steading_weather_release(to);
}

START_TEST(the_means_of_coarse_steps_come_back) {
  static const int steps[] = {30, 15, 10, 5, 1};
  steading_climate climate = golden(2, 8);
  steading_weather *weather = NULL, *half = NULL;
  climate.has_wind = true;
  for (int m = 0; m < 12; m++) climate.wind_m_per_s[m] = m % 4;
  weather = made(&climate);
  check_parts(weather, steps[_i]);
  if (_i == 2 || _i == 3) { /* an odd number of parts: 30 to 10, 15 to 5 */
    half = refined(weather, _i == 2 ? 30 : 15, 4);
    check_parts(half, steps[_i]);
    steading_weather_release(half);
  }
  steading_weather_release(weather);
}
END_TEST

/* Hours of 0.6 of a cloudless sky, all year: no differences between hours. Light in five minutes
 * then spreads, about the mean of its hour, by 0.87 0.6^2 0.4 = 0.1253 of the cloudless sky. The
 * correlation of neighbours within an hour, about the hour's mean, from the matrix of correlations
 * of sixty minutes. Three thousand hours of
 * twelve values, correlated over some 20 minutes: 3 % are four standard errors. */
START_TEST(light_within_an_hour_spreads_as_published) {
  const steading_place place = {10, 0, 0, 0};
  steading_weather *from = steading_weather_new(&place, 1, 60, "made");
  steading_weather *fine = steading_weather_new(&place, 1, 5, "made"), *to = NULL;
  double squares = 0, products = 0, expected = 0, of_pairs = 0, n = 0, pairs = 0, mean_r[12][12];
  for (size_t i = 0; i < fine->steps; i++)
    if (fine->sun[i].up > 0)
      from->ghi_w_per_m2[i / 12] +=
          0.6 / 12 * steading_clear_haurwitz_w_per_m2(fine->sun[i].up) * fine->sun[i].lit_share;
  to = refined(from, 5, 12);
  for (size_t hour = 0; hour < from->steps; hour++) {
    double k[12], mean = 0;
    if (from->sun[hour].up < 0.3) continue; /* whole hours of sun, far from the horizon */
    for (size_t j = 0; j < 12; j++) {
      size_t i = hour * 12 + j;
      k[j] = to->ghi_w_per_m2[i] / steading_clear_haurwitz_w_per_m2(to->sun[i].up);
      mean += k[j] / 12;
    }
    for (int j = 0; j < 12; j++) {
      squares += (k[j] - mean) * (k[j] - mean);
      n++;
      if (j > 0) {
        products += (k[j] - mean) * (k[j - 1] - mean);
        pairs++;
      }
    }
  }
  ck_assert_double_gt(n, 30000);
  ck_assert_double_eq_tol(sqrt(squares / n), 0.87 * 0.36 * 0.4, 0.03 * 0.1253);
  for (int i = 0; i < 12; i++)
    for (int j = 0; j < 12; j++) {
      mean_r[i][j] = 0;
      for (int a = 0; a < 25; a++)
        mean_r[i][j] += exp(-abs(i * 5 + a / 5 - j * 5 - a % 5) / 10.0) / 25;
    }
  for (int i = 0; i < 12; i++) /* (x_i - m)(x_j - m), j = i or i - 1 */
    for (int j = i; j >= 0 && j >= i - 1; j--) {
      double own = mean_r[i][j];
      for (int a = 0; a < 12; a++) {
        own -= mean_r[i][a] / 12 + mean_r[j][a] / 12;
        for (int b = 0; b < 12; b++) own += mean_r[a][b] / 144;
      }
      if (i == j)
        expected += own / 12;
      else
        of_pairs += own / 11;
    }
  ck_assert_double_eq_tol(products / pairs / (squares / n), of_pairs / expected, 0.03);
  steading_weather_release(from);
  steading_weather_release(fine);
  steading_weather_release(to);
}
END_TEST

/* No step is brighter than the edge of a cloud makes it, when the hour leaves room (a low sun
 * through haze is less than the formula of the cloudless sky, or more). Ramps: from one five
 * minutes to the next light changes more than in a line through the hours. */
START_TEST(light_changes_between_short_steps_but_not_without_limit) {
  steading_climate climate = golden(1, 2);
  steading_weather *from = made(&climate), *to = refined(from, 5, 1);
  double ramps = 0, lines = 0, room = 0;
  size_t checked = 0, above = 0;
  for (size_t i = 12; i + 12 < to->steps; i++) {
    double most = 0;
    if (i % 12 == 0) {
      room = 0;
      for (size_t j = i; j < i + 12; j++)
        if (to->sun[j].up > 0)
          room += STEADING_CLOUD_EDGE / 12 * steading_clear_haurwitz_w_per_m2(to->sun[j].up) *
                  to->sun[j].lit_share;
    }
    if (to->sun[i].up > 0)
      most = STEADING_CLOUD_EDGE * steading_clear_haurwitz_w_per_m2(to->sun[i].up) *
             to->sun[i].lit_share;
    if (room > 0 && from->ghi_w_per_m2[i / 12] < 0.99 * room) {
      checked++;
      above += to->ghi_w_per_m2[i] > 0.8 * most;
      ck_assert_double_le(to->ghi_w_per_m2[i], most * (1 + 1e-9));
    }
    if (to->sun[i].up < 0.3) continue;
    ramps += fabs(to->ghi_w_per_m2[i] - to->ghi_w_per_m2[i - 1]);
    lines += fabs(from->ghi_w_per_m2[i / 12 + 1] - from->ghi_w_per_m2[i / 12 - 1]) / 24;
  }
  ck_assert_uint_gt(checked, 45000); /* most of the year's 4380 h with sun */
  ck_assert_uint_gt(above, 1000);    /* and some are above the cloudless sky */
  ck_assert_double_gt(ramps, 3 * lines);
  steading_weather_release(from);
  steading_weather_release(to);
}
END_TEST

START_TEST(the_same_seed_gives_the_same_bytes_and_another_does_not) {
  steading_climate climate = golden(2, 2);
  steading_weather *from = made(&climate), *longer = NULL;
  steading_weather *one = refined(from, 10, 7), *again = refined(from, 10, 7);
  steading_weather *other = refined(from, 10, 8), *more = NULL;
  size_t bytes = one->steps * sizeof(double);
  climate.years = 3;
  longer = made(&climate);
  more = refined(longer, 10, 7);
  ck_assert_int_eq(memcmp(one->ghi_w_per_m2, again->ghi_w_per_m2, bytes), 0);
  ck_assert_int_eq(memcmp(one->dhi_w_per_m2, again->dhi_w_per_m2, bytes), 0);
  ck_assert_int_ne(memcmp(one->ghi_w_per_m2, other->ghi_w_per_m2, bytes), 0);
  ck_assert_int_eq(memcmp(one->ghi_w_per_m2, more->ghi_w_per_m2, bytes), 0);
  ck_assert_str_eq(one->notes[0], from->notes[0]);
  ck_assert_uint_eq(one->note_count, from->note_count + 1);
  ck_assert_str_eq(one->sha256, "");
  steading_weather_release(from);
  steading_weather_release(longer);
  steading_weather_release(one);
  steading_weather_release(again);
  steading_weather_release(other);
  steading_weather_release(more);
}
END_TEST

/* Light that a file has while the sun is down stays where it is, so that the energy is kept. */
START_TEST(light_without_sun_is_held) {
  const steading_place place = {40, 0, 0, 0};
  steading_weather *from = steading_weather_new(&place, 1, 60, "made"), *to = NULL;
  from->ghi_w_per_m2[0] = from->dhi_w_per_m2[0] = 3;
  from->ghi_w_per_m2[12] = 5000; /* more than there is: still kept */
  to = refined(from, 15, 1);
  for (size_t i = 0; i < 4; i++) {
    ck_assert_double_eq(to->ghi_w_per_m2[i], 3);
    ck_assert_double_eq(to->dhi_w_per_m2[i], 3);
    ck_assert_double_eq(to->dni_w_per_m2[i], 0);
  }
  ck_assert_double_eq_tol(
      to->ghi_w_per_m2[48] + to->ghi_w_per_m2[49] + to->ghi_w_per_m2[50] + to->ghi_w_per_m2[51],
      20000, 1e-9);
  ck_assert_ptr_null(to->wind_m_per_s);
  steading_weather_release(from);
  steading_weather_release(to);
}
END_TEST

START_TEST(steps_that_do_not_fit_are_refused) {
  static const int pairs[][2] = {{60, 60}, {15, 30}, {15, 10}, {60, 20}, {60, 0}, {1, 1}};
  const steading_place place = {40, 0, 0, 0};
  for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
    steading_weather *from = steading_weather_new(&place, 1, pairs[i][0], "made");
    steading_weather *to = (steading_weather *)1;
    steading_error error = {0};
    ck_assert_int_eq(steading_weather_refine(from, pairs[i][1], 1, &to, &error),
                     STEADING_BAD_INPUT);
    ck_assert_ptr_null(to);
    ck_assert_str_eq(error.path, "step_minutes");
    ck_assert_ptr_nonnull(strstr(error.text, "that divides the weather's"));
    steading_weather_release(from);
  }
}
END_TEST

Suite *refine_suite(void) {
  Suite *suite = suite_create("resource/refine");
  TCase *tcase = tcase_create("refine");
  tcase_add_test(tcase, the_formulas_are_the_published_ones);
  tcase_add_test(tcase, noise_of_minutes_gives_five_minutes_their_spread);
  tcase_add_loop_test(tcase, the_means_of_coarse_steps_come_back, 0, 5);
  tcase_add_test(tcase, light_within_an_hour_spreads_as_published);
  tcase_add_test(tcase, light_changes_between_short_steps_but_not_without_limit);
  tcase_add_test(tcase, the_same_seed_gives_the_same_bytes_and_another_does_not);
  tcase_add_test(tcase, light_without_sun_is_held);
  tcase_add_test(tcase, steps_that_do_not_fit_are_refused);
  suite_add_tcase(suite, tcase);
  return suite;
}
