#include "plant/battery.h"

#include <math.h>
#include <stddef.h>

steading_pool steading_pool_of(const steading_battery *battery, double count) {
  const steading_battery_module *m = battery == NULL ? NULL : battery->module;
  steading_pool pool = {.efficiency_in = 1, .efficiency_out = 1, .highest_share = 1};
  if (m == NULL) return pool;
  pool.capacity_kwh = m->kwh * count;
  pool.charge_kw = m->charge_kw * count;
  pool.discharge_kw = m->discharge_kw * count;
  pool.standby_kw = m->standby_w / 1000 * count;
  pool.lowest_share = m->usable[0];
  pool.highest_share = m->usable[1];
  if (steading_record_given(m, "round_trip_efficiency")) {
    pool.efficiency_in = sqrt(m->round_trip_efficiency);
    pool.efficiency_out = pool.efficiency_in;
  } else {
    pool.efficiency_in = m->charge_efficiency;
    pool.efficiency_out = m->discharge_efficiency;
  }
  return pool;
}
