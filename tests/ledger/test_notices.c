/* What is said of a run: each warning is there where it applies, with the figures worked out by
 * hand, and absent where it does not. */
#include <check.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "ledger/notices.h"
#include "suites.h"

static steading_weather *weather;

static void setup(void) { weather = build_grey_weather(2); }

static void teardown(void) { steading_weather_release(weather); }

#define UNIT(more)     \
  "inverter = { " more \
  "unit = { ac_kw = 5, efficiency = { at_10 = 0.8, at_50 = 0.8, at_100 = 0.8 } "
#define LEVEL                                                                                    \
  "tilt_deg = 0, azimuth_deg = 180, sky_model = \"isotropic\", incidence = false, soiling = 0, " \
  "mismatch_loss = 0, dc_wiring_loss = 0, module = { watts = 1000, temp_coefficient_per_c = 0, " \
  "degradation_per_year = 0 }"
#define STORE                                                                                      \
  "battery = { module = { kwh = 50, charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 } " \
  "}"
#define HUB(unit, arrays, more) \
  "hubs = { barn = { meter = \"yard\", " unit "} }, arrays = { " arrays " }, " STORE more " } }"
#define PAID                                                                             \
  "tariff = { energy = { { price_per_kwh = 0.2 } }, export = { kind = \"net_billing\", " \
  "price_per_kwh = 0.05 } }"
#define STEADY(place, watts) "{ " place ", loads = { { kind = \"steady\", watts = " watts " } } }"
#define WATER(litres_per_day)                                                                      \
  "water = { wells = { deep = { meter = \"yard\", lift_m = 30, flow_l_per_min = 1, efficiency = "  \
  "0.4 } }, tanks = { hill = { litres = 200, start_below = 0.6, fed_by = \"deep\" } }, users = { " \
  "home = { tank = "                                                                               \
  "\"hill\", litres_per_day = " litres_per_day " } } }"

#define SITE(meter, rest) "{ weather = @0, meters = { yard = { " meter " } }, " rest " }"

/* A hub that its sun carries: 0.4 kW of AC for 0.1 kW of load, and the surplus goes nowhere. */
#define SUNNY(meter, more)                                                           \
  SITE(meter, HUB(UNIT(""), "{ " LEVEL " }", more) ", buildings = { home = " STEADY( \
                  "hub = \"barn\"", "100") " }")
/* The same with no sun to spare, so that what stands on the meter is fed by the grid alone. */
#define OFFICE(watts)                                                           \
  SITE("", HUB(UNIT(""), "{ " LEVEL " }", "") ", buildings = { home = " STEADY( \
               "hub = \"barn\"", "400") ", office = " STEADY("meter = \"yard\"", watts) " }")
#define LOT(dates) "lots = { { count = 1, " dates " } }"
#define DATED(array_dates) SITE("", HUB(UNIT(""), "{ " LEVEL ", " LOT(array_dates) " }", ""))

typedef struct row {
  const char *code, *path, *text;
  const char *with, *with_options;
  const char *without, *without_options;
} row;

static const char *const two_years = "{ start = \"2027-01\", years = 2 }";

#define AGED(at_health, lot) \
  SITE("", "hubs = { barn = { meter = \"yard\", " UNIT("") "} }, battery = { module = { kwh = 5, "  \
           "charge_kw = 2, discharge_kw = 2, round_trip_efficiency = 0.9 }, room = { temp_c = 25 }, " \
           "ageing = { model = \"naumann\", replace_at_health = " at_health " }, lots = { { " lot      \
           " } } } } }")

/* A battery of 50 kWh that takes nothing at 0 C, half full, and 0.5 kW of sun in all hours for 0.1
 * kW of load at 0.8: what is left, 0.375 kW DC, cannot be charged with in the 744 hours of a cold
 * January; from February on it fills up. */
#define COLD(temps)                                                                             \
  SITE("", "hubs = { barn = { meter = \"yard\", " UNIT(                                         \
               "") "} }, arrays = { { " LEVEL                                                   \
                   " } }, battery = { module = { kwh = 50, charge_kw = 5, discharge_kw = 5, "   \
                   "round_trip_efficiency = 1, charge_share_at_c = { { 0, 0 }, { 10, 1 } } }, " \
                   "room = { temp_c = " temps                                                   \
                   " } } } }, buildings = { home = " STEADY("hub = \"barn\"", "100") " }")

