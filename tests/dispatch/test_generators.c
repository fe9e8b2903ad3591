/* Generators and their fuel in whole runs: hours, starts and litres of simple sites worked out by
 * hand after reference/manual/generator.md. No published numbers exist for such rules: what is
 * checked is arithmetic and the manual. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "dispatch/buildings.h"
#include "dispatch/events.h"
#include "dispatch/losses.h"
#include "dispatch/reason.h"
#include "dispatch/reasons.h"
#include "dispatch/result.h"
#include "ledger/appraise.h"
#include "ledger/fuel.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

/* A hub off the grid whose inverter loses nothing. */
#define HUB                                                                                \
  "inverter = { unit = { ac_kw = 20, losses = { idle_w = 0 } } }, generator = { unit = { " \
  "kw = 9, fuel = \"propane\", no_load_l_per_h = 1.3, l_per_kwh = 0.48 }, "
#define CARRIES HUB "role = \"carries\" } "
/* 20 kWh without losses, between 2 and 20 kWh at the start: 11 */
#define BATTERY                                                            \
  ", battery = { module = { kwh = 20, charge_kw = 20, discharge_kw = 20, " \
  "round_trip_efficiency = 1 } } "

/* A site without sun: what stands in the hub, its load, its fuels. */
static const steading_site *site_of(steading_weather *weather, const char *hub, const char *load,
                                    const char *rest) {
  return build_site(weather,
                    "{ weather = @0, hubs = { h = { %s } }, buildings = { b = { hub = \"h\", "
                    "loads = { %s } } }, %s }",
                    hub, load, rest);
}

static double total(const steading_run *run, const char *name) {
  static steading_span span;
  const steading_view site = {.of = STEADING_OF_SITE};
  steading_span_of(run, 0, run->month_count, &span);
  for (size_t c = 0; c < steading_result_column_count; c++)
    if (strcmp(steading_result_columns[c].name, name) == 0)
      return steading_result_columns[c].value(&span, &site);
  ck_abort_msg("no column %s", name);
}

static steading_fuel_bill bill_of(const steading_run *run) {
  return steading_fuel_bill_of(run, 0, 0, run->month_count);
}

static void is(int line, double found, double expected) {
  if (!(fabs(found - expected) <= 1e-9 * (1 + fabs(expected))))
    ck_abort_msg("line %d: %.12g, expected %.12g", line, found, expected);
}
#define IS(found, expected) is(__LINE__, found, expected)

typedef struct world {
  steading_weather *weather;
  const steading_site *site;
  steading_run *run;
} world;

static world make(const char *hub, const char *load, const char *rest, const char *options) {
  world w = {.weather = build_dark_weather()};
  w.site = site_of(w.weather, hub, load, rest);
  w.run = build_run(w.site, options);
  ck_assert_double_lt(total(w.run, "closure_error_kwh"), 1e-6);
  return w;
}

static void drop(world *w) {
  steading_run_release(w->run);
  steading_record_release(w->site);
  steading_weather_release(w->weather);
}

#define STEADY "{ kind = \"steady\", watts = 3000 }"
#define ENDLESS "fuels = { propane = { price_per_l = 0.8 } }"

/* --- hours, starts, litres -----------------------------------------------------------------------
 */

/* 3 kW all year: one start, 1.3 + 0.48 x 3 = 2.74 l in every hour. */
START_TEST(a_load_all_year_is_one_run) {
  world w = make(CARRIES, STEADY, ENDLESS, "{}");
  IS(total(w.run, "generator_hours"), HOURS);
  IS(total(w.run, "generator_starts"), 1);
  IS(total(w.run, "generator_kwh"), 3 * HOURS);
  IS(total(w.run, "unserved_kwh"), 0);
  IS(bill_of(w.run).used_l, 2.74 * HOURS);
  IS(bill_of(w.run).fuel_cost, 0.8 * 2.74 * HOURS);
  drop(&w);
}
END_TEST

/* 4 kW from 18:00 to 22:00: a run of four hours a day; with a least load of half its 9 kW it burns
 * as at 4.5 kW. Beyond 9 kW the rest is unserved. */
