/* Why energy was imported or a load not served in a step. */
#ifndef STEADING_DISPATCH_REASON_H
#define STEADING_DISPATCH_REASON_H

#include "dispatch/run.h"

/* X(name, meaning), in the order in which they are looked for. */
#define STEADING_REASON_LIST(X)                                                        \
  X(none, "nothing was imported and nothing left unserved")                            \
  X(no_hub, "loads stand straight on the meter")                                       \
  X(outage, "loads straight on the meter while the grid is down")                      \
  X(import_limit, "the meter's import limit")                                          \
  X(pass_through_limit, "the most that the hub's inverter passes on")                  \
  X(no_fuel, "the generator had no fuel, or not for all of the step")                  \
  X(generator_limit, "the most that the generator gives")                              \
  X(quiet, "quiet hours: the generator must not run")                                  \
  X(generator_hours, "the generator has run its most hours of the day")                \
  X(generator_rest, "the generator has to rest")                                       \
  X(generator_waits, "the generator waits for rules.generator.start_below_charge")     \
  X(inverter_limit, "the most that the inverter makes of sun and battery")             \
  X(no_battery, "the sun does not reach and there is no battery")                      \
  X(charge_from_grid, "the grid charges the battery, or the battery is kept for that") \
  X(window, "the battery serves loads in its discharge windows only")                  \
  X(battery_use, "the battery is kept for outages")                                    \
  X(decided, "rules.decide keeps the battery from the loads")                          \
  X(resume_above, "the battery reached its floor and waits for rules.resume_above")    \
  X(battery_power, "the most that the battery gives")                                  \
  X(raise_reserve, "the battery is at the reserve raised ahead of dull days")          \
  X(reserve, "the battery is at the reserve of the month")                             \
  X(outage_floor, "the battery is at the floor of an outage")                          \
  X(battery_floor, "the battery is at its floor")                                      \
  X(import_margin, "the margin against export")

typedef enum steading_reason {
#define STEADING_REASON_MEMBER(name, doc) STEADING_REASON_##name,
  STEADING_REASON_LIST(STEADING_REASON_MEMBER)
#undef STEADING_REASON_MEMBER
      STEADING_REASON_COUNT
} steading_reason;

extern const char *const steading_reason_names[STEADING_REASON_COUNT];

/* The reason of a hub, and of what stands straight on a meter, in step `step` (from 0) of a block.
 * STEADING_REASON_none where it took nothing from the grid and all is served. */
steading_reason steading_reason_of_hub(const steading_block *block, size_t step, size_t hub);
steading_reason steading_reason_of_meter(const steading_block *block, size_t step, size_t meter);

/* The reason of the part of the site with most energy imported and unserved in the step. */
steading_reason steading_reason_of_site(const steading_block *block, size_t step);

#endif
