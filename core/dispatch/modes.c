#include "dispatch/modes.h"

#include <stdio.h>
#include <string.h>

#include "dispatch/forecast.h"
#include "site/window.h"

/* Set `bit` in the steps of the year that lie in a rule's windows, or that do not (`inside`). */
static steading_status set_window(const steading_modes *m, const steading_windows *windows,
                                  uint64_t bit, bool inside, size_t hub, const char *rule,
                                  uint64_t *words, steading_error *error) {
  const steading_program *p = m->program;
  for (size_t i = 0; i < p->steps_per_year; i++) {
    const steading_civil_step *s = &m->civil[i];
    double share = steading_windows_share(windows, s->month, s->weekday, s->month_before, s->minute,
                                          p->step_minutes);
    char path[192];
    if (share == (inside ? 1 : 0)) words[i] |= bit;
    if (share == 0 || share == 1) continue;
    snprintf(path, sizeof path, "site.hubs.%s.rules.%s", p->hubs[hub].name, rule);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "a window begins or ends within the step of %d minutes at %02d:%02d; "
                         "simulate with finer step_minutes",
                         p->step_minutes, s->minute / 60, s->minute % 60);
  }
  return STEADING_OK;
}

/* In which steps of the year the sun ahead is so little that the reserve is raised. */
static void set_raised(const steading_modes *m, size_t hub, const steading_raise_reserve *rule,
                       uint64_t bit, uint64_t *words) {
  size_t n = m->program->steps_per_year;
  int step_minutes = m->program->step_minutes;
  steading_forecast_year(m->pv_kw + hub * n, n, step_minutes, m->civil,
                         (size_t)rule->ahead_h * 60 / (size_t)step_minutes, rule->skill, m->sums,
                         m->expected_kwh);
  for (size_t i = 0; i < n; i++)
    if (m->expected_kwh[i] < rule->below_kwh) words[i] |= bit;
}

steading_status steading_modes_year(const steading_modes *m, uint64_t *words,
                                    steading_error *error) {
  const steading_program *p = m->program;
  steading_status status = STEADING_OK;
  memset(words, 0, p->steps_per_year * sizeof *words);
  for (size_t i = 0; status == STEADING_OK && i < p->layout.hubs; i++) {
    const steading_rules *rules = p->hubs[i].hub->rules;
    size_t shift = i * STEADING_MODE_BITS;
    if (rules == NULL || p->hubs[i].meter < 0) continue;
    if (rules->charge_from_grid != NULL)
      status =
          set_window(m, rules->charge_from_grid->window, (uint64_t)STEADING_MODE_CHARGES << shift,
                     true, i, "charge_from_grid.window", words, error);
    if (status == STEADING_OK && rules->discharge_windows != NULL)
      status = set_window(m, rules->discharge_windows, (uint64_t)STEADING_MODE_HOLDS << shift,
                          false, i, "discharge_windows", words, error);
    else if (rules->battery_use == STEADING_BATTERY_USE_OUTAGES)
      for (size_t k = 0; k < p->steps_per_year; k++)
        words[k] |= (uint64_t)STEADING_MODE_HOLDS << shift;
    if (rules->raise_reserve != NULL)
      set_raised(m, i, rules->raise_reserve, (uint64_t)STEADING_MODE_RAISED << shift, words);
  }
  return status;
}
