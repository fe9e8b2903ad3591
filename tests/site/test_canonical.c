/* Canonical bytes: for every field of every struct of the spec tables, what they say follows from
 * the rule in canonical.h. Records are made up field by field, whatever a script could write, so
 * that no field is passed over. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "build.h"
#include "site/canonical.h"
#include "site/fields.h"
#include "site/function.h"
#include "site/window.h"
#include "suites.h"

static steading_arena arena;
static steading_weather *weathers[2];

static void setup(void) {
  for (int i = 0; i < 2; i++) weathers[i] = build_dark_weather();
  weathers[1]->temp_c[4711] = 21;
}

static void teardown(void) {
  steading_arena_drop(&arena);
  for (int i = 0; i < 2; i++) steading_weather_release(weathers[i]);
}

static void *take(size_t size) {
  void *memory = steading_arena_take(&arena, size);
  ck_assert_ptr_nonnull(memory);
  return memory;
}

static steading_bytes bytes_of(const void *record, unsigned touches) {
  steading_bytes bytes = {.data = NULL};
  ck_assert_int_eq(steading_site_canonical(record, touches, &bytes), STEADING_OK);
  return bytes;
}

static bool same_bytes(const void *a, const void *b, unsigned touches) {
  steading_bytes x = bytes_of(a, touches), y = bytes_of(b, touches);
  bool same = x.length == y.length && (x.length == 0 || memcmp(x.data, y.data, x.length) == 0);
  steading_bytes_free(&x);
  steading_bytes_free(&y);
  return same;
}

/* --- made-up records ---------------------------------------------------------------------------
 */

/* Values are counted while they are made; the one with the number `changed` is another. */
typedef struct maker {
  size_t made, changed;
} maker;

enum { NONE_CHANGED = 0 };

static int other(maker *m) { return ++m->made == m->changed; }

static steading_function functions[2] = {{.number = 1}, {.number = 2}};

static steading_record *make_record(maker *m, const steading_spec *spec);

static void make_field(maker *m, const steading_field *field, void *place) {
  steading_list *list = NULL;
  steading_map *map = NULL;
  steading_windows *windows = NULL;
  steading_series *series = NULL;
  steading_amounts *amounts = NULL;
  steading_texts *texts = NULL;
  double *numbers = place;
  switch (field->kind) {
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
      numbers[0] = 3 + other(m);
      return;
    case STEADING_FIELD_pair:
      for (int i = 0; i < 2; i++) numbers[i] = i + 10 * other(m);
      return;
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_temps:
      for (int i = 0; i < 12; i++) numbers[i] = i + 100 * other(m);
      return;
    case STEADING_FIELD_hours:
      for (int i = 0; i < 24; i++) numbers[i] = i + 100 * other(m);
      return;
    case STEADING_FIELD_flag:
      *(bool *)place = other(m);
      return;
    case STEADING_FIELD_choice:
      *(int *)place = other(m);
      return;
    case STEADING_FIELD_date:
      *(int64_t *)place = 20000 + other(m);
      return;
    case STEADING_FIELD_words:
      *(unsigned *)place = 1u + (unsigned)other(m);
      return;
    case STEADING_FIELD_year_days:
      for (int i = 0; i < 12 * 31; i += 50) ((bool *)place)[i] = other(m);
      return;
    case STEADING_FIELD_text:
    case STEADING_FIELD_name:
      *(const char **)place = other(m) ? "yard" : "barn";
      return;
    case STEADING_FIELD_weather:
      *(steading_weather **)place = weathers[other(m)];
      return;
    case STEADING_FIELD_function:
      *(steading_function **)place = &functions[other(m)];
      return;
    case STEADING_FIELD_texts:
      texts = take(sizeof *texts + 2 * sizeof texts->items[0]);
      texts->count = 2;
      for (int i = 0; i < 2; i++)
        texts->items[i] = steading_arena_text(&arena, other(m) ? "b" : "a", 1);
      *(void **)place = texts;
      return;
    case STEADING_FIELD_windows:
    case STEADING_FIELD_window_part:
      windows = take(sizeof *windows + sizeof windows->items[0]);
      windows->count = 1;
      windows->items[0].from_min = 60 + other(m);
      windows->items[0].to_min = 120 + other(m);
      windows->items[0].days = (uint8_t)(31 + other(m));
      windows->items[0].months = (uint16_t)(63 + other(m));
      *(void **)place = windows;
      return;
    case STEADING_FIELD_series:
    case STEADING_FIELD_numbers:
    case STEADING_FIELD_points:
      series = take(sizeof *series + 3 * sizeof series->values[0]);
      series->count = 3;
      for (size_t i = 0; i < 3; i++) series->values[i] = 1.5 + other(m);
      steading_digest_numbers(series->values, series->count, series->digest);
      *(void **)place = series;
      return;
    case STEADING_FIELD_amounts:
      amounts = take(sizeof *amounts + sizeof amounts->items[0]);
      amounts->count = 1;
      amounts->items[0].name = steading_arena_text(&arena, other(m) ? "y" : "x", 1);
      amounts->items[0].number = 2 + other(m);
      *(void **)place = amounts;
      return;
    case STEADING_FIELD_record:
    case STEADING_FIELD_listed:
      *(void **)place = make_record(m, field->of);
      return;
    case STEADING_FIELD_list:
    case STEADING_FIELD_several:
      list = take(sizeof *list + 2 * sizeof list->items[0]);
      list->count = 2;
      for (int i = 0; i < 2; i++) list->items[i] = make_record(m, field->of);
      *(void **)place = list;
      return;
    case STEADING_FIELD_variants:
      list = take(sizeof *list + 32 * sizeof list->items[0]);
      for (size_t i = 0; field->variants[i] != NULL; i++)
        list->items[list->count++] = make_record(m, field->variants[i]);
      *(void **)place = list;
      return;
    case STEADING_FIELD_map:
      map = take(sizeof *map + sizeof map->entries[0]);
      map->count = 1;
      map->entries[0].name = steading_arena_text(&arena, other(m) ? "b" : "a", 1);
      map->entries[0].item = make_record(m, field->of);
      *(void **)place = map;
      return;
    case STEADING_FIELD_later:
    case STEADING_FIELD_refused:
      return;
  }
}

