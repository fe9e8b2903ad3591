#include "site/assume.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "arena.h"
#include "site/write.h"

enum { LONGEST_VALUE = 1024 };

typedef struct walker {
  steading_assumption_visit visit;
  void *context;
  char path[256], value[LONGEST_VALUE], source[256];
} walker;

static void put_number(char *text, size_t size, double number) {
  size_t used = strlen(text);
  const char *gap = used > 0 ? " " : "";
  if (isinf(number))
    snprintf(text + used, size - used, "%snone", gap);
  else
    snprintf(text + used, size - used, "%s%.12g", gap, number);
}

static void put_text(char *text, size_t size, const char *more) {
  size_t used = strlen(text);
  snprintf(text + used, size - used, "%s%s", used > 0 ? " " : "", more);
}

/* A value in the form in which a script hands it over, flattened to one text. */
static void put_value(char *text, size_t size, const steading_value *value) {
  switch (value->kind) {
    case STEADING_VALUE_NUMBER:
      put_number(text, size, value->number);
      return;
    case STEADING_VALUE_BOOLEAN:
      put_text(text, size, value->boolean ? "true" : "false");
      return;
    case STEADING_VALUE_TEXT:
      put_text(text, size, value->text);
      return;
    case STEADING_VALUE_TABLE:
      for (size_t i = 0; i < value->item_count; i++) put_value(text, size, &value->items[i]);
      for (size_t i = 0; i < value->entry_count; i++) {
        put_text(text, size, value->entries[i].key);
        put_value(text, size, &value->entries[i].value);
      }
      return;
    case STEADING_VALUE_NONE:
    case STEADING_VALUE_WEATHER:
    case STEADING_VALUE_FUNCTION:
    case STEADING_VALUE_OTHER:
      return;
  }
}

/* What stands in "(default: ...)" of a description. */
static void put_source(const char *doc, char *source, size_t size) {
  static const char mark[] = "(default: ";
  const char *at = strstr(doc, mark), *end = NULL;
  int depth = 1;
  source[0] = '\0';
  if (at == NULL) return;
  at += sizeof mark - 1;
  for (end = at; *end != '\0'; end++) {
    depth += (*end == '(') - (*end == ')');
    if (depth == 0) break;
  }
  snprintf(source, size, "%.*s", (int)(end - at), at);
}

/* The list that a record is written as has no name of its own in paths. */
static steading_status walk_record(walker *w, const steading_record *record, bool is_listed);

/* Only what a battery's lots deliver has a charge: "hubs.NAME.battery.lots[" or
 * "hubs.NAME.battery[1].lots[". */
static bool is_battery_lot(const char *path) {
  static const char begins[] = "hubs.", battery[] = ".battery", lots[] = ".lots[";
  if (strncmp(path, begins, sizeof begins - 1) != 0) return false;
  path += sizeof begins - 1;
  path += strcspn(path, ".");
  if (strncmp(path, battery, sizeof battery - 1) != 0) return false;
  path += sizeof battery - 1;
  if (*path == '[') path += strcspn(path, ".");
  return strncmp(path, lots, sizeof lots - 1) == 0;
}

static steading_status walk_entry(walker *w, const char *name, size_t index,
                                  const steading_record *record) {
  size_t length = strlen(w->path);
  steading_status status = STEADING_OK;
  if (name != NULL)
    snprintf(w->path + length, sizeof w->path - length, ".%s", name);
  else
    snprintf(w->path + length, sizeof w->path - length, "[%zu]", index);
  status = walk_record(w, record, false);
  w->path[length] = '\0';
  return status;
}

static steading_status tell(walker *w, const steading_field *field, bool given) {
  w->source[0] = '\0';
  if (!given) put_source(field->doc, w->source, sizeof w->source);
  return w->visit(w->context, &(steading_assumption){.path = w->path,
                                                     .value = w->value,
                                                     .unit = field->unit,
                                                     .given = given,
                                                     .source = w->source});
}

/* A field that is one value. */
static steading_status walk_value(walker *w, const steading_field *field, const void *place,
                                  bool given) {
  steading_arena arena = {.blocks = NULL};
  steading_value value = {.kind = STEADING_VALUE_NONE};
  steading_status status = STEADING_OK;
  if (!given && field->need == STEADING_NEED_optional) return STEADING_OK;
  status = steading_field_write(field, place, &arena, &value);
  w->value[0] = '\0';
  if (status == STEADING_OK) put_value(w->value, sizeof w->value, &value);
  steading_arena_drop(&arena);
  if (status != STEADING_OK || value.kind == STEADING_VALUE_NONE) return status;
  if (w->value[0] == '\0') put_text(w->value, sizeof w->value, "none"); /* an empty list */
  return tell(w, field, given);
}

