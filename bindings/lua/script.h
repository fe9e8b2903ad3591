/* The script at work: what the files of this folder share.
 *
 * Rule of this folder: no malloc result is live across a Lua call that can raise. Everything that a
 * raise must not leak is held by a userdata that the collector frees. */
#ifndef STEADING_LUA_SCRIPT_H
#define STEADING_LUA_SCRIPT_H

#include <lauxlib.h>
#include <lua.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>

#include "arena.h"
#include "files/table.h"
#include "site/spec.h"
#include "site/value.h"
#include "status.h"

_Static_assert(LUA_VERSION_NUM == 504, "written for Lua 5.4");

typedef enum steading_mode {
  STEADING_MODE_RUN,
  STEADING_MODE_CHECK, /* nothing is written; of a study the first case alone */
  STEADING_MODE_HELP   /* up to steading.args, whose names are printed */
} steading_mode;

typedef struct steading_input {
  char *path;
  char sha256[65];
} steading_input;

typedef struct steading_setting {
  const char *name, *value;
  bool used;
} steading_setting;

/* One script and everything that belongs to its run. */
typedef struct steading_script {
  lua_State *L;
  steading_mode mode;
  const char *path;  /* as given */
  char folder[1024]; /* where `require` looks; "." or without a trailing slash */
  char sha256[65];   /* of the script and of the modules it required, in order */
  const char *out;   /* folder for relative output paths */
  bool resume, strict;
  double limit_s; /* seconds in Lua between two engine calls */
  size_t memory_limit, memory_used;
  steading_setting *settings;
  size_t setting_count;
  bool args_declared;
  steading_input *inputs;
  size_t input_count;
  double started_s; /* monotonic clock */
  bool in_case;     /* a case of a study runs: no clock, its own random stream */
  uint64_t random_seed, random_index;
  uint32_t random_case;
  size_t warning_count;
  bool study_failed; /* a case failed, or answered differently alone */
  int output_errno;  /* the first error of standard output */
  int fault;         /* the status of the last error was a fault of ours */
} steading_script;

/* The script that a state belongs to. */
steading_script *steading_script_of(lua_State *L);

/* Run a script; the process's exit status: 0 fine, 1 a study ran but cases failed or answered
 * differently alone, 2 bad usage, script or input, 3 a fault of ours. */
int steading_script_run(steading_script *script);

/* --- limits.c --- */
void *steading_script_allocate(void *context, void *pointer, size_t old_size, size_t new_size);
void steading_limits_start(steading_script *script);
void steading_limits_stop(void);
/* Around a call into the engine: time in it does not count. They nest. What the engine calls back
 * runs in the thread that entered last. */
void steading_engine_enter(lua_State *L);
void steading_engine_leave(void);
lua_State *steading_engine_thread(void);
/* The thread that runs now, for the alarm; returns the one before. */
lua_State *steading_limits_thread(lua_State *L);

/* --- value.c --- */
/* The value at a stack index as a tree in a new arena, which is left on top of the stack (a
 * userdata) and must stay there while the tree is in use. Raises for what no spec could read. */
const steading_value *steading_lua_value(lua_State *L, int index, const char *path);
/* Push an empty arena, held by a userdata that the collector frees. */
steading_arena *steading_lua_push_arena(lua_State *L);
/* Push a tree as plain tables and values that a script may change. */
void steading_lua_push_tree(lua_State *L, const steading_value *value);
/* Raise an error with the position of the line of the script that is being run: as luaL_error. */
int steading_lua_fail(lua_State *L, const char *format, ...) __attribute__((noreturn));
/* Raise an error with that position, path and text. */
int steading_lua_raise(lua_State *L, const steading_error *error) __attribute__((noreturn));
/* Read the table at `index` (nil is an empty table) by a spec into a record held by a userdata that
 * is pushed. */
const void *steading_lua_read(lua_State *L, int index, const steading_spec *spec, const char *path);
/* The unique value steading.none. */
void steading_lua_push_none(lua_State *L);
bool steading_lua_is_none(lua_State *L, int index);
/* A result number: infinity is math.huge, NaN is steading.none. */
void steading_lua_push_answer(lua_State *L, double number);
/* Replace the table on top of the stack by its read-only, strict form: an unknown key raises with
 * the nearest name, an assignment raises. `what` names it in messages. */
void steading_lua_strict(lua_State *L, const char *what);
/* The same, with names (NULL-terminated) that a later version has: reading one raises 'not yet'. */
void steading_lua_strict_later(lua_State *L, const char *what, const char *const *later);
/* Replace a read-only table on top of the stack by what it holds; any other value stays. */
void steading_lua_content(lua_State *L);
/* Raise when a function was given more than `most` arguments: none is ignored. */
void steading_lua_no_more(lua_State *L, int most, const char *function);
/* Give the userdata on top of the stack a metatable named `type` with the finalizer `gc`. */
void steading_lua_set_gc(lua_State *L, const char *type, lua_CFunction gc);
/* Raise for a field that a userdata does not have, with the nearest of the names. */
int steading_lua_unknown(lua_State *L, const char *what, const char *name, const char *const *names)
    __attribute__((noreturn));