static steading_record *make_record(maker *m, const steading_spec *spec) {
  steading_record *record = take(spec->size);
  *record = (steading_record){.spec = spec, .references = 1, .given = UINT64_MAX};
  for (size_t i = 0; i < spec->field_count; i++)
    make_field(m, &spec->fields[i], (char *)record + spec->fields[i].offset);
  return record;
}

static steading_record *make(const steading_spec *spec, size_t changed) {
  maker m = {.changed = changed};
  return make_record(&m, spec);
}

static size_t values_of(const steading_spec *spec) {
  maker m = {.changed = NONE_CHANGED};
  make_record(&m, spec);
  return m.made;
}

/* --- every field -------------------------------------------------------------------------------
 */

/* What a field touches by the table, or by a field inside it: bits as in steading_site_canonical.
 */
static unsigned touched(const steading_field *field) {
  unsigned bits = 1u << field->touches;
  const steading_spec *const one[] = {field->of, NULL};
  const steading_spec *const *inner = field->variants != NULL ? field->variants : one;
  for (; *inner != NULL; inner++)
    for (size_t i = 0; i < (*inner)->field_count; i++)
      if ((*inner)->fields[i].kind != STEADING_FIELD_later &&
          (*inner)->fields[i].kind != STEADING_FIELD_refused)
        bits |= touched(&(*inner)->fields[i]);
  return bits;
}

static size_t fields_tried;

static bool is_inside(const steading_field *field) {
  return field->of != NULL || field->variants != NULL;
}

/* In each struct on its own: the field that is made otherwise changes what it touches, and only
 * that. */
static void check_spec(const steading_spec *spec) {
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *field = &spec->fields[i];
    steading_record *base = make(spec, NONE_CHANGED), *changed = make(spec, NONE_CHANGED);
    maker m = {.changed = 1};
    if (field->kind == STEADING_FIELD_later || field->kind == STEADING_FIELD_refused) continue;
    if (is_inside(field)) { /* here: whether it is there at all */
      *(void **)((char *)changed + field->offset) = NULL;
    } else {
      memset((char *)changed + field->offset, 0, sizeof(void *));
      make_field(&m, field, (char *)changed + field->offset);
    }
    for (unsigned mask = 1; mask <= STEADING_CANONICAL_ALL; mask++)
      ck_assert_msg(same_bytes(base, changed, mask) == ((touched(field) & mask) == 0),
                    "%s.%s with the mask %u", spec->name, field->name, mask);
    if (field->need == STEADING_NEED_optional && !is_inside(field)) {
      changed = make(spec, NONE_CHANGED); /* there, or not */
      changed->given &= ~(UINT64_C(1) << i);
      memset((char *)changed + field->offset, 0, sizeof(void *));
      ck_assert_msg(!same_bytes(base, changed, touched(field)), "%s.%s absent", spec->name,
                    field->name);
    }
    fields_tried++;
    if (field->of != NULL) check_spec(field->of);
    for (size_t k = 0; field->variants != NULL && field->variants[k] != NULL; k++)
      check_spec(field->variants[k]);
  }
}

START_TEST(every_field_changes_what_it_touches_and_no_more) {
  fields_tried = 0;
  check_spec(&steading_site_spec);
  ck_assert_uint_gt(fields_tried, 100);
}
END_TEST

