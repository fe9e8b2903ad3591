#include "ledger/notices.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "demand/loads.h"
#include "dispatch/result.h"
#include "ledger/fuel.h"
#include "ledger/tariff.h"
#include "plant/array.h"
#include "resource/weather.h"
#include "site/batteries.h"
#include "site/periods.h"

typedef struct notices {
  const steading_run *run;
  const steading_span *span; /* the whole run */
  steading_warning_list to;
} notices;

static double step_h(const notices *n) { return n->run->step_minutes / 60.0; }

/* Of a flow that was added up over the run. */
static double kwh_per_year(const notices *n, double sum_kw) {
  return sum_kw * step_h(n) / n->run->years;
}

/* --- weather and steps ---------------------------------------------------------------------------
 */

static void note_weather(notices *n) {
  const size_t years = n->run->site->weather->years;
  steading_warning told;
  if ((size_t)n->run->years > years) {
    if (years == 1)
      steading_warn(
          &n->to, "weather_repeats", "weather",
          "one weather year is repeated %d times: no bad year is in it, so that spread and dull "
          "spells are too kind",
          n->run->years);
    else
      steading_warn(&n->to, "weather_repeats", "weather",
                    "%d years of run on %zu years of weather: the weather repeats", n->run->years,
                    years);
  }
  if (steading_step_warnings(n->run->site, n->run->step_minutes, &told, 1) > 0)
    steading_warn(&n->to, told.code, told.path, "%s", told.text);
}

/* --- grid-free hours -----------------------------------------------------------------------------
 */

/* A building straight on a meter, with its least and its mean power in the run's first year. */
typedef struct always_on {
  const char *name;
  double least_w, mean_w;
} always_on;

static bool of_name(const void *context, const char *name, const steading_building *building) {
  (void)building;
  return strcmp(name, context) == 0;
}

static bool measure(const notices *n, const char *name, const steading_civil_step *civil,
                    double *kw, always_on *found) {
  const steading_run *run = n->run;
  size_t steps = (size_t)STEADING_HOURS_PER_YEAR * 60u / (size_t)run->step_minutes;
  steading_load_year year = {.start_day = run->start_day, .steps = civil};
  steading_loads *loads = NULL;
  double least = (double)INFINITY, sum = 0;
  year.first_hour = (size_t)steading_days_before_month[run->start_month - 1] * 24;
  if (steading_loads_gather(run->site->buildings, of_name, name, run->step_minutes, &loads, NULL) !=
      STEADING_OK)
    return false;
  steading_loads_year(loads, &year, kw);
  steading_loads_free(loads);
  for (size_t i = 0; i < steps; i++) {
    least = fmin(least, kw[i]);
    sum += kw[i];
  }
  *found = (always_on){name, 1000 * least, 1000 * sum / (double)steps};
  return true;
}

/* The building on a meter that draws most all the time, or else on the average. */
static always_on worst_on_meters(const notices *n) {
  const steading_run *run = n->run;
  const steading_map *buildings = run->site->buildings;
  size_t steps = (size_t)STEADING_HOURS_PER_YEAR * 60u / (size_t)run->step_minutes;
  steading_civil_step *civil = malloc(steps * sizeof *civil);
  double *kw = malloc(steps * sizeof *kw);
  always_on worst = {.name = NULL};
  if (civil != NULL)
    steading_clock_year(run->start_year, run->start_month, run->zone,
                        run->site->weather->place.utc_offset_h, run->step_minutes, civil);
  for (size_t b = 0; civil != NULL && kw != NULL && b < buildings->count; b++) {
    const steading_building *building = (const void *)buildings->entries[b].item;
    always_on found;
    if (building->meter == NULL || !measure(n, buildings->entries[b].name, civil, kw, &found))
      continue;
    if (!(found.mean_w > 0)) continue;
    if (worst.name == NULL || found.least_w > worst.least_w ||
        (found.least_w == worst.least_w && found.mean_w > worst.mean_w))
      worst = found;
  }
  free(civil);
  free(kw);
  return worst;
}

/* The well with the hungriest pump on a meter; -1 without one. */
static int worst_well(const notices *n) {
  const steading_water *water = n->run->site->water;
  const steading_layout *at = &n->run->layout;
  int worst = -1;
  double most = 0;
  for (size_t w = 0; w < at->wells; w++) {
    const steading_well *well = (const void *)water->wells->entries[w].item;
    double sum = steading_well_flow_of(at, n->span->sum, w)->pump;
    if (well->meter == NULL || !(sum > most)) continue;
    most = sum;
    worst = (int)w;
  }
  return worst;
}

