/* What must hold for any site, over random ones. */
#include <check.h>
#include <malloc.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "ledger/appraise.h"
#include "ledger/tariff.h"
#include "suites.h"

enum { SITES = 1000, PLACES = 4 };

static steading_weather *weathers[PLACES];

/* Twelve means with a summer and a winter at four latitudes. */
static void make_weathers(void) {
  static const double latitudes[PLACES] = {48, 35, -24, -34};
  mallopt(M_MMAP_THRESHOLD, 1 << 26); /* thousands of runs: keep their memory between them */
  mallopt(M_TRIM_THRESHOLD, 1 << 28);
  for (int i = 0; i < PLACES; i++) weathers[i] = build_weather_at(latitudes[i], 9);
}

static void drop_weathers(void) {
  for (int i = 0; i < PLACES; i++) steading_weather_release(weathers[i]);
}

/* The parts of a random site, each a piece of the site's text; tests exchange one of them. */
typedef struct parts {
  steading_weather *weather;
  char meter[300], unit[300], unit_lots[120], array[2][300], array_lots[2][120], battery[400],
      battery_lots[120], rules[80], buildings[500], water[500];
  double units, modules, panels[2]; /* counts */
} parts;

static const char *one_of(dice *d, const char *a, const char *b) { return roll(d) < 0.5 ? a : b; }

static void lots(char text[120], double count) {
  snprintf(text, 120, "lots = { { count = %.17g } }", count);
}

/* A text, and one after it: each with one number that was rolled, so that all are rolled in the
 * order of the text. */
static void add(char *text, size_t room, const char *format, ...) {
  size_t used = strlen(text);
  va_list list;
  va_start(list, format);
  ck_assert_int_lt(vsnprintf(text + used, room - used, format, list), (int)(room - used));
  va_end(list);
}

#define ADD(text, ...) add(text, sizeof text, __VA_ARGS__)

static void roll_meter(dice *d, char meter[300]) {
  meter[0] = '\0';
  if (roll(d) < 0.3) add(meter, 300, "import_limit_kw = %.3f, ", 6 * roll(d));
  add(meter, 300, "export_limit_kw = %.3f, ", roll_size(d, 10));
  add(meter, 300, "tariff = { fixed_per_month = %.2f, ", 30 * roll(d));
  add(meter, 300, "fixed_per_day = %.2f, ", roll_size(d, 1));
  add(meter, 300, "energy = { { price_per_kwh = %.4f } } }", roll_between(d, 0.05, 0.6));
}

static void roll_unit(dice *d, char unit[300]) {
  unit[0] = '\0';
  if (roll(d) < 0.3) {
    add(unit, 300, "pass_through_kw = %.3f, ", 8 * roll(d));
    add(unit, 300, "battery_kw = %.3f, ", 6 * roll(d));
    add(unit, 300, "pv_kw = %.3f, ", 8 * roll(d));
  }
  add(unit, 300, "ac_kw = %.3f, ", roll_between(d, 0.5, 8));
  add(unit, 300, "efficiency = { at_10 = %.5f, ", roll_between(d, 0.85, 0.95));
  add(unit, 300, "at_100 = %.5f }", roll_between(d, 0.9, 0.97));
}

/* The beginning of the loads of a building on the hub. */
static void add_daily(dice *d, char *text, size_t room) {
  add(text, room,
      "a = { hub = \"h\", loads = { { kind = \"daily\", kwh_per_day = %.3f, "
      "shape = \"dwelling\" }, ",
      roll_size(d, 60));
}

