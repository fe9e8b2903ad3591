/* What is said of a site before the first step: each warning is there where it applies, and absent
 * where it does not. */
#include <check.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "site/site.h"
#include "suites.h"

static steading_weather *weather;

static void setup(void) { weather = build_dark_weather(); } /* at 35 N */
static void teardown(void) { steading_weather_release(weather); }

#define LOTS "lots = { { price_each = 1, life_years = 10 } }"
#define UNIT "unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } }"
#define INVERTER "inverter = { " UNIT ", " LOTS " }"
#define PV "module = { watts = 400, temp_coefficient_per_c = -0.003 }"
#define ARRAYS "arrays = { { tilt_deg = 30, azimuth_deg = 180, " PV ", " LOTS " } }"
#define STORE "module = { kwh = 5, charge_kw = 2, discharge_kw = 2, round_trip_efficiency = 0.9 }"
#define COLD_STORE                                                                     \
  "module = { kwh = 5, charge_kw = 2, discharge_kw = 2, round_trip_efficiency = 0.9, " \
  "charge_share_at_c = { { 0, 0 }, { 10, 1 } } }"
#define BATTERY "battery = { " STORE ", " LOTS " }"
#define METER "meters = { yard = { tariff = { energy = { { price_per_kwh = 0.1 } } } } }"

typedef struct row {
  const char *code, *path;
  const char *with, *without; /* sites in which it is said, and not */
  double latitude_deg;        /* 0: that of the weather */
} row;

#define SITE(hub) "{ weather = @0, " METER ", hubs = { barn = { meter = \"yard\", " hub " } } }"
#define HOME(shape) \
  "hub = \"barn\", loads = { { kind = \"daily\", kwh_per_day = 5, shape = " shape " } }"
#define HOMES(one, two)                                                                  \
  "{ weather = @0, " METER ", hubs = { barn = { meter = \"yard\", " INVERTER ", " ARRAYS \
  " } },"                                                                                \
  " buildings = { a = { " HOME(one) " }, b = { " HOME(two) " } } }"
#define WATER(well, tank)                                                                \
  "{ weather = @0, " METER ", hubs = { barn = { meter = \"yard\", " INVERTER ", " ARRAYS \
  " } },"                                                                                \
  " water = { wells = { deep = { " well                                                  \
  ", lift_m = 5, flow_l_per_min = 9, efficiency = 0.4, " LOTS                            \
  " } }, tanks = { hill = { litres = 100, fed_by = \"deep\", " tank LOTS " } } } }"
#define TARIFF(more) "{ weather = @0, meters = { yard = { " more " } } }"
#define PERIODS                                                                                 \
  "energy = { kind = \"periods\", periods = { { name = \"peak\", price_per_kwh = 0.3, hours = " \
  "\"17:00-21:00\", days = \"Mon-Fri\" }, { name = \"rest\", price_per_kwh = 0.1 } } }"
#define ALL_DAYS                                                                                \
  "energy = { kind = \"periods\", periods = { { name = \"peak\", price_per_kwh = 0.3, hours = " \
  "\"17:00-21:00\" }, { name = \"rest\", price_per_kwh = 0.1 } } }"

#define COUPLED(unit, arrays, battery)                                                          \
  "inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 }" unit           \
  " }, lots = { { count = 2, price_each = 1, life_years = 10 } } }, arrays = { { tilt_deg = "   \
  "30, azimuth_deg = 180, module = { watts = 400, temp_coefficient_per_c = -0.003 }, lots = { " \
  "{ count = 26, price_each = 1, life_years = 10 } }" arrays " } }" battery
#define OUTAGES(hub)                                                                           \
  "{ weather = @0, meters = { yard = { outages = { windows = \"01:00-02:00\" } } }, hubs = { " \
  "barn = { meter = \"yard\", " hub " } } }"
#define OFF_GRID(hub) "{ weather = @0, hubs = { barn = { " hub " } } }"
#define AC ", coupled = \"ac\""

