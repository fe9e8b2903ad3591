/* Energy, load and fuel of random sites with every part and rule there is, added up from the
 * columns of results as a file carries them: 12 digits, nothing but what is written. */
#include <check.h>
#include <malloc.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dispatch/batteries.h"
#include "dispatch/result.h"
#include "files/files.h"
#include "ledger/fuel.h"
#include "random_site.h"
#include "site/batteries.h"
#include "suites.h"

enum { SITES = 5000, MOST_COLUMNS = 64 };

/* Each cell carries 12 digits, so that a sum of n cells is off by n / 2 units of the twelfth at
 * most: 1e-9 of what flows, plus 1 kWh, is beyond that. */
static const double closure = 1e-9;

/* --- what a file says ----------------------------------------------------------------------------
 */

/* A line of a frame; NaN where a cell is empty. */
typedef struct line {
  double cells[MOST_COLUMNS];
} line;

static double as_written(double value) {
  char text[32];
  if (!isfinite(value)) return (double)NAN; /* an empty cell */
  steading_format_number(value, text);
  return strtod(text, NULL);
}

static line line_of(const steading_span *span, int of, size_t index) {
  const steading_view view = {.of = of, .index = index};
  line to;
  for (size_t c = 0; c < steading_result_column_count; c++) {
    const steading_result_column *column = &steading_result_columns[c];
    to.cells[c] = (column->of & of) != 0 ? as_written(column->value(span, &view)) : (double)NAN;
  }
  return to;
}

static size_t column_of(const char *name) {
  for (size_t c = 0; c < steading_result_column_count; c++)
    if (strcmp(steading_result_columns[c].name, name) == 0) return c;
  ck_abort_msg("no column '%s'", name);
}

typedef struct place {
  int site;
  const char *part;
} place;

static double at(const line *l, place where, const char *name) {
  double value = l->cells[column_of(name)];
  if (!isfinite(value)) ck_abort_msg("site %d, %s: no %s", where.site, where.part, name);
  return value;
}

/* Terms that add up to nothing, "+name" or "-name". */
static void balance(const line *l, place where, const char *const *terms) {
  double sum = 0, size = 1;
  for (const char *const *term = terms; *term != NULL; term++) {
    double value = at(l, where, *term + 1);
    sum += **term == '+' ? value : -value;
    size += fabs(value);
  }
  if (!(fabs(sum) <= closure * size))
    ck_abort_msg("site %d, %s: %s ... misses %g of %g kWh", where.site, where.part, *terms, sum,
                 size);
}

static void same(double a, double b, double size, place where, const char *what) {
  if (!(fabs(a - b) <= closure * (size + 1)))
    ck_abort_msg("site %d, %s: %s is %.12g, expected %.12g", where.site, where.part, what, a, b);
}

/* --- the equations -------------------------------------------------------------------------------
 */

#define INSIDE                                                                                \
  "+generator_kwh", "-served_kwh", "-inverter_loss_kwh", "-battery_loss_kwh", "-standby_kwh", \
      "-battery_heater_kwh", "+battery_delivered_kwh", "-battery_removed_kwh",                \
      "-battery_fade_kwh", "-stored_change_kwh"

static const char *const of_site[] = {"+pv_used_kwh", "+grid_import_kwh", "-grid_export_kwh",
                                      INSIDE, NULL};
static const char *const of_hub[] = {"+pv_used_kwh", "+from_bus_kwh", "-to_bus_kwh", INSIDE, NULL};
static const char *const of_battery[] = {
    "+battery_charge_kwh", "-battery_discharge_kwh", "-battery_loss_kwh",
    "-standby_kwh",        "+battery_delivered_kwh", "-battery_removed_kwh",
    "-battery_fade_kwh",   "-stored_change_kwh",     NULL};
static const char *const of_load[] = {"+load_kwh", "-served_kwh", "-unserved_kwh", "-shed_kwh",
                                      NULL};
static const char *const of_meter_load[] = {"+load_kwh", "-served_kwh", "-unserved_kwh", NULL};
static const char *const of_sun[] = {"+pv_available_kwh", "-pv_used_kwh", "-pv_curtailed_kwh",
                                     NULL};

