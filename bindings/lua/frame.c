/* Frames: tables of columns, as results hand them out. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "files/files.h"
#include "nearest.h"
#include "script.h"

static const char type_name[] = "steading.frame";
static const char row_type[] = "steading.row";

typedef struct frame {
  steading_table *table;
} frame; /* user values: the site's name and currency, for the file beside a written frame */

static frame *check_frame(lua_State *L) { return luaL_checkudata(L, 1, type_name); }

static int frame_gc(lua_State *L) {
  frame *f = check_frame(L);
  steading_table_free(f->table);
  f->table = NULL;
  return 0;
}

steading_table *steading_lua_push_frame(lua_State *L, size_t count, const char *const *names,
                                        const bool *is_text, const char *site_name,
                                        const char *currency) {
  frame *f = lua_newuserdatauv(L, sizeof *f, 2);
  f->table = NULL;
  luaL_setmetatable(L, type_name);
  lua_pushstring(L, site_name == NULL ? "" : site_name);
  lua_setiuservalue(L, -2, 1);
  lua_pushstring(L, currency == NULL ? "" : currency);
  lua_setiuservalue(L, -2, 2);
  f->table = steading_table_new(count, names, is_text);
  if (f->table == NULL) steading_lua_fail(L, "not enough memory");
  return f->table;
}

static void push_cell(lua_State *L, const steading_column *column, size_t row) {
  if (!column->is_text && column->numbers[row] == floor(column->numbers[row]) &&
      fabs(column->numbers[row]) < 0x1p53) /* years, months and counts as whole numbers */
    lua_pushinteger(L, (lua_Integer)column->numbers[row]);
  else if (!column->is_text)
    steading_lua_push_answer(L, column->numbers[row]);
  else if (column->texts[row] == NULL)
    steading_lua_push_none(L);
  else
    lua_pushstring(L, column->texts[row]);
}

/* Rows are tables of their own: a change in one does not reach the frame. */
static int row_index(lua_State *L) {
  const char *names[256];
  size_t count = 0;
  for (lua_pushnil(L); lua_next(L, 1) != 0; lua_pop(L, 1))
    if (lua_type(L, -2) == LUA_TSTRING && count < 255) names[count++] = lua_tostring(L, -2);
  names[count] = NULL;
  return steading_lua_unknown(L, "row", luaL_tolstring(L, 2, NULL), names);
}

static void push_row(lua_State *L, const frame *f, size_t row) {
  lua_createtable(L, 0, (int)f->table->column_count);
  for (size_t c = 0; c < f->table->column_count; c++) {
    push_cell(L, &f->table->columns[c], row);
    lua_setfield(L, -2, f->table->columns[c].name);
  }
  luaL_setmetatable(L, row_type);
}

static const steading_column *find_column(lua_State *L, const frame *f, int index) {
  const char *name = luaL_checkstring(L, index), *names[256];
  size_t count = 0;
  for (size_t c = 0; c < f->table->column_count; c++) {
    if (strcmp(f->table->columns[c].name, name) == 0) return &f->table->columns[c];
    if (count < 255) names[count++] = f->table->columns[c].name;
  }
  names[count] = NULL;
  steading_lua_unknown(L, "frame", name, names);
  return NULL;
}

static int next_row(lua_State *L) {
  const frame *f = lua_touserdata(L, lua_upvalueindex(1));
  lua_Integer row = lua_tointeger(L, lua_upvalueindex(2));
  if ((size_t)row >= f->table->rows) return 0;
  lua_pushinteger(L, row + 1);
  lua_replace(L, lua_upvalueindex(2));
  push_row(L, f, (size_t)row);
  return 1;
}

static int frame_rows(lua_State *L) {
  check_frame(L);
  lua_pushvalue(L, 1);
  lua_pushinteger(L, 0);
  lua_pushcclosure(L, next_row, 2);
  return 1;
}

static int frame_column(lua_State *L) {
  const frame *f = check_frame(L);
  const steading_column *column = find_column(L, f, 2);
  lua_createtable(L, (int)f->table->rows, 0);
  for (size_t i = 0; i < f->table->rows; i++) {
    push_cell(L, column, i);
    lua_rawseti(L, -2, (lua_Integer)i + 1);
  }
  return 1;
}

static int frame_sum(lua_State *L) {
  const frame *f = check_frame(L);
  const steading_column *column = find_column(L, f, 2);
  double sum = 0;
  if (column->is_text) return steading_lua_fail(L, "frame:sum: '%s' holds text", column->name);
  for (size_t i = 0; i < f->table->rows; i++)
    if (!isnan(column->numbers[i])) sum += column->numbers[i];
  lua_pushnumber(L, sum);
  return 1;
}

