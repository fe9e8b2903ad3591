#include "ledger/fuel.h"

#include <math.h>
#include <string.h>

#include "calendar.h"
#include "dispatch/program.h"

static const steading_hub *hub_at(const steading_run *run, size_t i) {
  return (const void *)run->site->hubs->entries[i].item;
}

static void add_generators(const steading_run *run, const char *name, const double *month,
                           steading_fuel_bill *bill) {
  double h = run->step_minutes / 60.0;
  for (size_t i = 0; i < run->layout.generators; i++) {
    const steading_generator *generator = hub_at(run, i)->generator;
    const steading_generator_flow *f = steading_generator_flow_of(&run->layout, month, i);
    if (generator == NULL || strcmp(generator->unit->fuel, name) != 0) continue;
    bill->hours += f->running_h;
    bill->starts += f->starts;
    bill->generator_kwh += f->power * h;
    bill->hours_without += f->dry_h;
  }
}

steading_fuel_bill steading_fuel_bill_of(const steading_run *run, size_t fuel, size_t first,
                                         size_t count) {
  const steading_map_entry *entry = &run->site->fuels->entries[fuel];
  const steading_fuel *record = (const void *)entry->item;
  steading_fuel_bill bill = {.lowest_l = (double)INFINITY, .end_l = (double)NAN};
  for (size_t k = first; k < first + count; k++) {
    const double *month = run->sums + k * run->layout.width;
    const steading_fuel_month *tank = NULL;
    bill.fixed_cost += record->fixed_per_year / 12;
    if (run->layout.fuels == 0) continue; /* nothing burns it */
    const steading_fuel_flow *f = steading_fuel_flow_of(&run->layout, month, fuel);
    bill.used_l += f->used_l;
    bill.delivered_l += f->delivered_l;
    bill.trucks += f->trucks;
    add_generators(run, entry->name, month, &bill);
    tank = &run->fuel_months[k * run->layout.fuels + fuel];
    bill.lowest_l = fmin(bill.lowest_l, tank->lowest_l);
    bill.end_l = tank->end_l;
  }
  if (record->tank == NULL || isinf(bill.lowest_l)) bill.lowest_l = bill.end_l = (double)NAN;
  bill.fuel_cost = bill.used_l * record->price_per_l;
  bill.fees = record->delivery == NULL ? 0 : bill.trucks * record->delivery->fee;
  return bill;
}

double steading_service_cost(const steading_run *run, size_t first, size_t count) {
  double cost = 0;
  for (size_t i = 0; i < run->layout.generators; i++) {
    const steading_generator *generator = hub_at(run, i)->generator;
    const steading_service *service = generator == NULL ? NULL : generator->service;
    double hours = 0, done = 0;
    for (size_t k = 0; service != NULL && k < first + count; k++) {
      const double *month = run->sums + k * run->layout.width;
      int64_t day = steading_day_number(run->months[k].year, run->months[k].month, 1);
      double due = 0;
      hours += steading_generator_flow_of(&run->layout, month, i)->running_h;
      due = floor(hours / service->every_hours * (1 + 1e-12));
      if (k >= first)
        cost += (due - done) * service->price * steading_lots_on(generator->lots, day);
      done = due;
    }
  }
  return cost;
}
