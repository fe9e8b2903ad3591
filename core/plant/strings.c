#include "plant/strings.h"

#include <assert.h>
#include <math.h>

/* Where the last sum was taken: each group's junction voltage goes on from there along its tangent,
 * which never starts below the next root. */
typedef struct march {
  double volts;
  double junction_v[STEADING_GROUPS_MOST], per_v[STEADING_GROUPS_MOST];
} march;

static void start_anywhere(march *m, size_t count) {
  *m = (march){.volts = 0};
  for (size_t i = 0; i < count; i++) m->junction_v[i] = HUGE_VAL;
}

/* The groups' current at a voltage with two derivatives. */
static steading_diode_point sum_at(const steading_string_group *groups, size_t count, double volts,
                                   march *m) {
  steading_diode_point sum = {.amps = 0};
  double step = volts - m->volts;
  for (size_t i = 0; i < count; i++) {
    const steading_string_group *g = &groups[i];
    steading_diode_point one;
    double in_parallel = g->in_parallel, in_series = g->in_series;
    if (!(in_parallel > 0)) continue;
    m->junction_v[i] += m->per_v[i] * step;
    steading_diode_point_at(&g->curve, volts / in_series, &m->junction_v[i], &one);
    m->per_v[i] = (1 + g->curve.series_ohm * one.amps_per_v) / in_series;
    sum.amps += in_parallel * one.amps;
    sum.amps_per_v += in_parallel * one.amps_per_v / in_series;
    sum.amps_per_v2 += in_parallel * one.amps_per_v2 / (in_series * in_series);
  }
  m->volts = volts;
  return sum;
}

double steading_strings_current_a(const steading_string_group *groups, size_t count, double volts) {
  march m;
  assert(count <= STEADING_GROUPS_MOST);
  start_anywhere(&m, count);
  return sum_at(groups, count, volts, &m).amps;
}

/* Which falling function of the voltage is sought for its root. */
typedef enum sought { SLOPE_OF_POWER, CURRENT } sought;

/* Root between low and high, where the slope of power or the current less most_a goes from above 0
 * to below 0, by Newton within the bracket; `at_root` takes the sum there. Where a step is not half
 * as long as the one before it the bracket is halved instead, since Newton can go round in circles
 * on a curve of several knees. After a step of 1e-5 what is left is of the order of its square, and
 * power is flat at its maximum. */
static double falling_root(const steading_string_group *groups, size_t count, march *m, sought what,
                           double most_a, double low, double high, double start,
                           steading_diode_point *at_root) {
  double v = start, step = high - low;
  bool last = false;
  for (int i = 0; i < 200; i++) {
    steading_diode_point p = sum_at(groups, count, v, m);
    double value = what == CURRENT ? p.amps - most_a : p.amps + v * p.amps_per_v;
    double slope = what == CURRENT ? p.amps_per_v : 2 * p.amps_per_v + v * p.amps_per_v2;
    double next = high;
    *at_root = p;
    if (last) break;
    if (value > 0)
      low = v;
    else
      high = v;
    if (slope < 0) next = v - value / slope;
    if (!(next >= low && next <= high) || fabs(next - v) > 0.5 * step) next = 0.5 * (low + high);
    step = fabs(next - v);
    last = step <= (what == CURRENT ? 1e-8 : 1e-5) * v || !(low < high);
    v = next;
  }
  return v;
}

/* What the groups' own maxima say of the common one: it lies between the lowest and the highest of
 * their voltages, since beyond these every group's power falls. */
typedef struct maxima {
  double apart_w;
  double low_v, mean_v, high_v; /* the mean is weighted by power */
  double amps;                  /* sum at their own voltages */
} maxima;

