#include "dispatch/health.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "dispatch/arrays.h"
#include "dispatch/batteries.h"
#include "dispatch/rooms.h"
#include "plant/ageing.h"
#include "plant/rainflow.h"
#include "series.h"

typedef struct lot_health {
  const steading_lot *lot; /* NULL: the one piece of a battery without lots */
  double count;
  double installed;         /* years of the run at which its life began */
  steading_age age, before; /* before: what the pool's year had already done when it came */
  double health, resistance;
} lot_health;

/* Of one kind of modules on a hub. */
typedef struct pool_health {
  size_t hub, index; /* of the hub; which of its batteries */
  size_t pool;       /* of the program's batteries */
  double module_kwh;
  const steading_battery *battery;
  steading_ageing_law law;
  steading_depth_cycles *depths;
  lot_health *lots;
  size_t lot_count;
  double *charge, *cell_c;  /* [steps per year] share, below 0 without a battery; temperature */
  bool unheated;            /* the heater of its room did not get all in the step before */
  double moved, rate_moved; /* sums over the year of power, and of power times its rate */
  steading_rainflow flow;
  double *points;
  double replaced_share, replacement_kwh; /* of the last turn */
} pool_health;

struct steading_health {
  const steading_program *program;
  pool_health *pools;
  size_t count;
  size_t of_battery[STEADING_MOST_BATTERIES]; /* 1 + index into pools; 0: it does not age */
  steading_replacement *replacements;
  size_t replacement_count;
};

/* Room for swings that are left over from year to year: far more than any series of charge has. */
enum { POINTS_LEFT_OVER = 4096 };

/* --- room ----------------------------------------------------------------------------------------
 */

static steading_ageing_law law_of(const steading_ageing *ageing, steading_depth_cycles *depths) {
  steading_ageing_law law = {.model = (steading_ageing_model)ageing->model,
                             .end_health = ageing->end_health,
                             .calendar_years = steading_record_or_else(
                                 ageing, "calendar_years", ageing->calendar_years, HUGE_VAL),
                             .depths = depths};
  /* Wang's cell has 2.2 Ah */
  law.throughput_ah_per_cycle = ageing->throughput == STEADING_COUNTS_BOTH_WAYS ? 4.4 : 2.2;
  for (size_t i = 0; ageing->depths != NULL && i < ageing->depths->count; i++) {
    const steading_depth_point *point = (const void *)ageing->depths->items[i];
    depths[law.depth_count++] =
        (steading_depth_cycles){.depth = point->depth, .cycles = point->cycles};
  }
  return law;
}

static bool pool_room(pool_health *h, const steading_program *p) {
  const steading_battery *battery = h->battery;
  const steading_list *lots = battery->lots, *depths = battery->ageing->depths;
  size_t n = p->steps_per_year;
  h->lot_count = lots == NULL ? 1 : lots->count;
  h->lots = calloc(h->lot_count + 1, sizeof *h->lots);
  h->depths = calloc((depths == NULL ? 0 : depths->count) + 1, sizeof *h->depths);
  h->charge = malloc(n * sizeof *h->charge);
  h->cell_c = malloc(n * sizeof *h->cell_c);
  h->points = malloc((n + POINTS_LEFT_OVER) * sizeof *h->points);
  if (h->lots == NULL || h->depths == NULL || h->charge == NULL || h->cell_c == NULL ||
      h->points == NULL)
    return false;
  h->law = law_of(battery->ageing, h->depths);
  h->flow = steading_rainflow_of(h->points, n + POINTS_LEFT_OVER);
  for (size_t k = 0; k < n; k++) {
    h->charge[k] = -1;
    h->cell_c[k] = 25; /* a law that asks for no room */
  }
  return true;
}

static void record(steading_health *health, const pool_health *h, size_t lot, int year, double left,
                   bool by_life) {
  health->replacements[health->replacement_count++] =
      (steading_replacement){.lot = h->lots[lot].lot,
                             .hub = h->hub,
                             .battery = h->index,
                             .index = lot,
                             .year = year,
                             .health = left,
                             .by_life = by_life};
}

