/* From Lua's tables to the tree that spec tables read, and from errors to Lua's. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"
#include "resource/weather.h"
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

void steading_lua_no_more(lua_State *L, int most, const char *function) {
  if (lua_gettop(L) > most)
    steading_lua_fail(L, "%s: found %d arguments, expected at most %d (with the object itself)",
                      function, lua_gettop(L), most);
}

void steading_lua_set_gc(lua_State *L, const char *type, lua_CFunction gc) {
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

/* "file:line: " of the innermost line of the script that is being run: the library's own Lua files
 * (whose chunks are named "=...") and C functions are passed over. */
static void push_where(lua_State *L) {
  lua_Debug ar;
  for (int level = 0; lua_getstack(L, level, &ar); level++) {
    lua_getinfo(L, "Sl", &ar);
    if (ar.currentline <= 0 || ar.source[0] != '@') continue;
    lua_pushfstring(L, "%s:%d: ", ar.source + 1, ar.currentline);
    return;
  }
  lua_pushliteral(L, "");
}

int steading_lua_fail(lua_State *L, const char *format, ...) {
  va_list list;
  push_where(L);
  va_start(list, format);
  lua_pushvfstring(L, format, list);
  va_end(list);
  lua_concat(L, 2);
  lua_error(L);
  abort(); /* Lua does not come back, which its header does not tell the compiler */
}

int steading_lua_raise(lua_State *L, const steading_error *error) {
  if (error->status == STEADING_FAULT) steading_script_of(L)->fault = 1;
  push_where(L);
  if (error->path[0] != '\0')
    lua_pushfstring(L, "%s: %s", error->path, error->text);
  else
    lua_pushstring(L, error->text);
  lua_concat(L, 2);
  lua_error(L);
  abort();
}

static int by_key(const void *a, const void *b) {
  return strcmp(((const steading_entry *)a)->key, ((const steading_entry *)b)->key);
}

static void no_memory(lua_State *L) { steading_lua_fail(L, "not enough memory"); }

/* Pushes the table of what read-only proxies hold, by proxy; it keeps none of them alive. */
static void get_contents(lua_State *L) {
  if (luaL_getsubtable(L, LUA_REGISTRYINDEX, "steading.contents")) return;
  lua_createtable(L, 0, 1);
  lua_pushliteral(L, "k");
  lua_setfield(L, -2, "__mode");
  lua_setmetatable(L, -2);
}

void steading_lua_content(lua_State *L) {
  get_contents(L);      /* value contents */
  lua_pushvalue(L, -2); /* value contents value */
  if (lua_rawget(L, -2) == LUA_TNIL)
    lua_pop(L, 2);
  else
    lua_replace(L, -3), lua_pop(L, 1);
}

/* --- weathers that keep their identity -----------------------------------------------------------
 */

/* Pushes the table of the weather objects by the weather they hold; it keeps none of them alive. */
static void get_weathers(lua_State *L) {
  if (luaL_getsubtable(L, LUA_REGISTRYINDEX, "steading.weathers")) return;
  lua_createtable(L, 0, 1);
  lua_pushliteral(L, "v");
  lua_setfield(L, -2, "__mode");
  lua_setmetatable(L, -2);
}

/* Remember the weather object at `index`, so that a copy of the site that holds it holds the same.
 */
static void remember_weather(lua_State *L, int index, const struct steading_weather *weather) {
  index = lua_absindex(L, index);
  get_weathers(L);         /* weathers */
  lua_pushvalue(L, index); /* weathers object */
  lua_rawsetp(L, -2, weather);
  lua_pop(L, 1);
}

static void push_weather(lua_State *L, steading_weather *weather) {
  steading_weather **made = NULL;
  get_weathers(L); /* weathers */
  if (lua_rawgetp(L, -1, weather) == LUA_TUSERDATA) {
    lua_remove(L, -2); /* object */
    return;
  }
  lua_pop(L, 1);
  made = lua_newuserdatauv(L, sizeof *made, 0); /* weathers object */
  *made = NULL;
  luaL_setmetatable(L, "steading.weather");
  *made = steading_weather_keep(weather);
  lua_pushvalue(L, -1);
  lua_rawsetp(L, -3, weather);
  lua_remove(L, -2); /* object */
}

