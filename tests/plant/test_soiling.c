/* Dirt: against a day by day account that knows nothing of sums. */
#include <check.h>
#include <math.h>

#include "plant/soiling.h"
#include "random.h"
#include "suites.h"

/* Mean loss over `days`, in 400 parts of a day each, of modules that were clean `before` days
 * earlier. */
static double by_the_clock(double per_day, double before, double days, double most) {
  double sum = 0;
  int parts = (int)lround(days * 400);
  for (int k = 0; k < parts; k++) sum += fmin(per_day * (before + (k + 0.5) / 400), most);
  return sum / parts;
}

START_TEST(a_spell_is_that_of_the_daily_account) {
  for (uint64_t i = 0; i < 400; i++) {
    double per_day = 0.01 * steading_random_uniform(61, 0, 0, i);
    double days = floor(1 + 200 * steading_random_uniform(61, 0, 1, i));
    double before = floor(150 * steading_random_uniform(61, 0, 2, i));
    double most = 0.3 * steading_random_uniform(61, 0, 3, i);
    /* a part in which the limit is reached: at most per_day / 800 for that part */
    double tolerance = 1e-12 + per_day / 800 / (days * 400);
    ck_assert_double_eq_tol(steading_soiling_share(per_day, days, most),
                            by_the_clock(per_day, 0, days, most), tolerance);
    ck_assert_double_eq_tol(steading_soiling_dry_share(per_day, before, days, most),
                            by_the_clock(per_day, before, days, most), tolerance);
  }
}
END_TEST

/* 0.002 a day over 30 days: 0.03 in the mean. With a limit of 0.02, reached after 10 days: (10 x
 * 0.01 + 20 x 0.02) / 30 = 0.016667. */
START_TEST(spells_by_hand) {
  ck_assert_double_eq_tol(steading_soiling_share(0.002, 30, 1), 0.03, 1e-15);
  ck_assert_double_eq_tol(steading_soiling_share(0.002, 30, 0.02), 0.5 / 30, 1e-15);
  ck_assert_double_eq_tol(steading_soiling_dry_share(0.002, 60, 30, 1), 0.15, 1e-12);
  ck_assert_double_eq(steading_soiling_dry_share(0.002, 60, 30, 0.1), 0.1);
}
END_TEST

START_TEST(no_dirt_no_dry_day_or_no_room_for_it_costs_nothing) {
  ck_assert_double_eq(steading_soiling_share(0, 30, 0.5), 0);
  ck_assert_double_eq(steading_soiling_share(0, 30, 0), 0);
  ck_assert_double_eq(steading_soiling_share(0.002, 0, 0.5), 0);
  ck_assert_double_eq(steading_soiling_share(0.002, 30, 0), 0);
  ck_assert_double_eq(steading_soiling_share(1, 3650, 0.25) <= 0.25, 1);
}
END_TEST

/* Months of spells of unlike lengths: the mean over all days is that of one spell of sum of squares
 * over sum, as the header says; here without a limit. */
START_TEST(unlike_spells_count_by_their_days) {
  static const double spells[4] = {3, 12, 1, 14};
  double sum = 0, squares = 0, loss = 0;
  for (int i = 0; i < 4; i++) {
    sum += spells[i];
    squares += spells[i] * spells[i];
    loss += spells[i] * by_the_clock(0.003, 0, spells[i], 1);
  }
  ck_assert_double_eq_tol(steading_soiling_share(0.003, squares / sum, 1), loss / sum, 1e-12);
}
END_TEST

Suite *soiling_suite(void) {
  Suite *suite = suite_create("soiling");
  TCase *tests = tcase_create("soiling");
  tcase_add_test(tests, a_spell_is_that_of_the_daily_account);
  tcase_add_test(tests, spells_by_hand);
  tcase_add_test(tests, no_dirt_no_dry_day_or_no_room_for_it_costs_nothing);
  tcase_add_test(tests, unlike_spells_count_by_their_days);
  suite_add_tcase(suite, tests);
  return suite;
}
