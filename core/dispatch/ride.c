#include "dispatch/ride.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "demand/loads.h"
#include "dispatch/decide.h"
#include "dispatch/run.h"

/* States are looked at every CHUNK steps: the kernel does as many at once. A divisor of the steps
 * of a day. Less than `nothing` is rounding, as in events.c. */
enum { CHUNK = 4 };
static const double nothing = 1e-9;
static const double most_bytes = 2.0 * 1024 * 1024 * 1024;

/* No failure within the longest time asked. */
static const uint32_t never = UINT32_MAX;

/* A state is the arrays of steading_state, as far as the site fills them, and those of the
 * generators, where it has any. */
enum { OF_HUB = 3 + STEADING_SHED_CLASSES, OF_TANK = 2 };
enum { OF_POOL = sizeof(steading_charge) / sizeof(double) };
enum {
  PACKED_STATE = OF_HUB * STEADING_MOST_HUBS + OF_TANK * STEADING_MOST_TANKS +
                 OF_POOL * STEADING_MOST_BATTERIES
};
_Static_assert(sizeof(steading_state) == sizeof(double) * (size_t)PACKED_STATE,
               "a member of steading_state is neither packed nor compared");
enum { OF_SET = sizeof(steading_start_stop_state) / sizeof(double) };
enum { OF_FUEL = sizeof(steading_fuel_tank_state) / sizeof(double) };
enum { PACKED_SETS = OF_SET * STEADING_MOST_HUBS + OF_FUEL * STEADING_MOST_FUELS };
_Static_assert(sizeof(steading_generators_state) == sizeof(double) * (size_t)PACKED_SETS,
               "a member of steading_generators_state is neither packed nor compared");
enum { MOST_PACKED = PACKED_STATE + PACKED_SETS };

/* All that changes from step to step. */
typedef struct site_state {
  steading_state state;
  steading_generators_state sets;
} site_state;

typedef struct section {
  size_t first; /* step */
  int64_t day;
  int year, month; /* of it, standard time, month 1..12 */
  steading_turnover turnover;
  double capacity_kwh[STEADING_MOST_HUBS];
  steading_stretch islanded;
} section;

typedef struct work {
  const steading_ask_ride *ask;
  steading_ride *ride;
  steading_program program;
  size_t packed;         /* doubles of a state */
  size_t steps, counted; /* of the run; of the years of starts */
  size_t longest;        /* steps that an outage is followed */
#define KEPT_ROWS(name, how_many) double *name;
  struct {
    STEADING_STEP_ROW_LIST(KEPT_ROWS)
  } rows; /* what steps are given: [how many][steps], NULL for what does not matter */
#undef KEPT_ROWS
  double *essential_kw; /* [hubs][steps] of rows.hub_kw; NULL unless that is what is kept */
  steading_loads *essential[STEADING_MOST_HUBS];
  double *before;                   /* [counted][packed] */
  double *sun_24h_kwh, *all_pv_kw;  /* [hubs][steps]; NULL where no function decides */
  steading_civil_step *civil;       /* [steps]; likewise */
  steading_decide_questions *asked; /* likewise */
  steading_generators **generators; /* [years of the run], what each makes of windows and heat */
  section *sections;
  size_t section_count;
  double *met;          /* [steps / CHUNK][packed] the state met last */
  uint32_t *met_failed; /* [steps / CHUNK] the step at which that one fails, or `never` */
  bool *is_met;         /* [steps / CHUNK] */
  double *flows;        /* [CHUNK][width] */
  double packed_now[MOST_PACKED];
  steading_error *error;
} work;

/* --- states --------------------------------------------------------------------------------------
 */

/* Copy between a state and a row of doubles: one way or, `out`, the other. */
static double *copy(double *row, double *member, size_t count, bool out) {
  if (out)
    memcpy(member, row, count * sizeof *row);
  else
    memcpy(row, member, count * sizeof *row);
  return row + count;
}

