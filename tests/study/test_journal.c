#include "study/journal.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdint.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include "files/files.h"
#include "files/folder.h"
#include "random.h"
#include "suites.h"

static const char header[] = "steading 1 script=0a1b inputs=2c3d seed=5 maths=4e5f";

typedef struct journal_folder {
  char folder[FOLDER_SIZE], path[FILE_PATH_SIZE];
} journal_folder;

static void begin(journal_folder *j) {
  folder_make(j->folder);
  folder_path(j->folder, "study.journal", j->path);
}

static steading_cell number(double value) {
  return (steading_cell){.number = value};
}

static steading_cell text(const char *value) {
  return (steading_cell){.is_text = true, .text = (char *)(uintptr_t)value};
}

static void append(steading_journal *journal, size_t index, bool failed, steading_cell *cells,
                   size_t count) {
  steading_journal_record record = {
      .case_index = index, .failed = failed, .cell_count = count, .cells = cells};
  steading_error error = {0};
  ck_assert_msg(steading_journal_append(journal, &record, &error) == STEADING_OK, "%s",
                error.text);
}

static steading_journal *create(const char *path) {
  steading_journal *journal = NULL;
  steading_error error = {0};
  ck_assert_msg(steading_journal_create(path, header, &journal, &error) == STEADING_OK, "%s",
                error.text);
  return journal;
}

static void close_journal(steading_journal *journal) {
  ck_assert_int_eq(steading_journal_close(journal, NULL), STEADING_OK);
}

/* Three records in a closed journal. */
static void write_three(const char *path) {
  steading_journal *journal = create(path);
  steading_cell first[] = {number(1.5), text("sun only")};
  steading_cell second[] = {text("no array named 'west'")};
  steading_cell third[] = {number(-0.1), text("")};
  append(journal, 1, false, first, 2);
  append(journal, 2, true, second, 1);
  append(journal, 3, false, third, 2);
  close_journal(journal);
}

static void assert_error(const char *path, const char *with_header, const char *where,
                         const char *needle) {
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  steading_error error = {0};
  size_t count = 9;
  ck_assert_int_eq(
      steading_journal_resume(path, with_header, &journal, &records, &count, &error),
      STEADING_BAD_INPUT);
  ck_assert_str_eq(error.path, where);
  ck_assert_msg(strstr(error.text, needle) != NULL, "'%s' lacks '%s'", error.text, needle);
  ck_assert_ptr_null(journal);
  ck_assert_ptr_null(records);
  ck_assert_uint_eq(count, 0);
}

static size_t resume(const char *path, steading_journal **journal,
                     steading_journal_record **records) {
  steading_error error = {0};
  size_t count = 0;
  ck_assert_msg(steading_journal_resume(path, header, journal, records, &count, &error) ==
                    STEADING_OK,
                "%s: %s", error.path, error.text);
  return count;
}

/* --- round trip -------------------------------------------------------------------------------- */

static void assert_same_cells(const steading_cell *a, const steading_cell *b, size_t count) {
  for (size_t i = 0; i < count; i++) {
    ck_assert_int_eq(a[i].is_text, b[i].is_text);
    if (a[i].is_text)
      ck_assert_str_eq(a[i].text, b[i].text);
    else if (isnan(a[i].number))
      ck_assert(isnan(b[i].number));
    else /* to the bit, sign of nought included */
      ck_assert_mem_eq(&a[i].number, &b[i].number, sizeof(double));
  }
}

