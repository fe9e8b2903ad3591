/* Paths of a site's tables: "hubs.barn.battery.lots[2].count". */
#ifndef STEADING_SITE_PATH_H
#define STEADING_SITE_PATH_H

#include <stdbool.h>
#include <stddef.h>

/* One part of a path: a key, or an index (1..n); `rest` is what follows. */
typedef struct steading_path_step {
  char key[64];
  size_t index; /* 0: a key */
  const char *rest;
} steading_path_step;

/* Read the first part of a path into `step`. False when it cannot be read: `step->rest` is then the
 * path itself, or what follows the part that can be read. */
bool steading_path_next(const char *path, steading_path_step *step);

/* How two paths stand to each other in the order of their parts, numbers by size: below 0, 0 (the
 * same place) or above 0. A path comes before those inside it. */
int steading_path_compare(const char *a, const char *b);

/* Whether the place of `inner` lies inside that of `outer`. */
bool steading_path_is_inside(const char *inner, const char *outer);

#endif
