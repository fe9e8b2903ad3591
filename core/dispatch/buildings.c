#include "dispatch/buildings.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "demand/loads.h"
#include "dispatch/classes.h"
#include "dispatch/wants.h"

/* Where something that uses energy stands; the index that does not apply is -1. */
typedef struct consumer {
  int hub, meter;
} consumer;

/* Shares of what is served that come from the sun, the battery, the grid and generators; all zero
 * where nothing is served. */
typedef struct mix {
  double pv, battery, grid, generator;
} mix;

typedef struct work {
  const steading_run *run;
  steading_buildings *out;
  size_t building_count;
  consumer *consumers;      /* [out->count] */
  double *now_kw, *shed_kw; /* [out->count], of the step at hand */
  bool any_sheds;           /* any hub does */
  steading_wants wants; /* [building_count], and then, where any hub sheds, [building_count][classes
                           that can be shed] */
  double sheds[STEADING_MOST_HUBS][STEADING_SHED_CLASSES];
} work;

/* --- preparing -----------------------------------------------------------------------------------
 */

static size_t count_of(const steading_map *map) { return map == NULL ? 0 : map->count; }

static int index_of(const steading_map *map, const char *name) {
  for (size_t i = 0; name != NULL && i < count_of(map); i++)
    if (strcmp(map->entries[i].name, name) == 0) return (int)i;
  return -1;
}

static bool of_name(const void *context, const char *name, const steading_building *building) {
  (void)building;
  return strcmp(name, context) == 0;
}

static char *joined(const char *before, const char *name) {
  size_t size = strlen(before) + strlen(name) + 1;
  char *text = malloc(size);
  if (text != NULL) snprintf(text, size, "%s%s", before, name);
  return text;
}

static steading_status no_memory(steading_error *error) {
  return steading_fail(error, STEADING_NO_MEMORY, "run.buildings", "not enough memory");
}

static bool any_sheds(const steading_site *site) {
  for (size_t i = 0; i < count_of(site->hubs); i++) {
    const steading_rules *rules =
        ((const steading_hub *)(void *)site->hubs->entries[i].item)->rules;
    if (rules != NULL && (rules->shed != NULL || rules->decide != NULL)) return true;
  }
  return false;
}

static steading_status prepare(work *w, steading_error *error) {
  const steading_site *site = w->run->site;
  const steading_map *wells = site->water == NULL ? NULL : site->water->wells;
  steading_buildings *out = w->out;
  steading_status status = STEADING_OK;
  size_t groups = 0;
  w->building_count = count_of(site->buildings);
  out->count = w->building_count + count_of(wells);
  out->month_count = w->run->month_count;
  out->names = calloc(out->count + 1, sizeof *out->names);
  out->site_peak_kw = calloc(out->month_count, sizeof *out->site_peak_kw);
  out->months = calloc(out->month_count * out->count + 1, sizeof *out->months);
  w->consumers = calloc(out->count + 1, sizeof *w->consumers);
  w->now_kw = calloc(2 * (out->count + 1), sizeof *w->now_kw);
  if (out->names == NULL || out->site_peak_kw == NULL || out->months == NULL ||
      w->consumers == NULL || w->now_kw == NULL)
    return no_memory(error);
  w->shed_kw = w->now_kw + out->count + 1;
  w->any_sheds = any_sheds(site);
  groups = w->building_count * (w->any_sheds ? 1 + STEADING_SHED_CLASSES : 1);
  status = steading_wants_make(w->run, groups, "run.buildings", &w->wants, error);
  if (status != STEADING_OK) return status;
  for (size_t b = 0; b < w->building_count; b++) {
    const steading_building *building = (const void *)site->buildings->entries[b].item;
    const char *name = site->buildings->entries[b].name;
    status = steading_loads_gather(site->buildings, of_name, name, w->run->step_minutes,
                                   &w->wants.loads[b], error);
    if (status != STEADING_OK) return status;
    out->names[b] = joined("", name);
    w->consumers[b] = (consumer){.hub = index_of(site->hubs, building->hub),
                                 .meter = index_of(site->meters, building->meter)};
  }
  for (size_t i = w->building_count; i < out->count; i++) {
    const steading_map_entry *entry = &wells->entries[i - w->building_count];
    const steading_well *well = (const void *)entry->item;
    out->names[i] = joined("water.wells.", entry->name);
    w->consumers[i] = (consumer){.hub = index_of(site->hubs, well->hub),
                                 .meter = index_of(site->meters, well->meter)};
  }
  for (size_t i = 0; i < out->count; i++)
    if (out->names[i] == NULL) return no_memory(error);
  return STEADING_OK;
}

