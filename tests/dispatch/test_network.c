/* Several hubs, meters, wells and tanks: single steps worked out by hand, and random stretches
 * against a second writing of the step (reference_step.h) and the node equations. No published
 * numbers exist for such rules: what is checked is arithmetic, conservation and the manual. */
#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dice.h"
#include "dispatch/kernel.h"
#include "reference_step.h"
#include "suites.h"

enum {
  STRETCHES = 10000,
  STEPS = 100,
  MOST_HUBS = 4,
  MOST_METERS = 3,
  MOST_WELLS = 3,
  MOST_TANKS = 5
};

/* --- random stretches ------------------------------------------------------------------------- */

/* A size, or without a limit. */
static double limit_of(dice *d, double most) {
  double u = roll(d);
  if (u < 0.3) return HUGE_VAL;
  return u < 0.4 ? 1e-3 * roll(d) : roll_size(d, most);
}

static bool often(dice *d, double share) { return roll(d) < share; }
static int below(dice *d, int count) { return (int)(count * roll(d)); }

static void roll_inverter(dice *d, steading_hub_stretch *h) {
  double idle = roll_size(d, 0.05), b = 0.05 * roll(d), c = 0.1 * roll(d), kind = roll(d);
  h->ac_kw = roll_size(d, 25);
  if (kind < 0.3) b = -2 * sqrt(idle * c) * roll(d); /* the loss touches zero at most */
  if (kind > 0.7) c = -b * roll(d);
  if (kind > 0.9) idle = b = c = 0;
  h->idle_kw = idle * h->ac_kw;
  if (often(d, 0.4)) h->night_saving_kw = h->idle_kw * (often(d, 0.2) ? 1 : roll(d));
  h->b = b;
  h->c_per_rating = h->ac_kw > 0 ? c / h->ac_kw : 0;
  h->pv_kw = limit_of(d, 20);
  h->import_margin_kw = often(d, 0.2) ? roll_size(d, 2) : 0;
  h->transfers = often(d, 0.25) ? 1 : 0;
}

/* An order of some of the three, the bus among them, as rules make it: who is left out stands at
 * the end as nobody, and without export the bus comes after everybody else. */
static void roll_order(dice *d, steading_hub_stretch *h) {
  int who[3] = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}, count = 0;
  bool usual = often(d, 0.6);
  h->exports = usual || often(d, 0.7) ? 1 : 0;
  for (int k = 2; !usual && k > 0; k--) {
    int j = below(d, k + 1), swap = who[k];
    who[k] = who[j];
    who[j] = swap;
  }
  for (int k = 0; k < 3; k++) {
    bool stays = who[k] == STEADING_TO_BUS ? h->exports > 0 : usual || !often(d, 0.2);
    if (stays) h->order[count++] = who[k];
  }
  if (!(h->exports > 0)) h->order[count++] = STEADING_TO_BUS;
  while (count < 3) h->order[count++] = STEADING_TO_NOBODY;
}

static void roll_floor(dice *d, steading_hub_stretch *h) {
  double width = h->highest_kwh - h->lowest_kwh;
  h->floor_kwh = h->lowest_kwh + width * 0.8 * roll(d);
  h->resume_kwh = h->floor_kwh;
  if (often(d, 0.3)) h->resume_kwh += 0.999 * (h->highest_kwh - h->floor_kwh) * roll(d);
}

static void roll_hub(dice *d, steading_hub_stretch *h, int meters) {
  double kwh = roll_size(d, 60);
  roll_inverter(d, h);
  roll_order(d, h);
  h->lowest_kwh = often(d, 0.5) ? 0 : 0.2 * roll(d) * kwh;
  h->highest_kwh = often(d, 0.5) ? kwh : (0.7 + 0.3 * roll(d)) * kwh;
  roll_floor(d, h);
  h->charge_kw = kwh > 0 ? roll_size(d, 20) : 0;
  h->discharge_kw = kwh > 0 ? roll_size(d, 20) : 0;
  h->efficiency_in = often(d, 0.2) ? 1 : 0.7 + 0.3 * roll(d);
  h->efficiency_out = often(d, 0.2) ? 1 : 0.7 + 0.3 * roll(d);
  h->standby_kw = kwh > 0 ? roll_size(d, 0.2) : 0;
  h->meter = often(d, 0.15) ? -1 : below(d, meters + 1) - 1;
  if (meters > 0 && often(d, 0.5)) h->meter = 0; /* several on one bus */
  h->pass_through_kw = h->meter >= 0 ? limit_of(d, 15) : 0;
}

static void roll_wells(dice *d, steading_stretch *p, steading_state *s) {
  int tanks = (int)p->tank_count, next = 0;
  for (int w = 0; w < (int)p->well_count; w++) {
    steading_well_stretch *well = &p->wells[w];
    int last = (int)p->well_count - w - 1, side = below(d, (int)(p->hub_count + p->meter_count));
    well->pump_kw = roll_size(d, 4);
    if (well->pump_kw > 0) {
      well->pump_kw += 0.05; /* what a kW is in litres keeps within reason */
      well->pump_l_per_step = (1 + 1500 * roll(d)) * p->step_h;
      well->per_pump_l_per_step = 1 / well->pump_l_per_step;
      well->per_pump_kw = 1 / well->pump_kw;
    }
    well->hub = side < (int)p->hub_count ? side : -1;
    well->meter = side < (int)p->hub_count ? -1 : side - (int)p->hub_count;
    well->first_tank = next;
    well->tanks = last == 0 ? tanks - next : 1 + below(d, tanks - next - last);
    next += well->tanks;
  }
  for (int t = 0; t < tanks; t++) {
    steading_tank_stretch *tank = &p->tanks[t];
    tank->full_l = roll_size(d, 2000);
    tank->stop_l = tank->full_l * roll(d);
    tank->start_l = tank->stop_l * roll(d);
    tank->surplus_l = often(d, 0.3) ? tank->full_l : tank->full_l * roll(d);
    tank->draw_l = roll_size(d, 200);
    s->tank_l[t] = tank->full_l * roll(d);
    s->filling[t] = s->tank_l[t] < tank->start_l ? 1 : 0;
  }
}

static steading_stretch roll_stretch(dice *d, steading_state *s) {
  static const double steps_h[4] = {1, 1, 0.5, 0.25};
  steading_stretch p = {.step_h = steps_h[below(d, 4)]};
  p.grid_free_below_kw = roll_size(d, 0.1);
  p.hub_count = (size_t)below(d, MOST_HUBS + 1);
  p.meter_count = (size_t)below(d, MOST_METERS + 1);
  if (p.hub_count + p.meter_count > 0) {
    p.well_count = (size_t)below(d, MOST_WELLS + 1);
    if (p.well_count > 0)
      p.tank_count = p.well_count + (size_t)below(d, MOST_TANKS - (int)p.well_count + 1);
  }
  for (size_t i = 0; i < p.hub_count; i++) {
    roll_hub(d, &p.hubs[i], (int)p.meter_count);
    s->stored_kwh[i] =
        p.hubs[i].lowest_kwh + (p.hubs[i].highest_kwh - p.hubs[i].lowest_kwh) * roll(d);
    s->blocked[i] = often(d, 0.2) ? 1 : 0;
  }
  for (size_t m = 0; m < p.meter_count; m++) {
    p.meters[m].import_limit_kw = limit_of(d, 20);
    p.meters[m].export_limit_kw = fmin(limit_of(d, 10), 1e6);
  }
  roll_wells(d, &p, s);
  return p;
}

