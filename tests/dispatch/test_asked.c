/* What is asked of single steps, on sites small enough to know the answer by hand. Days: 1 January
 * 2027 is a Friday (ISO 8601 calendar), a year of a run has 365 days. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "dispatch/duration.h"
#include "dispatch/events.h"
#include "dispatch/profile.h"
#include "dispatch/reasons.h"
#include "dispatch/worst.h"
#include "suites.h"

/* A hub without losses, to be followed by more of it. */
#define HUB                                                 \
  "inverter = { unit = { ac_kw = 5, pass_through_kw = 20, " \
  "efficiency = { at_10 = 1, at_100 = 1 } } }"

static steading_weather *weather;
static const steading_site *site;
static steading_run *run;
static steading_error error;

static void start(const char *site_text, const char *options) {
  weather = build_dark_weather();
  site = build_site(weather, "%s", site_text);
  run = build_run(site, options);
  error = (steading_error){.status = STEADING_OK};
}

static void stop(void) {
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}

static steading_events events_of(const char *options) {
  steading_ask_events *ask = build(&steading_ask_events_spec, NULL, "%s", options);
  steading_events events;
  if (steading_run_events(run, ask, &events, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(ask);
  return events;
}

static size_t count_events(const char *options) {
  steading_events events = events_of(options);
  size_t count = events.count;
  steading_events_free(&events);
  return count;
}

static steading_worst worst_of(const char *options) {
  steading_ask_worst *ask = build(&steading_ask_worst_spec, NULL, "%s", options);
  steading_worst worst;
  if (steading_run_worst(run, ask, &worst, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(ask);
  return worst;
}

static steading_profile profile_of(const char *options) {
  steading_ask_profile *ask = build(&steading_ask_profile_spec, NULL, "%s", options);
  steading_profile profile;
  if (steading_run_profile(run, ask, &profile, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(ask);
  return profile;
}

static steading_duration duration_of(const char *options) {
  steading_ask_duration *ask = build(&steading_ask_duration_spec, NULL, "%s", options);
  steading_duration duration;
  if (steading_run_duration(run, ask, &duration, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(ask);
  return duration;
}

/* 2 kW from 10:00 to 12:00 every day, without sun or battery: all of it is imported. */
static const char *const two_hours_a_day =
    "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", " HUB
    " } }, "
    "buildings = { b = { hub = \"h\", loads = { { kind = \"timed\", kw = 2, "
    "window = \"10:00-12:00\" } } } } }";
static const char *const steps[] = {"{ start = \"2027-01\" }",
                                    "{ start = \"2027-01\", step_minutes = 30 }",
                                    "{ start = \"2027-01\", step_minutes = 10 }"};

START_TEST(spells_of_import) {
  steading_events events;
  size_t an_hour = _i == 0 ? 1 : _i == 1 ? 2 : 6;
  start(two_hours_a_day, steps[_i]);
  events = events_of("{ kind = \"import\" }");
  ck_assert_uint_eq(events.count, 365);
  for (size_t i = 0; i < events.count; i++) {
    const steading_event *event = &events.items[i];
    ck_assert_uint_eq(event->first, (24 * i + 10) * an_hour);
    ck_assert_uint_eq(event->last, (24 * i + 12) * an_hour - 1);
    ck_assert_uint_eq(event->steps, 2 * an_hour);
    ck_assert_int_eq(event->meter, -1);
    ck_assert_double_eq_tol(event->amount, 4, 1e-12);
    ck_assert_double_eq_tol(event->peak, 2, 1e-12);
    ck_assert(isnan(event->lowest_charge) && isnan(event->lowest_tank)); /* there are none */
  }
  steading_events_free(&events);
  /* 22 hours lie between two: one that is as long as join_hours does not join */
  ck_assert_uint_eq(count_events("{ kind = \"import\", join_hours = 22 }"), 365);
  events = events_of("{ kind = \"import\", join_hours = 22.1 }");
  ck_assert_uint_eq(events.count, 1);
  ck_assert_uint_eq(events.items[0].last + 1 - events.items[0].first, (364 * 24 + 2) * an_hour);
  ck_assert_uint_eq(events.items[0].steps, 730 * an_hour);
  ck_assert_double_eq_tol(events.items[0].amount, 1460, 1e-9);
  steading_events_free(&events);
  ck_assert_uint_eq(count_events("{ kind = \"import\", least_kwh = 3.9 }"), 365);
  ck_assert_uint_eq(count_events("{ kind = \"import\", least_kwh = 4.1 }"), 0);
  ck_assert_uint_eq(count_events("{ kind = \"import\", above_kw = 1.9 }"), 365);
  ck_assert_uint_eq(count_events("{ kind = \"import\", above_kw = 2 }"), 0);
  ck_assert_uint_eq(count_events("{ kind = \"unserved\" }"), 0);
  ck_assert_uint_eq(count_events("{ kind = \"outage\" }"), 0);
  ck_assert_uint_eq(count_events("{ kind = \"water_short\" }"), 0);
  stop();
}
END_TEST

/* Grid down from 10:00 to 11:00 on meter a and from 10:00 to 12:00 on meter b. On a 3 kW stand
 * straight on the meter; on b a hub with 1 kW and a battery at its floor of 9 of 10 kWh, of which
 * it may use all but 1 kWh in an outage: four outages leave it at 7, 5, 3 and 1 kWh, from the fifth
 * on 2 kWh a day are unserved. */
START_TEST(outages_of_two_meters) {
  steading_events events;
  start(
      "{ weather = @0, meters = { a = { outages = { windows = \"10:00-11:00\" } }, "
      "b = { outages = { windows = \"10:00-12:00\" } } }, "
      "hubs = { h = { meter = \"b\", " HUB
      ", battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "
      "round_trip_efficiency = 1 } }, rules = { battery_floor = 0.9, outage_floor = 0.1 } } }, "
      "buildings = { x = { meter = \"a\", loads = { { kind = \"steady\", watts = 3000 } } }, "
      "y = { hub = \"h\", loads = { { kind = \"steady\", watts = 1000 } } } } }",
      "{ start = \"2027-01\", initial = { state_of_charge = 0.9 } }");
  events = events_of("{ kind = \"outage\" }");
  ck_assert_uint_eq(events.count, 730);
  for (size_t i = 0; i < 365; i++) {
    const steading_event *a = &events.items[2 * i], *b = a + 1;
    ck_assert_uint_eq(a->first, 24 * i + 10);
    ck_assert_uint_eq(b->first, 24 * i + 10);
    ck_assert_int_eq(a->meter, 0);
    ck_assert_int_eq(b->meter, 1);
    ck_assert_uint_eq(a->steps, 1);
    ck_assert_uint_eq(b->steps, 2);
    ck_assert_uint_eq(b->last, b->first + 1);
    ck_assert_double_eq_tol(a->amount, 3, 1e-12);
    ck_assert(isnan(a->lowest_charge)); /* the battery stands on b */
    ck_assert_double_eq_tol(b->amount, i < 4 ? 0 : 2, 1e-9);
    ck_assert_double_eq_tol(b->lowest_charge, i < 4 ? 0.7 - 0.2 * (double)i : 0.1, 1e-9);
  }
  steading_events_free(&events);
  ck_assert_uint_eq(count_events("{ kind = \"outage\", least_kwh = 1 }"), 365 + 361);
  /* of the site: 3 kW in the first hour and, from the fifth day on, 1 kW in both */
  events = events_of("{ kind = \"unserved\" }");
  ck_assert_uint_eq(events.count, 365);
  ck_assert_double_eq_tol(events.items[0].amount, 3, 1e-12);
  ck_assert_double_eq_tol(events.items[0].lowest_charge, 0.8, 1e-12); /* of the whole site */
  ck_assert_double_eq_tol(events.items[4].amount, 5, 1e-9);
  ck_assert_double_eq_tol(events.items[4].peak, 4, 1e-9);
  ck_assert_uint_eq(events.items[4].steps, 2);
  steading_events_free(&events);
  stop();
}
END_TEST

/* 2400 l a day are wanted, 100 l an hour. The pump gives 1 l a minute for as long as its meter has
 * power, 60 l an hour: 40 l an hour are short once the tank is empty, 100 l from 00:00 to 02:00
 * when the grid is down. The tank holds 50 l at the start; the outage comes first. */
START_TEST(water_that_is_short) {
  steading_events events;
  start(
      "{ weather = @0, meters = { m = { outages = { windows = \"00:00-02:00\" } } }, "
      "water = { wells = { w = { meter = \"m\", lift_m = 50, flow_l_per_min = 1, "
      "efficiency = 0.5 } }, tanks = { t = { litres = 100, fed_by = \"w\", start_below = 0.98, "
      "stop_above = 0.99 } }, users = { u = { tank = \"t\", litres_per_day = 2400 } } } }",
      "{ start = \"2027-01\" }");
  events = events_of("{ kind = \"water_short\" }");
  ck_assert_uint_eq(events.count, 1);
  ck_assert_uint_eq(events.items[0].first, 0);
  ck_assert_uint_eq(events.items[0].steps, 8760);
  ck_assert_double_eq_tol(events.items[0].amount, 365.0 * (2 * 100 + 22 * 40) - 50, 1e-6);
  ck_assert_double_eq_tol(events.items[0].peak, 100, 1e-9);
  ck_assert_double_eq_tol(events.items[0].lowest_tank, 0, 1e-12);
  ck_assert(isnan(events.items[0].lowest_charge));
  steading_events_free(&events);
  ck_assert_uint_eq(count_events("{ kind = \"water_short\", least_l = 394149 }"), 1);
  ck_assert_uint_eq(count_events("{ kind = \"water_short\", least_l = 394151 }"), 0);
  stop();
}
END_TEST

/* 2 kW for two hours on Saturdays and Sundays: 2 January 2027 is the first Saturday. */
static const char *const weekends =
    "{ weather = @0, meters = { m = {} }, buildings = { b = { meter = \"m\", loads = { { "
    "kind = \"timed\", kw = 2, window = { hours = \"10:00-12:00\", days = \"Sat-Sun\" } } } } } }";

START_TEST(worst_days) {
  steading_worst worst;
  size_t a_day = _i == 0 ? 24 : _i == 1 ? 48 : 144;
  start(weekends, steps[_i]);
  worst = worst_of("{ days = 2, count = 3 }");
  ck_assert_uint_eq(worst.count, 3);
  for (size_t i = 0; i < 3; i++) {
    ck_assert_uint_eq(worst.windows[i].first, (7 * i + 1) * a_day);
    ck_assert_double_eq_tol(worst.windows[i].sum, 8, 1e-12);
    ck_assert_double_eq_tol(worst.windows[i].load_kwh, 8, 1e-12);
    ck_assert_double_eq_tol(worst.windows[i].grid_import_kwh, 8, 1e-12);
    ck_assert_double_eq(worst.windows[i].pv_available_kwh, 0);
  }
  steading_worst_free(&worst);
  /* Of 8 days, those from Saturday to Saturday and from Sunday to Sunday hold three days of load,
   * others two. The earliest begins on the 2nd, the next that does not touch it on Sunday the 10th,
   * the third, from the 18th on, on Saturday the 23rd. */
  worst = worst_of("{ days = 8, count = 3, column = \"load_kwh\" }");
  ck_assert_double_eq_tol(worst.windows[0].sum, 12, 1e-12);
  ck_assert_uint_eq(worst.windows[0].first, 1 * a_day);
  ck_assert_uint_eq(worst.windows[1].first, 9 * a_day);
  ck_assert_double_eq_tol(worst.windows[1].sum, 12, 1e-12);
  ck_assert_uint_eq(worst.windows[2].first, 22 * a_day);
  steading_worst_free(&worst);
  /* all the year is one window; 182 days are 26 weeks, which are all equal, and two fit */
  worst = worst_of("{ days = 365, count = 9 }");
  ck_assert_uint_eq(worst.count, 1);
  ck_assert_double_eq_tol(worst.windows[0].sum, 104 * 4, 1e-9);
  steading_worst_free(&worst);
  worst = worst_of("{ days = 182, count = 9 }");
  ck_assert_uint_eq(worst.count, 2);
  ck_assert_uint_eq(worst.windows[0].first, 0);
  ck_assert_uint_eq(worst.windows[1].first, 182 * a_day);
  ck_assert_double_eq_tol(worst.windows[1].sum, 26 * 8, 1e-9);
  steading_worst_free(&worst);
  stop();
}
END_TEST

START_TEST(a_window_longer_than_the_run) {
  steading_ask_worst *ask = build(&steading_ask_worst_spec, NULL, "{ days = 366 }");
  steading_worst worst;
  start(weekends, steps[0]);
  ck_assert_int_eq(steading_run_worst(run, ask, &worst, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, "worst.days");
  ck_assert_str_eq(error.text, "366 days is longer than the run of 365 days");
  ck_assert_uint_eq(worst.count, 0);
  steading_record_release(ask);
  stop();
}
END_TEST

/* By weekday and hour: 2 kWh on Saturday and Sunday at 10 and 11, else nothing. 365 days from a
 * Friday on have 53 Fridays and 52 of the others. */
START_TEST(means_by_weekday_and_hour) {
  steading_profile profile;
  start(weekends, steps[_i]);
  profile = profile_of("{ columns = { \"load_kwh\" }, by = { \"hour\", \"weekday\" } }");
  ck_assert_uint_eq(profile.group_count, 7 * 24);
  for (size_t g = 0; g < profile.group_count; g++) {
    int weekday = steading_profile_key(&profile, g, STEADING_PROFILE_WEEKDAY);
    int hour = steading_profile_key(&profile, g, STEADING_PROFILE_HOUR);
    ck_assert_int_eq(weekday, (int)g / 24 + 1);
    ck_assert_int_eq(hour, (int)g % 24);
    ck_assert_double_eq_tol((double)profile.steps[g] * profile.step_h, weekday == 5 ? 53 : 52,
                            1e-9);
    ck_assert_double_eq_tol(steading_profile_mean(&profile, g, 0),
                            weekday >= 6 && (hour == 10 || hour == 11) ? 2 : 0, 1e-12);
  }
  steading_profile_free(&profile);
  /* a mean is that of an hour, whatever it is taken over: 416 kWh in 8760 hours */
  profile = profile_of("{ columns = { \"load_kwh\" }, by = \"year\" }");
  ck_assert_uint_eq(profile.group_count, 1);
  ck_assert_int_eq(steading_profile_key(&profile, 0, STEADING_PROFILE_YEAR), 2027);
  ck_assert_double_eq_tol(steading_profile_mean(&profile, 0, 0), 416.0 / 8760, 1e-12);
  steading_profile_free(&profile);
  stop();
}
END_TEST

/* From July on, for two years: calendar years 2027 (184 days), 2028 and 2029 (181 days). */
START_TEST(years_and_months_are_those_of_the_calendar) {
  const double days[] = {184, 365, 181};
  steading_profile profile;
  start(weekends, "{ start = \"2027-07\", years = 2 }");
  profile = profile_of("{ columns = { \"load_kwh\", \"unserved_kwh\" }, by = \"year\" }");
  ck_assert_uint_eq(profile.group_count, 3);
  for (size_t g = 0; g < 3; g++) {
    ck_assert_int_eq(steading_profile_key(&profile, g, STEADING_PROFILE_YEAR), 2027 + (int)g);
    ck_assert_double_eq((double)profile.steps[g], days[g] * 24);
  }
  steading_profile_free(&profile);
  profile = profile_of("{ columns = { \"load_kwh\" }, by = { \"year\", \"month\" } }");
  for (size_t g = 0; g < profile.group_count; g++) {
    int year = steading_profile_key(&profile, g, STEADING_PROFILE_YEAR);
    int month = steading_profile_key(&profile, g, STEADING_PROFILE_MONTH);
    bool of_run = year == 2028 || (year == 2027 && month >= 7) || (year == 2029 && month <= 6);
    ck_assert_int_eq(profile.steps[g] > 0, of_run);
  }
  steading_profile_free(&profile);
  stop();
}
END_TEST

/* 2 kW in 730 of 8760 hours, a twelfth of the time; 0.5 kW in the others. */
START_TEST(duration_of_a_load) {
  steading_duration duration;
  start(
      "{ weather = @0, meters = { m = {} }, buildings = { b = { meter = \"m\", loads = { { "
      "kind = \"timed\", kw = 1.5, window = \"10:00-12:00\" }, { kind = \"steady\", watts = 500 } "
      "} } } }",
      steps[_i]);
  duration = duration_of("{ column = \"load_kw\", points = 13 }");
  ck_assert_uint_eq(duration.count, 13);
  ck_assert_double_eq_tol(duration.hours, 8760, 1e-9);
  for (size_t i = 0; i < 13; i++) /* reached for at least 0 and 1/12 of the time: 2 kW */
    ck_assert_double_eq_tol(duration.values[i], i <= 1 ? 2 : 0.5, 1e-12);
  steading_duration_free(&duration);
  duration = duration_of("{ points = 11 }"); /* 0, 0.1 ... */
  ck_assert_double_eq_tol(duration.values[0], 2, 1e-12);
  ck_assert_double_eq_tol(duration.values[1], 0.5, 1e-12);
  steading_duration_free(&duration);
  duration = duration_of("{ column = \"state_of_charge\" }"); /* without a battery */
  ck_assert_uint_eq(duration.count, 101);
  ck_assert_double_eq(duration.hours, 0);
  ck_assert(isnan(duration.values[0]) && isnan(duration.values[100]));
  steading_duration_free(&duration);
  stop();
}
END_TEST

/* A battery of 10 kWh arrives on 1 July with 0.3 of its charge and a floor above it: it keeps it.
 */
START_TEST(a_delivery_in_the_middle_of_a_run) {
  steading_profile profile;
  steading_duration duration;
  steading_worst worst;
  start("{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", " HUB
        ", battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "
        "round_trip_efficiency = 1 }, lots = { { count = 1, in_service = \"2027-07\" } } }, "
        "rules = { battery_floor = 0.5 } } }, buildings = { b = { hub = \"h\", "
        "loads = { { kind = \"steady\", watts = 100 } } } } }",
        "{ start = \"2027-01\" }");
  profile = profile_of(
      "{ columns = { \"state_of_charge\", \"battery_delivered_kwh\" }, by = \"month\" }");
  for (size_t g = 0; g < 12; g++) {
    double charge = steading_profile_mean(&profile, g, 0);
    if (g < 6) ck_assert(isnan(charge));
    if (g >= 6) ck_assert_double_eq_tol(charge, 0.3, 1e-12);
    ck_assert_double_eq_tol(steading_profile_mean(&profile, g, 1), g == 6 ? 3.0 / (31 * 24) : 0,
                            1e-12);
  }
  steading_profile_free(&profile);
  duration = duration_of("{ column = \"state_of_charge\", points = 2 }");
  ck_assert_double_eq_tol(duration.hours, 184 * 24, 1e-9);
  ck_assert_double_eq_tol(duration.values[0], 0.3, 1e-12);
  ck_assert_double_eq_tol(duration.values[1], 0.3, 1e-12);
  steading_duration_free(&duration);
  worst = worst_of("{ column = \"battery_delivered_kwh\", days = 1, count = 1 }");
  ck_assert_uint_eq(worst.windows[0].first, 181 * 24);
  ck_assert_double_eq_tol(worst.windows[0].sum, 3, 1e-12);
  steading_worst_free(&worst);
  stop();
}
END_TEST

static void check_row(const steading_reasons *reasons, size_t i, int hub, int meter,
                      steading_reason reason, double hours, double kwh) {
  const steading_reasons_row *row = &reasons->rows[i];
  ck_assert_uint_lt(i, reasons->count);
  ck_assert_int_eq(row->year, 2027);
  ck_assert_int_eq(row->hub, hub);
  ck_assert_int_eq(row->meter, meter);
  ck_assert_str_eq(steading_reason_names[row->reason], steading_reason_names[reason]);
  ck_assert_double_eq_tol(row->hours, hours, 1e-9);
  ck_assert_double_eq_tol(row->kwh, kwh, 1e-7);
}

/* Hub g without a battery and with 2 kW, hub h with a battery that reaches its floor after 5 of its
 * 10 kWh and 1 kW, 3 kW straight on the meter; the grid is down from 10:00 to 11:00. What h gives
 * in the first five hours from midnight on is all that is not imported or left unserved. At 10:00
 * h has its outage floor, 4 kWh: 1 kWh on the first day, nothing on later ones. */
START_TEST(reasons_of_two_hubs_and_a_meter) {
  steading_reasons reasons;
  double kwh = 0;
  start(
      "{ weather = @0, meters = { m = { outages = { windows = \"10:00-11:00\" } } }, "
      "hubs = { g = { meter = \"m\", " HUB " }, h = { meter = \"m\", " HUB
      ", battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "
      "round_trip_efficiency = 1 } }, rules = { battery_floor = 0.5, outage_floor = 0.4 } } }, "
      "buildings = { x = { hub = \"g\", loads = { { kind = \"steady\", watts = 2000 } } }, "
      "y = { hub = \"h\", loads = { { kind = \"steady\", watts = 1000 } } }, "
      "z = { meter = \"m\", loads = { { kind = \"steady\", watts = 3000 } } } } }",
      _i == 0 ? "{ start = \"2027-01\", initial = { state_of_charge = 1 } }"
              : "{ start = \"2027-01\", step_minutes = 30, initial = { state_of_charge = 1 } }");
  ck_assert_int_eq(steading_run_reasons(run, &reasons, &error), STEADING_OK);
  ck_assert_uint_eq(reasons.count, 5);
  check_row(&reasons, 0, 0, 0, STEADING_REASON_no_battery, 8760, 2 * 8760);
  check_row(&reasons, 1, 1, 0, STEADING_REASON_outage_floor, 364, 364);
  check_row(&reasons, 2, 1, 0, STEADING_REASON_battery_floor, 8760 - 365 - 5, 8760 - 365 - 5);
  check_row(&reasons, 3, -1, 0, STEADING_REASON_no_hub, 8760 - 365, 3 * (8760 - 365));
  check_row(&reasons, 4, -1, 0, STEADING_REASON_outage, 365, 3 * 365);
  for (size_t i = 0; i < reasons.count; i++) kwh += reasons.rows[i].kwh;
  ck_assert_double_eq_tol(kwh, build_total(run).sum.import * (_i == 0 ? 1 : 0.5) + 365 * 5 + 364,
                          1e-6);
  steading_reasons_free(&reasons);
  stop();
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  TCase *tcase = tcase_create(name);
  tcase_set_timeout(tcase, 60);
  tcase_add_loop_test(tcase, test, 0, rows);
  suite_add_tcase(suite, tcase);
}

Suite *asked_suite(void) {
  Suite *suite = suite_create("asked");
  add_rows(suite, "spells of import at three steps, joined, left out and bounded", spells_of_import,
           3);
  add_rows(suite, "outages are those of each meter", outages_of_two_meters, 1);
  add_rows(suite, "water that is short counts in litres", water_that_is_short, 1);
  add_rows(suite, "the worst days are whole, do not overlap, earliest of equal ones", worst_days,
           3);
  add_rows(suite, "a window longer than the run is refused", a_window_longer_than_the_run, 1);
  add_rows(suite, "means by weekday and hour, at three steps", means_by_weekday_and_hour, 3);
  add_rows(suite, "years and months of means are those of the calendar",
           years_and_months_are_those_of_the_calendar, 1);
  add_rows(suite, "the duration curve of a load, at three steps", duration_of_a_load, 3);
  add_rows(suite, "a delivery in the middle of a run", a_delivery_in_the_middle_of_a_run, 1);
  add_rows(suite, "reasons of two hubs and a meter, at two steps", reasons_of_two_hubs_and_a_meter,
           2);
  return suite;
}
