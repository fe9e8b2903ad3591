/* The air of a weather that is made from twelve means: temperature and wind. */
#ifndef STEADING_RESOURCE_AIR_H
#define STEADING_RESOURCE_AIR_H

/* Air temperature of a clock hour (0..24, local standard time) less the day's mean, as a share of
 * the day's range. Erbs, Klein and Beckman 1984, "A simple distribution method for two-dimensional
 * temperature/humidity bin data". Largest at about 15 h; the mean over a day is 0. */
double steading_temp_shape(double clock_h);

/* A curve through the year without jumps whose mean in every month is that of `months` (January
 * first): straight lines between the months' ends, where it is the mean of the two months, and
 * their middles. `day` is counted from the beginning of the year, 0..365, with its fraction. */
double steading_month_curve(const double months[12], double day);

/* The same for one span of known ends: at `along` 0..1 of it the value of the two straight lines
 * from `start` to the middle and from there to `end` whose mean is `mean`. */
double steading_span_curve(double start, double mean, double end, double along);

/* Standard deviation of a month's mean temperature from year to year, K, at least 0: 1.45 -
 * 0.0290 mean + 0.0664 (standard deviation of the twelve monthly means). Erbs, Klein and Beckman
 * 1983, "Estimation of degree-days and ambient temperature bin data from monthly-average
 * temperatures", ASHRAE Journal 25(6), 60-65 (from memory). */
double steading_temp_month_spread(double month_mean_c, const double months[12]);

/* Standard deviation of the daily means about the month's long-run mean, K, in a month of so many
 * days: the same paper's distribution 1 / (1 + exp(-3.396 h)), h = departure / (spread of the
 * month's mean sqrt(days)), has the standard deviation pi / (sqrt(3) 3.396) of h. */
double steading_temp_day_spread(double month_spread_k, int days);

/* Daily temperatures are drawn for noon, a first-order Gaussian process with straight lines between
 * the noons: its correlation, and its standard deviation over that of the daily means. These two
 * let the daily means have the day spread above and the mean of a month the month spread. */
#define STEADING_NOON_CORRELATION 0.4816
#define STEADING_NOON_SPREAD 1.1311

/* Daily range that belongs to a day's clearness, up to a factor: 25.8 K - 5.21 (Erbs, Klein and
 * Beckman 1984, for months; from memory), but at least 0.3 (our choice, no source) of what it is at
 * the month's mean clearness or at 0.3, whichever is more. Above 0. */
double steading_temp_range_share(double clearness, double month_clearness);

/* The daily range that the shape has to be given in a month so that the mean of the days' highest
 * less lowest hour is `range_k`: days also warm and cool from one to the next, which widens some.
 * At least 0, where this alone gives more than is asked for.
 *   noon_spread_k   standard deviation of the process of the noons
 *   count, weight, factor   how the days' ranges are spread around their mean: shares (sum 1) of
 *                           days, and their range over the mean range */
double steading_temp_shape_range(double range_k, double noon_spread_k, int count,
                                 const double *weight, const double *factor);

/* Scale of the Weibull distribution of a mean (>= 0) and a shape (2: Rayleigh). */
double steading_wind_scale(double mean_m_per_s, double shape);

/* Wind speed that a standard normal number z stands for: lower speeds have the share of time that
 * the normal distribution has below z. */
double steading_wind_speed(double scale_m_per_s, double shape, double z);

/* Mean wind of a clock hour over that of the day: 1 + 0.4 steading_temp_shape, stronger while the
 * ground is warm (common practice, no source). The mean over a day is 1. */
double steading_wind_cycle(double clock_h);

/* Correlation of one hour's wind with the next one's; common practice, no source (measured ones lie
 * between 0.8 and 0.95). */
#define STEADING_WIND_CORRELATION 0.9

#endif
