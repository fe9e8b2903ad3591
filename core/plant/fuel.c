#include "plant/fuel.h"

#include <math.h>
#include <string.h>

/* Gross energy: propane 91,452, diesel 137,381 Btu a US gallon, natural gas 1,036 Btu a cubic foot
 * (EIA, units and calculators); petrol 124,340 Btu a gallon (alternative fuels data center; from
 * memory; its lower value there is 116,090).
 * Mass: propane 4.24 lb a gallon (cylinder makers' table); natural gas from 923 Btu a cubic foot
 * and 20,160 Btu a pound, both lower values of the same page of the data center; petrol 2,819 g and
 * diesel 3,206 g a gallon (GREET; from memory).
 * A tank of propane is filled to 80 % (the trade's rule for expansion); the others: common
 * practice, no source. */
static const steading_fuel_content known[] = {
    {.name = "propane",
     .kwh_per_l = 91452 * STEADING_KWH_PER_BTU / STEADING_LITRES_PER_GALLON,
     .kg_per_l = 4.24 * STEADING_KG_PER_POUND / STEADING_LITRES_PER_GALLON,
     .full_to = 0.8},
    {.name = "natural_gas",
     .kwh_per_l = 1036 * STEADING_KWH_PER_BTU / STEADING_LITRES_PER_CUBIC_FOOT,
     .kg_per_l = 923.0 / 20160 * STEADING_KG_PER_POUND / STEADING_LITRES_PER_CUBIC_FOOT,
     .gas = true,
     .full_to = 1},
    {.name = "petrol",
     .kwh_per_l = 124340 * STEADING_KWH_PER_BTU / STEADING_LITRES_PER_GALLON,
     .kg_per_l = 2.819 / STEADING_LITRES_PER_GALLON,
     .full_to = 0.95},
    {.name = "diesel",
     .kwh_per_l = 137381 * STEADING_KWH_PER_BTU / STEADING_LITRES_PER_GALLON,
     .kg_per_l = 3.206 / STEADING_LITRES_PER_GALLON,
     .full_to = 0.95}};

const steading_fuel_content *steading_fuel_known(const char *name) {
  for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
    if (strcmp(known[i].name, name) == 0) return &known[i];
  return NULL;
}

double steading_fuel_kwh_per_l(const char *name, const steading_fuel *fuel) {
  const steading_fuel_content *content = steading_fuel_known(name);
  return steading_record_or_else(fuel, "kwh_per_l", fuel->kwh_per_l,
                                 content != NULL ? content->kwh_per_l : 0);
}

double steading_fuel_burnt_l(const steading_fuel_curve *curve, double hours, double kwh) {
  return curve->no_load_l_per_h * hours + curve->l_per_kwh * fmax(kwh, curve->least_kw * hours);
}

bool steading_fuel_curve_through(size_t count, const double *kw, const double *l_per_h,
                                 steading_fuel_curve *curve) {
  double mean_kw = 0, mean_l = 0, across = 0, along = 0;
  for (size_t i = 0; i < count; i++) {
    mean_kw += kw[i] / (double)count;
    mean_l += l_per_h[i] / (double)count;
  }
  for (size_t i = 0; i < count; i++) {
    across += (kw[i] - mean_kw) * (l_per_h[i] - mean_l);
    along += (kw[i] - mean_kw) * (kw[i] - mean_kw);
  }
  if (!(along > 0)) return false;
  *curve = (steading_fuel_curve){.l_per_kwh = across / along};
  curve->no_load_l_per_h = mean_l - curve->l_per_kwh * mean_kw;
  return curve->l_per_kwh >= 0 && curve->no_load_l_per_h >= 0;
}

double steading_generator_power_share(const steading_generator_unit *unit, double elevation_m,
                                      double temp_c) {
  double high_m = fmax(elevation_m - unit->derate_above_m, 0);
  double hot_c = fmax(temp_c - unit->derate_above_c, 0);
  double at_altitude = fmax(1 - unit->derate_per_1000_m * high_m / 1000, 0);
  return at_altitude * fmax(1 - unit->derate_per_10_c * hot_c / 10, 0);
}
