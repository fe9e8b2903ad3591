/* Reads back what the command writes, independently of the code that wrote it: CSV (RFC 4180 with
 * "\n") and JSON (RFC 8259), both strictly. */
#ifndef STEADING_TESTS_READBACK_H
#define STEADING_TESTS_READBACK_H

#include <stdbool.h>
#include <stddef.h>

typedef struct csv_table {
  size_t columns, rows; /* rows without the header */
  char *text;           /* what the cells point into */
  char **cells;         /* [(rows + 1) * columns], the header first */
} csv_table;

/* Parse a whole file. False with the reason in `why` when it is not CSV of one width: no end of the
 * last line, a stray quote, a carriage return outside quotes, a row of another width. */
bool readback_csv(const char *text, csv_table *table, char why[256]);
void readback_csv_free(csv_table *table);
const char *csv_name(const csv_table *table, size_t column);
const char *csv_cell(const csv_table *table, size_t row, size_t column);
/* Column by name, or -1. */
int csv_column(const csv_table *table, const char *name);
/* The number in a cell; fails the test when there is no such column or no number. */
double csv_value(const csv_table *table, size_t row, const char *name);

/* Whether a text is a number as the files promise: [-]digits[.digits][e[+-]digits], at most 12
 * significant digits, no "-0", no nan, no inf. */
bool is_csv_number(const char *text, double *value);

/* Whether two files have the same header, the same number of rows and in each cell the same text or
 * numbers that differ by at most `relative` of the larger. The first difference goes to `why`. */
bool csv_same(const char *expected, const char *found, double relative, char why[512]);

/* Whether a text is one JSON value in valid UTF-8; where not is told in `why`. */
bool json_check(const char *text, char why[256]);
/* The text of a member of the outermost object, decoded, into `value`; numbers as they stand. */
bool json_member(const char *text, const char *name, char *value, size_t size);

/* Assert that in every row what comes in ("+column") equals what goes out ("-column"), to `share`
 * of (the sum of both + 1). `terms` ends with NULL; `title` says in the message what it is. */
void csv_check_balance(const csv_table *table, const char *title, const char *const *terms,
                       double share);

/* The bytes of a file with a NUL behind the last, freed by the caller; NULL when there is none. */
char *read_bytes(const char *path, size_t *length);

#endif
