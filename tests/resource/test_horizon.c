/* Skylines: against straight lines worked out plainly, closed forms of the sky that is left, and a
 * sum over the sky piece by piece. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "random.h"
#include "resource/horizon.h"
#include "suites.h"

static const double degree = M_PI / 180;

static steading_horizon ready(const steading_horizon_point *points, size_t count) {
  steading_horizon h;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_horizon_make(points, count, "horizon", &h, &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  return h;
}

static steading_horizon level(double elevation_deg) {
  steading_horizon_point one = {123, elevation_deg};
  return ready(&one, 1);
}

/* The straight line between the points around an azimuth, by looking at every pair. */
static double plain_elevation(const steading_horizon_point *p, size_t count, double azimuth) {
  for (size_t i = 0; i < count; i++) {
    double from = p[i].azimuth_deg,
           to = i + 1 < count ? p[i + 1].azimuth_deg : p[0].azimuth_deg + 360;
    double at = azimuth < from ? azimuth + 360 : azimuth;
    double next = p[(i + 1) % count].elevation_deg;
    if (at >= from && at < to)
      return p[i].elevation_deg + (next - p[i].elevation_deg) * (at - from) / (to - from);
  }
  ck_abort_msg("no pair of points around %g", azimuth);
  return 0;
}

/* Points drawn at random, 1 to 40, up to `highest` and as steep as `steepest` degrees a degree. */
static size_t drawn(uint64_t i, double highest, double steepest,
                    steading_horizon_point points[40]) {
  size_t count = 1 + (size_t)(40 * steading_random_uniform(51, 0, 0, i)) % 40;
  double at = 9 * steading_random_uniform(51, 0, 1, i);
  for (size_t k = 0; k < count; k++) {
    double room = 350.0 / (double)count;
    double goal = highest * steading_random_uniform(51, 1, (uint32_t)k, i);
    points[k].azimuth_deg = at;
    points[k].elevation_deg = goal;
    if (k > 0) {
      double most = steepest * (at - points[k - 1].azimuth_deg),
             before = points[k - 1].elevation_deg;
      points[k].elevation_deg = fmin(fmax(goal, before - most), before + most);
    }
    at += room * (0.05 + 0.94 * steading_random_uniform(51, 2, (uint32_t)k, i));
  }
  return count;
}

/* Round the turn the last piece may be steeper than the rest: it is left out of the comparison. */
static double worst_miss(double highest, double steepest) {
  double worst = 0;
  for (uint64_t i = 0; i < 60; i++) {
    steading_horizon_point p[40];
    size_t count = drawn(i, highest, steepest, p);
    steading_horizon h = ready(p, count);
    for (int k = 0; k < 36000; k += 7) {
      double azimuth = k / 100.0, size = 0.2 + k % 3;
      double plain = plain_elevation(p, count, azimuth), found = 0;
      ck_assert_double_eq_tol(steading_horizon_elevation_deg(&h, azimuth), plain, 1e-11);
      if (azimuth < p[0].azimuth_deg || azimuth > p[count - 1].azimuth_deg) continue;
      found = atan(steading_horizon_tangent(&h, size * sin(azimuth * degree),
                                            size * cos(azimuth * degree))) /
              degree;
      worst = fmax(worst, fabs(found - plain));
    }
  }
  return worst;
}

/* The header's bound for natural hills, and one for steep ones. */
START_TEST(the_table_follows_the_straight_lines) {
  ck_assert_double_le(worst_miss(45, 1), 0.01);
  ck_assert_double_le(worst_miss(45, 5), 0.15);
}
END_TEST

START_TEST(at_the_points_the_table_is_exact) {
  for (uint64_t i = 0; i < 200; i++) {
    steading_horizon_point p[40];
    size_t count = drawn(i, 89, 1e9, p);
    steading_horizon h = ready(p, count);
    for (size_t k = 0; k < count; k++) {
      double a = p[k].azimuth_deg * degree, t = tan(p[k].elevation_deg * degree);
      ck_assert_double_eq(steading_horizon_elevation_deg(&h, p[k].azimuth_deg), p[k].elevation_deg);
      ck_assert_double_eq_tol(steading_horizon_tangent(&h, sin(a), cos(a)), t, 1e-9 * (1 + t * t));
    }
  }
}
END_TEST

/* Two points: the profile wraps through north; all four quarters by hand. */
START_TEST(a_profile_goes_on_round_through_north) {
  static const steading_horizon_point p[2] = {{90, 10}, {270, 30}};
  steading_horizon h = ready(p, 2);
  static const double rows[6][2] = {{0, 20},   {90, 10},  {180, 20},
                                    {270, 30}, {315, 25}, {359, 181. / 9}};
  for (int i = 0; i < 6; i++) {
    double a = rows[i][0] * degree;
    ck_assert_double_eq_tol(steading_horizon_elevation_deg(&h, rows[i][0]), rows[i][1], 1e-12);
    ck_assert_double_eq_tol(steading_horizon_elevation_deg(&h, rows[i][0] - 360), rows[i][1],
                            1e-12);
    ck_assert_double_eq_tol(atan(steading_horizon_tangent(&h, sin(a), cos(a))) / degree, rows[i][1],
                            1e-9);
  }
  ck_assert_double_eq_tol(steading_horizon_tangent(&h, 0, 0), tan(20 * degree), 1e-12);
  ck_assert_double_eq_tol(steading_horizon_tangent(&h, -1e-300, 1), tan(20 * degree), 1e-9);
}
END_TEST

