/* Weeks of random sites, with every part and rule there is, against a linear programme that knows
 * the future, solved by Clp (package coinor-libclp-dev).
 *
 * The programme is a relaxation: what a run did is one of its solutions, or becomes one by taking
 * losses, idle draws, heaters and standby away. Its constraints, and why the step loop keeps them:
 *
 *   hub, DC   sun + discharge + rectified >= charge + inverted
 *             the DC node, with what is used at most the sun that arrays and unit let through, and
 *             inverted_in at least inverted (no random curve gives back what it loses)
 *   hub, AC   inverted + AC sun + from bus + generator + missing >= load + pumps + chargers + to
 * bus the AC node without heater and idle draw; missing is what is unserved or shed hub       to
 * bus + charge <= sun + AC sun + rectified only sun that the hub's own loads leave is sent; the
 * battery gives nothing while any is, and what a charger makes then goes into the store hub
 * rectified = best efficiency of its chargers x what they take bus       import + sum of to bus +
 * missing >= load + pumps + sum of from bus + export the node of the bus; import and export up to
 * the meter's limits, which are nothing while its grid is down store     charge and discharge at
 * the efficiencies in force, up to the powers in force, between the lowest usable charge and the
 * highest water     no tank below nothing: users get what they got; a pump runs in any part of any
 * step fuel      by the kWh alone, of what was in the tank and came
 *
 * There are no thresholds, windows, reserves, margins, orders or least loads in it, and load is
 * left unserved at will. So what a run paid and missed is never less than its optimum. Each bound
 * that is taken from a run's parameters is compared with what the run did in every step. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "external/clp.h"
#include "suites.h"

#ifdef HAVE_CLP

#include "properties/random_site.h"

enum { STEPS = 168, WEEKS = 200, WEEKS_OF_HUBS = 150, MOST = 4 };

/* Powers in kW, energies in kWh. */
typedef struct hub_week {
  int meter, fuel; /* -1: none */
  double stored_kwh, before_kwh;
  double charger_efficiency, l_per_kwh;
  double sun[STEPS], ac_sun[STEPS], load[STEPS], ac[STEPS], passes[STEPS], sends[STEPS],
      charge[STEPS], discharge[STEPS], charger[STEPS], set[STEPS], lowest[STEPS], highest[STEPS],
      in[STEPS], out[STEPS];
} hub_week;

typedef struct meter_week {
  double load[STEPS], import_limit[STEPS], export_limit[STEPS];
} meter_week;

typedef struct well_week {
  int hub, meter;
  double pump_kw, pump_l_per_step;
  double pumped_l[STEPS], level_l[STEPS];
} well_week;

/* A week of a run. */
typedef struct week {
  size_t first; /* step of the run */
  int count;
  double h;
  bool in_class;       /* in the class in which the rules are the optimum: see below */
  double price[STEPS]; /* of import; what is missing costs 1, and so does a kWh of fuel */
  double worth;        /* of export */
  size_t hubs, meters, wells, fuels;
  hub_week hub[MOST];
  meter_week meter[MOST];
  well_week well[MOST];
  double fuel_l[MOST];
  bool changes;                          /* lots come or go, or capacity fades in it */
  double bought;                         /* what the run paid, by the prices */
  const char *broken;                    /* a bound of the programme that the run does not keep */
  double exchanged, sold, shed, limited; /* kWh; limited: of meters at their import limit */
} week;

/* What a kWh from fuel costs, and one that is not served; import has the price of its step. */
static const double of_fuel = 1, of_missing = 1;

static void holds(week *w, double value, double most, const char *what) {
  if (!(value <= most + 1e-9 * (1 + fabs(value)))) w->broken = what;
}

static bool gives_to_bus(const steading_hub_stretch *p) {
  for (int k = 0; k < 3; k++)
    if (p->order[k] == STEADING_TO_BUS) return !(p->import_margin_kw > 0);
  return false;
}

