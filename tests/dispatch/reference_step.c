#include "reference_step.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

/* A hub as the step goes on. */
typedef struct hub_now {
  const steading_hub_stretch *p;
  steading_hub_flow f;
  double sun, held,
      can;     /* DC: sun that the unit may take, stored energy, what the battery may give */
  double load; /* with firm runs of pumps */
  double shed; /* not in it */
  /* what the unit can give and charge with in the heat of the step, of the bus and of AC sun */
  double ac_most, charger_most, sun_charger_most;
  double idle_dc, idle_ac;
  bool waits, on, moved, sleeps;
  double asks;  /* of the bus */
  double lacks; /* of its load, what inverter and idle draw leave to the bus */
  double spare; /* surplus runs of pumps */
  double offers, sends, gets;
  double floor;       /* below which the battery serves no load in this step */
  bool charges;       /* the unit makes DC for the battery, and no AC */
  double charge_room; /* DC that the battery may take before it is where the grid charges it to */
  double charge_asks, charge_gets; /* of the bus, AC */
  /* of a generator that runs: AC for the idle draw and for the loads, DC of a charger that works
   * for the battery alone */
  double made_idle, made_load, made_dc;
  double charge_kw; /* what the cold leaves of it */
  double heater, heater_gives_up;
  /* AC-coupled sun: what there is and the DC behind it, what works, and who takes it */
  double there, behind, works, to_idle, to_load, to_pumps, to_charger, to_bus, sun_offers;
  double wants;    /* of its load, what such sun leaves */
  bool not_enough; /* it cannot carry what sun leaves, and the battery helps */
} hub_now;

typedef struct well_now {
  double firm, spare, cut; /* kW */
} well_now;

/* DC power, beyond the idle draw, that makes `ac` kW. */
static double dc_for(const steading_hub_stretch *p, double ac) {
  return ac + p->b * ac + p->c_per_rating * ac * ac;
}

/* The AC power up to `most` that `dc` kW make. */
static double ac_from(const steading_hub_stretch *p, double dc, double most) {
  double ac = 0;
  if (dc <= 0) return 0;
  if (dc_for(p, most) <= dc) return most;
  ac = fmin(dc / (1 + p->b), most);
  for (int i = 0; i < 60; i++) {
    double step = (dc_for(p, ac) - dc) / (1 + p->b + 2 * p->c_per_rating * ac);
    ac = fmin(fmax(ac - step, 0), most);
    if (fabs(step) <= 1e-15 * ac) break;
  }
  return ac;
}

/* --- water ------------------------------------------------------------------------------------ */

static double asked_of_tank(const steading_stretch *p, const steading_state *s, int t) {
  const steading_tank_stretch *tank = &p->tanks[t];
  if (s->filling[t] == 0) return 0;
  return fmax(tank->stop_l - s->tank_l[t] + tank->draw_l, 0);
}

/* Water of a firm run goes to the tanks in order. */
static double firm_of_tank(const steading_stretch *p, const steading_state *s, int w, int t,
                           double litres) {
  for (int k = p->wells[w].first_tank; k < t; k++) litres -= fmin(asked_of_tank(p, s, k), litres);
  return fmin(asked_of_tank(p, s, t), litres);
}

static double firm_litres(const steading_stretch *p, const steading_state *s, int w) {
  double litres = 0;
  for (int k = 0; k < p->wells[w].tanks; k++)
    litres += asked_of_tank(p, s, p->wells[w].first_tank + k);
  return fmin(litres, p->wells[w].pump_l_per_step);
}

/* Litres that surplus may pump beside a firm run. */
static double spare_litres(const steading_stretch *p, const steading_state *s, int w) {
  const steading_well_stretch *well = &p->wells[w];
  double firm = firm_litres(p, s, w), room = 0;
  for (int t = well->first_tank; t < well->first_tank + well->tanks; t++) {
    const steading_tank_stretch *tank = &p->tanks[t];
    room += fmax(tank->surplus_l + tank->draw_l - s->tank_l[t] - firm_of_tank(p, s, w, t, firm), 0);
  }
  return fmin(room, well->pump_l_per_step - firm);
}

