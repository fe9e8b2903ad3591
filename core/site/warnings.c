/* What is allowed and usually a mistake, seen from the site alone. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "resource/weather.h"
#include "site/batteries.h"
#include "site/site.h"
#include "site/window.h"

typedef struct warner {
  const steading_site *site;
  steading_warning_list to;
} warner;

/* --- purchases ---------------------------------------------------------------------------------
 */

static steading_status warn_lots(void *context, const steading_component *component,
                                 steading_error *error) {
  warner *w = context;
  (void)error;
  if (component->lots == NULL)
    steading_warn(&w->to, "no_lots", component->path,
                  "no lots: one piece is there from the start, and an appraisal leaves it out");
  else if (component->lots->count == 0)
    steading_warn(&w->to, "empty_lots", component->path,
                  "lots = {}: not a single piece of it is there");
  return STEADING_OK;
}

static steading_status warn_lot(void *context, const steading_lot *lot, const char *path,
                                steading_error *error) {
  warner *w = context;
  (void)error;
  if (!steading_record_has(lot, "price_each") && !steading_record_has(lot, "price_lot"))
    steading_warn(&w->to, "no_price", path,
                  "no price: an appraisal leaves it out (price_each = 0 if it is paid for)");
  else if (!steading_record_has(lot, "life_years") && steading_site_ageing_of(w->site, lot) == NULL)
    steading_warn(&w->to, "no_life", path, "no life_years: it is bought once and never again");
  return STEADING_OK;
}

/* --- hubs --------------------------------------------------------------------------------------
 */

static void warn_arrays(warner *w, const char *name, const steading_hub *hub) {
  const double latitude = w->site->weather->place.latitude_deg;
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    const double from_south = fabs(array->azimuth_deg - 180);
    double flattest = array->tilt_deg[0];
    char path[128];
    for (int m = 1; m < 12; m++) flattest = fmin(flattest, array->tilt_deg[m]);
    snprintf(path, sizeof path, "hubs.%s.arrays[%zu]", name, a + 1);
    if (array->tracking == NULL && flattest >= 10 && fabs(latitude) > 23.5 &&
        (latitude > 0 ? from_south > 100 : from_south < 80))
      steading_warn(&w->to, "faces_away", path, "faces away from the equator at latitude %.4g",
                    latitude);
  }
}

static bool has_arrays(const steading_hub *hub) {
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++)
    if (steading_lots_count(((const steading_array *)(void *)hub->arrays->items[a])->lots) > 0)
      return true;
  return false;
}

static bool is_ac_coupled(const steading_array *array) {
  return array->coupled == STEADING_COUPLED_AC && steading_lots_count(array->lots) > 0;
}

static bool has_ac_coupled(const steading_hub *hub) {
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++)
    if (is_ac_coupled((const void *)hub->arrays->items[a])) return true;
  return false;
}

/* Inverters that follow a grid beside units that are to form one. */
static void warn_ac_coupled(warner *w, const char *name, const steading_hub *hub, bool battery) {
  const steading_unit *unit = hub->inverter->unit;
  const steading_meter *meter = steading_map_at(w->site->meters, hub->meter);
  bool islands = meter == NULL || steading_record_has(meter, "outages");
  double units_kw = unit->ac_kw * steading_lots_count(hub->inverter->lots), sun_kw = 0;
  char path[128];
  if (!has_ac_coupled(hub)) return;
  for (size_t a = 0; a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    const steading_own_inverter *own = array->own_inverter;
    if (!is_ac_coupled(array)) continue;
    sun_kw += own != NULL && steading_record_given(own, "ac_kw")
                  ? own->ac_kw
                  : array->module->watts * steading_lots_count(array->lots) / 1000;
  }
  snprintf(path, sizeof path, "hubs.%s.arrays", name);
  if (islands && sun_kw > units_kw)
    steading_warn(&w->to, "ac_sun_above_units", path,
                  "AC-coupled arrays of %.4g kW beside units of %.4g kW: without a grid the units "
                  "must take in all that loads suddenly leave (common practice, no source); "
                  "screening only: local code and licensed practice decide",
                  sun_kw, units_kw);
  snprintf(path, sizeof path, "hubs.%s.inverter.unit.charge_from_grid_kw", name);
  if (battery && !(unit->charge_from_grid_kw > 0))
    steading_warn(&w->to, "ac_sun_not_stored", path,
                  "is 0: the unit cannot charge from AC, so that the battery never gets any sun of "
                  "AC-coupled arrays");
}

