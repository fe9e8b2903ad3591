/* The step loop: single steps worked out by hand, and the node equations (kernel.h)
 * recomputed here at every step of random stretches. No published numbers exist for such a rule:
 * what is checked is arithmetic and conservation. */
#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "dice.h"
#include "dispatch/kernel.h"
#include "suites.h"

/* A stretch without limits and without losses; tests change what they are about. */
static steading_stretch lossless(void) {
  return (steading_stretch){
      .step_h = 1,
      .grid_free_below_kw = 0.05,
      .hub_count = 1,
      .meter_count = 1,
      .well_count = 1,
      .tank_count = 1,
      .hubs = {{.ac_kw = 1000,
                .pv_kw = 1000,
                .pass_through_kw = 1000,
                .efficiency_in = 1,
                .efficiency_out = 1,
                .exports = 1,
                .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}}},
      .meters = {{.import_limit_kw = 1000}},
      .wells = {{.meter = -1, .tanks = 1}}};
}

/* The steps of a stretch with one hub and one meter at most. */
static void run_steps(const steading_stretch *p, steading_state *s, size_t count, const double *pv,
                      const double *hub, const double *meter, build_flow *flows) {
  const steading_layout at =
      steading_layout_of(p->hub_count, p->meter_count, p->well_count, p->tank_count);
  double *rows = malloc(count * at.width * sizeof *rows);
  ck_assert_ptr_nonnull(rows);
  memset(rows, 0xff, count * at.width * sizeof *rows); /* NaN: one left unset would be found */
  steading_kernel_run(
      p, s, count,
      &(steading_step_rows){.stride = count, .pv_kw = pv, .hub_kw = hub, .meter_kw = meter}, rows);
  for (size_t i = 0; i < count; i++) flows[i] = build_flow_of(&at, rows + i * at.width);
  free(rows);
}

static build_flow one_step(const steading_stretch *p, steading_state *s, double pv, double hub,
                           double meter) {
  build_flow flow;
  run_steps(p, s, 1, &pv, &hub, &meter, &flow);
  return flow;
}

static void add_pump(steading_stretch *p, double kw, double litres_per_h, double tank_l) {
  p->wells[0].pump_kw = kw;
  p->wells[0].per_pump_kw = 1 / kw;
  p->wells[0].pump_l_per_step = litres_per_h * p->step_h;
  p->wells[0].per_pump_l_per_step = 1 / p->wells[0].pump_l_per_step;
  p->tanks[0].full_l = tank_l;
  p->tanks[0].start_l = 0.4 * tank_l;
  p->tanks[0].stop_l = 0.9 * tank_l;
  p->tanks[0].surplus_l = tank_l;
}

/* --- hand values ------------------------------------------------------------------------------ */

/* Import = load + idle; nothing else can happen. Doubling the idle draw adds exactly its energy. */
START_TEST(without_sun_and_battery_the_import_is_load_and_idle_exactly) {
  steading_stretch p = lossless();
  p.hubs[0].ac_kw = 8;
  p.hubs[0].idle_kw = 0.0625;
  p.hubs[0].b = 0.02;
  p.hubs[0].c_per_rating = 0.004;
  for (int k = 0; k < 100; k++) {
    steading_state s = {0}, t = {0};
    double load = k / 8.0; /* sums of these are exact in binary */
    steading_stretch twice = p;
    build_flow f = one_step(&p, &s, 0, load, 0.5), g = {0};
    twice.hubs[0].idle_kw *= 2;
    g = one_step(&twice, &t, 0, load, 0.5);
    ck_assert_double_eq(f.import, load + 0.5 + 0.0625);
    ck_assert_double_eq(f.inverter_loss, 0.0625);
    ck_assert_double_eq(f.idle_from_ac, 0.0625);
    ck_assert_double_eq(f.idle_from_dc, 0);
    ck_assert_double_eq(f.hub_unserved + f.meter_unserved, 0);
    ck_assert_double_eq(g.import - f.import, 0.0625);
  }
}
END_TEST

/* 10 kWh above the floor at 0.5 efficiency give 5 kWh: an idle draw of 0.25 kW lives on it for 20
 * hours, one of 0.5 kW for 10. Over 15 hours the first imports nothing and the second 5 h x 0.5 kW,
 * where 15 h x 0.25 kW would be 3.75 kWh. */
START_TEST(beside_a_battery_doubling_the_idle_draw_does_not_add_its_energy_to_the_import) {
  double imported[2] = {0, 0};
  for (int k = 0; k < 2; k++) {
    steading_stretch p = lossless();
    steading_state s = {.stored_kwh = {12}};
    p.hubs[0].idle_kw = 0.25 * (k + 1);
    p.hubs[0].floor_kwh = 2;
    p.hubs[0].highest_kwh = 12;
    p.hubs[0].discharge_kw = 5;
    p.hubs[0].efficiency_out = 0.5;
    for (int h = 0; h < 15; h++) imported[k] += one_step(&p, &s, 0, 0, 0).import;
    ck_assert_double_ge(s.stored_kwh[0], 2);
  }
  ck_assert_double_eq(imported[0], 0);       /* 15 h of 20 */
  ck_assert_double_eq(imported[1], 5 * 0.5); /* 10 h from the battery, 5 h from the grid */
}
END_TEST

