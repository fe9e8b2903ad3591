/* The rules by which a generator starts and stops: days worked out by hand, and what they promise
 * over random days. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "dice.h"
#include "plant/start_stop.h"
#include "suites.h"

/* Steps of an hour: a text with a character for each: what happens, and what it is expected to do.
 *   stored   digits, tenths of a battery of 10 kWh
 *   want     '.' served without it, 'U' would be unserved
 *   block    '.', 'q' quiet, 'h' the first half quiet, 'g' the grid holds it, 'e' exercise, 'x'
 * half an hour of it runs     '.' off, 'R' all the step, 'r' a part, 'E' exercise */
typedef struct day {
  const char *stored, *want, *block, *runs;
} day;

static void play(const steading_start_stop_rule *rule, const day *d, double starts, double hours) {
  steading_start_stop_state s = steading_start_stop_begin();
  double started = 0, ran = 0;
  for (size_t i = 0; i < strlen(d->runs); i++) {
    char block = d->block[i];
    steading_start_stop_step step = {.step_h = 1,
                                     .stored_kwh = d->stored[i] - '0',
                                     .quiet_share = block == 'q' ? 1 : (block == 'h' ? 0.5 : 0),
                                     .exercise_share = block == 'e' ? 1 : (block == 'x' ? 0.5 : 0),
                                     .grid_holds = block == 'g'};
    steading_start_stop_verdict v = steading_start_stop_ask(rule, &s, &step);
    bool runs =
        v.runs == STEADING_GENERATOR_ON || (v.runs == STEADING_GENERATOR_ASKS && d->want[i] == 'U');
    double share = runs ? v.share : v.exercise_share;
    char did = share > 0 ? (runs ? (share < 1 ? 'r' : 'R') : 'E') : '.';
    if (did != d->runs[i])
      ck_abort_msg("hour %zu of %s: '%c', expected '%c'", i, d->runs, did, d->runs[i]);
    started += steading_start_stop_tell(rule, &s, 1, share, !runs, false);
    ran += share;
  }
  ck_assert_double_eq(started, starts);
  ck_assert_double_eq_tol(ran, hours, 1e-12);
}

static steading_start_stop_rule standard(void) {
  return (steading_start_stop_rule){
      .start_below_kwh = -1, .stop_above_kwh = -1, .most_h_per_day = (double)INFINITY};
}

START_TEST(it_starts_below_a_charge_and_stops_above_another) {
  steading_start_stop_rule rule = standard();
  rule.start_below_kwh = 2;
  rule.stop_above_kwh = 6;
  play(&rule,
       &(day){
           .stored = "5432134566544321246",
           .want = "...................",
           .block = "...................",
           .runs = "...RRRRR......RRRR.", /* 2 starts it, 3 does not; 6 stops it */
       },
       2, 9);
}
END_TEST

START_TEST(it_starts_when_load_would_be_left_unserved_and_stops_when_not) {
  steading_start_stop_rule rule = standard();
  rule.if_unserved = true;
  play(
      &rule,
      &(day){.stored = "000000000", .want = "..UU.U...", .block = ".........", .runs = "..RR.R..."},
      2, 3);
  rule.stop_above_kwh = 3; /* runs on for the charge, and again for the load */
  play(
      &rule,
      &(day){.stored = "012012345", .want = ".U......U", .block = ".........", .runs = ".RRRRR..R"},
      2, 6);
}
END_TEST

START_TEST(a_run_and_a_rest_have_their_least_length) {
  steading_start_stop_rule rule = standard();
  rule.if_unserved = true;
  rule.least_h = 3;
  rule.least_rest_h = 2;
  play(&rule,
       &(day){
           .stored = "0000000000",
           .want = "U...U.UUUU",
           .block = "..........",
           .runs = "RRR...RRRR" /* U in hour 4 finds it resting */
       },
       2, 7);
}
END_TEST

START_TEST(quiet_hours_end_a_run_and_hold_one) {
  steading_start_stop_rule rule = standard();
  rule.if_unserved = true;
  rule.least_h = 4;
  play(&rule,
       &(day){.stored = "00000000", .want = "UUUUUUUU", .block = "..qqqh..", .runs = "RR...rRR"}, 2,
       4.5);
}
END_TEST

START_TEST(the_hours_of_a_day_end_a_run_within_a_step) {
  steading_start_stop_rule rule = standard();
  steading_start_stop_state s = steading_start_stop_begin();
  steading_start_stop_step step = {.step_h = 1};
  rule.if_unserved = true;
  rule.most_h_per_day = 2.5;
  play(&rule, &(day){.stored = "00000", .want = "UUUUU", .block = ".....", .runs = "RRr.."}, 1,
       2.5);
  for (int i = 0; i < 3; i++) steading_start_stop_tell(&rule, &s, 1, i < 2 ? 1 : 0.5, false, false);
  ck_assert_int_eq(steading_start_stop_ask(&rule, &s, &step).why, STEADING_START_STOP_hours);
  ck_assert_double_eq(s.on, 0);
  ck_assert_double_eq(s.rest_h, 0.5);
  steading_start_stop_morning(&s);
  ck_assert_int_eq(steading_start_stop_ask(&rule, &s, &step).runs, STEADING_GENERATOR_ASKS);
}
END_TEST

