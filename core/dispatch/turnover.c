#include "dispatch/turnover.h"

#include <math.h>

#include "dispatch/batteries.h"
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

static double highest_kwh(const steading_program *p, size_t battery, const steading_stretch *up) {
  const steading_pool *pool = &up->pools[battery].pool;
  if (p->layout.pools == 0) return up->hubs[p->batteries[battery].hub].highest_kwh;
  return pool->highest_share * pool->capacity_kwh;
}

steading_turnover steading_turnover_of(const steading_program *p, int64_t day, bool year_turns,
                                       bool lots_change, const steading_stretch *up) {
  steading_turnover t = {.any = year_turns || lots_change, .battery_count = p->battery_count};
  if (!t.any) return t;
  for (size_t i = 0; i < p->battery_count; i++) {
    steading_battery_turnover *b = &t.batteries[i];
    *b = (steading_battery_turnover){.hub = p->batteries[i].hub, .most_kwh = (double)INFINITY};
    if (p->batteries[i].one.has_tanks)
      b->available_share = p->batteries[i].one.tanks.available_share;
    if (year_turns && steading_health_has(p->health, i)) {
      b->replaced_share = steading_health_replaced_share(p->health, i);
      b->replacement_kwh = steading_health_replacement_kwh(p->health, i);
      b->most_kwh = highest_kwh(p, i, up);
    }
    if (!lots_change) continue;
    b->removed_share = steading_battery_removed_share(p, i, day);
    b->delivered_kwh = steading_battery_delivered_kwh(p, i, day);
  }
  for (size_t k = 0; lots_change && k < p->layout.tanks; k++)
    t.drained_share[k] = drained_share(p->tanks[k].tank->lots, day);
  return t;
}

/* A share of the charge goes, then some comes, at rest. Returns what went. */
static double exchange(const steading_battery_turnover *b, double share, double come_kwh,
                       steading_charge *charge) {
  double removed = charge->stored_kwh * share;
  charge->stored_kwh += come_kwh - removed;
  charge->available_kwh = charge->available_kwh * (1 - share) + b->available_share * come_kwh;
  return removed;
}

void steading_turnover_apply(const steading_turnover *t, const steading_layout *at,
                             steading_state *state, double *delivered_kwh, double *removed_kwh,
                             double *fade_kwh) {
  bool pooled = at->pools > 0;
  if (!t->any) return;
  for (size_t i = 0; pooled && i < at->hubs; i++) state->stored_kwh[i] = 0;
  for (size_t i = 0; i < t->battery_count; i++) {
    const steading_battery_turnover *b = &t->batteries[i];
    steading_charge now = {.stored_kwh = state->stored_kwh[b->hub]};
    if (pooled) now = state->pools[i];
    removed_kwh[b->hub] += exchange(b, b->replaced_share, b->replacement_kwh, &now);
    removed_kwh[b->hub] += exchange(b, b->removed_share, b->delivered_kwh, &now);
    delivered_kwh[b->hub] += b->replacement_kwh + b->delivered_kwh;
    if (now.stored_kwh > b->most_kwh) {
      fade_kwh[b->hub] += now.stored_kwh - b->most_kwh;
      now.available_kwh *= b->most_kwh / now.stored_kwh;
      now.stored_kwh = b->most_kwh;
    }
    if (pooled) state->pools[i] = now;
    state->stored_kwh[b->hub] =
        pooled ? state->stored_kwh[b->hub] + now.stored_kwh : now.stored_kwh;
  }
  for (size_t k = 0; k < at->tanks; k++) state->tank_l[k] *= 1 - t->drained_share[k];
}
