#include "study/journal.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "files/files.h"

enum { CHECKSUM_DIGITS = 16 };

struct steading_journal {
  int handle;
  off_t size; /* up to the end of the last whole line */
  char *path;
};

/* --- text that grows ---------------------------------------------------------------------------
 */

typedef struct text {
  char *bytes;
  size_t used, capacity;
  bool no_memory;
} text;

static void put(text *t, const char *bytes, size_t length) {
  if (t->no_memory) return;
  if (t->bytes == NULL || length > t->capacity - t->used) {
    size_t capacity = 2 * (t->used + length) + 256;
    char *larger = realloc(t->bytes, capacity);
    if (larger == NULL) {
      t->no_memory = true;
      return;
    }
    t->bytes = larger;
    t->capacity = capacity;
  }
  memcpy(t->bytes + t->used, bytes, length);
  t->used += length;
}

static void put_string(text *t, const char *string) { put(t, string, strlen(string)); }

static bool is_escaped(unsigned char c) { return c <= ' ' || c == '\\' || c == 0x7f; }

static void put_escaped(text *t, const char *string) {
  for (const char *p = string; *p != '\0'; p++) {
    char escape[5];
    if (!is_escaped((unsigned char)*p)) {
      put(t, p, 1);
      continue;
    }
    snprintf(escape, sizeof escape, "\\x%02x", (unsigned)(unsigned char)*p);
    put(t, escape, 4);
  }
}

/* %a with '.' whatever the locale puts there. */
static void put_number(text *t, double value) {
  char printed[64];
  bool in_point = false;
  if (isnan(value)) {
    put_string(t, "nan");
    return;
  }
  snprintf(printed, sizeof printed, "%a", value);
  for (const char *p = printed; *p != '\0'; p++) {
    bool known = strchr("0123456789abcdefinxp+-", *p) != NULL;
    if (known) put(t, p, 1);
    if (!known && !in_point) put(t, ".", 1);
    in_point = !known;
  }
}

/* Behind the payload that starts at `from`: its checksum and the end of the line. */
static void end_line(text *t, size_t from) {
  char hex[65];
  if (t->no_memory) return;
  steading_sha256(t->bytes + from, t->used - from, hex);
  put(t, " ", 1);
  put(t, hex, CHECKSUM_DIGITS);
  put(t, "\n", 1);
}

static void put_record(text *t, const steading_journal_record *record) {
  char start[48];
  size_t from = t->used;
  snprintf(start, sizeof start, "case %zu %s", record->case_index,
           record->failed ? "failed" : "ok");
  put_string(t, start);
  for (size_t i = 0; i < record->cell_count; i++) {
    const steading_cell *cell = &record->cells[i];
    put_string(t, cell->is_text ? " t:" : " n:");
    if (!cell->is_text)
      put_number(t, cell->number);
    else if (cell->text != NULL)
      put_escaped(t, cell->text);
  }
  end_line(t, from);
}

/* --- reading a record --------------------------------------------------------------------------
 */

static int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

/* The payload of a whole line (without its end), or false when its checksum is not right. */
static bool check_line(const char *line, size_t length, size_t *payload_length) {
  char hex[65];
  if (length < CHECKSUM_DIGITS + 1) return false;
  *payload_length = length - CHECKSUM_DIGITS - 1;
  if (line[*payload_length] != ' ') return false;
  steading_sha256(line, *payload_length, hex);
  return memcmp(hex, line + *payload_length + 1, CHECKSUM_DIGITS) == 0;
}

static bool take_word(const char **at, const char *end, const char *word) {
  size_t length = strlen(word);
  if ((size_t)(end - *at) < length || memcmp(*at, word, length) != 0) return false;
  *at += length;
  return true;
}

static bool take_index(const char **at, const char *end, size_t *index) {
  const char *first = *at;
  size_t value = 0;
  for (; *at < end && **at >= '0' && **at <= '9'; (*at)++) {
    if (value > (SIZE_MAX - 9) / 10) return false;
    value = 10 * value + (size_t)(**at - '0');
  }
  *index = value;
  return *at > first && value > 0;
}

