#include "dispatch/kernel.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>

/* Selects, not fmin and fmax: those are calls with rules for NaN that nothing here needs. */
static inline double least(double a, double b) { return a < b ? a : b; }
static inline double most(double a, double b) { return a > b ? a : b; }

#ifndef NDEBUG
/* The node equations, to rounding: a debug build checks each step. */
static void check_nodes(const steading_stretch *p, const steading_flow *f) {
  double size = 1 + f->pv_available + f->import + f->hub_load + f->meter_load + f->battery_out;
  double slack = 1e-9 * size;
  double loss = p->b * f->inverted + p->c_per_rating * f->inverted * f->inverted;
  assert(fabs(f->pv_used + f->battery_out - f->battery_in - f->inverted_in) < slack);
  assert(fabs(f->inverted_in - f->inverted - f->idle_from_dc - loss) < slack);
  assert(fabs(f->inverted + f->from_bus - f->hub_served - f->to_bus - f->idle_from_ac) < slack);
  assert(fabs(f->import + f->to_bus - f->export - f->from_bus - f->meter_served) < slack);
  assert(fabs(f->pv_used + f->import - f->hub_served - f->meter_served - f->export -
              f->inverter_loss - f->battery_loss - f->standby - f->stored_change) < slack);
  for (size_t i = 0; i < STEADING_FLOW_COUNT; i++) {
    double value = ((const double *)f)[i];
    assert(isfinite(value));
    assert(value >= -slack || &((const double *)f)[i] == &f->stored_change ||
           &((const double *)f)[i] == &f->inverter_loss);
  }
  assert(f->battery_in == 0 || f->battery_out == 0);
}
#endif

/* The parameters of a stretch with what follows from them: a division by a constant becomes a
 * product once a stretch, not once a step. */
typedef struct locals {
  steading_stretch p;
  double per_h, rise, rise_squared, four_c, per_efficiency_in_h, per_efficiency_out, loss_in,
      loss_out, stop_reached_l;
} locals;

static locals locals_of(const steading_stretch *p) {
  return (locals){.p = *p,
                  .per_h = 1 / p->step_h,
                  .rise = 1 + p->b,
                  .rise_squared = (1 + p->b) * (1 + p->b),
                  .four_c = 4 * p->c_per_rating,
                  .per_efficiency_in_h = 1 / (p->efficiency_in * p->step_h),
                  .per_efficiency_out = 1 / p->efficiency_out,
                  .loss_in = 1 - p->efficiency_in,
                  .loss_out = 1 / p->efficiency_out - 1,
                  .stop_reached_l = p->stop_l * (1 - 1e-12)};
}

/* AC power from DC power beyond the idle draw, and back: see plant/inverter.h. */
static inline double ac_of(const locals *l, double dc_kw) {
  double root = most(l->rise_squared + l->four_c * dc_kw, 0);
  return 2 * dc_kw / (l->rise + __builtin_sqrt(root));
}

static inline double dc_of(const locals *l, double ac_kw) {
  return ac_kw * l->rise + l->p.c_per_rating * ac_kw * ac_kw;
}

