/* Whole scenarios against the files that they gave before: a change of results is seen and wanted,
 * or it is a mistake. These files pin; what proves is in the other suites.
 *
 * UPDATE=1 in the environment writes the files anew instead of comparing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "readback.h"
#include "suites.h"

typedef struct golden {
  const char *name, *home, *script; /* the folder of the script, from the repository's root */
  const char *arguments[8];
  int status;
} golden;

static const golden cases[] = {
    {"five_homes", "scenarios", "five_homes_deep_well.lua", {"--set", "years=2"}, 0},
    {"stages", "scenarios", "five_homes_stages.lua", {"--set", "years=8"}, 0},
    {"mistake", "tests/golden/mistake", "scenario.lua", {NULL}, 2},
    {"study", "tests/golden/study", "scenario.lua", {NULL}, 1},
};
enum { CASES = sizeof cases / sizeof cases[0] };

static const double relative = 1e-9;

static char folder[FOLDER_SIZE];

static void setup(void) { folder_make(folder); }

static void teardown(void) { folder_remove(folder); }

static bool ends_with(const char *name, const char *end) {
  size_t length = strlen(name), of_end = strlen(end);
  return length > of_end && strcmp(name + length - of_end, end) == 0;
}

/* The script and the modules beside it. */
static void copy_scripts(const char *home) {
  char *names = command_list(home);
  for (char *name = strtok(names, " "); name != NULL; name = strtok(NULL, " ")) {
    char *text = NULL;
    if (!ends_with(name, ".lua")) continue;
    text = command_read(home, name);
    command_write(folder, name, text);
    free(text);
  }
  free(names);
}

/* The tables of a folder, a blank behind each. */
static char *list_of_tables(const char *path) {
  char *all = command_list(path), *tables = calloc(strlen(all) + 1, 1);
  ck_assert_ptr_nonnull(tables);
  for (char *name = strtok(all, " "); name != NULL; name = strtok(NULL, " ")) {
    if (!ends_with(name, ".csv")) continue;
    strcat(tables, name);
    strcat(tables, " ");
  }
  free(all);
  return tables;
}

static void update(const char *expected, const char *out, const command_said *run) {
  char *tables = list_of_tables(out), *old = list_of_tables(expected), path[FILE_PATH_SIZE];
  for (char *name = strtok(old, " "); name != NULL; name = strtok(NULL, " "))
    ck_assert_int_eq(remove(folder_path(expected, name, path)), 0);
  for (char *name = strtok(tables, " "); name != NULL; name = strtok(NULL, " ")) {
    char *text = command_read(out, name);
    command_write(expected, name, text);
    free(text);
  }
  command_write(expected, "stdout.txt", run->out);
  command_write(expected, "stderr.txt", run->err);
  free(tables);
  free(old);
}

static void check_text(const char *expected, const char *name, const char *found) {
  char *text = command_read(expected, name);
  ck_assert_msg(strcmp(text, found) == 0, "%s is now\n%sexpected\n%s", name, found, text);
  free(text);
}

static void compare(const char *expected, const char *out, const command_said *run) {
  char *tables = list_of_tables(out), *old = list_of_tables(expected);
  check_text(expected, "stderr.txt", run->err);
  ck_assert_str_eq(tables, old);
  for (char *name = strtok(tables, " "); name != NULL; name = strtok(NULL, " ")) {
    char *was = command_read(expected, name), *is = command_read(out, name), why[512];
    ck_assert_msg(csv_same(was, is, relative, why), "%s: %s", name, why);
    free(was);
    free(is);
  }
  check_text(expected, "stdout.txt", run->out);
  free(tables);
  free(old);
}

