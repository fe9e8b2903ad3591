#include "dispatch/result.h"

#include <math.h>
#include <stddef.h>

static double share(double part, double whole) { return whole > 0 ? part / whole : (double)NAN; }

static double step_h(const steading_run *run) { return run->step_minutes / 60.0; }

/* Sum of a flow, at an offset in its struct, over hubs, meters, wells or tanks of a row. */
static double over(const double *row, size_t first, size_t count, size_t width, size_t offset) {
  double sum = 0;
  for (size_t i = 0; i < count; i++) sum += row[first + i * width + offset / sizeof(double)];
  return sum;
}

#define HUBS(at, row, flow) \
  over(row, (at)->first_hub, (at)->hubs, STEADING_HUB_FLOWS, offsetof(steading_hub_flow, flow))
#define METERS(at, row, flow)                                      \
  over(row, (at)->first_meter, (at)->meters, STEADING_METER_FLOWS, \
       offsetof(steading_meter_flow, flow))
#define WELLS(at, row, flow) \
  over(row, (at)->first_well, (at)->wells, STEADING_WELL_FLOWS, offsetof(steading_well_flow, flow))
#define TANKS(at, row, flow) \
  over(row, (at)->first_tank, (at)->tanks, STEADING_TANK_FLOWS, offsetof(steading_tank_flow, flow))

#define GENERATORS(at, row, flow)                                              \
  over(row, (at)->first_generator, (at)->generators, STEADING_GENERATOR_FLOWS, \
       offsetof(steading_generator_flow, flow))

/* --- periods -------------------------------------------------------------------------------------
 */

/* A flow of a hub, or of all hubs; the same of meters. */
#define HUB(flow)                                                                        \
  (view->of == STEADING_OF_HUB     ? steading_hub_flow_of(at, p->sum, view->index)->flow \
   : view->of == STEADING_OF_METER ? 0                                                   \
                                   : HUBS(at, p->sum, flow))
#define METER(flow)                                                                      \
  (view->of == STEADING_OF_METER ? steading_meter_flow_of(at, p->sum, view->index)->flow \
   : view->of == STEADING_OF_HUB ? 0                                                     \
                                 : METERS(at, p->sum, flow))

#define GENERATOR(flow)                                                                      \
  (view->of == STEADING_OF_METER || at->generators == 0 ? 0                                  \
   : view->of == STEADING_OF_HUB ? steading_generator_flow_of(at, p->sum, view->index)->flow \
                                 : GENERATORS(at, p->sum, flow))

#define VALUE(name, expression)                                           \
  static double name(const steading_span *p, const steading_view *view) { \
    const steading_layout *at = &p->run->layout;                          \
    double h = step_h(p->run);                                            \
    (void)view;                                                           \
    (void)at;                                                             \
    (void)h;                                                              \
    return expression;                                                    \
  }

/* A hub draws from its meter's bus; a site from the grid. */
VALUE(drawn, view->of == STEADING_OF_HUB ? HUB(from_bus) : METER(import))
VALUE(given_away, view->of == STEADING_OF_HUB ? HUB(to_bus) : METER(export))
VALUE(all_load, HUB(load) + METER(load))

