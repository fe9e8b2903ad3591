#include "files/table.h"

#include <csv.h>
#include <math.h>
#include <stdint.h>

#include "files/folder.h"
#include "random.h"
#include "suites.h"

/* The table's CSV as bytes. */
static char *csv_of(const steading_table *table, size_t *length) {
  char folder[FOLDER_SIZE], path[FILE_PATH_SIZE], *bytes = NULL;
  steading_writer *writer = NULL;
  folder_make(folder);
  ck_assert_int_eq(steading_writer_open(folder_path(folder, "t.csv", path), &writer, NULL),
                   STEADING_OK);
  steading_table_write_csv(table, writer);
  ck_assert_int_eq(steading_writer_commit(writer, NULL), STEADING_OK);
  bytes = folder_read(path, length);
  folder_remove(folder);
  return bytes;
}

static void assert_csv(const steading_table *table, const char *expected) {
  size_t length = 0;
  char *bytes = csv_of(table, &length);
  ck_assert_str_eq(bytes, expected);
  ck_assert_uint_eq(length, strlen(expected));
  free(bytes);
}

/* One text column "t" beside a number column "n"; the text in row 0. */
static void assert_text_cell(const char *text, const char *expected_cell) {
  static const char *const names[] = {"n", "t"};
  static const bool is_text[] = {false, true};
  char expected[200];
  steading_table *table = steading_table_new(2, names, is_text);
  ck_assert_ptr_nonnull(table);
  ck_assert_int_eq(steading_table_add_row(table), STEADING_OK);
  table->columns[0].numbers[0] = 1;
  ck_assert_int_eq(steading_table_set_text(table, 0, 1, text), STEADING_OK);
  snprintf(expected, sizeof expected, "n,t\n1,%s\n", expected_cell);
  assert_csv(table, expected);
  steading_table_free(table);
}

START_TEST(numbers_stand_bare_and_missing_ones_are_empty) {
  static const char *const names[] = {"hour", "import_kwh", "state"};
  static const bool is_text[] = {false, false, true};
  steading_table *table = steading_table_new(3, names, is_text);
  ck_assert_ptr_nonnull(table);
  assert_csv(table, "hour,import_kwh,state\n");
  for (int i = 0; i < 5; i++) ck_assert_int_eq(steading_table_add_row(table), STEADING_OK);
  for (size_t i = 0; i < 4; i++) table->columns[0].numbers[i] = (double)i;
  table->columns[1].numbers[0] = 1.0 / 3;
  table->columns[1].numbers[1] = -0.0;
  table->columns[1].numbers[2] = (double)INFINITY;
  table->columns[1].numbers[3] = (double)-INFINITY;
  ck_assert_int_eq(steading_table_set_text(table, 0, 2, "on"), STEADING_OK);
  ck_assert_int_eq(steading_table_set_text(table, 1, 2, "off"), STEADING_OK);
  ck_assert_int_eq(steading_table_set_text(table, 1, 2, NULL), STEADING_OK);
  assert_csv(table, "hour,import_kwh,state\n0,0.333333333333,on\n1,0,\n2,,\n3,,\n,,\n");
  steading_table_free(table);
}
END_TEST

/* RFC 4180, section 2, rules 5 to 7. */
START_TEST(text_is_quoted_only_where_it_must_be) {
  assert_text_cell("plain text; with 'marks' and \xc3\xa9",
                   "plain text; with 'marks' and \xc3\xa9");
  assert_text_cell("a,b", "\"a,b\"");
  assert_text_cell("say \"so\"", "\"say \"\"so\"\"\"");
  assert_text_cell("\"", "\"\"\"\"");
  assert_text_cell("two\nlines", "\"two\nlines\"");
  assert_text_cell("two\r\nlines", "\"two\r\nlines\"");
  assert_text_cell(" leading", "\" leading\"");
  assert_text_cell("trailing\t", "\"trailing\t\"");
  assert_text_cell(" ", "\" \"");
  assert_text_cell("", "");
  assert_text_cell(NULL, "");
}
END_TEST

/* OWASP, "CSV Injection": = + - @, tab and carriage return at the front. */
START_TEST(text_that_a_spreadsheet_would_run_gets_an_apostrophe) {
  assert_text_cell("=1+1", "'=1+1");
  assert_text_cell("+44", "'+44");
  assert_text_cell("-3", "'-3");
  assert_text_cell("@sum", "'@sum");
  assert_text_cell("\tx", "\"'\tx\"");
  assert_text_cell("\rx", "\"'\rx\"");
  assert_text_cell("=a,\"b\"", "\"'=a,\"\"b\"\"\"");
  assert_text_cell("a=1", "a=1");
  assert_text_cell("'=1", "'=1");
}
END_TEST