/* Bytes of the UTF-8 character at `text` (RFC 3629), or 0 when it is none. */
static size_t utf8_length(const char *text) {
  const unsigned char *t = (const unsigned char *)text;
  size_t length = t[0] < 0x80   ? 1
                  : t[0] < 0xC2 ? 0
                  : t[0] < 0xE0 ? 2
                  : t[0] < 0xF0 ? 3
                  : t[0] < 0xF5 ? 4
                                : 0;
  for (size_t i = 1; i < length; i++)
    if ((t[i] & 0xC0) != 0x80) return 0;
  if ((t[0] == 0xE0 && t[1] < 0xA0) || (t[0] == 0xED && t[1] > 0x9F) ||
      (t[0] == 0xF0 && t[1] < 0x90) || (t[0] == 0xF4 && t[1] > 0x8F))
    return 0;
  return length;
}

/* A text as a JSON string; a byte that is no UTF-8 is taken for Latin-1. */
static void put_json(steading_writer *writer, const char *text) {
  steading_writer_put(writer, "\"", 1);
  while (*text != '\0') {
    unsigned char c = (unsigned char)*text;
    size_t length = utf8_length(text);
    if (c == '"' || c == '\\')
      steading_writer_print(writer, "\\%c", c);
    else if (c < 0x20 || c == 0x7F || length == 0)
      steading_writer_print(writer, "\\u%04x", c);
    else
      steading_writer_put(writer, text, length);
    text += length == 0 ? 1 : length;
  }
  steading_writer_put(writer, "\"", 1);
}

static void put_meta(steading_writer *w, const steading_script *script, const frame *f,
                     const char *file, const char *site, const char *currency) {
  steading_writer_print(w, "{\n  \"file\": ");
  put_json(w, file);
  steading_writer_print(w, ",\n  \"rows\": %zu,\n  \"columns\": [", f->table->rows);
  for (size_t c = 0; c < f->table->column_count; c++) {
    if (c > 0) steading_writer_print(w, ", ");
    put_json(w, f->table->columns[c].name);
  }
  steading_writer_print(w, "],\n  \"site\": ");
  put_json(w, site);
  steading_writer_print(w, ",\n  \"currency\": ");
  put_json(w, currency);
  steading_writer_print(w, ",\n  \"script\": ");
  put_json(w, script->path);
  steading_writer_print(w,
                        ",\n  \"script_sha256\": \"%s\",\n  \"version\": \"%s\",\n"
                        "  \"random_seed\": %llu,\n  \"arguments\": {",
                        script->sha256, STEADING_VERSION, (unsigned long long)script->random_seed);
  for (size_t i = 0; i < script->setting_count; i++) {
    if (i > 0) steading_writer_print(w, ", ");
    put_json(w, script->settings[i].name);
    steading_writer_print(w, ": ");
    put_json(w, script->settings[i].value);
  }
  steading_writer_print(w, "},\n  \"inputs\": [");
  for (size_t i = 0; i < script->input_count; i++) {
    steading_writer_print(w, "%s\n    { \"path\": ", i > 0 ? "," : "");
    put_json(w, script->inputs[i].path);
    steading_writer_print(w, ", \"sha256\": \"%s\" }", script->inputs[i].sha256);
  }
  steading_writer_print(w, "%s],\n  \"wall_s\": %.3f\n}\n", script->input_count > 0 ? "\n  " : "",
                        steading_monotonic_s() - script->started_s);
}

static int frame_write(lua_State *L) {
  const frame *f = check_frame(L);
  size_t path_length = 0;
  const char *path = luaL_checklstring(L, 2, &path_length);
  steading_script *script = steading_script_of(L);
  steading_error error = {.status = STEADING_OK};
  steading_writer *writer = NULL;
  steading_status status = STEADING_OK;
  char full[2048], meta[2100];
  size_t length = 0;
  const char *site = NULL, *currency = NULL;
  bool fits = steading_script_output_path(script, path, full, sizeof full);
  steading_lua_no_more(L, 2, "frame:write");
  lua_getiuservalue(L, 1, 1); /* stay on the stack while they are used */
  lua_getiuservalue(L, 1, 2);
  site = lua_tostring(L, -2);
  currency = lua_tostring(L, -1);
  length = strlen(full);
  if (!fits || path_length == 0 || strlen(path) != path_length || path[path_length - 1] == '/')
    return steading_lua_fail(L, "frame:write: \"%s\" is not the path of a file", path);
  if (script->mode != STEADING_MODE_RUN) return 0;
  snprintf(meta, sizeof meta, "%s", full);
  if (length > 4 && strcmp(full + length - 4, ".csv") == 0) meta[length - 4] = '\0';
  strcat(meta, ".meta.json");
  steading_engine_enter();
  status = steading_writer_open(full, &writer, &error);
  if (status == STEADING_OK) {
    steading_table_write_csv(f->table, writer);
    status = steading_writer_commit(writer, &error);
  }
  if (status == STEADING_OK) status = steading_writer_open(meta, &writer, &error);
  if (status == STEADING_OK) {
    put_meta(writer, script, f, path, site, currency);
    status = steading_writer_commit(writer, &error);
  }
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  return 0;
}