/* Idle 0.1, b 0.02, c / rating 0.003 at 4 kW: 0.1 + 0.08 + 0.048 = 0.228 kW. The battery gives
 * 4.228 kW and loses 4.228 (1 / 0.95 - 1) = 0.222526 kW; its electronics draw 0.05 kW:
 * 20 - 0.05 - 4.228 / 0.95 = 15.499474 kWh stay. */
START_TEST(losses_of_a_discharge_equal_the_hand_values) {
  steading_stretch p = lossless();
  steading_state s = {.stored_kwh = {20}};
  build_flow f;
  p.hubs[0].ac_kw = 10;
  p.hubs[0].idle_kw = 0.1;
  p.hubs[0].b = 0.02;
  p.hubs[0].c_per_rating = 0.003;
  p.hubs[0].floor_kwh = 2;
  p.hubs[0].highest_kwh = 20;
  p.hubs[0].discharge_kw = 10;
  p.hubs[0].efficiency_out = 0.95;
  p.hubs[0].standby_kw = 0.05;
  f = one_step(&p, &s, 0, 4, 0);
  ck_assert_double_eq_tol(f.inverter_loss, 0.228, 1e-12);
  ck_assert_double_eq_tol(f.battery_out, 4.228, 1e-12);
  ck_assert_double_eq_tol(f.battery_loss, 4.228 * (1 / 0.95 - 1), 1e-12);
  ck_assert_double_eq_tol(f.battery_loss, 0.222526, 5e-7);
  ck_assert_double_eq(f.standby, 0.05);
  ck_assert_double_eq_tol(s.stored_kwh[0], 15.499474, 5e-7);
  ck_assert_double_eq(f.stored_kwh, s.stored_kwh[0]);
  ck_assert_double_eq_tol(f.stored_change, s.stored_kwh[0] - 20, 1e-12);
  ck_assert_double_eq(f.import, 0);
  ck_assert_double_eq(f.grid_free, 1);
}
END_TEST

/* Sun 6 kW, load 1 kW: the unit takes 0.1 + 1 + 0.02 + 0.003 = 1.123 kW, 4.877 kW are left and
 * 4.877 x 0.9 = 4.3893 kWh are stored, 0.4877 kW lost. */
START_TEST(losses_of_a_charge_equal_the_hand_values) {
  steading_stretch p = lossless();
  steading_state s = {.stored_kwh = {5}};
  build_flow f;
  p.hubs[0].ac_kw = 10;
  p.hubs[0].idle_kw = 0.1;
  p.hubs[0].b = 0.02;
  p.hubs[0].c_per_rating = 0.003;
  p.hubs[0].highest_kwh = 20;
  p.hubs[0].charge_kw = 10;
  p.hubs[0].efficiency_in = 0.9;
  f = one_step(&p, &s, 6, 1, 0);
  ck_assert_double_eq_tol(f.inverter_loss, 0.123, 1e-12);
  ck_assert_double_eq_tol(f.battery_in, 4.877, 1e-12);
  ck_assert_double_eq_tol(f.battery_loss, 0.4877, 1e-12);
  ck_assert_double_eq_tol(s.stored_kwh[0], 9.3893, 1e-12);
  ck_assert_double_eq_tol(f.pv_used, 6, 1e-12);
  ck_assert_double_eq(f.battery_out, 0);
}
END_TEST

/* 9 kW of sun: the load 1, then the battery's 2 kW, then 2.5 kW on the meter, then 3 kW of export;
 * 0.5 kW stay unused. */
START_TEST(surplus_goes_to_the_battery_then_the_bus_then_export_then_nowhere) {
  steading_stretch p = lossless();
  steading_state s = {.stored_kwh = {5}};
  build_flow f;
  p.hubs[0].highest_kwh = 20;
  p.hubs[0].charge_kw = 2;
  p.meters[0].export_limit_kw = 3;
  f = one_step(&p, &s, 9, 1, 2.5);
  ck_assert_double_eq_tol(f.battery_in, 2, 1e-12);
  ck_assert_double_eq_tol(f.to_bus, 5.5, 1e-12);
  ck_assert_double_eq_tol(f.export, 3, 1e-12);
  ck_assert_double_eq_tol(f.pv_used, 8.5, 1e-12);
  ck_assert_double_eq(f.import, 0);
  ck_assert_double_eq_tol(f.meter_served, 2.5, 1e-12);
  f = one_step(&p, &s, 4, 1, 2.5); /* 4 - 1 - 2 = 1 kW for the meter's loads, 1.5 kW imported */
  ck_assert_double_eq_tol(f.to_bus, 1, 1e-12);
  ck_assert_double_eq_tol(f.import, 1.5, 1e-12);
  ck_assert_double_eq(f.export, 0);
}
END_TEST

/* Loads on a meter without the hub: its surplus is lost, they draw from the grid. */
START_TEST(a_hub_off_the_grid_gives_nothing_to_the_bus) {
  steading_stretch p = lossless();
  steading_state s = {0};
  build_flow f;
  p.hubs[0].pass_through_kw = 0;
  p.meters[0].export_limit_kw = 5;
  f = one_step(&p, &s, 9, 1, 2.5);
  ck_assert_double_eq(f.to_bus, 0);
  ck_assert_double_eq(f.export, 0);
  ck_assert_double_eq_tol(f.pv_used, 1, 1e-12);
  ck_assert_double_eq(f.import, 2.5);
}
END_TEST

