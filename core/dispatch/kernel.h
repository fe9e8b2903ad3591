/* The step loop: who feeds whom in every step, by the grid-last rule.
 *
 * Hubs exchange power with their meter's bus; buildings and pumps stand on a hub or straight on a
 * meter. In a hub, sun serves its loads through the inverter; what sun does not cover comes from
 * the battery down to the floor in force, then from the bus. What sun is left goes, in the order
 * that the hub's rules give, to water, to the battery and to the bus. On a bus, what hubs send
 * feeds what stands on the meter, then hubs that want power (in proportion), the rest is exported
 * up to the limit, else curtailed at the senders in proportion. A shared import limit is split in
 * proportion to want. Only meters import and export.
 *
 * In a charging window (charger_kw > 0) a hub whose store lies below charge_to_kwh charges from the
 * bus as well: its unit then makes DC of AC and inverts nothing, the bus serves its loads, the sun
 * goes to the battery and the charger adds what is missing of charge_kw. It does so only where all
 * loads of the meter fit under the import limit without any sun, and takes what they leave.
 *
 * While a hub's generator runs (generator_kw > 0) it feeds, by its role, what sun leaves of the
 * hub's loads and idle draw, and its charger the battery, with what sun leaves of what that takes.
 * The battery serves no loads then, but for what is beyond the generator; a charger that feeds the
 * battery alone feeds, through it, the inverter too. A generator gives nothing to the bus, and the
 * unit does not charge from the bus while it runs.
 *
 * Load of a class that is shed is wanted and not served, but not unserved: load = served + shed +
 * unserved. Pumps are never shed.
 *
 * In the cold a battery takes a share of charge_kw, from the sun and from any charger; 0 blocks
 * charging. A heater of its room is no building's load, but wants like a pump and gives way before
 * pumps and loads of its hub; after a step in which it did not get all, the cells count as cold.
 *
 * AC-coupled sun (ac_sun_kw, what the arrays' own inverters make) stands on the AC side of its hub.
 * It works beside a bus, whether or not the unit is on; without one only while the unit is on, with
 * sun, a charge above lowest_kwh or a running generator to form the grid with. It gives what DC
 * does not give of the idle draw (without a bus only beside such a charge or a generator), then
 * loads beyond import_margin_kw, before the unit makes anything. What is left pays the idle draw in
 * the battery's place, then goes in the hub's order before the DC sun of the same claimant, but
 * into the battery after it: through the unit's charger, in a step in which the unit inverts
 * nothing and no generator runs. Of what is used only in part the DC behind it shrinks in that
 * proportion.
 *
 * An absent part has size zero: one body serves all sites (the .c file instantiates it for the
 * usual shapes, to the same bits). A unit that is off lets the sun charge its battery all the same.
 *
 * The nodes, in every step (kW; reference/manual/dispatch.md derives them):
 *   sun  pv_used = pv_used of the arrays on DC + ac_sun + ac_sun_loss
 *   DC   pv_used of the arrays on DC + battery_out + rectified = battery_in + inverted_in
 *   unit rectified = (charger_in + sun_charging) x charger_efficiency; 0 where anything is inverted
 *   set  rectified = charging x generator_charger_efficiency; one of the two chargers a step
 *   unit inverted_in = inverted + idle_from_dc + b inverted + c inverted^2 / rating
 *   AC   inverted + ac_sun + from_bus + generator = served + charger_in + sun_charging + charging
 *                                                   + to_bus + idle_from_ac + heater
 *   bus  import + sum of to_bus = export + sum of from_bus + served of the meter
 *   site pv_used + import + generator = served + export + inverter_loss + battery_loss + standby
 *                           + heater + change of stored
 * idle_from_dc + idle_from_ac is idle_kw; less night_saving_kw in a step without any sun in which
 * nothing is inverted and the charger is not asked for; 0 while the unit is off. The loss of the
 * chargers, charger_in + sun_charging + charging - rectified, and ac_sun_loss are part of
 * inverter_loss.
 *
 * Written as selects, so that it can be run over lanes of sites; nothing is allocated. */
#ifndef STEADING_DISPATCH_KERNEL_H
#define STEADING_DISPATCH_KERNEL_H

#include <stddef.h>
#include <string.h>

#include "plant/cells.h"
#include "site/fields.h"
#include "site/limits.h"

