#include "resource/sky.h"

#include <math.h>

double steading_sky_diffuse_fraction(double kt) {
  if (kt <= 0) return 1;
  if (kt <= 0.22) return 1 - 0.09 * kt;
  if (kt > 0.80) return 0.165;
  return 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)));
}

void steading_sky_on_plane(steading_sky_model model, double ghi_w_per_m2, double dni_w_per_m2,
                           double dhi_w_per_m2, double cos_zenith, double cos_incidence,
                           double extraterrestrial_w_per_m2, double cos_tilt, double albedo,
                           steading_plane_light *light) {
  const double cos_85_deg = 0.08715574274765817;
  double facing = cos_incidence > 0 ? cos_incidence : 0;
  double sky_view = (1 + cos_tilt) / 2;
  double from_sky = sky_view;
  if (model == STEADING_SKY_HAY_DAVIES) {
    /* Share of the diffuse light that comes from around the sun: the beam's transmittance. */
    double around_sun = fmin(1, dni_w_per_m2 / extraterrestrial_w_per_m2);
    double up = cos_zenith > 0 ? cos_zenith : 0;
    double guarded = fmax(up, cos_85_deg);
    /* The ratio facing / up grows without bound at the horizon, so its denominator stops at 85
     * degrees. What the guard takes from the part around the sun is left in the uniform part:
     * a level plane then gets all of the diffuse light at any height of the sun. */
    from_sky = (1 - around_sun * up / guarded) * sky_view + around_sun * facing / guarded;
  }
  light->beam_w_per_m2 = dni_w_per_m2 * facing;
  light->from_sky_w_per_m2 = dhi_w_per_m2 * from_sky;
  light->from_ground_w_per_m2 = ghi_w_per_m2 * albedo * (1 - cos_tilt) / 2;
}
