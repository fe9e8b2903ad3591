#include <check.h>
#include <float.h>
#include <math.h>

#include "resource/sky.h"
#include "suites.h"

static const double degree = 3.14159265358979323846 / 180;

/* Erbs, Klein and Duffie 1982 eq. 1, values computed from the printed equation by hand. */
START_TEST(the_diffuse_share_is_that_of_erbs) {
  static const double rows[][2] = {{0.0, 1.0},      {0.1, 0.9910}, {0.22, 0.9802}, {0.3, 0.9486},
                                   {0.445, 0.7662}, {0.5, 0.6591}, {0.6, 0.4395},  {0.7, 0.2440},
                                   {0.8, 0.1653},   {0.9, 0.165},  {1.5, 0.165},   {-0.1, 1.0}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    ck_assert_double_eq_tol(steading_sky_diffuse_fraction(rows[i][0]), rows[i][1], 0.00005);
  }
}
END_TEST

/* The three pieces of the equation do not quite meet: by no more than 0.0003 (arithmetic). */
START_TEST(the_diffuse_share_has_no_jump_and_never_leaves_its_range) {
  double before = steading_sky_diffuse_fraction(0);
  for (double kt = 0.001; kt < 1.2; kt += 0.001) {
    double now = steading_sky_diffuse_fraction(kt);
    ck_assert_double_le(fabs(now - before), 0.0003 + 0.0025); /* steepest slope about 2.3 */
    ck_assert_double_ge(now, 0.16);
    ck_assert_double_le(now, 1);
    before = now;
  }
}
END_TEST

/* With the sun and the tilt as their cosines. */
static void on_plane(steading_sky_model model, double ghi, double dni, double dhi, double up,
                     double facing, double extraterrestrial, double cos_tilt, double albedo,
                     steading_plane_light *light) {
  steading_sky_sun sun = steading_sky_sun_of(up, extraterrestrial);
  steading_sky_on_plane(model, ghi, dni, dhi, &sun, facing, cos_tilt, sqrt(1 - cos_tilt * cos_tilt),
                        albedo, light);
}