START_TEST(test_golden) {
  const golden *g = &cases[_i];
  const char *arguments[16] = {"run", g->script, "--out", "out"};
  const char *wanted = getenv("UPDATE");
  char expected[FILE_PATH_SIZE], out[FILE_PATH_SIZE];
  command_said run;
  for (int i = 0; g->arguments[i] != NULL; i++) arguments[4 + i] = g->arguments[i];
  copy_scripts(g->home);
  run = command_do(folder, arguments);
  ck_assert_msg(run.status == g->status, "exit status %d: %s", run.status, run.err);
  snprintf(expected, sizeof expected, "tests/golden/%s", g->name);
  folder_path(folder, "out", out);
  if (wanted != NULL && strcmp(wanted, "1") == 0)
    update(expected, out, &run);
  else
    compare(expected, out, &run);
  command_free(&run);
}
END_TEST

/* --- the comparator -------------------------------------------------------------------------- */

static const char table[] = "year,kwh,note\n2027,1000.5,first\n2028,,\"a, \"\"b\"\"\"\n";

static void check_differs(const char *found, const char *said) {
  char why[512] = "";
  ck_assert_msg(!csv_same(table, found, relative, why), "no difference is seen in\n%s", found);
  ck_assert_str_eq(why, said);
}

START_TEST(test_comparator_sees) {
  check_differs("year,kwh\n2027,1000.5\n2028,\n", "2 columns, expected 3");
  check_differs("year,kwh,note,more\n2027,1000.5,first,\n2028,,\"a, \"\"b\"\"\",\n",
                "4 columns, expected 3");
  check_differs("year,kWh,note\n2027,1000.5,first\n2028,,\"a, \"\"b\"\"\"\n",
                "column 2 is 'kWh', expected 'kwh'");
  check_differs("kwh,year,note\n1000.5,2027,first\n,2028,\"a, \"\"b\"\"\"\n",
                "column 1 is 'kwh', expected 'year'");
  check_differs("year,kwh,note\n2027,1000.5,first\n", "1 rows, expected 2");
  check_differs("year,kwh,note\n2027,1000.5,first\n2028,,\"a, \"\"b\"\"\"\n2029,1,\n",
                "3 rows, expected 2");
  check_differs("year,kwh,note\n2028,,\"a, \"\"b\"\"\"\n2027,1000.5,first\n",
                "row 1, year: \"2028\", expected \"2027\"");
  check_differs("year,kwh,note\n2027,nan,first\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, kwh: \"nan\", expected \"1000.5\"");
  check_differs("year,kwh,note\n2027,inf,first\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, kwh: \"inf\", expected \"1000.5\"");
  check_differs("year,kwh,note\n2027,much,first\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, kwh: \"much\", expected \"1000.5\"");
  check_differs("year,kwh,note\n2027,,first\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, kwh: \"\", expected \"1000.5\"");
  check_differs("year,kwh,note\n2027,1000.5,first\n2028,0,\"a, \"\"b\"\"\"\n",
                "row 2, kwh: \"0\", expected \"\"");
  check_differs("year,kwh,note\n2027,1000.50001,first\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, kwh: \"1000.50001\", expected \"1000.5\"");
  check_differs("year,kwh,note\n2027,-1000.5,first\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, kwh: \"-1000.5\", expected \"1000.5\"");
  check_differs("year,kwh,note\n2027,1000.5,First\n2028,,\"a, \"\"b\"\"\"\n",
                "row 1, note: \"First\", expected \"first\"");
}
END_TEST

START_TEST(test_comparator_refuses) {
  static const char *const rows[][2] = {
      {"year,kwh,note\n2027,1000.5,first\n2028,\n", "line 3: a row of another width"},
      {"year,kwh,note\n2027,1000.5,first", "line 2: the last line has no end"},
      {"year,kwh,note\n2027,\"1000.5,first\n", "line 2: a quote is not closed"},
      {"year,kwh,note\n2027,10\"00,first\n", "line 2: a quote inside a bare cell"},
      {"year,kwh,note\n2027,\"1\"2,first\n", "line 2: text behind a closing quote"},
      {"year,kwh,note\r\n2027,1000.5,first\r\n", "line 1: a carriage return outside quotes"},
      {"", "line 1: there is no header"},
  };
  char why[512] = "";
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    ck_assert(!csv_same(table, rows[i][0], relative, why));
    ck_assert_str_eq(why, rows[i][1]);
  }
  /* a nan in both is no agreement */
  ck_assert(!csv_same("a\nnan\n", "a\nnan\n", relative, why));
}
END_TEST