/* The classes of each building, where any hub sheds. */
static steading_status prepare_classes(work *w, steading_error *error) {
  const steading_map *buildings = w->run->site->buildings;
  size_t cells = w->any_sheds ? w->building_count * STEADING_SHED_CLASSES : 0;
  steading_status status = STEADING_OK;
  for (size_t k = 0; status == STEADING_OK && k < cells; k++)
    status = steading_loads_gather_class(buildings, of_name,
                                         buildings->entries[k / STEADING_SHED_CLASSES].name,
                                         (int)(k % STEADING_SHED_CLASSES), w->run->step_minutes,
                                         &w->wants.loads[w->building_count + k], error);
  return status;
}

static void clear(work *w) {
  steading_wants_free(&w->wants);
  free(w->consumers);
  free(w->now_kw);
}

/* --- a step --------------------------------------------------------------------------------------
 */

/* What a difference that cannot be negative is, but for its rounding. */
static double above_zero(double x) { return x > 0 ? x : 0; }

static mix mix_of_bus(const steading_block *b, const double *row, size_t m) {
  const steading_meter_flow *f = steading_meter_flow_of(b->layout, row, m);
  double sent = 0, all = 0;
  for (size_t i = 0; i < b->layout->hubs; i++)
    if (b->program->hubs[i].meter == (int)m)
      sent += steading_hub_flow_of(b->layout, row, i)->to_bus;
  sent = above_zero(sent - f->export);
  all = sent + f->import;
  return all > 0 ? (mix){.pv = sent / all, .grid = f->import / all} : (mix){0};
}

/* `g` is NULL where no hub has a generator. The idle draw that sun and battery leave is the
 * generator's before it is the bus's, see kernel.c. AC-coupled sun goes to the bus before what the
 * unit makes. */
static mix mix_of_hub(const steading_hub_flow *f, const steading_generator_flow *g,
                      const mix *bus) {
  double given = g == NULL ? 0 : g->power - g->charging;
  double idle_ac = above_zero(f->idle_from_ac - f->sun_idle);
  double idle = g == NULL ? 0 : (idle_ac < given ? idle_ac : given);
  double ac_sun = above_zero(f->ac_sun - f->sun_idle - f->sun_charging);
  double sun_sent = ac_sun < f->to_bus ? ac_sun : f->to_bus;
  double inverted = above_zero(f->inverted - (f->to_bus - sun_sent));
  double generator = above_zero(given - idle);
  double from_bus = above_zero(f->from_bus - f->charger_in - (idle_ac - idle));
  double sun_dc = above_zero(f->pv_used - f->ac_sun - f->ac_sun_loss -
                             above_zero(f->battery_in - f->rectified));
  double charger_dc = g == NULL ? 0 : above_zero(f->rectified - f->battery_in);
  double dc = sun_dc + f->battery_out + charger_dc;
  double all = inverted + from_bus + generator + (ac_sun - sun_sent);
  double stored = dc > 0 ? f->battery_out / dc : 0, made = dc > 0 ? charger_dc / dc : 0;
  if (!(all > 0)) return (mix){0};
  return (mix){
      .pv = (inverted * (1 - stored - made) + from_bus * bus->pv + (ac_sun - sun_sent)) / all,
      .battery = (inverted * stored + from_bus * bus->battery) / all,
      .grid = from_bus * bus->grid / all,
      .generator = (inverted * made + generator) / all};
}

/* What a building on a hub has of its loads shed. */
static double shed_of(const work *w, size_t building, int hub, size_t step, double kw) {
  double sum = 0;
  if (!w->any_sheds || hub < 0) return 0;
  for (size_t c = 0; c < STEADING_SHED_CLASSES; c++)
    sum += w->sheds[hub][c] *
           steading_wants_kw(&w->wants, w->building_count + building * STEADING_SHED_CLASSES + c,
                             step);
  return sum < kw ? sum : kw;
}

