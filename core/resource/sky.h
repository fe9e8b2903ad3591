/* From the horizontal to the plane of an array: diffuse share, sky models, ground reflection. */
#ifndef STEADING_RESOURCE_SKY_H
#define STEADING_RESOURCE_SKY_H

typedef enum steading_sky_model {
  STEADING_SKY_HAY_DAVIES,
  STEADING_SKY_ISOTROPIC
} steading_sky_model;

typedef struct steading_plane_light {
  double beam_w_per_m2, from_sky_w_per_m2, from_ground_w_per_m2; /* on the plane */
} steading_plane_light;

/* Diffuse share of global irradiation in an hour of clearness index kt (0..; clamped to it).
 * Erbs, Klein and Duffie 1982, eq. 1. */
double steading_sky_diffuse_fraction(double kt);

/* Irradiance on a plane.
 *   dni, dhi   W/m2, beam on a plane normal to the sun, and diffuse on the horizontal
 *   ghi        W/m2, global on the horizontal (for the ground)
 *   cos_zenith, cos_incidence   of the sun; a negative cos_incidence gives no beam
 *   extraterrestrial   W/m2, on a plane normal to the sun, > 0
 *   cos_tilt   of the plane
 * Hay and Davies 1980; Liu and Jordan 1963 (isotropic and ground). For tilt 0 the sum of the three
 * is dni * cos_zenith + dhi exactly. */
void steading_sky_on_plane(steading_sky_model model, double ghi_w_per_m2, double dni_w_per_m2,
                           double dhi_w_per_m2, double cos_zenith, double cos_incidence,
                           double extraterrestrial_w_per_m2, double cos_tilt, double albedo,
                           steading_plane_light *light);

#endif