/* 2 kW for wants of 3 kW behind the hub and 1 kW on the meter: half of each. */
START_TEST(a_short_import_is_shared_in_proportion_and_the_rest_is_unserved) {
  steading_stretch p = lossless();
  steading_state s = {0};
  build_flow f;
  p.meters[0].import_limit_kw = 2;
  f = one_step(&p, &s, 0, 3, 1);
  ck_assert_double_eq_tol(f.from_bus, 1.5, 1e-12);
  ck_assert_double_eq_tol(f.hub_unserved, 1.5, 1e-12);
  ck_assert_double_eq_tol(f.meter_served, 0.5, 1e-12);
  ck_assert_double_eq_tol(f.meter_unserved, 0.5, 1e-12);
  ck_assert_double_eq_tol(f.import, 2, 1e-12);
  ck_assert_double_eq(f.loss_of_load, 1);
  ck_assert_double_eq(f.grid_free, 0);
}
END_TEST

/* The hub may take 1.2 kW, 0.2 kW of it for its idle draw. */
START_TEST(the_hub_takes_no_more_than_its_pass_through) {
  steading_stretch p = lossless();
  steading_state s = {0};
  build_flow f;
  p.hubs[0].idle_kw = 0.2;
  p.hubs[0].pass_through_kw = 1.2;
  f = one_step(&p, &s, 0, 3, 1);
  ck_assert_double_eq_tol(f.from_bus, 1.2, 1e-12);
  ck_assert_double_eq_tol(f.hub_served, 1, 1e-12);
  ck_assert_double_eq_tol(f.hub_unserved, 2, 1e-12);
  ck_assert_double_eq_tol(f.import, 2.2, 1e-12);
  ck_assert_double_eq(f.meter_unserved, 0);
}
END_TEST

/* Neither side can feed the idle draw of 0.1 kW: 0.05 kW of import, or none off the grid. With
 * 0.2 kW for wants of 0.4 kW the unit gets its 0.1 kW and the load the other 0.1 kW. */
START_TEST(a_unit_without_energy_for_its_idle_draw_is_off) {
  steading_stretch p = lossless();
  steading_state s = {0};
  build_flow f;
  p.hubs[0].idle_kw = 0.1;
  p.meters[0].import_limit_kw = 0.05;
  f = one_step(&p, &s, 0.02, 0.3, 0);
  ck_assert_double_eq(f.idle_from_ac + f.idle_from_dc, 0);
  ck_assert_double_eq(f.inverted, 0);
  ck_assert_double_eq(f.inverter_loss, 0);
  ck_assert_double_eq_tol(f.import, 0.05, 1e-12);
  p.meters[0].import_limit_kw = 0.2;
  f = one_step(&p, &s, 0, 0.3, 0);
  ck_assert_double_eq(f.idle_from_ac, 0.1);
  ck_assert_double_eq_tol(f.hub_served, 0.1, 1e-12);
  ck_assert_double_eq_tol(f.import, 0.2, 1e-12);
  p.meters[0].import_limit_kw = 0;
  p.hubs[0].pass_through_kw = 0;
  f = one_step(&p, &s, 0, 0.3, 0);
  ck_assert_double_eq(f.idle_from_ac + f.idle_from_dc + f.import, 0);
  ck_assert_double_eq(f.hub_unserved, 0.3);
}
END_TEST

/* 4 kWh above the floor at 0.8 efficiency give 3.2 kWh of the 5 kW wanted; the floor stays. Its own
 * electronics may draw below the floor, down to the lowest charge. */
START_TEST(a_load_takes_the_battery_to_its_floor_and_standby_below_it) {
  steading_stretch p = lossless();
  steading_state s = {.stored_kwh = {7}};
  build_flow f;
  p.hubs[0].lowest_kwh = 1;
  p.hubs[0].floor_kwh = 3;
  p.hubs[0].highest_kwh = 10;
  p.hubs[0].discharge_kw = 20;
  p.hubs[0].efficiency_out = 0.8;
  f = one_step(&p, &s, 0, 5, 0);
  ck_assert_double_eq_tol(f.battery_out, 3.2, 1e-12);
  ck_assert_double_eq_tol(f.import, 1.8, 1e-12);
  ck_assert_double_eq_tol(s.stored_kwh[0], 3, 1e-12);
  p.hubs[0].standby_kw = 1.5;
  f = one_step(&p, &s, 0, 0, 0);
  ck_assert_double_eq(f.standby, 1.5);
  f = one_step(&p, &s, 0, 0, 0);
  ck_assert_double_eq_tol(f.standby, 0.5, 1e-12);
  ck_assert_double_eq_tol(s.stored_kwh[0], 1, 1e-12);
  ck_assert_double_eq_tol(one_step(&p, &s, 0, 2, 0).import, 2, 1e-12);
}
END_TEST

/* 500 l/h at 2 kW into 1000 l. Below 400 l a run starts in the next hour and ends at 900 l, from
 * the grid at night; 100 l are drawn in each hour. 350 + 400 = 750; then 150 + 100 of 500 l are
 * needed: half an hour, 1 kW, and the run is over. */
