#include "dispatch/kernel.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>

#include "dispatch/pools.h"

/* Selects, not fmin and fmax: those are calls with rules for NaN that nothing here needs. */
static inline double least(double a, double b) { return a < b ? a : b; }
static inline double most(double a, double b) { return a > b ? a : b; }

/* What follows from a hub's parameters: a division by a constant becomes a product once a stretch,
 * not once a step. */
typedef struct hub_locals {
  double rise, rise_squared, four_c, per_efficiency_in_h, per_efficiency_out, loss_in, loss_out,
      floor_reached_kwh;
  double per_charger_efficiency, takes_sun; /* 1: surplus sun may go to the battery */
} hub_locals;

typedef struct locals {
  steading_stretch p;
  double per_h;
  hub_locals hubs[STEADING_MOST_HUBS];
  double stop_reached_l[STEADING_MOST_TANKS];
  double well_on_hub[STEADING_MOST_WELLS], well_on_meter[STEADING_MOST_WELLS]; /* 0 or 1 */
} locals;

static inline __attribute__((always_inline)) void set_locals(locals *l, const steading_stretch *p,
                                                             const size_t hubs, const size_t wells,
                                                             const size_t tanks, const bool extra) {
  steading_stretch_copy(&l->p, p);
  l->per_h = 1 / p->step_h;
  for (size_t i = 0; i < hubs; i++) {
    const steading_hub_stretch *hub = &p->hubs[i];
    double rise = 1 + hub->b;
    bool charges = extra && (hub->charger_kw > 0 || hub->sun_charger_kw > 0);
    double charger = charges ? 1 / hub->charger_efficiency : 0;
    double takes_sun = 0;
    for (int k = 0; extra && k < 3; k++)
      takes_sun = hub->order[k] == STEADING_TO_BATTERY ? 1 : takes_sun;
    l->hubs[i] = (hub_locals){.rise = rise,
                              .rise_squared = rise * rise,
                              .four_c = 4 * hub->c_per_rating,
                              .per_efficiency_in_h = 1 / (hub->efficiency_in * p->step_h),
                              .per_efficiency_out = 1 / hub->efficiency_out,
                              .loss_in = 1 - hub->efficiency_in,
                              .loss_out = 1 / hub->efficiency_out - 1,
                              .floor_reached_kwh = hub->floor_kwh * (1 + 1e-12),
                              .per_charger_efficiency = charger,
                              .takes_sun = takes_sun};
  }
  for (size_t w = 0; w < wells; w++) {
    l->well_on_hub[w] = p->wells[w].hub >= 0 ? 1 : 0;
    l->well_on_meter[w] = p->wells[w].meter >= 0 ? 1 : 0;
  }
  for (size_t t = 0; t < tanks; t++) l->stop_reached_l[t] = p->tanks[t].stop_l * (1 - 1e-12);
}

/* A hub in the middle of a step. */
typedef struct hub_work {
  double pv_available, pv;
  double ac_kw;                                 /* most that it gives in this step */
  double standby, stored, battery_can, blocked; /* the store after its own electronics */
  double want, target, target_dc;               /* of its loads; of its inverter, AC and DC */
  double idle_from_dc, idle_wanted, idle_from_ac, first_want;
  double rests; /* 1: whatever is on, it inverts nothing: the load moved over, or it is night */
  double on, drives; /* 1: the unit is on; it feeds the hub's AC side */
  double missing, bus_want;
  double sun_dc;                /* what sun the unit has beyond its idle draw */
  double inverted, inverted_dc; /* so far */
  double spare_kw, battery_in, offer, to_bus;
  double others; /* what it gets of the surplus of other hubs */
  double got;    /* for its loads, from the bus */
  /* of the charger: what heat leaves of its power; 1, it charges if the bus gives; DC power that
   * the store may take up to charge_to_kwh; what it wants and gets of the bus, and what that makes,
   * DC */
  double charger_kw, charges, charge_room, charge_want, charger_in, rectified;
  /* of the generator: what it gives to the idle draw and to the loads; DC power that its charger
   * has for the inverter; 1: it cannot carry all, so that the battery helps */
  double generator_idle, generator_load, generator_dc, generator_short;
  /* what the cold leaves of charge_kw, and 1 where more was there to charge with; of the heater,
   * what it wants and what it gives up */
  double charge_kw, charge_blocked, heater, heater_cut;
  /* of pools: the share of charge that none of them goes below, the most that they take, cold as
   * they are and warm, and of that up to charge_to_kwh */
  steading_pools pools;
  double floor_share, take_kw, take_warm_kw, to_kw, to_warm_kw;
  /* of AC-coupled sun: what works in this step, of that what nobody has taken yet, what the idle
   * draw, the loads, the charger (and what that makes, DC) take and what the bus is offered; all
   * that the hub's loads want, of which `want` is what this sun leaves */
  double ac_sun, ac_left, sun_idle, sun_load, sun_charging, sun_rectified, sun_offer, all_want;
  double sun_charger_kw; /* what heat leaves of the charger for it */
} hub_work;

/* AC power from DC power beyond the idle draw, and back: see plant/inverter.h. */
static inline double ac_of(const hub_locals *l, double dc_kw) {
  double root = most(l->rise_squared + l->four_c * dc_kw, 0);
  return 2 * dc_kw / (l->rise + __builtin_sqrt(root));
}

static inline double dc_of(const steading_hub_stretch *p, const hub_locals *l, double ac_kw) {
  return ac_kw * l->rise + p->c_per_rating * ac_kw * ac_kw;
}

/* --- water ---------------------------------------------------------------------------------------
 */

/* What a tank wants of the run that its level started. */
static inline double firm_of(const locals *l, const steading_state *s, size_t t) {
  const steading_tank_stretch *tank = &l->p.tanks[t];
  return s->filling[t] * most(tank->stop_l - s->tank_l[t] + tank->draw_l, 0);
}

static inline double firm_duty_of(const locals *l, const steading_state *s, size_t first,
                                  const size_t count, double per_pump_l_per_step) {
  double want = 0;
  for (size_t t = first; t < first + count; t++) want += firm_of(l, s, t);
  return least(want * per_pump_l_per_step, 1);
}

/* Share of the step that surplus could pump beyond `firm_duty`. */
static inline double spare_duty_of(const locals *l, const steading_state *s,
                                   const steading_well_stretch *well, size_t first,
                                   const size_t count, double firm_duty) {
  double left = firm_duty * well->pump_l_per_step, room = 0;
  size_t filling = 0;
  for (size_t t = first; t < first + count; t++) filling += firm_of(l, s, t) > 0 ? 1 : 0;
  for (size_t t = first; t < first + count; t++) {
    const steading_tank_stretch *tank = &l->p.tanks[t];
    double firm = firm_of(l, s, t);
    if (firm > 0) firm = --filling == 0 ? left : least(firm, left);
    left -= firm;
    room += most(tank->surplus_l - s->tank_l[t] + tank->draw_l - firm, 0);
  }
  return least(room * well->per_pump_l_per_step, 1 - firm_duty);
}

/* Share out what a well pumped: first to the tanks whose level asked for it, then up to their
 * surplus level. The last that takes any gets the rest, which is nothing but rounding. */
static inline void share_water(const locals *l, const steading_state *s, size_t first,
                               const size_t count, double pumped, double *got) {
  double left = pumped;
  size_t last = first;
  if (count == 1) {
    got[first] = pumped;
    return;
  }
  for (size_t t = first; t < first + count; t++) {
    const steading_tank_stretch *tank = &l->p.tanks[t];
    double firm = firm_of(l, s, t);
    double room = most(tank->surplus_l - s->tank_l[t] + tank->draw_l, 0);
    if (firm > 0 || room > 0) last = t;
    got[t] = least(firm, left);
    left -= got[t];
  }
  for (size_t t = first; t < first + count; t++) {
    const steading_tank_stretch *tank = &l->p.tanks[t];
    double more = least(most(tank->surplus_l - s->tank_l[t] + tank->draw_l - got[t], 0), left);
    got[t] += more;
    left -= more;
  }
  got[last] = got[last] + left;
  if (left > 0 || got[last] > 0) { /* alone it takes all that was pumped, to the bit */
    double others = 0;
    for (size_t t = first; t < first + count; t++) others += t == last ? 0 : got[t];
    if (others == 0) got[last] = pumped;
  }
}

