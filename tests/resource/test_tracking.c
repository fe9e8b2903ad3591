/* Planes that follow the sun: against a search of all rotations, and hand geometry. */
#include <check.h>
#include <math.h>

#include "random.h"
#include "resource/rows.h"
#include "resource/tracking.h"
#include "suites.h"

static const double degree = M_PI / 180;

/* Towards a sun of this elevation and azimuth. */
static void towards(double elevation_deg, double azimuth_deg, double sun[3]) {
  sun[0] = cos(elevation_deg * degree) * sin(azimuth_deg * degree);
  sun[1] = cos(elevation_deg * degree) * cos(azimuth_deg * degree);
  sun[2] = sin(elevation_deg * degree);
}

static steading_tracked_plane plane_under(const steading_tracker_mount *tracker,
                                          double elevation_deg, double azimuth_deg) {
  steading_tracker_frame frame = steading_tracker_frame_of(tracker);
  steading_tracked_plane plane;
  double sun[3];
  towards(elevation_deg, azimuth_deg, sun);
  steading_tracker_plane(tracker, &frame, sun[0], sun[1], sun[2], &plane);
  return plane;
}

/* Normal of the plane at a rotation by Rodrigues' formula: the normal at rotation 0 turned about
 * the axis, which falls towards its azimuth. */
static void turned(const steading_tracker_mount *t, double rotation_deg, double normal[3]) {
  double b = t->axis_tilt_deg * degree, g = t->axis_azimuth_deg * degree;
  double r = rotation_deg * degree;
  double axis[3] = {cos(b) * sin(g), cos(b) * cos(g), -sin(b)};
  double start[3] = {sin(b) * sin(g), sin(b) * cos(g), cos(b)};
  /* clockwise for one who looks along the axis: right-handed about it */
  double cross[3] = {axis[1] * start[2] - axis[2] * start[1],
                     axis[2] * start[0] - axis[0] * start[2],
                     axis[0] * start[1] - axis[1] * start[0]};
  for (int i = 0; i < 3; i++) normal[i] = start[i] * cos(r) + cross[i] * sin(r);
}

static double uniform(uint32_t purpose, uint64_t index) {
  return steading_random_uniform(41, 0, purpose, index);
}

START_TEST(no_rotation_within_the_limits_has_a_smaller_incidence) {
  for (uint64_t i = 0; i < 500; i++) {
    steading_tracker_mount t = {.axes = STEADING_TRACKING_ONE_AXIS,
                                .axis_azimuth_deg = 360 * uniform(0, i),
                                .axis_tilt_deg = i % 3 == 0 ? 0 : 60 * uniform(1, i),
                                .most_deg = 20 + 70 * uniform(2, i)};
    double elevation = 89 * uniform(3, i) + 0.1, azimuth = 360 * uniform(4, i), best = -2;
    double sun[3], normal[3];
    steading_tracked_plane p = plane_under(&t, elevation, azimuth);
    towards(elevation, azimuth, sun);
    for (int k = -2000; k <= 2000; k++) {
      turned(&t, k / 2000.0 * t.most_deg, normal);
      best = fmax(best, sun[0] * normal[0] + sun[1] * normal[1] + sun[2] * normal[2]);
    }
    ck_assert_double_ge(p.cos_incidence, best - 1e-12);
    ck_assert_double_lt(p.cos_incidence, best + 1e-3); /* the search has steps */
    ck_assert_double_le(fabs(p.rotation_deg), t.most_deg + 1e-12);
    turned(&t, p.rotation_deg, normal);
    ck_assert_double_eq_tol(p.east, normal[0], 1e-12);
    ck_assert_double_eq_tol(p.north, normal[1], 1e-12);
    ck_assert_double_eq_tol(p.up, normal[2], 1e-12);
    ck_assert_double_eq_tol(p.sin_tilt, sqrt(1 - normal[2] * normal[2]), 1e-7);
  }
}
END_TEST

/* An axis to the south: a sun in the west at 30 degrees is 60 degrees to the right; in the south it
 * is straight above; a limit of 50 holds. An axis to the north turns the other way. */
