/* Tariffs: what dispatch must count for them, and the bill of what it counted. */
#ifndef STEADING_LEDGER_TARIFF_H
#define STEADING_LEDGER_TARIFF_H

#include "dispatch/run.h"
#include "site/fields.h"

/* A month's bill by line, in the tariff's currency at today's prices. */
typedef struct steading_bill {
  double fixed, energy;
} steading_bill;

/* The buckets that a tariff prices: one, for a flat price. */
void steading_tariff_plan(const steading_tariff *tariff, steading_meter_plan *plan);

/* The bill of a month of `days` days with this import by bucket. */
steading_bill steading_tariff_bill(const steading_tariff *tariff, int days,
                                   const steading_bucket *buckets, size_t count);

/* The bill of month `index` (from 0) of a run; zero without a meter or a tariff. */
steading_bill steading_run_bill(const steading_run *run, size_t index);

/* Whether the run's meter has a tariff, or there is no meter to bill. */
bool steading_run_is_billed(const steading_run *run);

#endif