/* Who takes a hub's surplus sun; a rule's `surplus_order` is an order of these.
 * STEADING_TO_NOBODY, only at the end, fills up an order that leaves some out. */
enum { STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS, STEADING_TO_NOBODY };

/* Constant over a stretch of steps. Powers in kW, energies in kWh, water in litres. */
typedef struct steading_hub_stretch {
  /* inverter */
  double ac_kw; /* 0: no inverter */
  double idle_kw, b, c_per_rating;
  double night_saving_kw;  /* what it draws less than idle_kw without sun, in a step in which it
                              inverts nothing; 0..idle_kw */
  double pv_kw;            /* most DC power taken from the arrays */
  double pass_through_kw;  /* most that the hub takes from the bus; 0: nothing passes either way, it
                              is off the grid or the grid is down */
  double import_margin_kw; /* drawn from the bus at least, as far as loads take it; then nothing is
                              ever given to the bus; 0: none */
  double transfers;        /* 1: the whole load moves over to the bus when sun and battery cannot
                              carry it, until `resume_kwh`; 0: the bus adds what is missing */
  /* battery pool */
  double lowest_kwh, floor_kwh, highest_kwh; /* usable window, and the floor in force */
  double resume_kwh; /* once at the floor, the battery serves again from here on; the floor itself:
                        without delay */
  double charge_kw, discharge_kw, efficiency_in, efficiency_out, standby_kw;
  /* charging from the bus, and what keeps the battery from loads while the grid is up; all 0 where
   * no such rule is in force. None of these changes what `blocked` remembers. */
  double charger_kw;         /* most AC power of the charger, when cool; 0: none, or no window */
  double charger_efficiency; /* DC out over AC in, without the idle draw; used where charger_kw or
                                sun_charger_kw > 0 */
  double charge_to_kwh;      /* the charger fills up to here, 0..highest_kwh; in its window the
                                battery serves loads above it only, as far as the bus can serve them */
  double keep_kwh;           /* a floor beside floor_kwh: a reserve that is raised for a time */
  double holds;              /* 1: the battery serves no loads */
  double sun_charger_kw; /* most AC power that the unit's charger takes of AC-coupled sun, when cool,
                            beside a bus or without; 0: none */
  /* generator; all 0 where there is none */
  double generator_kw;         /* most AC power that it gives in this step; 0: it is off */
  double generator_carries;    /* 1: it feeds the loads before its charger; 0: its charger alone */
  double generator_charger_kw; /* most AC power of its charger; 0: it has none */
  double generator_charger_efficiency; /* DC out over AC in; used where generator_charger_kw > 0 */
  /* shedding, by class of load: not served once the store is below, until it is back at `restore`;
   * 0: never, which the grid's being up means for all */
  double shed_kwh[STEADING_SHED_CLASSES], restore_kwh[STEADING_SHED_CLASSES];
  double exports; /* 1: what it gives to the bus may leave the site; 0: it feeds the bus alone */
  int order[3];   /* of surplus sun, STEADING_TO_... */
  int meter;      /* index of its meter, or -1 */
  /* where batteries are pools, what of floor_kwh, keep_kwh and charge_to_kwh is each one's: the share
   * of its own capacity, within what it lets be used */
  double floor_share, keep_share, charge_to_share;
  /* where batteries are pools, those of this hub, in the order of their work; energies and powers
   * of the battery above are then their sums, the efficiencies the best of theirs, which each of
   * them has for itself */
  size_t first_pool, pools;
} steading_hub_stretch;

typedef struct steading_meter_stretch {
  double import_limit_kw, export_limit_kw; /* 0 while the grid is down */
} steading_meter_stretch;

typedef struct steading_well_stretch {
  double pump_kw;                          /* 0: none */
  double pump_l_per_step;                  /* running all the step */
  double per_pump_l_per_step, per_pump_kw; /* the inverses, 0 for none */
  int hub, meter;                          /* index of what feeds the pump; the other is -1 */
  int first_tank, tanks;                   /* the tanks it fills, in a row */
} steading_well_stretch;

typedef struct steading_tank_stretch {
  double full_l, start_l, stop_l, surplus_l;
  double draw_l; /* what its users want in a step */
} steading_tank_stretch;

