/* A PV array: from weather to DC power. */
#ifndef STEADING_PLANT_ARRAY_H
#define STEADING_PLANT_ARRAY_H

#include "plant/cell_temperature.h"
#include "plant/one_diode.h"
#include "plant/plane.h"
#include "resource/weather.h"
#include "site/fields.h"
#include "status.h"

/* What decides an array's yield per kW of modules, before its constant losses. */
typedef struct steading_yield_key {
  steading_plane plane;
  steading_cell_heating heating;
  bool own_wind; /* wind_m_per_s stands instead of the weather's */
  double wind_m_per_s;
  double temp_coefficient_per_c, low_light; /* linear: and its measure, 0: none */
  bool one_diode;
  steading_diode_sheet sheet; /* one_diode */
  double watts;               /* one_diode: what a kW of modules is counted by */
  bool keeps_curves;          /* of strings: light and temperature of the cells are kept as well */
} steading_yield_key;

steading_yield_key steading_yield_key_of(const steading_array *array);

/* The data sheet of a one_diode module. */
steading_diode_sheet steading_diode_sheet_of(const steading_pv_module *module);

/* Whether a weather has what the array's models ask for; else BAD_INPUT at `path`, the array's. */
steading_status steading_array_check_weather(const steading_array *array,
                                             const steading_weather *weather, const char *path,
                                             steading_error *error);

/* Series of a weather's steps, which belong to the weather. */
typedef struct steading_yield_series {
  const double *kw_per_kw;         /* DC power per kW of modules at standard test conditions */
  const double *on_cells, *cell_c; /* keeps_curves: light, W/m2, and temperature of the cells */
  const double *vmp_v;             /* keeps_curves: where a module alone gives most */
} steading_yield_series;

/* The yield, worked out once for equal keys. G is the light on the cells:
 *   linear      G / 1000 low_light(G) [1 + gamma (Tc - 25)], at least 0
 *   one_diode   power at the maximum of the curve in that light at Tc, over `watts`
 * False when memory ends. */
bool steading_yield_series_of(steading_weather *weather, const steading_yield_key *key,
                              steading_yield_series *series);

/* Its kw_per_kw alone; NULL when memory ends. */
const double *steading_yield_of(steading_weather *weather, const steading_yield_key *key);

/* From the light on the plane in the open to DC power: what is left after each loss, in kW per kW
 * of modules. */
typedef enum steading_yield_stage {
  STEADING_STAGE_OPEN,      /* light on the plane in the open / 1000 W/m2 */
  STEADING_STAGE_HORIZON,   /* beyond the horizon */
  STEADING_STAGE_ROWS,      /* behind rows */
  STEADING_STAGE_CELLS,     /* behind the glass */
  STEADING_STAGE_LOW_LIGHT, /* at 25 C */
  STEADING_STAGE_DC,        /* at the temperature of the cells: kw_per_kw */
  STEADING_STAGES
} steading_yield_stage;

/* The stages of every step of the weather, and in `corrected` 1 + gamma (Tc - 25) of the step, as
 * the temperature-corrected performance ratio of IEC 61724-1 asks for it. Each array holds
 * weather->steps numbers. Not kept: it costs what a yield costs. False when memory ends. */
bool steading_yield_stages(const steading_weather *weather, const steading_yield_key *key,
                           double *const stages[STEADING_STAGES], double *corrected);

/* Forget all yields of a weather but the STEADING_YIELDS_KEPT used last, so that a study of many
 * planes does not grow without end. Series handed out before are then gone. */
enum { STEADING_YIELDS_KEPT = 32 };
void steading_yields_trim(steading_weather *weather);

/* What the constant losses and the age take one after the other, in the order of the chain. */
typedef enum steading_array_loss {
  STEADING_LOSS_SOILING,
  STEADING_LOSS_SNOW,
  STEADING_LOSS_SETTLING,
  STEADING_LOSS_AGE,
  STEADING_LOSS_MISMATCH,
  STEADING_LOSS_WIRING,
  STEADING_LOSS_DOWNTIME,
  STEADING_ARRAY_LOSSES
} steading_array_loss;

/* Shares that each leaves in month 0..11, `age_years` after the modules came into service. The age
 * takes first_year_degradation evenly over the first year, degradation_per_year after it. */
void steading_array_shares_left(const steading_array *array, int month, double age_years,
                                double left[STEADING_ARRAY_LOSSES]);

/* Their product. */
double steading_array_left(const steading_array *array, int month, double age_years);

#endif
