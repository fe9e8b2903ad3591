/* Lots that come and go during a run: what they bring and take, by arithmetic on the site's own
 * numbers. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "suites.h"

enum { DAY = 24, HOURS = STEADING_HOURS_PER_YEAR };

/* First hour of a day of a run that begins on 1 January 2027. */
static size_t hour_of(int month, int day) {
  return DAY * (size_t)(steading_days_before_month[month - 1] + day - 1);
}

/* A hub with a battery of modules of 5 kWh and a steady load of `watts`. */
static const steading_site *with_battery(steading_weather *weather, const char *lots,
                                         double watts) {
  return build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 9, efficiency = { at_10 = 1, at_100 = 1 } } }, battery = { module = { kwh = 5, "
      "charge_kw = 3, discharge_kw = 3, round_trip_efficiency = 0.81 }, lots = { %s } }, "
      "rules = { battery_floor = 0.2 } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = %g } } } } }",
      lots, watts);
}

/* What enters less what leaves and stays, over the whole run, with what lots brought and took. */
static double missed(const steading_run *run, double stored_at_start) {
  const build_month t = build_total(run);
  const double after = build_step(run, run->step_count - 1).stored_kwh;
  return t.sum.pv_used + t.sum.import + t.delivered_kwh - t.sum.hub_served - t.sum.meter_served -
         t.sum.export - t.sum.inverter_loss - t.sum.battery_loss - t.sum.standby - t.removed_kwh -
         (after - stored_at_start);
}

/* Two modules half way between 2 and 10 kWh hold 6. On 15 March two come with 0.4 of 10 kWh: 10.
 * On 1 June the first two leave: half of the four modules take half of what is stored, 5. On 2 June
 * the last two come with the usual 0.3: 3. */
START_TEST(modules_bring_their_charge_and_take_their_share_at_midnight) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      with_battery(weather,
                   "{ count = 2, retired = \"2027-06-01\" }, "
                   "{ count = 2, in_service = \"2027-03-15\", delivered_charge = 0.4 }, "
                   "{ count = 2, in_service = \"2027-06-02\" }",
                   0);
  steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
  ck_assert_double_eq_tol(build_step(run, hour_of(3, 15) - 1).stored_kwh, 6, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(3, 15)).stored_kwh, 10, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(6, 1) - 1).stored_kwh, 10, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(6, 1)).stored_kwh, 5, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(6, 2)).stored_kwh, 8, 1e-12);
  for (size_t m = 0; m < 12; m++) {
    build_month month = build_months(run, m, 1);
    ck_assert_double_eq_tol(month.delivered_kwh, m == 2 ? 4 : m == 5 ? 3 : 0, 1e-12);
    ck_assert_double_eq_tol(month.removed_kwh, m == 5 ? 5 : 0, 1e-12);
  }
  ck_assert_double_eq_tol(missed(run, 6), 0, 1e-9);
  /* 10 kWh from the start, 20 from 15 March, 10 on 1 June, 20 again; lowest 6 of 10 kWh in
   * January, 8 of 20 in December */
  ck_assert_double_eq_tol(build_months(run, 0, 1).lowest_charge, 0.6, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 11, 1).lowest_charge, 0.4, 1e-12);
  ck_assert_double_eq_tol(run->hub_months[2].nominal_kwh_steps, 10 * 14 * DAY + 20 * 17 * DAY,
                          1e-9);
  ck_assert_double_eq_tol(run->hub_months[5].nominal_kwh_steps, 10 * DAY + 20 * 29 * DAY, 1e-9);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A load of 6 kW: with one module 3 kW come from the battery while it lasts, with two 6. */
START_TEST(what_modules_bring_is_used_and_the_balance_holds) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = with_battery(
      weather, "{ count = 1 }, { count = 1, in_service = \"2027-02-10\", delivered_charge = 1 }",
      6000);
  steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
  size_t at = hour_of(2, 10);
  ck_assert_double_eq_tol(build_step(run, at - 1).stored_kwh, 1, 1e-9);
  /* 1 + 5 kWh, of which 2 stay: 4 kWh give 3.6 */
  ck_assert_double_eq_tol(build_step(run, at).battery_out, 3.6, 1e-9);
  ck_assert_double_eq_tol(build_step(run, at).stored_kwh, 2, 1e-9);
  ck_assert_double_eq_tol(build_step(run, at).import, 2.4, 1e-9);
  ck_assert_double_eq_tol(missed(run, 3), 0, 1e-7);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* All modules leave: the store is empty and takes nothing, and later ones start from their own
 * charge. */
