#include "resource/tracking.h"

#include <math.h>

static const double degree = M_PI / 180;

steading_tracker_frame steading_tracker_frame_of(const steading_tracker_mount *tracker) {
  double tilt = tracker->axis_tilt_deg * degree, azimuth = tracker->axis_azimuth_deg * degree;
  return (steading_tracker_frame){
      .normal = {sin(tilt) * sin(azimuth), sin(tilt) * cos(azimuth), cos(tilt)},
      .right = {cos(azimuth), -sin(azimuth), 0}};
}

static double held(double value, double most) { return fmax(-most, fmin(value, most)); }

/* Rotation in radians; `across` and `over` are the sun's components in the section. */
static double rotation_of(const steading_tracker_mount *tracker, double across, double over) {
  double best = atan2(across, over), most = tracker->most_deg * degree;
  double rotation = held(best, most), gap = 0, back = 0;
  if (!tracker->backtracks || (across == 0 && over == 0)) return rotation;
  gap = tracker->pitch * over / hypot(across, over); /* pitch cos(best) */
  if (gap >= 1 || cos(best - rotation) <= gap) return rotation;
  if (gap <= 0) return 0; /* the sun is below the plane of the axes */
  back = acos(gap);
  return held(best > 0 ? best - back : best + back, most);
}

void steading_tracker_plane(const steading_tracker_mount *tracker,
                            const steading_tracker_frame *frame, double east, double north,
                            double up, steading_tracked_plane *plane) {
  const double *n = frame->normal, *r = frame->right;
  bool down = !(up > 0);
  double rotation = 0, c = 1, s = 0;
  if (tracker->axes == STEADING_TRACKING_TWO_AXES) {
    double level = hypot(east, north), most = tracker->most_deg * degree;
    double tilt = down ? 0 : fmin(atan2(level, up), most);
    *plane = (steading_tracked_plane){.up = cos(tilt),
                                      .sin_tilt = sin(tilt),
                                      .rotation_deg = tilt / degree,
                                      .sun_over_axes = down ? 0 : up};
    if (level > 0 && !down) {
      plane->east = east / level * plane->sin_tilt;
      plane->north = north / level * plane->sin_tilt;
    }
  } else {
    double over = east * n[0] + north * n[1] + up * n[2];
    if (!down) rotation = rotation_of(tracker, east * r[0] + north * r[1], over);
    c = cos(rotation);
    s = sin(rotation);
    *plane = (steading_tracked_plane){.east = n[0] * c + r[0] * s,
                                      .north = n[1] * c + r[1] * s,
                                      .up = fmax(n[2] * c, 0),
                                      .rotation_deg = rotation / degree,
                                      .sun_over_axes = down ? 0 : over};
    plane->sin_tilt = sqrt(fmax(1 - plane->up * plane->up, 0));
  }
  if (!down) plane->cos_incidence = east * plane->east + north * plane->north + up * plane->up;
}
