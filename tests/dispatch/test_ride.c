/* Riding through: by hand where the answer is a matter of dividing, against stepping every start on
 * its own where it is not, and against whole runs in which the grid is gone from a date on. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "build.h"
#include "calendar.h"
#include "dispatch/decide.h"
#include "dispatch/generators.h"
#include "dispatch/ride.h"
#include "site/batteries.h"
#include "site/function.h"
#include "slow.h"
#include "suites.h"

enum { HOURS = 8760 };

static steading_ride ride_of(const steading_site *site, const char *text, steading_zone *zone) {
  steading_ask_ride *ask = build(&steading_ask_ride_spec, NULL, "%s", text);
  steading_error error = {.status = STEADING_OK};
  steading_ride ride;
  if (steading_ride_through(site, ask, zone, &ride, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(ask);
  return ride;
}

static double held_share(const steading_ride *r, int month, int hour, size_t which) {
  size_t starts[STEADING_RIDE_GROUPS],
      *held = calloc(STEADING_RIDE_GROUPS * r->last_count, sizeof *held);
  size_t group = (size_t)((month - 1) * 24 + hour);
  double share = 0;
  steading_ride_count(r, starts, held);
  share = (double)held[group * r->last_count + which] / (double)starts[group];
  free(held);
  return share;
}

/* --- by hand -------------------------------------------------------------------------------------
 */

/* A battery of 10 kWh without losses behind a hub without idle draw, kept at half while the grid is
 * up and used down to a tenth without it: 4 kWh. */
#define KEPT                                                                                  \
  "hubs = { h = { meter = \"m\", inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 1, " \
  "at_100 = 1 } } }, battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "      \
  "round_trip_efficiency = 1 } }, rules = { battery_floor = 0.5, outage_floor = 0.1 } } }, "

/* 4 kWh at 0.9 kW are 4.44 h: in whole hours 4, in steps of 10 minutes 26 (4.33 h), of 30
 * minutes 8.
 */
START_TEST(a_steady_load_lasts_as_long_as_the_store) {
  static const struct {
    int minutes;
    uint32_t steps;
  } cases[] = {{60, 4}, {30, 8}, {10, 26}};
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, " KEPT
      "buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = 900 } } } } }");
  char text[160];
  steading_ride r;
  snprintf(
      text, sizeof text,
      "{ start = \"2027-01\", years = 2, last_hours = { 3, 4, 5 }, step_minutes = %d, initial = "
      "{ state_of_charge = 0.5 } }",
      cases[_i].minutes);
  r = ride_of(site, text, NULL);
  ck_assert_uint_eq(r.start_count, 2u * HOURS * 60 / (unsigned)cases[_i].minutes);
  for (size_t k = 0; k < r.start_count; k++)
    if (r.starts[k].steps != cases[_i].steps || r.starts[k].step != k)
      ck_abort_msg("start %zu lasts %u steps", k, r.starts[k].steps);
  ck_assert_double_eq(held_share(&r, 6, 12, 0), 1);
  ck_assert_double_eq(held_share(&r, 6, 12, 1), 1);
  ck_assert_double_eq(held_share(&r, 6, 12, 2), 0);
  steading_ride_free(&r);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 2 kW from 10:00 to 12:00 every day. A start at hour h up to 10 serves today's two hours and fails
 * tomorrow at 10:00: 34 - h. At 11 one hour today and one tomorrow: 24. Later starts serve tomorrow
 * and fail the day after: 58 - h. So 24 hours twice, and 25 to 46 once, each equally often. */
static uint32_t life_by_hand(int hour) {
  return hour <= 10 ? 34 - (uint32_t)hour : hour == 11 ? 24 : 58 - (uint32_t)hour;
}

static const char *const two_hours_a_day = KEPT
    "buildings = { b = { hub = \"h\", loads = { { kind = \"timed\", kw = 2, window = "
    "\"10:00-12:00\" } } } }";

