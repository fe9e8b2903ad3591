#include "plant/plane.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/rows.h"
#include "site/limits.h"

_Static_assert((int)STEADING_MOST_SKYLINE_POINTS <= (int)STEADING_HORIZON_POINTS_MOST,
               "room for a skyline");

static const double degree = M_PI / 180;

/* Views of a plane that turns are tabulated by half degrees of tilt and of rotation. */
enum { TABLE = 181 };

/* Planes for which the sky above the horizon is summed: rotations every 5 degrees of one axis;
 * azimuths every 15 and tilts every 10 degrees of two. */
enum { ROTATIONS = 37, AZIMUTHS = 24, TILTS = 10 };

struct steading_plane_work {
  const steading_weather *weather;
  steading_plane plane;
  steading_horizon horizon;
  steading_tracker_frame frame;
  double normal[12][3];          /* of a plane that does not turn */
  steading_plane_view views[12]; /* its views */
  double sky_modifier[TABLE], ground_modifier[TABLE];
  double rows_sky[TABLE], rows_ground[TABLE], rows_ground_sky[TABLE];
  double sky_left[ROTATIONS > AZIMUTHS *TILTS ? ROTATIONS : AZIMUTHS *TILTS];
  steading_plane_geometry geometry[STEADING_PLANE_BLOCK];
  steading_plane_view turning[STEADING_PLANE_BLOCK]; /* a view for each step */
};

/* --- what decides it -----------------------------------------------------------------------------
 */

static void set_tracker(steading_plane *plane, const steading_tracking *tracking) {
  bool two = tracking->axes == STEADING_TRACKING_TWO_AXES;
  plane->tracks = true;
  plane->tracker = (steading_tracker_mount){
      .axes = (steading_tracking_axes)tracking->axes,
      .axis_azimuth_deg = two ? 0
                              : steading_record_or_else(tracking, "axis_azimuth_deg",
                                                        tracking->axis_azimuth_deg, 180),
      .axis_tilt_deg =
          two ? 0 : steading_record_or_else(tracking, "axis_tilt_deg", tracking->axis_tilt_deg, 0),
      .most_deg = steading_record_or_else(tracking, "most_deg", tracking->most_deg, two ? 90 : 60),
      .backtracks = !two && tracking->backtracks,
      .pitch = plane->row_pitch};
}

steading_plane steading_plane_of(const steading_array *array) {
  const steading_incidence *incidence = array->incidence;
  steading_plane plane = {.sky_model = (steading_sky_model)array->sky_model,
                          .glass = {.model = STEADING_INCIDENCE_OFF},
                          .horizon = array->horizon};
  memcpy(plane.albedo, array->albedo, sizeof plane.albedo);
  if (array->rows != NULL) {
    plane.row_pitch = array->rows->pitch_m / array->rows->slant_m;
    plane.rows = array->rows->count;
    plane.sections = (int)array->rows->sections;
  }
  if (array->tracking != NULL) {
    set_tracker(&plane, array->tracking);
  } else {
    memcpy(plane.tilt_deg, array->tilt_deg, sizeof plane.tilt_deg);
    plane.azimuth_deg = array->azimuth_deg;
  }
  if (incidence == NULL) return plane;
  plane.glass.model = (steading_incidence_model)incidence->model;
  if (incidence->model == STEADING_INCIDENCE_MARTIN_RUIZ)
    plane.glass.a_r = steading_record_or_else(incidence, "a_r", incidence->a_r, 0.16);
  if (incidence->model == STEADING_INCIDENCE_ASHRAE)
    plane.glass.b0 = steading_record_or_else(incidence, "b0", incidence->b0, 0.05);
  return plane;
}

static bool same_months(const double a[12], const double b[12]) {
  for (int m = 0; m < 12; m++)
    if (a[m] != b[m]) return false;
  return true;
}

static bool same_horizon(const steading_list *a, const steading_list *b) {
  if (a == b) return true;
  if (a == NULL || b == NULL || a->count != b->count) return false;
  for (size_t i = 0; i < a->count; i++) {
    const steading_skyline_point *p = (const void *)a->items[i], *q = (const void *)b->items[i];
    if (p->azimuth_deg != q->azimuth_deg || p->elevation_deg != q->elevation_deg) return false;
  }
  return true;
}