/* --- trees ---------------------------------------------------------------------------------------
 */

/* A conversion under way; the path grows and shrinks with the depth. */
typedef struct converter {
  steading_arena *arena;
  int holder; /* stack index of the userdata that holds it */
  int depth;
  char path[256];
} converter;

static void convert(lua_State *L, int index, converter *c, steading_value *value);

static size_t push_path(converter *c, const char *format, const char *key, size_t number) {
  size_t length = strlen(c->path);
  if (key != NULL)
    snprintf(c->path + length, sizeof c->path - length, format, key);
  else
    snprintf(c->path + length, sizeof c->path - length, "[%zu]", number);
  return length;
}

/* Raises for a key that is neither a name nor 1..n: of several, the first as text, so that the same
 * mistake is told in every run (Lua's own order is random). */
static void refuse_key(lua_State *L, int index, const converter *c, size_t items) {
  lua_pushnil(L);                                                /* first */
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1)) { /* first key value */
    if (lua_type(L, -2) == LUA_TSTRING || (lua_isinteger(L, -2) && lua_tointeger(L, -2) >= 1 &&
                                           lua_tointeger(L, -2) <= (lua_Integer)items))
      continue;
    if (lua_isnumber(L, -2) || lua_isboolean(L, -2)) {
      lua_pushvalue(L, -2);
      luaL_tolstring(L, -1, NULL);
      lua_remove(L, -2);
    } else {
      lua_pushfstring(L, "of type %s", luaL_typename(L, -2));
    }
    if (lua_isnil(L, -4) || strcmp(lua_tostring(L, -1), lua_tostring(L, -4)) < 0)
      lua_replace(L, -4);
    else
      lua_pop(L, 1);
  }
  if (lua_isnil(L, -1)) steading_lua_fail(L, "%s: a list with gaps", c->path);
  steading_lua_fail(L, "%s: found the key %s; expected named fields, or a list without gaps",
                    c->path, lua_tostring(L, -1));
}

/* The names of a table, sorted, as entries without values. */
static void collect_names(lua_State *L, int index, converter *c, steading_value *value) {
  size_t items = (size_t)lua_rawlen(L, index), names = 0, keys = 0;
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1), keys++)
    names += lua_type(L, -2) == LUA_TSTRING;
  if (keys - names != items) refuse_key(L, index, c, items);
  for (size_t i = 1; i <= items; i++) { /* n other keys, but not 1..n */
    bool gap = lua_rawgeti(L, index, (lua_Integer)i) == LUA_TNIL;
    lua_pop(L, 1);
    if (gap) refuse_key(L, index, c, items);
  }
  value->kind = STEADING_VALUE_TABLE;
  value->item_count = items;
  value->items = steading_arena_take(c->arena, items * sizeof *value->items);
  value->entries = steading_arena_take(c->arena, names * sizeof *value->entries);
  if (value->items == NULL || value->entries == NULL) no_memory(L);
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1)) {
    size_t length = 0;
    const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tolstring(L, -2, &length) : NULL;
    if (key == NULL) continue;
    if (strlen(key) != length) steading_lua_fail(L, "%s: a field name with a zero byte", c->path);
    key = steading_arena_text(c->arena, key, length);
    if (key == NULL) no_memory(L);
    value->entries[value->entry_count++].key = key;
  }
  if (value->entry_count > 1)
    qsort(value->entries, value->entry_count, sizeof *value->entries, by_key);
}

