/* What a module of crystalline silicon loses in low light.
 *
 * Huld, Friesen, Skoczek, Kenny, Sample, Field and Dunlop 2011, "A power-rating model for
 * crystalline silicon PV modules", Solar Energy Materials and Solar Cells 95, 3359-3369: efficiency
 * against that at 1000 W/m2 and 25 C, with L = ln(G / 1000) and t = T - 25,
 *
 *   eta = 1 + k1 L + k2 L^2 + t (k3 + k4 L + k5 L^2) + k6 t^2
 *
 * The whole polynomial brings a temperature coefficient of its own (k3 = -0.47 %/K). A module that
 * states one keeps it: then only the part without t is used, as a factor,
 *
 *   eta = (1 + s (k1 L + k2 L^2)) (1 + gamma t)
 *
 * which is Huld's at 25 C and the linear model at 1000 W/m2. A factor, not a sum: what a degree
 * takes is a share of what the module delivers in that light (Huld's k4 and k5 nearly say the same:
 * at 200 W/m2 the share is 0.49 %/K there and 0.47 here; a sum would have 0.51). The measure s is 1
 * for Huld's modules, and less for a module whose sheet says more at 200 W/m2.
 *
 * A curve of the one-diode model loses in low light by itself; this is not for beside it. */
#ifndef STEADING_PLANT_LOW_LIGHT_H
#define STEADING_PLANT_LOW_LIGHT_H

/* Coefficients of Huld et al. 2011, table 2, crystalline silicon (from memory). */
#define STEADING_HULD_K1 (-0.017162)
#define STEADING_HULD_K2 (-0.040289)
#define STEADING_HULD_K3 (-0.004681)
#define STEADING_HULD_K4 0.000148
#define STEADING_HULD_K5 0.000169
#define STEADING_HULD_K6 0.000005

/* The whole polynomial: efficiency against that at 1000 W/m2 and 25 C, at least 0; 0 where
 * w_per_m2 <= 0. `module_c` is the module's temperature. */
double steading_huld_efficiency(double w_per_m2, double module_c);

/* Its part without temperature, with measure s >= 0: at least 0, 1 at 1000 W/m2; 0 where
 * w_per_m2 <= 0. Costs a logarithm. */
double steading_low_light_efficiency(double w_per_m2, double s);

/* The measure s of a module whose efficiency at 200 W/m2 is at_200 of that at 1000 W/m2: 0 for
 * at_200 = 1, 1 for 0.9233. Above 1 it would be negative: at_200 0..1. */
double steading_low_light_measure(double at_200);

#endif
