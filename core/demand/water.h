/* Water: what a pump draws and what users take. */
#ifndef STEADING_DEMAND_WATER_H
#define STEADING_DEMAND_WATER_H

#include "site/fields.h"

/* Electric power of a pump, kW: rho g Q H / efficiency, rho 998.2 kg/m3 (water at 20 C), g 9.80665.
 * Flow in l/min > 0, head in m > 0, efficiency (wire to water) 0..1. */
double steading_pump_kw(double flow_l_per_min, double head_m, double efficiency);

/* Litres that the users of a tank take in an hour of month 0..11, evenly over the day. */
double steading_users_l_per_h(const steading_map *users, const char *tank, int month);

#endif
