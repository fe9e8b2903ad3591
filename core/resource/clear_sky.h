/* The light of a cloudless sky.
 *
 * ASHRAE's model of two pseudo optical depths, one of beam (tau_b) and one of diffuse light
 * (tau_d), which the tables of climatic design conditions give for the 21st of each month:
 *
 *   DNI = Eo exp(-tau_b m^ab)       DHI = Eo exp(-tau_d m^ad)       GHI = DNI cos(zenith) + DHI
 *
 * m is the air mass of Kasten and Young 1989, Eo the irradiance outside the atmosphere with the
 * model's own solar constant. ASHRAE Handbook - Fundamentals 2009, chapter 14, eqs. 17 to 20, and
 * for 2013 and later Gueymard and Thevenard 2013, "Revising ASHRAE climatic data for design and
 * standards, part 2: clear-sky solar radiation model", ASHRAE Transactions 119 (both from memory).
 * The exponents were fitted together with the tables of their edition: optical depths of one
 * edition must not be put into the other.
 *
 * Haurwitz 1945, "Insolation in relation to cloudiness and cloud density", Journal of Meteorology
 * 2, 154-166: the global alone, from the sun's height alone (constants from memory; some printings
 * have 0.059 for 0.057). */
#ifndef STEADING_RESOURCE_CLEAR_SKY_H
#define STEADING_RESOURCE_CLEAR_SKY_H

typedef enum steading_tau_edition {
  STEADING_TAU_2009,
  STEADING_TAU_2013 /* and later */
} steading_tau_edition;

typedef struct steading_clear_light {
  double dni_w_per_m2; /* beam, normal to the sun */
  double dhi_w_per_m2; /* diffuse, horizontal */
  double ghi_w_per_m2; /* global, horizontal */
} steading_clear_light;

/* Eo on a day of the year, 1 (1 January) to 366: 1367 [1 + 0.033 cos(360 (n - 3) / 365)] W/m2.
 * Belongs to the tau model; the year of a weather has the newer constant of sun.h. */
double steading_clear_extraterrestrial_w_per_m2(int day_of_year);

/* The light at a true zenith angle of 0..180 degrees: all 0 at 90 and beyond. tau_b 0.05..2, tau_d
 * 0.5..4 (tables have about 0.2..0.9 and 1.2..2.8). */
steading_clear_light steading_clear_tau(steading_tau_edition edition, double zenith_deg,
                                        double extraterrestrial_w_per_m2, double tau_b,
                                        double tau_d);

/* Global on the horizontal, W/m2, by the cosine of the zenith: 1098 cos z exp(-0.057 / cos z); 0
 * with the sun at or below the horizon. */
double steading_clear_haurwitz_w_per_m2(double cos_zenith);

#endif
