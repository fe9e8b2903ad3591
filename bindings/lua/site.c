/* steading.site, steading.load.* and the site object. */
#include "site/site.h"

#include <stdio.h>
#include <string.h>

#include "plant/check.h"
#include "resource/weather.h"
#include "script.h"
#include "site/assume.h"
#include "site/write.h"

static const char type_name[] = "steading.site";

const steading_site *steading_lua_site(lua_State *L, int index) {
  const steading_site **site = luaL_testudata(L, index, type_name);
  return site == NULL ? NULL : *site;
}

static const steading_site *check_site(lua_State *L, const char *method) {
  const steading_site *site = steading_lua_site(L, 1);
  if (site == NULL)
    steading_lua_fail(L, "%s: expected a site; write site:%s { ... }", method, method);
  return site;
}

static int site_gc(lua_State *L) {
  const steading_site **site = luaL_checkudata(L, 1, type_name);
  steading_record_release(*site);
  *site = NULL;
  return 0;
}

static const steading_site **push_empty(lua_State *L) {
  const steading_site **site = lua_newuserdatauv(L, sizeof *site, 0);
  *site = NULL;
  luaL_setmetatable(L, type_name);
  return site;
}

/* What is allowed and usually a mistake is said once, where the site is made; inside the cases of a
 * study it is only counted. */
static void say_warnings(lua_State *L, const steading_site *site) {
  steading_script *script = steading_script_of(L);
  steading_warning *warnings = lua_newuserdatauv(L, STEADING_MOST_WARNINGS * sizeof *warnings, 0);
  size_t count = steading_site_warnings(site, warnings);
  count += steading_plant_warnings(site, warnings + count, STEADING_MOST_WARNINGS - count);
  script->warning_count += count;
  if (script->in_case || script->mode == STEADING_MODE_HELP) count = 0;
  for (size_t i = 0; i < count; i++)
    fprintf(stderr, "steading: warning: %s: %s\n", warnings[i].path, warnings[i].text);
  lua_pop(L, 1);
}

/* Read a site from the table at `index`, check it whole, and push it. */
static const steading_site *push_site(lua_State *L, int index) {
  steading_error error = {.status = STEADING_OK};
  const steading_value *value = steading_lua_value(L, index, "site");
  const steading_site **site = push_empty(L);
  steading_status status = STEADING_OK;
  steading_engine_enter(L);
  status = steading_site_read(value, site, &error);
  if (status == STEADING_OK) status = steading_plant_check(*site, &error);
  steading_engine_leave();
  if (status != STEADING_OK) steading_lua_raise(L, &error);
  return *site;
}

static int site_new(lua_State *L) {
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, "site");
  say_warnings(L, push_site(L, 1));
  return 1;
}

