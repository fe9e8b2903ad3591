#include "dispatch/decide.h"

#include <math.h>
#include <stdio.h>

#include "dispatch/batteries.h"
#include "site/function.h"

static const steading_rules *rules_of(const steading_program *p, size_t i) {
  return p->hubs[i].hub->rules;
}

bool steading_decides(const steading_program *p) {
  for (size_t i = 0; i < p->layout.hubs; i++)
    if (rules_of(p, i) != NULL && rules_of(p, i)->decide != NULL) return true;
  return false;
}

static bool is_up(const steading_decide_at *at, size_t i) {
  int meter = at->program->hubs[i].meter;
  return meter >= 0 && !(at->down >> meter & 1);
}

static steading_decide_step step_of(const steading_decide_at *at, const steading_stretch *s,
                                    size_t i) {
  const steading_program *p = at->program;
  steading_decide_step step = {.hub = p->hubs[i].name,
                               .step = (double)at->run_step + 1,
                               .year = at->year,
                               .month = at->civil->month,
                               .day = at->civil->day,
                               .weekday = at->civil->weekday + 1,
                               .hour = at->civil->minute / 60.0,
                               .step_hours = s->step_h,
                               .stored_kwh = at->state->stored_kwh[i],
                               .capacity_kwh = at->capacity_kwh[i],
                               .pv_kw = at->pv_kw[i * at->stride],
                               .load_kw = at->load_kw[i * at->stride],
                               .sun_next_24h_kwh = at->sun_kwh[i * at->stride],
                               .grid_up = is_up(at, i),
                               .tank_count = p->layout.tanks};
  /* the year of the step is that of its civil month */
  if (at->civil->month == 1 && at->month == 12) step.year += 1;
  if (at->civil->month == 12 && at->month == 1) step.year -= 1;
  if (at->capacity_kwh[i] > 0) step.state_of_charge = step.stored_kwh / step.capacity_kwh;
  if (p->layout.generators > 0) {
    step.generator_on = at->sets->sets[i].on > 0;
    step.generator_hours_today = at->sets->sets[i].today_h;
  }
  for (size_t t = 0; t < p->layout.tanks; t++) {
    double full = s->tanks[t].full_l;
    step.tank_names[t] = p->tanks[t].name;
    step.tank_shares[t] = full > 0 ? at->state->tank_l[t] / full : 0;
  }
  return step;
}

/* What an answer speaks of that the hub does not have; NULL: nothing. */
static const char *misses(const steading_program *p, size_t i, const steading_decision *d) {
  const steading_hub *hub = p->hubs[i].hub;
  bool meter = p->hubs[i].meter >= 0;
  if (!isnan(d->battery_floor) && hub->battery == NULL)
    return "battery_floor: the hub has no battery";
  if (!isnan(d->discharge_kw) && hub->battery == NULL) return "discharge: the hub has no battery";
  if (!isnan(d->discharge_kw) && !meter)
    return "discharge: the hub has no meter, and without a grid the battery serves its loads";
  if (!isnan(d->charge_to) && isnan(d->charge_from_grid_kw))
    return "charge_to: expected charge_from_grid_kw beside it";
  if (!isnan(d->charge_from_grid_kw) && hub->battery == NULL)
    return "charge_from_grid_kw: the hub has no battery";
  if (!isnan(d->charge_from_grid_kw) && !meter) return "charge_from_grid_kw: the hub has no meter";
  if (d->charge_from_grid_kw > 0 && !(hub->inverter->unit->charge_from_grid_kw > 0))
    return "charge_from_grid_kw: the unit cannot charge from AC; give "
           "inverter.unit.charge_from_grid_kw";
  if (d->generator != STEADING_GENERATOR_BY_RULES && hub->generator == NULL)
    return "generator: the hub has none";
  return NULL;
}

static void set_floor(const steading_decide_at *at, size_t i, double share,
                      steading_stretch *stretch) {
  const steading_rules *rules = rules_of(at->program, i);
  double least = rules->reserve[at->month - 1], resume = (double)NAN;
  if (!is_up(at, i))
    least =
        steading_record_given(rules, "outage_floor") ? rules->outage_floor : rules->battery_floor;
  else if (at->program->hubs[i].meter >= 0)
    resume = steading_record_or_else(rules, "resume_above", rules->resume_above, resume);
  steading_batteries_set_floor(stretch, i, at->capacity_kwh[i], fmax(share, least), resume);
}

static void set_charger(const steading_decide_at *at, size_t i, const steading_decision *d,
                        steading_stretch *stretch) {
  const steading_inverter *inverter = at->program->hubs[i].hub->inverter;
  steading_hub_stretch *s = &stretch->hubs[i];
  double units = steading_lots_on(inverter->lots, at->day);
  s->charger_kw = s->charge_to_kwh = s->charge_to_share = 0;
  if (!(d->charge_from_grid_kw > 0)) return;
  s->charger_kw = fmin(inverter->unit->charge_from_grid_kw * units, d->charge_from_grid_kw);
  s->charger_efficiency = inverter->unit->charge_efficiency;
  s->charge_to_share = isnan(d->charge_to) ? 1 : d->charge_to;
  s->charge_to_kwh = steading_batteries_kwh_at(stretch, i, at->capacity_kwh[i], s->charge_to_share);
}

