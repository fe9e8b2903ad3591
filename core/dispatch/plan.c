#include "dispatch/plan.h"

#include <stdlib.h>

void steading_meter_plan_free(steading_meter_plan *plan) {
  if (plan == NULL) return;
  free(plan->own); /* `before` lies in the same block */
  plan->own = NULL;
  plan->before = NULL;
}
