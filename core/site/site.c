#include "site/site.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "nearest.h"
#include "resource/weather.h"
#include "site/batteries.h"

/* --- names -------------------------------------------------------------------------------------
 */

static steading_status find_name(const steading_map *map, const char *name, const char *what,
                                 const char *path, steading_error *error) {
  const char *names[96] = {NULL};
  size_t count = 0;
  int nearest = -1;
  if (steading_map_at(map, name) != NULL) return STEADING_OK;
  for (size_t i = 0; map != NULL && i < map->count && count < 96; i++)
    names[count++] = map->entries[i].name;
  nearest = steading_nearest_name(name, names, count);
  if (nearest >= 0)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "there is no %s '%s' (did you mean '%s'?)", what, name, names[nearest]);
  return steading_fail(error, STEADING_BAD_INPUT, path, "there is no %s '%s'%s%s", what, name,
                       count > 0 ? "; there is " : "", count > 0 ? names[0] : "");
}

static steading_status at_most(size_t found, size_t most, const char *path, const char *what,
                               steading_error *error) {
  if (found <= most) return STEADING_OK;
  return steading_fail(error, STEADING_BAD_INPUT, path, "found %zu %s, at most %zu", found, what,
                       most);
}

static size_t count_of(const steading_map *map) { return map == NULL ? 0 : map->count; }

static steading_status check_feeds(const steading_site *site, const char *kind, const char *name,
                                   const char *hub, const char *meter, steading_error *error) {
  char path[256];
  snprintf(path, sizeof path, "site.%s.%s.%s", kind, name, hub != NULL ? "hub" : "meter");
  if (hub != NULL) return find_name(site->hubs, hub, "hub", path, error);
  return find_name(site->meters, meter, "meter", path, error);
}

static bool fills_a_tank(const steading_water *water, const char *well) {
  for (size_t i = 0; i < count_of(water->tanks); i++)
    if (strcmp(((const steading_tank *)(void *)water->tanks->entries[i].item)->fed_by, well) == 0)
      return true;
  return false;
}

static steading_status check_water(const steading_site *site, steading_error *error) {
  const steading_water *water = site->water;
  steading_status status =
      at_most(count_of(water->wells), STEADING_MOST_WELLS, "site.water.wells", "wells", error);
  char path[256];
  if (status == STEADING_OK)
    status =
        at_most(count_of(water->tanks), STEADING_MOST_TANKS, "site.water.tanks", "tanks", error);
  for (size_t i = 0; status == STEADING_OK && i < count_of(water->wells); i++) {
    const steading_well *well = (const void *)water->wells->entries[i].item;
    status = check_feeds(site, "water.wells", water->wells->entries[i].name, well->hub, well->meter,
                         error);
  }
  for (size_t i = 0; status == STEADING_OK && i < count_of(water->tanks); i++) {
    const steading_tank *tank = (const void *)water->tanks->entries[i].item;
    snprintf(path, sizeof path, "site.water.tanks.%s.fed_by", water->tanks->entries[i].name);
    status = find_name(water->wells, tank->fed_by, "well", path, error);
  }
  for (size_t i = 0; status == STEADING_OK && i < count_of(water->wells); i++)
    if (!fills_a_tank(water, water->wells->entries[i].name))
      status = steading_fail(error, STEADING_BAD_INPUT, "site.water.tanks",
                             "the well '%s' fills no tank", water->wells->entries[i].name);
  for (size_t i = 0; status == STEADING_OK && i < count_of(water->users); i++) {
    const steading_user *user = (const void *)water->users->entries[i].item;
    snprintf(path, sizeof path, "site.water.users.%s.tank", water->users->entries[i].name);
    status = find_name(water->tanks, user->tank, "tank", path, error);
  }
  return status;
}

/* The name of a load of any kind, or NULL. */
static const char *load_name(const steading_record *load) {
  for (size_t i = 0; i < load->spec->field_count; i++) {
    const steading_field *field = &load->spec->fields[i];
    if (strcmp(field->name, "name") == 0 && field->kind != STEADING_FIELD_later)
      return *(char *const *)((const char *)load + field->offset);
  }
  return NULL;
}