/* [-]0xh.hhhhp[+-]d as %a prints it; exact, since every such number is a double. */
static bool read_hex_float(const char *at, const char *end, double *value) {
  bool negative = take_word(&at, end, "-"), below_one = false, negative_exponent = false;
  uint64_t digits = 0;
  int exponent = 0, scale = 0, count = 0;
  if (!take_word(&at, end, "0x")) return false;
  for (; at < end && *at != 'p'; at++) {
    if (*at == '.' && !below_one && count > 0) {
      below_one = true;
      continue;
    }
    if (hex_digit(*at) < 0 || ++count > 15) return false;
    digits = digits << 4 | (uint64_t)hex_digit(*at);
    if (below_one) scale -= 4;
  }
  if (count == 0 || !take_word(&at, end, "p")) return false;
  negative_exponent = take_word(&at, end, "-");
  if (!negative_exponent && !take_word(&at, end, "+")) return false;
  if (at == end) return false;
  for (; at < end; at++) {
    if (*at < '0' || *at > '9' || exponent > 9999) return false;
    exponent = 10 * exponent + (*at - '0');
  }
  *value = ldexp((double)digits, (negative_exponent ? -exponent : exponent) + scale);
  if (negative) *value = -*value;
  return true;
}

static bool read_number(const char *at, const char *end, double *value) {
  size_t length = (size_t)(end - at);
  if (length == 3 && memcmp(at, "nan", 3) == 0) {
    *value = (double)NAN;
  } else if (length == 3 && memcmp(at, "inf", 3) == 0) {
    *value = HUGE_VAL;
  } else if (length == 4 && memcmp(at, "-inf", 4) == 0) {
    *value = -HUGE_VAL;
  } else {
    return read_hex_float(at, end, value);
  }
  return true;
}

/* Into `out`, which has room for as many bytes as there are, and a NUL. */
static bool unescape(const char *at, const char *end, char *out) {
  while (at < end) {
    char c = *at++;
    if (c == '\\') {
      int high = end - at >= 3 && at[0] == 'x' ? hex_digit(at[1]) : -1;
      int low = high < 0 ? -1 : hex_digit(at[2]);
      if (low < 0 || 16 * high + low == 0) return false;
      c = (char)(16 * high + low);
      at += 3;
    } else if (is_escaped((unsigned char)c)) {
      return false;
    }
    *out++ = c;
  }
  *out = '\0';
  return true;
}

typedef enum reading { READ_WELL, READ_BADLY, READ_NO_MEMORY } reading;

static reading read_cell(const char *at, const char *end, steading_cell *cell) {
  memset(cell, 0, sizeof *cell);
  if (take_word(&at, end, "n:"))
    return read_number(at, end, &cell->number) ? READ_WELL : READ_BADLY;
  if (!take_word(&at, end, "t:")) return READ_BADLY;
  cell->is_text = true;
  cell->text = malloc((size_t)(end - at) + 1);
  if (cell->text == NULL) return READ_NO_MEMORY;
  return unescape(at, end, cell->text) ? READ_WELL : READ_BADLY;
}

static void free_record(steading_journal_record *record) {
  for (size_t i = 0; i < record->cell_count; i++) free(record->cells[i].text);
  free(record->cells);
  memset(record, 0, sizeof *record);
}

static size_t count_blanks(const char *at, const char *end) {
  size_t count = 0;
  for (; at < end; at++) count += *at == ' ';
  return count;
}

static reading read_cells(const char *at, const char *end, steading_journal_record *record) {
  size_t count = count_blanks(at, end);
  if (at == end) return READ_WELL;
  record->cells = calloc(count, sizeof *record->cells);
  if (count > 0 && record->cells == NULL) return READ_NO_MEMORY;
  while (take_word(&at, end, " ")) {
    const char *blank = memchr(at, ' ', (size_t)(end - at));
    const char *cell_end = blank == NULL ? end : blank;
    reading how = read_cell(at, cell_end, &record->cells[record->cell_count++]);
    if (how != READ_WELL) return how;
    at = cell_end;
  }
  return at == end ? READ_WELL : READ_BADLY;
}