static const row rows[] = {
    /* 10.4 kW of modules beside 2 units of 5 kW; with a limit of 10 kW no more than these */
    {"ac_sun_above_units", "hubs.barn.arrays", OUTAGES(COUPLED("", AC, "")),
     SITE(COUPLED("", AC, "")), 0},
    {"ac_sun_above_units", "hubs.barn.arrays", OFF_GRID(COUPLED("", AC, "")),
     OFF_GRID(COUPLED("", AC ", own_inverter = { ac_kw = 10 }", "")), 0},
    {"ac_sun_above_units", "hubs.barn.arrays",
     OFF_GRID(COUPLED("", AC ", own_inverter = { ac_kw = 10.1 }", "")),
     OFF_GRID(COUPLED("", "", "")), 0},
    {"ac_sun_not_stored", "hubs.barn.inverter.unit.charge_from_grid_kw",
     SITE(COUPLED("", AC, ", " BATTERY)), SITE(COUPLED("", AC, "")), 0},
    {"ac_sun_not_stored", "hubs.barn.inverter.unit.charge_from_grid_kw",
     SITE(COUPLED("", AC, ", " BATTERY)),
     SITE(COUPLED(", charge_from_grid_kw = 2", AC, ", " BATTERY)), 0},
    {"no_effect", "hubs.barn.inverter.unit.charge_from_grid_kw",
     SITE(COUPLED(", charge_from_grid_kw = 2", "", ", " BATTERY)),
     SITE(COUPLED(", charge_from_grid_kw = 2", AC, ", " BATTERY)), 0},
    {"no_outages", "hubs.barn.inverter.unit.islanded_kw",
     SITE(COUPLED(", islanded_kw = 2", "", "")), OUTAGES(COUPLED(", islanded_kw = 2", "", "")), 0},
    {"no_lots", "hubs.barn.inverter", SITE("inverter = { " UNIT " }, " ARRAYS),
     SITE(INVERTER ", " ARRAYS), 0},
    {"no_lots", "hubs.barn.arrays[1]",
     SITE(INVERTER ", arrays = { { tilt_deg = 30, azimuth_deg = 180, " PV " } }"),
     SITE(INVERTER ", " ARRAYS), 0},
    {"empty_lots", "hubs.barn.battery", SITE(INVERTER ", battery = { " STORE ", lots = {} }"),
     SITE(INVERTER ", " BATTERY), 0},
    {"no_price", "hubs.barn.battery.lots[1]",
     SITE(INVERTER ", battery = { " STORE ", lots = { {} } }"),
     SITE(INVERTER ", battery = { " STORE ", lots = { { price_each = 0 } } }"), 0},
    {"no_life", "hubs.barn.battery.lots[1]",
     SITE(INVERTER ", battery = { " STORE ", lots = { { price_lot = 5 } } }"),
     SITE(INVERTER ", " BATTERY), 0},
    {"kinds_mixed", "hubs.barn.battery",
     SITE(INVERTER ", battery = { { " STORE ", lots = {} }, { " STORE ", lots = {} } }"),
     SITE(INVERTER ", battery = { { " STORE ", lots = {} } }"), 0},
    {"empty_lots", "hubs.barn.battery[2]",
     SITE(INVERTER ", battery = { { " STORE " }, { " STORE ", lots = {} } }"),
     SITE(INVERTER ", battery = { { " STORE ", lots = {} } }"), 0},
    {"idle_hub", "hubs.barn", SITE(INVERTER), SITE(INVERTER ", " ARRAYS), 0},
    {"idle_hub", "hubs.barn", SITE(INVERTER ", battery = { " STORE ", lots = {} }"),
     SITE(INVERTER ", " BATTERY), 0},
    {"idle_hub", "hubs.barn", SITE(INVERTER), SITE("inverter = { " UNIT ", lots = {} }"), 0},
    {"faces_away", "hubs.barn.arrays[1]",
     SITE(INVERTER ", arrays = { { tilt_deg = 30, azimuth_deg = 0, " PV ", " LOTS " } }"),
     SITE(INVERTER ", arrays = { { tilt_deg = 30, azimuth_deg = 250, " PV ", " LOTS " } }"), 0},
    {"faces_away", "hubs.barn.arrays[1]", SITE(INVERTER ", " ARRAYS),
     SITE(INVERTER ", arrays = { { tilt_deg = 30, azimuth_deg = 0, " PV ", " LOTS " } }"), -31},
    {"faces_away", "hubs.barn.arrays[1]",
     SITE(INVERTER ", arrays = { { tilt_deg = 30, azimuth_deg = 0, " PV ", " LOTS " } }"),
     SITE(INVERTER ", arrays = { { tilt_deg = 5, azimuth_deg = 0, " PV ", " LOTS " } }"), 0},
    {"no_effect", "hubs.barn.rules.battery_floor",
     SITE(INVERTER ", " ARRAYS ", rules = { battery_floor = 0.2 }"),
     SITE(INVERTER ", " BATTERY ", rules = { battery_floor = 0.2 }"), 0},
    {"no_effect", "hubs.barn.battery.room",
     SITE(INVERTER ", battery = { " STORE ", room = { temp_c = 20 }, " LOTS " }"),
     SITE(INVERTER ", battery = { " STORE
                   ", room = { temp_c = 20 }, ageing = { model = \"wang\" }, " LOTS " }"),
     0},
    {"no_life", "hubs.barn.battery.lots[1]",
     SITE(INVERTER ", battery = { " STORE ", lots = { { price_lot = 5 } } }"),
     SITE(INVERTER ", battery = { " STORE
                   ", room = { temp_c = 20 }, ageing = { model = \"wang\" }, "
                   "lots = { { price_lot = 5 } } }"),
     0},
    {"no_effect", "hubs.barn.battery.room",
     SITE(INVERTER ", battery = { " STORE ", room = { temp_c = \"outdoors\" }, " LOTS " }"),
     SITE(INVERTER ", battery = { " COLD_STORE ", room = { temp_c = \"outdoors\" }, " LOTS " }"),
     0},
    {"no_effect", "hubs.barn.battery.room",
     SITE(INVERTER ", battery = { " STORE ", room = { temp_c = 2 }, " LOTS " }"),
     SITE(INVERTER ", battery = { " STORE
                   ", room = { temp_c = 2, heater_w = 50, heat_below_c = 5 }, " LOTS " }"),
     0},
    {"no_effect", "hubs.barn.inverter.unit.pass_through_kw",
     "{ weather = @0, hubs = { barn = { inverter = { unit = { ac_kw = 5, pass_through_kw = 3, "
     "efficiency = { at_10 = 0.9, at_100 = 0.95 } } } } } }",
     SITE(
         "inverter = { unit = { ac_kw = 5, pass_through_kw = 3, efficiency = { at_10 = 0.9, at_100 "
         "= 0.95 } } }"),
     0},
    {"no_effect", "water.tanks.hill", WATER("meter = \"yard\"", "surplus_to = 0.9, "),
     WATER("hub = \"barn\"", "surplus_to = 0.9, "), 0},
    {"no_tariff", "meters.yard", TARIFF(""),
     TARIFF("tariff = { energy = { { price_per_kwh = 1 } } }"), 0},
    {"export_unpaid", "meters.yard",
     TARIFF("export_limit_kw = 2, tariff = { energy = { { price_per_kwh = 1 } } }"),
     TARIFF("export_limit_kw = 2, tariff = { energy = { { price_per_kwh = 1 } }, export = { kind = "
            "\"net_metering\" } }"),
     0},
    {"no_holidays", "meters.yard.tariff", TARIFF("tariff = { " PERIODS " }"),
     TARIFF("tariff = { " PERIODS ", holidays = { \"12-25\" } }"), 0},
    {"no_holidays", "meters.yard.tariff", TARIFF("tariff = { " PERIODS " }"),
     TARIFF("tariff = { " ALL_DAYS " }"), 0},
    {"no_effect", "meters.yard.tariff.holidays",
     TARIFF("tariff = { " ALL_DAYS ", holidays = { \"12-25\" } }"),
     TARIFF("tariff = { " PERIODS ", holidays = { \"12-25\" } }"), 0},
    {"no_effect", "meters.yard.tariff.holidays",
     TARIFF("tariff = { energy = { { price_per_kwh = 1 } }, holidays = { \"12-25\" } }"),
     TARIFF("tariff = { energy = { { price_per_kwh = 1 } } }"), 0},
    {"one_shape", "buildings", HOMES("\"dwelling\"", "\"dwelling\""),
     HOMES("\"dwelling\"",
           "{ 1, 2, 3, 4, 5, 6, 7, 8, 9, 1, 2, 3, 4, 5, 6, 7, 8, 9, 1, 2, 3, 4, 5, 6 }"),
     0},
    {"one_shape", "buildings", HOMES("\"dwelling\"", "\"dwelling\""), HOMES("\"even\"", "\"even\""),
     0},
    {"no_outages", "hubs.barn.rules.reserve",
     SITE(INVERTER ", " BATTERY ", rules = { reserve = 0.5 }"), SITE(INVERTER ", " BATTERY), 0},
    {"no_outages", "hubs.barn.rules.battery_use",
     SITE(INVERTER ", " BATTERY ", rules = { battery_use = \"outages\" }"),
     SITE(INVERTER ", " BATTERY ", rules = { battery_use = \"daily\" }"), 0},
    {"no_outages", "hubs.barn.rules.raise_reserve",
     SITE(INVERTER ", " BATTERY ", " ARRAYS
                   ", rules = { raise_reserve = { ahead_h = 24, below_kwh = 9, to = 0.8 } }"),
     SITE(INVERTER ", " BATTERY ", " ARRAYS), 0},
    {"always_raised", "hubs.barn.rules.raise_reserve",
     SITE(INVERTER ", " BATTERY
                   ", rules = { raise_reserve = { ahead_h = 24, below_kwh = 9, to = 0.8 } }"),
     SITE(INVERTER ", " BATTERY ", " ARRAYS
                   ", rules = { raise_reserve = { ahead_h = 24, below_kwh = 9, to = 0.8 } }"),
     0},
    {"no_outages", "hubs.barn.rules.shed",
     SITE(INVERTER ", " BATTERY ", rules = { shed = { ordinary = 0.2 } }"),
     SITE(INVERTER ", " BATTERY), 0},
    {"no_effect", "hubs.barn.rules.shed.deferrable",
     SITE(INVERTER ", " BATTERY ", rules = { shed = { deferrable = 0.2 } }"),
     SITE(INVERTER ", " BATTERY), 0},
    {"no_effect", "hubs.barn.rules.discharge_windows",
     SITE(INVERTER ", " ARRAYS ", rules = { discharge_windows = \"17:00-21:00\" }"),
     SITE(INVERTER ", " BATTERY ", rules = { discharge_windows = \"17:00-21:00\" }"), 0},
    {"no_effect", "hubs.barn.inverter.unit.charge_from_grid_kw",
     SITE("inverter = { unit = { ac_kw = 5, charge_from_grid_kw = 3, efficiency = { at_10 = 0.9, "
          "at_100 = 0.95 } } }, " BATTERY),
     SITE("inverter = { unit = { ac_kw = 5, charge_from_grid_kw = 3, efficiency = { at_10 = 0.9, "
          "at_100 = 0.95 } } }, " BATTERY
          ", rules = { charge_from_grid = { window = \"01:00-05:00\", charge_to = 0.9 } }"),
     0},
    {"no_outages", "hubs.barn.rules.outage_floor",
     SITE(INVERTER ", " BATTERY ", rules = { outage_floor = 0.5 }"),
     "{ weather = @0, hubs = { barn = { " INVERTER ", " BATTERY
     ", rules = { outage_floor = 0.5 } } } "
     "}",
     0},
};

