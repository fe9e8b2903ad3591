/* The environment of scripts: what is there, in which order, and what ends a script that runs
 * away. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
}

static void teardown(void) { folder_remove(folder); }

static void check_script(const char *text, int status, const char *out, const char *err) {
  command_said run = SCRIPT(folder, text);
  command_check(&run, status, out, err, text);
}

/* --- names ----------------------------------------------------------------------------------- */

typedef struct row {
  const char *script, *said; /* behind 'steading: scenario.lua:1: ' */
} row;

static const row refused[] = {
    {"modules = 8", "the name 'modules' is not declared: write 'local' before it"},
    {"print = nil", "the name 'print' is not declared: write 'local' before it"},
    {"function size() end", "the name 'size' is not declared: write 'local' before it"},
    {"prnt(1)", "the name 'prnt' is not declared (did you mean 'print'?)"},
    {"local x = modules", "the name 'modules' is not declared"},
    {"math.pi = 3", "math.pi: cannot be changed: it is read-only"},
    {"string.foo = 3", "string.foo: cannot be changed: it is read-only"},
    {"local x = math.sine(1)", "math.sine: unknown field (did you mean 'sin'?)"},
    {"local x = table.concatenate", "table.concatenate: unknown field"},
    {"local x = string.dump", "string.dump: unknown field"},
    {"local x = os.execute('true')", "os.execute: unknown field"},
    {"local x = os.exit()", "os.exit: unknown field"},
    {"local x = os.getenv('HOME')", "os.getenv: unknown field"},
    {"local x = require 'steading'.vresion",
     "steading.vresion: unknown field (did you mean 'version'?)"},
    {"require 'steading'.version = 3", "steading.version: cannot be changed: it is read-only"},
    {"setmetatable({}, { __gc = print })", "setmetatable: __gc is not available to scripts"},
    {"math.random(2, 1)", "bad argument #2 to 'random' (interval is empty)"},
    {"require '../base'", "require: expected a plain name of a file beside the script"},
    {"require '/etc/passwd'", "require: expected a plain name of a file beside the script"},
    {"require 'base.lua'", "require: expected a plain name of a file beside the script"},
    {"require(3)", "require: expected a plain name of a file beside the script"},
    {"require 'bsae'", "require: ./bsae.lua: there is no such file (did you mean 'base.lua'?)"},
    {"for k in pairs(nil) do end", "bad argument #1 to 'pairs' (table expected, got nil)"},
    {"for k in pairs({ [print] = 1 }) do end",
     "the keys of this table include a function, which has no order that stays the same from run "
     "to run"},
};

enum { REFUSED = sizeof refused / sizeof refused[0] };

START_TEST(test_refused) {
  char said[512];
  snprintf(said, sizeof said, "steading: scenario.lua:1: %s\n", refused[_i].said);
  check_script(refused[_i].script, 2, "", said);
}
END_TEST

/* What reaches files, other processes, raw metatables or code in texts is not there under any
 * name. */
START_TEST(test_what_is_not_there) {
  static const char *const names[] = {
      "io",     "load",   "loadstring",   "loadfile", "dofile",         "debug", "package",
      "rawset", "rawget", "getmetatable", "xpcall",   "collectgarbage", "_G",    "module"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    char script[128];
    snprintf(script, sizeof script, "local x = %s", names[i]);
    command_said run = SCRIPT(folder, script);
    char said[128];
    ck_assert_msg(run.status == 2, "%s: exit status %d", names[i], run.status);
    snprintf(said, sizeof said, "steading: scenario.lua:1: the name '%s' is not declared",
             names[i]);
    ck_assert_msg(strncmp(run.err, said, strlen(said)) == 0, "%s: it said: %s", names[i], run.err);
    command_free(&run);
  }
}
END_TEST

/* Methods of texts are those of `string`: no more (dump), and a misspelt one has its nearest. */
START_TEST(test_methods_of_texts) {
  check_script("print(('abc'):upper(), ('%d'):format(3), ('ab'):rep(2))", 0, "ABC\t3\tabab\n",
               NULL);
  check_script("print(pcall(function() return ('').dump end))", 0,
               "false\tscenario.lua:1: string.dump: unknown field\n", NULL);
  check_script("print(('abc'):uper())", 2, "",
               "steading: scenario.lua:1: string.uper: unknown field (did you mean 'upper'?)\n");
}
END_TEST