/* Charging windows, raised reserves and batteries that wait for their hours. */
static void roll_modes(dice *d, steading_stretch *p) {
  for (size_t i = 0; i < p->hub_count; i++) {
    steading_hub_stretch *h = &p->hubs[i];
    h->charger_kw = h->charge_to_kwh = h->keep_kwh = h->holds = 0;
    if (h->meter < 0) continue;
    if (often(d, 0.5)) {
      h->charger_kw = roll_size(d, 8);
      if (!(h->sun_charger_kw > 0)) h->charger_efficiency = often(d, 0.2) ? 1 : 0.7 + 0.3 * roll(d);
      h->charge_to_kwh = h->highest_kwh * (often(d, 0.3) ? 1 : roll(d));
    }
    if (often(d, 0.3)) h->keep_kwh = h->highest_kwh * roll(d);
    h->holds = often(d, 0.3) ? 1 : 0;
  }
}

/* Generators, on and off, of every role. */
static void roll_generators(dice *d, steading_stretch *p) {
  p->generator_count = p->hub_count;
  p->fuel_count = p->hub_count > 0 ? 2 : 0;
  for (size_t i = 0; i < p->hub_count; i++) {
    steading_hub_stretch *h = &p->hubs[i];
    h->generator_kw = often(d, 0.2) ? 0 : roll_size(d, 12);
    h->generator_carries = often(d, 0.7) ? 1 : 0;
    h->generator_charger_kw = h->generator_carries > 0 && often(d, 0.3) ? 0 : roll_size(d, 8);
    h->generator_charger_efficiency = often(d, 0.2) ? 1 : 0.7 + 0.3 * roll(d);
  }
}

static steading_layout layout_of(const steading_stretch *p) {
  return steading_layout_with(
      steading_layout_of(p->hub_count, p->meter_count, p->well_count, p->tank_count),
      p->generator_count, p->fuel_count, p->pool_count);
}

/* The grids of some meters go down; other floors count then. */
static void take_down(dice *d, steading_stretch *p) {
  for (size_t m = 0; m < p->meter_count; m++) {
    if (often(d, 0.5)) continue;
    p->meters[m] = (steading_meter_stretch){.import_limit_kw = 0};
    for (size_t i = 0; i < p->hub_count; i++) {
      steading_hub_stretch *h = &p->hubs[i];
      if (h->meter != (int)m) continue;
      h->pass_through_kw = h->import_margin_kw = h->transfers = 0;
      h->charger_kw = h->charge_to_kwh = h->keep_kwh = h->holds = 0;
      roll_floor(d, h);
      h->resume_kwh = h->floor_kwh;
    }
  }
}

/* Sun and loads of a stretch, a row of STEPS for each hub or meter. */
typedef struct inputs {
  double pv[MOST_HUBS + 1][STEPS], hub[MOST_HUBS + 1][STEPS], meter[MOST_METERS + 2][STEPS];
  double ac_share[MOST_HUBS + 1][STEPS]; /* what heat leaves of ac_kw */
  bool hot;                              /* false: all of it, and the row is not handed over */
  double shed[(MOST_HUBS + 1) * STEADING_SHED_CLASSES][STEPS]; /* parts of `hub` */
  bool sheds;                                                  /* false: not handed over */
  /* shares of the charging power, heated and cold, and what heaters want */
  double charge_share[MOST_HUBS + 1][STEPS], cold_share[MOST_HUBS + 1][STEPS];
  double heater[MOST_HUBS + 1][STEPS];
  bool freezes;                                                         /* false: not handed over */
  double ac_sun[MOST_HUBS + 1][STEPS], ac_sun_dc[MOST_HUBS + 1][STEPS]; /* AC-coupled */
  bool ac_coupled;                                                      /* false: not handed over */
} inputs;

static steading_step_rows rows_at(const inputs *in, int step) {
  return (steading_step_rows){.stride = STEPS,
                              .pv_kw = &in->pv[0][step],
                              .hub_kw = &in->hub[0][step],
                              .meter_kw = &in->meter[0][step],
                              .ac_share = in->hot ? &in->ac_share[0][step] : NULL,
                              .shed_kw = in->sheds ? &in->shed[0][step] : NULL,
                              .charge_share = in->freezes ? &in->charge_share[0][step] : NULL,
                              .cold_share = in->freezes ? &in->cold_share[0][step] : NULL,
                              .heater_kw = in->freezes ? &in->heater[0][step] : NULL,
                              .ac_sun_kw = in->ac_coupled ? &in->ac_sun[0][step] : NULL,
                              .ac_sun_dc_kw = in->ac_coupled ? &in->ac_sun_dc[0][step] : NULL};
}

/* Batteries in the cold, some with heaters, some with heaters that want much. */
static void roll_cold(dice *d, const steading_stretch *p, inputs *in) {
  in->freezes = true;
  for (size_t i = 0; i < p->hub_count; i++) {
    double heater_kw = often(d, 0.4) ? 0 : roll_size(d, often(d, 0.3) ? 10 : 0.5);
    for (int k = 0; k < STEPS; k++) {
      bool runs = often(d, 0.6);
      in->cold_share[i][k] = often(d, 0.3) ? 0 : roll(d);
      in->charge_share[i][k] =
          runs && heater_kw > 0 ? fmin(in->cold_share[i][k] + roll(d), 1) : in->cold_share[i][k];
      in->heater[i][k] = runs ? heater_kw : 0;
    }
  }
}

/* AC-coupled arrays beside the others or alone, and units whose charger takes of their sun. */
static void roll_ac_sun(dice *d, steading_stretch *p, inputs *in) {
  in->ac_coupled = true;
  for (size_t i = 0; i < p->hub_count; i++) {
    steading_hub_stretch *h = &p->hubs[i];
    double most_kw = roll_size(d, 20), efficiency = often(d, 0.2) ? 1 : 0.8 + 0.2 * roll(d);
    bool alone = often(d, 0.4);
    h->sun_charger_kw = often(d, 0.2) ? 0 : roll_size(d, 12);
    h->charger_efficiency = often(d, 0.2) ? 1 : 0.7 + 0.3 * roll(d);
    for (int k = 0; k < STEPS; k++) {
      double day = sin(k * M_PI / 12);
      in->ac_sun[i][k] = day > 0 ? most_kw * day * roll(d) : 0;
      in->ac_sun_dc[i][k] = in->ac_sun[i][k] / efficiency;
      if (alone) in->pv[i][k] = 0;
    }
  }
}

