/* Steps of several hubs, meters, wells and tanks, worked out by hand after reference/manual/
 * dispatch.md: without losses each number is a sum of what was put in. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "dispatch/kernel.h"
#include "suites.h"

enum { MOST_ROW = 512 };

static double row[MOST_ROW];
static steading_layout at;

/* Hubs on meter 0 without limits, losses and batteries; meters that import without limit. */
static steading_stretch lossless(size_t hubs, size_t meters) {
  steading_stretch p = {.step_h = 1, .hub_count = hubs, .meter_count = meters};
  for (size_t i = 0; i < hubs; i++)
    p.hubs[i] =
        (steading_hub_stretch){.ac_kw = 1000,
                               .pv_kw = 1000,
                               .pass_through_kw = 1000,
                               .efficiency_in = 1,
                               .efficiency_out = 1,
                               .exports = 1,
                               .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}};
  for (size_t m = 0; m < meters; m++)
    p.meters[m] = (steading_meter_stretch){.import_limit_kw = 1000};
  return p;
}

static void add_battery(steading_stretch *p, size_t i, double kwh, double floor_kwh, double kw) {
  p->hubs[i].floor_kwh = p->hubs[i].resume_kwh = floor_kwh;
  p->hubs[i].highest_kwh = kwh;
  p->hubs[i].charge_kw = p->hubs[i].discharge_kw = kw;
}

/* A pump of `kw` that fills a row of tanks. */
static void add_well(steading_stretch *p, int hub, int meter, double kw, double litres_per_h,
                     int tanks) {
  p->wells[p->well_count++] =
      (steading_well_stretch){.pump_kw = kw,
                              .per_pump_kw = 1 / kw,
                              .pump_l_per_step = litres_per_h * p->step_h,
                              .per_pump_l_per_step = 1 / (litres_per_h * p->step_h),
                              .hub = hub,
                              .meter = meter,
                              .first_tank = (int)p->tank_count,
                              .tanks = tanks};
  p->tank_count += (size_t)tanks;
}

static void step(const steading_stretch *p, steading_state *s, const double *pv, const double *hub,
                 const double *meter) {
  at = steading_layout_of(p->hub_count, p->meter_count, p->well_count, p->tank_count);
  ck_assert_uint_le(at.width, MOST_ROW);
  memset(row, 0xff, sizeof row);
  steading_kernel_run(
      p, s, 1, &(steading_step_rows){.stride = 1, .pv_kw = pv, .hub_kw = hub, .meter_kw = meter},
      row);
}

#define LIST(...) ((const double[]){__VA_ARGS__})
static const steading_hub_flow *hub(size_t i) { return steading_hub_flow_of(&at, row, i); }
static const steading_meter_flow *meter(size_t m) { return steading_meter_flow_of(&at, row, m); }
static const steading_well_flow *well(size_t w) { return steading_well_flow_of(&at, row, w); }
static const steading_tank_flow *tank(size_t t) { return steading_tank_flow_of(&at, row, t); }

#define IS(found, expected) ck_assert_double_eq_tol(found, expected, 1e-12)

/* --- a bus with several hubs ------------------------------------------------------------------ */

/* Hubs A and B send 6 and 3 kW of surplus, C and D want 2 and 4, the meter's own loads 2.
 * 9 kW: first 2 for the meter, the rest of 7 kW gives C and D all their 6, 1 kW is over: with an
 * export limit of 0.4 kW, 0.4 leaves and 0.6 is curtailed, 0.4 at A and 0.2 at B. */
START_TEST(surplus_feeds_the_meter_then_the_hubs_then_the_grid_and_the_rest_is_curtailed) {
  steading_stretch p = lossless(4, 1);
  steading_state s = {.stored_kwh = {0}};
  p.meters[0].export_limit_kw = 0.4;
  step(&p, &s, LIST(7, 4, 0, 0), LIST(1, 1, 2, 4), LIST(2));
  IS(hub(0)->to_bus, 5.6);
  IS(hub(1)->to_bus, 2.8);
  IS(hub(0)->pv_curtailed, 0.4);
  IS(hub(1)->pv_curtailed, 0.2);
  IS(hub(2)->from_bus, 2);
  IS(hub(3)->from_bus, 4);
  IS(meter(0)->served, 2);
  IS(meter(0)->export, 0.4);
  IS(meter(0)->import, 0);
}
END_TEST