START_TEST(test_a_script_may_have_its_own_environment) {
  check_script("local print = print\nlocal _ENV = { x = 3 }\ny = x\nprint(y)\n", 0, "3\n", NULL);
}
END_TEST

/* --- order ----------------------------------------------------------------------------------- */

static const char ordered[] =
    "local t = { 'one', 'two', z = 1, a = 2, m = 3, [10] = 'ten', [-1] = 'minus', [2.5] = 'half', "
    "[true] = 'yes', [false] = 'no', [3] = 'three', ['10'] = 'text' }\n"
    "for k, v in pairs(t) do print(k, v) end\n"
    "print '-'\n"
    "local k, v = next(t)\n"
    "while k ~= nil do print(k, v) k, v = next(t, k) end\n"
    "print '-'\n"
    "local many = {}\n"
    "for i = 1, 200 do many['key' .. (i * 7919) % 200] = i end\n"
    "local words = {}\n"
    "for key in pairs(many) do words[#words + 1] = key end\n"
    "print(#words, table.concat(words, ' ', 1, 6), next({}))\n";

START_TEST(test_order) {
  static const char block[] =
      "1\tone\n2\ttwo\n3\tthree\nfalse\tno\ntrue\tyes\n-1\tminus\n2.5\thalf\n10\tten\n10\ttext\n"
      "a\t2\nm\t3\nz\t1\n";
  char out[1024];
  snprintf(out, sizeof out, "%s-\n%s-\n200\tkey0 key1 key10 key100 key101 key102\tnil\n", block,
           block);
  for (int i = 0; i < 20; i++) {
    command_said run = SCRIPT(folder, ordered);
    command_check(&run, 0, out, NULL, "order");
  }
}
END_TEST

/* Keys taken away while pairs runs are not visited, values changed are. */
START_TEST(test_order_of_a_changing_table) {
  check_script(
      "local t = { a = 1, b = 2, c = 3, d = 4 }\n"
      "for k, v in pairs(t) do print(k, v) t.b = nil t.c = 30 t[k] = nil end\n"
      "print(next(t))\n",
      0, "a\t1\nc\t30\nd\t4\nc\t30\n", NULL);
}
END_TEST

START_TEST(test_order_of_read_only_tables) {
  check_script(
      "local args = require 'steading'.args { rise = 1, modules = 2 }\n"
      "for k, v in pairs(args) do print(k, v) end\n"
      "print(next(args))\n"
      "local n = 0 for _ in pairs(math) do n = n + 1 end print(n > 20)\n",
      0, "modules\t2\nrise\t1\nmodules\t2\ntrue\n", NULL);
}
END_TEST

START_TEST(test_pairs_metamethod) {
  check_script(
      "local t = setmetatable({}, { __pairs = function(t) return function(_, k) if not k then "
      "return 1, 'x' end end, t, nil end })\n"
      "for k, v in pairs(t) do print(k, v) end\n",
      0, "1\tx\n", NULL);
}
END_TEST

/* --- random ---------------------------------------------------------------------------------- */

START_TEST(test_random_repeats) {
  static const char script[] =
      "for i = 1, 5 do print(math.random(), math.random(6), math.random(-3, 3)) end\n"
      "print(math.random(0) ~= math.random(0))\n"
      "math.randomseed(7) local a = math.random() math.randomseed(7) print(a == math.random())\n"
      "math.randomseed(8) print(a == math.random())\n"
      "local low, high, counts = 1, 0, { 0, 0, 0 }\n"
      "for i = 1, 3000 do\n"
      "  local x = math.random() low, high = math.min(low, x), math.max(high, x)\n"
      "  local k = math.random(3) counts[k] = counts[k] + 1\n"
      "end\n"
      /* 3000 draws: 1000 of each kind, give or take six standard deviations of 25.8 */
      "print(low > 0 and low < 0.01, high < 1 and high > 0.99, counts[1] > 845 and counts[1] < "
      "1155,\n"
      "  counts[2] > 845 and counts[2] < 1155, counts[3] > 845 and counts[3] < 1155)\n"
      "print(math.random(math.mininteger, math.maxinteger) ~= nil, math.random(5, 5))\n";
  static const char end[] = "true\ntrue\nfalse\ntrue\ttrue\ttrue\ttrue\ttrue\ntrue\t5\n";
  command_said first = SCRIPT(folder, script), second = SCRIPT(folder, script);
  ck_assert_int_eq(first.status, 0);
  ck_assert_str_eq(first.out, second.out);
  ck_assert_msg(first.out_length > sizeof end &&
                    strcmp(first.out + first.out_length - sizeof end + 1, end) == 0,
                "it printed %s", first.out);
  command_free(&first);
  command_free(&second);
}
END_TEST

