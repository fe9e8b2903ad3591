/* The light on a plane: hills, rows, trackers and months, against hand values and brute force. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "plant/array.h"
#include "suites.h"

static const double degree = M_PI / 180;

/* Light in hour `hour` of the year alone: beam 700 W/m2 from the direction east, north, up, diffuse
 * 140 W/m2. */
static steading_weather *light_from(int hour, double east, double north, double up) {
  steading_weather *weather = build_dark_weather();
  memset(weather->sun, 0, STEADING_HOURS_PER_YEAR * sizeof *weather->sun);
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++)
    weather->sun[i].extraterrestrial_w_per_m2 = 1361;
  weather->sun[hour] = (steading_sun_step){
      .east = east, .north = north, .up = up, .extraterrestrial_w_per_m2 = 1361, .lit_share = 1};
  weather->dni_w_per_m2[hour] = 700;
  weather->dhi_w_per_m2[hour] = 140;
  weather->ghi_w_per_m2[hour] = 700 * up + 140;
  return weather;
}

enum { NOON = 12, JULY_NOON = 181 * 24 + 12 };

/* What an array of 1000 W modules without temperature and glass gives in an hour: the light on its
 * plane, W/m2. */
static double plane_at(steading_weather *weather, int hour, const char *how) {
  steading_array *array = build(
      &steading_array_spec, NULL,
      "{ %s, incidence = false, module = { watts = 1000, temp_coefficient_per_c = 0 } }", how);
  steading_yield_key key = steading_yield_key_of(array);
  const double *yield = steading_yield_of(weather, &key);
  double light = 0;
  ck_assert_ptr_nonnull(yield);
  light = yield[hour] * 1000;
  steading_record_release(array);
  return light;
}

#define LEVEL "tilt_deg = 0, azimuth_deg = 180, sky_model = \"isotropic\""
#define TILTED "tilt_deg = 30, azimuth_deg = 180, sky_model = \"isotropic\""

/* The sun stands at 53.13 degrees in the south. */
static steading_weather *southern_sun(void) { return light_from(NOON, 0, -0.6, 0.8); }

/* A wall of 60 degrees all round leaves cos^2 60 = 1/4 of an even sky to a level plane, and no sun;
 * one of 50 degrees leaves the sun and cos^2 50 of the sky. */
START_TEST(a_wall_all_round_leaves_the_square_of_the_cosine) {
  steading_weather *weather = southern_sun();
  double below =
      plane_at(weather, NOON, LEVEL ", horizon = { { azimuth_deg = 0, elevation_deg = 60 } }");
  double above =
      plane_at(weather, NOON, LEVEL ", horizon = { { azimuth_deg = 0, elevation_deg = 50 } }");
  ck_assert_double_eq_tol(below, 140 * 0.25, 1e-9);
  ck_assert_double_eq_tol(above, 560 + 140 * cos(50 * degree) * cos(50 * degree), 1e-9);
  steading_weather_release(weather);
}
END_TEST

/* Off is false. */
START_TEST(no_skyline_is_a_free_one) {
  steading_weather *weather = southern_sun();
  ck_assert_double_eq(plane_at(weather, NOON, TILTED ", horizon = false"),
                      plane_at(weather, NOON, TILTED));
  steading_weather_release(weather);
}
END_TEST

/* A hill of 60 degrees in the south that falls to nothing in the east and west hides the noon sun
 * and its surroundings (Hay and Davies 1980: the share 700 / 1361 of the diffuse light), and not
 * the same sun in the north. */
