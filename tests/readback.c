#include "readback.h"

#include <check.h>
#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* --- CSV ------------------------------------------------------------------------------------- */

typedef struct csv_reader {
  const char *at;
  char *to; /* cells, each with a NUL behind it, never longer than the text read so far */
  size_t line;
} csv_reader;

/* One cell to `r->to`; the character behind it stays. */
static const char *read_cell(csv_reader *r) {
  if (*r->at == '"') {
    r->at++;
    for (;;) {
      if (*r->at == '\0') return "a quote is not closed";
      if (*r->at == '"' && r->at[1] != '"') break;
      if (*r->at == '"') r->at++;
      *r->to++ = *r->at++;
    }
    r->at++;
    if (*r->at != ',' && *r->at != '\n') return "text behind a closing quote";
  } else {
    while (*r->at != ',' && *r->at != '\n') {
      if (*r->at == '\0') return "the last line has no end";
      if (*r->at == '"') return "a quote inside a bare cell";
      if (*r->at == '\r') return "a carriage return outside quotes";
      *r->to++ = *r->at++;
    }
  }
  *r->to++ = '\0';
  return NULL;
}

static const char *read_rows(csv_reader *r, csv_table *table) {
  size_t count = 0, width = 0;
  for (r->line = 1; *r->at != '\0'; r->line++) {
    for (width = 0;;) {
      const char *wrong = NULL;
      table->cells[count++] = r->to;
      wrong = read_cell(r);
      if (wrong != NULL) return wrong;
      width++;
      if (*r->at++ == '\n') break;
    }
    if (r->line == 1) table->columns = width;
    if (width != table->columns) return "a row of another width";
  }
  if (count == 0) return "there is no header";
  table->rows = count / table->columns - 1;
  return NULL;
}

bool readback_csv(const char *text, csv_table *table, char why[256]) {
  csv_reader r = {.at = text};
  const char *wrong = NULL;
  size_t most = 1;
  for (const char *at = text; *at != '\0'; at++) most += *at == ',' || *at == '\n';
  *table = (csv_table){.text = malloc(strlen(text) + 2), .cells = malloc(most * sizeof(char *))};
  ck_assert(table->text != NULL && table->cells != NULL);
  r.to = table->text;
  wrong = read_rows(&r, table);
  if (wrong == NULL) return true;
  snprintf(why, 256, "line %zu: %s", r.line, wrong);
  readback_csv_free(table);
  return false;
}

void readback_csv_free(csv_table *table) {
  free(table->text);
  free(table->cells);
  *table = (csv_table){.columns = 0};
}

const char *csv_name(const csv_table *table, size_t column) { return table->cells[column]; }

const char *csv_cell(const csv_table *table, size_t row, size_t column) {
  return table->cells[(row + 1) * table->columns + column];
}

int csv_column(const csv_table *table, const char *name) {
  for (size_t c = 0; c < table->columns; c++)
    if (strcmp(csv_name(table, c), name) == 0) return (int)c;
  return -1;
}

/* Check notes every assertion that holds in a file, which is slow for a million cells. */
double csv_value(const csv_table *table, size_t row, const char *name) {
  int column = csv_column(table, name);
  double value = 0;
  if (column < 0) ck_abort_msg("there is no column '%s'", name);
  if (!is_csv_number(csv_cell(table, row, (size_t)column), &value))
    ck_abort_msg("row %zu: '%s' is \"%s\", expected a number", row + 1, name,
                 csv_cell(table, row, (size_t)column));
  return value;
}

static size_t take_digits(const char **at) {
  size_t count = 0;
  for (; isdigit((unsigned char)**at); (*at)++) count++;
  return count;
}

bool is_csv_number(const char *text, double *value) {
  const char *at = text, *first = NULL;
  char *end = NULL;
  size_t digits = 0;
  bool is_zero = true;
  if (*at == '-') at++;
  first = at;
  if (take_digits(&at) == 0) return false;
  if (*at == '.') {
    at++;
    if (take_digits(&at) == 0) return false;
  }
  for (const char *d = first; d < at; d++) {
    if (*d >= '1' && *d <= '9') is_zero = false;
    if (!is_zero && *d != '.') digits++;
  }
  /* zeros at the end of a whole number stand for its size, not for its digits */
  for (const char *d = at; strchr("0", d[-1]) != NULL && d - 1 > first; d--) digits -= digits > 0;
  if (*at == 'e') {
    at++;
    if (*at == '+' || *at == '-') at++;
    if (take_digits(&at) == 0) return false;
  }
  if (*at != '\0' || digits > 12 || (is_zero && text[0] == '-')) return false;
  *value = strtod(text, &end);
  return end == at && isfinite(*value);
}

static bool differ(char why[512], const char *format, ...) __attribute__((format(printf, 2, 3)));

