/* Studies: their rows, what a case may do, and that a study that was killed goes on to the same
 * bytes. */
#include <fcntl.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
}

static void teardown(void) { folder_remove(folder); }

static void check_file(const char *name, const char *text) {
  char *found = command_read(folder, name);
  ck_assert_str_eq(found, text);
  free(found);
}

/* A study of one axis, a = 1, 2, 3, and one column, x, whose case is `body`; rows go to x.csv. */
static command_said one_axis(const char *before, const char *body) {
  char script[4096];
  snprintf(script, sizeof script,
           "local steading = require 'steading'\n"
           "%s\n"
           "local study = steading.study { name = 'x', columns = { 'x' },\n"
           "  axes = { { 'a', { 1, 2, 3 } } },\n"
           "  case = function(c)\n"
           "%s\n"
           "  end }\n"
           "study.rows:write('x.csv')\n",
           before, body);
  return SCRIPT(folder, script);
}

/* --- rows ------------------------------------------------------------------------------------ */

START_TEST(test_rows) {
  command_said run = SCRIPT(
      folder,
      "local steading = require 'steading'\n"
      "local study = steading.study {\n"
      "  name = 'rows', columns = { 'z', 'b', 'a', 'n' },\n"
      "  axes = { { 'size', { 4, 6.5 } }, { 'kind', { 'x', '=y' } }, { 'on', { true, false } } },\n"
      "  case = function(c)\n"
      "    print(c.case, c.size, c.kind, c.on)\n"
      "    return { a = c.size * 2, b = c.kind .. '!', z = c.on, n = c.on and steading.never or "
      "steading.none }\n"
      "  end }\n"
      "study.rows:write('rows.csv')\n"
      "print(#study.rows, table.concat(study.rows.columns, ' '), study.failed, study.different)\n"
      "print(study.rows[8].kind, study.rows[8].a == 13, study.rows[8].status)\n");
  command_check(&run, 0,
                "1\t4\tx\ttrue\n2\t4\tx\tfalse\n3\t4\t=y\ttrue\n4\t4\t=y\tfalse\n"
                "5\t6.5\tx\ttrue\n6\t6.5\tx\tfalse\n7\t6.5\t=y\ttrue\n8\t6.5\t=y\tfalse\n"
                "8\tcase size kind on z b a n status\t0\t0\n"
                "=y\ttrue\tok\n",
                NULL, "rows");
  check_file("rows.csv",
             "case,size,kind,on,z,b,a,n,status\n"
             "1,4,x,true,true,x!,8,,ok\n"
             "2,4,x,false,false,x!,8,,ok\n"
             "3,4,'=y,true,true,'=y!,8,,ok\n"
             "4,4,'=y,false,false,'=y!,8,,ok\n"
             "5,6.5,x,true,true,x!,13,,ok\n"
             "6,6.5,x,false,false,x!,13,,ok\n"
             "7,6.5,'=y,true,true,'=y!,13,,ok\n"
             "8,6.5,'=y,false,false,'=y!,13,,ok\n");
}
END_TEST

START_TEST(test_failed_case) {
  command_said run = one_axis("", "if c.a == 2 then error('no') end return { x = c.a }");
  command_check(&run, 1, "", "steading: study 'x': case 2 failed: scenario.lua:6: no\n", "failed");
  check_file("x.csv", "case,a,x,status\n1,1,1,ok\n2,2,,failed: scenario.lua:6: no\n3,3,3,ok\n");
}
END_TEST