/* However deep: a site in which any one value is another has other bytes. */
START_TEST(every_value_of_a_whole_site_is_in_its_bytes) {
  size_t count = values_of(&steading_site_spec);
  steading_record *base = make(&steading_site_spec, NONE_CHANGED);
  ck_assert(same_bytes(base, make(&steading_site_spec, NONE_CHANGED), STEADING_CANONICAL_ALL));
  ck_assert_uint_gt(count, 200);
  for (size_t k = 1; k <= count; k++)
    if (same_bytes(base, make(&steading_site_spec, k), STEADING_CANONICAL_ALL))
      ck_abort_msg("value %zu of %zu is not in the bytes", k, count);
}
END_TEST

START_TEST(minus_zero_is_zero_and_a_default_is_the_same_value_given) {
  steading_lot *a = (void *)make(&steading_lot_spec, NONE_CHANGED);
  steading_lot *b = (void *)make(&steading_lot_spec, NONE_CHANGED);
  steading_series *series = take(sizeof *series + sizeof series->values[0]);
  const double zero[2] = {0.0, -0.0};
  unsigned char digests[2][32];
  a->price_each = 0.0;
  b->price_each = -0.0;
  ck_assert(same_bytes(a, b, STEADING_CANONICAL_ALL));
  b->head.given &= ~UINT64_C(1); /* count: has a default */
  ck_assert_str_eq(b->head.spec->fields[0].name, "count");
  ck_assert(same_bytes(a, b, STEADING_CANONICAL_ALL));
  for (int i = 0; i < 2; i++) steading_digest_numbers(&zero[i], 1, digests[i]);
  ck_assert_mem_eq(digests[0], digests[1], 32);
}
END_TEST

/* SHA-256 of the 8 zero bytes of one 0.0: printf '\0\0\0\0\0\0\0\0' | sha256sum (GNU coreutils). */
START_TEST(numbers_are_digested_by_sha256) {
  static const unsigned char expected[4] = {0xaf, 0x55, 0x70, 0xf5};
  const double zero = 0;
  unsigned char digest[32];
  steading_digest_numbers(&zero, 1, digest);
  ck_assert_mem_eq(digest, expected, sizeof expected);
}
END_TEST

START_TEST(texts_and_lists_do_not_run_into_each_other) {
  steading_site *one = (void *)make(&steading_site_spec, NONE_CHANGED);
  steading_site *two = (void *)make(&steading_site_spec, NONE_CHANGED);
  one->name = steading_arena_text(&arena, "ab", 2);
  one->currency = steading_arena_text(&arena, "c", 1);
  two->name = steading_arena_text(&arena, "a", 1);
  two->currency = steading_arena_text(&arena, "bc", 2);
  ck_assert(!same_bytes(one, two, STEADING_CANONICAL_ALL));
  ck_assert(same_bytes(one, two, STEADING_CANONICAL_ENERGY | STEADING_CANONICAL_MONEY));
}
END_TEST

/* A weather with a name for its content is known by it; one without by all its numbers. */
START_TEST(a_weather_is_known_by_its_hash_or_its_numbers) {
  steading_site *one = (void *)make(&steading_site_spec, NONE_CHANGED);
  steading_site *two = (void *)make(&steading_site_spec, NONE_CHANGED);
  two->weather = weathers[1];
  ck_assert(!same_bytes(one, two, STEADING_CANONICAL_ENERGY));
  two->weather->temp_c[4711] = 20;
  ck_assert(same_bytes(one, two, STEADING_CANONICAL_ENERGY));
  strcpy(two->weather->time_zone, "America/Denver");
  ck_assert(!same_bytes(one, two, STEADING_CANONICAL_ENERGY));
  strcpy(two->weather->time_zone, "");
  strcpy(two->weather->sha256, "00");
  ck_assert(!same_bytes(one, two, STEADING_CANONICAL_ENERGY));
  strcpy(one->weather->sha256, "00");
  ck_assert(same_bytes(one, two, STEADING_CANONICAL_ENERGY));
}
END_TEST

Suite *canonical_suite(void) {
  Suite *suite = suite_create("canonical");
  TCase *tcase = tcase_create("canonical bytes");
  tcase_add_checked_fixture(tcase, setup, teardown);
  tcase_set_timeout(tcase, 60);
  tcase_add_test(tcase, every_field_changes_what_it_touches_and_no_more);
  tcase_add_test(tcase, every_value_of_a_whole_site_is_in_its_bytes);
  tcase_add_test(tcase, minus_zero_is_zero_and_a_default_is_the_same_value_given);
  tcase_add_test(tcase, numbers_are_digested_by_sha256);
  tcase_add_test(tcase, texts_and_lists_do_not_run_into_each_other);
  tcase_add_test(tcase, a_weather_is_known_by_its_hash_or_its_numbers);
  suite_add_tcase(suite, tcase);
  return suite;
}
