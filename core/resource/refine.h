/* A weather in shorter steps: what happens within a step is invented, its means stay. */
#ifndef STEADING_RESOURCE_REFINE_H
#define STEADING_RESOURCE_REFINE_H

#include "resource/weather.h"

/* Standard deviation, within an hour, of the light over that of a cloudless sky (Haurwitz 1945,
 * clear_sky.h): 0.87 k^2 (1 - k) + 0.39 sqrt(k) s, where k (limited to 0..1) is the hour's own and
 * s the root mean square of its differences from the hours before and after. Skartveit and Olseth
 * 1992, "The probability density and autocorrelation of short-term global and beam irradiance",
 * Solar Energy 49, 477-487 (from memory). */
double steading_spread_within(double k, double s);

/* The light's noise: means over the short steps of a first-order process of single minutes. Its
 * correlation from one minute to the next, exp(-1 / 10): common practice, no source. */
#define STEADING_MINUTE_CORRELATION 0.90483741803595957

/* Standard deviation of that process for which means of five minutes spread about the mean of their
 * hour by 1. */
double steading_minute_spread(void);

/* No step is brighter than this times the cloudless sky, nor than outside the atmosphere, if its
 * coarse step leaves room for that: light from the edges of clouds. Common practice, no source. */
#define STEADING_CLOUD_EDGE 1.25

/* The weather in steps of step_minutes, which have to divide its own and be fewer. In every coarse
 * step the means of global, diffuse, temperature and wind are the same to rounding, diffuse but for
 * light that a note tells (a beam stronger than outside the atmosphere counts as diffuse); light
 * stands where the sun of the short steps is up. What is invented is a function of (seed, year,
 * step). Its sha256 is left empty; a note says what it was made of. BAD_INPUT for another step
 * (path "step_minutes"). *refined is NULL on failure. */
steading_status steading_weather_refine(const steading_weather *from, int step_minutes,
                                        uint64_t seed, steading_weather **refined,
                                        steading_error *error);

#endif
