/* Weighted efficiencies: the weights themselves, by curves whose efficiency is one number at one
 * load, and two curves of Schmid's two-parameter form worked out by a program of its own. */
#include <check.h>
#include <math.h>

#include "plant/inverter_weights.h"
#include "suites.h"

/* p0 0.010345 and k 0.076612 belong to 0.90 at 10 % and 0.92 at 100 %. */
START_TEST(two_curves_of_schmid) {
  const steading_inverter_curve plain = {.rating_kw = 4,
                                         .idle_kw = 4 * (10 / 0.90 - 1 / 0.92 - 9) / 99,
                                         .c = 1 / 0.92 - (10 / 0.90 - 1 / 0.92 - 9) / 99 - 1};
  const steading_inverter_curve good = {.rating_kw = 7, .idle_kw = 7 * 0.0035, .c = 0.020};
  ck_assert_double_eq_tol(steading_inverter_european_efficiency(&plain), 0.93244, 5e-6);
  ck_assert_double_eq_tol(steading_inverter_californian_efficiency(&plain), 0.93539, 5e-6);
  ck_assert_double_eq_tol(steading_inverter_european_efficiency(&good), 0.97878, 5e-6);
  ck_assert_double_eq_tol(steading_inverter_californian_efficiency(&good), 0.98056, 5e-6);
}
END_TEST

/* With b alone every efficiency is 1 / (1 + b): so is their mean, if the weights add up to 1. */
START_TEST(the_weights_add_up_to_one) {
  const steading_inverter_curve even = {.rating_kw = 3, .b = 0.25};
  ck_assert_double_eq_tol(steading_inverter_european_efficiency(&even), 0.8, 1e-15);
  ck_assert_double_eq_tol(steading_inverter_californian_efficiency(&even), 0.8, 1e-15);
}
END_TEST

Suite *inverter_weights_suite(void) {
  Suite *suite = suite_create("inverter_weights");
  TCase *tests = tcase_create("inverter_weights");
  tcase_add_test(tests, two_curves_of_schmid);
  tcase_add_test(tests, the_weights_add_up_to_one);
  suite_add_tcase(suite, tests);
  return suite;
}
