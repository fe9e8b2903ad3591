/* run:appraise and the verdict. */
#include "ledger/appraise.h"

#include <math.h>
#include <string.h>

#include "script.h"

static int verdict_gc(lua_State *L) {
  steading_verdict_clear(lua_touserdata(L, 1));
  return 0;
}

static void push_cash_flow(lua_State *L, const steading_verdict *v, const steading_run *run) {
  enum { COLUMNS = 11 };
  static const char *const names[COLUMNS] = {"year",
                                             "plan_year",
                                             "purchases",
                                             "replacements",
                                             "upkeep",
                                             "bill_saving",
                                             "fuel_saving",
                                             "salvage",
                                             "net",
                                             "cumulative",
                                             "discounted_cumulative"};
  static const bool is_text[COLUMNS] = {false};
  steading_table *table =
      steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (int k = 0; k <= v->horizon_years; k++) {
    const steading_cash_year *y = &v->years[k];
    const double cells[COLUMNS] = {run->start_year + (k > 0 ? k - 1 : 0),
                                   k,
                                   y->purchases,
                                   y->replacements,
                                   y->upkeep,
                                   y->bill_saving,
                                   y->fuel_saving,
                                   y->salvage,
                                   y->net,
                                   y->cumulative,
                                   y->discounted_cumulative};
    if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
    for (size_t c = 0; c < COLUMNS; c++) table->columns[c].numbers[k] = cells[c];
  }
}

static void push_bought(lua_State *L, const steading_verdict *v, const steading_run *run) {
  static const char *const names[] = {"plan_year",   "item",   "occasion", "parts",
                                      "small_items", "labour", "total"};
  static const bool is_text[] = {false, true, true, false, false, false, false};
  steading_table *table =
      steading_lua_push_frame(L, 7, names, is_text, run->site->name, run->site->currency);
  for (size_t i = 0; i < v->bought_count; i++) {
    const steading_purchase *p = &v->bought[i];
    if (steading_table_add_row(table) != STEADING_OK ||
        steading_table_set_text(table, i, 1, p->item) != STEADING_OK ||
        steading_table_set_text(table, i, 2, p->replacement ? "replacement" : "purchase") !=
            STEADING_OK)
      steading_lua_fail(L, "not enough memory");
    table->columns[0].numbers[i] = p->plan_year;
    table->columns[3].numbers[i] = p->parts;
    table->columns[4].numbers[i] = p->small_items;
    table->columns[5].numbers[i] = p->labour;
    table->columns[6].numbers[i] = p->parts + p->small_items + p->labour;
  }
}

/* Years, or never, with the reason in `why` on top of the stack. */
static void push_payback(lua_State *L, steading_money_answer answer, double years, bool again_below,
                         int horizon, const char *name) {
  if (answer == STEADING_MONEY_FOUND) {
    lua_pushnumber(L, years); /* verdict why years */
    if (again_below) {
      lua_pushfstring(L, "reached after %f years, but the cumulative falls below zero again later",
                      years);
      lua_setfield(L, -3, name);
    }
  } else if (answer == STEADING_MONEY_NEVER) {
    lua_pushnumber(L, HUGE_VAL);
    lua_pushfstring(L, "not paid back within the %d years of the horizon", horizon);
    lua_setfield(L, -3, name);
  } else {
    steading_lua_push_none(L);
    lua_pushstring(L, steading_money_answer_text(answer));
    lua_setfield(L, -3, name);
  }
  lua_setfield(L, -3, name); /* verdict why */
}

/* A number or none, with the reason in `why` on top of the stack; below it is the verdict. */
static void push_answer(lua_State *L, const steading_answer *answer, const char *name) {
  lua_pushstring(L, answer->why == NULL ? "" : answer->why);
  lua_setfield(L, -2, name);
  steading_lua_push_answer(L, answer->value);
  lua_setfield(L, -3, name);
}

/* Which rise of prices went to which lines of the bill. */
static void push_escalations(lua_State *L, const steading_verdict *v, const steading_run *run) {
  static const char *const names[] = {"lines", "escalation", "first_rise", "last_year_factor"};
  static const bool is_text[] = {true, true, false, false};
  steading_table *table =
      steading_lua_push_frame(L, 4, names, is_text, run->site->name, run->site->currency);
  for (size_t i = 0; i < v->escalation_count; i++) {
    const steading_escalation_use *use = &v->escalations[i];
    if (steading_table_add_row(table) != STEADING_OK ||
        steading_table_set_text(table, i, 0, use->lines) != STEADING_OK ||
        steading_table_set_text(table, i, 1, use->escalation) != STEADING_OK)
      steading_lua_fail(L, "not enough memory");
    table->columns[2].numbers[i] = use->first;
    table->columns[3].numbers[i] = use->last_factor;
  }
}

