/* What a script asks of a run's steps: worked out again from run.steps on random sites, by hand
 * where civil time moves, and what is refused. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

enum { SITES = 20 };

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
  command_fixture(folder, "asked.lua");
}

static void teardown(void) { folder_remove(folder); }

/* asked.lua stops where run:events, worst, profile, duration or reasons differ from the steps. */
START_TEST(test_random_sites) {
  char seed[32];
  snprintf(seed, sizeof seed, "seed=%d", _i + 1);
  command_said run = COMMAND(folder, "run", "asked.lua", "--set", seed);
  ck_assert_msg(run.status == 0, "%s: %s", seed, run.err);
  ck_assert_msg(strstr(run.out, "hubs\t") != NULL, "%s: %s", seed, run.out);
  command_free(&run);
}
END_TEST

/* A site of the grid alone in a zone with summer time: 1 kW from 09:00 to 10:00 civil time. */
static const char grid_alone[] =
    "local steading = require 'steading'\n"
    "local weather = steading.weather.synthesize { years = 1, seed = 1, temp_mean_c = 10,\n"
    "  place = { latitude_deg = 40, longitude_deg = -105, time_zone = 'America/Denver' },\n"
    "  temp_range_c = 10, ghi_kwh_per_m2_day = { 2, 3, 4, 5, 6, 7, 6, 5, 4, 3, 2, 2 } }\n"
    "local site = steading.site { weather = weather, meters = { yard = { tariff = {\n"
    "  energy = { { price_per_kwh = 0.1 } } } } }, buildings = { b = {\n"
    "  meter = 'yard', loads = { steading.load.timed { kw = 1, window = '09:00-10:00' } } } } }\n"
    "local run = site:simulate { start = '2027-01' }\n";

static command_said run_behind(const char *script) {
  char text[4096];
  ck_assert_int_lt(snprintf(text, sizeof text, "%s%s", grid_alone, script), (int)sizeof text);
  return SCRIPT(folder, text);
}

/* Every civil day has its hour from 9 to 10, in summer too; of the hours from 2 to 3 one is missing
 * in spring, of those from 1 to 2 one stands twice in autumn (Energy Policy Act of 2005: 14 March
 * and 7 November 2027). Labels keep standard time: 09:00 civil is 08:00 there in summer. */
START_TEST(test_civil_time) {
  command_said run = run_behind(
      "for r in run:profile({ columns = { 'load_kwh' }, by = 'hour' }):rows() do\n"
      "  assert(r.hours == (r.hour == 1 and 366 or r.hour == 2 and 364 or 365), r.hour)\n"
      "  assert(r.load_kwh == (r.hour == 9 and 1 or 0), r.hour) end\n"
      "local days = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 }\n"
      "for r in run:profile({ columns = { 'load_kwh' }, by = 'month' }):rows() do\n"
      "  local moved = r.month == 3 and -1 or r.month == 11 and 1 or 0\n"
      "  assert(r.hours == 24 * days[r.month] + moved, r.month) end\n"
      "local events = run:events { kind = 'import' }\n"
      "print(#events, events[1].start, events[200].start, events[1].last_hours, events[1].kwh)\n"
      "local worst = run:worst { days = 1, count = 1 }\n"
      "print(worst[1].start, worst[1].sum)\n"
      "local reasons = run:reasons()\n"
      "print(#reasons, reasons[1].hub, reasons[1].meter, reasons[1].reason, reasons[1].hours, "
      "reasons[1].kwh)\n");
  command_check(&run, 0,
                "365\t2027-01-01T09:00:00-07:00\t2027-07-19T08:00:00-07:00\t1\t1\n"
                "2027-01-01T00:00:00-07:00\t1\n"
                "1\tnone\tyard\tno_hub\t365\t365\n",
                NULL, "summer time");
}
END_TEST

/* The answers that there are: without options, and where nothing happened. */
START_TEST(test_columns) {
  command_said run = run_behind(
      "local function show(f) print(table.concat(f.columns, ','), #f) end\n"
      "show(run:reasons()) show(run:worst()) show(run:duration())\n"
      "show(run:events { kind = 'import' }) show(run:events { kind = 'unserved' })\n"
      "show(run:events { kind = 'water_short' }) show(run:events { kind = 'outage' })\n"
      "show(run:profile { columns = { 'tank_share', 'load_kwh' }, by = { 'hour', 'year' } })\n"
      "print(run:profile({ columns = { 'tank_share' }, by = 'year' })[1].tank_share)\n"
      "run:events({ kind = 'import' }):write('events.csv')\n");
  command_check(&run, 0,
                "year,hub,meter,reason,hours,kwh\t1\n"
                "start,days,sum,load_kwh,pv_available_kwh,grid_import_kwh\t5\n"
                "share_of_time,hours,value\t101\n"
                "start,last_hours,hours,kwh,peak_kw,lowest_state_of_charge\t365\n"
                "start,last_hours,hours,kwh,peak_kw,lowest_state_of_charge,shed_kwh\t0\n"
                "start,last_hours,hours,litres,peak_l_per_h,lowest_state_of_charge,"
                "lowest_tank_share\t0\n"
                "meter,start,last_hours,hours,kwh,peak_kw,lowest_state_of_charge,shed_kwh\t0\n"
                "year,hour,hours,tank_share,load_kwh\t24\n"
                "none\n",
                NULL, "columns");
  char *csv = command_read(folder, "events.csv");
  ck_assert_msg(strncmp(csv,
                        "start,last_hours,hours,kwh,peak_kw,lowest_state_of_charge\n"
                        "2027-01-01T09:00:00-07:00,1,1,1,1,\n",
                        57 + 35) == 0,
                "%.120s", csv);
  free(csv);
}
END_TEST

