#include "files/table_read.h"

#include <assert.h>
#include <ctype.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"

/* A cell as it stands in the file, without its quotes. */
typedef struct cell {
  const char *at;
  uint32_t length;
  bool quoted, doubled; /* doubled: quotes within are */
} cell;

typedef struct line {
  size_t first; /* cell */
  uint32_t cells;
  uint32_t number; /* in the file, from 1 */
} line;

/* A column that is wanted and where it stands. */
typedef struct wanted {
  const char *name, *heading; /* heading for messages */
  size_t at;
  steading_csv_kind kind;
  double factor, offset;
} wanted;

typedef struct reader {
  const char *at, *end, *path;
  const steading_csv_options *options;
  steading_error *error;
  char delimiter, decimal;
  uint32_t number; /* of the line that begins at `at` */
  cell *cells;
  line *lines; /* lines[0] is the heading line */
  size_t cell_count, cell_room, line_count, line_room;
  char **headings; /* [heading_count] */
  size_t heading_count;
  wanted *columns;
  size_t column_count;
} reader;

static steading_status no_memory(reader *r) {
  return steading_fail(r->error, STEADING_NO_MEMORY, r->path, "not enough memory");
}

#define REFUSE(r, ...) steading_fail((r)->error, STEADING_BAD_INPUT, (r)->path, __VA_ARGS__)

static bool is_blank(const reader *r, char c) {
  return c == ' ' || (c == '\t' && r->delimiter != '\t');
}

/* --- lines and cells ----------------------------------------------------------------------------
 */

static bool at_line_end(const reader *r) {
  return r->at == r->end || *r->at == '\n' || *r->at == '\r';
}

static void pass_line_end(reader *r) {
  if (r->at == r->end) return;
  if (*r->at == '\r' && r->at + 1 < r->end && r->at[1] == '\n') r->at++;
  r->at++;
  r->number++;
}

static void pass_line(reader *r) {
  while (!at_line_end(r)) r->at++;
  pass_line_end(r);
}

static bool pass_empty_line(reader *r) {
  const char *begin = r->at;
  while (!at_line_end(r) && is_blank(r, *r->at)) r->at++;
  if (!at_line_end(r) || begin == r->end) {
    r->at = begin;
    return false;
  }
  pass_line_end(r);
  return true;
}

static bool add_cell(reader *r, cell c) {
  if (r->cell_count == r->cell_room) {
    size_t room = r->cell_room == 0 ? 256 : 2 * r->cell_room;
    cell *more = realloc(r->cells, room * sizeof *more);
    if (more == NULL) return false;
    r->cells = more;
    r->cell_room = room;
  }
  r->cells[r->cell_count++] = c;
  return true;
}

static bool add_line(reader *r) {
  if (r->line_count == r->line_room) {
    size_t room = r->line_room == 0 ? 64 : 2 * r->line_room;
    line *more = realloc(r->lines, room * sizeof *more);
    if (more == NULL) return false;
    r->lines = more;
    r->line_room = room;
  }
  r->lines[r->line_count++] = (line){.first = r->cell_count, .cells = 0, .number = r->number};
  return true;
}

/* A cell behind its opening quote, up to the separator or the end of the line. */
static steading_status read_quoted(reader *r, cell *c) {
  uint32_t opened = r->number;
  c->at = r->at;
  c->quoted = true;
  for (;; r->at++) {
    if (r->at == r->end) return REFUSE(r, "line %u: a quote is not closed", opened);
    if (*r->at == '\n' || (*r->at == '\r' && (r->at + 1 == r->end || r->at[1] != '\n')))
      r->number++;
    if (*r->at != '"') continue;
    if (r->at + 1 == r->end || r->at[1] != '"') break;
    c->doubled = true;
    r->at++;
  }
  c->length = (uint32_t)(r->at - c->at);
  r->at++;
  while (!at_line_end(r) && is_blank(r, *r->at)) r->at++;
  if (!at_line_end(r) && *r->at != r->delimiter)
    return REFUSE(r, "line %u: text stands behind a closing quote", r->number);
  return STEADING_OK;
}