START_TEST(records_come_back_exactly) {
  char controls[128];
  for (int i = 1; i < 128; i++) controls[i - 1] = (char)i;
  controls[127] = '\0';
  steading_cell cells[] = {
      number(0),       number(-0.0),       number(0.1),     number(-1e300),
      number(5e-324),  number(2.2e-308),   number(1.7976931348623157e308),
      number(1),       number((double)INFINITY), number((double)-INFINITY), number((double)NAN),
      text(""),        text(" "),          text("two words\nand a line\ttab"),
      text("back\\slash \\x41"),           text("caf\xc3\xa9 \xe2\x82\xac"), text(controls),
      text("n:0x1p+0"), text("\xff\xfe")};
  size_t cell_count = sizeof cells / sizeof *cells;
  journal_folder j;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  begin(&j);
  journal = create(j.path);
  append(journal, 7, false, cells, cell_count);
  append(journal, 3, true, cells + 13, 1);
  append(journal, SIZE_MAX / 100, false, NULL, 0);
  close_journal(journal);
  ck_assert_uint_eq(resume(j.path, &journal, &records), 3);
  ck_assert_uint_eq(records[0].case_index, 7);
  ck_assert(!records[0].failed);
  ck_assert_uint_eq(records[0].cell_count, cell_count);
  assert_same_cells(records[0].cells, cells, cell_count);
  ck_assert_uint_eq(records[1].case_index, 3);
  ck_assert(records[1].failed);
  ck_assert_uint_eq(records[1].cell_count, 1);
  assert_same_cells(records[1].cells, cells + 13, 1);
  ck_assert_uint_eq(records[2].case_index, SIZE_MAX / 100);
  ck_assert_uint_eq(records[2].cell_count, 0);
  steading_journal_records_free(records, 3);
  close_journal(journal);
  folder_remove(j.folder);
}
END_TEST

START_TEST(random_numbers_come_back_to_the_bit) {
  enum { ROWS = 300, CELLS = 20 };
  journal_folder j;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  steading_cell cells[CELLS];
  begin(&j);
  journal = create(j.path);
  for (uint32_t row = 0; row < ROWS; row++) {
    for (uint64_t i = 0; i < CELLS; i++) {
      uint64_t bits = steading_random_bits(1, row, 9, i);
      memset(&cells[i], 0, sizeof cells[i]);
      memcpy(&cells[i].number, &bits, sizeof bits);
    }
    append(journal, row + 1, false, cells, CELLS);
  }
  close_journal(journal);
  ck_assert_uint_eq(resume(j.path, &journal, &records), ROWS);
  for (uint32_t row = 0; row < ROWS; row++) {
    for (uint64_t i = 0; i < CELLS; i++) {
      uint64_t bits = steading_random_bits(1, row, 9, i);
      memset(&cells[i], 0, sizeof cells[i]);
      memcpy(&cells[i].number, &bits, sizeof bits);
    }
    assert_same_cells(records[row].cells, cells, CELLS);
  }
  steading_journal_records_free(records, ROWS);
  close_journal(journal);
  folder_remove(j.folder);
}
END_TEST

/* The form that the header promises, with the checksum by the published hash (FIPS 180-4). */
START_TEST(a_journal_is_text_as_described) {
  static const char payloads[3][80] = {"", "case 1 ok n:0x1.8p+0 n:inf n:nan t:a\\x20b\\x5c\\x7f",
                                       "case 2 failed t:no\\x0aarray"};
  char expected[600] = "", hex[65];
  journal_folder j;
  steading_cell cells[] = {number(1.5), number((double)INFINITY), number((double)NAN),
                           text("a b\\\x7f")};
  steading_cell message = text("no\narray");
  size_t length = 0;
  begin(&j);
  steading_journal *journal = create(j.path);
  append(journal, 1, false, cells, 4);
  append(journal, 2, true, &message, 1);
  close_journal(journal);
  for (int i = 0; i < 3; i++) {
    const char *payload = i == 0 ? header : payloads[i];
    size_t used = strlen(expected);
    steading_sha256(payload, strlen(payload), hex);
    snprintf(expected + used, sizeof expected - used, "%s %.16s\n", payload, hex);
  }
  char *bytes = folder_read(j.path, &length);
  ck_assert_str_eq(bytes, expected);
  free(bytes);
  folder_remove(j.folder);
}
END_TEST

START_TEST(a_study_that_was_broken_off_goes_on_to_the_same_bytes) {
  journal_folder whole, broken;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  steading_cell third[] = {number(-0.1), text("")};
  size_t length[2];
  begin(&whole);
  begin(&broken);
  write_three(whole.path);
  write_three(broken.path);
  char *bytes = folder_read(whole.path, &length[0]);
  ck_assert_int_eq(truncate(broken.path, (off_t)length[0] - 10), 0);
  ck_assert_uint_eq(resume(broken.path, &journal, &records), 2);
  steading_journal_records_free(records, 2);
  append(journal, 3, false, third, 2);
  close_journal(journal);
  char *again = folder_read(broken.path, &length[1]);
  ck_assert_uint_eq(length[0], length[1]);
  ck_assert_mem_eq(bytes, again, length[0]);
  free(bytes);
  free(again);
  folder_remove(whole.folder);
  folder_remove(broken.folder);
}
END_TEST

