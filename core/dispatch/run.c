#include "dispatch/run.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "demand/loads.h"
#include "dispatch/arrays.h"
#include "dispatch/batteries.h"
#include "dispatch/decide.h"
#include "dispatch/forecast.h"
#include "dispatch/generators.h"
#include "dispatch/grids.h"
#include "dispatch/health.h"
#include "dispatch/keep.h"
#include "dispatch/modes.h"
#include "dispatch/rooms.h"
#include "dispatch/turnover.h"
#include "series.h"
#include "site/batteries.h"

/* Steps of a block: its rows stay in the nearest cache while all sinks take them. */
enum { LONGEST_BLOCK = 120, MOST_SINKS = 4 };

/* How a run is gone through: see steading_run_watch. */
typedef struct manner {
  bool watched, without_random;
} manner;

/* Everything the loop needs, allocated before it. */
typedef struct work {
  const steading_run *run;
  const steading_simulate *options;
  steading_program program;
  const steading_sink *sinks;
  size_t sink_count;
  manner how;
  steading_loads *shed_loads[STEADING_MOST_HUBS * STEADING_SHED_CLASSES];
  steading_loads *hub_loads[STEADING_MOST_HUBS], *meter_loads[STEADING_MOST_METERS];
  steading_arrays *arrays;
  size_t first_hour;
  int64_t *changes; /* days on which lots arrive or leave */
  size_t change_count;
  steading_state state, before; /* before the block at hand, in a watch and where loads are shed */
  steading_generators *generators;             /* NULL where no hub has one */
  steading_generators_state sets, sets_before; /* the block at hand, in a watch */
  steading_stretch up, now; /* of the day at hand: with every grid up, and as grids are */
  steading_health *health;  /* NULL: no battery ages */
  double battery_kwh[STEADING_MOST_BATTERIES], battery_nominal_kwh[STEADING_MOST_BATTERIES];
  double capacity_kwh[STEADING_MOST_HUBS], nominal_kwh[STEADING_MOST_HUBS],
      delivered_kwh[STEADING_MOST_HUBS], removed_kwh[STEADING_MOST_HUBS],
      fade_kwh[STEADING_MOST_HUBS];
  steading_civil_step *civil;        /* [steps per year] */
  uint16_t *down;                    /* [steps per year], or NULL where no grid is ever down */
  uint64_t *modes;                   /* [steps per year], or NULL where no rule needs them */
  double *sums, *expected_kwh;       /* of a forecast, [steps per year + 1]; NULL without a need */
  double *sun_24h_kwh;               /* [hubs][steps per year] of what comes, or NULL where no
                                        function decides */
  double *pv_kw, *hub_kw, *meter_kw; /* [hubs or meters][steps per year] */
  double *shed_kw;                   /* [hubs][classes][steps per year], or NULL without shedding */
  double *held_kw;                   /* what MPPT inputs hold back, or NULL without any */
  double *ac_sun;    /* [3][hubs][steps per year], ac_sun_kw, ac_sun_dc_kw and, DC, what their own
                        inverters clip; NULL without AC-coupled arrays */
  double *all_pv_kw; /* pv_kw with AC-coupled arrays, DC; pv_kw itself where there are none */
  double *cold;      /* all of `rooms`, or NULL where no battery's temperature matters */
  steading_room_rows rooms;
  double *ac_share; /* [hubs][steps per year], or NULL where no unit derates */
  double *flows;    /* [LONGEST_BLOCK][width] */
} work;

/* --- preparing -----------------------------------------------------------------------------------
 */

/* The year in which a run starts that gives no start and has no dated lot: any would do, and one
 * that does not follow the clock gives the same result every day. */
enum { START_YEAR_WITHOUT_DATES = 2027 };

int64_t steading_run_start_of(const steading_site *site, const steading_simulate *options) {
  int64_t day = 0;
  if (steading_record_given(options, "start")) return options->start;
  if (steading_site_earliest(site, &day)) return day;
  return steading_day_number(START_YEAR_WITHOUT_DATES, 1, 1);
}

