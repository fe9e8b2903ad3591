#include "plant/store.h"

#include <math.h>

double steading_store_charge(const steading_store *s) {
  double capacity_kwh = s->cells.pool.capacity_kwh;
  return capacity_kwh > 0 ? s->charge.stored_kwh / capacity_kwh : 0;
}

steading_stored steading_store_step(steading_store *s, double kw, double hours) {
  const steading_cells *cells = &s->cells;
  double before = s->charge.stored_kwh;
  steading_stored answer;
  if (cells->has_tanks && cells->step.hours != hours)
    s->cells.step = steading_two_tank_step_of(&cells->tanks, hours);
  steading_cells_standby(cells, &s->charge, hours);
  if (kw > 0) {
    answer.accepted_kw =
        steading_cells_accept_kw(cells, &s->charge, kw, (double)INFINITY, s->shares.charge, hours);
    steading_cells_charge(cells, &s->charge, answer.accepted_kw, hours);
  } else {
    double out =
        steading_cells_give_kw(cells, &s->charge, -kw, (double)INFINITY, s->shares.usable, hours);
    steading_cells_discharge(cells, &s->charge, out, hours);
    answer.accepted_kw = out > 0 ? -out : 0;
  }
  answer.loss_kw = fmax(0, answer.accepted_kw - (s->charge.stored_kwh - before) / hours);
  answer.state_of_charge = steading_store_charge(s);
  return answer;
}
