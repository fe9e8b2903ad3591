/* What becomes of what is stored as a section of a run begins: batteries that aged out are replaced
 * at the turn of a year, lots arrive or leave, and what lies above the window that faded capacity
 * leaves is lost. It is the same for any state: a run has it once, and an outage that is followed
 * through (ride.h) once more for each state in which it comes. */
#ifndef STEADING_DISPATCH_TURNOVER_H
#define STEADING_DISPATCH_TURNOVER_H

#include <stdbool.h>
#include <stdint.h>

#include "dispatch/kernel.h"
#include "dispatch/program.h"

/* In the order in which it happens. Shares are of what is stored, 0..1. */
typedef struct steading_turnover {
  bool any; /* false: nothing changes, and all else is unset */
  double replaced_share[STEADING_MOST_HUBS], replacement_kwh[STEADING_MOST_HUBS];
  double removed_share[STEADING_MOST_HUBS], delivered_kwh[STEADING_MOST_HUBS];
  double drained_share[STEADING_MOST_TANKS]; /* with tanks that leave */
  double most_kwh[STEADING_MOST_HUBS];       /* above it is lost; INFINITY: nothing is */
} steading_turnover;

/* Of the section that begins on `day`, whose parameters are `up`. `year_turns`: a year of the run
 * that is not the first begins with it, and batteries age; `lots_change`: lots arrive or leave. */
steading_turnover steading_turnover_of(const steading_program *program, int64_t day,
                                       bool year_turns, bool lots_change,
                                       const steading_stretch *up);

/* Change a state. What a hub's battery got, gave away and lost (kWh) is added to
 * delivered_kwh, removed_kwh and fade_kwh [hubs]. */
void steading_turnover_apply(const steading_turnover *turnover, const steading_layout *layout,
                             steading_state *state, double *delivered_kwh, double *removed_kwh,
                             double *fade_kwh);

#endif
