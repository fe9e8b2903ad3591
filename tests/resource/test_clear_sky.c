/* Clear skies against printed values of the design conditions and a program of its own. */
#include <check.h>
#include <math.h>

#include "resource/clear_sky.h"
#include "suites.h"

static const double degree = M_PI / 180;

/* Climate design data of the 2009 ASHRAE Handbook for Golden, Colorado, latitude 39.733, as a
 * public file of weather statistics prints them: optical depths and the noon of the 21st of each
 * month, in whole W/m2. The sun stands at latitude less declination by Cooper 1969, 23.45 sin(360
 * (284 + n) / 365), which is worked out here. */
START_TEST(noon_of_the_21st_is_as_printed_for_a_place) {
  static const struct {
    int day;
    double tau_b, tau_d, beam, diffuse;
  } rows[12] = {
      {21, 0.252, 2.550, 941, 81},   {52, 0.282, 2.318, 943, 111},  {80, 0.304, 2.284, 954, 124},
      {111, 0.369, 2.037, 904, 166}, {141, 0.383, 2.077, 895, 163}, {172, 0.397, 2.088, 879, 161},
      {202, 0.424, 2.025, 852, 170}, {233, 0.401, 2.124, 863, 151}, {264, 0.340, 2.342, 903, 116},
      {294, 0.302, 2.434, 909, 98},  {325, 0.268, 2.515, 909, 82},  {355, 0.250, 2.586, 919, 74}};
  for (int i = 0; i < 12; i++) {
    double declination = 23.45 * sin(2 * M_PI * (284 + rows[i].day) / 365);
    double zenith = fabs(39.733 - declination);
    steading_clear_light light = steading_clear_tau(
        STEADING_TAU_2009, zenith, steading_clear_extraterrestrial_w_per_m2(rows[i].day),
        rows[i].tau_b, rows[i].tau_d);
    ck_assert_double_eq_tol(light.dni_w_per_m2, rows[i].beam, 2);
    ck_assert_double_eq_tol(light.dhi_w_per_m2, rows[i].diffuse, 1);
    ck_assert_double_eq_tol(light.ghi_w_per_m2,
                            light.dni_w_per_m2 * cos(zenith * degree) + light.dhi_w_per_m2, 1e-9);
  }
}
END_TEST

/* Both editions by the equations in another language. Of the coefficients of 2013 no printed result
 * was at hand: they are from memory. */
START_TEST(both_editions_by_another_program) {
  static const struct {
    steading_tau_edition edition;
    double zenith;
    int day;
    double tau_b, tau_d, beam, diffuse, global;
  } rows[] = {{STEADING_TAU_2009, 30, 172, 0.397, 2.088, 852.15089, 152.91747, 890.90179},
              {STEADING_TAU_2009, 85, 325, 0.8, 1.5, 20.50104, 20.32464, 22.11142},
              {STEADING_TAU_2013, 30, 172, 0.397, 2.088, 850.37090, 151.30812, 887.75092},
              {STEADING_TAU_2013, 70, 21, 0.252, 2.55, 837.27449, 53.73303, 340.09778},
              {STEADING_TAU_2013, 85, 325, 0.8, 1.5, 13.69589, 57.85428, 59.04795}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    steading_clear_light light = steading_clear_tau(
        rows[i].edition, rows[i].zenith, steading_clear_extraterrestrial_w_per_m2(rows[i].day),
        rows[i].tau_b, rows[i].tau_d);
    ck_assert_double_eq_tol(light.dni_w_per_m2, rows[i].beam, 1e-5);
    ck_assert_double_eq_tol(light.dhi_w_per_m2, rows[i].diffuse, 1e-5);
    ck_assert_double_eq_tol(light.ghi_w_per_m2, rows[i].global, 1e-5);
  }
}
END_TEST

/* Haurwitz 1945, 1098 cos z exp(-0.057 / cos z) by another program. */
START_TEST(global_of_haurwitz_by_another_program) {
  static const double rows[5][2] = {
      {0, 1037.16}, {30, 890.33}, {60, 489.85}, {75, 228.01}, {85, 49.76}};
  for (int i = 0; i < 5; i++)
    ck_assert_double_eq_tol(steading_clear_haurwitz_w_per_m2(cos(rows[i][0] * M_PI / 180)),
                            rows[i][1], 0.005);
}
END_TEST

/* From the zenith down to the horizon and below, over the ranges of the header. */
START_TEST(light_is_finite_below_the_extraterrestrial_and_gone_with_the_sun) {
  for (int i = 0; i <= 1800; i++) {
    double zenith = i / 10.0;
    double sun = steading_clear_haurwitz_w_per_m2(zenith < 90 ? cos(zenith * M_PI / 180) : 0);
    ck_assert(isfinite(sun) && sun >= 0 && sun <= 1098);
    if (zenith >= 90) ck_assert_double_eq(sun, 0);
    for (int e = 0; e < 2; e++)
      for (double tau_b = 0.05; tau_b <= 2; tau_b += 0.15)
        for (double tau_d = 0.5; tau_d <= 4; tau_d += 0.25) {
          steading_clear_light light =
              steading_clear_tau((steading_tau_edition)e, zenith, 1367, tau_b, tau_d);
          ck_assert(light.dni_w_per_m2 >= 0 && light.dni_w_per_m2 <= 1367);
          ck_assert(light.dhi_w_per_m2 >= 0 && light.dhi_w_per_m2 <= 1367);
          if (zenith >= 90)
            ck_assert(light.dni_w_per_m2 == 0 && light.dhi_w_per_m2 == 0 &&
                      light.ghi_w_per_m2 == 0);
          else
            ck_assert_double_gt(light.dni_w_per_m2 + light.dhi_w_per_m2, 0);
        }
  }
}
END_TEST

Suite *clear_sky_suite(void) {
  Suite *suite = suite_create("clear_sky");
  TCase *tests = tcase_create("clear_sky");
  tcase_add_test(tests, noon_of_the_21st_is_as_printed_for_a_place);
  tcase_add_test(tests, both_editions_by_another_program);
  tcase_add_test(tests, global_of_haurwitz_by_another_program);
  tcase_add_test(tests, light_is_finite_below_the_extraterrestrial_and_gone_with_the_sun);
  suite_add_tcase(suite, tests);
  return suite;
}
