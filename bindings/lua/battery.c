/* What a script can ask of a battery alone: steading.battery.new and steading.rainflow. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plant/cold.h"
#include "plant/rainflow.h"
#include "plant/store.h"
#include "script.h"
#include "site/fields.h"

static void set_number(lua_State *L, const char *name, double value) {
  lua_pushnumber(L, value);
  lua_setfield(L, -2, name);
}

/* --- battery.new ---------------------------------------------------------------------------------
 */

/* battery:step(kw, minutes); the store is its upvalue. */
static int store_step(lua_State *L) {
  steading_store *store = lua_touserdata(L, lua_upvalueindex(1));
  steading_stored stored;
  double kw = 0, minutes = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  kw = luaL_checknumber(L, 2);
  luaL_argcheck(L, kw >= -1e9 && kw <= 1e9, 2, "expected kW, charging above 0, -1e9..1e9");
  minutes = luaL_checknumber(L, 3);
  luaL_argcheck(L, minutes >= 1e-3 && minutes <= 525600, 3, "expected minutes, 0.001..525600");
  steading_lua_no_more(L, 3, "step");
  stored = steading_store_step(store, kw, minutes / 60);
  lua_createtable(L, 0, 3);
  set_number(L, "accepted_kw", stored.accepted_kw);
  set_number(L, "loss_kw", stored.loss_kw);
  set_number(L, "state_of_charge", stored.state_of_charge);
  steading_lua_strict(L, "step");
  return 1;
}

/* round_trip_efficiency, or one for each way. */
static void set_efficiencies(const void *record, double both, double in, double out,
                             steading_pool *pool) {
  bool one = steading_record_given(record, "round_trip_efficiency");
  pool->efficiency_in = one ? sqrt(both) : in;
  pool->efficiency_out = one ? sqrt(both) : out;
}

static double start_of(const void *record, double share, const double usable[2]) {
  return steading_record_or_else(record, "state_of_charge", share, (usable[0] + usable[1]) / 2);
}

static double share_at(const steading_series *points, double temp_c) {
  return points == NULL ? 1 : steading_cold_share(points->values, points->count / 2, temp_c);
}

static steading_store energy_of(const steading_ask_energy *ask) {
  steading_store store = {
      .cells.pool = steading_pool_sized(ask->kwh, ask->charge_kw, ask->discharge_kw, ask->standby_w,
                                        ask->usable, 1),
      .shares = {.charge = share_at(ask->charge_share_at_c, ask->temp_c),
                 .usable = share_at(ask->usable_share_at_c, ask->temp_c)}};
  steading_cells *cells = &store.cells;
  if (ask->resistance != NULL) {
    cells->has_resistance = true;
    cells->resistance =
        (steading_resistance){.volts = ask->resistance->volts, .ohm = ask->resistance->ohm};
  } else {
    set_efficiencies(ask, ask->round_trip_efficiency, ask->charge_efficiency,
                     ask->discharge_efficiency, &cells->pool);
  }
  if (ask->taper != NULL) {
    cells->has_taper = true;
    cells->taper = (steading_taper){.above = ask->taper->above, .at_full = ask->taper->at_full};
  }
  store.charge = steading_cells_rested(cells, start_of(ask, ask->state_of_charge, ask->usable));
  return store;
}

static steading_two_tank tanks_of(lua_State *L, const steading_ask_two_tank *ask) {
  steading_two_tank battery = {
      .most_kwh = ask->kwh, .available_share = ask->available_share, .per_h = ask->per_h};
  steading_error error = {.status = STEADING_OK};
  if (ask->rates == NULL) return battery;
  if (steading_tanks_of_rates(ask->rates, ask->kwh, "battery.new.rates", &battery, &error) !=
      STEADING_OK)
    steading_lua_raise(L, &error);
  return battery;
}

static steading_store two_tank_of(lua_State *L, const steading_ask_two_tank *ask) {
  steading_store store = {.cells = {.has_tanks = true, .tanks = tanks_of(L, ask)},
                          .shares = {.charge = 1, .usable = 1}};
  steading_cells *cells = &store.cells;
  cells->pool = steading_pool_sized(cells->tanks.most_kwh, ask->charge_kw, ask->discharge_kw, 0,
                                    ask->usable, 1);
  set_efficiencies(ask, ask->round_trip_efficiency, ask->charge_efficiency,
                   ask->discharge_efficiency, &cells->pool);
  if (ask->gassing != NULL)
    cells->gassing =
        (steading_gassing){.above = ask->gassing->above, .at_full = ask->gassing->at_full};
  store.charge = steading_cells_rested(cells, start_of(ask, ask->state_of_charge, ask->usable));
  return store;
}