/* Parts of the loads by class: some, none, or one that is all of a hub's load. */
static void roll_classes(dice *d, const steading_stretch *p, inputs *in) {
  in->sheds = true;
  for (size_t i = 0; i < p->hub_count; i++) {
    bool whole = often(d, 0.2);
    for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) {
      double part = often(d, 0.3) ? 0 : roll(d) / STEADING_SHED_CLASSES;
      if (whole) part = c == STEADING_CLASS_ORDINARY ? 1 : 0;
      for (int k = 0; k < STEPS; k++)
        in->shed[i * STEADING_SHED_CLASSES + c][k] = in->hub[i][k] * part;
    }
  }
}

/* Levels below which classes are shed: of hubs without a meter, and of those whose grid is down. */
static void roll_levels(dice *d, steading_stretch *p, bool down) {
  for (size_t i = 0; i < p->hub_count; i++) {
    steading_hub_stretch *h = &p->hubs[i];
    bool islanded = h->meter < 0 || (down && p->meters[h->meter].import_limit_kw == 0);
    for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) {
      h->shed_kwh[c] = islanded && often(d, 0.6) ? h->highest_kwh * roll(d) : 0;
      h->restore_kwh[c] =
          h->shed_kwh[c] > 0 ? fmin(h->shed_kwh[c] * (1 + 0.3 * roll(d)), h->highest_kwh) : 0;
    }
  }
}

static void roll_series(dice *d, const steading_stretch *p, inputs *in) {
  memset(in, 0, sizeof *in);
  in->hot = often(d, 0.4);
  for (int i = 0; i <= MOST_HUBS; i++)
    for (int k = 0; k < STEPS; k++)
      in->ac_share[i][k] = in->hot && often(d, 0.5) ? (often(d, 0.1) ? 0 : roll(d)) : 1;
  for (size_t i = 0; i < p->hub_count; i++) {
    double pv_most = roll_size(d, 25), load_most = roll_size(d, 15);
    for (int k = 0; k < STEPS; k++) {
      double day = sin(k * M_PI / 12);
      in->pv[i][k] = day > 0 ? pv_most * day * roll(d) : 0;
      in->hub[i][k] = often(d, 0.1) ? 0 : load_most * roll(d);
    }
  }
  for (size_t m = 0; m < p->meter_count; m++) {
    double load_most = roll_size(d, 8);
    for (int k = 0; k < STEPS; k++) in->meter[m][k] = often(d, 0.1) ? 0 : load_most * roll(d);
  }
}

/* --- what must hold in a step ----------------------------------------------------------------- */

typedef struct around {
  const steading_stretch *p;
  const steading_layout *at;
  const double *row;
  const steading_state *before;
  const inputs *in;
  int step;
  double slack;
} around;

/* The first rule that is broken, or NULL: an assertion of Check writes to a file, which is too slow
 * for millions of steps. */
#define HOLDS(condition) \
  if (!(condition)) return #condition
#define SAME(a, b) HOLDS(fabs((a) - (b)) <= w->slack)
#define MOST(a, b) HOLDS((a) <= (b) + w->slack)

/* What a hub sheds, from the charge before the step and what was shed before. */
static double shed_by_hand(const around *w, size_t i) {
  const steading_hub_stretch *p = &w->p->hubs[i];
  double sum = 0;
  for (size_t c = 0; w->in->sheds && c < STEADING_SHED_CLASSES; c++) {
    double stored = w->before->stored_kwh[i];
    bool before = w->before->shedding[i][c] > 0;
    bool now = stored < p->shed_kwh[c] || (before && stored < p->restore_kwh[c]);
    if (now) sum += w->in->shed[i * STEADING_SHED_CLASSES + c][w->step];
  }
  return sum;
}

static bool takes_sun(const steading_hub_stretch *p) {
  return p->order[0] == STEADING_TO_BATTERY || p->order[1] == STEADING_TO_BATTERY ||
         p->order[2] == STEADING_TO_BATTERY;
}