START_TEST(a_hill_hides_the_sun_and_what_is_around_it) {
  static const char *const hill =
      "tilt_deg = 0, azimuth_deg = 180, sky_model = \"hay_davies\", horizon = { { azimuth_deg = "
      "90, elevation_deg = 0 }, { azimuth_deg = 180, elevation_deg = 60 }, { azimuth_deg = 270, "
      "elevation_deg = 0 } }";
  steading_weather *south = southern_sun(), *north = light_from(NOON, 0, 0.6, 0.8);
  double hidden = plane_at(south, NOON, hill), seen = plane_at(north, NOON, hill);
  double even = 140 * (1 - 700.0 / 1361), around = 140 * 700.0 / 1361, sky = 0, all = 0;
  for (int a = 0; a < 720; a++) /* brute force: the sky above the hill, by azimuth and elevation */
    for (int e = 0; e < 900; e++) {
      double azimuth = (a + 0.5) / 2, elevation = (e + 0.5) / 10;
      double top = azimuth > 90 && azimuth < 270 ? 60 * (1 - fabs(azimuth - 180) / 90) : 0;
      double weight = sin(elevation * degree) * cos(elevation * degree);
      all += weight;
      if (elevation > top) sky += weight;
    }
  ck_assert_double_eq_tol(hidden, even * sky / all, 0.02);
  ck_assert_double_eq_tol(seen, 560 + around + even * sky / all, 0.02);
  steading_weather_release(south);
  steading_weather_release(north);
}
END_TEST

/* Rows of slant 1 and pitch 2 at 30 degrees; the sun at a sine of 0.2 in the south: incidence
 * 0.9797959 x 0.5 + 0.2 x 0.8660254 = 0.6631030, shaded 1 - 2 x 0.2 / 0.6631030 = 0.3967754 of the
 * slant (Duffie and Beckman, profile angle). Three of four rows stand behind another. The sky and
 * the ground that a row sees, by crossed strings worked as a sum over its slant (Passias and
 * Kallback 1984). */
START_TEST(a_low_sun_between_rows_equals_a_sum_over_the_slant) {
  steading_weather *weather = light_from(NOON, 0, -sqrt(1 - 0.04), 0.2);
  double incidence = sqrt(0.96) * 0.5 + 0.2 * cos(30 * degree), shaded = 1 - 0.4 / incidence;
  double b = 30 * degree, sky = 0, open = 0, among = 0, halves = 0, cells = 20000;
  double ground_open = (700 * 0.2 + 140) * 0.2 * (1 - cos(b)) / 2, found = 0;
  for (int k = 0; k < cells; k++) {
    double s = (k + 0.5) / cells;
    double mask = atan2((1 - s) * sin(b), 2 - (1 - s) * cos(b));
    sky += (1 + cos(b + mask)) / 2 / cells;
  }
  open = 700 * incidence + 140 * (1 + cos(b)) / 2;
  among = 700 * incidence * (1 - shaded) + 140 * sky;
  found = plane_at(weather, NOON,
                   TILTED
                   ", albedo = 0, rows = { pitch_m = 6, slant_m = 3, count = 4, "
                   "sections = 0 }");
  ck_assert_double_eq_tol(shaded, 0.3967754, 1e-6);
  ck_assert_double_eq_tol(found, (3 * among + open) / 4, 1e-3);
  /* in two sections, of which shade reaches the lower one: a half is lost */
  halves = 700 * incidence * 0.5 + 140 * sky;
  ck_assert_double_eq_tol(plane_at(weather, NOON,
                                   TILTED ", albedo = 0, rows = { pitch_m = 6, slant_m = 3, "
                                          "count = 4, sections = 2 }"),
                          (3 * halves + open) / 4, 1e-3);
  /* rows see less ground than a row in the open, and never more than all of it */
  ck_assert_double_gt(plane_at(weather, NOON,
                               TILTED ", rows = { pitch_m = 6, slant_m = 3, count = 4, "
                                      "sections = 0 }"),
                      found + ground_open / 4);
  ck_assert_double_lt(plane_at(weather, NOON,
                               TILTED ", rows = { pitch_m = 6, slant_m = 3, count = 4, "
                                      "sections = 0 }"),
                      found + ground_open);
  steading_weather_release(weather);
}
END_TEST

