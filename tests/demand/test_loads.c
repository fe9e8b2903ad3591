/* Loads in civil time: energies by arithmetic over the days of a calendar. */
#include <check.h>
#include <math.h>
#include <stdbool.h>

#include "build.h"
#include "calendar.h"
#include "demand/loads.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

static steading_civil_step hours_of_year[HOURS];
static double kw[HOURS];

static void clock_of(const char *zone_name, int year, int month, double utc_offset_h) {
  steading_zone *zone = NULL;
  if (zone_name != NULL) ck_assert_int_eq(steading_zone_load(zone_name, &zone, NULL), STEADING_OK);
  steading_clock_year(year, month, zone, utc_offset_h, 60, hours_of_year);
  steading_zone_free(zone);
}

/* A site of one building on the meter with these loads, and one on the hub with others. */
static const steading_site *site_with(steading_weather *weather, const char *on_meter,
                                      const char *on_hub) {
  return build_site(weather,
                    "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = "
                    "{ unit = { ac_kw = 9, efficiency = { at_10 = 1, at_100 = 1 } } } } }, "
                    "buildings = { a = { meter = \"m\", loads = { %s } }, "
                    "b = { hub = \"h\", loads = { %s } } } }",
                    on_meter, on_hub);
}

static bool on_a_meter(const void *context, const char *name, const steading_building *building) {
  (void)context;
  (void)name;
  return building->meter != NULL;
}

static bool on_a_hub(const void *context, const char *name, const steading_building *building) {
  (void)context;
  (void)name;
  return building->hub != NULL;
}

/* The loads of one side in hours. */
static steading_loads *gather(const steading_map *buildings, bool on_hub) {
  steading_loads *loads = NULL;
  ck_assert_int_eq(
      steading_loads_gather(buildings, on_hub ? on_a_hub : on_a_meter, NULL, 60, &loads, NULL),
      STEADING_OK);
  return loads;
}

/* Their power in year `run_year` of a run of hours that begins in 2027. */
static void loads_in(steading_loads *loads, int run_year, size_t first_hour) {
  const steading_load_year year = {.run_year = run_year,
                                   .start_day = steading_day_number(2027, 1, 1),
                                   .first_hour = first_hour,
                                   .steps = hours_of_year};
  steading_loads_year(loads, &year, kw);
}

/* Hourly kW of the meter's loads in year `run_year` into `kw`; their sum is returned. */
static double loads_of_year(const char *on_meter, int run_year, size_t first_hour) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = site_with(weather, on_meter, "");
  steading_loads *loads = NULL;
  double sum = 0;
  loads = gather(site->buildings, false);
  loads_in(loads, run_year, first_hour);
  steading_loads_free(loads);
  steading_record_release(site);
  steading_weather_release(weather);
  for (int i = 0; i < HOURS; i++) sum += kw[i];
  return sum;
}

/* A day of 24 civil hours takes kwh_per_day times the month's factor, whatever the shape. The day
 * of 23 hours has no hour 2 and the day of 25 has hour 1 twice: the share of that hour less, or
 * more. Denver 2027: 14 March and 7 November are days 72 and 310. */
START_TEST(a_daily_load_takes_its_energy_on_every_ordinary_civil_day) {
  static const char *const load =
      "{ kind = \"daily\", kwh_per_day = 12, "
      "monthly = { 1.5, 1, 1, 1, 1, 1, 0.5, 1, 1, 1, 1, 2 }, "
      "shape = { 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 22 } }";
  double factor[12] = {1.5, 1, 1, 1, 1, 1, 0.5, 1, 1, 1, 1, 2};
  int day = 0;
  clock_of("America/Denver", 2027, 1, -7);
  loads_of_year(load, 0, 0);
  for (int i = 0; i < HOURS; day++) {
    int weekday = hours_of_year[i].weekday, month = hours_of_year[i].month;
    double sum = 0, expected = 12 * factor[month - 1];
    for (; i < HOURS && hours_of_year[i].weekday == weekday; i++) sum += kw[i];
    if (day == 72) expected -= 12 * 3.0 / 100;
    if (day == 310) expected += 12 * 2.0 / 100;
    ck_assert_double_eq_tol(sum, expected, 1e-12);
  }
  ck_assert_int_eq(day, 365);
  /* a Monday in July: 23:00 civil is 22:00 standard time */
  ck_assert_double_eq_tol(kw[(185 * 24) + 22], 12 * 0.5 * 22 / 100.0, 1e-12);
}
END_TEST

