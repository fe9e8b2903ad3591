/* What a pump draws, against handbook values, and what users take. */
#include "demand/water.h"

#include <check.h>
#include <math.h>

#include "build.h"
#include "suites.h"

/* Handbooks: water horsepower = gpm x ft / 3960, so 10 gpm at 396 ft is 1 hp = 0.7457 kW. One
 * gallon is 3.785411784 l, one foot 0.3048 m. With water of 998.2 kg/m3, rho g Q H is
 * 0.745436 kW. */
START_TEST(pump_power_equals_the_horsepower_formula) {
  double kw = steading_pump_kw(10 * 3.785411784, 396 * 0.3048, 1);
  ck_assert_double_eq_tol(kw, 0.7457, 0.002);
  ck_assert_double_eq_tol(kw, 0.745436, 5e-7);
  ck_assert_double_eq_tol(steading_pump_kw(10 * 3.785411784, 396 * 0.3048, 0.4), kw / 0.4, 1e-12);
}
END_TEST

/* Evans in Pumps & Systems: kWh per 1000 gallons = 0.00314 x feet / efficiency, to 0.4 %. */
START_TEST(energy_for_a_volume_of_water_equals_the_trade_formula) {
  double hours = 1000 * 3.785411784 / (34 * 60);
  double kwh = steading_pump_kw(34, 128, 0.43) * hours;
  double expected = 0.00314 * (128 / 0.3048) / 0.43;
  ck_assert_double_eq_tol(kwh, expected, 0.004 * expected);
}
END_TEST

/* 14 x 210 / 24 = 122.5 l/h, and a garden that takes 1100 l a day in May and nothing in January:
 * 45.8333 l/h. */
START_TEST(users_add_up_evenly_over_the_day) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, water = { "
      "wells = { w = { meter = \"m\", lift_m = 10, flow_l_per_min = 10, efficiency = 0.4 } }, "
      "tanks = { t = { litres = 1000, fed_by = \"w\" } }, users = { "
      "homes = { tank = \"t\", people = 14, litres_per_person_day = 210 }, "
      "garden = { tank = \"t\", "
      "litres_per_day = { 0, 0, 300, 700, 1100, 1400, 1100, 900, 700, 300, 0, 0 } } } } }");
  ck_assert_double_eq_tol(steading_users_l_per_h(site->water->users, "t", 0), 122.5, 1e-12);
  ck_assert_double_eq_tol(steading_users_l_per_h(site->water->users, "t", 4), 122.5 + 1100.0 / 24,
                          1e-12);
  ck_assert_double_eq(steading_users_l_per_h(NULL, "t", 4), 0);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *water_suite(void) {
  Suite *suite = suite_create("water");
  TCase *tests = tcase_create("water");
  tcase_add_test(tests, pump_power_equals_the_horsepower_formula);
  tcase_add_test(tests, energy_for_a_volume_of_water_equals_the_trade_formula);
  tcase_add_test(tests, users_add_up_evenly_over_the_day);
  suite_add_tcase(suite, tests);
  return suite;
}
