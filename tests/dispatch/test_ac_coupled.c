/* AC-coupled arrays, and a unit that gives less while it is islanded: single steps and years worked
 * out by hand after reference/manual/dispatch.md. No published numbers exist for such rules: what
 * is checked is arithmetic and the manual. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dispatch/buildings.h"
#include "dispatch/losses.h"
#include "dispatch/reason.h"
#include "dispatch/ride.h"
#include "plant/inverter.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR, MOST_ROW = 256 };

static double row[MOST_ROW];
static steading_layout at;

/* A hub on meter 0: 0.1 kW of idle draw, a twentieth of what is inverted lost; 10 kWh, 1 of which
 * is kept, at 0.9 each way; a charger of 5 kW AC at 0.8. */
static steading_stretch coupled(void) {
  steading_stretch p = {.step_h = 1, .hub_count = 1, .meter_count = 1};
  p.hubs[0] =
      (steading_hub_stretch){.ac_kw = 10,
                             .idle_kw = 0.1,
                             .b = 0.05,
                             .pv_kw = 1000,
                             .pass_through_kw = 1000,
                             .highest_kwh = 10,
                             .floor_kwh = 1,
                             .resume_kwh = 1,
                             .charge_kw = 3,
                             .discharge_kw = 3,
                             .efficiency_in = 0.9,
                             .efficiency_out = 0.9,
                             .sun_charger_kw = 5,
                             .charger_efficiency = 0.8,
                             .exports = 1,
                             .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}};
  p.meters[0] = (steading_meter_stretch){.import_limit_kw = 1000, .export_limit_kw = 1000};
  return p;
}

/* Nothing passes the meter. */
static steading_stretch islanded(void) {
  steading_stretch p = coupled();
  p.hubs[0].pass_through_kw = 0;
  p.meters[0] = (steading_meter_stretch){.import_limit_kw = 0};
  return p;
}

typedef struct given {
  double pv, sun, dc, load, meter, ac_share, charge_share;
} given;

static const steading_hub_flow *step(const steading_stretch *p, steading_state *s, given g) {
  const double share = g.ac_share > 0 ? g.ac_share : 1, nothing = 0;
  at = steading_layout_with(
      steading_layout_of(p->hub_count, p->meter_count, p->well_count, p->tank_count),
      p->generator_count, p->fuel_count, p->pool_count);
  memset(row, 0xff, sizeof row);
  const steading_step_rows rows = {
      .stride = 1,
      .pv_kw = &g.pv,
      .hub_kw = &g.load,
      .meter_kw = &g.meter,
      .ac_share = &share,
      .charge_share = g.charge_share > 0 ? &g.charge_share : NULL,
      .cold_share = g.charge_share > 0 ? &g.charge_share : NULL,
      .heater_kw = g.charge_share > 0 ? &nothing : NULL,
      .ac_sun_kw = &g.sun,
      .ac_sun_dc_kw = &g.dc,
  };
  steading_kernel_run(p, s, 1, &rows, row);
  return steading_hub_flow_of(&at, row, 0);
}

static const steading_meter_flow *meter(void) { return steading_meter_flow_of(&at, row, 0); }

static void is(int line, double found, double expected) {
  if (!(fabs(found - expected) <= 1e-12 * (1 + fabs(expected))))
    ck_abort_msg("line %d: %.15g, expected %.15g", line, found, expected);
}
#define IS(found, expected) is(__LINE__, found, expected)

/* --- who gets it ---------------------------------------------------------------------------------
 */

/* 2 of 2.5 kW DC; of a load of 3 the unit makes 1, of 1.05 and 0.1 kW DC. */
START_TEST(it_serves_loads_before_the_unit_makes_anything) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {5}};
  const steading_hub_flow *f = step(&p, &s, (given){.sun = 2, .dc = 2.5, .load = 3});
  IS(f->ac_sun, 2);
  IS(f->ac_sun_loss, 0.5);
  IS(f->pv_available, 2.5);
  IS(f->pv_used, 2.5);
  ck_assert_double_eq(f->pv_curtailed, 0);
  IS(f->inverted, 1);
  IS(f->inverted_in, 1.15);
  IS(f->battery_out, 1.15);
  IS(f->battery_in, 0);
  IS(f->idle_from_dc, 0.1);
  IS(f->sun_idle, 0);
  IS(f->inverter_loss, 0.05 + 0.1 + 0.5);
  IS(f->served, 3);
  IS(f->from_bus, 0);
  IS(s.stored_kwh[0], 5 - 1.15 / 0.9);
}
END_TEST

