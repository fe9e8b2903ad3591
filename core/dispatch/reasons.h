/* Why energy was imported or not served, counted over the years of a run. */
#ifndef STEADING_DISPATCH_REASONS_H
#define STEADING_DISPATCH_REASONS_H

#include "dispatch/reason.h"

/* A year (as run.annual has it: 8760 hours from the start of the run), a part of the site and a
 * reason that held there in at least one step. */
typedef struct steading_reasons_row {
  int year;  /* calendar year in which the year of the run begins */
  int hub;   /* index, or -1: loads straight on the meter */
  int meter; /* index, or -1: a hub off the grid */
  steading_reason reason;
  double hours; /* whole steps in which it held */
  double kwh;   /* imported and unserved in them */
} steading_reasons_row;

typedef struct steading_reasons {
  size_t count;
  steading_reasons_row *rows; /* by year, hubs before meters, reason in the order of reason.h */
} steading_reasons;

/* Repeat a run and count. What a hub imports is its part of what its meter imports: what hubs with
 * surplus give to the bus feeds the meter's loads, then the hubs that want power, in proportion to
 * what they take. So the kWh of all rows are the site's import and unserved energy. */
steading_status steading_run_reasons(const steading_run *run, steading_reasons *reasons,
                                     steading_error *error);

void steading_reasons_free(steading_reasons *reasons);

#endif
