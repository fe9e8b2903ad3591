/* A function of the script that a site holds, without knowing what it is written in.
 *
 * Whoever reads the script makes one and says how it is called and what becomes of it once nobody
 * owns it any more; records of a site own it as they own a weather. */
#ifndef STEADING_SITE_FUNCTION_H
#define STEADING_SITE_FUNCTION_H

#include <stddef.h>

#include "status.h"

struct steading_decide_step;
struct steading_decision;

typedef struct steading_function {
  size_t references;
  size_t number; /* no two have the same */
  /* Decide on a step, see dispatch/decide.h. The text of an error says where and what. */
  steading_status (*decide)(struct steading_function *function,
                            const struct steading_decide_step *step,
                            struct steading_decision *decision, steading_error *error);
  void (*gone)(struct steading_function *function); /* nobody owns it */
} steading_function;

/* One owner more; one owner fewer. NULL is allowed. */
static inline steading_function *steading_function_keep(steading_function *function) {
  if (function != NULL) function->references++;
  return function;
}

static inline void steading_function_release(steading_function *function) {
  if (function != NULL && --function->references == 0) function->gone(function);
}

#endif
