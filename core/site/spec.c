#include "site/spec.h"

#include <assert.h>
#include <ctype.h>
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "nearest.h"
#include "resource/weather.h"
#include "site/canonical.h"
#include "site/function.h"
#include "site/path.h"
#include "site/shapes.h"
#include "site/window.h"

static const steading_spec list_spec = {.name = "list"};
static const steading_spec one_spec = {.name = "one"}; /* a list, written as its only item */
static const steading_spec map_spec = {.name = "map"};
static const steading_spec series_spec = {.name = "series"};
static const steading_spec amounts_spec = {.name = "amounts"};
static const steading_spec texts_spec = {.name = "texts"};

enum { DEEPEST = 32, MOST_NAMES = 96 };

/* A path that grows and shrinks while a tree is read. */
typedef struct reader {
  char path[256];
  int depth;
  bool takes_parts; /* steading_spec_without: what is taken away must be a part that is there */
  steading_error *error;
} reader;

static size_t push_key(reader *r, const char *key) {
  size_t length = strlen(r->path);
  snprintf(r->path + length, sizeof r->path - length, "%s%s", length > 0 ? "." : "", key);
  return length;
}

static size_t push_index(reader *r, size_t index) {
  size_t length = strlen(r->path);
  snprintf(r->path + length, sizeof r->path - length, "[%zu]", index);
  return length;
}

static void pop(reader *r, size_t length) { r->path[length] = '\0'; }

#define FAIL(r, ...) steading_fail((r)->error, STEADING_BAD_INPUT, (r)->path, __VA_ARGS__)

static steading_status no_memory(reader *r) {
  return steading_fail(r->error, STEADING_NO_MEMORY, r->path, "not enough memory");
}

/* --- records -----------------------------------------------------------------------------------
 */

void *steading_record_keep(const void *record) {
  steading_record *head = (steading_record *)record;
  if (head != NULL) head->references++;
  return head;
}

static void *member(const void *record, const steading_field *field) {
  return (char *)record + field->offset;
}

/* The pointer held by a field of any of the kinds that share: windows, series, record, list, map.
 */
static bool is_shared(steading_field_kind kind) {
  switch (kind) {
    case STEADING_FIELD_texts:
    case STEADING_FIELD_windows:
    case STEADING_FIELD_series:
    case STEADING_FIELD_record:
    case STEADING_FIELD_list:
    case STEADING_FIELD_several:
    case STEADING_FIELD_variants:
    case STEADING_FIELD_map:
    case STEADING_FIELD_listed:
    case STEADING_FIELD_window_part:
    case STEADING_FIELD_numbers:
    case STEADING_FIELD_amounts:
    case STEADING_FIELD_points:
      return true;
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
    case STEADING_FIELD_flag:
    case STEADING_FIELD_text:
    case STEADING_FIELD_name:
    case STEADING_FIELD_choice:
    case STEADING_FIELD_date:
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_hours:
    case STEADING_FIELD_pair:
    case STEADING_FIELD_weather:
    case STEADING_FIELD_function:
    case STEADING_FIELD_words:
    case STEADING_FIELD_year_days:
    case STEADING_FIELD_temps:
    case STEADING_FIELD_later:
    case STEADING_FIELD_refused:
      return false;
  }
  return false;
}

static bool is_text(steading_field_kind kind) {
  return kind == STEADING_FIELD_text || kind == STEADING_FIELD_name;
}

static void drop_field(void *record, const steading_field *field) {
  void *place = member(record, field);
  if (is_shared(field->kind)) {
    steading_record_release(*(void **)place);
    *(void **)place = NULL;
  } else if (is_text(field->kind)) {
    free(*(char **)place);
    *(char **)place = NULL;
  } else if (field->kind == STEADING_FIELD_weather) {
    if (*(steading_weather **)place != NULL) steading_weather_release(*(steading_weather **)place);
    *(steading_weather **)place = NULL;
  } else if (field->kind == STEADING_FIELD_function) {
    steading_function_release(*(steading_function **)place);
    *(steading_function **)place = NULL;
  }
}

void steading_record_release(const void *record) {
  steading_record *head = (steading_record *)record;
  if (head == NULL || --head->references > 0) return;
  if (head->spec == &list_spec || head->spec == &one_spec) {
    steading_list *list = (steading_list *)head;
    for (size_t i = 0; i < list->count; i++) steading_record_release(list->items[i]);
  } else if (head->spec == &texts_spec) {
    steading_texts *texts = (steading_texts *)head;
    for (size_t i = 0; i < texts->count; i++) free(texts->items[i]);
  } else if (head->spec == &map_spec) {
    steading_map *map = (steading_map *)head;
    for (size_t i = 0; i < map->count; i++) {
      free(map->entries[i].name);
      steading_record_release(map->entries[i].item);
    }
  } else if (head->spec == &amounts_spec) {
    steading_amounts *amounts = (steading_amounts *)head;
    for (size_t i = 0; i < amounts->count; i++) free(amounts->items[i].name);
  } else {
    for (size_t i = 0; i < head->spec->field_count; i++) drop_field(head, &head->spec->fields[i]);
  }
  free(head);
}

bool steading_record_given(const void *record, const char *field) {
  const steading_record *head = record;
  for (size_t i = 0; i < head->spec->field_count; i++)
    if (strcmp(head->spec->fields[i].name, field) == 0) return head->given >> i & 1;
  assert(false); /* no field of the spec */
  return false;
}

double steading_record_or_else(const void *record, const char *field, double value,
                               double standard) {
  return steading_record_given(record, field) ? value : standard;
}

bool steading_record_has(const void *record, const char *field) {
  const steading_record *head = record;
  for (size_t i = 0; i < head->spec->field_count; i++) {
    const steading_field *f = &head->spec->fields[i];
    if (strcmp(f->name, field) != 0) continue;
    if (f->kind == STEADING_FIELD_later || f->kind == STEADING_FIELD_refused) return false;
    if (!(head->given >> i & 1)) return false;
    return !is_shared(f->kind) || *(void **)member(record, f) != NULL;
  }
  assert(false); /* no field of the spec */
  return false;
}

const void *steading_map_at(const steading_map *map, const char *name) {
  if (map == NULL || name == NULL) return NULL;
  for (size_t i = 0; i < map->count; i++)
    if (strcmp(map->entries[i].name, name) == 0) return map->entries[i].item;
  return NULL;
}

bool steading_is_name(const char *text) {
  if (!(text[0] >= 'a' && text[0] <= 'z')) return false;
  for (size_t i = 1; text[i] != '\0'; i++)
    if (!((text[i] >= 'a' && text[i] <= 'z') || (text[i] >= '0' && text[i] <= '9') ||
          text[i] == '_'))
      return false;
  return true;
}

bool steading_read_date(const char *text, int64_t *day_number) {
  int numbers[3] = {0, 0, 1}, widths[3] = {4, 2, 2}, parts = 0;
  while (parts < 3) {
    for (int i = 0; i < widths[parts]; i++) {
      if (!isdigit((unsigned char)*text)) return false;
      if (i == 0) numbers[parts] = 0;
      numbers[parts] = numbers[parts] * 10 + (*text++ - '0');
    }
    parts++;
    if (*text == '\0') break;
    if (*text != '-') return false;
    text++;
  }
  if (parts < 2 || *text != '\0' || !steading_date_exists(numbers[0], numbers[1], numbers[2]))
    return false;
  if (numbers[1] == 2 && numbers[2] == 29) return false; /* a run has no such day */
  *day_number = steading_day_number(numbers[0], numbers[1], numbers[2]);
  return true;
}

