#include "dispatch/run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "demand/loads.h"
#include "dispatch/arrays.h"
#include "dispatch/health.h"
#include "dispatch/keep.h"
#include "series.h"
#include "site/window.h"

/* Steps of a block: its rows stay in the nearest cache while all sinks take them. */
enum { LONGEST_BLOCK = 120, MOST_SINKS = 4 };

/* Everything the loop needs, allocated before it. */
typedef struct work {
  const steading_run *run;
  const steading_simulate *options;
  steading_program program;
  const steading_sink *sinks;
  size_t sink_count;
  steading_loads *hub_loads[STEADING_MOST_HUBS], *meter_loads[STEADING_MOST_METERS];
  steading_arrays *arrays;
  size_t first_hour;
  int64_t *changes; /* days on which lots arrive or leave */
  size_t change_count;
  steading_state state;
  steading_stretch up, now; /* of the day at hand: with every grid up, and as grids are */
  steading_health *health;  /* NULL: no battery ages */
  double capacity_kwh[STEADING_MOST_HUBS], nominal_kwh[STEADING_MOST_HUBS],
      delivered_kwh[STEADING_MOST_HUBS], removed_kwh[STEADING_MOST_HUBS],
      fade_kwh[STEADING_MOST_HUBS];
  steading_civil_step *civil;        /* [steps per year] */
  uint16_t *down;                    /* [steps per year], or NULL where no grid is ever down */
  double *pv_kw, *hub_kw, *meter_kw; /* [hubs or meters][steps per year] */
  double *held_kw;                   /* what MPPT inputs hold back, or NULL without any */
  double *ac_share;                  /* [hubs][steps per year], or NULL where no unit derates */
  double *flows;                     /* [LONGEST_BLOCK][width] */
} work;

/* --- preparing -----------------------------------------------------------------------------------
 */

/* The year in which a run starts that gives no start and has no dated lot: any would do, and one
 * that does not follow the clock gives the same result every day. */
enum { START_YEAR_WITHOUT_DATES = 2027 };

static int64_t start_of(const steading_site *site, const steading_simulate *options) {
  int64_t day = 0;
  if (steading_record_given(options, "start")) return options->start;
  if (steading_site_earliest(site, &day)) return day;
  return steading_day_number(START_YEAR_WITHOUT_DATES, 1, 1);
}

static bool of_hub(const void *context, const char *name, const steading_building *building) {
  (void)name;
  return building->hub != NULL && strcmp(building->hub, context) == 0;
}

static bool of_meter(const void *context, const char *name, const steading_building *building) {
  (void)name;
  return building->meter != NULL && strcmp(building->meter, context) == 0;
}

static steading_status gather_loads(work *w, steading_error *error) {
  const steading_map *buildings = w->run->site->buildings;
  steading_status status = STEADING_OK;
  for (size_t i = 0; status == STEADING_OK && i < w->program.layout.hubs; i++)
    status = steading_loads_gather(buildings, of_hub, w->program.hubs[i].name,
                                   w->program.step_minutes, &w->hub_loads[i], error);
  for (size_t m = 0; status == STEADING_OK && m < w->program.layout.meters; m++)
    status = steading_loads_gather(buildings, of_meter, w->program.meter_names[m],
                                   w->program.step_minutes, &w->meter_loads[m], error);
  return status;
}

static steading_status set_state(work *w, steading_error *error) {
  const steading_initial *initial = w->options->initial;
  const steading_layout *at = &w->program.layout;
  bool charged = initial != NULL && steading_record_given(initial, "state_of_charge");
  double tank_share = initial != NULL ? initial->tank_share : 0.5;
  bool any = false;
  steading_program_stretch(&w->program, w->program.start_day, w->run->start_month - 1, &w->up);
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub_stretch *h = &w->up.hubs[i];
    double capacity = steading_program_capacity_kwh(&w->program, i, w->program.start_day);
    w->state.stored_kwh[i] = (h->floor_kwh + h->highest_kwh) / 2;
    if (!charged || !(capacity > 0)) continue;
    any = true;
    w->state.stored_kwh[i] = initial->state_of_charge * capacity;
    if (w->state.stored_kwh[i] < h->lowest_kwh || w->state.stored_kwh[i] > h->highest_kwh)
      return steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.state_of_charge",
                           "%.12g is outside the usable %.12g to %.12g of hub '%s'",
                           initial->state_of_charge, h->lowest_kwh / capacity,
                           h->highest_kwh / capacity, w->program.hubs[i].name);
  }
  if (charged && !any)
    return steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.state_of_charge",
                         "the site has no battery");
  if (at->tanks == 0 && initial != NULL && steading_record_given(initial, "tank_share"))
    return steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.tank_share",
                         "the site has no tank");
  for (size_t t = 0; t < at->tanks; t++) {
    w->state.tank_l[t] = tank_share * w->up.tanks[t].full_l;
    w->state.filling[t] = w->state.tank_l[t] < w->up.tanks[t].start_l ? 1 : 0;
  }
  return STEADING_OK;
}

