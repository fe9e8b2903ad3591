/* Spec tables: one list of fields per struct, from which everything else follows.
 *
 * A struct of the site's description is written once, as a macro list (see fields.h) whose rows are
 *
 *   F(T, kind, name, unit, need, lowest, highest, standard, touches, of, doc)
 *
 * and the list is expanded into the C struct, the row of the spec table, and with it the reader,
 * the messages, the checked change of one field, the help pages and the manual. Nothing else knows
 * a default.
 *
 *   kind      number count flag text texts name choice date monthly hours pair windows series weather
 *             record list variants map listed window_part words year_days numbers amounts points
 *             temps function several later refused
 *   need      required, standard (has a default), optional (may be absent)
 *   touches   energy, money or label: what changes when the field changes
 *   of        the struct (record, list, map), the group (variants) or the choices it refers to
 *
 * Every struct that is read begins with a steading_record. Records are immutable once checked and
 * count their owners, so that a changed copy of a site shares all parts that did not change. */
#ifndef STEADING_SITE_SPEC_H
#define STEADING_SITE_SPEC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "site/value.h"
#include "status.h"

typedef struct steading_spec steading_spec;

typedef struct steading_record {
  const steading_spec *spec;
  size_t references;
  uint64_t given; /* bit i: field i was given by the script (false for a default) */
} steading_record;

typedef enum steading_field_kind {
  STEADING_FIELD_number,   /* double, lowest..highest */
  STEADING_FIELD_count,    /* double that holds a whole number */
  STEADING_FIELD_flag,     /* bool */
  STEADING_FIELD_text,     /* char * */
  STEADING_FIELD_texts,    /* const steading_texts *, a list of texts */
  STEADING_FIELD_name,     /* char *, a name [a-z][a-z0-9_]* of another part of the site */
  STEADING_FIELD_choice,   /* int, one of the words of `of`; "~word" is known but not yet */
  STEADING_FIELD_date,     /* int64_t day number, from "2027-01" or "2027-01-15" */
  STEADING_FIELD_monthly,  /* double[12], from one number or twelve */
  STEADING_FIELD_hours,    /* double[24] that sum to 1, from 24 numbers or the name of a shape */
  STEADING_FIELD_pair,     /* double[2], first below second */
  STEADING_FIELD_windows,  /* const steading_windows *, see window.h */
  STEADING_FIELD_series,   /* const steading_series *, a list of numbers for whole years of 8760 */
  STEADING_FIELD_weather,  /* struct steading_weather * */
  STEADING_FIELD_record,   /* const struct steading_<of> *; false is off (NULL) where it is optional
                              or `highest` is 1 */
  STEADING_FIELD_list,     /* const steading_list * of records; false is off (NULL) where `highest`
                              is 1, of a map as well */
  STEADING_FIELD_several,  /* const steading_list * of at least one record, written as a list of them
                              or, one alone, as itself; false is off (NULL) where it is optional */
  STEADING_FIELD_variants, /* const steading_list * of records that say their `kind` */
  STEADING_FIELD_map,      /* const steading_map *, name -> record, in the order of names */
  STEADING_FIELD_listed,   /* const struct steading_<of> *, whose first field is a list: written as
                              that list, with its other fields beside the items */
  STEADING_FIELD_window_part, /* const steading_windows * of one window: the field's name says which
                                 part of it is given: hours, days or months */
  STEADING_FIELD_words,    /* unsigned, a bit for each of the words of `of`, from a list or one */
  STEADING_FIELD_year_days, /* bool[12][31], from a list of "12-25" and "03-10..04-30" */
  STEADING_FIELD_numbers,  /* const steading_series *, one number or a list of any length */
  STEADING_FIELD_amounts,  /* const steading_amounts *, one number or named numbers */
  STEADING_FIELD_points,   /* const steading_series *, { temp_c, value } one behind the other, from a
                              list of such pairs in which the temperature rises */
  STEADING_FIELD_temps,    /* double[12], from one number, twelve, or "outdoors", which is INFINITY */
  STEADING_FIELD_function, /* struct steading_function *, see function.h; false is off (NULL) */
  STEADING_FIELD_later,    /* known, carried out by a later version: only `false` is accepted */
  STEADING_FIELD_refused   /* a likely mistake; the doc says what to write instead */
} steading_field_kind;

