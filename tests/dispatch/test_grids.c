/* Which grids are down in the steps of a run: random outages keep their expected hours, rotas their
 * clock, and what either does to grid-free hours. 1 January 2027 is a Friday. */
#include <check.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "dispatch/events.h"
#include "dispatch/grids.h"
#include "dispatch/result.h"
#include "suites.h"

enum { HOURS = 8760 };

/* A site made ready for steading_grids_year. */
typedef struct ready {
  steading_weather *weather;
  const steading_site *site;
  steading_program *program;
  steading_zone *zone;
  steading_civil_step *civil;
  uint16_t *down;
  steading_grids grids;
} ready;

static ready make_ready(const char *meters, int start_month, int step_minutes, const char *zone) {
  ready r = {.weather = build_dark_weather()};
  steading_error error;
  size_t n = (size_t)(HOURS * 60 / step_minutes);
  r.site = build_site(r.weather, "{ weather = @0, meters = { %s } }", meters);
  r.program = calloc(1, sizeof *r.program);
  r.civil = calloc(n, sizeof *r.civil);
  r.down = calloc(n, sizeof *r.down);
  ck_assert_int_eq(
      steading_program_compile(r.site, step_minutes, steading_day_number(2027, start_month, 1),
                               r.program, &error),
      STEADING_OK);
  if (zone != NULL) ck_assert_int_eq(steading_zone_load(zone, &r.zone, NULL), STEADING_OK);
  r.grids = (steading_grids){.program = r.program, .weather = r.weather};
  return r;
}

