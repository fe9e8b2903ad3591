/* Checks of arrays that need their models: data sheets that give a curve, strings that fit their
 * lots and their input. */
#ifndef STEADING_PLANT_ARRAY_CHECK_H
#define STEADING_PLANT_ARRAY_CHECK_H

#include "resource/weather.h"
#include "site/site.h"
#include "status.h"

/* BAD_INPUT where the weather lacks what a model asks for, where a one_diode module has no curve,
 * where a lot of strings is no whole number of them, where lots and in_parallel differ, where an
 * input does not exist, or where more than STEADING_GROUPS_MOST arrays stand on one. `name` is the
 * hub's. */
steading_status steading_hub_arrays_check(const steading_hub *hub, const steading_weather *weather,
                                          const char *name, steading_error *error);

/* Warnings of strings whose open-circuit voltage on the coldest morning (1000 W/m2, cells as cold
 * as the air at place.record_low_c or at the lowest temperature of the weather, the lower one) is
 * above the input's most_v, and of those whose voltage on the hottest day leaves its window. */
void steading_hub_arrays_warn(const steading_site *site, const steading_hub *hub, const char *name,
                              steading_warning_list *to);

#endif