static void convert_table(lua_State *L, int index, converter *c, steading_value *value) {
  luaL_checkstack(L, 8, "tables are nested too deeply");
  if (++c->depth > DEEPEST) steading_lua_fail(L, "%s: tables are nested too deeply", c->path);
  collect_names(L, index, c, value);
  for (size_t i = 0; i < value->item_count; i++) {
    size_t mark = push_path(c, NULL, NULL, i + 1);
    lua_rawgeti(L, index, (lua_Integer)i + 1);
    convert(L, lua_gettop(L), c, &value->items[i]);
    lua_pop(L, 1);
    c->path[mark] = '\0';
  }
  for (size_t i = 0; i < value->entry_count; i++) {
    steading_entry *entry = &value->entries[i];
    size_t mark = push_path(c, ".%s", entry->key, 0);
    lua_pushstring(L, entry->key);
    lua_rawget(L, index);
    convert(L, lua_gettop(L), c, &entry->value);
    lua_pop(L, 1);
    c->path[mark] = '\0';
  }
  c->depth--;
}

/* The value at `index`, which is the top of the stack. */
static void convert(lua_State *L, int index, converter *c, steading_value *value) {
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
      if (strlen(text) != length) steading_lua_fail(L, "%s: a text with a zero byte", c->path);
      value->kind = STEADING_VALUE_TEXT;
      value->text = steading_arena_text(c->arena, text, length);
      if (value->text == NULL) no_memory(L);
      return;
    case LUA_TTABLE:
      steading_lua_content(L);
      convert_table(L, index, c, value);
      return;
    case LUA_TUSERDATA:
      if (steading_lua_is_none(L, index)) {
        value->kind = STEADING_VALUE_NONE;
        return;
      }
      value->handle = steading_lua_weather(L, index);
      if (value->handle != NULL) {
        remember_weather(L, index, value->handle);
        value->kind = STEADING_VALUE_WEATHER;
        return;
      }
      break;
    case LUA_TFUNCTION:
      value->handle = steading_lua_hold_function(L, index, c->holder);
      value->kind = STEADING_VALUE_FUNCTION;
      return;
    default:
      break;
  }
  value->text = lua_typename(L, lua_type(L, index));
  if (lua_type(L, index) == LUA_TUSERDATA) value->text = "another object";
}

steading_arena *steading_lua_push_arena(lua_State *L) {
  steading_arena *arena = lua_newuserdatauv(L, sizeof *arena, 1); /* 1: functions in its trees */
  arena->blocks = NULL;
  steading_lua_set_gc(L, arena_type, arena_gc);
  return arena;
}

const steading_value *steading_lua_value(lua_State *L, int index, const char *path) {
  steading_arena *arena = NULL;
  steading_value *value = NULL;
  converter c = {.depth = 0};
  index = lua_absindex(L, index);
  arena = steading_lua_push_arena(L); /* arena */
  value = steading_arena_take(arena, sizeof *value);
  if (value == NULL) no_memory(L);
  snprintf(c.path, sizeof c.path, "%s", path);
  c.arena = arena;
  c.holder = lua_gettop(L);
  lua_pushvalue(L, index); /* arena value */
  convert(L, lua_gettop(L), &c, value);
  lua_pop(L, 1); /* arena */
  return value;
}

/* Whole numbers come as Lua's integers, so that they print as they were written; not those so large
 * that a product of two would wrap. */
static void push_number(lua_State *L, double number) {
  if (number == floor(number) && fabs(number) <= 1e9 && !(number == 0 && signbit(number)))
    lua_pushinteger(L, (lua_Integer)number);
  else
    lua_pushnumber(L, number);
}

