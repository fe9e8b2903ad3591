/* From Lua's tables to the tree that spec tables read, and from errors to Lua's. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"
#include "script.h"

enum { DEEPEST = 32 };

static const char arena_type[] = "steading.arena";
static const char record_type[] = "steading.record";
static const char none_key = 0;

static int arena_gc(lua_State *L) {
  steading_arena_drop(lua_touserdata(L, 1));
  return 0;
}

static int record_gc(lua_State *L) {
  void **record = lua_touserdata(L, 1);
  steading_record_release(*record);
  *record = NULL;
  return 0;
}

static void set_type(lua_State *L, const char *type, lua_CFunction gc) {
  if (luaL_newmetatable(L, type)) { /* object metatable */
    lua_pushcfunction(L, gc);
    lua_setfield(L, -2, "__gc");
  }
  lua_setmetatable(L, -2); /* object */
}

void steading_lua_push_none(lua_State *L) {
  lua_rawgetp(L, LUA_REGISTRYINDEX, &none_key);
  if (!lua_isnil(L, -1)) return;
  lua_pop(L, 1);
  lua_newuserdatauv(L, 0, 0); /* none */
  lua_createtable(L, 0, 3);   /* none metatable */
  lua_pushliteral(L, "none");
  lua_setfield(L, -2, "__name");
  lua_pushliteral(L, "protected");
  lua_setfield(L, -2, "__metatable");
  lua_setmetatable(L, -2);
  lua_pushvalue(L, -1);
  lua_rawsetp(L, LUA_REGISTRYINDEX, &none_key);
}

bool steading_lua_is_none(lua_State *L, int index) {
  bool is_none = false;
  index = lua_absindex(L, index);
  steading_lua_push_none(L);
  is_none = lua_rawequal(L, index, -1);
  lua_pop(L, 1);
  return is_none;
}

void steading_lua_push_answer(lua_State *L, double number) {
  if (isnan(number))
    steading_lua_push_none(L);
  else
    lua_pushnumber(L, number);
}

int steading_lua_raise(lua_State *L, const steading_error *error) {
  if (error->status == STEADING_FAULT) steading_script_of(L)->fault = 1;
  luaL_where(L, 1);
  if (error->path[0] != '\0')
    lua_pushfstring(L, "%s: %s", error->path, error->text);
  else
    lua_pushstring(L, error->text);
  lua_concat(L, 2);
  return lua_error(L);
}

static int by_key(const void *a, const void *b) {
  return strcmp(((const steading_entry *)a)->key, ((const steading_entry *)b)->key);
}

static void no_memory(lua_State *L) { luaL_error(L, "not enough memory"); }

static void convert(lua_State *L, int index, steading_arena *arena, const char *path, int depth,
                    steading_value *value);

static void convert_table(lua_State *L, int index, steading_arena *arena, const char *path,
                          int depth, steading_value *value) {
  size_t items = (size_t)lua_rawlen(L, index), entries = 0, keys = 0;
  luaL_checkstack(L, 8, "tables are nested too deeply");
  if (depth > DEEPEST) luaL_error(L, "%s: tables are nested too deeply", path);
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1)) { /* key value */
    if (lua_type(L, -2) == LUA_TSTRING) {
      entries++;
    } else if (!lua_isinteger(L, -2) || lua_tointeger(L, -2) < 1 ||
               lua_tointeger(L, -2) > (lua_Integer)items) {
      lua_pushvalue(L, -2);
      luaL_error(L, "%s: found the key %s; expected named fields, or a list without gaps", path,
                 luaL_tolstring(L, -1, NULL));
    }
    keys++;
  }
  if (keys - entries != items) luaL_error(L, "%s: a list with gaps", path);
  value->kind = STEADING_VALUE_TABLE;
  value->item_count = items;
  value->items = steading_arena_take(arena, items * sizeof *value->items);
  value->entries = steading_arena_take(arena, entries * sizeof *value->entries);
  if (value->items == NULL || value->entries == NULL) no_memory(L);
  for (size_t i = 0; i < items; i++) {
    lua_rawgeti(L, index, (lua_Integer)i + 1);
    convert(L, lua_gettop(L), arena, path, depth + 1, &value->items[i]);
    lua_pop(L, 1);
  }
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1)) {
    steading_entry *entry = NULL;
    size_t length = 0;
    const char *key = NULL;
    if (lua_type(L, -2) != LUA_TSTRING) continue;
    key = lua_tolstring(L, -2, &length);
    if (strlen(key) != length) luaL_error(L, "%s: a field name with a zero byte", path);
    entry = &value->entries[value->entry_count++];
    entry->key = steading_arena_text(arena, key, length);
    if (entry->key == NULL) no_memory(L);
    convert(L, lua_gettop(L), arena, entry->key, depth + 1, &entry->value);
  }
  if (value->entry_count > 1)
    qsort(value->entries, value->entry_count, sizeof *value->entries, by_key);
}

