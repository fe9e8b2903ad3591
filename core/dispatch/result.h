/* The columns of a run's results: one list, for totals, years, months and the parts of a site. */
#ifndef STEADING_DISPATCH_RESULT_H
#define STEADING_DISPATCH_RESULT_H

#include "dispatch/run.h"

enum { STEADING_OF_SITE = 1, STEADING_OF_HUB = 2, STEADING_OF_METER = 4 };

typedef enum steading_combine {
  STEADING_SUM,   /* adds up over time; `per_year` divides it by the years */
  STEADING_SHARE, /* the same over the period and per year */
  STEADING_LIMIT  /* a highest or lowest value: the same over the period and per year */
} steading_combine;

typedef struct steading_result_column {
  const char *name, *unit, *doc;
  int of; /* STEADING_OF_... bits: in which frames it stands */
  steading_combine combine;
  double (*value)(const steading_run *run, const steading_month *sum, int of);
} steading_result_column;

extern const steading_result_column steading_result_columns[];
extern const size_t steading_result_column_count;

/* The months first..first + count - 1 together. */
steading_month steading_run_sum(const steading_run *run, size_t first, size_t count);

/* Columns of single steps; NaN where the site has no such part. */
typedef struct steading_step_column {
  const char *name, *unit;
  double (*value)(const steading_run *run, const steading_flow *flow);
} steading_step_column;

extern const steading_step_column steading_step_columns[];
extern const size_t steading_step_column_count;

#endif