static const char *broken_hub(const around *w, size_t i) {
  const steading_hub_stretch *p = &w->p->hubs[i];
  const steading_hub_flow *f = steading_hub_flow_of(w->at, w->row, i);
  double h = w->p->step_h, pv = w->in->pv[i][w->step], pump = 0;
  double idle = f->idle_from_dc + f->idle_from_ac;
  double curve = p->b * f->inverted + p->c_per_rating * f->inverted * f->inverted;
  bool is_off = idle == 0 && p->idle_kw > 0;
  double sun = w->in->ac_coupled ? w->in->ac_sun[i][w->step] : 0;
  double sun_dc = w->in->ac_coupled ? w->in->ac_sun_dc[i][w->step] : 0;
  double used_dc = f->pv_used - f->ac_sun - f->ac_sun_loss; /* of arrays on DC */
  bool island = p->pass_through_kw == 0;
  bool rests = fmin(pv, p->pv_kw) == 0 && f->inverted == 0;
  double saving = rests ? p->night_saving_kw : 0, loads = f->from_bus - f->charger_in;
  static const steading_generator_flow none = {0};
  const steading_generator_flow *g =
      w->p->generator_count > 0 ? steading_generator_flow_of(w->at, w->row, i) : &none;
  double by_generator = g->charging > 0 ? g->charging * p->generator_charger_efficiency : 0;
  if ((p->charger_kw > 0 || sun > 0) && idle > p->idle_kw - saving / 2)
    saving = 0; /* it may be awake */
  double heats = w->in->freezes ? w->in->heater[i][w->step] : 0, charge_kw = p->charge_kw;
  if (w->in->freezes)
    charge_kw *= w->before->unheated[i] > 0 ? w->in->cold_share[i][w->step]
                                            : w->in->charge_share[i][w->step];
  for (size_t k = 0; k < w->p->well_count; k++)
    if (w->p->wells[k].hub == (int)i) pump += steading_well_flow_of(w->at, w->row, k)->pump;
  /* the nodes */
  SAME(used_dc + f->battery_out + f->rectified, f->battery_in + f->inverted_in);
  SAME(f->inverted_in, f->inverted + f->idle_from_dc + curve);
  SAME(f->inverted + f->ac_sun + f->from_bus + g->power,
       f->served + f->charger_in + f->sun_charging + g->charging + f->to_bus + f->idle_from_ac +
           f->heater);
  SAME(idle, is_off ? 0 : p->idle_kw - saving);
  HOLDS(!is_off || (f->inverted == 0 && f->charger_in == 0));
  SAME(f->inverter_loss, idle + curve + f->charger_in + f->sun_charging + g->charging -
                             f->rectified + f->ac_sun_loss);
  SAME(f->rectified, (p->charger_kw > 0 ? f->charger_in * p->charger_efficiency : 0) +
                         (f->sun_charging > 0 ? f->sun_charging * p->charger_efficiency : 0) +
                         by_generator);
  /* AC-coupled sun: within what there is, its loss in proportion, nothing while nothing forms a
   * grid, before unit and bus, never at the cost of both ways through the unit */
  MOST(f->ac_sun, sun);
  SAME(f->ac_sun_loss * sun, f->ac_sun * (sun_dc - sun));
  MOST(f->sun_idle, f->idle_from_ac);
  MOST(f->sun_idle + f->sun_charging, f->ac_sun);
  MOST(f->sun_charging, p->sun_charger_kw);
  HOLDS(f->sun_charging == 0 || (f->inverted == 0 && g->power == 0 && f->battery_out == 0));
  HOLDS(f->ac_sun == 0 || !island || !(is_off || p->ac_kw == 0));
  HOLDS(f->ac_sun == 0 || !island || p->generator_kw > 0 || fmin(pv, p->pv_kw) > 0 ||
        w->before->stored_kwh[i] - f->standby * h > p->lowest_kwh);
  HOLDS(f->sun_idle == 0 || !island || p->generator_kw > 0 ||
        w->before->stored_kwh[i] - f->standby * h > p->lowest_kwh);
  HOLDS(island || f->ac_sun >= sun - 1e3 * w->slack ||
        loads <= p->import_margin_kw + 1e3 * w->slack);
  /* the generator: within its power, nothing to the bus, no battery while it has more to give */
  MOST(g->power, p->generator_kw);
  MOST(g->charging, fmin(g->power, p->generator_charger_kw));
  MOST(0, g->power);
  MOST(0, g->charging);
  MOST(g->power - g->charging, f->served + f->idle_from_ac + f->heater);
  HOLDS(g->charging == 0 || p->generator_carries == 0 || f->battery_out == 0);
  HOLDS(g->power == 0 || f->charger_in == 0);
  HOLDS(f->battery_out <= w->slack || p->generator_kw == 0 || p->generator_carries == 0 ||
        g->power >= p->generator_kw - w->slack);
  HOLDS(f->unserved <= 1e3 * w->slack || p->generator_carries == 0 ||
        g->power >= p->generator_kw - 1e3 * w->slack);
  if (w->p->generator_count > 0) {
    MOST(f->unserved, g->refused);
    HOLDS(g->running_h == 0 && g->starts == 0 && g->dry_h == 0 && g->held == 0);
  }
  SAME(f->battery_loss,
       f->battery_in * (1 - p->efficiency_in) + f->battery_out * (1 / p->efficiency_out - 1));
  SAME(f->stored_kwh - w->before->stored_kwh[i],
       (f->battery_in * p->efficiency_in - f->battery_out / p->efficiency_out - f->standby) * h);
  SAME(f->stored_change * h, f->stored_kwh - w->before->stored_kwh[i]);
  SAME(f->load, w->in->hub[i][w->step] + pump);
  SAME(f->served, f->load - f->unserved - f->shed);
  HOLDS(f->shed == 0 || w->in->sheds);
  SAME(f->shed, shed_by_hand(w, i));
  SAME(f->pv_available, f->pv_used + f->pv_curtailed);
  HOLDS(f->pv_available == pv + sun_dc);
  /* one direction a step, nothing negative, within the limits */
  HOLDS(f->battery_in == 0 || f->battery_out == 0);
  HOLDS(f->from_bus == 0 || f->to_bus == 0);
  HOLDS(f->charger_in == 0 || f->inverted == 0);
  HOLDS(f->charger_in == 0 || f->battery_out == 0);
  for (size_t k = 0; k < STEADING_HUB_FLOWS; k++) {
    const double *value = (const double *)f + k;
    HOLDS(isfinite(*value));
    HOLDS(*value >= -w->slack || value == &f->stored_change);
  }
  MOST(f->inverted, p->ac_kw * w->in->ac_share[i][w->step]);
  MOST(used_dc, fmin(pv, p->pv_kw));
  /* the cold: a heater gives way before any load and before pumps; what is blocked was there */
  MOST(f->battery_in, charge_kw);
  MOST(f->heater, heats);
  HOLDS(f->unserved <= w->slack || f->heater <= w->slack);
  HOLDS(f->charge_blocked == 0 || (charge_kw < p->charge_kw && f->battery_out <= w->slack));
  HOLDS(f->charge_blocked == 1 || !(charge_kw < p->charge_kw) || p->charger_kw > 0 ||
        p->generator_kw > 0 || f->battery_in < charge_kw - 1e3 * w->slack ||
        pv - used_dc <= fmax(pv - p->pv_kw, 0) + 1e3 * w->slack || !takes_sun(p) ||
        f->stored_kwh >= p->highest_kwh - 1e3 * w->slack);
  MOST(f->battery_out, p->discharge_kw);
  MOST(f->standby, p->standby_kw);
  MOST(f->from_bus, p->pass_through_kw);
  HOLDS(f->to_bus == 0 || (p->meter >= 0 && p->pass_through_kw > 0));
  /* the store keeps within its bounds, and above its floor unless its electronics draw */
  MOST(p->lowest_kwh, f->stored_kwh);
  MOST(f->stored_kwh, p->highest_kwh);
  MOST(f->battery_out > 0 ? p->floor_kwh : 0, f->stored_kwh);
  MOST(f->battery_out > 0 ? p->keep_kwh : 0, f->stored_kwh);
  HOLDS(f->battery_out == 0 || p->holds == 0);
  /* the charger: within its power, up to its level, and never at the cost of a load */
  MOST(f->charger_in, p->charger_kw * w->in->ac_share[i][w->step]);
  HOLDS(f->charger_in == 0 || f->unserved <= w->slack);
  MOST(f->charger_in > 0 ? f->stored_kwh : 0, f->charger_in > 0 ? p->charge_to_kwh : 0);
  MOST(f->charger_in > 0 ? pv - used_dc : 0, fmax(pv - p->pv_kw, 0));
  MOST(0, loads);
  HOLDS(f->battery_out == 0 || w->before->blocked[i] == 0 ||
        w->before->stored_kwh[i] >= p->resume_kwh);
  /* the battery serves the hub's loads alone */
  MOST(f->battery_out > 0 ? f->to_bus : 0, 0);
  HOLDS(f->loss_of_load == (f->unserved > 0 ? 1 : 0));
  HOLDS(f->grid_free ==
        (f->from_bus <= w->p->grid_free_below_kw && f->unserved <= 0 && f->shed <= 0 ? 1 : 0));
  return NULL;
}

static const char *broken_meter(const around *w, size_t m) {
  const steading_meter_stretch *p = &w->p->meters[m];
  const steading_meter_flow *f = steading_meter_flow_of(w->at, w->row, m);
  double to_bus = 0, from_bus = 0, offering = 0, pump = 0;
  for (size_t i = 0; i < w->p->hub_count; i++) {
    const steading_hub_flow *hub = steading_hub_flow_of(w->at, w->row, i);
    const steading_hub_stretch *q = &w->p->hubs[i];
    if (q->meter != (int)m) continue;
    to_bus += hub->to_bus;
    from_bus += hub->from_bus;
    if (q->exports == 0) offering += hub->to_bus;
  }
  for (size_t k = 0; k < w->p->well_count; k++)
    if (w->p->wells[k].meter == (int)m) pump += steading_well_flow_of(w->at, w->row, k)->pump;
  SAME(f->import + to_bus, f->export + from_bus + f->served);
  SAME(f->load, w->in->meter[m][w->step] + pump);
  SAME(f->served, f->load - f->unserved);
  HOLDS(f->import >= 0 && f->export >= 0);
  MOST(0, f->served);
  MOST(0, f->unserved);
  MOST(f->import, p->import_limit_kw);
  MOST(f->export, p->export_limit_kw);
  HOLDS(f->import <= w->slack || f->export <= w->slack);
  /* what has no 'export' in its order does not leave */
  MOST(f->export, to_bus - offering + 0);
  /* nobody goes short while the grid has more */
  HOLDS(f->unserved <= 1e3 * w->slack || f->import >= p->import_limit_kw - 1e3 * w->slack);
  return NULL;
}

