/* The inverter's loss curve against the two-parameter form of Schmid 1983 (in Jantsch, Schmidt and
 * Schmid 1992, 11th EU PVSEC; the form is from memory, its algebra is worked out here), against
 * the weighted efficiencies of Europe and California, and against the definition of each case. */
#include "plant/inverter.h"

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "random.h"
#include "suites.h"

static steading_inverter_curve curve_of(const char *unit_text, double *share) {
  steading_unit *unit = build(&steading_unit_spec, NULL, "%s", unit_text);
  steading_inverter_curve curve = {0};
  steading_inverter_miss miss;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_inverter_curve_of(unit, "unit", &curve, &miss, &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  if (share != NULL) *share = miss.share;
  steading_record_release(unit);
  return curve;
}

static double weighted(const steading_inverter_curve *curve, const double (*rows)[2], int count) {
  double sum = 0;
  for (int i = 0; i < count; i++)
    sum += rows[i][0] * steading_inverter_efficiency(curve, rows[i][1] * curve->rating_kw);
  return sum;
}

/* European weights, as printed in data sheets; those of the California Energy Commission are from
 * memory. */
static const double european[6][2] = {{0.03, 0.05}, {0.06, 0.1}, {0.13, 0.2},
                                      {0.10, 0.3},  {0.48, 0.5}, {0.20, 1}};
static const double californian[6][2] = {{0.04, 0.1}, {0.05, 0.2},  {0.12, 0.3},
                                         {0.21, 0.5}, {0.53, 0.75}, {0.05, 1}};

/* p0 = (10 / eta10 - 1 / eta100 - 9) / 99 and k = 1 / eta100 - p0 - 1, worked out by hand. */
START_TEST(two_efficiencies_give_the_two_parameters_of_schmid) {
  double miss = 1;
  steading_inverter_curve c =
      curve_of("{ ac_kw = 4, efficiency = { at_10 = 0.90, at_100 = 0.92 } }", &miss);
  ck_assert_double_eq_tol(c.idle_kw / 4, (10 / 0.90 - 1 / 0.92 - 9) / 99, 1e-15);
  ck_assert_double_eq_tol(c.idle_kw / 4, 0.010345, 5e-7);
  ck_assert_double_eq_tol(c.c, 0.076612, 5e-7);
  ck_assert_double_eq(c.b, 0);
  ck_assert_double_eq_tol(steading_inverter_efficiency(&c, 2), 0.9443, 5e-5);
  ck_assert_double_eq_tol(weighted(&c, european, 6), 0.93244, 5e-6);
  ck_assert_double_eq_tol(weighted(&c, californian, 6), 0.93539, 5e-6);
  ck_assert_double_eq_tol(miss, 0, 1e-15);
}
END_TEST

/* p0 0.0035 and k 0.020, given through the efficiencies that they make at 10 and 100 %. The
 * efficiency is highest at sqrt(p0 / k), where it is 1 / (1 + 2 sqrt(p0 k)). */
START_TEST(a_curve_given_by_its_parameters_has_their_efficiencies) {
  static const double rows[7][2] = {{0.05, 0.93371}, {0.1, 0.96432}, {0.2, 0.97895},
                                    {0.3, 0.98264},  {0.5, 0.98328}, {0.75, 0.98071},
                                    {1, 0.97704}};
  char text[200];
  steading_inverter_curve c;
  snprintf(text, sizeof text, "{ ac_kw = 1, efficiency = { at_10 = %.17g, at_100 = %.17g } }",
           0.1 / (0.1 + 0.0035 + 0.0002), 1 / 1.0235);
  c = curve_of(text, NULL);
  ck_assert_double_eq_tol(c.idle_kw, 0.0035, 1e-15);
  ck_assert_double_eq_tol(c.c, 0.020, 1e-15);
  for (int i = 0; i < 7; i++)
    ck_assert_double_eq_tol(steading_inverter_efficiency(&c, rows[i][0]), rows[i][1], 5e-6);
  ck_assert_double_eq_tol(weighted(&c, european, 6), 0.97878, 5e-6);
  ck_assert_double_eq_tol(weighted(&c, californian, 6), 0.98056, 5e-6);
  ck_assert_double_eq_tol(steading_inverter_efficiency(&c, 0.4183), 0.98354, 5e-6);
  for (double p = 0.01; p <= 1; p += 0.01)
    ck_assert_double_le(steading_inverter_efficiency(&c, p), 1 / (1 + 2 * sqrt(0.0035 * 0.020)));
}
END_TEST

START_TEST(three_efficiencies_are_met_exactly) {
  for (uint64_t i = 0; i < 2000; i++) {
    double at_10 = 0.7 + 0.28 * steading_random_uniform(1, 0, 0, i);
    double at_50 = at_10 + (0.99 - at_10) * steading_random_uniform(1, 0, 1, i);
    double at_100 = 0.8 + 0.19 * steading_random_uniform(1, 0, 2, i);
    double ac_kw = 0.1 + 20 * steading_random_uniform(1, 0, 3, i);
    steading_inverter_miss miss;
    steading_unit *unit = build(&steading_unit_spec, NULL,
                                "{ ac_kw = %.17g, efficiency = { at_10 = %.17g, at_50 = %.17g, "
                                "at_100 = %.17g } }",
                                ac_kw, at_10, at_50, at_100);
    steading_inverter_curve c;
    if (steading_inverter_curve_of(unit, "unit", &c, &miss, NULL) == STEADING_OK) {
      ck_assert_double_eq_tol(steading_inverter_efficiency(&c, 0.1 * ac_kw), at_10, 1e-13);
      ck_assert_double_eq_tol(steading_inverter_efficiency(&c, 0.5 * ac_kw), at_50, 1e-13);
      ck_assert_double_eq_tol(steading_inverter_efficiency(&c, ac_kw), at_100, 1e-13);
      ck_assert_double_eq_tol(miss.share, 0, 1e-13);
      for (int k = 0; k <= 100; k++)
        ck_assert_double_ge(steading_inverter_loss_kw(&c, k / 100.0 * ac_kw), -1e-12 * ac_kw);
    } else { /* only a curve that is negative somewhere, or falls, may be refused */
      double y1 = 0.1 * (1 / at_10 - 1), y5 = 0.5 * (1 / at_50 - 1), y10 = 1 / at_100 - 1;
      bool bad = false;
      for (int k = 0; k <= 10000; k++) { /* Lagrange's form of the parabola */
        double p = k / 10000.0;
        double y = y1 * (p - 0.5) * (p - 1) / 0.36 - y5 * (p - 0.1) * (p - 1) / 0.2 +
                   y10 * (p - 0.1) * (p - 0.5) / 0.45;
        double slope = y1 * (2 * p - 1.5) / 0.36 - y5 * (2 * p - 1.1) / 0.2 +
                       y10 * (2 * p - 0.6) / 0.45;
        if (y < 1e-6 || slope < -1) bad = true;
      }
      ck_assert(bad);
    }
    steading_record_release(unit);
  }
}
END_TEST

/* AC power from DC power: p = (sqrt(1 + 4 k (pdc - p0)) - 1) / (2 k), the inverse of Schmid's form;
 * and for any curve the DC power of an AC power gives that AC power back. */
START_TEST(ac_power_from_dc_power_is_the_inverse_of_the_losses) {
  for (uint64_t i = 0; i < 20000; i++) {
    double p = steading_random_uniform(2, 0, 2, i);
    double wide = -0.1 + 0.3 * steading_random_uniform(2, 0, 1, i);
    steading_inverter_curve any = {.rating_kw = 0.5 + 20 * steading_random_uniform(2, 0, 3, i),
                                   .b = -0.1 + 0.2 * steading_random_uniform(2, 0, 0, i),
                                   .c = i % 5 == 0 ? 0 : i % 5 == 1 ? 1e-12 : wide};
    steading_inverter_curve schmid = {.rating_kw = 1, .c = fabs(wide) + 0.01};
    double ac_kw = p * any.rating_kw;
    double dc_kw = ac_kw + steading_inverter_loss_kw(&any, ac_kw);
    ck_assert_double_eq_tol(steading_inverter_ac_kw(&any, dc_kw), ac_kw, 1e-12 * any.rating_kw);
    ck_assert_double_eq_tol(steading_inverter_ac_kw(&schmid, p),
                            (sqrt(1 + 4 * schmid.c * p) - 1) / (2 * schmid.c), 1e-12);
  }
}
END_TEST

/* 10 kW, 50 W idle: 0.005 of the rating. Losses 0.1 (1 / 0.9 - 1) = 0.011111 and
 * 1 / 0.92 - 1 = 0.086957: 0.1 b + 0.01 c = 0.0061111 and b + c = 0.0819565, so
 * c = (0.0819565 - 0.0611111) / 0.9 = 0.0231616 and b = 0.0587949. */
START_TEST(an_idle_draw_with_two_efficiencies_is_met_exactly) {
  double miss = 1;
  steading_inverter_curve c = curve_of(
      "{ ac_kw = 10, idle_w = 50, efficiency = { at_10 = 0.90, at_100 = 0.92 } }", &miss);
  ck_assert_double_eq(c.idle_kw, 0.05);
  ck_assert_double_eq_tol(c.c, 0.0231616, 5e-7);
  ck_assert_double_eq_tol(c.b, 0.0587949, 5e-7);
  ck_assert_double_eq_tol(miss, 0, 1e-14);
}
END_TEST

/* The definition of least squares: the misses are orthogonal to p and to p^2, and every other b, c
 * has a larger sum of squares. */
START_TEST(an_idle_draw_with_three_efficiencies_gives_least_squares_and_the_miss) {
  static const double at[3] = {0.1, 0.5, 1}, efficiency[3] = {0.93, 0.965, 0.95};
  double miss = 0, across = 0, across_square = 0, sum = 0, worst = 0;
  steading_inverter_curve c = curve_of(
      "{ ac_kw = 9, idle_w = 60, efficiency = { at_10 = 0.93, at_50 = 0.965, at_100 = 0.95 } }",
      &miss);
  ck_assert_double_eq(c.idle_kw, 0.06);
  for (int i = 0; i < 3; i++) {
    double p = at[i], off = 0.06 / 9 + c.b * p + c.c * p * p - p * (1 / efficiency[i] - 1);
    double e = p / (p + 0.06 / 9 + c.b * p + c.c * p * p);
    across += off * p;
    across_square += off * p * p;
    sum += off * off;
    worst = fmax(worst, fabs(e - efficiency[i]));
  }
  ck_assert_double_eq_tol(across, 0, 1e-15);
  ck_assert_double_eq_tol(across_square, 0, 1e-15);
  ck_assert_double_gt(sum, 0);
  ck_assert_double_eq_tol(miss, worst, 1e-12);
  ck_assert_double_gt(miss, 1e-4); /* three points and two free numbers: it cannot be met */
}
END_TEST

static void refused_at(const char *path, const char *unit_text, const char *says) {
  steading_unit *unit = build(&steading_unit_spec, NULL, "%s", unit_text);
  steading_inverter_curve curve;
  steading_error error = {.status = STEADING_OK};
  ck_assert_int_eq(steading_inverter_curve_of(unit, "hubs.barn.inverter.unit", &curve, NULL, &error),
                   STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, says) != NULL, "%s", error.text);
  steading_record_release(unit);
}

