#include "plant/array_check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "nearest.h"
#include "plant/array.h"
#include "plant/inverter.h"
#include "plant/strings.h"
#include "resource/weather.h"

/* --- errors --------------------------------------------------------------------------------------
 */

static steading_status check_input(const steading_hub *hub, const steading_strings *strings,
                                   const char *path, steading_error *error) {
  const steading_map *inputs = hub->inverter->unit->inputs;
  const char *names[96] = {NULL};
  size_t count = 0;
  int nearest = -1;
  char where[256];
  if (steading_map_at(inputs, strings->input) != NULL) return STEADING_OK;
  snprintf(where, sizeof where, "%.200s.strings.input", path);
  for (size_t i = 0; inputs != NULL && i < inputs->count && count < 96; i++)
    names[count++] = inputs->entries[i].name;
  nearest = steading_nearest_name(strings->input, names, count);
  if (nearest >= 0)
    return steading_fail(error, STEADING_BAD_INPUT, where,
                         "the unit has no input '%s' (did you mean '%s'?)", strings->input,
                         names[nearest]);
  return steading_fail(error, STEADING_BAD_INPUT, where, "the unit has no input '%s'%s%s%s",
                       strings->input, count > 0 ? "; it has " : "", count > 0 ? names[0] : "",
                       count > 1 ? " and others" : "");
}

static bool serves(const steading_lot *lot, int64_t day, bool from_start) {
  bool dated = steading_record_given(lot, "in_service");
  if (dated && (from_start || lot->in_service > day)) return false;
  return from_start || !steading_record_given(lot, "retired") || day < lot->retired;
}

/* The most modules that are in service at one time. */
static double most_modules(const steading_list *lots) {
  double most = 0;
  if (lots == NULL) return 1;
  for (size_t i = 0; i < lots->count; i++) {
    const steading_lot *lot = (const void *)lots->items[i];
    bool from_start = !steading_record_given(lot, "in_service");
    double count = 0;
    for (size_t k = 0; k < lots->count; k++) {
      const steading_lot *other = (const void *)lots->items[k];
      if (serves(other, lot->in_service, from_start)) count += other->count;
    }
    most = fmax(most, count);
  }
  return most;
}

static steading_status check_lots(const steading_array *array, const char *path,
                                  steading_error *error) {
  const steading_strings *strings = array->strings;
  double most = most_modules(array->lots), in_series = strings->in_series;
  char where[256];
  if (array->lots == NULL && in_series != 1) {
    snprintf(where, sizeof where, "%.200s.strings.in_series", path);
    return steading_fail(error, STEADING_BAD_INPUT, where,
                         "%g modules in series, but without lots there is one module", in_series);
  }
  for (size_t i = 0; array->lots != NULL && i < array->lots->count; i++) {
    const steading_lot *lot = (const void *)array->lots->items[i];
    if (fmod(lot->count, in_series) == 0) continue;
    snprintf(where, sizeof where, "%.200s.lots[%zu].count", path, i + 1);
    return steading_fail(error, STEADING_BAD_INPUT, where,
                         "%g modules are no whole number of strings of %g in series", lot->count,
                         in_series);
  }
  if (!steading_record_given(strings, "in_parallel") || most == in_series * strings->in_parallel)
    return STEADING_OK;
  snprintf(where, sizeof where, "%.200s.strings.in_parallel", path);
  return steading_fail(error, STEADING_BAD_INPUT, where,
                       "%g strings of %g are %g modules, but at most %g of the lots are in service "
                       "at a time; leave in_parallel away where lots say it",
                       strings->in_parallel, in_series, in_series * strings->in_parallel, most);
}

/* No input has more arrays than its point can be worked out for. */
static steading_status check_room(const steading_hub *hub, const char *name,
                                  steading_error *error) {
  for (size_t a = 0; a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    size_t count = 0;
    char path[192];
    if (array->strings == NULL) continue;
    for (size_t b = 0; b <= a; b++) {
      const steading_array *other = (const void *)hub->arrays->items[b];
      if (other->strings != NULL && strcmp(other->strings->input, array->strings->input) == 0)
        count++;
    }
    if (count <= STEADING_GROUPS_MOST) continue;
    snprintf(path, sizeof path, "site.hubs.%s.arrays[%zu].strings.input", name, a + 1);
    return steading_fail(error, STEADING_BAD_INPUT, path, "more than %d arrays on the input '%s'",
                         STEADING_GROUPS_MOST, array->strings->input);
  }
  return STEADING_OK;
}

