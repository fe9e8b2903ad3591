/* Time value of money against published tables, a spreadsheet maker's examples and closed forms. */
#include "ledger/money.h"

#include <float.h>
#include <math.h>
#include <stdint.h>

#include "random.h"
#include "suites.h"

/* --- present values ---------------------------------------------------------------------------- */

typedef struct factor_row {
  double n, single, uniform;
} factor_row;

/* NIST, annual supplement to Handbook 135 (NISTIR 85-3273), tables, 3.0 % real. */
static const factor_row supplement[] = {{1, 0.971, 0.97},   {5, 0.863, 4.58},   {10, 0.744, 8.53},
                                        {15, 0.642, 11.94}, {20, 0.554, 14.88}, {25, 0.478, 17.41},
                                        {30, 0.412, 19.60}};

START_TEST(present_value_factors_equal_the_published_tables) {
  for (size_t i = 0; i < sizeof supplement / sizeof *supplement; i++) {
    const factor_row *row = &supplement[i];
    ck_assert_double_eq_tol(steading_money_present_value(0.03, row->n), row->single, 5e-4);
    ck_assert_double_eq_tol(steading_money_uniform_present_value(0.03, row->n), row->uniform, 5e-3);
  }
  ck_assert_double_eq(steading_money_present_value(0.03, 0), 1);
  ck_assert_double_eq(steading_money_uniform_present_value(0, 20), 20);
}
END_TEST

/* Definition of UPV* (NIST Handbook 135): the sum itself, and its closed form
 * (1 + e) / (d - e) (1 - ((1 + e) / (1 + d))^n) worked out by hand for 3 % and 20 years. */
START_TEST(the_escalated_factor_equals_its_closed_form_and_its_sum) {
  static const double expected[] = {14.877475, 16.382723, 18.081229, 20, 22.169863};
  for (int i = 0; i < 5; i++) {
    double e = i / 100.0, sum = 0;
    double factor = steading_money_escalated_present_value(0.03, e, 20);
    for (int k = 1; k <= 20; k++) sum += pow((1 + e) / 1.03, k);
    ck_assert_double_eq_tol(factor, expected[i], 1e-6);
    ck_assert_double_eq_tol(factor, sum, 1e-11);
  }
  ck_assert_double_eq(steading_money_escalated_present_value(0.03, -1, 20), 0);
}
END_TEST

START_TEST(factors_of_small_rates_approach_the_number_of_periods) {
  /* Series of (1 - (1 + d)^-n) / d: n - n (n + 1) d / 2 + ... */
  ck_assert_double_eq_tol(steading_money_uniform_present_value(1e-9, 30), 30 - 465e-9, 1e-12);
  ck_assert_double_eq_tol(steading_money_uniform_present_value(1e-300, 30), 30, 1e-12);
  ck_assert_double_eq_tol(steading_money_uniform_present_value(-1e-9, 30), 30 + 465e-9, 1e-12);
}
END_TEST

/* Uniform capital recovery factors, d / (1 - (1 + d)^-n) (NIST Handbook 135); (8 %, 10 years) is
 * 0.14903 in published tables too. */
START_TEST(payments_of_one_equal_the_capital_recovery_factors) {
  ck_assert_double_eq_tol(steading_money_payment(0.05, 20, 1), 0.0802425872, 5e-11);
  ck_assert_double_eq_tol(steading_money_payment(0.08, 10, 1), 0.1490294887, 5e-11);
  ck_assert_double_eq_tol(steading_money_payment(0.08, 20, 1), 0.1018522088, 5e-11);
  ck_assert_double_eq_tol(steading_money_payment(0.03, 20, 1), 0.0672157076, 5e-11);
  ck_assert_double_eq_tol(steading_money_payment(0.06, 30, 1), 0.0726489115, 5e-11);
}
END_TEST

/* Microsoft's documentation of PMT (8 % / 12, 10 months, 10000 and 6 % / 12, 15 months, 5000) and
 * PV (8 % / 12, 240 months, 500). */