START_TEST(a_load_of_four_hours_is_a_run_a_day) {
  static const char load[] = "{ kind = \"timed\", kw = 4, window = \"18:00-22:00\" }";
  world w = make(CARRIES, load, ENDLESS, "{}");
  IS(total(w.run, "generator_hours"), 4 * 365);
  IS(total(w.run, "generator_starts"), 365);
  IS(bill_of(w.run).used_l, 4 * 365 * (1.3 + 0.48 * 4));
  drop(&w);
  w = make(HUB "role = \"carries\" } ", load, ENDLESS, "{ step_minutes = 15 }");
  IS(total(w.run, "generator_hours"), 4 * 365);
  IS(total(w.run, "generator_starts"), 365);
  drop(&w);
  w = make(
      "inverter = { unit = { ac_kw = 20, losses = { idle_w = 0 } } }, generator = { unit = { "
      "kw = 9, fuel = \"propane\", no_load_l_per_h = 1.3, l_per_kwh = 0.48, "
      "least_load_share = 0.5 }, role = \"carries\" }",
      load, ENDLESS, "{}");
  IS(bill_of(w.run).used_l, 4 * 365 * (1.3 + 0.48 * 4.5));
  drop(&w);
  w = make(CARRIES, "{ kind = \"timed\", kw = 11, window = \"18:00-22:00\" }", ENDLESS, "{}");
  IS(total(w.run, "generator_kwh"), 4 * 365 * 9);
  IS(total(w.run, "unserved_kwh"), 4 * 365 * 2);
  drop(&w);
}
END_TEST

/* 1 kW all year beside 20 kWh that are 11 at the start, started at 4 and stopped at 16. It starts
 * at hour 7. In a run it carries 1 kW and its charger takes 6 kW AC, 5.7 DC: 9.7, 15.4, and 20 in
 * the third hour with 4.6 / 0.95 = 4.8421 kW; then 16 hours without. Cycles of 19 hours from hour 7
 * on: 461 runs, all of three hours, of 19.8421 kWh and 3 x 1.3 + 0.48 x 19.8421 litres. */
START_TEST(a_charge_that_starts_and_stops_it_makes_cycles) {
  const double kwh = 3 + 12 + 4.6 / 0.95;
  world w = make(HUB "role = \"both\", charger_kw = 6 }" BATTERY
                     ", rules = { battery_floor = 0.1, generator = { start_below_charge = 0.2, "
                     "stop_above_charge = 0.8 } }",
                 "{ kind = \"steady\", watts = 1000 }", ENDLESS, "{ keep = \"steps\" }");
  IS(total(w.run, "generator_starts"), 461);
  IS(total(w.run, "generator_hours"), 3 * 461);
  IS(total(w.run, "generator_kwh"), 461 * kwh);
  IS(total(w.run, "charged_by_generator_kwh"), 461 * (kwh - 3));
  IS(bill_of(w.run).used_l, 461 * (3 * 1.3 + 0.48 * kwh));
  IS(total(w.run, "unserved_kwh"), 0);
  IS(build_step(w.run, 6).battery_out, 1);
  IS(build_step(w.run, 6).stored_kwh, 4);
  IS(build_step(w.run, 7).stored_kwh, 9.7);
  IS(build_step(w.run, 7).battery_out, 0);
  IS(build_step(w.run, 8).stored_kwh, 15.4);
  IS(build_step(w.run, 9).stored_kwh, 20);
  IS(build_step(w.run, 10).stored_kwh, 19);
  drop(&w);
}
END_TEST

/* The same with a charger alone: 5.7 kW DC, of which the inverter takes 1: 4 -> 8.7 -> 13.4 ->
 * 18.1, stopped above 16: 3 hours, then 15 to 3.1, where 4.1 did not start it. */
START_TEST(a_charger_feeds_the_loads_through_the_battery) {
  world w = make(HUB "role = \"charges\", charger_kw = 6 }" BATTERY
                     ", rules = { battery_floor = 0.1, generator = { start_below_charge = 0.2, "
                     "stop_above_charge = 0.8 } }",
                 "{ kind = \"steady\", watts = 1000 }", ENDLESS, "{ keep = \"steps\" }");
  IS(build_step(w.run, 7).stored_kwh, 8.7);
  IS(build_step(w.run, 9).stored_kwh, 18.1);
  IS(build_step(w.run, 24).stored_kwh, 3.1);
  IS(build_step(w.run, 25).stored_kwh, 7.8);
  IS(total(w.run, "charged_by_generator_kwh"), total(w.run, "generator_kwh"));
  IS(total(w.run, "generator_kwh"), 6 * total(w.run, "generator_hours"));
  drop(&w);
}
END_TEST

/* 11 kW beside 9 kW of the generator: the battery gives the 2 kW more, and nothing while the
 * generator is enough. Without rules it starts when the battery has reached its floor: 11 kWh give
 * 9 kWh, less than an hour's 11, so that it runs from the first hour on: 11 -> 9 -> ... -> 3, and
 * then 2: the floor; from hour 4.5 on 2 kW are unserved. */
START_TEST(the_battery_helps_only_beyond_the_generator) {
  world w = make(CARRIES BATTERY ", rules = { battery_floor = 0.1 }",
                 "{ kind = \"steady\", watts = 11000 }", ENDLESS, "{ keep = \"steps\" }");
  for (int k = 0; k < 4; k++) IS(build_step(w.run, (size_t)k).stored_kwh, 9 - 2 * k);
  IS(build_step(w.run, 4).stored_kwh, 2);
  IS(build_step(w.run, 4).hub_unserved, 1);
  IS(build_step(w.run, 5).hub_unserved, 2);
  IS(total(w.run, "generator_kwh"), 9 * HOURS);
  drop(&w);
}
END_TEST

