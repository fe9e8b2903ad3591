/* The inverter's loss curve against the two-parameter form of Schmid 1983 (in Jantsch, Schmidt and
 * Schmid 1992, 11th EU PVSEC; the form is from memory, its algebra is worked out here), against
 * the weighted efficiencies of Europe and California, and against the definition of each case. */
#include <check.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "plant/check.h"
#include "plant/inverter.h"
#include "random.h"
#include "suites.h"

static steading_inverter_curve curve_of(const char *unit_text, double *share) {
  steading_unit *unit = build(&steading_unit_spec, NULL, "%s", unit_text);
  steading_inverter_curve curve = {0};
  steading_inverter_miss miss;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_inverter_curve_of(unit, 0, "unit", &curve, &miss, &error) == STEADING_OK,
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
    if (steading_inverter_curve_of(unit, 0, "unit", &c, &miss, NULL) == STEADING_OK) {
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
        double slope =
            y1 * (2 * p - 1.5) / 0.36 - y5 * (2 * p - 1.1) / 0.2 + y10 * (2 * p - 0.6) / 0.45;
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
                                   .c = i % 5 == 0   ? 0
                                        : i % 5 == 1 ? 1e-12
                                                     : wide};
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
  steading_inverter_curve c =
      curve_of("{ ac_kw = 10, idle_w = 50, efficiency = { at_10 = 0.90, at_100 = 0.92 } }", &miss);
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
  ck_assert_int_eq(
      steading_inverter_curve_of(unit, 0, "hubs.barn.inverter.unit", &curve, NULL, &error),
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

/* --- losses said straight --------------------------------------------------------------------- */

/* The invented unit of Schmid's form with p0 0.0035 and k 0.020: the efficiencies of an independent
 * program (as above), here at 7 kW. */
START_TEST(losses_by_the_two_parameters_of_schmid) {
  static const double rows[7][2] = {{0.05, 0.93371}, {0.1, 0.96432}, {0.2, 0.97895},
                                    {0.3, 0.98264},  {0.5, 0.98328}, {0.75, 0.98071},
                                    {1, 0.97704}};
  double miss = 1;
  steading_inverter_curve c =
      curve_of("{ ac_kw = 7, losses = { idle_share = 0.0035, share_at_rating = 0.020 } }", &miss);
  for (int i = 0; i < 7; i++)
    ck_assert_double_eq_tol(steading_inverter_efficiency(&c, 7 * rows[i][0]), rows[i][1], 5e-6);
  ck_assert_double_eq(miss, 0);
}
END_TEST

/* 5 kW, 40 W, 1 % of the power, 2 % of the rating at the rating. At 2.5 kW: 40 + 25 + 25 = 90 W. */
START_TEST(losses_in_watts_and_shares_add_up) {
  steading_inverter_curve c = curve_of(
      "{ ac_kw = 5, losses = { idle_w = 40, share_of_power = 0.01, share_at_rating = 0.02 } }",
      NULL);
  ck_assert_double_eq_tol(steading_inverter_loss_kw(&c, 0), 0.040, 1e-15);
  ck_assert_double_eq_tol(steading_inverter_loss_kw(&c, 2.5), 0.090, 1e-15);
  ck_assert_double_eq_tol(steading_inverter_loss_kw(&c, 5), 0.190, 1e-15);
  refused_at("hubs.barn.inverter.unit.losses",
             "{ ac_kw = 5, losses = { idle_w = 40, share_of_power = -0.02 } }", "the losses give");
  refused_at("hubs.barn.inverter.unit.losses",
             "{ ac_kw = 5, losses = { idle_share = 0.45, share_of_power = -0.05, "
             "share_at_rating = -0.5 } }",
             "negative loss");
}
END_TEST

/* --- points ----------------------------------------------------------------------------------- */

/* A text of growing length. */
static void add(char *text, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
static void add(char *text, size_t size, const char *format, ...) {
  size_t used = strlen(text);
  va_list list;
  va_start(list, format);
  vsnprintf(text + used, size - used, format, list);
  va_end(list);
}

/* Points of a known curve give that curve back, whatever their number and place. */
START_TEST(points_on_a_curve_give_that_curve) {
  for (uint64_t i = 0; i < 1000; i++) {
    steading_inverter_curve want = {.rating_kw = 0.5 + 20 * steading_random_uniform(5, 0, 0, i)};
    int count = 3 + (int)(20 * steading_random_uniform(5, 0, 1, i));
    double miss = 1, from = 0.02 + 0.2 * steading_random_uniform(5, 0, 2, i);
    char text[4000] = "";
    steading_inverter_curve c;
    want.idle_kw = want.rating_kw * 0.02 * steading_random_uniform(5, 0, 3, i);
    want.b = 0.03 * steading_random_uniform(5, 0, 4, i);
    want.c = 0.05 * steading_random_uniform(5, 0, 5, i);
    add(text, sizeof text, "{ ac_kw = %.17g, efficiency = { ", want.rating_kw);
    for (int k = 0; k < count; k++) {
      double p = from + (1 - from) * k / (count - 1), kw = p * want.rating_kw;
      if (k == count - 1) p = 1;
      if (k % 2 == 0)
        add(text, sizeof text, "{ ac_share = %.17g, efficiency = %.17g }, ", p,
            steading_inverter_efficiency(&want, p * want.rating_kw));
      else
        add(text, sizeof text, "{ ac_kw = %.17g, efficiency = %.17g }, ", kw,
            steading_inverter_efficiency(&want, kw));
    }
    add(text, sizeof text, "} }");
    c = curve_of(text, &miss);
    ck_assert_double_eq_tol(c.idle_kw, want.idle_kw, 1e-12 * want.rating_kw);
    ck_assert_double_eq_tol(c.b, want.b, 1e-11);
    ck_assert_double_eq_tol(c.c, want.c, 1e-11);
    ck_assert_double_eq_tol(miss, 0, 1e-12);
  }
}
END_TEST

/* The definition of least squares: the misses are orthogonal to 1, p and p^2. */
START_TEST(points_beside_a_curve_give_least_squares_and_the_miss) {
  static const double rows[6][2] = {{0.1, 0.930},  {0.2, 0.956},  {0.3, 0.963},
                                    {0.5, 0.9625}, {0.75, 0.962}, {1, 0.955}};
  double across[3] = {0}, worst = 0, miss = 0;
  char text[600] = "{ ac_kw = 4, efficiency = { ";
  steading_inverter_curve c;
  for (int i = 0; i < 6; i++)
    add(text, sizeof text, "{ ac_share = %g, efficiency = %g }, ", rows[i][0], rows[i][1]);
  add(text, sizeof text, "} }");
  c = curve_of(text, &miss);
  for (int i = 0; i < 6; i++) {
    double p = rows[i][0], y = p * (1 / rows[i][1] - 1);
    double off = steading_inverter_loss_kw(&c, 4 * p) / 4 - y;
    for (int k = 0; k < 3; k++) across[k] += off * pow(p, k);
    worst = fmax(worst, fabs(p / (p + off + y) - rows[i][1]));
  }
  for (int k = 0; k < 3; k++) ck_assert_double_eq_tol(across[k], 0, 1e-15);
  ck_assert_double_eq_tol(miss, worst, 1e-12);
  ck_assert_double_gt(miss, 1e-4);
}
END_TEST

/* Losses 0.002, 0.03 and 0.04 of the rating at 10, 50 and 100 % bend so that a parabola through
 * them starts at -0.0071 (Lagrange: 0.002 x 0.5 / 0.36 - 0.03 x 0.1 / 0.2 + 0.04 x 0.05 / 0.45).
 * The least squares with no idle draw: b and c solve sum p (b p + c p^2 - y) = 0 and the same with
 * p^2: 1.26 b + 1.126 c = 0.0552, 1.126 b + 1.0626 c = 0.04752 (by hand) give b = 0.0725667, c =
 * -0.0321758. */
START_TEST(points_that_ask_for_less_than_no_idle_draw_get_none) {
  char text[300];
  steading_inverter_curve c;
  snprintf(text, sizeof text,
           "{ ac_kw = 2, efficiency = { { ac_share = 0.1, efficiency = %.17g }, { ac_share = 0.5, "
           "efficiency = %.17g }, { ac_share = 1, efficiency = %.17g } } }",
           0.1 / 0.102, 0.5 / 0.53, 1 / 1.04);
  c = curve_of(text, NULL);
  ck_assert_double_eq(c.idle_kw, 0);
  ck_assert_double_eq_tol(1.26 * c.b + 1.126 * c.c, 0.0552, 1e-13);
  ck_assert_double_eq_tol(1.126 * c.b + 1.0626 * c.c, 0.04752, 1e-13);
}
END_TEST

/* The form of King, Gonzalez, Galbraith and Boyson 2007 (SAND2007-5036; the equations are from
 * memory): AC from DC power at a DC voltage, of an invented unit of 3 kW. */
typedef struct sandia {
  double paco, pdco, vdco, pso, c0, c1, c2, c3;
} sandia;

static const sandia invented = {.paco = 3000,
                                .pdco = 3150,
                                .vdco = 310,
                                .pso = 18,
                                .c0 = -1.2e-5,
                                .c1 = 3e-5,
                                .c2 = 1.5e-3,
                                .c3 = 8e-4};

static double sandia_ac_w(const sandia *s, double dc_w, double volts) {
  double a = s->pdco * (1 + s->c1 * (volts - s->vdco));
  double b = s->pso * (1 + s->c2 * (volts - s->vdco));
  double c = s->c0 * (1 + s->c3 * (volts - s->vdco));
  double x = dc_w - b;
  return (s->paco / (a - b) - c * (a - b)) * x + c * x * x;
}

/* The DC power of an AC power, by halving. */
static double sandia_dc_w(const sandia *s, double ac_w, double volts) {
  double low = 0, high = 2 * s->pdco;
  for (int i = 0; i < 200; i++) {
    double middle = (low + high) / 2;
    if (sandia_ac_w(s, middle, volts) < ac_w)
      low = middle;
    else
      high = middle;
  }
  return low;
}

/* Points as a laboratory would measure them at six loads and three voltages. */
static void sandia_text(char *text, size_t size, const char *more) {
  static const double loads[6] = {0.1, 0.2, 0.3, 0.5, 0.75, 1}, volts[3] = {250, 310, 420};
  text[0] = '\0';
  add(text, size, "{ ac_kw = 3, %s efficiency = { ", more);
  for (int v = 2; v >= 0; v--) /* in any order */
    for (int i = 0; i < 6; i++)
      add(text, size, "{ ac_share = %g, volts = %g, efficiency = %.17g }, ", loads[i], volts[v],
          3000 * loads[i] / sandia_dc_w(&invented, 3000 * loads[i], volts[v]));
  add(text, size, "} }");
}

/* Its identities at the nominal voltage: Pdc = Pdco gives Paco, Pdc = Pso gives nothing; and a
 * value of an independent program, 1520.8066 W from 1575 W. They show that the form above is the
 * form. */
START_TEST(the_form_with_voltage_has_its_identities) {
  ck_assert_double_eq_tol(sandia_ac_w(&invented, 3150, 310), 3000, 1e-9);
  ck_assert_double_eq_tol(sandia_ac_w(&invented, 18, 310), 0, 1e-12);
  ck_assert_double_eq_tol(sandia_ac_w(&invented, 1575, 310), 1520.8066, 5e-5);
  ck_assert_double_eq_tol(sandia_dc_w(&invented, 1520.8066, 310), 1575, 1e-4);
}
END_TEST

/* Its loss over AC power is a parabola but for what its series goes on with, 2 C^2 P^3 / a^5. Of
 * x^3 on 0..1 the best parabola leaves 1/32 at most; least squares at a few points, the next terms
 * and C at 420 V are granted twice that: 2 x 1.44e-10 x 3000^3 / 16 = 0.5 W of 3 kW. Between
 * voltages the loss is interpolated: what a bent line is off there is half its second difference.
 */
START_TEST(a_table_at_several_voltages_follows_the_form_with_voltage) {
  char text[4000];
  steading_inverter_curves curves;
  steading_unit *unit = NULL;
  steading_inverter_miss miss;
  double cubic_w = 2 * invented.c0 * invented.c0 * pow(3000, 3) / 16;
  sandia_text(text, sizeof text, "");
  unit = build(&steading_unit_spec, NULL, "%s", text);
  ck_assert_int_eq(steading_inverter_curves_of(unit, "unit", &curves, &miss, NULL), STEADING_OK);
  ck_assert_uint_eq(curves.count, 3);
  ck_assert_double_eq(steading_inverter_middle_v(&curves), 310);
  ck_assert_double_lt(miss.share, cubic_w / 300); /* at 10 % the most */
  for (double volts = 250; volts <= 420; volts += 10) {
    steading_inverter_curve c = steading_inverter_curve_at(&curves, volts);
    double low = volts <= 310 ? 250 : 310, high = volts <= 310 ? 310 : 420;
    for (double ac = 300; ac <= 3000; ac += 100) {
      double want = sandia_dc_w(&invented, ac, volts) - ac;
      double bend = sandia_dc_w(&invented, ac, low) -
                    2 * sandia_dc_w(&invented, ac, (low + high) / 2) +
                    sandia_dc_w(&invented, ac, high);
      ck_assert_double_eq_tol(1000 * steading_inverter_loss_kw(&c, ac / 1000), want,
                              cubic_w + fabs(bend) / 2 + 1e-6);
    }
  }
  /* it matters: from 250 to 420 V the loss at full power differs by more than all of that */
  ck_assert_double_gt(fabs(sandia_dc_w(&invented, 3000, 420) - sandia_dc_w(&invented, 3000, 250)),
                      10 * cubic_w);
  steading_record_release(unit);
}
END_TEST

/* Half way between two voltages the loss is the mean of theirs, at every power; outside it is that
 * of the end. */
START_TEST(between_two_voltages_losses_are_interpolated) {
  char text[4000];
  steading_inverter_curve at_280 = {0}, at_250 = {0}, at_310 = {0}, middle = {0};
  sandia_text(text, sizeof text, "dc_v = 280,");
  at_280 = curve_of(text, NULL);
  sandia_text(text, sizeof text, "dc_v = 250,");
  at_250 = curve_of(text, NULL);
  sandia_text(text, sizeof text, "dc_v = 310,");
  at_310 = curve_of(text, NULL);
  sandia_text(text, sizeof text, "");
  middle = curve_of(text, NULL);
  ck_assert_mem_eq(&middle, &at_310, sizeof middle);
  for (double kw = 0; kw <= 3; kw += 0.25)
    ck_assert_double_eq_tol(
        steading_inverter_loss_kw(&at_280, kw),
        (steading_inverter_loss_kw(&at_250, kw) + steading_inverter_loss_kw(&at_310, kw)) / 2,
        1e-14);
  sandia_text(text, sizeof text, "dc_v = 249,");
  refused_at("hubs.barn.inverter.unit.dc_v", text,
             "outside the voltages of efficiency, 250 to 420");
  sandia_text(text, sizeof text, "dc_v = 421,");
  refused_at("hubs.barn.inverter.unit.dc_v", text,
             "outside the voltages of efficiency, 250 to 420");
}
END_TEST

/* With two voltages the middle is their mean. */
START_TEST(the_middle_of_two_voltages_is_their_mean) {
  steading_inverter_curve c = curve_of(
      "{ ac_kw = 1, efficiency = { { ac_share = 0.5, volts = 200, efficiency = 0.8 }, "
      "{ ac_share = 1, volts = 200, efficiency = 0.8 }, "
      "{ ac_share = 0.5, volts = 400, efficiency = 1 }, "
      "{ ac_share = 1, volts = 400, efficiency = 1 } } }",
      NULL);
  /* losses at the rating: 1 / 0.8 - 1 = 0.25 and 0 */
  ck_assert_double_eq_tol(steading_inverter_loss_kw(&c, 1), 0.125, 1e-15);
}
END_TEST

/* --- night and heat --------------------------------------------------------------------------- */

START_TEST(a_night_draw_saves_the_difference_to_the_idle_draw) {
  steading_unit *unit = build(&steading_unit_spec, NULL, "%s",
                              "{ ac_kw = 5, night_w = 1.5, losses = { idle_w = 40 } }");
  steading_inverter_curve c;
  ck_assert_int_eq(steading_inverter_curve_of(unit, 0, "unit", &c, NULL, NULL), STEADING_OK);
  ck_assert_double_eq_tol(steading_inverter_night_saving_kw(unit, &c), 0.0385, 1e-15);
  steading_record_release(unit);
  refused_at("hubs.barn.inverter.unit.night_w",
             "{ ac_kw = 5, night_w = 41, losses = { idle_w = 40 } }", "41 is above");
}
END_TEST

/* 1 up to 45 C, 0.5 at 60 C, 0.2 at 70 C: by hand, a third of the way to 60 C is 5/6; half way to
 * 70 C is 0.35. */
START_TEST(heat_leaves_a_share_that_is_linear_between_points) {
  static const double rows[][2] = {{-30, 1},  {45, 1},    {50, 5.0 / 6}, {52.5, 0.75},
                                   {60, 0.5}, {65, 0.35}, {70, 0.2},     {90, 0.2}};
  steading_unit *unit =
      build(&steading_unit_spec, NULL, "%s",
            "{ ac_kw = 5, losses = { idle_w = 40 }, derate = { { temp_c = 45, "
            "share = 1 }, { temp_c = 60, share = 0.5 }, { temp_c = 70, share = 0.2 "
            "} } }");
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
    ck_assert_double_eq_tol(steading_inverter_derated_share(unit, rows[i][0]), rows[i][1], 1e-15);
  steading_record_release(unit);
  unit = build(&steading_unit_spec, NULL, "%s", "{ ac_kw = 5, losses = { idle_w = 40 } }");
  ck_assert_double_eq(steading_inverter_derated_share(unit, 60), 1);
  steading_record_release(unit);
}
END_TEST

/* --- warnings --------------------------------------------------------------------------------- */

/* What is said of a site with this unit; NULL: nothing. */
static void warned(const char *unit, const char *code) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather, "{ weather = @0, hubs = { barn = { inverter = { unit = { %s } } } } }", unit);
  steading_warning warnings[4];
  size_t count = steading_plant_warnings(site, warnings, 4);
  ck_assert_uint_eq(count, code == NULL ? 0 : 1);
  if (code != NULL) {
    ck_assert_str_eq(warnings[0].code, code);
    ck_assert_str_eq(warnings[0].path, "hubs.barn.inverter.unit");
  }
  steading_record_release(site);
  steading_weather_release(weather);
}

START_TEST(a_miss_above_half_a_point_is_told) {
  /* a constant efficiency is a straight line of losses; one point 3 points off it cannot be met */
  warned(
      "ac_kw = 1, efficiency = { { ac_share = 0.1, efficiency = 0.95 }, { ac_share = 0.4, "
      "efficiency = 0.95 }, { ac_share = 0.6, efficiency = 0.92 }, { ac_share = 1, efficiency = "
      "0.95 } }",
      "curve_misses_points");
  warned(
      "ac_kw = 1, efficiency = { { ac_share = 0.1, efficiency = 0.95 }, { ac_share = 0.4, "
      "efficiency = 0.95 }, { ac_share = 0.6, efficiency = 0.95 }, { ac_share = 1, efficiency = "
      "0.95 } }",
      NULL);
  warned("ac_kw = 1, idle_w = 1, efficiency = { at_10 = 0.8, at_50 = 0.95, at_100 = 0.95 }",
         "idle_misses_curve");
  warned("ac_kw = 1, efficiency = { at_10 = 0.8, at_50 = 0.95, at_100 = 0.95 }", NULL);
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
  tcase_add_test(tests, losses_by_the_two_parameters_of_schmid);
  tcase_add_test(tests, losses_in_watts_and_shares_add_up);
  tcase_add_test(tests, points_on_a_curve_give_that_curve);
  tcase_add_test(tests, points_beside_a_curve_give_least_squares_and_the_miss);
  tcase_add_test(tests, points_that_ask_for_less_than_no_idle_draw_get_none);
  tcase_add_test(tests, the_form_with_voltage_has_its_identities);
  tcase_add_test(tests, a_table_at_several_voltages_follows_the_form_with_voltage);
  tcase_add_test(tests, between_two_voltages_losses_are_interpolated);
  tcase_add_test(tests, the_middle_of_two_voltages_is_their_mean);
  tcase_add_test(tests, a_night_draw_saves_the_difference_to_the_idle_draw);
  tcase_add_test(tests, heat_leaves_a_share_that_is_linear_between_points);
  tcase_add_test(tests, a_miss_above_half_a_point_is_told);
  suite_add_tcase(suite, tests);
  return suite;
}
