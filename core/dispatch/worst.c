#include "dispatch/worst.h"

#include <stdlib.h>
#include <string.h>

#include "calendar.h"

enum { ASKED, LOAD, PV, IMPORT, SUMS };

typedef struct gather {
  const steading_run *run;
  const steading_step_column *columns[SUMS];
  size_t days, steps_a_day;
  double (*by_day)[SUMS]; /* [days] */
  bool *taken;            /* [days] */
} gather;

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  gather *g = context;
  size_t step = b->first_step;
  steading_steps at;
  (void)error;
  for (steading_steps_begin(g->run, b, &at); at.left > 0; steading_steps_next(&at), step++)
    for (size_t c = 0; c < SUMS; c++)
      g->by_day[step / g->steps_a_day][c] += g->columns[c]->value(&at.step);
  return STEADING_OK;
}

/* Added day by day, not as a difference of two long sums: equal days give equal windows. */
static double sum_of(const gather *g, size_t first, size_t days, size_t c) {
  double sum = 0;
  for (size_t d = first; d < first + days; d++) sum += g->by_day[d][c];
  return sum;
}

/* The highest window that touches none that was taken; false when there is none. */
static bool find_window(const gather *g, size_t days, const double *sums, size_t *best) {
  bool found = false;
  size_t clear = 0; /* days in a row, up to this one, that nothing took */
  for (size_t d = 0; d < g->days; d++) {
    clear = g->taken[d] ? 0 : clear + 1;
    if (clear < days) continue;
    if (found && !(sums[d + 1 - days] > sums[*best])) continue;
    *best = d + 1 - days;
    found = true;
  }
  return found;
}

static steading_status choose(const gather *g, const steading_ask_worst *ask, steading_worst *worst,
                              steading_error *error) {
  size_t days = (size_t)ask->days, wanted = (size_t)ask->count, best = 0;
  double *sums = malloc(g->days * sizeof *sums);
  worst->windows = calloc(wanted, sizeof *worst->windows);
  if (sums == NULL || worst->windows == NULL) {
    free(sums);
    return steading_fail(error, STEADING_NO_MEMORY, "worst", "not enough memory");
  }
  worst->days = days;
  for (size_t d = 0; d + days <= g->days; d++) sums[d] = sum_of(g, d, days, ASKED);
  while (worst->count < wanted && find_window(g, days, sums, &best)) {
    memset(g->taken + best, true, days * sizeof *g->taken);
    worst->windows[worst->count++] =
        (steading_worst_window){.first = best * g->steps_a_day,
                                .sum = sums[best],
                                .load_kwh = sum_of(g, best, days, LOAD),
                                .pv_available_kwh = sum_of(g, best, days, PV),
                                .grid_import_kwh = sum_of(g, best, days, IMPORT)};
  }
  free(sums);
  return STEADING_OK;
}

steading_status steading_run_worst(const steading_run *run, const steading_ask_worst *ask,
                                   steading_worst *worst, steading_error *error) {
  gather g = {.run = run,
              .days = (size_t)run->years * STEADING_DAYS_PER_YEAR,
              .steps_a_day = (size_t)(1440 / run->step_minutes)};
  const steading_sink sink = {.take = take, .context = &g};
  const char *names[SUMS] = {ask->column != NULL ? ask->column : "grid_import_kwh", "load_kwh",
                             "pv_available_kwh", "grid_import_kwh"};
  steading_status status = STEADING_OK;
  *worst = (steading_worst){.count = 0};
  for (size_t c = 0; status == STEADING_OK && c < SUMS; c++)
    status = steading_step_column_find_sum(names[c], "worst.column", &g.columns[c], error);
  if (status == STEADING_OK && ask->days > (double)g.days)
    status = steading_fail(error, STEADING_BAD_INPUT, "worst.days",
                           "%.0f days is longer than the run of %zu days", ask->days, g.days);
  if (status != STEADING_OK) return status;
  g.by_day = calloc(g.days, sizeof *g.by_day);
  g.taken = calloc(g.days, sizeof *g.taken);
  status = g.by_day == NULL || g.taken == NULL
               ? steading_fail(error, STEADING_NO_MEMORY, "worst", "not enough memory")
               : steading_run_repeat(run, &sink, error);
  if (status == STEADING_OK) status = choose(&g, ask, worst, error);
  free(g.by_day);
  free(g.taken);
  if (status != STEADING_OK) steading_worst_free(worst);
  return status;
}

void steading_worst_free(steading_worst *worst) {
  free(worst->windows);
  *worst = (steading_worst){.count = 0};
}
