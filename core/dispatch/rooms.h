/* The rooms of batteries: their temperature, what it leaves of the charging power, and what their
 * heaters want, in the steps of a year. */
#ifndef STEADING_DISPATCH_ROOMS_H
#define STEADING_DISPATCH_ROOMS_H

#include <stdbool.h>
#include <stddef.h>

#include "dispatch/program.h"
#include "dispatch/sections.h"
#include "plant/cold.h"

/* Whether any battery takes less in the cold, or has a heater in its room. */
bool steading_rooms_matter(const steading_program *program);

/* Temperature of a room without a heater, C, in step `step` (of a year of the run), which lies in
 * month 0..11. */
double steading_room_c(const steading_program *program, const steading_battery_room *room,
                       int run_year, size_t step, int month);

/* What its heater makes of that temperature. */
steading_warmth steading_room_heated(const steading_battery_room *room, double room_c);

/* What temperature makes of the steps of a year; rows of steading_step_rows, each of steps per
 * year: of stores, and of hubs the heaters. The two of usable shares are NULL where
 * steading_rooms_scarce says no. */
typedef struct steading_room_rows {
  double *charge_share, *cold_share, *heater_kw, *usable_share, *cold_usable_share;
} steading_room_rows;

/* Whether any battery has less capacity in the cold. */
bool steading_rooms_scarce(const steading_program *program);

void steading_rooms_year(const steading_program *program, int run_year,
                         const steading_section *sections, size_t count,
                         const steading_room_rows *rows);

#endif
