/* A run: a site simulated for whole years of 8760 hours.
 *
 * The site is compiled (program.h); the kernel hands blocks of steps to sinks. A run keeps energy
 * by month, and energy by meter, civil month and price bucket: dispatch knows no price. What is
 * asked later of single steps repeats the simulation with a sink of its own: same numbers. */
#ifndef STEADING_DISPATCH_RUN_H
#define STEADING_DISPATCH_RUN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "demand/clock.h"
#include "dispatch/generators.h"
#include "dispatch/kernel.h"
#include "dispatch/plan.h"
#include "dispatch/program.h"
#include "dispatch/turnover.h"
#include "files/zone.h"
#include "site/site.h"
#include "status.h"

/* Steps in a row of one month, with the same parameters and grids. Valid while a sink takes it. */
typedef struct steading_block {
  const steading_program *program;
  const steading_layout *layout; /* of the rows of `flows` */
  const steading_stretch *stretch;
  const steading_stretch *up;        /* that of the day with every grid up */
  int64_t section_day;               /* date from which `up` holds */
  const steading_turnover *turnover; /* what became of what was stored on it */
  size_t first_step, count;          /* of the run */
  size_t month_index;                /* of the run, from 0 */
  int year, month, day;       /* standard time, month 1..12, day of month of the first step */
  int minute;                 /* of that day */
  uint16_t down;              /* bit m: the grid of meter m is down */
  const double *capacity_kwh; /* [hubs] of the battery: nominal times health */
  const double *nominal_kwh;  /* [hubs] */
  const double *battery_kwh, *battery_nominal_kwh; /* of the program's batteries, likewise */
  const double *delivered_kwh,
      *removed_kwh;       /* [hubs] with lots, at the beginning of the first step */
  const double *fade_kwh; /* [hubs] lost with capacity, at the beginning of the first step */
  const steading_civil_step *civil; /* [count] */
  steading_step_rows rows;          /* what the steps began with */
  const double *all_pv_kw;   /* of hubs, as pv_kw of `rows` and the DC power of AC-coupled arrays */
  const double *sun_24h_kwh; /* likewise, by hub: what functions that decide are told of the
                                sun ahead; NULL where none does */
  const steading_state *before; /* at the beginning of the first step; NULL but in a watch and where
                                   a hub sheds */
  const steading_generators_state *sets_before; /* likewise, in a watch; NULL without generators */
  const double *flows;                          /* [count][layout->width] */
} steading_block;

/* Who wants the steps. `take` is called with every block of the run in order of time. */
typedef struct steading_sink {
  steading_status (*take)(void *context, const steading_block *block, steading_error *error);
  void *context;
} steading_sink;

/* What months keep beside sums. */
typedef struct steading_hub_month {
  double peak_load_kw,
      lowest_charge;         /* share of the capacity there is; INFINITY without a battery */
  double nominal_kwh_steps;  /* nominal capacity times steps */
  double capacity_kwh_steps; /* nominal capacity times health times steps */
  double delivered_kwh, removed_kwh; /* with lots that arrive or leave */
  double fade_kwh;                   /* lost with capacity */
} steading_hub_month;

/* Of one battery of a hub. */
typedef struct steading_battery_month {
  double nominal_kwh_steps, capacity_kwh_steps; /* as those of hubs */
  double in_kwh, out_kwh, loss_kwh;
  double stored_kwh_steps;
  double lowest_charge; /* share of the capacity there is; INFINITY without any */
} steading_battery_month;

/* Of the tank of a fuel, litres; 0 without one. */
typedef struct steading_fuel_month {
  double lowest_l, end_l;
} steading_fuel_month;

typedef struct steading_site_month {
  int year, month; /* calendar year, 1..12, in standard time */
  size_t steps;
  double peak_import_kw; /* of all meters together */
  double peak_load_kw;
  double closure_error_kwh; /* sum of what the site's equation misses, step by step */
  size_t outage_steps;      /* in which the grid of a meter is down */
} steading_site_month;