/* 4 of 5 kW DC, 1 for the load, 0.1 for the idle draw, 2.9 AC are 2.32 DC, of which 2.088 are
 * stored. */
START_TEST(what_loads_leave_pays_the_idle_draw_and_charges_the_battery) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {5}};
  const steading_hub_flow *f = step(&p, &s, (given){.sun = 4, .dc = 5, .load = 1});
  IS(f->ac_sun, 4);
  IS(f->sun_idle, 0.1);
  IS(f->idle_from_ac, 0.1);
  IS(f->idle_from_dc, 0);
  IS(f->sun_charging, 2.9);
  IS(f->rectified, 2.32);
  IS(f->battery_in, 2.32);
  IS(f->battery_out, 0);
  IS(f->battery_loss, 0.232);
  IS(f->inverter_loss, 1 + 0.1 + 0.58);
  IS(f->charger_in, 0);
  IS(f->inverted, 0);
  IS(f->to_bus, 0);
  IS(f->pv_curtailed, 0);
  IS(s.stored_kwh[0], 7.088);
}
END_TEST

/* 8 of 10 kW DC: 6.9 are left, of which the battery takes 3 DC, 3.75 AC; 3.15 for the bus. Of 0.5
 * on the meter and 2 that may leave 0.65 AC are for nobody, and the DC behind: 0.8125. The loss is
 * a fifth of the DC that is used. */
START_TEST(the_rest_goes_to_the_bus_up_to_the_limit_of_export) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {2}};
  p.meters[0].export_limit_kw = 2;
  const given g = {.sun = 8, .dc = 10, .load = 1, .meter = 0.5};
  const steading_hub_flow *f = step(&p, &s, g);
  IS(f->sun_charging, 3.75);
  IS(f->battery_in, 3);
  IS(f->to_bus, 2.5);
  IS(meter()->served, 0.5);
  IS(meter()->export, 2);
  IS(f->ac_sun, 7.35);
  IS(f->pv_used, 9.1875);
  IS(f->pv_curtailed, 0.8125);
  IS(f->ac_sun_loss, 1.8375);
  /* what its relay passes */
  p.hubs[0].pass_through_kw = 1;
  s.stored_kwh[0] = 2;
  f = step(&p, &s, g);
  IS(f->to_bus, 1);
  IS(meter()->export, 0.5);
  /* what is not in its order leaves nothing */
  p.hubs[0].pass_through_kw = 1000;
  p.hubs[0].exports = 0;
  s.stored_kwh[0] = 2;
  f = step(&p, &s, g);
  IS(f->to_bus, 0.5);
  /* the bus before the battery: 2.5, then 3 DC */
  p = coupled();
  p.meters[0].export_limit_kw = 2;
  p.hubs[0].order[1] = STEADING_TO_BUS;
  p.hubs[0].order[2] = STEADING_TO_BATTERY;
  s.stored_kwh[0] = 2;
  f = step(&p, &s, g);
  IS(f->to_bus, 2.5);
  IS(f->sun_charging, 3.75);
  IS(f->inverted, 0);
  IS(f->pv_curtailed, 0.8125);
}
END_TEST

/* Beside 2 kW DC: 0.1 for the idle draw, 1.9 into the battery, 1.1 more of 1.375 AC; of 3 - 1 = 2
 * the rest to the bus. A battery that takes 1 kW leaves 0.9 DC, which the unit may invert: 0.9
 * / 1.05. */
START_TEST(the_sun_on_dc_fills_the_battery_first) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {2}};
  const steading_hub_flow *f = step(&p, &s, (given){.pv = 2, .sun = 3, .dc = 3, .load = 1});
  IS(f->battery_in, 3);
  IS(f->sun_charging, 1.375);
  IS(f->to_bus, 0.625);
  IS(f->inverted, 0);
  IS(f->idle_from_dc, 0.1);
  IS(f->pv_used, 5);
  p.hubs[0].charge_kw = 1;
  s.stored_kwh[0] = 2;
  f = step(&p, &s, (given){.pv = 2, .sun = 3, .dc = 3, .load = 1});
  IS(f->battery_in, 1);
  IS(f->sun_charging, 0);
  IS(f->inverted, 0.9 / 1.05);
  IS(f->to_bus, 2 + 0.9 / 1.05);
  IS(f->pv_used, 5);
  /* without a charger the battery gets the sun on DC alone */
  p = coupled();
  p.hubs[0].sun_charger_kw = 0;
  s.stored_kwh[0] = 2;
  f = step(&p, &s, (given){.pv = 2, .sun = 3, .dc = 3, .load = 1});
  IS(f->battery_in, 1.9);
  IS(f->to_bus, 2);
}
END_TEST

