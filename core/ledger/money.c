#include "ledger/money.h"

#include <assert.h>
#include <float.h>
#include <math.h>

enum { FLOWS_MAX = 256 };

/* --- present values ----------------------------------------------------------------------------
 */

/* NIST Handbook 135 (1995), ASTM E917: sum of flows[k] / (1 + rate)^k, by Horner's scheme. */
double steading_money_npv(double rate, const double *flows, size_t count) {
  double value = 0;
  assert(rate > -1);
  for (size_t k = count; k-- > 0;) value = flows[k] + value / (1 + rate);
  return value;
}

/* The logarithm keeps the digits of a small rate that 1 + rate would lose. */
double steading_money_present_value(double rate, double n) {
  assert(rate > -1);
  return exp(-n * log1p(rate));
}

double steading_money_uniform_present_value(double rate, double n) {
  assert(rate > -1);
  if (rate == 0) return n;
  return -expm1(-n * log1p(rate)) / rate;
}

/* (1 + e)^k / (1 + d)^k is 1 / (1 + r)^k with r = (d - e) / (1 + e). */
double steading_money_escalated_present_value(double rate, double escalation, double n) {
  assert(rate > -1 && escalation >= -1);
  if (escalation <= -1) return 0; /* nothing is paid from the first year on */
  return steading_money_uniform_present_value((rate - escalation) / (1 + escalation), n);
}

double steading_money_payment(double rate, double periods, double principal) {
  assert(periods > 0);
  return principal / steading_money_uniform_present_value(rate, periods);
}

double steading_money_adjusted_rate(double rate, double ratio, double n) {
  assert(rate > -1 && ratio > 0 && n > 0);
  return (1 + rate) * pow(ratio, 1 / n) - 1;
}

double steading_money_rise(const double *rates, size_t count, int year) {
  double factor = 1;
  if (count == 0) return 1;
  if (count == 1) return pow(1 + rates[0], year - 1);
  for (int k = 1; k < year; k++)
    factor *= 1 + rates[(size_t)k <= count ? (size_t)k - 1 : count - 1];
  return factor;
}

const char *steading_money_answer_text(steading_money_answer answer) {
  switch (answer) {
    case STEADING_MONEY_FOUND:
      return "found";
    case STEADING_MONEY_NO_SIGN_CHANGE:
      return "the flows never change sign";
    case STEADING_MONEY_NO_ROOT:
      return "no rate makes the value zero";
    case STEADING_MONEY_SEVERAL_ROOTS:
      return "more than one rate makes the value zero";
    case STEADING_MONEY_NOT_AHEAD:
      return "nothing is spent before money comes in";
    case STEADING_MONEY_NEVER:
      return "the flows never pay back what was spent";
  }
  return "unknown answer";
}

/* --- internal rate of return -------------------------------------------------------------------
 *
 * With x = 1 / (1 + rate) the value is a polynomial in x, and every rate above -1 is a root x > 0.
 * Descartes' rule of signs: one change of sign, one root. With more changes all roots are isolated:
 * between two neighbouring roots of its derivative a polynomial is monotonic (Rolle), so the roots
 * are found from those of its derivatives, the highest first. Roots in (0, 1], rates of 0 and
 * more, come from the polynomial itself, those above 1 from the reversed one in y = 1 / x.
 *
 * A value within the rounding error of its own sum counts as zero. So a root of even order, where
 * the value touches zero without changing sign, is one root, and two roots that lie closer than
 * about 1e-7 may count as one. */

typedef struct polynomial {
  size_t count;        /* coefficients; the first and last are not 0 */
  double a[FLOWS_MAX]; /* a[k] belongs to x^k */
  double rounding;     /* share of the sum of sizes that rounding may make */
} polynomial;

/* Roots in ascending order. */
typedef struct root_list {
  size_t count;
  double x[FLOWS_MAX];
} root_list;

static double value_at(const polynomial *p, double x) {
  double value = 0;
  for (size_t k = p->count; k-- > 0;) value = p->a[k] + value * x;
  return value;
}

