/* Frames: tables of columns, as results hand them out. */
#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "files/files.h"
#include "files/table_read.h"
#include "library.h"
#include "nearest.h"
#include "script.h"

static const char type_name[] = "steading.frame";
static const char row_type[] = "steading.row";

typedef struct frame {
  steading_table *table;
} frame; /* user values: the site's name and currency, and the run, for the file beside a written
            frame; nil without one; a table with a method of its own, or nil */

static frame *check_frame(lua_State *L) { return luaL_checkudata(L, 1, type_name); }

static int frame_gc(lua_State *L) {
  frame *f = check_frame(L);
  steading_table_free(f->table);
  f->table = NULL;
  return 0;
}

void steading_lua_frame_of_run(lua_State *L, int run) {
  if (luaL_testudata(L, -1, type_name) == NULL) return;
  lua_pushvalue(L, run);
  lua_setiuservalue(L, -2, 3);
}

void steading_lua_frame_method(lua_State *L, const char *name) {
  lua_createtable(L, 0, 1); /* frame method table */
  lua_insert(L, -2);
  lua_setfield(L, -2, name);
  lua_setiuservalue(L, -2, 4);
}

steading_table *steading_lua_push_frame(lua_State *L, size_t count, const char *const *names,
                                        const bool *is_text, const char *site_name,
                                        const char *currency) {
  frame *f = lua_newuserdatauv(L, sizeof *f, 4);
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

void steading_lua_add_row(lua_State *L, steading_table *table, const double *cells,
                          const char *const *texts) {
  size_t row = table->rows;
  steading_status status = steading_table_add_row(table);
  for (size_t c = 0; status == STEADING_OK && c < table->column_count; c++)
    if (!table->columns[c].is_text)
      table->columns[c].numbers[row] = cells[c];
    else if (texts[c] != NULL)
      status = steading_table_set_text(table, row, c, texts[c]);
  if (status != STEADING_OK) steading_lua_fail(L, "not enough memory");
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

/* Lua does not see the size of a table: let its collector go on by as much. */
static void tell_size(lua_State *L, const steading_table *table) {
  size_t kib = table->rows * table->column_count * sizeof(double) / 1024;
  if (kib > 0) lua_gc(L, LUA_GCSTEP, kib > INT_MAX ? INT_MAX : (int)kib);
}

/* A frame of these columns with the site's name and currency, and the run, of the frame at `from`.
 */
static steading_table *push_kin(lua_State *L, int from, size_t count, const char *const *names,
                                const bool *is_text) {
  steading_table *table = NULL;
  lua_getiuservalue(L, from, 1); /* stay on the stack while they are used */
  lua_getiuservalue(L, from, 2);
  table =
      steading_lua_push_frame(L, count, names, is_text, lua_tostring(L, -2), lua_tostring(L, -1));
  lua_getiuservalue(L, from, 3);
  lua_setiuservalue(L, -2, 3);
  lua_replace(L, -3);
  lua_pop(L, 1);
  return table;
}

/* A frame of the columns of `f`, which is at `from`, and one more when `more` is a name. Two
 * userdata stay below it. */
static steading_table *push_like(lua_State *L, int from, const frame *f, const char *more,
                                 bool more_is_text) {
  size_t count = f->table->column_count, extra = more != NULL ? 1 : 0;
  const char **names = lua_newuserdatauv(L, (count + 1) * sizeof *names, 0);
  bool *is_text = lua_newuserdatauv(L, (count + 1) * sizeof *is_text, 0);
  for (size_t c = 0; c < count; c++) {
    names[c] = f->table->columns[c].name;
    is_text[c] = f->table->columns[c].is_text;
  }
  names[count] = more;
  is_text[count] = more_is_text;
  return push_kin(L, from, count + extra, names, is_text);
}

static void copy_row(lua_State *L, steading_table *to, const frame *f, size_t row) {
  if (steading_table_copy_row(to, f->table, row) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
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
  steading_lua_no_more(L, 1, "frame:rows");
  lua_pushvalue(L, 1);
  lua_pushinteger(L, 0);
  lua_pushcclosure(L, next_row, 2);
  return 1;
}

static int frame_column(lua_State *L) {
  const frame *f = check_frame(L);
  const steading_column *column = find_column(L, f, 2);
  steading_lua_no_more(L, 2, "frame:column");
  lua_createtable(L, (int)f->table->rows, 0);
  for (size_t i = 0; i < f->table->rows; i++) {
    push_cell(L, column, i);
    lua_rawseti(L, -2, (lua_Integer)i + 1);
  }
  return 1;
}

/* ' (row 3: "-")': the first cell of a column that keeps it from holding numbers. */
static const char *push_why_text(lua_State *L, const steading_column *column, size_t rows) {
  for (size_t i = 0; i < rows; i++) {
    const char *text = column->texts[i];
    char shortened[41], *comma = NULL, *end = NULL;
    bool is_number = false;
    if (text == NULL) continue;
    snprintf(shortened, sizeof shortened, "%s", text);
    comma = strchr(shortened, ',');
    if (comma != NULL) *comma = '.'; /* perhaps of a file with decimal commas */
    is_number = isfinite(strtod(shortened, &end)) && end != shortened && *end == '\0';
    if (comma != NULL) *comma = ',';
    if (is_number) continue;
    return lua_pushfstring(L, " (row %I: \"%s\")", (LUAI_UACINT)i + 1, shortened);
  }
  return lua_pushstring(L, "");
}

static void check_numbers(lua_State *L, const steading_column *column, size_t rows,
                          const char *function) {
  if (!column->is_text) return;
  steading_lua_fail(L, "%s: '%s' holds text%s", function, column->name,
                    push_why_text(L, column, rows));
}

static int frame_sum(lua_State *L) {
  const frame *f = check_frame(L);
  const steading_column *column = find_column(L, f, 2);
  double sum = 0;
  steading_lua_no_more(L, 2, "frame:sum");
  check_numbers(L, column, f->table->rows, "frame:sum");
  for (size_t i = 0; i < f->table->rows; i++)
    if (!isnan(column->numbers[i])) sum += column->numbers[i];
  lua_pushnumber(L, sum);
  return 1;
}

/* --- order ------------------------------------------------------------------------------------ */

typedef struct ranked {
  double number;
  const char *text;
  size_t row;
} ranked;

static int by_row(const ranked *a, const ranked *b) {
  return a->row < b->row ? -1 : a->row > b->row;
}

static int by_value(const ranked *a, const ranked *b) {
  if (a->text != NULL) return strcmp(a->text, b->text);
  return a->number < b->number ? -1 : a->number > b->number;
}

static int lowest_first(const void *a, const void *b) {
  int order = by_value(a, b);
  return order != 0 ? order : by_row(a, b);
}

static int highest_first(const void *a, const void *b) {
  int order = by_value(b, a);
  return order != 0 ? order : by_row(a, b);
}

/* The rows of a frame in the order of a column, equal ones as they stood, empty cells last: a
 * userdata that is pushed. */
static const ranked *push_order(lua_State *L, const frame *f, const steading_column *column,
                                bool descending) {
  size_t rows = f->table->rows, used = 0;
  ranked *order = lua_newuserdatauv(L, (rows + 1) * sizeof *order, 0);
  for (int pass = 0; pass < 2; pass++) {
    for (size_t i = 0; i < rows; i++) {
      ranked entry = {.number = column->is_text ? 0 : column->numbers[i],
                      .text = column->is_text ? column->texts[i] : NULL,
                      .row = i};
      bool empty = column->is_text ? entry.text == NULL : isnan(entry.number);
      if (empty == (pass == 1)) order[used++] = entry;
    }
    if (pass == 0 && used > 0)
      qsort(order, used, sizeof *order, descending ? highest_first : lowest_first);
  }
  return order;
}

static int push_first(lua_State *L, const frame *f, const steading_column *column, bool descending,
                      size_t most) {
  const ranked *order = push_order(L, f, column, descending);
  steading_table *table = push_like(L, 1, f, NULL, false);
  for (size_t i = 0; i < f->table->rows && i < most; i++) copy_row(L, table, f, order[i].row);
  tell_size(L, table);
  return 1;
}

static int frame_sort(lua_State *L) {
  const frame *f = check_frame(L);
  const steading_column *column = find_column(L, f, 2);
  bool descending = !lua_isnoneornil(L, 3);
  steading_lua_no_more(L, 3, "frame:sort");
  if (descending &&
      (lua_type(L, 3) != LUA_TSTRING || strcmp(lua_tostring(L, 3), "descending") != 0))
    return steading_lua_fail(L, "frame:sort: found \"%s\", expected \"descending\" or nothing",
                             luaL_tolstring(L, 3, NULL));
  return push_first(L, f, column, descending, SIZE_MAX);
}

static int frame_top(lua_State *L) {
  const frame *f = check_frame(L);
  lua_Integer most = 0;
  int whole = 0;
  steading_lua_no_more(L, 3, "frame:top");
  most = lua_type(L, 2) == LUA_TNUMBER ? lua_tointegerx(L, 2, &whole) : 0;
  if (!whole || most < 1)
    return steading_lua_fail(L, "frame:top: found %s, expected a whole number, 1 or more",
                             luaL_tolstring(L, 2, NULL));
  return push_first(L, f, find_column(L, f, 3), true, (size_t)most);
}

static int by_number(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return x < y ? -1 : x > y;
}

/* Hyndman and Fan 1996, type 7: linear between order statistics, the p-quantile of n at
 * 1 + (n - 1) p. */
static int frame_quantile(lua_State *L) {
  const frame *f = check_frame(L);
  const steading_column *column = find_column(L, f, 2);
  double p = 0, at = 0, part = 0, *sorted = NULL, answer = 0;
  size_t count = 0, below = 0;
  steading_lua_no_more(L, 3, "frame:quantile");
  check_numbers(L, column, f->table->rows, "frame:quantile");
  p = lua_type(L, 3) == LUA_TNUMBER ? lua_tonumber(L, 3) : -1;
  if (!(p >= 0 && p <= 1))
    return steading_lua_fail(L, "frame:quantile: found %s, expected a share, 0 to 1",
                             luaL_tolstring(L, 3, NULL));
  sorted = lua_newuserdatauv(L, (f->table->rows + 1) * sizeof *sorted, 0);
  for (size_t i = 0; i < f->table->rows; i++)
    if (!isnan(column->numbers[i])) sorted[count++] = column->numbers[i];
  if (count == 0) {
    steading_lua_push_none(L);
    return 1;
  }
  qsort(sorted, count, sizeof *sorted, by_number);
  at = (double)(count - 1) * p;
  below = (size_t)at;
  part = at - (double)below;
  answer = sorted[below];
  /* a part of the way to never is never */
  if (part > 0 && sorted[below + 1] != answer)
    answer = isinf(sorted[below + 1]) ? sorted[below + 1]
                                      : (1 - part) * answer + part * sorted[below + 1];
  lua_pushnumber(L, answer);
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
    size_t plain = 0, length = 0;
    while (text[plain] >= ' ' && text[plain] < 0x7F && text[plain] != '"' && text[plain] != '\\')
      plain++;
    if (plain > 0) {
      steading_writer_put(writer, text, plain);
      text += plain;
      continue;
    }
    length = utf8_length(text);
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

/* A table as a list of rows, under a name. */
static void put_rows(steading_writer *w, const char *name, const steading_table *table) {
  if (table == NULL) return;
  steading_writer_print(w, ",\n  \"%s\": [", name);
  for (size_t row = 0; row < table->rows; row++) {
    steading_writer_print(w, "%s\n    {", row > 0 ? "," : "");
    for (size_t c = 0; c < table->column_count; c++) {
      const char *text = table->columns[c].texts[row];
      steading_writer_put(w, c == 0 ? " " : ", ", c == 0 ? 1 : 2);
      put_json(w, table->columns[c].name);
      steading_writer_put(w, ": ", 2);
      put_json(w, text == NULL ? "" : text);
    }
    steading_writer_print(w, " }");
  }
  steading_writer_print(w, "%s]", table->rows > 0 ? "\n  " : "");
}

/* What a run warns of and what it assumes; NULL for a frame of no run. */
typedef struct behind {
  const steading_table *warnings, *assumptions;
} behind;

/* The table of a result of the run at the top of the stack, which is left above it. */
static const steading_table *push_behind(lua_State *L, const char *name) {
  const frame *f = NULL;
  lua_getfield(L, -1, name);
  f = luaL_checkudata(L, -1, type_name);
  lua_insert(L, -2);
  return f->table;
}

static void put_meta(steading_writer *w, const steading_script *script, const frame *f,
                     const behind *run, const char *file, const char *site, const char *currency) {
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
  steading_writer_print(w, "%s]", script->input_count > 0 ? "\n  " : "");
  put_rows(w, "warnings", run->warnings);
  put_rows(w, "assumptions", run->assumptions);
  steading_writer_print(w, ",\n  \"wall_s\": %.3f\n}\n",
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
  behind run = {NULL, NULL};
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
  if (lua_getiuservalue(L, 1, 3) == LUA_TUSERDATA) {
    run.warnings = push_behind(L, "warnings");
    run.assumptions = push_behind(L, "assumptions");
  }
  snprintf(meta, sizeof meta, "%s", full);
  if (length > 4 && strcmp(full + length - 4, ".csv") == 0) meta[length - 4] = '\0';
  strcat(meta, ".meta.json");
  steading_engine_enter(L);
  status = steading_writer_open(full, &writer, &error);
  if (status == STEADING_OK) {
    steading_table_write_csv(f->table, writer);
    status = steading_writer_commit(writer, &error);
  }
  if (status == STEADING_OK) status = steading_writer_open(meta, &writer, &error);
  if (status == STEADING_OK) {
    put_meta(writer, script, f, &run, path, site, currency);
    status = steading_writer_commit(writer, &error);
  }
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  return 0;
}

/* Methods are looked up in a table, the upvalue. */
static int frame_index(lua_State *L) {
  const char *names[32] = {"columns"};
  size_t count = 1;
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
  if (lua_getfield(L, lua_upvalueindex(1), name) != LUA_TNIL) return 1;
  if (strcmp(name, "columns") == 0) {
    lua_createtable(L, (int)f->table->column_count, 0);
    for (size_t c = 0; c < f->table->column_count; c++) {
      lua_pushstring(L, f->table->columns[c].name);
      lua_rawseti(L, -2, (lua_Integer)c + 1);
    }
    return 1;
  }
  if (lua_getiuservalue(L, 1, 4) == LUA_TTABLE) {
    if (lua_getfield(L, -1, name) != LUA_TNIL) return 1;
    lua_pop(L, 1);
    for (lua_pushnil(L); lua_next(L, -2) != 0; lua_pop(L, 1)) names[count++] = lua_tostring(L, -2);
  }
  for (lua_pushnil(L); lua_next(L, lua_upvalueindex(1)) != 0; lua_pop(L, 1))
    if (count < 31) names[count++] = lua_tostring(L, -2);
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
  int type = lua_type(L, index);
  LUAI_UACINT shown = (LUAI_UACINT)row + 1;
  if (type == LUA_TNIL || steading_lua_is_none(L, index)) return;
  if (type != LUA_TNUMBER && type != LUA_TSTRING && type != LUA_TBOOLEAN) {
    steading_lua_fail(L, "frame: row %I: '%s' is a %s, expected a number, a text, true or false",
                      shown, column->name, luaL_typename(L, index));
  } else if (column->is_text != (type != LUA_TNUMBER)) {
    steading_lua_fail(L, "frame: row %I: '%s' is %s, the rows before have %s there", shown,
                      column->name, column->is_text ? "a number" : "a text",
                      column->is_text ? "a text" : "a number");
  } else if (!column->is_text) {
    column->numbers[row] = lua_tonumber(L, index);
    if (isnan(column->numbers[row]) || column->numbers[row] == (double)-INFINITY)
      steading_lua_fail(L, "frame: row %I: '%s' is %s", shown, column->name,
                        isnan(column->numbers[row]) ? "nan" : "-inf");
  } else {
    size_t length = 0;
    const char *text = type == LUA_TSTRING       ? lua_tolstring(L, index, &length)
                       : lua_toboolean(L, index) ? "true"
                                                 : "false";
    if (type == LUA_TSTRING && strlen(text) != length)
      steading_lua_fail(L, "frame: row %I: '%s' is a text with a zero byte", shown, column->name);
    if (steading_table_set_text(table, row, c, text) != STEADING_OK)
      steading_lua_fail(L, "not enough memory");
  }
}

/* Pushes row `row` + 1 of the list at 3: a table whose keys are all columns. */
static void push_given_row(lua_State *L, size_t row, const char *const *names) {
  if (lua_rawgeti(L, 3, (lua_Integer)row + 1) != LUA_TTABLE)
    steading_lua_fail(L, "frame.rows[%I]: expected a table", (LUAI_UACINT)row + 1);
  steading_lua_content(L);
  for (lua_pushnil(L); lua_next(L, -2) != 0; lua_pop(L, 1)) {
    bool known = false;
    if (lua_type(L, -2) != LUA_TSTRING)
      steading_lua_fail(L, "frame.rows[%I]: expected { column = value, ... }",
                        (LUAI_UACINT)row + 1);
    for (size_t c = 0; names[c] != NULL; c++)
      known = known || strcmp(lua_tostring(L, -2), names[c]) == 0;
    if (!known) {
      char what[64];
      snprintf(what, sizeof what, "frame.rows[%zu]", row + 1);
      steading_lua_unknown(L, what, lua_tostring(L, -2), names);
    }
  }
}

/* Whether a table is a list and nothing else. */
static bool is_list(lua_State *L, int index) {
  lua_Integer keys = 0;
  for (lua_pushnil(L); lua_next(L, index) != 0; lua_pop(L, 1)) keys++;
  return keys == (lua_Integer)lua_rawlen(L, index);
}

/* The names in the list at 2, which stay on the stack. */
static size_t take_names(lua_State *L, const char **names) {
  size_t columns = (size_t)lua_rawlen(L, 2);
  if (columns == 0 || columns > 255) steading_lua_fail(L, "frame: expected 1 to 255 columns");
  luaL_checkstack(L, (int)columns + 16, "too many columns");
  for (size_t c = 0; c < columns; c++) {
    size_t length = 0;
    if (lua_rawgeti(L, 2, (lua_Integer)c + 1) != LUA_TSTRING)
      steading_lua_fail(L, "frame.columns[%I]: expected a text", (LUAI_UACINT)c + 1);
    names[c] = lua_tolstring(L, -1, &length);
    if (length == 0 || strlen(names[c]) != length)
      steading_lua_fail(L, "frame.columns[%I]: expected a name", (LUAI_UACINT)c + 1);
    for (size_t k = 0; k < c; k++)
      if (strcmp(names[k], names[c]) == 0)
        steading_lua_fail(L, "frame.columns: '%s' stands there twice", names[c]);
  }
  names[columns] = NULL;
  return columns;
}

/* Pushes the cell of a row on top of the stack; what the row does not have is nil. */
static int push_given_cell(lua_State *L, const char *name) {
  lua_pushstring(L, name);
  return lua_rawget(L, -2);
}

/* steading.frame { columns = { "a", "b" }, rows = { { a = 1, b = "x" }, ... } } */
static int frame_new(lua_State *L) {
  const char *names[256];
  bool is_text[256] = {false}, told[256] = {false};
  size_t columns = 0, rows = 0;
  steading_table *table = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  if (lua_gettop(L) > 1)
    return steading_lua_fail(L, "frame: found %d arguments, expected 1", lua_gettop(L));
  steading_lua_content(L);
  for (lua_pushnil(L); lua_next(L, 1) != 0; lua_pop(L, 1)) {
    const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tostring(L, -2) : "?";
    if (strcmp(key, "columns") != 0 && strcmp(key, "rows") != 0)
      return steading_lua_fail(L, "frame.%s: unknown field; a frame has columns and rows", key);
  }
  lua_getfield(L, 1, "columns"); /* given columns */
  steading_lua_content(L);
  lua_getfield(L, 1, "rows"); /* given columns rows */
  steading_lua_content(L);
  if (!lua_istable(L, 2) || !lua_istable(L, 3))
    return steading_lua_fail(L, "frame: expected { columns = { names }, rows = { tables } }");
  if (!is_list(L, 2) || !is_list(L, 3))
    return steading_lua_fail(L, "frame: columns and rows are lists without gaps and other keys");
  columns = take_names(L, names);
  rows = (size_t)lua_rawlen(L, 3);
  for (size_t r = 0; r < rows; r++) {
    push_given_row(L, r, names);
    for (size_t c = 0; c < columns; c++) {
      int type = LUA_TNIL;
      if (told[c]) continue;
      type = push_given_cell(L, names[c]);
      told[c] = type != LUA_TNIL && !steading_lua_is_none(L, -1);
      is_text[c] = type == LUA_TSTRING || type == LUA_TBOOLEAN; /* the first answer says it */
      lua_pop(L, 1);
    }
    lua_pop(L, 1);
  }
  table = steading_lua_push_frame(L, columns, names, is_text, NULL, NULL);
  for (size_t r = 0; r < rows; r++) {
    if (steading_table_add_row(table) != STEADING_OK)
      return steading_lua_fail(L, "not enough memory");
    lua_rawgeti(L, 3, (lua_Integer)r + 1);
    steading_lua_content(L);
    for (size_t c = 0; c < columns; c++) {
      push_given_cell(L, names[c]);
      set_cell(L, table, r, c, lua_gettop(L));
      lua_pop(L, 1);
    }
    lua_pop(L, 1);
  }
  tell_size(L, table);
  return 1;
}

/* --- what library/frame.lua asks for ------------------------------------------------------------
 */

static int host_is_frame(lua_State *L) {
  lua_pushboolean(L, luaL_testudata(L, 1, type_name) != NULL);
  return 1;
}

/* is_text(frame, column) */
static int host_is_text(lua_State *L) {
  lua_pushboolean(L, find_column(L, check_frame(L), 2)->is_text);
  return 1;
}

/* why_text(frame, column) */
static int host_why_text(lua_State *L) {
  const frame *f = check_frame(L);
  push_why_text(L, find_column(L, f, 2), f->table->rows);
  return 1;
}

/* select(frame, list of row numbers) */
static int host_select(lua_State *L) {
  const frame *f = check_frame(L);
  size_t count = (size_t)lua_rawlen(L, 2);
  steading_table *table = push_like(L, 1, f, NULL, false);
  for (size_t i = 0; i < count; i++) {
    lua_rawgeti(L, 2, (lua_Integer)i + 1);
    copy_row(L, table, f, (size_t)lua_tointeger(L, -1) - 1);
    lua_pop(L, 1);
  }
  tell_size(L, table);
  return 1;
}

/* with_column(frame, name, values): the first value that is not none says what it holds. */
static int host_with_column(lua_State *L) {
  const frame *f = check_frame(L);
  const char *name = luaL_checkstring(L, 2);
  bool is_text = false;
  steading_table *table = NULL;
  for (size_t i = 0; i < f->table->rows && !is_text; i++) {
    int type = lua_rawgeti(L, 3, (lua_Integer)i + 1);
    is_text = type == LUA_TSTRING;
    lua_pop(L, 1);
    if (type == LUA_TNUMBER) break;
  }
  table = push_like(L, 1, f, name, is_text);
  for (size_t i = 0; i < f->table->rows; i++) {
    copy_row(L, table, f, i);
    lua_rawgeti(L, 3, (lua_Integer)i + 1);
    set_cell(L, table, i, table->column_count - 1, lua_gettop(L));
    lua_pop(L, 1);
  }
  tell_size(L, table);
  return 1;
}

/* make(frame, names, texts, lists, rows): a frame of these columns. */
static int host_make(lua_State *L) {
  size_t count = 0, rows = (size_t)luaL_checkinteger(L, 5);
  const char **names = NULL;
  bool *is_text = NULL;
  steading_table *table = NULL;
  check_frame(L);
  count = (size_t)lua_rawlen(L, 2);
  names = lua_newuserdatauv(L, (count + 1) * sizeof *names, 0);
  is_text = lua_newuserdatauv(L, (count + 1) * sizeof *is_text, 0);
  for (size_t c = 0; c < count; c++) {
    lua_rawgeti(L, 2, (lua_Integer)c + 1);
    names[c] = lua_tostring(L, -1); /* the list at 2 holds it */
    lua_rawgeti(L, 3, (lua_Integer)c + 1);
    is_text[c] = lua_toboolean(L, -1);
    lua_pop(L, 2);
  }
  table = push_kin(L, 1, count, names, is_text);
  for (size_t r = 0; r < rows; r++)
    if (steading_table_add_row(table) != STEADING_OK)
      return steading_lua_fail(L, "not enough memory");
  for (size_t c = 0; c < count; c++) {
    lua_rawgeti(L, 4, (lua_Integer)c + 1);
    for (size_t r = 0; r < rows; r++) {
      lua_rawgeti(L, -1, (lua_Integer)r + 1);
      set_cell(L, table, r, c, lua_gettop(L));
      lua_pop(L, 1);
    }
    lua_pop(L, 1);
  }
  tell_size(L, table);
  return 1;
}

/* A mapped file that the collector unmaps, whatever happens. */
typedef struct mapping {
  const char *bytes;
  size_t length;
} mapping;

static int unmap(lua_State *L) {
  mapping *file = lua_touserdata(L, 1);
  steading_file_unmap(file->bytes, file->length);
  file->bytes = NULL;
  return 0;
}

static char option_mark(lua_State *L, const char *name) {
  char mark = '\0';
  if (lua_getfield(L, 2, name) == LUA_TSTRING) mark = lua_tostring(L, -1)[0];
  lua_pop(L, 1);
  return mark;
}

static size_t option_count(lua_State *L, const char *name) {
  lua_Integer count = 0;
  lua_getfield(L, 2, name);
  count = lua_tointeger(L, -1);
  lua_pop(L, 1);
  return (size_t)count;
}

/* The column described by the table on top of the stack, whose texts it holds. */
static steading_csv_column wanted_column(lua_State *L) {
  steading_csv_column column = {.name = NULL};
  lua_getfield(L, -1, "name");
  column.name = lua_tostring(L, -1);
  lua_pop(L, 1);
  if (lua_getfield(L, -1, "at") == LUA_TSTRING)
    column.heading = lua_tostring(L, -1);
  else
    column.number = (size_t)lua_tointeger(L, -1);
  lua_pop(L, 1);
  if (lua_getfield(L, -1, "kind") == LUA_TSTRING)
    column.kind =
        strcmp(lua_tostring(L, -1), "text") == 0 ? STEADING_CSV_TEXT : STEADING_CSV_NUMBER;
  lua_pop(L, 1);
  lua_getfield(L, -1, "factor");
  lua_getfield(L, -2, "offset");
  column.factor = lua_tonumber(L, -2);
  column.offset = lua_tonumber(L, -1);
  lua_pop(L, 2);
  return column;
}

/* The options in the table at 2, checked by library/frame.lua; lists are pushed as userdata. */
static steading_csv_options take_options(lua_State *L) {
  steading_csv_options options = {.delimiter = option_mark(L, "delimiter"),
                                  .decimal = option_mark(L, "decimal"),
                                  .thousands = option_mark(L, "thousands"),
                                  .skip_rows = option_count(L, "skip_rows"),
                                  .skip_last_rows = option_count(L, "skip_last_rows")};
  const char **missing = NULL;
  steading_csv_column *columns = NULL;
  lua_getfield(L, 2, "missing");
  options.missing_count = (size_t)lua_rawlen(L, -1);
  missing = lua_newuserdatauv(L, (options.missing_count + 1) * sizeof *missing, 0);
  for (size_t i = 0; i < options.missing_count; i++) {
    lua_rawgeti(L, -2, (lua_Integer)i + 1);
    missing[i] = lua_tostring(L, -1); /* the list holds it */
    lua_pop(L, 1);
  }
  options.missing = missing;
  if (lua_getfield(L, 2, "columns") != LUA_TTABLE) return options;
  options.column_count = (size_t)lua_rawlen(L, -1);
  columns = lua_newuserdatauv(L, (options.column_count + 1) * sizeof *columns, 0);
  for (size_t i = 0; i < options.column_count; i++) {
    lua_rawgeti(L, -2, (lua_Integer)i + 1);
    columns[i] = wanted_column(L);
    lua_pop(L, 1);
  }
  options.columns = columns;
  return options;
}

/* read(path, options) */
static int host_read(lua_State *L) {
  const char *path = luaL_checkstring(L, 1);
  steading_csv_options options = take_options(L);
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  char sha256[65] = "";
  frame *f = NULL;
  mapping *file = lua_newuserdatauv(L, sizeof *file, 0);
  *file = (mapping){.bytes = NULL};
  steading_lua_set_gc(L, "steading.frame_file", unmap);
  steading_lua_push_frame(L, 0, NULL, NULL, NULL, NULL);
  f = lua_touserdata(L, -1);
  steading_engine_enter(L);
  status = steading_file_map(path, &file->bytes, &file->length, &error);
  if (status == STEADING_OK) {
    steading_table_free(f->table);
    status = steading_table_read_csv(file->bytes, file->length, path, &options, &f->table, &error);
    steading_sha256(file->bytes, file->length, sha256);
    steading_file_unmap(file->bytes, file->length);
    file->bytes = NULL;
  }
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  if (!steading_script_input(steading_script_of(L), path, sha256))
    return steading_lua_fail(L, "not enough memory");
  tell_size(L, f->table);
  return 1;
}

/* Pushes the table of methods, and read_frame. */
static void push_methods(lua_State *L) {
  static const luaL_Reg methods[] = {{"rows", frame_rows},         {"column", frame_column},
                                     {"sum", frame_sum},           {"write", frame_write},
                                     {"sort", frame_sort},         {"top", frame_top},
                                     {"quantile", frame_quantile}, {NULL, NULL}};
  static const luaL_Reg host[] = {{"is_frame", host_is_frame},
                                  {"is_text", host_is_text},
                                  {"why_text", host_why_text},
                                  {"select", host_select},
                                  {"with_column", host_with_column},
                                  {"make", host_make},
                                  {"read", host_read},
                                  {NULL, NULL}};
  if (luaL_loadbufferx(L, (const char *)steading_library_frame, sizeof steading_library_frame,
                       "=frame", "t") != LUA_OK)
    lua_error(L);
  luaL_newlib(L, host);
  steading_lua_push_none(L);
  steading_lua_push_check(L);
  lua_call(L, 3, 2); /* methods read_frame */
  lua_pushvalue(L, -2);
  luaL_setfuncs(L, methods, 0);
  lua_pop(L, 1);
}

void steading_open_frame(lua_State *L) {
  static const luaL_Reg events[] = {{"__gc", frame_gc}, {"__len", frame_length}, {NULL, NULL}};
  push_methods(L); /* module methods read_frame */
  lua_setfield(L, -3, "read_frame");
  luaL_newmetatable(L, type_name); /* module methods metatable */
  luaL_setfuncs(L, events, 0);
  lua_insert(L, -2); /* module metatable methods */
  lua_pushcclosure(L, frame_index, 1);
  lua_setfield(L, -2, "__index");
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
