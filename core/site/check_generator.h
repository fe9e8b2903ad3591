/* What the fields of a generator, its rules and its fuel have to be together. */
#ifndef STEADING_SITE_CHECK_GENERATOR_H
#define STEADING_SITE_CHECK_GENERATOR_H

#include "status.h"

/* Checks of the specs `generator`, the rules of one, and a fuel's `tank`, `delivery` and itself
 * (see spec.h): BAD_INPUT with the path of the field below `path`. What needs the name of a fuel or
 * the hub around a generator is checked in plant/generator_check.h. */
steading_status steading_check_generator(const void *record, const char *path,
                                         steading_error *error);
steading_status steading_check_generator_rules(const void *record, const char *path,
                                               steading_error *error);
steading_status steading_check_fuel_store(const void *record, const char *path,
                                          steading_error *error);
steading_status steading_check_delivery(const void *record, const char *path,
                                        steading_error *error);
steading_status steading_check_fuel(const void *record, const char *path, steading_error *error);

/* Checks of what steading.fuel.* are asked. */
steading_status steading_check_ask_fuel(const void *record, const char *path,
                                        steading_error *error);
steading_status steading_check_ask_fuel_curve(const void *record, const char *path,
                                              steading_error *error);

#endif
