/* A table from the CSV of a spreadsheet, a portal or of table.h (RFC 4180 and its usual variants).
 *
 * What is taken as it is: a byte order mark, `\n`, `\r\n` or `\r` at the end of a line, empty
 * lines, blanks around a bare cell, a first line `sep=;`, a separator at the end of every line, an
 * id that a spreadsheet protected (`="0012"`), thousands marks in a cell that also has a decimal
 * mark. What can be read in two ways is refused, never guessed. */
#ifndef STEADING_FILES_TABLE_READ_H
#define STEADING_FILES_TABLE_READ_H

#include <stdbool.h>
#include <stddef.h>

#include "files/table.h"
#include "status.h"

typedef enum steading_csv_kind {
  STEADING_CSV_BY_CONTENT, /* numbers when every cell that is not empty is a number, else texts. A
                              whole number with a leading zero or of more than 15 digits is an id
                              and makes a text */
  STEADING_CSV_NUMBER,     /* any other cell is an error */
  STEADING_CSV_TEXT
} steading_csv_kind;

/* One wanted column. */
typedef struct steading_csv_column {
  const char *name;    /* in the table */
  const char *heading; /* in the file; NULL: by number */
  size_t number;       /* 1 is the first column of the file; when heading is NULL */
  steading_csv_kind kind;
  double factor, offset; /* a number becomes number * factor + offset; 0 and 0 leave it */
} steading_csv_column;

typedef struct steading_csv_options {
  char delimiter;   /* ',', ';', '\t', '|'; 0: the one of the first three that the heading line has
                       most often outside quotes */
  char decimal;     /* '.' or ','; 0: told by the cells of the whole file */
  char thousands;   /* '.', ',', ' ', '\''; 0: only in cells that also have the decimal mark */
  size_t skip_rows; /* lines before the heading line */
  size_t skip_last_rows;      /* rows at the end: totals, 'exported by' */
  const char *const *missing; /* what stands for an empty cell */
  size_t missing_count;
  const steading_csv_column *columns; /* in the order of the table; none: all of the file */
  size_t column_count;
} steading_csv_options;

/* Read `length` bytes of the file at `path` (for messages) into a new table, which the caller
 * frees. An empty cell is NaN or NULL. In texts the apostrophe that table.h writes before what a
 * spreadsheet would run is taken away. BAD_INPUT (path, and in the text line and column) for: zero
 * bytes and UTF-16; no heading line; a quote that is not closed or text behind a
 * closing one; a row with more or fewer cells than the heading line (empty ones at the end do not
 * count); a column that has cells but no heading, or the heading of another, unless it is not
 * wanted; a heading that is not there (with the nearest); a separator or a decimal mark that can be
 * read in two ways; a cell that is no number in a column of numbers, or one beyond what a double
 * holds. */
steading_status steading_table_read_csv(const char *bytes, size_t length, const char *path,
                                        const steading_csv_options *options, steading_table **table,
                                        steading_error *error);

#endif
