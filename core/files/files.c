#include "files/files.h"

#include <assert.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <nettle/sha2.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

#include "nearest.h"

/* A weather or meter file has a few MiB; beyond this somebody gave the wrong path. */
static const size_t file_size_max = (size_t)1 << 30;

/* --- paths -------------------------------------------------------------------------------------
 */

/* Where the last part of a path begins. */
static const char *last_part(const char *path) {
  const char *slash = strrchr(path, '/');
  return slash == NULL ? path : slash + 1;
}

/* The folder of a path ("." where the path has none), malloc'd. */
static char *folder_of(const char *path) {
  size_t length = (size_t)(last_part(path) - path);
  while (length > 1 && path[length - 1] == '/') length--;
  return length == 0 ? strdup(".") : strndup(path, length);
}

/* What a path leads to, when that is not a file. NULL for a regular file. */
static const char *other_than_file(mode_t mode) {
  if (S_ISREG(mode)) return NULL;
  if (S_ISDIR(mode)) return "a folder";
  if (S_ISFIFO(mode)) return "a pipe";
  if (S_ISSOCK(mode)) return "a socket";
  return "a device";
}

static bool is_folder(const char *path) {
  struct stat found;
  return stat(path, &found) == 0 && S_ISDIR(found.st_mode);
}

/* The name in a folder that is nearest to `word`, into `name`; false when none is near. Of equally
 * near names the first in byte order, since a folder has no order of its own. */
static bool nearest_in_folder(const char *folder, const char *word, char name[256]) {
  size_t best = steading_nearest_limit(word) + 1;
  const struct dirent *entry = NULL;
  DIR *open_folder = opendir(folder);
  name[0] = '\0';
  if (open_folder == NULL) return false;
  while ((entry = readdir(open_folder)) != NULL) {
    size_t distance = 0;
    if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0) continue;
    distance = steading_edit_distance(word, entry->d_name, best > 3 ? 3 : best);
    if (distance > best || (distance == best && name[0] == '\0')) continue;
    if (distance == best && strcmp(entry->d_name, name) >= 0) continue;
    best = distance;
    snprintf(name, 256, "%s", entry->d_name);
  }
  closedir(open_folder);
  return name[0] != '\0';
}

static steading_status fail_missing(const char *path, steading_error *error) {
  char name[256];
  char *folder = folder_of(path);
  steading_status status = STEADING_IO;
  if (folder == NULL) return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
  if (!is_folder(folder))
    status = steading_fail(error, STEADING_IO, path, "there is no folder '%s'", folder);
  else if (nearest_in_folder(folder, last_part(path), name))
    status =
        steading_fail(error, STEADING_IO, path, "there is no such file (did you mean '%s'?)", name);
  else
    status = steading_fail(error, STEADING_IO, path, "there is no such file");
  free(folder);
  return status;
}

/* --- reading -----------------------------------------------------------------------------------
 */

/* read(2) until the end of the file. The size is a hint: files of /proc say 0, and a file may grow
 * while it is read. */
static steading_status read_to_end(int handle, size_t size_hint, const char *path, char **bytes,
                                   size_t *length, steading_error *error) {
  size_t capacity = size_hint + 2, used = 0; /* one to notice the end with, one for the NUL */
  char *buffer = malloc(capacity);
  while (buffer != NULL) {
    ssize_t got = read(handle, buffer + used, capacity - 1 - used);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) {
      int reason = errno;
      free(buffer);
      return steading_fail(error, STEADING_IO, path, "cannot be read: %s", strerror(reason));
    }
    used += (size_t)got;
    if (used > file_size_max) {
      free(buffer);
      return steading_fail(error, STEADING_IO, path, "is larger than 1 GiB");
    }
    if (got == 0) {
      buffer[used] = '\0';
      *bytes = buffer;
      *length = used;
      return STEADING_OK;
    }
    if (used + 1 == capacity) {
      char *larger = realloc(buffer, 2 * capacity);
      if (larger == NULL) free(buffer);
      buffer = larger;
      capacity *= 2;
    }
  }
  return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory to read the file");
}