/* 3 + 1 kW of surplus: 1 for the meter, 3 for C and D, who want 2 and 4: 1 and 2, and 1 and 2 kW
 * are imported. Nothing leaves, however much may. */
START_TEST(hubs_get_surplus_of_others_in_proportion_and_import_the_rest) {
  steading_stretch p = lossless(4, 1);
  steading_state s = {.stored_kwh = {0}};
  p.meters[0].export_limit_kw = 50;
  step(&p, &s, LIST(4, 2, 0, 0), LIST(1, 1, 2, 4), LIST(1));
  IS(hub(0)->to_bus, 3);
  IS(hub(1)->to_bus, 1);
  IS(hub(2)->from_bus, 2);
  IS(hub(3)->from_bus, 4);
  IS(meter(0)->import, 3);
  IS(meter(0)->export, 0);
  /* and when the grid gives nothing that rest is missing: C got 1 of 2, D 2 of 4 */
  p.meters[0].import_limit_kw = 0;
  step(&p, &s, LIST(4, 2, 0, 0), LIST(1, 1, 2, 4), LIST(1));
  IS(hub(2)->served, 1);
  IS(hub(3)->served, 2);
  IS(hub(2)->unserved, 1);
  IS(hub(3)->unserved, 2);
  IS(meter(0)->served, 1);
}
END_TEST

/* 6 kW for wants of 2 and 5 behind hubs and 3 on the meter: six tenths of each. */
START_TEST(a_shared_import_limit_is_split_in_proportion_to_what_is_wanted) {
  steading_stretch p = lossless(2, 1);
  steading_state s = {.stored_kwh = {0}};
  p.meters[0].import_limit_kw = 6;
  step(&p, &s, LIST(0, 0), LIST(2, 5), LIST(3));
  IS(hub(0)->from_bus, 1.2);
  IS(hub(1)->from_bus, 3);
  IS(meter(0)->served, 1.8);
  IS(meter(0)->import, 6);
  IS(hub(0)->unserved, 0.8);
  IS(hub(1)->unserved, 2);
  IS(meter(0)->unserved, 1.2);
}
END_TEST

/* A has 4 kW over and its order has no export, B 2 kW over that may leave; 3 kW are wanted on the
 * meter. In proportion 2 and 1 kW stay; 1 kW of B may leave, the 2 of A may not. */
START_TEST(what_may_not_be_exported_still_feeds_the_bus) {
  steading_stretch p = lossless(2, 1);
  steading_state s = {.stored_kwh = {0}};
  p.hubs[0].exports = 0;
  p.meters[0].export_limit_kw = 50;
  step(&p, &s, LIST(5, 3), LIST(1, 1), LIST(3));
  IS(hub(0)->to_bus, 2);
  IS(hub(1)->to_bus, 2);
  IS(hub(0)->pv_curtailed, 2);
  IS(meter(0)->export, 1);
  /* alone, it feeds what stands on the meter and no more */
  p = lossless(1, 1);
  p.hubs[0].exports = 0;
  p.meters[0].export_limit_kw = 50;
  step(&p, &s, LIST(5), LIST(1), LIST(3));
  IS(hub(0)->to_bus, 3);
  IS(hub(0)->pv_curtailed, 1);
  IS(meter(0)->export, 0);
}
END_TEST

/* Two meters: the surplus behind one does not reach the other. */
START_TEST(hubs_of_different_meters_do_not_help_each_other) {
  steading_stretch p = lossless(2, 2);
  steading_state s = {.stored_kwh = {0}};
  p.hubs[1].meter = 1;
  p.meters[0].export_limit_kw = 1;
  step(&p, &s, LIST(5, 0), LIST(1, 2), LIST(0.5, 0.25));
  IS(hub(0)->to_bus, 1.5);
  IS(meter(0)->export, 1);
  IS(meter(0)->import, 0);
  IS(meter(1)->import, 2.25);
  IS(hub(1)->from_bus, 2);
}
END_TEST

/* A hub with a margin against export gives nothing, also when it has no load to draw the margin
 * for; its sun charges nothing here and is left. */
