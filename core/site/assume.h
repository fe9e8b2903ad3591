/* What a result rests on: every value of a site, and whether the script gave it. */
#ifndef STEADING_SITE_ASSUME_H
#define STEADING_SITE_ASSUME_H

#include <stdbool.h>

#include "site/fields.h"
#include "status.h"

typedef struct steading_assumption {
  const char *path;   /* "hubs.barn.rules.battery_floor" */
  const char *value;  /* numbers with 12 digits, twelve or more of them with blanks between; words;
                         "none" for a limit that is not there and for
                         an empty list; "false" for what is switched off */
  const char *unit;   /* of the field; "" without one */
  bool given;         /* by the script; else it is the default */
  const char *source; /* of a default, from the field's description; "" where it names none */
} steading_assumption;

typedef steading_status (*steading_assumption_visit)(void *context,
                                                     const steading_assumption *assumption);

/* Every number, choice, flag, date, window, shape and list of numbers of a site that has a value,
 * in the order of the field tables and, in maps, of names. Texts, names and whole series are no
 * assumptions; nor is a field without a default that the script left out. The texts last as long as
 * the visit. Stops at the first visit that does not return OK, with its status. */
steading_status steading_site_assumptions(const steading_site *site,
                                          steading_assumption_visit visit, void *context);

#endif
