#include "plant/array.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plant/low_light.h"
#include "plant/soiling.h"

/* In the order of the words of pv_model (site/fields.c). */
enum { LINEAR, ONE_DIODE };

/* A weather keeps the yields that were worked out for it: a study that varies counts and prices
 * asks for the same ones again and again. */
struct steading_yield {
  struct steading_yield *next;
  steading_yield_key key; /* owns its horizon */
  steading_yield_series series;
  double numbers[];
};

static void free_yields(struct steading_yield *yields) {
  while (yields != NULL) {
    struct steading_yield *next = yields->next;
    steading_record_release(yields->key.plane.horizon);
    free(yields);
    yields = next;
  }
}

/* --- the key -------------------------------------------------------------------------------------
 */

static bool same_heating(const steading_cell_heating *a, const steading_cell_heating *b) {
  return a->model == b->model && a->noct_c == b->noct_c && a->u0 == b->u0 && a->u1 == b->u1 &&
         a->a == b->a && a->b_per_m_s == b->b_per_m_s && a->above_back_c == b->above_back_c;
}

static bool same_sheet(const steading_diode_sheet *a, const steading_diode_sheet *b) {
  return a->isc_a == b->isc_a && a->voc_v == b->voc_v && a->imp_a == b->imp_a &&
         a->vmp_v == b->vmp_v && a->isc_a_per_c == b->isc_a_per_c &&
         a->voc_v_per_c == b->voc_v_per_c && a->cells == b->cells;
}

static bool same_key(const steading_yield_key *a, const steading_yield_key *b) {
  return steading_plane_same(&a->plane, &b->plane) && same_heating(&a->heating, &b->heating) &&
         a->own_wind == b->own_wind && a->wind_m_per_s == b->wind_m_per_s &&
         a->temp_coefficient_per_c == b->temp_coefficient_per_c && a->low_light == b->low_light &&
         a->one_diode == b->one_diode && same_sheet(&a->sheet, &b->sheet) && a->watts == b->watts &&
         a->keeps_curves == b->keeps_curves;
}

static steading_cell_heating heating_of(const steading_array *array) {
  const steading_cell_temperature *cell = array->cell_temperature;
  switch ((steading_cell_model)cell->model) {
    case STEADING_CELL_FAIMAN:
      return (steading_cell_heating){
          .model = STEADING_CELL_FAIMAN,
          .u0 = steading_record_or_else(cell, "u0", cell->u0, STEADING_FAIMAN_U0),
          .u1 = steading_record_or_else(cell, "u1", cell->u1, STEADING_FAIMAN_U1)};
    case STEADING_CELL_KING:
      if (steading_record_given(cell, "mounting"))
        return steading_cell_heating_king((steading_king_mounting)cell->mounting);
      return (steading_cell_heating){.model = STEADING_CELL_KING,
                                     .a = cell->a,
                                     .b_per_m_s = cell->b,
                                     .above_back_c = cell->above_back_c};
    case STEADING_CELL_NOCT:
      break;
  }
  return (steading_cell_heating){.model = STEADING_CELL_NOCT, .noct_c = array->module->noct_c};
}

steading_diode_sheet steading_diode_sheet_of(const steading_pv_module *module) {
  return (steading_diode_sheet){.isc_a = module->isc_a,
                                .voc_v = module->voc_v,
                                .imp_a = module->imp_a,
                                .vmp_v = module->vmp_v,
                                .isc_a_per_c = module->isc_a_per_c,
                                .voc_v_per_c = module->voc_v_per_c,
                                .cells = module->cells};
}

steading_yield_key steading_yield_key_of(const steading_array *array) {
  const steading_low_light *low = array->low_light;
  steading_yield_key key = {
      .plane = steading_plane_of(array),
      .heating = heating_of(array),
      .own_wind = steading_record_given(array->cell_temperature, "wind_m_per_s"),
      .temp_coefficient_per_c = array->module->temp_coefficient_per_c};
  if (key.own_wind) key.wind_m_per_s = array->cell_temperature->wind_m_per_s;
  if (low != NULL)
    key.low_light = steading_record_given(low, "at_200_w_per_m2")
                        ? steading_low_light_measure(low->at_200_w_per_m2)
                        : 1;
  if (array->module->model != ONE_DIODE) return key;
  key.one_diode = true;
  key.sheet = steading_diode_sheet_of(array->module);
  key.watts = array->module->watts;
  key.keeps_curves = array->strings != NULL;
  return key;
}

steading_status steading_array_check_weather(const steading_array *array,
                                             const steading_weather *weather, const char *path,
                                             steading_error *error) {
  const steading_cell_temperature *cell = array->cell_temperature;
  char where[256];
  if (cell->model == STEADING_CELL_NOCT || weather->wind_m_per_s != NULL ||
      steading_record_given(cell, "wind_m_per_s"))
    return STEADING_OK;
  snprintf(where, sizeof where, "%.200s.cell_temperature.model", path);
  return steading_fail(error, STEADING_BAD_INPUT, where,
                       "asks for the wind, which the weather does not carry; give wind_m_per_s "
                       "beside it, or use the model noct");
}

