/* The host side of steading.study; its bookkeeping is library/study.lua. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "library.h"
#include "random.h"
#include "script.h"
#include "study/journal.h"

static const char holder_type[] = "steading.journal";

/* A journal and the records that were read from it. */
typedef struct holder {
  steading_journal *journal;
  steading_journal_record *records;
  size_t count, next;
} holder;

static int holder_gc(lua_State *L) {
  holder *h = lua_touserdata(L, 1);
  if (h->journal != NULL) steading_journal_close(h->journal, NULL);
  steading_journal_records_free(h->records, h->count);
  memset(h, 0, sizeof *h);
  return 0;
}

static void push_cell(lua_State *L, const steading_cell *cell) {
  if (!cell->is_text) {
    steading_lua_push_answer(L, cell->number);
    return;
  }
  /* the first character says what kind of text it was: a text or a boolean */
  if (cell->text[0] == 'b')
    lua_pushboolean(L, strcmp(cell->text + 1, "true") == 0);
  else
    lua_pushstring(L, cell->text + 1);
}

/* Iterator over the records read: index, status, cells. */
static int next_record(lua_State *L) {
  holder *h = lua_touserdata(L, lua_upvalueindex(1));
  const steading_journal_record *record = NULL;
  if (h->next >= h->count) return 0;
  record = &h->records[h->next++];
  lua_pushinteger(L, (lua_Integer)record->case_index);
  lua_pushstring(L, record->failed ? "failed" : "ok");
  lua_createtable(L, (int)record->cell_count, 0);
  for (size_t i = 0; i < record->cell_count; i++) {
    push_cell(L, &record->cells[i]);
    lua_rawseti(L, -2, (lua_Integer)i + 1);
  }
  return 3;
}

