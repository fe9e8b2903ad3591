#include "dispatch/keep.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "dispatch/batteries.h"
#include "dispatch/reason.h"

/* --- months --------------------------------------------------------------------------------------
 */

/* Add rows of flows four at a time: each sum still takes its steps in order, so that its bits do
 * not depend on it, and the sums are loaded and stored a quarter as often. */
static void add_flows(double *restrict sum, const double *restrict flows, size_t width,
                      size_t count) {
  size_t i = 0;
  for (; i + 4 <= count; i += 4, flows += 4 * width) {
    const double *a = flows, *b = a + width, *c = b + width, *d = c + width;
    for (size_t k = 0; k < width; k++) sum[k] = (((sum[k] + a[k]) + b[k]) + c[k]) + d[k];
  }
  for (; i < count; i++, flows += width)
    for (size_t k = 0; k < width; k++) sum[k] += flows[k];
}

static inline double larger(double a, double b) { return a > b ? a : b; }
static inline double smaller(double a, double b) { return a < b ? a : b; }

/* What a block adds to a month beside its sums, gathered in one pass over its rows. */
typedef struct extremes {
  double peak_import_kw, peak_load_kw, miss_kw;
  double hub_peak_load_kw[STEADING_MOST_HUBS], hub_lowest_kwh[STEADING_MOST_HUBS];
  double meter_peak_import_kw[STEADING_MOST_METERS], tank_lowest_l[STEADING_MOST_TANKS];
} extremes;

static inline __attribute__((always_inline)) void find_extremes(const steading_block *b,
                                                                extremes *e, const size_t hubs,
                                                                const size_t meters,
                                                                const size_t tanks,
                                                                const size_t generators) {
  const steading_layout at = *b->layout;
  const double *row = b->flows;
  e->peak_import_kw = e->peak_load_kw = e->miss_kw = 0;
  for (size_t i = 0; i < hubs; i++) {
    e->hub_peak_load_kw[i] = 0;
    e->hub_lowest_kwh[i] = (double)INFINITY;
  }
  for (size_t m = 0; m < meters; m++) e->meter_peak_import_kw[m] = 0;
  for (size_t t = 0; t < tanks; t++) e->tank_lowest_l[t] = (double)INFINITY;
  for (size_t s = 0; s < b->count; s++, row += at.width) {
    double import = 0, load = 0, miss = 0; /* miss: what the site's equation leaves over */
    for (size_t i = 0; i < hubs; i++) {
      const steading_hub_flow *f = steading_hub_flow_of(&at, row, i);
      load += f->load;
      miss += f->pv_used - f->served - f->inverter_loss - f->battery_loss - f->standby - f->heater -
              f->stored_change;
      e->hub_peak_load_kw[i] = larger(e->hub_peak_load_kw[i], f->load);
      e->hub_lowest_kwh[i] = smaller(e->hub_lowest_kwh[i], f->stored_kwh);
    }
    for (size_t i = 0; i < generators; i++) miss += steading_generator_flow_of(&at, row, i)->power;
    for (size_t m = 0; m < meters; m++) {
      const steading_meter_flow *f = steading_meter_flow_of(&at, row, m);
      import += f->import;
      load += f->load;
      miss += f->import - f->served - f->export;
      e->meter_peak_import_kw[m] = larger(e->meter_peak_import_kw[m], f->import);
    }
    for (size_t t = 0; t < tanks; t++)
      e->tank_lowest_l[t] =
          smaller(e->tank_lowest_l[t], steading_tank_flow_of(&at, row, t)->level_l);
    e->peak_import_kw = larger(e->peak_import_kw, import);
    e->peak_load_kw = larger(e->peak_load_kw, load);
    e->miss_kw += fabs(miss);
  }
}