static reading read_record(const char *payload, size_t length, steading_journal_record *record) {
  const char *at = payload, *end = payload + length;
  reading how = READ_BADLY;
  memset(record, 0, sizeof *record);
  if (!take_word(&at, end, "case ") || !take_index(&at, end, &record->case_index))
    return READ_BADLY;
  if (take_word(&at, end, " failed"))
    record->failed = true;
  else if (!take_word(&at, end, " ok"))
    return READ_BADLY;
  if (at < end && *at != ' ') return READ_BADLY;
  how = read_cells(at, end, record);
  if (how != READ_WELL) free_record(record);
  return how;
}

/* --- reading a journal -------------------------------------------------------------------------
 */

/* The records of a journal as they are read, and how much of the file is sound. */
typedef struct content {
  steading_journal_record *records;
  size_t count, capacity, sound_length;
} content;

void steading_journal_records_free(steading_journal_record *records, size_t count) {
  for (size_t i = 0; records != NULL && i < count; i++) free_record(&records[i]);
  free(records);
}

static bool add_record(content *c, const steading_journal_record *record) {
  if (c->count == c->capacity) {
    size_t capacity = 2 * c->capacity + 64;
    steading_journal_record *larger = realloc(c->records, capacity * sizeof *larger);
    if (larger == NULL) return false;
    c->records = larger;
    c->capacity = capacity;
  }
  c->records[c->count++] = *record;
  return true;
}

static steading_status fail_line(const char *path, size_t line, const char *what,
                                 steading_error *error) {
  char place[256];
  snprintf(place, sizeof place, "%.230s:%zu", path, line);
  return steading_fail(error, STEADING_BAD_INPUT, place, "%s; start afresh without --resume", what);
}

static steading_status fail_header(const char *path, const char *old, size_t old_length,
                                   const char *header, steading_error *error) {
  size_t same = 0, length = strlen(header);
  while (same < length && same < old_length && header[same] == old[same]) same++;
  while (same > 0 && header[same - 1] != ' ') same--; /* from the start of a word */
  return steading_fail(error, STEADING_BAD_INPUT, path,
                       "the script, its inputs or arguments, the version or the machine changed "
                       "since this journal was begun (it has '%.*s', now it is '%.80s'); start "
                       "afresh without --resume",
                       (int)(old_length - same < 80 ? old_length - same : 80), old + same,
                       header + same);
}

/* Whether the file is the beginning of a header line that a killed process left. */
static bool is_torn_header(const char *bytes, size_t length, const char *header) {
  text line = {0};
  bool is = false;
  put_string(&line, header);
  end_line(&line, 0);
  is = !line.no_memory && length < line.used && memcmp(bytes, line.bytes, length) == 0;
  free(line.bytes);
  return is;
}

static steading_status read_header(const char *path, const char *header, const char *bytes,
                                   size_t length, content *c, steading_error *error) {
  const char *end = memchr(bytes, '\n', length);
  size_t payload = 0;
  if (end == NULL && is_torn_header(bytes, length, header)) return STEADING_OK;
  if (end == NULL || !check_line(bytes, (size_t)(end - bytes), &payload))
    return fail_line(path, 1, "is not the first line of a journal", error);
  if (payload != strlen(header) || memcmp(bytes, header, payload) != 0)
    return fail_header(path, bytes, payload, header, error);
  c->sound_length = (size_t)(end - bytes) + 1;
  return STEADING_OK;
}

static steading_status read_records(const char *path, const char *bytes, size_t length, content *c,
                                    steading_error *error) {
  for (size_t line = 2; c->sound_length < length; line++) {
    const char *start = bytes + c->sound_length;
    const char *end = memchr(start, '\n', length - c->sound_length);
    steading_journal_record record;
    size_t payload = 0;
    reading how = READ_BADLY;
    if (end == NULL) break;
    if (!check_line(start, (size_t)(end - start), &payload)) {
      if (end + 1 == bytes + length) break; /* the last line */
      return fail_line(path, line, "is damaged, before the journal's last line", error);
    }
    how = read_record(start, payload, &record);
    if (how == READ_BADLY) return fail_line(path, line, "is not the record of a case", error);
    if (how == READ_WELL && !add_record(c, &record)) {
      free_record(&record);
      how = READ_NO_MEMORY;
    }
    if (how == READ_NO_MEMORY)
      return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
    c->sound_length = (size_t)(end - bytes) + 1;
  }
  return STEADING_OK;
}

