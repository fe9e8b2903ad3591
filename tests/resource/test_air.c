/* Temperature and wind of a weather made from twelve means. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "climates.h"
#include "resource/air.h"
#include "suites.h"

/* Erbs 1984 shape (constants from memory), hours 1 to 24, by an independent program: they sum to 0
 * and span 0.9758, the largest at 15 h, the smallest at 6 h. */
START_TEST(the_day_of_temperature_has_the_published_shape) {
  static const double rows[24] = {-0.2743, -0.3232, -0.3682, -0.4116, -0.4462, -0.4513,
                                  -0.4025, -0.2895, -0.1271, 0.0514,  0.2125,  0.3396,
                                  0.4328,  0.4959,  0.5245,  0.5067,  0.4357,  0.3223,
                                  0.1926,  0.0738,  -0.0209, -0.0950, -0.1590, -0.2190};
  double sum = 0, middles = 0, low = 0, high = 0;
  for (int t = 1; t <= 24; t++) {
    double value = steading_temp_shape(t);
    ck_assert_double_eq_tol(value, rows[t - 1], 0.00006);
    sum += value;
    middles += steading_temp_shape(t - 0.5);
    low = fmin(low, value);
    high = fmax(high, value);
  }
  ck_assert_double_eq_tol(sum, 0, 1e-12);
  ck_assert_double_eq_tol(middles, 0, 1e-12);
  ck_assert_double_eq_tol(high - low, 0.9758, 0.0001);
  ck_assert_double_eq(high, steading_temp_shape(15));
  ck_assert_double_eq(low, steading_temp_shape(6));
}
END_TEST

/* The header's promise: the mean of each month, and no jump where months meet. */
START_TEST(the_curve_of_months_keeps_their_means_and_has_no_jumps) {
  steading_climate climate = golden(1, 1);
  for (int m = 0; m < 12; m++) {
    double sum = 0, end = steading_days_before_month[m + 1];
    for (int h = steading_days_before_month[m] * 24; h < steading_days_before_month[m + 1] * 24;
         h++) {
      sum += steading_month_curve(climate.temp_mean_c, (h + 0.5) / 24);
    }
    ck_assert_double_eq_tol(sum / (days_of(m) * 24), climate.temp_mean_c[m], 1e-9);
    ck_assert_double_eq_tol(steading_month_curve(climate.temp_mean_c, end - 1e-9),
                            steading_month_curve(climate.temp_mean_c, fmod(end, 365) + 1e-9), 1e-6);
  }
}
END_TEST

/* By hand: twelve means of which six are 0 and six 20 have the spread 10. At a mean of 0: 1.45 +
 * 0.664; at 20: 0.58 less. Daily means: the logistic distribution of Erbs, Klein and Beckman 1983,
 * whose variance is worked out here from its density by a sum. */
START_TEST(temperature_spreads_as_published) {
  const double months[12] = {0, 0, 0, 20, 20, 20, 20, 20, 20, 0, 0, 0};
  double variance = 0;
  ck_assert_double_eq_tol(steading_temp_month_spread(0, months), 2.114, 1e-12);
  ck_assert_double_eq_tol(steading_temp_month_spread(20, months), 1.534, 1e-12);
  ck_assert_double_eq(steading_temp_month_spread(90, months), 0);
  for (int i = -60000; i < 60000; i++) {
    double h = (i + 0.5) / 10000, e = exp(-3.396 * fabs(h));
    variance += h * h * 3.396 * e / (1 + e) / (1 + e) / 10000;
  }
  ck_assert_double_eq_tol(steading_temp_day_spread(2, 31), 2 * sqrt(31 * variance), 1e-4);
}
END_TEST

/* The two numbers of the noons, from what they have to give: straight lines between noons make
 * daily means of (x- + 6 x + x+) / 8, whose standard deviation has to be 1 for noons of 1.1311; and
 * the mean of 365 / 12 days has to spread as the paper's month does, sqrt(3) 3.396 / (pi
 * sqrt(days)) for daily means that spread by 1. */
