/* All tests under one runner: its summary is the last line. */
#include <stdio.h>
#include <stdlib.h>

#include "slow.h"
#include "suites.h"

int main(void) {
  static Suite *(*const suites[])(void) = {
#define SUITE(name) name##_suite,
#include "suites.list"
#undef SUITE
  };
  SRunner *runner = NULL;
  int failed = 0, ran = 0;
  const char *data = getenv("DATA");
  if (data != NULL && data[0] == '\0') unsetenv("DATA"); /* no folder was named */
  char times_slower[16];
  /* Check's own four seconds are too few on a busy machine */
  setenv("CK_DEFAULT_TIMEOUT", "60", 0);
  snprintf(times_slower, sizeof times_slower, "%d", (int)TIMES_SLOWER);
  setenv("CK_TIMEOUT_MULTIPLIER", times_slower, 0); /* of this and of all that tests set */
  for (size_t i = 0; i < sizeof suites / sizeof suites[0]; i++) {
    if (runner == NULL)
      runner = srunner_create(suites[i]());
    else
      srunner_add_suite(runner, suites[i]());
  }
  srunner_run_all(runner, CK_ENV);
  failed = srunner_ntests_failed(runner);
  ran = srunner_ntests_run(runner);
  srunner_free(runner);
  if (ran == 0) fprintf(stderr, "no test ran\n"); /* a filter that matches nothing is no success */
  return failed == 0 && ran > 0 ? 0 : 1;
}
