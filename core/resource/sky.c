#include "resource/sky.h"

#include <math.h>
#include <stddef.h>

double steading_sky_diffuse_fraction(double kt) {
  if (kt <= 0) return 1;
  if (kt <= 0.22) return 1 - 0.09 * kt;
  if (kt > 0.80) return 0.165;
  return 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)));
}

static double air_mass(double cos_zenith, double zenith_deg) {
  return 1 / (cos_zenith + 0.50572 * pow(96.07995 - zenith_deg, -1.6364));
}

double steading_sky_air_mass(double zenith_deg) {
  return air_mass(cos(zenith_deg * (M_PI / 180)), zenith_deg);
}

steading_sky_sun steading_sky_sun_of(double cos_zenith, double extraterrestrial_w_per_m2) {
  steading_sky_sun sun = {.cos_zenith = cos_zenith,
                          .extraterrestrial_w_per_m2 = extraterrestrial_w_per_m2};
  if (cos_zenith <= 0) return sun;
  sun.zenith_rad = acos(fmin(cos_zenith, 1));
  sun.zenith_term = 1.041 * sun.zenith_rad * sun.zenith_rad * sun.zenith_rad;
  sun.air_mass = air_mass(cos_zenith, sun.zenith_rad * (180 / M_PI));
  return sun;
}

/* Brightness around the sun and at the horizon by clearness of the sky: Perez et al. 1990, table 6.
 */
enum { CLEARNESS_BINS = 8 };

static const double perez_from[CLEARNESS_BINS] = {1, 1.065, 1.23, 1.5, 1.95, 2.8, 4.5, 6.2};

static const double perez_table[CLEARNESS_BINS][6] = {
    {-0.008, 0.588, -0.062, -0.060, 0.072, -0.022}, {0.130, 0.683, -0.151, -0.019, 0.066, -0.029},
    {0.330, 0.487, -0.221, 0.055, -0.064, -0.026},  {0.568, 0.187, -0.295, 0.109, -0.152, -0.014},
    {0.873, -0.392, -0.362, 0.226, -0.462, 0.001},  {1.132, -1.237, -0.412, 0.288, -0.823, 0.056},
    {1.060, -1.600, -0.359, 0.264, -1.127, 0.131},  {0.678, -0.327, -0.250, 0.156, -1.377, 0.251}};

/* Shares of the diffuse light that come from around the sun and from the horizon. */
static void perez_shares(const steading_sky_sun *sun, double dni, double dhi, double *around_sun,
                         double *horizon) {
  double clearness = ((dhi + dni) / dhi + sun->zenith_term) / (1 + sun->zenith_term);
  double brightness = sun->air_mass * dhi / sun->extraterrestrial_w_per_m2;
  const double *f = NULL;
  int bin = CLEARNESS_BINS - 1;
  while (bin > 0 && clearness < perez_from[bin]) bin--;
  f = perez_table[bin];
  *around_sun = fmax(0, f[0] + f[1] * brightness + f[2] * sun->zenith_rad);
  *horizon = f[3] + f[4] * brightness + f[5] * sun->zenith_rad;
}

void steading_sky_on_plane(steading_sky_model model, double ghi_w_per_m2, double dni_w_per_m2,
                           double dhi_w_per_m2, const steading_sky_sun *sun, double cos_incidence,
                           double cos_tilt, double sin_tilt, double albedo,
                           steading_plane_light *light) {
  const double cos_85_deg = 0.08715574274765817;
  double facing = cos_incidence > 0 ? cos_incidence : 0;
  double up = sun->cos_zenith > 0 ? sun->cos_zenith : 0;
  double sky_view = (1 + cos_tilt) / 2, around_sun = 0, horizon = 0, from_sky = sky_view;
  double at_sun = 0;
  if (model == STEADING_SKY_HAY_DAVIES)
    around_sun = fmin(1, dni_w_per_m2 / sun->extraterrestrial_w_per_m2);
  else if (model == STEADING_SKY_PEREZ && up > 0 && dhi_w_per_m2 > 0)
    perez_shares(sun, dni_w_per_m2, dhi_w_per_m2, &around_sun, &horizon);
  if (model != STEADING_SKY_ISOTROPIC) {
    double guarded = fmax(up, cos_85_deg);
    /* The ratio facing / up grows without bound at the horizon, so its denominator stops at 85
     * degrees. What the guard takes from the part around the sun is left in the uniform part:
     * a level plane then gets all of the diffuse light at any height of the sun. */
    at_sun = around_sun * facing / guarded;
    from_sky = (1 - around_sun * up / guarded) * sky_view + at_sun + horizon * sin_tilt;
  }
  light->beam_w_per_m2 = dni_w_per_m2 * facing;
  light->from_sky_w_per_m2 = from_sky > 0 ? dhi_w_per_m2 * from_sky : 0;
  light->around_sun_w_per_m2 = fmin(dhi_w_per_m2 * at_sun, light->from_sky_w_per_m2);
  light->from_ground_w_per_m2 = ghi_w_per_m2 * albedo * (1 - cos_tilt) / 2;
}
