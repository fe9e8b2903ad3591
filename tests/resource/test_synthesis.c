#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/sky.h"
#include "resource/synthesis.h"
#include "resource/weather.h"
#include "suites.h"

static const double pi = 3.14159265358979323846;

/* Golden, Colorado: monthly means of the typical year of station 724666 (NREL 2008, TMY3), daily
 * ranges of ASHRAE 2009. */
static steading_climate golden(int years, uint64_t seed) {
  steading_climate climate = {
      .place = {39.733, -105.167, 1829, -7},
      .ghi_kwh_per_m2_day = {2.317, 3.049, 4.701, 5.685, 6.114, 6.262, 6.175, 5.892, 4.929, 3.482,
                             2.881, 1.701},
      .temp_mean_c = {1.1, -1.3, 3.2, 8.4, 13.1, 18.8, 20.8, 21.5, 17.0, 9.4, 2.6, 1.8},
      .temp_range_c = {12.9, 13.1, 13.7, 13.6, 14.1, 15.1, 15.2, 14.3, 14.8, 14.6, 13.5, 12.6},
      .years = years,
      .seed = seed};
  return climate;
}

/* Lethbridge, Alberta: monthly means of the typical year of station 712430. */
static void go_to_lethbridge(steading_climate *climate) {
  static const double ghi[12] = {1.417, 2.491, 3.777, 5.061, 5.946, 6.647,
                                 7.259, 5.965, 4.186, 3.075, 1.645, 1.174};
  climate->place = (steading_place){49.617, -112.8, 921, -7};
  memcpy(climate->ghi_kwh_per_m2_day, ghi, sizeof ghi);
}

/* A hill in Baden, Germany: monthly means of a satellite climatology, 2001-2020. */
static void go_to_baden(steading_climate *climate) {
  static const double ghi[12] = {1.00, 1.76, 3.04, 4.46, 5.21, 5.87,
                                 5.67, 4.83, 3.72, 2.20, 1.15, 0.81};
  climate->place = (steading_place){48.066, 7.923, 702, 1};
  memcpy(climate->ghi_kwh_per_m2_day, ghi, sizeof ghi);
}

static steading_weather *made(const steading_climate *climate) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_status status = steading_weather_synthesize(climate, &weather, &error);
  ck_assert_msg(status == STEADING_OK, "%s: %s", error.path, error.text);
  ck_assert_ptr_nonnull(weather);
  return weather;
}

static int days_of(int month) {
  return steading_days_before_month[month + 1] - steading_days_before_month[month];
}

/* Mean over a month's hours of one year. */
static double month_mean(const double *values, size_t year, int month) {
  double sum = 0;
  for (int h = steading_days_before_month[month] * 24;
       h < steading_days_before_month[month + 1] * 24; h++) {
    sum += values[year * STEADING_HOURS_PER_YEAR + (size_t)h];
  }
  return sum / (days_of(month) * 24);
}

/* What reaches the top of the atmosphere over a day, Wh/m2 on the horizontal. */
static double outside_of_day(const steading_weather *weather, int day) {
  double sum = 0;
  for (int h = day * 24; h < day * 24 + 24; h++) {
    const steading_sun_step *sun = &weather->sun[h];
    sum += sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
  }
  return sum;
}

static double clearness_of_day(const steading_weather *weather, size_t year, int day) {
  double sum = 0;
  for (int h = day * 24; h < day * 24 + 24; h++) {
    sum += weather->ghi_w_per_m2[year * STEADING_HOURS_PER_YEAR + (size_t)h];
  }
  return sum / outside_of_day(weather, day);
}

/* ---- parts ---- */

/* Bendt, Collares-Pereira and Rabl 1981 with the limits of Hollands and Huget 1983 and the gamma of
 * Herzog 1985 (constants from memory), evaluated by an independent program: mean clearness, upper
 * limit, quantiles of 10, 50 and 90 %. Herzog's gamma returns the mean to 0.002 only, ours exactly;
 * no quantile of an exponential between fixed limits moves more than twice as far as its mean. */