/* Kasten and Young 1989: the printed formula evaluated apart (an independent program). */
START_TEST(the_air_mass_is_that_of_kasten_and_young) {
  static const double rows[][2] = {{0, 0.99971},  {30, 1.15399},  {60, 1.99429},  {70, 2.90315},
                                   {80, 5.58604}, {85, 10.30579}, {88, 19.43325}, {90, 37.9196}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
    ck_assert_double_eq_tol(steading_sky_air_mass(rows[i][0]), rows[i][1], 1e-5 * rows[i][1]);
}
END_TEST

/* Perez et al. 1990, table 6, as it stands in ISO 52010-1:2017: an independent program with these
 * coefficients gives the light from the sky, in W/m2, in skies of the bins 1, 3, 8 and 5. */
START_TEST(the_sky_of_perez_gives_the_rows_of_an_independent_program) {
  static const struct {
    double dhi, dni, zenith, incidence, tilt, extraterrestrial, from_sky;
  } rows[] = {{180, 0, 50, 35, 30, 1367, 165.714},
              {250, 150, 50, 35, 30, 1367, 258.530},
              {90, 850, 50, 35, 30, 1367, 107.610},
              {60, 300, 84, 60, 30, 1400, 102.312}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    double up = cos(rows[i].zenith * degree), facing = cos(rows[i].incidence * degree);
    steading_plane_light light;
    on_plane(STEADING_SKY_PEREZ, rows[i].dhi + rows[i].dni * up, rows[i].dni, rows[i].dhi, up,
             facing, rows[i].extraterrestrial, cos(rows[i].tilt * degree), 0, &light);
    ck_assert_double_eq_tol(light.from_sky_w_per_m2, rows[i].from_sky, 0.01);
    ck_assert_double_eq_tol(light.beam_w_per_m2, rows[i].dni * facing, 1e-9);
  }
}
END_TEST

/* Bins 2, 4, 6 and 7 by hand, plane upright and sun at 60 degrees of zenith (z = 1.0471976, 1.041
 * z^3 = 1.1954642, m = 1.994293) behind it, so that what comes from around the sun is lost:
 * D ((1 - F1) / 2 + F2) with extraterrestrial 1361, and D = 100, hence Delta = 0.146531.
 *   clearness 1.1, DNI 21.9546:  F1 = 0.0719541, F2 = -0.0396977
 *   clearness 1.7, DNI 153.6825: F1 = 0.2864781, F2 =  0.0720665
 *   clearness 3.5, DNI 548.8661: F1 = 0.5192952, F2 =  0.2260477
 *   clearness 5.0, DNI 878.1857: F1 = 0.4496058, F2 =  0.2360420 */
START_TEST(the_other_bins_of_perez_equal_the_sums_by_hand) {
  static const double rows[][3] = {{21.9546, 0.0719541, -0.0396977},
                                   {153.6825, 0.2864781, 0.0720665},
                                   {548.8661, 0.5192952, 0.2260477},
                                   {878.1857, 0.4496058, 0.2360420}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    steading_plane_light light;
    on_plane(STEADING_SKY_PEREZ, 0, rows[i][0], 100, 0.5, -0.5, 1361, 0, 0, &light);
    ck_assert_double_eq_tol(light.from_sky_w_per_m2, 100 * ((1 - rows[i][1]) / 2 + rows[i][2]),
                            0.001);
    ck_assert_double_eq(light.beam_w_per_m2, 0);
  }
}
END_TEST

/* Cosines of zenith and of incidence on a plane that looks to the equator: Duffie and Beckman
 * eq. 1.6.5 and 1.6.7a. */
static double cos_zenith(double latitude, double declination, double hour_angle) {
  return cos(latitude * degree) * cos(declination * degree) * cos(hour_angle * degree) +
         sin(latitude * degree) * sin(declination * degree);
}

static double cos_incidence(double latitude, double tilt, double declination, double hour_angle) {
  return cos_zenith(latitude - tilt, declination, hour_angle);
}

/* Duffie and Beckman example 2.15.1 (from memory): latitude 40, slope 60 to the south, 20 February,
 * 9 to 10 h, global 1.04, diffuse 0.796, beam 0.244 MJ/m2 (on the horizontal), albedo 0.6, outside
 * the atmosphere 2.34: on the plane 0.417 + 0.597 + 0.156 = 1.17 MJ/m2 with the isotropic sky. */
START_TEST(the_textbook_hour_on_a_steep_plane_comes_out) {
  const double declination = -11.6, hour_angle = -37.5;
  double up = cos_zenith(40, declination, hour_angle);
  double facing = cos_incidence(40, 60, declination, hour_angle);
  steading_plane_light light;
  ck_assert_double_eq_tol(facing / up, 1.71, 0.01);
  on_plane(STEADING_SKY_ISOTROPIC, 1.04, 0.244 / up, 0.796, up, facing, 2.34 / up, cos(60 * degree),
           0.6, &light);
  ck_assert_double_eq_tol(light.beam_w_per_m2, 0.417, 0.002);
  ck_assert_double_eq_tol(light.from_sky_w_per_m2, 0.597, 0.001);
  ck_assert_double_eq_tol(light.from_ground_w_per_m2, 0.156, 0.001);
  ck_assert_double_eq_tol(
      light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2, 1.17, 0.005);
}
END_TEST

/* The same hour by Hay and Davies, by hand: beam share 0.244 / 2.34 = 0.1043; diffuse 0.796 (0.8957
 * 0.75 + 0.1043 1.714) = 0.677; total 0.418 + 0.677 + 0.156 = 1.251 (an independent program gives
 * 1.251 too). */
START_TEST(the_textbook_hour_under_the_sky_of_hay_and_davies_comes_out) {
  double up = cos_zenith(40, -11.6, -37.5), facing = cos_incidence(40, 60, -11.6, -37.5);
  steading_plane_light light;
  on_plane(STEADING_SKY_HAY_DAVIES, 1.04, 0.244 / up, 0.796, up, facing, 2.34 / up,
           cos(60 * degree), 0.6, &light);
  ck_assert_double_eq_tol(light.from_sky_w_per_m2, 0.677, 0.002);
  ck_assert_double_eq_tol(
      light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2, 1.251, 0.005);
}
END_TEST

/* The same hour by Perez: 1.371 by an independent program with the table of 1990 and air mass 1 /
 * cos z, which at 62 degrees is 0.3 % from that of Kasten and Young. */
START_TEST(the_textbook_hour_under_the_sky_of_perez_comes_out) {
  double up = cos_zenith(40, -11.6, -37.5), facing = cos_incidence(40, 60, -11.6, -37.5);
  const double w = 1e6 / 3600; /* W/m2 for a MJ/m2 in an hour */
  steading_plane_light light;
  on_plane(STEADING_SKY_PEREZ, 1.04 * w, 0.244 / up * w, 0.796 * w, up, facing, 2.34 / up * w,
           cos(60 * degree), 0.6, &light);
  ck_assert_double_eq_tol(
      (light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2) / w, 1.371,
      0.005);
}
END_TEST

/* By hand: 500 W/m2 of beam out of 1000 outside the atmosphere, 200 diffuse, sun at 60 degrees of
 * zenith (cos 0.5) straight on the plane (cos 1), tilt 60: 200 (0.5 0.75 + 0.5 1 / 0.5) = 275. A
 * sun behind the plane: only the uniform half, 200 0.5 0.75 = 75, and no beam. */
START_TEST(hay_and_davies_agree_with_a_sum_by_hand) {
  steading_plane_light light;
  on_plane(STEADING_SKY_HAY_DAVIES, 450, 500, 200, 0.5, 1, 1000, 0.5, 0.2, &light);
  ck_assert_double_eq_tol(light.beam_w_per_m2, 500, 1e-9);
  ck_assert_double_eq_tol(light.from_sky_w_per_m2, 275, 1e-9);
  ck_assert_double_eq_tol(light.from_ground_w_per_m2, 450 * 0.2 * 0.25, 1e-9);
  on_plane(STEADING_SKY_HAY_DAVIES, 450, 500, 200, 0.5, -0.3, 1000, 0.5, 0.2, &light);
  ck_assert_double_eq(light.beam_w_per_m2, 0);
  ck_assert_double_eq_tol(light.from_sky_w_per_m2, 75, 1e-9);
}
END_TEST

/* Below 5 degrees of height the ratio of the two cosines stops growing: with the sun at 89 degrees
 * of zenith straight on an upright plane the part around the sun counts 1 / cos 85, and what the
 * guard takes stays uniform. By hand, with beam share 0.4: 100 ((1 - 0.4 0.017452 / 0.087156) 0.5 +
 * 0.4 0.99985 / 0.087156) = 100 (0.459951 + 4.588790) = 504.874. */
START_TEST(the_low_sun_is_guarded) {
  steading_plane_light light;
  on_plane(STEADING_SKY_HAY_DAVIES, 107, 400, 100, cos(89 * degree), sin(89 * degree), 1000, 0, 0.2,
           &light);
  ck_assert_double_eq_tol(light.from_sky_w_per_m2, 504.874, 0.001);
}
END_TEST

/* The header's promise. Four roundings of the diffuse part, each half of DBL_EPSILON of at most the
 * whole. */
START_TEST(a_level_plane_gets_what_the_horizontal_gets) {
  for (double zenith = 0; zenith < 90; zenith += 0.25) {
    for (int model = 0; model < 3; model++) {
      double up = cos(zenith * degree), dni = 900 * (1 - zenith / 100), dhi = 123.4;
      steading_plane_light light;
      double sum = 0;
      on_plane((steading_sky_model)model, dni * up + dhi, dni, dhi, up, up, 1380, 1, 0.7, &light);
      sum = light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2;
      ck_assert_double_le(fabs(sum - (dni * up + dhi)), 4 * DBL_EPSILON * (dni * up + dhi));
      ck_assert_double_eq(light.from_ground_w_per_m2, 0);
    }
  }
}
END_TEST

/* At night all is zero; light without sun (dhi = ghi, no beam) is uniform under every sky. */
START_TEST(without_sun_every_sky_is_uniform) {
  for (int model = 0; model < 3; model++) {
    steading_plane_light light;
    on_plane((steading_sky_model)model, 0, 0, 0, 0, 0, 1380, 0.5, 0.2, &light);
    ck_assert_double_eq(light.beam_w_per_m2 + light.from_sky_w_per_m2, 0);
    on_plane((steading_sky_model)model, 8, 0, 8, 0, 0, 1380, 0.5, 0.2, &light);
    ck_assert_double_eq_tol(light.from_sky_w_per_m2, 8 * 0.75, 1e-12);
    ck_assert_double_eq_tol(light.from_ground_w_per_m2, 8 * 0.2 * 0.25, 1e-12);
  }
}
END_TEST

Suite *sky_suite(void) {
  Suite *suite = suite_create("resource/sky");
  TCase *tcase = tcase_create("sky");
  tcase_add_test(tcase, the_diffuse_share_is_that_of_erbs);
  tcase_add_test(tcase, the_diffuse_share_has_no_jump_and_never_leaves_its_range);
  tcase_add_test(tcase, the_textbook_hour_on_a_steep_plane_comes_out);
  tcase_add_test(tcase, the_textbook_hour_under_the_sky_of_hay_and_davies_comes_out);
  tcase_add_test(tcase, the_textbook_hour_under_the_sky_of_perez_comes_out);
  tcase_add_test(tcase, the_air_mass_is_that_of_kasten_and_young);
  tcase_add_test(tcase, the_sky_of_perez_gives_the_rows_of_an_independent_program);
  tcase_add_test(tcase, the_other_bins_of_perez_equal_the_sums_by_hand);
  tcase_add_test(tcase, hay_and_davies_agree_with_a_sum_by_hand);
  tcase_add_test(tcase, the_low_sun_is_guarded);
  tcase_add_test(tcase, a_level_plane_gets_what_the_horizontal_gets);
  tcase_add_test(tcase, without_sun_every_sky_is_uniform);
  suite_add_tcase(suite, tcase);
  return suite;
}