/* What a case answers that is no row: its status says why, the others go on. */
static const char *const bad_answers[][2] = {
    {"return { x = 0 / 0 }", "case returned nan for 'x'"},
    {"return { x = -math.huge }", "case returned -inf for 'x'"},
    {"return {}", "case returned no 'x', which is in columns"},
    {"return { x = 1, y = 2 }", "case returned 'y', which is not in columns"},
    {"return { x = 1, [1] = 2 }", "case returned '1', which is not in columns"},
    {"return 3", "case returned a number, expected a table with the columns"},
    {"return", "case returned a nil, expected a table with the columns"},
    {"return { x = {} }", "case returned a table for 'x'"},
    {"return { x = print }", "case returned a function for 'x'"},
    {"return { x = 'a\\0b' }", "case returned a text with a zero byte for 'x'"},
    {"coroutine.yield() return { x = 1 }",
     "case called coroutine.yield() outside a coroutine of its own"},
    {"error({})", "(an error value of type table)"},
    {"error()", "(an error value of type nil)"},
    {"return { x = os.time() }",
     "scenario.lua:6: a case of a study depends on its 'c' alone: there is no clock in it"},
    {"return { x = os.clock() }",
     "scenario.lua:6: a case of a study depends on its 'c' alone: there is no clock in it"},
    {"return { x = os.date() }",
     "scenario.lua:6: a case of a study depends on its 'c' alone: there is no clock in it"},
    {"math.randomseed(3) return { x = 1 }",
     "scenario.lua:6: math.randomseed: a case has its own stream, which follows from the case"},
    {"c.a = 3 return { x = 1 }", "scenario.lua:6: c.a: cannot be changed: it is read-only"},
    {"return { x = c.size }", "scenario.lua:6: c.size: unknown field"},
    {"y = 3 return { x = 1 }",
     "scenario.lua:6: the name 'y' is not declared: write 'local' before it"},
    {"steading.study { name = 'y', columns = { 'x' }, axes = { { 'a', { 1 } } }, case = print } "
     "return { x = 1 }",
     "scenario.lua:6: a study inside a case of a study is not yet carried out by this version"},
    {"steading.site { nmae = 3 } return { x = 1 }",
     "scenario.lua:6: site.nmae: unknown field (did you mean 'name'?)"},
};

enum { BAD_ANSWERS = sizeof bad_answers / sizeof bad_answers[0] };

START_TEST(test_bad_answers) {
  const char *line = bad_answers[_i][0], *reason = bad_answers[_i][1];
  const char *quote = strchr(reason, ',') != NULL ? "\"" : "";
  char said[1024], csv[1024];
  size_t used = 0, length = (size_t)snprintf(csv, sizeof csv, "case,a,x,status\n");
  command_said run = one_axis("", line);
  for (int i = 1; i <= 3; i++) {
    used += (size_t)snprintf(said + used, sizeof said - used,
                             "steading: study 'x': case %d failed: %s\n", i, reason);
    length += (size_t)snprintf(csv + length, sizeof csv - length, "%d,%d,,%sfailed: %s%s\n", i, i,
                               quote, reason, quote);
  }
  command_check(&run, 1, "", said, line);
  check_file("x.csv", csv);
}
END_TEST

/* --- what a study is told -------------------------------------------------------------------- */