/* --- one hub -------------------------------------------------------------------------------------
 */

/* A generator that runs: what sun leaves of load and idle draw is its own, the battery helps only
 * beyond what it has. Of its charger alone the inverter lives as it lives of the battery. */
static inline void open_generator(const locals *l, const size_t i, double want, hub_work *w) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  const hub_locals *k = &l->hubs[i];
  double idle_from_sun = least(p->idle_kw, w->pv), sun_dc = w->pv - idle_from_sun;
  double idle = p->idle_kw - idle_from_sun - w->sun_idle;
  double sun = w->target_dc > sun_dc ? least(ac_of(k, sun_dc), w->target) : w->target;
  double carried = most(p->generator_kw - idle, 0);
  bool is_short = want - sun > carried || idle > p->generator_kw;
  if (p->generator_carries > 0) {
    w->generator_short = is_short ? 1 : 0;
    w->battery_can = is_short ? w->battery_can : 0;
    w->target =
        is_short ? least(most(want - p->import_margin_kw - carried, 0), w->ac_kw) : w->target;
    w->target_dc = dc_of(p, k, w->target);
  } else {
    w->generator_dc =
        least(p->generator_kw, p->generator_charger_kw) * p->generator_charger_efficiency;
    w->battery_can += w->generator_dc;
  }
}

/* What of the idle draw sun does not give, a generator that carries loads gives, then the battery.
 * Differences that end at nothing are nothing to the bit. */
static inline void share_idle(const locals *l, const size_t i, double draw, hub_work *w) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  double rest = 0, more = 0;
  w->idle_from_dc = least(draw, w->pv);
  rest = draw - w->idle_from_dc - w->sun_idle;
  w->generator_idle = least(rest, p->generator_kw);
  rest -= w->generator_idle;
  more = least(rest, w->battery_can);
  w->idle_from_dc += more;
  w->idle_wanted = rest - more;
}

/* Pools after what their electronics draw, and how much they could give above the floor and take.
 */
static inline void open_pools(const locals *l, const size_t i, steading_state *s,
                              const steading_cells_shares *shares, double fits, hub_work *w) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  w->pools = (steading_pools){.count = p->pools,
                              .hours = l->p.step_h,
                              .cells = l->p.pools + p->first_pool,
                              .charges = s->pools + p->first_pool,
                              .shares = shares + p->first_pool};
  w->standby = steading_pools_standby(&w->pools) * l->per_h;
  w->stored = steading_pools_stored_kwh(&w->pools);
  w->floor_share = most(p->floor_share, p->keep_share);
  if (p->charger_kw > 0 && fits > 0) w->floor_share = most(w->floor_share, p->charge_to_share);
  w->battery_can = steading_pools_give_kw(&w->pools, p->discharge_kw, w->floor_share);
  w->take_kw = steading_pools_accept_kw(&w->pools, p->charge_kw, 1, false);
  w->take_warm_kw = steading_pools_accept_kw(&w->pools, p->charge_kw, 1, true);
  w->to_kw = w->to_warm_kw = 0;
  if (!(p->charger_kw > 0)) return;
  w->to_kw = steading_pools_accept_kw(&w->pools, p->charge_kw, p->charge_to_share, false);
  w->to_warm_kw = steading_pools_accept_kw(&w->pools, p->charge_kw, p->charge_to_share, true);
}

/* What AC-coupled sun of `sun_kw` leaves of `want`; exactly nothing, or the margin, where it
 * reaches so far. */
static inline double want_beyond(const steading_hub_stretch *p, double want, double sun_kw,
                                 double *taken) {
  double takes = most(want - p->import_margin_kw, 0);
  *taken = least(sun_kw, takes);
  return sun_kw >= takes ? least(want, p->import_margin_kw) : want - sun_kw;
}

/* Whether AC-coupled sun works, and what it gives of idle draw and loads, the unit being on. A grid
 * is formed with something on the unit's DC side, or by a generator; an idle draw that DC cannot
 * pay starts no unit whose battery is empty. Returns what is left of `want`. */
static inline double open_ac_sun(const locals *l, const size_t i, double want, double sun_kw,
                                 hub_work *w) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  bool bus = p->pass_through_kw > 0, made = p->generator_kw > 0;
  bool carried = made && p->generator_carries > 0;
  bool charged = w->stored - p->lowest_kwh > 1e-12 * p->highest_kwh;
  bool formed = bus || (p->ac_kw > 0 && (charged || w->pv > 0 || made));
  double charger_dc = made ? least(p->generator_kw, p->generator_charger_kw) : 0;
  double dc = w->pv;
  if (!carried) dc += w->battery_can + charger_dc * p->generator_charger_efficiency;
  w->ac_sun = formed ? sun_kw : 0;
  w->sun_idle = bus || charged || made ? least(w->ac_sun, p->idle_kw - least(p->idle_kw, dc)) : 0;
  return want_beyond(p, want, w->ac_sun - w->sun_idle, &w->sun_load);
}

static inline __attribute__((always_inline)) void open_hub(
    const locals *l, const size_t i, steading_state *s, double pv, double want, double ac_sun,
    double ac_share, double charge_share, const steading_cells_shares *shares, double fits,
    hub_work *w, const bool simple, const bool extra, const bool pooled) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  const hub_locals *k = &l->hubs[i];
  double held = s->stored_kwh[i], draw = p->idle_kw, floor = p->floor_kwh;
  /* the battery's own electronics first, then what it could give above the floor */
  w->standby = least(p->standby_kw, most(held - p->lowest_kwh, 0) * l->per_h);
  w->stored = held - w->standby * l->p.step_h;
  if (extra) {
    floor = most(floor, p->keep_kwh);
    floor = p->charger_kw > 0 && fits > 0 ? most(floor, p->charge_to_kwh) : floor;
  }
  w->battery_can =
      least(p->discharge_kw, most(w->stored - floor, 0) * p->efficiency_out * l->per_h);
  if (pooled && p->pools > 0) open_pools(l, i, s, shares, fits, w);
  w->blocked = s->blocked[i] > 0 && held < p->resume_kwh ? 1 : 0;
  /* of several, one may be below its floor and another above: without a gap none waits for it */
  if (pooled && p->pools > 0 && !(p->resume_kwh > p->floor_kwh)) w->blocked = 0;
  w->battery_can = w->blocked > 0 ? 0 : w->battery_can;
  if (extra) w->battery_can = p->holds > 0 ? 0 : w->battery_can;
  w->pv_available = pv;
  w->pv = least(pv, p->pv_kw);
  w->charges = w->charge_room = w->charge_want = w->charger_in = w->rectified = 0;
  if (extra) {
    w->charge_kw = p->charge_kw * charge_share;
    w->charge_blocked = w->heater_cut = 0;
    /* it charges where even all the sun beyond the idle draw leaves room up to charge_to_kwh */
    double sun = most(w->pv - p->idle_kw, 0);
    w->charge_room =
        least(w->charge_kw, most(p->charge_to_kwh - w->stored, 0) * k->per_efficiency_in_h);
    if (pooled && p->pools > 0) w->charge_room = w->to_kw;
    double room = k->takes_sun > 0 || !(sun > 0) ? w->charge_room - sun : 0;
    w->charger_kw = p->charger_kw * ac_share;
    w->sun_charger_kw = p->sun_charger_kw * ac_share;
    w->charges = w->charger_kw > 0 && room > 0 ? fits : 0;
    /* one of several may be above its level and another below: all charge, or none */
    if (pooled && p->pools > 0 && w->charges > 0) w->battery_can = 0;
    w->all_want = want;
    w->ac_sun = w->ac_left = w->sun_idle = w->sun_load = w->sun_charging = w->sun_rectified = 0;
    if (ac_sun > 0) want = open_ac_sun(l, i, want, ac_sun, w);
  }
  w->want = want;
  /* idle draw from DC as far as it goes, the rest from the bus, else the unit is off. What is
   * wanted of the inverter is turned into DC first, so that the square root of the way back is not
   * on the path from one step's store to the next. */
  w->ac_kw = simple ? p->ac_kw : p->ac_kw * ac_share;
  w->target = least(simple ? want : most(want - p->import_margin_kw, 0), w->ac_kw);
  w->target_dc = dc_of(p, k, w->target);
  w->rests = 0;
  w->generator_idle = w->generator_load = w->generator_dc = w->generator_short = 0;
  if (extra && p->generator_kw > 0) open_generator(l, i, want, w);
  if (!simple) {
    /* beyond the unit, or beyond sun and battery together: the whole load moves over */
    double reserve_kw = w->blocked > 0 || !(w->stored > floor) ? 0 : p->discharge_kw;
    if (extra) reserve_kw = (p->holds > 0 ? 0 : reserve_kw) + w->generator_dc;
    double idle_from_dc = least(draw, w->pv + w->battery_can);
    double beyond = want > w->ac_kw || w->target_dc > w->pv + reserve_kw - idle_from_dc ? 1.0 : 0.0;
    double moved = p->transfers > 0 && (w->blocked > 0 || beyond > 0) ? 1.0 : 0.0;
    /* without sun, and nothing to carry or nothing beyond its idle draw to carry it with */
    double carries_none = moved > 0 || !(w->target > 0) || !(w->battery_can > draw) ? 1.0 : 0.0;
    double night = w->pv > 0 ? 0 : carries_none;
    if (extra) night = w->charges > 0 || w->ac_sun > 0 ? 0 : night; /* it charges, or may */
    w->rests = moved > 0 ? 1.0 : night;
    if (extra) w->rests = w->charges > 0 ? 1.0 : w->rests;
    draw = night > 0 ? draw - p->night_saving_kw : draw;
  }
  w->idle_from_dc = least(draw, w->pv + w->battery_can);
  w->idle_wanted = draw - w->idle_from_dc;
  if (extra) w->idle_wanted -= w->sun_idle;
  if (extra && p->generator_kw > 0 && p->generator_carries > 0) share_idle(l, i, draw, w);
  w->first_want = least(want + w->idle_wanted, p->pass_through_kw);
}

