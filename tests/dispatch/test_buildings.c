/* Who used what: small sites whose steps are all alike, shared out by hand, and what must add up on
 * random ones. */
#include <check.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "dice.h"
#include "dispatch/buildings.h"
#include "dispatch/result.h"
#include "suites.h"

static steading_buildings *buildings_of(const steading_run *run) {
  steading_buildings *all = NULL;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_run_buildings(run, &all, &error) == STEADING_OK, "%s: %s", error.path,
                error.text);
  ck_assert_uint_eq(all->month_count, run->month_count);
  return all;
}

static const steading_building_month *row_of(const steading_buildings *all, size_t month,
                                             const char *name) {
  for (size_t i = 0; i < all->count; i++)
    if (strcmp(all->names[i], name) == 0) return &all->months[month * all->count + i];
  ck_abort_msg("no building '%s'", name);
}

/* A hand value per hour, over the 744 hours of January. */
static void check_january(const steading_buildings *all, const char *name, double load_kw,
                          double pv_kw, double battery_kw, double grid_kw, double unserved_kw) {
  const steading_building_month *m = row_of(all, 0, name);
  const double found[] = {m->load_kwh,      m->from_pv_kwh,  m->from_battery_kwh,
                          m->from_grid_kwh, m->unserved_kwh, m->peak_kw * 744};
  const double expected[] = {load_kw, pv_kw, battery_kw, grid_kw, unserved_kw, load_kw};
  for (size_t i = 0; i < 6; i++)
    if (!(fabs(found[i] - 744 * expected[i]) < 1e-9 * 744))
      ck_abort_msg("%s, value %zu: %.15g, expected %.15g", name, i, found[i], 744 * expected[i]);
}

/* Loses a fifth of what it inverts, whatever it carries, and has no idle draw. */
#define UNIT                                                                            \
  "inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.8, at_50 = 0.8, at_100 = " \
  "0.8 } } }"
#define ARRAY(watts)                                                                      \
  "arrays = { { tilt_deg = 0, azimuth_deg = 180, sky_model = \"isotropic\", incidence = " \
  "false, soiling = 0, mismatch_loss = 0, dc_wiring_loss = 0, module = { watts = " #watts \
  ", temp_coefficient_per_c = 0, degradation_per_year = 0 } } }"
#define STORE                                                                   \
  "battery = { module = { kwh = 10000, charge_kw = 0.25, discharge_kw = 0.25, " \
  "round_trip_efficiency = 1 } }"
#define STEADY(place, watts) "{ " place ", loads = { { kind = \"steady\", watts = " #watts " } } }"

static void check_site(steading_weather *weather, const char *text,
                       void (*check)(const steading_buildings *all)) {
  const steading_site *site = build_site(weather, "%s", text);
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  steading_buildings *all = buildings_of(run);
  check(all);
  steading_buildings_free(all);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}

/* The example of the manual. In every hour: hub `barn` has 0.5 kW of sun and 0.25 kW of battery, so
 * its inverter gives 0.8 * 0.75 = 0.6 kW, two thirds of it sun. Its buildings want 0.8 kW; 0.2 kW
 * come from the bus. Hub `roof` sends 0.8 * 0.25 = 0.2 kW of sun to the bus, where the shed takes
 * 0.3 kW: 0.3 kW are imported, so that the bus is two fifths sun. */
static void check_two_hubs(const steading_buildings *all) {
  ck_assert_uint_eq(all->count, 3);
  /* of the house's 0.6 kW three quarters are of the inverter: 0.3 sun, 0.15 battery; 0.15 of the
   * bus: 0.06 sun, 0.09 grid */
  check_january(all, "house", 0.6, 0.36, 0.15, 0.09, 0);
  check_january(all, "barn", 0.2, 0.12, 0.05, 0.03, 0);
  check_january(all, "shed", 0.3, 0.12, 0, 0.18, 0);
  ck_assert_double_eq_tol(all->site_peak_kw[0], 1.1, 1e-12);
  ck_assert_double_eq_tol(row_of(all, 11, "house")->coincident_kw, 0.6, 1e-12);
}

