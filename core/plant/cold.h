/* A battery in the cold: how much charging power and capacity its temperature leaves, and the
 * temperature of a room with a heater.
 *
 * Lithium cells must not be charged below freezing, and their own electronics cut the charging
 * power above it; all cells give less when cold. Both are tables of the maker's: lines of a
 * temperature and a share, straight between them, level outside them. What a real battery allows is
 * for its maker to say. */
#ifndef STEADING_PLANT_COLD_H
#define STEADING_PLANT_COLD_H

#include <stddef.h>

/* `points` are `count` (>= 1) pairs of temperature in C (rising) and share, one behind the other.
 */
double steading_cold_share(const double *points, size_t count, double temp_c);

typedef struct steading_room {
  double heater_w;     /* >= 0; 0: no heater */
  double heat_below_c; /* with a heater */
} steading_room;

typedef struct steading_warmth {
  double cell_c;    /* of the cells, and of the room that they warm or not */
  double heater_kw; /* drawn */
} steading_warmth;

/* Where the room would have temp_c: the heater runs at full power while that is below
 * heat_below_c, and the cells then count as heat_below_c. (A plain model: it knows neither how long
 * heating takes nor whether the power is enough; common practice, no source.) */
steading_warmth steading_room_warmth(const steading_room *room, double temp_c);

#endif