static void close_water(const steading_stretch *p, steading_state *s, const well_now *wells,
                        reference_row *row) {
  double got[STEADING_MOST_TANKS] = {0};
  for (int w = 0; w < (int)p->well_count; w++) {
    const steading_well_stretch *well = &p->wells[w];
    double pump = wells[w].firm - wells[w].cut + wells[w].spare;
    double share = well->pump_kw > 0 ? pump / well->pump_kw : 0;
    double litres = share * well->pump_l_per_step, left = litres;
    row->wells[w] =
        (steading_well_flow){.pump = pump, .duty_h = share * p->step_h, .pumped_l = litres};
    for (int t = well->first_tank; t < well->first_tank + well->tanks; t++) {
      got[t] = firm_of_tank(p, s, w, t, litres);
      left -= got[t];
    }
    for (int t = well->first_tank; t < well->first_tank + well->tanks; t++) {
      const steading_tank_stretch *tank = &p->tanks[t];
      double room = fmax(tank->surplus_l + tank->draw_l - s->tank_l[t] - got[t], 0);
      double more = fmin(room, left);
      got[t] += more;
      left -= more;
    }
    if (well->tanks > 0 && left > 0) got[well->first_tank + well->tanks - 1] += left;
  }
  for (size_t t = 0; t < p->tank_count; t++) {
    const steading_tank_stretch *tank = &p->tanks[t];
    double there = s->tank_l[t] + got[t], given = fmin(tank->draw_l, there);
    s->tank_l[t] = fmin(fmax(there - given, 0), tank->full_l);
    if (s->tank_l[t] < tank->start_l)
      s->filling[t] = 1;
    else if (s->tank_l[t] >= tank->stop_l * (1 - 1e-12))
      s->filling[t] = 0;
    row->tanks[t] = (steading_tank_flow){
        .delivered_l = given, .short_l = tank->draw_l - given, .level_l = s->tank_l[t]};
  }
}

/* --- a hub ------------------------------------------------------------------------------------ */

/* Classes whose level the charge is below are not served, until it is back above the other. */
static void shed_loads(hub_now *h, steading_state *s, size_t i, const double *class_kw) {
  for (int c = 0; c < STEADING_SHED_CLASSES; c++) {
    if (s->stored_kwh[i] < h->p->shed_kwh[c])
      s->shedding[i][c] = 1;
    else if (s->stored_kwh[i] >= h->p->restore_kwh[c])
      s->shedding[i][c] = 0;
    if (s->shedding[i][c] != 0) h->shed += class_kw[c];
  }
  h->load = fmax(h->load - h->shed, 0);
}

static void open_hub(hub_now *h, const steading_state *s, size_t i, double step_h, double pv) {
  const steading_hub_stretch *p = h->p;
  h->f.pv_available = pv;
  h->sun = fmin(pv, p->pv_kw);
  h->f.standby = fmin(p->standby_kw, fmax(s->stored_kwh[i] - p->lowest_kwh, 0) / step_h);
  h->held = s->stored_kwh[i] - h->f.standby * step_h;
  h->waits = s->blocked[i] != 0 && s->stored_kwh[i] < p->resume_kwh;
}

static bool sun_may_charge(const steading_hub_stretch *p) {
  for (int k = 0; k < 3; k++)
    if (p->order[k] == STEADING_TO_BATTERY) return true;
  return false;
}

/* Whether all loads of the hub's meter fit under its limits with no help of any sun. */
static bool bus_can_serve_all(const steading_stretch *p, const hub_now *hubs, size_t i,
                              const double *meter_load) {
  int m = p->hubs[i].meter;
  double all = 0;
  if (m < 0 || hubs[i].load + p->hubs[i].idle_kw > p->hubs[i].pass_through_kw) return false;
  all = meter_load[m];
  for (size_t k = 0; k < p->hub_count; k++)
    if (p->hubs[k].meter == m) all += hubs[k].load + p->hubs[k].idle_kw;
  return all <= p->meters[m].import_limit_kw;
}

/* What the battery may do: it keeps what its floors say, and in an open charging window what the
 * grid is to charge it to. */
