#include "plant/one_diode.h"

#include <math.h>
#include <stdio.h>

static const double reference_k = 298.15, reference_w_per_m2 = 1000;
static const double boltzmann_ev_per_k = 8.617333262e-5;
static const double gap_ev = 1.121, gap_per_k = 0.0002677; /* silicon, De Soto et al. 2006 */
static const double fit_step_k = 10; /* of the open-circuit condition; the paper: 1 to 10 serve */

/* --- a curve -----------------------------------------------------------------------------------
 */

/* Current of the junction with two derivatives by its voltage. */
typedef struct junction {
  double amps, rise, bend;
} junction;

/* `per_v` is one over slope_v: a division a curve, not three a step. */
static junction junction_of(const steading_diode_curve *c, double per_v, double x) {
  double e = c->dark_a * exp(fmin(x * per_v, 600)), steep = e * per_v;
  return (junction){.amps = c->light_a + c->dark_a - e - x * c->shunt_s,
                    .rise = -steep - c->shunt_s,
                    .bend = -steep * per_v};
}

/* The junction a very small share (1e-4) of the slope higher: the exponential by its series. */
static void move(const steading_diode_curve *c, double share, junction *j) {
  double grow = share * (1 + share / 2 * (1 + share / 3));
  j->amps += j->bend * c->slope_v * c->slope_v * grow - share * c->slope_v * c->shunt_s;
  j->rise += j->bend * c->slope_v * grow;
  j->bend += j->bend * grow;
}

/* Light of less than a millionth of the diode's own current is dark: its power would be the
 * rounding of a difference. */
static bool lit(const steading_diode_curve *c) { return c->light_a > 1e-6 * c->dark_a; }

/* Junction voltage without shunt at open circuit: no voltage of the junction at which current
 * still flows out is higher. */
static double highest_junction(const steading_diode_curve *c) {
  return c->slope_v * log1p(c->light_a / c->dark_a);
}

/* The junction's voltage at terminals of `volts`: x - volts - series I(x) = 0, whose left side is
 * convex and rises, so that from a start above the root the steps fall towards it. The start is a
 * bound from above where the exponential has not run away, or the given one. Halley's steps, whose
 * error is the cube of the last: after one of 1e-4 of the slope nothing is left. */
static double junction_at(const steading_diode_curve *c, double volts, double start, junction *j) {
  double across = c->series_ohm * (c->light_a + c->dark_a), per_v = 1 / c->slope_v;
  double x = volts;
  if (c->series_ohm == 0) {
    *j = junction_of(c, per_v, volts);
    return volts;
  }
  if (!(start < HUGE_VAL)) {
    start = highest_junction(c);
    if (volts > start) start = c->slope_v * log((volts + across) / (c->series_ohm * c->dark_a));
  }
  x = fmin(start, (volts + across) / (1 + c->series_ohm * c->shunt_s));
  for (int i = 0; i < 200; i++) {
    double slope = 0, step = 0;
    *j = junction_of(c, per_v, x);
    slope = 1 - c->series_ohm * j->rise;
    step = (x - volts - c->series_ohm * j->amps) / slope;
    step /= fmax(1 + 0.5 * step * c->series_ohm * j->bend / slope, 0.5);
    step = fmax(step, -2 * c->slope_v); /* from below, not far into the exponential */
    x -= step;
    if (fabs(step) <= 1e-4 * c->slope_v) {
      move(c, -step * per_v, j);
      break;
    }
  }
  return x;
}

void steading_diode_point_at(const steading_diode_curve *curve, double volts, double *junction_v,
                             steading_diode_point *point) {
  junction j;
  double part = 0;
  *junction_v = junction_at(curve, volts, *junction_v, &j);
  part = 1 / (1 - curve->series_ohm * j.rise);
  point->amps = j.amps;
  point->amps_per_v = j.rise * part;
  point->amps_per_v2 = j.bend * part * part * part;
}

double steading_diode_current_a(const steading_diode_curve *curve, double volts) {
  junction j;
  junction_at(curve, volts, HUGE_VAL, &j);
  return j.amps;
}

/* The junction's voltage at a current: dark exp(x / slope) + shunt x = light + dark - amps. */
static bool junction_with(const steading_diode_curve *c, double amps, double *junction_v) {
  double rest = c->light_a + c->dark_a - amps, x = 0, per_v = 1 / c->slope_v;
  if (rest <= 0 && c->shunt_s <= 0) return false;
  x = rest > c->dark_a ? c->slope_v * log(rest / c->dark_a) : 0;
  if (rest > 0 && rest <= c->dark_a && c->shunt_s <= 0) x = c->slope_v * log(rest / c->dark_a);
  if (c->shunt_s > 0) x = fmin(x, rest / c->shunt_s);
  for (int i = 0; i < 100; i++) { /* convex and rising, from above */
    junction j = junction_of(c, per_v, x);
    double step = (amps - j.amps) / -j.rise;
    x -= step;
    if (fabs(step) <= 1e-9 * c->slope_v) break;
  }
  *junction_v = x;
  return true;
}

