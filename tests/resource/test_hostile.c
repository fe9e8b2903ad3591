/* Every target of the fuzzers (tests/fuzz) on its seeds and on the inputs that once broke one. A
 * target aborts where a promise is broken, which fails the test. */
#include <check.h>

#include "fuzz/targets.h"
#include "suites.h"

START_TEST(seeds_break_nothing) {
  const fuzz_target *target = &fuzz_targets[_i];
  for (size_t i = 0; target->seeds[i].bytes != NULL; i++)
    target->run((const unsigned char *)target->seeds[i].bytes, target->seeds[i].length);
  target->run((const unsigned char *)"", 0);
}
END_TEST

Suite *hostile_suite(void) {
  Suite *suite = suite_create("resource/hostile");
  TCase *targets = tcase_create("targets");
  int count = 0;
  while (fuzz_targets[count].name != NULL) count++;
  tcase_add_loop_test(targets, seeds_break_nothing, 0, count);
  suite_add_tcase(suite, targets);
  return suite;
}