START_TEST(the_last_record_of_a_case_wins) {
  journal_folder j;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  steading_cell message = text("killed"), result = number(4), other = number(5);
  begin(&j);
  journal = create(j.path);
  append(journal, 2, true, &message, 1);
  append(journal, 1, false, &other, 1);
  append(journal, 2, true, &message, 1);
  append(journal, 2, false, &result, 1);
  close_journal(journal);
  ck_assert_uint_eq(resume(j.path, &journal, &records), 2);
  ck_assert_uint_eq(records[0].case_index, 1);
  ck_assert_uint_eq(records[1].case_index, 2);
  ck_assert(!records[1].failed);
  ck_assert_double_eq(records[1].cells[0].number, 4);
  steading_journal_records_free(records, 2);
  close_journal(journal);
  folder_remove(j.folder);
}
END_TEST

/* --- damage ------------------------------------------------------------------------------------ */

/* Where the last line of some bytes begins. */
static size_t last_line(const char *bytes, size_t length) {
  size_t at = length - 1;
  while (bytes[at - 1] != '\n') at--;
  return at;
}

START_TEST(a_last_record_cut_at_any_byte_is_dropped) {
  journal_folder j;
  size_t length = 0;
  begin(&j);
  write_three(j.path);
  char *bytes = folder_read(j.path, &length);
  size_t start = last_line(bytes, length);
  for (size_t cut = start; cut <= length; cut++) {
    steading_journal *journal = NULL;
    steading_journal_record *records = NULL;
    struct stat found;
    folder_write(j.path, bytes, cut);
    size_t count = resume(j.path, &journal, &records), expected = cut == length ? 3 : 2;
    ck_assert_uint_eq(count, expected);
    ck_assert_str_eq(records[1].cells[0].text, "no array named 'west'");
    steading_journal_records_free(records, count);
    close_journal(journal);
    ck_assert_int_eq(stat(j.path, &found), 0);
    ck_assert_int_eq(found.st_size, (off_t)(cut == length ? length : start));
  }
  free(bytes);
  folder_remove(j.folder);
}
END_TEST

START_TEST(a_last_record_damaged_at_any_byte_is_dropped) {
  journal_folder j;
  size_t length = 0;
  begin(&j);
  write_three(j.path);
  char *bytes = folder_read(j.path, &length);
  for (size_t at = last_line(bytes, length); at + 1 < length; at++) {
    steading_journal *journal = NULL;
    steading_journal_record *records = NULL;
    bytes[at] ^= 1;
    if (bytes[at] != '\n') { /* that would be two lines */
      folder_write(j.path, bytes, length);
      size_t count = resume(j.path, &journal, &records);
      ck_assert_uint_eq(count, 2);
      steading_journal_records_free(records, count);
      close_journal(journal);
    }
    bytes[at] ^= 1;
  }
  free(bytes);
  folder_remove(j.folder);
}
END_TEST

START_TEST(damage_before_the_last_line_names_the_line) {
  journal_folder j;
  size_t length = 0, line = 1;
  char where[FILE_PATH_SIZE + 20];
  begin(&j);
  write_three(j.path);
  char *bytes = folder_read(j.path, &length);
  size_t last = last_line(bytes, length);
  for (size_t at = 0; at < last; at++) {
    if (bytes[at] == '\n') {
      line++;
      continue;
    }
    bytes[at] ^= 1;
    snprintf(where, sizeof where, "%s:%zu", j.path, line);
    if (bytes[at] != '\n' && line == 1) { /* no longer a journal: it must not be overwritten */
      folder_write(j.path, bytes, length);
      assert_error(j.path, header, where, "is not the first line of a journal");
    } else if (bytes[at] != '\n') {
      folder_write(j.path, bytes, length);
      assert_error(j.path, header, where, "is damaged");
    }
    bytes[at] ^= 1;
  }
  free(bytes);
  folder_remove(j.folder);
}
END_TEST

