/* No field is read without effect: for every field of the manual, tests/scripts/fields.lua changes
 * it in a small site, and what is written and printed must change, or an error say why it
 * cannot. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "site/fields.h"
#include "suites.h"

enum { MOST_FIELDS = 800, NAME_SIZE = 96 };

static char folder[FOLDER_SIZE];

/* An EPW file of clear invented days, so that weather.read has something to read. */
static void write_epw(const char *path) {
  static const int days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  FILE *file = fopen(path, "wb");
  ck_assert_ptr_nonnull(file);
  fputs(
      "LOCATION,Somewhere,-,XXX,invented,000000,40.0,-105.0,-7.0,1600.0\n"
      "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
      "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,\nCOMMENTS 2,\n"
      "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n",
      file);
  for (int month = 1; month <= 12; month++)
    for (int day = 1; day <= days[month - 1]; day++)
      for (int hour = 1; hour <= 24; hour++) {
        int sun = hour > 8 && hour < 17;
        fprintf(file,
                "1999,%d,%d,%d,60,?9?9,%d.0,0.0,50,84000,0,0,300,%d,%d,%d,0,0,0,0,180,2.0,5,5,20.0,"
                "77777,9,999999999,0,0,0,0,0.2,0,0\n",
                month, day, hour, hour, sun ? 400 : 0, sun ? 500 : 0, sun ? 150 : 0);
      }
  ck_assert_int_eq(fclose(file), 0);
}

/* A plain table of the same days whose columns stand in two forms each. */
static void write_table(const char *path) {
  static const int days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  FILE *file = fopen(path, "wb");
  ck_assert_ptr_nonnull(file);
  fputs(
      "stamp,german,later,global,global2,direct,direct2,diffuse,diffuse2,air,air2,wind,wind2,day,"
      "clock\n",
      file);
  for (int month = 1; month <= 12; month++)
    for (int day = 1; day <= days[month - 1]; day++)
      for (int hour = 0; hour < 24; hour++) {
        int sun = hour > 7 && hour < 16;
        fprintf(
            file,
            "1999-%02d-%02dT%02d:00,%02d.%02d.1999 %02d:00,1999-%02d-%02dT%02d:30,%d,%d,%d,%d,%d,"
            "%d,%d,%d,%d,%d,%02d.%02d.1999,%02d:00\n",
            month, day, hour, day, month, hour, month, day, hour, sun ? 400 : 0, sun ? 380 : 0,
            sun ? 500 : 0, sun ? 450 : 0, sun ? 150 : 0, sun ? 140 : 0, hour, hour + 2, 2, 3, day,
            month, hour);
      }
  ck_assert_int_eq(fclose(file), 0);
}

static void setup(void) {
  char path[FILE_PATH_SIZE];
  folder_make(folder);
  command_fixture(folder, "base.lua");
  command_fixture(folder, "fields.lua");
  write_epw(folder_path(folder, "flat.epw", path));
  write_table(folder_path(folder, "flat.csv", path));
}

static void teardown(void) { folder_remove(folder); }

/* --- the manual's fields --------------------------------------------------------------------- */

typedef struct manual_field {
  char name[3 * NAME_SIZE]; /* topic.field */
  char touches[16];
} manual_field;

/* The fields that `steading help manual` prints, in its order. */
static size_t manual_fields(manual_field fields[MOST_FIELDS]) {
  command_said run = COMMAND(folder, "help", "manual");
  char topic[NAME_SIZE] = "";
  size_t count = 0;
  ck_assert_int_eq(run.status, 0);
  for (char *line = strtok(run.out, "\n"); line != NULL; line = strtok(NULL, "\n")) {
    char name[NAME_SIZE];
    const char *last = strrchr(line, '|');
    if (sscanf(line, "## %40s", topic) == 1) continue;
    if (sscanf(line, "| `%40[a-z0-9_]` |", name) != 1) continue;
    ck_assert_uint_lt(count, MOST_FIELDS);
    snprintf(fields[count].name, sizeof fields[count].name, "%s.%s", topic, name);
    /* the last cell of the row */
    while (last > line && last[-1] != '|') last--;
    ck_assert_int_eq(sscanf(last, " %15[a-z] |", fields[count].touches), 1);
    count++;
  }
  command_free(&run);
  return count;
}

/* --- what a run gives ------------------------------------------------------------------------ */

