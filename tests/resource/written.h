/* Weather files that a test writes in memory, and files of any of the formats. */
#ifndef TESTS_RESOURCE_WRITTEN_H
#define TESTS_RESOURCE_WRITTEN_H

#include <stddef.h>

#include "resource/weather.h"
#include "status.h"

/* What put() has written since clear_written(); one test at a time. */
typedef struct written_text {
  char *bytes;
  size_t length, room;
} written_text;

extern written_text written;

void put(const char *format, ...) __attribute__((format(printf, 1, 2)));
void clear_written(void);

/* Read by what the file looks like; without a place or options. */
steading_status read_any(const char *bytes, size_t length, steading_weather **weather);

#endif
