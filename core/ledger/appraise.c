#include "ledger/appraise.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "ledger/tariff.h"

/* The costs of one site, gathered while its lots are walked. */
typedef struct costs {
  const steading_money *money;
  int64_t start_day;
  int horizon;
  double *purchases, *replacements, *bills; /* [horizon + 1] */
  double salvage;
  steading_purchase *bought; /* NULL: not wanted */
  size_t bought_count, bought_room;
} costs;

/* What is bought, whatever it is: a lot or works. */
typedef struct thing {
  const char *item;
  bool has_date, has_life, has_price;
  int64_t date;
  double parts, labour, again_parts, again_labour, life_years, trend, salvage_share;
} thing;

static double default_trend(const steading_money *money) {
  return money->prices == 0 ? money->inflation : 0;
}

static steading_status note_purchase(costs *c, const thing *t, int year, bool replacement,
                                     double parts, double small, double labour,
                                     steading_error *error) {
  steading_purchase *to = NULL;
  if (c->bought == NULL && c->bought_room == 0) return STEADING_OK;
  if (c->bought_count == c->bought_room) {
    size_t room = c->bought_room * 2;
    to = realloc(c->bought, room * sizeof *to);
    if (to == NULL)
      return steading_fail(error, STEADING_NO_MEMORY, "appraise", "not enough memory");
    c->bought = to;
    c->bought_room = room;
  }
  to = &c->bought[c->bought_count++];
  *to = (steading_purchase){.plan_year = year,
                            .replacement = replacement,
                            .parts = parts,
                            .small_items = small,
                            .labour = labour};
  snprintf(to->item, sizeof to->item, "%s", t->item);
  return STEADING_OK;
}

static double small_items(const steading_money *money, double parts) {
  const steading_small_items *s = money->small_items;
  if (s == NULL) return 0;
  return s->of == 0 ? parts * s->share : parts * s->share / (1 - s->share);
}

static steading_status buy(costs *c, const thing *t, steading_error *error) {
  double first = t->has_date ? steading_years_between(c->start_day, t->date) : 0;
  double last_parts = t->parts;
  int year = first > 0 ? (int)ceil(first - 1e-9) : 0; /* within a year: due at its end */
  steading_status status = STEADING_OK;
  if (first >= 0 && t->has_price && year <= c->horizon) {
    double small = small_items(c->money, t->parts);
    c->purchases[year] += t->parts + small + t->labour;
    status = note_purchase(c, t, year, false, t->parts, small, t->labour, error);
  }
  for (double due = first + t->life_years;
       t->has_life && status == STEADING_OK && due < c->horizon - 1e-9; due += t->life_years) {
    /* what is overdue when the run starts is bought at once */
    int at = due > 0 ? (int)ceil(due - 1e-9) : 0;
    double factor = pow(1 + t->trend, due > 0 ? due : 0);
    double parts = t->again_parts * factor, labour = t->again_labour * factor;
    if (due < 0) due = 0;
    c->replacements[at] += parts + labour;
    last_parts = parts;
    status = note_purchase(c, t, at, true, parts, 0, labour, error);
  }
  if (year <= c->horizon) c->salvage += t->salvage_share * last_parts;
  return status;
}

static steading_status visit_lot(void *context, const steading_lot *lot, const char *path,
                                 steading_error *error) {
  costs *c = context;
  const steading_money *money = c->money;
  bool each = steading_record_given(lot, "price_each"),
       whole = steading_record_given(lot, "price_lot");
  bool again = steading_record_given(lot, "replacement_price_each");
  double labour_share =
      steading_record_given(lot, "labour_share") ? lot->labour_share : money->hired_labour;
  thing t = {.item = path,
             .has_date = steading_record_given(lot, "in_service"),
             .date = lot->in_service,
             .has_price = each || whole,
             .has_life = steading_record_given(lot, "life_years"),
             .life_years = lot->life_years,
             .salvage_share = lot->salvage_share,
             .trend = steading_record_given(lot, "price_trend_per_year") ? lot->price_trend_per_year
                                                                         : default_trend(money)};
  if (lot->count == 0) return STEADING_OK; /* nothing is bought, whatever it costs */
  t.parts = each ? lot->price_each * lot->count : whole ? lot->price_lot : 0;
  t.again_parts = again ? lot->replacement_price_each * lot->count : t.parts;
  if (steading_record_given(lot, "labour_price")) {
    t.labour = lot->labour_price;
    t.again_labour = lot->labour_price;
  } else {
    t.labour = t.parts * labour_share;
    t.again_labour = t.again_parts * labour_share;
  }
  return buy(c, &t, error);
}

static steading_status gather_works(costs *c, const steading_list *works, steading_error *error) {
  steading_status status = STEADING_OK;
  for (size_t i = 0; works != NULL && status == STEADING_OK && i < works->count; i++) {
    const steading_works *w = (const void *)works->items[i];
    char item[128];
    thing t = {.item = item,
               .has_date = steading_record_given(w, "date"),
               .date = w->date,
               .has_price = true,
               .has_life = steading_record_given(w, "life_years"),
               .life_years = w->life_years,
               .trend = default_trend(c->money),
               .parts = w->price};
    snprintf(item, sizeof item, "works: %s", w->name);
    t.labour = steading_record_given(w, "labour_price")
                   ? w->labour_price
                   : w->price * (steading_record_given(w, "labour_share") ? w->labour_share
                                                                          : c->money->hired_labour);
    t.again_parts = t.parts;
    t.again_labour = t.labour;
    status = buy(c, &t, error);
  }
  return status;
}

