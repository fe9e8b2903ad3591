#include "plant/check.h"

#include <stdio.h>

#include "plant/array_check.h"
#include "plant/generator_check.h"
#include "plant/hub_curve.h"

steading_status steading_plant_check(const steading_site *site, steading_error *error) {
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    steading_inverter_curve curve;
    char path[192];
    steading_status status = STEADING_OK;
    snprintf(path, sizeof path, "site.hubs.%s.inverter.unit", site->hubs->entries[i].name);
    status = steading_hub_curve_of(hub, path, &curve, NULL, error);
    if (status == STEADING_OK)
      status = steading_hub_arrays_check(hub, site->weather, site->hubs->entries[i].name, error);
    if (status != STEADING_OK) return status;
  }
  return steading_generators_check(site, error);
}

size_t steading_plant_warnings(const steading_site *site, steading_warning *warnings, size_t room) {
  steading_warning_list to = {.items = warnings, .room = room};
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    const steading_unit *unit = hub->inverter->unit;
    steading_inverter_curve curve;
    steading_inverter_miss miss;
    char path[128], volts[32] = "";
    steading_hub_arrays_warn(site, hub, site->hubs->entries[i].name, &to);
    if (steading_hub_curve_of(hub, "", &curve, &miss, NULL) != STEADING_OK || miss.share <= 0.005)
      continue;
    snprintf(path, sizeof path, "hubs.%.64s.inverter.unit", site->hubs->entries[i].name);
    if (miss.volts > 0) snprintf(volts, sizeof volts, " and %.0f V", miss.volts);
    if (steading_record_given(unit, "idle_w"))
      steading_warn(&to, "idle_misses_curve", path,
                    "with idle_w = %.4g the curve misses a given efficiency by %.1f points; idle_w "
                    "is used and not counted twice",
                    unit->idle_w, 100 * miss.share);
    else
      steading_warn(&to, "curve_misses_points", path,
                    "the curve of least squares misses the efficiency at %.3g of ac_kw%s by %.1f "
                    "points",
                    miss.ac_share, volts, 100 * miss.share);
  }
  steading_generators_warn(site, &to);
  return steading_warnings_written(&to);
}