VALUE(pv_available, HUB(pv_available) * h)
VALUE(pv_used, HUB(pv_used) * h)
VALUE(pv_curtailed, HUB(pv_curtailed) * h)
VALUE(load, all_load(p, view) * h)
VALUE(served, (HUB(served) + METER(served)) * h)
VALUE(shed, HUB(shed) * h)
VALUE(unserved, (HUB(unserved) + METER(unserved)) * h)
VALUE(from_bus, HUB(from_bus) * h)
VALUE(to_bus, HUB(to_bus) * h)
VALUE(grid_import, METER(import) * h)
VALUE(grid_export, METER(export) * h)
VALUE(battery_charge, HUB(battery_in) * h)
VALUE(battery_discharge, HUB(battery_out) * h)
VALUE(battery_loss, HUB(battery_loss) * h)
VALUE(standby, HUB(standby) * h)
VALUE(charged_from_grid, HUB(charger_in) * h)
VALUE(battery_heater, HUB(heater) * h)
VALUE(charge_blocked, HUB(charge_blocked) * h)
VALUE(inverter_loss, HUB(inverter_loss) * h)
VALUE(generator, GENERATOR(power) * h)
VALUE(charged_by_generator, GENERATOR(charging) * h)
VALUE(generator_hours, GENERATOR(running_h))
VALUE(generator_starts, GENERATOR(starts))
VALUE(pump, WELLS(at, p->sum, pump) * h)
VALUE(pump_hours, WELLS(at, p->sum, duty_h))
VALUE(water_delivered, TANKS(at, p->sum, delivered_l))
VALUE(water_short, TANKS(at, p->sum, short_l))
VALUE(closure_error, p->site.closure_error_kwh)

/* What months keep of a hub, or of all hubs. */
static double of_hubs(const steading_span *p, const steading_view *view, size_t offset) {
  double sum = 0;
  for (size_t i = 0; i < p->run->layout.hubs; i++)
    if (view->of != STEADING_OF_HUB || view->index == i)
      sum += ((const double *)&p->hubs[i])[offset / sizeof(double)];
  return sum;
}

VALUE(battery_delivered, of_hubs(p, view, offsetof(steading_hub_month, delivered_kwh)))
VALUE(battery_removed, of_hubs(p, view, offsetof(steading_hub_month, removed_kwh)))
VALUE(battery_fade, of_hubs(p, view, offsetof(steading_hub_month, fade_kwh)))
VALUE(stored_change, HUB(stored_change) * h + battery_delivered(p, view) -
                         battery_removed(p, view) - battery_fade(p, view))
VALUE(nominal_steps, of_hubs(p, view, offsetof(steading_hub_month, nominal_kwh_steps)))
VALUE(equivalent_cycles,
      share(HUB(battery_out) * h, nominal_steps(p, view) / (double)p->site.steps))
VALUE(battery_health, share(of_hubs(p, view, offsetof(steading_hub_month, capacity_kwh_steps)),
                            nominal_steps(p, view)))

static double grid_free_steps(const steading_span *p, const steading_view *view) {
  return view->of == STEADING_OF_HUB
             ? steading_hub_flow_of(&p->run->layout, p->sum, view->index)->grid_free
             : steading_site_flow_of(p->sum)->grid_free;
}

VALUE(grid_free_hours, grid_free_steps(p, view) * h)
VALUE(grid_free_hours_share, share(grid_free_steps(p, view), (double)p->site.steps))
VALUE(grid_free_energy_share, 1 - share(drawn(p, view), all_load(p, view)))
VALUE(self_consumption, 1 - share(given_away(p, view), HUB(pv_used)))
VALUE(loss_of_load_hours,
      h *(view->of == STEADING_OF_HUB ? steading_hub_flow_of(at, p->sum, view->index)->loss_of_load
                                      : steading_site_flow_of(p->sum)->loss_of_load))
VALUE(outage_hours, h *(double)(view->of == STEADING_OF_METER ? p->meter_outage_steps[view->index]
                                                              : p->site.outage_steps))
VALUE(peak_import,
      view->of == STEADING_OF_METER ? p->meter_peak_import_kw[view->index] : p->site.peak_import_kw)
VALUE(peak_load,
      view->of == STEADING_OF_HUB ? p->hubs[view->index].peak_load_kw : p->site.peak_load_kw)

/* The lowest of the parts that there are; NaN when there is none. */
static double lowest_charge(const steading_span *p, const steading_view *view) {
  double lowest = (double)INFINITY;
  for (size_t i = 0; i < p->run->layout.hubs; i++)
    if (view->of != STEADING_OF_HUB || view->index == i)
      lowest = fmin(lowest, p->hubs[i].lowest_charge);
  return isinf(lowest) ? (double)NAN : lowest;
}

