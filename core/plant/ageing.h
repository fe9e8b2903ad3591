/* What time and use take from a battery: capacity, and what resistance grows by.
 *
 * Each law says how a loss grows while its stress is constant. Where the stress changes, the loss
 * goes on from the time at which the new stress alone would have led to the loss so far
 * (equivalent time). For a loss K x^z that means: loss^(1/z) grows by K^(1/z) dx, which is what is
 * kept here, so that a constant stress cut into any number of steps is the same as one.
 *
 *   NAUMANN  lithium iron phosphate. M. Naumann et al. 2018, "Analysis and modeling of calendar
 *            aging of a commercial LiFePO4/graphite cell", J. Energy Storage 17 153-169, and 2020,
 *            "Analysis and modeling of cycle aging ...", J. Power Sources 451 227666. Calendar and
 *            cycle losses add up. (That the cycle laws are in per cent and count equivalent full
 *            cycles is inferred from their size.)
 *   WANG     lithium iron phosphate. J. Wang et al. 2011, "Cycle-life model for graphite-LiFePO4
 *            cells", J. Power Sources 196(8) 3942-3948. Throughput alone; no calendar loss, no
 *            resistance.
 *   DEPTH    cycles to the end of life at each depth, from a data sheet, and the sum of Palmgren
 *            and Miner 1945: damage = sum of count / cycles(depth). No resistance.
 *
 * All are fits to a few cells at constant conditions, taken beyond what was measured. */
#ifndef STEADING_PLANT_AGEING_H
#define STEADING_PLANT_AGEING_H

#include <stddef.h>

typedef enum steading_ageing_model {
  STEADING_AGEING_NAUMANN,
  STEADING_AGEING_WANG,
  STEADING_AGEING_DEPTH
} steading_ageing_model;

/* One line of a data sheet: cycles of that depth (share of capacity) to the end of life. */
typedef struct steading_depth_cycles {
  double depth;  /* above 0, at most 1; rising from line to line */
  double cycles; /* > 0 */
} steading_depth_cycles;

typedef struct steading_ageing_law {
  steading_ageing_model model;
  double throughput_ah_per_cycle;      /* WANG: Ah of the cell of 2.2 Ah that a full cycle counts */
  const steading_depth_cycles *depths; /* DEPTH: at least one line */
  size_t depth_count;
  double end_health;     /* DEPTH: health at a damage of 1, such as 0.8 */
  double calendar_years; /* DEPTH: years to the same damage at rest at 25 C; INFINITY: none */
} steading_ageing_law;

/* How far a battery has aged. All 0: new. */
typedef struct steading_age {
  double calendar; /* NAUMANN: calendar loss squared; DEPTH: damage by time */
  double cycles;   /* NAUMANN: cycle loss squared; WANG: loss^(1/0.55); DEPTH: damage by cycles */
  double calendar_resistance, cycle_resistance; /* shares of the first resistance */
} steading_age;

/* Time at one temperature and charge (share 0..1). */
void steading_age_rest(const steading_ageing_law *law, double hours, double cell_c,
                       double state_of_charge, steading_age *age);

/* `count` steps of step_h hours in a row, the same to the last digits and much faster where the
 * temperature stays the same. A state of charge below 0 is passed over: no battery was there. */
void steading_age_rest_steps(const steading_ageing_law *law, double step_h, size_t count,
                             const double *cell_c, const double *state_of_charge,
                             steading_age *age);

/* A cycle: depth above 0, at most 1; count 1 or 0.5; its rate in full charges an hour, >= 0. */
void steading_age_cycle(const steading_ageing_law *law, double depth, double count,
                        double rate_per_h, double cell_c, steading_age *age);

/* What an age takes: the sum of two ages of one law is that of both stresses. */
void steading_age_add(const steading_age *more, steading_age *age);
void steading_age_take_away(const steading_age *less, steading_age *age); /* what was added */

/* Share of the nominal capacity that is left, 0..1; and resistance over that of a new battery,
 * >= 1. */
double steading_age_health(const steading_ageing_law *law, const steading_age *age);
double steading_age_resistance(const steading_age *age);

/* --- the laws as published -----------------------------------------------------------------------
 */

/* Naumann 2018: K of the capacity loss K sqrt(t), and of the resistance rise K t, t in seconds. */
double steading_naumann_calendar_k(double cell_c, double state_of_charge);
double steading_naumann_calendar_resistance_k(double cell_c, double state_of_charge);

/* Naumann 2020: K of the capacity loss K sqrt(cycles), share, and of the resistance rise K cycles;
 * cycles are equivalent full ones. The rise is not negative (as the fit is above a rate of 1.05).
 */
double steading_naumann_cycle_k(double rate_per_h, double depth);
double steading_naumann_cycle_resistance_k(double rate_per_h, double depth);

/* Wang 2011: K of the capacity loss K Ah^0.55, share. B is published for rates of 1/2, 2, 6 and 10;
 * between them its logarithm is a line, and outside them the rate counts as the nearest. */
double steading_wang_k(double rate_per_h, double cell_c);

/* That paper's fit to the rate of 1/2 alone: loss, share, of a throughput in Ah. */
double steading_wang_half_rate_loss(double cell_c, double ah);

/* Cycles to the end of life at a depth: the logarithms lie on a line between two lines of the
 * sheet. Outside them a cycle wears as its energy or as the nearest two lines say, whichever is
 * more. */
double steading_cycles_at_depth(const steading_depth_cycles *depths, size_t count, double depth);

#endif
