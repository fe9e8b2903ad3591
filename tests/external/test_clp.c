/* The step loop against a linear programme that knows the future, solved by Clp (package
 * coinor-libclp-dev).
 *
 * With constant efficiencies, no inverter losses, one pool, no water and a free end, taking every
 * kWh of the battery as early as it can be used is the optimum: charge lost by waiting is never
 * won back. So the rule must reach the programme's least grid energy, and can never go below it. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "suites.h"

#ifdef HAVE_CLP

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wstrict-prototypes"
#pragma GCC diagnostic ignored "-Wundef"
#include <Clp_C_Interface.h>
#pragma GCC diagnostic pop

#include "dice.h"
#include "dispatch/kernel.h"
#include "reference_year.h"

/* Columns of step t: charge, discharge, import and stored energy at its end. Rows of step t:
 *   import + discharge - charge >= load - sun       (what is more is curtailed or exported)
 *   stored - stored before - e_in charge + discharge / e_out = 0 */
static double least_import_kwh(const steading_stretch *p, double stored_kwh, int count,
                               const double *pv, const double *load) {
  const size_t n = (size_t)count;
  int *start = malloc((4 * n + 1) * sizeof *start), *row = malloc(8 * n * sizeof *row), k = 0;
  double *value = malloc(8 * n * sizeof *value), *cost = calloc(4 * n, sizeof *cost);
  double *lowest = calloc(4 * n, sizeof *lowest), *highest = malloc(4 * n * sizeof *highest);
  double *at_least = malloc(2 * n * sizeof *at_least), *at_most = malloc(2 * n * sizeof *at_most);
  Clp_Simplex *model = Clp_newModel();
  double import = 0;
  for (int t = 0; t < count; t++) {
    const double in[2] = {-1, -p->hubs[0].efficiency_in}, out[2] = {1, 1 / p->hubs[0].efficiency_out};
    const double *column[2] = {in, out};
    at_least[2 * t] = load[t] - pv[t];
    at_most[2 * t] = HUGE_VAL;
    at_least[2 * t + 1] = at_most[2 * t + 1] = t == 0 ? stored_kwh : 0;
    for (int c = 0; c < 2; c++) {
      start[4 * t + c] = k;
      highest[4 * t + c] = c == 0 ? fmin(p->hubs[0].charge_kw, pv[t]) : p->hubs[0].discharge_kw; /* sun only */
      for (int r = 0; r < 2; r++, k++) {
        row[k] = 2 * t + r;
        value[k] = column[c][r];
      }
    }
    start[4 * t + 2] = k;
    row[k] = 2 * t;
    value[k++] = 1;
    highest[4 * t + 2] = HUGE_VAL;
    cost[4 * t + 2] = 1;
    start[4 * t + 3] = k;
    row[k] = 2 * t + 1;
    value[k++] = 1;
    if (t + 1 < count) {
      row[k] = 2 * t + 3;
      value[k++] = -1;
    }
    lowest[4 * t + 3] = p->hubs[0].floor_kwh;
    highest[4 * t + 3] = p->hubs[0].highest_kwh;
  }
  start[4 * n] = k;
  Clp_setLogLevel(model, 0);
  Clp_loadProblem(model, 4 * count, 2 * count, start, row, value, lowest, highest, cost, at_least,
                  at_most);
  Clp_initialDualSolve(model);
  ck_assert_int_eq(Clp_status(model), 0);
  import = Clp_objectiveValue(model);
  Clp_deleteModel(model);
  free(start);
  free(row);
  free(value);
  free(cost);
  free(lowest);
  free(highest);
  free(at_least);
  free(at_most);
  return import;
}

static double rule_import_kwh(const steading_stretch *p, double stored_kwh, int count,
                              const double *pv, const double *load) {
  enum { WIDTH = STEADING_SITE_FLOWS + STEADING_HUB_FLOWS + STEADING_METER_FLOWS };
  static double flows[REFERENCE_HOURS * WIDTH];
  static const double nothing[REFERENCE_HOURS] = {0};
  const steading_layout at = steading_layout_of(1, 1, 0, 0);
  steading_state s = {.stored_kwh = {stored_kwh}};
  double import = 0;
  ck_assert_uint_eq(at.width, WIDTH);
  steading_kernel_run(p, &s, (size_t)count, (size_t)count, pv, load, nothing, flows);
  for (int t = 0; t < count; t++)
    import += steading_meter_flow_of(&at, flows + t * WIDTH, 0)->import;
  return import;
}

