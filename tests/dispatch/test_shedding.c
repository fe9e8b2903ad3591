/* Load shedding and classes of loads: steps and months worked out by hand after
 * reference/manual/dispatch.md. No published numbers exist for such rules. */
#include <check.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dispatch/classes.h"
#include "dispatch/events.h"
#include "dispatch/one_hub.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

/* A lossless hub off the grid with 10 kWh; sheddable loads go below 5 kWh and come back at 6,
 * ordinary ones at 2 and 3. */
static steading_stretch shedding(void) {
  steading_stretch p = one_hub_off_grid(10);
  p.hubs[0].shed_kwh[STEADING_CLASS_SHEDDABLE] = 5;
  p.hubs[0].restore_kwh[STEADING_CLASS_SHEDDABLE] = 6;
  p.hubs[0].shed_kwh[STEADING_CLASS_ORDINARY] = 2;
  p.hubs[0].restore_kwh[STEADING_CLASS_ORDINARY] = 3;
  return p;
}

/* 3 kW: 1 ordinary, 1.5 sheddable, 0.5 essential. */
static const steading_hub_flow *step(const steading_stretch *p, steading_state *s, double pv) {
  const double load = 3;
  double classes[STEADING_SHED_CLASSES] = {
      [STEADING_CLASS_ORDINARY] = 1, [STEADING_CLASS_SHEDDABLE] = 1.5};
  return one_hub_step(
      p, s, &(steading_step_rows){.stride = 1, .pv_kw = &pv, .hub_kw = &load, .shed_kw = classes});
}

START_TEST(loads_go_and_come_back_with_the_charge) {
  static const struct {
    double pv, shed, stored; /* sun of the step, kW; what is shed; the charge after it */
  } steps[] = {
      {0, 0, 3},       /* from 6 kWh: all is served */
      {0, 1.5, 1.5},   /* 3 < 5: the sheddable load is not */
      {0, 2.5, 1},     /* 1.5 < 2: nor the ordinary one */
      {5, 2.5, 5.5},   /* 1 < 3: the sun charges beside the essential load */
      {2.5, 1.5, 6.5}, /* 5.5: the ordinary load is back, the sheddable one waits for 6 */
      {0, 0, 3.5},     /* 6.5: all is */
  };
  steading_stretch p = shedding();
  steading_state s = {.stored_kwh = {6}};
  for (size_t k = 0; k < sizeof steps / sizeof steps[0]; k++) {
    const steading_hub_flow *f = step(&p, &s, steps[k].pv);
    IS(f->load, 3);
    IS(f->shed, steps[k].shed);
    IS(f->served, 3 - steps[k].shed);
    IS(f->unserved, 0);
    IS(s.stored_kwh[0], steps[k].stored);
    ck_assert(f->loss_of_load == 0 && f->grid_free == (steps[k].shed > 0 ? 0 : 1));
    ck_assert(steading_site_flow_of(one_hub_row)->grid_free == f->grid_free);
  }
  /* what was shed is forgotten where nothing can be: the grid is up */
  s.stored_kwh[0] = 1;
  step(&p, &s, 0);
  memset(p.hubs[0].shed_kwh, 0, sizeof p.hubs[0].shed_kwh);
  memset(p.hubs[0].restore_kwh, 0, sizeof p.hubs[0].restore_kwh);
  s.stored_kwh[0] = 4;
  IS(step(&p, &s, 0)->shed, 0);
  p = shedding();
  s.stored_kwh[0] = 5.5;
  IS(step(&p, &s, 0)->shed, 0);
}
END_TEST

/* All loads are of a class that is shed: nothing is left of them, to the bit. */
START_TEST(nothing_remains_of_a_load_that_is_shed_whole) {
  const double load = 0.1 + 0.2, pv = 0;
  const double classes[STEADING_SHED_CLASSES] = {
      [STEADING_CLASS_ORDINARY] = 0.1, [STEADING_CLASS_SHEDDABLE] = 0.2 - 1e-17};
  steading_stretch p = shedding();
  steading_state s = {.stored_kwh = {1}};
  const steading_hub_flow *f = NULL;
  f = one_hub_step(
      &p, &s,
      &(steading_step_rows){.stride = 1, .pv_kw = &pv, .hub_kw = &load, .shed_kw = classes});
  ck_assert(f->served == 0 && f->inverted == 0 && f->shed == load && f->load == load);
}
END_TEST

/* --- runs ----------------------------------------------------------------------------------------
 */

/* Loads of 0.3 kW essential, 0.4 ordinary, 0.2 deferrable and 0.6 sheddable. */
#define FOUR_CLASSES                                                      \
  "loads = { { kind = \"steady\", watts = 300, class = \"essential\" }, " \
  "{ kind = \"steady\", watts = 400 }, "                                  \
  "{ kind = \"steady\", watts = 200, class = \"deferrable\" }, "          \
  "{ kind = \"steady\", watts = 600, class = \"sheddable\" } }"

