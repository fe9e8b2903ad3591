/* What is usually a mistake and only a run can show: warnings beside those that the site alone
 * gives (site.h) and those of its plant. Nothing is simulated again.
 *
 *   weather_repeats   the run is longer than its weather
 *   finer_than_data   steps finer than the weather
 *   surplus_unsold    sun is curtailed that the tariff would pay for
 *   grid_free_lost    few hours are grid-free because of what stands straight on a meter, or of a
 *                     margin that is always drawn from it
 *   never_in_service  a lot, works or building whose dates lie outside the run
 *   no_yield          an array that never gives anything
 *   sun_unused        a hub that takes nothing of what its arrays could give
 *   ran_dry           a tank that left its users without water
 *   no_effect         a seed of the run where nothing is random
 *   no_fuel           a fuel that was missing when a generator was to run
 *   charge_blocked    the cold kept a battery from taking all that there was to charge with
 *   battery_replaced  a lot of batteries aged and was replaced
 *   free_replacement  it was, and has no price
 *   aged_before       a lot of batteries that ages was in service before the run, and begins it as
 *                     new */
#ifndef STEADING_LEDGER_NOTICES_H
#define STEADING_LEDGER_NOTICES_H

#include <stddef.h>

#include "dispatch/run.h"
#include "site/site.h"

/* Write at most `room`; when there are more the last one says how many are left out. Returns how
 * many were written. */
size_t steading_run_notices(const steading_run *run, steading_warning *warnings, size_t room);

#endif
