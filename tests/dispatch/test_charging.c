/* Charging from the grid, hours of discharge, batteries kept for outages and reserves raised ahead
 * of dull days: single steps and years worked out by hand after reference/manual/dispatch.md. No
 * published numbers exist for such rules: what is checked is arithmetic and the manual. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "dispatch/forecast.h"
#include "dispatch/reason.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR, MOST_ROW = 256 };

static double row[MOST_ROW];
static steading_layout at;

/* Hubs on meter 0 with 10 kWh, 3 kW and a charger of 5 kW that fills up to 8 kWh; no idle draw. */
static steading_stretch charging(size_t hubs) {
  steading_stretch p = {.step_h = 1, .hub_count = hubs, .meter_count = 1};
  for (size_t i = 0; i < hubs; i++)
    p.hubs[i] =
        (steading_hub_stretch){.ac_kw = 1000,
                               .pv_kw = 1000,
                               .pass_through_kw = 1000,
                               .highest_kwh = 10,
                               .floor_kwh = 1,
                               .resume_kwh = 1,
                               .charge_kw = 3,
                               .discharge_kw = 3,
                               .efficiency_in = 0.9,
                               .efficiency_out = 1,
                               .charger_kw = 5,
                               .charger_efficiency = 0.8,
                               .charge_to_kwh = 8,
                               .exports = 1,
                               .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}};
  p.meters[0] = (steading_meter_stretch){.import_limit_kw = 1000, .export_limit_kw = 1000};
  return p;
}

static void step(const steading_stretch *p, steading_state *s, const double *pv, const double *hub,
                 double meter) {
  at = steading_layout_of(p->hub_count, p->meter_count, 0, 0);
  memset(row, 0xff, sizeof row);
  steading_kernel_run(
      p, s, 1, &(steading_step_rows){.stride = 1, .pv_kw = pv, .hub_kw = hub, .meter_kw = &meter},
      row);
}

#define LIST(...) ((const double[]){__VA_ARGS__})
static const steading_hub_flow *hub(size_t i) { return steading_hub_flow_of(&at, row, i); }
static const steading_meter_flow *meter(void) { return steading_meter_flow_of(&at, row, 0); }

#define IS(found, expected) ck_assert_double_eq_tol(found, expected, 1e-12)

/* --- the charger ---------------------------------------------------------------------------------
 */

/* 3 kW DC of 3.75 kW AC, of which 2.7 are stored; the load of 1 kW comes from the bus as well. */
START_TEST(the_charger_fills_the_battery_beside_the_load) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {2}};
  step(&p, &s, LIST(0), LIST(1), 0.5);
  IS(hub(0)->charger_in, 3.75);
  IS(hub(0)->rectified, 3);
  IS(hub(0)->battery_in, 3);
  IS(hub(0)->battery_loss, 0.3);
  IS(hub(0)->inverter_loss, 0.75);
  IS(hub(0)->from_bus, 4.75);
  IS(hub(0)->served, 1);
  IS(hub(0)->inverted, 0);
  IS(s.stored_kwh[0], 4.7);
  IS(meter()->import, 5.25);
  /* its own power binds: 2 kW AC are 1.6 DC, 1.44 stored */
  p.hubs[0].charger_kw = 2;
  step(&p, &s, LIST(0), LIST(0), 0);
  IS(hub(0)->charger_in, 2);
  IS(s.stored_kwh[0], 6.14);
  /* up to its level: 1.86 kWh are 2.0667 DC, more than 2 kW AC make: 1.44 again; then 0.42 */
  step(&p, &s, LIST(0), LIST(0), 0);
  IS(s.stored_kwh[0], 7.58);
  step(&p, &s, LIST(0), LIST(0), 0);
  IS(s.stored_kwh[0], 8);
  IS(hub(0)->charger_in, 0.42 / 0.9 / 0.8);
  step(&p, &s, LIST(0), LIST(2), 0);
  IS(hub(0)->charger_in, 0);
  IS(hub(0)->from_bus, 2); /* in its window the battery is kept at this level */
  IS(s.stored_kwh[0], 8);
}
END_TEST

