/* Civil time against the rules of law, against libc and against damaged files. */
#include "files/zone.h"

#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <sys/wait.h>
#include <time.h>

#include "files/folder.h"
#include "random.h"
#include "suites.h"

static steading_zone *zone_of(const char *name) {
  steading_zone *zone = NULL;
  steading_error error = {0};
  ck_assert_msg(steading_zone_load(name, &zone, &error) == STEADING_OK, "%s: %s", error.path,
                error.text);
  return zone;
}

static void assert_refused(const char *name, const char *needle) {
  steading_zone *zone = NULL;
  steading_error error = {0};
  ck_assert_int_eq(steading_zone_load(name, &zone, &error), STEADING_BAD_INPUT);
  ck_assert_msg(strstr(error.text, needle) != NULL, "'%s' lacks '%s'", error.text, needle);
  ck_assert_ptr_null(zone);
}

/* --- the rules of law -------------------------------------------------------------------------- */

/* Days from 1970-01-01 to a date from 1970 on, by counting year after year. */
static int64_t days_to(int year, int month, int day) {
  static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  int64_t days = day - 1;
  for (int y = 1970; y <= year; y++) {
    bool leap = (y % 4 == 0 && y % 100 != 0) || y % 400 == 0;
    if (y < year) days += leap ? 366 : 365;
    if (y == year && month > 2 && leap) days++;
  }
  for (int m = 1; m < month; m++) days += lengths[m - 1];
  return days;
}

/* The date of the nth Sunday of a month, the last for 0 (months of 31 days); 1970-01-01 was a
 * Thursday, so days with 3 left over by 7 are Sundays. */
static int64_t sunday(int year, int month, int nth) {
  int64_t day = nth > 0 ? days_to(year, month, 1 + 7 * (nth - 1)) : days_to(year, month, 25);
  while (day % 7 != 3) day++;
  return day;
}

/* `before` until the instant, `after` from it on. */
static void assert_change(const char *name, int64_t instant, int32_t before, int32_t after) {
  steading_zone *zone = zone_of(name);
  ck_assert_int_eq(steading_zone_offset_s(zone, instant - 1), before);
  ck_assert_int_eq(steading_zone_offset_s(zone, instant), after);
  steading_zone_free(zone);
}

/* Energy Policy Act of 2005, section 110: from the second Sunday of March to the first of November,
 * 2:00 civil time. Denver's standard time is seven hours behind. */
START_TEST(denver_changes_as_the_energy_policy_act_says) {
  static const int years[] = {2027, 2040, 2050};
  for (int i = 0; i < 3; i++) {
    int64_t spring = sunday(years[i], 3, 2) * 86400 + (2 + 7) * 3600;
    int64_t autumn = sunday(years[i], 11, 1) * 86400 + (2 + 6) * 3600;
    assert_change("America/Denver", spring, -7 * 3600, -6 * 3600);
    assert_change("America/Denver", autumn, -6 * 3600, -7 * 3600);
  }
}
END_TEST

/* Directive 2000/84/EC: last Sundays of March and October, 1:00 UT. */
START_TEST(madrid_changes_as_the_directive_says) {
  static const int years[] = {2027, 2040, 2050};
  for (int i = 0; i < 3; i++) {
    int64_t spring = sunday(years[i], 3, 0) * 86400 + 3600;
    int64_t autumn = sunday(years[i], 10, 0) * 86400 + 3600;
    assert_change("Europe/Madrid", spring, 3600, 7200);
    assert_change("Europe/Madrid", autumn, 7200, 3600);
  }
}
END_TEST

/* Daylight Saving Act 1971 (South Australia) and its regulations: from the first Sunday of October
 * to the first of April, changes at 2:00 standard time; 9 h 30 min ahead. Wording from memory. */
START_TEST(adelaide_has_summer_over_new_year_and_half_an_hour) {
  static const int years[] = {2027, 2040, 2050};
  for (int i = 0; i < 3; i++) {
    int64_t end = sunday(years[i], 4, 1) * 86400 + 2 * 3600 - 34200;
    int64_t start = sunday(years[i], 10, 1) * 86400 + 2 * 3600 - 34200;
    assert_change("Australia/Adelaide", end, 37800, 34200);
    assert_change("Australia/Adelaide", start, 34200, 37800);
    assert_change("Australia/Adelaide", days_to(years[i], 1, 1) * 86400, 37800, 37800);
    assert_change("Australia/Adelaide", days_to(years[i], 7, 1) * 86400, 34200, 34200);
  }
}
END_TEST