/* Rows of 10,000 slants' distance stand at most 0.5 / 10000 rad above the ground: of 140 W/m2 from
 * the sky and as much from the ground they hide no more than that share of each. */
START_TEST(rows_far_apart_are_open_ground) {
  steading_weather *weather = southern_sun();
  double open = plane_at(weather, NOON, TILTED);
  double rows =
      plane_at(weather, NOON, TILTED ", rows = { pitch_m = 1000, slant_m = 0.1, count = 2 }");
  ck_assert_double_eq_tol(rows, open, 280 * 0.5 / 10000);
  ck_assert_double_lt(rows, open);
  steading_weather_release(weather);
}
END_TEST

/* A plane on two axes faces the sun, at the tilt of its zenith: 700 + 140 (1 + 0.8) / 2 + 0.2 x 700
 * (1 - 0.8) / 2 = 840. Held at 20 degrees: 700 cos 16.8699 + 140 (1 + cos 20) / 2 + 70 (1 - cos
 * 20). */
START_TEST(two_axes_face_the_sun_as_far_as_they_go) {
  steading_weather *weather = southern_sun();
  ck_assert_double_eq_tol(
      plane_at(weather, NOON, "tracking = { axes = \"two\" }, sky_model = \"isotropic\""), 840,
      1e-9);
  ck_assert_double_eq_tol(
      plane_at(weather, NOON,
               "tracking = { axes = \"two\", most_deg = 20 }, sky_model = \"isotropic\""),
      700 * cos(acos(0.8) - 20 * degree) + 140 * (1 + cos(20 * degree)) / 2 +
          70 * (1 - cos(20 * degree)),
      1e-9);
  steading_weather_release(weather);
}
END_TEST

/* A level axis from north to south: under a noon sun the plane lies level; under one in the west at
 * a sine of 0.8 it turns by 36.87 degrees and faces it; with at most 20 degrees it does not get
 * there. */
START_TEST(one_axis_follows_the_sun_from_east_to_west) {
  static const char *const free_axis = "tracking = {}, sky_model = \"isotropic\"";
  static const char *const held = "tracking = { most_deg = 20 }, sky_model = \"isotropic\"";
  steading_weather *noon = southern_sun(), *west = light_from(NOON, -0.6, 0, 0.8);
  ck_assert_double_eq_tol(plane_at(noon, NOON, free_axis), 700, 1e-9);
  ck_assert_double_eq_tol(plane_at(west, NOON, free_axis), 840, 1e-9);
  ck_assert_double_eq_tol(plane_at(west, NOON, held),
                          700 * cos(acos(0.8) - 20 * degree) + 140 * (1 + cos(20 * degree)) / 2 +
                              70 * (1 - cos(20 * degree)),
                          1e-9);
  steading_weather_release(noon);
  steading_weather_release(west);
}
END_TEST

/* A sun at a sine of 0.2 in the east, axes two slants apart: turned to the sun (78.46 degrees) a
 * tracker would shade 1 - 2 x 0.2 of the next. Turned back by acos 0.4 to 12.04 degrees it gets the
 * beam under acos 0.4: 700 x 0.4 = 280, the light between the rows, and none is shaded. */
START_TEST(a_tracker_that_turns_back_shades_none) {
  steading_weather *weather = light_from(NOON, sqrt(0.96), 0, 0.2);
  weather->dhi_w_per_m2[NOON] = 0;
  weather->ghi_w_per_m2[NOON] = 140;
  const char *rows =
      "albedo = 0, sky_model = \"isotropic\", rows = { pitch_m = 4, slant_m = 2, count = 10000, "
      "sections = 0 }, tracking = { most_deg = 90%s }";
  char how[256];
  snprintf(how, sizeof how, rows, ", backtracks = true");
  ck_assert_double_eq_tol(plane_at(weather, NOON, how), 280, 1e-6);
  snprintf(how, sizeof how, rows, "");
  /* facing the sun 0.4 of it is lit: the same light */
  ck_assert_double_eq_tol(plane_at(weather, NOON, how), 700 * (0.4 + 0.6 / 10000), 1e-6);
  steading_weather_release(weather);
}
END_TEST

