/* A temporary folder of a test. */
#ifndef STEADING_TESTS_FILES_FOLDER_H
#define STEADING_TESTS_FILES_FOLDER_H

#include <check.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FOLDER_SIZE = 200, FILE_PATH_SIZE = 400 };

static inline void folder_make(char folder[FOLDER_SIZE]) {
  const char *parent = getenv("TMPDIR");
  snprintf(folder, FOLDER_SIZE, "%.150s/steading-XXXXXX", parent == NULL ? "/tmp" : parent);
  ck_assert_ptr_nonnull(mkdtemp(folder));
}

static inline int folder_remove_one(const char *path, const struct stat *found, int kind,
                                    struct FTW *place) {
  (void)found, (void)kind, (void)place;
  return remove(path);
}

static inline void folder_remove(const char *folder) {
  ck_assert_int_eq(nftw(folder, folder_remove_one, 16, FTW_DEPTH | FTW_PHYS), 0);
}

/* FOLDER/NAME in `path`. */
static inline const char *folder_path(const char *folder, const char *name,
                                      char path[FILE_PATH_SIZE]) {
  ck_assert_int_lt(snprintf(path, FILE_PATH_SIZE, "%s/%s", folder, name), FILE_PATH_SIZE);
  return path;
}

/* Written and read with stdio, so that the module under test is not its own judge. */
static inline void folder_write(const char *path, const void *bytes, size_t length) {
  FILE *file = fopen(path, "wb");
  ck_assert_ptr_nonnull(file);
  ck_assert_uint_eq(fwrite(bytes, 1, length, file), length);
  ck_assert_int_eq(fclose(file), 0);
}

static inline char *folder_read(const char *path, size_t *length) {
  struct stat found;
  char *bytes = NULL;
  FILE *file = fopen(path, "rb");
  ck_assert_ptr_nonnull(file);
  ck_assert_int_eq(fstat(fileno(file), &found), 0);
  bytes = malloc((size_t)found.st_size + 1);
  ck_assert_ptr_nonnull(bytes);
  ck_assert_uint_eq(fread(bytes, 1, (size_t)found.st_size, file), (size_t)found.st_size);
  bytes[found.st_size] = '\0';
  *length = (size_t)found.st_size;
  fclose(file);
  return bytes;
}

#endif