static steading_status check_loads(const steading_building *building, const char *name,
                                   steading_error *error) {
  const steading_list *loads = building->loads;
  for (size_t i = 0; loads != NULL && i < loads->count; i++) {
    const char *called = load_name(loads->items[i]);
    char path[256];
    for (size_t k = 0; called != NULL && k < i; k++) {
      const char *other = load_name(loads->items[k]);
      if (other == NULL || strcmp(called, other) != 0) continue;
      snprintf(path, sizeof path, "site.buildings.%s.loads[%zu].name", name, i + 1);
      return steading_fail(error, STEADING_BAD_INPUT, path,
                           "loads[%zu] is called '%s' as well; two loads of a building need two "
                           "names",
                           k + 1, called);
    }
  }
  return STEADING_OK;
}

const steading_ageing *steading_site_ageing_of(const steading_site *site, const steading_lot *lot) {
  for (size_t h = 0; h < count_of(site->hubs); h++) {
    const steading_hub *hub = (const void *)site->hubs->entries[h].item;
    for (size_t b = 0; b < steading_batteries_of(hub); b++) {
      const steading_battery *battery = steading_battery_at(hub, b);
      if (battery->ageing == NULL || battery->lots == NULL) continue;
      for (size_t i = 0; i < battery->lots->count; i++)
        if ((const void *)battery->lots->items[i] == (const void *)lot) return battery->ageing;
    }
  }
  return NULL;
}

/* What is bought again: what has a life, and batteries that age. */
static steading_status check_replaced(void *context, const steading_lot *lot, const char *path,
                                      steading_error *error) {
  static const char *const names[] = {"replacement_price_each", "price_trend_per_year"};
  if (steading_record_given(lot, "life_years")) return STEADING_OK;
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    char where[256];
    if (!steading_record_given(lot, names[i]) || steading_site_ageing_of(context, lot) != NULL)
      continue;
    snprintf(where, sizeof where, "site.%.180s.%s", path, names[i]);
    return steading_fail(error, STEADING_BAD_INPUT, where,
                         "without life_years nothing is replaced");
  }
  return STEADING_OK;
}

/* What only a battery's lots can say. */
static steading_status check_component(void *context, const steading_component *component,
                                       steading_error *error) {
  (void)context;
  for (size_t i = 0; component->lots != NULL && i < component->lots->count; i++) {
    char path[256];
    if (strcmp(component->kind, "battery") == 0 ||
        !steading_record_has(component->lots->items[i], "delivered_charge"))
      continue;
    snprintf(path, sizeof path, "site.%s.lots[%zu].delivered_charge", component->path, i + 1);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "only the lots of a battery arrive with a charge");
  }
  return STEADING_OK;
}

/* Shares that the battery's own controller never lets it reach. */
static steading_status check_shares(const steading_hub *hub, const char *name,
                                    steading_error *error) {
  const steading_rules *rules = hub->rules;
  double usable[2];
  char path[256];
  if (hub->battery == NULL || rules == NULL) return STEADING_OK;
  steading_batteries_usable(hub, usable);
  if (rules->charge_from_grid != NULL && (rules->charge_from_grid->charge_to > usable[1] ||
                                          !(rules->charge_from_grid->charge_to > usable[0]))) {
    snprintf(path, sizeof path, "site.hubs.%s.rules.charge_from_grid.charge_to", name);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%.12g is outside the usable charge, %.12g to %.12g",
                         rules->charge_from_grid->charge_to, usable[0], usable[1]);
  }
  if (rules->raise_reserve != NULL && rules->raise_reserve->to > usable[1]) {
    snprintf(path, sizeof path, "site.hubs.%s.rules.raise_reserve.to", name);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%.12g is above the highest usable charge, %.12g",
                         rules->raise_reserve->to, usable[1]);
  }
  return STEADING_OK;
}

static steading_status check_hub(const steading_site *site, const char *name,
                                 const steading_hub *hub, steading_error *error) {
  double usable[2] = {0, 1};
  char path[256];
  steading_status status = STEADING_OK;
  snprintf(path, sizeof path, "site.hubs.%s.meter", name);
  if (hub->meter != NULL) status = find_name(site->meters, hub->meter, "meter", path, error);
  if (status != STEADING_OK) return status;
  snprintf(path, sizeof path, "site.hubs.%s.arrays", name);
  status = at_most(hub->arrays == NULL ? 0 : hub->arrays->count, STEADING_MOST_ARRAYS, path,
                   "arrays", error);
  if (status == STEADING_OK && hub->generator != NULL) {
    snprintf(path, sizeof path, "site.hubs.%s.generator.unit.fuel", name);
    status = find_name(site->fuels, hub->generator->unit->fuel, "fuel", path, error);
  }
  if (hub->battery != NULL) steading_batteries_usable(hub, usable);
  if (status == STEADING_OK && hub->battery != NULL && hub->rules != NULL &&
      hub->rules->battery_floor >= usable[1]) {
    snprintf(path, sizeof path, "site.hubs.%s.rules.battery_floor", name);
    status = steading_fail(error, STEADING_BAD_INPUT, path,
                           "%.12g leaves nothing below the highest usable charge, %.12g",
                           hub->rules->battery_floor, usable[1]);
  }
  return status == STEADING_OK ? check_shares(hub, name, error) : status;
}