/* A pump of 1 kW that surplus may run: 0.4 of AC sun, 0.6 that the unit makes of 0.63 kW DC; it
 * then inverts, and makes no DC. */
START_TEST(pumps_take_it_before_what_the_unit_makes) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {2}, .tank_l = {500}};
  const steading_hub_flow *f = NULL;
  p.well_count = p.tank_count = 1;
  p.wells[0] = (steading_well_stretch){.pump_kw = 1,
                                       .pump_l_per_step = 100,
                                       .per_pump_l_per_step = 0.01,
                                       .per_pump_kw = 1,
                                       .hub = 0,
                                       .meter = -1,
                                       .tanks = 1};
  p.tanks[0] = (steading_tank_stretch){.full_l = 1000, .surplus_l = 1000};
  f = step(&p, &s, (given){.pv = 2, .sun = 1.4, .dc = 1.4, .load = 1});
  IS(steading_well_flow_of(&at, row, 0)->pump, 1);
  IS(f->inverted, 0.6);
  IS(f->battery_in, 1.9 - 0.63);
  IS(f->load, 2);
  IS(f->sun_charging, 0);
  /* all of it: the unit need not invert, and makes DC of the rest */
  f = step(&p, &s, (given){.sun = 2.6, .dc = 2.6, .load = 1});
  IS(steading_well_flow_of(&at, row, 0)->pump, 1);
  IS(f->inverted, 0);
  IS(f->sun_charging, 0.5);
}
END_TEST

/* --- without a grid ------------------------------------------------------------------------------
 */

/* Nothing forms a grid with an empty battery: load and sun wait. A little sun on DC, less than the
 * idle draw, charges: 0.05 kW are 0.045 kWh. With those the unit starts: 0.0405 of the battery and
 * 0.05 of the sun pay 0.0905, AC sun the rest. */
START_TEST(an_empty_battery_starts_no_grid) {
  steading_stretch p = islanded();
  steading_state s = {.stored_kwh = {0}};
  const steading_hub_flow *f = NULL;
  p.hubs[0].floor_kwh = p.hubs[0].resume_kwh = 0;
  f = step(&p, &s, (given){.sun = 4, .dc = 5, .load = 1});
  IS(f->ac_sun, 0);
  IS(f->served, 0);
  IS(f->unserved, 1);
  IS(f->pv_curtailed, 5);
  IS(f->idle_from_ac + f->idle_from_dc, 0);
  IS(s.stored_kwh[0], 0);
  f = step(&p, &s, (given){.pv = 0.05, .sun = 4, .dc = 5, .load = 1});
  IS(f->ac_sun, 0);
  IS(f->unserved, 1);
  IS(s.stored_kwh[0], 0.045);
  f = step(&p, &s, (given){.pv = 0.05, .sun = 4, .dc = 5, .load = 1});
  IS(f->served, 1);
  IS(f->idle_from_dc, 0.05); /* what loads leave spares the battery its part */
  IS(f->sun_idle, 0.05);
  IS(f->sun_charging, 2.95);
  /* sun on DC that pays the idle draw forms a grid as well */
  s.stored_kwh[0] = 0;
  f = step(&p, &s, (given){.pv = 0.3, .sun = 4, .dc = 5, .load = 1});
  IS(f->served, 1);
  IS(f->ac_sun, 4);
  /* no inverter, no grid, though there be no idle draw */
  p.hubs[0].ac_kw = p.hubs[0].idle_kw = 0;
  f = step(&p, &s, (given){.pv = 0.3, .sun = 4, .dc = 5, .load = 1});
  IS(f->ac_sun, 0);
}
END_TEST

/* Between the lowest charge, 1, and the floor, 2, the battery serves nobody, but a grid stands: AC
 * sun pays the idle draw first, then loads, of which 0.6 are not served. */