/* Once it is known whether the unit is on: without, AC-coupled sun works beside a bus alone. What
 * loads leave of it pays the idle draw in the battery's place, so that the battery is not emptied
 * and filled in one step. */
static inline void settle_ac_sun(const locals *l, const size_t i, hub_work *w) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  double from_sun = least(w->idle_from_dc, w->pv), from_store = w->idle_from_dc - from_sun,
         pays = 0;
  if (!(w->on > 0)) {
    w->ac_sun = p->pass_through_kw > 0 ? w->ac_sun : 0;
    w->sun_idle = 0;
    w->want = want_beyond(p, w->all_want, w->ac_sun, &w->sun_load);
    from_store = 0;
  }
  w->ac_left = most(w->ac_sun - w->sun_idle - w->sun_load, 0);
  pays = least(from_store, w->ac_left);
  w->idle_from_dc = pays > 0 && pays == from_store ? from_sun : w->idle_from_dc - pays;
  w->sun_idle += pays;
  w->ac_left -= pays;
}

static inline __attribute__((always_inline)) void serve(const locals *l, const size_t i,
                                                        hub_work *w, double carried,
                                                        const bool simple, const bool roomy,
                                                        const bool extra) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  const hub_locals *k = &l->hubs[i];
  double can_dc = w->pv + w->battery_can - w->idle_from_dc;
  double served = w->target_dc > can_dc ? least(ac_of(k, can_dc), w->target) : w->target;
  double served_dc = w->target_dc > can_dc ? can_dc : w->target_dc;
  double sun_beyond_idle = most(w->pv - p->idle_kw, 0);
  w->on = roomy || !(w->idle_wanted > 0) ? 1.0 : carried;
  w->drives = simple ? w->on : w->on * (1 - w->rests);
  if (extra && w->ac_sun > 0) settle_ac_sun(l, i, w);
  w->idle_from_ac = w->idle_wanted * w->on;
  w->idle_from_dc *= w->on;
  w->inverted = served * w->drives;
  w->inverted_dc = served_dc * w->drives;
  w->missing = w->want - w->inverted;
  if (extra && p->generator_carries > 0) {
    w->generator_idle *= w->on;
    w->generator_load = least(w->missing, p->generator_kw - w->generator_idle);
    w->missing -= w->generator_load;
  }
  w->bus_want = roomy ? w->missing + w->idle_from_ac
                      : least(w->missing + w->idle_from_ac, p->pass_through_kw);
  w->sun_dc = w->on > 0 ? sun_beyond_idle : w->pv;
  w->spare_kw = w->battery_in = w->offer = w->to_bus = w->others = 0;
}

static inline double sun_left_of(const hub_work *w) { return most(w->sun_dc - w->inverted_dc, 0); }

/* AC power that the sun could give beyond what is inverted already. */
static inline double ac_room(const hub_locals *k, const hub_work *w) {
  double can = most(least(w->ac_kw, ac_of(k, most(w->sun_dc - w->battery_in, 0))) - w->inverted, 0);
  return sun_left_of(w) > w->battery_in ? can * w->drives : 0;
}

static inline __attribute__((always_inline)) void pump_spare(const locals *l, const size_t i,
                                                             hub_work *w, double spare_duty,
                                                             double pump_kw, double *spare_kw,
                                                             const bool extra) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  const hub_locals *k = &l->hubs[i];
  if (extra && w->ac_left > 0) {
    double by_sun = least(spare_duty * pump_kw, w->ac_left);
    double made = least(spare_duty * pump_kw - by_sun, ac_room(k, w));
    *spare_kw = by_sun + made;
    w->ac_left -= by_sun;
    w->spare_kw += *spare_kw;
    w->inverted += made;
    w->inverted_dc = made > 0 ? dc_of(p, k, w->inverted) : w->inverted_dc;
    return;
  }
  *spare_kw = least(spare_duty * pump_kw, ac_room(k, w));
  w->spare_kw += *spare_kw;
  w->inverted += *spare_kw;
  w->inverted_dc = *spare_kw > 0 ? dc_of(p, k, w->inverted) : w->inverted_dc;
}

/* In the cold, more was there where the full power would have taken more than to rounding. */
static inline void mark_blocked(hub_work *w, double in_kw, double warm_kw) {
  w->charge_blocked = warm_kw > in_kw + 1e-9 * warm_kw ? 1 : w->charge_blocked;
}

/* What is left of AC-coupled sun goes into the battery beside the sun on DC and what the charger
 * was promised of the bus, if the unit inverts nothing; it inverts nothing then in all of the step.
 */
static inline void charge_of_ac_sun(const locals *l, const size_t i, hub_work *w,
                                    const bool pooled) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  const hub_locals *k = &l->hubs[i];
  double room_kw = most(p->highest_kwh - w->stored, 0) * k->per_efficiency_in_h;
  double kept = w->battery_in + w->charge_want * p->charger_efficiency;
  double room = most(least(w->charge_kw, room_kw) - kept, 0);
  double warm = most(least(p->charge_kw, room_kw) - kept, 0);
  double can = least(w->ac_left, most(w->sun_charger_kw - w->charge_want, 0));
  if (pooled && p->pools > 0) {
    room = most(w->take_kw - kept, 0);
    warm = most(w->take_warm_kw - kept, 0);
  }
  if (!(w->on > 0) || w->inverted > 0 || p->generator_kw > 0 || !(can > 0)) return;
  w->sun_charging = least(can, room * k->per_charger_efficiency);
  w->sun_rectified = w->sun_charging * p->charger_efficiency;
  mark_blocked(w, w->sun_charging, least(can, warm * k->per_charger_efficiency));
  w->ac_left -= w->sun_charging;
  w->drives = w->sun_charging > 0 ? 0 : w->drives;
}

