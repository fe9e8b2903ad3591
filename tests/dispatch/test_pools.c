/* Batteries of several kinds on one hub, and cells that are more than constant efficiencies: steps
 * by hand after reference/manual/battery.md, published values of the two tanks, small steps where a
 * step is a curve, and what any of them keeps. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "dice.h"
#include "dispatch/kernel.h"
#include "suites.h"

enum { MOST_ROW = 160 };

static double row[MOST_ROW];
static steading_layout at;

#define IS(found, expected) ck_assert_double_eq_tol(found, expected, 1e-12)

/* A plain pool: kWh, kW each way, efficiency each way. */
static steading_cells plain(double kwh, double in_kw, double out_kw, double efficiency) {
  return (steading_cells){.pool = {.capacity_kwh = kwh,
                                   .charge_kw = in_kw,
                                   .discharge_kw = out_kw,
                                   .efficiency_in = efficiency,
                                   .efficiency_out = efficiency,
                                   .highest_share = 1}};
}

/* The battery of checks KB4 to KB7: c = 0.3, k = 0.5/h, 100 kWh; steps of an hour. */
static steading_cells tanks(double in_kw, double out_kw) {
  steading_cells cells = plain(100, in_kw, out_kw, 1);
  cells.has_tanks = true;
  cells.tanks = (steading_two_tank){.most_kwh = 100, .available_share = 0.3, .per_h = 0.5};
  cells.step = steading_two_tank_step_of(&cells.tanks, 1);
  return cells;
}

/* A hub off the grid with an inverter without losses, and pools that are its whole battery. */
static steading_stretch off_grid(const steading_cells *pools, size_t count) {
  steading_stretch p = {.step_h = 1, .hub_count = 1, .pool_count = count};
  steading_hub_stretch *h = &p.hubs[0];
  *h = (steading_hub_stretch){.ac_kw = 1000,
                              .pv_kw = 1000,
                              .efficiency_in = 1,
                              .efficiency_out = 1,
                              .exports = 1,
                              .meter = -1,
                              .pools = count,
                              .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}};
  for (size_t k = 0; k < count; k++) {
    p.pools[k] = pools[k];
    h->charge_kw += pools[k].pool.charge_kw;
    h->discharge_kw += pools[k].pool.discharge_kw;
    h->lowest_kwh += pools[k].pool.lowest_share * pools[k].pool.capacity_kwh;
    h->highest_kwh += pools[k].pool.highest_share * pools[k].pool.capacity_kwh;
  }
  h->floor_kwh = h->resume_kwh = h->lowest_kwh;
  return p;
}

static void set_floor(steading_stretch *p, double share) {
  steading_hub_stretch *h = &p->hubs[0];
  h->floor_share = share;
  h->floor_kwh = 0;
  for (size_t k = 0; k < h->pools; k++)
    h->floor_kwh +=
        fmin(fmax(share, p->pools[k].pool.lowest_share), p->pools[k].pool.highest_share) *
        p->pools[k].pool.capacity_kwh;
  h->resume_kwh = h->floor_kwh;
}

static void step_of(const steading_stretch *p, steading_state *s, const steading_step_rows *rows) {
  at = steading_layout_with(
      steading_layout_of(p->hub_count, p->meter_count, p->well_count, p->tank_count),
      p->generator_count, p->fuel_count, p->pool_count);
  ck_assert_uint_le(at.width, MOST_ROW);
  memset(row, 0xff, sizeof row); /* NaN: one left unset would be found */
  steading_kernel_run(p, s, 1, rows, row);
}

static const steading_hub_flow *step(const steading_stretch *p, steading_state *s, double pv,
                                     double load) {
  const double meter = 0;
  step_of(p, s,
          &(steading_step_rows){.stride = 1, .pv_kw = &pv, .hub_kw = &load, .meter_kw = &meter});
  return steading_hub_flow_of(&at, row, 0);
}

static const steading_pool_flow *pool(size_t k) { return steading_pool_flow_of(&at, row, k); }

static steading_state holding(const double *kwh, size_t count) {
  steading_state s = {.blocked = {0}};
  for (size_t k = 0; k < count; k++) {
    s.pools[k].stored_kwh = kwh[k];
    s.stored_kwh[0] += kwh[k];
  }
  return s;
}

/* --- several kinds -------------------------------------------------------------------------------
 */

