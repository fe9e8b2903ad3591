#include "dispatch/program.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "calendar.h"
#include "demand/water.h"
#include "dispatch/batteries.h"
#include "dispatch/health.h"
#include "plant/battery.h"
#include "plant/hub_curve.h"
#include "site/batteries.h"

/* --- compiling -----------------------------------------------------------------------------------
 */

static int index_of(const steading_map *map, const char *name) {
  for (size_t i = 0; name != NULL && map != NULL && i < map->count; i++)
    if (strcmp(map->entries[i].name, name) == 0) return (int)i;
  return -1;
}

/* The kernel's claimants of surplus, of the words of a rule; hot water and vehicles take none. */
static void set_order(steading_program_hub *h) {
  const steading_texts *words = h->hub->rules == NULL ? NULL : h->hub->rules->surplus_order;
  size_t count = 0;
  h->order[0] = STEADING_TO_WATER;
  h->order[1] = STEADING_TO_BATTERY;
  h->order[2] = STEADING_TO_BUS;
  h->exports = true;
  if (words == NULL) return;
  h->exports = false;
  for (size_t i = 0; i < words->count; i++) {
    if (strcmp(words->items[i], "water") == 0) h->order[count++] = STEADING_TO_WATER;
    if (strcmp(words->items[i], "battery") == 0) h->order[count++] = STEADING_TO_BATTERY;
    if (strcmp(words->items[i], "export") == 0) {
      h->order[count++] = STEADING_TO_BUS;
      h->exports = true;
    }
  }
  /* what the grid may not have still feeds what stands on the meter, after everybody else */
  if (!h->exports) h->order[count++] = STEADING_TO_BUS;
  while (count < 3) h->order[count++] = STEADING_TO_NOBODY;
}

static bool has_ac_coupled(const steading_hub *hub) {
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++)
    if (((const steading_array *)(void *)hub->arrays->items[a])->coupled == STEADING_COUPLED_AC)
      return true;
  return false;
}

static steading_status compile_hubs(steading_program *p, const steading_map *hubs,
                                    steading_error *error) {
  for (size_t i = 0; i < p->layout.hubs; i++) {
    steading_program_hub *h = &p->hubs[i];
    char path[192];
    steading_status status = STEADING_OK;
    h->name = hubs->entries[i].name;
    h->hub = (const void *)hubs->entries[i].item;
    h->meter = index_of(p->site->meters, h->hub->meter);
    h->fuel =
        h->hub->generator == NULL ? -1 : index_of(p->site->fuels, h->hub->generator->unit->fuel);
    set_order(h);
    h->ac_coupled = has_ac_coupled(h->hub);
    snprintf(path, sizeof path, "site.hubs.%s.inverter.unit", h->name);
    status = steading_hub_curve_of(h->hub, path, &h->curve, NULL, error);
    if (status != STEADING_OK) return status;
  }
  return steading_batteries_compile(p, error);
}

static void compile_water(steading_program *p, const steading_water *water) {
  size_t tanks = 0;
  for (size_t w = 0; w < p->layout.wells; w++) {
    steading_program_well *well = &p->wells[w];
    well->name = water->wells->entries[w].name;
    well->well = (const void *)water->wells->entries[w].item;
    well->hub = index_of(p->site->hubs, well->well->hub);
    well->meter = index_of(p->site->meters, well->well->meter);
    p->first_tank[w] = (int)tanks;
    for (size_t t = 0; t < water->tanks->count; t++) {
      const steading_tank *tank = (const void *)water->tanks->entries[t].item;
      if (strcmp(tank->fed_by, well->name) != 0) continue;
      p->tanks[tanks++] =
          (steading_program_tank){.name = water->tanks->entries[t].name, .tank = tank};
    }
    p->tank_count[w] = (int)tanks - p->first_tank[w];
  }
}

static size_t count_of(const steading_map *map) { return map == NULL ? 0 : map->count; }

