/* The plane of an array: how it stands in every step, and what of the light reaches its cells.
 *
 * Light falls on the plane in the open (resource/sky.h); the horizon hides the sun and a part of
 * the sky; rows before it shade the beam, the sky and the ground; the glass reflects beam, sky and
 * ground each by its own modifier. What comes from around the sun is hidden and shaded with the
 * beam. What remains before the glass warms the cells. */
#ifndef STEADING_PLANT_PLANE_H
#define STEADING_PLANT_PLANE_H

#include "plant/incidence.h"
#include "resource/horizon.h"
#include "resource/sky.h"
#include "resource/tracking.h"
#include "resource/weather.h"
#include "site/fields.h"

/* Everything that decides it. Zero what is not used. */
typedef struct steading_plane {
  double tilt_deg[12], azimuth_deg; /* of a plane that does not turn, a tilt for each month */
  bool tracks;
  steading_tracker_mount tracker;
  double albedo[12];
  steading_sky_model sky_model;
  steading_incidence_glass glass;
  double row_pitch; /* in slants; 0: no rows */
  double rows;
  int sections;                 /* see steading_rows_beam_lost */
  const steading_list *horizon; /* of steading_skyline_point; NULL: free; not owned */
} steading_plane;

steading_plane steading_plane_of(const steading_array *array);
bool steading_plane_same(const steading_plane *a, const steading_plane *b);

/* Light on a plane in a step, W/m2. Each is what the one before leaves. */
typedef struct steading_plane_step {
  double open; /* on the plane, with nothing around it */
  double beyond_horizon;
  double on_plane; /* behind the rows before it: what warms the cells */
  double on_cells; /* behind the glass */
} steading_plane_step;

/* How a plane stands at one time, and what does not depend on the sun. */
typedef struct steading_plane_view {
  double cos_tilt, sin_tilt, albedo;
  double sky_modifier, ground_modifier;          /* of the glass */
  double sky_left;                               /* of the even sky, above the horizon */
  double rows_sky, rows_ground, rows_ground_sky; /* among rows, see steading_rows_view */
} steading_plane_view;

/* What a step of the year has in common in all weather years. */
typedef struct steading_plane_geometry {
  steading_sky_sun sun;
  double cos_incidence, beam_modifier;
  double beam_clear;               /* 1, or 0 with the sun behind the horizon */
  double beam_in_rows, ground_lit; /* among rows: shares that reach the plane and the ground */
  const steading_plane_view *view;
} steading_plane_geometry;

/* Steps whose geometry is worked out at once: it stays in the cache while all weather years use it,
 * and a year's whole table would cost more to touch than to work out. */
enum { STEADING_PLANE_BLOCK = 512 };

/* A plane at a place, ready for its steps. About 100 kB. */
typedef struct steading_plane_work steading_plane_work;

/* NULL when memory ends. The weather outlives it. */
steading_plane_work *steading_plane_work_new(const steading_plane *plane,
                                             const steading_weather *weather);
void steading_plane_work_free(steading_plane_work *work);

/* The geometry of `count` (at most STEADING_PLANE_BLOCK) steps of the year from `first` on. It
 * stands until the next call. */
const steading_plane_geometry *steading_plane_block(steading_plane_work *work, size_t first,
                                                    size_t count);

/* The light of weather step `i`, whose geometry is `g`. */
void steading_plane_light_at(const steading_plane_work *work, const steading_plane_geometry *g,
                             size_t i, steading_plane_step *step);

#endif
