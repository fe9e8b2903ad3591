/* Time stamps of tables. */
#ifndef STEADING_RESOURCE_STAMP_H
#define STEADING_RESOURCE_STAMP_H

#include <stdint.h>

#include "resource/text.h"

typedef struct steading_stamp {
  int64_t second; /* from 1970-01-01 00:00 on the stamp's own clock */
  bool has_offset;
  int offset_min; /* its clock less UT */
} steading_stamp;

/* Whether a format can be used: %Y %y %m %d %j %H %I %p %M %S %z %%, blanks (any number of them),
 * other characters as they are; a date (%Y or %y, with %m and %d or %j) and an hour are needed. */
bool steading_stamp_format_known(const char *format);

/* The time in `text` (trimmed) by a known format; NULL is ISO 8601 with date and time, such as
 * "2027-06-01T12:30", "2027-06-01 12:30:00+02:00" or "...Z". The hour may be 24 with minute 0.
 * Fractions of a second are passed over. False when it is no such time. */
bool steading_stamp_read(steading_slice text, const char *format, steading_stamp *stamp);

#endif
