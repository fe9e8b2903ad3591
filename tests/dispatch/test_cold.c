/* Batteries in the cold and the heaters of their rooms: steps, days and months worked out by hand
 * after reference/manual/dispatch.md. No published numbers exist for such rules. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dispatch/losses.h"
#include "dispatch/one_hub.h"
#include "dispatch/result.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

typedef struct asked {
  double pv, load, heater, warm, cold; /* shares with the heater and without */
} asked;

static const steading_hub_flow *step(const steading_stretch *p, steading_state *s, const asked *a) {
  const double meter = 0;
  const steading_step_rows rows = {.stride = 1,
                                   .pv_kw = &a->pv,
                                   .hub_kw = &a->load,
                                   .meter_kw = &meter,
                                   .charge_share = &a->warm,
                                   .cold_share = &a->cold,
                                   .heater_kw = &a->heater};
  return one_hub_step(p, s, &rows);
}

/* It takes 4 kW. */
static steading_stretch off_grid(void) { return one_hub_off_grid(4); }

START_TEST(the_cold_leaves_a_share_of_the_charging_power) {
  static const struct {
    asked a;
    double stored, in, blocked; /* before; taken; whether more was there */
  } steps[] = {
      {{5, 1, 0, 0.25, 0.25}, 2, 1, 1},     /* 4 kW of sun are left, the cold takes 1 of them */
      {{5, 1, 0, 1, 1}, 2, 4, 0},           /* warm: all */
      {{5, 1, 0, 0, 0}, 2, 0, 1},           /* frozen: nothing */
      {{1.5, 1, 0, 0.25, 0.25}, 2, 0.5, 0}, /* half a kW is less than the cold takes */
      {{5, 1, 0, 0.25, 0.25}, 9.5, 0.5, 0}, /* full before the cold matters */
      {{5, 1, 0, 0.25, 0.25}, 10, 0, 0},    /* full */
      {{0, 1, 0, 0, 0}, 5, 0, 0},           /* no sun: nothing was there */
  };
  const steading_stretch p = off_grid();
  for (size_t k = 0; k < sizeof steps / sizeof steps[0]; k++) {
    steading_state s = {.stored_kwh = {steps[k].stored}};
    const steading_hub_flow *f = step(&p, &s, &steps[k].a);
    IS(f->battery_in, steps[k].in);
    IS(f->pv_curtailed, fmax(steps[k].a.pv - 1 - steps[k].in, 0));
    IS(f->charge_blocked, steps[k].blocked);
    IS(f->served, 1);
    IS(f->heater, 0);
  }
}
END_TEST

/* A heater of 0.5 kW beside a load of 1 kW; without it nothing is charged, with it half. */
START_TEST(a_heater_gives_way_first_and_the_cells_are_cold_in_the_next_step) {
  static const struct {
    asked a;
    double heater, unserved, in, stored; /* at the end */
  } steps[] = {
      {{3.5, 1, 0.5, 0.5, 0}, 0.5, 0, 2, 2},     /* 2 kW are left: half of 4 kW */
      {{0, 1, 0.5, 0.5, 0}, 0.5, 0, 0, 0.5},     /* the battery heats */
      {{0, 1, 0.5, 0.5, 0}, 0, 0.5, 0, 0},       /* 0.5 kWh are left, for the load */
      {{3.5, 1, 0.5, 0.5, 0}, 0.5, 0, 0, 0},     /* not heated in the hour before: blocked */
      {{3.5, 1, 0.5, 0.5, 0}, 0.5, 0, 2, 2},     /* heated again */
      {{0, 2.7, 0.5, 0.5, 0}, 0, 0.7, 0, 0},     /* nothing for it */
      {{3.5, 1, 0, 0.3, 0.3}, 0, 0, 1.2, 1.2},   /* a warmer hour that asks for no heat */
      {{1.3 - 1.2, 1, 0.5, 1, 0}, 0.3, 0, 0, 0}, /* 0.3 of 0.5 kW */
      {{3.5, 1, 0.5, 1, 0}, 0.5, 0, 0, 0},       /* which was not enough */
  };
  const steading_stretch p = off_grid();
  steading_state s = {.stored_kwh = {0}};
  for (size_t k = 0; k < sizeof steps / sizeof steps[0]; k++) {
    const steading_hub_flow *f = step(&p, &s, &steps[k].a);
    IS(f->heater, steps[k].heater);
    IS(f->load, steps[k].a.load);
    IS(f->unserved, steps[k].unserved);
    IS(f->served, steps[k].a.load - steps[k].unserved);
    IS(f->battery_in, steps[k].in);
    IS(s.stored_kwh[0], steps[k].stored);
    ck_assert(f->loss_of_load == (steps[k].unserved > 0 ? 1 : 0));
  }
}
END_TEST