START_TEST(a_hub_with_an_import_margin_gives_nothing) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.stored_kwh = {0}};
  p.hubs[0].import_margin_kw = 0.3;
  p.meters[0].export_limit_kw = 9;
  step(&p, &s, LIST(5), LIST(0), LIST(1));
  IS(hub(0)->to_bus, 0);
  IS(meter(0)->import, 1);
  IS(hub(0)->pv_curtailed, 5);
  step(&p, &s, LIST(5), LIST(2), LIST(1));
  IS(hub(0)->to_bus, 0);
  IS(hub(0)->from_bus, 0.3);
}
END_TEST

/* Its idle draw of 0.3 kW and 0.7 kW of load, while a neighbour has 4 kW over and the grid gives
 * nothing. */
START_TEST(a_hub_lives_on_the_surplus_of_its_neighbour) {
  steading_stretch p = lossless(2, 1);
  steading_state s = {.stored_kwh = {0}};
  p.hubs[1].idle_kw = 0.3;
  p.meters[0].import_limit_kw = 0;
  step(&p, &s, LIST(5, 0), LIST(1, 0.7), LIST(0));
  IS(hub(1)->served, 0.7);
  IS(hub(1)->idle_from_ac, 0.3);
  IS(hub(0)->to_bus, 1);
}
END_TEST

/* --- what a hub does when its battery does not reach ------------------------------------------ */

/* A load of 3 kW, a battery of 2 kW: with "adds" 2 from the battery and 1 from the bus, with
 * "transfers" all 3 from the bus and the battery rests. */
START_TEST(a_transfer_moves_the_whole_load_to_the_bus) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.stored_kwh = {8}};
  add_battery(&p, 0, 10, 1, 2);
  step(&p, &s, LIST(0), LIST(3), LIST(0));
  IS(hub(0)->battery_out, 2);
  IS(meter(0)->import, 1);
  s.stored_kwh[0] = 8;
  p.hubs[0].transfers = 1;
  step(&p, &s, LIST(0), LIST(3), LIST(0));
  IS(hub(0)->battery_out, 0);
  IS(meter(0)->import, 3);
  IS(s.stored_kwh[0], 8);
  /* 1.5 kW of sun and 2 kW of the battery carry it: nothing moves over */
  step(&p, &s, LIST(1.5), LIST(3), LIST(0));
  IS(hub(0)->battery_out, 1.5);
  IS(meter(0)->import, 0);
  /* 0.5 kW of sun and 2 kW do not: the sun charges the battery */
  s.stored_kwh[0] = 8;
  step(&p, &s, LIST(0.5), LIST(3), LIST(0));
  IS(meter(0)->import, 3);
  IS(hub(0)->battery_in, 0.5);
  IS(s.stored_kwh[0], 8.5);
  /* a load beyond the inverter moves over too, whatever the sun */
  p.hubs[0].ac_kw = 2.5;
  step(&p, &s, LIST(9), LIST(3), LIST(0));
  IS(meter(0)->import, 3);
  IS(hub(0)->inverted, 0);
  IS(hub(0)->battery_in, 1.5); /* full */
}
END_TEST

/* 3 kWh above the floor of 2: 2 kW in the first hour, 1 kW in the second, with which the battery is
 * at its floor. From there it waits for 6 kWh: the load stays on the bus even when 2.5 kW of sun
 * could carry it, and the sun charges: 2 + 1.5 + 2.5 = 6. Then sun and battery serve it again. */
START_TEST(a_transferred_load_stays_on_the_bus_until_resume) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.stored_kwh = {5}};
  static const double sun[] = {0, 0, 1.5, 2.5, 1.5, 0};
  static const double import[] = {0, 1, 2, 2, 0, 0};
  static const double stored[] = {3, 2, 3.5, 6, 5.5, 3.5};
  add_battery(&p, 0, 10, 2, 4);
  p.hubs[0].transfers = 1;
  p.hubs[0].resume_kwh = 6;
  for (int k = 0; k < 6; k++) {
    step(&p, &s, LIST(sun[k]), LIST(2), LIST(0));
    IS(meter(0)->import, import[k]);
    IS(s.stored_kwh[0], stored[k]);
  }
}
END_TEST

/* The same with "adds": sun serves the load as ever while the battery waits, so that only what is
 * over charges it. 2 kW of load: 5 - 2 = 3, 3 - 1 = 2 (1 kW imported). Sun of 1.5: 0.5 imported,
 * nothing stored. Sun of 5: 3 stored, 5 kWh; again 3: 8. Then it serves down to the floor. */
