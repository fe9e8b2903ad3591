/* One battery alone, stepped by whoever wants to know what it does: the parts of a battery put
 * together, with the equations of a pool (battery.h) or with two tanks. */
#ifndef STEADING_PLANT_STORE_H
#define STEADING_PLANT_STORE_H

#include <stdbool.h>

#include "plant/battery.h"
#include "plant/taper.h"
#include "plant/two_tank.h"

typedef struct steading_store {
  steading_pool pool; /* of a battery of two tanks: its efficiencies, powers and window */
  bool has_taper, has_resistance, has_tanks;
  steading_taper taper;
  steading_resistance resistance;    /* instead of the efficiencies */
  double charge_share, usable_share; /* what the temperature leaves, 0..1 */
  double stored_kwh;
  steading_two_tank battery; /* has_tanks */
  steading_gassing gassing;
  steading_tanks tanks;
  steading_two_tank_step step; /* the last length used; hours 0: none */
} steading_store;

typedef struct steading_stored {
  double accepted_kw; /* mean at the terminals; charging is positive */
  double loss_kw;     /* accepted less what the store gained, >= 0: with standby and gassing */
  double state_of_charge;
} steading_stored;

/* The state of charge, 0..1 of the nominal capacity (of two tanks: of q_max). */
double steading_store_charge(const steading_store *store);

/* One step: kw > 0 is offered to it, < 0 is wanted of it, all the time; hours > 0. It takes or
 * gives what it can. Its own electronics draw first. What the cold keeps back of the capacity is
 * the lowest part of it: it is not lost, but cannot be drawn. */
steading_stored steading_store_step(steading_store *store, double kw, double hours);

#endif