static bool same_tracker(const steading_tracker_mount *a, const steading_tracker_mount *b) {
  return a->axes == b->axes && a->axis_azimuth_deg == b->axis_azimuth_deg &&
         a->axis_tilt_deg == b->axis_tilt_deg && a->most_deg == b->most_deg &&
         a->backtracks == b->backtracks && a->pitch == b->pitch;
}

bool steading_plane_same(const steading_plane *a, const steading_plane *b) {
  return same_months(a->tilt_deg, b->tilt_deg) && a->azimuth_deg == b->azimuth_deg &&
         a->tracks == b->tracks && same_tracker(&a->tracker, &b->tracker) &&
         same_months(a->albedo, b->albedo) && a->sky_model == b->sky_model &&
         a->glass.model == b->glass.model && a->glass.a_r == b->glass.a_r &&
         a->glass.b0 == b->glass.b0 && a->row_pitch == b->row_pitch && a->rows == b->rows &&
         a->sections == b->sections && same_horizon(a->horizon, b->horizon);
}

/* --- what does not depend on the sun -------------------------------------------------------------
 */

static steading_plane_view fixed_view(const steading_plane *plane, const steading_horizon *horizon,
                                      int month) {
  double tilt = plane->tilt_deg[month];
  steading_plane_view view = {.cos_tilt = cos(tilt * degree),
                              .sin_tilt = sin(tilt * degree),
                              .albedo = plane->albedo[month],
                              .sky_modifier = steading_incidence_sky(&plane->glass, tilt),
                              .ground_modifier = steading_incidence_ground(&plane->glass, tilt),
                              .sky_left = 1};
  if (plane->horizon != NULL)
    view.sky_left = steading_horizon_sky_share(horizon, tilt, plane->azimuth_deg);
  if (plane->row_pitch > 0) {
    steading_rows_view rows;
    steading_rows_view_of(plane->row_pitch, view.cos_tilt, view.sin_tilt, &rows);
    view.rows_sky = rows.sky / ((1 + view.cos_tilt) / 2);
    view.rows_ground = rows.ground;
    view.rows_ground_sky = rows.ground_sky;
  }
  return view;
}

static void prepare_fixed(steading_plane_work *w) {
  const steading_plane *plane = &w->plane;
  double azimuth = plane->azimuth_deg * degree;
  for (int m = 0; m < 12; m++) {
    double tilt = plane->tilt_deg[m] * degree;
    w->normal[m][0] = sin(tilt) * sin(azimuth);
    w->normal[m][1] = sin(tilt) * cos(azimuth);
    w->normal[m][2] = cos(tilt);
    if (m > 0 && plane->tilt_deg[m] == plane->tilt_deg[m - 1]) {
      w->views[m] = w->views[m - 1];
      w->views[m].albedo = plane->albedo[m];
    } else {
      w->views[m] = fixed_view(plane, &w->horizon, m);
    }
  }
}

/* The plane of a rotation of one axis, or of a tilt of two, for the sky above the horizon. */
static void prepare_sky_left(steading_plane_work *w) {
  if (w->plane.tracker.axes == STEADING_TRACKING_ONE_AXIS) {
    for (int k = 0; k < ROTATIONS; k++) {
      double turned = (5.0 * k - 90) * degree, c = cos(turned), s = sin(turned);
      double east = w->frame.normal[0] * c + w->frame.right[0] * s;
      double north = w->frame.normal[1] * c + w->frame.right[1] * s;
      double up = fmin(fmax(w->frame.normal[2] * c, 0), 1);
      w->sky_left[k] = steading_horizon_sky_share(&w->horizon, acos(up) / degree,
                                                  fmod(atan2(east, north) / degree + 360, 360));
    }
    return;
  }
  for (int a = 0; a < AZIMUTHS; a++)
    for (int t = 0; t < TILTS; t++)
      w->sky_left[a * TILTS + t] = steading_horizon_sky_share(&w->horizon, 10.0 * t, 15.0 * a);
}

