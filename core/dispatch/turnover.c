#include "dispatch/turnover.h"

#include <math.h>

#include "dispatch/health.h"

/* The share of its water that a tank loses with those of its pieces that leave on a day. */
static double drained_share(const steading_list *lots, int64_t day) {
  double before = steading_lots_on(lots, day - 1), gone = 0;
  for (size_t l = 0; lots != NULL && l < lots->count; l++) {
    const steading_lot *lot = (const void *)lots->items[l];
    if (steading_record_given(lot, "retired") && lot->retired == day &&
        !(steading_record_given(lot, "in_service") && lot->in_service >= day))
      gone += lot->count;
  }
  return gone > 0 && before > 0 ? gone / before : 0;
}

steading_turnover steading_turnover_of(const steading_program *p, int64_t day, bool year_turns,
                                       bool lots_change, const steading_stretch *up) {
  steading_turnover t = {.any = year_turns || lots_change};
  if (!t.any) return t;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    t.most_kwh[i] = (double)INFINITY;
    if (year_turns && steading_health_has(p->health, i)) {
      t.replaced_share[i] = steading_health_replaced_share(p->health, i);
      t.replacement_kwh[i] = steading_health_replacement_kwh(p->health, i);
      t.most_kwh[i] = up->hubs[i].highest_kwh;
    }
    if (!lots_change) continue;
    t.removed_share[i] = steading_program_removed_share(p, i, day);
    t.delivered_kwh[i] = steading_program_delivered_kwh(p, i, day);
  }
  for (size_t k = 0; lots_change && k < p->layout.tanks; k++)
    t.drained_share[k] = drained_share(p->tanks[k].tank->lots, day);
  return t;
}

static void exchange(double share, double come_kwh, double *stored_kwh, double *delivered_kwh,
                     double *removed_kwh) {
  double removed = *stored_kwh * share;
  *removed_kwh += removed;
  *delivered_kwh += come_kwh;
  *stored_kwh += come_kwh - removed;
}

void steading_turnover_apply(const steading_turnover *t, const steading_layout *at,
                             steading_state *state, double *delivered_kwh, double *removed_kwh,
                             double *fade_kwh) {
  if (!t->any) return;
  for (size_t i = 0; i < at->hubs; i++) {
    double *stored = &state->stored_kwh[i];
    exchange(t->replaced_share[i], t->replacement_kwh[i], stored, &delivered_kwh[i],
             &removed_kwh[i]);
    exchange(t->removed_share[i], t->delivered_kwh[i], stored, &delivered_kwh[i], &removed_kwh[i]);
    if (!(*stored > t->most_kwh[i])) continue;
    fade_kwh[i] += *stored - t->most_kwh[i];
    *stored = t->most_kwh[i];
  }
  for (size_t k = 0; k < at->tanks; k++) state->tank_l[k] *= 1 - t->drained_share[k];
}
