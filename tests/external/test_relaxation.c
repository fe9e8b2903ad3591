/* Weeks of random sites of one hub and one meter, with every part and rule there is, against a
 * linear programme that knows the future, solved by Clp (package coinor-libclp-dev).
 *
 * The programme is a relaxation: inverters lose and draw nothing, chargers charge at any hour, no
 * floor but the lowest usable charge, no thresholds, windows, reserves, margins or least loads, a
 * generator that burns only by the kWh, pumps that may run in any part of any step as long as users
 * get what they got, load that is shed or left unserved at will. Every constraint in it holds in
 * the step loop, so that what a run bought and missed is never less than its optimum. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "suites.h"

#ifdef HAVE_CLP

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wstrict-prototypes"
#pragma GCC diagnostic ignored "-Wundef"
#include <Clp_C_Interface.h>
#pragma GCC diagnostic pop

#include "properties/random_site.h"

enum { STEPS = 168, WEEKS = 200, MOST_WELLS = 4 };

/* A week of a run. Powers in kW, energies in kWh. */
typedef struct week {
  size_t first; /* step of the run */
  int count;
  double h, stored_kwh; /* before it */
  bool floors;          /* the floor in force counts, not the lowest usable charge */
  double sun[STEPS], load[STEPS], import_kw[STEPS], charge_kw[STEPS], discharge_kw[STEPS];
  double charger_kw[STEPS], set_kw[STEPS], lowest[STEPS], highest[STEPS], in[STEPS], out[STEPS];
  double price[STEPS];
  double charger_efficiency, l_per_kwh, fuel_l; /* of the generator; INFINITY: enough */
  size_t wells;
  double pumped_l[MOST_WELLS][STEPS], level_l[MOST_WELLS][STEPS], pump_kw[MOST_WELLS],
      pump_l_per_step[MOST_WELLS];
  bool changes;  /* lots come or go, or capacity fades in it */
  double bought; /* what the run paid, by the prices */
  double before; /* stored at the end of the step before */
} week;

/* What a kWh from fuel costs, and one that is not served; import has the price of its step. */
static const double of_fuel = 1, of_missing = 1;

static steading_status take(void *context, const steading_block *b, steading_error *error) {
  week *w = context;
  const steading_hub *hub = b->program->hubs[0].hub;
  const steading_hub_stretch *p = &b->stretch->hubs[0];
  (void)error;
  for (size_t k = 0; k < b->count; k++) {
    const double *row = b->flows + k * b->layout->width;
    const steading_hub_flow *f = steading_hub_flow_of(b->layout, row, 0);
    const steading_meter_flow *m = steading_meter_flow_of(b->layout, row, 0);
    size_t step = b->first_step + k;
    int t = (int)(step - w->first);
    double h = w->h = b->stretch->step_h, set = 0;
    if (step < w->first || t >= w->count) continue;
    if (t == 0) w->stored_kwh = f->stored_kwh - f->stored_change * h;
    if (t > 0 && fabs(f->stored_kwh - f->stored_change * h - w->before) > 1e-9) w->changes = true;
    w->before = f->stored_kwh;
    w->sun[t] = fmin(f->pv_available, p->pv_kw);
    w->load[t] = f->load + m->load;
    w->import_kw[t] = b->down & 1 ? 0 : b->stretch->meters[0].import_limit_kw;
    w->charge_kw[t] = p->charge_kw;
    w->discharge_kw[t] = p->discharge_kw;
    /* the run itself may be a rounding beside its ends */
    w->lowest[t] = fmin(w->floors ? p->floor_kwh : p->lowest_kwh, f->stored_kwh);
    w->highest[t] = fmax(p->highest_kwh, f->stored_kwh);
    w->in[t] = p->efficiency_in;
    w->out[t] = p->efficiency_out;
    w->bought += (m->import * w->price[t] + of_missing * (f->unserved + m->unserved + f->shed)) * h;
    if (hub->rules->charge_from_grid != NULL && !(b->down & 1))
      w->charger_kw[t] = hub->inverter->unit->charge_from_grid_kw *
                         steading_lots_on(hub->inverter->lots, b->section_day);
    w->charger_efficiency = hub->inverter->unit->charge_efficiency;
    if (hub->generator != NULL) {
      const steading_generator_flow *g = steading_generator_flow_of(b->layout, row, 0);
      const steading_fuel_flow *fuel =
          steading_fuel_flow_of(b->layout, row, (size_t)b->program->hubs[0].fuel);
      bool tank = b->program->fuels[b->program->hubs[0].fuel]->tank != NULL;
      double sets = steading_lots_on(hub->generator->lots, b->section_day);
      set = hub->generator->unit->kw * sets;
      w->set_kw[t] = set;
      w->charger_kw[t] += p->generator_charger_kw;
      if (p->generator_charger_kw > 0)
        w->charger_efficiency = fmax(w->charger_efficiency, p->generator_charger_efficiency);
      w->bought += of_fuel * g->power * h;
      w->l_per_kwh = hub->generator->unit->l_per_kwh;
      if (!tank) w->fuel_l = (double)INFINITY;
      if (t == 0) w->fuel_l += fuel->level_l + fuel->used_l;
      if (t > 0) w->fuel_l += fuel->delivered_l;
    }
    w->wells = b->layout->wells;
    for (size_t i = 0; i < w->wells; i++) {
      const steading_well_flow *well = steading_well_flow_of(b->layout, row, i);
      w->load[t] -= well->pump;
      w->pumped_l[i][t] = well->pumped_l;
      w->level_l[i][t] = 0;
      for (int k2 = 0; k2 < b->stretch->wells[i].tanks; k2++)
        w->level_l[i][t] +=
            steading_tank_flow_of(b->layout, row, (size_t)(b->stretch->wells[i].first_tank + k2))
                ->level_l;
      if (t > 0 && b->stretch->wells[i].pump_kw != w->pump_kw[i]) w->changes = true;
      w->pump_kw[i] = b->stretch->wells[i].pump_kw;
      w->pump_l_per_step[i] = b->stretch->wells[i].pump_l_per_step;
    }
  }
  return STEADING_OK;
}

