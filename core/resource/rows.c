#include "resource/rows.h"

#include <math.h>

static const double degree = M_PI / 180;

static double share(double value) { return value < 0 ? 0 : value > 1 ? 1 : value; }

double steading_rows_profile_deg(double elevation_deg, double from_azimuth_deg) {
  return atan2(sin(elevation_deg * degree),
               cos(elevation_deg * degree) * cos(from_azimuth_deg * degree)) /
         degree;
}

double steading_rows_shaded_share(double pitch, double up, double cos_incidence) {
  if (!(cos_incidence > 0)) return 0;
  if (!(up > 0)) return 1;
  return share(1 - pitch * up / cos_incidence);
}

double steading_rows_beam_lost(double shaded_share, int sections) {
  if (sections <= 0) return shaded_share;
  /* a shade thinner than a rounding of the geometry costs no section */
  return share(ceil(shaded_share * sections - 1e-9) / sections);
}

double steading_rows_mean(double among_rows, double in_the_open, double rows) {
  return among_rows + (in_the_open - among_rows) / fmax(rows, 1);
}

double steading_rows_mask_deg(double pitch, double tilt_deg, double place) {
  double above = (1 - place) * sin(tilt_deg * degree);
  return atan2(above, pitch - (1 - place) * cos(tilt_deg * degree)) / degree;
}

double steading_rows_clear_pitch(double tilt_deg, double profile_deg) {
  return cos(tilt_deg * degree) + sin(tilt_deg * degree) / tan(profile_deg * degree);
}

/* In the section: a row from its lower edge B to its upper edge T, the row before from B' to T',
 * the sky between the rows as the line T'T and the ground as B'B, both of length `pitch`. Strings:
 * BT' crosses to the sky, TB' to the ground. */
void steading_rows_view_of(double pitch, double cos_tilt, double sin_tilt,
                           steading_rows_view *view) {
  double to_upper = sqrt((pitch - cos_tilt) * (pitch - cos_tilt) + sin_tilt * sin_tilt);
  double to_lower = sqrt((pitch + cos_tilt) * (pitch + cos_tilt) + sin_tilt * sin_tilt);
  view->sky = share((1 + pitch - to_upper) / 2);
  view->ground = share((1 + pitch - to_lower) / 2);
  view->row_before = share(1 - view->sky - view->ground);
  view->ground_sky = share((to_upper + to_lower - 2) / (2 * pitch));
}

double steading_rows_ground_lit(double pitch, double up, double cos_incidence) {
  if (!(up > 0)) return 0;
  return share(1 - fabs(cos_incidence) / (up * pitch));
}
