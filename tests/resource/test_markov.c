/* Days that follow each other as Markov chains. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "dice.h"
#include "resource/markov.h"
#include "suites.h"

enum { STATES = STEADING_CHAIN_STATES };

/* Long-run mean, standard deviation and lag-1 correlation of the printed matrices, rows normalised,
 * clearness uniform in its state, worked out by an independent program from two transcriptions of
 * the paper's table. The mean of every one of the ten lies in its own class, which a slip of the
 * pen would break. */
static const double rows[][6] = {
    {1, 0.031, 0.705, 0.2414, 0.1560, 0.3850}, {2, 0.058, 0.694, 0.3339, 0.1668, 0.0229},
    {3, 0.051, 0.753, 0.3745, 0.1663, 0.2826}, {5, 0.028, 0.807, 0.4760, 0.1673, 0.3247},
    {6, 0.053, 0.856, 0.5262, 0.1568, 0.3096}, {7, 0.044, 0.818, 0.5749, 0.1535, 0.2264},
    {9, 0.010, 0.842, 0.6684, 0.1188, 0.1960}, {10, 0.319, 0.865, 0.7281, 0.0726, 0.2521}};

/* Long-run shares of the states: powers of the matrix, multiplied here. */
static void settle(const steading_chain *chain, double p[STATES]) {
  for (int i = 0; i < STATES; i++) p[i] = 1.0 / STATES;
  for (int round = 0; round < 500; round++) {
    double next[STATES] = {0};
    for (int i = 0; i < STATES; i++)
      for (int j = 0; j < STATES; j++) next[j] += p[i] * chain->share[i][j];
    memcpy(p, next, sizeof next);
  }
}

START_TEST(every_matrix_has_its_published_statistics) {
  const double *row = rows[_i];
  steading_chain chain = steading_chain_numbered((int)row[0]);
  double p[STATES], width = (row[2] - row[1]) / STATES, mean = 0, square = 0, product = 0;
  ck_assert_double_eq(chain.lowest, row[1]);
  ck_assert_double_eq(chain.highest, row[2]);
  settle(&chain, p);
  for (int i = 0; i < STATES; i++) mean += p[i] * (row[1] + width * (i + 0.5));
  for (int i = 0; i < STATES; i++) {
    double here = row[1] + width * (i + 0.5) - mean;
    square += p[i] * (here * here + width * width / 12);
    for (int j = 0; j < STATES; j++)
      product += p[i] * chain.share[i][j] * here * (row[1] + width * (j + 0.5) - mean);
  }
  ck_assert_double_eq_tol(mean, row[3], 0.00006);
  ck_assert_double_eq_tol(sqrt(square), row[4], 0.00006);
  ck_assert_double_eq_tol(product / square, row[5], 0.00006);
}
END_TEST

START_TEST(the_mean_of_every_matrix_lies_in_its_class) {
  double end = 0;
  for (int number = 1; number <= STEADING_CHAINS; number++) {
    steading_chain chain = steading_chain_numbered(number);
    double p[STATES], mean = 0, start = end;
    end = number == 1 ? 0.30 : number == 10 ? 1 : end + 0.05;
    settle(&chain, p);
    for (int i = 0; i < STATES; i++) {
      double sum = 0;
      for (int j = 0; j < STATES; j++) sum += chain.share[i][j];
      ck_assert_double_eq_tol(sum, 1, 1e-12);
      mean += p[i] * steading_chain_clearness(&chain, i + 0.5);
    }
    ck_assert(mean > start && mean <= end);
    ck_assert_int_eq(steading_chain_of_month((start + end) / 2), number);
    ck_assert_int_eq(steading_chain_of_month(end - 1e-9), number);
    if (number < 10) ck_assert_int_eq(steading_chain_of_month(end + 1e-9), number + 1);
  }
  ck_assert_int_eq(steading_chain_of_month(0.30), 1); /* the end belongs to the class */
}
END_TEST

/* Ten thousand days drawn one after the other. Standard errors of the mean are sd sqrt((1 + r) / (1
 * - r) / 10000), at most 0.0024, those of the correlation 0.01. */
