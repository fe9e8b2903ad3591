#include "plant/inverter.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

/* idle, b and c over the rating. */
typedef struct parts {
  double idle, b, c;
} parts;

/* Points of a curve: shares of the rating and the loss over the rating there. */
typedef struct points {
  const double *p, *loss;
  size_t count;
} points;

/* Loss over rating at a share p of the rating, from an efficiency. */
static double loss_share(double p, double efficiency) { return p * (1 / efficiency - 1); }

/* Where in the unit something is wrong. */
static steading_status wrong(steading_error *error, const char *path, const char *field,
                             const char *format, ...) __attribute__((format(printf, 4, 5)));

static steading_status wrong(steading_error *error, const char *path, const char *field,
                             const char *format, ...) {
  char where[256], text[400];
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  snprintf(where, sizeof where, "%.180s.%.70s", path, field);
  return steading_fail(error, STEADING_BAD_INPUT, where, "%s", text);
}

/* Least squares of b p + c p^2 = loss - idle; two points are met exactly. */
static parts fit_with_idle(const points *at, double idle) {
  double pp = 0, ppp = 0, pppp = 0, py = 0, ppy = 0, determinant = 0;
  for (size_t i = 0; i < at->count; i++) {
    double p = at->p[i], y = at->loss[i] - idle;
    pp += p * p;
    ppp += p * p * p;
    pppp += p * p * p * p;
    py += p * y;
    ppy += p * p * y;
  }
  determinant = pp * pppp - ppp * ppp;
  return (parts){.idle = idle,
                 .b = (py * pppp - ppy * ppp) / determinant,
                 .c = (pp * ppy - ppp * py) / determinant};
}

/* Through two points with b = 0. */
static parts through_two(double p, double loss, double p_high, double loss_high) {
  double c = (loss_high - loss) / (p_high * p_high - p * p);
  return (parts){.idle = loss - c * p * p, .c = c};
}

/* Newton's divided differences through (0.1, 0.5, 1). */
static parts through_three(double low, double middle, double high) {
  double slope_low = (middle - low) / 0.4, slope_high = (high - middle) / 0.5;
  double c = (slope_high - slope_low) / 0.9, b = slope_low - c * 0.6;
  return (parts){.idle = low - b * 0.1 - c * 0.01, .b = b, .c = c};
}

/* Least squares of idle + b p + c p^2 = loss by polynomials that are orthogonal on the points,
 * which loses no digits where they lie close together. An idle draw below 0 is none: the least
 * squares among the curves with idle >= 0 then have idle = 0. */
static parts fit_all(const points *at) {
  double n = (double)at->count, mean = 0, lean = 0, square = 0, fourth = 0, c0 = 0, c1 = 0, c2 = 0;
  parts fit;
  for (size_t i = 0; i < at->count; i++) mean += at->p[i] / n;
  for (size_t i = 0; i < at->count; i++) {
    double d = at->p[i] - mean;
    square += d * d;
    lean += d * d * at->p[i];
    c0 += at->loss[i] / n;
    c1 += at->loss[i] * d;
  }
  lean /= square;
  c1 /= square;
  for (size_t i = 0; i < at->count; i++) {
    double d = (at->p[i] - lean) * (at->p[i] - mean) - square / n;
    fourth += d * d;
    c2 += at->loss[i] * d;
  }
  c2 /= fourth;
  fit = (parts){.idle = c0 - c1 * mean + c2 * (lean * mean - square / n),
                .b = c1 - c2 * (lean + mean),
                .c = c2};
  return fit.idle < -1e-15 ? fit_with_idle(at, 0) : fit;
}