static steading_status allocate(work *w, steading_error *error) {
  size_t n = w->program.steps_per_year;
  const steading_layout *at = &w->program.layout;
  size_t days = steading_program_changes(&w->program, NULL, 0);
  bool outages = false, derates = false;
  for (size_t m = 0; m < at->meters; m++)
    outages = outages || w->program.meters[m]->outages != NULL;
  for (size_t i = 0; i < at->hubs; i++)
    derates = derates || w->program.hubs[i].hub->inverter->unit->derate != NULL;
  w->changes = calloc(days + 1, sizeof *w->changes);
  w->civil = malloc(n * sizeof *w->civil);
  w->pv_kw = malloc((at->hubs + 1) * n * sizeof *w->pv_kw);
  w->hub_kw = malloc((at->hubs + 1) * n * sizeof *w->hub_kw);
  w->meter_kw = malloc((at->meters + 1) * n * sizeof *w->meter_kw);
  w->flows = malloc(LONGEST_BLOCK * at->width * sizeof *w->flows);
  if (outages) w->down = malloc(n * sizeof *w->down);
  if (steading_arrays_on_inputs(w->arrays)) w->held_kw = malloc(at->hubs * n * sizeof *w->held_kw);
  if (derates) w->ac_share = malloc(at->hubs * n * sizeof *w->ac_share);
  if (w->changes == NULL || w->civil == NULL || w->pv_kw == NULL || w->hub_kw == NULL ||
      w->meter_kw == NULL || w->flows == NULL || (outages && w->down == NULL) ||
      (steading_arrays_on_inputs(w->arrays) && w->held_kw == NULL) ||
      (derates && w->ac_share == NULL))
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  w->change_count = steading_program_changes(&w->program, w->changes, days);
  return STEADING_OK;
}

static void clear(work *w) {
  for (size_t i = 0; i < STEADING_MOST_HUBS; i++) steading_loads_free(w->hub_loads[i]);
  for (size_t m = 0; m < STEADING_MOST_METERS; m++) steading_loads_free(w->meter_loads[m]);
  steading_arrays_free(w->arrays);
  free(w->changes);
  free(w->civil);
  free(w->down);
  free(w->pv_kw);
  free(w->held_kw);
  free(w->hub_kw);
  free(w->meter_kw);
  free(w->ac_share);
  free(w->flows);
  steading_health_free(w->health);
}

/* --- a year --------------------------------------------------------------------------------------
 */

/* Which grids are down in each step of the year. */
static steading_status set_down(work *w, steading_error *error) {
  if (w->down == NULL) return STEADING_OK;
  memset(w->down, 0, w->program.steps_per_year * sizeof *w->down);
  for (size_t m = 0; m < w->program.layout.meters; m++) {
    const steading_outages *outages = w->program.meters[m]->outages;
    if (outages == NULL) continue;
    for (size_t i = 0; i < w->program.steps_per_year; i++) {
      const steading_civil_step *s = &w->civil[i];
      double share = steading_windows_share(outages->windows, s->month, s->weekday, s->month_before,
                                            s->minute, w->program.step_minutes);
      char path[128];
      if (share == 1) w->down[i] |= (uint16_t)(1u << m);
      if (share == 0 || share == 1) continue;
      snprintf(path, sizeof path, "site.meters.%s.outages.windows", w->program.meter_names[m]);
      return steading_fail(error, STEADING_BAD_INPUT, path,
                           "an outage begins or ends within the step of %d minutes at %02d:%02d; "
                           "simulate with finer step_minutes",
                           w->program.step_minutes, s->minute / 60, s->minute % 60);
    }
  }
  return STEADING_OK;
}

