/* site:ride_through: the frame of what holds, and its percentiles. */
#include "dispatch/ride.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "dispatch/run.h"
#include "resource/weather.h"
#include "script.h"

static const char type_name[] = "steading.ride";

static int ride_gc(lua_State *L) {
  steading_ride_free(lua_touserdata(L, 1));
  return 0;
}

/* What stands straight on a meter goes without in any outage: said, since it is not counted. */
static void say_left_out(lua_State *L, const steading_site *site) {
  steading_script *script = steading_script_of(L);
  const char *first = NULL;
  size_t count = 0;
  char others[48] = "";
  for (size_t i = 0; site->buildings != NULL && i < site->buildings->count; i++) {
    const steading_building *building = (const void *)site->buildings->entries[i].item;
    if (building->meter == NULL) continue;
    if (count++ == 0) first = site->buildings->entries[i].name;
  }
  if (count == 0) return;
  script->warning_count++;
  if (script->in_case || script->mode == STEADING_MODE_HELP) return;
  if (count > 1) snprintf(others, sizeof others, " (and %zu others)", count - 1);
  fprintf(
      stderr,
      "steading: warning: ride_through: the building '%s'%s straight on a meter goes without in "
      "every outage: only loads behind hubs are counted\n",
      first, others);
}

/* --- percentiles -------------------------------------------------------------------------------
 */

enum { MOST_SHARES = 64 };
enum { BY_MONTH = 1, BY_HOUR = 2 };

static int part_of(lua_State *L, int index) {
  const char *word = lua_type(L, index) == LUA_TSTRING ? lua_tostring(L, index) : "";
  if (strcmp(word, "month") == 0) return BY_MONTH;
  if (strcmp(word, "start_hour") == 0) return BY_HOUR;
  return steading_lua_fail(L,
                           "percentiles.by: found %s, expected \"month\", \"start_hour\" or both",
                           luaL_tolstring(L, index, NULL));
}

/* The `by` of the table at 2, as bits. */
static int read_by(lua_State *L) {
  int by = 0;
  if (lua_getfield(L, 2, "by") == LUA_TTABLE) {
    for (lua_Integer i = 1; i <= luaL_len(L, -1); i++) {
      lua_geti(L, -1, i);
      by |= part_of(L, -1);
      lua_pop(L, 1);
    }
  } else if (!lua_isnil(L, -1)) {
    by = part_of(L, -1);
  }
  lua_pop(L, 1);
  return by;
}

static void check_keys(lua_State *L) {
  for (lua_pushnil(L); lua_next(L, 2) != 0; lua_pop(L, 1)) {
    bool known = lua_isinteger(L, -2);
    if (lua_type(L, -2) == LUA_TSTRING) known = strcmp(lua_tostring(L, -2), "by") == 0;
    if (!known)
      steading_lua_fail(L, "percentiles.%s: unknown field; expected shares such as 0.05, and by",
                        luaL_tolstring(L, -2, NULL));
  }
}

static size_t read_shares(lua_State *L, double *p) {
  lua_Integer count = luaL_len(L, 2);
  if (count < 1 || count > MOST_SHARES)
    steading_lua_fail(L, "percentiles: found %d shares, expected 1 to %d", (int)count,
                      (int)MOST_SHARES);
  for (lua_Integer i = 0; i < count; i++) {
    lua_geti(L, 2, i + 1);
    p[i] = lua_type(L, -1) == LUA_TNUMBER ? lua_tonumber(L, -1) : -1;
    if (!(p[i] >= 0 && p[i] <= 1))
      steading_lua_fail(L, "percentiles[%d]: found %s, expected a share, 0 to 1", (int)i + 1,
                        luaL_tolstring(L, -1, NULL));
    lua_pop(L, 1);
  }
  return (size_t)count;
}

