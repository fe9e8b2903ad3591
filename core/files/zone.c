#include "files/zone.h"

#include <assert.h>
#include <dirent.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "calendar.h"
#include "files/files.h"
#include "nearest.h"

enum { DAY_S = 86400, HOUR_S = 3600, NAME_SIZE = 256, PATH_SIZE = 4096 };

/* Offsets that a zone file may hold: RFC 9636, section 3.2, 'utoff'. */
static const int32_t offset_min_s = -89999, offset_max_s = 93599;

/* The Gregorian calendar, weekdays included, repeats after 400 years. */
static const int64_t cycle_s = (int64_t)146097 * DAY_S;

/* --- the rule of the footer --------------------------------------------------------------------
 */

typedef enum rule_kind {
  RULE_JULIAN,      /* Jn: day 1..365, 29 February not counted */
  RULE_DAY_OF_YEAR, /* n: day 0..365, 29 February counted */
  RULE_MONTH_WEEK   /* Mm.w.d: weekday d of week w of month m, week 5 being the last */
} rule_kind;

typedef struct change_rule {
  rule_kind kind;
  int month, week, day;
  int32_t time_s; /* civil time before the change, from midnight; may be beyond a day */
} change_rule;

typedef struct footer_rule {
  bool present, has_summer;
  int32_t standard_s, summer_s; /* ahead of UT */
  change_rule start, end;       /* of summer time */
} footer_rule;

struct steading_zone {
  size_t count;
  int64_t *changes_s; /* ascending */
  int32_t *offsets_s; /* from that change on */
  int32_t first_offset_s, last_standard_s;
  footer_rule rule;
};

/* Text that is taken apart from its front; `bad` stays once something did not fit. */
typedef struct text_reader {
  const char *at, *end;
  bool bad;
} text_reader;

static char peek(const text_reader *r) { return r->at < r->end ? *r->at : '\0'; }

static bool take(text_reader *r, char c) {
  if (r->at == r->end || *r->at != c) return false;
  r->at++;
  return true;
}

static int take_number(text_reader *r, int most) {
  int value = 0;
  const char *first = r->at;
  while (r->at < r->end && *r->at >= '0' && *r->at <= '9') {
    value = value * 10 + (*r->at++ - '0');
    if (value > most) break;
  }
  if (r->at == first || value > most) r->bad = true;
  return value;
}

static bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

/* MST, or <+0545>: the name itself is not used. */
static void take_name(text_reader *r) {
  bool quoted = take(r, '<');
  const char *first = r->at;
  while (is_letter(peek(r)) || (quoted && (is_digit(peek(r)) || peek(r) == '+' || peek(r) == '-')))
    r->at++;
  if (r->at - first < 3 || (quoted && !take(r, '>'))) r->bad = true;
}

/* [+-]hh[:mm[:ss]] in seconds. */
static int32_t take_time(text_reader *r, int hours_max) {
  int32_t sign = take(r, '-') ? -1 : 1, seconds = 0;
  if (sign == 1) take(r, '+');
  seconds = HOUR_S * take_number(r, hours_max);
  if (take(r, ':')) {
    seconds += 60 * take_number(r, 59);
    if (take(r, ':')) seconds += take_number(r, 59);
  }
  return sign * seconds;
}

static change_rule take_change(text_reader *r) {
  change_rule rule = {.time_s = 2 * HOUR_S};
  if (take(r, 'J')) {
    rule.kind = RULE_JULIAN;
    rule.day = take_number(r, 365);
    if (rule.day < 1) r->bad = true;
  } else if (take(r, 'M')) {
    rule.kind = RULE_MONTH_WEEK;
    rule.month = take_number(r, 12);
    if (!take(r, '.')) r->bad = true;
    rule.week = take_number(r, 5);
    if (!take(r, '.')) r->bad = true;
    rule.day = take_number(r, 6);
    if (rule.month < 1 || rule.week < 1) r->bad = true;
  } else {
    rule.kind = RULE_DAY_OF_YEAR;
    rule.day = take_number(r, 365);
  }
  if (take(r, '/')) rule.time_s = take_time(r, 167);
  return rule;
}

/* POSIX's TZ: std offset [dst [offset] , start [/time] , end [/time]], with the wider times of RFC
 * 9636, section 3.3.1. Offsets are west of Greenwich there. */
