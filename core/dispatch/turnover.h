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

/* Of one battery, in the order in which it happens. Shares are of what is stored, 0..1. */
typedef struct steading_battery_turnover {
  size_t hub;
  double replaced_share, replacement_kwh;
  double removed_share, delivered_kwh;
  double most_kwh;        /* above it is lost; INFINITY: nothing is */
  double available_share; /* of two tanks, what of charge at rest is in the one at the terminals */
} steading_battery_turnover;

typedef struct steading_turnover {
  bool any; /* false: nothing changes, and all else is unset */
  size_t battery_count;
  steading_battery_turnover batteries[STEADING_MOST_BATTERIES]; /* of the program's */
  double drained_share[STEADING_MOST_TANKS];                    /* with tanks that leave */
} steading_turnover;

/* Of the section that begins on `day`, whose parameters are `up`. `year_turns`: a year of the run
 * that is not the first begins with it, and batteries age; `lots_change`: lots arrive or leave. */
steading_turnover steading_turnover_of(const steading_program *program, int64_t day,
                                       bool year_turns, bool lots_change,
                                       const steading_stretch *up);

/* Change a state. What a hub's batteries got, gave away and lost (kWh) is added to
 * delivered_kwh, removed_kwh and fade_kwh [hubs]. */
void steading_turnover_apply(const steading_turnover *turnover, const steading_layout *layout,
                             steading_state *state, double *delivered_kwh, double *removed_kwh,
                             double *fade_kwh);

#endif