static steading_status read_cell(reader *r, cell *c) {
  const char *end = NULL;
  *c = (cell){.quoted = false};
  while (!at_line_end(r) && is_blank(r, *r->at)) r->at++;
  if (!at_line_end(r) && *r->at == '"') {
    r->at++;
    return read_quoted(r, c);
  }
  c->at = r->at;
  while (!at_line_end(r) && *r->at != r->delimiter) r->at++;
  for (end = r->at; end > c->at && is_blank(r, end[-1]);) end--;
  c->length = (uint32_t)(end - c->at);
  return STEADING_OK;
}

static steading_status read_line(reader *r) {
  if (!add_line(r)) return no_memory(r);
  for (;;) {
    cell c;
    steading_status status = read_cell(r, &c);
    if (status != STEADING_OK) return status;
    if (!add_cell(r, c)) return no_memory(r);
    r->lines[r->line_count - 1].cells++;
    if (at_line_end(r)) break;
    r->at++;
  }
  pass_line_end(r);
  return STEADING_OK;
}

static steading_status check_bytes(reader *r, const char *bytes, size_t length) {
  const char *zero = memchr(bytes, '\0', length);
  bool marked =
      length >= 2 && (memcmp(bytes, "\xFF\xFE", 2) == 0 || memcmp(bytes, "\xFE\xFF", 2) == 0);
  if (marked || (zero != NULL && length >= 4 && (zero == bytes || zero == bytes + 1)))
    return REFUSE(r, "is UTF-16 text; save it as UTF-8");
  if (zero != NULL) return REFUSE(r, "holds a zero byte: it is no text");
  if (length > UINT32_MAX) return REFUSE(r, "is longer than 4 GiB");
  return STEADING_OK;
}

/* The separator of the heading line, which begins at `at`. */
static steading_status find_delimiter(reader *r) {
  static const char candidates[3] = {',', ';', '\t'};
  size_t counts[3] = {0};
  int best = 0;
  bool quoted = false;
  for (const char *c = r->at; c < r->end && (quoted || (*c != '\n' && *c != '\r')); c++) {
    const char *found = quoted ? NULL : memchr(candidates, *c, 3);
    if (*c == '"') quoted = !quoted;
    if (found != NULL) counts[found - candidates]++;
  }
  for (int i = 1; i < 3; i++)
    if (counts[i] > counts[best]) best = i;
  for (int i = 0; i < 3; i++)
    if (i != best && counts[i] > 0 && counts[i] == counts[best])
      return REFUSE(r, "line %u: the headings could be separated by two marks; give delimiter",
                    r->number);
  r->delimiter = candidates[best];
  return STEADING_OK;
}

/* A first line `sep=;`, which spreadsheets write for each other. */
static steading_status read_hint(reader *r) {
  if (r->end - r->at < 5 || strncasecmp(r->at, "sep=", 4) != 0) return STEADING_OK;
  if (r->end - r->at > 5 && r->at[5] != '\n' && r->at[5] != '\r') return STEADING_OK;
  if (strchr(",;\t|", r->at[4]) == NULL) return STEADING_OK;
  if (r->delimiter != '\0' && r->delimiter != r->at[4])
    return REFUSE(r, "line 1: the file says that '%c' separates, the option delimiter says '%c'",
                  r->at[4], r->delimiter);
  r->delimiter = r->at[4];
  if (r->options->skip_rows == 0) pass_line(r);
  return STEADING_OK;
}

static steading_status read_lines(reader *r) {
  steading_status status = read_hint(r);
  if (status != STEADING_OK) return status;
  for (size_t i = 0; i < r->options->skip_rows && r->at < r->end; i++) pass_line(r);
  while (pass_empty_line(r)) continue;
  if (r->at == r->end) return REFUSE(r, "has no heading line");
  if (r->delimiter == '\0') status = find_delimiter(r);
  while (status == STEADING_OK && r->at < r->end)
    if (!pass_empty_line(r)) status = read_line(r);
  if (status != STEADING_OK) return status;
  if (r->options->skip_last_rows > r->line_count - 1)
    return REFUSE(r, "has %zu rows, skip_last_rows is %zu", r->line_count - 1,
                  r->options->skip_last_rows);
  r->line_count -= r->options->skip_last_rows;
  return STEADING_OK;
}

