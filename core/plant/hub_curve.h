/* The curve of a hub's unit at the voltage that its strings give it. */
#ifndef STEADING_PLANT_HUB_CURVE_H
#define STEADING_PLANT_HUB_CURVE_H

#include "plant/inverter.h"
#include "site/fields.h"
#include "status.h"

/* DC voltage of a hub's strings at 800 W/m2 and 20 C, the cells at their noct_c: the mean over its
 * arrays with strings, weighted by the power of their modules. 0 where none has strings. */
double steading_hub_strings_v(const steading_hub *hub);

/* The curve of one unit of a hub: at dc_v where it is given, else at the voltage of the strings
 * (nearest end of the measured voltages), else at the middle one. Errors and `miss` as those of
 * steading_inverter_curve_of, `path` is that of the unit. */
steading_status steading_hub_curve_of(const steading_hub *hub, const char *path,
                                      steading_inverter_curve *curve, steading_inverter_miss *miss,
                                      steading_error *error);

#endif
