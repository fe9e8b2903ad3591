/* Changed copies of a site in scripts: with a function, without parts, and what a site rests on.
 * The texts are part of the interface, so that they are pinned whole. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
}

static void teardown(void) { folder_remove(folder); }

/* The site of base.lua; what follows stands on line 6. */
static const char frame[] =
    "local steading = require 'steading'\n"
    "local base = require 'base' ()\n"
    "base.site.weather, base.site.meters.yard.export_limit_kw = "
    "steading.weather.synthesize(base.climate), 0\n"
    "local site = steading.site(base.site)\n"
    "local function totals(s) return s:simulate(base.simulate).totals end\n"
    "%s\n";

/* What a script of these lines prints, and nothing on standard error. */
static void check_prints(const char *lines, const char *out) {
  char script[8192];
  snprintf(script, sizeof script, frame, lines);
  command_said run = SCRIPT(folder, script);
  command_check(&run, 0, out, NULL, lines);
}

/* The error that it ends with, at line 6 where there is one line. */
static void check_says(const char *lines, const char *said) {
  char script[8192], err[1024];
  snprintf(script, sizeof script, frame, lines);
  snprintf(err, sizeof err, "steading: scenario.lua:%s\n", said);
  command_said run = SCRIPT(folder, script);
  command_check(&run, 2, "", err, lines);
}

/* Nothing changed is allowed, and is the same site: every number of the run has the same bits. */
START_TEST(test_unchanged) {
  check_prints(
      "local a = totals(site)\n"
      "for _, f in ipairs { function() end, function(s) return s end } do\n"
      "  local b, n = totals(site:with(f)), 0\n"
      "  for name, x in pairs(a) do n = n + 1 assert(b[name] == x, name) end\n"
      "  print(n > 20)\n"
      "end",
      "true\ntrue\n");
}
END_TEST

/* The table holds what was given, in the form that a script writes it. */
START_TEST(test_table) {
  check_prints(
      "site:with(function(s)\n"
      "  local barn, house = s.hubs.barn, s.buildings.house\n"
      "  print(s.weather == base.site.weather, s.name, s.currency, s.grid_free_below_kw)\n"
      "  print(barn.meter, barn.arrays[1].lots[1].count, "
      "barn.arrays[1].module.temp_coefficient_per_c)\n"
      "  print(#barn.arrays[1].soiling, barn.arrays[1].albedo, barn.battery.lots[1].in_service)\n"
      "  print(house.loads[1].kind, house.loads[1].shape, house.loads[1].monthly)\n"
      "  print(house.loads[4].window.hours, house.loads[4].window.days, "
      "house.loads[4].window.months)\n"
      "  s.hubs.barn.arrays[1].tilt_deg = 1\n" /* no other site sees it */
      "end)\n"
      "print(site:with(function(s) print(s.hubs.barn.arrays[1].tilt_deg) end).name, "
      "base.site.hubs.barn.arrays[1].tilt_deg)",
      "true\ttest\tUSD\tnil\n"
      "yard\t8\t-0.0034\n"
      "12\tnil\t2027-01-01\n"
      "daily\tdwelling\tnil\n"
      "09:00-13:00\tMon-Fri\tnil\n"
      "35\ntest\t35\n");
}
END_TEST

/* Four ways to the same site. */
START_TEST(test_same_change) {
  check_prints(
      "local path = 'hubs.barn.battery.lots[1].count'\n"
      "local a = totals(site:with { [path] = 3 })\n"
      "local b = totals(site:with(function(s) s.hubs.barn.battery.lots[1].count = 3 end))\n"
      "local c = totals(site:with(function(s)\n"
      "  table.insert(s.hubs.barn.battery.lots, { count = 2, in_service = '2027-01', price_each = "
      "1 })\n"
      "end))\n"
      "print(a.grid_import_kwh == b.grid_import_kwh, a.grid_import_kwh == c.grid_import_kwh,\n"
      "  a.grid_import_kwh < totals(site).grid_import_kwh)\n"
      "local none = site:with(function(s) s.hubs.barn.battery = nil end)\n"
      "print(totals(none).grid_import_kwh == totals(site:without { 'hubs.barn.battery' "
      "}).grid_import_kwh)\n"
      "print(totals(none).battery_charge_kwh, totals(none).grid_import_kwh > "
      "totals(site).grid_import_kwh)",
      "true\ttrue\ttrue\ntrue\n0.0\ttrue\n");
}
END_TEST

/* The last lot taken away leaves nothing, which is not the one piece of a battery without lots. */
START_TEST(test_last_lot) {
  check_prints(
      "local nothing = totals(site:without { 'hubs.barn.battery.lots[1]' })\n"
      "local empty = totals(site:with(function(s) s.hubs.barn.battery.lots = {} end))\n"
      "local one = totals(site:with(function(s) s.hubs.barn.battery.lots = nil end))\n"
      "print(nothing.battery_charge_kwh, empty.battery_charge_kwh, one.battery_charge_kwh > 0)",
      "0.0\t0.0\ttrue\n");
}
END_TEST

