/* Rainflow: the example of the standard, and what does not depend on how a series is handed over.
 */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "plant/rainflow.h"
#include "random.h"
#include "suites.h"

enum { MOST = 4096 };

typedef struct counted {
  steading_cycle cycles[MOST];
  size_t count;
} counted;

static void keep(void *context, const steading_cycle *cycle) {
  counted *to = context;
  ck_assert_uint_lt(to->count, MOST);
  to->cycles[to->count++] = *cycle;
}

static void count_all(const double *values, size_t n, size_t room, counted *to) {
  double points[MOST];
  const steading_cycle_taker taker = {.take = keep, .context = to};
  steading_rainflow flow = steading_rainflow_of(points, room);
  to->count = 0;
  for (size_t i = 0; i < n; i++) steading_rainflow_add(&flow, values[i], &taker);
  steading_rainflow_finish(&flow, &taker);
}

static double of_range(const counted *all, double range, double tolerance) {
  double sum = 0;
  for (size_t i = 0; i < all->count; i++)
    if (fabs(all->cycles[i].range - range) <= tolerance) sum += all->cycles[i].count;
  return sum;
}

static double of_all(const counted *all) {
  double sum = 0;
  for (size_t i = 0; i < all->count; i++) sum += all->cycles[i].count;
  return sum;
}

/* ASTM E1049-85, figure 6 */
static const double standard[9] = {-2, 1, -3, 5, -1, 3, -4, 4, -2};

static void check_standard(const counted *all) {
  ck_assert_double_eq(of_range(all, 3, 0), 0.5);
  ck_assert_double_eq(of_range(all, 4, 0), 1.5);
  ck_assert_double_eq(of_range(all, 6, 0), 0.5);
  ck_assert_double_eq(of_range(all, 8, 0), 1);
  ck_assert_double_eq(of_range(all, 9, 0), 0.5);
  ck_assert_double_eq(of_all(all), 4);
}

START_TEST(the_example_of_the_standard) {
  /* in the order of its table: range, mean, count */
  static const double rows[7][3] = {{3, -0.5, 0.5}, {4, -1, 0.5}, {4, 1, 1},  {8, 1, 0.5},
                                    {9, 0.5, 0.5},  {8, 0, 0.5},  {6, 1, 0.5}};
  counted all;
  count_all(standard, 9, 12, &all);
  check_standard(&all);
  ck_assert_uint_eq(all.count, 7);
  for (size_t i = 0; i < 7; i++) {
    ck_assert_double_eq(all.cycles[i].range, rows[i][0]);
    ck_assert_double_eq(all.cycles[i].mean, rows[i][1]);
    ck_assert_double_eq(all.cycles[i].count, rows[i][2]);
  }
}
END_TEST

START_TEST(plateaus_and_points_between_change_nothing) {
  double doubled[18], dense[81];
  counted all;
  for (size_t i = 0; i < 18; i++) doubled[i] = standard[i / 2];
  count_all(doubled, 18, 24, &all);
  check_standard(&all);
  for (size_t i = 0; i < 81; i++) { /* sixteenths are exact */
    size_t at = i / 10 < 8 ? i / 10 : 7;
    double share = (double)(i - 10 * at) / 16;
    dense[i] = share >= 0.5625 ? standard[at + 1]
                               : standard[at] + (standard[at + 1] - standard[at]) * share;
  }
  count_all(dense, 81, 90, &all);
  check_standard(&all);
}
END_TEST

START_TEST(charges_of_a_battery) { /* constructed, by hand */
  static const double charges[7] = {1, 0.4, 0.7, 0.5, 0.9, 0.3, 1};
  counted all;
  count_all(charges, 7, 10, &all);
  ck_assert_double_eq(of_range(&all, 0.7, 1e-12), 1);
  ck_assert_double_eq(of_range(&all, 0.5, 1e-12), 1);
  ck_assert_double_eq(of_range(&all, 0.2, 1e-12), 1);
  ck_assert_double_eq(of_all(&all), 3);
}
END_TEST

