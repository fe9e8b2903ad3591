#include "ledger/appraise.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "dispatch/result.h"
#include "ledger/fuel.h"
#include "ledger/tariff.h"
#include "site/batteries.h"

/* The costs of one site, gathered while its lots are walked. */
typedef struct costs {
  const steading_run *run;
  const steading_money *money;
  int64_t start_day;
  int horizon;
  double *purchases, *replacements, *upkeep, *bills, *fuel, *salvage,
      *served_kwh;           /* [horizon + 1] */
  bool credit_left;          /* credit for export that the horizon cuts off */
  steading_purchase *bought; /* NULL: not wanted */
  size_t bought_count, bought_room;
} costs;

/* What is bought, whatever it is: a lot or works. */
typedef struct thing {
  const char *item;
  bool has_date, has_life, has_price;
  int64_t date;
  double parts, labour, again_parts, again_labour, life_years, trend, salvage_share;
  bool retires;
  int64_t retired;          /* not replaced from this day on */
  const steading_lot *ages; /* the lot, of a battery that ages; replaced when the run did it */
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

/* Bought again `due` years after the start of the run; *last_parts becomes what the parts cost.
 * What is overdue when the run starts is bought at once. */
static steading_status buy_again(costs *c, const thing *t, double due, double *last_parts,
                                 steading_error *error) {
  int at = due > 0 ? (int)ceil(due - 1e-9) : 0;
  double factor = pow(1 + t->trend, due > 0 ? due : 0);
  double parts = t->again_parts * factor, labour = t->again_labour * factor;
  c->replacements[at] += parts + labour;
  *last_parts = parts;
  return note_purchase(c, t, at, true, parts, 0, labour, error);
}

static steading_status buy(costs *c, const thing *t, steading_error *error) {
  double first = t->has_date ? steading_years_between(c->start_day, t->date) : 0;
  double last_parts = t->parts;
  double end = t->retires ? steading_years_between(c->start_day, t->retired) : (double)INFINITY;
  int year = first > 0 ? (int)ceil(first - 1e-9) : 0; /* within a year: due at its end */
  steading_status status = STEADING_OK;
  if (end <= fmax(first, 0)) return STEADING_OK; /* never in service within the run */
  if (first >= 0 && t->has_price && year <= c->horizon) {
    double small = small_items(c->money, t->parts);
    c->purchases[year] += t->parts + small + t->labour;
    status = note_purchase(c, t, year, false, t->parts, small, t->labour, error);
  }
  for (double due = first + t->life_years;
       t->has_life && t->ages == NULL && status == STEADING_OK &&
       due < fmin(c->horizon, end) - 1e-9;
       due += t->life_years) {
    if (due < 0) due = 0;
    status = buy_again(c, t, due, &last_parts, error);
  }
  for (size_t i = 0; status == STEADING_OK && i < c->run->replacement_count; i++) {
    const steading_replacement *done = &c->run->replacements[i];
    if (t->ages != NULL && done->lot == t->ages && done->year < c->horizon)
      status = buy_again(c, t, done->year, &last_parts, error);
  }
  if (year <= c->horizon) {
    int at = end < c->horizon ? (int)ceil(end - 1e-9) : c->horizon;
    c->salvage[at] += t->salvage_share * last_parts;
  }
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
             .retires = steading_record_given(lot, "retired"),
             .retired = lot->retired,
             .has_life = steading_record_given(lot, "life_years"),
             .ages = steading_site_ageing_of(c->run->site, lot) != NULL ? lot : NULL,
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

static double rise(const steading_series *rates, int year) {
  return rates == NULL ? 1 : steading_money_rise(rates->values, rates->count, year);
}

/* Riders rise with the energy unless they have a rate of their own. */
static const steading_series *riders_rise(const steading_escalation *e) {
  return e->riders != NULL ? e->riders : e->energy;
}

static steading_price_factors factors_of(const steading_escalation *e, int year) {
  if (e == NULL) return (steading_price_factors){1, 1, 1, 1};
  return (steading_price_factors){.energy = rise(e->energy, year),
                                  .riders = rise(riders_rise(e), year),
                                  .fixed = rise(e->fixed, year),
                                  .export = rise(e->export, year)};
}

static steading_status gather_bills(costs *c, const steading_run *run, steading_error *error) {
  size_t months = (size_t)c->horizon * 12;
  steading_price_factors *factors = calloc((size_t)c->horizon, sizeof *factors);
  steading_bills *bills = NULL;
  steading_status status = STEADING_OK;
  if (factors == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "appraise", "not enough memory");
  for (int year = 1; year <= c->horizon; year++)
    factors[year - 1] = factors_of(c->money->escalation, year);
  status = steading_run_bills(run, months, factors, &bills, error);
  for (int year = 1; status == STEADING_OK && year <= c->horizon; year++)
    c->bills[year] = steading_bills_sum(bills, STEADING_ALL_METERS, (size_t)(year - 1) * 12, 12);
  for (size_t i = 0; bills != NULL && i < bills->credit_count; i++)
    if (bills->credits[i].month + 1 == months && bills->credits[i].closing > 0)
      c->credit_left = true;
  steading_bills_free(bills);
  free(factors);
  return status;
}

/* Of a fuel by its own rate, else by that of all fuels; `*name` is what the rate is called. */
static const steading_series *fuel_rise(const steading_escalation *e, const char *fuel,
                                        const char **name) {
  const struct {
    const char *name;
    const steading_series *rates;
  } own[] = {{"propane", e->propane},
             {"natural_gas", e->natural_gas},
             {"petrol", e->petrol},
             {"diesel", e->diesel}};
  for (size_t i = 0; i < sizeof own / sizeof own[0]; i++) {
    if (own[i].rates == NULL || strcmp(own[i].name, fuel) != 0) continue;
    *name = own[i].name;
    return own[i].rates;
  }
  *name = "fuel";
  return e->fuel;
}

static void gather_fuel(costs *c, const steading_run *run) {
  static const steading_escalation none = {.energy = NULL};
  const steading_escalation *e = c->money->escalation == NULL ? &none : c->money->escalation;
  const steading_map *fuels = run->site->fuels;
  for (int year = 1; year <= c->horizon; year++) {
    size_t first = (size_t)(year - 1) * 12;
    for (size_t f = 0; fuels != NULL && f < fuels->count; f++) {
      const char *name = NULL;
      steading_fuel_bill bill = steading_fuel_bill_of(run, f, first, 12);
      c->fuel[year] += (bill.fuel_cost + bill.fees + bill.fixed_cost) *
                       rise(fuel_rise(e, fuels->entries[f].name, &name), year);
    }
    c->upkeep[year] = steading_service_cost(run, first, 12) * rise(e->upkeep, year);
  }
}

static void gather_served(costs *c, const steading_run *run) {
  const steading_result_column *served = NULL;
  for (size_t i = 0; i < steading_result_column_count; i++)
    if (strcmp(steading_result_columns[i].name, "served_kwh") == 0)
      served = &steading_result_columns[i];
  assert(served != NULL);
  for (int year = 1; year <= c->horizon; year++) {
    const steading_view site = {.of = STEADING_OF_SITE};
    steading_span span;
    steading_span_of(run, (size_t)(year - 1) * 12, 12, &span);
    c->served_kwh[year] = served->value(&span, &site);
  }
}

static steading_status gather(costs *c, const steading_run *run, const steading_money *money,
                              steading_error *error) {
  size_t n = (size_t)money->horizon_years + 1;
  steading_status status = STEADING_OK;
  c->run = run;
  c->money = money;
  c->horizon = (int)money->horizon_years;
  c->start_day = steading_day_number(run->start_year, run->start_month, 1);
  c->purchases = calloc(7 * n, sizeof *c->purchases);
  if (c->purchases == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "appraise", "not enough memory");
  c->replacements = c->purchases + n;
  c->bills = c->replacements + n;
  c->salvage = c->bills + n;
  c->served_kwh = c->salvage + n;
  c->upkeep = c->served_kwh + n;
  c->fuel = c->upkeep + n;
  status = steading_site_each_lot(run->site, visit_lot, c, error);
  if (status == STEADING_OK) status = gather_works(c, run->site->works, error);
  if (status == STEADING_OK) status = gather_bills(c, run, error);
  if (status == STEADING_OK) gather_fuel(c, run);
  if (status == STEADING_OK) gather_served(c, run);
  return status;
}

static int by_year(const void *a, const void *b) {
  const steading_purchase *x = a, *y = b;
  if (x->plan_year != y->plan_year) return x->plan_year < y->plan_year ? -1 : 1;
  return strcmp(x->item, y->item);
}

static steading_answer no_answer(const char *why) {
  return (steading_answer){.value = (double)NAN, .why = why};
}

/* ASTM E964, E1057 and the level payment; `saved`, `invested` and `served` are present values. */
static void judge_ratios(steading_verdict *v, double discount, double saved, double invested,
                         double served) {
  double n = v->horizon_years;
  v->equivalent_annual_cost = steading_money_payment(discount, n, v->life_cycle_cost);
  if (invested > 0)
    v->savings_to_investment = (steading_answer){.value = saved / invested};
  else
    v->savings_to_investment = no_answer("nothing is invested beyond the other plan");
  if (invested > 0 && saved > 0)
    v->adjusted_internal_rate_of_return =
        (steading_answer){.value = steading_money_adjusted_rate(discount, saved / invested, n)};
  else
    v->adjusted_internal_rate_of_return =
        no_answer(invested > 0 ? "nothing is saved" : v->savings_to_investment.why);
  if (served > 0)
    v->lcoe_per_kwh = (steading_answer){.value = v->life_cycle_cost / served};
  else
    v->lcoe_per_kwh = no_answer("no energy is served");
}

static void judge(steading_verdict *v, const costs *plan, const costs *other, double discount,
                  double *flows) {
  size_t n = (size_t)v->horizon_years + 1;
  double cumulative = 0, discounted = 0, saved = 0, invested = 0, served = 0;
  for (size_t k = 0; k < n; k++) {
    steading_cash_year *y = &v->years[k];
    double now = steading_money_present_value(discount, (double)k);
    double own = plan->purchases[k] + plan->replacements[k] + plan->bills[k] - plan->salvage[k] +
                 (plan->upkeep[k] + plan->fuel[k]);
    y->purchases = plan->purchases[k] - other->purchases[k];
    y->replacements = plan->replacements[k] - other->replacements[k];
    y->bill_saving = other->bills[k] - plan->bills[k];
    y->salvage = plan->salvage[k] - other->salvage[k];
    y->upkeep = plan->upkeep[k] - other->upkeep[k];
    y->fuel_saving = other->fuel[k] - plan->fuel[k];
    y->net =
        y->bill_saving + y->salvage - y->purchases - y->replacements + (y->fuel_saving - y->upkeep);
    flows[k] = y->net;
    cumulative += y->net;
    discounted += y->net * now;
    y->cumulative = cumulative;
    y->discounted_cumulative = discounted;
    v->life_cycle_cost += own * now;
    saved += (y->bill_saving + (y->fuel_saving - y->upkeep)) * now;
    invested += (y->purchases + y->replacements - y->salvage) * now;
    served += plan->served_kwh[k] * now;
  }
  judge_ratios(v, discount, saved, invested, served);
  v->first_cost = v->years[0].purchases + v->years[0].replacements;
  v->net_present_value = discounted;
  v->irr_answer = steading_money_irr(flows, n, &v->internal_rate_of_return, NULL, 0, NULL);
  v->simple_answer =
      steading_money_payback(0, flows, n, &v->simple_payback_years, &v->simple_again_below);
  v->discounted_answer = steading_money_payback(discount, flows, n, &v->discounted_payback_years,
                                                &v->discounted_again_below);
}

/* --- what the reader should know ---------------------------------------------------------------
 */

static void list_escalation(steading_verdict *v, const char *lines, const char *escalation,
                            const steading_series *rates) {
  v->escalations[v->escalation_count++] =
      (steading_escalation_use){.lines = lines,
                                .escalation = escalation,
                                .first = rates == NULL ? 0 : rates->values[0],
                                .last_factor = rise(rates, v->horizon_years)};
}

/* Fuels, and the service of generators, where the plan has any. */
static void list_fuels(steading_verdict *v, const steading_site *site,
                       const steading_escalation *e) {
  bool services = false;
  for (size_t f = 0; site->fuels != NULL && f < site->fuels->count; f++) {
    const char *name = NULL;
    const steading_series *rates = fuel_rise(e, site->fuels->entries[f].name, &name);
    list_escalation(v, site->fuels->entries[f].name, name, rates);
  }
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++) {
    const steading_hub *hub = (const void *)site->hubs->entries[i].item;
    services = services || (hub->generator != NULL && hub->generator->service != NULL);
  }
  if (services) list_escalation(v, "upkeep", "upkeep", e->upkeep);
}

static void list_escalations(steading_verdict *v, const steading_site *site,
                             const steading_escalation *e) {
  static const steading_escalation none = {.energy = NULL};
  const steading_escalation *rates = e == NULL ? &none : e;
  const struct {
    const char *lines, *escalation;
    const steading_series *rates;
  } rows[] = {{"energy", "energy", rates->energy},
              {"riders", rates->riders != NULL ? "riders" : "energy", riders_rise(rates)},
              {"fixed", "fixed", rates->fixed},
              {"minimum", "fixed", rates->fixed},
              {"export", "export", rates->export},
              {"taxes", "the lines that they are taken on", NULL}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
    list_escalation(v, rows[i].lines, rows[i].escalation, rows[i].rates);
  v->escalations[v->escalation_count - 1].first = (double)NAN; /* taxes follow */
  v->escalations[v->escalation_count - 1].last_factor = (double)NAN;
  list_fuels(v, site, rates);
}

/* Prices that grow beyond this many times today's are told. */
static const double told_factor = 10;
/* So is a bill of a year beyond this many times what the plan costs, and two tariffs that lie
 * further apart than this: a price in cents is a hundred times too high. */
enum { TOLD_BILLS = 20, TOLD_TARIFFS = 50 };

/* The lowest and the highest price of energy of a tariff. */
static void price_range(const steading_tariff *tariff, double *lowest, double *highest) {
  const steading_energy_prices *energy = tariff->energy;
  size_t periods = energy->periods == NULL ? 0 : energy->periods->count;
  *lowest = (double)INFINITY;
  *highest = 0;
  for (size_t p = 0; p < (periods == 0 ? 1 : periods); p++) {
    const steading_period *period = periods == 0 ? NULL : (const void *)energy->periods->items[p];
    const steading_list *blocks = period == NULL           ? energy->blocks
                                  : period->blocks == NULL ? NULL
                                                           : period->blocks->blocks;
    for (size_t i = 0; i < (blocks == NULL ? 1 : blocks->count); i++) {
      double price = blocks == NULL
                         ? period->price_per_kwh
                         : ((const steading_tariff_block *)(void *)blocks->items[i])->price_per_kwh;
      *lowest = fmin(*lowest, price);
      *highest = fmax(*highest, price);
    }
  }
}

static void note_far_prices(steading_warning_list *to, const steading_run *plan,
                            const steading_run *against) {
  const steading_map *maps[2] = {plan->site->meters, against->site->meters};
  double dear = 0, cheap = (double)INFINITY; /* the dearest lowest, the cheapest highest price */
  const char *dear_name = "", *cheap_name = "";
  for (int k = 0; k < 2; k++)
    for (size_t i = 0; maps[k] != NULL && i < maps[k]->count; i++) {
      const steading_meter *meter = (const void *)maps[k]->entries[i].item;
      double lowest = 0, highest = 0;
      if (meter->tariff == NULL) continue;
      price_range(meter->tariff, &lowest, &highest);
      if (lowest > dear) dear = lowest, dear_name = maps[k]->entries[i].name;
      if (highest > 0 && highest < cheap) cheap = highest, cheap_name = maps[k]->entries[i].name;
    }
  if (dear > TOLD_TARIFFS * cheap)
    steading_warn(to, "prices_far_apart", "meters",
                  "a kWh costs %.4g on '%s' and %.4g on '%s': cents and whole money?", dear,
                  dear_name, cheap, cheap_name);
}

static void note_money(steading_warning_list *to, const steading_verdict *v,
                       const steading_money *money, const costs *own, const costs *other) {
  const steading_escalation *e = money->escalation;
  bool rises = e != NULL &&
               (e->energy != NULL || e->fixed != NULL || e->riders != NULL || e->export != NULL ||
                e->fuel != NULL || e->propane != NULL || e->natural_gas != NULL ||
                e->petrol != NULL || e->diesel != NULL || e->upkeep != NULL);
  if (rises && !steading_record_given(money, "prices"))
    steading_warn(
        to, "read_as_nominal", "money.prices",
        "discount %.4g and the escalation are read as nominal, with inflation in them; write "
        "prices = \"nominal\" or \"real\"",
        money->discount);
  for (size_t i = 0; i < v->escalation_count; i++)
    if (v->escalations[i].last_factor > told_factor &&
        strcmp(v->escalations[i].lines, v->escalations[i].escalation) == 0) {
      char path[64];
      snprintf(path, sizeof path, "money.escalation.%s", v->escalations[i].escalation);
      steading_warn(
          to, "steep_escalation", path,
          "prices of year %d are %.3g times today's; a list of rates, one for each year, is "
          "possible, of which the last goes on",
          v->horizon_years, v->escalations[i].last_factor);
    }
  if (v->first_cost > 0 && other->bills[1] > TOLD_BILLS * v->first_cost)
    steading_warn(
        to, "bill_far_above_cost", "meters",
        "the first year's bill of the other plan, %.6g, is %.3g times the first cost: cents and "
        "whole money?",
        other->bills[1], other->bills[1] / v->first_cost);
  if (own->credit_left || other->credit_left)
    steading_warn(to, "credit_left", "money.horizon_years",
                  "credit for export is left at the end of the horizon and counts for nothing; "
                  "tariff.export.true_up_month says when it ends");
}

/* A hub with neither sun nor battery draws its idle power for nothing, which makes what it is
 * compared with look better. */
static void note_idle_hubs(steading_warning_list *to, const steading_run *against) {
  const steading_map *hubs = against->site->hubs;
  for (size_t i = 0; hubs != NULL && i < hubs->count; i++) {
    const steading_hub *hub = (const void *)hubs->entries[i].item;
    bool has_source = steading_batteries_bought(hub) > 0;
    double kwh = 0;
    for (size_t a = 0; hub->arrays != NULL && a < hub->arrays->count; a++) {
      const steading_array *array = (const void *)hub->arrays->items[a];
      has_source = has_source || steading_lots_count(array->lots) > 0;
    }
    for (size_t k = 0; k < against->month_count; k++)
      kwh += steading_hub_flow_of(&against->layout, against->sums + k * against->layout.width, i)
                 ->inverter_loss *
             against->step_minutes / 60.0;
    if (has_source || !(kwh > 0)) continue;
    steading_warn(
        to, "idle_hub", "appraise.against",
        "the plan compared against still runs the inverter of hub '%s' with no array and no "
        "battery (%.4g kWh a year); site:grid_only() is without",
        hubs->entries[i].name, kwh / against->years);
  }
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
  steading_warning_list told = {.items = v->warnings, .room = STEADING_MOST_NOTES};
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
    list_escalations(v, plan->site, money->escalation);
    note_money(&told, v, money, &own, &other);
    note_far_prices(&told, plan, against);
    note_idle_hubs(&told, against);
    v->warning_count = steading_warnings_written(&told);
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