enum { ROWS = sizeof rows / sizeof rows[0] };

static size_t said(const char *text, const char *code, const char *path) {
  steading_warning warnings[STEADING_MOST_WARNINGS];
  const steading_site *site = build_site(weather, "%s", text);
  size_t count = steading_site_warnings(site, warnings), found = 0;
  for (size_t i = 0; i < count; i++) {
    ck_assert_uint_gt(strlen(warnings[i].text), 10);
    found += strcmp(warnings[i].code, code) == 0 && strcmp(warnings[i].path, path) == 0;
  }
  steading_record_release(site);
  return found;
}

START_TEST(a_warning_is_said_where_it_applies) {
  const row *r = &rows[_i];
  if (r->latitude_deg != 0) weather->place.latitude_deg = r->latitude_deg;
  ck_assert_msg(said(r->with, r->code, r->path) == 1, "%s is not said once: %s", r->code, r->with);
  ck_assert_msg(said(r->without, r->code, r->path) == 0, "%s is said: %s", r->code, r->without);
}
END_TEST

/* Only a well whose yield could be given and is not. */
START_TEST(an_endless_well_is_said_once_its_yield_can_be_given) {
  const char *text = WATER("hub = \"barn\"", "");
  size_t expected = 1;
  for (size_t i = 0; i < steading_well_spec.field_count; i++)
    if (strcmp(steading_well_spec.fields[i].name, "recovery_l_per_h") == 0 &&
        steading_well_spec.fields[i].kind == STEADING_FIELD_later)
      expected = 0;
  ck_assert_uint_eq(said(text, "endless_well", "water.wells.deep"), expected);
}
END_TEST

