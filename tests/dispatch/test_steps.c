/* Runs in finer steps, rules that change with the calendar, planned outages, and which steps are
 * kept: by arithmetic on the site's own numbers. */
#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR, DAY = 24, LENGTHS = 6 };

static const int lengths[LENGTHS] = {60, 30, 15, 10, 5, 1};

static steading_run *run_in(const steading_site *site, const char *options,
                            const steading_zone *zone, steading_error *error) {
  steading_simulate *o = build(&steading_simulate_spec, NULL, "%s", options);
  steading_run *run = NULL;
  steading_run_simulate(site, o, zone, NULL, &run, error);
  steading_record_release(o);
  return run;
}

static size_t hour_of(int month, int day) {
  return DAY * (size_t)(steading_days_before_month[month - 1] + day - 1);
}

/* --- finer steps -------------------------------------------------------------------------------
 */

/* Nothing here changes within an hour, and there is no store and no limit: the energies do not
 * depend on the step. */
START_TEST(a_site_that_is_constant_within_the_hour_has_the_same_energy_in_all_steps) {
  steading_weather *weather = build_sunny_weather(1);
  static double numbers[HOURS];
  const build_thing things[] = {{.weather = weather}, {.numbers = numbers, .count = HOURS}};
  const steading_site *site = NULL;
  build_flow first = {0};
  for (int i = 0; i < HOURS; i++) numbers[i] = 0.2 + 0.1 * (i % 7);
  site = build(
      &steading_site_spec, things,
      "{ weather = @0, meters = { m = { export_limit_kw = 1000 } }, hubs = { "
      "a = { meter = \"m\", inverter = { unit = { ac_kw = 12, idle_w = 60, "
      "efficiency = { at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } } }, "
      "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
      "temp_coefficient_per_c = -0.004 }, lots = { { count = 12 }, "
      "{ count = 4, in_service = \"2027-05-17\" } } } } }, "
      "b = { meter = \"m\", inverter = { unit = { ac_kw = 9, efficiency = { at_10 = 0.9, "
      "at_100 = 0.96 } } }, rules = { surplus_order = { \"battery\" } } } }, "
      "buildings = { x = { hub = \"a\", loads = { { kind = \"daily\", kwh_per_day = 14, "
      "shape = \"dwelling\" }, { kind = \"series\", kw = @1 } } }, "
      "y = { hub = \"b\", loads = { { kind = \"timed\", kw = 2, window = \"18:00-23:00\" }, "
      "{ kind = \"bills\", kwh = 90, shape = \"even\" } } }, "
      "z = { meter = \"m\", in_service = \"2027-08-08\", loads = { { kind = \"steady\", "
      "watts = 150 }, { kind = \"refrigerators\", count = 1, kwh_per_year_each = 400 } } } } }");
  for (int k = 0; k < LENGTHS; k++) {
    char options[64];
    steading_run *run = NULL;
    build_flow sum;
    double h = lengths[k] / 60.0;
    snprintf(options, sizeof options, "{ start = \"2027-01\", step_minutes = %d }", lengths[k]);
    run = build_run(site, options);
    sum = build_total(run).sum;
    ck_assert_uint_eq(build_total(run).steps, HOURS * 60 / (size_t)lengths[k]);
    if (k == 0) first = sum;
    for (size_t f = 0; f < BUILD_FLOW_COUNT; f++) {
      double wanted = ((const double *)&first)[f], found = ((const double *)&sum)[f] * h;
      ck_assert_double_eq_tol(found, wanted, 1e-9 * (fabs(wanted) + 1));
    }
    steading_run_release(run);
  }
  ck_assert_double_gt(first.export, 100);
  ck_assert_double_gt(first.import, 100);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Quarters of 0, 1, 2, 3 kW: an hour has their mean of 1.5, half hours 0.5 and 2.5, five minutes
 * the quarter that they lie in, and ten minutes what they share with each. */
START_TEST(a_series_is_averaged_over_longer_steps_and_held_over_shorter_ones) {
  static const double tens[6] = {0, 0.5, 1, 2, 2.5, 3}, halves[2] = {0.5, 2.5};
  static double numbers[4 * HOURS];
  steading_weather *weather = build_dark_weather();
  const build_thing things[] = {{.weather = weather}, {.numbers = numbers, .count = 4 * HOURS}};
  const steading_site *site = NULL;
  for (int i = 0; i < 4 * HOURS; i++) numbers[i] = i % 4 + (i / 4 == 100 ? 10 : 0);
  site = build(&steading_site_spec, things,
               "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = { "
               "{ kind = \"series\", kw = @1, step_minutes = 15 } } } } }");
  for (int k = 0; k < LENGTHS; k++) {
    char options[96];
    size_t an_hour = 60 / (size_t)lengths[k];
    steading_run *run = NULL;
    snprintf(options, sizeof options,
             "{ start = \"2027-01\", step_minutes = %d, keep = \"steps\", to = \"2027-01-10\" }",
             lengths[k]);
    run = build_run(site, options);
    for (size_t hour = 0; hour < 240; hour++)
      for (size_t i = 0; i < an_hour; i++) {
        double wanted = floor((double)i * lengths[k] / 15), more = hour == 100 ? 10 : 0;
        if (lengths[k] == 60) wanted = 1.5;
        if (lengths[k] == 30) wanted = halves[i];
        if (lengths[k] == 10) wanted = tens[i];
        ck_assert_double_eq_tol(build_step(run, hour * an_hour + i).import, wanted + more, 1e-12);
      }
    steading_run_release(run);
  }
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Tens of 0..5 kW in quarters: (0 10 + 1 5) / 15 and so on, repeated from the half hour. */
START_TEST(a_series_of_ten_minutes_keeps_its_energy_in_quarters) {
  static const double quarters[4] = {5.0 / 15, 25.0 / 15, 50.0 / 15, 70.0 / 15};
  static double numbers[6 * HOURS];
  steading_weather *weather = build_dark_weather();
  const build_thing things[] = {{.weather = weather}, {.numbers = numbers, .count = 6 * HOURS}};
  const steading_site *site = NULL;
  steading_run *run = NULL;
  for (int i = 0; i < 6 * HOURS; i++) numbers[i] = i % 6;
  site = build(&steading_site_spec, things,
               "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = { "
               "{ kind = \"series\", kw = @1, step_minutes = 10 } } } } }");
  run = build_run(site, "{ start = \"2027-01\", step_minutes = 15, keep = \"steps\" }");
  for (size_t i = 0; i < 4 * HOURS; i++)
    ck_assert_double_eq_tol(build_step(run, i).import, quarters[i % 4], 1e-12);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 17:05 to 18:35 are 18 steps of five minutes; of the hours 17 and 18 it is 55 and 35 minutes, of
 * the quarters 17:00 and 18:30 two and one thirds. 1.5 h a day in all steps. */
START_TEST(a_timer_keeps_its_minutes) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = { "
      "{ kind = \"timed\", kw = 2, window = \"17:05-18:35\" } } } } }");
  for (int k = 0; k < LENGTHS; k++) {
    char options[96];
    size_t a_day = 1440 / (size_t)lengths[k];
    steading_run *run = NULL;
    snprintf(options, sizeof options,
             "{ start = \"2027-01\", step_minutes = %d, keep = \"steps\" }", lengths[k]);
    run = build_run(site, options);
    ck_assert_double_eq_tol(build_total(run).sum.import * lengths[k] / 60, 365 * 1.5 * 2, 1e-8);
    for (size_t i = 0; i < a_day; i++) {
      double from = (double)i * lengths[k], to = from + lengths[k];
      double on = fmax(fmin(to, 18 * 60 + 35) - fmax(from, 17 * 60 + 5), 0) / lengths[k];
      ck_assert_double_eq_tol(build_step(run, 200 * a_day + i).import, 2 * on, 1e-12);
    }
    steading_run_release(run);
  }
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A store of 10 kWh that is emptied by 1 kW: 4 kWh above the floor last four hours however long the
 * steps are, and the power is the same. */
START_TEST(a_battery_lasts_as_long_in_finer_steps) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } }, battery = { module = { kwh = 10, "
      "charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 } }, rules = { "
      "battery_floor = 0.2 } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 1000 } } } } }");
  for (int k = 0; k < LENGTHS; k++) {
    char options[96];
    size_t lasts = 4 * 60 / (size_t)lengths[k];
    steading_run *run = NULL;
    snprintf(options, sizeof options,
             "{ start = \"2027-01\", step_minutes = %d, keep = \"steps\", to = \"2027-01-02\" }",
             lengths[k]);
    run = build_run(site, options);
    ck_assert_double_eq_tol(build_step(run, 0).battery_out, 1, 1e-12);
    ck_assert_double_eq_tol(build_step(run, lasts - 1).import, 0, 1e-9);
    ck_assert_double_eq_tol(build_step(run, lasts).import, 1, 1e-9);
    ck_assert_double_eq_tol(build_step(run, lasts).stored_kwh, 2, 1e-9);
    steading_run_release(run);
  }
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- what is kept --------------------------------------------------------------------------------
 */

static const char *const battery_and_sun =
    "{ weather = @0, meters = { m = { export_limit_kw = 1 } }, hubs = { h = { meter = \"m\", "
    "inverter = { unit = { ac_kw = 5, idle_w = 30, efficiency = { at_10 = 0.9, at_100 = 0.95 } } "
    "}, "
    "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
    "temp_coefficient_per_c = -0.004 }, lots = { { count = 9 } } } }, "
    "battery = { module = { kwh = 5, charge_kw = 2.5, discharge_kw = 2.5, "
    "round_trip_efficiency = 0.9 }, lots = { { count = 1 }, { count = 1, in_service = "
    "\"2028-02-10\" } } }, rules = { battery_floor = 0.15, resume_above = 0.3 } } }, "
    "buildings = { a = { hub = \"h\", loads = { { kind = \"daily\", kwh_per_day = 12, "
    "shape = \"dwelling\" } } } } }";

/* The days asked for, both included, and the same numbers as in a run that keeps all. */
START_TEST(from_and_to_keep_a_piece_of_the_same_steps) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(weather, "%s", battery_and_sun);
  steading_run *all =
      build_run(site, "{ start = \"2027-07\", years = 2, step_minutes = 15, keep = \"steps\" }");
  steading_run *some = build_run(site,
                                 "{ start = \"2027-07\", years = 2, step_minutes = 15, "
                                 "keep = \"steps\", from = \"2028-02-09\", to = \"2028-03-01\" }");
  /* from 1 July 2027: 184 days of 2027, 31 of January, 8 of February; no 29 February */
  const size_t first = (184 + 31 + 8) * 96, width = all->layout.width;
  int year = 0, month = 0, day = 0, minute = 0;
  ck_assert_uint_eq(all->step_count, 2 * HOURS * 4);
  ck_assert_uint_eq(some->first_kept, first);
  ck_assert_uint_eq(some->step_count, 21 * 96);
  ck_assert_mem_eq(some->steps, all->steps + first * width, 21 * 96 * width * sizeof *some->steps);
  ck_assert_mem_eq(some->reasons, all->reasons + first, 21 * 96);
  ck_assert_mem_eq(some->sums, all->sums, 24 * width * sizeof *all->sums);
  steading_run_time(some, first, &year, &month, &day, &minute);
  ck_assert_int_eq(year * 10000 + month * 100 + day, 20280209);
  ck_assert_int_eq(minute, 0);
  steading_run_time(some, first + 20 * 96 - 1, &year, &month, &day, &minute);
  ck_assert_int_eq(year * 10000 + month * 100 + day, 20280228);
  ck_assert_int_eq(minute, 23 * 60 + 45);
  steading_run_time(some, first + 20 * 96, &year, &month, &day, &minute);
  ck_assert_int_eq(year * 10000 + month * 100 + day, 20280301);
  ck_assert_int_eq(minute, 0);
  steading_run_release(all);
  steading_run_release(some);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(months_of_quarter_hours_are_the_sums_of_their_steps) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(weather, "%s", battery_and_sun);
  steading_run *run =
      build_run(site, "{ start = \"2028-01\", step_minutes = 15, keep = \"steps\" }");
  size_t at = 0;
  for (size_t m = 0; m < 12; m++) {
    size_t steps = 96 * (size_t)(steading_days_before_month[m + 1] - steading_days_before_month[m]);
    build_flow sum = {0};
    const build_flow kept = build_months(run, m, 1).sum;
    for (size_t i = at; i < at + steps; i++) {
      const build_flow f = build_step(run, i);
      for (size_t k = 0; k < BUILD_FLOW_COUNT; k++) ((double *)&sum)[k] += ((const double *)&f)[k];
    }
    for (size_t k = 0; k < BUILD_FLOW_COUNT; k++) {
      double wanted = ((double *)&sum)[k];
      ck_assert_double_eq_tol(((const double *)&kept)[k], wanted, 1e-11 * (fabs(wanted) + 1));
    }
    at += steps;
  }
  ck_assert_uint_eq(at, run->step_count);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- reserve and floors --------------------------------------------------------------------------
 */

static const steading_site *with_rules(steading_weather *weather, const char *meter,
                                       const char *rules) {
  return build_site(
      weather,
      "{ weather = @0, meters = { m = { %s } }, hubs = { h = { meter = \"m\", inverter = { unit = "
      "{ ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } }, battery = { module = { kwh = 10, "
      "charge_kw = 5, discharge_kw = 1.5, round_trip_efficiency = 1 } }, rules = { %s } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 2000 } } }, "
      "b = { meter = \"m\", loads = { { kind = \"steady\", watts = 250 } } } } }",
      meter, rules);
}

/* From 9 kWh at 1.5 kW down to the larger of reserve and floor: 6 kWh in January after 2 h, 3 in
 * February after 2 h, nothing in March, whose reserve lies above what is stored, 1 (the floor) in
 * April: 1.5 and 0.5 kWh. The power is that of the battery, never less. */
START_TEST(a_reserve_is_a_floor_by_month_and_no_cap_on_power) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      with_rules(weather, "",
                 "battery_floor = 0.1, reserve = { 0.6, 0.3, 0.8, 0.05, 0, 0, 0, 0, 0, 0, 0, 0 }");
  steading_run *run = build_run(
      site, "{ start = \"2027-01\", keep = \"steps\", initial = { state_of_charge = 0.9 } }");
  static const struct {
    int month;
    double out[3], left;
  } months[] = {{1, {1.5, 1.5, 0}, 6},
                {2, {1.5, 1.5, 0}, 3},
                {3, {0, 0, 0}, 3},
                {4, {1.5, 0.5, 0}, 1},
                {5, {0, 0, 0}, 1}};
  for (size_t k = 0; k < sizeof months / sizeof months[0]; k++)
    for (size_t h = 0; h < 3; h++) {
      build_flow f = build_step(run, hour_of(months[k].month, 1) + h);
      ck_assert_double_eq_tol(f.battery_out, months[k].out[h], 1e-9);
      ck_assert_double_eq_tol(f.import, 2.25 - months[k].out[h], 1e-9);
      if (h == 2) ck_assert_double_eq_tol(f.stored_kwh, months[k].left, 1e-9);
    }
  ck_assert_double_eq_tol(build_total(run).sum.battery_out, 8, 1e-9);
  ck_assert_double_eq_tol(build_total(run).sum.import, 2.25 * HOURS - 8, 1e-6);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* What a script's rules say reaches the steps, over a sunny year. Orders: without "export" the
 * meter's own 250 W are all that takes surplus, however much may leave; without "battery" nothing
 * is charged; hot water and vehicles take none. */
START_TEST(the_words_of_a_surplus_order_tell_who_takes_it) {
  static const struct {
    const char *rules;
    bool charges, leaves;
  } orders[] = {{"battery_floor = 0.1", true, true},
                {"battery_floor = 0.1, surplus_order = { \"water\", \"hot_water\", \"battery\", "
                 "\"vehicle\", \"export\" }",
                 true, true},
                {"battery_floor = 0.1, surplus_order = { \"battery\" }", true, false},
                {"battery_floor = 0.1, surplus_order = { \"vehicle\", \"export\" }", false, true},
                {"battery_floor = 0.1, surplus_order = { \"water\" }", false, false}};
  steading_weather *weather = build_sunny_weather(1);
  build_flow usual = {0};
  for (size_t k = 0; k < sizeof orders / sizeof orders[0]; k++) {
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = { export_limit_kw = 9 } }, hubs = { h = { meter = \"m\", "
        "inverter = { unit = { ac_kw = 9, efficiency = { at_10 = 1, at_100 = 1 } } }, "
        "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
        "temp_coefficient_per_c = -0.004 }, lots = { { count = 20 } } } }, "
        "battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "
        "round_trip_efficiency = 1 } }, rules = { %s } } }, "
        "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 700 } } }, "
        "b = { meter = \"m\", loads = { { kind = \"steady\", watts = 250 } } } } }",
        orders[k].rules);
    steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
    build_flow sum = build_total(run).sum;
    ck_assert((sum.battery_in > 100) == orders[k].charges);
    ck_assert((sum.export > 100) == orders[k].leaves);
    if (!orders[k].charges) ck_assert_double_eq(sum.battery_in, 0);
    if (!orders[k].leaves) ck_assert_double_eq(sum.export, 0);
    ck_assert_double_gt(sum.to_bus, 0.25 * 1000); /* the meter's own are fed in any order */
    if (k == 0) usual = sum;
    if (k == 1) ck_assert_mem_eq(&sum, &usual, sizeof sum); /* the default, written out */
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* 3 kW at most from the inverter for a load of 4: with "adds" 1 kW comes from the bus while the
 * battery lasts, with "transfers" all 4 in every hour. A margin of 350 W with a load of 2 kW:
 * always drawn, and the battery gives 1.65. */
START_TEST(transfers_and_margins_of_a_script_reach_the_steps) {
  static const struct {
    const char *inverter, *rules;
    double watts, import, out;
  } cases[] = {{"", "", 4000, 1, 3},
               {", with_grid = \"adds\"", "", 4000, 1, 3},
               {", with_grid = \"transfers\"", ", resume_above = 0.5", 4000, 4, 0},
               {", with_grid = \"transfers\"", ", resume_above = 0.5", 2000, 0, 2},
               {", import_margin_w = 350", "", 2000, 0.35, 1.65},
               {", import_margin_w = 350", "", 200, 0.2, 0}};
  steading_weather *weather = build_dark_weather();
  for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", "
        "inverter = { unit = { ac_kw = 3, efficiency = { at_10 = 1, at_100 = 1 } }%s }, "
        "battery = { module = { kwh = 100, charge_kw = 50, discharge_kw = 50, "
        "round_trip_efficiency = 1 } }, rules = { battery_floor = 0.1%s } } }, "
        "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = %g } } } } }",
        cases[k].inverter, cases[k].rules, cases[k].watts);
    steading_run *run =
        build_run(site, "{ start = \"2027-01\", keep = \"steps\", to = \"2027-01-01\" }");
    for (size_t h = 0; h < 10; h++) {
      ck_assert_double_eq_tol(build_step(run, h).import, cases[k].import, 1e-12);
      ck_assert_double_eq_tol(build_step(run, h).battery_out, cases[k].out, 1e-12);
    }
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* --- planned outages -----------------------------------------------------------------------------
 */

/* Mondays of June, 10:00 to 14:00 civil time, which in Denver's summer is 9:00 to 13:00 standard.
 * The battery rests at its floor of 0.5 until 7 June, the first Monday; then it serves at 1.5 kW
 * down to 0.1: 1.5, 1.5, 1 and nothing. What stands on the meter is not served. After that it is
 * below its floor and rests, so that on the 14th nothing is left. */
START_TEST(an_outage_follows_civil_time_and_ends_at_its_own_floor) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = with_rules(
      weather,
      "export_limit_kw = 5, outages = { windows = { hours = \"10:00-14:00\", days = \"Mon\", "
      "months = \"Jun\" } }",
      "battery_floor = 0.5, outage_floor = 0.1");
  steading_zone *zone = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  static const double out[] = {0, 1.5, 1.5, 1, 0, 0};
  int down = 0;
  ck_assert_int_eq(steading_zone_load("America/Denver", &zone, NULL), STEADING_OK);
  run =
      run_in(site, "{ start = \"2027-01\", keep = \"steps\", initial = { state_of_charge = 0.5 } }",
             zone, &error);
  ck_assert_ptr_nonnull(run);
  for (size_t k = 0; k < 6; k++) {
    build_flow f = build_step(run, hour_of(6, 7) + 8 + k);
    bool is_down = k >= 1 && k <= 4;
    ck_assert_double_eq_tol(f.battery_out, out[k], 1e-9);
    ck_assert_double_eq_tol(f.import, is_down ? 0 : 2.25, 1e-9);
    ck_assert_double_eq_tol(f.hub_unserved, is_down ? 2 - out[k] : 0, 1e-9);
    ck_assert_double_eq_tol(f.meter_unserved, is_down ? 0.25 : 0, 1e-12);
    ck_assert_double_eq(f.grid_free, 0);
  }
  for (size_t i = 0; i < HOURS; i++) {
    build_flow f = build_step(run, i);
    if (f.meter_unserved > 0) down++;
    ck_assert_double_eq_tol(f.hub_served + f.meter_served, f.import + f.battery_out, 1e-9);
  }
  ck_assert_int_eq(down, 4 * 4); /* 7, 14, 21 and 28 June */
  ck_assert_double_eq_tol(build_total(run).sum.battery_out, 4, 1e-9);
  ck_assert_double_eq_tol(build_step(run, HOURS - 1).stored_kwh, 1, 1e-9);
  steading_run_release(run);
  steading_zone_free(zone);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A window that begins or ends at a half hour: in steps of an hour an error that names the step, in
 * half hours exact. 10:30 to 12:00 are three half hours on each of 365 days. */
START_TEST(an_outage_that_cuts_a_step_is_refused_and_exact_in_finer_steps) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      with_rules(weather, "outages = { windows = \"10:30-12:00\" }", "battery_floor = 0.1");
  steading_error error = {.status = STEADING_OK};
  steading_run *run = run_in(site, "{ start = \"2027-01\" }", NULL, &error);
  int down = 0;
  ck_assert_ptr_null(run);
  ck_assert_int_eq(error.status, STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, "site.meters.m.outages.windows");
  ck_assert_ptr_nonnull(strstr(error.text, "the step of 60 minutes at 10:00"));
  error = (steading_error){.status = STEADING_OK};
  run = run_in(site, "{ start = \"2027-01\", step_minutes = 30, keep = \"steps\" }", NULL, &error);
  ck_assert_ptr_nonnull(run);
  for (size_t i = 0; i < 2 * HOURS; i++) {
    bool is_down = i % 48 >= 21 && i % 48 < 24;
    ck_assert_double_eq_tol(build_step(run, i).meter_unserved, is_down ? 0.25 : 0, 1e-12);
    down += is_down;
  }
  ck_assert_int_eq(down, 3 * 365);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Of two meters only one is down; a neighbour behind the other goes on. */
START_TEST(an_outage_is_of_one_meter) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { a = { outages = { windows = \"00:00-06:00\" } }, b = {} }, "
      "buildings = { x = { meter = \"a\", loads = { { kind = \"steady\", watts = 100 } } }, "
      "y = { meter = \"b\", loads = { { kind = \"steady\", watts = 300 } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  build_month total = build_total(run);
  ck_assert_double_eq_tol(total.sum.meter_unserved, 0.1 * 6 * 365, 1e-8);
  ck_assert_double_eq_tol(total.sum.import, 0.1 * 18 * 365 + 0.3 * HOURS, 1e-7);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- things that come later ----------------------------------------------------------------------
 */

/* From 10 March the building, its second load from 1 May: a date of either counts, the later one.
 * Loads that grow do so with the years of the run. */
START_TEST(buildings_and_loads_begin_at_midnight_of_their_day) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", "
      "in_service = \"2027-03-10\", loads = { { kind = \"steady\", watts = 100 }, "
      "{ kind = \"timed\", kw = 1, window = \"00:00-12:00\", in_service = \"2027-05-01\" }, "
      "{ kind = \"steady\", watts = 30, in_service = \"2027-01-15\" } } }, "
      "b = { meter = \"m\", loads = { { kind = \"daily\", kwh_per_day = 24, shape = \"even\", "
      "in_service = \"2028-06-20\", growth_per_year = 0.1 } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", years = 2, keep = \"steps\" }");
  for (size_t i = 0; i < 2 * HOURS; i++) {
    double wanted = 0;
    if (i >= hour_of(3, 10)) wanted += 0.13;
    if (i >= hour_of(5, 1) && i % 24 < 12) wanted += 1;
    if (i >= HOURS + hour_of(6, 20)) wanted += 1.1;
    if (fabs(build_step(run, i).import - wanted) > 1e-12)
      ck_abort_msg("hour %zu: %g, expected %g", i, build_step(run, i).import, wanted);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *steps_suite(void) {
  Suite *suite = suite_create("steps");
  TCase *tests = tcase_create("steps");
  tcase_add_test(tests, a_site_that_is_constant_within_the_hour_has_the_same_energy_in_all_steps);
  tcase_add_test(tests, a_series_is_averaged_over_longer_steps_and_held_over_shorter_ones);
  tcase_add_test(tests, a_series_of_ten_minutes_keeps_its_energy_in_quarters);
  tcase_add_test(tests, a_timer_keeps_its_minutes);
  tcase_add_test(tests, a_battery_lasts_as_long_in_finer_steps);
  tcase_add_test(tests, from_and_to_keep_a_piece_of_the_same_steps);
  tcase_add_test(tests, months_of_quarter_hours_are_the_sums_of_their_steps);
  tcase_add_test(tests, a_reserve_is_a_floor_by_month_and_no_cap_on_power);
  tcase_add_test(tests, the_words_of_a_surplus_order_tell_who_takes_it);
  tcase_add_test(tests, transfers_and_margins_of_a_script_reach_the_steps);
  tcase_add_test(tests, an_outage_follows_civil_time_and_ends_at_its_own_floor);
  tcase_add_test(tests, an_outage_that_cuts_a_step_is_refused_and_exact_in_finer_steps);
  tcase_add_test(tests, an_outage_is_of_one_meter);
  tcase_add_test(tests, buildings_and_loads_begin_at_midnight_of_their_day);
  tcase_set_timeout(tests, 120);
  suite_add_tcase(suite, tests);
  return suite;
}
