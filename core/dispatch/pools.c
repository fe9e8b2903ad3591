#include "dispatch/pools.h"

#include <math.h>

/* A rest of power that is nothing but rounding. */
static const double rounding = 1e-12;

double steading_pools_standby(const steading_pools *p) {
  double drawn = 0;
  for (size_t k = 0; k < p->count; k++)
    drawn += steading_cells_standby(&p->cells[k], &p->charges[k], p->hours);
  return drawn;
}

double steading_pools_stored_kwh(const steading_pools *p) {
  double stored = 0;
  for (size_t k = 0; k < p->count; k++) stored += p->charges[k].stored_kwh;
  return stored;
}

double steading_pools_accept_kw(const steading_pools *p, double offered_kw, double room_kwh,
                                bool warm) {
  double left = offered_kw, room = room_kwh, taken = 0;
  for (size_t k = 0; k < p->count && left > 0; k++) {
    double kw = steading_cells_accept_kw(&p->cells[k], &p->charges[k], left, room,
                                         warm ? 1 : p->shares[k].charge, p->hours);
    if (kw > 0) room -= steading_cells_gain_kwh(&p->cells[k], &p->charges[k], kw, p->hours);
    room = fmax(room, 0);
    left = fmax(left - kw, 0);
    taken += kw;
  }
  return fmin(taken, offered_kw);
}

double steading_pools_give_kw(const steading_pools *p, double wanted_kw, double most_kwh) {
  double left = wanted_kw, most = fmax(most_kwh, 0), given = 0;
  for (size_t k = 0; k < p->count && left > 0; k++) {
    double kw = steading_cells_give_kw(&p->cells[k], &p->charges[k], left, most,
                                       p->shares[k].usable, p->hours);
    if (kw > 0) most -= steading_cells_fall_kwh(&p->cells[k], kw, p->hours);
    most = fmax(most, 0);
    left = fmax(left - kw, 0);
    given += kw;
  }
  return fmin(given, wanted_kw);
}

double steading_pools_move(const steading_pools *p, double in_kw, double out_kw,
                           steading_pool_flow *flows) {
  double in_left = in_kw, out_left = out_kw, lost = 0;
  for (size_t k = 0; k < p->count; k++) {
    const steading_cells *cells = &p->cells[k];
    steading_charge *charge = &p->charges[k];
    steading_pool_flow *f = &flows[k];
    *f = (steading_pool_flow){.in = 0};
    if (out_kw > 0) {
      f->out = steading_cells_give_kw(cells, charge, out_left, (double)INFINITY,
                                      p->shares[k].usable, p->hours);
      if (out_left - f->out <= rounding * out_kw) f->out = out_left;
      out_left -= f->out;
      f->loss = steading_cells_discharge(cells, charge, f->out, p->hours) / p->hours - f->out;
    } else {
      /* a mean that was accepted is one: offered as a constant power, a taper would cut it again */
      f->in =
          fmin(in_left, steading_cells_accept_kw(cells, charge, in_kw + cells->pool.charge_kw,
                                                 (double)INFINITY, p->shares[k].charge, p->hours));
      if (in_left - f->in <= rounding * in_kw) f->in = in_left;
      in_left -= f->in;
      f->loss = f->in - steading_cells_charge(cells, charge, f->in, p->hours) / p->hours;
    }
    f->loss = fmax(f->loss, 0);
    f->stored_kwh = charge->stored_kwh;
    lost += f->loss;
  }
  return lost;
}
