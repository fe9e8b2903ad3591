/* Strings on one input: against a fine scan of the voltage with currents found by plain halving,
 * and by hand where a curve without resistances has its inverse in closed form. */
#include <check.h>
#include <math.h>

#include "plant/strings.h"
#include "random.h"
#include "suites.h"

static const steading_mppt_input open_input = {0, HUGE_VAL, HUGE_VAL, HUGE_VAL};

/* Two modules, numbers of the fits of Villalva's and De Soto's sheets (test_one_diode.c). */
static const steading_diode_module villalva = {
    {8.227186, 4.296683e-10, 0.335375, 1 / 160.2129, 1.391110}, 0.00318};
static const steading_diode_module de_soto = {
    {4.394943, 1.187244e-10, 1.037512, 1 / 181.7714, 1.768163}, 0.00175};

static steading_string_group group(const steading_diode_module *module, double w_per_m2,
                                   double cell_c, double in_series, double in_parallel) {
  steading_string_group g = {.in_series = in_series, .in_parallel = in_parallel};
  steading_diode_at(module, w_per_m2, cell_c, &g.curve);
  return g;
}

/* Current of one module at a voltage by halving the interval of its junction's voltage. */
static double plain_current(const steading_diode_curve *c, double volts) {
  double low = -50, high = 100, amps = 0;
  for (int i = 0; i < 60; i++) {
    double x = 0.5 * (low + high);
    amps = c->light_a - c->dark_a * (exp(fmin(x / c->slope_v, 690)) - 1) - x * c->shunt_s;
    *(x - amps * c->series_ohm > volts ? &high : &low) = x;
  }
  return amps;
}

static double plain_power(const steading_string_group *g, size_t count, double volts) {
  double amps = 0;
  for (size_t i = 0; i < count; i++)
    amps += g[i].in_parallel * plain_current(&g[i].curve, volts / g[i].in_series);
  return volts * amps;
}

START_TEST(equal_strings_give_exactly_what_their_number_says) {
  steading_string_group one = group(&villalva, 730, 41, 11, 1), many[3] = {one, one, one};
  steading_input_point single, together;
  steading_diode_peak peak;
  many[1].in_parallel = 2;
  many[2].in_parallel = 5;
  steading_diode_peak_of(&one.curve, &peak);
  steading_strings_on_input(&one, 1, &open_input, &single);
  steading_strings_on_input(many, 3, &open_input, &together);
  ck_assert_double_eq(single.volts, 11 * peak.vmp_v);
  ck_assert_double_eq(single.amps, peak.imp_a);
  ck_assert_double_eq_tol(single.watts, 11 * peak.pmp_w, 1e-12 * single.watts);
  ck_assert_double_eq(together.volts, single.volts);
  ck_assert_double_eq_tol(together.watts, 8 * single.watts, 1e-13 * together.watts);
  ck_assert_double_eq(together.apart_w, together.together_w);
  ck_assert_int_eq(together.limit, STEADING_INPUT_FREE);
}
END_TEST

/* A scan of 3000 voltages up to the highest open circuit: nowhere more power than at the point
 * found, next to it as much, and the power rises to one maximum and falls from it. */
START_TEST(unequal_strings_meet_a_fine_scan_and_have_one_maximum) {
  for (uint64_t i = 0; i < 60; i++) {
    double u[9], top = 0, before = 0, most = 0, at = 0;
    size_t count = 2 + i % 2;
    bool falls = false;
    steading_string_group g[3];
    steading_input_point p;
    for (uint32_t k = 0; k < 9; k++) u[k] = steading_random_uniform(21, 0, k, i);
    for (size_t k = 0; k < count; k++) {
      g[k] = group(k == 1 ? &de_soto : &villalva, k == 0 ? 1000 * u[0] : 1000 * u[k] * u[k],
                   80 * u[3 + k] - 10, floor(5 + 10 * u[6 + k]), floor(1 + 3 * u[k]));
      top = fmax(top, g[k].in_series * steading_diode_voc_v(&g[k].curve));
    }
    steading_strings_on_input(g, count, &open_input, &p);
    for (int k = 1; k <= 3000; k++) {
      double volts = top * k / 3000, watts = plain_power(g, count, volts);
      if (falls) ck_assert_double_lt(watts, before);
      if (watts < before) falls = true;
      if (watts > most) {
        most = watts;
        at = volts;
      }
      before = watts;
    }
    ck_assert_double_ge(p.watts, most * (1 - 1e-12));
    ck_assert_double_lt(p.watts, most * (1 + 1e-4));
    ck_assert_double_eq_tol(p.volts, at, 1.001 * top / 3000);
    ck_assert_double_eq_tol(p.watts, plain_power(g, count, p.volts), 1e-9 * p.watts);
    ck_assert_double_ge(p.watts, plain_power(g, count, p.volts * (1 + 1e-5)));
    ck_assert_double_ge(p.watts, plain_power(g, count, p.volts * (1 - 1e-5)));
    ck_assert_double_eq(p.watts, p.together_w);
    ck_assert_double_eq_tol(p.amps, steading_strings_current_a(g, count, p.volts), 1e-9 * p.amps);
  }
}
END_TEST

