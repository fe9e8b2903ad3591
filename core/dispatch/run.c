#include "dispatch/run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "demand/clock.h"
#include "demand/loads.h"
#include "demand/water.h"
#include "plant/array.h"
#include "plant/battery.h"
#include "plant/inverter.h"

enum { LONGEST_MONTH_H = 744, MOST_ARRAYS = 32 };

/* One array of the hub, compiled. */
typedef struct array_part {
  const steading_array *array;
  const double *yield;    /* [weather steps] kW per kW */
  double kw_of_month[12]; /* nominal power times what losses leave, of the year at hand */
} array_part;

/* Everything the loop needs, allocated before it. */
typedef struct work {
  const steading_site *site;
  const steading_weather *weather;
  const steading_zone *zone;
  const steading_meter_plan *plan;
  steading_run *run;
  steading_loads *hub_loads, *meter_loads;
  steading_stretch stretch;
  steading_state state;
  array_part arrays[MOST_ARRAYS];
  size_t array_count, first_hour;
  int64_t start_day;
  const steading_map *users;
  steading_civil_step *hours;        /* [8760] */
  double *pv_kw, *hub_kw, *meter_kw; /* [8760] */
  steading_flow *flows;              /* [744], or the whole run when steps are kept */
} work;

static steading_status check_lot(void *context, const steading_lot *lot, const char *path,
                                 steading_error *error) {
  int64_t start = *(const int64_t *)context;
  char where[256];
  int year = 0, month = 0, day = 0, start_year = 0, start_month = 0, start_date = 0;
  if (!steading_record_given(lot, "in_service") || lot->in_service <= start) return STEADING_OK;
  steading_date_of_day(lot->in_service, &year, &month, &day);
  steading_date_of_day(start, &start_year, &start_month, &start_date);
  snprintf(where, sizeof where, "site.%s.in_service", path);
  return steading_fail(error, STEADING_NOT_YET, where,
                       "%04d-%02d-%02d is after the start of the run, %04d-%02d-%02d (simulate { "
                       "start = ... } sets it): lots that arrive later are not yet carried out by "
                       "this version",
                       year, month, day, start_year, start_month, start_date);
}

/* The year in which a run starts that gives no start and has no dated lot: any would do, and one
 * that does not follow the clock gives the same result every day. */
enum { START_YEAR_WITHOUT_DATES = 2027 };

static steading_status set_start(work *w, const steading_simulate *options, steading_error *error) {
  steading_run *run = w->run;
  int day = 0;
  if (steading_record_given(options, "start"))
    w->start_day = options->start;
  else if (!steading_site_earliest(w->site, &w->start_day))
    w->start_day = steading_day_number(START_YEAR_WITHOUT_DATES, 1, 1);
  steading_date_of_day(w->start_day, &run->start_year, &run->start_month, &day);
  w->first_hour = (size_t)steading_days_before_month[run->start_month - 1] * 24;
  return steading_site_each_lot(w->site, check_lot, &w->start_day, error);
}

static steading_status compile_arrays(work *w, const steading_hub *hub, steading_error *error) {
  if (hub->arrays == NULL) return STEADING_OK;
  if (hub->arrays->count > MOST_ARRAYS)
    return steading_fail(error, STEADING_BAD_INPUT, "site.hubs", "found %zu arrays, at most %d",
                         hub->arrays->count, (int)MOST_ARRAYS);
  steading_yields_trim(w->site->weather);
  for (size_t i = 0; i < hub->arrays->count; i++) {
    array_part *part = &w->arrays[w->array_count++];
    steading_yield_key key;
    part->array = (const void *)hub->arrays->items[i];
    key = steading_yield_key_of(part->array);
    part->yield = steading_yield_of(w->site->weather, &key);
    if (part->yield == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "site.hubs", "not enough memory");
  }
  return STEADING_OK;
}