START_TEST(payments_and_present_values_equal_the_spreadsheet_examples) {
  ck_assert_double_eq_tol(steading_money_payment(0.08 / 12, 10, 10000), 1037.032089359, 5e-9);
  ck_assert_double_eq_tol(steading_money_payment(0.06 / 12, 15, 5000), 346.82, 0.005);
  ck_assert_double_eq_tol(500 * steading_money_uniform_present_value(0.08 / 12, 240), 59777.15,
                          0.005);
}
END_TEST

/* Annuity formula worked out by hand: 25000 at 7 % / 12 over 120 months. */
START_TEST(a_loan_costs_its_payments_less_what_was_borrowed) {
  double payment = steading_money_payment(0.07 / 12, 120, 25000), owed = 25000, interest = 0;
  ck_assert_double_eq_tol(payment, 290.271198, 1e-6);
  ck_assert_double_eq_tol(120 * payment - 25000, 9832.5438, 1e-4);
  for (int month = 0; month < 120; month++) { /* the bank's book, month by month */
    interest += owed * 0.07 / 12;
    owed += owed * 0.07 / 12 - payment;
  }
  ck_assert_double_eq_tol(owed, 0, 1e-7);
  ck_assert_double_eq_tol(interest, 9832.5438, 1e-4);
  ck_assert_double_eq_tol(steading_money_payment(0, 120, 24000), 200, 1e-12);
}
END_TEST

/* Microsoft's documentation of NPV. There the first value is at the end of period 1; here flows[0]
 * is now, so the first example has a 0 in front. */
START_TEST(net_present_values_equal_the_spreadsheet_examples) {
  static const double first[] = {0, -10000, 3000, 4200, 6800};
  static const double second[] = {-40000, 8000, 9200, 10000, 12000, 14500, -9000};
  ck_assert_double_eq_tol(steading_money_npv(0.10, first, 5), 1188.443412335, 1e-8);
  ck_assert_double_eq_tol(steading_money_npv(0.08, second, 6), 1922.06, 0.005);
  ck_assert_double_eq_tol(steading_money_npv(0.08, second, 7), -3749.47, 0.005);
  ck_assert_double_eq(steading_money_npv(0.08, second, 0), 0);
}
END_TEST

/* --- internal rate of return ------------------------------------------------------------------- */

static double irr_of(const double *flows, size_t count) {
  double rate = -9;
  ck_assert_int_eq(steading_money_irr(flows, count, &rate, NULL, 0, NULL), STEADING_MONEY_FOUND);
  return rate;
}

/* Microsoft's documentation of IRR; the values with more digits than are printed there are roots of
 * the same polynomials worked out apart. */
START_TEST(rates_of_return_equal_the_spreadsheet_examples) {
  static const double shop[] = {-70000, 12000, 15000, 18000, 21000, 26000};
  static const double four[] = {-100, 39, 59, 55, 20};
  ck_assert_double_eq_tol(irr_of(shop, 5), -0.02124485, 5e-9);
  ck_assert_double_eq_tol(irr_of(shop, 6), 0.08663094803653, 5e-15);
  ck_assert_double_eq_tol(irr_of(shop, 3), -0.44350694, 5e-9);
  ck_assert_double_eq_tol(irr_of(four, 5), 0.2809484, 5e-8);
}
END_TEST

/* Exact: -c + c (1 + r) / (1 + r) = 0, at all sizes and from tiny to vast rates. */
START_TEST(a_single_return_gives_its_rate_exactly) {
  static const double rates[] = {-0.999, -0.5, -1e-6, 0, 1e-9, 0.01, 0.1, 1, 1e3, 1e9};
  static const double sizes[] = {1e-200, 1e-3, 1, 1e9, 1e200};
  for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
    for (size_t j = 0; j < sizeof sizes / sizeof *sizes; j++) {
      double flows[] = {0, 0, -sizes[j], sizes[j] * (1 + rates[i]), 0};
      double rate = irr_of(flows, 5);
      ck_assert_double_le(fabs(rate - rates[i]), 1e-15 + 4 * DBL_EPSILON * (1 + rates[i]));
    }
  }
}
END_TEST