START_TEST(a_low_tank_starts_a_run_of_the_pump_that_ends_at_its_stop_level) {
  steading_stretch p = lossless();
  steading_state s = {.tank_l = {450}};
  build_flow f;
  add_pump(&p, 2, 500, 1000);
  p.tanks[0].draw_l = 100;
  f = one_step(&p, &s, 0, 1, 0);
  ck_assert_double_eq(f.pump, 0);
  ck_assert_double_eq(f.tank_level_l, 350);
  ck_assert_double_eq(s.filling[0], 1);
  f = one_step(&p, &s, 0, 1, 0);
  ck_assert_double_eq_tol(f.pump, 2, 1e-12);
  ck_assert_double_eq_tol(f.import, 3, 1e-12);
  ck_assert_double_eq_tol(f.hub_load, 3, 1e-12);
  ck_assert_double_eq_tol(f.tank_level_l, 750, 1e-9);
  f = one_step(&p, &s, 0, 1, 0);
  ck_assert_double_eq_tol(f.pump_duty, 0.5, 1e-12);
  ck_assert_double_eq_tol(f.pump, 1, 1e-12);
  ck_assert_double_eq_tol(f.tank_level_l, 900, 1e-9);
  ck_assert_double_eq(s.filling[0], 0);
  ck_assert_double_eq(one_step(&p, &s, 0, 1, 0).pump, 0);
}
END_TEST

/* 2.5 kW of sun, load 1 kW: the pump gets 1.5 of its 2 kW before the battery gets any, and with
 * 4 kW the full 2 kW and the battery 1 kW. A full tank leaves all to the battery. */
START_TEST(surplus_sun_pumps_before_it_charges) {
  steading_stretch p = lossless();
  steading_state s = {.tank_l = {500}};
  build_flow f;
  add_pump(&p, 2, 100, 1000);
  p.hubs[0].highest_kwh = 100;
  p.hubs[0].charge_kw = 10;
  f = one_step(&p, &s, 2.5, 1, 0);
  ck_assert_double_eq_tol(f.pump, 1.5, 1e-12);
  ck_assert_double_eq_tol(f.tank_level_l, 575, 1e-9);
  ck_assert_double_eq_tol(f.battery_in, 0, 1e-12);
  f = one_step(&p, &s, 4, 1, 0);
  ck_assert_double_eq_tol(f.pump, 2, 1e-12);
  ck_assert_double_eq_tol(f.battery_in, 1, 1e-12);
  s.tank_l[0] = 1000;
  f = one_step(&p, &s, 4, 1, 0);
  ck_assert_double_eq(f.pump, 0);
  ck_assert_double_eq_tol(f.battery_in, 3, 1e-12);
  p.tanks[0].surplus_l = 0; /* surplus never pumps */
  s.tank_l[0] = 500;
  ck_assert_double_eq(one_step(&p, &s, 4, 1, 0).pump, 0);
}
END_TEST

/* 1.5 kW of import for a load of 1 kW and a pump of 2 kW: the pump runs at a quarter. */
START_TEST(the_pump_gives_way_before_the_loads) {
  for (int on_hub = 0; on_hub < 2; on_hub++) {
    steading_stretch p = lossless();
    steading_state s = {.tank_l = {100}, .filling = {1}};
    build_flow f;
    add_pump(&p, 2, 200, 1000);
    p.wells[0].hub = on_hub - 1;
    p.wells[0].meter = -on_hub;
    p.meters[0].import_limit_kw = 1.5;
    f = one_step(&p, &s, 0, on_hub, 1 - on_hub);
    ck_assert_double_eq_tol(f.pump, 0.5, 1e-12);
    ck_assert_double_eq_tol(f.pumped_l, 50, 1e-9);
    ck_assert_double_eq_tol(f.tank_level_l, 150, 1e-9);
    ck_assert_double_eq(f.hub_unserved + f.meter_unserved, 0);
    ck_assert_double_eq(f.loss_of_load, 0);
  }
}
END_TEST

START_TEST(users_get_what_the_tank_and_the_pump_have_and_the_rest_is_short) {
  steading_stretch p = lossless();
  steading_state s = {.tank_l = {30}, .filling = {1}};
  build_flow f;
  add_pump(&p, 2, 50, 1000);
  p.tanks[0].draw_l = 100;
  f = one_step(&p, &s, 0, 0, 0);
  ck_assert_double_eq_tol(f.delivered_l, 80, 1e-12);
  ck_assert_double_eq_tol(f.short_l, 20, 1e-12);
  ck_assert_double_eq(f.tank_level_l, 0);
}
END_TEST

/* A unit with 0.1 kW of idle draw that draws 0.02 kW at night (from the definition in the manual):
 * without sun, as long as it inverts nothing. 1 kWh above the floor is 1 kW for an hour. */
