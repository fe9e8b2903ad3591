#include "resource/written.h"

#include <check.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

written_text written;

void clear_written(void) {
  free(written.bytes);
  written = (written_text){NULL, 0, 0};
}

void put(const char *format, ...) {
  va_list list;
  int length = 0;
  if (written.room < written.length + 1000) {
    written.room = 2 * written.room + 4000;
    written.bytes = realloc(written.bytes, written.room);
    ck_assert_ptr_nonnull(written.bytes);
  }
  va_start(list, format);
  length = vsnprintf(written.bytes + written.length, 1000, format, list);
  va_end(list);
  ck_assert_int_lt(length, 1000);
  written.length += (size_t)length;
}

steading_status read_any(const char *bytes, size_t length, steading_weather **weather) {
  if (steading_weather_is_epw(bytes, length))
    return steading_weather_read_epw(bytes, length, "x", NULL, weather, NULL);
  if (steading_weather_is_tmy3(bytes, length))
    return steading_weather_read_tmy3(bytes, length, "x", NULL, weather, NULL);
  return steading_weather_read_keyed(bytes, length, "x", NULL, weather, NULL);
}
