/* Who goes short: what each class of loads of a hub or meter wanted, got and did not get, by month.
 * A sink that repeats the run: the same steps, the same numbers.
 *
 * What is shed is that of the classes that a rule named. What is unserved falls on the sheddable
 * loads first, then on deferrable, ordinary and essential ones, as far as they are not shed: a
 * convention, no source. Pumps have given way before and are of no class. */
#ifndef STEADING_DISPATCH_CLASSES_H
#define STEADING_DISPATCH_CLASSES_H

#include <stdbool.h>
#include <stddef.h>

#include "dispatch/run.h"
#include "status.h"

/* A class of a hub or meter in a month of the run (standard time), kWh;
 * load = served + shed + unserved. */
typedef struct steading_class_month {
  double load_kwh, served_kwh, shed_kwh, unserved_kwh;
} steading_class_month;

typedef struct steading_class_months {
  size_t sides; /* the site's hubs, then its meters */
  size_t month_count;
  bool *there;                  /* [sides][STEADING_CLASSES] whether it has loads of the class */
  steading_class_month *months; /* [month_count][sides][STEADING_CLASSES] */
} steading_class_months;

/* Simulate the run once more and share out its loads. NO_MEMORY, or what a run can fail with;
 * *classes is NULL then. Free with steading_class_months_free (NULL is allowed). */
steading_status steading_run_classes(const steading_run *run, steading_class_months **classes,
                                     steading_error *error);
void steading_class_months_free(steading_class_months *classes);

/* Which classes of a hub were shed in step `step` of a block: into `sheds`, 0 or 1 by class. It
 * holds what the step before had, and is read but in the first step of a block. */
void steading_classes_shed(const steading_block *block, size_t step, size_t hub,
                           double sheds[STEADING_SHED_CLASSES]);

#endif
