/* Rows that shade each other: against rays that are followed one by one, and values worked out by a
 * program of its own. */
#include <check.h>
#include <math.h>
#include <stdbool.h>

#include "random.h"
#include "resource/rows.h"
#include "suites.h"

static const double degree = M_PI / 180;

/* The section square to the rows: x to where they face, y up. Row k has its lower edge at k pitch
 * and its upper edge behind and above it; row 0 is the one looked at, row 1 stands before it. A ray
 * from (x, y) meets a row where a point of both segments is the same. */
static bool meets_row(double pitch, double tilt, int k, double x, double y, double dx, double dy) {
  double rx = -cos(tilt), ry = sin(tilt), ox = k * pitch - x, oy = -y;
  double determinant = dx * -ry + rx * dy, along = 0, place = 0;
  if (fabs(determinant) < 1e-14) return false;
  along = (ox * -ry + rx * oy) / determinant;
  place = (dx * oy - dy * ox) / determinant;
  return along > 1e-9 && place >= 0 && place <= 1;
}

/* Shaded share of row 0 for a sun that is `facing` and `up` in the section, by 4000 rays from its
 * front, against the two rows on either side. */
static double shaded_by_rays(double pitch, double tilt, double facing, double up) {
  int shaded = 0;
  for (int i = 0; i < 4000; i++) {
    double place = (i + 0.5) / 4000, x = -place * cos(tilt), y = place * sin(tilt);
    bool hit = false;
    for (int k = -2; k <= 2; k++)
      if (k != 0 && meets_row(pitch, tilt, k, x, y, facing, up)) hit = true;
    shaded += hit;
  }
  return shaded / 4000.0;
}

START_TEST(the_shaded_share_is_that_of_rays) {
  for (uint64_t i = 0; i < 300; i++) {
    double tilt = 90 * degree * steading_random_uniform(31, 0, 0, i);
    double pitch = cos(tilt) + 0.02 + 3 * steading_random_uniform(31, 0, 1, i);
    double elevation = 90 * degree * pow(steading_random_uniform(31, 0, 2, i), 2);
    double from = 360 * degree * steading_random_uniform(31, 0, 3, i);
    double facing = cos(elevation) * cos(from), up = sin(elevation);
    double cos_incidence = facing * sin(tilt) + up * cos(tilt);
    double found = steading_rows_shaded_share(pitch, up, cos_incidence);
    if (cos_incidence <= 1e-3) continue; /* no light on the front */
    ck_assert_double_eq_tol(found, shaded_by_rays(pitch, tilt, facing, up), 1.01 / 4000);
  }
}
END_TEST

/* A slant of 2 at 30 degrees, rows 3.5 apart; sun straight before the rows, and at 12 degrees, 45
 * to the side. */
START_TEST(shaded_shares_by_another_program) {
  static const double rows[3][2] = {{10, 0.52724}, {15, 0.35946}, {20, 0.21867}};
  double c = cos(30 * degree), s = 0.5;
  for (int i = 0; i < 3; i++) {
    double p = rows[i][0] * degree;
    ck_assert_double_eq_tol(steading_rows_shaded_share(1.75, sin(p), sin(p) * c + cos(p) * s),
                            rows[i][1], 5e-6);
  }
  ck_assert_double_eq_tol(steading_rows_profile_deg(12, 45), 16.7308, 5e-5);
  ck_assert_double_eq_tol(
      steading_rows_shaded_share(1.75, sin(12 * degree),
                                 sin(12 * degree) * c + cos(12 * degree) * cos(45 * degree) * s),
      0.30813, 5e-6);
}
END_TEST

/* Noon and ten o'clock of the winter solstice at 40 degrees north, tilt 40 (by another program; the
 * sun's angles have three decimals, and so the profile angle's third is uncertain). */
START_TEST(the_clear_pitch_is_where_shade_begins) {
  double profile = steading_rows_profile_deg(20.660, -29.356);
  ck_assert_double_eq_tol(profile, 23.395, 1.5e-3);
  ck_assert_double_eq_tol(steading_rows_clear_pitch(40, 26.55), 2.0525, 5e-5);
  ck_assert_double_eq_tol(steading_rows_clear_pitch(40, profile), 2.2518, 5e-5);
  for (double tilt = 5; tilt < 90; tilt += 7)
    for (double p = 3; p < 60; p += 5) {
      double pitch = steading_rows_clear_pitch(tilt, p), up = sin(p * degree);
      double incidence = sin((p + tilt) * degree);
      ck_assert_double_eq_tol(steading_rows_shaded_share(pitch, up, incidence), 0, 1e-14);
      ck_assert_double_eq_tol(steading_rows_shaded_share(0.9 * pitch, up, incidence), 0.1, 1e-14);
    }
}
END_TEST