START_TEST(flows_of_one_sign_have_no_rate) {
  static const double gains[] = {0, 1, 2, 0, 3}, costs[] = {-1, 0, -1}, nothing[] = {0, 0};
  double rate = 0;
  size_t count = 9;
  ck_assert_int_eq(steading_money_irr(gains, 5, &rate, NULL, 0, &count),
                   STEADING_MONEY_NO_SIGN_CHANGE);
  ck_assert_uint_eq(count, 0);
  ck_assert_int_eq(steading_money_irr(costs, 3, &rate, NULL, 0, NULL),
                   STEADING_MONEY_NO_SIGN_CHANGE);
  ck_assert_int_eq(steading_money_irr(nothing, 2, &rate, NULL, 0, NULL),
                   STEADING_MONEY_NO_SIGN_CHANGE);
  ck_assert_int_eq(steading_money_irr(nothing, 0, &rate, NULL, 0, NULL),
                   STEADING_MONEY_NO_SIGN_CHANGE);
}
END_TEST

/* 100 - 230 x + 132 x^2 = (10 - 11 x) (10 - 12 x) with x = 1 / (1 + r): 10 % and 20 %, exact. */
START_TEST(two_rates_are_both_reported_and_none_is_chosen) {
  static const double flows[] = {100, -230, 132};
  double rate = -9, roots[4] = {0};
  size_t count = 0;
  ck_assert_int_eq(steading_money_irr(flows, 3, &rate, roots, 4, &count),
                   STEADING_MONEY_SEVERAL_ROOTS);
  ck_assert_uint_eq(count, 2);
  ck_assert_double_eq_tol(roots[0], 0.1, 1e-12);
  ck_assert_double_eq_tol(roots[1], 0.2, 1e-12);
  ck_assert_double_eq(rate, -9);
  roots[1] = -7; /* no room for a second */
  ck_assert_int_eq(steading_money_irr(flows, 3, &rate, roots, 1, &count),
                   STEADING_MONEY_SEVERAL_ROOTS);
  ck_assert_uint_eq(count, 2);
  ck_assert_double_eq(roots[1], -7);
  ck_assert_int_eq(steading_money_irr(flows, 3, &rate, NULL, 0, NULL),
                   STEADING_MONEY_SEVERAL_ROOTS);
}
END_TEST

/* (10 - 11 x)^2, (1 - x)^2, -(1 - x)^3, (10 - 11 x)^4 and (1 - 2 x)^2 (3 - 2 x)^2: where a value
 * touches zero, or crosses it flatly, there is one rate. */
START_TEST(a_multiple_root_is_one_rate) {
  static const double ten[] = {100, -220, 121}, nought[] = {1, -2, 1}, three[] = {-1, 3, -3, 1};
  static const double four[] = {10000, -44000, 72600, -53240, 14641};
  static const double two_doubles[] = {9, -48, 88, -64, 16};
  double rate = 0, roots[4] = {0};
  size_t count = 0;
  ck_assert_double_eq_tol(irr_of(ten, 3), 0.1, 1e-12);
  ck_assert_double_eq_tol(irr_of(nought, 3), 0, 1e-12);
  ck_assert_double_eq_tol(irr_of(three, 4), 0, 1e-12);
  ck_assert_double_eq_tol(irr_of(four, 5), 0.1, 1e-12);
  ck_assert_int_eq(steading_money_irr(two_doubles, 5, &rate, roots, 4, &count),
                   STEADING_MONEY_SEVERAL_ROOTS);
  ck_assert_uint_eq(count, 2);
  ck_assert_double_eq_tol(roots[0], -1.0 / 3, 1e-12);
  ck_assert_double_eq_tol(roots[1], 1, 1e-12);
}
END_TEST