typedef struct steading_bucket {
  double import_kwh, export_kwh;
} steading_bucket;

/* What passed a meter, by civil month and bucket. */
typedef struct steading_metered {
  const char *name; /* of the meter, owned by the site */
  size_t buckets;
  steading_bucket *by_month; /* [month_count * buckets] */
} steading_metered;

/* Steps that were kept: from `first_step` on, with what changes with the lots. */
typedef struct steading_kept_change {
  size_t step;                 /* of the run */
  double capacity_kwh, tank_l; /* of the whole site, from here on */
  double delivered_kwh, removed_kwh, fade_kwh;
} steading_kept_change;

/* A lot of batteries that aged and was replaced by an equal one. */
typedef struct steading_replacement {
  const steading_lot *lot; /* of the site; NULL: the one module of a battery without lots */
  size_t hub, battery;     /* which of the hub's batteries */
  size_t index;            /* of the lot in its list */
  int year;                /* of the run, 0..: at its beginning */
  double health;           /* before */
  bool by_life;            /* life_years were over */
} steading_replacement;

typedef struct steading_run {
  const steading_site *site;        /* kept */
  const steading_simulate *options; /* kept */
  const steading_zone *zone;        /* outlives the run; may be NULL */
  int64_t start_day;
  int start_year, start_month, years, keep, step_minutes;
  steading_layout layout;
  size_t month_count; /* 12 * years */
  double *sums;       /* [month_count][layout.width] of the flows over the steps of a month */
  steading_site_month *months;            /* [month_count] */
  steading_hub_month *hub_months;         /* [month_count][hubs] */
  size_t battery_count;                   /* of all hubs, those of a hub in a row */
  steading_battery_month *battery_months; /* [month_count][battery_count] */
  double *meter_peak_import_kw;           /* [month_count][meters] */
  size_t *meter_outage_steps;             /* [month_count][meters] in which its grid is down */
  double *tank_lowest;                    /* [month_count][tanks], share; INFINITY without a tank */
  steading_fuel_month *fuel_months;       /* [month_count][fuels] */
  size_t meter_count;
  steading_metered *meters;      /* [meter_count], in the order of site.meters */
  size_t first_kept, step_count; /* steps that are kept; 0 unless keep is "steps" */
  double *steps;                 /* [step_count][layout.width] */
  uint8_t *reasons;              /* [step_count], see reason.h */
  steading_kept_change *changes;
  size_t change_count;
  steading_replacement *replacements; /* in order of time */
  size_t replacement_count;
} steading_run;

/* Simulate. `zone` may be NULL (civil time is standard time) and outlives the run; `plans` has one
 * for each of site.meters, in order; NULL, or a plan that is NULL, is one bucket. BAD_INPUT or
 * NOT_YET with the path of the lot or option that cannot be run. */
steading_status steading_run_simulate(const steading_site *site, const steading_simulate *options,
                                      const steading_zone *zone,
                                      const steading_meter_plan *const *plans, steading_run **run,
                                      steading_error *error);

/* Simulate a run once more, for a sink. */
steading_status steading_run_repeat(const steading_run *run, const steading_sink *sink,
                                    steading_error *error);

/* Simulate without keeping anything, step by step: each block holds one step, and says the state
 * before it. `without_random` leaves out random outages. Errors as steading_run_simulate. */
steading_status steading_run_watch(const steading_site *site, const steading_simulate *options,
                                   const steading_zone *zone, bool without_random,
                                   const steading_sink *sink, steading_error *error);

/* The day on which a run of a site with such options begins. */
int64_t steading_run_start_of(const steading_site *site, const steading_simulate *options);

/* Free a run; NULL is allowed. */
void steading_run_release(steading_run *run);

/* Day number and minute of the day at which step `step` of a run begins, in standard time. */
void steading_run_time(const steading_run *run, size_t step, int *year, int *month, int *day,
                       int *minute);

#endif
