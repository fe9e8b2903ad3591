/* Every target of the fuzzers (tests/fuzz) on its seeds and on the inputs that once broke one. A
 * target aborts where a promise is broken, which fails the test. */
#include <check.h>
#include <string.h>

#include "fuzz/targets.h"
#include "resource/table_weather.h"
#include "suites.h"

START_TEST(seeds_break_nothing) {
  const fuzz_target *target = &fuzz_targets[_i];
  for (size_t i = 0; target->seeds[i].bytes != NULL; i++)
    target->run((const unsigned char *)target->seeds[i].bytes, target->seeds[i].length);
  target->run((const unsigned char *)"", 0);
}
END_TEST

/* Inputs that once broke a target. */
START_TEST(what_once_broke_a_target_breaks_nothing) {
  static const struct {
    const char *target, *bytes;
    size_t length;
  } broken[] = {
#define BROKEN(target, bytes) {target, bytes, sizeof bytes - 1}
      /* room for 5121 years of steps */
      BROKEN("table",
             "\x1c\x40t,g,n,d,a,w\n1013-01-01T00:00,0,0,0,1,2\n1013-01-01T01:00,0,0,0,1,2\n"
             "6134-01-01T00:00,0,00,0,1,2\n"),
  };
  for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++)
    fuzz_target_named(broken[i].target)
        ->run((const unsigned char *)broken[i].bytes, broken[i].length);
}
END_TEST

START_TEST(stamps_of_far_years_ask_for_no_room) {
  static const char text[] =
      "t,g,a\n1013-06-01T00:00,0,1\n1013-06-01T01:00,0,1\n6134-05-31T23:00,0,1\n";
  const steading_table_layout layout = {.source = "table",
                                        .time = {"t"},
                                        .time_count = 1,
                                        .columns = {"a", "g"},
                                        .place = {.latitude_deg = 35.1, .longitude_deg = -106.6},
                                        .has_stamp_offset = true,
                                        .stamp_offset_h = -7};
  steading_weather *weather = NULL;
  steading_error error = {0};
  ck_assert_int_eq(
      steading_table_weather(text, sizeof text - 1, "x.csv", &layout, &weather, &error),
      STEADING_BAD_INPUT);
  /* 5121 years of 8760 hours */
  ck_assert_str_eq(error.text,
                   "the table has 3 rows for the 44859960 steps of 60 min from 1013-06-01 to "
                   "6134-05-31: more than half are missing");
}
END_TEST

Suite *hostile_suite(void) {
  Suite *suite = suite_create("resource/hostile");
  TCase *targets = tcase_create("targets");
  int count = 0;
  while (fuzz_targets[count].name != NULL) count++;
  tcase_add_loop_test(targets, seeds_break_nothing, 0, count);
  tcase_add_test(targets, what_once_broke_a_target_breaks_nothing);
  tcase_add_test(targets, stamps_of_far_years_ask_for_no_room);
  suite_add_tcase(suite, targets);
  return suite;
}