/* South Africa keeps UT + 2 h, Nepal UT + 5 h 45 min, all year: common practice, no source. */
START_TEST(zones_without_summer_time_never_change) {
  static const struct {
    const char *name;
    int32_t offset_s;
  } zones[] = {{"Africa/Johannesburg", 7200}, {"Asia/Kathmandu", 20700}, {"UTC", 0}};
  for (int i = 0; i < 3; i++) {
    steading_zone *zone = zone_of(zones[i].name);
    ck_assert_int_eq(steading_zone_standard_offset_s(zone), zones[i].offset_s);
    for (int year = 2000; year < 2060; year++) {
      for (int month = 1; month <= 12; month++)
        ck_assert_int_eq(steading_zone_offset_s(zone, days_to(year, month, 1) * 86400),
                         zones[i].offset_s);
    }
    steading_zone_free(zone);
  }
}
END_TEST

START_TEST(standard_time_is_the_winter_time) {
  static const struct {
    const char *name;
    int32_t offset_s;
  } zones[] = {{"America/Denver", -25200},
               {"Europe/Madrid", 3600},
               {"Australia/Adelaide", 34200},
               {"Europe/Dublin", 0}};
  for (int i = 0; i < 4; i++) {
    steading_zone *zone = zone_of(zones[i].name);
    ck_assert_int_eq(steading_zone_standard_offset_s(zone), zones[i].offset_s);
    steading_zone_free(zone);
  }
}
END_TEST

START_TEST(instants_far_away_have_an_answer) {
  steading_zone *zone = zone_of("America/Denver");
  int64_t cycle = INT64_C(146097) * 86400; /* 400 years */
  /* Before railway time a town kept the sun's: Denver's longitude is about 105 degrees west. */
  ck_assert_int_lt(abs(steading_zone_offset_s(zone, INT64_C(-4000000000)) + 105 * 240), 60);
  ck_assert_int_eq(steading_zone_offset_s(zone, INT64_MIN),
                   steading_zone_offset_s(zone, -4000000000));
  for (uint64_t i = 0; i < 1000; i++) {
    int64_t instant = INT64_C(2524608000) + (int64_t)(steading_random_bits(1, 0, 9, i) >> 33);
    ck_assert_int_eq(steading_zone_offset_s(zone, instant),
                     steading_zone_offset_s(zone, instant + 1000 * cycle));
  }
  int32_t last = steading_zone_offset_s(zone, INT64_MAX);
  ck_assert(last == -25200 || last == -21600);
  steading_zone_free(zone);
}
END_TEST

/* --- against libc ------------------------------------------------------------------------------ */

static const char *const thirty[] = {
    "America/Denver",    "America/New_York",   "America/Sao_Paulo",   "America/St_Johns",
    "America/Santiago",  "America/Phoenix",    "America/Nuuk",        "America/Havana",
    "America/Asuncion",  "Africa/Johannesburg", "Africa/Casablanca",  "Africa/Cairo",
    "Africa/Windhoek",   "Europe/Madrid",      "Europe/Dublin",       "Europe/Moscow",
    "Europe/Istanbul",   "Europe/Chisinau",    "Asia/Kathmandu",      "Asia/Kolkata",
    "Asia/Tehran",       "Asia/Gaza",          "Asia/Jerusalem",      "Asia/Pyongyang",
    "Australia/Adelaide", "Australia/Lord_Howe", "Pacific/Auckland",  "Pacific/Chatham",
    "Pacific/Apia",      "Atlantic/Azores"};

enum { INSTANTS = 1000 };

static int64_t random_instant(uint64_t zone, uint64_t i) { /* 2000 to 2060 */
  return 946684800 +
         (int64_t)(1893456000 * steading_random_uniform(5, (uint32_t)zone, 9, i));
}