/* Rules for outages beside a meter that never has one. */
static void warn_outage_rules(warner *w, const char *name, const steading_hub *hub) {
  static const char *const rules[] = {"reserve", "outage_floor", "raise_reserve", "battery_use",
                                      "shed"};
  const steading_meter *meter = steading_map_at(w->site->meters, hub->meter);
  if (hub->rules == NULL || meter == NULL || steading_record_has(meter, "outages")) return;
  for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
    char path[128];
    if (!steading_record_has(hub->rules, rules[i])) continue;
    if (strcmp(rules[i], "battery_use") == 0 &&
        hub->rules->battery_use == STEADING_BATTERY_USE_DAILY)
      continue;
    snprintf(path, sizeof path, "hubs.%s.rules.%s", name, rules[i]);
    steading_warn(&w->to, "no_outages", path,
                  "is set, and the meter '%s' has no outages: in a run it can only cost",
                  hub->meter);
  }
}

/* Rules without what they speak of. */
static void warn_battery_rules(warner *w, const char *name, const steading_hub *hub) {
  static const char *const rules[] = {"raise_reserve", "battery_use", "discharge_windows",
                                      "charge_from_grid", "shed"};
  char path[128];
  for (size_t i = 0; hub->rules != NULL && i < sizeof rules / sizeof rules[0]; i++) {
    if (hub->battery != NULL || !steading_record_has(hub->rules, rules[i])) continue;
    snprintf(path, sizeof path, "hubs.%s.rules.%s", name, rules[i]);
    steading_warn(&w->to, "no_effect", path, "has no effect: the hub has no battery");
  }
  snprintf(path, sizeof path, "hubs.%s.inverter.unit.charge_from_grid_kw", name);
  if (hub->inverter->unit->charge_from_grid_kw > 0 && !has_ac_coupled(hub) &&
      (hub->rules == NULL || (hub->rules->charge_from_grid == NULL && hub->rules->decide == NULL)))
    steading_warn(&w->to, "no_effect", path,
                  "has no effect: rules.charge_from_grid says when, and is absent");
  snprintf(path, sizeof path, "hubs.%s.rules.raise_reserve", name);
  if (hub->rules != NULL && hub->rules->raise_reserve != NULL && !has_arrays(hub))
    steading_warn(&w->to, "always_raised", path,
                  "the hub has no arrays, so that no sun is ever expected: the reserve is always "
                  "raised");
}

/* Whether any load on a hub is of a class. */
static bool has_class(const steading_site *site, const char *hub, int class_of_load) {
  for (size_t b = 0; site->buildings != NULL && b < site->buildings->count; b++) {
    const steading_building *building = (const void *)site->buildings->entries[b].item;
    if (building->hub == NULL || strcmp(building->hub, hub) != 0) continue;
    for (size_t i = 0; building->loads != NULL && i < building->loads->count; i++)
      if (steading_load_class(building->loads->items[i]) == class_of_load) return true;
  }
  return false;
}

/* Classes that a rule sheds and no load of the hub is of. */
static void warn_shed(warner *w, const char *name, const steading_hub *hub) {
  for (int c = 0; c < STEADING_SHED_CLASSES; c++) {
    char path[128];
    if (hub->rules == NULL || hub->rules->shed == NULL ||
        !steading_record_has(hub->rules->shed, steading_choices_class[c]) ||
        has_class(w->site, name, c))
      continue;
    snprintf(path, sizeof path, "hubs.%s.rules.shed.%s", name, steading_choices_class[c]);
    steading_warn(&w->to, "no_effect", path, "has no effect: no load of the hub is of this class");
  }
}