/* No flow is negative, and none is missing where it must stand. */
static void check_signs(const line *l, place where, int of) {
  for (size_t c = 0; c < steading_result_column_count; c++) {
    const steading_result_column *column = &steading_result_columns[c];
    if ((column->of & of) == 0 || column->combine != STEADING_SUM) continue;
    if (strcmp(column->name, "stored_change_kwh") == 0) continue;
    if (strcmp(column->name, "equivalent_cycles") == 0 && isnan(l->cells[c])) continue;
    if (!(l->cells[c] >= -closure))
      ck_abort_msg("site %d, %s: %s is %g", where.site, where.part, column->name, l->cells[c]);
  }
}

/* Whether a hub's battery is one kind of constant efficiency. */
static bool is_store(const steading_hub *hub) {
  return steading_batteries_of(hub) == 1 &&
         !steading_module_is_special(steading_battery_at(hub, 0)->module);
}

/* What charging and discharging lose is known from the flows, and so is the least of what chargers
 * lose. */
static void check_losses(const line *l, place where, const steading_hub *hub) {
  double in = at(l, where, "battery_charge_kwh"), out = at(l, where, "battery_discharge_kwh");
  double from_grid = at(l, where, "charged_from_grid_kwh"), lost = 0;
  double by_set = at(l, where, "charged_by_generator_kwh");
  double made = at(l, where, "generator_kwh");
  if (is_store(hub)) {
    const steading_battery *battery = steading_battery_at(hub, 0);
    double way = sqrt(battery->module->round_trip_efficiency);
    lost = in * (1 - way) + out * (1 / way - 1);
    /* the law of Naumann 2018 raises resistance, and with it the loss */
    if (battery->ageing != NULL && battery->ageing->model == STEADING_AGES_NAUMANN)
      lost = fmax(lost, at(l, where, "battery_loss_kwh"));
  }
  if (hub->battery == NULL || is_store(hub))
    same(at(l, where, "battery_loss_kwh"), lost, in + out, where, "the battery's loss");
  lost = from_grid * (1 - hub->inverter->unit->charge_efficiency);
  if (hub->generator != NULL) lost += by_set * (1 - hub->generator->charger_efficiency);
  if (at(l, where, "inverter_loss_kwh") < lost - closure * (1 + from_grid + by_set))
    ck_abort_msg("site %d, %s: the chargers lose more than all", where.site, where.part);
  if (by_set > made + closure * (1 + made) || (hub->generator == NULL && made > 0))
    ck_abort_msg("site %d, %s: %g of %g kWh to the charger", where.site, where.part, by_set, made);
}

/* What stands in two frames is the same there. */
static void check_whole(const line *whole, const line *hubs, size_t hub_count, const line *meters,
                        size_t meter_count, place where) {
  for (size_t c = 0; c < steading_result_column_count; c++) {
    const steading_result_column *column = &steading_result_columns[c];
    double sum = 0, size = 0, own = whole->cells[c];
    int of = column->of & (STEADING_OF_HUB | STEADING_OF_METER);
    if (!(column->of & STEADING_OF_SITE) || of == 0 || column->combine != STEADING_SUM) continue;
    if (strstr(column->name, "_kwh") == NULL && strncmp(column->name, "generator_", 10) != 0)
      continue; /* hours of several parts may be the same ones */
    if ((of & STEADING_OF_HUB) != 0)
      for (size_t i = 0; i < hub_count; i++)
        sum += hubs[i].cells[c], size += fabs(hubs[i].cells[c]);
    if ((of & STEADING_OF_METER) != 0)
      for (size_t m = 0; m < meter_count; m++)
        sum += meters[m].cells[c], size += fabs(meters[m].cells[c]);
    same(own, sum, size, where, column->name);
  }
}