static void take_hub(week *w, const steading_block *b, const double *row, size_t i, int t,
                     size_t of_block) {
  hub_week *to = &w->hub[i];
  const steading_program_hub *program = &b->program->hubs[i];
  const steading_hub *hub = program->hub;
  const steading_hub_stretch *p = &b->stretch->hubs[i];
  const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, i);
  const bool up = program->meter >= 0 && !(b->down >> program->meter & 1);
  const double h = w->h, before = f->stored_kwh - f->stored_change * h;
  const size_t cell = i * b->rows.stride + of_block;
  const double sun_dc = b->rows.ac_sun_dc_kw == NULL ? 0 : b->rows.ac_sun_dc_kw[cell];
  double rectified = 0, generated = 0;
  if (t == 0) to->stored_kwh = before;
  if (t > 0 && fabs(before - to->before_kwh) > 1e-9) w->changes = true;
  to->before_kwh = f->stored_kwh;
  to->meter = program->meter;
  to->fuel = hub->generator == NULL ? -1 : program->fuel;
  to->sun[t] = fmin(f->pv_available - sun_dc, p->pv_kw);
  to->ac_sun[t] = b->rows.ac_sun_kw == NULL ? 0 : b->rows.ac_sun_kw[cell];
  to->load[t] = f->load;
  to->ac[t] = p->ac_kw;
  to->passes[t] = up ? p->pass_through_kw : 0;
  to->sends[t] = up && gives_to_bus(p) ? p->ac_kw + to->ac_sun[t] : 0;
  to->charge[t] = p->charge_kw;
  to->discharge[t] = p->discharge_kw;
  /* the run itself may be a rounding beside its ends */
  to->lowest[t] = fmin(w->in_class ? p->floor_kwh : p->lowest_kwh, f->stored_kwh);
  to->highest[t] = fmax(p->highest_kwh, f->stored_kwh);
  to->in[t] = p->efficiency_in;
  to->out[t] = p->efficiency_out;
  to->charger_efficiency = hub->inverter->unit->charge_efficiency;
  if (up && (hub->rules->charge_from_grid != NULL || hub->rules->decide != NULL))
    to->charger[t] = hub->inverter->unit->charge_from_grid_kw *
                     steading_lots_on(hub->inverter->lots, b->section_day);
  if (to->ac_sun[t] > 0) to->charger[t] += p->sun_charger_kw;
  rectified = f->charger_in + f->sun_charging;
  w->bought += of_missing * (f->unserved + f->shed) * h;
  if (hub->generator != NULL) {
    const steading_generator_flow *g = steading_generator_flow_of(b->layout, row, i);
    double sets = steading_lots_on(hub->generator->lots, b->section_day);
    to->set[t] = hub->generator->unit->kw * sets;
    to->charger[t] += p->generator_charger_kw;
    if (p->generator_charger_kw > 0)
      to->charger_efficiency = fmax(to->charger_efficiency, p->generator_charger_efficiency);
    to->l_per_kwh = hub->generator->unit->l_per_kwh;
    w->bought += of_fuel * g->power * h;
    rectified += g->charging;
    generated = g->power;
  }
  holds(w, generated, to->set[t], "the generator's power");
  holds(w, rectified, to->charger[t], "the chargers' power");
  holds(w, f->rectified, rectified * to->charger_efficiency, "the chargers' efficiency");
  holds(w, f->inverted, to->ac[t], "the unit's power");
  holds(w, f->inverted, f->inverted_in, "the unit's loss");
  holds(w, f->pv_used - f->ac_sun - f->ac_sun_loss, to->sun[t], "the sun");
  holds(w, f->ac_sun, to->ac_sun[t], "the AC-coupled sun");
  holds(w, f->from_bus, to->passes[t], "what passes");
  holds(w, f->to_bus, to->sends[t], "what is sent");
  holds(w, f->to_bus + f->battery_in, to->sun[t] + f->ac_sun + f->rectified,
        "what is sent beside charging");
  holds(w, f->battery_in, to->charge[t], "charging");
  holds(w, f->battery_out, to->discharge[t], "discharging");
  holds(w, p->lowest_kwh, f->stored_kwh + 1e-9, "the lowest charge");
  holds(w, f->stored_kwh, p->highest_kwh + 1e-9, "the highest charge");
  w->shed += f->shed * h;
}