typedef struct place {
  size_t case_index, position;
} place;

static int compare_places(const void *left, const void *right) {
  const place *a = left, *b = right;
  if (a->case_index != b->case_index) return a->case_index < b->case_index ? -1 : 1;
  return a->position < b->position ? -1 : a->position > b->position;
}

/* Of two records of a case only the last stays. */
static bool drop_repeated(content *c) {
  size_t kept = 0;
  place *places = malloc((c->count + 1) * sizeof *places);
  if (places == NULL) return false;
  for (size_t i = 0; i < c->count; i++)
    places[i] = (place){.case_index = c->records[i].case_index, .position = i};
  qsort(places, c->count, sizeof *places, compare_places);
  for (size_t i = 0; i + 1 < c->count; i++) {
    if (places[i].case_index == places[i + 1].case_index)
      free_record(&c->records[places[i].position]); /* its case_index is 0 then */
  }
  free(places);
  for (size_t i = 0; i < c->count; i++) {
    if (c->records[i].case_index != 0) c->records[kept++] = c->records[i];
  }
  c->count = kept;
  return true;
}

static steading_status read_journal(const char *path, const char *header, content *c,
                                    steading_error *error) {
  char *bytes = NULL;
  size_t length = 0;
  steading_status status = steading_file_read(path, &bytes, &length, error);
  if (status == STEADING_OK) status = read_header(path, header, bytes, length, c, error);
  if (status == STEADING_OK && c->sound_length > 0)
    status = read_records(path, bytes, length, c, error);
  free(bytes);
  if (status == STEADING_OK && !drop_repeated(c))
    status = steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
  return status;
}

/* --- the open journal --------------------------------------------------------------------------
 */

static steading_status fail_write(const char *path, int reason, steading_error *error) {
  return steading_fail(error, STEADING_IO, path, "cannot be written: %s", strerror(reason));
}

void steading_journal_forget(steading_journal *journal) {
  if (journal == NULL) return;
  if (journal->handle >= 0) close(journal->handle);
  free(journal->path);
  free(journal);
}

/* Open and lock; the file may be empty or not. */
static steading_status open_locked(const char *path, const char *header, steading_journal **journal,
                                   steading_error *error) {
  struct stat found;
  steading_journal *made = NULL;
  int handle = -1;
  if (strpbrk(header, "\r\n") != NULL)
    return steading_fail(error, STEADING_FAULT, path, "the journal's header is not one line");
  handle = open(path, O_RDWR | O_APPEND | O_CREAT | O_CLOEXEC | O_NONBLOCK | O_NOCTTY, 0644);
  if (handle < 0)
    return steading_fail(error, STEADING_IO, path, "cannot be opened: %s", strerror(errno));
  if (fstat(handle, &found) != 0 || !S_ISREG(found.st_mode)) {
    close(handle);
    return steading_fail(error, STEADING_IO, path, "is not a file");
  }
  if (flock(handle, LOCK_EX | LOCK_NB) != 0) {
    int reason = errno;
    close(handle);
    if (reason == EWOULDBLOCK)
      return steading_fail(error, STEADING_BAD_INPUT, path,
                           "another process is writing this journal");
    return steading_fail(error, STEADING_IO, path, "cannot be locked: %s", strerror(reason));
  }
  made = calloc(1, sizeof *made);
  if (made != NULL) {
    made->handle = handle;
    made->path = strdup(path);
  } else {
    close(handle);
  }
  if (made == NULL || made->path == NULL) {
    steading_journal_forget(made);
    return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
  }
  *journal = made;
  return STEADING_OK;
}

/* A write cut short (a full disk) is taken back: a half line in the middle would be damage. */
static steading_status write_line(steading_journal *journal, const text *line,
                                  steading_error *error) {
  ssize_t written = 0;
  int reason = 0;
  if (line->no_memory)
    return steading_fail(error, STEADING_NO_MEMORY, journal->path, "not enough memory");
  do {
    written = write(journal->handle, line->bytes, line->used);
  } while (written < 0 && errno == EINTR);
  if (written == (ssize_t)line->used) {
    journal->size += written;
    return STEADING_OK;
  }
  reason = written < 0 ? errno : ENOSPC;
  if (ftruncate(journal->handle, journal->size) != 0) reason = errno;
  return fail_write(journal->path, reason, error);
}

