/* A battery alone: cold, taper and resistance by hand and by small steps, and what any battery
 * keeps: its walls, its limits, energy. */
#include <check.h>
#include <math.h>

#include "plant/cold.h"
#include "plant/store.h"
#include "random.h"
#include "suites.h"

START_TEST(a_table_by_temperature) {
  static const double points[] = {0, 0, 5, 0.3, 15, 1};
  ck_assert_double_eq(steading_cold_share(points, 3, -20), 0);
  ck_assert_double_eq(steading_cold_share(points, 3, 0), 0);
  ck_assert_double_eq_tol(steading_cold_share(points, 3, 2.5), 0.15, 1e-15);
  ck_assert_double_eq(steading_cold_share(points, 3, 5), 0.3);
  ck_assert_double_eq_tol(steading_cold_share(points, 3, 10), 0.65, 1e-15);
  ck_assert_double_eq(steading_cold_share(points, 3, 15), 1);
  ck_assert_double_eq(steading_cold_share(points, 3, 40), 1);
  ck_assert_double_eq(steading_cold_share((const double[]){7, 0.6}, 1, -9), 0.6);
  ck_assert_double_eq(steading_cold_share((const double[]){7, 0.6}, 1, 9), 0.6);
}
END_TEST

START_TEST(a_heated_room) {
  const steading_room room = {.heater_w = 150, .heat_below_c = 5}, bare = {0};
  steading_warmth cold = steading_room_warmth(&room, -12), mild = steading_room_warmth(&room, 5);
  ck_assert_double_eq(cold.cell_c, 5);
  ck_assert_double_eq(cold.heater_kw, 0.15);
  ck_assert_double_eq(mild.cell_c, 5);
  ck_assert_double_eq(mild.heater_kw, 0);
  ck_assert_double_eq(steading_room_warmth(&bare, -12).cell_c, -12);
  ck_assert_double_eq(steading_room_warmth(&bare, -12).heater_kw, 0);
}
END_TEST

static const steading_taper taper = {.above = 0.8, .at_full = 0.1};

/* Mean power over many short parts. */
static double by_small_parts(double share, double want, double hours) {
  enum { PARTS = 200000 };
  double kwh = 10, most = 5, efficiency = 0.95, q = share * kwh, taken = 0;
  for (int i = 0; i < PARTS; i++) {
    double h = hours / PARTS;
    double first = fmin(want, most * steading_taper_share(&taper, q / kwh));
    double middle =
        fmin(want, most * steading_taper_share(&taper, (q + first * efficiency * h / 2) / kwh));
    double part = fmin(middle * h, (kwh - q) / efficiency);
    taken += part;
    q += part * efficiency;
  }
  return taken / hours;
}

START_TEST(the_last_charge_is_that_of_small_parts) {
  static const double shares[] = {0.2, 0.7, 0.8, 0.95, 1}, wants[] = {0.3, 2, 5, 9},
                      hours[] = {0.1, 1, 4};
  ck_assert_double_eq(steading_taper_share(&taper, 0.5), 1);
  ck_assert_double_eq_tol(steading_taper_share(&taper, 0.9), 0.55, 1e-15);
  ck_assert_double_eq_tol(steading_taper_share(&taper, 1), 0.1, 1e-15);
  for (int i = 0; i < 5; i++)
    for (int k = 0; k < 4; k++)
      for (int n = 0; n < 3; n++)
        ck_assert_double_eq_tol(
            steading_taper_charge_kw(&taper, 10, 5, 0.95, shares[i], wants[k], hours[n]),
            by_small_parts(shares[i], wants[k], hours[n]), 2e-5);
}
END_TEST

/* 50 V, 0.05 ohm. At 50 A
 * the cell takes 2.5 kW and 125 W are lost, so 2.625 kW at the terminals; discharged 2.375 kW. */
