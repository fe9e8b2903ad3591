#include "demand/outages.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "random.h"

static const double longest_h = STEADING_HOURS_PER_YEAR;

/* --- weather -------------------------------------------------------------------------------------
 */

typedef struct ranked {
  double value;
  int day;
} ranked;

static int by_value(const void *a, const void *b) {
  const ranked *x = a, *y = b;
  if (x->value != y->value) return x->value < y->value ? -1 : 1;
  return x->day - y->day;
}

/* Mark the `count` days with the lowest value. */
static void mark_lowest(const double value[STEADING_DAYS_PER_YEAR], int count, bool *marked) {
  ranked days[STEADING_DAYS_PER_YEAR];
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++) days[d] = (ranked){value[d], d};
  qsort(days, STEADING_DAYS_PER_YEAR, sizeof days[0], by_value);
  for (int i = 0; i < count; i++) marked[days[i].day] = true;
}

void steading_outage_weather(const steading_weather *w, size_t start_minute,
                             bool dull[STEADING_DAYS_PER_YEAR],
                             bool extreme[STEADING_DAYS_PER_YEAR]) {
  double clearness[STEADING_DAYS_PER_YEAR], hot[STEADING_DAYS_PER_YEAR];
  double cold[STEADING_DAYS_PER_YEAR], windy[STEADING_DAYS_PER_YEAR];
  size_t a_day = 1440 / (size_t)w->step_minutes, at = start_minute / (size_t)w->step_minutes;
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++) {
    double light = 0, outside = 0;
    hot[d] = cold[d] = (double)INFINITY;
    windy[d] = 0;
    for (size_t i = 0; i < a_day; i++, at++) {
      size_t step = at % w->steps;
      const steading_sun_step *sun = &w->sun[step % w->steps_per_year];
      light += w->ghi_w_per_m2[step];
      outside += sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
      hot[d] = fmin(hot[d], -w->temp_c[step]); /* the highest comes first */
      cold[d] = fmin(cold[d], w->temp_c[step]);
      if (w->wind_m_per_s != NULL) windy[d] = fmin(windy[d], -w->wind_m_per_s[step]);
    }
    clearness[d] = outside > 0 ? light / outside : 1; /* a polar night is not dull weather */
    dull[d] = extreme[d] = false;
  }
  mark_lowest(clearness, STEADING_DULL_DAYS, dull);
  mark_lowest(hot, STEADING_EXTREME_DAYS, extreme);
  mark_lowest(cold, STEADING_EXTREME_DAYS, extreme);
  if (w->wind_m_per_s != NULL) mark_lowest(windy, STEADING_EXTREME_DAYS, extreme);
}

/* --- rates ---------------------------------------------------------------------------------------
 */

/* Give `outages` to the days that are marked (NULL: to all), as they weigh; false when they weigh
 * nothing. */
static bool spread(double outages, const double *weight, const bool *marked, double *per_day) {
  double sum = 0;
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++)
    if (marked == NULL || marked[d]) sum += weight[d];
  if (!(sum > 0)) return false;
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++)
    if (marked == NULL || marked[d]) per_day[d] += outages * weight[d] / sum;
  return true;
}

void steading_outage_rates(const steading_outages *o, const steading_weather *w,
                           size_t start_minute, int first_month,
                           double per_day[STEADING_DAYS_PER_YEAR]) {
  double weight[STEADING_DAYS_PER_YEAR];
  bool dull[STEADING_DAYS_PER_YEAR], extreme[STEADING_DAYS_PER_YEAR];
  double anywhere = o->saifi;
  for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++) {
    int month = 0, day = 0;
    steading_month_of_day(
        (steading_days_before_month[first_month - 1] + d) % STEADING_DAYS_PER_YEAR, &month, &day);
    weight[d] = o->by_month[month - 1];
    per_day[d] = 0;
  }
  if (o->in_dull_weather > 0 || o->in_extreme_weather > 0) {
    steading_outage_weather(w, start_minute, dull, extreme);
    if (spread(o->saifi * o->in_dull_weather, weight, dull, per_day))
      anywhere -= o->saifi * o->in_dull_weather;
    if (spread(o->saifi * o->in_extreme_weather, weight, extreme, per_day))
      anywhere -= o->saifi * o->in_extreme_weather;
  }
  spread(fmax(anywhere, 0), weight, NULL, per_day);
}

uint64_t steading_outage_seed(const steading_outages *o, bool has_run_seed, uint64_t run_seed) {
  uint64_t seed = (uint64_t)o->seed;
  return has_run_seed ? steading_random_bits(seed, 0, STEADING_DRAW_RUN_SEED, run_seed) : seed;
}

/* --- draws ---------------------------------------------------------------------------------------
 */

static double length_h(const steading_outage_draw *d) {
  const steading_outages *o = d->outages;
  double length = o->caidi_h;
  if (o->lengths->model == STEADING_LENGTHS_LOGNORMAL) {
    double spread =
        steading_record_or_else(o->lengths, "spread", o->lengths->spread, STEADING_OUTAGE_SPREAD);
    double z = steading_random_normal(d->seed, d->year, STEADING_DRAW_OUTAGE_LENGTH, d->index);
    length = o->caidi_h * exp(spread * z - spread * spread / 2);
  } else if (o->lengths->model == STEADING_LENGTHS_EXPONENTIAL) {
    length = -o->caidi_h *
             log(steading_random_uniform(d->seed, d->year, STEADING_DRAW_OUTAGE_LENGTH, d->index));
  }
  return fmin(length, longest_h);
}

steading_outage_draw steading_outage_draw_of(const steading_outages *outages, const double *per_day,
                                             uint64_t seed, uint32_t year) {
  return (steading_outage_draw){.outages = outages, .per_day = per_day, .seed = seed, .year = year};
}

/* A Poisson process of any rate is one of rate 1 on the clock that runs by the expected number:
 * there the gaps are exponential with mean 1 (Cinlar 1975, Introduction to Stochastic Processes,
 * chapter 4, from memory). */
bool steading_outage_next(steading_outage_draw *d, steading_outage *outage) {
  d->reached -= log(steading_random_uniform(d->seed, d->year, STEADING_DRAW_OUTAGE_GAP, d->index));
  while (d->day < STEADING_DAYS_PER_YEAR && d->before + d->per_day[d->day] <= d->reached)
    d->before += d->per_day[d->day++];
  if (d->day == STEADING_DAYS_PER_YEAR) return false;
  outage->start_h = 24 * (d->day + (d->reached - d->before) / d->per_day[d->day]);
  outage->length_h = length_h(d);
  d->index++;
  return true;
}
