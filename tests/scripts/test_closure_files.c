/* Energy is neither made nor lost: recomputed from the files that a run writes, not from what the
 * engine says of itself. The equations are the node equations that the manual states. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "readback.h"
#include "suites.h"

static const char *const variants[] = {"ac_coupled",
                                       "ac_coupled_off_grid",
                                       "charged_at_night",
                                       "charged_by_day",
                                       "from_july",
                                       "generator",
                                       "generator_off_grid",
                                       "much_export",
                                       "no_arrays",
                                       "no_battery",
                                       "no_export",
                                       "no_hub",
                                       "no_water",
                                       "off_grid",
                                       "pump_on_meter",
                                       "scarce_grid",
                                       "shed_takes_surplus",
                                       "sheds",
                                       "standby",
                                       "whole"};
enum { VARIANTS = sizeof variants / sizeof variants[0], YEARS = 2, HOURS = 8760, LINES = 25 };

static const int days_of_month[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

/* Each cell carries 12 digits, so that a sum of n cells is off by n / 2 units of the twelfth at
 * most; 1e-9 of what flows, plus 1 kWh, is beyond that. */
static const double closure = 1e-9;

static char folder[FOLDER_SIZE];

typedef struct results {
  csv_table annual, monthly, steps, hubs, hubs_monthly, meters, meters_monthly, losses, performance,
      fuel, classes;
  char *out;
} results;

static csv_table read_table(const char *name) {
  char *text = command_read(folder, name), why[256];
  csv_table table;
  ck_assert_msg(readback_csv(text, &table, why), "%s: %s", name, why);
  free(text);
  return table;
}

static results run_variant(const char *name) {
  results r;
  char setting[64];
  snprintf(setting, sizeof setting, "variant=%s", name);
  command_said run = COMMAND(folder, "run", "closure.lua", "--set", setting);
  ck_assert_msg(run.status == 0, "%s: it said: %s", name, run.err);
  r = (results){.annual = read_table("annual.csv"),
                .monthly = read_table("monthly.csv"),
                .steps = read_table("steps.csv"),
                .hubs = read_table("hubs.csv"),
                .hubs_monthly = read_table("hubs_monthly.csv"),
                .meters = read_table("meters.csv"),
                .meters_monthly = read_table("meters_monthly.csv"),
                .losses = read_table("losses.csv"),
                .classes = read_table("classes.csv"),
                .performance = read_table("performance.csv"),
                .fuel = read_table("fuel.csv"),
                .out = run.out};
  free(run.err);
  return r;
}

static void results_free(results *r) {
  readback_csv_free(&r->annual);
  readback_csv_free(&r->monthly);
  readback_csv_free(&r->steps);
  readback_csv_free(&r->hubs);
  readback_csv_free(&r->hubs_monthly);
  readback_csv_free(&r->meters);
  readback_csv_free(&r->meters_monthly);
  readback_csv_free(&r->losses);
  readback_csv_free(&r->classes);
  readback_csv_free(&r->performance);
  readback_csv_free(&r->fuel);
  free(r->out);
}

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
  command_fixture(folder, "closure.lua");
}

static void teardown(void) { folder_remove(folder); }

static const char *const site_terms[] = {"+pv_used_kwh",
                                         "+grid_import_kwh",
                                         "+generator_kwh",
                                         "-served_kwh",
                                         "-grid_export_kwh",
                                         "-inverter_loss_kwh",
                                         "-battery_loss_kwh",
                                         "-standby_kwh",
                                         "-stored_change_kwh",
                                         "-battery_heater_kwh",
                                         NULL};
static const char *const hub_terms[] = {"+pv_used_kwh",
                                        "+from_bus_kwh",
                                        "+generator_kwh",
                                        "-served_kwh",
                                        "-to_bus_kwh",
                                        "-inverter_loss_kwh",
                                        "-battery_loss_kwh",
                                        "-standby_kwh",
                                        "-stored_change_kwh",
                                        "-battery_heater_kwh",
                                        NULL};