START_TEST(a_waiting_battery_lets_the_sun_serve_and_serves_again_from_resume_on) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.stored_kwh = {5}};
  static const double sun[] = {0, 0, 1.5, 5, 0, 5, 0, 0, 0, 0};
  static const double import[] = {0, 1, 0.5, 0, 2, 0, 0, 0, 0, 2};
  static const double stored[] = {3, 2, 2, 5, 5, 8, 6, 4, 2, 2};
  add_battery(&p, 0, 10, 2, 4);
  p.hubs[0].resume_kwh = 6;
  for (int k = 0; k < 10; k++) {
    step(&p, &s, LIST(sun[k]), LIST(2), LIST(0));
    IS(meter(0)->import, import[k]);
    IS(s.stored_kwh[0], stored[k]);
  }
}
END_TEST

/* A margin of 0.4 kW: of a load of 2 kW the hub makes 1.6, of one of 0.3 kW none. */
START_TEST(a_margin_is_drawn_from_the_bus_as_far_as_loads_take_it) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.stored_kwh = {8}};
  add_battery(&p, 0, 10, 1, 5);
  p.hubs[0].import_margin_kw = 0.4;
  p.meters[0].export_limit_kw = 9;
  step(&p, &s, LIST(0), LIST(2), LIST(0));
  IS(meter(0)->import, 0.4);
  IS(hub(0)->battery_out, 1.6);
  s.stored_kwh[0] = 10;
  step(&p, &s, LIST(5), LIST(0.3), LIST(0));
  IS(meter(0)->import, 0.3);
  IS(meter(0)->export, 0);
  IS(hub(0)->pv_used, 0);
}
END_TEST

/* --- orders of surplus ------------------------------------------------------------------------ */

/* 12 kW of sun over: a pump takes 2, the battery 3, the bus 4 (2 for the meter, 2 of export). Full
 * wants of 9 leave 3 unused; with 6 kW the order tells who goes short. */
START_TEST(surplus_is_handed_out_in_the_order_of_the_rules) {
  enum { W = STEADING_TO_WATER, B = STEADING_TO_BATTERY, X = STEADING_TO_BUS };
  static const struct {
    int order[3];
    double pump, battery, bus;
  } orders[] = {{{W, B, X}, 2, 3, 1}, {{W, X, B}, 2, 0, 4}, {{B, W, X}, 2, 3, 1},
                {{B, X, W}, 0, 3, 3}, {{X, W, B}, 2, 0, 4}, {{X, B, W}, 0, 2, 4}};
  for (size_t k = 0; k < sizeof orders / sizeof orders[0]; k++) {
    for (int plenty = 0; plenty < 2; plenty++) {
      steading_stretch p = lossless(1, 1);
      steading_state s = {.stored_kwh = {5}, .tank_l = {500}};
      add_battery(&p, 0, 100, 0, 3);
      add_well(&p, 0, -1, 2, 100, 1);
      p.tanks[0] = (steading_tank_stretch){.full_l = 1000, .surplus_l = 1000};
      p.meters[0].export_limit_kw = 2;
      memcpy(p.hubs[0].order, orders[k].order, sizeof p.hubs[0].order);
      step(&p, &s, LIST(plenty ? 13 : 7), LIST(1), LIST(2));
      IS(well(0)->pump, plenty ? 2 : orders[k].pump);
      IS(hub(0)->battery_in, plenty ? 3 : orders[k].battery);
      IS(hub(0)->to_bus, plenty ? 4 : orders[k].bus);
      IS(meter(0)->export, hub(0)->to_bus - 2 > 0 ? hub(0)->to_bus - 2 : 0);
      IS(meter(0)->import, hub(0)->to_bus < 2 ? 2 - hub(0)->to_bus : 0);
      IS(hub(0)->pv_curtailed, plenty ? 3 : 0);
      IS(tank(0)->level_l, 500 + 50 * well(0)->pump);
    }
  }
}
END_TEST