void steading_lua_push_tree(lua_State *L, const steading_value *value) {
  luaL_checkstack(L, 8, "tables are nested too deeply");
  switch (value->kind) {
    case STEADING_VALUE_BOOLEAN:
      lua_pushboolean(L, value->boolean);
      return;
    case STEADING_VALUE_NUMBER:
      push_number(L, value->number);
      return;
    case STEADING_VALUE_TEXT:
      lua_pushstring(L, value->text);
      return;
    case STEADING_VALUE_WEATHER:
      push_weather(L, value->handle);
      return;
    case STEADING_VALUE_FUNCTION:
      steading_lua_push_function(L, value->handle);
      return;
    case STEADING_VALUE_TABLE:
      lua_createtable(L, (int)value->item_count, (int)value->entry_count); /* table */
      for (size_t i = 0; i < value->item_count; i++) {
        steading_lua_push_tree(L, &value->items[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
      }
      for (size_t i = 0; i < value->entry_count; i++) {
        lua_pushstring(L, value->entries[i].key);
        steading_lua_push_tree(L, &value->entries[i].value); /* table key value */
        lua_rawset(L, -3);
      }
      return;
    case STEADING_VALUE_NONE:
    case STEADING_VALUE_OTHER:
      lua_pushnil(L);
      return;
  }
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
  steading_lua_set_gc(L, record_type, record_gc);
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
    steading_lua_fail(L, "%s.%s: unknown field (did you mean '%s'?)", what, name, names[nearest]);
  steading_lua_fail(L, "%s.%s: unknown field", what, name);
}

/* The strict form of a table: upvalues are the table, what it is called, and the set of names that
 * a later version has (or nil). */
static int strict_index(lua_State *L) {
  const char *names[256];
  size_t count = 0;
  lua_pushvalue(L, 2);
  if (lua_rawget(L, lua_upvalueindex(1)) != LUA_TNIL) return 1;
  lua_settop(L, 2);
  for (lua_pushnil(L); lua_next(L, lua_upvalueindex(1)) != 0; lua_pop(L, 1))
    if (lua_type(L, -2) == LUA_TSTRING && count < 255) names[count++] = lua_tostring(L, -2);
  names[count] = NULL;
  if (lua_isinteger(L, 2)) return 0; /* behind the end of a list: ipairs asks */
  if (lua_istable(L, lua_upvalueindex(3))) {
    lua_pushvalue(L, 2);
    if (lua_rawget(L, lua_upvalueindex(3)) != LUA_TNIL)
      return steading_lua_fail(L, "%s.%s is not yet carried out by this version",
                               lua_tostring(L, lua_upvalueindex(2)), lua_tostring(L, 2));
  }
  if (lua_type(L, 2) != LUA_TSTRING)
    return steading_lua_fail(L, "%s: a field cannot be named by a %s",
                             lua_tostring(L, lua_upvalueindex(2)), luaL_typename(L, 2));
  return steading_lua_unknown(L, lua_tostring(L, lua_upvalueindex(2)), lua_tostring(L, 2), names);
}

static int strict_assign(lua_State *L) {
  return steading_lua_fail(L, "%s.%s: cannot be changed: it is read-only",
                           lua_tostring(L, lua_upvalueindex(2)),
                           lua_isstring(L, 2) ? luaL_tolstring(L, 2, NULL) : luaL_typename(L, 2));
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

void steading_lua_strict_later(lua_State *L, const char *what, const char *const *later) {
  static const luaL_Reg events[] = {{"__index", strict_index},
                                    {"__newindex", strict_assign},
                                    {"__len", strict_length},
                                    {"__pairs", strict_pairs},
                                    {NULL, NULL}};
  lua_newtable(L);          /* hidden proxy */
  lua_createtable(L, 0, 7); /* hidden proxy metatable */
  for (const luaL_Reg *event = events; event->name != NULL; event++) {
    lua_pushvalue(L, -3); /* hidden proxy metatable hidden */
    lua_pushstring(L, what);
    if (later == NULL) {
      lua_pushnil(L);
    } else {
      lua_newtable(L);
      for (size_t i = 0; later[i] != NULL; i++) {
        lua_pushboolean(L, 1);
        lua_setfield(L, -2, later[i]);
      }
    }
    lua_pushcclosure(L, event->func, 3);
    lua_setfield(L, -2, event->name);
  }
  lua_pushliteral(L, "read-only");
  lua_setfield(L, -2, "__metatable");
  lua_pushstring(L, what);
  lua_setfield(L, -2, "__name");
  lua_setmetatable(L, -2); /* hidden proxy */
  get_contents(L);         /* hidden proxy contents */
  lua_pushvalue(L, -2);    /* hidden proxy contents proxy */
  lua_pushvalue(L, -4);    /* hidden proxy contents proxy hidden */
  lua_rawset(L, -3);
  lua_pop(L, 1);     /* hidden proxy */
  lua_remove(L, -2); /* proxy */
}

void steading_lua_strict(lua_State *L, const char *what) {
  steading_lua_strict_later(L, what, NULL);
}
