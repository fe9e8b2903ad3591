/* The periods of a tariff: which of an ordered list counts at a civil minute.
 *
 * The first period that fits counts. A window that crosses midnight belongs to the day it starts
 * on, so that a minute is looked up among the windows of its own day and among those that the day
 * before left open. A holiday counts as a Sunday. */
#ifndef STEADING_SITE_PERIODS_H
#define STEADING_SITE_PERIODS_H

#include <stdbool.h>
#include <stddef.h>

#include "site/fields.h"
#include "site/window.h"

enum {
  STEADING_MOST_PERIODS = 64,
  STEADING_HOLIDAY = 7, /* beside the weekdays 0 Monday .. 6 Sunday */
  STEADING_EXPORT_NONE = 0,
  STEADING_EXPORT_NET_METERING = 1,
  STEADING_EXPORT_NET_BILLING = 2
};

/* The windows of a period; `own` is where the one of hours, days and months is put together. */
const steading_window *steading_period_windows(const steading_period *period, steading_window *own,
                                               size_t *count);

/* Whether a window starts on a day of this class (0..6, STEADING_HOLIDAY) and month 1..12. */
bool steading_window_starts(const steading_window *window, int day_class, int month);

/* BAD_INPUT, with a path below `path`, for too many periods, a civil minute of some kind of day and
 * month that no period fits (the first one is named), and a period that never counts. */
steading_status steading_periods_check(const steading_list *periods, const bool holidays[12][31],
                                       const char *path, steading_error *error);

#endif
