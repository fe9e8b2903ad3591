/* What a tariff asks of dispatch: a bucket for every civil step of a meter. Dispatch adds up import
 * and export by bucket and knows no price. */
#ifndef STEADING_DISPATCH_PLAN_H
#define STEADING_DISPATCH_PLAN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "demand/clock.h"

enum {
  STEADING_MOST_BUCKETS = 64,
  STEADING_DAY_CLASSES = 8, /* weekdays 0 Monday .. 6, and 7: a holiday */
  STEADING_NO_BUCKET = 255
};

/* The bucket of a step is the first of an ordered list that fits. A window belongs to the day it
 * starts on, so a step is looked up twice: among the windows of its own day, and among those that
 * the day before left open past midnight; the earlier one in the list counts. */
typedef struct steading_meter_plan {
  size_t buckets; /* 1..STEADING_MOST_BUCKETS */
  int step_minutes;
  bool holiday[12][31];  /* by month and day of civil time */
  uint8_t *own, *before; /* [STEADING_DAY_CLASSES][12][1440 / step_minutes]; STEADING_NO_BUCKET
                            where none fits; NULL with one bucket. The class and month of `before`
                            are those of the day before */
} steading_meter_plan;

/* Free what a plan holds; the struct itself is the caller's. NULL is allowed. */
void steading_meter_plan_free(steading_meter_plan *plan);

static inline size_t steading_meter_plan_bucket(const steading_meter_plan *plan,
                                                const steading_civil_step *step) {
  size_t slots = 1440u / (size_t)plan->step_minutes,
         slot = step->minute / (size_t)plan->step_minutes;
  size_t own_class = step->weekday, class_before = (step->weekday + 6u) % 7u;
  uint8_t own = 0, before = 0;
  if (plan->own == NULL) return 0;
  if (plan->holiday[step->month - 1][step->day - 1]) own_class = 7;
  if (plan->holiday[step->month_before - 1][step->day_before - 1]) class_before = 7;
  own = plan->own[(own_class * 12 + step->month - 1) * slots + slot];
  before = plan->before[(class_before * 12 + step->month_before - 1) * slots + slot];
  return own < before ? own : before;
}

#endif