bool steading_diode_voltage_v(const steading_diode_curve *curve, double amps, double *volts) {
  double x = 0;
  if (!junction_with(curve, amps, &x)) return false;
  *volts = x - amps * curve->series_ohm;
  return true;
}

double steading_diode_isc_a(const steading_diode_curve *curve) {
  return lit(curve) ? steading_diode_current_a(curve, 0) : 0;
}

double steading_diode_voc_v(const steading_diode_curve *curve) {
  double x = 0;
  if (!lit(curve)) return 0;
  junction_with(curve, 0, &x); /* light + dark > 0: there is one */
  return x;
}

/* With x for the junction's voltage, P = (x - I series) I and dP/dx = I + I' (x - 2 I series),
 * which is above 0 at x = 0 and below 0 at the highest junction voltage, and 0 once between. The
 * start leaves the shunt out and takes 0.95 of the light's current for that of the point: then
 * z + ln(z + c) = u with z = x / slope, which the first terms of Lambert's function answer. */
void steading_diode_peak_of(const steading_diode_curve *curve, steading_diode_peak *peak) {
  const steading_diode_curve *c = curve;
  double low = 0, high = 0, x = 0, u = 0, shift = 0, first = 0, second = 0;
  double per_v = 1 / c->slope_v;
  junction j;
  *peak = (steading_diode_peak){.pmp_w = 0};
  if (!lit(c)) return;
  high = highest_junction(c);
  u = high * per_v;
  shift = 1 - 1.9 * c->light_a * c->series_ohm * per_v;
  first = fmax(u + shift, 1);
  second = log(first);
  x = c->slope_v * (first - second + second / first - shift);
  if (!(x > low && x < high)) x = 0.5 * high;
  for (int i = 0; i < 200; i++) {
    double lever = 0, slope = 0, bend = 0, next = 0, step = 0;
    j = junction_of(c, per_v, x);
    lever = x - 2 * j.amps * c->series_ohm;
    slope = j.amps + j.rise * lever;
    if (slope > 0)
      low = x;
    else
      high = x;
    bend = j.bend * lever + 2 * j.rise * (1 - j.rise * c->series_ohm);
    next = bend < 0 ? x - slope / bend : high;
    if (!(next >= low && next <= high)) next = 0.5 * (low + high);
    step = (next - x) * per_v;
    if (fabs(step) <= 1e-4) { /* what is left is of the order of its square */
      move(c, step, &j);
      x = next;
      break;
    }
    x = next;
  }
  peak->imp_a = j.amps;
  peak->vmp_v = x - j.amps * c->series_ohm;
  peak->pmp_w = peak->imp_a * peak->vmp_v;
}

/* --- another light, another temperature --------------------------------------------------------
 */

/* ln(dark / dark of the reference). */
static double dark_log(double kelvin) {
  double gap = gap_ev * (1 - gap_per_k * (kelvin - reference_k));
  return 3 * log(kelvin / reference_k) + (gap_ev / reference_k - gap / kelvin) / boltzmann_ev_per_k;
}

void steading_diode_at(const steading_diode_module *module, double w_per_m2, double cell_c,
                       steading_diode_curve *curve) {
  const steading_diode_curve *r = &module->reference;
  double kelvin = cell_c + 273.15, warm = kelvin / reference_k;
  double gap = gap_ev * (1 - gap_per_k * (kelvin - reference_k));
  double light = w_per_m2 > 0 ? w_per_m2 / reference_w_per_m2 : 0;
  *curve = (steading_diode_curve){
      .light_a = fmax(light * (r->light_a + module->isc_a_per_c * (kelvin - reference_k)), 0),
      .dark_a = r->dark_a * warm * warm * warm *
                exp((gap_ev / reference_k - gap / kelvin) / boltzmann_ev_per_k),
      .series_ohm = r->series_ohm,
      .shunt_s = r->shunt_s * light,
      .slope_v = r->slope_v * warm};
}

/* --- from a data sheet -------------------------------------------------------------------------
 */

/* Root of f between low and high, where it has the signs of f_low and f_high, which differ: false
 * position with Illinois's halving, and a halving of the bracket each third time. */