/* A lot whose life was over before the run is replaced at once. */
static void start_lot(steading_health *health, pool_health *h, size_t i) {
  const steading_list *lots = h->battery->lots;
  lot_health *to = &h->lots[i];
  const steading_lot *lot = lots == NULL ? NULL : (const void *)lots->items[i];
  *to =
      (lot_health){.lot = lot, .count = lot == NULL ? 1 : lot->count, .health = 1, .resistance = 1};
  if (lot == NULL || !steading_record_given(lot, "in_service")) return;
  to->installed = steading_years_between(health->program->start_day, lot->in_service);
  if (!steading_record_given(lot, "life_years") || !(lot->count > 0) ||
      to->installed + lot->life_years > 1e-9 ||
      (steading_record_given(lot, "retired") && lot->retired <= health->program->start_day))
    return;
  to->installed = 0;
  record(health, h, i, 0, 1, true);
}

steading_status steading_health_new(const steading_program *p, int years, steading_health **out,
                                    steading_error *error) {
  steading_health *health = NULL;
  size_t lots = 0;
  bool fine = true;
  *out = NULL;
  for (size_t b = 0; b < p->battery_count; b++) {
    const steading_battery *battery = p->batteries[b].battery;
    if (battery->ageing == NULL) continue;
    lots += battery->lots == NULL ? 1 : battery->lots->count;
    if (health == NULL && (health = calloc(1, sizeof *health)) == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
    health->of_battery[b] = ++health->count;
  }
  if (health == NULL) return STEADING_OK;
  health->program = p;
  health->pools = calloc(health->count, sizeof *health->pools);
  health->replacements = calloc(lots * (size_t)years + 1, sizeof *health->replacements);
  fine = health->pools != NULL && health->replacements != NULL;
  for (size_t b = 0; fine && b < p->battery_count; b++) {
    pool_health *h = health->of_battery[b] == 0 ? NULL : &health->pools[health->of_battery[b] - 1];
    if (h == NULL) continue;
    h->hub = p->batteries[b].hub;
    h->index = p->batteries[b].index;
    h->pool = b;
    h->module_kwh = p->batteries[b].one.pool.capacity_kwh;
    h->battery = p->batteries[b].battery;
    fine = pool_room(h, p);
    for (size_t k = 0; fine && k < h->lot_count; k++) start_lot(health, h, k);
  }
  if (!fine) {
    steading_health_free(health);
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  }
  *out = health;
  return STEADING_OK;
}

void steading_health_free(steading_health *health) {
  if (health == NULL) return;
  for (size_t i = 0; health->pools != NULL && i < health->count; i++) {
    pool_health *h = &health->pools[i];
    free(h->lots);
    free(h->depths);
    free(h->charge);
    free(h->cell_c);
    free(h->points);
  }
  free(health->pools);
  free(health->replacements);
  free(health);
}

/* --- during a year -------------------------------------------------------------------------------
 */

/* A heater that did not get all that it wanted leaves the cells cold in the step after, as in the
 * kernel. */
static void note_heated(pool_health *h, const steading_program *p, const steading_block *b,
                        size_t first) {
  const steading_battery_room *room = h->battery->room;
  int year = (int)(b->first_step / p->steps_per_year);
  for (size_t s = 0; s < b->count; s++) {
    const double *row = b->flows + s * b->layout->width;
    double room_c = steading_room_c(p, room, year, first + s, b->month - 1);
    steading_warmth heated = steading_room_heated(room, room_c);
    double got_kw = steading_hub_flow_of(b->layout, row, h->hub)->heater;
    h->cell_c[first + s] = h->unheated ? room_c : heated.cell_c;
    h->unheated = got_kw < b->rows.heater_kw[h->hub * b->rows.stride + s] * (1 - 1e-9);
  }
}

static void note_temperature(pool_health *h, const steading_program *p, const steading_block *b,
                             size_t first) {
  const steading_battery_room *room = h->battery->room;
  const steading_weather *weather = p->site->weather;
  size_t ours = (size_t)p->step_minutes, its = (size_t)weather->step_minutes;
  size_t start = 0;
  if (room == NULL) return;
  if (room->heater_w > 0) {
    note_heated(h, p, b, first);
    return;
  }
  if (!isinf(room->temp_c[0])) {
    for (size_t s = 0; s < b->count; s++) h->cell_c[first + s] = room->temp_c[b->month - 1];
    return;
  }
  start = steading_arrays_start_minute(p, (int)(b->first_step / p->steps_per_year));
  for (size_t s = 0; s < b->count; s++)
    h->cell_c[first + s] = steading_series_mean(weather->temp_c, weather->steps, its,
                                                start + (first + s) * ours, ours);
}

void steading_health_take(steading_health *health, const steading_block *b) {
  for (size_t i = 0; i < health->count; i++) {
    pool_health *h = &health->pools[i];
    double capacity = b->battery_kwh[h->pool], nominal = b->battery_nominal_kwh[h->pool];
    size_t first = b->first_step % health->program->steps_per_year;
    const double *row = b->flows;
    note_temperature(h, health->program, b, first);
    for (size_t s = 0; s < b->count; s++, row += b->layout->width) {
      const steading_pool_flow f = steading_battery_flow_of(b->program, row, h->pool);
      double kw = f.in + f.out;
      h->charge[first + s] = capacity > 0 ? f.stored_kwh / capacity : -1;
      if (!(capacity > 0)) continue;
      h->moved += kw;
      h->rate_moved += kw * (kw / nominal);
    }
  }
}

/* --- the turn of a year --------------------------------------------------------------------------
 */

static bool in_service(const lot_health *l, int64_t day) {
  if (l->lot == NULL) return true;
  if (steading_record_given(l->lot, "in_service") && l->lot->in_service > day) return false;
  return !steading_record_given(l->lot, "retired") || day < l->lot->retired;
}

typedef struct counter {
  const pool_health *h;
  steading_age *age;
  double rate_per_h, cell_c;
} counter;

static void take_cycle(void *context, const steading_cycle *cycle) {
  const counter *c = context;
  steading_age_cycle(&c->h->law, fmin(cycle->range, 1), cycle->count, c->rate_per_h, c->cell_c,
                     c->age);
}

/* The step of the year from which a lot is there; n: not in this year. */
static size_t arrival_of(const steading_health *health, const lot_health *l, int year) {
  const steading_program *p = health->program;
  size_t n = p->steps_per_year, a_day = n / STEADING_DAYS_PER_YEAR;
  int64_t day = 0;
  if (l->lot == NULL || !steading_record_given(l->lot, "in_service")) return 0;
  day = steading_days_between(p->start_day, l->lot->in_service) -
        (int64_t)year * STEADING_DAYS_PER_YEAR;
  return day <= 0 ? 0 : day >= STEADING_DAYS_PER_YEAR ? n : (size_t)day * a_day;
}

/* Full is full: charges that differ by rounding alone are one, so that swings between the same two
 * ends are equal and count as cycles. */
static double to_grain(double charge) {
  const double grains = 1u << 30;
  return rint(charge * grains) / grains;
}

/* The year's time and cycles, which lots that come during it have from then on. A cycle counts
 * where it closes. */
static void age_pool(steading_health *health, pool_health *h, int year) {
  const steading_program *p = health->program;
  size_t n = p->steps_per_year;
  double step_h = p->step_minutes / 60.0;
  steading_age year_age = {0};
  counter c = {.h = h, .age = &year_age, .rate_per_h = h->moved > 0 ? h->rate_moved / h->moved : 0};
  const steading_cycle_taker taker = {.take = take_cycle, .context = &c};
  for (size_t from = 0; from < n;) {
    size_t end = n;
    for (size_t i = 0; i < h->lot_count; i++) {
      size_t arrival = arrival_of(health, &h->lots[i], year);
      if (arrival == from) h->lots[i].before = year_age;
      if (arrival > from && arrival < end) end = arrival;
    }
    steading_age_rest_steps(&h->law, step_h, end - from, h->cell_c + from, h->charge + from,
                            &year_age);
    for (size_t k = from; k < end; k++) {
      if (h->charge[k] < 0) continue;
      c.cell_c = h->cell_c[k];
      steading_rainflow_add(&h->flow, to_grain(h->charge[k]), &taker);
    }
    from = end;
  }
  for (size_t i = 0; i < h->lot_count; i++) {
    lot_health *l = &h->lots[i];
    if (arrival_of(health, l, year) == n) continue;
    steading_age_add(&year_age, &l->age);
    steading_age_take_away(&l->before, &l->age);
    l->health = steading_age_health(&h->law, &l->age);
    l->resistance = steading_age_resistance(&l->age);
  }
  h->moved = h->rate_moved = 0;
}

/* Replace what is done at the start of year `next`, which begins on `day`. */
static void replace(steading_health *health, pool_health *h, int next, int64_t day) {
  double before = 0, gone = 0, come = 0;
  for (size_t i = 0; i < h->lot_count; i++) {
    lot_health *l = &h->lots[i];
    bool has_life = l->lot != NULL && steading_record_given(l->lot, "life_years");
    bool over = has_life && next >= l->installed + l->lot->life_years - 1e-9;
    if (!in_service(l, day - 1)) continue;
    before += l->count * l->health;
    if (!in_service(l, day) || !(l->count > 0) ||
        !(over || l->health < h->battery->ageing->replace_at_health))
      continue;
    gone += l->count * l->health;
    come += l->count * (l->lot == NULL ? 0.3 : l->lot->delivered_charge);
    record(health, h, i, next, l->health, over);
    l->installed = next;
    l->age = (steading_age){0};
    l->health = l->resistance = 1;
  }
  h->replaced_share = before > 0 ? gone / before : 0;
  h->replacement_kwh = come * h->module_kwh;
}

void steading_health_turn(steading_health *health, int year) {
  int start_year = 0, month = 0, day = 0;
  steading_date_of_day(health->program->start_day, &start_year, &month, &day);
  for (size_t i = 0; i < health->count; i++) {
    age_pool(health, &health->pools[i], year);
    replace(health, &health->pools[i], year + 1,
            steading_day_number(start_year + year + 1, month, day));
  }
}

/* --- what holds ----------------------------------------------------------------------------------
 */

static const pool_health *of_battery(const steading_health *health, size_t battery) {
  return &health->pools[health->of_battery[battery] - 1];
}

bool steading_health_has(const steading_health *health, size_t battery) {
  return health != NULL && health->of_battery[battery] > 0;
}

double steading_health_replaced_share(const steading_health *health, size_t battery) {
  return steading_health_has(health, battery) ? of_battery(health, battery)->replaced_share : 0;
}

double steading_health_replacement_kwh(const steading_health *health, size_t battery) {
  return steading_health_has(health, battery) ? of_battery(health, battery)->replacement_kwh : 0;
}

double steading_health_capacity_kwh(const steading_health *health, size_t battery, int64_t day) {
  const pool_health *h = of_battery(health, battery);
  double pieces = 0;
  for (size_t i = 0; i < h->lot_count; i++)
    if (in_service(&h->lots[i], day)) pieces += h->lots[i].count * h->lots[i].health;
  return h->module_kwh * pieces;
}

double steading_health_retired_share(const steading_health *health, size_t battery, int64_t day) {
  const pool_health *h = of_battery(health, battery);
  double before = 0, gone = 0;
  for (size_t i = 0; i < h->lot_count; i++) {
    const lot_health *l = &h->lots[i];
    if (!in_service(l, day - 1)) continue;
    before += l->count * l->health;
    if (!in_service(l, day)) gone += l->count * l->health;
  }
  return before > 0 ? gone / before : 0;
}

void steading_health_set_pool(const steading_health *health, size_t battery, int64_t day,
                              steading_pool *pool) {
  const pool_health *h = of_battery(health, battery);
  double pieces = 0, in = 0, out = 0;
  for (size_t i = 0; i < h->lot_count; i++) {
    const lot_health *l = &h->lots[i];
    double left = l->count * l->health;
    if (!in_service(l, day)) continue;
    pieces += left;
    in += left * steading_efficiency_worn(pool->efficiency_in, l->resistance);
    out += left * steading_efficiency_worn(pool->efficiency_out, l->resistance);
  }
  pool->capacity_kwh = h->module_kwh * pieces;
  if (!(pieces > 0)) return;
  pool->efficiency_in = in / pieces;
  pool->efficiency_out = out / pieces;
}

double steading_health_resistance(const steading_health *health, size_t battery, int64_t day) {
  const pool_health *h = of_battery(health, battery);
  double left = 0, grown = 0;
  for (size_t i = 0; i < h->lot_count; i++) {
    const lot_health *l = &h->lots[i];
    if (!in_service(l, day)) continue;
    left += l->count * l->health;
    grown += l->count * l->health * l->resistance;
  }
  return left > 0 ? grown / left : 1;
}

steading_replacement *steading_health_replacements(steading_health *health, size_t *count) {
  steading_replacement *list = health->replacements;
  *count = health->replacement_count;
  health->replacements = NULL;
  health->replacement_count = 0;
  return list;
}