/* In the heat: 40 % of 5 kW are 2 kW AC, 1.6 DC, 1.44 stored; at 90 % of it, 4.5 kW, the battery
 * binds with 3 kW DC of 3.75 AC. What passes on to the load is not the unit's. A unit that is too
 * hot for anything charges from the sun alone, and the battery keeps its level. */
START_TEST(heat_limits_the_charger) {
  static const struct {
    double share, pv, charger_in, stored;
  } cases[] = {{0.4, 0, 2, 2 + 1.44}, {0.9, 0, 3.75, 4.7}, {0, 0, 0, 2}, {0, 1, 0, 2.9}};
  for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
    const double meter_kw = 0;
    steading_stretch p = charging(1);
    steading_state s = {.stored_kwh = {2}};
    at = steading_layout_of(1, 1, 0, 0);
    steading_kernel_run(&p, &s, 1,
                        &(steading_step_rows){.stride = 1,
                                              .pv_kw = &cases[c].pv,
                                              .hub_kw = LIST(7),
                                              .meter_kw = &meter_kw,
                                              .ac_share = &cases[c].share},
                        row);
    IS(hub(0)->charger_in, cases[c].charger_in);
    IS(hub(0)->from_bus, 7 + cases[c].charger_in);
    IS(hub(0)->served, 7);
    IS(s.stored_kwh[0], cases[c].stored);
  }
}
END_TEST

/* A year in a room of 52.5 C, half way from 45 to 60 C, so that half is left: of 2 kW it charges
 * with 1 from 00:00 to 03:00, and stores 3 kWh without losses, which the day uses up. */
START_TEST(a_hot_unit_charges_less_every_night) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { room_c = "
      "52.5, unit = { ac_kw = 5, losses = { idle_w = 0 }, derate = { { temp_c = 45, share = 1 }, { "
      "temp_c = 60, share = 0 } }, charge_from_grid_kw = 2, charge_efficiency = 1 } }, battery = { "
      "module = { kwh = 10, charge_kw = 5, discharge_kw = 5, round_trip_efficiency = 1 } }, rules "
      "= "
      "{ battery_floor = 0, charge_from_grid = { window = \"00:00-03:00\", charge_to = 1 } } } }, "
      "buildings = { b = { "
      "hub = \"h\", loads = { { kind = \"timed\", kw = 1, window = \"12:00-16:00\" } } } } }");
  steading_run *run = build_run(
      site, "{ start = \"2027-01\", keep = \"steps\", initial = { state_of_charge = 0 } }");
  for (size_t k = 0; k < HOURS; k++) {
    const steading_hub_flow *f =
        steading_hub_flow_of(&run->layout, run->steps + k * run->layout.width, 0);
    size_t hour = k % 24;
    ck_assert_double_eq_tol(f->charger_in, hour < 3 ? 1 : 0, 1e-9);
    ck_assert_double_eq_tol(f->battery_out, hour >= 12 && hour < 15 ? 1 : 0, 1e-9);
    ck_assert_double_eq_tol(f->from_bus, hour < 3 || hour == 15 ? 1 : 0, 1e-9);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* The grid gives 2 kW: 1 for the load, 0.4 on the meter, 0.6 for the charger. With 1.5 kW through
 * the hub, 0.5. */
START_TEST(the_charger_takes_what_loads_leave_of_the_limits) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {2}};
  p.meters[0].import_limit_kw = 2;
  step(&p, &s, LIST(0), LIST(1), 0.4);
  IS(hub(0)->charger_in, 0.6);
  IS(hub(0)->unserved, 0);
  IS(meter()->unserved, 0);
  IS(meter()->import, 2);
  p.hubs[0].pass_through_kw = 1.5;
  step(&p, &s, LIST(0), LIST(1), 0.4);
  IS(hub(0)->charger_in, 0.5);
  IS(hub(0)->from_bus, 1.5);
}
END_TEST

/* Loads beyond the limit: the battery helps as ever and nothing is charged. 3 kW from 5 kWh. */
START_TEST(where_loads_do_not_fit_the_hub_works_as_ever) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {5}};
  p.meters[0].import_limit_kw = 2;
  step(&p, &s, LIST(0), LIST(3), 0.4);
  IS(hub(0)->charger_in, 0);
  IS(hub(0)->battery_out, 3);
  IS(hub(0)->unserved, 0);
  IS(meter()->import, 0.4);
  IS(s.stored_kwh[0], 2);
}
END_TEST

