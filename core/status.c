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
