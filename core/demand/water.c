#include "demand/water.h"

#include <stddef.h>
#include <string.h>

double steading_pump_kw(double flow_l_per_min, double head_m, double efficiency) {
  const double density_kg_per_m3 = 998.2, gravity_m_per_s2 = 9.80665;
  double flow_m3_per_s = flow_l_per_min / 60000;
  return density_kg_per_m3 * gravity_m_per_s2 * flow_m3_per_s * head_m / efficiency / 1000;
}

double steading_users_l_per_h(const steading_map *users, const char *tank, int month) {
  double litres = 0;
  for (size_t i = 0; users != NULL && i < users->count; i++) {
    const steading_user *user = (const void *)users->entries[i].item;
    if (strcmp(user->tank, tank) != 0) continue;
    if (steading_record_given(user, "people"))
      litres += user->people * user->litres_per_person_day;
    else
      litres += user->litres_per_day[month];
  }
  return litres / 24;
}