/* --- what a cell holds --------------------------------------------------------------------------
 */

static bool is_missing(const reader *r, const cell *c) {
  if (c->length == 0) return true;
  for (size_t i = 0; i < r->options->missing_count; i++) {
    const char *word = r->options->missing[i];
    if (strlen(word) == c->length && memcmp(word, c->at, c->length) == 0) return true;
  }
  return false;
}

/* ="0012": a spreadsheet keeps the zeros of an id so. */
static bool is_protected(const cell *c) {
  return !c->quoted && c->length >= 3 && c->at[0] == '=' && c->at[1] == '"' &&
         c->at[c->length - 1] == '"';
}

static cell content(cell c) {
  if (is_protected(&c)) {
    c.at += 2;
    c.length -= 3;
  }
  return c;
}

/* The text of a cell, for the caller to free; the apostrophe of steading_table_write_csv is gone.
 */
static char *text_of(const cell *from) {
  cell c = content(*from);
  char *text = malloc((size_t)c.length + 1);
  size_t used = 0;
  if (text == NULL) return NULL;
  for (uint32_t i = 0; i < c.length; i++) {
    text[used++] = c.at[i];
    if (c.doubled && c.at[i] == '"') i++;
  }
  text[used] = '\0';
  if (text[0] == '\'' && steading_table_guards(text)) memmove(text, text + 1, used);
  return text;
}

typedef struct number {
  double value;
  bool has_mark; /* a decimal mark or one of thousands */
  bool is_id;    /* a whole number that loses something as a number */
  bool is_group; /* one mark and three digits behind it: 1.528 could be 1528 */
} number;

/* Digits in groups of three behind the first: 1.528.000. Copies the digits; the length, or 0. */
static size_t take_groups(const char *at, const char *end, char mark, char *to) {
  const char *begin = at;
  size_t used = 0, first = 0;
  while (at < end && isdigit((unsigned char)*at)) to[used++] = *at++;
  first = used;
  if (first < 1 || first > 3 || at == end || *at != mark) return 0;
  while (at < end && *at == mark) {
    if (end - at < 4) return 0;
    for (int i = 1; i <= 3; i++) {
      if (!isdigit((unsigned char)at[i])) return 0;
      to[used++] = at[i];
    }
    at += 4;
  }
  if (at < end && isdigit((unsigned char)*at)) return 0;
  to[used] = '\0';
  return (size_t)(at - begin);
}

/* A decimal number with this decimal mark; thousands marks as the options say. */
static bool read_number(const cell *from, char decimal, char thousands, number *n) {
  cell c = content(*from);
  const char *at = c.at, *end = c.at + c.length, *digits = NULL;
  char text[80], *to = text;
  size_t whole = 0, part = 0, grouped = 0;
  bool exponent = false;
  char between = thousands != '\0' ? thousands : decimal == '.' ? ',' : '.';
  *n = (number){.has_mark = false};
  while (at < end && (*at == ' ' || *at == '\t')) at++;
  while (end > at && (end[-1] == ' ' || end[-1] == '\t')) end--;
  if (c.doubled || at == end || end - at > 70) return false;
  if (*at == '+' || *at == '-') *to++ = *at++;
  digits = at;
  grouped = take_groups(at, end, between, to);
  if (grouped > 0 && (thousands != '\0' || (at + grouped < end && at[grouped] == decimal))) {
    whole = strlen(to);
    n->has_mark = true;
    at += grouped;
    to += whole;
  } else {
    for (; at < end && isdigit((unsigned char)*at); whole++) *to++ = *at++;
  }
  if (at < end && *at == decimal) {
    n->is_group = !n->has_mark && whole >= 1 && whole <= 3 && *digits != '0';
    n->has_mark = true;
    at++;
    *to++ = '.';
    for (; at < end && isdigit((unsigned char)*at); part++) *to++ = *at++;
    n->is_group = n->is_group && part == 3 && at == end;
  }
  if (whole + part == 0) return false;
  if (at < end && (*at == 'e' || *at == 'E')) {
    exponent = true;
    *to++ = *at++;
    if (at < end && (*at == '+' || *at == '-')) *to++ = *at++;
    if (at == end) return false;
    while (at < end && isdigit((unsigned char)*at)) *to++ = *at++;
  }
  if (at != end) return false;
  *to = '\0';
  n->value = strtod(text, NULL);
  n->is_id = is_protected(from) ||
             (!n->has_mark && !exponent && ((whole > 1 && *digits == '0') || whole > 15));
  return isfinite(n->value);
}

