#include "plant/hub_curve.h"

#include "plant/array.h"
#include "site/site.h"

static double array_v(const steading_array *array) {
  steading_diode_sheet sheet = steading_diode_sheet_of(array->module);
  steading_diode_module module;
  steading_diode_curve curve;
  steading_diode_peak peak;
  if (steading_diode_fit(&sheet, "", &module, NULL) != STEADING_OK) return 0;
  steading_diode_at(&module, 800, array->module->noct_c, &curve);
  steading_diode_peak_of(&curve, &peak);
  return peak.vmp_v * array->strings->in_series;
}

/* 0 where no array has strings. */
static double strings_v(const steading_hub *hub) {
  double weight = 0, sum = 0;
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    double kw = array->module->watts * steading_lots_count(array->lots) / 1000;
    if (array->strings == NULL || !(kw > 0)) continue;
    sum += kw * array_v(array);
    weight += kw;
  }
  return weight > 0 ? sum / weight : 0;
}

steading_status steading_hub_curve_of(const steading_hub *hub, const char *path,
                                      steading_inverter_curve *curve, steading_inverter_miss *miss,
                                      steading_error *error) {
  return steading_inverter_curve_of(hub->inverter->unit, strings_v(hub), path, curve, miss, error);
}