static const struct {
  const char *script, *said;
} refused[] = {
    {"run:events {}", "events.kind: required (what makes a step count)"},
    {"run:events { kind = 'imports' }",
     "events.kind: found \"imports\", expected \"import\", \"unserved\", \"water_short\", "
     "\"outage\", \"generator\""},
    {"run:events { kind = 'import', join_hour = 6 }",
     "events.join_hour: unknown field (did you mean 'join_hours'?)"},
    {"run:events { kind = 'import', join_hours = -1 }",
     "events.join_hours: -1 is outside 0 to 8760 h"},
    {"run:events { kind = 'water_short', least_kwh = 1 }",
     "events.least_kwh: water is counted in litres; write least_l"},
    {"run:events { kind = 'import', least_l = 1 }",
     "events.least_l: belongs to the kind water_short; write least_kwh"},
    {"run:events { kind = 'outage', above_kw = 1 }",
     "events.above_kw: belongs to the kinds import and unserved"},
    {"run:events({ kind = 'import' }, 1)",
     "run:events: found 3 arguments, expected at most 2 (with the object itself)"},
    {"run.events { kind = 'import' }", "events: expected a run; write run:events { ... }"},
    {"run:worst { column = 'grid_imprt_kwh' }",
     "worst.column: unknown column \"grid_imprt_kwh\" (did you mean 'grid_import_kwh'?)"},
    {"run:worst { column = 'state_of_charge' }",
     "worst.column: 'state_of_charge' is a share, which does not add up over days"},
    {"run:worst { days = 366 }", "worst.days: 366 days is longer than the run of 365 days"},
    {"run:worst { days = 1.5 }", "worst.days: found 1.5, expected a whole number"},
    {"run:worst { days = 0 }", "worst.days: 0 is outside 1 to 3650 days"},
    {"run:profile { by = 'hour' }", "profile.columns: required (columns of run.steps)"},
    {"run:profile { columns = {}, by = 'hour' }",
     "profile.columns: an empty list, expected columns of run.steps"},
    {"run:profile { columns = { 'load_kw' }, by = 'hour' }",
     "profile.columns[1]: unknown column \"load_kw\" (did you mean 'load_kwh'?)"},
    {"run:profile { columns = { 'load_kwh', 'load_kwh' }, by = 'hour' }",
     "profile.columns[2]: 'load_kwh' stands there twice"},
    {"run:profile { columns = { 'load_kwh' } }",
     "profile.by: required (parts of civil time by which steps are grouped; a weekday is 1 "
     "(Monday) to 7)"},
    {"run:profile { columns = { 'load_kwh' }, by = { 'month', 'hours' } }",
     "profile.by[2]: found \"hours\", expected \"year\", \"month\", \"weekday\", \"hour\""},
    {"run:duration { column = 'load_kwh' }",
     "duration.column: unknown column \"load_kwh\" (did you mean 'load_kw'?)"},
    {"run:duration { points = 1 }", "duration.points: 1 is outside 2 to 100001"},
    {"run:duration { colum = 'load_kw' }",
     "duration.colum: unknown field (did you mean 'column'?)"},
    {"run:reasons {}",
     "run:reasons: found 2 arguments, expected at most 1 (with the object itself)"},
    {"run.reasons()", "reasons: expected a run; write run:reasons()"},
    {"run:evnts {}", "run.evnts: unknown field (did you mean 'events'?)"},
};

enum { REFUSED = sizeof refused / sizeof refused[0] };

START_TEST(test_refused) {
  char said[512];
  snprintf(said, sizeof said, "steading: scenario.lua:9: %s\n", refused[_i].said);
  command_said run = run_behind(refused[_i].script);
  command_check(&run, 2, "", said, refused[_i].script);
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

Suite *asked_scripts_suite(void) {
  Suite *suite = suite_create("asked_scripts");
  add_rows(suite, "on random sites the answers are what run.steps gives", test_random_sites, SITES);
  add_rows(suite, "hours are those of civil time, labels of standard time", test_civil_time, 1);
  add_rows(suite, "every answer has its columns, also where nothing happened", test_columns, 1);
  add_rows(suite, "what is refused, with the place and the nearest name", test_refused, REFUSED);
  return suite;
}