/* A tilt and a ground for every month: January 60 degrees and snow, July 10 degrees and grass. */
START_TEST(months_have_their_tilt_and_ground) {
  steading_weather *january = southern_sun(), *july = light_from(JULY_NOON, 0, -0.6, 0.8);
  const char *how =
      "azimuth_deg = 180, sky_model = \"isotropic\", tilt_deg = { 60, 50, 40, 30, 20, 10, 10, 20, "
      "30, 40, 50, 60 }, albedo = { 0.7, 0.7, 0.2, 0.2, 0.2, 0.2, 0.25, 0.2, 0.2, 0.2, 0.2, 0.7 }";
  double tilts[2] = {60, 10}, grounds[2] = {0.7, 0.25};
  for (int k = 0; k < 2; k++) {
    double c = cos(tilts[k] * degree), s = sin(tilts[k] * degree);
    double expected =
        700 * (0.6 * s + 0.8 * c) + 140 * (1 + c) / 2 + 700 * grounds[k] * (1 - c) / 2;
    ck_assert_double_eq_tol(plane_at(k == 0 ? january : july, k == 0 ? NOON : JULY_NOON, how),
                            expected, 1e-9);
  }
  steading_weather_release(january);
  steading_weather_release(july);
}
END_TEST

static double year_of(steading_weather *weather, const char *how) {
  double sum = 0;
  steading_array *array =
      build(&steading_array_spec, NULL,
            "{ %s, module = { watts = 1000, temp_coefficient_per_c = -0.004 } }", how);
  steading_yield_key key = steading_yield_key_of(array);
  const double *yield = steading_yield_of(weather, &key);
  ck_assert_ptr_nonnull(yield);
  for (size_t i = 0; i < weather->steps; i++) sum += yield[i];
  steading_record_release(array);
  return sum;
}

/* Over a year: two axes beat one, one beats a plane that stands still; turning back costs less than
 * shade in sections does. Common practice, no source. */
START_TEST(a_year_of_trackers_is_in_order) {
  steading_weather *weather = build_sunny_weather(1);
  double two = year_of(weather, "tracking = { axes = \"two\" }");
  double one = year_of(weather, "tracking = { axis_tilt_deg = 30 }");
  double still = year_of(weather, "tilt_deg = 30, azimuth_deg = 180");
  double shaded =
      year_of(weather, "tracking = {}, rows = { pitch_m = 4, slant_m = 2, count = 20 }");
  double back = year_of(weather,
                        "tracking = { backtracks = true }, rows = { pitch_m = 4, slant_m = 2, "
                        "count = 20 }");
  double alone = year_of(weather, "tracking = {}");
  ck_assert_double_gt(two, one);
  ck_assert_double_gt(one, 1.1 * still);
  ck_assert_double_gt(back, shaded);
  ck_assert_double_gt(alone, back);
  steading_weather_release(weather);
}
END_TEST

/* The same sky seen in a mirror from east to west: every model of rows, hills and trackers yields
 * the same year. */