static inline __attribute__((always_inline)) void charge(const locals *l, const size_t i,
                                                         hub_work *w, const bool extra,
                                                         const bool pooled) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  if (pooled && p->pools > 0) {
    double sun = least(sun_left_of(w), p->charge_kw);
    w->battery_in = steading_pools_accept_kw(&w->pools, sun, 1, false);
    mark_blocked(w, w->battery_in, steading_pools_accept_kw(&w->pools, sun, 1, true));
  } else {
    w->battery_in = least(least(sun_left_of(w), p->charge_kw),
                          most(p->highest_kwh - w->stored, 0) * l->hubs[i].per_efficiency_in_h);
  }
  if (extra && !(pooled && p->pools > 0)) {
    double warm = w->battery_in;
    w->battery_in = least(warm, w->charge_kw);
    mark_blocked(w, w->battery_in, warm);
  }
  if (extra && w->ac_left > 0) charge_of_ac_sun(l, i, w, pooled);
}

/* What the charger wants of the bus, after the loads and the sun, where the store may take room_kw
 * up to its level. */
static inline double charge_want_of(const locals *l, const size_t i, const hub_work *w,
                                    double room_kw) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  double room = room_kw - (l->hubs[i].takes_sun > 0 ? sun_left_of(w) : 0) - w->sun_rectified;
  double want = least(most(room, 0) * l->hubs[i].per_charger_efficiency, w->charger_kw);
  if (w->sun_charging > 0) want = least(want, most(w->sun_charger_kw - w->sun_charging, 0));
  return least(want, most(p->pass_through_kw - w->bus_want, 0));
}

static inline void want_charge(const locals *l, const size_t i, hub_work *w, double fits,
                               const bool pooled) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  /* a hub that gives to the bus takes nothing from it; as with the sun on DC, what may not go into
   * the battery keeps it from being charged */
  if (w->sun_offer > 0 || (w->ac_left > 0 && !(l->hubs[i].takes_sun > 0))) return;
  w->charge_want = w->charges * w->on > 0 ? charge_want_of(l, i, w, w->charge_room) : 0;
  bool of_pools = pooled && p->pools > 0;
  bool colder = of_pools ? w->to_kw < w->to_warm_kw : w->charge_kw < p->charge_kw;
  if (colder && p->charger_kw > 0 && fits * w->on > 0) {
    double warm =
        least(p->charge_kw, most(p->charge_to_kwh - w->stored, 0) * l->hubs[i].per_efficiency_in_h);
    if (of_pools) warm = w->to_warm_kw;
    double sun = most(w->pv - p->idle_kw, 0); /* as open_hub decides on charging */
    if (l->hubs[i].takes_sun > 0 ? warm > sun : !(sun > 0))
      mark_blocked(w, w->charge_want, charge_want_of(l, i, w, warm));
  }
}

/* What the generator's charger makes of what loads leave it, DC, beside the sun. */
static inline double generator_charge(const locals *l, const size_t i, hub_work *w,
                                      double from_charger, double out, const bool pooled) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  double left = most(p->generator_kw - w->generator_idle - w->generator_load, 0);
  double can = p->generator_carries > 0
                   ? least(left, p->generator_charger_kw) * p->generator_charger_efficiency
                   : w->generator_dc - from_charger;
  double room_kw = most(p->highest_kwh - w->stored, 0) * l->hubs[i].per_efficiency_in_h;
  double room = least(w->charge_kw, room_kw) - w->battery_in;
  double warm = least(p->charge_kw, room_kw) - w->battery_in;
  if (pooled && p->pools > 0) {
    room = w->take_kw - w->battery_in;
    warm = w->take_warm_kw - w->battery_in;
  }
  if (out > 0 || w->generator_short > 0) return 0;
  mark_blocked(w, most(least(can, room), 0), most(least(can, warm), 0));
  return most(least(can, room), 0);
}

static inline __attribute__((always_inline)) void send(const locals *l, const size_t i, hub_work *w,
                                                       double to_bus, const bool extra) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  w->to_bus = to_bus;
  if (extra && w->sun_offer > 0) { /* AC-coupled sun first; all of it where nothing else is */
    double sent = w->offer > w->sun_offer ? least(to_bus, w->sun_offer) : to_bus;
    w->ac_left = most(w->ac_left - sent, 0);
    to_bus -= sent;
  }
  w->inverted += to_bus;
  w->inverted_dc = to_bus > 0 ? dc_of(p, &l->hubs[i], w->inverted) : w->inverted_dc;
}

/* What was used of AC-coupled sun, and of the DC behind it, which comes on top of that of the
 * arrays on DC; all of it to the bit where all was taken. */
static inline void close_ac_sun(const hub_work *w, double sun_kw, double sun_dc_kw,
                                steading_hub_flow *f) {
  double used = w->ac_left > 0 ? w->ac_sun - w->ac_left : w->ac_sun;
  double dc = used < sun_kw ? sun_dc_kw * (used / sun_kw) : sun_dc_kw;
  f->ac_sun = used;
  f->ac_sun_loss = dc - used;
  f->sun_charging = w->sun_charging;
  f->sun_idle = w->sun_idle;
  f->pv_available += sun_dc_kw;
  f->pv_used += dc;
  f->pv_curtailed = f->pv_available - f->pv_used;
  f->inverter_loss += f->ac_sun_loss + (w->sun_charging - w->sun_rectified);
}

static inline __attribute__((always_inline)) void close_hub(
    const locals *l, const size_t i, steading_state *s, hub_work *w, double cut,
    steading_hub_flow *f, steading_generator_flow *g, steading_pool_flow *pool_flows,
    const bool roomy, const bool extra, const bool pooled) {
  const steading_hub_stretch *p = &l->p.hubs[i];
  const hub_locals *k = &l->hubs[i];
  double sun_unused = most(w->sun_dc - w->inverted_dc - w->battery_in, 0);
  double out_dc = most(w->inverted_dc + w->idle_from_dc - w->pv, 0);
  double out = w->battery_in > 0 || w->to_bus > 0 || sun_unused > 0
                   ? 0
                   : least(out_dc, w->battery_can); /* one direction a step */
  double inverted_in = w->inverted_dc + w->idle_from_dc;
  double from_bus = w->got + w->idle_from_ac, in = w->battery_in;
  double idle_from_ac = w->idle_from_ac, charging = 0, rectified = 0;
  double unserved = roomy ? 0 : most(w->missing - w->got - cut, 0);
  double load = (extra ? w->all_want : w->want) - cut + w->spare_kw, heater = 0;
  if (extra) {
    idle_from_ac += w->sun_idle;
    in += w->sun_rectified;
    heater = w->heater - w->heater_cut;
    load = heater > 0 ? most(load - heater, 0) : load;
    s->unheated[i] = w->heater_cut > 1e-9 * w->heater ? 1 : 0;
    from_bus += w->charger_in;
    in += w->rectified;
  }
  if (extra && p->generator_kw > 0) {
    double from_charger = least(out, w->generator_dc), into_store = 0;
    out -= from_charger;
    into_store = generator_charge(l, i, w, from_charger, out, pooled);
    in += into_store;
    rectified = from_charger + into_store;
    charging = rectified > 0 ? rectified / p->generator_charger_efficiency : 0;
    idle_from_ac += w->generator_idle;
  }
  if (extra && g != NULL)
    *g = (steading_generator_flow){.power = w->generator_idle + w->generator_load + charging,
                                   .charging = charging,
                                   .refused = most(w->missing - w->got, 0)};
  double after = w->stored + (in * p->efficiency_in - out * k->per_efficiency_out) * l->p.step_h;
  double battery_loss = in * k->loss_in + out * k->loss_out;
  if (pooled && p->pools > 0) {
    const steading_pools_flow flow = {.in_kw = most(in - w->rectified, 0),
                                      .up_to_share_kw = w->rectified,
                                      .up_to_share = p->charge_to_share,
                                      .out_kw = out,
                                      .floor_share = w->floor_share};
    battery_loss = steading_pools_move(&w->pools, &flow, pool_flows + p->first_pool);
    after = steading_pools_stored_kwh(&w->pools);
  }
  f->stored_change = (after - s->stored_kwh[i]) * l->per_h;
  s->stored_kwh[i] = after;
  s->blocked[i] = after <= k->floor_reached_kwh ? 1 : (after >= p->resume_kwh ? 0 : w->blocked);

  f->pv_available = w->pv_available;
  f->pv_used = out > 0 ? w->pv : w->pv - sun_unused;
  f->pv_curtailed = w->pv_available - f->pv_used; /* exactly 0 when all was taken */
  f->battery_in = in;
  f->battery_out = out;
  f->battery_loss = battery_loss;
  f->standby = w->standby;
  f->inverted_in = inverted_in;
  f->inverted = w->inverted;
  f->idle_from_dc = w->idle_from_dc;
  f->idle_from_ac = idle_from_ac;
  f->inverter_loss = inverted_in - w->inverted + idle_from_ac;
  if (extra) f->inverter_loss += w->charger_in - w->rectified + (charging - rectified);
  f->from_bus = from_bus;
  f->to_bus = w->to_bus;
  f->load = load;
  f->served = load - unserved;
  f->unserved = unserved;
  f->loss_of_load = unserved > 0 ? 1 : 0;
  f->grid_free = from_bus <= l->p.grid_free_below_kw ? 1 - f->loss_of_load : 0;
  f->stored_kwh = after;
  f->charger_in = extra ? w->charger_in : 0;
  f->rectified = extra ? w->rectified + rectified + w->sun_rectified : 0;
  f->heater = heater;
  f->charge_blocked = extra ? w->charge_blocked : 0;
  f->ac_sun = f->ac_sun_loss = f->sun_charging = f->sun_idle = 0;
}

