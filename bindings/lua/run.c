/* site:simulate and the run object. */
#include "dispatch/run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "dispatch/reason.h"
#include "dispatch/result.h"
#include "ledger/notices.h"
#include "ledger/tariff.h"
#include "plant/check.h"
#include "resource/weather.h"
#include "script.h"
#include "site/site.h"

static const char type_name[] = "steading.run";
static const char zone_type[] = "steading.zone";

static const steading_run *check_run(lua_State *L, int index) {
  return *(steading_run **)luaL_checkudata(L, index, type_name);
}

const steading_run *steading_lua_run(lua_State *L, int index) {
  steading_run **run = luaL_testudata(L, index, type_name);
  return run == NULL ? NULL : *run;
}

static int run_gc(lua_State *L) {
  steading_run **run = luaL_checkudata(L, 1, type_name);
  steading_run_release(*run);
  *run = NULL;
  return 0;
}

static int bills_gc(lua_State *L) {
  steading_bills_free(*(steading_bills **)lua_touserdata(L, 1));
  return 0;
}

static int zone_gc(lua_State *L) {
  steading_zone **zone = luaL_checkudata(L, 1, zone_type);
  steading_zone_free(*zone);
  *zone = NULL;
  return 0;
}

/* The zone of a name, read once a script; NULL for the empty name. */
const steading_zone *steading_lua_zone(lua_State *L, const char *name) {
  steading_error error = {.status = STEADING_OK};
  steading_zone **zone = NULL, *found = NULL;
  if (name[0] == '\0') return NULL;
  luaL_getsubtable(L, LUA_REGISTRYINDEX, "steading.zones"); /* zones */
  if (lua_getfield(L, -1, name) == LUA_TUSERDATA) {
    found = *(steading_zone **)lua_touserdata(L, -1);
    lua_pop(L, 2);
    return found;
  }
  lua_pop(L, 1);
  zone = lua_newuserdatauv(L, sizeof *zone, 0); /* zones zone */
  *zone = NULL;
  steading_lua_set_gc(L, zone_type, zone_gc);
  if (steading_zone_load(name, zone, &error) != STEADING_OK) steading_lua_raise(L, &error);
  found = *zone;
  lua_setfield(L, -2, name); /* zones */
  lua_pop(L, 1);
  return found;
}

static void check_columns(lua_State *L, const steading_simulate *options);

/* Simulate with the plans of the site's tariffs. */
static steading_status simulate(const steading_site *site, const steading_simulate *options,
                                const steading_zone *zone, steading_run **run,
                                steading_error *error) {
  const steading_meter_plan *plan_of[STEADING_MOST_METERS] = {NULL};
  steading_meter_plan *plans = NULL;
  steading_status status = steading_site_plans(site, (int)options->step_minutes, &plans, error);
  for (size_t m = 0; plans != NULL && m < site->meters->count; m++) plan_of[m] = &plans[m];
  if (status == STEADING_OK)
    status = steading_run_simulate(site, options, zone, plan_of, run, error);
  steading_site_plans_free(site, plans);
  return status;
}

