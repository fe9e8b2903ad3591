/* Windows: when a rule, price or load applies, in civil time.
 *
 * "22:00-06:00", { hours = "17:00-21:00", days = "Mon-Fri", months = "Jun-Aug" }, or a list of
 * these. A window that crosses midnight belongs to the day it starts on. */
#ifndef STEADING_SITE_WINDOW_H
#define STEADING_SITE_WINDOW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "site/spec.h"
#include "site/value.h"
#include "status.h"

typedef struct steading_window {
  int from_min, to_min; /* minutes of the day, 0..1440; to <= from: into the next day */
  uint8_t days;         /* bit 0 Monday .. bit 6 Sunday, of the day it starts on */
  uint16_t months;      /* bit 0 January .. bit 11 December, of the day it starts on */
} steading_window;

typedef struct steading_windows {
  steading_record head;
  size_t count;
  steading_window items[];
} steading_windows;

steading_status steading_windows_read(const steading_value *value, const char *path,
                                      const steading_windows **windows, steading_error *error);

/* Minutes of the day of "hh:mm", 0..1440; false for any other text. */
bool steading_read_clock(const char *text, int *minutes);

/* Whether one of the windows holds in a month (1..12), whatever the day and the hour. */
bool steading_windows_hold_in_month(const steading_windows *windows, int month);

/* Share (0..1) of the `length_min` (1..60) minutes from minute `from_min` (0..1439) of a civil day
 * (month 1..12, weekday 0 Monday) that lie in any of the windows; they end on that day.
 * `month_before` is the month of the day before. */
double steading_windows_share(const steading_windows *windows, int month, int weekday,
                              int month_before, int from_min, int length_min);

#endif