/* --- reading one field -------------------------------------------------------------------------
 */

static steading_status read_record(reader *r, const steading_spec *spec,
                                   const steading_value *value, void **record);
static steading_status read_fields(reader *r, const steading_spec *spec,
                                   const steading_value *value, steading_record *record);

static steading_status check_range(reader *r, const steading_field *field, double number) {
  if (number >= field->lowest && number <= field->highest) return STEADING_OK;
  if (isnan(number)) return FAIL(r, "found nan, expected a number");
  if (strcmp(field->unit, "share") == 0 && number > 1 && number <= 100 && field->highest <= 5)
    return FAIL(r, "%.12g is outside %.12g to %.12g (is this percent? write %.12g)", number,
                field->lowest, field->highest, number / 100);
  return FAIL(r, "%.12g is outside %.12g to %.12g%s%s", number, field->lowest, field->highest,
              field->unit[0] != '\0' ? " " : "", field->unit);
}

static steading_status read_number(reader *r, const steading_field *field,
                                   const steading_value *value, double *number) {
  if (value->kind != STEADING_VALUE_NUMBER)
    return FAIL(r, "found %s, expected a number%s%s%s", steading_value_called(value),
                field->unit[0] != '\0' ? " (" : "", field->unit, field->unit[0] != '\0' ? ")" : "");
  *number = value->number;
  if (field->kind == STEADING_FIELD_count && value->number != floor(value->number))
    return FAIL(r, "found %.12g, expected a whole number", value->number);
  return check_range(r, field, value->number);
}

static steading_status read_text(reader *r, const steading_field *field,
                                 const steading_value *value, char **text) {
  if (value->kind != STEADING_VALUE_TEXT)
    return FAIL(r, "found %s, expected a text", steading_value_called(value));
  if (field->kind == STEADING_FIELD_name && !steading_is_name(value->text))
    return FAIL(r, "found \"%s\", expected a name: a-z, then a-z, 0-9 and _", value->text);
  *text = strdup(value->text);
  return *text == NULL ? no_memory(r) : STEADING_OK;
}

static steading_status read_choice(reader *r, const steading_field *field,
                                   const steading_value *value, int *choice) {
  char words[256] = "";
  if (value->kind != STEADING_VALUE_TEXT)
    return FAIL(r, "found %s, expected a word in quotes", steading_value_called(value));
  for (int i = 0; field->choices[i] != NULL; i++) {
    const char *word = field->choices[i];
    bool later = word[0] == '~';
    size_t used = strlen(words);
    if (strcmp(value->text, word + later) == 0) {
      if (later)
        return steading_fail(r->error, STEADING_NOT_YET, r->path,
                             "\"%s\" is not yet carried out by this version", word + 1);
      *choice = i;
      return STEADING_OK;
    }
    if (!later) snprintf(words + used, sizeof words - used, "%s\"%s\"", used > 0 ? ", " : "", word);
  }
  return FAIL(r, "found \"%s\", expected %s", value->text, words);
}

static steading_status read_numbers(reader *r, const steading_field *field,
                                    const steading_value *value, size_t count, double *numbers) {
  if (value->kind != STEADING_VALUE_TABLE || value->item_count != count || value->entry_count > 0) {
    if (value->kind == STEADING_VALUE_TABLE)
      return FAIL(r, "found %zu numbers, expected %zu", value->item_count, count);
    return FAIL(r, "found %s, expected %zu numbers", steading_value_called(value), count);
  }
  for (size_t i = 0; i < count; i++) {
    size_t mark = push_index(r, i + 1);
    steading_status status = read_number(r, field, &value->items[i], &numbers[i]);
    if (status != STEADING_OK) return status;
    pop(r, mark);
  }
  return STEADING_OK;
}

static steading_status read_monthly(reader *r, const steading_field *field,
                                    const steading_value *value, double *months) {
  if (value->kind == STEADING_VALUE_TABLE) return read_numbers(r, field, value, 12, months);
  steading_status status = read_number(r, field, value, &months[0]);
  for (int m = 1; m < 12; m++) months[m] = months[0];
  return status;
}

static steading_status read_hours(reader *r, const steading_field *field,
                                  const steading_value *value, double *hours) {
  double sum = 0;
  if (value->kind == STEADING_VALUE_TEXT) {
    const double *shape = steading_shape(value->text);
    if (shape == NULL)
      return FAIL(r, "found \"%s\", expected 24 numbers or the name of a shape: %s", value->text,
                  steading_shape_names());
    memcpy(hours, shape, 24 * sizeof *hours);
  } else {
    steading_status status = read_numbers(r, field, value, 24, hours);
    if (status != STEADING_OK) return status;
  }
  for (int h = 0; h < 24; h++) sum += hours[h];
  if (!(sum > 0)) return FAIL(r, "the 24 numbers of a shape are all zero");
  /* What was divided before sums to 1 but for rounding: left alone, a shape that is read again
   * keeps its bits (24 terms, each of them and each partial sum within half an epsilon: at most
   * 24). */
  if (fabs(sum - 1) <= 24 * DBL_EPSILON) return STEADING_OK;
  for (int h = 0; h < 24; h++) hours[h] /= sum;
  return STEADING_OK;
}