/* For the library's Lua files: strict(table, what), nearest(word, names) and fail(text). */
int steading_host_strict(lua_State *L);
int steading_host_nearest(lua_State *L);
int steading_host_fail(lua_State *L);
/* Pushes the functions of library/check.lua, for the other files of the library. */
void steading_lua_push_check(lua_State *L);

/* --- decide.c --- */
struct steading_function;
/* The function at an index as sites hold it; the userdata at `holder` owns it beside them. */
struct steading_function *steading_lua_hold_function(lua_State *L, int index, int holder);
void steading_lua_push_function(lua_State *L, struct steading_function *function);
/* After the state is closed: frees what nobody owns any more. */
void steading_lua_forget_functions(void);

/* --- one opener or pusher per concept --- */
void steading_open_environment(lua_State *L); /* pushes the environment of scripts */
void steading_open_weather(lua_State *L);     /* each of these pushes the tables it adds to the */
void steading_open_site(lua_State *L);        /* module, which is on top of the stack */
void steading_open_run(lua_State *L);
void steading_open_frame(lua_State *L);
void steading_open_money(lua_State *L);
void steading_open_primitives(lua_State *L);
void steading_open_battery(lua_State *L);
void steading_open_study(lua_State *L);
int steading_open_module(lua_State *L); /* pushes the module `steading` */

/* Pushes an empty frame of `count` columns and returns its table, to be filled; the frame owns it.
 * `site_name` and `currency` (may be NULL) stand in the file beside a written frame. */
steading_table *steading_lua_push_frame(lua_State *L, size_t count, const char *const *names,
                                        const bool *is_text, const char *site_name,
                                        const char *currency);

/* Add a row to the table of a frame: what columns of numbers get of `cells` and columns of texts of
 * `texts` (NULL: an empty cell), each [columns]. */
void steading_lua_add_row(lua_State *L, steading_table *table, const double *cells,
                          const char *const *texts);

/* The frame on top of the stack (anything else stays as it is) is a result of the run at an index:
 * what the run warns of and assumes is written beside it. */
void steading_lua_frame_of_run(lua_State *L, int run);

/* Give the frame below the top of the stack the method on top of it, which is popped, beside those
 * of every frame. One a frame; a frame that is made of this one does not have it. */
void steading_lua_frame_method(lua_State *L, const char *name);

struct steading_weather;
struct steading_weather *steading_lua_weather(lua_State *L, int index); /* NULL if it is none */
struct steading_site;
const struct steading_site *steading_lua_site(lua_State *L, int index);
/* Push a frame of what a site rests on: path, value, unit, given_or_default, source. */
void steading_lua_push_assumptions(lua_State *L, const struct steading_site *site);
struct steading_run;
const struct steading_run *steading_lua_run(lua_State *L, int index); /* NULL if it is none */
/* --- bills.c --- */
void steading_open_bills(lua_State *L);
/* Push the frames run.bills and run.credits. */
void steading_lua_push_bills(lua_State *L, const struct steading_run *run);
void steading_lua_push_credits(lua_State *L, const struct steading_run *run);
/* --- buildings.c --- */
/* Push the frame run.buildings. */
void steading_lua_push_buildings(lua_State *L, const struct steading_run *run);
/* --- fuel.c --- */
/* Set the table `fuel` of the module on top of the stack. */
void steading_open_fuel(lua_State *L);
/* Push the frame run.fuel. */
void steading_lua_push_fuel(lua_State *L, const struct steading_run *run);
void steading_lua_push_batteries(lua_State *L, const struct steading_run *run);
/* --- classes.c --- */
/* Push the frame run.classes. */
void steading_lua_push_classes(lua_State *L, const struct steading_run *run);

/* --- losses.c --- */
/* Push the frames run.losses and run.performance. */
void steading_lua_push_losses(lua_State *L, const struct steading_run *run);
void steading_lua_push_performance(lua_State *L, const struct steading_run *run);
/* --- additions.c --- */
/* Push the method site:additions. */
void steading_lua_push_additions(lua_State *L);
/* run:appraise: arguments run and options at 1 and 2. */
int steading_lua_appraise(lua_State *L);
/* --- asked.c --- */
/* Push the method of a run that asks for single steps, such as `events`; false for another name. */
bool steading_lua_push_asked(lua_State *L, const char *name);
/* The instant, ISO 8601 with the offset of standard time, at which a step of a run begins. */
void steading_lua_time(const struct steading_run *run, size_t step, char *text, size_t size);
/* The zone of a name, read once a script and kept by it; NULL for the empty name. */
struct steading_zone;
const struct steading_zone *steading_lua_zone(lua_State *L, const char *name);
/* site:ride_through: arguments site and options at 1 and 2. */
int steading_lua_ride_through(lua_State *L);
/* Simulate: arguments site and options at 1 and 2. */
int steading_lua_simulate(lua_State *L);

/* Remember a file that was read, for the companion files and the header of a journal. */
bool steading_script_input(steading_script *script, const char *path, const char *sha256);
/* `path` under --out when it is relative; false when it does not fit. */
bool steading_script_output_path(const steading_script *script, const char *path, char *full,
                                 size_t size);
double steading_monotonic_s(void);

#endif
