#include "resource/csv.h"

#include <csv.h>
#include <stdlib.h>
#include <string.h>

typedef struct splitter {
  steading_csv_row row;
  void *context;
  steading_status status;
  size_t line; /* that was read last */
  char *text;  /* of the cells of a row, one behind the other */
  size_t used, room;
  size_t *ends; /* of the cells in `text` */
  steading_slice *cells;
  size_t count, most;
} splitter;

static bool grow_text(splitter *s, size_t more) {
  size_t room = s->room == 0 ? 4096 : s->room;
  char *larger = NULL;
  while (room < s->used + more) room *= 2;
  if (room == s->room) return true;
  larger = realloc(s->text, room);
  if (larger == NULL) return false;
  s->text = larger;
  s->room = room;
  return true;
}

static bool grow_cells(splitter *s) {
  size_t most = s->most == 0 ? 64 : 2 * s->most;
  size_t *ends = NULL;
  steading_slice *cells = NULL;
  if (s->count < s->most) return true;
  if ((ends = realloc(s->ends, most * sizeof *ends)) == NULL) return false;
  s->ends = ends;
  if ((cells = realloc(s->cells, most * sizeof *cells)) == NULL) return false;
  s->cells = cells;
  s->most = most;
  return true;
}

static void take_cell(void *cell, size_t length, void *context) {
  splitter *s = context;
  if (s->status != STEADING_OK) return;
  if (!grow_text(s, length + 1) || !grow_cells(s)) {
    s->status = STEADING_NO_MEMORY;
    return;
  }
  if (length > 0) memcpy(s->text + s->used, cell, length);
  s->used += length;
  s->ends[s->count++] = s->used;
}

static void take_row(int end, void *context) {
  splitter *s = context;
  bool blank = true;
  (void)end;
  for (size_t i = 0; s->status == STEADING_OK && i < s->count; i++) {
    steading_slice cell = {s->text + (i == 0 ? 0 : s->ends[i - 1]), s->text + s->ends[i]};
    s->cells[i] = steading_slice_trimmed(cell);
    blank = blank && s->cells[i].start == s->cells[i].end;
  }
  if (s->status == STEADING_OK && !blank)
    s->status = s->row(s->context, s->line, s->cells, s->count);
  s->count = s->used = 0;
}

steading_status steading_csv_rows(const char *bytes, size_t length, char delimiter,
                                  steading_csv_row row, void *context) {
  const char *end = bytes + length, *at = steading_behind_mark(bytes, end);
  splitter s = {.row = row, .context = context};
  struct csv_parser parser;
  steading_slice line;
  if (csv_init(&parser, 0) != 0) return STEADING_NO_MEMORY;
  csv_set_delim(&parser, (unsigned char)delimiter);
  while (s.status == STEADING_OK && steading_next_line(&at, end, &line)) {
    size_t with_end = (size_t)(at - line.start);
    s.line++;
    if (s.count == 0 && line.start < line.end && strchr("#%!", *line.start) != NULL) continue;
    if (csv_parse(&parser, line.start, with_end, take_cell, take_row, &s) != with_end)
      s.status = STEADING_NO_MEMORY;
  }
  if (s.status == STEADING_OK && csv_fini(&parser, take_cell, take_row, &s) != 0)
    s.status = STEADING_NO_MEMORY;
  csv_free(&parser);
  free(s.text);
  free(s.ends);
  free(s.cells);
  return s.status;
}

char steading_csv_delimiter(const char *bytes, size_t length) {
  static const char known[] = {',', ';', '\t'};
  const char *end = bytes + length, *at = bytes;
  steading_slice line;
  size_t most = 0;
  char best = ',';
  for (int i = 0; i < 60 && steading_next_line(&at, end, &line); i++) {
    for (size_t k = 0; k < sizeof known; k++) {
      size_t count = 0;
      for (const char *p = line.start; p < line.end; p++) count += *p == known[k];
      if (count > most) {
        most = count;
        best = known[k];
      }
    }
  }
  return best;
}
