/* Loads of buildings: mean power in every step of a run. */
#ifndef STEADING_DEMAND_LOADS_H
#define STEADING_DEMAND_LOADS_H

#include <stdbool.h>
#include <stddef.h>

#include "demand/clock.h"
#include "site/fields.h"
#include "status.h"

/* The loads of one side of a site, ready to be added up. */
typedef struct steading_loads steading_loads;

/* Gather the loads of those buildings for which `wanted` is true, for steps of `step_minutes`; or
 * only those of one class (STEADING_CLASS_...). NO_MEMORY. */
typedef bool (*steading_building_wanted)(const void *context, const char *name,
                                         const steading_building *building);
/* Those of the hub, or of the meter, whose name is the context. */
bool steading_building_on_hub(const void *name_of_hub, const char *name,
                              const steading_building *building);
bool steading_building_on_meter(const void *name_of_meter, const char *name,
                                const steading_building *building);

steading_status steading_loads_gather_class(const steading_map *buildings,
                                            steading_building_wanted wanted, const void *context,
                                            int class_of_load, int step_minutes,
                                            steading_loads **loads, steading_error *error);
steading_status steading_loads_gather(const steading_map *buildings,
                                      steading_building_wanted wanted, const void *context,
                                      int step_minutes, steading_loads **loads,
                                      steading_error *error);
void steading_loads_free(steading_loads *loads);
size_t steading_loads_count(const steading_loads *loads);

/* One year of a run. */
typedef struct steading_load_year {
  int run_year;      /* 0 the first */
  int64_t start_day; /* of the run */
  size_t first_hour; /* hour of the calendar year (0..8759) at which a year of the run begins: a
                        series begins in January */
  const steading_civil_step *steps; /* [8760 * 60 / step_minutes], those steps in civil time */
} steading_load_year;

/* Mean power, kW, of the steps of a year of a run. A load or building with a date is there from
 * 0:00 standard time of it. */
void steading_loads_year(steading_loads *loads, const steading_load_year *year, double *kw);

#endif