static bool read_footer(const char *text, size_t length, footer_rule *rule) {
  text_reader r = {.at = text, .end = text + length};
  memset(rule, 0, sizeof *rule);
  if (length == 0) return true;
  rule->present = true;
  take_name(&r);
  rule->standard_s = rule->summer_s = -take_time(&r, 24);
  if (!r.bad && r.at < r.end) {
    rule->has_summer = true;
    rule->summer_s = rule->standard_s + HOUR_S;
    take_name(&r);
    if (peek(&r) != ',') rule->summer_s = -take_time(&r, 24);
    if (!take(&r, ',')) r.bad = true;
    rule->start = take_change(&r);
    if (!take(&r, ',')) r.bad = true;
    rule->end = take_change(&r);
  }
  return !r.bad && r.at == r.end;
}

static int64_t day_of_change(const change_rule *rule, int year) {
  int64_t january = steading_day_number(year, 1, 1);
  bool leap = steading_date_exists(year, 2, 29);
  if (rule->kind == RULE_JULIAN) return january + rule->day - 1 + (leap && rule->day >= 60);
  if (rule->kind == RULE_DAY_OF_YEAR) return january + rule->day;
  int64_t first = steading_day_number(year, rule->month, 1);
  int64_t next_month = rule->month == 12 ? steading_day_number(year + 1, 1, 1)
                                         : steading_day_number(year, rule->month + 1, 1);
  int wanted = (rule->day + 6) % 7; /* the rule counts from Sunday, the calendar from Monday */
  int64_t day = first + (wanted - steading_weekday(first) + 7) % 7 + 7 * (rule->week - 1);
  return day < next_month ? day : day - 7;
}

/* Changes come from the years around too, since their times may reach a week into a neighbour.
 * Where two fall on one instant the later rule holds (summer time all year round is written so). */
static int32_t offset_by_rule(const footer_rule *rule, int64_t instant_s) {
  int64_t within = ((instant_s % cycle_s) + cycle_s) % cycle_s;
  int64_t last = INT64_MIN;
  int32_t offset = rule->standard_s;
  int year = 0, month = 0, day = 0;
  if (!rule->has_summer) return rule->standard_s;
  steading_date_of_day(within / DAY_S, &year, &month, &day);
  for (int y = year - 2; y <= year + 1; y++) {
    int64_t start = day_of_change(&rule->start, y) * DAY_S + rule->start.time_s - rule->standard_s;
    int64_t end = day_of_change(&rule->end, y) * DAY_S + rule->end.time_s - rule->summer_s;
    bool start_first = start <= end;
    for (int i = 0; i < 2; i++) {
      bool is_start = (i == 0) == start_first;
      int64_t change = is_start ? start : end;
      if (change > within || change < last) continue;
      last = change;
      offset = is_start ? rule->summer_s : rule->standard_s;
    }
  }
  return offset;
}

/* --- the file ----------------------------------------------------------------------------------
 */

