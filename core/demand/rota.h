/* Planned outages that take turns: every few days the grid of a meter is off for some hours, at a
 * time of the day that may move on from turn to turn. Times are civil; a turn that crosses midnight
 * belongs to the day on which it begins. */
#ifndef STEADING_DEMAND_ROTA_H
#define STEADING_DEMAND_ROTA_H

#include <stdbool.h>

#include "demand/clock.h"
#include "site/fields.h"
#include "status.h"

/* Turns begin and end on whole steps, or BAD_INPUT with the path of the field below `path`. */
steading_status steading_rota_check(const steading_rota *rota, int step_minutes, const char *path,
                                    steading_error *error);

/* Whether the grid is off in a step. `day` is its civil day, counted from the first day of the run
 * in years of 365 days. The rota has passed steading_rota_check with the step of the run. */
bool steading_rota_is_off(const steading_rota *rota, int day, const steading_civil_step *step);

#endif
