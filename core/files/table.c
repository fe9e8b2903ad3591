#include "files/table.h"

#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static const size_t first_capacity = 64;

steading_table *steading_table_new(size_t column_count, const char *const *names,
                                   const bool *is_text) {
  steading_table *table = calloc(1, sizeof *table);
  if (table == NULL) return NULL;
  table->columns = calloc(column_count > 0 ? column_count : 1, sizeof *table->columns);
  if (table->columns == NULL) {
    free(table);
    return NULL;
  }
  table->column_count = column_count;
  for (size_t i = 0; i < column_count; i++) {
    table->columns[i].is_text = is_text[i];
    table->columns[i].name = strdup(names[i]);
    if (table->columns[i].name == NULL) {
      steading_table_free(table);
      return NULL;
    }
  }
  return table;
}

void steading_table_free(steading_table *table) {
  if (table == NULL) return;
  for (size_t i = 0; i < table->column_count; i++) {
    steading_column *column = &table->columns[i];
    for (size_t row = 0; column->texts != NULL && row < table->rows; row++)
      free(column->texts[row]);
    free(column->texts);
    free(column->numbers);
    free(column->name);
  }
  free(table->columns);
  free(table);
}

/* A column that grew before another could not is larger than `capacity` says: no harm. */
static bool grow(steading_table *table) {
  size_t capacity = table->capacity == 0 ? first_capacity : 2 * table->capacity;
  if (table->capacity > SIZE_MAX / 4 / sizeof(double)) return false;
  for (size_t i = 0; i < table->column_count; i++) {
    steading_column *column = &table->columns[i];
    void *old = column->is_text ? (void *)column->texts : (void *)column->numbers;
    void *larger = realloc(old, capacity * (column->is_text ? sizeof(char *) : sizeof(double)));
    if (larger == NULL) return false;
    if (column->is_text)
      column->texts = larger;
    else
      column->numbers = larger;
  }
  table->capacity = capacity;
  return true;
}

steading_status steading_table_add_row(steading_table *table) {
  if (table->rows == table->capacity && !grow(table)) return STEADING_NO_MEMORY;
  for (size_t i = 0; i < table->column_count; i++) {
    if (table->columns[i].is_text)
      table->columns[i].texts[table->rows] = NULL;
    else
      table->columns[i].numbers[table->rows] = (double)NAN;
  }
  table->rows++;
  return STEADING_OK;
}

steading_status steading_table_set_text(steading_table *table, size_t row, size_t column,
                                        const char *text) {
  char *copy = NULL;
  char **cell = NULL;
  assert(row < table->rows && column < table->column_count && table->columns[column].is_text);
  if (text != NULL && (copy = strdup(text)) == NULL) return STEADING_NO_MEMORY;
  cell = &table->columns[column].texts[row];
  free(*cell);
  *cell = copy;
  return STEADING_OK;
}

steading_status steading_table_copy_row(steading_table *to, const steading_table *from,
                                        size_t row) {
  assert(to != from && row < from->rows && to->column_count >= from->column_count);
  if (steading_table_add_row(to) != STEADING_OK) return STEADING_NO_MEMORY;
  for (size_t i = 0; i < from->column_count; i++) {
    const steading_column *column = &from->columns[i];
    assert(column->is_text == to->columns[i].is_text);
    if (!column->is_text)
      to->columns[i].numbers[to->rows - 1] = column->numbers[row];
    else if (steading_table_set_text(to, to->rows - 1, i, column->texts[row]) != STEADING_OK)
      return STEADING_NO_MEMORY;
  }
  return STEADING_OK;
}

/* --- CSV ---------------------------------------------------------------------------------------
 */

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

/* A heading is quoted for other separators too: readers guess the separator from that line. */
static bool needs_quotes(const char *text, size_t length, bool heading) {
  if (is_blank(text[0]) || is_blank(text[length - 1])) return true;
  return strpbrk(text, heading ? ",;\t\"\r\n" : ",\"\r\n") != NULL;
}

/* RFC 4180: a quote within quotes is doubled. */
static void put_quoted(steading_writer *writer, const char *text) {
  const char *quote = NULL;
  while ((quote = strchr(text, '"')) != NULL) {
    steading_writer_put(writer, text, (size_t)(quote - text) + 1);
    steading_writer_put(writer, "\"", 1);
    text = quote + 1;
  }
  steading_writer_put(writer, text, strlen(text));
}

/* OWASP, "CSV Injection": cells that begin with one of these are run by spreadsheets; an apostrophe
 * before them makes them text. A text that begins so with apostrophes of its own gets one more, so
 * that a reader who takes one away has the text again. */
bool steading_table_guards(const char *text) {
  while (*text == '\'') text++;
  return *text != '\0' && strchr("=+-@\t\r", *text) != NULL;
}

static void put_text(steading_writer *writer, const char *text, bool heading) {
  size_t length = text == NULL ? 0 : strlen(text);
  bool guard = false, quotes = false;
  if (length == 0) return;
  guard = steading_table_guards(text);
  quotes = needs_quotes(text, length, heading);
  if (quotes) steading_writer_put(writer, "\"", 1);
  if (guard) steading_writer_put(writer, "'", 1);
  if (quotes)
    put_quoted(writer, text);
  else
    steading_writer_put(writer, text, length);
  if (quotes) steading_writer_put(writer, "\"", 1);
}

static void put_number(steading_writer *writer, double value) {
  char text[32];
  if (!isfinite(value)) return;
  steading_format_number(value, text);
  steading_writer_put(writer, text, strlen(text));
}

static bool is_empty_cell(const steading_column *column, size_t row) {
  if (!column->is_text) return !isfinite(column->numbers[row]);
  return column->texts[row] == NULL || column->texts[row][0] == '\0';
}

static void put_row(const steading_table *table, size_t row, steading_writer *writer) {
  /* An empty line would be no row to most readers. */
  if (table->column_count == 1 && is_empty_cell(&table->columns[0], row))
    steading_writer_put(writer, "\"\"", 2);
  for (size_t i = 0; i < table->column_count; i++) {
    const steading_column *column = &table->columns[i];
    if (i > 0) steading_writer_put(writer, ",", 1);
    if (column->is_text)
      put_text(writer, column->texts[row], false);
    else
      put_number(writer, column->numbers[row]);
  }
  steading_writer_put(writer, "\n", 1);
}

void steading_table_write_csv(const steading_table *table, steading_writer *writer) {
  for (size_t i = 0; i < table->column_count; i++) {
    if (i > 0) steading_writer_put(writer, ",", 1);
    put_text(writer, table->columns[i].name, true);
  }
  steading_writer_put(writer, "\n", 1);
  for (size_t row = 0; row < table->rows; row++) put_row(table, row, writer);
}