static steading_stretch store(double kwh, double floor, double kw, double in, double out) {
  return (steading_stretch){
      .step_h = 1,
      .hub_count = 1,
      .meter_count = 1,
      .hubs = {{.ac_kw = 1e6,
                .pv_kw = 1e6,
                .pass_through_kw = 1e6,
                .lowest_kwh = floor * kwh,
                .floor_kwh = floor * kwh,
                .highest_kwh = kwh,
                .charge_kw = kw,
                .discharge_kw = kw,
                .efficiency_in = in,
                .efficiency_out = out,
                .exports = 1,
                .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}}},
      .meters = {{.import_limit_kw = 1e6, .export_limit_kw = 1e6}}};
}

static void rule_equals_programme(int first, int count) {
  static double pv[REFERENCE_HOURS], load[REFERENCE_HOURS];
  const steading_stretch p = store(13.5, 0.2, 5, 0.95, 0.95);
  double least = 0, rule = 0;
  reference_year(pv, load);
  least = least_import_kwh(&p, 6.75, count, pv + first, load + first);
  rule = rule_import_kwh(&p, 6.75, count, pv + first, load + first);
  ck_assert_double_gt(least, 1);
  ck_assert_double_eq_tol(rule, least, 1e-6 * least);
}

START_TEST(a_week_of_the_rule_equals_the_optimum) { rule_equals_programme(24 * 7, 24 * 7); }
END_TEST

START_TEST(a_month_of_the_rule_equals_the_optimum) { rule_equals_programme(24 * 180, 24 * 30); }
END_TEST

/* 1863.590530 kWh comes from an independent loop of ten lines over a table of the year: 13.5 kWh,
 * floor 20 %, 5 kW, 95 % each way, half full at the start. */
START_TEST(the_reference_year_of_the_rule_equals_the_optimum) {
  static double pv[REFERENCE_HOURS], load[REFERENCE_HOURS];
  const steading_stretch p = store(13.5, 0.2, 5, 0.95, 0.95);
  reference_year(pv, load);
  ck_assert_double_eq_tol(rule_import_kwh(&p, 6.75, REFERENCE_HOURS, pv, load), 1863.590530, 1e-6);
  rule_equals_programme(0, REFERENCE_HOURS);
}
END_TEST

START_TEST(random_weeks_of_the_rule_equal_the_optimum) {
  enum { HOURS = 168 };
  int with_grid = 0;
  for (uint64_t week = 0; week < 60; week++) {
    dice d = {.seed = week};
    double pv[HOURS], load[HOURS], floor = 0.5 * roll(&d), kwh = roll_size(&d, 40);
    steading_stretch p = store(kwh, floor, 0, roll_between(&d, 0.7, 1), roll_between(&d, 0.7, 1));
    double stored = kwh * roll_between(&d, floor, 1), most_sun = roll_between(&d, 0, 12);
    double most_load = roll_between(&d, 0.2, 5), least = 0, rule = 0;
    p.hubs[0].charge_kw = roll_size(&d, 15);
    p.hubs[0].discharge_kw = roll_size(&d, 15);
    for (int t = 0; t < HOURS; t++) {
      pv[t] = most_sun * roll(&d) * fmax(0, sin((t % 24 - 6) * M_PI / 12));
      load[t] = most_load * roll(&d);
    }
    least = least_import_kwh(&p, stored, HOURS, pv, load);
    rule = rule_import_kwh(&p, stored, HOURS, pv, load);
    ck_assert_double_eq_tol(rule, least, 1e-6 * least + 1e-9);
    with_grid += least > 1;
  }
  ck_assert_int_ge(with_grid, 30); /* it was not all sun */
}
END_TEST

#else

START_TEST(skipped_without_clp) {
  printf("SKIPPED external/clp: package coinor-libclp-dev is not installed\n");
  fflush(stdout);
}
END_TEST

#endif

Suite *clp_suite(void) {
  Suite *suite = suite_create("clp");
  TCase *tests = tcase_create("clp");
#ifdef HAVE_CLP
  tcase_add_test(tests, a_week_of_the_rule_equals_the_optimum);
  tcase_add_test(tests, a_month_of_the_rule_equals_the_optimum);
  tcase_add_test(tests, the_reference_year_of_the_rule_equals_the_optimum);
  tcase_add_test(tests, random_weeks_of_the_rule_equal_the_optimum);
  tcase_set_timeout(tests, 120);
#else
  tcase_add_test(tests, skipped_without_clp);
#endif
  suite_add_tcase(suite, tests);
  return suite;
}
