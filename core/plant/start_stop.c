#include "plant/start_stop.h"

#include <math.h>

/* Hours add up to their limit to rounding. */
static const double nearly_h = 1e-9;

steading_start_stop_state steading_start_stop_begin(void) {
  return (steading_start_stop_state){.rest_h = 1e9};
}

void steading_start_stop_morning(steading_start_stop_state *state) { state->today_h = 0; }

/* Whether it runs, where nothing forbids it. */
static steading_generator_run wants(const steading_start_stop_rule *rule,
                                    const steading_start_stop_state *state, double stored_kwh,
                                    steading_start_stop_why *why) {
  *why = STEADING_START_STOP_free;
  if (state->on > 0) {
    if (state->run_h + nearly_h < rule->least_h) return STEADING_GENERATOR_ON;
    if (stored_kwh < rule->stop_above_kwh) return STEADING_GENERATOR_ON;
  } else {
    if (state->rest_h + nearly_h < rule->least_rest_h) {
      *why = STEADING_START_STOP_rest;
      return STEADING_GENERATOR_OFF;
    }
    if (stored_kwh <= rule->start_below_kwh) return STEADING_GENERATOR_ON;
  }
  if (rule->if_unserved) return STEADING_GENERATOR_ASKS;
  *why = STEADING_START_STOP_waits;
  return STEADING_GENERATOR_OFF;
}

steading_start_stop_verdict steading_start_stop_ask(const steading_start_stop_rule *rule,
                                                    const steading_start_stop_state *state,
                                                    const steading_start_stop_step *step) {
  steading_start_stop_verdict v = {.runs = STEADING_GENERATOR_OFF};
  double left_h = rule->most_h_per_day - state->today_h;
  v.share = fmax(1 - step->quiet_share, 0);
  if (v.share <= 0)
    v.why = STEADING_START_STOP_quiet;
  else if (left_h <= nearly_h)
    v.why = STEADING_START_STOP_hours;
  if (v.why != STEADING_START_STOP_free) {
    v.share = 0;
    return v;
  }
  v.share = fmin(v.share, left_h / step->step_h);
  v.exercise_share = fmin(v.share, step->exercise_share);
  if (step->grid_holds)
    v.why = STEADING_START_STOP_grid;
  else
    v.runs = wants(rule, state, step->stored_kwh, &v.why);
  return v;
}

void steading_start_stop_order(const steading_start_stop_rule *rule,
                               const steading_start_stop_state *state, bool to_run, bool to_rest,
                               steading_start_stop_verdict *v) {
  bool held = v->why != STEADING_START_STOP_free && v->why != STEADING_START_STOP_waits;
  bool must = state->on > 0 && state->run_h + nearly_h < rule->least_h;
  if (held) return;
  if (to_run) {
    v->runs = STEADING_GENERATOR_ON;
    v->why = STEADING_START_STOP_free;
  } else if (to_rest && !must) {
    v->runs = STEADING_GENERATOR_OFF;
    v->why = STEADING_START_STOP_waits;
  }
}

double steading_start_stop_tell(const steading_start_stop_rule *rule,
                                steading_start_stop_state *state, double step_h, double ran_share,
                                bool exercise, bool ended) {
  double ran_h = ran_share * step_h;
  bool was_on = state->on > 0, exercised = state->exercises > 0;
  bool starts = ran_share > 0 && !was_on && !exercised;
  state->today_h += ran_h;
  if (!(ran_share > 0)) {
    state->rest_h = was_on ? step_h : state->rest_h + step_h;
    state->on = state->exercises = state->run_h = 0;
    return 0;
  }
  if (exercise) { /* the rest of the step, and what it rested before, is its rest */
    state->exercises = ran_share < 1 ? 0 : 1;
    state->on = state->run_h = 0;
    state->rest_h = step_h - ran_h;
    return starts ? 1 : 0;
  }
  state->exercises = 0;
  state->run_h = was_on ? state->run_h + ran_h : ran_h;
  ended = ended || state->today_h + nearly_h >= rule->most_h_per_day;
  state->on = ended ? 0 : 1;
  state->rest_h = ended ? step_h - ran_h : 0;
  if (ended) state->run_h = 0;
  return starts ? 1 : 0;
}
