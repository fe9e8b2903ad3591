/* The spec reader, changes by path, the checked site and windows. Expected values follow from the
 * rules in core/site's headers; nothing here comes from the program's output. */
#include <string.h>

#include "build.h"
#include "site/batteries.h"
#include "site/shapes.h"
#include "site/site.h"
#include "site/window.h"
#include "suites.h"

static const char *const plan =
    "{ weather = @0, meters = { yard = {} }, hubs = { barn = { meter = \"yard\","
    " inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } },"
    " battery = { module = { kwh = 5, charge_kw = 2, discharge_kw = 2, round_trip_efficiency = 0.9 "
    "},"
    " lots = { { count = 2 }, { count = 3 } } } } },"
    " buildings = { home = { hub = \"barn\", loads = { { kind = \"steady\", watts = 100 } } },"
    " office = { meter = \"yard\" } },"
    " water = { wells = { deep = { hub = \"barn\", lift_m = 50, flow_l_per_min = 20, efficiency = "
    "0.4 } },"
    " tanks = { hill = { litres = 1000, fed_by = \"deep\" } } } }";

static const steading_site *plan_site(steading_weather *weather) {
  return build_site(weather, "%s", plan);
}

static const steading_hub *barn(const steading_site *site) {
  return steading_map_at(site->hubs, "barn");
}

static steading_status change(const steading_site *site, const char *path, steading_value value,
                              const steading_site **changed, steading_error *error) {
  return steading_site_with(site, 1, &path, &value, changed, error);
}

static steading_value number(double x) {
  return (steading_value){.kind = STEADING_VALUE_NUMBER, .number = x};
}