static parts roll_parts(dice *d) {
  parts p = {.weather = weathers[(int)(PLACES * roll(d))]};
  roll_meter(d, p.meter);
  roll_unit(d, p.unit);
  p.units = 1 + floor(3 * roll(d));
  p.modules = 1 + floor(8 * roll(d));
  for (int i = 0; i < 2; i++) {
    p.panels[i] = 1 + floor(20 * roll(d));
    ADD(p.array[i], "tilt_deg = %g, ", 15 * floor(4 * roll(d)));
    ADD(p.array[i], "azimuth_deg = %g, module = { watts = 400, temp_coefficient_per_c = -0.0035 }",
        45 * floor(8 * roll(d)));
    lots(p.array_lots[i], p.panels[i]);
  }
  lots(p.unit_lots, p.units);
  lots(p.battery_lots, p.modules);
  ADD(p.battery, "module = { kwh = %.3f, ", roll_between(d, 1, 6));
  ADD(p.battery, "usable = { %.3f, ", 0.1 * roll(d));
  ADD(p.battery, "%.3f }, ", roll_between(d, 0.85, 1));
  ADD(p.battery, "charge_kw = %.3f, ", 4 * roll(d));
  ADD(p.battery, "discharge_kw = %.3f, ", 4 * roll(d));
  ADD(p.battery, "round_trip_efficiency = %.4f, ", roll_between(d, 0.75, 1));
  ADD(p.battery, "standby_w = %.2f }", roll_size(d, 20));
  snprintf(p.rules, sizeof p.rules, "battery_floor = %.3f", 0.3 * roll(d));
  add_daily(d, p.buildings, sizeof p.buildings);
  ADD(p.buildings, "{ kind = \"timed\", kw = %.3f, ", roll_size(d, 3));
  ADD(p.buildings, "window = \"%s\" } } }, ", one_of(d, "06:00-08:30", "21:00-05:00"));
  ADD(p.buildings, "b = { meter = \"m\", loads = { { kind = \"steady\", watts = %.2f } } }",
      roll_size(d, 800));
  ADD(p.water, "wells = { w = { %s, ", one_of(d, "hub = \"h\"", "meter = \"m\""));
  ADD(p.water, "lift_m = %.2f, ", roll_between(d, 5, 200));
  ADD(p.water, "flow_l_per_min = %.2f, efficiency = 0.4 } }, ", roll_between(d, 5, 60));
  ADD(p.water, "tanks = { t = { litres = %.1f, fed_by = \"w\", ", roll_between(d, 200, 20000));
  ADD(p.water, "surplus_to = %s } }, ", one_of(d, "1", "0"));
  ADD(p.water, "users = { u = { tank = \"t\", litres_per_day = %.2f } }", roll_size(d, 5000));
  return p;
}

static const steading_site *site_of(const parts *p) {
  char arrays[1000] = "";
  for (int i = 0; i < 2; i++) {
    if (p->array[i][0] == '\0') continue;
    strcat(strcat(arrays, "{ "), p->array[i]);
    strcat(strcat(strcat(arrays, ", "), p->array_lots[i]), " }, ");
  }
  return build_site(
      p->weather,
      "{ weather = @0, meters = { m = { %s } }, hubs = { h = { meter = \"m\", "
      "inverter = { unit = { %s }, %s }, arrays = { %s }, %s%s%s%s%s "
      "rules = { %s } } }, buildings = { %s } %s%s%s }",
      p->meter, p->unit, p->unit_lots, arrays, p->battery[0] != '\0' ? "battery = { " : "",
      p->battery, p->battery[0] != '\0' ? ", " : "", p->battery[0] != '\0' ? p->battery_lots : "",
      p->battery[0] != '\0' ? " }, " : "", p->rules, p->buildings,
      p->water[0] != '\0' ? ", water = { " : "", p->water, p->water[0] != '\0' ? " }" : "");
}

static steading_run *run_of(const parts *p) {
  const steading_site *site = site_of(p);
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  steading_record_release(site);
  return run;
}

/* Whether every month has the same bits, but for what the tank holds when `without_tank`. */
static bool same_months(const parts *a, const parts *b, bool without_tank) {
  steading_run *x = run_of(a), *y = run_of(b);
  bool same = true;
  for (size_t m = 0; m < 12; m++) {
    build_month s = build_months(x, m, 1), t = build_months(y, m, 1);
    if (without_tank) {
      s.sum.tank_level_l = t.sum.tank_level_l = 0;
      s.lowest_tank = t.lowest_tank = 0;
    }
    same = same && memcmp(&s, &t, sizeof s) == 0;
  }
  steading_run_release(x);
  steading_run_release(y);
  return same;
}

/* --- energy ----------------------------------------------------------------------------------- */

START_TEST(every_node_closes_over_every_month) {
  make_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = i};
    parts p = roll_parts(&d);
    steading_run *run = run_of(&p);
    double worst = 0;
    for (size_t m = 0; m < 12; m++) {
      const build_flow sum = build_months(run, m, 1).sum, *f = &sum;
      double size = f->pv_used + f->import + f->battery_out + f->hub_load + f->meter_load + 1;
      double site = f->pv_used + f->import - f->hub_served - f->meter_served - f->export -
                    f->inverter_loss - f->battery_loss - f->standby - f->stored_change;
      double dc = f->pv_used + f->battery_out - f->battery_in - f->inverted_in;
      double ac = f->inverted + f->from_bus - f->hub_served - f->to_bus - f->idle_from_ac;
      double bus = f->import + f->to_bus - f->export - f->from_bus - f->meter_served;
      double unit = f->inverted_in + f->idle_from_ac - f->inverted - f->inverter_loss;
      worst = fmax(
          worst,
          fmax(fmax(fabs(site), fabs(dc)), fmax(fmax(fabs(ac), fabs(bus)), fabs(unit))) / size);
    }
    ck_assert_double_lt(worst, 1e-9);
    steading_run_release(run);
  }
  drop_weathers();
}
END_TEST

