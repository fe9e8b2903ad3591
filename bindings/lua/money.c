/* steading.money: the time value of money. Where no answer exists these return nil and a reason. */
#include "ledger/money.h"

#include <math.h>

#include "script.h"

enum { MOST_FLOWS = 256, MOST_ROOTS = 64 };

static int push_result(lua_State *L, double value) {
  if (!isfinite(value)) return steading_lua_fail(L, "the result is beyond what a number can hold");
  lua_pushnumber(L, value);
  return 1;
}

static double check_rate(lua_State *L, int index) {
  double rate = luaL_checknumber(L, index);
  luaL_argcheck(L, rate > -1 && rate <= 10, index,
                "expected a rate as a share, above -1 (0.05 is 5 %)");
  return rate;
}

static double check_count(lua_State *L, int index) {
  double count = luaL_checknumber(L, index);
  luaL_argcheck(L, count >= 0 && count <= 10000, index, "expected a number of periods, 0..10000");
  return count;
}

static size_t check_flows(lua_State *L, int index, double *flows) {
  size_t count = 0;
  luaL_checktype(L, index, LUA_TTABLE);
  count = (size_t)lua_rawlen(L, index);
  luaL_argcheck(L, count > 0 && count <= MOST_FLOWS, index, "expected a list of 1..256 flows");
  for (size_t i = 0; i < count; i++) {
    if (lua_rawgeti(L, index, (lua_Integer)i + 1) != LUA_TNUMBER)
      steading_lua_fail(L, "flows[%I]: found %s, expected a number", (LUAI_UACINT)i + 1,
                        luaL_typename(L, -1));
    flows[i] = lua_tonumber(L, -1);
    if (!isfinite(flows[i]))
      steading_lua_fail(L, "flows[%I]: expected a finite number", (LUAI_UACINT)i + 1);
    lua_pop(L, 1);
  }
  return count;
}

static int money_npv(lua_State *L) {
  double flows[MOST_FLOWS], rate = check_rate(L, 1);
  size_t count = check_flows(L, 2, flows);
  return push_result(L, steading_money_npv(rate, flows, count));
}

static int money_irr(lua_State *L) {
  double flows[MOST_FLOWS], roots[MOST_ROOTS], rate = 0;
  size_t count = check_flows(L, 1, flows), found = 0;
  steading_money_answer answer = steading_money_irr(flows, count, &rate, roots, MOST_ROOTS, &found);
  if (answer == STEADING_MONEY_FOUND) {
    lua_pushnumber(L, rate);
    return 1;
  }
  lua_pushnil(L);
  lua_pushstring(L, steading_money_answer_text(answer));
  if (answer != STEADING_MONEY_SEVERAL_ROOTS) return 2;
  lua_newtable(L);
  for (size_t i = 0; i < found && i < MOST_ROOTS; i++) {
    lua_pushnumber(L, roots[i]);
    lua_rawseti(L, -2, (lua_Integer)i + 1);
  }
  return 3;
}

static int money_payment(lua_State *L) {
  double rate = check_rate(L, 1), periods = check_count(L, 2), principal = luaL_checknumber(L, 3);
  luaL_argcheck(L, periods > 0, 2, "expected at least one period");
  luaL_argcheck(L, isfinite(principal), 3, "expected a finite number");
  return push_result(L, steading_money_payment(rate, periods, principal));
}

static int money_present_value(lua_State *L) {
  return push_result(L, steading_money_present_value(check_rate(L, 1), check_count(L, 2)));
}

static int money_uniform_present_value(lua_State *L) {
  return push_result(L, steading_money_uniform_present_value(check_rate(L, 1), check_count(L, 2)));
}

static int money_escalated_present_value(lua_State *L) {
  return push_result(L, steading_money_escalated_present_value(check_rate(L, 1), check_rate(L, 2),
                                                               check_count(L, 3)));
}

static int push_payback(lua_State *L, double rate, int flows_at) {
  double flows[MOST_FLOWS], years = 0;
  size_t count = check_flows(L, flows_at, flows);
  bool again = false;
  steading_money_answer answer = steading_money_payback(rate, flows, count, &years, &again);
  if (answer == STEADING_MONEY_FOUND) {
    lua_pushnumber(L, years);
    return 1;
  }
  lua_pushnil(L);
  lua_pushstring(L, steading_money_answer_text(answer));
  return 2;
}

static int money_simple_payback(lua_State *L) { return push_payback(L, 0, 1); }

static int money_discounted_payback(lua_State *L) { return push_payback(L, check_rate(L, 1), 2); }

void steading_open_money(lua_State *L) {
  static const luaL_Reg functions[] = {{"npv", money_npv},
                                       {"irr", money_irr},
                                       {"payment", money_payment},
                                       {"present_value", money_present_value},
                                       {"uniform_present_value", money_uniform_present_value},
                                       {"escalated_present_value", money_escalated_present_value},
                                       {"simple_payback", money_simple_payback},
                                       {"discounted_payback", money_discounted_payback},
                                       {NULL, NULL}};
  luaL_newlib(L, functions);
  steading_lua_strict(L, "steading.money");
  lua_setfield(L, -2, "money");
}