/* The value in units of the largest error that rounding can have made: zero if at most 1. */
static double value_in_roundings(const polynomial *p, double x) {
  double value = 0, sizes = 0;
  for (size_t k = p->count; k-- > 0;) {
    value = p->a[k] + value * x;
    sizes = fabs(p->a[k]) + sizes * x;
  }
  return value / (p->rounding * sizes);
}

static int sign_of(double roundings) { return fabs(roundings) <= 1 ? 0 : roundings > 0 ? 1 : -1; }

static size_t sign_changes(const double *values, size_t count) {
  size_t changes = 0;
  double last = 0;
  for (size_t k = 0; k < count; k++) {
    if (values[k] == 0) continue;
    if (last != 0 && (values[k] > 0) != (last > 0)) changes++;
    last = values[k];
  }
  return changes;
}

/* Drop coefficients of 0 at both ends: that moves no root other than 0. */
static void trim(polynomial *p) {
  size_t first = 0;
  while (p->count > 0 && p->a[p->count - 1] == 0) p->count--;
  while (first < p->count && p->a[first] == 0) first++;
  for (size_t k = first; k < p->count; k++) p->a[k - first] = p->a[k];
  p->count -= first;
}

/* The polynomial's derivative of order `order` over order!, so that nothing overflows. */
static void derive(const polynomial *p, size_t order, polynomial *out) {
  double binomial = 1;
  out->count = p->count - order;
  for (size_t k = 0; k < out->count; k++) {
    if (k > 0) binomial = binomial * (double)(k + order) / (double)k;
    out->a[k] = p->a[k + order] * binomial;
  }
  /* Two roundings a coefficient for the binomial, two a step for Horner's scheme. */
  out->rounding = 4 * (double)p->count * DBL_EPSILON / 2;
  trim(out);
}

/* Cauchy's bound: no root of a polynomial lies within this distance of 0. */
static double root_free(const polynomial *p) {
  double largest = 0;
  for (size_t k = 1; k < p->count; k++) largest = fmax(largest, fabs(p->a[k]));
  return fabs(p->a[0]) / (fabs(p->a[0]) + largest) / 2;
}

/* The root between `low` and `high`, both above 0, where the value changes its sign. Halving cannot
 * fail; while the ends are far apart their logarithms are halved. */
static double root_between(const polynomial *p, double low, double high) {
  bool rising = value_at(p, low) < 0;
  for (;;) {
    double middle = high > 4 * low ? sqrt(low) * sqrt(high) : low + (high - low) / 2;
    double value = 0;
    if (middle <= low || middle >= high) return middle;
    value = value_at(p, middle);
    if (value == 0) return middle;
    if ((value < 0) == rising)
      low = middle;
    else
      high = middle;
  }
}

/* Points at which to look at a polynomial's sign, and a run of those where it is 0. */
typedef struct scan {
  double last_x;
  int last_sign;
  bool in_run;
  double run_x, run_roundings;
  root_list *roots;
} scan;

static void add_root(root_list *roots, double x) {
  if (roots->count < FLOWS_MAX) roots->x[roots->count++] = x;
}

/* A run of zeros without another sign between them is one root, at its smallest value. */
static void end_run(scan *s) {
  if (s->in_run) add_root(s->roots, s->run_x);
  s->in_run = false;
}

static void scan_point(scan *s, const polynomial *p, double x, double roundings) {
  int sign = sign_of(roundings);
  if (sign == 0) {
    if (!s->in_run || fabs(roundings) < s->run_roundings) {
      s->run_x = x;
      s->run_roundings = fabs(roundings);
    }
    s->in_run = true;
  } else {
    bool crossed = s->last_sign != 0 && sign != s->last_sign; /* not out of a run */
    end_run(s);
    if (crossed) add_root(s->roots, root_between(p, s->last_x, x));
  }
  s->last_x = x;
  s->last_sign = sign;
}

/* Roots of `p` in (0, 1), given those of its derivative there, and at 1 when `at_one` (the value at
 * 1, see value_in_roundings) is zero. `touches_one` tells whether 1 belongs to the last root. */
