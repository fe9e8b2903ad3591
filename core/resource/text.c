#include "resource/text.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

steading_slice steading_slice_trimmed(steading_slice text) {
  while (text.start < text.end && (*text.start == ' ' || *text.start == '\t')) text.start++;
  while (text.end > text.start &&
         (text.end[-1] == ' ' || text.end[-1] == '\t' || text.end[-1] == '\r')) {
    text.end--;
  }
  return text;
}

bool steading_slice_starts(steading_slice text, const char *word) {
  size_t length = strlen(word);
  return (size_t)(text.end - text.start) >= length && memcmp(text.start, word, length) == 0;
}

bool steading_slice_equals(steading_slice text, const char *word) {
  size_t length = strlen(word);
  return (size_t)(text.end - text.start) == length && memcmp(text.start, word, length) == 0;
}

bool steading_slice_is(steading_slice text, const char *word) {
  size_t length = strlen(word);
  return (size_t)(text.end - text.start) == length && strncasecmp(text.start, word, length) == 0;
}

/* What the short way below does not take: exponents and more than 15 digits. */
static bool parse_rare_number(steading_slice text, double *value) {
  char copy[64], *rest = NULL;
  size_t length = (size_t)(text.end - text.start);
  if (length == 0 || length >= sizeof copy) return false;
  memcpy(copy, text.start, length);
  copy[length] = '\0';
  /* strtod alone would take 'nan', 'inf' and hexadecimal. */
  if (strspn(copy, "0123456789+-.eE") != length) return false;
  *value = strtod(copy, &rest);
  return rest == copy + length && isfinite(*value);
}

/* Up to 15 digits and a power of ten up to 22 are both exact in a double, so that their quotient is
 * rounded once (Clinger 1990, "How to read floating point numbers accurately"). */
bool steading_slice_number(steading_slice text, double *value) {
  static const double powers[16] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  const char *p = text.start;
  bool negative = false, in_fraction = false;
  int64_t digits = 0;
  int count = 0, fraction = 0;
  if (p < text.end && (*p == '-' || *p == '+')) negative = *p++ == '-';
  for (; p < text.end; p++) {
    if (*p >= '0' && *p <= '9') {
      if (++count > 15) return parse_rare_number(text, value);
      digits = digits * 10 + (*p - '0');
      fraction += in_fraction;
    } else if (*p == '.' && !in_fraction) {
      in_fraction = true;
    } else {
      return parse_rare_number(text, value);
    }
  }
  if (count == 0) return false;
  *value = (double)digits / powers[fraction];
  if (negative) *value = -*value;
  return true;
}

bool steading_next_line(const char **at, const char *end, steading_slice *line) {
  const char *newline = NULL;
  if (*at >= end) return false;
  newline = memchr(*at, '\n', (size_t)(end - *at));
  line->start = *at;
  line->end = newline == NULL ? end : newline;
  *at = newline == NULL ? end : newline + 1;
  return true;
}

const char *steading_behind_mark(const char *at, const char *end) {
  return end - at >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0 ? at + 3 : at;
}