START_TEST(at_its_floor_the_sun_itself_pays_the_idle_draw) {
  steading_stretch p = islanded();
  steading_state s = {.stored_kwh = {1.5}};
  const steading_hub_flow *f = NULL;
  p.hubs[0].lowest_kwh = 1;
  p.hubs[0].floor_kwh = p.hubs[0].resume_kwh = 2;
  f = step(&p, &s, (given){.sun = 0.5, .dc = 0.5, .load = 1});
  IS(f->sun_idle, 0.1);
  IS(f->served, 0.4);
  IS(f->unserved, 0.6);
  IS(s.stored_kwh[0], 1.5);
  /* less than the idle draw: the unit is off, and with it all */
  f = step(&p, &s, (given){.sun = 0.09, .dc = 0.09, .load = 1});
  IS(f->ac_sun, 0);
  IS(f->unserved, 1);
  /* at the lowest charge it is off in any sun */
  s.stored_kwh[0] = 1;
  f = step(&p, &s, (given){.sun = 4, .dc = 4, .load = 1});
  IS(f->ac_sun, 0);
  IS(f->pv_curtailed, 4);
}
END_TEST

/* Nothing leaves: 4 - 1 - 0.1 AC, 2.9, of which a full battery takes nothing. */
START_TEST(islanded_the_rest_is_curtailed) {
  steading_stretch p = islanded();
  steading_state s = {.stored_kwh = {10}};
  const steading_hub_flow *f = step(&p, &s, (given){.sun = 4, .dc = 5, .load = 1});
  IS(f->ac_sun, 1.1);
  IS(f->ac_sun_loss, 0.275);
  IS(f->pv_used, 1.375);
  IS(f->pv_curtailed, 3.625);
  IS(f->battery_out, 0);
  IS(s.stored_kwh[0], 10);
}
END_TEST

/* Beside a grid it needs no unit: the grid gives 0.05 kW, too little for 0.04 of the idle draw and
 * 0.03 of load. So the unit is off, the load gets its sun, and the rest leaves. */
START_TEST(beside_a_grid_it_works_without_the_unit) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {1}};
  const steading_hub_flow *f = NULL;
  p.meters[0].import_limit_kw = 0.05;
  f = step(&p, &s, (given){.sun = 0.06, .dc = 0.06, .load = 0.03, .meter = 0.04});
  IS(f->idle_from_ac, 0);
  IS(f->idle_from_dc, 0);
  IS(f->served, 0.03);
  IS(f->to_bus, 0.03);
  IS(meter()->import, 0.01);
  /* 0.08 kW for the idle draw, 0.02 of the grid, and it is on */
  f = step(&p, &s, (given){.sun = 0.08, .dc = 0.08, .load = 0});
  IS(f->idle_from_ac, 0.1);
  IS(f->sun_idle, 0.08);
  IS(f->from_bus, 0.02);
}
END_TEST

/* --- beside other rules --------------------------------------------------------------------------
 */

/* The generator gives what 2 kW leave of 4 and the idle draw. What it does not need to give is no
 * room for charging: of 5 kW 0.9 are curtailed. With a charger of its own it charges 3 kW DC. */
START_TEST(beside_a_generator_it_feeds_loads_first_and_charges_nothing) {
  steading_stretch p = islanded();
  steading_state s = {.stored_kwh = {5}};
  const steading_hub_flow *f = NULL;
  p.generator_count = 1;
  p.hubs[0].generator_kw = 3;
  p.hubs[0].generator_carries = 1;
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 4});
  IS(steading_generator_flow_of(&at, row, 0)->power, 2.1);
  IS(f->sun_idle, 0.1);
  IS(f->battery_out, 0);
  IS(f->served, 4);
  f = step(&p, &s, (given){.sun = 5, .dc = 5, .load = 4});
  IS(steading_generator_flow_of(&at, row, 0)->power, 0);
  IS(f->sun_charging, 0);
  IS(f->pv_curtailed, 0.9);
  p.hubs[0].generator_charger_kw = 4;
  p.hubs[0].generator_charger_efficiency = 0.8;
  f = step(&p, &s, (given){.sun = 5, .dc = 5, .load = 4});
  IS(steading_generator_flow_of(&at, row, 0)->power, 3);
  IS(f->battery_in, 2.4);
  IS(f->pv_curtailed, 0.9);
  /* one that is too small for what sun leaves: the battery helps with 1.1 AC, 1.155 DC */
  p.hubs[0].generator_charger_kw = 0;
  s.stored_kwh[0] = 5;
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 6});
  IS(steading_generator_flow_of(&at, row, 0)->power, 3);
  IS(f->inverted, 1.1);
  IS(f->battery_out, 1.155);
  IS(f->served, 6);
}
END_TEST

