/* What the documents say is what the program does: the README's scenario and its output, the
 * scripts it lists, the generated page of fields. */
#include <dirent.h>
#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) { folder_make(folder); }
static void teardown(void) { folder_remove(folder); }

/* The block that follows `fence` for the first time after `from`; the closing fence is cut off. */
static char *block(const char *text, const char *from, const char *fence) {
  const char *start = strstr(text, from), *end = NULL;
  char *copy = NULL;
  ck_assert_ptr_nonnull(start);
  start = strstr(start, fence);
  ck_assert_ptr_nonnull(start);
  start += strlen(fence);
  end = strstr(start, "```");
  ck_assert_ptr_nonnull(end);
  copy = strndup(start, (size_t)(end - start));
  ck_assert_ptr_nonnull(copy);
  return copy;
}

START_TEST(the_readme_shows_the_scenario_whole_and_its_real_output) {
  char *readme = command_read(".", "README.md"),
       *script = command_read("scenarios", "one_home.lua");
  char *shown = block(readme, "## A scenario", "```lua\n");
  char *output = block(readme, "prints", "```\n");
  command_said run;
  ck_assert_str_eq(shown, script);
  command_write(folder, "one_home.lua", script);
  run = COMMAND(folder, "run", "one_home.lua", "--out", "out");
  command_check(&run, 0, output, NULL, "one_home.lua");
  free(shown);
  free(output);
  free(script);
  free(readme);
}
END_TEST

START_TEST(every_scenario_is_listed_in_the_readme_and_opens_with_a_comment) {
  char *readme = command_read(".", "README.md");
  struct dirent *entry = NULL;
  DIR *scenarios = opendir("scenarios");
  int seen = 0;
  ck_assert_ptr_nonnull(scenarios);
  while ((entry = readdir(scenarios)) != NULL) {
    char listed[300], *text = NULL;
    if (strstr(entry->d_name, ".lua") == NULL) continue;
    snprintf(listed, sizeof listed, "`%s`", entry->d_name);
    ck_assert_msg(strstr(readme, listed) != NULL, "%s is not in README.md", entry->d_name);
    text = command_read("scenarios", entry->d_name);
    ck_assert_msg(strncmp(text, "-- ", 3) == 0, "%s does not open with a comment", entry->d_name);
    free(text);
    seen++;
  }
  closedir(scenarios);
  free(readme);
  ck_assert_int_ge(seen, 4);
}
END_TEST

/* Each script runs on its own, from another folder than its own. */
START_TEST(every_scenario_runs) {
  static const struct {
    const char *script, *file;
  } rows[] = {{"scenarios/one_home.lua", "annual.csv"},
              {"scenarios/five_homes_deep_well.lua", "purchases.csv"},
              {"scenarios/five_homes_battery.lua", "battery_counts.csv"},
              {"scenarios/five_homes_stages.lua", "stages.csv"},
              {"scenarios/next_step_up.lua", "next_step_up.csv"},
              {"scenarios/how_long_do_we_last.lua", "how_long.csv"},
              {"scenarios/generator_or_battery.lua", "banks.csv"},
              {"scenarios/fuel_truck_is_late.lua", "late.csv"},
              {"scenarios/old_bank_beside_new.lua", "old_bank.csv"},
              {"scenarios/five_homes_site.lua", NULL}};
  glob_t scripts;
  ck_assert_int_eq(glob("scenarios/*.lua", 0, NULL, &scripts), 0);
  for (size_t k = 0; k < scripts.gl_pathc; k++) {
    size_t i = 0;
    while (i < sizeof rows / sizeof rows[0] && strcmp(rows[i].script, scripts.gl_pathv[k]) != 0)
      i++;
    ck_assert_msg(i < sizeof rows / sizeof rows[0], "%s is not in this test", scripts.gl_pathv[k]);
  }
  globfree(&scripts);
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    command_said run = COMMAND(".", "run", rows[i].script, "--out", folder);
    ck_assert_msg(run.status == 0, "%s: %d: %s", rows[i].script, run.status, run.err);
    ck_assert_str_eq(run.err, "");
    if (rows[i].file != NULL) ck_assert(command_has(folder, rows[i].file));
    command_free(&run);
  }
}
END_TEST

/* A module of five_homes_site.lua costs 1650, a tenth and a half of that to put up and 0.11 of it
 * in small items; a kWh from its meter 0.138 + 0.012 and 6 % tax. */