START_TEST(what_hubs_and_a_bus_give_is_shared_by_their_mix) {
  check_site(build_grey_weather(1),
             "{ weather = @0, meters = { m = {} }, hubs = { "
             "barn = { meter = \"m\", " UNIT ", " ARRAY(1000) ", " STORE " }, "
             "roof = { meter = \"m\", " UNIT ", " ARRAY(500) " } }, buildings = { "
             "house = " STEADY("hub = \"barn\"", 600) ", barn = " STEADY("hub = \"barn\"", 200)
             ", shed = " STEADY("meter = \"m\"", 300) " } }",
             check_two_hubs);
}
END_TEST

/* Export is no use of a building: 0.4 kW of sun on the bus, 0.3 kW used there, 0.1 kW exported. */
static void check_export(const steading_buildings *all) {
  check_january(all, "shed", 0.3, 0.3, 0, 0, 0);
}

START_TEST(what_leaves_is_nobodys) {
  check_site(build_grey_weather(1),
             "{ weather = @0, meters = { m = { export_limit_kw = 9 } }, hubs = { roof = { meter = "
             "\"m\", " UNIT
             ", " ARRAY(1000) " } }, buildings = { shed = " STEADY("meter = \"m\"", 300) " } }",
             check_export);
}
END_TEST

/* The import limit leaves 0.5 of 0.8 kW: 0.3 kW are short, three to one; the pump, whose tank
 * starts under its level, waits. */
static void check_short(const steading_buildings *all) {
  check_january(all, "house", 0.6, 0, 0, 0.375, 0.225);
  check_january(all, "barn", 0.2, 0, 0, 0.125, 0.075);
  check_january(all, "water.wells.deep", 0, 0, 0, 0, 0);
}

START_TEST(what_is_short_is_shared_after_the_pump_gave_way) {
  check_site(build_dark_weather(),
             "{ weather = @0, meters = { m = { import_limit_kw = 0.5 } }, buildings = { "
             "house = " STEADY("meter = \"m\"", 600) ", barn = " STEADY("meter = \"m\"", 200)
             " }, water = { wells = { deep = { meter = \"m\", lift_m = 60, flow_l_per_min = 20, "
             "efficiency = 0.4 } }, tanks = { hill = { litres = 1000, fed_by = \"deep\", "
             "start_below = 0.9, stop_above = 0.95 } } } }",
             check_short);
}
END_TEST

/* Two loads that meet for an hour: the site's peak is 3.5 kW at 07:00, first on the first day. */
static void check_peaks(const steading_buildings *all) {
  const steading_building_month *one = row_of(all, 1, "one"), *two = row_of(all, 1, "two");
  ck_assert_double_eq(one->peak_kw, 2);
  ck_assert_double_eq(two->peak_kw, 1.5);
  ck_assert_uint_eq(one->peak_step, 744 + 6);
  ck_assert_uint_eq(two->peak_step, 744 + 7);
  ck_assert_double_eq(all->site_peak_kw[1], 3.5);
  ck_assert_double_eq(one->coincident_kw, 2);
  ck_assert_double_eq(two->coincident_kw, 1.5);
  ck_assert_double_eq(row_of(all, 1, "later")->load_kwh, 0);
  ck_assert_uint_eq(row_of(all, 1, "later")->peak_step, 0);
  /* 1 kW from 15 March on: 17 of 31 days */
  ck_assert_double_eq_tol(row_of(all, 2, "later")->load_kwh, 17 * 24, 1e-9);
  ck_assert_uint_eq(row_of(all, 2, "later")->peak_step, (31 + 28 + 14) * 24);
  ck_assert_double_eq(all->site_peak_kw[2], 4.5);
}

START_TEST(peaks_are_the_first_of_the_highest) {
  check_site(build_dark_weather(),
             "{ weather = @0, meters = { m = {} }, buildings = { "
             "one = { meter = \"m\", loads = { { kind = \"timed\", kw = 2, window = "
             "\"06:00-08:00\" } } }, two = { meter = \"m\", loads = { { kind = \"timed\", kw = "
             "1.5, window = \"07:00-09:00\" } } }, later = { meter = \"m\", in_service = "
             "\"2027-03-15\", loads = { { kind = \"steady\", watts = 1000 } } } } }",
             check_peaks);
}
END_TEST

/* Two steps that are equally high: the first counts, on 1 January at 06:00. */
static void check_equal_peaks(const steading_buildings *all) {
  ck_assert_double_eq(all->site_peak_kw[0], 2);
  ck_assert_double_eq(row_of(all, 0, "late")->coincident_kw, 0);
  ck_assert_double_eq(row_of(all, 0, "soon")->coincident_kw, 2);
}

