#include <csv.h>
#include <math.h>
#include <stdint.h>

#include "files/folder.h"
#include "files/table.h"
#include "files/table_read.h"
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
  /* an apostrophe that was there already is told from ours by one more */
  assert_text_cell("'=1", "''=1");
  assert_text_cell("''-", "'''-");
  assert_text_cell("'tis", "'tis");
  assert_text_cell("'", "'");
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
  static const char *const names[] = {"a,b", "=c", "d;e"};
  static const bool is_text[] = {false, true, false};
  steading_table *table = steading_table_new(3, names, is_text);
  ck_assert_ptr_nonnull(table);
  assert_csv(table, "\"a,b\",'=c,\"d;e\"\n");
  steading_table_free(table);
}
END_TEST

/* --- read back by another reader ---------------------------------------------------------------
 */

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
    size_t own = text == NULL ? 0 : strspn(text, "'");
    bool guarded = text != NULL && text[own] != '\0' && strchr("=+-@\t\r", text[own]) != NULL;
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
  ck_assert_int_eq(steading_table_set_text(table, row, 1, bits % 17 == 0 ? NULL : text),
                   STEADING_OK);
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

/* --- reading ------------------------------------------------------------------------------------
 */

static steading_status read_with(const char *csv, const steading_csv_options *options,
                                 steading_table **table, steading_error *error) {
  return steading_table_read_csv(csv, strlen(csv), "in.csv", options, table, error);
}

/* What was read, written again: the writer is tested above. */
static void assert_reads(const char *csv, const steading_csv_options *options,
                         const char *expected) {
  steading_error error = {.text = ""};
  steading_table *table = NULL;
  char *bytes = NULL;
  size_t length = 0;
  steading_status status = read_with(csv, options, &table, &error);
  ck_assert_msg(status == STEADING_OK, "%s: %s: %s", csv, error.path, error.text);
  bytes = csv_of(table, &length);
  ck_assert_msg(strcmp(bytes, expected) == 0, "%s was read as %s, expected %s", csv, bytes,
                expected);
  free(bytes);
  steading_table_free(table);
}

typedef struct read_row {
  const char *csv, *expected; /* what was read, written again; or the error */
  steading_csv_options options;
} read_row;

static const char *const dashes[] = {"NaN", "-"};