static void gather_bills(costs *c, const steading_run *run) {
  const steading_escalation *e = c->money->escalation;
  for (int year = 1; year <= c->horizon; year++) {
    double energy = e == NULL ? 1 : pow(1 + e->energy, year - 1);
    double fixed = e == NULL ? 1 : pow(1 + e->fixed, year - 1);
    for (int m = 0; m < 12; m++) {
      steading_bill bill = steading_run_bill(run, (size_t)((year - 1) * 12 + m));
      c->bills[year] += bill.energy * energy + bill.fixed * fixed;
    }
  }
}

static steading_status gather(costs *c, const steading_run *run, const steading_money *money,
                              steading_error *error) {
  size_t n = (size_t)money->horizon_years + 1;
  steading_status status = STEADING_OK;
  c->money = money;
  c->horizon = (int)money->horizon_years;
  c->start_day = steading_day_number(run->start_year, run->start_month, 1);
  c->purchases = calloc(3 * n, sizeof *c->purchases);
  if (c->purchases == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "appraise", "not enough memory");
  c->replacements = c->purchases + n;
  c->bills = c->replacements + n;
  status = steading_site_each_lot(run->site, visit_lot, c, error);
  if (status == STEADING_OK) status = gather_works(c, run->site->works, error);
  if (status == STEADING_OK) gather_bills(c, run);
  return status;
}

static int by_year(const void *a, const void *b) {
  const steading_purchase *x = a, *y = b;
  if (x->plan_year != y->plan_year) return x->plan_year < y->plan_year ? -1 : 1;
  return strcmp(x->item, y->item);
}

static void judge(steading_verdict *v, const costs *plan, const costs *other, double discount,
                  double *flows) {
  size_t n = (size_t)v->horizon_years + 1;
  double cumulative = 0, discounted = 0;
  for (size_t k = 0; k < n; k++) {
    steading_cash_year *y = &v->years[k];
    double left = 0, own = plan->purchases[k] + plan->replacements[k] + plan->bills[k];
    y->purchases = plan->purchases[k] - other->purchases[k];
    y->replacements = plan->replacements[k] - other->replacements[k];
    y->bill_saving = other->bills[k] - plan->bills[k];
    if (k + 1 == n) {
      y->salvage = plan->salvage - other->salvage;
      left = plan->salvage;
    }
    y->net = y->bill_saving + y->salvage - y->purchases - y->replacements;
    flows[k] = y->net;
    cumulative += y->net;
    discounted += y->net * steading_money_present_value(discount, (double)k);
    y->cumulative = cumulative;
    y->discounted_cumulative = discounted;
    v->life_cycle_cost += (own - left) * steading_money_present_value(discount, (double)k);
  }
  v->first_cost = v->years[0].purchases + v->years[0].replacements;
  v->net_present_value = discounted;
  v->irr_answer = steading_money_irr(flows, n, &v->internal_rate_of_return, NULL, 0, NULL);
  v->simple_answer =
      steading_money_payback(0, flows, n, &v->simple_payback_years, &v->simple_again_below);
  v->discounted_answer = steading_money_payback(discount, flows, n, &v->discounted_payback_years,
                                                &v->discounted_again_below);
}

static steading_status check_runs(const steading_run *plan, const steading_run *against,
                                  const steading_money *money, steading_error *error) {
  if (plan->start_year != against->start_year || plan->start_month != against->start_month)
    return steading_fail(error, STEADING_BAD_INPUT, "appraise.against",
                         "starts in %04d-%02d, the plan in %04d-%02d", against->start_year,
                         against->start_month, plan->start_year, plan->start_month);
  if (money->horizon_years > plan->years || money->horizon_years > against->years)
    return steading_fail(error, STEADING_BAD_INPUT, "money.horizon_years",
                         "%.12g years are longer than the run (%d)", money->horizon_years,
                         plan->years < against->years ? plan->years : against->years);
  if (!steading_run_is_billed(plan) || !steading_run_is_billed(against))
    return steading_fail(error, STEADING_BAD_INPUT, "appraise",
                         "a meter has no tariff: without bills there is nothing to judge");
  return STEADING_OK;
}

steading_status steading_appraise(const steading_run *plan, const steading_run *against,
                                  const steading_money *money, steading_verdict *v,
                                  steading_error *error) {
  costs own = {.bought_room = 16}, other = {.bought_room = 0};
  size_t n = (size_t)money->horizon_years + 1;
  double *flows = NULL;
  steading_status status = check_runs(plan, against, money, error);
  memset(v, 0, sizeof *v);
  if (status != STEADING_OK) return status;
  v->horizon_years = (int)money->horizon_years;
  own.bought = calloc(own.bought_room, sizeof *own.bought);
  v->years = calloc(n, sizeof *v->years);
  flows = calloc(n, sizeof *flows);
  if (own.bought == NULL || v->years == NULL || flows == NULL)
    status = steading_fail(error, STEADING_NO_MEMORY, "appraise", "not enough memory");
  if (status == STEADING_OK) status = gather(&own, plan, money, error);
  if (status == STEADING_OK) status = gather(&other, against, money, error);
  v->bought = own.bought;
  v->bought_count = own.bought_count;
  if (status == STEADING_OK) {
    if (v->bought_count > 1) qsort(v->bought, v->bought_count, sizeof *v->bought, by_year);
    judge(v, &own, &other, money->discount, flows);
  } else {
    steading_verdict_clear(v);
  }
  free(flows);
  free(own.purchases);
  free(other.purchases);
  return status;
}

void steading_verdict_clear(steading_verdict *verdict) {
  free(verdict->years);
  free(verdict->bought);
  memset(verdict, 0, sizeof *verdict);
}
