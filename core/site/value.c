#include "site/value.h"

#include <string.h>

const steading_value *steading_value_at(const steading_value *table, const char *key) {
  size_t low = 0, high = table->entry_count;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    int order = strcmp(key, table->entries[middle].key);
    if (order == 0) return &table->entries[middle].value;
    if (order < 0) {
      high = middle;
    } else {
      low = middle + 1;
    }
  }
  return NULL;
}

const char *steading_value_called(const steading_value *value) {
  switch (value->kind) {
    case STEADING_VALUE_NONE:
      return "steading.none";
    case STEADING_VALUE_BOOLEAN:
      return value->boolean ? "true" : "false";
    case STEADING_VALUE_NUMBER:
      return "a number";
    case STEADING_VALUE_TEXT:
      return "a text";
    case STEADING_VALUE_TABLE:
      return "a table";
    case STEADING_VALUE_WEATHER:
      return "a weather";
    case STEADING_VALUE_FUNCTION:
      return "a function";
    case STEADING_VALUE_OTHER:
      return value->text;
  }
  return "?";
}