/* append(index, failed, cells) */
static int append_record(lua_State *L) {
  holder *h = lua_touserdata(L, lua_upvalueindex(1));
  steading_journal_record record = {.case_index = (size_t)luaL_checkinteger(L, 1),
                                    .failed = lua_toboolean(L, 2),
                                    .cell_count = (size_t)lua_rawlen(L, 3)};
  steading_error error = {.status = STEADING_OK};
  if (h->journal == NULL) return 0;
  luaL_checkstack(L, (int)record.cell_count + 8, "too many columns");
  record.cells = lua_newuserdatauv(L, (record.cell_count + 1) * sizeof *record.cells, 0);
  for (size_t i = 0; i < record.cell_count; i++) {
    steading_cell *cell = &record.cells[i];
    *cell = (steading_cell){.is_text = false};
    lua_rawgeti(L, 3, (lua_Integer)i + 1); /* stays on the stack: it holds the text */
    if (steading_lua_is_none(L, -1)) {
      cell->number = (double)NAN;
    } else if (lua_type(L, -1) == LUA_TNUMBER) {
      cell->number = lua_tonumber(L, -1);
    } else {
      cell->is_text = true;
      if (lua_isboolean(L, -1))
        lua_pushfstring(L, "b%s", lua_toboolean(L, -1) ? "true" : "false");
      else
        lua_pushfstring(L, "t%s", lua_tostring(L, -1));
      lua_remove(L, -2);
      cell->text = (char *)lua_tostring(L, -1);
    }
  }
  steading_engine_enter(L);
  steading_status status = steading_journal_append(h->journal, &record, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  return 0;
}

static int close_journal(lua_State *L) {
  holder *h = lua_touserdata(L, lua_upvalueindex(1));
  steading_error error = {.status = STEADING_OK};
  steading_journal *journal = h->journal;
  h->journal = NULL;
  if (journal != NULL && steading_journal_close(journal, &error) != STEADING_OK)
    return steading_lua_raise(L, &error);
  return 0;
}

/* open_journal(name, header) -> { records = iterator, append = f, close = f } */
static int host_open_journal(lua_State *L) {
  static const luaL_Reg methods[] = {
      {"records", next_record}, {"append", append_record}, {"close", close_journal}, {NULL, NULL}};
  steading_script *script = steading_script_of(L);
  const char *name = luaL_checkstring(L, 1), *header = luaL_checkstring(L, 2);
  const char *path = lua_pushfstring(L, "%s.journal", name);
  steading_error error = {.status = STEADING_OK};
  char full[2048];
  steading_status status = STEADING_OK;
  holder *h = lua_newuserdatauv(L, sizeof *h, 0);
  memset(h, 0, sizeof *h);
  steading_lua_set_gc(L, holder_type, holder_gc);
  luaL_getsubtable(L, LUA_REGISTRYINDEX, "steading.studies");
  if (lua_getfield(L, -1, name) != LUA_TNIL)
    return steading_lua_fail(L, "study.name: a study named '%s' ran already in this script", name);
  lua_pushboolean(L, 1);
  lua_setfield(L, -3, name);
  lua_pop(L, 2);
  if (!steading_script_output_path(script, path, full, sizeof full))
    return steading_lua_fail(L, "study.name: the path of the journal is too long");
  if (script->mode == STEADING_MODE_RUN) {
    steading_engine_enter(L);
    if (script->resume)
      status = steading_journal_resume(full, header, &h->journal, &h->records, &h->count, &error);
    else
      status = steading_journal_create(full, header, &h->journal, &error);
    steading_engine_leave();
    if (status != STEADING_OK) return steading_lua_raise(L, &error);
  }
  lua_createtable(L, 0, 3);
  for (const luaL_Reg *method = methods; method->name != NULL; method++) {
    lua_pushvalue(L, -2);
    lua_pushcclosure(L, method->func, 1);
    lua_setfield(L, -2, method->name);
  }
  return 1;
}

/* Script, modules, inputs, arguments, version and mathematics: what a row follows from. */
static int host_identity(lua_State *L) {
  steading_script *script = steading_script_of(L);
  luaL_Buffer b;
  char fingerprint[17];
  steading_maths_fingerprint(fingerprint);
  luaL_buffinit(L, &b);
  lua_pushfstring(L, "steading %s; mathematics %s; script %s; seed %I", STEADING_VERSION,
                  fingerprint, script->sha256, (LUAI_UACINT)script->random_seed);
  luaL_addvalue(&b);
  for (size_t i = 0; i < script->input_count; i++) {
    lua_pushfstring(L, "; input %s", script->inputs[i].sha256);
    luaL_addvalue(&b);
  }
  for (size_t i = 0; i < script->setting_count; i++) {
    lua_pushfstring(L, "; set %s=%s", script->settings[i].name, script->settings[i].value);
    luaL_addvalue(&b);
  }
  luaL_pushresult(&b);
  return 1;
}

/* A copy of the values of a function's outer locals, by position. */
static int host_outer_locals(lua_State *L) {
  const char *name = NULL;
  luaL_checktype(L, 1, LUA_TFUNCTION);
  lua_settop(L, 1);
  lua_newtable(L);
  for (int i = 1; (name = lua_getupvalue(L, 1, i)) != NULL; i++) lua_rawseti(L, 2, i);
  return 1;
}

/* The name of the first outer local that no longer holds what it held; nothing when none. */
static int host_changed_local(lua_State *L) {
  const char *name = NULL;
  lua_settop(L, 2);
  for (int i = 1; (name = lua_getupvalue(L, 1, i)) != NULL; i++) {
    lua_rawgeti(L, 2, i);
    bool both_nan = lua_type(L, -1) == LUA_TNUMBER && lua_type(L, -2) == LUA_TNUMBER &&
                    isnan(lua_tonumber(L, -1)) && isnan(lua_tonumber(L, -2));
    if (!both_nan && !lua_rawequal(L, -1, -2)) {
      lua_pushstring(L, name);
      return 1;
    }
    lua_pop(L, 2);
  }
  return 0;
}

/* run_case(case, c, index) -> true, result or false, message. The case runs in a coroutine of its
 * own with its own random stream. */
static int host_run_case(lua_State *L) {
  steading_script *script = steading_script_of(L);
  uint64_t seed = script->random_seed, at = script->random_index;
  uint32_t number = script->random_case;
  lua_State *thread = NULL, *before = NULL;
  int results = 0, status = 0;
  lua_settop(L, 3);
  steading_engine_enter(L); /* the time in Lua counts anew for every case */
  steading_engine_leave();
  thread = lua_newthread(L); /* case c index thread */
  lua_pushvalue(L, 1);
  lua_pushvalue(L, 2);
  lua_xmove(L, thread, 2);
  script->in_case = true;
  script->random_case = (uint32_t)lua_tointeger(L, 3);
  script->random_index = 0;
  before = steading_limits_thread(thread);
  status = lua_resume(thread, L, 1, &results);
  steading_limits_thread(before);
  script->in_case = false;
  script->random_seed = seed;
  script->random_case = number;
  script->random_index = at;
  lua_pushboolean(L, status == LUA_OK);
  if (status == LUA_OK) {
    if (results > 0) {
      lua_pushvalue(thread, -results);
      lua_xmove(thread, L, 1);
    } else {
      lua_pushnil(L);
    }
  } else if (status == LUA_YIELD) {
    lua_pushliteral(L, "case called coroutine.yield() outside a coroutine of its own");
  } else if (lua_type(thread, -1) == LUA_TSTRING) {
    lua_xmove(thread, L, 1);
  } else {
    lua_pushfstring(L, "(an error value of type %s)", luaL_typename(thread, -1));
  }
  lua_resetthread(thread); /* runs what the case left to be closed */
  return 2;
}

/* choose(total, n): the n cases with the smallest hash, in ascending order. */
static int host_choose(lua_State *L) {
  size_t total = (size_t)luaL_checkinteger(L, 1), n = (size_t)luaL_checkinteger(L, 2);
  size_t best[16] = {0}, found = 0;
  uint64_t hash[16] = {0};
  if (n > 16) n = 16;
  for (size_t i = 1; i <= total; i++) {
    uint64_t h = steading_random_bits(0, 0, STEADING_DRAW_SCRIPT, i);
    size_t at = found;
    if (found == n && h >= hash[n - 1]) continue;
    if (found < n) found++;
    for (at = found - 1; at > 0 && hash[at - 1] > h; at--) {
      hash[at] = hash[at - 1];
      best[at] = best[at - 1];
    }
    hash[at] = h;
    best[at] = i;
  }
  lua_newtable(L);
  for (size_t i = 1, placed = 0; i <= total && placed < found; i++)
    for (size_t k = 0; k < found; k++)
      if (best[k] == i) {
        lua_pushinteger(L, (lua_Integer)i);
        lua_rawseti(L, -2, (lua_Integer)++placed);
      }
  return 1;
}

static int report_line(lua_State *L) {
  int to = (int)lua_tointeger(L, lua_upvalueindex(1));
  size_t length = 0;
  const char *text = luaL_checklstring(L, 1, &length);
  ssize_t ignored = write(to, text, length);
  ignored = write(to, "\n", 1);
  (void)ignored;
  return 0;
}

/* The child of in_fork: never returns, writes no file and prints nothing. */
static void run_child(lua_State *L, int to) {
  steading_script_of(L)->mode = STEADING_MODE_CHECK;
  if (freopen("/dev/null", "w", stdout) == NULL) _exit(3);
  lua_pushvalue(L, 1);
  lua_pushinteger(L, to);
  lua_pushcclosure(L, report_line, 1);
  if (lua_pcall(L, 1, 0, 0) != LUA_OK) {
    const char *text = lua_tostring(L, -1);
    dprintf(to, "the repeated cases stopped: %s\n", text == NULL ? "?" : text);
  }
  fflush(stdout);
  _exit(0);
}

/* in_fork(f): runs f(report) in a forked process; what it reports is a warning here. Returns how
 * many lines were reported. */
static int host_in_fork(lua_State *L) {
  int ends[2], status = 0;
  char line[1024];
  pid_t child = 0, parent = 0;
  FILE *from = NULL;
  lua_Integer lines = 0;
  luaL_checktype(L, 1, LUA_TFUNCTION);
  fflush(NULL);
  parent = getpid();
  if (pipe(ends) != 0) return steading_lua_fail(L, "pipe: %s", strerror(errno));
  child = fork();
  if (child < 0) {
    close(ends[0]);
    close(ends[1]);
    return steading_lua_fail(L, "fork: %s", strerror(errno));
  }
  if (child == 0) {
    close(ends[0]);
    prctl(PR_SET_PDEATHSIG, SIGKILL); /* it must not outlive a parent that is killed */
    if (getppid() != parent) _exit(3);
    steading_limits_start(steading_script_of(L)); /* a timer is not inherited */
    run_child(L, ends[1]);
  }
  close(ends[1]);
  steading_engine_enter(L);
  from = fdopen(ends[0], "r");
  while (from != NULL && fgets(line, sizeof line, from) != NULL) {
    fprintf(stderr, "steading: %s", line);
    lines++;
  }
  if (from != NULL) {
    fclose(from);
  } else {
    close(ends[0]);
    fprintf(stderr, "steading: the repeated cases could not be followed\n");
    lines++;
  }
  while (waitpid(child, &status, 0) < 0 && errno == EINTR) continue;
  steading_engine_leave();
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
    fprintf(stderr, "steading: the process that repeats eight cases ended abnormally\n");
    lines++;
  }
  lua_pushinteger(L, lines);
  return 1;
}

