/* Bills against published schedules, periods against an independent count of the clock, and the
 * arithmetic of lines and credits.
 *
 * Published rates and bills are from utilities' pages and copies of them; where the page
 * gives rates alone, the bill is their sum, worked out here by hand. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "demand/clock.h"
#include "dice.h"
#include "ledger/count.h"
#include "ledger/tariff.h"
#include "resource/weather.h"
#include "site/canonical.h"
#include "site/periods.h"
#include "suites.h"

/* --- one month ---------------------------------------------------------------------------------
 */

typedef struct month_of {
  steading_tariff *tariff;
  steading_bills bills;
  steading_carry carry;
} month_of;

static void bill_buckets(month_of *m, int of_year, double days, const steading_bucket *buckets,
                         size_t count) {
  const steading_billed_month what = {
      .month = 0, .of_year = of_year, .days = days, .buckets = buckets, .bucket_count = count};
  steading_error error = {.status = STEADING_OK};
  steading_bills_clear(&m->bills);
  if (steading_bill_month(m->tariff, &what, NULL, &m->carry, &m->bills, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
}

static month_of tariff_of(const char *text) {
  return (month_of){.tariff = build(&steading_tariff_spec, NULL, "%s", text)};
}

static void drop(month_of *m) {
  steading_bills_clear(&m->bills);
  steading_record_release(m->tariff);
}

static double total(const month_of *m) {
  return steading_bills_sum(&m->bills, STEADING_ALL_METERS, 0, 1);
}

static double bill_of(const char *text, double days, double kwh) {
  month_of m = tariff_of(text);
  double sum = 0;
  bill_buckets(&m, 1, days, &(steading_bucket){.import_kwh = kwh}, 1);
  sum = total(&m);
  drop(&m);
  return sum;
}

static const steading_bill_line *line_of(const month_of *m, const char *name) {
  char text[128];
  for (size_t i = 0; i < m->bills.line_count; i++)
    if (strcmp(steading_bill_line_text(&m->bills.lines[i], text, sizeof text), name) == 0)
      return &m->bills.lines[i];
  return NULL;
}

static double amount_of(const month_of *m, const char *name) {
  const steading_bill_line *line = line_of(m, name);
  if (line == NULL) ck_abort_msg("the bill has no line '%s'", name);
  return line->amount;
}

/* --- published schedules -----------------------------------------------------------------------
 */

/* A distributor's page on how to read a bill (Tennessee, old): 9975 - 8865 = 1110 kWh at 0.0951 are
 * 105.56, beside 18.48 for availability. */
START_TEST(a_flat_price_and_a_monthly_charge_equal_the_published_bill) {
  month_of m = tariff_of("{ fixed_per_month = 18.48, energy = { { price_per_kwh = 0.0951 } } }");
  bill_buckets(&m, 1, 31, &(steading_bucket){.import_kwh = 1110, .export_kwh = 77}, 1);
  ck_assert_double_eq_tol(amount_of(&m, "energy"), 105.56, 0.005);
  ck_assert_double_eq_tol(amount_of(&m, "fixed_per_month"), 18.48, 1e-12);
  ck_assert_double_eq_tol(total(&m), 124.04, 0.005);
  ck_assert_uint_eq(m.bills.line_count, 2);
  drop(&m);
}
END_TEST

/* BC Hydro, residential, 2024/25: 10.97 cents up to a threshold of 22.1918 kWh a day and 14.08
 * above, 22.53 cents a day. The page gives the threshold as 1332 kWh in 60 days and 1287 in 58. The
 * bills are the sums: 60 days: 13.518 + 1331.508 x 0.1097 + 668.492 x 0.1408 = 253.7081. */
START_TEST(blocks_by_the_day_equal_the_published_threshold) {
  static const char *const text =
      "{ fixed_per_day = 0.2253, energy = { { up_to_kwh_per_day = 22.1918, price_per_kwh = 0.1097 "
      "}, { price_per_kwh = 0.1408 } } }";
  month_of m = tariff_of(text);
  bill_buckets(&m, 1, 60, &(steading_bucket){.import_kwh = 2000}, 1);
  ck_assert_double_eq_tol(line_of(&m, "energy block 1")->quantity, 1332, 0.6);
  bill_buckets(&m, 1, 58, &(steading_bucket){.import_kwh = 2000}, 1);
  ck_assert_double_eq_tol(line_of(&m, "energy block 1")->quantity, 1287, 0.6);
  ck_assert_double_eq_tol(line_of(&m, "energy block 2")->quantity, 2000 - 58 * 22.1918, 1e-9);
  drop(&m);
  ck_assert_double_eq_tol(bill_of(text, 60, 2000), 253.7081, 1e-4);
  ck_assert_double_eq_tol(bill_of(text, 30, 600), 72.5790, 1e-4);
  ck_assert_double_eq_tol(bill_of(text, 61, 1350), 161.8383, 1e-4);
}
END_TEST

/* HK Electric, 2007, net rates: 150 at 90.5, 150 at 99.9, 200 at 109.1, 200 at 131.2, 300 at 140.0,
 * the rest at 149.0 cents. */
START_TEST(many_blocks_equal_the_sum_of_their_published_rates) {
  static const char *const text =
      "{ energy = { { up_to_kwh = 150, price_per_kwh = 0.905 }, { up_to_kwh = 300, price_per_kwh = "
      "0.999 }, { up_to_kwh = 500, price_per_kwh = 1.091 }, { up_to_kwh = 700, price_per_kwh = "
      "1.312 }, { up_to_kwh = 1000, price_per_kwh = 1.4 }, { price_per_kwh = 1.49 } } }";
  ck_assert_double_eq_tol(bill_of(text, 30, 600), 635.00, 1e-9);
  ck_assert_double_eq_tol(bill_of(text, 30, 1200), 1484.20, 1e-9);
}
END_TEST

/* Malaysia, domestic, 2025: 27.03 + 4.55 + 12.85 sen, less a rebate on all kWh of the band that the
 * month reaches; retail charge 10 above 600 kWh. Published (a trade page): 180 kWh are RM 34.97; by
 * the same rates 750 kWh are 309.475. */
START_TEST(all_energy_at_the_block_reached_equals_the_published_bill) {
  char text[1200] = "";
  static const struct {
    double up_to, rebate;
  } bands[] = {{200, 25}, {250, 24.5}, {300, 22.5}, {350, 21},  {400, 17},  {450, 14.5},
               {500, 12}, {550, 10.5}, {600, 9},    {650, 7.5}, {700, 5.5}, {750, 4.5},
               {800, 4},  {850, 2.5},  {900, 1},    {1000, 0.5}};
  for (int retail = 0; retail < 2; retail++) {
    size_t used = 0;
    used += (size_t)snprintf(text, sizeof text, "{ fixed_per_month = %d, energy = { ", retail * 10);
    for (size_t i = 0; i < sizeof bands / sizeof *bands; i++)
      used += (size_t)snprintf(text + used, sizeof text - used,
                               "{ up_to_kwh = %g, price_per_kwh = %.10g }, ", bands[i].up_to,
                               (27.03 + 4.55 + 12.85 - bands[i].rebate) / 100);
    snprintf(text + used, sizeof text - used, "{ price_per_kwh = 0.4443 }, all_at_last = true } }");
    if (retail == 0)
      ck_assert_double_eq_tol(bill_of(text, 30, 180), 34.97, 0.01);
    else
      ck_assert_double_eq_tol(bill_of(text, 30, 750), 309.475, 1e-9);
  }
}
END_TEST

/* CLP, non-residential, 2021: 103.1 + 28.1 cents, a rebate on all kWh of 17.2 (up to 200), 16.2 (to
 * 300) or 15.2 (to 400), at least 40. */
START_TEST(a_minimum_bill_and_a_cliff_equal_the_sum_of_the_published_rates) {
  static const char *const text =
      "{ minimum_bill_per_month = 40, energy = { { up_to_kwh = 200, price_per_kwh = 1.140 }, { "
      "up_to_kwh = 300, price_per_kwh = 1.150 }, { up_to_kwh = 400, price_per_kwh = 1.160 }, { "
      "price_per_kwh = 1.312, all_at_last = true } } }";
  ck_assert_double_eq_tol(bill_of(text, 30, 20), 40.00, 1e-12);
  ck_assert_double_eq_tol(bill_of(text, 30, 200), 228.00, 1e-9);
  ck_assert_double_eq_tol(bill_of(text, 30, 201), 231.15, 1e-9);
  ck_assert_double_eq_tol(bill_of(text, 30, 400), 464.00, 1e-9);
  ck_assert_double_eq_tol(bill_of(text, 30, 401), 526.112, 1e-9);
}
END_TEST

/* Kenya, 2023, ordinary band (Sunday Nation, 26 March 2023): 12.60 and the month's levies of 13.03
 * in February and 15.32 in March make 25.63 and 27.92 a kWh. */
START_TEST(riders_by_month_equal_the_published_prices) {
  month_of m = tariff_of(
      "{ energy = { { price_per_kwh = 12.60 } }, riders = { { name = \"levies\", price_per_kwh = { "
      "0, 13.03, 15.32, 0, 0, 0, 0, 0, 0, 0, 0, 0 } } } }");
  bill_buckets(&m, 2, 28, &(steading_bucket){.import_kwh = 100}, 1);
  ck_assert_double_eq_tol(total(&m) / 100, 25.63, 0.005);
  bill_buckets(&m, 3, 31, &(steading_bucket){.import_kwh = 100}, 1);
  ck_assert_double_eq_tol(total(&m) / 100, 27.92, 0.005);
  ck_assert_double_eq_tol(amount_of(&m, "rider levies"), 1532, 1e-9);
  drop(&m);
}
END_TEST

/* Otter Tail Power: a charge of 9.75 a month over 29 days is 9.30, that is times days / (365 / 12).
 */
START_TEST(a_daily_charge_equals_the_published_share_of_a_month) {
  ck_assert_double_eq_tol(
      bill_of("{ fixed_per_day = 0.32054794520547947, energy = { { price_per_kwh = 0.1 } } }", 29,
              0),
      9.30, 0.005);
}
END_TEST

/* Glencoe, Minnesota, residential: 13.40 a month and 8.0 cents: 1000 kWh are 93.40. */
START_TEST(another_flat_schedule_equals_its_bill) {
  ck_assert_double_eq_tol(
      bill_of("{ fixed_per_month = 13.40, energy = { { price_per_kwh = 0.080 } } }", 31, 1000),
      93.40, 1e-9);
}
END_TEST

/* --- lines by hand -----------------------------------------------------------------------------
 */

/* 20 a month, 500 kWh at 0.10 and a rider of 0.012: 76; 6 % of all three are 4.56, 1 % of the
 * energy alone 0.50. */
START_TEST(taxes_are_shares_of_the_lines_that_they_name) {
  month_of m = tariff_of(
      "{ fixed_per_month = 20, energy = { { price_per_kwh = 0.10 } }, riders = { { name = \"power "
      "cost\", price_per_kwh = 0.012 } }, taxes = { { name = \"sales\", share = 0.06, on = { "
      "\"energy\", \"fixed\", \"riders\" } }, { name = \"town\", share = 0.01, on = \"energy\" } } "
      "}");
  bill_buckets(&m, 1, 31, &(steading_bucket){.import_kwh = 500}, 1);
  ck_assert_double_eq_tol(amount_of(&m, "rider power cost"), 6, 1e-12);
  ck_assert_double_eq_tol(amount_of(&m, "tax sales"), 4.56, 1e-12);
  ck_assert_double_eq_tol(amount_of(&m, "tax town"), 0.5, 1e-12);
  ck_assert_double_eq_tol(total(&m), 81.06, 1e-12);
  drop(&m);
}
END_TEST

/* What is missing to 100 is a line of its own, taxed where a tax names it: 100 + 10 % of 24. */
START_TEST(a_minimum_bill_adds_what_is_missing_before_taxes) {
  month_of m = tariff_of(
      "{ fixed_per_month = 20, minimum_bill_per_month = 100, energy = { { price_per_kwh = 0.112 } "
      "}, "
      "taxes = { { name = \"t\", share = 0.1, on = { \"minimum\" } } } }");
  bill_buckets(&m, 1, 31, &(steading_bucket){.import_kwh = 500}, 1);
  ck_assert_double_eq_tol(amount_of(&m, "minimum"), 24, 1e-12);
  ck_assert_double_eq_tol(total(&m), 102.4, 1e-12);
  bill_buckets(&m, 1, 31, &(steading_bucket){.import_kwh = 5000}, 1);
  ck_assert_ptr_null(line_of(&m, "minimum"));
  drop(&m);
}
END_TEST

/* Import 600, export 500, retail 0.15, fixed 12: 27.00 with net metering, 77.00 with a credit of
 * 0.05; an export of 700 carries 100 kWh, which pay for the next month. */
START_TEST(net_metering_and_net_billing_by_hand) {
  static const steading_bucket some = {.import_kwh = 600, .export_kwh = 500};
  static const steading_bucket more = {.import_kwh = 600, .export_kwh = 700};
  month_of m = tariff_of(
      "{ fixed_per_month = 12, energy = { { price_per_kwh = 0.15 } }, export = { "
      "kind = \"net_metering\" } }");
  bill_buckets(&m, 1, 31, &some, 1);
  ck_assert_double_eq_tol(total(&m), 27, 1e-12);
  bill_buckets(&m, 2, 28, &more, 1);
  ck_assert_double_eq_tol(total(&m), 12, 1e-12);
  ck_assert_double_eq_tol(m.bills.credits[0].added, 100, 1e-12);
  ck_assert_double_eq_tol(m.bills.credits[0].closing, 100, 1e-12);
  ck_assert_str_eq(m.bills.credits[0].unit, "kWh");
  bill_buckets(&m, 3, 31, &some, 1); /* 100 of next month, of which all are covered */
  ck_assert_double_eq_tol(total(&m), 12, 1e-12);
  ck_assert_double_eq_tol(m.bills.credits[0].used, 100, 1e-12);
  ck_assert_double_eq_tol(m.bills.credits[0].closing, 0, 1e-12);
  drop(&m);
  m = tariff_of(
      "{ fixed_per_month = 12, energy = { { price_per_kwh = 0.15 } }, export = { kind = "
      "\"net_billing\", price_per_kwh = 0.05 } }");
  bill_buckets(&m, 1, 31, &some, 1);
  ck_assert_double_eq_tol(total(&m), 77, 1e-12);
  bill_buckets(&m, 1, 31, &(steading_bucket){.export_kwh = 700}, 1); /* 12 - 35 */
  ck_assert_double_eq_tol(total(&m), -23, 1e-12);
  drop(&m);
  m = tariff_of("{ fixed_per_month = 12, energy = { { price_per_kwh = 0.15 } } }");
  bill_buckets(&m, 1, 31, &some, 1);
  ck_assert_double_eq_tol(total(&m), 102, 1e-12);
  ck_assert_uint_eq(m.bills.credit_count, 0);
  drop(&m);
}
END_TEST

#define PERIODS                                                                                  \
  "energy = { kind = \"periods\", periods = { { name = \"peak\", price_per_kwh = 0.30, hours = " \
  "\"17:00-21:00\", days = \"Mon-Fri\" }, { name = \"rest\", price_per_kwh = 0.10 } } }"

/* kWh offset kWh of their own period: 50 more out than in at rest do not pay the 30 of the peak.
 * They are carried, 20 are used in the next month, and the true-up of month 3 ends the other 30:
 * expired, or paid out at 0.04. */
START_TEST(net_metering_offsets_within_a_period_and_ends_at_the_true_up) {
  static const steading_bucket first[2] = {{30, 0}, {100, 150}}, second[2] = {{0, 0}, {20, 0}};
  static const steading_bucket third[2] = {{10, 4}, {5, 5}};
  for (int pays = 0; pays < 2; pays++) {
    month_of m = tariff_of(pays ? "{ " PERIODS
                                  ", export = { kind = \"net_metering\", true_up_month = 3, "
                                  "cash_out_price_per_kwh = 0.04 } }"
                                : "{ " PERIODS
                                  ", export = { kind = \"net_metering\", true_up_month = 3 } }");
    const steading_credit *credit = NULL;
    bill_buckets(&m, 1, 31, first, 2);
    ck_assert_double_eq_tol(total(&m), 30 * 0.30, 1e-12);
    ck_assert_double_eq_tol(m.bills.credits[0].closing, 50, 1e-12);
    bill_buckets(&m, 2, 28, second, 2);
    ck_assert_double_eq_tol(total(&m), 0, 1e-12);
    bill_buckets(&m, 3, 31, third, 2);
    credit = &m.bills.credits[0];
    ck_assert_double_eq_tol(total(&m), 6 * 0.30 - pays * 30 * 0.04, 1e-12);
    ck_assert_double_eq_tol(credit->opening, 30, 1e-12);
    ck_assert_double_eq_tol(pays ? credit->paid_out : credit->expired, 30, 1e-12);
    ck_assert_double_eq_tol(pays ? credit->expired : credit->paid_out, 0, 1e-12);
    ck_assert_double_eq_tol(credit->closing, 0, 1e-12);
    bill_buckets(&m, 4, 30, second, 2);
    ck_assert_double_eq_tol(total(&m), 2, 1e-12);
    drop(&m);
  }
}
END_TEST

/* Credit of 0.05 pays at most the energy of the month: 20 of 35 in January, 15 carried, 13 of them
 * with the 2 of February ... and at the end of March 4 are left, 80 kWh at 0.05: nothing, or paid
 * out as 80 kWh at 0.03. Riders and fixed charges are not paid by it. */
START_TEST(a_capped_credit_is_carried_and_ends_at_the_true_up) {
  for (int pays = 0; pays < 2; pays++) {
    char text[600];
    month_of m;
    snprintf(
        text, sizeof text,
        "{ fixed_per_month = 7, energy = { { price_per_kwh = 0.2 } }, riders = { { name = \"r\", "
        "price_per_kwh = 0.01 } }, export = { kind = \"net_billing\", price_per_kwh = 0.05, cap "
        "= \"energy_of_month\", true_up_month = 3 %s } }",
        pays ? ", cash_out_price_per_kwh = 0.03" : "");
    m = tariff_of(text);
    bill_buckets(&m, 1, 31, &(steading_bucket){100, 700}, 1);
    ck_assert_double_eq_tol(total(&m), 7 + 20 + 1 - 20, 1e-12);
    ck_assert_double_eq_tol(m.bills.credits[0].added, 35, 1e-12);
    ck_assert_double_eq_tol(m.bills.credits[0].closing, 15, 1e-12);
    ck_assert_str_eq(m.bills.credits[0].unit, "money");
    bill_buckets(&m, 2, 28, &(steading_bucket){75, 40}, 1);
    ck_assert_double_eq_tol(total(&m), 7 + 0.75, 1e-12);
    ck_assert_double_eq_tol(m.bills.credits[0].closing, 2, 1e-12);
    bill_buckets(&m, 3, 31, &(steading_bucket){0, 40}, 1);
    ck_assert_double_eq_tol(total(&m), 7 - pays * 80 * 0.03, 1e-12);
    ck_assert_double_eq_tol(pays ? m.bills.credits[0].paid_out : m.bills.credits[0].expired, 4,
                            1e-12);
    ck_assert_double_eq_tol(m.bills.credits[0].closing, 0, 1e-12);
    drop(&m);
  }
}
END_TEST

/* Blocks of a period count the energy of that period: 100 of 130 kWh at 0.20, 30 at 0.40. */
START_TEST(a_period_may_have_blocks_of_its_own) {
  month_of m = tariff_of(
      "{ energy = { kind = \"periods\", periods = { { name = \"summer\", months = \"Jun-Aug\", "
      "blocks "
      "= { { up_to_kwh = 100, price_per_kwh = 0.2 }, { price_per_kwh = 0.4 } } }, { name = "
      "\"winter\", price_per_kwh = 0.1 } } } }");
  static const steading_bucket june[2] = {{130, 0}, {0, 0}}, may[2] = {{0, 0}, {130, 0}};
  bill_buckets(&m, 6, 30, june, 2);
  ck_assert_double_eq_tol(amount_of(&m, "energy summer block 1"), 20, 1e-12);
  ck_assert_double_eq_tol(amount_of(&m, "energy summer block 2"), 12, 1e-12);
  ck_assert_ptr_null(line_of(&m, "energy winter"));
  bill_buckets(&m, 5, 31, may, 2);
  ck_assert_double_eq_tol(amount_of(&m, "energy winter"), 13, 1e-12);
  drop(&m);
}
END_TEST

/* --- the bills of runs -------------------------------------------------------------------------
 */

static steading_weather *weather_at(double utc_offset_h) {
  const steading_place place = {
      .latitude_deg = 35, .longitude_deg = utc_offset_h * 15, .utc_offset_h = utc_offset_h};
  steading_weather *weather = steading_weather_new(&place, 1, 60, "made");
  ck_assert_ptr_nonnull(weather);
  for (size_t i = 0; i < weather->steps; i++) weather->temp_c[i] = 20;
  return weather;
}

static steading_run *run_with_plans(const steading_site *site, const char *options,
                                    const steading_zone *zone) {
  steading_simulate *simulate = build(&steading_simulate_spec, NULL, "%s", options);
  const steading_meter_plan *of_meters[8] = {NULL};
  steading_meter_plan *plans = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  if (steading_site_plans(site, (int)simulate->step_minutes, &plans, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  for (size_t m = 0; m < site->meters->count; m++) of_meters[m] = &plans[m];
  if (steading_run_simulate(site, simulate, zone, of_meters, &run, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  steading_site_plans_free(site, plans);
  steading_record_release(simulate);
  return run;
}

static steading_bills *bills_of(const steading_run *run) {
  steading_bills *bills = NULL;
  steading_error error = {.status = STEADING_OK};
  if (steading_run_bills(run, run->month_count, NULL, &bills, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  return bills;
}

/* 1 kW for every hour of every month at 0.10, 9 a month and 0.5 a day: February 28 days, also in
 * the leap year 2028. */
START_TEST(the_bills_of_a_run_follow_its_months) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = { tariff = { fixed_per_month = 9, fixed_per_day = 0.5, "
      "energy = { { price_per_kwh = 0.1 } } } } }, buildings = { b = { meter = \"m\", loads = { { "
      "kind = \"steady\", watts = 1000 } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-07\", years = 2 }");
  steading_bills *bills = bills_of(run);
  static const int days[12] = {31, 31, 30, 31, 30, 31, 31, 28, 31, 30, 31, 30};
  double all = 0;
  ck_assert(steading_run_is_billed(run));
  for (size_t m = 0; m < 24; m++)
    ck_assert_double_eq_tol(steading_bills_sum(bills, 0, m, 1), 9 + 2.9 * days[m % 12], 1e-9);
  for (size_t i = 0; i < bills->line_count; i++) all += bills->lines[i].amount;
  ck_assert_double_eq(steading_bills_sum(bills, STEADING_ALL_METERS, 0, 24), all);
  steading_bills_free(bills);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_meter_without_a_tariff_has_no_bill_and_a_site_without_a_meter_needs_none) {
  steading_weather *weather = build_dark_weather();
  const steading_site *priceless = build_site(weather,
                                              "{ weather = @0, meters = { m = {} }, "
                                              "buildings = { b = { meter = \"m\", loads = { "
                                              "{ kind = \"steady\", watts = 1000 } } } } }");
  const steading_site *alone =
      build_site(weather,
                 "{ weather = @0, hubs = { h = { inverter = { unit = { ac_kw = 5, "
                 "efficiency = { at_10 = 1, at_100 = 1 } } } } } }");
  steading_run *run = build_run(priceless, "{}");
  steading_bills *bills = bills_of(run);
  ck_assert(!steading_run_is_billed(run));
  ck_assert_uint_eq(bills->line_count, 0);
  steading_bills_free(bills);
  steading_run_release(run);
  run = build_run(alone, "{}");
  bills = bills_of(run);
  ck_assert(steading_run_is_billed(run));
  ck_assert_uint_eq(bills->line_count, 0);
  steading_bills_free(bills);
  steading_run_release(run);
  steading_record_release(priceless);
  steading_record_release(alone);
  steading_weather_release(weather);
}
END_TEST

/* --- an independent clock ----------------------------------------------------------------------
 *
 * Hours of 2027 in standard time, and the civil time of two zones by their published rules alone:
 * Denver (US Energy Policy Act of 2005): an hour ahead from the second Sunday of March, 02:00
 * standard, to the first Sunday of November, 01:00 standard: 14 March and 7 November. Sydney: an
 * hour ahead from the first Sunday of October, 02:00 standard, to the first Sunday of April, 02:00
 * standard: 3 October and 4 April. 1 January 2027 is a Friday. */

typedef struct civil {
  int month, day, weekday, hour; /* weekday 0 Monday */
} civil;

static const int month_days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

static int hour_of_year(int month, int day, int hour) {
  int days = day - 1;
  for (int m = 1; m < month; m++) days += month_days[m - 1];
  return days * 24 + hour;
}

static civil civil_of(int standard_hour, bool south) {
  int spring = south ? hour_of_year(10, 3, 2) : hour_of_year(3, 14, 2);
  int autumn = south ? hour_of_year(4, 4, 2) : hour_of_year(11, 7, 1);
  bool ahead = south ? standard_hour >= spring || standard_hour < autumn
                     : standard_hour >= spring && standard_hour < autumn;
  int hour = standard_hour + ahead, days = hour / 24;
  civil c = {.month = 1, .weekday = (4 + days) % 7, .hour = hour % 24};
  for (; c.month <= 12 && days >= month_days[c.month - 1]; c.month++)
    days -= month_days[c.month - 1];
  c.day = days + 1;
  return c;
}

static bool is_holiday(int month, int day) {
  return (month == 1 && day == 1) || (month == 3 && day == 15) || (month == 10 && day == 4);
}

/* "peak" 17-21 on weekdays that are no holiday; "night" 22-06, of the day it starts on, Friday and
 * Saturday nights alone; "rest". A holiday counts as a Sunday, so that the night before it is no
 * different and the night after Friday the 1st of January is a Sunday's. */
static int independent_period(civil c) {
  civil before = {.weekday = (c.weekday + 6) % 7, .month = c.month, .day = c.day - 1};
  int day = is_holiday(c.month, c.day) ? 6 : c.weekday, day_before = before.weekday;
  if (before.day == 0) {
    before.month = c.month == 1 ? 12 : c.month - 1;
    before.day = month_days[before.month - 1];
  }
  if (is_holiday(before.month, before.day)) day_before = 6;
  if (c.hour >= 17 && c.hour < 21 && day < 5) return 0;
  if (c.hour >= 22 && (day == 4 || day == 5)) return 1;
  if (c.hour < 6 && (day_before == 4 || day_before == 5)) return 1;
  return 2;
}

#define CLOCK_TARIFF                                                                               \
  "{ holidays = { \"01-01\", \"03-15\", \"10-04\" }, energy = { kind = \"periods\", periods = { "  \
  "{ "                                                                                             \
  "name = \"peak\", price_per_kwh = 0.3, hours = \"17:00-21:00\", days = \"Mon-Fri\" }, { name = " \
  "\"night\", price_per_kwh = 0.05, hours = \"22:00-06:00\", days = \"Fri,Sat\" }, { name = "      \
  "\"rest\", price_per_kwh = 0.1 } } } }"

/* 1 kW all year, so that a kWh is an hour: every month and period to the kWh, by run and by series,
 * with hourly and half-hourly steps. March (October) has a day of 23 hours and November (April) one
 * of 25; both have a holiday within the week after it. */
START_TEST(bills_follow_the_clock_through_its_changes) {
  static const char *const names[2] = {"America/Denver", "Australia/Sydney"};
  for (int south = 0; south < 2; south++)
    for (int step = 60; step >= 30; step -= 30) {
      steading_weather *weather = weather_at(south ? 10 : -7);
      const steading_site *site =
          build_site(weather, "{ weather = @0, meters = { m = { tariff = " CLOCK_TARIFF
                              " } }, buildings = { b = { meter "
                              "= \"m\", loads = { { kind = \"steady\", watts = 1000 } } } } }");
      const steading_meter *meter = (const void *)site->meters->entries[0].item;
      steading_zone *zone = NULL;
      steading_run *run = NULL;
      steading_meter_plan plan;
      steading_counted *counted = NULL;
      double hours[12][3] = {{0}}, whole[12][3] = {{0}}, *kw = NULL;
      size_t steps = (size_t)(8760 * 60 / step);
      char options[96];
      ck_assert_int_eq(steading_zone_load(names[south], &zone, NULL), STEADING_OK);
      for (int h = 0; h < 8760; h++) {
        civil c = civil_of(h, south);
        hours[c.month > 12 ? 11 : c.month - 1][independent_period(c)]++;
        if (c.month <= 12) whole[c.month - 1][independent_period(c)]++;
      }
      if (south) { /* the series begins at civil midnight, an hour before the run */
        whole[0][independent_period((civil){.month = 1, .day = 1, .weekday = 4})]++;
        ck_assert_double_eq(whole[3][0] + whole[3][1] + whole[3][2], 721);
        ck_assert_double_eq(whole[9][0] + whole[9][1] + whole[9][2], 743);
      } else {
        ck_assert_double_eq(hours[2][0] + hours[2][1] + hours[2][2], 743);
        ck_assert_double_eq(hours[10][0] + hours[10][1] + hours[10][2], 721);
      }
      snprintf(options, sizeof options, "{ start = \"2027-01\", years = 1, step_minutes = %d }",
               step);
      run = run_with_plans(site, options, zone);
      kw = malloc(steps * sizeof *kw);
      for (size_t i = 0; i < steps; i++) kw[i] = 1;
      ck_assert_int_eq(steading_tariff_plan(meter->tariff, step, &plan, NULL), STEADING_OK);
      ck_assert_int_eq(
          steading_count(&plan, steading_day_number(2027, 1, 1), zone, kw, steps, &counted, NULL),
          STEADING_OK);
      ck_assert_uint_eq(counted->month_count, 12);
      for (size_t m = 0; m < 12; m++) {
        ck_assert_int_eq(counted->months[m].days, month_days[m]);
        for (size_t p = 0; p < 3; p++) {
          ck_assert_double_eq_tol(run->meters[0].by_month[m * 3 + p].import_kwh, hours[m][p], 1e-9);
          ck_assert_double_eq_tol(counted->by_month[m * 3 + p].import_kwh, whole[m][p], 1e-9);
        }
      }
      free(kw);
      steading_counted_free(counted);
      steading_meter_plan_free(&plan);
      steading_run_release(run);
      steading_zone_free(zone);
      steading_record_release(site);
      steading_weather_release(weather);
    }
}
END_TEST

/* --- plans -------------------------------------------------------------------------------------
 */

START_TEST(a_flat_price_asks_dispatch_for_one_sum) {
  steading_tariff *tariff =
      build(&steading_tariff_spec, NULL, "{ energy = { { price_per_kwh = 0.1 } } }");
  steading_meter_plan plan = {.buckets = 99};
  ck_assert_int_eq(steading_tariff_plan(tariff, 15, &plan, NULL), STEADING_OK);
  ck_assert_uint_eq(plan.buckets, 1);
  ck_assert_ptr_null(plan.own);
  steading_record_release(tariff);
}
END_TEST

START_TEST(an_edge_inside_a_step_asks_for_a_finer_one) {
  static const struct {
    const char *hours;
    int step, asks;
  } rows[] = {{"06:30-22:00", 60, 30}, {"06:45-22:00", 60, 15}, {"06:45-22:00", 30, 15},
              {"06:00-22:10", 15, 10}, {"06:00-22:05", 15, 5},  {"06:01-22:00", 5, 1}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char asked[64];
    steading_error error = {.status = STEADING_OK};
    steading_meter_plan plan;
    steading_tariff *tariff =
        build(&steading_tariff_spec, NULL,
              "{ energy = { kind = \"periods\", periods = { { name = \"day\", price_per_kwh = 0.2, "
              "hours = \"%s\" }, { name = \"night\", price_per_kwh = 0.1 } } } }",
              rows[i].hours);
    ck_assert_int_eq(steading_tariff_plan(tariff, rows[i].step, &plan, &error), STEADING_BAD_INPUT);
    ck_assert_str_eq(error.path, "tariff.energy.periods[1]");
    snprintf(asked, sizeof asked, "simulate with step_minutes = %d", rows[i].asks);
    ck_assert_msg(strstr(error.text, asked) != NULL, "%s", error.text);
    ck_assert_int_eq(steading_tariff_plan(tariff, rows[i].asks, &plan, &error), STEADING_OK);
    steading_meter_plan_free(&plan);
    steading_record_release(tariff);
  }
}
END_TEST

/* Random windows: the bucket of every step is the first period that fits, looked up minute by
 * minute without a plan. */
START_TEST(the_bucket_of_a_step_is_the_first_period_that_fits) {
  steading_zone *zone = NULL;
  steading_civil_step *steps = malloc(8760 * 4 * sizeof *steps);
  ck_assert_ptr_nonnull(steps);
  ck_assert_int_eq(steading_zone_load("America/Denver", &zone, NULL), STEADING_OK);
  steading_clock_year(2027, 1, zone, -7, 15, steps);
  int tried = 0;
  for (uint64_t i = 0; tried < 40 && i < 400; i++) {
    static const char *const days[] = {"Mon-Fri", "Sat,Sun", "Fri", "Sun", "Mon-Sun", "Tue-Sat"};
    static const char *const months[] = {"Jan-Dec", "Jun-Sep", "Nov-Feb", "Mar"};
    dice d = {.seed = 900 + i};
    struct {
      int from, to, days, months;
    } w[3];
    static const unsigned day_bits[] = {0x1f, 0x60, 0x10, 0x40, 0x7f, 0x3e};
    static const unsigned month_bits[] = {0xfff, 0x1e0, 0xc03, 0x004};
    steading_meter_plan plan;
    char text[1200];
    size_t used =
        (size_t)snprintf(text, sizeof text,
                         "{ holidays = { \"07-04\", \"12-25..01-02\" }, energy = { kind = "
                         "\"periods\", periods = { ");
    for (int k = 0; k < 3; k++) {
      w[k].from = (int)(roll(&d) * 96) * 15;
      do w[k].to = (int)(roll(&d) * 97) * 15;
      while (w[k].to == w[k].from);
      w[k].days = (int)(roll(&d) * 6);
      w[k].months = (int)(roll(&d) * 4);
      used += (size_t)snprintf(text + used, sizeof text - used,
                               "{ name = \"p%d\", price_per_kwh = 0.1, hours = "
                               "\"%02d:%02d-%02d:%02d\", days = \"%s\", months = \"%s\" }, ",
                               k, w[k].from / 60, w[k].from % 60, w[k].to / 60, w[k].to % 60,
                               days[w[k].days], months[w[k].months]);
    }
    snprintf(text + used, sizeof text - used, "{ name = \"rest\", price_per_kwh = 0.2 } } } }");
    steading_error error = {.status = STEADING_OK};
    steading_tariff *tariff = build_or_error(&steading_tariff_spec, NULL, &error, "%s", text);
    if (tariff == NULL) continue; /* a period that never counts */
    tried++;
    ck_assert_int_eq(steading_tariff_plan(tariff, 15, &plan, NULL), STEADING_OK);
    for (size_t s = 0; s < 8760 * 4; s++) {
      const steading_civil_step *c = &steps[s];
      size_t expected = 3, k = 0;
      for (; k < 3 && expected == 3; k++) {
        for (int back = 0; back < 2 && expected == 3; back++) {
          int month = back ? c->month_before : c->month, day = back ? c->day_before : c->day;
          int weekday = (c->weekday + (back ? 6 : 0)) % 7;
          int minute = c->minute + back * 1440, to = w[k].to + (w[k].to <= w[k].from ? 1440 : 0);
          if ((month == 7 && day == 4) || (month == 12 && day >= 25) || (month == 1 && day <= 2))
            weekday = 6;
          if ((day_bits[w[k].days] >> weekday & 1) &&
              (month_bits[w[k].months] >> (month - 1) & 1) && minute >= w[k].from && minute < to)
            expected = k;
        }
      }
      if (steading_meter_plan_bucket(&plan, c) != expected)
        ck_abort_msg("%s\nstep %zu: bucket %zu, expected %zu", text, s,
                     steading_meter_plan_bucket(&plan, c), expected);
    }
    steading_meter_plan_free(&plan);
    steading_record_release(tariff);
  }
  ck_assert_int_ge(tried, 40);
  steading_zone_free(zone);
  free(steps);
}
END_TEST

/* What a run is remembered by holds when periods apply, and no price. */
START_TEST(a_price_is_no_part_of_what_a_run_is_remembered_by) {
  static const char *const tariffs[4] = {
      "{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = 1, hours = "
      "\"06:00-22:00\" }, { name = \"b\", price_per_kwh = 1 } } } }",
      "{ fixed_per_day = 3, energy = { kind = \"periods\", periods = { { name = \"day\", blocks = "
      "{ { "
      "price_per_kwh = 2 } }, hours = \"06:00-22:00\" }, { name = \"b\", price_per_kwh = 3 } } } }",
      "{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = 1, hours = "
      "\"06:00-21:00\" }, { name = \"b\", price_per_kwh = 1 } } } }",
      "{ holidays = { \"12-25\" }, energy = { kind = \"periods\", periods = { { name = \"a\", "
      "price_per_kwh = 1, hours = \"06:00-22:00\" }, { name = \"b\", price_per_kwh = 1 } } } }"};
  steading_bytes bytes[4] = {{0}};
  for (int i = 0; i < 4; i++) {
    steading_tariff *tariff = build(&steading_tariff_spec, NULL, "%s", tariffs[i]);
    ck_assert_int_eq(steading_site_canonical(tariff, STEADING_CANONICAL_ENERGY, &bytes[i]),
                     STEADING_OK);
    steading_record_release(tariff);
  }
  for (int i = 1; i < 4; i++) {
    bool same = bytes[i].length == bytes[0].length &&
                memcmp(bytes[i].data, bytes[0].data, bytes[0].length) == 0;
    ck_assert_int_eq(same, i == 1);
  }
  for (int i = 0; i < 4; i++) steading_bytes_free(&bytes[i]);
}
END_TEST

/* --- what is refused ---------------------------------------------------------------------------
 */

START_TEST(a_tariff_that_cannot_be_priced_is_refused) {
  static const struct {
    const char *text, *path, *says;
  } rows[] = {
      {"{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = 1, days = "
       "\"Mon-Fri\" }, { name = \"b\", price_per_kwh = 1, days = \"Sat\", hours = \"06:00-24:00\" "
       "}, "
       "{ name = \"c\", price_per_kwh = 1, days = \"Sun\" } } } }",
       "energy.periods", "no period fits Saturday 00:00 in January"},
      {"{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = 1, months = "
       "\"Jan-Mar\" }, { name = \"b\", price_per_kwh = 1, months = \"May-Dec\" } } } }",
       "energy.periods", "no period fits Monday 00:00 in April"},
      /* the night of 31 March belongs to March: on the 1st of April it is open until 06:00 */
      {"{ energy = { kind = \"periods\", periods = { { name = \"night\", price_per_kwh = 1, months "
       "= "
       "\"Jan-Mar\", hours = \"22:00-06:00\" }, { name = \"day\", price_per_kwh = 1, hours = "
       "\"06:00-24:00\" }, { name = \"early\", price_per_kwh = 1, hours = \"00:00-06:00\", months "
       "= "
       "\"May-Dec\" } } } }",
       "energy.periods", "no period fits Monday 00:00 in January"},
      {"{ holidays = { \"12-25\" }, energy = { kind = \"periods\", periods = { { name = \"a\", "
       "price_per_kwh = 1, days = \"Mon-Sat\" }, { name = \"b\", price_per_kwh = 1, days = "
       "\"Sun\", "
       "months = \"Jan-Nov\" } } } }",
       "energy.periods", "in December"},
      {"{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = 1 }, { name = "
       "\"b\", price_per_kwh = 1, hours = \"01:00-02:00\" } } } }",
       "energy.periods[2]", "never counts"},
      {"{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = 1, hours = "
       "\"01:00-02:00\" }, { name = \"a\", price_per_kwh = 1 } } } }",
       "energy.periods[2].name", "the name is taken"},
      {"{ energy = { kind = \"periods\", periods = { { name = \"a\" } } } }",
       "energy.periods[1].price_per_kwh", "required"},
      {"{ energy = { { up_to_kwh = 10, price_per_kwh = 1 }, { up_to_kwh = 5, price_per_kwh = 1 }, "
       "{ "
       "price_per_kwh = 1 } } }",
       "energy[2].up_to_kwh", "more than the edge of the block before"},
      {"{ energy = { { up_to_kwh = 10, price_per_kwh = 1 }, { up_to_kwh_per_day = 5, price_per_kwh "
       "= "
       "1 }, { price_per_kwh = 1 } } }",
       "energy[2].up_to_kwh_per_day", "the other kind of edge"},
      {"{ energy = { { up_to_kwh = 10, price_per_kwh = 1 } } }", "energy[1].up_to_kwh",
       "last block"},
      {"{ energy = { { price_per_kwh = 1, all_at_last = true } } }", "energy[1].all_at_last",
       "no effect"},
      {"{ energy = { price_per_kwh = 1 } }", "energy.price_per_kwh", "stand in a list"},
      {"{ energy = { { price_per_kwh = 1 } }, export = { kind = \"net_billing\" } }",
       "export.price_per_kwh", "required"},
      {"{ energy = { { price_per_kwh = 1 } }, export = { kind = \"net_billing\", price_per_kwh = "
       "1, "
       "true_up_month = 3 } }",
       "export.true_up_month", "without cap"},
      {"{ energy = { { price_per_kwh = 1 } }, export = { kind = \"net_metering\", "
       "cash_out_price_per_kwh = 1 } }",
       "export.true_up_month", "required"},
      {"{ energy = { { price_per_kwh = 1 } }, export = { kind = \"none\", price_per_kwh = 1 } }",
       "export.price_per_kwh", "no effect"},
      {"{ energy = { { price_per_kwh = 1 } }, taxes = { { name = \"t\", share = 0.1, on = { "
       "\"energy\", \"energy\" } } } }",
       "taxes[1].on[2]", "twice"}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    steading_error error = {.status = STEADING_OK};
    void *tariff = build_or_error(&steading_tariff_spec, NULL, &error, "%s", rows[i].text);
    ck_assert_msg(tariff == NULL, "not refused: %s", rows[i].text);
    ck_assert_str_eq(error.path, rows[i].path);
    ck_assert_msg(strstr(error.text, rows[i].says) != NULL, "%s: %s", error.path, error.text);
  }
}
END_TEST

/* --- properties --------------------------------------------------------------------------------
 */

/* A block list of random edges and prices; all_at_last in every other one. */
static void roll_blocks(dice *d, char *text, size_t size, bool at_last) {
  int blocks = 2 + (int)(roll(d) * 4);
  double edge = 0;
  size_t used = (size_t)snprintf(text, size, "{ ");
  for (int i = 0; i < blocks; i++) {
    edge += 1 + 300 * roll(d);
    used += (size_t)snprintf(text + used, size - used, "{ price_per_kwh = %.3f", roll(d));
    if (i + 1 < blocks)
      used += (size_t)snprintf(text + used, size - used, ", up_to_kwh = %.2f", edge);
    used += (size_t)snprintf(text + used, size - used, " }, ");
  }
  snprintf(text + used, size - used, "%s }", at_last ? "all_at_last = true" : "");
}

/* A bill of blocks never falls with more energy, and a little more energy costs a little more: no
 * more than the dearest block asks. */
START_TEST(blocks_are_monotone_and_continuous) {
  for (uint64_t i = 0; i < 200; i++) {
    dice d = {.seed = 7000 + i};
    char blocks[800], text[900];
    double last = 0, kwh = 0;
    roll_blocks(&d, blocks, sizeof blocks, false);
    snprintf(text, sizeof text, "{ energy = %s }", blocks);
    for (int k = 0; k < 60; k++) {
      double more = roll_between(&d, 0, 40), now = bill_of(text, 30, kwh += more);
      ck_assert_double_ge(now - last, -1e-9);
      ck_assert_double_le(now - last, more * 1 + 1e-9); /* prices are below 1 */
      last = now;
    }
  }
}
END_TEST

/* Amounts are quantity times price, energy lines hold all the energy, their sum is the bill, and a
 * credit closes where the next opens. */
START_TEST(the_lines_of_random_tariffs_add_up) {
  for (uint64_t i = 0; i < 200; i++) {
    dice d = {.seed = 8000 + i};
    char blocks[800], text[2400];
    static const char *const exports[] = {
        "", "export = { kind = \"net_metering\", true_up_month = 4 },",
        "export = { kind = \"net_billing\", price_per_kwh = 0.07 },",
        ("export = { kind = \"net_billing\", price_per_kwh = 0.3, cap = \"energy_of_month\", "
         "true_up_month = 3, cash_out_price_per_kwh = 0.02 },")};
    int export = (int)(roll(&d) * 4);
    month_of m;
    double closing = 0, fixed = 20 * roll(&d), minimum = 40 * roll(&d);
    roll_blocks(&d, blocks, sizeof blocks, roll(&d) < 0.5);
    snprintf(
        text, sizeof text,
        "{ fixed_per_month = %.2f, minimum_bill_per_month = %.2f, %s riders = { { name = "
        "\"r\", price_per_kwh = 0.02 } }, taxes = { { name = \"t\", share = 0.07, on = { "
        "\"energy\", \"riders\", \"export\", \"minimum\" } } }, energy = { kind = \"periods\", "
        "periods = { { name = \"day\", hours = \"06:00-22:00\", blocks = %s }, { name = "
        "\"night\", price_per_kwh = 0.09 } } } }",
        fixed, minimum, exports[export], blocks);
    m = tariff_of(text);
    for (int month = 1; month <= 6; month++) {
      steading_bucket buckets[2];
      double sum = 0, kwh = 0, in = 0;
      for (int b = 0; b < 2; b++) {
        double import_kwh = roll_size(&d, 900), export_kwh = roll_size(&d, 900);
        buckets[b] = (steading_bucket){import_kwh, export_kwh};
        in += buckets[b].import_kwh;
      }
      bill_buckets(&m, month, 30, buckets, 2);
      for (size_t k = 0; k < m.bills.line_count; k++) {
        const steading_bill_line *line = &m.bills.lines[k];
        ck_assert_double_eq(line->amount, line->quantity * line->price);
        if (line->part == STEADING_BILL_ENERGY) kwh += line->quantity;
        sum += line->amount;
      }
      ck_assert_double_eq(sum, total(&m));
      if (export != 1) ck_assert_double_eq_tol(kwh, in, 1e-9 * (in + 1));
      if (export == 0) ck_assert_uint_eq(m.bills.credit_count, 0);
      if (export > 0) {
        const steading_credit *c = &m.bills.credits[0];
        ck_assert_double_eq_tol(c->opening, closing, 1e-9);
        ck_assert_double_eq_tol(c->opening + c->added - c->used - c->expired - c->paid_out,
                                c->closing, 1e-9);
        ck_assert(c->used >= 0 && c->added >= 0 && c->closing >= 0);
        closing = c->closing;
      }
      ck_assert(isfinite(sum));
    }
    drop(&m);
  }
}
END_TEST

/* Periods that all cost the same are a flat price. */
START_TEST(periods_of_one_price_equal_the_flat_price) {
  for (uint64_t i = 0; i < 100; i++) {
    dice d = {.seed = 9000 + i};
    double price = roll(&d);
    steading_bucket buckets[3], all = {0, 0};
    char text[700];
    month_of m;
    double flat = 0;
    for (int b = 0; b < 3; b++) {
      buckets[b] = (steading_bucket){.import_kwh = roll_size(&d, 500)};
      all.import_kwh += buckets[b].import_kwh;
    }
    snprintf(
        text, sizeof text,
        "{ energy = { kind = \"periods\", periods = { { name = \"a\", price_per_kwh = %.17g, hours "
        "= \"06:00-09:00\" }, { name = \"b\", price_per_kwh = %.17g, days = \"Sat,Sun\" }, { name "
        "= \"c\", price_per_kwh = %.17g } } } }",
        price, price, price);
    m = tariff_of(text);
    bill_buckets(&m, 1, 31, buckets, 3);
    snprintf(text, sizeof text, "{ energy = { { price_per_kwh = %.17g } } }", price);
    flat = bill_of(text, 31, all.import_kwh);
    ck_assert_double_eq_tol(total(&m), flat, 1e-12 * (flat + 1));
    drop(&m);
  }
}
END_TEST

Suite *tariff_suite(void) {
  Suite *suite = suite_create("tariff");
  TCase *tests = tcase_create("tariff");
  tcase_add_test(tests, a_flat_price_and_a_monthly_charge_equal_the_published_bill);
  tcase_add_test(tests, blocks_by_the_day_equal_the_published_threshold);
  tcase_add_test(tests, many_blocks_equal_the_sum_of_their_published_rates);
  tcase_add_test(tests, all_energy_at_the_block_reached_equals_the_published_bill);
  tcase_add_test(tests, a_minimum_bill_and_a_cliff_equal_the_sum_of_the_published_rates);
  tcase_add_test(tests, riders_by_month_equal_the_published_prices);
  tcase_add_test(tests, a_daily_charge_equals_the_published_share_of_a_month);
  tcase_add_test(tests, another_flat_schedule_equals_its_bill);
  tcase_add_test(tests, taxes_are_shares_of_the_lines_that_they_name);
  tcase_add_test(tests, a_minimum_bill_adds_what_is_missing_before_taxes);
  tcase_add_test(tests, net_metering_and_net_billing_by_hand);
  tcase_add_test(tests, net_metering_offsets_within_a_period_and_ends_at_the_true_up);
  tcase_add_test(tests, a_capped_credit_is_carried_and_ends_at_the_true_up);
  tcase_add_test(tests, a_period_may_have_blocks_of_its_own);
  tcase_add_test(tests, the_bills_of_a_run_follow_its_months);
  tcase_add_test(tests, a_meter_without_a_tariff_has_no_bill_and_a_site_without_a_meter_needs_none);
  tcase_add_test(tests, bills_follow_the_clock_through_its_changes);
  tcase_add_test(tests, a_flat_price_asks_dispatch_for_one_sum);
  tcase_add_test(tests, an_edge_inside_a_step_asks_for_a_finer_one);
  tcase_add_test(tests, the_bucket_of_a_step_is_the_first_period_that_fits);
  tcase_add_test(tests, a_price_is_no_part_of_what_a_run_is_remembered_by);
  tcase_add_test(tests, a_tariff_that_cannot_be_priced_is_refused);
  tcase_add_test(tests, blocks_are_monotone_and_continuous);
  tcase_add_test(tests, the_lines_of_random_tariffs_add_up);
  tcase_add_test(tests, periods_of_one_price_equal_the_flat_price);
  tcase_set_timeout(tests, 120);
  suite_add_tcase(suite, tests);
  return suite;
}
