/* Runs the built command in a folder, as a person would, and keeps what it said.
 *
 * The environment variable STEADING names the command, relative to the repository root, which is
 * the working directory of the tests; without it, build/release/steading. */
#ifndef STEADING_TESTS_COMMAND_H
#define STEADING_TESTS_COMMAND_H

#include <check.h>
#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "slow.h"

/* Seconds that a run may take when a test says nothing else, and that a test of several runs may
 * take (tcase_set_timeout, which Check multiplies by TIMES_SLOWER by itself). */
enum { COMMAND_SECONDS = 60 * TIMES_SLOWER, COMMAND_TEST_SECONDS = 240 };

typedef struct command_said {
  int status;     /* exit status; 128 + signal when a signal ended it */
  bool timed_out; /* it was killed because its time was over */
  double seconds;
  char *out, *err; /* with a NUL behind the last byte */
  size_t out_length, err_length;
} command_said;

/* One run that is under way. */
typedef struct command_run {
  pid_t process;
  int out, err;
  double begun_s;
} command_run;

/* Add a test that runs the command as a case of its own, `rows` times with _i from 0. */
void command_case(Suite *suite, SFun setup, SFun teardown, const char *name, const TTest *test,
                  int rows);

/* Start the command in `folder` with arguments that end with NULL. */
command_run command_start(const char *folder, const char *const *arguments);
/* The same with standard output going into the file at `out_path`. */
command_run command_start_into(const char *folder, const char *out_path,
                               const char *const *arguments);
/* Wait for its end; after `limit_s` seconds it is killed. */
command_said command_finish(command_run *run, double limit_s);
void command_free(command_said *said);

/* Start and finish. */
command_said command_do(const char *folder, const char *const *arguments);
#define COMMAND(folder, ...) command_do(folder, (const char *const[]){__VA_ARGS__, NULL})

/* Write a script into the folder as scenario.lua and run it: the first text is the script, the
 * others are arguments behind its name. */
command_said command_script(const char *folder, const char *const *text_and_arguments);
#define SCRIPT(folder, ...) command_script(folder, (const char *const[]){__VA_ARGS__, NULL})

void command_write(const char *folder, const char *name, const char *text);
/* Copy tests/scripts/NAME into the folder. */
void command_fixture(const char *folder, const char *name);
/* Bytes of FOLDER/NAME, which must exist; freed by the caller. */
char *command_read(const char *folder, const char *name);
bool command_has(const char *folder, const char *name);
/* The names in a folder, sorted, a blank behind each; freed by the caller. */
char *command_list(const char *folder);
double command_clock_s(void);

/* Assert the whole of what a run said. `err` may be NULL: then standard error must be empty. */
void command_check(command_said *said, int status, const char *out, const char *err,
                   const char *what);

#endif