/* Told when the site has less than three quarters of the hours that its hubs would have alone, and
 * these are at least a twentieth of all: below that, what stands on the meter is not the reason. */
static const double lost_share = 0.75, told_share = 0.05;

static void note_grid_free(notices *n) {
  const steading_layout *at = &n->run->layout;
  const steading_map *hubs = n->run->site->hubs, *buildings = n->run->site->buildings;
  double steps = (double)n->span->site.steps, hub_share = 2, a_year = STEADING_HOURS_PER_YEAR;
  double share = steading_site_flow_of(n->span->sum)->grid_free / steps;
  const char *hub = "";
  always_on worst = {.name = NULL};
  char path[128];
  int well = -1;
  for (size_t i = 0; i < at->hubs; i++) { /* the hub with the fewest bounds what all can have */
    double own = steading_hub_flow_of(at, n->span->sum, i)->grid_free / steps;
    if (((const steading_hub *)(void *)hubs->entries[i].item)->meter == NULL) continue;
    if (own < hub_share) {
      hub_share = own;
      hub = hubs->entries[i].name;
    }
  }
  if (hub_share > 1) return;
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub *h = (const void *)hubs->entries[i].item;
    if (h->meter == NULL ||
        !(h->inverter->import_margin_w / 1000 > n->run->site->grid_free_below_kw))
      continue;
    if (steading_hub_flow_of(at, n->span->sum, i)->grid_free > told_share * steps) continue;
    snprintf(path, sizeof path, "hubs.%s.inverter.import_margin_w", hubs->entries[i].name);
    steading_warn(
        &n->to, "grid_free_lost", path,
        "only %.0f of %.0f hours a year are grid-free because of it: %.6g W are drawn from the "
        "grid at "
        "all times, and an hour counts up to %.6g W (grid_free_below_kw)",
        share * a_year, a_year, h->inverter->import_margin_w,
        1000 * n->run->site->grid_free_below_kw);
  }
  if (hub_share < told_share || share >= lost_share * hub_share) return;
  if (buildings != NULL) worst = worst_on_meters(n);
  if (worst.name != NULL) {
    snprintf(path, sizeof path, "buildings.%s", worst.name);
    steading_warn(
        &n->to, "grid_free_lost", path,
        "only %.0f of %.0f hours a year are grid-free because of '%s', straight on the meter "
        "(%.4g W "
        "%s); hub '%s' alone has %.0f, see run.hubs",
        share * a_year, a_year, worst.name, worst.least_w > 0 ? worst.least_w : worst.mean_w,
        worst.least_w > 0 ? "at all times" : "on the average", hub, hub_share * a_year);
    return;
  }
  well = worst_well(n);
  if (well < 0) return;
  snprintf(path, sizeof path, "water.wells.%s", n->run->site->water->wells->entries[well].name);
  steading_warn(
      &n->to, "grid_free_lost", path,
      "only %.0f of %.0f hours a year are grid-free because of its pump, straight on the meter "
      "(%.4g "
      "kWh a year); hub '%s' alone has %.0f, see run.hubs",
      share * a_year, a_year,
      kwh_per_year(n, steading_well_flow_of(at, n->span->sum, (size_t)well)->pump), hub,
      hub_share * a_year);
}

/* --- surplus -------------------------------------------------------------------------------------
 */

/* Below this, kWh a year, nothing is worth a word. */
static const double told_kwh = 1;

static bool lists(const steading_texts *words, const char *word) {
  for (size_t i = 0; i < words->count; i++)
    if (strcmp(words->items[i], word) == 0) return true;
  return false;
}

