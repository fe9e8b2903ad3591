#include "site/check_pv.h"

#include <math.h>
#include <stdio.h>

#include "site/fields.h"
#include "site/limits.h"

/* In the order of their words in fields.c. */
enum { LINEAR, ONE_DIODE };
enum { NOCT, FAIMAN, KING };
enum { ONE_AXIS, TWO_AXES };

static bool given(const void *record, const char *field) {
  return steading_record_given(record, field);
}

static steading_status at(steading_error *error, const char *path, const char *field,
                          const char *text) {
  char where[256];
  snprintf(where, sizeof where, "%.180s%s%.70s", path,
           path[0] != '\0' && field[0] != '\0' ? "." : "", field);
  return steading_fail(error, STEADING_BAD_INPUT, where, "%s", text);
}

/* The first of `count` fields that is given (or, with `wanted`, that is not); NULL: none. */
static const char *first_of(const void *record, const char *const *fields, size_t count,
                            bool wanted) {
  for (size_t i = 0; i < count; i++)
    if (given(record, fields[i]) != wanted) return fields[i];
  return NULL;
}

steading_status steading_check_pv_module(const void *record, const char *path,
                                         steading_error *error) {
  static const char *const sheet[] = {"isc_a",       "voc_v",       "imp_a", "vmp_v",
                                      "isc_a_per_c", "voc_v_per_c", "cells"};
  const steading_pv_module *module = record;
  bool one_diode = module->model == ONE_DIODE;
  const char *field = first_of(module, sheet, sizeof sheet / sizeof sheet[0], one_diode);
  double peak_w = module->imp_a * module->vmp_v;
  if (field != NULL)
    return at(error, path, field,
              one_diode ? "required by the model one_diode" : "belongs to the model one_diode");
  if (one_diode && fabs(peak_w / module->watts - 1) > 0.02) {
    char text[128];
    snprintf(text, sizeof text, "imp_a x vmp_v is %.4g W, expected watts = %.4g to 2 %%", peak_w,
             module->watts);
    return at(error, path, "watts", text);
  }
  return STEADING_OK;
}

steading_status steading_check_cell_temperature(const void *record, const char *path,
                                                steading_error *error) {
  static const struct {
    const char *field;
    int model;
    const char *text;
  } owned[] = {{"u0", FAIMAN, "belongs to the model faiman"},
               {"u1", FAIMAN, "belongs to the model faiman"},
               {"mounting", KING, "belongs to the model king"},
               {"a", KING, "belongs to the model king"},
               {"b", KING, "belongs to the model king"},
               {"above_back_c", KING, "belongs to the model king"}};
  const steading_cell_temperature *cell = record;
  bool numbers = given(cell, "a") || given(cell, "b") || given(cell, "above_back_c");
  for (size_t i = 0; i < sizeof owned / sizeof owned[0]; i++)
    if (given(cell, owned[i].field) && cell->model != owned[i].model)
      return at(error, path, owned[i].field, owned[i].text);
  if (cell->model == NOCT && given(cell, "wind_m_per_s"))
    return at(error, path, "wind_m_per_s", "belongs to the models faiman and king");
  if (cell->model != KING) return STEADING_OK;
  if (given(cell, "mounting") && numbers)
    return at(error, path, "mounting",
              "a, b or above_back_c is given as well; write one of the two");
  if (!given(cell, "mounting") &&
      !(given(cell, "a") && given(cell, "b") && given(cell, "above_back_c")))
    return at(error, path, "mounting", "required: mounting, or a, b and above_back_c");
  return STEADING_OK;
}

steading_status steading_check_tracking(const void *record, const char *path,
                                        steading_error *error) {
  static const char *const of_one[] = {"axis_azimuth_deg", "axis_tilt_deg", "backtracks"};
  const steading_tracking *tracking = record;
  const char *field = tracking->axes == TWO_AXES ? first_of(tracking, of_one, 3, false) : NULL;
  if (field != NULL) return at(error, path, field, "belongs to axes = \"one\"");
  return STEADING_OK;
}

