/* Random outages: how many, how long, when. Expected means follow from the definitions; a sample of
 * n draws may miss a mean by four standard errors (one test in 16 000 would fail by chance; the
 * draws are the same in every run). */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "demand/outages.h"
#include "suites.h"

enum { YEARS = 2000, MOST = 30 * YEARS };

static const double standard_errors = 4;

typedef struct sample {
  size_t count, of_year[YEARS];
  steading_outage outages[MOST];
} sample;

static steading_outages *outages_of(const char *text) {
  return build(&steading_outages_spec, NULL, "%s", text);
}

/* All outages of YEARS years of weather that begins at minute `start` of the weather. */
static sample *draw(const steading_outages *outages, const steading_weather *weather, int month) {
  sample *s = calloc(1, sizeof *s);
  double per_day[STEADING_DAYS_PER_YEAR];
  ck_assert_ptr_nonnull(s);
  steading_outage_rates(outages, weather, 0, month, per_day);
  for (uint32_t year = 0; year < YEARS; year++) {
    steading_outage_draw d =
        steading_outage_draw_of(outages, per_day, steading_outage_seed(outages, false, 0), year);
    double before = 0;
    while (steading_outage_next(&d, &s->outages[s->count])) {
      const steading_outage *o = &s->outages[s->count++];
      ck_assert_uint_lt(s->count, MOST);
      ck_assert_double_ge(o->start_h, before); /* in order */
      ck_assert(o->start_h < 8760 && o->length_h > 0 && o->length_h <= 8760);
      before = o->start_h;
      s->of_year[year]++;
    }
  }
  return s;
}

static double mean_length(const sample *s) {
  double sum = 0;
  for (size_t i = 0; i < s->count; i++) sum += s->outages[i].length_h;
  return sum / (double)s->count;
}

static void check_share(size_t part, size_t whole, double expected) {
  double error = sqrt(expected * (1 - expected) / (double)whole);
  ck_assert_double_eq_tol((double)part / (double)whole, expected, standard_errors * error + 1e-15);
}

/* --- how many and how long -----------------------------------------------------------------------
 */

typedef struct lengths_case {
  const char *text;
  double saifi, caidi_h, deviation; /* of lengths, over their mean */
} lengths_case;

/* of a lognormal: sqrt(exp(spread^2) - 1) */
static const lengths_case cases[] = {
    {"{ saifi = 4, caidi_h = 6, seed = 3 }", 4, 6, 1.6341},
    {"{ saifi = 0.3, caidi_h = 50, seed = 9, lengths = { spread = 0.5 } }", 0.3, 50, 0.53294},
    {"{ saifi = 25, caidi_h = 0.5, seed = 4, lengths = { model = \"exponential\" } }", 25, 0.5, 1},
    {"{ saifi = 4, caidi_h = 6, lengths = { model = \"equal\" } }", 4, 6, 0},
    {"{ saifi = 6, caidi_h = 2, by_month = { 9, 5, 3, 2, 1, 0, 0, 1, 2, 3, 5, 9 } }", 6, 2, 1.6341},
    {"{ saifi = 6, caidi_h = 2, in_dull_weather = 0.6, in_extreme_weather = 0.4 }", 6, 2, 1.6341},
};

/* The number of a year is Poisson's: its mean is saifi, and so is its variance, whose own error is
 * sqrt((saifi + 2 saifi^2) / n). */
START_TEST(the_mean_of_2000_years_is_the_one_given) {
  const lengths_case *c = &cases[_i];
  steading_weather *weather = build_sunny_weather(1);
  steading_outages *outages = outages_of(c->text);
  sample *s = draw(outages, weather, 1);
  double number = (double)s->count / YEARS, variance = 0;
  for (int y = 0; y < YEARS; y++)
    variance += ((double)s->of_year[y] - number) * ((double)s->of_year[y] - number) / (YEARS - 1);
  ck_assert_double_eq_tol(number, c->saifi, standard_errors * sqrt(c->saifi / YEARS));
  ck_assert_double_eq_tol(variance, c->saifi,
                          standard_errors * sqrt((c->saifi + 2 * c->saifi * c->saifi) / YEARS));
  ck_assert_double_eq_tol(
      mean_length(s), c->caidi_h,
      standard_errors * c->deviation * c->caidi_h / sqrt((double)s->count) + 1e-12);
  free(s);
  steading_record_release(outages);
  steading_weather_release(weather);
}
END_TEST

