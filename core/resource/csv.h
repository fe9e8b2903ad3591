/* Rows of a CSV text, each with its line number. */
#ifndef STEADING_RESOURCE_CSV_H
#define STEADING_RESOURCE_CSV_H

#include "resource/text.h"
#include "status.h"

/* One row: cells without quotes and blanks around them; they live until the function returns. A
 * status other than OK ends the reading. */
typedef steading_status (*steading_csv_row)(void *context, size_t line, const steading_slice *cells,
                                            size_t count);

/* Calls `row` for every row that is neither empty nor a comment (its first character is # % or !).
 * A byte-order mark is passed over. Returns what `row` returned, NO_MEMORY, or OK. */
steading_status steading_csv_rows(const char *bytes, size_t length, char delimiter,
                                  steading_csv_row row, void *context);

/* The delimiter of a table, a comma, semicolon or tab: the one that occurs most in the line that
 * has most of one. */
char steading_csv_delimiter(const char *bytes, size_t length);

#endif