/* 365 days in every zone, as each long day has a short one: 365 x 10 kWh with an even shape. */
START_TEST(a_year_of_an_even_load_is_365_days_in_every_zone) {
  static const char *const zones[] = {"America/Denver", "Australia/Sydney", "America/Santiago"};
  static const double offsets[] = {-7, 10, -4};
  for (int z = 0; z < 3; z++) {
    clock_of(zones[z], 2027, 1, offsets[z]);
    ck_assert_double_eq_tol(
        loads_of_year("{ kind = \"daily\", kwh_per_day = 10, shape = \"even\" }", 0, 0), 3650,
        1e-9);
  }
}
END_TEST

/* 60 W for 8760 h is 525.6 kWh; three refrigerators of 420 kWh a year are 1260 kWh, all hours
 * alike. */
START_TEST(steady_loads_and_refrigerators_take_the_same_in_every_hour) {
  clock_of(NULL, 2027, 1, 0);
  ck_assert_double_eq_tol(loads_of_year("{ kind = \"steady\", watts = 60 }", 0, 0), 525.6, 1e-9);
  ck_assert_double_eq(kw[4000], 0.06);
  ck_assert_double_eq_tol(
      loads_of_year("{ kind = \"refrigerators\", count = 3, kwh_per_year_each = 420 }", 0, 0), 1260,
      1e-9);
  ck_assert_double_eq_tol(kw[17], 1260.0 / 8760, 1e-15);
}
END_TEST

/* 2027 begins on a Friday: it has 53 Fridays and 52 of each other day, so 52 x 4 + 53 = 261 days
 * from Monday to Friday; 3 kW for 3.5 hours on each. */
START_TEST(a_timed_load_runs_on_its_days_for_its_hours) {
  clock_of("America/Denver", 2027, 1, -7);
  ck_assert_double_eq_tol(
      loads_of_year("{ kind = \"timed\", kw = 3, window = { hours = \"17:30-21:00\", "
                    "days = \"Mon-Fri\" } }",
                    0, 0),
      3 * 3.5 * 261, 1e-9);
  ck_assert_double_eq_tol(kw[17], 1.5, 1e-15); /* Friday 1 January, 17:00-18:00 */
  ck_assert_double_eq_tol(kw[20], 3, 1e-15);
  ck_assert_double_eq(kw[21], 0);
  ck_assert_double_eq(kw[24 + 18], 0); /* Saturday */
}
END_TEST

/* From 22:00 on Mondays to 6:00 on Tuesdays: a window belongs to the day it starts on. 2027 has 52
 * Mondays. The first is 4 January. */
START_TEST(a_window_that_crosses_midnight_belongs_to_the_day_it_starts_on) {
  clock_of(NULL, 2027, 1, 0);
  ck_assert_double_eq_tol(
      loads_of_year("{ kind = \"timed\", kw = 2, window = { hours = \"22:00-06:00\", "
                    "days = \"Mon\" } }",
                    0, 0),
      2 * 8 * 52, 1e-9);
  for (int i = 0; i < 7 * 24; i++) {
    bool on = i >= 3 * 24 + 22 && i < 4 * 24 + 6;
    ck_assert_double_eq(kw[i], on ? 2 : 0);
  }
}
END_TEST

/* January's nights end on the morning of 1 February, and that of 1 January belongs to December. */
START_TEST(a_window_of_months_that_crosses_midnight_reaches_into_the_next_month) {
  clock_of(NULL, 2027, 1, 0);
  ck_assert_double_eq_tol(
      loads_of_year("{ kind = \"timed\", kw = 1, window = { hours = \"22:00-06:00\", "
                    "months = \"Jan\" } }",
                    0, 0),
      31 * 8, 1e-9);
  ck_assert_double_eq(kw[0], 0);
  ck_assert_double_eq(kw[24], 1);
  ck_assert_double_eq(kw[31 * 24 + 5], 1);
  ck_assert_double_eq(kw[31 * 24 + 6], 0);
  ck_assert_double_eq(kw[31 * 24 + 22], 0);
}
END_TEST

/* "2:00-3:00" does not exist on 14 March and "1:00-2:00" stands twice on 7 November. */
START_TEST(timers_follow_the_civil_clock_when_it_changes) {
  clock_of("America/Denver", 2027, 1, -7);
  ck_assert_double_eq_tol(
      loads_of_year("{ kind = \"timed\", kw = 1, window = \"02:00-03:00\" }", 0, 0), 364, 1e-9);
  ck_assert_double_eq_tol(
      loads_of_year("{ kind = \"timed\", kw = 1, window = \"01:00-02:00\" }", 0, 0), 366, 1e-9);
}
END_TEST

