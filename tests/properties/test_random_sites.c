/* What must hold in every step of any site, over random ones with several hubs, meters, wells and
 * tanks, all rules, lots that come and go, planned outages and finer steps. What a step must fulfil
 * is worked out from the site's own records and the flows, not from what the kernel was told. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "random_site.h"
#include "site/window.h"
#include "suites.h"

enum { SITES = 1000, RATED = 150 };

/* --- every step ----------------------------------------------------------------------------------
 */

typedef struct watch {
  const char *broken; /* the first rule that is broken */
  size_t step;
  double stored[STEADING_MOST_HUBS]; /* before the step */
  double level[STEADING_MOST_TANKS];
  double stored_at_start, throughput, balance_kwh; /* of the whole run */
  bool begun;
} watch;

#define HOLDS(condition) \
  if (!(condition)) return #condition
#define SAME(a, b) HOLDS(fabs((a) - (b)) <= slack)
#define MOST(a, b) HOLDS((a) <= (b) + slack)

static double pieces(const steading_list *lots, int64_t day) {
  double count = 0;
  if (lots == NULL) return 1;
  for (size_t i = 0; i < lots->count; i++) {
    const steading_lot *lot = (const void *)lots->items[i];
    bool here = !steading_record_given(lot, "in_service") || lot->in_service <= day;
    bool gone = steading_record_given(lot, "retired") && lot->retired <= day;
    if (here && !gone) count += lot->count;
  }
  return count;
}

/* The floor in force by the manual, kWh. */
static double floor_kwh(const steading_hub *hub, int month, bool islanded, double capacity_kwh) {
  const steading_rules *rules = hub->rules;
  const double *usable = hub->battery->module->usable;
  double floor = rules->battery_floor;
  if (islanded && steading_record_given(rules, "outage_floor")) floor = rules->outage_floor;
  if (!islanded) floor = fmax(floor, rules->reserve[month - 1]);
  return fmin(fmax(floor, usable[0]), usable[1]) * capacity_kwh;
}

/* Whether a step of a block lies in windows. */
static bool lies_in(const steading_block *b, const double *row, const steading_windows *windows) {
  const steading_civil_step *s = &b->civil[(size_t)(row - b->flows) / b->layout->width];
  return steading_windows_share(windows, s->month, s->weekday, s->month_before, s->minute,
                                b->program->step_minutes) == 1;
}

/* When the grid charges the battery, and when the battery serves loads beside a grid. */
static const char *broken_hours(const steading_block *b, const double *row, const steading_hub *hub,
                                const steading_hub_flow *f, bool islanded, double capacity,
                                double units, double slack) {
  const steading_rules *rules = hub->rules;
  const steading_charge_from_grid *charge = rules->charge_from_grid;
  if (charge == NULL || islanded) HOLDS(f->charger_in == 0 && f->rectified == 0);
  if (f->charger_in > 0) {
    HOLDS(lies_in(b, row, charge->window));
    MOST(f->charger_in, fmin(charge->kw, hub->inverter->unit->charge_from_grid_kw * units));
    SAME(f->rectified, f->charger_in * hub->inverter->unit->charge_efficiency);
    MOST(f->stored_kwh, charge->charge_to * capacity);
    HOLDS(f->inverted == 0 && f->battery_out == 0);
    SAME(f->unserved, 0);
  }
  if (f->battery_out > 0 && !islanded) {
    HOLDS(rules->discharge_windows == NULL || lies_in(b, row, rules->discharge_windows));
    HOLDS(rules->discharge_windows != NULL || rules->battery_use == STEADING_BATTERY_USE_DAILY);
  }
  return NULL;
}

