#include "demand/rota.h"

#include <math.h>
#include <stdio.h>

#include "site/window.h"

enum { A_DAY = 24 * 60 };

static int minutes_of(double hours) { return (int)lround(hours * 60); }

static int start_of(const steading_rota *rota) {
  int minutes = 0;
  steading_read_clock(rota->starts, &minutes);
  return minutes;
}

/* Whether so many hours are whole steps, to what a number written in decimals can say. */
static bool is_whole(double hours, int step_minutes) {
  return fabs(hours * 60 - minutes_of(hours)) < 1e-6 && minutes_of(hours) % step_minutes == 0;
}

steading_status steading_rota_check(const steading_rota *rota, int step_minutes, const char *path,
                                    steading_error *error) {
  const char *field = NULL;
  char where[192];
  if (start_of(rota) % step_minutes != 0) field = "starts";
  if (!is_whole(rota->moves_h, step_minutes)) field = "moves_h";
  if (!is_whole(rota->hours, step_minutes) || minutes_of(rota->hours) == 0) field = "hours";
  if (field == NULL) return STEADING_OK;
  snprintf(where, sizeof where, "%s.%s", path, field);
  return steading_fail(error, STEADING_BAD_INPUT, where,
                       "turns begin or end within a step of %d minutes; simulate with finer "
                       "step_minutes",
                       step_minutes);
}

/* Whether the turn that begins on a day is on, `minute` minutes after that day's midnight. */
static bool is_on(const steading_rota *rota, int day, int month, int minute) {
  int every = (int)rota->every_days, since = day - (int)rota->first_day, start = 0;
  if (since < 0 || since % every != 0) return false;
  if (rota->months != NULL && !steading_windows_hold_in_month(rota->months, month)) return false;
  start = (int)((start_of(rota) + (long long)(since / every) * minutes_of(rota->moves_h)) % A_DAY);
  return minute >= start && minute < start + minutes_of(rota->hours);
}

bool steading_rota_is_off(const steading_rota *rota, int day, const steading_civil_step *step) {
  return is_on(rota, day, step->month, step->minute) ||
         is_on(rota, day - 1, step->month_before, step->minute + A_DAY);
}
