/* Time value of money: the functions that the ledger and a script's `steading.money` share.
 *
 * Flows are yearly: flows[0] is now, flows[k] falls due at the end of year k. Flows must be finite.
 * Rates are shares per period (0.05 is 5 %), greater than -1. Definitions follow NIST Handbook 135
 * (1995) and ASTM E917, E1057, E1121. */
#ifndef STEADING_LEDGER_MONEY_H
#define STEADING_LEDGER_MONEY_H

#include <stdbool.h>
#include <stddef.h>

/* Net present value: sum of flows[k] / (1 + rate)^k. */
double steading_money_npv(double rate, const double *flows, size_t count);

/* Single present value factor (1 + rate)^-n; n may be 0. */
double steading_money_present_value(double rate, double n);

/* Uniform present value factor: present value of 1 at the end of each of n periods. */
double steading_money_uniform_present_value(double rate, double n);

/* Modified uniform present value factor: an amount of 1 at today's prices, escalating at
 * `escalation` from today on, paid at the end of each of n periods (so the first payment is
 * 1 + escalation). */
double steading_money_escalated_present_value(double rate, double escalation, double n);

/* Level payment at the end of each period that repays `principal` in `periods` periods. */
double steading_money_payment(double rate, double periods, double principal);

/* Adjusted internal rate of return (ASTM E1057): the yearly rate at which an investment grows whose
 * savings, put aside at `rate`, are worth `ratio` times it (the savings-to-investment ratio, > 0)
 * after n > 0 years: (1 + rate) ratio^(1/n) - 1. */
double steading_money_adjusted_rate(double rate, double ratio, double n);

/* Price of year 1.., over that of year 1, of a price that rises by rates[k - 1] from year k to k +
 * 1; the last rate goes on. One rate: (1 + rate)^(year - 1). `count` 0: 1. */
double steading_money_rise(const double *rates, size_t count, int year);

typedef enum steading_money_answer {
  STEADING_MONEY_FOUND,
  STEADING_MONEY_NO_SIGN_CHANGE, /* IRR: all flows of one sign, or none */
  STEADING_MONEY_NO_ROOT,        /* IRR: signs change but no rate makes the value zero */
  STEADING_MONEY_SEVERAL_ROOTS,  /* IRR: not unique */
  STEADING_MONEY_NOT_AHEAD,      /* payback: the first flow that is not 0 is no cost */
  STEADING_MONEY_NEVER           /* payback: the cumulative never returns to zero */
} steading_money_answer;

/* A sentence for each answer ("no rate makes the value zero" ...). */
const char *steading_money_answer_text(steading_money_answer answer);

/* Internal rate of return: the one rate > -1 with NPV 0. Every real root is counted: with more
 * than one, the answer is SEVERAL_ROOTS and up to `most_roots` of them are written to `roots` in
 * ascending order (`*root_count` says how many there are). `roots` and `root_count` may be NULL.
 * `*rate` is written only with FOUND. A rate at which the value touches zero without changing its
 * sign is one rate; 'zero' is within the rounding of the value's own sum, so that two rates closer
 * than about 1e-7 may count as one. Accurate to about 1e-12 where the flows themselves fix the rate
 * that well. Allocates nothing for up to 256 flows; more are refused with NO_ROOT. */
steading_money_answer steading_money_irr(const double *flows, size_t count, double *rate,
                                         double *roots, size_t most_roots, size_t *root_count);

/* Years until the cumulative flow (discounted at `rate`; 0 for simple payback) first returns to
 * zero after the cost that comes first. Within the year in which it crosses, flows are taken to
 * grow at the ratio of that year's flow to the one before when both are operating years (index
 * >= 1, positive, ratio 0.5..2), else as constant: for savings that grow at a constant rate this
 * gives the closed form n = ln(1 - C (d - e) / S) / ln((1 + e) / (1 + d)) exactly. `*again_below`
 * (may be NULL) tells whether the cumulative falls below zero again later. A cumulative within the
 * rounding of its own sum counts as zero. `*years` is infinity unless FOUND. */
steading_money_answer steading_money_payback(double rate, const double *flows, size_t count,
                                             double *years, bool *again_below);

#endif
