/* Cell temperature: a textbook example and the models' formulas worked out apart. */
#include <check.h>
#include <math.h>

#include "plant/cell_temperature.h"
#include "suites.h"

/* Masters, Renewable and Efficient Electric Power Systems, example 8.5 (from memory): NOCT 47 C,
 * air 30 C, 1000 W/m2 give 64 C; by the formula 30 + 27 / 0.8 = 63.75. */
START_TEST(nominal_temperature_of_the_textbook_example) {
  const steading_cell_heating module = {.model = STEADING_CELL_NOCT, .noct_c = 47};
  ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 30, 1000, 0), 64, 0.5);
  ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 30, 1000, 0), 63.75, 1e-12);
  ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 20, 800, 9), 47, 1e-12);
}
END_TEST

/* 20 + 1000 / 25 = 60; 20 + 1000 / 31.84 = 51.407; 20 + 1000 / 59.2 = 36.892. */
START_TEST(faiman_by_hand) {
  const steading_cell_heating module = {
      .model = STEADING_CELL_FAIMAN, .u0 = STEADING_FAIMAN_U0, .u1 = STEADING_FAIMAN_U1};
  ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 20, 1000, 0), 60, 1e-12);
  ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 20, 1000, 1), 51.407, 5e-4);
  ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 20, 1000, 5), 36.892, 5e-4);
}
END_TEST

/* Table 1 of King, Boyson and Kratochvil 2004 (from memory; its first row also in transcriptions),
 * the values by a program of its own: air 20 C, 800 W/m2 and air 25 C, 1000 W/m2, wind 1 m/s. */
START_TEST(king_for_each_mounting_of_the_table) {
  static const struct {
    const char *name;
    double at_800, at_1000;
  } rows[STEADING_KING_MOUNTINGS] = {{"glass_back_open_rack", 45.858, 57.323},
                                     {"glass_back_close_to_roof", 59.565, 74.456},
                                     {"sheet_back_open_rack", 43.507, 54.384},
                                     {"sheet_back_insulated", 66.022, 82.527},
                                     {"thin_film_on_steel_open_rack", 42.318, 52.897},
                                     {"concentrator_on_tracker", 58.188, 72.735}};
  for (int i = 0; i < STEADING_KING_MOUNTINGS; i++) {
    steading_cell_heating module = steading_cell_heating_king((steading_king_mounting)i);
    ck_assert_str_eq(steading_king_rows[i].name, rows[i].name);
    ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 20, 800, 1), rows[i].at_800, 6e-4);
    ck_assert_double_eq_tol(steading_cell_temperature_c(&module, 25, 1000, 1), rows[i].at_1000,
                            6e-4);
  }
}
END_TEST

START_TEST(without_light_a_cell_is_as_warm_as_the_air_and_wind_never_warms_it) {
  const steading_cell_heating modules[3] = {
      {.model = STEADING_CELL_NOCT, .noct_c = 44},
      {.model = STEADING_CELL_FAIMAN, .u0 = STEADING_FAIMAN_U0, .u1 = STEADING_FAIMAN_U1},
      steading_cell_heating_king(STEADING_KING_SHEET_BACK_OPEN_RACK)};
  for (int i = 0; i < 3; i++) {
    double before = HUGE_VAL;
    ck_assert_double_eq(steading_cell_temperature_c(&modules[i], -7, 0, 3), -7);
    ck_assert_double_eq(steading_cell_temperature_c(&modules[i], -7, -2, 3), -7);
    ck_assert_double_eq(steading_cell_temperature_c(&modules[i], 9, 500, -1),
                        steading_cell_temperature_c(&modules[i], 9, 500, 0));
    for (double wind = 0; wind < 30; wind += 0.5) {
      double now = steading_cell_temperature_c(&modules[i], 15, 900, wind);
      ck_assert(i == 0 ? wind == 0 || now == before : now < before);
      ck_assert_double_gt(now, 15);
      before = now;
    }
  }
}
END_TEST

Suite *cell_temperature_suite(void) {
  Suite *suite = suite_create("cell_temperature");
  TCase *tests = tcase_create("cell_temperature");
  tcase_add_test(tests, nominal_temperature_of_the_textbook_example);
  tcase_add_test(tests, faiman_by_hand);
  tcase_add_test(tests, king_for_each_mounting_of_the_table);
  tcase_add_test(tests, without_light_a_cell_is_as_warm_as_the_air_and_wind_never_warms_it);
  suite_add_tcase(suite, tests);
  return suite;
}
