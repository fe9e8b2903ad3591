/* Efficiency in low light: Huld et al. 2011 with the coefficients of crystalline silicon (from
 * memory), values worked out by a program of its own. */
#include <check.h>
#include <math.h>

#include "plant/low_light.h"
#include "suites.h"

START_TEST(the_whole_polynomial_at_seven_points) {
  static const double rows[7][3] = {{800, 25, 1.0018}, {600, 25, 0.9983}, {400, 25, 0.9819},
                                    {200, 25, 0.9233}, {100, 25, 0.8259}, {1000, 50, 0.8861},
                                    {800, 47, 0.9007}};
  for (int i = 0; i < 7; i++)
    ck_assert_double_eq_tol(steading_huld_efficiency(rows[i][0], rows[i][1]), rows[i][2], 5e-5);
  ck_assert_double_eq(steading_huld_efficiency(1000, 25), 1);
}
END_TEST

START_TEST(the_part_without_temperature_is_the_polynomial_at_25_degrees) {
  for (double light = 1; light < 1300; light *= 1.1)
    ck_assert_double_eq_tol(steading_low_light_efficiency(light, 1),
                            steading_huld_efficiency(light, 25), 1e-15);
}
END_TEST

/* The factor keeps what a degree takes as a share: Huld's own derivative at 25 C over his
 * efficiency, by hand at 200 W/m2 (-0.004681 - 0.000238 + 0.000438) / 0.92326 = -0.0048539, against
 * -0.004681 of the factor and -0.0050701 of a sum. */
START_TEST(a_factor_is_nearer_to_the_share_that_a_degree_takes_than_a_sum) {
  double share = (steading_huld_efficiency(200, 25.001) - steading_huld_efficiency(200, 24.999)) /
                 0.002 / steading_huld_efficiency(200, 25);
  double of_sum = STEADING_HULD_K3 / steading_low_light_efficiency(200, 1);
  ck_assert_double_eq_tol(share, -0.0048539, 1e-7);
  ck_assert_double_eq_tol(of_sum, -0.0050701, 1e-7);
  ck_assert_double_lt(fabs(share - STEADING_HULD_K3), fabs(share - of_sum));
}
END_TEST

START_TEST(the_measure_meets_the_efficiency_of_a_sheet_at_200_w_per_m2) {
  for (double at_200 = 0.9; at_200 <= 1; at_200 += 0.01) {
    double s = steading_low_light_measure(at_200);
    ck_assert_double_eq_tol(steading_low_light_efficiency(200, s), at_200, 1e-15);
    ck_assert_double_eq(steading_low_light_efficiency(1000, s), 1);
  }
  ck_assert_double_eq_tol(steading_low_light_measure(0.92326), 1, 2e-5);
  ck_assert_double_eq_tol(steading_low_light_measure(1), 0, 1e-15);
}
END_TEST

/* Power must not rise as the light falls, and the last light gives nothing: by hand the polynomial
 * is 0 at ln(G / 1000) = -5.20, 5.5 W/m2. */
START_TEST(power_rises_with_light_and_is_never_negative) {
  for (double s = 0; s <= 1.31; s += 0.1) {
    double before = 0;
    for (double light = 0.01; light < 1400; light *= 1.01) {
      double power = light * steading_low_light_efficiency(light, s);
      ck_assert_double_ge(power, before);
      before = power;
    }
  }
  ck_assert_double_eq(steading_low_light_efficiency(5.4, 1), 0);
  ck_assert_double_gt(steading_low_light_efficiency(5.6, 1), 0);
  ck_assert_double_eq(steading_low_light_efficiency(0, 1), 0);
  ck_assert_double_eq(steading_low_light_efficiency(-1, 0), 0);
  ck_assert_double_eq(steading_huld_efficiency(0, 25), 0);
  ck_assert_double_eq(steading_huld_efficiency(1e-9, 60), 0);
}
END_TEST

Suite *low_light_suite(void) {
  Suite *suite = suite_create("low_light");
  TCase *tests = tcase_create("low_light");
  tcase_add_test(tests, the_whole_polynomial_at_seven_points);
  tcase_add_test(tests, the_part_without_temperature_is_the_polynomial_at_25_degrees);
  tcase_add_test(tests, a_factor_is_nearer_to_the_share_that_a_degree_takes_than_a_sum);
  tcase_add_test(tests, the_measure_meets_the_efficiency_of_a_sheet_at_200_w_per_m2);
  tcase_add_test(tests, power_rises_with_light_and_is_never_negative);
  suite_add_tcase(suite, tests);
  return suite;
}