/* Grey light around the clock, and an inverter of 0.5 kW without losses: 1 kW is unserved in every
 * hour, 0.6 of it sheddable, 0.2 deferrable, 0.2 ordinary. */
START_TEST(what_is_unserved_falls_on_the_classes_in_their_order) {
  static const double unserved_kw[STEADING_CLASSES] = {[STEADING_CLASS_ORDINARY] = 0.2,
                                                       [STEADING_CLASS_DEFERRABLE] = 0.2,
                                                       [STEADING_CLASS_SHEDDABLE] = 0.6,
                                                       [STEADING_CLASS_ESSENTIAL] = 0};
  static const double load_kw[STEADING_CLASSES] = {[STEADING_CLASS_ORDINARY] = 0.4,
                                                   [STEADING_CLASS_DEFERRABLE] = 0.2,
                                                   [STEADING_CLASS_SHEDDABLE] = 0.6,
                                                   [STEADING_CLASS_ESSENTIAL] = 0.3};
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { import_limit_kw = 0.1 } }, hubs = { h = { inverter = { "
      "unit = { ac_kw = 0.5, losses = { idle_w = 0 } } }, arrays = { { tilt_deg = 0, azimuth_deg = "
      "180, module = { watts = 400, temp_coefficient_per_c = 0 }, lots = { { count = 20 } } } } } "
      "}, buildings = { a = { hub = \"h\", " FOUR_CLASSES
      " }, b = { meter = \"m\", loads = { { "
      "kind = \"steady\", watts = 300, class = \"deferrable\" } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  steading_class_months *all = NULL;
  ck_assert_int_eq(steading_run_classes(run, &all, NULL), STEADING_OK);
  ck_assert_uint_eq(all->sides, 2);
  for (int c = 0; c < STEADING_CLASSES; c++) {
    const steading_class_month *hub = &all->months[c];
    const steading_class_month *meter = &all->months[STEADING_CLASSES + c];
    ck_assert(all->there[c]);
    ck_assert(all->there[STEADING_CLASSES + c] == (c == STEADING_CLASS_DEFERRABLE));
    ck_assert_double_eq_tol(hub->load_kwh, 744 * load_kw[c], 1e-9);
    ck_assert_double_eq_tol(hub->unserved_kwh, 744 * unserved_kw[c], 1e-9);
    ck_assert_double_eq_tol(hub->served_kwh, 744 * (load_kw[c] - unserved_kw[c]), 1e-9);
    ck_assert_double_eq(hub->shed_kwh, 0);
    ck_assert_double_eq_tol(meter->unserved_kwh, c == STEADING_CLASS_DEFERRABLE ? 744 * 0.2 : 0,
                            1e-9);
  }
  steading_class_months_free(all);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

static const char *const in_outages =
    "{ weather = @0, meters = { m = { %s } }, hubs = { h = { meter = \"m\", inverter = { unit = { "
    "ac_kw = 5, losses = { idle_w = 0 }, charge_from_grid_kw = 5, charge_efficiency = 1 } }, "
    "battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 } "
    "}, rules = { battery_floor = 0.1, charge_from_grid = { window = \"00:00-06:00\", charge_to = "
    "1 }, battery_use = \"outages\", %s } } }, buildings = { b = { hub = \"h\", " FOUR_CLASSES
    " } } }";

/* An outage of 8 h a day from a full battery, 1.5 kW of loads. Before each hour the charge is 10,
 * 8.5, 7 kWh; below 0.6 the sheddable load goes (1.5 at 5.5 kWh: 0.9 from then on), so 5.5, 4.6,
 * 3.7, 2.8, 1.9; below 0.3 the ordinary one, too: at 2.8 and 1.9, with 0.5 left. Charge before the
 * hours: 10, 8.5, 7, 5.5, 4.6, 3.7, 2.8, 2.3 and 1.8 at the end. The sheddable load is shed for
 * 5 h, the ordinary one for 2. */
START_TEST(an_outage_by_the_hour) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      build_site(weather, in_outages, "outages = { windows = \"12:00-20:00\" }",
                 "shed = { sheddable = 0.6, ordinary = 0.3 }");
  steading_run *run = build_run(
      site, "{ start = \"2027-01\", keep = \"steps\", initial = { state_of_charge = 1 } }");
  static const double before[9] = {10, 8.5, 7, 5.5, 4.6, 3.7, 2.8, 2.3, 1.8};
  steading_class_months *all = NULL;
  for (size_t k = 0; k < HOURS; k++) {
    const steading_hub_flow *f =
        steading_hub_flow_of(&run->layout, run->steps + k * run->layout.width, 0);
    bool down = k % 24 >= 12 && k % 24 < 20;
    size_t hour = k % 24 - 12;
    double shed = !down ? 0 : (hour >= 3 ? 0.6 : 0) + (hour >= 6 ? 0.4 : 0);
    ck_assert_double_eq_tol(f->shed, shed, 1e-9);
    ck_assert_double_eq_tol(f->unserved, 0, 1e-9);
    if (down) ck_assert_double_eq_tol(f->stored_kwh, before[hour + 1], 1e-9);
  }
  ck_assert_int_eq(steading_run_classes(run, &all, NULL), STEADING_OK);
  ck_assert_double_eq_tol(all->months[STEADING_CLASS_SHEDDABLE].shed_kwh, 31 * 5 * 0.6, 1e-9);
  ck_assert_double_eq_tol(all->months[STEADING_CLASS_ORDINARY].shed_kwh, 31 * 2 * 0.4, 1e-9);
  ck_assert_double_eq(all->months[STEADING_CLASS_ESSENTIAL].shed_kwh, 0);
  ck_assert_double_eq(all->months[STEADING_CLASS_DEFERRABLE].shed_kwh, 0);
  steading_class_months_free(all);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* The same outage for three hours more, down to the floor of 1 kWh: 1.8, 1.3 and 1.0 kWh before
 * them, so that 0.2 and 0.5 kWh are unserved in the last two. By then the sheddable load is shed
 * for 8 h and the ordinary one for 5: 6.8 kWh, of them 2 in the two hours. Another meter without
 * hubs is down at the same time. */
START_TEST(an_outage_tells_what_was_shed) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site =
      build_site(weather, in_outages,
                 "outages = { windows = \"12:00-23:00\" } }, n = { outages = { windows = "
                 "\"12:00-23:00\" }",
                 "shed = { sheddable = 0.6, ordinary = 0.3 }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", initial = { state_of_charge = 1 } }");
  static const struct {
    const char *ask;
    size_t count, first, steps;
    double kwh, shed_kwh;
  } cases[] = {{"{ kind = \"outage\" }", 730, 12, 11, 0.7, 6.8},
               {"{ kind = \"unserved\" }", 365, 21, 2, 0.7, 2}};
  for (size_t c = 0; c < 2; c++) {
    steading_ask_events *ask = build(&steading_ask_events_spec, NULL, "%s", cases[c].ask);
    steading_events events;
    ck_assert_int_eq(steading_run_events(run, ask, &events, NULL), STEADING_OK);
    ck_assert_uint_eq(events.count, cases[c].count);
    for (size_t i = 0; i < events.count; i++) {
      const steading_event *event = &events.items[i];
      bool ours = event->meter <= 0; /* of the hub's meter, or of the site */
      size_t day = i / (cases[c].count / 365);
      ck_assert_uint_eq(event->first, 24 * day + cases[c].first);
      ck_assert_uint_eq(event->steps, cases[c].steps);
      ck_assert_double_eq_tol(event->amount, ours ? cases[c].kwh : 0, 1e-9);
      ck_assert_double_eq_tol(event->shed_kwh, ours ? cases[c].shed_kwh : 0, 1e-9);
    }
    steading_events_free(&events);
    steading_record_release(ask);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* A rule for outages on a grid that never falls, and classes without a rule: the same bits. */
START_TEST(without_outages_shedding_changes_nothing_to_the_bit) {
  steading_weather *weather = build_dark_weather();
  const steading_site *plain = build_site(weather, in_outages, "", "");
  const steading_site *ruled =
      build_site(weather, in_outages, "", "shed = { sheddable = 0.9, ordinary = 0.9 }");
  steading_run *a = build_run(plain, "{ start = \"2027-01\" }");
  steading_run *b = build_run(ruled, "{ start = \"2027-01\" }");
  ck_assert_mem_eq(a->sums, b->sums, a->month_count * a->layout.width * sizeof *a->sums);
  steading_run_release(a);
  steading_run_release(b);
  steading_record_release(plain);
  steading_record_release(ruled);
  steading_weather_release(weather);
}
END_TEST

Suite *shedding_suite(void) {
  Suite *suite = suite_create("shedding");
  TCase *all = tcase_create("all");
  tcase_add_test(all, loads_go_and_come_back_with_the_charge);
  tcase_add_test(all, nothing_remains_of_a_load_that_is_shed_whole);
  tcase_add_test(all, what_is_unserved_falls_on_the_classes_in_their_order);
  tcase_add_test(all, an_outage_by_the_hour);
  tcase_add_test(all, an_outage_tells_what_was_shed);
  tcase_add_test(all, without_outages_shedding_changes_nothing_to_the_bit);
  suite_add_tcase(suite, all);
  return suite;
}