static const read_row read_rows[] = {
    /* RFC 4180, section 2, rules 1 to 7 */
    {"a,b\r\n1,x\r\n2,y\r\n", "a,b\n1,x\n2,y\n", {0}},
    {"a,b\n1,x\n2,y", "a,b\n1,x\n2,y\n", {0}},
    {"\"a\",\"b\"\n\"1\",\"x \"\"y\"\", z\"\n", "a,b\n1,\"x \"\"y\"\", z\"\n", {0}},
    {"a,b\n1,\"two\nlines\"\n3,c\n", "a,b\n1,\"two\nlines\"\n3,c\n", {0}},
    /* what files really have */
    {"\xEF\xBB\xBF"
     "a;b\n0,12;1\n3;-4,5\n",
     "a,b\n0.12,1\n3,-4.5\n",
     {0}},
    {"a;b\n0.12;x\n", "a,b\n0.12,x\n", {0}},
    {"sep=;\na\n0,5\n", "a\n0.5\n", {0}},
    {"a\tb\n1\t\n\t2\n", "a,b\n1,\n,2\n", {0}},
    {"a|b\n1|2\n", "a,b\n1,2\n", {.delimiter = '|'}},
    {"a,b\n\"0,139\",\"0,258\"\n", "a,b\n0.139,0.258\n", {0}},
    {"a;b;\n1;2;\n3;4;\n", "a,b\n1,2\n3,4\n", {0}},
    {"a;b\n1;2;\n3;4;\n", "a,b\n1,2\n3,4\n", {0}},
    {"a , b\n 1 , x y \n\n 2 , z\n", "a,b\n1,x y\n2,z\n", {0}},
    {"a;b\n1.528,5;1\n", "a,b\n1528.5,1\n", {0}},
    {"a\n\"1,234,567.25\"\n", "a\n1234567.25\n", {0}},
    {"a;b\n1.528;x\n", "a,b\n1528,x\n", {.decimal = ',', .thousands = '.'}},
    {"a;b\n1.528;x\n", "a,b\n1.528,x\n", {.decimal = '.'}},
    {"a;b\n0,121;x\n12,345;y\n", "a,b\n0.121,x\n12.345,y\n", {0}},
    {"a,b\n1 234,x\n", "a,b\n1234,x\n", {.decimal = '.', .thousands = ' '}},
    /* numbers: no other spelling is one */
    {"a\n+1\n-.5\n5.\n1e3\n2E-1\n", "a\n1\n-0.5\n5\n1000\n0.2\n", {0}},
    {"a\n1\ninf\n", "a\n1\ninf\n", {0}},
    {"a\n1\n0x10\n", "a\n1\n0x10\n", {0}},
    {"a\n1\nnan\n", "a\n1\nnan\n", {0}},
    {"a\n1\n1e999\n", "a\n1\n1e999\n", {0}},
    {"a,b\n1,2\nNaN,-\n", "a,b\n1,2\n,\n", {.missing = dashes, .missing_count = 2}},
    /* ids are no numbers */
    {"a\n007\n8\n", "a\n007\n8\n", {0}},
    {"a\n541449999999999999\n", "a\n541449999999999999\n", {0}},
    {"a,b\n=\"0012\",1\n", "a,b\n0012,1\n", {0}},
    /* rows before and behind */
    {"Customer;12\nnote\na;b\n1;2\nTotal;9\n", "a,b\n1,2\n", {.skip_rows = 2, .skip_last_rows = 1}},
    {"a,b\n", "a,b\n", {0}},
    {"a\n\"\"\n4\n", "a\n\"\"\n4\n", {0}},
    {"a,b\n'=1,'tis\n''=2,x\n", "a,b\n'=1,'tis\n''=2,x\n", {0}},
    {"'=c,d\n1,2\n", "'=c,d\n1,2\n", {0}},
};

enum { READ_ROWS = sizeof read_rows / sizeof read_rows[0] };

START_TEST(files_as_they_are_are_read) {
  const read_row *row = &read_rows[_i];
  assert_reads(row->csv, &row->options, row->expected);
}
END_TEST

START_TEST(the_apostrophe_of_the_writer_is_taken_away) {
  steading_table *table = NULL;
  steading_csv_options options = {.delimiter = '\0'};
  ck_assert_int_eq(read_with("'=h,b\n'=1,'tis\n''=2,\"'\tx\"\n", &options, &table, NULL),
                   STEADING_OK);
  ck_assert_str_eq(table->columns[0].name, "=h");
  ck_assert_str_eq(table->columns[0].texts[0], "=1");
  ck_assert_str_eq(table->columns[1].texts[0], "'tis");
  ck_assert_str_eq(table->columns[0].texts[1], "'=2");
  ck_assert_str_eq(table->columns[1].texts[1], "\tx");
  steading_table_free(table);
}
END_TEST

static const steading_csv_column number_b[] = {
    {.name = "b", .heading = "b", .kind = STEADING_CSV_NUMBER}};
static const steading_csv_column heading_kwh[] = {{.name = "x", .heading = "kwh"}};
static const steading_csv_column third[] = {{.name = "x", .number = 3}};