START_TEST(percentiles_by_hand) {
  static const double p[] = {0, 0.05, 0.5, 0.95, 1, 1.0 / 12};
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      build_site(weather, "{ weather = @0, meters = { m = {} }, %s }", two_hours_a_day);
  steading_error error;
  double values[6], by_hour[24], by_both[STEADING_RIDE_GROUPS];
  steading_ride r = ride_of(
      site,
      "{ start = \"2027-01\", years = 1, last_hours = 168, initial = { state_of_charge = 0.5 } }",
      NULL);
  for (size_t k = 0; k < r.start_count; k++)
    ck_assert_uint_eq(r.starts[k].steps, life_by_hand((int)(k % 24)));
  ck_assert_int_eq(steading_ride_percentiles(&r, false, false, p, 6, values, &error), STEADING_OK);
  ck_assert_double_eq(values[0], 24);
  ck_assert_double_eq(values[1], 24); /* rank 438 of 8760, 365 of each */
  ck_assert_double_eq(values[2], 34); /* the 12th of 24 */
  ck_assert_double_eq(values[3], 45); /* 22.8: the 23rd */
  ck_assert_double_eq(values[4], 46);
  ck_assert_double_eq(values[5], 24); /* exactly the two first of 24 */
  ck_assert_int_eq(steading_ride_percentiles(&r, false, true, p + 2, 1, by_hour, &error),
                   STEADING_OK);
  ck_assert_int_eq(steading_ride_percentiles(&r, true, true, p + 2, 1, by_both, &error),
                   STEADING_OK);
  for (int h = 0; h < 24; h++) {
    ck_assert_double_eq(by_hour[h], life_by_hand(h));
    for (int m = 0; m < 12; m++) ck_assert_double_eq(by_both[m * 24 + h], life_by_hand(h));
  }
  steading_ride_free(&r);
  /* asked for 40 hours, those that last longer outlast it: also the median of 12:00 to 18:00 */
  r = ride_of(
      site,
      "{ start = \"2027-01\", years = 1, last_hours = { 40, 24 }, start_hours = { 18, 0, 13 "
      "}, initial = { state_of_charge = 0.5 } }",
      NULL);
  ck_assert_uint_eq(r.start_count, 3 * 365);
  ck_assert_int_eq(steading_ride_percentiles(&r, false, false, p + 1, 3, values, &error),
                   STEADING_OK);
  ck_assert_double_eq(values[0], 34);
  ck_assert(isinf(values[1]) && isinf(values[2])); /* 13:00 lasts 45 h, 18:00 lasts 40 h */
  ck_assert_double_eq(held_share(&r, 1, 18, 0), 1);
  ck_assert_double_eq(held_share(&r, 1, 0, 0), 0);
  ck_assert_double_eq(held_share(&r, 1, 0, 1), 1);
  ck_assert_int_eq(steading_ride_percentiles(&r, false, true, p + 2, 1, by_hour, &error),
                   STEADING_OK);
  ck_assert_double_eq(by_hour[0], 34);
  ck_assert(isinf(by_hour[13]) && isnan(by_hour[1]));
  steading_ride_free(&r);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Planned from 02:00 to 03:00 on Mondays: a start in it does not count, but the outage that started
 * before goes on through it. Random outages are not there at all. */
START_TEST(starts_inside_planned_outages_do_not_count) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { outages = { saifi = 300, caidi_h = 5, windows = { "
      "hours = \"02:00-03:00\", days = \"Mon\" } } } }, %s }",
      two_hours_a_day);
  steading_ride r = ride_of(
      site, "{ start = \"2027-01\", years = 1, initial = { state_of_charge = 0.5 } }", NULL);
  ck_assert_uint_eq(r.start_count, HOURS - 52);
  for (size_t k = 0; k < r.start_count; k++) {
    ck_assert_uint_eq(r.starts[k].steps, life_by_hand(r.starts[k].hour));
    /* 1 January 2027 is a Friday: Mondays are days 3, 10 ... */
    ck_assert(r.starts[k].hour != 2 || (r.starts[k].step / 24) % 7 != 3);
  }
  steading_ride_free(&r);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A tank of 1000 l on a hill, 1200 l a day drawn evenly: full it lasts 20 hours. Its pump stands on
 * the meter and keeps it full. The load that fails at once does not matter. */
START_TEST(water_lasts_as_long_as_the_tank) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } } } } }, buildings = { b = { hub = \"h\", "
      "loads = { { kind = \"steady\", watts = 900 } } } }, water = { wells = { w = { meter = "
      "\"m\", "
      "lift_m = 50, flow_l_per_min = 20, efficiency = 0.5 } }, tanks = { t = { litres = 1000, "
      "fed_by "
      "= \"w\", start_below = 0.999, stop_above = 1 } }, users = { u = { tank = \"t\", "
      "litres_per_day "
      "= 1200 } } } }");
  steading_ride r =
      ride_of(site,
              "{ start = \"2027-01\", years = 1, keep_serving = \"water\", initial = { "
              "tank_share = 1 } }",
              NULL);
  size_t odd = 0;
  for (size_t k = 0; k < r.start_count; k++) {
    /* the level falls by 50 l in the first hour, then a run of the pump fills it every hour */
    uint32_t expected = k == 0 ? 20 : 19;
    if (r.starts[k].steps != expected && r.starts[k].steps != 20) odd++;
  }
  ck_assert_uint_eq(odd, 0);
  steading_ride_free(&r);
  r = ride_of(site, "{ start = \"2027-01\", years = 1, last_hours = 1 }", NULL);
  for (size_t k = 0; k < r.start_count; k++) ck_assert_uint_eq(r.starts[k].steps, 0);
  steading_ride_free(&r);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Civil hours: in Denver's July an hour is the one before in standard time. */
START_TEST(starts_have_civil_hours) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      build_site(weather, "{ weather = @0, meters = { m = {} }, %s }", two_hours_a_day);
  steading_zone *zone = NULL;
  steading_ride r;
  ck_assert_int_eq(steading_zone_load("America/Denver", &zone, NULL), STEADING_OK);
  r = ride_of(site,
              "{ start = \"2027-01\", years = 1, last_hours = 168, initial = { state_of_charge "
              "= 0.5 } }",
              zone);
  for (size_t k = 0; k < r.start_count; k++) {
    const steading_ride_start *start = &r.starts[k];
    if (start->month == 7) ck_assert_uint_eq(start->hour, (k + 1) % 24);
    if (start->month == 7 || start->month == 1)
      ck_assert_uint_eq(start->steps, life_by_hand(start->hour));
  }
  steading_ride_free(&r);
  steading_zone_free(zone);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- every start on its own ----------------------------------------------------------------------
 */

/* Sites with all that a state can hold: a battery that waits, several hubs behind two meters, wells
 * and tanks, lots that come and go, transfers, derating, planned outages. */
#define SUN                                                                                     \
  "arrays = { { tilt_deg = 30, azimuth_deg = 180, lots = { { count = %d } }, module = { watts " \
  "= 400, temp_coefficient_per_c = -0.0035 } } }, "
#define UNIT \
  "inverter = { unit = { ac_kw = 6, efficiency = { at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } "
#define LOAD(hub, kwh)                                                                             \
  "{ hub = \"" hub "\", loads = { { kind = \"daily\", kwh_per_day = " kwh                          \
  ", shape = \"dwelling\" "                                                                        \
  "}, { kind = \"timed\", kw = 1.5, window = { hours = \"18:00-20:00\", days = \"Sat-Sun\" } } } " \
  "}, "
#define WATER                                                                                    \
  "water = { wells = { w = { hub = \"a\", lift_m = 90, flow_l_per_min = 30, efficiency = 0.4 } " \
  "}, "                                                                                          \
  "tanks = { t = { litres = 5000, fed_by = \"w\" }, s = { litres = 1500, fed_by = \"w\", "       \
  "surplus_to "                                                                                  \
  "= 0.8 } }, users = { u = { tank = \"t\", litres_per_day = 2200 }, v = { tank = \"s\", "       \
  "litres_per_day = { 100, 100, 200, 400, 700, 900, 900, 800, 500, 200, 100, 100 } } } }, "

static const struct {
  const char *name, *site, *ask;
  int panels;
} sites[] = {
    {"one hub that waits",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 12, charge_kw = 4, discharge_kw = 4, round_trip_efficiency = "
     "0.92, "
     "standby_w = 8 } }, rules = { battery_floor = 0.2, resume_above = 0.5, outage_floor = 0.05 } "
     "} }, "
     "buildings = { b = " LOAD("a", "9") "} }",
     "last_hours = { 4, 168 }", 5},
    {"one hub and its well",
     "{ weather = @0, meters = { m = { outages = { windows = { hours = \"13:00-15:00\", days = "
     "\"Tue\" "
     "} } } }, hubs = { a = { meter = \"m\", " UNIT
     ", night_w = 12, derate = { { temp_c = 10, share = 1 "
     "}, { temp_c = 40, share = 0.4 } } } }, " SUN
     "battery = { module = { kwh = 5, charge_kw = 2, discharge_kw = 3, round_trip_efficiency = 0.9 "
     "}, "
     "lots = { { count = 2 }, { count = 2, in_service = \"2028-05-11\", retired = \"2030-02-03\" } "
     "} }, "
     "rules = { battery_floor = 0.3, reserve = { 0.7, 0.7, 0.5, 0, 0, 0, 0, 0, 0, 0, 0.5, 0.7 }, "
     "outage_floor = 0.1 } } }, buildings = { b = " LOAD("a", "7") "}, " WATER "}",
     "last_hours = 72", 4},
    {"one hub that sheds",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 10, charge_kw = 4, discharge_kw = 4, round_trip_efficiency = "
     "0.92 } }, rules = { battery_floor = 0.3, outage_floor = 0.05, shed = { sheddable = 0.6, "
     "ordinary = 0.3 } } } }, buildings = { b = { hub = \"a\", loads = { { kind = \"daily\", "
     "kwh_per_day = 4, shape = \"dwelling\", class = \"sheddable\" }, { kind = \"daily\", "
     "kwh_per_day = 4, shape = \"dwelling\" }, { kind = \"steady\", watts = 60, class = "
     "\"essential\" } } } } }",
     "last_hours = { 24, 168 }", 1},
    {"its essential load",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 6, charge_kw = 4, discharge_kw = 4, round_trip_efficiency = "
     "0.92 } }, rules = { battery_floor = 0.3, outage_floor = 0.05, shed = { sheddable = 0.5 } } "
     "} }, buildings = { b = { hub = \"a\", loads = { { kind = \"daily\", kwh_per_day = 3, shape = "
     "\"dwelling\", class = \"sheddable\" }, { kind = \"daily\", kwh_per_day = 2, shape = "
     "\"dwelling\" }, { kind = \"steady\", watts = 150, class = \"essential\" } } } }, " WATER "}",
     "last_hours = { 24, 168 }, keep_serving = \"essential\"", 5},
    {"one hub with a generator",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 14, charge_kw = 4, discharge_kw = 4, round_trip_efficiency = "
     "0.92 } }, generator = { unit = { kw = 2, fuel = \"diesel\", no_load_l_per_h = 0.3, "
     "l_per_kwh = 0.3 }, role = \"both\", charger_kw = 1 }, rules = { battery_floor = 0.3, "
     "outage_floor = 0.05, generator = { start_below_charge = 0.2, stop_above_charge = 0.5, "
     "start_if_unserved = true, quiet = \"21:00-07:00\", least_hours = 2, least_rest_hours = 3, "
     "most_hours_per_day = 8 } } } }, fuels = { diesel = { tank = { litres = 60, full_to = 0.9 }, "
     "delivery = { order_below = 0.5, lead_days = 4, least_l = 20 } } }, "
     "buildings = { b = " LOAD("a", "14") "} }",
     "last_hours = { 24, 72 }", 6},
    {"one hub in the cold, and its heater",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 10, charge_kw = 4, discharge_kw = 4, round_trip_efficiency = "
     "0.92, charge_share_at_c = { { 0, 0 }, { 25, 1 } } }, room = { temp_c = { 2, 5, 8, 12, 16, "
     "20, 25, 25, 20, 12, 7, 3 }, heater_w = 300, heat_below_c = 15 } }, rules = { battery_floor "
     "= 0.3, outage_floor = 0.05 } } }, buildings = { b = " LOAD("a", "8") "} }",
     "last_hours = { 24, 168 }", 4},
    {"one hub and two kinds of battery",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { { module = { kwh = 4, charge_kw = 2, discharge_kw = 2, resistance = { volts = "
     "50, "
     "ohm = 0.05 }, taper = {}, usable_share_at_c = { { 0, 0.7 }, { 25, 1 } } }, room = { temp_c = "
     "\"outdoors\" } }, { module = { kwh = 5, charge_kw = 1, discharge_kw = 3, "
     "round_trip_efficiency = 0.8, chemistry = \"lead_acid\", available_share = 0.4, per_h = 0.3, "
     "gassing = { above = 0.8, at_full = 0.5 } }, lots = { { count = 2 }, { count = 1, in_service "
     "= \"2028-05-11\", retired = \"2030-02-03\" } } } }, rules = { battery_floor = 0.3, "
     "outage_floor = 0.05 } } }, buildings = { b = " LOAD("a", "8") "} }",
     "last_hours = { 24, 168 }", 4},
    {"one hub whose battery ages",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 4, charge_kw = 2, discharge_kw = 2, round_trip_efficiency = "
     "0.92, usable = { 0.05, 0.9 } }, room = { temp_c = 25 }, ageing = { model = "
     "\"cycles_against_depth\", depths = { { depth = 1, cycles = 6000 } }, calendar_years = 2, "
     "replace_at_health = 0.75 }, lots = { { count = 2 }, { count = 1, retired = \"2028-08-20\" "
     "}, { count = 1, in_service = \"2029-06-10\" } } }, rules = { battery_floor = 0.88, "
     "outage_floor = 0.1 } } }, buildings = { b = " LOAD("a", "9") "} }",
     "last_hours = { 24, 168 }", 2},
    {"one hub and what a function decides",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 10, charge_kw = 4, discharge_kw = 4, round_trip_efficiency = "
     "0.92 } }, generator = { unit = { kw = 2, fuel = \"diesel\", no_load_l_per_h = 0.3, "
     "l_per_kwh = 0.3 }, role = \"both\", charger_kw = 1 }, rules = { battery_floor = 0.3, "
     "outage_floor = 0.05, generator = { start_below_charge = 0.2, stop_above_charge = 0.5, "
     "start_if_unserved = false, quiet = \"21:00-07:00\", most_hours_per_day = 4 } } } }, fuels = "
     "{ diesel = { tank = { litres = 60, full_to = 0.9 }, delivery = { order_below = 0.5, "
     "lead_days = 4, least_l = 20 } } }, buildings = { b = { hub = \"a\", loads = { { kind = "
     "\"daily\", kwh_per_day = 4, shape = \"dwelling\", class = \"sheddable\" }, { kind = "
     "\"daily\", kwh_per_day = 11, shape = \"dwelling\" } } } } }",
     "last_hours = { 24, 96 }", 4},
    {"AC-coupled arrays beside others, and a unit that gives less",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT
     ", islanded_kw = 2, charge_from_grid_kw = 3, night_w = 12 } }, arrays = { { tilt_deg = 30, "
     "azimuth_deg = 180, module = { watts = 400, temp_coefficient_per_c = -0.0035 }, coupled = "
     "\"ac\", own_inverter = { ac_kw = 1.6 }, lots = { { count = %d } } }, { tilt_deg = 60, "
     "azimuth_deg = 90, module = { watts = 400, temp_coefficient_per_c = -0.0035 } } }, battery = "
     "{ module = { kwh = 12, usable = { 0.05, 1 }, charge_kw = 4, discharge_kw = 4, "
     "round_trip_efficiency = 0.92, standby_w = 8 } }, rules = { battery_floor = 0.4, outage_floor "
     "= 0.1 } } }, buildings = { b = " LOAD("a", "9") "} }",
     "last_hours = { 24, 168 }", 5},
    {"its water",
     "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", " UNIT "} }, " SUN
     "battery = { module = { kwh = 4, charge_kw = 2, discharge_kw = 3, round_trip_efficiency = 0.9 "
     "} }, "
     "rules = { battery_floor = 0.3 } } }, buildings = { b = " LOAD("a", "12") "}, " WATER "}",
     "last_hours = 168, keep_serving = \"water\"", 1},
    {"three hubs, two meters, water",
     "{ weather = @0, meters = { m = { import_limit_kw = 4, export_limit_kw = 1 }, n = {} }, hubs "
     "= { a "
     "= { meter = \"m\", " UNIT "} }, " SUN "battery = { module = { kwh = 9, charge_kw = 3, "
     "discharge_kw = 3, round_trip_efficiency = 0.95 } }, "
     "rules = { battery_floor = 0.15, resume_above = 0.3 } }, b = { meter = \"m\", " UNIT
     "}, with_grid = \"transfers\" }, battery = { module = { kwh = 6, charge_kw = 3, discharge_kw "
     "= 3, "
     "round_trip_efficiency = 0.95 } }, rules = { battery_floor = 0.1, resume_above = 0.6 }, " SUN
     "}, c = { meter = \"n\", " UNIT "} }, " SUN "battery = { module = { kwh = 20, charge_kw = 5, "
     "discharge_kw = 5, round_trip_efficiency = 0.95 } "
     "}, rules = { battery_floor = 0.4, outage_floor = 0.1, surplus_order = { \"export\", "
     "\"battery\" } } "
     "} }, buildings = { x = " LOAD("a", "5") "y = " LOAD("b", "3") "z = " LOAD(
         "c", "8") "o = { meter "
                   "= \"n\", loads = { { kind = \"steady\", watts = 200 } } } }, " WATER "}",
     "last_hours = { 24, 96 }", 4},
};
enum { SITES = sizeof sites / sizeof sites[0], YEARS = 5 };

/* What the hub of one of the sites decides: with the grid it saves for the night; without it uses
 * less of the battery before a dull day, sheds, and lets the generator run earlier by day. */
static steading_status choose(steading_function *function, const steading_decide_step *now,
                              steading_decision *answer, steading_error *error) {
  (void)function;
  (void)error;
  if (now->grid_up) {
    answer->battery_floor = now->hour < 12 ? 0.5 : 0.3;
    return STEADING_OK;
  }
  answer->battery_floor = now->sun_next_24h_kwh < 5 ? 0.2 : 0.1;
  answer->says_shed = true;
  answer->shed[STEADING_CLASS_SHEDDABLE] = now->state_of_charge < 0.6 && now->load_kw > 0.3;
  if (now->state_of_charge < 0.35 && now->hour >= 9) answer->generator = STEADING_GENERATOR_TO_RUN;
  if (now->generator_on && now->state_of_charge > 0.55)
    answer->generator = STEADING_GENERATOR_TO_REST;
  return STEADING_OK;
}

static void nobody_owns(steading_function *function) { (void)function; }
static steading_function chooser = {.number = 1, .decide = choose, .gone = nobody_owns};

static bool decides_at(int k) { return strstr(sites[k].name, "decides") != NULL; }

static const steading_site *site_at(steading_weather *weather, int k) {
  int n = sites[k].panels;
  /* the same count for each hub: what a format does not use it ignores */
  char *text = malloc(8192);
  const steading_site *site = NULL;
  const char *from = sites[k].site;
  char *to = text;
  for (; *from != '\0'; from++) {
    if (from[0] == '%' && from[1] == 'd') {
      to += sprintf(to, "%d", n);
      from++;
    } else {
      *to++ = *from;
    }
  }
  *to = '\0';
  site = build_site(weather, "%s", text);
  free(text);
  if (decides_at(k)) { /* a text holds no function */
    const steading_hub *hub = (const void *)site->hubs->entries[0].item;
    ((steading_rules *)hub->rules)->decide = steading_function_keep(&chooser);
  }
  return site;
}

/* All that the steps of a run begin with, and the islanded parameters of each. */
typedef struct seen_steps {
  size_t steps, hubs, meters;
  steading_state *before;
  steading_stretch **islanded; /* of the step; the same for all of a section */
  int64_t *day;                /* of the beginning of its section */
  const steading_run *run;     /* of the same years */
  bool decides;
  double *sun_kwh; /* [steps] of the one hub, in 24 h; NULL unless something is decided */
  steading_civil_step *civil; /* [steps] */
#define SEEN_ROWS(name, how_many) double *name;
  struct {
    STEADING_STEP_ROW_LIST(SEEN_ROWS)
  } rows; /* what steps are given: [steps][how many], NULL for what does not matter */
#undef SEEN_ROWS
  steading_generators_state *sets;            /* [steps] */
  steading_generators *generators[YEARS + 1]; /* of each year; NULL without any */
  double *capacity_kwh;                       /* [steps][hubs] */
  steading_program program;
} seen_steps;

static const steading_hub *hub_of(const seen_steps *r, size_t i) { return r->program.hubs[i].hub; }

/* Batteries are used down to a share of what age has left of them. */
static void check_floors(const seen_steps *r, size_t k) {
  for (size_t i = 0; i < r->hubs; i++) {
    const steading_rules *rules = hub_of(r, i)->rules;
    double share =
        steading_record_given(rules, "outage_floor") ? rules->outage_floor : rules->battery_floor;
    ck_assert_double_eq_tol(r->islanded[k]->hubs[i].floor_kwh,
                            share * r->capacity_kwh[k * r->hubs + i], 1e-12);
  }
}

static steading_status record(void *context, const steading_block *b, steading_error *error) {
  seen_steps *r = context;
  size_t k = b->first_step;
  (void)error;
  ck_assert_uint_eq(b->count, 1);
  if (k == 0) {
    r->program = *b->program;
    r->program.health = NULL; /* which the run takes along */
  }
  r->before[k] = *b->before;
  r->day[k] = b->section_day;
  r->civil[k] = b->civil[0];
  memcpy(r->capacity_kwh + k * r->hubs, b->capacity_kwh, r->hubs * sizeof *b->capacity_kwh);
  if (k > 0 && r->day[k - 1] == r->day[k]) {
    r->islanded[k] = r->islanded[k - 1];
  } else {
    r->islanded[k] = malloc(sizeof *r->islanded[k]);
    *r->islanded[k] = *b->up;
    steading_program_take_down(b->program, b->section_day, 0xffff, r->islanded[k]);
    check_floors(r, k);
  }
#define SEE_ROWS(name, how_many)                                                               \
  if (b->rows.name != NULL) {                                                                  \
    size_t n = steading_rows_of_##how_many(b->layout);                                         \
    if (r->rows.name == NULL) r->rows.name = calloc(r->steps * n + 1, sizeof(double));         \
    for (size_t i = 0; i < n; i++) r->rows.name[k * n + i] = b->rows.name[i * b->rows.stride]; \
  }
  STEADING_STEP_ROW_LIST(SEE_ROWS)
#undef SEE_ROWS
  if (b->sets_before != NULL) {
    r->sets[k] = *b->sets_before;
    if (k % HOURS == 0) {
      steading_generators **g = &r->generators[k / HOURS];
      ck_assert_int_eq(steading_generators_make(&r->program, g, NULL), STEADING_OK);
      steading_generators_year(*g, (int)(k / HOURS), b->civil);
    }
  }
  return STEADING_OK;
}

static seen_steps *see_run(const steading_site *site, bool decides) {
  seen_steps *r = calloc(1, sizeof *r);
  steading_sink sink = {.take = record, .context = r};
  steading_simulate *options =
      build(&steading_simulate_spec, NULL, "{ start = \"2027-03\", years = %d }", YEARS + 1);
  steading_error error = {.status = STEADING_OK};
  size_t n = (YEARS + 1) * HOURS;
  r->steps = n;
  r->decides = decides;
  r->hubs = site->hubs->count;
  r->meters = site->meters->count;
  r->before = calloc(n, sizeof *r->before);
  r->islanded = calloc(n, sizeof(steading_stretch *));
  r->day = calloc(n, sizeof *r->day);
  r->civil = calloc(n, sizeof *r->civil);
  r->sets = calloc(n, sizeof *r->sets);
  r->capacity_kwh = calloc(n * r->hubs, sizeof *r->capacity_kwh);
  if (steading_run_watch(site, options, NULL, true, &sink, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(options);
  if (decides) r->sun_kwh = calloc(n, sizeof *r->sun_kwh);
  for (size_t k = 0; decides && k < n; k++) /* after a year its own first hours follow again */
    for (size_t i = 0; i < 24; i++)
      r->sun_kwh[k] += r->rows.pv_kw[k / HOURS * HOURS + (k + i) % HOURS];
  r->run = build_run(site, "{ start = \"2027-03\", years = 6 }");
  return r;
}

static void seen_free(seen_steps *r) {
  for (size_t k = 0; k < r->steps; k++)
    if (k == 0 || r->islanded[k] != r->islanded[k - 1]) free(r->islanded[k]);
  free(r->before);
  free(r->islanded);
  steading_run_release((steading_run *)r->run);
  free(r->day);
#define FREE_ROWS(name, how_many) free(r->rows.name);
  STEADING_STEP_ROW_LIST(FREE_ROWS)
#undef FREE_ROWS
  free(r->sets);
  free(r->civil);
  free(r->sun_kwh);
  free(r->capacity_kwh);
  for (int y = 0; y <= YEARS; y++) steading_generators_free(r->generators[y]);
  free(r);
}

/* The store of a hub as step k begins, by what is told of the plan and of what aged out: a lot that
 * is replaced takes its share of the capacity, as age has left it, along, and the new one brings
 * its charge; likewise lots that come and go; what is above the usable window then is lost. */
static void turn_over(const seen_steps *r, size_t k, size_t i, double *stored_kwh) {
  const steading_battery *battery =
      hub_of(r, i)->battery == NULL ? NULL : steading_battery_at(hub_of(r, i), 0);
  double kwh = battery->module->kwh, now = r->capacity_kwh[k * r->hubs + i] / kwh;
  double before = r->capacity_kwh[(k - 1) * r->hubs + i] / kwh; /* in new modules */
  double come = 0;
  bool replaced = false, changes = false, turns = battery->ageing != NULL && k % HOURS == 0;
  for (size_t n = 0; n < r->run->replacement_count; n++) {
    const steading_replacement *one = &r->run->replacements[n];
    double count = one->lot->count;
    if (one->hub != i || (size_t)one->year != k / HOURS || !turns) continue;
    ck_assert(!replaced); /* one lot at a time: what others have left is known then */
    replaced = true;
    *stored_kwh +=
        0.3 * count * kwh - *stored_kwh * count * one->health / (now - count + count * one->health);
  }
  for (size_t l = 0; battery->lots != NULL && l < battery->lots->count; l++) {
    const steading_lot *lot = (const void *)battery->lots->items[l];
    bool comes = steading_record_given(lot, "in_service") && lot->in_service == r->day[k];
    changes =
        changes || comes || (steading_record_given(lot, "retired") && lot->retired == r->day[k]);
    come += comes ? lot->count : 0;
  }
  ck_assert(!(changes && turns));
  if (changes) *stored_kwh += 0.3 * come * kwh - *stored_kwh * (before + come - now) / before;
  if (turns) *stored_kwh = fmin(*stored_kwh, battery->module->usable[1] * now * kwh);
}

/* The same of the one hub whose batteries are several: what comes, comes level in two tanks. */
static void turn_over_kinds(const seen_steps *r, size_t k, steading_state *s) {
  const steading_hub *hub = hub_of(r, 0);
  s->stored_kwh[0] = 0;
  for (size_t b = 0; b < steading_batteries_of(hub); b++) {
    const steading_battery *battery = steading_battery_at(hub, b);
    double before = 0, gone = 0, come = 0, kwh = 0;
    for (size_t l = 0; battery->lots != NULL && l < battery->lots->count; l++) {
      const steading_lot *lot = (const void *)battery->lots->items[l];
      bool dated = steading_record_given(lot, "in_service");
      bool retires = steading_record_given(lot, "retired");
      bool was = (!dated || lot->in_service < r->day[k]) && (!retires || lot->retired >= r->day[k]);
      before += was ? lot->count : 0;
      gone += retires && lot->retired == r->day[k] ? lot->count : 0;
      come += dated && lot->in_service == r->day[k] ? lot->count : 0;
    }
    kwh = 0.3 * come * battery->module->kwh;
    if (gone > 0) {
      s->pools[b].stored_kwh *= 1 - gone / before;
      s->pools[b].available_kwh *= 1 - gone / before;
    }
    s->pools[b].stored_kwh += kwh;
    if (battery->module->chemistry == STEADING_CHEMISTRY_LEAD_ACID)
      s->pools[b].available_kwh += battery->module->available_share * kwh;
    s->stored_kwh[0] += s->pools[b].stored_kwh;
  }
}

/* What is decided for the one hub of a step, and the parameters that come of it. */
static steading_stretch decided(const seen_steps *r, size_t k, const steading_state *state,
                                const steading_generators_state *sets, int8_t *order) {
  double capacity = r->capacity_kwh[k];
  steading_decide_step now = {.hour = r->civil[k].minute / 60.0,
                              .load_kw = r->rows.hub_kw[k],
                              .state_of_charge = state->stored_kwh[0] / capacity,
                              .sun_next_24h_kwh = r->sun_kwh[k],
                              .generator_on = sets->sets[0].on > 0};
  steading_decision answer = {.generator = STEADING_GENERATOR_BY_RULES};
  steading_stretch s = *r->islanded[k];
  ck_assert_int_eq(choose(NULL, &now, &answer, NULL), STEADING_OK);
  s.hubs[0].floor_kwh = s.hubs[0].resume_kwh = answer.battery_floor * capacity;
  for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) /* below more than it holds: always */
    s.hubs[0].shed_kwh[c] = s.hubs[0].restore_kwh[c] = answer.shed[c] ? 10 * capacity : 0;
  *order = (int8_t)answer.generator;
  return s;
}

/* Steps that an outage from `start` on is ridden through, step by step, up to `longest`. */
static uint32_t slow_life(const seen_steps *r, size_t start, size_t longest, const char *ask) {
  const steading_layout *at = &r->program.layout;
  const bool water = strstr(ask, "water") != NULL, essential = strstr(ask, "essential") != NULL;
  steading_state state = r->before[start];
  steading_generators_state sets = r->sets[start];
  double row[512];
  for (size_t k = start; k < start + longest; k++) {
    double missing = 0;
    for (size_t i = 0; k > start && r->day[k] != r->day[k - 1] && i < r->hubs; i++)
      if (at->pools == 0) turn_over(r, k, i, &state.stored_kwh[i]);
    if (at->pools > 0 && k > start && r->day[k] != r->day[k - 1]) turn_over_kinds(r, k, &state);
#define ROWS_OF_STEP(name, how_many) \
  .name = r->rows.name == NULL ? NULL : r->rows.name + k * steading_rows_of_##how_many(at),
    const steading_step_rows rows = {.stride = 1, STEADING_STEP_ROW_LIST(ROWS_OF_STEP)};
#undef ROWS_OF_STEP
    int8_t order = STEADING_GENERATOR_BY_RULES;
    steading_stretch now;
    if (r->decides) now = decided(r, k, &state, &sets, &order);
    const steading_generators_block block = {.stretch = r->decides ? &now : r->islanded[k],
                                             .down = 0xffff,
                                             .first_step = k % HOURS,
                                             .count = 1,
                                             .rows = &rows,
                                             .orders = r->decides ? &order : NULL};
    steading_generators *generators = r->generators[k / HOURS];
    if (generators == NULL) {
      steading_kernel_run(block.stretch, &state, 1, &rows, row);
    } else {
      steading_generators_section(generators, r->day[k], r->capacity_kwh + k * r->hubs);
      steading_generators_run(generators, &block, &state, &sets, row);
    }
    for (size_t t = 0; water && t < at->tanks; t++)
      missing += steading_tank_flow_of(at, row, t)->short_l;
    for (size_t i = 0; !water && i < at->hubs; i++) {
      const steading_hub_flow *flow = steading_hub_flow_of(at, row, i);
      /* the only site that is asked about essential loads has 0.15 kW of them, at all times */
      double others = essential ? r->rows.hub_kw[k * r->hubs + i] - 0.15 - flow->shed : 0;
      missing += flow->unserved > others ? flow->unserved - others : 0;
    }
    if (missing > 1e-9) return (uint32_t)(k - start);
  }
  return STEADING_RIDE_OUTLASTS;
}

static double seconds(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

START_TEST(every_start_of_five_years_is_as_if_it_were_stepped_alone) {
  steading_weather *weather = build_sunny_weather(3);
  const steading_site *site = site_at(weather, _i);
  char text[256];
  steading_ride r;
  seen_steps *seen = see_run(site, decides_at(_i));
  size_t outlast = 0, longest = 0, compared = 0;
  double began = 0, fast = 0, slow = 0, sum = 0;
  snprintf(text, sizeof text, "{ start = \"2027-03\", years = %d, %s }", (int)YEARS, sites[_i].ask);
  began = seconds();
  r = ride_of(site, text, NULL);
  fast = seconds() - began;
  for (size_t i = 0; i < r.last_count; i++)
    longest = fmax((double)longest, r.last_hours[i]) > (double)longest ? (size_t)r.last_hours[i]
                                                                       : longest;
  began = seconds();
  for (size_t k = 0; k < r.start_count; k += THINNED, compared++) {
    uint32_t life = slow_life(seen, r.starts[k].step, longest, sites[_i].ask);
    if (life != r.starts[k].steps)
      ck_abort_msg("%s: step %u: %u, alone %u", sites[_i].name, r.starts[k].step, r.starts[k].steps,
                   life);
    outlast += life == STEADING_RIDE_OUTLASTS;
    sum += life == STEADING_RIDE_OUTLASTS ? (double)longest : life;
  }
  slow = seconds() - began;
  ck_assert_uint_gt(r.start_count, YEARS * (HOURS - 120)); /* all but planned outages */
  ck_assert_double_gt(sum, 2.0 * (double)compared);        /* it is not all failure at once */
  printf(
      "ride through, %s: %zu starts, mean %.1f h, %zu outlast %zu h: %.1f ms with the run, %.2f "
      "islanded steps a start; alone %.0f ms\n",
      sites[_i].name, r.start_count, sum / (double)compared, outlast, longest, 1e3 * fast,
      (double)r.stepped / (double)r.start_count, 1e3 * slow);
  steading_ride_free(&r);
  seen_free(seen);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- whole runs ----------------------------------------------------------------------------------
 */

/* The same site once more, simulated whole for each start, with a rota that takes its grids down
 * for good from that hour on. Every hour of a year for the small site, every 13th for the largest.
 */
START_TEST(a_run_without_grid_from_an_hour_on_fails_when_the_ride_says) {
  enum { LONGEST = 100 };
  const int which = _i == 0 ? 0 : (int)SITES - 1, stride = (_i == 0 ? 1 : 13) * THINNED;
  steading_weather *weather = build_sunny_weather(2);
  const steading_site *site = site_at(weather, which);
  steading_ride r = ride_of(site, "{ start = \"2027-01\", years = 1, last_hours = 100 }", NULL);
  size_t outlast = 0;
  ck_assert_uint_eq(r.start_count, HOURS);
  for (size_t k = 0; k < HOURS; k += (size_t)stride) {
    steading_record *changed = NULL;
    const char *paths[2] = {"meters.m.outages", "meters.n.outages"};
    char starts[8], options[160];
    steading_value numbers[2] = {{.kind = STEADING_VALUE_NUMBER, .number = (double)(k / 24)},
                                 {.kind = STEADING_VALUE_NUMBER, .number = 24}};
    steading_value clock = {.kind = STEADING_VALUE_TEXT, .text = starts};
    steading_entry of_rota[3] = {
        {"first_day", numbers[0]}, {"hours", numbers[1]}, {"starts", clock}};
    steading_value rota = {.kind = STEADING_VALUE_TABLE, .entries = of_rota, .entry_count = 3};
    steading_entry of_outages[1] = {{"rota", rota}};
    steading_value outages = {
        .kind = STEADING_VALUE_TABLE, .entries = of_outages, .entry_count = 1};
    steading_value values[2] = {outages, outages};
    steading_error error;
    uint32_t life = STEADING_RIDE_OUTLASTS;
    int month = 0, day = 0, end_month = 0, end_day = 0, end = (int)(k / 24) + 6;
    steading_run *run = NULL;
    snprintf(starts, sizeof starts, "%02d:00", (int)(k % 24));
    if (steading_spec_change(site, "site", site->meters->count, paths, values, (void **)&changed,
                             &error) != STEADING_OK)
      ck_abort_msg("%s: %s", error.path, error.text);
    steading_month_of_day((int)(k / 24), &month, &day);
    steading_month_of_day(end % 365, &end_month, &end_day);
    snprintf(options, sizeof options,
             "{ start = \"2027-01\", years = %d, keep = \"steps\", from = \"2027-%02d-%02d\", to = "
             "\"%d-%02d-%02d\" }",
             end < 365 ? 1 : 2, month, day, end < 365 ? 2027 : 2028, end_month, end_day);
    run = build_run((const steading_site *)changed, options);
    for (size_t i = 0; i < LONGEST && life == STEADING_RIDE_OUTLASTS; i++)
      if (build_step(run, k % 24 + i).hub_unserved > 1e-9) life = (uint32_t)i;
    if (life != r.starts[k].steps)
      ck_abort_msg("start %zu: %u, a whole run %u", k, r.starts[k].steps, life);
    outlast += life == STEADING_RIDE_OUTLASTS;
    steading_run_release(run);
    steading_record_release(changed);
  }
  ck_assert_uint_lt(outlast, HOURS / (size_t)stride);
  steading_ride_free(&r);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- what cannot be asked ------------------------------------------------------------------------
 */

static const struct {
  const char *site, *ask, *path, *said;
} refused[] = {
    {"{ weather = @0, hubs = { h = { inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 1, "
     "at_100 "
     "= 1 } } } } } }",
     "{}", "ride_through", "the site has no meter"},
    {"{ weather = @0, meters = { m = {} } }", "{}", "ride_through", "the site has no hub"},
    {"{ weather = @0, meters = { m = {} } }", "{ keep_serving = \"water\" }",
     "ride_through.keep_serving", "nobody draws water"},
    {"{ weather = @0, meters = { m = {} }, " KEPT "}", "{ years = 100, step_minutes = 1 }",
     "ride_through.years", "GiB, more than 2"},
};

START_TEST(what_cannot_be_asked_is_told) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(weather, "%s", refused[_i].site);
  steading_ask_ride *ask = build(&steading_ask_ride_spec, NULL, "%s", refused[_i].ask);
  steading_error error = {.status = STEADING_OK};
  steading_ride r;
  ck_assert_int_eq(steading_ride_through(site, ask, NULL, &r, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, refused[_i].path);
  ck_assert_msg(strstr(error.text, refused[_i].said) != NULL, "it said: %s", error.text);
  steading_record_release(ask);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

static const struct {
  const char *ask, *path, *said;
} mistakes[] = {
    {"{ last_hours = { 4, 4.5 } }", "last_hours[2]", "whole steps"},
    {"{ last_hours = { 4, 12, 4 } }", "last_hours[3]", "twice"},
    {"{ start_hours = 6.5 }", "start_hours[1]", "0 to 23"},
    {"{ start_hours = 24 }", "start_hours", "outside 0 to 23"},
    {"{ step_minutes = 7 }", "step_minutes", "expected 60"},
    {"{ start = \"2027-01-02\" }", "start", "first day of a month"},
};

START_TEST(mistakes_are_told) {
  steading_error error = {.status = STEADING_OK};
  ck_assert_ptr_null(build_or_error(&steading_ask_ride_spec, NULL, &error, "%s", mistakes[_i].ask));
  ck_assert_str_eq(error.path, mistakes[_i].path);
  ck_assert_msg(strstr(error.text, mistakes[_i].said) != NULL, "it said: %s", error.text);
}
END_TEST

Suite *ride_suite(void) {
  Suite *suite = suite_create("ride");
  TCase *tests = tcase_create("ride");
  tcase_add_loop_test(tests, a_steady_load_lasts_as_long_as_the_store, 0, 3);
  tcase_add_test(tests, percentiles_by_hand);
  tcase_add_test(tests, starts_inside_planned_outages_do_not_count);
  tcase_add_test(tests, water_lasts_as_long_as_the_tank);
  tcase_add_test(tests, starts_have_civil_hours);
  tcase_add_loop_test(tests, every_start_of_five_years_is_as_if_it_were_stepped_alone, 0, SITES);
  tcase_add_loop_test(tests, a_run_without_grid_from_an_hour_on_fails_when_the_ride_says, 0, 2);
  tcase_add_loop_test(tests, what_cannot_be_asked_is_told, 0, sizeof refused / sizeof refused[0]);
  tcase_add_loop_test(tests, mistakes_are_told, 0, sizeof mistakes / sizeof mistakes[0]);
  tcase_set_timeout(tests, 600);
  suite_add_tcase(suite, tests);
  return suite;
}