START_TEST(noons_give_days_and_months_their_spread) {
  const double r = STEADING_NOON_CORRELATION, s = STEADING_NOON_SPREAD;
  const double weight[3] = {0.125, 0.75, 0.125}, days = 365.0 / 12;
  double of_day = 0, of_month = 1;
  for (int i = 0; i < 3; i++)
    for (int j = 0; j < 3; j++) of_day += weight[i] * weight[j] * pow(r, abs(i - j)) * s * s;
  for (int lag = 1; lag < days; lag++) of_month += 2 * (1 - lag / days) * pow(r, lag);
  of_month *= s * s / days;
  ck_assert_double_eq_tol(of_day, 1, 0.0005);
  ck_assert_double_eq_tol(sqrt(of_month), sqrt(3 / days) * 3.396 / 3.14159265358979, 0.0005);
}
END_TEST

/* Erbs, Klein and Beckman 1984 (from memory): 5.11, 7.69, 10.27 and 12.85 K at a clearness of 0.4,
 * 0.5, 0.6 and 0.7. */
START_TEST(the_range_of_a_day_follows_its_clearness) {
  ck_assert_double_eq_tol(steading_temp_range_share(0.4, 0.5), 5.11, 0.0001);
  ck_assert_double_eq_tol(steading_temp_range_share(0.7, 0.5), 12.85, 0.0001);
  ck_assert_double_eq_tol(steading_temp_range_share(0.05, 0.5), 0.3 * 7.69, 0.0001);
  ck_assert_double_gt(steading_temp_range_share(0.01, 0.05), 0);
}
END_TEST

/* Without days that warm or cool the range of the shape in the middles of hours is that of the
 * published shape there; where they do, less is needed; where they do too much, none is left. */
START_TEST(the_shape_is_given_the_range_that_days_leave) {
  const double weight = 1, factor = 1;
  double low = 0, high = 0, still = 0;
  for (int h = 0; h < 24; h++) {
    low = fmin(low, steading_temp_shape(h + 0.5));
    high = fmax(high, steading_temp_shape(h + 0.5));
  }
  still = steading_temp_shape_range(12, 0, 1, &weight, &factor);
  ck_assert_double_eq_tol(still * (high - low), 12, 1e-6);
  ck_assert_double_lt(steading_temp_shape_range(12, 6, 1, &weight, &factor), still);
  ck_assert_double_eq(steading_temp_shape_range(0.5, 8, 1, &weight, &factor), 0);
}
END_TEST

/* Rayleigh by hand: mean c sqrt(pi) / 2; the median of any Weibull is c (ln 2)^(1 / k). */
START_TEST(wind_speeds_are_those_of_weibull) {
  double c = steading_wind_scale(5, 2), sum = 0;
  ck_assert_double_eq_tol(c, 10 / sqrt(3.14159265358979323846), 1e-9);
  ck_assert_double_eq_tol(steading_wind_speed(c, 2, 0), c * sqrt(log(2)), 1e-9);
  ck_assert_double_eq_tol(steading_wind_speed(3, 1.5, 0), 3 * pow(log(2), 1 / 1.5), 1e-9);
  ck_assert_double_eq(steading_wind_speed(0, 2, 1), 0);
  ck_assert_double_ge(steading_wind_speed(c, 2, -9), 0);
  ck_assert(isfinite(steading_wind_speed(c, 2, 9)));
  for (int h = 0; h < 24; h++) sum += steading_wind_cycle(h + 0.5) / 24;
  ck_assert_double_eq_tol(sum, 1, 1e-12);
}
END_TEST

Suite *air_suite(void) {
  Suite *suite = suite_create("resource/air");
  TCase *tcase = tcase_create("air");
  tcase_add_test(tcase, the_day_of_temperature_has_the_published_shape);
  tcase_add_test(tcase, the_curve_of_months_keeps_their_means_and_has_no_jumps);
  tcase_add_test(tcase, temperature_spreads_as_published);
  tcase_add_test(tcase, noons_give_days_and_months_their_spread);
  tcase_add_test(tcase, the_range_of_a_day_follows_its_clearness);
  tcase_add_test(tcase, the_shape_is_given_the_range_that_days_leave);
  tcase_add_test(tcase, wind_speeds_are_those_of_weibull);
  suite_add_tcase(suite, tcase);
  return suite;
}
