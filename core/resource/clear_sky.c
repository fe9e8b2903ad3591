#include "resource/clear_sky.h"

#include <math.h>

#include "resource/sky.h"

static const double degree = M_PI / 180;

double steading_clear_extraterrestrial_w_per_m2(int day_of_year) {
  return 1367 * (1 + 0.033 * cos(2 * M_PI * (day_of_year - 3) / 365));
}

steading_clear_light steading_clear_tau(steading_tau_edition edition, double zenith_deg,
                                        double extraterrestrial_w_per_m2, double tau_b,
                                        double tau_d) {
  double both = tau_b * tau_d, m = 0, ab = 0, ad = 0;
  steading_clear_light light = {0, 0, 0};
  if (!(zenith_deg < 90)) return light;
  if (edition == STEADING_TAU_2009) {
    ab = 1.219 - 0.043 * tau_b - 0.151 * tau_d - 0.204 * both;
    ad = 0.202 + 0.852 * tau_b - 0.007 * tau_d - 0.357 * both;
  } else {
    ab = 1.454 - 0.406 * tau_b - 0.268 * tau_d + 0.021 * both;
    ad = 0.507 + 0.205 * tau_b - 0.080 * tau_d - 0.190 * both;
  }
  m = steading_sky_air_mass(zenith_deg);
  light.dni_w_per_m2 = extraterrestrial_w_per_m2 * exp(-tau_b * pow(m, ab));
  light.dhi_w_per_m2 = extraterrestrial_w_per_m2 * exp(-tau_d * pow(m, ad));
  light.ghi_w_per_m2 = light.dni_w_per_m2 * cos(zenith_deg * degree) + light.dhi_w_per_m2;
  return light;
}

double steading_clear_haurwitz_w_per_m2(double cos_zenith) {
  return cos_zenith > 0 ? 1098 * cos_zenith * exp(-0.057 / cos_zenith) : 0;
}