typedef double (*fit_function)(void *context, double at);
static double root_between(fit_function f, void *context, double low, double high, double f_low,
                           double f_high) {
  double at = low;
  int side = 0;
  for (int i = 0; i < 200; i++) {
    double value = 0;
    at = i % 3 == 2 ? 0.5 * (low + high) : (low * f_high - high * f_low) / (f_high - f_low);
    if (!(at > low && at < high)) at = 0.5 * (low + high);
    if (at == low || at == high) break;
    value = f(context, at);
    if (value == 0) return at;
    if ((value > 0) == (f_high > 0)) {
      high = at;
      f_high = value;
      if (side == 1) f_low /= 2;
      side = 1;
    } else {
      low = at;
      f_low = value;
      if (side == -1) f_high /= 2;
      side = -1;
    }
  }
  return at;
}

typedef struct fit {
  const steading_diode_sheet *sheet;
  double slope_v, series_ohm; /* given ... */
  double at_voc_a, shunt_s;   /* ... follow; at_voc_a is dark exp(voc / slope) */
  double light_a;
  bool stiff; /* even without series resistance the knee is softer than the sheet's point */
} fit;

/* Light, dark and shunt from the three points; returns how far the slope of the curve at the
 * maximum power point is from the one without a slope of power, as a conductance of the junction:
 * dI/dV = -imp / vmp there. All exponentials are relative to that at open circuit. */
static double slope_miss(void *context, double series_ohm) {
  fit *f = context;
  const steading_diode_sheet *s = f->sheet;
  double at_mp = s->vmp_v + s->imp_a * series_ohm, at_sc = s->isc_a * series_ohm;
  double e_mp = exp((at_mp - s->voc_v) / f->slope_v), e_sc = exp((at_sc - s->voc_v) / f->slope_v);
  double a = 1 - e_sc, b = s->voc_v - at_sc, c = e_mp - e_sc, d = at_mp - at_sc;
  double determinant = a * d - b * c;
  f->series_ohm = series_ohm;
  f->at_voc_a = (s->isc_a * d - b * (s->isc_a - s->imp_a)) / determinant;
  f->shunt_s = (a * (s->isc_a - s->imp_a) - c * s->isc_a) / determinant;
  f->light_a = f->at_voc_a * -expm1(-s->voc_v / f->slope_v) + f->shunt_s * s->voc_v;
  return f->at_voc_a * e_mp / f->slope_v + f->shunt_s -
         s->imp_a / (s->vmp_v - s->imp_a * series_ohm);
}

/* The same with the series resistance that meets the fourth condition; returns the current that
 * the curve carries at the sheet's open-circuit voltage of another temperature. Falls with slope.
 */
static double voc_miss(void *context, double slope_v) {
  fit *f = context;
  const steading_diode_sheet *s = f->sheet;
  double warm = (reference_k + fit_step_k) / reference_k, voc_v = s->voc_v;
  double most = (s->voc_v - s->vmp_v) / s->imp_a * (1 - 1e-9), low_miss = 0, high_miss = 0;
  f->slope_v = slope_v;
  high_miss = slope_miss(f, most);
  low_miss = slope_miss(f, 0);
  f->stiff = low_miss > 0;
  if (low_miss < 0 && high_miss > 0)
    slope_miss(f, root_between(slope_miss, f, 0, most, low_miss, high_miss));
  voc_v += s->voc_v_per_c * fit_step_k;
  return f->light_a + s->isc_a_per_c * fit_step_k -
         f->at_voc_a * exp(dark_log(reference_k + fit_step_k) - s->voc_v / slope_v) *
             expm1(voc_v / (slope_v * warm)) -
         f->shunt_s * voc_v;
}

static steading_status refuse(steading_error *error, const char *path, const char *field,
                              const char *text, double found) {
  char full[256];
  snprintf(full, sizeof full, "%.200s%s%s", path, path[0] == '\0' ? "" : ".", field);
  return steading_fail(error, STEADING_BAD_INPUT, full, "%.6g: %s", found, text);
}