typedef enum steading_need {
  STEADING_NEED_required,
  STEADING_NEED_standard,
  STEADING_NEED_optional
} steading_need;

typedef enum steading_touches {
  STEADING_TOUCHES_energy,
  STEADING_TOUCHES_money,
  STEADING_TOUCHES_label
} steading_touches;

typedef struct steading_field {
  const char *name, *unit, *doc;
  steading_field_kind kind;
  steading_need need;
  steading_touches touches;
  size_t offset;
  double lowest, highest, standard;
  const steading_spec *of;              /* record, list, map */
  const steading_spec *const *variants; /* variants: NULL-terminated */
  const char *const *choices;           /* choice: NULL-terminated */
} steading_field;

/* Checks that need more than one field; NULL where there are none. `path` names the record. */
typedef steading_status (*steading_record_check)(const void *record, const char *path,
                                                 steading_error *error);

struct steading_spec {
  const char *name;
  size_t size;
  const steading_field *fields;
  size_t field_count;
  bool says_kind; /* a variant: the table carries kind = name */
  steading_record_check check;
};

typedef struct steading_list {
  steading_record head;
  size_t count;
  steading_record *items[];
} steading_list;

typedef struct steading_map_entry {
  char *name;
  steading_record *item;
} steading_map_entry;

typedef struct steading_map {
  steading_record head;
  size_t count;
  steading_map_entry entries[];
} steading_map;

typedef struct steading_series {
  steading_record head;
  unsigned char digest[32]; /* of a whole series: what it is known by, see canonical.h */
  size_t count;
  double values[];
} steading_series;

typedef struct steading_texts {
  steading_record head;
  size_t count;
  char *items[];
} steading_texts;

/* Numbers by name, in the order of names; one number without a name stands alone. */
typedef struct steading_amount {
  char *name; /* NULL: stands alone */
  double number;
} steading_amount;

typedef struct steading_amounts {
  steading_record head;
  size_t count;
  steading_amount items[];
} steading_amounts;

/* Whether a list of a field that may be one or several was written as one alone. */
bool steading_list_is_one(const steading_list *list);

/* Read a table by a spec. On success `*record` is a checked record with one owner. Errors carry
 * the path below `path` (a prefix, may be ""). */
steading_status steading_spec_read(const steading_spec *spec, const steading_value *value,
                                   const char *path, void **record, steading_error *error);

/* A copy that shares all parts, with one owner; NULL when memory ends. It may be changed before
 * anybody else sees it. */
void *steading_record_copy(const void *record);

/* A copy of `record` in which the fields at `count` paths ("hubs.barn.battery.lots[2].count") are
 * read anew from `values`; everything beside the paths is shared. `prefix` stands before paths in
 * errors. A value of kind NONE takes the field (or the entry of a list or map) away. Every path means
 * a place of the original: what is set comes first, in the order of paths, then what is taken away,
 * from the end. A place named twice, or inside one that is taken away, is an error. The structs that
 * were changed are checked afterwards, so that two changes that need each other may be made. */
steading_status steading_spec_change(const void *record, const char *prefix, size_t count,
                                     const char *const *paths, const steading_value *values,
                                     void **changed, steading_error *error);

/* A copy without the parts at `count` paths: entries of lists and maps, and records, lists and maps
 * that are optional. A part that is not there is an error; so is a value, which is no part. */
steading_status steading_spec_without(const void *record, const char *prefix, size_t count,
                                      const char *const *paths, void **changed,
                                      steading_error *error);

/* One owner more; one owner fewer (NULL is allowed). */
void *steading_record_keep(const void *record);
void steading_record_release(const void *record);

/* Whether the script gave the field (a default was not used). */
bool steading_record_given(const void *record, const char *field);

/* `value` where the script gave the number, else `standard`: for defaults that depend on others. */
double steading_record_or_else(const void *record, const char *field, double value,
                               double standard);

/* Whether the script gave the field and did not switch it off with false. Also of a field that is
 * known and not yet carried out: then false. */
bool steading_record_has(const void *record, const char *field);

