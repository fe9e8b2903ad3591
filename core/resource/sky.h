/* From the horizontal to the plane of an array: diffuse share, sky models, ground reflection. */
#ifndef STEADING_RESOURCE_SKY_H
#define STEADING_RESOURCE_SKY_H

/* In the order of the words of sky_model (site/fields.c). */
typedef enum steading_sky_model {
  STEADING_SKY_PEREZ,
  STEADING_SKY_HAY_DAVIES,
  STEADING_SKY_ISOTROPIC
} steading_sky_model;

/* The sun as the sky models need it: what does not depend on the weather, so that the same step of
 * other years need not work it out again. */
typedef struct steading_sky_sun {
  double cos_zenith;                /* <= 0 with the sun down */
  double extraterrestrial_w_per_m2; /* on a plane normal to the sun, > 0 */
  double zenith_rad, zenith_term;   /* 1.041 zenith_rad^3 */
  double air_mass;                  /* relative, optical */
} steading_sky_sun;

typedef struct steading_plane_light {
  double beam_w_per_m2, from_sky_w_per_m2, from_ground_w_per_m2; /* on the plane */
  double around_sun_w_per_m2; /* the part of from_sky that comes from the sun's place */
} steading_plane_light;

/* Diffuse share of global irradiation in an hour of clearness index kt (0..; clamped to it).
 * Erbs, Klein and Duffie 1982, eq. 1. */
double steading_sky_diffuse_fraction(double kt);

/* Relative optical air mass at a zenith angle of 0..90 degrees (0.99971 .. 37.92). Kasten and
 * Young 1989, "Revised optical air mass tables and approximation formula", Applied Optics 28,
 * 4735-4738. */
double steading_sky_air_mass(double zenith_deg);

steading_sky_sun steading_sky_sun_of(double cos_zenith, double extraterrestrial_w_per_m2);

/* Irradiance on a plane.
 *   dni, dhi   W/m2, beam on a plane normal to the sun, and diffuse on the horizontal
 *   ghi        W/m2, global on the horizontal (for the ground)
 *   cos_incidence   of the sun on the plane; a negative one gives no beam
 *   cos_tilt, sin_tilt   of the plane, tilt 0..90 degrees
 * Perez, Ineichen, Seals, Michalsky and Stewart 1990, Solar Energy 44, 271-289, eq. 9 and table 6;
 * Hay and Davies 1980; Liu and Jordan 1963 (isotropic and ground). With the sun down every sky is
 * uniform. For tilt 0 the sum of the three is dni * cos_zenith + dhi exactly, under every sky: what
 * the guard of the low sun (zenith above 85 degrees) takes from the part around the sun is left in
 * the uniform part. Light from the sky is never negative. */
void steading_sky_on_plane(steading_sky_model model, double ghi_w_per_m2, double dni_w_per_m2,
                           double dhi_w_per_m2, const steading_sky_sun *sun, double cos_incidence,
                           double cos_tilt, double sin_tilt, double albedo,
                           steading_plane_light *light);

#endif
