#include "dispatch/step_columns.h"

#include <stdio.h>
#include <string.h>

#include "nearest.h"

enum { MOST_COLUMNS = 64, NAME_SIZE = 48 };

bool steading_step_column_adds_up(const steading_step_column *column) {
  return strcmp(column->unit, "share") != 0;
}

static steading_status unknown(const char *name, const char *const *names, size_t count,
                               const char *path, steading_error *error) {
  int nearest = steading_nearest_name(name, names, count);
  char all[700] = "";
  if (nearest >= 0)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "unknown column \"%s\" (did you mean '%s'?)", name, names[nearest]);
  for (size_t i = 0; i < count; i++) {
    size_t used = strlen(all);
    snprintf(all + used, sizeof all - used, "%s%s", used > 0 ? ", " : "", names[i]);
  }
  return steading_fail(error, STEADING_BAD_INPUT, path, "unknown column \"%.40s\", expected %s",
                       name, all);
}

steading_status steading_step_column_find(const char *name, const char *path,
                                          const steading_step_column **column,
                                          steading_error *error) {
  const char *names[MOST_COLUMNS];
  size_t count = 0;
  for (; count < steading_step_column_count; count++) {
    *column = &steading_step_columns[count];
    names[count] = (*column)->name;
    if (strcmp(name, names[count]) == 0) return STEADING_OK;
  }
  return unknown(name, names, count, path, error);
}

steading_status steading_step_column_find_sum(const char *name, const char *path,
                                              const steading_step_column **column,
                                              steading_error *error) {
  const char *names[MOST_COLUMNS];
  size_t count = 0;
  for (size_t c = 0; c < steading_step_column_count; c++) {
    *column = &steading_step_columns[c];
    if (strcmp(name, (*column)->name) == 0)
      return steading_step_column_adds_up(*column)
                 ? STEADING_OK
                 : steading_fail(error, STEADING_BAD_INPUT, path,
                                 "'%s' is a share, which does not add up over days", name);
    if (steading_step_column_adds_up(*column)) names[count++] = (*column)->name;
  }
  return unknown(name, names, count, path, error);
}

/* The name of a column as what a step has at any moment; false for litres. */
static bool level_name(const steading_step_column *column, char name[NAME_SIZE]) {
  size_t length = strlen(column->name);
  if (strcmp(column->unit, "l") == 0) return false;
  if (steading_step_column_adds_up(column)) length--; /* kWh without its last letter is kW */
  snprintf(name, NAME_SIZE, "%.*s", (int)length, column->name);
  return true;
}

steading_status steading_step_column_find_level(const char *name, const char *path,
                                                const steading_step_column **column,
                                                steading_error *error) {
  char texts[MOST_COLUMNS][NAME_SIZE];
  const char *names[MOST_COLUMNS];
  size_t count = 0;
  for (size_t c = 0; c < steading_step_column_count; c++) {
    *column = &steading_step_columns[c];
    if (!level_name(*column, texts[count])) continue;
    if (strcmp(name, texts[count]) == 0) return STEADING_OK;
    names[count] = texts[count];
    count++;
  }
  return unknown(name, names, count, path, error);
}

void steading_steps_begin(const steading_run *run, const steading_block *b, steading_steps *at) {
  *at = (steading_steps){.left = b->count};
  at->change.step = b->first_step;
  for (size_t i = 0; i < b->layout->hubs; i++) {
    at->change.capacity_kwh += b->capacity_kwh[i];
    at->change.delivered_kwh += b->delivered_kwh[i];
    at->change.removed_kwh += b->removed_kwh[i];
    at->change.fade_kwh += b->fade_kwh[i];
  }
  for (size_t t = 0; t < b->layout->tanks; t++) at->change.tank_l += b->stretch->tanks[t].full_l;
  at->step =
      (steading_step_view){.run = run, .row = b->flows, .change = &at->change, .first = true};
}
