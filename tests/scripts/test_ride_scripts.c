/* site:ride_through as a script sees it, on a site whose answers are a matter of counting: 4 kWh
 * are kept for outages and 2 kW are wanted from 10:00 to 12:00, so that a start at 00:00 serves two
 * hours and fails the next day at 10:00, after 34 hours; one at 11:00 lasts 24, one at 13:00
 * lasts 45. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) { folder_make(folder); }
static void teardown(void) { folder_remove(folder); }

static const char site[] =
    "local steading = require 'steading'\n"
    "local even = {} for i = 1, 12 do even[i] = 3 end\n"
    "local weather = steading.weather.synthesize { place = { latitude_deg = 0, longitude_deg = 0, "
    "time_zone = 'UTC' },\n"
    "  years = 1, ghi_kwh_per_m2_day = even, temp_mean_c = even, temp_range_c = even }\n"
    "local unit = { ac_kw = 5, efficiency = { at_10 = 1, at_100 = 1 } }\n"
    "local module = { kwh = 10, charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 }\n"
    "local site = steading.site { weather = weather, meters = { m = {} },\n"
    "  hubs = { h = { meter = 'm',\n"
    "  inverter = { unit = unit }, battery = { module = module, lots = { { price_each = 0 } } },\n"
    "  rules = { battery_floor = 0.5, outage_floor = 0.1 } } }, buildings = { b = { hub = 'h',\n"
    "  loads = { steading.load.timed { kw = 2, window = '10:00-12:00' } } } } }\n"
    "local ask = { start = '2027-01', years = 1, last_hours = { 24, 40 }, start_hours = { 11, 0, "
    "13 },\n"
    "  initial = { state_of_charge = 0.5 } }\n";

START_TEST(the_frame_counts_starts_by_month_and_hour) {
  char script[4096], *csv = NULL;
  command_said run;
  snprintf(
      script, sizeof script, "%s%s", site,
      "local ride = site:ride_through(ask)\n"
      "print(#ride, ride:sum('starts'), table.concat(ride.columns, ' '))\n"
      "for i = 1, 6 do local r = ride[i] print(r.month, r.start_hour, r.last_hours, r.starts,\n"
      "  r.held, r.held_share) end\n"
      "for row in ride:percentiles { 0.05, 0.5, 0.95 }:rows() do print(row.p, row.hours) end\n"
      "local by = ride:percentiles { 1, by = { 'start_hour', 'month' } }\n"
      "print(#by, by[4].month, by[4].start_hour, by[4].hours, by[5].hours, by[6].hours)\n"
      "by:write('by.csv')\n");
  run = SCRIPT(folder, script);
  ck_assert_msg(run.status == 0, "%s", run.err);
  ck_assert_str_eq(run.out,
                   "72\t2190.0\tmonth start_hour last_hours starts held held_share\n"
                   "1\t0\t24\t31\t31\t1\n1\t0\t40\t31\t0\t0\n"
                   "1\t11\t24\t31\t31\t1\n1\t11\t40\t31\t0\t0\n"
                   "1\t13\t24\t31\t31\t1\n1\t13\t40\t31\t31\t1\n"
                   "0.05\t24\n0.5\t34\n0.95\tnever\n"
                   "36\t2\t0\t34\t24\tnever\n");
  csv = command_read(folder, "by.csv");
  ck_assert_msg(strstr(csv, "\n2,0,1,34\n2,11,1,24\n2,13,1,\n") != NULL, "%s", csv);
  free(csv);
  command_free(&run);
}
END_TEST

static const struct {
  const char *line, *said;
} mistakes[] = {
    {"site:ride_through { last_hours = 4.5 }",
     "ride_through.last_hours[1]: expected whole steps; ask with finer step_minutes"},
    {"site:ride_through { keep_serving = 'essential' }",
     "ride_through.keep_serving: no load behind a hub is of class \"essential\""},
    {"site:ride_through { last_hour = 4 }",
     "ride_through.last_hour: unknown field (did you mean 'last_hours'?)"},
    {"site.ride_through {}", "ride_through: expected a site; write site:ride_through { ... }"},
    {"site:ride_through(ask):percentiles { 5 }",
     "percentiles[1]: found 5, expected a share, 0 to 1"},
    {"site:ride_through(ask):percentiles {}", "percentiles: found 0 shares, expected 1 to 64"},
    {"site:ride_through(ask):percentiles { 0.5, per = 'month' }",
     "percentiles.per: unknown field; expected shares such as 0.05, and by"},
    {"site:ride_through(ask):percentiles { 0.5, by = 'year' }",
     "percentiles.by: found year, expected \"month\", \"start_hour\" or both"},
    {"site:ride_through(ask):percentiles()",
     "percentiles: expected shares; write frame:percentiles { 0.05, 0.5, 0.95 }"},
    {"local f = site:ride_through(ask).percentile",
     "frame.percentile: unknown field (did you mean 'percentiles'?)"},
};

START_TEST(mistakes_are_told) {
  char script[4096], said[512];
  command_said run;
  snprintf(script, sizeof script, "%s%s\n", site, mistakes[_i].line);
  run = SCRIPT(folder, script);
  snprintf(said, sizeof said, "steading: scenario.lua:14: %s\n", mistakes[_i].said);
  ck_assert_int_eq(run.status, 2);
  ck_assert_msg(strstr(run.err, said) != NULL, "it said: %s", run.err);
  command_free(&run);
}
END_TEST

/* What stands straight on a meter cannot be served; it is said once a call. */
START_TEST(a_building_on_the_meter_is_told) {
  char script[4096];
  command_said run;
  snprintf(script, sizeof script, "%s%s", site,
           "local more = site:with { ['buildings.b.hub'] = steading.none, ['buildings.b.meter'] = "
           "'m' }\n"
           "local ride = more:ride_through(ask)\n"
           "print(ride:sum('held') == ride:sum('starts'))\n");
  run = SCRIPT(folder, script);
  ck_assert_str_eq(run.out, "true\n");
  ck_assert_msg(
      strstr(run.err,
             "steading: warning: ride_through: the building 'b' straight on a meter "
             "goes without in every outage: only loads behind hubs are counted\n") != NULL,
      "it said: %s", run.err);
  command_free(&run);
}
END_TEST

Suite *ride_scripts_suite(void) {
  Suite *suite = suite_create("ride_scripts");
  TCase *tests = tcase_create("ride_scripts");
  tcase_add_checked_fixture(tests, setup, teardown);
  tcase_set_timeout(tests, COMMAND_TEST_SECONDS);
  tcase_add_test(tests, the_frame_counts_starts_by_month_and_hour);
  tcase_add_loop_test(tests, mistakes_are_told, 0, sizeof mistakes / sizeof mistakes[0]);
  tcase_add_test(tests, a_building_on_the_meter_is_told);
  suite_add_tcase(suite, tests);
  return suite;
}
