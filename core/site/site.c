#include "site/site.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "nearest.h"
#include "resource/weather.h"

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

static steading_status only_one(const steading_map *map, const char *path, const char *what,
                                steading_error *error) {
  if (map == NULL || map->count <= 1) return STEADING_OK;
  return steading_fail(error, STEADING_NOT_YET, path, "found %zu, this version carries out one %s",
                       map->count, what);
}

static steading_status check_feeds(const steading_site *site, const char *kind, const char *name,
                                   const char *hub, const char *meter, steading_error *error) {
  char path[256];
  snprintf(path, sizeof path, "site.%s.%s.%s", kind, name, hub != NULL ? "hub" : "meter");
  if (hub != NULL) return find_name(site->hubs, hub, "hub", path, error);
  return find_name(site->meters, meter, "meter", path, error);
}

static steading_status check_water(const steading_site *site, steading_error *error) {
  const steading_water *water = site->water;
  steading_status status = only_one(water->wells, "site.water.wells", "well", error);
  char path[256];
  if (status == STEADING_OK) status = only_one(water->tanks, "site.water.tanks", "tank", error);
  for (size_t i = 0; status == STEADING_OK && water->wells != NULL && i < water->wells->count;
       i++) {
    const steading_well *well = (const void *)water->wells->entries[i].item;
    status = check_feeds(site, "water.wells", water->wells->entries[i].name, well->hub, well->meter,
                         error);
    if (status == STEADING_OK && (water->tanks == NULL || water->tanks->count == 0))
      status = steading_fail(error, STEADING_BAD_INPUT, "site.water.tanks",
                             "the well '%s' fills no tank", water->wells->entries[i].name);
  }
  for (size_t i = 0; status == STEADING_OK && water->tanks != NULL && i < water->tanks->count;
       i++) {
    const steading_tank *tank = (const void *)water->tanks->entries[i].item;
    snprintf(path, sizeof path, "site.water.tanks.%s.fed_by", water->tanks->entries[i].name);
    status = find_name(water->wells, tank->fed_by, "well", path, error);
  }
  for (size_t i = 0; status == STEADING_OK && water->users != NULL && i < water->users->count;
       i++) {
    const steading_user *user = (const void *)water->users->entries[i].item;
    snprintf(path, sizeof path, "site.water.users.%s.tank", water->users->entries[i].name);
    status = find_name(water->tanks, user->tank, "tank", path, error);
  }
  return status;
}

static steading_status check_site(const steading_site *site, steading_error *error) {
  steading_status status = only_one(site->hubs, "site.hubs", "hub", error);
  char path[256];
  if (status == STEADING_OK) status = only_one(site->meters, "site.meters", "meter", error);
  for (size_t i = 0; status == STEADING_OK && site->hubs != NULL && i < site->hubs->count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    snprintf(path, sizeof path, "site.hubs.%s.meter", site->hubs->entries[i].name);
    if (hub->meter != NULL) status = find_name(site->meters, hub->meter, "meter", path, error);
    if (status == STEADING_OK && hub->battery != NULL && hub->rules != NULL &&
        hub->rules->battery_floor >= hub->battery->module->usable[1]) {
      snprintf(path, sizeof path, "site.hubs.%s.rules.battery_floor", site->hubs->entries[i].name);
      status = steading_fail(error, STEADING_BAD_INPUT, path,
                             "%.12g leaves nothing below the highest usable charge, %.12g",
                             hub->rules->battery_floor, hub->battery->module->usable[1]);
    }
  }
  for (size_t i = 0; status == STEADING_OK && site->buildings != NULL && i < site->buildings->count;
       i++) {
    const steading_building *building = (const void *)site->buildings->entries[i].item;
    status = check_feeds(site, "buildings", site->buildings->entries[i].name, building->hub,
                         building->meter, error);
  }
  if (status == STEADING_OK && site->water != NULL) status = check_water(site, error);
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
  void *now = steading_record_keep(site);
  steading_status status = STEADING_OK;
  if (count == 0)
    status = steading_fail(error, STEADING_BAD_INPUT, "with",
                           "nothing is changed (a field set to nil vanishes in Lua: use "
                           "steading.none to take one away)");
  for (size_t i = 0; status == STEADING_OK && i < count; i++) {
    void *next = NULL;
    status = steading_spec_change(now, "site", paths[i], &values[i], &next, error);
    if (status == STEADING_OK) {
      steading_record_release(now);
      now = next;
    }
  }
  return finish(status, now, changed, error);
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
  copy->hubs = NULL;
  copy->works = NULL;
  return finish(status, copy, changed, error);
}