static void ready_battery(hub_now *h, double step_h, bool bus_serves_all) {
  const steading_hub_stretch *p = h->p;
  h->floor = fmax(p->floor_kwh, p->keep_kwh);
  if (p->charger_kw > 0 && bus_serves_all) {
    double sun = fmax(h->sun - p->idle_kw, 0);
    h->floor = fmax(h->floor, p->charge_to_kwh);
    h->charge_room =
        fmin(h->charge_kw, fmax(p->charge_to_kwh - h->held, 0) / (p->efficiency_in * step_h));
    h->charges = sun_may_charge(p) ? h->charge_room > sun : sun == 0 && h->charge_room > 0;
    if (h->charger_most == 0) h->charges = false; /* it is too hot to */
  }
  if (!h->waits && p->holds == 0 && h->held > h->floor)
    h->can = fmin(p->discharge_kw, (h->held - h->floor) * p->efficiency_out / step_h);
}

static bool carries(const steading_hub_stretch *p) {
  return p->generator_kw > 0 && p->generator_carries != 0;
}

/* AC-coupled sun feeds loads, but for what is to be drawn from the bus at least. */
static void feed_loads(hub_now *h) {
  double most = fmax(h->load - h->p->import_margin_kw, 0), sun = h->works - h->to_idle;
  h->to_load = fmin(sun, most);
  h->wants = sun < most ? h->load - sun : fmin(h->load, h->p->import_margin_kw);
}

/* It works where there is a grid: that of the bus, else one that the unit forms of its own sun, of
 * a charge above the lowest, or with a generator. First it gives what the DC side does not give of
 * the idle draw; without a bus only where the battery holds something or a generator runs. */
static void ready_ac_sun(hub_now *h) {
  const steading_hub_stretch *p = h->p;
  bool runs = p->generator_kw > 0, holds = h->held - p->lowest_kwh > 1e-12 * p->highest_kwh;
  double dc = h->sun;
  if (!carries(p)) {
    dc += h->can;
    if (runs)
      dc += fmin(p->generator_kw, p->generator_charger_kw) * p->generator_charger_efficiency;
  }
  h->works = h->there;
  if (p->pass_through_kw == 0) {
    if (p->ac_kw == 0 || !(holds || runs || h->sun > 0)) h->works = 0;
  }
  if (p->pass_through_kw > 0 || holds || runs)
    h->to_idle = fmin(h->works, fmax(p->idle_kw - dc, 0));
  feed_loads(h);
}

static double ac_sun_left(const hub_now *h) {
  double left = h->works - h->to_idle - h->to_load - h->to_pumps - h->to_charger - h->to_bus;
  return left > 1e-14 * h->works ? left : 0; /* rounding */
}

/* What the unit is to make for the loads: beside a generator that is not enough, what is beyond
 * it. */
static double wanted_of_unit(const hub_now *h) {
  const steading_hub_stretch *p = h->p;
  double wanted = h->wants - p->import_margin_kw;
  if (h->not_enough)
    wanted -= fmax(p->generator_kw - (fmax(p->idle_kw - h->sun, 0) - h->to_idle), 0);
  return fmin(fmax(wanted, 0), h->ac_most);
}

/* A generator: of one that carries loads, whether it is enough for what the sun leaves of load and
 * idle draw, without any battery; the charger of one that does not works like a battery. */
static void ready_generator(hub_now *h) {
  const steading_hub_stretch *p = h->p;
  if (!(p->generator_kw > 0)) return;
  if (carries(p)) {
    double by_sun = ac_from(p, h->sun - p->idle_kw, wanted_of_unit(h));
    double idle_left = fmax(p->idle_kw - h->sun, 0) - h->to_idle;
    h->not_enough = h->wants - by_sun + idle_left > p->generator_kw;
    if (!h->not_enough) h->can = 0;
  } else {
    h->made_dc = fmin(p->generator_kw, p->generator_charger_kw) * p->generator_charger_efficiency;
    h->can += h->made_dc;
  }
}