typedef struct outcome {
  command_said said;
  char *energy; /* the frames of energy, without the bill */
  char *files;  /* all frames */
  char *labels; /* what stands beside the frames, without what differs from run to run */
} outcome;

static void append(char **to, const char *text, size_t length) {
  size_t used = *to == NULL ? 0 : strlen(*to);
  *to = realloc(*to, used + length + 1);
  ck_assert_ptr_nonnull(*to);
  memcpy(*to + used, text, length);
  (*to)[used + length] = '\0';
}

/* Without the last column if that is the bill. */
static void append_energy(char **to, const char *csv) {
  bool billed = strstr(csv, ",bill\n") != NULL;
  for (const char *line = csv; *line != '\0';) {
    size_t length = strcspn(line, "\n"), kept = length;
    if (billed)
      while (kept > 0 && line[kept] != ',') kept--;
    append(to, line, kept);
    append(to, "\n", 1);
    line += length + (line[length] == '\n');
  }
}

static void append_labels(char **to, const char *meta) {
  for (const char *line = meta; *line != '\0';) {
    size_t length = strcspn(line, "\n") + 1;
    if (strncmp(line, "  \"wall_s\"", 10) != 0 && strncmp(line, "  \"arguments\"", 13) != 0)
      append(to, line, length);
    line += length - (line[length - 1] == '\0');
  }
}

static outcome run_field(const char *value, const char *out) {
  static const char *const frames[] = {"annual", "monthly",   "hubs",
                                       "meters", "cash_flow", "purchases"};
  char setting[4 * NAME_SIZE], path[FILE_PATH_SIZE];
  outcome o = {.energy = NULL};
  snprintf(setting, sizeof setting, "field=%s", value);
  o.said = COMMAND(folder, "run", "fields.lua", "--set", setting, "--out", out);
  append(&o.energy, "", 0);
  append(&o.files, "", 0);
  append(&o.labels, "", 0);
  for (size_t i = 0; i < sizeof frames / sizeof frames[0]; i++) {
    char *text = NULL;
    append(&o.files, frames[i], strlen(frames[i]));
    snprintf(path, sizeof path, "%s/%s.csv", out, frames[i]);
    if (!command_has(folder, path)) continue;
    text = command_read(folder, path);
    append(&o.files, text, strlen(text));
    if (i < 4) append_energy(&o.energy, text);
    free(text);
    snprintf(path, sizeof path, "%s/%s.meta.json", out, frames[i]);
    text = command_read(folder, path);
    append_labels(&o.labels, text);
    free(text);
  }
  snprintf(path, sizeof path, "%s/%s", folder, out);
  if (command_has(folder, out)) folder_remove(path);
  return o;
}

static void outcome_free(outcome *o) {
  command_free(&o->said);
  free(o->energy);
  free(o->files);
  free(o->labels);
}

/* The reason that the row gives for an error, or NULL. */
static const char *refusal(const outcome *o, char reason[256]) {
  const char *at = strstr(o->said.out, "refused\t");
  if (at == NULL) return NULL;
  ck_assert_int_eq(sscanf(at, "refused\t%255[^\n]", reason), 1);
  return reason;
}

static void check_refused(const manual_field *field, const outcome *o, const char *reason) {
  char end[300];
  size_t length = (size_t)snprintf(end, sizeof end, ": %s\n", reason);
  ck_assert_msg(o->said.status == 2, "%s: exit status %d, the change should be refused",
                field->name, o->said.status);
  ck_assert_msg(
      o->said.err_length > length && strcmp(o->said.err + o->said.err_length - length, end) == 0,
      "%s: it said: %s", field->name, o->said.err);
}

static void check_changed(const manual_field *field, const outcome *base, const outcome *changed) {
  bool same_energy = strcmp(base->energy, changed->energy) == 0;
  bool same_files = strcmp(base->files, changed->files) == 0;
  bool same_text = strcmp(base->said.out, changed->said.out) == 0;
  bool same_labels = strcmp(base->labels, changed->labels) == 0;
  ck_assert_msg(changed->said.status == 0, "%s: exit status %d: %s", field->name,
                changed->said.status, changed->said.err);
  ck_assert_msg(!same_files || !same_text || !same_labels, "%s: its change changes nothing",
                field->name);
  /* and no more than the manual says */
  if (strcmp(field->touches, "money") == 0)
    ck_assert_msg(same_energy, "%s touches money, but energy changed", field->name);
  if (strcmp(field->touches, "label") == 0)
    ck_assert_msg(same_files, "%s is a label, but numbers changed", field->name);
}