static void keep_batteries(steading_run *run, const steading_block *b) {
  double h = b->stretch->step_h;
  for (size_t i = 0; i < run->battery_count; i++) {
    steading_battery_month *to = &run->battery_months[b->month_index * run->battery_count + i];
    const double *row = b->flows;
    double lowest_kwh = (double)INFINITY;
    for (size_t s = 0; s < b->count; s++, row += b->layout->width) {
      const steading_pool_flow f = steading_battery_flow_of(b->program, row, i);
      to->in_kwh += f.in * h;
      to->out_kwh += f.out * h;
      to->loss_kwh += f.loss * h;
      to->stored_kwh_steps += f.stored_kwh;
      lowest_kwh = smaller(lowest_kwh, f.stored_kwh);
    }
    to->nominal_kwh_steps += b->battery_nominal_kwh[i] * (double)b->count;
    to->capacity_kwh_steps += b->battery_kwh[i] * (double)b->count;
    if (b->battery_kwh[i] > 0)
      to->lowest_charge = smaller(to->lowest_charge, lowest_kwh / b->battery_kwh[i]);
  }
}

static steading_status month_sink(void *context, const steading_block *b, steading_error *error) {
  steading_run *run = ((steading_keep *)context)->run;
  const steading_layout *at = b->layout;
  steading_site_month *site = &run->months[b->month_index];
  double *peaks = run->meter_peak_import_kw + b->month_index * at->meters;
  double *lowest = run->tank_lowest + b->month_index * at->tanks;
  extremes e;
  (void)error;
  if (at->hubs == 1 && at->meters == 1 && at->tanks == 1 && at->generators == 0)
    find_extremes(b, &e, 1, 1, 1, 0); /* the usual site, without inner loops */
  else
    find_extremes(b, &e, at->hubs, at->meters, at->tanks, at->generators);
  site->year = b->year;
  site->month = b->month;
  site->steps += b->count;
  if (b->down != 0) site->outage_steps += b->count;
  site->peak_import_kw = larger(site->peak_import_kw, e.peak_import_kw);
  site->peak_load_kw = larger(site->peak_load_kw, e.peak_load_kw);
  site->closure_error_kwh += e.miss_kw * b->stretch->step_h;
  for (size_t i = 0; i < at->hubs; i++) {
    steading_hub_month *hub = &run->hub_months[b->month_index * at->hubs + i];
    hub->peak_load_kw = larger(hub->peak_load_kw, e.hub_peak_load_kw[i]);
    if (b->capacity_kwh[i] > 0)
      hub->lowest_charge = smaller(hub->lowest_charge, e.hub_lowest_kwh[i] / b->capacity_kwh[i]);
    hub->nominal_kwh_steps += b->nominal_kwh[i] * (double)b->count;
    hub->capacity_kwh_steps += b->capacity_kwh[i] * (double)b->count;
    hub->fade_kwh += b->fade_kwh[i];
    hub->delivered_kwh += b->delivered_kwh[i];
    hub->removed_kwh += b->removed_kwh[i];
  }
  for (size_t m = 0; m < at->meters; m++) peaks[m] = larger(peaks[m], e.meter_peak_import_kw[m]);
  for (size_t m = 0; b->down != 0 && m < at->meters; m++)
    if (b->down >> m & 1) run->meter_outage_steps[b->month_index * at->meters + m] += b->count;
  for (size_t t = 0; t < at->tanks; t++) {
    double full = b->stretch->tanks[t].full_l;
    if (full > 0) lowest[t] = smaller(lowest[t], e.tank_lowest_l[t] / full);
  }
  for (size_t f = 0; f < at->fuels; f++) {
    steading_fuel_month *fuel = &run->fuel_months[b->month_index * at->fuels + f];
    for (size_t s = 0; s < b->count; s++) {
      fuel->end_l = steading_fuel_flow_of(at, b->flows + s * at->width, f)->level_l;
      fuel->lowest_l = smaller(fuel->lowest_l, fuel->end_l);
    }
  }
  if (at->pools > 0) keep_batteries(run, b);
  add_flows(run->sums + b->month_index * at->width, b->flows, at->width, b->count);
  return STEADING_OK;
}

/* --- buckets -------------------------------------------------------------------------------------
 */

/* Import and export by civil month and bucket. A step whose civil month lies before or after the
 * run belongs to its first or last month. Most steps fall into the cell of the step before, whose
 * sums stay at hand. */
