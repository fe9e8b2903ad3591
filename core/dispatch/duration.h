/* The duration curve of a run: for how long a power or a level is reached or exceeded. */
#ifndef STEADING_DISPATCH_DURATION_H
#define STEADING_DISPATCH_DURATION_H

#include "dispatch/step_columns.h"
#include "site/fields.h"

typedef struct steading_duration {
  size_t count;   /* of points */
  double hours;   /* in which there is an answer: of a power, those of the run */
  double *values; /* [count] at the shares 0, 1 / (count - 1) .. 1 of the hours */
} steading_duration;

/* Repeat a run, sort its steps and read them off. The value at a share of time is the highest that
 * is reached or exceeded for at least that share; at 0 it is the highest of all. Always a value of
 * the run, nothing between two. NaN where no step has an answer. Holds 8 bytes a step meanwhile.
 * BAD_INPUT for an unknown column. */
steading_status steading_run_duration(const steading_run *run, const steading_ask_duration *ask,
                                      steading_duration *duration, steading_error *error);

void steading_duration_free(steading_duration *duration);

#endif