START_TEST(pools_work_in_their_order) {
  const steading_cells pools[] = {plain(4, 1, 2, 1), plain(10, 5, 5, 0.8)};
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){3.5, 2}, 2);
  const steading_hub_flow *f = step(&p, &s, 5, 1); /* 4 kW are left: 0.5, then the rest */
  IS(f->battery_in, 4);
  IS(pool(0)->in, 0.5);
  IS(pool(1)->in, 3.5);
  IS(s.pools[0].stored_kwh, 4);
  IS(s.pools[1].stored_kwh, 2 + 3.5 * 0.8);
  IS(f->battery_loss, 3.5 * 0.2);
  IS(f->stored_kwh, 8.8);
  IS(f->stored_change, 3.3);
  f = step(&p, &s, 0, 3); /* 2 kW of the first, 1 of the second, for which it takes 1.25 */
  IS(f->battery_out, 3);
  IS(pool(0)->out, 2);
  IS(pool(1)->out, 1);
  IS(s.pools[0].stored_kwh, 2);
  IS(s.pools[1].stored_kwh, 4.8 - 1.25);
  IS(f->battery_loss, 0.25);
  IS(f->unserved, 0);
  p.hubs[0].charge_kw = 3; /* the unit lets through less than both together take */
  f = step(&p, &s, 10, 0);
  IS(pool(0)->in, 1);
  IS(pool(1)->in, 2);
  IS(f->pv_curtailed, 7);
}
END_TEST

/* The floor is a share of each: one that rests above its own pays for none that is at it. */
START_TEST(a_floor_is_one_of_each) {
  const steading_cells pools[] = {plain(4, 9, 9, 1), plain(10, 9, 9, 0.5)};
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){2, 5}, 2);
  set_floor(&p, 0.25);
  const steading_hub_flow *f = step(&p, &s, 0, 9); /* 1 of the first; 2.5 kWh give 1.25 */
  IS(f->battery_out, 2.25);
  IS(f->unserved, 6.75);
  IS(s.pools[0].stored_kwh, 1);
  IS(s.pools[1].stored_kwh, 2.5);
  f = step(&p, &s, 0, 9);
  IS(f->battery_out, 0);
  /* without a gap none waits for another that is below */
  s = holding((const double[]){0.5, 3}, 2);
  s.blocked[0] = 1;
  f = step(&p, &s, 0, 9);
  IS(pool(0)->out, 0);
  IS(pool(1)->out, 0.25);
  /* with one all wait until all they store is back */
  s = holding((const double[]){2, 5}, 2);
  p.hubs[0].resume_kwh = 8;
  s.blocked[0] = 1;
  f = step(&p, &s, 0, 9);
  IS(f->battery_out, 0);
}
END_TEST

START_TEST(a_window_of_its_own_holds_for_each) {
  steading_cells pools[] = {plain(10, 9, 9, 1), plain(10, 9, 9, 1)};
  pools[0].pool.lowest_share = 0.5;
  pools[1].pool.highest_share = 0.9;
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){6, 8}, 2);
  set_floor(&p, 0);
  const steading_hub_flow *f = step(&p, &s, 0, 5);
  IS(pool(0)->out, 1);
  IS(pool(1)->out, 4);
  f = step(&p, &s, 20, 0); /* 5 kWh of room, then 5 */
  IS(pool(0)->in, 5);
  IS(pool(1)->in, 5);
  IS(f->stored_kwh, 19);
}
END_TEST

/* The charger fills each up to its level, in order, beside what sun there is. */
START_TEST(a_charger_fills_each_to_a_level) {
  const steading_cells pools[] = {plain(4, 9, 9, 1), plain(10, 9, 9, 0.8)};
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){2, 2}, 2);
  const double pv = 0, load = 1, meter = 0;
  const steading_hub_flow *f = NULL;
  p.meter_count = 1;
  p.meters[0] = (steading_meter_stretch){.import_limit_kw = 100};
  p.hubs[0].meter = 0;
  p.hubs[0].pass_through_kw = 100;
  p.hubs[0].charger_kw = 50;
  p.hubs[0].charger_efficiency = 0.5;
  p.hubs[0].charge_to_share = 0.75;
  p.hubs[0].charge_to_kwh = 10.5;
  step_of(&p, &s,
          &(steading_step_rows){.stride = 1, .pv_kw = &pv, .hub_kw = &load, .meter_kw = &meter});
  f = steading_hub_flow_of(&at, row, 0);
  /* 1 kWh into the first, up to 3; 5.5 into the second take 6.875 kW */
  IS(pool(0)->in, 1);
  IS(pool(1)->in, 6.875);
  IS(f->rectified, 7.875);
  IS(f->charger_in, 15.75);
  IS(f->from_bus, 16.75);
  IS(f->stored_kwh, 10.5);
}
END_TEST

