/* Pieces of a text file that are looked at where they stand, for the readers of weather. */
#ifndef STEADING_RESOURCE_TEXT_H
#define STEADING_RESOURCE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

typedef struct steading_slice {
  const char *start, *end; /* [start, end) */
} steading_slice;

/* Without blanks, tabs and carriage returns around it. */
steading_slice steading_slice_trimmed(steading_slice text);

bool steading_slice_starts(steading_slice text, const char *word);

bool steading_slice_equals(steading_slice text, const char *word);

/* Whether it is this word, letter case not regarded. */
bool steading_slice_is(steading_slice text, const char *word);

/* A decimal number, exactly as strtod would round it; no hexadecimal, no 'nan' or 'inf'. `text` is
 * trimmed. False when it is none. */
bool steading_slice_number(steading_slice text, double *value);

/* The next line of [*at, end), without its line feed, and *at behind it; false at the end. */
bool steading_next_line(const char **at, const char *end, steading_slice *line);

/* Behind a UTF-8 byte-order mark, if [at, end) begins with one. */
const char *steading_behind_mark(const char *at, const char *end);

#endif