/* Median 60 minutes beside a mean of 115: 3.4 % last longer than 8 hours (by the normal
 * distribution's table at ln(8) / 1.1407 = 1.823). The default is that spread, rounded. */
START_TEST(long_outages_are_as_frequent_as_the_distribution_says) {
  steading_weather *weather = build_sunny_weather(1);
  steading_outages *outages = outages_of("{ saifi = 20, caidi_h = 1.9166666666666667, seed = 8 }");
  sample *s = draw(outages, weather, 1);
  size_t longer = 0, below_median = 0;
  for (size_t i = 0; i < s->count; i++) {
    longer += s->outages[i].length_h > 8;
    below_median += s->outages[i].length_h < 1;
  }
  ck_assert_double_eq_tol(STEADING_OUTAGE_SPREAD, sqrt(2 * log(115.0 / 60)), 0.001);
  check_share(longer, s->count, 0.0341);
  check_share(below_median, s->count, 0.5);
  free(s);
  steading_record_release(outages);
  steading_weather_release(weather);
}
END_TEST

/* --- when ----------------------------------------------------------------------------------------
 */

static int month_of(double start_h) {
  int month = 0, day = 0;
  steading_month_of_day((int)(start_h / 24), &month, &day);
  return month;
}

/* Days of a month weigh 1, 2 or 0: of 31 x 1 + 28 x 2 + ... = 365 + 28 - 30 the June ones none. A
 * run that begins in July has the same months. */
START_TEST(outages_follow_the_months) {
  static const int days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  static const char *const text =
      "{ saifi = 10, caidi_h = 1, by_month = { 1, 2, 1, 1, 1, 0, 1, 1, 1, 1, 1, 1 } }";
  steading_weather *weather = build_sunny_weather(1);
  steading_outages *outages = outages_of(text);
  int first = _i == 0 ? 1 : 7;
  sample *s = draw(outages, weather, first);
  size_t in[13] = {0};
  double mean = 0;
  for (size_t i = 0; i < s->count; i++) {
    double since_january =
        fmod(s->outages[i].start_h + 24 * steading_days_before_month[first - 1], 8760);
    in[month_of(since_january)]++;
    mean += fmod(s->outages[i].start_h, 24) / (double)s->count;
  }
  for (int m = 1; m <= 12; m++)
    check_share(in[m], s->count, days[m - 1] * (m == 2 ? 2 : m == 6 ? 0 : 1) / 363.0);
  /* evenly over the day: mean 12 h, standard deviation 24 / sqrt(12) */
  ck_assert_double_eq_tol(mean, 12, standard_errors * 24 / sqrt(12.0 * (double)s->count));
  free(s);
  steading_record_release(outages);
  steading_weather_release(weather);
}
END_TEST

/* Weather of half the light from outside, of which 36 days have a tenth; 12 days that are hot for
 * an hour, 12 that are cold, 12 that are windy. Days 0, 1 and 2 of every 30 are dull, day 5 hot, 6
 * cold, 7 windy. */