steading_layout steading_layout_of_site(const steading_site *site) {
  const steading_water *water = site->water;
  steading_layout layout = steading_layout_of(count_of(site->hubs), count_of(site->meters),
                                              water == NULL ? 0 : count_of(water->wells),
                                              water == NULL ? 0 : count_of(water->tanks));
  size_t batteries = 0;
  bool any = false;
  for (size_t i = 0; i < layout.hubs; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    any = any || hub->generator != NULL;
    batteries += steading_batteries_of(hub);
  }
  return steading_layout_with(layout, any ? layout.hubs : 0, any ? count_of(site->fuels) : 0,
                              steading_site_has_pools(site) ? batteries : 0);
}

steading_status steading_program_compile(const steading_site *site, int step_minutes,
                                         int64_t start_day, steading_program *p,
                                         steading_error *error) {
  const steading_water *water = site->water;
  memset(p, 0, sizeof *p);
  p->site = site;
  p->step_minutes = step_minutes;
  p->steps_per_year = (size_t)(STEADING_HOURS_PER_YEAR * 60 / step_minutes);
  p->start_day = start_day;
  p->layout = steading_layout_of_site(site);
  for (size_t f = 0; f < p->layout.fuels; f++) {
    p->fuel_names[f] = site->fuels->entries[f].name;
    p->fuels[f] = (const void *)site->fuels->entries[f].item;
  }
  for (size_t m = 0; m < p->layout.meters; m++) {
    p->meter_names[m] = site->meters->entries[m].name;
    p->meters[m] = (const void *)site->meters->entries[m].item;
  }
  if (p->layout.wells > 0) compile_water(p, water);
  return compile_hubs(p, site->hubs, error);
}

/* --- lots ----------------------------------------------------------------------------------------
 */

bool steading_lot_in_service(const steading_lot *lot, int64_t day) {
  if (steading_record_given(lot, "in_service") && lot->in_service > day) return false;
  return !steading_record_given(lot, "retired") || day < lot->retired;
}

double steading_lots_on(const steading_list *lots, int64_t day) {
  double count = 0;
  if (lots == NULL) return 1;
  for (size_t i = 0; i < lots->count; i++) {
    const steading_lot *lot = (const void *)lots->items[i];
    if (steading_lot_in_service(lot, day)) count += lot->count;
  }
  return count;
}

double steading_program_capacity_kwh(const steading_program *p, size_t hub, int64_t day) {
  const steading_program_hub *h = &p->hubs[hub];
  double kwh = 0;
  for (size_t b = h->first_battery; b < h->first_battery + h->battery_count; b++)
    kwh += steading_battery_capacity_kwh(p, b, day);
  return kwh;
}

double steading_program_nominal_kwh(const steading_program *p, size_t hub, int64_t day) {
  const steading_program_hub *h = &p->hubs[hub];
  double kwh = 0;
  for (size_t b = h->first_battery; b < h->first_battery + h->battery_count; b++)
    kwh += steading_battery_nominal_kwh(p, b, day);
  return kwh;
}

typedef struct changes {
  int64_t start, *days;
  size_t count, room;
} changes;

static void add_day(changes *c, int64_t day) {
  size_t at = 0;
  if (day <= c->start) return;
  while (at < c->count && c->days[at] < day) at++;
  if (at < c->count && c->days[at] == day) return;
  if (c->count == c->room) return;
  memmove(c->days + at + 1, c->days + at, (c->count - at) * sizeof *c->days);
  c->days[at] = day;
  c->count++;
}

static steading_status visit_change(void *context, const steading_lot *lot, const char *path,
                                    steading_error *error) {
  (void)path;
  (void)error;
  if (steading_record_given(lot, "in_service")) add_day(context, lot->in_service);
  if (steading_record_given(lot, "retired")) add_day(context, lot->retired);
  return STEADING_OK;
}

static steading_status visit_count(void *context, const steading_lot *lot, const char *path,
                                   steading_error *error) {
  (void)path;
  (void)error;
  (void)lot;
  *(size_t *)context += 2;
  return STEADING_OK;
}