static int not_yet(lua_State *L) {
  return steading_lua_fail(L, "frame:%s is not yet carried out by this version",
                           lua_tostring(L, lua_upvalueindex(1)));
}

static int frame_index(lua_State *L) {
  static const char *const names[] = {"columns", "rows",  "column", "sum", "write",    "where",
                                      "add",     "group", "sort",   "top", "quantile", NULL};
  static const lua_CFunction methods[] = {NULL, frame_rows, frame_column, frame_sum, frame_write};
  const frame *f = check_frame(L);
  if (lua_isinteger(L, 2)) {
    lua_Integer row = lua_tointeger(L, 2);
    if (row < 1 || (size_t)row > f->table->rows)
      return steading_lua_fail(L, "frame[%I]: the frame has %I rows", (LUAI_UACINT)row,
                               (LUAI_UACINT)f->table->rows);
    push_row(L, f, (size_t)row - 1);
    return 1;
  }
  const char *name = luaL_checkstring(L, 2);
  for (int i = 0; names[i] != NULL; i++) {
    if (strcmp(names[i], name) != 0) continue;
    if (i == 0) {
      lua_createtable(L, (int)f->table->column_count, 0);
      for (size_t c = 0; c < f->table->column_count; c++) {
        lua_pushstring(L, f->table->columns[c].name);
        lua_rawseti(L, -2, (lua_Integer)c + 1);
      }
    } else if (i <= 4) {
      lua_pushcfunction(L, methods[i]);
    } else {
      lua_pushstring(L, name);
      lua_pushcclosure(L, not_yet, 1);
    }
    return 1;
  }
  return steading_lua_unknown(L, "frame", name, names);
}

static int frame_length(lua_State *L) {
  lua_pushinteger(L, (lua_Integer)check_frame(L)->table->rows);
  return 1;
}

/* A cell of a new frame from a Lua value; text in a number column raises and the other way round.
 */
static void set_cell(lua_State *L, steading_table *table, size_t row, size_t c, int index) {
  steading_column *column = &table->columns[c];
  if (lua_isnil(L, index) || steading_lua_is_none(L, index)) return;
  if (lua_type(L, index) == LUA_TNUMBER && !column->is_text) {
    column->numbers[row] = lua_tonumber(L, index);
    if (isnan(column->numbers[row]))
      steading_lua_fail(L, "frame: row %I: '%s' is nan", (LUAI_UACINT)row + 1, column->name);
  } else if (lua_type(L, index) == LUA_TSTRING && column->is_text) {
    if (steading_table_set_text(table, row, c, lua_tostring(L, index)) != STEADING_OK)
      steading_lua_fail(L, "not enough memory");
  } else if (lua_type(L, index) == LUA_TBOOLEAN && column->is_text) {
    if (steading_table_set_text(table, row, c, lua_toboolean(L, index) ? "true" : "false") !=
        STEADING_OK)
      steading_lua_fail(L, "not enough memory");
  } else {
    steading_lua_fail(L, "frame: row %I: '%s' is %s, the first row has %s there",
                      (LUAI_UACINT)row + 1, column->name, luaL_typename(L, index),
                      column->is_text ? "text" : "a number");
  }
}

/* A row is a table whose keys are all columns. */
static void check_row(lua_State *L, size_t row, size_t columns, const char *const *names) {
  if (lua_rawgeti(L, 3, (lua_Integer)row + 1) != LUA_TTABLE)
    steading_lua_fail(L, "frame.rows[%I]: expected a table", (LUAI_UACINT)row + 1);
  for (lua_pushnil(L); lua_next(L, -2) != 0; lua_pop(L, 1)) {
    bool known = false;
    for (size_t c = 0; lua_type(L, -2) == LUA_TSTRING && c < columns; c++)
      known = known || strcmp(lua_tostring(L, -2), names[c]) == 0;
    if (!known)
      steading_lua_fail(L, "frame.rows[%I]: a key that is not in columns", (LUAI_UACINT)row + 1);
  }
  lua_pop(L, 1);
}

