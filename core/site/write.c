#include "site/write.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/weather.h"
#include "site/shapes.h"
#include "site/window.h"

static const char *const day_words[7] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
static const char *const month_words[12] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                            "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};

/* A table under way: room for all its items and entries. */
static bool table_of(steading_arena *arena, size_t items, size_t entries, steading_value *value) {
  *value = (steading_value){.kind = STEADING_VALUE_TABLE};
  value->items = steading_arena_take(arena, (items + 1) * sizeof *value->items);
  value->entries = steading_arena_take(arena, (entries + 1) * sizeof *value->entries);
  return value->items != NULL && value->entries != NULL;
}

static steading_value number_of(double number) {
  return (steading_value){.kind = STEADING_VALUE_NUMBER, .number = number};
}

static steading_value text_of(const char *text) {
  return (steading_value){.kind = STEADING_VALUE_TEXT, .text = text};
}

static bool copy_text(steading_arena *arena, const char *text, steading_value *value) {
  *value = text_of(steading_arena_text(arena, text, strlen(text)));
  return value->text != NULL;
}

static bool write_numbers(steading_arena *arena, const double *numbers, size_t count,
                          steading_value *value) {
  if (!table_of(arena, count, 0, value)) return false;
  for (size_t i = 0; i < count; i++) value->items[value->item_count++] = number_of(numbers[i]);
  return true;
}

static bool write_points(steading_arena *arena, const steading_series *series,
                         steading_value *value) {
  if (!table_of(arena, series->count / 2, 0, value)) return false;
  for (size_t i = 0; i < series->count; i += 2)
    if (!write_numbers(arena, series->values + i, 2, &value->items[value->item_count++]))
      return false;
  return true;
}

static bool same_bits(const double *a, const double *b, size_t count) {
  return memcmp(a, b, count * sizeof *a) == 0;
}

static bool write_monthly(steading_arena *arena, const double *months, steading_value *value) {
  for (int m = 1; m < 12; m++)
    if (!same_bits(&months[m], &months[0], 1)) return write_numbers(arena, months, 12, value);
  *value = number_of(months[0]);
  return true;
}

/* The name of the shape that reads to these numbers. */
static bool shape_name(const double *hours, char *name, size_t size) {
  for (const char *at = steading_shape_names(); *at != '\0';) {
    size_t length = strcspn(at, ",");
    const double *shape = NULL;
    double sum = 0, read[24];
    snprintf(name, size, "%.*s", (int)length, at);
    shape = steading_shape(name);
    at += length + strspn(at + length, ", ");
    if (shape == NULL) continue;
    for (int h = 0; h < 24; h++) sum += shape[h];
    for (int h = 0; h < 24; h++) read[h] = shape[h] / sum;
    if (same_bits(read, hours, 24)) return true;
  }
  return false;
}

static bool write_hours(steading_arena *arena, const double *hours, steading_value *value) {
  char name[64];
  if (shape_name(hours, name, sizeof name)) return copy_text(arena, name, value);
  return write_numbers(arena, hours, 24, value);
}

void steading_write_date(int64_t day_number, char text[16]) {
  int year = 0, month = 0, day = 0;
  steading_date_of_day(day_number, &year, &month, &day);
  snprintf(text, 16, "%04u-%02u-%02u", (unsigned)year % 10000, (unsigned)month % 100,
           (unsigned)day % 100);
}

/* --- windows -----------------------------------------------------------------------------------
 */

/* "Mon-Fri" or "Mon,Wed-Fri": the runs of the bits. */
static bool write_span(steading_arena *arena, unsigned bits, const char *const *words, int count,
                       steading_value *value) {
  char text[80] = "";
  for (int i = 0; i < count; i++) {
    size_t used = strlen(text);
    int last = i;
    if (!(bits >> i & 1)) continue;
    while (last + 1 < count && bits >> (last + 1) & 1) last++;
    snprintf(text + used, sizeof text - used, "%s%s%s%s", used > 0 ? "," : "", words[i],
             last > i ? "-" : "", last > i ? words[last] : "");
    i = last;
  }
  return copy_text(arena, text, value);
}

static bool write_window(steading_arena *arena, const steading_window *w, steading_value *value) {
  enum { ALL_DAYS = 0x7f, ALL_MONTHS = 0xfff };
  char hours[32];
  steading_value said;
  snprintf(hours, sizeof hours, "%02d:%02d-%02d:%02d", w->from_min / 60, w->from_min % 60,
           w->to_min / 60, w->to_min % 60);
  if (!copy_text(arena, hours, &said)) return false;
  if (w->days == ALL_DAYS && w->months == ALL_MONTHS) {
    *value = said;
    return true;
  }
  if (!table_of(arena, 0, 3, value)) return false;
  if (w->days != ALL_DAYS) {
    steading_entry *entry = &value->entries[value->entry_count++];
    entry->key = "days";
    if (!write_span(arena, w->days, day_words, 7, &entry->value)) return false;
  }
  value->entries[value->entry_count++] = (steading_entry){.key = "hours", .value = said};
  if (w->months != ALL_MONTHS) {
    steading_entry *entry = &value->entries[value->entry_count++];
    entry->key = "months";
    if (!write_span(arena, w->months, month_words, 12, &entry->value)) return false;
  }
  return true;
}