/* --- the bus of a meter --------------------------------------------------------------------------
 */

/* Whether a hub stands on a meter; `alone`: there is one meter, and at most one hub, on it. */
static inline bool stands_on(const locals *l, size_t hub, size_t meter, const bool alone) {
  return alone || l->p.hubs[hub].meter == (int)meter;
}

/* What each hub of meter `m` may send, of what it offers. A single sender needs no shares. */
static inline __attribute__((always_inline)) void share_sending(const locals *l, const size_t m,
                                                                double meter_want, hub_work *work,
                                                                double *to_bus, const size_t hubs,
                                                                const bool alone, const bool simple,
                                                                const bool extra) {
  double limit = l->p.meters[m].export_limit_kw;
  double supply = 0, hub_want = 0, leaving = 0, here = 0, out = 0;
  size_t senders = 0;
  if (alone) {
    for (size_t i = 0; i < hubs; i++)
      to_bus[i] =
          least(work[i].offer, meter_want + (simple || l->p.hubs[i].exports > 0 ? limit : 0));
    return;
  }
  for (size_t i = 0; i < hubs; i++) {
    if (!stands_on(l, i, m, alone)) continue;
    supply += work[i].offer;
    hub_want += work[i].bus_want;
    if (extra) hub_want += work[i].charge_want;
    senders += work[i].offer > 0 ? 1 : 0;
  }
  here = supply > meter_want + hub_want ? (meter_want + hub_want) / supply : 1;
  for (size_t i = 0; i < hubs; i++)
    if (stands_on(l, i, m, alone)) leaving += work[i].offer * (1 - here) * l->p.hubs[i].exports;
  out = leaving > limit ? limit / leaving : 1;
  for (size_t i = 0; i < hubs; i++)
    if (stands_on(l, i, m, alone))
      to_bus[i] =
          senders == 1
              ? least(work[i].offer, meter_want + (l->p.hubs[i].exports > 0 ? limit : 0) + hub_want)
              : work[i].offer * (here + (1 - here) * l->p.hubs[i].exports * out);
}

/* How far the bus of a meter can carry the idle draw of hubs that have neither sun nor battery for
 * it: `helped`, the share of what hubs want that the surplus of other hubs meets, and what is then
 * wanted of the grid. */
typedef struct bus_reach {
  double helped, wanted_kw, limit_kw;
} bus_reach;

static inline bus_reach reach_of(const locals *l, const size_t m, double meter_want,
                                 const hub_work *work, const size_t hubs) {
  double supply = 0, hub_want = 0, beyond = 0;
  bus_reach r = {.limit_kw = l->p.meters[m].import_limit_kw};
  for (size_t i = 0; i < hubs; i++) {
    if (l->p.hubs[i].meter != (int)m) continue;
    bool waits = work[i].idle_wanted > 0;
    supply += waits ? 0 : work[i].offer;
    hub_want += waits ? work[i].first_want : work[i].bus_want;
  }
  beyond = most(supply - meter_want, 0);
  r.helped = hub_want > 0 ? least(beyond / hub_want, 1) : 0;
  r.wanted_kw = hub_want * (1 - r.helped) + most(meter_want - supply, 0);
  return r;
}

/* Whether the bus carries the idle draw of a hub; what it is helped with is so to rounding. */
static inline double carries(const hub_work *w, const bus_reach *r) {
  double rest = w->first_want * (1 - r->helped);
  double slack = r->helped > 0 ? 1e-12 * w->idle_wanted : 0;
  double short_kw = w->idle_wanted - w->first_want * r->helped - slack;
  return r->wanted_kw > r->limit_kw ? (rest * r->limit_kw >= short_kw * r->wanted_kw ? 1.0 : 0.0)
                                    : (rest >= short_kw ? 1.0 : 0.0);
}

/* What is left of what hubs send and of the import limit, for the chargers. */
static inline void share_charging(const locals *l, const size_t m, hub_work *work,
                                  const size_t hubs, steading_meter_flow *f, const bool alone) {
  double wants = 0;
  for (size_t i = 0; i < hubs; i++)
    if (stands_on(l, i, m, alone)) wants += work[i].charge_want;
  double sent = least(f->export, wants);
  double bought = least(wants - sent, most(l->p.meters[m].import_limit_kw - f->import, 0));
  double share = wants > 0 ? (sent + bought) / wants : 0;
  for (size_t i = 0; i < hubs; i++) {
    hub_work *w = &work[i];
    if (!stands_on(l, i, m, alone)) continue;
    w->charger_in = w->charge_want * share;
    w->rectified = w->charger_in * l->p.hubs[i].charger_efficiency;
  }
  f->export -= sent;
  f->import += bought;
}

/* What reaches hubs and meter through the bus of meter `m`; returns how much of `meter_want` is not
 * served. */
static inline __attribute__((always_inline)) double share_bus(const locals *l, const size_t m,
                                                              double meter_want, hub_work *work,
                                                              const size_t hubs,
                                                              steading_meter_flow *f,
                                                              const bool alone, const bool roomy) {
  double limit = l->p.meters[m].import_limit_kw;
  double sent = 0, hub_want = 0;
  for (size_t i = 0; i < hubs; i++) {
    if (!stands_on(l, i, m, alone)) continue;
    sent += work[i].to_bus;
    hub_want += work[i].bus_want;
  }
  double meter_net = most(meter_want - sent, 0);
  double rest = most(sent - meter_want, 0);
  double shared = alone ? 0 : least(rest, hub_want); /* a hub that sends wants nothing */
  double net = 1;
  if (shared > 0) {
    for (size_t i = 0; i < hubs; i++)
      if (stands_on(l, i, m, alone)) work[i].others = shared * (work[i].bus_want / hub_want);
    net = 1 - shared / hub_want;
  }
  double all_want = hub_want * net + meter_net;
  double limited = all_want > limit ? 1.0 : 0.0;
  double got_share = limited > 0 ? limit / all_want : 1;
  double meter_got = roomy ? meter_net : meter_net * got_share;
  double import = 0;
  for (size_t i = 0; i < hubs; i++) {
    hub_work *w = &work[i];
    if (!stands_on(l, i, m, alone)) continue;
    double reach = w->others + (w->bus_want - w->others) * got_share;
    double got =
        limited > 0 ? most(reach - w->idle_from_ac, 0) : most(w->bus_want - w->idle_from_ac, 0);
    got = limited > 0 || w->missing + w->idle_from_ac > l->p.hubs[i].pass_through_kw
              ? least(got, w->missing)
              : w->missing;
    w->got = roomy ? w->missing : got;
    import += most(w->got + w->idle_from_ac - w->others, 0);
  }
  f->import = import + meter_got;
  f->export = rest - shared;
  return roomy ? 0 : meter_net - meter_got;
}