START_TEST(profile_angles_of_a_sun_at_the_side_and_behind) {
  ck_assert_double_eq_tol(steading_rows_profile_deg(30, 0), 30, 1e-12);
  ck_assert_double_eq_tol(steading_rows_profile_deg(30, 90), 90, 1e-12);
  ck_assert_double_eq_tol(steading_rows_profile_deg(30, 180), 150, 1e-12);
  ck_assert_double_lt(steading_rows_profile_deg(-5, 20), 0);
}
END_TEST

START_TEST(a_sun_at_the_ground_shades_all_and_one_behind_shades_nothing) {
  ck_assert_double_eq(steading_rows_shaded_share(2, 0, 0.5), 1);
  ck_assert_double_eq(steading_rows_shaded_share(2, -0.1, 0.5), 1);
  ck_assert_double_eq(steading_rows_shaded_share(2, 0.5, 0), 0);
  ck_assert_double_eq(steading_rows_shaded_share(2, 0.01, -0.5), 0);
  ck_assert_double_eq(steading_rows_shaded_share(HUGE_VAL, 0.01, 0.5), 0); /* a single row */
}
END_TEST

START_TEST(sections_lose_all_that_shade_reaches) {
  static const double rows[8][3] = {/* shaded, sections, lost */
                                    {0, 3, 0},          {0.01, 3, 1 / 3.0}, {1 / 3.0, 3, 1 / 3.0},
                                    {0.34, 3, 2 / 3.0}, {0.7, 3, 1},        {0.2, 0, 0.2},
                                    {1e-6, 1, 1},       {0.51, 2, 1}};
  for (int i = 0; i < 8; i++)
    ck_assert_double_eq_tol(steading_rows_beam_lost(rows[i][0], (int)rows[i][1]), rows[i][2],
                            1e-15);
}
END_TEST

START_TEST(the_first_row_stands_in_the_open) {
  ck_assert_double_eq_tol(steading_rows_mean(0.3, 0, 3), 0.2, 1e-15);
  ck_assert_double_eq(steading_rows_mean(0.3, 0, 1), 0);
  ck_assert_double_eq(steading_rows_mean(0.3, 0, HUGE_VAL), 0.3);
  ck_assert_double_eq_tol(steading_rows_mean(0.8, 0.9, 2), 0.85, 1e-15);
}
END_TEST

/* The mask angle at mid-height and the mean view of the sky of the case above, by another program;
 * the mean over the slant of (1 + cos(b + mask)) / 2 by summing. */
START_TEST(the_sky_seen_over_the_row_before) {
  steading_rows_view view;
  ck_assert_double_eq_tol(steading_rows_mask_deg(1.75, 30, 0.5), 10.7484, 5e-5);
  ck_assert_double_eq(steading_rows_mask_deg(1.75, 30, 1), 0);
  steading_rows_view_of(1.75, cos(30 * degree), 0.5, &view);
  ck_assert_double_eq_tol(view.sky, 0.86721, 5e-6);
  ck_assert_double_eq_tol(1 - view.sky / ((1 + cos(30 * degree)) / 2), 0.0705, 5e-5);
  for (double tilt = 0; tilt <= 90; tilt += 15)
    for (double pitch = cos(tilt * degree) + 0.1; pitch < 5; pitch += 0.4) {
      double sum = 0;
      for (int i = 0; i < 2000; i++)
        sum += (1 + cos((tilt + steading_rows_mask_deg(pitch, tilt, (i + 0.5) / 2000)) * degree)) /
               4000;
      steading_rows_view_of(pitch, cos(tilt * degree), sin(tilt * degree), &view);
      ck_assert_double_eq_tol(view.sky, sum, 2e-5);
    }
}
END_TEST

/* Views in the section by rays: the share that a surface of normal n sees of what lies between two
 * directions is half the integral of the cosine to n. 300 places, 1500 rays each. */
