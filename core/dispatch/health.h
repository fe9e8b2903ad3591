/* The age of each lot of batteries, and what is left of their capacity.
 *
 * Ageing is applied once a year of the run. During a year the charge of each pool is noted step by
 * step; at its end the charge (to 2^-30) is counted into cycles (plant/rainflow.h; what is left
 * over goes on into the next year), and every lot ages by the time and the cycles since it came.
 * Cycles and charge are those of the pool, since all its modules share one store; the age stays
 * with the lot. The rate of a year's cycles is its mean rate, each power weighted by itself.
 *
 * At the start of the next year a lot whose health is below `replace_at_health`, or whose
 * `life_years` are over, is replaced by an equal one: it takes its share of what is stored along,
 * the new one brings its `delivered_charge`. Nominal capacity times health is what the pool has:
 * shares of charge, floors and the usable window are shares of that. Powers stay nominal. Growing
 * resistance lowers the efficiencies: what is lost for each kWh stored or delivered grows with it
 * (all of it counts as resistive), capacity-weighted over the lots.
 *
 * A lot that was in service before the run begins it as new, except for its life_years. */
#ifndef STEADING_DISPATCH_HEALTH_H
#define STEADING_DISPATCH_HEALTH_H

#include "dispatch/run.h"
#include "plant/battery.h"

typedef struct steading_health steading_health;

/* Room for the batteries of a program that age; *health is NULL where none does. The program
 * outlives it. */
steading_status steading_health_new(const steading_program *program, int years,
                                    steading_health **health, steading_error *error);
void steading_health_free(steading_health *health);

/* A block of the run. */
void steading_health_take(steading_health *health, const steading_block *block);

/* The end of year `year` (0..) of the run, which is not the last: lots age, and those that are done
 * are replaced. */
void steading_health_turn(steading_health *health, int year);

/* What the last turn exchanged: the share of a pool's store that went, and the energy that came. */
double steading_health_replaced_share(const steading_health *health, size_t battery);
double steading_health_replacement_kwh(const steading_health *health, size_t battery);

/* Whether a battery (of the program's) ages. */
bool steading_health_has(const steading_health *health, size_t battery);

/* What is left of the capacity of the lots in service on a day, kWh; the share of the store that
 * lots which retire on that day take along; and the efficiencies of the pool. The battery ages.
 */
double steading_health_capacity_kwh(const steading_health *health, size_t battery, int64_t day);
double steading_health_retired_share(const steading_health *health, size_t battery, int64_t day);
void steading_health_set_pool(const steading_health *health, size_t battery, int64_t day,
                              steading_pool *pool);

/* What the resistance of the lots in service has grown to, a mean by what is left of them; >= 1. */
double steading_health_resistance(const steading_health *health, size_t battery, int64_t day);

/* Hand over what was replaced, in order of time, then hubs, batteries and lots; the caller frees
 * it. */
steading_replacement *steading_health_replacements(steading_health *health, size_t *count);

#endif
