/* A series of mean powers counted as a meter of a run counts: by civil month and bucket. */
#ifndef STEADING_LEDGER_COUNT_H
#define STEADING_LEDGER_COUNT_H

#include <stddef.h>
#include <stdint.h>

#include "dispatch/plan.h"
#include "dispatch/run.h"
#include "files/zone.h"
#include "status.h"

typedef struct steading_counted_month {
  int year, month, days; /* civil; days on which steps of the series lie */
} steading_counted_month;

typedef struct steading_counted {
  size_t month_count, buckets;
  steading_counted_month *months; /* [month_count] */
  steading_bucket *by_month;      /* [month_count * buckets] */
} steading_counted;

/* Count `count` > 0 mean powers (kW, import above 0, export below), one for each step of the plan,
 * from 00:00 civil time of the day `from` on; none lies on a 29 February. `zone` NULL: one time all
 * year. On success the caller frees *counted with steading_counted_free. */
steading_status steading_count(const steading_meter_plan *plan, int64_t from,
                               const steading_zone *zone, const double *kw, size_t count,
                               steading_counted **counted, steading_error *error);
void steading_counted_free(steading_counted *counted);

#endif