static const char *broken_water(const around *w) {
  for (size_t k = 0; k < w->p->well_count; k++) {
    const steading_well_stretch *p = &w->p->wells[k];
    const steading_well_flow *f = steading_well_flow_of(w->at, w->row, k);
    double gained = 0, given = 0;
    SAME(f->pumped_l * p->pump_kw, f->pump * p->pump_l_per_step);
    SAME(f->duty_h * p->pump_kw, f->pump * w->p->step_h);
    MOST(0, f->pump);
    MOST(f->pump, p->pump_kw);
    for (int t = p->first_tank; t < p->first_tank + p->tanks; t++) {
      const steading_tank_flow *tank = steading_tank_flow_of(w->at, w->row, (size_t)t);
      gained += tank->level_l - w->before->tank_l[t];
      given += tank->delivered_l;
    }
    SAME(f->pumped_l, gained + given); /* a tank never overflows */
  }
  for (size_t t = 0; t < w->p->tank_count; t++) {
    const steading_tank_stretch *p = &w->p->tanks[t];
    const steading_tank_flow *f = steading_tank_flow_of(w->at, w->row, t);
    HOLDS(f->level_l >= 0 && f->level_l <= p->full_l);
    SAME(f->delivered_l + f->short_l, p->draw_l);
    MOST(0, f->short_l);
    MOST(0, f->delivered_l);
    HOLDS(f->short_l <= w->slack || f->level_l <= w->slack); /* short only of an empty tank */
  }
  return NULL;
}

static const char *broken_site(const around *w) {
  const steading_site_flow *site = steading_site_flow_of(w->row);
  double sum = 0, import = 0, lost = 0, shed = 0;
  for (size_t i = 0; i < w->p->hub_count; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(w->at, w->row, i);
    sum +=
        f->pv_used - f->served - f->inverter_loss - f->battery_loss - f->standby - f->stored_change;
    sum -= f->heater;
    if (w->p->generator_count > 0) sum += steading_generator_flow_of(w->at, w->row, i)->power;
    lost += f->unserved;
    shed += f->shed;
  }
  for (size_t m = 0; m < w->p->meter_count; m++) {
    const steading_meter_flow *f = steading_meter_flow_of(w->at, w->row, m);
    sum += f->import - f->export - f->served;
    import += f->import;
    lost += f->unserved;
  }
  SAME(sum, 0);
  HOLDS(site->loss_of_load == (lost > 0 ? 1 : 0));
  HOLDS(site->grid_free ==
        (import <= w->p->grid_free_below_kw && !(lost > 0) && !(shed > 0) ? 1 : 0));
  return NULL;
}

static const char *broken_rule(const around *w) {
  const char *broken = broken_site(w);
  for (size_t i = 0; broken == NULL && i < w->p->hub_count; i++) broken = broken_hub(w, i);
  for (size_t m = 0; broken == NULL && m < w->p->meter_count; m++) broken = broken_meter(w, m);
  return broken == NULL ? broken_water(w) : broken;
}

/* The largest difference between two rows of flows of a part, and which flow it is. */
static double apart(const double *a, const double *b, size_t count, size_t *which) {
  double most = 0;
  for (size_t k = 0; k < count; k++) {
    double difference = fabs(a[k] - b[k]);
    if (difference <= most) continue;
    most = difference;
    *which = k;
  }
  return most;
}

#define NAME_OF(name, unit) #name,
static const char *const hub_names[] = {STEADING_HUB_FLOW_LIST(NAME_OF)};
static const char *const meter_names[] = {STEADING_METER_FLOW_LIST(NAME_OF)};
static const char *const well_names[] = {STEADING_WELL_FLOW_LIST(NAME_OF)};
static const char *const tank_names[] = {STEADING_TANK_FLOW_LIST(NAME_OF)};
static const char *const generator_names[] = {STEADING_GENERATOR_FLOW_LIST(NAME_OF)};

/* Where the kernel's row and the reference differ by more than `slack`, in words; else false. */
static bool differs(const around *w, reference_row *r, char text[160]) {
  double slack = 1e2 * w->slack; /* the two ways back through the curve */
#define PARTS(kind, total, all, flows_of, their, names)                                   \
  for (size_t i = 0; i < w->p->total; i++) {                                              \
    size_t k = 0;                                                                         \
    const double *mine = (const double *)flows_of(w->at, w->row, i);                      \
    const double *other = (const double *)&(their)[i];                                    \
    if (apart(mine, other, all, &k) <= slack) continue;                                   \
    snprintf(text, 160, kind " %zu: %s is %.12g, expected %.12g", i, (names)[k], mine[k], \
             other[k]);                                                                   \
    return true;                                                                          \
  }
  for (size_t i = 0; i < w->p->hub_count; i++) { /* told by flags, which are checked on their own */
    const steading_hub_flow *f = steading_hub_flow_of(w->at, w->row, i);
    r->hubs[i].grid_free = f->grid_free;
    r->hubs[i].loss_of_load = f->loss_of_load;
    r->hubs[i].charge_blocked = f->charge_blocked;
  }
  PARTS("hub", hub_count, STEADING_HUB_FLOWS, steading_hub_flow_of, r->hubs, hub_names)
  PARTS("meter", meter_count, STEADING_METER_FLOWS, steading_meter_flow_of, r->meters, meter_names)
  PARTS("well", well_count, STEADING_WELL_FLOWS, steading_well_flow_of, r->wells, well_names)
  PARTS("tank", tank_count, STEADING_TANK_FLOWS, steading_tank_flow_of, r->tanks, tank_names)
  PARTS("generator", generator_count, STEADING_GENERATOR_FLOWS, steading_generator_flow_of,
        r->generators, generator_names)
#undef PARTS
  return false;
}

static double slack_of(const steading_stretch *p, const inputs *in, int k) {
  double size = 1, litres = 0;
  for (size_t i = 0; i < p->hub_count; i++)
    size += in->pv[i][k] + in->hub[i][k] + p->hubs[i].highest_kwh + in->ac_sun[i][k];
  for (size_t m = 0; m < p->meter_count; m++) size += in->meter[m][k];
  for (size_t w = 0; w < p->well_count; w++) {
    size += p->wells[w].pump_kw;
    litres += p->wells[w].pump_l_per_step * (1 + p->wells[w].pump_kw);
  }
  for (size_t t = 0; t < p->tank_count; t++) litres += p->tanks[t].full_l + p->tanks[t].draw_l;
  return 1e-9 * size + 1e-11 * litres;
}