static steading_status bucket_sink(void *context, const steading_block *b, steading_error *error) {
  const steading_keep *keep = context;
  steading_run *run = keep->run;
  double h = b->stretch->step_h;
  (void)error;
  for (size_t m = 0; m < run->meter_count; m++) {
    const steading_meter_plan *plan = keep->plans == NULL ? NULL : keep->plans[m];
    steading_metered *to = &run->meters[m];
    steading_bucket *cell = &to->by_month[b->month_index * to->buckets], sum = *cell;
    const double *row = b->flows;
    for (size_t s = 0; s < b->count; s++, row += b->layout->width) {
      const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
      size_t month = b->month_index;
      size_t bucket = plan == NULL ? 0 : steading_meter_plan_bucket(plan, &b->civil[s]);
      steading_bucket *here = NULL;
      if (b->civil[s].next_month > 0 && month + 1 < run->month_count) month++;
      if (b->civil[s].next_month < 0 && month > 0) month--;
      here = &to->by_month[month * to->buckets + bucket];
      if (here != cell) {
        *cell = sum;
        cell = here;
        sum = *cell;
      }
      sum.import_kwh += f->import * h;
      sum.export_kwh += f->export * h;
    }
    *cell = sum;
  }
  return STEADING_OK;
}

/* --- steps ---------------------------------------------------------------------------------------
 */

