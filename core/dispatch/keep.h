/* What every run keeps of its steps: months, buckets of meters and, on request, the steps. */
#ifndef STEADING_DISPATCH_KEEP_H
#define STEADING_DISPATCH_KEEP_H

#include "dispatch/run.h"

typedef struct steading_keep {
  steading_run *run;
  const steading_meter_plan *const *plans; /* as steading_run_simulate has them */
} steading_keep;

/* Room for what a run keeps; its layout, months and options are set. */
steading_status steading_keep_prepare(steading_run *run, const steading_meter_plan *const *plans,
                                      steading_error *error);

/* The sinks that fill it, at most three; `keep` outlives them. Returns how many. */
size_t steading_keep_sinks(steading_keep *keep, steading_sink *sinks);

void steading_keep_release(steading_run *run);

#endif