START_TEST(a_battery_may_leave_and_another_come) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      with_battery(weather,
                   "{ count = 3, retired = \"2027-04-07\" }, "
                   "{ count = 1, in_service = \"2028-01\", delivered_charge = 0.5 }",
                   0);
  steading_run *run = build_run(site, "{ start = \"2027-01\", years = 2, keep = \"steps\" }");
  ck_assert_double_eq_tol(build_step(run, hour_of(4, 7) - 1).stored_kwh, 9, 1e-12);
  ck_assert_double_eq(build_step(run, hour_of(4, 7)).stored_kwh, 0);
  ck_assert_double_eq(build_step(run, HOURS - 1).stored_kwh, 0);
  ck_assert_double_eq_tol(build_step(run, HOURS).stored_kwh, 2.5, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 3, 1).removed_kwh, 9, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 12, 1).delivered_kwh, 2.5, 1e-12);
  ck_assert(isinf(build_months(run, 5, 1).lowest_charge));
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A run that begins when a lot is already there brings nothing of it. */
START_TEST(lots_of_before_and_of_the_start_bring_nothing) {
  steading_weather *weather = build_dark_weather();
  static const char *const lots[] = {"{ count = 2 }", "{ count = 2, in_service = \"2027-01\" }",
                                     "{ count = 2, in_service = \"2020-08-11\" }"};
  double sums[3][STEADING_HUB_FLOWS + STEADING_SITE_FLOWS + STEADING_METER_FLOWS];
  for (int k = 0; k < 3; k++) {
    const steading_site *site = with_battery(weather, lots[k], 400);
    steading_run *run = build_run(site, "{ start = \"2027-01\" }");
    ck_assert_uint_eq(run->layout.width, sizeof sums[k] / sizeof(double));
    memcpy(sums[k], run->sums, sizeof sums[k]);
    ck_assert_double_eq(build_total(run).delivered_kwh, 0);
    steading_run_release(run);
    steading_record_release(site);
  }
  ck_assert_mem_eq(sums[0], sums[1], sizeof sums[0]);
  ck_assert_mem_eq(sums[0], sums[2], sizeof sums[0]);
  steading_weather_release(weather);
}
END_TEST

/* Each part of a hub and of the water grows and shrinks on its day. Units of 2 kW: a load of 9 kW
 * gets 0, 2 or 6 from the inverter's side; pumps of 10 l/min; tanks of 500 l. */