static const char *const bad_studies[][2] = {
    {"3", "study: expected a table"},
    {"{ nmae = 'x' }", "study.nmae: unknown field (did you mean 'name'?)"},
    {"{ name = 'x', colums = { 'x' } }", "study.colums: unknown field (did you mean 'columns'?)"},
    {"{ name = 'x', sample = {} }", "study.sample: not yet carried out by this version"},
    {"{ name = 'x', around = {} }", "study.around: not yet carried out by this version"},
    {"{ name = 'x', cases = 'cases.csv' }", "study.cases: not yet carried out by this version"},
    {"{ name = 3, case = print }",
     "study.name: expected a text without '/' that does not begin with a dot"},
    {"{ name = 'a/b', case = print }",
     "study.name: expected a text without '/' that does not begin with a dot"},
    {"{ name = '.x', case = print }",
     "study.name: expected a text without '/' that does not begin with a dot"},
    {"{ name = 'x' }", "study.case: expected a function"},
    {"{ name = 'x', case = print }", "study.axes: expected a list of { name, { values } }"},
    {"{ name = 'x', case = print, axes = { { 'a', {} } } }",
     "study.axes[1]: expected { name, { values } }"},
    {"{ name = 'x', case = print, axes = { { 'a', { 1 } }, { 'a', { 1 } } } }",
     "study.axes[2]: the name 'a' is used twice or reserved"},
    {"{ name = 'x', case = print, axes = { { 'case', { 1 } } } }",
     "study.axes[1]: the name 'case' is used twice or reserved"},
    {"{ name = 'x', case = print, axes = { { 'a b', { 1 } } } }",
     "study.axes[1]: 'a b' is not a name"},
    {"{ name = 'x', case = print, axes = { { 'a', { 1, {} } } } }",
     "study.axes[1]: value 2 is a table; expected a number, a text, true or false"},
    {"{ name = 'x', case = print, axes = { { 'a', { 0 / 0 } } } }",
     "study.axes[1]: value 1 is nan; expected a number, a text, true or false"},
    {"{ name = 'x', case = print, axes = { { 'a', { 1 } } } }",
     "study.columns: expected a list of the names that 'case' returns, in the order of the table"},
    {"{ name = 'x', case = print, axes = { { 'a', { 1 } } }, columns = { 'a' } }",
     "study.columns[1]: the name 'a' is used twice or reserved"},
    {"{ name = 'x', case = print, axes = { { 'a', { 1 } } }, columns = { 'status' } }",
     "study.columns[1]: the name 'status' is used twice or reserved"},
    {"{ name = 'x', case = print, axes = { { 'a', { 1 } } }, columns = { 3 } }",
     "study.columns[1]: expected a text"},
};

enum { BAD_STUDIES = sizeof bad_studies / sizeof bad_studies[0] };

START_TEST(test_bad_studies) {
  const char *given = bad_studies[_i][0];
  char script[1024], said[512];
  char *list = NULL;
  snprintf(script, sizeof script,
           "local steading = require 'steading'\nlocal _ = nil\nlocal study = steading.study(%s)\n",
           given);
  snprintf(said, sizeof said, "steading: scenario.lua:3: %s\n", bad_studies[_i][1]);
  command_said run = SCRIPT(folder, script);
  command_check(&run, 2, "", said, given);
  list = command_list(folder);
  ck_assert_str_eq(list, "base.lua scenario.lua ");
  free(list);
}
END_TEST

START_TEST(test_two_studies_of_a_name) {
  command_said run = SCRIPT(
      folder,
      "local steading = require 'steading'\n"
      "local function ask()\n"
      "  local s = steading.study { name = 'x', columns = { 'x' }, axes = { { 'a', { 1 } } },\n"
      "    case = function(c) return { x = 1 } end }\n"
      "  return s\n"
      "end\n"
      "ask()\n"
      "ask()\n");
  command_check(&run, 2, "",
                "steading: scenario.lua:3: study.name: a study named 'x' ran already in this "
                "script\n",
                "twice");
}
END_TEST

/* --- a case depends on its c alone ----------------------------------------------------------- */

START_TEST(test_outer_local) {
  command_said run = one_axis("local count = 0", "count = count + 1 return { x = count }");
  command_check(&run, 2, "",
                "steading: scenario.lua:3: study: case changes the outer local 'count': a case "
                "depends on its 'c' alone\n",
                "outer local");
  ck_assert(!command_has(folder, "x.csv"));
}
END_TEST

/* nan differs from itself: it is no change. */
START_TEST(test_outer_nan) {
  command_said run = one_axis("local worst = 0 / 0", "return { x = worst ~= worst and c.a or 0 }");
  command_check(&run, 0, "", NULL, "an outer local that is nan");
  check_file("x.csv", "case,a,x,status\n1,1,1,ok\n2,2,2,ok\n3,3,3,ok\n");
}
END_TEST

/* Every line of `text` names a case that answers differently; there is at least one. */
static void check_different(const char *text, const char *said) {
  int lines = 0;
  for (const char *at = text; *at != '\0'; lines++) {
    int number = 0, end = 0;
    ck_assert_msg(
        sscanf(at, "steading: case %d answers differently alone (%n", &number, &end) == 1 &&
            end > 0 && number >= 1 && number <= 3 && strncmp(at + end, said, strlen(said)) == 0,
        "it said: %s", text);
    at = strchr(at, '\n');
    ck_assert_ptr_nonnull(at);
    at++;
  }
  ck_assert_int_gt(lines, 0);
}