/* --- the chain -----------------------------------------------------------------------------------
 */

typedef struct module_model {
  const steading_yield_key *key;
  steading_diode_module diode;
} module_model;

static bool module_of(const steading_yield_key *key, module_model *module) {
  *module = (module_model){.key = key};
  return !key->one_diode ||
         steading_diode_fit(&key->sheet, "module", &module->diode, NULL) == STEADING_OK;
}

/* The maximum power point over the module's watts. */
static double diode_peak(const module_model *module, double on_cells, double cell_c,
                         steading_diode_peak *peak) {
  steading_diode_curve curve;
  steading_diode_at(&module->diode, on_cells, cell_c, &curve);
  steading_diode_peak_of(&curve, peak);
  return peak->pmp_w / module->key->watts;
}

static double linear_in_light(const steading_yield_key *key, double on_cells) {
  double power = on_cells / 1000;
  return key->low_light > 0 ? power * steading_low_light_efficiency(on_cells, key->low_light)
                            : power;
}

static double warmed(const steading_yield_key *key, double cell_c) {
  return 1 + key->temp_coefficient_per_c * (cell_c - 25);
}

static double cell_c_of(const steading_weather *weather, const steading_yield_key *key, size_t i,
                        double on_plane) {
  double wind = key->own_wind                   ? key->wind_m_per_s
                : weather->wind_m_per_s != NULL ? weather->wind_m_per_s[i]
                                                : 0;
  return steading_cell_temperature_c(&key->heating, weather->temp_c[i], on_plane, wind);
}

/* Whoever wants the steps of a weather, one by one. */
typedef void (*take_step)(void *context, size_t i, const steading_plane_step *step);

static bool each_step(const steading_weather *weather, const steading_plane *plane, take_step take,
                      void *context) {
  steading_plane_work *work = steading_plane_work_new(plane, weather);
  size_t year = weather->steps_per_year;
  if (work == NULL) return false;
  for (size_t first = 0; first < year; first += STEADING_PLANE_BLOCK) {
    size_t count = year - first < STEADING_PLANE_BLOCK ? year - first : STEADING_PLANE_BLOCK;
    const steading_plane_geometry *geometry = steading_plane_block(work, first, count);
    for (size_t y = 0; y < weather->years; y++)
      for (size_t k = 0; k < count; k++) {
        steading_plane_step step;
        size_t i = y * year + first + k;
        steading_plane_light_at(work, &geometry[k], i, &step);
        take(context, i, &step);
      }
  }
  steading_plane_work_free(work);
  return true;
}

/* --- yields that are kept ------------------------------------------------------------------------
 */

typedef struct filling {
  const steading_weather *weather;
  const steading_yield_key *key;
  module_model module;
  double *kw_per_kw, *on_cells, *cell_c, *vmp_v;
} filling;

static void fill_step(void *context, size_t i, const steading_plane_step *step) {
  filling *f = context;
  double cell_c = 0, power = 0;
  steading_diode_peak peak = {0};
  if (step->on_cells > 0) {
    cell_c = cell_c_of(f->weather, f->key, i, step->on_plane);
    power = f->key->one_diode ? diode_peak(&f->module, step->on_cells, cell_c, &peak)
                              : linear_in_light(f->key, step->on_cells) * warmed(f->key, cell_c);
  }
  f->kw_per_kw[i] = power > 0 ? power : 0;
  if (f->on_cells == NULL) return;
  f->on_cells[i] = step->on_cells;
  f->cell_c[i] = cell_c;
  f->vmp_v[i] = peak.vmp_v;
}

static struct steading_yield *yield_new(steading_weather *weather, const steading_yield_key *key) {
  size_t n = weather->steps, rows = key->keeps_curves ? 4 : 1;
  struct steading_yield *yield = malloc(sizeof *yield + rows * n * sizeof yield->numbers[0]);
  filling f = {.weather = weather, .key = key};
  if (yield == NULL) return NULL;
  f.kw_per_kw = yield->numbers;
  if (key->keeps_curves) {
    f.on_cells = yield->numbers + n;
    f.cell_c = yield->numbers + 2 * n;
    f.vmp_v = yield->numbers + 3 * n;
  }
  if (!module_of(key, &f.module) || !each_step(weather, &key->plane, fill_step, &f)) {
    free(yield);
    return NULL;
  }
  yield->series = (steading_yield_series){
      .kw_per_kw = f.kw_per_kw, .on_cells = f.on_cells, .cell_c = f.cell_c, .vmp_v = f.vmp_v};
  yield->key = *key;
  steading_record_keep(key->plane.horizon);
  return yield;
}