/* Entry of a map by name, or NULL (also for a NULL map). */
const void *steading_map_at(const steading_map *map, const char *name);

/* Whether a text is a name: [a-z][a-z0-9_]*. */
bool steading_is_name(const char *text);

/* The day number of "2027-01" or "2027-01-15"; false when it is neither or does not exist. */
bool steading_read_date(const char *text, int64_t *day_number);

/* --- what the macro lists expand to ------------------------------------------------------------ */

#define STEADING_MEMBER(T, kind, name, unit, need, lowest, highest, standard, touches, of, doc) \
  STEADING_MEMBER_##kind(name, of)
#define STEADING_MEMBER_number(name, of) double name;
#define STEADING_MEMBER_count(name, of) double name;
#define STEADING_MEMBER_flag(name, of) bool name;
#define STEADING_MEMBER_text(name, of) char *name;
#define STEADING_MEMBER_texts(name, of) const steading_texts *name;
#define STEADING_MEMBER_name(name, of) char *name;
#define STEADING_MEMBER_choice(name, of) int name;
#define STEADING_MEMBER_date(name, of) int64_t name;
#define STEADING_MEMBER_monthly(name, of) double name[12];
#define STEADING_MEMBER_hours(name, of) double name[24];
#define STEADING_MEMBER_pair(name, of) double name[2];
#define STEADING_MEMBER_windows(name, of) const struct steading_windows *name;
#define STEADING_MEMBER_series(name, of) const steading_series *name;
#define STEADING_MEMBER_weather(name, of) struct steading_weather *name;
#define STEADING_MEMBER_record(name, of) const struct steading_##of *name;
#define STEADING_MEMBER_list(name, of) const steading_list *name;
#define STEADING_MEMBER_several(name, of) const steading_list *name;
#define STEADING_MEMBER_variants(name, of) const steading_list *name;
#define STEADING_MEMBER_map(name, of) const steading_map *name;
#define STEADING_MEMBER_listed(name, of) const struct steading_##of *name;
#define STEADING_MEMBER_window_part(name, of) const struct steading_windows *name;
#define STEADING_MEMBER_words(name, of) unsigned name;
#define STEADING_MEMBER_year_days(name, of) bool name[12][31];
#define STEADING_MEMBER_numbers(name, of) const steading_series *name;
#define STEADING_MEMBER_amounts(name, of) const steading_amounts *name;
#define STEADING_MEMBER_points(name, of) const steading_series *name;
#define STEADING_MEMBER_temps(name, of) double name[12];
#define STEADING_MEMBER_function(name, of) struct steading_function *name;
#define STEADING_MEMBER_later(name, of)
#define STEADING_MEMBER_refused(name, of)

#define STEADING_STRUCT(tag, LIST)                \
  typedef struct steading_##tag {                 \
    steading_record head;                         \
    LIST(STEADING_MEMBER, struct steading_##tag)  \
  } steading_##tag;                               \
  extern const steading_spec steading_##tag##_spec;

