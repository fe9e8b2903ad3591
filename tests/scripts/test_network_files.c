/* The written results of a site of several hubs, meters, wells and tanks whose parts come and go:
 * the balance, and every month and part, recomputed from the files; in hours and in quarters. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "readback.h"
#include "suites.h"

enum { HOURS = 8760 };

static const int days_of_month[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

/* Each cell carries 12 digits: 1e-9 of what flows, plus 1 kWh, is beyond their rounding. */
static const double closure = 1e-9;

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "network.lua");
}

static void teardown(void) { folder_remove(folder); }

static csv_table read_table(const char *name) {
  char *text = command_read(folder, name), why[256];
  csv_table table;
  ck_assert_msg(readback_csv(text, &table, why), "%s: %s", name, why);
  free(text);
  return table;
}

static void simulate(const char *minutes, const char *piece) {
  command_said run = COMMAND(folder, "run", "network.lua", "--set", minutes, "--set", piece);
  ck_assert_msg(run.status == 0, "it said: %s", run.err);
  command_free(&run);
}

static const char *const site_terms[] = {"+pv_used_kwh",
                                         "+grid_import_kwh",
                                         "+battery_delivered_kwh",
                                         "-served_kwh",
                                         "-grid_export_kwh",
                                         "-inverter_loss_kwh",
                                         "-battery_loss_kwh",
                                         "-standby_kwh",
                                         "-battery_removed_kwh",
                                         "-battery_fade_kwh",
                                         "-stored_change_kwh",
                                         "-battery_heater_kwh",
                                         NULL};
static const char *const hub_terms[] = {"+pv_used_kwh",
                                        "+from_bus_kwh",
                                        "+battery_delivered_kwh",
                                        "-served_kwh",
                                        "-to_bus_kwh",
                                        "-inverter_loss_kwh",
                                        "-battery_loss_kwh",
                                        "-standby_kwh",
                                        "-battery_removed_kwh",
                                        "-battery_fade_kwh",
                                        "-stored_change_kwh",
                                        "-battery_heater_kwh",
                                        NULL};
static const char *const battery_terms[] = {
    "+battery_charge_kwh", "+battery_delivered_kwh", "-battery_discharge_kwh",
    "-battery_loss_kwh",   "-standby_kwh",           "-battery_removed_kwh",
    "-battery_fade_kwh",   "-stored_change_kwh",     NULL};
static const char *const load_terms[] = {"+load_kwh", "-served_kwh", "-unserved_kwh", "-shed_kwh",
                                         NULL};
static const char *const meter_terms[] = {"+load_kwh", "-served_kwh", "-unserved_kwh", NULL};
static const char *const sun_terms[] = {"+pv_available_kwh", "-pv_used_kwh", "-pv_curtailed_kwh",
                                        NULL};

/* Rows of a month whose column `by` has one of the names (a list with a blank before and behind
 * each), added up. */
static double of_parts(const csv_table *table, const char *by, const char *names, double month,
                       const char *column) {
  double sum = 0;
  for (size_t row = 0; row < table->rows; row++) {
    char name[40];
    if (csv_value(table, row, "month") != month) continue;
    snprintf(name, sizeof name, " %s ", csv_cell(table, row, (size_t)csv_column(table, by)));
    if (strstr(names, name) != NULL) sum += csv_value(table, row, column);
  }
  return sum;
}

static void check_bus(const csv_table *hubs, const csv_table *meters, const char *meter,
                      const char *behind) {
  for (int m = 1; m <= 12; m++) {
    double in = of_parts(meters, "meter", meter, m, "grid_import_kwh") +
                of_parts(hubs, "hub", behind, m, "to_bus_kwh");
    double out = of_parts(meters, "meter", meter, m, "grid_export_kwh") +
                 of_parts(meters, "meter", meter, m, "served_kwh") +
                 of_parts(hubs, "hub", behind, m, "from_bus_kwh");
    ck_assert_msg(fabs(in - out) <= closure * (in + out + 1), "%s in month %d: %.12g in, %.12g out",
                  meter, m, in, out);
  }
}