/* A sound checksum over what is no record: written by something else, never dropped in silence. */
START_TEST(a_line_with_a_right_checksum_must_be_a_record) {
  static const char *const payloads[] = {
      "case 0 ok",          "case 1",           "case x ok",         "case 1 done",
      "case 1 ok ",         "case 1 ok n:",     "case 1 ok n:1.5",   "case 1 ok n:0x",
      "case 1 ok n:0x1p",   "case 1 ok n:0x1p+", "case 1 ok n:0x.8p+0", "case 1 ok n:0x1.8p+0x",
      "case 1 ok n:0x11111111111111111p+0",     "case 1 ok n:0x1p+99999999999",
      "case 1 ok t:\\x4",   "case 1 ok t:\\x00", "case 1 ok t:\\n",   "case 1 ok t:a\tb",
      "case 1 ok  n:nan",   "case 1 ok q:1",    "case 1 oks",        "case 1 ok n:infinity",
      "case 99999999999999999999999 ok",        ""};
  journal_folder j;
  begin(&j);
  for (size_t i = 0; i < sizeof payloads / sizeof *payloads; i++) {
    char hex[65], where[FILE_PATH_SIZE + 20];
    close_journal(create(j.path));
    FILE *file = fopen(j.path, "ab");
    ck_assert_ptr_nonnull(file);
    steading_sha256(payloads[i], strlen(payloads[i]), hex);
    fprintf(file, "%s %.16s\n", payloads[i], hex);
    fclose(file);
    snprintf(where, sizeof where, "%s:2", j.path);
    assert_error(j.path, header, where, "is not the record of a case");
  }
  folder_remove(j.folder);
}
END_TEST

START_TEST(another_header_says_what_changed_and_how_to_start_afresh) {
  journal_folder j;
  size_t length = 0;
  begin(&j);
  write_three(j.path);
  char *before = folder_read(j.path, &length);
  assert_error(j.path, "steading 1 script=0a1b inputs=9999 seed=5 maths=4e5f", j.path,
               "the script, its inputs");
  assert_error(j.path, "steading 1 script=0a1b inputs=9999 seed=5 maths=4e5f", j.path,
               "'inputs=2c3d seed=5 maths=4e5f', now it is 'inputs=9999 seed=5 maths=4e5f'");
  assert_error(j.path, "steading 1 script=0a1b", j.path, "start afresh without --resume");
  assert_error(j.path, "", j.path, "start afresh without --resume");
  char *after = folder_read(j.path, &length);
  ck_assert_str_eq(before, after); /* nothing is lost */
  free(before);
  free(after);
  folder_remove(j.folder);
}
END_TEST

START_TEST(a_header_cut_at_any_byte_starts_afresh) {
  journal_folder j;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  size_t length = 0;
  begin(&j);
  close_journal(create(j.path));
  char *bytes = folder_read(j.path, &length);
  for (size_t cut = 0; cut <= length; cut++) {
    size_t now = 0;
    folder_write(j.path, bytes, cut);
    ck_assert_uint_eq(resume(j.path, &journal, &records), 0);
    steading_journal_records_free(records, 0);
    close_journal(journal);
    char *again = folder_read(j.path, &now);
    ck_assert_str_eq(again, bytes);
    free(again);
  }
  free(bytes);
  folder_remove(j.folder);
}
END_TEST

START_TEST(a_file_that_is_no_journal_is_left_alone) {
  journal_folder j;
  char where[FILE_PATH_SIZE + 20];
  size_t length = 0;
  begin(&j);
  snprintf(where, sizeof where, "%s:1", j.path);
  folder_write(j.path, "hour,import_kwh\n1,2\n", 20);
  assert_error(j.path, header, where, "is not the first line of a journal");
  folder_write(j.path, "notes", 5);
  assert_error(j.path, header, where, "is not the first line of a journal");
  char *bytes = folder_read(j.path, &length);
  ck_assert_str_eq(bytes, "notes");
  free(bytes);
  folder_remove(j.folder);
}
END_TEST

/* --- files and processes ----------------------------------------------------------------------- */