/* 1 kW of sun goes to the battery, 2 more of the 3 that it takes come from 2.5 kW AC, and the load
 * from the bus. 4 kW of sun need no help: they serve the load, and 3 are left for the battery. */
START_TEST(sun_charges_first) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {2}};
  step(&p, &s, LIST(1), LIST(1), 0);
  IS(hub(0)->pv_used, 1);
  IS(hub(0)->pv_curtailed, 0);
  IS(hub(0)->battery_in, 3);
  IS(hub(0)->charger_in, 2.5);
  IS(hub(0)->from_bus, 3.5);
  step(&p, &s, LIST(4), LIST(1), 0);
  IS(hub(0)->inverted, 1);
  IS(hub(0)->battery_in, 3);
  IS(hub(0)->charger_in, 0);
  IS(hub(0)->from_bus, 0);
  /* a rule that gives the battery no sun: then it charges without sun only */
  memcpy(p.hubs[0].order, ((int[]){STEADING_TO_WATER, STEADING_TO_BUS, STEADING_TO_NOBODY}),
         sizeof p.hubs[0].order);
  s.stored_kwh[0] = 2;
  step(&p, &s, LIST(1), LIST(1), 0);
  IS(hub(0)->inverted, 1);
  IS(hub(0)->charger_in, 0);
  step(&p, &s, LIST(0), LIST(1), 0);
  IS(hub(0)->charger_in, 3.75);
}
END_TEST

/* Above the level the battery serves, down to it: 9 kWh, 1 of the 2 kW. */
START_TEST(in_its_window_the_battery_serves_above_its_level) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {9}};
  step(&p, &s, LIST(0), LIST(2), 0);
  IS(hub(0)->battery_out, 1);
  IS(hub(0)->from_bus, 1);
  IS(s.stored_kwh[0], 8);
  IS(s.blocked[0], 0);
}
END_TEST

/* Hub 1 sends 2 kW of surplus, hubs 0 and 2 want 3.75 each for their batteries. The meter takes
 * 0.5 of it, 1.5 go to the chargers, and the grid, limited to 3 kW, gives 3 more: 2.25 each. */
START_TEST(chargers_share_what_neighbours_send_and_the_limit_leaves) {
  steading_stretch p = charging(3);
  steading_state s = {.stored_kwh = {2, 10, 2}};
  p.meters[0].import_limit_kw = 3;
  p.hubs[1].charger_kw = 0;
  step(&p, &s, LIST(0, 2, 0), LIST(0, 0, 0), 0.5);
  IS(hub(1)->to_bus, 2);
  IS(hub(0)->charger_in, 2.25);
  IS(hub(2)->charger_in, 2.25);
  IS(meter()->import, 3);
  IS(meter()->export, 0);
}
END_TEST

/* A unit that charges is awake: 0.2 kW beside 3.75. With nothing to charge it sleeps: 0.05. */
START_TEST(a_unit_that_charges_draws_its_idle_power) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {2}};
  p.hubs[0].idle_kw = 0.2;
  p.hubs[0].night_saving_kw = 0.15;
  step(&p, &s, LIST(0), LIST(0), 0);
  IS(hub(0)->idle_from_ac, 0.2);
  IS(hub(0)->from_bus, 3.95);
  IS(hub(0)->inverter_loss, 0.95);
  s.stored_kwh[0] = 8;
  step(&p, &s, LIST(0), LIST(0), 0);
  IS(hub(0)->idle_from_ac, 0.05);
  IS(hub(0)->charger_in, 0);
  /* 0.1 kW of sun pays half of the idle draw */
  s.stored_kwh[0] = 2;
  step(&p, &s, LIST(0.1), LIST(0), 0);
  IS(hub(0)->idle_from_dc, 0.1);
  IS(hub(0)->idle_from_ac, 0.1);
  IS(hub(0)->charger_in, 3.75);
}
END_TEST

/* --- a battery that is kept ----------------------------------------------------------------------
 */

/* Idle from the sun, then from the bus; the sun serves and charges as ever; what it remembers of
 * its floor is untouched, though 5 kWh lie below the 7 at which it would serve again. */
