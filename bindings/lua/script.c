/* Running one script from its first line to its exit status. */
#include "script.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "files/files.h"

steading_script *steading_script_of(lua_State *L) {
  return *(steading_script **)lua_getextraspace(L);
}

double steading_monotonic_s(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

bool steading_script_input(steading_script *script, const char *path, const char *sha256) {
  steading_input *more = NULL;
  for (size_t i = 0; i < script->input_count; i++)
    if (strcmp(script->inputs[i].path, path) == 0 && strcmp(script->inputs[i].sha256, sha256) == 0)
      return true;
  more = realloc(script->inputs, (script->input_count + 1) * sizeof *more);
  if (more == NULL) return false;
  script->inputs = more;
  more = &script->inputs[script->input_count];
  more->path = strdup(path);
  if (more->path == NULL) return false;
  memcpy(more->sha256, sha256, sizeof more->sha256);
  script->input_count++;
  return true;
}

bool steading_script_output_path(const steading_script *script, const char *path, char *full,
                                 size_t size) {
  int length = 0;
  if (path[0] == '/' || script->out == NULL || script->out[0] == '\0')
    length = snprintf(full, size, "%s", path);
  else
    length = snprintf(full, size, "%s/%s", script->out, path);
  return length >= 0 && (size_t)length + 16 < size; /* room for the endings of other files */
}

/* The message of an error value of any type. */
static int message_handler(lua_State *L) {
  if (lua_type(L, 1) == LUA_TNUMBER) luaL_tolstring(L, 1, NULL);
  if (lua_type(L, -1) != LUA_TSTRING) {
    if (luaL_callmeta(L, 1, "__tostring") && lua_type(L, -1) == LUA_TSTRING) return 1;
    lua_pushfstring(L, "(an error value of type %s)", luaL_typename(L, 1));
    return 1;
  }
  return 1;
}

static int load_and_run(lua_State *L) {
  steading_script *script = steading_script_of(L);
  char *bytes = lua_touserdata(L, 1);
  size_t length = (size_t)lua_tointeger(L, 2);
  steading_open_environment(L);        /* globals */
  if (length > 0 && bytes[0] == '#') { /* a first line for the system; its line break stays */
    char *rest = memchr(bytes, '\n', length);
    length = rest == NULL ? 0 : length - (size_t)(rest - bytes);
    bytes = rest == NULL ? bytes : rest;
  }
  if (luaL_loadbufferx(L, bytes, length, lua_pushfstring(L, "@%s", script->path), "t") != LUA_OK)
    return lua_error(L);
  lua_getfield(L, LUA_REGISTRYINDEX, "steading.globals");
  lua_setupvalue(L, -2, 1);
  steading_limits_start(script);
  lua_call(L, 0, 0);
  return 0;
}

static int make_folder(const char *path) {
  struct stat st;
  if (path == NULL || path[0] == '\0') return 0;
  if (mkdir(path, 0777) != 0 && errno != EEXIST) {
    fprintf(stderr, "steading: --out %s: %s\n", path, strerror(errno));
    return 2;
  }
  if (stat(path, &st) != 0 || !S_ISDIR(st.st_mode)) {
    fprintf(stderr, "steading: --out %s: is not a folder\n", path);
    return 2;
  }
  return 0;
}

static int unused_settings(const steading_script *script) {
  for (size_t i = 0; i < script->setting_count; i++) {
    if (script->settings[i].used) continue;
    fprintf(stderr, "steading: --set %s: %s asks for no such argument and ran without it\n",
            script->settings[i].name, script->path);
    return 2;
  }
  return 0;
}

static int end_status(steading_script *script) {
  int status = script->args_declared ? 0 : unused_settings(script);
  if (status == 0 && script->strict && script->warning_count > 0) {
    fprintf(stderr, "steading: %zu warning%s (--strict)\n", script->warning_count,
            script->warning_count == 1 ? "" : "s");
    status = 2;
  }
  if (status == 0 && script->study_failed) status = 1;
  return status;
}

int steading_script_run(steading_script *script) {
  steading_error error = {.status = STEADING_OK};
  const char *slash = strrchr(script->path, '/');
  lua_State *L = NULL;
  char *bytes = NULL;
  size_t length = 0;
  int status = 0;
  script->started_s = steading_monotonic_s();
  if (slash == NULL)
    snprintf(script->folder, sizeof script->folder, ".");
  else
    snprintf(script->folder, sizeof script->folder, "%.*s", (int)(slash - script->path),
             script->path);
  if (steading_file_read(script->path, &bytes, &length, &error) != STEADING_OK) {
    fprintf(stderr, "steading: %s: %s\n", error.path, error.text);
    return 2;
  }
  if (script->mode == STEADING_MODE_RUN && make_folder(script->out) != 0) {
    free(bytes);
    return 2;
  }
  steading_sha256(bytes, length, script->sha256);
  L = lua_newstate(steading_script_allocate, script);
  if (L == NULL) {
    free(bytes);
    fprintf(stderr, "steading: not enough memory\n");
    return 3;
  }
  script->L = L;
  *(steading_script **)lua_getextraspace(L) = script;
  lua_pushcfunction(L, message_handler);
  lua_pushcfunction(L, load_and_run);
  lua_pushlightuserdata(L, bytes);
  lua_pushinteger(L, (lua_Integer)length);
  if (lua_pcall(L, 2, 0, 1) != LUA_OK) {
    const char *text = lua_tostring(L, -1);
    if (script->mode != STEADING_MODE_HELP || !script->args_declared) {
      fflush(stdout);
      fprintf(stderr, "steading: %s\n", text);
      status = script->fault ? 3 : 2;
    }
  }
  steading_limits_stop();
  if (status == 0 && script->mode == STEADING_MODE_HELP && !script->args_declared)
    puts("  (none: the script has no steading.args)");
  if (status == 0 && script->mode != STEADING_MODE_HELP) status = end_status(script);
  lua_close(L);
  steading_lua_forget_functions();
  free(bytes);
  for (size_t i = 0; i < script->input_count; i++) free(script->inputs[i].path);
  free(script->inputs);
  if (fflush(stdout) != 0 && script->output_errno == 0) script->output_errno = errno;
  if (script->output_errno != 0 && status == 0) {
    fprintf(stderr, "steading: standard output: %s\n", strerror(script->output_errno));
    status = 2;
  }
  return status;
}
