#include "dispatch/result.h"

#include <math.h>

#define VALUE(name, expression)                                                  \
  static double name(const steading_run *run, const steading_month *m, int of) { \
    const steading_flow *f = &m->sum;                                            \
    (void)run;                                                                   \
    (void)of;                                                                    \
    (void)f;                                                                     \
    return expression;                                                           \
  }

/* What a hub, a meter or the whole site takes. */
static double load_of(const steading_flow *f, int of) {
  if (of == STEADING_OF_HUB) return f->hub_load;
  if (of == STEADING_OF_METER) return f->meter_load;
  return f->hub_load + f->meter_load;
}

static double unserved_of(const steading_flow *f, int of) {
  if (of == STEADING_OF_HUB) return f->hub_unserved;
  if (of == STEADING_OF_METER) return f->meter_unserved;
  return f->hub_unserved + f->meter_unserved;
}

/* A hub draws from its meter's bus; a site from the grid. */
static double drawn_of(const steading_flow *f, int of) {
  return of == STEADING_OF_HUB ? f->from_bus : f->import;
}

static double share(double part, double whole) { return whole > 0 ? part / whole : (double)NAN; }

VALUE(pv_available, f->pv_available)
VALUE(pv_used, f->pv_used)
VALUE(pv_curtailed, f->pv_curtailed)
VALUE(load, load_of(f, of))
VALUE(served, load_of(f, of) - unserved_of(f, of))
VALUE(unserved, unserved_of(f, of))
VALUE(from_bus, f->from_bus)
VALUE(to_bus, f->to_bus)
VALUE(grid_import, f->import)
VALUE(grid_export, f->export)
VALUE(battery_charge, f->battery_in)
VALUE(battery_discharge, f->battery_out)
VALUE(battery_loss, f->battery_loss)
VALUE(standby, f->standby)
VALUE(stored_change, f->stored_change)
VALUE(equivalent_cycles, share(f->battery_out, run->capacity_kwh))
VALUE(inverter_loss, f->inverter_loss)
VALUE(grid_free_hours, of == STEADING_OF_HUB ? f->hub_grid_free : f->grid_free)
VALUE(grid_free_hours_share,
      share(of == STEADING_OF_HUB ? f->hub_grid_free : f->grid_free, (double)m->steps))
VALUE(grid_free_energy_share, 1 - share(drawn_of(f, of), load_of(f, of)))
VALUE(self_consumption, 1 - share(of == STEADING_OF_HUB ? f->to_bus : f->export, f->pv_used))
VALUE(loss_of_load_hours, of == STEADING_OF_HUB ? f->hub_loss_of_load : f->loss_of_load)
VALUE(peak_import, m->peak_import_kw)
VALUE(peak_load, of == STEADING_OF_HUB ? m->hub_peak_load_kw : m->peak_load_kw)
VALUE(lowest_state_of_charge, share(m->lowest_stored_kwh, run->capacity_kwh))
VALUE(pump, f->pump)
VALUE(pump_hours, f->pump_duty)
VALUE(water_delivered, f->delivered_l)
VALUE(water_short, f->short_l)
VALUE(lowest_tank_share, share(m->lowest_tank_l, run->tank_capacity_l))
VALUE(closure_error, m->closure_error_kwh)

enum {
  S = STEADING_OF_SITE,
  SH = STEADING_OF_SITE | STEADING_OF_HUB,
  SM = STEADING_OF_SITE | STEADING_OF_METER,
  SHM = STEADING_OF_SITE | STEADING_OF_HUB | STEADING_OF_METER,
  H = STEADING_OF_HUB
};

const steading_result_column steading_result_columns[] = {
    {"pv_available_kwh", "kWh", "what the arrays could deliver, DC, after their own losses", SH,
     STEADING_SUM, pv_available},
    {"pv_used_kwh", "kWh", "what was taken of it, DC", SH, STEADING_SUM, pv_used},
    {"pv_curtailed_kwh", "kWh", "what was not", SH, STEADING_SUM, pv_curtailed},
    {"load_kwh", "kWh", "what buildings want and pumps take", SHM, STEADING_SUM, load},
    {"served_kwh", "kWh", "what they got", SHM, STEADING_SUM, served},
    {"unserved_kwh", "kWh", "what they did not get", SHM, STEADING_SUM, unserved},
    {"from_bus_kwh", "kWh", "what the hub took from its meter's bus", H, STEADING_SUM, from_bus},
    {"to_bus_kwh", "kWh", "what the hub gave to its meter's bus", H, STEADING_SUM, to_bus},
    {"grid_import_kwh", "kWh", "from the grid", SM, STEADING_SUM, grid_import},
    {"grid_export_kwh", "kWh", "to the grid", SM, STEADING_SUM, grid_export},
    {"battery_charge_kwh", "kWh", "into the battery, at its terminals", SH, STEADING_SUM,
     battery_charge},
    {"battery_discharge_kwh", "kWh", "out of the battery, at its terminals", SH, STEADING_SUM,
     battery_discharge},
    {"battery_loss_kwh", "kWh", "lost in charging and discharging", SH, STEADING_SUM, battery_loss},
    {"standby_kwh", "kWh", "drawn by the battery's own electronics", SH, STEADING_SUM, standby},
    {"stored_change_kwh", "kWh", "stored at the end minus at the start", SH, STEADING_SUM,
     stored_change},
    {"equivalent_cycles", "", "discharge over nominal capacity", SH, STEADING_SUM,
     equivalent_cycles},
    {"inverter_loss_kwh", "kWh", "idle draw and conversion", SH, STEADING_SUM, inverter_loss},
    {"grid_free_hours", "h", "hours with (almost) no import and the whole load served", SH,
     STEADING_SUM, grid_free_hours},
    {"grid_free_hours_share", "share", "those hours over all hours", SH, STEADING_SHARE,
     grid_free_hours_share},
    {"grid_free_energy_share", "share", "1 - import / load", SH, STEADING_SHARE,
     grid_free_energy_share},
    {"self_consumption", "share", "share of the PV energy used on the site: 1 - export / PV used",
     SH, STEADING_SHARE, self_consumption},
    {"loss_of_load_hours", "h", "hours with unserved load", SH, STEADING_SUM, loss_of_load_hours},
    {"peak_import_kw", "kW", "highest mean import of an hour", SM, STEADING_LIMIT, peak_import},
    {"peak_load_kw", "kW", "highest mean load of an hour", SH, STEADING_LIMIT, peak_load},
    {"lowest_state_of_charge", "share", "lowest charge over nominal capacity", SH, STEADING_LIMIT,
     lowest_state_of_charge},
    {"pump_kwh", "kWh", "energy of the well pump", S, STEADING_SUM, pump},
    {"pump_hours", "h", "running time of the well pump", S, STEADING_SUM, pump_hours},
    {"water_delivered_l", "l", "water that users got", S, STEADING_SUM, water_delivered},
    {"water_short_l", "l", "water that users wanted and did not get", S, STEADING_SUM, water_short},
    {"lowest_tank_share", "share", "lowest level of the tank", S, STEADING_LIMIT,
     lowest_tank_share},
    {"closure_error_kwh", "kWh", "sum of what the site's energy balance misses, step by step", S,
     STEADING_SUM, closure_error},
};

