#include "dispatch/wants.h"

#include <stdlib.h>

#include "calendar.h"
#include "resource/weather.h"

steading_status steading_wants_make(const steading_run *run, size_t count, const char *path,
                                    steading_wants *wants, steading_error *error) {
  size_t n = (size_t)STEADING_HOURS_PER_YEAR * 60u / (size_t)run->step_minutes;
  *wants = (steading_wants){.run = run, .count = count, .steps_per_year = n};
  wants->loads = calloc(count + 1, sizeof *wants->loads);
  wants->civil = malloc(n * sizeof *wants->civil);
  wants->kw = malloc((count * n + 1) * sizeof *wants->kw);
  if (wants->loads != NULL && wants->civil != NULL && wants->kw != NULL) return STEADING_OK;
  return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
}

void steading_wants_free(steading_wants *wants) {
  for (size_t k = 0; wants->loads != NULL && k < wants->count; k++)
    steading_loads_free(wants->loads[k]);
  free(wants->loads);
  free(wants->civil);
  free(wants->kw);
  *wants = (steading_wants){.count = 0};
}

void steading_wants_begin(steading_wants *wants, const steading_block *b) {
  const steading_run *run = wants->run;
  int year = (int)(b->first_step / wants->steps_per_year);
  const steading_load_year load_year = {
      .run_year = year,
      .start_day = run->start_day,
      .first_hour = (size_t)steading_days_before_month[run->start_month - 1] * 24,
      .steps = wants->civil};
  if (b->first_step % wants->steps_per_year != 0) return;
  steading_clock_year(run->start_year + year, run->start_month, run->zone,
                      run->site->weather->place.utc_offset_h, run->step_minutes, wants->civil);
  for (size_t k = 0; k < wants->count; k++)
    steading_loads_year(wants->loads[k], &load_year, wants->kw + k * wants->steps_per_year);
}