/* In its window, with one above its level and the other below: that one charges, and neither pays
 * for idle draw or load meanwhile. Both above: they serve down to it. */
START_TEST(while_one_charges_none_serves) {
  const steading_cells pools[] = {plain(4, 9, 9, 1), plain(10, 9, 9, 1)};
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){3.5, 7}, 2);
  const double pv = 0, load = 1, meter = 0;
  const steading_step_rows rows = {.stride = 1, .pv_kw = &pv, .hub_kw = &load, .meter_kw = &meter};
  const steading_hub_flow *f = NULL;
  p.meter_count = 1;
  p.meters[0] = (steading_meter_stretch){.import_limit_kw = 100};
  p.hubs[0].meter = 0;
  p.hubs[0].pass_through_kw = 100;
  p.hubs[0].idle_kw = 0.25;
  p.hubs[0].charger_kw = 50;
  p.hubs[0].charger_efficiency = 0.5;
  p.hubs[0].charge_to_share = 0.75;
  p.hubs[0].charge_to_kwh = 10.5;
  step_of(&p, &s, &rows);
  f = steading_hub_flow_of(&at, row, 0);
  IS(pool(0)->in, 0);
  IS(pool(1)->in, 0.5);
  IS(f->battery_out, 0);
  IS(f->idle_from_ac, 0.25);
  IS(f->from_bus, 1 + 0.25 + 1);
  s = holding((const double[]){3.5, 9}, 2);
  step_of(&p, &s, &rows);
  f = steading_hub_flow_of(&at, row, 0);
  IS(f->battery_out, 1.25);
  IS(pool(0)->out, 0.5);
  IS(f->from_bus, 0);
}
END_TEST

START_TEST(electronics_of_each_draw_of_its_own) {
  steading_cells pools[] = {plain(10, 9, 9, 1), plain(10, 9, 9, 1)};
  pools[0].pool.standby_kw = 0.1;
  pools[1].pool.standby_kw = 0.2;
  pools[1].pool.lowest_share = 0.3;
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){6, 3.05}, 2);
  const steading_hub_flow *f = step(&p, &s, 0, 0); /* the second has 0.05 above its lowest */
  IS(f->standby, 0.15);
  IS(s.pools[0].stored_kwh, 5.9);
  IS(s.pools[1].stored_kwh, 3);
  IS(f->stored_change, -0.15);
}
END_TEST

/* --- two tanks -----------------------------------------------------------------------------------
 */

/* Check values of Manwell and McGowan's equations (1993), worked out apart: a full battery gives
 * 35.25856555 kW for an hour at most; at 10 kW for two hours its tanks hold 15.15031218 and
 * 64.84968782. */
START_TEST(two_tanks_give_what_is_published) {
  const steading_cells cells = tanks(100, 100);
  steading_stretch p = off_grid(&cells, 1);
  steading_state s = {.stored_kwh = {100}, .pools = {{100, 30}}};
  const steading_hub_flow *f = step(&p, &s, 0, 1000);
  ck_assert_double_eq_tol(f->battery_out, 35.25856555, 1e-7);
  IS(f->battery_loss, 0);
  ck_assert_double_eq_tol(s.pools[0].available_kwh, 0, 1e-12);
  s = (steading_state){.stored_kwh = {100}, .pools = {{100, 30}}};
  step(&p, &s, 0, 10);
  step(&p, &s, 0, 10);
  ck_assert_double_eq_tol(s.pools[0].available_kwh, 15.15031218, 1e-7);
  ck_assert_double_eq_tol(s.pools[0].stored_kwh - s.pools[0].available_kwh, 64.84968782, 1e-7);
}
END_TEST

