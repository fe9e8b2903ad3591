#include "plant/cells.h"

#include <math.h>
#include <stdio.h>

/* --- what a module is ----------------------------------------------------------------------------
 */

bool steading_module_is_special(const steading_battery_module *m) {
  return m->chemistry == STEADING_CHEMISTRY_LEAD_ACID || m->resistance != NULL ||
         m->taper != NULL || m->usable_share_at_c != NULL;
}

steading_status steading_tanks_of_rates(const steading_list *list, double most_kwh,
                                        const char *path, steading_two_tank *tanks,
                                        steading_error *error) {
  steading_capacity_at rates[3];
  for (size_t i = 0; i < list->count && i < 3; i++) {
    const steading_capacity_rate *rate = (const void *)list->items[i];
    rates[i] = (steading_capacity_at){.hours = rate->hours, .kwh = rate->kwh};
  }
  return steading_two_tank_fit(rates, list->count, most_kwh, path, tanks, error);
}

static steading_status tanks_of(const steading_battery_module *m, const char *path,
                                steading_two_tank *tanks, steading_error *error) {
  char where[256];
  *tanks = (steading_two_tank){
      .most_kwh = m->kwh, .available_share = m->available_share, .per_h = m->per_h};
  if (m->rates == NULL) return STEADING_OK;
  snprintf(where, sizeof where, "%.200s.rates", path);
  return steading_tanks_of_rates(m->rates, m->rates->count == 3 ? 0 : m->kwh, where, tanks, error);
}

steading_status steading_cells_of(const steading_battery_module *m, double hours, const char *path,
                                  steading_cells *cells, steading_error *error) {
  steading_status status = STEADING_OK;
  *cells = (steading_cells){.pool = steading_pool_of_module(m, 1)};
  if (m->resistance != NULL) {
    cells->has_resistance = true;
    cells->resistance =
        (steading_resistance){.volts = m->resistance->volts, .ohm = m->resistance->ohm};
  }
  if (m->taper != NULL) {
    cells->has_taper = true;
    cells->taper = (steading_taper){.above = m->taper->above, .at_full = m->taper->at_full};
  }
  if (m->chemistry != STEADING_CHEMISTRY_LEAD_ACID) return STEADING_OK;
  cells->has_tanks = true;
  status = tanks_of(m, path, &cells->tanks, error);
  if (status != STEADING_OK) return status;
  cells->pool.capacity_kwh = cells->tanks.most_kwh;
  cells->step = steading_two_tank_step_of(&cells->tanks, hours);
  if (m->gassing != NULL)
    cells->gassing = (steading_gassing){.above = m->gassing->above, .at_full = m->gassing->at_full};
  return STEADING_OK;
}

steading_cells steading_cells_together(const steading_cells *one, double count, double capacity_kwh,
                                       double resistance) {
  steading_cells cells = *one;
  cells.pool.capacity_kwh = cells.tanks.most_kwh = capacity_kwh;
  cells.pool.charge_kw *= count;
  cells.pool.discharge_kw *= count;
  cells.pool.standby_kw *= count;
  if (resistance != 1) {
    cells.pool.efficiency_in = steading_efficiency_worn(one->pool.efficiency_in, resistance);
    cells.pool.efficiency_out = steading_efficiency_worn(one->pool.efficiency_out, resistance);
  }
  if (count > 0) cells.resistance.ohm = one->resistance.ohm * resistance / count;
  return cells;
}

steading_charge steading_cells_rested(const steading_cells *c, double share) {
  steading_charge charge = {.stored_kwh = share * c->pool.capacity_kwh};
  if (c->has_tanks) charge.available_kwh = c->tanks.available_share * charge.stored_kwh;
  return charge;
}

double steading_cells_kwh_at(const steading_cells *c, double share) {
  return fmin(fmax(share, c->pool.lowest_share), c->pool.highest_share) * c->pool.capacity_kwh;
}

double steading_cells_lowest_kwh(const steading_cells *c, double usable_share) {
  return fmax(c->pool.lowest_share, 1 - usable_share) * c->pool.capacity_kwh;
}

/* --- between terminals and cells -----------------------------------------------------------------
 */

static double into_cell_kw(const steading_cells *c, double kw) {
  return c->has_resistance ? steading_resistance_stored_kw(&c->resistance, kw)
                           : kw * c->pool.efficiency_in;
}

static double for_cell_kw(const steading_cells *c, double cell_kw) {
  return c->has_resistance ? steading_resistance_in_kw(&c->resistance, cell_kw)
                           : cell_kw / c->pool.efficiency_in;
}

static double of_cell_kw(const steading_cells *c, double kw) {
  return c->has_resistance ? steading_resistance_taken_kw(&c->resistance, kw)
                           : kw / c->pool.efficiency_out;
}

static double from_cell_kw(const steading_cells *c, double cell_kw) {
  return c->has_resistance ? steading_resistance_out_kw(&c->resistance, cell_kw)
                           : cell_kw * c->pool.efficiency_out;
}

static steading_tanks tanks_now(const steading_charge *charge) {
  return (steading_tanks){.available_kwh = charge->available_kwh,
                          .bound_kwh = fmax(charge->stored_kwh - charge->available_kwh, 0)};
}

/* --- how much ------------------------------------------------------------------------------------
 */