static inline __attribute__((always_inline)) void step(const locals *l, steading_state *s,
                                                       double pv_available, double hub_base,
                                                       double meter_base, steading_flow *f,
                                                       const bool roomy) {
  const steading_stretch *p = &l->p;
  const double h = p->step_h;
  /* battery: its own electronics first, then what it could give above the floor */
  double standby = least(p->standby_kw, most(s->stored_kwh - p->lowest_kwh, 0) * l->per_h);
  double stored = s->stored_kwh - standby * h;
  double battery_can =
      least(p->discharge_kw, most(stored - p->floor_kwh, 0) * p->efficiency_out * l->per_h);
  double pv = least(pv_available, p->pv_kw);

  /* pump: a run that the level started is a load like any other */
  double want_l = most(p->stop_l - s->tank_l + p->draw_l, 0);
  double firm_duty = s->filling * least(want_l * p->per_pump_l_per_step, 1);
  double firm_kw = firm_duty * p->pump_kw;
  double hub_want = hub_base + firm_kw * p->pump_on_hub;
  double meter_want = meter_base + firm_kw * p->pump_on_meter;

  /* idle draw from DC as far as it goes, the rest from the bus, else the unit is off. What is
   * wanted of the inverter is turned into DC first, so that the square root of the way back is not
   * on the path from one step's store to the next. */
  double target = least(hub_want, p->ac_kw);
  double target_dc = dc_of(l, target);
  double idle_from_dc = least(p->idle_kw, pv + battery_can);
  double idle_wanted = p->idle_kw - idle_from_dc;
  double first_want = least(hub_want + idle_wanted, p->pass_through_kw);
  double first_all = first_want + meter_want;
  double reaches = first_all > p->import_limit_kw
                       ? (first_want * p->import_limit_kw >= idle_wanted * first_all ? 1.0 : 0.0)
                       : (first_want >= idle_wanted ? 1.0 : 0.0);
  double on = roomy || !(idle_wanted > 0) ? 1.0 : reaches;
  double can_dc = pv + battery_can - idle_from_dc;
  double served = target_dc > can_dc ? least(ac_of(l, can_dc), target) : target;
  double served_dc = target_dc > can_dc ? can_dc : target_dc;
  double idle_from_ac = idle_wanted * on;
  idle_from_dc *= on;
  served *= on;
  served_dc *= on;
  double missing = hub_want - served;
  double bus_want =
      roomy ? missing + idle_from_ac : least(missing + idle_from_ac, p->pass_through_kw);

  /* surplus sun: water, battery, the rest of the bus, export */
  double sun_beyond_idle = most(pv - p->idle_kw, 0);
  double sun_dc = on > 0 ? sun_beyond_idle : pv;
  double sun_left = most(sun_dc - served_dc, 0);
  double sun_ac = most(least(p->ac_kw, ac_of(l, sun_beyond_idle)) - served, 0);
  sun_ac = sun_left > 0 ? sun_ac * on : 0;
  double room_l = most(p->surplus_l - s->tank_l + p->draw_l - firm_duty * p->pump_l_per_step, 0);
  double spare_duty = least(room_l * p->per_pump_l_per_step, 1 - firm_duty);
  double spare_kw = least(spare_duty * p->pump_kw * p->pump_on_hub, sun_ac);
  double inverted = served + spare_kw;
  double inverted_dc = spare_kw > 0 ? dc_of(l, inverted) : served_dc;
  sun_left = most(sun_dc - inverted_dc, 0);

  double battery_in = least(least(sun_left, p->charge_kw),
                            most(p->highest_kwh - stored, 0) * l->per_efficiency_in_h);
  double out_dc = most(inverted_dc + idle_from_dc - pv, 0);
  double battery_out = sun_left > 0 ? 0 : least(out_dc, battery_can);

  double send_ac = most(least(p->ac_kw, ac_of(l, most(sun_dc - battery_in, 0))) - inverted, 0);
  double to_bus = sun_left > battery_in ? on * least(send_ac, meter_want + p->export_limit_kw) : 0;
  to_bus = bus_want > 0 ? 0 : to_bus;                    /* never both ways in a step */
  to_bus = roomy || p->pass_through_kw > 0 ? to_bus : 0; /* off the grid */
  inverted += to_bus;
  inverted_dc = to_bus > 0 ? dc_of(l, inverted) : inverted_dc;
  double sun_unused = most(sun_dc - inverted_dc - battery_in, 0);
  double pv_used = battery_out > 0 ? pv : pv - sun_unused;
  double inverted_in = inverted_dc + idle_from_dc;

  /* the bus: the hub's surplus serves the meter's own loads first */
  double meter_net = most(meter_want - to_bus, 0);
  double export = most(to_bus - meter_want, 0);
  double all_want = bus_want + meter_net;
  double limited = all_want > p->import_limit_kw ? 1.0 : 0.0;
  double got_share = limited > 0 ? p->import_limit_kw / all_want : 1;
  double hub_got =
      limited > 0 ? most(bus_want * got_share - idle_from_ac, 0) : most(bus_want - idle_from_ac, 0);
  hub_got = limited > 0 || missing + idle_from_ac > p->pass_through_kw ? least(hub_got, missing)
                                                                       : missing;
  hub_got = roomy ? missing : hub_got;
  double from_bus = hub_got + idle_from_ac;
  double meter_got = roomy ? meter_net : meter_net * got_share;
  double import = from_bus + meter_got;

  /* what is refused: the pump gives way before the loads of its own side of the bus */
  double hub_short = roomy ? 0 : missing - hub_got;
  double hub_cut = least(hub_short, firm_kw * p->pump_on_hub);
  double hub_unserved = hub_short - hub_cut;
  double meter_short = roomy ? 0 : meter_net - meter_got;
  double meter_cut = least(meter_short, firm_kw * p->pump_on_meter);
  double meter_unserved = meter_short - meter_cut;
  hub_cut = roomy ? 0 : hub_cut;
  meter_cut = roomy ? 0 : meter_cut;
  hub_unserved = roomy ? 0 : hub_unserved;
  meter_unserved = roomy ? 0 : meter_unserved;
  double pump = firm_kw - hub_cut - meter_cut + spare_kw;
  double hub_load = hub_want - hub_cut + spare_kw;
  double meter_load = meter_want - meter_cut;
  double loss_of_load = hub_unserved + meter_unserved > 0 ? 1 : 0;
  double hub_loss_of_load = hub_unserved > 0 ? 1 : 0;

  /* water */
  double duty = least(pump * p->per_pump_kw, 1);
  double pumped = duty * p->pump_l_per_step;
  double delivered = least(p->draw_l, s->tank_l + pumped);
  double level = most(least(s->tank_l + pumped - delivered, p->tank_l), 0);
  s->filling = level < p->start_l ? 1 : (level >= l->stop_reached_l ? 0 : s->filling);
  s->tank_l = level;

  /* store */
  double after = stored + (battery_in * p->efficiency_in - battery_out * l->per_efficiency_out) * h;
  f->stored_change = (after - s->stored_kwh) * l->per_h;
  s->stored_kwh = after;

  f->pv_available = pv_available;
  f->pv_used = pv_used;
  f->pv_curtailed = pv_available - pv_used; /* exactly 0 when all was taken */
  f->battery_in = battery_in;
  f->battery_out = battery_out;
  f->battery_loss = battery_in * l->loss_in + battery_out * l->loss_out;
  f->standby = standby;
  f->inverted_in = inverted_in;
  f->inverted = inverted;
  f->idle_from_dc = idle_from_dc;
  f->idle_from_ac = idle_from_ac;
  f->inverter_loss = inverted_in - inverted + idle_from_ac;
  f->from_bus = from_bus;
  f->to_bus = to_bus;
  f->hub_load = hub_load;
  f->hub_served = hub_load - hub_unserved;
  f->hub_unserved = hub_unserved;
  f->meter_load = meter_load;
  f->meter_served = meter_load - meter_unserved;
  f->meter_unserved = meter_unserved;
  f->import = import;
  f->export = export;
  f->pump = pump;
  f->pump_duty = duty * h;
  f->pumped_l = pumped;
  f->delivered_l = delivered;
  f->short_l = p->draw_l - delivered;
  f->loss_of_load = loss_of_load;
  f->grid_free = import <= p->grid_free_below_kw ? 1 - loss_of_load : 0;
  f->hub_loss_of_load = hub_loss_of_load;
  f->hub_grid_free = from_bus <= p->grid_free_below_kw ? 1 - hub_loss_of_load : 0;
  f->stored_kwh = after;
  f->tank_level_l = level;
#ifndef NDEBUG
  check_nodes(p, f);
#endif
}

