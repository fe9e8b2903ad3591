/* The command: its options, its exit statuses, and the files that it leaves. */
#include <dirent.h>
#include <fcntl.h>
#include <ftw.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "command.h"
#include "files/folder.h"
#include "readback.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
}

static void teardown(void) { folder_remove(folder); }

#define DO(...) command_do(folder, (const char *const[]){__VA_ARGS__, NULL})

static const char usage[] =
    "usage: steading run SCRIPT [--out DIR] [--resume] [--set name=value ...]\n"
    "       steading check SCRIPT [--strict] [--set name=value ...]\n"
    "       steading help [TOPIC | SCRIPT]\n"
    "       steading --version\n";

static const char writes_one[] =
    "local steading = require 'steading'\n"
    "local f = steading.frame { columns = { 'a', 'b' }, rows = { { a = 1, b = 'x' } } }\n"
    "f:write('one.csv')\n"
    "print 'done'\n";

static void check_list(const char *path, const char *expected) {
  char *list = command_list(path);
  ck_assert_str_eq(list, expected);
  free(list);
}

/* --- help ------------------------------------------------------------------------------------ */

START_TEST(test_usage) {
  command_said run = command_do(folder, (const char *const[]){NULL});
  char said[1024];
  command_check(&run, 2, "", usage, "no argument");
  run = DO("run");
  command_check(&run, 2, "", usage, "no script");
  run = DO("check");
  command_check(&run, 2, "", usage, "no script");
  run = DO("rnu", "x.lua");
  snprintf(said, sizeof said, "steading: unknown command rnu\n%s", usage);
  command_check(&run, 2, "", said, "unknown command");
}
END_TEST

START_TEST(test_help) {
  command_said run = DO("help");
  int topics = 0;
  ck_assert_int_eq(run.status, 0);
  ck_assert_str_eq(run.err, "");
  ck_assert_int_eq(strncmp(run.out, usage, sizeof usage - 1), 0);
  for (char *line = strtok(run.out, "\n"); line != NULL; line = strtok(NULL, "\n")) {
    char topic[64], begins[80];
    if (strncmp(line, "  ", 2) != 0 || line[2] == ' ' || sscanf(line, " %63[a-z_.] ", topic) != 1)
      continue;
    command_said page = DO("help", topic);
    ck_assert_msg(page.status == 0, "help %s: exit status %d", topic, page.status);
    snprintf(begins, sizeof begins, "%s: ", topic);
    ck_assert_msg(strncmp(page.out, begins, strlen(begins)) == 0, "help %s: %s", topic, page.out);
    command_free(&page);
    topics++;
  }
  ck_assert_int_gt(topics, 30);
  command_free(&run);
  run = DO("--help");
  ck_assert_int_eq(run.status, 0);
  command_free(&run);
}
END_TEST

START_TEST(test_help_on_nothing) {
  command_said run = DO("help", "batery");
  command_check(&run, 2, "", "steading: there is no help on 'batery' (did you mean 'battery'?)\n",
                "near");
  run = DO("help", "giraffes");
  command_check(&run, 2, "",
                "steading: there is no help on 'giraffes'; 'steading help' lists the topics\n",
                "far");
  run = DO("help", "lot", "site");
  command_check(&run, 2, "", usage, "two topics");
}
END_TEST

START_TEST(test_help_of_a_script) {
  command_write(
      folder, "s.lua",
      "print 'not printed'\n"
      "local steading = require 'steading'\n"
      "local args = steading.args { modules = 8, rise = 0.03, weather = '', south = true }\n"
      "error('not reached')\n");
  command_said run = DO("help", "s.lua");
  command_check(&run, 0,
                "arguments of s.lua (--set name=value) and their defaults:\n"
                "  modules              8\n"
                "  rise                 0.03\n"
                "  south                true\n"
                "  weather              \n",
                NULL, "arguments");
  check_list(folder, "base.lua s.lua ");
}
END_TEST