static steading_status walk_field(walker *w, const steading_field *field, const void *place,
                                  bool given) {
  const void *pointer = NULL;
  const steading_list *list = NULL;
  const steading_map *map = NULL;
  steading_status status = STEADING_OK;
  switch (field->kind) {
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
    case STEADING_FIELD_windows:
    case STEADING_FIELD_window_part:
    case STEADING_FIELD_numbers:
    case STEADING_FIELD_amounts:
    case STEADING_FIELD_points:
    case STEADING_FIELD_temps:
      return walk_value(w, field, place, given);
    case STEADING_FIELD_record:
    case STEADING_FIELD_listed:
      pointer = *(void *const *)place;
      if (pointer != NULL) return walk_record(w, pointer, field->kind == STEADING_FIELD_listed);
      if (!given) return STEADING_OK;
      snprintf(w->value, sizeof w->value, "false");
      return tell(w, field, given);
    case STEADING_FIELD_several:
      list = *(const steading_list *const *)place;
      if (list != NULL && steading_list_is_one(list)) return walk_record(w, list->items[0], false);
      if (list == NULL && given) {
        snprintf(w->value, sizeof w->value, "false");
        return tell(w, field, given);
      }
      for (size_t i = 0; status == STEADING_OK && list != NULL && i < list->count; i++)
        status = walk_entry(w, NULL, i + 1, list->items[i]);
      return status;
    case STEADING_FIELD_list:
    case STEADING_FIELD_variants:
      list = *(const steading_list *const *)place;
      for (size_t i = 0; status == STEADING_OK && list != NULL && i < list->count; i++)
        status = walk_entry(w, NULL, i + 1, list->items[i]);
      return status;
    case STEADING_FIELD_map:
      map = *(const steading_map *const *)place;
      for (size_t i = 0; status == STEADING_OK && map != NULL && i < map->count; i++)
        status = walk_entry(w, map->entries[i].name, 0, map->entries[i].item);
      return status;
    case STEADING_FIELD_text:
    case STEADING_FIELD_texts:
    case STEADING_FIELD_name:
    case STEADING_FIELD_series:
    case STEADING_FIELD_weather:
    case STEADING_FIELD_function:
    case STEADING_FIELD_later:
    case STEADING_FIELD_refused:
      return STEADING_OK;
  }
  return STEADING_OK;
}

/* What is assumed of an array's own inverters that say no efficiency, or are not there at all. */
static steading_status tell_own_efficiency(walker *w, const steading_array *array) {
  size_t length = strlen(w->path);
  steading_status status = STEADING_OK;
  if (array->coupled != STEADING_COUPLED_AC ||
      (array->own_inverter != NULL && array->own_inverter->efficiency != NULL))
    return STEADING_OK;
  snprintf(w->path + length, sizeof w->path - length, ".own_inverter.efficiency");
  snprintf(w->value, sizeof w->value, "%.12g", STEADING_OWN_INVERTER_EFFICIENCY);
  status = w->visit(w->context, &(steading_assumption){.path = w->path,
                                                       .value = w->value,
                                                       .unit = "share",
                                                       .given = false,
                                                       .source = "common practice, no source"});
  w->path[length] = '\0';
  return status;
}

static steading_status walk_record(walker *w, const steading_record *record, bool is_listed) {
  const steading_spec *spec = record->spec;
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    size_t length = strlen(w->path);
    steading_status status = STEADING_OK;
    if (spec == &steading_lot_spec && strcmp(field->name, "delivered_charge") == 0 &&
        !is_battery_lot(w->path))
      continue;
    if (!is_listed || i > 0)
      snprintf(w->path + length, sizeof w->path - length, "%s%s", length > 0 ? "." : "",
               field->name);
    status = walk_field(w, field, (const char *)record + field->offset, record->given >> i & 1);
    w->path[length] = '\0';
    if (status != STEADING_OK) return status;
  }
  return spec == &steading_array_spec ? tell_own_efficiency(w, (const void *)record) : STEADING_OK;
}

steading_status steading_site_assumptions(const steading_site *site,
                                          steading_assumption_visit visit, void *context) {
  walker w = {.visit = visit, .context = context, .path = ""};
  return walk_record(&w, &site->head, false);
}
