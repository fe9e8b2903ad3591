/* A table of columns in memory and its CSV form (RFC 4180 with \n, header, 12 digits).
 *
 * A column holds numbers or texts. In a number column NaN stands for 'no answer' and infinity for
 * 'never': both are empty cells in CSV. */
#ifndef STEADING_FILES_TABLE_H
#define STEADING_FILES_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#include "files/files.h"
#include "status.h"

typedef struct steading_column {
  char *name;
  bool is_text;
  double *numbers; /* [rows] when not is_text */
  char **texts;    /* [rows] when is_text; NULL is an empty cell */
} steading_column;

typedef struct steading_table {
  size_t rows, capacity, column_count;
  steading_column *columns;
} steading_table;

/* A table of `column_count` columns without rows. Names are copied. NULL when memory ends. */
steading_table *steading_table_new(size_t column_count, const char *const *names,
                                   const bool *is_text);
void steading_table_free(steading_table *table);

/* Append a row of NaN and NULL; its cells are then set. Returns NO_MEMORY or OK. */
steading_status steading_table_add_row(steading_table *table);
/* Text is copied; NULL empties the cell. */
steading_status steading_table_set_text(steading_table *table, size_t row, size_t column,
                                        const char *text);

/* Write as CSV into a writer. Numbers are written bare (no quotes); text is quoted only when it
 * holds a comma, a quote, a line break or leading or trailing blanks; a text cell that a
 * spreadsheet would run as a formula (first character = + - @ or a tab or carriage return) gets a
 * leading apostrophe, as does one that begins with apostrophes and then one of these. A header cell
 * is text too, and also quoted for a semicolon or a tab. In a table of one column an empty cell is
 * written as "", as a reader may drop an empty line. steading_table_read_csv (table_read.h) reads
 * it back: numbers to 12 digits, texts whole; never and an empty text as empty cells. */
void steading_table_write_csv(const steading_table *table, steading_writer *writer);

/* Whether a text is written with an apostrophe before it. */
bool steading_table_guards(const char *text);

/* A row of another table, appended. The columns of `from` are the first ones of `to`; the others
 * stay empty. Returns NO_MEMORY or OK. */
steading_status steading_table_copy_row(steading_table *to, const steading_table *from, size_t row);

#endif