/* The rest of an hour in which it does nothing, by Runge-Kutta of the equations. */
START_TEST(two_tanks_come_level_while_nothing_is_asked) {
  enum { PARTS = 2000 };
  const steading_cells cells = tanks(100, 100);
  steading_stretch p = off_grid(&cells, 1);
  steading_state s = {.stored_kwh = {60}, .pools = {{60, 2}}};
  double q1 = 2, h = 1.0 / PARTS;
  step(&p, &s, 0, 0);
  for (int i = 0; i < PARTS; i++) { /* dq1/dt = k c q - k q1 while the sum stands */
#define SLOPE(q) (0.5 * 0.3 * 60 - 0.5 * (q))
    double a = SLOPE(q1), b = SLOPE(q1 + h / 2 * a), c = SLOPE(q1 + h / 2 * b),
           d = SLOPE(q1 + h * c);
#undef SLOPE
    q1 += h / 6 * (a + 2 * b + 2 * c + d);
  }
  ck_assert_double_eq_tol(s.pools[0].available_kwh, q1, 1e-9);
  IS(s.pools[0].stored_kwh, 60);
}
END_TEST

/* Near full a part only makes gas: dq/dx = 1 - g (q - a) / (1 - a), in small steps. */
START_TEST(gas_is_lost_near_full) {
  enum { PARTS = 200000 };
  steading_cells cells = tanks(100, 100);
  double q = 78, x = 6; /* kWh stored; offered to the cells */
  const steading_hub_flow *f = NULL;
  cells.gassing = (steading_gassing){.above = 0.8, .at_full = 0.5};
  cells.pool.efficiency_in = 0.75;
  steading_stretch p = off_grid(&cells, 1);
  steading_state s = {.stored_kwh = {78}, .pools = {{78, 23.4}}};
  f = step(&p, &s, 8, 0);
  for (int i = 0; i < PARTS; i++) {
    double over = q > 80 ? (q - 80) / 20 : 0;
    q += x / PARTS * (1 - 0.5 * over);
  }
  IS(f->battery_in, 8);
  ck_assert_double_eq_tol(f->stored_kwh, q, 1e-5);
  ck_assert_double_eq_tol(f->battery_loss, 8 - (q - 78), 1e-5);
}
END_TEST

/* --- lithium cells -------------------------------------------------------------------------------
 */

/* 50 V and 0.05 ohm. At 50 A the cells take 2.5 kW of 2.625, and give 2.375. */
START_TEST(resistance_loses_with_the_square) {
  steading_cells cells = plain(20, 9, 9, 1);
  cells.has_resistance = true;
  cells.resistance = (steading_resistance){.volts = 50, .ohm = 0.05};
  steading_stretch p = off_grid(&cells, 1);
  steading_state s = holding((const double[]){10}, 1);
  const steading_hub_flow *f = step(&p, &s, 2.625, 0);
  IS(f->stored_kwh, 12.5);
  IS(f->battery_loss, 0.125);
  f = step(&p, &s, 0, 2.375);
  IS(f->stored_kwh, 10);
  IS(f->battery_loss, 0.125);
  p.pools[0].resistance.ohm = 0.5; /* gives at most V^2 / 4R = 1.25 kW, for which it takes 2.5 */
  f = step(&p, &s, 0, 9);
  IS(f->battery_out, 1.25);
  IS(f->stored_kwh, 7.5);
}
END_TEST

/* The last charge from sun that stays: hour by hour the same as in small steps. */
START_TEST(the_last_charge_tapers) {
  enum { PARTS = 100000 };
  steading_cells cells = plain(10, 4, 4, 0.9);
  cells.has_taper = true;
  cells.taper = (steading_taper){.above = 0.7, .at_full = 0.05};
  steading_stretch p = off_grid(&cells, 1);
  steading_state s = holding((const double[]){4.5}, 1);
  double q = 4.5;
  for (int hour = 0; hour < 8; hour++) {
    const steading_hub_flow *f = step(&p, &s, 3, 0);
    double taken = 0;
    for (int i = 0; i < PARTS; i++) {
      double share = q < 7 ? 1 : 1 - (q / 10 - 0.7) / 0.3 * 0.95;
      double kw = fmin(fmin(3, 4 * share), (10 - q) / 0.9 * PARTS);
      taken += kw / PARTS;
      q += 0.9 * kw / PARTS;
    }
    ck_assert_double_eq_tol(f->battery_in, taken, 2e-5);
    ck_assert_double_eq_tol(f->stored_kwh, q, 1e-4);
    ck_assert_double_eq_tol(f->pv_curtailed, 3 - taken, 2e-5);
  }
}
END_TEST