/* A script without steading.args has no arguments: help says so and does not run its work. */
START_TEST(test_help_of_a_script_without_arguments) {
  command_write(folder, "s.lua", writes_one);
  command_said run = DO("help", "s.lua");
  ck_assert_int_eq(run.status, 0);
  ck_assert_ptr_null(strstr(run.out, "done"));
  ck_assert_msg(strstr(run.out, "none") != NULL, "it does not say that there is none: %s", run.out);
  command_free(&run);
  check_list(folder, "base.lua s.lua ");
}
END_TEST

START_TEST(test_version) {
  command_said run = DO("--version");
  int major = -1, minor = -1, patch = -1, lua = 0;
  ck_assert_int_eq(run.status, 0);
  ck_assert_int_eq(sscanf(run.out, "steading %d.%d.%d, Lua 5.%d.", &major, &minor, &patch, &lua),
                   4);
  ck_assert_int_eq(lua, 4);
  ck_assert_str_eq(run.err, "");
  ck_assert_uint_eq(strcspn(run.out, "\n") + 1, run.out_length);
  command_free(&run);
}
END_TEST

/* --- options --------------------------------------------------------------------------------- */

START_TEST(test_what_comes_later) {
  static const char *const commands[] = {"merge", "plot", "new", "shell"};
  static const char *const options[] = {"--jobs", "--part", "--retry-failed", "--read"};
  char said[128];
  command_write(folder, "scenario.lua", writes_one);
  for (int i = 0; i < 4; i++) {
    command_said run = DO(commands[i], "scenario.lua");
    snprintf(said, sizeof said, "steading: %s is not yet carried out by this version\n",
             commands[i]);
    command_check(&run, 2, "", said, commands[i]);
    run = DO("run", "scenario.lua", options[i], "4");
    snprintf(said, sizeof said, "steading: %s is not yet carried out by this version\n",
             options[i]);
    command_check(&run, 2, "", said, options[i]);
  }
  check_list(folder, "base.lua scenario.lua ");
}
END_TEST

START_TEST(test_bad_options) {
  static const char *const rows[][4] = {
      {"run", "--strict", NULL, "steading: unknown or incomplete option --strict\n"},
      {"run", "--verbose", NULL, "steading: unknown or incomplete option --verbose\n"},
      {"run", "--out", NULL, "steading: unknown or incomplete option --out\n"},
      {"run", "--set", NULL, "steading: unknown or incomplete option --set\n"},
      {"check", "--resume", NULL, "steading: unknown or incomplete option --resume\n"},
      {"check", "--out", "x", "steading: unknown or incomplete option --out\n"},
  };
  command_write(folder, "scenario.lua", writes_one);
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    char said[1024];
    command_said run = DO(rows[i][0], "scenario.lua", rows[i][1], rows[i][2]);
    snprintf(said, sizeof said, "%s%s", rows[i][3], usage);
    command_check(&run, 2, "", said, rows[i][3]);
  }
  command_said run = DO("run", "scenario.lua", "other.lua");
  command_check(&run, 2, "", "steading: one script at a time: scenario.lua, other.lua\n", "two");
  run = DO("run", "scenario.lua", "--set", "x");
  command_check(&run, 2, "", "steading: --set x: expected name=value\n", "set");
  run = DO("run", "scenario.lua", "--set", "=3");
  command_check(&run, 2, "", "steading: --set =3: expected name=value\n", "set");
  run = DO("run", "scenario.lua", "--set", "x=1", "--set", "x=2");
  command_check(&run, 2, "", "steading: --set x: given twice\n", "twice");
  check_list(folder, "base.lua scenario.lua ");
}
END_TEST