START_TEST(views_are_those_of_rays) {
  static const double cases[5][2] = {{30, 1.75}, {60, 1.2}, {15, 1.1}, {90, 0.7}, {35, 3}};
  for (int c = 0; c < 5; c++) {
    double tilt = cases[c][0] * degree, pitch = cases[c][1];
    double sky = 0, ground = 0, row = 0, ground_sky = 0;
    steading_rows_view view;
    for (int i = 0; i < 300; i++)
      for (int j = 0; j < 1500; j++) {
        double off = M_PI * ((j + 0.5) / 1500 - 0.5), weight = cos(off) * M_PI / 2 / 1500 / 300;
        double place = (i + 0.5) / 300, angle = M_PI / 2 - tilt + off; /* of the ray, from level */
        double dx = cos(angle), dy = sin(angle);
        if (meets_row(pitch, tilt, 1, -place * cos(tilt), place * sin(tilt), dx, dy))
          row += weight;
        else if (dy < 0)
          ground += weight;
        else
          sky += weight;
        angle = M_PI / 2 + off; /* from the ground between the rows */
        dx = cos(angle);
        dy = sin(angle);
        if (!meets_row(pitch, tilt, 0, place * pitch, 0, dx, dy) &&
            !meets_row(pitch, tilt, 1, place * pitch, 0, dx, dy))
          ground_sky += weight;
      }
    steading_rows_view_of(pitch, cos(tilt), sin(tilt), &view);
    ck_assert_double_eq_tol(view.sky, sky, 1e-3);
    ck_assert_double_eq_tol(view.ground, ground, 1e-3);
    ck_assert_double_eq_tol(view.row_before, row, 1e-3);
    ck_assert_double_eq_tol(view.ground_sky, ground_sky, 2e-3);
  }
}
END_TEST

START_TEST(far_apart_the_views_are_those_of_a_single_plane) {
  for (double tilt = 0; tilt <= 90; tilt += 10) {
    steading_rows_view view;
    steading_rows_view_of(1e6, cos(tilt * degree), sin(tilt * degree), &view);
    ck_assert_double_eq_tol(view.sky, (1 + cos(tilt * degree)) / 2, 1e-6);
    ck_assert_double_eq_tol(view.ground, (1 - cos(tilt * degree)) / 2, 1e-6);
    ck_assert_double_eq_tol(view.row_before, 0, 1e-6);
    ck_assert_double_eq_tol(view.ground_sky, 1, 2e-6);
  }
}
END_TEST

START_TEST(the_lit_ground_is_that_of_rays) {
  for (uint64_t i = 0; i < 150; i++) {
    double tilt = 90 * degree * steading_random_uniform(32, 0, 0, i);
    double pitch = cos(tilt) + 0.02 + 3 * steading_random_uniform(32, 0, 1, i);
    double elevation = 1.5 * steading_random_uniform(32, 0, 2, i) + 0.03;
    double from = 360 * degree * steading_random_uniform(32, 0, 3, i);
    double facing = cos(elevation) * cos(from), up = sin(elevation);
    double cos_incidence = facing * sin(tilt) + up * cos(tilt);
    int lit = 0;
    for (int k = 0; k < 4000; k++) {
      bool hit = false;
      for (int row = -40; row <= 40 && !hit; row++)
        hit = meets_row(pitch, tilt, row, (k + 0.5) / 4000 * pitch, 0, facing, up);
      lit += !hit;
    }
    ck_assert_double_eq_tol(steading_rows_ground_lit(pitch, up, cos_incidence), lit / 4000.0,
                            1.01 / 4000);
  }
  ck_assert_double_eq(steading_rows_ground_lit(2, 0, 0.4), 0);
  ck_assert_double_eq(steading_rows_ground_lit(HUGE_VAL, 0.2, 0.4), 1);
}
END_TEST

Suite *rows_suite(void) {
  Suite *suite = suite_create("rows");
  TCase *tests = tcase_create("rows");
  tcase_add_test(tests, the_shaded_share_is_that_of_rays);
  tcase_add_test(tests, shaded_shares_by_another_program);
  tcase_add_test(tests, the_clear_pitch_is_where_shade_begins);
  tcase_add_test(tests, profile_angles_of_a_sun_at_the_side_and_behind);
  tcase_add_test(tests, a_sun_at_the_ground_shades_all_and_one_behind_shades_nothing);
  tcase_add_test(tests, sections_lose_all_that_shade_reaches);
  tcase_add_test(tests, the_first_row_stands_in_the_open);
  tcase_add_test(tests, the_sky_seen_over_the_row_before);
  tcase_add_test(tests, views_are_those_of_rays);
  tcase_add_test(tests, far_apart_the_views_are_those_of_a_single_plane);
  tcase_add_test(tests, the_lit_ground_is_that_of_rays);
  suite_add_tcase(suite, tests);
  return suite;
}