START_TEST(outside_its_hours_the_battery_serves_nothing) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {5}};
  p.hubs[0].charger_kw = p.hubs[0].charge_to_kwh = 0;
  p.hubs[0].idle_kw = 0.2;
  p.hubs[0].resume_kwh = 7;
  p.hubs[0].holds = 1;
  step(&p, &s, LIST(0), LIST(1), 0);
  IS(hub(0)->battery_out, 0);
  IS(hub(0)->idle_from_ac, 0.2);
  IS(hub(0)->from_bus, 1.2);
  step(&p, &s, LIST(0.15), LIST(1), 0);
  IS(hub(0)->idle_from_dc, 0.15);
  IS(hub(0)->idle_from_ac, 0.05);
  step(&p, &s, LIST(2.2), LIST(1), 0);
  IS(hub(0)->inverted, 1);
  IS(hub(0)->battery_in, 1);
  IS(s.stored_kwh[0], 5.9);
  IS(s.blocked[0], 0);
  p.hubs[0].holds = 0;
  step(&p, &s, LIST(0), LIST(1), 0);
  IS(hub(0)->battery_out, 1.2);
  IS(hub(0)->from_bus, 0);
}
END_TEST

/* A raised reserve of 6 kWh: nothing from 5; of 7.5 kWh 1.5. Nothing is remembered afterwards. */
START_TEST(a_raised_reserve_is_a_floor) {
  steading_stretch p = charging(1);
  steading_state s = {.stored_kwh = {5}};
  p.hubs[0].charger_kw = p.hubs[0].charge_to_kwh = 0;
  p.hubs[0].keep_kwh = 6;
  p.hubs[0].resume_kwh = 7;
  step(&p, &s, LIST(0), LIST(1), 0);
  IS(hub(0)->battery_out, 0);
  IS(hub(0)->from_bus, 1);
  s.stored_kwh[0] = 7.5;
  step(&p, &s, LIST(0), LIST(2), 0);
  IS(hub(0)->battery_out, 1.5);
  IS(s.stored_kwh[0], 6);
  IS(s.blocked[0], 0);
  p.hubs[0].keep_kwh = 0;
  step(&p, &s, LIST(0), LIST(2), 0);
  IS(hub(0)->battery_out, 2);
}
END_TEST

/* --- a plan of nights and days -------------------------------------------------------------------
 */

/* A lossless battery of 10 kWh behind an inverter of 0.94 and a charger of 0.95, 0.5 kW of load at
 * all hours, no sun. */
static const char *const night_plan =
    "{ weather = @0, meters = { m = { %s } }, hubs = { h = { meter = \"m\", "
    "inverter = { unit = { ac_kw = 3, losses = { idle_w = 0, share_of_power = %.17g }, "
    "charge_from_grid_kw = 5, charge_efficiency = 0.95 } }, "
    "battery = { module = { kwh = 10, charge_kw = 5, discharge_kw = 5, "
    "round_trip_efficiency = 1 } }, rules = { battery_floor = 0.1, %s } } }, "
    "buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = 500 } } } } }";

static const char *const full =
    "{ start = \"2027-01\", keep = \"steps\", initial = { "
    "state_of_charge = 1 } }";

static steading_run *run_plan(const char *of_meter, const char *rules) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(weather, night_plan, of_meter, 1 / 0.94 - 1, rules);
  steading_run *run = build_run(site, full);
  steading_record_release(site);
  steading_weather_release(weather);
  return run;
}

/* Import of the hours `from` to `to` of all days. */
static double import_of(const steading_run *run, size_t from, size_t to) {
  double sum = 0;
  for (size_t k = 0; k < HOURS; k++)
    if (k % 24 >= from && k % 24 < to) sum += build_step(run, k).import;
  return sum;
}

static double charged_in(const steading_run *run) {
  double sum = 0;
  for (size_t k = 0; k < HOURS; k++)
    sum += steading_hub_flow_of(&run->layout, run->steps + k * run->layout.width, 0)->charger_in;
  return sum;
}

static const char *const night =
    "charge_from_grid = { window = \"00:00-04:00\", charge_to = 1 }, "
    "discharge_windows = \"08:00-16:00\"";

