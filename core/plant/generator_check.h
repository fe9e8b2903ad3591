/* Checks of generators and fuels that need to know what the site's parts are together. */
#ifndef STEADING_PLANT_GENERATOR_CHECK_H
#define STEADING_PLANT_GENERATOR_CHECK_H

#include "site/site.h"
#include "status.h"

/* BAD_INPUT where a fuel is neither known by its name nor has an energy content, where a tank holds
 * more than it may or has no room for a delivery, where a generator makes more electricity than its
 * fuel holds, and where it stops at a charge that the battery never reaches. */
steading_status steading_generators_check(const steading_site *site, steading_error *error);

/* Warnings of fuels and generators. */
void steading_generators_warn(const steading_site *site, steading_warning_list *to);

#endif