/* Whether a table is a list and nothing else. */
static bool is_list(lua_State *L, int index) {
  lua_Integer keys = 0;
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1)) keys++;
  return keys == (lua_Integer)lua_rawlen(L, index);
}

/* steading.frame { columns = { "a", "b" }, rows = { { a = 1, b = "x" }, ... } } */
static int frame_new(lua_State *L) {
  const char *names[256];
  bool is_text[256] = {false};
  size_t columns = 0, rows = 0;
  steading_table *table = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  lua_settop(L, 1);
  for (lua_pushnil(L); lua_next(L, 1) != 0; lua_pop(L, 1)) {
    const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tostring(L, -2) : "?";
    if (strcmp(key, "columns") != 0 && strcmp(key, "rows") != 0)
      return steading_lua_fail(L, "frame.%s: unknown field; a frame has columns and rows", key);
  }
  lua_getfield(L, 1, "columns"); /* given columns */
  lua_getfield(L, 1, "rows");    /* given columns rows */
  if (!lua_istable(L, 2) || !lua_istable(L, 3))
    return steading_lua_fail(L, "frame: expected { columns = { names }, rows = { tables } }");
  if (!is_list(L, 2) || !is_list(L, 3))
    return steading_lua_fail(L, "frame: columns and rows are lists without gaps and other keys");
  columns = (size_t)lua_rawlen(L, 2);
  rows = (size_t)lua_rawlen(L, 3);
  if (columns == 0 || columns > 255)
    return steading_lua_fail(L, "frame: expected 1 to 255 columns");
  luaL_checkstack(L, (int)columns + 8, "too many columns");
  for (size_t c = 0; c < columns; c++) {
    if (lua_rawgeti(L, 2, (lua_Integer)c + 1) != LUA_TSTRING)
      return steading_lua_fail(L, "frame.columns[%I]: expected a text", (LUAI_UACINT)c + 1);
    names[c] = lua_tostring(L, -1); /* stays on the stack */
    for (size_t k = 0; k < c; k++)
      if (strcmp(names[k], names[c]) == 0)
        return steading_lua_fail(L, "frame.columns: '%s' stands there twice", names[c]);
    for (size_t r = 0; r < rows && !is_text[c]; r++) {
      if (lua_rawgeti(L, 3, (lua_Integer)r + 1) != LUA_TTABLE)
        return steading_lua_fail(L, "frame.rows[%I]: expected a table", (LUAI_UACINT)r + 1);
      int type = lua_getfield(L, -1, names[c]);
      bool none = type == LUA_TNIL || steading_lua_is_none(L, -1);
      is_text[c] = type == LUA_TSTRING || type == LUA_TBOOLEAN;
      lua_pop(L, 2);
      if (!none) break; /* the first answer of a column says what it holds */
    }
  }
  table = steading_lua_push_frame(L, columns, names, is_text, NULL, NULL);
  for (size_t r = 0; r < rows; r++) {
    check_row(L, r, columns, names);
    if (steading_table_add_row(table) != STEADING_OK)
      return steading_lua_fail(L, "not enough memory");
    lua_rawgeti(L, 3, (lua_Integer)r + 1);
    for (size_t c = 0; c < columns; c++) {
      lua_getfield(L, -1, names[c]);
      set_cell(L, table, r, c, lua_gettop(L));
      lua_pop(L, 1);
    }
    lua_pop(L, 1);
  }
  return 1;
}

void steading_open_frame(lua_State *L) {
  static const luaL_Reg events[] = {
      {"__gc", frame_gc}, {"__index", frame_index}, {"__len", frame_length}, {NULL, NULL}};
  luaL_newmetatable(L, type_name);
  luaL_setfuncs(L, events, 0);
  lua_pushliteral(L, "protected");
  lua_setfield(L, -2, "__metatable");
  lua_pop(L, 1);
  luaL_newmetatable(L, row_type);
  lua_pushcfunction(L, row_index);
  lua_setfield(L, -2, "__index");
  lua_pushliteral(L, "row");
  lua_setfield(L, -2, "__metatable");
  lua_pop(L, 1);
  lua_pushcfunction(L, frame_new);
  lua_setfield(L, -2, "frame");
}