START_TEST(test_hidden_state) {
  command_said run = one_axis("local n = 0 local function helper() n = n + 1 return n end",
                              "return { x = helper() }");
  ck_assert_int_eq(run.status, 1);
  check_different(run.err, "x: ");
  /* the rows are written: what they say is for the reader to judge */
  check_file("x.csv", "case,a,x,status\n1,1,1,ok\n2,2,2,ok\n3,3,3,ok\n");
  command_free(&run);
  run =
      one_axis("local scratch = { 0 }", "scratch[1] = scratch[1] + c.a return { x = scratch[1] }");
  ck_assert_int_eq(run.status, 1);
  check_different(run.err, "x: ");
  command_free(&run);
}
END_TEST

/* A case that fails only when another ran before it. */
START_TEST(test_hidden_failure) {
  command_said run =
      one_axis("local seen = {}",
               "if seen[3] and c.a == 1 then error('after three') end seen[c.a] = true "
               "return { x = 1 }");
  ck_assert_int_eq(run.status, 1);
  ck_assert_str_eq(run.err,
                   "steading: case 1 answers differently alone: it fails: scenario.lua:6: after "
                   "three\n");
  command_free(&run);
}
END_TEST

/* A failed case stays failed for the same reason when it runs alone: that is no difference. */
START_TEST(test_same_failure) {
  command_said run = one_axis("", "error('always')");
  ck_assert_int_eq(run.status, 1);
  ck_assert_ptr_null(strstr(run.err, "differently"));
  command_free(&run);
}
END_TEST

/* The time that a script may spend in Lua counts from the last call into the engine; cases that run
 * once more in a row must not add up. 16 cases of a fifth of the limit. */
START_TEST(test_repeated_cases_do_not_add_up) {
  char script[1024];
  double begun_s = 0, spent_s = 0;
  static const char form[] =
      "local steading = require 'steading'\n"
      "local s = steading.study { name = 'x', columns = { 'x' },\n"
      "  axes = { { 'a', { 1, 2, 3, 4, 5, 6, 7, 8 } } },\n"
      "  case = function(c) local x = 0 for i = 1, %.0f do x = x + i end return { x = x } end }\n";
  snprintf(script, sizeof script, form, 1e6);
  begun_s = command_clock_s();
  command_said run = SCRIPT(folder, script);
  spent_s = (command_clock_s() - begun_s) / 16;
  command_check(&run, 0, "", NULL, "eight short cases");
  /* a limit of one second, cases of 0.3 s */
  snprintf(script, sizeof script, form, 1e6 * 0.3 / spent_s);
  setenv("STEADING_LUA_SECONDS", "1", 1);
  run = SCRIPT(folder, script);
  unsetenv("STEADING_LUA_SECONDS");
  command_check(&run, 0, "", NULL, "eight cases of 0.3 s with a limit of 1 s");
}
END_TEST

START_TEST(test_endless_case) {
  setenv("STEADING_LUA_SECONDS", "0.5", 1);
  command_said run = one_axis("", "while c.a == 2 do end return { x = c.a }");
  unsetenv("STEADING_LUA_SECONDS");
  ck_assert_int_ne(run.status, 0);
  ck_assert_int_ne(run.status, 3);
  ck_assert_msg(strstr(run.err, "in Lua without a call into the engine") != NULL, "it said: %s",
                run.err);
  command_free(&run);
}
END_TEST