START_TEST(daily_clearness_has_the_published_distribution) {
  static const double rows[][5] = {{0.3, 0.6914, 0.087, 0.270, 0.572},
                                   {0.4, 0.7354, 0.123, 0.403, 0.671},
                                   {0.5, 0.7646, 0.202, 0.541, 0.728},
                                   {0.6, 0.7915, 0.346, 0.647, 0.769},
                                   {0.7, 0.8182, 0.549, 0.737, 0.806}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    steading_clearness clearness = steading_clearness_of_month(rows[i][0]);
    ck_assert_double_eq(clearness.lowest, 0.05);
    ck_assert_double_eq_tol(clearness.highest, rows[i][1], 0.00006);
    ck_assert_double_eq_tol(steading_clearness_quantile(&clearness, 0.1), rows[i][2], 0.0045);
    ck_assert_double_eq_tol(steading_clearness_quantile(&clearness, 0.5), rows[i][3], 0.0045);
    ck_assert_double_eq_tol(steading_clearness_quantile(&clearness, 0.9), rows[i][4], 0.0045);
  }
}
END_TEST

/* Herzog 1985 (from memory): gamma = -1.498 + (1.184 x - 27.182 exp(-1.5 x)) / (Kmax - Kmin),
 * x = (Kmax - Kmin) / (Kmax - mean). Both gammas have to give means within the 0.002 that Herzog's
 * fit is good for; mean of the density exp(gamma K) in closed form. */
START_TEST(the_solved_gamma_agrees_with_the_fit_of_herzog) {
  for (double mean = 0.30; mean < 0.705; mean += 0.02) {
    steading_clearness clearness = steading_clearness_of_month(mean);
    double width = clearness.highest - 0.05, x = width / (clearness.highest - mean);
    double herzog = -1.498 + (1.184 * x - 27.182 * exp(-1.5 * x)) / width;
    double by_herzog = 0.05 + width / (1 - exp(-herzog * width)) - 1 / herzog;
    double by_ours = 0.05 + width / (1 - exp(-clearness.gamma * width)) - 1 / clearness.gamma;
    ck_assert_double_eq_tol(by_ours, mean, 1e-9);
    ck_assert_double_eq_tol(by_herzog, by_ours, 0.002);
  }
}
END_TEST

/* The mean of the quantiles is the mean, over the whole range that is accepted; 20000 midpoints of
 * a function that rises by less than 0.8 are good to 0.8 / 20000. Quantiles rise within the limits.
 */
START_TEST(the_mean_of_daily_clearness_is_the_mean_of_the_month) {
  enum { N = 20000 };
  for (double mean = 0.05; mean <= 0.8; mean += 0.025) {
    steading_clearness clearness = steading_clearness_of_month(fmin(mean, 0.8));
    double sum = 0, before = clearness.lowest;
    for (int i = 0; i < N; i++) {
      double value = steading_clearness_quantile(&clearness, (i + 0.5) / N);
      ck_assert(value >= before && value <= clearness.highest);
      before = value;
      sum += value;
    }
    ck_assert_double_eq_tol(sum / N, mean, 0.8 / N);
    ck_assert_double_eq_tol(steading_clearness_quantile(&clearness, 0), clearness.lowest, 1e-9);
    ck_assert_double_eq_tol(steading_clearness_quantile(&clearness, 1), clearness.highest, 1e-9);
  }
}
END_TEST

/* Collares-Pereira and Rabl 1979 (constants from memory), evaluated by an independent program:
 * share of the day's global in an hour, rt, by sunset angle and hour angle. rt is the ratio times
 * the share of the extraterrestrial, rd, of Liu and Jordan 1960. */
