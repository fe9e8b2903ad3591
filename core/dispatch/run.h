/* A run: a site simulated for whole years of 8760 hours.
 *
 * The site is compiled once into series and stretches of constant parameters; the kernel hands
 * blocks of steps to sinks. What is kept is energy by month, and energy by meter, civil month and
 * price bucket: dispatch knows no price. */
#ifndef STEADING_DISPATCH_RUN_H
#define STEADING_DISPATCH_RUN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "dispatch/kernel.h"
#include "dispatch/plan.h"
#include "files/zone.h"
#include "site/site.h"
#include "status.h"

/* Energy of a month of the run, in standard time. */
typedef struct steading_month {
  int year, month; /* calendar year, 1..12 */
  size_t steps;
  steading_flow sum;     /* of each flow over the steps (kWh, litres, hours) */
  double peak_import_kw; /* of the meter */
  double peak_load_kw;   /* of the site: hub and meter together */
  double hub_peak_load_kw;
  double lowest_stored_kwh, lowest_tank_l;
  double closure_error_kwh; /* sum of what the site's equation misses, step by step */
} steading_month;

typedef struct steading_bucket {
  double import_kwh, export_kwh;
} steading_bucket;

/* What passed a meter, by civil month and bucket. */
typedef struct steading_metered {
  const char *name; /* of the meter, owned by the site */
  size_t buckets;
  steading_bucket *by_month; /* [month_count * buckets] */
} steading_metered;

typedef struct steading_run {
  const steading_site *site; /* kept */
  int start_year, start_month, years, keep;
  size_t month_count; /* 12 * years */
  steading_month *months;
  int step_minutes;
  size_t meter_count;
  steading_metered *meters; /* [meter_count], in the order of site.meters */
  size_t step_count;        /* 0 unless steps are kept */
  steading_flow *steps;
  bool has_hub, has_meter, has_water;
  double capacity_kwh, tank_capacity_l; /* 0: none */
} steading_run;

/* Simulate. `zone` may be NULL (civil time is standard time); `plans` has one for
 * each of site.meters, in order; NULL, or a plan that is NULL, is one bucket.
 * BAD_INPUT or NOT_YET with the path of the lot or option that cannot be run. */
steading_status steading_run_simulate(const steading_site *site, const steading_simulate *options,
                                      const steading_zone *zone,
                                      const steading_meter_plan *const *plans, steading_run **run,
                                      steading_error *error);

/* Free a run; NULL is allowed. */
void steading_run_release(steading_run *run);

#endif