/* --- the programme ------------------------------------------------------------------------------
 */

typedef struct programme {
  int rows, columns, entries;
  int start[20 * STEPS], row[60 * STEPS];
  double value[60 * STEPS], cost[20 * STEPS], lowest[20 * STEPS], highest[20 * STEPS];
  double at_least[10 * STEPS], at_most[10 * STEPS];
} programme;

static void column(programme *p, double lowest, double highest, double cost) {
  p->start[p->columns] = p->entries;
  p->lowest[p->columns] = lowest;
  p->highest[p->columns] = highest;
  p->cost[p->columns++] = cost;
}

static void entry(programme *p, int row, double value) {
  p->row[p->entries] = row;
  p->value[p->entries++] = value;
}

static double or_endless(double value) { return isinf(value) || value > 1e30 ? HUGE_VAL : value; }

/* Rows of step t: the power that is needed, the energy stored, and for each well the litres more
 * than the run pumped; the last row is the fuel of the week. */
static double least_cost(const week *w) {
  programme *p = calloc(1, sizeof *p);
  Clp_Simplex *model = Clp_newModel();
  const int per_step = 2 + (int)w->wells, fuel = per_step * w->count;
  double cost = 0;
  ck_assert_ptr_nonnull(p);
  for (int t = 0; t < w->count; t++) {
    const int power = per_step * t, store = power + 1;
    p->at_least[power] = w->load[t] - w->sun[t];
    p->at_most[power] = HUGE_VAL; /* what is more is curtailed, exported or lost */
    p->at_least[store] = p->at_most[store] = t == 0 ? w->stored_kwh : 0;
    column(p, 0, or_endless(w->import_kw[t]), w->price[t] * w->h);
    entry(p, power, 1);
    column(p, 0, HUGE_VAL, of_missing * w->h);
    entry(p, power, 1);
    column(p, 0, or_endless(w->set_kw[t]), of_fuel * w->h);
    entry(p, power, 1);
    entry(p, fuel, w->l_per_kwh * w->h);
    column(p, 0, fmin(w->charge_kw[t], w->sun[t]), 0); /* from sun */
    entry(p, power, -1);
    entry(p, store, -w->in[t] * w->h);
    column(p, 0, or_endless(fmin(w->charge_kw[t], w->charger_kw[t])), 0); /* by a charger */
    entry(p, power, -1 / w->charger_efficiency);
    entry(p, store, -w->in[t] * w->h);
    column(p, 0, or_endless(w->discharge_kw[t]), 0);
    entry(p, power, 1);
    entry(p, store, w->h / w->out[t]);
    column(p, w->lowest[t], w->highest[t], 0);
    entry(p, store, 1);
    if (t + 1 < w->count) entry(p, store + per_step, -1);
    for (size_t i = 0; i < w->wells; i++) {
      const int litres = power + 2 + (int)i;
      p->at_least[litres] = p->at_most[litres] = -w->pumped_l[i][t];
      column(p, 0, w->pump_kw[i], 0); /* what the pump takes */
      entry(p, power, -1);
      if (w->pump_kw[i] > 0) entry(p, litres, -w->pump_l_per_step[i] / w->pump_kw[i]);
      column(p, -w->level_l[i][t], HUGE_VAL, 0); /* tanks above those of the run */
      entry(p, litres, 1);
      if (t + 1 < w->count) entry(p, litres + per_step, -1);
    }
  }
  p->at_least[fuel] = -HUGE_VAL;
  p->at_most[fuel] = or_endless(w->fuel_l);
  p->rows = fuel + 1;
  p->start[p->columns] = p->entries;
  Clp_setLogLevel(model, 0);
  Clp_loadProblem(model, p->columns, p->rows, p->start, p->row, p->value, p->lowest, p->highest,
                  p->cost, p->at_least, p->at_most);
  Clp_initialDualSolve(model);
  if (Clp_status(model) != 0) ck_abort_msg("the programme has status %d", Clp_status(model));
  cost = Clp_objectiveValue(model);
  Clp_deleteModel(model);
  free(p);
  return cost;
}