int steading_lua_simulate(lua_State *L) {
  const steading_site *site = steading_lua_site(L, 1);
  const steading_simulate *options = NULL;
  const steading_zone *zone = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_run **run = NULL;
  steading_status status = STEADING_OK;
  if (site == NULL)
    return steading_lua_fail(L, "simulate: expected a site; write site:simulate { ... }");
  steading_lua_no_more(L, 2, "site:simulate");
  lua_settop(L, 2);
  if (!lua_isnil(L, 2)) luaL_checktype(L, 2, LUA_TTABLE);
  options = steading_lua_read(L, 2, &steading_simulate_spec, "simulate");
  check_columns(L, options);
  zone = steading_lua_zone(L, site->weather->time_zone);
  run = lua_newuserdatauv(L, sizeof *run, 1);
  *run = NULL;
  luaL_setmetatable(L, type_name);
  steading_engine_enter(L);
  status = simulate(site, options, zone, run, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  lua_newtable(L); /* results that were asked for are kept */
  lua_setiuservalue(L, -2, 1);
  /* Lua does not see the size of a run: let its collector go on by as much. */
  lua_gc(L, LUA_GCSTEP,
         (int)(((*run)->month_count + (*run)->step_count) * (*run)->layout.width * sizeof(double) /
               1024));
  return 1;
}

/* --- frames ------------------------------------------------------------------------------------
 */

/* The bills at today's prices, kept by a userdata that is pushed; NULL where a meter has none. */
static const steading_bills *bills_of(lua_State *L, const steading_run *run) {
  steading_bills **bills = lua_newuserdatauv(L, sizeof *bills, 0);
  steading_error error = {.status = STEADING_OK};
  *bills = NULL;
  steading_lua_set_gc(L, "steading.bills", bills_gc);
  if (run->meter_count == 0 || !steading_run_is_billed(run)) return NULL;
  if (steading_run_bills(run, run->month_count, NULL, bills, &error) != STEADING_OK)
    steading_lua_raise(L, &error);
  return *bills;
}

static const steading_map *parts_of(const steading_run *run, int of) {
  return of == STEADING_OF_HUB ? run->site->hubs : run->site->meters;
}

/* A frame of energy: a row a year or a month of the site, or for each of its hubs or meters. */
static void push_energy(lua_State *L, const steading_run *run, int of, bool monthly) {
  const char *names[64];
  bool is_text[64] = {false};
  size_t columns = 0, keys = 0, step = monthly ? 1 : 12, parts = 1;
  const steading_bills *bills = of == STEADING_OF_HUB ? NULL : bills_of(L, run);
  steading_table *table = NULL;
  steading_span *period = lua_newuserdatauv(L, sizeof *period, 0);
  if (of != STEADING_OF_SITE) parts = parts_of(run, of) == NULL ? 0 : parts_of(run, of)->count;
  names[columns++] = "year";
  if (monthly) names[columns++] = "month";
  if (of != STEADING_OF_SITE) {
    is_text[columns] = true;
    names[columns++] = of == STEADING_OF_HUB ? "hub" : "meter";
  }
  keys = columns;
  for (size_t c = 0; c < steading_result_column_count; c++)
    if (steading_result_columns[c].of & of) names[columns++] = steading_result_columns[c].name;
  if (bills != NULL) names[columns++] = "bill";
  table = steading_lua_push_frame(L, columns, names, is_text, run->site->name, run->site->currency);
  for (size_t first = 0; first < run->month_count; first += step) {
    steading_span_of(run, first, step, period);
    for (size_t i = 0; i < parts; i++) {
      steading_view view = {.of = of, .index = i};
      size_t row = table->rows, at = keys;
      if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
      table->columns[0].numbers[row] = period->site.year;
      if (monthly) table->columns[1].numbers[row] = period->site.month;
      if (of != STEADING_OF_SITE &&
          steading_table_set_text(table, row, keys - 1, parts_of(run, of)->entries[i].name) !=
              STEADING_OK)
        steading_lua_fail(L, "not enough memory");
      for (size_t c = 0; c < steading_result_column_count; c++)
        if (steading_result_columns[c].of & of)
          table->columns[at++].numbers[row] = steading_result_columns[c].value(period, &view);
      if (bills != NULL)
        table->columns[at].numbers[row] = steading_bills_sum(
            bills, of == STEADING_OF_METER ? (int)i : STEADING_ALL_METERS, first, step);
    }
  }
  lua_remove(L, -2); /* what it was made with */
  if (of != STEADING_OF_HUB) lua_remove(L, -2);
}

static int parts_not_kept(lua_State *L) {
  return steading_lua_fail(L, "%s.monthly: not kept; simulate with keep = \"monthly\"",
                           lua_tostring(L, lua_upvalueindex(1)));
}

static void push_parts(lua_State *L, const steading_run *run, int of, const char *what) {
  lua_createtable(L, 0, 2);
  push_energy(L, run, of, false);
  steading_lua_frame_of_run(L, 1);
  lua_setfield(L, -2, "annual");
  if (run->keep >= STEADING_KEEP_MONTHLY) {
    push_energy(L, run, of, true);
    steading_lua_frame_of_run(L, 1);
    lua_setfield(L, -2, "monthly");
    steading_lua_strict(L, what);
  } else { /* there is nothing else to ask for */
    lua_createtable(L, 0, 1);
    lua_pushstring(L, what);
    lua_pushcclosure(L, parts_not_kept, 1);
    lua_setfield(L, -2, "__index");
    lua_setmetatable(L, -2);
  }
}

void steading_lua_time(const steading_run *run, size_t step, char *text, size_t size) {
  double offset_h = run->site->weather->place.utc_offset_h;
  int offset = (int)lround(fabs(offset_h) * 60), year = 0, month = 0, day = 0, minute = 0;
  steading_run_time(run, step, &year, &month, &day, &minute);
  snprintf(text, size, "%04d-%02d-%02dT%02d:%02d:00%c%02d:%02d", year, month, day, minute / 60,
           minute % 60, offset_h < 0 ? '-' : '+', offset / 60, offset % 60);
}

/* Index of a column of steps: `time`, those of the list, `reason`; -1 for another name. */
enum { COLUMN_TIME = 0 };
static int step_column(const char *name) {
  if (strcmp(name, "time") == 0) return COLUMN_TIME;
  for (size_t c = 0; c < steading_step_column_count; c++)
    if (strcmp(name, steading_step_columns[c].name) == 0) return (int)c + 1;
  return strcmp(name, "reason") == 0 ? (int)steading_step_column_count + 1 : -1;
}

static const char *step_column_name(int column) {
  if (column == COLUMN_TIME) return "time";
  if (column == (int)steading_step_column_count + 1) return "reason";
  return steading_step_columns[column - 1].name;
}

/* The columns that a run was asked for are those that there are. */
static void check_columns(lua_State *L, const steading_simulate *options) {
  const char *names[64] = {NULL};
  const steading_texts *wanted = options->columns;
  for (int c = 0; c < (int)steading_step_column_count + 2; c++) names[c] = step_column_name(c);
  for (size_t i = 0; wanted != NULL && i < wanted->count; i++) {
    if (step_column(wanted->items[i]) < 0)
      steading_lua_unknown(L, "simulate.columns", wanted->items[i], names);
    for (size_t k = 0; k < i; k++)
      if (strcmp(wanted->items[i], wanted->items[k]) == 0)
        steading_lua_fail(L, "simulate.columns: '%s' stands twice", wanted->items[i]);
  }
}

static void push_steps(lua_State *L, const steading_run *run) {
  int columns[64];
  const char *names[64];
  bool is_text[64] = {false};
  const steading_texts *wanted = run->options->columns;
  size_t count = wanted != NULL ? wanted->count : steading_step_column_count + 2, change = 0;
  steading_table *table = NULL;
  for (size_t c = 0; c < count; c++) {
    columns[c] = wanted != NULL ? step_column(wanted->items[c]) : (int)c;
    names[c] = step_column_name(columns[c]);
    is_text[c] = columns[c] == COLUMN_TIME || columns[c] == (int)steading_step_column_count + 1;
  }
  table = steading_lua_push_frame(L, count, names, is_text, run->site->name, run->site->currency);
  for (size_t row = 0; row < run->step_count; row++) {
    size_t step = run->first_kept + row;
    steading_step_view view = {.run = run, .row = run->steps + row * run->layout.width};
    char time[48];
    while (change + 1 < run->change_count && run->changes[change + 1].step <= step) change++;
    view.change = &run->changes[change];
    view.first = view.change->step == step;
    if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
    for (size_t c = 0; c < count; c++) {
      steading_status status = STEADING_OK;
      if (columns[c] == COLUMN_TIME) {
        steading_lua_time(run, step, time, sizeof time);
        status = steading_table_set_text(table, row, c, time);
      } else if (is_text[c]) {
        if (run->reasons[row] != STEADING_REASON_none)
          status = steading_table_set_text(table, row, c, steading_reason_names[run->reasons[row]]);
      } else {
        table->columns[c].numbers[row] = steading_step_columns[columns[c] - 1].value(&view);
      }
      if (status != STEADING_OK) steading_lua_fail(L, "not enough memory");
    }
  }
}

/* Scalars over the period, or per year. */
static void push_scalars(lua_State *L, const steading_run *run, bool per_year) {
  const steading_view site = {.of = STEADING_OF_SITE};
  double years = per_year ? run->years : 1;
  const steading_bills *bills = bills_of(L, run);
  steading_span *period = lua_newuserdatauv(L, sizeof *period, 0);
  steading_span_of(run, 0, run->month_count, period);
  lua_createtable(L, 0, 48);
  for (size_t c = 0; c < steading_result_column_count; c++) {
    const steading_result_column *column = &steading_result_columns[c];
    if (!(column->of & STEADING_OF_SITE)) continue;
    steading_lua_push_answer(
        L, column->value(period, &site) / (column->combine == STEADING_SUM ? years : 1));
    lua_setfield(L, -2, column->name);
  }
  if (bills != NULL) {
    lua_pushnumber(L, steading_bills_sum(bills, STEADING_ALL_METERS, 0, run->month_count) / years);
    lua_setfield(L, -2, "bill");
  }
  steading_lua_strict(L, per_year ? "per_year" : "totals");
  lua_remove(L, -2); /* what it was made with */
  lua_remove(L, -2);
}

static void push_warning(lua_State *L, steading_table *table, const char *code, const char *path,
                         const char *text) {
  size_t row = table->rows;
  if (steading_table_add_row(table) != STEADING_OK ||
      steading_table_set_text(table, row, 0, code) != STEADING_OK ||
      steading_table_set_text(table, row, 1, path) != STEADING_OK ||
      steading_table_set_text(table, row, 2, text) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
}

static void push_warnings(lua_State *L, const steading_run *run) {
  static const char *const names[] = {"code", "path", "text"};
  static const bool is_text[] = {true, true, true};
  steading_warning *warnings =
      lua_newuserdatauv(L, 2 * STEADING_MOST_WARNINGS * sizeof *warnings, 0);
  size_t count = steading_site_warnings(run->site, warnings);
  steading_table *table =
      steading_lua_push_frame(L, 3, names, is_text, run->site->name, run->site->currency);
  count += steading_plant_warnings(run->site, warnings + count, STEADING_MOST_WARNINGS - count);
  count += steading_run_notices(run, warnings + count, 2 * STEADING_MOST_WARNINGS - count);
  for (size_t i = 0; i < count; i++)
    push_warning(L, table, warnings[i].code, warnings[i].path, warnings[i].text);
}

/* --- the object --------------------------------------------------------------------------------
 */

static bool push_result(lua_State *L, const steading_run *run, const char *name) {
  if (strcmp(name, "annual") == 0) {
    push_energy(L, run, STEADING_OF_SITE, false);
  } else if (strcmp(name, "monthly") == 0) {
    if (run->keep < STEADING_KEEP_MONTHLY)
      steading_lua_fail(L, "run.monthly: not kept; simulate with keep = \"monthly\"");
    push_energy(L, run, STEADING_OF_SITE, true);
  } else if (strcmp(name, "steps") == 0) {
    if (run->step_count == 0)
      steading_lua_fail(L, "run.steps: not kept; simulate with keep = \"steps\"");
    push_steps(L, run);
  } else if (strcmp(name, "hubs") == 0) {
    push_parts(L, run, STEADING_OF_HUB, "hubs");
  } else if (strcmp(name, "meters") == 0) {
    push_parts(L, run, STEADING_OF_METER, "meters");
  } else if (strcmp(name, "totals") == 0) {
    push_scalars(L, run, false);
  } else if (strcmp(name, "per_year") == 0) {
    push_scalars(L, run, true);
  } else if (strcmp(name, "bills") == 0) {
    steading_lua_push_bills(L, run);
  } else if (strcmp(name, "credits") == 0) {
    steading_lua_push_credits(L, run);
  } else if (strcmp(name, "buildings") == 0) {
    steading_lua_push_buildings(L, run);
  } else if (strcmp(name, "fuel") == 0) {
    steading_lua_push_fuel(L, run);
  } else if (strcmp(name, "batteries") == 0) {
    steading_lua_push_batteries(L, run);
  } else if (strcmp(name, "classes") == 0) {
    steading_lua_push_classes(L, run);
  } else if (strcmp(name, "losses") == 0) {
    steading_lua_push_losses(L, run);
  } else if (strcmp(name, "performance") == 0) {
    steading_lua_push_performance(L, run);
  } else if (strcmp(name, "assumptions") == 0) {
    steading_lua_push_assumptions(L, run->site);
  } else if (strcmp(name, "warnings") == 0) {
    push_warnings(L, run);
  } else if (strcmp(name, "years") == 0) {
    lua_pushinteger(L, run->years);
  } else {
    return false;
  }
  return true;
}

static int not_yet(lua_State *L) {
  return steading_lua_fail(L, "run.%s is not yet carried out by this version",
                           lua_tostring(L, lua_upvalueindex(1)));
}

static int run_index(lua_State *L) {
  static const char *const names[] = {
      "annual",   "monthly", "steps",     "hubs",      "meters",      "totals",  "per_year",
      "warnings", "bills",   "credits",   "years",     "appraise",    "reasons", "events",
      "worst",    "profile", "duration",  "buildings", "assumptions", "losses",  "performance",
      "fuel",     "classes", "batteries", NULL};
  static const char *const later[] = {"feeders", NULL};
  static const char *const later_methods[] = {"settle", NULL};
  const steading_run *run = check_run(L, 1);
  const char *name = luaL_checkstring(L, 2);
  if (strcmp(name, "appraise") == 0) {
    lua_pushcfunction(L, steading_lua_appraise);
    return 1;
  }
  if (steading_lua_push_asked(L, name)) return 1;
  for (int i = 0; later[i] != NULL; i++)
    if (strcmp(later[i], name) == 0)
      return steading_lua_fail(L, "run.%s is not yet carried out by this version", name);
  for (int i = 0; later_methods[i] != NULL; i++)
    if (strcmp(later_methods[i], name) == 0) {
      lua_pushstring(L, name);
      lua_pushcclosure(L, not_yet, 1);
      return 1;
    }
  lua_getiuservalue(L, 1, 1); /* run name kept */
  if (lua_getfield(L, -1, name) != LUA_TNIL) return 1;
  lua_pop(L, 1);
  if (!push_result(L, run, name)) return steading_lua_unknown(L, "run", name, names);
  steading_lua_frame_of_run(L, 1);
  lua_pushvalue(L, -1);
  lua_setfield(L, 3, name);
  return 1;
}

void steading_open_run(lua_State *L) {
  static const luaL_Reg events[] = {{"__gc", run_gc}, {"__index", run_index}, {NULL, NULL}};
  luaL_newmetatable(L, type_name);
  luaL_setfuncs(L, events, 0);
  lua_pushliteral(L, "protected");
  lua_setfield(L, -2, "__metatable");
  lua_pop(L, 1);
}