static steading_status check_site(const steading_site *site, steading_error *error) {
  steading_status status =
      at_most(count_of(site->hubs), STEADING_MOST_HUBS, "site.hubs", "hubs", error);
  if (status == STEADING_OK)
    status = at_most(count_of(site->meters), STEADING_MOST_METERS, "site.meters", "meters", error);
  if (status == STEADING_OK)
    status = at_most(count_of(site->fuels), STEADING_MOST_FUELS, "site.fuels", "fuels", error);
  if (status == STEADING_OK)
    status = at_most(steading_site_batteries(site), STEADING_MOST_BATTERIES, "site.hubs",
                     "kinds of battery", error);
  for (size_t i = 0; status == STEADING_OK && i < count_of(site->hubs); i++)
    status = check_hub(site, site->hubs->entries[i].name, (const void *)site->hubs->entries[i].item,
                       error);
  for (size_t i = 0; status == STEADING_OK && i < count_of(site->buildings); i++) {
    const steading_building *building = (const void *)site->buildings->entries[i].item;
    const char *name = site->buildings->entries[i].name;
    status = check_feeds(site, "buildings", name, building->hub, building->meter, error);
    if (status == STEADING_OK) status = check_loads(building, name, error);
  }
  if (status == STEADING_OK && site->water != NULL) status = check_water(site, error);
  if (status == STEADING_OK)
    status = steading_site_each_component(site, check_component, NULL, error);
  if (status == STEADING_OK)
    status = steading_site_each_lot(site, check_replaced, (void *)site, error);
  return status;
}

/* --- making and changing -----------------------------------------------------------------------
 */

static steading_status finish(steading_status status, void *record, const steading_site **site,
                              steading_error *error) {
  *site = NULL;
  if (status == STEADING_OK) status = check_site(record, error);
  if (status != STEADING_OK) {
    steading_record_release(record);
    return status;
  }
  *site = record;
  return STEADING_OK;
}

steading_status steading_site_read(const steading_value *value, const steading_site **site,
                                   steading_error *error) {
  void *record = NULL;
  steading_status status = steading_spec_read(&steading_site_spec, value, "site", &record, error);
  return finish(status, record, site, error);
}

steading_status steading_site_with(const steading_site *site, size_t count,
                                   const char *const *paths, const steading_value *values,
                                   const steading_site **changed, steading_error *error) {
  void *made = NULL;
  steading_status status = STEADING_OK;
  if (count == 0) {
    *changed = NULL;
    return steading_fail(error, STEADING_BAD_INPUT, "with",
                         "nothing is changed (a field set to nil vanishes in Lua: use "
                         "steading.none to take one away)");
  }
  status = steading_spec_change(site, "site", count, paths, values, &made, error);
  return finish(status, made, changed, error);
}

steading_status steading_site_without(const steading_site *site, size_t count,
                                      const char *const *paths, const steading_site **changed,
                                      steading_error *error) {
  void *made = NULL;
  steading_status status = STEADING_OK;
  if (count == 0) {
    *changed = NULL;
    return steading_fail(error, STEADING_BAD_INPUT, "without",
                         "nothing is left out; expected { \"path\", ... }");
  }
  status = steading_spec_without(site, "site", count, paths, &made, error);
  return finish(status, made, changed, error);
}

/* The meter on which something on `hub` stands once the hub is gone. */
static steading_status meter_behind(const steading_site *site, const char *hub, char **meter,
                                    steading_error *error) {
  const steading_hub *found = steading_map_at(site->hubs, hub);
  if (found->meter == NULL)
    return steading_fail(error, STEADING_BAD_INPUT, "grid_only",
                         "the hub '%s' has no meter, so that nothing feeds its buildings without "
                         "it",
                         hub);
  *meter = strdup(found->meter);
  if (*meter == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "grid_only", "not enough memory");
  return STEADING_OK;
}