START_TEST(a_component_of_size_zero_equals_its_absence_to_the_bit) {
  make_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 10000 + i};
    parts with = roll_parts(&d), without = with;
    switch (i % 4) {
      case 0: /* battery modules */
        lots(with.battery_lots, 0);
        without.battery[0] = '\0';
        break;
      case 1: /* panels */
        lots(with.array_lots[1], 0);
        without.array[1][0] = '\0';
        break;
      case 2: /* a pump and what it feeds: the tank keeps what it holds */
        snprintf(with.water, sizeof with.water,
                 "wells = { w = { hub = \"h\", lift_m = 50, flow_l_per_min = 20, efficiency = 0.4, "
                 "lots = { { count = 0 } } } }, tanks = { t = { litres = 900, fed_by = \"w\" } }");
        without.water[0] = '\0';
        break;
      case 3: /* a tank that nobody draws from */
        snprintf(with.water, sizeof with.water,
                 "wells = { w = { hub = \"h\", lift_m = 50, flow_l_per_min = 20, "
                 "efficiency = 0.4 } }, "
                 "tanks = { t = { litres = 900, fed_by = \"w\", lots = { { count = 0 } } } }");
        without.water[0] = '\0';
        break;
    }
    ck_assert_msg(same_months(&with, &without, i % 4 == 2), "site %d", (int)i);
  }
  drop_weathers();
}
END_TEST

static void two_lots(char text[120], double first, double second) {
  snprintf(text, 120, "lots = { { count = %.17g }, { count = %.17g, in_service = \"2027-01\" } }",
           first, second);
}

START_TEST(lots_of_units_and_battery_modules_bought_at_the_start_equal_one_bigger_lot) {
  make_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 20000 + i};
    parts whole = roll_parts(&d), split = whole;
    double half = floor(whole.modules / 2);
    two_lots(split.unit_lots, 1, whole.units - 1);
    two_lots(split.battery_lots, half, whole.modules - half);
    ck_assert_msg(same_months(&whole, &split, false), "site %d", (int)i);
  }
  drop_weathers();
}
END_TEST

START_TEST(lots_of_panels_bought_at_the_start_equal_one_bigger_lot) {
  make_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 30000 + i};
    parts whole = roll_parts(&d), split = whole;
    double first = floor(whole.panels[0] / 3);
    two_lots(split.array_lots[0], first, whole.panels[0] - first);
    ck_assert_msg(same_months(&whole, &split, false), "site %d: %g + %g panels", (int)i, first,
                  whole.panels[0] - first);
  }
  drop_weathers();
}
END_TEST

/* The class in which more never hurts: one pool whose power does not bind and whose losses depend
 * on power alone, sun-only charging, no standby, no water, no loads behind the hub's surplus, and
 * no limit at which the unit would switch itself off. */
static parts roll_plain(dice *d, bool on_grid) {
  parts p = roll_parts(d);
  double idle = on_grid ? roll_size(d, 60) : 0;
  snprintf(p.meter, sizeof p.meter, "export_limit_kw = %.3f", roll_size(d, 10));
  /* with two efficiencies: an idle draw, or none when the losses are those of a pure c P^2 */
  if (on_grid)
    snprintf(p.unit, sizeof p.unit,
             "ac_kw = %.3f, idle_w = %.3f, efficiency = { at_10 = 0.9, at_100 = 0.93 }",
             roll_between(d, 3, 15), idle);
  else
    snprintf(p.unit, sizeof p.unit,
             "ac_kw = %.3f, idle_w = 0, efficiency = { at_10 = 0.95, at_100 = 0.92 }",
             roll_between(d, 3, 15));
  p.battery[0] = p.buildings[0] = '\0';
  ADD(p.battery, "module = { kwh = %.3f, charge_kw = 1000, discharge_kw = 1000, ",
      roll_between(d, 1, 6));
  ADD(p.battery, "round_trip_efficiency = %.4f }", roll_between(d, 0.7, 1));
  add_daily(d, p.buildings, sizeof p.buildings);
  ADD(p.buildings, "{ kind = \"timed\", kw = %.3f, window = \"06:00-08:30\" } } }",
      roll_size(d, 3));
  p.water[0] = '\0';
  return p;
}

