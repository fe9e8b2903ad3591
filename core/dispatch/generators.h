/* The generators of a run: whether each runs in a step, what it burns, and how its fuel comes.
 *
 * The kernel (kernel.h) shares out what a generator gives; whether it is on is decided here, before
 * each step, by its rules (plant/start_stop.h). Where these ask whether load would be left unserved
 * without it, the step is run with it off, and once more with it on if something was. A step in
 * which it may run only in part (quiet hours, the hours of a day, an exercise, too little fuel) is
 * run with it on all the time first: it then gives that power in that part of the step, and the
 * step is run once more with the mean of it as its limit.
 *
 * Fuel: one tank a fuel for all hubs that burn it. Where a step would burn more than there is, all
 * of them run for the share of the step for which it lasts. Trucks come at 00:00 standard time.
 *
 * All that changes is one struct that can be copied: a run can be gone on with from any step. */
#ifndef STEADING_DISPATCH_GENERATORS_H
#define STEADING_DISPATCH_GENERATORS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "demand/clock.h"
#include "dispatch/kernel.h"
#include "dispatch/program.h"
#include "plant/fuel_tank.h"
#include "plant/start_stop.h"
#include "status.h"

typedef struct steading_generators_state {
  steading_start_stop_state sets[STEADING_MOST_HUBS];
  steading_fuel_tank_state tanks[STEADING_MOST_FUELS];
} steading_generators_state;

typedef struct steading_generators steading_generators;

/* The generators of a program that has any (layout.generators > 0). The program outlives them.
 * NO_MEMORY. */
steading_status steading_generators_make(const steading_program *program,
                                         steading_generators **generators, steading_error *error);
void steading_generators_free(steading_generators *generators);

/* The state at the start of a run. */
void steading_generators_begin(const steading_generators *generators,
                               steading_generators_state *state);

/* What a year of the run makes of windows and temperatures; `civil` has its steps. */
void steading_generators_year(steading_generators *generators, int run_year,
                              const steading_civil_step *civil);

/* The sets in service and the rules, from the day `day` on. */
void steading_generators_section(steading_generators *generators, int64_t day,
                                 const double *capacity_kwh);

/* What somebody else than its rules wants of a generator in a step. */
enum { STEADING_GENERATOR_BY_RULES, STEADING_GENERATOR_TO_RUN, STEADING_GENERATOR_TO_REST };

/* What steading_kernel_run is given, and in which steps of the year. The pointers are those of the
 * first of the steps. */
typedef struct steading_generators_block {
  const steading_stretch *stretch;
  uint16_t down;            /* bit m: the grid of meter m is down */
  size_t first_step, count; /* of the year */
  const steading_step_rows *rows;
  const int8_t *orders; /* [hubs] STEADING_GENERATOR_TO_...; NULL: its rules decide */
} steading_generators_block;

/* Run the steps of a block; `flows` as in steading_kernel_run. */
void steading_generators_run(const steading_generators *generators,
                             const steading_generators_block *block, steading_state *state,
                             steading_generators_state *sets, double *flows);

#endif