START_TEST(a_journal_that_does_not_exist_is_started) {
  journal_folder j;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  steading_error error = {0};
  char path[FILE_PATH_SIZE];
  begin(&j);
  ck_assert_uint_eq(resume(j.path, &journal, &records), 0);
  steading_journal_records_free(records, 0);
  close_journal(journal);
  ck_assert_int_eq(access(j.path, F_OK), 0);
  folder_path(j.folder, "none/study.journal", path);
  ck_assert_int_eq(steading_journal_create(path, header, &journal, &error), STEADING_IO);
  ck_assert_str_eq(error.path, path);
  ck_assert_int_eq(steading_journal_create(j.folder, header, &journal, &error), STEADING_IO);
  folder_remove(j.folder);
}
END_TEST

START_TEST(starting_afresh_drops_what_was_there) {
  journal_folder j;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  begin(&j);
  write_three(j.path);
  close_journal(create(j.path));
  ck_assert_uint_eq(resume(j.path, &journal, &records), 0);
  steading_journal_records_free(records, 0);
  close_journal(journal);
  folder_remove(j.folder);
}
END_TEST

/* What the other process gets when it tries to take the journal, as its exit status. */
static steading_status status_elsewhere(const char *path, bool afresh) {
  int child_status = 0;
  pid_t child = fork();
  ck_assert_int_ge(child, 0);
  if (child == 0) {
    steading_journal *journal = NULL;
    steading_journal_record *records = NULL;
    steading_error error = {0};
    size_t count = 0;
    steading_status status =
        afresh ? steading_journal_create(path, header, &journal, &error)
               : steading_journal_resume(path, header, &journal, &records, &count, &error);
    bool named = strcmp(error.path, path) == 0 && strstr(error.text, "another process") != NULL;
    steading_journal_records_free(records, count);
    steading_journal_forget(journal);
    _exit(status == STEADING_BAD_INPUT && !named ? 99 : (int)status);
  }
  ck_assert_int_eq(waitpid(child, &child_status, 0), child);
  ck_assert(WIFEXITED(child_status));
  return (steading_status)WEXITSTATUS(child_status);
}

START_TEST(a_second_process_finds_the_journal_taken) {
  journal_folder j;
  size_t length = 0;
  begin(&j);
  steading_journal *journal = create(j.path);
  steading_cell cell = number(1);
  append(journal, 1, false, &cell, 1);
  ck_assert_int_eq(status_elsewhere(j.path, false), STEADING_BAD_INPUT);
  ck_assert_int_eq(status_elsewhere(j.path, true), STEADING_BAD_INPUT);
  char *bytes = folder_read(j.path, &length);
  ck_assert_ptr_nonnull(strstr(bytes, "case 1 ok")); /* not replaced by the one refused */
  free(bytes);
  close_journal(journal);
  ck_assert_int_eq(status_elsewhere(j.path, false), STEADING_OK);
  folder_remove(j.folder);
}
END_TEST

START_TEST(a_child_that_forgets_the_journal_does_not_keep_it_locked) {
  journal_folder j;
  int to_child[2];
  begin(&j);
  ck_assert_int_eq(pipe(to_child), 0);
  steading_journal *journal = create(j.path);
  pid_t child = fork();
  ck_assert_int_ge(child, 0);
  if (child == 0) { /* a worker that lives longer than its parent's journal */
    char byte = 0;
    close(to_child[1]);
    steading_journal_forget(journal);
    _exit(read(to_child[0], &byte, 1) == 0 ? 0 : 1);
  }
  close(to_child[0]);
  /* The child's copy may not be closed yet; the parent's lock must hold meanwhile. */
  ck_assert_int_eq(status_elsewhere(j.path, false), STEADING_BAD_INPUT);
  close_journal(journal);
  steading_status status = STEADING_BAD_INPUT;
  for (int i = 0; i < 200 && status != STEADING_OK; i++) {
    status = status_elsewhere(j.path, false);
    usleep(5000);
  }
  ck_assert_int_eq(status, STEADING_OK);
  close(to_child[1]);
  ck_assert_int_eq(waitpid(child, NULL, 0), child);
  folder_remove(j.folder);
}
END_TEST

