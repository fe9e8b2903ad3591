#include "reference_year.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

static const double degree = M_PI / 180;

/* Lehmer's generator with the multiplier of Park and Miller 1988 ("minimal standard"). */
static double next_random(int64_t *state) {
  *state = *state * 16807 % 2147483647;
  return (double)*state / 2147483647;
}

/* To three decimals by way of text: rounded as a table's reader would see it. */
static double rounded(double value) {
  char text[40];
  snprintf(text, sizeof text, "%.3f", value);
  return strtod(text, NULL);
}

static double square(double x) { return x * x; }

void reference_year(double pv_kw[REFERENCE_HOURS], double load_kw[REFERENCE_HOURS]) {
  const double latitude = 33.4 * degree;
  int64_t state = 20250101;
  double cloud = 0.8;
  for (int h = 0; h < REFERENCE_HOURS; h++) {
    int day = h / 24, hour = h % 24;
    double declination = -23.45 * cos(2 * M_PI * (day + 10) / 365) * degree;
    double angle = 15 * (hour + 0.5 - 12) * degree;
    double height =
        sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(angle);
    double season = 1 + 0.5 * cos(2 * M_PI * (day - 200) / 365), pv = 0;
    if (hour == 0)
      cloud = 0.15 + 0.85 * fmin(1, fmax(0, 0.6 * cloud + 0.9 * (next_random(&state) - 0.15)));
    if (height > 0) pv = fmax(0, 5 * height * cloud * (0.85 + 0.15 * next_random(&state)));
    pv_kw[h] = rounded(pv);
    load_kw[h] =
        rounded(0.35 + 0.9 * exp(-square((hour - 7) / 1.6)) +
                1.7 * exp(-square((hour - 19) / 2.4)) * season +
                0.4 * season * exp(-square((hour - 14) / 3.0)) + 0.25 * next_random(&state));
  }
}
