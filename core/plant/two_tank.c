#include "plant/two_tank.h"

#include <math.h>

/* x - 1 + e^-x, which for a small x is the difference of nearly equal numbers. */
static double lag_of(double x) {
  double term = x * x / 2, sum = term;
  if (x > 0.5) return x + expm1(-x);
  for (int n = 3; n < 24; n++) {
    term *= -x / n;
    sum += term;
  }
  return sum;
}

steading_two_tank_step steading_two_tank_step_of(const steading_two_tank *battery, double hours) {
  double x = battery->per_h * hours;
  steading_two_tank_step step = {
      .hours = hours, .left = exp(-x), .moved = -expm1(-x), .lag = lag_of(x)};
  step.per_limit = 1 / (step.moved + battery->available_share * step.lag);
  return step;
}

steading_tanks steading_two_tank_rested(const steading_two_tank *battery, double share) {
  double kwh = share * battery->most_kwh;
  double available = battery->available_share * kwh;
  return (steading_tanks){.available_kwh = available, .bound_kwh = kwh - available};
}

/* k q1 e^-kt + q0 k c (1 - e^-kt) */
static double settled(const steading_two_tank *battery, const steading_two_tank_step *step,
                      const steading_tanks *tanks) {
  double total = tanks->available_kwh + tanks->bound_kwh;
  return battery->per_h *
         (tanks->available_kwh * step->left + total * battery->available_share * step->moved);
}

double steading_two_tank_out_most_kw(const steading_two_tank *battery,
                                     const steading_two_tank_step *step,
                                     const steading_tanks *tanks) {
  return fmax(0, settled(battery, step, tanks) * step->per_limit);
}

double steading_two_tank_in_most_kw(const steading_two_tank *battery,
                                    const steading_two_tank_step *step,
                                    const steading_tanks *tanks) {
  double full = battery->per_h * battery->available_share * battery->most_kwh;
  return fmax(0, (full - settled(battery, step, tanks)) * step->per_limit);
}

double steading_two_tank_move(const steading_two_tank *battery, const steading_two_tank_step *step,
                              double out_kw, steading_tanks *tanks) {
  double out_most = steading_two_tank_out_most_kw(battery, step, tanks);
  double in_most = steading_two_tank_in_most_kw(battery, step, tanks);
  double c = battery->available_share, k = battery->per_h, full = c * battery->most_kwh;
  double before = tanks->available_kwh + tanks->bound_kwh;
  double out = fmin(fmax(out_kw, -in_most), out_most);
  double total = before - out * step->hours;
  double available = 0;
  if (out >= out_most && out > 0) {
    available = 0;
  } else if (-out >= in_most && out < 0) {
    available = full;
  } else {
    available = tanks->available_kwh * step->left + (before * k * c - out) * step->moved / k -
                out * c * step->lag / k;
    available = fmin(fmax(available, 0), full);
  }
  available = fmin(available, fmax(total, 0)); /* rounding of an empty battery */
  tanks->available_kwh = available;
  tanks->bound_kwh = fmax(total - available, 0);
  return out;
}

double steading_two_tank_capacity_kwh(const steading_two_tank *battery, double hours) {
  steading_two_tank_step step = steading_two_tank_step_of(battery, hours);
  return battery->most_kwh * battery->per_h * battery->available_share * hours * step.per_limit;
}

/* --- from a data sheet ---------------------------------------------------------------------------
 */

/* (1 - e^-x) / x: 1 at 0, falling. */
static double settling(double x) { return -expm1(-x) / x; }

/* (a1 - a2) / (a2 - a3) of three rates, or a1 / a2 of two: both rise with k. */
static double shape(const steading_capacity_at *r, size_t count, double k) {
  double a1 = settling(k * r[0].hours), a2 = settling(k * r[1].hours);
  return count == 2 ? a1 / a2 : (a1 - a2) / (a2 - settling(k * r[2].hours));
}