static steading_weather *marked_weather(void) {
  const steading_place place = {.latitude_deg = 35, .longitude_deg = 0};
  steading_weather *w = steading_weather_new(&place, 1, 60, "table");
  ck_assert_ptr_nonnull(w);
  ck_assert_int_eq(steading_weather_add_wind(w), STEADING_OK);
  for (size_t i = 0; i < w->steps; i++) {
    size_t day = i / 24;
    const steading_sun_step *sun = &w->sun[i];
    bool in_row = day < 360;
    w->ghi_w_per_m2[i] = 0.5 * sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share *
                         (in_row && day % 30 < 3 ? 0.1 : 1);
    w->temp_c[i] = 10;
    w->wind_m_per_s[i] = 2;
    if (in_row && i % 24 == 13 && day % 30 == 5) w->temp_c[i] = 35;
    if (in_row && i % 24 == 4 && day % 30 == 6) w->temp_c[i] = -20;
    if (in_row && i % 24 == 20 && day % 30 == 7) w->wind_m_per_s[i] = 15;
  }
  return w;
}

START_TEST(dull_and_extreme_days_are_those_of_the_weather) {
  steading_weather *weather = marked_weather();
  bool dull[STEADING_DAYS_PER_YEAR], extreme[STEADING_DAYS_PER_YEAR];
  size_t shift = _i == 0 ? 0 : 100;
  steading_outage_weather(weather, shift * 1440, dull, extreme);
  for (size_t d = 0; d < STEADING_DAYS_PER_YEAR; d++) {
    size_t day = (d + shift) % STEADING_DAYS_PER_YEAR;
    bool in_row = day < 360;
    ck_assert_msg(dull[d] == (in_row && day % 30 < 3), "dull day %zu", d);
    ck_assert_msg(extreme[d] == (in_row && day % 30 >= 5 && day % 30 <= 7), "extreme day %zu", d);
  }
  steading_weather_release(weather);
}
END_TEST

/* 40 % on the 36 dull days and 36 of 365 of the other 35 % there by chance; 25 % likewise on the 36
 * extreme ones. */
START_TEST(outages_keep_to_the_weather) {
  steading_weather *weather = marked_weather();
  steading_outages *outages = outages_of(
      "{ saifi = 10, caidi_h = 1, seed = 2, in_dull_weather = 0.4, in_extreme_weather = 0.25 }");
  sample *s = draw(outages, weather, 1);
  size_t dull = 0, extreme = 0;
  for (size_t i = 0; i < s->count; i++) {
    int day = (int)(s->outages[i].start_h / 24);
    dull += day < 360 && day % 30 < 3;
    extreme += day < 360 && day % 30 >= 5 && day % 30 <= 7;
  }
  check_share(dull, s->count, 0.4 + 0.35 * 36 / 365);
  check_share(extreme, s->count, 0.25 + 0.35 * 36 / 365);
  free(s);
  steading_record_release(outages);
  steading_weather_release(weather);
}
END_TEST

/* --- draws ---------------------------------------------------------------------------------------
 */

static bool same_starts(const sample *a, const sample *b) {
  if (a->count != b->count) return false;
  for (size_t i = 0; i < a->count; i++)
    if (a->outages[i].start_h != b->outages[i].start_h) return false;
  return true;
}

static bool same_lengths(const sample *a, const sample *b, double factor) {
  if (a->count != b->count) return false;
  for (size_t i = 0; i < a->count; i++)
    if (!(fabs(a->outages[i].length_h * factor - b->outages[i].length_h) <=
          1e-12 * b->outages[i].length_h))
      return false;
  return true;
}

/* What is set beside it does not move a draw: another length leaves the starts, other starts leave
 * the lengths. A seed moves all. */
