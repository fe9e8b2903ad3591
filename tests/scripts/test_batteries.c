/* Batteries of several kinds as a script sees them: paths, files, sums, ages. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) { folder_make(folder); }
static void teardown(void) { folder_remove(folder); }

static const char head[] =
    "local steading = require 'steading'\n"
    "local even = {} for i = 1, 12 do even[i] = 3 end\n"
    "local weather = steading.weather.synthesize { place = { latitude_deg = 35, longitude_deg = "
    "-106, time_zone = 'America/Denver' },\n"
    "  years = 2, seed = 5, ghi_kwh_per_m2_day = even, temp_mean_c = even, temp_range_c = even }\n"
    "local new = { module = { kwh = 5, charge_kw = 2, discharge_kw = 2, round_trip_efficiency = "
    "0.9, standby_w = 3 }, lots = { { count = 2, price_each = 100 } } }\n"
    "local old = { module = { kwh = 10, charge_kw = 2, discharge_kw = 3, round_trip_efficiency = "
    "0.8,\n"
    "  chemistry = 'lead_acid', available_share = 0.4, per_h = 0.5, usable = { 0.3, 1 },\n"
    "  gassing = { above = 0.8, at_full = 0.5 } }, lots = { { count = 1, price_each = 100 },\n"
    "  { count = 1, in_service = '2028-01', price_each = 100 },\n"
    "  { count = 1, in_service = '2027-01', retired = '2028-07', price_each = 100 } } }\n"
    "local function site(battery) return steading.site { weather = weather, meters = { m = {} },\n"
    "  hubs = { h = { meter = 'm', battery = battery,\n"
    "  inverter = { unit = { ac_kw = 5, idle_w = 30, efficiency = { at_10 = 0.95, at_100 = 0.95 } "
    "} },\n"
    "  arrays = { { module = { watts = 400, temp_coefficient_per_c = -0.004, noct_c = 45 }, "
    "tilt_deg = 35, azimuth_deg = 180, lots = { { count = 14 } } } } } },\n"
    "  buildings = { b = { hub = 'h', loads = { steading.load.daily { kwh_per_day = 12, shape = "
    "'dwelling' } } } } } end\n"
    "local ask = { start = '2027-01', years = 2, keep = 'monthly' }\n";

static command_said say(const char *script) {
  char text[8192];
  snprintf(text, sizeof text, "%s%s", head, script);
  return SCRIPT(folder, text);
}

static void says(const char *script, const char *expected) {
  command_said run = say(script);
  ck_assert_msg(run.status == 0, "%s", run.err);
  ck_assert_str_eq(run.out, expected);
  command_free(&run);
}

START_TEST(a_list_of_one_is_that_one) {
  char *one = NULL, *list = NULL;
  command_said run =
      say("site(old):simulate(ask).monthly:write('one.csv')\n"
          "site({ old }):simulate(ask).monthly:write('list.csv')\n");
  ck_assert_msg(run.status == 0, "%s", run.err);
  command_free(&run);
  one = command_read(folder, "one.csv");
  list = command_read(folder, "list.csv");
  ck_assert_str_eq(one, list);
  free(one);
  free(list);
}
END_TEST

START_TEST(a_change_names_the_kind) {
  says(
      "local two, one = site { new, old }, site(new)\n"
      "print(pcall(function() return two:with { ['hubs.h.battery.lots[1].count'] = 3 } end))\n"
      "local more = two:with { ['hubs.h.battery[1].lots[1].count'] = 3 }\n"
      "print(more:simulate(ask).batteries[1].capacity_kwh)\n"
      "print(one:with { ['hubs.h.battery.lots[1].count'] = 4 }:simulate(ask).batteries[1]."
      "capacity_kwh)\n"
      "local added = one:with { ['hubs.h.battery[2]'] = old }\n"
      "print(added:simulate(ask).totals.grid_import_kwh == "
      "two:simulate(ask).totals.grid_import_kwh)\n"
      "local without = two:without { 'hubs.h.battery[2]' }\n"
      "print(without:simulate(ask).totals.grid_import_kwh == "
      "one:simulate(ask).totals.grid_import_kwh)\n"
      "local none = without:without { 'hubs.h.battery[1]' }\n"
      "print(none:simulate(ask).totals.battery_charge_kwh, #none:simulate(ask).batteries)\n"
      "two:with(function(s) print(#s.hubs.h.battery, s.hubs.h.battery[2].module.kwh) end)\n"
      "one:with(function(s) print(s.hubs.h.battery.module.kwh) end)\n",
      "false\tscenario.lua:18: site.hubs.h.battery: there are 2; say which, such as "
      "battery[1].lots[1].count\n"
      "15\n20\ntrue\ntrue\n0.0\t0\n2\t10\n5\n");
}
END_TEST

/* Of the written columns: what batteries say one by one is what the site says of them; the site's
 * equation holds to 1e-9; the capacity is that of the lots. */
