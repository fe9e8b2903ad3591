/* IEEE 1366's indices against published ones: worked examples, and rows of the EIA, whose CAIDI
 * follows from SAIDI and SAIFI. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "build.h"
#include "demand/reliability.h"
#include "dispatch/events.h"
#include "suites.h"

/* A utility's training page on IEEE 1366: 10 000 customers; 100 of them without for 5 minutes, 200
 * for 10, 300 for 11: SAIFI 0.06, SAIDI 0.58 minutes, CAIDI 9.67 minutes. */
static const steading_interruption example[] = {{5, 100}, {10, 200}, {11, 300}};

START_TEST(a_worked_example) {
  steading_reliability r = steading_reliability_of(example, 3, -1, 10000, 8760);
  ck_assert_double_eq_tol(r.saifi, 0.06, 0.005);
  ck_assert_double_eq_tol(60 * r.saidi_h, 0.58, 0.005);
  ck_assert_double_eq_tol(60 * r.caidi_h, 9.67, 0.005);
  /* by the definition: 1 - 5800 / 60 / (8760 x 10 000) */
  ck_assert_double_eq_tol(r.asai, 1 - 5800.0 / 60 / 87600000, 1e-15);
  /* the sustained ones alone, longer than 5 minutes: 500 of 10 000, 5300 customer minutes */
  r = steading_reliability_of(example, 3, 5, 10000, 8760);
  ck_assert_double_eq_tol(r.saifi, 0.05, 1e-15);
  ck_assert_double_eq_tol(60 * r.saidi_h, 0.53, 1e-15);
  r = steading_reliability_of(example, 0, -1, 10000, 8760);
  ck_assert(r.saifi == 0 && r.saidi_h == 0 && isnan(r.caidi_h) && r.asai == 1);
}
END_TEST

/* SAIDI in minutes, SAIFI and CAIDI in minutes; the first row from the same training page (SAIDI
 * 4.40, SAIFI 0.14), the others EIA, Electric Power Annual, table 11.1, any method: with major
 * events, then without. Their CAIDI is SAIDI / SAIFI of the printed digits. */
static const struct {
  double saidi, saifi, caidi, tolerance;
} published[] = {
    {4.40, 0.14, 31.43, 0.005}, {219, 1.220, 179.6, 0.2},   {205, 1.246, 164.5, 0.2},
    {249.2, 1.292, 192.9, 0.2}, {473.1, 1.394, 339.3, 0.2}, {346.4, 1.325, 261.5, 0.2},
    {284.6, 1.325, 214.8, 0.2}, {491.9, 1.440, 341.7, 0.2}, {440, 1.425, 308.8, 0.2},
    {335.5, 1.405, 238.8, 0.2}, {342, 1.333, 256.6, 0.2},   {109.7, 1.019, 107.7, 0.2},
    {113.1, 1.046, 108.1, 0.2}, {116.9, 1.062, 110, 0.2},   {114.4, 1.007, 113.6, 0.2},
    {117.2, 1.028, 114, 0.2},   {118.6, 1.017, 116.6, 0.2}, {119.0, 1.037, 114.7, 0.2},
    {121.5, 1.025, 118.5, 0.2}, {125.7, 1.064, 118.1, 0.2},
};

/* Events that add up to a row: a thousand customers, all hit once, some of them once more, with
 * lengths about the mean. */
START_TEST(published_rows_follow_from_events) {
  const double customers = 1000, saidi = published[_i].saidi, saifi = published[_i].saifi;
  const double hit = saifi * customers, mean = saidi / saifi;
  const steading_interruption events[] = {
      {0.5 * mean, 0.4 * hit}, {2.5 * mean, 0.1 * hit}, {1.1 * mean, 0.5 * hit}};
  steading_reliability r = steading_reliability_of(events, 3, 5, customers, 8760);
  ck_assert_double_eq_tol(r.saifi, saifi, 1e-12);
  ck_assert_double_eq_tol(60 * r.saidi_h, saidi, 1e-9);
  ck_assert_double_eq_tol(60 * r.caidi_h, published[_i].caidi, published[_i].tolerance);
  ck_assert_double_eq_tol(r.asai, 1 - saidi / 525600, 1e-12);
}
END_TEST

/* The worked example once more, of a simulated year: three meters, each with one outage of the
 * length of one of the three, seen by the run's own events. */
START_TEST(simulated_events_give_the_worked_example) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { "
      "a = { outages = { rota = { hours = %.17g, starts = \"10:00\", every_days = 365, "
      "first_day = 40 } } }, "
      "b = { outages = { rota = { hours = %.17g, starts = \"23:55\", every_days = 365, "
      "first_day = 100 } } }, "
      "c = { outages = { rota = { hours = %.17g, starts = \"07:07\", every_days = 365 } } } } }",
      5 / 60.0, 10 / 60.0, 11 / 60.0);
  steading_run *run = build_run(site, "{ start = \"2027-01\", step_minutes = 1 }");
  steading_ask_events *ask = build(&steading_ask_events_spec, NULL, "{ kind = \"outage\" }");
  steading_interruption found[3];
  static const double customers[] = {100, 200, 300};
  steading_events events;
  steading_error error;
  steading_reliability r;
  ck_assert_int_eq(steading_run_events(run, ask, &events, &error), STEADING_OK);
  ck_assert_uint_eq(events.count, 3);
  for (size_t i = 0; i < 3; i++)
    found[i] =
        (steading_interruption){(double)events.items[i].steps, customers[events.items[i].meter]};
  r = steading_reliability_of(found, 3, -1, 10000, 8760);
  ck_assert_double_eq_tol(r.saifi, 0.06, 0.005);
  ck_assert_double_eq_tol(60 * r.saidi_h, 0.58, 0.005);
  ck_assert_double_eq_tol(60 * r.caidi_h, 9.67, 0.005);
  steading_events_free(&events);
  steading_record_release(ask);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *reliability_suite(void) {
  Suite *suite = suite_create("reliability");
  TCase *tests = tcase_create("reliability");
  tcase_add_test(tests, a_worked_example);
  tcase_add_loop_test(tests, published_rows_follow_from_events, 0,
                      sizeof published / sizeof published[0]);
  tcase_add_test(tests, simulated_events_give_the_worked_example);
  tcase_set_timeout(tests, 120);
  suite_add_tcase(suite, tests);
  return suite;
}
