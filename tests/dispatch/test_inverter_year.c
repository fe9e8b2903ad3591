/* What an inverter does over a year beside its curve: its draw at night and what heat leaves of its
 * power, by arithmetic on the site's own numbers. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dispatch/reason.h"
#include "dispatch/run.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

#define HUB(unit, more)                                                                           \
  "{ weather = @0, meters = { m = { export_limit_kw = 9 } }, hubs = { h = { meter = \"m\", "      \
  "inverter = { unit = { " unit " } " more                                                        \
  " }, arrays = { { tilt_deg = 0, azimuth_deg = 180, "                                            \
  "incidence = false, soiling = 0, mismatch_loss = 0, dc_wiring_loss = 0, module = { watts = "    \
  "1000, temp_coefficient_per_c = 0, degradation_per_year = 0 }, lots = { { count = 4 } } } } } " \
  "}, buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 2000 } } } } }"

/* A hub without battery: each hour without sun saves what the night draw is below the idle draw,
 * here 38 W, and in hours with sun nothing changes. Hours are counted in the weather. */
START_TEST(a_night_draw_saves_its_difference_in_each_hour_without_sun) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *plain =
      build_site(weather, HUB("ac_kw = 5, losses = { idle_w = 40, share_of_power = 0.02 }", ""));
  const steading_site *saves = build_site(
      weather, HUB("ac_kw = 5, night_w = 2, losses = { idle_w = 40, share_of_power = 0.02 }", ""));
  steading_run *before = build_run(plain, "{ start = \"2027-01\", keep = \"steps\" }");
  steading_run *after = build_run(saves, "{ start = \"2027-01\", keep = \"steps\" }");
  build_month a = build_total(before), b = build_total(after);
  size_t dark = 0;
  for (size_t i = 0; i < HOURS; i++) {
    build_flow f = build_step(before, i), g = build_step(after, i);
    bool night = weather->ghi_w_per_m2[i] == 0;
    dark += night;
    ck_assert_double_eq_tol(f.import - g.import, night ? 0.038 : 0, 1e-12);
    ck_assert_double_eq_tol(f.inverter_loss - g.inverter_loss, night ? 0.038 : 0, 1e-12);
  }
  ck_assert_uint_gt(dark, HOURS / 3);
  ck_assert_uint_lt(dark, 2 * HOURS / 3);
  ck_assert_double_eq_tol(a.sum.import - b.sum.import, 0.038 * (double)dark, 1e-9);
  ck_assert_double_eq_tol(a.sum.export, b.sum.export, 1e-9);
  ck_assert_double_lt(fabs(b.closure_error_kwh), 1e-9);
  steading_run_release(before);
  steading_run_release(after);
  steading_record_release(plain);
  steading_record_release(saves);
  steading_weather_release(weather);
}
END_TEST

/* Two units, a year of night: import = load + 2 x 3 W. */
START_TEST(without_any_sun_the_import_is_load_and_night_draw_exactly) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      HUB("ac_kw = 5, night_w = 3, losses = { idle_w = 40 }", ", lots = { { count = 2 } }"));
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  build_month t = build_total(run);
  ck_assert_double_eq_tol(t.sum.import, 8760 * (2 + 0.006), 1e-8);
  ck_assert_double_eq_tol(t.sum.inverter_loss, 8760 * 0.006, 1e-10);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 20 C around the clock and 2 kW of grey sun from 4 kW of modules. Between 10 C and 30 C the unit
 * of 2 kW falls to a half: three quarters are left at 20 C, a half in a room of 30 C, all in one of
 * 5 C. The losses are those of 2 kW: 0.01 x 1.5^2 / 2 = 0.01125 kW at 1.5 kW. */
#define HOT                                                                                      \
  "ac_kw = 2, losses = { idle_w = 0, share_at_rating = 0.01 }, derate = { { temp_c = 10, share " \
  "= 1 }, { temp_c = 30, share = 0.5 } }"

START_TEST(heat_takes_its_share_in_every_hour) {
  static const struct {
    const char *text, *options;
    double ac_kw, sun_kw;
  } rows[] = {
      {HUB(HOT, ""), "{ start = \"2027-01\", keep = \"steps\" }", 1.5, 1.51125},
      {HUB(HOT, ""), "{ start = \"2027-01\", keep = \"steps\", step_minutes = 30 }", 1.5, 1.51125},
      {HUB(HOT, ", room_c = 30"), "{ start = \"2027-01\", keep = \"steps\" }", 1, 1.005}};
  steading_weather *weather = build_grey_weather(1);
  for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
    const steading_site *site = build_site(weather, "%s", rows[r].text);
    steading_run *run = build_run(site, rows[r].options);
    for (size_t i = 0; i < run->step_count; i++) {
      build_flow f = build_step(run, i);
      ck_assert_double_eq_tol(f.inverted, rows[r].ac_kw, 1e-12);
      ck_assert_double_eq_tol(f.pv_used, rows[r].sun_kw, 1e-12);
      ck_assert_double_eq_tol(f.import, 2 - rows[r].ac_kw, 1e-12);
      ck_assert_int_eq(run->reasons[i], STEADING_REASON_inverter_limit);
    }
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* Twelve temperatures of a room: 5 C in winter (all is left: 2 kW, of which the sun's 2 kW make
 * what 2 = P + 0.01 P^2 / 2 leaves), 30 C from April to September. */
START_TEST(a_room_may_have_a_temperature_a_month) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site =
      build_site(weather, HUB(HOT, ", room_c = { 5, 5, 5, 30, 30, 30, 30, 30, 30, 5, 5, 5 }"));
  steading_run *run = build_run(site, "{ start = \"2027-07\" }");
  double all = 2 * 2 / (1 + sqrt(1 + 4 * 0.005 * 2));
  for (size_t m = 0; m < 12; m++) {
    build_month month = build_months(run, m, 1);
    bool summer = month.month >= 4 && month.month <= 9;
    ck_assert_double_eq_tol(month.sum.inverted, (summer ? 1 : all) * (double)month.steps, 1e-9);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *inverter_year_suite(void) {
  Suite *suite = suite_create("inverter_year");
  TCase *tests = tcase_create("inverter_year");
  tcase_add_test(tests, a_night_draw_saves_its_difference_in_each_hour_without_sun);
  tcase_add_test(tests, without_any_sun_the_import_is_load_and_night_draw_exactly);
  tcase_add_test(tests, heat_takes_its_share_in_every_hour);
  tcase_add_test(tests, a_room_may_have_a_temperature_a_month);
  tcase_set_timeout(tests, 60);
  suite_add_tcase(suite, tests);
  return suite;
}
