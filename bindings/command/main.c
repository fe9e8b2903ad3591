/* steading: the command. */
#include <locale.h>
#include <malloc.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

#include "help.h"
#include "lua/script.h"

static int usage(FILE *to) {
  fputs(
      "usage: steading run SCRIPT [--out DIR] [--resume] [--set name=value ...]\n"
      "       steading check SCRIPT [--strict] [--set name=value ...]\n"
      "       steading help [TOPIC | SCRIPT]\n"
      "       steading --version\n",
      to);
  return to == stdout ? 0 : 2;
}

static int later(const char *what) {
  fprintf(stderr, "steading: %s is not yet carried out by this version\n", what);
  return 2;
}

/* One option at argv[*i]; 0, or the exit status of a bad one. */
static int read_option(int argc, char **argv, int *i, steading_script *script) {
  static const char *const later_options[] = {"--jobs", "--part", "--retry-failed", "--read", NULL};
  const char *option = argv[*i];
  bool runs = script->mode == STEADING_MODE_RUN;
  for (int k = 0; later_options[k] != NULL; k++)
    if (strcmp(option, later_options[k]) == 0) return later(option);
  if (strcmp(option, "--resume") == 0 && runs) {
    script->resume = true;
    return 0;
  }
  if (strcmp(option, "--strict") == 0 && !runs) {
    script->strict = true;
    return 0;
  }
  if (strcmp(option, "--out") == 0 && runs && *i + 1 < argc) {
    if (script->out != NULL) {
      fprintf(stderr, "steading: --out %s: given twice\n", argv[*i + 1]);
      return 2;
    }
    script->out = argv[++*i];
    return 0;
  }
  if (strcmp(option, "--set") == 0 && *i + 1 < argc) {
    char *text = argv[++*i], *equals = strchr(text, '=');
    if (equals == NULL || equals == text) {
      fprintf(stderr, "steading: --set %s: expected name=value\n", text);
      return 2;
    }
    *equals = '\0';
    for (size_t k = 0; k < script->setting_count; k++)
      if (strcmp(script->settings[k].name, text) == 0) {
        fprintf(stderr, "steading: --set %s: given twice\n", text);
        return 2;
      }
    script->settings[script->setting_count++] =
        (steading_setting){.name = text, .value = equals + 1};
    return 0;
  }
  fprintf(stderr, "steading: unknown or incomplete option %s\n", option);
  return usage(stderr);
}

/* Seconds that a script may spend in Lua between two calls into the engine: 30, or what the
 * environment variable STEADING_LUA_SECONDS says. 0 when that is no number of 0.25..86400. */
static double limit_s(void) {
  const char *text = getenv("STEADING_LUA_SECONDS");
  char *end = NULL;
  double seconds = text == NULL ? 30 : strtod(text, &end);
  if (text != NULL && (end == text || *end != '\0' || !(seconds >= 0.25 && seconds <= 86400))) {
    fprintf(stderr, "steading: STEADING_LUA_SECONDS=%s: expected seconds, 0.25 to 86400\n", text);
    return 0;
  }
  return seconds;
}

/* Fresh pages cost a short run more than its arithmetic: keep freed memory for the next run, and
 * take what a site of a few arrays touches in one call, at half the price of page by page. Where
 * the system does not know the call nothing is lost. */
static void keep_memory(void) {
  const size_t size = 1600 << 10, page = 4096;
  char *memory = NULL;
  mallopt(M_MMAP_THRESHOLD, 1 << 26);
  mallopt(M_TRIM_THRESHOLD, 1 << 28);
  memory = malloc(size);
#ifdef MADV_POPULATE_WRITE
  if (memory != NULL)
    madvise(memory + page - (uintptr_t)memory % page, size - 2 * page, MADV_POPULATE_WRITE);
#endif
  free(memory);
}

/* The order of --set says nothing: a study may be resumed with another. */
static int by_name(const void *a, const void *b) {
  return strcmp(((const steading_setting *)a)->name, ((const steading_setting *)b)->name);
}

static int run_script(int argc, char **argv, steading_mode mode) {
  steading_script script = {
      .mode = mode, .limit_s = limit_s(), .memory_limit = (size_t)1 << 30, .random_seed = 1};
  int status = script.limit_s > 0 ? 0 : 2;
  script.settings = calloc((size_t)argc, sizeof *script.settings);
  if (script.settings == NULL) return 3;
  for (int i = 2; status == 0 && i < argc; i++) {
    if (argv[i][0] == '-') {
      status = read_option(argc, argv, &i, &script);
    } else if (script.path == NULL) {
      script.path = argv[i];
    } else {
      fprintf(stderr, "steading: one script at a time: %s, %s\n", script.path, argv[i]);
      status = 2;
    }
  }
  if (status == 0 && script.path == NULL) status = usage(stderr);
  if (script.setting_count > 1)
    qsort(script.settings, script.setting_count, sizeof *script.settings, by_name);
  keep_memory();
  if (status == 0) status = steading_script_run(&script);
  free(script.settings);
  return status;
}

static int help_script(const char *path) {
  steading_script script = {.mode = STEADING_MODE_HELP,
                            .limit_s = limit_s(),
                            .memory_limit = (size_t)1 << 30,
                            .random_seed = 1,
                            .path = path};
  printf("arguments of %s (--set name=value) and their defaults:\n", path);
  return steading_script_run(&script);
}

int main(int argc, char **argv) {
  setlocale(LC_ALL, "C");
  setvbuf(stdout, NULL, _IOLBF, 1 << 16); /* what was printed is out when a script is stopped */
  if (argc < 2) return usage(stderr);
  if (strcmp(argv[1], "run") == 0) return run_script(argc, argv, STEADING_MODE_RUN);
  if (strcmp(argv[1], "check") == 0) return run_script(argc, argv, STEADING_MODE_CHECK);
  if (strcmp(argv[1], "--version") == 0) {
    puts("steading " STEADING_VERSION ", Lua " LUA_VERSION_MAJOR "." LUA_VERSION_MINOR
         "." LUA_VERSION_RELEASE ", built with " __VERSION__);
    return 0;
  }
  if (strcmp(argv[1], "help") == 0 || strcmp(argv[1], "--help") == 0) {
    size_t length = argc > 2 ? strlen(argv[2]) : 0;
    if (argc > 3) return usage(stderr);
    if (argc < 3) {
      usage(stdout);
      return steading_help_topics();
    }
    if (strchr(argv[2], '/') != NULL || (length > 4 && strcmp(argv[2] + length - 4, ".lua") == 0))
      return help_script(argv[2]);
    return steading_help_topic(argv[2]);
  }
  if (strcmp(argv[1], "merge") == 0 || strcmp(argv[1], "plot") == 0 ||
      strcmp(argv[1], "new") == 0 || strcmp(argv[1], "shell") == 0)
    return later(argv[1]);
  fprintf(stderr, "steading: unknown command %s\n", argv[1]);
  return usage(stderr);
}
