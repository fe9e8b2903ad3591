/* Numbers at one step, wanted at another. */
#ifndef STEADING_SERIES_H
#define STEADING_SERIES_H

#include <stddef.h>

/* Mean over the `wanted_minutes` from `minute` on of a series of `count` means over `step_minutes`,
 * which begins again at its end: held where it is coarser, averaged by the minutes in each where
 * it is not, so that energy is kept. All but `minute` are at least 1. */
static inline double steading_series_mean(const double *values, size_t count, size_t step_minutes,
                                          size_t minute, size_t wanted_minutes) {
  size_t at = minute / step_minutes, into = minute - at * step_minutes, left = wanted_minutes;
  double sum = 0;
  if (into + wanted_minutes <= step_minutes) return values[at % count];
  for (; left > 0; at++, into = 0) {
    size_t part = step_minutes - into < left ? step_minutes - into : left;
    sum += values[at % count] * (double)part;
    left -= part;
  }
  return sum / (double)wanted_minutes;
}

#endif