START_TEST(who_is_left_out_of_the_order_takes_nothing) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.stored_kwh = {5}, .tank_l = {500}};
  const int export_only[3] = {STEADING_TO_BUS, STEADING_TO_NOBODY, STEADING_TO_NOBODY};
  add_battery(&p, 0, 100, 0, 3);
  add_well(&p, 0, -1, 2, 100, 1);
  p.tanks[0] = (steading_tank_stretch){.full_l = 1000, .surplus_l = 1000};
  p.meters[0].export_limit_kw = 2;
  memcpy(p.hubs[0].order, export_only, sizeof export_only);
  step(&p, &s, LIST(13), LIST(1), LIST(2));
  IS(well(0)->pump, 0);
  IS(hub(0)->battery_in, 0);
  IS(hub(0)->to_bus, 4);
  IS(hub(0)->pv_curtailed, 8);
}
END_TEST

/* --- wells and tanks -------------------------------------------------------------------------- */

/* A well of 600 l/h and two tanks: `low` is to be filled to 900 and has 500, 50 are drawn: it asks
 * for 450; `high` asks for 800 - 600 + 0 = 200. Together 650 of 600 l: the pump runs all the hour
 * and `high` gets what `low` leaves, 150. In the next hour 50 + 50 l are asked for, a sixth. */
START_TEST(one_well_fills_two_tanks_in_their_order) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.tank_l = {500, 600}, .filling = {1, 1}};
  add_well(&p, 0, -1, 3, 600, 2);
  p.tanks[0] = (steading_tank_stretch){.full_l = 1000, .start_l = 550, .stop_l = 900, .draw_l = 50};
  p.tanks[1] = (steading_tank_stretch){.full_l = 1000, .start_l = 700, .stop_l = 800};
  step(&p, &s, LIST(0), LIST(1), LIST(0));
  IS(well(0)->duty_h, 1);
  IS(well(0)->pump, 3);
  IS(meter(0)->import, 4);
  IS(tank(0)->level_l, 900);
  IS(tank(1)->level_l, 750);
  IS(tank(0)->delivered_l, 50);
  ck_assert_double_eq(s.filling[0], 0);
  ck_assert_double_eq(s.filling[1], 1);
  step(&p, &s, LIST(0), LIST(1), LIST(0)); /* `low` is at rest and loses 50; `high` wants 50 */
  IS(well(0)->duty_h, 50.0 / 600);
  IS(tank(0)->level_l, 850);
  IS(tank(1)->level_l, 800);
  ck_assert_double_eq(s.filling[1], 0);
}
END_TEST

/* Surplus of 1 kW drives a pump of 2 kW and 600 l/h for half an hour: 300 l, of which `low` has
 * room for 200 and `high` takes 100. */
START_TEST(surplus_fills_the_tanks_of_a_well_in_their_order) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.tank_l = {700, 300}};
  add_well(&p, 0, -1, 2, 600, 2);
  p.tanks[0] = (steading_tank_stretch){.full_l = 1000, .surplus_l = 900};
  p.tanks[1] = (steading_tank_stretch){.full_l = 1000, .surplus_l = 1000};
  step(&p, &s, LIST(2), LIST(1), LIST(0));
  IS(well(0)->pump, 1);
  IS(tank(0)->level_l, 900);
  IS(tank(1)->level_l, 400);
  step(&p, &s, LIST(9), LIST(1), LIST(0)); /* plenty: 600 l fill `high` */
  IS(tank(1)->level_l, 1000);
  IS(well(0)->pump, 2);
  step(&p, &s, LIST(9), LIST(1), LIST(0));
  IS(well(0)->pump, 0);
  IS(hub(0)->pv_curtailed, 8);
}
END_TEST

/* A pump straight on a meter runs when its tank asks, whatever the sun of the hub beside it; the
 * hub's surplus feeds it through the bus. Surplus alone does not start it. */
START_TEST(a_pump_on_a_meter_makes_firm_runs_only) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.tank_l = {300}, .filling = {1}};
  add_well(&p, -1, 0, 2, 200, 1);
  p.tanks[0] =
      (steading_tank_stretch){.full_l = 1000, .start_l = 400, .stop_l = 600, .surplus_l = 1000};
  step(&p, &s, LIST(2.5), LIST(1), LIST(0));
  IS(meter(0)->load, 2);
  IS(meter(0)->import, 0.5);
  IS(hub(0)->to_bus, 1.5);
  IS(tank(0)->level_l, 500);
  step(&p, &s, LIST(0), LIST(1), LIST(0)); /* 100 of 200 l */
  IS(well(0)->pump, 1);
  IS(meter(0)->import, 2);
  IS(tank(0)->level_l, 600);
  step(&p, &s, LIST(9), LIST(1), LIST(0));
  IS(well(0)->pump, 0);
}
END_TEST

