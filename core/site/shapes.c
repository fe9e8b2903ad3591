#include "site/shapes.h"

#include <stddef.h>
#include <string.h>

/* Residential miscellaneous electric loads, share of the day by hour: Wilson, Engebrecht Metzger,
 * Horowitz and Hendron 2014, "Building America House Simulation Protocols", NREL/TP-5500-60988
 * (the rounded numbers sum to 0.999; readers of a shape make them sum to 1). */
static const double dwelling[24] = {.035, .033, .032, .031, .032, .033, .037, .042,
                                    .043, .043, .043, .044, .045, .045, .044, .046,
                                    .048, .052, .053, .050, .047, .045, .040, .036};

static const double even[24] = {1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1,
                                1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1};

const double *steading_shape(const char *name) {
  if (strcmp(name, "dwelling") == 0) return dwelling;
  if (strcmp(name, "even") == 0) return even;
  return NULL;
}

const char *steading_shape_names(void) { return "dwelling, even"; }