START_TEST(draws_are_functions_of_their_place) {
  steading_weather *weather = build_sunny_weather(1);
  steading_outages *records[] = {
      outages_of("{ saifi = 4, caidi_h = 6, seed = 3 }"),
      outages_of("{ saifi = 4, caidi_h = 6, seed = 3 }"),
      outages_of("{ saifi = 4, caidi_h = 12, seed = 3 }"),
      outages_of("{ saifi = 4, caidi_h = 6, seed = 3, lengths = { spread = 0.2 } }"),
      outages_of("{ saifi = 4, caidi_h = 6, seed = 3, by_month = { 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, "
                 "1, 3 } }"),
      outages_of("{ saifi = 4, caidi_h = 6, seed = 4 }")};
  sample *s[6];
  for (int k = 0; k < 6; k++) s[k] = draw(records[k], weather, 1);
  ck_assert(same_starts(s[0], s[1]) && same_lengths(s[0], s[1], 1));
  ck_assert(same_starts(s[0], s[2]) && same_lengths(s[0], s[2], 2));
  ck_assert(same_starts(s[0], s[3]) && !same_lengths(s[0], s[3], 1));
  ck_assert(!same_starts(s[0], s[4]) && same_lengths(s[0], s[4], 1));
  ck_assert(!same_starts(s[0], s[5]) && !same_lengths(s[0], s[5], 1));
  ck_assert_uint_eq(steading_outage_seed(records[0], false, 7), 3);
  ck_assert_uint_ne(steading_outage_seed(records[0], true, 7),
                    steading_outage_seed(records[0], true, 8));
  ck_assert_uint_ne(steading_outage_seed(records[0], true, 7),
                    steading_outage_seed(records[5], true, 7));
  for (int k = 0; k < 6; k++) {
    free(s[k]);
    steading_record_release(records[k]);
  }
  steading_weather_release(weather);
}
END_TEST

/* --- mistakes ------------------------------------------------------------------------------------
 */

static const struct {
  const char *text, *path, *said;
} mistakes[] = {
    {"{}", "", "expected windows, a rota, or saifi and caidi_h"},
    {"{ saifi = 4 }", "caidi_h", "required with saifi"},
    {"{ windows = \"10:00-12:00\", seed = 4 }", "seed", "saifi is absent"},
    {"{ windows = \"10:00-12:00\", caidi_h = 4 }", "caidi_h", "saifi is absent"},
    {"{ windows = \"10:00-12:00\", lengths = { spread = 1 } }", "lengths", "saifi is absent"},
    {"{ saifi = 4, caidi_h = 1, by_month = 0 }", "by_month", "one month at least above 0"},
    {"{ saifi = 4, caidi_h = 1, in_dull_weather = 0.6, in_extreme_weather = 0.5 }",
     "in_extreme_weather", "more than all of them"},
    {"{ saifi = 4, caidi_h = 1, lengths = { model = \"equal\", spread = 1 } }", "lengths.spread",
     "belongs to the model lognormal"},
    {"{ rota = { hours = 4, starts = \"24:00\" } }", "rota.starts", "a time of the day"},
    {"{ rota = { hours = 4, starts = \"6 pm\" } }", "rota.starts", "a time of the day"},
    {"{ rota = { hours = 4, starts = \"18:00\", months = \"Juno-Sep\" } }", "rota.months",
     "expected months"},
};

START_TEST(mistakes_are_told) {
  steading_error error = {.status = STEADING_OK};
  void *record = build_or_error(&steading_outages_spec, NULL, &error, "%s", mistakes[_i].text);
  ck_assert_ptr_null(record);
  ck_assert_str_eq(error.path, mistakes[_i].path);
  ck_assert_msg(strstr(error.text, mistakes[_i].said) != NULL, "it said: %s", error.text);
}
END_TEST

Suite *outages_suite(void) {
  Suite *suite = suite_create("outages");
  TCase *tests = tcase_create("outages");
  tcase_add_loop_test(tests, the_mean_of_2000_years_is_the_one_given, 0,
                      sizeof cases / sizeof cases[0]);
  tcase_add_test(tests, long_outages_are_as_frequent_as_the_distribution_says);
  tcase_add_loop_test(tests, outages_follow_the_months, 0, 2);
  tcase_add_loop_test(tests, dull_and_extreme_days_are_those_of_the_weather, 0, 2);
  tcase_add_test(tests, outages_keep_to_the_weather);
  tcase_add_test(tests, draws_are_functions_of_their_place);
  tcase_add_loop_test(tests, mistakes_are_told, 0, sizeof mistakes / sizeof mistakes[0]);
  tcase_set_timeout(tests, 120);
  suite_add_tcase(suite, tests);
  return suite;
}