static steading_status read_series(reader *r, const steading_field *field,
                                   const steading_value *value, const steading_series **series) {
  steading_series *made = NULL;
  if (value->kind != STEADING_VALUE_TABLE || value->entry_count > 0)
    return FAIL(r, "found %s, expected a list of numbers", steading_value_called(value));
  if (value->item_count == 0 || value->item_count % STEADING_HOURS_PER_YEAR != 0)
    return FAIL(r, "found %zu numbers, expected whole years of %d", value->item_count,
                (int)STEADING_HOURS_PER_YEAR);
  made = malloc(sizeof *made + value->item_count * sizeof made->values[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &series_spec, .references = 1};
  made->count = value->item_count;
  for (size_t i = 0; i < made->count; i++) {
    size_t mark = push_index(r, i + 1);
    steading_status status = read_number(r, field, &value->items[i], &made->values[i]);
    if (status != STEADING_OK) {
      free(made);
      return status;
    }
    pop(r, mark);
  }
  steading_digest_numbers(made->values, made->count, made->digest);
  *series = made;
  return STEADING_OK;
}

static const steading_spec *find_variant(reader *r, const steading_field *field,
                                         const steading_value *value) {
  const steading_value *kind =
      value->kind == STEADING_VALUE_TABLE ? steading_value_at(value, "kind") : NULL;
  char words[256] = "";
  for (size_t i = 0; field->variants[i] != NULL; i++) {
    size_t used = strlen(words);
    if (kind != NULL && kind->kind == STEADING_VALUE_TEXT &&
        strcmp(kind->text, field->variants[i]->name) == 0)
      return field->variants[i];
    snprintf(words + used, sizeof words - used, "%s%s", used > 0 ? ", " : "",
             field->variants[i]->name);
  }
  if (kind == NULL || kind->kind != STEADING_VALUE_TEXT)
    FAIL(r, "found %s without a kind, expected one of: %s", steading_value_called(value), words);
  else
    FAIL(r, "unknown kind \"%s\", expected one of: %s", kind->text, words);
  return NULL;
}

static steading_status read_list(reader *r, const steading_field *field,
                                 const steading_value *value, const steading_list **list) {
  steading_list *made = NULL;
  if (value->kind != STEADING_VALUE_TABLE)
    return FAIL(r, "found %s, expected a list of tables", steading_value_called(value));
  if (value->entry_count > 0) {
    if (steading_value_at(value, "kind") != NULL && field->variants == NULL)
      return steading_fail(r->error, STEADING_NOT_YET, r->path,
                           "the form with a kind is not yet carried out by this version; expected "
                           "a list");
    return FAIL(r, "found the field '%s' in a list; write { { ... } }", value->entries[0].key);
  }
  made = calloc(1, sizeof *made + value->item_count * sizeof made->items[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &list_spec, .references = 1};
  for (size_t i = 0; i < value->item_count; i++) {
    size_t mark = push_index(r, i + 1);
    steading_status status = STEADING_BAD_INPUT;
    const steading_spec *spec =
        field->variants != NULL ? find_variant(r, field, &value->items[i]) : field->of;
    void *item = NULL;
    if (spec != NULL) status = read_record(r, spec, &value->items[i], &item);
    if (status != STEADING_OK) {
      steading_record_release(made);
      return status;
    }
    made->items[made->count++] = item;
    pop(r, mark);
  }
  *list = made;
  return STEADING_OK;
}

bool steading_list_is_one(const steading_list *list) { return list->head.spec == &one_spec; }

/* A table with fields is one alone, a table without is a list of them. */
static steading_status read_several(reader *r, const steading_field *field,
                                    const steading_value *value, const steading_list **list) {
  steading_list *made = NULL;
  void *item = NULL;
  steading_status status = STEADING_OK;
  if (value->kind != STEADING_VALUE_TABLE)
    return FAIL(r, "found %s, expected a table, or a list of tables", steading_value_called(value));
  if (value->entry_count == 0 && value->item_count > 0) return read_list(r, field, value, list);
  status = read_record(r, field->of, value, &item);
  if (status != STEADING_OK) return status;
  made = calloc(1, sizeof *made + sizeof made->items[0]);
  if (made == NULL) {
    steading_record_release(item);
    return no_memory(r);
  }
  made->head = (steading_record){.spec = &one_spec, .references = 1};
  made->items[made->count++] = item;
  *list = made;
  return STEADING_OK;
}

static steading_status read_map(reader *r, const steading_field *field, const steading_value *value,
                                const steading_map **map) {
  steading_map *made = NULL;
  if (value->kind != STEADING_VALUE_TABLE)
    return FAIL(r, "found %s, expected a table of named tables", steading_value_called(value));
  if (value->item_count > 0)
    return FAIL(r, "found an entry without a name; write { some_name = { ... } }");
  made = calloc(1, sizeof *made + value->entry_count * sizeof made->entries[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &map_spec, .references = 1};
  for (size_t i = 0; i < value->entry_count; i++) {
    const steading_entry *entry = &value->entries[i];
    size_t mark = push_key(r, entry->key);
    void *item = NULL;
    char *name = NULL;
    steading_status status = STEADING_OK;
    if (!steading_is_name(entry->key))
      status = FAIL(r, "\"%s\" is not a name: a-z, then a-z, 0-9 and _", entry->key);
    else if (strcmp(entry->key, "site") == 0 || strcmp(entry->key, "all") == 0)
      status = FAIL(r, "the name \"%s\" is reserved", entry->key);
    else
      status = read_record(r, field->of, &entry->value, &item);
    if (status == STEADING_OK && (name = strdup(entry->key)) == NULL) {
      steading_record_release(item);
      status = no_memory(r);
    }
    if (status != STEADING_OK) {
      steading_record_release(made);
      return status;
    }
    made->entries[made->count++] = (steading_map_entry){.name = name, .item = item};
    pop(r, mark);
  }
  *map = made;
  return STEADING_OK;
}

static steading_status read_pair(reader *r, const steading_field *field,
                                 const steading_value *value, double *pair) {
  steading_status status = read_numbers(r, field, value, 2, pair);
  if (status == STEADING_OK && !(pair[0] < pair[1]))
    return FAIL(r, "found { %.12g, %.12g }, expected the lower number first", pair[0], pair[1]);
  return status;
}

static steading_status read_texts(reader *r, const steading_value *value,
                                  const steading_texts **texts) {
  steading_texts *made = NULL;
  if (value->kind != STEADING_VALUE_TABLE || value->entry_count > 0)
    return FAIL(r, "found %s, expected a list of texts", steading_value_called(value));
  made = calloc(1, sizeof *made + value->item_count * sizeof made->items[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &texts_spec, .references = 1};
  for (size_t i = 0; i < value->item_count; i++) {
    size_t mark = push_index(r, i + 1);
    steading_status status = STEADING_OK;
    if (value->items[i].kind != STEADING_VALUE_TEXT)
      status = FAIL(r, "found %s, expected a text", steading_value_called(&value->items[i]));
    else if ((made->items[made->count] = strdup(value->items[i].text)) == NULL)
      status = no_memory(r);
    if (status != STEADING_OK) {
      steading_record_release(made);
      return status;
    }
    made->count++;
    pop(r, mark);
  }
  *texts = made;
  return STEADING_OK;
}

/* A record whose first field is a list: the items of the table are that list, its named fields the
 * other fields of the record. */
static steading_status read_listed(reader *r, const steading_field *field,
                                   const steading_value *value, void **record) {
  const steading_spec *spec = field->of;
  const steading_field *first = &spec->fields[0];
  steading_record *made = NULL;
  steading_value named = *value, items = *value;
  steading_status status = STEADING_OK;
  if (value->kind != STEADING_VALUE_TABLE)
    return FAIL(r, "found %s, expected a list of tables", steading_value_called(value));
  if (++r->depth > DEEPEST) return FAIL(r, "tables are nested too deeply");
  named.item_count = 0;
  items.entry_count = 0;
  made = calloc(1, spec->size);
  if (made == NULL) return no_memory(r);
  *made = (steading_record){.spec = spec, .references = 1};
  status = read_fields(r, spec, &named, made);
  if (status == STEADING_OK && value->item_count > 0) {
    if (made->given & 1)
      status = FAIL(r, "found a list beside '%s'; write one of the two", first->name);
    else
      status = read_list(r, first, &items, member(made, first));
    made->given |= 1;
  }
  if (status == STEADING_OK && spec->check != NULL) status = spec->check(made, r->path, r->error);
  r->depth--;
  if (status != STEADING_OK) {
    steading_record_release(made);
    return status;
  }
  *record = made;
  return STEADING_OK;
}

/* A window of which the field is one part: read as { hours = value } and the like. */
static steading_status read_window_part(reader *r, const steading_field *field,
                                        const steading_value *value,
                                        const steading_windows **windows) {
  steading_entry entry = {.key = field->name, .value = *value};
  const steading_value window = {.kind = STEADING_VALUE_TABLE, .entry_count = 1, .entries = &entry};
  char above[256];
  size_t length = strlen(r->path), name = strlen(field->name) + 1;
  snprintf(above, sizeof above, "%.*s", (int)(length > name ? length - name : 0), r->path);
  return steading_windows_read(&window, above, windows, r->error);
}

static steading_status read_words(reader *r, const steading_field *field,
                                  const steading_value *value, unsigned *bits) {
  bool is_list = value->kind == STEADING_VALUE_TABLE && value->entry_count == 0;
  size_t count = is_list ? value->item_count : 1;
  *bits = 0;
  if (count == 0) return FAIL(r, "an empty list, expected a list of words in quotes");
  for (size_t i = 0; i < count; i++) {
    size_t mark = is_list ? push_index(r, i + 1) : strlen(r->path);
    int word = 0;
    steading_status status = read_choice(r, field, is_list ? &value->items[i] : value, &word);
    if (status != STEADING_OK) return status;
    if (*bits >> word & 1) return FAIL(r, "\"%s\" stands there twice", field->choices[word]);
    *bits |= 1u << word;
    pop(r, mark);
  }
  return STEADING_OK;
}

/* "12-25" of a year of 365 days; moves `*text` behind it. */
static bool read_year_day(const char **text, int *month, int *day) {
  enum { ANY_YEAR = 2027 };
  const char *t = *text;
  if (!isdigit((unsigned char)t[0]) || !isdigit((unsigned char)t[1]) || t[2] != '-' ||
      !isdigit((unsigned char)t[3]) || !isdigit((unsigned char)t[4]))
    return false;
  *month = (t[0] - '0') * 10 + (t[1] - '0');
  *day = (t[3] - '0') * 10 + (t[4] - '0');
  *text = t + 5;
  return steading_date_exists(ANY_YEAR, *month, *day);
}

static steading_status read_year_span(reader *r, const steading_value *value, bool days[12][31]) {
  const char *text = value->text;
  int month = 0, day = 0, last_month = 0, last_day = 0;
  if (value->kind != STEADING_VALUE_TEXT)
    return FAIL(r, "found %s, expected a day such as \"12-25\" or a span \"03-10..04-30\"",
                steading_value_called(value));
  bool fine = read_year_day(&text, &month, &day);
  last_month = month;
  last_day = day;
  if (fine && strncmp(text, "..", 2) == 0) {
    text += 2;
    fine = read_year_day(&text, &last_month, &last_day);
  }
  if (!fine || *text != '\0')
    return FAIL(r, "found \"%s\", expected a day such as \"12-25\" or a span \"03-10..04-30\"",
                value->text);
  for (;;) {
    days[month - 1][day - 1] = true;
    if (month == last_month && day == last_day) return STEADING_OK;
    if (++day > steading_days_before_month[month] - steading_days_before_month[month - 1]) {
      day = 1;
      month = month % 12 + 1;
    }
  }
}

static steading_status read_year_days(reader *r, const steading_value *value, bool days[12][31]) {
  memset(days, 0, 12 * sizeof *days);
  if (value->kind != STEADING_VALUE_TABLE) return read_year_span(r, value, days);
  if (value->entry_count > 0)
    return FAIL(r, "found the field '%s', expected a list of days such as \"12-25\"",
                value->entries[0].key);
  for (size_t i = 0; i < value->item_count; i++) {
    size_t mark = push_index(r, i + 1);
    steading_status status = read_year_span(r, &value->items[i], days);
    if (status != STEADING_OK) return status;
    pop(r, mark);
  }
  return STEADING_OK;
}

static steading_status read_free_numbers(reader *r, const steading_field *field,
                                         const steading_value *value,
                                         const steading_series **series) {
  bool is_list = value->kind == STEADING_VALUE_TABLE;
  size_t count = is_list ? value->item_count : 1;
  steading_series *made = NULL;
  if (is_list && (value->entry_count > 0 || count == 0))
    return FAIL(r, "found %s, expected a number or a list of numbers",
                count == 0 ? "an empty table" : "named fields");
  made = malloc(sizeof *made + count * sizeof made->values[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &series_spec, .references = 1};
  made->count = count;
  for (size_t i = 0; i < count; i++) {
    size_t mark = is_list ? push_index(r, i + 1) : strlen(r->path);
    steading_status status =
        read_number(r, field, is_list ? &value->items[i] : value, &made->values[i]);
    if (status != STEADING_OK) {
      free(made);
      return status;
    }
    pop(r, mark);
  }
  *series = made;
  return STEADING_OK;
}

static steading_status read_amounts(reader *r, const steading_field *field,
                                    const steading_value *value, const steading_amounts **amounts) {
  bool named = value->kind == STEADING_VALUE_TABLE;
  size_t count = named ? value->entry_count : 1;
  steading_amounts *made = NULL;
  if (named && (value->item_count > 0 || count == 0))
    return FAIL(r, "found %s, expected a number or named numbers",
                count == 0 && value->item_count == 0 ? "an empty table" : "a list");
  made = calloc(1, sizeof *made + count * sizeof made->items[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &amounts_spec, .references = 1};
  for (; made->count < count; made->count++) {
    steading_amount *to = &made->items[made->count];
    const steading_entry *entry = named ? &value->entries[made->count] : NULL;
    size_t mark = named ? push_key(r, entry->key) : strlen(r->path);
    steading_status status = read_number(r, field, named ? &entry->value : value, &to->number);
    if (status == STEADING_OK && named && (to->name = strdup(entry->key)) == NULL)
      status = no_memory(r);
    if (status != STEADING_OK) {
      steading_record_release(made);
      return status;
    }
    pop(r, mark);
  }
  *amounts = made;
  return STEADING_OK;
}

static steading_status read_points(reader *r, const steading_field *field,
                                   const steading_value *value, const steading_series **series) {
  static const steading_field temperature = {.unit = "C", .lowest = -60, .highest = 120};
  steading_series *made = NULL;
  if (value->kind != STEADING_VALUE_TABLE || value->entry_count > 0 || value->item_count == 0)
    return FAIL(
        r, "found %s, expected a list of pairs { temperature, %s }",
        value->kind == STEADING_VALUE_TABLE && value->item_count == 0 && value->entry_count == 0
            ? "an empty table"
            : steading_value_called(value),
        field->unit);
  made = malloc(sizeof *made + 2 * value->item_count * sizeof made->values[0]);
  if (made == NULL) return no_memory(r);
  made->head = (steading_record){.spec = &series_spec, .references = 1};
  made->count = 2 * value->item_count;
  for (size_t i = 0; i < value->item_count; i++) {
    const steading_value *pair = &value->items[i];
    size_t mark = push_index(r, i + 1);
    double *to = &made->values[2 * i];
    steading_status status = STEADING_OK;
    if (pair->kind != STEADING_VALUE_TABLE || pair->item_count != 2 || pair->entry_count > 0)
      status = FAIL(r, "found %s, expected a pair { temperature, %s }", steading_value_called(pair),
                    field->unit);
    for (size_t k = 0; k < 2 && status == STEADING_OK; k++) {
      size_t inner = push_index(r, k + 1);
      status = read_number(r, k == 0 ? &temperature : field, &pair->items[k], &to[k]);
      if (status == STEADING_OK && k == 0 && i > 0 && !(to[0] > to[-2]))
        status = FAIL(r, "%.12g C, expected more than the %.12g C before it", to[0], to[-2]);
      if (status == STEADING_OK) pop(r, inner);
    }
    if (status != STEADING_OK) {
      free(made);
      return status;
    }
    pop(r, mark);
  }
  *series = made;
  return STEADING_OK;
}

static steading_status read_temps(reader *r, const steading_field *field,
                                  const steading_value *value, double *temps) {
  if (value->kind != STEADING_VALUE_TEXT) return read_monthly(r, field, value, temps);
  if (strcmp(value->text, "outdoors") != 0)
    return FAIL(r, "found \"%.40s\", expected a number, twelve, or \"outdoors\"", value->text);
  for (int m = 0; m < 12; m++) temps[m] = (double)INFINITY;
  return STEADING_OK;
}

/* Read one value into its place; the place holds nothing before. */
static steading_status read_field(reader *r, const steading_field *field,
                                  const steading_value *value, void *place) {
  switch (field->kind) {
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
      return read_number(r, field, value, place);
    case STEADING_FIELD_flag:
      if (value->kind != STEADING_VALUE_BOOLEAN)
        return FAIL(r, "found %s, expected true or false", steading_value_called(value));
      *(bool *)place = value->boolean;
      return STEADING_OK;
    case STEADING_FIELD_text:
    case STEADING_FIELD_name:
      return read_text(r, field, value, place);
    case STEADING_FIELD_choice:
      return read_choice(r, field, value, place);
    case STEADING_FIELD_date:
      if (value->kind != STEADING_VALUE_TEXT)
        return FAIL(r, "found %s, expected a date such as \"2027-01\" or \"2027-01-15\"",
                    steading_value_called(value));
      if (strlen(value->text) == 10 && strcmp(value->text + 4, "-02-29") == 0)
        return FAIL(r, "found \"%s\": a run has no 29 February; write the 28th or 1 March",
                    value->text);
      if (!steading_read_date(value->text, place))
        return FAIL(r, "found \"%s\", expected a date such as \"2027-01\" or \"2027-01-15\"",
                    value->text);
      return STEADING_OK;
    case STEADING_FIELD_monthly:
      return read_monthly(r, field, value, place);
    case STEADING_FIELD_hours:
      return read_hours(r, field, value, place);
    case STEADING_FIELD_pair:
      return read_pair(r, field, value, place);
    case STEADING_FIELD_windows:
      return steading_windows_read(value, r->path, place, r->error);
    case STEADING_FIELD_texts:
      return read_texts(r, value, place);
    case STEADING_FIELD_series:
      return read_series(r, field, value, place);
    case STEADING_FIELD_weather:
      if (value->kind != STEADING_VALUE_WEATHER)
        return FAIL(r, "found %s, expected what steading.weather.read or .synthesize returns",
                    steading_value_called(value));
      *(steading_weather **)place = steading_weather_keep(value->handle);
      return STEADING_OK;
    case STEADING_FIELD_function:
      if (value->kind == STEADING_VALUE_BOOLEAN && !value->boolean) return STEADING_OK; /* off */
      if (value->kind != STEADING_VALUE_FUNCTION)
        return FAIL(r, "found %s, expected a function", steading_value_called(value));
      *(steading_function **)place = steading_function_keep(value->handle);
      return STEADING_OK;
    case STEADING_FIELD_record:
      if (value->kind == STEADING_VALUE_BOOLEAN && !value->boolean &&
          (field->need == STEADING_NEED_optional || field->highest > 0))
        return STEADING_OK; /* off */
      return read_record(r, field->of, value, place);
    case STEADING_FIELD_list:
    case STEADING_FIELD_variants:
    case STEADING_FIELD_map:
      if (field->highest == 1 && value->kind == STEADING_VALUE_BOOLEAN && !value->boolean)
        return STEADING_OK; /* off */
      return field->kind == STEADING_FIELD_map ? read_map(r, field, value, place)
                                               : read_list(r, field, value, place);
    case STEADING_FIELD_several:
      if (value->kind == STEADING_VALUE_BOOLEAN && !value->boolean &&
          field->need == STEADING_NEED_optional)
        return STEADING_OK; /* off */
      return read_several(r, field, value, place);
    case STEADING_FIELD_listed:
      return read_listed(r, field, value, place);
    case STEADING_FIELD_window_part:
      return read_window_part(r, field, value, place);
    case STEADING_FIELD_words:
      return read_words(r, field, value, place);
    case STEADING_FIELD_year_days:
      return read_year_days(r, value, place);
    case STEADING_FIELD_numbers:
      return read_free_numbers(r, field, value, place);
    case STEADING_FIELD_amounts:
      return read_amounts(r, field, value, place);
    case STEADING_FIELD_points:
      return read_points(r, field, value, place);
    case STEADING_FIELD_temps:
      return read_temps(r, field, value, place);
    case STEADING_FIELD_later:
      if (value->kind == STEADING_VALUE_BOOLEAN && !value->boolean) return STEADING_OK; /* off */
      return steading_fail(r->error, STEADING_NOT_YET, r->path,
                           "not yet carried out by this version%s%s; leave it out",
                           field->doc[0] != '\0' ? ": " : "", field->doc);
    case STEADING_FIELD_refused:
      return FAIL(r, "%s", field->doc);
  }
  return STEADING_FAULT;
}

/* Put the default of a field in its place. */
static steading_status set_default(reader *r, const steading_field *field, void *place) {
  switch (field->kind) {
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
      *(double *)place = field->standard;
      break;
    case STEADING_FIELD_flag:
      *(bool *)place = field->standard > 0;
      break;
    case STEADING_FIELD_choice:
      *(int *)place = (int)field->standard;
      break;
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_temps:
      for (int m = 0; m < 12; m++) ((double *)place)[m] = field->standard;
      break;
    case STEADING_FIELD_hours:
      for (int h = 0; h < 24; h++) ((double *)place)[h] = 1.0 / 24;
      break;
    case STEADING_FIELD_pair:
      ((double *)place)[0] = field->lowest;
      ((double *)place)[1] = field->highest;
      break;
    case STEADING_FIELD_record: { /* a record of defaults */
      steading_value empty = {.kind = STEADING_VALUE_TABLE};
      return read_record(r, field->of, &empty, place);
    }
    case STEADING_FIELD_text:
    case STEADING_FIELD_texts:
    case STEADING_FIELD_name:
    case STEADING_FIELD_date:
    case STEADING_FIELD_windows:
    case STEADING_FIELD_series:
    case STEADING_FIELD_weather:
    case STEADING_FIELD_function:
    case STEADING_FIELD_list:
    case STEADING_FIELD_several:
    case STEADING_FIELD_variants:
    case STEADING_FIELD_map:
    case STEADING_FIELD_listed:
    case STEADING_FIELD_window_part:
    case STEADING_FIELD_numbers:
    case STEADING_FIELD_amounts:
    case STEADING_FIELD_points:
    case STEADING_FIELD_later:
    case STEADING_FIELD_refused:
      break; /* absent is NULL or 0 */
    case STEADING_FIELD_words:
      *(unsigned *)place = 0;
      break;
    case STEADING_FIELD_year_days:
      memset(place, 0, 12 * 31 * sizeof(bool));
      break;
  }
  return STEADING_OK;
}

static const steading_field *find_field(const steading_spec *spec, const char *name) {
  for (size_t i = 0; i < spec->field_count; i++)
    if (strcmp(spec->fields[i].name, name) == 0) return &spec->fields[i];
  return NULL;
}

static steading_status unknown_field(reader *r, const steading_spec *spec, const char *key) {
  const char *names[MOST_NAMES];
  size_t count = 0;
  char list[512] = "";
  int nearest = -1;
  for (size_t i = 0; i < spec->field_count && count < MOST_NAMES; i++) {
    const steading_field *field = &spec->fields[i];
    if (field->kind == STEADING_FIELD_refused) continue;
    names[count++] = field->name;
    if (field->kind != STEADING_FIELD_later) {
      size_t used = strlen(list);
      snprintf(list + used, sizeof list - used, "%s%s", used > 0 ? ", " : "", field->name);
    }
  }
  nearest = steading_nearest_name(key, names, count);
  if (nearest >= 0) return FAIL(r, "unknown field (did you mean '%s'?)", names[nearest]);
  return FAIL(r, "unknown field; expected one of: %s", list);
}

/* A field with a default or without one is absent in the table. */
static steading_status read_absent(reader *r, const steading_field *field, void *record) {
  if (field->need == STEADING_NEED_required) {
    push_key(r, field->name);
    return FAIL(r, "required (%s%s%s)", field->doc, field->unit[0] != '\0' ? ", " : "",
                field->unit);
  }
  if (field->need == STEADING_NEED_standard) return set_default(r, field, member(record, field));
  return STEADING_OK;
}

static steading_status read_fields(reader *r, const steading_spec *spec,
                                   const steading_value *value, steading_record *record) {
  steading_status status = STEADING_OK;
  if (value->item_count > 0)
    return FAIL(r, "found a value without a name (the first is %s); expected fields such as '%s'",
                steading_value_called(&value->items[0]), spec->fields[0].name);
  for (size_t i = 0; i < value->entry_count; i++) {
    const char *key = value->entries[i].key;
    if (spec->says_kind && strcmp(key, "kind") == 0) {
      const steading_value *kind = &value->entries[i].value;
      if (kind->kind == STEADING_VALUE_TEXT && strcmp(kind->text, spec->name) == 0) continue;
      push_key(r, key);
      return FAIL(r, "found %s%s%s, expected \"%s\"", kind->kind == STEADING_VALUE_TEXT ? "\"" : "",
                  kind->kind == STEADING_VALUE_TEXT ? kind->text : steading_value_called(kind),
                  kind->kind == STEADING_VALUE_TEXT ? "\"" : "", spec->name);
    }
    if (find_field(spec, key) == NULL) {
      push_key(r, key);
      return unknown_field(r, spec, key);
    }
  }
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    const steading_value *given = steading_value_at(value, field->name);
    if (given == NULL || given->kind == STEADING_VALUE_NONE) {
      status = read_absent(r, field, record);
      if (status != STEADING_OK) return status;
      continue;
    }
    size_t mark = push_key(r, field->name);
    status = read_field(r, field, given, member(record, field));
    if (status != STEADING_OK) return status;
    if (field->kind != STEADING_FIELD_later) record->given |= UINT64_C(1) << i;
    pop(r, mark);
  }
  return STEADING_OK;
}

static steading_status read_record(reader *r, const steading_spec *spec,
                                   const steading_value *value, void **record) {
  steading_record *made = NULL;
  steading_status status = STEADING_OK;
  if (value->kind != STEADING_VALUE_TABLE)
    return FAIL(r, "found %s, expected a table", steading_value_called(value));
  if (++r->depth > DEEPEST) return FAIL(r, "tables are nested too deeply");
  made = calloc(1, spec->size);
  if (made == NULL) return no_memory(r);
  *made = (steading_record){.spec = spec, .references = 1};
  status = read_fields(r, spec, value, made);
  if (status == STEADING_OK && spec->check != NULL) status = spec->check(made, r->path, r->error);
  r->depth--;
  if (status != STEADING_OK) {
    steading_record_release(made);
    return status;
  }
  *record = made;
  return STEADING_OK;
}

steading_status steading_spec_read(const steading_spec *spec, const steading_value *value,
                                   const char *path, void **record, steading_error *error) {
  reader r = {.error = error};
  snprintf(r.path, sizeof r.path, "%s", path);
  return read_record(&r, spec, value, record);
}

/* --- changing one field ------------------------------------------------------------------------
 */

void *steading_record_copy(const void *original) {
  const steading_record *record = original;
  const steading_spec *spec = record->spec;
  steading_record *copy = malloc(spec->size);
  bool complete = true;
  if (copy == NULL) return NULL;
  memcpy(copy, record, spec->size);
  copy->references = 1;
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    void *place = member(copy, field);
    if (is_shared(field->kind)) {
      steading_record_keep(*(void **)place);
    } else if (is_text(field->kind) && *(char **)place != NULL) {
      *(char **)place = strdup(*(char **)place);
      complete = complete && *(char **)place != NULL;
    } else if (field->kind == STEADING_FIELD_weather && *(steading_weather **)place != NULL) {
      steading_weather_keep(*(steading_weather **)place);
    } else if (field->kind == STEADING_FIELD_function) {
      steading_function_keep(*(steading_function **)place);
    }
  }
  if (!complete) {
    steading_record_release(copy);
    return NULL;
  }
  return copy;
}

static steading_status change_record(reader *r, const steading_record *record, const char *path,
                                     const steading_value *value, void **changed);

static steading_status bad_step(reader *r, const char *rest) {
  return FAIL(r, "cannot read the path at \"%s\"; expected a form such as hubs.barn.lots[1].count",
              rest);
}

static steading_status change_list(reader *r, const steading_field *field,
                                   const steading_list *list, const char *path,
                                   const steading_value *value, const steading_list **changed) {
  steading_path_step s;
  steading_list *copy = NULL;
  steading_status status = STEADING_OK;
  size_t count = list == NULL ? 0 : list->count, mark = 0;
  bool removes = false, appends = false;
  void *item = NULL;
  if (!steading_path_next(path, &s) || s.index == 0) return bad_step(r, path);
  mark = push_index(r, s.index);
  removes = *s.rest == '\0' && value->kind == STEADING_VALUE_NONE;
  appends = *s.rest == '\0' && !removes && s.index == count + 1;
  if (s.index > count && !appends) return FAIL(r, "the list has %zu", count);
  if (*s.rest != '\0') {
    status = change_record(r, list->items[s.index - 1], s.rest, value, &item);
  } else if (!removes) {
    const steading_spec *spec = field->variants != NULL ? find_variant(r, field, value) : field->of;
    status = spec == NULL ? STEADING_BAD_INPUT : read_record(r, spec, value, &item);
  }
  if (status != STEADING_OK) return status;
  copy = calloc(1, sizeof *copy + (count + 1) * sizeof copy->items[0]);
  if (copy == NULL) {
    steading_record_release(item);
    return no_memory(r);
  }
  copy->head = (steading_record){.spec = &list_spec, .references = 1};
  for (size_t i = 0; i < count + appends; i++) {
    if (i + 1 == s.index) {
      if (!removes) copy->items[copy->count++] = item;
    } else {
      copy->items[copy->count++] = steading_record_keep(list->items[i]);
    }
  }
  pop(r, mark);
  *changed = copy;
  return STEADING_OK;
}

static steading_status change_map(reader *r, const steading_field *field, const steading_map *map,
                                  const char *path, const steading_value *value,
                                  const steading_map **changed) {
  steading_path_step s;
  steading_map *copy = NULL;
  const steading_record *old = NULL;
  steading_status status = STEADING_OK;
  void *item = NULL;
  size_t count = map == NULL ? 0 : map->count, mark = 0, i = 0;
  bool placed = false;
  if (!steading_path_next(path, &s) || s.index != 0) return bad_step(r, path);
  mark = push_key(r, s.key);
  old = steading_map_at(map, s.key);
  if (*s.rest != '\0' || value->kind == STEADING_VALUE_NONE) {
    if (old == NULL) {
      const char *names[MOST_NAMES];
      size_t n = 0;
      for (; n < count && n < MOST_NAMES; n++) names[n] = map->entries[n].name;
      int nearest = steading_nearest_name(s.key, names, n);
      if (nearest >= 0) return FAIL(r, "unknown name (did you mean '%s'?)", names[nearest]);
      return FAIL(r, "there is no '%s' in this site", s.key);
    }
    if (*s.rest != '\0') status = change_record(r, old, s.rest, value, &item);
  } else if (!steading_is_name(s.key) || strcmp(s.key, "site") == 0 || strcmp(s.key, "all") == 0) {
    status = FAIL(r, "\"%s\" is not a name that can be given", s.key);
  } else {
    status = read_record(r, field->of, value, &item);
  }
  if (status != STEADING_OK) return status;
  copy = calloc(1, sizeof *copy + (count + 1) * sizeof copy->entries[0]);
  if (copy == NULL) {
    steading_record_release(item);
    return no_memory(r);
  }
  copy->head = (steading_record){.spec = &map_spec, .references = 1};
  placed = item == NULL;
  while (status == STEADING_OK && (i < count || !placed)) {
    int order = i == count ? -1 : placed ? 1 : strcmp(s.key, map->entries[i].name);
    const char *name = order <= 0 && !placed ? s.key : map->entries[i].name;
    steading_record *kept = NULL;
    if (order <= 0 && !placed) {
      kept = item;
      placed = true;
      if (order == 0) i++;
    } else if (strcmp(map->entries[i].name, s.key) == 0) {
      i++; /* the entry that is taken away */
      continue;
    } else {
      kept = steading_record_keep(map->entries[i].item);
      i++;
    }
    char *copied = strdup(name);
    copy->entries[copy->count++] = (steading_map_entry){.name = copied, .item = kept};
    if (copied == NULL) status = no_memory(r);
  }
  if (status != STEADING_OK) {
    if (!placed) steading_record_release(item);
    steading_record_release(copy);
    return status;
  }
  pop(r, mark);
  *changed = copy;
  return STEADING_OK;
}

static void put_pointer(void *place, const void *pointer) {
  steading_record_release(*(void **)place);
  *(const void **)place = pointer;
}

/* Whether a field can be left out of a plan: a part that is there, and whose absence means that it
 * is not there. */
static steading_status check_part(reader *r, const steading_field *field, bool given) {
  switch (field->kind) {
    case STEADING_FIELD_record:
    case STEADING_FIELD_list:
    case STEADING_FIELD_several:
    case STEADING_FIELD_variants:
    case STEADING_FIELD_map:
    case STEADING_FIELD_listed:
      break;
    default:
      return FAIL(r,
                  "is a value, no part of the plan; site:with changes it, or takes it away with "
                  "steading.none");
  }
  if (field->need == STEADING_NEED_required) return FAIL(r, "required: it cannot be taken away");
  if (field->need == STEADING_NEED_standard)
    return FAIL(r, "has a default and is always there; site:with changes it");
  if (!given) return FAIL(r, "is not in this site");
  if (field->of != NULL && field->kind == STEADING_FIELD_list && strcmp(field->name, "lots") == 0)
    return FAIL(r,
                "without lots one piece is there; leave out the whole component, or each lot by "
                "its number");
  return STEADING_OK;
}

/* The field itself is set, taken away or given back its default. */
static steading_status set_field(reader *r, const steading_field *field, size_t index,
                                 const steading_value *value, steading_record *record) {
  void *place = member(record, field);
  if (field->kind == STEADING_FIELD_later || field->kind == STEADING_FIELD_refused)
    return read_field(r, field, value, NULL);
  if (r->takes_parts) {
    bool given = is_shared(field->kind) && *(void **)place != NULL;
    steading_status status = check_part(r, field, given);
    if (status != STEADING_OK) return status;
  }
  drop_field(record, field);
  if (value->kind == STEADING_VALUE_NONE) {
    record->given &= ~(UINT64_C(1) << index);
    if (field->need == STEADING_NEED_required) return FAIL(r, "required: it cannot be taken away");
    return field->need == STEADING_NEED_standard ? set_default(r, field, place) : STEADING_OK;
  }
  record->given |= UINT64_C(1) << index;
  return read_field(r, field, value, place);
}

/* In a record that is written as a list, [i] is an item of that list. */
static steading_status change_listed(reader *r, const steading_record *record, const char *rest,
                                     const steading_value *value, void **changed) {
  const steading_field *first = &record->spec->fields[0];
  const steading_list *list = NULL;
  steading_record *copy = NULL;
  steading_status status = STEADING_OK;
  if (*rest != '[') return change_record(r, record, rest, value, changed);
  status =
      change_list(r, first, *(const steading_list **)member(record, first), rest, value, &list);
  if (status != STEADING_OK) return status;
  copy = steading_record_copy(record);
  if (copy == NULL) {
    steading_record_release(list);
    return no_memory(r);
  }
  put_pointer(member(copy, first), list);
  *changed = copy;
  return STEADING_OK;
}

/* One alone is changed as itself; with [i] it is an item of a list like another. */
static steading_status change_several(reader *r, const steading_field *field,
                                      const steading_list *list, const char *rest,
                                      const steading_value *value, const steading_list **changed) {
  steading_list *copy = NULL;
  void *item = NULL;
  steading_status status = STEADING_OK;
  if (*rest == '[' || !steading_list_is_one(list)) {
    if (*rest != '[')
      return FAIL(r, "there are %zu; say which, such as %s[1].%s", list->count, field->name, rest);
    return change_list(r, field, list, rest, value, changed);
  }
  status = change_record(r, list->items[0], rest, value, &item);
  if (status != STEADING_OK) return status;
  copy = calloc(1, sizeof *copy + sizeof copy->items[0]);
  if (copy == NULL) {
    steading_record_release(item);
    return no_memory(r);
  }
  copy->head = (steading_record){.spec = &one_spec, .references = 1};
  copy->items[copy->count++] = item;
  *changed = copy;
  return STEADING_OK;
}

static steading_status inside_nothing(reader *r) {
  return FAIL(r,
              r->takes_parts ? "is not in this site" : "is absent in this site; set it as a whole");
}

/* What follows the field's name in the path lies inside it. */
static steading_status change_inside(reader *r, const steading_field *field, const char *rest,
                                     const steading_value *value, void *place) {
  steading_status status = STEADING_OK;
  if (field->kind == STEADING_FIELD_record) {
    const steading_record *inner = *(steading_record *const *)place;
    void *changed = NULL;
    if (inner == NULL) return inside_nothing(r);
    status = change_record(r, inner, rest, value, &changed);
    if (status == STEADING_OK) put_pointer(place, changed);
  } else if (field->kind == STEADING_FIELD_listed) {
    void *changed = NULL;
    if (*(void **)place == NULL) return inside_nothing(r);
    status = change_listed(r, *(steading_record *const *)place, rest, value, &changed);
    if (status == STEADING_OK) put_pointer(place, changed);
  } else if (field->kind == STEADING_FIELD_several) {
    const steading_list *changed = NULL;
    if (*(void **)place == NULL) return inside_nothing(r);
    status = change_several(r, field, *(const steading_list **)place, rest, value, &changed);
    if (status == STEADING_OK && changed->count == 0) { /* the last went: there are none */
      steading_record_release(changed);
      changed = NULL;
    }
    if (status == STEADING_OK) put_pointer(place, changed);
  } else if (field->kind == STEADING_FIELD_list || field->kind == STEADING_FIELD_variants) {
    const steading_list *changed = NULL;
    status = change_list(r, field, *(const steading_list **)place, rest, value, &changed);
    if (status == STEADING_OK) put_pointer(place, changed);
  } else if (field->kind == STEADING_FIELD_map) {
    const steading_map *changed = NULL;
    status = change_map(r, field, *(const steading_map **)place, rest, value, &changed);
    if (status == STEADING_OK) put_pointer(place, changed);
  } else if (field->kind == STEADING_FIELD_later) {
    return read_field(r, field, &(steading_value){.kind = STEADING_VALUE_TABLE}, NULL);
  } else {
    return FAIL(r, "is changed as a whole; the path ends here");
  }
  return status;
}

static steading_status change_record(reader *r, const steading_record *record, const char *path,
                                     const steading_value *value, void **changed) {
  steading_path_step s;
  steading_record *copy = NULL;
  const steading_field *field = NULL;
  steading_status status = STEADING_OK;
  if (!steading_path_next(path, &s) || s.index != 0) return bad_step(r, path);
  size_t mark = push_key(r, s.key);
  field = find_field(record->spec, s.key);
  if (field == NULL) return unknown_field(r, record->spec, s.key);
  copy = steading_record_copy(record);
  if (copy == NULL) return no_memory(r);
  if (*s.rest == '\0')
    status = set_field(r, field, (size_t)(field - record->spec->fields), value, copy);
  else
    status = change_inside(r, field, s.rest, value, member(copy, field));
  if (status != STEADING_OK) {
    steading_record_release(copy);
    return status;
  }
  pop(r, mark);
  *changed = copy;
  return STEADING_OK;
}

/* --- several changes at once ---------------------------------------------------------------------
 */

/* Check again what the changes made: what nobody else holds. What has a second owner is a part of
 * the original, and was checked with it. */
static steading_status check_made(reader *r, const steading_record *record);

static steading_status check_inside(reader *r, const steading_field *field, const void *place) {
  steading_status status = STEADING_OK;
  const steading_record *inner = NULL;
  if (!is_shared(field->kind)) return STEADING_OK;
  inner = *(steading_record *const *)place;
  if (inner == NULL || inner->references > 1) return STEADING_OK;
  if (field->kind == STEADING_FIELD_record || field->kind == STEADING_FIELD_listed) {
    status = check_made(r, inner);
  } else if (field->kind == STEADING_FIELD_several && steading_list_is_one((const void *)inner)) {
    status = check_made(r, ((const steading_list *)(const void *)inner)->items[0]);
  } else if (field->kind == STEADING_FIELD_list || field->kind == STEADING_FIELD_several ||
             field->kind == STEADING_FIELD_variants) {
    const steading_list *list = (const void *)inner;
    for (size_t i = 0; status == STEADING_OK && i < list->count; i++) {
      size_t mark = push_index(r, i + 1);
      status = check_made(r, list->items[i]);
      if (status == STEADING_OK) pop(r, mark);
    }
  } else if (field->kind == STEADING_FIELD_map) {
    const steading_map *map = (const void *)inner;
    for (size_t i = 0; status == STEADING_OK && i < map->count; i++) {
      size_t mark = push_key(r, map->entries[i].name);
      status = check_made(r, map->entries[i].item);
      if (status == STEADING_OK) pop(r, mark);
    }
  }
  return status;
}

static steading_status check_made(reader *r, const steading_record *record) {
  const steading_spec *spec = record->spec;
  steading_status status = STEADING_OK;
  if (record->references > 1) return STEADING_OK;
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    size_t mark = push_key(r, field->name);
    status = check_inside(r, field, member(record, field));
    if (status != STEADING_OK) return status;
    pop(r, mark);
  }
  return spec->check != NULL ? spec->check(record, r->path, r->error) : STEADING_OK;
}

/* In which order changes are made, so that every path means a place of the original: first what is
 * set, in the order of paths, then what is taken away, from the end. */
typedef struct change_order {
  const char *path;
  const steading_value *value;
} change_order;

static int by_order(const void *a, const void *b) {
  const change_order *x = a, *y = b;
  bool x_goes = x->value->kind == STEADING_VALUE_NONE,
       y_goes = y->value->kind == STEADING_VALUE_NONE;
  if (x_goes != y_goes) return x_goes ? 1 : -1;
  return x_goes ? steading_path_compare(y->path, x->path) : steading_path_compare(x->path, y->path);
}

/* One place named twice, or a change of what goes anyway. */
static steading_status check_order(reader *r, const change_order *order, size_t count) {
  for (size_t i = 0; i < count; i++)
    for (size_t k = 0; k < count; k++) {
      if (i < k && steading_path_compare(order[i].path, order[k].path) == 0)
        return FAIL(r, "\"%s\" is named twice", order[i].path);
      if (order[k].value->kind == STEADING_VALUE_NONE &&
          steading_path_is_inside(order[i].path, order[k].path))
        return FAIL(r, "\"%s\" lies in \"%s\", which is taken away as well", order[i].path,
                    order[k].path);
    }
  return STEADING_OK;
}

static steading_status change_all(reader *r, const void *record, size_t count,
                                  const char *const *paths, const steading_value *values,
                                  void **changed) {
  change_order *order = calloc(count + 1, sizeof *order);
  steading_record *now = NULL;
  steading_status status = STEADING_OK;
  const size_t mark = strlen(r->path);
  if (order == NULL) return no_memory(r);
  for (size_t i = 0; i < count; i++)
    order[i] = (change_order){.path = paths[i], .value = &values[i]};
  if (count > 1) qsort(order, count, sizeof *order, by_order);
  status = check_order(r, order, count);
  now = steading_record_keep(record);
  for (size_t i = 0; status == STEADING_OK && i < count; i++) {
    void *next = NULL;
    status = change_record(r, now, order[i].path, order[i].value, &next);
    if (status != STEADING_OK) break;
    steading_record_release(now);
    now = next;
  }
  free(order);
  if (status == STEADING_OK) {
    pop(r, mark);
    status = check_made(r, now);
  }
  if (status != STEADING_OK) {
    steading_record_release(now);
    return status;
  }
  *changed = now;
  return STEADING_OK;
}

steading_status steading_spec_change(const void *record, const char *prefix, size_t count,
                                     const char *const *paths, const steading_value *values,
                                     void **changed, steading_error *error) {
  reader r = {.error = error};
  snprintf(r.path, sizeof r.path, "%s", prefix);
  return change_all(&r, record, count, paths, values, changed);
}

steading_status steading_spec_without(const void *record, const char *prefix, size_t count,
                                      const char *const *paths, void **changed,
                                      steading_error *error) {
  reader r = {.error = error, .takes_parts = true};
  steading_value *none = calloc(count + 1, sizeof *none); /* of the kind NONE */
  steading_status status = STEADING_OK;
  snprintf(r.path, sizeof r.path, "%s", prefix);
  if (none == NULL) return no_memory(&r);
  status = change_all(&r, record, count, paths, none, changed);
  free(none);
  return status;
}
