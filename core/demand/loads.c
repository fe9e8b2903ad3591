#include "demand/loads.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "series.h"
#include "site/window.h"

/* One load, with the date from which it is there. */
typedef struct entry {
  const steading_record *load;
  double growth_per_year;
  bool has_date;
  int64_t date;
  double *share; /* timed: [12][7][slots], of a step of the day; the steps after midnight on the
                    first of a month are worked out singly */
} entry;

struct steading_loads {
  size_t count;
  int step_minutes;
  size_t steps; /* of a year */
  entry entries[];
};

void steading_loads_free(steading_loads *loads) {
  if (loads == NULL) return;
  for (size_t i = 0; i < loads->count; i++) free(loads->entries[i].share);
  free(loads);
}

size_t steading_loads_count(const steading_loads *loads) { return loads->count; }

/* The fields that every load has, wherever its struct keeps them. */
static entry entry_of(const steading_record *load) {
  entry e = {.load = load, .has_date = steading_record_given(load, "in_service")};
#define COMMON(tag)                                     \
  if (load->spec == &steading_load_##tag##_spec) {      \
    const steading_load_##tag *it = (const void *)load; \
    e.growth_per_year = it->growth_per_year;            \
    e.date = it->in_service;                            \
  }
  COMMON(daily)
  COMMON(steady)
  COMMON(refrigerators)
  COMMON(timed)
  COMMON(series)
  COMMON(bills)
#undef COMMON
  return e;
}

static bool set_share(entry *e, int step_minutes) {
  const steading_load_timed *load = (const void *)e->load;
  size_t slots = 1440u / (size_t)step_minutes, at = 0;
  e->share = malloc(12 * 7 * slots * sizeof *e->share);
  if (e->share == NULL) return false;
  for (int month = 1; month <= 12; month++)
    for (int day = 0; day < 7; day++)
      for (size_t slot = 0; slot < slots; slot++)
        e->share[at++] = steading_windows_share(load->window, month, day, month,
                                                (int)slot * step_minutes, step_minutes);
  return true;
}

enum { ANY_CLASS = -1 };

steading_status steading_loads_gather(const steading_map *buildings,
                                      steading_building_wanted wanted, const void *context,
                                      int step_minutes, steading_loads **out,
                                      steading_error *error) {
  return steading_loads_gather_class(buildings, wanted, context, ANY_CLASS, step_minutes, out,
                                     error);
}

bool steading_building_on_hub(const void *context, const char *name,
                              const steading_building *building) {
  (void)name;
  return building->hub != NULL && strcmp(building->hub, context) == 0;
}

bool steading_building_on_meter(const void *context, const char *name,
                                const steading_building *building) {
  (void)name;
  return building->meter != NULL && strcmp(building->meter, context) == 0;
}

steading_status steading_loads_gather_class(const steading_map *buildings,
                                            steading_building_wanted wanted, const void *context,
                                            int class_of_load, int step_minutes,
                                            steading_loads **out, steading_error *error) {
  steading_loads *loads = NULL;
  size_t count = 0;
  bool fits = true;
  for (size_t b = 0; buildings != NULL && b < buildings->count; b++) {
    const steading_building *building = (const void *)buildings->entries[b].item;
    if (building->loads != NULL) count += building->loads->count;
  }
  loads = calloc(1, sizeof *loads + count * sizeof loads->entries[0]);
  if (loads == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "buildings", "not enough memory");
  loads->step_minutes = step_minutes;
  loads->steps = (size_t)STEADING_HOURS_PER_YEAR * 60u / (size_t)step_minutes;
  for (size_t b = 0; buildings != NULL && b < buildings->count; b++) {
    const steading_building *building = (const void *)buildings->entries[b].item;
    bool dated = steading_record_given(building, "in_service");
    if (building->loads == NULL || !wanted(context, buildings->entries[b].name, building)) continue;
    for (size_t i = 0; fits && i < building->loads->count; i++) {
      entry *e = &loads->entries[loads->count];
      if (class_of_load != ANY_CLASS &&
          steading_load_class(building->loads->items[i]) != class_of_load)
        continue;
      loads->count++;
      *e = entry_of(building->loads->items[i]);
      if (dated && (!e->has_date || building->in_service > e->date)) {
        e->has_date = true;
        e->date = building->in_service;
      }
      if (e->load->spec == &steading_load_timed_spec) fits = set_share(e, step_minutes);
    }
  }
  if (!fits) {
    steading_loads_free(loads);
    return steading_fail(error, STEADING_NO_MEMORY, "buildings", "not enough memory");
  }
  *out = loads;
  return STEADING_OK;
}