START_TEST(the_sun_is_hidden_below_the_skyline_and_shines_above) {
  static const steading_horizon_point p[4] = {{0, 0}, {100, 20}, {180, 5}, {260, 40}};
  steading_horizon h = ready(p, 4), flat = level(0);
  for (double azimuth = 0; azimuth < 360; azimuth += 3.7) {
    double edge = plain_elevation(p, 4, azimuth);
    for (double e = -5; e <= 90; e += 0.9) {
      double east = cos(e * degree) * sin(azimuth * degree), up = sin(e * degree);
      double north = cos(e * degree) * cos(azimuth * degree);
      if (fabs(e - edge) < 0.02) continue; /* the table's miss */
      ck_assert_int_eq(steading_horizon_blocks(&h, east, north, up), e < edge);
      ck_assert_int_eq(steading_horizon_blocks(&flat, east, north, up), e <= 0);
    }
  }
  ck_assert(!steading_horizon_blocks(&h, 0, 0, 1)); /* in the zenith */
  ck_assert(steading_horizon_blocks(&flat, 0, 1, 0));
}
END_TEST

/* A level plane under a skyline h all round sees cos^2 h of an even sky; an upright one sees
 * 1 - (2 h + sin 2h) / pi: over the elevations cos^2 e, before it cos of the azimuth. Both by hand.
 */
START_TEST(sky_under_a_level_skyline_in_closed_form) {
  for (double elevation = 0; elevation < 89; elevation += 5.5) {
    steading_horizon h = level(elevation);
    double rad = elevation * degree, c = cos(rad);
    for (double azimuth = 0; azimuth < 360; azimuth += 33.3) {
      ck_assert_double_eq_tol(steading_horizon_sky_share(&h, 0, azimuth), c * c, 1e-12);
      ck_assert_double_eq_tol(steading_horizon_sky_share(&h, 90, azimuth),
                              1 - (2 * rad + sin(2 * rad)) / M_PI, 1e-5);
    }
  }
}
END_TEST

/* A skyline in the eastern half alone. An upright plane that looks east loses as under one all
 * round, one that looks west nothing, one that looks south half: its east. A level plane loses half
 * of sin^2 h. The ramps at the ends are a thousandth of a degree wide. */
START_TEST(sky_beside_half_a_skyline_in_closed_form) {
  for (double elevation = 3; elevation < 80; elevation += 11) {
    steading_horizon_point p[4] = {{0, elevation}, {180, elevation}, {180.001, 0}, {359.999, 0}};
    steading_horizon h = ready(p, 4);
    double rad = elevation * degree, lost = (2 * rad + sin(2 * rad)) / M_PI;
    ck_assert_double_eq_tol(steading_horizon_sky_share(&h, 90, 90), 1 - lost, 2e-5);
    ck_assert_double_eq_tol(steading_horizon_sky_share(&h, 90, 270), 1, 2e-5);
    ck_assert_double_eq_tol(steading_horizon_sky_share(&h, 90, 180), 1 - lost / 2, 2e-5);
    ck_assert_double_eq_tol(steading_horizon_sky_share(&h, 0, 0), 1 - sin(rad) * sin(rad) / 2,
                            2e-5);
  }
}
END_TEST

/* The sky in pieces of a half by a twentieth of a degree, seen or not by their middle: an edge that
 * runs along a row of pieces may misplace half a row, 0.025 degrees or 0.00044 of the whole. */
static double share_by_pieces(const steading_horizon_point *p, size_t count, double tilt,
                              double azimuth) {
  double seen = 0, all = 0;
  static double sines[1800], cosines[1800];
  for (int k = 0; k < 1800; k++) {
    sines[k] = sin((k + 0.5) / 20 * degree);
    cosines[k] = cos((k + 0.5) / 20 * degree);
  }
  for (int i = 0; i < 720; i++) {
    double at = (i + 0.5) / 2, edge = plain_elevation(p, count, at);
    double across = sin(tilt * degree) * cos((at - azimuth) * degree), up = cos(tilt * degree);
    for (int k = 0; k < 1800; k++) {
      double light = (up * sines[k] + across * cosines[k]) * cosines[k];
      if (light <= 0) continue;
      all += light;
      if ((k + 0.5) / 20 > edge) seen += light;
    }
  }
  return seen / all;
}