/* A title is kept and may be read. */
START_TEST(test_titles) {
  check_prints(
      "for _, path in ipairs { 'hubs.barn', 'meters.yard', 'buildings.house', 'water.wells.deep',\n"
      "    'water.tanks.hill', 'water.users.homes' } do\n"
      "  site = site:with { [path .. '.title'] = 'the ' .. path }\n"
      "end\n"
      "site:with(function(s)\n"
      "  print(s.hubs.barn.title, s.meters.yard.title, s.buildings.house.title)\n"
      "  print(s.water.wells.deep.title, s.water.tanks.hill.title, s.water.users.homes.title)\n"
      "end)",
      "the hubs.barn\tthe meters.yard\tthe buildings.house\n"
      "the water.wells.deep\tthe water.tanks.hill\tthe water.users.homes\n");
}
END_TEST

START_TEST(test_mistakes) {
  static const struct {
    const char *lines, *said;
  } cases[] = {
      {"site:with(function(s) s.hubs.barn.batery = 1 end)",
       "6: site.hubs.barn.batery: unknown field (did you mean 'battery'?)"},
      {"site:with(function(s)\n  s.hubs.barn.battery.module.kwh = -1\nend)",
       "6: site.hubs.barn.battery.module.kwh: -1 is outside 0.01 to 100000 kWh"},
      {"site:with(function(s) s.hubs.barn.inverter = nil end)",
       "6: site.hubs.barn.inverter: required (the power conversion equipment)"},
      {"site:with(function(s) s.hubs = nil end)",
       "6: site.buildings.house.hub: there is no hub 'barn'"},
      {"site:with(function(s) return 3 end)",
       "6: with: the function returned a number; expected nothing: it edits the table that it is "
       "given"},
      {"site:with(function(s) return {} end)",
       "6: with: the function returned a table; expected nothing: it edits the table that it is "
       "given"},
      {"site:with(function(s)\n  error('mine')\nend)", "7: mine"},
      {"site:with(function() end, 1)",
       "6: site:with: found 3 arguments, expected at most 2 (with the object itself)"},
      {"site:without {}", "6: without: nothing is left out; expected { \"path\", ... }"},
      {"site:without { 7 }", "6: without[1]: found a number, expected a path in quotes"},
      {"site:without { a = 'works[1]' }",
       "6: without: found the field 'a'; expected { \"path\", ... }"},
      {"site:without { 'works[2]' }", "6: site.works[2]: the list has 1"},
      {"site:without { 'hubs.bran' }", "6: site.hubs.bran: unknown name (did you mean 'barn'?)"},
      {"site:without { 'hubs.barn.rules' }",
       "6: site.hubs.barn.rules: has a default and is always there; site:with changes it"},
      {"site:without { 'hubs.barn.meter' }",
       "6: site.hubs.barn.meter: is a value, no part of the plan; site:with changes it, or takes "
       "it "
       "away with steading.none"},
      {"site:without { 'works[1]', 'works[1]' }", "6: site: \"works[1]\" is named twice"},
      {"site:with { ['works[1]'] = steading.none, ['works[1].price'] = 5 }",
       "6: site: \"works[1].price\" lies in \"works[1]\", which is taken away as well"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
    check_says(cases[i].lines, cases[i].said);
}
END_TEST

START_TEST(test_assumptions) {
  check_prints(
      "local rows = {}\n"
      "for row in site.assumptions:rows() do\n"
      "  assert(not rows[row.path], row.path)\n"
      "  rows[row.path] = table.concat({ row.value, row.unit, row.given_or_default, row.source }, "
      "'|')\n"
      "end\n"
      "print(table.concat(site.assumptions.columns, ' '))\n"
      "for _, path in ipairs { 'hubs.barn.rules.battery_floor', 'hubs.barn.arrays[1].albedo',\n"
      "    'hubs.barn.arrays[1].soiling', 'meters.yard.tariff.energy[1].price_per_kwh', "
      "'works[1].price' } do\n"
      "  print(rows[path])\n"
      "end",
      "path value unit given_or_default source\n"
      "0.15|share|given|\n"
      "0.2|share|default|Liu and Jordan 1963\n"
      "0.02 0.02 0.03 0.04 0.05 0.05 0.03 0.03 0.03 0.03 0.02 0.02|share|given|\n"
      "0.14|money/kWh|given|\n"
      "900|money|given|\n");
}
END_TEST

static void add(Suite *suite, const char *name, const TTest *test) {
  command_case(suite, setup, teardown, name, test, 1);
}

Suite *sites_suite(void) {
  Suite *suite = suite_create("sites");
  add(suite, "a function that changes nothing gives the same site", test_unchanged);
  add(suite, "the function gets what was given, as it is written", test_table);
  add(suite, "paths, functions and without agree", test_same_change);
  add(suite, "an empty list of lots is nothing", test_last_lot);
  add(suite, "titles are kept", test_titles);
  add(suite, "mistakes are told at the line of the call", test_mistakes);
  add(suite, "assumptions are a frame", test_assumptions);
  return suite;
}
