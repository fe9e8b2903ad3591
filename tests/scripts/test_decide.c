/* rules.decide as a script sees it; tests/scripts/decide.lua holds the sites and compares. */
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
  command_fixture(folder, "decide.lua");
}
static void teardown(void) { folder_remove(folder); }

#define ASKED_AGAIN                                                                                \
  "false\tdecide.lua:231: site.hubs.barn.rules.decide: STEP: asked once more with the same `now` " \
  "it answers differently; an answer must not depend on what was asked before, since outages are " \
  "not followed in order of time\n"

static const struct {
  const char *what, *out;
} checks[] = {
    {"floor", "same\nsame\nsame\npv_used_kwh differs in step 13\n"},
    {"windows", "same\nsame\n"},
    {"shed", "same\nsame\n"},
    {"generator", "same\nsame\n0.0\ttrue\n0\ttrue\ttrue\n6568.0\n"},
    {"limits",
     "usable\t0.050000\nreserve\ttrue\nreserve, grid up\t0.400000\noutage floor\ttrue\ttrue\n"
     "discharge\tsame\nhalf a kW\t0.500000\nno discharge\t0\ncharger\tsame\nwithout "
     "grid\t208.0\n"},
    {"ride",
     "same\nsame\nrow 25 differs\ntrue\ttrue\n" ASKED_AGAIN ASKED_AGAIN
     "false\tdecide.lua:236: site.hubs.barn.rules.decide: in 2027, step 30 of the run (01-02 "
     "05:00), in an outage that began in step 30: found 3, expected a table or nothing\n"},
    {"told",
     "8760\t52\ttrue\ttrue\ntrue\nfalse\tdecide.lua:164: now.hour: the step of rules.decide is "
     "over: keep the number instead\nfalse\tdecide.lua:165: attempt to index a now value (upvalue "
     "'kept')\n"},
    {"copies", "same\nsame\nsame\nsame\nsame\nsame\n"},
    {"ac_coupled", "true\ttrue\ttrue\n"},
    {"study", "2\ttrue\t0\t0\nsame\n"},
};

START_TEST(what_is_decided_is_done) {
  char setting[64];
  command_said run;
  snprintf(setting, sizeof setting, "what=%s", checks[_i].what);
  run = COMMAND(folder, "run", "decide.lua", "--set", setting);
  ck_assert_msg(run.status == 0, "%s: %s", checks[_i].what, run.err);
  ck_assert_msg(strcmp(run.out, checks[_i].out) == 0, "%s: %s", checks[_i].what, run.out);
  command_free(&run);
}
END_TEST

/* The function in line 3 of a script that simulates in line 5. */
static const struct {
  const char *body, *said;
} mistakes[] = {
    {"return 3", "found 3, expected a table or nothing"},
    {"return { battery_flor = 0.3 }",
     "battery_flor: unknown field (did you mean 'battery_floor'?)"},
    {"return { battery_floor = 15 }", "battery_floor: found 15, expected a share, 0 to 1"},
    {"return { battery_floor = 0/0 }", "battery_floor: found NaN, expected a share, 0 to 1"},
    {"return { charge_to = 0/0, charge_from_grid_kw = 1 }",
     "charge_to: found NaN, expected a share, 0 to 1"},
    {"return { charge_from_grid_kw = '1' }",
     "charge_from_grid_kw: found \"1\", expected a number, 0 or more"},
    {"return { charge_from_grid_kw = 1 }",
     "charge_from_grid_kw: the unit cannot charge from AC; give "
     "inverter.unit.charge_from_grid_kw"},
    {"return { charge_to = 0.5 }", "charge_to: expected charge_from_grid_kw beside it"},
    {"return { discharge = -1 }", "discharge: found -1, expected a number, 0 or more"},
    {"return { discharge = 'no' }", "discharge: found \"no\", expected true, false or kW"},
    {"return { generator = 'on' }", "generator: the hub has none"},
    {"return { generator = true }", "generator: found true, expected \"on\", \"off\" or \"auto\""},
    {"return { shed = 'ordinary' }",
     "shed: found \"ordinary\", expected a list such as { \"sheddable\" }"},
    {"return { shed = { 'essential' } }",
     "shed: found \"essential\", expected \"ordinary\", \"deferrable\" or \"sheddable\""},
    {"return { shed = { a = 'ordinary' } }", "shed: expected a list without named fields or gaps"},
    {"return { 0.3 }", "found the key 1 in the answer"},
    {"coroutine.yield()", "the function called coroutine.yield(): it has to return its answer"},
    {"return elsewhere.there", "scenario.lua:3: the name 'elsewhere' is not declared"},
    {"return now.state_of_charg",
     "scenario.lua:3: now.state_of_charg: unknown field (did you mean 'state_of_charge'?)"},
    {"error {}", "(an error value of type table)"},
};

