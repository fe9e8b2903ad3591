#include "site/canonical.h"

#include <nettle/sha2.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "resource/weather.h"
#include "site/function.h"
#include "site/spec.h"
#include "site/window.h"

_Static_assert(SHA256_DIGEST_SIZE == 32, "the size of a digest");

/* A growing string of bytes that remembers that memory ended. */
typedef struct writer {
  steading_bytes *bytes;
  unsigned touches;
  bool failed;
} writer;

void steading_bytes_free(steading_bytes *bytes) {
  free(bytes->data);
  *bytes = (steading_bytes){.data = NULL};
}

static void put(writer *w, const void *data, size_t length) {
  steading_bytes *b = w->bytes;
  if (w->failed) return;
  if (b->room - b->length < length) {
    size_t room = 2 * b->room + length + 1024;
    unsigned char *grown = realloc(b->data, room);
    if (grown == NULL) {
      w->failed = true;
      return;
    }
    b->data = grown;
    b->room = room;
  }
  if (length > 0) memcpy(b->data + b->length, data, length);
  b->length += length;
}

static void put_byte(writer *w, unsigned char byte) { put(w, &byte, 1); }

static void put_size(writer *w, size_t size) {
  uint64_t wide = size;
  put(w, &wide, sizeof wide);
}

/* -0 and 0 are the same number. */
static double plain(double number) { return number == 0 ? 0.0 : number; }

static void put_number(writer *w, double number) {
  number = plain(number);
  put(w, &number, sizeof number);
}

static void put_text(writer *w, const char *text) {
  size_t length = strlen(text);
  put_size(w, length);
  put(w, text, length);
}

void steading_digest_numbers(const double *numbers, size_t count, unsigned char digest[32]) {
  enum { CHUNK = 512 };
  struct sha256_ctx hash;
  sha256_init(&hash);
  for (size_t i = 0; i < count;) {
    double chunk[CHUNK];
    size_t n = 0;
    for (; n < CHUNK && i < count; n++, i++) chunk[n] = plain(numbers[i]);
    sha256_update(&hash, n * sizeof chunk[0], (const uint8_t *)chunk);
  }
  sha256_digest(&hash, SHA256_DIGEST_SIZE, digest);
}

static void put_digest(writer *w, const double *numbers, size_t count) {
  unsigned char digest[32];
  steading_digest_numbers(numbers, count, digest);
  put(w, digest, sizeof digest);
}

static void put_weather(writer *w, const steading_weather *weather) {
  const steading_place *place = &weather->place;
  put_size(w, weather->years);
  put_size(w, weather->steps);
  put_number(w, place->latitude_deg);
  put_number(w, place->longitude_deg);
  put_number(w, place->elevation_m);
  put_number(w, place->utc_offset_h);
  put_text(w, weather->time_zone);
  put_byte(w, weather->has_record_low);
  if (weather->has_record_low) put_number(w, weather->record_low_c);
  put_text(w, weather->source);
  put_text(w, weather->sha256);
  if (weather->sha256[0] != '\0') return;
  put_digest(w, weather->ghi_w_per_m2, weather->steps);
  put_digest(w, weather->dhi_w_per_m2, weather->steps);
  put_digest(w, weather->dni_w_per_m2, weather->steps);
  put_digest(w, weather->temp_c, weather->steps);
  put_byte(w, weather->wind_m_per_s != NULL);
  if (weather->wind_m_per_s != NULL) put_digest(w, weather->wind_m_per_s, weather->steps);
}

/* --- which fields ------------------------------------------------------------------------------
 */

static bool holds(const steading_field *field, unsigned touches);

static bool spec_holds(const steading_spec *spec, unsigned touches) {
  for (size_t i = 0; i < spec->field_count; i++)
    if (holds(&spec->fields[i], touches)) return true;
  return false;
}

/* Whether a field, or a field of what it contains, is among those asked for. */
static bool holds(const steading_field *field, unsigned touches) {
  if (field->kind == STEADING_FIELD_later || field->kind == STEADING_FIELD_refused) return false;
  if (touches >> field->touches & 1) return true;
  if (field->of != NULL) return spec_holds(field->of, touches);
  for (size_t i = 0; field->variants != NULL && field->variants[i] != NULL; i++)
    if (spec_holds(field->variants[i], touches)) return true;
  return false;
}

/* --- one field ---------------------------------------------------------------------------------
 */

static void put_record(writer *w, const steading_record *record);

static void put_list(writer *w, const steading_list *list) {
  put_size(w, list->count);
  for (size_t i = 0; i < list->count; i++) put_record(w, list->items[i]);
}

static void put_map(writer *w, const steading_map *map) {
  put_size(w, map->count);
  for (size_t i = 0; i < map->count; i++) {
    put_text(w, map->entries[i].name);
    put_record(w, map->entries[i].item);
  }
}

