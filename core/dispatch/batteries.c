#include "dispatch/batteries.h"

#include <math.h>
#include <stdio.h>

#include "dispatch/health.h"
#include "site/batteries.h"

/* --- compiling -----------------------------------------------------------------------------------
 */

bool steading_site_has_pools(const steading_site *site) {
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    if (steading_batteries_of(hub) > 1) return true;
    if (hub->battery != NULL && steading_module_is_special(steading_battery_at(hub, 0)->module))
      return true;
  }
  return false;
}

static steading_status check_lots(const steading_program *p, const steading_program_battery *b,
                                  steading_error *error) {
  const steading_list *lots = b->battery->lots;
  const double *usable = b->battery->module->usable;
  for (size_t k = 0; lots != NULL && k < lots->count; k++) {
    const steading_lot *lot = (const void *)lots->items[k];
    const steading_program_hub *hub = &p->hubs[b->hub];
    char path[192];
    if (b->battery->ageing == NULL && /* one that ages is replaced */
        (!steading_record_given(lot, "in_service") || lot->in_service <= p->start_day))
      continue;
    if (lot->delivered_charge >= usable[0] && lot->delivered_charge <= usable[1]) continue;
    snprintf(path, sizeof path, "site.hubs.%s.%s.lots[%zu].delivered_charge", hub->name,
             steading_battery_path_of(hub->hub, b->index).text, k + 1);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%.12g is outside the usable %.12g to %.12g", lot->delivered_charge,
                         usable[0], usable[1]);
  }
  return STEADING_OK;
}

steading_status steading_batteries_compile(steading_program *p, steading_error *error) {
  steading_status status = STEADING_OK;
  for (size_t i = 0; i < p->layout.hubs; i++) {
    steading_program_hub *h = &p->hubs[i];
    h->first_battery = p->battery_count;
    h->battery_count = steading_batteries_of(h->hub);
    for (size_t k = 0; status == STEADING_OK && k < h->battery_count; k++) {
      steading_program_battery *b = &p->batteries[p->battery_count++];
      char path[192];
      *b = (steading_program_battery){
          .hub = i, .index = k, .battery = steading_battery_at(h->hub, k)};
      snprintf(path, sizeof path, "site.hubs.%s.%s.module", h->name,
               steading_battery_path_of(h->hub, k).text);
      status = steading_cells_of(b->battery->module, p->step_minutes / 60.0, path, &b->one, error);
      if (status == STEADING_OK) status = check_lots(p, b, error);
    }
  }
  return status;
}

/* --- lots ----------------------------------------------------------------------------------------
 */

double steading_battery_nominal_kwh(const steading_program *p, size_t b, int64_t day) {
  return p->batteries[b].one.pool.capacity_kwh *
         steading_lots_on(p->batteries[b].battery->lots, day);
}

double steading_battery_capacity_kwh(const steading_program *p, size_t b, int64_t day) {
  if (steading_health_has(p->health, b)) return steading_health_capacity_kwh(p->health, b, day);
  return steading_battery_nominal_kwh(p, b, day);
}

double steading_battery_delivered_kwh(const steading_program *p, size_t b, int64_t day) {
  const steading_list *lots = p->batteries[b].battery->lots;
  double kwh = 0;
  for (size_t i = 0; lots != NULL && i < lots->count; i++) {
    const steading_lot *lot = (const void *)lots->items[i];
    double count = 0;
    if (!steading_record_given(lot, "in_service") || lot->in_service != day) continue;
    /* lots with the same charge are counted together, at the first of them: two lots of a day are
     * then the same as one bigger lot to the bit */
    for (size_t k = 0; k < lots->count; k++) {
      const steading_lot *other = (const void *)lots->items[k];
      if (!steading_record_given(other, "in_service") || other->in_service != day ||
          other->delivered_charge != lot->delivered_charge)
        continue;
      if (k < i) break;
      count += other->count;
    }
    kwh += lot->delivered_charge * count * p->batteries[b].one.pool.capacity_kwh;
  }
  return kwh;
}

double steading_battery_removed_share(const steading_program *p, size_t b, int64_t day) {
  const steading_list *lots = p->batteries[b].battery->lots;
  double before = 0, gone = 0;
  if (steading_health_has(p->health, b)) return steading_health_retired_share(p->health, b, day);
  for (size_t i = 0; lots != NULL && i < lots->count; i++) {
    const steading_lot *lot = (const void *)lots->items[i];
    if (!steading_lot_in_service(lot, day - 1)) continue;
    before += lot->count;
    if (steading_record_given(lot, "retired") && lot->retired == day) gone += lot->count;
  }
  return before > 0 ? gone / before : 0;
}

steading_pool_flow steading_battery_flow_of(const steading_program *p, const double *row,
                                            size_t b) {
  const steading_hub_flow *hub = NULL;
  if (p->layout.pools > 0) return *steading_pool_flow_of(&p->layout, row, b);
  hub = steading_hub_flow_of(&p->layout, row, p->batteries[b].hub);
  return (steading_pool_flow){.in = hub->battery_in,
                              .out = hub->battery_out,
                              .loss = hub->battery_loss,
                              .stored_kwh = hub->stored_kwh};
}

/* The hub of a battery of a run. */
static size_t hub_of(const steading_run *run, size_t battery) {
  size_t hub = 0, count = 0;
  for (;; hub++) {
    count += steading_batteries_of((const void *)run->site->hubs->entries[hub].item);
    if (battery < count) return hub;
  }
}