/* The battery: in at its terminals, out at its terminals, lost, drawn by itself, stored. */
static const char *const battery_terms[] = {"+battery_charge_kwh", "-battery_discharge_kwh",
                                            "-battery_loss_kwh",   "-standby_kwh",
                                            "-stored_change_kwh",  NULL};
static const char *const load_terms[] = {"+load_kwh", "-served_kwh", "-unserved_kwh", "-shed_kwh",
                                         NULL};
static const char *const meter_terms[] = {"+load_kwh", "-served_kwh", "-unserved_kwh", NULL};
static const char *const sun_terms[] = {"+pv_available_kwh", "-pv_used_kwh", "-pv_curtailed_kwh",
                                        NULL};

static void check_balances(const results *r) {
  const csv_table *sites[] = {&r->annual, &r->monthly, &r->steps};
  const csv_table *hubs[] = {&r->hubs, &r->hubs_monthly},
                  *meters[] = {&r->meters, &r->meters_monthly};
  ck_assert_uint_eq(r->annual.rows, YEARS);
  ck_assert_uint_eq(r->monthly.rows, 12 * YEARS);
  ck_assert_uint_eq(r->steps.rows, HOURS * YEARS);
  for (int i = 0; i < 3; i++) {
    csv_check_balance(sites[i], "the site", site_terms, closure);
    csv_check_balance(sites[i], "the battery", battery_terms, closure);
    csv_check_balance(sites[i], "the load", load_terms, closure);
    if (i < 2) csv_check_balance(sites[i], "the sun", sun_terms, closure);
  }
  for (int i = 0; i < 2; i++) {
    csv_check_balance(hubs[i], "the hub", hub_terms, closure);
    csv_check_balance(hubs[i], "the hub's load", load_terms, closure);
    csv_check_balance(meters[i], "the meter's load", meter_terms, closure);
  }
}

/* On a meter's bus: import and what hubs give = export, what hubs take and what is served there. */
static void check_bus(const csv_table *hubs, const csv_table *meters) {
  ck_assert(hubs->rows == 0 || meters->rows == 0 || hubs->rows == meters->rows);
  for (size_t row = 0; row < meters->rows; row++) {
    double to_bus = hubs->rows > 0 ? csv_value(hubs, row, "to_bus_kwh") : 0;
    double from_bus = hubs->rows > 0 ? csv_value(hubs, row, "from_bus_kwh") : 0;
    double in = csv_value(meters, row, "grid_import_kwh") + to_bus;
    double out =
        csv_value(meters, row, "grid_export_kwh") + from_bus + csv_value(meters, row, "served_kwh");
    ck_assert_msg(fabs(in - out) <= closure * (in + out + 1),
                  "the bus, row %zu: %.12g kWh in, %.12g out", row + 1, in, out);
  }
}

static void check_whole_is_parts(const csv_table *whole, const csv_table *hubs,
                                 const csv_table *meters, const char *name) {
  for (size_t row = 0; row < whole->rows; row++) {
    double sum = 0, value = csv_value(whole, row, name);
    if (hubs->rows > 0 && csv_column(hubs, name) >= 0) sum += csv_value(hubs, row, name);
    if (meters->rows > 0 && csv_column(meters, name) >= 0) sum += csv_value(meters, row, name);
    ck_assert_msg(fabs(sum - value) <= closure * (fabs(value) + 1),
                  "%s, row %zu: the site has %.12g, its parts %.12g", name, row + 1, value, sum);
  }
}

static void check_parts(const results *r) {
  static const char *const names[] = {"load_kwh",          "served_kwh",       "unserved_kwh",
                                      "grid_import_kwh",   "grid_export_kwh",  "pv_used_kwh",
                                      "inverter_loss_kwh", "battery_loss_kwh", "standby_kwh",
                                      "generator_kwh",     "generator_hours"};
  check_bus(&r->hubs, &r->meters);
  check_bus(&r->hubs_monthly, &r->meters_monthly);
  for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
    check_whole_is_parts(&r->annual, &r->hubs, &r->meters, names[i]);
    check_whole_is_parts(&r->monthly, &r->hubs_monthly, &r->meters_monthly, names[i]);
  }
}

