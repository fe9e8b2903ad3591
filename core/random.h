/* Random numbers as a function of where they are used, never a stream in order.
 *
 * One call names the seed, the year of the run, the purpose and the index of the draw: adding a
 * purpose to a model does not change the draws of another, and any order of calls gives the same
 * numbers. Philox 4x32-10 (Salmon, Moraes, Dror and Shaw, 2011, "Parallel random numbers: as easy
 * as 1, 2, 3"). */
#ifndef STEADING_RANDOM_H
#define STEADING_RANDOM_H

#include <stdint.h>

/* The purposes that draw. Append only: a number is part of what a seed means. */
enum steading_purpose {
  STEADING_DRAW_DAY_CLEARNESS = 1,
  STEADING_DRAW_DAY_TEMPERATURE = 2,
  STEADING_DRAW_HOUR_CLEARNESS = 3,
  STEADING_DRAW_SCRIPT = 4, /* math.random of a script; `year` is the case */
  STEADING_DRAW_HOUR_WIND = 21,
  STEADING_DRAW_WITHIN_STEP = 22, /* light within the steps of a weather that is refined */
  STEADING_DRAW_OUTAGE_GAP = 31,  /* from one outage of a meter to the next; index: which one */
  STEADING_DRAW_OUTAGE_LENGTH = 32,
  STEADING_DRAW_RUN_SEED = 33, /* the seed of a part of a run, when the run has one itself */
};

/* The ten rounds of Philox 4x32: `out` is the block that belongs to `counter` under `key`. */
void steading_philox(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]);

/* 64 random bits that belong to (seed, year, purpose, index). */
uint64_t steading_random_bits(uint64_t seed, uint32_t year, uint32_t purpose, uint64_t index);

/* Uniform in the open interval (0, 1): the middle of one of 2^52 equal cells, never 0, never 1. */
double steading_random_uniform(uint64_t seed, uint32_t year, uint32_t purpose, uint64_t index);

/* The standard normal's value that is exceeded with probability 1 - p; 0 < p < 1. Relative error
 * about 1e-15 (Wichura 1988, Algorithm AS 241). */
double steading_normal_quantile(double p);

/* Standard normal: inverse of the normal distribution at steading_random_uniform. */
double steading_random_normal(uint64_t seed, uint32_t year, uint32_t purpose, uint64_t index);

#endif