START_TEST(mistakes_are_told_with_the_step) {
  char script[1024], said[512];
  command_said run;
  snprintf(script, sizeof script,
           "local steading = require 'steading'\nlocal b = require 'base' ()\n"
           "b.site.hubs.barn.rules.decide = function(now) if now.step > 9000 then %s end end\n"
           "b.site.weather = steading.weather.synthesize(b.climate)\n"
           "steading.site(b.site):simulate(b.simulate)\n",
           mistakes[_i].body);
  snprintf(said, sizeof said,
           "steading: scenario.lua:5: site.hubs.barn.rules.decide: in 2028, step 9001 of the run "
           "(01-11 00:00): %s\n",
           mistakes[_i].said);
  run = SCRIPT(folder, script);
  ck_assert_int_eq(run.status, 2);
  ck_assert_msg(strstr(run.err, said) != NULL, "expected: %s\nit said: %s", said, run.err);
  command_free(&run);
}
END_TEST

static const struct {
  const char *lines, *said;
} others[] = {
    {"b.site.hubs.barn.rules.decide = 3",
     "site.hubs.barn.rules.decide: found a number, expected a function"},
    {"b.site.hubs.barn.battery = nil b.site.hubs.barn.rules.decide = function() return { "
     "battery_floor = 0.2 } end",
     "battery_floor: the hub has no battery"},
    {"b.site.hubs.barn.meter = nil b.site.hubs.barn.rules.decide = function() return { discharge = "
     "false } end",
     "discharge: the hub has no meter, and without a grid the battery serves its loads"},
    {"b.site.hubs.barn.meter = nil b.site.hubs.barn.rules.decide = function() return { "
     "charge_from_grid_kw = 1 } end",
     "charge_from_grid_kw: the hub has no meter"},
    {"b.site.hubs.barn.title = print", "site.hubs.barn.title: found a function, expected a text"},
};

START_TEST(what_cannot_be_decided_is_told) {
  char script[1024];
  command_said run;
  snprintf(script, sizeof script,
           "local steading = require 'steading'\nlocal b = require 'base' ()\n"
           "b.site.weather = steading.weather.synthesize(b.climate)\n%s\n"
           "steading.site(b.site):simulate(b.simulate)\n",
           others[_i].lines);
  run = SCRIPT(folder, script);
  ck_assert_int_eq(run.status, 2);
  ck_assert_msg(strstr(run.err, others[_i].said) != NULL, "expected: %s\nit said: %s",
                others[_i].said, run.err);
  command_free(&run);
}
END_TEST

Suite *decide_suite(void) {
  Suite *suite = suite_create("decide");
  TCase *tests = tcase_create("decide");
  tcase_add_checked_fixture(tests, setup, teardown);
  tcase_set_timeout(tests, COMMAND_TEST_SECONDS);
  tcase_add_loop_test(tests, what_is_decided_is_done, 0, sizeof checks / sizeof checks[0]);
  tcase_add_loop_test(tests, mistakes_are_told_with_the_step, 0,
                      sizeof mistakes / sizeof mistakes[0]);
  tcase_add_loop_test(tests, what_cannot_be_decided_is_told, 0, sizeof others / sizeof others[0]);
  suite_add_tcase(suite, tests);
  return suite;
}