static void refused(const char *unit_text, const char *says) {
  refused_at("hubs.barn.inverter.unit.efficiency", unit_text, says);
}

/* By hand: losses 0.00101 at 10 % and 0.1111 at 100 % give p0 = 0.00101 - 0.01 x 0.1112 < 0; a
 * parabola through 0.0111, 0.0005 and 0.1111 dips to -0.0058 at p = 0.35; 200 W of 1 kW is more
 * than all that is lost at 10 %, so that b 0.1 + c 0.01 < 0: b = -2.0, and the loss is negative. */
START_TEST(efficiencies_that_mean_a_negative_loss_are_refused) {
  refused("{ ac_kw = 1, efficiency = { at_10 = 0.99, at_100 = 0.90 } }", "negative loss");
  refused("{ ac_kw = 1, efficiency = { at_10 = 0.9, at_50 = 0.999, at_100 = 0.9 } }",
          "negative loss");
  refused("{ ac_kw = 1, idle_w = 200, efficiency = { at_10 = 0.9, at_100 = 0.9 } }",
          "negative loss");
}
END_TEST

/* By hand: losses 0.2333, 0.5 and 0.0101 at 10, 50 and 100 %: c = -1.829, b = 1.764, idle 0.075,
 * nowhere negative, but the slope of the DC power at the rating is 1 + b + 2 c = -0.89. */
