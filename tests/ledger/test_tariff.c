/* Bills against published schedules and the arithmetic of their lines. */
#include "ledger/tariff.h"

#include <check.h>
#include <math.h>

#include "build.h"
#include "calendar.h"
#include "suites.h"

static steading_bill bill_of(const char *tariff_text, int days, double kwh) {
  steading_tariff *tariff = build(&steading_tariff_spec, NULL, "%s", tariff_text);
  const steading_bucket bucket = {.import_kwh = kwh, .export_kwh = 77};
  steading_bill bill = steading_tariff_bill(tariff, days, &bucket, 1);
  steading_record_release(tariff);
  return bill;
}

/* A distributor's page on how to read a bill (Tennessee, old): 9975 - 8865 = 1110 kWh at 0.0951 are
 * 105.56, beside 18.48 for availability. */
START_TEST(a_flat_price_and_a_monthly_charge_equal_the_published_bill) {
  steading_bill bill =
      bill_of("{ fixed_per_month = 18.48, energy = { { price_per_kwh = 0.0951 } } }", 31, 1110);
  ck_assert_double_eq_tol(bill.energy, 105.56, 0.005);
  ck_assert_double_eq_tol(bill.fixed, 18.48, 1e-12);
}
END_TEST

/* BC Hydro's residential schedule of 2024/25: 22.53 cents a day and 10.97 cents a kWh up to a
 * threshold that 600 kWh in 30 days do not reach: 6.759 + 65.82 = 72.579. */
START_TEST(a_daily_charge_counts_the_days_of_the_month) {
  static const char *const text =
      "{ fixed_per_day = 0.2253, energy = { { price_per_kwh = 0.1097 } } }";
  steading_bill bill = bill_of(text, 30, 600);
  ck_assert_double_eq_tol(bill.fixed, 6.759, 1e-12);
  ck_assert_double_eq_tol(bill.fixed + bill.energy, 72.579, 1e-9);
  ck_assert_double_eq_tol(bill_of(text, 28, 0).fixed, 6.3084, 1e-12);
}
END_TEST

/* Glencoe, Minnesota, residential: 13.40 a month and 8.0 cents: 1000 kWh are 93.40. */
START_TEST(another_flat_schedule_equals_its_bill) {
  steading_bill bill =
      bill_of("{ fixed_per_month = 13.40, energy = { { price_per_kwh = 0.080 } } }", 31, 1000);
  ck_assert_double_eq_tol(bill.fixed + bill.energy, 93.40, 1e-9);
}
END_TEST

START_TEST(what_is_exported_neither_costs_nor_earns) {
  steading_bill bill = bill_of("{ energy = { { price_per_kwh = 0.2 } } }", 30, 0);
  ck_assert_double_eq(bill.energy, 0);
  ck_assert_double_eq(bill.fixed, 0);
}
END_TEST

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
  static const int days[12] = {31, 31, 30, 31, 30, 31, 31, 28, 31, 30, 31, 30};
  ck_assert(steading_run_is_billed(run));
  for (size_t m = 0; m < 24; m++) {
    steading_bill bill = steading_run_bill(run, m);
    ck_assert_double_eq_tol(bill.fixed, 9 + 0.5 * days[m % 12], 1e-12);
    ck_assert_double_eq_tol(bill.energy, 2.4 * days[m % 12], 1e-9);
  }
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_meter_without_a_tariff_has_no_bill_and_a_site_without_a_meter_needs_none) {
  steading_weather *weather = build_dark_weather();
  const steading_site *priceless = build_site(
      weather, "{ weather = @0, meters = { m = {} }, "
               "buildings = { b = { meter = \"m\", loads = { "
               "{ kind = \"steady\", watts = 1000 } } } } }");
  const steading_site *alone = build_site(
      weather, "{ weather = @0, hubs = { h = { inverter = { unit = { ac_kw = 5, "
               "efficiency = { at_10 = 1, at_100 = 1 } } } } } }");
  steading_run *run = build_run(priceless, "{}");
  ck_assert(!steading_run_is_billed(run));
  ck_assert_double_eq(steading_run_bill(run, 0).energy + steading_run_bill(run, 0).fixed, 0);
  steading_run_release(run);
  run = build_run(alone, "{}");
  ck_assert(steading_run_is_billed(run));
  ck_assert_double_eq(steading_run_bill(run, 11).energy + steading_run_bill(run, 11).fixed, 0);
  steading_run_release(run);
  steading_record_release(priceless);
  steading_record_release(alone);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_flat_price_asks_dispatch_for_one_sum) {
  steading_tariff *tariff =
      build(&steading_tariff_spec, NULL, "{ energy = { { price_per_kwh = 0.1 } } }");
  steading_meter_plan plan = {.buckets = 99};
  steading_tariff_plan(tariff, &plan);
  ck_assert_uint_eq(plan.buckets, 1);
  ck_assert_ptr_null(plan.own);
  steading_record_release(tariff);
}
END_TEST

Suite *tariff_suite(void) {
  Suite *suite = suite_create("tariff");
  TCase *tests = tcase_create("tariff");
  tcase_add_test(tests, a_flat_price_and_a_monthly_charge_equal_the_published_bill);
  tcase_add_test(tests, a_daily_charge_counts_the_days_of_the_month);
  tcase_add_test(tests, another_flat_schedule_equals_its_bill);
  tcase_add_test(tests, what_is_exported_neither_costs_nor_earns);
  tcase_add_test(tests, the_bills_of_a_run_follow_its_months);
  tcase_add_test(tests, a_meter_without_a_tariff_has_no_bill_and_a_site_without_a_meter_needs_none);
  tcase_add_test(tests, a_flat_price_asks_dispatch_for_one_sum);
  suite_add_tcase(suite, tests);
  return suite;
}