static void roots_from_turns(const polynomial *p, const root_list *turns, double at_one,
                             root_list *roots, bool *touches_one) {
  double low = 0;
  scan s = {.roots = roots};
  roots->count = 0;
  *touches_one = sign_of(at_one) == 0;
  if (p->count < 2) return;
  low = root_free(p);
  scan_point(&s, p, low, value_in_roundings(p, low));
  for (size_t i = 0; i < turns->count; i++) {
    if (turns->x[i] > low && turns->x[i] < 1)
      scan_point(&s, p, turns->x[i], value_in_roundings(p, turns->x[i]));
  }
  scan_point(&s, p, 1, at_one);
  end_run(&s);
}

/* Places in (0, 1) where a derivative is zero: for these a place too many does no harm, one too few
 * would. So each zero of a run is kept. */
static void turns_from_turns(const polynomial *p, const root_list *turns, root_list *out) {
  double low = 0, last = 0;
  int last_sign = 0;
  out->count = 0;
  if (sign_changes(p->a, p->count) == 0) return;
  low = root_free(p);
  for (size_t i = 0; i <= turns->count + 1; i++) {
    double x = i == 0 ? low : i <= turns->count ? turns->x[i - 1] : 1;
    int sign = 0;
    if (i > 0 && x <= last) continue;
    sign = sign_of(value_in_roundings(p, x));
    if (last_sign != 0 && sign == -last_sign) add_root(out, root_between(p, last, x));
    if (sign == 0 && x < 1) add_root(out, x);
    last = x;
    last_sign = sign;
  }
}

static void roots_to_one(const polynomial *p, double at_one, root_list *roots, bool *touches_one) {
  root_list lists[2];
  root_list *turns = &lists[0], *next = &lists[1];
  turns->count = 0;
  for (size_t order = p->count - 1; order-- > 1;) {
    polynomial derivative;
    root_list *swap = turns;
    derive(p, order, &derivative);
    turns_from_turns(&derivative, turns, next);
    turns = next;
    next = swap;
  }
  roots_from_turns(p, turns, at_one, roots, touches_one);
}

/* Sizes up to 1, by a power of two so that no digit changes. */
static void set_polynomial(polynomial *p, const double *flows, size_t count) {
  double largest = 0;
  int exponent = 0;
  for (size_t k = 0; k < count; k++) largest = fmax(largest, fabs(flows[k]));
  frexp(largest, &exponent);
  p->count = count;
  for (size_t k = 0; k < count; k++) p->a[k] = ldexp(flows[k], -exponent);
  p->rounding = 2 * (double)count * DBL_EPSILON / 2;
  trim(p);
}

static void reverse(const polynomial *p, polynomial *out) {
  out->count = p->count;
  out->rounding = p->rounding;
  for (size_t k = 0; k < p->count; k++) out->a[k] = p->a[p->count - 1 - k];
}

/* x = 1 / (1 + rate) <= 1; the difference to 1 is exact from 0.5 on. */
static double rate_of_x(double x) { return (1 - x) / x; }

/* y = 1 + rate < 1; a rate is above -1 even when the nearest double is not. */
static double rate_of_y(double y) { return fmax(y - 1, nextafter(-1, 0)); }

static double only_rate(const polynomial *p) {
  double at_one = value_at(p, 1);
  polynomial reversed;
  if (at_one == 0) return 0;
  if ((at_one > 0) != (p->a[0] > 0)) return rate_of_x(root_between(p, root_free(p), 1));
  reverse(p, &reversed);
  return rate_of_y(root_between(&reversed, root_free(&reversed), 1));
}