/* 8 h x 0.5 kW are 4 / 0.94 kWh of the store a day, which the next night takes 4 / 0.94 / 0.95 kWh
 * to bring back: 364 nights, since the last day is not paid back. */
START_TEST(a_battery_that_charges_at_night_and_serves_the_day) {
  steading_run *run = run_plan("", night);
  double days = 365, back = 4 / 0.94 / 0.95;
  ck_assert_double_eq_tol(import_of(run, 8, 16), 0, 1e-9);
  ck_assert_double_eq_tol(import_of(run, 4, 8), 4 * 0.5 * days, 1e-9);
  ck_assert_double_eq_tol(import_of(run, 0, 4), 4 * 0.5 * days + 364 * back, 1e-9);
  ck_assert_double_eq_tol(charged_in(run), 364 * back, 1e-9);
  ck_assert_double_eq_tol(build_total(run).closure_error_kwh, 0, 1e-9);
  for (size_t k = 0; k < 48; k++) {
    int expected = STEADING_REASON_window;
    if (k % 24 < 4) expected = STEADING_REASON_charge_from_grid;
    if (k % 24 >= 8 && k % 24 < 16) expected = STEADING_REASON_none;
    ck_assert_int_eq(run->reasons[k], expected);
  }
  steading_run_release(run);
}
END_TEST

/* Twice the hours of discharge move twice the energy, as long as the battery holds it: 8 and 16 h.
 */
START_TEST(twice_the_hours_move_twice_the_energy) {
  steading_run *one = run_plan("", night);
  steading_run *two = run_plan("",
                               "charge_from_grid = { window = \"00:00-04:00\", charge_to = 1 }, "
                               "discharge_windows = \"06:00-22:00\"");
  ck_assert_double_eq_tol(charged_in(two), 2 * charged_in(one), 1e-8);
  steading_run_release(one);
  steading_run_release(two);
}
END_TEST

/* What a year's energy costs at a price of 1 from 4:00 on and `night_price` before. */
static double cost_of(const steading_run *run, double night_price) {
  return import_of(run, 4, 24) + night_price * import_of(run, 0, 4);
}

/* A kWh by day takes 1 / (0.94 x 0.95) at night: it pays below a price ratio of 0.893 only. */
START_TEST(a_night_tariff_pays_only_beyond_the_losses) {
  steading_run *plan = run_plan("", night), *plain = run_plan("", "battery_use = \"outages\"");
  double limit = 0.94 * 0.95, cells = 364 * 4;
  double first = 4; /* the charge that was there at the start serves the last day for nothing */
  ck_assert_double_lt(cost_of(plan, limit - 0.01), cost_of(plain, limit - 0.01) - first);
  ck_assert_double_gt(cost_of(plan, limit + 0.01), cost_of(plain, limit + 0.01) - first);
  ck_assert_double_eq_tol(cost_of(plain, 0.5) - first - cost_of(plan, 0.5),
                          cells * (1 - 0.5 / limit), 1e-8);
  steading_run_release(plan);
  steading_run_release(plain);
}
END_TEST

/* Kept for outages: full until the first of them; 0.5 / 0.94 kWh an hour then, down to the floor of
 * 1 kWh; no load before or after. Charging brings it back by night. */
START_TEST(a_battery_for_outages_serves_in_them_alone) {
  const char *of_meter = "outages = { windows = { hours = \"17:00-19:00\", days = \"Mon\" } }";
  steading_run *run = run_plan(of_meter, "battery_use = \"outages\"");
  size_t outages = 0;
  for (size_t k = 0; k < HOURS; k++) {
    /* 1 January 2027 is a Friday: its Mondays are days 3, 10 ... */
    bool down = k / 24 % 7 == 3 && k % 24 >= 17 && k % 24 < 19;
    const steading_hub_flow *f =
        steading_hub_flow_of(&run->layout, run->steps + k * run->layout.width, 0);
    outages += down ? 1 : 0;
    if (!down) {
      ck_assert(f->battery_out == 0 && f->from_bus == 0.5);
      ck_assert_int_eq(run->reasons[k], STEADING_REASON_battery_use);
    }
    if (down && outages <= 16) IS(f->battery_out, 0.5 / 0.94); /* 16 x 0.532 of the 9 kWh */
    if (down && outages > 17) ck_assert(f->unserved > 0.499);
  }
  ck_assert_uint_eq(outages, 104);
  steading_run_release(run);
}
END_TEST