static bool read_either(const reader *r, const cell *c, number *n) {
  char thousands = r->options->thousands;
  if (r->decimal != '\0') return read_number(c, r->decimal, thousands, n);
  return (thousands != '.' && read_number(c, '.', thousands, n)) ||
         (thousands != ',' && read_number(c, ',', thousands, n));
}

/* --- headings -----------------------------------------------------------------------------------
 */

static steading_status read_headings(reader *r) {
  r->headings = calloc(r->lines[0].cells, sizeof *r->headings);
  if (r->headings == NULL) return no_memory(r);
  r->heading_count = r->lines[0].cells;
  for (size_t i = 0; i < r->heading_count; i++) {
    r->headings[i] = text_of(&r->cells[r->lines[0].first + i]);
    if (r->headings[i] == NULL) return no_memory(r);
  }
  return STEADING_OK;
}

/* A separator may stand at the end of rows or headings; cells behind it may not. */
static steading_status check_widths(reader *r) {
  size_t least = r->heading_count;
  while (least > 1 && r->headings[least - 1][0] == '\0') least--;
  for (size_t i = 1; i < r->line_count; i++) {
    size_t used = r->lines[i].cells;
    while (used > r->heading_count && r->cells[r->lines[i].first + used - 1].length == 0) used--;
    if (used < least || used > r->heading_count)
      return REFUSE(r, "line %u: found %u cells, the headings are %zu", r->lines[i].number,
                    r->lines[i].cells, least);
  }
  return STEADING_OK;
}

static const cell *cell_at(const reader *r, size_t row, size_t column) {
  static const cell empty = {.at = ""};
  const line *l = &r->lines[row];
  return column < l->cells ? &r->cells[l->first + column] : &empty;
}

static bool has_cells(const reader *r, size_t column) {
  for (size_t i = 1; i < r->line_count; i++)
    if (!is_missing(r, cell_at(r, i, column))) return true;
  return false;
}

static steading_status want_all(reader *r) {
  for (size_t i = 0; i < r->heading_count; i++) {
    const char *heading = r->headings[i];
    if (heading[0] == '\0' && !has_cells(r, i)) continue;
    if (heading[0] == '\0')
      return REFUSE(r, "line %u: column %zu has no heading; choose columns, this one as { %zu }",
                    r->lines[0].number, i + 1, i + 1);
    for (size_t k = 0; k < i; k++)
      if (strcmp(heading, r->headings[k]) == 0)
        return REFUSE(r,
                      "line %u: the heading \"%.60s\" stands over columns %zu and %zu; choose "
                      "columns, these by number",
                      r->lines[0].number, heading, k + 1, i + 1);
    r->columns[r->column_count++] = (wanted){.name = heading, .heading = heading, .at = i};
  }
  return STEADING_OK;
}

static steading_status find_heading(reader *r, const char *heading, size_t *at) {
  size_t found = 0;
  int nearest = -1;
  for (size_t i = r->heading_count; i-- > 0;)
    if (strcmp(heading, r->headings[i]) == 0) {
      found++;
      *at = i;
    }
  if (found == 1) return STEADING_OK;
  if (found > 1)
    return REFUSE(r, "line %u: the heading \"%.60s\" stands over %zu columns; choose by number",
                  r->lines[0].number, heading, found);
  nearest = steading_nearest_name(heading, (const char *const *)r->headings, r->heading_count);
  if (nearest >= 0)
    return REFUSE(r, "line %u: there is no heading \"%.60s\" (did you mean \"%.60s\"?)",
                  r->lines[0].number, heading, r->headings[nearest]);
  return REFUSE(r, "line %u: there is no heading \"%.60s\"", r->lines[0].number, heading);
}