static const char *broken_hub(watch *w, const steading_block *b, const double *row, size_t i,
                              int64_t day, double slack) {
  const steading_hub *hub = b->program->hubs[i].hub;
  const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
  const steading_inverter_curve *curve = &b->program->hubs[i].curve;
  double units = pieces(hub->inverter->lots, day), h = b->stretch->step_h;
  double capacity =
      hub->battery == NULL ? 0 : hub->battery->module->kwh * pieces(hub->battery->lots, day);
  const steading_unit *unit = hub->inverter->unit;
  double idle = f->idle_from_dc + f->idle_from_ac;
  bool night = steading_record_given(unit, "night_w") && f->inverted == 0 &&
               !(f->pv_available > 0 && unit->pv_kw > 0);
  double awake = curve->idle_kw * units, draw = night ? unit->night_w / 1000 * units : awake;
  double loss = curve->b * f->inverted +
                (units > 0 ? curve->c * f->inverted * f->inverted / (curve->rating_kw * units) : 0);
  bool islanded = b->program->hubs[i].meter < 0 || (b->down >> b->program->hubs[i].meter & 1);
  for (size_t k = 0; k < STEADING_HUB_FLOWS; k++) {
    const double *value = (const double *)f + k;
    HOLDS(isfinite(*value));
    HOLDS(*value >= -slack || value == &f->stored_change);
  }
  SAME(f->pv_used + f->battery_out + f->rectified, f->battery_in + f->inverted_in);
  SAME(f->inverted_in, f->inverted + f->idle_from_dc + loss);
  SAME(f->inverted + f->from_bus, f->served + f->charger_in + f->to_bus + f->idle_from_ac);
  HOLDS(fabs(idle) <= slack || fabs(idle - draw) <= slack ||
        (hub->rules->charge_from_grid != NULL && fabs(idle - awake) <= slack));
  HOLDS(f->charger_in == 0 || fabs(idle - awake) <= slack);
  SAME(f->load, f->served + f->unserved + f->shed);
  HOLDS(f->shed == 0 || (islanded && hub->rules->shed != NULL));
  HOLDS(f->battery_in == 0 || f->battery_out == 0);
  HOLDS(f->from_bus == 0 || f->to_bus == 0);
  MOST(f->inverted, curve->rating_kw * units);
  if (units > 0) MOST(f->from_bus, hub->inverter->unit->pass_through_kw * units);
  if (islanded) HOLDS(f->from_bus == 0 && f->to_bus == 0);
  SAME(f->stored_change * h, f->stored_kwh - w->stored[i]);
  const char *broken = broken_hours(b, row, hub, f, islanded, capacity, units, slack);
  if (broken != NULL) return broken;
  if (capacity > 0) {
    MOST(hub->battery->module->usable[0] * capacity, f->stored_kwh);
    MOST(f->stored_kwh, hub->battery->module->usable[1] * capacity);
    if (f->battery_out > 0) MOST(floor_kwh(hub, b->month, islanded, capacity), f->stored_kwh);
  } else {
    SAME(f->stored_kwh, 0);
  }
  w->stored[i] = f->stored_kwh;
  return NULL;
}

static const char *broken_meter(const steading_block *b, const double *row, size_t m,
                                double slack) {
  const steading_meter *meter = b->program->meters[m];
  const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
  bool is_down = b->down >> m & 1;
  double bus = f->import - f->export - f->served;
  for (size_t i = 0; i < b->layout->hubs; i++)
    if (b->program->hubs[i].meter == (int)m)
      bus += steading_hub_flow_of(b->layout, row, i)->to_bus -
             steading_hub_flow_of(b->layout, row, i)->from_bus;
  SAME(bus, 0);
  HOLDS(isfinite(f->import) && f->import >= 0 && f->export >= 0);
  HOLDS(f->import <= slack || f->export <= slack);
  MOST(f->import, is_down ? 0 : meter->import_limit_kw);
  MOST(f->export, is_down ? 0 : meter->export_limit_kw);
  MOST(0, f->served);
  MOST(0, f->unserved);
  SAME(f->load, f->served + f->unserved);
  return NULL;
}

static const char *broken_water(watch *w, const steading_block *b, const double *row, int64_t day,
                                double slack) {
  for (size_t k = 0; k < b->layout->wells; k++) {
    const steading_well_flow *f = steading_well_flow_of(b->layout, row, k);
    const steading_well *well = b->program->wells[k].well;
    double gained = 0, litres = well->flow_l_per_min * 60 * f->duty_h;
    int first = b->program->first_tank[k], count = b->program->tank_count[k];
    SAME(f->pumped_l, litres * pieces(well->lots, day));
    MOST(f->duty_h, b->stretch->step_h);
    MOST(0, f->pump);
    for (int t = first; t < first + count; t++) {
      const steading_tank_flow *tank = steading_tank_flow_of(b->layout, row, (size_t)t);
      gained += tank->level_l - w->level[t] + tank->delivered_l;
    }
    SAME(f->pumped_l, gained);
  }
  for (size_t t = 0; t < b->layout->tanks; t++) {
    const steading_tank_flow *f = steading_tank_flow_of(b->layout, row, t);
    const steading_tank *tank = b->program->tanks[t].tank;
    HOLDS(isfinite(f->level_l) && f->level_l >= 0);
    MOST(f->level_l, tank->litres * pieces(tank->lots, day));
    MOST(0, f->delivered_l);
    MOST(0, f->short_l);
    w->level[t] = f->level_l;
  }
  return NULL;
}