START_TEST(hours_have_the_published_share_of_the_day) {
  static const double angles[5] = {7.5, 22.5, 37.5, 52.5, 67.5};
  static const double rows[5][6] = {{70, 0.1742, 0.1504, 0.1081, 0.0567, 0.0073},
                                    {80, 0.1549, 0.1376, 0.1066, 0.0678, 0.0284},
                                    {90, 0.1400, 0.1270, 0.1033, 0.0731, 0.0412},
                                    {100, 0.1282, 0.1181, 0.0995, 0.0753, 0.0490},
                                    {110, 0.1188, 0.1107, 0.0957, 0.0759, 0.0539}};
  for (int i = 0; i < 5; i++) {
    double ws = rows[i][0] * pi / 180;
    for (int k = 0; k < 5; k++) {
      double w = angles[k] * pi / 180;
      double rd = pi / 24 * (cos(w) - cos(ws)) / (sin(ws) - ws * cos(ws));
      ck_assert_double_eq_tol(steading_hour_clearness_ratio(ws, cos(w)) * rd, rows[i][k + 1],
                              0.00006);
    }
  }
}
END_TEST

/* Erbs 1984 shape (constants from memory), hours 1 to 24, by an independent program: they sum to 0
 * and span 0.9758, the largest at 15 h, the smallest at 6 h. */
START_TEST(the_day_of_temperature_has_the_published_shape) {
  static const double rows[24] = {-0.2743, -0.3232, -0.3682, -0.4116, -0.4462, -0.4513,
                                  -0.4025, -0.2895, -0.1271, 0.0514,  0.2125,  0.3396,
                                  0.4328,  0.4959,  0.5245,  0.5067,  0.4357,  0.3223,
                                  0.1926,  0.0738,  -0.0209, -0.0950, -0.1590, -0.2190};
  double sum = 0, middles = 0, low = 0, high = 0;
  for (int t = 1; t <= 24; t++) {
    double value = steading_temp_shape(t);
    ck_assert_double_eq_tol(value, rows[t - 1], 0.00006);
    sum += value;
    middles += steading_temp_shape(t - 0.5);
    low = fmin(low, value);
    high = fmax(high, value);
  }
  ck_assert_double_eq_tol(sum, 0, 1e-12);
  ck_assert_double_eq_tol(middles, 0, 1e-12);
  ck_assert_double_eq_tol(high - low, 0.9758, 0.0001);
  ck_assert_double_eq(high, steading_temp_shape(15));
  ck_assert_double_eq(low, steading_temp_shape(6));
}
END_TEST

/* The header's promise: the mean of each month, and no jump where months meet. */
START_TEST(the_curve_of_months_keeps_their_means_and_has_no_jumps) {
  steading_climate climate = golden(1, 1);
  for (int m = 0; m < 12; m++) {
    double sum = 0, end = steading_days_before_month[m + 1];
    for (int h = steading_days_before_month[m] * 24; h < steading_days_before_month[m + 1] * 24;
         h++) {
      sum += steading_month_curve(climate.temp_mean_c, (h + 0.5) / 24);
    }
    ck_assert_double_eq_tol(sum / (days_of(m) * 24), climate.temp_mean_c[m], 1e-9);
    ck_assert_double_eq_tol(steading_month_curve(climate.temp_mean_c, end - 1e-9),
                            steading_month_curve(climate.temp_mean_c, fmod(end, 365) + 1e-9), 1e-6);
  }
}
END_TEST

/* ---- the whole ---- */

/* Sampling: a month's mean clearness over n days of a first-order process has the variance s^2 / n
 * (1 + r) / (1 - r), r = 0.29 at most (a monotone map of a Gaussian process lowers it). s is the
 * standard deviation of the distribution itself, by its quantiles. Four of these, for 12 months,
 * are exceeded once in 1300 seeds. */