static void warn_hub(warner *w, const char *name, const steading_hub *hub) {
  char path[128];
  bool battery = steading_batteries_bought(hub) > 0;
  warn_arrays(w, name, hub);
  snprintf(path, sizeof path, "hubs.%s.rules.battery_floor", name);
  if (hub->battery == NULL && hub->rules != NULL &&
      steading_record_has(hub->rules, "battery_floor"))
    steading_warn(&w->to, "no_effect", path, "has no effect: the hub has no battery");
  for (size_t i = 0; i < steading_batteries_of(hub); i++) {
    const steading_battery *b = steading_battery_at(hub, i);
    snprintf(path, sizeof path, "hubs.%s.%s.room", name, steading_battery_path_of(hub, i).text);
    if (b->room != NULL && b->ageing == NULL && b->module->charge_share_at_c == NULL &&
        b->module->usable_share_at_c == NULL && !(b->room->heater_w > 0))
      steading_warn(&w->to, "no_effect", path,
                    "has no effect: the battery does not age, and its module has neither "
                    "charge_share_at_c nor usable_share_at_c");
  }
  snprintf(path, sizeof path, "hubs.%s.battery", name);
  if (steading_batteries_of(hub) > 1)
    steading_warn(&w->to, "kinds_mixed", path,
                  "batteries of several kinds: each needs its own voltages of charge, and makers "
                  "forbid most mixtures on one bus; see the makers' sheets");
  snprintf(path, sizeof path, "hubs.%s.inverter.unit.pass_through_kw", name);
  if (hub->meter == NULL && steading_record_has(hub->inverter->unit, "pass_through_kw"))
    steading_warn(&w->to, "no_effect", path, "has no effect: the hub has no meter");
  snprintf(path, sizeof path, "hubs.%s.inverter.unit.islanded_kw", name);
  if (hub->meter != NULL && steading_record_has(hub->inverter->unit, "islanded_kw") &&
      !steading_record_has(steading_map_at(w->site->meters, hub->meter), "outages"))
    steading_warn(&w->to, "no_outages", path,
                  "is set, and the meter '%s' has no outages: only site:ride_through knows of it",
                  hub->meter);
  snprintf(path, sizeof path, "hubs.%s", name);
  if (!has_arrays(hub) && !battery && !steading_record_has(hub, "generator") &&
      !steading_record_has(hub, "sources") && steading_lots_count(hub->inverter->lots) > 0)
    steading_warn(
        &w->to, "idle_hub", path,
        "has neither array nor battery: its inverter only draws its idle power; site:grid_only() "
        "is without");
  warn_outage_rules(w, name, hub);
  warn_battery_rules(w, name, hub);
  warn_ac_coupled(w, name, hub, battery);
  warn_shed(w, name, hub);
}

/* --- water -------------------------------------------------------------------------------------
 */

/* Only where a well's yield can be given. */
static bool can_run_low(void) {
  for (size_t i = 0; i < steading_well_spec.field_count; i++) {
    const steading_field *field = &steading_well_spec.fields[i];
    if (strcmp(field->name, "recovery_l_per_h") == 0) return field->kind != STEADING_FIELD_later;
  }
  return false;
}

static void warn_water(warner *w, const steading_water *water) {
  char path[128];
  for (size_t i = 0; water->wells != NULL && i < water->wells->count; i++) {
    snprintf(path, sizeof path, "water.wells.%s", water->wells->entries[i].name);
    if (can_run_low() && !steading_record_has(water->wells->entries[i].item, "recovery_l_per_h"))
      steading_warn(&w->to, "endless_well", path, "no recovery_l_per_h: the well never runs low");
  }
  for (size_t i = 0; water->tanks != NULL && i < water->tanks->count; i++) {
    const steading_tank *tank = (const void *)water->tanks->entries[i].item;
    const steading_well *well = steading_map_at(water->wells, tank->fed_by);
    snprintf(path, sizeof path, "water.tanks.%s", water->tanks->entries[i].name);
    if (well->meter != NULL && steading_record_has(tank, "surplus_to"))
      steading_warn(&w->to, "no_effect", path,
                    "surplus_to has no effect: its pump stands on the meter");
  }
}

/* --- meters ------------------------------------------------------------------------------------
 */

static bool limits_days(const steading_windows *windows) {
  enum { ALL_DAYS = 0x7f };
  for (size_t i = 0; windows != NULL && i < windows->count; i++)
    if (windows->items[i].days != ALL_DAYS) return true;
  return false;
}

/* Whether a window that holds on some days of the week only stands anywhere in a record. */
static bool knows_days(const steading_record *record) {
  for (size_t i = 0; i < record->spec->field_count; i++) {
    const steading_field *field = &record->spec->fields[i];
    const void *place = (const char *)record + field->offset;
    const steading_list *list = NULL;
    switch (field->kind) {
      case STEADING_FIELD_windows:
      case STEADING_FIELD_window_part:
        if (limits_days(*(const steading_windows *const *)place)) return true;
        break;
      case STEADING_FIELD_record:
      case STEADING_FIELD_listed:
        if (*(steading_record *const *)place != NULL &&
            knows_days(*(steading_record *const *)place))
          return true;
        break;
      case STEADING_FIELD_list:
      case STEADING_FIELD_several:
      case STEADING_FIELD_variants:
        list = *(const steading_list *const *)place;
        for (size_t k = 0; list != NULL && k < list->count; k++)
          if (knows_days(list->items[k])) return true;
        break;
      default:
        break;
    }
  }
  return false;
}