#ifndef NDEBUG
/* The node equations, to rounding: a debug build checks each step. */
static void check_nodes(const locals *l, const steading_layout *at, const steading_step_rows *in,
                        const size_t now, const double *row) {
  double size = 1, site = 0;
  for (size_t i = 0; i < at->width; i++) {
    assert(isfinite(row[i]));
    size += fabs(row[i]);
  }
  double slack = 1e-11 * size;
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(at, row, i);
    const steading_hub_stretch *p = &l->p.hubs[i];
    double loss = p->b * f->inverted + p->c_per_rating * f->inverted * f->inverted;
    double idle = f->idle_from_dc + f->idle_from_ac;
    double ac_sun = in->ac_sun_kw == NULL ? 0 : in->ac_sun_kw[now + i * in->stride];
    double sun_dc = f->ac_sun + f->ac_sun_loss;
    bool dark = least(in->pv_kw[now + i * in->stride], p->pv_kw) == 0;
    bool rests = dark && f->inverted == 0;
    double draw = p->idle_kw - (rests ? p->night_saving_kw : 0);
    double to_charger = f->charger_in + f->sun_charging;
    double rectified = to_charger > 0 ? to_charger * p->charger_efficiency : 0;
    double generator = 0, charging = 0, pool_in = 0, pool_out = 0, pool_kwh = 0;
    if (at->generators > 0) {
      const steading_generator_flow *g = steading_generator_flow_of(at, row, i);
      generator = g->power;
      charging = g->charging;
      rectified += charging > 0 ? charging * p->generator_charger_efficiency : 0;
      assert(generator <= p->generator_kw + slack && charging <= generator + slack);
      assert(charging <= p->generator_charger_kw + slack);
      assert(charging == 0 || to_charger == 0);
      site += generator;
    }
    assert(fabs(f->pv_used - sun_dc + f->battery_out + f->rectified - f->battery_in -
                f->inverted_in) < slack);
    assert(f->ac_sun <= ac_sun + slack && f->sun_idle <= f->idle_from_ac + slack);
    assert(f->sun_charging <= p->sun_charger_kw + slack);
    assert(f->sun_charging + f->sun_idle <= f->ac_sun + slack);
    assert(fabs(f->inverted_in - f->inverted - f->idle_from_dc - loss) < slack);
    assert(idle == 0 || fabs(idle - draw) < slack ||
           ((p->charger_kw > 0 || ac_sun > 0) && fabs(idle - p->idle_kw) < slack));
    assert(fabs(f->inverted + f->ac_sun + f->from_bus + generator - f->served - to_charger -
                charging - f->to_bus - f->idle_from_ac - f->heater) < slack);
    assert(fabs(f->rectified - rectified) < slack);
    assert(to_charger == 0 || f->inverted == 0);
    assert(f->battery_in == 0 || f->battery_out == 0);
    assert(f->from_bus == 0 || f->to_bus == 0);
    for (size_t k = 0; k < STEADING_HUB_FLOWS; k++) {
      const double *value = (const double *)f + k;
      assert(*value >= -slack || value == &f->stored_change || value == &f->inverter_loss);
    }
    site +=
        f->pv_used - f->served - f->inverter_loss - f->battery_loss - f->standby - f->stored_change;
    site -= f->heater;
    for (size_t k = 0; k < (at->pools > 0 ? p->pools : 0); k++) {
      const steading_pool_flow *pool = steading_pool_flow_of(at, row, p->first_pool + k);
      pool_in += pool->in;
      pool_out += pool->out;
      pool_kwh += pool->stored_kwh;
    }
    assert(at->pools == 0 ||
           (fabs(pool_in - f->battery_in) < slack && fabs(pool_out - f->battery_out) < slack &&
            fabs(pool_kwh - f->stored_kwh) < slack));
  }
  for (size_t m = 0; m < at->meters; m++) {
    const steading_meter_flow *f = steading_meter_flow_of(at, row, m);
    double bus = f->import - f->export - f->served;
    for (size_t i = 0; i < at->hubs; i++) {
      const steading_hub_flow *hub = steading_hub_flow_of(at, row, i);
      if (l->p.hubs[i].meter == (int)m) bus += hub->to_bus - hub->from_bus;
    }
    assert(fabs(bus) < slack);
    assert(f->import >= 0 && f->export >= 0 && f->served >= -slack && f->unserved >= -slack);
    site += f->import - f->export - f->served;
  }
  assert(fabs(site) < slack);
}
#endif

/* --- a step --------------------------------------------------------------------------------------
 */

