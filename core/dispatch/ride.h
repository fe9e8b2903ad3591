/* Riding through: how long a site goes on when the grid fails, for an outage that starts at any
 * step of normal operation.
 *
 * At every step of every year all grids go down, from the state that normal operation left, and
 * stay down until what must be served fails, or for the longest time asked. Normal operation knows
 * the planned outages and no random ones; starts inside a planned outage do not count. Loads, sun,
 * months and lots go on meanwhile as they would have.
 *
 * Exact and fast: starts are taken from the last to the first. Two outages that are in the same
 * state at the same step, to the bit, share all that follows; so a start follows its own steps only
 * until it meets, at one of the steps that are looked at, the state of an outage that started
 * later, and takes what that one has left. */
#ifndef STEADING_DISPATCH_RIDE_H
#define STEADING_DISPATCH_RIDE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "files/zone.h"
#include "site/fields.h"
#include "site/site.h"
#include "status.h"

/* It outlasts the longest time asked. */
#define STEADING_RIDE_OUTLASTS UINT32_MAX

typedef struct steading_ride_start {
  uint32_t step;       /* of the run */
  uint32_t steps;      /* whole steps that are served in full, or STEADING_RIDE_OUTLASTS */
  uint8_t month, hour; /* civil, 1..12 and 0..23, of the step in which the outage starts */
} steading_ride_start;

typedef struct steading_ride {
  double step_h;
  bool hours_asked[24]; /* in which outages start */
  size_t last_count;
  double *last_hours; /* [last_count] as they were asked */
  size_t start_count;
  steading_ride_start *starts; /* in order of time, without those inside planned outages */
  uint64_t stepped;            /* islanded steps that were worked out */
} steading_ride;

enum { STEADING_RIDE_GROUPS = 12 * 24 };

/* Work it out. `zone` as in steading_run_simulate. BAD_INPUT where there is no grid to lose, or
 * nothing that could be served without it; where so many steps would take more than 2 GiB. */
steading_status steading_ride_through(const steading_site *site, const steading_ask_ride *ask,
                                      const steading_zone *zone, steading_ride *ride,
                                      steading_error *error);
void steading_ride_free(steading_ride *ride);

/* Count by month and hour: group (month - 1) * 24 + hour. starts [STEADING_RIDE_GROUPS] says how
 * many there were, held [STEADING_RIDE_GROUPS][last_count] how many lasted each of last_hours. */
void steading_ride_count(const steading_ride *ride, size_t *starts, size_t *held);

/* Hours that starts last: values[group][count] for each share p (0..1), the least life that at
 * least this share of the starts of a group does not exceed (the inverse of the empirical
 * distribution, Hyndman and Fan 1996, type 1; no life is made up between two). INFINITY where that
 * is one that outlasts, NaN for a group without starts. Groups by month, by hour, by both (as
 * above) or one. NO_MEMORY or OK. */
steading_status steading_ride_percentiles(const steading_ride *ride, bool by_month, bool by_hour,
                                          const double *p, size_t count, double *values,
                                          steading_error *error);

#endif
