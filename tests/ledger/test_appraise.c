/* A plan judged against another: closed forms for constant savings, and purchases by hand. */
#include "ledger/appraise.h"

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "suites.h"

/* A plan and what it is judged against. */
typedef struct pair {
  steading_weather *weather;
  const steading_site *plan_site, *against_site;
  steading_run *plan, *against;
} pair;

#define SITE                                                                                      \
  "{ weather = @0, meters = { m = { tariff = { energy = { { price_per_kwh = %.17g } } } } }, "     \
  "buildings = { b = { meter = \"m\", loads = { { kind = \"steady\", watts = %.17g } } } } %s }"

static const double price = 2000.0 / 8760;

/* A plan that takes `plan_watts` all year, against 1 kW, at a price that makes 1 kW cost 2000 a
 * year; `things` are works and hubs of the plan. */
static pair judge_of(double plan_watts, const char *things, const char *against_things,
                     const char *options) {
  pair p = {.weather = build_dark_weather()};
  p.plan_site = build_site(p.weather, SITE, price, plan_watts, things);
  p.against_site = build_site(p.weather, SITE, price, 1000.0, against_things);
  p.plan = build_run(p.plan_site, options);
  p.against = build_run(p.against_site, options);
  return p;
}

static void drop(pair *p) {
  steading_run_release(p->plan);
  steading_run_release(p->against);
  steading_record_release(p->plan_site);
  steading_record_release(p->against_site);
  steading_weather_release(p->weather);
}