steading_status steading_two_tank_fit(const steading_capacity_at *rates, size_t count,
                                      double most_kwh, const char *path, steading_two_tank *battery,
                                      steading_error *error) {
  steading_capacity_at r[3] = {{0, 0}};
  double wanted = 0, low = 0, high = 0, per_most = 1 / most_kwh, rise = 0, k = 0;
  if (count < 2 || count > 3 || (count == 2 && !(most_kwh > 0)))
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%zu rates, expected three, or two and the battery's kwh", count);
  for (size_t i = 0; i < count; i++) { /* by hours */
    size_t at = i;
    for (; at > 0 && r[at - 1].hours > rates[i].hours; at--) r[at] = r[at - 1];
    r[at] = rates[i];
  }
  for (size_t i = 0; i + 1 < count; i++)
    if (!(r[i].hours < r[i + 1].hours && r[i].kwh < r[i + 1].kwh))
      return steading_fail(error, STEADING_BAD_INPUT, path,
                           "%.12g kWh in %.12g h and %.12g kWh in %.12g h: expected more in more "
                           "hours",
                           r[i].kwh, r[i].hours, r[i + 1].kwh, r[i + 1].hours);
  if (count == 2 && !(r[1].kwh < most_kwh))
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%.12g kWh in %.12g h: expected less than the battery's %.12g kWh",
                         r[1].kwh, r[1].hours, most_kwh);
  /* both ends are limits that no k reaches: that of very slow and of very fast tanks */
  low = 1e-3 / r[count - 1].hours;
  high = 700 / r[0].hours;
  wanted = count == 2 ? (1 / r[0].kwh - per_most) / (1 / r[1].kwh - per_most)
                      : (1 / r[0].kwh - 1 / r[1].kwh) / (1 / r[1].kwh - 1 / r[2].kwh);
  if (!(wanted > shape(r, count, low)) || !(wanted < shape(r, count, high)))
    return steading_fail(
        error, STEADING_BAD_INPUT, path, "no battery of two tanks has these capacities: %s",
        count == 2 ? "they differ too much" : "they grow too unevenly with the hours");
  for (int i = 0; i < 200; i++) {
    k = sqrt(low * high);
    if (shape(r, count, k) < wanted)
      low = k;
    else
      high = k;
  }
  rise = count == 2 ? (1 / r[0].kwh - per_most) / settling(k * r[0].hours)
                    : (1 / r[0].kwh - 1 / r[1].kwh) /
                          (settling(k * r[0].hours) - settling(k * r[1].hours));
  if (count == 3) per_most = 1 / r[2].kwh - rise * settling(k * r[2].hours);
  if (!(per_most > 0))
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "no battery of two tanks has these capacities: they grow too much");
  *battery = (steading_two_tank){.most_kwh = count == 2 ? most_kwh : 1 / per_most,
                                 .available_share = per_most / (per_most + rise),
                                 .per_h = k};
  return STEADING_OK;
}

/* --- gassing -------------------------------------------------------------------------------------
 */

/* Between `above` and full ds/dE = (1 - g (s - a) / (1 - a)) / q_max, a line in s: what is stored
 * comes closer to its end, q_max (1 - a) / g above `above`, as an exponential. */
static double reach_kwh(const steading_gassing *g, double most_kwh) {
  return most_kwh * (1 - g->above) / g->at_full;
}

double steading_gassing_stored_kwh(const steading_gassing *g, double most_kwh, double held_kwh,
                                   double offered_kwh) {
  double below = fmax(g->above * most_kwh - held_kwh, 0), over = 0, reach = 0;
  if (!(g->at_full > 0) || offered_kwh <= below) return offered_kwh;
  over = fmax(held_kwh - g->above * most_kwh, 0);
  reach = reach_kwh(g, most_kwh);
  return below + (reach - over) * -expm1(-(offered_kwh - below) / reach);
}

double steading_gassing_offered_kwh(const steading_gassing *g, double most_kwh, double held_kwh,
                                    double stored_kwh) {
  double below = fmax(g->above * most_kwh - held_kwh, 0), over = 0, reach = 0;
  if (!(g->at_full > 0) || stored_kwh <= below) return stored_kwh;
  over = fmax(held_kwh - g->above * most_kwh, 0);
  reach = reach_kwh(g, most_kwh);
  if (!(stored_kwh - below < reach - over)) return (double)INFINITY;
  return below - reach * log1p(-(stored_kwh - below) / (reach - over));
}
