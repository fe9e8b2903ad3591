/* What the fields of an array have to be together. */
#ifndef STEADING_SITE_CHECK_PV_H
#define STEADING_SITE_CHECK_PV_H

#include "status.h"

/* Checks of the specs `module`, `cell_temperature`, `tracking` and `array` (see spec.h): BAD_INPUT
 * with the path of the field below `path`. */
steading_status steading_check_pv_module(const void *record, const char *path,
                                         steading_error *error);
steading_status steading_check_cell_temperature(const void *record, const char *path,
                                                steading_error *error);
steading_status steading_check_tracking(const void *record, const char *path,
                                        steading_error *error);
steading_status steading_check_own_inverter(const void *record, const char *path,
                                            steading_error *error);
steading_status steading_check_array(const void *record, const char *path, steading_error *error);

#endif