/* libc's answer comes from a child with TZ set, over a pipe: this process keeps its zone. */
static void libc_offsets(const char *name, uint64_t zone, int32_t offsets[INSTANTS]) {
  int ends[2], child_status = 0;
  size_t got = 0;
  ck_assert_int_eq(pipe(ends), 0);
  pid_t child = fork();
  ck_assert_int_ge(child, 0);
  if (child == 0) {
    setenv("TZ", name, 1);
    tzset();
    for (uint64_t i = 0; i < INSTANTS; i++) {
      time_t instant = (time_t)random_instant(zone, i);
      struct tm civil;
      localtime_r(&instant, &civil);
      offsets[i] = (int32_t)civil.tm_gmtoff;
    }
    ssize_t written = write(ends[1], offsets, INSTANTS * sizeof *offsets);
    _exit(written == INSTANTS * (ssize_t)sizeof *offsets ? 0 : 1);
  }
  close(ends[1]);
  while (got < INSTANTS * sizeof *offsets) {
    ssize_t part = read(ends[0], (char *)offsets + got, INSTANTS * sizeof *offsets - got);
    if (part < 0 && errno == EINTR) continue;
    ck_assert_int_gt(part, 0);
    got += (size_t)part;
  }
  close(ends[0]);
  ck_assert_int_eq(waitpid(child, &child_status, 0), child);
  ck_assert_int_eq(child_status, 0);
}

START_TEST(thirty_zones_agree_with_libc_at_random_instants) {
  for (uint64_t k = 0; k < 30; k++) {
    int32_t offsets[INSTANTS];
    steading_zone *zone = zone_of(thirty[k]);
    libc_offsets(thirty[k], k, offsets);
    for (uint64_t i = 0; i < INSTANTS; i++)
      ck_assert_msg(steading_zone_offset_s(zone, random_instant(k, i)) == offsets[i],
                    "%s at %lld: libc says %d", thirty[k], (long long)random_instant(k, i),
                    (int)offsets[i]);
    steading_zone_free(zone);
  }
}
END_TEST

/* --- names ------------------------------------------------------------------------------------- */

START_TEST(an_unknown_name_gives_the_nearest_known_one) {
  assert_refused("America/NewYork", "did you mean 'America/New_York'?");
  assert_refused("Africa/Johanesburg", "did you mean 'Africa/Johannesburg'?");
  assert_refused("Europe/Madird", "did you mean 'Europe/Madrid'?");
  assert_refused("America/New York", "did you mean 'America/New_York'?");
  assert_refused("america/Denver", "did you mean 'America/Denver'?");
  assert_refused("Mars/Olympus_Mons", "names are like 'Europe/Madrid'");
  assert_refused("Europe", "there is no time zone 'Europe'");
}
END_TEST

START_TEST(names_that_lead_elsewhere_are_refused) {
  assert_refused("../etc/passwd", "cannot be a time zone");
  assert_refused("/etc/passwd", "cannot be a time zone");
  assert_refused("/usr/share/zoneinfo/UTC", "cannot be a time zone");
  assert_refused("Europe/../UTC", "cannot be a time zone");
  assert_refused("Europe//Madrid", "cannot be a time zone");
  assert_refused("Europe/", "cannot be a time zone");
  assert_refused("zone.tab", "cannot be a time zone");
  assert_refused(":UTC", "cannot be a time zone");
  assert_refused("", "cannot be a time zone");
}
END_TEST

/* --- files of our own -------------------------------------------------------------------------- */

/* A folder of zone files with one, Test/Zone, of which the test is the author. */
typedef struct zone_folder {
  char folder[FOLDER_SIZE], path[FILE_PATH_SIZE];
} zone_folder;

static void zone_folder_make(zone_folder *z) {
  char path[FILE_PATH_SIZE];
  folder_make(z->folder);
  ck_assert_int_eq(mkdir(folder_path(z->folder, "Test", path), 0700), 0);
  folder_path(z->folder, "Test/Zone", z->path);
  ck_assert_int_eq(setenv("TZDIR", z->folder, 1), 0);
}

static void zone_folder_remove(zone_folder *z) {
  unsetenv("TZDIR");
  folder_remove(z->folder);
}

static void put_32(unsigned char **at, int64_t value) {
  for (int shift = 24; shift >= 0; shift -= 8)
    *(*at)++ = (unsigned char)((uint64_t)value >> shift);
}

/* Header of RFC 9636, section 3.1, without flags and leap seconds. */
static void put_header(unsigned char **at, char version, int changes, int types, int name_bytes) {
  memcpy(*at, "TZif", 4);
  (*at)[4] = (unsigned char)version;
  memset(*at + 5, 0, 15);
  *at += 20;
  put_32(at, 0);
  put_32(at, 0);
  put_32(at, 0);
  put_32(at, changes);
  put_32(at, types);
  put_32(at, name_bytes);
}

