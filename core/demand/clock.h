/* Civil time of the steps of a run: what people, timers and tariffs follow.
 *
 * Steps are hours of standard time. Civil time may be ahead of it in part of the year; then a
 * civil hour is missing in spring and stands twice in autumn, and no step is lost or doubled. */
#ifndef STEADING_DEMAND_CLOCK_H
#define STEADING_DEMAND_CLOCK_H

#include <stdint.h>

#include "files/zone.h"

typedef struct steading_civil_hour {
  uint8_t month;        /* 1..12 */
  uint8_t weekday;      /* 0 Monday .. 6 Sunday */
  uint8_t hour;         /* 0..23 */
  uint8_t month_before; /* month of the day before */
  uint8_t standard_month; /* 1..12, of the step itself in standard time */
  int8_t next_month;      /* civil month minus standard month, in months: -1, 0 or 1 */
} steading_civil_hour;

/* The 8760 hours of the year that begins on the first of `month` of `year` in standard time.
 * `zone` NULL: civil time is standard time. `utc_offset_h` is standard time minus UT. */
void steading_clock_year(int year, int month, const steading_zone *zone, double utc_offset_h,
                         steading_civil_hour *hours);

#endif
