#include "dispatch/events.h"

#include <math.h>
#include <stdlib.h>

/* Less is rounding: reason.c holds it for nothing. Litres a step are taken alike. */
static const double nothing = 1e-9;

typedef struct gather {
  const steading_run *run;
  const steading_ask_events *ask;
  steading_event_kind kind;
  double above, least;
  steading_event open[STEADING_MOST_METERS]; /* the spell at hand, of each meter or [0] */
  bool is_open[STEADING_MOST_METERS];
  steading_events *events;
  size_t room;
} gather;

/* --- a step --------------------------------------------------------------------------------------
 */

static bool is_of(const steading_block *b, size_t hub, int meter) {
  return meter < 0 || b->stretch->hubs[hub].meter == meter;
}

/* Unserved power of a meter and its hubs, or of the site. */
static double unserved_kw(const steading_block *b, const double *row, int meter) {
  double kw = 0;
  for (size_t i = 0; i < b->layout->hubs; i++)
    if (is_of(b, i, meter)) kw += steading_hub_flow_of(b->layout, row, i)->unserved;
  for (size_t m = 0; m < b->layout->meters; m++)
    if (meter < 0 || (int)m == meter) kw += steading_meter_flow_of(b->layout, row, m)->unserved;
  return kw;
}

/* What hubs of a meter, or of the site, leave out by their rules. */
static double shed_kw(const steading_block *b, const double *row, int meter) {
  double kw = 0;
  for (size_t i = 0; i < b->layout->hubs; i++)
    if (is_of(b, i, meter)) kw += steading_hub_flow_of(b->layout, row, i)->shed;
  return kw;
}

static double import_kw(const steading_block *b, const double *row) {
  double kw = 0;
  for (size_t m = 0; m < b->layout->meters; m++)
    kw += steading_meter_flow_of(b->layout, row, m)->import;
  return kw;
}

/* What generators give; *runs: whether any runs, which it may do for nothing. */
static double generator_kw(const steading_block *b, const double *row, bool *runs) {
  double kw = 0;
  *runs = false;
  for (size_t i = 0; i < b->layout->generators; i++) {
    const steading_generator_flow *f = steading_generator_flow_of(b->layout, row, i);
    kw += f->power;
    *runs = *runs || f->running_h > 0;
  }
  return kw;
}

static double short_l(const steading_block *b, const double *row) {
  double l = 0;
  for (size_t t = 0; t < b->layout->tanks; t++)
    l += steading_tank_flow_of(b->layout, row, t)->short_l;
  return l;
}

static double lowest_charge(const steading_block *b, const double *row, int meter) {
  double lowest = (double)INFINITY;
  for (size_t i = 0; i < b->layout->hubs; i++)
    if (is_of(b, i, meter) && b->capacity_kwh[i] > 0)
      lowest =
          fmin(lowest, steading_hub_flow_of(b->layout, row, i)->stored_kwh / b->capacity_kwh[i]);
  return lowest;
}

static double lowest_tank(const steading_block *b, const double *row) {
  double lowest = (double)INFINITY;
  for (size_t t = 0; t < b->layout->tanks; t++)
    if (b->stretch->tanks[t].full_l > 0)
      lowest = fmin(
          lowest, steading_tank_flow_of(b->layout, row, t)->level_l / b->stretch->tanks[t].full_l);
  return lowest;
}

/* --- spells --------------------------------------------------------------------------------------
 */

/* The spell of a meter (or of the site, 0) has ended. */
static steading_status close_spell(gather *g, size_t which, steading_error *error) {
  steading_event *event = &g->open[which];
  double per_step = g->kind == STEADING_EVENT_WATER_SHORT ? 1 : g->run->step_minutes / 60.0;
  if (!g->is_open[which]) return STEADING_OK;
  g->is_open[which] = false;
  event->amount *= per_step;
  event->shed_kwh *= g->run->step_minutes / 60.0;
  if (g->kind == STEADING_EVENT_WATER_SHORT) event->peak *= 60.0 / g->run->step_minutes;
  if (event->amount < g->least) return STEADING_OK;
  if (isinf(event->lowest_charge)) event->lowest_charge = (double)NAN;
  if (isinf(event->lowest_tank)) event->lowest_tank = (double)NAN;
  if (g->events->count == g->room) {
    size_t room = g->room == 0 ? 64 : 2 * g->room;
    steading_event *more = realloc(g->events->items, room * sizeof *more);
    if (more == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "events", "not enough memory");
    g->events->items = more;
    g->room = room;
  }
  g->events->items[g->events->count++] = *event;
  return STEADING_OK;
}

