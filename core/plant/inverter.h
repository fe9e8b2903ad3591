/* The inverter: what it loses, as a function of the AC power it delivers.
 *
 *   loss(P) = idle + b P + c P^2 / rating
 *
 * The parts are those of Schmidt and Sauer 1996 (from memory): what keeps the unit on, voltages
 * across switches, currents in resistances. There are three ways to say them:
 *
 * - losses: idle, b and c themselves. With b = 0 they are p0 = idle / rating and k = c of Schmid
 * 1983 and of Jantsch, Schmidt and Schmid 1992.
 * - three efficiencies (at 10, 50 and 100 % of the rating) fix idle, b and c exactly; two (at 10
 * and 100 %) give b = 0. With an idle draw given, idle is that draw and b and c are the least
 * squares of the losses.
 * - measured points at one or several DC voltages: at each voltage the least squares of the losses,
 *   idle at least 0; with an idle draw given, idle is that draw; two points give b = 0. Between
 *   voltages the loss of an AC power is interpolated in voltage. */
#ifndef STEADING_PLANT_INVERTER_H
#define STEADING_PLANT_INVERTER_H

#include <stdbool.h>
#include <stddef.h>

#include "site/fields.h"
#include "status.h"

typedef struct steading_inverter_curve {
  double rating_kw; /* > 0 */
  double idle_kw;   /* >= 0 */
  double b;         /* may be negative */
  double c;         /* loss(P) >= 0 and 1 + b + 2 c P / rating > 0 in 0..rating */
} steading_inverter_curve;

enum { STEADING_MOST_VOLTAGES = 16 };

/* The curves of one unit by DC voltage, in rising order. A unit whose losses do not depend on it
 * has one, at volts 0. */
typedef struct steading_inverter_curves {
  size_t count;
  double volts[STEADING_MOST_VOLTAGES];
  steading_inverter_curve at[STEADING_MOST_VOLTAGES];
} steading_inverter_curves;

/* How far curve and given efficiencies are apart: the largest difference, as a share, and where. */
typedef struct steading_inverter_miss {
  double share, ac_share, volts;
} steading_inverter_miss;

/* All curves of a unit; `path` is that of the unit. BAD_INPUT with the path of the field where a
 * loss would be negative, DC power would not rise with AC power in 0..ac_kw, or the points do not
 * fix a curve. `*miss` may be NULL; its share is 0 where the given numbers are met exactly. */
steading_status steading_inverter_curves_of(const steading_unit *unit, const char *path,
                                            steading_inverter_curves *curves,
                                            steading_inverter_miss *miss, steading_error *error);

/* The curve at a DC voltage; below the lowest and above the highest that of the end. */
steading_inverter_curve steading_inverter_curve_at(const steading_inverter_curves *curves,
                                                   double volts);

/* The middle of the voltages: the mean of the middle two where their count is even. */
double steading_inverter_middle_v(const steading_inverter_curves *curves);

/* The curve of a unit at the voltage at which it works: `dc_v`, else that of its strings (0: none;
 * the nearer end where it lies outside), else the middle one. BAD_INPUT as above, where `dc_v` lies
 * outside the voltages, and where night_w is above the idle draw. */
steading_status steading_inverter_curve_of(const steading_unit *unit, double strings_v,
                                           const char *path, steading_inverter_curve *curve,
                                           steading_inverter_miss *miss, steading_error *error);

/* The curve, per kW of rating, of the inverters that an AC-coupled array has for itself; `own` may
 * be NULL. Without an efficiency that of 0.96 at any power (common practice, no source). `path` is
 * that of `own`. BAD_INPUT as above. */
steading_status steading_inverter_own_curve_of(const steading_own_inverter *own, const char *path,
                                               steading_inverter_curve *curve,
                                               steading_error *error);

/* What a grid-following inverter makes of `dc_kw`: AC power, and the DC power that it takes for it.
 * It takes nothing unless that is more than its idle draw. At most `limit_kw` (INFINITY: no limit);
 * beyond its rating the efficiency is that at the rating. */
typedef struct steading_inverter_made {
  double ac_kw, dc_kw;
} steading_inverter_made;
steading_inverter_made steading_inverter_follow(const steading_inverter_curve *curve,
                                                double limit_kw, double dc_kw);

/* How much less a unit with this curve draws without sun when it carries nothing, kW: its idle draw
 * less night_w; 0 where night_w is not given. */
double steading_inverter_night_saving_kw(const steading_unit *unit,
                                         const steading_inverter_curve *curve);

/* Share of ac_kw that is left at an air temperature: 1 below the first point, linear between
 * points, that of the last beyond it; 1 where the unit has none. */
double steading_inverter_derated_share(const steading_unit *unit, double temp_c);

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