/* Whether the whole load moves over to the bus. */
static bool moves_over(const hub_now *h, double target) {
  const steading_hub_stretch *p = h->p;
  double battery_kw = h->waits || p->holds != 0 || h->held <= h->floor ? 0 : p->discharge_kw;
  battery_kw += h->made_dc;
  if (p->transfers == 0) return false;
  return h->waits || h->wants > h->ac_most ||
         dc_for(p, target) > h->sun + battery_kw - fmin(p->idle_kw, h->sun + h->can);
}

/* The idle draw. A unit that would deliver nothing in a step without sun sleeps. */
static void settle_idle(hub_now *h) {
  const steading_hub_stretch *p = h->p;
  double target = wanted_of_unit(h);
  double delivers = ac_from(p, h->can - p->idle_kw, target), draw = p->idle_kw;
  h->moved = moves_over(h, target);
  h->sleeps = h->sun == 0 && (h->moved || delivers == 0) && !h->charges && h->works == 0;
  if (h->sleeps) draw -= p->night_saving_kw;
  h->idle_dc = fmin(draw, h->sun + h->can);
  if (carries(p)) { /* sun, generator, battery */
    double rest = draw - fmin(draw, h->sun) - h->to_idle;
    h->made_idle = fmin(rest, p->generator_kw);
    h->idle_dc = fmin(draw, h->sun) + fmin(rest - h->made_idle, h->can);
  }
  h->idle_ac = draw - h->idle_dc - h->made_idle - h->to_idle;
  if (h->idle_ac < 1e-14 * draw) h->idle_ac = 0; /* rounding */
}

/* What it asks of the bus if its sun and battery do not reach beyond the idle draw. */
static double would_ask(const hub_now *h) {
  return fmin(h->wants + h->idle_ac, h->p->pass_through_kw);
}

/* What the bus could give a hub that asks it for its idle draw: its part of what the hubs that need
 * no such help have over, and its part of what the grid gives for all that is still asked then. */
static double could_get(const steading_stretch *p, const hub_now *h, const hub_now *hubs,
                        const double *meter_load) {
  double over = 0, asked = 0, still = 0, from_hubs = 0, share = 1;
  int m = h->p->meter;
  if (m < 0) return 0;
  for (size_t i = 0; i < p->hub_count; i++) {
    if (p->hubs[i].meter != m) continue;
    over += hubs[i].idle_ac > 0 ? 0 : hubs[i].offers;
    asked += hubs[i].idle_ac > 0 ? would_ask(&hubs[i]) : hubs[i].asks;
  }
  if (!(asked > 0)) return 0;
  from_hubs = fmin(fmax(over - meter_load[m], 0), asked);
  still = asked - from_hubs + fmax(meter_load[m] - over, 0);
  if (still > p->meters[m].import_limit_kw) share = p->meters[m].import_limit_kw / still;
  return would_ask(h) / asked * (from_hubs + (asked - from_hubs) * share);
}

static void serve_load(hub_now *h, double could) {
  const steading_hub_stretch *p = h->p;
  double target = wanted_of_unit(h);
  h->on = !(h->idle_ac > 0) || could >= h->idle_ac * (1 - 1e-12); /* to rounding */
  if (!h->on)
    h->idle_dc = h->idle_ac = h->made_idle = 0;
  else if (!h->moved && !h->sleeps && !h->charges)
    h->f.inverted = ac_from(p, h->sun + h->can - h->idle_dc, target);
  if (!h->on && h->works > 0) { /* beside the bus it needs no unit */
    h->to_idle = 0;
    if (p->pass_through_kw == 0) h->works = 0;
    feed_loads(h);
  }
  if (ac_sun_left(h) > 0) { /* it relieves the battery of the idle draw */
    double relief = fmin(fmax(h->idle_dc - h->sun, 0), ac_sun_left(h));
    h->idle_dc -= relief;
    h->to_idle += relief;
  }
  h->lacks = h->wants - h->f.inverted;
  if (carries(p)) h->made_load = fmin(h->lacks, p->generator_kw - h->made_idle);
  h->lacks -= h->made_load;
  h->asks = fmin(h->lacks + h->idle_ac, p->pass_through_kw);
}

