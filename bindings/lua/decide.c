/* rules.decide: functions of a script that sites hold, and their calls from the step loop.
 *
 * The registry keeps a function as long as a record of a site or a tree of values owns it. When the
 * last owner goes, often in a finalizer, it is put on a list; the next function that is held, or
 * the end of the script, clears the list. */
#include "dispatch/decide.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"
#include "script.h"
#include "site/fields.h"
#include "site/function.h"

typedef struct held {
  steading_function base; /* first: a pointer to it is one to this */
  int reference;          /* in the registry */
  struct held *next;
} held;

static held *without_owner = NULL;
static size_t last_number = 0;

static const char owner_type[] = "steading.function";

/* --- holding -----------------------------------------------------------------------------------
 */

static void gone(steading_function *function) {
  held *h = (held *)function;
  h->next = without_owner;
  without_owner = h;
}

static void clear_list(lua_State *L) {
  while (without_owner != NULL) {
    held *h = without_owner;
    without_owner = h->next;
    if (L != NULL) luaL_unref(L, LUA_REGISTRYINDEX, h->reference);
    free(h);
  }
}

void steading_lua_forget_functions(void) { clear_list(NULL); }

static int owner_gc(lua_State *L) {
  held **owner = lua_touserdata(L, 1);
  if (*owner != NULL) steading_function_release(&(*owner)->base);
  *owner = NULL;
  return 0;
}

static steading_status decide(steading_function *function, const steading_decide_step *step,
                              steading_decision *decision, steading_error *error);

steading_function *steading_lua_hold_function(lua_State *L, int index, int holder) {
  held **owner = NULL, *made = NULL;
  index = lua_absindex(L, index);
  luaL_checkstack(L, 8, "tables are nested too deeply");
  clear_list(L);
  if (lua_getiuservalue(L, holder, 1) != LUA_TTABLE) { /* owners */
    lua_pop(L, 1);
    lua_newtable(L);
    lua_pushvalue(L, -1);
    lua_setiuservalue(L, holder, 1);
  }
  owner = lua_newuserdatauv(L, sizeof *owner, 0); /* owners owner */
  *owner = NULL;
  steading_lua_set_gc(L, owner_type, owner_gc);
  lua_rawseti(L, -2, (lua_Integer)lua_rawlen(L, -2) + 1); /* owners */
  made = calloc(1, sizeof *made);
  if (made == NULL) steading_lua_fail(L, "not enough memory");
  made->base =
      (steading_function){.references = 1, .number = ++last_number, .decide = decide, .gone = gone};
  made->reference = LUA_NOREF;
  *owner = made;
  lua_pushvalue(L, index);
  made->reference = luaL_ref(L, LUA_REGISTRYINDEX);
  lua_pop(L, 1);
  return &made->base;
}

void steading_lua_push_function(lua_State *L, steading_function *function) {
  lua_rawgeti(L, LUA_REGISTRYINDEX, ((held *)function)->reference);
}

/* --- a call ------------------------------------------------------------------------------------
 */

typedef struct call {
  held *function;
  const steading_decide_step *step;
  steading_decision *decision;
  struct told *told;
  const steading_decide_step *outer; /* of the call in which this one runs, or NULL */
} call;

/* What a function is told: one object for all calls, which holds the step of the call at hand. */
typedef struct told {
  const steading_decide_step *step; /* NULL: no call is under way */
} told;

static const char told_type[] = "steading.now";

static const struct {
  const char *name;
  size_t offset;
  bool is_whole;
} numbers_told[] = {
#define WHOLE_whole true
#define WHOLE_real false
#define NUMBER_TOLD(name, how) {#name, offsetof(steading_decide_step, name), WHOLE_##how},
    STEADING_DECIDE_STEP_LIST(NUMBER_TOLD)
#undef NUMBER_TOLD
#undef WHOLE_real
#undef WHOLE_whole
};

enum {
  NUMBERS_TOLD = sizeof numbers_told / sizeof numbers_told[0],
  TOLD_HUB = NUMBERS_TOLD,
  TOLD_GRID_UP,
  TOLD_GENERATOR_ON,
  TOLD_TANK_SHARES,
  THINGS_TOLD
};

static const char *name_told(int at) {
  static const char *const others[] = {"hub", "grid_up", "generator_on", "tank_shares"};
  return at < NUMBERS_TOLD ? numbers_told[at].name : others[at - NUMBERS_TOLD];
}

static void push_tanks(lua_State *L, const steading_decide_step *s) {
  lua_createtable(L, 0, (int)s->tank_count);
  for (size_t t = 0; t < s->tank_count; t++) {
    lua_pushnumber(L, s->tank_shares[t]);
    lua_setfield(L, -2, s->tank_names[t]);
  }
  steading_lua_strict(L, "now.tank_shares");
}