static const void *only_item(const steading_map *map) {
  return map != NULL && map->count > 0 ? map->entries[0].item : NULL;
}

const steading_hub *steading_site_hub(const steading_site *site) { return only_item(site->hubs); }

const steading_meter *steading_site_meter(const steading_site *site) {
  return only_item(site->meters);
}

/* --- walking the lots --------------------------------------------------------------------------
 */

double steading_lots_count(const steading_list *lots) {
  double count = 0;
  if (lots == NULL) return 1;
  for (size_t i = 0; i < lots->count; i++)
    count += ((const steading_lot *)(void *)lots->items[i])->count;
  return count;
}

typedef struct walk {
  steading_lot_visit visit;
  void *context;
  steading_error *error;
} walk;

static steading_status walk_lots(const walk *w, const steading_list *lots, const char *path) {
  for (size_t i = 0; lots != NULL && i < lots->count; i++) {
    char where[256];
    steading_status status = STEADING_OK;
    snprintf(where, sizeof where, "%s.lots[%zu]", path, i + 1);
    status = w->visit(w->context, (const void *)lots->items[i], where, w->error);
    if (status != STEADING_OK) return status;
  }
  return STEADING_OK;
}

steading_status steading_site_each_lot(const steading_site *site, steading_lot_visit visit,
                                       void *context, steading_error *error) {
  walk w = {.visit = visit, .context = context, .error = error};
  const steading_water *water = site->water;
  steading_status status = STEADING_OK;
  char path[192];
  for (size_t i = 0; status == STEADING_OK && site->hubs != NULL && i < site->hubs->count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    const char *name = site->hubs->entries[i].name;
    snprintf(path, sizeof path, "hubs.%s.inverter", name);
    status = walk_lots(&w, hub->inverter->lots, path);
    for (size_t a = 0; status == STEADING_OK && hub->arrays != NULL && a < hub->arrays->count;
         a++) {
      const steading_array *array = (const void *)hub->arrays->items[a];
      snprintf(path, sizeof path, "hubs.%s.arrays[%zu]", name, a + 1);
      status = walk_lots(&w, array->lots, path);
    }
    snprintf(path, sizeof path, "hubs.%s.battery", name);
    if (status == STEADING_OK && hub->battery != NULL)
      status = walk_lots(&w, hub->battery->lots, path);
  }
  for (size_t i = 0;
       status == STEADING_OK && water != NULL && water->wells != NULL && i < water->wells->count;
       i++) {
    snprintf(path, sizeof path, "water.wells.%s", water->wells->entries[i].name);
    status =
        walk_lots(&w, ((const steading_well *)(void *)water->wells->entries[i].item)->lots, path);
  }
  for (size_t i = 0;
       status == STEADING_OK && water != NULL && water->tanks != NULL && i < water->tanks->count;
       i++) {
    snprintf(path, sizeof path, "water.tanks.%s", water->tanks->entries[i].name);
    status =
        walk_lots(&w, ((const steading_tank *)(void *)water->tanks->entries[i].item)->lots, path);
  }
  return status;
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

/* --- warnings ----------------------------------------------------------------------------------
 */

typedef struct warner {
  steading_warning *list;
  size_t count;
} warner;

static void warn(warner *w, const char *code, const char *path, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static void warn(warner *w, const char *code, const char *path, const char *format, ...) {
  va_list list;
  steading_warning *to = NULL;
  if (w->count >= STEADING_MOST_WARNINGS) return;
  to = &w->list[w->count++];
  snprintf(to->code, sizeof to->code, "%s", code);
  snprintf(to->path, sizeof to->path, "%s", path);
  va_start(list, format);
  vsnprintf(to->text, sizeof to->text, format, list);
  va_end(list);
}

static steading_status visit_warn(void *context, const steading_lot *lot, const char *path,
                                  steading_error *error) {
  warner *w = context;
  bool priced = steading_record_given(lot, "price_each") || steading_record_given(lot, "price_lot");
  (void)error;
  if (!priced)
    warn(w, "no_price", path,
         "no price: an appraisal leaves it out (price_each = 0 if it is paid for)");
  else if (!steading_record_given(lot, "life_years"))
    warn(w, "no_life", path, "no life_years: it is bought once and never again");
  return STEADING_OK;
}

static void warn_no_lots(warner *w, const steading_list *lots, const char *path) {
  if (lots != NULL && lots->count == 0)
    warn(w, "empty_lots", path, "lots = {}: not a single piece of it is there");
  if (lots == NULL)
    warn(w, "no_lots", path,
         "no lots: one piece is there from the start, and an appraisal leaves it out");
}

static void warn_hub(warner *w, const steading_site *site, const char *name,
                     const steading_hub *hub) {
  char path[128];
  double latitude = site->weather->place.latitude_deg;
  snprintf(path, sizeof path, "hubs.%s.inverter", name);
  warn_no_lots(w, hub->inverter->lots, path);
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    double from_south = fabs(array->azimuth_deg - 180);
    snprintf(path, sizeof path, "hubs.%s.arrays[%zu]", name, a + 1);
    warn_no_lots(w, array->lots, path);
    if (array->tilt_deg >= 10 && fabs(latitude) > 23.5 &&
        (latitude > 0 ? from_south > 100 : from_south < 80))
      warn(w, "faces_away", path, "faces away from the equator at latitude %.4g", latitude);
  }
  snprintf(path, sizeof path, "hubs.%s.rules.battery_floor", name);
  if (hub->battery == NULL && hub->rules != NULL &&
      steading_record_given(hub->rules, "battery_floor"))
    warn(w, "no_effect", path, "has no effect: the hub has no battery");
  snprintf(path, sizeof path, "hubs.%s.inverter.unit.pass_through_kw", name);
  if (hub->meter == NULL && steading_record_given(hub->inverter->unit, "pass_through_kw"))
    warn(w, "no_effect", path, "has no effect: the hub has no meter");
  snprintf(path, sizeof path, "hubs.%s.battery", name);
  if (hub->battery != NULL) warn_no_lots(w, hub->battery->lots, path);
}

size_t steading_site_warnings(const steading_site *site, steading_warning *warnings) {
  warner w = {.list = warnings};
  const steading_water *water = site->water;
  char path[128];
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++)
    warn_hub(&w, site, site->hubs->entries[i].name, (const void *)site->hubs->entries[i].item);
  for (size_t i = 0; water != NULL && water->wells != NULL && i < water->wells->count; i++) {
    snprintf(path, sizeof path, "water.wells.%s", water->wells->entries[i].name);
    warn_no_lots(&w, ((const steading_well *)(void *)water->wells->entries[i].item)->lots, path);
  }
  for (size_t i = 0; water != NULL && water->tanks != NULL && i < water->tanks->count; i++) {
    snprintf(path, sizeof path, "water.tanks.%s", water->tanks->entries[i].name);
    const steading_tank *tank = (const void *)water->tanks->entries[i].item;
    const steading_well *well = steading_map_at(water->wells, tank->fed_by);
    warn_no_lots(&w, tank->lots, path);
    if (well->meter != NULL && steading_record_given(tank, "surplus_to"))
      warn(&w, "no_effect", path, "surplus_to has no effect: its pump stands on the meter");
  }
  steading_site_each_lot(site, visit_warn, &w, NULL);
  for (size_t i = 0; site->meters != NULL && i < site->meters->count; i++) {
    const steading_meter *meter = (const void *)site->meters->entries[i].item;
    snprintf(path, sizeof path, "meters.%s", site->meters->entries[i].name);
    if (meter->tariff == NULL) warn(&w, "no_tariff", path, "no tariff: there is no bill");
    if (meter->export_limit_kw > 0)
      warn(&w, "export_unpaid", path,
           "what is exported earns nothing: prices for export are not yet carried out");
  }
  return w.count;
}