static double slack_of(const steading_block *b, const double *row) {
  double size = 1;
  for (size_t k = 0; k < b->layout->first_tank; k++) size += fabs(row[k]);
  for (size_t k = b->layout->first_tank; k < b->layout->width; k++) size += 0.01 * row[k];
  return 1e-10 * size;
}

/* What leaves less what enters in a step, for the balance of the run. */
static void weigh(watch *w, const steading_block *b, const double *row) {
  double h = b->stretch->step_h;
  for (size_t i = 0; i < b->layout->hubs; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
    w->balance_kwh +=
        (f->served + f->inverter_loss + f->battery_loss + f->standby - f->pv_used) * h;
    w->throughput += (f->pv_used + f->served + f->battery_in + f->battery_out) * h;
  }
  for (size_t m = 0; m < b->layout->meters; m++) {
    const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
    w->balance_kwh += (f->served + f->export - f->import) * h;
    w->throughput += (f->served + f->export + f->import) * h;
  }
}

static const char *broken_step(watch *w, const steading_block *b, const double *row, int64_t day) {
  const double slack = slack_of(b, row);
  const char *broken = NULL;
  for (size_t i = 0; broken == NULL && i < b->layout->hubs; i++)
    broken = broken_hub(w, b, row, i, day, slack);
  for (size_t m = 0; broken == NULL && m < b->layout->meters; m++)
    broken = broken_meter(b, row, m, slack);
  return broken == NULL ? broken_water(w, b, row, day, slack) : broken;
}

/* The first step tells what was there before it; lots bring and take at the beginning of a block.
 */
static void begin_block(watch *w, const steading_block *b, int64_t day) {
  const double *row = b->flows;
  for (size_t i = 0; i < b->layout->hubs; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
    if (!w->begun) {
      w->stored[i] = f->stored_kwh - f->stored_change * b->stretch->step_h;
      w->stored_at_start += w->stored[i];
    } else {
      w->stored[i] += b->delivered_kwh[i] - b->removed_kwh[i] - b->fade_kwh[i];
    }
    w->balance_kwh += b->removed_kwh[i] + b->fade_kwh[i] - b->delivered_kwh[i];
  }
  for (size_t t = 0; t < b->layout->tanks; t++) { /* tanks that leave take their share */
    const steading_list *lots = b->program->tanks[t].tank->lots;
    double litres = b->program->tanks[t].tank->litres, before = pieces(lots, day - 1), gone = 0;
    if (!w->begun) {
      w->level[t] = 0.5 * litres * pieces(lots, day);
      continue;
    }
    for (size_t l = 0; lots != NULL && l < lots->count; l++) {
      const steading_lot *lot = (const void *)lots->items[l];
      if (steading_record_given(lot, "retired") && lot->retired == day &&
          !(steading_record_given(lot, "in_service") && lot->in_service >= day))
        gone += lot->count;
    }
    if (b->minute == 0 && before > 0) w->level[t] *= 1 - gone / before;
  }
  w->begun = true;
}

static steading_status watch_block(void *context, const steading_block *b, steading_error *error) {
  watch *w = context;
  int64_t day = steading_day_number(b->year, b->month, b->day);
  (void)error;
  begin_block(w, b, day);
  for (size_t k = 0; k < b->count; k++) {
    const double *row = b->flows + k * b->layout->width;
    const char *broken = broken_step(w, b, row, day);
    if (broken != NULL && w->broken == NULL) {
      w->broken = broken;
      w->step = b->first_step + k;
    }
    weigh(w, b, row);
  }
  return STEADING_OK;
}

