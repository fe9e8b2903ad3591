/* The journal of a study: one record a case, appended as cases end, so that a study that was killed
 * goes on where it stopped and ends with the same bytes.
 *
 * Text, one record a line: `<payload> <checksum>\n`, the checksum being the first 16 hex digits of
 * the SHA-256 of the payload. The first line is the header: an opaque text (one line) that names
 * script, inputs, arguments, version and the fingerprint of the maths library. A case's payload is
 * `case <index> <status> <cell> <cell> ...` where status is `ok` or `failed` and a cell is
 * `n:<hex float>` (%a; `n:inf` for never, `n:nan` for no answer) or `t:<text>` with blanks,
 * backslashes and control characters written as \xHH. Whoever fills the cells may mark kinds of text
 * by their first letter, as bindings/lua/study.c does (t a text, b true or false). */
#ifndef STEADING_STUDY_JOURNAL_H
#define STEADING_STUDY_JOURNAL_H

#include <stdbool.h>
#include <stddef.h>

#include "status.h"

typedef struct steading_cell {
  bool is_text;
  double number; /* NaN: no answer; infinity: never */
  char *text;    /* owned by whoever holds the cell */
} steading_cell;

typedef struct steading_journal_record {
  size_t case_index; /* from 1 */
  bool failed;
  size_t cell_count;
  steading_cell *cells; /* a failed case has one text cell: the message */
} steading_journal_record;

typedef struct steading_journal steading_journal;

/* Start a journal afresh (an existing file is replaced). Takes a lock (flock) that a second process
 * with the same path finds taken: BAD_INPUT, naming the path. */
steading_status steading_journal_create(const char *path, const char *header,
                                        steading_journal **journal, steading_error *error);

/* Go on with a journal: reads its records, drops a torn tail (an incomplete or damaged last line;
 * damage before the last line is an error
 * that names the line), checks that its header equals `header` (else BAD_INPUT
 * that says that the script or its inputs changed and how to start afresh). A path that does not
 * exist is started afresh. `*records` is malloc'd ([*count], in the file's order; the last record
 * of a case wins if there are two); free it with steading_journal_records_free. */
steading_status steading_journal_resume(const char *path, const char *header,
                                        steading_journal **journal,
                                        steading_journal_record **records, size_t *count,
                                        steading_error *error);
void steading_journal_records_free(steading_journal_record *records, size_t count);

/* Append a record with one write(2). After a failure (a full disk) what was written of it is taken
 * back, so that the journal stays sound. A cell's text may be NULL: it comes back as "". */
steading_status steading_journal_append(steading_journal *journal,
                                        const steading_journal_record *record,
                                        steading_error *error);

/* fsync and close. The file stays. */
steading_status steading_journal_close(steading_journal *journal, steading_error *error);

/* In a forked child that shall not append: close its copy of the descriptor, so that the lock ends
 * with the parent, and free the journal. Nothing is flushed. */
void steading_journal_forget(steading_journal *journal);

/* 16 hex digits of a hash over 256 results of exp, log, pow, sin, cos and atan2 at fixed arguments:
 * machines with the same fingerprint give the same bytes. */
void steading_maths_fingerprint(char hex[17]);

#endif
