#include "command.h"

#include <check.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

double command_clock_s(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* The command's absolute path, since it runs in another folder. */
static const char *command_path(char path[PATH_MAX]) {
  const char *given = getenv("STEADING");
  if (given == NULL || given[0] == '\0') given = "build/release/steading";
  ck_assert_msg(realpath(given, path) != NULL, "the command %s: %s", given, strerror(errno));
  return path;
}

/* A file without a name: a pipe would fill up while nobody reads it. */
static int nameless(void) {
  char path[] = "/tmp/steading-said-XXXXXX";
  int handle = mkstemp(path);
  ck_assert_int_ge(handle, 0);
  unlink(path);
  return handle;
}

enum { MOST_ARGUMENTS = 40 };

static command_run start(const char *folder, int out, const char *const *arguments) {
  command_run run = {.out = out, .err = nameless(), .begun_s = command_clock_s()};
  char path[PATH_MAX];
  char *all[MOST_ARGUMENTS] = {0};
  size_t count = 0;
  all[count++] = (char *)command_path(path);
  for (; *arguments != NULL; arguments++) {
    ck_assert_uint_lt(count, MOST_ARGUMENTS - 1);
    all[count++] = (char *)*arguments;
  }
  fflush(NULL);
  run.process = fork();
  ck_assert_int_ge(run.process, 0);
  if (run.process == 0) {
    int in = open("/dev/null", O_RDONLY);
    if (chdir(folder) != 0 || in < 0 || dup2(in, STDIN_FILENO) < 0 ||
        dup2(run.out, STDOUT_FILENO) < 0 || dup2(run.err, STDERR_FILENO) < 0)
      _exit(126);
    execv(path, all);
    _exit(127);
  }
  return run;
}

void command_case(Suite *suite, SFun setup, SFun teardown, const char *name, const TTest *test,
                  int rows) {
  TCase *tcase = tcase_create(name);
  tcase_add_checked_fixture(tcase, setup, teardown);
  tcase_set_timeout(tcase, COMMAND_TEST_SECONDS);
  tcase_add_loop_test(tcase, test, 0, rows);
  suite_add_tcase(suite, tcase);
}

command_run command_start(const char *folder, const char *const *arguments) {
  return start(folder, nameless(), arguments);
}

command_run command_start_into(const char *folder, const char *out_path,
                               const char *const *arguments) {
  int out = open(out_path, O_RDWR);
  ck_assert_msg(out >= 0, "%s: %s", out_path, strerror(errno));
  return start(folder, out, arguments);
}

static char *read_handle(int handle, size_t *length) {
  struct stat found;
  size_t size = 0;
  char *bytes = NULL;
  ck_assert_int_eq(fstat(handle, &found), 0);
  if (S_ISREG(found.st_mode)) size = (size_t)found.st_size;
  bytes = calloc(size + 1, 1);
  ck_assert_ptr_nonnull(bytes);
  for (*length = 0; *length < size;) {
    ssize_t got = pread(handle, bytes + *length, size - *length, (off_t)*length);
    ck_assert_int_gt(got, 0);
    *length += (size_t)got;
  }
  close(handle);
  return bytes;
}

command_said command_finish(command_run *run, double limit_s) {
  command_said said = {0};
  const struct timespec moment = {.tv_nsec = 1000000};
  double begun_s = command_clock_s();
  int status = 0;
  for (;;) {
    pid_t ended = waitpid(run->process, &status, WNOHANG);
    ck_assert_int_ge(ended, 0);
    if (ended == run->process) break;
    if (!said.timed_out && command_clock_s() - begun_s > limit_s) {
      said.timed_out = true;
      kill(run->process, SIGKILL);
    }
    nanosleep(&moment, NULL);
  }
  said.seconds = command_clock_s() - run->begun_s;
  said.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  said.out = read_handle(run->out, &said.out_length);
  said.err = read_handle(run->err, &said.err_length);
  return said;
}

void command_free(command_said *said) {
  free(said->out);
  free(said->err);
  memset(said, 0, sizeof *said);
}

command_said command_do(const char *folder, const char *const *arguments) {
  command_run run = command_start(folder, arguments);
  command_said said = command_finish(&run, COMMAND_SECONDS);
  ck_assert_msg(!said.timed_out, "no end within %d s; it said: %s%s", COMMAND_SECONDS, said.out,
                said.err);
  return said;
}

command_said command_script(const char *folder, const char *const *text_and_arguments) {
  const char *all[MOST_ARGUMENTS] = {"run", "scenario.lua"};
  const char *const *arguments = text_and_arguments + 1;
  size_t count = 2;
  command_write(folder, "scenario.lua", text_and_arguments[0]);
  for (; *arguments != NULL; arguments++) {
    ck_assert_uint_lt(count, MOST_ARGUMENTS - 1);
    all[count++] = *arguments;
  }
  return command_do(folder, all);
}

void command_write(const char *folder, const char *name, const char *text) {
  char path[PATH_MAX];
  FILE *file = NULL;
  ck_assert_int_lt(snprintf(path, sizeof path, "%s/%s", folder, name), (int)sizeof path);
  file = fopen(path, "wb");
  ck_assert_msg(file != NULL, "%s: %s", path, strerror(errno));
  ck_assert_uint_eq(fwrite(text, 1, strlen(text), file), strlen(text));
  ck_assert_int_eq(fclose(file), 0);
}

char *command_read(const char *folder, const char *name) {
  char path[PATH_MAX];
  size_t length = 0;
  int handle = -1;
  ck_assert_int_lt(snprintf(path, sizeof path, "%s/%s", folder, name), (int)sizeof path);
  handle = open(path, O_RDONLY);
  ck_assert_msg(handle >= 0, "%s: %s", path, strerror(errno));
  return read_handle(handle, &length);
}

void command_fixture(const char *folder, const char *name) {
  char *text = command_read("tests/scripts", name);
  command_write(folder, name, text);
  free(text);
}

bool command_has(const char *folder, const char *name) {
  char path[PATH_MAX];
  struct stat found;
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return stat(path, &found) == 0;
}

static int visible(const struct dirent *entry) {
  return strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0;
}

/* By bytes, whatever the locale. */
static int by_bytes(const struct dirent **a, const struct dirent **b) {
  return strcmp((*a)->d_name, (*b)->d_name);
}

char *command_list(const char *folder) {
  struct dirent **entries = NULL;
  int count = scandir(folder, &entries, visible, by_bytes);
  char *list = NULL;
  size_t used = 0;
  ck_assert_msg(count >= 0, "%s: %s", folder, strerror(errno));
  list = calloc((size_t)count + 1, 260);
  ck_assert_ptr_nonnull(list);
  for (int i = 0; i < count; i++) {
    used += (size_t)sprintf(list + used, "%s ", entries[i]->d_name);
    free(entries[i]);
  }
  free(entries);
  return list;
}

void command_check(command_said *said, int status, const char *out, const char *err,
                   const char *what) {
  ck_assert_msg(strcmp(said->err, err == NULL ? "" : err) == 0,
                "%s: standard error is\n%sexpected\n%s", what, said->err, err == NULL ? "" : err);
  ck_assert_msg(strcmp(said->out, out) == 0, "%s: standard output is\n%sexpected\n%s", what,
                said->out, out);
  ck_assert_msg(said->status == status, "%s: exit status %d, expected %d", what, said->status,
                status);
  command_free(said);
}