static steading_status check_rows(const steading_array *array, const char *path,
                                  steading_error *error) {
  const steading_array_rows *rows = array->rows;
  double least = rows->slant_m;
  char text[160];
  if (array->tracking != NULL && array->tracking->axes == TWO_AXES)
    return at(error, path, "rows", "two axes: rows of them do not shade each other as rows do");
  for (int m = 0; array->tracking == NULL && m < 12; m++)
    least = fmax(m == 0 ? 0 : least, rows->slant_m * cos(array->tilt_deg[m] * M_PI / 180));
  if (rows->pitch_m > least) return STEADING_OK;
  snprintf(text, sizeof text, "%.6g m, expected more than the %.6g m that a row covers",
           rows->pitch_m, least);
  return at(error, path, "rows.pitch_m", text);
}

static steading_status check_horizon(const steading_list *horizon, const char *path,
                                     steading_error *error) {
  char field[48];
  for (size_t i = 0; i < horizon->count; i++) {
    const steading_skyline_point *point = (const void *)horizon->items[i];
    const steading_skyline_point *before = i == 0 ? NULL : (const void *)horizon->items[i - 1];
    snprintf(field, sizeof field, "horizon[%zu].azimuth_deg", i + 1);
    if (!(point->azimuth_deg < 360)) return at(error, path, field, "360 is the same as 0; write 0");
    if (before != NULL && !(point->azimuth_deg > before->azimuth_deg))
      return at(error, path, field, "expected points by rising azimuth");
  }
  if (horizon->count > STEADING_MOST_SKYLINE_POINTS) {
    char text[64];
    snprintf(text, sizeof text, "%zu points, expected at most %d", horizon->count,
             STEADING_MOST_SKYLINE_POINTS);
    return at(error, path, "horizon", text);
  }
  if (horizon->count == 0)
    return at(error, path, "horizon", "no point; write false where nothing stands around it");
  return STEADING_OK;
}

steading_status steading_check_own_inverter(const void *record, const char *path,
                                            steading_error *error) {
  const steading_own_inverter *own = record;
  const steading_list *points = own->efficiency == NULL ? NULL : own->efficiency->points;
  if (!given(own, "ac_kw") && own->efficiency == NULL)
    return at(error, path, "", "expected ac_kw, efficiency or both; leave it out without");
  for (size_t i = 0; points != NULL && i < points->count; i++) {
    char field[48];
    snprintf(field, sizeof field, "efficiency[%zu].%s", i + 1,
             given(points->items[i], "volts") ? "volts" : "ac_kw");
    if (given(points->items[i], "volts"))
      return at(error, path, field, "has no effect: the voltage of its own inverters is not known");
    if (given(points->items[i], "ac_kw") && !given(own, "ac_kw"))
      return at(error, path, field, "of which ac_kw? give own_inverter.ac_kw, or write ac_share");
  }
  return STEADING_OK;
}

static steading_status check_coupled(const steading_array *array, const char *path,
                                     steading_error *error) {
  bool ac = array->coupled == STEADING_COUPLED_AC;
  if (!ac && array->own_inverter != NULL)
    return at(error, path, "own_inverter", "belongs to coupled = \"ac\"");
  if (ac && array->strings != NULL)
    return at(error, path, "strings",
              "they stand on an input of the hub's unit, and this array is coupled = \"ac\"");
  return STEADING_OK;
}

steading_status steading_check_array(const void *record, const char *path, steading_error *error) {
  const steading_array *array = record;
  steading_status status = STEADING_OK;
  const char *const stands[] = {"tilt_deg", "azimuth_deg"};
  bool tracks = array->tracking != NULL, diode = array->module->model == ONE_DIODE;
  const char *field = first_of(array, stands, 2, !tracks);
  if (field != NULL)
    return at(error, path, field,
              tracks ? "the array tracks" : "required, unless the array tracks");
  if (tracks && array->tracking->backtracks && array->rows == NULL)
    return at(error, path, "tracking.backtracks", "needs rows");
  if (given(array, "soiling") && array->soiling_rate != NULL)
    return at(error, path, "soiling_rate", "soiling is given as well; write one of the two");
  if (diode && array->low_light != NULL)
    return at(error, path, "low_light", "a one_diode module loses in low light by itself");
  if (!diode && array->strings != NULL)
    return at(error, path, "strings", "needs a module of model = \"one_diode\"");
  status = check_coupled(array, path, error);
  if (status == STEADING_OK && array->rows != NULL) status = check_rows(array, path, error);
  if (status == STEADING_OK && array->horizon != NULL)
    status = check_horizon(array->horizon, path, error);
  return status;
}
