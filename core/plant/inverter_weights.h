/* One number for an inverter's curve: its efficiencies weighted by how long it works at each share
 * of its rating. The European weights are those that data sheets print, made for central Europe;
 * those of the California Energy Commission (from memory) are for a sunnier place. */
#ifndef STEADING_PLANT_INVERTER_WEIGHTS_H
#define STEADING_PLANT_INVERTER_WEIGHTS_H

#include "plant/inverter.h"

/* 0.03, 0.06, 0.13, 0.10, 0.48, 0.20 at 5, 10, 20, 30, 50, 100 % of the rating. */
double steading_inverter_european_efficiency(const steading_inverter_curve *curve);

/* 0.04, 0.05, 0.12, 0.21, 0.53, 0.05 at 10, 20, 30, 50, 75, 100 % of the rating. */
double steading_inverter_californian_efficiency(const steading_inverter_curve *curve);

#endif