START_TEST(resistance_by_hand) {
  const steading_resistance r = {.volts = 50, .ohm = 0.05}, none = {.volts = 50};
  ck_assert_double_eq_tol(steading_resistance_stored_kw(&r, 2.625), 2.5, 1e-12);
  ck_assert_double_eq_tol(steading_resistance_in_kw(&r, 2.5), 2.625, 1e-12);
  ck_assert_double_eq_tol(steading_resistance_taken_kw(&r, 2.375), 2.5, 1e-12);
  ck_assert_double_eq_tol(steading_resistance_out_kw(&r, 2.5), 2.375, 1e-12);
  ck_assert_double_eq_tol(steading_resistance_most_kw(&r), 12.5, 1e-12); /* V^2 / 4R */
  ck_assert_double_eq_tol(steading_resistance_taken_kw(&r, 12.5), 25, 1e-9);
  ck_assert_double_eq(steading_resistance_stored_kw(&none, 3), 3);
  ck_assert_double_eq(steading_resistance_taken_kw(&none, 3), 3);
  ck_assert(isinf(steading_resistance_most_kw(&none)));
}
END_TEST

static steading_store plain(void) {
  steading_store store = {
      .cells.pool = steading_pool_sized(10, 4, 5, 0, (const double[]){0.1, 1}, 1), /* kWh, kW, kW */
      .shares = {.charge = 1, .usable = 1},
      .charge.stored_kwh = 5};
  store.cells.pool.efficiency_in = 0.9;
  store.cells.pool.efficiency_out = 0.8;
  return store;
}

START_TEST(a_plain_battery_by_hand) {
  steading_store s = plain();
  steading_stored got = steading_store_step(&s, 2, 1); /* 1.8 of 2 kWh stored */
  ck_assert_double_eq(got.accepted_kw, 2);
  ck_assert_double_eq_tol(got.loss_kw, 0.2, 1e-12);
  ck_assert_double_eq_tol(got.state_of_charge, 0.68, 1e-12);
  got = steading_store_step(&s, 9, 0.5); /* 4 kW at most */
  ck_assert_double_eq(got.accepted_kw, 4);
  ck_assert_double_eq_tol(got.state_of_charge, 0.86, 1e-12);
  got = steading_store_step(&s, 9, 1); /* room for 1.4 kWh */
  ck_assert_double_eq_tol(got.accepted_kw, 1.4 / 0.9, 1e-12);
  ck_assert_double_eq(got.state_of_charge, 1);
  got = steading_store_step(&s, -4, 1); /* takes 5 kWh out for 4 */
  ck_assert_double_eq(got.accepted_kw, -4);
  ck_assert_double_eq_tol(got.loss_kw, 1, 1e-12);
  ck_assert_double_eq_tol(got.state_of_charge, 0.5, 1e-12);
  got = steading_store_step(&s, -9, 2); /* down to 0.1 */
  ck_assert_double_eq_tol(got.accepted_kw, -1.6, 1e-12);
  ck_assert_double_eq_tol(got.state_of_charge, 0.1, 1e-12);
}
END_TEST

START_TEST(cold_and_standby_by_hand) {
  steading_store s = plain();
  steading_stored got;
  s.shares.charge = 0.25;
  s.shares.usable = 0.7;
  s.cells.pool.standby_kw = 0.02;
  got = steading_store_step(&s, 3, 1);
  ck_assert_double_eq(got.accepted_kw, 1);
  ck_assert_double_eq_tol(got.loss_kw, 0.1 + 0.02, 1e-12);
  got = steading_store_step(&s, -9, 10); /* the lowest 0.3 cannot be drawn, but feeds standby */
  ck_assert_double_eq_tol(got.state_of_charge, 0.3, 1e-12);
  got = steading_store_step(&s, -9, 10);
  ck_assert_double_eq(got.accepted_kw, 0);
  ck_assert_double_eq_tol(got.state_of_charge, 0.28, 1e-12);
  s.shares.charge = 0;
  ck_assert_double_eq(steading_store_step(&s, 3, 1).accepted_kw, 0);
}
END_TEST

