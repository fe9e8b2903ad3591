/* The one-diode model of a PV module: its current-voltage curve in any light at any cell
 * temperature, from five numbers.
 *
 *   I = light - dark [exp((V + I series) / slope) - 1] - (V + I series) shunt
 *
 * The curve is worked with through the voltage of the junction, x = V + I series: I(x) needs one
 * exponential and V = x - I(x) series, so that every point is found by a Newton iteration of one
 * exponential a step that starts from a bound and cannot overflow. Current falls with voltage and
 * is concave in it; hence there is one maximum power point, and Newton from the right of a root
 * comes down to it without passing it.
 *
 * From a data sheet: De Soto, Klein and Beckman 2006, "Improvement and validation of a model for
 * photovoltaic array performance", Solar Energy 80, 78-88. Five conditions: short circuit, open
 * circuit, maximum power point, no slope of power there, and open circuit at another temperature.
 * With slope and series resistance given, the first three are linear in light, dark and shunt; the
 * fourth then is one equation for the series resistance and the fifth one for the slope. Both are
 * solved within brackets, so that no starting values are needed.
 *
 * To another light and temperature, their eqs. 8 to 12, with the band gap of silicon:
 *   slope ~ T, dark ~ T^3 exp(-Eg / kT), Eg = 1.121 eV [1 - 0.0002677 (T - 298.15 K)],
 *   light ~ G [light + change of isc (T - 298.15 K)], shunt ~ G, series the same.
 * Parameter sets of other papers that hold at one temperature only must not be taken to another one
 * with these equations: a set with an ideality chosen beforehand has another dark(T). */
#ifndef STEADING_PLANT_ONE_DIODE_H
#define STEADING_PLANT_ONE_DIODE_H

#include <stdbool.h>

#include "status.h"

/* A curve: one module at one light and one cell temperature. */
typedef struct steading_diode_curve {
  double light_a;    /* photocurrent, >= 0 */
  double dark_a;     /* saturation current of the diode, > 0 */
  double series_ohm; /* >= 0 */
  double shunt_s;    /* conductance beside the diode, >= 0: one over the shunt resistance */
  double slope_v;    /* ideality x cells in series x kT/q, > 0 */
} steading_diode_curve;

/* A module: its curve at 1000 W/m2 and 25 C, and how its short-circuit current changes. */
typedef struct steading_diode_module {
  steading_diode_curve reference;
  double isc_a_per_c;
} steading_diode_module;

/* What a data sheet says, at 1000 W/m2 and 25 C. */
typedef struct steading_diode_sheet {
  double isc_a, voc_v, imp_a, vmp_v; /* > 0 */
  double isc_a_per_c;                /* change of isc with cell temperature, A/K */
  double voc_v_per_c;                /* change of voc with cell temperature, V/K; < 0 */
  double cells;                      /* in series, >= 1 (of a module of half cells: half of them) */
} steading_diode_sheet;

/* Fit a module to its sheet. The curve passes through the three points within 1e-9 of isc.
 * BAD_INPUT where no set with dark > 0, series >= 0 and shunt >= 0 exists, or where its diode would
 * have an ideality outside 0.6..2; the error's path is `path` and the field to look at
 * ('<path>.vmp_v'). */
steading_status steading_diode_fit(const steading_diode_sheet *sheet, const char *path,
                                   steading_diode_module *module, steading_error *error);

/* The curve at a light on the cells of w_per_m2 (after reflection; below 0 counts as 0) and a cell
 * temperature of -100..200 C. In the dark a module keeps its diode: a brighter string beside it
 * drives current through it. */
void steading_diode_at(const steading_diode_module *module, double w_per_m2, double cell_c,
                       steading_diode_curve *curve);

/* Current at a voltage, A; negative above the open-circuit voltage. For a curve without series
 * resistance the exponent is held at 600 (its current is then beyond any meaning). */
double steading_diode_current_a(const steading_diode_curve *curve, double volts);

/* Voltage at a current, V. False, and nothing written, where the curve has none: without shunt no
 * voltage carries light + dark or more. Currents above isc give negative voltages. */
bool steading_diode_voltage_v(const steading_diode_curve *curve, double amps, double *volts);

/* Short-circuit current and open-circuit voltage; 0 in the dark (light below 1e-6 of `dark_a`). */
double steading_diode_isc_a(const steading_diode_curve *curve);
double steading_diode_voc_v(const steading_diode_curve *curve);

typedef struct steading_diode_peak {
  double imp_a, vmp_v, pmp_w; /* all 0 in the dark */
} steading_diode_peak;

/* The maximum power point: power to 1e-12 of itself, current and voltage to about 1e-8. Usually two
 * logarithms and two or three exponentials. */
void steading_diode_peak_of(const steading_diode_curve *curve, steading_diode_peak *peak);

/* A point of the curve with two derivatives by voltage, for those who add curves up. `junction_v`
 * is where the search starts and takes the junction's voltage found (HUGE_VAL: no idea yet); a good
 * start saves time only. */
typedef struct steading_diode_point {
  double amps, amps_per_v, amps_per_v2; /* the derivatives are negative: the curve is concave */
} steading_diode_point;
void steading_diode_point_at(const steading_diode_curve *curve, double volts, double *junction_v,
                             steading_diode_point *point);

#endif
