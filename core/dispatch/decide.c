#include "dispatch/decide.h"

#include <math.h>
#include <stdio.h>

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
                      steading_hub_stretch *s) {
  const steading_rules *rules = rules_of(at->program, i);
  double capacity = at->capacity_kwh[i], least = rules->reserve[at->month - 1];
  bool has_meter = at->program->hubs[i].meter >= 0;
  if (!is_up(at, i))
    least =
        steading_record_given(rules, "outage_floor") ? rules->outage_floor : rules->battery_floor;
  s->floor_kwh = fmin(fmax(fmax(share, least) * capacity, s->lowest_kwh), s->highest_kwh);
  s->resume_kwh = s->floor_kwh;
  if (has_meter && is_up(at, i) && steading_record_given(rules, "resume_above"))
    s->resume_kwh = fmin(fmax(s->floor_kwh, rules->resume_above * capacity),
                         s->highest_kwh * (1 - 1e-9)); /* a full battery always serves again */
}

static void set_charger(const steading_decide_at *at, size_t i, const steading_decision *d,
                        steading_hub_stretch *s) {
  const steading_inverter *inverter = at->program->hubs[i].hub->inverter;
  double units = steading_lots_on(inverter->lots, at->day);
  s->charger_kw = s->charge_to_kwh = 0;
  if (!(d->charge_from_grid_kw > 0)) return;
  s->charger_kw = fmin(inverter->unit->charge_from_grid_kw * units, d->charge_from_grid_kw);
  s->charger_efficiency = inverter->unit->charge_efficiency;
  s->charge_to_kwh = isnan(d->charge_to) ? s->highest_kwh
                                         : fmin(d->charge_to * at->capacity_kwh[i], s->highest_kwh);
}

/* More than any battery holds: a class is shed whatever the charge. */
static const double beyond_kwh = 1e300;

static void carry_out(const steading_decide_at *at, size_t i, const steading_decision *d,
                      steading_hub_stretch *s) {
  if (!isnan(d->battery_floor)) set_floor(at, i, d->battery_floor, s);
  if (is_up(at, i) && !isnan(d->discharge_kw)) {
    s->holds = d->discharge_kw > 0 ? 0 : 1;
    if (d->discharge_kw > 0) s->discharge_kw = fmin(s->discharge_kw, d->discharge_kw);
  }
  if (is_up(at, i) && !isnan(d->charge_from_grid_kw)) set_charger(at, i, d, s);
  for (size_t c = 0; d->says_shed && !is_up(at, i) && c < STEADING_SHED_CLASSES; c++) {
    s->shed_kwh[c] = d->shed[c] ? beyond_kwh : 0;
    s->restore_kwh[c] = d->shed[c] ? beyond_kwh : 0;
  }
}

steading_status steading_decide(const steading_decide_at *at, steading_stretch *stretch,
                                int8_t *orders, steading_error *error) {
  const steading_program *p = at->program;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    steading_function *function = rules_of(p, i) == NULL ? NULL : rules_of(p, i)->decide;
    steading_decision decision = {.battery_floor = (double)NAN,
                                  .discharge_kw = (double)NAN,
                                  .charge_from_grid_kw = (double)NAN,
                                  .charge_to = (double)NAN,
                                  .generator = STEADING_GENERATOR_BY_RULES};
    steading_error said = {.status = STEADING_OK};
    const char *text = NULL;
    char path[192];
    orders[i] = STEADING_GENERATOR_BY_RULES;
    if (function == NULL) continue;
    const steading_decide_step step = step_of(at, stretch, i);
    steading_status status = function->decide(function, &step, &decision, &said);
    text = status == STEADING_OK ? misses(p, i, &decision) : said.text;
    if (text == NULL) {
      orders[i] = (int8_t)decision.generator;
      carry_out(at, i, &decision, &stretch->hubs[i]);
      continue;
    }
    snprintf(path, sizeof path, "site.hubs.%s.rules.decide", p->hubs[i].name);
    return steading_fail(error, status == STEADING_OK ? STEADING_BAD_INPUT : status, path,
                         "in %04d, step %zu of the run (%02d-%02d %02d:%02d): %s", (int)step.year,
                         at->run_step + 1, at->civil->month, at->civil->day, at->civil->minute / 60,
                         at->civil->minute % 60, text);
  }
  return STEADING_OK;
}
