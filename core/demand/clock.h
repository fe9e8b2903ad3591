/* Civil time of the steps of a run: what people, timers and tariffs follow.
 *
 * Steps are of standard time. Civil time may be ahead of it in part of the year; then a civil hour
 * is missing in spring and stands twice in autumn, and no step is lost or doubled. */
#ifndef STEADING_DEMAND_CLOCK_H
#define STEADING_DEMAND_CLOCK_H

#include <stdint.h>

#include "files/zone.h"

typedef struct steading_civil_step {
  uint16_t minute;    /* of the civil day in which it begins, 0..1439, a multiple of the step */
  uint8_t month, day; /* of the civil day: 1..12, 1..31; never 29 February */
  uint8_t weekday;    /* 0 Monday .. 6 Sunday */
  uint8_t month_before, day_before; /* of the civil day before */
  uint8_t standard_month;           /* 1..12, of the step itself in standard time */
  int8_t next_month;                /* civil month minus standard month, in months: -1, 0 or 1 */
} steading_civil_step;

/* The steps of the year (8760 hours) that begins on the first of `month` of `year` in standard
 * time. `zone` NULL: civil time is standard time. `utc_offset_h` is standard time minus UT;
 * `step_minutes` divides 60. Civil time that is ahead by no whole number of steps counts from the
 * last whole step. */
void steading_clock_year(int year, int month, const steading_zone *zone, double utc_offset_h,
                         int step_minutes, steading_civil_step *steps);

#endif