static void fill(ready *r, int start_month, int run_year) {
  steading_error error = {.status = STEADING_OK};
  steading_clock_year(2027 + run_year, start_month, r->zone, -7, r->program->step_minutes,
                      r->civil);
  if (steading_grids_year(&r->grids, run_year, r->civil, r->down, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
}

static void release(ready *r) {
  free(r->program);
  free(r->civil);
  free(r->down);
  steading_zone_free(r->zone);
  steading_record_release(r->site);
  steading_weather_release(r->weather);
}

/* --- random outages ------------------------------------------------------------------------------
 */

/* Starts of a Poisson process, lengths of mean L: an instant is covered with probability 1 -
 * exp(-rate L), whatever the lengths' distribution (a server that is never full, Takacs 1962, from
 * memory). So many hours are expected a year, in steps of any length, since outages that overlap
 * are one. The hours of a year vary by sqrt(saifi E[length^2]), which for a lognormal is sqrt(saifi
 * exp(spread^2)) caidi; a year that is cut by its end varies no more. Four standard errors of the
 * mean of n years. */
static const struct {
  const char *meters;
  double saifi, caidi_h, square; /* E[length^2] / caidi^2 */
  int step_minutes, years;
} expected[] = {
    {"m = { outages = { saifi = 4, caidi_h = 6, seed = 3 } }", 4, 6, 3.6681, 60, 2000},
    {"m = { outages = { saifi = 4, caidi_h = 6, seed = 3 } }", 4, 6, 3.6681, 10, 500},
    {"m = { outages = { saifi = 40, caidi_h = 0.5, seed = 5 } }", 40, 0.5, 3.6681, 60, 2000},
    {"m = { outages = { saifi = 400, caidi_h = 5, lengths = { model = \"exponential\" } } }", 400,
     5, 2, 30, 300},
};

START_TEST(expected_hours_are_kept_in_whole_steps) {
  ready r = make_ready(expected[_i].meters, 1, expected[_i].step_minutes, NULL);
  double step_h = expected[_i].step_minutes / 60.0, hours = 0;
  double saifi = expected[_i].saifi, caidi_h = expected[_i].caidi_h;
  double error = caidi_h * sqrt(saifi * expected[_i].square / expected[_i].years);
  for (int year = 0; year < expected[_i].years; year++) {
    fill(&r, 1, year);
    for (size_t i = 0; i < r.program->steps_per_year; i++) hours += r.down[i] * step_h;
  }
  ck_assert_double_eq_tol(hours / expected[_i].years, HOURS * (1 - exp(-saifi * caidi_h / HOURS)),
                          4 * error);
  release(&r);
}
END_TEST

/* What stands beside a meter does not move its outages; its own seed or that of the run does. Two
 * meters of the same line, with the same seed and numbers, go down together. */
START_TEST(outages_of_a_meter_are_its_own) {
  static const char *const meters[] = {
      "a = { outages = { saifi = 30, caidi_h = 6, seed = 3 } }",
      "a = { outages = { saifi = 30, caidi_h = 6, seed = 3 } }, b = { outages = { saifi = 9, "
      "caidi_h = 2, seed = 8, in_dull_weather = 0.5, rota = { hours = 2, starts = \"08:00\" } } }",
      "a = { outages = { saifi = 30, caidi_h = 6, seed = 3 } }, b = { outages = { saifi = 30, "
      "caidi_h = 6, seed = 3 } }",
      "a = { outages = { saifi = 30, caidi_h = 6, seed = 4 } }"};
  ready r[4];
  size_t moved[2] = {0}, down = 0, both = 0;
  for (int k = 0; k < 4; k++) r[k] = make_ready(meters[k], 1, 60, NULL);
  for (int year = 0; year < 10; year++) {
    for (int k = 0; k < 4; k++) fill(&r[k], 1, year);
    for (size_t i = 0; i < HOURS; i++) {
      ck_assert_uint_eq(r[0].down[i] & 1, r[1].down[i] & 1);
      ck_assert_uint_eq(r[0].down[i] & 1, r[2].down[i] & 1);
      ck_assert(r[2].down[i] == 0 || r[2].down[i] == 3);
      moved[0] += r[0].down[i] != r[3].down[i];
      down += r[0].down[i];
      both += r[1].down[i] == 3;
    }
    r[3].grids.has_seed = true;
    r[3].grids.seed = 1;
    fill(&r[3], 1, year);
    for (size_t i = 0; i < HOURS; i++) moved[1] += r[3].down[i] != r[0].down[i];
    r[3].grids.has_seed = false;
    r[0].grids.without_random = true;
    fill(&r[0], 1, year);
    for (size_t i = 0; i < HOURS; i++) ck_assert_uint_eq(r[0].down[i], 0);
    r[0].grids.without_random = false;
  }
  ck_assert_uint_gt(down, 900); /* of about 1800 */
  ck_assert_uint_gt(both, 10);
  ck_assert_uint_gt(moved[0], 1000);
  ck_assert_uint_gt(moved[1], 1000);
  for (int k = 0; k < 4; k++) release(&r[k]);
}
END_TEST

/* Outages of 100 hours, 100 a year: the grid is down in two thirds of all hours, so that many last
 * over the end of a year. What it is at 23:00 on 31 December it then is at 00:00 but where one ends
 * or begins, in a fortieth of the hours. Also into the first year. */
START_TEST(an_outage_goes_on_in_the_next_year) {
  ready r = make_ready(
      "m = { outages = { saifi = 100, caidi_h = 100, lengths = { model = \"equal\" } } }", 1, 60,
      NULL);
  uint16_t last = 0;
  int same = 0, first = 0;
  for (int year = 0; year < 400; year++) {
    fill(&r, 1, year);
    if (year > 0) same += r.down[0] == last;
    first += r.down[0];
    last = r.down[HOURS - 1];
  }
  /* alone by chance they would agree in p^2 + (1 - p)^2 = 0.57 of the years, p = 1 - exp(-1.14) */
  ck_assert_int_gt(same, 375);
  ck_assert_int_gt(first, 230); /* of 272 */
  release(&r);
}
END_TEST

/* --- rotas ---------------------------------------------------------------------------------------
 */

/* Two days apart, four hours from 22:30 on, an hour later each turn, in half hours: turns begin on
 * days 1, 3, 5 ... of the run at 22:30, 23:30, 00:30 (still of that day) ... */
START_TEST(a_rota_takes_turns) {
  ready r = make_ready(
      "m = { outages = { rota = { hours = 4, starts = \"22:30\", every_days = 2, first_day = 1, "
      "moves_h = 1 } } }",
      1, 30, NULL);
  for (int year = 0; year < 3; year++) {
    uint16_t *wanted = calloc(HOURS * 2, sizeof *wanted);
    for (int day = 1; day < 4 * 365; day += 2) {
      long turn = (day - 1) / 2, begins = (45 + turn * 2) % 48 + (long)day * 48;
      for (long i = begins; i < begins + 8; i++)
        if (i >= year * 17520L && i < (year + 1) * 17520L) wanted[i - year * 17520L] = 1;
    }
    fill(&r, 1, year);
    ck_assert_mem_eq(r.down, wanted, HOURS * 2 * sizeof *wanted);
    free(wanted);
  }
  release(&r);
}
END_TEST

/* Civil time and months: from June to August in Denver, 18:00 to 22:00 are 17:00 to 21:00 standard
 * time. The run begins in April. */
START_TEST(a_rota_follows_civil_time) {
  ready r = make_ready(
      "m = { outages = { rota = { hours = 4, starts = \"18:00\", months = \"Jun-Aug\" } } }", 4, 60,
      "America/Denver");
  fill(&r, 4, 1);
  for (size_t i = 0; i < HOURS; i++) {
    size_t day = (i / 24 + 90) % 365; /* 31 + 28 + 31 days lie before April */
    bool summer = day >= 151 && day < 243;
    ck_assert_uint_eq(r.down[i], summer && i % 24 >= 17 && i % 24 < 21);
  }
  release(&r);
}
END_TEST

/* Around midnight and the change of the clocks: a turn of an hour at civil 23:00, in every zone 365
 * a year, give or take the hour at the ends of the run. In Denver's summer that is 22:00 standard
 * time; a turn at 00:00 is 23:00 of the day before. */
START_TEST(turns_at_midnight_are_one_a_day) {
  static const char *const starts[] = {"23:00", "00:00"};
  ready r;
  char meters[128];
  int hours = 0;
  snprintf(meters, sizeof meters, "m = { outages = { rota = { hours = 1, starts = \"%s\" } } }",
           starts[_i]);
  r = make_ready(meters, 7, 60, "America/Denver");
  for (int year = 0; year < 2; year++) {
    fill(&r, 7, year);
    for (size_t i = 0; i < HOURS; i++) {
      size_t at = (_i == 0 ? 23 : 24) - (r.civil[i].minute / 60 != i % 24 ? 1u : 0u);
      if (r.down[i]) ck_assert_uint_eq(i % 24, at % 24);
      hours += r.down[i];
    }
  }
  ck_assert_int_eq(hours, 2 * 365);
  release(&r);
}
END_TEST

static const struct {
  const char *rota, *field;
} uneven[] = {{"hours = 4, starts = \"18:30\"", "starts"},
              {"hours = 3.5, starts = \"18:00\"", "hours"},
              {"hours = 0.01, starts = \"18:00\"", "hours"},
              {"hours = 4, starts = \"18:00\", moves_h = 0.25", "moves_h"}};

START_TEST(a_rota_that_cuts_a_step_is_refused) {
  steading_error error = {.status = STEADING_OK};
  char meters[160], path[64];
  ready r;
  snprintf(meters, sizeof meters, "m = { outages = { rota = { %s } } }", uneven[_i].rota);
  snprintf(path, sizeof path, "site.meters.m.outages.rota.%s", uneven[_i].field);
  r = make_ready(meters, 1, 60, NULL);
  ck_assert_int_eq(steading_grids_year(&r.grids, 0, r.civil, r.down, &error), STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, path);
  ck_assert_ptr_nonnull(strstr(error.text, "a step of 60 minutes"));
  release(&r);
}
END_TEST

/* --- what a run says -----------------------------------------------------------------------------
 */

static double column(const steading_run *run, const char *name, int of, size_t index) {
  const steading_view view = {.of = of, .index = index};
  steading_span *span = malloc(sizeof *span);
  double value = (double)NAN;
  steading_span_of(run, 0, run->month_count, span);
  for (size_t c = 0; c < steading_result_column_count; c++)
    if (strcmp(steading_result_columns[c].name, name) == 0)
      value = steading_result_columns[c].value(span, &view);
  free(span);
  return value;
}

/* The column adds up the events; of the site it counts an hour once in which both are down. The
 * load straight on the meter is unserved in just these hours. */
START_TEST(outage_hours_are_those_of_the_events) {
  steading_weather *weather = build_dark_weather();
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { a = { outages = { saifi = 12, caidi_h = 9, seed = 2, windows = "
      "{ hours = \"10:00-12:00\", days = \"Mon\" } } }, b = { outages = { rota = { hours = 4, "
      "starts = \"11:00\", every_days = 3 } } }, c = {} }, buildings = { x = { meter = \"a\", "
      "loads = { { kind = \"steady\", watts = 1000 } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", years = 2, step_minutes = 30 }");
  steading_ask_events *ask = build(&steading_ask_events_spec, NULL, "{ kind = \"outage\" }");
  double hours[3] = {0}, unserved = 0;
  uint8_t *any = calloc(4 * HOURS, 1);
  size_t together = 0;
  steading_events events;
  steading_error error;
  ck_assert_int_eq(steading_run_events(run, ask, &events, &error), STEADING_OK);
  for (size_t i = 0; i < events.count; i++) {
    const steading_event *event = &events.items[i];
    hours[event->meter] += (double)event->steps / 2;
    unserved += event->amount;
    for (size_t s = event->first; s <= event->last; s++) any[s] = 1;
  }
  for (size_t s = 0; s < 4 * HOURS; s++) together += any[s];
  ck_assert_double_gt(hours[0], 2 * 104); /* more than the windows */
  ck_assert_double_eq(hours[1], 244 * 4); /* 730 days, every third */
  for (size_t m = 0; m < 3; m++)
    ck_assert_double_eq_tol(column(run, "outage_hours", STEADING_OF_METER, m), hours[m], 1e-9);
  ck_assert_double_eq_tol(column(run, "outage_hours", STEADING_OF_SITE, 0), (double)together / 2,
                          1e-9);
  ck_assert_double_eq_tol(unserved, hours[0], 1e-9);
  ck_assert_double_eq_tol(column(run, "unserved_kwh", STEADING_OF_SITE, 0), hours[0], 1e-9);
  free(any);
  steading_events_free(&events);
  steading_record_release(ask);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- grid-free hours -----------------------------------------------------------------------------
 */

enum { ROOM = 4096 };

static void add(char *text, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void add(char *text, const char *format, ...) {
  size_t used = strlen(text);
  va_list values;
  va_start(values, format);
  vsnprintf(text + used, ROOM - used, format, values);
  va_end(values);
}

static bool often(dice *d, double share) { return roll(d) < share; }

/* Hubs of a meter with their buildings. Inside the class: no idle draw, no wells, the grid adds
 * what is missing, one floor at all times (no reserve, no resume_above, no outage_floor of its
 * own), no margin, the battery charges before the bus is fed. Outside at least one of these is
 * left. */
static void roll_site(dice *d, bool inside, char *text) {
  int hubs = 1 + (int)(3 * roll(d)), left = inside ? -1 : (int)(7 * roll(d));
  text[0] = '\0';
  add(text, "hubs = { ");
  for (int i = 0; i < hubs; i++) {
    double floor = 0.4 * roll(d);
    bool transfers = left == 0;
    add(text, "h%d = { meter = \"m\", inverter = { unit = { ac_kw = %.3f, ", i,
        roll_between(d, 1, 8));
    add(text, "losses = { idle_w = %.2f, ", left == 1 ? roll_between(d, 20, 150) : 0);
    add(text, "share_of_power = %.4f, ", 0.05 * roll(d));
    add(text, "share_at_rating = %.4f }, ", 0.05 * roll(d));
    if (often(d, 0.3)) add(text, "pass_through_kw = %.3f, ", roll_between(d, 0.1, 8));
    add(text, "}, ");
    if (transfers) add(text, "with_grid = \"transfers\", ");
    if (left == 2) add(text, "import_margin_w = %.1f, ", roll_between(d, 60, 400));
    add(text,
        "}, arrays = { { tilt_deg = 30, azimuth_deg = 180, lots = { { count = %d } }, module = { "
        "watts = 400, temp_coefficient_per_c = -0.0035 } } }, ",
        (int)(16 * roll(d)));
    add(text, "battery = { module = { kwh = %.3f, ", roll_between(d, 1, 20));
    add(text, "charge_kw = %.3f, ", roll_between(d, 0.5, 5));
    add(text, "discharge_kw = %.3f, ", roll_between(d, 0.5, 5));
    add(text, "round_trip_efficiency = %.3f, ", roll_between(d, 0.8, 1));
    add(text, "standby_w = %.1f } }, ", roll_size(d, 20));
    add(text, "rules = { battery_floor = %.3f, ", floor);
    if (left == 3) add(text, "resume_above = %.3f, ", floor + 0.1 + 0.4 * roll(d));
    if (transfers) add(text, "resume_above = %.3f, ", floor + 0.1 + 0.4 * roll(d));
    if (left == 4) add(text, "outage_floor = %.3f, ", floor * roll(d));
    if (left == 5)
      add(text, "surplus_order = { \"export\", \"battery\" }, ");
    else if (often(d, 0.3))
      add(text, "surplus_order = { %s }, ",
          often(d, 0.5) ? "\"battery\", \"export\"" : "\"battery\"");
    add(text, "} }, ");
  }
  add(text, "}, buildings = { ");
  for (int i = 0; i < hubs; i++) {
    add(text,
        "b%d = { hub = \"h%d\", loads = { { kind = \"daily\", kwh_per_day = %.3f, shape = "
        "\"dwelling\" }, ",
        i, i, roll_between(d, 2, 25));
    add(text, "{ kind = \"timed\", kw = %.3f, window = \"06:00-09:00\" } } }, ", roll_size(d, 3));
  }
  if (often(d, 0.3))
    add(text,
        "out = { meter = \"m\", loads = { { kind = \"timed\", kw = %.3f, window = "
        "\"20:00-02:00\" } } }, ",
        roll_size(d, 2));
  add(text, "}, ");
  if (left != 6) return;
  add(text,
      "water = { wells = { w = { hub = \"h0\", lift_m = 90, flow_l_per_min = 30, efficiency = "
      "0.4 } }, tanks = { t = { litres = %.1f, fed_by = \"w\" } }, ",
      roll_between(d, 1000, 9000));
  add(text, "users = { u = { tank = \"t\", litres_per_day = %.1f } } }, ",
      roll_between(d, 500, 6000));
}

static steading_run *run_with(steading_weather *weather, const char *parts, double import_kw,
                              double export_kw, const char *outages) {
  const steading_site *site =
      build_site(weather,
                 "{ weather = @0, meters = { m = { import_limit_kw = %.3f, export_limit_kw = %.3f, "
                 "outages = %s } }, %s }",
                 import_kw, export_kw, outages, parts);
  steading_run *run = build_run(site, "{ start = \"2027-01\", keep = \"steps\" }");
  steading_record_release(site);
  return run;
}

/* An hour that is grid-free beside a rota is grid-free without it, in the class: with one floor,
 * nothing but loads that the bus may carry, and the battery before the bus, the store of a hub ends
 * every hour with the same charge whether the grid is up or down, so that an hour in which nothing
 * is unserved while it is down is one in which nothing would be imported. Elsewhere it is false: a
 * deeper floor, or a battery that need not wait, carries hours that the grid would have. */
static size_t hours_added(dice *d, steading_weather *weather, bool inside, bool *charge_differs) {
  char parts[ROOM], rota[128];
  double import_kw = often(d, 0.5) ? 100 : roll_between(d, 0.5, 6);
  double export_kw = often(d, 0.5) ? 0 : roll_size(d, 8);
  steading_run *with = NULL, *without = NULL;
  size_t added = 0;
  double hours[2] = {0};
  int starts = 0, moves = 0;
  roll_site(d, inside, parts);
  starts = (int)(24 * roll(d));
  moves = (int)(24 * roll(d));
  snprintf(rota, sizeof rota, "{ rota = { hours = 4, starts = \"%02d:00\", moves_h = %d } }",
           starts, moves);
  with = run_with(weather, parts, import_kw, export_kw, rota);
  without = run_with(weather, parts, import_kw, export_kw, "false");
  for (size_t i = 0; i < HOURS; i++) {
    build_flow a = build_step(with, i), b = build_step(without, i);
    if (inside && a.grid_free > b.grid_free) ck_abort_msg("hour %zu: %s %s", i, rota, parts);
    if (fabs(a.stored_kwh - b.stored_kwh) > 1e-9) *charge_differs = true;
    hours[0] += a.grid_free;
    hours[1] += b.grid_free;
  }
  if (hours[0] > hours[1]) added = (size_t)(hours[0] - hours[1]);
  steading_run_release(with);
  steading_run_release(without);
  return added;
}

START_TEST(a_rota_never_adds_grid_free_hours_in_its_class) {
  enum { SITES = 150 };
  dice d = {.seed = 20};
  steading_weather *weather = build_weather_at(38, 5);
  bool differs = false, ignored = false;
  int more = 0;
  for (int k = 0; k < SITES; k++) hours_added(&d, weather, true, &differs);
  ck_assert(!differs);
  for (int k = 0; k < SITES; k++) more += hours_added(&d, weather, false, &ignored) > 0;
  printf(
      "rota of 4 hours a day: grid-free hours added on 0 of %d sites of the class, on %d of %d "
      "outside\n",
      SITES, more, SITES);
  ck_assert_int_gt(more, 0); /* or the class would be too narrow */
  steading_weather_release(weather);
}
END_TEST

Suite *grids_suite(void) {
  Suite *suite = suite_create("grids");
  TCase *tests = tcase_create("grids");
  tcase_add_loop_test(tests, expected_hours_are_kept_in_whole_steps, 0,
                      sizeof expected / sizeof expected[0]);
  tcase_add_test(tests, outages_of_a_meter_are_its_own);
  tcase_add_test(tests, an_outage_goes_on_in_the_next_year);
  tcase_add_test(tests, a_rota_takes_turns);
  tcase_add_test(tests, a_rota_follows_civil_time);
  tcase_add_loop_test(tests, turns_at_midnight_are_one_a_day, 0, 2);
  tcase_add_loop_test(tests, a_rota_that_cuts_a_step_is_refused, 0,
                      sizeof uneven / sizeof uneven[0]);
  tcase_add_test(tests, outage_hours_are_those_of_the_events);
  tcase_add_test(tests, a_rota_never_adds_grid_free_hours_in_its_class);
  tcase_set_timeout(tests, 300);
  suite_add_tcase(suite, tests);
  return suite;
}