/* Copies of the records of a map in which `hub` has become `meter`. */
static steading_status off_the_hub(const steading_site *site, steading_map *map, size_t hub_at,
                                   size_t meter_at, steading_error *error) {
  for (size_t i = 0; i < map->count; i++) {
    steading_record *old = map->entries[i].item, *copy = NULL;
    char **hub = NULL, **meter = NULL;
    steading_status status = STEADING_OK;
    if (*(char **)((char *)old + hub_at) == NULL) continue;
    copy = steading_record_copy(old);
    if (copy == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "grid_only", "not enough memory");
    map->entries[i].item = copy;
    steading_record_release(old);
    hub = (char **)((char *)copy + hub_at);
    meter = (char **)((char *)copy + meter_at);
    status = meter_behind(site, *hub, meter, error);
    if (status != STEADING_OK) return status;
    free(*hub);
    *hub = NULL;
    for (size_t f = 0; f < copy->spec->field_count; f++) {
      if (strcmp(copy->spec->fields[f].name, "hub") == 0) copy->given &= ~(UINT64_C(1) << f);
      if (strcmp(copy->spec->fields[f].name, "meter") == 0) copy->given |= UINT64_C(1) << f;
    }
  }
  return STEADING_OK;
}

static steading_map *copy_map(const steading_map *map) {
  steading_map *copy = calloc(1, sizeof *copy + map->count * sizeof copy->entries[0]);
  if (copy == NULL) return NULL;
  copy->head = (steading_record){.spec = map->head.spec, .references = 1};
  for (size_t i = 0; i < map->count; i++) {
    char *name = strdup(map->entries[i].name);
    copy->entries[copy->count++] =
        (steading_map_entry){.name = name, .item = steading_record_keep(map->entries[i].item)};
    if (name == NULL) {
      steading_record_release(copy);
      return NULL;
    }
  }
  return copy;
}

static steading_status replace_map(const steading_site *site, const steading_map **place,
                                   size_t hub_at, size_t meter_at, steading_error *error) {
  steading_map *copy = NULL;
  if (*place == NULL) return STEADING_OK;
  copy = copy_map(*place);
  if (copy == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "grid_only", "not enough memory");
  steading_record_release(*place);
  *place = copy;
  return off_the_hub(site, copy, hub_at, meter_at, error);
}

steading_status steading_site_grid_only(const steading_site *site, const steading_site **changed,
                                        steading_error *error) {
  steading_site *copy = steading_record_copy(site);
  steading_status status = STEADING_OK;
  if (copy == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "grid_only", "not enough memory");
  status = replace_map(site, &copy->buildings, offsetof(steading_building, hub),
                       offsetof(steading_building, meter), error);
  if (status == STEADING_OK && copy->water != NULL) {
    steading_water *water = steading_record_copy(copy->water);
    if (water == NULL) {
      status = steading_fail(error, STEADING_NO_MEMORY, "grid_only", "not enough memory");
    } else {
      steading_record_release(copy->water);
      copy->water = water;
      status = replace_map(site, &water->wells, offsetof(steading_well, hub),
                           offsetof(steading_well, meter), error);
    }
  }
  steading_record_release(copy->hubs);
  steading_record_release(copy->works);
  steading_record_release(copy->fuels); /* only generators, on hubs, burn them */
  copy->hubs = NULL;
  copy->works = NULL;
  copy->fuels = NULL;
  for (size_t f = 0; f < copy->head.spec->field_count; f++) {
    const char *name = copy->head.spec->fields[f].name;
    if (strcmp(name, "hubs") == 0 || strcmp(name, "works") == 0 || strcmp(name, "fuels") == 0)
      copy->head.given &= ~(UINT64_C(1) << f);
  }
  return finish(status, copy, changed, error);
}

/* --- components and their lots
 * --------------------------------------------------------------------------
 */

double steading_lots_count(const steading_list *lots) {
  double count = 0;
  if (lots == NULL) return 1;
  for (size_t i = 0; i < lots->count; i++)
    count += ((const steading_lot *)(void *)lots->items[i])->count;
  return count;
}

typedef struct component_walk {
  steading_component_visit visit;
  void *context;
  steading_error *error;
} component_walk;

