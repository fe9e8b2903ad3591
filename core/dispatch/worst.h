/* The days in a row in which most of something came together. */
#ifndef STEADING_DISPATCH_WORST_H
#define STEADING_DISPATCH_WORST_H

#include "dispatch/step_columns.h"
#include "site/fields.h"

typedef struct steading_worst_window {
  size_t first; /* step of the run, the first of a day in standard time */
  double sum;   /* of the column that was asked for */
  double load_kwh, pv_available_kwh, grid_import_kwh;
} steading_worst_window;

typedef struct steading_worst {
  size_t count, days;
  steading_worst_window *windows; /* highest sum first */
} steading_worst;

/* Repeat a run and find the `count` windows of `days` whole days with the highest sums of a column,
 * none of which overlaps another: the highest of all is taken, then the highest of those that do
 * not touch it, and so on; the earlier of equal ones. Fewer where no more fit. BAD_INPUT for a
 * column that is unknown or a share, and for more days than the run has. */
steading_status steading_run_worst(const steading_run *run, const steading_ask_worst *ask,
                                   steading_worst *worst, steading_error *error);

void steading_worst_free(steading_worst *worst);

#endif
