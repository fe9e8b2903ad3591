/* The bytes that stand for a site: equal exactly when two sites (or any two records) are the same
 * in the fields that are asked for. What a run may be remembered by.
 *
 * A number stands there by its bits, with -0 as 0; a default and the same value given are the same;
 * a field without a default is marked when it is absent. Names of maps come in their order. A table
 * that itself touches only money counts as energy when any field inside it does. A whole series
 * stands there by the SHA-256 of its numbers. A weather stands there by its sha256, source, place
 * and size: whoever derives a weather from another gives it its own sha256, or an empty one. A
 * weather with an empty sha256 stands there by the SHA-256 of all its numbers, which takes a while.
 * The bytes are those of this machine's byte order: they are for comparison, not for keeping. */
#ifndef STEADING_SITE_CANONICAL_H
#define STEADING_SITE_CANONICAL_H

#include <stddef.h>

#include "status.h"

/* What is asked for: bits, added up. */
enum {
  STEADING_CANONICAL_ENERGY = 1,
  STEADING_CANONICAL_MONEY = 2,
  STEADING_CANONICAL_LABELS = 4,
  STEADING_CANONICAL_ALL = 7
};

/* Bytes that grow; begins as {0}. Set `length` to 0 to use it again. */
typedef struct steading_bytes {
  unsigned char *data;
  size_t length, room;
} steading_bytes;

void steading_bytes_free(steading_bytes *bytes);

/* Append the canonical bytes of a record of the spec tables to `bytes`. NO_MEMORY or OK; after
 * NO_MEMORY `bytes` holds a part and is still to be freed. */
steading_status steading_site_canonical(const void *record, unsigned touches,
                                        steading_bytes *bytes);

/* SHA-256 of numbers by their bits, -0 as 0. */
void steading_digest_numbers(const double *numbers, size_t count, unsigned char digest[32]);

#endif
