/* The target that the environment variable TARGET names, for libFuzzer (clang -fsanitize=fuzzer).
 * With SEEDS set to a folder its seeds are written there and the program ends. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "fuzz/targets.h"

int LLVMFuzzerInitialize(int *count, char ***arguments);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length);

static const fuzz_target *target;

static int write_seeds(const char *folder) {
  for (size_t i = 0; target->seeds[i].bytes != NULL; i++) {
    char path[1024];
    FILE *file = NULL;
    snprintf(path, sizeof path, "%s/seed%zu", folder, i);
    file = fopen(path, "wb");
    if (file == NULL) return 1;
    fwrite(target->seeds[i].bytes, 1, target->seeds[i].length, file);
    if (fclose(file) != 0) return 1;
  }
  return 0;
}

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  const char *name = getenv("TARGET"), *folder = getenv("SEEDS");
  (void)count;
  (void)arguments;
  target = name == NULL ? NULL : fuzz_target_named(name);
  if (target == NULL) {
    fprintf(stderr, "TARGET names no target\n");
    exit(2);
  }
  if (folder != NULL) exit(write_seeds(folder));
  return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
  target->run(bytes, length);
  return 0;
}
