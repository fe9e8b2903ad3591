/* Strings of modules on one MPPT input: which voltage the input picks, and what they then give.
 *
 * A group is in_parallel equal strings of in_series equal modules in the same light. Groups on one
 * input share its voltage, even where their modules, numbers or planes differ; what each would give
 * more alone is the cost of mixing them.
 *
 * The voltage that gives most power is found for certain, not looked for: the current of a
 * one-diode curve falls with voltage and is concave (dI/dV = I' / (1 - series I'), and I' falls
 * with the junction's voltage), so the sum of any groups is, and P = V I has the second derivative
 * 2 I' + V I'' < 0 wherever V >= 0: one maximum. That holds because a string above its own
 * open-circuit voltage takes current here, as it does without a blocking diode in it (where its
 * fuses and its modules' stated reverse current must allow for that). Modules of one string are in
 * equal light: bypass diodes are not modelled.
 *
 * The limits keep the proof: a concave function's best point in an interval is its maximum, moved
 * to the nearer end. */
#ifndef STEADING_PLANT_STRINGS_H
#define STEADING_PLANT_STRINGS_H

#include <stddef.h>

#include "plant/one_diode.h"
#include "site/limits.h"

typedef struct steading_string_group {
  steading_diode_curve curve; /* of one module, in its light at its temperature */
  double in_series;           /* >= 1 */
  double in_parallel;         /* >= 0 */
} steading_string_group;

typedef struct steading_mppt_input {
  double lowest_v, highest_v; /* the window in which it works; 0..HUGE_VAL: none */
  double most_a;              /* HUGE_VAL: no limit */
  double most_w;              /* HUGE_VAL: no limit */
} steading_mppt_input;

/* What held the input back. A voltage at an end of the window is WINDOW even where the current
 * pushed it there; POWER stands before both. */
typedef enum steading_input_limit {
  STEADING_INPUT_FREE,
  STEADING_INPUT_OFF, /* it cannot work: the open voltage is below the window, or at the top of
                         the window the current is above most_a */
  STEADING_INPUT_CURRENT,
  STEADING_INPUT_WINDOW,
  STEADING_INPUT_POWER /* more than most_w was there */
} steading_input_limit;

typedef struct steading_input_point {
  double volts, amps; /* where it works; with POWER the point before the cut: to give less, the
                         input goes to a higher voltage, which is not worked out */
  double watts;       /* what it takes in */
  double together_w;  /* most at a common voltage without window and limits */
  double apart_w;     /* sum over the groups, each at its own voltage: >= together_w */
  steading_input_limit limit;
} steading_input_point;

/* The point at which `count` groups (at most STEADING_GROUPS_MOST) work on an input; all 0 in the
 * dark. Power to about 1e-12 of itself. Groups whose own voltages are the same to the bit share
 * them: equal strings give exactly what their number says. */
enum { STEADING_GROUPS_MOST = STEADING_MOST_STRING_GROUPS };
void steading_strings_on_input(const steading_string_group *groups, size_t count,
                               const steading_mppt_input *input, steading_input_point *point);

/* Current of the groups together at a voltage, A; negative above their common open circuit. */
double steading_strings_current_a(const steading_string_group *groups, size_t count, double volts);

/* Highest open-circuit voltage of a string: on its coldest morning in full light, before the input
 * loads it. Against most_v of the input and of the modules. `w_per_m2` is commonly 1000. */
double steading_string_open_v(const steading_diode_module *module, double in_series,
                              double w_per_m2, double coldest_c);

/* The most modules in series whose open-circuit voltage at that light and temperature stays at or
 * below most_v; 0 where not even one does. */
int steading_string_most_in_series(const steading_diode_module *module, double most_v,
                                   double w_per_m2, double coldest_c);

/* The fewest modules in series whose voltage at the maximum power point, at that light and the
 * hottest cell temperature, stays at or above lowest_v. */
int steading_string_fewest_in_series(const steading_diode_module *module, double lowest_v,
                                     double w_per_m2, double hottest_c);

#endif
