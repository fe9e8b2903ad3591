#include "plant/fuel_tank.h"

#include <math.h>
#include <stddef.h>

#include "plant/fuel.h"

static double full_share(const char *name, const steading_fuel_store *tank) {
  const steading_fuel_content *content = steading_fuel_known(name);
  return steading_record_or_else(tank, "full_to", tank->full_to,
                                 content != NULL ? content->full_to : 1);
}

steading_fuel_tank_rule steading_fuel_tank_rule_of(const char *name, const steading_fuel *fuel) {
  const steading_delivery *delivery = fuel->delivery;
  steading_fuel_tank_rule rule = {.full_l = full_share(name, fuel->tank) * fuel->tank->litres,
                                  .order_l = -1};
  if (delivery == NULL) return rule;
  rule.order_l = delivery->order_below * fuel->tank->litres;
  rule.least_l = delivery->least_l;
  rule.lead_days = delivery->lead_days;
  if (steading_record_given(delivery, "closed")) rule.closed = delivery->closed;
  return rule;
}

double steading_fuel_tank_start_l(const char *name, const steading_fuel *fuel) {
  double full_l = full_share(name, fuel->tank) * fuel->tank->litres;
  return steading_record_or_else(fuel->tank, "litres_at_start", fuel->tank->litres_at_start,
                                 full_l / 2);
}

static bool is_closed(const steading_fuel_tank_rule *rule, int month, int day) {
  return rule->closed != NULL && rule->closed[month - 1][day - 1];
}

static double fill(const steading_fuel_tank_rule *rule, steading_fuel_tank_state *state) {
  double brought = fmax(rule->full_l - state->level_l, 0);
  state->level_l += brought;
  state->days_left = -1;
  return brought;
}

double steading_fuel_tank_morning(const steading_fuel_tank_rule *rule, int month, int day,
                                  steading_fuel_tank_state *state, bool *came) {
  double brought = 0;
  bool open = !is_closed(rule, month, day);
  *came = false;
  if (state->days_left > 0) state->days_left--;
  if (state->days_left == 0 && open) {
    brought = fill(rule, state);
    *came = true;
  }
  if (state->days_left < 0 && state->level_l < rule->order_l) {
    state->days_left = rule->lead_days;
    if (state->days_left == 0 && open) {
      brought += fill(rule, state);
      *came = true;
    }
  }
  return brought;
}

double steading_fuel_tank_take(steading_fuel_tank_state *state, double wanted_l) {
  double got = fmin(wanted_l, state->level_l);
  state->level_l -= got;
  return got;
}