/* One body, instantiated with and without its parts and limits: what is absent has size zero in
 * all, and the compiler drops what a zero makes needless. The bits are the same. */
static inline __attribute__((always_inline)) void run(
    const steading_stretch *stretch, steading_state *state, size_t count, const double *pv_kw,
    const double *hub_load_kw, const double *meter_load_kw, steading_flow *flows,
    const bool has_hub, const bool has_water, const bool roomy) {
  steading_stretch p = *stretch;
  steading_state s = *state;
  if (!has_hub) {
    p.ac_kw = p.idle_kw = p.b = p.c_per_rating = p.pv_kw = 0;
    p.lowest_kwh = p.floor_kwh = p.highest_kwh = 0;
    p.charge_kw = p.discharge_kw = p.standby_kw = 0;
    p.efficiency_in = p.efficiency_out = 1;
    s.stored_kwh = 0;
  }
  if (!has_water) {
    p.pump_kw = p.pump_on_hub = p.pump_on_meter = 0;
    p.pump_l_per_step = p.per_pump_l_per_step = p.per_pump_kw = 0;
    p.tank_l = p.start_l = p.stop_l = p.surplus_l = p.draw_l = 0;
    s.tank_l = s.filling = 0;
  }
  const locals l = locals_of(&p);
  for (size_t i = 0; i < count; i++)
    step(&l, &s, pv_kw[i], hub_load_kw[i], meter_load_kw[i], &flows[i], roomy);
  *state = s;
}