/* The discriminant of 100 - 220 x + c x^2 is 48400 - 400 c: negative above 121. */
START_TEST(signs_that_change_without_a_root_are_told_apart) {
  static const double above[] = {100, -220, 121.001}, below[] = {100, -220, 120.999};
  static const double complex_pair[] = {1, -2, 2};
  double rate = 0, roots[2] = {0};
  size_t count = 9;
  ck_assert_int_eq(steading_money_irr(above, 3, &rate, roots, 2, &count), STEADING_MONEY_NO_ROOT);
  ck_assert_uint_eq(count, 0);
  ck_assert_int_eq(steading_money_irr(complex_pair, 3, &rate, NULL, 0, NULL),
                   STEADING_MONEY_NO_ROOT);
  ck_assert_int_eq(steading_money_irr(below, 3, &rate, roots, 2, &count),
                   STEADING_MONEY_SEVERAL_ROOTS);
  ck_assert_double_eq_tol(roots[0], 120.999 * 2 / (220 + sqrt(48400 - 400 * 120.999)) - 1, 1e-10);
  ck_assert_double_eq_tol(roots[1], 120.999 * 2 / (220 - sqrt(48400 - 400 * 120.999)) - 1, 1e-10);
}
END_TEST

START_TEST(more_flows_than_fit_are_refused) {
  double flows[300], rate = 0;
  for (int k = 0; k < 300; k++) flows[k] = 1;
  flows[0] = -100;
  ck_assert_int_eq(steading_money_irr(flows, 256, &rate, NULL, 0, NULL), STEADING_MONEY_FOUND);
  ck_assert_int_eq(steading_money_irr(flows, 257, &rate, NULL, 0, NULL), STEADING_MONEY_NO_ROOT);
}
END_TEST

/* Flows built from chosen rates, at least 5 % apart, and a factor without a rate: the product's
 * coefficients are the flows. */
START_TEST(rates_that_flows_are_built_from_are_all_found) {
  for (uint64_t i = 0; i < 300; i++) {
    double flows[12] = {1}, rates[5], rate = 0, roots[12], next = -0.6;
    size_t count = 1, found = 0, wanted = 1 + (size_t)(i % 5);
    for (size_t k = 0; k < wanted; k++) {
      next += 0.05 + 0.4 * steading_random_uniform(7, 0, 9, 8 * i + k);
      rates[k] = next;
      for (size_t j = count++; j > 0; j--) flows[j] = flows[j] - flows[j - 1] * (1 + rates[k]);
    }
    if (i % 3 == 0) { /* times 1 + x^2 */
      for (size_t j = count + 1; j > 1; j--) flows[j] += flows[j - 2];
      count += 2;
    }
    steading_money_answer answer = steading_money_irr(flows, count, &rate, roots, 12, &found);
    ck_assert_int_eq(answer, wanted == 1 ? STEADING_MONEY_FOUND : STEADING_MONEY_SEVERAL_ROOTS);
    ck_assert_uint_eq(found, wanted);
    for (size_t k = 0; k < wanted; k++) ck_assert_double_eq_tol(roots[k], rates[k], 1e-8);
  }
}
END_TEST

/* Projects of random costs, replacements and savings: each rate found makes the value zero in the
 * rounding of its sum, and no sign change that a fine scan sees is missing. */
START_TEST(the_value_at_each_rate_is_zero) {
  for (uint64_t i = 0; i < 500; i++) {
    double flows[40], rate = 0, roots[40], last = 0;
    size_t count = 5 + (size_t)(i % 35), found = 0, seen = 0;
    for (size_t k = 0; k < count; k++)
      flows[k] = 1000 * steading_random_uniform(8, 0, (uint32_t)k, i);
    flows[0] = -4000;
    flows[count / 2] -= 3000 * steading_random_uniform(9, 0, 9, i); /* a replacement */
    if (i % 4 == 0) flows[count - 1] -= 8000;                       /* taking it down */
    steading_money_irr(flows, count, &rate, roots, 40, &found);
    for (size_t k = 0; k < found; k++) {
      double sizes = 0;
      for (size_t j = 0; j < count; j++) sizes += fabs(flows[j]) * pow(1 + roots[k], -(double)j);
      ck_assert_double_le(fabs(steading_money_npv(roots[k], flows, count)), 1e-13 * sizes);
    }
    for (double r = -0.9; r < 10; r += 0.001) {
      double value = steading_money_npv(r, flows, count);
      if (last != 0 && (value > 0) != (last > 0)) seen++;
      last = value;
    }
    ck_assert_uint_ge(found, seen);
    for (size_t k = 1; k < found; k++) ck_assert_double_gt(roots[k], roots[k - 1]);
  }
}
END_TEST

