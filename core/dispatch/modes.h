/* What clock and sun ahead make of the rules of hubs in each step of a year of a run: open windows
 * of charging, closed ones of discharging, raised reserves. The bits are those of program.h. */
#ifndef STEADING_DISPATCH_MODES_H
#define STEADING_DISPATCH_MODES_H

#include <stdint.h>

#include "demand/clock.h"
#include "dispatch/program.h"
#include "status.h"

typedef struct steading_modes {
  const steading_program *program;
  const steading_civil_step *civil; /* [steps per year] */
  const double *pv_kw;              /* [hubs][steps per year], of the arrays before any limit */
  double *sums, *expected_kwh;      /* room, [steps per year + 1] and [steps per year] */
} steading_modes;

/* Fill the word of each step of the year. A window that begins or ends within a step is BAD_INPUT
 * with its path. Nothing is allocated. */
steading_status steading_modes_year(const steading_modes *modes, uint64_t *words,
                                    steading_error *error);

#endif