/* One test runs a share of the fields, so that a field without effect does not hide the next
 * ones. */
enum { SHARES = 16 };

START_TEST(test_field_effects) {
  manual_field *fields = calloc(MOST_FIELDS, sizeof *fields);
  ck_assert_ptr_nonnull(fields);
  size_t count = manual_fields(fields);
  ck_assert_uint_gt(count, 150);
  for (size_t i = (size_t)_i; i < count; i += SHARES) {
    const manual_field *field = &fields[i];
    char name[4 * NAME_SIZE], reason[256];
    outcome base, changed;
    snprintf(name, sizeof name, "base of %s", field->name);
    base = run_field(name, "base");
    ck_assert_msg(base.said.status == 0, "%s: the base: exit status %d: %s", field->name,
                  base.said.status, base.said.err);
    changed = run_field(field->name, "changed");
    if (refusal(&changed, reason) != NULL)
      check_refused(field, &changed, reason);
    else
      check_changed(field, &base, &changed);
    outcome_free(&base);
    outcome_free(&changed);
  }
  free(fields);
}
END_TEST

/* Every row of fields.lua is a field of the manual: none is left over from a field that went. */
START_TEST(test_no_row_too_many) {
  manual_field *fields = calloc(MOST_FIELDS, sizeof *fields);
  ck_assert_ptr_nonnull(fields);
  size_t count = manual_fields(fields), rows = 0;
  command_said run = COMMAND(folder, "run", "fields.lua", "--set", "field=list");
  ck_assert_int_eq(run.status, 0);
  for (char *line = strtok(run.out, "\n"); line != NULL; line = strtok(NULL, "\n"), rows++) {
    bool found = false;
    for (size_t i = 0; i < count; i++) found = found || strcmp(fields[i].name, line) == 0;
    ck_assert_msg(found, "fields.lua has the row %s, the manual has no such field", line);
  }
  ck_assert_uint_eq(rows, count);
  command_free(&run);
  free(fields);
}
END_TEST

/* --- the manual is whole --------------------------------------------------------------------- */

static void check_spec(const steading_spec *spec, const char *manual) {
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    char row[NAME_SIZE];
    if (field->kind == STEADING_FIELD_refused) continue;
    if (field->kind == STEADING_FIELD_later)
      snprintf(row, sizeof row, " `%s`", field->name);
    else
      snprintf(row, sizeof row, "| `%s` | ", field->name);
    ck_assert_msg(strstr(manual, row) != NULL, "the manual lacks the field '%s' of '%s'",
                  field->name, spec->name);
    if (field->of != NULL) check_spec(field->of, manual);
    for (size_t k = 0; field->variants != NULL && field->variants[k] != NULL; k++)
      check_spec(field->variants[k], manual);
  }
}

START_TEST(test_manual_has_every_struct) {
  command_said run = COMMAND(folder, "help", "manual");
  ck_assert_int_eq(run.status, 0);
  check_spec(&steading_site_spec, run.out);
  check_spec(&steading_simulate_spec, run.out);
  check_spec(&steading_money_spec, run.out);
  check_spec(&steading_climate_fields_spec, run.out);
  check_spec(&steading_read_fields_spec, run.out);
  command_free(&run);
}
END_TEST

START_TEST(test_manual_file) {
  command_said run = COMMAND(folder, "help", "manual");
  char *file = NULL;
  ck_assert_msg(command_has("reference/manual", "fields.md"),
                "reference/manual/fields.md is not there: make manual");
  file = command_read("reference/manual", "fields.md");
  ck_assert_msg(
      strcmp(run.out, file) == 0,
      "reference/manual/fields.md is not what `steading help manual` prints: make manual");
  free(file);
  command_free(&run);
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

Suite *field_effects_suite(void) {
  Suite *suite = suite_create("field_effects");
  add_rows(suite, "every field of the manual changes what the manual says it touches",
           test_field_effects, SHARES);
  add_rows(suite, "there is no row for a field that is not in the manual", test_no_row_too_many, 1);
  add_rows(suite, "the manual has every field of every struct", test_manual_has_every_struct, 1);
  add_rows(suite, "the manual's page is what the command prints", test_manual_file, 1);
  return suite;
}
