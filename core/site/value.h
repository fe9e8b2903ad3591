/* What a script hands over, before anything is known about its meaning: a tree of values.
 *
 * Whoever reads a script (the Lua bindings) builds it; the spec tables read it. */
#ifndef STEADING_SITE_VALUE_H
#define STEADING_SITE_VALUE_H

#include <stdbool.h>
#include <stddef.h>

typedef enum steading_value_kind {
  STEADING_VALUE_NONE, /* steading.none: take it away */
  STEADING_VALUE_BOOLEAN,
  STEADING_VALUE_NUMBER,
  STEADING_VALUE_TEXT,
  STEADING_VALUE_TABLE,
  STEADING_VALUE_WEATHER, /* a steading_weather */
  STEADING_VALUE_FUNCTION, /* a steading_function */
  STEADING_VALUE_OTHER    /* a thread, a foreign object */
} steading_value_kind;

typedef struct steading_value {
  steading_value_kind kind;
  bool boolean;
  double number;
  const char *text;      /* TEXT; for OTHER what it is called */
  void *handle;          /* WEATHER, FUNCTION */
  size_t item_count;     /* TABLE: the values at 1..n */
  struct steading_value *items;
  size_t entry_count;    /* TABLE: the values at text keys, in the order of the keys */
  struct steading_entry *entries;
} steading_value;

typedef struct steading_entry {
  const char *key;
  steading_value value;
} steading_entry;

/* The value at a text key, or NULL. */
const steading_value *steading_value_at(const steading_value *table, const char *key);

/* "number", "text", "table" ... for messages. */
const char *steading_value_called(const steading_value *value);

#endif