static bool differ(char why[512], const char *format, ...) {
  va_list list;
  va_start(list, format);
  vsnprintf(why, 512, format, list);
  va_end(list);
  return false;
}

static bool cells_same(const char *a, const char *b, double relative) {
  double x = 0, y = 0;
  if (strcmp(a, b) == 0) return strcmp(a, "nan") != 0 && strcmp(a, "-nan") != 0;
  if (!is_csv_number(a, &x) || !is_csv_number(b, &y)) return false;
  return fabs(x - y) <= relative * fmax(fabs(x), fabs(y));
}

static bool tables_same(const csv_table *a, const csv_table *b, double relative, char why[512]) {
  if (a->columns != b->columns)
    return differ(why, "%zu columns, expected %zu", b->columns, a->columns);
  for (size_t c = 0; c < a->columns; c++)
    if (strcmp(csv_name(a, c), csv_name(b, c)) != 0)
      return differ(why, "column %zu is '%.99s', expected '%.99s'", c + 1, csv_name(b, c),
                    csv_name(a, c));
  if (a->rows != b->rows) return differ(why, "%zu rows, expected %zu", b->rows, a->rows);
  for (size_t r = 0; r < a->rows; r++)
    for (size_t c = 0; c < a->columns; c++)
      if (!cells_same(csv_cell(a, r, c), csv_cell(b, r, c), relative))
        return differ(why, "row %zu, %.99s: \"%.99s\", expected \"%.99s\"", r + 1, csv_name(a, c),
                      csv_cell(b, r, c), csv_cell(a, r, c));
  return true;
}

bool csv_same(const char *expected, const char *found, double relative, char why[512]) {
  csv_table a, b;
  char wrong[256];
  bool same = false;
  if (!readback_csv(expected, &a, wrong)) return differ(why, "expected: %s", wrong);
  if (!readback_csv(found, &b, wrong)) {
    readback_csv_free(&a);
    return differ(why, "%s", wrong);
  }
  same = tables_same(&a, &b, relative, why);
  readback_csv_free(&a);
  readback_csv_free(&b);
  return same;
}

/* --- JSON ------------------------------------------------------------------------------------ */

typedef struct json_reader {
  const unsigned char *begin, *at;
  const char *wrong;
  int depth;
} json_reader;

static bool wrong(json_reader *r, const char *what) {
  if (r->wrong == NULL) r->wrong = what;
  return false;
}

static void skip_blanks(json_reader *r) {
  while (*r->at != '\0' && strchr(" \t\n\r", *r->at) != NULL) r->at++;
}

static bool take_char(json_reader *r, char c) {
  if (*r->at != (unsigned char)c) return false;
  r->at++;
  return true;
}

/* A sequence of UTF-8 (RFC 3629): shortest form, no surrogate, at most U+10FFFF. */
static bool take_sequence(json_reader *r) {
  unsigned char first = *r->at;
  int more = first < 0x80   ? 0
             : first < 0xC2 ? -1
             : first < 0xE0 ? 1
             : first < 0xF0 ? 2
             : first < 0xF5 ? 3
                            : -1;
  uint32_t code = more <= 0 ? first : first & (0x3Fu >> more);
  if (more < 0) return wrong(r, "no UTF-8");
  r->at++;
  for (int i = 0; i < more; i++, r->at++) {
    if ((*r->at & 0xC0) != 0x80) return wrong(r, "no UTF-8");
    code = code << 6 | (*r->at & 0x3F);
  }
  if ((more == 2 && code < 0x800) || (more == 3 && (code < 0x10000 || code > 0x10FFFF)) ||
      (code >= 0xD800 && code < 0xE000))
    return wrong(r, "no UTF-8");
  return true;
}

/* Into `to` when it is not NULL; escapes beyond ASCII are kept as '?'. */
static bool take_string(json_reader *r, char *to, size_t size) {
  size_t used = 0;
  if (!take_char(r, '"')) return wrong(r, "expected a string");
  while (*r->at != '"') {
    const unsigned char *from = r->at;
    char c = 0;
    if (*r->at < 0x20) return wrong(r, "a control character or the end inside a string");
    if (*r->at == '\\') {
      static const char escapes[] = "\"\\/bfnrt", meant[] = "\"\\/\b\f\n\r\t";
      const char *which = NULL;
      r->at++;
      which = *r->at != '\0' ? strchr(escapes, *r->at) : NULL;
      if (*r->at == 'u') {
        unsigned code = 0;
        for (int i = 1; i <= 4; i++)
          if (!isxdigit(r->at[i])) return wrong(r, "a bad escape");
        sscanf((const char *)r->at + 1, "%4x", &code);
        c = code < 0x80 ? (char)code : '?';
        r->at += 5;
      } else if (which != NULL) {
        c = meant[which - escapes];
        r->at++;
      } else {
        return wrong(r, "a bad escape");
      }
      if (to != NULL && used + 1 < size) to[used++] = c;
      continue;
    }
    if (!take_sequence(r)) return false;
    for (; to != NULL && from < r->at && used + 1 < size; from++) to[used++] = (char)*from;
  }
  r->at++;
  if (to != NULL) to[used] = '\0';
  return true;
}