static steading_status start_afresh(steading_journal *journal, const char *header,
                                    steading_error *error) {
  text line = {0};
  steading_status status = STEADING_OK;
  if (ftruncate(journal->handle, 0) != 0) return fail_write(journal->path, errno, error);
  journal->size = 0;
  put_string(&line, header);
  end_line(&line, 0);
  status = write_line(journal, &line, error);
  free(line.bytes);
  return status;
}

steading_status steading_journal_create(const char *path, const char *header,
                                        steading_journal **journal, steading_error *error) {
  steading_journal *made = NULL;
  steading_status status = STEADING_OK;
  *journal = NULL;
  status = open_locked(path, header, &made, error);
  if (status == STEADING_OK) status = start_afresh(made, header, error);
  if (status != STEADING_OK) {
    steading_journal_forget(made);
    return status;
  }
  *journal = made;
  return STEADING_OK;
}

/* Cut the torn tail off, or begin where there is nothing yet. */
static steading_status go_on(steading_journal *journal, const char *header, const content *c,
                             steading_error *error) {
  if (c->sound_length == 0) return start_afresh(journal, header, error);
  journal->size = (off_t)c->sound_length;
  if (ftruncate(journal->handle, journal->size) != 0)
    return fail_write(journal->path, errno, error);
  return STEADING_OK;
}

steading_status steading_journal_resume(const char *path, const char *header,
                                        steading_journal **journal,
                                        steading_journal_record **records, size_t *count,
                                        steading_error *error) {
  steading_journal *made = NULL;
  content c = {0};
  steading_status status = STEADING_OK;
  *journal = NULL;
  *records = NULL;
  *count = 0;
  status = open_locked(path, header, &made, error);
  if (status == STEADING_OK) status = read_journal(path, header, &c, error);
  if (status == STEADING_OK) status = go_on(made, header, &c, error);
  if (status != STEADING_OK) {
    steading_journal_records_free(c.records, c.count);
    steading_journal_forget(made);
    return status;
  }
  *journal = made;
  *records = c.records;
  *count = c.count;
  return STEADING_OK;
}

steading_status steading_journal_append(steading_journal *journal,
                                        const steading_journal_record *record,
                                        steading_error *error) {
  text line = {0};
  steading_status status = STEADING_OK;
  assert(record->case_index > 0);
  put_record(&line, record);
  status = write_line(journal, &line, error);
  free(line.bytes);
  return status;
}

steading_status steading_journal_close(steading_journal *journal, steading_error *error) {
  steading_status status = STEADING_OK;
  if (fsync(journal->handle) != 0 && errno != EINVAL)
    status = fail_write(journal->path, errno, error);
  if (close(journal->handle) != 0 && errno != EINTR && status == STEADING_OK)
    status = fail_write(journal->path, errno, error);
  journal->handle = -1;
  steading_journal_forget(journal);
  return status;
}

/* --- fingerprint -------------------------------------------------------------------------------
 */

/* `position` 0..1. The arguments are volatile: a compiler would compute what it knows with its own
 * library, not with the machine's. */
static double maths_result(int function, double position) {
  volatile double x = position, y = 1 - position / 2;
  switch (function) {
    case 0:
      return exp(40 * x - 20);
    case 1:
      return log(1e-3 + 1e3 * x);
    case 2:
      return pow(0.1 + 10 * x, 8 * y - 6);
    case 3:
      return sin(200 * x - 100);
    case 4:
      return cos(200 * x - 100);
    default:
      return atan2(2 * x - 1, y - 0.7);
  }
}

void steading_maths_fingerprint(char hex[17]) {
  unsigned char bytes[256 * 8];
  char all[65];
  for (int i = 0; i < 256; i++) {
    double result = maths_result(i % 6, (i + 0.5) / 256);
    uint64_t bits = 0;
    memcpy(&bits, &result, sizeof bits);
    for (int k = 0; k < 8; k++) bytes[8 * i + k] = (unsigned char)(bits >> (8 * k));
  }
  steading_sha256(bytes, sizeof bytes, all);
  memcpy(hex, all, 16);
  hex[16] = '\0';
}