/* A curve that an inverter may have, from its parts; `what` is the field that says them. */
static steading_status finish(const steading_unit *unit, const char *path, const char *what,
                              parts fit, steading_inverter_curve *curve, steading_error *error) {
  double bottom = 0, lowest = 0;
  if (fabs(fit.idle) < 1e-15) fit.idle = 0; /* rounding of a curve without idle draw */
  bottom = fit.c > 0 ? -fit.b / (2 * fit.c) : 0;
  lowest = fmin(fit.idle, fit.idle + fit.b + fit.c);
  if (bottom > 0 && bottom < 1)
    lowest = fmin(lowest, fit.idle + fit.b * bottom + fit.c * bottom * bottom);
  if (lowest < -1e-12)
    return wrong(
        error, path, what,
        "the %s%s give a negative loss (%.3g of the rating) somewhere in 0..ac_kw; the curve "
        "is idle %.4g, b %.4g, c %.4g",
        unit->efficiency == NULL ? "losses" : "efficiencies",
        steading_record_given(unit, "idle_w") ? " and idle_w" : "", lowest, fit.idle, fit.b, fit.c);
  if (!(1 + fit.b > 0) || !(1 + fit.b + 2 * fit.c > 0))
    return wrong(error, path, what, "DC power would not rise with AC power: b %.4g, c %.4g", fit.b,
                 fit.c);
  *curve = (steading_inverter_curve){
      .rating_kw = unit->ac_kw, .idle_kw = fit.idle * unit->ac_kw, .b = fit.b, .c = fit.c};
  return STEADING_OK;
}

static void look_for_miss(const steading_inverter_curve *curve, double volts, const points *at,
                          steading_inverter_miss *miss) {
  for (size_t i = 0; i < at->count; i++) {
    double p = at->p[i], given = p / (p + at->loss[i]);
    double off = fabs(steading_inverter_efficiency(curve, p * curve->rating_kw) - given);
    if (off > miss->share)
      *miss = (steading_inverter_miss){.share = off, .ac_share = p, .volts = volts};
  }
}

/* --- the three ways
 * -----------------------------------------------------------------------------------
 */

static steading_status from_losses(const steading_unit *unit, const char *path,
                                   steading_inverter_curves *curves, steading_error *error) {
  const steading_unit_losses *losses = unit->losses;
  double idle = steading_record_given(losses, "idle_w") ? losses->idle_w / 1000 / unit->ac_kw
                                                        : losses->idle_share;
  parts fit = {.idle = idle, .b = losses->share_of_power, .c = losses->share_at_rating};
  curves->count = 1;
  return finish(unit, path, "losses", fit, &curves->at[0], error);
}

static steading_status from_three(const steading_unit *unit, const char *path,
                                  steading_inverter_curves *curves, steading_inverter_miss *miss,
                                  steading_error *error) {
  const steading_efficiency *e = unit->efficiency;
  bool has_50 = steading_record_given(e, "at_50");
  double p[3] = {0.1, 1, 0.5};
  double loss[3] = {loss_share(0.1, e->at_10), loss_share(1, e->at_100),
                    has_50 ? loss_share(0.5, e->at_50) : 0};
  points at = {.p = p, .loss = loss, .count = has_50 ? 3 : 2};
  parts fit;
  steading_status status = STEADING_OK;
  if (steading_record_given(unit, "idle_w"))
    fit = fit_with_idle(&at, unit->idle_w / 1000 / unit->ac_kw);
  else if (has_50)
    fit = through_three(loss[0], loss[2], loss[1]);
  else
    fit = through_two(p[0], loss[0], p[1], loss[1]);
  curves->count = 1;
  status = finish(unit, path, "efficiency", fit, &curves->at[0], error);
  if (status == STEADING_OK) look_for_miss(&curves->at[0], 0, &at, miss);
  return status;
}

static double share_of(const steading_unit *unit, const steading_efficiency_point *point) {
  return steading_record_given(point, "ac_kw") ? point->ac_kw / unit->ac_kw : point->ac_share;
}

/* The voltages of the points, in rising order; their count may be more than there is room for. */
static size_t voltages_of(const steading_list *list, double *volts) {
  size_t count = 0;
  for (size_t i = 0; i < list->count; i++) {
    double v = ((const steading_efficiency_point *)(void *)list->items[i])->volts;
    size_t at = 0;
    while (at < count && volts[at] < v) at++;
    if (at < count && volts[at] == v) continue;
    if (count == STEADING_MOST_VOLTAGES) return count + 1;
    for (size_t k = count; k > at; k--) volts[k] = volts[k - 1];
    volts[at] = v;
    count++;
  }
  return count;
}

enum { MOST_POINTS = 64 }; /* at one voltage */