START_TEST(test_settings) {
  static const char script[] =
      "local args = require 'steading'.args { n = 8, x = 0.5, t = 'a', b = false }\n"
      "print(args.n, math.type(args.n), args.x, math.type(args.x), args.t, args.b)\n";
  static const struct {
    const char *set, *out;
  } good[] = {
      {"n=8", "8\tinteger\t0.5\tfloat\ta\tfalse\n"},
      {"n=12", "12\tinteger\t0.5\tfloat\ta\tfalse\n"},
      {"n=-3", "-3\tinteger\t0.5\tfloat\ta\tfalse\n"},
      {"n=2.5", "2.5\tfloat\t0.5\tfloat\ta\tfalse\n"},
      {"x=1e3", "8\tinteger\t1000.0\tfloat\ta\tfalse\n"},
      {"t=", "8\tinteger\t0.5\tfloat\t\tfalse\n"},
      {"t=a=b c", "8\tinteger\t0.5\tfloat\ta=b c\tfalse\n"},
      {"t=3", "8\tinteger\t0.5\tfloat\t3\tfalse\n"},
      {"b=true", "8\tinteger\t0.5\tfloat\ta\ttrue\n"},
      {"b=false", "8\tinteger\t0.5\tfloat\ta\tfalse\n"},
      {"n=99999999999999999999", "1e+20\tfloat\t0.5\tfloat\ta\tfalse\n"},
  };
  static const struct {
    const char *set, *said;
  } bad[] = {
      {"n=eight", "--set n=eight: expected a number"},
      {"n=", "--set n=: expected a number"},
      {"n=8 modules", "--set n=8 modules: expected a number"},
      {"n=nan", "--set n=nan: expected a number"},
      {"n=inf", "--set n=inf: expected a number"},
      {"b=yes", "--set b=yes: expected true or false"},
      {"modules=3", "--set modules: there is no such argument"},
      {"nn=3", "--set nn: there is no such argument"},
  };
  for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
    command_said run = SCRIPT(folder, script, "--set", good[i].set);
    command_check(&run, 0, good[i].out, NULL, good[i].set);
  }
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    char said[256];
    command_said run = SCRIPT(folder, script, "--set", bad[i].set);
    snprintf(said, sizeof said, "steading: scenario.lua:1: %s\n", bad[i].said);
    command_check(&run, 2, "", said, bad[i].set);
  }
}
END_TEST

START_TEST(test_near_setting) {
  command_said run = SCRIPT(folder, "require 'steading'.args { modules = 8 }", "--set", "moduls=3");
  command_check(&run, 2, "",
                "steading: scenario.lua:1: --set moduls: there is no such argument (did you mean "
                "'modules'?)\n",
                "near");
  run = SCRIPT(folder, "print 'ran'", "--set", "x=3");
  command_check(&run, 2, "ran\n",
                "steading: --set x: scenario.lua asks for no such argument and ran without it\n",
                "no args");
  run = SCRIPT(folder, "require 'steading'.args { a = {} }");
  command_check(&run, 2, "",
                "steading: scenario.lua:1: args.a: expected a number, a text, true or false as the "
                "default\n",
                "table");
  run = SCRIPT(folder, "local s = require 'steading' s.args {} s.args {}");
  command_check(&run, 2, "", "steading: scenario.lua:1: args: declared twice\n", "twice");
}
END_TEST

/* --- check ----------------------------------------------------------------------------------- */

static const char site_script[] =
    "local steading = require 'steading'\n"
    "local base = require 'base' ()\n"
    "local args = steading.args { limit = 0 }\n"
    "base.site.weather = steading.weather.synthesize(base.climate)\n"
    "base.site.meters.yard.export_limit_kw = args.limit\n"
    "steading.site(base.site):simulate(base.simulate).annual:write('annual.csv')\n"
    "print 'done'\n";

START_TEST(test_check) {
  static const char warning[] =
      "steading: warning: meters.yard: what is exported earns nothing: the tariff has no export\n";
  char strict[512];
  command_said run;
  command_write(folder, "s.lua", site_script);
  run = DO("check", "s.lua");
  command_check(&run, 0, "done\n", NULL, "check");
  run = DO("check", "s.lua", "--strict");
  command_check(&run, 0, "done\n", NULL, "check --strict");
  run = DO("check", "s.lua", "--set", "limit=1");
  command_check(&run, 0, "done\n", warning, "with a warning");
  run = DO("check", "s.lua", "--strict", "--set", "limit=1");
  snprintf(strict, sizeof strict, "%ssteading: 1 warning (--strict)\n", warning);
  command_check(&run, 2, "done\n", strict, "strict with a warning");
  command_write(folder, "s.lua", "require 'steading'.site { nmae = 3 }");
  run = DO("check", "s.lua");
  command_check(&run, 2, "", "steading: s.lua:1: site.nmae: unknown field (did you mean 'name'?)\n",
                "mistake");
  check_list(folder, "base.lua s.lua ");
}
END_TEST

