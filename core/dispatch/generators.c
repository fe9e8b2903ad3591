#include "dispatch/generators.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "dispatch/arrays.h"
#include "plant/fuel.h"
#include "resource/weather.h"
#include "series.h"
#include "site/window.h"

/* Less is rounding: reason.c holds it for nothing. */
static const double nothing_kw = 1e-9;

/* A hub's generator in the section at hand. */
typedef struct one_set {
  const steading_generator *generator;   /* NULL: the hub has none */
  const steading_generator_rules *rules; /* NULL: it runs when load would be left unserved */
  double kw;                 /* of all sets in service, at sea level in cool air; 0: none is */
  steading_fuel_curve curve; /* its least_kw is that of the step */
  steading_start_stop_rule rule;
} one_set;

struct steading_generators {
  const steading_program *program;
  size_t first_day; /* of the year, 0..364, on which the run begins */
  one_set sets[STEADING_MOST_HUBS];
  steading_fuel_tank_rule tanks[STEADING_MOST_FUELS];
  double *quiet, *exercise; /* [hubs][steps per year], shares of the step */
  double *power;            /* [hubs][steps per year], share of kw that altitude and heat leave */
};

/* --- making --------------------------------------------------------------------------------------
 */

steading_status steading_generators_make(const steading_program *p, steading_generators **out,
                                         steading_error *error) {
  steading_generators *g = calloc(1, sizeof *g);
  size_t n = p->layout.hubs * p->steps_per_year;
  int year = 0, month = 0, day = 0;
  *out = g;
  if (g != NULL) g->quiet = calloc(3 * n, sizeof *g->quiet);
  if (g == NULL || g->quiet == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  g->program = p;
  g->exercise = g->quiet + n;
  g->power = g->exercise + n;
  steading_date_of_day(p->start_day, &year, &month, &day);
  g->first_day = (size_t)steading_days_before_month[month - 1];
  for (size_t i = 0; i < p->layout.hubs; i++) {
    const steading_hub *hub = p->hubs[i].hub;
    g->sets[i].generator = hub->generator;
    g->sets[i].rules = hub->rules == NULL ? NULL : hub->rules->generator;
  }
  for (size_t f = 0; f < p->layout.fuels; f++)
    if (p->fuels[f]->tank != NULL)
      g->tanks[f] = steading_fuel_tank_rule_of(p->fuel_names[f], p->fuels[f]);
  return STEADING_OK;
}

void steading_generators_free(steading_generators *g) {
  if (g == NULL) return;
  free(g->quiet);
  free(g);
}

void steading_generators_begin(const steading_generators *g, steading_generators_state *state) {
  *state = (steading_generators_state){.sets = {{0}}};
  for (size_t i = 0; i < STEADING_MOST_HUBS; i++) state->sets[i] = steading_start_stop_begin();
  for (size_t f = 0; f < g->program->layout.fuels; f++) {
    state->tanks[f].days_left = -1;
    if (g->program->fuels[f]->tank != NULL)
      state->tanks[f].level_l =
          steading_fuel_tank_start_l(g->program->fuel_names[f], g->program->fuels[f]);
  }
}

static void set_share(const steading_program *p, const steading_windows *windows,
                      const steading_civil_step *civil, double *share) {
  for (size_t k = 0; k < p->steps_per_year; k++)
    share[k] = windows == NULL ? 0
                               : steading_windows_share(windows, civil[k].month, civil[k].weekday,
                                                        civil[k].month_before, civil[k].minute,
                                                        p->step_minutes);
}

void steading_generators_year(steading_generators *g, int run_year,
                              const steading_civil_step *civil) {
  const steading_program *p = g->program;
  const steading_weather *weather = p->site->weather;
  size_t n = p->steps_per_year, ours = (size_t)p->step_minutes;
  size_t start = steading_arrays_start_minute(p, run_year);
  for (size_t i = 0; i < p->layout.hubs; i++) {
    const one_set *set = &g->sets[i];
    const steading_generator_rules *rules = set->rules;
    if (set->generator == NULL) continue;
    set_share(p, rules == NULL ? NULL : rules->quiet, civil, g->quiet + i * n);
    set_share(p, rules == NULL || rules->exercise == NULL ? NULL : rules->exercise->window, civil,
              g->exercise + i * n);
    for (size_t k = 0; k < n; k++)
      g->power[i * n + k] = steading_generator_power_share(
          set->generator->unit, weather->place.elevation_m,
          steading_series_mean(weather->temp_c, weather->steps, (size_t)weather->step_minutes,
                               start + k * ours, ours));
  }
}

static steading_start_stop_rule rule_of(const steading_generator_rules *rules,
                                        double capacity_kwh) {
  steading_start_stop_rule rule = {.start_below_kwh = -1,
                                   .stop_above_kwh = -1,
                                   .if_unserved = true,
                                   .most_h_per_day = (double)INFINITY};
  if (rules == NULL) return rule;
  if (steading_record_given(rules, "start_below_charge") && capacity_kwh > 0)
    rule.start_below_kwh = rules->start_below_charge * capacity_kwh * (1 + 1e-12);
  if (steading_record_given(rules, "stop_above_charge") && capacity_kwh > 0)
    rule.stop_above_kwh = rules->stop_above_charge * capacity_kwh * (1 - 1e-12);
  rule.if_unserved = rules->start_if_unserved;
  rule.least_h = rules->least_hours;
  rule.least_rest_h = rules->least_rest_hours;
  rule.most_h_per_day = rules->most_hours_per_day >= 24 ? (double)INFINITY /* all of them */
                                                        : rules->most_hours_per_day;
  return rule;
}

void steading_generators_section(steading_generators *g, int64_t day, const double *capacity_kwh) {
  for (size_t i = 0; i < g->program->layout.hubs; i++) {
    one_set *set = &g->sets[i];
    const steading_generator *generator = set->generator;
    double sets = 0;
    if (generator == NULL) continue;
    sets = steading_lots_on(generator->lots, day);
    set->kw = generator->unit->kw * sets;
    set->curve = (steading_fuel_curve){.no_load_l_per_h = generator->unit->no_load_l_per_h * sets,
                                       .l_per_kwh = generator->unit->l_per_kwh};
    set->rule = rule_of(set->rules, capacity_kwh[i]);
  }
}

/* --- a step --------------------------------------------------------------------------------------
 */

/* What becomes of a hub's generator in the step at hand. */
typedef struct turn {
  steading_start_stop_verdict verdict;
  double kw; /* what it can give */
  steading_fuel_curve curve;
  double share;         /* of the step in which it runs */
  bool runs, exercises; /* by its rules; for exercise alone */
  bool ended;           /* its fuel did not last */
  double dry_h;
} turn;

typedef struct step_work {
  const steading_generators *g;
  const steading_generators_block *block;
  steading_stretch *now; /* the block's, with what generators give in this step */
  size_t k;              /* of the block */
  steading_state before, *state;
  double *row;
  turn turns[STEADING_MOST_HUBS];
} step_work;

static const steading_layout *layout_of(const step_work *w) { return &w->g->program->layout; }

static steading_generator_flow *flow_of(const step_work *w, size_t i) {
  return (steading_generator_flow *)(w->row + layout_of(w)->first_generator) + i;
}

static steading_fuel_flow *fuel_flow_of(const step_work *w, size_t f) {
  return (steading_fuel_flow *)(w->row + layout_of(w)->first_fuel) + f;
}

/* The step, from its beginning, with the generators as `now` has them. */
static void attempt(step_work *w) {
  const steading_generators_block *b = w->block;
  const steading_step_rows rows = steading_step_rows_at(b->rows, w->k);
  *w->state = w->before;
  steading_kernel_run(w->now, w->state, 1, &rows, w->row);
}

static void ask(step_work *w, const steading_generators_state *sets) {
  const steading_program *p = w->g->program;
  size_t step = w->block->first_step + w->k;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    const one_set *set = &w->g->sets[i];
    size_t at = i * p->steps_per_year + step;
    int meter = p->hubs[i].meter;
    turn *t = &w->turns[i];
    *t = (turn){.kw = set->kw * w->g->power[at]};
    w->now->hubs[i].generator_kw = 0;
    if (!(t->kw > 0)) continue;
    const steading_start_stop_step now = {
        .step_h = w->now->step_h,
        .stored_kwh = w->before.stored_kwh[i],
        .quiet_share = w->g->quiet[at],
        .exercise_share = w->g->exercise[at],
        .grid_holds = meter >= 0 && !(w->block->down >> meter & 1) &&
                      (set->rules == NULL || set->rules->only_without_grid)};
    t->curve = set->curve;
    t->curve.least_kw = set->generator->unit->least_load_share * t->kw;
    t->verdict = steading_start_stop_ask(&set->rule, &sets->sets[i], &now);
    if (w->block->orders != NULL)
      steading_start_stop_order(&set->rule, &sets->sets[i],
                                w->block->orders[i] == STEADING_GENERATOR_TO_RUN,
                                w->block->orders[i] == STEADING_GENERATOR_TO_REST, &t->verdict);
    t->runs = t->verdict.runs == STEADING_GENERATOR_ON;
    t->share = t->verdict.share;
    if (t->verdict.why == STEADING_START_STOP_free && t->share < 1)
      t->verdict.why = now.quiet_share > 0 ? STEADING_START_STOP_quiet : STEADING_START_STOP_hours;
    if (t->runs) w->now->hubs[i].generator_kw = t->kw;
  }
}

