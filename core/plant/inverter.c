#include "plant/inverter.h"

#include <math.h>

/* Loss over rating at a share p of the rating, from an efficiency. */
static double loss_share(double p, double efficiency) { return p * (1 / efficiency - 1); }

/* Least squares of b p + c p^2 = y at `count` points; two points are met exactly. */
static void fit_b_and_c(const double *p, const double *y, int count, double *b, double *c) {
  double pp = 0, ppp = 0, pppp = 0, py = 0, ppy = 0, determinant = 0;
  for (int i = 0; i < count; i++) {
    pp += p[i] * p[i];
    ppp += p[i] * p[i] * p[i];
    pppp += p[i] * p[i] * p[i] * p[i];
    py += p[i] * y[i];
    ppy += p[i] * p[i] * y[i];
  }
  determinant = pp * pppp - ppp * ppp;
  *b = (py * pppp - ppy * ppp) / determinant;
  *c = (pp * ppy - ppp * py) / determinant;
}

steading_status steading_inverter_curve_of(const steading_unit *unit, const char *path,
                                           steading_inverter_curve *curve, double *miss,
                                           steading_error *error) {
  const steading_efficiency *e = unit->efficiency;
  bool has_50 = steading_record_given(e, "at_50"), has_idle = steading_record_given(unit, "idle_w");
  double p[3] = {0.1, 1, 0.5};
  double loss[3] = {loss_share(0.1, e->at_10), loss_share(1, e->at_100),
                    has_50 ? loss_share(0.5, e->at_50) : 0};
  int count = has_50 ? 3 : 2;
  double idle = 0, b = 0, c = 0, lowest = 0, bottom = 0, worst = 0;
  if (has_idle) {
    double y[3] = {0};
    idle = unit->idle_w / 1000 / unit->ac_kw;
    for (int i = 0; i < count; i++) y[i] = loss[i] - idle;
    fit_b_and_c(p, y, count, &b, &c);
  } else if (has_50) { /* Newton's divided differences through (0.1, 0.5, 1) */
    double slope_low = (loss[2] - loss[0]) / 0.4, slope_high = (loss[1] - loss[2]) / 0.5;
    c = (slope_high - slope_low) / 0.9;
    b = slope_low - c * 0.6;
    idle = loss[0] - b * 0.1 - c * 0.01;
  } else {
    c = (loss[1] - loss[0]) / 0.99;
    idle = loss[0] - c * 0.01;
  }
  if (fabs(idle) < 1e-15) idle = 0; /* rounding of a curve without idle draw */
  bottom = c > 0 ? -b / (2 * c) : 0;
  lowest = fmin(idle, idle + b + c);
  if (bottom > 0 && bottom < 1) lowest = fmin(lowest, idle + b * bottom + c * bottom * bottom);
  if (lowest < -1e-12)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "the efficiencies%s give a negative loss (%.3g of the rating) somewhere "
                         "in 0..ac_kw; the curve is idle %.4g, b %.4g, c %.4g",
                         has_idle ? " and idle_w" : "", lowest, idle, b, c);
  if (!(1 + b > 0) || !(1 + b + 2 * c > 0))
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "DC power would not rise with AC power: b %.4g, c %.4g", b, c);
  *curve = (steading_inverter_curve){
      .rating_kw = unit->ac_kw, .idle_kw = idle * unit->ac_kw, .b = b, .c = c};
  for (int i = 0; i < count; i++) {
    double want = p[i] / (p[i] + loss[i]);
    worst = fmax(worst, fabs(steading_inverter_efficiency(curve, p[i] * unit->ac_kw) - want));
  }
  if (miss != NULL) *miss = worst;
  return STEADING_OK;
}

steading_inverter_curve steading_inverter_parallel(const steading_inverter_curve *curve,
                                                   double count) {
  return (steading_inverter_curve){.rating_kw = curve->rating_kw * count,
                                   .idle_kw = curve->idle_kw * count,
                                   .b = curve->b,
                                   .c = curve->c};
}

double steading_inverter_loss_kw(const steading_inverter_curve *curve, double ac_kw) {
  return curve->idle_kw + curve->b * ac_kw + curve->c * ac_kw * ac_kw / curve->rating_kw;
}

double steading_inverter_efficiency(const steading_inverter_curve *curve, double ac_kw) {
  return ac_kw / (ac_kw + steading_inverter_loss_kw(curve, ac_kw));
}

double steading_inverter_ac_kw(const steading_inverter_curve *curve, double dc_kw) {
  double rise = 1 + curve->b, c_per_rating = curve->c / curve->rating_kw;
  return 2 * dc_kw / (rise + sqrt(fmax(rise * rise + 4 * c_per_rating * dc_kw, 0)));
}
