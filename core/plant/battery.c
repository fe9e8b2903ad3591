#include "plant/battery.h"

#include <math.h>
#include <stddef.h>

steading_pool steading_pool_sized(double kwh, double charge_kw, double discharge_kw,
                                  double standby_w, const double usable[2], double count) {
  return (steading_pool){.capacity_kwh = kwh * count,
                         .charge_kw = charge_kw * count,
                         .discharge_kw = discharge_kw * count,
                         .efficiency_in = 1,
                         .efficiency_out = 1,
                         .lowest_share = usable[0],
                         .highest_share = usable[1],
                         .standby_kw = standby_w / 1000 * count};
}

steading_pool steading_pool_of_module(const steading_battery_module *m, double count) {
  steading_pool pool =
      steading_pool_sized(m->kwh, m->charge_kw, m->discharge_kw, m->standby_w, m->usable, count);
  if (m->resistance != NULL) return pool;
  if (steading_record_given(m, "round_trip_efficiency")) {
    pool.efficiency_in = sqrt(m->round_trip_efficiency);
    pool.efficiency_out = pool.efficiency_in;
  } else {
    pool.efficiency_in = m->charge_efficiency;
    pool.efficiency_out = m->discharge_efficiency;
  }
  return pool;
}

steading_pool steading_pool_of(const steading_battery *battery, double count) {
  if (battery == NULL)
    return (steading_pool){.efficiency_in = 1, .efficiency_out = 1, .highest_share = 1};
  return steading_pool_of_module(battery->module, count);
}

double steading_efficiency_worn(double efficiency, double resistance) {
  return 1 / (1 + (1 / efficiency - 1) * resistance);
}
