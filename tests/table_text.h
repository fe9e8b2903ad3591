/* Tables for tests, written as a script would: { ac_kw = 5, efficiency = { at_10 = 0.9 } }, with
 * texts in double quotes, true and false. "@0" stands for the first of `things`, "@1" for the
 * second: a weather, a function that decides or a list of many numbers. */
#ifndef STEADING_TESTS_TABLE_TEXT_H
#define STEADING_TESTS_TABLE_TEXT_H

#include <stddef.h>

#include "arena.h"
#include "resource/weather.h"
#include "site/function.h"
#include "site/value.h"

typedef struct build_thing {
  steading_weather *weather;
  steading_function *function;
  const double *numbers; /* where both are NULL */
  size_t count;
} build_thing;

/* Read the one value of a text into memory of the arena. NULL, or what is wrong with the text. */
const char *table_text_read(const char *text, const build_thing *things, steading_arena *arena,
                            steading_value *value);

#endif
