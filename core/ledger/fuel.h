/* What generators cost to run: fuel by month, and service by hours. At today's prices.
 *
 * Fuel costs when it is burnt, whenever it was brought: what is in the tank at the start is not
 * free, and what is left at the end is not lost. A truck's fee falls in the month in which it
 * comes, a fixed cost in equal parts of the year's months. */
#ifndef STEADING_LEDGER_FUEL_H
#define STEADING_LEDGER_FUEL_H

#include <stddef.h>

#include "dispatch/run.h"
#include "site/fields.h"

/* A fuel in a month of a run. Of the generators that burn it together: hours, starts. */
typedef struct steading_fuel_bill {
  double used_l, delivered_l, trucks;
  double hours, starts, generator_kwh;
  double hours_without;               /* in which a generator was to run and had none */
  double lowest_l, end_l;             /* of the tank; NaN without one */
  double fuel_cost, fees, fixed_cost; /* fuel_cost: of what was burnt */
} steading_fuel_bill;

/* Fuel `fuel` of the site's, in order of names, over `count` months of a run from month `first`. */
steading_fuel_bill steading_fuel_bill_of(const steading_run *run, size_t fuel, size_t first,
                                         size_t count);

/* Services of the generators of all hubs that fall due in `count` months from month `first`: one
 * each time that the hours since the start of the run pass a multiple of every_hours, of each set
 * then in service. */
double steading_service_cost(const steading_run *run, size_t first, size_t count);

#endif
