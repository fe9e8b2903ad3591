#include "site/warning.h"

#include <stdarg.h>
#include <stdio.h>

void steading_warn(steading_warning_list *to, const char *code, const char *path,
                   const char *format, ...) {
  va_list list;
  steading_warning *item = NULL;
  if (to->count++ >= to->room) return;
  item = &to->items[to->count - 1];
  snprintf(item->code, sizeof item->code, "%s", code);
  snprintf(item->path, sizeof item->path, "%s", path);
  va_start(list, format);
  vsnprintf(item->text, sizeof item->text, format, list);
  va_end(list);
}

size_t steading_warnings_written(const steading_warning_list *list) {
  steading_warning *last = NULL;
  if (list->count <= list->room) return list->count;
  if (list->room == 0) return 0;
  last = &list->items[list->room - 1];
  snprintf(last->code, sizeof last->code, "more");
  last->path[0] = '\0';
  snprintf(last->text, sizeof last->text, "%zu further warnings are left out",
           list->count - list->room + 1);
  return list->room;
}