static void put_type(unsigned char **at, int32_t offset_s, bool summer) {
  put_32(at, offset_s);
  *(*at)++ = summer;
  *(*at)++ = 0;
}

/* Version 2 with one type, no change, and the footer. */
static void write_footer_zone(const zone_folder *z, const char *footer) {
  unsigned char bytes[400], *at = bytes;
  put_header(&at, '2', 0, 1, 4);
  put_type(&at, 0, false);
  memcpy(at, "XXX", 4);
  at += 4;
  put_header(&at, '2', 0, 1, 4);
  put_type(&at, 0, false);
  memcpy(at, "XXX", 4);
  at += 4;
  at += snprintf((char *)at, 200, "\n%s\n", footer);
  folder_write(z->path, bytes, (size_t)(at - bytes));
}

static int32_t at_date(const steading_zone *zone, int month, int day, int32_t seconds) {
  return steading_zone_offset_s(zone, days_to(2028, month, day) * 86400 + seconds);
}

/* 2028 is a leap year that begins on a Saturday. Forms of POSIX's TZ (IEEE 1003.1, chapter 8) and
 * RFC 9636, section 3.3.1. */
START_TEST(the_footers_forms_are_understood) {
  zone_folder z;
  steading_zone *zone = NULL;
  zone_folder_make(&z);

  write_footer_zone(&z, "<+0545>-5:45");
  zone = zone_of("Test/Zone");
  ck_assert_int_eq(at_date(zone, 6, 1, 0), 20700);
  steading_zone_free(zone);

  write_footer_zone(&z, "<-03>3:30:15");
  zone = zone_of("Test/Zone");
  ck_assert_int_eq(at_date(zone, 6, 1, 0), -(3 * 3600 + 30 * 60 + 15));
  steading_zone_free(zone);

  /* Jn does not count 29 February: J60 is 1 March. Default time 2:00, summer an hour ahead. */
  write_footer_zone(&z, "AAA+0BBB,J60,J300/1:30");
  zone = zone_of("Test/Zone");
  ck_assert_int_eq(at_date(zone, 3, 1, 7199), 0);
  ck_assert_int_eq(at_date(zone, 3, 1, 7200), 3600);
  ck_assert_int_eq(at_date(zone, 10, 27, 1799), 3600); /* 1:30 summer time is 0:30 UT */
  ck_assert_int_eq(at_date(zone, 10, 27, 1800), 0);
  steading_zone_free(zone);

  /* n counts from 0 and 29 February too: 59 is 29 February. Summer half an hour ahead. */
  write_footer_zone(&z, "AAA0BBB-0:30,59/0,300/0");
  zone = zone_of("Test/Zone");
  ck_assert_int_eq(at_date(zone, 2, 28, 86399), 0);
  ck_assert_int_eq(at_date(zone, 2, 29, 0), 1800);
  steading_zone_free(zone);

  /* Times before and far behind the day: Saturday 22:00 before the last Sunday of March (26th);
   * 167 h are 6 days and 23 h behind the first Sunday of October (1st). */
  write_footer_zone(&z, "AAA0BBB,M3.5.0/-2,M10.1.0/167");
  zone = zone_of("Test/Zone");
  ck_assert_int_eq(at_date(zone, 3, 25, 22 * 3600 - 1), 0);
  ck_assert_int_eq(at_date(zone, 3, 25, 22 * 3600), 3600);
  ck_assert_int_eq(at_date(zone, 10, 7, 22 * 3600 - 1), 3600);
  ck_assert_int_eq(at_date(zone, 10, 7, 22 * 3600), 0);
  steading_zone_free(zone);

  /* Summer time all year, in the words of RFC 9636, section 3.3.1: EST5EDT,0/0,J365/25. */
  write_footer_zone(&z, "EST5EDT,0/0,J365/25");
  zone = zone_of("Test/Zone");
  for (int month = 1; month <= 12; month++) {
    ck_assert_int_eq(at_date(zone, month, 1, 4 * 3600), -4 * 3600);
    ck_assert_int_eq(at_date(zone, month, 1, 5 * 3600), -4 * 3600);
  }
  steading_zone_free(zone);

  write_footer_zone(&z, ""); /* no rule: the file's own type */
  zone = zone_of("Test/Zone");
  ck_assert_int_eq(at_date(zone, 6, 1, 0), 0);
  steading_zone_free(zone);
  zone_folder_remove(&z);
}
END_TEST