static void take_meter(week *w, const steading_block *b, const double *row, size_t m, int t) {
  meter_week *to = &w->meter[m];
  const steading_meter_stretch *p = &b->stretch->meters[m];
  const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
  const bool down = b->down >> m & 1;
  double into = 0;
  to->load[t] = f->load;
  to->import_limit[t] = down ? 0 : p->import_limit_kw;
  to->export_limit[t] = down ? 0 : p->export_limit_kw;
  holds(w, f->import, to->import_limit[t], "the import limit");
  holds(w, f->export, to->export_limit[t], "the export limit");
  w->bought += (f->import * w->price[t] + of_missing * f->unserved - w->worth * f->export) * w->h;
  for (size_t i = 0; i < w->hubs; i++)
    if (b->program->hubs[i].meter == (int)m)
      into += steading_hub_flow_of(b->layout, row, i)->to_bus;
  w->exchanged += (into - f->export) * w->h;
  w->sold += f->export * w->h;
  if (!down && f->import > to->import_limit[t] * (1 - 1e-9)) w->limited += f->import * w->h;
}

static void take_well(week *w, const steading_block *b, const double *row, size_t k, int t) {
  well_week *to = &w->well[k];
  const steading_well_stretch *p = &b->stretch->wells[k];
  const steading_well_flow *f = steading_well_flow_of(b->layout, row, k);
  to->hub = p->hub;
  to->meter = p->meter;
  if (p->hub >= 0) w->hub[p->hub].load[t] -= f->pump;
  if (p->meter >= 0) w->meter[p->meter].load[t] -= f->pump;
  to->pumped_l[t] = f->pumped_l;
  to->level_l[t] = 0;
  for (int tank = p->first_tank; tank < p->first_tank + p->tanks; tank++)
    to->level_l[t] += steading_tank_flow_of(b->layout, row, (size_t)tank)->level_l;
  if (t > 0 && p->pump_kw != to->pump_kw) w->changes = true;
  to->pump_kw = p->pump_kw;
  to->pump_l_per_step = p->pump_l_per_step;
  holds(w, f->pump, to->pump_kw, "the pump");
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  week *w = context;
  (void)error;
  w->h = b->stretch->step_h;
  w->hubs = b->layout->hubs;
  w->meters = b->layout->meters;
  w->wells = b->layout->wells;
  w->fuels = b->layout->fuels;
  for (size_t k = 0; k < b->count; k++) {
    const double *row = b->flows + k * b->layout->width;
    const size_t step = b->first_step + k;
    const int t = (int)(step - w->first);
    if (step < w->first || t >= w->count) continue;
    for (size_t i = 0; i < w->hubs; i++) take_hub(w, b, row, i, t, k);
    for (size_t m = 0; m < w->meters; m++) take_meter(w, b, row, m, t);
    for (size_t i = 0; i < w->wells; i++) take_well(w, b, row, i, t);
    for (size_t i = 0; i < w->fuels; i++) {
      const steading_fuel_flow *fuel = steading_fuel_flow_of(b->layout, row, i);
      if (b->program->fuels[i]->tank == NULL) w->fuel_l[i] = (double)INFINITY;
      w->fuel_l[i] += t == 0 ? fuel->level_l + fuel->used_l : fuel->delivered_l;
    }
  }
  return STEADING_OK;
}

/* --- the programme ------------------------------------------------------------------------------
 */

static double or_endless(double value) { return isinf(value) || value > 1e30 ? HUGE_VAL : value; }

/* Rows of a step: DC, AC, what is sent, and the store, of each hub; the bus of each meter; the
 * litres that each well pumped more than in the run. Behind them, the fuels of the week. */
enum { DC, AC, SENT, STORE, OF_HUB };

