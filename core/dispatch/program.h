/* A site compiled for the step loop: its parts by index, and the parameters in force on a day. */
#ifndef STEADING_DISPATCH_PROGRAM_H
#define STEADING_DISPATCH_PROGRAM_H

#include <stdbool.h>
#include <stdint.h>

#include "dispatch/kernel.h"
#include "plant/inverter.h"
#include "site/site.h"
#include "status.h"

typedef struct steading_program_hub {
  const char *name;
  const steading_hub *hub;
  int meter;                     /* index, or -1 */
  steading_inverter_curve curve; /* of one unit */
  int fuel;                      /* index of what its generator burns, or -1 without one */
  int order[3];                  /* of surplus sun, see kernel.h */
  bool exports;
  bool ac_coupled;                     /* it has an array with inverters of its own */
  size_t first_battery, battery_count; /* of the program's batteries */
} steading_program_hub;

/* Modules of one kind on a hub. */
typedef struct steading_program_battery {
  size_t hub, index; /* which of the hub's */
  const steading_battery *battery;
  steading_cells one; /* a module */
} steading_program_battery;

typedef struct steading_program_well {
  const char *name;
  const steading_well *well;
  int hub, meter; /* index; one of them is -1 */
} steading_program_well;

typedef struct steading_program_tank {
  const char *name;
  const steading_tank *tank;
} steading_program_tank;

struct steading_health;

typedef struct steading_program {
  const steading_site *site;
  int step_minutes;
  size_t steps_per_year;
  steading_layout layout;
  int64_t start_day;
  steading_program_hub hubs[STEADING_MOST_HUBS];
  const char *meter_names[STEADING_MOST_METERS];
  const steading_meter *meters[STEADING_MOST_METERS];
  steading_program_battery batteries[STEADING_MOST_BATTERIES]; /* those of a hub in a row */
  size_t battery_count;
  steading_program_well wells[STEADING_MOST_WELLS];
  int first_tank[STEADING_MOST_WELLS], tank_count[STEADING_MOST_WELLS];
  steading_program_tank tanks[STEADING_MOST_TANKS]; /* those of a well in a row */
  const char *fuel_names[STEADING_MOST_FUELS];
  const steading_fuel *fuels[STEADING_MOST_FUELS]; /* [layout.fuels], of the site's in order */
  const struct steading_health *health;            /* of batteries that age; NULL: none does */
} steading_program;

/* Where in a row of flows the parts of a site stand. */
steading_layout steading_layout_of_site(const steading_site *site);

/* Compile. The site outlives the program. BAD_INPUT with the path of what cannot be run. */
steading_status steading_program_compile(const steading_site *site, int step_minutes,
                                         int64_t start_day, steading_program *program,
                                         steading_error *error);

/* The parameters in force on a day (month 0..11 of it), with every grid up and generators off. */
void steading_program_stretch(const steading_program *program, int64_t day, int month,
                              steading_stretch *stretch);

/* Change those of a day to what holds while the grids of the meters in `down` (bit m) are down. */
void steading_program_take_down(const steading_program *program, int64_t day, uint16_t down,
                                steading_stretch *stretch);

/* What the calendar and the forecast make of the rules of hubs in a step: three bits for each hub,
 * hub 0 lowest. Nothing is set where no such rule speaks. */
enum {
  STEADING_MODE_CHARGES = 1, /* the charging window is open */
  STEADING_MODE_HOLDS = 2,   /* the battery serves no loads while the grid is up */
  STEADING_MODE_RAISED = 4,  /* the reserve is raised */
  STEADING_MODE_BITS = 3
};

/* Whether any hub has a rule that modes carry out. */
bool steading_program_has_modes(const steading_program *program);

/* Change the parameters of a day to what holds in steps of these modes; before take_down, which
 * undoes it for hubs whose grid is down. */
void steading_program_set_modes(const steading_program *program, int64_t day, uint64_t modes,
                                steading_stretch *stretch);

/* Whether any hub has a rule that sheds loads, or decides on it. */
bool steading_program_sheds(const steading_program *program);

/* Capacity of a hub's batteries on a day, kWh: nominal, and what age leaves of it. */
double steading_program_nominal_kwh(const steading_program *program, size_t hub, int64_t day);
double steading_program_capacity_kwh(const steading_program *program, size_t hub, int64_t day);

/* Whether a lot is there on a day. */
bool steading_lot_in_service(const steading_lot *lot, int64_t day);

/* Pieces of a component in service on a day: those of its lots, or 1 without lots. */
double steading_lots_on(const steading_list *lots, int64_t day);

/* Whether any lot of the site arrives or leaves on a day after the start of the run: adds such days
 * to `days` in order, without doubles. Returns how many; `days` may be NULL to count. */
size_t steading_program_changes(const steading_program *program, int64_t *days, size_t room);

#endif
