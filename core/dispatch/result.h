/* The columns of a run's results: one list, for totals, years, months and the parts of a site. */
#ifndef STEADING_DISPATCH_RESULT_H
#define STEADING_DISPATCH_RESULT_H

#include "dispatch/run.h"

enum { STEADING_OF_SITE = 1, STEADING_OF_HUB = 2, STEADING_OF_METER = 4 };

enum {
  STEADING_MOST_WIDTH = STEADING_SITE_FLOWS + STEADING_MOST_HUBS * STEADING_HUB_FLOWS +
                        STEADING_MOST_METERS * STEADING_METER_FLOWS +
                        STEADING_MOST_WELLS * STEADING_WELL_FLOWS +
                        STEADING_MOST_TANKS * STEADING_TANK_FLOWS
};

/* Months of a run together. */
typedef struct steading_span {
  const steading_run *run;
  steading_site_month site;
  double sum[STEADING_MOST_WIDTH]; /* of the flows, a row */
  steading_hub_month hubs[STEADING_MOST_HUBS];
  double meter_peak_import_kw[STEADING_MOST_METERS];
  double tank_lowest[STEADING_MOST_TANKS];
} steading_span;

/* The months first..first + count - 1 together. */
void steading_span_of(const steading_run *run, size_t first, size_t count, steading_span *period);

/* What a column is about: the whole site, or one of its hubs or meters. */
typedef struct steading_view {
  int of; /* STEADING_OF_... */
  size_t index;
} steading_view;

typedef enum steading_combine {
  STEADING_SUM,   /* adds up over time; `per_year` divides it by the years */
  STEADING_SHARE, /* the same over the period and per year */
  STEADING_LIMIT  /* a highest or lowest value: the same over the period and per year */
} steading_combine;

typedef struct steading_result_column {
  const char *name, *unit, *doc;
  int of; /* STEADING_OF_... bits: in which frames it stands */
  steading_combine combine;
  double (*value)(const steading_span *period, const steading_view *view);
} steading_result_column;

extern const steading_result_column steading_result_columns[];
extern const size_t steading_result_column_count;

/* A kept step of a run. */
typedef struct steading_step_view {
  const steading_run *run;
  const double *row;
  const steading_kept_change *change; /* in force */
  bool first;                         /* the step at which it came into force */
} steading_step_view;

/* Columns of single steps of the site, besides `time` and `reason`; NaN where the site has no such
 * part. */
typedef struct steading_step_column {
  const char *name, *unit;
  double (*value)(const steading_step_view *view);
} steading_step_column;

extern const steading_step_column steading_step_columns[];
extern const size_t steading_step_column_count;

#endif
