#include "table_text.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

typedef struct reader {
  const char *at, *mistake; /* the first one, after which nothing is read any more */
  const build_thing *things;
  steading_arena *arena;
} reader;

static void fail(reader *r, const char *mistake) {
  if (r->mistake == NULL) r->mistake = mistake;
}

static void skip(reader *r) {
  while (isspace((unsigned char)*r->at) || *r->at == ',') r->at++;
}

static bool is_word(char c) { return isalnum((unsigned char)c) || c == '_'; }

/* A word, when it is followed by "=": the key of an entry. */
static char *read_key(reader *r) {
  const char *end = r->at;
  char *key = NULL;
  while (is_word(*end)) end++;
  if (end == r->at) return NULL;
  key = steading_arena_text(r->arena, r->at, (size_t)(end - r->at));
  while (isspace((unsigned char)*end)) end++;
  if (*end != '=') return NULL;
  r->at = end + 1;
  return key;
}

static int by_key(const void *a, const void *b) {
  return strcmp(((const steading_entry *)a)->key, ((const steading_entry *)b)->key);
}

static steading_value read_value(reader *r);

static steading_value read_table(reader *r) {
  enum { MOST = 64 };
  steading_value table = {.kind = STEADING_VALUE_TABLE};
  table.items = steading_arena_take(r->arena, MOST * sizeof *table.items);
  table.entries = steading_arena_take(r->arena, MOST * sizeof *table.entries);
  for (skip(r); *r->at != '}'; skip(r)) {
    char *key = read_key(r);
    if (*r->at == '\0') fail(r, "no end of a table");
    if (table.item_count == MOST || table.entry_count == MOST) fail(r, "too long a table");
    if (r->mistake != NULL) return table;
    if (key != NULL)
      table.entries[table.entry_count++] = (steading_entry){.key = key, .value = read_value(r)};
    else
      table.items[table.item_count++] = read_value(r);
  }
  r->at++;
  qsort(table.entries, table.entry_count, sizeof *table.entries, by_key);
  return table;
}

static steading_value read_thing(reader *r) {
  const build_thing *thing = &r->things[strtol(r->at, (char **)&r->at, 10)];
  steading_value value = {.kind = STEADING_VALUE_WEATHER, .handle = thing->weather};
  if (thing->weather != NULL) return value;
  if (thing->function != NULL)
    return (steading_value){.kind = STEADING_VALUE_FUNCTION, .handle = thing->function};
  value = (steading_value){.kind = STEADING_VALUE_TABLE, .item_count = thing->count};
  value.items = steading_arena_take(r->arena, thing->count * sizeof *value.items);
  for (size_t i = 0; i < thing->count; i++)
    value.items[i] = (steading_value){.kind = STEADING_VALUE_NUMBER, .number = thing->numbers[i]};
  return value;
}

static steading_value read_value(reader *r) {
  steading_value value = {.kind = STEADING_VALUE_NUMBER};
  char *end = NULL;
  skip(r);
  if (*r->at == '{') {
    r->at++;
    return read_table(r);
  }
  if (*r->at == '@') {
    r->at++;
    return read_thing(r);
  }
  if (*r->at == '"') {
    const char *close = strchr(r->at + 1, '"');
    if (close == NULL) {
      fail(r, "no end of a text");
      return value;
    }
    value.kind = STEADING_VALUE_TEXT;
    value.text = steading_arena_text(r->arena, r->at + 1, (size_t)(close - r->at - 1));
    r->at = close + 1;
    return value;
  }
  if (strncmp(r->at, "true", 4) == 0 || strncmp(r->at, "false", 5) == 0) {
    value.kind = STEADING_VALUE_BOOLEAN;
    value.boolean = *r->at == 't';
    r->at += value.boolean ? 4 : 5;
    return value;
  }
  value.number = strtod(r->at, &end);
  if (end == r->at) fail(r, "something that is no value");
  r->at = end;
  return value;
}

const char *table_text_read(const char *text, const build_thing *things, steading_arena *arena,
                            steading_value *value) {
  reader r = {.at = text, .things = things, .arena = arena};
  *value = read_value(&r);
  skip(&r);
  if (*r.at != '\0') fail(&r, "more than one value");
  return r.mistake;
}
