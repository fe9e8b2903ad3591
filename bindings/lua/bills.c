/* run.bills, run.credits and steading.tariff: the bills of a run, of a month and of a series. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "files/zone.h"
#include "ledger/count.h"
#include "ledger/tariff.h"
#include "nearest.h"
#include "script.h"
#include "site/periods.h"

/* What the functions below must free when one of them raises. */
typedef struct holder {
  steading_bills *bills;
  steading_meter_plan plan;
  steading_zone *zone;
  steading_counted *counted;
} holder;

static int holder_gc(lua_State *L) {
  holder *h = lua_touserdata(L, 1);
  steading_bills_free(h->bills);
  steading_meter_plan_free(&h->plan);
  steading_zone_free(h->zone);
  steading_counted_free(h->counted);
  memset(h, 0, sizeof *h);
  return 0;
}

static holder *push_holder(lua_State *L) {
  holder *h = lua_newuserdatauv(L, sizeof *h, 0);
  memset(h, 0, sizeof *h);
  steading_lua_set_gc(L, "steading.billing", holder_gc);
  return h;
}

/* Push what holds the bills of a run at today's prices, and return them. */
static const steading_bills *push_run_bills(lua_State *L, const steading_run *run) {
  holder *h = push_holder(L);
  steading_error error = {.status = STEADING_OK};
  if (steading_run_bills(run, run->month_count, NULL, &h->bills, &error) != STEADING_OK)
    steading_lua_raise(L, &error);
  return h->bills;
}

/* --- frames ------------------------------------------------------------------------------------
 */

enum { MOST_COLUMNS = 11 };

static size_t new_row(lua_State *L, steading_table *table) {
  if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
  return table->rows - 1;
}

static void set_text(lua_State *L, steading_table *table, size_t row, size_t column,
                     const char *text) {
  if (steading_table_set_text(table, row, column, text) != STEADING_OK)
    steading_lua_fail(L, "not enough memory");
}

/* Whose line it is, in the first columns of a frame: meter, year and month as far as they are
 * asked for. */
typedef struct whose {
  const steading_run *run;         /* gives all three */
  const steading_counted *counted; /* gives year and month */
} whose;

static size_t key_names(const whose *w, const char **names, bool *is_text) {
  size_t count = 0;
  if (w->run != NULL) {
    is_text[count] = true;
    names[count++] = "meter";
  }
  if (w->run != NULL || w->counted != NULL) {
    names[count++] = "year";
    names[count++] = "month";
  }
  return count;
}

static void set_keys(lua_State *L, steading_table *table, size_t row, const whose *w, size_t meter,
                     size_t month) {
  if (w->run != NULL) {
    set_text(L, table, row, 0, w->run->meters[meter].name);
    table->columns[1].numbers[row] = w->run->months[month].year;
    table->columns[2].numbers[row] = w->run->months[month].month;
  } else if (w->counted != NULL) {
    table->columns[0].numbers[row] = w->counted->months[month].year;
    table->columns[1].numbers[row] = w->counted->months[month].month;
  }
}

static steading_table *push_frame(lua_State *L, const whose *w, size_t count,
                                  const char *const *names, const bool *is_text, size_t *keys) {
  const char *all[MOST_COLUMNS + 3];
  bool text[MOST_COLUMNS + 3] = {false};
  *keys = key_names(w, all, text);
  for (size_t i = 0; i < count; i++) {
    all[*keys + i] = names[i];
    text[*keys + i] = is_text[i];
  }
  return steading_lua_push_frame(L, *keys + count, all, text,
                                 w->run != NULL ? w->run->site->name : NULL,
                                 w->run != NULL ? w->run->site->currency : NULL);
}

static void push_lines(lua_State *L, const whose *w, const steading_bills *bills) {
  static const char *const names[] = {"line", "quantity", "unit", "price", "amount", "at"};
  static const bool is_text[] = {true, false, true, false, false, true};
  size_t k = 0;
  steading_table *table = push_frame(L, w, 6, names, is_text, &k);
  for (size_t i = 0; i < bills->line_count; i++) {
    const steading_bill_line *line = &bills->lines[i];
    size_t row = new_row(L, table);
    char text[256];
    set_keys(L, table, row, w, line->meter, line->month);
    set_text(L, table, row, k, steading_bill_line_text(line, text, sizeof text));
    set_text(L, table, row, k + 2, line->unit);
    table->columns[k + 1].numbers[row] = line->quantity;
    table->columns[k + 3].numbers[row] = line->price;
    table->columns[k + 4].numbers[row] = line->amount;
  }
}

