/* The known name that somebody probably meant. */
#ifndef STEADING_NEAREST_H
#define STEADING_NEAREST_H

#include <stddef.h>

/* Index of the name nearest to `word`: an edit distance (insertion, deletion, change of a byte,
 * swap of two neighbours) of at most 3 and less than half the word's length; the first of equally
 * near ones. -1 when there is none: a foreign word shall get no misleading neighbour. NULL among
 * the names is passed over. Allocates nothing. */
int steading_nearest_name(const char *word, const char *const *names, size_t count);

/* The edit distance of two texts when it is at most `limit` (0..3), else `limit` + 1. */
size_t steading_edit_distance(const char *a, const char *b, size_t limit);

/* The largest distance at which a name still counts as near to `word`: 0..3. */
size_t steading_nearest_limit(const char *word);

#endif