/* Descartes' rule of signs: sign changes less roots, by order, is even and not negative. */
START_TEST(the_number_of_rates_obeys_the_rule_of_signs) {
  for (uint64_t i = 0; i < 500; i++) {
    double flows[60], rate = 0;
    size_t count = 3 + (size_t)(i % 57), found = 0, changes = 0;
    for (size_t k = 0; k < count; k++)
      flows[k] = 2 * steading_random_uniform(10, 0, (uint32_t)k, i) - 1;
    for (size_t k = 1; k < count; k++) changes += (flows[k] > 0) != (flows[k - 1] > 0);
    steading_money_irr(flows, count, &rate, NULL, 0, &found);
    ck_assert_uint_le(found, changes);
    ck_assert_uint_eq((changes - found) % 2, 0);
  }
}
END_TEST

/* --- payback ----------------------------------------------------------------------------------- */

static double payback_of(double rate, const double *flows, size_t count) {
  double years = -1;
  ck_assert_int_eq(steading_money_payback(rate, flows, count, &years, NULL), STEADING_MONEY_FOUND);
  return years;
}

static void savings(double first, double growth, double flows[31]) {
  flows[0] = -20000;
  for (int k = 1; k <= 30; k++) flows[k] = first * pow(1 + growth, k - 1);
}

/* Closed forms, C = 20000 and S = 2000 at the end of year 1: C / S;
 * ln(1 + C e / S) / ln(1 + e); ln(1 - C (d - e) / S) / ln((1 + e) / (1 + d)), and
 * C (1 + d) / S with d = e. ASTM E1121 defines the payback; the forms follow from it. */
START_TEST(payback_equals_the_closed_forms) {
  double flows[31];
  savings(2000, 0, flows);
  ck_assert_double_eq_tol(payback_of(0, flows, 31), 10, 1e-12);
  ck_assert_double_eq_tol(payback_of(0.06, flows, 31), 15.725209, 1e-6);
  savings(2000, 0.04, flows);
  ck_assert_double_eq_tol(payback_of(0, flows, 31), 8.578942, 1e-6);
  ck_assert_double_eq_tol(payback_of(0.06, flows, 31), 11.714682, 1e-6);
  savings(2000, 0.05, flows);
  ck_assert_double_eq_tol(payback_of(0.05, flows, 31), 10.5, 1e-6);
  for (int i = 0; i < 20; i++) {
    double d = 0.003 * i, e = 0.005 * (20 - i), s = 2500;
    savings(s, e, flows);
    ck_assert_double_eq_tol(payback_of(d, flows, 31),
                            log(1 - 20000 * (d - e) / s) / log((1 + e) / (1 + d)), 1e-9);
  }
}
END_TEST

START_TEST(level_savings_pay_back_after_cost_over_saving) {
  for (int cost = 1; cost <= 40; cost++) {
    double flows[41] = {-cost * 0.1};
    for (int k = 1; k <= 40; k++) flows[k] = 0.1; /* not a binary fraction */
    ck_assert_double_eq_tol(payback_of(0, flows, 41), cost, 1e-12);
    ck_assert_double_eq_tol(payback_of(0, flows, (size_t)cost + 1), cost, 1e-12);
    flows[0] -= 0.025; /* a quarter of a year more */
    if (cost < 40) ck_assert_double_eq_tol(payback_of(0, flows, 41), cost + 0.25, 1e-12);
  }
}
END_TEST

START_TEST(a_year_unlike_the_one_before_counts_as_constant_within) {
  static const double flows[] = {-100, 10, 200, 10};
  static const double first_year[] = {-100, 200};
  ck_assert_double_eq_tol(payback_of(0, flows, 4), 1.45, 1e-12);
  ck_assert_double_eq_tol(payback_of(0, first_year, 2), 0.5, 1e-12);
  /* Half of 200 / 1.1 within the year, by (1 - q^t) / (1 - q) with q = 1 / 1.1. */
  ck_assert_double_eq_tol(payback_of(0.1, first_year, 2),
                          log(1 - 0.55 * (1 - 1 / 1.1)) / log(1 / 1.1), 1e-12);
}
END_TEST