/* In the cold the lowest part cannot be drawn, and is there again when it is warm. */
START_TEST(the_cold_keeps_capacity_back) {
  const steading_cells pools[] = {plain(10, 4, 9, 1), plain(10, 4, 9, 1)};
  steading_stretch p = off_grid(pools, 2);
  steading_state s = holding((const double[]){5, 1}, 2);
  const double pv = 0, load = 9, meter = 0, heater = 0, charge[] = {0.5, 1}, usable[] = {0.6, 0.9},
               ones[] = {1, 1};
  const steading_step_rows cold = {.stride = 1,
                                   .pv_kw = &pv,
                                   .hub_kw = &load,
                                   .meter_kw = &meter,
                                   .charge_share = charge,
                                   .cold_share = ones,
                                   .heater_kw = &heater,
                                   .usable_share = usable,
                                   .cold_usable_share = ones};
  const steading_hub_flow *f = NULL;
  step_of(&p, &s, &cold);
  f = steading_hub_flow_of(&at, row, 0);
  IS(pool(0)->out, 1); /* 4 of 10 kWh are kept back */
  IS(pool(1)->out, 0); /* 1 of 10 */
  IS(f->unserved, 8);
  f = step(&p, &s, 0, 9);
  IS(pool(0)->out, 4);
  IS(pool(1)->out, 1);
  s = holding((const double[]){5, 1}, 2);
  const double sun = 9, none = 0;
  steading_step_rows bright = cold;
  bright.pv_kw = &sun;
  bright.hub_kw = &none;
  step_of(&p, &s, &bright); /* half the charging power of the first */
  IS(pool(0)->in, 2);
  IS(pool(1)->in, 4);
  ck_assert_double_eq(steading_hub_flow_of(&at, row, 0)->charge_blocked, 1);
}
END_TEST

/* --- what any of them keeps ----------------------------------------------------------------------
 */

static steading_cells roll_cells(dice *d) {
  double kwh = roll_between(d, 1, 20), in = roll_size(d, 10), out = roll_size(d, 10);
  double efficiency = roll_between(d, 0.6, 1);
  steading_cells c = plain(kwh, in, out, efficiency);
  double kind = roll(d);
  c.pool.standby_kw = roll_size(d, 0.2);
  c.pool.lowest_share = roll(d) < 0.5 ? 0 : roll_between(d, 0, 0.5);
  c.pool.highest_share = roll(d) < 0.5 ? 1 : roll_between(d, 0.6, 1);
  if (kind < 0.4) {
    double share = roll_between(d, 0.05, 0.9), rate = roll_between(d, 0.01, 5);
    c.has_tanks = true;
    c.tanks = (steading_two_tank){.most_kwh = kwh, .available_share = share, .per_h = rate};
    c.step = steading_two_tank_step_of(&c.tanks, 1);
    if (roll(d) < 0.5) {
      double above = roll_between(d, 0.5, 0.95), at_full = roll(d);
      c.gassing = (steading_gassing){.above = above, .at_full = at_full};
    }
  } else if (kind < 0.8) {
    c.has_taper = roll(d) < 0.7;
    double above = roll_between(d, 0.4, 0.95), at_full = roll_between(d, 0.01, 1);
    c.taper = (steading_taper){.above = above, .at_full = at_full};
    c.has_resistance = roll(d) < 0.5;
    c.resistance = (steading_resistance){.volts = 50, .ohm = roll_between(d, 0, 0.2)};
    if (c.has_resistance) c.pool.efficiency_in = c.pool.efficiency_out = 1;
  }
  return c;
}

