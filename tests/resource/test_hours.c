/* Hours of a day of known clearness. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "dice.h"
#include "resource/hours.h"
#include "suites.h"

/* Coefficients of Aguiar and Collares-Pereira 1992, worked out by an independent program from their
 * formulas (from memory, equal to a printed copy): clearness of the day, coefficients, and mean and
 * spread with the sun at 30 and at 60 degrees. */
START_TEST(the_law_of_the_hours_is_the_published_one) {
  static const double rows[][11] = {
      {0.3, 0.1678, 0.2560, 0.3265, 0.1332, 0.1064, 0.4377, 0.3010, 0.1404, 0.3434, 0.1351},
      {0.4, 0.2678, 0.3040, 0.3926, 0.1332, 0.1713, 0.4338, 0.4064, 0.1451, 0.4610, 0.1363},
      {0.5, 0.3744, 0.3200, 0.4438, 0.0893, 0.5075, 0.4017, 0.5061, 0.1151, 0.5661, 0.0955},
      {0.6, 0.4840, 0.3040, 0.4650, 0.0401, 1.3117, 0.3583, 0.6039, 0.0773, 0.6617, 0.0478},
      {0.7, 0.5949, 0.2560, 0.4414, 0.0121, 2.8766, 0.3263, 0.7008, 0.0509, 0.7487, 0.0178}};
  const double sin_60 = sqrt(3) / 2;
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    const double *row = rows[i];
    steading_hour_law law = steading_hour_law_of(row[0]);
    ck_assert_double_eq_tol(law.lowest, row[1], 0.00006);
    ck_assert_double_eq_tol(law.rise, row[2], 0.00006);
    ck_assert_double_eq_tol(law.steepness, row[3], 0.00006);
    ck_assert_double_eq_tol(law.spread, row[4], 0.00006);
    ck_assert_double_eq_tol(law.growth, row[5], 0.00006);
    ck_assert_double_eq_tol(law.correlation, row[6], 0.00006);
    ck_assert_double_eq_tol(steading_hour_mean(&law, 0.5), row[7], 0.00006);
    ck_assert_double_eq_tol(steading_hour_spread(&law, 0.5), row[8], 0.00006);
    ck_assert_double_eq_tol(steading_hour_mean(&law, sin_60), row[9], 0.00006);
    ck_assert_double_eq_tol(steading_hour_spread(&law, sin_60), row[10], 0.00006);
  }
}
END_TEST

/* The formula by hand at noon, at 12:30 and at 22:30. */
START_TEST(hours_without_clouds_are_clearest_at_half_past_noon) {
  ck_assert_double_eq_tol(steading_hour_clearest(12.5), 0.88, 1e-12);
  ck_assert_double_eq_tol(steading_hour_clearest(22.5), 0.44, 1e-12);
  for (double t = 0; t <= 24; t += 0.25) {
    ck_assert_double_gt(steading_hour_clearest(t), 0.2);
    ck_assert_double_le(steading_hour_clearest(t), 0.88);
  }
}
END_TEST

/* Four values by hand. Weights 1 2 1 1, values 0.2 0.4 0.6 0: their sum is 1.6. Twice that: 0.4 0.8
 * 0.9 (its most) 0, 0.3 left: all to the loose ones, 0.4 and 2 x 0.8, by the factor 2.3 / 2. */
START_TEST(a_total_is_shared_out_below_the_limits) {
  const double weight[4] = {1, 2, 1, 1}, most[4] = {1, 1, 0.9, 0.5};
  double a[4] = {0.2, 0.4, 0.6, 0}, b[4] = {0.2, 0.4, 0.6, 0}, c[4] = {0, 0, 0, 0};
  double full[4] = {0.2, 0.4, 0.6, 0}, over[4] = {0.2, 0.4, 0.6, 0}, none[4] = {0.2, 0.4, 0.6, 0};
  steading_share_out(4, weight, most, 0.8, a);
  ck_assert_double_eq_tol(a[0], 0.1, 1e-12);
  ck_assert_double_eq_tol(a[2], 0.3, 1e-12);
  steading_share_out(4, weight, most, 3.2, b);
  ck_assert_double_eq_tol(b[0], 0.46, 1e-12);
  ck_assert_double_eq_tol(b[1], 0.92, 1e-12);
  ck_assert_double_eq_tol(b[2], 0.9, 1e-12);
  ck_assert_double_eq(b[3], 0);
  steading_share_out(4, weight, most, 2.2, c); /* nothing to multiply: half of the most, 4.4 */
  for (int i = 0; i < 4; i++) ck_assert_double_eq_tol(c[i], most[i] / 2, 1e-12);
  steading_share_out(4, weight, most, 4.15, full); /* 0.25 more than 1 2 0.9 0: the last has it */
  ck_assert_double_eq_tol(full[0] + 2 * full[1] + full[2] + full[3], 4.15, 1e-12);
  ck_assert_double_eq_tol(full[3], 0.25, 1e-12);
  steading_share_out(4, weight, most, 4.7, over); /* half way from 4.4 to 5 */
  ck_assert_double_eq_tol(over[2], 0.95, 1e-12);
  ck_assert_double_eq_tol(over[3], 0.75, 1e-12);
  steading_share_out(4, weight, most, 0, none);
  for (int i = 0; i < 4; i++) ck_assert_double_eq(none[i], 0);
}
END_TEST

START_TEST(whatever_is_shared_out_adds_up_within_the_limits) {
  dice d = {.seed = 9};
  for (int round = 0; round < 20000; round++) {
    double weight[24], most[24], value[24], at_most = 0, sum = 0, total = 0;
    int n = 1 + (int)(roll(&d) * 24);
    for (int i = 0; i < n; i++) {
      weight[i] = roll_size(&d, 1300);
      most[i] = roll_size(&d, 1);
      value[i] = roll_size(&d, 1);
      at_most += weight[i] * most[i];
    }
    total = roll(&d) * at_most;
    steading_share_out(n, weight, most, total, value);
    for (int i = 0; i < n; i++) {
      ck_assert(value[i] >= 0 && value[i] <= most[i] * (1 + 1e-12));
      sum += weight[i] * value[i];
    }
    ck_assert_double_eq_tol(sum, total, 1e-12 * (at_most + 1));
  }
}
END_TEST

Suite *hours_suite(void) {
  Suite *suite = suite_create("resource/hours");
  TCase *tcase = tcase_create("hours");
  tcase_add_test(tcase, the_law_of_the_hours_is_the_published_one);
  tcase_add_test(tcase, hours_without_clouds_are_clearest_at_half_past_noon);
  tcase_add_test(tcase, a_total_is_shared_out_below_the_limits);
  tcase_add_test(tcase, whatever_is_shared_out_adds_up_within_the_limits);
  suite_add_tcase(suite, tcase);
  return suite;
}