size_t steading_program_changes(const steading_program *p, int64_t *days, size_t room) {
  changes c = {.start = p->start_day, .days = days, .room = room};
  size_t most = 0;
  if (days == NULL) {
    steading_site_each_lot(p->site, visit_count, &most, NULL);
    return most;
  }
  steading_site_each_lot(p->site, visit_change, &c, NULL);
  return c.count;
}

/* --- the parameters of a day ---------------------------------------------------------------------
 */

/* What a hub sheds while it has no grid. */
static void set_shed(const steading_rules *rules, double capacity_kwh, steading_hub_stretch *s) {
  if (rules == NULL || rules->shed == NULL) return;
  const double shares[STEADING_SHED_CLASSES] = {
      [STEADING_CLASS_ORDINARY] = rules->shed->ordinary,
      [STEADING_CLASS_DEFERRABLE] = rules->shed->deferrable,
      [STEADING_CLASS_SHEDDABLE] = rules->shed->sheddable};
  for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) {
    s->shed_kwh[c] = shares[c] * capacity_kwh;
    s->restore_kwh[c] =
        fmin((shares[c] + rules->shed->restore_above) * capacity_kwh,
             s->highest_kwh * (1 - 1e-9)); /* with a full battery all is served again */
  }
}

/* A unit that forms a grid by itself; its curve stays that of ac_kw. */
static void set_islanded(const steading_unit *unit, double units, steading_hub_stretch *s) {
  if (steading_record_given(unit, "islanded_kw")) s->ac_kw = unit->islanded_kw * units;
}

/* The battery of a hub whose store is one; no pieces of it without one. */
static void set_store(const steading_program *p, size_t i, int64_t day, steading_hub_stretch *s) {
  const steading_program_hub *h = &p->hubs[i];
  const steading_battery *battery = h->battery_count == 0 ? NULL : steading_battery_at(h->hub, 0);
  steading_pool pool =
      steading_pool_of(battery, battery == NULL ? 0 : steading_lots_on(battery->lots, day));
  if (battery != NULL && steading_health_has(p->health, h->first_battery))
    steading_health_set_pool(p->health, h->first_battery, day, &pool);
  s->charge_kw = pool.charge_kw;
  s->discharge_kw = pool.discharge_kw;
  s->efficiency_in = pool.efficiency_in;
  s->efficiency_out = pool.efficiency_out;
  s->standby_kw = pool.standby_kw;
  s->lowest_kwh = pool.lowest_share * pool.capacity_kwh;
  s->highest_kwh = pool.highest_share * pool.capacity_kwh;
}

static void set_hub(const steading_program *p, size_t i, int64_t day, int month,
                    steading_stretch *stretch) {
  const steading_program_hub *h = &p->hubs[i];
  const steading_unit *unit = h->hub->inverter->unit;
  const steading_rules *rules = h->hub->rules;
  steading_hub_stretch *s = &stretch->hubs[i];
  double units = steading_lots_on(h->hub->inverter->lots, day);
  double floor = rules == NULL ? 0 : rules->battery_floor;
  double capacity_kwh = steading_program_capacity_kwh(p, i, day);
  *s = (steading_hub_stretch){.meter = h->meter, .exports = h->exports ? 1 : 0};
  memcpy(s->order, h->order, sizeof s->order);
  if (units > 0) {
    steading_inverter_curve curve = steading_inverter_parallel(&h->curve, units);
    s->ac_kw = curve.rating_kw;
    s->idle_kw = curve.idle_kw;
    s->night_saving_kw = steading_inverter_night_saving_kw(unit, &h->curve) * units;
    s->b = curve.b;
    s->c_per_rating = curve.c / curve.rating_kw;
    s->pv_kw = unit->pv_kw * units;
    s->pass_through_kw = h->meter >= 0 ? unit->pass_through_kw * units : 0;
    s->import_margin_kw = h->hub->inverter->import_margin_w / 1000;
    s->transfers = h->hub->inverter->with_grid == STEADING_WITH_GRID_TRANSFERS ? 1 : 0;
    if (h->ac_coupled) {
      s->sun_charger_kw = unit->charge_from_grid_kw * units;
      s->charger_efficiency = unit->charge_efficiency;
    }
  }
  if (h->meter < 0) set_islanded(unit, units, s);
  if (p->layout.pools > 0)
    steading_batteries_set(p, i, day, stretch);
  else
    set_store(p, i, day, s);
  s->charge_kw = fmin(s->charge_kw, units > 0 ? unit->battery_kw * units : 0);
  s->discharge_kw = fmin(s->discharge_kw, units > 0 ? unit->battery_kw * units : 0);
  if (rules != NULL && h->meter < 0 && steading_record_given(rules, "outage_floor"))
    floor = rules->outage_floor; /* a hub without a meter lives in an outage */
  if (rules != NULL && h->meter >= 0) floor = fmax(floor, rules->reserve[month]);
  steading_batteries_set_floor(
      stretch, i, capacity_kwh, floor,
      rules == NULL
          ? (double)NAN
          : steading_record_or_else(rules, "resume_above", rules->resume_above, (double)NAN));
  if (h->meter < 0) set_shed(rules, capacity_kwh, s);
}