START_TEST(units_panels_pumps_and_tanks_come_and_go_on_their_day) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 2, pass_through_kw = 3, efficiency = { at_10 = 1, at_100 = 1 } }, "
      "lots = { { count = 1, in_service = \"2027-02-05\" }, { count = 2, in_service = "
      "\"2027-05-20\", retired = \"2027-10-03\" } } }, "
      "arrays = { { tilt_deg = 20, azimuth_deg = 180, module = { watts = 1000, "
      "temp_coefficient_per_c = -0.004, degradation_per_year = 0 }, lots = { { count = 2 }, "
      "{ count = 3, in_service = \"2027-04-11\" }, { count = 1, retired = \"2027-08-09\" } } } } } "
      "}, buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 9000 } } } }, "
      "water = { wells = { w = { meter = \"m\", lift_m = 50, flow_l_per_min = 10, efficiency = "
      "0.4, "
      "lots = { { count = 1 }, { count = 1, in_service = \"2027-03-03\" } } } }, "
      "tanks = { t = { litres = 500, fed_by = \"w\", start_below = 0.999, stop_above = 1, "
      "lots = { { count = 2 }, { count = 1, in_service = \"2027-06-06\" }, "
      "{ count = 1, retired = \"2027-07-07\" } } } }, "
      "users = { u = { tank = \"t\", litres_per_day = 30000 } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
  const size_t noon = 12;
  for (int day = 0; day < 365; day++) {
    size_t at = (size_t)day * DAY + noon;
    build_flow f = build_step(run, at);
    double units = at < hour_of(2, 5) ? 0 : at < hour_of(5, 20) ? 1 : at < hour_of(10, 3) ? 3 : 1;
    double pumps = at < hour_of(3, 3) ? 1 : 2;
    if (units == 0) ck_assert_double_eq(f.inverted + f.from_bus + f.pv_used, 0);
    ck_assert_double_eq_tol(f.from_bus, fmin(3 * units, 9 - f.inverted), 1e-12);
    ck_assert_double_le(f.inverted, 2 * units + 1e-12);
    ck_assert_double_eq_tol(f.inverted, fmin(2 * units, f.pv_available), 1e-9);
    ck_assert_double_eq_tol(f.pumped_l, 600 * pumps, 1e-9); /* users draw 1250 l/h: never full */
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* What panels yield is in proportion to their number in every hour, before and after a change. */
START_TEST(panels_yield_in_proportion_to_those_in_service) {
  static const char *const format =
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 50, efficiency = { at_10 = 1, at_100 = 1 } } }, "
      "arrays = { { tilt_deg = 20, azimuth_deg = 180, module = { watts = 1000, "
      "temp_coefficient_per_c = -0.004 }, lots = { %s } } } } } }";
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *one = build_site(weather, format, "{ count = 1 }");
  const steading_site *more =
      build_site(weather, format,
                 "{ count = 2 }, { count = 3, in_service = \"2027-04-11\" }, "
                 "{ count = 1, retired = \"2028-08-09\" }");
  steading_run *a = build_run(one, "{ start = \"2027-01\", years = 2, keep = \"steps\" }");
  steading_run *b = build_run(more, "{ start = \"2027-01\", years = 2, keep = \"steps\" }");
  for (size_t i = 0; i < 2 * HOURS; i++) {
    /* in the second year the first ones have lost 0.5 %, those of April 264 of 365 days' part of
     * it: they count from their own date, at the start of each year */
    double old = i < HOURS ? 1 : 0.995, age = 265.0 / 365;
    double young = i < HOURS ? 1 : pow(0.995, age);
    double panels =
        (i < HOURS + hour_of(8, 9) ? 3 : 2) * old + (i < hour_of(4, 11) ? 0 : 3) * young;
    double unit = build_step(a, i).pv_available / old;
    ck_assert_double_eq_tol(build_step(b, i).pv_available, panels * unit, 1e-9);
  }
  steading_run_release(a);
  steading_run_release(b);
  steading_record_release(one);
  steading_record_release(more);
  steading_weather_release(weather);
}
END_TEST

/* A tank that arrives is empty: 1000 l that hold 500 become 1500 that hold 500; one of three takes
 * a third. Nobody draws and no pump runs. */
START_TEST(tanks_arrive_empty_and_take_their_share_of_water) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, water = { wells = { w = { meter = \"m\", lift_m = 50, "
      "flow_l_per_min = 10, efficiency = 0.4, lots = { { count = 0 } } } }, "
      "tanks = { t = { litres = 500, fed_by = \"w\", start_below = 0, "
      "lots = { { count = 1 }, { count = 1, retired = \"2027-09-01\" }, "
      "{ count = 1, in_service = \"2027-06-06\" } } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
  ck_assert_double_eq_tol(build_step(run, hour_of(6, 6) - 1).tank_level_l, 500, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(6, 6)).tank_level_l, 500, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(9, 1) - 1).tank_level_l, 500, 1e-12);
  ck_assert_double_eq_tol(build_step(run, hour_of(9, 1)).tank_level_l, 1000.0 / 3, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 0, 1).lowest_tank, 0.5, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 7, 1).lowest_tank, 1.0 / 3, 1e-12);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- lots of one day ---------------------------------------------------------------------------
 */

static steading_run *run_of_lots(steading_weather *weather, const char *units, const char *panels,
                                 const char *modules) {
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { export_limit_kw = 2 } }, hubs = { h = { meter = \"m\", "
      "inverter = { unit = { ac_kw = 1.7, idle_w = 20, efficiency = { at_10 = 0.9, at_100 = 0.94 } "
      "}, lots = { %s } }, arrays = { { tilt_deg = 20, azimuth_deg = 180, module = { watts = 410, "
      "temp_coefficient_per_c = -0.0037 }, lots = { %s } } }, "
      "battery = { module = { kwh = 4.7, charge_kw = 2.3, discharge_kw = 2.1, standby_w = 3, "
      "round_trip_efficiency = 0.93 }, lots = { %s } } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"daily\", kwh_per_day = 17, "
      "shape = \"dwelling\" } } } } }",
      units, panels, modules);
  steading_run *run = build_run(site, "{ start = \"2027-01\", years = 2 }");
  steading_record_release(site);
  return run;
}

