/* The curve of a hub's unit at the voltage that its strings give it. */
#ifndef STEADING_PLANT_HUB_CURVE_H
#define STEADING_PLANT_HUB_CURVE_H

#include "plant/inverter.h"
#include "site/fields.h"
#include "status.h"

/* The curve of one unit of a hub, see steading_inverter_curve_of; `path` is that of the unit. The
 * voltage of its strings is that at 800 W/m2 and 20 C, the cells at their noct_c: the mean over the
 * arrays with strings, weighted by the power of the modules of all their lots. One voltage holds
 * for the whole run. */
steading_status steading_hub_curve_of(const steading_hub *hub, const char *path,
                                      steading_inverter_curve *curve, steading_inverter_miss *miss,
                                      steading_error *error);

#endif