START_TEST(test_coroutines_in_a_case) {
  command_said run = SCRIPT(
      folder,
      "local steading = require 'steading'\n"
      "local base = require 'base' ()\n"
      "base.site.weather = steading.weather.synthesize(base.climate)\n"
      "base.site.meters.yard.export_limit_kw = 0\n"
      "local site = steading.site(base.site)\n"
      "local study = steading.study { name = 'x', columns = { 'x', 'same' },\n"
      "  axes = { { 'a', { 1, 2, 3 } } },\n"
      "  case = function(c)\n"
      "    local changed = site:with { ['hubs.barn.battery.lots[1].count'] = c.a }\n"
      "    local runs = coroutine.wrap(function()\n"
      "      for _ = 1, 3 do coroutine.yield(changed:simulate { years = 1 }) end\n"
      "    end)\n"
      "    local first, second = runs().totals.grid_import_kwh, runs().totals.grid_import_kwh\n"
      "    return { x = c.a, same = first == second and first == changed:simulate { years = 1 "
      "}.totals.grid_import_kwh }\n"
      "  end }\n"
      "study.rows:write('x.csv')\n");
  command_check(&run, 0, "", NULL, "coroutines");
  check_file("x.csv", "case,a,x,same,status\n1,1,1,true,ok\n2,2,2,true,ok\n3,3,3,true,ok\n");
}
END_TEST

START_TEST(test_random_of_a_case) {
  char *first = NULL, *second = NULL;
  double x[3] = {0};
  for (int i = 0; i < 2; i++) {
    command_said run =
        one_axis(i == 0 ? "" : "for i = 1, 5 do math.random() end", "return { x = math.random() }");
    command_check(&run, 0, "", NULL, "random");
    if (i == 0) first = command_read(folder, "x.csv");
  }
  second = command_read(folder, "x.csv");
  /* draws before the study do not reach its cases */
  ck_assert_str_eq(first, second);
  ck_assert_int_eq(
      sscanf(first, "case,a,x,status\n1,1,%lf,ok\n2,2,%lf,ok\n3,3,%lf,ok\n", &x[0], &x[1], &x[2]),
      3);
  for (int i = 0; i < 3; i++) ck_assert(x[i] > 0 && x[i] < 1);
  ck_assert(x[0] != x[1] && x[1] != x[2] && x[0] != x[2]);
  free(first);
  free(second);
}
END_TEST

/* --- check ----------------------------------------------------------------------------------- */

START_TEST(test_check_runs_the_first_case) {
  char *list = NULL;
  command_said run;
  command_write(folder, "scenario.lua",
                "local steading = require 'steading'\n"
                "local study = steading.study { name = 'x', columns = { 'x' },\n"
                "  axes = { { 'a', { 1, 2, 3 } } },\n"
                "  case = function(c) print('case', c.case) return { x = c.a } end }\n"
                "study.rows:write('x.csv')\n"
                "print(#study.rows)\n");
  run = COMMAND(folder, "check", "scenario.lua");
  command_check(&run, 0, "case\t1\n1\n", NULL, "check");
  list = command_list(folder);
  ck_assert_str_eq(list, "base.lua scenario.lua ");
  free(list);
}
END_TEST

/* --- going on -------------------------------------------------------------------------------- */

static const char resumable[] =
    "local steading = require 'steading'\n"
    "local args = steading.args { stop = 0, file = '', size = 1 }\n"
    "if args.file ~= '' then steading.weather.read(args.file) end\n"
    "local study = steading.study { name = 'x', columns = { 'x' },\n"
    "  axes = { { 'a', { 1, 2, 3 } } },\n"
    "  case = function(c) print('case', c.case) return { x = c.a * args.size } end }\n"
    "study.rows:write('x.csv')\n";

static const char changed_begin[] =
    "steading: scenario.lua:4: x.journal: the script, its inputs or arguments, the version or the "
    "machine changed since this journal was begun (it has '";

static void check_refused(command_said *run, const char *what) {
  static const char end[] = "'); start afresh without --resume\n";
  ck_assert_msg(run->status == 2, "%s: exit status %d", what, run->status);
  ck_assert_str_eq(run->out, "");
  ck_assert_msg(strncmp(run->err, changed_begin, sizeof changed_begin - 1) == 0, "%s: it said: %s",
                what, run->err);
  ck_assert_msg(strcmp(run->err + run->err_length - (sizeof end - 1), end) == 0, "%s: it said: %s",
                what, run->err);
  command_free(run);
}