static steading_status check_sheet(const steading_diode_sheet *s, const char *path,
                                   steading_error *error) {
  if (!(s->isc_a > 0)) return refuse(error, path, "isc_a", "must be above 0", s->isc_a);
  if (!(s->voc_v > 0)) return refuse(error, path, "voc_v", "must be above 0", s->voc_v);
  if (!(s->imp_a < s->isc_a)) return refuse(error, path, "imp_a", "must be below isc_a", s->imp_a);
  if (!(s->vmp_v < s->voc_v)) return refuse(error, path, "vmp_v", "must be below voc_v", s->vmp_v);
  if (!(s->imp_a > 0.5 * s->isc_a))
    return refuse(error, path, "imp_a",
                  "no module delivers its maximum power at half of isc_a or less", s->imp_a);
  if (!(s->vmp_v > 0.5 * s->voc_v))
    return refuse(error, path, "vmp_v",
                  "no module delivers its maximum power at half of voc_v or less", s->vmp_v);
  if (!(s->voc_v_per_c < 0 && s->voc_v_per_c > -0.01 * s->voc_v))
    return refuse(error, path, "voc_v_per_c",
                  "must be negative and less than 1 % of voc_v, in V/K (a sheet's %/K times voc_v "
                  "/ 100)",
                  s->voc_v_per_c);
  if (!(fabs(s->isc_a_per_c) < 0.005 * s->isc_a))
    return refuse(error, path, "isc_a_per_c",
                  "must be less than 0.5 % of isc_a, in A/K (a sheet's %/K times isc_a / 100)",
                  s->isc_a_per_c);
  if (!(s->cells >= 1)) return refuse(error, path, "cells", "must be 1 or more", s->cells);
  return STEADING_OK;
}

steading_status steading_diode_fit(const steading_diode_sheet *sheet, const char *path,
                                   steading_diode_module *module, steading_error *error) {
  const steading_diode_sheet *s = sheet;
  fit f = {.sheet = sheet};
  steading_diode_curve *r = &module->reference;
  steading_diode_peak peak;
  double guess = 0, low = 0, high = 0, low_miss = 0, high_miss = 0, ideality = 0;
  steading_status status = check_sheet(s, path, error);
  if (status != STEADING_OK) return status;
  /* Without shunt voc = slope ln(light / dark); its derivative by temperature gives the slope. */
  guess = (s->voc_v / reference_k - s->voc_v_per_c) /
          ((3 + (1 / reference_k + gap_per_k) * gap_ev / boltzmann_ev_per_k) / reference_k -
           s->isc_a_per_c / s->isc_a);
  low = 0.7 * guess;
  high = 1.4 * guess;
  low_miss = voc_miss(&f, low);
  high_miss = voc_miss(&f, high);
  if (!(low_miss > 0 && high_miss < 0))
    return refuse(error, path, "voc_v_per_c",
                  "no diode has this change of voltage beside the other values", s->voc_v_per_c);
  f.slope_v = root_between(voc_miss, &f, low, high, low_miss, high_miss);
  voc_miss(&f, f.slope_v);
  if (f.stiff)
    return refuse(error, path, "vmp_v",
                  "imp_a and vmp_v lie outside the curve that isc_a, voc_v and voc_v_per_c allow: "
                  "it would need a negative series resistance",
                  s->vmp_v);
  if (f.shunt_s < 0 && f.shunt_s > -1e-9 * s->isc_a / s->voc_v) f.shunt_s = 0;
  if (f.shunt_s < 0)
    return refuse(error, path, "imp_a",
                  "the curve between isc_a and imp_a is flatter than its knee allows: it would "
                  "need a negative shunt resistance",
                  s->imp_a);
  ideality = f.slope_v / (s->cells * boltzmann_ev_per_k * reference_k);
  if (!(ideality >= 0.6 && ideality <= 2)) {
    char text[200];
    snprintf(text, sizeof text,
             "with this many cells in series the diode's ideality is %.2f, expected 0.6 to 2 (of a "
             "module of half cells, half of them are in series)",
             ideality);
    return refuse(error, path, "cells", text, s->cells);
  }
  *r = (steading_diode_curve){.light_a = f.light_a,
                              .dark_a = f.at_voc_a * exp(-s->voc_v / f.slope_v),
                              .series_ohm = f.series_ohm,
                              .shunt_s = f.shunt_s,
                              .slope_v = f.slope_v};
  module->isc_a_per_c = s->isc_a_per_c;
  steading_diode_peak_of(r, &peak);
  if (!(r->light_a > 0 && r->dark_a > 0) ||
      !(fabs(steading_diode_current_a(r, 0) - s->isc_a) <= 1e-9 * s->isc_a) ||
      !(fabs(steading_diode_current_a(r, s->voc_v)) <= 1e-9 * s->isc_a) ||
      !(fabs(steading_diode_current_a(r, s->vmp_v) - s->imp_a) <= 1e-9 * s->isc_a) ||
      !(fabs(peak.vmp_v - s->vmp_v) <= 1e-6 * s->vmp_v))
    return refuse(error, path, "vmp_v", "no curve of the one-diode model fits the sheet", s->vmp_v);
  return STEADING_OK;
}