START_TEST(a_change_shares_everything_beside_its_path) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = plan_site(weather), *changed = NULL;
  const steading_lot *lot = NULL;
  steading_error error = {0};
  ck_assert_int_eq(change(site, "hubs.barn.battery.lots[2].count", number(7), &changed, &error),
                   STEADING_OK);
  lot = (const void *)steading_battery_at(barn(changed), 0)->lots->items[1];
  ck_assert_double_eq(lot->count, 7);
  lot = (const void *)steading_battery_at(barn(site), 0)->lots->items[1];
  ck_assert_double_eq(lot->count, 3); /* the original is untouched */
  ck_assert_ptr_ne(barn(changed)->battery, barn(site)->battery);
  ck_assert_ptr_eq(steading_battery_at(barn(changed), 0)->module,
                   steading_battery_at(barn(site), 0)->module);
  ck_assert_ptr_eq(steading_battery_at(barn(changed), 0)->lots->items[0],
                   steading_battery_at(barn(site), 0)->lots->items[0]);
  ck_assert_ptr_eq(barn(changed)->inverter, barn(site)->inverter);
  ck_assert_ptr_eq(changed->buildings, site->buildings);
  ck_assert_ptr_eq(changed->water, site->water);
  steading_record_release(site); /* the parts outlive the site they came from */
  ck_assert_double_eq(steading_battery_at(barn(changed), 0)->module->kwh, 5);
  steading_record_release(changed);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_change_can_append_and_take_away) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = plan_site(weather), *changed = NULL;
  steading_entry entry = {.key = "count", .value = number(1)};
  steading_value lot = {.kind = STEADING_VALUE_TABLE, .entry_count = 1, .entries = &entry};
  steading_value none = {.kind = STEADING_VALUE_NONE};
  steading_error error = {0};
  ck_assert_int_eq(change(site, "hubs.barn.battery.lots[3]", lot, &changed, &error), STEADING_OK);
  ck_assert_double_eq(steading_lots_count(steading_battery_at(barn(changed), 0)->lots), 6);
  steading_record_release(changed);
  ck_assert_int_eq(change(site, "hubs.barn.battery.lots[5]", lot, &changed, &error),
                   STEADING_BAD_INPUT);
  ck_assert_int_eq(change(site, "hubs.barn.battery.lots[1]", none, &changed, &error), STEADING_OK);
  ck_assert_double_eq(steading_lots_count(steading_battery_at(barn(changed), 0)->lots), 3);
  steading_record_release(changed);
  ck_assert_int_eq(change(site, "hubs.barn.battery", none, &changed, &error), STEADING_OK);
  ck_assert_ptr_null(barn(changed)->battery);
  steading_record_release(changed);
  ck_assert_int_eq(change(site, "hubs.barn.meter", none, &changed, &error), STEADING_OK);
  ck_assert_ptr_null(barn(changed)->meter);
  steading_record_release(changed);
  ck_assert_int_eq(change(site, "hubs.barn.inverter", none, &changed, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, "site.hubs.barn.inverter");
  /* names are checked after a change: a building is left without its hub */
  ck_assert_int_eq(change(site, "hubs.barn", none, &changed, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, "site.buildings.home.hub");
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_path_that_leads_nowhere_says_where_it_ends) {
  static const struct {
    const char *path, *at;
  } cases[] = {{"hubs.brn.battery", "site.hubs.brn"},
               {"hubs.barn.batery", "site.hubs.barn.batery"},
               {"hubs.barn.battery.lots[3].count", "site.hubs.barn.battery.lots[3]"},
               {"hubs.barn.battery.lots[0].count", "site.hubs.barn.battery.lots"},
               {"hubs.barn.battery.lots.count", "site.hubs.barn.battery.lots"},
               {"hubs.barn.generator.unit", "site.hubs.barn.generator"},
               {"name.x", "site.name"},
               {"", "site"},
               {"hubs..barn", "site"},
               {"hubs.barn.", "site.hubs"}};
  steading_weather *weather = build_dark_weather();
  const steading_site *site = plan_site(weather), *changed = NULL;
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    steading_error error = {0};
    ck_assert_int_ne(change(site, cases[i].path, number(1), &changed, &error), STEADING_OK);
    ck_assert_ptr_null(changed);
    ck_assert_msg(strncmp(error.path, cases[i].at, strlen(cases[i].at)) == 0, "%s: %s: %s",
                  cases[i].path, error.path, error.text);
  }
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(grid_only_moves_buildings_and_pumps_to_the_meter) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = plan_site(weather), *today = NULL;
  const steading_building *home = NULL;
  const steading_well *well = NULL;
  steading_error error = {0};
  ck_assert_int_eq(steading_site_grid_only(site, &today, &error), STEADING_OK);
  ck_assert_ptr_null(today->hubs);
  home = steading_map_at(today->buildings, "home");
  ck_assert_ptr_null(home->hub);
  ck_assert_str_eq(home->meter, "yard");
  well = steading_map_at(today->water->wells, "deep");
  ck_assert_ptr_null(well->hub);
  ck_assert_str_eq(well->meter, "yard");
  home = steading_map_at(site->buildings, "home");
  ck_assert_str_eq(home->hub, "barn"); /* the plan keeps its own */
  steading_record_release(today);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(grid_only_of_a_hub_off_the_grid_is_refused) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = plan_site(weather), *off = NULL, *today = NULL;
  steading_error error = {0};
  ck_assert_int_eq(
      change(site, "hubs.barn.meter", (steading_value){.kind = STEADING_VALUE_NONE}, &off, &error),
      STEADING_OK);
  ck_assert_int_eq(steading_site_grid_only(off, &today, &error), STEADING_BAD_INPUT);
  ck_assert_ptr_null(today);
  steading_record_release(off);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A load that runs in a window; read by the spec of timed loads. */
static double share(const char *window, int month, int weekday, int month_before, int hour) {
  steading_load_timed *load =
      build(&steading_load_timed_spec, NULL, "{ kw = 1, window = %s }", window);
  double found = steading_windows_share(load->window, month, weekday, month_before, hour * 60, 60);
  steading_record_release(load);
  return found;
}

enum { MON, TUE, WED, THU, FRI, SAT, SUN };

START_TEST(a_window_covers_its_minutes) {
  ck_assert_double_eq(share("\"09:00-13:00\"", 6, MON, 6, 8), 0);
  ck_assert_double_eq(share("\"09:00-13:00\"", 6, MON, 6, 9), 1);
  ck_assert_double_eq(share("\"09:00-13:00\"", 6, MON, 6, 12), 1);
  ck_assert_double_eq(share("\"09:00-13:00\"", 6, MON, 6, 13), 0);
  ck_assert_double_eq(share("\"09:45-10:15\"", 6, MON, 6, 9), 0.25);
  ck_assert_double_eq(share("\"09:45-10:15\"", 6, MON, 6, 10), 0.25);
  ck_assert_double_eq(share("\"00:00-24:00\"", 6, MON, 6, 23), 1);
}
END_TEST

START_TEST(overlapping_windows_count_once) {
  ck_assert_double_eq(share("{ \"09:00-09:40\", \"09:20-10:00\" }", 6, MON, 6, 9), 1);
  ck_assert_double_eq(share("{ \"09:00-09:15\", \"09:30-09:45\" }", 6, MON, 6, 9), 0.5);
}
END_TEST

START_TEST(a_window_over_midnight_belongs_to_the_day_it_starts_on) {
  const char *friday = "{ hours = \"22:00-06:00\", days = \"Fri\" }";
  ck_assert_double_eq(share(friday, 6, FRI, 6, 22), 1);
  ck_assert_double_eq(share(friday, 6, SAT, 6, 5), 1);
  ck_assert_double_eq(share(friday, 6, SAT, 6, 6), 0);
  ck_assert_double_eq(share(friday, 6, FRI, 6, 5), 0);
  ck_assert_double_eq(share(friday, 6, SAT, 6, 22), 0);
  /* and to that day's month */
  ck_assert_double_eq(share("{ hours = \"22:00-06:00\", months = \"Jun\" }", 7, MON, 6, 3), 1);
  ck_assert_double_eq(share("{ hours = \"22:00-06:00\", months = \"Jun\" }", 6, MON, 5, 3), 0);
}
END_TEST

START_TEST(days_and_months_may_wrap_and_be_listed) {
  ck_assert_double_eq(share("{ hours = \"09:00-10:00\", days = \"Sat-Mon\" }", 6, SUN, 6, 9), 1);
  ck_assert_double_eq(share("{ hours = \"09:00-10:00\", days = \"Sat-Mon\" }", 6, TUE, 6, 9), 0);
  ck_assert_double_eq(share("{ hours = \"09:00-10:00\", days = \"Tue,Sat\" }", 6, SAT, 6, 9), 1);
  ck_assert_double_eq(share("{ months = \"Nov-Feb\" }", 1, MON, 1, 9), 1);
  ck_assert_double_eq(share("{ months = \"Nov-Feb\" }", 3, MON, 3, 9), 0);
  ck_assert_double_eq(share("{ months = { 6, 8 } }", 7, MON, 7, 9), 0);
  ck_assert_double_eq(share("{ months = 7 }", 7, MON, 7, 9), 1);
}
END_TEST

START_TEST(a_window_that_cannot_be_read_is_refused) {
  static const char *const wrong[] = {"\"9:00-13:00\"",
                                      "\"09:00-25:00\"",
                                      "\"09:00\"",
                                      "\"09:00-09:00\"",
                                      "\"24:00-02:00\"",
                                      "{ days = \"Mo\" }",
                                      "{ months = 13 }",
                                      "{ hour = \"09:00-10:00\" }",
                                      "7",
                                      "{}"};
  for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
    steading_error error = {0};
    ck_assert_ptr_null(build_or_error(&steading_load_timed_spec, NULL, &error,
                                      "{ kw = 1, window = %s }", wrong[i]));
    ck_assert_int_eq(error.status, STEADING_BAD_INPUT);
  }
}
END_TEST