static void put_windows(writer *w, const steading_windows *windows) {
  put_size(w, windows->count);
  for (size_t i = 0; i < windows->count; i++) {
    const steading_window *window = &windows->items[i];
    const int32_t parts[4] = {window->from_min, window->to_min, window->days, window->months};
    put(w, parts, sizeof parts);
  }
}

static void put_amounts(writer *w, const steading_amounts *amounts) {
  put_size(w, amounts->count);
  for (size_t i = 0; i < amounts->count; i++) {
    put_byte(w, amounts->items[i].name != NULL);
    if (amounts->items[i].name != NULL) put_text(w, amounts->items[i].name);
    put_number(w, amounts->items[i].number);
  }
}

static void put_pointed(writer *w, const steading_field *field, const void *pointer) {
  const steading_series *series = pointer;
  const steading_texts *texts = pointer;
  switch (field->kind) {
    case STEADING_FIELD_text:
    case STEADING_FIELD_name:
      put_text(w, pointer);
      return;
    case STEADING_FIELD_texts:
      put_size(w, texts->count);
      for (size_t i = 0; i < texts->count; i++) put_text(w, texts->items[i]);
      return;
    case STEADING_FIELD_windows:
    case STEADING_FIELD_window_part:
      put_windows(w, pointer);
      return;
    case STEADING_FIELD_series:
      put_size(w, series->count);
      put(w, series->digest, sizeof series->digest);
      return;
    case STEADING_FIELD_numbers:
    case STEADING_FIELD_points:
      put_size(w, series->count);
      for (size_t i = 0; i < series->count; i++) put_number(w, series->values[i]);
      return;
    case STEADING_FIELD_amounts:
      put_amounts(w, pointer);
      return;
    case STEADING_FIELD_weather:
      put_weather(w, pointer);
      return;
    case STEADING_FIELD_function: /* what it does cannot be compared: each is another */
      put_size(w, ((const steading_function *)pointer)->number);
      return;
    case STEADING_FIELD_record:
    case STEADING_FIELD_listed:
      put_record(w, pointer);
      return;
    case STEADING_FIELD_list:
    case STEADING_FIELD_several:
    case STEADING_FIELD_variants:
      put_list(w, pointer);
      return;
    case STEADING_FIELD_map:
      put_map(w, pointer);
      return;
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
    case STEADING_FIELD_flag:
    case STEADING_FIELD_choice:
    case STEADING_FIELD_date:
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_hours:
    case STEADING_FIELD_pair:
    case STEADING_FIELD_words:
    case STEADING_FIELD_year_days:
    case STEADING_FIELD_temps:
    case STEADING_FIELD_later:
    case STEADING_FIELD_refused:
      return;
  }
}

/* A value that lies in the struct itself; false when the struct holds a pointer to it. */
static bool put_held(writer *w, const steading_field *field, const void *place, bool given) {
  const double *numbers = place;
  size_t count = 0, size = 0;
  switch (field->kind) {
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
      count = 1;
      break;
    case STEADING_FIELD_pair:
      count = 2;
      break;
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_temps:
      count = 12;
      break;
    case STEADING_FIELD_hours:
      count = 24;
      break;
    case STEADING_FIELD_flag:
      size = sizeof(bool);
      break;
    case STEADING_FIELD_choice:
      size = sizeof(int);
      break;
    case STEADING_FIELD_date:
      size = sizeof(int64_t);
      break;
    case STEADING_FIELD_words:
      size = sizeof(unsigned);
      break;
    case STEADING_FIELD_year_days:
      size = sizeof(bool[12][31]);
      break;
    default:
      return false;
  }
  if (field->need == STEADING_NEED_optional) {
    put_byte(w, given);
    if (!given) return true;
  }
  for (size_t i = 0; i < count; i++) put_number(w, numbers[i]);
  if (size > 0) put(w, place, size);
  return true;
}

static void put_record(writer *w, const steading_record *record) {
  const steading_spec *spec = record->spec;
  if (spec->says_kind) put_text(w, spec->name);
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    const void *place = (const char *)record + field->offset, *pointer = NULL;
    if (!holds(field, w->touches)) continue;
    if (put_held(w, field, place, record->given >> i & 1)) continue;
    pointer = *(void *const *)place;
    put_byte(w, pointer != NULL);
    if (pointer != NULL) put_pointed(w, field, pointer);
  }
}

steading_status steading_site_canonical(const void *record, unsigned touches,
                                        steading_bytes *bytes) {
  writer w = {.bytes = bytes, .touches = touches};
  put_record(&w, record);
  return w.failed ? STEADING_NO_MEMORY : STEADING_OK;
}