/* All rates in ascending order; returns how many there are and writes as many as fit. */
static size_t all_rates(const polynomial *p, double *rates, size_t most) {
  polynomial reversed;
  root_list below, above; /* rates below 0 and from 0 on */
  bool one_below = false, one_above = false;
  double at_one = value_in_roundings(p, 1);
  size_t count = 0;
  reverse(p, &reversed);
  roots_to_one(p, at_one, &above, &one_above);
  roots_to_one(&reversed, at_one, &below, &one_below);
  if (one_below && below.count > 0) below.count--; /* the same as the last of `above` */
  for (size_t i = 0; i < below.count; i++, count++) {
    if (count < most) rates[count] = rate_of_y(below.x[i]);
  }
  for (size_t i = above.count; i-- > 0; count++) {
    if (count < most) rates[count] = rate_of_x(above.x[i]);
  }
  return count;
}

steading_money_answer steading_money_irr(const double *flows, size_t count, double *rate,
                                         double *roots, size_t most_roots, size_t *root_count) {
  polynomial p;
  double first = 0;
  size_t found = 0, most = roots == NULL ? 0 : most_roots;
  size_t changes = sign_changes(flows, count);
  if (root_count != NULL) *root_count = 0;
  if (changes == 0) return STEADING_MONEY_NO_SIGN_CHANGE;
  if (count > FLOWS_MAX) return STEADING_MONEY_NO_ROOT;
  set_polynomial(&p, flows, count);
  changes = sign_changes(p.a, p.count);
  if (changes == 0) return STEADING_MONEY_NO_ROOT; /* flows 1e300 apart: a rate beyond a double */
  if (changes == 1) {
    first = only_rate(&p);
    found = 1;
    if (most > 0) roots[0] = first;
  } else if (most > 0) {
    found = all_rates(&p, roots, most);
    if (found > 0) first = roots[0];
  } else {
    found = all_rates(&p, &first, 1);
  }
  if (root_count != NULL) *root_count = found;
  if (found == 0) return STEADING_MONEY_NO_ROOT;
  if (found > 1) return STEADING_MONEY_SEVERAL_ROOTS;
  *rate = first;
  return STEADING_MONEY_FOUND;
}

/* --- payback -----------------------------------------------------------------------------------
 */

/* Share of the year in which flows growing by `growth` a year bring `share` of the year's flow:
 * t from (1 - q^t) / (1 - q) = share, q = growth / (1 + rate). */
static double share_of_year(double rate, double growth, double share) {
  double q_less_one = (growth - 1 - rate) / (1 + rate);
  double t = q_less_one == 0 ? share : log1p(share * q_less_one) / log1p(q_less_one);
  return fmin(t, 1);
}

/* Growth of flow k on the one before where both are operating years, else 1. */
static double growth_into(const double *flows, size_t k) {
  double growth = 1;
  if (k < 2 || !(flows[k - 1] > 0) || !(flows[k] > 0)) return 1;
  growth = flows[k] / flows[k - 1];
  return growth >= 0.5 && growth <= 2 ? growth : 1;
}

/* ASTM E1121: the time at which the cumulative (discounted) flow is no longer below zero. */
steading_money_answer steading_money_payback(double rate, const double *flows, size_t count,
                                             double *years, bool *again_below) {
  double cumulative = 0, sizes = 0, factor = 1;
  bool found = false;
  size_t k = 0;
  assert(rate > -1);
  *years = HUGE_VAL;
  if (again_below != NULL) *again_below = false;
  for (; k < count && flows[k] == 0; k++) factor /= 1 + rate;
  if (k == count || flows[k] > 0) return STEADING_MONEY_NOT_AHEAD;
  for (; k < count; k++) {
    double flow = flows[k] * factor, before = cumulative, rounding = 0;
    cumulative += flow;
    sizes += fabs(flow);
    /* A sum of decimal fractions that is zero on paper may be a few roundings off. */
    rounding = (double)(k + 1) * DBL_EPSILON * sizes;
    if (!found && before < 0 && cumulative >= -rounding) {
      double share = flow > 0 ? fmin(-before / flow, 1) : 1;
      found = true;
      *years = (double)(k - 1) + share_of_year(rate, growth_into(flows, k), share);
    } else if (found && cumulative < -rounding && again_below != NULL) {
      *again_below = true;
    }
    factor /= 1 + rate;
  }
  return found ? STEADING_MONEY_FOUND : STEADING_MONEY_NEVER;
}