START_TEST(without_sun_a_unit_that_carries_nothing_draws_its_night_draw) {
  steading_stretch p = lossless();
  steading_state s = {0};
  build_flow f;
  p.hubs[0].idle_kw = 0.1;
  p.hubs[0].night_saving_kw = 0.08;
  f = one_step(&p, &s, 0, 3, 0.5); /* no battery: the load comes from the grid */
  ck_assert_double_eq_tol(f.idle_from_ac, 0.02, 1e-15);
  ck_assert_double_eq_tol(f.import, 3.52, 1e-12);
  ck_assert_double_eq_tol(f.inverter_loss, 0.02, 1e-15);
  f = one_step(&p, &s, 0.01, 3, 0.5); /* a little sun: it is on */
  ck_assert_double_eq_tol(f.idle_from_dc, 0.01, 1e-15);
  ck_assert_double_eq_tol(f.idle_from_ac, 0.09, 1e-15);
  p.hubs[0].highest_kwh = 10;
  p.hubs[0].floor_kwh = 2;
  p.hubs[0].resume_kwh = 2;
  p.hubs[0].discharge_kw = 5;
  s.stored_kwh[0] = 3;
  f = one_step(&p, &s, 0, 0.5, 0); /* the battery carries the load: it is on */
  ck_assert_double_eq_tol(f.battery_out, 0.6, 1e-12);
  ck_assert_double_eq_tol(f.idle_from_dc, 0.1, 1e-15);
  s.stored_kwh[0] = 3;
  f = one_step(&p, &s, 0, 0, 0.5); /* no load: the battery gives the night draw */
  ck_assert_double_eq_tol(f.battery_out, 0.02, 1e-15);
  ck_assert_double_eq_tol(f.import, 0.5, 1e-15);
  s.stored_kwh[0] = 2.05; /* less than its idle draw: it stays asleep, the load is the grid's */
  f = one_step(&p, &s, 0, 0.5, 0);
  ck_assert_double_eq_tol(f.battery_out, 0.02, 1e-15);
  ck_assert_double_eq_tol(f.from_bus, 0.5, 1e-15);
  ck_assert_double_eq(f.inverted, 0);
  s.stored_kwh[0] = 2.01; /* half of it from the battery, half from the grid */
  f = one_step(&p, &s, 0, 0.5, 0);
  ck_assert_double_eq_tol(f.idle_from_dc, 0.01, 1e-12);
  ck_assert_double_eq_tol(f.import, 0.51, 1e-12);
  p.hubs[0].pass_through_kw = 0; /* nothing anywhere: off */
  s.stored_kwh[0] = 2;
  f = one_step(&p, &s, 0, 0.5, 0);
  ck_assert_double_eq(f.idle_from_dc + f.idle_from_ac, 0);
  ck_assert_double_eq(f.hub_unserved, 0.5);
}
END_TEST

/* 5 kW of which heat leaves 0.6: 3 kW. The loss is still that of a unit of 5 kW: 3 + 0.02 x 3 +
 * 0.01 x 9 = 3.15 kW of DC power. Without heat it is 5 + 0.1 + 0.25 = 5.35 kW. */
START_TEST(heat_limits_the_ac_power_and_leaves_the_losses) {
  steading_stretch p = lossless();
  const double pv = 8, hub = 7, meter = 0, share = 0.6;
  p.hubs[0].ac_kw = 5;
  p.hubs[0].b = 0.02;
  p.hubs[0].c_per_rating = 0.01;
  for (int hot = 0; hot < 2; hot++) {
    const steading_layout at = steading_layout_of(1, 1, 1, 1);
    double row[256];
    steading_state s = {0};
    build_flow f;
    steading_kernel_run(&p, &s, 1,
                        &(steading_step_rows){.stride = 1,
                                              .pv_kw = &pv,
                                              .hub_kw = &hub,
                                              .meter_kw = &meter,
                                              .ac_share = hot ? &share : NULL},
                        row);
    f = build_flow_of(&at, row);
    ck_assert_double_eq_tol(f.inverted, hot ? 3 : 5, 1e-12);
    ck_assert_double_eq_tol(f.pv_used, hot ? 3.15 : 5.35, 1e-12);
    ck_assert_double_eq_tol(f.import, hot ? 4 : 2, 1e-12);
  }
}
END_TEST

/* A power that lasts a quarter of an hour stores a quarter of its energy. */
START_TEST(shorter_steps_move_less_energy_at_the_same_power) {
  steading_stretch p = lossless();
  steading_state s = {.stored_kwh = {5}};
  build_flow f;
  p.step_h = 0.25;
  p.hubs[0].highest_kwh = 20;
  p.hubs[0].charge_kw = 10;
  p.hubs[0].efficiency_in = 0.8;
  f = one_step(&p, &s, 6, 1, 0);
  ck_assert_double_eq_tol(f.battery_in, 5, 1e-12);
  ck_assert_double_eq_tol(s.stored_kwh[0], 6, 1e-12);
  ck_assert_double_eq_tol(f.stored_change, 4, 1e-12);
}
END_TEST

/* --- random stretches ------------------------------------------------------------------------- */

/* A size, or without a limit. */
static double limit_of(dice *d, double most) {
  double u = roll(d);
  if (u < 0.3) return HUGE_VAL;
  return u < 0.4 ? 1e-3 * roll(d) : roll_size(d, most);
}

static void roll_inverter(dice *d, steading_stretch *p) {
  double idle = roll_size(d, 0.05), b = 0, c = 0.1 * roll(d), kind = roll(d);
  p->hubs[0].ac_kw = roll_size(d, 25);
  if (kind < 0.3) {
    b = -2 * sqrt(idle * c) * roll(d); /* the loss touches zero at most */
  } else if (kind < 0.6) {
    b = 0.1 * roll(d);
    c = -b * roll(d);
  } else if (kind < 0.7) {
    idle = c = 0;
  } else {
    b = 0.05 * roll(d);
  }
  p->hubs[0].idle_kw = idle * p->hubs[0].ac_kw;
  p->hubs[0].b = b;
  p->hubs[0].c_per_rating = p->hubs[0].ac_kw > 0 ? c / p->hubs[0].ac_kw : 0;
  p->hubs[0].pv_kw = limit_of(d, 20);
  p->hubs[0].pass_through_kw = limit_of(d, 15);
}