/* The charger of the unit and that of a generator know the cold as the sun does. */
START_TEST(every_charger_takes_the_share) {
  const asked half = {0, 1, 0, 0.5, 0.5}, warm = {0, 1, 0, 1, 1}, frozen = {0, 1, 0, 0, 0};
  steading_stretch p = off_grid();
  steading_state s = {.stored_kwh = {2}};
  const steading_hub_flow *f = NULL;
  p.meter_count = 1;
  p.meters[0] = (steading_meter_stretch){.import_limit_kw = 100};
  p.hubs[0].meter = 0;
  p.hubs[0].pass_through_kw = 50;
  p.hubs[0].charger_kw = 3;
  p.hubs[0].charger_efficiency = 0.8;
  p.hubs[0].charge_to_kwh = 10;
  f = step(&p, &s, &warm); /* 3 kW make 2.4 */
  IS(f->charger_in, 3);
  IS(f->battery_in, 2.4);
  IS(f->charge_blocked, 0);
  s.stored_kwh[0] = 2;
  f = step(&p, &s, &half); /* 2 kW of the cold want 2.5 */
  IS(f->charger_in, 2.5);
  IS(f->battery_in, 2);
  IS(f->charge_blocked, 1);
  f = step(&p, &s, &frozen);
  IS(f->charger_in, 0);
  IS(f->charge_blocked, 1);
  s.stored_kwh[0] = 9; /* 1 kWh is less than the cold takes */
  f = step(&p, &s, &half);
  IS(f->battery_in, 1);
  IS(f->charge_blocked, 0);

  p = off_grid();
  p.generator_count = 1;
  p.hubs[0].generator_kw = 6;
  p.hubs[0].generator_carries = 1;
  p.hubs[0].generator_charger_kw = 5;
  p.hubs[0].generator_charger_efficiency = 0.8;
  s = (steading_state){.stored_kwh = {2}};
  f = step(&p, &s, &warm); /* 5 kW make the 4 that the battery takes */
  IS(f->battery_in, 4);
  IS(f->charge_blocked, 0);
  s.stored_kwh[0] = 2;
  f = step(&p, &s, &half);
  IS(f->battery_in, 2);
  IS(f->charge_blocked, 1);
  f = step(&p, &s, &frozen);
  IS(f->battery_in, 0);
  IS(f->charge_blocked, 1);
}
END_TEST

/* --- runs ----------------------------------------------------------------------------------------
 */

/* A shed with 8 kW of modules in grey light around the clock: 3.6 kW in every hour after the
 * arrays' losses. Loads take 1 kW. Its battery of 100 kWh takes 2 kW; below 0 C nothing, above 10 C
 * all of it. */
#define SHED                                                                                     \
  "{ weather = @0, meters = { m = { export_limit_kw = 0 } }, hubs = { h = { meter = \"m\", "     \
  "inverter = { unit = { ac_kw = 9, losses = { idle_w = 0 } } }, arrays = { { tilt_deg = 0, "    \
  "azimuth_deg = 180, module = { watts = 400, temp_coefficient_per_c = 0 }, lots = { { count = " \
  "20 } } } }, battery = { module = { kwh = 100, charge_kw = 2, discharge_kw = 9, "              \
  "round_trip_efficiency = 1, charge_share_at_c = { { 0, 0 }, { 10, 1 } } }, room = { %s } } } " \
  "}, buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 1000 } } } } }"