/* --- files ----------------------------------------------------------------------------------- */

START_TEST(test_out) {
  char path[FILE_PATH_SIZE], script[1024];
  command_said run = SCRIPT(folder, writes_one, "--out", "new");
  command_check(&run, 0, "done\n", NULL, "a new folder");
  check_list(folder_path(folder, "new", path), "one.csv one.meta.json ");
  run = SCRIPT(folder, writes_one, "--out", "new");
  command_check(&run, 0, "done\n", NULL, "a folder that is there");
  check_list(path, "one.csv one.meta.json ");
  run = SCRIPT(folder, writes_one, "--out", "new/");
  command_check(&run, 0, "done\n", NULL, "with a slash");
  run = SCRIPT(folder, writes_one, "--out", "scenario.lua");
  command_check(&run, 2, "", "steading: --out scenario.lua: is not a folder\n", "a file");
  run = SCRIPT(folder, writes_one, "--out", "a/b");
  command_check(&run, 2, "", "steading: --out a/b: No such file or directory\n", "no parent");
  /* absolute paths stay what they are */
  snprintf(script, sizeof script,
           "require 'steading'.frame { columns = { 'a' }, rows = {} }:write('%s/absolute.csv')\n",
           folder);
  run = SCRIPT(folder, script, "--out", "new");
  command_check(&run, 0, "", NULL, "absolute");
  check_list(folder, "absolute.csv absolute.meta.json base.lua new scenario.lua ");
}
END_TEST

START_TEST(test_paths_of_frames) {
  static const char *const rows[][2] = {
      {"no/such/x.csv", "no/such/x.csv: there is no folder 'no/such'"},
      {"", "frame:write: \"\" is not the path of a file"},
      {"x/", "frame:write: \"x/\" is not the path of a file"},
      {".", ".: is a folder, not a file"},
      {"/dev/full", "/dev/full: is a device, not a file"},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    char script[512], said[512];
    snprintf(script, sizeof script,
             "local f = require 'steading'.frame { columns = { 'a' }, rows = {} }\nf:write('%s')\n",
             rows[i][0]);
    snprintf(said, sizeof said, "steading: scenario.lua:2: %s\n", rows[i][1]);
    command_said run = SCRIPT(folder, script);
    command_check(&run, 2, "", said, rows[i][0]);
    check_list(folder, "base.lua scenario.lua ");
  }
}
END_TEST

START_TEST(test_unreadable_scripts) {
  command_said run = DO("run", "missing.lua");
  command_check(&run, 2, "", "steading: missing.lua: there is no such file\n", "missing");
  run = DO("run", "bsae.lua");
  command_check(&run, 2, "",
                "steading: bsae.lua: there is no such file (did you mean 'base.lua'?)\n", "near");
  run = DO("run", ".");
  command_check(&run, 2, "", "steading: .: is a folder, not a file\n", "folder");
  run = DO("run", "/dev/zero");
  command_check(&run, 2, "", "steading: /dev/zero: is a device, not a file\n", "device");
  run = SCRIPT(folder, "");
  command_check(&run, 0, "", NULL, "an empty script");
}
END_TEST

/* Standard output on a full device: a result that nobody got is no success. */
START_TEST(test_full_output) {
  static const char *const scripts[] = {"print 'x'", "for i = 1, 100000 do print 'a line' end"};
  for (int i = 0; i < 2; i++) {
    const char *arguments[] = {"run", "scenario.lua", NULL};
    command_run started;
    command_said run;
    command_write(folder, "scenario.lua", scripts[i]);
    started = command_start_into(folder, "/dev/full", arguments);
    run = command_finish(&started, COMMAND_SECONDS);
    command_check(&run, 2, "", "steading: standard output: No space left on device\n", scripts[i]);
  }
}
END_TEST

/* A file that cannot be written to its end is not there afterwards; what stood there before
 * stays. */