static const row rows[] = {
    {"weather_repeats", "weather", "3 years of run on 2 years of weather", SUNNY("", ""),
     "{ years = 3 }", SUNNY("", ""), "{ years = 2 }"},
    {"finer_than_data", "simulate.step_minutes", "steps of 30 minutes on weather of 60",
     SUNNY("", ""), "{ step_minutes = 30 }", SUNNY("", ""), "{ step_minutes = 60 }"},
    /* 0.1 kW of load and 0.5 kW of sun: 0.125 kW used (0.8 of it AC), 0.375 kW * 8760 h = 3285 kWh
     * a year not, but for what the battery takes at first */
    {"surplus_unsold", "meters.yard.export_limit_kw", "a year", SUNNY(PAID, ""), NULL,
     SUNNY(PAID ", export_limit_kw = 5", ""), NULL},
    {"surplus_unsold", "meters.yard.export_limit_kw", "a year", SUNNY(PAID, ""), NULL,
     SUNNY("tariff = { energy = { { price_per_kwh = 0.2 } } }", ""), NULL},
    {"surplus_unsold", "hubs.barn.rules.surplus_order", "leaves out export",
     SUNNY(PAID ", export_limit_kw = 5", ", rules = { surplus_order = { \"battery\" } }"), NULL,
     SUNNY(PAID ", export_limit_kw = 5",
           ", rules = { surplus_order = { \"battery\", \"export\" } }"),
     NULL},
    /* the hub's own sun carries it for all hours; 80 W on the meter are above 0.05 kW, 40 W not */
    {"grid_free_lost", "buildings.office",
     "only 0 of 8760 hours a year are grid-free because of 'office', straight on the meter (80 W "
     "at "
     "all times); hub 'barn' alone has 8760",
     OFFICE("80"), NULL, OFFICE("40"), NULL},
    {"grid_free_lost", "hubs.barn.inverter.import_margin_w",
     "only 0 of 8760 hours a year are grid-free because of it: 90 W",
     SITE("", HUB(UNIT("import_margin_w = 90, "), "{ " LEVEL " }",
                  "") ", buildings = { home = " STEADY("hub = \"barn\"", "100") " }"),
     NULL,
     SITE("", HUB(UNIT("import_margin_w = 30, "), "{ " LEVEL " }",
                  "") ", buildings = { home = " STEADY("hub = \"barn\"", "100") " }"),
     NULL},
    {"never_in_service", "hubs.barn.arrays[1].lots[1]",
     "arrives on 2029-01-01, after the end of the run", DATED("in_service = \"2029-01\""),
     two_years, DATED("in_service = \"2028-12-31\""), two_years},
    {"never_in_service", "hubs.barn.arrays[1].lots[1]", "retires before the run starts",
     DATED("retired = \"2027-01-01\""), two_years, DATED("retired = \"2027-01-02\""), two_years},
    {"never_in_service", "works[1]", "are dated 2029-01-01, after the end of the run",
     SITE("", "works = { { name = \"trench\", price = 9, date = \"2029-01-01\" } }"), two_years,
     SITE("", "works = { { name = \"trench\", price = 9, date = \"2028-12-31\" } }"), two_years},
    {"never_in_service", "buildings.home.in_service", "is 2029-01-01, after the end of the run",
     SITE("", "buildings = { home = { meter = \"yard\", in_service = \"2029-01-01\" } }"),
     two_years,
     SITE("", "buildings = { home = { meter = \"yard\", in_service = \"2028-12-31\" } }"),
     two_years},
    /* nothing is taken of 0.5 kW * 8760 h where no inverter is in service */
    {"sun_unused", "hubs.barn.arrays", "nothing is taken of the 4380 kWh a year",
     SITE("", "hubs = { barn = { meter = \"yard\", " UNIT(
                  "lots = { { count = 0 } }, ") "} }, arrays = { { " LEVEL " } } } }"),
     NULL,
     SITE("", "hubs = { barn = { meter = \"yard\", " UNIT("") "} }, arrays = { { " LEVEL
                                                              " } }, " STORE " } }"),
     NULL},
    /* 1 l/min is 1440 l a day: of 2000 l wanted some are short in each month, of 1000 l none */
    {"ran_dry", "water.tanks.hill", "in 12 of 12 months, for the first time in 2027-01",
     SITE("", WATER("2000")), "{ start = \"2027-01\" }", SITE("", WATER("1000")),
     "{ start = \"2027-01\" }"},
    {"charge_blocked", "hubs.barn.battery.room", "in 744 hours a year, in 1 of 12 months",
     COLD("{ 0, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20 }"), NULL, COLD("20"), NULL},
    /* two such years, the battery full from the first February on: no more than that */
    {"charge_blocked", "hubs.barn.battery.room", "in 372 hours a year, in 1 of 24 months",
     COLD("{ 0, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20, 20 }"), two_years, COLD("10"), two_years},
    /* half full at 25 C more than 4 % go in a year */
    {"battery_replaced", "hubs.barn.battery.lots[1]",
     "replaced at the beginning of year 2 of the run, with too little of its capacity left",
     AGED("0.97", "price_each = 9"), two_years, AGED("0.93", "price_each = 9"), two_years},
    {"battery_replaced", "hubs.barn.battery.lots[1]",
     "replaced at the beginning of year 2 of the run, its life_years over, 2 times in the run",
     AGED("0.5", "price_each = 9, life_years = 1"), "{ start = \"2027-01\", years = 3 }",
     AGED("0.5", "price_each = 9, life_years = 3"), "{ start = \"2027-01\", years = 3 }"},
    {"free_replacement", "hubs.barn.battery.lots[1]", "costs nothing", AGED("0.97", "count = 1"),
     two_years, AGED("0.97", "replacement_price_each = 9"), two_years},
    {"aged_before", "hubs.barn.battery.lots[1]", "was in service before the run",
     AGED("0.5", "in_service = \"2026-12\""), two_years, AGED("0.5", "in_service = \"2027-01\""),
     two_years},
};

