#include "plant/taper.h"

#include <math.h>

double steading_taper_share(const steading_taper *taper, double state_of_charge) {
  double over = fmin(fmax((state_of_charge - taper->above) / (1 - taper->above), 0), 1);
  return 1 - over * (1 - taper->at_full);
}

/* Three spells: at the power that is offered while the limit is above it, along the falling limit,
 * full. Along the limit P (1 - (1 - e) (s - a) / (1 - a)) the power falls as an exponential. */
double steading_taper_charge_kw(const steading_taper *taper, double kwh, double most_kw,
                                double efficiency, double state_of_charge, double want_kw,
                                double hours) {
  double span = 1 - taper->above, fall = 1 - taper->at_full;
  double power = fmin(want_kw, most_kw * steading_taper_share(taper, state_of_charge));
  double room_kwh = fmax(1 - state_of_charge, 0) * kwh / efficiency; /* at the terminals */
  double level_kwh = 0, left_h = 0, last_kw = most_kw * taper->at_full, rate_per_h = 0, spent = 0;
  if (!(power > 0) || !(room_kwh > 0)) return 0;
  /* charge at which the limit comes down to the power */
  if (power > last_kw) {
    double meets = taper->above + span * (1 - power / most_kw) / fall;
    level_kwh = fmin(fmax(meets - state_of_charge, 0) * kwh / efficiency, room_kwh);
  } else {
    level_kwh = room_kwh;
  }
  if (power * hours <= level_kwh) return power;
  if (level_kwh >= room_kwh) return room_kwh / hours;
  left_h = hours - level_kwh / power;
  rate_per_h = most_kw * fall / span * efficiency / kwh;
  spent = log(power / last_kw) / rate_per_h; /* hours along the limit to full */
  if (left_h >= spent) return room_kwh / hours;
  return (level_kwh + power * -expm1(-rate_per_h * left_h) / rate_per_h) / hours;
}

double steading_resistance_most_kw(const steading_resistance *r) {
  return r->ohm > 0 ? r->volts * r->volts / (4 * r->ohm) / 1000 : (double)INFINITY;
}

/* I of R I^2 + V I = P and of V I - R I^2 = P, in a form that holds without resistance. */
double steading_resistance_stored_kw(const steading_resistance *r, double kw) {
  return 2 * kw / (1 + sqrt(1 + 4 * r->ohm * 1000 * kw / (r->volts * r->volts)));
}

double steading_resistance_taken_kw(const steading_resistance *r, double kw) {
  return 2 * kw / (1 + sqrt(fmax(0, 1 - 4 * r->ohm * 1000 * kw / (r->volts * r->volts))));
}

static double lost_kw(const steading_resistance *r, double cell_kw) {
  double amps = 1000 * cell_kw / r->volts;
  return r->ohm * amps * amps / 1000;
}

double steading_resistance_in_kw(const steading_resistance *r, double stored_kw) {
  return stored_kw + lost_kw(r, stored_kw);
}

double steading_resistance_out_kw(const steading_resistance *r, double taken_kw) {
  return taken_kw - lost_kw(r, taken_kw);
}
