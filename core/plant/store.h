/* One battery alone, stepped by whoever wants to know what it does: the parts of a battery put
 * together, with the equations of cells.h. */
#ifndef STEADING_PLANT_STORE_H
#define STEADING_PLANT_STORE_H

#include "plant/cells.h"

typedef struct steading_store {
  steading_cells cells;
  steading_cells_shares shares; /* what the temperature leaves */
  steading_charge charge;
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