static void check_parts(const csv_table *site, const csv_table *hubs, const csv_table *meters) {
  static const char *const names[] = {
      "load_kwh",          "served_kwh",          "unserved_kwh",         "grid_import_kwh",
      "grid_export_kwh",   "pv_available_kwh",    "pv_used_kwh",          "battery_charge_kwh",
      "inverter_loss_kwh", "battery_loss_kwh",    "standby_kwh",          "battery_discharge_kwh",
      "stored_change_kwh", "battery_removed_kwh", "battery_delivered_kwh"};
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
    for (size_t row = 0; row < 12; row++) {
      double sum = 0, value = csv_value(site, row, names[i]), month = (double)row + 1;
      if (csv_column(hubs, names[i]) >= 0)
        sum += of_parts(hubs, "hub", " barn  mill  lodge  cabin ", month, names[i]);
      if (csv_column(meters, names[i]) >= 0)
        sum += of_parts(meters, "meter", " yard  road ", month, names[i]);
      ck_assert_msg(fabs(sum - value) <= closure * (fabs(value) + 1),
                    "%s, month %zu: the site has %.12g, its parts %.12g", names[i], row + 1, value,
                    sum);
    }
}

static bool ends_with(const char *text, const char *end) {
  size_t length = strlen(text), of_end = strlen(end);
  return length >= of_end && strcmp(text + length - of_end, end) == 0;
}

static void check_months(const csv_table *steps, const csv_table *months, size_t a_day) {
  int seen = 0;
  for (size_t c = 0; c < months->columns; c++) {
    const char *name = csv_name(months, c);
    size_t at = 0;
    if (!ends_with(name, "_kwh") && !ends_with(name, "_l")) continue;
    if (csv_column(steps, name) < 0) continue;
    seen++;
    for (size_t row = 0; row < 12; row++) {
      double sum = 0, through = 0;
      for (size_t i = 0; i < a_day * (size_t)days_of_month[row]; i++, at++) {
        sum += csv_value(steps, at, name);
        through += fabs(csv_value(steps, at, name));
      }
      ck_assert_msg(fabs(sum - csv_value(months, row, name)) <= closure * (through + 1e-3),
                    "%s, month %zu: %.12g, its steps sum to %.12g", name, row + 1,
                    csv_value(months, row, name), sum);
    }
  }
  ck_assert_int_ge(seen, 18);
}

/* Modules of 5.1 kWh: two arrive on 9 March with 0.6, one on 3 July with 0.3; of the four of the
 * barn two leave on 20 October. Nothing else is brought or taken, and that at midnight. */
static void check_lots(const csv_table *steps) {
  double delivered = 0, removed = 0;
  for (size_t row = 0; row < steps->rows; row++) {
    const char *time = csv_cell(steps, row, 0);
    double brought = csv_value(steps, row, "battery_delivered_kwh");
    double taken = csv_value(steps, row, "battery_removed_kwh");
    if (strncmp(time, "2027-03-09T00:00:00", 19) == 0)
      ck_assert_double_eq_tol(brought, 0.6 * 2 * 5.1, 1e-10);
    else if (strncmp(time, "2027-07-03T00:00:00", 19) == 0)
      ck_assert_double_eq_tol(brought, 0.3 * 5.1, 1e-10);
    else if (brought != 0)
      ck_abort_msg("%s: %g kWh are brought", time, brought);
    if (strncmp(time, "2027-10-20T00:00:00", 19) != 0 && taken != 0)
      ck_abort_msg("%s: %g kWh are taken", time, taken);
    delivered += brought;
    removed += taken;
  }
  ck_assert_double_eq_tol(delivered, 7.65, 1e-9);
  ck_assert_double_gt(removed, 0.05 * 2 * 5.1); /* at least what is not usable */
  ck_assert_double_lt(removed, 0.95 * 2 * 5.1);
}