const size_t steading_result_column_count =
    sizeof steading_result_columns / sizeof steading_result_columns[0];

steading_month steading_run_sum(const steading_run *run, size_t first, size_t count) {
  steading_month total = {.year = run->months[first].year,
                          .month = run->months[first].month,
                          .lowest_stored_kwh = (double)INFINITY,
                          .lowest_tank_l = (double)INFINITY};
  double *sum = (double *)&total.sum;
  for (size_t i = first; i < first + count; i++) {
    const steading_month *m = &run->months[i];
    const double *flow = (const double *)&m->sum;
    for (size_t c = 0; c < STEADING_FLOW_COUNT; c++) sum[c] += flow[c];
    total.steps += m->steps;
    total.closure_error_kwh += m->closure_error_kwh;
    total.peak_import_kw = fmax(total.peak_import_kw, m->peak_import_kw);
    total.peak_load_kw = fmax(total.peak_load_kw, m->peak_load_kw);
    total.hub_peak_load_kw = fmax(total.hub_peak_load_kw, m->hub_peak_load_kw);
    total.lowest_stored_kwh = fmin(total.lowest_stored_kwh, m->lowest_stored_kwh);
    total.lowest_tank_l = fmin(total.lowest_tank_l, m->lowest_tank_l);
  }
  return total;
}

#define STEP_VALUE(name, expression)                                    \
  static double name(const steading_run *run, const steading_flow *f) { \
    (void)run;                                                          \
    return expression;                                                  \
  }

STEP_VALUE(step_pv_available, f->pv_available)
STEP_VALUE(step_pv_used, f->pv_used)
STEP_VALUE(step_load, f->hub_load + f->meter_load)
STEP_VALUE(step_served, f->hub_served + f->meter_served)
STEP_VALUE(step_unserved, f->hub_unserved + f->meter_unserved)
STEP_VALUE(step_import, f->import)
STEP_VALUE(step_export, f->export)
STEP_VALUE(step_battery_in, f->battery_in)
STEP_VALUE(step_battery_out, f->battery_out)
STEP_VALUE(step_battery_loss, f->battery_loss)
STEP_VALUE(step_standby, f->standby)
STEP_VALUE(step_stored_change, f->stored_change)
STEP_VALUE(step_inverter_loss, f->inverter_loss)
STEP_VALUE(step_from_bus, f->from_bus)
STEP_VALUE(step_to_bus, f->to_bus)
STEP_VALUE(step_pump, f->pump)
STEP_VALUE(step_delivered, f->delivered_l)
STEP_VALUE(step_short, f->short_l)
STEP_VALUE(step_charge, share(f->stored_kwh, run->capacity_kwh))
STEP_VALUE(step_tank, share(f->tank_level_l, run->tank_capacity_l))

const steading_step_column steading_step_columns[] = {
    {"pv_available_kwh", "kWh", step_pv_available},
    {"pv_used_kwh", "kWh", step_pv_used},
    {"load_kwh", "kWh", step_load},
    {"served_kwh", "kWh", step_served},
    {"unserved_kwh", "kWh", step_unserved},
    {"from_bus_kwh", "kWh", step_from_bus},
    {"to_bus_kwh", "kWh", step_to_bus},
    {"grid_import_kwh", "kWh", step_import},
    {"grid_export_kwh", "kWh", step_export},
    {"battery_charge_kwh", "kWh", step_battery_in},
    {"battery_discharge_kwh", "kWh", step_battery_out},
    {"battery_loss_kwh", "kWh", step_battery_loss},
    {"standby_kwh", "kWh", step_standby},
    {"stored_change_kwh", "kWh", step_stored_change},
    {"inverter_loss_kwh", "kWh", step_inverter_loss},
    {"pump_kwh", "kWh", step_pump},
    {"water_delivered_l", "l", step_delivered},
    {"water_short_l", "l", step_short},
    {"state_of_charge", "share", step_charge},
    {"tank_share", "share", step_tank},
};

const size_t steading_step_column_count =
    sizeof steading_step_columns / sizeof steading_step_columns[0];