/* Sun that nobody has taken, DC. */
static double sun_left(const hub_now *h) {
  double sun = h->on ? fmax(h->sun - h->p->idle_kw, 0) : h->sun;
  return fmax(sun - dc_for(h->p, h->f.inverted) - h->f.battery_in, 0);
}

/* AC power that this sun could add. */
static double ac_left(const hub_now *h) {
  double sun = fmax(h->sun - h->p->idle_kw, 0) - h->f.battery_in;
  if (!h->on || h->moved || h->charges || h->to_charger > 0 || sun_left(h) <= 0) return 0;
  return fmax(ac_from(h->p, sun, h->ac_most) - h->f.inverted, 0);
}

static void take_surplus(hub_now *h, int who, const steading_stretch *all, const steading_state *s,
                         size_t i, well_now *wells) {
  if (who == STEADING_TO_BATTERY) {
    double room = fmax(h->p->highest_kwh - h->held, 0) / (h->p->efficiency_in * all->step_h);
    h->f.battery_in = fmin(fmin(sun_left(h), h->charge_kw), room);
    if (h->on && h->f.inverted == 0 && !(h->p->generator_kw > 0) && h->sun_charger_most > 0) {
      double promised = h->charge_asks * h->p->charger_efficiency;
      double takes = fmin(h->charge_kw, room) - h->f.battery_in - promised;
      h->to_charger = fmin(ac_sun_left(h), fmax(h->sun_charger_most - h->charge_asks, 0));
      h->to_charger = fmin(h->to_charger, fmax(takes, 0) / h->p->charger_efficiency);
    }
  }
  if (who != STEADING_TO_WATER) return;
  for (size_t w = 0; w < all->well_count; w++) {
    double litres = 0, full = all->wells[w].pump_l_per_step;
    if (all->wells[w].hub != (int)i || !(full > 0)) continue;
    litres = spare_litres(all, s, (int)w);
    double wanted = litres / full * all->wells[w].pump_kw, by_sun = fmin(wanted, ac_sun_left(h));
    double made = fmin(wanted - by_sun, ac_left(h));
    wells[w].spare = by_sun + made;
    h->spare += wells[w].spare;
    h->to_pumps += by_sun;
    h->f.inverted += made;
  }
}

/* What the charger asks of the bus beside sun and loads. */
static void ask_for_charge(hub_now *h) {
  const steading_hub_stretch *p = h->p;
  double dc = h->charge_room - (sun_may_charge(p) ? fmax(h->sun - p->idle_kw, 0) : 0);
  if (!h->charges || !h->on || h->sun_offers > 0) return;
  if (!sun_may_charge(p) && ac_sun_left(h) > 0) return;
  dc = fmax(dc - h->to_charger * p->charger_efficiency, 0);
  h->charge_asks = fmin(fmin(dc / p->charger_efficiency, h->charger_most),
                        fmax(p->pass_through_kw - h->asks, 0));
  if (h->to_charger > 0)
    h->charge_asks = fmin(h->charge_asks, fmax(h->sun_charger_most - h->to_charger, 0));
}

/* What the generator's charger puts into the battery, DC, beside the sun. */
static double made_for_store(const hub_now *h, double step_h, double to_unit) {
  const steading_hub_stretch *p = h->p;
  double left = p->generator_kw - h->made_idle - h->made_load, dc = h->made_dc - to_unit;
  double room = fmin(h->charge_kw, fmax(p->highest_kwh - h->held, 0) / (p->efficiency_in * step_h));
  if (carries(p)) dc = fmin(left, p->generator_charger_kw) * p->generator_charger_efficiency;
  if (!(p->generator_kw > 0) || h->not_enough || h->f.battery_out > 1e-12) return 0;
  return fmax(fmin(dc, room - h->f.battery_in), 0);
}