/* Whether neither the meter's limit nor the pass-through can bind in any of the steps: then what
 * they would refuse need not be worked out, and the tank does not wait for the inverter. */
static bool is_roomy(const steading_stretch *p, bool has_hub, size_t count,
                     const double *hub_load_kw, const double *meter_load_kw) {
  const double margin = 1 + 1e-9;
  double on_hub = 0, in_all = 0;
  for (size_t i = 0; i < count; i++) {
    double sum = hub_load_kw[i] + meter_load_kw[i];
    on_hub = hub_load_kw[i] > on_hub ? hub_load_kw[i] : on_hub;
    in_all = sum > in_all ? sum : in_all;
  }
  on_hub += p->pump_kw * p->pump_on_hub + p->idle_kw;
  in_all += p->pump_kw + p->idle_kw;
  return (has_hub ? on_hub * margin < p->pass_through_kw : on_hub == 0) &&
         in_all * margin < p->import_limit_kw;
}

void steading_kernel_run(const steading_stretch *stretch, steading_state *state, size_t count,
                         const double *pv_kw, const double *hub_load_kw,
                         const double *meter_load_kw, steading_flow *flows) {
  bool has_hub = stretch->ac_kw > 0 || stretch->charge_kw > 0 || stretch->discharge_kw > 0 ||
                 stretch->standby_kw > 0 || stretch->idle_kw > 0 || state->stored_kwh > 0;
  bool has_water = stretch->pump_kw > 0 || stretch->tank_l > 0 || stretch->draw_l > 0;
  if (is_roomy(stretch, has_hub, count, hub_load_kw, meter_load_kw)) {
    if (has_hub && has_water)
      run(stretch, state, count, pv_kw, hub_load_kw, meter_load_kw, flows, true, true, true);
    else if (has_hub)
      run(stretch, state, count, pv_kw, hub_load_kw, meter_load_kw, flows, true, false, true);
    else
      run(stretch, state, count, pv_kw, hub_load_kw, meter_load_kw, flows, false, true, true);
  } else if (has_hub && has_water) {
    run(stretch, state, count, pv_kw, hub_load_kw, meter_load_kw, flows, true, true, false);
  } else if (has_hub) {
    run(stretch, state, count, pv_kw, hub_load_kw, meter_load_kw, flows, true, false, false);
  } else {
    run(stretch, state, count, pv_kw, hub_load_kw, meter_load_kw, flows, false, true, false);
  }
}
