/* Checks of a site that need the models of its plant: done where the site is made, so that an error
 * belongs to the line that made it. */
#ifndef STEADING_PLANT_CHECK_H
#define STEADING_PLANT_CHECK_H

#include "site/site.h"
#include "status.h"

/* BAD_INPUT where an inverter's efficiencies give no usable curve, where an array's data sheet or
 * strings do not fit (array_check.h), or a generator and its fuel (generator_check.h). */
steading_status steading_plant_check(const steading_site *site, steading_error *error);

/* Warnings of the plant, at most `room`; returns how many were written. */
size_t steading_plant_warnings(const steading_site *site, steading_warning *warnings, size_t room);

#endif