static double lowest_tank(const steading_span *p, const steading_view *view) {
  double lowest = (double)INFINITY;
  (void)view;
  for (size_t t = 0; t < p->run->layout.tanks; t++) lowest = fmin(lowest, p->tank_lowest[t]);
  return isinf(lowest) ? (double)NAN : lowest;
}

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
    {"shed_kwh", "kWh", "what a rule took from them while there was no grid", SH, STEADING_SUM,
     shed},
    {"from_bus_kwh", "kWh", "what the hub took from its meter's bus", H, STEADING_SUM, from_bus},
    {"to_bus_kwh", "kWh", "what the hub gave to its meter's bus", H, STEADING_SUM, to_bus},
    {"grid_import_kwh", "kWh", "from the grid", SM, STEADING_SUM, grid_import},
    {"grid_export_kwh", "kWh", "to the grid", SM, STEADING_SUM, grid_export},
    {"generator_kwh", "kWh", "AC energy that generators gave", SH, STEADING_SUM, generator},
    {"generator_hours", "h", "their running time; of the site: together", SH, STEADING_SUM,
     generator_hours},
    {"generator_starts", "", "how often they started", SH, STEADING_SUM, generator_starts},
    {"charged_by_generator_kwh", "kWh", "AC energy that their chargers took of it", SH,
     STEADING_SUM, charged_by_generator},
    {"battery_charge_kwh", "kWh", "into the battery, at its terminals", SH, STEADING_SUM,
     battery_charge},
    {"battery_discharge_kwh", "kWh", "out of the battery, at its terminals", SH, STEADING_SUM,
     battery_discharge},
    {"battery_loss_kwh", "kWh", "lost in charging and discharging", SH, STEADING_SUM, battery_loss},
    {"standby_kwh", "kWh", "drawn by the battery's own electronics", SH, STEADING_SUM, standby},
    {"charged_from_grid_kwh", "kWh", "AC energy that chargers took from the bus", SH, STEADING_SUM,
     charged_from_grid},
    {"battery_heater_kwh", "kWh", "drawn by heaters of battery rooms, AC", SH, STEADING_SUM,
     battery_heater},
    {"charge_blocked_hours", "h",
     "hours in which the cold alone let batteries take less than there was; of the site: together",
     SH, STEADING_SUM, charge_blocked},
    {"battery_delivered_kwh", "kWh", "brought by battery lots that arrive", SH, STEADING_SUM,
     battery_delivered},
    {"battery_removed_kwh", "kWh", "taken by battery lots that leave", SH, STEADING_SUM,
     battery_removed},
    {"battery_fade_kwh", "kWh", "stored above what faded capacity holds, lost", SH, STEADING_SUM,
     battery_fade},
    {"stored_change_kwh", "kWh", "stored at the end minus at the start", SH, STEADING_SUM,
     stored_change},
    {"equivalent_cycles", "", "discharge over mean nominal capacity", SH, STEADING_SUM,
     equivalent_cycles},
    {"battery_health", "share", "capacity that is left over nominal capacity", SH, STEADING_SHARE,
     battery_health},
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
    {"outage_hours", "h", "hours in which the grid is down, of the site: that of any meter", SM,
     STEADING_SUM, outage_hours},
    {"peak_import_kw", "kW", "highest mean import of a step", SM, STEADING_LIMIT, peak_import},
    {"peak_load_kw", "kW", "highest mean load of a step", SH, STEADING_LIMIT, peak_load},
    {"lowest_state_of_charge", "share", "lowest charge over the capacity that is left", SH,
     STEADING_LIMIT, lowest_charge},
    {"pump_kwh", "kWh", "energy of the well pumps", S, STEADING_SUM, pump},
    {"pump_hours", "h", "running time of the well pumps together", S, STEADING_SUM, pump_hours},
    {"water_delivered_l", "l", "water that users got", S, STEADING_SUM, water_delivered},
    {"water_short_l", "l", "water that users wanted and did not get", S, STEADING_SUM, water_short},
    {"lowest_tank_share", "share", "lowest level of a tank", S, STEADING_LIMIT, lowest_tank},
    {"closure_error_kwh", "kWh", "sum of what the site's energy balance misses, step by step", S,
     STEADING_SUM, closure_error},
};