START_TEST(shapes_sum_to_one_when_read) {
  steading_load_daily *load =
      build(&steading_load_daily_spec, NULL, "{ kwh_per_day = 1, shape = \"dwelling\" }");
  double sum = 0;
  for (int h = 0; h < 24; h++) sum += load->shape[h];
  ck_assert_double_eq_tol(sum, 1, 1e-15);
  /* Wilson et al. 2014, NREL/TP-5500-60988: peak hour 18, load factor 0.7854 (recomputed from the
   * printed numbers: mean over peak) */
  ck_assert_double_eq_tol(1.0 / 24 / load->shape[18], 0.7854, 5e-5);
  for (int h = 0; h < 24; h++) ck_assert_double_le(load->shape[h], load->shape[18]);
  steading_record_release(load);
}
END_TEST

START_TEST(the_earliest_lot_gives_the_start) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      build_site(weather,
                 "{ weather = @0, meters = { m = {} }, buildings = { b = { meter = \"m\" } },"
                 " works = { { name = \"a\", price = 1, date = \"2028-03-20\" },"
                 " { name = \"b\", price = 1, date = \"2027-11-02\" } } }");
  int64_t day = 0;
  ck_assert(steading_site_earliest(site, &day));
  ck_assert_int_eq(day, 21123); /* 2027-11-01: 57 years of 365 days, 14 leap days, 304 days */
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *site_suite(void) {
  Suite *suite = suite_create("site");
  TCase *site = tcase_create("site"), *windows = tcase_create("windows");
  tcase_add_test(site, a_change_shares_everything_beside_its_path);
  tcase_add_test(site, a_change_can_append_and_take_away);
  tcase_add_test(site, a_path_that_leads_nowhere_says_where_it_ends);
  tcase_add_test(site, grid_only_moves_buildings_and_pumps_to_the_meter);
  tcase_add_test(site, grid_only_of_a_hub_off_the_grid_is_refused);
  tcase_add_test(site, the_earliest_lot_gives_the_start);
  tcase_add_test(windows, a_window_covers_its_minutes);
  tcase_add_test(windows, overlapping_windows_count_once);
  tcase_add_test(windows, a_window_over_midnight_belongs_to_the_day_it_starts_on);
  tcase_add_test(windows, days_and_months_may_wrap_and_be_listed);
  tcase_add_test(windows, a_window_that_cannot_be_read_is_refused);
  tcase_add_test(windows, shapes_sum_to_one_when_read);
  suite_add_tcase(suite, site);
  suite_add_tcase(suite, windows);
  return suite;
}
