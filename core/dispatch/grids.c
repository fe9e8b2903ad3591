#include "dispatch/grids.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "calendar.h"
#include "demand/outages.h"
#include "demand/rota.h"
#include "dispatch/arrays.h"
#include "site/window.h"

bool steading_grids_go_down(const steading_program *p) {
  for (size_t m = 0; m < p->layout.meters; m++)
    if (p->meters[m]->outages != NULL) return true;
  return false;
}

/* --- planned -------------------------------------------------------------------------------------
 */

static steading_status mark_windows(const steading_program *p, size_t m,
                                    const steading_windows *windows,
                                    const steading_civil_step *civil, uint16_t *down,
                                    steading_error *error) {
  for (size_t i = 0; i < p->steps_per_year; i++) {
    const steading_civil_step *s = &civil[i];
    double share = steading_windows_share(windows, s->month, s->weekday, s->month_before, s->minute,
                                          p->step_minutes);
    char path[128];
    if (share == 1) down[i] |= (uint16_t)(1u << m);
    if (share == 0 || share == 1) continue;
    snprintf(path, sizeof path, "site.meters.%s.outages.windows", p->meter_names[m]);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "an outage begins or ends within the step of %d minutes at %02d:%02d; "
                         "simulate with finer step_minutes",
                         p->step_minutes, s->minute / 60, s->minute % 60);
  }
  return STEADING_OK;
}

/* Civil day of a step, counted from the first day of the run: that of standard time, or the one
 * before or after. */
static int civil_day_of(int standard_day, int first_day_of_year, const steading_civil_step *s) {
  int of_year = steading_days_before_month[s->month - 1] + s->day - 1 - first_day_of_year;
  int off = (of_year - standard_day) % STEADING_DAYS_PER_YEAR;
  if (off < 0) off += STEADING_DAYS_PER_YEAR;
  return standard_day + (off > 180 ? off - STEADING_DAYS_PER_YEAR : off);
}

static steading_status mark_rota(const steading_program *p, size_t m, const steading_rota *rota,
                                 int run_year, const steading_civil_step *civil, uint16_t *down,
                                 steading_error *error) {
  size_t a_day = p->steps_per_year / STEADING_DAYS_PER_YEAR;
  int year = 0, month = 0, day = 0;
  steading_status status = STEADING_OK;
  char path[128];
  steading_date_of_day(p->start_day, &year, &month, &day);
  snprintf(path, sizeof path, "site.meters.%s.outages.rota", p->meter_names[m]);
  status = steading_rota_check(rota, p->step_minutes, path, error);
  for (size_t i = 0; status == STEADING_OK && i < p->steps_per_year; i++) {
    int standard_day = run_year * STEADING_DAYS_PER_YEAR + (int)(i / a_day);
    int civil_day = civil_day_of(standard_day, steading_days_before_month[month - 1], &civil[i]);
    if (steading_rota_is_off(rota, civil_day, &civil[i])) down[i] |= (uint16_t)(1u << m);
  }
  return status;
}

/* --- random --------------------------------------------------------------------------------------
 */

/* Minute of the weather at which a year of the run begins, also of the year before the first. */
static size_t start_minute(const steading_grids *g, int run_year) {
  size_t all = g->weather->steps * (size_t)g->weather->step_minutes;
  return run_year >= 0 ? steading_arrays_start_minute(g->program, run_year)
                       : steading_arrays_start_minute(g->program, 0) + all -
                             (size_t)STEADING_HOURS_PER_YEAR * 60;
}

/* The outages that begin in `run_year`, as far as they lie in the year `years_on` years later. */
static void mark_random(const steading_grids *g, size_t m, int run_year, int years_on,
                        uint16_t *down) {
  const steading_program *p = g->program;
  const steading_outages *outages = p->meters[m]->outages;
  double per_day[STEADING_DAYS_PER_YEAR];
  double step_h = p->step_minutes / 60.0;
  steading_outage_draw draw;
  steading_outage outage;
  int year = 0, month = 0, day = 0;
  steading_date_of_day(p->start_day, &year, &month, &day);
  steading_outage_rates(outages, g->weather, start_minute(g, run_year), month, per_day);
  draw = steading_outage_draw_of(
      outages, per_day, steading_outage_seed(outages, g->has_seed, g->seed), (uint32_t)run_year);
  while (steading_outage_next(&draw, &outage)) {
    double from_h = outage.start_h - (double)years_on * STEADING_HOURS_PER_YEAR;
    double first = ceil(from_h / step_h - 0.5);
    double end = ceil((from_h + outage.length_h) / step_h - 0.5);
    for (double i = fmax(first, 0); i < fmin(end, (double)p->steps_per_year); i++)
      down[(size_t)i] |= (uint16_t)(1u << m);
  }
}

/* --- a year --------------------------------------------------------------------------------------
 */

steading_status steading_grids_year(const steading_grids *g, int run_year,
                                    const steading_civil_step *civil, uint16_t *down,
                                    steading_error *error) {
  const steading_program *p = g->program;
  memset(down, 0, p->steps_per_year * sizeof *down);
  for (size_t m = 0; m < p->layout.meters; m++) {
    const steading_outages *outages = p->meters[m]->outages;
    steading_status status = STEADING_OK;
    if (outages == NULL) continue;
    if (outages->windows != NULL) status = mark_windows(p, m, outages->windows, civil, down, error);
    if (status == STEADING_OK && outages->rota != NULL)
      status = mark_rota(p, m, outages->rota, run_year, civil, down, error);
    if (status != STEADING_OK) return status;
    if (!(outages->saifi > 0) || g->without_random) continue;
    mark_random(g, m, run_year - 1, 1, down);
    mark_random(g, m, run_year, 0, down);
  }
  return STEADING_OK;
}
