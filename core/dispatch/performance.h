/* The figures by which a PV plant is compared with others: yields, ratios and losses of IEC 61724-1
 * (2017; equations from memory, the definitions also in Marion et al. 2005, NREL/CP-520-37358). */
#ifndef STEADING_DISPATCH_PERFORMANCE_H
#define STEADING_DISPATCH_PERFORMANCE_H

/* What a period of time adds up to. Energies in kWh, all at least 0 but `ac_kwh`, of which nothing
 * is asked. */
typedef struct steading_performance_sums {
  double kw;          /* of modules at standard test conditions, mean over the period */
  double hours;       /* of the period */
  double nominal_kwh; /* sum of P0 G / 1000 W/m2: what the light on the planes would give at it */
  double corrected_nominal_kwh; /* sum of C P0 G / 1000 W/m2, C = 1 + gamma (Tc - 25) of the step */
  double array_kwh;             /* DC energy that the arrays gave */
  double ac_kwh;                /* AC energy that the inverter gave, less what a charger brought */
} steading_performance_sums;

/* Yields and losses in h (kWh per kW), the others shares. NaN is 'no answer': nothing in service,
 * or no light. */
typedef struct steading_performance {
  double reference_yield_h;                       /* Yr = nominal / P0 */
  double array_yield_h;                           /* Ya = array / P0 */
  double final_yield_h;                           /* Yf = AC / P0 */
  double performance_ratio;                       /* Yf / Yr */
  double temperature_corrected_performance_ratio; /* AC / corrected nominal */
  double capture_loss_h, system_loss_h;           /* Yr - Ya, Ya - Yf */
  double capacity_factor;                         /* AC / (P0 hours) */
} steading_performance;

steading_performance steading_performance_of(const steading_performance_sums *sums);

#endif
