#include "site/periods.h"

#include <stdint.h>
#include <stdio.h>

#include "calendar.h"

enum { MOST_EDGES = 1440 };

const steading_window *steading_period_windows(const steading_period *period, steading_window *own,
                                               size_t *count) {
  *count = 1;
  if (period->window != NULL) {
    *count = period->window->count;
    return period->window->items;
  }
  *own = (steading_window){.from_min = 0, .to_min = 1440, .days = 0x7f, .months = 0xfff};
  if (period->hours != NULL) {
    own->from_min = period->hours->items[0].from_min;
    own->to_min = period->hours->items[0].to_min;
  }
  if (period->days != NULL) own->days = period->days->items[0].days;
  if (period->months != NULL) own->months = period->months->items[0].months;
  return own;
}

bool steading_window_starts(const steading_window *window, int day_class, int month) {
  int weekday = day_class == STEADING_HOLIDAY ? 6 : day_class;
  return (window->days >> weekday & 1) && (window->months >> (month - 1) & 1);
}

/* A day as periods see it. */
typedef struct day_kind {
  int day_class, month;
} day_kind;

static bool fits(const steading_period *period, day_kind day, day_kind before, int minute) {
  steading_window own;
  size_t count = 0;
  const steading_window *windows = steading_period_windows(period, &own, &count);
  for (size_t i = 0; i < count; i++) {
    const steading_window *w = &windows[i];
    bool crosses = w->to_min <= w->from_min;
    if (minute >= w->from_min && (crosses || minute < w->to_min) &&
        steading_window_starts(w, day.day_class, day.month))
      return true;
    if (crosses && minute < w->to_min && steading_window_starts(w, before.day_class, before.month))
      return true;
  }
  return false;
}

/* The minutes at which some window begins or ends, and midnight, in order. */
static size_t edges_of(const steading_list *periods, int edges[MOST_EDGES]) {
  bool is_edge[1440] = {true};
  size_t found = 0;
  for (size_t p = 0; p < periods->count; p++) {
    steading_window own;
    size_t count = 0;
    const steading_window *windows =
        steading_period_windows((const void *)periods->items[p], &own, &count);
    for (size_t i = 0; i < count; i++) {
      is_edge[windows[i].from_min % 1440] = true;
      is_edge[windows[i].to_min % 1440] = true;
    }
  }
  for (int m = 0; m < 1440; m++)
    if (is_edge[m]) edges[found++] = m;
  return found;
}

typedef struct checker {
  const steading_list *periods;
  const char *path;
  steading_error *error;
  int edges[MOST_EDGES];
  size_t edge_count;
  uint64_t used; /* a bit for each period that counts somewhere */
} checker;

static steading_status check_day(checker *c, day_kind day, day_kind before, int weekday) {
  static const char *const days[] = {"Monday", "Tuesday",  "Wednesday", "Thursday",
                                     "Friday", "Saturday", "Sunday"};
  static const char *const months[] = {"January",   "February", "March",    "April",
                                       "May",       "June",     "July",     "August",
                                       "September", "October",  "November", "December"};
  for (size_t e = 0; e < c->edge_count; e++) {
    int minute = c->edges[e];
    size_t p = 0;
    while (p < c->periods->count && !fits((const void *)c->periods->items[p], day, before, minute))
      p++;
    if (p == c->periods->count)
      return steading_fail(
          c->error, STEADING_BAD_INPUT, c->path,
          "no period fits %s%s %02d:%02d in %s; a last one without hours, days and "
          "months takes the rest, such as { name = \"rest\", price_per_kwh = ... }",
          days[weekday], day.day_class == STEADING_HOLIDAY ? " (a holiday)" : "", minute / 60,
          minute % 60, months[day.month - 1]);
    c->used |= UINT64_C(1) << p;
  }
  return STEADING_OK;
}

/* Every kind of day that a month has: a holiday or not, after a holiday or not, the first of the
 * month or a later one, and each on any weekday. */
static steading_status check_month(checker *c, const bool holidays[12][31], int month) {
  bool seen[8] = {false};
  int month_before = month == 1 ? 12 : month - 1;
  int length = steading_days_before_month[month] - steading_days_before_month[month - 1];
  int length_before =
      steading_days_before_month[month_before] - steading_days_before_month[month_before - 1];
  for (int d = 1; d <= length; d++) {
    bool first = d == 1, holiday = holidays[month - 1][d - 1];
    bool after = first ? holidays[month_before - 1][length_before - 1] : holidays[month - 1][d - 2];
    int kind = holiday * 4 + after * 2 + first;
    if (seen[kind]) continue;
    seen[kind] = true;
    for (int w = 0; w < 7; w++) {
      day_kind day = {holiday ? STEADING_HOLIDAY : w, month};
      day_kind before = {after ? STEADING_HOLIDAY : (w + 6) % 7, first ? month_before : month};
      steading_status status = check_day(c, day, before, w);
      if (status != STEADING_OK) return status;
    }
  }
  return STEADING_OK;
}

steading_status steading_periods_check(const steading_list *periods, const bool holidays[12][31],
                                       const char *path, steading_error *error) {
  checker c = {.periods = periods, .path = path, .error = error};
  if (periods->count > STEADING_MOST_PERIODS)
    return steading_fail(error, STEADING_BAD_INPUT, path, "found %zu periods, at most %d",
                         periods->count, (int)STEADING_MOST_PERIODS);
  c.edge_count = edges_of(periods, c.edges);
  for (int month = 1; month <= 12; month++) {
    steading_status status = check_month(&c, holidays, month);
    if (status != STEADING_OK) return status;
  }
  for (size_t p = 0; p < periods->count; p++) {
    char where[256];
    if (c.used >> p & 1) continue;
    snprintf(where, sizeof where, "%.200s[%zu]", path, p + 1);
    return steading_fail(error, STEADING_BAD_INPUT, where,
                         "never counts: the periods before it fit whenever it would");
  }
  return STEADING_OK;
}