START_TEST(every_step_of_a_random_site_keeps_its_nodes_and_bounds) {
  random_site_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 90000 + i};
    random_site *p = random_site_roll(&d, false);
    steading_run *run = random_site_run(p);
    watch w = {.broken = NULL};
    const steading_sink sink = {.take = watch_block, .context = &w};
    double after = 0;
    ck_assert_int_eq(steading_run_repeat(run, &sink, NULL), STEADING_OK);
    if (w.broken != NULL) ck_abort_msg("site %d, step %zu: not %s", (int)i, w.step, w.broken);
    for (size_t h = 0; h < run->layout.hubs; h++) after += w.stored[h];
    ck_assert_msg(fabs(w.balance_kwh + after - w.stored_at_start) <= 1e-9 * (w.throughput + 1),
                  "site %d misses %g kWh of %g", (int)i, w.balance_kwh + after - w.stored_at_start,
                  w.throughput);
    ck_assert_double_le(build_total(run).closure_error_kwh, 1e-9 * (w.throughput + 1));
    steading_run_release(run);
    free(p);
  }
  random_site_drop_weathers();
}
END_TEST

/* --- parts of nothing
 * ------------------------------------------------------------------------------ */

/* Whether each part of `a` has the same months in `b`, which may have more parts; found by name. */
static size_t place_of(const steading_map *map, const char *name) {
  for (size_t i = 0; map != NULL && i < map->count; i++)
    if (strcmp(map->entries[i].name, name) == 0) return i;
  ck_abort_msg("no '%s'", name);
}

static const char *different_part(const steading_run *a, const steading_run *b) {
  const steading_site *s = a->site, *t = b->site;
  for (size_t k = 0; k < a->month_count; k++) {
    const double *x = a->sums + k * a->layout.width, *y = b->sums + k * b->layout.width;
    if (memcmp(x, y, STEADING_SITE_FLOWS * sizeof *x) != 0) return "the site";
    for (size_t i = 0; i < a->layout.hubs; i++) {
      const char *name = s->hubs->entries[i].name;
      if (memcmp(steading_hub_flow_of(&a->layout, x, i),
                 steading_hub_flow_of(&b->layout, y, place_of(t->hubs, name)),
                 sizeof(steading_hub_flow)) != 0)
        return name;
    }
    for (size_t m = 0; m < a->layout.meters; m++) {
      const char *name = s->meters->entries[m].name;
      if (memcmp(steading_meter_flow_of(&a->layout, x, m),
                 steading_meter_flow_of(&b->layout, y, place_of(t->meters, name)),
                 sizeof(steading_meter_flow)) != 0)
        return name;
    }
  }
  return NULL;
}

/* A part of no pieces beside the others, under a name that may stand first or last. */
static void add_nothing(dice *d, random_site *p) {
  char name = often(d, 0.5) ? 'a' : 'z';
  switch (below(d, 4)) {
    case 0:
      random_site_add(p->hubs, "%c = { ", name);
      if (p->meter_count > 0)
        random_site_add(p->hubs, "meter = \"m%d\", ", below(d, p->meter_count));
      random_site_add(
          p->hubs,
          "inverter = { unit = { ac_kw = 3, efficiency = { at_10 = 0.9, at_100 = 0.95 } }, "
          "lots = { { count = 0 } } } }, ");
      break;
    case 1:
      random_site_add(p->meters, "%c = { import_limit_kw = 3, export_limit_kw = 2 }, ", name);
      break;
    case 2:
      if (p->well_count > 0)
        random_site_add(p->tanks,
                        "%c = { litres = 900, fed_by = \"w%d\", lots = { { count = 0 } } }, ", name,
                        below(d, p->well_count));
      break;
    default:
      random_site_add(p->wells, "%c = { ", name);
      random_site_place(d, p, p->wells);
      random_site_add(
          p->wells,
          "lift_m = 50, flow_l_per_min = 20, efficiency = 0.4, lots = { { count = 0 } } }, ");
      random_site_add(p->tanks, "%c = { litres = 900, fed_by = \"%c\" }, ", name, name);
      break;
  }
}

START_TEST(a_part_of_no_pieces_equals_its_absence_to_the_bit) {
  random_site_weathers();
  for (uint64_t i = 0; i < SITES; i++) {
    dice d = {.seed = 120000 + i};
    random_site *p = random_site_roll(&d, false);
    steading_run *without = random_site_run(p), *with = NULL;
    const char *different = NULL;
    add_nothing(&d, p);
    with = random_site_run(p);
    different = different_part(without, with);
    if (different != NULL) ck_abort_msg("site %d: %s", (int)i, different);
    steading_run_release(with);
    steading_run_release(without);
    free(p);
  }
  random_site_drop_weathers();
}
END_TEST

/* --- where more is worse
 * --------------------------------------------------------------------------- */

