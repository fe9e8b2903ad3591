/* A PV array: from weather to DC power. */
#ifndef STEADING_PLANT_ARRAY_H
#define STEADING_PLANT_ARRAY_H

#include "plant/incidence.h"
#include "resource/sky.h"
#include "resource/weather.h"
#include "site/fields.h"
#include "status.h"

/* Cell temperature, C, from the light on the plane and the air: Ross 1976 with the nominal
 * operating cell temperature, Tc = Ta + (NOCT - 20) / 800 G. */
double steading_cell_temperature_noct_c(double temp_c, double plane_w_per_m2, double noct_c);

/* What decides an array's yield per kW of modules, before its constant losses. */
typedef struct steading_yield_key {
  double tilt_deg, azimuth_deg, albedo, temp_coefficient_per_c, noct_c;
  steading_sky_model sky_model;
  steading_incidence_glass glass;
} steading_yield_key;

steading_yield_key steading_yield_key_of(const steading_array *array);

/* DC power per kW of modules at standard test conditions, for every step of the weather:
 *   G / 1000 [1 + gamma (Tc - 25)], at least 0, where G is beam, sky and ground light each with its
 * own incidence modifier. The series belongs to the weather and is worked out once for equal keys.
 * NULL when memory ends. */
const double *steading_yield_of(steading_weather *weather, const steading_yield_key *key);

/* Forget all yields of a weather but the STEADING_YIELDS_KEPT used last, so that a study of many
 * planes does not grow without end. Series handed out before are then gone. */
enum { STEADING_YIELDS_KEPT = 32 };
void steading_yields_trim(steading_weather *weather);

/* Share that the constant losses and the age leave in month 0..11, `age_years` after the modules
 * came into service: soiling, settling, mismatch, wiring, downtime and degradation. */
double steading_array_left(const steading_array *array, int month, double age_years);

#endif