/* 0.5 kW are drawn whatever the sun; the rest charges, and nothing leaves. */
START_TEST(the_margin_of_import_is_kept) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {5}};
  const steading_hub_flow *f = NULL;
  p.hubs[0].import_margin_kw = 0.5;
  f = step(&p, &s, (given){.sun = 4, .dc = 4, .load = 1});
  IS(f->from_bus, 0.5);
  IS(f->sun_charging, 3.4);
  IS(f->to_bus, 0);
  IS(f->inverted, 0);
  IS(f->ac_sun, 4);
}
END_TEST

/* A battery that waits: what the sun leaves of the load is the grid's. */
START_TEST(the_load_moves_over_but_for_what_the_sun_feeds) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {1.5}, .blocked = {1}};
  const steading_hub_flow *f = NULL;
  p.hubs[0].transfers = 1;
  p.hubs[0].resume_kwh = 5;
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 3});
  IS(f->inverted, 0);
  IS(f->sun_idle, 0.1);
  IS(f->from_bus, 1.1);
  /* 8 kW moves over a unit of 7; 3 of AC sun leave 5, which it carries */
  p.hubs[0].resume_kwh = 1;
  p.hubs[0].ac_kw = 7;
  p.hubs[0].discharge_kw = 9;
  s = (steading_state){.stored_kwh = {9}};
  f = step(&p, &s, (given){.load = 8});
  IS(f->from_bus, 8);
  f = step(&p, &s, (given){.sun = 3, .dc = 3, .load = 8});
  IS(f->from_bus, 0);
  IS(f->inverted, 5);
}
END_TEST

/* Without any sun and load 0.04 kW; with AC sun the unit is awake, though it inverts nothing. */
START_TEST(a_unit_is_awake_while_the_sun_shines_on_any_array) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {5}};
  const steading_hub_flow *f = NULL;
  p.hubs[0].night_saving_kw = 0.06;
  f = step(&p, &s, (given){.load = 0});
  IS(f->idle_from_dc, 0.04);
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 2});
  IS(f->idle_from_dc + f->idle_from_ac, 0.1);
}
END_TEST

/* Up to 8 of 10 kWh: 2 - 1 - 0.1 kW of sun make 0.72 of the 3 kW DC that the battery takes, the
 * grid 2.28 of 2.85. Sun goes on above that level, the grid does not. */
START_TEST(in_a_charging_window_the_grid_adds_to_the_sun) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {2}};
  const steading_hub_flow *f = NULL;
  p.hubs[0].charger_kw = 4;
  p.hubs[0].charge_to_kwh = 8;
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 1});
  IS(f->sun_idle, 0.1);
  IS(f->sun_charging, 0.9);
  IS(f->charger_in, 2.85);
  IS(f->battery_in, 3);
  IS(f->from_bus, 2.85);
  IS(s.stored_kwh[0], 4.7);
  /* the unit's 5 kW for both: 4.5 of the sun leave 0.5 */
  p.hubs[0].charge_kw = 9;
  p.hubs[0].highest_kwh = p.hubs[0].charge_to_kwh = 100;
  f = step(&p, &s, (given){.sun = 5.6, .dc = 5.6, .load = 1});
  IS(f->sun_charging, 4.5);
  IS(f->charger_in, 0.5);
  s.stored_kwh[0] = 8.5;
  p.hubs[0].charge_to_kwh = 8;
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 1});
  IS(f->charger_in, 0);
  IS(f->sun_charging, 0.9);
}
END_TEST

/* Heat limits the unit and its charger, not these inverters: 5 kW of charger at 0.4 take 2 of the
 * 2.9 kW that load and idle draw leave, and make 1.6 of DC. The cold halves what the battery
 * takes: 1.5 kW DC. */
