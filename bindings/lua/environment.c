/* The environment of scripts; its policy is library/prelude.lua. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "files/files.h"
#include "library.h"
#include "lualib.h"
#include "nearest.h"
#include "random.h"
#include "script.h"

/* math.random as the stream of the script, or of the case that runs. */
static uint64_t next_bits(steading_script *script) {
  return steading_random_bits(script->random_seed, script->random_case, STEADING_DRAW_SCRIPT,
                              script->random_index++);
}

/* A whole number in 0..span, each equally likely (rejection). */
static lua_Unsigned below(steading_script *script, lua_Unsigned span) {
  lua_Unsigned mask = span, bits = 0;
  for (int shift = 1; shift < 64; shift *= 2) mask |= mask >> shift;
  do bits = next_bits(script) & mask;
  while (bits > span);
  return bits;
}

static int host_random(lua_State *L) {
  steading_script *script = steading_script_of(L);
  lua_Integer low = 1, high = 0;
  int count = lua_gettop(L);
  if (count > 2) return steading_lua_fail(L, "math.random: at most two arguments");
  if (count == 0) {
    lua_pushnumber(L, ((double)(next_bits(script) >> 11) + 0.5) * 0x1p-53);
    return 1;
  }
  low = count == 1 ? 1 : luaL_checkinteger(L, 1);
  high = luaL_checkinteger(L, count == 1 ? 1 : 2);
  if (count == 1 && high == 0) {
    lua_pushinteger(L, (lua_Integer)next_bits(script));
    return 1;
  }
  luaL_argcheck(L, low <= high, count == 1 ? 1 : 2, "interval is empty");
  lua_pushinteger(
      L, (lua_Integer)((lua_Unsigned)low + below(script, (lua_Unsigned)high - (lua_Unsigned)low)));
  return 1;
}

static int host_randomseed(lua_State *L) {
  steading_script *script = steading_script_of(L);
  if (script->in_case)
    return steading_lua_fail(
        L, "math.randomseed: a case has its own stream, which follows from the case");
  script->random_seed = (uint64_t)luaL_checkinteger(L, 1);
  script->random_index = 0;
  return 0;
}

static void no_clock_in_case(lua_State *L) {
  if (lua_gettop(L) > 0)
    steading_lua_fail(
        L, "os.time, os.clock and os.date take no arguments here: they tell the present");
  if (steading_script_of(L)->in_case)
    steading_lua_fail(L, "a case of a study depends on its 'c' alone: there is no clock in it");
}

static int host_time(lua_State *L) {
  no_clock_in_case(L);
  lua_pushinteger(L, (lua_Integer)time(NULL));
  return 1;
}

static int host_clock(lua_State *L) {
  no_clock_in_case(L);
  lua_pushnumber(L, (lua_Number)clock() / CLOCKS_PER_SEC);
  return 1;
}

static int host_date(lua_State *L) {
  time_t now = time(NULL);
  struct tm parts;
  char text[32];
  no_clock_in_case(L);
  gmtime_r(&now, &parts);
  strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &parts);
  lua_pushstring(L, text);
  return 1;
}

static int host_write(lua_State *L) {
  size_t length = 0;
  const char *text = luaL_checklstring(L, 1, &length);
  steading_script *script = steading_script_of(L);
  if (script->mode == STEADING_MODE_HELP) return 0;
  if (fwrite(text, 1, length, stdout) != length || ferror(stdout))
    if (script->output_errno == 0) script->output_errno = errno;
  return 0;
}

int steading_host_strict(lua_State *L) {
  const char *what = luaL_checkstring(L, 2);
  lua_pushvalue(L, 1);
  steading_lua_strict(L, what);
  return 1;
}

static int host_set_pairs(lua_State *L) {
  lua_settop(L, 1);
  lua_setfield(L, LUA_REGISTRYINDEX, "steading.pairs");
  return 0;
}

/* What a read-only table holds; any other value itself. */
static int host_content(lua_State *L) {
  lua_settop(L, 1);
  steading_lua_content(L);
  return 1;
}

/* Replaces what the methods of texts are. */
static int host_set_methods(lua_State *L) {
  luaL_checktype(L, 1, LUA_TTABLE);
  lua_pushliteral(L, "");
  lua_getmetatable(L, -1);
  lua_pushvalue(L, 1);
  lua_setfield(L, -2, "__index");
  return 0;
}

static int host_pairs_of(lua_State *L) {
  if (luaL_getmetafield(L, 1, "__pairs") == LUA_TNIL) lua_pushnil(L);
  return 1;
}

