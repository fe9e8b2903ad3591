/* What the glass of a module reflects, against light that falls square on it. */
#ifndef STEADING_PLANT_INCIDENCE_H
#define STEADING_PLANT_INCIDENCE_H

typedef enum steading_incidence_model {
  STEADING_INCIDENCE_MARTIN_RUIZ,
  STEADING_INCIDENCE_ASHRAE,
  STEADING_INCIDENCE_FRESNEL,
  STEADING_INCIDENCE_OFF
} steading_incidence_model;

typedef struct steading_incidence_glass {
  steading_incidence_model model;
  double a_r; /* martin_ruiz */
  double b0;  /* ashrae */
} steading_incidence_glass;

/* Modifier for a beam whose incidence has this cosine (0..1; <= 0 gives 0).
 *   martin_ruiz  [1 - exp(-cos t / a_r)] / [1 - exp(-1 / a_r)]   Martin and Ruiz 2001, eq. 3
 *   ashrae       1 - b0 (1 / cos t - 1), at least 0              Souka and Safwat 1966
 *   fresnel      transmittance over that at 0 degrees, glass of index 1.526, extinction 4 /m and
 *                2 mm                                            De Soto, Klein and Beckman 2006 */
double steading_incidence_beam(const steading_incidence_glass *glass, double cos_incidence);

/* Modifiers for diffuse light of an even sky and for light from the ground, at a tilt in degrees.
 *   martin_ruiz      Martin and Ruiz 2001, eqs. 5 and 6, with c1 = 4 / (3 pi) and
 *                    c2 = 0.5 a_r - 0.154 (IEC 61853-3)
 *   ashrae, fresnel  the beam's modifier at the effective angles of Brandemuehl and Beckman 1980 */
double steading_incidence_sky(const steading_incidence_glass *glass, double tilt_deg);
double steading_incidence_ground(const steading_incidence_glass *glass, double tilt_deg);

/* The closed form of Martin and Ruiz with its two coefficients given. `tilt_deg` 0..180; for the
 * ground at tilt 0 the share seen is 0 and so is the result. */
double steading_martin_ruiz_sky(double a_r, double c2, double tilt_deg);
double steading_martin_ruiz_ground(double a_r, double c2, double tilt_deg);

#endif
