/* Whole runs of small sites: what each month holds, by arithmetic on the site's own numbers. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "demand/water.h"
#include "dispatch/result.h"
#include "dispatch/run.h"
#include "plant/array.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

/* Everything: two arrays, a battery, a building on the hub and one on the meter, a well. */
static const char *const everything =
    "{ weather = @0, meters = { m = { import_limit_kw = 9, export_limit_kw = 2 } }, "
    "hubs = { h = { meter = \"m\", inverter = { unit = { ac_kw = 6, idle_w = 40, "
    "pass_through_kw = 8, battery_kw = 5, pv_kw = 9, "
    "efficiency = { at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } } }, "
    "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
    "temp_coefficient_per_c = -0.004 }, lots = { { count = 12 } } }, "
    "{ tilt_deg = 10, azimuth_deg = 250, module = { watts = 400, "
    "temp_coefficient_per_c = -0.004 }, lots = { { count = 5 } } } }, "
    "battery = { module = { kwh = 5, usable = { 0.05, 0.95 }, charge_kw = 2.5, discharge_kw = 2.5, "
    "round_trip_efficiency = 0.94, standby_w = 4 }, lots = { { count = 2 } } }, "
    "rules = { battery_floor = 0.15 } } }, "
    "buildings = { house = { hub = \"h\", loads = { "
    "{ kind = \"daily\", kwh_per_day = 14, shape = \"dwelling\" } } }, "
    "shed = { meter = \"m\", loads = { { kind = \"steady\", watts = 150 } } } }, "
    "water = { "
    "wells = { w = { hub = \"h\", lift_m = 90, flow_l_per_min = 30, efficiency = 0.4 } }, "
    "tanks = { t = { litres = 6000, fed_by = \"w\" } }, "
    "users = { people = { tank = \"t\", people = 6, litres_per_person_day = 250 } } } }";

static steading_run *simulate(const steading_site *site, const char *options,
                              const steading_zone *zone, const steading_meter_plan *plan) {
  steading_simulate *o = build(&steading_simulate_spec, NULL, "%s", options);
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  const steading_meter_plan *plans[] = {plan};
  ck_assert_msg(steading_run_simulate(site, o, zone, plans, &run, &error) == STEADING_OK, "%s: %s",
                error.path, error.text);
  steading_record_release(o);
  return run;
}

static void refused(const steading_site *site, const char *options, steading_status status,
                    const char *path) {
  steading_simulate *o = build(&steading_simulate_spec, NULL, "%s", options);
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  ck_assert_int_eq(steading_run_simulate(site, o, NULL, NULL, &run, &error), status);
  ck_assert_ptr_null(run);
  ck_assert_str_eq(error.path, path);
  steading_record_release(o);
}

START_TEST(months_are_the_sums_of_their_steps) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(weather, "%s", everything);
  steading_run *run =
      simulate(site, "{ start = \"2027-10\", years = 2, keep = \"steps\" }", NULL, NULL);
  size_t at = 0;
  ck_assert_uint_eq(run->month_count, 24);
  ck_assert_uint_eq(run->step_count, 2 * HOURS);
  for (size_t m = 0; m < 24; m++) {
    const steading_site_month *month = &run->months[m];
    const steading_layout *layout = &run->layout;
    double sum[STEADING_MOST_WIDTH] = {0}, peak = 0, lowest = HUGE_VAL;
    int calendar = (9 + (int)m) % 12;
    size_t hours = 24u * (size_t)(steading_days_before_month[calendar + 1] -
                                  steading_days_before_month[calendar]);
    ck_assert_int_eq(month->month, calendar + 1);
    ck_assert_int_eq(month->year, 2027 + (9 + (int)m) / 12);
    ck_assert_uint_eq(month->steps, hours);
    for (size_t i = at; i < at + hours; i++) {
      for (size_t k = 0; k < layout->width; k++) sum[k] += run->steps[i * layout->width + k];
      peak = fmax(peak, build_step(run, i).import);
      lowest = fmin(lowest, build_step(run, i).stored_kwh);
    }
    ck_assert_mem_eq(run->sums + m * layout->width, sum, layout->width * sizeof *sum);
    ck_assert_double_eq(month->peak_import_kw, peak);
    ck_assert_double_eq(run->hub_months[m].lowest_charge, lowest / 10);
    ck_assert_double_lt(month->closure_error_kwh, 1e-9);
    at += hours;
  }
  ck_assert_uint_eq(at, run->step_count);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A run of one year is the first year of a longer one, and what is kept changes no bit. */