/* January at -5 C, February at 4 C, the others at 15 C. */
#define BY_MONTH "temp_c = { -5, 4, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15 }"

static double month_of(const steading_run *run, size_t month, const char *column) {
  steading_span span;
  const steading_view view = {.of = STEADING_OF_SITE};
  steading_span_of(run, month, 1, &span);
  for (size_t c = 0; c < steading_result_column_count; c++)
    if (strcmp(steading_result_columns[c].name, column) == 0)
      return steading_result_columns[c].value(&span, &view);
  ck_abort_msg("no column %s", column);
  return (double)NAN;
}

/* January, 744 hours at -5 C from half full: nothing goes in, all of them are
 * blocked. February, at 4 C: 0.8 kW go in for 62 hours and 0.4 in the 63rd, until 50 kWh more are
 * stored: 62 hours in which the cold alone kept back what was there. */
START_TEST(a_shed_in_the_cold_by_the_hour) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site = build_site(weather, SHED, BY_MONTH);
  steading_run *run =
      build_run(site, "{ start = \"2027-01\", initial = { state_of_charge = 0.5 } }");
  ck_assert_double_eq_tol(month_of(run, 0, "charge_blocked_hours"), 744, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 0, "battery_charge_kwh"), 0, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 0, "pv_used_kwh"), 744, 1e-6);
  ck_assert_double_eq_tol(month_of(run, 1, "charge_blocked_hours"), 62, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 1, "battery_charge_kwh"), 50, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 2, "charge_blocked_hours"), 0, 1e-9);
  ck_assert_double_eq(month_of(run, 0, "battery_heater_kwh"), 0);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* The same with a heater of 150 W below 5 C: it runs for the 744 hours of January and the 672 of
 * February, 111.6 and 100.8 kWh. The cells have 5 C: 1 kW goes in, for 50 hours, all but the last
 * of them blocked (the last takes 1 kW of the 1 kW that there is room for). */
START_TEST(the_heater_of_a_shed_by_the_hour) {
  steading_weather *weather = build_grey_weather(1);
  const steading_site *site =
      build_site(weather, SHED, BY_MONTH ", heater_w = 150, heat_below_c = 5");
  steading_run *run =
      build_run(site, "{ start = \"2027-01\", initial = { state_of_charge = 0.5 } }");
  steading_losses losses;
  ck_assert_double_eq_tol(month_of(run, 0, "battery_heater_kwh"), 111.6, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 1, "battery_heater_kwh"), 100.8, 1e-9);
  ck_assert_double_eq(month_of(run, 2, "battery_heater_kwh"), 0);
  ck_assert_double_eq_tol(month_of(run, 0, "battery_charge_kwh"), 50, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 0, "charge_blocked_hours"), 49, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 0, "load_kwh"), 744, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 0, "served_kwh"), 744, 1e-9);
  ck_assert_double_eq_tol(month_of(run, 0, "pv_used_kwh"), 744 + 111.6 + 50, 1e-6);
  for (size_t m = 0; m < 12; m++) ck_assert(month_of(run, m, "closure_error_kwh") < 1e-9);
  /* where the sun's energy goes: the heater's is a line of its own */
  ck_assert_int_eq(steading_run_losses(run, &losses, NULL), STEADING_OK);
  ck_assert_uint_eq(losses.count, 1);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_BATTERY_HEATER], -212.4, 1e-8);
  ck_assert_double_eq_tol(losses.rows[0].kwh[STEADING_LINE_DELIVERED], 8760, 1e-6);
  ck_assert_double_eq_tol(losses.rows[0].sums.ac_kwh, 8760 + 212.4, 1e-6);
  steading_losses_free(&losses);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* The cells of a battery that ages have the heater's temperature while it is fed: as in a room that
 * has it by itself. The grid feeds it in the dark; without a grid nobody does. */