/* From the second year on, compounding: 5 % a year is 1.1025 in the third. */
START_TEST(growth_compounds_from_the_second_year_on) {
  static const char *const loads[] = {
      "{ kind = \"steady\", watts = 100, growth_per_year = 0.05 }",
      "{ kind = \"daily\", kwh_per_day = 2.4, shape = \"even\", growth_per_year = 0.05 }",
      "{ kind = \"refrigerators\", count = 1, kwh_per_year_each = 876, growth_per_year = 0.05 }",
      "{ kind = \"timed\", kw = 0.1, window = \"00:00-24:00\", growth_per_year = 0.05 }"};
  clock_of(NULL, 2027, 1, 0);
  for (int i = 0; i < 4; i++) {
    ck_assert_double_eq_tol(loads_of_year(loads[i], 0, 0), 876, 1e-9);
    ck_assert_double_eq_tol(loads_of_year(loads[i], 1, 0), 876 * 1.05, 1e-9);
    ck_assert_double_eq_tol(loads_of_year(loads[i], 2, 0), 876 * 1.1025, 1e-9);
  }
}
END_TEST

/* Two years of numbers, 0, 1, 2 ...: a run that begins in July reads from hour 181 x 24 on, and
 * its second year runs over the end into the first numbers again. */
START_TEST(a_series_begins_in_january_and_repeats) {
  static double numbers[2 * HOURS];
  steading_weather *weather = build_dark_weather();
  const build_thing things[] = {{.weather = weather}, {.numbers = numbers, .count = 2 * HOURS}};
  const steading_site *site = NULL;
  steading_loads *loads = NULL;
  for (int i = 0; i < 2 * HOURS; i++) numbers[i] = i;
  site = build(&steading_site_spec, things,
               "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = { "
               "{ kind = \"series\", kw = @1, growth_per_year = 1 } } } } }");
  loads = gather(site->buildings, false);
  clock_of(NULL, 2027, 7, 0);
  loads_in(loads, 0, 181 * 24);
  ck_assert_double_eq(kw[0], 181 * 24);
  ck_assert_double_eq(kw[HOURS - 1], 181 * 24 + HOURS - 1);
  loads_in(loads, 1, 181 * 24);
  ck_assert_double_eq(kw[0], 2.0 * (181 * 24 + HOURS)); /* doubled in the second year */
  ck_assert_double_eq(kw[184 * 24], 0);
  ck_assert_double_eq(kw[184 * 24 + 5], 2 * 5);
  steading_loads_free(loads);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(loads_of_the_hub_and_of_the_meter_stay_apart_and_add_up) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      site_with(weather, "{ kind = \"steady\", watts = 100 }, { kind = \"steady\", watts = 20 }",
                "{ kind = \"steady\", watts = 300 }");
  steading_loads *loads = NULL;
  clock_of(NULL, 2027, 1, 0);
  loads = gather(site->buildings, false);
  loads_in(loads, 0, 0);
  ck_assert_double_eq_tol(kw[77], 0.12, 1e-15);
  steading_loads_free(loads);
  loads = gather(site->buildings, true);
  loads_in(loads, 0, 0);
  ck_assert_double_eq_tol(kw[77], 0.3, 1e-15);
  steading_loads_free(loads);
  loads = gather(NULL, true);
  loads_in(loads, 0, 0);
  for (int i = 0; i < HOURS; i++) ck_assert(kw[i] == 0);
  steading_loads_free(loads);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* Each civil month takes the energy of its bill, whatever hours its clock changes leave out or
 * double: March and November 2027 in Denver, April and October in Sydney; in hours and in quarters,
 * in the second year with its growth, also in a run that begins in July. The shape is that of the
 * civil day: hour 18 takes six times what hour 3 takes, and the hours without a share nothing. */
START_TEST(a_bill_is_met_in_each_civil_month_also_in_those_whose_clock_changes) {
  static const char *const zones[] = {"America/Denver", "Australia/Sydney", NULL};
  static const double offsets[] = {-7, 10, 0};
  static const double kwh[12] = {310, 250, 333, 410, 90, 0, 120, 77, 305, 201, 407, 520};
  static steading_civil_step steps[4 * HOURS];
  static double power[4 * HOURS];
  steading_weather *weather = build_dark_weather();
  const steading_site *site = site_with(
      weather,
      "{ kind = \"bills\", growth_per_year = 0.1, "
      "kwh = { 310, 250, 333, 410, 90, 0, 120, 77, 305, 201, 407, 520 }, "
      "shape = { 0, 1, 1, 1, 2, 2, 3, 3, 3, 2, 2, 2, 2, 2, 3, 3, 4, 5, 6, 6, 5, 4, 2, 0 } }",
      "");
  for (int k = 0; k < 3 * 2 * 2 * 2; k++) {
    int z = k % 3, minutes = k / 3 % 2 == 0 ? 60 : 15, month = k / 6 % 2 == 0 ? 1 : 7,
        run_year = k / 12;
    size_t count = (size_t)HOURS * 60 / (size_t)minutes;
    steading_zone *zone = NULL;
    steading_loads *loads = NULL;
    const steading_load_year year = {.run_year = run_year,
                                     .start_day = steading_day_number(2027, month, 1),
                                     .first_hour = month == 1 ? 0 : 181 * 24,
                                     .steps = steps};
    double sums[12] = {0}, grown = run_year == 0 ? 1 : 1.1;
    if (zones[z] != NULL) ck_assert_int_eq(steading_zone_load(zones[z], &zone, NULL), STEADING_OK);
    steading_clock_year(2027 + run_year, month, zone, offsets[z], minutes, steps);
    ck_assert_int_eq(
        steading_loads_gather(site->buildings, on_a_meter, NULL, minutes, &loads, NULL),
        STEADING_OK);
    steading_loads_year(loads, &year, power);
    for (size_t i = 0; i < count; i++) {
      sums[steps[i].month - 1] += power[i] * minutes / 60;
      if (steps[i].minute / 60 == 0 || steps[i].minute / 60 == 23) ck_assert_double_eq(power[i], 0);
    }
    for (int m = 0; m < 12; m++) ck_assert_double_eq_tol(sums[m], kwh[m] * grown, 1e-9);
    for (size_t i = 0; i + 15 * 60 / (size_t)minutes < count; i++) {
      size_t later = i + 15 * 60 / (size_t)minutes;
      if (steps[i].minute != 3 * 60 || steps[later].minute != 18 * 60) continue;
      ck_assert_double_eq_tol(power[later], 6 * power[i], 1e-12);
    }
    steading_loads_free(loads);
    steading_zone_free(zone);
  }
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A date within the year: the load is there from its midnight on, and a year later from the
 * beginning. */
START_TEST(a_load_is_there_from_its_date_on) {
  static const char *const loads[] = {
      "{ kind = \"steady\", watts = 100, in_service = \"2027-04-11\" }",
      "{ kind = \"daily\", kwh_per_day = 2.4, shape = \"even\", in_service = \"2027-04-11\" }",
      "{ kind = \"refrigerators\", count = 1, kwh_per_year_each = 876, in_service = \"2027-04-11\" }",
      "{ kind = \"timed\", kw = 0.1, window = \"00:00-24:00\", in_service = \"2027-04-11\" }"};
  const int first = 24 * (31 + 28 + 31 + 10);
  clock_of(NULL, 2027, 1, 0);
  for (int i = 0; i < 4; i++) {
    ck_assert_double_eq_tol(loads_of_year(loads[i], 0, 0), 0.1 * (HOURS - first), 1e-9);
    ck_assert_double_eq(kw[first - 1], 0);
    ck_assert_double_eq_tol(kw[first], 0.1, 1e-15);
    ck_assert_double_eq_tol(loads_of_year(loads[i], 1, 0), 876, 1e-9);
  }
}
END_TEST

Suite *loads_suite(void) {
  Suite *suite = suite_create("loads");
  TCase *tests = tcase_create("loads");
  tcase_add_test(tests, a_daily_load_takes_its_energy_on_every_ordinary_civil_day);
  tcase_add_test(tests, a_year_of_an_even_load_is_365_days_in_every_zone);
  tcase_add_test(tests, steady_loads_and_refrigerators_take_the_same_in_every_hour);
  tcase_add_test(tests, a_timed_load_runs_on_its_days_for_its_hours);
  tcase_add_test(tests, a_window_that_crosses_midnight_belongs_to_the_day_it_starts_on);
  tcase_add_test(tests, a_window_of_months_that_crosses_midnight_reaches_into_the_next_month);
  tcase_add_test(tests, timers_follow_the_civil_clock_when_it_changes);
  tcase_add_test(tests, growth_compounds_from_the_second_year_on);
  tcase_add_test(tests, a_series_begins_in_january_and_repeats);
  tcase_add_test(tests, loads_of_the_hub_and_of_the_meter_stay_apart_and_add_up);
  tcase_add_test(tests, a_bill_is_met_in_each_civil_month_also_in_those_whose_clock_changes);
  tcase_add_test(tests, a_load_is_there_from_its_date_on);
  suite_add_tcase(suite, tests);
  return suite;
}
