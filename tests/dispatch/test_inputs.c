/* Strings on the MPPT inputs of a hub's units, through a run: what inputs take in, what they hold
 * back, what unequal strings cost. The module is the 200 W module of Villalva, Gazoli and Ruppert
 * 2009 by its data sheet. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dispatch/arrays.h"
#include "plant/array_check.h"
#include "plant/check.h"
#include "plant/hub_curve.h"
#include "plant/strings.h"
#include "suites.h"

#define SHEET                                                                                      \
  "module = { watts = 200.143, temp_coefficient_per_c = -0.0048, noct_c = 47, model = "            \
  "\"one_diode\", isc_a = 8.21, voc_v = 32.9, imp_a = 7.61, vmp_v = 26.3, isc_a_per_c = 0.00318, " \
  "voc_v_per_c = -0.123, cells = 54 }"
/* No loss of its own: what is worked out is what the strings give. */
#define BARE                                                                              \
  "incidence = false, soiling = 0, mismatch_loss = 0, dc_wiring_loss = 0, tilt_deg = 0, " \
  "azimuth_deg = 180, "

/* A site of one hub whose unit has the input `input`, and these arrays. */
static const steading_site *site_of(steading_weather *weather, int units, const char *input,
                                    const char *arrays) {
  return build_site(weather,
                    "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = "
                    "{ lots = { { count = %d } }, unit = { ac_kw = 50, inputs = { a = { %s } }, "
                    "efficiency = { at_10 = 1, at_100 = 1 } } }, arrays = { %s } } }, buildings = "
                    "{ b = { hub = \"h\", loads = { { kind = \"steady\", watts = 40000 } } } } }",
                    units, input, arrays);
}

/* Grey light of 500 W/m2 at 20 C: cells at 20 + 27 / 800 x 500 = 36.875 C. */
static double grey_w(void) {
  const steading_diode_sheet sheet = {8.21, 32.9, 7.61, 26.3, 0.00318, -0.123, 54};
  steading_diode_module module;
  steading_diode_curve curve;
  double best = 0;
  ck_assert_int_eq(steading_diode_fit(&sheet, "", &module, NULL), STEADING_OK);
  steading_diode_at(&module, 500, 36.875, &curve);
  for (int k = 0; k < 40000; k++) { /* the best point by trying all voltages */
    double volts = 33.0 * k / 40000;
    best = fmax(best, volts * steading_diode_current_a(&curve, volts));
  }
  return best;
}

static const steading_hub_flow *noon_of(const steading_run *run) {
  return steading_hub_flow_of(&run->layout, run->steps + 12 * run->layout.width, 0);
}

/* 24 modules, two strings of twelve on one unit: 24 times what one gives, nothing held back. */
START_TEST(equal_strings_within_the_limits_give_what_their_number_says) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site = site_of(weather, 1, "window_v = { 100, 600 }",
                                      "{ " BARE SHEET
                                      ", lots = { { count = 24 } }, strings = { in_series = 12, "
                                      "in_parallel = 2, input = \"a\" } }");
  steading_run *run = build_run(site, "{ keep = \"steps\" }");
  ck_assert_double_eq_tol(noon_of(run)->pv_available, 24 * grey_w() / 1000, 1e-7);
  ck_assert_double_eq(noon_of(run)->pv_curtailed, 0);
  ck_assert_double_eq(noon_of(run)->pv_used, noon_of(run)->pv_available);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* The limits of an input are for each unit: most_kw 1 with one unit and with two of them. What is
 * there beyond them is available and not taken. */