static void check_labels(const csv_table *steps, int minutes) {
  int month = 1, day = 1, minute = 0;
  for (size_t row = 0; row < steps->rows; row++) {
    char label[64];
    snprintf(label, sizeof label, "2027-%02d-%02dT%02d:%02d:00-07:00", month, day, minute / 60,
             minute % 60);
    if (strcmp(csv_cell(steps, row, 0), label) != 0)
      ck_abort_msg("row %zu: \"%s\", expected \"%s\"", row + 1, csv_cell(steps, row, 0), label);
    minute += minutes;
    if (minute < 1440) continue;
    minute = 0;
    if (++day <= days_of_month[month - 1]) continue;
    day = 1;
    month++;
  }
}

START_TEST(test_network) {
  const int minutes = _i == 0 ? 60 : 15;
  csv_table steps, months, hubs, meters;
  simulate(_i == 0 ? "minutes=60" : "minutes=15", "piece=");
  steps = read_table("steps.csv");
  months = read_table("monthly.csv");
  hubs = read_table("hubs.csv");
  meters = read_table("meters.csv");
  ck_assert_uint_eq(steps.rows, (size_t)(HOURS * 60 / minutes));
  ck_assert_uint_eq(months.rows, 12);
  ck_assert_uint_eq(hubs.rows, 48);
  ck_assert_uint_eq(meters.rows, 24);
  csv_check_balance(&steps, "a step of the site", site_terms, closure);
  csv_check_balance(&months, "a month of the site", site_terms, closure);
  csv_check_balance(&hubs, "a month of a hub", hub_terms, closure);
  csv_check_balance(&steps, "the batteries", battery_terms, closure);
  csv_check_balance(&hubs, "a month of a battery", battery_terms, closure);
  csv_check_balance(&steps, "the load", load_terms, closure);
  csv_check_balance(&meters, "a meter's load", meter_terms, closure);
  csv_check_balance(&hubs, "a hub's sun", sun_terms, closure);
  check_bus(&hubs, &meters, " yard ", " barn  mill ");
  check_bus(&hubs, &meters, " road ", " lodge ");
  check_bus(&hubs, &meters, " ", " cabin ");
  check_parts(&months, &hubs, &meters);
  check_months(&steps, &months, (size_t)(1440 / minutes));
  check_lots(&steps);
  check_labels(&steps, minutes);
  readback_csv_free(&steps);
  readback_csv_free(&months);
  readback_csv_free(&hubs);
  readback_csv_free(&meters);
}
END_TEST

/* Two days, three columns in the order asked for: the same cells as in a run that keeps all. */
START_TEST(test_piece) {
  const size_t first = 96 * (31 + 28 + 13);
  csv_table all, some;
  simulate("minutes=15", "piece=");
  all = read_table("steps.csv");
  simulate("minutes=15", "piece=yes");
  some = read_table("steps.csv");
  ck_assert_uint_eq(some.columns, 3);
  ck_assert_uint_eq(some.rows, 2 * 96);
  ck_assert_str_eq(csv_name(&some, 0), "served_kwh");
  ck_assert_str_eq(csv_name(&some, 1), "grid_import_kwh");
  ck_assert_str_eq(csv_name(&some, 2), "time");
  for (size_t row = 0; row < some.rows; row++)
    for (size_t c = 0; c < 3; c++)
      ck_assert_str_eq(csv_cell(&some, row, c),
                       csv_cell(&all, first + row, (size_t)csv_column(&all, csv_name(&some, c))));
  readback_csv_free(&all);
  readback_csv_free(&some);
}
END_TEST

Suite *network_files_suite(void) {
  Suite *suite = suite_create("network_files");
  TCase *tests = tcase_create("several hubs whose parts come and go add up in the files");
  tcase_add_checked_fixture(tests, setup, teardown);
  tcase_add_loop_test(tests, test_network, 0, 2);
  tcase_add_test(tests, test_piece);
  tcase_set_timeout(tests, COMMAND_TEST_SECONDS);
  suite_add_tcase(suite, tests);
  return suite;
}
