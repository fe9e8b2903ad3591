#include "dispatch/reasons.h"

#include <stdlib.h>

/* Less is rounding: reason.c holds it for nothing. */
static const double nothing_kw = 1e-9;

typedef struct tally {
  size_t steps;
  double kw; /* summed over the steps */
} tally;

typedef struct gather {
  size_t parts; /* hubs, then meters */
  int meter_of_hub[STEADING_MOST_HUBS];
  tally *tallies; /* [years][parts][STEADING_REASON_COUNT] */
} gather;

static void add(tally *to, steading_reason reason, double kw) {
  if (reason == STEADING_REASON_none || !(kw > nothing_kw)) return;
  to[reason].steps++;
  to[reason].kw += kw;
}

static void take_step(const gather *g, const steading_block *b, size_t step, tally *of_year) {
  const steading_layout *at = b->layout;
  const double *row = b->flows + step * at->width;
  double wanted[STEADING_MOST_METERS] = {0}, sent[STEADING_MOST_METERS] = {0};
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(at, row, i);
    if (g->meter_of_hub[i] < 0) continue;
    wanted[g->meter_of_hub[i]] += f->from_bus;
    sent[g->meter_of_hub[i]] += f->to_bus;
  }
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub_flow *f = steading_hub_flow_of(at, row, i);
    int m = g->meter_of_hub[i];
    double imported = f->from_bus;
    if (m >= 0 && imported > 0) {
      double import = steading_meter_flow_of(at, row, (size_t)m)->import;
      if (import < wanted[m]) imported *= import / wanted[m];
    }
    add(of_year + i * STEADING_REASON_COUNT, steading_reason_of_hub(b, step, i),
        imported + f->unserved);
  }
  for (size_t m = 0; m < at->meters; m++) {
    const steading_meter_flow *f = steading_meter_flow_of(at, row, m);
    double own = f->served > sent[m] ? f->served - sent[m] : 0;
    add(of_year + (at->hubs + m) * STEADING_REASON_COUNT, steading_reason_of_meter(b, step, m),
        own + f->unserved);
  }
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  gather *g = context;
  tally *of_year = g->tallies + b->month_index / 12 * g->parts * STEADING_REASON_COUNT;
  (void)error;
  for (size_t i = 0; i < b->layout->hubs; i++) g->meter_of_hub[i] = b->stretch->hubs[i].meter;
  for (size_t s = 0; s < b->count; s++) take_step(g, b, s, of_year);
  return STEADING_OK;
}

static steading_status write_rows(const steading_run *run, const gather *g,
                                  steading_reasons *reasons, steading_error *error) {
  double h = run->step_minutes / 60.0;
  size_t years = (size_t)run->years, hubs = run->layout.hubs, count = 0;
  size_t all = years * g->parts * STEADING_REASON_COUNT;
  for (size_t i = 0; i < all; i++) count += g->tallies[i].steps > 0;
  reasons->rows = calloc(count + 1, sizeof *reasons->rows);
  if (reasons->rows == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "reasons", "not enough memory");
  for (size_t i = 0; i < all; i++) {
    const tally *t = &g->tallies[i];
    size_t part = i / STEADING_REASON_COUNT % g->parts;
    if (t->steps == 0) continue;
    reasons->rows[reasons->count++] = (steading_reasons_row){
        .year = run->start_year + (int)(i / STEADING_REASON_COUNT / g->parts),
        .hub = part < hubs ? (int)part : -1,
        .meter = part < hubs ? g->meter_of_hub[part] : (int)(part - hubs),
        .reason = (steading_reason)(i % STEADING_REASON_COUNT),
        .hours = (double)t->steps * h,
        .kwh = t->kw * h};
  }
  return STEADING_OK;
}

steading_status steading_run_reasons(const steading_run *run, steading_reasons *reasons,
                                     steading_error *error) {
  gather g = {.parts = run->layout.hubs + run->layout.meters};
  const steading_sink sink = {.take = take, .context = &g};
  steading_status status = STEADING_OK;
  *reasons = (steading_reasons){.count = 0};
  g.tallies = calloc((size_t)run->years * g.parts * STEADING_REASON_COUNT + 1, sizeof *g.tallies);
  if (g.tallies == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "reasons", "not enough memory");
  status = steading_run_repeat(run, &sink, error);
  if (status == STEADING_OK) status = write_rows(run, &g, reasons, error);
  free(g.tallies);
  return status;
}

void steading_reasons_free(steading_reasons *reasons) {
  free(reasons->rows);
  *reasons = (steading_reasons){.count = 0};
}