static bool take_value(json_reader *r);

static bool take_number(json_reader *r) {
  const char *at = (const char *)r->at;
  if (*at == '-') at++;
  if (*at == '0') {
    at++;
  } else if (take_digits(&at) == 0) {
    return wrong(r, "expected a value");
  }
  if (*at == '.') {
    at++;
    if (take_digits(&at) == 0) return wrong(r, "a bad number");
  }
  if (*at == 'e' || *at == 'E') {
    at++;
    if (*at == '+' || *at == '-') at++;
    if (take_digits(&at) == 0) return wrong(r, "a bad number");
  }
  r->at = (const unsigned char *)at;
  return true;
}

static bool take_members(json_reader *r, char open, char close) {
  if (++r->depth > 20) return wrong(r, "nested too deeply");
  take_char(r, open);
  skip_blanks(r);
  if (take_char(r, close)) return r->depth-- > 0;
  for (;;) {
    skip_blanks(r);
    if (open == '{') {
      if (!take_string(r, NULL, 0)) return false;
      skip_blanks(r);
      if (!take_char(r, ':')) return wrong(r, "expected a colon");
    }
    if (!take_value(r)) return false;
    skip_blanks(r);
    if (take_char(r, close)) return r->depth-- > 0;
    if (!take_char(r, ',')) return wrong(r, "expected a comma or the end");
  }
}

static bool take_value(json_reader *r) {
  static const char *const words[] = {"true", "false", "null"};
  skip_blanks(r);
  if (*r->at == '{') return take_members(r, '{', '}');
  if (*r->at == '[') return take_members(r, '[', ']');
  if (*r->at == '"') return take_string(r, NULL, 0);
  for (int i = 0; i < 3; i++)
    if (strncmp((const char *)r->at, words[i], strlen(words[i])) == 0) {
      r->at += strlen(words[i]);
      return true;
    }
  return take_number(r);
}

bool json_check(const char *text, char why[256]) {
  json_reader r = {.begin = (const unsigned char *)text, .at = (const unsigned char *)text};
  bool good = take_value(&r);
  skip_blanks(&r);
  if (good && *r.at != '\0') good = wrong(&r, "text behind the value");
  if (!good) snprintf(why, 256, "byte %td: %s", r.at - r.begin, r.wrong);
  return good;
}

bool json_member(const char *text, const char *name, char *value, size_t size) {
  json_reader r = {.begin = (const unsigned char *)text, .at = (const unsigned char *)text};
  char key[128];
  skip_blanks(&r);
  if (!take_char(&r, '{')) return false;
  do {
    const unsigned char *from = NULL;
    skip_blanks(&r);
    if (!take_string(&r, key, sizeof key)) return false;
    skip_blanks(&r);
    if (!take_char(&r, ':')) return false;
    skip_blanks(&r);
    from = r.at;
    if (strcmp(key, name) == 0 && *r.at == '"') return take_string(&r, value, size);
    if (!take_value(&r)) return false;
    if (strcmp(key, name) == 0) {
      snprintf(value, size, "%.*s", (int)(r.at - from), (const char *)from);
      return true;
    }
    skip_blanks(&r);
  } while (take_char(&r, ','));
  return false;
}

void csv_check_balance(const csv_table *table, const char *title, const char *const *terms,
                       double share) {
  for (size_t row = 0; row < table->rows; row++) {
    double sum = 0, through = 0;
    for (size_t i = 0; terms[i] != NULL; i++) {
      double value = csv_value(table, row, terms[i] + 1);
      sum += terms[i][0] == '+' ? value : -value;
      through += fabs(value);
    }
    if (!(fabs(sum) <= share * (through + 1)))
      ck_abort_msg("%s, row %zu: %g kWh of %g are missing", title, row + 1, sum, through);
  }
}

char *read_bytes(const char *path, size_t *length) {
  FILE *stream = fopen(path, "rb");
  char *bytes = NULL;
  long size = 0;
  if (stream == NULL) return NULL;
  ck_assert_int_eq(fseek(stream, 0, SEEK_END), 0);
  size = ftell(stream);
  ck_assert_int_gt((int)size, 0);
  rewind(stream);
  bytes = malloc((size_t)size + 1);
  ck_assert_ptr_nonnull(bytes);
  *length = fread(bytes, 1, (size_t)size, stream);
  bytes[*length] = '\0';
  fclose(stream);
  return bytes;
}