static void roll_water(dice *d, steading_stretch *p) {
  double tank = roll_size(d, 2000), kw = roll_size(d, 4), where = roll(d);
  if (kw > 0) add_pump(p, kw, 1 + 1500 * roll(d), tank);
  p->wells[0].hub = where < 0.5 ? 0 : -1;
  p->wells[0].meter = where < 0.5 ? -1 : 0;
  p->tanks[0].full_l = tank;
  p->tanks[0].stop_l = tank * roll(d);
  p->tanks[0].start_l = p->tanks[0].stop_l * roll(d);
  p->tanks[0].surplus_l = roll(d) < 0.3 ? tank : tank * roll(d);
  p->tanks[0].draw_l = roll_size(d, 200);
}

static steading_stretch roll_stretch(dice *d, steading_state *s) {
  static const double steps_h[4] = {1, 1, 0.5, 0.25};
  steading_stretch p = lossless();
  double kwh = roll_size(d, 60), lowest = roll(d) < 0.5 ? 0 : 0.2 * roll(d);
  double highest = roll(d) < 0.5 ? 1 : 0.7 + 0.3 * roll(d);
  p.step_h = steps_h[(int)(4 * roll(d))];
  roll_inverter(d, &p);
  p.hubs[0].lowest_kwh = lowest * kwh;
  p.hubs[0].floor_kwh = (lowest + (highest - lowest) * 0.8 * roll(d)) * kwh;
  p.hubs[0].highest_kwh = highest * kwh;
  p.hubs[0].charge_kw = kwh > 0 ? roll_size(d, 20) : 0;
  p.hubs[0].discharge_kw = kwh > 0 ? roll_size(d, 20) : 0;
  p.hubs[0].efficiency_in = roll(d) < 0.2 ? 1 : 0.7 + 0.3 * roll(d);
  p.hubs[0].efficiency_out = roll(d) < 0.2 ? 1 : 0.7 + 0.3 * roll(d);
  p.hubs[0].standby_kw = kwh > 0 ? roll_size(d, 0.2) : 0;
  p.meters[0].import_limit_kw = limit_of(d, 20);
  p.meters[0].export_limit_kw = limit_of(d, 10);
  p.grid_free_below_kw = roll_size(d, 0.1);
  roll_water(d, &p);
  s->stored_kwh[0] =
      p.hubs[0].lowest_kwh + (p.hubs[0].highest_kwh - p.hubs[0].lowest_kwh) * roll(d);
  s->tank_l[0] = p.tanks[0].full_l * roll(d);
  s->filling[0] = s->tank_l[0] < p.tanks[0].start_l;
  return p;
}

enum { STEPS = 200 };

static void roll_series(dice *d, double *pv, double *hub, double *meter) {
  double pv_most = roll_size(d, 25), hub_most = roll_size(d, 15), meter_most = roll_size(d, 8);
  for (int i = 0; i < STEPS; i++) {
    double day = sin(i * M_PI / 12);
    pv[i] = day > 0 ? pv_most * day * roll(d) : 0;
    hub[i] = roll(d) < 0.1 ? 0 : hub_most * roll(d);
    meter[i] = roll(d) < 0.1 ? 0 : meter_most * roll(d);
  }
}

/* What a step must fulfil, from its flows and the states around it alone. */
typedef struct around {
  const steading_stretch *p;
  const build_flow *f;
  double pv, hub, meter; /* given */
  double stored_before, tank_before;
  double slack;
} around;

/* The first rule that is broken, or NULL: an assertion of Check writes to a file, which is too slow
 * for millions of steps. */
#define HOLDS(condition) \
  if (!(condition)) return #condition
#define SAME(a, b) HOLDS(fabs((a) - (b)) <= w->slack)
#define MOST(a, b) HOLDS((a) <= (b) + w->slack)

static const char *broken_equations(const around *w) {
  const steading_stretch *p = w->p;
  const build_flow *f = w->f;
  double idle = f->idle_from_dc + f->idle_from_ac;
  double curve = p->hubs[0].b * f->inverted + p->hubs[0].c_per_rating * f->inverted * f->inverted;
  bool is_off = idle == 0 && p->hubs[0].idle_kw > 0;
  SAME(f->pv_used + f->battery_out, f->battery_in + f->inverted_in);
  SAME(f->inverted_in, f->inverted + f->idle_from_dc + curve);
  SAME(f->inverted + f->from_bus, f->hub_served + f->to_bus + f->idle_from_ac);
  SAME(f->import + f->to_bus, f->export + f->from_bus + f->meter_served);
  SAME(f->pv_used + f->import, f->hub_served + f->meter_served + f->export + f->inverter_loss +
                                   f->battery_loss + f->standby + f->stored_change);
  HOLDS(!is_off || f->inverted == 0);
  SAME(idle, is_off ? 0 : p->hubs[0].idle_kw);
  SAME(f->inverter_loss, idle + curve);
  SAME(f->battery_loss, f->battery_in * (1 - p->hubs[0].efficiency_in) +
                            f->battery_out * (1 / p->hubs[0].efficiency_out - 1));
  SAME(f->stored_kwh - w->stored_before, (f->battery_in * p->hubs[0].efficiency_in -
                                          f->battery_out / p->hubs[0].efficiency_out - f->standby) *
                                             p->step_h);
  SAME(f->stored_change * p->step_h, f->stored_kwh - w->stored_before);
  SAME(f->hub_load, w->hub + (p->wells[0].hub == 0 ? f->pump : 0));
  SAME(f->meter_load, w->meter + (p->wells[0].meter == 0 ? f->pump : 0));
  SAME(f->hub_served, f->hub_load - f->hub_unserved);
  SAME(f->meter_served, f->meter_load - f->meter_unserved);
  SAME(f->pumped_l * p->wells[0].pump_kw, f->pump * p->wells[0].pump_l_per_step);
  SAME(f->pump_duty * p->wells[0].pump_kw, f->pump * p->step_h);
  SAME(f->delivered_l + f->short_l, p->tanks[0].draw_l);
  SAME(f->tank_level_l, w->tank_before + f->pumped_l - f->delivered_l);
  HOLDS(f->pv_available == w->pv);
  return NULL;
}

