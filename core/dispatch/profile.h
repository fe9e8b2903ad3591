/* Means of a run by hour, weekday, month and year of civil time. */
#ifndef STEADING_DISPATCH_PROFILE_H
#define STEADING_DISPATCH_PROFILE_H

#include "dispatch/step_columns.h"
#include "site/fields.h"

/* Parts of civil time, in the order of the words of ask_profile.by, the order of keys. */
typedef enum steading_profile_part {
  STEADING_PROFILE_YEAR,    /* calendar year */
  STEADING_PROFILE_MONTH,   /* 1..12 */
  STEADING_PROFILE_WEEKDAY, /* 1 Monday .. 7 Sunday, as ISO 8601 numbers them */
  STEADING_PROFILE_HOUR,    /* 0..23, in which a step begins */
  STEADING_PROFILE_PARTS
} steading_profile_part;

/* Groups in order of their keys: the last part counts fastest; those without a step are there
 * too. */
typedef struct steading_profile {
  double step_h;
  int first_year;
  unsigned by;                          /* a bit for each part */
  size_t sizes[STEADING_PROFILE_PARTS]; /* how many of each; 1 where `by` lacks it */
  size_t group_count, column_count;
  const steading_step_column **columns;
  size_t *steps;   /* [group_count] */
  size_t *counted; /* [group_count][column_count] steps in which the column has an answer */
  double *sums;    /* [group_count][column_count] over those */
} steading_profile;

/* Repeat a run and group its steps. A step whose civil month lies before or after the run belongs
 * to its first or last month, as in bills. BAD_INPUT for a column that is unknown or stands
 * twice. */
steading_status steading_run_profile(const steading_run *run, const steading_ask_profile *ask,
                                     steading_profile *profile, steading_error *error);

/* The key of a group: a year, a month, a weekday or an hour. */
int steading_profile_key(const steading_profile *profile, size_t group, steading_profile_part part);

/* The mean of a column in a group: of kWh and litres those of an hour, of a share the share. NaN
 * where no step has an answer. */
double steading_profile_mean(const steading_profile *profile, size_t group, size_t column);

void steading_profile_free(steading_profile *profile);

#endif