/* A step at a time: the reference starts each from the state of the kernel. */
static void check_stretch(uint64_t seed, const steading_stretch *p, steading_state *s,
                          const inputs *in, int first, int count) {
  static double row[4096];
  const steading_layout at = layout_of(p);
  for (int k = first; k < first + count; k++) {
    steading_state before = *s, other = *s;
    reference_row r;
    double pv[MOST_HUBS], hub[MOST_HUBS], share[MOST_HUBS], meter[MOST_METERS];
    double shed[MOST_HUBS * STEADING_SHED_CLASSES];
    reference_cold cold[MOST_HUBS];
    reference_ac_sun ac_sun[MOST_HUBS];
    const steading_step_rows rows = rows_at(in, k);
    char text[160];
    const char *broken = NULL;
    around w = {p, &at, row, &before, in, k, slack_of(p, in, k)};
    for (int i = 0; i < MOST_HUBS; i++) pv[i] = in->pv[i][k];
    for (int i = 0; i < MOST_HUBS; i++) hub[i] = in->hub[i][k];
    for (int i = 0; i < MOST_HUBS; i++) share[i] = in->ac_share[i][k];
    for (int m = 0; m < MOST_METERS; m++) meter[m] = in->meter[m][k];
    for (int c = 0; c < MOST_HUBS * STEADING_SHED_CLASSES; c++) shed[c] = in->shed[c][k];
    memset(row, 0xff, at.width * sizeof *row); /* NaN: one left unset would be found */
    steading_kernel_run(p, s, 1, &rows, row);
    broken = broken_rule(&w);
    if (broken != NULL) ck_abort_msg("stretch %d, step %d: not %s", (int)seed, k, broken);
    for (int i = 0; i < MOST_HUBS; i++)
      cold[i] = (reference_cold){in->charge_share[i][k], in->cold_share[i][k], in->heater[i][k]};
    for (int i = 0; i < MOST_HUBS; i++)
      ac_sun[i] = (reference_ac_sun){in->ac_sun[i][k], in->ac_sun_dc[i][k]};
    reference_step(p, &other, pv, hub, meter, share, in->sheds ? shed : NULL,
                   in->freezes ? cold : NULL, in->ac_coupled ? ac_sun : NULL, &r);
    if (differs(&w, &r, text)) ck_abort_msg("stretch %d, step %d: %s", (int)seed, k, text);
    for (size_t i = 0; i < p->hub_count; i++)
      if (s->blocked[i] != other.blocked[i] && p->hubs[i].resume_kwh > p->hubs[i].floor_kwh &&
          fabs(s->stored_kwh[i] - p->hubs[i].floor_kwh) > w.slack &&
          fabs(s->stored_kwh[i] - p->hubs[i].resume_kwh) > w.slack)
        ck_abort_msg("stretch %d, step %d: hub %zu waits: %g", (int)seed, k, i, s->blocked[i]);
    for (size_t t = 0; t < p->tank_count; t++)
      if (s->filling[t] != other.filling[t] && fabs(s->tank_l[t] - p->tanks[t].start_l) > w.slack &&
          fabs(s->tank_l[t] - p->tanks[t].stop_l) > w.slack)
        ck_abort_msg("stretch %d, step %d: tank %zu fills: %g", (int)seed, k, t, s->filling[t]);
  }
}

START_TEST(random_networks_follow_the_reference_and_close_at_every_step) {
  static inputs in;
  for (uint64_t seed = 0; seed < STRETCHES; seed++) {
    dice d = {.seed = 200000 + seed};
    steading_state s = {.stored_kwh = {0}};
    steading_stretch p = roll_stretch(&d, &s), down = p;
    roll_series(&d, &p, &in);
    if (seed % 2 == 0) roll_modes(&d, &p);
    if (seed % 4 < 2) roll_generators(&d, &p);
    if (seed % 3 == 0) roll_classes(&d, &p, &in);
    if (seed % 7 < 3) roll_cold(&d, &p, &in);
    if (seed % 5 < 2) roll_ac_sun(&d, &p, &in);
    if (in.sheds) roll_levels(&d, &p, false);
    down = p;
    take_down(&d, &down);
    if (in.sheds) roll_levels(&d, &down, true);
    check_stretch(seed, &p, &s, &in, 0, STEPS / 2);
    check_stretch(seed, &down, &s, &in, STEPS / 2, STEPS / 5);
    if (seed % 2 == 0) roll_modes(&d, &p);
    if (seed % 4 < 2) roll_generators(&d, &p);
    check_stretch(seed, &p, &s, &in, STEPS / 2 + STEPS / 5, STEPS - STEPS / 2 - STEPS / 5);
  }
}
END_TEST

/* --- absent parts, shapes --------------------------------------------------------------------- */

/* What an added part of size zero leaves as it was: each part of the old row, to the bit. `hub`,
 * `meter`, `well` and `tank` are where the new one stands; -1: none of its kind was added. */
typedef struct added {
  int hub, meter, well, tank;
} added;

static size_t moved(size_t i, int at) { return at >= 0 && (int)i >= at ? i + 1 : i; }

static bool same_rows(const steading_layout *a, const double *row, const steading_layout *b,
                      const double *longer, const added *n) {
  bool same = memcmp(row, longer, STEADING_SITE_FLOWS * sizeof *row) == 0;
#define SAME_PARTS(count, flow_of, type, at) \
  for (size_t i = 0; i < a->count; i++)      \
    same = same && memcmp(flow_of(a, row, i), flow_of(b, longer, moved(i, at)), sizeof(type)) == 0;
  SAME_PARTS(hubs, steading_hub_flow_of, steading_hub_flow, n->hub)
  SAME_PARTS(meters, steading_meter_flow_of, steading_meter_flow, n->meter)
  SAME_PARTS(wells, steading_well_flow_of, steading_well_flow, n->well)
  SAME_PARTS(tanks, steading_tank_flow_of, steading_tank_flow, n->tank)
#undef SAME_PARTS
  return same;
}

#define INSERT(array, count, at) \
  memmove((array) + (at) + 1, (array) + (at), ((count) - (size_t)(at)) * sizeof *(array))