/* Half as much once the charge is offered to gas at full, never more than the tanks take. */
static steading_store tanks(double share) {
  steading_store s = {
      .cells = {.has_tanks = true,
                .tanks = {.most_kwh = 100, .available_share = 0.3, .per_h = 0.5},
                .gassing = {.above = 0.8, .at_full = 0.5},
                .pool = steading_pool_sized(100, 30, 200, 0, (const double[]){0.2, 1}, 1)},
      .shares = {.charge = 1, .usable = 1}};
  s.cells.pool.efficiency_in = 0.85;
  s.charge = steading_cells_rested(&s.cells, share);
  return s;
}

START_TEST(two_tanks_alone) {
  steading_store s = tanks(1);
  steading_stored got = steading_store_step(&s, -1000, 1);
  ck_assert_double_eq_tol(got.accepted_kw, -35.25856555, 1e-7); /* the limit of an hour */
  ck_assert_double_eq_tol(got.loss_kw, 0, 1e-12);
  s = tanks(0.4);
  got = steading_store_step(&s, 10, 1); /* far from full: 15 % lost */
  ck_assert_double_eq(got.accepted_kw, 10);
  ck_assert_double_eq_tol(got.loss_kw, 1.5, 1e-12);
  s = tanks(0.9);
  got = steading_store_step(&s, 1, 0.01); /* a quarter makes gas at 0.9 */
  ck_assert_double_eq_tol(got.loss_kw, 1 - 0.85 * 0.75, 1e-3);
  s = tanks(0.25);
  got = steading_store_step(&s, -30, 1); /* the window ends at 0.2 */
  ck_assert_double_eq_tol(got.accepted_kw, -5, 1e-9);
}
END_TEST

/* Any battery of any kind, any wishes: it keeps its window, its limits and every kWh. */
START_TEST(no_battery_makes_energy) {
  for (int kind = 0; kind < 3; kind++) {
    steading_store s = kind == 2 ? tanks(0.6) : plain();
    double kwh = s.cells.pool.capacity_kwh, before = steading_store_charge(&s);
    double low = s.cells.pool.lowest_share, high = s.cells.pool.highest_share;
    if (kind == 1) {
      s.cells.has_taper = s.cells.has_resistance = true;
      s.cells.taper = taper;
      s.cells.resistance = (steading_resistance){.volts = 48, .ohm = 0.04};
      s.cells.pool.standby_kw = 0.01;
    }
    for (uint64_t i = 0; i < 20000; i++) {
      double kw = 1.2 * kwh * (steading_random_uniform(74, 0, 0, i) - 0.5);
      double hours = i % 3 == 0 ? 1 : 0.25;
      steading_stored got = steading_store_step(&s, kw, hours);
      ck_assert_double_ge(got.accepted_kw * kw, 0);
      ck_assert_double_le(fabs(got.accepted_kw), fabs(kw) * (1 + 1e-12));
      ck_assert_double_le(got.accepted_kw, s.cells.pool.charge_kw * (1 + 1e-12));
      ck_assert_double_ge(got.accepted_kw, -s.cells.pool.discharge_kw * (1 + 1e-12));
      ck_assert_double_ge(got.loss_kw, 0);
      ck_assert_double_ge(got.state_of_charge, low - 1e-12);
      ck_assert_double_le(got.state_of_charge, high + 1e-12);
      ck_assert_double_eq_tol((got.state_of_charge - before) * kwh,
                              (got.accepted_kw - got.loss_kw) * hours, 1e-9);
      before = got.state_of_charge;
    }
  }
}
END_TEST

Suite *store_suite(void) {
  Suite *suite = suite_create("store");
  TCase *tests = tcase_create("a battery alone");
  tcase_add_test(tests, a_table_by_temperature);
  tcase_add_test(tests, a_heated_room);
  tcase_add_test(tests, the_last_charge_is_that_of_small_parts);
  tcase_add_test(tests, resistance_by_hand);
  tcase_add_test(tests, a_plain_battery_by_hand);
  tcase_add_test(tests, cold_and_standby_by_hand);
  tcase_add_test(tests, two_tanks_alone);
  tcase_add_test(tests, no_battery_makes_energy);
  suite_add_tcase(suite, tests);
  return suite;
}
