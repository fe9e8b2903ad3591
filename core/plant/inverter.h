/* The inverter: what it loses, as a function of the AC power it delivers.
 *
 *   loss(P) = idle + b P + c P^2 / rating
 *
 * Three efficiencies (at 10, 50 and 100 % of the rating) fix idle, b and c exactly; two (at 10 and
 * 100 %) give b = 0, the two-parameter form of Schmid 1983 and of Jantsch, Schmidt and Schmid 1992.
 * With an idle draw given, idle is that draw and b and c are the least squares of the losses. */
#ifndef STEADING_PLANT_INVERTER_H
#define STEADING_PLANT_INVERTER_H

#include "site/fields.h"
#include "status.h"

typedef struct steading_inverter_curve {
  double rating_kw; /* > 0 */
  double idle_kw;   /* >= 0 */
  double b;         /* may be negative */
  double c;         /* loss(P) >= 0 and 1 + b + 2 c P / rating > 0 in 0..rating */
} steading_inverter_curve;

/* The curve of one unit. BAD_INPUT (with `path`) where the loss would be negative or DC power would
 * not rise with AC power in 0..ac_kw. `*miss` (may be NULL) is the largest difference between a
 * given efficiency and the curve's, as a share: 0 unless idle_w is given. */
steading_status steading_inverter_curve_of(const steading_unit *unit, const char *path,
                                           steading_inverter_curve *curve, double *miss,
                                           steading_error *error);

/* `count` equal units in parallel that share equally. */
steading_inverter_curve steading_inverter_parallel(const steading_inverter_curve *curve,
                                                   double count);

/* Losses at AC power `ac_kw` (0..rating), kW, the idle draw included. */
double steading_inverter_loss_kw(const steading_inverter_curve *curve, double ac_kw);

/* Efficiency at AC power `ac_kw` > 0. */
double steading_inverter_efficiency(const steading_inverter_curve *curve, double ac_kw);

/* AC power from `dc_kw` that is left when the idle draw is already paid: the P with
 * P + b P + c P^2 / rating = dc, in the form that also holds for c = 0. The kernel has the same two
 * lines on its own constants. */
double steading_inverter_ac_kw(const steading_inverter_curve *curve, double dc_kw);

#endif
