#include "status.h"

#include <stdarg.h>
#include <stdio.h>

steading_status steading_fail(steading_error *error, steading_status status, const char *path,
                              const char *format, ...) {
  if (error != NULL) {
    va_list list;
    error->status = status;
    snprintf(error->path, sizeof error->path, "%s", path == NULL ? "" : path);
    va_start(list, format);
    vsnprintf(error->text, sizeof error->text, format, list);
    va_end(list);
  }
  return status;
}

const char *steading_status_text(steading_status status) {
  switch (status) {
#define STEADING_STATUS_CASE(name, text) \
  case STEADING_##name:                  \
    return text;
    STEADING_STATUS_LIST(STEADING_STATUS_CASE)
#undef STEADING_STATUS_CASE
  }
  return "unknown status";
}
