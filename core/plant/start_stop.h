/* When a generator starts and stops, step by step.
 *
 * It starts when the charge is at or below `start_below_kwh`, and when load would otherwise be left
 * unserved, if that is asked for; it stops when the charge has reached `stop_above_kwh` or, where
 * there is no such charge, when the load is served without it. A run lasts at least `least_h`, a
 * rest `least_rest_h`. Quiet hours, a grid that is up and the hours of a day come before all of
 * these: they end a run that has not lasted its least hours. An exercise run is a run of its own
 * at its time: neither a rest nor a grid that is up puts it off, quiet hours and the hours of the
 * day do.
 *
 * The step is asked first (steading_start_stop_ask): off, on, or on if load would be unserved
 * without it, which is for who runs the step to find out. Then it is told how it went
 * (steading_start_stop_tell). */
#ifndef STEADING_PLANT_START_STOP_H
#define STEADING_PLANT_START_STOP_H

#include <stdbool.h>

typedef struct steading_start_stop_rule {
  double start_below_kwh; /* negative: the charge never starts it */
  double stop_above_kwh;  /* negative: the charge does not count */
  bool if_unserved;
  double least_h, least_rest_h; /* >= 0 */
  double most_h_per_day;        /* above 0; INFINITY: no limit */
} steading_start_stop_rule;

/* All that changes; may be copied. */
typedef struct steading_start_stop_state {
  double on;        /* 1: it runs, and not for exercise alone */
  double exercises; /* 1: it runs for exercise, to the end of the last step */
  double run_h;     /* of this run so far */
  double rest_h;    /* since the last run */
  double today_h;   /* hours of running since 00:00 */
} steading_start_stop_state;

/* Never ran: it has rested for as long as any rule asks. */
steading_start_stop_state steading_start_stop_begin(void);

/* A new day. */
void steading_start_stop_morning(steading_start_stop_state *state);

/* Why it is not free to run. X(name, meaning) */
#define STEADING_START_STOP_WHY_LIST(X)            \
  X(free, "it is")                                 \
  X(grid, "the grid is up")                        \
  X(quiet, "quiet hours")                          \
  X(hours, "it has run its most hours of the day") \
  X(rest, "it has to rest")                        \
  X(waits, "it waits for a lower charge")

typedef enum steading_start_stop_why {
#define STEADING_START_STOP_WHY_MEMBER(name, doc) STEADING_START_STOP_##name,
  STEADING_START_STOP_WHY_LIST(STEADING_START_STOP_WHY_MEMBER)
#undef STEADING_START_STOP_WHY_MEMBER
} steading_start_stop_why;

/* What is known before a step. Shares are of the step, 0..1. */
typedef struct steading_start_stop_step {
  double step_h;
  double stored_kwh;
  double quiet_share;
  double exercise_share;
  bool grid_holds; /* the grid is up, and it is to run only without */
} steading_start_stop_step;

typedef enum steading_generator_run {
  STEADING_GENERATOR_OFF,
  STEADING_GENERATOR_ON,
  STEADING_GENERATOR_ASKS /* it runs if load would be left unserved */
} steading_generator_run;

typedef struct steading_start_stop_verdict {
  steading_generator_run runs;
  double share;          /* most of the step in which it may run */
  double exercise_share; /* runs so long for exercise where it does not run anyway */
  steading_start_stop_why why;
} steading_start_stop_verdict;

steading_start_stop_verdict steading_start_stop_ask(const steading_start_stop_rule *rule,
                                                    const steading_start_stop_state *state,
                                                    const steading_start_stop_step *step);

/* Change a verdict to what somebody else wants, within what the rule protects: a run that is wanted
 * waits for a rest, for quiet hours, for the hours of the day and for a grid that is up; a run that
 * is not wanted lasts its least hours. Without a wish the verdict stays. */
void steading_start_stop_order(const steading_start_stop_rule *rule,
                               const steading_start_stop_state *state, bool to_run, bool to_rest,
                               steading_start_stop_verdict *verdict);

/* How a step went: it ran for `ran_share` of it (0: not at all), for exercise alone or not;
 * `ended`: the run ended within the step, for want of fuel. Returns 1 when it started. */
double steading_start_stop_tell(const steading_start_stop_rule *rule,
                                steading_start_stop_state *state, double step_h, double ran_share,
                                bool exercise, bool ended);

#endif
