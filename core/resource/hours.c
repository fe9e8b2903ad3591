#include "resource/hours.h"

#include <math.h>
#include <stdbool.h>

static const double pi = 3.14159265358979323846;

steading_hour_law steading_hour_law_of(double k) {
  steading_hour_law law;
  law.lowest = -0.19 + 1.12 * k + 0.24 * exp(-8 * k);
  law.rise = 0.32 - 1.60 * (k - 0.50) * (k - 0.50);
  law.steepness = 0.19 + 2.27 * k * k - 2.51 * k * k * k;
  law.spread = 0.14 * exp(-20 * (k - 0.35) * (k - 0.35));
  law.growth = 3 * (k - 0.45) * (k - 0.45) + 16 * k * k * k * k * k;
  law.correlation = 0.38 + 0.06 * cos(7.4 * k - 2.5);
  return law;
}

double steading_hour_mean(const steading_hour_law *law, double sin_height) {
  return law->lowest + law->rise * exp(-law->steepness / sin_height);
}

double steading_hour_spread(const steading_hour_law *law, double sin_height) {
  return law->spread * exp(law->growth * (1 - sin_height));
}

double steading_hour_clearest(double solar_h) { return 0.88 * cos(pi * (solar_h - 12.5) / 30); }

/* All values at their most or above. */
static void fill_up(int n, const double *weight, const double *most, double total, double at_most,
                    double *value) {
  double all = 0, lift = 0;
  for (int i = 0; i < n; i++) all += weight[i];
  if (total < all) lift = (total - at_most) / (all - at_most);
  for (int i = 0; i < n; i++)
    value[i] = total < all ? most[i] + lift * (1 - most[i]) : all > 0 ? total / all : 0;
}

void steading_share_out(int n, const double *weight, const double *most, double total,
                        double *value) {
  double at_most = 0, sum = 0;
  for (int i = 0; i < n; i++) {
    at_most += weight[i] * most[i];
    sum += weight[i] * value[i];
  }
  if (total >= at_most) {
    fill_up(n, weight, most, total, at_most, value);
    return;
  }
  if (sum <= 0) { /* nothing to multiply */
    for (int i = 0; i < n; i++) value[i] = most[i] * total / at_most;
    return;
  }
  for (int i = 0; i < n; i++) value[i] *= total / sum;
  for (bool over = true; over;) { /* every round but the last fixes one value at its most */
    double fixed = 0, loose = 0;
    over = false;
    for (int i = 0; i < n; i++) {
      over = over || value[i] > most[i];
      value[i] = fmin(value[i], most[i]);
      if (value[i] >= most[i])
        fixed += weight[i] * most[i];
      else
        loose += weight[i] * value[i];
    }
    if (!over) return;
    if (loose <= 0) break;
    for (int i = 0; i < n; i++)
      if (value[i] < most[i]) value[i] *= (total - fixed) / loose;
  }
  /* what is left has no light of its own to multiply */
  sum = 0;
  for (int i = 0; i < n; i++) sum += weight[i] * value[i];
  for (int i = 0; i < n; i++) value[i] += (most[i] - value[i]) * (total - sum) / (at_most - sum);
}