static const read_row refused_rows[] = {
    {"a,b\n1,2\n3,\"x\n", "line 3: a quote is not closed", {0}},
    {"a,b\n1,\"2\"3\n", "line 2: text stands behind a closing quote", {0}},
    {"a,b\n1,2\n3\n", "line 3: found 1 cells, the headings are 2", {0}},
    {"a,b\n1,2\n3,4,5\n", "line 3: found 3 cells, the headings are 2", {0}},
    {"a,b\n1,\"x\ny\"\n3\n", "line 4: found 1 cells, the headings are 2", {0}},
    {"\n\n", "has no heading line", {0}},
    {"a\n1\n", "has no heading line", {.skip_rows = 9}},
    {"a\n1\n", "has 1 rows, skip_last_rows is 2", {.skip_last_rows = 2}},
    {"a,,b\n1,2,3\n", "line 1: column 2 has no heading; choose columns, this one as { 2 }", {0}},
    {"a,b,a\n1,2,3\n",
     "line 1: the heading \"a\" stands over columns 1 and 3; choose columns, these by number",
     {0}},
    {"a,b\n1,2\n3,4\n5,x\n",
     "line 4, column \"b\": found \"x\", expected a number",
     {.columns = number_b, .column_count = 1}},
    {"a,kWh\n1,2\n",
     "line 1: there is no heading \"kwh\" (did you mean \"kWh\"?)",
     {.columns = heading_kwh, .column_count = 1}},
    {"kwh,kwh\n1,2\n",
     "line 1: the heading \"kwh\" stands over 2 columns; choose by number",
     {.columns = heading_kwh, .column_count = 1}},
    {"a,b\n1,2\n",
     "there is no column 3, the headings are 2",
     {.columns = third, .column_count = 1}},
    {"a;b,c\n1;2,3\n", "line 1: the headings could be separated by two marks; give delimiter", {0}},
    {"sep=;\na;b\n",
     "line 1: the file says that ';' separates, the option delimiter says ','",
     {.delimiter = ','}},
    {"a;b\n1;x\n1.528;y\n",
     "line 3: \"1.528\" could have a decimal mark or one of thousands; give decimal",
     {0}},
    {"a;b\n1,528;x\n",
     "line 2: \"1,528\" could have a decimal mark or one of thousands; give decimal",
     {0}},
    {"a;b\n1,5;2\n3;0.25\n",
     "line 3 has \"0.25\" and line 2 \"1,5\": give decimal, and thousands where there are any",
     {0}},
    {"a\0b", "is UTF-16 text; save it as UTF-8", {0}},
};

enum { REFUSED_ROWS = sizeof refused_rows / sizeof refused_rows[0] };

START_TEST(what_cannot_be_read_is_said_with_its_place) {
  const read_row *row = &refused_rows[_i];
  steading_error error = {.text = ""};
  steading_table *table = NULL;
  size_t length = row->csv[1] == '\0' ? 4 : strlen(row->csv);
  ck_assert_int_eq(
      steading_table_read_csv(row->csv, length, "in.csv", &row->options, &table, &error),
      STEADING_BAD_INPUT);
  ck_assert_ptr_null(table);
  ck_assert_str_eq(error.path, "in.csv");
  ck_assert_str_eq(error.text, row->expected);
}
END_TEST

/* 1.8 F a kelvin and 32 F at 0 C (definition): 50 F is 10 C. */
START_TEST(columns_are_chosen_named_and_converted) {
  static const steading_csv_column columns[] = {
      {.name = "temp_c",
       .heading = "air",
       .kind = STEADING_CSV_NUMBER,
       .factor = 1 / 1.8,
       .offset = -32 / 1.8},
      {.name = "id", .number = 1, .kind = STEADING_CSV_TEXT}};
  steading_csv_options options = {.columns = columns, .column_count = 2};
  assert_reads("n,,air\n12,9,50\n13,,\n", &options, "temp_c,id\n10,12\n,13\n");
}
END_TEST

/* --- round trip ---------------------------------------------------------------------------------
 */

static uint64_t draw(uint64_t *state) { return steading_random_bits(7, 0, 9, (*state)++); }

static void random_text(uint64_t *state, char text[16]) {
  static const char letters[] = "ab1,\"\n\r\t =+-@';\xc3\xa9";
  size_t length = draw(state) % 12;
  for (size_t i = 0; i < length; i++) text[i] = letters[draw(state) % (sizeof letters - 1)];
  text[length] = '\0';
}

static double random_number(uint64_t *state) {
  uint64_t bits = draw(state);
  double value = 0;
  switch (bits % 8) {
    case 0:
      return (double)NAN;
    case 1:
      return (double)INFINITY;
    case 2:
      return (double)(bits >> 8 & 0xFFFFF) - 5e5;
    case 3:
      return (double)(bits >> 40) / 1000 - 8000;
    default:
      bits = draw(state);
      memcpy(&value, &bits, sizeof value);
      return isfinite(value) && fabs(value) > 1e-300 ? value : 0;
  }
}

