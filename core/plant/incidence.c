#include "plant/incidence.h"

#include <math.h>

static const double degree = M_PI / 180;

/* Transmittance of one sheet of glass by Snell, Fresnel and Bouguer: De Soto et al. 2006, eq. 12.
 */
static double glass_transmittance(double cos_incidence) {
  const double index = 1.526, extinction_times_thickness = 4.0 * 0.002;
  double incidence = acos(cos_incidence), refraction = asin(sin(incidence) / index);
  double sum = incidence + refraction, difference = refraction - incidence, reflected = 0;
  if (sum < 1e-6) {
    double r = (index - 1) / (index + 1);
    reflected = r * r;
  } else {
    double across = sin(difference) / sin(sum), along = tan(difference) / tan(sum);
    reflected = 0.5 * (across * across + along * along);
  }
  return exp(-extinction_times_thickness / cos(refraction)) * (1 - reflected);
}

double steading_incidence_beam(const steading_incidence_glass *glass, double cos_incidence) {
  double modifier = 0;
  if (!(cos_incidence > 0)) return 0;
  if (cos_incidence > 1) cos_incidence = 1;
  switch (glass->model) {
    case STEADING_INCIDENCE_MARTIN_RUIZ:
      return (1 - exp(-cos_incidence / glass->a_r)) / (1 - exp(-1 / glass->a_r));
    case STEADING_INCIDENCE_ASHRAE:
      modifier = 1 - glass->b0 * (1 / cos_incidence - 1);
      return modifier > 0 ? modifier : 0;
    case STEADING_INCIDENCE_FRESNEL:
      return glass_transmittance(cos_incidence) / glass_transmittance(1);
    case STEADING_INCIDENCE_OFF:
      return 1;
  }
  return 1;
}

double steading_martin_ruiz_sky(double a_r, double c2, double tilt_deg) {
  double b = tilt_deg * degree, c1 = 4 / (3 * M_PI);
  double s = sin(b) + (b >= M_PI ? 0 : (M_PI - b - sin(b)) / (1 + cos(b)));
  return 1 - exp(-(c1 * s + c2 * s * s) / a_r);
}

double steading_martin_ruiz_ground(double a_r, double c2, double tilt_deg) {
  double b = tilt_deg * degree, c1 = 4 / (3 * M_PI), s = 0;
  if (b < 1e-6) return 0; /* sees no ground */
  s = sin(b) + (b - sin(b)) / (1 - cos(b));
  return 1 - exp(-(c1 * s + c2 * s * s) / a_r);
}

double steading_incidence_sky(const steading_incidence_glass *glass, double tilt_deg) {
  double angle = 59.7 - 0.1388 * tilt_deg + 0.001497 * tilt_deg * tilt_deg;
  if (glass->model == STEADING_INCIDENCE_OFF) return 1;
  if (glass->model == STEADING_INCIDENCE_MARTIN_RUIZ)
    return steading_martin_ruiz_sky(glass->a_r, 0.5 * glass->a_r - 0.154, tilt_deg);
  return steading_incidence_beam(glass, cos(angle * degree));
}

double steading_incidence_ground(const steading_incidence_glass *glass, double tilt_deg) {
  double angle = 90 - 0.5788 * tilt_deg + 0.002693 * tilt_deg * tilt_deg;
  if (glass->model == STEADING_INCIDENCE_OFF) return 1;
  if (glass->model == STEADING_INCIDENCE_MARTIN_RUIZ)
    return steading_martin_ruiz_ground(glass->a_r, 0.5 * glass->a_r - 0.154, tilt_deg);
  return steading_incidence_beam(glass, cos(angle * degree));
}