START_TEST(a_further_module_is_priced_by_hand) {
  command_said run = COMMAND(".", "run", "scenarios/next_step_up.lua", "--out", folder);
  char *text = command_read(folder, "next_step_up.csv");
  double before_kwh = 0, before_cost = 0;
  int rows = 0, judged = 0;
  ck_assert_int_eq(run.status, 0);
  for (const char *line = strchr(text, '\n'); line != NULL && line[1] != 0;
       line = strchr(line + 1, '\n')) {
    int place = 0, panels = 0, modules = 0;
    double hours = 0, energy = 0, kwh = 0, bill = 0, cost = 0, avoided = 0, asked = 0, grid = 0;
    int found = sscanf(line + 1, "%d,%d,%d,%lf,%lf,%lf,%lf,%lf,ok,%lf,%lf,%lf", &place, &panels,
                       &modules, &hours, &energy, &kwh, &bill, &cost, &avoided, &asked, &grid);
    if (found == 11) {
      ck_assert_double_eq_tol(cost - before_cost, 1650 * (1 + 0.15 + 0.11), 1e-6);
      ck_assert_double_eq_tol(avoided, before_kwh - kwh, 1e-6);
      ck_assert_double_eq_tol(asked, (cost - before_cost) / ((before_kwh - kwh) * 15), 1e-9);
      ck_assert_double_eq_tol(grid, (0.138 + 0.012) * 1.06, 1e-9);
      judged++;
    } else {
      ck_assert_int_eq(found, 8);
      ck_assert_int_eq(modules, 4);
    }
    before_kwh = kwh;
    before_cost = cost;
    rows++;
  }
  ck_assert_int_eq(rows, 39);
  ck_assert_int_eq(judged, 36);
  free(text);
  command_free(&run);
}
END_TEST

START_TEST(the_page_of_fields_is_what_the_field_tables_give) {
  char *page = command_read("reference/manual", "fields.md");
  command_said run = COMMAND(".", "help", "manual");
  ck_assert_int_eq(run.status, 0);
  ck_assert_msg(strcmp(run.out, page) == 0, "reference/manual/fields.md is old: run 'make manual'");
  command_free(&run);
  free(page);
}
END_TEST

/* Run the script in a block of a page and compare what it prints with the block that follows. */
static void check_example(const char *page, const char *code, const char *shown) {
  command_said run;
  char both[8192];
  command_write(folder, "script.lua", code);
  run = COMMAND(folder, "run", "script.lua", "--out", "out");
  snprintf(both, sizeof both, "%s%s", run.out, run.err);
  if (strcmp(shown, run.out) != 0 && strcmp(shown, both) != 0 && strcmp(shown, run.err) != 0)
    ck_abort_msg("%s: an example prints\n%s\nand the page shows\n%s", page, both, shown);
  command_free(&run);
}

/* The next fenced block at or behind `text` whose fence begins with `fence`; NULL when there is
 * none. *after is what follows it. */
static char *next_block(const char *text, const char *fence, const char **after) {
  const char *start = strstr(text, fence), *end = NULL;
  if (start == NULL) return NULL;
  start = strchr(start, '\n') + 1;
  end = strstr(start, "```");
  ck_assert_ptr_nonnull(end);
  *after = end + 3;
  return strndup(start, (size_t)(end - start));
}

START_TEST(the_examples_of_the_manual_print_what_it_shows) {
  struct dirent *entry = NULL;
  DIR *pages = opendir("reference/manual");
  int examples = 0;
  ck_assert_ptr_nonnull(pages);
  while ((entry = readdir(pages)) != NULL) {
    char *page = NULL, *code = NULL;
    const char *at = NULL;
    if (strstr(entry->d_name, ".md") == NULL) continue;
    page = command_read("reference/manual", entry->d_name);
    for (at = page; (code = next_block(at, "```lua", &at)) != NULL; free(code)) {
      const char *next = strstr(at, "```");
      char *shown = NULL;
      if (next == NULL || strncmp(next, "```lua", 6) == 0) continue; /* shows no output */
      shown = next_block(at, "```", &at);
      check_example(entry->d_name, code, shown);
      free(shown);
      examples++;
    }
    free(page);
  }
  closedir(pages);
  ck_assert_int_ge(examples, 5);
}
END_TEST

START_TEST(cautions_stand_where_results_touch_wires_and_batteries) {
  static const char *const scripts[] = {
      "scenarios/five_homes_deep_well.lua", "scenarios/five_homes_battery.lua",
      "scenarios/five_homes_stages.lua",    "scenarios/next_step_up.lua",
      "scenarios/generator_or_battery.lua", "scenarios/fuel_truck_is_late.lua",
      "scenarios/old_bank_beside_new.lua"};
  char *readme = command_read(".", "README.md");
  ck_assert_ptr_nonnull(strstr(readme, "## Safety"));
  for (size_t i = 0; i < sizeof scripts / sizeof scripts[0]; i++) {
    command_said run = COMMAND(".", "run", scripts[i], "--out", folder);
    ck_assert_ptr_nonnull(strstr(run.out, "For screening and planning only"));
    command_free(&run);
  }
  free(readme);
}
END_TEST

Suite *documents_suite(void) {
  Suite *suite = suite_create("documents");
  TCase *tcase = tcase_create("documents");
  tcase_add_checked_fixture(tcase, setup, teardown);
  tcase_set_timeout(tcase, COMMAND_TEST_SECONDS);
  tcase_add_test(tcase, the_readme_shows_the_scenario_whole_and_its_real_output);
  tcase_add_test(tcase, every_scenario_is_listed_in_the_readme_and_opens_with_a_comment);
  tcase_add_test(tcase, every_scenario_runs);
  tcase_add_test(tcase, a_further_module_is_priced_by_hand);
  tcase_add_test(tcase, the_page_of_fields_is_what_the_field_tables_give);
  tcase_add_test(tcase, the_examples_of_the_manual_print_what_it_shows);
  tcase_add_test(tcase, cautions_stand_where_results_touch_wires_and_batteries);
  suite_add_tcase(suite, tcase);
  return suite;
}