/* The kind that a table says; raises where it says none. */
static bool asks_for_tanks(lua_State *L) {
  const char *kind = NULL;
  bool tanks = false;
  lua_pushvalue(L, 1);
  steading_lua_content(L);
  lua_pushliteral(L, "kind");
  lua_rawget(L, -2);
  if (lua_isnil(L, -1))
    steading_lua_fail(L, "battery.new.kind: required: \"energy\" or \"two_tank\"");
  if (lua_type(L, -1) != LUA_TSTRING)
    steading_lua_fail(L, "battery.new.kind: found %s, expected \"energy\" or \"two_tank\"",
                      luaL_typename(L, -1));
  kind = lua_tostring(L, -1);
  tanks = strcmp(kind, "two_tank") == 0;
  if (!tanks && strcmp(kind, "energy") != 0)
    steading_lua_fail(L, "battery.new.kind: found \"%s\", expected \"energy\" or \"two_tank\"",
                      kind);
  lua_pop(L, 2);
  return tanks;
}

static int battery_new(lua_State *L) {
  steading_store store, *kept = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, "battery.new");
  store = asks_for_tanks(L)
              ? two_tank_of(L, steading_lua_read(L, 1, &steading_ask_two_tank_spec, "battery.new"))
              : energy_of(steading_lua_read(L, 1, &steading_ask_energy_spec, "battery.new"));
  lua_createtable(L, 0, 4);
  set_number(L, "kwh", store.cells.pool.capacity_kwh);
  if (store.cells.has_tanks) {
    set_number(L, "available_share", store.cells.tanks.available_share);
    set_number(L, "per_h", store.cells.tanks.per_h);
  }
  kept = lua_newuserdatauv(L, sizeof *kept, 0);
  *kept = store;
  lua_pushcclosure(L, store_step, 1);
  lua_setfield(L, -2, "step");
  steading_lua_strict(L, "battery");
  return 1;
}

/* --- rainflow ------------------------------------------------------------------------------------
 */

typedef struct found {
  lua_State *L; /* the list is on top of its stack */
  lua_Integer count;
} found;

static void push_cycle(void *context, const steading_cycle *cycle) {
  found *to = context;
  lua_createtable(to->L, 0, 3);
  set_number(to->L, "range", cycle->range);
  set_number(to->L, "mean", cycle->mean);
  set_number(to->L, "count", cycle->count);
  steading_lua_strict(to->L, "cycle");
  lua_rawseti(to->L, -2, ++to->count);
}

static int rainflow(lua_State *L) {
  found to = {.L = L};
  const steading_cycle_taker taker = {.take = push_cycle, .context = &to};
  steading_rainflow flow;
  double *values = NULL, *points = NULL;
  size_t count = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, "rainflow");
  steading_lua_content(L);
  count = (size_t)lua_rawlen(L, 1);
  values = lua_newuserdatauv(L, (count + 1) * sizeof *values, 0);
  points = lua_newuserdatauv(L, (count + 3) * sizeof *points, 0);
  for (size_t i = 0; i < count; i++) {
    if (lua_rawgeti(L, 1, (lua_Integer)i + 1) != LUA_TNUMBER)
      return steading_lua_fail(L, "rainflow[%d]: found %s, expected a number", (int)i + 1,
                               luaL_typename(L, -1));
    values[i] = lua_tonumber(L, -1);
    if (!isfinite(values[i]))
      return steading_lua_fail(L, "rainflow[%d]: expected a finite number", (int)i + 1);
    lua_pop(L, 1);
  }
  lua_newtable(L);
  flow = steading_rainflow_of(points, count + 3);
  for (size_t i = 0; i < count; i++) steading_rainflow_add(&flow, values[i], &taker);
  steading_rainflow_finish(&flow, &taker);
  return 1;
}

void steading_open_battery(lua_State *L) {
  static const luaL_Reg battery[] = {{"new", battery_new}, {NULL, NULL}};
  lua_newtable(L);
  luaL_setfuncs(L, battery, 0);
  steading_lua_strict(L, "steading.battery");
  lua_setfield(L, -2, "battery");
  lua_pushcfunction(L, rainflow);
  lua_setfield(L, -2, "rainflow");
}
