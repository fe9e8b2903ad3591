/* What groups of loads want in each step of a run, for sinks that share the steps out among them:
 * the loads of a run once more, class by class or building by building, year after year. */
#ifndef STEADING_DISPATCH_WANTS_H
#define STEADING_DISPATCH_WANTS_H

#include <stddef.h>

#include "demand/loads.h"
#include "dispatch/run.h"
#include "status.h"

typedef struct steading_wants {
  const steading_run *run;
  size_t count, steps_per_year;
  steading_loads **loads;     /* [count], of each group; who makes the room gathers them */
  steading_civil_step *civil; /* [steps_per_year] of the year at hand */
  double *kw;                 /* [count][steps_per_year], likewise */
} steading_wants;

/* Room for `count` groups, which are empty. NO_MEMORY with `path`. Free in any case. */
steading_status steading_wants_make(const steading_run *run, size_t count, const char *path,
                                    steading_wants *wants, steading_error *error);
void steading_wants_free(steading_wants *wants);

/* A block of the run begins: where it begins a year, that year's loads are worked out. */
void steading_wants_begin(steading_wants *wants, const steading_block *block);

/* What a group wants in step `step` of the run, which lies in the year at hand, kW. */
static inline double steading_wants_kw(const steading_wants *wants, size_t group, size_t step) {
  return wants->kw[group * wants->steps_per_year + step % wants->steps_per_year];
}

#endif