static void convert(lua_State *L, int index, steading_arena *arena, const char *path, int depth,
                    steading_value *value) {
  size_t length = 0;
  const char *text = NULL;
  *value = (steading_value){.kind = STEADING_VALUE_OTHER};
  switch (lua_type(L, index)) {
    case LUA_TBOOLEAN:
      value->kind = STEADING_VALUE_BOOLEAN;
      value->boolean = lua_toboolean(L, index);
      return;
    case LUA_TNUMBER:
      value->kind = STEADING_VALUE_NUMBER;
      value->number = lua_tonumber(L, index);
      return;
    case LUA_TSTRING:
      text = lua_tolstring(L, index, &length);
      if (strlen(text) != length) luaL_error(L, "%s: a text with a zero byte", path);
      value->kind = STEADING_VALUE_TEXT;
      value->text = steading_arena_text(arena, text, length);
      if (value->text == NULL) no_memory(L);
      return;
    case LUA_TTABLE:
      convert_table(L, index, arena, path, depth, value);
      return;
    case LUA_TUSERDATA:
      if (steading_lua_is_none(L, index)) {
        value->kind = STEADING_VALUE_NONE;
        return;
      }
      value->handle = steading_lua_weather(L, index);
      if (value->handle != NULL) {
        value->kind = STEADING_VALUE_WEATHER;
        return;
      }
      break;
    default:
      break;
  }
  value->text = lua_typename(L, lua_type(L, index));
  if (lua_type(L, index) == LUA_TFUNCTION) value->text = "a function";
  if (lua_type(L, index) == LUA_TUSERDATA) value->text = "another object";
}

const steading_value *steading_lua_value(lua_State *L, int index, const char *path) {
  steading_arena *arena = NULL;
  steading_value *value = NULL;
  index = lua_absindex(L, index);
  arena = lua_newuserdatauv(L, sizeof *arena, 0); /* arena */
  arena->blocks = NULL;
  set_type(L, arena_type, arena_gc);
  value = steading_arena_take(arena, sizeof *value);
  if (value == NULL) no_memory(L);
  convert(L, index, arena, path, 0, value);
  return value;
}

const void *steading_lua_read(lua_State *L, int index, const steading_spec *spec,
                              const char *path) {
  static const steading_value empty = {.kind = STEADING_VALUE_TABLE};
  const steading_value *value = &empty;
  steading_error error = {.status = STEADING_OK};
  int has_tree = !lua_isnoneornil(L, index);
  void **record = NULL;
  index = lua_absindex(L, index);
  record = lua_newuserdatauv(L, sizeof *record, 0); /* record */
  *record = NULL;
  set_type(L, record_type, record_gc);
  if (has_tree) value = steading_lua_value(L, index, path); /* record tree */
  if (steading_spec_read(spec, value, path, record, &error) != STEADING_OK)
    steading_lua_raise(L, &error);
  if (has_tree) lua_pop(L, 1);
  return *record;
}

int steading_lua_unknown(lua_State *L, const char *what, const char *name,
                         const char *const *names) {
  size_t count = 0;
  int nearest = -1;
  while (names[count] != NULL) count++;
  nearest = steading_nearest_name(name, names, count);
  if (nearest >= 0)
    return luaL_error(L, "%s.%s: unknown field (did you mean '%s'?)", what, name, names[nearest]);
  return luaL_error(L, "%s.%s: unknown field", what, name);
}

/* The strict form of a table: upvalues are the table and what it is called. */
static int strict_index(lua_State *L) {
  const char *names[256];
  size_t count = 0;
  lua_pushvalue(L, 2);
  if (lua_rawget(L, lua_upvalueindex(1)) != LUA_TNIL) return 1;
  lua_settop(L, 2);
  for (lua_pushnil(L); lua_next(L, lua_upvalueindex(1)) != 0; lua_pop(L, 1))
    if (lua_type(L, -2) == LUA_TSTRING && count < 255) names[count++] = lua_tostring(L, -2);
  names[count] = NULL;
  if (lua_type(L, 2) != LUA_TSTRING)
    return luaL_error(L, "%s: there is no field %s", lua_tostring(L, lua_upvalueindex(2)),
                      luaL_tolstring(L, 2, NULL));
  return steading_lua_unknown(L, lua_tostring(L, lua_upvalueindex(2)), lua_tostring(L, 2), names);
}

static int strict_assign(lua_State *L) {
  return luaL_error(L, "%s.%s: cannot be changed: it is read-only",
                    lua_tostring(L, lua_upvalueindex(2)), luaL_tolstring(L, 2, NULL));
}

static int strict_length(lua_State *L) {
  lua_pushinteger(L, (lua_Integer)lua_rawlen(L, lua_upvalueindex(1)));
  return 1;
}

/* __pairs hands the hidden table to the environment's ordered pairs. */
static int strict_pairs(lua_State *L) {
  lua_getfield(L, LUA_REGISTRYINDEX, "steading.pairs");
  lua_pushvalue(L, lua_upvalueindex(1));
  lua_call(L, 1, 3);
  return 3;
}

void steading_lua_strict(lua_State *L, const char *what) {
  static const luaL_Reg events[] = {{"__index", strict_index},   {"__newindex", strict_assign},
                                    {"__len", strict_length},    {"__pairs", strict_pairs},
                                    {NULL, NULL}};
  lua_newtable(L);                          /* hidden proxy */
  lua_createtable(L, 0, 6);                 /* hidden proxy metatable */
  for (const luaL_Reg *event = events; event->name != NULL; event++) {
    lua_pushvalue(L, -3);                   /* hidden proxy metatable hidden */
    lua_pushstring(L, what);
    lua_pushcclosure(L, event->func, 2);
    lua_setfield(L, -2, event->name);
  }
  lua_pushliteral(L, "read-only");
  lua_setfield(L, -2, "__metatable");
  lua_pushstring(L, what);
  lua_setfield(L, -2, "__name");
  lua_setmetatable(L, -2);                  /* hidden proxy */
  lua_remove(L, -2);                        /* proxy */
}