static bool ends_with(const char *text, const char *end) {
  size_t length = strlen(text), of_end = strlen(end);
  return length >= of_end && strcmp(text + length - of_end, end) == 0;
}

static bool is_sum(const char *name) {
  if (strcmp(name, "closure_error_kwh") == 0) return false; /* a size, not a flow */
  return ends_with(name, "_kwh") || ends_with(name, "_l") || ends_with(name, "_hours") ||
         strcmp(name, "bill") == 0 || strcmp(name, "generator_starts") == 0 ||
         strcmp(name, "equivalent_cycles") == 0;
}

static bool is_empty(const csv_table *table, size_t row, const char *name) {
  return csv_cell(table, row, (size_t)csv_column(table, name))[0] == '\0';
}

static void check_sums(const csv_table *fine, const csv_table *coarse, const size_t *counts,
                       const char *title) {
  for (size_t c = 0; c < coarse->columns; c++) {
    const char *name = csv_name(coarse, c);
    size_t at = 0;
    if (!is_sum(name) || csv_column(fine, name) < 0) continue;
    for (size_t row = 0; row < coarse->rows; at += counts[row], row++) {
      double sum = 0, through = 0;
      if (is_empty(coarse, row, name)) continue;
      for (size_t i = at; i < at + counts[row]; i++) {
        sum += csv_value(fine, i, name);
        through += fabs(csv_value(fine, i, name));
      }
      ck_assert_msg(fabs(sum - csv_value(coarse, row, name)) <= closure * (through + 1e-3),
                    "%s: %s, row %zu: %.12g, its parts sum to %.12g", title, name, row + 1,
                    csv_value(coarse, row, name), sum);
    }
  }
}

static void check_all_sums(const results *r) {
  size_t months[YEARS], hours[12 * YEARS];
  for (size_t i = 0; i < YEARS; i++) months[i] = 12;
  for (size_t i = 0; i < 12 * YEARS; i++)
    hours[i] = 24 * (size_t)days_of_month[(size_t)csv_value(&r->monthly, i, "month") - 1];
  check_sums(&r->monthly, &r->annual, months, "months and years");
  check_sums(&r->steps, &r->monthly, hours, "hours and months");
  if (r->hubs.rows > 0)
    check_sums(&r->hubs_monthly, &r->hubs, months, "the hub's months and years");
  if (r->meters.rows > 0)
    check_sums(&r->meters_monthly, &r->meters, months, "the meter's months and years");
}

/* Highest, lowest, counted and shared, from the hours. */
static void check_limits_and_shares(const results *r) {
  size_t at = 0;
  for (size_t row = 0; row < r->monthly.rows; row++) {
    size_t count = 24 * (size_t)days_of_month[(size_t)csv_value(&r->monthly, row, "month") - 1];
    double peak_import = 0, peak_load = 0, lowest = HUGE_VAL, tank = HUGE_VAL, lost = 0, clear = 0;
    double free_hours = csv_value(&r->monthly, row, "grid_free_hours"), load = 0, import = 0;
    for (size_t i = at; i < at + count; i++) {
      double taken = csv_value(&r->steps, i, "grid_import_kwh");
      double missing = csv_value(&r->steps, i, "unserved_kwh");
      double shed = csv_value(&r->steps, i, "shed_kwh");
      peak_import = fmax(peak_import, taken);
      peak_load = fmax(peak_load, csv_value(&r->steps, i, "load_kwh"));
      load += csv_value(&r->steps, i, "load_kwh");
      import += taken;
      lost += missing > 0;
      clear += taken <= 0.05 && missing == 0 && shed == 0; /* grid_free_below_kw's default */
      if (!is_empty(&r->steps, i, "state_of_charge"))
        lowest = fmin(lowest, csv_value(&r->steps, i, "state_of_charge"));
      if (!is_empty(&r->steps, i, "tank_share"))
        tank = fmin(tank, csv_value(&r->steps, i, "tank_share"));
    }
    at += count;
    ck_assert_double_eq(csv_value(&r->monthly, row, "peak_import_kw"), peak_import);
    ck_assert_double_eq_tol(csv_value(&r->monthly, row, "peak_load_kw"), peak_load,
                            1e-11 * peak_load);
    ck_assert_double_eq(csv_value(&r->monthly, row, "loss_of_load_hours"), lost);
    ck_assert_double_eq(free_hours, clear);
    ck_assert_double_eq_tol(csv_value(&r->monthly, row, "grid_free_hours_share"),
                            clear / (double)count, 1e-11);
    ck_assert_double_eq_tol(csv_value(&r->monthly, row, "grid_free_energy_share"),
                            1 - import / load, 1e-11);
    if (lowest < HUGE_VAL)
      ck_assert_double_eq(csv_value(&r->monthly, row, "lowest_state_of_charge"), lowest);
    if (tank < HUGE_VAL)
      ck_assert_double_eq(csv_value(&r->monthly, row, "lowest_tank_share"), tank);
  }
}