START_TEST(a_curve_whose_dc_power_falls_with_ac_power_is_refused) {
  refused("{ ac_kw = 1, efficiency = { at_10 = 0.3, at_50 = 0.5, at_100 = 0.99 } }",
          "would not rise");
}
END_TEST

START_TEST(an_inverter_without_losses_has_none) {
  steading_inverter_curve c =
      curve_of("{ ac_kw = 7, efficiency = { at_10 = 1, at_50 = 1, at_100 = 1 } }", NULL);
  ck_assert_double_eq(c.idle_kw, 0);
  ck_assert_double_eq(steading_inverter_loss_kw(&c, 3.3), 0);
  ck_assert_double_eq(steading_inverter_efficiency(&c, 7), 1);
  ck_assert_double_eq(steading_inverter_ac_kw(&c, 0), 0);
  ck_assert_double_eq(steading_inverter_ac_kw(&c, 3), 3);
}
END_TEST

/* Units that share equally: n units at n P lose n times what one loses at P. */
START_TEST(units_in_parallel_lose_what_each_of_them_loses) {
  steading_inverter_curve one = curve_of(
      "{ ac_kw = 9, idle_w = 60, efficiency = { at_10 = 0.93, at_50 = 0.965, at_100 = 0.95 } }",
      NULL);
  steading_inverter_curve three = steading_inverter_parallel(&one, 3);
  ck_assert_double_eq(three.rating_kw, 27);
  for (double p = 0; p <= 9; p += 0.75)
    ck_assert_double_eq_tol(steading_inverter_loss_kw(&three, 3 * p),
                            3 * steading_inverter_loss_kw(&one, p), 1e-14);
}
END_TEST

Suite *inverter_suite(void) {
  Suite *suite = suite_create("inverter");
  TCase *tests = tcase_create("inverter");
  tcase_add_test(tests, two_efficiencies_give_the_two_parameters_of_schmid);
  tcase_add_test(tests, a_curve_given_by_its_parameters_has_their_efficiencies);
  tcase_add_test(tests, three_efficiencies_are_met_exactly);
  tcase_add_test(tests, ac_power_from_dc_power_is_the_inverse_of_the_losses);
  tcase_add_test(tests, an_idle_draw_with_two_efficiencies_is_met_exactly);
  tcase_add_test(tests, an_idle_draw_with_three_efficiencies_gives_least_squares_and_the_miss);
  tcase_add_test(tests, efficiencies_that_mean_a_negative_loss_are_refused);
  tcase_add_test(tests, a_curve_whose_dc_power_falls_with_ac_power_is_refused);
  tcase_add_test(tests, an_inverter_without_losses_has_none);
  tcase_add_test(tests, units_in_parallel_lose_what_each_of_them_loses);
  suite_add_tcase(suite, tests);
  return suite;
}
