/* What a build with sanitizers costs the tests, in one place.
 *
 * Limits of time are those of a release build on a busy machine, times TIMES_SLOWER: Check's own
 * (tests/run.c), those of commands (command.h) and any that a test states. Where a test goes
 * through many things that are alike, it takes one in THINNED of them; in all other builds it takes
 * all. */
#ifndef STEADING_TESTS_SLOW_H
#define STEADING_TESTS_SLOW_H

#if defined(__SANITIZE_ADDRESS__) /* gcc */
#define HAS_SANITIZER 1
#elif defined(__has_feature) /* clang */
#define HAS_SANITIZER __has_feature(address_sanitizer)
#else
#define HAS_SANITIZER 0
#endif

#if HAS_SANITIZER
enum { TIMES_SLOWER = 4, THINNED = 13 };
#else
enum { TIMES_SLOWER = 1, THINNED = 1 };
#endif

#endif