enum { MOST_COLUMNS = 5 };

static steading_table *random_table(uint64_t *state) {
  char texts[MOST_COLUMNS][24], cell[16];
  const char *names[MOST_COLUMNS];
  bool is_text[MOST_COLUMNS];
  size_t count = 1 + draw(state) % MOST_COLUMNS, rows = draw(state) % 9;
  steading_table *table = NULL;
  for (size_t c = 0; c < count; c++) {
    random_text(state, cell);
    snprintf(texts[c], sizeof texts[c], "%s%c", cell, (char)('A' + c)); /* all different */
    names[c] = texts[c];
    is_text[c] = draw(state) % 2;
  }
  table = steading_table_new(count, names, is_text);
  ck_assert_ptr_nonnull(table);
  for (size_t r = 0; r < rows; r++) {
    ck_assert_int_eq(steading_table_add_row(table), STEADING_OK);
    for (size_t c = 0; c < count; c++) {
      if (!is_text[c]) {
        table->columns[c].numbers[r] = random_number(state);
        continue;
      }
      random_text(state, cell);
      ck_assert_int_eq(steading_table_set_text(table, r, c, cell), STEADING_OK);
    }
  }
  return table;
}

/* Never and an empty text are empty cells; everything else is what it was. Numbers have twelve
 * digits: half a unit of the twelfth. */
static bool same_cell(const steading_column *written, const steading_column *read, size_t row) {
  if (written->is_text) {
    const char *text = written->texts[row];
    if (text == NULL || text[0] == '\0') return read->texts[row] == NULL;
    return read->texts[row] != NULL && strcmp(text, read->texts[row]) == 0;
  }
  if (!isfinite(written->numbers[row])) return isnan(read->numbers[row]);
  return fabs(written->numbers[row] - read->numbers[row]) <= 5e-12 * fabs(written->numbers[row]);
}

static void check_round_trip(const steading_table *table) {
  steading_csv_column columns[MOST_COLUMNS] = {{.name = NULL}};
  steading_csv_options options = {.columns = columns, .column_count = table->column_count};
  steading_table *back = NULL;
  steading_error error = {.text = ""};
  size_t length = 0, again_length = 0;
  char *bytes = csv_of(table, &length), *again = NULL;
  for (size_t c = 0; c < table->column_count; c++) {
    columns[c].name = columns[c].heading = table->columns[c].name;
    columns[c].kind = table->columns[c].is_text ? STEADING_CSV_TEXT : STEADING_CSV_NUMBER;
  }
  if (steading_table_read_csv(bytes, length, "t.csv", &options, &back, &error) != STEADING_OK)
    ck_abort_msg("%s\n%s", error.text, bytes);
  ck_assert_uint_eq(back->rows, table->rows);
  for (size_t c = 0; c < table->column_count; c++)
    for (size_t r = 0; r < table->rows; r++)
      if (!same_cell(&table->columns[c], &back->columns[c], r))
        ck_abort_msg("row %zu, column %zu of\n%s", r, c, bytes);
  again = csv_of(back, &again_length);
  ck_assert_str_eq(again, bytes);
  free(again);
  free(bytes);
  steading_table_free(back);
}

START_TEST(what_is_written_is_read_back) {
  uint64_t state = 1;
  for (int i = 0; i < 250; i++) {
    steading_table *table = random_table(&state);
    check_round_trip(table);
    steading_table_free(table);
  }
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
  tcase_set_timeout(tcase, 60); /* every table is flushed to the disk */
  tcase_add_loop_test(tcase, files_as_they_are_are_read, 0, READ_ROWS);
  tcase_add_loop_test(tcase, what_cannot_be_read_is_said_with_its_place, 0, REFUSED_ROWS);
  tcase_add_test(tcase, the_apostrophe_of_the_writer_is_taken_away);
  tcase_add_test(tcase, columns_are_chosen_named_and_converted);
  tcase_add_test(tcase, what_is_written_is_read_back);
  suite_add_tcase(suite, tcase);
  return suite;
}