START_TEST(a_series_without_a_swing_has_no_cycle) {
  static const double flat[3] = {0.4, 0.4, 0.4};
  counted all;
  count_all(flat, 0, 3, &all);
  ck_assert_uint_eq(all.count, 0);
  count_all(flat, 3, 3, &all);
  ck_assert_uint_eq(all.count, 0);
  count_all((const double[]){0.2, 0.9}, 2, 3, &all);
  ck_assert_double_eq(of_all(&all), 0.5);
  ck_assert_double_eq(all.cycles[0].mean, 0.55);
}
END_TEST

/* The longest range of a series is one half cycle at least, and half the sum of count times range
 * is half the way that the series goes. */
START_TEST(cycles_make_up_the_whole_way) {
  double values[1500], way = 0, counted_way = 0, low = 1, high = 0, longest = 0;
  counted all;
  for (size_t i = 0; i < 1500; i++) {
    values[i] = steading_random_uniform(73, 0, 0, i);
    if (i > 0) way += fabs(values[i] - values[i - 1]);
    low = fmin(low, values[i]);
    high = fmax(high, values[i]);
  }
  count_all(values, 1500, 1600, &all);
  for (size_t i = 0; i < all.count; i++) {
    counted_way += 2 * all.cycles[i].count * all.cycles[i].range;
    longest = fmax(longest, all.cycles[i].range);
  }
  ck_assert_double_eq_tol(counted_way, way, 1e-9);
  ck_assert_double_eq(longest, high - low);
}
END_TEST

/* Too little room for ever smaller swings: nothing is lost of the way. */
START_TEST(too_little_room_counts_the_oldest_as_half) {
  double values[60], way = 0, counted_way = 0;
  counted all;
  for (size_t i = 0; i < 60; i++) {
    values[i] = (i % 2 == 0 ? 1 : -1) * (100.0 - (double)i);
    if (i > 0) way += fabs(values[i] - values[i - 1]);
  }
  count_all(values, 60, 5, &all);
  for (size_t i = 0; i < all.count; i++)
    counted_way += 2 * all.cycles[i].count * all.cycles[i].range;
  ck_assert_double_eq_tol(counted_way, way, 1e-9);
}
END_TEST

/* What is left of a year goes over: two years in one history are not two histories. A deep cycle
 * that spans the turn is one cycle. */
START_TEST(what_is_left_is_carried_over) {
  static const double first[4] = {0.5, 1, 0.6, 0.8}, second[4] = {0.7, 0.1, 1, 0.5};
  double points[16], both[8];
  counted carried = {.count = 0}, once, apart;
  const steading_cycle_taker taker = {.take = keep, .context = &carried};
  steading_rainflow flow = steading_rainflow_of(points, 16);
  memcpy(both, first, sizeof first);
  memcpy(both + 4, second, sizeof second);
  for (size_t i = 0; i < 8; i++) steading_rainflow_add(&flow, both[i], &taker);
  steading_rainflow_finish(&flow, &taker);
  count_all(both, 8, 16, &once);
  ck_assert_uint_eq(carried.count, once.count);
  ck_assert_mem_eq(carried.cycles, once.cycles, once.count * sizeof once.cycles[0]);
  /* 1 down to 0.1 across the turn and back up: a half each, twice 0.9 */
  ck_assert_double_eq(of_range(&once, 0.9, 1e-12), 1);
  count_all(second, 4, 16, &apart);
  ck_assert_double_eq(of_range(&apart, 0.9, 1e-12), 0.5);
}
END_TEST

Suite *rainflow_suite(void) {
  Suite *suite = suite_create("rainflow");
  TCase *tests = tcase_create("rainflow");
  tcase_add_test(tests, the_example_of_the_standard);
  tcase_add_test(tests, plateaus_and_points_between_change_nothing);
  tcase_add_test(tests, charges_of_a_battery);
  tcase_add_test(tests, a_series_without_a_swing_has_no_cycle);
  tcase_add_test(tests, cycles_make_up_the_whole_way);
  tcase_add_test(tests, too_little_room_counts_the_oldest_as_half);
  tcase_add_test(tests, what_is_left_is_carried_over);
  suite_add_tcase(suite, tests);
  return suite;
}
