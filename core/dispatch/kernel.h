/* The step loop: who feeds whom in every hour, by the grid-last rule.
 *
 * One hub behind one meter's bus. Sun serves the hub's loads through the inverter, then water, then
 * the battery, then what else stands on the meter's bus, then export. What sun does not cover comes
 * from the battery down to its floor, then from the bus. An absent part has size zero: one body
 * serves all sites (the .c file instantiates it with and without hub and water, to the same bits).
 * A unit that is off lets the sun charge its battery all the same.
 *
 * The nodes, in every step (kW; reference/manual/dispatch.md derives them):
 *   DC   pv_used + battery_out = battery_in + inverted_in
 *   unit inverted_in = inverted + idle_from_dc + b inverted + c inverted^2 / rating
 *   AC   inverted + from_bus = hub_served + to_bus + idle_from_ac
 *   bus  import + to_bus = export + from_bus + meter_served
 *   site pv_used + import = hub_served + meter_served + export + inverter_loss + battery_loss
 *                           + standby + change of stored
 *
 * Written as selects, so that it can be run over lanes of sites; nothing is allocated. */
#ifndef STEADING_DISPATCH_KERNEL_H
#define STEADING_DISPATCH_KERNEL_H

#include <stddef.h>

/* Constant over a stretch of steps. Powers in kW, energies in kWh, water in litres. */
typedef struct steading_stretch {
  double step_h;
  /* inverter */
  double ac_kw; /* 0: no inverter */
  double idle_kw, b, c_per_rating;
  double pv_kw;           /* most DC power taken from the arrays */
  double pass_through_kw; /* most that the hub takes from the bus; 0: it is off the grid and gives
                             nothing either */
  /* battery pool */
  double lowest_kwh, floor_kwh, highest_kwh; /* usable window, and the floor in force */
  double charge_kw, discharge_kw, efficiency_in, efficiency_out, standby_kw;
  /* meter */
  double import_limit_kw, export_limit_kw; /* 0 without a meter */
  /* pump and tank; pump_kw 0: none */
  double pump_kw, pump_on_hub, pump_on_meter;  /* the latter 0 or 1 */
  double pump_l_per_step, per_pump_l_per_step; /* full running, and its inverse (0 for none) */
  double per_pump_kw;                          /* 1 / pump_kw, 0 for none */
  double tank_l, start_l, stop_l, surplus_l;
  double draw_l; /* what users want in a step */
  /* an hour counts as grid-free up to this import */
  double grid_free_below_kw;
} steading_stretch;

typedef struct steading_state {
  double stored_kwh;
  double tank_l;
  double filling; /* 1 while a run of the pump that the level started is on */
} steading_state;

/* What a step did. X(name, unit): mean power in kW, litres of the step, or a count of 0 or 1.
 * Sinks add these up; the order is that of the struct. */
#define STEADING_FLOW_LIST(X)                                                                    \
  X(pv_available, "kW")                                                                          \
  X(pv_used, "kW") X(pv_curtailed, "kW") X(battery_in, "kW") X(battery_out, "kW")                \
      X(battery_loss, "kW") X(standby, "kW") X(stored_change, "kW") X(inverted_in, "kW")         \
          X(inverted, "kW") X(idle_from_dc, "kW") X(idle_from_ac, "kW") X(inverter_loss, "kW")   \
              X(from_bus, "kW") X(to_bus, "kW") X(hub_load, "kW") X(hub_served, "kW")            \
                  X(hub_unserved, "kW") X(meter_load, "kW") X(meter_served, "kW")                \
                      X(meter_unserved, "kW") X(import, "kW") X(export, "kW") X(pump, "kW")      \
                          X(pump_duty, "h") X(pumped_l, "l") X(delivered_l, "l") X(short_l, "l") \
                              X(grid_free, "") X(loss_of_load, "") X(hub_grid_free, "")          \
                                  X(hub_loss_of_load, "") X(stored_kwh, "kWh")                   \
                                      X(tank_level_l, "l")

typedef struct steading_flow {
#define STEADING_FLOW_MEMBER(name, unit) double name;
  STEADING_FLOW_LIST(STEADING_FLOW_MEMBER)
#undef STEADING_FLOW_MEMBER
} steading_flow;

enum { STEADING_FLOW_COUNT = sizeof(steading_flow) / sizeof(double) };

/* Run `count` steps. `pv_kw` is the DC power of the arrays before any limit; hub_load_kw and
 * meter_load_kw are what buildings want, without the pump. Loads include the pump's energy in the
 * flows: hub_load and meter_load are what is wanted with the pump as it runs. */
void steading_kernel_run(const steading_stretch *stretch, steading_state *state, size_t count,
                         const double *pv_kw, const double *hub_load_kw,
                         const double *meter_load_kw, steading_flow *flows);

#endif