START_TEST(drawn_days_have_the_statistics_of_their_matrix) {
  enum { DAYS = 10000 };
  const double *row = rows[_i];
  steading_chain chain = steading_chain_numbered((int)row[0]);
  dice d = {.seed = 4};
  double k = row[3], sum = 0, squares = 0, products = 0, before = 0, mean = 0;
  static double all[DAYS];
  for (int i = 0; i < DAYS; i++) {
    double u = roll(&d), within = roll(&d);
    k = steading_chain_draw(&chain, chain.share[steading_chain_state(&chain, k)], u, within);
    ck_assert(k >= chain.lowest && k <= chain.highest);
    all[i] = k;
    sum += k;
  }
  mean = sum / DAYS;
  for (int i = 0; i < DAYS; i++) {
    squares += (all[i] - mean) * (all[i] - mean);
    if (i > 0) products += before * (all[i] - mean);
    before = all[i] - mean;
  }
  ck_assert_double_eq_tol(mean, row[3], 0.01);
  ck_assert_double_eq_tol(sqrt(squares / DAYS), row[4], 0.01);
  ck_assert_double_eq_tol(products / squares, row[5], 0.03);
}
END_TEST

/* Cells of the table that differ between the copies in circulation, and rows without data. */
START_TEST(known_slips_are_not_ours) {
  steading_chain three = steading_chain_numbered(3), seven = steading_chain_numbered(7);
  steading_chain nine = steading_chain_numbered(9), ten = steading_chain_numbered(10);
  ck_assert_double_eq_tol(seven.share[0][8], 0.087, 0.0005); /* one copy has 0.87 */
  ck_assert_double_eq_tol(seven.share[4][7], 0.283, 0.0005);
  ck_assert_double_eq_tol(three.share[5][4], 0.125, 0.0005);
  ck_assert_double_eq(nine.share[0][8], 1);
  ck_assert_double_eq(nine.share[1][8], 1);
  ck_assert_double_eq(ten.share[0][8], 1);
  for (int j = 0; j < STATES; j++) ck_assert_double_eq_tol(ten.share[1][j], 0.1, 1e-12);
}
END_TEST

/* A state of another chain: by hand, the fourth state of the first chain, 0.2332..0.3006, reaches
 * from the third to the fourth of the second (states of 0.0636 from 0.058 on: 0.1852, 0.2488,
 * 0.3124): 0.0156 of 0.0674 lie below 0.2488. Below the lowest of the tenth chain is its first. */
START_TEST(a_day_is_carried_from_one_chain_to_another) {
  steading_chain one = steading_chain_numbered(1), two = steading_chain_numbered(2);
  steading_chain ten = steading_chain_numbered(10);
  double share[STATES] = {0, 0, 0, 1}, carried[STATES], sum = 0;
  steading_chain_carry(&one, share, &two, carried);
  ck_assert_double_eq_tol(carried[2], 0.0156 / 0.0674, 1e-9);
  ck_assert_double_eq_tol(carried[3], 1 - 0.0156 / 0.0674, 1e-9);
  steading_chain_carry(&one, share, &ten, carried);
  ck_assert_double_eq_tol(carried[0], 1, 1e-12);
  for (int i = 0; i < STATES; i++) share[i] = 0.1;
  steading_chain_carry(&ten, share, &two, carried);
  for (int i = 0; i < STATES; i++) sum += carried[i];
  ck_assert_double_eq_tol(sum, 1, 1e-12);
  ck_assert_double_gt(carried[9], 0.4); /* and what is clearer than 0.694 */
  for (double k = 0.06; k < 0.69; k += 0.05) {
    int state = steading_chain_state(&two, k);
    ck_assert(steading_chain_clearness(&two, state) <= k + 1e-12);
    ck_assert(steading_chain_clearness(&two, state + 1) > k);
  }
  ck_assert_int_eq(steading_chain_state(&two, 0.01), 0);
  ck_assert_int_eq(steading_chain_state(&two, 0.9), 9);
}
END_TEST

Suite *markov_suite(void) {
  Suite *suite = suite_create("resource/markov");
  TCase *tcase = tcase_create("markov");
  const int count = (int)(sizeof rows / sizeof rows[0]);
  tcase_add_loop_test(tcase, every_matrix_has_its_published_statistics, 0, count);
  tcase_add_test(tcase, the_mean_of_every_matrix_lies_in_its_class);
  tcase_add_loop_test(tcase, drawn_days_have_the_statistics_of_their_matrix, 0, count);
  tcase_add_test(tcase, known_slips_are_not_ours);
  tcase_add_test(tcase, a_day_is_carried_from_one_chain_to_another);
  suite_add_tcase(suite, tcase);
  return suite;
}
