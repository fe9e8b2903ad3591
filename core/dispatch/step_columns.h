/* Columns of single steps, by name and out of a block: what everything that is asked of steps
 * shares. */
#ifndef STEADING_DISPATCH_STEP_COLUMNS_H
#define STEADING_DISPATCH_STEP_COLUMNS_H

#include "dispatch/result.h"

/* Whether amounts in a column add up over time (kWh, l); a share does not. */
bool steading_step_column_adds_up(const steading_step_column *column);

/* The column of steading_step_columns with that name. BAD_INPUT at `path`, with the nearest name or
 * all of them. */
steading_status steading_step_column_find(const char *name, const char *path,
                                          const steading_step_column **column,
                                          steading_error *error);

/* The same for a column that adds up: BAD_INPUT for a share. */
steading_status steading_step_column_find_sum(const char *name, const char *path,
                                              const steading_step_column **column,
                                              steading_error *error);

/* The same for what a step has at any moment: a share by its name, an energy as its mean power, by
 * a name that ends in _kw instead of _kwh. */
steading_status steading_step_column_find_level(const char *name, const char *path,
                                                const steading_step_column **column,
                                                steading_error *error);

/* The steps of a block, one after the other:
 *
 *   for (steading_steps_begin(run, block, &at); at.left > 0; steading_steps_next(&at))
 *     column->value(&at.step)
 *
 * `step` points into the struct, which must not be copied. */
typedef struct steading_steps {
  steading_kept_change change;
  steading_step_view step;
  size_t left; /* with this one */
} steading_steps;

void steading_steps_begin(const steading_run *run, const steading_block *block, steading_steps *at);

static inline void steading_steps_next(steading_steps *at) {
  at->step.row += at->step.run->layout.width;
  at->step.first = false;
  at->left--;
}

#endif
