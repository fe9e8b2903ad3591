/* Loads of buildings: mean power in every hour of a run. */
#ifndef STEADING_DEMAND_LOADS_H
#define STEADING_DEMAND_LOADS_H

#include <stddef.h>

#include "demand/clock.h"
#include "site/fields.h"
#include "status.h"

/* The loads of one side of a site (behind the hub, or on the meter), ready to be added up. */
typedef struct steading_loads steading_loads;

/* Gather the loads of all buildings on the hub (`on_hub`) or on the meter. NO_MEMORY. */
steading_status steading_loads_gather(const steading_map *buildings, bool on_hub,
                                      steading_loads **loads, steading_error *error);
void steading_loads_free(steading_loads *loads);

/* Mean power, kW, of the 8760 hours of year `run_year` (0 the first) of a run. `hours` are those
 * hours in civil time; `first_hour` is the hour of the calendar year (0..8759) at which a year of
 * the run begins: a series begins in January. */
void steading_loads_year(steading_loads *loads, int run_year, const steading_civil_step *hours,
                         size_t first_hour, double *kw);

#endif