/* Open a regular file of at most file_size_max bytes. */
static steading_status open_file(const char *path, int *handle, size_t *size,
                                 steading_error *error) {
  struct stat found;
  const char *other = NULL;
  steading_status status = STEADING_OK;
  /* O_NONBLOCK: opening a pipe that nobody writes to would wait for ever. */
  *handle = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
  if (*handle < 0) {
    int reason = errno;
    if (reason == ENOENT || reason == ENOTDIR) return fail_missing(path, error);
    if (reason == ENXIO)
      return steading_fail(error, STEADING_IO, path, "is a socket or device, not a file");
    return steading_fail(error, STEADING_IO, path, "cannot be opened: %s", strerror(reason));
  }
  if (fstat(*handle, &found) != 0)
    status = steading_fail(error, STEADING_IO, path, "cannot be read: %s", strerror(errno));
  else if ((other = other_than_file(found.st_mode)) != NULL)
    status = steading_fail(error, STEADING_IO, path, "is %s, not a file", other);
  else if (found.st_size < 0 || (uintmax_t)found.st_size > file_size_max)
    status = steading_fail(error, STEADING_IO, path, "is larger than 1 GiB");
  if (status == STEADING_OK)
    *size = (size_t)found.st_size;
  else
    close(*handle);
  return status;
}

steading_status steading_file_read(const char *path, char **bytes, size_t *length,
                                   steading_error *error) {
  int handle = 0;
  size_t size = 0;
  steading_status status = open_file(path, &handle, &size, error);
  *bytes = NULL;
  *length = 0;
  if (status != STEADING_OK) return status;
  status = read_to_end(handle, size, path, bytes, length, error);
  close(handle);
  return status;
}

steading_status steading_file_map(const char *path, const char **bytes, size_t *length,
                                  steading_error *error) {
  int handle = 0;
  void *mapped = NULL;
  steading_status status = open_file(path, &handle, length, error);
  *bytes = NULL;
  if (status != STEADING_OK) return status;
  if (*length == 0) {
    close(handle);
    return steading_fail(error, STEADING_BAD_INPUT, path, "the file is empty");
  }
  mapped = mmap(NULL, *length, PROT_READ, MAP_PRIVATE, handle, 0);
  if (mapped == MAP_FAILED)
    status = steading_fail(error, STEADING_IO, path, "cannot be read: %s", strerror(errno));
  else
    *bytes = mapped;
  close(handle);
  return status;
}

void steading_file_unmap(const char *bytes, size_t length) {
  if (bytes != NULL) munmap((void *)bytes, length);
}

void steading_sha256(const void *bytes, size_t length, char hex[65]) {
  static const char digits[] = "0123456789abcdef";
  struct sha256_ctx context;
  uint8_t digest[SHA256_DIGEST_SIZE];
  sha256_init(&context);
  if (length > 0) sha256_update(&context, length, bytes);
  sha256_digest(&context, sizeof digest, digest);
  for (size_t i = 0; i < sizeof digest; i++) {
    hex[2 * i] = digits[digest[i] >> 4];
    hex[2 * i + 1] = digits[digest[i] & 15];
  }
  hex[64] = '\0';
}

/* --- writing -----------------------------------------------------------------------------------
 */

enum { BUFFER_SIZE = 1 << 16 };

struct steading_writer {
  int handle;
  int failure; /* errno of the first failure; 0 while all is well */
  size_t used;
  char *path, *beside, *folder;
  char buffer[BUFFER_SIZE];
};

static void free_writer(steading_writer *writer) {
  if (writer == NULL) return;
  if (writer->handle >= 0) close(writer->handle);
  free(writer->path);
  free(writer->beside);
  free(writer->folder);
  free(writer);
}

static steading_writer *new_writer(const char *path) {
  steading_writer *writer = malloc(sizeof *writer);
  if (writer == NULL) return NULL;
  writer->handle = -1;
  writer->failure = 0;
  writer->used = 0;
  writer->path = strdup(path);
  writer->folder = folder_of(path);
  if (asprintf(&writer->beside, "%s.tmp-%ld", path, (long)getpid()) < 0) writer->beside = NULL;
  if (writer->path != NULL && writer->folder != NULL && writer->beside != NULL) return writer;
  free_writer(writer);
  return NULL;
}