START_TEST(steps_finer_than_the_weather_are_said) {
  steading_warning warnings[2];
  const steading_site *site = build_site(weather, "%s", SITE(INVERTER));
  ck_assert_uint_eq(steading_step_warnings(site, 60, warnings, 2), 0);
  ck_assert_uint_eq(steading_step_warnings(site, 5, warnings, 2), 1);
  ck_assert_str_eq(warnings[0].code, "finer_than_data");
  ck_assert_uint_eq(steading_step_warnings(site, 5, warnings, 0), 0);
  steading_record_release(site);
}
END_TEST

/* 16 hubs of 3 lots without a price, 1 inverter and 1 battery without lots, and more: the last
 * warning counts what there was no room for. */
START_TEST(too_many_warnings_are_counted) {
  char text[16384] = "{ weather = @0, hubs = { ";
  steading_warning warnings[STEADING_MOST_WARNINGS];
  const steading_site *site = NULL;
  for (int i = 0; i < 16; i++) {
    size_t used = strlen(text);
    snprintf(text + used, sizeof text - used,
             "h%d = { inverter = { " UNIT " }, battery = { " STORE
             ", lots = { {}, {}, {}, {}, {}, {}, {}, {}, {} } } }, ",
             i);
  }
  strcat(text, "} }");
  site = build_site(weather, "%s", text);
  ck_assert_uint_eq(steading_site_warnings(site, warnings), STEADING_MOST_WARNINGS);
  ck_assert_str_eq(warnings[STEADING_MOST_WARNINGS - 1].code, "more");
  /* 16 x (1 + 9) = 160; 127 are told */
  ck_assert_str_eq(warnings[STEADING_MOST_WARNINGS - 1].text, "33 further warnings are left out");
  steading_record_release(site);
}
END_TEST

Suite *warnings_suite(void) {
  Suite *suite = suite_create("warnings");
  TCase *tcase = tcase_create("warnings of a site");
  tcase_add_checked_fixture(tcase, setup, teardown);
  tcase_add_loop_test(tcase, a_warning_is_said_where_it_applies, 0, ROWS);
  tcase_add_test(tcase, an_endless_well_is_said_once_its_yield_can_be_given);
  tcase_add_test(tcase, steps_finer_than_the_weather_are_said);
  tcase_add_test(tcase, too_many_warnings_are_counted);
  suite_add_tcase(suite, tcase);
  return suite;
}
