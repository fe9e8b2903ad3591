#include "plant/low_light.h"

#include <math.h>

double steading_huld_efficiency(double w_per_m2, double module_c) {
  double l = 0, t = module_c - 25;
  if (!(w_per_m2 > 0)) return 0;
  l = log(w_per_m2 / 1000);
  return fmax(1 + STEADING_HULD_K1 * l + STEADING_HULD_K2 * l * l +
                  t * (STEADING_HULD_K3 + STEADING_HULD_K4 * l + STEADING_HULD_K5 * l * l) +
                  STEADING_HULD_K6 * t * t,
              0);
}

double steading_low_light_efficiency(double w_per_m2, double s) {
  double l = 0;
  if (!(w_per_m2 > 0)) return 0;
  l = log(w_per_m2 / 1000);
  return fmax(1 + s * (STEADING_HULD_K1 + STEADING_HULD_K2 * l) * l, 0);
}

double steading_low_light_measure(double at_200) {
  const double l = -1.6094379124341003; /* ln 0.2 */
  return (at_200 - 1) / ((STEADING_HULD_K1 + STEADING_HULD_K2 * l) * l);
}