START_TEST(a_footer_that_cannot_be_is_an_error) {
  static const char *const footers[] = {
      "A0",           "AAA",           "AAA25",         "AAA0BBB",         "AAA0BBB,J0,J9",
      "AAA0BBB,J366,J9", "AAA0BBB,366,9", "AAA0BBB,M13.1.0,M3.1.0", "AAA0BBB,M0.1.0,M3.1.0",
      "AAA0BBB,M3.6.0,M4.1.0", "AAA0BBB,M3.0.0,M4.1.0", "AAA0BBB,M3.1.7,M4.1.0",
      "AAA0BBB,M3.1.0/168,M4.1.0", "AAA0BBB,M3.1.0", "AAA0BBB,M3.1.0,M4.1.0x", "<AAA0", "<AA>0",
      "AAA0:60", "AAA99999999999999999999", "AAA0 ", ",", "AAA-0:0:0:0", "AAA0BBB,M3.1,M4.1.0"};
  zone_folder z;
  zone_folder_make(&z);
  for (size_t i = 0; i < sizeof footers / sizeof *footers; i++) {
    write_footer_zone(&z, footers[i]);
    assert_refused("Test/Zone", "footer that cannot be read");
  }
  zone_folder_remove(&z);
}
END_TEST

/* Version 1: instants of 32 bits, no footer; type 0 before the first change, the last behind. */
START_TEST(an_old_file_is_read_without_a_footer) {
  unsigned char bytes[200], *at = bytes;
  zone_folder z;
  zone_folder_make(&z);
  put_header(&at, '\0', 3, 3, 4);
  put_32(&at, -1000);
  put_32(&at, 0);
  put_32(&at, 1000);
  *at++ = 1, *at++ = 2, *at++ = 1;
  put_type(&at, 1234, false);
  put_type(&at, 3600, false);
  put_type(&at, 7200, true);
  memcpy(at, "XXX", 4);
  at += 4;
  folder_write(z.path, bytes, (size_t)(at - bytes));
  steading_zone *zone = zone_of("Test/Zone");
  ck_assert_int_eq(steading_zone_offset_s(zone, -1001), 1234);
  ck_assert_int_eq(steading_zone_offset_s(zone, -1000), 3600);
  ck_assert_int_eq(steading_zone_offset_s(zone, -1), 3600);
  ck_assert_int_eq(steading_zone_offset_s(zone, 0), 7200);
  ck_assert_int_eq(steading_zone_offset_s(zone, 999), 7200);
  ck_assert_int_eq(steading_zone_offset_s(zone, 1000000), 3600);
  ck_assert_int_eq(steading_zone_standard_offset_s(zone), 3600);
  steading_zone_free(zone);
  bytes[44 + 12] = 3; /* a type that the file does not have */
  folder_write(z.path, bytes, (size_t)(at - bytes));
  assert_refused("Test/Zone", "a kind of local time that it does not have");
  bytes[44 + 12] = 1;
  bytes[44 + 8] = 0x80; /* the third instant before the second */
  folder_write(z.path, bytes, (size_t)(at - bytes));
  assert_refused("Test/Zone", "out of order");
  zone_folder_remove(&z);
}
END_TEST

START_TEST(a_folder_or_file_that_is_none_is_an_error) {
  zone_folder z;
  steading_zone *zone = NULL;
  steading_error error = {0};
  zone_folder_make(&z);
  folder_write(z.path, "no zone", 7);
  assert_refused("Test/Zone", "is not a zone file");
  folder_write(z.path, "", 0);
  assert_refused("Test/Zone", "is not a zone file");
  write_footer_zone(&z, "AAA0");
  assert_refused("Test/Zoen", "did you mean 'Test/Zone'?");
  ck_assert_int_eq(setenv("TZDIR", z.path, 1), 0);
  ck_assert_int_eq(steading_zone_load("UTC", &zone, &error), STEADING_IO);
  ck_assert_str_eq(error.path, z.path);
  zone_folder_remove(&z);
}
END_TEST

