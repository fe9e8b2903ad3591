/* The host side of site:additions; its bookkeeping is library/additions.lua. */
#include <math.h>
#include <stdio.h>

#include "calendar.h"
#include "dispatch/run.h"
#include "library.h"
#include "script.h"
#include "site/site.h"
#include "site/write.h"

static int host_is_site(lua_State *L) {
  lua_pushboolean(L, steading_lua_site(L, 1) != NULL);
  return 1;
}

static int host_is_run(lua_State *L) {
  lua_pushboolean(L, steading_lua_run(L, 1) != NULL);
  return 1;
}

/* options_of(run): what simulate was given, with the start that it had, so that another site can be
 * simulated in the same way. */
static int host_options_of(lua_State *L) {
  const steading_run *run = steading_lua_run(L, 1);
  steading_arena *arena = steading_lua_push_arena(L); /* run arena */
  steading_value tree;
  char start[16];
  if (run == NULL) return steading_lua_fail(L, "additions: expected a run");
  if (steading_spec_write(run->options, arena, &tree) != STEADING_OK)
    return steading_lua_fail(L, "not enough memory");
  steading_lua_push_tree(L, &tree); /* run arena options */
  snprintf(start, sizeof start, "%04d-%02d", run->start_year, run->start_month);
  lua_pushstring(L, start);
  lua_setfield(L, -2, "start");
  return 1;
}

/* warn(text): as the warnings of a site, counted, and silent inside the cases of a study. */
static int host_warn(lua_State *L) {
  steading_script *script = steading_script_of(L);
  const char *text = luaL_checkstring(L, 1);
  script->warning_count++;
  if (!script->in_case && script->mode != STEADING_MODE_HELP)
    fprintf(stderr, "steading: warning: %s\n", text);
  return 0;
}

/* frame(site, rows): a row is the list of its cells in the order of the columns. */
static int host_frame(lua_State *L) {
  static const char *const names[] = {"option",
                                      "cost",
                                      "grid_free_hours_gain",
                                      "grid_free_energy_gain",
                                      "import_avoided_kwh_per_year",
                                      "net_present_value",
                                      "simple_payback_years"};
  static const bool is_text[] = {true, false, false, false, false, false, false};
  enum { COLUMNS = sizeof names / sizeof names[0] };
  const steading_site *site = steading_lua_site(L, 1);
  size_t rows = (size_t)lua_rawlen(L, 2);
  steading_table *table =
      steading_lua_push_frame(L, COLUMNS, names, is_text, site->name, site->currency);
  for (size_t i = 0; i < rows; i++) {
    if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
    lua_rawgeti(L, 2, (lua_Integer)i + 1); /* site rows frame row */
    for (size_t c = 0; c < COLUMNS; c++) {
      lua_rawgeti(L, -1, (lua_Integer)c + 1);
      if (!is_text[c])
        table->columns[c].numbers[i] =
            steading_lua_is_none(L, -1) ? (double)NAN : lua_tonumber(L, -1);
      else if (steading_table_set_text(table, i, c, lua_tostring(L, -1)) != STEADING_OK)
        steading_lua_fail(L, "not enough memory");
      lua_pop(L, 1);
    }
    lua_pop(L, 1);
  }
  return 1;
}

void steading_lua_push_additions(lua_State *L) {
  static const luaL_Reg host[] = {{"is_site", host_is_site},       {"is_run", host_is_run},
                                  {"options_of", host_options_of}, {"warn", host_warn},
                                  {"frame", host_frame},           {NULL, NULL}};
  if (lua_getfield(L, LUA_REGISTRYINDEX, "steading.additions") != LUA_TNIL) return;
  lua_pop(L, 1);
  if (luaL_loadbufferx(L, (const char *)steading_library_additions,
                       sizeof steading_library_additions, "=additions", "t") != LUA_OK)
    lua_error(L);
  luaL_newlib(L, host);
  steading_lua_push_none(L);
  steading_lua_push_check(L);
  lua_call(L, 3, 1);
  lua_pushvalue(L, -1);
  lua_setfield(L, LUA_REGISTRYINDEX, "steading.additions");
}