steading_status steading_hub_arrays_check(const steading_hub *hub, const steading_weather *weather,
                                          const char *name, steading_error *error) {
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    steading_yield_key key = steading_yield_key_of(array);
    steading_status status = STEADING_OK;
    char path[192], module_path[224];
    snprintf(path, sizeof path, "site.hubs.%s.arrays[%zu]", name, a + 1);
    snprintf(module_path, sizeof module_path, "%s.module", path);
    status = steading_array_check_weather(array, weather, path, error);
    if (status == STEADING_OK && key.one_diode) {
      steading_diode_module module;
      status = steading_diode_fit(&key.sheet, module_path, &module, error);
    }
    if (status == STEADING_OK && array->own_inverter != NULL) {
      steading_inverter_curve curve;
      char own_path[224];
      snprintf(own_path, sizeof own_path, "%s.own_inverter", path);
      status = steading_inverter_own_curve_of(array->own_inverter, own_path, &curve, error);
    }
    if (status == STEADING_OK && array->strings != NULL)
      status = check_input(hub, array->strings, path, error);
    if (status == STEADING_OK && array->strings != NULL) status = check_lots(array, path, error);
    if (status != STEADING_OK) return status;
  }
  return hub->arrays == NULL ? STEADING_OK : check_room(hub, name, error);
}

/* --- warnings ------------------------------------------------------------------------------------
 */

static double coldest_of(const steading_weather *weather) {
  double coldest = weather->has_record_low ? weather->record_low_c : weather->temp_c[0];
  for (size_t i = 0; i < weather->steps; i++) coldest = fmin(coldest, weather->temp_c[i]);
  return coldest;
}

static double hottest_of(const steading_weather *weather) {
  double hottest = weather->temp_c[0];
  for (size_t i = 1; i < weather->steps; i++) hottest = fmax(hottest, weather->temp_c[i]);
  return hottest;
}

static void warn_string(const steading_site *site, const steading_array *array,
                        const steading_unit_input *input, const char *path,
                        steading_warning_list *to) {
  const steading_weather *weather = site->weather;
  steading_yield_key key = steading_yield_key_of(array);
  steading_diode_module module;
  steading_diode_curve curve;
  steading_diode_peak peak;
  double in_series = array->strings->in_series, open_v = 0, hot_c = 0;
  if (steading_diode_fit(&key.sheet, "", &module, NULL) != STEADING_OK) return;
  open_v = steading_string_open_v(&module, in_series, 1000, coldest_of(weather));
  if (steading_record_given(input, "most_v") && open_v > input->most_v)
    steading_warn(to, "string_above_most_v", path,
                  "open, the string reaches %.4g V at %.3g C, above the %.4g V that input '%s' may "
                  "see; screening only: local code and licensed practice decide",
                  open_v, coldest_of(weather), input->most_v, array->strings->input);
  hot_c = steading_cell_temperature_c(&key.heating, hottest_of(weather), 1000,
                                      key.own_wind ? key.wind_m_per_s : 0);
  steading_diode_at(&module, 1000, hot_c, &curve);
  steading_diode_peak_of(&curve, &peak);
  if (peak.vmp_v * in_series < input->window_v[0])
    steading_warn(to, "string_below_window", path,
                  "at %.3g C of the cells the string works best at %.4g V, below the %.4g V at "
                  "which input '%s' begins to track",
                  hot_c, peak.vmp_v * in_series, input->window_v[0], array->strings->input);
}

void steading_hub_arrays_warn(const steading_site *site, const steading_hub *hub, const char *name,
                              steading_warning_list *to) {
  for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
    const steading_array *array = (const void *)hub->arrays->items[a];
    char path[128];
    if (array->strings == NULL) continue;
    snprintf(path, sizeof path, "hubs.%.64s.arrays[%zu].strings", name, a + 1);
    warn_string(site, array, steading_map_at(hub->inverter->unit->inputs, array->strings->input),
                path, to);
  }
}
