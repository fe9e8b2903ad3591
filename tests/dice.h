/* Random numbers for tests that roll their cases: the same on every machine. */
#ifndef STEADING_TESTS_DICE_H
#define STEADING_TESTS_DICE_H

#include "random.h"

typedef struct dice {
  uint64_t seed, thrown;
} dice;

/* 0..1 */
static inline double roll(dice *d) { return steading_random_uniform(d->seed, 0, 77, d->thrown++); }

static inline double roll_between(dice *d, double lowest, double highest) {
  return lowest + (highest - lowest) * roll(d);
}

/* 0 in a fifth of the throws, else up to `most`, small ones often. */
static inline double roll_size(dice *d, double most) {
  double u = roll(d);
  return roll(d) < 0.2 ? 0 : most * u * u * u;
}

#endif