/* Those that wait for load to be left unserved start where some is. */
static bool start_for_load(step_work *w) {
  bool any = false;
  for (size_t i = 0; i < layout_of(w)->hubs; i++) {
    turn *t = &w->turns[i];
    if (!(t->kw > 0) || t->runs || t->verdict.runs != STEADING_GENERATOR_ASKS ||
        !(flow_of(w, i)->refused > nothing_kw))
      continue;
    t->runs = any = true;
    w->now->hubs[i].generator_kw = t->kw;
  }
  return any;
}

static bool start_for_exercise(step_work *w) {
  bool any = false;
  for (size_t i = 0; i < layout_of(w)->hubs; i++) {
    turn *t = &w->turns[i];
    if (t->runs) continue;
    t->share = t->verdict.exercise_share;
    if (!(t->share > 0)) continue;
    t->exercises = true;
    if (!w->g->sets[i].rules->exercise->loaded) continue;
    w->now->hubs[i].generator_kw = t->kw;
    any = true;
  }
  return any;
}

/* Of what it gives all the time, it gives the mean over the step. */
static bool run_in_part(step_work *w) {
  bool any = false;
  for (size_t i = 0; i < layout_of(w)->hubs; i++) {
    const turn *t = &w->turns[i];
    if (!(t->share < 1) || !(w->now->hubs[i].generator_kw > 0)) continue;
    w->now->hubs[i].generator_kw = flow_of(w, i)->power * t->share;
    any = true;
  }
  return any;
}