static void push_warnings(lua_State *L, const steading_verdict *v, const steading_run *run) {
  static const char *const names[] = {"code", "path", "text"};
  static const bool is_text[] = {true, true, true};
  steading_table *table =
      steading_lua_push_frame(L, 3, names, is_text, run->site->name, run->site->currency);
  for (size_t i = 0; i < v->warning_count; i++)
    if (steading_table_add_row(table) != STEADING_OK ||
        steading_table_set_text(table, i, 0, v->warnings[i].code) != STEADING_OK ||
        steading_table_set_text(table, i, 1, v->warnings[i].path) != STEADING_OK ||
        steading_table_set_text(table, i, 2, v->warnings[i].text) != STEADING_OK)
      steading_lua_fail(L, "not enough memory");
}

int steading_lua_appraise(lua_State *L) {
  const steading_run *plan = steading_lua_run(L, 1), *against = NULL;
  const steading_money *money = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_verdict *v = NULL;
  if (plan == NULL)
    return steading_lua_fail(L, "appraise: expected a run; write run:appraise { ... }");
  luaL_checktype(L, 2, LUA_TTABLE);
  steading_lua_no_more(L, 2, "run:appraise");
  for (lua_pushnil(L); lua_next(L, 2) != 0; lua_pop(L, 1)) {
    static const char *const names[] = {"against", "money", NULL};
    const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tostring(L, -2) : "?";
    if (strcmp(key, "against") != 0 && strcmp(key, "money") != 0)
      return steading_lua_unknown(L, "appraise", key, names);
  }
  lua_getfield(L, 2, "against"); /* run given against */
  if (steading_lua_run(L, 3) == NULL)
    return steading_lua_fail(
        L, "appraise.against: found %s, expected a run, what site:simulate returns",
        luaL_typename(L, 3));
  against = steading_lua_run(L, 3);
  lua_getfield(L, 2, "money"); /* run given against money */
  if (!lua_istable(L, 4))
    return steading_lua_fail(L, "appraise.money: found %s, expected a table", luaL_typename(L, 4));
  money = steading_lua_read(L, 4, &steading_money_spec, "money");
  v = lua_newuserdatauv(L, sizeof *v, 0);
  memset(v, 0, sizeof *v);
  steading_lua_set_gc(L, "steading.verdict", verdict_gc);
  steading_engine_enter(L);
  status = steading_appraise(plan, against, money, v, &error);
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);

  lua_createtable(L, 0, 16); /* ... verdict */
  lua_pushnumber(L, v->first_cost);
  lua_setfield(L, -2, "first_cost");
  lua_pushnumber(L, v->net_present_value);
  lua_setfield(L, -2, "net_present_value");
  lua_pushnumber(L, v->life_cycle_cost);
  lua_setfield(L, -2, "life_cycle_cost");
  lua_pushnumber(L, v->equivalent_annual_cost);
  lua_setfield(L, -2, "equivalent_annual_cost");
  lua_createtable(L, 0, 6); /* ... verdict why: an answer that needs no reason has an empty one */
  for (int i = 0; i < 3; i++) {
    static const char *const answers[] = {"simple_payback_years", "discounted_payback_years",
                                          "internal_rate_of_return"};
    lua_pushliteral(L, "");
    lua_setfield(L, -2, answers[i]);
  }
  push_payback(L, v->simple_answer, v->simple_payback_years, v->simple_again_below,
               v->horizon_years, "simple_payback_years");
  push_payback(L, v->discounted_answer, v->discounted_payback_years, v->discounted_again_below,
               v->horizon_years, "discounted_payback_years");
  if (v->irr_answer == STEADING_MONEY_FOUND) {
    lua_pushnumber(L, v->internal_rate_of_return);
  } else {
    lua_pushstring(L, steading_money_answer_text(v->irr_answer));
    lua_setfield(L, -2, "internal_rate_of_return");
    steading_lua_push_none(L);
  }
  lua_setfield(L, -3, "internal_rate_of_return");
  push_answer(L, &v->savings_to_investment, "savings_to_investment");
  push_answer(L, &v->adjusted_internal_rate_of_return, "adjusted_internal_rate_of_return");
  push_answer(L, &v->lcoe_per_kwh, "lcoe_per_kwh");
  steading_lua_strict(L, "verdict.why");
  lua_setfield(L, -2, "why");
  push_cash_flow(L, v, plan);
  steading_lua_frame_of_run(L, 1);
  lua_setfield(L, -2, "cash_flow");
  push_bought(L, v, plan);
  steading_lua_frame_of_run(L, 1);
  lua_setfield(L, -2, "purchases");
  push_escalations(L, v, plan);
  steading_lua_frame_of_run(L, 1);
  lua_setfield(L, -2, "escalations");
  push_warnings(L, v, plan);
  lua_setfield(L, -2, "warnings");
  steading_lua_strict(L, "verdict");
  return 1;
}