static void prepare_turning(steading_plane_work *w) {
  const steading_plane *plane = &w->plane;
  w->frame = steading_tracker_frame_of(&plane->tracker);
  for (int k = 0; k < TABLE; k++) {
    double angle = 0.5 * k;
    w->sky_modifier[k] = steading_incidence_sky(&plane->glass, angle);
    w->ground_modifier[k] = steading_incidence_ground(&plane->glass, angle);
    if (plane->row_pitch > 0) {
      steading_rows_view rows;
      steading_rows_view_of(plane->row_pitch, cos(angle * degree), sin(angle * degree), &rows);
      w->rows_sky[k] = rows.sky / ((1 + cos(angle * degree)) / 2);
      w->rows_ground[k] = rows.ground;
      w->rows_ground_sky[k] = rows.ground_sky;
    }
  }
  if (plane->horizon != NULL) prepare_sky_left(w);
}

static bool set_horizon(const steading_list *list, steading_horizon *horizon) {
  steading_horizon_point points[STEADING_HORIZON_POINTS_MOST];
  for (size_t i = 0; i < list->count; i++) {
    const steading_skyline_point *point = (const void *)list->items[i];
    points[i] = (steading_horizon_point){point->azimuth_deg, point->elevation_deg};
  }
  return steading_horizon_make(points, list->count, "horizon", horizon, NULL) == STEADING_OK;
}

steading_plane_work *steading_plane_work_new(const steading_plane *plane,
                                             const steading_weather *weather) {
  steading_plane_work *w = calloc(1, sizeof *w);
  if (w == NULL) return NULL;
  w->weather = weather;
  w->plane = *plane;
  if (plane->horizon != NULL && !set_horizon(plane->horizon, &w->horizon)) {
    free(w);
    return NULL;
  }
  if (plane->tracks)
    prepare_turning(w);
  else
    prepare_fixed(w);
  return w;
}

void steading_plane_work_free(steading_plane_work *work) { free(work); }

/* --- steps ---------------------------------------------------------------------------------------
 */

static double between(const double *table, size_t count, double place) {
  size_t k = place <= 0 ? 0 : place >= (double)(count - 1) ? count - 2 : (size_t)place;
  return table[k] + (table[k + 1] - table[k]) * fmin(fmax(place - (double)k, 0), 1);
}

/* The even sky that the horizon leaves to a plane that turns. */
static double turning_sky_left(const steading_plane_work *w, const steading_tracked_plane *p) {
  if (w->plane.horizon == NULL) return 1;
  if (w->plane.tracker.axes == STEADING_TRACKING_ONE_AXIS)
    return between(w->sky_left, ROTATIONS, (p->rotation_deg + 90) / 5);
  double place = fmod(atan2(p->east, p->north) / degree + 360, 360) / 15,
         tilt = p->rotation_deg / 10;
  size_t a = (size_t)place % AZIMUTHS;
  double here = between(w->sky_left + a * TILTS, TILTS, tilt);
  double next = between(w->sky_left + (a + 1) % AZIMUTHS * TILTS, TILTS, tilt);
  return here + (next - here) * (place - floor(place));
}

static void turn(steading_plane_work *w, const steading_sun_step *sun, int month, size_t k,
                 double *sun_over_rows) {
  steading_plane_geometry *g = &w->geometry[k];
  steading_plane_view *view = &w->turning[k];
  steading_tracked_plane p;
  double tilt = 0, rotation = 0;
  steading_tracker_plane(&w->plane.tracker, &w->frame, sun->east, sun->north, sun->up, &p);
  tilt = atan2(p.sin_tilt, p.up) / degree * 2;
  rotation = fabs(p.rotation_deg) * 2;
  *view = (steading_plane_view){.cos_tilt = p.up,
                                .sin_tilt = p.sin_tilt,
                                .albedo = w->plane.albedo[month],
                                .sky_modifier = between(w->sky_modifier, TABLE, tilt),
                                .ground_modifier = between(w->ground_modifier, TABLE, tilt),
                                .sky_left = turning_sky_left(w, &p)};
  if (w->plane.row_pitch > 0) {
    view->rows_sky = between(w->rows_sky, TABLE, rotation);
    view->rows_ground = between(w->rows_ground, TABLE, rotation);
    view->rows_ground_sky = between(w->rows_ground_sky, TABLE, rotation);
  }
  g->view = view;
  g->cos_incidence = p.cos_incidence;
  *sun_over_rows = p.sun_over_axes;
}