START_TEST(kinds_add_up_to_the_site) {
  says(
      "local run = site({ new, old }):simulate(ask)\n"
      "local t, by = run.totals, run.batteries\n"
      "local function near(a, b) return math.abs(a - b) < 1e-9 * (1 + math.abs(b)) end\n"
      "for _, name in ipairs { 'battery_charge_kwh', 'battery_discharge_kwh', 'battery_loss_kwh' } "
      "do\n"
      "  print(name, near(by:sum(name), t[name]))\n"
      "end\n"
      "print(t.battery_delivered_kwh, t.battery_removed_kwh > 0)\n"
      "print(near(t.pv_used_kwh + t.grid_import_kwh + t.battery_delivered_kwh, t.served_kwh +\n"
      "  t.grid_export_kwh + t.inverter_loss_kwh + t.battery_loss_kwh + t.standby_kwh +\n"
      "  t.battery_removed_kwh + t.battery_fade_kwh + t.stored_change_kwh))\n"
      "local old_ones = by:where(function(r) return r.battery == 2 end)\n"
      "print(#by, #old_ones, old_ones[1].capacity_kwh, old_ones[13].capacity_kwh, "
      "old_ones[19].capacity_kwh)\n"
      "for _, row in ipairs { 1, 13 } do print(by[row].hub, by[row].battery, by[row]."
      "lowest_state_of_charge >= 0) end\n",
      "battery_charge_kwh\ttrue\nbattery_discharge_kwh\ttrue\nbattery_loss_kwh\ttrue\n"
      "3.0\ttrue\ntrue\n48\t24\t20\t30\t20\nh\t1\ttrue\nh\t1\ttrue\n");
}
END_TEST

/* A kind ages by its own charge: beside one that is not there it ages as alone, and one that works
 * less ages less (by a law of throughput alone). */
START_TEST(each_kind_has_its_own_age) {
  says(
      "new.room, new.ageing = { temp_c = 25 }, { model = 'wang' }\n"
      "ask.years = 5\n"
      "local same = { module = new.module, room = new.room, ageing = new.ageing, lots = new.lots "
      "}\n"
      "local absent = { module = old.module, lots = {} }\n"
      "local alone, beside, two = site(new):simulate(ask), site({ new, absent }):simulate(ask), "
      "site({ new, same }):simulate(ask)\n"
      "local a, b = alone.batteries, beside.batteries\n"
      "print(#a, #b, math.abs(a[60].battery_health - b[119].battery_health) < 1e-9, "
      "a[60].battery_health < 1)\n"
      "local t = two.batteries\n"
      "print(t[119].battery_discharge_kwh > 2 * t[120].battery_discharge_kwh)\n"
      "print(t[119].battery_health < t[120].battery_health, t[120].battery_health < 1)\n"
      "for row in beside.warnings:rows() do if row.code == 'kinds_mixed' then print(row.path) end "
      "end\n",
      "60\t120\ttrue\ttrue\ntrue\ntrue\ttrue\nhubs.h.battery\n");
}
END_TEST

/* One of two in the cold: the other goes on charging, and the run says of which hub it was. */
START_TEST(the_cold_of_one_kind_is_told) {
  says(
      "new.room, new.module.charge_share_at_c = { temp_c = -5 }, { { 0, 0 }, { 10, 1 } }\n"
      "local function path(battery) local run = site(battery):simulate(ask)\n"
      "  for row in run.warnings:rows() do if row.code == 'charge_blocked' then return row.path "
      "end "
      "end end\n"
      "print(path(new), path({ new }), path({ new, old }))\n"
      "local by = site({ new, old }):simulate(ask).batteries\n"
      "print(by[3].battery, by[3].battery_charge_kwh, by[4].battery_charge_kwh > 10)\n",
      "hubs.h.battery.room\thubs.h.battery\thubs.h.battery\n1\t0\ttrue\n");
}
END_TEST

/* Two rates of a sheet and c, k fitted to them are the same battery. */
START_TEST(a_sheet_is_its_tanks) {
  says(
      "local function tanks(more) local m = { kwh = 10, charge_kw = 2, discharge_kw = 5, "
      "round_trip_efficiency = 0.8, chemistry = 'lead_acid' }\n"
      "  for k, v in pairs(more) do m[k] = v end return site { module = m, lots = { { count = 1 } "
      "} "
      "}:simulate(ask).totals.grid_import_kwh end\n"
      "local rates = { { hours = 20, kwh = 9 }, { hours = 2, kwh = 6 } }\n"
      "local fit = steading.battery.new { kind = 'two_tank', kwh = 10, rates = rates, "
      "round_trip_efficiency = 0.8 }\n"
      "print(tanks { rates = rates } == tanks { available_share = fit.available_share, per_h = "
      "fit.per_h })\n"
      "print(tanks { available_share = 0.1, per_h = 0.05 } > tanks { available_share = 0.9, per_h "
      "= 2 })\n"
      "print(pcall(tanks, { rates = { { hours = 20, kwh = 6 }, { hours = 2, kwh = 9 } } }))\n",
      "true\ntrue\n"
      "false\tscenario.lua:18: site.hubs.h.battery.module.rates: 9 kWh in 2 h and 6 kWh in 20 h: "
      "expected more in more hours\n");
}
END_TEST

Suite *batteries_suite(void) {
  Suite *suite = suite_create("batteries");
  TCase *tests = tcase_create("kinds in a script");
  tcase_add_checked_fixture(tests, setup, teardown);
  tcase_set_timeout(tests, COMMAND_TEST_SECONDS);
  tcase_add_test(tests, a_list_of_one_is_that_one);
  tcase_add_test(tests, a_change_names_the_kind);
  tcase_add_test(tests, kinds_add_up_to_the_site);
  tcase_add_test(tests, each_kind_has_its_own_age);
  tcase_add_test(tests, the_cold_of_one_kind_is_told);
  tcase_add_test(tests, a_sheet_is_its_tanks);
  suite_add_tcase(suite, tests);
  return suite;
}
