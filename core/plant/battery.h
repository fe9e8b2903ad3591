/* A pool of battery modules: one store, whose limits are sums over the modules in service.
 *
 * Powers are at the terminals. Charging at p kW stores efficiency_in * p; delivering p kW takes
 * p / efficiency_out from the store. Shares of charge are of the nominal capacity. */
#ifndef STEADING_PLANT_BATTERY_H
#define STEADING_PLANT_BATTERY_H

#include "site/fields.h"

typedef struct steading_pool {
  double capacity_kwh;                  /* nominal, >= 0; 0: no battery */
  double charge_kw, discharge_kw;       /* >= 0 */
  double efficiency_in, efficiency_out; /* 0..1 */
  double lowest_share, highest_share;   /* usable window */
  double standby_kw;
} steading_pool;

/* The pool of `count` modules of given size and powers a module; no efficiencies. */
steading_pool steading_pool_sized(double kwh, double charge_kw, double discharge_kw,
                                  double standby_w, const double usable[2], double count);

/* The pool of `count` modules of a site. With resistance its efficiencies are 1. */
steading_pool steading_pool_of_module(const steading_battery_module *module, double count);

/* The pool of a battery with `count` modules; NULL: no battery. */
steading_pool steading_pool_of(const steading_battery *battery, double count);

/* An efficiency whose loss for each kWh at the far side has grown by a factor >= 1. */
double steading_efficiency_worn(double efficiency, double resistance);

#endif