static steading_status want_chosen(reader *r) {
  for (size_t i = 0; i < r->options->column_count; i++) {
    const steading_csv_column *chosen = &r->options->columns[i];
    wanted *w = &r->columns[r->column_count++];
    *w = (wanted){.name = chosen->name,
                  .kind = chosen->kind,
                  .factor = chosen->factor,
                  .offset = chosen->offset};
    if (chosen->heading != NULL) {
      steading_status status = find_heading(r, chosen->heading, &w->at);
      if (status != STEADING_OK) return status;
    } else if (chosen->number < 1 || chosen->number > r->heading_count) {
      return REFUSE(r, "there is no column %zu, the headings are %zu", chosen->number,
                    r->heading_count);
    } else {
      w->at = chosen->number - 1;
    }
    w->heading = r->headings[w->at];
  }
  return STEADING_OK;
}

static steading_status find_columns(reader *r) {
  size_t most = r->options->column_count > 0 ? r->options->column_count : r->heading_count;
  steading_status status = read_headings(r);
  if (status == STEADING_OK) status = check_widths(r);
  if (status != STEADING_OK) return status;
  if (most < r->heading_count) most = r->heading_count;
  r->columns = calloc(most, sizeof *r->columns);
  if (r->columns == NULL) return no_memory(r);
  status = r->options->column_count > 0 ? want_chosen(r) : want_all(r);
  if (status == STEADING_OK && r->column_count == 0) return REFUSE(r, "has no headings");
  return status;
}

/* --- numbers or texts ---------------------------------------------------------------------------
 */

/* Whether every cell of a column is a number, for one mark or the other; an empty column is. */
static bool all_numbers(const reader *r, const wanted *w) {
  number n;
  for (size_t i = 1; i < r->line_count; i++) {
    const cell *c = cell_at(r, i, w->at);
    if (!is_missing(r, c) && (!read_either(r, c, &n) || n.is_id)) return false;
  }
  return true;
}

/* What the cells with one decimal mark say. */
typedef struct evidence {
  size_t line; /* of the first such cell, 0: none */
  const cell *first;
  bool sure; /* not all of them could be thousands */
} evidence;

static void note(evidence *e, const reader *r, size_t row, const cell *c, const number *n) {
  if (e->first == NULL) {
    e->line = r->lines[row].number;
    e->first = c;
  }
  e->sure = e->sure || !n->is_group;
}

static steading_status find_decimal(reader *r) {
  evidence point = {.line = 0}, comma = {.line = 0};
  number n;
  for (size_t k = 0; k < r->column_count; k++) {
    const wanted *w = &r->columns[k];
    if (w->kind == STEADING_CSV_TEXT) continue;
    if (w->kind == STEADING_CSV_BY_CONTENT && !all_numbers(r, w)) continue;
    for (size_t i = 1; i < r->line_count; i++) {
      const cell *c = cell_at(r, i, w->at);
      if (is_missing(r, c)) continue;
      if (r->options->thousands != '.' && read_number(c, '.', r->options->thousands, &n) &&
          n.has_mark)
        note(&point, r, i, c, &n);
      if (r->options->thousands != ',' && read_number(c, ',', r->options->thousands, &n) &&
          n.has_mark)
        note(&comma, r, i, c, &n);
    }
  }
  /* the options have said what else the mark could be */
  point.sure = point.sure || r->delimiter == ',' || r->options->thousands != '\0';
  comma.sure = comma.sure || r->options->thousands != '\0';
  if (point.first != NULL && comma.first != NULL)
    return REFUSE(r,
                  "line %zu has \"%.*s\" and line %zu \"%.*s\": give decimal, and thousands where "
                  "there are any",
                  point.line, (int)point.first->length, point.first->at, comma.line,
                  (int)comma.first->length, comma.first->at);
  if ((point.first != NULL && !point.sure) || (comma.first != NULL && !comma.sure)) {
    const evidence *e = point.first != NULL ? &point : &comma;
    return REFUSE(r,
                  "line %zu: \"%.*s\" could have a decimal mark or one of thousands; give decimal",
                  e->line, (int)e->first->length, e->first->at);
  }
  r->decimal = comma.first != NULL ? ',' : '.';
  return STEADING_OK;
}

