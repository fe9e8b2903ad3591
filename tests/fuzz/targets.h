/* What is fuzzed: every reader of bytes that come from outside, and of tables that scripts make. A
 * target is fed any bytes and aborts where a promise is broken; the sanitizers see the rest. `make
 * fuzz` feeds them for a while, the suite resource/hostile feeds them their seeds and every input
 * that once broke one. */
#ifndef STEADING_TESTS_FUZZ_TARGETS_H
#define STEADING_TESTS_FUZZ_TARGETS_H

#include <stddef.h>

typedef struct fuzz_seed {
  const char *bytes;
  size_t length;
} fuzz_seed;

typedef struct fuzz_target {
  const char *name;
  void (*run)(const unsigned char *bytes, size_t length);
  const fuzz_seed *seeds; /* small well-formed inputs to begin from; ends with NULL bytes */
} fuzz_target;

extern const fuzz_target fuzz_targets[]; /* ends with a NULL name */

/* Tables along the spec tables, and runs of the sites that are accepted (site.c). */
void fuzz_site(const unsigned char *bytes, size_t length);

/* NULL when there is none of this name. */
const fuzz_target *fuzz_target_named(const char *name);

#endif