/* What heat leaves of the AC power of inverters, by the temperature of each step. */
static void set_derating(work *w, int run_year, const steading_section *sections, size_t count) {
  const steading_weather *weather = w->run->site->weather;
  size_t n = w->program.steps_per_year, ours = (size_t)w->program.step_minutes;
  size_t its = (size_t)weather->step_minutes;
  size_t start = steading_arrays_start_minute(&w->program, run_year);
  for (size_t i = 0; w->ac_share != NULL && i < w->program.layout.hubs; i++) {
    const steading_inverter *inverter = w->program.hubs[i].hub->inverter;
    bool indoors = steading_record_given(inverter, "room_c");
    double *share = w->ac_share + i * n;
    for (size_t s = 0; s < count; s++) {
      size_t end = sections[s].first + sections[s].count;
      for (size_t k = sections[s].first; k < end; k++) {
        double temp_c = indoors ? inverter->room_c[sections[s].month]
                                : steading_series_mean(weather->temp_c, weather->steps, its,
                                                       start + k * ours, ours);
        share[k] = steading_inverter_derated_share(inverter->unit, temp_c);
      }
    }
  }
}

/* Lots that arrive bring some charge, those that leave take their share. */
static void exchange_lots(work *w, int64_t day) {
  for (size_t i = 0; i < w->program.layout.hubs; i++) {
    double removed = w->state.stored_kwh[i] * steading_program_removed_share(&w->program, i, day);
    double delivered = steading_program_delivered_kwh(&w->program, i, day);
    w->removed_kwh[i] += removed;
    w->delivered_kwh[i] += delivered;
    w->state.stored_kwh[i] += delivered - removed;
  }
  for (size_t t = 0; t < w->program.layout.tanks; t++) { /* a tank that leaves takes its water */
    const steading_list *lots = w->program.tanks[t].tank->lots;
    double before = steading_lots_on(lots, day - 1), gone = 0;
    for (size_t l = 0; lots != NULL && l < lots->count; l++) {
      const steading_lot *lot = (const void *)lots->items[l];
      if (steading_record_given(lot, "retired") && lot->retired == day &&
          !(steading_record_given(lot, "in_service") && lot->in_service >= day))
        gone += lot->count;
    }
    if (gone > 0 && before > 0) w->state.tank_l[t] *= 1 - gone / before;
  }
}

/* At the turn of a year: batteries that aged out are replaced. */
static void exchange_aged(work *w) {
  for (size_t i = 0; i < w->program.layout.hubs; i++) {
    w->removed_kwh[i] = w->state.stored_kwh[i] * steading_health_replaced_share(w->health, i);
    w->delivered_kwh[i] = steading_health_replacement_kwh(w->health, i);
    w->state.stored_kwh[i] += w->delivered_kwh[i] - w->removed_kwh[i];
  }
}

/* What is stored above the window that faded capacity leaves is lost. */
static void lose_faded(work *w) {
  for (size_t i = 0; i < w->program.layout.hubs; i++) {
    double over = w->state.stored_kwh[i] - w->up.hubs[i].highest_kwh;
    if (!steading_health_has(w->health, i) || !(over > 0)) continue;
    w->fade_kwh[i] = over;
    w->state.stored_kwh[i] = w->up.hubs[i].highest_kwh;
  }
}

/* What inputs hold back was there, and was not taken. */
static void add_held(work *w, size_t first, size_t count) {
  const steading_layout *at = &w->program.layout;
  for (size_t i = 0; i < at->hubs; i++) {
    const double *held = w->held_kw + i * w->program.steps_per_year + first;
    for (size_t k = 0; k < count; k++) {
      steading_hub_flow *flow = (steading_hub_flow *)(w->flows + k * at->width + at->first_hub) + i;
      flow->pv_available += held[k];
      flow->pv_curtailed += held[k];
    }
  }
}