START_TEST(of_equal_peaks_the_first_counts) {
  check_site(build_dark_weather(),
             "{ weather = @0, meters = { m = {} }, buildings = { "
             "late = { meter = \"m\", loads = { { kind = \"timed\", kw = 2, window = "
             "\"20:00-21:00\" } } }, soon = { meter = \"m\", loads = { { kind = \"timed\", kw = 2, "
             "window = \"06:00-07:00\" } } } } }",
             check_equal_peaks);
}
END_TEST

/* A series begins in January and a run in April: its first hour is hour 90 * 24 of the series. In
 * hour i the series is i W, so that April has the sum of 2160..2879 Wh. */
START_TEST(a_series_is_that_of_the_same_month) {
  static double kw[8760];
  steading_weather *weather = build_dark_weather();
  const build_thing things[] = {{.weather = weather}, {.numbers = kw, .count = 8760}};
  const steading_site *site = NULL;
  steading_run *run = NULL;
  steading_buildings *all = NULL;
  for (int i = 0; i < 8760; i++) kw[i] = i / 1000.0;
  site =
      build(&steading_site_spec, things,
            "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = { { "
            "kind = \"series\", kw = @1, step_minutes = 60 } } } } }");
  run = build_run(site, "{ start = \"2027-04\" }");
  all = buildings_of(run);
  ck_assert_double_eq_tol(row_of(all, 0, "a")->load_kwh, (2160 + 2879) * 720 / 2.0 / 1000, 1e-8);
  ck_assert_uint_eq(row_of(all, 0, "a")->peak_step, 719);
  steading_buildings_free(all);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- what adds up --------------------------------------------------------------------------------
 */

enum { SITES = 150, MOST_TEXT = 6000 };

typedef struct text {
  char bytes[MOST_TEXT];
  size_t length;
} text;

static void add(text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(text *t, const char *format, ...) {
  va_list list;
  va_start(list, format);
  t->length += (size_t)vsnprintf(t->bytes + t->length, sizeof t->bytes - t->length, format, list);
  va_end(list);
  ck_assert_uint_lt(t->length, sizeof t->bytes);
}

static void add_place(text *t, dice *d, int hubs, int meters) {
  int at = (int)(roll(d) * (hubs + meters));
  if (at < hubs)
    add(t, "hub = \"h%d\"", at);
  else
    add(t, "meter = \"m%d\"", at - hubs);
}

/* Up to three hubs, one or two meters; hub 0 has idle draw only when `idle`. */
static void roll_site(dice *d, bool idle, text *t) {
  int hubs = (int)(4 * roll(d)), meters = 1 + (int)(2 * roll(d)), count = 1 + (int)(5 * roll(d));
  t->length = 0;
  add(t, "{ weather = @0, meters = { ");
  for (int m = 0; m < meters; m++) {
    add(t, "m%d = { export_limit_kw = %.3f", m, roll_size(d, 4));
    if (roll(d) < 0.4) add(t, ", import_limit_kw = %.3f", 4 * roll(d));
    if (roll(d) < 0.2) add(t, ", outages = { windows = \"13:00-16:00\" }");
    add(t, " }, ");
  }
  add(t, "}, hubs = { ");
  for (int i = 0; i < hubs; i++) {
    bool on_grid = roll(d) < 0.85, charges = roll(d) < 0.3;
    add(t, "h%d = { ", i);
    if (on_grid) add(t, "meter = \"m%d\", ", (int)(meters * roll(d)));
    add(t, "inverter = { ");
    if (on_grid && roll(d) < 0.3) add(t, "with_grid = \"transfers\", ");
    if (on_grid) add(t, "import_margin_w = %.1f, ", roll_size(d, 200));
    add(t, "unit = { ac_kw = %.3f, ", roll_between(d, 0.5, 6));
    if (roll(d) < 0.3) add(t, "pass_through_kw = %.3f, ", 4 * roll(d));
    if (on_grid && charges) add(t, "charge_from_grid_kw = 3, ");
    if (idle)
      add(t, "efficiency = { at_10 = %.4f, at_100 = 0.95 } } }, ", roll_between(d, 0.85, 0.94));
    else
      add(t, "efficiency = { at_10 = 0.9, at_50 = 0.9, at_100 = 0.9 } } }, ");
    add(t,
        "arrays = { { tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
        "temp_coefficient_per_c = -0.0035 }, lots = { { count = %d } } } }, ",
        (int)(20 * roll(d)));
    if (roll(d) < 0.7) {
      add(t,
          "battery = { module = { kwh = 4, charge_kw = 2, discharge_kw = %.3f, "
          "round_trip_efficiency = 0.9, standby_w = 5 }, ",
          roll_between(d, 0.2, 3));
      add(t, "lots = { { count = %d } } }, ", 1 + (int)(4 * roll(d)));
    }
    add(t, "rules = { battery_floor = 0.2 ");
    if (on_grid && charges)
      add(t, ", charge_from_grid = { window = \"01:00-05:00\", charge_to = 0.7 }");
    if (roll(d) < 0.5) add(t, ", shed = { sheddable = 0.8, ordinary = %.3f }", 0.6 * roll(d));
    if (on_grid) add(t, ", resume_above = 0.4 ");
    if (on_grid && roll(d) < 0.3)
      add(t, ", surplus_order = { \"battery\", \"export\", \"water\" }");
    add(t, "} }, ");
  }
  add(t, "}, buildings = { ");
  for (int b = 0; b < count; b++) {
    add(t, "b%d = { ", b);
    add_place(t, d, hubs, meters);
    if (roll(d) < 0.2) add(t, ", in_service = \"2028-02-10\"");
    add(t,
        ", loads = { { kind = \"daily\", kwh_per_day = %.3f, shape = \"dwelling\", "
        "growth_per_year = 0.03, monthly = { 2, 1, 1, 1, 0.5, 0, 0, 1, 1, 1, 1, 2 }, ",
        roll_size(d, 30));
    add(t, "class = \"%s\" }, ", roll(d) < 0.5 ? "sheddable" : "ordinary");
    add(t,
        "{ kind = \"timed\", kw = %.3f, window = { hours = \"05:00-08:30\", days = \"Mon-Fri\" } "
        "} } }, ",
        roll_size(d, 3));
  }
  add(t, "}, water = { wells = { ");
  for (int w = 0; w < 2; w++) {
    add(t, "w%d = { ", w);
    add_place(t, d, hubs, meters);
    add(t, ", lift_m = %.2f, flow_l_per_min = 30, efficiency = 0.4 }, ", roll_between(d, 10, 150));
  }
  add(t,
      "}, tanks = { a = { litres = 4000, fed_by = \"w0\" }, b = { litres = 900, fed_by = \"w1\" } "
      "}, users = { u = { tank = \"a\", litres_per_day = %.1f }, v = { tank = \"b\", "
      "litres_per_day = 800 } } } }",
      roll_size(d, 5000));
}

typedef struct sums {
  double load, unserved, shed, grid, pv, battery, coincident;
} sums;

static void near(const char *what, const char *site, double found, double expected, double size) {
  if (!(fabs(found - expected) <= 1e-9 * (1 + size)))
    ck_abort_msg("%s: %.15g, expected %.15g in %s", what, found, expected, site);
}

static bool share_a_bus(const steading_run *run) {
  const steading_map *hubs = run->site->hubs;
  for (size_t i = 0; hubs != NULL && i < hubs->count; i++)
    for (size_t k = 0; k < i; k++) {
      const steading_hub *a = (const void *)hubs->entries[i].item;
      const steading_hub *b = (const void *)hubs->entries[k].item;
      if (a->meter != NULL && b->meter != NULL && strcmp(a->meter, b->meter) == 0) return true;
    }
  return false;
}

/* The months of a run: rows against the columns of the site. */
static void check_adds_up(const steading_run *run, const steading_buildings *all, bool idle,
                          const char *site) {
  for (size_t k = 0; k < run->month_count; k++) {
    const build_month month = build_months(run, k, 1);
    const double h = run->step_minutes / 60.0, size = month.sum.hub_load + month.sum.meter_load;
    const double import = month.sum.import * h, idle_from_ac = month.sum.idle_from_ac * h;
    const double charged = month.sum.charger_in * h, aside = idle_from_ac + charged;
    sums s = {0};
    for (size_t i = 0; i < all->count; i++) {
      const steading_building_month *m = &all->months[k * all->count + i];
      near("the parts of a row", site,
           m->from_pv_kwh + m->from_battery_kwh + m->from_grid_kwh + m->unserved_kwh + m->shed_kwh,
           m->load_kwh, m->load_kwh);
      if (m->from_pv_kwh < 0 || m->from_battery_kwh < 0 || m->from_grid_kwh < 0 ||
          m->unserved_kwh < -1e-12 || m->coincident_kw > m->peak_kw)
        ck_abort_msg("below nothing in %s", site);
      s.load += m->load_kwh;
      s.unserved += m->unserved_kwh;
      s.shed += m->shed_kwh;
      s.grid += m->from_grid_kwh;
      s.pv += m->from_pv_kwh;
      s.battery += m->from_battery_kwh;
      s.coincident += m->coincident_kw;
    }
    near("load", site, s.load, size * h, size);
    near("unserved", site, s.unserved, (month.sum.hub_unserved + month.sum.meter_unserved) * h,
         size);
    near("shed", site, s.shed, month.sum.shed * h, size);
    near("coincident peak", site, s.coincident, month.peak_load_kw, month.peak_load_kw);
    ck_assert_double_eq(all->site_peak_kw[k], month.peak_load_kw);
    /* idle draw and charging from the bus are in no row; beside other hubs, part of it is their sun
     */
    if ((!idle && charged == 0) || !share_a_bus(run))
      near("import", site, s.grid, import - aside, size);
    if (s.grid > import + 1e-9 * (1 + size) || s.grid < import - aside - 1e-9 * (1 + size))
      ck_abort_msg("import %.15g, idle %.15g, used %.15g in %s", import, idle_from_ac, s.grid,
                   site);
    /* what was lost on the way is in nobody's row */
    if (s.battery > month.sum.battery_out * h + 1e-9 * (1 + size) ||
        s.pv > month.sum.pv_used * h + 1e-9 * (1 + size))
      ck_abort_msg("more than sun or battery gave in %s", site);
  }
}

START_TEST(rows_add_up_to_the_site_whatever_it_is) {
  static const char *const options[] = {"{ start = \"2027-01\", years = 2 }",
                                        "{ start = \"2027-10\", years = 1 }",
                                        "{ start = \"2027-04\", years = 1, step_minutes = 30 }"};
  steading_weather *weather = build_sunny_weather(1);
  dice d = {.seed = 71};
  double unserved = 0, battery = 0, shed = 0, charged = 0;
  size_t sharing = 0;
  for (int i = 0; i < SITES; i++) {
    bool idle = i % 2 == 0;
    text t;
    const steading_site *site = NULL;
    steading_run *run = NULL;
    steading_buildings *all = NULL;
    roll_site(&d, idle, &t);
    site = build_site(weather, "%s", t.bytes);
    run = build_run(site, options[i % 3]);
    all = buildings_of(run);
    check_adds_up(run, all, idle, t.bytes);
    for (size_t k = 0; k < all->month_count * all->count; k++) {
      unserved += all->months[k].unserved_kwh;
      shed += all->months[k].shed_kwh;
      battery += all->months[k].from_battery_kwh;
      sharing += all->months[k].from_pv_kwh > 0 && all->months[k].from_grid_kwh > 0;
    }
    charged += build_total(run).sum.charger_in;
    steading_buildings_free(all);
    steading_run_release(run);
    steading_record_release(site);
  }
  /* the dice made what the test is about */
  ck_assert_double_gt(unserved, 1000);
  ck_assert_double_gt(battery, 1000);
  ck_assert_double_gt(shed, 1000);
  ck_assert_double_gt(charged, 1000);
  ck_assert_uint_gt(sharing, 1000);
  steading_weather_release(weather);
}
END_TEST

Suite *buildings_suite(void) {
  Suite *suite = suite_create("buildings");
  TCase *by_hand = tcase_create("by hand"), *rolled = tcase_create("random sites");
  tcase_add_test(by_hand, what_hubs_and_a_bus_give_is_shared_by_their_mix);
  tcase_add_test(by_hand, what_leaves_is_nobodys);
  tcase_add_test(by_hand, what_is_short_is_shared_after_the_pump_gave_way);
  tcase_add_test(by_hand, peaks_are_the_first_of_the_highest);
  tcase_add_test(by_hand, of_equal_peaks_the_first_counts);
  tcase_add_test(by_hand, a_series_is_that_of_the_same_month);
  suite_add_tcase(suite, by_hand);
  tcase_set_timeout(rolled, 120);
  tcase_add_test(rolled, rows_add_up_to_the_site_whatever_it_is);
  suite_add_tcase(suite, rolled);
  return suite;
}