/* First step of the year at which a load is there; loads->steps when it comes later. */
static size_t first_step(const steading_loads *loads, const entry *e,
                         const steading_load_year *year) {
  int64_t days = 0;
  if (!e->has_date) return 0;
  days = steading_days_between(year->start_day, e->date) -
         (int64_t)year->run_year * STEADING_DAYS_PER_YEAR;
  if (days <= 0) return 0;
  if (days >= STEADING_DAYS_PER_YEAR) return loads->steps;
  return (size_t)days * (loads->steps / STEADING_DAYS_PER_YEAR);
}

/* Whether a load depends on month and hour alone; then its power, kW, times `grown`, is added to a
 * table. */
static bool add_to_table(const steading_loads *loads, const entry *e,
                         const steading_load_year *year, double grown, double table[12][24]) {
  const steading_spec *spec = e->load->spec;
  double even = 0;
  if (spec == &steading_load_daily_spec) {
    const steading_load_daily *d = (const void *)e->load;
    for (int m = 0; m < 12; m++)
      for (int h = 0; h < 24; h++)
        table[m][h] += d->kwh_per_day * d->monthly[m] * d->shape[h] * grown;
    return true;
  }
  if (spec == &steading_load_bills_spec) { /* each month's energy, whatever its clock changes */
    const steading_load_bills *b = (const void *)e->load;
    double weight[12] = {0};
    for (size_t i = 0; i < loads->steps; i++)
      weight[year->steps[i].month - 1] += b->shape[year->steps[i].minute / 60];
    for (int m = 0; m < 12; m++)
      for (int h = 0; h < 24; h++)
        if (weight[m] > 0)
          table[m][h] += b->kwh[m] * b->shape[h] / (weight[m] * loads->step_minutes / 60.0) * grown;
    return true;
  }
  if (spec == &steading_load_steady_spec) {
    even = ((const steading_load_steady *)(const void *)e->load)->watts / 1000;
  } else if (spec == &steading_load_refrigerators_spec) {
    const steading_load_refrigerators *r = (const void *)e->load;
    even = r->count * r->kwh_per_year_each / STEADING_HOURS_PER_YEAR;
  } else {
    return false;
  }
  for (int m = 0; m < 12; m++)
    for (int h = 0; h < 24; h++) table[m][h] += even * grown;
  return true;
}

static void add_timed(const steading_loads *loads, const entry *e, const steading_load_year *year,
                      size_t first, double grown, double *kw) {
  const steading_load_timed *load = (const void *)e->load;
  size_t slots = 1440u / (size_t)loads->step_minutes;
  double full = load->kw * grown;
  for (size_t i = first; i < loads->steps; i++) {
    const steading_civil_step *s = &year->steps[i];
    size_t slot = s->minute / (size_t)loads->step_minutes;
    double share = e->share[((s->month - 1u) * 7 + s->weekday) * slots + slot];
    if (s->month_before != s->month)
      share = steading_windows_share(load->window, s->month, s->weekday, s->month_before, s->minute,
                                     loads->step_minutes);
    kw[i] += full * share;
  }
}

static void add_series(const steading_loads *loads, const entry *e, const steading_load_year *year,
                       size_t first, double grown, double *kw) {
  const steading_load_series *load = (const void *)e->load;
  size_t start = ((size_t)year->run_year * STEADING_HOURS_PER_YEAR + year->first_hour) * 60;
  size_t ours = (size_t)loads->step_minutes;
  for (size_t i = first; i < loads->steps; i++)
    kw[i] += grown * steading_series_mean(load->kw->values, load->kw->count,
                                          (size_t)load->step_minutes, start + i * ours, ours);
}

void steading_loads_year(steading_loads *loads, const steading_load_year *year, double *kw) {
  double table[12][24] = {{0}};
  const steading_civil_step *steps = year->steps;
  if (loads->count == 0) {
    memset(kw, 0, loads->steps * sizeof *kw);
    return;
  }
  for (size_t k = 0; k < loads->count; k++) {
    const entry *e = &loads->entries[k];
    double grown = e->growth_per_year == 0 ? 1 : pow(1 + e->growth_per_year, year->run_year);
    if (first_step(loads, e, year) == 0) add_to_table(loads, e, year, grown, table);
  }
  for (size_t i = 0; i < loads->steps; i++) kw[i] = table[steps[i].month - 1][steps[i].minute / 60];
  for (size_t k = 0; k < loads->count; k++) {
    const entry *e = &loads->entries[k];
    double grown = e->growth_per_year == 0 ? 1 : pow(1 + e->growth_per_year, year->run_year);
    size_t first = first_step(loads, e, year);
    if (e->load->spec == &steading_load_timed_spec) {
      add_timed(loads, e, year, first, grown, kw);
    } else if (e->load->spec == &steading_load_series_spec) {
      add_series(loads, e, year, first, grown, kw);
    } else if (first > 0 && first < loads->steps) {
      double own[12][24] = {{0}};
      add_to_table(loads, e, year, grown, own);
      for (size_t i = first; i < loads->steps; i++)
        kw[i] += own[steps[i].month - 1][steps[i].minute / 60];
    }
  }
}