static steading_status compile_hub(work *w, const steading_hub *hub, const char *name,
                                   const steading_initial *initial, steading_error *error) {
  steading_stretch *s = &w->stretch;
  const steading_unit *unit = hub->inverter->unit;
  double units = steading_lots_count(hub->inverter->lots);
  steading_inverter_curve curve;
  steading_pool pool;
  double floor = hub->rules != NULL ? hub->rules->battery_floor : 0;
  char path[192];
  steading_status status = STEADING_OK;
  snprintf(path, sizeof path, "site.hubs.%s.inverter.unit.efficiency", name);
  status = steading_inverter_curve_of(unit, path, &curve, NULL, error);
  if (status != STEADING_OK) return status;
  if (units > 0) {
    curve = steading_inverter_parallel(&curve, units);
    s->ac_kw = curve.rating_kw;
    s->idle_kw = curve.idle_kw;
    s->b = curve.b;
    s->c_per_rating = curve.c / curve.rating_kw;
    s->pv_kw = unit->pv_kw * units;
    s->pass_through_kw = hub->meter != NULL ? unit->pass_through_kw * units : 0;
  }
  pool = steading_pool_of(hub->battery,
                          hub->battery != NULL ? steading_lots_count(hub->battery->lots) : 0);
  s->charge_kw = fmin(pool.charge_kw, units > 0 ? unit->battery_kw * units : 0);
  s->discharge_kw = fmin(pool.discharge_kw, units > 0 ? unit->battery_kw * units : 0);
  s->efficiency_in = pool.efficiency_in;
  s->efficiency_out = pool.efficiency_out;
  s->standby_kw = pool.standby_kw;
  floor = fmax(floor, pool.lowest_share);
  s->lowest_kwh = pool.lowest_share * pool.capacity_kwh;
  s->floor_kwh = floor * pool.capacity_kwh;
  s->highest_kwh = pool.highest_share * pool.capacity_kwh;
  w->state.stored_kwh = (s->floor_kwh + s->highest_kwh) / 2;
  if (steading_record_given(initial, "state_of_charge")) {
    if (!(pool.capacity_kwh > 0))
      return steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.state_of_charge",
                           "the site has no battery");
    if (initial->state_of_charge < pool.lowest_share ||
        initial->state_of_charge > pool.highest_share)
      return steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.state_of_charge",
                           "%.12g is outside the usable %.12g to %.12g", initial->state_of_charge,
                           pool.lowest_share, pool.highest_share);
    w->state.stored_kwh = initial->state_of_charge * pool.capacity_kwh;
  }
  w->run->capacity_kwh = pool.capacity_kwh;
  return compile_arrays(w, hub, error);
}

static void compile_water(work *w, const steading_water *water, const steading_initial *initial) {
  steading_stretch *s = &w->stretch;
  const steading_well *well = NULL;
  const steading_tank *tank = NULL;
  double pumps = 0, tanks = 0;
  if (water->wells == NULL || water->wells->count == 0 || water->tanks == NULL) return;
  well = (const void *)water->wells->entries[0].item;
  tank = (const void *)water->tanks->entries[0].item;
  pumps = steading_lots_count(well->lots);
  tanks = steading_lots_count(tank->lots);
  s->pump_kw = pumps * steading_pump_kw(well->flow_l_per_min, well->lift_m, well->efficiency);
  s->pump_on_hub = well->hub != NULL;
  s->pump_on_meter = well->meter != NULL;
  s->pump_l_per_step = pumps * well->flow_l_per_min * 60 * s->step_h;
  s->per_pump_l_per_step = s->pump_l_per_step > 0 ? 1 / s->pump_l_per_step : 0;
  s->per_pump_kw = s->pump_kw > 0 ? 1 / s->pump_kw : 0;
  s->tank_l = tanks * tank->litres;
  s->start_l = tank->start_below * s->tank_l;
  s->stop_l = tank->stop_above * s->tank_l;
  s->surplus_l = tank->surplus_to * s->tank_l;
  w->state.tank_l = initial->tank_share * s->tank_l;
  w->state.filling = w->state.tank_l < s->start_l ? 1 : 0;
  w->users = water->users;
  w->run->has_water = true;
  w->run->tank_capacity_l = s->tank_l;
}

