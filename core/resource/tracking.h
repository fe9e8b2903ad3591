/* Planes that follow the sun.
 *
 * One axis: the plane turns about an axis that points to an azimuth and falls towards it by its
 * tilt, so that at rotation 0 the plane faces that azimuth at that tilt. Rotation counts to the
 * right of one who looks along the axis: with the axis to the south (180), positive is west, in the
 * afternoon. In the section square to the axis the best rotation is the angle of the sun from the
 * plane's normal at rotation 0 (Marion and Dobos 2013, NREL/TP-6A20-58891); within symmetric limits
 * it is the nearest end. Two axes: the plane faces the sun, down to a limit of its tilt.
 *
 * Backtracking (Lorenzo, Narvarte and Munoz 2011, "Tracking and back-tracking", Progress in
 * Photovoltaics 19, 747-753): equal trackers side by side, `pitch` slants apart, turn back just so
 * far that none shades the next. In the section a tracker turned by d from the sun hides cos d of
 * it, and the distance of the axes shows pitch cos(best): where this is less, cos d is made equal
 * to it.
 *
 * With the sun down the plane lies at rotation 0, or level. */
#ifndef STEADING_RESOURCE_TRACKING_H
#define STEADING_RESOURCE_TRACKING_H

#include <stdbool.h>

typedef enum steading_tracking_axes {
  STEADING_TRACKING_ONE_AXIS,
  STEADING_TRACKING_TWO_AXES
} steading_tracking_axes;

typedef struct steading_tracker_mount {
  steading_tracking_axes axes;
  double axis_azimuth_deg; /* one axis: 0..360 */
  double axis_tilt_deg;    /* one axis: 0..90 */
  double most_deg;         /* one axis: rotation either way, 0..90; two axes: tilt, 0..90 */
  bool backtracks;         /* one axis */
  double pitch;            /* distance of the axes / width of the plane; >= 1 with backtracks */
} steading_tracker_mount;

/* The directions of a tracker's axis, worked out once. East, north and up. */
typedef struct steading_tracker_frame {
  double normal[3]; /* of the plane at rotation 0 */
  double right[3];  /* level, where a positive rotation turns the normal to */
} steading_tracker_frame;

steading_tracker_frame steading_tracker_frame_of(const steading_tracker_mount *tracker);

typedef struct steading_tracked_plane {
  double east, north, up; /* unit normal of the plane; up is the cosine of its tilt, 0..1 */
  double sin_tilt;        /* 0..1 */
  double cos_incidence;   /* of the sun on it; 0 with the sun down */
  double rotation_deg;    /* one axis; two axes: the tilt */
  double sun_over_axes;   /* one axis: the sun's component square to the plane of the axes, for
                             steading_rows_shaded_share; two axes: its `up` */
} steading_tracked_plane;

/* The plane under a sun in the direction east, north, up (a unit vector, or 0: the sun is down). */
void steading_tracker_plane(const steading_tracker_mount *tracker,
                            const steading_tracker_frame *frame, double east, double north,
                            double up, steading_tracked_plane *plane);

#endif