#define HOLDS(condition) \
  ck_assert_msg(condition, "stretch %d, step %d: not %s", (int)d.seed, i, #condition)

/* Random hubs, random steps: the nodes, the windows, the limits; each pool's energy by itself. */
START_TEST(no_pool_makes_energy) {
  enum { STRETCHES = 2000, STEPS = 60 };
  for (int stretch = 0; stretch < STRETCHES; stretch++) {
    dice d = {.seed = (uint64_t)stretch};
    steading_cells pools[3];
    size_t count = 1 + (size_t)(roll(&d) * 2.999);
    for (size_t k = 0; k < count; k++) pools[k] = roll_cells(&d);
    steading_stretch p = off_grid(pools, count);
    steading_state s = {.blocked = {0}};
    double high = p.hubs[0].highest_kwh;
    double floor = roll_between(&d, 0, 0.6);
    set_floor(&p, floor);
    p.hubs[0].b = roll(&d) * 0.05;
    p.hubs[0].idle_kw = roll_size(&d, 0.3);
    for (size_t k = 0; k < count; k++) {
      double share = roll_between(&d, pools[k].pool.lowest_share, pools[k].pool.highest_share);
      s.pools[k] = steading_cells_rested(&pools[k], share);
      s.stored_kwh[0] += s.pools[k].stored_kwh;
    }
    for (int i = 0; i < STEPS; i++) {
      const steading_state before = s;
      double pv = roll(&d) < 0.4 ? 0 : roll_size(&d, 20), load = roll_size(&d, 20);
      const steading_hub_flow *f = step(&p, &s, pv, load);
      double in = 0, out = 0, stored = 0, slack = 1e-9 * (1 + high + pv + load);
      double loss = p.hubs[0].b * f->inverted;
      for (size_t k = 0; k < at.width; k++) HOLDS(isfinite(row[k]));
      for (size_t k = 0; k < count; k++) {
        const steading_pool *q = &pools[k].pool;
        const steading_pool_flow *o = pool(k);
        double there = before.pools[k].stored_kwh;
        double drawn = fmin(q->standby_kw, fmax(there - q->lowest_share * q->capacity_kwh, 0));
        HOLDS(fabs(o->stored_kwh - (there - drawn + o->in - o->out - o->loss)) < slack);
        HOLDS(o->in >= 0 && o->out >= 0 && o->loss >= 0);
        HOLDS(o->in <= q->charge_kw + slack && o->out <= q->discharge_kw + slack);
        HOLDS(o->stored_kwh >= q->lowest_share * q->capacity_kwh - slack);
        HOLDS(o->stored_kwh <= q->highest_share * q->capacity_kwh + slack);
        HOLDS(s.pools[k].available_kwh >= 0 &&
              s.pools[k].available_kwh <= s.pools[k].stored_kwh + slack);
        HOLDS(k == 0 || o->out == 0 || pool(0)->in == 0);
        HOLDS(o->out == 0 ||
              o->stored_kwh >= fmin(floor, q->highest_share) * q->capacity_kwh - slack);
        in += o->in;
        out += o->out;
        stored += o->stored_kwh;
      }
      HOLDS(fabs(in - f->battery_in) < slack && fabs(out - f->battery_out) < slack);
      HOLDS(fabs(stored - f->stored_kwh) < slack && s.stored_kwh[0] == f->stored_kwh);
      HOLDS(f->battery_in == 0 || f->battery_out == 0);
      HOLDS(fabs(f->pv_used + f->battery_out - f->battery_in - f->inverted_in) < slack);
      HOLDS(fabs(f->inverted_in - f->inverted - f->idle_from_dc - loss) < slack);
      HOLDS(fabs(f->stored_change -
                 (f->battery_in - f->battery_out - f->battery_loss - f->standby)) < slack);
    }
  }
}
END_TEST

/* A battery that is not there changes nothing, wherever it stands in the order. */
START_TEST(an_empty_pool_is_none_to_the_bit) {
  enum { STRETCHES = 500, STEPS = 40 };
  for (int stretch = 0; stretch < STRETCHES; stretch++) {
    dice d = {.seed = 9000 + (uint64_t)stretch};
    steading_cells pools[3] = {roll_cells(&d), roll_cells(&d), {.pool = {.highest_share = 1}}};
    steading_cells more[3] = {pools[0], pools[2], pools[1]};
    more[1].pool.efficiency_in = more[1].pool.efficiency_out = 0.9;
    steading_stretch p = off_grid(pools, 2), q = off_grid(more, 3);
    steading_state s = {.blocked = {0}}, t = {.blocked = {0}};
    for (size_t k = 0; k < 2; k++) {
      s.pools[k] = t.pools[2 * k] = steading_cells_rested(&pools[k], pools[k].pool.highest_share);
      s.stored_kwh[0] += s.pools[k].stored_kwh;
    }
    t.stored_kwh[0] = s.stored_kwh[0];
    for (int i = 0; i < STEPS; i++) {
      double pv = roll(&d) < 0.4 ? 0 : roll_size(&d, 20), load = roll_size(&d, 20);
      steading_hub_flow one = *step(&p, &s, pv, load);
      HOLDS(memcmp(&one, step(&q, &t, pv, load), sizeof one) == 0);
    }
  }
}
END_TEST

/* One pool of constant efficiency is the store of a plain hub; and so are its halves, where their
 * powers do not bind. */
START_TEST(pools_of_a_kind_are_a_store) {
  enum { STRETCHES = 500, STEPS = 60 };
  for (int stretch = 0; stretch < STRETCHES; stretch++) {
    dice d = {.seed = 20000 + (uint64_t)stretch};
    double kwh = roll_between(&d, 1, 20), efficiency = roll_between(&d, 0.6, 1);
    const steading_cells whole = plain(kwh, 1000, 1000, efficiency);
    const steading_cells halves[] = {plain(kwh / 2, 1000, 1000, efficiency),
                                     plain(kwh / 2, 1000, 1000, efficiency)};
    steading_stretch p = off_grid(&whole, 1), q = off_grid(halves, 2), plain_hub = p;
    steading_state s = holding((const double[]){kwh}, 1),
                   t = holding((const double[]){kwh / 2, kwh / 2}, 2), u = s;
    double floor = roll(&d) * 0.5, charge_kw = roll_size(&d, 10);
    plain_hub.pool_count = 0;
    plain_hub.hubs[0].pools = 0;
    steading_stretch *all[] = {&p, &q, &plain_hub};
    for (int k = 0; k < 3; k++) {
      steading_hub_stretch *h = &all[k]->hubs[0];
      h->floor_share = floor;
      h->floor_kwh = h->resume_kwh = floor * kwh;
      h->charge_kw = charge_kw;
      h->discharge_kw = 5;
      h->efficiency_in = h->efficiency_out = efficiency;
    }
    for (int i = 0; i < STEPS; i++) {
      double pv = roll(&d) < 0.4 ? 0 : roll_size(&d, 20), load = roll_size(&d, 20);
      steading_hub_flow a = *step(&p, &s, pv, load), b = *step(&q, &t, pv, load),
                        c = *step(&plain_hub, &u, pv, load);
      for (size_t k = 0; k < STEADING_HUB_FLOWS; k++) {
        const double *x = (const double *)&a + k, *y = (const double *)&b + k,
                     *z = (const double *)&c + k;
        HOLDS(fabs(*x - *z) < 1e-9 * (1 + fabs(*z)));
        HOLDS(fabs(*y - *z) < 1e-9 * (1 + fabs(*z)));
      }
    }
  }
}
END_TEST

Suite *pools_suite(void) {
  Suite *suite = suite_create("pools");
  TCase *tests = tcase_create("several kinds"), *cells = tcase_create("cells"),
        *keeps = tcase_create("what any keeps");
  tcase_add_test(tests, pools_work_in_their_order);
  tcase_add_test(tests, a_floor_is_one_of_each);
  tcase_add_test(tests, a_window_of_its_own_holds_for_each);
  tcase_add_test(tests, a_charger_fills_each_to_a_level);
  tcase_add_test(tests, while_one_charges_none_serves);
  tcase_add_test(tests, electronics_of_each_draw_of_its_own);
  suite_add_tcase(suite, tests);
  tcase_add_test(cells, two_tanks_give_what_is_published);
  tcase_add_test(cells, two_tanks_come_level_while_nothing_is_asked);
  tcase_add_test(cells, gas_is_lost_near_full);
  tcase_add_test(cells, resistance_loses_with_the_square);
  tcase_add_test(cells, the_last_charge_tapers);
  tcase_add_test(cells, the_cold_keeps_capacity_back);
  suite_add_tcase(suite, cells);
  tcase_set_timeout(keeps, 300);
  tcase_add_test(keeps, no_pool_makes_energy);
  tcase_add_test(keeps, an_empty_pool_is_none_to_the_bit);
  tcase_add_test(keeps, pools_of_a_kind_are_a_store);
  suite_add_tcase(suite, keeps);
  return suite;
}