/* What a meter's hubs and its own loads do on its bus. */
static void check_bus(const steading_site *site, size_t m, const line *meter, const line *hubs,
                      size_t hub_count, place where) {
  double in = at(meter, where, "grid_import_kwh");
  double out = at(meter, where, "grid_export_kwh") + at(meter, where, "served_kwh");
  for (size_t i = 0; i < hub_count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    if (hub->meter == NULL || strcmp(hub->meter, site->meters->entries[m].name) != 0) continue;
    in += at(&hubs[i], where, "to_bus_kwh");
    out += at(&hubs[i], where, "from_bus_kwh");
  }
  same(in, out, in + out, where, "what goes into the bus");
}

/* The lines of a span of a run: its site's, then those of its parts. */
static line check_span(const steading_run *run, const steading_span *span, int site) {
  line hubs[STEADING_MOST_HUBS], meters[STEADING_MOST_METERS];
  const steading_layout *l = &run->layout;
  place where = {.site = site, .part = "the site"};
  line whole = line_of(span, STEADING_OF_SITE, 0);
  balance(&whole, where, of_site);
  balance(&whole, where, of_battery);
  balance(&whole, where, of_load);
  balance(&whole, where, of_sun);
  check_signs(&whole, where, STEADING_OF_SITE);
  for (size_t i = 0; i < l->hubs; i++) {
    const steading_map_entry *entry = &run->site->hubs->entries[i];
    where.part = entry->name;
    hubs[i] = line_of(span, STEADING_OF_HUB, i);
    balance(&hubs[i], where, of_hub);
    balance(&hubs[i], where, of_battery);
    balance(&hubs[i], where, of_load);
    balance(&hubs[i], where, of_sun);
    check_signs(&hubs[i], where, STEADING_OF_HUB);
    check_losses(&hubs[i], where, (const void *)entry->item);
  }
  for (size_t m = 0; m < l->meters; m++) {
    where.part = run->site->meters->entries[m].name;
    meters[m] = line_of(span, STEADING_OF_METER, m);
    balance(&meters[m], where, of_meter_load);
    check_signs(&meters[m], where, STEADING_OF_METER);
    check_bus(run->site, m, &meters[m], hubs, l->hubs, where);
  }
  where.part = "the whole";
  check_whole(&whole, hubs, l->hubs, meters, l->meters, where);
  return whole;
}

/* What the kinds of battery of a hub do, one by one, is what the hub's batteries do. */
static void check_batteries(const steading_run *run, const steading_span *span, int site) {
  size_t battery = 0;
  for (size_t i = 0; i < run->layout.hubs; i++) {
    const steading_hub *hub = (const void *)run->site->hubs->entries[i].item;
    const place where = {.site = site, .part = run->site->hubs->entries[i].name};
    const line l = line_of(span, STEADING_OF_HUB, i);
    double in = 0, out = 0, lost = 0;
    for (size_t k = 0; k < steading_batteries_of(hub); k++, battery++)
      for (size_t m = 0; m < run->month_count; m++) {
        const steading_battery_month month = steading_battery_month_of(run, battery, m);
        in += as_written(month.in_kwh);
        out += as_written(month.out_kwh);
        lost += as_written(month.loss_kwh);
        ck_assert(month.lowest_charge >= -closure);
        ck_assert(month.stored_kwh_steps <= month.capacity_kwh_steps * (1 + closure) + closure);
      }
    same(in, at(&l, where, "battery_charge_kwh"), in, where, "what its kinds are charged");
    same(out, at(&l, where, "battery_discharge_kwh"), out, where, "what its kinds give");
    same(lost, at(&l, where, "battery_loss_kwh"), in, where, "what its kinds lose");
  }
}

/* --- fuel ----------------------------------------------------------------------------------------
 */

static bool given(const void *record, const char *field) {
  return steading_record_given(record, field);
}

/* Half of what it may hold, unless said: petrol and diesel to 95 %, propane to 80 %. */
static double first_l(const char *name, const steading_fuel_store *tank) {
  double full_to = strcmp(name, "propane") == 0 ? 0.8 : 0.95;
  if (given(tank, "litres_at_start")) return tank->litres_at_start;
  return 0.5 * tank->litres * (given(tank, "full_to") ? tank->full_to : full_to);
}

