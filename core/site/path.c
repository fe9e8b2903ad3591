#include "site/path.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

bool steading_path_next(const char *path, steading_path_step *step) {
  size_t length = 0;
  *step = (steading_path_step){.rest = path};
  if (*path == '[') {
    char *end = NULL;
    unsigned long index = strtoul(path + 1, &end, 10);
    if (!isdigit((unsigned char)path[1]) || *end != ']' || index == 0) return false;
    step->index = index;
    step->rest = end + 1;
  } else {
    while (path[length] != '\0' && path[length] != '.' && path[length] != '[') length++;
    if (length == 0 || length >= sizeof step->key) return false;
    memcpy(step->key, path, length);
    step->key[length] = '\0';
    step->rest = path + length;
  }
  if (*step->rest == '.') {
    step->rest++;
    return *step->rest != '\0' && *step->rest != '[' && *step->rest != '.';
  }
  return *step->rest == '\0' || *step->rest == '[';
}

int steading_path_compare(const char *a, const char *b) {
  while (*a != '\0' && *b != '\0') {
    steading_path_step x, y;
    if (!steading_path_next(a, &x) || !steading_path_next(b, &y)) return strcmp(a, b);
    if (x.index != y.index) return x.index < y.index ? -1 : 1;
    if (strcmp(x.key, y.key) != 0) return strcmp(x.key, y.key);
    a = x.rest;
    b = y.rest;
  }
  return (*a != '\0') - (*b != '\0');
}

bool steading_path_is_inside(const char *inner, const char *outer) {
  while (*outer != '\0') {
    steading_path_step x, y;
    if (*inner == '\0' || !steading_path_next(inner, &x) || !steading_path_next(outer, &y))
      return false;
    if (x.index != y.index || strcmp(x.key, y.key) != 0) return false;
    inner = x.rest;
    outer = y.rest;
  }
  return *inner != '\0';
}
