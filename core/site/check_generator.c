#include "site/check_generator.h"

#include <stdbool.h>
#include <stdio.h>

#include "site/fields.h"
#include "site/window.h"

enum { DAYS_PER_WEEK = 7, MINUTES_PER_DAY = 1440 };

static bool given(const void *record, const char *field) {
  return steading_record_given(record, field);
}

static steading_status at(steading_error *error, const char *path, const char *field,
                          const char *text) {
  char where[256];
  snprintf(where, sizeof where, "%.180s%s%.70s", path, path[0] != '\0' ? "." : "", field);
  return steading_fail(error, STEADING_BAD_INPUT, where, "%s", text);
}

steading_status steading_check_generator(const void *record, const char *path,
                                         steading_error *error) {
  const steading_generator *generator = record;
  bool charges = generator->role != STEADING_ROLE_CARRIES;
  if (charges && !given(generator, "charger_kw"))
    return at(error, path, "charger_kw",
              "required with the roles charges and both: most AC power that goes to the battery");
  if (!charges && given(generator, "charger_kw"))
    return at(error, path, "charger_kw", "belongs to the roles charges and both");
  if (!charges && given(generator, "charger_efficiency"))
    return at(error, path, "charger_efficiency", "belongs to the roles charges and both");
  return STEADING_OK;
}

/* Whether two windows have a minute in common, on whatever day of a month of both. */
static bool meet(const steading_window *a, const steading_window *b) {
  int a_last = a->to_min > a->from_min ? a->to_min : a->to_min + MINUTES_PER_DAY;
  int b_last = b->to_min > b->from_min ? b->to_min : b->to_min + MINUTES_PER_DAY;
  if ((a->months & b->months) == 0) return false;
  for (int i = 0; i < DAYS_PER_WEEK; i++) {
    if (!(a->days >> i & 1)) continue;
    for (int shift = -1; shift <= 1; shift++) { /* the window of b that starts that day or beside */
      int day = (i + shift + DAYS_PER_WEEK) % DAYS_PER_WEEK, from = shift * MINUTES_PER_DAY;
      if (!(b->days >> day & 1)) continue;
      if (from + b->from_min < a_last && a->from_min < from + b_last) return true;
    }
  }
  return false;
}

steading_status steading_check_generator_rules(const void *record, const char *path,
                                               steading_error *error) {
  const steading_generator_rules *rules = record;
  bool start = given(rules, "start_below_charge"), stop = given(rules, "stop_above_charge");
  if (start && !stop)
    return at(error, path, "stop_above_charge",
              "required with start_below_charge: the charge at which it stops");
  if (stop && !start && !rules->start_if_unserved)
    return at(error, path, "stop_above_charge", "belongs to start_below_charge, which is absent");
  if (start && !(rules->start_below_charge < rules->stop_above_charge))
    return at(error, path, "start_below_charge", "expected less than stop_above_charge");
  if (!start && !rules->start_if_unserved && rules->exercise == NULL)
    return at(error, path, "start_if_unserved",
              "nothing ever starts it; give start_below_charge, or leave this true");
  if (given(rules, "most_hours_per_day") && rules->least_hours > rules->most_hours_per_day)
    return at(error, path, "least_hours", "expected at most most_hours_per_day");
  if (rules->quiet == NULL || rules->exercise == NULL) return STEADING_OK;
  for (size_t q = 0; q < rules->quiet->count; q++)
    for (size_t e = 0; e < rules->exercise->window->count; e++)
      if (meet(&rules->quiet->items[q], &rules->exercise->window->items[e]))
        return at(error, path, "exercise.window", "lies in quiet hours, in which it must not run");
  return STEADING_OK;
}

steading_status steading_check_fuel_store(const void *record, const char *path,
                                          steading_error *error) {
  const steading_fuel_store *tank = record;
  char text[128];
  double most_l = tank->litres * (given(tank, "full_to") ? tank->full_to : 1);
  if (!given(tank, "litres_at_start") || tank->litres_at_start <= most_l) return STEADING_OK;
  snprintf(text, sizeof text, "found %.12g, it may hold %.12g", tank->litres_at_start, most_l);
  return at(error, path, "litres_at_start", text);
}

steading_status steading_check_delivery(const void *record, const char *path,
                                        steading_error *error) {
  const steading_delivery *delivery = record;
  static const int days_of_month[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  bool open = false;
  for (int m = 0; m < 12; m++)
    for (int d = 0; d < days_of_month[m]; d++) open = open || !delivery->closed[m][d];
  return open ? STEADING_OK : at(error, path, "closed", "leaves no day on which a truck may come");
}

steading_status steading_check_fuel(const void *record, const char *path, steading_error *error) {
  const steading_fuel *fuel = record;
  if (fuel->tank == NULL && fuel->delivery != NULL)
    return at(error, path, "delivery", "there is no tank that it fills; give tank");
  return STEADING_OK;
}

steading_status steading_check_ask_fuel(const void *record, const char *path,
                                        steading_error *error) {
  static const char *const amounts[] = {"litres", "gallons", "kg", "pounds", "cubic_feet", "kwh"};
  const char *found = NULL;
  for (size_t i = 0; i < sizeof amounts / sizeof amounts[0]; i++) {
    char text[96];
    if (!given(record, amounts[i])) continue;
    snprintf(text, sizeof text, "%s is given as well; write one of the two",
             found == NULL ? "" : found);
    if (found != NULL) return at(error, path, amounts[i], text);
    found = amounts[i];
  }
  if (found == NULL)
    return at(error, path, "litres",
              "required: litres, gallons, kg, pounds, cubic_feet or kwh of the fuel");
  return STEADING_OK;
}

steading_status steading_check_ask_fuel_curve(const void *record, const char *path,
                                              steading_error *error) {
  const steading_ask_fuel_curve *ask = record;
  char text[96];
  if (ask->kw->count == ask->l_per_h->count) return STEADING_OK;
  snprintf(text, sizeof text, "found %zu numbers, expected one for each of the %zu powers",
           ask->l_per_h->count, ask->kw->count);
  return at(error, path, "l_per_h", text);
}