START_TEST(a_row_of_one_empty_cell_is_no_empty_line) {
  static const char *const names[] = {"payback_years"};
  static const bool is_text[] = {false};
  steading_table *table = steading_table_new(1, names, is_text);
  ck_assert_ptr_nonnull(table);
  for (int i = 0; i < 2; i++) ck_assert_int_eq(steading_table_add_row(table), STEADING_OK);
  table->columns[0].numbers[1] = 4;
  assert_csv(table, "payback_years\n\"\"\n4\n");
  steading_table_free(table);
}
END_TEST

START_TEST(a_header_is_text_too) {
  static const char *const names[] = {"a,b", "=c"};
  static const bool is_text[] = {false, true};
  steading_table *table = steading_table_new(2, names, is_text);
  ck_assert_ptr_nonnull(table);
  assert_csv(table, "\"a,b\",'=c\n");
  steading_table_free(table);
}
END_TEST

/* --- read back by another reader --------------------------------------------------------------- */

enum { ROWS = 1000 };

typedef struct read_back {
  const steading_table *table;
  size_t row, column;
} read_back;

static void on_cell(void *bytes, size_t length, void *data) {
  read_back *r = data;
  const steading_column *column = NULL;
  ck_assert_uint_lt(r->column, r->table->column_count);
  column = &r->table->columns[r->column++];
  if (r->row == 0) {
    ck_assert_uint_eq(length, strlen(column->name));
    ck_assert_mem_eq(bytes, column->name, length);
  } else if (column->is_text) {
    const char *text = column->texts[r->row - 1];
    const char *cell = bytes;
    bool guarded = text != NULL && text[0] != '\0' && strchr("=+-@\t\r", text[0]) != NULL;
    if (guarded) {
      ck_assert_uint_gt(length, 0);
      ck_assert_int_eq(cell[0], '\'');
      cell++;
      length--;
    }
    ck_assert_uint_eq(length, text == NULL ? 0 : strlen(text));
    if (length > 0) ck_assert_mem_eq(cell, text, length);
  } else if (isnan(column->numbers[r->row - 1])) {
    ck_assert_uint_eq(length, 0);
  } else {
    char copy[40] = "";
    double value = column->numbers[r->row - 1];
    ck_assert_uint_lt(length, sizeof copy);
    memcpy(copy, bytes, length);
    /* Twelve significant digits: half a unit of the twelfth, relative to the smallest mantissa. */
    ck_assert_double_le(fabs(strtod(copy, NULL) - value), 5e-12 * fabs(value));
  }
}

static void on_row(int end, void *data) {
  read_back *r = data;
  (void)end;
  ck_assert_uint_eq(r->column, r->table->column_count);
  r->column = 0;
  r->row++;
}

static void set_random_row(steading_table *table, size_t row) {
  static const char letters[] = "ab,\"\n\r\t =+-@';\xc3\xa9";
  uint64_t bits = steading_random_bits(6, 0, 9, row);
  char text[12] = "";
  double value = 0;
  memcpy(&value, &bits, sizeof value);
  table->columns[0].numbers[row] = isfinite(value) && fabs(value) > 1e-300 ? value : (double)NAN;
  for (size_t i = 0; i < bits % 11; i++)
    text[i] = letters[(bits >> (4 + 5 * i)) % (sizeof letters - 1)];
  ck_assert_int_eq(
      steading_table_set_text(table, row, 1, bits % 17 == 0 ? NULL : text), STEADING_OK);
}

START_TEST(what_is_written_another_reader_reads_back) {
  static const char *const names[] = {"value", "note"};
  static const bool is_text[] = {false, true};
  steading_table *table = steading_table_new(2, names, is_text);
  read_back r = {.table = table};
  struct csv_parser parser;
  size_t length = 0;
  char *bytes = NULL;
  ck_assert_ptr_nonnull(table);
  for (size_t row = 0; row < ROWS; row++) {
    ck_assert_int_eq(steading_table_add_row(table), STEADING_OK);
    set_random_row(table, row);
  }
  bytes = csv_of(table, &length);
  ck_assert_int_eq(csv_init(&parser, CSV_STRICT), 0);
  ck_assert_uint_eq(csv_parse(&parser, bytes, length, on_cell, on_row, &r), length);
  ck_assert_int_eq(csv_fini(&parser, on_cell, on_row, &r), 0);
  csv_free(&parser);
  ck_assert_uint_eq(r.row, ROWS + 1);
  free(bytes);
  steading_table_free(table);
}
END_TEST

Suite *table_suite(void) {
  Suite *suite = suite_create("table");
  TCase *tcase = tcase_create("csv");
  tcase_add_test(tcase, numbers_stand_bare_and_missing_ones_are_empty);
  tcase_add_test(tcase, text_is_quoted_only_where_it_must_be);
  tcase_add_test(tcase, text_that_a_spreadsheet_would_run_gets_an_apostrophe);
  tcase_add_test(tcase, a_row_of_one_empty_cell_is_no_empty_line);
  tcase_add_test(tcase, a_header_is_text_too);
  tcase_add_test(tcase, what_is_written_another_reader_reads_back);
  suite_add_tcase(suite, tcase);
  return suite;
}