START_TEST(monthly_means_of_two_hundred_years_are_those_given) {
  steading_climate climate = golden(200, 11);
  steading_weather *weather = made(&climate);
  for (int m = 0; m < 12; m++) {
    double sum = 0, outside = 0, mean = 0, squares = 0, deviation = 0, allowed = 0;
    steading_clearness clearness;
    for (size_t y = 0; y < 200; y++) sum += month_mean(weather->ghi_w_per_m2, y, m) * 24 / 200;
    for (int d = steading_days_before_month[m]; d < steading_days_before_month[m + 1]; d++) {
      outside += outside_of_day(weather, d) / days_of(m);
    }
    mean = climate.ghi_kwh_per_m2_day[m] * 1000 / outside;
    clearness = steading_clearness_of_month(mean);
    for (int i = 0; i < 1000; i++) {
      double k = steading_clearness_quantile(&clearness, (i + 0.5) / 1000);
      squares += (k - mean) * (k - mean) / 1000;
    }
    deviation = sqrt(squares);
    allowed = 4 * deviation * outside * sqrt(1.29 / 0.71 / (200 * days_of(m)));
    ck_assert_double_eq_tol(sum, climate.ghi_kwh_per_m2_day[m] * 1000, allowed);
  }
  steading_weather_release(weather);
}
END_TEST

/* Independent inverse: K back to the share of days u by the distribution function of Bendt et al.,
 * u back to z by bisection on the C library's erfc. Lag-1 0.29 (Graham, Hollands and Huget 1988):
 * standard error sqrt((1 - 0.29^2) / n); variance of z: sqrt(2 / n (1 + r^2) / (1 - r^2)). Four of
 * each. */
START_TEST(days_follow_each_other_with_the_published_correlation) {
  enum { YEARS = 60, N = YEARS * STEADING_DAYS_PER_YEAR };
  static double z[N];
  steading_climate climate = golden(YEARS, 5);
  steading_weather *weather = made(&climate);
  double sum = 0, squares = 0, products = 0;
  for (int i = 0; i < N; i++) {
    int day = i % STEADING_DAYS_PER_YEAR, month = 0, day_of_month = 0;
    double outside = 0, k = clearness_of_day(weather, (size_t)(i / STEADING_DAYS_PER_YEAR), day);
    double u = 0, low = -9, high = 9;
    steading_clearness c;
    steading_month_of_day(day, &month, &day_of_month);
    for (int d = steading_days_before_month[month - 1]; d < steading_days_before_month[month];
         d++) {
      outside += outside_of_day(weather, d) / days_of(month - 1);
    }
    c = steading_clearness_of_month(climate.ghi_kwh_per_m2_day[month - 1] * 1000 / outside);
    u = (exp(c.gamma * c.lowest) - exp(c.gamma * k)) /
        (exp(c.gamma * c.lowest) - exp(c.gamma * c.highest));
    for (int b = 0; b < 60; b++) {
      double middle = (low + high) / 2;
      if (0.5 * erfc(-middle / sqrt(2)) < u) {
        low = middle;
      } else {
        high = middle;
      }
    }
    z[i] = low;
  }
  for (int i = 0; i < N; i++) {
    sum += z[i];
    squares += z[i] * z[i];
    if (i > 0) products += z[i] * z[i - 1];
  }
  ck_assert_double_eq_tol(products / squares, 0.29, 4 * sqrt((1 - 0.29 * 0.29) / N));
  ck_assert_double_eq_tol(sum / N, 0, 4 * sqrt(1.29 / 0.71 / N));
  ck_assert_double_eq_tol(squares / N, 1,
                          4 * sqrt(2.0 / N * (1 + 0.29 * 0.29) / (1 - 0.29 * 0.29)));
  steading_weather_release(weather);
}
END_TEST

static void check_exact(const steading_climate *climate) {
  steading_weather *weather = made(climate);
  for (size_t y = 0; y < weather->years; y++) {
    for (int m = 0; m < 12; m++) {
      double given = climate->ghi_kwh_per_m2_day[m];
      ck_assert_double_eq_tol(month_mean(weather->ghi_w_per_m2, y, m) * 24 / 1000, given,
                              1e-6 * given);
      ck_assert_double_eq_tol(month_mean(weather->temp_c, y, m), climate->temp_mean_c[m], 1e-6);
    }
    for (int d = 0; d < STEADING_DAYS_PER_YEAR; d++) {
      double k = clearness_of_day(weather, y, d);
      ck_assert(k > 0.02 && k < 0.846); /* the limits of the distribution */
    }
  }
  steading_weather_release(weather);
}

