/* What hills and trees around a place hide: the skyline as a profile of elevations.
 *
 * Points go clockwise by azimuth (from north, degrees); between two of them, and from the last one
 * round to the first, the elevation is a straight line in azimuth. One point is the same all round.
 * The skyline is far away: it is the same for every module of an array.
 *
 * The sun needs an answer in every step, so that the profile is kept as a table over a turn: nodes
 * at every degree and at every given point, each with the tangent of its elevation, ordered by a
 * number that grows with the azimuth and costs one division instead of an arc tangent. At the nodes
 * the table is exact; between two of them it is a straight line in that number, which misses the
 * straight line in azimuth by less than a hundredth of the change of elevation between the two.
 *
 * Light that the skyline itself sends is not counted: it is dark. */
#ifndef STEADING_RESOURCE_HORIZON_H
#define STEADING_RESOURCE_HORIZON_H

#include <stdbool.h>
#include <stddef.h>

#include "status.h"

typedef struct steading_horizon_point {
  double azimuth_deg;   /* 0 <= .. < 360, clockwise from north */
  double elevation_deg; /* 0 <= .. < 90, above the true horizon */
} steading_horizon_point;

enum {
  STEADING_HORIZON_POINTS_MOST = 360,
  STEADING_HORIZON_BINS = 512,
  STEADING_HORIZON_NODES_MOST = 360 + STEADING_HORIZON_POINTS_MOST + 1
};

/* A profile made ready. No part of it is on the heap: 18 kB. */
typedef struct steading_horizon {
  size_t count; /* points */
  steading_horizon_point points[STEADING_HORIZON_POINTS_MOST];
  size_t node_count;                           /* the last node is the first, one turn later */
  double turn[STEADING_HORIZON_NODES_MOST];    /* 0..4, a quarter each 1 */
  double tangent[STEADING_HORIZON_NODES_MOST]; /* of the elevation */
  unsigned short first[STEADING_HORIZON_BINS]; /* the last node at or before the bin */
} steading_horizon;

/* Make a profile ready. BAD_INPUT where `count` is 0 or above STEADING_HORIZON_POINTS_MOST, an
 * angle lies outside its range or the azimuths do not rise; the error's path is `path` with the
 * point that is to blame, '<path>[2].azimuth_deg'. */
steading_status steading_horizon_make(const steading_horizon_point *points, size_t count,
                                      const char *path, steading_horizon *horizon,
                                      steading_error *error);

/* Elevation of the skyline at any azimuth, degrees: straight lines between the points. */
double steading_horizon_elevation_deg(const steading_horizon *horizon, double azimuth_deg);

/* Tangent of the elevation of the skyline in the direction east, north (of any length; 0, 0 counts
 * as north), from the table: one division. */
double steading_horizon_tangent(const steading_horizon *horizon, double east, double north);

/* Whether the skyline hides the middle of the sun that stands at east, north, up (a vector of any
 * length). A sun at or below the true horizon is hidden; one that touches the skyline is not. */
bool steading_horizon_blocks(const steading_horizon *horizon, double east, double north, double up);

/* Share 0..1 of the diffuse light of an even sky that the skyline leaves to a plane: the integral
 * of the cosine of incidence over the sky above the skyline and before the plane, against that over
 * the whole sky before it, (1 + cos tilt) / 2 x pi. Tilt 0..90 degrees, azimuth any. Over the
 * elevation it is integrated in closed form, over the azimuth by Gauss and Legendre's three points
 * between nodes a degree apart or less: exact for a level plane under a skyline of one elevation h
 * (cos^2 h), else to about 1e-5. */
double steading_horizon_sky_share(const steading_horizon *horizon, double tilt_deg,
                                  double azimuth_deg);

#endif