/* A lot of n on a day, or two of a and b; both stay or leave on a later day. */
START_TEST(lots_of_one_day_equal_one_bigger_lot_to_the_bit) {
  steading_weather *weather = build_sunny_weather(1);
  for (uint64_t i = 0; i < 40; i++) {
    dice d = {.seed = 700 + i};
    char whole[3][300], split[3][300];
    steading_run *x = NULL, *y = NULL;
    for (int k = 0; k < 3; k++) {
      int a = 1 + (int)(6 * roll(&d)), b = 1 + (int)(6 * roll(&d));
      int month = 2 + (int)(10 * roll(&d)), day = 1 + (int)(28 * roll(&d));
      char when[100];
      snprintf(when, sizeof when, "in_service = \"2027-%02d-%02d\"%s", month, day,
               roll(&d) < 0.4 ? ", retired = \"2028-05-17\"" : "");
      snprintf(whole[k], sizeof whole[k], "{ count = 2 }, { count = %d, %s }", a + b, when);
      snprintf(split[k], sizeof split[k], "{ count = 2 }, { count = %d, %s }, { count = %d, %s }",
               a, when, b, when);
    }
    x = run_of_lots(weather, whole[0], whole[1], whole[2]);
    y = run_of_lots(weather, split[0], split[1], split[2]);
    if (memcmp(x->sums, y->sums, x->month_count * x->layout.width * sizeof *x->sums) != 0 ||
        memcmp(x->hub_months, y->hub_months, x->month_count * sizeof *x->hub_months) != 0)
      ck_abort_msg("%d: %s | %s | %s", (int)i, split[0], split[1], split[2]);
    steading_run_release(x);
    steading_run_release(y);
  }
  steading_weather_release(weather);
}
END_TEST

/* --- what cannot be -----------------------------------------------------------------------------
 */

START_TEST(a_charge_outside_the_usable_range_is_refused) {
  steading_weather *weather = build_dark_weather();
  steading_simulate *o = build(&steading_simulate_spec, NULL, "{ start = \"2027-01\" }");
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, hubs = { h = { inverter = { unit = { ac_kw = 9, efficiency = { at_10 = 1, "
      "at_100 = 1 } } }, battery = { module = { kwh = 5, usable = { 0.1, 0.9 }, charge_kw = 3, "
      "discharge_kw = 3, round_trip_efficiency = 0.81 }, lots = { { count = 1 }, "
      "{ count = 1, in_service = \"2027-03\", delivered_charge = 0.95 } } } } } }");
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  ck_assert_int_eq(steading_run_simulate(site, o, NULL, NULL, &run, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, "site.hubs.h.battery.lots[2].delivered_charge");
  ck_assert_str_eq(error.text, "0.95 is outside the usable 0.1 to 0.9");
  steading_record_release(o);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *lots_suite(void) {
  Suite *suite = suite_create("lots");
  TCase *tests = tcase_create("lots");
  tcase_add_test(tests, modules_bring_their_charge_and_take_their_share_at_midnight);
  tcase_add_test(tests, what_modules_bring_is_used_and_the_balance_holds);
  tcase_add_test(tests, a_battery_may_leave_and_another_come);
  tcase_add_test(tests, lots_of_before_and_of_the_start_bring_nothing);
  tcase_add_test(tests, units_panels_pumps_and_tanks_come_and_go_on_their_day);
  tcase_add_test(tests, panels_yield_in_proportion_to_those_in_service);
  tcase_add_test(tests, tanks_arrive_empty_and_take_their_share_of_water);
  tcase_add_test(tests, lots_of_one_day_equal_one_bigger_lot_to_the_bit);
  tcase_add_test(tests, a_charge_outside_the_usable_range_is_refused);
  tcase_set_timeout(tests, 60);
  suite_add_tcase(suite, tests);
  return suite;
}