static steading_status points_at(const steading_unit *unit, const char *path, double volts,
                                 double p[MOST_POINTS], double loss[MOST_POINTS], size_t *count,
                                 steading_error *error) {
  const steading_list *list = unit->efficiency->points;
  for (size_t i = 0; i < list->count; i++) {
    const steading_efficiency_point *point = (const void *)list->items[i];
    double share = share_of(unit, point);
    char where[64];
    if (point->volts != volts) continue;
    snprintf(where, sizeof where, "efficiency[%zu]", i + 1);
    if (*count == MOST_POINTS)
      return wrong(error, path, where, "more than %d points at one voltage", MOST_POINTS);
    if (share > 1 + 1e-9) {
      snprintf(where, sizeof where, "efficiency[%zu].ac_kw", i + 1);
      return wrong(error, path, where, "%.12g is above the unit's ac_kw, %.12g", point->ac_kw,
                   unit->ac_kw);
    }
    for (size_t k = 0; k < *count; k++)
      if (fabs(p[k] - share) < 1e-9)
        return wrong(error, path, where, "two points at %.4g of ac_kw and the same voltage", share);
    p[*count] = share;
    loss[(*count)++] = loss_share(share, point->efficiency);
  }
  if (*count < 2 && volts > 0)
    return wrong(error, path, "efficiency",
                 "one point at %.12g V; it takes at least two, better five", volts);
  if (*count < 2)
    return wrong(error, path, "efficiency", "one point; it takes at least two, better five");
  return STEADING_OK;
}

static steading_status from_points(const steading_unit *unit, const char *path,
                                   steading_inverter_curves *curves, steading_inverter_miss *miss,
                                   steading_error *error) {
  curves->count = voltages_of(unit->efficiency->points, curves->volts);
  if (curves->count > STEADING_MOST_VOLTAGES)
    return wrong(error, path, "efficiency", "points at more than %d voltages",
                 STEADING_MOST_VOLTAGES);
  for (size_t v = 0; v < curves->count; v++) {
    double p[MOST_POINTS], loss[MOST_POINTS];
    points at = {.p = p, .loss = loss};
    parts fit;
    steading_status status = points_at(unit, path, curves->volts[v], p, loss, &at.count, error);
    if (status != STEADING_OK) return status;
    if (steading_record_given(unit, "idle_w"))
      fit = fit_with_idle(&at, unit->idle_w / 1000 / unit->ac_kw);
    else if (at.count == 2)
      fit = through_two(p[0], loss[0], p[1], loss[1]);
    else
      fit = fit_all(&at);
    status = finish(unit, path, "efficiency", fit, &curves->at[v], error);
    if (status != STEADING_OK) return status;
    look_for_miss(&curves->at[v], curves->volts[v], &at, miss);
  }
  return STEADING_OK;
}

steading_status steading_inverter_curves_of(const steading_unit *unit, const char *path,
                                            steading_inverter_curves *curves,
                                            steading_inverter_miss *miss, steading_error *error) {
  steading_inverter_miss unused;
  if (miss == NULL) miss = &unused;
  *miss = (steading_inverter_miss){.share = 0};
  *curves = (steading_inverter_curves){.count = 0};
  if (unit->losses != NULL) return from_losses(unit, path, curves, error);
  if (unit->efficiency->points != NULL) return from_points(unit, path, curves, miss, error);
  return from_three(unit, path, curves, miss, error);
}

/* --- at a voltage
 * -------------------------------------------------------------------------------------
 */

double steading_inverter_middle_v(const steading_inverter_curves *curves) {
  size_t half = curves->count / 2;
  return curves->count % 2 == 1 ? curves->volts[half]
                                : (curves->volts[half - 1] + curves->volts[half]) / 2;
}

steading_inverter_curve steading_inverter_curve_at(const steading_inverter_curves *curves,
                                                   double volts) {
  size_t i = 1;
  double weight = 0;
  steading_inverter_curve low, high;
  if (curves->count == 1 || volts <= curves->volts[0]) return curves->at[0];
  while (i + 1 < curves->count && curves->volts[i] < volts) i++;
  low = curves->at[i - 1];
  high = curves->at[i];
  if (volts >= curves->volts[i]) return high;
  /* the loss is linear in the three numbers, so that these are what is interpolated */
  weight = (volts - curves->volts[i - 1]) / (curves->volts[i] - curves->volts[i - 1]);
  return (steading_inverter_curve){.rating_kw = low.rating_kw,
                                   .idle_kw = low.idle_kw + weight * (high.idle_kw - low.idle_kw),
                                   .b = low.b + weight * (high.b - low.b),
                                   .c = low.c + weight * (high.c - low.c)};
}

