/* A plan judged against another: closed forms for constant savings, and purchases by hand. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "build.h"
#include "ledger/appraise.h"
#include "suites.h"

/* A plan and what it is judged against. */
typedef struct pair {
  steading_weather *weather;
  const steading_site *plan_site, *against_site;
  steading_run *plan, *against;
} pair;

#define SITE                                                                                   \
  "{ weather = @0, meters = { m = { tariff = { energy = { { price_per_kwh = %.17g } } } } }, " \
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
#define HUB(unit_lot, module_lot)                                                               \
  ", hubs = { h = { meter = \"m\", inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 1, " \
  "at_100 = 1 } }, lots = { " unit_lot                                                          \
  " } }, battery = { module = { kwh = 5, charge_kw = 2, "                                       \
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
    steading_verdict v = verdict_of(&p, "{ horizon_years = 1, discount = 0, hired_labour = 0.6 }");
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
  steading_verdict v = verdict_of(&p,
                                  "{ horizon_years = 8, prices = \"nominal\", discount = 0, "
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
  ck_assert_double_eq(v.savings_to_investment.value, 0);
  ck_assert(isnan(v.adjusted_internal_rate_of_return.value));
  ck_assert_str_eq(v.adjusted_internal_rate_of_return.why, "nothing is saved");
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
  ck_assert(isnan(v.savings_to_investment.value));
  ck_assert_str_eq(v.savings_to_investment.why, "nothing is invested beyond the other plan");
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

/* LCOE: 1.50 a watt, a capacity factor of 22 %, 10 years at 8 % and 0.04 a kWh of running cost are
 * 0.1160 of capital and 0.1560 in all (a published textbook answer, which truncates to 0.1159 and
 * 0.1559): here 220 W of load served for 1500 and a bill of 0.04 a kWh. */
START_TEST(the_levelised_cost_equals_the_published_answer) {
  static const double running[2] = {0, 0.04}, expected[2] = {0.1159943, 0.1559943};
  for (int i = 0; i < 2; i++) {
    pair p = {.weather = build_dark_weather()};
    steading_verdict v;
    p.plan_site = build_site(p.weather, SITE, running[i], 220.0,
                             ", works = { { name = \"a kilowatt\", price = 1500 } }");
    p.against_site = build_site(p.weather, SITE, running[i], 220.0, "");
    p.plan = build_run(p.plan_site, "{ years = 10 }");
    p.against = build_run(p.against_site, "{ years = 10 }");
    v = verdict_of(&p, "{ horizon_years = 10, discount = 0.08 }");
    ck_assert_double_eq_tol(v.lcoe_per_kwh.value, expected[i], 5e-7);
    ck_assert_ptr_null(v.lcoe_per_kwh.why);
    steading_verdict_clear(&v);
    drop(&p);
  }
}
END_TEST

/* 20 000 now for 2000 a year over 20 years at 8 %: UPV = 9.818147 (from the published UCRF
 * 0.1018522088), so SIR (ASTM E964) = 0.9818147; AIRR (E1057) = 1.08 SIR^(1/20) - 1, which is the
 * rate at which 20 000 grow to the savings put aside at 8 %; the plan's life-cycle cost of 20 000
 * is 2037.044 a year. */
START_TEST(the_ratios_of_an_investment_equal_their_definitions) {
  pair p = judge_of(0, ", works = { { name = \"all\", price = 20000 } }", "", "{ years = 20 }");
  steading_verdict v = verdict_of(&p, "{ horizon_years = 20, discount = 0.08 }");
  double put_aside = 0;
  for (int k = 1; k <= 20; k++) put_aside = put_aside * 1.08 + 2000;
  ck_assert_double_eq_tol(v.savings_to_investment.value, 0.1 / 0.1018522088, 1e-8);
  ck_assert_double_eq_tol(v.adjusted_internal_rate_of_return.value,
                          pow(put_aside / 20000, 1.0 / 20) - 1, 1e-12);
  ck_assert_double_eq_tol(v.equivalent_annual_cost, 20000 * 0.1018522088, 1e-5);
  ck_assert(isnan(v.lcoe_per_kwh.value) && v.lcoe_per_kwh.why != NULL); /* it serves nothing */
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* A list of rates: 2000, 2000 x 1.1, x 1.1 x 1.2, and x 1.2 again, since the last goes on. */
START_TEST(a_list_of_escalations_goes_year_by_year) {
  pair p = judge_of(0, "", "", "{ years = 4 }");
  steading_verdict v =
      verdict_of(&p, "{ horizon_years = 4, discount = 0, escalation = { energy = { 0.1, 0.2 } } }");
  static const double expected[5] = {0, 2000, 2200, 2640, 3168};
  for (int k = 0; k <= 4; k++) ck_assert_double_eq_tol(v.years[k].bill_saving, expected[k], 1e-8);
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* Energy, riders and fixed charges of the other's bill, all of which a plan without a meter saves:
 * a kWh of 0.1 and a rider of 0.05, 10 a month, a tax of 10 % on energy and riders. Riders rise
 * with the energy unless they have a rate of their own, the tax with its lines. */
START_TEST(each_line_of_the_bill_has_its_own_escalation) {
  steading_weather *weather = build_dark_weather();
  const steading_site *free_site = build_site(weather, "{ weather = @0 }");
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { tariff = { fixed_per_month = 10, energy = { { "
      "price_per_kwh "
      "= 0.1 } }, riders = { { name = \"r\", price_per_kwh = 0.05 } }, taxes = { { name = \"t\", "
      "share = 0.1, on = { \"energy\", \"riders\" } } } } } }, "
      "buildings = { b = { meter = \"m\", loads = { { kind = \"steady\", watts = 1000 } } } } }");
  pair p = {.plan = build_run(free_site, "{ years = 3 }"),
            .against = build_run(site, "{ years = 3 }")};
  for (int own = 0; own < 2; own++) {
    steading_verdict v = verdict_of(
        &p,
        own ? "{ horizon_years = 3, discount = 0, escalation = { energy = 0.1, riders = 0.02 } }"
            : "{ horizon_years = 3, discount = 0, escalation = { energy = 0.1 } }");
    for (int k = 1; k <= 3; k++)
      ck_assert_double_eq_tol(
          v.years[k].bill_saving,
          120 + 1.1 * (876 * pow(1.1, k - 1) + 438 * pow(own ? 1.02 : 1.1, k - 1)), 1e-7);
    ck_assert_str_eq(v.escalations[1].lines, "riders");
    ck_assert_str_eq(v.escalations[1].escalation, own ? "riders" : "energy");
    ck_assert_double_eq_tol(v.escalations[1].last_factor, pow(own ? 1.02 : 1.1, 2), 1e-12);
    ck_assert_double_eq(v.escalations[2].first, 0);
    steading_verdict_clear(&v);
  }
  steading_run_release(p.plan);
  steading_run_release(p.against);
  steading_record_release(free_site);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* With and without an escalation of 0: the same bits. */
START_TEST(no_escalation_and_an_escalation_of_zero_are_the_same) {
  pair p = judge_of(310, ", works = { { name = \"all\", price = 777, life_years = 3 } }", "",
                    "{ years = 7 }");
  steading_verdict a = verdict_of(&p, "{ horizon_years = 7, discount = 0.04 }");
  steading_verdict b =
      verdict_of(&p,
                 "{ horizon_years = 7, discount = 0.04, escalation = { energy = 0, "
                 "fixed = 0, riders = 0, export = { 0, 0 } } }");
  for (int k = 0; k <= 7; k++) ck_assert_double_eq(a.years[k].net, b.years[k].net);
  ck_assert_double_eq(a.net_present_value, b.net_present_value);
  ck_assert_double_eq(a.life_cycle_cost, b.life_cycle_cost);
  steading_verdict_clear(&a);
  steading_verdict_clear(&b);
  drop(&p);
}
END_TEST

/* Stages add up: all against nothing is all against the first two, those against the first, and
 * that against nothing. */
START_TEST(the_values_of_stages_add_up) {
  static const double watts[4] = {1000, 700, 450, 420};
  static const char *const stages[3] = {
      "{ name = \"one\", price = 4100, date = \"2027-01\", life_years = 7 },",
      "{ name = \"two\", price = 2300, labour_price = 650, date = \"2029-07\" },",
      "{ name = \"three\", price = 900, date = \"2031-01\", life_years = 4 }"};
  steading_weather *weather = build_dark_weather();
  const steading_site *sites[4];
  steading_run *runs[4];
  double sum = 0, size = 0, whole = 0;
  for (int i = 0; i < 4; i++) {
    char works[600] = "";
    size_t used = (size_t)snprintf(works, sizeof works, ", works = { ");
    for (int k = 0; k < i; k++)
      used += (size_t)snprintf(works + used, sizeof works - used, "%s", stages[k]);
    snprintf(works + used, sizeof works - used, " }");
    sites[i] = build_site(weather, SITE, price, watts[i], works);
    runs[i] = build_run(sites[i], "{ start = \"2027-01\", years = 15 }");
  }
  for (int i = 0; i <= 3; i++) {
    pair p = {.plan = runs[i == 0 ? 3 : i], .against = runs[i == 0 ? 0 : i - 1]};
    steading_verdict v =
        verdict_of(&p,
                   "{ horizon_years = 15, prices = \"nominal\", discount = 0.05, "
                   "inflation = 0.02, escalation = { energy = 0.04 }, small_items = "
                   "{ share = 0.1, of = \"total\" }, hired_labour = 0.6 }");
    if (i == 0)
      whole = v.net_present_value;
    else
      sum += v.net_present_value;
    size += fabs(v.net_present_value);
    steading_verdict_clear(&v);
  }
  ck_assert_double_eq_tol(sum, whole, 1e-9 * size);
  ck_assert_double_gt(fabs(whole), 1);
  for (int i = 0; i < 4; i++) {
    steading_run_release(runs[i]);
    steading_record_release(sites[i]);
  }
  steading_weather_release(weather);
}
END_TEST

/* 1000 every 4 years, gone after 6 (5.5) of 12: bought again at 4 and not at 8, and 10 % of the
 * last price come back at the end of the year in which it leaves. A lot of year 3 is bought then.
 */
START_TEST(a_retired_lot_is_not_replaced_and_leaves_its_salvage_then) {
  static const char *const dates[2] = {"2033-01", "2032-07"};
  for (int i = 0; i < 2; i++) {
    char things[900];
    pair p;
    steading_verdict v;
    snprintf(things, sizeof things,
             HUB("{ count = 2, price_each = 500, life_years = 4, salvage_share = 0.1, in_service = "
                 "\"2027-01\", retired = \"%s\" }, { count = 1, price_each = 700, in_service = "
                 "\"2029-07\" }",
                 "{ count = 1 }"),
             dates[i]);
    p = judge_of(1000, things, "", "{ start = \"2027-01\", years = 12 }");
    v = verdict_of(&p, "{ horizon_years = 12, discount = 0 }");
    for (int k = 0; k <= 12; k++) {
      ck_assert_double_eq_tol(v.years[k].purchases, k == 0 ? 1000 : k == 3 ? 700 : 0, 1e-9);
      ck_assert_double_eq_tol(v.years[k].replacements, k == 4 ? 1000 : 0, 1e-9);
      ck_assert_double_eq_tol(v.years[k].salvage, k == 6 ? 100 : 0, 1e-9);
    }
    steading_verdict_clear(&v);
    drop(&p);
  }
}
END_TEST

static bool warned(const steading_verdict *v, const char *code) {
  for (size_t i = 0; i < v->warning_count; i++)
    if (strcmp(v->warnings[i].code, code) == 0) return true;
  return false;
}

START_TEST(rates_and_prices_that_look_wrong_are_told) {
  pair p = judge_of(0, ", works = { { name = \"all\", price = 20000 } }", "", "{ years = 25 }");
  steading_verdict v =
      verdict_of(&p, "{ horizon_years = 25, discount = 0.05, escalation = { energy = 0.2 } }");
  ck_assert(warned(&v, "read_as_nominal") && warned(&v, "steep_escalation"));
  ck_assert(!warned(&v, "bill_far_above_cost") && !warned(&v, "prices_far_apart"));
  steading_verdict_clear(&v);
  v = verdict_of(&p,
                 "{ horizon_years = 25, discount = 0.05, prices = \"real\", escalation = { "
                 "energy = 0.08 } }");
  ck_assert_uint_eq(v.warning_count, 0);
  steading_verdict_clear(&v);
  drop(&p);
  /* 100 times the price beside a purchase of 2000, and beside a meter at the right price */
  p = (pair){.weather = build_dark_weather()};
  p.plan_site =
      build_site(p.weather, SITE, price, 0.0, ", works = { { name = \"a\", price = 2000 } }");
  p.against_site = build_site(p.weather, SITE, price * 100, 1000.0, "");
  p.plan = build_run(p.plan_site, "{ years = 5 }");
  p.against = build_run(p.against_site, "{ years = 5 }");
  v = verdict_of(&p, "{ horizon_years = 5, discount = 0.05 }");
  ck_assert(warned(&v, "bill_far_above_cost") && warned(&v, "prices_far_apart"));
  steading_verdict_clear(&v);
  drop(&p);
}
END_TEST

/* A hub of 50 W with nothing behind it draws 438 kWh a year; with a battery it has a reason to be. */
START_TEST(an_idle_hub_in_what_a_plan_is_compared_with_is_told) {
  static const char idle[] =
      ", hubs = { h = { meter = \"m\", inverter = { unit = { ac_kw = 5, idle_w = 50, efficiency = { "
      "at_10 = 0.9, at_100 = 0.95 } }, lots = { { count = 1 } } }%s } }";
  static const char battery[] =
      ", battery = { module = { kwh = 5, charge_kw = 2, discharge_kw = 2, "
      "round_trip_efficiency = 0.9 }, lots = { { count = 1 } } }";
  for (int with = 0; with < 2; with++) {
    char hub[512];
    pair p;
    steading_verdict v;
    bool found = false;
    snprintf(hub, sizeof hub, idle, with ? battery : "");
    p = judge_of(1000, "", hub, "{ years = 2 }");
    v = verdict_of(&p, "{ horizon_years = 2, discount = 0.05 }");
    for (size_t i = 0; i < v.warning_count; i++)
      found = found || (strcmp(v.warnings[i].code, "idle_hub") == 0 &&
                        strstr(v.warnings[i].text, "'h'") != NULL &&
                        strstr(v.warnings[i].text, "(438 kWh a year)") != NULL);
    ck_assert(found == !with);
    steading_verdict_clear(&v);
    drop(&p);
  }
}
END_TEST

START_TEST(what_cannot_be_judged_is_refused) {
  pair p = judge_of(0, "", "", "{ start = \"2027-01\", years = 5 }");
  const steading_site *priceless = build_site(p.weather,
                                              "{ weather = @0, meters = { m = {} }, "
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
  tcase_add_test(tests, the_levelised_cost_equals_the_published_answer);
  tcase_add_test(tests, the_ratios_of_an_investment_equal_their_definitions);
  tcase_add_test(tests, a_list_of_escalations_goes_year_by_year);
  tcase_add_test(tests, each_line_of_the_bill_has_its_own_escalation);
  tcase_add_test(tests, no_escalation_and_an_escalation_of_zero_are_the_same);
  tcase_add_test(tests, the_values_of_stages_add_up);
  tcase_add_test(tests, a_retired_lot_is_not_replaced_and_leaves_its_salvage_then);
  tcase_add_test(tests, rates_and_prices_that_look_wrong_are_told);
  tcase_add_test(tests, an_idle_hub_in_what_a_plan_is_compared_with_is_told);
  tcase_add_test(tests, what_cannot_be_judged_is_refused);
  suite_add_tcase(suite, tests);
  return suite;
}