/* There is a reason exactly where something was imported or left unserved (to the rounding of a
 * power of 1e-9 kW below which nothing counts). */
static void check_reasons(const results *r) {
  size_t column = 0;
  while (column < r->steps.columns && strcmp(csv_name(&r->steps, column), "reason") != 0) column++;
  ck_assert_uint_lt(column, r->steps.columns);
  for (size_t row = 0; row < r->steps.rows; row++) {
    double missed =
        csv_value(&r->steps, row, "grid_import_kwh") + csv_value(&r->steps, row, "unserved_kwh");
    bool has_reason = csv_cell(&r->steps, row, column)[0] != '\0';
    if (missed > 3e-9 || missed == 0)
      ck_assert_msg(has_reason == (missed > 0), "row %zu: %g kWh, reason \"%s\"", row + 1, missed,
                    csv_cell(&r->steps, row, column));
  }
}

/* Charge stays within `usable`, tanks within empty and full; no flow is negative. */
static void check_bounds(const results *r) {
  for (size_t row = 0; row < r->steps.rows; row++) {
    for (size_t c = 1; c < r->steps.columns; c++) {
      const char *name = csv_name(&r->steps, c), *cell = csv_cell(&r->steps, row, c);
      double value = 0, low = 0, high = HUGE_VAL;
      if (cell[0] == '\0') continue;
      if (strcmp(name, "reason") == 0) continue;
      if (!is_csv_number(cell, &value)) ck_abort_msg("row %zu: %s is \"%s\"", row + 1, name, cell);
      if (strcmp(name, "stored_change_kwh") == 0) low = -HUGE_VAL;
      if (strcmp(name, "state_of_charge") == 0) low = 0.05 - 1e-9, high = 0.95 + 1e-9;
      if (strcmp(name, "tank_share") == 0) high = 1 + 1e-12;
      if (strcmp(name, "grid_import_kwh") == 0) high = 1.5 + 1e-12;
      if (strcmp(name, "grid_export_kwh") == 0) high = 10 + 1e-12;
      if (!(value >= low && value <= high)) ck_abort_msg("row %zu: %s is %g", row + 1, name, value);
    }
  }
}

/* A line of the losses that begin at row `first`. */
static double line_of(const csv_table *losses, size_t first, const char *line) {
  size_t column = (size_t)csv_column(losses, "line");
  for (size_t row = first; row < first + LINES; row++)
    if (strcmp(csv_cell(losses, row, column), line) == 0) return csv_value(losses, row, "kwh");
  ck_abort_msg("no line '%s'", line);
}

static double hub_sum(const results *r, size_t hub, const char *const *terms) {
  double sum = 0;
  for (; *terms != NULL; terms++)
    sum += (**terms == '+' ? 1 : -1) * csv_value(&r->hubs, hub, *terms + 1);
  return sum;
}