/* A file of that name may be left from a process that was killed and had the same number; the lock
 * tells it from one that is being written right now. */
static steading_status open_beside(steading_writer *writer, steading_error *error) {
  int handle = open(writer->beside, O_WRONLY | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0644);
  if (handle < 0)
    return steading_fail(error, STEADING_IO, writer->path, "cannot be written: %s",
                         strerror(errno));
  if (flock(handle, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK) {
    close(handle);
    return steading_fail(error, STEADING_IO, writer->path, "is being written already");
  }
  writer->handle = handle;
  if (ftruncate(handle, 0) != 0)
    return steading_fail(error, STEADING_IO, writer->path, "cannot be written: %s",
                         strerror(errno));
  return STEADING_OK;
}

steading_status steading_writer_open(const char *path, steading_writer **writer,
                                     steading_error *error) {
  struct stat found;
  steading_status status = STEADING_OK;
  steading_writer *made = NULL;
  *writer = NULL;
  if (*last_part(path) == '\0')
    return steading_fail(error, STEADING_IO, path, "is not the name of a file");
  /* Renaming onto a device would replace it. */
  if (stat(path, &found) == 0 && other_than_file(found.st_mode) != NULL)
    return steading_fail(error, STEADING_IO, path, "is %s, not a file",
                         other_than_file(found.st_mode));
  made = new_writer(path);
  if (made == NULL) return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
  if (!is_folder(made->folder))
    status = steading_fail(error, STEADING_IO, path, "there is no folder '%s'", made->folder);
  else
    status = open_beside(made, error);
  if (status != STEADING_OK) {
    free_writer(made);
    return status;
  }
  *writer = made;
  return STEADING_OK;
}

static void write_out(steading_writer *writer, const char *bytes, size_t length) {
  while (length > 0 && writer->failure == 0) {
    ssize_t written = write(writer->handle, bytes, length);
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) {
      writer->failure = errno;
    } else {
      bytes += written;
      length -= (size_t)written;
    }
  }
}

static void flush(steading_writer *writer) {
  write_out(writer, writer->buffer, writer->used);
  writer->used = 0;
}

void steading_writer_put(steading_writer *writer, const void *bytes, size_t length) {
  if (length > BUFFER_SIZE - writer->used) flush(writer);
  if (length > BUFFER_SIZE) {
    write_out(writer, bytes, length);
  } else if (length > 0) {
    memcpy(writer->buffer + writer->used, bytes, length);
    writer->used += length;
  }
}

/* Text that is longer than the whole buffer. */
static void print_long(steading_writer *writer, const char *format, va_list list) {
  char *text = NULL;
  int length = vasprintf(&text, format, list);
  if (length < 0) {
    if (writer->failure == 0) writer->failure = ENOMEM;
    return;
  }
  steading_writer_put(writer, text, (size_t)length);
  free(text);
}

void steading_writer_print(steading_writer *writer, const char *format, ...) {
  for (int attempt = 0; attempt < 2; attempt++) {
    size_t room = BUFFER_SIZE - writer->used;
    va_list list;
    va_start(list, format);
    int length = vsnprintf(writer->buffer + writer->used, room, format, list);
    va_end(list);
    if (length < 0) {
      if (writer->failure == 0) writer->failure = errno;
      return;
    }
    if ((size_t)length < room) { /* it fits, with the NUL that vsnprintf puts behind */
      writer->used += (size_t)length;
      return;
    }
    flush(writer);
  }
  va_list list;
  va_start(list, format);
  print_long(writer, format, list);
  va_end(list);
}

void steading_writer_abandon(steading_writer *writer) {
  if (writer == NULL) return;
  unlink(writer->beside);
  free_writer(writer);
}

static void close_beside(steading_writer *writer) {
  if (writer->failure == 0 && fsync(writer->handle) != 0 && errno != EINVAL)
    writer->failure = errno;
  if (close(writer->handle) != 0 && writer->failure == 0 && errno != EINTR) writer->failure = errno;
  writer->handle = -1;
}