enum { ROWS = sizeof rows / sizeof rows[0], ROOM = 32 };

static size_t notices_of(const char *text, const char *options, steading_warning *list) {
  const steading_site *site = build_site(weather, "%s", text);
  steading_run *run = build_run(site, options == NULL ? "{ start = \"2027-01\" }" : options);
  size_t count = steading_run_notices(run, list, ROOM);
  steading_run_release(run);
  steading_record_release(site);
  return count;
}

static const steading_warning *find(const steading_warning *list, size_t count, const char *code,
                                    const char *path) {
  for (size_t i = 0; i < count; i++)
    if (strcmp(list[i].code, code) == 0 && strcmp(list[i].path, path) == 0) return &list[i];
  return NULL;
}

START_TEST(a_notice_is_there_where_it_applies_and_absent_where_not) {
  const row *r = &rows[_i];
  steading_warning list[ROOM];
  size_t count = notices_of(r->with, r->with_options, list);
  const steading_warning *found = find(list, count, r->code, r->path);
  ck_assert_msg(found != NULL, "%s at %s is not said", r->code, r->path);
  ck_assert_msg(strstr(found->text, r->text) != NULL, "'%s' is not in '%s'", r->text, found->text);
  count = notices_of(r->without, r->without_options, list);
  ck_assert_msg(find(list, count, r->code, r->path) == NULL, "%s at %s is said", r->code, r->path);
}
END_TEST

START_TEST(an_array_in_the_dark_never_gives_anything) {
  static const char *const text = DATED("in_service = \"2027-01\"");
  steading_weather *grey = weather;
  steading_warning list[ROOM];
  size_t count = notices_of(text, NULL, list);
  ck_assert_ptr_null(find(list, count, "no_yield", "hubs.barn.arrays[1]"));
  weather = build_dark_weather();
  count = notices_of(text, NULL, list);
  ck_assert_ptr_nonnull(find(list, count, "no_yield", "hubs.barn.arrays[1]"));
  /* one that is not there needs no light */
  count = notices_of(DATED("in_service = \"2031-01\""), NULL, list);
  ck_assert_ptr_null(find(list, count, "no_yield", "hubs.barn.arrays[1]"));
  steading_weather_release(weather);
  weather = grey;
}
END_TEST

/* 560 l a day are short of 2000 l: 365 * 560 = 204 400 l of 730 000 l, less the half tank (100 l)
 * that stands there at the start, below the level at which the pump begins. */
START_TEST(what_was_short_is_told_in_litres) {
  steading_warning list[ROOM];
  size_t count = notices_of(SITE("", WATER("2000")), NULL, list);
  const steading_warning *dry = find(list, count, "ran_dry", "water.tanks.hill");
  ck_assert_ptr_nonnull(dry);
  ck_assert_msg(strstr(dry->text, "204300 of 730000 l were short") != NULL, "%s", dry->text);
}
END_TEST

START_TEST(a_good_plan_has_no_notice) {
  steading_warning list[ROOM];
  size_t count = notices_of(SUNNY(PAID ", export_limit_kw = 5", ""),
                            "{ start = \"2027-01\", years = 2 }", list);
  ck_assert_msg(count == 0, "%s: %s", list[0].code, list[0].text);
}
END_TEST

START_TEST(without_room_the_last_says_how_many_are_left_out) {
  const steading_site *site = build_site(
      weather, "%s",
      SITE("",
           "works = { { name = \"a\", price = 1, date = \"2040-01\" }, { name = \"b\", price = "
           "1, date = \"2040-01\" }, { name = \"c\", price = 1, date = \"2040-01\" } }"));
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  steading_warning list[2];
  ck_assert_uint_eq(steading_run_notices(run, list, 2), 2);
  ck_assert_str_eq(list[0].path, "works[1]");
  ck_assert_str_eq(list[1].code, "more");
  ck_assert_str_eq(list[1].text, "2 further warnings are left out");
  ck_assert_uint_eq(steading_run_notices(run, list, 0), 0);
  steading_run_release(run);
  steading_record_release(site);
}
END_TEST

Suite *notices_suite(void) {
  Suite *suite = suite_create("notices");
  TCase *all = tcase_create("all");
  tcase_add_checked_fixture(all, setup, teardown);
  tcase_add_loop_test(all, a_notice_is_there_where_it_applies_and_absent_where_not, 0, ROWS);
  tcase_add_test(all, an_array_in_the_dark_never_gives_anything);
  tcase_add_test(all, what_was_short_is_told_in_litres);
  tcase_add_test(all, a_good_plan_has_no_notice);
  tcase_add_test(all, without_room_the_last_says_how_many_are_left_out);
  suite_add_tcase(suite, all);
  return suite;
}