static steading_status compile(work *w, const steading_simulate *options, steading_error *error) {
  const steading_hub *hub = steading_site_hub(w->site);
  const steading_meter *meter = steading_site_meter(w->site);
  const steading_initial *initial = options->initial;
  const steading_initial standard = {.head = {.spec = &steading_initial_spec}, .tank_share = 0.5};
  steading_status status = set_start(w, options, error);
  if (initial == NULL) initial = &standard;
  w->stretch = (steading_stretch){.step_h = 1, .efficiency_in = 1, .efficiency_out = 1};
  w->stretch.grid_free_below_kw = w->site->grid_free_below_kw;
  if (status != STEADING_OK) return status;
  if (meter != NULL) {
    w->run->has_meter = true;
    w->stretch.import_limit_kw = meter->import_limit_kw;
    w->stretch.export_limit_kw = meter->export_limit_kw;
  }
  if (hub != NULL) {
    w->run->has_hub = true;
    status = compile_hub(w, hub, w->site->hubs->entries[0].name, initial, error);
  } else if (steading_record_given(initial, "state_of_charge")) {
    status = steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.state_of_charge",
                           "the site has no battery");
  }
  if (w->site->water != NULL) compile_water(w, w->site->water, initial);
  if (status == STEADING_OK && !w->run->has_water && steading_record_given(initial, "tank_share"))
    status = steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.tank_share",
                           "the site has no tank");
  if (status == STEADING_OK)
    status = steading_loads_gather(w->site->buildings, true, &w->hub_loads, error);
  if (status == STEADING_OK)
    status = steading_loads_gather(w->site->buildings, false, &w->meter_loads, error);
  return status;
}

