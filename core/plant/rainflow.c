#include "plant/rainflow.h"

#include <math.h>
#include <string.h>

steading_rainflow steading_rainflow_of(double *points, size_t room) {
  return (steading_rainflow){.points = points, .room = room};
}

static void count(double a, double b, double times, const steading_cycle_taker *taker) {
  const steading_cycle cycle = {.range = fabs(a - b), .mean = (a + b) / 2, .count = times};
  taker->take(taker->context, &cycle);
}

static void drop_first(steading_rainflow *flow) {
  flow->count--;
  memmove(flow->points, flow->points + 1, flow->count * sizeof *flow->points);
}

static void add_point(steading_rainflow *flow, double value, const steading_cycle_taker *taker) {
  double *p = flow->points;
  if (flow->count == flow->room) {
    count(p[0], p[1], 0.5, taker);
    drop_first(flow);
  }
  p[flow->count++] = value;
  while (flow->count >= 3) {
    size_t n = flow->count;
    double x = fabs(p[n - 1] - p[n - 2]), y = fabs(p[n - 2] - p[n - 3]);
    if (x < y) return;
    if (n == 3) { /* y holds the start */
      count(p[0], p[1], 0.5, taker);
      drop_first(flow);
    } else {
      count(p[n - 3], p[n - 2], 1, taker);
      p[n - 3] = p[n - 1];
      flow->count -= 2;
    }
  }
}

/* A value is a peak or valley when the next one turns back; the first always counts. */
void steading_rainflow_add(steading_rainflow *flow, double value,
                           const steading_cycle_taker *taker) {
  if (!flow->started) {
    flow->started = true;
    flow->last = value;
    flow->count = 0;
    flow->points[flow->count++] = value;
    return;
  }
  if (value == flow->last) return;
  if (flow->last != flow->points[flow->count - 1] &&
      (value > flow->last) != (flow->last > flow->points[flow->count - 1]))
    add_point(flow, flow->last, taker);
  flow->last = value;
}

void steading_rainflow_finish(steading_rainflow *flow, const steading_cycle_taker *taker) {
  if (!flow->started) return;
  if (flow->last != flow->points[flow->count - 1]) add_point(flow, flow->last, taker);
  for (size_t i = 0; i + 1 < flow->count; i++)
    count(flow->points[i], flow->points[i + 1], 0.5, taker);
  flow->started = false;
  flow->count = 0;
}