/* Groups of very unequal strings, dark ones among them, whose power has several knees: never more
 * than the best of a scan by halving, and within a step of the scan of it. */
START_TEST(very_unequal_strings_never_give_more_than_the_best_of_a_scan) {
  for (uint64_t i = 0; i < 4000; i++) {
    steading_string_group g[3];
    steading_input_point point;
    double most_v = 0, best = 0;
    for (uint32_t k = 0; k < 3; k++) {
      double in_series = 1 + floor(20 * steading_random_uniform(37, k, 0, i));
      double in_parallel = 1 + floor(7 * steading_random_uniform(37, k, 1, i));
      double light = steading_random_uniform(37, k, 2, i),
             dark = steading_random_uniform(37, k, 3, i);
      g[k] = group(k == 1 ? &de_soto : &villalva, dark < 0.15 ? 0 : 5 + 1100 * light, 25, in_series,
                   in_parallel);
      most_v = fmax(most_v, 50 * in_series);
    }
    steading_strings_on_input(g, 3, &open_input, &point);
    for (int n = 1; n < 400; n++)
      best = fmax(best, n * most_v / 400 * steading_strings_current_a(g, 3, n * most_v / 400));
    ck_assert_double_ge(point.together_w, best * (1 - 1e-9));
    if (point.together_w > 0)
      ck_assert_double_eq_tol(plain_power(g, 3, point.volts), point.together_w,
                              1e-6 * point.together_w);
  }
}
END_TEST

/* A short dark string beside a long bright one: Newton alone goes back and forth between 23.9 and
 * 81.2 V for ever. The best of a scan by halving is 1428 W. */
START_TEST(a_short_dark_string_beside_a_long_bright_one_is_solved) {
  const steading_diode_sheet sheets[2] = {
      {6.6636183193732315, 11.759757025590055, 6.1711944682080047, 9.6100229792196394,
       0.0051675411965076759, -0.028705646550327073, 18},
      {15.377929387067992, 28.06223489544692, 12.754075921700995, 23.152684363775094,
       0.0056630697682390806, -0.10555806202744557, 45}};
  steading_diode_module modules[2];
  steading_string_group g[2];
  steading_input_point point;
  double best = 0;
  for (int k = 0; k < 2; k++)
    ck_assert_int_eq(steading_diode_fit(&sheets[k], "", &modules[k], NULL), STEADING_OK);
  g[0] = group(&modules[0], 0, 69.265313484995261, 3, 2);
  g[1] = group(&modules[1], 1126.3075016468442, -18.414461521015546, 19, 3);
  for (int n = 1; n < 20000; n++) best = fmax(best, plain_power(g, 2, n * 0.03));
  steading_strings_on_input(g, 2, &open_input, &point);
  ck_assert_double_eq_tol(best, 1428, 1);
  ck_assert_double_ge(point.together_w, best * (1 - 1e-9));
  ck_assert_double_le(point.together_w, best * (1 + 1e-3));
}
END_TEST

