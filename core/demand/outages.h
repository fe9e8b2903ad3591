/* Random outages of the grid at a meter.
 *
 * Outages begin as a Poisson process whose rate is constant over a day: its sum over a year is
 * `saifi`, so that the number of outages of a year is a Poisson number with that mean. A rate is
 * the sum of three parts: the share in_dull_weather of saifi on the dull days of the year, the
 * share in_extreme_weather on its extreme days, the rest on all days; within each part days weigh
 * as by_month says of their month. Their lengths are independent of all that, with mean caidi_h:
 *   lognormal    of standard deviation `spread` of the logarithm (1.14 is that of a median of 60
 *                and a mean of 115 minutes, sqrt(2 ln(115/60)); restoration times are about
 *                lognormal: Ahmad and Dobson 2026, arXiv 2603.16841)
 *   exponential
 *   equal
 * An outage ends after a year at the latest; of the ranges of the fields that takes at most half a
 * per cent of the mean.
 *
 * Every draw is a function of (seed, year, purpose, index of the outage in the year): what is
 * drawn for one meter or year does not depend on any other. */
#ifndef STEADING_DEMAND_OUTAGES_H
#define STEADING_DEMAND_OUTAGES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "calendar.h"
#include "resource/weather.h"
#include "site/fields.h"

/* Days of the year that count as dull; of each kind of extreme. */
enum { STEADING_DULL_DAYS = 36, STEADING_EXTREME_DAYS = 12 };

/* The default of lengths.spread. */
#define STEADING_OUTAGE_SPREAD 1.14

typedef struct steading_outage {
  double start_h;  /* from the beginning of the year, 0..8760 */
  double length_h; /* above 0, at most 8760 */
} steading_outage;

/* The dull and the extreme days among the 365 that begin at minute `start_minute` of a weather
 * (taken round and round). Dull: those with the least light on the horizontal over that outside the
 * atmosphere. Extreme: the highest and the lowest temperature of a step, the highest wind of a step
 * where the weather has wind. Of equal days the earlier one counts. */
void steading_outage_weather(const steading_weather *weather, size_t start_minute,
                             bool dull[STEADING_DAYS_PER_YEAR],
                             bool extreme[STEADING_DAYS_PER_YEAR]);

/* Outages that are expected to begin on each of the 365 days from the first of `first_month`
 * (1..12) on; they sum to saifi. A part whose days all weigh nothing joins the rest. */
void steading_outage_rates(const steading_outages *outages, const steading_weather *weather,
                           size_t start_minute, int first_month,
                           double per_day[STEADING_DAYS_PER_YEAR]);

/* The seed of a meter's outages in a run with a seed of its own (absent: has_run_seed false). */
uint64_t steading_outage_seed(const steading_outages *outages, bool has_run_seed,
                              uint64_t run_seed);

/* The outages of a year, one after the other, in the order in which they begin. */
typedef struct steading_outage_draw {
  const steading_outages *outages;
  const double *per_day;
  uint64_t seed, index;
  uint32_t year;
  double reached, before; /* expected outages up to the one at hand; up to `day` */
  int day;
} steading_outage_draw;

/* `per_day` is that of steading_outage_rates and stays; `year` is any number, that of the run. */
steading_outage_draw steading_outage_draw_of(const steading_outages *outages, const double *per_day,
                                             uint64_t seed, uint32_t year);

/* The next one; false when the year has no more. */
bool steading_outage_next(steading_outage_draw *draw, steading_outage *outage);

#endif
