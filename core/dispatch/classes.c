#include "dispatch/classes.h"

#include <stdlib.h>

#include "demand/loads.h"
#include "dispatch/wants.h"

typedef struct work {
  const steading_run *run;
  steading_class_months *out;
  size_t hubs;
  steading_wants wants; /* [sides][STEADING_CLASSES] */
  double sheds[STEADING_MOST_HUBS][STEADING_SHED_CLASSES];
} work;

void steading_classes_shed(const steading_block *b, size_t step, size_t hub,
                           double sheds[STEADING_SHED_CLASSES]) {
  const double *row = b->flows + step * b->layout->width;
  for (size_t c = 0; c < STEADING_SHED_CLASSES; c++) {
    double stored = 0;
    if (b->before == NULL) {
      sheds[c] = 0;
      continue;
    }
    if (step == 0) sheds[c] = b->before->shedding[hub][c];
    stored = step == 0 ? b->before->stored_kwh[hub]
                       : steading_hub_flow_of(b->layout, row - b->layout->width, hub)->stored_kwh;
    sheds[c] = steading_sheds(&b->stretch->hubs[hub], c, stored, sheds[c]);
  }
}

/* --- preparing -----------------------------------------------------------------------------------
 */

static steading_status no_memory(steading_error *error) {
  return steading_fail(error, STEADING_NO_MEMORY, "run.classes", "not enough memory");
}

static steading_status prepare(work *w, steading_error *error) {
  const steading_site *site = w->run->site;
  steading_class_months *out = w->out;
  size_t cells = 0;
  steading_status status = STEADING_OK;
  w->hubs = w->run->layout.hubs;
  out->sides = w->hubs + w->run->layout.meters;
  out->month_count = w->run->month_count;
  cells = out->sides * STEADING_CLASSES;
  out->there = calloc(cells + 1, sizeof *out->there);
  out->months = calloc(out->month_count * cells + 1, sizeof *out->months);
  if (out->there == NULL || out->months == NULL) return no_memory(error);
  status = steading_wants_make(w->run, cells, "run.classes", &w->wants, error);
  for (size_t k = 0; status == STEADING_OK && k < cells; k++) {
    size_t side = k / STEADING_CLASSES;
    bool is_hub = side < w->hubs;
    const char *name =
        is_hub ? site->hubs->entries[side].name : site->meters->entries[side - w->hubs].name;
    status = steading_loads_gather_class(
        site->buildings, is_hub ? steading_building_on_hub : steading_building_on_meter, name,
        (int)(k % STEADING_CLASSES), w->run->step_minutes, &w->wants.loads[k], error);
    if (status == STEADING_OK) out->there[k] = steading_loads_count(w->wants.loads[k]) > 0;
  }
  return status;
}

/* --- a step --------------------------------------------------------------------------------------
 */

/* Share out what a side lacks; the order of who goes short first. */
static void add_side(const work *w, size_t side, size_t step, double unserved_kw, double h,
                     const double sheds[STEADING_SHED_CLASSES], steading_class_month *to) {
  static const int order[STEADING_CLASSES] = {STEADING_CLASS_SHEDDABLE, STEADING_CLASS_DEFERRABLE,
                                              STEADING_CLASS_ORDINARY, STEADING_CLASS_ESSENTIAL};
  double left = unserved_kw;
  for (size_t i = 0; i < STEADING_CLASSES; i++) {
    size_t c = (size_t)order[i];
    double kw = steading_wants_kw(&w->wants, side * STEADING_CLASSES + c, step);
    bool is_shed = c < STEADING_SHED_CLASSES && sheds[c] > 0;
    double lacks = is_shed ? 0 : (left < kw ? left : kw);
    left -= lacks;
    to[c].load_kwh += kw * h;
    to[c].shed_kwh += is_shed ? kw * h : 0;
    to[c].unserved_kwh += lacks * h;
    to[c].served_kwh += is_shed ? 0 : (kw - lacks) * h;
  }
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  static const double none[STEADING_SHED_CLASSES] = {0};
  work *w = context;
  const size_t sides = w->out->sides;
  steading_class_month *months = w->out->months + b->month_index * sides * STEADING_CLASSES;
  const double *row = b->flows;
  double h = b->stretch->step_h;
  (void)error;
  steading_wants_begin(&w->wants, b);
  for (size_t s = 0; s < b->count; s++, row += b->layout->width) {
    for (size_t i = 0; i < sides; i++) {
      bool is_hub = i < w->hubs;
      double lacks = is_hub ? steading_hub_flow_of(b->layout, row, i)->unserved
                            : steading_meter_flow_of(b->layout, row, i - w->hubs)->unserved;
      if (is_hub) steading_classes_shed(b, s, i, w->sheds[i]);
      add_side(w, i, b->first_step + s, lacks, h, is_hub ? w->sheds[i] : none,
               months + i * STEADING_CLASSES);
    }
  }
  return STEADING_OK;
}

/* --- all of them ---------------------------------------------------------------------------------
 */

steading_status steading_run_classes(const steading_run *run, steading_class_months **classes,
                                     steading_error *error) {
  work w = {.run = run};
  steading_sink sink = {.take = take, .context = &w};
  steading_status status = STEADING_OK;
  *classes = NULL;
  w.out = calloc(1, sizeof *w.out);
  if (w.out == NULL) return no_memory(error);
  status = prepare(&w, error);
  if (status == STEADING_OK) status = steading_run_repeat(run, &sink, error);
  steading_wants_free(&w.wants);
  if (status == STEADING_OK)
    *classes = w.out;
  else
    steading_class_months_free(w.out);
  return status;
}

void steading_class_months_free(steading_class_months *classes) {
  if (classes == NULL) return;
  free(classes->there);
  free(classes->months);
  free(classes);
}