static steading_status step_sink(void *context, const steading_block *b, steading_error *error) {
  steading_run *run = ((steading_keep *)context)->run;
  size_t end = run->first_kept + run->step_count;
  double capacity = 0, tank_l = 0, delivered = 0, removed = 0, fade = 0;
  const steading_kept_change *last =
      run->change_count > 0 ? &run->changes[run->change_count - 1] : NULL;
  for (size_t i = 0; i < b->layout->hubs; i++) {
    capacity += b->capacity_kwh[i];
    delivered += b->delivered_kwh[i];
    removed += b->removed_kwh[i];
    fade += b->fade_kwh[i];
  }
  for (size_t t = 0; t < b->layout->tanks; t++) tank_l += b->stretch->tanks[t].full_l;
  if (last == NULL || last->capacity_kwh != capacity || last->tank_l != tank_l || delivered > 0 ||
      removed > 0 || fade > 0) {
    steading_kept_change *more =
        realloc(run->changes, (run->change_count + 1) * sizeof *run->changes);
    if (more == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
    run->changes = more;
    run->changes[run->change_count++] = (steading_kept_change){.step = b->first_step,
                                                               .capacity_kwh = capacity,
                                                               .tank_l = tank_l,
                                                               .delivered_kwh = delivered,
                                                               .removed_kwh = removed,
                                                               .fade_kwh = fade};
  }
  for (size_t s = 0; s < b->count; s++) {
    size_t step = b->first_step + s;
    if (step < run->first_kept || step >= end) continue;
    memcpy(run->steps + (step - run->first_kept) * b->layout->width,
           b->flows + s * b->layout->width, b->layout->width * sizeof *run->steps);
    run->reasons[step - run->first_kept] = (uint8_t)steading_reason_of_site(b, s);
  }
  return STEADING_OK;
}

/* Which steps are kept. */
static steading_status set_kept(steading_run *run, steading_error *error) {
  const steading_simulate *o = run->options;
  size_t a_day = (size_t)(1440 / run->step_minutes);
  int64_t days = (int64_t)run->years * STEADING_DAYS_PER_YEAR, from = 0, to = days - 1;
  if (steading_record_given(o, "from")) from = steading_days_between(run->start_day, o->from);
  if (steading_record_given(o, "to")) to = steading_days_between(run->start_day, o->to);
  if (from < 0 || from >= days)
    return steading_fail(error, STEADING_BAD_INPUT, "simulate.from", "is not a day of the run");
  if (to < 0 || to >= days)
    return steading_fail(error, STEADING_BAD_INPUT, "simulate.to", "is not a day of the run");
  if (to < from)
    return steading_fail(error, STEADING_BAD_INPUT, "simulate.to", "lies before `from`");
  run->first_kept = (size_t)from * a_day;
  run->step_count = (size_t)(to - from + 1) * a_day;
  return STEADING_OK;
}

/* --- room ----------------------------------------------------------------------------------------
 */

static steading_status prepare_meters(steading_run *run, const steading_meter_plan *const *plans,
                                      steading_error *error) {
  run->meters = calloc(run->layout.meters + 1, sizeof *run->meters);
  if (run->meters == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  run->meter_count = run->layout.meters;
  for (size_t m = 0; m < run->meter_count; m++) {
    steading_metered *to = &run->meters[m];
    to->name = run->site->meters->entries[m].name;
    to->buckets = plans == NULL || plans[m] == NULL ? 1 : plans[m]->buckets;
    to->by_month = calloc(run->month_count * to->buckets, sizeof *to->by_month);
    if (to->by_month == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  }
  return STEADING_OK;
}

steading_status steading_keep_prepare(steading_run *run, const steading_meter_plan *const *plans,
                                      steading_error *error) {
  const steading_layout *at = &run->layout;
  size_t n = run->month_count;
  steading_status status = prepare_meters(run, plans, error);
  if (status == STEADING_OK && run->keep == STEADING_KEEP_STEPS) status = set_kept(run, error);
  if (status != STEADING_OK) return status;
  run->sums = calloc(n * at->width, sizeof *run->sums);
  run->months = calloc(n, sizeof *run->months);
  run->hub_months = calloc(n * at->hubs + 1, sizeof *run->hub_months);
  if (at->pools > 0)
    run->battery_months = calloc(n * run->battery_count + 1, sizeof *run->battery_months);
  run->meter_peak_import_kw = calloc(n * at->meters + 1, sizeof *run->meter_peak_import_kw);
  run->meter_outage_steps = calloc(n * at->meters + 1, sizeof *run->meter_outage_steps);
  run->tank_lowest = calloc(n * at->tanks + 1, sizeof *run->tank_lowest);
  run->fuel_months = calloc(n * at->fuels + 1, sizeof *run->fuel_months);
  if (run->step_count > 0) {
    run->steps = malloc(run->step_count * at->width * sizeof *run->steps);
    run->reasons = calloc(run->step_count, sizeof *run->reasons);
  }
  if (run->sums == NULL || run->months == NULL || run->hub_months == NULL ||
      (at->pools > 0 && run->battery_months == NULL) || run->meter_peak_import_kw == NULL ||
      run->meter_outage_steps == NULL || run->tank_lowest == NULL || run->fuel_months == NULL ||
      (run->step_count > 0 && (run->steps == NULL || run->reasons == NULL)))
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  for (size_t i = 0; i < n * at->hubs; i++) run->hub_months[i].lowest_charge = (double)INFINITY;
  for (size_t i = 0; run->battery_months != NULL && i < n * run->battery_count; i++)
    run->battery_months[i].lowest_charge = (double)INFINITY;
  for (size_t i = 0; i < n * at->tanks; i++) run->tank_lowest[i] = (double)INFINITY;
  for (size_t i = 0; i < n * at->fuels; i++) run->fuel_months[i].lowest_l = (double)INFINITY;
  return STEADING_OK;
}

size_t steading_keep_sinks(steading_keep *keep, steading_sink *sinks) {
  size_t count = 0;
  sinks[count++] = (steading_sink){.take = month_sink, .context = keep};
  if (keep->run->meter_count > 0)
    sinks[count++] = (steading_sink){.take = bucket_sink, .context = keep};
  if (keep->run->step_count > 0)
    sinks[count++] = (steading_sink){.take = step_sink, .context = keep};
  return count;
}

void steading_keep_release(steading_run *run) {
  for (size_t m = 0; m < run->meter_count; m++) free(run->meters[m].by_month);
  free(run->meters);
  free(run->sums);
  free(run->months);
  free(run->hub_months);
  free(run->battery_months);
  free(run->meter_peak_import_kw);
  free(run->meter_outage_steps);
  free(run->tank_lowest);
  free(run->fuel_months);
  free(run->steps);
  free(run->reasons);
  free(run->changes);
}
