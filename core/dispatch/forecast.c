#include "dispatch/forecast.h"

/* The mean of each hour of the day in each month, and how many steps there are of it. */
typedef struct climate {
  double kw[12][24];
  size_t steps[12][24];
} climate;

static climate climate_of(const double *pv_kw, size_t steps, size_t an_hour,
                          const steading_civil_step *civil) {
  climate c = {.steps = {{0}}};
  for (size_t k = 0; k < steps; k++) {
    size_t month = civil[k].standard_month - 1u, hour = k / an_hour % 24;
    c.kw[month][hour] += pv_kw[k];
    c.steps[month][hour]++;
  }
  for (size_t m = 0; m < 12; m++)
    for (size_t h = 0; h < 24; h++)
      if (c.steps[m][h] > 0) c.kw[m][h] /= (double)c.steps[m][h];
  return c;
}

void steading_forecast_year(const double *pv_kw, size_t steps, int step_minutes,
                            const steading_civil_step *civil, size_t ahead, double skill,
                            double *sums, double *kwh) {
  const size_t an_hour = 60u / (size_t)step_minutes;
  const double h = step_minutes / 60.0;
  climate c = climate_of(pv_kw, steps, an_hour, civil);
  sums[0] = 0;
  for (size_t k = 0; k < steps; k++) {
    double mean = c.kw[civil[k].standard_month - 1][k / an_hour % 24];
    sums[k + 1] = sums[k] + (skill * pv_kw[k] + (1 - skill) * mean);
  }
  for (size_t k = 0; k < steps; k++) {
    size_t end = k + ahead;
    double sum = end <= steps ? sums[end] - sums[k] : sums[steps] - sums[k] + sums[end - steps];
    kwh[k] = sum * h;
  }
}