/* --- the reserve ahead of dull days --------------------------------------------------------------
 */

static void fill_civil(steading_civil_step *civil, int step_minutes) {
  steading_clock_year(2027, 1, NULL, 0, step_minutes, civil);
}

/* By the definition, step by step: the sum of the next steps, with the mean of month and hour. */
static double expected_kwh(const double *pv, size_t n, size_t an_hour,
                           const steading_civil_step *civil, size_t k, size_t ahead, double skill) {
  double sum = 0;
  for (size_t j = k; j < k + ahead; j++) {
    size_t i = j % n, count = 0;
    double mean = 0;
    for (size_t o = 0; skill < 1 && o < n; o++)
      if (civil[o].standard_month == civil[i].standard_month &&
          o / an_hour % 24 == i / an_hour % 24) {
        mean += pv[o];
        count++;
      }
    sum += skill * pv[i] + (skill < 1 ? (1 - skill) * mean / (double)count : 0);
  }
  return sum / (double)an_hour;
}

START_TEST(the_forecast_is_the_sum_of_what_comes_and_of_the_season) {
  static const int minutes[2] = {60, 30};
  for (int m = 0; m < 2; m++) {
    size_t an_hour = 60u / (size_t)minutes[m], n = (size_t)HOURS * an_hour;
    double *pv = malloc(n * sizeof *pv), *sums = malloc((n + 1) * sizeof *sums);
    double *kwh = malloc(n * sizeof *kwh);
    steading_civil_step *civil = malloc(n * sizeof *civil);
    dice d = {.seed = 51 + (uint64_t)m};
    ck_assert(pv != NULL && sums != NULL && kwh != NULL && civil != NULL);
    fill_civil(civil, minutes[m]);
    for (size_t k = 0; k < n; k++) pv[k] = roll(&d) < 0.5 ? 0 : 4 * roll(&d);
    for (int s = 0; s < 3; s++) {
      double skill = 0.5 * s;
      size_t ahead = (s == 1 ? 5 : 48) * an_hour;
      steading_forecast_year(pv, n, minutes[m], civil, ahead, skill, sums, kwh);
      for (size_t k = 13; k < n; k += n / 7)
        ck_assert_double_eq_tol(kwh[k], expected_kwh(pv, n, an_hour, civil, k, ahead, skill), 1e-8);
      ck_assert_double_eq_tol(kwh[n - 2], expected_kwh(pv, n, an_hour, civil, n - 2, ahead, skill),
                              1e-8);
    }
    free(pv);
    free(sums);
    free(kwh);
    free(civil);
  }
}
END_TEST

/* Sun at noon of every second day of January, 2 kW: the mean is 2 x 16/31 of an hour (days 0, 2 ..
 * 30), so that half a skill expects 1 + 16/31 kWh of a day with sun and 16/31 of one without. */
START_TEST(a_forecast_without_skill_knows_the_month) {
  double *pv = calloc(HOURS, sizeof *pv), *sums = malloc((HOURS + 1) * sizeof *sums);
  double *kwh = malloc(HOURS * sizeof *kwh);
  steading_civil_step *civil = malloc(HOURS * sizeof *civil);
  ck_assert(pv != NULL && sums != NULL && kwh != NULL && civil != NULL);
  fill_civil(civil, 60);
  for (size_t day = 0; day < 31; day += 2) pv[24 * day + 12] = 2;
  steading_forecast_year(pv, HOURS, 60, civil, 24, 0.5, sums, kwh);
  IS(kwh[24 * 4], 1 + 16.0 / 31);
  IS(kwh[24 * 5], 16.0 / 31);
  steading_forecast_year(pv, HOURS, 60, civil, 24, 0, sums, kwh);
  IS(kwh[24 * 4], 32.0 / 31);
  IS(kwh[24 * 5], 32.0 / 31);
  steading_forecast_year(pv, HOURS, 60, civil, 24, 1, sums, kwh);
  IS(kwh[24 * 4], 2);
  IS(kwh[24 * 5], 0);
  IS(kwh[24 * 40], 0);    /* no sun in February */
  IS(kwh[HOURS - 11], 2); /* from 13:00 of 31 December: noon of 1 January again */
  free(pv);
  free(sums);
  free(kwh);
  free(civil);
}
END_TEST

