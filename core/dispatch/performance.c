#include "dispatch/performance.h"

#include <math.h>

static double over(double part, double whole) { return whole > 0 ? part / whole : (double)NAN; }

steading_performance steading_performance_of(const steading_performance_sums *s) {
  steading_performance p = {
      .reference_yield_h = over(s->nominal_kwh, s->kw),
      .array_yield_h = over(s->array_kwh, s->kw),
      .final_yield_h = over(s->ac_kwh, s->kw),
      .performance_ratio = over(s->ac_kwh, s->nominal_kwh),
      .temperature_corrected_performance_ratio = over(s->ac_kwh, s->corrected_nominal_kwh),
      .capacity_factor = over(s->ac_kwh, s->kw * s->hours)};
  p.capture_loss_h = p.reference_yield_h - p.array_yield_h;
  p.system_loss_h = p.array_yield_h - p.final_yield_h;
  return p;
}
