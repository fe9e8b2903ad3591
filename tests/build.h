/* Records for tests, from a short text: the same table that a script would hand over.
 *
 *   steading_unit *unit = build(&steading_unit_spec, NULL,
 *                               "{ ac_kw = 5, efficiency = { at_10 = %g, at_100 = 0.9 } }", 0.8);
 *
 * The text is a printf format (write numbers with %.17g when bits matter). "@0" stands for the
 * first of `things`, "@1" for the second: a weather or a list of many numbers. */
#ifndef STEADING_TESTS_BUILD_H
#define STEADING_TESTS_BUILD_H

#include <stddef.h>

#include "dispatch/run.h"
#include "resource/weather.h"
#include "site/site.h"

typedef struct build_thing {
  steading_weather *weather; /* or, when NULL, the numbers */
  const double *numbers;
  size_t count;
} build_thing;

/* A checked record with one owner; a text that the spec refuses fails the test with its message. */
void *build(const steading_spec *spec, const build_thing *things, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The same for a text that may be refused: NULL then, with the reason in `error`. */
void *build_or_error(const steading_spec *spec, const build_thing *things, steading_error *error,
                     const char *format, ...) __attribute__((format(printf, 4, 5)));

/* A site whose names are checked too; "@0" is the weather. */
const steading_site *build_site(steading_weather *weather, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Simulate; the options are such a text ("{ years = 2 }"). Fails the test when the run fails. */
steading_run *build_run(const steading_site *site, const char *options);

/* A weather of one year at 35 N without sun, at 20 C. */
steading_weather *build_dark_weather(void);

/* A sum over all months of a run. */
steading_month build_total(const steading_run *run);

#endif
