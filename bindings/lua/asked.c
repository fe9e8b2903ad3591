/* What is asked of a run's single steps. Each method repeats the simulation once with a sink of its
 * own and gives a frame. */
#include <stdio.h>
#include <string.h>

#include "dispatch/duration.h"
#include "dispatch/events.h"
#include "dispatch/profile.h"
#include "dispatch/reasons.h"
#include "dispatch/worst.h"
#include "script.h"

enum { MOST_COLUMNS = 64 };

/* The columns of a frame as they are put together. */
typedef struct heads {
  size_t count;
  const char *names[MOST_COLUMNS];
  bool is_text[MOST_COLUMNS];
} heads;

static size_t add_head(heads *h, const char *name, bool is_text) {
  h->names[h->count] = name;
  h->is_text[h->count] = is_text;
  return h->count++;
}

static steading_table *push_frame(lua_State *L, const steading_run *run, const heads *h) {
  steading_table *table = steading_lua_push_frame(L, h->count, h->names, h->is_text,
                                                  run->site->name, run->site->currency);
  steading_lua_frame_of_run(L, 1);
  return table;
}

static size_t add_row(lua_State *L, steading_table *table) {
  if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
  return table->rows - 1;
}

static void set_text(lua_State *L, steading_table *table, size_t column, const char *text) {
  if (steading_table_set_text(table, table->rows - 1, column, text) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
}

static void set_time(lua_State *L, steading_table *table, size_t column, const steading_run *run,
                     size_t step) {
  char time[48];
  steading_lua_time(run, step, time, sizeof time);
  set_text(L, table, column, time);
}

static void set_number(steading_table *table, size_t column, double number) {
  table->columns[column].numbers[table->rows - 1] = number;
}

static void set_part(lua_State *L, steading_table *table, size_t column, const steading_map *parts,
                     int part) {
  if (part >= 0) set_text(L, table, column, parts->entries[part].name);
}

/* The run at 1, and options or nothing at 2. */
static const steading_run *arguments(lua_State *L, const char *method, int most) {
  const steading_run *run = steading_lua_run(L, 1);
  char call[64];
  snprintf(call, sizeof call, "run:%s", method);
  if (run == NULL)
    steading_lua_fail(L, "%s: expected a run; write %s%s", method, call,
                      most > 1 ? " { ... }" : "()");
  steading_lua_no_more(L, most, call);
  lua_settop(L, 2);
  if (!lua_isnil(L, 2)) luaL_checktype(L, 2, LUA_TTABLE);
  return run;
}

/* Push room for a result, empty, which the collector frees. */
static void *push_result(lua_State *L, size_t size, const char *type, lua_CFunction gc) {
  void *result = lua_newuserdatauv(L, size, 0);
  memset(result, 0, size);
  steading_lua_set_gc(L, type, gc);
  return result;
}

/* --- reasons -----------------------------------------------------------------------------------
 */

static int reasons_gc(lua_State *L) {
  steading_reasons_free(lua_touserdata(L, 1));
  return 0;
}

static int run_reasons(lua_State *L) {
  const steading_run *run = arguments(L, "reasons", 1);
  static const heads columns = {.count = 6,
                                .names = {"year", "hub", "meter", "reason", "hours", "kwh"},
                                .is_text = {false, true, true, true, false, false}};
  steading_reasons *reasons = push_result(L, sizeof *reasons, "steading.reasons", reasons_gc);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_table *table = NULL;
  steading_engine_enter(L);
  status = steading_run_reasons(run, reasons, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  table = push_frame(L, run, &columns);
  for (size_t i = 0; i < reasons->count; i++) {
    const steading_reasons_row *row = &reasons->rows[i];
    add_row(L, table);
    set_number(table, 0, row->year);
    set_part(L, table, 1, run->site->hubs, row->hub);
    set_part(L, table, 2, run->site->meters, row->meter);
    set_text(L, table, 3, steading_reason_names[row->reason]);
    set_number(table, 4, row->hours);
    set_number(table, 5, row->kwh);
  }
  return 1;
}

/* --- events ------------------------------------------------------------------------------------
 */

static int events_gc(lua_State *L) {
  steading_events_free(lua_touserdata(L, 1));
  return 0;
}

static void push_events(lua_State *L, const steading_run *run, const steading_ask_events *ask,
                        const steading_events *events) {
  bool outage = ask->kind == STEADING_EVENT_OUTAGE, water = ask->kind == STEADING_EVENT_WATER_SHORT;
  bool sheds = outage || ask->kind == STEADING_EVENT_UNSERVED;
  double h = run->step_minutes / 60.0;
  heads columns = {.count = 0};
  size_t meter = outage ? add_head(&columns, "meter", true) : 0;
  size_t start = add_head(&columns, "start", true);
  size_t last_hours = add_head(&columns, "last_hours", false);
  size_t hours = add_head(&columns, "hours", false);
  size_t amount = add_head(&columns, water ? "litres" : "kwh", false);
  size_t peak = add_head(&columns, water ? "peak_l_per_h" : "peak_kw", false);
  size_t charge = add_head(&columns, "lowest_state_of_charge", false);
  size_t tank = water ? add_head(&columns, "lowest_tank_share", false) : 0;
  size_t shed = sheds ? add_head(&columns, "shed_kwh", false) : 0;
  steading_table *table = push_frame(L, run, &columns);
  for (size_t i = 0; i < events->count; i++) {
    const steading_event *event = &events->items[i];
    add_row(L, table);
    if (outage) set_part(L, table, meter, run->site->meters, event->meter);
    set_time(L, table, start, run, event->first);
    set_number(table, last_hours, (double)(event->last + 1 - event->first) * h);
    set_number(table, hours, (double)event->steps * h);
    set_number(table, amount, event->amount);
    set_number(table, peak, event->peak);
    set_number(table, charge, event->lowest_charge);
    if (water) set_number(table, tank, event->lowest_tank);
    if (sheds) set_number(table, shed, event->shed_kwh);
  }
}

static int run_events(lua_State *L) {
  const steading_run *run = arguments(L, "events", 2);
  const steading_ask_events *ask = steading_lua_read(L, 2, &steading_ask_events_spec, "events");
  steading_events *events = push_result(L, sizeof *events, "steading.events", events_gc);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_engine_enter(L);
  status = steading_run_events(run, ask, events, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  push_events(L, run, ask, events);
  return 1;
}

/* --- worst -------------------------------------------------------------------------------------
 */

static int worst_gc(lua_State *L) {
  steading_worst_free(lua_touserdata(L, 1));
  return 0;
}

static int run_worst(lua_State *L) {
  const steading_run *run = arguments(L, "worst", 2);
  static const heads columns = {
      .count = 6,
      .names = {"start", "days", "sum", "load_kwh", "pv_available_kwh", "grid_import_kwh"},
      .is_text = {true}};
  const steading_ask_worst *ask = steading_lua_read(L, 2, &steading_ask_worst_spec, "worst");
  steading_worst *worst = push_result(L, sizeof *worst, "steading.worst", worst_gc);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_table *table = NULL;
  steading_engine_enter(L);
  status = steading_run_worst(run, ask, worst, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  table = push_frame(L, run, &columns);
  for (size_t i = 0; i < worst->count; i++) {
    const steading_worst_window *window = &worst->windows[i];
    add_row(L, table);
    set_time(L, table, 0, run, window->first);
    set_number(table, 1, (double)worst->days);
    set_number(table, 2, window->sum);
    set_number(table, 3, window->load_kwh);
    set_number(table, 4, window->pv_available_kwh);
    set_number(table, 5, window->grid_import_kwh);
  }
  return 1;
}

/* --- profile -----------------------------------------------------------------------------------
 */

static int profile_gc(lua_State *L) {
  steading_profile_free(lua_touserdata(L, 1));
  return 0;
}

static void push_profile(lua_State *L, const steading_run *run, const steading_profile *profile) {
  heads columns = {.count = 0};
  steading_table *table = NULL;
  for (int k = 0; k < STEADING_PROFILE_PARTS; k++)
    if (profile->by >> k & 1) add_head(&columns, steading_choices_profile_by[k], false);
  add_head(&columns, "hours", false);
  for (size_t c = 0; c < profile->column_count; c++)
    add_head(&columns, profile->columns[c]->name, false);
  table = push_frame(L, run, &columns);
  for (size_t group = 0; group < profile->group_count; group++) {
    size_t at = 0;
    if (profile->steps[group] == 0) continue;
    add_row(L, table);
    for (int k = 0; k < STEADING_PROFILE_PARTS; k++)
      if (profile->by >> k & 1)
        set_number(table, at++, steading_profile_key(profile, group, (steading_profile_part)k));
    set_number(table, at++, (double)profile->steps[group] * profile->step_h);
    for (size_t c = 0; c < profile->column_count; c++)
      set_number(table, at++, steading_profile_mean(profile, group, c));
  }
}

static int run_profile(lua_State *L) {
  const steading_run *run = arguments(L, "profile", 2);
  const steading_ask_profile *ask = steading_lua_read(L, 2, &steading_ask_profile_spec, "profile");
  steading_profile *profile = push_result(L, sizeof *profile, "steading.profile", profile_gc);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_engine_enter(L);
  status = steading_run_profile(run, ask, profile, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  push_profile(L, run, profile);
  return 1;
}

/* --- duration ----------------------------------------------------------------------------------
 */

static int duration_gc(lua_State *L) {
  steading_duration_free(lua_touserdata(L, 1));
  return 0;
}

static int run_duration(lua_State *L) {
  const steading_run *run = arguments(L, "duration", 2);
  static const heads columns = {.count = 3, .names = {"share_of_time", "hours", "value"}};
  const steading_ask_duration *ask =
      steading_lua_read(L, 2, &steading_ask_duration_spec, "duration");
  steading_duration *duration = push_result(L, sizeof *duration, "steading.duration", duration_gc);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_table *table = NULL;
  steading_engine_enter(L);
  status = steading_run_duration(run, ask, duration, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  table = push_frame(L, run, &columns);
  for (size_t i = 0; i < duration->count; i++) {
    double share = (double)i / (double)(duration->count - 1);
    add_row(L, table);
    set_number(table, 0, share);
    set_number(table, 1, share * duration->hours);
    set_number(table, 2, duration->values[i]);
  }
  return 1;
}

bool steading_lua_push_asked(lua_State *L, const char *name) {
  static const luaL_Reg methods[] = {{"reasons", run_reasons},
                                     {"events", run_events},
                                     {"worst", run_worst},
                                     {"profile", run_profile},
                                     {"duration", run_duration}};
  for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++)
    if (strcmp(name, methods[i].name) == 0) {
      lua_pushcfunction(L, methods[i].func);
      return true;
    }
  return false;
}