static double burnt_l(const step_work *w, size_t i) {
  const turn *t = &w->turns[i];
  double h = w->now->step_h;
  if (!(t->share > 0)) return 0;
  return steading_fuel_burnt_l(&t->curve, t->share * h, flow_of(w, i)->power * h);
}

/* Where there is less fuel than the step burns, it lasts for a share of the step. */
static bool run_short_of_fuel(step_work *w, const steading_generators_state *sets) {
  const steading_program *p = w->g->program;
  bool any = false;
  for (size_t f = 0; f < p->layout.fuels; f++) {
    double wanted = 0, level = sets->tanks[f].level_l, lasts = 0;
    if (p->fuels[f]->tank == NULL) continue;
    for (size_t i = 0; i < p->layout.hubs; i++)
      if (p->hubs[i].fuel == (int)f) wanted += burnt_l(w, i);
    if (!(wanted > level)) continue;
    lasts = level / wanted;
    for (size_t i = 0; i < p->layout.hubs; i++) {
      turn *t = &w->turns[i];
      if (p->hubs[i].fuel != (int)f || !(t->share > 0)) continue;
      w->now->hubs[i].generator_kw = flow_of(w, i)->power * lasts;
      t->dry_h = t->share * (1 - lasts) * w->now->step_h;
      t->share *= lasts;
      t->ended = any = true;
    }
  }
  return any;
}