static void note_surplus(notices *n) {
  const steading_layout *at = &n->run->layout;
  steading_warning told[STEADING_MOST_METERS];
  size_t count = steading_bill_warnings(n->run, told, STEADING_MOST_METERS);
  for (size_t i = 0; i < count; i++)
    steading_warn(&n->to, told[i].code, told[i].path, "%s", told[i].text);
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_map_entry *entry = &n->run->site->hubs->entries[i];
    const steading_hub *hub = (const void *)entry->item;
    const steading_texts *order = hub->rules == NULL ? NULL : hub->rules->surplus_order;
    const steading_meter *meter =
        hub->meter == NULL ? NULL : steading_map_at(n->run->site->meters, hub->meter);
    double lost = kwh_per_year(n, steading_hub_flow_of(at, n->span->sum, i)->pv_curtailed);
    char path[128];
    if (order == NULL || lists(order, "export") || !(lost >= told_kwh)) continue;
    if (meter == NULL || !(meter->export_limit_kw > 0) || meter->tariff == NULL ||
        meter->tariff->export == NULL || meter->tariff->export->kind == STEADING_EXPORT_NONE)
      continue;
    snprintf(path, sizeof path, "hubs.%s.rules.surplus_order", entry->name);
    steading_warn(
        &n->to, "surplus_unsold", path,
        "leaves out export: of the %.6g kWh a year that are not used, the meter '%s' would take "
        "some and the tariff has a price for it",
        lost, hub->meter);
  }
}

/* --- dates ---------------------------------------------------------------------------------------
 */

static bool after_end(const notices *n, int64_t day) {
  return steading_days_between(n->run->start_day, day) >=
         (int64_t)n->run->years * STEADING_DAYS_PER_YEAR;
}

static void note_late(notices *n, const char *path, const char *what, int64_t day) {
  int year = 0, month = 0, of_month = 0;
  steading_date_of_day(day, &year, &month, &of_month);
  steading_warn(&n->to, "never_in_service", path,
                "%s %04d-%02d-%02d, after the end of the run: nothing of it is in the results",
                what, year, month, of_month);
}

static steading_status note_lot(void *context, const steading_lot *lot, const char *path,
                                steading_error *error) {
  notices *n = context;
  (void)error;
  if (lot->count > 0 && steading_record_given(lot, "in_service") && after_end(n, lot->in_service))
    note_late(n, path, "arrives on", lot->in_service);
  else if (lot->count > 0 && steading_record_given(lot, "retired") &&
           lot->retired <= n->run->start_day)
    steading_warn(&n->to, "never_in_service", path,
                  "retires before the run starts: nothing of it is in the results");
  return STEADING_OK;
}

static void note_dates(notices *n) {
  const steading_list *works = n->run->site->works;
  const steading_map *buildings = n->run->site->buildings;
  char path[128];
  steading_site_each_lot(n->run->site, note_lot, n, NULL);
  for (size_t i = 0; works != NULL && i < works->count; i++) {
    const steading_works *w = (const void *)works->items[i];
    snprintf(path, sizeof path, "works[%zu]", i + 1);
    if (steading_record_given(w, "date") && after_end(n, w->date))
      note_late(n, path, "are dated", w->date);
  }
  for (size_t b = 0; buildings != NULL && b < buildings->count; b++) {
    const steading_building *building = (const void *)buildings->entries[b].item;
    snprintf(path, sizeof path, "buildings.%s.in_service", buildings->entries[b].name);
    if (steading_record_given(building, "in_service") && after_end(n, building->in_service))
      note_late(n, path, "is", building->in_service);
  }
}

/* --- arrays --------------------------------------------------------------------------------------
 */

/* Whether a piece of it is in service on a day of the run. */
static bool serves(const notices *n, const steading_list *lots) {
  if (lots == NULL) return true;
  for (size_t i = 0; i < lots->count; i++) {
    const steading_lot *lot = (const void *)lots->items[i];
    if (!(lot->count > 0)) continue;
    if (steading_record_given(lot, "in_service") && after_end(n, lot->in_service)) continue;
    if (steading_record_given(lot, "retired") && lot->retired <= n->run->start_day) continue;
    return true;
  }
  return false;
}

static bool yields(const notices *n, const steading_array *array) {
  steading_weather *weather = n->run->site->weather;
  steading_yield_key key = steading_yield_key_of(array);
  const double *yield = steading_yield_of(weather, &key);
  for (size_t i = 0; yield != NULL && i < weather->steps; i++)
    if (yield[i] > 0) return true;
  return yield == NULL; /* without memory there is nothing to be said */
}