START_TEST(power_beyond_an_input_is_available_and_not_taken) {
  steading_weather *weather = build_grey_weather(1);
  double all = 24 * grey_w() / 1000;
  for (int units = 1; units <= 2; units++) {
    const steading_site *site =
        site_of(weather, units, "window_v = { 100, 600 }, most_kw = 1",
                "{ " BARE SHEET
                ", lots = { { count = 24 } }, strings = { in_series = 12, input = "
                "\"a\" } }");
    steading_run *run = build_run(site, "{ keep = \"steps\" }");
    ck_assert_double_gt(all, 2);
    ck_assert_double_eq_tol(noon_of(run)->pv_available, all, 1e-7);
    ck_assert_double_eq_tol(noon_of(run)->pv_used, units, 1e-9);
    ck_assert_double_eq_tol(noon_of(run)->pv_curtailed, all - units, 1e-7);
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* Most current, and a window that lies above and below the best voltage: the best point that is
 * left, by trying all voltages of the string's curve. */
START_TEST(window_and_current_leave_the_best_point_within_them) {
  static const struct {
    const char *input;
    double lowest_v, highest_v, most_a;
  } rows[] = {{"window_v = { 100, 600 }, most_a = 6", 100, 600, 6},
              {"window_v = { 320, 600 }", 320, 600, 1e9},
              {"window_v = { 100, 250 }", 100, 250, 1e9},
              {"window_v = { 370, 600 }", 370, 600, 1e9} /* above the open voltage: off */};
  const steading_diode_sheet sheet = {8.21, 32.9, 7.61, 26.3, 0.00318, -0.123, 54};
  steading_weather *weather = build_grey_weather(1);
  steading_diode_module module;
  steading_diode_curve curve;
  ck_assert_int_eq(steading_diode_fit(&sheet, "", &module, NULL), STEADING_OK);
  steading_diode_at(&module, 500, 36.875, &curve);
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    const steading_site *site =
        site_of(weather, 1, rows[i].input,
                "{ " BARE SHEET
                ", lots = { { count = 24 } }, strings = { in_series = 12, input = "
                "\"a\" } }");
    steading_run *run = build_run(site, "{ keep = \"steps\" }");
    double best = 0;
    for (int k = 0; k <= 400000; k++) {
      double volts = 400.0 * k / 400000, amps = 2 * steading_diode_current_a(&curve, volts / 12);
      if (volts < rows[i].lowest_v || volts > rows[i].highest_v || amps > rows[i].most_a) continue;
      best = fmax(best, volts * amps / 1000);
    }
    ck_assert_double_eq_tol(noon_of(run)->pv_used, best, 1e-4 * (1 + best));
    ck_assert_double_eq_tol(noon_of(run)->pv_available, 24 * grey_w() / 1000, 1e-7);
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* Old strings of twelve and new ones of nine on one input: together they give the best point at a
 * common voltage, by trying all of them; each on an input of its own gives more. */
START_TEST(unequal_strings_give_less_together_than_apart) {
  static const char *const arrays =
      "{ " BARE SHEET
      ", lots = { { count = 24 } }, strings = { in_series = 12, input = \"a\" } }, "
      "{ " BARE SHEET ", lots = { { count = 9 } }, strings = { in_series = 9, input = \"%s\" } }";
  const steading_diode_sheet sheet = {8.21, 32.9, 7.61, 26.3, 0.00318, -0.123, 54};
  steading_weather *weather = build_grey_weather(1);
  steading_diode_module module;
  steading_diode_curve curve;
  double best = 0, used[2];
  ck_assert_int_eq(steading_diode_fit(&sheet, "", &module, NULL), STEADING_OK);
  steading_diode_at(&module, 500, 36.875, &curve);
  for (int k = 0; k <= 400000; k++) {
    double volts = 400.0 * k / 400000;
    double amps = 2 * steading_diode_current_a(&curve, volts / 12) +
                  steading_diode_current_a(&curve, volts / 9);
    best = fmax(best, volts * amps / 1000);
  }
  for (int k = 0; k < 2; k++) {
    char text[2048];
    const steading_site *site = NULL;
    steading_run *run = NULL;
    snprintf(text, sizeof text, arrays, k == 0 ? "a" : "b");
    site = site_of(weather, 1, "window_v = { 50, 600 } }, b = { window_v = { 50, 600 }", text);
    run = build_run(site, "{ keep = \"steps\" }");
    used[k] = noon_of(run)->pv_used;
    steading_run_release(run);
    steading_record_release(site);
  }
  ck_assert_double_eq_tol(used[0], best, 1e-4 * best);
  ck_assert_double_eq_tol(used[1], 33 * grey_w() / 1000, 1e-7);
  ck_assert_double_lt(used[0], 0.99 * used[1]);
  steading_weather_release(weather);
}
END_TEST

/* Age and constant losses take current: 10 % of dirt is 10 % of the power; beside that the limits
 * see what is left. In its second year a module that loses 1 % a year has 1 % less. */
START_TEST(losses_and_age_count_as_fewer_strings) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site =
      site_of(weather, 1, "window_v = { 100, 600 }, most_kw = 1.9",
              "{ incidence = false, soiling = 0.1, mismatch_loss = 0, dc_wiring_loss = 0, tilt_deg "
              "= 0, azimuth_deg = 180, " SHEET
              ", lots = { { count = 24 } }, strings = { in_series = 12, input = \"a\" } }");
  steading_run *run = build_run(site, "{ keep = \"steps\", years = 2 }");
  const double *row = run->steps + (STEADING_HOURS_PER_YEAR + 12) * run->layout.width;
  double first = 24 * grey_w() * 0.9 / 1000;
  ck_assert_double_gt(first, 1.9);
  ck_assert_double_eq_tol(noon_of(run)->pv_available, first, 1e-7);
  ck_assert_double_eq_tol(noon_of(run)->pv_used, 1.9, 1e-9);
  ck_assert_double_eq_tol(steading_hub_flow_of(&run->layout, row, 0)->pv_available, first * 0.995,
                          1e-7);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A run of another step than the weather's: the same energy. */
START_TEST(finer_and_coarser_steps_give_the_same_energy) {
  steading_weather *weather = build_sunny_weather(1);
  double sums[2] = {0, 0};
  const steading_site *site =
      site_of(weather, 1, "window_v = { 100, 280 }, most_kw = 3",
              "{ " BARE SHEET
              ", lots = { { count = 24 } }, strings = { in_series = 12, input = "
              "\"a\" } }");
  for (int k = 0; k < 2; k++) {
    steading_run *run = build_run(site, k == 0 ? "{ step_minutes = 60 }" : "{ step_minutes = 15 }");
    for (size_t m = 0; m < run->month_count; m++)
      sums[k] += steading_hub_flow_of(&run->layout, run->sums + m * run->layout.width, 0)->pv_used *
                 run->step_minutes / 60;
    steading_run_release(run);
  }
  ck_assert_double_gt(sums[0], 1000);
  ck_assert_double_eq_tol(sums[0], sums[1], 1e-9 * sums[0]);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Twelve modules open at -28 C: 12 (32.9 + 53 x 0.123) = 473.03 V by the sheet's coefficient; the
 * one-diode curve, whose voltage is not quite straight in temperature, comes to within 1 %. */
START_TEST(a_string_that_is_too_long_in_the_cold_is_told) {
  static const struct {
    double most_v, window_v;
    const char *code;
  } rows[] = {{460, 100, "string_above_most_v"},
              {500, 100, NULL},
              {500, 330, "string_below_window"},
              {390, 100, "string_above_most_v"}};
  steading_weather *weather = build_grey_weather(1);
  weather->has_record_low = true;
  weather->record_low_c = -28;
  for (size_t i = 0; i < 4; i++) {
    steading_warning warnings[8];
    char input[96];
    const steading_site *site = NULL;
    size_t count = 0;
    if (i == 3) weather->record_low_c = 45; /* the weather's 20 C are colder: 402 V */
    snprintf(input, sizeof input, "window_v = { %g, 600 }, most_v = %g", rows[i].window_v,
             rows[i].most_v);
    site = site_of(weather, 1, input,
                   "{ " BARE SHEET
                   ", lots = { { count = 24 } }, strings = { in_series = 12, input "
                   "= \"a\" } }");
    count = steading_plant_warnings(site, warnings, 8);
    ck_assert_uint_eq(count, rows[i].code == NULL ? 0 : 1);
    if (count == 1) ck_assert_str_eq(warnings[0].code, rows[i].code);
    if (i == 0) {
      double volts = 0;
      ck_assert_int_eq(sscanf(warnings[0].text, "open, the string reaches %lf V", &volts), 1);
      ck_assert_double_eq_tol(volts, 12 * (32.9 + 53 * 0.123), 0.01 * 473);
      ck_assert_ptr_nonnull(strstr(warnings[0].text, "licensed practice"));
    }
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* Twelve modules at 800 W/m2 and 47 C work at 12 x 23.70 V = 284.4 V (an independent fit of the
 * sheet). A unit measured at 200 and 400 V, with idle draws of 20 and 40 W and no other loss, draws
 * 20 + 20 x 84.4 / 200 = 28.44 W there; 30 W in the middle without strings; 40 W at the nearer end
 * with twenty in series (474 V). */
START_TEST(the_strings_set_the_voltage_of_the_unit) {
  static const struct {
    const char *strings;
    double idle_w;
  } rows[] = {{"strings = { in_series = 12, input = \"a\" }", 28.44},
              {"strings = { in_series = 20, input = \"a\" }", 40},
              {"", 30}};
  steading_weather *weather = build_grey_weather(1);
  for (size_t i = 0; i < 3; i++) {
    steading_inverter_curve curve;
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
        "ac_kw = 2, inputs = { a = { window_v = { 50, 900 } } }, efficiency = { { ac_kw = 1, volts "
        "= 200, efficiency = %.17g }, { ac_kw = 2, volts = 200, efficiency = %.17g }, { ac_kw = 1, "
        "volts = 400, efficiency = %.17g }, { ac_kw = 2, volts = 400, efficiency = %.17g } } } }, "
        "arrays = { { " BARE SHEET ", lots = { { count = 60 } }, %s } } } } }",
        1 / 1.02, 2 / 2.02, 1 / 1.04, 2 / 2.04, rows[i].strings);
    const steading_hub *hub = (const void *)site->hubs->entries[0].item;
    ck_assert_int_eq(steading_hub_curve_of(hub, "", &curve, NULL, NULL), STEADING_OK);
    ck_assert_double_eq_tol(curve.idle_kw * 1000, rows[i].idle_w, 0.01);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* The same unit with strings of twelve, which draws 28.44 W: 28 W at night are less, 29 W are not,
 * though both are below the 30 W of the middle voltage. */
START_TEST(a_night_draw_is_compared_at_the_voltage_of_the_strings) {
  steading_weather *weather = build_grey_weather(1);
  for (int night_w = 28; night_w <= 29; night_w++) {
    steading_error error = {.status = STEADING_OK};
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
        "ac_kw = 2, night_w = %d, inputs = { a = { window_v = { 50, 900 } } }, efficiency = { { "
        "ac_kw = 1, volts = 200, efficiency = %.17g }, { ac_kw = 2, volts = 200, efficiency = "
        "%.17g }, { ac_kw = 1, volts = 400, efficiency = %.17g }, { ac_kw = 2, volts = 400, "
        "efficiency = %.17g } } } }, arrays = { { " BARE SHEET
        ", lots = { { count = 60 } }, strings = { in_series = 12, input = \"a\" } } } } } }",
        night_w, 1 / 1.02, 2 / 2.02, 1 / 1.04, 2 / 2.04);
    ck_assert_int_eq(steading_plant_check(site, &error),
                     night_w == 28 ? STEADING_OK : STEADING_BAD_INPUT);
    if (night_w == 29) ck_assert_str_eq(error.path, "site.hubs.h.inverter.unit.night_w");
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* What cannot be wired, or cannot be fitted, is refused with its place. */
START_TEST(what_cannot_be_wired_is_refused) {
  static const struct {
    const char *array, *path, *text;
  } rows[] = {
      {"lots = { { count = 23 } }, strings = { in_series = 12, input = \"a\" }",
       "site.hubs.h.arrays[1].lots[1].count",
       "23 modules are no whole number of strings of 12 in series"},
      {"lots = { { count = 24 } }, strings = { in_series = 12, in_parallel = 3, input = \"a\" }",
       "site.hubs.h.arrays[1].strings.in_parallel",
       "3 strings of 12 are 36 modules, but at most 24 of the lots are in service at a time; leave "
       "in_parallel away where lots say it"},
      {"lots = { { count = 24 } }, strings = { in_series = 12, input = \"aa\" }",
       "site.hubs.h.arrays[1].strings.input", "the unit has no input 'aa'; it has a"},
      {"strings = { in_series = 2, input = \"a\" }", "site.hubs.h.arrays[1].strings.in_series",
       "2 modules in series, but without lots there is one module"}};
  steading_weather *weather = build_grey_weather(1);
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    char array[1024];
    const steading_site *site = NULL;
    steading_error error = {.status = STEADING_OK};
    snprintf(array, sizeof array, "{ " BARE SHEET ", %s }", rows[i].array);
    site = site_of(weather, 1, "window_v = { 100, 600 }", array);
    ck_assert_int_eq(steading_plant_check(site, &error), STEADING_BAD_INPUT);
    ck_assert_str_eq(error.path, rows[i].path);
    ck_assert_str_eq(error.text, rows[i].text);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

Suite *inputs_suite(void) {
  Suite *suite = suite_create("inputs");
  TCase *tests = tcase_create("inputs");
  tcase_add_test(tests, equal_strings_within_the_limits_give_what_their_number_says);
  tcase_add_test(tests, power_beyond_an_input_is_available_and_not_taken);
  tcase_add_test(tests, window_and_current_leave_the_best_point_within_them);
  tcase_add_test(tests, unequal_strings_give_less_together_than_apart);
  tcase_add_test(tests, losses_and_age_count_as_fewer_strings);
  tcase_add_test(tests, finer_and_coarser_steps_give_the_same_energy);
  tcase_add_test(tests, a_string_that_is_too_long_in_the_cold_is_told);
  tcase_add_test(tests, the_strings_set_the_voltage_of_the_unit);
  tcase_add_test(tests, a_night_draw_is_compared_at_the_voltage_of_the_strings);
  tcase_add_test(tests, what_cannot_be_wired_is_refused);
  suite_add_tcase(suite, tests);
  return suite;
}