/* From the sun on the planes to the AC energy of the inverter, in each year: the lines add up to
 * the last one, those of the arrays to the sun that was available, and each other line is what the
 * hub's columns say. */
static void check_losses(const results *r, const char *variant) {
  static const char *const stored[] = {"+battery_delivered_kwh", "-battery_removed_kwh",
                                       "-battery_fade_kwh", "-stored_change_kwh", NULL};
  bool sunny = strcmp(variant, "no_arrays") != 0 && strcmp(variant, "no_hub") != 0;
  size_t group = (size_t)csv_column(&r->losses, "group");
  ck_assert_uint_eq(r->losses.rows, sunny ? LINES * YEARS : 0);
  ck_assert_uint_eq(r->performance.rows, sunny ? YEARS : 0);
  for (size_t y = 0; y < r->losses.rows / LINES; y++) {
    double sum = 0, capture = 0, size = 1, final = csv_value(&r->performance, y, "final_yield_h");
    double nominal = line_of(&r->losses, y * LINES, "nominal");
    double delivered = line_of(&r->losses, y * LINES, "delivered");
    double kw = nominal / csv_value(&r->performance, y, "reference_yield_h");
    for (size_t row = y * LINES; row < (y + 1) * LINES - 1; row++) {
      double kwh = csv_value(&r->losses, row, "kwh");
      sum += kwh;
      size += fabs(kwh);
      if (strcmp(csv_cell(&r->losses, row, group), "capture") == 0) capture += kwh;
      ck_assert_double_eq(csv_value(&r->losses, row, "year"), csv_value(&r->hubs, y, "year"));
    }
    ck_assert_double_eq_tol(sum, delivered, closure * size);
    ck_assert_double_eq_tol(capture, csv_value(&r->hubs, y, "pv_available_kwh"), closure * size);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "not_taken"),
                            -csv_value(&r->hubs, y, "pv_curtailed_kwh"), closure * size);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "battery_loss"),
                            -csv_value(&r->hubs, y, "battery_loss_kwh"), closure * size);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "battery_standby"),
                            -csv_value(&r->hubs, y, "standby_kwh"), closure * size);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "stored"), hub_sum(r, y, stored),
                            closure * size);
    /* the charger: 0.9 and 0.95 are the efficiencies of the variants with one */
    double charged = csv_value(&r->hubs, y, "charged_from_grid_kwh"), own = 0;
    double made = csv_value(&r->hubs, y, "charged_by_generator_kwh");
    double lost = strcmp(variant, "charged_by_day") == 0 ? 0.05 : 0.1;
    ck_assert_msg((charged > 100) == (strncmp(variant, "charged", 7) == 0), "%s charges %g kWh",
                  variant, charged);
    ck_assert_msg((made > 100) == (strncmp(variant, "generator", 9) == 0),
                  "the generator of %s charges %g kWh", variant, made);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "from_generator"), made, closure * size);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "from_grid"), charged, closure * size);
    ck_assert_double_eq_tol(line_of(&r->losses, y * LINES, "charger_loss"),
                            -lost * (charged + made), closure * size);
    own = delivered - (1 - lost) * (charged + made); /* the sun's: what the performance is of */
    ck_assert_double_eq_tol(final * kw, own, closure * size);
    ck_assert_double_eq_tol(csv_value(&r->performance, y, "array_yield_h") * kw,
                            csv_value(&r->hubs, y, "pv_used_kwh"), closure * size);
    ck_assert_double_eq_tol(csv_value(&r->performance, y, "performance_ratio"), own / nominal,
                            closure);
  }
  ck_assert(command_has(folder, "losses.meta.json"));
  ck_assert(command_has(folder, "performance.meta.json"));
}

/* Litres: what was there and what came, less what is there, is what was burnt; generators' hours,
 * starts and energy are those of the months. 120 and 2000 l are in the tanks at the start. */
