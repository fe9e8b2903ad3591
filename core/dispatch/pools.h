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

/* What they take of offered_kw, each up to a share of its charge (1: as far as it goes); `warm`:
 * whatever their temperature. */
double steading_pools_accept_kw(const steading_pools *pools, double offered_kw, double up_to_share,
                                bool warm);

/* What they give of wanted_kw, each down to a share of its charge. */
double steading_pools_give_kw(const steading_pools *pools, double wanted_kw, double floor_share);

/* What goes through them all in a step, kW: into them or out of them. */
typedef struct steading_pools_flow {
  double in_kw;                       /* that goes as far as it does */
  double up_to_share_kw, up_to_share; /* beside it, and up to which share of charge of each */
  double out_kw, floor_share;         /* and down to which; then the others are 0 */
} steading_pools_flow;

/* Do it, at most what they accept or give. Writes a flow for each; returns what is lost, kW. */
double steading_pools_move(const steading_pools *pools, const steading_pools_flow *flow,
                           steading_pool_flow *flows);

#endif