START_TEST(test_comparator_agrees) {
  char why[512] = "";
  ck_assert_msg(csv_same(table, table, 0, why), "%s", why);
  ck_assert_msg(csv_same(table, "year,kwh,note\n2027,1000.5000001,first\n2028,,\"a, \"\"b\"\"\"\n",
                         relative, why),
                "%s", why);
  ck_assert_msg(csv_same("a\n1e-07\n", "a\n0.0000001\n", relative, why), "%s", why);
}
END_TEST

START_TEST(test_number_form) {
  static const char *const good[] = {"0",
                                     "1",
                                     "-1",
                                     "0.5",
                                     "1000000",
                                     "123456789012",
                                     "1e+15",
                                     "4.94065645841e-324",
                                     "-0.000123456789012",
                                     "1.5e+300"};
  static const char *const bad[] = {
      "",      "-",  "nan", "inf",  "-nan",           "+1",    "1.", ".5", "1,5", " 1", "1 ",
      "0x1p3", "1e", "-0",  "-0.0", "1234567890.123", "1e999", "--1"};
  double value = 0;
  for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
    ck_assert_msg(is_csv_number(good[i], &value), "\"%s\" is a number", good[i]);
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
    ck_assert_msg(!is_csv_number(bad[i], &value), "\"%s\" is no number", bad[i]);
}
END_TEST

START_TEST(test_json_form) {
  static const char *const good[] = {"{}",
                                     "[]",
                                     "3",
                                     "\"x\"",
                                     " { \"a\" : [ 1, -2.5e3, true, null ] } ",
                                     "\"\\u00e9\\n\\\"\"",
                                     "\"caf\xc3\xa9\"",
                                     "0.5"};
  static const char *const bad[] = {
      "",        "{",     "{\"a\"}", "{\"a\":}", "[1,]",        "{\"a\":1,}",   "01",
      "1.",      "nan",   "'x'",     "\"a\nb\"", "\"caf\xe9\"", "\"\xc0\x80\"", "\"\xed\xa0\x80\"",
      "\"\\x\"", "{} {}", "\"open"};
  char why[256], value[64];
  for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
    ck_assert_msg(json_check(good[i], why), "%s: %s", good[i], why);
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
    ck_assert_msg(!json_check(bad[i], why), "%s is no JSON", bad[i]);
  ck_assert(
      json_member("{ \"a\": [1, 2], \"b\": \"x\\ny\", \"c\": 3.5 }", "b", value, sizeof value));
  ck_assert_str_eq(value, "x\ny");
  ck_assert(json_member("{ \"a\": [1, 2], \"b\": \"x\", \"c\": 3.5 }", "c", value, sizeof value));
  ck_assert_str_eq(value, "3.5");
  ck_assert(!json_member("{ \"a\": { \"b\": 1 } }", "b", value, sizeof value));
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

Suite *golden_suite(void) {
  Suite *suite = suite_create("golden");
  add_rows(suite, "a scenario gives what it gave before", test_golden, CASES);
  add_rows(suite, "the comparator sees every difference", test_comparator_sees, 1);
  add_rows(suite, "the comparator refuses what is no table", test_comparator_refuses, 1);
  add_rows(suite, "the comparator agrees on what is the same", test_comparator_agrees, 1);
  add_rows(suite, "the reader of numbers takes the promised form alone", test_number_form, 1);
  add_rows(suite, "the reader of JSON takes JSON alone", test_json_form, 1);
  return suite;
}
