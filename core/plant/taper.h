/* How a lithium iron phosphate battery takes its last charge, and losses by resistance.
 *
 * Charging goes at constant current up to a voltage and then at that voltage, while the current
 * falls. Here the most charging power is full up to the share of charge `above` and falls along a
 * line to a small share of itself at full (common practice, no source; the true curve depends on
 * current, temperature and age). */
#ifndef STEADING_PLANT_TAPER_H
#define STEADING_PLANT_TAPER_H

typedef struct steading_taper {
  double above;   /* share of charge where the power begins to fall, 0..1, below 1 */
  double at_full; /* share of the power that is left at full, above 0, at most 1 */
} steading_taper;

/* Most charging power at a share of charge, as a share of the full one. */
double steading_taper_share(const steading_taper *taper, double state_of_charge);

/* Mean power (kW, at the terminals) that a battery of `kwh` (> 0) takes over `hours`, when it
 * begins at a state of charge, want_kw is offered all the time, most_kw is its full charging power
 * and `efficiency` of what it takes is stored. It ends at full at the latest. Exact within the
 * step: a long step is the same as many short ones. */
double steading_taper_charge_kw(const steading_taper *taper, double kwh, double most_kw,
                                double efficiency, double state_of_charge, double want_kw,
                                double hours);

/* --- losses by resistance, instead of an efficiency each way -------------------------------------
 */

/* A cell of `volts` (> 0, at any charge) behind `ohm` (>= 0). Power at the terminals is P, that of
 * the cell V I, lost R I^2. */
typedef struct steading_resistance {
  double volts, ohm;
} steading_resistance;

/* kW into the cell when charged at kw (>= 0); kW taken from the cell when it delivers kw, which is
 * at most steading_resistance_most_kw. */
double steading_resistance_stored_kw(const steading_resistance *resistance, double kw);
double steading_resistance_taken_kw(const steading_resistance *resistance, double kw);

/* The other way round: terminal power in for stored_kw (>= 0), and out of taken_kw (which gives
 * most at V^2 / 2R). */
double steading_resistance_in_kw(const steading_resistance *resistance, double stored_kw);
double steading_resistance_out_kw(const steading_resistance *resistance, double taken_kw);

/* V^2 / 4R, INFINITY without resistance. */
double steading_resistance_most_kw(const steading_resistance *resistance);

#endif