/* --- tests --------------------------------------------------------------------------------------
 */

static week *week_of(const steading_run *run, size_t day, bool floors, bool by_time) {
  week *w = calloc(1, sizeof *w);
  const steading_sink sink = {.take = take, .context = w};
  ck_assert_ptr_nonnull(w);
  w->count = STEPS;
  w->first = day * (size_t)(1440 / run->step_minutes);
  w->floors = floors;
  for (int t = 0; t < STEPS; t++) {
    int hour = t * run->step_minutes / 60 % 24;
    w->price[t] = !by_time ? 1 : hour >= 17 && hour < 21 ? 0.9 : hour < 6 ? 0.2 : 0.5;
  }
  ck_assert_int_eq(steading_run_repeat(run, &sink, NULL), STEADING_OK);
  return w;
}

/* `by_time`: a kWh of the grid costs more in the evening than at night. */
static void no_week_beats_the_optimum(bool by_time) {
  int above = 0, weeks = 0, wells = 0, sets = 0, chargers = 0, down = 0, shown = 0;
  random_site_weathers();
  for (uint64_t i = 0; weeks < WEEKS; i++) {
    dice d = {.seed = (by_time ? 420000 : 400000) + i};
    random_site *p = random_site_roll_one_hub(&d);
    steading_run *run = NULL;
    week *w = NULL;
    double least = 0;
    /* a store that lasts; the relaxation knows of no sun but that on DC */
    if (strstr(p->options, "years = 2") != NULL || p->modules == 0 ||
        strstr(p->hubs, "coupled = ") != NULL) {
      free(p);
      continue;
    }
    run = random_site_run(p);
    w = week_of(run, (size_t)below(&d, 350), false, by_time);
    if (!w->changes) {
      least = least_cost(w);
      if (w->bought < least - 1e-6 * (least + 1))
        ck_abort_msg("site %d: %.9g, the least is %.9g", (int)i, w->bought, least);
      weeks++;
      above += w->bought > least + 0.1;
      wells += w->wells > 0;
      sets += w->set_kw[0] > 0;
      chargers += w->charger_kw[0] > 0;
      for (int t = 0; t < STEPS; t++)
        if (w->import_kw[t] == 0) {
          down++;
          break;
        }
      if (by_time && least > 5 && shown++ < 8)
        printf("with prices by the hour a week of the rules costs %.0f %% of the optimum\n",
               100 * w->bought / least);
    }
    free(w);
    steading_run_release(run);
    free(p);
  }
  fflush(stdout);
  random_site_drop_weathers();
  ck_assert_int_ge(above, WEEKS / 2); /* the bound does not hold by chance */
  ck_assert_int_ge(wells, 20);
  ck_assert_int_ge(sets, 10);
  ck_assert_int_ge(chargers, 20);
  ck_assert_int_ge(down, 20);
}