static void check_fuel(const results *r, const char *variant) {
  bool truck = strcmp(variant, "generator") == 0, any = strncmp(variant, "generator", 9) == 0;
  double level = truck ? 120 : 2000, trucks = 0, dry = 0;
  ck_assert_uint_eq(r->fuel.rows, any ? 12 * YEARS : 0);
  for (size_t row = 0; row < r->fuel.rows; row++) {
    double used = csv_value(&r->fuel, row, "used_l"), end = csv_value(&r->fuel, row, "level_l");
    double came = csv_value(&r->fuel, row, "delivered_l");
    ck_assert_double_eq_tol(end, level + came - used, 1e-8);
    level = end;
    trucks += csv_value(&r->fuel, row, "deliveries");
    dry += csv_value(&r->fuel, row, "hours_without_fuel");
    ck_assert_double_eq(csv_value(&r->fuel, row, "hours"),
                        csv_value(&r->monthly, row, "generator_hours"));
    ck_assert_double_eq(csv_value(&r->fuel, row, "starts"),
                        csv_value(&r->monthly, row, "generator_starts"));
    ck_assert_double_eq(csv_value(&r->fuel, row, "generator_kwh"),
                        csv_value(&r->monthly, row, "generator_kwh"));
    ck_assert_double_eq_tol(
        csv_value(&r->fuel, row, "cost"),
        truck ? used * 0.8 + csv_value(&r->fuel, row, "deliveries") * 20 + 5 : used * 1.1, 1e-8);
    if (truck && csv_value(&r->fuel, row, "month") == 4) ck_assert_double_eq(came, 0);
  }
  if (any) ck_assert_msg((trucks > 1) == truck, "%s: %g trucks", variant, trucks);
  if (any) ck_assert_msg(dry > 0, "%s: never without fuel", variant);
}

/* Classes of loads by month: a row is what it got and did not get, essential loads are never shed,
 * and of the hub and the meter all rows are what the monthly frames say, but for the pump of the
 * well, which is of no class. */
static void check_classes(const results *r, const char *variant) {
  static const char *const names[] = {"served_kwh", "unserved_kwh", "shed_kwh"};
  size_t class_of = (size_t)csv_column(&r->classes, "class");
  double shed = 0;
  for (size_t row = 0; row < r->classes.rows; row++) {
    double load = csv_value(&r->classes, row, "load_kwh"), sum = 0;
    for (int i = 0; i < 3; i++) sum += csv_value(&r->classes, row, names[i]);
    ck_assert_double_eq_tol(sum, load, closure * (1 + load));
    shed += csv_value(&r->classes, row, "shed_kwh");
    if (strcmp(csv_cell(&r->classes, row, class_of), "essential") == 0)
      ck_assert_double_eq(csv_value(&r->classes, row, "shed_kwh"), 0);
  }
  ck_assert_msg((shed > 100) == (strcmp(variant, "sheds") == 0), "%s sheds %g kWh", variant, shed);
  for (size_t m = 0; m < r->monthly.rows; m++) {
    double load = 0, missing = 0, gone = 0;
    for (size_t row = 0; row < r->classes.rows; row++) {
      if (csv_value(&r->classes, row, "year") != csv_value(&r->monthly, m, "year") ||
          csv_value(&r->classes, row, "month") != csv_value(&r->monthly, m, "month"))
        continue;
      load += csv_value(&r->classes, row, "load_kwh");
      missing += csv_value(&r->classes, row, "unserved_kwh");
      gone += csv_value(&r->classes, row, "shed_kwh");
    }
    load += csv_value(&r->monthly, m, "pump_kwh");
    ck_assert_double_eq_tol(load, csv_value(&r->monthly, m, "load_kwh"), closure * (1 + load));
    ck_assert_double_eq_tol(missing, csv_value(&r->monthly, m, "unserved_kwh"),
                            closure * (1 + load));
    ck_assert_double_eq_tol(gone, csv_value(&r->monthly, m, "shed_kwh"), closure * (1 + load));
  }
}