/* Off the grid: the same site without its meter. */
static double bought_or_missed_kwh(const parts *p, bool on_grid) {
  steading_run *run = NULL;
  build_month total;
  if (on_grid) {
    run = run_of(p);
  } else {
    const steading_site *site = build_site(
        p->weather,
        "{ weather = @0, hubs = { h = { inverter = { unit = { %s } }, arrays = { { %s, %s } }, "
        "battery = { %s, %s }, rules = { %s } } }, buildings = { %s } }",
        p->unit, p->array[0], p->array_lots[0], p->battery, p->battery_lots, p->rules,
        p->buildings);
    run = build_run(site, "{ start = \"2027-01\" }");
    steading_record_release(site);
  }
  total = build_total(run);
  steading_run_release(run);
  return total.sum.import + total.sum.hub_unserved + total.sum.meter_unserved;
}

START_TEST(on_a_plain_site_more_battery_or_sun_never_costs_grid_or_unserved_energy) {
  double gained = 0;
  make_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 40000 + i};
    bool on_grid = i % 3 != 0;
    parts p = roll_plain(&d, on_grid), more_battery = p, more_sun = p;
    double before = bought_or_missed_kwh(&p, on_grid), battery = 0, sun = 0;
    lots(more_battery.battery_lots, p.modules + 1 + floor(3 * roll(&d)));
    lots(more_sun.array_lots[0], p.panels[0] + 1 + floor(5 * roll(&d)));
    battery = bought_or_missed_kwh(&more_battery, on_grid);
    sun = bought_or_missed_kwh(&more_sun, on_grid);
    ck_assert_msg(battery <= before + 1e-7, "site %d: battery %.9g > %.9g", (int)i, battery,
                  before);
    ck_assert_msg(sun <= before + 1e-7, "site %d: sun %.9g > %.9g", (int)i, sun, before);
    gained += before - battery + before - sun;
  }
  ck_assert_double_gt(gained, 1000); /* and on the whole it helps */
  drop_weathers();
}
END_TEST

/* Off the grid, with a generator that serves what would be left unserved, and no truck: while there
 * is fuel the runs are the same, and from then on the one with more has more in the battery. */
START_TEST(on_a_plain_site_more_fuel_never_leaves_more_unserved) {
  double gained = 0;
  int dry = 0;
  make_weathers();
  for (uint64_t i = 0; i < SITES / 4; i++) {
    dice d = {.seed = 45000 + i};
    parts p = roll_plain(&d, false);
    double kw = roll_between(&d, 0.5, 5), no_load = roll(&d), slope = roll_between(&d, 0.3, 0.6);
    double litres = 400 * roll(&d), before = HUGE_VAL, first = 0;
    for (int k = 0; k < 3; k++, litres = 1.7 * litres + 20) {
      const steading_site *site = build_site(
          p.weather,
          "{ weather = @0, hubs = { h = { inverter = { unit = { %s } }, arrays = { { %s, %s } }, "
          "battery = { %s, %s }, rules = { %s }, generator = { unit = { kw = %.3f, "
          "fuel = \"diesel\", no_load_l_per_h = %.3f, l_per_kwh = %.3f }, role = \"carries\" } } "
          "}, "
          "fuels = { diesel = { tank = { litres = 5000, litres_at_start = %.3f } } }, "
          "buildings = { %s } }",
          p.unit, p.array[0], p.array_lots[0], p.battery, p.battery_lots, p.rules, kw, no_load,
          slope, litres, p.buildings);
      steading_run *run = build_run(site, "{ start = \"2027-01\" }");
      double unserved = build_total(run).sum.hub_unserved;
      ck_assert_msg(unserved <= before + 1e-7, "site %d: %.9g > %.9g with %.3f l", (int)i, unserved,
                    before, litres);
      if (k == 0) first = unserved;
      if (k == 2) gained += first - unserved;
      dry += run->fuel_months[11].end_l < 1e-6;
      before = unserved;
      steading_run_release(run);
      steading_record_release(site);
    }
  }
  ck_assert_double_gt(gained, 1000); /* and on the whole it helps */
  ck_assert_int_gt(dry, 50);
  drop_weathers();
}
END_TEST

/* --- money ------------------------------------------------------------------------------------ */

static steading_verdict judge(const steading_run *plan, const steading_run *against,
                              const char *money_text) {
  steading_money *money = build(&steading_money_spec, NULL, "%s", money_text);
  steading_verdict verdict;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_appraise(plan, against, money, &verdict, &error) == STEADING_OK, "%s: %s",
                error.path, error.text);
  steading_record_release(money);
  return verdict;
}