START_TEST(no_rules_buy_less_energy_than_the_optimum_of_a_relaxation) {
  no_week_beats_the_optimum(false);
}
END_TEST

START_TEST(no_rules_pay_less_than_the_optimum_with_prices_by_the_hour) {
  no_week_beats_the_optimum(true);
}
END_TEST

/* The class in which the rule is the optimum: one pool, constant efficiencies, no load that can
 * wait, with_grid = "adds", and what is stored at the end counts for nothing. */
START_TEST(in_its_class_the_rule_is_the_optimum) {
  int with_grid = 0;
  random_site_weathers();
  for (uint64_t i = 0; i < 40; i++) {
    dice d = {.seed = 440000 + i};
    steading_weather *weather = random_site_weather(&d);
    double kwh = roll_between(&d, 1, 20), charge = roll_size(&d, 8), discharge = roll_size(&d, 8);
    double both_ways = roll_between(&d, 0.5, 1), floor = 0.5 * roll(&d), reserve = 0.6 * roll(&d);
    double daily = roll_between(&d, 3, 40), timed = roll_size(&d, 3), least = 0;
    const steading_site *site = build_site(
        weather,
        "{ weather = @0, meters = { m = { export_limit_kw = 3 } }, hubs = { h = { meter = \"m\", "
        "inverter = { unit = { ac_kw = 9999, losses = { idle_w = 0 } } }, arrays = { { "
        "tilt_deg = 30, azimuth_deg = %d, module = { watts = 400, "
        "temp_coefficient_per_c = -0.0035 }, lots = { { count = %d } } } }, battery = { module = { "
        "kwh = %.3f, charge_kw = %.3f, discharge_kw = %.3f, round_trip_efficiency = %.4f } }, "
        "rules = { battery_floor = %.3f, reserve = %.3f } } }, buildings = { a = { hub = \"h\", "
        "loads = { { kind = \"daily\", kwh_per_day = %.3f, shape = \"dwelling\" }, { "
        "kind = \"timed\", kw = %.3f, window = \"06:00-08:30\" } } } } }",
        45 * (int)(i % 8), 1 + (int)(i % 30), kwh, charge, discharge, both_ways, floor, reserve,
        daily, timed);
    steading_run *run = build_run(site, "{ start = \"2027-01\" }");
    /* a week inside a month: the reserve is the same all the year */
    week *w = week_of(run, (size_t)below(&d, 350), true, false);
    least = least_cost(w);
    if (!(fabs(w->bought - least) <= 1e-6 * (least + 1e-3)))
      ck_abort_msg("site %d: %.9g, the optimum is %.9g", (int)i, w->bought, least);
    with_grid += least > 1;
    free(w);
    steading_run_release(run);
    steading_record_release(site);
  }
  random_site_drop_weathers();
  ck_assert_int_ge(with_grid, 20);
}
END_TEST

#else

START_TEST(skipped_without_clp) {
  printf("SKIPPED external/relaxation: package coinor-libclp-dev is not installed\n");
  fflush(stdout);
}
END_TEST

#endif

Suite *relaxation_suite(void) {
  Suite *suite = suite_create("relaxation");
  TCase *tests = tcase_create("relaxation");
#ifdef HAVE_CLP
  tcase_add_test(tests, no_rules_buy_less_energy_than_the_optimum_of_a_relaxation);
  tcase_add_test(tests, no_rules_pay_less_than_the_optimum_with_prices_by_the_hour);
  tcase_add_test(tests, in_its_class_the_rule_is_the_optimum);
  tcase_set_timeout(tests, 300);
#else
  tcase_add_test(tests, skipped_without_clp);
#endif
  suite_add_tcase(suite, tests);
  return suite;
}
