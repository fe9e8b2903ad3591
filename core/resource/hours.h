/* Hours of a day of known clearness.
 *
 * Aguiar and Collares-Pereira 1992, "TAG: a time-dependent, autoregressive, Gaussian model for
 * generating synthetic hourly radiation", Solar Energy 49, 167-174: an hour's clearness lies around
 * a mean that depends on the day's clearness K and on the height of the sun, with a spread of its
 * own; departures from it, in spreads, are a first-order process. */
#ifndef STEADING_RESOURCE_HOURS_H
#define STEADING_RESOURCE_HOURS_H

typedef struct steading_hour_law {
  double lowest, rise, steepness; /* mean = lowest + rise exp(-steepness / sin h) */
  double spread, growth;          /* spread exp(growth (1 - sin h)) */
  double correlation;             /* of one hour with the next */
} steading_hour_law;

/* The law of the hours of a day of clearness 0..1. */
steading_hour_law steading_hour_law_of(double clearness);

/* Mean and standard deviation of an hour's clearness; sin_height is the sine of the sun's height,
 * above 0 up to 1. */
double steading_hour_mean(const steading_hour_law *law, double sin_height);
double steading_hour_spread(const steading_hour_law *law, double sin_height);

/* Clearness of an hour without clouds, 0.23..0.88: 0.88 cos(pi (t - 12.5) / 30), true solar time t
 * 0..24 h. By the same authors, from memory. */
double steading_hour_clearest(double solar_h);

/* Brings n values to the weighted sum `total`: sum of weight value, all weights >= 0, total >= 0.
 * Values (>= 0) are multiplied by one factor; none rises above its own `most` (0..1): what is then
 * left is multiplied again. A total that is more than all weights at their most lifts every value
 * above it, by one share of its distance to 1; one that is more than the sum of the weights makes
 * all values equal. */
void steading_share_out(int n, const double *weight, const double *most, double total,
                        double *value);

#endif