/* Sun first: 4 kW of it, grey light around the clock, of 5 kW of load; the generator 1 kW. Its
 * charger has what sun leaves of the battery's room. */
START_TEST(sun_comes_before_the_generator) {
  steading_weather *grey = build_grey_weather(1);
  const steading_site *site = build_site(
      grey,
      "{ weather = @0, hubs = { h = { " CARRIES
      ", arrays = { { module = { watts = 400, temp_coefficient_per_c = 0, "
      "degradation_per_year = 0 }, tilt_deg = 0, azimuth_deg = 180, soiling = 0, incidence = "
      "false, "
      "mismatch_loss = 0, dc_wiring_loss = 0, lots = { { count = 20 } } } } } }, "
      "buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = 5000 } } } }, %s }",
      ENDLESS);
  steading_run *run = build_run(site, "{ keep = \"steps\" }");
  double sun = build_step(run, 4000).pv_available;
  ck_assert_double_eq_tol(sun, 4, 0.02); /* half of 8 kW, by the sky model */
  IS(build_step(run, 4000).inverted, sun);
  ck_assert_double_eq_tol(total(run, "generator_kwh"), 5.0 * HOURS - total(run, "pv_used_kwh"),
                          1e-6);
  IS(total(run, "pv_curtailed_kwh"), 0);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(grey);
}
END_TEST

/* --- when it may run -----------------------------------------------------------------------------
 */

/* Quiet from 21:30 on: in the hour from 21:00 it gives its 4 kW half of the time. */
START_TEST(quiet_hours_leave_load_unserved_and_say_so) {
  static const char load[] = "{ kind = \"timed\", kw = 4, window = \"18:00-22:00\" }";
  world w = make(CARRIES ", rules = { generator = { quiet = \"21:30-07:00\" } }", load, ENDLESS,
                 "{ keep = \"steps\" }");
  IS(total(w.run, "generator_hours"), 3.5 * 365);
  IS(total(w.run, "generator_kwh"), 14 * 365);
  IS(total(w.run, "unserved_kwh"), 2 * 365);
  IS(bill_of(w.run).used_l, 365 * (3.5 * 1.3 + 0.48 * 14));
  ck_assert_int_eq(w.run->reasons[21], STEADING_REASON_quiet);
  ck_assert_int_eq(w.run->reasons[20], STEADING_REASON_none);
  drop(&w);
  w = make(CARRIES ", rules = { generator = { most_hours_per_day = 3 } }", load, ENDLESS,
           "{ keep = \"steps\" }");
  IS(total(w.run, "unserved_kwh"), 4 * 365);
  ck_assert_int_eq(w.run->reasons[21], STEADING_REASON_generator_hours);
  drop(&w);
  w = make(CARRIES ", rules = { generator = { least_rest_hours = 22 } }", load, ENDLESS,
           "{ keep = \"steps\" }");
  ck_assert_int_eq(w.run->reasons[24 + 18], STEADING_REASON_generator_rest);
  IS(total(w.run, "unserved_kwh"), 4 * 2 * 364); /* it rests until 20:00 */
  drop(&w);
  w = make(CARRIES BATTERY
           ", rules = { battery_floor = 0.2, generator = { start_below_charge = "
           "0.1, stop_above_charge = 0.6, start_if_unserved = false } }",
           load, ENDLESS, "{ keep = \"steps\" }");
  ck_assert_int_eq(w.run->reasons[24 + 21], STEADING_REASON_generator_waits);
  IS(total(w.run, "generator_hours"), 0);
  drop(&w);
  w = make(CARRIES, "{ kind = \"steady\", watts = 10000 }", ENDLESS, "{ keep = \"steps\" }");
  ck_assert_int_eq(w.run->reasons[100], STEADING_REASON_generator_limit);
  drop(&w);
}
END_TEST

/* Behind a grid that is down from 12:00 to 14:00: 2 hours a day. With the grid up only its exercise
 * runs, half an hour on the 52 Wednesdays of 2027; loaded, it gives 1 kWh of the 2 kW then. */
