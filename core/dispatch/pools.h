/* The batteries of one hub in a step, where they are pools: several kinds, or cells that are more
 * than constant efficiencies (plant/cells.h). They work in their order, charging and discharging:
 * the next takes or gives what those before it leave. All of them do the same in a step. */
#ifndef STEADING_DISPATCH_POOLS_H
#define STEADING_DISPATCH_POOLS_H

#include <stdbool.h>
#include <stddef.h>

#include "dispatch/kernel.h"
#include "plant/cells.h"

typedef struct steading_pools {
  size_t count;
  double hours; /* of the step */
  const steading_cells *cells;
  steading_charge *charges;
  const steading_cells_shares *shares; /* what their temperature leaves in the step */
} steading_pools;

/* What their electronics draw in the step; done to the charges. kWh. */
double steading_pools_standby(const steading_pools *pools);

double steading_pools_stored_kwh(const steading_pools *pools);

/* What they take of offered_kw, if all they store may grow by room_kwh at most (INFINITY: any);
 * `warm`: whatever their temperature. */
double steading_pools_accept_kw(const steading_pools *pools, double offered_kw, double room_kwh,
                                bool warm);

/* What they give of wanted_kw, if all they store may fall by most_kwh at most. */
double steading_pools_give_kw(const steading_pools *pools, double wanted_kw, double most_kwh);

/* Do it: in_kw or out_kw is 0, the other at most what they accept or give. Writes a flow for each;
 * returns what is lost, kW. */
double steading_pools_move(const steading_pools *pools, double in_kw, double out_kw,
                           steading_pool_flow *flows);

#endif
