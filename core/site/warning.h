/* What is allowed and usually a mistake: a code, the path of what it is about, and a text. */
#ifndef STEADING_SITE_WARNING_H
#define STEADING_SITE_WARNING_H

#include <stddef.h>

typedef struct steading_warning {
  char code[32], path[128], text[256];
} steading_warning;

enum { STEADING_MOST_WARNINGS = 128 };

/* A list that is written to; what finds no room is counted. */
typedef struct steading_warning_list {
  steading_warning *items;
  size_t room, count; /* count goes on when there is no room left */
} steading_warning_list;

void steading_warn(steading_warning_list *list, const char *code, const char *path,
                   const char *format, ...) __attribute__((format(printf, 4, 5)));

/* How many items were written; when there were more, the last one says how many. */
size_t steading_warnings_written(const steading_warning_list *list);

#endif