START_TEST(sky_over_any_skyline_is_that_of_a_sum_over_pieces) {
  for (uint64_t i = 0; i < 25; i++) {
    steading_horizon_point p[40];
    size_t count = drawn(i, 70, 1e9, p);
    steading_horizon h = ready(p, count);
    double tilt = 90 * steading_random_uniform(52, 0, 0, i);
    double azimuth = 360 * steading_random_uniform(52, 0, 1, i);
    ck_assert_double_eq_tol(steading_horizon_sky_share(&h, tilt, azimuth),
                            share_by_pieces(p, count, tilt, azimuth), 6e-4);
  }
}
END_TEST

START_TEST(without_a_skyline_the_whole_sky_is_left) {
  steading_horizon h = level(0);
  for (double tilt = 0; tilt <= 90; tilt += 7.5)
    for (double azimuth = 0; azimuth < 360; azimuth += 41.7)
      ck_assert_double_eq_tol(steading_horizon_sky_share(&h, tilt, azimuth), 1, 1e-5);
}
END_TEST

START_TEST(profiles_that_cannot_be_are_refused) {
  static const struct {
    steading_horizon_point points[3];
    size_t count;
    const char *path, *text;
  } rows[] = {
      {{{0, 0}},
       0,
       "horizon",
       "an empty list, expected { { azimuth_deg = , elevation_deg = }, ... }"},
      {{{100, 5}, {90, 5}},
       2,
       "horizon[2].azimuth_deg",
       "90: expected more than that of the point before: points go clockwise from north"},
      {{{100, 5}, {100, 9}},
       2,
       "horizon[2].azimuth_deg",
       "100: expected more than that of the point before: points go clockwise from north"},
      {{{0, 5}, {90, 9}, {360, 5}},
       3,
       "horizon[3].azimuth_deg",
       "360: expected 0 to less than 360 (360 is 0: the profile goes on round)"},
      {{{-10, 5}},
       1,
       "horizon[1].azimuth_deg",
       "-10: expected 0 to less than 360 (360 is 0: the profile goes on round)"},
      {{{0, 90}}, 1, "horizon[1].elevation_deg", "90: expected 0 to less than 90"},
      {{{0, 5}, {20, -1}}, 2, "horizon[2].elevation_deg", "-1: expected 0 to less than 90"},
      {{{0, (double)NAN}}, 1, "horizon[1].elevation_deg", "nan: expected 0 to less than 90"}};
  steading_horizon h;
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    steading_error error = {.status = STEADING_OK};
    ck_assert_int_eq(steading_horizon_make(rows[i].points, rows[i].count, "horizon", &h, &error),
                     STEADING_BAD_INPUT);
    ck_assert_str_eq(error.path, rows[i].path);
    ck_assert_str_eq(error.text, rows[i].text);
  }
}
END_TEST

/* As many points as there may be, a third of a degree apart. */
START_TEST(the_longest_profile_fits) {
  steading_horizon_point p[STEADING_HORIZON_POINTS_MOST + 1];
  steading_error error = {.status = STEADING_OK};
  steading_horizon h;
  for (int i = 0; i <= STEADING_HORIZON_POINTS_MOST; i++)
    p[i] = (steading_horizon_point){i / 3.0 + 0.1, i % 5};
  h = ready(p, STEADING_HORIZON_POINTS_MOST);
  for (int i = 0; i < STEADING_HORIZON_POINTS_MOST; i += 7) {
    double a = p[i].azimuth_deg * degree;
    ck_assert_double_eq_tol(steading_horizon_tangent(&h, sin(a), cos(a)),
                            tan(p[i].elevation_deg * degree), 1e-9);
  }
  ck_assert_int_eq(
      steading_horizon_make(p, STEADING_HORIZON_POINTS_MOST + 1, "horizon", &h, &error),
      STEADING_BAD_INPUT);
  ck_assert_str_eq(error.text, "found 361 points, at most 360");
}
END_TEST

Suite *horizon_suite(void) {
  Suite *suite = suite_create("horizon");
  TCase *tests = tcase_create("horizon");
  tcase_set_timeout(tests, 60);
  tcase_add_test(tests, the_table_follows_the_straight_lines);
  tcase_add_test(tests, at_the_points_the_table_is_exact);
  tcase_add_test(tests, a_profile_goes_on_round_through_north);
  tcase_add_test(tests, the_sun_is_hidden_below_the_skyline_and_shines_above);
  tcase_add_test(tests, sky_under_a_level_skyline_in_closed_form);
  tcase_add_test(tests, sky_beside_half_a_skyline_in_closed_form);
  tcase_add_test(tests, sky_over_any_skyline_is_that_of_a_sum_over_pieces);
  tcase_add_test(tests, without_a_skyline_the_whole_sky_is_left);
  tcase_add_test(tests, profiles_that_cannot_be_are_refused);
  tcase_add_test(tests, the_longest_profile_fits);
  suite_add_tcase(suite, tests);
  return suite;
}
