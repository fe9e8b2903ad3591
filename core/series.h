/* Numbers at one step, wanted at another. */
#ifndef STEADING_SERIES_H
#define STEADING_SERIES_H

#include <stddef.h>

/* Mean over the `wanted_minutes` that begin at `minute` of a series of `count` means over
 * `step_minutes`, which begins again at its end: held where the series is coarser, its own means
 * averaged where it is finer, so that energy is kept. One of the two steps divides the other, and
 * `minute` is a multiple of `wanted_minutes`. */
static inline double steading_series_mean(const double *values, size_t count, size_t step_minutes,
                                          size_t minute, size_t wanted_minutes) {
  size_t at = minute / step_minutes % count;
  double sum = values[at];
  if (step_minutes >= wanted_minutes) return sum;
  for (size_t k = 1; k < wanted_minutes / step_minutes; k++) sum += values[at + k];
  return sum / (double)(wanted_minutes / step_minutes);
}

#endif