static void close_hub(hub_now *h, steading_state *s, size_t i, double step_h, double cut,
                      steading_generator_flow *g) {
  const steading_hub_stretch *p = h->p;
  steading_hub_flow *f = &h->f;
  double needs = dc_for(p, f->inverted) + h->idle_dc, to_unit = 0, to_store = 0;
  f->inverted_in = needs;
  f->idle_from_dc = h->idle_dc;
  f->idle_from_ac = h->idle_ac;
  f->inverter_loss = h->idle_dc + h->idle_ac + needs - h->idle_dc - f->inverted;
  f->battery_out =
      f->battery_in > 0 || h->sends > 0 || h->to_charger > 0 ? 0 : fmax(needs - h->sun, 0);
  to_unit = fmin(f->battery_out, h->made_dc);
  f->battery_out -= to_unit;
  f->pv_used = needs + f->battery_in - f->battery_out - to_unit;
  to_store = made_for_store(h, step_h, to_unit);
  if (to_unit + to_store > 0) g->charging = (to_unit + to_store) / p->generator_charger_efficiency;
  g->power = h->made_idle + h->made_load + g->charging;
  g->refused = h->lacks - h->gets;
  f->charger_in = h->charge_gets;
  f->rectified = h->charge_gets > 0 ? h->charge_gets * p->charger_efficiency : 0;
  f->inverter_loss += f->charger_in - f->rectified;
  f->battery_in += f->rectified + to_store;
  f->rectified += to_unit + to_store;
  f->inverter_loss += g->charging - to_unit - to_store;
  f->idle_from_ac += h->made_idle;
  f->inverter_loss += h->made_idle;
  f->sun_charging = h->to_charger;
  f->battery_in += h->to_charger * p->charger_efficiency;
  f->rectified += h->to_charger * p->charger_efficiency;
  f->inverter_loss += h->to_charger * (1 - p->charger_efficiency);
  f->sun_idle = h->to_idle;
  f->idle_from_ac += h->to_idle;
  f->inverter_loss += h->to_idle;
  if (h->there > 0) {
    f->ac_sun = h->works - ac_sun_left(h);
    f->ac_sun_loss = f->ac_sun * (h->behind / h->there - 1);
    f->inverter_loss += f->ac_sun_loss;
    f->pv_available += h->behind;
    f->pv_used += f->ac_sun + f->ac_sun_loss;
  }
  f->pv_curtailed = f->pv_available - f->pv_used;
  f->battery_loss =
      f->battery_in * (1 - p->efficiency_in) + f->battery_out * (1 / p->efficiency_out - 1);
  f->stored_kwh =
      h->held + (f->battery_in * p->efficiency_in - f->battery_out / p->efficiency_out) * step_h;
  f->stored_change = (f->stored_kwh - s->stored_kwh[i]) / step_h;
  s->stored_kwh[i] = f->stored_kwh;
  if (f->stored_kwh <= p->floor_kwh * (1 + 1e-12))
    s->blocked[i] = 1;
  else if (f->stored_kwh >= p->resume_kwh || !h->waits)
    s->blocked[i] = 0;
  f->from_bus = h->gets + h->idle_ac + h->charge_gets;
  f->to_bus = h->sends;
  f->heater = h->heater - h->heater_gives_up;
  f->unserved = h->lacks - h->gets - cut - h->heater_gives_up;
  f->shed = h->shed;
  f->load = h->load - h->heater - cut + h->spare + h->shed;
  s->unheated[i] = h->heater_gives_up > 1e-9 * h->heater ? 1 : 0;
  f->served = f->load - f->unserved - f->shed;
}

/* --- the bus of a meter ----------------------------------------------------------------------- */

static void send_to_bus(const steading_stretch *p, int m, double meter_load, hub_now *hubs) {
  double offered = 0, wanted = meter_load, stays = 0, may_leave = 0, leaves = 0;
  for (size_t i = 0; i < p->hub_count; i++) {
    if (hubs[i].p->meter != m) continue;
    offered += hubs[i].offers;
    wanted += hubs[i].asks + hubs[i].charge_asks;
  }
  if (offered <= 0) return;
  stays = fmin(offered, wanted);
  for (size_t i = 0; i < p->hub_count; i++)
    if (hubs[i].p->meter == m && hubs[i].p->exports != 0)
      may_leave += hubs[i].offers * (offered - stays) / offered;
  leaves = fmin(may_leave, p->meters[m].export_limit_kw);
  for (size_t i = 0; i < p->hub_count; i++) {
    hub_now *h = &hubs[i];
    if (h->p->meter != m) continue;
    h->sends = h->offers / offered * stays;
    if (h->p->exports != 0 && may_leave > 0)
      h->sends += h->offers * (offered - stays) / offered / may_leave * leaves;
    h->to_bus = h->offers > h->sun_offers ? fmin(h->sends, h->sun_offers) : h->sends;
    h->f.inverted += h->sends - h->to_bus;
  }
}