static const char *broken_limits(const around *w) {
  const steading_stretch *p = w->p;
  const build_flow *f = w->f;
  const double *value = (const double *)f;
  for (size_t i = 0; i < BUILD_FLOW_COUNT; i++) {
    HOLDS(isfinite(value[i]));
    HOLDS(value[i] >= -w->slack || &value[i] == &f->stored_change);
  }
  MOST(f->inverted, p->hubs[0].ac_kw);
  MOST(f->pv_used, fmin(w->pv, p->hubs[0].pv_kw));
  MOST(f->battery_in, p->hubs[0].charge_kw);
  MOST(f->battery_out, p->hubs[0].discharge_kw);
  MOST(f->standby, p->hubs[0].standby_kw);
  MOST(f->from_bus, p->hubs[0].pass_through_kw);
  HOLDS(f->to_bus == 0 || p->hubs[0].pass_through_kw > 0); /* off the grid */
  MOST(f->import, p->meters[0].import_limit_kw);
  MOST(f->export, p->meters[0].export_limit_kw);
  MOST(f->pump, p->wells[0].pump_kw);
  MOST(f->tank_level_l, p->tanks[0].full_l);
  MOST(p->hubs[0].lowest_kwh, f->stored_kwh);
  MOST(f->stored_kwh, p->hubs[0].highest_kwh);
  MOST(f->battery_out > 0 ? p->hubs[0].floor_kwh : 0, f->stored_kwh);
  HOLDS(f->battery_in == 0 || f->battery_out == 0);
  HOLDS(f->from_bus == 0 || f->to_bus == 0);
  HOLDS(f->import == 0 || f->export == 0);
  HOLDS(f->loss_of_load == (f->hub_unserved + f->meter_unserved > 0));
  HOLDS(f->grid_free == (f->import <= p->grid_free_below_kw && f->loss_of_load == 0));
  HOLDS(f->hub_loss_of_load == (f->hub_unserved > 0));
  HOLDS(f->hub_grid_free == (f->from_bus <= p->grid_free_below_kw && f->hub_unserved == 0));
  return NULL;
}

/* The rule: nothing comes from the grid that the hub could have given, nothing of the sun is left
 * that somebody could have taken, nobody goes short while the grid has more. */
static const char *broken_rule(const around *w) {
  const steading_stretch *p = w->p;
  const build_flow *f = w->f;
  double loose = 1e3 * w->slack; /* a square root stands between the limits and these flows */
  bool is_off = f->idle_from_dc + f->idle_from_ac == 0 && p->hubs[0].idle_kw > 0;
  bool is_full = f->inverted >= p->hubs[0].ac_kw - loose;
  bool is_empty = f->battery_out >= p->hubs[0].discharge_kw - loose ||
                  f->stored_kwh <= fmax(p->hubs[0].floor_kwh, p->hubs[0].lowest_kwh) + loose;
  double left = fmin(w->pv, p->hubs[0].pv_kw) - f->pv_used;
  double above_floor = w->stored_before - f->standby * p->step_h - p->hubs[0].floor_kwh;
  double dc_can =
      fmin(w->pv, p->hubs[0].pv_kw) +
      fmin(p->hubs[0].discharge_kw, fmax(above_floor, 0) * p->hubs[0].efficiency_out / p->step_h);
  if (is_off) {
    HOLDS(dc_can < p->hubs[0].idle_kw + loose);
    HOLDS(p->hubs[0].pass_through_kw < p->hubs[0].idle_kw ||
          f->import + p->hubs[0].idle_kw >= p->meters[0].import_limit_kw - loose);
  }
  HOLDS(is_off || f->from_bus <= loose || is_full || (is_empty && left <= loose));
  if (left > loose) {
    HOLDS(f->battery_in >= p->hubs[0].charge_kw - loose ||
          f->stored_kwh >= p->hubs[0].highest_kwh - loose);
    HOLDS(
        is_off || is_full || p->hubs[0].pass_through_kw == 0 ||
        (f->to_bus >= f->meter_load - loose && f->export >= p->meters[0].export_limit_kw - loose));
    HOLDS(is_off || is_full || p->wells[0].hub < 0 || f->pump >= p->wells[0].pump_kw - loose ||
          f->tank_level_l >= p->tanks[0].surplus_l - loose);
  }
  HOLDS(f->meter_unserved <= loose || f->import >= p->meters[0].import_limit_kw - loose);
  HOLDS(f->hub_unserved <= loose || f->import >= p->meters[0].import_limit_kw - loose ||
        f->from_bus >= p->hubs[0].pass_through_kw - loose);
  return NULL;
}

