/* A battery as its terminals see it: what it takes and gives in a step, and what that does to its
 * charge. A pool of energy (battery.h), with losses by efficiency or by resistance and a taper near
 * full, or two tanks (two_tank.h) with efficiencies and gassing.
 *
 * Powers are means over a step, at the terminals, kW >= 0; energies are those of the cells, kWh. */
#ifndef STEADING_PLANT_CELLS_H
#define STEADING_PLANT_CELLS_H

#include <stdbool.h>

#include "plant/battery.h"
#include "plant/taper.h"
#include "plant/two_tank.h"
#include "site/fields.h"

typedef struct steading_cells {
  steading_pool pool; /* capacity of two tanks: q_max; efficiencies are not used with resistance */
  bool has_taper, has_resistance, has_tanks;
  steading_taper taper;
  steading_resistance resistance;
  steading_two_tank tanks;
  steading_gassing gassing;
  steading_two_tank_step step; /* of tanks: of the length of the steps; hours 0: none yet */
} steading_cells;

typedef struct steading_charge {
  double stored_kwh;    /* all of it */
  double available_kwh; /* of two tanks, what is in the one at the terminals; otherwise 0 */
} steading_charge;

/* What the temperature leaves, 0..1 each: of the charging power, and of the capacity. What it keeps
 * back of the capacity is the lowest part of it: it is not lost, but cannot be drawn. */
typedef struct steading_cells_shares {
  double charge, usable;
} steading_cells_shares;

/* The two tanks of a sheet's `rates`, a list of steading_capacity_rate: two, and most_kwh > 0, or
 * three, and 0. BAD_INPUT at `path` where no two tanks have them. */
steading_status steading_tanks_of_rates(const steading_list *rates, double most_kwh,
                                        const char *path, steading_two_tank *tanks,
                                        steading_error *error);

/* One module of a site's battery, in steps of `hours`. BAD_INPUT, with a path below that of the
 * module, where no two tanks have its rates. */
steading_status steading_cells_of(const steading_battery_module *module, double hours,
                                  const char *path, steading_cells *cells, steading_error *error);

/* `count` of them side by side, of which capacity_kwh is left, with losses that have grown to
 * `resistance` (>= 1) times those of new ones. */
steading_cells steading_cells_together(const steading_cells *one, double count, double capacity_kwh,
                                       double resistance);

/* Whether a module is more than a pool with constant efficiencies. */
bool steading_module_is_special(const steading_battery_module *module);

/* A battery at rest with a share of its capacity. */
steading_charge steading_cells_rested(const steading_cells *cells, double share);

/* What it holds at a share of charge, within what its controller lets be used. */
double steading_cells_kwh_at(const steading_cells *cells, double share);

/* Lowest energy that it can be drawn down to. */
double steading_cells_lowest_kwh(const steading_cells *cells, double usable_share);

/* What it takes of offered_kw, all the time, if its energy may grow by room_kwh at most (INFINITY:
 * up to its highest charge). */
double steading_cells_accept_kw(const steading_cells *cells, const steading_charge *charge,
                                double offered_kw, double room_kwh, double charge_share,
                                double hours);

/* What it gives of wanted_kw if its energy may fall by most_kwh at most, and not below its lowest.
 */
double steading_cells_give_kw(const steading_cells *cells, const steading_charge *charge,
                              double wanted_kw, double most_kwh, double usable_share, double hours);

/* What its energy grows by when it takes kw, and falls by when it gives kw. */
double steading_cells_gain_kwh(const steading_cells *cells, const steading_charge *charge,
                               double kw, double hours);
double steading_cells_fall_kwh(const steading_cells *cells, double kw, double hours);

/* Take or give kw for a step, at most what it accepts or gives; with 0, two tanks come level.
 * Returns the energy that came (>= 0) or went. */
double steading_cells_charge(const steading_cells *cells, steading_charge *charge, double kw,
                             double hours);
double steading_cells_discharge(const steading_cells *cells, steading_charge *charge, double kw,
                                double hours);

/* What its own electronics draw of it in a step, kWh, down to the lowest charge that it lets be
 * used, warm or cold; of both tanks alike. */
double steading_cells_standby(const steading_cells *cells, steading_charge *charge, double hours);

#endif
