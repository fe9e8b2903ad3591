#include "plant/cold.h"

double steading_cold_share(const double *points, size_t count, double temp_c) {
  const double *low = points;
  if (!(temp_c > points[0])) return points[1];
  for (size_t i = 1; i < count; i++, low += 2)
    if (temp_c < low[2]) return low[1] + (low[3] - low[1]) * (temp_c - low[0]) / (low[2] - low[0]);
  return low[1];
}

steading_warmth steading_room_warmth(const steading_room *room, double temp_c) {
  if (!(room->heater_w > 0) || !(temp_c < room->heat_below_c))
    return (steading_warmth){.cell_c = temp_c};
  return (steading_warmth){.cell_c = room->heat_below_c, .heater_kw = room->heater_w / 1000};
}