/* os.time, os.clock and os.date say the present; what they do not carry out they refuse. */
START_TEST(test_clock) {
  command_said run = SCRIPT(folder,
                            "local t = os.time() print(math.type(t), t > 1600000000)\n"
                            "print(os.clock() >= 0, #os.date() > 0)\n");
  command_check(&run, 0, "integer\ttrue\ntrue\ttrue\n", NULL, "clock");
  run = SCRIPT(folder, "print(os.time { year = 2000, month = 1, day = 1, hour = 12 })");
  ck_assert_msg(run.status == 2 || strcmp(run.out, "946728000\n") == 0,
                "os.time drops what it was given: %s", run.out);
  command_free(&run);
  run = SCRIPT(folder, "print(os.date('%Y', 0))");
  ck_assert_msg(run.status == 2 || strcmp(run.out, "1970\n") == 0,
                "os.date drops what it was given: %s", run.out);
  command_free(&run);
}
END_TEST

/* --- texts ----------------------------------------------------------------------------------- */

START_TEST(test_no_addresses) {
  static const char *const scripts[] = {
      "print({}, print, coroutine.create(print), function() end, coroutine.wrap(print))",
      "print(tostring({}), tostring(math), require 'steading')",
      "print(string.format('%s', {}))",
      "print(('%s %s'):format({}, print))",
      "print(pcall(string.format, '%p', {}))",
      "print(pcall(error, {}))",
      "print(select(2, pcall(function() return math[{}] end)))",
      "print(setmetatable({}, { __name = 'thing' }))",
      "local s = require 'steading' print(s.none, s.weather.synthesize(require 'base' ().climate))",
      "error({})",
  };
  for (size_t i = 0; i < sizeof scripts / sizeof scripts[0]; i++) {
    command_said run = SCRIPT(folder, scripts[i]);
    ck_assert_msg(strstr(run.out, "0x") == NULL && strstr(run.err, "0x") == NULL,
                  "%s: an address, which differs from run to run, is in: %s%s", scripts[i], run.out,
                  run.err);
    command_free(&run);
  }
  check_script("print({}, print, setmetatable({}, { __name = 'thing' }), nil, true, 3, 3.0, 'x')",
               0, "table\tfunction\tthing\tnil\ttrue\t3\t3.0\tx\n", NULL);
  check_script("print(setmetatable({}, { __tostring = function() return 'spoken' end }))", 0,
               "spoken\n", NULL);
  check_script("print()", 0, "\n", NULL);
}
END_TEST

START_TEST(test_print_is_exact) {
  command_said run = SCRIPT(folder, "print('a\\0b', 1e300, -0.0, 2^53, 1/0 == math.huge)");
  ck_assert_int_eq(run.status, 0);
  ck_assert_uint_eq(run.out_length, strlen("a.b\t1e+300\t-0.0\t9.007199254741e+15\ttrue\n"));
  ck_assert_mem_eq(run.out, "a\0b\t1e+300\t-0.0\t9.007199254741e+15\ttrue\n", run.out_length);
  command_free(&run);
}
END_TEST

/* --- chunks and modules ---------------------------------------------------------------------- */

/* The header of a chunk that luac 5.4 makes: signature, version, format (Lua 5.4, lundump.h). */
static const char compiled[] = "\x1bLua\x54";

START_TEST(test_text_only) {
  check_script(compiled, 2, "", "steading: attempt to load a binary chunk (mode is 't')\n");
  command_write(folder, "compiled.lua", compiled);
  check_script("require 'compiled'", 2, "",
               "steading: scenario.lua:1: attempt to load a binary chunk (mode is 't')\n");
}
END_TEST