static void add_hub(clp_programme *p, const week *w, size_t i, int t, int hub_row, int bus_row,
                    int fuel_row, int per_step) {
  const hub_week *h = &w->hub[i];
  const double sun = h->sun[t], left = fmax(sun - h->load[t], 0), ac_sun = h->ac_sun[t];
  const double charger = or_endless(h->charger[t]), e = h->charger_efficiency;
  const bool has_store = h->highest[t] > 0;
  clp_row(p, hub_row + DC, -sun, HUGE_VAL);
  clp_row(p, hub_row + AC, h->load[t], HUGE_VAL); /* what is more is curtailed or lost */
  clp_row(p, hub_row + SENT, -HUGE_VAL, w->in_class ? left : sun + ac_sun);
  clp_row(p, hub_row + STORE, t == 0 ? h->stored_kwh : 0, t == 0 ? h->stored_kwh : 0);
  clp_column(p, 0, or_endless(h->ac[t]), 0); /* inverted */
  clp_entry(p, hub_row + DC, -1);
  clp_entry(p, hub_row + AC, 1);
  clp_column(p, 0, HUGE_VAL, of_missing * w->h);
  clp_entry(p, hub_row + AC, 1);
  clp_column(p, 0, ac_sun, 0); /* AC-coupled sun */
  clp_entry(p, hub_row + AC, 1);
  if (h->meter >= 0) {
    clp_column(p, 0, or_endless(h->passes[t]), 0);
    clp_entry(p, hub_row + AC, 1);
    clp_entry(p, bus_row + h->meter, -1);
    clp_column(p, 0, or_endless(h->sends[t]), 0);
    clp_entry(p, hub_row + AC, -1);
    clp_entry(p, hub_row + SENT, 1);
    clp_entry(p, bus_row + h->meter, 1);
  }
  if (h->set[t] > 0) {
    clp_column(p, 0, h->set[t], of_fuel * w->h);
    clp_entry(p, hub_row + AC, 1);
    clp_entry(p, fuel_row + h->fuel, h->l_per_kwh * w->h);
  }
  if (charger > 0) {
    clp_column(p, 0, charger, 0);
    clp_entry(p, hub_row + DC, e);
    clp_entry(p, hub_row + AC, -1);
    clp_entry(p, hub_row + SENT, -e);
  }
  clp_column(p, h->lowest[t], h->highest[t], 0);
  clp_entry(p, hub_row + STORE, 1);
  if (t + 1 < w->count) clp_entry(p, hub_row + STORE + per_step, -1);
  if (!has_store) return;
  clp_column(p, 0, or_endless(h->charge[t]), 0);
  clp_entry(p, hub_row + DC, -1);
  clp_entry(p, hub_row + SENT, 1);
  clp_entry(p, hub_row + STORE, -h->in[t] * w->h);
  clp_column(
      p, 0,
      or_endless(w->in_class ? fmin(h->discharge[t], fmax(h->load[t] - sun, 0)) : h->discharge[t]),
      0);
  clp_entry(p, hub_row + DC, 1);
  clp_entry(p, hub_row + STORE, w->h / h->out[t]);
}

static void add_well(clp_programme *p, const week *w, size_t k, int t, int row, int of_what,
                     int per_step) {
  const well_week *well = &w->well[k];
  clp_row(p, row, -well->pumped_l[t], -well->pumped_l[t]);
  clp_column(p, 0, well->pump_kw, 0); /* what the pump takes */
  clp_entry(p, of_what, -1);
  if (well->pump_kw > 0) clp_entry(p, row, -well->pump_l_per_step / well->pump_kw);
  clp_column(p, -well->level_l[t], HUGE_VAL, 0); /* tanks above those of the run */
  clp_entry(p, row, 1);
  if (t + 1 < w->count) clp_entry(p, row + per_step, -1);
}

static double least_cost(const week *w) {
  const int hubs = (int)w->hubs, meters = (int)w->meters, wells = (int)w->wells;
  const int per_step = OF_HUB * hubs + meters + wells, fuel = per_step * w->count;
  clp_programme *p = clp_new(fuel + (int)w->fuels + 1);
  for (int f = 0; f < (int)w->fuels; f++) clp_row(p, fuel + f, -HUGE_VAL, or_endless(w->fuel_l[f]));
  for (int t = 0; t < w->count; t++) {
    const int first = per_step * t, bus = first + OF_HUB * hubs;
    for (int i = 0; i < hubs; i++)
      add_hub(p, w, (size_t)i, t, first + OF_HUB * i, bus, fuel, per_step);
    for (int m = 0; m < meters; m++) {
      const meter_week *meter = &w->meter[m];
      clp_row(p, bus + m, meter->load[t], HUGE_VAL);
      clp_column(p, 0, or_endless(meter->import_limit[t]), w->price[t] * w->h);
      clp_entry(p, bus + m, 1);
      clp_column(p, 0, HUGE_VAL, of_missing * w->h);
      clp_entry(p, bus + m, 1);
      clp_column(p, 0, or_endless(meter->export_limit[t]), -w->worth * w->h);
      clp_entry(p, bus + m, -1);
    }
    for (int k = 0; k < wells; k++) {
      const well_week *well = &w->well[k];
      const int of_what = well->hub >= 0 ? first + OF_HUB * well->hub + AC : bus + well->meter;
      add_well(p, w, (size_t)k, t, bus + meters + k, of_what, per_step);
    }
  }
  return clp_least_cost(p);
}

