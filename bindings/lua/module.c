/* The module `steading` as scripts see it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"
#include "script.h"

/* The value of --set as the type of the default. */
static void push_setting(lua_State *L, const char *name, const char *text, int type) {
  if (type == LUA_TNUMBER) {
    char *end = NULL;
    double value = strtod(text, &end);
    if (end == text || *end != '\0' || !(value - value == 0))
      steading_lua_fail(L, "--set %s=%s: expected a number", name, text);
    lua_Integer whole = 0;
    if (strpbrk(text, ".eE") == NULL && lua_numbertointeger(value, &whole))
      lua_pushinteger(L, whole);
    else
      lua_pushnumber(L, value);
  } else if (type == LUA_TBOOLEAN) {
    if (strcmp(text, "true") != 0 && strcmp(text, "false") != 0)
      steading_lua_fail(L, "--set %s=%s: expected true or false", name, text);
    lua_pushboolean(L, text[0] == 't');
  } else {
    lua_pushstring(L, text);
  }
}

/* steading.args { name = default, ... }: what --set may change. */
static int module_args(lua_State *L) {
  steading_script *script = steading_script_of(L);
  const char *names[128];
  size_t count = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  lua_settop(L, 1);
  if (script->args_declared) return steading_lua_fail(L, "args: declared twice");
  script->args_declared = true;
  lua_newtable(L); /* defaults result */
  lua_getfield(L, LUA_REGISTRYINDEX, "steading.pairs");
  lua_pushvalue(L, 1);
  lua_call(L, 1, 3); /* defaults result iterator state key */
  for (;;) {
    const char *name = NULL;
    int type = 0;
    lua_pushvalue(L, 3);
    lua_pushvalue(L, 4);
    lua_pushvalue(L, 5);
    lua_call(L, 2, 2); /* ... key next value */
    if (lua_isnil(L, -2)) break;
    if (lua_type(L, -2) != LUA_TSTRING || count >= 127)
      return steading_lua_fail(L, "args: expected named defaults");
    name = lua_tostring(L, -2);
    type = lua_type(L, -1);
    if (type != LUA_TNUMBER && type != LUA_TSTRING && type != LUA_TBOOLEAN)
      return steading_lua_fail(
          L, "args.%s: expected a number, a text, true or false as the default", name);
    names[count++] = name;
    if (script->mode == STEADING_MODE_HELP)
      printf("  %-20s %s\n", name, luaL_tolstring(L, -1, NULL)), lua_pop(L, 1);
    for (size_t i = 0; i < script->setting_count; i++) {
      if (strcmp(script->settings[i].name, name) != 0) continue;
      script->settings[i].used = true;
      lua_pop(L, 1);
      push_setting(L, name, script->settings[i].value, type);
    }
    lua_setfield(L, 2, name); /* ... key next */
    lua_replace(L, 5);
  }
  lua_settop(L, 2);
  if (script->mode == STEADING_MODE_HELP) return steading_lua_fail(L, "shown");
  for (size_t i = 0; i < script->setting_count; i++) {
    if (script->settings[i].used) continue;
    names[count] = NULL;
    int nearest = steading_nearest_name(script->settings[i].name, names, count);
    if (nearest >= 0)
      return steading_lua_fail(L, "--set %s: there is no such argument (did you mean '%s'?)",
                               script->settings[i].name, names[nearest]);
    return steading_lua_fail(L, "--set %s: there is no such argument", script->settings[i].name);
  }
  steading_lua_strict(L, "args");
  return 1;
}

int steading_open_module(lua_State *L) {
  static const char *const later[] = {"solve", "cheapest", "fit", "wire", "distribution", NULL};
  lua_newtable(L);
  steading_lua_push_none(L);
  lua_setfield(L, -2, "none");
  lua_pushnumber(L, __builtin_huge_val());
  lua_setfield(L, -2, "never");
  lua_pushstring(L, STEADING_VERSION);
  lua_setfield(L, -2, "version");
  lua_pushcfunction(L, module_args);
  lua_setfield(L, -2, "args");
  steading_open_weather(L);
  steading_open_site(L);
  steading_open_run(L);
  steading_open_frame(L);
  steading_open_money(L);
  steading_open_bills(L);
  steading_open_primitives(L);
  steading_open_battery(L);
  steading_open_fuel(L);
  steading_open_study(L);
  steading_lua_strict_later(L, "steading", later);
  return 1;
}