START_TEST(test_modules) {
  command_write(folder, "once.lua", "print('loaded', ...) return { 3 }\n");
  command_write(folder, "silent.lua", "local x = 1\n");
  command_write(folder, "empty.lua", "");
  check_script(
      "local a, b = require 'once', require 'once' print(a == b, a[1], require 'silent', "
      "require 'empty')",
      0, "loaded\tonce\ntrue\t3\ttrue\ttrue\n", NULL);
  command_write(folder, "a.lua", "return require 'b'\n");
  command_write(folder, "b.lua", "local a = require 'a'\nreturn a\n");
  check_script("require 'a'", 2, "", "steading: ./b.lua:1: require: 'a' requires itself\n");
  command_write(folder, "broken.lua", "local x =\n");
  check_script("require 'broken'", 2, "",
               "steading: scenario.lua:1: ./broken.lua:2: unexpected symbol near <eof>\n");
  command_write(folder, "late.lua", "local x = 1\nerror('no')\n");
  check_script("require 'late'", 2, "", "steading: ./late.lua:2: no\n");
  command_write(folder, "global.lua", "count = 1\n");
  check_script(
      "require 'global'", 2, "",
      "steading: ./global.lua:1: the name 'count' is not declared: write 'local' before it\n");
}
END_TEST

/* A module that raised is tried again; it is not taken for one that requires itself. */
START_TEST(test_module_that_failed) {
  command_write(folder, "late.lua", "error('no', 0)\n");
  check_script("print(pcall(require, 'late')) print(pcall(require, 'late'))", 0,
               "false\tno\nfalse\tno\n", NULL);
}
END_TEST

/* Modules lie beside the script, wherever the command is run. */
START_TEST(test_module_beside_the_script) {
  char path[FILE_PATH_SIZE];
  ck_assert_int_eq(mkdir(folder_path(folder, "farm", path), 0777), 0);
  command_write(path, "scenario.lua", "print(require 'prices')\n");
  command_write(path, "prices.lua", "return 3\n");
  command_write(folder, "prices.lua", "return 4\n");
  command_said run = COMMAND(folder, "run", "farm/scenario.lua");
  command_check(&run, 0, "3\n", NULL, "beside the script");
}
END_TEST

START_TEST(test_a_file_called_steading) {
  command_write(folder, "steading.lua", "return 'no'\n");
  check_script("print(require 'steading'.version ~= nil)", 0, "true\n", NULL);
}
END_TEST

START_TEST(test_first_line_of_a_program) {
  check_script("#!/usr/bin/env steading\nprint 'ran'\n", 0, "ran\n", NULL);
}
END_TEST

/* --- memory ---------------------------------------------------------------------------------- */

START_TEST(test_memory) {
  static const char *const scripts[] = {
      "local x = ('x'):rep(1 << 20):rep(1500)",
      "local t = {} for i = 1, 1e9 do t[i] = i end",
  };
  for (size_t i = 0; i < sizeof scripts / sizeof scripts[0]; i++)
    check_script(scripts[i], 2, "", "steading: not enough memory\n");
}
END_TEST

START_TEST(test_memory_is_given_back) {
  check_script(
      "local block = ('x'):rep(1 << 20)\n"
      "for i = 1, 2 do print(#block:rep(300)) end\n"
      "print(pcall(block.rep, block, 1500))\n"
      "print 'goes on'\n",
      0, "314572800\n314572800\nfalse\tnot enough memory\ngoes on\n", NULL);
}
END_TEST

START_TEST(test_deep_recursion) {
  command_said run = SCRIPT(folder, "local function f() return 1 + f() end\nf()\n");
  ck_assert_int_eq(run.status, 2);
  ck_assert_msg(strncmp(run.err, "steading: scenario.lua:1: stack overflow", 40) == 0,
                "it said: %s", run.err);
  command_free(&run);
}
END_TEST

/* --- the alarm ------------------------------------------------------------------------------- */

static const char *const endless[] = {
    "while true do end",
    "while true do pcall(function() while true do end end) end",
    "local function f() pcall(f) end while true do f() end",
    "local f = coroutine.wrap(function() while true do end end) f()",
    "while true do coroutine.wrap(function() pcall(function() while true do end end) end)() end",
    "local s = ('a'):rep(60) s:find(('a*'):rep(30) .. 'b')",
    "goto again ::again:: goto again",
};

enum { ENDLESS = sizeof endless / sizeof endless[0] };

START_TEST(test_endless) {
  char script[512];
  setenv("STEADING_LUA_SECONDS", "0.5", 1);
  snprintf(script, sizeof script, "print 'before'\n%s\n", endless[_i]);
  command_said run = SCRIPT(folder, script);
  unsetenv("STEADING_LUA_SECONDS");
  ck_assert_msg(run.status == 2, "%s: exit status %d", endless[_i], run.status);
  ck_assert_msg(strncmp(run.err, "steading: scenario.lua:", 23) == 0, "%s: it said: %s",
                endless[_i], run.err);
  ck_assert_msg(strstr(run.err, "0.5 s in Lua without a call into the engine\n") != NULL,
                "%s: it said: %s", endless[_i], run.err);
  /* what was printed before is not lost */
  ck_assert_msg(strcmp(run.out, "before\n") == 0, "%s: it printed: %s", endless[_i], run.out);
  ck_assert_msg(run.seconds < 30 * TIMES_SLOWER, "%s: it took %g s", endless[_i], run.seconds);
  command_free(&run);
}
END_TEST