/* Sets of a generator, where they stay the same all the time; negative: they do not. */
static double sets_of(const steading_generator *generator) {
  double count = 0;
  if (generator->lots == NULL) return 1;
  for (size_t i = 0; i < generator->lots->count; i++) {
    const steading_lot *lot = (const void *)generator->lots->items[i];
    if (given(lot, "in_service") || given(lot, "retired")) return -1;
    count += lot->count;
  }
  return count;
}

/* What generators burnt of a fuel in the whole run, from their hours and energy: at least and at
 * most, the same where none has a least load. False where sets come and go. */
static bool burnt_l(const steading_run *run, const char *fuel, const steading_span *span,
                    place where, double *least, double *most) {
  *least = *most = 0;
  for (size_t i = 0; i < run->layout.hubs; i++) {
    const steading_hub *hub = (const void *)run->site->hubs->entries[i].item;
    const steading_generator *generator = hub->generator;
    double sets = 0, hours = 0, litres = 0;
    line l;
    if (generator == NULL || strcmp(generator->unit->fuel, fuel) != 0) continue;
    sets = sets_of(generator);
    if (sets < 0) return false;
    l = line_of(span, STEADING_OF_HUB, i);
    hours = at(&l, where, "generator_hours");
    litres = generator->unit->no_load_l_per_h * sets * hours +
             generator->unit->l_per_kwh * at(&l, where, "generator_kwh");
    *least += litres;
    *most += litres + generator->unit->l_per_kwh * generator->unit->least_load_share *
                          generator->unit->kw * sets * hours;
  }
  return true;
}

/* Litres: what was there and what came, less what is there, is what was burnt, month by month; and
 * that is what the generators' hours and energy need. Returns the litres burnt. */
static double check_fuel(const steading_run *run, size_t f, const steading_span *span,
                         double *trucks, double *dry_h, int site) {
  const steading_map_entry *entry = &run->site->fuels->entries[f];
  const steading_fuel *fuel = (const void *)entry->item;
  const place where = {.site = site, .part = entry->name};
  double level = fuel->tank == NULL ? 0 : first_l(entry->name, fuel->tank), used = 0, came = 0;
  double least = 0, most = 0, slack = 0;
  for (size_t k = 0; k < run->month_count; k++) {
    const steading_fuel_bill bill = steading_fuel_bill_of(run, f, k, 1);
    double end = as_written(bill.end_l);
    used += as_written(bill.used_l);
    came += as_written(bill.delivered_l);
    *trucks += as_written(bill.trucks);
    *dry_h += as_written(bill.hours_without);
    if (fuel->tank == NULL || run->layout.fuels == 0) continue;
    same(end, level + as_written(bill.delivered_l) - as_written(bill.used_l),
         fuel->tank->litres + used + came, where, "the level");
    if (end < -closure || bill.lowest_l < -closure || end > fuel->tank->litres * (1 + closure))
      ck_abort_msg("site %d: %g l of %s", site, end, entry->name);
    level = end;
  }
  if (fuel->tank == NULL) ck_assert_double_eq(came, 0);
  if (!burnt_l(run, entry->name, span, where, &least, &most)) return used;
  slack = closure * (1 + most);
  if (!(used >= least - slack && used <= most + slack))
    ck_abort_msg("site %d: %.12g l of %s burnt, expected %.12g to %.12g", site, used, entry->name,
                 least, most);
  return used;
}

/* --- all of it -----------------------------------------------------------------------------------
 */

enum {
  IMPORTS,
  EXPORTS,
  MISSES,
  SHEDS,
  CHARGES,
  GENERATES,
  BY_SET,
  BURNS,
  TRUCKS,
  RUNS_DRY,
  DOWN,
  DELIVERS,
  REMOVES,
  FADES,
  REPLACES,
  HEATS,
  BLOCKS,
  TRACKS,
  IS_WIRED,
  HAS_SKYLINE,
  IS_DECIDED,
  IS_SPECIAL,
  HAS_KINDS,
  SEEN
};
static const char *const seen_names[SEEN] = {"import",
                                             "export",
                                             "unserved load",
                                             "shedding",
                                             "charging from the grid",
                                             "generator",
                                             "its charger",
                                             "fuel burnt",
                                             "trucks",
                                             "dry tanks",
                                             "outages",
                                             "new batteries",
                                             "retired ones",
                                             "fade",
                                             "replacement",
                                             "heaters",
                                             "blocked charging",
                                             "trackers",
                                             "strings",
                                             "skylines",
                                             "functions that decide",
                                             "cells that are more than a store",
                                             "several kinds of battery"};