/* It happens in a step. */
static steading_status happens(gather *g, const steading_block *b, size_t s, int meter,
                               double value, steading_error *error) {
  const double *row = b->flows + s * b->layout->width;
  size_t step = b->first_step + s, which = meter < 0 ? 0 : (size_t)meter;
  steading_event *event = &g->open[which];
  if (g->is_open[which]) {
    size_t gap = step - event->last - 1;
    if (gap > 0 && !((double)gap * g->run->step_minutes < g->ask->join_hours * 60)) {
      steading_status status = close_spell(g, which, error);
      if (status != STEADING_OK) return status;
    }
  }
  if (!g->is_open[which]) {
    g->is_open[which] = true;
    *event = (steading_event){.first = step,
                              .meter = meter,
                              .lowest_charge = (double)INFINITY,
                              .lowest_tank = (double)INFINITY};
  }
  event->last = step;
  event->steps++;
  event->amount += value;
  event->peak = fmax(event->peak, value);
  event->shed_kwh += shed_kw(b, row, meter);
  event->lowest_charge = fmin(event->lowest_charge, lowest_charge(b, row, meter));
  event->lowest_tank = fmin(event->lowest_tank, lowest_tank(b, row));
  return STEADING_OK;
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  gather *g = context;
  steading_status status = STEADING_OK;
  const double *row = b->flows;
  for (size_t s = 0; status == STEADING_OK && s < b->count; s++, row += b->layout->width) {
    double value = 0;
    if (g->kind == STEADING_EVENT_OUTAGE) {
      for (size_t m = 0; status == STEADING_OK && m < b->layout->meters; m++)
        if (b->down >> m & 1) status = happens(g, b, s, (int)m, unserved_kw(b, row, (int)m), error);
      continue;
    }
    if (g->kind == STEADING_EVENT_GENERATOR) {
      bool runs = false;
      value = generator_kw(b, row, &runs);
      if (runs) status = happens(g, b, s, -1, value, error);
      continue;
    }
    if (g->kind == STEADING_EVENT_IMPORT) value = import_kw(b, row);
    if (g->kind == STEADING_EVENT_UNSERVED) value = unserved_kw(b, row, -1);
    if (g->kind == STEADING_EVENT_WATER_SHORT) value = short_l(b, row);
    if (value > g->above) status = happens(g, b, s, -1, value, error);
  }
  return status;
}

static int by_time(const void *a, const void *b) {
  const steading_event *x = a, *y = b;
  if (x->first != y->first) return x->first < y->first ? -1 : 1;
  return x->meter - y->meter;
}

steading_status steading_run_events(const steading_run *run, const steading_ask_events *ask,
                                    steading_events *events, steading_error *error) {
  gather g = {.run = run, .ask = ask, .kind = (steading_event_kind)ask->kind, .events = events};
  const steading_sink sink = {.take = take, .context = &g};
  steading_status status = STEADING_OK;
  *events = (steading_events){.count = 0};
  g.above = fmax(nothing, ask->above_kw);
  g.least = g.kind == STEADING_EVENT_WATER_SHORT ? ask->least_l : ask->least_kwh;
  status = steading_run_repeat(run, &sink, error);
  for (size_t m = 0; status == STEADING_OK && m < STEADING_MOST_METERS; m++)
    status = close_spell(&g, m, error);
  if (status != STEADING_OK)
    steading_events_free(events);
  else if (events->count > 1)
    qsort(events->items, events->count, sizeof *events->items, by_time);
  return status;
}

void steading_events_free(steading_events *events) {
  free(events->items);
  *events = (steading_events){.count = 0};
}