START_TEST(payback_needs_a_cost_that_comes_first) {
  static const double gain[] = {10, -100, 200}, nothing[] = {0, 0, 0};
  static const double late[] = {0, 0, -100, 50, 50};
  double years = 0;
  ck_assert_int_eq(steading_money_payback(0, gain, 3, &years, NULL), STEADING_MONEY_NOT_AHEAD);
  ck_assert(isinf(years));
  ck_assert_int_eq(steading_money_payback(0, nothing, 3, &years, NULL), STEADING_MONEY_NOT_AHEAD);
  ck_assert_int_eq(steading_money_payback(0, nothing, 0, &years, NULL), STEADING_MONEY_NOT_AHEAD);
  ck_assert_double_eq_tol(payback_of(0, late, 5), 4, 1e-12); /* from now on, not from the cost */
}
END_TEST

START_TEST(what_never_pays_back_says_so) {
  static const double flows[] = {-100, 30, 30, 30}, costs[] = {-1, -1, 0};
  double years = 0;
  ck_assert_int_eq(steading_money_payback(0, flows, 4, &years, NULL), STEADING_MONEY_NEVER);
  ck_assert(isinf(years) && years > 0);
  ck_assert_int_eq(steading_money_payback(0, costs, 3, &years, NULL), STEADING_MONEY_NEVER);
  ck_assert_int_eq(steading_money_payback(0.2, flows, 4, &years, NULL), STEADING_MONEY_NEVER);
}
END_TEST

START_TEST(a_replacement_that_takes_the_cumulative_below_zero_again_is_flagged) {
  /* Cumulative: -100 -60 -20 20 60 -60 -20 20. The first return counts. */
  static const double flows[] = {-100, 40, 40, 40, 40, -120, 40, 40};
  double years = 0;
  bool again = false;
  ck_assert_int_eq(steading_money_payback(0, flows, 8, &years, &again), STEADING_MONEY_FOUND);
  ck_assert_double_eq_tol(years, 2.5, 1e-12);
  ck_assert(again);
  ck_assert_int_eq(steading_money_payback(0, flows, 5, &years, &again), STEADING_MONEY_FOUND);
  ck_assert(!again);
  /* A replacement before payback only delays it: -100 -60 -70 -30 10. */
  static const double early[] = {-100, 40, -10, 40, 40};
  ck_assert_int_eq(steading_money_payback(0, early, 5, &years, &again), STEADING_MONEY_FOUND);
  ck_assert_double_eq_tol(years, 3.75, 1e-12);
  ck_assert(!again);
}
END_TEST

/* With one cost, in front, each cumulative falls as the rate rises: the year of payback cannot come
 * earlier. */
START_TEST(payback_is_in_no_earlier_year_with_a_higher_rate) {
  for (uint64_t i = 0; i < 200; i++) {
    double flows[31] = {-3000}, before = 0;
    for (int k = 1; k <= 30; k++)
      flows[k] = 1000 * steading_random_uniform(11, 0, (uint32_t)k, i);
    for (int rate = 0; rate < 10; rate++) {
      double years = 0;
      steading_money_payback(0.01 * rate, flows, 31, &years, NULL);
      ck_assert_double_ge(ceil(years), before);
      before = ceil(years);
    }
  }
}
END_TEST

START_TEST(every_answer_has_a_sentence_of_its_own) {
  for (int a = STEADING_MONEY_FOUND; a <= STEADING_MONEY_NEVER; a++) {
    const char *text = steading_money_answer_text((steading_money_answer)a);
    ck_assert_str_ne(text, "unknown answer");
    for (int b = STEADING_MONEY_FOUND; b < a; b++)
      ck_assert_str_ne(text, steading_money_answer_text((steading_money_answer)b));
  }
}
END_TEST

