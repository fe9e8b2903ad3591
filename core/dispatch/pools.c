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

double steading_pools_accept_kw(const steading_pools *p, double offered_kw, double up_to_share,
                                bool warm) {
  double left = offered_kw, taken = 0;
  for (size_t k = 0; k < p->count && left > 0; k++) {
    double stored = p->charges[k].stored_kwh, room = (double)INFINITY;
    if (up_to_share < 1) room = fmax(steading_cells_kwh_at(&p->cells[k], up_to_share) - stored, 0);
    double kw = steading_cells_accept_kw(&p->cells[k], &p->charges[k], left, room,
                                         warm ? 1 : p->shares[k].charge, p->hours);
    left = fmax(left - kw, 0);
    taken += kw;
  }
  return fmin(taken, offered_kw);
}

double steading_pools_give_kw(const steading_pools *p, double wanted_kw, double floor_share) {
  double left = wanted_kw, given = 0;
  for (size_t k = 0; k < p->count && left > 0; k++) {
    double floor_kwh = steading_cells_kwh_at(&p->cells[k], floor_share);
    double kw =
        steading_cells_give_kw(&p->cells[k], &p->charges[k], left,
                               p->charges[k].stored_kwh - floor_kwh, p->shares[k].usable, p->hours);
    left = fmax(left - kw, 0);
    given += kw;
  }
  return fmin(given, wanted_kw);
}

/* What each takes: in their order up to full, then of what comes of the grid up to a share. */
static void share_out(const steading_pools *p, const steading_pools_flow *f, double *in_kw) {
  double left = f->in_kw, by_share = f->up_to_share_kw;
  for (size_t k = 0; k < p->count; k++) {
    const steading_cells *cells = &p->cells[k];
    /* a mean that was accepted is one: offered as a constant power, a taper would cut it again */
    double offered = f->in_kw + f->up_to_share_kw + cells->pool.charge_kw;
    in_kw[k] = fmin(left, steading_cells_accept_kw(cells, &p->charges[k], offered, (double)INFINITY,
                                                   p->shares[k].charge, p->hours));
    if (left - in_kw[k] <= rounding * f->in_kw) in_kw[k] = left;
    left -= in_kw[k];
  }
  for (size_t k = 0; k < p->count && by_share > 0; k++) {
    const steading_cells *cells = &p->cells[k];
    double room = steading_cells_kwh_at(cells, f->up_to_share) - p->charges[k].stored_kwh;
    double offered = f->in_kw + f->up_to_share_kw + cells->pool.charge_kw;
    double most = steading_cells_accept_kw(cells, &p->charges[k], offered, fmax(room, 0),
                                           p->shares[k].charge, p->hours);
    double more = fmin(by_share, fmax(most - in_kw[k], 0));
    if (by_share - more <= rounding * f->up_to_share_kw) more = by_share;
    in_kw[k] += more;
    by_share -= more;
  }
}

double steading_pools_move(const steading_pools *p, const steading_pools_flow *f,
                           steading_pool_flow *flows) {
  double in_kw[STEADING_MOST_BATTERIES], out_left = f->out_kw, lost = 0;
  if (!(f->out_kw > 0)) share_out(p, f, in_kw);
  for (size_t k = 0; k < p->count; k++) {
    const steading_cells *cells = &p->cells[k];
    steading_charge *charge = &p->charges[k];
    steading_pool_flow *flow = &flows[k];
    *flow = (steading_pool_flow){.in = 0};
    if (f->out_kw > 0) {
      double floor_kwh = steading_cells_kwh_at(cells, f->floor_share);
      flow->out = steading_cells_give_kw(cells, charge, out_left, charge->stored_kwh - floor_kwh,
                                         p->shares[k].usable, p->hours);
      if (out_left - flow->out <= rounding * f->out_kw) flow->out = out_left;
      out_left -= flow->out;
      flow->loss =
          steading_cells_discharge(cells, charge, flow->out, p->hours) / p->hours - flow->out;
    } else {
      flow->in = in_kw[k];
      flow->loss = flow->in - steading_cells_charge(cells, charge, flow->in, p->hours) / p->hours;
    }
    flow->loss = fmax(flow->loss, 0);
    flow->stored_kwh = charge->stored_kwh;
    lost += flow->loss;
  }
  return lost;
}