/* Upvalue: the index of each name. */
static int told_index(lua_State *L) {
  const steading_decide_step *s = ((const told *)lua_touserdata(L, 1))->step;
  int at = 0;
  lua_pushvalue(L, 2);
  if (lua_rawget(L, lua_upvalueindex(1)) != LUA_TNUMBER) {
    const char *names[THINGS_TOLD + 1] = {NULL};
    for (int i = 0; i < THINGS_TOLD; i++) names[i] = name_told(i);
    return steading_lua_unknown(L, "now", luaL_tolstring(L, 2, NULL), names);
  }
  at = (int)lua_tointeger(L, -1);
  if (s == NULL)
    return steading_lua_fail(L, "now.%s: the step of rules.decide is over: keep the number instead",
                             name_told(at));
  if (at < NUMBERS_TOLD) {
    double number = *(const double *)(const void *)((const char *)s + numbers_told[at].offset);
    if (numbers_told[at].is_whole)
      lua_pushinteger(L, (lua_Integer)number);
    else
      lua_pushnumber(L, number);
  } else if (at == TOLD_HUB) {
    lua_pushstring(L, s->hub);
  } else if (at == TOLD_TANK_SHARES) {
    push_tanks(L, s);
  } else {
    lua_pushboolean(L, at == TOLD_GRID_UP ? s->grid_up : s->generator_on);
  }
  return 1;
}

/* Push the object that is told. */
static told *push_told(lua_State *L) {
  told *made = NULL;
  if (lua_getfield(L, LUA_REGISTRYINDEX, told_type) == LUA_TUSERDATA) return lua_touserdata(L, -1);
  lua_pop(L, 1);
  made = lua_newuserdatauv(L, sizeof *made, 0); /* told */
  made->step = NULL;
  lua_createtable(L, 0, 3);           /* told metatable */
  lua_createtable(L, 0, THINGS_TOLD); /* told metatable names */
  for (int i = 0; i < THINGS_TOLD; i++) {
    lua_pushinteger(L, i);
    lua_setfield(L, -2, name_told(i));
  }
  lua_pushcclosure(L, told_index, 1);
  lua_setfield(L, -2, "__index");
  lua_pushliteral(L, "protected");
  lua_setfield(L, -2, "__metatable");
  lua_pushliteral(L, "now");
  lua_setfield(L, -2, "__name");
  lua_setmetatable(L, -2);
  lua_pushvalue(L, -1);
  lua_setfield(L, LUA_REGISTRYINDEX, told_type);
  return made;
}

/* An error without the place of a line: that of the call into the engine is added once. */
static int fail(lua_State *L, const char *format, ...) __attribute__((noreturn));
static int fail(lua_State *L, const char *format, ...) {
  va_list list;
  va_start(list, format);
  lua_pushvfstring(L, format, list);
  va_end(list);
  lua_error(L);
  abort(); /* Lua does not come back, which its header does not tell the compiler */
}

/* A value of an answer as it is shown: numbers and texts as they are, else the type. */
static const char *shown(lua_State *L, int index) {
  if (lua_isboolean(L, index)) return lua_toboolean(L, index) ? "true" : "false";
  if (lua_type(L, index) == LUA_TSTRING)
    return lua_pushfstring(L, "\"%s\"", lua_tostring(L, index));
  if (lua_type(L, index) == LUA_TNUMBER && isnan(lua_tonumber(L, index))) return "NaN";
  if (lua_type(L, index) == LUA_TNUMBER) return luaL_tolstring(L, index, NULL);
  return lua_pushfstring(L, "a %s", luaL_typename(L, index));
}

/* The number on top of the stack, 0..most. */
static double number_of(lua_State *L, const char *name, double most) {
  double number = lua_type(L, -1) == LUA_TNUMBER ? lua_tonumber(L, -1) : (double)NAN;
  if (number >= 0 && number <= most) return number;
  if (isfinite(most)) fail(L, "%s: found %s, expected a share, 0 to 1", name, shown(L, -1));
  return fail(L, "%s: found %s, expected a number, 0 or more", name, shown(L, -1));
}

static double read_discharge(lua_State *L, const char *name) {
  if (lua_isboolean(L, -1)) return lua_toboolean(L, -1) ? (double)INFINITY : 0;
  if (lua_type(L, -1) == LUA_TNUMBER) return number_of(L, name, (double)INFINITY);
  return fail(L, "%s: found %s, expected true, false or kW", name, shown(L, -1));
}

