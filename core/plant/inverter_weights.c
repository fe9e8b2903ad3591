#include "plant/inverter_weights.h"

typedef struct weight {
  double weight, share;
} weight;

static const weight european[6] = {{0.03, 0.05}, {0.06, 0.1}, {0.13, 0.2},
                                   {0.10, 0.3},  {0.48, 0.5}, {0.20, 1}};
static const weight californian[6] = {{0.04, 0.1}, {0.05, 0.2},  {0.12, 0.3},
                                      {0.21, 0.5}, {0.53, 0.75}, {0.05, 1}};

static double weighted(const steading_inverter_curve *curve, const weight *rows) {
  double sum = 0;
  for (int i = 0; i < 6; i++)
    sum += rows[i].weight * steading_inverter_efficiency(curve, rows[i].share * curve->rating_kw);
  return sum;
}

double steading_inverter_european_efficiency(const steading_inverter_curve *curve) {
  return weighted(curve, european);
}

double steading_inverter_californian_efficiency(const steading_inverter_curve *curve) {
  return weighted(curve, californian);
}