START_TEST(mixing_costs_what_is_missing_to_each_string_alone) {
  steading_string_group g[2] = {group(&villalva, 900, 45, 11, 2), group(&villalva, 900, 45, 9, 2)};
  steading_input_point both, first, second;
  steading_strings_on_input(&g[0], 1, &open_input, &first);
  steading_strings_on_input(&g[1], 1, &open_input, &second);
  steading_strings_on_input(g, 2, &open_input, &both);
  ck_assert_double_eq_tol(both.apart_w, first.watts + second.watts, 1e-12 * both.apart_w);
  ck_assert_double_lt(both.together_w, 0.97 * both.apart_w);
  ck_assert(both.volts > second.volts && both.volts < first.volts);
  g[1] = group(&villalva, 900, 45, 11, 3); /* as long: only the light may differ */
  steading_strings_on_input(g, 2, &open_input, &both);
  ck_assert_double_eq(both.together_w, both.apart_w);
  g[1] = group(&villalva, 300, 25, 11, 3);
  steading_strings_on_input(g, 2, &open_input, &both);
  ck_assert_double_lt(both.together_w, both.apart_w);
}
END_TEST

/* A dark string beside a bright one takes what its diode carries: by hand dark [exp(V / slope) - 1]
 * for a module without resistances. */
START_TEST(a_dark_string_takes_current) {
  const steading_diode_module bare = {{8, 1e-9, 0, 0, 1.4}, 0};
  steading_string_group g[2] = {group(&bare, 1000, 25, 10, 1), group(&bare, 0, 25, 10, 1)};
  steading_input_point p;
  double amps = 0;
  steading_strings_on_input(g, 2, &open_input, &p);
  amps = 8 - 2e-9 * (exp(p.volts / 10 / 1.4) - 1);
  ck_assert_double_eq_tol(p.amps, amps, 1e-9);
  ck_assert_double_lt(p.together_w, 0.99 * p.apart_w);
  g[1].in_parallel = 0;
  steading_strings_on_input(g, 2, &open_input, &p);
  ck_assert_double_eq(p.together_w, p.apart_w);
}
END_TEST

/* A module of 8 A, 1e-9 A and 1.4 V without resistances, 10 in series and 2 in parallel: at I the
 * string has 14 V ln((16 - I) / 2e-9 + 1). */
static steading_string_group closed(void) {
  return (steading_string_group){.curve = {8, 1e-9, 0, 0, 1.4}, .in_series = 10, .in_parallel = 2};
}

static double closed_amps(double volts) { return 16 - 2e-9 * (exp(volts / 14) - 1); }
static double closed_volts(double amps) { return 14 * log((16 - amps) / 2e-9 + 1); }

START_TEST(power_beyond_the_limit_is_cut) {
  steading_string_group g = closed();
  steading_mppt_input input = open_input;
  steading_input_point p;
  input.most_w = 3000;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_double_eq(p.watts, 3000);
  ck_assert_int_eq(p.limit, STEADING_INPUT_POWER);
  ck_assert_double_gt(p.together_w, 3600); /* about 16 A x 230 V x 0.93 */
  input.most_w = 5000;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_double_eq(p.watts, p.together_w);
  ck_assert_int_eq(p.limit, STEADING_INPUT_FREE);
}
END_TEST

/* 12 A at 14 ln(4 / 2e-9 + 1) = 14 x 21.4164 = 299.83 V. */
START_TEST(current_beyond_the_limit_moves_the_voltage_up) {
  steading_string_group g = closed();
  steading_mppt_input input = open_input;
  steading_input_point p;
  input.most_a = 12;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_int_eq(p.limit, STEADING_INPUT_CURRENT);
  ck_assert_double_eq_tol(closed_volts(12), 299.83, 0.005);
  ck_assert_double_eq_tol(p.volts, closed_volts(12), 1e-9);
  ck_assert_double_eq_tol(p.amps, 12, 1e-9);
  ck_assert_double_eq_tol(p.watts, 12 * closed_volts(12), 1e-6);
  input.most_w = 3500;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_int_eq(p.limit, STEADING_INPUT_POWER);
  ck_assert_double_eq(p.watts, 3500);
  input.highest_v = 290; /* there the current would be closed_amps(290) = 14.0 A: too much */
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_double_gt(closed_amps(290), 12);
  ck_assert_int_eq(p.limit, STEADING_INPUT_OFF);
  ck_assert_double_eq(p.watts, 0);
  input = open_input;
  input.most_a = 0;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_double_eq_tol(p.watts, 0, 1e-6);
}
END_TEST