START_TEST(exact_months_are_exact_and_no_day_becomes_impossible) {
  steading_climate climate = golden(30, 3);
  climate.exact_months = true;
  check_exact(&climate);
  climate.place.latitude_deg = -39.733; /* the seasons turned round */
  for (int m = 0; m < 12; m++) {
    climate.ghi_kwh_per_m2_day[m] = golden(1, 1).ghi_kwh_per_m2_day[(m + 6) % 12];
  }
  check_exact(&climate);
}
END_TEST

/* Physics, and what the header of weather promises, at hot, cold, dull and bright places. */
static void check_physics(const steading_climate *climate) {
  steading_weather *weather = made(climate);
  ck_assert_uint_eq(weather->steps, weather->years * STEADING_HOURS_PER_YEAR);
  for (size_t i = 0; i < weather->steps; i++) {
    const steading_sun_step *sun = &weather->sun[i % STEADING_HOURS_PER_YEAR];
    double ghi = weather->ghi_w_per_m2[i], dhi = weather->dhi_w_per_m2[i];
    double dni = weather->dni_w_per_m2[i], temp = weather->temp_c[i];
    double outside = sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
    if (!(ghi >= 0 && dhi >= 0 && dni >= 0 && dhi <= ghi) || !isfinite(ghi + dni + temp) ||
        ghi > 0.85 * outside * (1 + 1e-9) || fabs(dhi + dni * sun->up - ghi) > 1e-9 ||
        (ghi > 0 && fabs(dhi - ghi * steading_sky_diffuse_fraction(ghi / outside)) > 1e-9) ||
        dni > sun->extraterrestrial_w_per_m2) {
      ck_abort_msg("step %zu: ghi %g dhi %g dni %g up %g outside %g temp %g", i, ghi, dhi, dni,
                   sun->up, outside, temp);
    }
  }
  ck_assert_uint_eq(weather->note_count, 1);
  ck_assert_str_eq(weather->source, "synthesized");
  ck_assert_str_eq(weather->time_zone, "");
  steading_weather_release(weather);
}

START_TEST(no_hour_is_negative_brighter_than_a_sky_or_out_of_balance) {
  steading_climate climate = golden(20, 8);
  check_physics(&climate);
  go_to_lethbridge(&climate);
  check_physics(&climate);
  go_to_baden(&climate);
  check_physics(&climate);
  climate.exact_months = true;
  for (int m = 0; m < 12; m++) climate.ghi_kwh_per_m2_day[m] *= 0.35; /* invented: very dull */
  check_physics(&climate);
  climate.place = (steading_place){-23.795, 133.889, 546, 9.5};
  for (int m = 0; m < 12; m++) climate.ghi_kwh_per_m2_day[m] = 4.8; /* invented: clear June */
  check_physics(&climate);
}
END_TEST

/* Published mean hourly global of Golden in April (typical year of station 724666, hours ending 1
 * to 24, Wh/m2), which the shares of Collares-Pereira and Rabl meet with a root mean square of
 * about 22 (independent program; Golden's afternoons are cloudier than its mornings). Sampling adds
 * about 600 * 0.3 / sqrt(50 * 30) = 5. */