/* Push the whole site as plain tables that a script may change. */
static void push_copy(lua_State *L, const steading_site *site) {
  steading_arena *arena = steading_lua_push_arena(L); /* arena */
  steading_value tree;
  if (steading_spec_write(site, arena, &tree) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
  steading_lua_push_tree(L, &tree); /* arena copy */
  lua_remove(L, -2);                /* copy */
}

/* site:with(function(s) ... end). It may end with `return s`: a habit that does no harm. */
static int with_function(lua_State *L, const steading_site *site) {
  push_copy(L, site);          /* site function copy */
  lua_pushvalue(L, 2);         /* site function copy function */
  lua_pushvalue(L, 3);         /* site function copy function copy */
  lua_call(L, 1, LUA_MULTRET); /* site function copy results */
  if (lua_gettop(L) > 4 || (lua_gettop(L) == 4 && !lua_isnil(L, 4) && !lua_rawequal(L, 3, 4)))
    return steading_lua_fail(L,
                             "with: the function returned a %s; expected nothing: it edits the "
                             "table that it is given",
                             luaL_typename(L, 4));
  lua_settop(L, 3);
  push_site(L, 3);
  return 1;
}

enum { MOST_CHANGES = 256 };

static int site_with(lua_State *L) {
  const steading_site *site = check_site(L, "with"), **changed = NULL;
  const char *paths[MOST_CHANGES];
  steading_value values[MOST_CHANGES];
  steading_error error = {.status = STEADING_OK};
  const steading_value *tree = NULL;
  steading_status status = STEADING_OK;
  steading_lua_no_more(L, 2, "site:with");
  if (lua_isfunction(L, 2)) return with_function(L, site);
  luaL_checktype(L, 2, LUA_TTABLE);
  tree = steading_lua_value(L, 2, "with");
  if (tree->item_count > 0)
    return steading_lua_fail(L, "with: found a value without a path; write { [\"path\"] = value }");
  if (tree->entry_count > MOST_CHANGES)
    return steading_lua_fail(L, "with: more than %d changes at once", (int)MOST_CHANGES);
  for (size_t i = 0; i < tree->entry_count; i++) {
    paths[i] = tree->entries[i].key;
    values[i] = tree->entries[i].value;
  }
  changed = push_empty(L);
  steading_engine_enter(L);
  status = steading_site_with(site, tree->entry_count, paths, values, changed, &error);
  if (status == STEADING_OK) status = steading_plant_check(*changed, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  return 1;
}

static int site_without(lua_State *L) {
  const steading_site *site = check_site(L, "without"), **changed = NULL;
  const char *paths[MOST_CHANGES];
  steading_error error = {.status = STEADING_OK};
  const steading_value *tree = NULL;
  steading_status status = STEADING_OK;
  luaL_checktype(L, 2, LUA_TTABLE);
  steading_lua_no_more(L, 2, "site:without");
  tree = steading_lua_value(L, 2, "without");
  if (tree->entry_count > 0)
    return steading_lua_fail(L, "without: found the field '%s'; expected { \"path\", ... }",
                             tree->entries[0].key);
  if (tree->item_count > MOST_CHANGES)
    return steading_lua_fail(L, "without: more than %d paths at once", (int)MOST_CHANGES);
  for (size_t i = 0; i < tree->item_count; i++) {
    if (tree->items[i].kind != STEADING_VALUE_TEXT)
      return steading_lua_fail(L, "without[%d]: found %s, expected a path in quotes", (int)i + 1,
                               steading_value_called(&tree->items[i]));
    paths[i] = tree->items[i].text;
  }
  changed = push_empty(L);
  steading_engine_enter(L);
  status = steading_site_without(site, tree->item_count, paths, changed, &error);
  if (status == STEADING_OK) status = steading_plant_check(*changed, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  return 1;
}

static int site_grid_only(lua_State *L) {
  const steading_site *site = check_site(L, "grid_only"), **changed = push_empty(L);
  steading_error error = {.status = STEADING_OK};
  steading_lua_no_more(L, 2, "site:grid_only"); /* the site and the new one */
  if (steading_site_grid_only(site, changed, &error) != STEADING_OK)
    return steading_lua_raise(L, &error);
  return 1;
}

/* --- assumptions -------------------------------------------------------------------------------
 */

static steading_status add_assumption(void *context, const steading_assumption *a) {
  steading_table *table = context;
  const char *const cells[] = {a->path, a->value, a->unit, a->given ? "given" : "default",
                               a->source};
  size_t row = table->rows;
  steading_status status = steading_table_add_row(table);
  for (size_t i = 0; status == STEADING_OK && i < sizeof cells / sizeof cells[0]; i++)
    status = steading_table_set_text(table, row, i, cells[i]);
  return status;
}

void steading_lua_push_assumptions(lua_State *L, const steading_site *site) {
  static const char *const names[] = {"path", "value", "unit", "given_or_default", "source"};
  static const bool is_text[] = {true, true, true, true, true};
  steading_table *table = steading_lua_push_frame(L, 5, names, is_text, site->name, site->currency);
  if (steading_site_assumptions(site, add_assumption, table) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
}

/* --- the object --------------------------------------------------------------------------------
 */

static int not_yet(lua_State *L) {
  return steading_lua_fail(L, "site:%s is not yet carried out by this version",
                           lua_tostring(L, lua_upvalueindex(1)));
}

static int site_index(lua_State *L) {
  static const char *const names[] = {"name",      "currency",  "assumptions", "with",
                                      "without",   "grid_only", "simulate",    "ride_through",
                                      "additions", "screen",    NULL};
  const steading_site *site = *(const steading_site **)luaL_checkudata(L, 1, type_name);
  const char *name = luaL_checkstring(L, 2);
  if (strcmp(name, "name") == 0) {
    lua_pushstring(L, site->name == NULL ? "" : site->name);
  } else if (strcmp(name, "currency") == 0) {
    lua_pushstring(L, site->currency == NULL ? "" : site->currency);
  } else if (strcmp(name, "assumptions") == 0) {
    steading_lua_push_assumptions(L, site);
  } else if (strcmp(name, "with") == 0) {
    lua_pushcfunction(L, site_with);
  } else if (strcmp(name, "without") == 0) {
    lua_pushcfunction(L, site_without);
  } else if (strcmp(name, "grid_only") == 0) {
    lua_pushcfunction(L, site_grid_only);
  } else if (strcmp(name, "simulate") == 0) {
    lua_pushcfunction(L, steading_lua_simulate);
  } else if (strcmp(name, "additions") == 0) {
    steading_lua_push_additions(L);
  } else if (strcmp(name, "ride_through") == 0) {
    lua_pushcfunction(L, steading_lua_ride_through);
  } else if (strcmp(name, "screen") == 0) {
    lua_pushstring(L, name);
    lua_pushcclosure(L, not_yet, 1);
  } else {
    return steading_lua_unknown(L, "site", name, names);
  }
  return 1;
}

/* A load is a plain table that says its kind: checked here, so that a mistake is reported at the
 * line that made it, and read again with the site. */
static int load_new(lua_State *L) {
  const steading_spec *spec = lua_touserdata(L, lua_upvalueindex(1));
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, spec->name);
  steading_lua_read(L, 1, spec, spec->name);
  lua_newtable(L); /* given record load */
  for (lua_pushnil(L); lua_next(L, 1) != 0;) {
    lua_pushvalue(L, -2);
    lua_insert(L, -2);
    lua_settable(L, 3); /* given record load key */
  }
  lua_pushstring(L, spec->name);
  lua_setfield(L, 3, "kind");
  return 1;
}

static int load_later(lua_State *L) {
  return steading_lua_fail(L, "steading.load.%s is not yet carried out by this version",
                           lua_tostring(L, lua_upvalueindex(1)));
}

static void open_loads(lua_State *L) {
  static const char *const later[] = {"meter_file", "hot_water", "heating", "cooling",
                                      "cooking",    "vehicle",   NULL};
  lua_newtable(L);
  for (size_t i = 0; steading_variants_loads[i] != NULL; i++) {
    lua_pushlightuserdata(L, (void *)steading_variants_loads[i]);
    lua_pushcclosure(L, load_new, 1);
    lua_setfield(L, -2, steading_variants_loads[i]->name);
  }
  for (size_t i = 0; later[i] != NULL; i++) {
    lua_pushstring(L, later[i]);
    lua_pushcclosure(L, load_later, 1);
    lua_setfield(L, -2, later[i]);
  }
  steading_lua_strict(L, "steading.load");
}

void steading_open_site(lua_State *L) {
  static const luaL_Reg events[] = {{"__gc", site_gc}, {"__index", site_index}, {NULL, NULL}};
  luaL_newmetatable(L, type_name);
  luaL_setfuncs(L, events, 0);
  lua_pushliteral(L, "protected");
  lua_setfield(L, -2, "__metatable");
  lua_pop(L, 1);
  lua_pushcfunction(L, site_new);
  lua_setfield(L, -2, "site");
  open_loads(L);
  lua_setfield(L, -2, "load");
}