steading_battery_month steading_battery_month_of(const steading_run *run, size_t battery,
                                                 size_t month) {
  double h = run->step_minutes / 60.0;
  size_t hub = hub_of(run, battery);
  const double *sums = run->sums + month * run->layout.width;
  const steading_hub_month *kept = &run->hub_months[month * run->layout.hubs + hub];
  const steading_hub_flow *flow = steading_hub_flow_of(&run->layout, sums, hub);
  if (run->battery_months != NULL) return run->battery_months[month * run->battery_count + battery];
  return (steading_battery_month){.nominal_kwh_steps = kept->nominal_kwh_steps,
                                  .capacity_kwh_steps = kept->capacity_kwh_steps,
                                  .in_kwh = flow->battery_in * h,
                                  .out_kwh = flow->battery_out * h,
                                  .loss_kwh = flow->battery_loss * h,
                                  .stored_kwh_steps = flow->stored_kwh,
                                  .lowest_charge = kept->lowest_charge};
}

/* --- pools ---------------------------------------------------------------------------------------
 */

void steading_batteries_set(const steading_program *p, size_t hub, int64_t day,
                            steading_stretch *stretch) {
  const steading_program_hub *h = &p->hubs[hub];
  steading_hub_stretch *s = &stretch->hubs[hub];
  s->first_pool = h->first_battery;
  s->pools = h->battery_count;
  s->charge_kw = s->discharge_kw = s->standby_kw = s->lowest_kwh = s->highest_kwh = 0;
  s->efficiency_in = s->efficiency_out = 0;
  for (size_t b = h->first_battery; b < h->first_battery + h->battery_count; b++) {
    double count = steading_lots_on(p->batteries[b].battery->lots, day);
    double grown =
        steading_health_has(p->health, b) ? steading_health_resistance(p->health, b, day) : 1;
    const steading_cells cells = steading_cells_together(
        &p->batteries[b].one, count, steading_battery_capacity_kwh(p, b, day), grown);
    stretch->pools[b] = cells;
    s->efficiency_in = fmax(s->efficiency_in, cells.pool.efficiency_in);
    s->efficiency_out = fmax(s->efficiency_out, cells.pool.efficiency_out);
    s->charge_kw += cells.pool.charge_kw;
    s->discharge_kw += cells.pool.discharge_kw;
    s->standby_kw += cells.pool.standby_kw;
    s->lowest_kwh += cells.pool.lowest_share * cells.pool.capacity_kwh;
    s->highest_kwh += cells.pool.highest_share * cells.pool.capacity_kwh;
  }
  if (h->battery_count == 0) s->efficiency_in = s->efficiency_out = 1;
}

double steading_batteries_kwh_at(const steading_stretch *stretch, size_t hub, double capacity_kwh,
                                 double share) {
  const steading_hub_stretch *s = &stretch->hubs[hub];
  double kwh = 0;
  if (stretch->pool_count == 0)
    return fmin(fmax(share * capacity_kwh, s->lowest_kwh), s->highest_kwh);
  for (size_t k = 0; k < s->pools; k++)
    kwh += steading_cells_kwh_at(&stretch->pools[s->first_pool + k], share);
  return kwh;
}

void steading_batteries_set_floor(steading_stretch *stretch, size_t hub, double capacity_kwh,
                                  double share, double resume_share) {
  steading_hub_stretch *s = &stretch->hubs[hub];
  s->floor_share = share;
  s->floor_kwh = s->resume_kwh = steading_batteries_kwh_at(stretch, hub, capacity_kwh, share);
  if (isnan(resume_share)) return;
  s->resume_kwh =
      fmin(fmax(s->floor_kwh, steading_batteries_kwh_at(stretch, hub, capacity_kwh, resume_share)),
           s->highest_kwh * (1 - 1e-9)); /* a full battery always serves again */
}

/* What a hub has stored is what its pools have. */
static void add_up(const steading_program *p, size_t hub, steading_state *state) {
  const steading_program_hub *h = &p->hubs[hub];
  double stored = 0;
  if (p->layout.pools == 0) return;
  for (size_t b = h->first_battery; b < h->first_battery + h->battery_count; b++)
    stored += state->pools[b].stored_kwh;
  state->stored_kwh[hub] = stored;
}

void steading_batteries_begin(const steading_program *p, size_t hub,
                              const steading_stretch *stretch, const double *share,
                              steading_state *state) {
  const steading_program_hub *h = &p->hubs[hub];
  const steading_hub_stretch *s = &stretch->hubs[hub];
  double capacity = steading_program_capacity_kwh(p, hub, p->start_day);
  state->stored_kwh[hub] = share != NULL ? *share * capacity : (s->floor_kwh + s->highest_kwh) / 2;
  for (size_t b = h->first_battery; p->layout.pools > 0 && b < h->first_battery + h->battery_count;
       b++) {
    const steading_cells *cells = &stretch->pools[b];
    double low = cells->pool.lowest_share, high = cells->pool.highest_share;
    double floor = fmin(fmax(s->floor_share, low), high);
    double start = share != NULL ? fmin(fmax(*share, low), high) : (floor + high) / 2;
    state->pools[b] = steading_cells_rested(cells, start);
  }
  add_up(p, hub, state);
}
