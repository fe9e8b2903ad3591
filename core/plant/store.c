#include "plant/store.h"

#include <math.h>

double steading_store_charge(const steading_store *s) {
  if (s->has_tanks) return (s->tanks.available_kwh + s->tanks.bound_kwh) / s->battery.most_kwh;
  return s->pool.capacity_kwh > 0 ? s->stored_kwh / s->pool.capacity_kwh : 0;
}

/* --- between terminals and cells -----------------------------------------------------------------
 */

static double into_cell_kw(const steading_store *s, double kw) {
  return s->has_resistance ? steading_resistance_stored_kw(&s->resistance, kw)
                           : kw * s->pool.efficiency_in;
}

static double for_cell_kw(const steading_store *s, double cell_kw) {
  return s->has_resistance ? steading_resistance_in_kw(&s->resistance, cell_kw)
                           : cell_kw / s->pool.efficiency_in;
}

static double of_cell_kw(const steading_store *s, double kw) {
  return s->has_resistance ? steading_resistance_taken_kw(&s->resistance, kw)
                           : kw / s->pool.efficiency_out;
}

static double from_cell_kw(const steading_store *s, double cell_kw) {
  return s->has_resistance ? steading_resistance_out_kw(&s->resistance, cell_kw)
                           : cell_kw * s->pool.efficiency_out;
}

/* --- a pool --------------------------------------------------------------------------------------
 */

static double lowest_kwh(const steading_store *s) {
  return fmax(s->pool.lowest_share, 1 - s->usable_share) * s->pool.capacity_kwh;
}

/* The taper is one of current, hence of the cells' power. */
static double charge_pool(steading_store *s, double kw, double hours) {
  double most_kw = s->pool.charge_kw * s->charge_share;
  double room_kw = fmax(s->pool.highest_share * s->pool.capacity_kwh - s->stored_kwh, 0) / hours;
  double wanted = fmin(kw, most_kw), cell_kw = into_cell_kw(s, wanted);
  bool cut = false;
  if (s->has_taper && cell_kw > 0) {
    double mean =
        steading_taper_charge_kw(&s->taper, s->pool.capacity_kwh, into_cell_kw(s, most_kw), 1,
                                 s->stored_kwh / s->pool.capacity_kwh, cell_kw, hours);
    cut = mean < cell_kw;
    cell_kw = fmin(mean, cell_kw);
  }
  cut = cut || cell_kw > room_kw;
  cell_kw = fmin(cell_kw, room_kw);
  s->stored_kwh += cell_kw * hours;
  return cut ? for_cell_kw(s, cell_kw) : wanted;
}

static double discharge_pool(steading_store *s, double kw, double hours) {
  double room_kw = fmax(s->stored_kwh - lowest_kwh(s), 0) / hours;
  double wanted = fmin(kw, s->pool.discharge_kw), cell_kw = 0;
  if (s->has_resistance) wanted = fmin(wanted, steading_resistance_most_kw(&s->resistance));
  cell_kw = of_cell_kw(s, wanted);
  if (cell_kw > room_kw) {
    cell_kw = room_kw;
    wanted = from_cell_kw(s, cell_kw);
  }
  s->stored_kwh -= cell_kw * hours;
  return wanted;
}

/* --- two tanks -----------------------------------------------------------------------------------
 */

static double total_kwh(const steading_store *s) {
  return s->tanks.available_kwh + s->tanks.bound_kwh;
}

static double charge_tanks(steading_store *s, double kw, double hours) {
  double most_kwh = s->battery.most_kwh, held = total_kwh(s);
  double offered = fmin(kw, s->pool.charge_kw) * s->pool.efficiency_in * hours;
  double room = fmin(steading_two_tank_in_most_kw(&s->battery, &s->step, &s->tanks) * hours,
                     fmax(s->pool.highest_share * most_kwh - held, 0));
  double stored = steading_gassing_stored_kwh(&s->gassing, most_kwh, held, offered);
  if (stored > room) {
    stored = room;
    offered = fmin(offered, steading_gassing_offered_kwh(&s->gassing, most_kwh, held, room));
  }
  steading_two_tank_move(&s->battery, &s->step, -stored / hours, &s->tanks);
  return offered / s->pool.efficiency_in / hours;
}

static double discharge_tanks(steading_store *s, double kw, double hours) {
  double room_kw = fmax(total_kwh(s) - s->pool.lowest_share * s->battery.most_kwh, 0) / hours;
  double cell_kw = fmin(fmin(kw, s->pool.discharge_kw) / s->pool.efficiency_out, room_kw);
  cell_kw = steading_two_tank_move(&s->battery, &s->step, cell_kw, &s->tanks);
  return cell_kw * s->pool.efficiency_out;
}

steading_stored steading_store_step(steading_store *s, double kw, double hours) {
  steading_stored answer;
  double before = s->has_tanks ? total_kwh(s) : s->stored_kwh, gained = 0;
  if (s->has_tanks) {
    if (s->step.hours != hours) s->step = steading_two_tank_step_of(&s->battery, hours);
    answer.accepted_kw = kw > 0 ? charge_tanks(s, kw, hours) : -discharge_tanks(s, -kw, hours);
    gained = total_kwh(s) - before;
  } else {
    s->stored_kwh -= fmin(s->pool.standby_kw * hours,
                          fmax(s->stored_kwh - s->pool.lowest_share * s->pool.capacity_kwh, 0));
    answer.accepted_kw = kw > 0 ? charge_pool(s, kw, hours) : -discharge_pool(s, -kw, hours);
    gained = s->stored_kwh - before;
  }
  if (answer.accepted_kw == 0) answer.accepted_kw = 0; /* never -0 */
  answer.loss_kw = fmax(0, answer.accepted_kw - gained / hours);
  answer.state_of_charge = steading_store_charge(s);
  return answer;
}