START_TEST(test_full_disk) {
  struct rlimit limit = {.rlim_cur = 20000, .rlim_max = 20000};
  char *text = NULL;
  command_said run;
  command_write(folder, "big.csv", "as it was\n");
  signal(SIGXFSZ, SIG_IGN); /* the write itself fails then */
  ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
  run = SCRIPT(folder,
               "local steading = require 'steading'\n"
               "local rows = {}\n"
               "for i = 1, 5000 do rows[i] = { a = i / 7 } end\n"
               "steading.frame { columns = { 'a' }, rows = { rows[1] } }:write('small.csv')\n"
               "steading.frame { columns = { 'a' }, rows = rows }:write('big.csv')\n"
               "print 'not reached'\n");
  ck_assert_int_eq(run.status, 2);
  ck_assert_str_eq(run.out, "");
  ck_assert_msg(strncmp(run.err, "steading: scenario.lua:5: big.csv: ", 35) == 0 &&
                    strstr(run.err, "File too large") != NULL,
                "it said: %s", run.err);
  command_free(&run);
  text = command_read(folder, "big.csv");
  ck_assert_str_eq(text, "as it was\n");
  free(text);
  check_list(folder, "base.lua big.csv scenario.lua small.csv small.meta.json ");
}
END_TEST

/* --- what is written ------------------------------------------------------------------------- */

START_TEST(test_numbers_and_texts) {
  char *csv = NULL;
  command_said run = SCRIPT(
      folder,
      "local steading = require 'steading'\n"
      "local texts = { 'plain', 'a,b', 'a\"b', 'a\\nb', ' a', 'a ', '=1+1', '+1', '-1', '@x', "
      "'\\tx', '\\rx', '', '=a,\"b\"', 'caf\\xc3\\xa9' }\n"
      "local numbers = { 1, -0.0, 1/3, 1e15, 1e-7, -123456.789, 2^53, 1e300, 5e-324, "
      "steading.never, "
      "steading.none, 0.1, 100, 1e5, 123456789012 }\n"
      "local rows = {}\n"
      "for i = 1, 15 do rows[i] = { text = texts[i], number = numbers[i] } end\n"
      "steading.frame { columns = { 'text', 'number', '=head' }, rows = rows }:write('x.csv')\n");
  command_check(&run, 0, "", NULL, "frame");
  csv = command_read(folder, "x.csv");
  /* 12 significant digits by hand: C's %.12g */
  ck_assert_str_eq(csv,
                   "text,number,'=head\n"
                   "plain,1,\n"
                   "\"a,b\",0,\n"
                   "\"a\"\"b\",0.333333333333,\n"
                   "\"a\nb\",1e+15,\n"
                   "\" a\",1e-07,\n"
                   "\"a \",-123456.789,\n"
                   "'=1+1,9.00719925474e+15,\n"
                   "'+1,1e+300,\n"
                   "'-1,4.94065645841e-324,\n"
                   "'@x,,\n"
                   "\"'\tx\",,\n"
                   "\"'\rx\",0.1,\n"
                   ",100,\n"
                   "\"'=a,\"\"b\"\"\",100000,\n"
                   "caf\xc3\xa9,123456789012,\n");
  free(csv);
}
END_TEST

/* A locale with a decimal comma changes no file. */
START_TEST(test_locale) {
  char *csv = NULL;
  setenv("LC_ALL", "de_DE.UTF-8", 1);
  setenv("LC_NUMERIC", "de_DE.UTF-8", 1);
  command_said run = SCRIPT(folder,
                            "require 'steading'.frame { columns = { 'a' }, rows = { { a = 1.5 } } "
                            "}:write('x.csv') print(1.5)\n");
  command_check(&run, 0, "1.5\n", NULL, "locale");
  csv = command_read(folder, "x.csv");
  ck_assert_str_eq(csv, "a\n1.5\n");
  free(csv);
}
END_TEST