/* A limit on a file's size stands for a full disk: the half record is taken back. */
START_TEST(a_full_disk_leaves_a_sound_journal) {
  journal_folder j;
  struct rlimit before, limit;
  steading_journal *journal = NULL;
  steading_journal_record *records = NULL;
  steading_error error = {0};
  char long_text[400];
  memset(long_text, 'x', sizeof long_text - 1);
  long_text[sizeof long_text - 1] = '\0';
  steading_cell small = number(1), large = text(long_text);
  steading_journal_record record = {.case_index = 2, .cell_count = 1, .cells = &large};
  begin(&j);
  journal = create(j.path);
  append(journal, 1, false, &small, 1);
  ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &before), 0);
  limit = before;
  limit.rlim_cur = 300;
  signal(SIGXFSZ, SIG_IGN);
  ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
  steading_status status = steading_journal_append(journal, &record, &error);
  ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &before), 0);
  ck_assert_int_eq(status, STEADING_IO);
  ck_assert_str_eq(error.path, j.path);
  append(journal, 3, false, &small, 1);
  close_journal(journal);
  ck_assert_uint_eq(resume(j.path, &journal, &records), 2);
  ck_assert_uint_eq(records[1].case_index, 3);
  steading_journal_records_free(records, 2);
  close_journal(journal);
  folder_remove(j.folder);
}
END_TEST

START_TEST(a_header_of_two_lines_is_refused) {
  journal_folder j;
  steading_journal *journal = NULL;
  begin(&j);
  ck_assert_int_eq(steading_journal_create(j.path, "one\ntwo", &journal, NULL), STEADING_FAULT);
  ck_assert_ptr_null(journal);
  ck_assert_int_ne(access(j.path, F_OK), 0);
  folder_remove(j.folder);
}
END_TEST

/* What the fingerprint promises cannot be seen on one machine; its form and repetition can. */
START_TEST(the_fingerprint_is_sixteen_hex_digits_and_stays) {
  char first[17], second[17];
  steading_maths_fingerprint(first);
  steading_maths_fingerprint(second);
  ck_assert_str_eq(first, second);
  ck_assert_uint_eq(strlen(first), 16);
  ck_assert_uint_eq(strspn(first, "0123456789abcdef"), 16);
}
END_TEST

Suite *journal_suite(void) {
  Suite *suite = suite_create("journal");
  TCase *trip = tcase_create("round trip");
  TCase *damage = tcase_create("damage");
  TCase *processes = tcase_create("files and processes");
  tcase_add_test(trip, records_come_back_exactly);
  tcase_add_test(trip, random_numbers_come_back_to_the_bit);
  tcase_add_test(trip, a_journal_is_text_as_described);
  tcase_add_test(trip, a_study_that_was_broken_off_goes_on_to_the_same_bytes);
  tcase_add_test(trip, the_last_record_of_a_case_wins);
  tcase_add_test(damage, a_last_record_cut_at_any_byte_is_dropped);
  tcase_add_test(damage, a_last_record_damaged_at_any_byte_is_dropped);
  tcase_add_test(damage, damage_before_the_last_line_names_the_line);
  tcase_add_test(damage, a_line_with_a_right_checksum_must_be_a_record);
  tcase_add_test(damage, another_header_says_what_changed_and_how_to_start_afresh);
  tcase_add_test(damage, a_header_cut_at_any_byte_starts_afresh);
  tcase_add_test(damage, a_file_that_is_no_journal_is_left_alone);
  tcase_add_test(processes, a_journal_that_does_not_exist_is_started);
  tcase_add_test(processes, starting_afresh_drops_what_was_there);
  tcase_add_test(processes, a_second_process_finds_the_journal_taken);
  tcase_add_test(processes, a_child_that_forgets_the_journal_does_not_keep_it_locked);
  tcase_add_test(processes, a_full_disk_leaves_a_sound_journal);
  tcase_add_test(processes, a_header_of_two_lines_is_refused);
  tcase_add_test(processes, the_fingerprint_is_sixteen_hex_digits_and_stays);
  suite_add_tcase(suite, trip);
  suite_add_tcase(suite, damage);
  suite_add_tcase(suite, processes);
  return suite;
}