static void copy_state(const steading_layout *at, double *row, site_state *s, bool out) {
  row = copy(row, s->state.stored_kwh, at->hubs, out);
  row = copy(row, s->state.blocked, at->hubs, out);
  row = copy(row, s->state.unheated, at->hubs, out);
  row = copy(row, s->state.shedding[0], at->hubs * STEADING_SHED_CLASSES, out);
  row = copy(row, s->state.tank_l, at->tanks, out);
  row = copy(row, s->state.filling, at->tanks, out);
  row = copy(row, &s->state.pools[0].stored_kwh, at->pools * OF_POOL, out);
  if (at->generators == 0) return;
  row = copy(row, &s->sets.sets[0].on, at->hubs * OF_SET, out);
  copy(row, &s->sets.tanks[0].level_l, at->fuels * OF_FUEL, out);
}

static size_t packed_of(const steading_layout *at) {
  size_t sets = at->generators == 0 ? 0 : OF_SET * at->hubs + OF_FUEL * at->fuels;
  return OF_HUB * at->hubs + OF_TANK * at->tanks + OF_POOL * at->pools + sets;
}

static void pack(const steading_layout *at, site_state *s, double *to) {
  copy_state(at, to, s, false);
}

static void unpack(const steading_layout *at, double *from, site_state *s) {
  memset(s, 0, sizeof *s);
  copy_state(at, from, s, true);
}

/* What a hub lacks in a step, of essential loads: what is unserved falls on all others first. */
static double essential_missing(const work *w, size_t hub, size_t step,
                                const steading_hub_flow *flow) {
  double essential = w->essential_kw[hub * w->steps + step];
  double others = w->rows.hub_kw[hub * w->steps + step] - essential - flow->shed;
  return fmin(fmax(flow->unserved - fmax(others, 0), 0), essential);
}

/* Whether what must be served fails in a step. */
static bool fails(const work *w, size_t step, const double *row) {
  const steading_layout *at = &w->program.layout;
  double missing = 0;
  if (w->ask->keep_serving == STEADING_KEEP_SERVING_WATER)
    for (size_t t = 0; t < at->tanks; t++) missing += steading_tank_flow_of(at, row, t)->short_l;
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub_flow *flow = steading_hub_flow_of(at, row, i);
    if (w->ask->keep_serving == STEADING_KEEP_SERVING_ALL) missing += flow->unserved;
    if (w->essential_kw != NULL) missing += essential_missing(w, i, step, flow);
  }
  return missing > nothing;
}

/* --- normal operation ----------------------------------------------------------------------------
 */

/* The essential loads of a year of the run, whose steps begin with those of `b`. */
static void begin_year(work *w, size_t year, const steading_block *b) {
  int first_year = 0, month = 0, day = 0;
  steading_load_year load_year = {
      .run_year = (int)year, .start_day = w->program.start_day, .steps = b->civil};
  steading_date_of_day(w->program.start_day, &first_year, &month, &day);
  load_year.first_hour = (size_t)steading_days_before_month[month - 1] * 24;
  for (size_t i = 0; i < w->program.layout.hubs; i++)
    steading_loads_year(w->essential[i], &load_year,
                        w->essential_kw + i * w->steps + year * w->program.steps_per_year);
}