START_TEST(a_longer_run_begins_like_a_shorter_one_whatever_is_kept) {
  steading_weather *weather = build_sunny_weather(2);
  const steading_site *site = build_site(weather, "%s", everything);
  steading_run *one = build_run(site, "{ years = 1, keep = \"annual\" }");
  steading_run *three = build_run(site, "{ years = 3, keep = \"steps\" }");
  ck_assert_mem_eq(one->sums, three->sums, 12 * one->layout.width * sizeof *one->sums);
  ck_assert_mem_eq(one->months, three->months, 12 * sizeof *one->months);
  ck_assert_mem_eq(one->hub_months, three->hub_months, 12 * sizeof *one->hub_months);
  /* the third year has the weather of the first again: same sun, older modules (0.5 % a year) */
  for (int m = 0; m < 12; m++)
    ck_assert_double_eq_tol(build_months(three, 24u + (size_t)m, 1).sum.pv_available,
                            build_months(three, (size_t)m, 1).sum.pv_available * 0.995 * 0.995,
                            1e-9);
  steading_run_release(one);
  steading_run_release(three);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Each step of a run that begins in October gets the weather of its own hour of the year. */
START_TEST(the_sun_of_a_step_is_that_of_its_date) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 50, efficiency = { at_10 = 1, at_100 = 1 } } }, arrays = { { tilt_deg = 20, "
      "azimuth_deg = 180, soiling = { 0.1, 0, 0, 0, 0, 0, 0, 0, 0, 0.5, 0, 0 }, mismatch_loss = 0, "
      "dc_wiring_loss = 0, module = { watts = 1000, temp_coefficient_per_c = -0.004, "
      "degradation_per_year = 0 }, lots = { { count = 2 } } } } } } }");
  const steading_hub *hub = steading_map_at(site->hubs, "h");
  steading_yield_key key = steading_yield_key_of((const void *)hub->arrays->items[0]);
  const double *yield = steading_yield_of(weather, &key);
  steading_run *run = build_run(site, "{ start = \"2027-10\", keep = \"steps\" }");
  for (size_t i = 0; i < HOURS; i++) {
    size_t hour = (i + 273 * 24) % HOURS; /* 1 October is day 273, from 0 */
    double left = hour < 31 * 24 ? 0.9 : hour >= 273 * 24 && hour < 304 * 24 ? 0.5 : 1;
    ck_assert_double_eq_tol(build_step(run, i).pv_available, 2 * left * yield[hour], 1e-12);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Half way between floor and full, or as asked: 10 kWh, floor 0.2, usable 0.1 to 0.9: 5.5 kWh. */
START_TEST(a_run_starts_with_the_charge_that_is_asked_for) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } }, battery = { module = { kwh = 10, "
      "usable = { 0.1, 0.9 }, charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 } }, "
      "rules = { battery_floor = 0.2 } } }, buildings = { b = { hub = \"h\", loads = { { "
      "kind = \"steady\", watts = 500 } } } } }");
  steading_run *run = build_run(site, "{ keep = \"steps\" }");
  ck_assert_double_eq_tol(build_step(run, 0).stored_kwh, 5, 1e-12);
  ck_assert_double_eq_tol(build_total(run).sum.battery_out, 3.5, 1e-9); /* down to 2 kWh */
  ck_assert_double_eq_tol(build_total(run).sum.import, 0.5 * HOURS - 3.5, 1e-7);
  ck_assert_double_eq_tol(build_step(run, HOURS - 1).stored_kwh, 2, 1e-9);
  steading_run_release(run);
  run = build_run(site, "{ initial = { state_of_charge = 0.9 }, keep = \"steps\" }");
  ck_assert_double_eq_tol(build_step(run, 0).stored_kwh, 8.5, 1e-12);
  steading_run_release(run);
  refused(site, "{ initial = { state_of_charge = 0.95 } }", STEADING_BAD_INPUT,
          "simulate.initial.state_of_charge");
  refused(site, "{ initial = { state_of_charge = 0.05 } }", STEADING_BAD_INPUT,
          "simulate.initial.state_of_charge");
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Usable 0.3 to 1 of 10 kWh and a floor of 0.1: the battery's own controller stops at 3 kWh, and
 * half way to full is 6.5 kWh. */
START_TEST(a_floor_below_the_usable_charge_is_not_reached) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } }, battery = { module = { kwh = 10, "
      "usable = { 0.3, 1 }, charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 } }, "
      "rules = { battery_floor = 0.1 } } }, buildings = { b = { hub = \"h\", loads = { { "
      "kind = \"steady\", watts = 500 } } } } }");
  steading_run *run = build_run(site, "{ keep = \"steps\" }");
  ck_assert_double_eq_tol(build_step(run, 0).stored_kwh, 6, 1e-12);
  ck_assert_double_eq_tol(build_total(run).sum.battery_out, 3.5, 1e-9);
  ck_assert_double_eq_tol(build_total(run).lowest_charge, 0.3, 1e-9);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Two units and three modules: every limit and loss counts twice or three times. 3 x 4 kWh half way
 * between the floor of 0.1 and full are 6.6 kWh. */
START_TEST(lots_multiply_limits_and_losses) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 2, idle_w = 30, pass_through_kw = 1.5, battery_kw = 1, "
      "efficiency = { at_10 = 0.87, at_100 = 0.985 } }, lots = { { count = 2 } } }, "
      "battery = { module = { kwh = 4, charge_kw = 2, discharge_kw = 2, "
      "round_trip_efficiency = 1 }, lots = { { count = 2 }, { count = 1 } } } } }, "
      "buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = 6000 } } } } }");
  steading_run *run = build_run(site, "{ keep = \"steps\" }");
  const build_flow first = build_step(run, 0), *f = &first;
  ck_assert_double_eq_tol(run->changes[0].capacity_kwh, 12, 1e-12);
  ck_assert_double_eq_tol(f->idle_from_dc, 0.06, 1e-12);
  ck_assert_double_eq_tol(f->battery_out, 2, 1e-9); /* 2 x battery_kw is less than 3 x 2 */
  ck_assert_double_eq_tol(f->from_bus, 3, 1e-12);   /* 2 x pass_through_kw */
  ck_assert_double_eq_tol(f->hub_unserved, 6 - 3 - f->inverted, 1e-12);
  ck_assert_double_eq_tol(build_step(run, 0).stored_kwh, 6.6 - 2, 1e-9);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(no_unit_means_no_hub_power_at_all) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } }, lots = { { count = 0 } } }, "
      "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
      "temp_coefficient_per_c = 0 } } }, "
      "battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "
      "round_trip_efficiency = 0.9 } } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 500 } } }, "
      "b = { meter = \"m\", loads = { { kind = \"steady\", watts = 250 } } } } }");
  steading_run *run = build_run(site, "{}");
  build_month total = build_total(run);
  ck_assert_double_eq(total.sum.pv_used + total.sum.battery_out + total.sum.inverted, 0);
  ck_assert_double_eq_tol(total.sum.hub_unserved, 0.5 * HOURS, 1e-7);
  ck_assert_double_eq_tol(total.sum.import, 0.25 * HOURS, 1e-7);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* The meter's own building pays for all it takes, however much sun the other hub throws away. */