static steading_status run_section(work *w, const steading_section *s, int run_year,
                                   steading_error *error) {
  const steading_layout *at = &w->program.layout;
  size_t n = w->program.steps_per_year, a_day = n / STEADING_DAYS_PER_YEAR;
  size_t end = s->first + s->count;
  int year = 0, month = 0, day = 0;
  steading_date_of_day(s->day, &year, &month, &day);
  memset(w->delivered_kwh, 0, sizeof w->delivered_kwh);
  memset(w->removed_kwh, 0, sizeof w->removed_kwh);
  memset(w->fade_kwh, 0, sizeof w->fade_kwh);
  bool turns = w->health != NULL && run_year > 0 && s->first == 0;
  if (turns) exchange_aged(w);
  if (s->lots_change) exchange_lots(w, s->day);
  steading_program_stretch(&w->program, s->day, s->month, &w->up);
  if (turns) lose_faded(w);
  for (size_t i = 0; i < at->hubs; i++) {
    w->capacity_kwh[i] = steading_program_capacity_kwh(&w->program, i, s->day);
    w->nominal_kwh[i] = steading_program_nominal_kwh(&w->program, i, s->day);
  }
  for (size_t first = s->first; first < end;) {
    uint16_t down = w->down == NULL ? 0 : w->down[first];
    size_t count = end - first < LONGEST_BLOCK ? end - first : LONGEST_BLOCK;
    steading_block block = {.program = &w->program, .layout = at};
    if (w->down != NULL)
      for (size_t i = 1; i < count; i++)
        if (w->down[first + i] != down) count = i;
    block.stretch = &w->up;
    if (down != 0) {
      w->now = w->up;
      steading_program_take_down(&w->program, s->day, down, &w->now);
      block.stretch = &w->now;
    }
    steading_kernel_run(block.stretch, &w->state, count, n, w->pv_kw + first, w->hub_kw + first,
                        w->meter_kw + first, w->ac_share == NULL ? NULL : w->ac_share + first,
                        w->flows);
    if (w->held_kw != NULL) add_held(w, first, count);
    block.first_step = (size_t)run_year * n + first;
    block.count = count;
    block.month_index =
        (size_t)run_year * 12 + (size_t)((s->month - (w->run->start_month - 1) + 12) % 12);
    block.year = year;
    block.month = month;
    block.day = day + (int)((first - s->first) / a_day);
    block.minute = (int)((first - s->first) % a_day) * w->program.step_minutes;
    block.down = down;
    block.capacity_kwh = w->capacity_kwh;
    block.nominal_kwh = w->nominal_kwh;
    block.fade_kwh = w->fade_kwh;
    block.delivered_kwh = w->delivered_kwh;
    block.removed_kwh = w->removed_kwh;
    block.civil = w->civil + first;
    block.ac_share = w->ac_share == NULL ? NULL : w->ac_share + first;
    block.ac_share_stride = n;
    block.flows = w->flows;
    for (size_t k = 0; k < w->sink_count; k++) {
      steading_status status = w->sinks[k].take(w->sinks[k].context, &block, error);
      if (status != STEADING_OK) return status;
    }
    if (w->health != NULL) steading_health_take(w->health, &block);
    memset(w->delivered_kwh, 0, sizeof w->delivered_kwh);
    memset(w->removed_kwh, 0, sizeof w->removed_kwh);
    memset(w->fade_kwh, 0, sizeof w->fade_kwh);
    first += count;
  }
  return STEADING_OK;
}

static steading_status run_year(work *w, int year, steading_error *error) {
  const steading_layout *at = &w->program.layout;
  size_t n = w->program.steps_per_year, count = 0;
  steading_section sections[STEADING_MOST_SECTIONS];
  steading_load_year load_year = {.run_year = year,
                                  .start_day = w->program.start_day,
                                  .first_hour = w->first_hour,
                                  .steps = w->civil};
  steading_status status = STEADING_OK;
  steading_clock_year(w->run->start_year + year, w->run->start_month, w->run->zone,
                      w->run->site->weather->place.utc_offset_h, w->program.step_minutes, w->civil);
  status = set_down(w, error);
  if (status != STEADING_OK) return status;
  for (size_t i = 0; i < at->hubs; i++)
    steading_loads_year(w->hub_loads[i], &load_year, w->hub_kw + i * n);
  for (size_t m = 0; m < at->meters; m++)
    steading_loads_year(w->meter_loads[m], &load_year, w->meter_kw + m * n);
  count = steading_sections_of_year(&w->program, w->changes, w->change_count, year, sections);
  steading_arrays_year(w->arrays, year, sections, count, w->pv_kw, w->held_kw, NULL);
  set_derating(w, year, sections, count);
  for (size_t s = 0; status == STEADING_OK && s < count; s++)
    status = run_section(w, &sections[s], year, error);
  return status;
}