START_TEST(a_grid_that_is_up_holds_it_but_not_its_exercise) {
  steading_start_stop_rule rule = standard();
  rule.if_unserved = true;
  rule.least_rest_h = 5;
  play(&rule,
       &(day){.stored = "00000000", .want = "UUU.....", .block = "gg.gee.x", .runs = "..R.EE.E"}, 3,
       3.5);
}
END_TEST

/* An exercise that turns into a run for the load is one start; a run for the load needs none. */
START_TEST(exercise_beside_a_run_is_no_start) {
  steading_start_stop_rule rule = standard();
  rule.if_unserved = true;
  play(&rule, &(day){.stored = "00000", .want = "..U..", .block = ".e...", .runs = ".ER.."}, 1, 2);
  play(&rule, &(day){.stored = "00000", .want = ".U...", .block = ".ee..", .runs = ".RE.."}, 1, 2);
}
END_TEST

START_TEST(without_fuel_a_run_ends_within_the_step) {
  steading_start_stop_rule rule = standard();
  steading_start_stop_state s = steading_start_stop_begin();
  rule.least_h = 8;
  rule.least_rest_h = 2;
  rule.start_below_kwh = 5;
  rule.stop_above_kwh = 9;
  ck_assert_double_eq(steading_start_stop_tell(&rule, &s, 1, 1, false, false), 1);
  ck_assert_double_eq(s.on, 1);
  ck_assert_double_eq(steading_start_stop_tell(&rule, &s, 1, 0.25, false, true), 0);
  ck_assert_double_eq(s.on, 0);
  ck_assert_double_eq(s.rest_h, 0.75);
  ck_assert_double_eq(s.today_h, 1.25);
}
END_TEST

/* With random rules, charges and loads: hours add up, no run is shorter than its least hours unless
 * quiet hours, the day's hours or the grid ended it, no rest is too short, no step is quiet. */
START_TEST(the_rules_hold_over_random_days) {
  for (uint64_t seed = 1; seed <= 300; seed++) {
    dice d = {.seed = seed};
    double step_h = roll(&d) < 0.5 ? 1 : 0.25;
    steading_start_stop_rule rule = {0};
    steading_start_stop_state s = steading_start_stop_begin();
    double today = 0, run = 0, rest = 1e9;
    bool forced = false;
    size_t a_day = (size_t)(24 / step_h);
    rule.start_below_kwh = roll(&d) < 0.3 ? -1 : roll_between(&d, 0, 4);
    rule.stop_above_kwh = roll_between(&d, 5, 9);
    rule.if_unserved = roll(&d) < 0.5;
    rule.least_h = roll(&d) < 0.5 ? 0 : roll_between(&d, 0, 4);
    rule.least_rest_h = roll(&d) < 0.5 ? 0 : roll_between(&d, 0, 4);
    rule.most_h_per_day = roll(&d) < 0.5 ? (double)INFINITY : roll_between(&d, 1, 12);
    for (size_t i = 0; i < 20 * a_day; i++) {
      size_t hour = (size_t)((double)(i % a_day) * step_h);
      bool quiet = hour >= 22 || hour < 6, unserved = roll(&d) < 0.3, grid = roll(&d) < 0.1;
      steading_start_stop_step step = {.step_h = step_h,
                                       .stored_kwh = roll_between(&d, 0, 10),
                                       .quiet_share = quiet ? 1 : 0,
                                       .grid_holds = grid};
      steading_start_stop_verdict v;
      bool runs = false;
      double share = 0, started = 0;
      if (i % a_day == 0) {
        steading_start_stop_morning(&s);
        today = 0;
      }
      v = steading_start_stop_ask(&rule, &s, &step);
      runs = v.runs == STEADING_GENERATOR_ON || (v.runs == STEADING_GENERATOR_ASKS && unserved);
      share = runs ? v.share : 0;
      started = steading_start_stop_tell(&rule, &s, step_h, share, false, false);
      if (share > 0 && (quiet || grid)) ck_abort_msg("seed %d: runs at hour %zu", (int)seed, hour);
      if (started > 0 && rest < rule.least_rest_h - 1e-6)
        ck_abort_msg("seed %d: a rest of %g h", (int)seed, rest);
      if (share == 0 && run > 0 && !forced && !quiet && !grid && run < rule.least_h - 1e-6)
        ck_abort_msg("seed %d: a run of %g h", (int)seed, run);
      today += share * step_h;
      if (today > rule.most_h_per_day + 1e-6)
        ck_abort_msg("seed %d: %g h in a day", (int)seed, today);
      forced = today >= rule.most_h_per_day - 1e-6;
      rest = share > 0 ? (1 - share) * step_h : rest + step_h;
      run = share > 0 ? run + share * step_h : 0;
    }
  }
}
END_TEST

