/* Civil time from the zone files of the system (TZif, RFC 9636), without the process's TZ.
 *
 * libc silently falls back to UTC for a name that does not exist and keeps one zone for the whole
 * process; this reads the file itself. */
#ifndef STEADING_FILES_ZONE_H
#define STEADING_FILES_ZONE_H

#include <stddef.h>
#include <stdint.h>

#include "status.h"

typedef struct steading_zone steading_zone;

/* Load a zone by name ("America/Denver"), from the folder in the environment variable TZDIR or
 * /usr/share/zoneinfo. Names with '..', a leading '/' or characters outside letters, digits,
 * '_+-/' are refused. An unknown name is an error that gives the nearest known name (both
 * BAD_INPUT, with an empty path). A damaged file is BAD_INPUT with the file's path, and so is one
 * that counts leap seconds (folder right). The footer's POSIX rule is used after the last
 * transition of the file, so that any year has an answer. */
steading_status steading_zone_load(const char *name, steading_zone **zone, steading_error *error);
/* The same from the bytes of a zone file, of any length; `path` says in errors where they are from.
 * *zone is NULL on failure. */
steading_status steading_zone_read(const unsigned char *bytes, size_t length, const char *path,
                                   steading_zone **zone, steading_error *error);

void steading_zone_free(steading_zone *zone);

/* Seconds that civil time is ahead of UT at an instant (seconds from 1970-01-01 UT). */
int32_t steading_zone_offset_s(const steading_zone *zone, int64_t instant_s);

/* Seconds that the zone's standard time is ahead of UT, in the years after the file's last
 * transition: the smaller of its two offsets (Europe/Dublin's file calls summer time standard). */
int32_t steading_zone_standard_offset_s(const steading_zone *zone);

#endif
