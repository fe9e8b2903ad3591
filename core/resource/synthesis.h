/* The parts of the weather that is made from twelve means (steading_weather_synthesize), each with
 * its own source, so that each can be checked by itself. */
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

/* Ratio of an hour's share of the day's global to its share of the day's extraterrestrial:
 * a + b cos(hour angle). Collares-Pereira and Rabl 1979, "The average distribution of solar
 * radiation", Solar Energy 22, 155-164. Sunset hour angle in radians, 0..pi. */
double steading_hour_clearness_ratio(double sunset_angle_rad, double cos_hour_angle);

/* Air temperature of a clock hour (0..24, local standard time) less the day's mean, as a share of
 * the day's range. Erbs, Klein and Beckman 1984, "A simple distribution method for two-dimensional
 * temperature/humidity bin data". Largest at about 15 h; the mean over a day is 0. */
double steading_temp_shape(double clock_h);

/* A curve through the year without jumps whose mean in every month is that of `months` (January
 * first): straight lines between the months' ends, where it is the mean of the two months, and
 * their middles. `day` is counted from the beginning of the year, 0..365, with its fraction. */
double steading_month_curve(const double months[12], double day);

#endif