/* Room for all of it, once it is known what steps are given. */
static steading_status allocate(work *w, const steading_step_rows *given, steading_error *error) {
  const steading_layout *at = &w->program.layout;
  size_t n = w->program.steps_per_year, chunks = w->steps / CHUNK, rows = 0, sections = 0;
  bool essential = w->ask->keep_serving == STEADING_KEEP_SERVING_ESSENTIAL, fine = true;
  bool decides = steading_decides(&w->program);
  double bytes = 0;
  sections = (size_t)(w->ask->years + 1) * 12 + steading_program_changes(&w->program, NULL, 0) + 1;
#define COUNT_ROWS(name, how_many) \
  if (given->name != NULL) rows += steading_rows_of_##how_many(at);
  STEADING_STEP_ROW_LIST(COUNT_ROWS)
#undef COUNT_ROWS
  if (essential) rows += at->hubs;
  if (decides) rows += 2 * at->hubs + (sizeof *w->civil + sizeof(double) - 1) / sizeof(double);
  bytes = (double)w->steps * (double)rows * sizeof(double) +
          (double)(w->counted + chunks) * (double)w->packed * sizeof(double) +
          (double)w->counted * sizeof(steading_ride_start);
  if (bytes > most_bytes || (double)w->steps >= (double)UINT32_MAX)
    return steading_fail(error, STEADING_BAD_INPUT, "ride_through.years",
                         "%g years of steps of %g minutes take %.1f GiB, more than %.0f; ask for "
                         "fewer years or longer steps",
                         w->ask->years, w->ask->step_minutes, bytes / 1073741824.0,
                         most_bytes / 1073741824.0);
#define MAKE_ROWS(name, how_many)                                                        \
  if (given->name != NULL) {                                                             \
    w->rows.name =                                                                       \
        malloc((steading_rows_of_##how_many(at) * w->steps + 1) * sizeof *w->rows.name); \
    fine = fine && w->rows.name != NULL;                                                 \
  }
  STEADING_STEP_ROW_LIST(MAKE_ROWS)
#undef MAKE_ROWS
  if (essential) w->essential_kw = malloc(at->hubs * w->steps * sizeof *w->essential_kw);
  if (decides) {
    w->sun_24h_kwh = malloc((at->hubs * w->steps + 1) * sizeof *w->sun_24h_kwh);
    w->all_pv_kw = malloc((at->hubs * w->steps + 1) * sizeof *w->all_pv_kw);
    w->civil = malloc(w->steps * sizeof *w->civil);
    w->asked = calloc(1, sizeof *w->asked);
    fine = fine && w->sun_24h_kwh != NULL && w->all_pv_kw != NULL && w->civil != NULL &&
           w->asked != NULL;
  }
  if (at->generators > 0) w->generators = calloc(w->steps / n, sizeof *w->generators);
  w->before = malloc((w->counted * w->packed + 1) * sizeof *w->before);
  w->sections = malloc(sections * sizeof *w->sections);
  w->met = malloc((chunks * w->packed + 1) * sizeof *w->met);
  w->met_failed = malloc(chunks * sizeof *w->met_failed);
  w->is_met = calloc(chunks, sizeof *w->is_met);
  w->flows = malloc(CHUNK * at->width * sizeof *w->flows);
  w->ride->starts = malloc(w->counted * sizeof *w->ride->starts);
  if (!fine || w->before == NULL || (at->generators > 0 && w->generators == NULL) ||
      (essential && w->essential_kw == NULL) || w->sections == NULL || w->met == NULL ||
      w->met_failed == NULL || w->is_met == NULL || w->flows == NULL || w->ride->starts == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "ride_through", "not enough memory");
  return STEADING_OK;
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  work *w = context;
  const steading_layout *at = &w->program.layout;
  size_t step = b->first_step;
  site_state state = {.state = *b->before};
  steading_status status = step == 0 ? allocate(w, &b->rows, error) : STEADING_OK;
  section *last = w->section_count == 0 ? NULL : &w->sections[w->section_count - 1];
  if (status != STEADING_OK) return status;
  if (w->essential_kw != NULL && step % w->program.steps_per_year == 0)
    begin_year(w, step / w->program.steps_per_year, b);
  if (w->generators != NULL && step % w->program.steps_per_year == 0) {
    size_t year = step / w->program.steps_per_year;
    status = steading_generators_make(&w->program, &w->generators[year], error);
    if (status != STEADING_OK) return status;
    steading_generators_year(w->generators[year], (int)year, b->civil);
  }
  if (last == NULL || last->day != b->section_day) {
    last = &w->sections[w->section_count++];
    last->first = step;
    last->day = b->section_day;
    last->year = b->year;
    last->month = b->month;
    last->turnover = *b->turnover;
    last->islanded = *b->up;
    memcpy(last->capacity_kwh, b->capacity_kwh, at->hubs * sizeof *b->capacity_kwh);
    steading_program_take_down(b->program, b->section_day, UINT16_MAX, &last->islanded);
  }
#define KEEP_ROWS(name, how_many)                                                      \
  for (size_t i = 0; w->rows.name != NULL && i < steading_rows_of_##how_many(at); i++) \
    w->rows.name[i * w->steps + step] = b->rows.name[i * b->rows.stride];
  STEADING_STEP_ROW_LIST(KEEP_ROWS)
#undef KEEP_ROWS
  for (size_t i = 0; w->asked != NULL && i < at->hubs; i++) {
    w->sun_24h_kwh[i * w->steps + step] = b->sun_24h_kwh[i * b->rows.stride];
    w->all_pv_kw[i * w->steps + step] = b->all_pv_kw[i * b->rows.stride];
  }
  if (w->asked != NULL) w->civil[step] = b->civil[0];
  if (step >= w->counted) return STEADING_OK;
  if (b->sets_before != NULL) state.sets = *b->sets_before;
  pack(at, &state, w->before + step * w->packed);
  if (b->down == 0 && w->ride->hours_asked[b->civil->minute / 60])
    w->ride->starts[w->ride->start_count++] = (steading_ride_start){
        .step = (uint32_t)step, .month = b->civil->month, .hour = (uint8_t)(b->civil->minute / 60)};
  return STEADING_OK;
}

/* --- one start -----------------------------------------------------------------------------------
 */

/* `count` steps of a section without any grid, in a stretch that is that of the section but for
 * what was decided, and with the orders that were. */
static void run_steps(work *w, size_t s, size_t step, size_t count, const steading_stretch *stretch,
                      const int8_t *orders, site_state *state, double *flows) {
  const section *now = &w->sections[s];
  size_t n = w->program.steps_per_year;
#define ROWS_FROM(name, how_many) .name = w->rows.name == NULL ? NULL : w->rows.name + step,
  const steading_step_rows rows = {.stride = w->steps, STEADING_STEP_ROW_LIST(ROWS_FROM)};
#undef ROWS_FROM
  const steading_generators_block block = {.stretch = stretch,
                                           .down = UINT16_MAX,
                                           .first_step = step % n,
                                           .count = count,
                                           .rows = &rows,
                                           .orders = orders};
  if (w->generators == NULL) {
    steading_kernel_run(block.stretch, &state->state, count, &rows, flows);
    return;
  }
  steading_generators_section(w->generators[step / n], now->day, now->capacity_kwh);
  steading_generators_run(w->generators[step / n], &block, &state->state, &state->sets, flows);
}

/* The same, for an outage that started at `start`; functions decide step by step. */
static steading_status run_islanded(work *w, size_t s, size_t start, size_t step, size_t count,
                                    site_state *state) {
  const section *now = &w->sections[s];
  if (w->asked == NULL) {
    run_steps(w, s, step, count, &now->islanded, NULL, state, w->flows);
    return STEADING_OK;
  }
  for (size_t k = 0; k < count; k++, step++) {
    int8_t orders[STEADING_MOST_HUBS];
    steading_stretch decided;
    const steading_decide_at at = {.program = &w->program,
                                   .day = now->day,
                                   .down = UINT16_MAX,
                                   .run_step = step,
                                   .year = now->year,
                                   .month = now->month,
                                   .civil = &w->civil[step],
                                   .capacity_kwh = now->capacity_kwh,
                                   .pv_kw = w->all_pv_kw + step,
                                   .load_kw = w->rows.hub_kw + step,
                                   .sun_kwh = w->sun_24h_kwh + step,
                                   .stride = w->steps,
                                   .state = &state->state,
                                   .sets = &state->sets,
                                   .outage_step = start + 1,
                                   .questions = w->asked};
    steading_stretch_copy(&decided, &now->islanded);
    steading_status status = steading_decide(&at, &decided, orders, w->error);
    if (status != STEADING_OK) return status;
    run_steps(w, s, step, 1, &decided, orders, state, w->flows + k * w->program.layout.width);
    if (fails(w, step, w->flows + k * w->program.layout.width)) break; /* nobody asks beyond it */
  }
  return STEADING_OK;
}

/* The step at which an outage that starts at `start` (in section `s`) fails, or `never`. What it
 * meets on its way is written down for the starts before. */
static steading_status failing_step(work *w, size_t start, size_t s, uint32_t *fails_at) {
  const steading_layout *at = &w->program.layout;
  size_t step = start, end = start + w->longest;
  size_t first_met = (start + CHUNK - 1) / CHUNK, met = first_met;
  uint32_t failed = never;
  site_state state;
  unpack(at, w->before + start * w->packed, &state);
  while (step < end && failed == never) {
    size_t count = CHUNK - step % CHUNK;
    if (step % CHUNK == 0) {
      double *now = w->packed_now, *known = w->met + step / CHUNK * w->packed;
      pack(at, &state, now);
      if (w->is_met[step / CHUNK] && memcmp(known, now, w->packed * sizeof *now) == 0) {
        failed = w->met_failed[step / CHUNK];
        break; /* that one was followed at least as far as this one is */
      }
      memcpy(known, now, w->packed * sizeof *now);
      w->is_met[step / CHUNK] = true;
      met = step / CHUNK + 1;
    }
    steading_status status = run_islanded(w, s, start, step, count, &state);
    if (status != STEADING_OK) return status;
    w->ride->stepped += count;
    for (size_t k = 0; k < count && failed == never; k++)
      if (fails(w, step + k, w->flows + k * at->width)) failed = (uint32_t)(step + k);
    step += count;
    if (s + 1 < w->section_count && w->sections[s + 1].first == step) {
      double unused[3][STEADING_MOST_HUBS] = {{0}};
      s++;
      steading_turnover_apply(&w->sections[s].turnover, at, &state.state, unused[0], unused[1],
                              unused[2]);
    }
  }
  for (size_t k = first_met; k < met; k++) w->met_failed[k] = failed;
  *fails_at = failed;
  return STEADING_OK;
}

static steading_status ride_all(work *w) {
  size_t s = w->section_count;
  for (size_t k = w->ride->start_count; k-- > 0;) {
    steading_ride_start *start = &w->ride->starts[k];
    uint32_t failed = never;
    while (s == w->section_count || w->sections[s].first > start->step) s--;
    steading_status status = failing_step(w, start->step, s, &failed);
    if (status != STEADING_OK) return status;
    start->steps = failed == never || failed - start->step >= w->longest ? STEADING_RIDE_OUTLASTS
                                                                         : failed - start->step;
  }
  return w->asked == NULL ? STEADING_OK : steading_decide_again(&w->program, w->asked, w->error);
}

/* --- preparing -----------------------------------------------------------------------------------
 */

static size_t count_of(const steading_map *map) { return map == NULL ? 0 : map->count; }

static steading_status check_site(const steading_site *site, const steading_ask_ride *ask,
                                  steading_error *error) {
  bool water = ask->keep_serving == STEADING_KEEP_SERVING_WATER;
  if (count_of(site->meters) == 0)
    return steading_fail(error, STEADING_BAD_INPUT, "ride_through",
                         "the site has no meter: there is no grid that could fail");
  if (!water && count_of(site->hubs) == 0)
    return steading_fail(error, STEADING_BAD_INPUT, "ride_through",
                         "the site has no hub: nothing is served without the grid");
  if (water && (site->water == NULL || count_of(site->water->users) == 0))
    return steading_fail(error, STEADING_BAD_INPUT, "ride_through.keep_serving",
                         "nobody draws water on this site");
  return STEADING_OK;
}

/* What simulate takes. */
static steading_status options_of(const steading_ask_ride *ask, steading_simulate **options,
                                  steading_error *error) {
  char start[16];
  int year = 0, month = 0, day = 0;
  steading_entry entries[3] = {
      /* in the order of keys, as values are */
      {.key = "start", {.kind = STEADING_VALUE_TEXT, .text = start}},
      {.key = "step_minutes", {.kind = STEADING_VALUE_NUMBER, .number = ask->step_minutes}},
      {.key = "years", {.kind = STEADING_VALUE_NUMBER, .number = ask->years + 1}}};
  bool dated = steading_record_given(ask, "start");
  const steading_value table = {.kind = STEADING_VALUE_TABLE,
                                .entries = dated ? entries : entries + 1,
                                .entry_count = dated ? 3 : 2};
  void *record = NULL;
  steading_status status = STEADING_OK;
  steading_date_of_day(ask->start, &year, &month, &day);
  snprintf(start, sizeof start, "%04d-%02d", year, month);
  status = steading_spec_read(&steading_simulate_spec, &table, "ride_through", &record, error);
  if (status != STEADING_OK) return status;
  *options = record;
  steading_record_release((*options)->initial); /* nobody else has seen the record */
  (*options)->initial = steading_record_keep(ask->initial);
  return STEADING_OK;
}

static steading_status set_asked(work *w, steading_error *error) {
  static const double usual[] = {4, 12, 24, 72, 168};
  const steading_series *last = w->ask->last_hours, *hours = w->ask->start_hours;
  steading_ride *r = w->ride;
  r->step_h = w->ask->step_minutes / 60;
  r->last_count = last == NULL ? sizeof usual / sizeof usual[0] : last->count;
  r->last_hours = malloc(r->last_count * sizeof *r->last_hours);
  if (r->last_hours == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "ride_through", "not enough memory");
  memcpy(r->last_hours, last == NULL ? usual : last->values, r->last_count * sizeof *r->last_hours);
  for (size_t i = 0; i < r->last_count; i++) {
    size_t steps = (size_t)lround(r->last_hours[i] / r->step_h);
    w->longest = steps > w->longest ? steps : w->longest;
  }
  for (int h = 0; h < 24; h++) r->hours_asked[h] = hours == NULL;
  for (size_t i = 0; hours != NULL && i < hours->count; i++)
    r->hours_asked[(int)hours->values[i]] = true;
  return STEADING_OK;
}

static steading_status gather_essential(work *w, steading_error *error) {
  const steading_map *buildings = w->program.site->buildings;
  steading_status status = STEADING_OK;
  size_t count = 0;
  if (w->ask->keep_serving != STEADING_KEEP_SERVING_ESSENTIAL) return STEADING_OK;
  for (size_t i = 0; status == STEADING_OK && i < w->program.layout.hubs; i++) {
    status = steading_loads_gather_class(buildings, steading_building_on_hub,
                                         w->program.hubs[i].name, STEADING_CLASS_ESSENTIAL,
                                         w->program.step_minutes, &w->essential[i], error);
    if (status == STEADING_OK) count += steading_loads_count(w->essential[i]);
  }
  if (status == STEADING_OK && count == 0)
    return steading_fail(error, STEADING_BAD_INPUT, "ride_through.keep_serving",
                         "no load behind a hub is of class \"essential\"");
  return status;
}

static void clear(work *w) {
  for (size_t i = 0; i < STEADING_MOST_HUBS; i++) steading_loads_free(w->essential[i]);
  free(w->essential_kw);
  for (size_t y = 0; w->generators != NULL && y < w->steps / w->program.steps_per_year; y++)
    steading_generators_free(w->generators[y]);
  free(w->generators);
#define FREE_ROWS(name, how_many) free(w->rows.name);
  STEADING_STEP_ROW_LIST(FREE_ROWS)
#undef FREE_ROWS
  free(w->sun_24h_kwh);
  free(w->all_pv_kw);
  free(w->civil);
  free(w->asked);
  free(w->before);
  free(w->sections);
  free(w->met);
  free(w->met_failed);
  free(w->is_met);
  free(w->flows);
}

steading_status steading_ride_through(const steading_site *site, const steading_ask_ride *ask,
                                      const steading_zone *zone, steading_ride *ride,
                                      steading_error *error) {
  work *w = calloc(1, sizeof *w);
  const steading_sink sink = {.take = take, .context = w};
  steading_simulate *options = NULL;
  steading_status status = STEADING_OK;
  *ride = (steading_ride){.start_count = 0};
  if (w == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "ride_through", "not enough memory");
  w->ask = ask;
  w->ride = ride;
  w->error = error;
  status = check_site(site, ask, error);
  if (status == STEADING_OK) status = set_asked(w, error);
  if (status == STEADING_OK) status = options_of(ask, &options, error);
  if (status == STEADING_OK)
    status = steading_program_compile(site, (int)ask->step_minutes,
                                      steading_run_start_of(site, options), &w->program, error);
  w->packed = packed_of(&w->program.layout);
  w->counted = (size_t)ask->years * w->program.steps_per_year;
  w->steps = w->counted + w->program.steps_per_year;
  if (status == STEADING_OK) status = gather_essential(w, error);
  if (status == STEADING_OK) status = steading_run_watch(site, options, zone, true, &sink, error);
  if (status == STEADING_OK) status = ride_all(w);
  clear(w);
  free(w);
  steading_record_release(options);
  if (status != STEADING_OK) steading_ride_free(ride);
  return status;
}

void steading_ride_free(steading_ride *ride) {
  free(ride->last_hours);
  free(ride->starts);
  *ride = (steading_ride){.start_count = 0};
}

/* --- answers -------------------------------------------------------------------------------------
 */

void steading_ride_count(const steading_ride *r, size_t *starts, size_t *held) {
  memset(starts, 0, STEADING_RIDE_GROUPS * sizeof *starts);
  memset(held, 0, STEADING_RIDE_GROUPS * r->last_count * sizeof *held);
  for (size_t k = 0; k < r->start_count; k++) {
    const steading_ride_start *start = &r->starts[k];
    size_t group = (size_t)(start->month - 1) * 24 + start->hour;
    starts[group]++;
    for (size_t i = 0; i < r->last_count; i++)
      if (start->steps >= (size_t)lround(r->last_hours[i] / r->step_h))
        held[group * r->last_count + i]++;
  }
}

/* A life with its group in the upper half, to be sorted. */
static int by_key(const void *a, const void *b) {
  uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
  return x < y ? -1 : x > y;
}

steading_status steading_ride_percentiles(const steading_ride *r, bool by_month, bool by_hour,
                                          const double *p, size_t count, double *values,
                                          steading_error *error) {
  size_t groups = (by_month ? 12u : 1u) * (by_hour ? 24u : 1u), first = 0;
  uint64_t *keys = malloc((r->start_count + 1) * sizeof *keys);
  if (keys == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "percentiles", "not enough memory");
  for (size_t k = 0; k < r->start_count; k++) {
    const steading_ride_start *start = &r->starts[k];
    uint64_t group = (by_month ? start->month - 1u : 0u) * (by_hour ? 24u : 1u);
    group += by_hour ? start->hour : 0u;
    keys[k] = group << 32 | start->steps;
  }
  qsort(keys, r->start_count, sizeof *keys, by_key);
  for (size_t g = 0; g < groups; g++) {
    size_t end = first;
    while (end < r->start_count && keys[end] >> 32 == g) end++;
    for (size_t i = 0; i < count; i++) {
      double rank = ceil(p[i] * (double)(end - first) - 1e-9); /* a product's rounding is no rank */
      double *value = &values[g * count + i];
      *value = (double)NAN;
      if (end == first) continue;
      uint32_t steps = (uint32_t)keys[first + (size_t)fmax(rank, 1) - 1];
      *value = steps == STEADING_RIDE_OUTLASTS ? (double)INFINITY : steps * r->step_h;
    }
    first = end;
  }
  free(keys);
  return STEADING_OK;
}
