#include "dispatch/duration.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"

typedef struct gather {
  const steading_run *run;
  const steading_step_column *column;
  double per_step;
  double *values; /* [steps of the run] */
  size_t count;
} gather;

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  gather *g = context;
  steading_steps at;
  (void)error;
  for (steading_steps_begin(g->run, b, &at); at.left > 0; steading_steps_next(&at)) {
    double value = g->column->value(&at.step);
    if (!isnan(value)) g->values[g->count++] = value * g->per_step;
  }
  return STEADING_OK;
}

static int highest_first(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return x < y ? 1 : x > y ? -1 : 0;
}

/* The k-th highest of n is reached or exceeded for k / n of the time: the first k with
 * k / n >= i / (points - 1), in whole numbers. */
static void read_off(const gather *g, steading_duration *d) {
  uint64_t n = g->count, parts = d->count - 1;
  for (uint64_t i = 0; i <= parts; i++) {
    uint64_t k = (i * n + parts - 1) / parts;
    d->values[i] = n == 0 ? (double)NAN : g->values[k == 0 ? 0 : k - 1];
  }
}

steading_status steading_run_duration(const steading_run *run, const steading_ask_duration *ask,
                                      steading_duration *d, steading_error *error) {
  size_t steps = (size_t)run->years * STEADING_HOURS_PER_YEAR * 60 / (size_t)run->step_minutes;
  gather g = {.run = run};
  const steading_sink sink = {.take = take, .context = &g};
  steading_status status = steading_step_column_find_level(
      ask->column != NULL ? ask->column : "load_kw", "duration.column", &g.column, error);
  *d = (steading_duration){.count = (size_t)ask->points};
  if (status != STEADING_OK) return status;
  g.per_step = steading_step_column_adds_up(g.column) ? 60.0 / run->step_minutes : 1;
  g.values = malloc(steps * sizeof *g.values);
  d->values = malloc(d->count * sizeof *d->values);
  status = g.values == NULL || d->values == NULL
               ? steading_fail(error, STEADING_NO_MEMORY, "duration", "not enough memory")
               : steading_run_repeat(run, &sink, error);
  if (status == STEADING_OK) {
    qsort(g.values, g.count, sizeof *g.values, highest_first);
    d->hours = (double)g.count * run->step_minutes / 60;
    read_off(&g, d);
  }
  free(g.values);
  if (status != STEADING_OK) steading_duration_free(d);
  return status;
}

void steading_duration_free(steading_duration *d) {
  free(d->values);
  *d = (steading_duration){.count = 0};
}
