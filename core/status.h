/* How a core function says that it could not do what it was asked.
 *
 * A core function that can fail returns a steading_status and, where it has more to say, fills a
 * steading_error that the caller owns. Bad data is a status; a bad call (a null pointer, a count
 * of zero) is an assertion. Nothing here allocates. */
#ifndef STEADING_STATUS_H
#define STEADING_STATUS_H

typedef enum steading_status {
  STEADING_OK,
  STEADING_BAD_INPUT, /* a value, name or file that cannot be used */
  STEADING_NOT_YET,   /* a feature that this version does not carry out */
  STEADING_IO,        /* a file that cannot be read or written */
  STEADING_NO_MEMORY,
  STEADING_FAULT      /* an error of the program itself */
} steading_status;

typedef struct steading_error {
  steading_status status;
  char path[256];  /* where: 'hubs.barn.battery.lots[2].count', or a file and line; may be empty */
  char text[768];  /* what was found, what was expected, the nearest known name */
} steading_error;

/* Fill `error` (which may be NULL) and return `status`, so that a caller can write
 * `return steading_fail(error, STEADING_BAD_INPUT, path, "...", ...)`. `path` may be NULL. */
steading_status steading_fail(steading_error *error, steading_status status, const char *path,
                              const char *format, ...) __attribute__((format(printf, 4, 5)));

#endif