static int read_generator(lua_State *L, const char *name) {
  const char *word = lua_type(L, -1) == LUA_TSTRING ? lua_tostring(L, -1) : "";
  if (strcmp(word, "on") == 0) return STEADING_GENERATOR_TO_RUN;
  if (strcmp(word, "off") == 0) return STEADING_GENERATOR_TO_REST;
  if (strcmp(word, "auto") == 0) return STEADING_GENERATOR_BY_RULES;
  return fail(L, "%s: found %s, expected \"on\", \"off\" or \"auto\"", name, shown(L, -1));
}

/* The list on top of the stack: classes that are shed. */
static void read_shed(lua_State *L, const char *name, steading_decision *d) {
  size_t keys = 0;
  if (lua_type(L, -1) != LUA_TTABLE)
    fail(L, "%s: found %s, expected a list such as { \"sheddable\" }", name, shown(L, -1));
  d->says_shed = true;
  for (lua_pushnil(L); lua_next(L, -2) != 0; lua_pop(L, 1)) {
    bool known = false;
    keys++;
    for (size_t c = 0; c < STEADING_SHED_CLASSES && lua_type(L, -1) == LUA_TSTRING; c++)
      if (strcmp(lua_tostring(L, -1), steading_choices_class[c]) == 0) known = d->shed[c] = true;
    if (!known)
      fail(L, "%s: found %s, expected \"ordinary\", \"deferrable\" or \"sheddable\"", name,
           shown(L, -1));
  }
  if (keys != (size_t)lua_rawlen(L, -1))
    fail(L, "%s: expected a list without named fields or gaps", name);
}

static void read_answer(lua_State *L, steading_decision *d) {
  static const char *const names[] = {"battery_floor", "discharge", "charge_from_grid_kw",
                                      "charge_to",     "generator", "shed"};
  enum { NAMES = sizeof names / sizeof names[0] };
  if (lua_isnil(L, -1)) return;
  if (lua_type(L, -1) != LUA_TTABLE) fail(L, "found %s, expected a table or nothing", shown(L, -1));
  for (lua_pushnil(L); lua_next(L, -2) != 0; lua_pop(L, 1)) {
    int at = -1, nearest = -1;
    const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tostring(L, -2) : NULL;
    for (int i = 0; key != NULL && i < NAMES; i++)
      if (strcmp(key, names[i]) == 0) at = i;
    if (key != NULL && at < 0) nearest = steading_nearest_name(key, names, NAMES);
    switch (at) {
      case 0:
        d->battery_floor = number_of(L, key, 1);
        break;
      case 1:
        d->discharge_kw = read_discharge(L, key);
        break;
      case 2:
        d->charge_from_grid_kw = number_of(L, key, (double)INFINITY);
        break;
      case 3:
        d->charge_to = number_of(L, key, 1);
        break;
      case 4:
        d->generator = read_generator(L, key);
        break;
      case 5:
        read_shed(L, key, d);
        break;
      default:
        if (key == NULL) fail(L, "found the key %s in the answer", shown(L, -2));
        if (nearest < 0) fail(L, "%s: unknown field", key);
        fail(L, "%s: unknown field (did you mean '%s'?)", key, names[nearest]);
    }
  }
}

/* Called with a call; nothing else of Lua is between it and the engine. */
static int protected_call(lua_State *L) {
  call *c = lua_touserdata(L, 1);
  steading_lua_push_function(L, &c->function->base);
  c->told = push_told(L); /* the registry keeps it */
  c->outer = c->told->step;
  c->told->step = c->step;
  lua_call(L, 1, 1);
  read_answer(L, c->decision);
  return 0;
}

static steading_status decide(steading_function *function, const steading_decide_step *step,
                              steading_decision *decision, steading_error *error) {
  lua_State *L = steading_engine_thread();
  call c = {.function = (held *)function, .step = step, .decision = decision};
  int status = LUA_OK;
  if (!lua_checkstack(L, 4))
    return steading_fail(error, STEADING_NO_MEMORY, NULL, "not enough memory");
  steading_engine_leave();
  lua_pushcfunction(L, protected_call);
  lua_pushlightuserdata(L, &c);
  status = lua_pcall(L, 1, 0, 0);
  if (c.told != NULL) c.told->step = c.outer;
  steading_engine_enter(L);
  if (status == LUA_OK) return STEADING_OK;
  if (lua_type(L, -1) != LUA_TSTRING)
    steading_fail(error, STEADING_BAD_INPUT, NULL, "(an error value of type %s)",
                  luaL_typename(L, -1));
  else if (strstr(lua_tostring(L, -1), "attempt to yield") != NULL)
    steading_fail(error, STEADING_BAD_INPUT, NULL,
                  "the function called coroutine.yield(): it has to return its answer");
  else
    steading_fail(error, STEADING_BAD_INPUT, NULL, "%.600s", lua_tostring(L, -1));
  lua_pop(L, 1);
  return STEADING_BAD_INPUT;
}