static void check_meta(const char *name, char *site) {
  char *meta = command_read(folder, name), why[256], value[256];
  static const char *const texts[] = {"file",   "site",          "currency",
                                      "script", "script_sha256", "version"};
  ck_assert_msg(json_check(meta, why), "%s: %s in\n%s", name, why, meta);
  for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
    ck_assert_msg(json_member(meta, texts[i], value, sizeof value), "%s: no member '%s'", name,
                  texts[i]);
  ck_assert(json_member(meta, "script_sha256", value, sizeof value));
  ck_assert_uint_eq(strspn(value, "0123456789abcdef"), 64);
  ck_assert_uint_eq(strlen(value), 64);
  ck_assert(json_member(meta, "wall_s", value, sizeof value) && atof(value) >= 0);
  ck_assert(json_member(meta, "random_seed", value, sizeof value));
  ck_assert(json_member(meta, "arguments", value, sizeof value) && value[0] == '{');
  ck_assert(json_member(meta, "inputs", value, sizeof value) && value[0] == '[');
  ck_assert(json_member(meta, "site", site, 256));
  free(meta);
}

START_TEST(test_meta) {
  char site[256], value[256], *meta = NULL, *csv = NULL, why[256];
  csv_table table;
  char script[2048];
  snprintf(script, sizeof script, "%s",
           "local steading = require 'steading'\n"
           "local args = steading.args { note = '' }\n"
           "local base = require 'base' ()\n"
           "base.site.name = 'a \"quoted\" \\\\ name,\\nwith\\ttabs, \\1 and caf\\xc3\\xa9'\n"
           "base.site.meters.yard.export_limit_kw = 0\n"
           "base.site.weather = steading.weather.synthesize(base.climate)\n"
           "steading.site(base.site):simulate(base.simulate).monthly:write('monthly.csv')\n");
  command_said run = SCRIPT(folder, script, "--set", "note=a \"note\"\n");
  command_check(&run, 0, "", NULL, "meta");
  check_meta("monthly.meta.json", site);
  ck_assert_str_eq(site, "a \"quoted\" \\ name,\nwith\ttabs, \1 and caf\xc3\xa9");
  meta = command_read(folder, "monthly.meta.json");
  csv = command_read(folder, "monthly.csv");
  ck_assert_msg(readback_csv(csv, &table, why), "%s", why);
  ck_assert(json_member(meta, "rows", value, sizeof value));
  ck_assert_int_eq(atoi(value), (int)table.rows);
  ck_assert(json_member(meta, "script", value, sizeof value));
  ck_assert_str_eq(value, "scenario.lua");
  ck_assert(json_member(meta, "file", value, sizeof value));
  ck_assert_str_eq(value, "monthly.csv");
  for (size_t c = 0; c < table.columns; c++) {
    char quoted[96];
    snprintf(quoted, sizeof quoted, "\"%s\"", csv_name(&table, c));
    ck_assert_msg(strstr(meta, quoted) != NULL, "the column %s is not in the meta file", quoted);
  }
  /* every cell is empty or a number of the promised form */
  for (size_t r = 0; r < table.rows; r++)
    for (size_t c = 0; c < table.columns; c++) {
      double number = 0;
      const char *cell = csv_cell(&table, r, c);
      if (cell[0] != '\0' && !is_csv_number(cell, &number))
        ck_abort_msg("row %zu, %s: \"%s\"", r + 1, csv_name(&table, c), cell);
    }
  readback_csv_free(&table);
  free(csv);
  free(meta);
}
END_TEST

/* JSON is UTF-8 (RFC 8259, 8.1), whatever bytes a script's text has. */
START_TEST(test_meta_of_other_bytes) {
  char site[256];
  command_said run =
      SCRIPT(folder,
             "local steading = require 'steading'\n"
             "local base = require 'base' ()\n"
             "base.site.name = 'caf\\xe9 \\xff\\xc0\\x80'\n"
             "base.site.meters.yard.export_limit_kw = 0\n"
             "base.site.weather = steading.weather.synthesize(base.climate)\n"
             "steading.site(base.site):simulate(base.simulate).annual:write('annual.csv')\n");
  command_check(&run, 0, "", NULL, "bytes");
  check_meta("annual.meta.json", site);
}
END_TEST

