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
#include <string.h>

#include "external/clp.h"
#include "suites.h"

#ifdef HAVE_CLP

#include "dice.h"
#include "dispatch/kernel.h"
#include "reference_year.h"

/* Columns of step t: charge, discharge, import and stored energy at its end. Rows of step t:
 *   import + discharge - charge >= load - sun       (what is more is curtailed or exported)
 *   stored - stored before - e_in charge + discharge / e_out = 0 */
static double least_import_kwh(const steading_stretch *p, double stored_kwh, int count,
                               const double *pv, const double *load) {
  const steading_hub_stretch *h = &p->hubs[0];
  clp_programme *programme = clp_new(2 * count);
  for (int t = 0; t < count; t++) {
    const int power = 2 * t, store = power + 1;
    clp_row(programme, power, load[t] - pv[t], HUGE_VAL);
    clp_row(programme, store, t == 0 ? stored_kwh : 0, t == 0 ? stored_kwh : 0);
    clp_column(programme, 0, fmin(h->charge_kw, pv[t]), 0); /* sun only */
    clp_entry(programme, power, -1);
    clp_entry(programme, store, -h->efficiency_in);
    clp_column(programme, 0, h->discharge_kw, 0);
    clp_entry(programme, power, 1);
    clp_entry(programme, store, 1 / h->efficiency_out);
    clp_column(programme, 0, HUGE_VAL, 1);
    clp_entry(programme, power, 1);
    clp_column(programme, h->floor_kwh, h->highest_kwh, 0);
    clp_entry(programme, store, 1);
    if (t + 1 < count) clp_entry(programme, store + 2, -1);
  }
  return clp_least_cost(programme);
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
  steading_kernel_run(
      p, &s, (size_t)count,
      &(steading_step_rows){
          .stride = (size_t)count, .pv_kw = pv, .hub_kw = load, .meter_kw = nothing},
      flows);
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
    double in = roll_between(&d, 0.7, 1), out = roll_between(&d, 0.7, 1);
    steading_stretch p = store(kwh, floor, 0, in, out);
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

/* --- a bound that no rule beats
 * ------------------------------------------------------------------- */

enum { WEEK = 168, MOST_HUBS = 3 };

/* A hub with everything that costs energy: losses, idle draw, limits, waiting, transfers, a margin,
 * an order of its own. */
static void roll_hub(dice *d, steading_hub_stretch *h) {
  static const int orders[3][3] = {{STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS},
                                   {STEADING_TO_BUS, STEADING_TO_BATTERY, STEADING_TO_NOBODY},
                                   {STEADING_TO_BATTERY, STEADING_TO_BUS, STEADING_TO_NOBODY}};
  double kwh = roll_size(d, 40);
  *h = (steading_hub_stretch){.lowest_kwh = 0.1 * kwh, .highest_kwh = kwh};
  h->ac_kw = roll_between(d, 0.5, 10);
  h->b = 0.03 * roll(d);
  h->pv_kw = roll_between(d, 1, 15);
  h->pass_through_kw = roll_between(d, 0.5, 20);
  h->charge_kw = roll_size(d, 10);
  h->discharge_kw = roll_size(d, 10);
  h->efficiency_in = roll_between(d, 0.7, 1);
  h->efficiency_out = roll_between(d, 0.7, 1);
  h->standby_kw = roll_size(d, 0.05);
  h->exports = roll(d) < 0.7 ? 1 : 0;
  h->transfers = roll(d) < 0.4 ? 1 : 0;
  h->import_margin_kw = roll(d) < 0.3 ? roll(d) : 0;
  h->idle_kw = 0.01 * h->ac_kw * roll(d);
  h->c_per_rating = 0.05 * roll(d) / h->ac_kw;
  h->floor_kwh = kwh * roll_between(d, 0.1, 0.7); /* a floor, or the reserve of a month */
  h->resume_kwh = h->floor_kwh + (kwh - h->floor_kwh) * (roll(d) < 0.5 ? 0 : 0.9 * roll(d));
  memcpy(h->order, orders[(int)(3 * roll(d))], sizeof h->order);
}

/* All hubs as one store with the best of their efficiencies, no losses of inverters and no draw of
 * its own, which may be emptied to its lowest charge. The programme may do with it what the hubs
 * did together, or charge less where it would overflow; so what they imported and left unserved is
 * never less than its optimum. */
static steading_stretch pooled(const steading_stretch *p) {
  steading_stretch all = store(0, 0, 0, 0, 0);
  steading_hub_stretch *to = &all.hubs[0];
  for (size_t i = 0; i < p->hub_count; i++) {
    const steading_hub_stretch *h = &p->hubs[i];
    to->floor_kwh += h->lowest_kwh;
    to->highest_kwh += h->highest_kwh;
    to->charge_kw += h->charge_kw;
    to->discharge_kw += h->discharge_kw;
    to->efficiency_in = fmax(to->efficiency_in, h->efficiency_in);
    to->efficiency_out = fmax(to->efficiency_out, h->efficiency_out);
  }
  return all;
}

START_TEST(no_rules_of_one_or_more_hubs_beat_the_optimum_of_a_relaxation) {
  static double pv[MOST_HUBS][WEEK], load[MOST_HUBS][WEEK], meter[WEEK], rows[WEEK * 256];
  int above = 0;
  for (uint64_t week = 0; week < 150; week++) {
    dice d = {.seed = 5000 + week};
    steading_stretch p = {.step_h = 1, .hub_count = 1 + (size_t)(3 * roll(&d)), .meter_count = 1};
    steading_state s = {.stored_kwh = {0}};
    steading_layout at;
    steading_stretch all;
    double sun[WEEK] = {0}, wanted[WEEK] = {0}, stored = 0, bought = 0, least = 0;
    for (size_t i = 0; i < p.hub_count; i++) {
      double most_sun = 12 * roll(&d), most_load = roll_between(&d, 0.1, 4);
      roll_hub(&d, &p.hubs[i]);
      s.stored_kwh[i] = roll_between(&d, p.hubs[i].lowest_kwh, p.hubs[i].highest_kwh);
      stored += s.stored_kwh[i];
      for (int t = 0; t < WEEK; t++) {
        pv[i][t] = most_sun * roll(&d) * fmax(0, sin((t % 24 - 6) * M_PI / 12));
        load[i][t] = most_load * roll(&d);
        sun[t] += pv[i][t];
        wanted[t] += load[i][t];
      }
    }
    for (int t = 0; t < WEEK; t++) wanted[t] += meter[t] = roll(&d);
    p.meters[0].import_limit_kw = roll_between(&d, 1, 15);
    p.meters[0].export_limit_kw = roll_size(&d, 5);
    at = steading_layout_of(p.hub_count, 1, 0, 0);
    ck_assert_uint_le(at.width, 256);
    steading_kernel_run(
        &p, &s, WEEK,
        &(steading_step_rows){.stride = WEEK, .pv_kw = pv[0], .hub_kw = load[0], .meter_kw = meter},
        rows);
    for (size_t t = 0; t < WEEK; t++) {
      const double *row = rows + t * at.width;
      bought += steading_meter_flow_of(&at, row, 0)->import;
      bought += steading_meter_flow_of(&at, row, 0)->unserved;
      for (size_t i = 0; i < p.hub_count; i++)
        bought += steading_hub_flow_of(&at, row, i)->unserved;
    }
    all = pooled(&p);
    least = least_import_kwh(&all, stored, WEEK, sun, wanted);
    ck_assert_msg(bought >= least - 1e-6 * (least + 1), "week %d: %.9g kWh, the least is %.9g",
                  (int)week, bought, least);
    above += bought > least + 1;
  }
  ck_assert_int_ge(above, 100); /* the rules cost something: the bound does not hold by chance */
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_week_of_the_rule_equals_the_optimum);
  tcase_add_test(tests, a_month_of_the_rule_equals_the_optimum);
  tcase_add_test(tests, the_reference_year_of_the_rule_equals_the_optimum);
  tcase_add_test(tests, random_weeks_of_the_rule_equal_the_optimum);
  tcase_add_test(tests, no_rules_of_one_or_more_hubs_beat_the_optimum_of_a_relaxation);
}

#endif

Suite *clp_suite(void) { return CLP_SUITE("clp", add_tests, 120); }
