#include "ledger/tariff.h"

#include <string.h>

#include "calendar.h"

static const steading_tariff *tariff_of(const steading_run *run) {
  const steading_meter *meter = steading_site_meter(run->site);
  return meter == NULL ? NULL : meter->tariff;
}

void steading_tariff_plan(const steading_tariff *tariff, steading_meter_plan *plan) {
  (void)tariff; /* a flat price asks for one sum */
  memset(plan, 0, sizeof *plan);
  plan->buckets = 1;
}

steading_bill steading_tariff_bill(const steading_tariff *tariff, int days,
                                   const steading_bucket *buckets, size_t count) {
  const steading_tariff_block *block = (const void *)tariff->energy->items[0];
  steading_bill bill = {.fixed = tariff->fixed_per_month + tariff->fixed_per_day * days};
  for (size_t i = 0; i < count; i++) bill.energy += buckets[i].import_kwh * block->price_per_kwh;
  return bill;
}

steading_bill steading_run_bill(const steading_run *run, size_t index) {
  const steading_tariff *tariff = tariff_of(run);
  int month = run->months[index].month;
  if (tariff == NULL) return (steading_bill){0};
  return steading_tariff_bill(
      tariff, steading_days_before_month[month] - steading_days_before_month[month - 1],
      &run->meters[0].by_month[index * run->meters[0].buckets],
      run->meters[0].buckets);
}

bool steading_run_is_billed(const steading_run *run) {
  return !run->has_meter || tariff_of(run) != NULL;
}