/* Also starts the march at the mean: at a maximum of power dI/dV = -I / V. */
static maxima maxima_of(const steading_string_group *groups, size_t count, march *way) {
  maxima m = {.low_v = HUGE_VAL};
  double own_v[STEADING_GROUPS_MOST];
  start_anywhere(way, count);
  for (size_t i = 0; i < count; i++) {
    const steading_string_group *g = &groups[i];
    steading_diode_peak peak;
    double watts = 0;
    own_v[i] = 0;
    if (!(g->in_parallel > 0)) continue;
    steading_diode_peak_of(&g->curve, &peak);
    own_v[i] = peak.vmp_v * g->in_series;
    watts = fmax(peak.pmp_w, 0) * g->in_series * g->in_parallel;
    m.low_v = fmin(m.low_v, own_v[i]);
    m.high_v = fmax(m.high_v, own_v[i]);
    m.apart_w += watts;
    m.amps += peak.imp_a * g->in_parallel;
    m.mean_v += watts * own_v[i];
    if (!(peak.vmp_v > 0)) continue; /* dark: nothing to start from */
    way->junction_v[i] = peak.vmp_v + peak.imp_a * g->curve.series_ohm;
    way->per_v[i] = (1 - g->curve.series_ohm * peak.imp_a / peak.vmp_v) / g->in_series;
  }
  m.mean_v = m.low_v == m.high_v || !(m.apart_w > 0) ? m.low_v : m.mean_v / m.apart_w;
  way->volts = m.mean_v;
  for (size_t i = 0; i < count; i++) way->junction_v[i] += way->per_v[i] * (m.mean_v - own_v[i]);
  return m;
}

/* No group gives current above this voltage. */
static double top_v(const steading_string_group *groups, size_t count) {
  double top = 0;
  for (size_t i = 0; i < count; i++)
    if (groups[i].in_parallel > 0)
      top = fmax(top, groups[i].in_series * steading_diode_voc_v(&groups[i].curve));
  return top;
}

void steading_strings_on_input(const steading_string_group *groups, size_t count,
                               const steading_mppt_input *input, steading_input_point *point) {
  double best_v = 0, v = 0, amps = 0;
  bool equal = false;
  steading_diode_point sum;
  march way;
  maxima m;
  assert(count <= STEADING_GROUPS_MOST);
  *point = (steading_input_point){.limit = STEADING_INPUT_FREE};
  m = maxima_of(groups, count, &way);
  if (!(m.apart_w > 0)) return; /* dark */
  equal = m.low_v == m.high_v;
  best_v = m.mean_v;
  amps = m.amps;
  if (!equal) {
    best_v = falling_root(groups, count, &way, SLOPE_OF_POWER, 0, m.low_v, m.high_v, best_v, &sum);
    amps = sum.amps;
  }
  point->apart_w = m.apart_w;
  point->together_w = equal ? m.apart_w : fmin(best_v * amps, m.apart_w);
  v = best_v;
  if (amps > input->most_a) {
    v = falling_root(groups, count, &way, CURRENT, input->most_a, v, top_v(groups, count), v, &sum);
    amps = sum.amps;
    point->limit = STEADING_INPUT_CURRENT;
  }
  if (v < input->lowest_v || v > input->highest_v) {
    v = v < input->lowest_v ? input->lowest_v : input->highest_v;
    point->limit = STEADING_INPUT_WINDOW;
    amps = sum_at(groups, count, v, &way).amps;
  }
  if (!(amps > 0) || amps > input->most_a * (1 + 1e-6) + 1e-12) {
    point->limit = STEADING_INPUT_OFF;
    return;
  }
  point->volts = v;
  point->amps = amps;
  point->watts = v == best_v ? point->together_w : v * amps;
  if (point->watts > input->most_w) {
    point->watts = input->most_w;
    point->limit = STEADING_INPUT_POWER;
  }
}

double steading_string_open_v(const steading_diode_module *module, double in_series,
                              double w_per_m2, double coldest_c) {
  steading_diode_curve curve;
  steading_diode_at(module, w_per_m2, coldest_c, &curve);
  return in_series * steading_diode_voc_v(&curve);
}

int steading_string_most_in_series(const steading_diode_module *module, double most_v,
                                   double w_per_m2, double coldest_c) {
  double one = steading_string_open_v(module, 1, w_per_m2, coldest_c);
  return one > 0 ? (int)floor(fmin(most_v / one * (1 + 1e-12), 1e6)) : 0;
}

int steading_string_fewest_in_series(const steading_diode_module *module, double lowest_v,
                                     double w_per_m2, double hottest_c) {
  steading_diode_curve curve;
  steading_diode_peak peak;
  steading_diode_at(module, w_per_m2, hottest_c, &curve);
  steading_diode_peak_of(&curve, &peak);
  return peak.vmp_v > 0 ? (int)ceil(fmin(lowest_v / peak.vmp_v * (1 - 1e-12), 1e6)) : 0;
}