/* `found` gets what the run finds out by itself; NULL: that is known. */
static steading_status go(const steading_run *run, const steading_sink *sinks, size_t sink_count,
                          steading_run *found, steading_error *error) {
  work *w = calloc(1, sizeof *w);
  steading_status status = STEADING_OK;
  if (w == NULL) return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  w->run = run;
  w->options = run->options;
  w->sinks = sinks;
  w->sink_count = sink_count;
  w->first_hour = (size_t)steading_days_before_month[run->start_month - 1] * 24;
  status =
      steading_program_compile(run->site, run->step_minutes, run->start_day, &w->program, error);
  if (status == STEADING_OK)
    status = steading_health_new(&w->program, run->years, &w->health, error);
  w->program.health = w->health;
  if (status == STEADING_OK) status = gather_loads(w, error);
  if (status == STEADING_OK)
    status = steading_arrays_gather(&w->program, run->site->weather, &w->arrays, error);
  if (status == STEADING_OK) status = allocate(w, error);
  if (status == STEADING_OK) status = set_state(w, error);
  for (int year = 0; status == STEADING_OK && year < run->years; year++) {
    status = run_year(w, year, error);
    if (w->health != NULL && year + 1 < run->years) steading_health_turn(w->health, year);
  }
  if (found != NULL && w->health != NULL)
    found->replacements = steading_health_replacements(w->health, &found->replacement_count);
  clear(w);
  free(w);
  return status;
}

/* --- a run ---------------------------------------------------------------------------------------
 */

static size_t count_of(const steading_map *map) { return map == NULL ? 0 : map->count; }

static steading_status prepare(steading_run *run, const steading_meter_plan *const *plans,
                               steading_error *error) {
  const steading_water *water = run->site->water;
  int day = 0;
  run->start_day = start_of(run->site, run->options);
  steading_date_of_day(run->start_day, &run->start_year, &run->start_month, &day);
  run->years = (int)run->options->years;
  run->keep = run->options->keep;
  run->step_minutes = (int)run->options->step_minutes;
  run->layout = steading_layout_of(count_of(run->site->hubs), count_of(run->site->meters),
                                   water == NULL ? 0 : count_of(water->wells),
                                   water == NULL ? 0 : count_of(water->tanks));
  run->month_count = (size_t)run->years * 12;
  return steading_keep_prepare(run, plans, error);
}

steading_status steading_run_simulate(const steading_site *site, const steading_simulate *options,
                                      const steading_zone *zone,
                                      const steading_meter_plan *const *plans, steading_run **out,
                                      steading_error *error) {
  steading_run *run = calloc(1, sizeof *run);
  steading_status status = STEADING_OK;
  *out = NULL;
  if (run == NULL) return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  run->site = steading_record_keep(site);
  run->options = steading_record_keep(options);
  run->zone = zone;
  status = prepare(run, plans, error);
  if (status == STEADING_OK) {
    steading_keep keep = {.run = run, .plans = plans};
    steading_sink sinks[MOST_SINKS];
    size_t count = steading_keep_sinks(&keep, sinks);
    status = go(run, sinks, count, run, error);
  }
  if (status != STEADING_OK) {
    steading_run_release(run);
    return status;
  }
  *out = run;
  return STEADING_OK;
}

steading_status steading_run_repeat(const steading_run *run, const steading_sink *sink,
                                    steading_error *error) {
  return go(run, sink, 1, NULL, error);
}

void steading_run_release(steading_run *run) {
  if (run == NULL) return;
  steading_keep_release(run);
  steading_record_release(run->site);
  steading_record_release(run->options);
  free(run->replacements);
  free(run);
}

void steading_run_time(const steading_run *run, size_t step, int *year, int *month, int *day,
                       int *minute) {
  size_t a_day = (size_t)(1440 / run->step_minutes);
  size_t days = step / a_day + (size_t)steading_days_before_month[run->start_month - 1];
  *minute = (int)(step % a_day) * run->step_minutes;
  *year = run->start_year + (int)(days / STEADING_DAYS_PER_YEAR);
  steading_month_of_day((int)(days % STEADING_DAYS_PER_YEAR), month, day);
}