static inline __attribute__((always_inline)) void step(
    const locals *l, const steading_layout *at, steading_state *s, const steading_step_rows *in,
    const size_t now, double *row, const size_t hubs, const size_t meters, const size_t wells,
    const size_t tanks, const bool alone, const bool simple, const bool roomy, const bool extra,
    const bool pooled) {
  steading_site_flow *site = (steading_site_flow *)row;
  steading_hub_flow *hub_flows = (steading_hub_flow *)(row + at->first_hub);
  steading_meter_flow *meter_flows = (steading_meter_flow *)(row + at->first_meter);
  steading_well_flow *well_flows = (steading_well_flow *)(row + at->first_well);
  steading_tank_flow *tank_flows = (steading_tank_flow *)(row + at->first_tank);
  steading_generator_flow *generator_flows = (steading_generator_flow *)(row + at->first_generator);
  steading_pool_flow *pool_flows = (steading_pool_flow *)(row + at->first_pool);
  steading_cells_shares shares[STEADING_MOST_BATTERIES];
  hub_work work[STEADING_MOST_HUBS];
  double firm_duty[STEADING_MOST_WELLS], firm_kw[STEADING_MOST_WELLS];
  double spare_kw[STEADING_MOST_WELLS], cut_kw[STEADING_MOST_WELLS];
  double want[STEADING_MOST_HUBS], meter_want[STEADING_MOST_METERS];
  double to_bus[STEADING_MOST_HUBS], shed[STEADING_MOST_HUBS];
  bus_reach reach[STEADING_MOST_METERS];
  double most_kw[STEADING_MOST_METERS]; /* what is asked of a bus if there is no sun at all */
  double fits_of[STEADING_MOST_HUBS];
  double imported = 0, lost = 0;
  const size_t stride = in->stride;
  const double *shed_kw = extra && in->shed_kw != NULL ? in->shed_kw + now : NULL;
  const bool cold = extra && in->charge_share != NULL;
  const bool ac_coupled = extra && in->ac_sun_kw != NULL;

  /* pumps: a run that the level started is a load like any other */
  for (size_t i = 0; i < hubs; i++) want[i] = in->hub_kw[now + i * stride];
  for (size_t i = 0; extra && i < hubs; i++) shed[i] = 0;
  for (size_t i = 0; extra && shed_kw != NULL && i < hubs; i++) {
    double sum = 0, left = 0;
    for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) {
      s->shedding[i][c] = steading_sheds(&l->p.hubs[i], c, s->stored_kwh[i], s->shedding[i][c]);
      sum += s->shedding[i][c] * shed_kw[(i * STEADING_SHED_CLASSES + c) * stride];
    }
    left = want[i] - sum;
    left = left > 1e-12 * want[i] ? left : 0; /* the classes add up to the load to rounding */
    shed[i] = sum > 0 ? want[i] - left : 0;
    want[i] = sum > 0 ? left : want[i];
  }
  for (size_t m = 0; m < meters; m++) meter_want[m] = in->meter_kw[now + m * stride];
  for (size_t w = 0; w < wells; w++) {
    const steading_well_stretch *well = &l->p.wells[w];
    size_t first = wells == 1 && tanks == 1 ? 0 : (size_t)well->first_tank;
    size_t count = wells == 1 && tanks == 1 ? 1 : (size_t)well->tanks;
    firm_duty[w] = firm_duty_of(l, s, first, count, well->per_pump_l_per_step);
    firm_kw[w] = firm_duty[w] * well->pump_kw;
    spare_kw[w] = cut_kw[w] = 0;
    if (alone && hubs == 1)
      want[0] += firm_kw[w] * l->well_on_hub[w];
    else if (well->hub >= 0)
      want[well->hub] += firm_kw[w];
    if (alone)
      meter_want[0] += firm_kw[w] * l->well_on_meter[w];
    else if (well->meter >= 0)
      meter_want[well->meter] += firm_kw[w];
  }

  if (extra) {
    for (size_t i = 0; i < hubs; i++) {
      work[i].heater = cold ? in->heater_kw[now + i * stride] : 0;
      want[i] += work[i].heater;
      fits_of[i] = 0;
    }
    for (size_t m = 0; m < meters; m++) most_kw[m] = meter_want[m];
    for (size_t i = 0; i < hubs; i++)
      if (l->p.hubs[i].meter >= 0) most_kw[l->p.hubs[i].meter] += want[i] + l->p.hubs[i].idle_kw;
  }
  for (size_t i = 0; i < hubs; i++) {
    const steading_hub_stretch *p = &l->p.hubs[i];
    double share = !simple && in->ac_share != NULL ? in->ac_share[now + i * stride] : 1, fits = 0;
    double charge_share = 1;
    if (cold && !pooled)
      charge_share = (s->unheated[i] > 0 ? in->cold_share : in->charge_share)[now + i * stride];
    for (size_t k = 0; pooled && k < p->pools; k++) {
      size_t pool = p->first_pool + k, cell = now + pool * stride;
      bool is_cold = s->unheated[i] > 0, scarce = cold && in->usable_share != NULL;
      shares[pool] = (steading_cells_shares){.charge = 1, .usable = 1};
      if (cold) shares[pool].charge = (is_cold ? in->cold_share : in->charge_share)[cell];
      if (scarce) shares[pool].usable = (is_cold ? in->cold_usable_share : in->usable_share)[cell];
    }
    if (extra && p->meter >= 0)
      fits = most_kw[p->meter] <= l->p.meters[p->meter].import_limit_kw &&
                     want[i] + p->idle_kw <= p->pass_through_kw && !(p->generator_kw > 0)
                 ? 1.0
                 : 0.0;
    if (extra) fits_of[i] = fits;
    open_hub(l, i, s, in->pv_kw[now + i * stride], want[i],
             ac_coupled ? in->ac_sun_kw[now + i * stride] : 0, share, charge_share, shares, fits,
             &work[i], simple, extra, pooled);
  }
  /* hubs that need the bus for their idle draw come second: they may live on what others send */
  for (int turn = 0; turn < (alone ? 1 : 2); turn++) {
    for (size_t m = 0; !alone && turn == 1 && m < meters; m++)
      reach[m] = reach_of(l, m, meter_want[m], work, hubs);
    for (size_t i = 0; i < hubs; i++) {
      const steading_hub_stretch *p = &l->p.hubs[i];
      double carried = 0;
      if (!alone && (work[i].idle_wanted > 0) != (turn == 1)) continue;
      if (alone) {
        bus_reach r = {.wanted_kw = work[i].first_want + meter_want[0],
                       .limit_kw = l->p.meters[0].import_limit_kw};
        carried = carries(&work[i], &r);
      } else if (turn == 1 && p->meter >= 0) {
        carried = carries(&work[i], &reach[p->meter]);
      }
      serve(l, i, &work[i], carried, simple, roomy, extra);
      bool before_bus = true;
      for (int k = 0; k < 3 && before_bus; k++) {
        int next = simple ? k : p->order[k];
        if (next == STEADING_TO_WATER) {
          for (size_t w = 0; w < wells; w++) {
            const steading_well_stretch *well = &l->p.wells[w];
            size_t first = wells == 1 && tanks == 1 ? 0 : (size_t)well->first_tank;
            size_t count = wells == 1 && tanks == 1 ? 1 : (size_t)well->tanks;
            if (!alone && well->hub != (int)i) continue;
            pump_spare(l, i, &work[i], spare_duty_of(l, s, well, first, count, firm_duty[w]),
                       alone ? well->pump_kw * l->well_on_hub[w] : well->pump_kw, &spare_kw[w],
                       extra);
          }
        } else if (next == STEADING_TO_BATTERY) {
          charge(l, i, &work[i], extra, pooled);
        } else {
          before_bus = false;
        }
      }
      /* never both ways in a step, and nothing where nothing passes */
      double offer = ac_room(&l->hubs[i], &work[i]);
      if (extra) {
        work[i].sun_offer = least(work[i].ac_left, p->pass_through_kw);
        offer += work[i].sun_offer;
      }
      offer = work[i].bus_want > 0 ? 0 : offer;
      offer = roomy || p->pass_through_kw > 0 ? offer : 0;
      work[i].offer = simple || !(p->import_margin_kw > 0) ? offer : 0;
      if (!simple && before_bus) work[i].offer = 0; /* the bus is not in its order */
      if (extra && !(work[i].offer > 0)) work[i].sun_offer = 0;
      to_bus[i] = 0;
    }
  }

  for (size_t i = 0; extra && i < hubs; i++) want_charge(l, i, &work[i], fits_of[i], pooled);
  for (size_t m = 0; m < meters; m++)
    share_sending(l, m, meter_want[m], work, to_bus, hubs, alone, simple, extra);

  for (size_t i = 0; i < hubs; i++) {
    const steading_hub_stretch *p = &l->p.hubs[i];
    bool after_bus = false;
    send(l, i, &work[i], to_bus[i], extra);
    for (int k = 0; !simple && k < 3; k++) {
      if (after_bus && p->order[k] == STEADING_TO_BATTERY) charge(l, i, &work[i], extra, pooled);
      for (size_t w = 0; after_bus && p->order[k] == STEADING_TO_WATER && w < wells; w++) {
        const steading_well_stretch *well = &l->p.wells[w];
        size_t first = wells == 1 && tanks == 1 ? 0 : (size_t)well->first_tank;
        size_t count = wells == 1 && tanks == 1 ? 1 : (size_t)well->tanks;
        if (well->hub != (int)i) continue;
        pump_spare(l, i, &work[i], spare_duty_of(l, s, well, first, count, firm_duty[w]),
                   well->pump_kw, &spare_kw[w], extra);
      }
      if (p->order[k] == STEADING_TO_BUS) after_bus = true;
    }
  }

  for (size_t i = 0; i < hubs; i++) work[i].got = 0;
  for (size_t m = 0; m < meters; m++) {
    steading_meter_flow *f = &meter_flows[m];
    double short_kw = share_bus(l, m, meter_want[m], work, hubs, f, alone, roomy), cut = 0;
    if (extra) share_charging(l, m, work, hubs, f, alone);
    for (size_t w = 0; !roomy && w < wells; w++) {
      if (l->p.wells[w].meter != (int)m) continue;
      cut_kw[w] = least(most(short_kw - cut, 0), firm_kw[w]); /* rounding may end below 0 */
      cut += cut_kw[w];
    }
    f->load = meter_want[m] - cut;
    f->unserved = roomy ? 0 : most(short_kw - cut, 0);
    f->served = f->load - f->unserved;
    imported += f->import;
    lost += f->unserved;
  }

  /* what is refused: a heater gives way first, then a pump, before the loads of its own hub or
   * meter */
  for (size_t i = 0; i < hubs; i++) {
    double cut = 0, short_kw = work[i].missing - work[i].got;
    if (extra) cut = work[i].heater_cut = least(most(short_kw, 0), work[i].heater);
    for (size_t w = 0; !roomy && w < wells; w++) {
      if (l->p.wells[w].hub != (int)i) continue;
      cut_kw[w] = least(most(short_kw - cut, 0), firm_kw[w]); /* rounding may end below 0 */
      cut += cut_kw[w];
    }
    if (extra && work[i].heater > 0 && cut > short_kw * (1 - 1e-12)) cut = most(short_kw, 0);
    close_hub(l, i, s, &work[i], cut, &hub_flows[i],
              extra && at->generators > 0 ? &generator_flows[i] : NULL, pool_flows, roomy, extra,
              pooled);
    if (ac_coupled)
      close_ac_sun(&work[i], in->ac_sun_kw[now + i * stride], in->ac_sun_dc_kw[now + i * stride],
                   &hub_flows[i]);
    lost += hub_flows[i].unserved;
  }
  site->loss_of_load = lost > 0 ? 1 : 0;
  site->grid_free = imported <= l->p.grid_free_below_kw ? 1 - site->loss_of_load : 0;
  for (size_t i = 0; i < hubs; i++) hub_flows[i].shed = extra ? shed[i] : 0;
  for (size_t i = 0; extra && i < hubs; i++) { /* what is shed is wanted, and an hour of it is no
                                                  hour of full service */
    hub_flows[i].load += shed[i];
    hub_flows[i].grid_free = shed[i] > 0 ? 0 : hub_flows[i].grid_free;
    site->grid_free = shed[i] > 0 ? 0 : site->grid_free;
  }

  /* water */
  double got_l[STEADING_MOST_TANKS];
  for (size_t t = 0; t < tanks; t++) got_l[t] = 0;
  for (size_t w = 0; w < wells; w++) {
    const steading_well_stretch *well = &l->p.wells[w];
    size_t first = wells == 1 && tanks == 1 ? 0 : (size_t)well->first_tank;
    size_t count = wells == 1 && tanks == 1 ? 1 : (size_t)well->tanks;
    double pump = firm_kw[w] - cut_kw[w] + spare_kw[w];
    double duty = least(pump * well->per_pump_kw, 1);
    double pumped = duty * well->pump_l_per_step;
    share_water(l, s, first, count, pumped, got_l);
    well_flows[w] =
        (steading_well_flow){.pump = pump, .duty_h = duty * l->p.step_h, .pumped_l = pumped};
  }
  for (size_t t = 0; t < tanks; t++) {
    const steading_tank_stretch *tank = &l->p.tanks[t];
    double delivered = least(tank->draw_l, s->tank_l[t] + got_l[t]);
    double level = most(least(s->tank_l[t] + got_l[t] - delivered, tank->full_l), 0);
    s->filling[t] = level < tank->start_l ? 1 : (level >= l->stop_reached_l[t] ? 0 : s->filling[t]);
    s->tank_l[t] = level;
    tank_flows[t] = (steading_tank_flow){
        .delivered_l = delivered, .short_l = tank->draw_l - delivered, .level_l = level};
  }
  for (size_t k = at->first_fuel; extra && k < at->first_pool; k++) row[k] = 0;