#define STEADING_ROW(T, kind_, name_, unit_, need_, lowest_, highest_, standard_, touches_, of_, \
                     doc_)                                                                       \
  {.name = #name_,                                                                               \
   .unit = unit_,                                                                                \
   .doc = doc_,                                                                                  \
   .kind = STEADING_FIELD_##kind_,                                                               \
   .need = STEADING_NEED_##need_,                                                                \
   .touches = STEADING_TOUCHES_##touches_,                                                       \
   .offset = STEADING_OFFSET_##kind_(T, name_),                                                  \
   .lowest = lowest_,                                                                            \
   .highest = highest_,                                                                          \
   .standard = (double)(standard_),                                                                        \
   STEADING_OF_##kind_(of_)},

#define STEADING_OFFSET_number(T, name) offsetof(T, name)
#define STEADING_OFFSET_count(T, name) offsetof(T, name)
#define STEADING_OFFSET_flag(T, name) offsetof(T, name)
#define STEADING_OFFSET_text(T, name) offsetof(T, name)
#define STEADING_OFFSET_texts(T, name) offsetof(T, name)
#define STEADING_OFFSET_name(T, name) offsetof(T, name)
#define STEADING_OFFSET_choice(T, name) offsetof(T, name)
#define STEADING_OFFSET_date(T, name) offsetof(T, name)
#define STEADING_OFFSET_monthly(T, name) offsetof(T, name)
#define STEADING_OFFSET_hours(T, name) offsetof(T, name)
#define STEADING_OFFSET_pair(T, name) offsetof(T, name)
#define STEADING_OFFSET_windows(T, name) offsetof(T, name)
#define STEADING_OFFSET_series(T, name) offsetof(T, name)
#define STEADING_OFFSET_weather(T, name) offsetof(T, name)
#define STEADING_OFFSET_record(T, name) offsetof(T, name)
#define STEADING_OFFSET_list(T, name) offsetof(T, name)
#define STEADING_OFFSET_several(T, name) offsetof(T, name)
#define STEADING_OFFSET_variants(T, name) offsetof(T, name)
#define STEADING_OFFSET_map(T, name) offsetof(T, name)
#define STEADING_OFFSET_listed(T, name) offsetof(T, name)
#define STEADING_OFFSET_window_part(T, name) offsetof(T, name)
#define STEADING_OFFSET_words(T, name) offsetof(T, name)
#define STEADING_OFFSET_year_days(T, name) offsetof(T, name)
#define STEADING_OFFSET_numbers(T, name) offsetof(T, name)
#define STEADING_OFFSET_amounts(T, name) offsetof(T, name)
#define STEADING_OFFSET_points(T, name) offsetof(T, name)
#define STEADING_OFFSET_temps(T, name) offsetof(T, name)
#define STEADING_OFFSET_function(T, name) offsetof(T, name)
#define STEADING_OFFSET_later(T, name) 0
#define STEADING_OFFSET_refused(T, name) 0

#define STEADING_OF_number(of_) .of = NULL
#define STEADING_OF_count(of_) .of = NULL
#define STEADING_OF_flag(of_) .of = NULL
#define STEADING_OF_text(of_) .of = NULL
#define STEADING_OF_texts(of_) .of = NULL
#define STEADING_OF_name(of_) .of = NULL
#define STEADING_OF_choice(of_) .choices = steading_choices_##of_
#define STEADING_OF_date(of_) .of = NULL
#define STEADING_OF_monthly(of_) .of = NULL
#define STEADING_OF_hours(of_) .of = NULL
#define STEADING_OF_pair(of_) .of = NULL
#define STEADING_OF_windows(of_) .of = NULL
#define STEADING_OF_series(of_) .of = NULL
#define STEADING_OF_weather(of_) .of = NULL
#define STEADING_OF_record(of_) .of = &steading_##of_##_spec
#define STEADING_OF_list(of_) .of = &steading_##of_##_spec
#define STEADING_OF_several(of_) .of = &steading_##of_##_spec
#define STEADING_OF_variants(of_) .variants = steading_variants_##of_
#define STEADING_OF_map(of_) .of = &steading_##of_##_spec
#define STEADING_OF_listed(of_) .of = &steading_##of_##_spec
#define STEADING_OF_window_part(of_) .of = NULL
#define STEADING_OF_words(of_) .choices = steading_choices_##of_
#define STEADING_OF_year_days(of_) .of = NULL
#define STEADING_OF_numbers(of_) .of = NULL
#define STEADING_OF_amounts(of_) .of = NULL
#define STEADING_OF_points(of_) .of = NULL
#define STEADING_OF_temps(of_) .of = NULL
#define STEADING_OF_function(of_) .of = NULL
#define STEADING_OF_later(of_) .of = NULL
#define STEADING_OF_refused(of_) .of = NULL

#define STEADING_SPEC(tag, title, LIST, kind_said, check_)                                        \
  static const steading_field tag##_fields[] = {LIST(STEADING_ROW, struct steading_##tag)};      \
  _Static_assert(sizeof tag##_fields / sizeof tag##_fields[0] <= 64, "given holds 64 fields");   \
  const steading_spec steading_##tag##_spec = {.name = title,                                     \
                                               .size = sizeof(struct steading_##tag),            \
                                               .fields = tag##_fields,                           \
                                               .field_count =                                     \
                                                   sizeof tag##_fields / sizeof tag##_fields[0],  \
                                               .says_kind = kind_said,                            \
                                               .check = check_};

#endif