static int host_mark_failed(lua_State *L) {
  steading_script_of(L)->study_failed = true;
  return 0;
}

static int host_in_case(lua_State *L) {
  lua_pushboolean(L, steading_script_of(L)->in_case);
  return 1;
}

static int host_only_first_case(lua_State *L) {
  lua_pushboolean(L, steading_script_of(L)->mode == STEADING_MODE_CHECK);
  return 1;
}

static int host_warn(lua_State *L) {
  fprintf(stderr, "steading: %s\n", luaL_checkstring(L, 1));
  return 0;
}

void steading_open_study(lua_State *L) {
  static const luaL_Reg host[] = {{"open_journal", host_open_journal},
                                  {"identity", host_identity},
                                  {"outer_locals", host_outer_locals},
                                  {"changed_local", host_changed_local},
                                  {"run_case", host_run_case},
                                  {"choose", host_choose},
                                  {"in_fork", host_in_fork},
                                  {"mark_failed", host_mark_failed},
                                  {"only_first_case", host_only_first_case},
                                  {"in_case", host_in_case},
                                  {"fail", steading_host_fail},
                                  {"warn", host_warn},
                                  {"strict", steading_host_strict},
                                  {"nearest", steading_host_nearest},
                                  {NULL, NULL}};
  if (luaL_loadbufferx(L, (const char *)steading_library_study, sizeof steading_library_study,
                       "=study", "t") != LUA_OK)
    lua_error(L);
  luaL_newlib(L, host); /* module chunk host */
  lua_getfield(L, -3, "frame");
  steading_lua_push_none(L);
  lua_call(L, 3, 1); /* module study */
  lua_setfield(L, -2, "study");
}