/* --- no rules beat it ---------------------------------------------------------------------------
 */

static week *week_of(const steading_run *run, size_t day, bool in_class, bool by_time,
                     double worth) {
  week *w = calloc(1, sizeof *w);
  const steading_sink sink = {.take = take, .context = w};
  ck_assert_ptr_nonnull(w);
  if (run->layout.hubs > MOST || run->layout.meters > MOST || run->layout.wells > MOST ||
      run->layout.fuels > MOST)
    ck_abort_msg("too large a site");
  w->count = STEPS;
  w->first = day * (size_t)(1440 / run->step_minutes);
  w->in_class = in_class;
  w->worth = worth;
  for (int t = 0; t < STEPS; t++) {
    int hour = t * run->step_minutes / 60 % 24;
    w->price[t] = !by_time ? 1 : hour >= 17 && hour < 21 ? 0.9 : hour < 6 ? 0.2 : 0.5;
  }
  ck_assert_int_eq(steading_run_repeat(run, &sink, NULL), STEADING_OK);
  if (w->broken != NULL) ck_abort_msg("the run does not keep a bound: %s", w->broken);
  return w;
}

/* What was there in the weeks, so that no bound holds because nothing happens. */
typedef struct seen {
  int weeks, above, wells, sets, chargers, down, exchange, sale, off_grid, loads, shed, limited,
      ac_sun;
} seen;

static void see(seen *s, const week *w, double least) {
  bool sets = false, chargers = false, down = false, off_grid = false, loads = false,
       ac_sun = false;
  for (size_t i = 0; i < w->hubs; i++) {
    sets |= w->hub[i].set[0] > 0;
    chargers |= w->hub[i].charger[0] > 0;
    off_grid |= w->hub[i].meter < 0;
    for (int t = 0; t < STEPS; t++) ac_sun |= w->hub[i].ac_sun[t] > 0;
  }
  for (size_t m = 0; m < w->meters; m++)
    for (int t = 0; t < STEPS; t++) {
      down |= w->meter[m].import_limit[t] == 0;
      loads |= w->meter[m].load[t] > 0;
    }
  s->weeks++;
  s->above += w->bought > least + 0.1;
  s->wells += w->wells > 0;
  s->sets += sets;
  s->ac_sun += ac_sun;
  s->chargers += chargers;
  s->down += down;
  s->exchange += w->exchanged > 0.1;
  s->sale += w->sold > 0.1;
  s->off_grid += off_grid;
  s->loads += loads;
  s->shed += w->shed > 0.1;
  s->limited += w->limited > 0.1;
}

typedef random_site *(*roller)(dice *d);

/* `by_time`: a kWh of the grid costs more in the evening than at night. `worth`: of one that is
 * given to it. */
static seen no_week_beats_the_optimum(roller rolled, uint64_t seed, int weeks, bool by_time,
                                      double worth) {
  seen s = {0};
  int shown = 0;
  random_site_weathers();
  for (uint64_t i = 0; s.weeks < weeks; i++) {
    dice d = {.seed = seed + i};
    random_site *p = rolled(&d);
    steading_run *run = NULL;
    week *w = NULL;
    double least = 0;
    /* a store that lasts */
    if (strstr(p->options, "years = 2") != NULL || p->modules == 0) {
      free(p);
      continue;
    }
    run = random_site_run(p);
    w = week_of(run, (size_t)below(&d, 350), false, by_time, worth);
    if (!w->changes) {
      least = least_cost(w);
      if (!(w->bought >= least - 1e-6 * (fabs(least) + 1)))
        ck_abort_msg("site %d: %.9g, the least is %.9g", (int)i, w->bought, least);
      see(&s, w, least);
      if (by_time && least > 5 && shown++ < 8)
        printf("with prices by the hour a week of the rules costs %.0f %% of the optimum\n",
               100 * w->bought / least);
    }
    free(w);
    steading_run_release(run);
    free(p);
  }
  fflush(stdout);
  random_site_drop_weathers();
  ck_assert_int_ge(s.above, weeks / 2); /* the bound does not hold by chance */
  ck_assert_int_ge(s.wells, weeks / 10);
  ck_assert_int_ge(s.sets, weeks / 20);
  ck_assert_int_ge(s.chargers, weeks / 10);
  ck_assert_int_ge(s.down, weeks / 10);
  ck_assert_int_ge(s.ac_sun, weeks / 20);
  return s;
}