steading_status steading_inverter_curve_of(const steading_unit *unit, double strings_v,
                                           const char *path, steading_inverter_curve *curve,
                                           steading_inverter_miss *miss, steading_error *error) {
  steading_inverter_curves curves;
  steading_status status = steading_inverter_curves_of(unit, path, &curves, miss, error);
  if (status != STEADING_OK) return status;
  if (steading_record_given(unit, "dc_v")) {
    double low = curves.volts[0], high = curves.volts[curves.count - 1];
    if (!(unit->dc_v >= low && unit->dc_v <= high))
      return wrong(error, path, "dc_v",
                   "%.12g is outside the voltages of efficiency, %.12g to %.12g", unit->dc_v, low,
                   high);
    *curve = steading_inverter_curve_at(&curves, unit->dc_v);
  } else {
    *curve = steading_inverter_curve_at(
        &curves, strings_v > 0 ? strings_v : steading_inverter_middle_v(&curves));
  }
  if (steading_record_given(unit, "night_w") && unit->night_w / 1000 > curve->idle_kw * (1 + 1e-9))
    return wrong(error, path, "night_w", "%.12g is above what the unit draws when it is on, %.4g W",
                 unit->night_w, curve->idle_kw * 1000);
  return STEADING_OK;
}

double steading_inverter_night_saving_kw(const steading_unit *unit,
                                         const steading_inverter_curve *curve) {
  return steading_record_given(unit, "night_w") ? fmax(curve->idle_kw - unit->night_w / 1000, 0)
                                                : 0;
}

double steading_inverter_derated_share(const steading_unit *unit, double temp_c) {
  const steading_list *list = unit->derate;
  for (size_t i = 0; list != NULL && i < list->count; i++) {
    const steading_derate_point *high = (const void *)list->items[i];
    const steading_derate_point *low = i == 0 ? NULL : (const void *)list->items[i - 1];
    if (!(temp_c < high->temp_c)) continue;
    return low == NULL ? 1
                       : low->share + (high->share - low->share) * (temp_c - low->temp_c) /
                                          (high->temp_c - low->temp_c);
  }
  return list == NULL
             ? 1
             : ((const steading_derate_point *)(void *)list->items[list->count - 1])->share;
}

/* --- one curve
 * ----------------------------------------------------------------------------------------
 */

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

/* --- inverters that follow a grid
 * -------------------------------------------------------------------------------------
 */

steading_status steading_inverter_own_curve_of(const steading_own_inverter *own, const char *path,
                                               steading_inverter_curve *curve,
                                               steading_error *error) {
  steading_inverter_curves curves;
  steading_status status = STEADING_OK;
  *curve = (steading_inverter_curve){.rating_kw = 1, .b = 1 / STEADING_OWN_INVERTER_EFFICIENCY - 1};
  if (own == NULL || own->efficiency == NULL) return STEADING_OK;
  const steading_unit unit = {
      .head = {.spec = &steading_unit_spec},
      .ac_kw = steading_record_given(own, "ac_kw") ? own->ac_kw : 1,
      .efficiency = own->efficiency,
  };
  status = steading_inverter_curves_of(&unit, path, &curves, NULL, error);
  if (status == STEADING_OK) *curve = steading_inverter_parallel(&curves.at[0], 1 / unit.ac_kw);
  curve->rating_kw = 1;
  return status;
}

steading_inverter_made steading_inverter_follow(const steading_inverter_curve *curve,
                                                double limit_kw, double dc_kw) {
  double full_dc = curve->rating_kw + steading_inverter_loss_kw(curve, curve->rating_kw);
  steading_inverter_made made = {.dc_kw = dc_kw};
  if (!(dc_kw > curve->idle_kw)) return (steading_inverter_made){.ac_kw = 0};
  made.ac_kw = dc_kw > full_dc ? dc_kw * (curve->rating_kw / full_dc)
                               : steading_inverter_ac_kw(curve, dc_kw - curve->idle_kw);
  if (made.ac_kw > dc_kw) made.ac_kw = dc_kw; /* rounding, of one that loses nothing */
  if (!(made.ac_kw > limit_kw)) return made;
  made.ac_kw = limit_kw;
  made.dc_kw = limit_kw > curve->rating_kw ? limit_kw * (full_dc / curve->rating_kw)
                                           : limit_kw + steading_inverter_loss_kw(curve, limit_kw);
  return made;
}