static void warn_meter(warner *w, const char *name, const steading_meter *meter) {
  char path[128];
  snprintf(path, sizeof path, "meters.%s", name);
  if (meter->tariff == NULL)
    steading_warn(&w->to, "no_tariff", path, "no tariff: there is no bill");
  if (meter->export_limit_kw > 0 &&
      (meter->tariff == NULL || !steading_record_has(meter->tariff, "export")))
    steading_warn(&w->to, "export_unpaid", path,
                  "what is exported earns nothing: the tariff has no export");
  snprintf(path, sizeof path, "meters.%s.tariff.holidays", name);
  if (meter->tariff != NULL && steading_record_has(meter->tariff, "holidays") &&
      !knows_days(&meter->tariff->head))
    steading_warn(&w->to, "no_effect", path,
                  "has no effect: no price differs by the day of the week");
  snprintf(path, sizeof path, "meters.%s.tariff", name);
  if (meter->tariff != NULL && !steading_record_has(meter->tariff, "holidays") &&
      knows_days(&meter->tariff->head))
    steading_warn(
        &w->to, "no_holidays", path,
        "prices differ by the day of the week and no holidays are listed: a holiday is priced as "
        "its weekday (holidays = {} if that is so)");
}

/* --- loads -------------------------------------------------------------------------------------
 */

static bool is_level(const double *shape) {
  for (int h = 1; h < 24; h++)
    if (shape[h] != shape[0]) return false;
  return true;
}

/* The first daily load of a building that follows this shape (any, if NULL) and is no level line
 * and no random day. */
static const steading_load_daily *shaped_load(const steading_building *building,
                                              const double *shape) {
  for (size_t i = 0; building->loads != NULL && i < building->loads->count; i++) {
    const steading_record *load = building->loads->items[i];
    const steading_load_daily *daily = (const void *)load;
    if (load->spec != &steading_load_daily_spec || is_level(daily->shape) ||
        !(daily->kwh_per_day > 0) || steading_record_has(load, "stochastic"))
      continue;
    if (shape == NULL || memcmp(shape, daily->shape, sizeof daily->shape) == 0) return daily;
  }
  return NULL;
}

/* Buildings whose loads rise and fall together: said once a shape, at the first building of it. */
static void warn_shapes(warner *w) {
  const steading_map *all = w->site->buildings;
  for (size_t i = 0; all != NULL && i < all->count; i++) {
    const steading_load_daily *load = shaped_load((const void *)all->entries[i].item, NULL);
    size_t sharing = 0;
    bool told = false;
    if (load == NULL) continue;
    for (size_t k = 0; k < all->count; k++) {
      bool shares = shaped_load((const void *)all->entries[k].item, load->shape) != NULL;
      sharing += shares;
      told = told || (shares && k < i);
    }
    if (sharing > 1 && !told)
      steading_warn(
          &w->to, "one_shape", "buildings",
          "the loads of %zu buildings share one shape: their peaks coincide by construction; give "
          "each its own before sizing by peaks",
          sharing);
  }
}

/* --- all of them ---------------------------------------------------------------------------------
 */

size_t steading_site_warnings(const steading_site *site, steading_warning *warnings) {
  warner w = {.site = site, .to = {.items = warnings, .room = STEADING_MOST_WARNINGS}};
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++)
    warn_hub(&w, site->hubs->entries[i].name, (const void *)site->hubs->entries[i].item);
  if (site->water != NULL) warn_water(&w, site->water);
  steading_site_each_component(site, warn_lots, &w, NULL);
  steading_site_each_lot(site, warn_lot, &w, NULL);
  for (size_t i = 0; site->meters != NULL && i < site->meters->count; i++)
    warn_meter(&w, site->meters->entries[i].name, (const void *)site->meters->entries[i].item);
  warn_shapes(&w);
  return steading_warnings_written(&w.to);
}

size_t steading_step_warnings(const steading_site *site, double step_minutes,
                              steading_warning *warnings, size_t room) {
  warner w = {.site = site, .to = {.items = warnings, .room = room}};
  const double weather_minutes = site->weather->step_minutes;
  if (step_minutes < weather_minutes)
    steading_warn(
        &w.to, "finer_than_data", "simulate.step_minutes",
        "steps of %.12g minutes on weather of %.12g: no cloud edges and no appliance peaks are in "
        "it",
        step_minutes, weather_minutes);
  return steading_warnings_written(&w.to);
}