START_TEST(a_hub_off_the_grid_does_not_feed_the_meter) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { export_limit_kw = 50 } }, hubs = { h = { inverter = { "
      "unit = { ac_kw = 50, efficiency = { at_10 = 1, at_100 = 1 } } }, "
      "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 2000, "
      "temp_coefficient_per_c = 0 }, lots = { { count = 10 } } } } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 500 } } }, "
      "b = { meter = \"m\", loads = { { kind = \"steady\", watts = 250 } } } } }");
  steading_run *run = build_run(site, "{}");
  build_month total = build_total(run);
  ck_assert_double_eq_tol(total.sum.import, 0.25 * HOURS, 1e-7);
  ck_assert_double_eq(total.sum.export + total.sum.to_bus + total.sum.from_bus, 0);
  ck_assert_double_gt(total.sum.hub_unserved, 0.5 * HOURS / 4); /* most of the nights */
  ck_assert_double_eq_tol(total.sum.pv_used, total.sum.hub_served, 1e-7);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_site_without_a_hub_imports_what_it_takes) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      build_site(weather,
                 "{ weather = @0, meters = { m = {} }, buildings = { "
                 "a = { meter = \"m\", loads = { { kind = \"steady\", watts = 100 } } }, "
                 "b = { meter = \"m\", loads = { { kind = \"steady\", watts = 50 } } } } }");
  steading_run *run = build_run(site, "{ start = \"2028-02\" }");
  ck_assert(run->layout.hubs == 0 && run->layout.meters == 1 && run->layout.wells == 0);
  ck_assert_double_eq_tol(build_months(run, 0, 1).sum.import, 0.15 * 28 * 24,
                          1e-9); /* never 29 days */
  ck_assert_double_eq_tol(build_total(run).sum.import, 0.15 * HOURS, 1e-7);
  ck_assert_double_eq_tol(build_total(run).peak_load_kw, 0.15, 1e-12);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Water in = water out + what the tank gained, and each litre costs rho g H / efficiency. */
START_TEST(water_balances_and_costs_its_lift) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(weather, "%s", everything);
  steading_run *run = build_run(site, "{ keep = \"steps\", initial = { tank_share = 0.75 } }");
  build_flow sum = build_total(run).sum;
  double gained = build_step(run, HOURS - 1).tank_level_l - 0.75 * 6000;
  double kwh_per_l = steading_pump_kw(30, 90, 0.4) / (30 * 60);
  ck_assert_double_eq_tol(sum.pumped_l, sum.delivered_l + gained, 1e-6);
  ck_assert_double_eq_tol(sum.delivered_l + sum.short_l, 365 * 1500, 1e-6);
  ck_assert_double_eq_tol(sum.pump, sum.pumped_l * kwh_per_l, 1e-6);
  ck_assert_double_eq_tol(sum.pump_duty, sum.pumped_l / 1800, 1e-6);
  ck_assert_double_eq(sum.short_l, 0);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Buckets by the hour of the day: each has its own hours' import, and all of them the whole. */
START_TEST(a_meter_plan_sorts_the_import_into_its_buckets) {
  static uint8_t own[8 * 12 * 24], before[8 * 12 * 24];
  steading_meter_plan plan = {.buckets = 3, .step_minutes = 60, .own = own, .before = before};
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(weather, "%s", everything);
  steading_run *run = NULL;
  double sums[3] = {0}, exports[3] = {0};
  memset(before, STEADING_NO_BUCKET, sizeof before);
  for (int m = 0; m < 12; m++)
    for (int d = 0; d < 7; d++)
      for (int h = 0; h < 24; h++)
        own[(d * 12 + m) * 24 + h] = d >= 5 ? 2 : h >= 17 && h < 21 ? 1 : 0;
  run = simulate(site, "{ start = \"2027-01\", keep = \"steps\" }", NULL, &plan);
  ck_assert_uint_eq(run->meters[0].buckets, 3);
  for (int i = 0; i < HOURS; i++) {
    int weekday = (4 + i / 24) % 7; /* 1 January 2027 is a Friday */
    int bucket = weekday >= 5 ? 2 : i % 24 >= 17 && i % 24 < 21 ? 1 : 0;
    sums[bucket] += build_step(run, (size_t)i).import;
    exports[bucket] += build_step(run, (size_t)i).export;
  }
  for (size_t b = 0; b < 3; b++) {
    double import = 0, export = 0;
    for (size_t m = 0; m < 12; m++) {
      import += run->meters[0].by_month[m * 3 + b].import_kwh;
      export += run->meters[0].by_month[m * 3 + b].export_kwh;
    }
    ck_assert_double_gt(import, 1);
    ck_assert_double_eq_tol(import, sums[b], 1e-8);
    ck_assert_double_eq_tol(export, exports[b], 1e-8);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A load in the first civil hour of April's days. Under summer time the hour of 1 April lies on 31
 * March in standard time: the energy is March's, the bill April's. */
START_TEST(a_meter_is_read_by_civil_months) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = { { "
      "kind = \"timed\", kw = 1, window = { hours = \"00:00-01:00\", months = \"Apr\" } } } } } }");
  steading_zone *zone = NULL;
  steading_run *run = NULL;
  ck_assert_int_eq(steading_zone_load("America/Denver", &zone, NULL), STEADING_OK);
  run = simulate(site, "{ start = \"2027-01\" }", zone, NULL);
  ck_assert_double_eq_tol(build_months(run, 2, 1).sum.import, 1, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 3, 1).sum.import, 29, 1e-12);
  ck_assert_double_eq(run->meters[0].by_month[2].import_kwh, 0);
  ck_assert_double_eq_tol(run->meters[0].by_month[3].import_kwh, 30, 1e-12);
  steading_run_release(run);
  /* the first civil hour of a run that begins in April is counted in April all the same */
  run = simulate(site, "{ start = \"2027-04\" }", zone, NULL);
  ck_assert_double_eq_tol(run->meters[0].by_month[0].import_kwh, 29, 1e-12);
  ck_assert_double_eq_tol(run->meters[0].by_month[11].import_kwh, 1, 1e-12);
  steading_run_release(run);
  steading_zone_free(zone);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(what_a_run_cannot_carry_out_is_refused_with_its_path) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } }, battery = { module = { kwh = 10, "
      "charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 }, "
      "lots = { { count = 1, in_service = \"2027-01\" }, "
      "{ count = 1, in_service = \"2030-06\" } } } } } }");
  const steading_site *bare = build_site(weather, "{ weather = @0, meters = { m = {} } }");
  refused(site, "{ keep = \"steps\", from = \"2028-01\" }", STEADING_BAD_INPUT, "simulate.from");
  refused(site, "{ keep = \"steps\", to = \"2026-12\" }", STEADING_BAD_INPUT, "simulate.to");
  refused(bare, "{ initial = { state_of_charge = 0.5 } }", STEADING_BAD_INPUT,
          "simulate.initial.state_of_charge");
  steading_run_release(build_run(site, "{ start = \"2030-07\" }"));
  steading_record_release(site);
  steading_record_release(bare);
  steading_weather_release(weather);
}
END_TEST

/* A charge for a hub that has no battery would be read without effect. */
START_TEST(a_charge_without_a_battery_is_refused) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } } } } }");
  refused(site, "{ initial = { state_of_charge = 0.5 } }", STEADING_BAD_INPUT,
          "simulate.initial.state_of_charge");
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 2019-05 is the earliest date; without dates a run begins in January. */
START_TEST(a_run_without_a_start_begins_with_the_earliest_lot) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, water = { wells = { w = { meter = \"m\", lift_m = 10, "
      "flow_l_per_min = 10, efficiency = 0.4, lots = { { in_service = \"2019-05-20\" } } } }, "
      "tanks = { t = { litres = 1000, fed_by = \"w\" } } } }");
  const steading_site *bare = build_site(weather, "{ weather = @0, meters = { m = {} } }");
  steading_simulate *o = build(&steading_simulate_spec, NULL, "{}");
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  /* the pump arrives on 20 May: the run begins on the first of the month, the pump later */
  ck_assert_int_eq(steading_run_simulate(site, o, NULL, NULL, &run, &error), STEADING_OK);
  ck_assert_int_eq(run->start_year, 2019);
  ck_assert_int_eq(run->start_month, 5);
  steading_run_release(run);
  run = build_run(bare, "{}");
  ck_assert_int_eq(run->start_month, 1);
  steading_run_release(run);
  steading_record_release(o);
  steading_record_release(site);
  steading_record_release(bare);
  steading_weather_release(weather);
}
END_TEST

Suite *run_suite(void) {
  Suite *suite = suite_create("run");
  TCase *tests = tcase_create("run");
  tcase_add_test(tests, months_are_the_sums_of_their_steps);
  tcase_add_test(tests, a_longer_run_begins_like_a_shorter_one_whatever_is_kept);
  tcase_add_test(tests, the_sun_of_a_step_is_that_of_its_date);
  tcase_add_test(tests, a_run_starts_with_the_charge_that_is_asked_for);
  tcase_add_test(tests, a_floor_below_the_usable_charge_is_not_reached);
  tcase_add_test(tests, lots_multiply_limits_and_losses);
  tcase_add_test(tests, no_unit_means_no_hub_power_at_all);
  tcase_add_test(tests, a_hub_off_the_grid_does_not_feed_the_meter);
  tcase_add_test(tests, a_site_without_a_hub_imports_what_it_takes);
  tcase_add_test(tests, water_balances_and_costs_its_lift);
  tcase_add_test(tests, a_meter_plan_sorts_the_import_into_its_buckets);
  tcase_add_test(tests, a_meter_is_read_by_civil_months);
  tcase_add_test(tests, what_a_run_cannot_carry_out_is_refused_with_its_path);
  tcase_add_test(tests, a_charge_without_a_battery_is_refused);
  tcase_add_test(tests, a_run_without_a_start_begins_with_the_earliest_lot);
  suite_add_tcase(suite, tests);
  return suite;
}