bool steading_yield_series_of(steading_weather *weather, const steading_yield_key *key,
                              steading_yield_series *series) {
  struct steading_yield *yield = NULL;
  struct steading_yield **link = &weather->yields;
  while (*link != NULL && !same_key(&(*link)->key, key)) link = &(*link)->next;
  if (*link != NULL) { /* the one used last stands first */
    yield = *link;
    *link = yield->next;
  } else {
    yield = yield_new(weather, key);
    if (yield == NULL) return false;
    weather->free_yields = free_yields;
  }
  yield->next = weather->yields;
  weather->yields = yield;
  *series = yield->series;
  return true;
}

const double *steading_yield_of(steading_weather *weather, const steading_yield_key *key) {
  steading_yield_series series;
  return steading_yield_series_of(weather, key, &series) ? series.kw_per_kw : NULL;
}

void steading_yields_trim(steading_weather *weather) {
  struct steading_yield **link = &weather->yields;
  for (int kept = 0; *link != NULL && kept < STEADING_YIELDS_KEPT; kept++) link = &(*link)->next;
  if (*link != NULL) weather->free_yields(*link);
  *link = NULL;
}

/* --- what each loss leaves -----------------------------------------------------------------------
 */

typedef struct staging {
  const steading_weather *weather;
  const steading_yield_key *key;
  module_model module;
  double *const *stages;
  double *corrected;
} staging;

static void stage_step(void *context, size_t i, const steading_plane_step *step) {
  staging *s = context;
  double cell_c = cell_c_of(s->weather, s->key, i, step->on_plane), in_light = 0, power = 0;
  steading_diode_peak peak;
  if (step->on_cells > 0) {
    in_light = s->key->one_diode ? diode_peak(&s->module, step->on_cells, 25, &peak)
                                 : linear_in_light(s->key, step->on_cells);
    power = s->key->one_diode ? diode_peak(&s->module, step->on_cells, cell_c, &peak)
                              : in_light * warmed(s->key, cell_c);
  }
  s->stages[STEADING_STAGE_OPEN][i] = step->open / 1000;
  s->stages[STEADING_STAGE_HORIZON][i] = step->beyond_horizon / 1000;
  s->stages[STEADING_STAGE_ROWS][i] = step->on_plane / 1000;
  s->stages[STEADING_STAGE_CELLS][i] = step->on_cells / 1000;
  s->stages[STEADING_STAGE_LOW_LIGHT][i] = in_light;
  s->stages[STEADING_STAGE_DC][i] = power > 0 ? power : 0;
  s->corrected[i] = warmed(s->key, cell_c);
}

bool steading_yield_stages(const steading_weather *weather, const steading_yield_key *key,
                           double *const stages[STEADING_STAGES], double *corrected) {
  staging s = {.weather = weather, .key = key, .stages = stages, .corrected = corrected};
  return module_of(key, &s.module) && each_step(weather, &key->plane, stage_step, &s);
}

/* --- constant losses -----------------------------------------------------------------------------
 */

static double soiling_of(const steading_array *array, int month) {
  const steading_soiling_rate *rate = array->soiling_rate;
  if (rate == NULL) return array->soiling[month];
  return steading_soiling_share(rate->per_day, rate->rain_free_days[month], rate->most);
}

static double left_by_age(const steading_pv_module *module, double age_years) {
  double yearly = 1 - module->degradation_per_year, age = age_years > 0 ? age_years : 0;
  if (!steading_record_given(module, "first_year_degradation")) return pow(yearly, age);
  return pow(1 - module->first_year_degradation, fmin(age, 1)) * pow(yearly, fmax(age - 1, 0));
}

void steading_array_shares_left(const steading_array *array, int month, double age_years,
                                double left[STEADING_ARRAY_LOSSES]) {
  left[STEADING_LOSS_SOILING] = 1 - soiling_of(array, month);
  left[STEADING_LOSS_SNOW] = 1 - array->snow[month];
  left[STEADING_LOSS_SETTLING] = 1 - array->settling_loss;
  left[STEADING_LOSS_AGE] = left_by_age(array->module, age_years);
  left[STEADING_LOSS_MISMATCH] = 1 - array->mismatch_loss;
  left[STEADING_LOSS_WIRING] = 1 - array->dc_wiring_loss;
  left[STEADING_LOSS_DOWNTIME] = 1 - array->downtime_share;
}

double steading_array_left(const steading_array *array, int month, double age_years) {
  double left[STEADING_ARRAY_LOSSES], product = 1;
  steading_array_shares_left(array, month, age_years, left);
  for (int k = 0; k < STEADING_ARRAY_LOSSES; k++) product *= left[k];
  return product;
}