static steading_status set_cell(reader *r, steading_table *table, size_t row, size_t column) {
  const wanted *w = &r->columns[column];
  const cell *c = cell_at(r, row + 1, w->at);
  number n;
  if (is_missing(r, c)) return STEADING_OK;
  if (table->columns[column].is_text) {
    table->columns[column].texts[row] = text_of(c);
    return table->columns[column].texts[row] == NULL ? no_memory(r) : STEADING_OK;
  }
  if (!read_number(c, r->decimal, r->options->thousands, &n))
    return REFUSE(r, "line %u, column \"%.60s\": found \"%.*s\", expected a number",
                  r->lines[row + 1].number, w->heading, c->length > 60 ? 60 : (int)c->length,
                  c->at);
  if (w->factor != 0) n.value = n.value * w->factor + w->offset;
  if (!isfinite(n.value))
    return REFUSE(r, "line %u, column \"%.60s\": \"%.*s\" is too large in the unit wanted",
                  r->lines[row + 1].number, w->heading, c->length > 60 ? 60 : (int)c->length,
                  c->at);
  table->columns[column].numbers[row] = n.value;
  return STEADING_OK;
}

static steading_status fill(reader *r, steading_table *table) {
  for (size_t row = 0; row + 1 < r->line_count; row++) {
    if (steading_table_add_row(table) != STEADING_OK) return no_memory(r);
    for (size_t k = 0; k < r->column_count; k++) {
      steading_status status = set_cell(r, table, row, k);
      if (status != STEADING_OK) return status;
    }
  }
  return STEADING_OK;
}

static steading_status make_table(reader *r, steading_table **table) {
  const char **names = malloc(r->column_count * sizeof *names);
  bool *is_text = malloc(r->column_count * sizeof *is_text);
  steading_status status = STEADING_OK;
  if (names == NULL || is_text == NULL) status = no_memory(r);
  for (size_t k = 0; status == STEADING_OK && k < r->column_count; k++) {
    const wanted *w = &r->columns[k];
    names[k] = w->name;
    is_text[k] =
        w->kind == STEADING_CSV_TEXT || (w->kind == STEADING_CSV_BY_CONTENT && !all_numbers(r, w));
  }
  if (status == STEADING_OK) {
    *table = steading_table_new(r->column_count, names, is_text);
    status = *table == NULL ? no_memory(r) : fill(r, *table);
  }
  free(names);
  free(is_text);
  return status;
}

steading_status steading_table_read_csv(const char *bytes, size_t length, const char *path,
                                        const steading_csv_options *options, steading_table **table,
                                        steading_error *error) {
  reader r = {.at = bytes,
              .end = bytes + length,
              .path = path,
              .options = options,
              .error = error,
              .delimiter = options->delimiter,
              .decimal = options->decimal,
              .number = 1};
  steading_status status = check_bytes(&r, bytes, length);
  *table = NULL;
  assert(options->decimal == '\0' || options->decimal != options->thousands);
  if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0) r.at += 3;
  if (status == STEADING_OK) status = read_lines(&r);
  if (status == STEADING_OK) status = find_columns(&r);
  if (status == STEADING_OK && r.decimal == '\0') status = find_decimal(&r);
  if (status == STEADING_OK) status = make_table(&r, table);
  if (status != STEADING_OK) {
    steading_table_free(*table);
    *table = NULL;
  }
  for (size_t i = 0; r.headings != NULL && i < r.heading_count; i++) free(r.headings[i]);
  free(r.headings);
  free(r.columns);
  free(r.cells);
  free(r.lines);
  return status;
}
