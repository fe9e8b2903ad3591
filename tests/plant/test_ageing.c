/* Ageing: the printed laws worked out apart, and a stress that is cut into steps. */
#include <check.h>
#include <math.h>

#include "plant/ageing.h"
#include "suites.h"

static const steading_ageing_law naumann = {.model = STEADING_AGEING_NAUMANN};
static const steading_ageing_law wang = {.model = STEADING_AGEING_WANG,
                                         .throughput_ah_per_cycle = 2.2};

static double relative(double a, double b) { return fabs(a / b - 1); }

#define ASSERT_RELATIVE(value, expected, tolerance)                                              \
  ck_assert_msg(relative(value, expected) <= (tolerance), "%s is %.12g, expected %.12g", #value, \
                (double)(value), (double)(expected))

/* Share of capacity lost to a throughput in Ah of Wang's cell. */
static double wang_loss(double rate, double cell_c, double ah) {
  steading_age age = {0};
  steading_age_cycle(&wang, 1, ah / 2.2, rate, cell_c, &age);
  return 1 - steading_age_health(&wang, &age);
}

/* Wang et al. 2011, per cent at a rate of 1/2 (its equation by an independent program). */
START_TEST(wang_at_half_a_rate) {
  static const double rows[3][4] = {{15, 2.735339, 6.628950, 9.705350},
                                    {25, 4.252351, 10.305347, 15.087912},
                                    {60, 16.169721, 39.186460, 57.372335}};
  static const double ah[3] = {1000, 5000, 10000};
  for (int i = 0; i < 3; i++)
    for (int k = 0; k < 3; k++)
      ASSERT_RELATIVE(100 * wang_loss(0.5, rows[i][0], ah[k]), rows[i][k + 1], 1e-5);
  ASSERT_RELATIVE(wang_loss(0.5, 25, 16693.486), 0.2, 1e-5);
  ASSERT_RELATIVE(wang_loss(0.5, 25, 7588 * 2.2), 0.2, 1e-4);
  ASSERT_RELATIVE(100 * steading_wang_half_rate_loss(25, 5000), 10.111965, 1e-5);
}
END_TEST

/* B at its four rates as printed (31630, 21681, 12934, 15512), and nothing beyond them. */
START_TEST(wang_at_other_rates) {
  static const double rates[4] = {0.5, 2, 6, 10}, b[4] = {31630, 21681, 12934, 15512};
  for (int i = 0; i < 4; i++)
    ASSERT_RELATIVE(steading_wang_k(rates[i], 25),
                    b[i] * exp((-31700 + 370.3 * rates[i]) / (8.314 * 298.15)) / 100, 1e-12);
  ck_assert_double_eq(steading_wang_k(0.1, 25), steading_wang_k(0.5, 25));
  ck_assert_double_eq(steading_wang_k(30, 25), steading_wang_k(10, 25));
  for (double rate = 0.5; rate < 10; rate += 0.01) /* no jump */
    ck_assert_double_lt(relative(steading_wang_k(rate + 0.01, 25), steading_wang_k(rate, 25)),
                        0.01);
}
END_TEST

static double naumann_calendar(double cell_c, double charge, double years) {
  steading_age age = {0};
  steading_age_rest(&naumann, years * 8760, cell_c, charge, &age);
  return 1 - steading_age_health(&naumann, &age);
}

static double naumann_cycles(double rate, double depth, double full_cycles) {
  steading_age age = {0};
  steading_age_cycle(&naumann, depth, full_cycles / depth, rate, 25, &age);
  return 100 * (1 - steading_age_health(&naumann, &age));
}