START_TEST(heat_and_cold) {
  steading_stretch p = coupled();
  steading_state s = {.stored_kwh = {2}};
  const steading_hub_flow *f =
      step(&p, &s, (given){.sun = 5, .dc = 5, .load = 6, .ac_share = 0.05});
  IS(f->inverted, 0.5);
  IS(f->ac_sun, 5);
  IS(f->from_bus, 0.5);
  s.stored_kwh[0] = 2;
  f = step(&p, &s, (given){.sun = 4, .dc = 4, .load = 1, .ac_share = 0.4});
  IS(f->sun_charging, 2);
  IS(f->battery_in, 1.6);
  IS(f->to_bus, 0.9);
  s.stored_kwh[0] = 2;
  f = step(&p, &s, (given){.sun = 5, .dc = 5, .load = 1, .charge_share = 0.5});
  IS(f->sun_charging, 1.875);
  IS(f->battery_in, 1.5);
  IS(f->charge_blocked, 1);
  IS(f->to_bus, 2.025);
  s.stored_kwh[0] = 2;
  f = step(&p, &s, (given){.sun = 2, .dc = 2, .load = 1, .charge_share = 0.5});
  IS(f->charge_blocked, 0); /* 0.72 kW DC */
}
END_TEST

/* --- the inverters of an array -------------------------------------------------------------------
 */

/* 0.9 at any power, 0.72 kW at most: 0.8 kW DC. Without a limit the curve's shares are of the
 * modules' power, and beyond it the efficiency stays. */
START_TEST(what_they_make_of_dc) {
  steading_error error;
  steading_inverter_curve curve, kw;
  steading_inverter_made made;
  steading_own_inverter *own = build(&steading_own_inverter_spec, NULL,
                                     "{ ac_kw = 0.72, efficiency = { at_10 = 0.9, at_50 = 0.9, "
                                     "at_100 = 0.9 } }");
  ck_assert_int_eq(steading_inverter_own_curve_of(own, "", &curve, &error), STEADING_OK);
  kw = steading_inverter_parallel(&curve, 0.72);
  made = steading_inverter_follow(&kw, 0.72, 1);
  IS(made.ac_kw, 0.72);
  IS(made.dc_kw, 0.8);
  made = steading_inverter_follow(&kw, 0.72, 0.5);
  IS(made.ac_kw, 0.45);
  IS(made.dc_kw, 0.5);
  steading_record_release(own);
  /* idle draw of 2 % of the rating, and 3 % at it: sleeps up to 0.1 of 5 kW, 0.95 / 1 beyond */
  own = build(&steading_own_inverter_spec, NULL,
              "{ efficiency = { { ac_share = 0.5, efficiency = %.17g }, { ac_share = 1, "
              "efficiency = %.17g } } }",
              0.5 / (0.5 + 0.02 + 0.0075), 1 / 1.05);
  ck_assert_int_eq(steading_inverter_own_curve_of(own, "", &curve, &error), STEADING_OK);
  kw = steading_inverter_parallel(&curve, 5);
  made = steading_inverter_follow(&kw, (double)INFINITY, 0.0999);
  IS(made.ac_kw, 0);
  IS(made.dc_kw, 0);
  made = steading_inverter_follow(&kw, (double)INFINITY, 5.25);
  IS(made.ac_kw, 5);
  made = steading_inverter_follow(&kw, (double)INFINITY, 6.3);
  IS(made.ac_kw, 6);
  steading_record_release(own);
  ck_assert_int_eq(steading_inverter_own_curve_of(NULL, "", &curve, &error), STEADING_OK);
  IS(steading_inverter_follow(&curve, (double)INFINITY, 3).ac_kw, 2.88);
}
END_TEST

/* --- years ---------------------------------------------------------------------------------------
 */

/* 1 kW DC in every hour. */
#define ARRAY(more)                                                                       \
  "arrays = { { tilt_deg = 0, azimuth_deg = 180, sky_model = \"isotropic\", incidence = " \
  "false, soiling = 0, mismatch_loss = 0, dc_wiring_loss = 0, module = { watts = 1000, "  \
  "temp_coefficient_per_c = 0, degradation_per_year = 0 }, lots = { { count = 2 } }" more " } }"
#define OWN                                                                                 \
  ", coupled = \"ac\", own_inverter = { ac_kw = 0.72, efficiency = { at_10 = 0.9, at_50 = " \
  "0.9, at_100 = 0.9 } }"
#define UNIT(more) \
  "inverter = { unit = { ac_kw = 5, losses = { idle_w = 50, share_of_power = 0.25 }" more " } }"