/* What a generator is beside its power: whether it runs is decided step by step. */
static void set_generator(const steading_generator *generator, int64_t day,
                          steading_hub_stretch *s) {
  if (generator == NULL) return;
  s->generator_carries = generator->role == STEADING_ROLE_CHARGES ? 0 : 1;
  if (generator->role == STEADING_ROLE_CARRIES) return;
  s->generator_charger_kw = generator->charger_kw * steading_lots_on(generator->lots, day);
  s->generator_charger_efficiency = generator->charger_efficiency;
}

static void set_water(const steading_program *p, int64_t day, int month, steading_stretch *s) {
  for (size_t w = 0; w < p->layout.wells; w++) {
    const steading_well *well = p->wells[w].well;
    double pumps = steading_lots_on(well->lots, day);
    steading_well_stretch *to = &s->wells[w];
    to->pump_kw = pumps * steading_pump_kw(well->flow_l_per_min, well->lift_m, well->efficiency);
    to->pump_l_per_step = pumps * well->flow_l_per_min * 60 * s->step_h;
    to->per_pump_l_per_step = to->pump_l_per_step > 0 ? 1 / to->pump_l_per_step : 0;
    to->per_pump_kw = to->pump_kw > 0 ? 1 / to->pump_kw : 0;
    to->hub = p->wells[w].hub;
    to->meter = p->wells[w].meter;
    to->first_tank = p->first_tank[w];
    to->tanks = p->tank_count[w];
  }
  for (size_t t = 0; t < p->layout.tanks; t++) {
    const steading_tank *tank = p->tanks[t].tank;
    steading_tank_stretch *to = &s->tanks[t];
    to->full_l = steading_lots_on(tank->lots, day) * tank->litres;
    to->start_l = tank->start_below * to->full_l;
    to->stop_l = tank->stop_above * to->full_l;
    to->surplus_l = tank->surplus_to * to->full_l;
    to->draw_l = steading_users_l_per_h(p->site->water->users, p->tanks[t].name, month) * s->step_h;
  }
}

void steading_program_stretch(const steading_program *p, int64_t day, int month,
                              steading_stretch *s) {
  s->step_h = p->step_minutes / 60.0;
  s->grid_free_below_kw = p->site->grid_free_below_kw;
  s->hub_count = p->layout.hubs;
  s->meter_count = p->layout.meters;
  s->well_count = p->layout.wells;
  s->tank_count = p->layout.tanks;
  s->generator_count = p->layout.generators;
  s->fuel_count = p->layout.fuels;
  s->pool_count = p->layout.pools;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    set_hub(p, i, day, month, s);
    set_generator(p->hubs[i].hub->generator, day, &s->hubs[i]);
  }
  for (size_t m = 0; m < p->layout.meters; m++)
    s->meters[m] = (steading_meter_stretch){.import_limit_kw = p->meters[m]->import_limit_kw,
                                            .export_limit_kw = p->meters[m]->export_limit_kw};
  set_water(p, day, month, s);
}