static steading_status gather_loads(work *w, steading_error *error) {
  const steading_map *buildings = w->run->site->buildings;
  steading_status status = STEADING_OK;
  for (size_t i = 0; status == STEADING_OK && i < w->program.layout.hubs; i++)
    status = steading_loads_gather(buildings, steading_building_on_hub, w->program.hubs[i].name,
                                   w->program.step_minutes, &w->hub_loads[i], error);
  for (size_t m = 0; status == STEADING_OK && m < w->program.layout.meters; m++)
    status = steading_loads_gather(buildings, steading_building_on_meter, w->program.meter_names[m],
                                   w->program.step_minutes, &w->meter_loads[m], error);
  if (!steading_program_sheds(&w->program)) return status;
  for (size_t k = 0; status == STEADING_OK && k < w->program.layout.hubs * STEADING_SHED_CLASSES;
       k++)
    status = steading_loads_gather_class(
        buildings, steading_building_on_hub, w->program.hubs[k / STEADING_SHED_CLASSES].name,
        (int)(k % STEADING_SHED_CLASSES), w->program.step_minutes, &w->shed_loads[k], error);
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
    const steading_program_hub *h = &w->program.hubs[i];
    double capacity = steading_program_capacity_kwh(&w->program, i, w->program.start_day);
    steading_batteries_begin(&w->program, i, &w->up,
                             charged && capacity > 0 ? &initial->state_of_charge : NULL, &w->state);
    if (!charged || !(capacity > 0)) continue;
    any = true;
    for (size_t b = 0; b < h->battery_count; b++) {
      const double *usable = steading_battery_at(h->hub, b)->module->usable;
      if (initial->state_of_charge >= usable[0] && initial->state_of_charge <= usable[1]) continue;
      return steading_fail(error, STEADING_BAD_INPUT, "simulate.initial.state_of_charge",
                           "%.12g is outside the usable %.12g to %.12g of hub '%s'",
                           initial->state_of_charge, usable[0], usable[1], h->name);
    }
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

/* Room for what temperature makes of the steps of a year. */
static void make_rooms(work *w) {
  size_t n = w->program.steps_per_year, of_stores = steading_rows_of_stores(&w->program.layout) * n;
  size_t heaters = w->program.layout.hubs * n;
  bool scarce = steading_rooms_scarce(&w->program);
  w->cold = malloc(((scarce ? 4 : 2) * of_stores + heaters) * sizeof *w->cold);
  if (w->cold == NULL) return;
  w->rooms = (steading_room_rows){.heater_kw = w->cold,
                                  .charge_share = w->cold + heaters,
                                  .cold_share = w->cold + heaters + of_stores};
  if (!scarce) return;
  w->rooms.usable_share = w->rooms.cold_share + of_stores;
  w->rooms.cold_usable_share = w->rooms.usable_share + of_stores;
}

static steading_status allocate(work *w, steading_error *error) {
  size_t n = w->program.steps_per_year;
  const steading_layout *at = &w->program.layout;
  size_t days = steading_program_changes(&w->program, NULL, 0);
  bool outages = steading_grids_go_down(&w->program), derates = false,
       modes = steading_program_has_modes(&w->program), decides = steading_decides(&w->program),
       sheds = steading_program_sheds(&w->program), cold = steading_rooms_matter(&w->program);
  for (size_t i = 0; i < at->hubs; i++)
    derates = derates || w->program.hubs[i].hub->inverter->unit->derate != NULL;
  w->changes = calloc(days + 1, sizeof *w->changes);
  w->civil = malloc(n * sizeof *w->civil);
  w->pv_kw = malloc((at->hubs + 1) * n * sizeof *w->pv_kw);
  w->hub_kw = malloc((at->hubs + 1) * n * sizeof *w->hub_kw);
  w->meter_kw = malloc((at->meters + 1) * n * sizeof *w->meter_kw);
  w->flows = malloc(LONGEST_BLOCK * at->width * sizeof *w->flows);
  if (outages) w->down = malloc(n * sizeof *w->down);
  if (modes) w->modes = malloc(n * sizeof *w->modes);
  if (decides) w->sun_24h_kwh = malloc((at->hubs + 1) * n * sizeof *w->sun_24h_kwh);
  if (modes || decides) {
    w->sums = malloc((n + 1) * sizeof *w->sums);
    w->expected_kwh = malloc(n * sizeof *w->expected_kwh);
  }
  w->all_pv_kw = w->pv_kw;
  if (steading_arrays_ac_coupled(w->arrays)) {
    w->ac_sun = malloc(3 * at->hubs * n * sizeof *w->ac_sun);
    w->all_pv_kw = malloc(at->hubs * n * sizeof *w->all_pv_kw);
  }
  if (steading_arrays_on_inputs(w->arrays)) w->held_kw = malloc(at->hubs * n * sizeof *w->held_kw);
  if (sheds) w->shed_kw = malloc(at->hubs * STEADING_SHED_CLASSES * n * sizeof *w->shed_kw);
  if (cold) make_rooms(w);
  if (derates) w->ac_share = malloc(at->hubs * n * sizeof *w->ac_share);
  if (w->changes == NULL || w->civil == NULL || w->pv_kw == NULL || w->hub_kw == NULL ||
      w->meter_kw == NULL || w->flows == NULL || (outages && w->down == NULL) ||
      (steading_arrays_on_inputs(w->arrays) && w->held_kw == NULL) ||
      (steading_arrays_ac_coupled(w->arrays) && (w->ac_sun == NULL || w->all_pv_kw == NULL)) ||
      (derates && w->ac_share == NULL) || (sheds && w->shed_kw == NULL) ||
      (modes && w->modes == NULL) || (decides && w->sun_24h_kwh == NULL) ||
      (cold && w->cold == NULL) ||
      ((modes || decides) && (w->sums == NULL || w->expected_kwh == NULL)))
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  w->change_count = steading_program_changes(&w->program, w->changes, days);
  if (at->generators == 0) return STEADING_OK;
  return steading_generators_make(&w->program, &w->generators, error);
}

static void clear(work *w) {
  for (size_t i = 0; i < STEADING_MOST_HUBS; i++) steading_loads_free(w->hub_loads[i]);
  for (size_t m = 0; m < STEADING_MOST_METERS; m++) steading_loads_free(w->meter_loads[m]);
  for (size_t k = 0; k < STEADING_MOST_HUBS * STEADING_SHED_CLASSES; k++)
    steading_loads_free(w->shed_loads[k]);
  steading_arrays_free(w->arrays);
  steading_generators_free(w->generators);
  free(w->changes);
  free(w->civil);
  free(w->down);
  free(w->modes);
  free(w->sums);
  free(w->expected_kwh);
  free(w->sun_24h_kwh);
  if (w->all_pv_kw != w->pv_kw) free(w->all_pv_kw);
  free(w->ac_sun);
  free(w->pv_kw);
  free(w->held_kw);
  free(w->hub_kw);
  free(w->shed_kw);
  free(w->meter_kw);
  free(w->ac_share);
  free(w->cold);
  free(w->flows);
  steading_health_free(w->health);
}

/* --- a year --------------------------------------------------------------------------------------
 */

/* Which grids are down in each step of the year. */
static steading_status set_down(const work *w, int run_year, steading_error *error) {
  const steading_grids grids = {.program = &w->program,
                                .weather = w->run->site->weather,
                                .without_random = w->how.without_random,
                                .has_seed = steading_record_given(w->options, "seed"),
                                .seed = (uint64_t)w->options->seed};
  if (w->down == NULL) return STEADING_OK;
  return steading_grids_year(&grids, run_year, w->civil, w->down, error);
}

/* What the calendar and the sun ahead make of the rules, in each step of the year. */
static steading_status set_modes(work *w, steading_error *error) {
  const steading_modes modes = {.program = &w->program,
                                .civil = w->civil,
                                .pv_kw = w->all_pv_kw,
                                .sums = w->sums,
                                .expected_kwh = w->expected_kwh};
  if (w->modes == NULL) return STEADING_OK;
  return steading_modes_year(&modes, w->modes, error);
}

/* What AC-coupled arrays give, and with it what all arrays do. */
static void set_ac_sun(work *w, int run_year, const steading_section *sections, size_t count) {
  size_t all = w->program.layout.hubs * w->program.steps_per_year;
  double *ac = w->ac_sun, *dc = ac + all, *clipped = dc + all;
  steading_arrays_ac_year(w->arrays, run_year, sections, count, ac, dc, clipped);
  for (size_t k = 0; k < all; k++) w->all_pv_kw[k] = w->pv_kw[k] + (dc[k] + clipped[k]);
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

/* What the script decides for the step that begins at `first`, in the stretch at hand. */
static steading_status decide(work *w, const steading_section *s, int run_year, size_t first,
                              uint16_t down, int8_t *orders, steading_error *error) {
  int year = 0, month = 0, day = 0;
  steading_date_of_day(s->day, &year, &month, &day);
  const steading_decide_at at = {.program = &w->program,
                                 .day = s->day,
                                 .down = down,
                                 .run_step = (size_t)run_year * w->program.steps_per_year + first,
                                 .year = year,
                                 .month = month,
                                 .civil = &w->civil[first],
                                 .capacity_kwh = w->capacity_kwh,
                                 .pv_kw = w->all_pv_kw + first,
                                 .load_kw = w->hub_kw + first,
                                 .sun_kwh = w->sun_24h_kwh + first,
                                 .stride = w->program.steps_per_year,
                                 .state = &w->state,
                                 .sets = &w->sets};
  return steading_decide(&at, &w->now, orders, error);
}

/* What the kernel is given, from the first step of the year on. */
static steading_step_rows rows_of(const work *w) {
  size_t n = w->program.steps_per_year;
  steading_step_rows rows = {.stride = n,
                             .pv_kw = w->pv_kw,
                             .hub_kw = w->hub_kw,
                             .meter_kw = w->meter_kw,
                             .ac_share = w->ac_share,
                             .shed_kw = w->shed_kw};
  rows.charge_share = w->rooms.charge_share;
  rows.cold_share = w->rooms.cold_share;
  rows.heater_kw = w->rooms.heater_kw;
  rows.usable_share = w->rooms.usable_share;
  rows.cold_usable_share = w->rooms.cold_usable_share;
  if (w->ac_sun != NULL) {
    rows.ac_sun_kw = w->ac_sun;
    rows.ac_sun_dc_kw = w->ac_sun + w->program.layout.hubs * n;
  }
  return rows;
}

/* The kernel over the steps of a block, with the generators where there are any. */
static void run_block(work *w, const steading_block *b, size_t first, const int8_t *orders) {
  const steading_generators_block of_generators = {.stretch = b->stretch,
                                                   .down = b->down,
                                                   .first_step = first,
                                                   .count = b->count,
                                                   .rows = &b->rows,
                                                   .orders = orders};
  if (w->generators == NULL)
    steading_kernel_run(b->stretch, &w->state, b->count, &b->rows, w->flows);
  else
    steading_generators_run(w->generators, &of_generators, &w->state, &w->sets, w->flows);
}

/* What inputs hold back, or own inverters of arrays clip, was there, and was not taken. */
static void add_held(work *w, const double *held_kw, size_t first, size_t count) {
  const steading_layout *at = &w->program.layout;
  for (size_t i = 0; i < at->hubs; i++) {
    const double *held = held_kw + i * w->program.steps_per_year + first;
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
  const steading_step_rows rows = rows_of(w);
  int year = 0, month = 0, day = 0;
  steading_date_of_day(s->day, &year, &month, &day);
  memset(w->delivered_kwh, 0, sizeof w->delivered_kwh);
  memset(w->removed_kwh, 0, sizeof w->removed_kwh);
  memset(w->fade_kwh, 0, sizeof w->fade_kwh);
  bool year_turns = w->health != NULL && run_year > 0 && s->first == 0;
  steading_program_stretch(&w->program, s->day, s->month, &w->up);
  const steading_turnover turnover =
      steading_turnover_of(&w->program, s->day, year_turns, s->lots_change, &w->up);
  steading_turnover_apply(&turnover, at, &w->state, w->delivered_kwh, w->removed_kwh, w->fade_kwh);
  for (size_t i = 0; i < at->hubs; i++) {
    w->capacity_kwh[i] = steading_program_capacity_kwh(&w->program, i, s->day);
    w->nominal_kwh[i] = steading_program_nominal_kwh(&w->program, i, s->day);
  }
  for (size_t b = 0; b < w->program.battery_count; b++) {
    w->battery_kwh[b] = steading_battery_capacity_kwh(&w->program, b, s->day);
    w->battery_nominal_kwh[b] = steading_battery_nominal_kwh(&w->program, b, s->day);
  }
  if (w->generators != NULL) steading_generators_section(w->generators, s->day, w->capacity_kwh);
  for (size_t first = s->first; first < end;) {
    uint16_t down = w->down == NULL ? 0 : w->down[first];
    uint64_t modes = w->modes == NULL ? 0 : w->modes[first];
    size_t longest = w->how.watched || w->sun_24h_kwh != NULL ? 1 : LONGEST_BLOCK;
    int8_t orders[STEADING_MOST_HUBS];
    size_t count = end - first < longest ? end - first : longest;
    steading_block block = {.program = &w->program, .layout = at};
    if (w->down != NULL)
      for (size_t i = 1; i < count; i++)
        if (w->down[first + i] != down) count = i;
    if (w->modes != NULL)
      for (size_t i = 1; i < count; i++)
        if (w->modes[first + i] != modes) count = i;
    block.stretch = &w->up;
    if (down != 0 || modes != 0 || w->sun_24h_kwh != NULL) {
      steading_stretch_copy(&w->now, &w->up);
      if (modes != 0) steading_program_set_modes(&w->program, s->day, modes, &w->now);
      steading_program_take_down(&w->program, s->day, down, &w->now);
      block.stretch = &w->now;
    }
    if (w->sun_24h_kwh != NULL) {
      steading_status status = decide(w, s, run_year, first, down, orders, error);
      if (status != STEADING_OK) return status;
    }
    if (w->shed_kw != NULL || w->how.watched) {
      w->before = w->state;
      block.before = &w->before;
    }
    if (w->how.watched && w->generators != NULL) {
      w->sets_before = w->sets;
      block.sets_before = &w->sets_before;
    }
    block.down = down;
    block.count = count;
    block.rows = steading_step_rows_at(&rows, first);
    block.all_pv_kw = w->all_pv_kw + first;
    block.sun_24h_kwh = w->sun_24h_kwh == NULL ? NULL : w->sun_24h_kwh + first;
    run_block(w, &block, first, w->sun_24h_kwh == NULL ? NULL : orders);
    if (w->held_kw != NULL) add_held(w, w->held_kw, first, count);
    if (w->ac_sun != NULL) add_held(w, w->ac_sun + 2 * at->hubs * n, first, count);
    block.first_step = (size_t)run_year * n + first;
    block.month_index =
        (size_t)run_year * 12 + (size_t)((s->month - (w->run->start_month - 1) + 12) % 12);
    block.year = year;
    block.month = month;
    block.day = day + (int)((first - s->first) / a_day);
    block.minute = (int)((first - s->first) % a_day) * w->program.step_minutes;
    block.capacity_kwh = w->capacity_kwh;
    block.nominal_kwh = w->nominal_kwh;
    block.battery_kwh = w->battery_kwh;
    block.battery_nominal_kwh = w->battery_nominal_kwh;
    block.fade_kwh = w->fade_kwh;
    block.delivered_kwh = w->delivered_kwh;
    block.removed_kwh = w->removed_kwh;
    block.civil = w->civil + first;
    block.up = &w->up;
    block.section_day = s->day;
    block.turnover = &turnover;
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
  status = set_down(w, year, error);
  if (status != STEADING_OK) return status;
  for (size_t i = 0; i < at->hubs; i++)
    steading_loads_year(w->hub_loads[i], &load_year, w->hub_kw + i * n);
  for (size_t m = 0; m < at->meters; m++)
    steading_loads_year(w->meter_loads[m], &load_year, w->meter_kw + m * n);
  for (size_t k = 0; w->shed_kw != NULL && k < at->hubs * STEADING_SHED_CLASSES; k++)
    steading_loads_year(w->shed_loads[k], &load_year, w->shed_kw + k * n);
  count = steading_sections_of_year(&w->program, w->changes, w->change_count, year, sections);
  steading_arrays_year(w->arrays, year, sections, count, w->pv_kw, w->held_kw, NULL);
  if (w->ac_sun != NULL) set_ac_sun(w, year, sections, count);
  set_derating(w, year, sections, count);
  if (w->cold != NULL) steading_rooms_year(&w->program, year, sections, count, &w->rooms);
  if (w->generators != NULL) steading_generators_year(w->generators, year, w->civil);
  status = set_modes(w, error);
  for (size_t i = 0; w->sun_24h_kwh != NULL && i < at->hubs; i++)
    steading_forecast_year(w->all_pv_kw + i * n, n, w->program.step_minutes, w->civil,
                           (size_t)(24 * 60 / w->program.step_minutes), 1, w->sums,
                           w->sun_24h_kwh + i * n);
  for (size_t s = 0; status == STEADING_OK && s < count; s++)
    status = run_section(w, &sections[s], year, error);
  return status;
}

/* `found` gets what the run finds out by itself; NULL: that is known. */
static steading_status go(const steading_run *run, const steading_sink *sinks, size_t sink_count,
                          manner how, steading_run *found, steading_error *error) {
  work *w = calloc(1, sizeof *w);
  steading_status status = STEADING_OK;
  if (w == NULL) return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  w->run = run;
  w->options = run->options;
  w->sinks = sinks;
  w->sink_count = sink_count;
  w->how = how;
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
  if (status == STEADING_OK && w->generators != NULL)
    steading_generators_begin(w->generators, &w->sets);
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

static steading_status prepare(steading_run *run, const steading_meter_plan *const *plans,
                               steading_error *error) {
  int day = 0;
  run->start_day = steading_run_start_of(run->site, run->options);
  steading_date_of_day(run->start_day, &run->start_year, &run->start_month, &day);
  run->years = (int)run->options->years;
  run->keep = run->options->keep;
  run->step_minutes = (int)run->options->step_minutes;
  run->layout = steading_layout_of_site(run->site);
  run->battery_count = steading_site_batteries(run->site);
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
    status = go(run, sinks, count, (manner){0}, run, error);
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
  return go(run, sink, 1, (manner){0}, NULL, error);
}

steading_status steading_run_watch(const steading_site *site, const steading_simulate *options,
                                   const steading_zone *zone, bool without_random,
                                   const steading_sink *sink, steading_error *error) {
  steading_run *run = calloc(1, sizeof *run);
  steading_status status = STEADING_OK;
  if (run == NULL) return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  run->site = steading_record_keep(site);
  run->options = steading_record_keep(options);
  run->zone = zone;
  status = prepare(run, NULL, error);
  if (status == STEADING_OK) {
    manner how = {.watched = true, .without_random = without_random};
    status = go(run, sink, 1, how, NULL, error);
  }
  steading_run_release(run);
  return status;
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