START_TEST(a_grid_holds_it_but_for_its_exercise) {
  static const char *const rows[3] = {
      "",
      ", rules = { generator = { exercise = { window = { hours = \"10:00-10:30\", days = \"Wed\" "
      "} } } }",
      ", rules = { generator = { exercise = { window = { hours = \"10:00-10:30\", days = \"Wed\" "
      "}, "
      "loaded = true } } }"};
  for (int k = 0; k < 3; k++) {
    steading_weather *weather = build_dark_weather();
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = { outages = { windows = \"12:00-14:00\" } } }, "
        "hubs = { h = { meter = \"m\", " CARRIES
        " %s } }, buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = 2000 } "
        "} } }, %s }",
        rows[k], ENDLESS);
    steading_run *run = build_run(site, "{ start = \"2027-01\" }");
    double exercise = k == 0 ? 0 : 52, given = k == 2 ? 52 : 0;
    IS(total(run, "generator_hours"), 2 * 365 + 0.5 * exercise);
    IS(total(run, "generator_starts"), 365 + exercise);
    IS(total(run, "generator_kwh"), 4 * 365 + given);
    IS(total(run, "grid_import_kwh"), 2 * 22 * 365 - given);
    IS(total(run, "unserved_kwh"), 0);
    IS(bill_of(run).used_l, 1.3 * (730 + 0.5 * exercise) + 0.48 * (1460 + given));
    steading_run_release(run);
    steading_record_release(site);
    steading_weather_release(weather);
  }
}
END_TEST

/* The cycles above again: 461 spells of three hours, each of 3 + 12 + 4.6 / 0.95 kWh. */
START_TEST(events_are_its_runs) {
  world w = make(HUB "role = \"both\", charger_kw = 6 }" BATTERY
                     ", rules = { battery_floor = 0.1, generator = { start_below_charge = 0.2, "
                     "stop_above_charge = 0.8 } }",
                 "{ kind = \"steady\", watts = 1000 }", ENDLESS, "{}");
  steading_ask_events *ask = build(&steading_ask_events_spec, NULL, "{ kind = \"generator\" }");
  steading_events events;
  steading_error error;
  ck_assert_int_eq(steading_run_events(w.run, ask, &events, &error), STEADING_OK);
  ck_assert_uint_eq(events.count, 461);
  ck_assert_uint_eq(events.items[0].first, 7);
  ck_assert_uint_eq(events.items[460].steps, 3);
  IS(events.items[460].amount, 15 + 4.6 / 0.95);
  IS(events.items[460].peak, 7);
  IS(events.items[460].lowest_charge, 9.7 / 20);
  steading_events_free(&events);
  steading_record_release(ask);
  drop(&w);
}
END_TEST

/* --- fuel ----------------------------------------------------------------------------------------
 */

/* 10 l and 2.74 l an hour: 3.6496 hours. */
START_TEST(without_fuel_it_runs_for_as_long_as_it_lasts) {
  world w = make(CARRIES, STEADY,
                 "fuels = { propane = { price_per_l = 1, tank = { litres = 100, litres_at_start = "
                 "10 } } }",
                 "{ keep = \"steps\" }");
  steading_fuel_bill bill = bill_of(w.run);
  IS(bill.used_l, 10);
  IS(bill.hours, 10 / 2.74);
  IS(bill.generator_kwh, 3 * 10 / 2.74);
  IS(bill.starts, 1);
  IS(bill.hours_without, HOURS - 10 / 2.74);
  IS(bill.end_l, 0);
  IS(build_step(w.run, 3).hub_unserved, 3 - 3 * (10 / 2.74 - 3));
  IS(total(w.run, "unserved_kwh"), 3 * (HOURS - 10 / 2.74));
  ck_assert_int_eq(w.run->reasons[3], STEADING_REASON_no_fuel);
  ck_assert_int_eq(w.run->reasons[4000], STEADING_REASON_no_fuel);
  drop(&w);
}
END_TEST

/* Two hubs of 3 and 1 kW burn 2.74 and 1.78 l an hour from one tank of 10 l: it lasts 2.2124 hours
 * for both. */
START_TEST(hubs_share_a_tank) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, hubs = { g = { " CARRIES "}, h = { " CARRIES
      "} }, buildings = { "
      "a = { hub = \"g\", loads = { { kind = \"steady\", watts = 1000 } } }, b = { hub = \"h\", "
      "loads = { " STEADY
      " } } }, fuels = { propane = { tank = { litres = 100, litres_at_start = "
      "10 } } } }");
  steading_run *run = build_run(site, "{}");
  IS(total(run, "generator_hours"), 2 * 10 / 4.52);
  IS(total(run, "generator_kwh"), 4 * 10 / 4.52);
  IS(bill_of(run).used_l, 10);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

#define TRUCK(closed)                                                                              \
  "fuels = { propane = { price_per_l = 0.7, fixed_per_year = 120, tank = { litres = 1900, "        \
  "litres_at_start = 1100 }, delivery = { order_below = 0.3, lead_days = 6, least_l = 400, fee = " \
  "35" closed " } } }"

/* 65.76 l a day from 1100 l: below 570 l (0.3 of 1900) first on the morning of day 9, with 508.16;
 * the truck comes on day 15, when 113.6 are left, and fills up to 1520. From there on a morning of
 * below 570 comes after 15 days (533.6), the truck after 21: 139.04 left, 1380.96 brought. So days
 * 15, 36, 57 ..., 351: 17 trucks in a year. */
START_TEST(trucks_come_when_they_are_due) {
  world w = make(CARRIES, STEADY, TRUCK(""), "{ start = \"2027-01\" }");
  steading_fuel_bill bill = bill_of(w.run), january = steading_fuel_bill_of(w.run, 0, 0, 1);
  IS(bill.trucks, 17);
  IS(bill.delivered_l, 1406.4 + 16 * 1380.96);
  IS(bill.used_l, 2.74 * HOURS);
  IS(bill.end_l, 1100 + bill.delivered_l - bill.used_l);
  IS(bill.fees, 17 * 35);
  IS(bill.fixed_cost, 120);
  IS(january.trucks, 1);
  IS(january.delivered_l, 1406.4);
  IS(january.end_l, 1520 - 16 * 65.76);
  IS(january.lowest_l, 113.6);
  drop(&w);
}
END_TEST

/* The road is closed from 10 January to 31 March: the truck that is due on 16 January (day 15)
 * comes on 1 April (day 90). 1100 l last 401.46 of the 2160 hours before. */
START_TEST(a_closed_road_leaves_it_without_fuel) {
  world w = make(CARRIES, STEADY, TRUCK(", closed = { \"01-10..03-31\" }"),
                 "{ start = \"2027-01\", keep = \"steps\" }");
  steading_fuel_bill quarter = steading_fuel_bill_of(w.run, 0, 0, 3);
  steading_fuel_bill april = steading_fuel_bill_of(w.run, 0, 3, 1);
  double hours = 1100 / 2.74;
  IS(quarter.used_l, 1100);
  IS(quarter.trucks, 0);
  IS(quarter.hours, hours);
  IS(quarter.hours_without, 2160 - hours);
  IS(quarter.lowest_l, 0);
  IS(april.delivered_l, 1520 + 1380.96);
  IS(build_step(w.run, 2159).hub_unserved, 3);
  IS(build_step(w.run, 2160).hub_unserved, 0);
  ck_assert_int_eq(w.run->reasons[2159], STEADING_REASON_no_fuel);
  drop(&w);
}
END_TEST

/* --- whole sites ---------------------------------------------------------------------------------
 */

/* A sunny site with everything, two years. */
#define SUNNY                                                                                     \
  "{ weather = @0, hubs = { h = { inverter = { unit = { ac_kw = 8, idle_w = 50, efficiency = { "  \
  "at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } } }, arrays = { { tilt_deg = 40, azimuth_deg = "   \
  "180, "                                                                                         \
  "module = { watts = 400, temp_coefficient_per_c = -0.004 }, lots = { { count = 12 } } } }, "    \
  "battery = { module = { kwh = 5, charge_kw = 2.5, discharge_kw = 2.5, round_trip_efficiency = " \
  "0.94, standby_w = 4 }, lots = { { count = 3 } } }, %s } }, "                                   \
  "buildings = { house = { hub = \"h\", loads = { { kind = \"daily\", kwh_per_day = 19, shape = " \
  "\"dwelling\" } } } }, "                                                                        \
  "water = { wells = { w = { hub = \"h\", lift_m = 90, flow_l_per_min = 30, efficiency = 0.4 } "  \
  "}, "                                                                                           \
  "tanks = { t = { litres = 6000, fed_by = \"w\" } }, "                                           \
  "users = { people = { tank = \"t\", people = 6, litres_per_person_day = 250 } } }, %s }"

/* Every month: what was there, and what came, less what is there, is what was burnt. */
START_TEST(litres_balance_in_every_month) {
  steading_weather *weather = build_sunny_weather(2);
  const steading_site *site = build_site(
      weather, SUNNY,
      "generator = { unit = { kw = 6, fuel = \"diesel\", no_load_l_per_h = 0.8, l_per_kwh = 0.3, "
      "least_load_share = 0.3 }, role = \"both\", charger_kw = 4 }, rules = { generator = { "
      "start_below_charge = 0.25, stop_above_charge = 0.6, quiet = \"22:00-06:00\" } }",
      "fuels = { diesel = { tank = { litres = 300, litres_at_start = 120 }, delivery = { "
      "order_below = 0.4, lead_days = 9, closed = \"12-01..12-20\" } } }");
  steading_run *run = build_run(site, "{ years = 2, keep = \"steps\" }");
  double level = 120, used = 0, power = 0, hours = 0;
  ck_assert_double_gt(total(run, "generator_hours"), 100);
  ck_assert_double_lt(total(run, "closure_error_kwh"), 1e-6);
  for (size_t m = 0; m < run->month_count; m++) {
    steading_fuel_bill bill = steading_fuel_bill_of(run, 0, m, 1);
    IS(bill.end_l, level + bill.delivered_l - bill.used_l);
    ck_assert_double_ge(bill.lowest_l, 0);
    ck_assert_double_le(bill.end_l, 0.95 * 300);
    level = bill.end_l;
  }
  ck_assert_double_gt(bill_of(run).trucks, 1);
  for (size_t s = 0; s < run->step_count; s++) { /* litres from the power of each step */
    const steading_generator_flow *g =
        steading_generator_flow_of(&run->layout, run->steps + s * run->layout.width, 0);
    double least = 0.3 * 6 * g->running_h;
    power += g->power;
    hours += g->running_h;
    used += 0.8 * g->running_h + 0.3 * fmax(g->power, least);
  }
  ck_assert_double_eq_tol(bill_of(run).used_l, used, 0.02 * used); /* heat derates the least load */
  ck_assert_double_le(bill_of(run).used_l, used * (1 + 1e-9));
  IS(bill_of(run).generator_kwh, power);
  IS(bill_of(run).hours, hours);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Not a single set in service: every other column is that of the site without, to the bit. */
START_TEST(no_set_is_no_generator_to_the_bit) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *none = build_site(weather, SUNNY, "rules = { battery_floor = 0.15 }", "");
  const steading_site *empty = build_site(
      weather, SUNNY,
      "rules = { battery_floor = 0.15, generator = { start_below_charge = 0.3, stop_above_charge = "
      "0.8 } }, generator = { unit = { kw = 6, fuel = \"diesel\", no_load_l_per_h = 0.8, l_per_kwh "
      "= 0.3 }, role = \"both\", charger_kw = 4, lots = {} }",
      "fuels = { diesel = { tank = { litres = 300 } } }");
  steading_run *a = build_run(none, "{ keep = \"steps\" }"),
               *b = build_run(empty, "{ keep = \"steps\" }");
  ck_assert_double_gt(total(a, "unserved_kwh"), 0);
  for (size_t s = 0; s < a->step_count; s++)
    if (memcmp(a->steps + s * a->layout.width, b->steps + s * b->layout.width,
               a->layout.width * sizeof(double)) != 0)
      ck_abort_msg("step %zu differs", s);
  for (size_t c = 0; c < steading_result_column_count; c++) {
    const char *name = steading_result_columns[c].name;
    if (steading_result_columns[c].of & STEADING_OF_SITE)
      ck_assert_msg(
          memcmp(&(double){total(a, name)}, &(double){total(b, name)}, sizeof(double)) == 0 ||
              isnan(total(a, name)),
          "%s", name);
  }
  steading_run_release(a);
  steading_run_release(b);
  steading_record_release(none);
  steading_record_release(empty);
  steading_weather_release(weather);
}
END_TEST

/* Sun and loads of random sizes, started by unserved load alone, nothing that waits: more litres at
 * the start never leave more unserved. With charges that start it they may: the rate is printed. */
START_TEST(more_fuel_never_serves_less_where_nothing_waits) {
  static const char *const rules[2] = {
      "role = \"carries\" }",
      "role = \"both\", charger_kw = 3 }, rules = { generator = { start_below_charge = 0.3, "
      "stop_above_charge = 0.7, least_rest_hours = 6 } }"};
  steading_weather *weather = build_sunny_weather(1);
  enum { SITES = 20 };
  for (int kind = 0; kind < 2; kind++) {
    int worse = 0, better = 0;
    double most = 0;
    for (uint64_t seed = 1; seed <= SITES; seed++) {
      double before = (double)INFINITY;
      bool any = false;
      for (int k = 0; k < 3; k++) {
        dice d = {.seed = 400 + seed};
        char fuels[128], hub[400];
        const steading_site *site = NULL;
        steading_run *run = NULL;
        double unserved = 0, step = roll_between(&d, 5, 150);
        snprintf(hub, sizeof hub,
                 "generator = { unit = { kw = %.3f, fuel = \"diesel\", no_load_l_per_h = 0.8, "
                 "l_per_kwh = 0.3 }, %s",
                 roll_between(&d, 0.3, 3), rules[kind]);
        snprintf(fuels, sizeof fuels,
                 "fuels = { diesel = { tank = { litres = 3000, litres_at_start = %.3f } } }",
                 step * (k + 1));
        site = build_site(weather, SUNNY, hub, fuels);
        run = build_run(site, "{}");
        unserved = total(run, "unserved_kwh");
        if (unserved > before * (1 + 1e-9) + 1e-6) any = true;
        if (unserved < before - 1) better++;
        if (unserved > before) most = fmax(most, unserved - before);
        before = unserved;
        steading_run_release(run);
        steading_record_release(site);
      }
      worse += any;
    }
    if (kind == 0) ck_assert_msg(worse == 0, "%d of %d sites, by %g kWh", worse, SITES, most);
    ck_assert_int_gt(better, 2 * SITES - SITES / 2); /* it does matter; the first counts too */
    if (kind == 1)
      printf("more fuel leaves more unserved on %d of %d sites with charges that start it\n", worse,
             SITES);
  }
  steading_weather_release(weather);
}
END_TEST

/* --- who has it ----------------------------------------------------------------------------------
 */

/* 3 kW of which the generator gives all; and through the battery: the part that its charger makes
 * for the inverter. In the cycles of the charger above, 1 of 5.7 kW goes to the load in each hour
 * of a run, the battery serves the other 15 of 18. */
START_TEST(buildings_have_their_part_of_it) {
  world w = make(CARRIES, STEADY, ENDLESS, "{}");
  steading_buildings *b = NULL;
  steading_error error;
  double generator = 0, battery = 0;
  ck_assert_int_eq(steading_run_buildings(w.run, &b, &error), STEADING_OK);
  for (size_t m = 0; m < 12; m++) generator += b->months[m].from_generator_kwh;
  IS(generator, 3 * HOURS);
  steading_buildings_free(b);
  drop(&w);
  w = make(HUB "role = \"charges\", charger_kw = 6 }" BATTERY
               ", rules = { battery_floor = 0.1, generator = { start_below_charge = 0.2, "
               "stop_above_charge = 0.8 } }",
           "{ kind = \"steady\", watts = 1000 }", ENDLESS, "{}");
  generator = 0;
  ck_assert_int_eq(steading_run_buildings(w.run, &b, &error), STEADING_OK);
  for (size_t m = 0; m < 12; m++) {
    generator += b->months[m].from_generator_kwh;
    battery += b->months[m].from_battery_kwh;
  }
  IS(generator, total(w.run, "generator_hours"));
  IS(generator + battery, HOURS);
  steading_buildings_free(b);
  drop(&w);
}
END_TEST

/* The lines of a hub with sun: what its charger took is a gain, its loss a loss; the sum is what
 * the inverter gave (an assertion of the module), and the plant's own figures are of its sun. */
START_TEST(losses_have_the_generators_lines) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(
      weather, SUNNY,
      "generator = { unit = { kw = 6, fuel = \"diesel\", no_load_l_per_h = 0.8, l_per_kwh = 0.3 }, "
      "role = \"both\", charger_kw = 4, charger_efficiency = 0.9 }, rules = { generator = { "
      "start_below_charge = 0.25, stop_above_charge = 0.6 } }",
      "fuels = { diesel = { price_per_l = 1 } }");
  steading_run *run = build_run(site, "{}");
  steading_losses losses;
  steading_error error;
  const double *kwh = NULL;
  double charging = total(run, "charged_by_generator_kwh");
  ck_assert_double_gt(charging, 100);
  ck_assert_int_eq(steading_run_losses(run, &losses, &error), STEADING_OK);
  kwh = losses.rows[0].kwh;
  IS(kwh[STEADING_LINE_FROM_GENERATOR], charging);
  IS(kwh[STEADING_LINE_CHARGER_LOSS], -0.1 * charging);
  IS(kwh[STEADING_LINE_DELIVERED], losses.rows[0].inverted_kwh);
  steading_losses_free(&losses);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 1524 m (5000 ft) and 20 C leave 1 - 0.115 x 1.524 of the power. */
START_TEST(altitude_takes_power) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = NULL;
  steading_run *run = NULL;
  weather->place.elevation_m = 1524;
  site = site_of(weather, CARRIES, "{ kind = \"steady\", watts = 9000 }", ENDLESS);
  run = build_run(site, "{}");
  IS(total(run, "generator_kwh"), 9 * (1 - 0.115 * 1.524) * HOURS);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 2.5 kW in service for a year, two of them from July on: what one cannot carry, two can. */
START_TEST(lots_of_sets_come_and_go) {
  world w = make(HUB
                 "role = \"carries\", lots = { { count = 1, price_each = 1 }, { count = 1, "
                 "price_each = 1, in_service = \"2027-07\" } } } ",
                 "{ kind = \"steady\", watts = 12000 }", ENDLESS, "{ start = \"2027-01\" }");
  double summer = 184 * 24, winter = 181 * 24;
  IS(total(w.run, "unserved_kwh"), 3 * winter);
  IS(total(w.run, "generator_kwh"), 9 * winter + 12 * summer);
  IS(bill_of(w.run).used_l, winter * (1.3 + 0.48 * 9) + summer * (2.6 + 0.48 * 12));
  drop(&w);
}
END_TEST

/* Every 150 hours of 4 a day: 1460 hours are 9 services in the first year, 2920 are 19. */
START_TEST(service_falls_due_by_hours) {
  world w =
      make(HUB "role = \"carries\", service = { every_hours = 150, price = 240 } } ",
           "{ kind = \"timed\", kw = 4, window = \"18:00-22:00\" }", ENDLESS, "{ years = 2 }");
  IS(steading_service_cost(w.run, 0, 12), 9 * 240);
  IS(steading_service_cost(w.run, 12, 12), 10 * 240);
  IS(steading_service_cost(w.run, 0, 24), 19 * 240);
  IS(steading_service_cost(w.run, 0, 1), 0);
  IS(steading_service_cost(w.run, 0, 2), 240); /* 236 hours */
  drop(&w);
}
END_TEST

/* 3 kW for three years against the same site without a generator. Fuel is 0.8 x 2.74 x 8760 and 95
 * a year, rising by 5 %; a service of 240 every 150 hours, 58, 116 and 175 of them by the ends of
 * the years, rising by 10 %. The rate of `fuel` is for fuels without one of their own. */
START_TEST(fuel_and_service_go_into_the_cash_flow) {
  static const char fuels[] = "fuels = { propane = { price_per_l = 0.8, fixed_per_year = 95 } }";
  world w = make(HUB
                 "role = \"carries\", service = { every_hours = 150, price = 240 }, lots = { { "
                 "count = 1, in_service = \"2027-01\", price_each = 5000 } } } ",
                 STEADY, fuels, "{ start = \"2027-01\", years = 3 }");
  world bare = make("inverter = { unit = { ac_kw = 20, losses = { idle_w = 0 } } }", STEADY, "",
                    "{ start = \"2027-01\", years = 3 }");
  const double fuel = 0.8 * 2.74 * HOURS + 95, services[4] = {0, 58, 58, 59};
  double cycle = 5000;
  for (int k = 0; k < 2; k++) {
    steading_money *money =
        build(&steading_money_spec, NULL,
              k == 0 ? "{ horizon_years = 3, discount = 0.06, prices = \"nominal\", escalation = { "
                       "propane = 0.05, upkeep = 0.1 } }"
                     : "{ horizon_years = 3, discount = 0, prices = \"nominal\", escalation = { "
                       "diesel = 0.05, fuel = 0.03 } }");
    steading_verdict v;
    steading_error error = {.status = STEADING_OK};
    ck_assert_msg(steading_appraise(w.run, bare.run, money, &v, &error) == STEADING_OK, "%s: %s",
                  error.path, error.text);
    IS(v.first_cost, 5000);
    for (int year = 1; year <= 3; year++) {
      double rise = pow(k == 0 ? 1.05 : 1.03, year - 1);
      double upkeep = services[year] * 240 * (k == 0 ? pow(1.1, year - 1) : 1);
      IS(v.years[year].fuel_saving, -fuel * rise);
      IS(v.years[year].upkeep, upkeep);
      IS(v.years[year].net, -fuel * rise - upkeep);
      if (k == 0) cycle += (fuel * rise + upkeep) / pow(1.06, year);
    }
    if (k == 0) IS(v.life_cycle_cost, cycle);
    if (k == 0) IS(v.net_present_value, -cycle);
    ck_assert_uint_eq(v.escalation_count, 8);
    ck_assert_str_eq(v.escalations[6].lines, "propane");
    ck_assert_str_eq(v.escalations[6].escalation, k == 0 ? "propane" : "fuel");
    ck_assert_str_eq(v.escalations[7].lines, "upkeep");
    steading_verdict_clear(&v);
    steading_record_release(money);
  }
  drop(&w);
  drop(&bare);
}
END_TEST

Suite *generators_suite(void) {
  Suite *s = suite_create("generators");
  TCase *t = tcase_create("generators");
  tcase_set_timeout(t, 120);
  tcase_add_test(t, a_load_all_year_is_one_run);
  tcase_add_test(t, a_load_of_four_hours_is_a_run_a_day);
  tcase_add_test(t, a_charge_that_starts_and_stops_it_makes_cycles);
  tcase_add_test(t, a_charger_feeds_the_loads_through_the_battery);
  tcase_add_test(t, the_battery_helps_only_beyond_the_generator);
  tcase_add_test(t, sun_comes_before_the_generator);
  tcase_add_test(t, quiet_hours_leave_load_unserved_and_say_so);
  tcase_add_test(t, a_grid_holds_it_but_for_its_exercise);
  tcase_add_test(t, events_are_its_runs);
  tcase_add_test(t, without_fuel_it_runs_for_as_long_as_it_lasts);
  tcase_add_test(t, hubs_share_a_tank);
  tcase_add_test(t, trucks_come_when_they_are_due);
  tcase_add_test(t, a_closed_road_leaves_it_without_fuel);
  tcase_add_test(t, litres_balance_in_every_month);
  tcase_add_test(t, no_set_is_no_generator_to_the_bit);
  tcase_add_test(t, more_fuel_never_serves_less_where_nothing_waits);
  tcase_add_test(t, buildings_have_their_part_of_it);
  tcase_add_test(t, losses_have_the_generators_lines);
  tcase_add_test(t, altitude_takes_power);
  tcase_add_test(t, lots_of_sets_come_and_go);
  tcase_add_test(t, service_falls_due_by_hours);
  tcase_add_test(t, fuel_and_service_go_into_the_cash_flow);
  suite_add_tcase(s, t);
  return s;
}
