/* A battery as two tanks of charge joined by a valve: one that its terminals reach at once and one
 * that is bound and follows at a rate. So a battery gives less when it is emptied fast, and more
 * after a rest: what lead-acid cells do.
 *
 * J. F. Manwell and J. G. McGowan 1993, "Lead acid battery storage model for hybrid energy
 * systems", Solar Energy 50(5) 399-405. With q1 available and q2 bound charge, c the available
 * share, k the combined rate constant and I the current out, all constant over a time t:
 *
 *   dq1/dt = -I - k (1 - c) q1 + k c q2,   dq2/dt = k (1 - c) q1 - k c q2
 *
 * whose solution is used here, so that a step of any length is exact. (The k of Jongerden and
 * Haverkort 2008 is the valve's alone: k here is theirs over c (1 - c).) Charge is any quantity of
 * charge, such as A h; a site counts it as kWh at the battery's nominal voltage, and currents as
 * kW. */
#ifndef STEADING_PLANT_TWO_TANK_H
#define STEADING_PLANT_TWO_TANK_H

#include <stddef.h>

#include "status.h"

typedef struct steading_two_tank {
  double most_kwh;        /* q_max: what it gives when emptied without end of time, > 0 */
  double available_share; /* c, above 0 and below 1 */
  double per_h;           /* k, > 0 */
} steading_two_tank;

typedef struct steading_tanks {
  double available_kwh, bound_kwh; /* q1 in 0..c q_max, q2 in 0..(1 - c) q_max */
} steading_tanks;

/* What a step of one length needs, worked out once. */
typedef struct steading_two_tank_step {
  double hours;     /* t, > 0 */
  double left;      /* e^-kt */
  double moved;     /* 1 - e^-kt */
  double lag;       /* k t - 1 + e^-kt */
  double per_limit; /* 1 / (1 - e^-kt + c (k t - 1 + e^-kt)) */
} steading_two_tank_step;

steading_two_tank_step steading_two_tank_step_of(const steading_two_tank *battery, double hours);

/* Tanks at rest, equally full: share 0..1 of q_max. */
steading_tanks steading_two_tank_rested(const steading_two_tank *battery, double share);

/* Most power out (I_dmax) and in (-I_cmax) over a whole step, both >= 0: the available tank is then
 * empty, or full, at the end of it. Between the ends of a step of constant power it is neither. */
double steading_two_tank_out_most_kw(const steading_two_tank *battery,
                                     const steading_two_tank_step *step,
                                     const steading_tanks *tanks);
double steading_two_tank_in_most_kw(const steading_two_tank *battery,
                                    const steading_two_tank_step *step,
                                    const steading_tanks *tanks);

/* A step at a constant power: out_kw > 0 leaves the battery, < 0 enters it; cut to the two limits
 * above. Returns the power that flowed. At a limit the available tank is exactly empty or full, and
 * the sum of both tanks changes by exactly that energy. */
double steading_two_tank_move(const steading_two_tank *battery, const steading_two_tank_step *step,
                              double out_kw, steading_tanks *tanks);

/* What a full battery gives at the constant power that empties its available tank in `hours` > 0:
 * a data sheet's capacity at the rate of so many hours. */
double steading_two_tank_capacity_kwh(const steading_two_tank *battery, double hours);

/* One line of a data sheet: the capacity when emptied at a constant power in so many hours. */
typedef struct steading_capacity_at {
  double hours, kwh; /* > 0 */
} steading_capacity_at;

/* The battery that has given capacities: three of them (any order), or two and most_kwh > 0, which
 * is then kept. With a = (1 - e^-kT) / (k T) the capacity q at the rate of T hours obeys
 *   1 / q = 1 / q_max + (1 / c - 1) / q_max a(kT),
 * linear but for k, which is found by halving. BAD_INPUT at `path` where no battery of two tanks
 * has them: capacity must grow with hours, and by neither more nor less than tanks can explain. */
steading_status steading_two_tank_fit(const steading_capacity_at *rates, size_t count,
                                      double most_kwh, const char *path, steading_two_tank *battery,
                                      steading_error *error);

/* Charging near full: part of it only makes gas. From the share of charge `above` on, that part
 * rises along a line from 0 to `at_full` (0..1) at full (the line is common practice, no source).
 * at_full 0: no gassing. */
typedef struct steading_gassing {
  double above;   /* 0..1, below 1 */
  double at_full; /* 0..1 */
} steading_gassing;

/* What is stored of `offered_kwh` (>= 0) offered to a battery of most_kwh that holds held_kwh; and
 * what must be offered so that `stored_kwh` is stored (infinite where that never happens: at_full 1
 * comes to full without ever reaching it). The two undo each other, and cutting an offer into parts
 * changes nothing. */
double steading_gassing_stored_kwh(const steading_gassing *gassing, double most_kwh,
                                   double held_kwh, double offered_kwh);
double steading_gassing_offered_kwh(const steading_gassing *gassing, double most_kwh,
                                    double held_kwh, double stored_kwh);

#endif