/* A site of the class in which more battery never costs (see test_properties), with one feature. */
static double bought_or_missed_kwh(const char *site_text, double modules, const char *feature_hub,
                                   const char *rules, const char *module,
                                   steading_weather *weather) {
  const steading_site *site = build_site(weather, site_text, feature_hub, module, modules, rules);
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  build_month total = build_total(run);
  steading_run_release(run);
  steading_record_release(site);
  return total.sum.import + total.sum.hub_unserved + total.sum.meter_unserved;
}

/* Only counted and shown: nothing may rely on it. */
START_TEST(outside_the_plain_class_more_battery_may_cost_grid_energy) {
  static const struct {
    const char *name, *hub, *rules, *module, *water;
  } features[] = {
      {"none", "", "", "", ""},
      {"resume_above", "", ", resume_above = 0.6", "", ""},
      {"transfers", ", with_grid = \"transfers\"", ", resume_above = 0.4", "", ""},
      {"reserve", "", ", reserve = 0.5", "", ""},
      {"standby", "", "", ", standby_w = 12", ""},
      {"water after battery", "", ", surplus_order = { \"battery\", \"water\", \"export\" }", "",
       ", water = { wells = { w = { hub = \"h\", lift_m = 80, flow_l_per_min = 30, "
       "efficiency = 0.4 } }, tanks = { t = { litres = 4000, fed_by = \"w\" } }, "
       "users = { u = { tank = \"t\", litres_per_day = 3000 } } }"}};
  random_site_weathers();
  for (size_t f = 0; f < sizeof features / sizeof features[0]; f++) {
    int worse = 0;
    double most = 0;
    for (uint64_t i = 0; i < RATED; i++) {
      dice d = {.seed = 150000 + i};
      char text[2000], module[200];
      double modules = 1 + below(&d, 8), before = 0, cost = 0;
      steading_weather *weather = random_site_weather(&d);
      snprintf(module, sizeof module,
               "kwh = %.3f, charge_kw = 1000, discharge_kw = 1000, "
               "round_trip_efficiency = %.4f%s",
               roll_between(&d, 1, 6), roll_between(&d, 0.7, 1), features[f].module);
      snprintf(
          text, sizeof text,
          "{ weather = @0, meters = { m = { export_limit_kw = %.3f } }, hubs = { h = { "
          "meter = \"m\", inverter = { unit = { ac_kw = %.3f, idle_w = %.3f, "
          "efficiency = { at_10 = 0.9, at_100 = 0.93 } }%%s }, arrays = { { tilt_deg = 30, "
          "azimuth_deg = %d, module = { watts = 400, temp_coefficient_per_c = -0.0035 }, "
          "lots = { { count = %d } } } }, battery = { module = { %%s }, "
          "lots = { { count = %%g } } }, rules = { battery_floor = %.3f%%s } } }, "
          "buildings = { a = { hub = \"h\", loads = { { kind = \"daily\", kwh_per_day = %.3f, "
          "shape = \"dwelling\" }, { kind = \"timed\", kw = %.3f, window = \"06:00-08:30\" } } "
          "} }%s }",
          roll_size(&d, 10), roll_between(&d, 3, 15), roll_size(&d, 60), 45 * below(&d, 8),
          1 + below(&d, 20), 0.3 * roll(&d), roll_size(&d, 60), roll_size(&d, 3),
          features[f].water);
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
      before =
          bought_or_missed_kwh(text, modules, features[f].hub, features[f].rules, module, weather);
      cost = bought_or_missed_kwh(text, modules + 1, features[f].hub, features[f].rules, module,
                                  weather) -
             before;
#pragma GCC diagnostic pop
      worse += cost > 1e-7;
      most = fmax(most, cost);
    }
    printf("one module more costs grid energy on %3d of %d sites, by %.1f kWh a year at most: %s\n",
           worse, RATED, most, features[f].name);
    if (f == 0) ck_assert_int_eq(worse, 0);
  }
  fflush(stdout);
  random_site_drop_weathers();
}
END_TEST

Suite *random_sites_suite(void) {
  Suite *suite = suite_create("random_sites");
  TCase *tests = tcase_create("random_sites");
  tcase_add_test(tests, every_step_of_a_random_site_keeps_its_nodes_and_bounds);
  tcase_add_test(tests, a_part_of_no_pieces_equals_its_absence_to_the_bit);
  tcase_add_test(tests, outside_the_plain_class_more_battery_may_cost_grid_energy);
  tcase_set_timeout(tests, 300);
  suite_add_tcase(suite, tests);
  return suite;
}