START_TEST(the_nodes_and_the_rule_hold_at_every_step_of_random_stretches) {
  static double pv[STEPS], hub[STEPS], meter[STEPS];
  static build_flow flows[STEPS];
  for (uint64_t stretch = 0; stretch < 10000; stretch++) {
    dice d = {.seed = 1000 + stretch};
    steading_state s = {0};
    steading_stretch p = roll_stretch(&d, &s);
    steading_state before = s;
    const char *broken = NULL;
    roll_series(&d, pv, hub, meter);
    run_steps(&p, &s, STEPS, pv, hub, meter, flows);
    for (int i = 0; i < STEPS; i++) {
      around w = {&p, &flows[i], pv[i], hub[i], meter[i], before.stored_kwh[0], before.tank_l[0],
                  0};
      w.slack = 1e-9 * (1 + pv[i] + hub[i] + meter[i] + p.wells[0].pump_kw + p.hubs[0].highest_kwh);
      if (p.wells[0].pump_kw > 0)
        w.slack +=
            1e-12 * (p.tanks[0].full_l + p.wells[0].pump_l_per_step) * (1 + p.wells[0].pump_kw);
      broken = broken_equations(&w);
      if (broken == NULL) broken = broken_limits(&w);
      if (broken == NULL) broken = broken_rule(&w);
      if (broken != NULL) ck_abort_msg("stretch %d, step %d: not %s", (int)stretch, i, broken);
      before.stored_kwh[0] = flows[i].stored_kwh;
      before.tank_l[0] = flows[i].tank_level_l;
    }
    ck_assert_double_eq(s.stored_kwh[0], before.stored_kwh[0]);
    ck_assert_double_eq(s.tank_l[0], before.tank_l[0]);
  }
}
END_TEST

/* The state carries everything: one stretch of 200 steps, or 200 stretches of one. */
START_TEST(a_stretch_cut_into_pieces_gives_the_same_bits) {
  static double pv[STEPS], hub[STEPS], meter[STEPS];
  static build_flow whole[STEPS], pieces[STEPS];
  for (uint64_t stretch = 0; stretch < 500; stretch++) {
    dice d = {.seed = 50000 + stretch};
    steading_state s = {0}, t = {0};
    steading_stretch p = roll_stretch(&d, &s);
    t = s;
    roll_series(&d, pv, hub, meter);
    run_steps(&p, &s, STEPS, pv, hub, meter, whole);
    for (int i = 0; i < STEPS; i++) run_steps(&p, &t, 1, pv + i, hub + i, meter + i, pieces + i);
    ck_assert_mem_eq(whole, pieces, sizeof whole);
  }
}
END_TEST

Suite *kernel_suite(void) {
  Suite *suite = suite_create("kernel");
  TCase *by_hand = tcase_create("by hand"), *at_random = tcase_create("at random");
  tcase_add_test(by_hand, without_sun_and_battery_the_import_is_load_and_idle_exactly);
  tcase_add_test(by_hand,
                 beside_a_battery_doubling_the_idle_draw_does_not_add_its_energy_to_the_import);
  tcase_add_test(by_hand, losses_of_a_discharge_equal_the_hand_values);
  tcase_add_test(by_hand, losses_of_a_charge_equal_the_hand_values);
  tcase_add_test(by_hand, surplus_goes_to_the_battery_then_the_bus_then_export_then_nowhere);
  tcase_add_test(by_hand, a_hub_off_the_grid_gives_nothing_to_the_bus);
  tcase_add_test(by_hand, a_short_import_is_shared_in_proportion_and_the_rest_is_unserved);
  tcase_add_test(by_hand, the_hub_takes_no_more_than_its_pass_through);
  tcase_add_test(by_hand, a_unit_without_energy_for_its_idle_draw_is_off);
  tcase_add_test(by_hand, a_load_takes_the_battery_to_its_floor_and_standby_below_it);
  tcase_add_test(by_hand, a_low_tank_starts_a_run_of_the_pump_that_ends_at_its_stop_level);
  tcase_add_test(by_hand, surplus_sun_pumps_before_it_charges);
  tcase_add_test(by_hand, the_pump_gives_way_before_the_loads);
  tcase_add_test(by_hand, users_get_what_the_tank_and_the_pump_have_and_the_rest_is_short);
  tcase_add_test(by_hand, without_sun_a_unit_that_carries_nothing_draws_its_night_draw);
  tcase_add_test(by_hand, heat_limits_the_ac_power_and_leaves_the_losses);
  tcase_add_test(by_hand, shorter_steps_move_less_energy_at_the_same_power);
  tcase_add_test(at_random, the_nodes_and_the_rule_hold_at_every_step_of_random_stretches);
  tcase_add_test(at_random, a_stretch_cut_into_pieces_gives_the_same_bits);
  tcase_set_timeout(at_random, 120);
  suite_add_tcase(suite, by_hand);
  suite_add_tcase(suite, at_random);
  return suite;
}