void steading_program_take_down(const steading_program *p, int64_t day, uint16_t down,
                                steading_stretch *s) {
  for (size_t m = 0; m < p->layout.meters; m++)
    if (down >> m & 1) s->meters[m] = (steading_meter_stretch){0};
  for (size_t i = 0; i < p->layout.hubs; i++) {
    steading_hub_stretch *h = &s->hubs[i];
    const steading_rules *rules = p->hubs[i].hub->rules;
    double floor = rules == NULL ? 0 : rules->battery_floor;
    if (h->meter < 0 || !(down >> h->meter & 1)) continue;
    if (rules != NULL && steading_record_given(rules, "outage_floor")) floor = rules->outage_floor;
    steading_batteries_set_floor(s, i, steading_program_capacity_kwh(p, i, day), floor,
                                 (double)NAN);
    set_islanded(p->hubs[i].hub->inverter->unit,
                 steading_lots_on(p->hubs[i].hub->inverter->lots, day), h);
    h->pass_through_kw = 0;
    h->import_margin_kw = 0;
    h->transfers = 0;
    h->charger_kw = h->charge_to_kwh = h->keep_kwh = h->holds = 0;
    h->keep_share = h->charge_to_share = 0;
    set_shed(rules, steading_program_capacity_kwh(p, i, day), h);
  }
}

bool steading_program_sheds(const steading_program *p) {
  for (size_t i = 0; i < p->layout.hubs; i++)
    if (p->hubs[i].hub->rules != NULL &&
        (p->hubs[i].hub->rules->shed != NULL || p->hubs[i].hub->rules->decide != NULL))
      return true;
  return false;
}

bool steading_program_has_modes(const steading_program *p) {
  for (size_t i = 0; i < p->layout.hubs; i++) {
    const steading_rules *rules = p->hubs[i].hub->rules;
    if (rules != NULL && p->hubs[i].meter >= 0 &&
        (rules->charge_from_grid != NULL || rules->raise_reserve != NULL ||
         rules->discharge_windows != NULL || rules->battery_use == STEADING_BATTERY_USE_OUTAGES))
      return true;
  }
  return false;
}

static void set_charger(const steading_program *p, size_t i, int64_t day, double capacity_kwh,
                        steading_stretch *stretch) {
  steading_hub_stretch *s = &stretch->hubs[i];
  const steading_inverter *inverter = p->hubs[i].hub->inverter;
  const steading_charge_from_grid *rule = p->hubs[i].hub->rules->charge_from_grid;
  double units = steading_lots_on(inverter->lots, day);
  s->charger_kw = fmin(inverter->unit->charge_from_grid_kw * units, rule->kw);
  s->charger_efficiency = inverter->unit->charge_efficiency;
  s->charge_to_share = rule->charge_to;
  s->charge_to_kwh = steading_batteries_kwh_at(stretch, i, capacity_kwh, rule->charge_to);
}

void steading_program_set_modes(const steading_program *p, int64_t day, uint64_t modes,
                                steading_stretch *s) {
  for (size_t i = 0; i < p->layout.hubs; i++, modes >>= STEADING_MODE_BITS) {
    double capacity = steading_program_capacity_kwh(p, i, day);
    if (modes & STEADING_MODE_CHARGES) set_charger(p, i, day, capacity, s);
    if (modes & STEADING_MODE_HOLDS) s->hubs[i].holds = 1;
    if (modes & STEADING_MODE_RAISED) {
      s->hubs[i].keep_share = p->hubs[i].hub->rules->raise_reserve->to;
      s->hubs[i].keep_kwh = steading_batteries_kwh_at(s, i, capacity, s->hubs[i].keep_share);
    }
  }
}