/* More than any battery holds: a class is shed whatever the charge. */
static const double beyond_kwh = 1e300;

static void carry_out(const steading_decide_at *at, size_t i, const steading_decision *d,
                      steading_stretch *stretch) {
  steading_hub_stretch *s = &stretch->hubs[i];
  if (!isnan(d->battery_floor)) set_floor(at, i, d->battery_floor, stretch);
  if (is_up(at, i) && !isnan(d->discharge_kw)) {
    s->holds = d->discharge_kw > 0 ? 0 : 1;
    if (d->discharge_kw > 0) s->discharge_kw = fmin(s->discharge_kw, d->discharge_kw);
  }
  if (is_up(at, i) && !isnan(d->charge_from_grid_kw)) set_charger(at, i, d, stretch);
  for (size_t c = 0; d->says_shed && !is_up(at, i) && c < STEADING_SHED_CLASSES; c++) {
    s->shed_kwh[c] = d->shed[c] ? beyond_kwh : 0;
    s->restore_kwh[c] = d->shed[c] ? beyond_kwh : 0;
  }
}

/* Ask the function of a hub. */
static steading_status ask(const steading_program *p, size_t i, const steading_decide_step *step,
                           steading_decision *decision, steading_error *said) {
  steading_function *function = rules_of(p, i)->decide;
  *decision = (steading_decision){.battery_floor = (double)NAN,
                                  .discharge_kw = (double)NAN,
                                  .charge_from_grid_kw = (double)NAN,
                                  .charge_to = (double)NAN,
                                  .generator = STEADING_GENERATOR_BY_RULES};
  return function->decide(function, step, decision, said);
}

/* `since`: as outage_step. */
static steading_status fail_in_step(const steading_program *p, size_t i,
                                    const steading_decide_step *step, size_t since,
                                    steading_status status, const char *text,
                                    steading_error *error) {
  int minute = (int)lround(step->hour * 60);
  char path[192], outage[64] = "";
  snprintf(path, sizeof path, "site.hubs.%s.rules.decide", p->hubs[i].name);
  if (since > 0) snprintf(outage, sizeof outage, ", in an outage that began in step %zu", since);
  return steading_fail(error, status, path,
                       "in %04d, step %.0f of the run (%02d-%02d %02d:%02d)%s: %s", (int)step->year,
                       step->step, (int)step->month, (int)step->day, minute / 60, minute % 60,
                       outage, text);
}

/* Once there is no room, every second one goes, and half as many come from then on. */
static void keep_question(steading_decide_questions *q, size_t hub,
                          const steading_decide_step *step, const steading_decision *decision) {
  if (q->every == 0) q->every = 1;
  if (q->asked++ % q->every != 0) return;
  if (q->count == STEADING_MOST_QUESTIONS) {
    for (size_t k = 0; 2 * k < q->count; k++) q->kept[k] = q->kept[2 * k];
    q->count /= 2;
    q->every *= 2;
  }
  q->kept[q->count++] =
      (steading_decide_question){.hub = hub, .step = *step, .decision = *decision};
}

static bool same(double a, double b) { return isnan(a) ? isnan(b) : a == b; }

static bool same_decision(const steading_decision *a, const steading_decision *b) {
  bool shed = a->says_shed == b->says_shed;
  for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) shed = shed && a->shed[c] == b->shed[c];
  return shed && same(a->battery_floor, b->battery_floor) &&
         same(a->discharge_kw, b->discharge_kw) &&
         same(a->charge_from_grid_kw, b->charge_from_grid_kw) && same(a->charge_to, b->charge_to) &&
         a->generator == b->generator;
}

steading_status steading_decide_again(const steading_program *p, const steading_decide_questions *q,
                                      steading_error *error) {
  for (size_t k = q->count; k-- > 0;) {
    const steading_decide_question *question = &q->kept[k];
    steading_decision now;
    steading_error said = {.status = STEADING_OK};
    steading_status status = ask(p, question->hub, &question->step, &now, &said);
    if (status == STEADING_OK && same_decision(&now, &question->decision)) continue;
    return fail_in_step(
        p, question->hub, &question->step, 0, STEADING_BAD_INPUT,
        status != STEADING_OK
            ? said.text
            : "asked once more with the same `now` it answers differently; an answer must not "
              "depend on what was asked before, since outages are not followed in order of time",
        error);
  }
  return STEADING_OK;
}

steading_status steading_decide(const steading_decide_at *at, steading_stretch *stretch,
                                int8_t *orders, steading_error *error) {
  const steading_program *p = at->program;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    steading_decision decision;
    steading_error said = {.status = STEADING_OK};
    const char *text = NULL;
    orders[i] = STEADING_GENERATOR_BY_RULES;
    if (rules_of(p, i) == NULL || rules_of(p, i)->decide == NULL) continue;
    const steading_decide_step step = step_of(at, stretch, i);
    steading_status status = ask(p, i, &step, &decision, &said);
    text = status == STEADING_OK ? misses(p, i, &decision) : said.text;
    if (text != NULL)
      return fail_in_step(p, i, &step, at->outage_step,
                          status == STEADING_OK ? STEADING_BAD_INPUT : status, text, error);
    if (at->questions != NULL) keep_question(at->questions, i, &step, &decision);
    orders[i] = (int8_t)decision.generator;
    carry_out(at, i, &decision, stretch);
  }
  return STEADING_OK;
}
