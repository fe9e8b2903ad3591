/* Which grids are down in each step of a year of a run: planned outages (windows and rotas) and
 * random ones, of each meter. */
#ifndef STEADING_DISPATCH_GRIDS_H
#define STEADING_DISPATCH_GRIDS_H

#include <stdbool.h>
#include <stdint.h>

#include "demand/clock.h"
#include "dispatch/program.h"
#include "resource/weather.h"
#include "status.h"

typedef struct steading_grids {
  const steading_program *program;
  const steading_weather *weather;
  bool without_random; /* planned outages alone */
  bool has_seed;       /* of the run */
  uint64_t seed;
} steading_grids;

/* Whether any grid of a site is ever down. */
bool steading_grids_go_down(const steading_program *program);

/* Fill the word of each step of year `run_year`: bit m is set while the grid of meter m is down.
 * `civil` are the steps of the year. A planned outage that begins or ends within a step is
 * BAD_INPUT with its path. Of a random one, steps count whose middle lies in it: as it begins at
 * any instant, the expected number of such steps is its length. One that lasts beyond the end of a
 * year goes on in the next; that of the year before the run, drawn by the weather that comes round,
 * goes on in the first. Nothing is allocated. */
steading_status steading_grids_year(const steading_grids *grids, int run_year,
                                    const steading_civil_step *civil, uint16_t *down,
                                    steading_error *error);

#endif
