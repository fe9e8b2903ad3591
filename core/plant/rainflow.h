/* Rainflow counting of a series that rises and falls: ASTM E1049-85, 5.4.4.
 *
 * Peaks and valleys are taken one by one. With X the range of the last two and Y the range before
 * it: while X >= Y, Y is counted as a cycle and its two points go, or, where it holds the start of
 * the history, as half a cycle and its first point goes. What is left at the end is counted as
 * half cycles. Here values come one at a time, over as many calls as one likes: what is left of one
 * year is carried over to the next. */
#ifndef STEADING_PLANT_RAINFLOW_H
#define STEADING_PLANT_RAINFLOW_H

#include <stdbool.h>
#include <stddef.h>

typedef struct steading_cycle {
  double range, mean; /* range > 0 */
  double count;       /* 1 or 0.5 */
} steading_cycle;

/* Takes a cycle as soon as it is found. */
typedef struct steading_cycle_taker {
  void (*take)(void *context, const steading_cycle *cycle);
  void *context;
} steading_cycle_taker;

typedef struct steading_rainflow {
  double *points; /* peaks and valleys that are not counted yet, in order of time */
  size_t room;    /* of points, >= 3 */
  size_t count;
  double last; /* the newest value, which may not be a peak yet */
  bool started;
} steading_rainflow;

/* Memory of the caller's for `room` (>= 3) points. One more than the values is always enough. */
steading_rainflow steading_rainflow_of(double *points, size_t room);

/* The next value (finite). Equal values in a row are one. Where the room does not do, which takes
 * as many ever smaller swings, the oldest range is counted as half a cycle, as at a start. */
void steading_rainflow_add(steading_rainflow *flow, double value,
                           const steading_cycle_taker *taker);

/* The end of the history: what is left is counted as half cycles, and the next value starts a new
 * one. */
void steading_rainflow_finish(steading_rainflow *flow, const steading_cycle_taker *taker);

#endif