START_TEST(test_resume) {
  char text[sizeof resumable + 16];
  command_said run = SCRIPT(folder, resumable);
  command_check(&run, 0, "case\t1\ncase\t2\ncase\t3\n", NULL, "first");
  /* every case is done: none runs */
  run = SCRIPT(folder, resumable, "--resume");
  command_check(&run, 0, "", NULL, "resumed");
  check_file("x.csv", "case,a,x,status\n1,1,1,ok\n2,2,2,ok\n3,3,3,ok\n");
  run = SCRIPT(folder, resumable, "--resume", "--set", "size=2");
  check_refused(&run, "a changed argument");
  check_file("x.csv", "case,a,x,status\n1,1,1,ok\n2,2,2,ok\n3,3,3,ok\n");
  snprintf(text, sizeof text, "%s-- more\n", resumable);
  run = SCRIPT(folder, text, "--resume");
  check_refused(&run, "a changed script");
  /* what was refused is still there to go on with */
  run = SCRIPT(folder, resumable, "--resume");
  command_check(&run, 0, "", NULL, "resumed again");
  run = SCRIPT(folder, text);
  command_check(&run, 0, "case\t1\ncase\t2\ncase\t3\n", NULL, "afresh");
  run = SCRIPT(folder, text, "--set", "size=2");
  command_check(&run, 0, "case\t1\ncase\t2\ncase\t3\n", NULL, "afresh with another argument");
  check_file("x.csv", "case,a,x,status\n1,1,2,ok\n2,2,4,ok\n3,3,6,ok\n");
}
END_TEST

START_TEST(test_resume_without_a_journal) {
  command_said run = SCRIPT(folder, resumable, "--resume");
  command_check(&run, 0, "case\t1\ncase\t2\ncase\t3\n", NULL, "nothing to go on with");
}
END_TEST

START_TEST(test_resume_with_a_changed_module) {
  static const char script[] =
      "local steading = require 'steading'\n"
      "local helper = require 'helper'\n"
      "\n"
      "local study = steading.study { name = 'x', columns = { 'x' }, axes = { { 'a', { 1 } } },\n"
      "  case = function(c) return { x = helper } end }\n";
  command_write(folder, "helper.lua", "return 1\n");
  command_said run = SCRIPT(folder, script);
  command_check(&run, 0, "", NULL, "first");
  command_write(folder, "helper.lua", "return 2\n");
  run = SCRIPT(folder, script, "--resume");
  check_refused(&run, "a changed module");
}
END_TEST

START_TEST(test_resume_with_a_changed_input) {
  const char *data = getenv("DATA");
  char from[FILE_PATH_SIZE], *text = NULL, *line = NULL;
  if (data == NULL) {
    fprintf(stderr, "skipped: a study with a changed weather file needs DATA\n");
    return;
  }
  snprintf(from, sizeof from, "%s/weather", data);
  if (!command_has(from, "ETH_Addis.Ababa-Bole.634500_SWERA.epw")) {
    fprintf(stderr, "skipped: ETH_Addis.Ababa-Bole.634500_SWERA.epw is not in DATA\n");
    return;
  }
  text = command_read(from, "ETH_Addis.Ababa-Bole.634500_SWERA.epw");
  command_write(folder, "w.epw", text);
  command_said run = SCRIPT(folder, resumable, "--set", "file=w.epw");
  command_check(&run, 0, "case\t1\ncase\t2\ncase\t3\n", NULL, "first");
  line = strstr(text, "COMMENTS 1,"); /* a change that no number follows from */
  ck_assert_ptr_nonnull(line);
  line[11] = line[11] == 'x' ? 'y' : 'x';
  command_write(folder, "w.epw", text);
  run = SCRIPT(folder, resumable, "--set", "file=w.epw", "--resume");
  check_refused(&run, "a changed weather file");
  free(text);
}
END_TEST