static void refused(const char *text, const char *path, const char *said) {
  steading_error error = {.status = STEADING_OK};
  void *record = build_or_error(&steading_generator_rules_spec, NULL, &error, "%s", text);
  ck_assert_msg(record == NULL, "accepted: %s", text);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, said) != NULL, "%s: %s", error.path, error.text);
}

static void accepted(const char *text) {
  steading_error error = {.status = STEADING_OK};
  void *record = build_or_error(&steading_generator_rules_spec, NULL, &error, "%s", text);
  ck_assert_msg(record != NULL, "%s: %s %s", text, error.path, error.text);
  steading_record_release(record);
}

START_TEST(rules_that_cannot_be_are_refused) {
  refused("{ start_below_charge = 0.2 }", "stop_above_charge", "required");
  refused("{ start_below_charge = 0.6, stop_above_charge = 0.6 }", "start_below_charge", "less");
  refused("{ stop_above_charge = 0.6, start_if_unserved = false }", "stop_above_charge", "absent");
  refused("{ start_if_unserved = false }", "start_if_unserved", "nothing ever starts");
  refused("{ least_hours = 3, most_hours_per_day = 2 }", "least_hours", "at most");
  refused("{ exercise = { loaded = true } }", "exercise.window", "required");
  refused("{ quiet = \"21:00-07:00\", exercise = { window = \"06:30-07:30\" } }", "exercise.window",
          "quiet");
  refused(
      "{ quiet = { hours = \"21:00-07:00\", days = \"Sun\" },"
      "  exercise = { window = { hours = \"06:00-06:30\", days = \"Mon\" } } }",
      "exercise.window", "quiet");
  accepted(
      "{ quiet = { hours = \"21:00-07:00\", days = \"Sun\" },"
      "  exercise = { window = { hours = \"06:00-06:30\", days = \"Sun\" } } }");
  accepted("{ quiet = \"21:00-07:00\", exercise = { window = \"07:00-07:30\" } }");
  accepted(
      "{ quiet = { hours = \"21:00-07:00\", months = \"Jun-Aug\" },"
      "  exercise = { window = { hours = \"06:00-06:30\", months = \"Dec\" } } }");
  accepted("{ stop_above_charge = 0.6 }");
}
END_TEST

static void generator_refused(const char *rest, const char *path) {
  steading_error error = {.status = STEADING_OK};
  void *record = build_or_error(&steading_generator_spec, NULL, &error,
                                "{ unit = { kw = 9, fuel = \"propane\", no_load_l_per_h = 1.3, "
                                "l_per_kwh = 0.48 } %s }",
                                rest);
  ck_assert_msg(record == NULL, "accepted: %s", rest);
  ck_assert_str_eq(error.path, path);
}

START_TEST(generators_that_cannot_be_are_refused) {
  generator_refused("", "charger_kw"); /* the role is both */
  generator_refused(", role = \"charges\"", "charger_kw");
  generator_refused(", role = \"carries\", charger_kw = 6", "charger_kw");
  generator_refused(", role = \"carry\"", "role");
  generator_refused(", role = \"carries\", service = { every_hours = 150 }", "service.price");
}
END_TEST

Suite *start_stop_suite(void) {
  Suite *s = suite_create("start_stop");
  TCase *t = tcase_create("start_stop");
  tcase_add_test(t, it_starts_below_a_charge_and_stops_above_another);
  tcase_add_test(t, it_starts_when_load_would_be_left_unserved_and_stops_when_not);
  tcase_add_test(t, a_run_and_a_rest_have_their_least_length);
  tcase_add_test(t, quiet_hours_end_a_run_and_hold_one);
  tcase_add_test(t, the_hours_of_a_day_end_a_run_within_a_step);
  tcase_add_test(t, a_grid_that_is_up_holds_it_but_not_its_exercise);
  tcase_add_test(t, exercise_beside_a_run_is_no_start);
  tcase_add_test(t, without_fuel_a_run_ends_within_the_step);
  tcase_add_test(t, the_rules_hold_over_random_days);
  tcase_add_test(t, rules_that_cannot_be_are_refused);
  tcase_add_test(t, generators_that_cannot_be_are_refused);
  suite_add_tcase(s, t);
  return s;
}