/* Naumann et al. 2018 and 2020 (their equations by an independent program). */
START_TEST(naumann_as_printed) {
  ASSERT_RELATIVE(naumann_calendar(25, 0.5, 1), 0.04251576, 1e-6);
  ASSERT_RELATIVE(naumann_calendar(25, 0.2, 1), 0.03706919, 1e-6);
  ASSERT_RELATIVE(naumann_calendar(25, 0.8, 1), 0.04796233, 1e-6);
  ASSERT_RELATIVE(naumann_calendar(25, 1.0, 1), 0.06773136, 1e-6);
  ASSERT_RELATIVE(naumann_calendar(25, 0.5, 10), 0.13444664, 1e-6);
  ASSERT_RELATIVE(naumann_cycles(0.2, 0.8, 4000), 7.801839, 1e-6);
  ASSERT_RELATIVE(naumann_cycles(0.5, 0.8, 4000), 9.146003, 1e-6);
  ASSERT_RELATIVE(naumann_cycles(0.5, 1.0, 4000), 10.979403, 1e-6);
  ASSERT_RELATIVE(naumann_cycles(1.0, 1.0, 4000), 13.668759, 1e-6);
  ASSERT_RELATIVE(naumann_cycles(0.5, 0.4, 4000), 8.622175, 1e-6);
}
END_TEST

/* Resistance: 3.419e-10 x 1.56040 x seconds at 25 C and half charge; (0.0021 - 0.0020 x 0.5) x
 * (6.8477 x 0.3^3 + 0.9182) per cent a full cycle, by hand. */
START_TEST(naumann_resistance) {
  steading_age age = {0};
  steading_age_rest(&naumann, 8760, 25, 0.5, &age);
  ASSERT_RELATIVE(steading_age_resistance(&age) - 1, 3.419e-10 * 1.56040 * 31536000, 1e-12);
  age = (steading_age){0};
  steading_age_cycle(&naumann, 0.8, 1000, 0.5, 25, &age);
  ASSERT_RELATIVE(steading_age_resistance(&age) - 1, 0.0011 * (6.8477 * 0.027 + 0.9182) / 100 * 800,
                  1e-9);
  ck_assert_double_eq(steading_naumann_cycle_resistance_k(2, 0.8), 0); /* never better */
  /* both at 35 C by the printed exponents */
  ASSERT_RELATIVE(steading_naumann_calendar_k(35, 0.5),
                  1.2571e-5 * 0.60225 * exp(-17126 / 8.3145 * (1 / 308.15 - 1 / 298.15)), 1e-12);
  ASSERT_RELATIVE(steading_naumann_calendar_resistance_k(35, 0.5),
                  3.419e-10 * 1.5604 * exp(-71827 / 8.3145 * (1 / 308.15 - 1 / 298.15)), 1e-12);
}
END_TEST

/* A constant stress cut into many steps is one step; two unequal stresses do not depend on how they
 * are cut either. */
START_TEST(equivalent_time) {
  enum { PARTS = 10000 };
  steading_age cut = {0}, whole = {0}, other = {0};
  for (int i = 0; i < PARTS; i++) steading_age_rest(&naumann, 8760.0 / PARTS, 25, 0.5, &cut);
  ASSERT_RELATIVE(1 - steading_age_health(&naumann, &cut), naumann_calendar(25, 0.5, 1), 1e-12);
  ASSERT_RELATIVE(1 - steading_age_health(&naumann, &cut), 0.04251576, 1e-6);
  cut = (steading_age){0};
  for (int i = 0; i < PARTS; i++) steading_age_cycle(&wang, 0.7, 1, 0.5, 25, &cut);
  steading_age_cycle(&wang, 0.7, PARTS, 0.5, 25, &whole);
  ASSERT_RELATIVE(1 - steading_age_health(&wang, &cut), 1 - steading_age_health(&wang, &whole),
                  1e-12);
  /* from a loss reached at 15 C on: the time at 40 C that alone leads to it, and then on */
  double cold = naumann_calendar(15, 0.5, 3), k = steading_naumann_calendar_k(40, 0.5);
  double seconds = (cold / k) * (cold / k) + 2 * 31536000.0;
  whole = (steading_age){0};
  steading_age_rest(&naumann, 3 * 8760, 15, 0.5, &whole);
  steading_age_rest(&naumann, 2 * 8760, 40, 0.5, &other);
  steading_age_add(&other, &whole);
  ASSERT_RELATIVE(1 - steading_age_health(&naumann, &whole), k * sqrt(seconds), 1e-12);
}
END_TEST

