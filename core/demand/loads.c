#include "demand/loads.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "site/window.h"

/* Share of each civil hour in which a timed load runs; days that follow the last day of a month
 * have a table of their own only through `month_before`, so those hours are worked out singly. */
typedef struct timed {
  const steading_load_timed *load;
  double share[12][7][24];
} timed;

struct steading_loads {
  size_t daily_count, steady_count, refrigerators_count, timed_count, series_count;
  const steading_load_daily **daily;
  const steading_load_steady **steady;
  const steading_load_refrigerators **refrigerators;
  const steading_load_series **series;
  timed *timed;
  double by_month_hour[12][24]; /* of one year: daily, steady and refrigerators together */
};

static void free_loads(steading_loads *loads) {
  free(loads->daily);
  free(loads->steady);
  free(loads->refrigerators);
  free(loads->series);
  free(loads->timed);
  free(loads);
}

void steading_loads_free(steading_loads *loads) {
  if (loads != NULL) free_loads(loads);
}

static void sort_in(steading_loads *loads, const steading_record *load) {
  if (load->spec == &steading_load_daily_spec) {
    loads->daily[loads->daily_count++] = (const void *)load;
  } else if (load->spec == &steading_load_steady_spec) {
    loads->steady[loads->steady_count++] = (const void *)load;
  } else if (load->spec == &steading_load_refrigerators_spec) {
    loads->refrigerators[loads->refrigerators_count++] = (const void *)load;
  } else if (load->spec == &steading_load_series_spec) {
    loads->series[loads->series_count++] = (const void *)load;
  } else {
    timed *t = &loads->timed[loads->timed_count++];
    t->load = (const void *)load;
    for (int month = 1; month <= 12; month++)
      for (int day = 0; day < 7; day++)
        for (int hour = 0; hour < 24; hour++)
          t->share[month - 1][day][hour] =
              steading_windows_share(t->load->window, month, day, month, hour * 60, 60);
  }
}

steading_status steading_loads_gather(const steading_map *buildings, bool on_hub,
                                      steading_loads **out, steading_error *error) {
  steading_loads *loads = calloc(1, sizeof *loads);
  size_t most = 1, timed_most = 1;
  for (size_t b = 0; buildings != NULL && b < buildings->count; b++) {
    const steading_building *building = (const void *)buildings->entries[b].item;
    if (building->loads == NULL || (building->hub != NULL) != on_hub) continue;
    most += building->loads->count;
    for (size_t i = 0; i < building->loads->count; i++)
      timed_most += building->loads->items[i]->spec == &steading_load_timed_spec;
  }
  if (loads != NULL) {
    loads->daily = calloc(most, sizeof *loads->daily);
    loads->steady = calloc(most, sizeof *loads->steady);
    loads->refrigerators = calloc(most, sizeof *loads->refrigerators);
    loads->series = calloc(most, sizeof *loads->series);
    loads->timed = calloc(timed_most, sizeof *loads->timed);
  }
  if (loads == NULL || loads->daily == NULL || loads->steady == NULL ||
      loads->refrigerators == NULL || loads->series == NULL || loads->timed == NULL) {
    steading_loads_free(loads);
    return steading_fail(error, STEADING_NO_MEMORY, "buildings", "not enough memory");
  }
  for (size_t b = 0; buildings != NULL && b < buildings->count; b++) {
    const steading_building *building = (const void *)buildings->entries[b].item;
    if (building->loads == NULL || (building->hub != NULL) != on_hub) continue;
    for (size_t i = 0; i < building->loads->count; i++) sort_in(loads, building->loads->items[i]);
  }
  *out = loads;
  return STEADING_OK;
}

static double grown(double growth_per_year, int run_year) {
  return growth_per_year == 0 ? 1 : pow(1 + growth_per_year, run_year);
}

/* The loads that depend on month and hour alone, added up for one year of the run. */
static void add_up(steading_loads *loads, int run_year) {
  double even = 0;
  for (size_t i = 0; i < loads->steady_count; i++)
    even += loads->steady[i]->watts / 1000 * grown(loads->steady[i]->growth_per_year, run_year);
  for (size_t i = 0; i < loads->refrigerators_count; i++) {
    const steading_load_refrigerators *r = loads->refrigerators[i];
    even += r->count * r->kwh_per_year_each / STEADING_HOURS_PER_YEAR *
            grown(r->growth_per_year, run_year);
  }
  for (int month = 0; month < 12; month++)
    for (int hour = 0; hour < 24; hour++) {
      double kw = even;
      for (size_t i = 0; i < loads->daily_count; i++) {
        const steading_load_daily *d = loads->daily[i];
        kw += d->kwh_per_day * d->monthly[month] * d->shape[hour] *
              grown(d->growth_per_year, run_year);
      }
      loads->by_month_hour[month][hour] = kw;
    }
}

void steading_loads_year(steading_loads *loads, int run_year, const steading_civil_step *hours,
                         size_t first_hour, double *kw) {
  const size_t count = STEADING_HOURS_PER_YEAR;
  add_up(loads, run_year);
  for (size_t i = 0; i < count; i++)
    kw[i] = loads->by_month_hour[hours[i].month - 1][hours[i].minute / 60];
  for (size_t t = 0; t < loads->timed_count; t++) {
    const timed *load = &loads->timed[t];
    double full = load->load->kw * grown(load->load->growth_per_year, run_year);
    for (size_t i = 0; i < count; i++) {
      const steading_civil_step *h = &hours[i];
      double share = load->share[h->month - 1][h->weekday][h->minute / 60];
      if (h->month_before != h->month)
        share = steading_windows_share(load->load->window, h->month, h->weekday, h->month_before,
                                       h->minute, 60);
      kw[i] += full * share;
    }
  }
  for (size_t s = 0; s < loads->series_count; s++) {
    const steading_series *series = loads->series[s]->kw;
    double factor = grown(loads->series[s]->growth_per_year, run_year);
    size_t at = ((size_t)run_year * count + first_hour) % series->count;
    for (size_t i = 0; i < count; i++) {
      kw[i] += factor * series->values[at];
      at = at + 1 == series->count ? 0 : at + 1;
    }
  }
}