START_TEST(no_rules_buy_less_energy_than_the_optimum_of_a_relaxation) {
  no_week_beats_the_optimum(random_site_roll_one_hub, 400000, WEEKS, false, 0);
}
END_TEST

START_TEST(no_rules_pay_less_than_the_optimum_with_prices_by_the_hour) {
  no_week_beats_the_optimum(random_site_roll_one_hub, 420000, WEEKS, true, 0);
}
END_TEST

/* Several hubs, some off the grid, on the buses of one or two meters; what is given to the grid is
 * worth something, so that its limit counts. */
START_TEST(no_rules_of_several_hubs_pay_less_than_the_optimum) {
  seen s =
      no_week_beats_the_optimum(random_site_roll_hubs, 460000, WEEKS_OF_HUBS, _i == 1, 0.15 * _i);
  ck_assert_int_ge(s.exchange, WEEKS_OF_HUBS / 10);
  ck_assert_int_ge(s.sale, WEEKS_OF_HUBS / 10);
  ck_assert_int_ge(s.off_grid, WEEKS_OF_HUBS / 10);
  ck_assert_int_ge(s.loads, WEEKS_OF_HUBS / 10);
  ck_assert_int_ge(s.shed, WEEKS_OF_HUBS / 20);
  ck_assert_int_ge(s.limited, WEEKS_OF_HUBS / 20);
}
END_TEST

/* --- the class in which the rules are the optimum
 * -------------------------------------------------------------------------------------------------
 *
 * One hub: one pool, constant efficiencies, no load that can wait, with_grid = "adds", and what is
 * stored at the end counts for nothing. What can be served of the store is served at once, which
 * no later use can better.
 *
 * Several hubs: each bus has at most one hub with sun or a battery, which puts the bus before its
 * battery, and nothing is exported; its other hubs have neither. Then the same holds: what the
 * hub's own loads leave of its sun saves a whole kWh of import on the bus now, and at most its
 * efficiency both ways later. Buses, and hubs without one, have nothing to do with each other.
 *
 * It does not hold for two hubs with sun: surplus of one is lost, or charges its own battery at a
 * loss, while the battery of the other serves what that surplus could have. Nor with the battery
 * before the bus, or for a store that another hub could use: a battery serves its own hub alone. In
 * the class a battery serves what its own hub's sun leaves of its loads, and sends or takes what is
 * left of the sun: the programme is held to both. */

/* A hub of the class. `order` is NULL for a hub without sun and battery. */
static void add_class_hub(dice *d, random_site *p, const char *name, int meter, const char *order) {
  char *t = p->hubs;
  random_site_add(t, "%s = { ", name);
  if (meter >= 0) random_site_add(t, "meter = \"m%d\", ", meter);
  random_site_add(t, "inverter = { unit = { ac_kw = 9999, losses = { idle_w = 0 }, ");
  if (order == NULL && often(d, 0.4))
    random_site_add(t, "pass_through_kw = %.3f, ", roll_between(d, 0.2, 3));
  random_site_add(t, "} }, ");
  if (order != NULL) {
    random_site_add(t, "arrays = { { tilt_deg = 30, azimuth_deg = %d, ", 45 * below(d, 8));
    random_site_add(t, "module = { watts = 400, temp_coefficient_per_c = -0.0035 }, ");
    random_site_add(t, "lots = { { count = %d } } } }, ", 1 + below(d, 30));
    random_site_add(t, "battery = { module = { kwh = %.3f, ", roll_between(d, 1, 20));
    random_site_add(t, "charge_kw = %.3f, ", roll_size(d, 8));
    random_site_add(t, "discharge_kw = %.3f, ", roll_size(d, 8));
    random_site_add(t, "round_trip_efficiency = %.4f } }, ", roll_between(d, 0.5, 1));
    random_site_add(t, "rules = { battery_floor = %.3f, ", 0.5 * roll(d));
    if (meter >= 0) random_site_add(t, "reserve = %.3f, ", 0.6 * roll(d));
    random_site_add(t, "surplus_order = { %s } }, ", order);
  }
  random_site_add(t, "}, ");
  random_site_add(p->buildings, "b%s = { hub = \"%s\", loads = { ", name, name);
  random_site_add(p->buildings, "{ kind = \"daily\", kwh_per_day = %.3f, shape = \"dwelling\" }, ",
                  roll_between(d, 3, 40));
  random_site_add(p->buildings, "{ kind = \"timed\", kw = %.3f, window = \"06:00-08:30\" } } }, ",
                  roll_size(d, 3));
}