typedef struct steading_stretch {
  double step_h;
  double grid_free_below_kw; /* a step counts as grid-free up to this import */
  size_t hub_count, meter_count, well_count, tank_count;
  size_t generator_count; /* rows of generator flows: one for each hub, or 0 where none has any */
  size_t fuel_count;      /* rows of fuel flows; 0 without generators */
  size_t pool_count;      /* 0: each hub has one store of constant efficiencies, or none */
  steading_hub_stretch hubs[STEADING_MOST_HUBS];
  steading_meter_stretch meters[STEADING_MOST_METERS];
  steading_well_stretch wells[STEADING_MOST_WELLS];
  steading_tank_stretch tanks[STEADING_MOST_TANKS]; /* those of a well in a row */
  steading_cells pools[STEADING_MOST_BATTERIES];    /* [pool_count], the last of all members */
} steading_stretch;

/* Copy a stretch without the pools that are not there. */
static inline void steading_stretch_copy(steading_stretch *to, const steading_stretch *from) {
  memcpy(to, from, offsetof(steading_stretch, pools) + from->pool_count * sizeof from->pools[0]);
}

typedef struct steading_state {
  double stored_kwh[STEADING_MOST_HUBS]; /* of pools, their sum */
  double blocked[STEADING_MOST_HUBS];    /* 1: the battery reached its floor and waits for resume */
  double shedding[STEADING_MOST_HUBS][STEADING_SHED_CLASSES]; /* 1: the class is not served */
  double tank_l[STEADING_MOST_TANKS];
  double filling[STEADING_MOST_TANKS]; /* 1: a run of the pump that the level started is on */
  double unheated[STEADING_MOST_HUBS]; /* 1: the heater did not get all in the step before */
  steading_charge pools[STEADING_MOST_BATTERIES]; /* where batteries are pools */
} steading_state;

/* What a step did. X(name, unit): mean power in kW, litres of the step, or a count of 0 or 1.
 * Sinks add these up. A step is a row of doubles: the site's flows, then those of each hub, each
 * meter, each well and each tank. */
#define STEADING_SITE_FLOW_LIST(X) X(grid_free, "") X(loss_of_load, "")
/* The last four are of AC-coupled sun: AC power that was used, and what the arrays' own inverters
 * lost before it; of the AC power what went to the unit's charger and to its idle draw. */
#define STEADING_HUB_FLOW_LIST(X)                                                         \
  X(pv_available, "kW")                                                                   \
  X(pv_used, "kW")                                                                        \
  X(pv_curtailed, "kW")                                                                   \
  X(battery_in, "kW")                                                                     \
  X(battery_out, "kW")                                                                    \
  X(battery_loss, "kW")                                                                   \
  X(standby, "kW")                                                                        \
  X(stored_change, "kW")                                                                  \
  X(inverted_in, "kW")                                                                    \
  X(inverted, "kW")                                                                       \
  X(idle_from_dc, "kW") X(idle_from_ac, "kW") X(inverter_loss, "kW") X(from_bus, "kW")    \
      X(to_bus, "kW") X(load, "kW") X(served, "kW") X(unserved, "kW") X(grid_free, "")    \
          X(loss_of_load, "") X(stored_kwh, "kWh") X(charger_in, "kW") X(rectified, "kW") \
              X(shed, "kW") X(heater, "kW") X(charge_blocked, "") X(ac_sun, "kW")         \
                  X(ac_sun_loss, "kW") X(sun_charging, "kW") X(sun_idle, "kW")
#define STEADING_METER_FLOW_LIST(X) \
  X(load, "kW") X(served, "kW") X(unserved, "kW") X(import, "kW") X(export, "kW")
#define STEADING_WELL_FLOW_LIST(X) X(pump, "kW") X(duty_h, "h") X(pumped_l, "l")
#define STEADING_TANK_FLOW_LIST(X) X(delivered_l, "l") X(short_l, "l") X(level_l, "l")
/* Of a hub's generator. The kernel writes power, charging and refused, and 0 for the rest, which
 * who decides on running fills in. */
#define STEADING_GENERATOR_FLOW_LIST(X)                                          \
  X(power, "kW")    /* AC */                                                     \
  X(charging, "kW") /* of it, to its charger */                                  \
  X(refused, "kW")  /* what loads and pumps of the hub wanted and did not get */ \
  X(running_h, "h")                                                              \
  X(starts, "")                                                                  \
  X(dry_h, "h") /* in which it was to run and had no fuel */                     \
  X(held, "")   /* why it was not free to run, a steading_start_stop_why */