START_TEST(a_window_holds_the_voltage_at_its_end) {
  steading_string_group g = closed();
  steading_mppt_input input = open_input;
  steading_input_point p;
  input.highest_v = 200;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_int_eq(p.limit, STEADING_INPUT_WINDOW);
  ck_assert_double_eq(p.volts, 200);
  ck_assert_double_eq_tol(p.watts, 200 * closed_amps(200), 1e-9);
  input.lowest_v = 300;
  input.highest_v = 500;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_int_eq(p.limit, STEADING_INPUT_WINDOW);
  ck_assert_double_eq(p.volts, 300);
  ck_assert_double_eq_tol(p.watts, 300 * closed_amps(300), 1e-8);
  input.lowest_v = 320; /* open circuit: 14 ln(8e9 + 1) = 319.2 V */
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_int_eq(p.limit, STEADING_INPUT_OFF);
  ck_assert_double_eq(p.watts, 0);
  ck_assert_double_eq(p.volts, 0);
  ck_assert_double_gt(p.together_w, 3600);
  input.lowest_v = 100;
  steading_strings_on_input(&g, 1, &input, &p);
  ck_assert_int_eq(p.limit, STEADING_INPUT_FREE);
}
END_TEST

START_TEST(in_the_dark_and_without_strings_there_is_nothing) {
  steading_string_group g[2] = {group(&villalva, 0, 5, 11, 2), group(&de_soto, -3, 5, 9, 1)};
  steading_input_point p;
  for (size_t count = 0; count <= 2; count++) {
    steading_strings_on_input(g, count, &open_input, &p);
    ck_assert(p.watts == 0 && p.volts == 0 && p.amps == 0 && p.apart_w == 0 && p.together_w == 0);
    ck_assert_int_eq(p.limit, STEADING_INPUT_FREE);
  }
}
END_TEST

/* At 25 C and 1000 W/m2, by the definition of the closed curve: 1.4 ln(8e9 + 1) = 31.92 V a module.
 * 1000 V carry 31 (989.5 V) and not 32 (1021.4 V). */
START_TEST(numbers_of_modules_in_series_by_hand) {
  const steading_diode_module bare = {{8, 1e-9, 0, 0, 1.4}, 0};
  steading_diode_peak peak;
  double one = 1.4 * log(8e9 + 1);
  ck_assert_double_eq_tol(one, 31.92, 0.005);
  ck_assert_double_eq_tol(steading_string_open_v(&bare, 13, 1000, 25), 13 * one, 1e-8);
  ck_assert_int_eq(steading_string_most_in_series(&bare, 1000, 1000, 25), 31);
  ck_assert_int_eq(steading_string_most_in_series(&bare, 31.92 * 0.99, 1000, 25), 0);
  ck_assert_int_eq(steading_string_most_in_series(&bare, 600, 0, 25), 0); /* no light, no limit */
  ck_assert_double_gt(steading_string_open_v(&bare, 13, 1000, -28), 13 * one * 1.1);
  steading_diode_peak_of(&bare.reference, &peak);
  ck_assert_int_eq(steading_string_fewest_in_series(&bare, 120, 1000, 25),
                   (int)ceil(120 / peak.vmp_v));
  ck_assert_int_gt(steading_string_fewest_in_series(&bare, 120, 1000, 75),
                   steading_string_fewest_in_series(&bare, 120, 1000, 25));
}
END_TEST

Suite *strings_suite(void) {
  Suite *suite = suite_create("strings");
  TCase *tests = tcase_create("strings");
  tcase_add_test(tests, equal_strings_give_exactly_what_their_number_says);
  tcase_add_test(tests, unequal_strings_meet_a_fine_scan_and_have_one_maximum);
  tcase_add_test(tests, very_unequal_strings_never_give_more_than_the_best_of_a_scan);
  tcase_add_test(tests, a_short_dark_string_beside_a_long_bright_one_is_solved);
  tcase_add_test(tests, mixing_costs_what_is_missing_to_each_string_alone);
  tcase_add_test(tests, a_dark_string_takes_current);
  tcase_add_test(tests, power_beyond_the_limit_is_cut);
  tcase_add_test(tests, current_beyond_the_limit_moves_the_voltage_up);
  tcase_add_test(tests, a_window_holds_the_voltage_at_its_end);
  tcase_add_test(tests, in_the_dark_and_without_strings_there_is_nothing);
  tcase_add_test(tests, numbers_of_modules_in_series_by_hand);
  suite_add_tcase(suite, tests);
  return suite;
}