/* Zone files as they are installed, cut at every byte: an error each time, never a crash. */
START_TEST(a_zone_file_cut_short_anywhere_is_an_error) {
  size_t length = 0;
  char *bytes = folder_read("/usr/share/zoneinfo/Australia/Adelaide", &length);
  zone_folder z;
  zone_folder_make(&z);
  for (size_t cut = 0; cut < length; cut++) {
    steading_zone *zone = NULL;
    folder_write(z.path, bytes, cut);
    ck_assert_int_eq(steading_zone_load("Test/Zone", &zone, NULL), STEADING_BAD_INPUT);
    ck_assert_ptr_null(zone);
  }
  free(bytes);
  zone_folder_remove(&z);
}
END_TEST

/* Bytes changed at random: an error, or a zone whose offsets are within the bounds of RFC 9636. */
START_TEST(a_zone_file_with_changed_bytes_never_harms) {
  size_t length = 0, refused = 0;
  char *bytes = folder_read("/usr/share/zoneinfo/America/Denver", &length);
  char *changed = malloc(length);
  zone_folder z;
  ck_assert_ptr_nonnull(changed);
  zone_folder_make(&z);
  for (uint64_t i = 0; i < 1500; i++) {
    steading_zone *zone = NULL;
    memcpy(changed, bytes, length);
    for (uint64_t k = 0; k <= i % 4; k++) {
      uint64_t bits = steading_random_bits(12, (uint32_t)k, 9, i);
      size_t place = i % 2 == 0 ? bits % 100 : bits % length; /* headers half of the time */
      changed[place] = (char)(bits >> 32);
    }
    folder_write(z.path, changed, length);
    if (steading_zone_load("Test/Zone", &zone, NULL) != STEADING_OK) {
      refused++;
      continue;
    }
    for (int year = 1900; year < 2100; year += 3) {
      int32_t offset = steading_zone_offset_s(zone, (int64_t)(year - 1970) * 31556952);
      ck_assert_int_ge(offset, -89999);
      ck_assert_int_le(offset, 93599);
    }
    steading_zone_free(zone);
  }
  ck_assert_uint_gt(refused, 0);
  ck_assert_uint_lt(refused, 1500);
  free(changed);
  free(bytes);
  zone_folder_remove(&z);
}
END_TEST

START_TEST(a_file_that_counts_leap_seconds_is_refused) {
  if (access("/usr/share/zoneinfo/right/Europe/Madrid", R_OK) != 0) {
    printf("skipped: no zone files with leap seconds are installed\n");
    return;
  }
  assert_refused("right/Europe/Madrid", "counts leap seconds");
}
END_TEST

Suite *zone_suite(void) {
  Suite *suite = suite_create("zone");
  TCase *law = tcase_create("rules of law");
  TCase *libc = tcase_create("libc");
  TCase *names = tcase_create("names");
  TCase *files = tcase_create("zone files");
  tcase_set_timeout(libc, 30); /* for slow builds */
  tcase_set_timeout(files, 30);
  tcase_add_test(law, denver_changes_as_the_energy_policy_act_says);
  tcase_add_test(law, madrid_changes_as_the_directive_says);
  tcase_add_test(law, adelaide_has_summer_over_new_year_and_half_an_hour);
  tcase_add_test(law, zones_without_summer_time_never_change);
  tcase_add_test(law, standard_time_is_the_winter_time);
  tcase_add_test(law, instants_far_away_have_an_answer);
  tcase_add_test(libc, thirty_zones_agree_with_libc_at_random_instants);
  tcase_add_test(names, an_unknown_name_gives_the_nearest_known_one);
  tcase_add_test(names, names_that_lead_elsewhere_are_refused);
  tcase_add_test(files, the_footers_forms_are_understood);
  tcase_add_test(files, a_footer_that_cannot_be_is_an_error);
  tcase_add_test(files, an_old_file_is_read_without_a_footer);
  tcase_add_test(files, a_folder_or_file_that_is_none_is_an_error);
  tcase_add_test(files, a_zone_file_cut_short_anywhere_is_an_error);
  tcase_add_test(files, a_zone_file_with_changed_bytes_never_harms);
  tcase_add_test(files, a_file_that_counts_leap_seconds_is_refused);
  suite_add_tcase(suite, law);
  suite_add_tcase(suite, libc);
  suite_add_tcase(suite, names);
  suite_add_tcase(suite, files);
  return suite;
}