/* A seed that follows the clock is part of what rows follow from. */
START_TEST(test_resume_with_another_seed) {
  static const char script[] =
      "local steading = require 'steading'\n"
      "math.randomseed(os.time())\n"
      "\n"
      "local study = steading.study { name = 'x', columns = { 'x' }, axes = { { 'a', { 1 } } },\n"
      "  case = function(c) return { x = math.random() } end }\n";
  command_said run = SCRIPT(folder, script);
  command_check(&run, 0, "", NULL, "first");
  nanosleep(&(struct timespec){.tv_sec = 1, .tv_nsec = 100000000}, NULL);
  run = SCRIPT(folder, script, "--resume");
  check_refused(&run, "another seed");
}
END_TEST

START_TEST(test_resume_keeps_failures) {
  static const char script[] =
      "local steading = require 'steading'\n"
      "local study = steading.study { name = 'x', columns = { 'x' }, axes = { { 'a', { 1, 2 } } "
      "},\n"
      "  case = function(c) if c.a == 2 then error('no, \"never\"\\n twice', 0) end return { x = 1 "
      "} "
      "end }\n"
      "study.rows:write('x.csv')\n";
  static const char csv[] =
      "case,a,x,status\n1,1,1,ok\n2,2,,\"failed: no, \"\"never\"\"\n twice\"\n";
  static const char said[] = "steading: study 'x': case 2 failed: no, \"never\"\n twice\n";
  command_said run = SCRIPT(folder, script);
  command_check(&run, 1, "", said, "first");
  check_file("x.csv", csv);
  run = SCRIPT(folder, script, "--resume");
  command_check(&run, 1, "", said, "resumed");
  check_file("x.csv", csv);
}
END_TEST

/* --- killed ---------------------------------------------------------------------------------- */

static uint32_t dice = 12345; /* Numerical Recipes' quick generator: only its spread matters */

static double roll(void) {
  dice = 1664525u * dice + 1013904223u;
  return (dice >> 8) / 16777216.0;
}

static double run_long(const char *in, const char *work, char **csv) {
  const char *arguments[] = {"run", "long.lua", "--out", in, "--set", work, NULL};
  command_said run = command_do(folder, arguments);
  double seconds = run.seconds;
  char name[FILE_PATH_SIZE];
  ck_assert_msg(run.status == 1, "exit status %d: %s", run.status, run.err);
  command_free(&run);
  snprintf(name, sizeof name, "%s/long.csv", in);
  *csv = command_read(folder, name);
  return seconds;
}

/* Cut up to 40 bytes off the journal's end, as a torn write leaves it; never the header. */
static void tear(const char *in) {
  char path[2 * FILE_PATH_SIZE], *text = NULL, name[FILE_PATH_SIZE];
  size_t length = 0, header = 0;
  snprintf(name, sizeof name, "%s/long.journal", in);
  if (!command_has(folder, name)) return;
  text = command_read(folder, name);
  length = strlen(text);
  header = strcspn(text, "\n") + 1;
  free(text);
  if (length <= header + 40) return;
  snprintf(path, sizeof path, "%s/%s", folder, name);
  ck_assert_int_eq(truncate(path, (off_t)(length - (size_t)(40 * roll()))), 0);
}

/* Killed 20 times at random moments, some after the journal's last line was torn: each time a study
 * gets to its end its rows are those of a study that nobody disturbed. */
