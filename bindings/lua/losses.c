/* run.losses and run.performance: where the sun's energy goes, and the figures that sum it up. */
#include "dispatch/losses.h"

#include "script.h"

static int losses_gc(lua_State *L) {
  steading_losses_free(lua_touserdata(L, 1));
  return 0;
}

/* Push the losses of a run, held by a userdata. */
static const steading_losses *push_losses(lua_State *L, const steading_run *run) {
  steading_losses *losses = lua_newuserdatauv(L, sizeof *losses, 0);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  *losses = (steading_losses){.count = 0};
  steading_lua_set_gc(L, "steading.losses", losses_gc);
  steading_engine_enter(L);
  status = steading_run_losses(run, losses, &error);
  steading_engine_leave();
  if (status != STEADING_OK) steading_lua_raise(L, &error);
  return losses;
}

static void add_row(lua_State *L, const steading_run *run, const steading_losses_row *row,
                    steading_table *table) {
  if (steading_table_add_row(table) != STEADING_OK ||
      steading_table_set_text(table, table->rows - 1, 1, run->site->hubs->entries[row->hub].name) !=
          STEADING_OK)
    steading_lua_fail(L, "not enough memory");
  table->columns[0].numbers[table->rows - 1] = row->year;
}

static void set_text(lua_State *L, steading_table *table, size_t column, const char *text) {
  if (steading_table_set_text(table, table->rows - 1, column, text) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
}

void steading_lua_push_losses(lua_State *L, const steading_run *run) {
  static const char *const names[] = {"year", "hub", "group", "line", "kwh"};
  static const bool is_text[] = {false, true, true, true, false};
  const steading_losses *losses = push_losses(L, run);
  steading_table *table =
      steading_lua_push_frame(L, 5, names, is_text, run->site->name, run->site->currency);
  for (size_t i = 0; i < losses->count; i++)
    for (int k = 0; k < STEADING_LOSS_LINES; k++) {
      add_row(L, run, &losses->rows[i], table);
      set_text(L, table, 2, k < STEADING_FIRST_SYSTEM_LINE ? "capture" : "system");
      set_text(L, table, 3, steading_loss_line_names[k]);
      table->columns[4].numbers[table->rows - 1] = losses->rows[i].kwh[k];
    }
  lua_remove(L, -2); /* what it was made with */
}

void steading_lua_push_performance(lua_State *L, const steading_run *run) {
  enum { COLUMNS = 10 };
  static const char *const names[COLUMNS] = {"year",
                                             "hub",
                                             "reference_yield_h",
                                             "array_yield_h",
                                             "final_yield_h",
                                             "performance_ratio",
                                             "temperature_corrected_performance_ratio",
                                             "capture_loss_h",
                                             "system_loss_h",
                                             "capacity_factor"};
  static const bool is_text[COLUMNS] = {false, true};
  const steading_losses *losses = push_losses(L, run);
  steading_table *table =
      steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (size_t i = 0; i < losses->count; i++) {
    steading_performance p = steading_performance_of(&losses->rows[i].sums);
    const double cells[COLUMNS] = {0,
                                   0,
                                   p.reference_yield_h,
                                   p.array_yield_h,
                                   p.final_yield_h,
                                   p.performance_ratio,
                                   p.temperature_corrected_performance_ratio,
                                   p.capture_loss_h,
                                   p.system_loss_h,
                                   p.capacity_factor};
    add_row(L, run, &losses->rows[i], table);
    for (size_t c = 2; c < COLUMNS; c++) table->columns[c].numbers[table->rows - 1] = cells[c];
  }
  lua_remove(L, -2); /* what it was made with */
}