static bool write_windows(steading_arena *arena, const steading_windows *windows,
                          steading_value *value) {
  if (windows->count == 1) return write_window(arena, &windows->items[0], value);
  if (!table_of(arena, windows->count, 0, value)) return false;
  for (size_t i = 0; i < windows->count; i++)
    if (!write_window(arena, &windows->items[i], &value->items[value->item_count++])) return false;
  return true;
}

/* The part of its one window that the field's name says. */
static bool write_window_part(steading_arena *arena, const steading_field *field,
                              const steading_windows *windows, steading_value *value) {
  const steading_window *w = &windows->items[0];
  if (strcmp(field->name, "days") == 0) return write_span(arena, w->days, day_words, 7, value);
  if (strcmp(field->name, "months") == 0)
    return write_span(arena, w->months, month_words, 12, value);
  return write_window(arena, &(steading_window){w->from_min, w->to_min, 0x7f, 0xfff}, value);
}

/* --- lists, maps and the rest ------------------------------------------------------------------
 */

static bool write_words(steading_arena *arena, const steading_field *field, unsigned bits,
                        steading_value *value) {
  if (!table_of(arena, 8 * sizeof bits, 0, value)) return false;
  for (size_t i = 0; field->choices[i] != NULL; i++)
    if (bits >> i & 1) value->items[value->item_count++] = text_of(field->choices[i]);
  return true;
}

static bool write_year_days(steading_arena *arena, const bool *days, steading_value *value) {
  if (!table_of(arena, (size_t)12 * 31, 0, value)) return false;
  for (int m = 0; m < 12; m++)
    for (int d = 0; d < 31; d++) {
      char text[32];
      if (!days[31 * m + d]) continue;
      snprintf(text, sizeof text, "%02d-%02d", m + 1, d + 1);
      if (!copy_text(arena, text, &value->items[value->item_count++])) return false;
    }
  return true;
}

static bool write_amounts(steading_arena *arena, const steading_amounts *amounts,
                          steading_value *value) {
  if (amounts->count == 1 && amounts->items[0].name == NULL) {
    *value = number_of(amounts->items[0].number);
    return true;
  }
  if (!table_of(arena, 0, amounts->count, value)) return false;
  for (size_t i = 0; i < amounts->count; i++)
    value->entries[value->entry_count++] = (steading_entry){
        .key = amounts->items[i].name, .value = number_of(amounts->items[i].number)};
  return true;
}

static bool write_texts(steading_arena *arena, const steading_texts *texts, steading_value *value) {
  if (!table_of(arena, texts->count, 0, value)) return false;
  for (size_t i = 0; i < texts->count; i++)
    value->items[value->item_count++] = text_of(texts->items[i]);
  return true;
}

static bool write_record(steading_arena *arena, const steading_record *record,
                         steading_value *value);

static bool write_list(steading_arena *arena, const steading_list *list, steading_value *value) {
  if (!table_of(arena, list->count, 0, value)) return false;
  for (size_t i = 0; i < list->count; i++)
    if (!write_record(arena, list->items[i], &value->items[value->item_count++])) return false;
  return true;
}

static bool write_map(steading_arena *arena, const steading_map *map, steading_value *value) {
  if (!table_of(arena, 0, map->count, value)) return false;
  for (size_t i = 0; i < map->count; i++) {
    steading_entry *entry = &value->entries[value->entry_count++];
    entry->key = map->entries[i].name;
    if (!write_record(arena, map->entries[i].item, &entry->value)) return false;
  }
  return true;
}

/* A record whose first field is written as the items of its table. */
static bool write_listed(steading_arena *arena, const steading_record *record,
                         steading_value *value) {
  const char *first = record->spec->fields[0].name;
  if (!write_record(arena, record, value)) return false;
  for (size_t i = 0; i < value->entry_count; i++) {
    steading_value list = value->entries[i].value;
    if (strcmp(value->entries[i].key, first) != 0 || list.item_count == 0) continue;
    value->items = list.items;
    value->item_count = list.item_count;
    value->entry_count--;
    memmove(&value->entries[i], &value->entries[i + 1],
            (value->entry_count - i) * sizeof *value->entries);
    break;
  }
  return true;
}