steading_status steading_writer_commit(steading_writer *writer, steading_error *error) {
  steading_status status = STEADING_OK;
  flush(writer);
  close_beside(writer);
  if (writer->failure == 0 && rename(writer->beside, writer->path) != 0) writer->failure = errno;
  if (writer->failure != 0) {
    status = steading_fail(error, writer->failure == ENOMEM ? STEADING_NO_MEMORY : STEADING_IO,
                           writer->path, "cannot be written: %s", strerror(writer->failure));
    unlink(writer->beside);
  }
  free_writer(writer);
  return status;
}

/* --- numbers -----------------------------------------------------------------------------------
 */

enum { DIGITS = 12 };

/* Powers of ten that a double holds exactly, and 1e-4 .. 1e-1 to the nearest double. */
static const double ten_to[16] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                  1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
static const double tenth_to[5] = {1e0, 1e-1, 1e-2, 1e-3, 1e-4};

/* Decimal exponent of 1e-4 <= size < 1e12. Just below a power of ten it may be one too large or too
 * small where that power is no double: the 12 digits then round to the power itself. */
static int decimal_exponent(double size) {
  int exponent = 0;
  if (size < 1) {
    while (size < tenth_to[-exponent]) exponent--;
  } else {
    while (exponent < DIGITS - 1 && size >= ten_to[exponent + 1]) exponent++;
  }
  return exponent;
}

/* size * 10^power to the nearest integer, a tie to the even one, as if computed exactly: product
 * and its rounding error add up to the exact value. */
static int64_t scaled_integer(double size, int power) {
  /* cppcheck-suppress negativeIndex ; exponent is below DIGITS here, so that power is not negative */
  double product = size * ten_to[power];
  /* cppcheck-suppress negativeIndex ; as above */
  double rest = fma(size, ten_to[power], -product);
  double whole = floor(product);
  double above_half = product - whole - 0.5;
  int64_t integer = (int64_t)whole;
  if (above_half + rest > 0 || (above_half + rest == 0 && integer % 2 != 0)) integer++;
  return integer;
}

/* The digits of an integer below 10^12, all twelve of them. */
static void twelve_digits(int64_t integer, char digits[DIGITS]) {
  for (int i = DIGITS; i-- > 0; integer /= 10) digits[i] = (char)('0' + integer % 10);
}

/* Positional notation of digits[0].digits[1]... x 10^exponent; exponent -5..11. */
static void print_positional(const char digits[DIGITS], int exponent, char *out) {
  int last = DIGITS - 1;
  while (last > 0 && digits[last] == '0') last--;
  if (exponent < 0) {
    *out++ = '0';
    *out++ = '.';
    for (int i = exponent + 1; i < 0; i++) *out++ = '0';
    for (int i = 0; i <= last; i++) *out++ = digits[i];
  } else {
    for (int i = 0; i <= exponent; i++) *out++ = digits[i];
    if (last > exponent) *out++ = '.';
    for (int i = exponent + 1; i <= last; i++) *out++ = digits[i];
  }
  *out = '\0';
}

/* printf's own digits with '.' for whatever the locale puts between them. */
static void print_by_libc(double value, char text[32]) {
  char printed[64];
  bool in_point = false;
  snprintf(printed, sizeof printed, "%.12g", value);
  for (const char *p = printed; *p != '\0'; p++) {
    bool known = strchr("0123456789+-e", *p) != NULL;
    if (known) *text++ = *p;
    if (!known && !in_point) *text++ = '.';
    in_point = !known;
  }
  *text = '\0';
}

void steading_format_number(double value, char text[32]) {
  char digits[DIGITS];
  double size = fabs(value);
  int exponent = 0;
  int64_t integer = 0;
  assert(isfinite(value));
  if (value == 0) {
    memcpy(text, "0", 2);
    return;
  }
  if (size < 1e-4 || size >= 1e12) {
    print_by_libc(value, text);
    return;
  }
  exponent = decimal_exponent(size);
  integer = scaled_integer(size, DIGITS - 1 - exponent);
  if (integer >= 1000000000000) { /* 9.99...96 became 10.0 */
    integer /= 10;
    exponent++;
  }
  if (exponent >= DIGITS) { /* printf changes its notation at 1e12 */
    print_by_libc(value, text);
    return;
  }
  twelve_digits(integer, digits);
  if (value < 0) *text++ = '-';
  print_positional(digits, exponent, text);
}