static steading_verdict verdict_of(const pair *p, const char *money_text) {
  steading_money *money = build(&steading_money_spec, NULL, "%s", money_text);
  steading_verdict verdict;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_appraise(p->plan, p->against, money, &verdict, &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  steading_record_release(money);
  return verdict;
}

static void refused(const steading_run *plan, const steading_run *against, const char *money_text,
                    const char *path) {
  steading_money *money = build(&steading_money_spec, NULL, "%s", money_text);
  steading_verdict verdict;
  steading_error error = {.status = STEADING_OK};
  ck_assert_int_eq(steading_appraise(plan, against, money, &verdict, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, path);
  steading_verdict_clear(&verdict);
  steading_record_release(money);
}

/* 20 000 now for 2000 at the end of the first year. With S already the first year's amount (NIST
 * Handbook 135, ASTM E1121) the closed forms are n = ln(1 + C e / S) / ln(1 + e) and
 * n = ln(1 - C (d - e) / S) / ln((1 + e) / (1 + d)), and C / (S / (1 + d)) for d = e. */
START_TEST(paybacks_of_growing_savings_equal_their_closed_forms) {
  pair p = judge_of(0, ", works = { { name = \"all\", price = 20000 } }", "", "{ years = 25 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 25, discount = 0 }");
  ck_assert_double_eq_tol(v.first_cost, 20000, 1e-9);
  ck_assert_double_eq_tol(v.simple_payback_years, 10, 1e-9);
  ck_assert_int_eq(v.simple_answer, STEADING_MONEY_FOUND);
  ck_assert_double_eq_tol(v.net_present_value, 25 * 2000 - 20000, 1e-7);
  steading_verdict_clear(&v);
  v = verdict_of(&p, "{ horizon_years = 25, discount = 0.06, escalation = { energy = 0.04 } }");
  ck_assert_double_eq_tol(v.simple_payback_years, 8.578942, 1e-6);
  ck_assert_double_eq_tol(v.discounted_payback_years, 11.714682, 1e-6);
  /* 2000 / 1.06 (1 - q^25) / (1 - q) - 20000 with q = 1.04 / 1.06 */
  ck_assert_double_eq_tol(v.net_present_value,
                          2000 / 1.06 * (1 - pow(1.04 / 1.06, 25)) / (1 - 1.04 / 1.06) - 20000,
                          1e-6);
  steading_verdict_clear(&v);
  v = verdict_of(&p, "{ horizon_years = 25, discount = 0.06 }");
  ck_assert_double_eq_tol(v.discounted_payback_years, 15.725209, 1e-6);
  steading_verdict_clear(&v);
  v = verdict_of(&p, "{ horizon_years = 25, discount = 0.05, escalation = { energy = 0.05 } }");
  ck_assert_double_eq_tol(v.discounted_payback_years, 10.5, 1e-6);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* The internal rate of return makes the annuity of 2000 over 25 years worth 20 000; found here by
 * halving the interval, to 1e-10. */
START_TEST(the_rate_of_return_makes_the_present_value_zero) {
  pair p = judge_of(0, ", works = { { name = \"all\", price = 20000 } }", "", "{ years = 25 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 25, discount = 0.03 }");
  double low = 0.01, high = 0.5;
  for (int i = 0; i < 60; i++) {
    double middle = (low + high) / 2;
    if (2000 * (1 - pow(1 + middle, -25)) / middle > 20000)
      low = middle;
    else
      high = middle;
  }
  ck_assert_int_eq(v.irr_answer, STEADING_MONEY_FOUND);
  ck_assert_double_eq_tol(v.internal_rate_of_return, low, 1e-10);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* Year by year: columns add up to the net, the cumulatives to their last value, and all of the
 * plan's own costs to its life-cycle cost: 6000 now, 6000 in year 10 and a bill of 1000 a year. */
START_TEST(the_cash_flow_adds_up) {
  pair p = judge_of(500, ", works = { { name = \"all\", price = 6000, life_years = 10 } }", "",
                    "{ years = 15 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 15, discount = 0.04 }");
  double cumulative = 0, discounted = 0, own = 6000 + 6000 / pow(1.04, 10);
  for (int k = 0; k <= 15; k++) {
    const steading_cash_year *y = &v.years[k];
    cumulative += y->net;
    discounted += y->net / pow(1.04, k);
    if (k > 0) own += 1000 / pow(1.04, k);
    ck_assert_double_eq_tol(y->purchases, k == 0 ? 6000 : 0, 1e-9);
    ck_assert_double_eq_tol(y->replacements, k == 10 ? 6000 : 0, 1e-9);
    ck_assert_double_eq_tol(y->bill_saving, k == 0 ? 0 : 1000, 1e-9);
    ck_assert_double_eq_tol(y->net, y->bill_saving + y->salvage - y->purchases - y->replacements,
                            1e-9);
    ck_assert_double_eq_tol(y->cumulative, cumulative, 1e-8);
    ck_assert_double_eq_tol(y->discounted_cumulative, discounted, 1e-8);
  }
  ck_assert_double_eq_tol(v.net_present_value, discounted, 1e-8);
  ck_assert_double_eq_tol(v.life_cycle_cost, own, 1e-7);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* Prices of year k are today's times (1 + escalation)^(k - 1): 2000 x 1.03^(k - 1) of energy and
 * 120 x 1.01^(k - 1) of fixed charges, all of it saved by a plan without a meter. */
START_TEST(fixed_charges_and_energy_escalate_by_their_own_rates) {
  steading_weather *weather = build_dark_weather();
  const steading_site *free_site = build_site(weather, "{ weather = @0 }");
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { tariff = { fixed_per_month = 10, "
      "energy = { { price_per_kwh = %.17g } } } } }, "
      "buildings = { b = { meter = \"m\", loads = { { kind = \"steady\", watts = 1000 } } } } }",
      price);
  pair p = {.plan = build_run(free_site, "{ years = 3 }"),
            .against = build_run(site, "{ years = 3 }")};
  steading_verdict v = verdict_of(
      &p, "{ horizon_years = 3, discount = 0.05, escalation = { energy = 0.03, fixed = 0.01 } }");
  for (int k = 1; k <= 3; k++)
    ck_assert_double_eq_tol(v.years[k].bill_saving,
                            2000 * pow(1.03, k - 1) + 120 * pow(1.01, k - 1), 1e-8);
  ck_assert_double_eq_tol(v.life_cycle_cost, 0, 1e-12);
  steading_verdict_clear(&v);
  steading_run_release(p.plan);
  steading_run_release(p.against);
  steading_record_release(free_site);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* 20 000 of parts: 13 % of the parts are 2600; 13 % of the total are 20000 x 0.13 / 0.87 =
 * 2988.51. Labour is no part of either. */
START_TEST(small_items_are_a_share_of_parts_or_of_the_total) {
  pair p = judge_of(0, ", works = { { name = \"all\", price = 20000, labour_price = 5000 } }", "",
                    "{ years = 1 }");
  steading_verdict v = verdict_of(
      &p, "{ horizon_years = 1, discount = 0, small_items = { share = 0.13, of = \"parts\" } }");
  ck_assert_double_eq_tol(v.first_cost, 20000 + 2600 + 5000, 1e-9);
  ck_assert_uint_eq(v.bought_count, 1);
  ck_assert_double_eq_tol(v.bought[0].parts, 20000, 1e-9);
  ck_assert_double_eq_tol(v.bought[0].small_items, 2600, 1e-9);
  ck_assert_double_eq_tol(v.bought[0].labour, 5000, 1e-9);
  steading_verdict_clear(&v);
  v = verdict_of(
      &p, "{ horizon_years = 1, discount = 0, small_items = { share = 0.13, of = \"total\" } }");
  ck_assert_double_eq_tol(v.bought[0].small_items, 2988.51, 0.005);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* The lots of a hub, bought for these prices. */
#define HUB(unit_lot, module_lot)                                                              \
  ", hubs = { h = { meter = \"m\", inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 1, " \
  "at_100 = 1 } }, lots = { " unit_lot " } }, battery = { module = { kwh = 5, charge_kw = 2, "  \
  "discharge_kw = 2, round_trip_efficiency = 1 }, lots = { " module_lot " } } } }"

/* hired_labour 0.6: 1200 of parts are 720 of labour; a lot's own share or price goes before it,
 * and 0 is an answer too. */
START_TEST(labour_of_a_lot_goes_before_hired_labour) {
  static const struct {
    const char *things;
    double parts, labour;
  } rows[] = {
      {HUB("{ count = 2, price_each = 600 }", "{ count = 1 }"), 1200, 720},
      {HUB("{ count = 2, price_lot = 600 }", "{ count = 1 }"), 600, 360},
      {HUB("{ count = 2, price_each = 600, labour_share = 0.25 }", "{ count = 1 }"), 1200, 300},
      {HUB("{ count = 2, price_each = 600, labour_share = 0 }", "{ count = 1 }"), 1200, 0},
      {HUB("{ count = 2, price_each = 600, labour_price = 77 }", "{ count = 1 }"), 1200, 77},
      {", works = { { name = \"w\", price = 1000 } }", 1000, 600},
      {", works = { { name = \"w\", price = 1000, labour_share = 0.1 } }", 1000, 100},
      {", works = { { name = \"w\", price = 1000, labour_price = 50 } }", 1000, 50}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    pair p = judge_of(1000, rows[i].things, "", "{ years = 1 }");
    steading_verdict v =
        verdict_of(&p, "{ horizon_years = 1, discount = 0, hired_labour = 0.6 }");
    ck_assert_uint_eq(v.bought_count, 1);
    ck_assert_double_eq_tol(v.bought[0].parts, rows[i].parts, 1e-9);
    ck_assert_double_eq_tol(v.bought[0].labour, rows[i].labour, 1e-9);
    ck_assert_double_eq_tol(v.first_cost, rows[i].parts + rows[i].labour, 1e-9);
    steading_verdict_clear(&v);
    drop(&p);
  }
}
END_TEST

/* 2 x 500 and 20 % labour every 4 years within 12: at 4 and 8, not at the horizon itself, at prices
 * that change by -3 % a year; without small items. What is left at the end is 10 % of the last
 * price paid: 0.1 x 1000 x 0.97^8. */
START_TEST(replacements_follow_life_and_trend_and_leave_a_salvage) {
  pair p = judge_of(1000,
                    HUB("{ count = 2, price_each = 500, labour_share = 0.2, life_years = 4, "
                        "price_trend_per_year = -0.03, salvage_share = 0.1 }",
                        "{ count = 1 }"),
                    "", "{ years = 12 }");
  steading_verdict v = verdict_of(
      &p, "{ horizon_years = 12, discount = 0, small_items = { share = 0.1, of = \"parts\" } }");
  ck_assert_double_eq_tol(v.years[0].purchases, 1000 + 100 + 200, 1e-9);
  for (int k = 0; k <= 12; k++) {
    double expected = k == 4 || k == 8 ? 1200 * pow(0.97, k) : 0;
    ck_assert_double_eq_tol(v.years[k].replacements, expected, 1e-9);
    ck_assert_double_eq_tol(v.years[k].salvage, k == 12 ? 100 * pow(0.97, 8) : 0, 1e-9);
  }
  ck_assert_uint_eq(v.bought_count, 3);
  ck_assert(!v.bought[0].replacement && v.bought[1].replacement && v.bought[2].replacement);
  ck_assert_int_eq(v.bought[2].plan_year, 8);
  ck_assert_str_eq(v.bought[0].item, "hubs.h.inverter.lots[1]");
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* A replacement may have a price of its own; where a lot says no trend, prices follow the inflation
 * in nominal terms and stay in real ones. */
START_TEST(replacements_cost_their_own_price_and_follow_inflation) {
  pair p = judge_of(1000,
                    HUB("{ count = 2, price_each = 500, life_years = 5, "
                        "replacement_price_each = 300 }",
                        "{ count = 1 }"),
                    "", "{ years = 8 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 8, prices = \"nominal\", discount = 0, "
                                      "inflation = 0.02 }");
  ck_assert_double_eq_tol(v.years[5].replacements, 600 * pow(1.02, 5), 1e-9);
  steading_verdict_clear(&v);
  v = verdict_of(&p, "{ horizon_years = 8, prices = \"real\", discount = 0 }");
  ck_assert_double_eq_tol(v.years[5].replacements, 600, 1e-9);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* In service two years (730 days and a leap day, 731) before the start: paid already, and due again
 * after 12 - 2 = 10 years. */
START_TEST(what_was_in_service_before_the_run_is_paid_and_its_replacement_is_not) {
  pair p = judge_of(1000,
                    HUB("{ count = 1, price_each = 900, life_years = 12, "
                        "in_service = \"2027-01\" }",
                        "{ count = 1, price_each = 400 }"),
                    "", "{ start = \"2029-01\", years = 15 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 15, discount = 0 }");
  ck_assert_double_eq_tol(v.first_cost, 400, 1e-9);
  for (int k = 0; k <= 15; k++)
    ck_assert_double_eq_tol(v.years[k].replacements, k == 10 ? 900 : 0, 1e-9);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* Whole years are whole years of the calendar, with or without leap days between: in service in
 * January 2021, 2022, 2023 or 2025, a life of 10 years ends with the year 4, 5, 6 or 8 of a run
 * that begins in January 2027. */
START_TEST(a_life_of_whole_years_ends_with_a_whole_year) {
  static const int first[4] = {2021, 2022, 2023, 2025};
  for (int i = 0; i < 4; i++) {
    char things[600];
    pair p;
    steading_verdict v;
    snprintf(things, sizeof things,
             HUB("{ count = 1, price_each = 900, life_years = 10, in_service = \"%d-01\" }",
                 "{ count = 1 }"),
             first[i]);
    p = judge_of(1000, things, "", "{ start = \"2027-01\", years = 12 }");
    v = verdict_of(&p, "{ horizon_years = 12, discount = 0 }");
    for (int k = 0; k <= 12; k++)
      ck_assert_double_eq_tol(v.years[k].replacements, k == first[i] + 10 - 2027 ? 900 : 0, 1e-9);
    steading_verdict_clear(&v);
    drop(&p);
  }
}
END_TEST

/* A life that ended before the run starts: bought at once, and a life later again. */
START_TEST(what_is_overdue_at_the_start_is_bought_at_once) {
  pair p = judge_of(1000,
                    HUB("{ count = 1, price_each = 900, life_years = 8, in_service = \"2015-01\" }",
                        "{ count = 1 }"),
                    "", "{ start = \"2027-01\", years = 12 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 12, discount = 0 }");
  for (int k = 0; k <= 12; k++)
    ck_assert_double_eq_tol(v.years[k].replacements, k == 0 || k == 8 ? 900 : 0, 1e-9);
  ck_assert_double_eq_tol(v.first_cost, 900, 1e-9);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* Flow k is the end of year k: works a year after the start fall into flow 1, with or without a
 * leap day between. */
START_TEST(works_at_the_turn_of_a_year_fall_into_its_flow) {
  pair p = judge_of(1000,
                    ", works = { { name = \"now\", price = 100, date = \"2027-01\" }, "
                    "{ name = \"a year on\", price = 10, date = \"2028-01\" }, "
                    "{ name = \"three years on\", price = 1, date = \"2030-01\" } }",
                    "", "{ start = \"2027-01\", years = 5 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 5, discount = 0 }");
  static const double expected[6] = {100, 10, 0, 1, 0, 0};
  for (int k = 0; k <= 5; k++) ck_assert_double_eq_tol(v.years[k].purchases, expected[k], 1e-9);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* "Money falls due at the end of a year of the run" (appraise.h): July 2029 lies in the third. */
START_TEST(works_within_a_year_fall_due_at_its_end) {
  pair p = judge_of(1000, ", works = { { name = \"later\", price = 100, date = \"2029-07\" } }", "",
                    "{ start = \"2027-01\", years = 5 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 5, discount = 0 }");
  for (int k = 0; k <= 5; k++)
    ck_assert_double_eq_tol(v.years[k].purchases, k == 3 ? 100 : 0, 1e-9);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

START_TEST(a_lot_of_nothing_costs_nothing) {
  pair p = judge_of(1000,
                    HUB("{ count = 0, price_lot = 900, labour_price = 50, life_years = 2 }",
                        "{ count = 0, price_each = 400 }"),
                    "", "{ years = 5 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 5, discount = 0 }");
  ck_assert_uint_eq(v.bought_count, 0);
  ck_assert_double_eq(v.first_cost, 0);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

START_TEST(questions_without_an_answer_say_why) {
  /* nothing is saved: never paid back, and no rate */
  pair p = judge_of(1000, ", works = { { name = \"all\", price = 20000 } }", "", "{ years = 5 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 5, discount = 0.05 }");
  ck_assert_int_eq(v.simple_answer, STEADING_MONEY_NEVER);
  ck_assert_int_eq(v.discounted_answer, STEADING_MONEY_NEVER);
  ck_assert_int_eq(v.irr_answer, STEADING_MONEY_NO_SIGN_CHANGE);
  ck_assert(isinf(v.simple_payback_years) && isinf(v.discounted_payback_years));
  steading_verdict_clear(&v);
  drop(&p);
  /* too little is saved: 5 x 2000 of 20 000; the rate is negative and exists */
  p = judge_of(0, ", works = { { name = \"all\", price = 20000 } }", "", "{ years = 5 }");
  v = verdict_of(&p, "{ horizon_years = 5, discount = 0.05 }");
  ck_assert_int_eq(v.simple_answer, STEADING_MONEY_NEVER);
  ck_assert_int_eq(v.irr_answer, STEADING_MONEY_FOUND);
  ck_assert_double_lt(v.internal_rate_of_return, 0);
  steading_verdict_clear(&v);
  drop(&p);
  /* nothing is spent: there is nothing to pay back */
  p = judge_of(0, "", "", "{ years = 5 }");
  v = verdict_of(&p, "{ horizon_years = 5, discount = 0.05 }");
  ck_assert_int_eq(v.simple_answer, STEADING_MONEY_NOT_AHEAD);
  ck_assert_int_eq(v.irr_answer, STEADING_MONEY_NO_SIGN_CHANGE);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* 10 000 for 2000 a year, and 10 000 again after 9 years: paid after 5, below zero again. */
START_TEST(a_payback_that_does_not_last_is_told) {
  pair p = judge_of(0, ", works = { { name = \"all\", price = 10000, life_years = 9 } }", "",
                    "{ years = 12 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 12, discount = 0 }");
  ck_assert_double_eq_tol(v.simple_payback_years, 5, 1e-9);
  ck_assert(v.simple_again_below);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

START_TEST(what_cannot_be_judged_is_refused) {
  pair p = judge_of(0, "", "", "{ start = \"2027-01\", years = 5 }");
  const steading_site *priceless = build_site(
      p.weather, "{ weather = @0, meters = { m = {} }, "
                 "buildings = { b = { meter = \"m\", loads = { "
                 "{ kind = \"steady\", watts = 1000 } } } } }");
  steading_run *other = build_run(p.against_site, "{ start = \"2027-02\", years = 5 }");
  steading_run *shorter = build_run(p.against_site, "{ start = \"2027-01\", years = 4 }");
  steading_run *unpriced = build_run(priceless, "{ start = \"2027-01\", years = 5 }");
  refused(p.plan, p.against, "{ horizon_years = 6, discount = 0 }", "money.horizon_years");
  refused(p.plan, shorter, "{ horizon_years = 5, discount = 0 }", "money.horizon_years");
  refused(p.plan, other, "{ horizon_years = 5, discount = 0 }", "appraise.against");
  refused(p.plan, unpriced, "{ horizon_years = 5, discount = 0 }", "appraise");
  refused(unpriced, p.against, "{ horizon_years = 5, discount = 0 }", "appraise");
  steading_run_release(other);
  steading_run_release(shorter);
  steading_run_release(unpriced);
  steading_record_release(priceless);
  drop(&p);
}
END_TEST

Suite *appraise_suite(void) {
  Suite *suite = suite_create("appraise");
  TCase *tests = tcase_create("appraise");
  tcase_add_test(tests, paybacks_of_growing_savings_equal_their_closed_forms);
  tcase_add_test(tests, the_rate_of_return_makes_the_present_value_zero);
  tcase_add_test(tests, the_cash_flow_adds_up);
  tcase_add_test(tests, fixed_charges_and_energy_escalate_by_their_own_rates);
  tcase_add_test(tests, small_items_are_a_share_of_parts_or_of_the_total);
  tcase_add_test(tests, labour_of_a_lot_goes_before_hired_labour);
  tcase_add_test(tests, replacements_follow_life_and_trend_and_leave_a_salvage);
  tcase_add_test(tests, replacements_cost_their_own_price_and_follow_inflation);
  tcase_add_test(tests, what_was_in_service_before_the_run_is_paid_and_its_replacement_is_not);
  tcase_add_test(tests, a_life_of_whole_years_ends_with_a_whole_year);
  tcase_add_test(tests, what_is_overdue_at_the_start_is_bought_at_once);
  tcase_add_test(tests, works_at_the_turn_of_a_year_fall_into_its_flow);
  tcase_add_test(tests, works_within_a_year_fall_due_at_its_end);
  tcase_add_test(tests, a_lot_of_nothing_costs_nothing);
  tcase_add_test(tests, questions_without_an_answer_say_why);
  tcase_add_test(tests, a_payback_that_does_not_last_is_told);
  tcase_add_test(tests, what_cannot_be_judged_is_refused);
  suite_add_tcase(suite, tests);
  return suite;
}