/* frame:percentiles { 0.05, 0.5, by = "month" } */
static int ride_percentiles(lua_State *L) {
  const steading_ride *ride = lua_touserdata(L, lua_upvalueindex(1));
  const char *names[4];
  static const bool is_text[4] = {false};
  double p[MOST_SHARES], *values = NULL;
  size_t count = 0, columns = 0, by_columns = 0;
  int by = 0;
  steading_table *table = NULL;
  steading_error error = {.status = STEADING_OK};
  if (lua_type(L, 1) != LUA_TUSERDATA || lua_type(L, 2) != LUA_TTABLE)
    return steading_lua_fail(
        L, "percentiles: expected shares; write frame:percentiles { 0.05, 0.5, 0.95 }");
  steading_lua_no_more(L, 2, "percentiles");
  lua_settop(L, 2);
  steading_lua_content(L);
  check_keys(L);
  by = read_by(L);
  count = read_shares(L, p);
  values = lua_newuserdatauv(L, STEADING_RIDE_GROUPS * count * sizeof *values, 0);
  if (steading_ride_percentiles(ride, by & BY_MONTH, by & BY_HOUR, p, count, values, &error) !=
      STEADING_OK)
    return steading_lua_raise(L, &error);
  if (by & BY_MONTH) names[columns++] = "month";
  if (by & BY_HOUR) names[columns++] = "start_hour";
  by_columns = columns;
  names[columns++] = "p";
  names[columns++] = "hours";
  table = steading_lua_push_frame(L, columns, names, is_text, lua_tostring(L, lua_upvalueindex(2)),
                                  lua_tostring(L, lua_upvalueindex(3)));
  for (size_t g = 0; g < (by & BY_MONTH ? 12u : 1u) * (by & BY_HOUR ? 24u : 1u); g++) {
    size_t hour = by & BY_HOUR ? g % 24 : 0, month = by & BY_HOUR ? g / 24 : g;
    if (by & BY_HOUR && !ride->hours_asked[hour]) continue;
    for (size_t i = 0; i < count; i++) {
      size_t row = table->rows, at = 0;
      if (steading_table_add_row(table) != STEADING_OK)
        return steading_lua_fail(L, "not enough memory");
      if (by & BY_MONTH) table->columns[at++].numbers[row] = (double)month + 1;
      if (by & BY_HOUR) table->columns[at++].numbers[row] = (double)hour;
      table->columns[by_columns].numbers[row] = p[i];
      table->columns[by_columns + 1].numbers[row] = values[g * count + i];
    }
  }
  return 1;
}

/* --- the frame ---------------------------------------------------------------------------------
 */

static void push_held(lua_State *L, const steading_site *site, const steading_ride *ride) {
  static const char *const names[] = {"month",  "start_hour", "last_hours",
                                      "starts", "held",       "held_share"};
  static const bool is_text[6] = {false};
  size_t *starts =
      lua_newuserdatauv(L, STEADING_RIDE_GROUPS * (1 + ride->last_count) * sizeof *starts, 0);
  size_t *held = starts + STEADING_RIDE_GROUPS;
  steading_table *table = steading_lua_push_frame(L, 6, names, is_text, site->name, site->currency);
  steading_ride_count(ride, starts, held);
  for (size_t g = 0; g < STEADING_RIDE_GROUPS; g++) {
    if (!ride->hours_asked[g % 24]) continue;
    for (size_t i = 0; i < ride->last_count; i++) {
      size_t row = table->rows, kept = held[g * ride->last_count + i], month = g / 24 + 1;
      if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
      table->columns[0].numbers[row] = (double)month;
      table->columns[1].numbers[row] = (double)(g % 24);
      table->columns[2].numbers[row] = ride->last_hours[i];
      table->columns[3].numbers[row] = (double)starts[g];
      table->columns[4].numbers[row] = (double)kept;
      table->columns[5].numbers[row] =
          starts[g] > 0 ? (double)kept / (double)starts[g] : (double)NAN;
    }
  }
  lua_remove(L, -2);
}

int steading_lua_ride_through(lua_State *L) {
  const steading_site *site = steading_lua_site(L, 1);
  const steading_ask_ride *ask = NULL;
  const steading_zone *zone = NULL;
  steading_ride *ride = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  if (site == NULL)
    return steading_lua_fail(L, "ride_through: expected a site; write site:ride_through { ... }");
  steading_lua_no_more(L, 2, "site:ride_through");
  lua_settop(L, 2);
  if (!lua_isnil(L, 2)) luaL_checktype(L, 2, LUA_TTABLE);
  ask = steading_lua_read(L, 2, &steading_ask_ride_spec, "ride_through"); /* site given record */
  zone = steading_lua_zone(L, site->weather->time_zone);
  ride = lua_newuserdatauv(L, sizeof *ride, 0); /* site given record ride */
  memset(ride, 0, sizeof *ride);
  steading_lua_set_gc(L, type_name, ride_gc);
  steading_engine_enter(L);
  status = steading_ride_through(site, ask, zone, ride, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  if (ask->keep_serving == STEADING_KEEP_SERVING_ALL) say_left_out(L, site);
  lua_gc(L, LUA_GCSTEP, (int)(ride->start_count * sizeof *ride->starts / 1024));
  push_held(L, site, ride); /* site given record ride frame */
  lua_pushvalue(L, 4);
  lua_pushstring(L, site->name == NULL ? "" : site->name);
  lua_pushstring(L, site->currency == NULL ? "" : site->currency);
  lua_pushcclosure(L, ride_percentiles, 3);
  steading_lua_frame_method(L, "percentiles");
  return 1;
}