START_TEST(the_mean_day_of_april_looks_like_a_measured_one) {
  static const double measured[24] = {0,   0,   0,   0,   0,   7,   142, 308, 469, 579, 657, 738,
                                      729, 677, 534, 441, 288, 109, 7,   0,   0,   0,   0,   0};
  steading_climate climate = golden(50, 2);
  steading_weather *weather = made(&climate);
  double squares = 0;
  for (int h = 0; h < 24; h++) {
    double sum = 0;
    for (size_t y = 0; y < 50; y++) {
      for (int d = steading_days_before_month[3]; d < steading_days_before_month[4]; d++) {
        sum += weather->ghi_w_per_m2[y * STEADING_HOURS_PER_YEAR + (size_t)(d * 24 + h)];
      }
    }
    squares += pow(sum / (50 * 30) - measured[h], 2) / 24;
  }
  ck_assert_double_le(sqrt(squares), 22 + 5);
  steading_weather_release(weather);
}
END_TEST

START_TEST(the_warmest_hour_is_mid_afternoon_and_the_range_is_the_one_given) {
  steading_climate climate = golden(1, 1);
  steading_weather *weather = NULL;
  for (int m = 0; m < 12; m++) {
    climate.temp_mean_c[m] = 10;
    climate.temp_range_c[m] = 12;
  }
  weather = made(&climate);
  for (int d = 0; d < 365; d += 13) {
    const double *t = weather->temp_c + d * 24;
    int warmest = 0, coldest = 0;
    for (int h = 1; h < 24; h++) {
      if (t[h] > t[warmest]) warmest = h;
      if (t[h] < t[coldest]) coldest = h;
    }
    ck_assert(warmest == 14 || warmest == 15); /* the hours around 15 h */
    ck_assert(coldest == 4 || coldest == 5);   /* around 6 h, rather before than after */
    /* The shape spans 0.9758 of the range at full hours; means of hours see at most that. */
    ck_assert_double_eq_tol(t[warmest] - t[coldest], 12 * 0.9758, 12 * 0.015);
  }
  steading_weather_release(weather);
}
END_TEST

static bool same(const double *a, const double *b, size_t count) {
  return memcmp(a, b, count * sizeof *a) == 0;
}

START_TEST(the_same_seed_gives_the_same_bytes_and_more_years_change_none) {
  steading_climate climate = golden(3, 77);
  steading_weather *first = made(&climate), *again = made(&climate), *longer = NULL, *other = NULL;
  size_t n = first->steps;
  climate.years = 5;
  longer = made(&climate);
  climate.seed = 78;
  other = made(&climate);
  ck_assert(same(first->ghi_w_per_m2, again->ghi_w_per_m2, n));
  ck_assert(same(first->dhi_w_per_m2, again->dhi_w_per_m2, n));
  ck_assert(same(first->dni_w_per_m2, again->dni_w_per_m2, n));
  ck_assert(same(first->temp_c, again->temp_c, n));
  ck_assert(same(first->ghi_w_per_m2, longer->ghi_w_per_m2, n));
  ck_assert(!same(first->ghi_w_per_m2, other->ghi_w_per_m2, n));
  ck_assert(!same(first->ghi_w_per_m2, first->ghi_w_per_m2 + 8760, 8760));
  steading_weather_release(first);
  steading_weather_release(again);
  steading_weather_release(longer);
  steading_weather_release(other);
}
END_TEST

/* ---- refusals ---- */

static void check_refused(const steading_climate *climate, const char *path, const char *text) {
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  ck_assert_int_eq(steading_weather_synthesize(climate, &weather, &error), STEADING_BAD_INPUT);
  ck_assert_ptr_null(weather);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, text) != NULL, "\"%s\" is not in \"%s\"", text, error.text);
}

START_TEST(months_that_no_sky_can_give_are_refused_by_name) {
  steading_climate climate = golden(1, 1);
  climate.ghi_kwh_per_m2_day[11] = 9.1;
  check_refused(&climate, "ghi_kwh_per_m2_day[12]", "9.1 is above");
  climate = golden(1, 1);
  climate.ghi_kwh_per_m2_day[5] = 0.4; /* June at 40 degrees: H0 11.6, a clearness of 0.03 */
  check_refused(&climate, "ghi_kwh_per_m2_day[6]", "0.4 is below");
  climate = golden(1, 1);
  climate.place.latitude_deg = 75; /* polar night */
  climate.ghi_kwh_per_m2_day[0] = 0.05;
  check_refused(&climate, "ghi_kwh_per_m2_day[1]", "above 0,");
}
END_TEST