START_TEST(test_killed) {
  char work[40], *expected = NULL, *csv = NULL;
  double seconds = 0;
  int kills = 0, ends = 0;
  command_fixture(folder, "study_long.lua");
  char from[FILE_PATH_SIZE], to[FILE_PATH_SIZE];
  ck_assert_int_eq(
      rename(folder_path(folder, "study_long.lua", from), folder_path(folder, "long.lua", to)), 0);
  /* as much work as takes a second here */
  expected = NULL;
  for (double rounds = 200000; seconds < 1; rounds *= 1.5) {
    free(expected);
    snprintf(work, sizeof work, "work=%.0f", rounds);
    seconds = run_long("whole", work, &expected);
  }
  for (int chain = 1; kills < 20; chain++) {
    char in[40];
    snprintf(in, sizeof in, "chain%d", chain);
    for (bool ended = false; !ended;) {
      const char *arguments[] = {"run", "long.lua", "--out", in, "--set", work, "--resume", NULL};
      command_run run = command_start(folder, arguments);
      command_said said =
          command_finish(&run, kills < 20 ? seconds * (0.02 + 0.3 * roll()) : COMMAND_SECONDS);
      ended = !said.timed_out || said.status != 128 + SIGKILL;
      ck_assert_msg(!ended || said.status == 1, "exit status %d: %s", said.status, said.err);
      if (!ended) kills++;
      if (!ended && roll() < 0.3) tear(in);
      command_free(&said);
    }
    snprintf(in, sizeof in, "chain%d/long.csv", chain);
    csv = command_read(folder, in);
    ck_assert_msg(strcmp(csv, expected) == 0, "after %d kills the rows are\n%s\nexpected\n%s",
                  kills, csv, expected);
    free(csv);
    ends++;
  }
  ck_assert_int_ge(ends, 1);
  free(expected);
}
END_TEST

/* A second run of the same study into the same folder is refused while the first is at work. */
START_TEST(test_two_at_once) {
  command_fixture(folder, "study_long.lua");
  const char *arguments[] = {"run", "study_long.lua", "--set", "work=3000000", NULL};
  command_run first = command_start(folder, arguments);
  for (int i = 0; i < 2000 && !command_has(folder, "long.journal"); i++)
    nanosleep(&(struct timespec){.tv_nsec = 5000000}, NULL);
  nanosleep(&(struct timespec){.tv_nsec = 50000000}, NULL);
  command_said second = command_do(folder, arguments);
  command_check(&second, 2, "",
                "steading: study_long.lua:16: long.journal: another process is writing this "
                "journal\n",
                "second");
  command_said ended = command_finish(&first, 0);
  ck_assert_int_eq(ended.status, 128 + SIGKILL);
  command_free(&ended);
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

static void add(Suite *suite, const char *name, const TTest *test) {
  add_rows(suite, name, test, 1);
}

Suite *study_runs_suite(void) {
  Suite *suite = suite_create("study_runs");
  add(suite, "rows have case, axes with the last fastest, columns in order, status", test_rows);
  add(suite, "a failed case is a row with its reason, and exit status 1", test_failed_case);
  add_rows(suite, "what is no row is refused with the reason", test_bad_answers, BAD_ANSWERS);
  add_rows(suite, "a study that is badly described is refused at its line", test_bad_studies,
           BAD_STUDIES);
  add(suite, "two studies of one name are refused", test_two_studies_of_a_name);
  add(suite, "a case that changes an outer local is refused by the local's name", test_outer_local);
  add(suite, "an outer local that is nan is no change", test_outer_nan);
  add(suite, "state kept beyond a case is found by running cases again", test_hidden_state);
  add(suite, "a failure that depends on earlier cases is found", test_hidden_failure);
  add(suite, "a case that always fails is not different", test_same_failure);
  add(suite, "cases that run once more do not add up to the time limit",
      test_repeated_cases_do_not_add_up);
  add(suite, "an endless case ends", test_endless_case);
  add(suite, "coroutines of its own work in a case", test_coroutines_in_a_case);
  add(suite, "math.random in a case is the case's own stream", test_random_of_a_case);
  add(suite, "check runs the first case and writes nothing", test_check_runs_the_first_case);
  add(suite, "--resume goes on with the same study and refuses another", test_resume);
  add(suite, "--resume without a journal begins", test_resume_without_a_journal);
  add(suite, "--resume refuses a changed module", test_resume_with_a_changed_module);
  add(suite, "--resume refuses a changed input", test_resume_with_a_changed_input);
  add(suite, "--resume refuses another random seed", test_resume_with_another_seed);
  add(suite, "--resume keeps failed cases as they failed", test_resume_keeps_failures);
  add(suite, "a study killed at random goes on to the same bytes", test_killed);
  add(suite, "a second run of a study at work is refused", test_two_at_once);
  return suite;
}