/* Returns what is not served of `meter_load`. */
static double take_from_bus(const steading_stretch *p, int m, double meter_load, hub_now *hubs,
                            steading_meter_flow *f) {
  double sent = 0, asked = 0, to_meter = 0, to_hubs = 0, still = 0, share = 1;
  double charging = 0, to_chargers = 0, bought = 0;
  for (size_t i = 0; i < p->hub_count; i++) {
    if (hubs[i].p->meter != m) continue;
    sent += hubs[i].sends;
    asked += hubs[i].asks;
    charging += hubs[i].charge_asks;
  }
  to_meter = fmin(sent, meter_load);
  to_hubs = fmin(sent - to_meter, asked);
  f->export = sent - to_meter - to_hubs;
  still = meter_load - to_meter + asked - to_hubs;
  if (still > p->meters[m].import_limit_kw) share = p->meters[m].import_limit_kw / still;
  f->import = still * share;
  for (size_t i = 0; i < p->hub_count; i++) {
    hub_now *h = &hubs[i];
    double from_hubs = 0;
    if (h->p->meter != m || !(asked > 0)) continue;
    from_hubs = to_hubs * h->asks / asked;
    h->gets = fmax(from_hubs + (h->asks - from_hubs) * share - h->idle_ac, 0);
  }
  /* chargers: what others send beyond all loads, then what the import limit leaves */
  to_chargers = fmin(f->export, charging);
  bought = fmin(charging - to_chargers, fmax(p->meters[m].import_limit_kw - f->import, 0));
  for (size_t i = 0; i < p->hub_count; i++)
    if (hubs[i].p->meter == m && charging > 0)
      hubs[i].charge_gets = hubs[i].charge_asks / charging * (to_chargers + bought);
  f->export -= to_chargers;
  f->import += bought;
  return (meter_load - to_meter) * (1 - share);
}

/* A pump gives way before the loads of its own side; returns what the pumps gave up. */
static double give_way(const steading_stretch *p, int hub, int meter, double lacking,
                       well_now *wells) {
  double given = 0;
  for (size_t w = 0; w < p->well_count; w++) {
    if ((hub >= 0 && p->wells[w].hub != hub) || (meter >= 0 && p->wells[w].meter != meter))
      continue;
    wells[w].cut = fmin(wells[w].firm, lacking - given);
    given += wells[w].cut;
  }
  return given;
}