const size_t steading_result_column_count =
    sizeof steading_result_columns / sizeof steading_result_columns[0];

void steading_span_of(const steading_run *run, size_t first, size_t count, steading_span *p) {
  const steading_layout *at = &run->layout;
  p->run = run;
  p->site =
      (steading_site_month){.year = run->months[first].year, .month = run->months[first].month};
  for (size_t c = 0; c < at->width; c++) p->sum[c] = 0;
  for (size_t i = 0; i < at->hubs; i++)
    p->hubs[i] = (steading_hub_month){.lowest_charge = (double)INFINITY};
  for (size_t m = 0; m < at->meters; m++) {
    p->meter_peak_import_kw[m] = 0;
    p->meter_outage_steps[m] = 0;
  }
  for (size_t t = 0; t < at->tanks; t++) p->tank_lowest[t] = (double)INFINITY;
  for (size_t k = first; k < first + count; k++) {
    const steading_site_month *site = &run->months[k];
    for (size_t c = 0; c < at->width; c++) p->sum[c] += run->sums[k * at->width + c];
    p->site.steps += site->steps;
    p->site.outage_steps += site->outage_steps;
    p->site.closure_error_kwh += site->closure_error_kwh;
    p->site.peak_import_kw = fmax(p->site.peak_import_kw, site->peak_import_kw);
    p->site.peak_load_kw = fmax(p->site.peak_load_kw, site->peak_load_kw);
    for (size_t i = 0; i < at->hubs; i++) {
      const steading_hub_month *from = &run->hub_months[k * at->hubs + i];
      steading_hub_month *to = &p->hubs[i];
      to->peak_load_kw = fmax(to->peak_load_kw, from->peak_load_kw);
      to->lowest_charge = fmin(to->lowest_charge, from->lowest_charge);
      to->nominal_kwh_steps += from->nominal_kwh_steps;
      to->capacity_kwh_steps += from->capacity_kwh_steps;
      to->fade_kwh += from->fade_kwh;
      to->delivered_kwh += from->delivered_kwh;
      to->removed_kwh += from->removed_kwh;
    }
    for (size_t m = 0; m < at->meters; m++) {
      p->meter_peak_import_kw[m] =
          fmax(p->meter_peak_import_kw[m], run->meter_peak_import_kw[k * at->meters + m]);
      p->meter_outage_steps[m] += run->meter_outage_steps[k * at->meters + m];
    }
    for (size_t t = 0; t < at->tanks; t++)
      p->tank_lowest[t] = fmin(p->tank_lowest[t], run->tank_lowest[k * at->tanks + t]);
  }
}

/* --- steps ---------------------------------------------------------------------------------------
 */

#define STEP_VALUE(name, expression)                \
  static double name(const steading_step_view *v) { \
    const steading_layout *at = &v->run->layout;    \
    double h = step_h(v->run);                      \
    (void)at;                                       \
    (void)h;                                        \
    return expression;                              \
  }