/* Every hour of two years of 365 days has its label, with the offset of standard time. */
START_TEST(test_labels) {
  results r = run_variant("from_july");
  int year = 2027, month = 7, day = 1, hour = 0;
  for (size_t row = 0; row < r.steps.rows; row++) {
    char label[64];
    snprintf(label, sizeof label, "%04d-%02d-%02dT%02d:00:00-07:00", year, month, day, hour);
    if (strcmp(csv_cell(&r.steps, row, 0), label) != 0)
      ck_abort_msg("row %zu: \"%s\", expected \"%s\"", row + 1, csv_cell(&r.steps, row, 0), label);
    if (++hour < 24) continue;
    hour = 0;
    if (++day <= days_of_month[month - 1]) continue;
    day = 1;
    if (++month <= 12) continue;
    month = 1;
    year++;
  }
  for (size_t row = 0; row < r.monthly.rows; row++) {
    ck_assert_double_eq(csv_value(&r.monthly, row, "year"), 2027 + (double)((6 + row) / 12));
    ck_assert_double_eq(csv_value(&r.monthly, row, "month"), (double)((6 + row) % 12 + 1));
  }
  results_free(&r);
}
END_TEST

/* Bills by hand: 30 a month, 0.20 a day and 0.14 a kWh (base.lua). Civil and standard months differ
 * by an hour at their ends, so that whole runs are compared. February bills 28 days. */
START_TEST(test_bills) {
  results r = run_variant("whole");
  double bills = 0, import = 0;
  for (size_t row = 0; row < r.meters_monthly.rows; row++) {
    bills += csv_value(&r.meters_monthly, row, "bill");
    import += csv_value(&r.meters_monthly, row, "grid_import_kwh");
  }
  ck_assert_double_eq_tol(bills, YEARS * (12 * 30 + 365 * 0.2) + 0.14 * import, 1e-8);
  results_free(&r);
}
END_TEST

/* totals are the sums over the period, per_year the same over the years; shares are equal. */
static void check_scalars(const results *r) {
  int seen = 0;
  for (char *line = strtok(r->out, "\n"); line != NULL; line = strtok(NULL, "\n")) {
    char which[16], name[64], text[64];
    double value = 0, sum = 0;
    ck_assert_int_eq(sscanf(line, "%15s %63s %63s", which, name, text), 3);
    if (!is_sum(name) || strcmp(text, "none") == 0) continue;
    value = strtod(text, NULL);
    for (size_t row = 0; row < r->annual.rows; row++) sum += csv_value(&r->annual, row, name);
    if (strcmp(which, "per_year") == 0) sum /= YEARS;
    /* print shows 14 digits */
    ck_assert_msg(fabs(value - sum) <= closure * (fabs(sum) + 1), "%s.%s is %.12g, expected %.12g",
                  which, name, value, sum);
    seen++;
  }
  ck_assert_int_gt(seen, 30);
}

START_TEST(test_every_variant) {
  command_said run = COMMAND(folder, "run", "closure.lua", "--set", "variant=list");
  char list[1024] = "";
  for (int i = 0; i < VARIANTS; i++) {
    strcat(list, variants[i]);
    strcat(list, "\n");
  }
  command_check(&run, 0, list, NULL, "the variants");
}
END_TEST

START_TEST(test_variant) {
  results r = run_variant(variants[_i]);
  check_balances(&r);
  check_parts(&r);
  check_all_sums(&r);
  check_limits_and_shares(&r);
  check_bounds(&r);
  check_reasons(&r);
  check_losses(&r, variants[_i]);
  check_fuel(&r, variants[_i]);
  check_classes(&r, variants[_i]);
  check_scalars(&r);
  results_free(&r);
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

Suite *closure_files_suite(void) {
  Suite *suite = suite_create("closure_files");
  add_rows(suite, "every site that the fixture can make is tested", test_every_variant, 1);
  add_rows(suite,
           "what comes in goes out or stays, parts and hours add up, levels keep within bounds",
           test_variant, VARIANTS);
  add_rows(suite, "hours and months have their dates, without 29 February", test_labels, 1);
  add_rows(suite, "bills are what the tariff says by hand", test_bills, 1);
  return suite;
}
