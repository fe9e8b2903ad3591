#include "dispatch/rooms.h"

#include <math.h>

#include "dispatch/arrays.h"
#include "series.h"

bool steading_rooms_scarce(const steading_program *p) {
  for (size_t b = 0; b < p->battery_count; b++)
    if (p->batteries[b].battery->module->usable_share_at_c != NULL) return true;
  return false;
}

bool steading_rooms_matter(const steading_program *p) {
  for (size_t b = 0; b < p->battery_count; b++) {
    const steading_battery *battery = p->batteries[b].battery;
    if (battery->room == NULL) continue;
    if (battery->module->charge_share_at_c != NULL || battery->room->heater_w > 0) return true;
  }
  return steading_rooms_scarce(p);
}

double steading_room_c(const steading_program *p, const steading_battery_room *room, int run_year,
                       size_t step, int month) {
  const steading_weather *weather = p->site->weather;
  size_t ours = (size_t)p->step_minutes;
  if (!isinf(room->temp_c[0])) return room->temp_c[month];
  return steading_series_mean(weather->temp_c, weather->steps, (size_t)weather->step_minutes,
                              steading_arrays_start_minute(p, run_year) + step * ours, ours);
}

steading_warmth steading_room_heated(const steading_battery_room *room, double room_c) {
  const steading_room heated = {.heater_w = room->heater_w, .heat_below_c = room->heat_below_c};
  return steading_room_warmth(&heated, room_c);
}

static double share_at(const steading_series *points, double temp_c) {
  return points == NULL ? 1 : steading_cold_share(points->values, points->count / 2, temp_c);
}

/* The steps of a section of one battery. */
static void fill(const steading_program *p, size_t b, int run_year, const steading_section *s,
                 const steading_room_rows *rows) {
  const steading_battery *battery = p->batteries[b].battery;
  const steading_battery_module *module = battery->module;
  size_t n = p->steps_per_year, hub = p->batteries[b].hub;
  size_t store = (p->layout.pools > 0 ? b : hub) * n;
  if (battery->room == NULL || !(steading_lots_on(battery->lots, s->day) > 0))
    return; /* nothing that would be kept warm */
  for (size_t k = s->first; k < s->first + s->count; k++) {
    double room_c = steading_room_c(p, battery->room, run_year, k, s->month);
    const steading_warmth heated = steading_room_heated(battery->room, room_c);
    rows->heater_kw[hub * n + k] += heated.heater_kw;
    rows->charge_share[store + k] = share_at(module->charge_share_at_c, heated.cell_c);
    rows->cold_share[store + k] = share_at(module->charge_share_at_c, room_c);
    if (rows->usable_share == NULL) continue;
    rows->usable_share[store + k] = share_at(module->usable_share_at_c, heated.cell_c);
    rows->cold_usable_share[store + k] = share_at(module->usable_share_at_c, room_c);
  }
}

static void set_all(double *row, size_t count, double value) {
  for (size_t k = 0; row != NULL && k < count; k++) row[k] = value;
}

void steading_rooms_year(const steading_program *p, int run_year, const steading_section *sections,
                         size_t count, const steading_room_rows *rows) {
  size_t n = p->steps_per_year, stores = steading_rows_of_stores(&p->layout) * n;
  set_all(rows->charge_share, stores, 1);
  set_all(rows->cold_share, stores, 1);
  set_all(rows->usable_share, stores, 1);
  set_all(rows->cold_usable_share, stores, 1);
  set_all(rows->heater_kw, p->layout.hubs * n, 0);
  for (size_t b = 0; b < p->battery_count; b++)
    for (size_t s = 0; s < count; s++) fill(p, b, run_year, &sections[s], rows);
}