START_TEST(heated_cells_age_at_their_temperature) {
#define AT_REST                                                                                   \
  "{ weather = @0, meters = { m = { %s } }, hubs = { h = { meter = \"m\", inverter = { unit = { " \
  "ac_kw = 9, losses = { idle_w = 0 } } }, battery = { module = { kwh = 5, charge_kw = 3, "       \
  "discharge_kw = 3, round_trip_efficiency = 1 }, ageing = { model = \"naumann\" }, room = { %s " \
  "} }, rules = { battery_use = \"outages\" } } }, buildings = { a = { hub = \"h\", loads = { { " \
  "kind = "                                                                                       \
  "\"steady\", watts = 0 } } } } }"
  static const struct {
    const char *meter, *room;
  } cases[] = {{"", "temp_c = 25"},
               {"", "temp_c = 10, heater_w = 100, heat_below_c = 25"},
               {"import_limit_kw = 0", "temp_c = 10, heater_w = 100, heat_below_c = 25"},
               {"", "temp_c = 10"}};
  steading_weather *weather = build_dark_weather();
  double left[4];
  for (size_t k = 0; k < 4; k++) {
    const steading_site *site = build_site(weather, AT_REST, cases[k].meter, cases[k].room);
    steading_run *run =
        build_run(site, "{ start = \"2027-01\", years = 2, initial = { state_of_charge = 1 } }");
    left[k] = month_of(run, 12, "battery_health");
    steading_run_release(run);
    steading_record_release(site);
  }
  ck_assert_double_eq(left[0], left[1]);
  /* not fed: cold in all steps but the first */
  ck_assert(left[2] > left[0] + 1e-3);
  ck_assert_double_eq_tol(left[2], left[3], (left[3] - left[0]) / 1000);
  steading_weather_release(weather);
}
END_TEST

/* Where the room is never cold the fields change nothing to the bit: the body of the kernel that
 * knows of them gives what the usual one gives. */
START_TEST(warm_batteries_give_the_bits_of_those_without_such_fields) {
  static const char *const site_of =
      "{ weather = @0, meters = { m = { } }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 6, efficiency = { at_10 = 0.92, at_100 = 0.95 } } }, arrays = { { tilt_deg = 30, "
      "azimuth_deg = 180, module = { watts = 400, temp_coefficient_per_c = -0.0035 }, lots = { { "
      "count = 12 } } } }, battery = { module = { kwh = 8, charge_kw = 3, discharge_kw = 3, "
      "round_trip_efficiency = 0.92%s }, room = { temp_c = 20%s } } } }, buildings = { a = { hub = "
      "\"h\", loads = { { kind = \"daily\", kwh_per_day = 9, shape = \"dwelling\" } } } } }";
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *plain = build_site(weather, site_of, "", "");
  const steading_site *warm =
      build_site(weather, site_of, ", charge_share_at_c = { { 0, 0 }, { 10, 1 } }",
                 ", heater_w = 100, heat_below_c = 10");
  steading_run *a = build_run(plain, "{ start = \"2027-01\" }");
  steading_run *b = build_run(warm, "{ start = \"2027-01\" }");
  ck_assert_mem_eq(a->sums, b->sums, a->month_count * a->layout.width * sizeof *a->sums);
  steading_run_release(a);
  steading_run_release(b);
  steading_record_release(plain);
  steading_record_release(warm);
  steading_weather_release(weather);
}
END_TEST

Suite *cold_suite(void) {
  Suite *suite = suite_create("cold");
  TCase *all = tcase_create("all");
  tcase_add_test(all, the_cold_leaves_a_share_of_the_charging_power);
  tcase_add_test(all, a_heater_gives_way_first_and_the_cells_are_cold_in_the_next_step);
  tcase_add_test(all, every_charger_takes_the_share);
  tcase_add_test(all, a_shed_in_the_cold_by_the_hour);
  tcase_add_test(all, the_heater_of_a_shed_by_the_hour);
  tcase_add_test(all, heated_cells_age_at_their_temperature);
  tcase_add_test(all, warm_batteries_give_the_bits_of_those_without_such_fields);
  suite_add_tcase(suite, all);
  return suite;
}