static bool write_field(steading_arena *arena, const steading_field *field, const void *place,
                        steading_value *value) {
  void *pointer = NULL;
  char date[16];
  switch (field->kind) {
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
      *value = number_of(*(const double *)place);
      return true;
    case STEADING_FIELD_flag:
      *value = (steading_value){.kind = STEADING_VALUE_BOOLEAN, .boolean = *(const bool *)place};
      return true;
    case STEADING_FIELD_choice:
      *value = text_of(field->choices[*(const int *)place]);
      return true;
    case STEADING_FIELD_date:
      steading_write_date(*(const int64_t *)place, date);
      return copy_text(arena, date, value);
    case STEADING_FIELD_monthly:
      return write_monthly(arena, place, value);
    case STEADING_FIELD_temps:
      if (isinf(*(const double *)place)) return copy_text(arena, "outdoors", value);
      return write_monthly(arena, place, value);
    case STEADING_FIELD_hours:
      return write_hours(arena, place, value);
    case STEADING_FIELD_pair:
      return write_numbers(arena, place, 2, value);
    case STEADING_FIELD_words:
      return write_words(arena, field, *(const unsigned *)place, value);
    case STEADING_FIELD_year_days:
      return write_year_days(arena, place, value);
    default:
      break;
  }
  pointer = *(void *const *)place;
  *value = (steading_value){.kind = STEADING_VALUE_NONE};
  if (pointer == NULL) { /* switched off, or a map that a change took away */
    if (field->kind == STEADING_FIELD_record || field->kind == STEADING_FIELD_listed ||
        field->kind == STEADING_FIELD_several)
      *value = (steading_value){.kind = STEADING_VALUE_BOOLEAN, .boolean = false};
    return true;
  }
  switch (field->kind) {
    case STEADING_FIELD_text:
    case STEADING_FIELD_name:
      *value = text_of(pointer);
      return true;
    case STEADING_FIELD_texts:
      return write_texts(arena, pointer, value);
    case STEADING_FIELD_windows:
      return write_windows(arena, pointer, value);
    case STEADING_FIELD_window_part:
      return write_window_part(arena, field, pointer, value);
    case STEADING_FIELD_series:
      return write_numbers(arena, ((const steading_series *)pointer)->values,
                           ((const steading_series *)pointer)->count, value);
    case STEADING_FIELD_numbers:
      if (((const steading_series *)pointer)->count == 1) {
        *value = number_of(((const steading_series *)pointer)->values[0]);
        return true;
      }
      return write_numbers(arena, ((const steading_series *)pointer)->values,
                           ((const steading_series *)pointer)->count, value);
    case STEADING_FIELD_amounts:
      return write_amounts(arena, pointer, value);
    case STEADING_FIELD_points:
      return write_points(arena, pointer, value);
    case STEADING_FIELD_weather:
      *value = (steading_value){.kind = STEADING_VALUE_WEATHER, .handle = pointer};
      return true;
    case STEADING_FIELD_function:
      *value = (steading_value){.kind = STEADING_VALUE_FUNCTION, .handle = pointer};
      return true;
    case STEADING_FIELD_record:
      return write_record(arena, pointer, value);
    case STEADING_FIELD_listed:
      return write_listed(arena, pointer, value);
    case STEADING_FIELD_several:
      if (steading_list_is_one(pointer))
        return write_record(arena, ((const steading_list *)pointer)->items[0], value);
      return write_list(arena, pointer, value);
    case STEADING_FIELD_list:
    case STEADING_FIELD_variants:
      return write_list(arena, pointer, value);
    case STEADING_FIELD_map:
      return write_map(arena, pointer, value);
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
    case STEADING_FIELD_flag:
    case STEADING_FIELD_choice:
    case STEADING_FIELD_date:
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_hours:
    case STEADING_FIELD_pair:
    case STEADING_FIELD_words:
    case STEADING_FIELD_year_days:
    case STEADING_FIELD_temps:
    case STEADING_FIELD_later:
    case STEADING_FIELD_refused:
      break;
  }
  return true;
}

static int by_key(const void *a, const void *b) {
  return strcmp(((const steading_entry *)a)->key, ((const steading_entry *)b)->key);
}

static bool write_record(steading_arena *arena, const steading_record *record,
                         steading_value *value) {
  const steading_spec *spec = record->spec;
  if (!table_of(arena, 0, spec->field_count + 1, value)) return false;
  if (spec->says_kind)
    value->entries[value->entry_count++] =
        (steading_entry){.key = "kind", .value = text_of(spec->name)};
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    steading_entry *entry = &value->entries[value->entry_count];
    if (!(record->given >> i & 1)) continue;
    entry->key = field->name;
    if (!write_field(arena, field, (const char *)record + field->offset, &entry->value))
      return false;
    if (entry->value.kind != STEADING_VALUE_NONE) value->entry_count++;
  }
  if (value->entry_count > 1)
    qsort(value->entries, value->entry_count, sizeof *value->entries, by_key);
  return true;
}

steading_status steading_spec_write(const void *record, steading_arena *arena,
                                    steading_value *value) {
  return write_record(arena, record, value) ? STEADING_OK : STEADING_NO_MEMORY;
}

steading_status steading_field_write(const steading_field *field, const void *place,
                                     steading_arena *arena, steading_value *value) {
  return write_field(arena, field, place, value) ? STEADING_OK : STEADING_NO_MEMORY;
}