/* Prices on the lots of a random site. */
static void roll_prices(dice *d, parts *p) {
  p->battery_lots[0] = '\0';
  ADD(p->battery_lots, "lots = { { count = %g, price_each = %.2f, ", p->modules, 2000 * roll(d));
  ADD(p->battery_lots, "life_years = %g, salvage_share = 0.1 } }", 1 + floor(10 * roll(d)));
  snprintf(p->array_lots[0], sizeof p->array_lots[0],
           "lots = { { count = %g, price_lot = %.2f, labour_share = 0.4 } }", p->panels[0],
           9000 * roll(d));
}

/* Without discount and escalation the value is a sum: bills saved less what is bought. */
START_TEST(without_escalation_the_value_is_the_plain_sum) {
  make_weathers();
  for (uint64_t i = 0; i < SITES / 4; i++) {
    dice d = {.seed = 50000 + i};
    parts p = roll_parts(&d);
    const steading_site *site = NULL, *grid_only = NULL;
    steading_run *plan = NULL, *against = NULL;
    steading_bills *mine = NULL, *other = NULL;
    steading_verdict v;
    double sum = 0, size = 1;
    roll_prices(&d, &p);
    site = site_of(&p);
    ck_assert_int_eq(steading_site_grid_only(site, &grid_only, NULL), STEADING_OK);
    plan = build_run(site, "{ start = \"2027-01\", years = 3 }");
    against = build_run(grid_only, "{ start = \"2027-01\", years = 3 }");
    v = judge(plan, against, "{ horizon_years = 3, discount = 0 }");
    ck_assert_int_eq(steading_run_bills(plan, 36, NULL, &mine, NULL), STEADING_OK);
    ck_assert_int_eq(steading_run_bills(against, 36, NULL, &other, NULL), STEADING_OK);
    for (size_t k = 0; k < mine->line_count; k++) sum -= mine->lines[k].amount;
    for (size_t k = 0; k < other->line_count; k++) {
      sum += other->lines[k].amount;
      size += other->lines[k].amount;
    }
    steading_bills_free(mine);
    steading_bills_free(other);
    for (size_t b = 0; b < v.bought_count; b++) {
      sum -= v.bought[b].parts + v.bought[b].small_items + v.bought[b].labour;
      size += v.bought[b].parts;
    }
    sum += v.years[3].salvage;
    ck_assert_double_eq_tol(v.net_present_value, sum, 1e-12 * size);
    ck_assert_double_eq_tol(v.years[3].cumulative, sum, 1e-12 * size);
    steading_verdict_clear(&v);
    steading_run_release(plan);
    steading_run_release(against);
    steading_record_release(site);
    steading_record_release(grid_only);
  }
  drop_weathers();
}
END_TEST

START_TEST(a_plan_against_itself_is_exactly_nothing) {
  make_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 60000 + i};
    parts p = roll_parts(&d);
    steading_run *run = NULL;
    steading_verdict v;
    roll_prices(&d, &p);
    run = run_of(&p);
    v = judge(run, run,
              "{ horizon_years = 1, discount = 0.07, escalation = { energy = 0.03 }, "
              "hired_labour = 0.6, small_items = { share = 0.1, of = \"total\" } }");
    for (int k = 0; k <= 1; k++) {
      const steading_cash_year *y = &v.years[k];
      ck_assert(y->purchases == 0 && y->replacements == 0 && y->bill_saving == 0 &&
                y->salvage == 0 && y->net == 0 && y->discounted_cumulative == 0);
    }
    ck_assert(v.first_cost == 0 && v.net_present_value == 0);
    ck_assert_double_gt(v.life_cycle_cost, 0);
    steading_verdict_clear(&v);
    steading_run_release(run);
  }
  drop_weathers();
}
END_TEST

Suite *properties_suite(void) {
  Suite *suite = suite_create("properties");
  TCase *tests = tcase_create("properties");
  tcase_add_test(tests, every_node_closes_over_every_month);
  tcase_add_test(tests, a_component_of_size_zero_equals_its_absence_to_the_bit);
  tcase_add_test(tests, lots_of_units_and_battery_modules_bought_at_the_start_equal_one_bigger_lot);
  tcase_add_test(tests, lots_of_panels_bought_at_the_start_equal_one_bigger_lot);
  tcase_add_test(tests, on_a_plain_site_more_battery_or_sun_never_costs_grid_or_unserved_energy);
  tcase_add_test(tests, on_a_plain_site_more_fuel_never_leaves_more_unserved);
  tcase_add_test(tests, without_escalation_the_value_is_the_plain_sum);
  tcase_add_test(tests, a_plan_against_itself_is_exactly_nothing);
  tcase_set_timeout(tests, 300);
  suite_add_tcase(suite, tests);
  return suite;
}