START_TEST(rotations_by_hand) {
  steading_tracker_mount t = {
      .axes = STEADING_TRACKING_ONE_AXIS, .axis_azimuth_deg = 180, .most_deg = 90};
  ck_assert_double_eq_tol(plane_under(&t, 30, 270).rotation_deg, 60, 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 30, 270).cos_incidence, 1, 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 30, 90).rotation_deg, -60, 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 30, 180).rotation_deg, 0, 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 30, 180).cos_incidence, 0.5, 1e-12);
  t.most_deg = 50;
  ck_assert_double_eq_tol(plane_under(&t, 30, 270).rotation_deg, 50, 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 30, 270).cos_incidence, cos(10 * degree), 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 30, 270).east, -sin(50 * degree), 1e-12);
  t.axis_azimuth_deg = 0;
  ck_assert_double_eq_tol(plane_under(&t, 50, 270).rotation_deg, -40, 1e-12);
  t.axis_azimuth_deg = 180; /* an axis towards the pole: its plane faces the noon sun at a tilt */
  t.axis_tilt_deg = 35;
  ck_assert_double_eq_tol(plane_under(&t, 55, 180).cos_incidence, 1, 1e-12);
  ck_assert_double_eq_tol(plane_under(&t, 55, 180).sin_tilt, sin(35 * degree), 1e-12);
}
END_TEST

/* Rows on level ground: the tracker's plane is a row of tilt |rotation|. Nothing is shaded, and
 * turning on by a hundredth of a degree towards the sun would shade: no more is given up than
 * must be. Some suns need no turning back at all. */
START_TEST(trackers_that_turn_back_shade_nothing_and_turn_back_no_more_than_they_must) {
  int turned_back = 0, free = 0;
  for (uint64_t i = 0; i < 3000; i++) {
    steading_tracker_mount t = {.axes = STEADING_TRACKING_ONE_AXIS,
                                .axis_azimuth_deg = 360 * uniform(10, i),
                                .axis_tilt_deg = i % 2 == 0 ? 0 : 40 * uniform(11, i),
                                .most_deg = 30 + 60 * uniform(12, i),
                                .pitch = 1 + 3 * uniform(13, i)};
    double elevation = 0.1 + 60 * uniform(14, i), azimuth = 360 * uniform(15, i), shaded = 0;
    double sun[3], normal[3];
    steading_tracked_plane plain = plane_under(&t, elevation, azimuth), back;
    t.backtracks = true;
    back = plane_under(&t, elevation, azimuth);
    if (back.sun_over_axes <= 0) { /* the sun is below the plane of the axes */
      ck_assert_double_eq(back.rotation_deg, 0);
      continue;
    }
    ck_assert_double_le(fabs(back.rotation_deg), t.most_deg + 1e-12);
    shaded = steading_rows_shaded_share(t.pitch, back.sun_over_axes, back.cos_incidence);
    ck_assert_double_le(shaded, 1e-9);
    if (t.axis_tilt_deg == 0)
      ck_assert_double_eq_tol(back.sun_over_axes, sin(elevation * degree), 1e-12);
    if (steading_rows_shaded_share(t.pitch, plain.sun_over_axes, plain.cos_incidence) <= 0) {
      ck_assert_double_eq(back.rotation_deg, plain.rotation_deg);
      free++;
      continue;
    }
    turned_back++;
    ck_assert_double_lt(fabs(back.rotation_deg), fabs(plain.rotation_deg));
    towards(elevation, azimuth, sun);
    turned(&t, back.rotation_deg + copysign(0.01, plain.rotation_deg), normal);
    ck_assert_double_gt(
        steading_rows_shaded_share(t.pitch, back.sun_over_axes,
                                   sun[0] * normal[0] + sun[1] * normal[1] + sun[2] * normal[2]),
        0);
  }
  ck_assert_int_gt(turned_back, 300);
  ck_assert_int_gt(free, 300);
}
END_TEST

/* Lorenzo, Narvarte and Munoz 2011 by hand: pitch 2, sun in the west at 20 degrees: best 70,
 * 2 cos 70 = 0.68404, arccos 46.840: 23.160 degrees. At 40 degrees 2 cos 50 = 1.29: no need. */