void reference_step(const steading_stretch *p, steading_state *s, const double *pv_kw,
                    const double *hub_load_kw, const double *meter_load_kw, const double *ac_share,
                    const double *shed_kw, const reference_cold *cold,
                    const reference_ac_sun *ac_sun, reference_row *row) {
  hub_now hubs[STEADING_MOST_HUBS];
  well_now wells[STEADING_MOST_WELLS];
  double meter_load[STEADING_MOST_METERS];
  memset(row, 0, sizeof *row);
  memset(hubs, 0, sizeof hubs);
  memset(wells, 0, sizeof wells);
  for (size_t i = 0; i < p->hub_count; i++) {
    hubs[i].p = &p->hubs[i];
    hubs[i].load = hub_load_kw[i];
    if (shed_kw != NULL) shed_loads(&hubs[i], s, i, shed_kw + i * STEADING_SHED_CLASSES);
    hubs[i].ac_most = p->hubs[i].ac_kw * (ac_share == NULL ? 1 : ac_share[i]);
    hubs[i].charger_most = p->hubs[i].charger_kw * (ac_share == NULL ? 1 : ac_share[i]);
    hubs[i].sun_charger_most = p->hubs[i].sun_charger_kw * (ac_share == NULL ? 1 : ac_share[i]);
    open_hub(&hubs[i], s, i, p->step_h, pv_kw[i]);
    hubs[i].charge_kw = p->hubs[i].charge_kw;
    if (cold != NULL) {
      hubs[i].charge_kw *= s->unheated[i] != 0 ? cold[i].cold_share : cold[i].heated_share;
      hubs[i].heater = cold[i].heater_kw;
      hubs[i].load += cold[i].heater_kw;
    }
  }
  for (size_t m = 0; m < p->meter_count; m++) meter_load[m] = meter_load_kw[m];
  for (size_t w = 0; w < p->well_count; w++) {
    const steading_well_stretch *well = &p->wells[w];
    if (well->pump_l_per_step > 0)
      wells[w].firm = firm_litres(p, s, (int)w) / well->pump_l_per_step * well->pump_kw;
    if (well->hub >= 0) hubs[well->hub].load += wells[w].firm;
    if (well->meter >= 0) meter_load[well->meter] += wells[w].firm;
  }
  for (size_t i = 0; i < p->hub_count; i++) {
    ready_battery(&hubs[i], p->step_h,
                  !(p->hubs[i].generator_kw > 0) && bus_can_serve_all(p, hubs, i, meter_load));
    hubs[i].wants = hubs[i].load;
    if (ac_sun != NULL) {
      hubs[i].there = ac_sun[i].ac_kw;
      hubs[i].behind = ac_sun[i].dc_kw;
      ready_ac_sun(&hubs[i]);
    }
    ready_generator(&hubs[i]);
    settle_idle(&hubs[i]);
  }
  for (int turn = 0; turn < 2; turn++) {
    double could[STEADING_MOST_HUBS] = {0};
    for (size_t i = 0; turn == 1 && i < p->hub_count; i++)
      could[i] = could_get(p, &hubs[i], hubs, meter_load);
    for (size_t i = 0; i < p->hub_count; i++) {
      hub_now *h = &hubs[i];
      int k = 0;
      if ((h->idle_ac > 0) != (turn == 1)) continue;
      serve_load(h, could[i]);
      for (; k < 3 && h->p->order[k] != STEADING_TO_BUS; k++)
        take_surplus(h, h->p->order[k], p, s, i, wells);
      if (k < 3 && h->p->meter >= 0 && h->p->pass_through_kw > 0 && h->asks == 0 &&
          !(h->p->import_margin_kw > 0)) {
        h->sun_offers = fmin(ac_sun_left(h), h->p->pass_through_kw);
        h->offers = ac_left(h) + h->sun_offers;
      }
    }
  }
  for (size_t i = 0; i < p->hub_count; i++) ask_for_charge(&hubs[i]);
  for (size_t m = 0; m < p->meter_count; m++) send_to_bus(p, (int)m, meter_load[m], hubs);
  for (size_t i = 0; i < p->hub_count; i++) {
    int k = 0;
    while (k < 3 && hubs[i].p->order[k] != STEADING_TO_BUS) k++;
    for (k++; k < 3; k++) take_surplus(&hubs[i], hubs[i].p->order[k], p, s, i, wells);
  }
  for (size_t m = 0; m < p->meter_count; m++) {
    steading_meter_flow *f = &row->meters[m];
    double lacking = take_from_bus(p, (int)m, meter_load[m], hubs, f);
    double cut = give_way(p, -1, (int)m, lacking, wells);
    f->load = meter_load[m] - cut;
    f->unserved = lacking - cut;
    f->served = f->load - f->unserved;
  }
  for (size_t i = 0; i < p->hub_count; i++) {
    double lacking = hubs[i].lacks - hubs[i].gets, cut = 0;
    hubs[i].heater_gives_up = fmin(hubs[i].heater, fmax(lacking, 0));
    cut = give_way(p, (int)i, -1, lacking - hubs[i].heater_gives_up, wells);
    close_hub(&hubs[i], s, i, p->step_h, cut, &row->generators[i]);
    row->hubs[i] = hubs[i].f;
  }
  close_water(p, s, wells, row);
}