/* A hub without inverter, battery, arrays and loads. */
static void add_hub(steading_stretch *p, steading_state *s, inputs *in, int at, int meter) {
  INSERT(p->hubs, p->hub_count, at);
  INSERT(s->stored_kwh, p->hub_count, at);
  INSERT(s->blocked, p->hub_count, at);
  memmove(in->pv[at + 1], in->pv[at], (p->hub_count - (size_t)at) * sizeof in->pv[0]);
  memmove(in->hub[at + 1], in->hub[at], (p->hub_count - (size_t)at) * sizeof in->hub[0]);
  memmove(in->shed[(at + 1) * STEADING_SHED_CLASSES], in->shed[at * STEADING_SHED_CLASSES],
          (p->hub_count - (size_t)at) * STEADING_SHED_CLASSES * sizeof in->shed[0]);
  memset(in->shed[at * STEADING_SHED_CLASSES], 0, STEADING_SHED_CLASSES * sizeof in->shed[0]);
  memmove(in->ac_share[at + 1], in->ac_share[at],
          (p->hub_count - (size_t)at) * sizeof in->ac_share[0]);
  memmove(in->charge_share[at + 1], in->charge_share[at],
          (p->hub_count - (size_t)at) * sizeof in->charge_share[0]);
  memmove(in->cold_share[at + 1], in->cold_share[at],
          (p->hub_count - (size_t)at) * sizeof in->cold_share[0]);
  memmove(in->heater[at + 1], in->heater[at], (p->hub_count - (size_t)at) * sizeof in->heater[0]);
  memset(in->heater[at], 0, sizeof in->heater[0]);
  memmove(in->ac_sun[at + 1], in->ac_sun[at], (p->hub_count - (size_t)at) * sizeof in->ac_sun[0]);
  memmove(in->ac_sun_dc[at + 1], in->ac_sun_dc[at],
          (p->hub_count - (size_t)at) * sizeof in->ac_sun_dc[0]);
  memset(in->ac_sun[at], 0, sizeof in->ac_sun[0]);
  memset(in->ac_sun_dc[at], 0, sizeof in->ac_sun_dc[0]);
  memset(in->pv[at], 0, sizeof in->pv[0]);
  memset(in->hub[at], 0, sizeof in->hub[0]);
  p->hubs[at] =
      (steading_hub_stretch){.efficiency_in = 1,
                             .efficiency_out = 1,
                             .exports = 1,
                             .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS},
                             .meter = meter};
  s->stored_kwh[at] = s->blocked[at] = 0;
  p->hub_count++;
  for (size_t w = 0; w < p->well_count; w++)
    if (p->wells[w].hub >= at) p->wells[w].hub++;
}

/* A meter on which nothing stands. */
static void add_meter(steading_stretch *p, inputs *in, int at) {
  INSERT(p->meters, p->meter_count, at);
  memmove(in->meter[at + 1], in->meter[at], (p->meter_count - (size_t)at) * sizeof in->meter[0]);
  memset(in->meter[at], 0, sizeof in->meter[0]);
  p->meters[at] = (steading_meter_stretch){.import_limit_kw = 7, .export_limit_kw = 3};
  p->meter_count++;
  for (size_t i = 0; i < p->hub_count; i++)
    if (p->hubs[i].meter >= at) p->hubs[i].meter++;
  for (size_t w = 0; w < p->well_count; w++)
    if (p->wells[w].meter >= at) p->wells[w].meter++;
}

/* A tank that holds nothing, at a place in the row of well `w`. */
static void add_tank(steading_stretch *p, steading_state *s, int w, int at) {
  INSERT(p->tanks, p->tank_count, at);
  INSERT(s->tank_l, p->tank_count, at);
  INSERT(s->filling, p->tank_count, at);
  p->tanks[at] = (steading_tank_stretch){.full_l = 0};
  s->tank_l[at] = s->filling[at] = 0;
  p->tank_count++;
  p->wells[w].tanks++;
  for (size_t k = 0; k < p->well_count; k++)
    if ((int)k != w && p->wells[k].first_tank >= at) p->wells[k].first_tank++;
}

/* A well without a pump, at the end, with a tank of nothing. */
static void add_well(steading_stretch *p, steading_state *s) {
  p->wells[p->well_count++] = (steading_well_stretch){.hub = p->hub_count > 0 ? 0 : -1,
                                                      .meter = p->hub_count > 0 ? -1 : 0,
                                                      .first_tank = (int)p->tank_count,
                                                      .tanks = 0};
  add_tank(p, s, (int)p->well_count - 1, (int)p->tank_count);
}

static void run_both(const char *what, int number, const steading_stretch *p, steading_state *s,
                     inputs *in, const steading_stretch *q, steading_state *t, inputs *more,
                     const added *n) {
  static double rows[STEPS * 512], longer[STEPS * 512];
  const steading_layout a =
      steading_layout_of(p->hub_count, p->meter_count, p->well_count, p->tank_count);
  const steading_layout b =
      steading_layout_of(q->hub_count, q->meter_count, q->well_count, q->tank_count);
  ck_assert_uint_le(b.width, 512);
  const steading_step_rows of_p = rows_at(in, 0), of_q = rows_at(more, 0);
  steading_kernel_run(p, s, STEPS, &of_p, rows);
  steading_kernel_run(q, t, STEPS, &of_q, longer);
  for (int k = 0; k < STEPS; k++)
    if (!same_rows(&a, rows + (size_t)k * a.width, &b, longer + (size_t)k * b.width, n))
      ck_abort_msg("stretch %d: %s changes step %d", number, what, k);
}

enum { ABSENT = 1000 };

START_TEST(a_hub_of_nothing_changes_nothing_else_to_the_bit) {
  static inputs in, more;
  for (int i = 0; i < ABSENT; i++) {
    dice d = {.seed = 300000 + (uint64_t)i};
    steading_state s = {.stored_kwh = {0}}, t;
    steading_stretch p = roll_stretch(&d, &s), q;
    added n = {.hub = 0, .meter = -1, .well = -1, .tank = -1};
    if (p.hub_count + p.meter_count == 0) continue;
    roll_series(&d, &p, &in);
    if (i % 3 == 0) roll_cold(&d, &p, &in);
    if (i % 4 == 0) roll_ac_sun(&d, &p, &in);
    q = p;
    t = s;
    more = in;
    n.hub = below(&d, (int)p.hub_count + 1);
    add_hub(&q, &t, &more, n.hub, below(&d, (int)p.meter_count + 1) - 1);
    run_both("a hub of nothing", i, &p, &s, &in, &q, &t, &more, &n);
  }
}
END_TEST

START_TEST(a_meter_on_which_nothing_stands_changes_nothing_else_to_the_bit) {
  static inputs in, more;
  for (int i = 0; i < ABSENT; i++) {
    dice d = {.seed = 310000 + (uint64_t)i};
    steading_state s = {.stored_kwh = {0}}, t;
    steading_stretch p = roll_stretch(&d, &s), q;
    added n = {.hub = -1, .meter = 0, .well = -1, .tank = -1};
    roll_series(&d, &p, &in);
    q = p;
    t = s;
    more = in;
    n.meter = below(&d, (int)p.meter_count + 1);
    add_meter(&q, &more, n.meter);
    run_both("an idle meter", i, &p, &s, &in, &q, &t, &more, &n);
  }
}
END_TEST

/* A tank of nothing may stand anywhere in the row of a well; a well of nothing stands at the end.
 */
START_TEST(wells_and_tanks_of_nothing_change_nothing_else_to_the_bit) {
  static inputs in, more;
  for (int i = 0; i < ABSENT; i++) {
    dice d = {.seed = 320000 + (uint64_t)i};
    steading_state s = {.stored_kwh = {0}}, t;
    steading_stretch p = roll_stretch(&d, &s), q;
    added n = {.hub = -1, .meter = -1, .well = -1, .tank = -1};
    if (p.hub_count + p.meter_count == 0) continue;
    roll_series(&d, &p, &in);
    q = p;
    t = s;
    more = in;
    if (p.well_count > 0 && i % 2 == 0) {
      int w = below(&d, (int)p.well_count);
      n.tank = p.wells[w].first_tank + below(&d, p.wells[w].tanks + 1);
      add_tank(&q, &t, w, n.tank);
    } else {
      add_well(&q, &t);
    }
    run_both("a tank of nothing", i, &p, &s, &in, &q, &t, &more, &n);
  }
}
END_TEST