START_TEST(a_mirror_from_east_to_west_changes_nothing) {
  static const char *const pairs[][2] = {
      {"tilt_deg = 20, azimuth_deg = 100, rows = { pitch_m = 4, slant_m = 2, count = 5 }",
       "tilt_deg = 20, azimuth_deg = 260, rows = { pitch_m = 4, slant_m = 2, count = 5 }"},
      {"tilt_deg = 20, azimuth_deg = 100, horizon = { { azimuth_deg = 80, elevation_deg = 20 }, { "
       "azimuth_deg = 200, elevation_deg = 5 } }",
       "tilt_deg = 20, azimuth_deg = 260, horizon = { { azimuth_deg = 160, elevation_deg = 5 }, { "
       "azimuth_deg = 280, elevation_deg = 20 } }"},
      {"tracking = { axis_azimuth_deg = 150, axis_tilt_deg = 10 }, horizon = { { azimuth_deg = 80, "
       "elevation_deg = 20 }, { azimuth_deg = 200, elevation_deg = 5 } }",
       "tracking = { axis_azimuth_deg = 210, axis_tilt_deg = 10 }, horizon = { { azimuth_deg = "
       "160, elevation_deg = 5 }, { azimuth_deg = 280, elevation_deg = 20 } }"},
      {"tracking = { axes = \"two\" }, horizon = { { azimuth_deg = 80, elevation_deg = 20 }, { "
       "azimuth_deg = 200, elevation_deg = 5 } }",
       "tracking = { axes = \"two\" }, horizon = { { azimuth_deg = 160, elevation_deg = 5 }, { "
       "azimuth_deg = 280, elevation_deg = 20 } }"}};
  steading_weather *weather = build_sunny_weather(1), *mirror = build_sunny_weather(1);
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) mirror->sun[i].east = -mirror->sun[i].east;
  for (size_t k = 0; k < sizeof pairs / sizeof pairs[0]; k++) {
    double a = year_of(weather, pairs[k][0]), b = year_of(mirror, pairs[k][1]);
    ck_assert_double_gt(a, 1000);
    ck_assert_double_eq_tol(a, b, 1e-6 * a);
  }
  steading_weather_release(weather);
  steading_weather_release(mirror);
}
END_TEST

/* A plane that could turn and may not is the plane that stands: tables of views by tilt against
 * the views themselves. */
START_TEST(a_tracker_that_may_not_turn_is_a_plane_that_stands) {
  static const char *const pairs[][2] = {
      {"tracking = { axis_tilt_deg = 33.3, most_deg = 0 }", "tilt_deg = 33.3, azimuth_deg = 180"},
      {"tracking = { axis_tilt_deg = 33.3, axis_azimuth_deg = 120, most_deg = 0 }, horizon = { { "
       "azimuth_deg = 80, elevation_deg = 20 }, { azimuth_deg = 200, elevation_deg = 5 } }",
       "tilt_deg = 33.3, azimuth_deg = 120, horizon = { { azimuth_deg = 80, elevation_deg = 20 }, "
       "{ azimuth_deg = 200, elevation_deg = 5 } }"}};
  steading_weather *weather = build_sunny_weather(1);
  for (size_t k = 0; k < 2; k++) {
    double turning = year_of(weather, pairs[k][0]), standing = year_of(weather, pairs[k][1]);
    ck_assert_double_eq_tol(turning, standing, 1e-5 * standing);
  }
  steading_weather_release(weather);
}
END_TEST

Suite *plane_suite(void) {
  Suite *suite = suite_create("plane");
  TCase *tests = tcase_create("plane");
  tcase_add_test(tests, a_wall_all_round_leaves_the_square_of_the_cosine);
  tcase_add_test(tests, no_skyline_is_a_free_one);
  tcase_add_test(tests, a_hill_hides_the_sun_and_what_is_around_it);
  tcase_add_test(tests, a_low_sun_between_rows_equals_a_sum_over_the_slant);
  tcase_add_test(tests, rows_far_apart_are_open_ground);
  tcase_add_test(tests, two_axes_face_the_sun_as_far_as_they_go);
  tcase_add_test(tests, one_axis_follows_the_sun_from_east_to_west);
  tcase_add_test(tests, a_tracker_that_turns_back_shades_none);
  tcase_add_test(tests, months_have_their_tilt_and_ground);
  tcase_add_test(tests, a_year_of_trackers_is_in_order);
  tcase_add_test(tests, a_mirror_from_east_to_west_changes_nothing);
  tcase_add_test(tests, a_tracker_that_may_not_turn_is_a_plane_that_stands);
  suite_add_tcase(suite, tests);
  return suite;
}