static steading_status allocate(work *w, int keep, steading_error *error) {
  steading_run *run = w->run;
  size_t n = STEADING_HOURS_PER_YEAR;
  run->month_count = (size_t)run->years * 12;
  run->months = calloc(run->month_count, sizeof *run->months);
  run->meter_count = run->has_meter ? 1 : 0;
  run->meters = calloc(1, sizeof *run->meters);
  if (run->meters == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  if (run->has_meter) {
    run->meters->name = w->site->meters->entries[0].name;
    run->meters->buckets = w->plan != NULL ? w->plan->buckets : 1;
    run->meters->by_month =
        calloc(run->month_count * run->meters->buckets, sizeof *run->meters->by_month);
  }
  w->hours = malloc(n * sizeof *w->hours);
  w->pv_kw = malloc(n * sizeof *w->pv_kw);
  w->hub_kw = malloc(n * sizeof *w->hub_kw);
  w->meter_kw = malloc(n * sizeof *w->meter_kw);
  if (keep == 2) {
    run->step_count = n * (size_t)run->years;
    run->steps = malloc(run->step_count * sizeof *run->steps);
    w->flows = run->steps;
  } else {
    w->flows = malloc(LONGEST_MONTH_H * sizeof *w->flows);
  }
  if (run->months == NULL || (run->has_meter && run->meters->by_month == NULL) ||
      w->hours == NULL || w->pv_kw == NULL || w->hub_kw == NULL || w->meter_kw == NULL ||
      w->flows == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  return STEADING_OK;
}

static int64_t date_of(const steading_lot *lot, int64_t start_day) {
  return steading_record_given(lot, "in_service") ? lot->in_service : start_day;
}

/* Modules in the lots that came into service with lot `i`; 0 when an earlier lot has counted them.
 * Added as whole numbers, so that two lots of one day are the same as one bigger lot to the bit. */
static double count_of_day(const steading_list *lots, size_t i, int64_t start_day) {
  int64_t day = date_of((const void *)lots->items[i], start_day);
  double count = 0;
  for (size_t k = 0; k < lots->count; k++) {
    const steading_lot *lot = (const void *)lots->items[k];
    if (date_of(lot, start_day) != day) continue;
    if (k < i) return 0;
    count += lot->count;
  }
  return count;
}

/* Age in years of a lot at the start of a year of the run. */
static double age_years(const steading_lot *lot, int64_t start_day, int run_year) {
  if (!steading_record_given(lot, "in_service")) return run_year;
  return run_year + steading_years_between(lot->in_service, start_day);
}

static void sun_of_year(work *w, int run_year) {
  size_t steps = w->weather->steps;
  memset(w->pv_kw, 0, STEADING_HOURS_PER_YEAR * sizeof *w->pv_kw);
  for (size_t a = 0; a < w->array_count; a++) {
    array_part *part = &w->arrays[a];
    const steading_list *lots = part->array->lots;
    double kw_each = part->array->module->watts / 1000;
    size_t at = ((size_t)run_year * STEADING_HOURS_PER_YEAR + w->first_hour) % steps;
    for (int m = 0; m < 12; m++) {
      double kw = lots == NULL ? kw_each * steading_array_left(part->array, m, run_year) : 0;
      for (size_t l = 0; lots != NULL && l < lots->count; l++) {
        const steading_lot *lot = (const void *)lots->items[l];
        kw += count_of_day(lots, l, w->start_day) * kw_each *
              steading_array_left(part->array, m, age_years(lot, w->start_day, run_year));
      }
      part->kw_of_month[m] = kw;
    }
    for (size_t i = 0; i < STEADING_HOURS_PER_YEAR; i++) {
      w->pv_kw[i] += part->kw_of_month[w->hours[i].standard_month - 1] * part->yield[at];
      at = at + 1 == steps ? 0 : at + 1;
    }
  }
}

/* --- sinks -------------------------------------------------------------------------------------
 */

/* Add the flows of four steps at a time: each sum still takes its steps in order, so that its bits
 * do not depend on it, and the sums are loaded and stored a quarter as often. */
static void add_flows(double *restrict sum, const steading_flow *restrict flows, size_t count) {
  size_t i = 0;
  for (; i + 4 <= count; i += 4) {
    const double *a = (const double *)&flows[i], *b = (const double *)&flows[i + 1];
    const double *c = (const double *)&flows[i + 2], *d = (const double *)&flows[i + 3];
    for (size_t k = 0; k < STEADING_FLOW_COUNT; k++)
      sum[k] = (((sum[k] + a[k]) + b[k]) + c[k]) + d[k];
  }
  for (; i < count; i++)
    for (size_t k = 0; k < STEADING_FLOW_COUNT; k++) sum[k] += ((const double *)&flows[i])[k];
}

static void month_sink(steading_month *m, const steading_flow *flows, size_t count) {
  double peak_import = 0, peak_load = 0, hub_peak = 0, miss = 0;
  double lowest_stored = (double)INFINITY, lowest_tank = (double)INFINITY;
  for (size_t i = 0; i < count; i++) {
    const steading_flow *f = &flows[i];
    double load = f->hub_load + f->meter_load;
    peak_import = f->import > peak_import ? f->import : peak_import;
    peak_load = load > peak_load ? load : peak_load;
    hub_peak = f->hub_load > hub_peak ? f->hub_load : hub_peak;
    lowest_stored = f->stored_kwh < lowest_stored ? f->stored_kwh : lowest_stored;
    lowest_tank = f->tank_level_l < lowest_tank ? f->tank_level_l : lowest_tank;
    miss += fabs(f->pv_used + f->import - f->hub_served - f->meter_served - f->export -
                 f->inverter_loss - f->battery_loss - f->standby - f->stored_change);
  }
  add_flows((double *)&m->sum, flows, count);
  m->steps = count;
  m->peak_import_kw = peak_import;
  m->peak_load_kw = peak_load;
  m->hub_peak_load_kw = hub_peak;
  m->lowest_stored_kwh = lowest_stored;
  m->lowest_tank_l = lowest_tank;
  m->closure_error_kwh = miss;
}

/* Import and export by civil month and bucket. An hour whose civil month lies before or after the
 * run belongs to its first or last month. */
static void bucket_sink(work *w, size_t month_index, const steading_civil_step *hours,
                        const steading_flow *flows, size_t count) {
  const steading_run *run = w->run;
  for (size_t i = 0; i < count; i++) {
    const steading_civil_step *h = &hours[i];
    size_t month = month_index;
    size_t bucket = w->plan != NULL ? steading_meter_plan_bucket(w->plan, h) : 0;
    if (h->next_month > 0 && month + 1 < run->month_count) month++;
    if (h->next_month < 0 && month > 0) month--;
    run->meters->by_month[month * run->meters->buckets + bucket].import_kwh += flows[i].import;
    run->meters->by_month[month * run->meters->buckets + bucket].export_kwh += flows[i].export;
  }
}

static void run_year(work *w, int year) {
  steading_run *run = w->run;
  size_t at = 0;
  steading_clock_year(run->start_year + year, run->start_month, w->zone,
                      w->weather->place.utc_offset_h, 60, w->hours);
  steading_loads_year(w->hub_loads, year, w->hours, w->first_hour, w->hub_kw);
  steading_loads_year(w->meter_loads, year, w->hours, w->first_hour, w->meter_kw);
  sun_of_year(w, year);
  for (int k = 0; k < 12; k++) {
    int month = (run->start_month - 1 + k) % 12;
    size_t index = (size_t)year * 12 + (size_t)k;
    size_t count =
        24u * (size_t)(steading_days_before_month[month + 1] - steading_days_before_month[month]);
    steading_month *m = &run->months[index];
    steading_flow *flows = w->flows;
    if (run->step_count > 0) flows += (size_t)year * STEADING_HOURS_PER_YEAR + at;
    m->year = run->start_year + year + (run->start_month - 1 + k) / 12;
    m->month = month + 1;
    w->stretch.draw_l = w->run->has_water ? steading_users_l_per_h(w->users, month) : 0;
    steading_kernel_run(&w->stretch, &w->state, count, w->pv_kw + at, w->hub_kw + at,
                        w->meter_kw + at, flows);
    month_sink(m, flows, count);
    if (run->has_meter) bucket_sink(w, index, w->hours + at, flows, count);
    at += count;
  }
}

steading_status steading_run_simulate(const steading_site *site, const steading_simulate *options,
                                      const steading_zone *zone,
                                      const steading_meter_plan *const *plans, steading_run **out,
                                      steading_error *error) {
  work w = {.site = site,
            .weather = site->weather,
            .zone = zone,
            .plan = plans == NULL ? NULL : plans[0]};
  steading_status status = STEADING_OK;
  *out = NULL;
  w.run = calloc(1, sizeof *w.run);
  if (w.run == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  w.run->site = steading_record_keep(site);
  w.run->years = (int)options->years;
  w.run->keep = options->keep;
  w.run->step_minutes = 60;
  status = compile(&w, options, error);
  if (status == STEADING_OK) status = allocate(&w, options->keep, error);
  for (int year = 0; status == STEADING_OK && year < w.run->years; year++) run_year(&w, year);
  steading_loads_free(w.hub_loads);
  steading_loads_free(w.meter_loads);
  free(w.hours);
  free(w.pv_kw);
  free(w.hub_kw);
  free(w.meter_kw);
  if (w.run->steps == NULL) free(w.flows);
  if (status != STEADING_OK) {
    steading_run_release(w.run);
    return status;
  }
  *out = w.run;
  return STEADING_OK;
}

void steading_run_release(steading_run *run) {
  if (run == NULL) return;
  steading_record_release(run->site);
  free(run->months);
  for (size_t i = 0; run->meters != NULL && i < run->meter_count; i++)
    free(run->meters[i].by_month);
  free(run->meters);
  free(run->steps);
  free(run);
}