#define LOAD(watts) \
  "buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = " #watts " } } } }"

/* 0.8 of 1 kW DC make 0.72 AC, of which 0.5 are for the load and 0.05 for the idle draw: 11 / 18 kW
 * DC. Nothing may leave. */
START_TEST(a_year_of_grey_light) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site = build_site(
      weather, "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", " UNIT(
                   "") ", " ARRAY(OWN) " } }, " LOAD(500) " }");
  steading_run *run = build_run(site, "{ start = \"2027-01\" }");
  build_month total = build_total(run);
  steading_losses losses;
  steading_buildings *buildings = NULL;
  const double dc = 0.55 / 0.9;
  ck_assert_double_eq_tol(total.sum.pv_available, HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(total.sum.pv_used, dc * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(total.sum.pv_curtailed, (1 - dc) * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(total.sum.inverter_loss, (dc - 0.5) * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq(total.sum.import, 0);
  ck_assert_double_lt(total.closure_error_kwh, 1e-8);
  ck_assert_int_eq(steading_run_losses(run, &losses, NULL), STEADING_OK);
  ck_assert_uint_eq(losses.count, 1);
  ck_assert_double_eq(losses.rows[0].kwh[STEADING_LINE_INPUT_LIMITS], 0);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_NOT_TAKEN], (dc - 1) * HOURS,
                          1e-8 * HOURS);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_INVERTER_LOSS], (0.5 - dc) * HOURS,
                          1e-8 * HOURS);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_DELIVERED], 0.5 * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(losses.rows[0].inverted_kwh, 0.5 * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(losses.rows[0].sums.ac_kwh, 0.5 * HOURS, 1e-8 * HOURS);
  steading_losses_free(&losses);
  ck_assert_int_eq(steading_run_buildings(run, &buildings, NULL), STEADING_OK);
  ck_assert_double_eq_tol(buildings->months[0].from_pv_kwh, 0.5 * 744, 1e-8 * 744);
  ck_assert_double_eq_tol(buildings->months[0].from_grid_kwh, 0, 1e-8);
  steading_buildings_free(buildings);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* With a battery that never fills: 0.72 - 0.5 - 0.05 = 0.17 kW AC at 0.8 are 0.136 DC, all stored.
 * The lines of the charger are of other sources alone. */
START_TEST(a_year_of_charging) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", " UNIT(
          ", charge_from_grid_kw = 2, charge_efficiency = 0.8") ", " ARRAY(
          OWN) ", battery = { module = { kwh = 9000, charge_kw = 2, discharge_kw = 2, "
               "round_trip_efficiency = 1 } } } }, " LOAD(500) " }");
  steading_run *run =
      build_run(site, "{ start = \"2027-01\", initial = { state_of_charge = 0.1 } }");
  build_month total = build_total(run);
  steading_losses losses;
  ck_assert_double_eq_tol(total.sum.battery_in, 0.136 * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(total.sum.battery_out, 0, 1e-8);
  ck_assert_double_eq_tol(total.sum.pv_used, 0.8 * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq(total.sum.charger_in, 0);
  ck_assert_int_eq(steading_run_losses(run, &losses, NULL), STEADING_OK);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_NOT_TAKEN], -0.2 * HOURS, 1e-8 * HOURS);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_CHARGER_LOSS], 0, 1e-8);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_STORED], -0.136 * HOURS, 1e-8 * HOURS);
  /* 0.08 of its own, 0.05 of idle draw, 0.034 of the charger */
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_INVERTER_LOSS], -0.164 * HOURS,
                          1e-8 * HOURS);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_DELIVERED], 0.5 * HOURS, 1e-8 * HOURS);
  steading_losses_free(&losses);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 0.3 of 0.5 kW while the grid is down, 6 of 24 hours; off the grid always. With it up, all. */