static void note_arrays(notices *n) {
  const steading_map *hubs = n->run->site->hubs;
  char path[128];
  for (size_t i = 0; hubs != NULL && i < hubs->count; i++) {
    const steading_hub *hub = (const void *)hubs->entries[i].item;
    const steading_hub_flow *f = steading_hub_flow_of(&n->run->layout, n->span->sum, i);
    for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
      const steading_array *array = (const void *)hub->arrays->items[a];
      snprintf(path, sizeof path, "hubs.%s.arrays[%zu]", hubs->entries[i].name, a + 1);
      if (serves(n, array->lots) && !yields(n, array))
        steading_warn(&n->to, "no_yield", path,
                      "never gives any power: in no step of the weather does light reach it");
    }
    snprintf(path, sizeof path, "hubs.%s.arrays", hubs->entries[i].name);
    if (f->pv_used <= 0 && kwh_per_year(n, f->pv_available) >= told_kwh)
      steading_warn(
          &n->to, "sun_unused", path,
          "nothing is taken of the %.6g kWh a year that they could give: is there an inverter in "
          "service, pv_kw above 0 and something to feed?",
          kwh_per_year(n, f->pv_available));
  }
}

/* --- water ---------------------------------------------------------------------------------------
 */

static void note_tanks(notices *n) {
  const steading_run *run = n->run;
  const steading_layout *at = &run->layout;
  steading_program *program = at->tanks > 0 ? malloc(sizeof *program) : NULL;
  if (program != NULL && steading_program_compile(run->site, run->step_minutes, run->start_day,
                                                  program, NULL) == STEADING_OK)
    for (size_t t = 0; t < at->tanks; t++) { /* tanks of rows stand in the order of wells */
      const steading_tank_flow *all = steading_tank_flow_of(at, n->span->sum, t);
      double wanted = all->delivered_l + all->short_l;
      size_t months = 0, first = 0;
      char path[128];
      if (!(all->short_l > 1e-9 * wanted)) continue;
      for (size_t k = 0; k < run->month_count; k++) {
        if (!(steading_tank_flow_of(at, run->sums + k * at->width, t)->short_l > 0)) continue;
        if (months++ == 0) first = k;
      }
      snprintf(path, sizeof path, "water.tanks.%s", program->tanks[t].name);
      steading_warn(
          &n->to, "ran_dry", path,
          "ran dry: %.6g of %.6g l were short, in %zu of %zu months, for the first time in "
          "%04d-%02d",
          all->short_l, wanted, months, run->month_count, run->months[first].year,
          run->months[first].month);
    }
  free(program);
}

/* --- random parts --------------------------------------------------------------------------------
 */

static void note_seed(notices *n) {
  const steading_map *meters = n->run->site->meters;
  if (!steading_record_given(n->run->options, "seed")) return;
  for (size_t m = 0; meters != NULL && m < meters->count; m++) {
    const steading_meter *meter = (const void *)meters->entries[m].item;
    if (meter->outages != NULL && meter->outages->saifi > 0) return;
  }
  steading_warn(&n->to, "no_effect", "simulate.seed", "has no effect: nothing in it is random");
}

/* --- fuel ----------------------------------------------------------------------------------------
 */

static void note_fuel(notices *n) {
  const steading_run *run = n->run;
  for (size_t f = 0; f < run->layout.fuels; f++) {
    steading_fuel_bill bill = steading_fuel_bill_of(run, f, 0, run->month_count);
    size_t months = 0, first = 0;
    char path[128];
    if (!(bill.hours_without > 0)) continue;
    for (size_t k = 0; k < run->month_count; k++) {
      if (!(steading_fuel_bill_of(run, f, k, 1).hours_without > 0)) continue;
      if (months++ == 0) first = k;
    }
    snprintf(path, sizeof path, "fuels.%.64s", run->site->fuels->entries[f].name);
    steading_warn(
        &n->to, "no_fuel", path,
        "ran out: generators were to run for %.4g hours without any, in %zu of %zu months, "
        "for the first time in %04d-%02d",
        bill.hours_without, months, run->month_count, run->months[first].year,
        run->months[first].month);
  }
}

/* --- batteries -----------------------------------------------------------------------------------
 */

/* Import for want of what the cold kept out has the reason of the floor that was reached: that it
 * was the cold is told here. */
