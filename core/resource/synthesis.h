/* The weather that is made from twelve means (steading_weather_synthesize in weather.h) is put
 * together here of parts that can each be checked by itself: days that follow each other (markov.h,
 * or the distribution below), their hours (hours.h), temperature and wind (air.h). */
#ifndef STEADING_RESOURCE_SYNTHESIS_H
#define STEADING_RESOURCE_SYNTHESIS_H

/* How daily clearness (day's global over extraterrestrial, on the horizontal) is spread around its
 * monthly mean: density proportional to exp(gamma K) between two limits. Bendt, Collares-Pereira
 * and Rabl 1981, "The frequency distribution of daily insolation values", Solar Energy 27, 1-5. */
typedef struct steading_clearness {
  double lowest, highest; /* limits of daily clearness */
  double gamma;           /* > 0: most days clear */
} steading_clearness;

/* The distribution of a month of mean clearness `mean`, 0.05..0.80.
 * Limits: 0.05 (half the mean, when the mean is below 0.1) and Hollands and Huget 1983, with the
 * value that belongs to 0.3 below 0.3, where their formula falls to zero. gamma is solved so that
 * the distribution's mean is `mean`; the closed form of Herzog 1985 gives the same to 0.002 of
 * clearness between 0.3 and 0.7, but is 0.02 too high at 0.15. */
steading_clearness steading_clearness_of_month(double mean);

/* Clearness that a share `u` (0..1) of days does not exceed. */
double steading_clearness_quantile(const steading_clearness *clearness, double u);

#endif