START_TEST(a_unit_that_gives_less_while_islanded) {
  steading_weather *weather = build_grey_weather(1);
  static const struct {
    const char *meter, *of_hub;
    double unserved_h;
  } sites[] = {{"meters = { m = { outages = { windows = \"12:00-18:00\" } } }", "meter = \"m\", ",
                HOURS / 4.0},
               {"meters = { m = {} }", "meter = \"m\", ", 0},
               {"name = \"off the grid\"", "", HOURS}};
  for (size_t k = 0; k < 3; k++) {
    const steading_site *site =
        build_site(weather,
                   "{ weather = @0, %s, hubs = { h = { %s" UNIT(", islanded_kw = 0.3") ", " ARRAY(
                       "") " } }, " LOAD(500) " }",
                   sites[k].meter, sites[k].of_hub);
    steading_run *run = build_run(site, "{ start = \"2027-01\" }");
    build_month total = build_total(run);
    ck_assert_double_eq_tol(total.sum.hub_unserved, 0.2 * sites[k].unserved_h, 1e-8 * HOURS);
    /* the losses are those of 5 kW: a quarter of what it gives, and the idle draw */
    ck_assert_double_eq_tol(total.sum.inverted, 0.5 * HOURS - 0.2 * sites[k].unserved_h,
                            1e-8 * HOURS);
    ck_assert_double_eq_tol(total.sum.inverter_loss, 0.25 * total.sum.inverted + 0.05 * HOURS,
                            1e-8 * HOURS);
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* Starts of outages on a site that carries 0.5 kW with the sun: at once over with 0.3 kW, never
 * with 0.5; two units of 0.3 do as well. */
START_TEST(riding_through_knows_of_it) {
  static const struct {
    const char *unit, *lots;
    bool holds;
  } sites[] = {{"", "", true},
               {", islanded_kw = 0.5", "", true},
               {", islanded_kw = 0.3", "", false},
               {", islanded_kw = 0.3", ", lots = { { count = 2 } }", true}};
  steading_weather *weather = build_grey_weather(1);
  steading_ask_ride *ask = build(&steading_ask_ride_spec, NULL,
                                 "{ start = \"2027-01\", years = 1, last_hours = { 24 } }");
  for (size_t k = 0; k < sizeof sites / sizeof sites[0]; k++) {
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { "
        "unit = { ac_kw = 5, losses = { idle_w = 50, share_of_power = 0.25 }%s }%s "
        "}, " ARRAY("") " } }, " LOAD(500) " }",
        sites[k].unit, sites[k].lots);
    steading_ride ride;
    ck_assert_int_eq(steading_ride_through(site, ask, NULL, &ride, NULL), STEADING_OK);
    for (size_t i = 0; i < ride.start_count; i++)
      ck_assert_uint_eq(ride.starts[i].steps, sites[k].holds ? STEADING_RIDE_OUTLASTS : 0);
    steading_ride_free(&ride);
    steading_record_release(site);
  }
  steading_record_release(ask);
  steading_weather_release(weather);
}
END_TEST

Suite *ac_coupled_suite(void) {
  Suite *suite = suite_create("ac_coupled");
  TCase *steps = tcase_create("steps"), *years = tcase_create("years");
  tcase_add_test(steps, it_serves_loads_before_the_unit_makes_anything);
  tcase_add_test(steps, what_loads_leave_pays_the_idle_draw_and_charges_the_battery);
  tcase_add_test(steps, the_rest_goes_to_the_bus_up_to_the_limit_of_export);
  tcase_add_test(steps, the_sun_on_dc_fills_the_battery_first);
  tcase_add_test(steps, pumps_take_it_before_what_the_unit_makes);
  tcase_add_test(steps, an_empty_battery_starts_no_grid);
  tcase_add_test(steps, at_its_floor_the_sun_itself_pays_the_idle_draw);
  tcase_add_test(steps, islanded_the_rest_is_curtailed);
  tcase_add_test(steps, beside_a_grid_it_works_without_the_unit);
  tcase_add_test(steps, beside_a_generator_it_feeds_loads_first_and_charges_nothing);
  tcase_add_test(steps, the_margin_of_import_is_kept);
  tcase_add_test(steps, the_load_moves_over_but_for_what_the_sun_feeds);
  tcase_add_test(steps, a_unit_is_awake_while_the_sun_shines_on_any_array);
  tcase_add_test(steps, in_a_charging_window_the_grid_adds_to_the_sun);
  tcase_add_test(steps, heat_and_cold);
  tcase_add_test(steps, what_they_make_of_dc);
  tcase_add_test(years, a_year_of_grey_light);
  tcase_add_test(years, a_year_of_charging);
  tcase_add_test(years, a_unit_that_gives_less_while_islanded);
  tcase_add_test(years, riding_through_knows_of_it);
  suite_add_tcase(suite, steps);
  suite_add_tcase(suite, years);
  return suite;
}