static void push_credit_rows(lua_State *L, const whose *w, const steading_bills *bills) {
  static const char *const names[] = {"opening",  "added",   "used", "expired",
                                      "paid_out", "closing", "unit"};
  static const bool is_text[] = {false, false, false, false, false, false, true};
  size_t k = 0;
  steading_table *table = push_frame(L, w, 7, names, is_text, &k);
  for (size_t i = 0; i < bills->credit_count; i++) {
    const steading_credit *credit = &bills->credits[i];
    size_t row = new_row(L, table);
    const double cells[6] = {credit->opening, credit->added,    credit->used,
                             credit->expired, credit->paid_out, credit->closing};
    set_keys(L, table, row, w, credit->meter, credit->month);
    for (size_t c = 0; c < 6; c++) table->columns[k + c].numbers[row] = cells[c];
    set_text(L, table, row, k + 6, credit->unit);
  }
}

void steading_lua_push_bills(lua_State *L, const steading_run *run) {
  const steading_bills *bills = push_run_bills(L, run);
  push_lines(L, &(whose){.run = run}, bills);
  lua_remove(L, -2);
}

void steading_lua_push_credits(lua_State *L, const steading_run *run) {
  const steading_bills *bills = push_run_bills(L, run);
  push_credit_rows(L, &(whose){.run = run}, bills);
  lua_remove(L, -2);
}

/* --- steading.tariff ---------------------------------------------------------------------------
 */

static size_t period_named(lua_State *L, const steading_list *periods, const char *field,
                           const char *name) {
  const char *names[STEADING_MOST_PERIODS] = {NULL};
  int nearest = -1;
  for (size_t p = 0; p < periods->count; p++) {
    names[p] = ((const steading_period *)(void *)periods->items[p])->name;
    if (strcmp(names[p], name) == 0) return p;
  }
  nearest = steading_nearest_name(name, names, periods->count);
  if (nearest >= 0)
    steading_lua_fail(L, "tariff.bill.%s.%s: the tariff has no such period (did you mean '%s'?)",
                      field, name, names[nearest]);
  steading_lua_fail(L, "tariff.bill.%s.%s: the tariff has no such period", field, name);
}

/* kWh by bucket from a number or from numbers by period. */
static void spread(lua_State *L, const steading_tariff *tariff, const steading_amounts *amounts,
                   const char *field, bool any_bucket, double kwh[STEADING_MOST_BUCKETS]) {
  const steading_list *periods = tariff->energy->periods;
  memset(kwh, 0, STEADING_MOST_BUCKETS * sizeof *kwh);
  for (size_t i = 0; amounts != NULL && i < amounts->count; i++) {
    const steading_amount *amount = &amounts->items[i];
    if (amount->name == NULL) {
      if (periods != NULL && periods->count > 1 && !any_bucket)
        steading_lua_fail(L,
                          "tariff.bill.%s: the tariff has periods: write a number for each, { %s = "
                          "... }",
                          field, ((const steading_period *)(void *)periods->items[0])->name);
      kwh[0] = amount->number;
    } else if (periods == NULL) {
      steading_lua_fail(L, "tariff.bill.%s.%s: the tariff has no periods; write one number", field,
                        amount->name);
    } else {
      kwh[period_named(L, periods, field, amount->name)] = amount->number;
    }
  }
}