static void roll_one(dice *d, random_site *p) {
  random_site_add(p->meters, "m0 = { export_limit_kw = 3 }, ");
  add_class_hub(d, p, "h", 0, "\"water\", \"battery\", \"export\"");
}

static void roll_several(dice *d, random_site *p) {
  const int meters = 1 + below(d, 2);
  for (int m = 0; m < meters; m++) {
    const char *const sources[] = {"h0", "h1"}, *const others[] = {"o0", "o1"};
    random_site_add(p->meters, "m%d = { ", m);
    if (often(d, 0.5)) random_site_add(p->meters, "import_limit_kw = %.3f, ", 4 * roll(d));
    if (often(d, 0.3))
      random_site_add(p->meters, "outages = { windows = { hours = \"17:00-20:00\" } }, ");
    random_site_add(p->meters, "}, ");
    add_class_hub(d, p, sources[m], m, "\"export\", \"battery\"");
    if (meters == 1 || often(d, 0.5)) add_class_hub(d, p, others[m], m, NULL);
    if (often(d, 0.6))
      random_site_add(p->buildings,
                      "a%d = { meter = \"m%d\", loads = { { kind = \"daily\", kwh_per_day = %.3f, "
                      "shape = \"dwelling\" } } }, ",
                      m, m, roll_between(d, 1, 30));
  }
  if (meters == 1 && often(d, 0.5)) add_class_hub(d, p, "p", 0, NULL);
  if (meters == 1 && often(d, 0.5)) add_class_hub(d, p, "q", -1, "\"battery\"");
}

START_TEST(in_its_class_the_rule_is_the_optimum) {
  const bool several = _i == 1;
  const int weeks = several ? 120 : 40;
  int with_grid = 0, exchange = 0;
  random_site_weathers();
  for (int i = 0; i < weeks; i++) {
    dice d = {.seed = (several ? 480000 : 440000) + (uint64_t)i};
    random_site *p = calloc(1, sizeof *p);
    steading_run *run = NULL;
    week *w = NULL;
    double least = 0;
    ck_assert_ptr_nonnull(p);
    p->weather = random_site_weather(&d);
    (several ? roll_several : roll_one)(&d, p);
    snprintf(p->options, sizeof p->options, "{ start = \"2027-01\" }");
    run = random_site_run(p);
    w = week_of(run, (size_t)below(&d, 350), true, false, 0);
    ck_assert(!w->changes);
    least = least_cost(w);
    if (!(fabs(w->bought - least) <= 1e-6 * (least + 1e-3)))
      ck_abort_msg("site %d: %.9g, the optimum is %.9g", i, w->bought, least);
    with_grid += least > 1;
    exchange += w->exchanged > 1;
    free(w);
    steading_run_release(run);
    free(p);
  }
  random_site_drop_weathers();
  ck_assert_int_ge(with_grid, weeks / 2);
  if (several) ck_assert_int_ge(exchange, weeks / 2);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, no_rules_buy_less_energy_than_the_optimum_of_a_relaxation);
  tcase_add_test(tests, no_rules_pay_less_than_the_optimum_with_prices_by_the_hour);
  tcase_add_loop_test(tests, no_rules_of_several_hubs_pay_less_than_the_optimum, 0, 2);
  tcase_add_loop_test(tests, in_its_class_the_rule_is_the_optimum, 0, 2);
}

#endif

Suite *relaxation_suite(void) { return CLP_SUITE("relaxation", add_tests, 600); }
