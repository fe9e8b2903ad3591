/* Decisions of a script, step by step, in place of a hub's rules.
 *
 * Before each step the function of a hub is told what is known and answers what is to be in force;
 * what it leaves open stays with the hub's rules. Only the parameters of the step are changed, so
 * that the accounting is the kernel's own and nothing that an answer says goes beyond what units,
 * battery, meter and generator can do:
 *
 *   battery_floor         charge share; within what the battery lets be used, not below the month's
 *                         reserve with the grid up, nor below the floor of an outage without
 *   discharge_kw          most that the battery gives, with the grid up; 0: it serves no loads
 *   charge_from_grid_kw   most AC power that the unit charges with, with the grid up; 0: none
 *   charge_to             charge share up to which it does
 *   generator             off, on, or as its rules say; quiet hours, rests, the least and the most
 *                         hours and the grid's being up hold all the same
 *   shed                  classes of load that are not served in a step without grid
 *
 * Nothing is drawn, and nothing is remembered here: a repeated run asks again. Who asks in another
 * order than that of time can keep some questions and ask them once more: an answer that differs
 * then does not depend on its question alone. */
#ifndef STEADING_DISPATCH_DECIDE_H
#define STEADING_DISPATCH_DECIDE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "dispatch/generators.h"
#include "dispatch/kernel.h"
#include "dispatch/program.h"
#include "status.h"

/* What is known before a step: numbers, X(name, whole or real). Times are civil but for `step` and
 * `generator_hours_today`. */
#define STEADING_DECIDE_STEP_LIST(X)                                                          \
  X(step, whole) /* of the run, from 1 */                                                     \
  X(year, whole)                                                                              \
  X(month, whole)          /* 1..12 */                                                        \
  X(day, whole)            /* of the month */                                                 \
  X(weekday, whole)        /* 1 Monday .. 7 Sunday */                                         \
  X(hour, real)            /* at its beginning, 0 to below 24 */                              \
  X(step_hours, real)      /* its length */                                                   \
  X(state_of_charge, real) /* share of the capacity there is; 0 without a battery */          \
  X(stored_kwh, real)                                                                         \
  X(capacity_kwh, real)                                                                       \
  X(pv_kw, real)                 /* DC power of the arrays in the step, before any limit */   \
  X(load_kw, real)               /* what buildings of the hub want in it, without pumps */    \
  X(sun_next_24h_kwh, real)      /* DC energy of the arrays in 24 h from its beginning, as it \
                                    will be */                                                \
  X(generator_hours_today, real) /* since 00:00 standard time */

typedef struct steading_decide_step {
  const char *hub;
#define STEADING_DECIDE_MEMBER(name, how) double name;
  STEADING_DECIDE_STEP_LIST(STEADING_DECIDE_MEMBER)
#undef STEADING_DECIDE_MEMBER
  bool grid_up;      /* of a hub with a meter */
  bool generator_on; /* it ran, and not for exercise, to the end of the step before */
  size_t tank_count;
  const char *tank_names[STEADING_MOST_TANKS];
  double tank_shares[STEADING_MOST_TANKS];
} steading_decide_step;

/* What it answers; NaN, AUTO and false are left to the rules. */
typedef struct steading_decision {
  double battery_floor;       /* share, 0..1 */
  double discharge_kw;        /* 0..; INFINITY: what the battery can */
  double charge_from_grid_kw; /* 0.. */
  double charge_to;           /* share, 0..1 */
  int generator;              /* steading_generator_order */
  bool says_shed, shed[STEADING_SHED_CLASSES];
} steading_decision;

/* Whether any hub of a program has a function that decides. */
bool steading_decides(const steading_program *program);

/* Questions that are kept with their answers: one of `every`, spread over all that were asked. */
enum { STEADING_MOST_QUESTIONS = 256 };
typedef struct steading_decide_question {
  size_t hub;
  steading_decide_step step;
  steading_decision decision;
} steading_decide_question;
typedef struct steading_decide_questions {
  size_t asked, every, count; /* all 0 at first */
  steading_decide_question kept[STEADING_MOST_QUESTIONS];
} steading_decide_questions;

/* What the decisions of a step rest on, beside what the arguments say. */
typedef struct steading_decide_at {
  const steading_program *program;
  int64_t day; /* of the section */
  uint16_t down;
  size_t run_step; /* from 0 */
  int year, month; /* standard time, month 1..12 */
  const steading_civil_step *civil;
  const double *capacity_kwh;              /* [hubs] */
  const double *pv_kw, *load_kw, *sun_kwh; /* of the step: those of hubs lie `stride` apart */
  size_t stride;
  const steading_state *state;
  const steading_generators_state *sets;
  size_t outage_step; /* of the run, from 1: the outage began there that is followed; 0: none is */
  steading_decide_questions *questions; /* to be kept; NULL: none is */
} steading_decide_at;

/* Ask each hub that decides, and change the parameters of the step and the orders to generators
 * [hubs]. `stretch` is that of the step by the rules, grids that are down being down in it. An
 * error of the function, or an answer to a hub that has nothing to carry it out: BAD_INPUT with the
 * path of the function and the step. */
steading_status steading_decide(const steading_decide_at *at, steading_stretch *stretch,
                                int8_t *orders, steading_error *error);

/* Ask all that is kept once more, the last first. BAD_INPUT with path and step where an answer is
 * not the same. */
steading_status steading_decide_again(const steading_program *program,
                                      const steading_decide_questions *questions,
                                      steading_error *error);

#endif