/* The same script gives the same bytes, wherever it writes. */
START_TEST(test_same_bytes) {
  char *first = NULL, *second = NULL;
  for (int i = 0; i < 2; i++) {
    command_said run = SCRIPT(folder, site_script, "--out", i == 0 ? "one" : "two");
    command_check(&run, 0, "done\n", NULL, "run");
  }
  first = command_read(folder, "one/annual.csv");
  second = command_read(folder, "two/annual.csv");
  ck_assert_str_eq(first, second);
  free(first);
  free(second);
}
END_TEST

/* --- the tree -------------------------------------------------------------------------------- */

static bool is_source(const char *path) {
  size_t length = strlen(path);
  return length > 2 && path[length - 2] == '.' &&
         (path[length - 1] == 'c' || path[length - 1] == 'h');
}

static int sources = 0;

static int check_source(const char *path, const struct stat *found, int kind, struct FTW *place) {
  char line[1024];
  FILE *file = NULL;
  (void)found, (void)place;
  if (kind != FTW_F || !is_source(path)) return 0;
  file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  while (fgets(line, sizeof line, file) != NULL) {
    if (strncmp(line, "#include", 8) != 0) continue;
    if (strstr(line, "lua") != NULL || strstr(line, "lauxlib") != NULL)
      ck_abort_msg("%s includes a header of Lua or of its bindings: %s", path, line);
  }
  fclose(file);
  sources++;
  return 0;
}

/* The arrows of the architecture: nothing in core knows of Lua. */
START_TEST(test_core_knows_no_lua) {
  ck_assert_int_eq(nftw("core", check_source, 16, FTW_PHYS), 0);
  ck_assert_int_gt(sources, 30);
}
END_TEST

START_TEST(test_top_level) {
  static const char allowed[] =
      " DEVELOPERS.md LICENSE Makefile README.md bindings build core reference scenarios tests ";
  char *list = command_list(".");
  for (char *name = strtok(list, " "); name != NULL; name = strtok(NULL, " ")) {
    char word[300];
    if (name[0] == '.') continue; /* settings of tools */
    snprintf(word, sizeof word, " %s ", name);
    ck_assert_msg(strstr(allowed, word) != NULL, "'%s' does not belong at the top", name);
  }
  free(list);
}
END_TEST

static void add(Suite *suite, const char *name, const TTest *test) {
  command_case(suite, setup, teardown, name, test, 1);
}

Suite *command_line_suite(void) {
  Suite *suite = suite_create("command_line");
  add(suite, "without a command or script the usage is told", test_usage);
  add(suite, "help lists topics, and each has its page", test_help);
  add(suite, "help on what is no topic tells the nearest", test_help_on_nothing);
  add(suite, "help of a script lists its arguments", test_help_of_a_script);
  add(suite, "help of a script without arguments says so", test_help_of_a_script_without_arguments);
  add(suite, "the version names the program and Lua", test_version);
  add(suite, "commands and options of a later version are refused", test_what_comes_later);
  add(suite, "options that are unknown or incomplete are refused", test_bad_options);
  add(suite, "--set takes the type of its default", test_settings);
  add(suite, "--set of an unknown argument is refused with the nearest", test_near_setting);
  add(suite, "check runs and writes nothing; --strict refuses warnings", test_check);
  add(suite, "--out makes its folder and holds relative paths", test_out);
  add(suite, "a frame is not written where no file can be", test_paths_of_frames);
  add(suite, "a script that cannot be read is told", test_unreadable_scripts);
  add(suite, "a full standard output is a failure", test_full_output);
  add(suite, "a file that does not fit leaves nothing behind", test_full_disk);
  add(suite, "numbers have 12 digits, texts are quoted and guarded", test_numbers_and_texts);
  add(suite, "a locale changes nothing", test_locale);
  add(suite, "a meta file is JSON and says what was written", test_meta);
  add(suite, "a meta file is UTF-8 whatever the texts are", test_meta_of_other_bytes);
  add(suite, "the same script writes the same bytes", test_same_bytes);
  add(suite, "nothing in core includes Lua", test_core_knows_no_lua);
  add(suite, "the top of the repository holds what belongs there", test_top_level);
  return suite;
}