/* For one outlay MIRR and AIRR are the same and the finance rate is not asked: MIRR(-120000, 39000,
 * 30000, 21000, 37000, 46000; 10 %, 12 %) = 12.60941303659 % (documentation of the spreadsheet
 * function MIRR). */
START_TEST(the_adjusted_rate_of_one_outlay_equals_the_published_mirr) {
  static const double flows[6] = {0, 39000, 30000, 21000, 37000, 46000};
  double ratio = steading_money_npv(0.12, flows, 6) / 120000;
  ck_assert_double_eq_tol(steading_money_adjusted_rate(0.12, ratio, 5), 0.1260941303659, 1e-13);
}
END_TEST

START_TEST(a_price_rises_by_one_rate_or_by_one_for_each_year) {
  static const double rates[3] = {0.1, 0.2, -0.5};
  ck_assert_double_eq(steading_money_rise(rates, 0, 9), 1);
  ck_assert_double_eq_tol(steading_money_rise(rates, 1, 4), 1.331, 1e-12);
  ck_assert_double_eq(steading_money_rise(rates, 3, 1), 1);
  ck_assert_double_eq_tol(steading_money_rise(rates, 3, 2), 1.1, 1e-12);
  ck_assert_double_eq_tol(steading_money_rise(rates, 3, 3), 1.32, 1e-12);
  ck_assert_double_eq_tol(steading_money_rise(rates, 3, 6), 1.32 / 8, 1e-12);
}
END_TEST

Suite *money_suite(void) {
  Suite *suite = suite_create("money");
  TCase *values = tcase_create("present values");
  TCase *rates = tcase_create("rate of return");
  TCase *payback = tcase_create("payback");
  tcase_add_test(values, present_value_factors_equal_the_published_tables);
  tcase_add_test(values, the_escalated_factor_equals_its_closed_form_and_its_sum);
  tcase_add_test(values, factors_of_small_rates_approach_the_number_of_periods);
  tcase_add_test(values, payments_of_one_equal_the_capital_recovery_factors);
  tcase_add_test(values, payments_and_present_values_equal_the_spreadsheet_examples);
  tcase_add_test(values, a_loan_costs_its_payments_less_what_was_borrowed);
  tcase_add_test(values, net_present_values_equal_the_spreadsheet_examples);
  tcase_add_test(rates, the_adjusted_rate_of_one_outlay_equals_the_published_mirr);
  tcase_add_test(rates, a_price_rises_by_one_rate_or_by_one_for_each_year);
  tcase_add_test(rates, rates_of_return_equal_the_spreadsheet_examples);
  tcase_add_test(rates, a_single_return_gives_its_rate_exactly);
  tcase_add_test(rates, flows_of_one_sign_have_no_rate);
  tcase_add_test(rates, two_rates_are_both_reported_and_none_is_chosen);
  tcase_add_test(rates, a_multiple_root_is_one_rate);
  tcase_add_test(rates, signs_that_change_without_a_root_are_told_apart);
  tcase_add_test(rates, more_flows_than_fit_are_refused);
  tcase_add_test(rates, rates_that_flows_are_built_from_are_all_found);
  tcase_add_test(rates, the_value_at_each_rate_is_zero);
  tcase_add_test(rates, the_number_of_rates_obeys_the_rule_of_signs);
  tcase_add_test(payback, payback_equals_the_closed_forms);
  tcase_add_test(payback, level_savings_pay_back_after_cost_over_saving);
  tcase_add_test(payback, a_year_unlike_the_one_before_counts_as_constant_within);
  tcase_add_test(payback, payback_needs_a_cost_that_comes_first);
  tcase_add_test(payback, what_never_pays_back_says_so);
  tcase_add_test(payback, a_replacement_that_takes_the_cumulative_below_zero_again_is_flagged);
  tcase_add_test(payback, payback_is_in_no_earlier_year_with_a_higher_rate);
  tcase_add_test(payback, every_answer_has_a_sentence_of_its_own);
  suite_add_tcase(suite, values);
  suite_add_tcase(suite, rates);
  suite_add_tcase(suite, payback);
  return suite;
}