/* Time in the engine does not count, in one long call or in many short ones. The work is measured
 * by the clock, not by a count of years: more in all than three times the limit of 0.25 s, and more
 * than it in one call, however fast or slow the build is. */
START_TEST(test_long_engine_calls) {
  static const char script[] =
      "local steading = require 'steading'\n"
      "local base = require 'base' ()\n"
      "base.site.weather = steading.weather.synthesize(base.climate)\n"
      "base.site.meters.yard.export_limit_kw = 0\n"
      "local site = steading.site(base.site)\n"
      "local begun, years, longest = os.clock(), 25, 0\n"
      "repeat\n"
      "  local before = os.clock()\n"
      "  site:simulate { years = years, step_minutes = 5 }\n"
      "  longest, years = os.clock() - before, 2 * years\n"
      "until longest > 0.4\n"
      "local tilt = 0\n"
      "repeat\n"
      "  tilt = tilt + 1\n"
      "  site:with { ['hubs.barn.arrays[1].tilt_deg'] = tilt % 90 }:simulate { years = 10 }\n"
      "until os.clock() - begun > longest + 1\n"
      "print(tilt > 3)\n";
  setenv("STEADING_LUA_SECONDS", "0.25", 1);
  command_said run = SCRIPT(folder, script);
  unsetenv("STEADING_LUA_SECONDS");
  ck_assert_msg(run.seconds > 1.4, "it took %g s only", run.seconds);
  command_check(&run, 0, "true\n", NULL, "long calls");
}
END_TEST

/* A limit that is no number of seconds is not taken for one. */
START_TEST(test_limit_is_checked) {
  setenv("STEADING_LUA_SECONDS", "soon", 1);
  check_script("print 'not run'", 2, "",
               "steading: STEADING_LUA_SECONDS=soon: expected seconds, 0.25 to 86400\n");
  unsetenv("STEADING_LUA_SECONDS");
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

static void add(Suite *suite, const char *name, const TTest *test) {
  add_rows(suite, name, test, 1);
}

Suite *environment_suite(void) {
  Suite *suite = suite_create("environment");
  add_rows(suite, "names are read-only and a misspelt one has its nearest", test_refused, REFUSED);
  add(suite, "what reaches files, processes or code in texts is not there", test_what_is_not_there);
  add(suite, "methods of texts are those of string", test_methods_of_texts);
  add(suite, "a script may have its own environment", test_a_script_may_have_its_own_environment);
  add(suite, "pairs and next visit lists, then keys by type and value, in 20 processes",
      test_order);
  add(suite, "pairs over a table that changes", test_order_of_a_changing_table);
  add(suite, "pairs and next over read-only tables", test_order_of_read_only_tables);
  add(suite, "pairs follows __pairs", test_pairs_metamethod);
  add(suite, "math.random is the same in two runs and spread evenly", test_random_repeats);
  add(suite, "os tells the present and refuses what it would drop", test_clock);
  add(suite, "no text shows an address", test_no_addresses);
  add(suite, "print writes every byte", test_print_is_exact);
  add(suite, "a precompiled chunk is refused as script and as module", test_text_only);
  add(suite, "modules are loaded once, and errors in them name them", test_modules);
  add(suite, "a module that failed fails again for the same reason", test_module_that_failed);
  add(suite, "modules lie beside the script", test_module_beside_the_script);
  add(suite, "require steading is the library whatever lies beside", test_a_file_called_steading);
  add(suite, "a script may begin like a program", test_first_line_of_a_program);
  add(suite, "a script that takes all memory ends cleanly", test_memory);
  add(suite, "memory that was given back can be used again", test_memory_is_given_back);
  add(suite, "recursion without end is an error", test_deep_recursion);
  add_rows(suite, "a script that runs away is stopped, and says where", test_endless, ENDLESS);
  add(suite, "time in the engine does not count", test_long_engine_calls);
  add(suite, "a time limit that is no number is not taken", test_limit_is_checked);
  return suite;
}