#ifndef NDEBUG
  check_nodes(l, at, in, now, row);
#endif
}

/* One body; a shape of fixed size lets the compiler unroll its loops and drop what a zero makes
 * needless. The bits are the same. */
static inline __attribute__((always_inline)) void run(
    const steading_stretch *stretch, steading_state *state, size_t count,
    const steading_step_rows *rows, double *flows, const size_t hubs, const size_t meters,
    const size_t wells, const size_t tanks, const bool alone, const bool simple, const bool roomy,
    const bool extra, const bool pooled) {
  const steading_layout plain = steading_layout_of(hubs, meters, wells, tanks);
  const steading_layout at = extra ? steading_layout_with(plain, stretch->generator_count,
                                                          stretch->fuel_count, stretch->pool_count)
                                   : plain;
  steading_state s = *state;
  locals l;
  set_locals(&l, stretch, hubs, wells, tanks, extra);
  const steading_step_rows in = *rows;
  for (size_t i = 0; i < count; i++)
    step(&l, &at, &s, &in, i, flows + i * at.width, hubs, meters, wells, tanks, alone, simple,
         roomy, extra, pooled);
  *state = s;
}

/* Whether neither a meter's limit nor a pass-through can bind in any of the steps: then what they
 * would refuse need not be worked out, and the tank does not wait for the inverter. One hub and one
 * meter at most. */
static bool is_roomy(const steading_stretch *p, size_t count, const steading_step_rows *rows) {
  const double margin = 1 + 1e-9;
  double on_hub = 0, in_all = 0, pump_on_hub = 0, pumps = 0, idle = 0;
  for (size_t i = 0; i < count; i++) {
    double hub = p->hub_count > 0 ? rows->hub_kw[i] : 0;
    double sum = hub + rows->meter_kw[i];
    on_hub = hub > on_hub ? hub : on_hub;
    in_all = sum > in_all ? sum : in_all;
  }
  for (size_t w = 0; w < p->well_count; w++) {
    pumps += p->wells[w].pump_kw;
    pump_on_hub += p->wells[w].hub >= 0 ? p->wells[w].pump_kw : 0;
  }
  if (p->hub_count > 0) idle = p->hubs[0].idle_kw;
  return (p->hub_count == 0 ||
          (on_hub + pump_on_hub + idle) * margin < p->hubs[0].pass_through_kw) &&
         (in_all + pumps + idle) * margin < p->meters[0].import_limit_kw;
}

/* Whether a hub works by the usual rules. */
static bool is_simple(const steading_hub_stretch *p) {
  return p->night_saving_kw == 0 && p->transfers == 0 && p->import_margin_kw == 0 &&
         p->exports > 0 && p->order[0] == STEADING_TO_WATER && p->order[1] == STEADING_TO_BATTERY &&
         p->order[2] == STEADING_TO_BUS;
}

/* Whether a rule beyond the floor is in force: a charger, a raised reserve, a battery that waits
 * for its hours, loads that may be shed, a battery in the cold; or the site has AC-coupled arrays,
 * or generators, on or off. */
static bool is_extra(const steading_stretch *p, const steading_step_rows *rows) {
  if (rows->shed_kw != NULL || rows->charge_share != NULL || rows->ac_sun_kw != NULL ||
      p->generator_count > 0 || p->pool_count > 0)
    return true;
  for (size_t i = 0; i < p->hub_count; i++)
    if (p->hubs[i].charger_kw > 0 || p->hubs[i].keep_kwh > 0 || p->hubs[i].holds > 0) return true;
  return false;
}

void steading_kernel_run(const steading_stretch *p, steading_state *state, size_t count,
                         const steading_step_rows *rows, double *flows) {
  size_t hubs = p->hub_count, meters = p->meter_count, wells = p->well_count, tanks = p->tank_count;
  bool alone = meters == 1 && hubs <= 1 && wells <= 1 && tanks == wells &&
               (hubs == 0 || p->hubs[0].meter == 0);
  bool simple = hubs == 0 || (rows->ac_share == NULL && is_simple(&p->hubs[0]));
  bool extra = is_extra(p, rows);
  bool roomy = alone && !extra && is_roomy(p, count, rows);
#define RUN_EXTRA(hubs_, meters_, wells_, alone_, simple_, roomy_, extra_, pooled_)          \
  run(p, state, count, rows, flows, hubs_, meters_, wells_, alone_ ? wells_ : tanks, alone_, \
      simple_, roomy_, extra_, pooled_)
#define RUN(hubs_, meters_, wells_, alone_, simple_, roomy_) \
  RUN_EXTRA(hubs_, meters_, wells_, alone_, simple_, roomy_, false, false)
#define RUN_RULES(hubs_, wells_)              \
  if (simple && roomy)                        \
    RUN(hubs_, 1, wells_, true, true, true);  \
  else if (simple)                            \
    RUN(hubs_, 1, wells_, true, true, false); \
  else if (roomy)                             \
    RUN(hubs_, 1, wells_, true, false, true); \
  else                                        \
    RUN(hubs_, 1, wells_, true, false, false)
  if (p->pool_count > 0)
    RUN_EXTRA(hubs, meters, wells, false, false, false, true, true);
  else if (extra && alone && hubs == 1 && wells == 0)
    RUN_EXTRA(1, 1, 0, true, false, false, true, false);
  else if (extra)
    RUN_EXTRA(hubs, meters, wells, false, false, false, true, false);
  else if (!alone)
    RUN(hubs, meters, wells, false, false, false);
  else if (hubs == 1 && wells == 1)
    RUN_RULES(1, 1);
  else if (hubs == 1)
    RUN_RULES(1, 0);
  else if (wells == 1)
    RUN(0, 1, 1, true, true, false);
  else
    RUN(0, 1, 0, true, true, false);
#undef RUN_RULES
#undef RUN
#undef RUN_EXTRA
}