static void see(int seen[SEEN], int what, double much) { seen[what] += much > 1e-6; }

static void check_site(const random_site *p, const steading_run *run, dice *d, steading_span *span,
                       int site, int seen[SEEN]) {
  const place where = {.site = site, .part = "the site"};
  double trucks = 0, dry_h = 0, litres = 0;
  line all;
  for (int k = 0; k < 2; k++) {
    steading_span_of(run, (size_t)below(d, (int)run->month_count), 1, span);
    check_span(run, span, site);
  }
  steading_span_of(run, 0, run->month_count, span);
  all = check_span(run, span, site);
  check_batteries(run, span, site);
  for (size_t f = 0; f < run->site->fuels->count; f++)
    litres += check_fuel(run, f, span, &trucks, &dry_h, site);
  if (run->layout.fuels == 0) ck_assert_double_eq(litres, 0);
  see(seen, IMPORTS, at(&all, where, "grid_import_kwh"));
  see(seen, EXPORTS, at(&all, where, "grid_export_kwh"));
  see(seen, MISSES, at(&all, where, "unserved_kwh"));
  see(seen, SHEDS, at(&all, where, "shed_kwh"));
  see(seen, CHARGES, at(&all, where, "charged_from_grid_kwh"));
  see(seen, GENERATES, at(&all, where, "generator_kwh"));
  see(seen, BY_SET, at(&all, where, "charged_by_generator_kwh"));
  see(seen, DOWN, at(&all, where, "outage_hours"));
  see(seen, DELIVERS, at(&all, where, "battery_delivered_kwh"));
  see(seen, REMOVES, at(&all, where, "battery_removed_kwh"));
  see(seen, FADES, at(&all, where, "battery_fade_kwh"));
  see(seen, BURNS, litres);
  see(seen, TRUCKS, trucks);
  see(seen, RUNS_DRY, dry_h);
  see(seen, REPLACES, (double)run->replacement_count);
  see(seen, HEATS, at(&all, where, "battery_heater_kwh"));
  see(seen, BLOCKS, at(&all, where, "charge_blocked_hours"));
  see(seen, TRACKS, p->tracked);
  see(seen, IS_WIRED, p->wired);
  see(seen, HAS_SKYLINE, p->skylines);
  see(seen, IS_DECIDED, p->decided);
  see(seen, IS_SPECIAL, p->special);
  see(seen, HAS_KINDS, p->several);
}

START_TEST(what_is_written_of_a_random_site_adds_up) {
  int seen[SEEN] = {0};
  steading_span *span = malloc(sizeof *span);
  ck_assert_ptr_nonnull(span);
  ck_assert_uint_le(steading_result_column_count, MOST_COLUMNS);
  mallopt(M_MMAP_THRESHOLD, 1 << 26); /* thousands of runs: keep their memory between them */
  mallopt(M_TRIM_THRESHOLD, 1 << 28);
  random_site_weathers();
  for (int i = 0; i < SITES; i++) {
    dice d = {.seed = 200000 + (uint64_t)i};
    random_site *p = random_site_roll(&d, true);
    steading_run *run = random_site_run(p);
    check_site(p, run, &d, span, i, seen);
    steading_run_release(run);
    free(p);
  }
  for (int k = 0; k < SEEN; k++) /* nothing of it holds because it never happens */
    ck_assert_msg(seen[k] >= SITES / 200, "only %d of %d sites have %s", seen[k], SITES,
                  seen_names[k]);
  random_site_drop_weathers();
  free(span);
}
END_TEST

Suite *closure_sites_suite(void) {
  Suite *suite = suite_create("closure_sites");
  TCase *tests = tcase_create("closure_sites");
  tcase_add_test(tests, what_is_written_of_a_random_site_adds_up);
  tcase_set_timeout(tests, 900);
  suite_add_tcase(suite, tests);
  return suite;
}
