#include <check.h>
#include <math.h>
#include <string.h>

#include "random.h"
#include "suites.h"

/* Known answers of Random123 (Salmon et al. 2011), file kat_vectors, philox4x32 with 10 rounds;
 * from memory. The third is made of the digits of pi. */
START_TEST(philox_gives_the_published_answers) {
  static const struct {
    uint32_t counter[4], key[2], out[4];
  } rows[] = {
      {{0, 0, 0, 0}, {0, 0}, {0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}},
      {{0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff},
       {0xffffffff, 0xffffffff},
       {0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}},
      {{0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344},
       {0xa4093822, 0x299f31d0},
       {0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}},
  };
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    uint32_t out[4];
    steading_philox(rows[i].counter, rows[i].key, out);
    for (int k = 0; k < 4; k++) ck_assert_uint_eq(out[k], rows[i].out[k]);
  }
}
END_TEST

/* The header says that seed, year, purpose and index all name the draw: the first known answer
 * belongs to all zero, and each of the four changes the bits. */
START_TEST(each_of_seed_year_purpose_and_index_names_another_draw) {
  uint64_t zero = steading_random_bits(0, 0, 0, 0);
  ck_assert(zero == UINT64_C(0xe169c58d6627e8d5));
  ck_assert(zero != steading_random_bits(1, 0, 0, 0));
  ck_assert(zero != steading_random_bits(UINT64_C(1) << 32, 0, 0, 0));
  ck_assert(zero != steading_random_bits(0, 1, 0, 0));
  ck_assert(zero != steading_random_bits(0, 0, 1, 0));
  ck_assert(zero != steading_random_bits(0, 0, 0, 1));
  ck_assert(zero != steading_random_bits(0, 0, 0, UINT64_C(1) << 32));
  ck_assert(steading_random_bits(7, 2, 3, 5) == steading_random_bits(7, 2, 3, 5));
}
END_TEST

/* Percentage points of the normal distribution, known from every table of it (from memory):
 * 0.975 -> 1.959963984540054, 0.95 -> 1.6448536269514722, 0.75 -> 0.6744897501960817,
 * 0.999 -> 3.090232306167814. */
START_TEST(the_normal_quantile_gives_the_values_of_the_tables) {
  ck_assert_double_eq_tol(steading_normal_quantile(0.975), 1.959963984540054, 1e-13);
  ck_assert_double_eq_tol(steading_normal_quantile(0.95), 1.6448536269514722, 1e-13);
  ck_assert_double_eq_tol(steading_normal_quantile(0.75), 0.6744897501960817, 1e-13);
  ck_assert_double_eq_tol(steading_normal_quantile(0.999), 3.090232306167814, 1e-12);
  ck_assert_double_eq(steading_normal_quantile(0.5), 0);
}
END_TEST

/* Independent calculation: the C library's erfc is the normal distribution. A wrong digit in any of
 * the 46 constants would show. The slope of the distribution sets what a rounding of the quantile,
 * about 1e-15 of it, is worth. */
START_TEST(the_normal_quantile_inverts_erfc_from_the_centre_to_the_far_tail) {
  for (double p = 0.5; p > 1e-300; p *= 0.83) {
    double z = steading_normal_quantile(p);
    double back = 0.5 * erfc(-z / sqrt(2));
    double allowed = 4e-15 * (1 + z * z);
    ck_assert_msg(fabs(back / p - 1) <= allowed, "p %g: quantile %.17g goes back to %g", p, z,
                  back);
    if (p > 1e-10) {
      double upper = steading_normal_quantile(1 - p);
      /* 1 - p is rounded to 1.1e-16, which the density turns into a step of z. */
      double step = 1.2e-16 / (exp(-z * z / 2) / sqrt(2 * acos(-1)));
      ck_assert_double_eq_tol(upper, -z, step + 1e-14);
    }
  }
}
END_TEST

/* Kolmogorov-Smirnov distance of n draws from the uniform: above 1.95 / sqrt(n) once in 1000 times
 * (from memory, any table of the test). The draws are fixed by the seed. */
START_TEST(draws_are_uniform) {
  enum { N = 20000, CELLS = 1000 };
  static int count[CELLS];
  double below = 0, worst = 0;
  memset(count, 0, sizeof count);
  for (uint64_t i = 0; i < N; i++) {
    double u = steading_random_uniform(3, 1, STEADING_DRAW_SCRIPT, i);
    ck_assert(u > 0 && u < 1);
    count[(int)(u * CELLS)]++;
  }
  for (int i = 0; i < CELLS; i++) {
    below += count[i];
    worst = fmax(worst, fabs(below / N - (i + 1.0) / CELLS));
  }
  ck_assert_double_lt(worst, 1.95 / sqrt(N));
}
END_TEST

/* Mean 0, variance 1, and no correlation between neighbours, years or purposes: five standard
 * errors of each (1/sqrt(n), sqrt(2/n)). */
START_TEST(normal_draws_are_standard_and_independent) {
  enum { N = 40000 };
  double sum = 0, squares = 0, neighbours = 0, years = 0, purposes = 0;
  for (uint64_t i = 0; i < N; i++) {
    double z = steading_random_normal(11, 4, 1, i);
    sum += z;
    squares += z * z;
    neighbours += z * steading_random_normal(11, 4, 1, i + 1);
    years += z * steading_random_normal(11, 5, 1, i);
    purposes += z * steading_random_normal(11, 4, 2, i);
  }
  ck_assert_double_le(fabs(sum / N), 5 / sqrt(N));
  ck_assert_double_le(fabs(squares / N - 1), 5 * sqrt(2.0 / N));
  ck_assert_double_le(fabs(neighbours / N), 5 / sqrt(N));
  ck_assert_double_le(fabs(years / N), 5 / sqrt(N));
  ck_assert_double_le(fabs(purposes / N), 5 / sqrt(N));
}
END_TEST

Suite *random_suite(void) {
  Suite *suite = suite_create("random");
  TCase *tcase = tcase_create("random");
  tcase_add_test(tcase, philox_gives_the_published_answers);
  tcase_add_test(tcase, each_of_seed_year_purpose_and_index_names_another_draw);
  tcase_add_test(tcase, the_normal_quantile_gives_the_values_of_the_tables);
  tcase_add_test(tcase, the_normal_quantile_inverts_erfc_from_the_centre_to_the_far_tail);
  tcase_add_test(tcase, draws_are_uniform);
  tcase_add_test(tcase, normal_draws_are_standard_and_independent);
  suite_add_tcase(suite, tcase);
  return suite;
}
