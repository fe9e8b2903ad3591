#include "resource/air.h"

#include <math.h>

#include "calendar.h"
#include "random.h"

static const double pi = 3.14159265358979323846;

double steading_temp_shape(double clock_h) {
  double t = 2 * pi * (clock_h - 1) / 24;
  return 0.4632 * cos(t - 3.805) + 0.0984 * cos(2 * t - 0.360) + 0.0168 * cos(3 * t - 0.822) +
         0.0138 * cos(4 * t - 3.513);
}

double steading_span_curve(double start, double mean, double end, double along) {
  double middle = 2 * mean - (start + end) / 2;
  return along < 0.5 ? start + (middle - start) * 2 * along
                     : middle + (end - middle) * (2 * along - 1);
}

double steading_month_curve(const double months[12], double day) {
  int month = 0;
  while (month < 11 && day >= steading_days_before_month[month + 1]) month++;
  double first = steading_days_before_month[month];
  double length = steading_days_before_month[month + 1] - first;
  double here = months[month];
  return steading_span_curve((months[(month + 11) % 12] + here) / 2, here,
                             (here + months[(month + 1) % 12]) / 2, (day - first) / length);
}

double steading_temp_month_spread(double month_mean_c, const double months[12]) {
  double mean = 0, squares = 0;
  for (int m = 0; m < 12; m++) mean += months[m] / 12;
  for (int m = 0; m < 12; m++) squares += (months[m] - mean) * (months[m] - mean) / 12;
  return fmax(0, 1.45 - 0.0290 * month_mean_c + 0.0664 * sqrt(squares));
}

double steading_temp_day_spread(double month_spread_k, int days) {
  return month_spread_k * sqrt(days) * pi / (sqrt(3) * 3.396);
}

static double range_of(double clearness) { return 25.8 * clearness - 5.21; }

double steading_temp_range_share(double clearness, double month_clearness) {
  return fmax(range_of(clearness), 0.3 * range_of(fmax(month_clearness, 0.3)));
}

/* Mean of the days' highest less lowest hour when the shape has `range_k`: over the middles of
 * equally likely parts of the two slopes, before and after noon. */
static double mean_range(double range_k, double noon_spread_k, int count, const double *weight,
                         const double *factor) {
  enum { PARTS = 8 };
  /* of the differences of a first-order process: their spread, and their correlation */
  const double slope = noon_spread_k * sqrt(2 * (1 - STEADING_NOON_CORRELATION)) / 24;
  const double r = -(1 - STEADING_NOON_CORRELATION) / 2, fresh = sqrt(1 - r * r);
  double shape[24], normal[PARTS], squares = 0, sum = 0;
  for (int h = 0; h < 24; h++) shape[h] = range_k * steading_temp_shape(h + 0.5);
  for (int i = 0; i < PARTS; i++) normal[i] = steading_normal_quantile((i + 0.5) / PARTS);
  for (int i = 0; i < PARTS; i++) squares += normal[i] * normal[i] / PARTS;
  for (int i = 0; i < PARTS; i++) normal[i] /= sqrt(squares);
  for (int c = 0; c < count; c++)
    for (int i = 0; i < PARTS; i++)
      for (int j = 0; j < PARTS; j++) {
        double before = slope * normal[i], after = slope * (r * normal[i] + fresh * normal[j]);
        double low = HUGE_VAL, high = -HUGE_VAL;
        for (int h = 0; h < 24; h++) {
          double t = factor[c] * shape[h] + (h < 12 ? before : after) * (h - 11.5);
          low = t < low ? t : low;
          high = t > high ? t : high;
        }
        sum += weight[c] * (high - low);
      }
  return sum / (PARTS * PARTS);
}

double steading_temp_shape_range(double range_k, double noon_spread_k, int count,
                                 const double *weight, const double *factor) {
  double made = range_k;
  for (int i = 0; i < 8; i++) /* the mean rises a little less than the shape's range */
    made = fmax(0, made + range_k - mean_range(made, noon_spread_k, count, weight, factor));
  return made;
}

double steading_wind_scale(double mean_m_per_s, double shape) {
  return mean_m_per_s / tgamma(1 + 1 / shape);
}

double steading_wind_speed(double scale_m_per_s, double shape, double z) {
  return scale_m_per_s * pow(-log(0.5 * erfc(z / sqrt(2))), 1 / shape);
}

double steading_wind_cycle(double clock_h) { return 1 + 0.4 * steading_temp_shape(clock_h); }