/* steading.tariff.bill: { total, lines, credits } of one month. */
static int tariff_bill(lua_State *L) {
  const steading_ask_bill *ask = NULL;
  steading_bucket buckets[STEADING_MOST_BUCKETS];
  double in[STEADING_MOST_BUCKETS], out[STEADING_MOST_BUCKETS];
  steading_carry carry = {.money = 0};
  steading_error error = {.status = STEADING_OK};
  steading_billed_month what = {.buckets = buckets, .bucket_count = 1};
  bool nets = false;
  holder *h = NULL;
  int year = 0, day = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, "tariff.bill");
  ask = steading_lua_read(L, 1, &steading_ask_bill_spec, "tariff.bill");
  nets = ask->tariff->export != NULL && ask->tariff->export->kind == STEADING_EXPORT_NET_METERING;
  spread(L, ask->tariff, ask->kwh, "kwh", false, in);
  spread(L, ask->tariff, ask->export_kwh, "export_kwh", !nets, out);
  if (ask->tariff->energy->periods != NULL) what.bucket_count = ask->tariff->energy->periods->count;
  for (size_t i = 0; i < what.bucket_count; i++)
    buckets[i] = (steading_bucket){.import_kwh = in[i], .export_kwh = out[i]};
  steading_date_of_day(ask->month, &year, &what.of_year, &day);
  what.days = steading_record_given(ask, "days") ? ask->days : steading_days_of_month(what.of_year);
  h = push_holder(L);
  h->bills = calloc(1, sizeof *h->bills);
  if (h->bills == NULL) return steading_lua_fail(L, "not enough memory");
  if (steading_bill_month(ask->tariff, &what, NULL, &carry, h->bills, &error) != STEADING_OK)
    return steading_lua_raise(L, &error);
  lua_createtable(L, 0, 3);
  lua_pushnumber(L, steading_bills_sum(h->bills, STEADING_ALL_METERS, 0, 1));
  lua_setfield(L, -2, "total");
  push_lines(L, &(whose){.run = NULL}, h->bills);
  lua_setfield(L, -2, "lines");
  push_credit_rows(L, &(whose){.run = NULL}, h->bills);
  lua_setfield(L, -2, "credits");
  steading_lua_strict(L, "bill");
  return 1;
}

static void fail_below(lua_State *L, const char *above, const steading_error *error) {
  steading_error whole = *error;
  snprintf(whole.path, sizeof whole.path, "%s%s%.200s", above, error->path[0] != '\0' ? "." : "",
           error->path);
  steading_lua_raise(L, &whole);
}

/* steading.tariff.bills: a frame, a row a month and line, of a series of powers. */
static int tariff_bills(lua_State *L) {
  const steading_ask_bills *ask = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_carry carry = {.money = 0};
  steading_status status = STEADING_OK;
  holder *h = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, "tariff.bills");
  ask = steading_lua_read(L, 1, &steading_ask_bills_spec, "tariff.bills");
  h = push_holder(L);
  if (ask->time_zone != NULL && ask->time_zone[0] != '\0' &&
      steading_zone_load(ask->time_zone, &h->zone, &error) != STEADING_OK)
    fail_below(L, "tariff.bills.time_zone", &error);
  if (steading_tariff_plan(ask->tariff, (int)ask->step_minutes, &h->plan, &error) != STEADING_OK)
    fail_below(L, "tariff.bills", &error);
  h->bills = calloc(1, sizeof *h->bills);
  if (h->bills == NULL) return steading_lua_fail(L, "not enough memory");
  steading_engine_enter(L);
  status = steading_count(&h->plan, ask->from, h->zone, ask->kw->values, ask->kw->count,
                          &h->counted, &error);
  for (size_t m = 0; status == STEADING_OK && m < h->counted->month_count; m++) {
    const steading_billed_month what = {.month = m,
                                        .of_year = h->counted->months[m].month,
                                        .days = h->counted->months[m].days,
                                        .buckets = &h->counted->by_month[m * h->counted->buckets],
                                        .bucket_count = h->counted->buckets};
    status = steading_bill_month(ask->tariff, &what, NULL, &carry, h->bills, &error);
  }
  steading_engine_leave();
  if (status != STEADING_OK) fail_below(L, "tariff.bills", &error);
  push_lines(L, &(whose){.counted = h->counted}, h->bills);
  return 1;
}

void steading_open_bills(lua_State *L) {
  static const luaL_Reg functions[] = {
      {"bill", tariff_bill}, {"bills", tariff_bills}, {NULL, NULL}};
  luaL_newlib(L, functions);
  steading_lua_strict(L, "steading.tariff");
  lua_setfield(L, -2, "tariff");
}