static uint32_t big_endian_32(const unsigned char *p) {
  return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

static int64_t signed_32(const unsigned char *p) {
  int64_t value = big_endian_32(p);
  return value >= INT64_C(0x80000000) ? value - INT64_C(0x100000000) : value;
}

static int64_t signed_64(const unsigned char *p) {
  return signed_32(p) * INT64_C(0x100000000) + big_endian_32(p + 4);
}

enum { HEADER_SIZE = 44, TYPE_SIZE = 6 };

/* RFC 9636, section 3.1: the header's counts, and where its data block begins and ends. */
typedef struct block {
  char version;
  uint32_t ut_flags, standard_flags, leaps, changes, types, name_bytes;
  size_t time_size; /* bytes of an instant: 4 in the first block, 8 in the second */
  size_t start, end;
} block;

static bool read_block(const unsigned char *bytes, size_t length, size_t at, size_t time_size,
                       block *b) {
  const unsigned char *p = bytes + at;
  uint64_t size = 0;
  if (at > length || length - at < HEADER_SIZE || memcmp(p, "TZif", 4) != 0) return false;
  b->version = (char)p[4];
  b->ut_flags = big_endian_32(p + 20);
  b->standard_flags = big_endian_32(p + 24);
  b->leaps = big_endian_32(p + 28);
  b->changes = big_endian_32(p + 32);
  b->types = big_endian_32(p + 36);
  b->name_bytes = big_endian_32(p + 40);
  b->time_size = time_size;
  size = (uint64_t)b->changes * (time_size + 1) + (uint64_t)b->types * TYPE_SIZE + b->name_bytes +
         (uint64_t)b->leaps * (time_size + 4) + b->standard_flags + b->ut_flags;
  b->start = at + HEADER_SIZE;
  if (size > length - b->start) return false;
  b->end = b->start + (size_t)size;
  return true;
}

static const char out_of_memory[] = "needs more memory than there is";

/* Why a file cannot be used; NULL when it can, and the zone is filled. */
static const char *read_changes(const unsigned char *bytes, const block *b, steading_zone *zone) {
  const unsigned char *times = bytes + b->start;
  const unsigned char *indices = times + (size_t)b->changes * b->time_size;
  const unsigned char *types = indices + b->changes;
  if (b->types < 1 || b->types > 256) return "has no kinds of local time";
  if (b->leaps > 0) return "counts leap seconds";
  for (size_t i = 0; i < b->types; i++) {
    int64_t offset = signed_32(types + i * TYPE_SIZE);
    if (offset < offset_min_s || offset > offset_max_s) return "has an offset beyond a day";
  }
  zone->first_offset_s = (int32_t)signed_32(types); /* RFC 9636: type 0 before the first change */
  zone->last_standard_s = zone->first_offset_s;
  zone->changes_s = malloc((b->changes + (size_t)1) * sizeof *zone->changes_s);
  zone->offsets_s = malloc((b->changes + (size_t)1) * sizeof *zone->offsets_s);
  if (zone->changes_s == NULL || zone->offsets_s == NULL) return out_of_memory;
  for (size_t i = 0; i < b->changes; i++) {
    const unsigned char *time = times + i * b->time_size;
    const unsigned char *type = NULL;
    int64_t instant = b->time_size == 8 ? signed_64(time) : signed_32(time);
    if (indices[i] >= b->types) return "names a kind of local time that it does not have";
    if (i > 0 && instant <= zone->changes_s[i - 1]) return "has changes out of order";
    type = types + indices[i] * TYPE_SIZE;
    zone->changes_s[i] = instant;
    zone->offsets_s[i] = (int32_t)signed_32(type);
    if (type[4] == 0) zone->last_standard_s = zone->offsets_s[i];
  }
  zone->count = b->changes;
  return NULL;
}

static const char *read_zone(const unsigned char *bytes, size_t length, steading_zone *zone) {
  block b;
  const char *reason = NULL;
  const unsigned char *footer = NULL, *footer_end = NULL;
  if (!read_block(bytes, length, 0, 4, &b)) return "is not a zone file, or is cut short";
  if (b.version == '\0') return read_changes(bytes, &b, zone);
  if (!read_block(bytes, length, b.end, 8, &b)) return "is cut short";
  reason = read_changes(bytes, &b, zone);
  if (reason != NULL) return reason;
  if (b.end == length || bytes[b.end] != '\n') return "has no footer";
  footer = bytes + b.end + 1;
  footer_end = memchr(footer, '\n', length - b.end - 1);
  if (footer_end == NULL) return "has a footer that is cut short";
  if (!read_footer((const char *)footer, (size_t)(footer_end - footer), &zone->rule))
    return "has a footer that cannot be read";
  return NULL;
}

/* --- names -------------------------------------------------------------------------------------
 */

static const char *zone_folder(void) {
  const char *folder = getenv("TZDIR");
  return folder != NULL && *folder != '\0' ? folder : "/usr/share/zoneinfo";
}

static bool is_name(const char *name) {
  size_t length = strlen(name);
  if (length == 0 || length >= NAME_SIZE || name[0] == '/' || name[length - 1] == '/') return false;
  for (const char *p = name; *p != '\0'; p++) {
    bool slash = *p == '/';
    if (slash && p[1] == '/') return false;
    if (!slash && !is_letter(*p) && !is_digit(*p) && strchr("_+-", *p) == NULL) return false;
  }
  return true;
}

/* The name nearest to `word` so far. */
typedef struct search {
  const char *word;
  size_t best;
  char name[NAME_SIZE];
} search;

static bool is_zone_file(const char *path) {
  char *bytes = NULL;
  size_t length = 0;
  bool is = steading_file_read(path, &bytes, &length, NULL) == STEADING_OK && length > 4 &&
            memcmp(bytes, "TZif", 4) == 0;
  free(bytes);
  return is;
}

static void consider(search *s, const char *path, const char *name) {
  size_t distance = steading_edit_distance(s->word, name, s->best > 3 ? 3 : s->best);
  bool known = s->name[0] != '\0';
  if (distance > s->best || (distance == s->best && (!known || strcmp(name, s->name) >= 0))) return;
  if (!is_zone_file(path)) return;
  s->best = distance;
  snprintf(s->name, sizeof s->name, "%s", name);
}

/* Folders posix and right hold every name once more; names with a dot are lists. */
static void walk(search *s, const char *folder, const char *prefix, int depth) {
  const struct dirent *entry = NULL;
  DIR *open_folder = opendir(folder);
  if (open_folder == NULL) return;
  while ((entry = readdir(open_folder)) != NULL) {
    char path[PATH_SIZE], name[NAME_SIZE];
    struct stat found;
    if (strchr(entry->d_name, '.') != NULL) continue;
    if (depth == 0 && (strcmp(entry->d_name, "posix") == 0 || strcmp(entry->d_name, "right") == 0))
      continue;
    if (snprintf(path, sizeof path, "%s/%s", folder, entry->d_name) >= (int)sizeof path ||
        snprintf(name, sizeof name, "%s%s", prefix, entry->d_name) >= (int)sizeof name ||
        stat(path, &found) != 0)
      continue;
    if (S_ISREG(found.st_mode)) consider(s, path, name);
    if (S_ISDIR(found.st_mode) && depth < 3 && strlen(name) + 1 < sizeof name) {
      strcat(name, "/");
      walk(s, path, name, depth + 1);
    }
  }
  closedir(open_folder);
}

static steading_status fail_name(const char *name, const char *what, steading_error *error) {
  search s = {.word = name, .best = steading_nearest_limit(name) + 1};
  if (strlen(name) < NAME_SIZE) walk(&s, zone_folder(), "", 0);
  if (s.name[0] != '\0')
    return steading_fail(error, STEADING_BAD_INPUT, NULL, "%s '%.64s' (did you mean '%s'?)", what,
                         name, s.name);
  return steading_fail(error, STEADING_BAD_INPUT, NULL,
                       "%s '%.64s'; names are like 'Europe/Madrid'", what, name);
}

/* --- public ------------------------------------------------------------------------------------
 */

steading_status steading_zone_read(const unsigned char *bytes, size_t length, const char *path,
                                   steading_zone **zone, steading_error *error) {
  const char *reason = NULL;
  steading_zone *made = calloc(1, sizeof *made);
  *zone = NULL;
  if (made == NULL) return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
  reason = read_zone(bytes, length, made);
  if (reason != NULL) {
    steading_zone_free(made);
    return steading_fail(error, reason == out_of_memory ? STEADING_NO_MEMORY : STEADING_BAD_INPUT,
                         path, "%s", reason);
  }
  *zone = made;
  return STEADING_OK;
}

static steading_status load(const char *path, steading_zone **zone, steading_error *error) {
  char *bytes = NULL;
  size_t length = 0;
  steading_status status = steading_file_read(path, &bytes, &length, error);
  if (status != STEADING_OK) return status;
  status = steading_zone_read((const unsigned char *)bytes, length, path, zone, error);
  free(bytes);
  return status;
}

steading_status steading_zone_load(const char *name, steading_zone **zone, steading_error *error) {
  char path[PATH_SIZE];
  struct stat found;
  const char *folder = zone_folder();
  *zone = NULL;
  if (!is_name(name)) return fail_name(name, "this cannot be a time zone:", error);
  if (stat(folder, &found) != 0 || !S_ISDIR(found.st_mode))
    return steading_fail(error, STEADING_IO, folder,
                         "there is no folder of zone files (package tzdata)");
  if (snprintf(path, sizeof path, "%s/%s", folder, name) >= (int)sizeof path)
    return steading_fail(error, STEADING_IO, folder, "the path is too long");
  if (stat(path, &found) != 0 || S_ISDIR(found.st_mode))
    return fail_name(name, "there is no time zone", error);
  return load(path, zone, error);
}

void steading_zone_free(steading_zone *zone) {
  if (zone == NULL) return;
  free(zone->changes_s);
  free(zone->offsets_s);
  free(zone);
}

int32_t steading_zone_offset_s(const steading_zone *zone, int64_t instant_s) {
  size_t low = 0, high = zone->count; /* changes before `low` are past, from `high` on to come */
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (zone->changes_s[middle] <= instant_s)
      low = middle + 1;
    else
      high = middle;
  }
  if (low == zone->count && zone->rule.present) return offset_by_rule(&zone->rule, instant_s);
  return low == 0 ? zone->first_offset_s : zone->offsets_s[low - 1];
}

int32_t steading_zone_standard_offset_s(const steading_zone *zone) {
  const footer_rule *rule = &zone->rule;
  if (!rule->present) return zone->last_standard_s;
  /* Europe/Dublin calls its summer time standard, and winter time an hour less. */
  return rule->standard_s < rule->summer_s ? rule->standard_s : rule->summer_s;
}