int steading_host_nearest(lua_State *L) {
  const char *word = luaL_checkstring(L, 1), *names[128];
  size_t count = 0;
  int best = -1;
  for (; count < 128 && lua_rawgeti(L, 2, (lua_Integer)count + 1) == LUA_TSTRING; count++)
    names[count] = lua_tostring(L, -1);
  best = steading_nearest_name(word, names, count);
  if (best < 0) return 0;
  lua_pushstring(L, names[best]);
  return 1;
}

static int free_bytes(lua_State *L) {
  char **bytes = lua_touserdata(L, 1);
  free(*bytes);
  *bytes = NULL;
  return 0;
}

/* Load a module that lies beside the script; its bytes count as part of the script. */
static int host_load_module(lua_State *L) {
  steading_script *script = steading_script_of(L);
  const char *name = luaL_checkstring(L, 1);
  const char *path = lua_pushfstring(L, "%s/%s.lua", script->folder, name);
  steading_error error = {.status = STEADING_OK};
  size_t length = 0;
  char both[129];
  char **bytes = lua_newuserdatauv(L, sizeof *bytes, 0);
  *bytes = NULL;
  steading_lua_set_gc(L, "steading.bytes", free_bytes);
  if (steading_file_read(path, bytes, &length, &error) != STEADING_OK) {
    lua_pushnil(L);
    lua_pushfstring(L, "require: %s: %s", error.path, error.text);
    return 2;
  }
  memcpy(both, script->sha256, 64);
  steading_sha256(*bytes, length, both + 64);
  steading_sha256(both, 128, script->sha256);
  if (luaL_loadbufferx(L, *bytes, length, lua_pushfstring(L, "@%s", path), "t") != LUA_OK) {
    lua_pushnil(L);
    lua_insert(L, -2);
    return 2;
  }
  lua_getfield(L, LUA_REGISTRYINDEX, "steading.globals");
  lua_setupvalue(L, -2, 1);
  return 1;
}

static const luaL_Reg host[] = {{"random", host_random},
                                {"randomseed", host_randomseed},
                                {"time", host_time},
                                {"clock", host_clock},
                                {"date", host_date},
                                {"write", host_write},
                                {"strict", steading_host_strict},
                                {"set_pairs", host_set_pairs},
                                {"pairs_of", host_pairs_of},
                                {"content", host_content},
                                {"set_methods", host_set_methods},
                                {"nearest", steading_host_nearest},
                                {"load_module", host_load_module},
                                {NULL, NULL}};

static void load_library(lua_State *L, const unsigned char *bytes, size_t size, const char *name) {
  if (luaL_loadbufferx(L, (const char *)bytes, size, name, "t") != LUA_OK) lua_error(L);
}

int steading_host_fail(lua_State *L) { return steading_lua_fail(L, "%s", luaL_checkstring(L, 1)); }

void steading_lua_push_check(lua_State *L) {
  static const luaL_Reg of_check[] = {{"fail", steading_host_fail},
                                      {"content", host_content},
                                      {"nearest", steading_host_nearest},
                                      {NULL, NULL}};
  if (lua_getfield(L, LUA_REGISTRYINDEX, "steading.check") != LUA_TNIL) return;
  lua_pop(L, 1);
  load_library(L, steading_library_check, sizeof steading_library_check, "=check");
  luaL_newlib(L, of_check);
  steading_lua_push_none(L);
  lua_call(L, 2, 1);
  lua_pushvalue(L, -1);
  lua_setfield(L, LUA_REGISTRYINDEX, "steading.check");
}

void steading_open_environment(lua_State *L) {
  static const luaL_Reg libraries[] = {{LUA_GNAME, luaopen_base},
                                       {LUA_TABLIBNAME, luaopen_table},
                                       {LUA_STRLIBNAME, luaopen_string},
                                       {LUA_MATHLIBNAME, luaopen_math},
                                       {LUA_UTF8LIBNAME, luaopen_utf8},
                                       {LUA_COLIBNAME, luaopen_coroutine},
                                       {NULL, NULL}};
  for (const luaL_Reg *library = libraries; library->name != NULL; library++) {
    luaL_requiref(L, library->name, library->func, 1);
    lua_pop(L, 1);
  }
  load_library(L, steading_library_prelude, sizeof steading_library_prelude, "=prelude");
  luaL_newlib(L, host);
  lua_call(L, 1, 2); /* globals provide */
  lua_pushvalue(L, -2);
  lua_setfield(L, LUA_REGISTRYINDEX, "steading.globals"); /* globals provide */
  lua_pushcfunction(L, steading_open_module);
  lua_call(L, 0, 1); /* globals provide module */
  lua_call(L, 1, 0); /* globals */
}