/* The litres that are gone, and what the rules are told. */
static void close_step(step_work *w, steading_generators_state *sets) {
  const steading_program *p = w->g->program;
  double h = w->now->step_h;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    turn *t = &w->turns[i];
    steading_generator_flow *flow = flow_of(w, i);
    if (w->g->sets[i].generator == NULL) continue;
    if (t->share > 0) {
      steading_fuel_tank_state *tank = &sets->tanks[p->hubs[i].fuel];
      double litres = burnt_l(w, i);
      if (p->fuels[p->hubs[i].fuel]->tank != NULL) litres = steading_fuel_tank_take(tank, litres);
      fuel_flow_of(w, (size_t)p->hubs[i].fuel)->used_l += litres;
    }
    flow->running_h = t->share * h;
    flow->dry_h = t->dry_h;
    flow->held =
        t->runs ? (t->share < 1 ? t->verdict.why : STEADING_START_STOP_free) : t->verdict.why;
    flow->starts = steading_start_stop_tell(&w->g->sets[i].rule, &sets->sets[i], h, t->share,
                                            t->exercises, t->ended);
  }
  for (size_t f = 0; f < p->layout.fuels; f++) fuel_flow_of(w, f)->level_l = sets->tanks[f].level_l;
}

static void morning(const steading_generators *g, size_t step, steading_generators_state *sets,
                    steading_fuel_flow *brought) {
  const steading_program *p = g->program;
  size_t a_day = p->steps_per_year / STEADING_DAYS_PER_YEAR;
  int month = 0, day = 0;
  for (size_t f = 0; f < p->layout.fuels; f++) brought[f] = (steading_fuel_flow){0};
  if (step % a_day != 0) return;
  steading_month_of_day((int)((step / a_day + g->first_day) % STEADING_DAYS_PER_YEAR), &month,
                        &day);
  for (size_t i = 0; i < p->layout.hubs; i++) steading_start_stop_morning(&sets->sets[i]);
  for (size_t f = 0; f < p->layout.fuels; f++) {
    bool came = false;
    if (p->fuels[f]->tank == NULL) continue;
    brought[f].delivered_l =
        steading_fuel_tank_morning(&g->tanks[f], month, day, &sets->tanks[f], &came);
    brought[f].trucks = came ? 1 : 0;
  }
}

void steading_generators_run(const steading_generators *g, const steading_generators_block *block,
                             steading_state *state, steading_generators_state *sets,
                             double *flows) {
  const steading_layout *at = &g->program->layout;
  steading_stretch now;
  step_work w = {.g = g, .block = block, .now = &now, .state = state};
  steading_stretch_copy(&now, block->stretch);
  for (w.k = 0; w.k < block->count; w.k++) {
    steading_fuel_flow brought[STEADING_MOST_FUELS];
    w.row = flows + w.k * at->width;
    w.before = *state;
    morning(g, block->first_step + w.k, sets, brought);
    ask(&w, sets);
    attempt(&w);
    if (start_for_load(&w)) attempt(&w);
    if (start_for_exercise(&w)) attempt(&w);
    if (run_in_part(&w)) attempt(&w);
    if (run_short_of_fuel(&w, sets)) attempt(&w);
    for (size_t f = 0; f < at->fuels; f++) *fuel_flow_of(&w, f) = brought[f];
    close_step(&w, sets);
  }
}
