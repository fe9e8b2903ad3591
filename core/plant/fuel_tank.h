/* A tank of fuel and the truck that fills it.
 *
 * At 00:00 of each day a truck that is due arrives and fills the tank to its limit; then, where the
 * level is below `order_l` and no truck is on its way, one is ordered. It comes `lead_days` days
 * later; where the road is closed on that day, on the first open day after. A lead of no days comes
 * the same morning, if the road is open. */
#ifndef STEADING_PLANT_FUEL_TANK_H
#define STEADING_PLANT_FUEL_TANK_H

#include <stdbool.h>

#include "site/fields.h"

/* Litres. */
typedef struct steading_fuel_tank_rule {
  double full_l;            /* to which it may be filled */
  double order_l;           /* below it a truck is ordered; negative: none ever comes */
  double least_l;           /* a truck comes for no less; order_l + least_l <= full_l */
  double lead_days;         /* whole days, >= 0 */
  const bool (*closed)[31]; /* [12][31] days on which no truck comes; NULL: none */
} steading_fuel_tank_rule;

/* All that changes; may be copied. */
typedef struct steading_fuel_tank_state {
  double level_l;
  double days_left; /* until the truck is due; negative: none is on its way */
} steading_fuel_tank_state;

/* The rule of a site's fuel called `name`, which has a tank; and the level at the start of a run.
 */
steading_fuel_tank_rule steading_fuel_tank_rule_of(const char *name, const steading_fuel *fuel);
double steading_fuel_tank_start_l(const char *name, const steading_fuel *fuel);

/* The morning of a day (month 1..12, day 1..31). Returns the litres that a truck brought, and
 * whether one came in `*came`, which may bring nothing to a full tank. */
double steading_fuel_tank_morning(const steading_fuel_tank_rule *rule, int month, int day,
                                  steading_fuel_tank_state *state, bool *came);

/* Take `wanted_l` >= 0; returns what there was of it. */
double steading_fuel_tank_take(steading_fuel_tank_state *state, double wanted_l);

#endif