/* Two pumps behind one meter of 3 kW, one on the hub (2 kW) and one on the meter (1.5 kW), loads of
 * 1.5 and 1: wants of 3.5 and 2.5 get half: 1.75 and 1.25, so each pump gives way on its own
 * side: 2 - 1.75 = 0.25 kW and 0.25 kW are left to pump. */
START_TEST(each_pump_gives_way_on_its_own_side) {
  steading_stretch p = lossless(1, 1);
  steading_state s = {.tank_l = {100, 100}, .filling = {1, 1}};
  add_well(&p, 0, -1, 2, 100, 1);
  add_well(&p, -1, 0, 1.5, 100, 1);
  for (int t = 0; t < 2; t++)
    p.tanks[t] = (steading_tank_stretch){.full_l = 1000, .start_l = 400, .stop_l = 900};
  p.meters[0].import_limit_kw = 3;
  step(&p, &s, LIST(0), LIST(1.5), LIST(1));
  IS(well(0)->pump, 0.25);
  IS(well(1)->pump, 0.25);
  IS(hub(0)->unserved + meter(0)->unserved, 0);
  IS(hub(0)->load, 1.75);
  IS(meter(0)->load, 1.25);
  IS(tank(0)->level_l, 112.5);
  IS(tank(1)->level_l, 100 + 100.0 / 6);
}
END_TEST

/* Grid free by the site's import and by the hub's own bus. */
START_TEST(a_hub_fed_by_its_neighbour_leaves_the_site_free_of_the_grid) {
  steading_stretch p = lossless(2, 1);
  steading_state s = {.stored_kwh = {0}};
  p.grid_free_below_kw = 0.05;
  step(&p, &s, LIST(5, 0), LIST(1, 2), LIST(0));
  ck_assert_double_eq(steading_site_flow_of(row)->grid_free, 1);
  ck_assert_double_eq(hub(0)->grid_free, 1);
  ck_assert_double_eq(hub(1)->grid_free, 0);
}
END_TEST

Suite *rules_suite(void) {
  Suite *suite = suite_create("rules");
  TCase *bus = tcase_create("bus"), *battery = tcase_create("battery"),
        *water = tcase_create("water");
  tcase_add_test(bus,
                 surplus_feeds_the_meter_then_the_hubs_then_the_grid_and_the_rest_is_curtailed);
  tcase_add_test(bus, hubs_get_surplus_of_others_in_proportion_and_import_the_rest);
  tcase_add_test(bus, a_shared_import_limit_is_split_in_proportion_to_what_is_wanted);
  tcase_add_test(bus, what_may_not_be_exported_still_feeds_the_bus);
  tcase_add_test(bus, hubs_of_different_meters_do_not_help_each_other);
  tcase_add_test(bus, a_hub_lives_on_the_surplus_of_its_neighbour);
  tcase_add_test(bus, a_hub_with_an_import_margin_gives_nothing);
  tcase_add_test(bus, a_hub_fed_by_its_neighbour_leaves_the_site_free_of_the_grid);
  tcase_add_test(battery, a_transfer_moves_the_whole_load_to_the_bus);
  tcase_add_test(battery, a_transferred_load_stays_on_the_bus_until_resume);
  tcase_add_test(battery, a_waiting_battery_lets_the_sun_serve_and_serves_again_from_resume_on);
  tcase_add_test(battery, a_margin_is_drawn_from_the_bus_as_far_as_loads_take_it);
  tcase_add_test(battery, surplus_is_handed_out_in_the_order_of_the_rules);
  tcase_add_test(battery, who_is_left_out_of_the_order_takes_nothing);
  tcase_add_test(water, one_well_fills_two_tanks_in_their_order);
  tcase_add_test(water, surplus_fills_the_tanks_of_a_well_in_their_order);
  tcase_add_test(water, a_pump_on_a_meter_makes_firm_runs_only);
  tcase_add_test(water, each_pump_gives_way_on_its_own_side);
  suite_add_tcase(suite, bus);
  suite_add_tcase(suite, battery);
  suite_add_tcase(suite, water);
  return suite;
}
