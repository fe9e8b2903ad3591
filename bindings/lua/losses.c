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

void steading_lua_push_losses(lua_State *L, const steading_run *run) {
  enum { COLUMNS = 5 };
  static const char *const names[COLUMNS] = {"year", "hub", "group", "line", "kwh"};
  static const bool is_text[COLUMNS] = {false, true, true, true, false};
  const steading_losses *losses = push_losses(L, run);
  steading_table *table =
      steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (size_t i = 0; i < losses->count; i++)
    for (int k = 0; k < STEADING_LOSS_LINES; k++) {
      const steading_losses_row *row = &losses->rows[i];
      const double cells[COLUMNS] = {[0] = row->year, [4] = row->kwh[k]};
      const char *const texts[COLUMNS] = {
          [1] = run->site->hubs->entries[row->hub].name,
          [2] = k < STEADING_FIRST_SYSTEM_LINE ? "capture" : "system",
          [3] = steading_loss_line_names[k]};
      steading_lua_add_row(L, table, cells, texts);
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
    const double cells[COLUMNS] = {losses->rows[i].year,
                                   0,
                                   p.reference_yield_h,
                                   p.array_yield_h,
                                   p.final_yield_h,
                                   p.performance_ratio,
                                   p.temperature_corrected_performance_ratio,
                                   p.capture_loss_h,
                                   p.system_loss_h,
                                   p.capacity_factor};
    const char *const texts[COLUMNS] = {[1] = run->site->hubs->entries[losses->rows[i].hub].name};
    steading_lua_add_row(L, table, cells, texts);
  }
  lua_remove(L, -2); /* what it was made with */
}