static void add_step(work *w, const steading_block *b, const double *row, size_t step) {
  static const mix nothing = {0};
  const steading_layout *at = b->layout;
  mix of_hub[STEADING_MOST_HUBS], of_meter[STEADING_MOST_METERS];
  double hub_wants[STEADING_MOST_HUBS] = {0}, meter_wants[STEADING_MOST_METERS] = {0};
  steading_building_month *months = w->out->months + b->month_index * w->out->count;
  double h = b->stretch->step_h, load = 0;
  for (size_t m = 0; m < at->meters; m++) of_meter[m] = mix_of_bus(b, row, m);
  for (size_t i = 0; i < at->hubs; i++) {
    int meter = b->program->hubs[i].meter;
    of_hub[i] = mix_of_hub(steading_hub_flow_of(at, row, i),
                           at->generators > 0 ? steading_generator_flow_of(at, row, i) : NULL,
                           meter < 0 ? &nothing : &of_meter[meter]);
    load += steading_hub_flow_of(at, row, i)->load;
  }
  for (size_t m = 0; m < at->meters; m++) load += steading_meter_flow_of(at, row, m)->load;
  for (size_t k = 0; k < w->out->count; k++) {
    const consumer *c = &w->consumers[k];
    bool is_building = k < w->building_count;
    w->now_kw[k] = is_building ? steading_wants_kw(&w->wants, k, step)
                               : steading_well_flow_of(at, row, k - w->building_count)->pump;
    w->shed_kw[k] = is_building ? shed_of(w, k, c->hub, step, w->now_kw[k]) : 0;
    if (is_building && c->hub >= 0) hub_wants[c->hub] += w->now_kw[k] - w->shed_kw[k];
    if (is_building && c->hub < 0) meter_wants[c->meter] += w->now_kw[k];
  }
  for (size_t k = 0; k < w->out->count; k++) {
    const consumer *c = &w->consumers[k];
    const mix *from = c->hub >= 0 ? &of_hub[c->hub] : &of_meter[c->meter];
    double short_kw = c->hub >= 0 ? steading_hub_flow_of(at, row, (size_t)c->hub)->unserved
                                  : steading_meter_flow_of(at, row, (size_t)c->meter)->unserved;
    double wants = c->hub >= 0 ? hub_wants[c->hub] : meter_wants[c->meter];
    double kw = w->now_kw[k];
    double asks = kw - w->shed_kw[k];
    double unserved = k < w->building_count && wants > 0 ? short_kw * (asks / wants) : 0;
    steading_building_month *to = &months[k];
    to->load_kwh += kw * h;
    to->unserved_kwh += unserved * h;
    to->shed_kwh += w->shed_kw[k] * h;
    to->from_pv_kwh += (asks - unserved) * from->pv * h;
    to->from_battery_kwh += (asks - unserved) * from->battery * h;
    to->from_grid_kwh += (asks - unserved) * from->grid * h;
    to->from_generator_kwh += (asks - unserved) * from->generator * h;
    if (kw > to->peak_kw) {
      to->peak_kw = kw;
      to->peak_step = step;
    }
  }
  if (load > w->out->site_peak_kw[b->month_index]) {
    w->out->site_peak_kw[b->month_index] = load;
    for (size_t k = 0; k < w->out->count; k++) months[k].coincident_kw = w->now_kw[k];
  }
}

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  work *w = context;
  (void)error;
  steading_wants_begin(&w->wants, b);
  for (size_t s = 0; s < b->count; s++) {
    for (size_t i = 0; w->any_sheds && i < b->layout->hubs; i++)
      steading_classes_shed(b, s, i, w->sheds[i]);
    add_step(w, b, b->flows + s * b->layout->width, b->first_step + s);
  }
  return STEADING_OK;
}

/* --- all of them ---------------------------------------------------------------------------------
 */

steading_status steading_run_buildings(const steading_run *run, steading_buildings **buildings,
                                       steading_error *error) {
  work w = {.run = run};
  steading_sink sink = {.take = take, .context = &w};
  steading_status status = STEADING_OK;
  *buildings = NULL;
  w.out = calloc(1, sizeof *w.out);
  if (w.out == NULL) return no_memory(error);
  status = prepare(&w, error);
  if (status == STEADING_OK) status = prepare_classes(&w, error);
  if (status == STEADING_OK) status = steading_run_repeat(run, &sink, error);
  clear(&w);
  if (status == STEADING_OK)
    *buildings = w.out;
  else
    steading_buildings_free(w.out);
  return status;
}

void steading_buildings_free(steading_buildings *buildings) {
  if (buildings == NULL) return;
  for (size_t i = 0; buildings->names != NULL && i < buildings->count; i++)
    free(buildings->names[i]);
  free(buildings->names);
  free(buildings->site_peak_kw);
  free(buildings->months);
  free(buildings);
}