static void note_cold(notices *n) {
  const steading_run *run = n->run;
  const steading_layout *at = &run->layout;
  for (size_t i = 0; i < at->hubs; i++) {
    double hours = steading_hub_flow_of(at, n->span->sum, i)->charge_blocked * step_h(n);
    size_t months = 0;
    char path[128];
    if (!(hours > 0)) continue;
    for (size_t k = 0; k < run->month_count; k++)
      months += steading_hub_flow_of(at, run->sums + k * at->width, i)->charge_blocked > 0;
    const steading_hub *hub = (const void *)run->site->hubs->entries[i].item;
    snprintf(path, sizeof path, "hubs.%s.battery%s", run->site->hubs->entries[i].name,
             steading_list_is_one(hub->battery) ? ".room" : ""); /* of several, of any of them */
    steading_warn(
        &n->to, "charge_blocked", path,
        "the cold kept the battery from taking all that there was to charge with in %.6g "
        "hours a year, in %zu of %zu months; what is imported later for want of it counts "
        "as the battery's floor among the reasons",
        hours / run->years, months, run->month_count);
  }
}

static bool has_price(const steading_lot *lot) {
  return lot != NULL &&
         (steading_record_given(lot, "price_each") || steading_record_given(lot, "price_lot") ||
          steading_record_given(lot, "replacement_price_each"));
}

/* The replacements of one lot, told at the first of them. */
static void note_replaced(notices *n, size_t first) {
  const steading_run *run = n->run;
  const steading_replacement *r = &run->replacements[first];
  const char *name = run->site->hubs->entries[r->hub].name;
  const steading_hub *hub = (const void *)run->site->hubs->entries[r->hub].item;
  const steading_battery_path battery = steading_battery_path_of(hub, r->battery);
  char path[128], more[64] = "";
  size_t times = 0;
  for (size_t i = 0; i < run->replacement_count; i++) {
    const steading_replacement *other = &run->replacements[i];
    if (other->hub != r->hub || other->battery != r->battery || other->index != r->index) continue;
    if (i < first) return;
    times++;
  }
  if (r->lot == NULL)
    snprintf(path, sizeof path, "hubs.%s.%s", name, battery.text);
  else
    snprintf(path, sizeof path, "hubs.%s.%s.lots[%zu]", name, battery.text, r->index + 1);
  if (times > 1) snprintf(more, sizeof more, ", %zu times in the run", times);
  steading_warn(&n->to, "battery_replaced", path,
                "replaced at the beginning of year %d of the run, %s%s", r->year + 1,
                r->by_life ? "its life_years over" : "with too little of its capacity left", more);
  if (!has_price(r->lot))
    steading_warn(&n->to, "free_replacement", path,
                  "its replacement costs nothing: there is no price");
}

/* Lots of battery `b` of a hub that are older than the run. */
static void note_aged_before(notices *n, const char *name, const steading_hub *hub, size_t b) {
  const steading_battery *battery = steading_battery_at(hub, b);
  if (battery->ageing == NULL || battery->lots == NULL) return;
  for (size_t i = 0; i < battery->lots->count; i++) {
    const steading_lot *lot = (const void *)battery->lots->items[i];
    char path[128];
    if (!(lot->count > 0) || !steading_record_given(lot, "in_service") ||
        lot->in_service >= n->run->start_day)
      continue;
    snprintf(path, sizeof path, "hubs.%s.%s.lots[%zu]", name, steading_battery_path_of(hub, b).text,
             i + 1);
    steading_warn(&n->to, "aged_before", path,
                  "was in service before the run and begins it as new: what it had aged is not "
                  "known");
  }
}

static void note_batteries(notices *n) {
  const steading_map *hubs = n->run->site->hubs;
  for (size_t i = 0; i < n->run->replacement_count; i++) note_replaced(n, i);
  for (size_t h = 0; hubs != NULL && h < hubs->count; h++) {
    const steading_hub *hub = (const void *)hubs->entries[h].item;
    for (size_t b = 0; b < steading_batteries_of(hub); b++)
      note_aged_before(n, hubs->entries[h].name, hub, b);
  }
}

/* --- all of them ---------------------------------------------------------------------------------
 */

size_t steading_run_notices(const steading_run *run, steading_warning *warnings, size_t room) {
  steading_span *span = malloc(sizeof *span);
  notices n = {.run = run, .span = span, .to = {.items = warnings, .room = room}};
  if (span == NULL) return 0;
  steading_span_of(run, 0, run->month_count, span);
  note_weather(&n);
  note_grid_free(&n);
  note_surplus(&n);
  note_dates(&n);
  note_arrays(&n);
  note_tanks(&n);
  note_seed(&n);
  note_fuel(&n);
  note_cold(&n);
  note_batteries(&n);
  free(span);
  return steading_warnings_written(&n.to);
}
