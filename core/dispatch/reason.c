#include "dispatch/reason.h"

#include "plant/start_stop.h"

const char *const steading_reason_names[STEADING_REASON_COUNT] = {
#define STEADING_REASON_NAME(name, doc) #name,
    STEADING_REASON_LIST(STEADING_REASON_NAME)
#undef STEADING_REASON_NAME
};

/* Powers that differ by less are the same: a limit is reached to rounding. */
static const double nearly = 1 - 1e-9, nothing_kw = 1e-9;

/* Why sun and battery did not carry all that the hub's loads want. */
static steading_reason of_shortfall(const steading_block *b, size_t step, size_t i,
                                    const steading_hub_flow *f) {
  const steading_hub_stretch *p = &b->stretch->hubs[i];
  double ac_kw =
      p->ac_kw * (b->rows.ac_share == NULL ? 1 : b->rows.ac_share[i * b->rows.stride + step]);
  const steading_rules *rules = b->program->hubs[i].hub->rules;
  double battery_kwh = p->highest_kwh;
  double outage_kw = f->load - f->to_bus - f->ac_sun;
  bool islanded = p->meter < 0 || (b->down >> p->meter & 1);
  if (p->transfers > 0 && !(f->inverted > 0) && outage_kw > ac_kw)
    return STEADING_REASON_inverter_limit;
  if (p->ac_kw > 0 && f->inverted >= ac_kw * nearly) return STEADING_REASON_inverter_limit;
  if (!(battery_kwh > 0)) return STEADING_REASON_no_battery;
  if (f->charger_in > 0 || (p->charger_kw > 0 && f->battery_out == 0 &&
                            f->stored_kwh <= p->charge_to_kwh * (2 - nearly)))
    return STEADING_REASON_charge_from_grid;
  if (p->holds > 0 && rules->decide != NULL) return STEADING_REASON_decided;
  if (p->holds > 0)
    return rules->discharge_windows != NULL ? STEADING_REASON_window : STEADING_REASON_battery_use;
  if (p->resume_kwh > p->floor_kwh && f->battery_out == 0 &&
      f->stored_kwh > p->floor_kwh * (2 - nearly) && f->stored_kwh < p->resume_kwh &&
      f->from_bus > p->import_margin_kw)
    return STEADING_REASON_resume_above;
  if (f->battery_out > 0 && f->battery_out >= p->discharge_kw * nearly)
    return STEADING_REASON_battery_power;
  if (p->transfers > 0 && !(f->inverted > 0) && f->stored_kwh > p->floor_kwh * (2 - nearly))
    return STEADING_REASON_battery_power;
  if (p->import_margin_kw > 0 && f->unserved == 0 &&
      f->from_bus <= p->import_margin_kw * (2 - nearly))
    return STEADING_REASON_import_margin;
  if (islanded)
    return rules != NULL && steading_record_given(rules, "outage_floor")
               ? STEADING_REASON_outage_floor
               : STEADING_REASON_battery_floor;
  if (p->keep_kwh > p->floor_kwh) return STEADING_REASON_raise_reserve;
  if (rules != NULL && rules->reserve[b->month - 1] > rules->battery_floor)
    return STEADING_REASON_reserve;
  return STEADING_REASON_battery_floor;
}

/* Why a generator did not carry what is unserved; STEADING_REASON_none where the hub has none. */
static steading_reason of_generator(const steading_block *b, const double *row, size_t i) {
  const steading_generator_flow *g = NULL;
  if (b->program->hubs[i].hub->generator == NULL) return STEADING_REASON_none;
  g = steading_generator_flow_of(b->layout, row, i);
  if (g->dry_h > 0) return STEADING_REASON_no_fuel;
  switch ((steading_start_stop_why)g->held) {
    case STEADING_START_STOP_quiet:
      return STEADING_REASON_quiet;
    case STEADING_START_STOP_hours:
      return STEADING_REASON_generator_hours;
    case STEADING_START_STOP_rest:
      return STEADING_REASON_generator_rest;
    case STEADING_START_STOP_waits:
      return STEADING_REASON_generator_waits;
    case STEADING_START_STOP_grid:
    case STEADING_START_STOP_free:
      break;
  }
  return g->running_h > 0 ? STEADING_REASON_generator_limit : STEADING_REASON_none;
}

steading_reason steading_reason_of_hub(const steading_block *b, size_t step, size_t i) {
  const double *row = b->flows + step * b->layout->width;
  const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
  const steading_hub_stretch *p = &b->stretch->hubs[i];
  bool islanded = p->meter < 0 || (b->down >> p->meter & 1);
  if (f->from_bus <= nothing_kw && f->unserved <= nothing_kw) return STEADING_REASON_none;
  if (f->unserved > nothing_kw && !islanded) {
    if (f->from_bus >= p->pass_through_kw * nearly) return STEADING_REASON_pass_through_limit;
    return STEADING_REASON_import_limit;
  }
  if (f->unserved > nothing_kw) {
    steading_reason reason = of_generator(b, row, i);
    if (reason != STEADING_REASON_none) return reason;
  }
  return of_shortfall(b, step, i, f);
}

steading_reason steading_reason_of_meter(const steading_block *b, size_t step, size_t m) {
  const double *row = b->flows + step * b->layout->width;
  const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
  double sent = 0;
  if (f->unserved > nothing_kw)
    return b->down >> m & 1 ? STEADING_REASON_outage : STEADING_REASON_import_limit;
  for (size_t i = 0; i < b->layout->hubs; i++)
    if (b->stretch->hubs[i].meter == (int)m)
      sent += steading_hub_flow_of(b->layout, row, i)->to_bus;
  return f->served - sent > nothing_kw && f->import > nothing_kw ? STEADING_REASON_no_hub
                                                                 : STEADING_REASON_none;
}

steading_reason steading_reason_of_site(const steading_block *b, size_t step) {
  const double *row = b->flows + step * b->layout->width;
  steading_reason reason = STEADING_REASON_none;
  double most = nothing_kw;
  for (size_t i = 0; i < b->layout->hubs; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
    if (!(f->from_bus + f->unserved > most)) continue;
    most = f->from_bus + f->unserved;
    reason = steading_reason_of_hub(b, step, i);
  }
  for (size_t m = 0; m < b->layout->meters; m++) {
    const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
    double own = f->unserved + (f->served < f->import ? f->served : f->import);
    if (!(own > most)) continue;
    most = own;
    reason = steading_reason_of_meter(b, step, m);
  }
  return reason;
}
