#include "dispatch/profile.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct gather {
  const steading_run *run;
  steading_profile *profile;
} gather;

static size_t group_of(const gather *g, const steading_block *b, size_t s) {
  const steading_profile *p = g->profile;
  const steading_civil_step *civil = &b->civil[s];
  size_t month = b->month_index, months = 0, group = 0;
  size_t keys[STEADING_PROFILE_PARTS];
  if (civil->next_month > 0 && month + 1 < g->run->month_count) month++;
  if (civil->next_month < 0 && month > 0) month--;
  months = month + (size_t)g->run->start_month - 1;
  keys[STEADING_PROFILE_YEAR] = months / 12;
  keys[STEADING_PROFILE_MONTH] = months % 12;
  keys[STEADING_PROFILE_WEEKDAY] = civil->weekday;
  keys[STEADING_PROFILE_HOUR] = civil->minute / 60u;
  for (size_t k = 0; k < STEADING_PROFILE_PARTS; k++)
    if (p->by >> k & 1) group = group * p->sizes[k] + keys[k];
  return group;
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  gather *g = context;
  steading_profile *p = g->profile;
  size_t s = 0;
  steading_steps at;
  (void)error;
  for (steading_steps_begin(g->run, b, &at); at.left > 0; steading_steps_next(&at), s++) {
    size_t group = group_of(g, b, s);
    double *sums = p->sums + group * p->column_count;
    size_t *counted = p->counted + group * p->column_count;
    p->steps[group]++;
    for (size_t c = 0; c < p->column_count; c++) {
      double value = p->columns[c]->value(&at.step);
      if (isnan(value)) continue;
      sums[c] += value;
      counted[c]++;
    }
  }
  return STEADING_OK;
}

static steading_status find_columns(const steading_ask_profile *ask, steading_profile *p,
                                    steading_error *error) {
  for (size_t c = 0; c < p->column_count; c++) {
    char path[64];
    steading_status status = STEADING_OK;
    snprintf(path, sizeof path, "profile.columns[%zu]", c + 1);
    status = steading_step_column_find(ask->columns->items[c], path, &p->columns[c], error);
    if (status != STEADING_OK) return status;
    for (size_t k = 0; k < c; k++)
      if (p->columns[k] == p->columns[c])
        return steading_fail(error, STEADING_BAD_INPUT, path, "'%s' stands there twice",
                             p->columns[c]->name);
  }
  return STEADING_OK;
}

steading_status steading_run_profile(const steading_run *run, const steading_ask_profile *ask,
                                     steading_profile *p, steading_error *error) {
  const size_t sizes[STEADING_PROFILE_PARTS] = {(size_t)run->years + (run->start_month > 1 ? 1 : 0),
                                                12, 7, 24};
  gather g = {.run = run, .profile = p};
  const steading_sink sink = {.take = take, .context = &g};
  steading_status status = STEADING_OK;
  *p = (steading_profile){.step_h = run->step_minutes / 60.0,
                          .first_year = run->start_year,
                          .by = ask->by,
                          .group_count = 1,
                          .column_count = ask->columns->count};
  for (size_t k = 0; k < STEADING_PROFILE_PARTS; k++) {
    p->sizes[k] = ask->by >> k & 1 ? sizes[k] : 1;
    p->group_count *= p->sizes[k];
  }
  p->columns = calloc(p->column_count + 1, sizeof *p->columns);
  p->steps = calloc(p->group_count, sizeof *p->steps);
  p->counted = calloc(p->group_count * p->column_count + 1, sizeof *p->counted);
  p->sums = calloc(p->group_count * p->column_count + 1, sizeof *p->sums);
  if (p->columns == NULL || p->steps == NULL || p->counted == NULL || p->sums == NULL)
    status = steading_fail(error, STEADING_NO_MEMORY, "profile", "not enough memory");
  if (status == STEADING_OK) status = find_columns(ask, p, error);
  if (status == STEADING_OK) status = steading_run_repeat(run, &sink, error);
  if (status != STEADING_OK) steading_profile_free(p);
  return status;
}

int steading_profile_key(const steading_profile *p, size_t group, steading_profile_part part) {
  static const int firsts[STEADING_PROFILE_PARTS] = {0, 1, 1, 0};
  for (size_t k = STEADING_PROFILE_PARTS - 1; k > (size_t)part; k--) group /= p->sizes[k];
  return (int)(group % p->sizes[part]) +
         (part == STEADING_PROFILE_YEAR ? p->first_year : firsts[part]);
}

double steading_profile_mean(const steading_profile *p, size_t group, size_t column) {
  size_t at = group * p->column_count + column;
  double steps = (double)p->counted[at];
  if (p->counted[at] == 0) return (double)NAN;
  return p->sums[at] /
         (steading_step_column_adds_up(p->columns[column]) ? steps * p->step_h : steps);
}

void steading_profile_free(steading_profile *p) {
  free(p->columns);
  free(p->steps);
  free(p->counted);
  free(p->sums);
  *p = (steading_profile){.group_count = 0};
}