const steading_plane_geometry *steading_plane_block(steading_plane_work *w, size_t first,
                                                    size_t count) {
  const steading_plane *plane = &w->plane;
  size_t a_day = w->weather->steps_per_year / STEADING_DAYS_PER_YEAR;
  int month = 0;
  for (size_t k = 0; k < count; k++) {
    const steading_sun_step *sun = &w->weather->sun[first + k];
    steading_plane_geometry *g = &w->geometry[k];
    int day = (int)((first + k) / a_day);
    double over_rows = sun->up;
    while (month < 11 && day >= steading_days_before_month[month + 1]) month++;
    *g = (steading_plane_geometry){
        .sun = steading_sky_sun_of(sun->up, sun->extraterrestrial_w_per_m2), .beam_clear = 1};
    if (plane->tracks) {
      turn(w, sun, month, k, &over_rows);
    } else {
      const double *n = w->normal[month];
      g->view = &w->views[month];
      g->cos_incidence = plane->tilt_deg[month] == 0
                             ? sun->up
                             : sun->east * n[0] + sun->north * n[1] + sun->up * n[2];
    }
    if (!(sun->up > 0)) continue; /* no beam without the sun */
    g->beam_modifier = steading_incidence_beam(&plane->glass, g->cos_incidence);
    if (plane->horizon != NULL &&
        steading_horizon_blocks(&w->horizon, sun->east, sun->north, sun->up))
      g->beam_clear = 0;
    if (plane->row_pitch > 0) {
      double shaded = steading_rows_shaded_share(plane->row_pitch, over_rows, g->cos_incidence);
      double lost = steading_rows_beam_lost(shaded, plane->sections);
      g->beam_in_rows = steading_rows_mean(1 - lost, 1, plane->rows);
      g->ground_lit = steading_rows_ground_lit(plane->row_pitch, over_rows, g->cos_incidence);
    }
  }
  return w->geometry;
}

void steading_plane_light_at(const steading_plane_work *w, const steading_plane_geometry *g,
                             size_t i, steading_plane_step *step) {
  const steading_weather *weather = w->weather;
  const steading_plane_view *view = g->view;
  double ghi = weather->ghi_w_per_m2[i], dni = weather->dni_w_per_m2[i],
         dhi = weather->dhi_w_per_m2[i];
  steading_plane_light light;
  double even = 0;
  if (!(ghi > 0)) {
    *step = (steading_plane_step){0};
    return;
  }
  steading_sky_on_plane(w->plane.sky_model, ghi, dni, dhi, &g->sun, g->cos_incidence,
                        view->cos_tilt, view->sin_tilt, view->albedo, &light);
  step->open = light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2;
  step->beyond_horizon = step->open;
  if (w->plane.horizon != NULL || w->plane.row_pitch > 0)
    even = fmax(light.from_sky_w_per_m2 - light.around_sun_w_per_m2, 0);
  if (w->plane.horizon != NULL) {
    light.beam_w_per_m2 *= g->beam_clear;
    light.around_sun_w_per_m2 *= g->beam_clear;
    even *= view->sky_left;
    light.from_sky_w_per_m2 = even + light.around_sun_w_per_m2;
    step->beyond_horizon =
        light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2;
  }
  step->on_plane = step->beyond_horizon;
  if (w->plane.row_pitch > 0) {
    double among = view->albedo * view->rows_ground *
                   (dni * g->sun.cos_zenith * g->ground_lit + dhi * view->rows_ground_sky);
    light.beam_w_per_m2 *= g->beam_in_rows;
    light.from_sky_w_per_m2 = even * steading_rows_mean(view->rows_sky, 1, w->plane.rows) +
                              light.around_sun_w_per_m2 * g->beam_in_rows;
    light.from_ground_w_per_m2 =
        steading_rows_mean(among, light.from_ground_w_per_m2, w->plane.rows);
    step->on_plane = light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2;
  }
  step->on_cells = light.beam_w_per_m2 * g->beam_modifier +
                   light.from_sky_w_per_m2 * view->sky_modifier +
                   light.from_ground_w_per_m2 * view->ground_modifier;
}