START_TEST(turning_back_by_hand) {
  steading_tracker_mount t = {.axes = STEADING_TRACKING_ONE_AXIS,
                              .axis_azimuth_deg = 180,
                              .most_deg = 90,
                              .backtracks = true,
                              .pitch = 2};
  ck_assert_double_eq_tol(plane_under(&t, 20, 270).rotation_deg, 23.160, 5e-4);
  ck_assert_double_eq_tol(plane_under(&t, 20, 90).rotation_deg, -23.160, 5e-4);
  ck_assert_double_eq_tol(plane_under(&t, 40, 270).rotation_deg, 50, 1e-12);
  ck_assert_double_lt(plane_under(&t, 0.01, 270).rotation_deg, 0.02);
}
END_TEST

START_TEST(two_axes_face_the_sun_down_to_a_limit) {
  steading_tracker_mount t = {.axes = STEADING_TRACKING_TWO_AXES, .most_deg = 90};
  for (double elevation = 1; elevation < 90; elevation += 11)
    for (double azimuth = 0; azimuth < 360; azimuth += 37) {
      steading_tracked_plane p;
      t.most_deg = 90;
      p = plane_under(&t, elevation, azimuth);
      ck_assert_double_eq_tol(p.cos_incidence, 1, 1e-12);
      ck_assert_double_eq_tol(p.up, sin(elevation * degree), 1e-12);
      t.most_deg = 40;
      p = plane_under(&t, elevation, azimuth);
      ck_assert_double_eq_tol(p.cos_incidence, cos(fmax(50 - elevation, 0) * degree), 1e-12);
      ck_assert_double_eq_tol(p.east * p.east + p.north * p.north + p.up * p.up, 1, 1e-12);
    }
}
END_TEST

START_TEST(with_the_sun_down_or_along_the_axis_the_plane_rests) {
  steading_tracker_mount one = {.axes = STEADING_TRACKING_ONE_AXIS,
                                .axis_azimuth_deg = 180,
                                .axis_tilt_deg = 20,
                                .most_deg = 60,
                                .backtracks = true,
                                .pitch = 1.5};
  steading_tracker_mount two = {.axes = STEADING_TRACKING_TWO_AXES, .most_deg = 80};
  steading_tracker_frame frame = steading_tracker_frame_of(&one);
  steading_tracked_plane p;
  steading_tracker_plane(&one, &frame, 0, 0, 0, &p);
  ck_assert_double_eq(p.rotation_deg, 0);
  ck_assert_double_eq(p.cos_incidence, 0);
  ck_assert_double_eq_tol(p.sin_tilt, sin(20 * degree), 1e-12);
  steading_tracker_plane(&two, &frame, 0, 0, 0, &p);
  ck_assert_double_eq(p.up, 1);
  ck_assert_double_eq(p.cos_incidence, 0);
  steading_tracker_plane(&two, &frame, 0, 0, 1, &p);
  ck_assert_double_eq(p.cos_incidence, 1);
  one.axis_azimuth_deg = 0; /* rises to the south: a sun at 20 degrees there is along the axis */
  p = plane_under(&one, 20, 180);
  ck_assert(isfinite(p.rotation_deg) && isfinite(p.cos_incidence));
  one.axis_tilt_deg = 0; /* exactly along it */
  frame = (steading_tracker_frame){.normal = {0, 0, 1}, .right = {1, 0, 0}};
  steading_tracker_plane(&one, &frame, 0, 1, 1e-320, &p);
  ck_assert(isfinite(p.rotation_deg) && isfinite(p.cos_incidence));
}
END_TEST

Suite *tracking_suite(void) {
  Suite *suite = suite_create("tracking");
  TCase *tests = tcase_create("tracking");
  tcase_add_test(tests, no_rotation_within_the_limits_has_a_smaller_incidence);
  tcase_add_test(tests, rotations_by_hand);
  tcase_add_test(tests, trackers_that_turn_back_shade_nothing_and_turn_back_no_more_than_they_must);
  tcase_add_test(tests, turning_back_by_hand);
  tcase_add_test(tests, two_axes_face_the_sun_down_to_a_limit);
  tcase_add_test(tests, with_the_sun_down_or_along_the_axis_the_plane_rests);
  suite_add_tcase(suite, tests);
  return suite;
}