/* A site of the usual shape: one hub and one meter at most, one well with one tank, the usual
 * rules. An idle second meter takes it to the body that serves all sites. */
static void make_usual(dice *d, steading_stretch *p, steading_state *s) {
  do {
    *s = (steading_state){.stored_kwh = {0}};
    *p = roll_stretch(d, s);
  } while (p->meter_count == 0);
  p->meter_count = 1;
  p->hub_count = p->hub_count > 0 ? 1 : 0;
  p->well_count = p->tank_count = p->well_count > 0 ? 1 : 0;
  if (p->well_count > 0) {
    bool on_hub = p->hub_count > 0 && often(d, 0.5);
    p->wells[0].hub = on_hub ? 0 : -1;
    p->wells[0].meter = on_hub ? -1 : 0;
    p->wells[0].tanks = 1;
  }
  if (p->hub_count > 0) {
    const int order[3] = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS};
    steading_hub_stretch *h = &p->hubs[0];
    h->meter = 0;
    h->pass_through_kw = limit_of(d, 15);
    h->transfers = h->import_margin_kw = h->night_saving_kw = 0;
    h->exports = 1;
    h->resume_kwh = h->floor_kwh;
    memcpy(h->order, order, sizeof order);
    s->blocked[0] = 0;
  }
  if (often(d, 0.5)) { /* so that no limit binds */
    p->hubs[0].pass_through_kw = HUGE_VAL;
    p->meters[0].import_limit_kw = HUGE_VAL;
  }
}

/* Other rules on such a site. */
static void roll_rules(dice *d, steading_hub_stretch *h) {
  roll_floor(d, h);
  roll_order(d, h);
  h->transfers = often(d, 0.3) ? 1 : 0;
  h->import_margin_kw = often(d, 0.3) ? roll_size(d, 2) : 0;
  h->night_saving_kw = often(d, 0.5) ? h->idle_kw * roll(d) : 0;
}

START_TEST(the_usual_shapes_and_the_body_for_all_sites_give_the_same_bits) {
  static inputs in, more;
  for (int i = 0; i < 6 * ABSENT; i++) {
    dice d = {.seed = 330000 + (uint64_t)i};
    steading_state s, t;
    steading_stretch p, q;
    const added n = {.hub = -1, .meter = 1, .well = -1, .tank = -1};
    make_usual(&d, &p, &s);
    if (i % 3 == 0 && p.hub_count > 0) roll_rules(&d, &p.hubs[0]);
    roll_series(&d, &p, &in);
    if (i % 2 == 0) roll_modes(&d, &p);
    if (i % 5 == 0) roll_classes(&d, &p, &in);
    if (i % 7 == 0) roll_cold(&d, &p, &in);
    if (i % 4 == 1) roll_ac_sun(&d, &p, &in);
    q = p;
    t = s;
    more = in;
    add_meter(&q, &more, 1);
    run_both("an idle second meter", i, &p, &s, &in, &q, &t, &more, &n);
    ck_assert_mem_eq(&s, &t, sizeof s);
  }
}
END_TEST

/* Whatever body runs the stretch without them. */
START_TEST(ac_coupled_arrays_that_give_nothing_change_nothing_to_the_bit) {
  static inputs in, more;
  for (int i = 0; i < 4 * ABSENT; i++) {
    dice d = {.seed = 350000 + (uint64_t)i};
    steading_state s = {.stored_kwh = {0}}, t;
    steading_stretch p, q;
    const added n = {.hub = -1, .meter = -1, .well = -1, .tank = -1};
    if (i % 2 == 0)
      p = roll_stretch(&d, &s);
    else
      make_usual(&d, &p, &s);
    roll_series(&d, &p, &in);
    if (i % 3 == 0) roll_modes(&d, &p);
    if (i % 5 == 0) roll_classes(&d, &p, &in);
    if (i % 7 == 0) roll_cold(&d, &p, &in);
    q = p;
    t = s;
    more = in;
    more.ac_coupled = true;
    for (size_t h = 0; h < q.hub_count; h++) {
      if (!(q.hubs[h].charger_kw > 0)) q.hubs[h].charger_efficiency = 0.9;
      q.hubs[h].sun_charger_kw = 4;
    }
    run_both("AC-coupled arrays of nothing", i, &p, &s, &in, &q, &t, &more, &n);
    ck_assert_mem_eq(&s, &t, sizeof s);
  }
}
END_TEST

/* A stretch in which waiting is no rule, between two in which it is: what the battery did in it
 * counts afterwards, whichever body ran it. Months with a reserve above resume_above and outages
 * are such stretches. */
START_TEST(waiting_for_resume_survives_a_stretch_without_it_in_every_body) {
  static inputs in, more;
  for (int i = 0; i < ABSENT; i++) {
    dice d = {.seed = 340000 + (uint64_t)i};
    steading_state s, t;
    steading_stretch p, q, bare, bare_q;
    const added n = {.hub = -1, .meter = 1, .well = -1, .tank = -1};
    make_usual(&d, &p, &s);
    if (p.hub_count == 0) continue;
    roll_series(&d, &p, &in);
    bare = p;
    roll_floor(&d, &bare.hubs[0]);
    bare.hubs[0].resume_kwh = bare.hubs[0].floor_kwh;
    p.hubs[0].resume_kwh =
        p.hubs[0].floor_kwh + 0.9 * (p.hubs[0].highest_kwh - p.hubs[0].floor_kwh);
    q = p;
    bare_q = bare;
    t = s;
    more = in;
    add_meter(&q, &more, 1);
    more = in;
    add_meter(&bare_q, &more, 1);
    run_both("an idle second meter", i, &p, &s, &in, &q, &t, &more, &n);
    run_both("an idle second meter", i, &bare, &s, &in, &bare_q, &t, &more, &n);
    run_both("an idle second meter after a stretch without waiting", i, &p, &s, &in, &q, &t, &more,
             &n);
  }
}
END_TEST

Suite *network_suite(void) {
  Suite *suite = suite_create("network");
  TCase *at_random = tcase_create("at random");
  tcase_add_test(at_random, random_networks_follow_the_reference_and_close_at_every_step);
  tcase_add_test(at_random, a_hub_of_nothing_changes_nothing_else_to_the_bit);
  tcase_add_test(at_random, a_meter_on_which_nothing_stands_changes_nothing_else_to_the_bit);
  tcase_add_test(at_random, wells_and_tanks_of_nothing_change_nothing_else_to_the_bit);
  tcase_add_test(at_random, the_usual_shapes_and_the_body_for_all_sites_give_the_same_bits);
  tcase_add_test(at_random, ac_coupled_arrays_that_give_nothing_change_nothing_to_the_bit);
  tcase_add_test(at_random, waiting_for_resume_survives_a_stretch_without_it_in_every_body);
  tcase_set_timeout(at_random, 240);
  suite_add_tcase(suite, at_random);
  return suite;
}