/* About 225 cycles at 80 % and 750 at 50 % of a wet golf-cart battery (a trader's page on
 * deep-cycle batteries): the two lines, a line between their logarithms, and bands of general
 * literature. */
static const steading_depth_cycles golf_cart[2] = {{0.5, 750}, {0.8, 225}};
static const steading_ageing_law sheet = {.model = STEADING_AGEING_DEPTH,
                                          .depths = golf_cart,
                                          .depth_count = 2,
                                          .end_health = 0.8,
                                          .calendar_years = (double)INFINITY};

START_TEST(cycles_against_depth) {
  ck_assert_double_eq(steading_cycles_at_depth(golf_cart, 2, 0.5), 750);
  ck_assert_double_eq(steading_cycles_at_depth(golf_cart, 2, 0.8), 225);
  /* the geometric mean of depths has the geometric mean of cycles */
  ASSERT_RELATIVE(steading_cycles_at_depth(golf_cart, 2, sqrt(0.4)), sqrt(750 * 225.0), 1e-12);
  /* shallower: as much energy as at 50 %; deeper: along the line */
  ASSERT_RELATIVE(steading_cycles_at_depth(golf_cart, 2, 0.1), 3750, 1e-12);
  ASSERT_RELATIVE(steading_cycles_at_depth(golf_cart, 2, 1),
                  225 * pow(1 / 0.8, log(225 / 750.0) / log(0.8 / 0.5)), 1e-12);
  ck_assert_double_eq(steading_cycles_at_depth(golf_cart, 1, 0.25), 1500);
  ck_assert_double_eq(steading_cycles_at_depth(golf_cart, 1, 1), 375);
}
END_TEST

/* Miner: half the cycles of one depth and half of another are one life. */
START_TEST(damage_adds_up) {
  steading_age age = {0};
  steading_age_cycle(&sheet, 0.5, 375, 0.1, 25, &age);
  ASSERT_RELATIVE(steading_age_health(&sheet, &age), 0.9, 1e-12);
  for (int i = 0; i < 225; i++) steading_age_cycle(&sheet, 0.8, 0.5, 0.1, 25, &age);
  ASSERT_RELATIVE(steading_age_health(&sheet, &age), 0.8, 1e-12);
  ck_assert_double_eq(steading_age_resistance(&age), 1);
  steading_age_cycle(&sheet, 0.8, 1e6, 0.1, 25, &age);
  ck_assert_double_eq(steading_age_health(&sheet, &age), 0);
}
END_TEST

START_TEST(time_at_rest_counts_where_a_sheet_gives_years) {
  steading_ageing_law law = sheet;
  steading_age age = {0};
  steading_age_rest(&sheet, 1e6, 40, 1, &age);
  ck_assert_double_eq(steading_age_health(&sheet, &age), 1);
  law.calendar_years = 10;
  steading_age_rest(&law, 5 * 8760, 25, 1, &age);
  ASSERT_RELATIVE(steading_age_health(&law, &age), 0.9, 1e-12);
  steading_age_rest(&law, 2.5 * 8760, 35, 1, &age); /* twice as fast */
  ASSERT_RELATIVE(steading_age_health(&law, &age), 0.8, 1e-12);
}
END_TEST

Suite *ageing_suite(void) {
  Suite *suite = suite_create("ageing");
  TCase *tests = tcase_create("ageing");
  tcase_add_test(tests, wang_at_half_a_rate);
  tcase_add_test(tests, wang_at_other_rates);
  tcase_add_test(tests, naumann_as_printed);
  tcase_add_test(tests, naumann_resistance);
  tcase_add_test(tests, equivalent_time);
  tcase_add_test(tests, cycles_against_depth);
  tcase_add_test(tests, damage_adds_up);
  tcase_add_test(tests, time_at_rest_counts_where_a_sheet_gives_years);
  suite_add_tcase(suite, tests);
  return suite;
}