/* The component with these lots; `path` is printed from a format. */
static steading_status visit_component(const component_walk *w, const char *kind,
                                       const steading_list *lots, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static steading_status visit_component(const component_walk *w, const char *kind,
                                       const steading_list *lots, const char *format, ...) {
  char path[192];
  va_list list;
  va_start(list, format);
  vsnprintf(path, sizeof path, format, list);
  va_end(list);
  return w->visit(w->context, &(steading_component){.kind = kind, .path = path, .lots = lots},
                  w->error);
}

static steading_status walk_hub(const component_walk *w, const char *name,
                                const steading_hub *hub) {
  steading_status status =
      visit_component(w, "inverter", hub->inverter->lots, "hubs.%s.inverter", name);
  for (size_t a = 0; status == STEADING_OK && hub->arrays != NULL && a < hub->arrays->count; a++)
    status =
        visit_component(w, "array", ((const steading_array *)(void *)hub->arrays->items[a])->lots,
                        "hubs.%s.arrays[%zu]", name, a + 1);
  for (size_t b = 0; status == STEADING_OK && b < steading_batteries_of(hub); b++)
    status = visit_component(w, "battery", steading_battery_at(hub, b)->lots, "hubs.%s.%s", name,
                             steading_battery_path_of(hub, b).text);
  if (status == STEADING_OK && hub->generator != NULL)
    status = visit_component(w, "generator", hub->generator->lots, "hubs.%s.generator", name);
  return status;
}

steading_status steading_site_each_component(const steading_site *site,
                                             steading_component_visit visit, void *context,
                                             steading_error *error) {
  const component_walk w = {.visit = visit, .context = context, .error = error};
  const steading_water *water = site->water;
  steading_status status = STEADING_OK;
  for (size_t i = 0; status == STEADING_OK && i < count_of(site->hubs); i++)
    status = walk_hub(&w, site->hubs->entries[i].name, (const void *)site->hubs->entries[i].item);
  for (size_t i = 0; status == STEADING_OK && water != NULL && i < count_of(water->wells); i++)
    status = visit_component(&w, "well",
                             ((const steading_well *)(void *)water->wells->entries[i].item)->lots,
                             "water.wells.%s", water->wells->entries[i].name);
  for (size_t i = 0; status == STEADING_OK && water != NULL && i < count_of(water->tanks); i++)
    status = visit_component(&w, "tank",
                             ((const steading_tank *)(void *)water->tanks->entries[i].item)->lots,
                             "water.tanks.%s", water->tanks->entries[i].name);
  return status;
}

typedef struct lot_walk {
  steading_lot_visit visit;
  void *context;
} lot_walk;

static steading_status visit_lots(void *context, const steading_component *component,
                                  steading_error *error) {
  const lot_walk *w = context;
  for (size_t i = 0; component->lots != NULL && i < component->lots->count; i++) {
    char where[256];
    steading_status status = STEADING_OK;
    snprintf(where, sizeof where, "%s.lots[%zu]", component->path, i + 1);
    status = w->visit(w->context, (const void *)component->lots->items[i], where, error);
    if (status != STEADING_OK) return status;
  }
  return STEADING_OK;
}

steading_status steading_site_each_lot(const steading_site *site, steading_lot_visit visit,
                                       void *context, steading_error *error) {
  lot_walk w = {.visit = visit, .context = context};
  return steading_site_each_component(site, visit_lots, &w, error);
}

typedef struct earliest {
  bool found;
  int64_t day;
} earliest;

static void earlier(earliest *e, int64_t day) {
  if (!e->found || day < e->day) e->day = day;
  e->found = true;
}

static steading_status visit_earliest(void *context, const steading_lot *lot, const char *path,
                                      steading_error *error) {
  (void)path;
  (void)error;
  if (steading_record_given(lot, "in_service")) earlier(context, lot->in_service);
  return STEADING_OK;
}

bool steading_site_earliest(const steading_site *site, int64_t *day_number) {
  earliest e = {.found = false};
  int year = 0, month = 0, day = 0;
  steading_site_each_lot(site, visit_earliest, &e, NULL);
  for (size_t i = 0; site->works != NULL && i < site->works->count; i++) {
    const steading_works *works = (const void *)site->works->items[i];
    if (steading_record_given(works, "date")) earlier(&e, works->date);
  }
  if (!e.found) return false;
  steading_date_of_day(e.day, &year, &month, &day);
  *day_number = steading_day_number(year, month, 1);
  return true;
}