/* Of a pool of a hub's batteries, where they are pools. */
#define STEADING_POOL_FLOW_LIST(X) X(in, "kW") X(out, "kW") X(loss, "kW") X(stored_kwh, "kWh")
#define STEADING_FUEL_FLOW_LIST(X) X(used_l, "l") X(delivered_l, "l") X(trucks, "") X(level_l, "l")

#define STEADING_FLOW_MEMBER(name, unit) double name;
#define STEADING_FLOW_ONE(name, unit) +1
typedef struct steading_site_flow {
  STEADING_SITE_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_site_flow;
typedef struct steading_hub_flow {
  STEADING_HUB_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_hub_flow;
typedef struct steading_meter_flow {
  STEADING_METER_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_meter_flow;
typedef struct steading_well_flow {
  STEADING_WELL_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_well_flow;
typedef struct steading_tank_flow {
  STEADING_TANK_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_tank_flow;
typedef struct steading_generator_flow {
  STEADING_GENERATOR_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_generator_flow;
typedef struct steading_fuel_flow {
  STEADING_FUEL_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_fuel_flow;
typedef struct steading_pool_flow {
  STEADING_POOL_FLOW_LIST(STEADING_FLOW_MEMBER)
} steading_pool_flow;

enum {
  STEADING_SITE_FLOWS = 0 STEADING_SITE_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_HUB_FLOWS = 0 STEADING_HUB_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_METER_FLOWS = 0 STEADING_METER_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_WELL_FLOWS = 0 STEADING_WELL_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_TANK_FLOWS = 0 STEADING_TANK_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_GENERATOR_FLOWS = 0 STEADING_GENERATOR_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_FUEL_FLOWS = 0 STEADING_FUEL_FLOW_LIST(STEADING_FLOW_ONE),
  STEADING_POOL_FLOWS = 0 STEADING_POOL_FLOW_LIST(STEADING_FLOW_ONE)
};

/* Where in a row each part stands. */
typedef struct steading_layout {
  size_t hubs, meters, wells, tanks;                            /* how many */
  size_t first_hub, first_meter, first_well, first_tank, width; /* in doubles */
  size_t generators, fuels, pools; /* how many; generator i is that of hub i */
  size_t first_generator, first_fuel, first_pool;
} steading_layout;

static inline steading_layout steading_layout_of(size_t hubs, size_t meters, size_t wells,
                                                 size_t tanks) {
  steading_layout l = {.hubs = hubs, .meters = meters, .wells = wells, .tanks = tanks};
  l.first_hub = STEADING_SITE_FLOWS;
  l.first_meter = l.first_hub + hubs * STEADING_HUB_FLOWS;
  l.first_well = l.first_meter + meters * STEADING_METER_FLOWS;
  l.first_tank = l.first_well + wells * STEADING_WELL_FLOWS;
  l.width = l.first_tank + tanks * STEADING_TANK_FLOWS;
  l.first_generator = l.first_fuel = l.first_pool = l.width;
  return l;
}

/* The same with generators (one for each hub), fuels and pools behind all others. */
static inline steading_layout steading_layout_with(steading_layout l, size_t generators,
                                                   size_t fuels, size_t pools) {
  l.generators = generators;
  l.fuels = fuels;
  l.pools = pools;
  l.first_fuel = l.first_generator + generators * STEADING_GENERATOR_FLOWS;
  l.first_pool = l.first_fuel + fuels * STEADING_FUEL_FLOWS;
  l.width = l.first_pool + pools * STEADING_POOL_FLOWS;
  return l;
}

static inline const steading_site_flow *steading_site_flow_of(const double *row) {
  return (const steading_site_flow *)row;
}
static inline const steading_hub_flow *steading_hub_flow_of(const steading_layout *l,
                                                            const double *row, size_t i) {
  return (const steading_hub_flow *)(row + l->first_hub) + i;
}
static inline const steading_meter_flow *steading_meter_flow_of(const steading_layout *l,
                                                                const double *row, size_t i) {
  return (const steading_meter_flow *)(row + l->first_meter) + i;
}
static inline const steading_well_flow *steading_well_flow_of(const steading_layout *l,
                                                              const double *row, size_t i) {
  return (const steading_well_flow *)(row + l->first_well) + i;
}
static inline const steading_tank_flow *steading_tank_flow_of(const steading_layout *l,
                                                              const double *row, size_t i) {
  return (const steading_tank_flow *)(row + l->first_tank) + i;
}
static inline const steading_generator_flow *steading_generator_flow_of(const steading_layout *l,
                                                                        const double *row,
                                                                        size_t i) {
  return (const steading_generator_flow *)(row + l->first_generator) + i;
}
static inline const steading_fuel_flow *steading_fuel_flow_of(const steading_layout *l,
                                                              const double *row, size_t i) {
  return (const steading_fuel_flow *)(row + l->first_fuel) + i;
}
static inline const steading_pool_flow *steading_pool_flow_of(const steading_layout *l,
                                                              const double *row, size_t i) {
  return (const steading_pool_flow *)(row + l->first_pool) + i;
}

/* What steps are given: rows of numbers by step, `stride` apart, as many of each as the second word
 * says; step 0 is the first. What is NULL does not matter to any hub. X(name, how many). */
#define STEADING_STEP_ROW_LIST(X)                                                              \
  X(pv_kw, hubs)      /* DC power of the arrays before any limit, without AC-coupled ones */   \
  X(hub_kw, hubs)     /* what buildings of a hub want, without pumps */                        \
  X(meter_kw, meters) /* the same of those straight on a meter */                              \
  X(ac_share, hubs)   /* what heat leaves of ac_kw, charger_kw; NULL: all of it */             \
  X(shed_kw, classes) /* the part of hub_kw that is of a class that can be shed, hub by hub */ \
  /* what the temperature of batteries makes of a step, all three or none */                   \
  X(charge_share, stores) /* of charge_kw, 0..1, while the heater gets what it wants */        \
  X(cold_share, stores)   /* without it: after a step in which it did not */                   \
  X(heater_kw, hubs)      /* what the heaters of the rooms want */                             \
  /* of the capacity of pools, both or none, and only beside those three */                    \
  X(usable_share, stores) X(cold_usable_share, stores)                                         \
  /* AC-coupled arrays, both or none; 0 and 0 where they give nothing */                       \
  X(ac_sun_kw, hubs)    /* AC power that their own inverters could give */                     \
  X(ac_sun_dc_kw, hubs) /* the DC power that makes it, at least as much */

typedef struct steading_step_rows {
  size_t stride;
#define STEADING_STEP_ROW_MEMBER(name, how_many) const double *name;
  STEADING_STEP_ROW_LIST(STEADING_STEP_ROW_MEMBER)
#undef STEADING_STEP_ROW_MEMBER
} steading_step_rows;

static inline size_t steading_rows_of_hubs(const steading_layout *l) { return l->hubs; }
static inline size_t steading_rows_of_meters(const steading_layout *l) { return l->meters; }
/* A store of a hub, or a pool. */
static inline size_t steading_rows_of_stores(const steading_layout *l) {
  return l->pools > 0 ? l->pools : l->hubs;
}
static inline size_t steading_rows_of_classes(const steading_layout *l) {
  return l->hubs * STEADING_SHED_CLASSES;
}

/* Rows that begin `step` steps later. */
static inline steading_step_rows steading_step_rows_at(const steading_step_rows *rows,
                                                       size_t step) {
  steading_step_rows at = {.stride = rows->stride};
#define STEADING_STEP_ROW_LATER(name, how_many) \
  at.name = rows->name == NULL ? NULL : rows->name + step;
  STEADING_STEP_ROW_LIST(STEADING_STEP_ROW_LATER)
#undef STEADING_STEP_ROW_LATER
  return at;
}

/* Run `count` steps. Loads in the flows include the pumps as they run, and no heater. `flows` gets
 * `count` rows of the layout of the stretch's parts. */
void steading_kernel_run(const steading_stretch *stretch, steading_state *state, size_t count,
                         const steading_step_rows *rows, double *flows);

/* Whether a class is shed in a step: from the charge at its start and whether it was before. */
static inline double steading_sheds(const steading_hub_stretch *p, size_t class_of_load,
                                    double stored_kwh, double before) {
  double held = stored_kwh >= p->restore_kwh[class_of_load] ? 0 : before;
  return stored_kwh < p->shed_kwh[class_of_load] * (1 - 1e-12) ? 1 : held;
}

#endif
