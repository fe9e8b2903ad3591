#include "ledger/count.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "demand/clock.h"

/* The clock of a year of steps at a time, from a month before the first day on: civil time can
 * begin a day before standard time does. */
typedef struct clock {
  const steading_zone *zone;
  double utc_offset_h;
  int year, month, step_minutes;
  steading_civil_step *steps;
  size_t at, count;
} clock;

static const steading_civil_step *next_step(clock *c) {
  if (c->at == c->count) {
    if (c->count > 0) c->year++;
    c->count = (size_t)STEADING_DAYS_PER_YEAR * (1440u / (size_t)c->step_minutes);
    c->at = 0;
    steading_clock_year(c->year, c->month, c->zone, c->utc_offset_h, c->step_minutes, c->steps);
  }
  return &c->steps[c->at++];
}

static void note_day(steading_counted *counted, size_t month, int day, int *last_day) {
  if (day == *last_day) return;
  counted->months[month].days++;
  *last_day = day;
}

static void count_steps(steading_counted *counted, const steading_meter_plan *plan, clock *c,
                        int month, int day, const double *kw, size_t count) {
  double step_h = plan->step_minutes / 60.0;
  int last_day = 0;
  const steading_civil_step *step = next_step(c);
  while (step->month != month || step->day != day) step = next_step(c);
  counted->month_count = 1;
  for (size_t i = 0; i < count; i++, step = i < count ? next_step(c) : step) {
    steading_counted_month *now = &counted->months[counted->month_count - 1];
    size_t at = counted->month_count - 1;
    steading_bucket *bucket = NULL;
    if (step->month == now->month % 12 + 1) {
      now[1] = (steading_counted_month){.year = now->year + (now->month == 12),
                                        .month = now->month % 12 + 1};
      at = counted->month_count++;
      last_day = 0;
    } else if (step->month != now->month && at > 0) {
      at--; /* clocks went back over the turn of the month */
    }
    if (at + 1 == counted->month_count) note_day(counted, at, step->day, &last_day);
    bucket = &counted->by_month[at * counted->buckets + steading_meter_plan_bucket(plan, step)];
    bucket->import_kwh += fmax(kw[i], 0) * step_h;
    bucket->export_kwh += fmax(-kw[i], 0) * step_h;
  }
}

steading_status steading_count(const steading_meter_plan *plan, int64_t from,
                               const steading_zone *zone, const double *kw, size_t count,
                               steading_counted **out, steading_error *error) {
  size_t a_day = 1440u / (size_t)plan->step_minutes;
  size_t most_months = count / (28 * a_day) + 2;
  steading_counted *counted = calloc(1, sizeof *counted);
  clock c = {.zone = zone, .step_minutes = plan->step_minutes};
  int year = 0, month = 0, day = 0;
  steading_date_of_day(from, &year, &month, &day);
  *out = NULL;
  c.year = month == 1 ? year - 1 : year;
  c.month = month == 1 ? 12 : month - 1;
  if (zone != NULL) c.utc_offset_h = steading_zone_standard_offset_s(zone) / 3600.0;
  c.steps = malloc((size_t)STEADING_DAYS_PER_YEAR * a_day * sizeof *c.steps);
  if (counted != NULL) {
    counted->buckets = plan->buckets;
    counted->months = calloc(most_months, sizeof *counted->months);
    counted->by_month = calloc(most_months * plan->buckets, sizeof *counted->by_month);
  }
  if (counted == NULL || counted->months == NULL || counted->by_month == NULL || c.steps == NULL) {
    free(c.steps);
    steading_counted_free(counted);
    return steading_fail(error, STEADING_NO_MEMORY, "tariff", "not enough memory");
  }
  counted->months[0] = (steading_counted_month){.year = year, .month = month};
  count_steps(counted, plan, &c, month, day, kw, count);
  free(c.steps);
  *out = counted;
  return STEADING_OK;
}

void steading_counted_free(steading_counted *counted) {
  if (counted == NULL) return;
  free(counted->months);
  free(counted->by_month);
  free(counted);
}
