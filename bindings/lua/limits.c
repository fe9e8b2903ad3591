/* What a script may use: memory by an allocator that counts, time in Lua by an alarm.
 *
 * The alarm counts ticks only while Lua runs between two calls into the engine. When they are used
 * up a hook is planted in the thread that runs; it raises, line after line, so that a pcall around
 * a loop does not swallow it. After three more seconds without an end the process stops here. These
 * limits guard against mistakes; they are no boundary against a hostile script. */
#include <stdlib.h>
#include <string.h>
#include <sys/time.h>
#include <unistd.h>

#include "script.h"

enum { TICKS_PER_S = 4, GRACE_TICKS = 12 };

/* The alarm needs what a signal handler can reach: one script a process. */
static volatile sig_atomic_t in_engine = 0;
static volatile sig_atomic_t ticks = 0;
static volatile sig_atomic_t most_ticks = 0;
static lua_State *volatile running = NULL;
static lua_State *entered = NULL; /* the thread that called into the engine last */
static char last_words[256];

void *steading_script_allocate(void *context, void *pointer, size_t old_size, size_t new_size) {
  steading_script *script = context;
  void *moved = NULL;
  if (pointer == NULL) old_size = 0; /* then it is a tag, not a size */
  if (new_size == 0) {
    free(pointer);
    script->memory_used -= old_size;
    return NULL;
  }
  if (new_size > old_size && script->memory_used - old_size + new_size > script->memory_limit)
    return NULL;
  moved = realloc(pointer, new_size);
  if (moved == NULL) return NULL;
  script->memory_used += new_size - old_size;
  return moved;
}

static void hook(lua_State *L, lua_Debug *ar) {
  (void)ar;
  lua_sethook(L, hook, LUA_MASKLINE | LUA_MASKCOUNT, 1);
  steading_lua_fail(L, "the script ran %f s in Lua without a call into the engine",
                    (lua_Number)most_ticks / TICKS_PER_S);
}

static void on_alarm(int signal_number) {
  (void)signal_number;
  if (in_engine) return;
  if (++ticks < most_ticks) return;
  if (ticks >= most_ticks + GRACE_TICKS) {
    ssize_t ignored = write(STDERR_FILENO, last_words, strlen(last_words));
    (void)ignored;
    _exit(2);
  }
  if (running != NULL) lua_sethook(running, hook, LUA_MASKLINE | LUA_MASKCOUNT, 1);
}

void steading_limits_start(steading_script *script) {
  struct sigaction action = {.sa_handler = on_alarm, .sa_flags = SA_RESTART};
  struct itimerval every = {{0, 1000000 / TICKS_PER_S}, {0, 1000000 / TICKS_PER_S}};
  snprintf(last_words, sizeof last_words,
           "steading: %.100s: stopped: %g s in Lua without a call into the engine\n", script->path,
           script->limit_s);
  in_engine = 0;
  ticks = 0;
  most_ticks = (sig_atomic_t)(script->limit_s * TICKS_PER_S + 0.5);
  running = script->L;
  sigemptyset(&action.sa_mask);
  sigaction(SIGALRM, &action, NULL);
  setitimer(ITIMER_REAL, &every, NULL);
}

void steading_limits_stop(void) {
  struct itimerval never = {{0, 0}, {0, 0}};
  setitimer(ITIMER_REAL, &never, NULL);
  running = NULL;
}

void steading_engine_enter(lua_State *L) {
  entered = L;
  in_engine++;
}

lua_State *steading_engine_thread(void) { return entered; }

void steading_engine_leave(void) {
  ticks = 0;
  in_engine--;
}

lua_State *steading_limits_thread(lua_State *L) {
  lua_State *before = running;
  running = L;
  return before;
}