/* What the tanks take: at most so much that the one at the terminals is full at the end of the
 * step; near full, a part of the charge that is offered only makes gas. */
static double accept_tanks(const steading_cells *c, const steading_charge *charge, double kw,
                           double room_kwh, double hours) {
  const steading_tanks tanks = tanks_now(charge);
  double room = fmin(steading_two_tank_in_most_kw(&c->tanks, &c->step, &tanks) * hours, room_kwh);
  double offered = kw * c->pool.efficiency_in * hours;
  if (!(steading_gassing_stored_kwh(&c->gassing, c->tanks.most_kwh, charge->stored_kwh, offered) >
        room))
    return kw;
  offered = fmin(offered, steading_gassing_offered_kwh(&c->gassing, c->tanks.most_kwh,
                                                       charge->stored_kwh, room));
  return offered / c->pool.efficiency_in / hours;
}

/* The taper is one of current, hence of the cells' power. */
double steading_cells_accept_kw(const steading_cells *c, const steading_charge *charge,
                                double offered_kw, double room_kwh, double charge_share,
                                double hours) {
  double most_kw = c->pool.charge_kw * charge_share, wanted = fmin(offered_kw, most_kw);
  double room =
      fmin(fmax(c->pool.highest_share * c->pool.capacity_kwh - charge->stored_kwh, 0), room_kwh);
  double cell_kw = 0, room_kw = 0;
  bool cut = false;
  if (!(wanted > 0) || !(room > 0)) return 0;
  if (c->has_tanks) return accept_tanks(c, charge, wanted, room, hours);
  cell_kw = into_cell_kw(c, wanted);
  room_kw = room / hours;
  if (c->has_taper) {
    double mean =
        steading_taper_charge_kw(&c->taper, c->pool.capacity_kwh, into_cell_kw(c, most_kw), 1,
                                 charge->stored_kwh / c->pool.capacity_kwh, cell_kw, hours);
    cut = mean < cell_kw;
    cell_kw = fmin(mean, cell_kw);
  }
  cut = cut || cell_kw > room_kw;
  return cut ? for_cell_kw(c, fmin(cell_kw, room_kw)) : wanted;
}

double steading_cells_give_kw(const steading_cells *c, const steading_charge *charge,
                              double wanted_kw, double most_kwh, double usable_share,
                              double hours) {
  double there = fmax(charge->stored_kwh - steading_cells_lowest_kwh(c, usable_share), 0);
  double room_kw = fmin(there, fmax(most_kwh, 0)) / hours;
  double wanted = fmin(wanted_kw, c->pool.discharge_kw);
  if (c->has_resistance) wanted = fmin(wanted, steading_resistance_most_kw(&c->resistance));
  if (c->has_tanks) {
    const steading_tanks tanks = tanks_now(charge);
    room_kw = fmin(room_kw, steading_two_tank_out_most_kw(&c->tanks, &c->step, &tanks));
  }
  if (!(wanted > 0) || !(room_kw > 0)) return 0;
  return of_cell_kw(c, wanted) > room_kw ? from_cell_kw(c, room_kw) : wanted;
}

/* --- what it does --------------------------------------------------------------------------------
 */

double steading_cells_gain_kwh(const steading_cells *c, const steading_charge *charge, double kw,
                               double hours) {
  double offered = into_cell_kw(c, kw) * hours;
  if (!c->has_tanks) return offered;
  return steading_gassing_stored_kwh(&c->gassing, c->tanks.most_kwh, charge->stored_kwh, offered);
}

double steading_cells_fall_kwh(const steading_cells *c, double kw, double hours) {
  return of_cell_kw(c, kw) * hours;
}

/* Tanks, moved at a power of the cells. */
static double move_tanks(const steading_cells *c, steading_charge *charge, double out_kw,
                         double hours) {
  steading_tanks tanks = tanks_now(charge);
  double moved = steading_two_tank_move(&c->tanks, &c->step, out_kw, &tanks);
  charge->available_kwh = tanks.available_kwh;
  charge->stored_kwh = tanks.available_kwh + tanks.bound_kwh;
  return moved * hours;
}

double steading_cells_charge(const steading_cells *c, steading_charge *charge, double kw,
                             double hours) {
  double gain = steading_cells_gain_kwh(c, charge, kw, hours);
  if (c->has_tanks) return -move_tanks(c, charge, -gain / hours, hours);
  /* full to the bit, not to rounding */
  double full = fmax(c->pool.highest_share * c->pool.capacity_kwh, charge->stored_kwh);
  charge->stored_kwh = fmin(charge->stored_kwh + gain, full);
  return gain;
}

double steading_cells_discharge(const steading_cells *c, steading_charge *charge, double kw,
                                double hours) {
  double fall = steading_cells_fall_kwh(c, kw, hours);
  if (c->has_tanks) return move_tanks(c, charge, fall / hours, hours);
  charge->stored_kwh = fmax(charge->stored_kwh - fall, 0);
  return fall;
}

double steading_cells_standby(const steading_cells *c, steading_charge *charge, double hours) {
  double there = fmax(charge->stored_kwh - c->pool.lowest_share * c->pool.capacity_kwh, 0);
  double drawn = fmin(c->pool.standby_kw * hours, there);
  if (!(drawn > 0)) return 0;
  charge->available_kwh *= 1 - drawn / charge->stored_kwh;
  charge->stored_kwh -= drawn;
  return drawn;
}