/* In a year of sun: the battery serves above 0.8 only in the hours before little sun, above 0.2 in
 * all others; by the sun that the run itself had, looked at hour by hour. */
START_TEST(a_reserve_is_raised_before_dull_days_only) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 0.92, at_100 = 0.95 } } }, arrays = { { tilt_deg = 30, "
      "azimuth_deg = 180, module = { watts = 400, temp_coefficient_per_c = -0.004 }, lots = { { "
      "count = 8 } } } }, battery = { module = { kwh = 12, charge_kw = 5, discharge_kw = 5, "
      "round_trip_efficiency = 0.9 } }, rules = { battery_floor = 0.2, raise_reserve = { ahead_h = "
      "36, below_kwh = 18, to = 0.8 } } } }, buildings = { b = { hub = \"h\", loads = { { kind = "
      "\"steady\", watts = 450 } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
  size_t raised = 0, kept = 0, low = 0;
  for (size_t k = 0; k < HOURS; k++) {
    const steading_hub_flow *f =
        steading_hub_flow_of(&run->layout, run->steps + k * run->layout.width, 0);
    double ahead = 0;
    for (size_t j = k; j < k + 36; j++) ahead += build_step(run, j % HOURS).pv_available;
    if (fabs(ahead - 18) < 1e-6) continue;
    raised += ahead < 18 ? 1 : 0;
    if (ahead < 18 && f->battery_out > 0) ck_assert_double_ge(f->stored_kwh, 9.6 - 1e-9);
    if (ahead < 18 && run->reasons[k] == STEADING_REASON_raise_reserve) kept++;
    if (ahead > 18) {
      ck_assert_int_ne(run->reasons[k], STEADING_REASON_raise_reserve);
      if (f->battery_out > 0 && f->stored_kwh < 9.6) low++;
      if (f->from_bus > 1e-9) ck_assert_double_le(f->stored_kwh, 2.4 + 1e-9);
    }
  }
  ck_assert_uint_gt(raised, 300);
  ck_assert_uint_gt(kept, 100);
  ck_assert_uint_gt(low, 1000);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *charging_suite(void) {
  Suite *suite = suite_create("charging");
  TCase *charger = tcase_create("charger"), *kept = tcase_create("kept"),
        *plans = tcase_create("plans"), *ahead = tcase_create("ahead");
  tcase_add_test(charger, the_charger_fills_the_battery_beside_the_load);
  tcase_add_test(charger, heat_limits_the_charger);
  tcase_add_test(charger, a_hot_unit_charges_less_every_night);
  tcase_add_test(charger, the_charger_takes_what_loads_leave_of_the_limits);
  tcase_add_test(charger, where_loads_do_not_fit_the_hub_works_as_ever);
  tcase_add_test(charger, sun_charges_first);
  tcase_add_test(charger, in_its_window_the_battery_serves_above_its_level);
  tcase_add_test(charger, chargers_share_what_neighbours_send_and_the_limit_leaves);
  tcase_add_test(charger, a_unit_that_charges_draws_its_idle_power);
  tcase_add_test(kept, outside_its_hours_the_battery_serves_nothing);
  tcase_add_test(kept, a_raised_reserve_is_a_floor);
  tcase_add_test(plans, a_battery_that_charges_at_night_and_serves_the_day);
  tcase_add_test(plans, twice_the_hours_move_twice_the_energy);
  tcase_add_test(plans, a_night_tariff_pays_only_beyond_the_losses);
  tcase_add_test(plans, a_battery_for_outages_serves_in_them_alone);
  tcase_add_test(ahead, the_forecast_is_the_sum_of_what_comes_and_of_the_season);
  tcase_add_test(ahead, a_forecast_without_skill_knows_the_month);
  tcase_add_test(ahead, a_reserve_is_raised_before_dull_days_only);
  tcase_set_timeout(ahead, 60);
  suite_add_tcase(suite, charger);
  suite_add_tcase(suite, kept);
  suite_add_tcase(suite, plans);
  suite_add_tcase(suite, ahead);
  return suite;
}
