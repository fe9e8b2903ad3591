#include "nearest.h"

#include <assert.h>
#include <string.h>

enum { LIMIT_MAX = 3, BAND = 2 * LIMIT_MAX + 1 };

static size_t least(size_t a, size_t b) { return a < b ? a : b; }

/* Damerau 1964, "A technique for computer detection and correction of spelling errors", in its
 * restricted form (no part is edited twice), by the table of Wagner and Fischer 1974. Cells further
 * than `limit` from the diagonal cannot be part of a distance within it, so a row is 2 limit + 1
 * cells: cell k of row i stands for the first i bytes of a and the first i + k - limit of b. */
size_t steading_edit_distance(const char *a, const char *b, size_t limit) {
  size_t rows[3][BAND + 1];
  size_t *two_back = rows[0], *back = rows[1], *row = rows[2];
  size_t a_length = strlen(a), b_length = strlen(b), beyond = limit + 1, width = 2 * limit + 1;
  size_t longer = a_length > b_length ? a_length : b_length;
  assert(limit <= LIMIT_MAX);
  if (longer - least(a_length, b_length) > limit) return beyond;
  for (size_t r = 0; r < 3; r++) {
    for (size_t k = 0; k <= BAND; k++) rows[r][k] = beyond;
  }
  for (size_t i = 0; i <= a_length; i++) {
    size_t *spare = two_back;
    for (size_t k = 0; k < width; k++) {
      size_t best = beyond;
      row[k] = beyond;
      if (i + k < limit || i + k - limit > b_length) continue;
      size_t j = i + k - limit;
      if (i == 0) best = least(best, j);
      if (i > 0) best = least(best, back[k + 1] + 1);         /* delete from a */
      if (j > 0 && k > 0) best = least(best, row[k - 1] + 1); /* insert from b */
      if (i > 0 && j > 0) {
        best = least(best, back[k] + (a[i - 1] != b[j - 1]));
        if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
          best = least(best, two_back[k] + 1);
      }
      row[k] = best;
    }
    two_back = back;
    back = row;
    row = spare;
  }
  return back[b_length + limit - a_length];
}

size_t steading_nearest_limit(const char *word) {
  size_t length = strlen(word);
  return length == 0 ? 0 : least(LIMIT_MAX, (length - 1) / 2);
}

int steading_nearest_name(const char *word, const char *const *names, size_t count) {
  size_t best = steading_nearest_limit(word) + 1;
  int found = -1;
  for (size_t i = 0; i < count && best > 0; i++) {
    size_t distance = 0;
    if (names[i] == NULL) continue;
    distance = steading_edit_distance(word, names[i], best - 1);
    if (distance >= best) continue;
    best = distance;
    found = (int)i;
  }
  return found;
}
