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
#include "site/batteries.h"
#include "site/window.h"
#include "suites.h"

enum { SITES = 1000, RATED = 100 };

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
  const double *usable = steading_battery_at(hub, 0)->module->usable;
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
  if (charge == NULL || islanded) HOLDS(f->charger_in == 0);
  if (charge == NULL || islanded) HOLDS(f->sun_charging > 0 || f->rectified == 0);
  if (f->charger_in > 0) {
    HOLDS(lies_in(b, row, charge->window));
    MOST(f->charger_in, fmin(charge->kw, hub->inverter->unit->charge_from_grid_kw * units));
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

static bool has_ac_coupled(const steading_hub *hub) {
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++)
    if (((const steading_array *)(void *)hub->arrays->items[a])->coupled == STEADING_COUPLED_AC)
      return true;
  return false;
}

static const char *broken_hub(watch *w, const steading_block *b, const double *row, size_t i,
                              int64_t day, double slack) {
  const steading_hub *hub = b->program->hubs[i].hub;
  const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
  const steading_inverter_curve *curve = &b->program->hubs[i].curve;
  double units = pieces(hub->inverter->lots, day), h = b->stretch->step_h;
  double capacity = hub->battery == NULL ? 0
                                         : steading_battery_at(hub, 0)->module->kwh *
                                               pieces(steading_battery_at(hub, 0)->lots, day);
  const steading_unit *unit = hub->inverter->unit;
  double idle = f->idle_from_dc + f->idle_from_ac;
  const bool ac_coupled = has_ac_coupled(hub);
  /* what own inverters that sleep get is no sun */
  bool dark = !(f->pv_available > 0 && unit->pv_kw > 0) || (ac_coupled && f->ac_sun == 0);
  bool night = steading_record_given(unit, "night_w") && f->inverted == 0 && dark;
  double awake = curve->idle_kw * units, draw = night ? unit->night_w / 1000 * units : awake;
  double loss = curve->b * f->inverted +
                (units > 0 ? curve->c * f->inverted * f->inverted / (curve->rating_kw * units) : 0);
  bool islanded = b->program->hubs[i].meter < 0 || (b->down >> b->program->hubs[i].meter & 1);
  for (size_t k = 0; k < STEADING_HUB_FLOWS; k++) {
    const double *value = (const double *)f + k;
    HOLDS(isfinite(*value));
    HOLDS(*value >= -slack || value == &f->stored_change);
  }
  SAME(f->pv_used - f->ac_sun - f->ac_sun_loss + f->battery_out + f->rectified,
       f->battery_in + f->inverted_in);
  SAME(f->inverted_in, f->inverted + f->idle_from_dc + loss);
  SAME(f->inverted + f->ac_sun + f->from_bus,
       f->served + f->charger_in + f->sun_charging + f->to_bus + f->idle_from_ac);
  HOLDS(fabs(idle) <= slack || fabs(idle - draw) <= slack ||
        ((hub->rules->charge_from_grid != NULL || ac_coupled) && fabs(idle - awake) <= slack));
  HOLDS(f->ac_sun == 0 || ac_coupled);
  HOLDS(f->sun_charging == 0 || (f->inverted == 0 && f->battery_out == 0));
  MOST(f->sun_charging, unit->charge_from_grid_kw * units);
  SAME(f->rectified, (f->charger_in + f->sun_charging) * unit->charge_efficiency);
  MOST(f->sun_idle + f->sun_charging, f->ac_sun);
  if (islanded && f->ac_sun > 0)
    HOLDS(units > 0 && (fabs(idle - draw) <= slack || fabs(idle - awake) <= slack));
  if (islanded && steading_record_given(unit, "islanded_kw"))
    MOST(f->inverted, unit->islanded_kw * units);
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
    MOST(steading_battery_at(hub, 0)->module->usable[0] * capacity, f->stored_kwh);
    MOST(f->stored_kwh, steading_battery_at(hub, 0)->module->usable[1] * capacity);
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

/* --- parts that do nothing -----------------------------------------------------------------------
 */

/* Where the text of a hub begins, and how long it is. */
static char *hub_text(random_site *p, int hub, size_t *length) {
  char name[32], *from = NULL;
  const char *to = NULL;
  snprintf(name, sizeof name, "h%d = { ", hub);
  from = strstr(p->hubs, name);
  snprintf(name, sizeof name, "h%d = { ", hub + 1);
  to = strstr(from, name);
  *length = to == NULL ? strlen(from) : (size_t)(to - from);
  return from;
}

static bool hub_has(random_site *p, int hub, const char *text) {
  size_t length = 0;
  const char *from = hub_text(p, hub, &length), *found = strstr(from, text);
  return found != NULL && found < from + length;
}

/* Behind the first `mark` at or after `from`, both in the text of a map. */
static void insert_behind(char *map, char *from, const char *mark, const char *text) {
  char *to = strstr(from, mark);
  if (to == NULL) ck_abort_msg("no '%s'", mark);
  if (strlen(map) + strlen(text) >= RANDOM_SITE_ROOM) ck_abort_msg("too long a text");
  to += strlen(mark);
  memmove(to + strlen(text), to, strlen(to) + 1);
  memcpy(to, text, strlen(text));
}

static void insert_in_hub(random_site *p, int hub, const char *mark, const char *text) {
  size_t length = 0;
  insert_behind(p->hubs, hub_text(p, hub, &length), mark, text);
}

#define SET \
  "generator = { unit = { kw = 2, fuel = \"diesel\", no_load_l_per_h = 0.4, l_per_kwh = 0.4 }, "

enum {
  NO_SETS,
  NO_CHARGER,
  NO_SET_CHARGER,
  UNUSED_FUEL,
  AMPLE_TANK,
  NO_SHEDDING,
  NO_OUTAGES,
  NO_AGED_MODULES,
  NO_AC_MODULES,
  NEVER_RAISED,
  NOTHINGS
};
static const char *const nothings[NOTHINGS] = {"a generator of no sets",
                                               "charging from the grid with 0 kW",
                                               "a generator's 0 kW charger",
                                               "a fuel that nothing burns",
                                               "a tank that never empties",
                                               "shedding below 0 %",
                                               "outages 0 times a year",
                                               "ageing of no modules",
                                               "an AC-coupled array of no modules",
                                               "a reserve that is never raised"};

/* Give a site the part, and another one its counterpart; false where they have no room for it. */
static bool add_idle_part(int part, random_site *with, random_site *without) {
  int hub = 0;
  const bool on_grid = with->hub_count > 0 && hub_has(with, 0, "meter = ");
  if (part != UNUSED_FUEL && part != NO_OUTAGES && with->hub_count == 0) return false;
  switch (part) {
    case NO_SETS:
      if (hub_has(with, 0, "generator = ")) return false;
      insert_in_hub(with, 0, "h0 = { ",
                    SET "role = \"both\", charger_kw = 1, lots = { { count = 0 } } }, ");
      return true;
    case NO_CHARGER:
      if (!on_grid || hub_has(with, 0, "charge_from_grid_kw") || hub_has(with, 0, "coupled"))
        return false;
      insert_in_hub(with, 0, "unit = { ", "charge_from_grid_kw = 2, ");
      insert_in_hub(with, 0, "rules = { ",
                    "charge_from_grid = { window = \"01:00-09:00\", charge_to = 0.8, kw = 0 }, ");
      return true;
    case NO_SET_CHARGER:
      if (hub_has(with, 0, "generator = ")) return false;
      insert_in_hub(with, 0, "h0 = { ", SET "role = \"both\", charger_kw = 0 }, ");
      insert_in_hub(without, 0, "h0 = { ", SET "role = \"carries\" }, ");
      return true;
    case UNUSED_FUEL:
      random_site_add(with->fuels,
                      "heating_oil = { kwh_per_l = 10, tank = { litres = 900 }, "
                      "delivery = { order_below = 0.6 } }, ");
      return true;
    case AMPLE_TANK:
      if (hub_has(with, 0, "generator = ")) return false;
      insert_in_hub(with, 0, "h0 = { ", SET "role = \"carries\" }, ");
      insert_in_hub(without, 0, "h0 = { ", SET "role = \"carries\" }, ");
      snprintf(without->fuels, RANDOM_SITE_ROOM, "diesel = {}, petrol = {}, propane = {}, ");
      snprintf(with->fuels, RANDOM_SITE_ROOM,
               "diesel = { tank = { litres = 1e8 } }, petrol = { tank = { litres = 1e8 } }, "
               "propane = { tank = { litres = 1e8 } }, ");
      return true;
    case NO_SHEDDING:
      if (hub_has(with, 0, "shed = ")) return false;
      insert_in_hub(with, 0, "rules = { ",
                    "shed = { sheddable = 0, deferrable = 0, ordinary = 0 }, ");
      return true;
    case NO_OUTAGES:
      if (with->meter_count == 0 || strstr(with->meters, "outages = ") != NULL) return false;
      insert_behind(with->meters, with->meters, "m0 = { ",
                    "outages = { saifi = 0, caidi_h = 5, in_dull_weather = 0.4 }, ");
      return true;
    case NO_AGED_MODULES:
      while (hub < with->hub_count && hub_has(with, hub, "battery = ")) hub++;
      if (hub == with->hub_count) return false;
      insert_in_hub(with, hub, "= { ",
                    "battery = { module = { kwh = 5, charge_kw = 2, discharge_kw = 2, "
                    "round_trip_efficiency = 0.9, standby_w = 9 }, lots = { { count = 0 } }, "
                    "room = { temp_c = 30 }, ageing = { model = \"naumann\" } }, ");
      return true;
    case NO_AC_MODULES:
      while (hub < with->hub_count && !hub_has(with, hub, "arrays = ")) hub++;
      if (hub == with->hub_count) return false;
      insert_in_hub(with, hub, "arrays = { ",
                    "{ tilt_deg = 30, azimuth_deg = 90, coupled = \"ac\", module = { watts = 400, "
                    "temp_coefficient_per_c = -0.0035 }, lots = { { count = 0 } } }, ");
      return true;
    default:
      if (!on_grid || hub_has(with, 0, "raise_reserve")) return false;
      insert_in_hub(with, 0, "rules = { ",
                    "raise_reserve = { ahead_h = 30, below_kwh = 0, to = 0.84, skill = 0.5 }, ");
      return true;
  }
}

START_TEST(a_part_that_does_nothing_equals_its_absence_to_the_bit) {
  int seen[NOTHINGS] = {0};
  random_site_weathers();
  for (int i = 0; i < SITES; i++) {
    dice d = {.seed = 300000 + (uint64_t)i};
    int part = i % NOTHINGS;
    random_site *with = random_site_roll(&d, true), *without = malloc(sizeof *without);
    ck_assert_ptr_nonnull(without);
    *without = *with;
    if (add_idle_part(part, with, without)) {
      steading_run *a = random_site_run(without), *b = random_site_run(with);
      const char *different = different_part(a, b);
      if (different != NULL) ck_abort_msg("site %d, %s: %s", i, nothings[part], different);
      steading_run_release(a);
      steading_run_release(b);
      seen[part]++;
    }
    free(with);
    free(without);
  }
  for (int k = 0; k < NOTHINGS; k++)
    ck_assert_msg(seen[k] >= 10, "only %d sites have room for %s", seen[k], nothings[k]);
  random_site_drop_weathers();
}
END_TEST

/* --- where more is worse
 * --------------------------------------------------------------------------- */

/* What a site of the class in which more never costs (see test_properties) is given beside. */
typedef struct feature {
  const char *name, *meter, *unit, *inverter, *array, *module, *battery, *rules, *hub, *rest,
      *second;
  int years;
} feature;

#define EVENINGS ", outages = { windows = \"14:00-22:00\" }"

static const feature features[] = {
    {.name = "none"},
    {.name = "resume_above", .rules = ", resume_above = 0.6"},
    {.name = "transfers",
     .inverter = ", with_grid = \"transfers\"",
     .rules = ", resume_above = 0.4"},
    {.name = "reserve", .rules = ", reserve = 0.5"},
    {.name = "standby", .module = ", standby_w = 12"},
    {.name = "water after battery",
     .rules = ", surplus_order = { \"battery\", \"water\", \"export\" }",
     .rest = ", water = { wells = { w = { hub = \"h\", lift_m = 80, flow_l_per_min = 30, "
             "efficiency = 0.4 } }, tanks = { t = { litres = 4000, fed_by = \"w\" } }, "
             "users = { u = { tank = \"t\", litres_per_day = 3000 } } }"},
    {.name = "charging from the grid",
     .unit = ", charge_from_grid_kw = 3",
     .rules = ", charge_from_grid = { window = \"22:00-05:00\", charge_to = 0.8 }"},
    {.name = "discharge windows", .rules = ", discharge_windows = \"17:00-22:00\""},
    {.name = "a raised reserve",
     .rules = ", raise_reserve = { ahead_h = 48, below_kwh = 15, to = 0.8 }"},
    {.name = "an AC-coupled array",
     .unit = ", charge_from_grid_kw = 1000",
     .array = ", coupled = \"ac\""},
    {.name = "an AC-coupled array with an inverter of 2 kW, and outages",
     .meter = EVENINGS,
     .unit = ", charge_from_grid_kw = 2, islanded_kw = 2",
     .array = ", coupled = \"ac\", own_inverter = { ac_kw = 2 }"},
    {.name = "outages", .meter = EVENINGS},
    {.name = "outages and shedding",
     .meter = EVENINGS,
     .rules = ", shed = { ordinary = 0.4, restore_above = 0.1 }"},
    {.name = "outages and a generator for unserved load",
     .meter = EVENINGS,
     .hub = ", generator = { unit = { kw = 2, fuel = \"diesel\", no_load_l_per_h = 0.4, "
            "l_per_kwh = 0.4 }, role = \"carries\" }",
     .rest = ", fuels = { diesel = { tank = { litres = 900 } } }"},
    {.name = "outages and a generator with thresholds",
     .meter = EVENINGS,
     .rules = ", generator = { start_below_charge = 0.4, stop_above_charge = 0.7 }",
     .hub = ", generator = { unit = { kw = 2, fuel = \"diesel\", no_load_l_per_h = 0.4, "
            "l_per_kwh = 0.4 }, role = \"both\", charger_kw = 1.5 }",
     .rest = ", fuels = { diesel = { tank = { litres = 900 } } }"},
    {.name = "lead-acid, two tanks",
     .module = ", chemistry = \"lead_acid\", available_share = 0.3, per_h = 0.4, gassing = { above "
               "= 0.85, at_full = 0.5 }"},
    {.name = "a taper near full", .module = ", taper = { above = 0.8, at_full = 0.05 }"},
    {.name = "a second kind of battery",
     .second = "{ module = { kwh = 4, charge_kw = 1, discharge_kw = 2, round_trip_efficiency = "
               "0.8 }, lots = { { count = 1 } } }"},
    {.name = "ageing",
     .battery = ", room = { temp_c = 30 }, ageing = { model = \"wang\" }",
     .years = 3}};

static const char *or_nothing(const char *text) { return text == NULL ? "" : text; }

/* kWh a year from the grid and from fuel, and what was not served. */
static double bought_or_missed_kwh(const char *text, int years, steading_weather *weather) {
  const steading_site *site = build_site(weather, "%s", text);
  char options[64];
  steading_run *run = NULL;
  double kwh = 0;
  snprintf(options, sizeof options, "{ start = \"2027-01\", years = %d }", years);
  run = build_run(site, options);
  build_month total = build_total(run);
  kwh = total.sum.import + total.sum.hub_unserved + total.sum.meter_unserved + total.sum.shed;
  for (size_t m = 0; m < run->month_count && run->layout.generators > 0; m++)
    kwh += steading_generator_flow_of(&run->layout, run->sums + m * run->layout.width, 0)->power;
  steading_run_release(run);
  steading_record_release(site);
  return kwh / years;
}

/* A site of the class with a feature; of all that is rolled only counts may differ. */
static void roll_featured(dice d, const feature *f, int more_modules, int more_panels,
                          char text[3000]) {
  double modules = 1 + below(&d, 8), kwh = 0, both_ways = 0;
  char module[200];
  int azimuth = 0, panels = 0;
  double export = 0, ac_kw = 0, idle_w = 0;
  below(&d, 3); /* its weather */
  kwh = roll_between(&d, 1, 6);
  both_ways = roll_between(&d, 0.7, 1);
  snprintf(module, sizeof module,
           "kwh = %.3f, charge_kw = 1000, discharge_kw = 1000, round_trip_efficiency = %.4f%s", kwh,
           both_ways, or_nothing(f->module));
  export = roll_size(&d, 10);
  ac_kw = roll_between(&d, 3, 15);
  idle_w = roll_size(&d, 60);
  azimuth = 45 * below(&d, 8);
  panels = 1 + below(&d, 20);
  const double floor = 0.3 * roll(&d), daily = roll_size(&d, 60), timed = roll_size(&d, 3);
  snprintf(text, 3000,
           "{ weather = @0, meters = { m = { export_limit_kw = %.3f%s } }, hubs = { h = { "
           "meter = \"m\", inverter = { unit = { ac_kw = %.3f, idle_w = %.3f, "
           "efficiency = { at_10 = 0.9, at_100 = 0.93 }%s }%s }, arrays = { { tilt_deg = 30, "
           "azimuth_deg = %d, module = { watts = 400, temp_coefficient_per_c = -0.0035 }, "
           "lots = { { count = %d } }%s } }, battery = { %smodule = { %s }, "
           "lots = { { count = %g } }%s%s%s }, rules = { battery_floor = %.3f%s }%s } }, "
           "buildings = { a = { hub = \"h\", loads = { { kind = \"daily\", kwh_per_day = %.3f, "
           "shape = \"dwelling\" }, { kind = \"timed\", kw = %.3f, window = \"06:00-08:30\" } } "
           "} }%s }",
           export, or_nothing(f->meter), ac_kw, idle_w, or_nothing(f->unit),
           or_nothing(f->inverter), azimuth, panels + more_panels, or_nothing(f->array),
           f->second == NULL ? "" : "{ ", module, modules + more_modules, or_nothing(f->battery),
           f->second == NULL ? "" : " }, ", or_nothing(f->second), floor, or_nothing(f->rules),
           or_nothing(f->hub), daily, timed, or_nothing(f->rest));
}

/* Only counted and shown: nothing may rely on it. */
START_TEST(outside_the_plain_class_more_battery_or_sun_may_cost_energy) {
  random_site_weathers();
  printf("one more of %d sites costs grid, fuel or unserved energy, by kWh a year at most:\n",
         RATED);
  for (size_t f = 0; f < sizeof features / sizeof features[0]; f++) {
    const feature *one = &features[f];
    int years = one->years > 0 ? one->years : 1, worse[2] = {0};
    double most[2] = {0};
    for (uint64_t i = 0; i < RATED; i++) {
      dice d = {.seed = 150000 + i}, after = d;
      char text[3000];
      double before = 0;
      steading_weather *weather = NULL;
      below(&after, 8);
      weather = random_site_weather(&after);
      roll_featured(d, one, 0, 0, text);
      before = bought_or_missed_kwh(text, years, weather);
      for (int sun = 0; sun < 2; sun++) {
        double cost = 0;
        roll_featured(d, one, 1 - sun, sun, text);
        cost = bought_or_missed_kwh(text, years, weather) - before;
        worse[sun] += cost > 1e-7;
        most[sun] = fmax(most[sun], cost);
      }
    }
    printf("  module %3d, %6.1f; panel %3d, %6.1f: %s\n", worse[0], most[0], worse[1], most[1],
           one->name);
    if (f == 0) ck_assert_int_eq(worse[0] + worse[1], 0);
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
  tcase_add_test(tests, a_part_that_does_nothing_equals_its_absence_to_the_bit);
  tcase_add_test(tests, outside_the_plain_class_more_battery_or_sun_may_cost_energy);
  tcase_set_timeout(tests, 300);
  suite_add_tcase(suite, tests);
  return suite;
}