STEP_VALUE(step_pv_available, HUBS(at, v->row, pv_available) * h)
STEP_VALUE(step_pv_used, HUBS(at, v->row, pv_used) * h)
STEP_VALUE(step_pv_curtailed, HUBS(at, v->row, pv_curtailed) * h)
STEP_VALUE(step_load, (HUBS(at, v->row, load) + METERS(at, v->row, load)) * h)
STEP_VALUE(step_served, (HUBS(at, v->row, served) + METERS(at, v->row, served)) * h)
STEP_VALUE(step_unserved, (HUBS(at, v->row, unserved) + METERS(at, v->row, unserved)) * h)
STEP_VALUE(step_shed, HUBS(at, v->row, shed) * h)
STEP_VALUE(step_import, METERS(at, v->row, import) * h)
STEP_VALUE(step_export, METERS(at, v->row, export) * h)
STEP_VALUE(step_battery_in, HUBS(at, v->row, battery_in) * h)
STEP_VALUE(step_battery_out, HUBS(at, v->row, battery_out) * h)
STEP_VALUE(step_battery_loss, HUBS(at, v->row, battery_loss) * h)
STEP_VALUE(step_standby, HUBS(at, v->row, standby) * h)
STEP_VALUE(step_generator, GENERATORS(at, v->row, power) * h)
STEP_VALUE(step_generator_hours, GENERATORS(at, v->row, running_h))
STEP_VALUE(step_generator_starts, GENERATORS(at, v->row, starts))
STEP_VALUE(step_by_generator, GENERATORS(at, v->row, charging) * h)
STEP_VALUE(step_charged, HUBS(at, v->row, charger_in) * h)
STEP_VALUE(step_heater, HUBS(at, v->row, heater) * h)
STEP_VALUE(step_blocked, HUBS(at, v->row, charge_blocked) * h)
STEP_VALUE(step_delivered_kwh, v->first ? v->change->delivered_kwh : 0)
STEP_VALUE(step_removed_kwh, v->first ? v->change->removed_kwh : 0)
STEP_VALUE(step_fade_kwh, v->first ? v->change->fade_kwh : 0)
STEP_VALUE(step_stored_change, HUBS(at, v->row, stored_change) * h + step_delivered_kwh(v) -
                                   step_removed_kwh(v) - step_fade_kwh(v))
STEP_VALUE(step_inverter_loss, HUBS(at, v->row, inverter_loss) * h)
STEP_VALUE(step_from_bus, HUBS(at, v->row, from_bus) * h)
STEP_VALUE(step_to_bus, HUBS(at, v->row, to_bus) * h)
STEP_VALUE(step_pump, WELLS(at, v->row, pump) * h)
STEP_VALUE(step_delivered, TANKS(at, v->row, delivered_l))
STEP_VALUE(step_short, TANKS(at, v->row, short_l))
STEP_VALUE(step_charge, share(HUBS(at, v->row, stored_kwh), v->change->capacity_kwh))
STEP_VALUE(step_tank, share(TANKS(at, v->row, level_l), v->change->tank_l))

const steading_step_column steading_step_columns[] = {
    {"pv_available_kwh", "kWh", step_pv_available},
    {"pv_used_kwh", "kWh", step_pv_used},
    {"pv_curtailed_kwh", "kWh", step_pv_curtailed},
    {"load_kwh", "kWh", step_load},
    {"served_kwh", "kWh", step_served},
    {"unserved_kwh", "kWh", step_unserved},
    {"shed_kwh", "kWh", step_shed},
    {"from_bus_kwh", "kWh", step_from_bus},
    {"to_bus_kwh", "kWh", step_to_bus},
    {"grid_import_kwh", "kWh", step_import},
    {"grid_export_kwh", "kWh", step_export},
    {"generator_kwh", "kWh", step_generator},
    {"generator_hours", "h", step_generator_hours},
    {"generator_starts", "", step_generator_starts},
    {"charged_by_generator_kwh", "kWh", step_by_generator},
    {"battery_charge_kwh", "kWh", step_battery_in},
    {"battery_discharge_kwh", "kWh", step_battery_out},
    {"battery_loss_kwh", "kWh", step_battery_loss},
    {"standby_kwh", "kWh", step_standby},
    {"charged_from_grid_kwh", "kWh", step_charged},
    {"battery_heater_kwh", "kWh", step_heater},
    {"charge_blocked_hours", "h", step_blocked},
    {"battery_delivered_kwh", "kWh", step_delivered_kwh},
    {"battery_removed_kwh", "kWh", step_removed_kwh},
    {"battery_fade_kwh", "kWh", step_fade_kwh},
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
