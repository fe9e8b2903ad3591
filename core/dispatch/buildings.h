/* Who used what: the energy of each building and each well's pump, by month and by where it came
 * from. A sink that repeats the run: the same steps, the same numbers.
 *
 * Electricity has no name on it, so that a step's energy is split pro rata (a convention, no
 * source; reference/manual/dispatch.md has an example by hand):
 *
 *   bus     what stands on a bus gets its mix: import, and what hubs send to it less what leaves as
 *           export. What is sent is sun.
 *   hub     its loads get the mix of its AC side: what the inverter gives to them
 *           (inverted - to_bus), of which the battery has the share
 *           battery_out / (battery_out + pv_used - battery_in), and what they get from the bus
 *           (from_bus - idle_from_ac - charger_in), which has the mix of the bus, and from the
 *           generator. What of the idle draw is left to AC is the generator's first. pv_used and
 *           battery_in count without what chargers made.
 *   unserved  is shared in proportion to what the buildings of a hub or meter want; pumps have
 * given way before.
 *   shed    is that of the building's own loads whose class was shed.
 *
 * Hence, to rounding: the loads of all rows add up to the site's load, each row's parts to its
 * load, and what rows have from the grid to the import, less what idle inverters and chargers drew
 * of it. */
#ifndef STEADING_DISPATCH_BUILDINGS_H
#define STEADING_DISPATCH_BUILDINGS_H

#include <stddef.h>

#include "dispatch/run.h"
#include "status.h"

/* One building or pump in one month of the run (standard time). */
typedef struct steading_building_month {
  double load_kwh; /* from_pv + from_battery + from_grid + from_generator + unserved + shed */
  double from_pv_kwh, from_battery_kwh, from_grid_kwh, from_generator_kwh, unserved_kwh, shed_kwh;
  double peak_kw;       /* highest mean load of a step */
  size_t peak_step;     /* the first of those, a step of the run; 0 when peak_kw is 0 */
  double coincident_kw; /* its load in the step in which the site's load is highest */
} steading_building_month;

typedef struct steading_buildings {
  size_t count; /* the site's buildings in order of names, then its wells */
  size_t month_count;
  char **names;                    /* [count] "house", "water.wells.deep" */
  double *site_peak_kw;            /* [month_count] highest load of the site: the sum of all
                                      coincident_kw of the month */
  steading_building_month *months; /* [month_count][count] */
} steading_buildings;

/* Simulate the run once more and share out its energy. NO_MEMORY, or what a run can fail with;
 * *buildings is NULL then. Free with steading_buildings_free (NULL is allowed). */
steading_status steading_run_buildings(const steading_run *run, steading_buildings **buildings,
                                       steading_error *error);
void steading_buildings_free(steading_buildings *buildings);

#endif