START_TEST(values_outside_their_ranges_are_refused_by_name) {
  steading_climate climate = golden(0, 1);
  check_refused(&climate, "years", "0, expected 1 to 200");
  climate = golden(201, 1);
  check_refused(&climate, "years", "201");
  climate = golden(1, 1);
  climate.temp_mean_c[2] = 51;
  check_refused(&climate, "temp_mean_c[3]", "51, expected -60 to 50");
  climate = golden(1, 1);
  climate.temp_range_c[0] = -1;
  check_refused(&climate, "temp_range_c[1]", "-1");
  climate = golden(1, 1);
  climate.ghi_kwh_per_m2_day[3] = (double)NAN;
  check_refused(&climate, "ghi_kwh_per_m2_day[4]", "nan");
  climate = golden(1, 1);
  climate.place.latitude_deg = 91;
  check_refused(&climate, "place.latitude_deg", "91");
}
END_TEST

/* ---- ownership ---- */

static int freed;

static void count_free(struct steading_yield *yields) {
  freed += yields != NULL;
}

START_TEST(the_last_owner_frees_the_weather_and_its_cache) {
  steading_climate climate = golden(1, 1);
  steading_weather *weather = made(&climate);
  freed = 0;
  weather->yields = (struct steading_yield *)weather; /* never looked into */
  weather->free_yields = count_free;
  ck_assert_ptr_eq(steading_weather_keep(weather), weather);
  steading_weather_release(weather);
  ck_assert_int_eq(freed, 0);
  ck_assert_double_ge(weather->ghi_w_per_m2[0], 0);
  ck_assert_int_eq(steading_weather_note(weather, "added %d", 7), STEADING_OK);
  ck_assert_uint_eq(weather->note_count, 2);
  ck_assert_str_eq(weather->notes[1], "added 7");
  steading_weather_release(weather);
  ck_assert_int_eq(freed, 1);
  steading_weather_release(NULL);
}
END_TEST

Suite *synthesis_suite(void) {
  Suite *suite = suite_create("resource/synthesis");
  TCase *parts = tcase_create("parts"), *whole = tcase_create("whole");
  tcase_add_test(parts, daily_clearness_has_the_published_distribution);
  tcase_add_test(parts, the_solved_gamma_agrees_with_the_fit_of_herzog);
  tcase_add_test(parts, the_mean_of_daily_clearness_is_the_mean_of_the_month);
  tcase_add_test(parts, hours_have_the_published_share_of_the_day);
  tcase_add_test(parts, the_day_of_temperature_has_the_published_shape);
  tcase_add_test(parts, the_curve_of_months_keeps_their_means_and_has_no_jumps);
  tcase_add_test(whole, monthly_means_of_two_hundred_years_are_those_given);
  tcase_add_test(whole, days_follow_each_other_with_the_published_correlation);
  tcase_add_test(whole, exact_months_are_exact_and_no_day_becomes_impossible);
  tcase_add_test(whole, no_hour_is_negative_brighter_than_a_sky_or_out_of_balance);
  tcase_add_test(whole, the_mean_day_of_april_looks_like_a_measured_one);
  tcase_add_test(whole, the_warmest_hour_is_mid_afternoon_and_the_range_is_the_one_given);
  tcase_add_test(whole, the_same_seed_gives_the_same_bytes_and_more_years_change_none);
  tcase_add_test(whole, months_that_no_sky_can_give_are_refused_by_name);
  tcase_add_test(whole, values_outside_their_ranges_are_refused_by_name);
  tcase_add_test(whole, the_last_owner_frees_the_weather_and_its_cache);
  suite_add_tcase(suite, parts);
  suite_add_tcase(suite, whole);
  return suite;
}
