/* The only place in core that opens files: reading whole files, and writing so that a file that
 * exists is complete (written beside, fsync, renamed). */
#ifndef STEADING_FILES_FILES_H
#define STEADING_FILES_FILES_H

#include <stddef.h>

#include "status.h"

/* Read a regular file of at most 1 GiB whole; a folder, pipe, socket or device is refused by what
 * it is, with status IO like any file that cannot be read. `*bytes` is malloc'd and has a NUL
 * behind its last byte; the caller frees it. Errors name the path and the reason; for a file that does not
 * exist, also the nearest name in the same folder (edit distance at most 3 and less than half the
 * name), and for a folder that does not exist that folder. */
steading_status steading_file_read(const char *path, char **bytes, size_t *length,
                                   steading_error *error);

/* The bytes of a regular file as they lie in the system's cache, without a copy: for the big files
 * that are parsed once. There is no NUL behind the last byte. The file must not be cut short while
 * it is mapped. The caller unmaps it; an empty file is an error. Errors as steading_file_read. */
steading_status steading_file_map(const char *path, const char **bytes, size_t *length,
                                  steading_error *error);
void steading_file_unmap(const char *bytes, size_t length);

/* SHA-256 as 64 hex digits and NUL. */
void steading_sha256(const void *bytes, size_t length, char hex[65]);

/* A file being written beside its place (PATH.tmp-PID). A write error is remembered and reported at
 * commit. Nothing of it stays if it is abandoned. A path that is a folder, pipe, socket or device
 * is refused; a symbolic link at the path is replaced by the file. A second writer of the same path
 * in this process is refused. */
typedef struct steading_writer steading_writer;
steading_status steading_writer_open(const char *path, steading_writer **writer,
                                     steading_error *error);
void steading_writer_put(steading_writer *writer, const void *bytes, size_t length);
void steading_writer_print(steading_writer *writer, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* Flush, fsync, rename; frees the writer whatever happens; on failure the temporary file is gone and
 * a file that stood at the path before stays. The folder is not flushed: after a power failure the
 * old file or the new one stands there, each complete. */
steading_status steading_writer_commit(steading_writer *writer, steading_error *error);
void steading_writer_abandon(steading_writer *writer);

/* A number as 12 significant digits, '.' as the decimal point in any locale, -0 as 0. The value
 * must be finite. */
void steading_format_number(double value, char text[32]);

#endif
