#include "dispatch/rooms.h"

#include <math.h>

#include "dispatch/arrays.h"
#include "series.h"

bool steading_rooms_matter(const steading_program *p) {
  for (size_t i = 0; i < p->layout.hubs; i++) {
    const steading_battery *battery = p->hubs[i].hub->battery;
    if (battery == NULL || battery->room == NULL) continue;
    if (battery->module->charge_share_at_c != NULL || battery->room->heater_w > 0) return true;
  }
  return false;
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

void steading_rooms_year(const steading_program *p, int run_year, const steading_section *sections,
                         size_t count, double *rows) {
  size_t n = p->steps_per_year, hubs = p->layout.hubs;
  for (size_t i = 0; i < hubs; i++) {
    const steading_battery *battery = p->hubs[i].hub->battery;
    const steading_series *points = battery == NULL ? NULL : battery->module->charge_share_at_c;
    double *warm = rows + i * n, *cold = warm + hubs * n, *heater_kw = cold + hubs * n;
    for (size_t s = 0; s < count; s++) {
      size_t end = sections[s].first + sections[s].count;
      bool there = battery != NULL && battery->room != NULL &&
                   steading_lots_on(battery->lots, sections[s].day) > 0;
      for (size_t k = sections[s].first; k < end; k++) {
        double room_c = 0;
        steading_warmth heated = {.heater_kw = 0};
        warm[k] = cold[k] = 1;
        heater_kw[k] = 0;
        if (!there) continue; /* nothing that would be kept warm */
        room_c = steading_room_c(p, battery->room, run_year, k, sections[s].month);
        heated = steading_room_heated(battery->room, room_c);
        heater_kw[k] = heated.heater_kw;
        if (points == NULL) continue;
        warm[k] = steading_cold_share(points->values, points->count / 2, heated.cell_c);
        cold[k] = steading_cold_share(points->values, points->count / 2, room_c);
      }
    }
  }
}
