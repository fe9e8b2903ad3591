/* Weather from tables: TMY3, keyed CSV and plain tables against files made of one invented year,
 * and against real files of $DATA. */
#include <check.h>
#include <glob.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "plant/array.h"
#include "readback.h"
#include "resource/stamp.h"
#include "resource/table_weather.h"
#include "resource/written.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

static const steading_place ranch = {
    .latitude_deg = 35.1, .longitude_deg = -106.6, .elevation_m = 1620, .utc_offset_h = -7};

/* ---- stamps ---- */

static int64_t second_of(int year, int month, int day, int hour, int minute, int second) {
  return steading_day_number(year, month, day) * 86400 + hour * 3600 + minute * 60 + second;
}

static bool read_stamp(const char *text, const char *format, steading_stamp *stamp) {
  return steading_stamp_read((steading_slice){text, text + strlen(text)}, format, stamp);
}

START_TEST(stamps_are_read_by_their_format) {
  static const struct {
    const char *text, *format;
    int date[6];
    bool has_offset;
    int offset_min;
  } rows[] = {{"2027-06-01T12:30", NULL, {2027, 6, 1, 12, 30, 0}, false, 0},
              {"2027-06-01 12:30:15.250", NULL, {2027, 6, 1, 12, 30, 15}, false, 0},
              {"2022-10-01 00:10:00+04:00", NULL, {2022, 10, 1, 0, 10, 0}, true, 240},
              {"2022-10-01T00:10:00-0330", NULL, {2022, 10, 1, 0, 10, 0}, true, -210},
              {"2022-10-01T00:10Z", NULL, {2022, 10, 1, 0, 10, 0}, true, 0},
              {"2024-02-29T24:00", NULL, {2024, 3, 1, 0, 0, 0}, false, 0},
              {"12/31/1999 24:00", "%m/%d/%Y %H:%M", {2000, 1, 1, 0, 0, 0}, false, 0},
              {"01.04.2031   0:15", "%d.%m.%Y %H:%M", {2031, 4, 1, 0, 15, 0}, false, 0},
              {"9/4/31 01:05 PM", "%d/%m/%y %I:%M %p", {2031, 4, 9, 13, 5, 0}, false, 0},
              {"12:00 am 1/1/69", "%I:%M %p %d/%m/%y", {1969, 1, 1, 0, 0, 0}, false, 0},
              {"2028 60 7", "%Y %j %H", {2028, 2, 29, 7, 0, 0}, false, 0},
              {"20310417 0930", "%Y%m%d %H%M", {2031, 4, 17, 9, 30, 0}, false, 0},
              {"7h of 2031-04-17 +02", "%Hh of %Y-%m-%d %z", {2031, 4, 17, 7, 0, 0}, true, 120}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    const int *d = rows[i].date;
    steading_stamp stamp;
    ck_assert_msg(rows[i].format == NULL || steading_stamp_format_known(rows[i].format), "%s",
                  rows[i].format);
    ck_assert_msg(read_stamp(rows[i].text, rows[i].format, &stamp), "%s", rows[i].text);
    ck_assert_int_eq(stamp.second, second_of(d[0], d[1], d[2], d[3], d[4], d[5]));
    ck_assert_int_eq(stamp.has_offset, rows[i].has_offset);
    if (stamp.has_offset) ck_assert_int_eq(stamp.offset_min, rows[i].offset_min);
  }
}
END_TEST

START_TEST(what_is_no_stamp_is_refused) {
  static const char *const no_iso[] = {"",
                                       "2027-06-01",
                                       "2027-02-29T00:00",
                                       "2027-6-1T0:00",
                                       "2027-06-01T24:10",
                                       "2027-06-01T12:60",
                                       "2027-06-01T12:30x",
                                       "2027-06-01T12:30+2"};
  static const char *const no_format[] = {"%Y-%m %H",     "%m-%d %H",       "%Y-%m-%d",
                                          "%Y-%m-%d %I",  "%Y-%m-%d %H %p", "%Y-%m-%d %H %Q",
                                          "%Y-%m-%d %H %"};
  steading_stamp stamp;
  for (size_t i = 0; i < sizeof no_iso / sizeof no_iso[0]; i++)
    ck_assert_msg(!read_stamp(no_iso[i], NULL, &stamp), "%s", no_iso[i]);
  for (size_t i = 0; i < sizeof no_format / sizeof no_format[0]; i++)
    ck_assert_msg(!steading_stamp_format_known(no_format[i]), "%s", no_format[i]);
  ck_assert(!read_stamp("2028 366 7 1", "%Y %j %H", &stamp));
  ck_assert(!read_stamp("2027 366 7", "%Y %j %H", &stamp)); /* no leap year */
}
END_TEST

/* ---- one invented year in many forms ---- */

/* Light of clearness 0.6, 0.3 of it diffuse, changing from day to day, by the sun of the step. */
typedef struct light {
  double temp, ghi, dni, dhi;
} light;

static light light_of(const steading_sun_step *sun, size_t day, double hour) {
  double kt = 0.5 + 0.02 * (double)(day % 10);
  light l = {.ghi = kt * sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share};
  l.dhi = 0.3 * l.ghi;
  l.dni = sun->up > 0 ? 0.7 * l.ghi / sun->up : 0;
  l.temp = 12 - 10 * cos(2 * acos(-1) * (double)day / 365) + hour / 4;
  return l;
}

static steading_weather *table(const steading_table_layout *layout) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_status status =
      steading_table_weather(written.bytes, written.length, "made.csv", layout, &weather, &error);
  ck_assert_msg(status == STEADING_OK, "%s: %s", error.path, error.text);
  return weather;
}

static void refused(const steading_table_layout *layout, const char *path, const char *said) {
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  ck_assert_int_ne(
      steading_table_weather(written.bytes, written.length, "made.csv", layout, &weather, &error),
      STEADING_OK);
  ck_assert_ptr_null(weather);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, said) != NULL, "\"%s\" is not in \"%s\"", said, error.text);
}

static void check_note(const steading_weather *weather, const char *said) {
  for (size_t i = 0; i < weather->note_count; i++)
    if (strstr(weather->notes[i], said) != NULL) return;
  ck_abort_msg("no note \"%s\"", said);
}

static steading_table_layout plain_layout(void) {
  return (steading_table_layout){.source = "table",
                                 .time = {"stamp"},
                                 .time_count = 1,
                                 .columns = {"air", "global", "direct", "diffuse"},
                                 .place = ranch,
                                 .has_stamp_offset = true,
                                 .stamp_offset_h = -7};
}

/* What every weather promises, and that it is the invented year, to `tolerance`, which is that of
 * the decimals written. */
static void check_year(const steading_weather *weather, int step_minutes, double tolerance) {
  size_t a_day = (size_t)(1440 / step_minutes);
  ck_assert_int_eq(weather->step_minutes, step_minutes);
  ck_assert_uint_eq(weather->steps_per_year, a_day * 365);
  ck_assert_uint_eq(weather->steps, weather->years * weather->steps_per_year);
  for (size_t i = 0; i < weather->steps; i++) {
    size_t at = i % weather->steps_per_year;
    const steading_sun_step *sun = &weather->sun[at];
    light l = light_of(sun, at / a_day, (double)(at % a_day) * step_minutes / 60);
    ck_assert_double_eq_tol(weather->ghi_w_per_m2[i], l.ghi, tolerance);
    ck_assert_double_eq_tol(weather->dhi_w_per_m2[i], l.dhi, tolerance);
    ck_assert_double_eq_tol(weather->temp_c[i], l.temp, tolerance);
    ck_assert(weather->dhi_w_per_m2[i] <= weather->ghi_w_per_m2[i]);
    ck_assert_double_eq_tol(weather->dni_w_per_m2[i] * sun->up + weather->dhi_w_per_m2[i],
                            weather->ghi_w_per_m2[i], 1e-9);
  }
}

static steading_sun_step *sun_of(int step_minutes) {
  steading_sun_step *sun = malloc((size_t)(525600 / step_minutes) * sizeof *sun);
  ck_assert_ptr_nonnull(sun);
  steading_sun_year(ranch.latitude_deg, ranch.longitude_deg, ranch.utc_offset_h, step_minutes, sun);
  return sun;
}

/* Rows of a plain table of the days `first_day` .. `first_day + days` (they go round the year), in
 * a calendar year and on, each stamped `stamp_min` behind its step's beginning. */
static void put_plain(int step_minutes, int year, int first_day, int days, int stamp_min,
                      const char *offset) {
  steading_sun_step *sun = sun_of(step_minutes);
  int a_day = 1440 / step_minutes;
  put("stamp,note,global,direct,diffuse,air\n");
  for (int d = first_day; d < first_day + days; d++) {
    for (int i = 0; i < a_day; i++) {
      int day = d % 365, month = 0, day_of_month = 0, y = 0;
      int64_t minute = 0, stamp_day = 0;
      light l = light_of(&sun[day * a_day + i], (size_t)day, (double)i * step_minutes / 60);
      steading_month_of_day(day, &month, &day_of_month);
      minute = steading_day_number(year + d / 365, month, day_of_month) * 1440 + i * step_minutes +
               stamp_min;
      stamp_day = minute / 1440;
      steading_date_of_day(stamp_day, &y, &month, &day_of_month);
      put("%04d-%02d-%02d %02d:%02d%s,x,%.6f,%.6f,%.6f,%.6f\n", y, month, day_of_month,
          (int)(minute - stamp_day * 1440) / 60, (int)(minute % 60), offset, l.ghi, l.dni, l.dhi,
          l.temp);
    }
  }
  free(sun);
}

START_TEST(a_plain_table_is_read_in_every_step) {
  static const int known[] = {60, 30, 15, 10, 5, 1};
  steading_table_layout layout = plain_layout();
  steading_weather *weather = NULL;
  put_plain(known[_i], 2027, 0, 365, 0, "");
  weather = table(&layout);
  ck_assert_uint_eq(weather->years, 1);
  check_year(weather, known[_i], 1e-6);
  ck_assert_str_eq(weather->source, "table");
  steading_weather_release(weather);
}
END_TEST

START_TEST(what_a_stamp_marks_is_what_is_said) {
  steading_table_layout layout = plain_layout();
  steading_weather *weather = NULL;
  put_plain(30, 2027, 0, 365, 30, "");
  layout.interval = STEADING_INTERVAL_ENDING;
  weather = table(&layout);
  check_year(weather, 30, 1e-6);
  steading_weather_release(weather);
  layout.interval = STEADING_INTERVAL_BEGINNING; /* the same by a declared shift */
  layout.shift_minutes = -30;
  weather = table(&layout);
  check_year(weather, 30, 1e-6);
  check_note(weather, "all stamps moved by -30 min");
  steading_weather_release(weather);
}
END_TEST

/* Stamps in UT, with and without an offset of their own, moved to the place's standard time. */
START_TEST(stamps_in_another_zone_are_moved) {
  for (int own = 0; own < 2; own++) {
    steading_table_layout layout = plain_layout();
    steading_weather *weather = NULL;
    put_plain(60, 2027, 0, 365, 7 * 60, own ? "Z" : "");
    layout.has_stamp_offset = !own;
    layout.stamp_offset_h = 0;
    layout.has_zone_offset = true;
    layout.zone_offset_h = -7;
    weather = table(&layout);
    ck_assert_double_eq(weather->place.utc_offset_h, -7);
    check_year(weather, 60, 1e-6);
    check_note(weather, "stamps at +0 h from UT moved to standard time at -7 h");
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

/* Means that begin ten minutes behind the steps are cut at the steps' ends: by hand 1/6 of the
 * value before and 5/6 of its own (hours). */
START_TEST(means_that_begin_late_are_cut) {
  steading_table_layout layout = plain_layout();
  steading_sun_step *sun = sun_of(60);
  steading_weather *weather = NULL;
  put_plain(60, 2027, 0, 365, 10, "");
  weather = table(&layout);
  for (size_t i = 1; i < HOURS; i++) {
    light before = light_of(&sun[i - 1], (i - 1) / 24, (double)((i - 1) % 24));
    light own = light_of(&sun[i], i / 24, (double)(i % 24));
    ck_assert_double_eq_tol(weather->ghi_w_per_m2[i], before.ghi / 6 + own.ghi * 5 / 6, 1e-5);
    ck_assert_double_eq_tol(weather->temp_c[i], before.temp / 6 + own.temp * 5 / 6, 1e-5);
  }
  free(sun);
  steading_weather_release(weather);
}
END_TEST

/* Between instants straight lines: at the step's beginning the mean of two neighbours, at its
 * middle 1/8, 3/4 and 1/8 (the area under the two lines, by hand). */
START_TEST(instants_are_joined_by_straight_lines) {
  for (int middle = 0; middle < 2; middle++) {
    steading_table_layout layout = plain_layout();
    steading_weather *weather = NULL;
    put_plain(60, 2027, 0, 365, middle ? 30 : 0, "");
    layout.interval = STEADING_INTERVAL_INSTANT;
    weather = table(&layout);
    for (size_t i = 1; i + 1 < HOURS; i++) {
      double t[3];
      for (size_t k = 0; k < 3; k++)
        t[k] = light_of(&weather->sun[0], (i + k - 1) / 24, (double)((i + k - 1) % 24)).temp;
      ck_assert_double_eq_tol(weather->temp_c[i],
                              middle ? t[0] / 8 + t[1] * 3 / 4 + t[2] / 8 : (t[1] + t[2]) / 2,
                              1e-5);
    }
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

/* A year from July to June, two years from January, and months of several years in a row: all have
 * the invented days where the calendar has them. */
START_TEST(rows_stand_by_their_dates) {
  steading_table_layout layout = plain_layout();
  steading_weather *weather = NULL;
  put_plain(60, 2026, 181, 365, 0, "");
  weather = table(&layout);
  ck_assert_uint_eq(weather->years, 1);
  check_year(weather, 60, 1e-6);
  steading_weather_release(weather);
  clear_written();
  put_plain(60, 2026, 0, 730, 0, "");
  weather = table(&layout);
  ck_assert_uint_eq(weather->years, 2);
  check_year(weather, 60, 1e-6);
  steading_weather_release(weather);
  clear_written();
  put_plain(60, 2026, 0, 59, 0, ""); /* January and February of 2026, the rest of 1999 */
  size_t january = written.length;
  put_plain(60, 1999, 59, 306, 0, "");
  memcpy(written.bytes + january, "# ", 2); /* its header line is a comment */
  weather = table(&layout);
  ck_assert_uint_eq(weather->years, 1);
  check_year(weather, 60, 1e-6);
  steading_weather_release(weather);
}
END_TEST

/* 2028 without its 29 February, as some services send it, and with it. */
START_TEST(a_leap_day_is_dropped_or_noted_as_absent) {
  steading_table_layout layout = plain_layout();
  steading_weather *weather = NULL;
  const char *at = NULL;
  put_plain(60, 2028, 0, 365, 0, "");
  weather = table(&layout);
  check_year(weather, 60, 1e-6);
  check_note(weather, "29 February is absent in 1 leap year");
  steading_weather_release(weather);
  at = strstr(written.bytes, "2028-03-01 00:00");
  ck_assert_ptr_nonnull(at);
  written_text whole = written;
  written = (written_text){NULL, 0, 0};
  put("%s", "");
  written.bytes = realloc(written.bytes, whole.length + 4000);
  written.room = whole.length + 4000;
  written.length = (size_t)(at - whole.bytes);
  memcpy(written.bytes, whole.bytes, written.length);
  for (int h = 0; h < 24; h++) put("2028-02-29 %02d:00,x,77,77,77,7\n", h);
  memcpy(written.bytes + written.length, at, whole.length - (size_t)(at - whole.bytes));
  written.length += whole.length - (size_t)(at - whole.bytes);
  free(whole.bytes);
  weather = table(&layout);
  check_year(weather, 60, 1e-6);
  check_note(weather, "24 hours of 29 February dropped");
  steading_weather_release(weather);
}
END_TEST

/* 1000 W/m2 for an hour are 1 kWh, 3.6 MJ and 360 J/cm2 (definitions); 0 C is 273.15 K and 32 F. */
START_TEST(units_are_those_of_the_column) {
  static const double per_watt_hour[] = {1, 1, 1e-3, 3.6, 3.6e-3, 0.36};
  static const double per_kelvin[] = {1, 1, 1.8, 10}, zero[] = {0, 273.15, 32, 0};
  for (int unit = 0; unit < 6; unit++) {
    for (int step = 60; step >= 30; step -= 30) {
      steading_table_layout layout = plain_layout();
      steading_sun_step *sun = sun_of(step);
      steading_weather *weather = NULL;
      int a_day = 1440 / step, t = unit % 4;
      put("stamp;global;direct;diffuse;air\n");
      for (int i = 0; i < 365 * a_day; i++) {
        light l = light_of(&sun[i], (size_t)(i / a_day), (double)(i % a_day) * step / 60);
        double factor = unit == 0 ? 1 : per_watt_hour[unit] * step / 60;
        int month = 0, day = 0;
        char row[200];
        steading_month_of_day(i / a_day, &month, &day);
        snprintf(row, sizeof row, "%.9f;%.9f;%.9f;%.9f", l.ghi * factor, l.dni * factor,
                 l.dhi * factor, l.temp * per_kelvin[t] + zero[t]);
        for (char *p = row; unit == 3 && *p != '\0'; p++) /* decimal commas as well */
          if (*p == '.') *p = ',';
        put("%02d.%02d.2027 %02d:%02d;%s;;\r\n", day, month, i % a_day * step / 60,
            i % a_day * step % 60, row);
      }
      layout.time_format = "%d.%m.%Y %H:%M";
      for (int q = STEADING_GHI; q <= STEADING_DHI; q++) layout.units[q] = unit;
      layout.units[STEADING_TEMP] = t;
      weather = table(&layout);
      check_year(weather, step, 1e-4);
      steading_weather_release(weather);
      free(sun);
      clear_written();
    }
  }
}
END_TEST

START_TEST(preambles_units_and_missing_words_are_understood) {
  steading_table_layout layout = plain_layout();
  steading_weather *weather = NULL;
  char *at = NULL;
  put("Station;12345\n\n# a comment, with commas\nstamp,unit\n");
  put("stamp,note,global,direct,diffuse,air\n[UT-7],,[W/m2],[W/m2],[W/m2],[C]\n");
  size_t head = written.length;
  put_plain(60, 2027, 0, 365, 0, "");
  memcpy(written.bytes + head, "#", 1); /* the second header is a comment */
  at = strstr(written.bytes, "2027-04-11 03:00,x,");
  ck_assert_ptr_nonnull(at);
  memcpy(at + 19, "NaN     ,-999.000,", 18); /* dark: nothing is lost */
  weather = table(&layout);
  check_note(weather, "line 6 holds no numbers: taken as units");
  check_year(weather, 60, 1e-6);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_table_without_some_light_is_completed) {
  steading_table_layout layout = plain_layout();
  steading_weather *weather = NULL;
  put_plain(60, 2027, 0, 365, 0, "");
  layout.columns[STEADING_GHI] = NULL;
  weather = table(&layout);
  check_year(weather, 60, 1e-5);
  check_note(weather, "without global (the file has none)");
  steading_weather_release(weather);
  layout.columns[STEADING_GHI] = "global";
  layout.columns[STEADING_DHI] = NULL;
  weather = table(&layout);
  check_year(weather, 60, 1e-5);
  check_note(weather, "without diffuse (the file has none)");
  steading_weather_release(weather);
  layout.columns[STEADING_DNI] = NULL; /* global alone: Erbs; global itself stays */
  weather = table(&layout);
  check_note(weather, "without direct and diffuse: diffuse from global (Erbs 1982)");
  for (size_t i = 0; i < HOURS; i++)
    ck_assert_double_eq_tol(weather->ghi_w_per_m2[i], light_of(&weather->sun[i], i / 24, 0).ghi,
                            1e-6);
  steading_weather_release(weather);
}
END_TEST

START_TEST(what_cannot_be_a_weather_is_refused_with_its_reason) {
  steading_table_layout layout = plain_layout();
  char *at = NULL;
  put_plain(60, 2027, 120, 15, 0, "");
  refused(&layout, "made.csv", "the table covers 2027-05-01 to 2027-05-15, 15 days");
  layout.columns[STEADING_GHI] = "globel";
  refused(&layout, "made.csv", "lacks \"globel\" (did you mean \"global\"?)");
  clear_written();
  layout = plain_layout();
  put_plain(60, 2027, 0, 400, 0, "");
  refused(&layout, "made.csv", "400 days");
  clear_written();
  put_plain(60, 2027, 0, 365, 0, "");
  layout.has_stamp_offset = false;
  refused(&layout, "made.csv", "give utc_offset_h");
  layout = plain_layout();
  layout.place.longitude_deg = 106.6;
  refused(&layout, "made.csv", "does not belong to longitude 106.6");
  layout.allow = STEADING_ALLOW_ZONE;
  refused(&layout, "made.csv", "before solar noon");
  layout = plain_layout();
  layout.units[STEADING_GHI] = STEADING_KWH_PER_M2;
  /* the sun rises at 7:13 on 1 January: the row of 7 h is the first with light */
  refused(&layout, "made.csv: line 9", "column \"global\": found");
  layout.interval = STEADING_INTERVAL_INSTANT;
  refused(&layout, "made.csv", "an instant has a power");
  layout = plain_layout();
  at = strstr(written.bytes, "2027-04-11 12:00,x,");
  memcpy(at, "2027-04-31", 10);
  refused(&layout, "made.csv: line 2414", "the time: found \"2027-04-31 12:00\"");
  memcpy(at, "2027-04-11", 10);
  memcpy(at + 19, "abc", 3);
  refused(&layout, "made.csv: line 2414", "column \"global\": found \"abc");
  memcpy(at, "2027-04-10", 10);
  memcpy(at + 19, "123", 3);
  refused(&layout, "made.csv: line 2414", "is not later than the one before");
}
END_TEST

/* ---- TMY3 and keyed CSV of the same year ---- */

static void put_tmy3(const char *head) {
  steading_sun_step *sun = sun_of(60);
  put("%s\nDate (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2),GHI (W/m^2),GHI source,DNI (W/m^2),DHI "
      "(W/m^2),Dry-bulb (C),Alb (unitless)\n",
      head);
  for (int i = 0; i < HOURS; i++) {
    light l = light_of(&sun[i], (size_t)i / 24, i % 24);
    int month = 0, day = 0;
    steading_month_of_day(i / 24, &month, &day);
    put("%02d/%02d/%d,%02d:00,9,%.6f,A,%.6f,%.6f,%.6f,-9900\n", month, day, 2010 - month % 5,
        i % 24 + 1, l.ghi, l.dni, l.dhi, l.temp);
  }
  free(sun);
}

START_TEST(a_tmy3_file_is_the_same_year) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_read_options options = {.has_utc_offset = true, .utc_offset_h = -7};
  put_tmy3("999999,\"SAMPLE, MUNI AP\",NM,-7.0,35.1,-106.6,1620");
  ck_assert(steading_weather_is_tmy3(written.bytes, written.length));
  ck_assert(!steading_weather_is_keyed(written.bytes, written.length));
  ck_assert(!steading_weather_is_epw(written.bytes, written.length));
  ck_assert_int_eq(
      steading_weather_read_tmy3(written.bytes, written.length, "x.csv", NULL, &weather, &error),
      STEADING_OK);
  check_year(weather, 60, 1e-6);
  ck_assert_double_eq(weather->place.elevation_m, 1620);
  steading_weather_release(weather);
  clear_written();
  put_tmy3("999999,SAMPLE,NM,+7.0,35.1,-106.6,1620");
  ck_assert_int_eq(
      steading_weather_read_tmy3(written.bytes, written.length, "x.csv", NULL, &weather, &error),
      STEADING_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(error.text, "the time zone +7 h does not belong"));
  ck_assert_int_eq(steading_weather_read_tmy3(written.bytes, written.length, "x.csv", &options,
                                              &weather, &error),
                   STEADING_OK);
  check_year(weather, 60, 1e-6);
  check_note(weather, "the file says +7 h from UT; utc_offset_h = -7 stands");
  steading_weather_release(weather);
  clear_written();
  put_tmy3("999999,SAMPLE,NM,-7.0,95.1,-106.6,1620");
  ck_assert_int_eq(
      steading_weather_read_tmy3(written.bytes, written.length, "x.csv", NULL, &weather, &error),
      STEADING_BAD_INPUT);
  ck_assert_str_eq(error.text,
                   "line 1, cell 5 (latitude): found \"95.1\", expected a number from -90 to 90");
}
END_TEST

/* Instants by the sun of their own date, every half-hour, without a column of global: the means of
 * the steps are then those of the straight lines, so that each month's direct and diffuse sums
 * stay, by an independent sum over the rows. Stamps in UT while the place is at -7 h. */
static void check_keyed(bool in_ut) {
  double ghi[12] = {0}, dhi[12] = {0};
  steading_weather *weather = NULL;
  steading_error error = {0};
  put("Source,Latitude,Longitude,Time Zone,Elevation,Local Time Zone,DHI Units,Temperature Units\n"
      "made,35.1,-106.6,%d,1620,-7,w/m2,c\nYear,Month,Day,Hour,Minute,DHI,DNI,Temperature\n",
      in_ut ? 0 : -7);
  for (int i = 0; i < 2 * HOURS; i++) {
    int day = i / 48, month = 0, day_of_month = 0, y = 0, m = 0, d = 0;
    int64_t minute = 0;
    steading_sun_step sun;
    light l;
    steading_month_of_day(day, &month, &day_of_month);
    minute = steading_day_number(2027, month, day_of_month) * 1440 + i % 48 * 30;
    steading_sun_instant(
        35.1, -106.6,
        (double)minute / 1440 - (double)steading_day_number(2000, 1, 1) - 0.5 + 7.0 / 24, day,
        &sun);
    l = light_of(&sun, (size_t)day, i % 48 / 2.0);
    ghi[month - 1] += l.ghi / 2000;
    dhi[month - 1] += l.dhi / 2000;
    if (in_ut) minute += 7 * 60;
    steading_date_of_day(minute / 1440, &y, &m, &d);
    put("%d,%d,%d,%d,%d,%.6f,%.6f,%.6f\n", y, m, d, (int)(minute % 1440) / 60, (int)(minute % 60),
        l.dhi, l.dni, l.temp);
  }
  ck_assert(steading_weather_is_keyed(written.bytes, written.length));
  ck_assert(!steading_weather_is_tmy3(written.bytes, written.length));
  ck_assert_msg(steading_weather_read_keyed(written.bytes, written.length, "x.csv", NULL, &weather,
                                            &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  ck_assert_int_eq(weather->step_minutes, 30);
  for (int month = 0; month < 12; month++) {
    double sums[2] = {0, 0};
    for (int i = steading_days_before_month[month] * 48;
         i < steading_days_before_month[month + 1] * 48; i++) {
      sums[0] += weather->ghi_w_per_m2[i] / 2000;
      sums[1] += weather->dhi_w_per_m2[i] / 2000;
    }
    ck_assert_double_eq_tol(sums[0], ghi[month], 1e-6 * ghi[month]);
    /* near the horizon what is more than a beam can be is counted as diffuse */
    ck_assert_double_ge(sums[1], dhi[month] * (1 - 1e-6));
    ck_assert_double_le(sums[1], dhi[month] * 1.003);
  }
  steading_weather_release(weather);
}

START_TEST(a_keyed_file_keeps_its_light) {
  check_keyed(false);
  clear_written();
  check_keyed(true);
}
END_TEST

/* ---- real files, outside the project: $DATA/weather and $DATA/measure-only ---- */

static char *read_whole(const char *folder, const char *name, size_t *length) {
  const char *data = getenv("DATA");
  char path[1024], *bytes = NULL;
  if (data == NULL) {
    printf("SKIPPED resource/tables, %s: DATA is not set\n", name);
    return NULL;
  }
  snprintf(path, sizeof path, "%s/%s/%s", data, folder, name);
  bytes = read_bytes(path, length);
  if (bytes == NULL) printf("SKIPPED resource/tables, %s: not under DATA\n", name);
  return bytes;
}

static void month_sums(const steading_weather *weather, double months[12]) {
  size_t a_day = weather->steps_per_year / 365;
  for (int m = 0; m < 12; m++) {
    months[m] = 0;
    for (size_t i = (size_t)steading_days_before_month[m] * a_day;
         i < (size_t)steading_days_before_month[m + 1] * a_day; i++)
      months[m] += weather->ghi_w_per_m2[i] * weather->step_minutes / 60000;
  }
}

/* Global by month, kWh/m2, with the C library's own splitting: field 5 of a row MM/DD/YYYY. */
static void sum_tmy3(const char *bytes, double months[12]) {
  char *copy = strdup(bytes), *rest = copy, *line = NULL;
  int number = 0;
  ck_assert_ptr_nonnull(copy);
  memset(months, 0, 12 * sizeof *months);
  while ((line = strsep(&rest, "\n")) != NULL) {
    int month = atoi(line);
    if (++number <= 2 || month < 1) continue;
    for (int i = 1; i < 5; i++) strsep(&line, ",");
    months[month - 1] += atof(line) / 1000;
  }
  free(copy);
}

START_TEST(a_real_tmy3_file_keeps_its_months) {
  size_t length = 0;
  char *bytes = read_whole("weather", "AZ-Tucson_International_Ap.tmy3.csv", &length);
  steading_weather *weather = NULL;
  double found[12], expected[12];
  if (bytes == NULL) return;
  ck_assert_int_eq(steading_weather_read_tmy3(bytes, length, "x", NULL, &weather, NULL),
                   STEADING_OK);
  sum_tmy3(bytes, expected);
  month_sums(weather, found);
  for (int m = 0; m < 12; m++) ck_assert_double_eq_tol(found[m], expected[m], 0.001 * expected[m]);
  steading_weather_release(weather);
  free(bytes);
}
END_TEST

/* Its header gives -4 h at 55.6 degrees east. */
START_TEST(a_real_file_with_the_zone_of_the_other_side_is_refused) {
  size_t length = 0;
  char *bytes = read_whole("measure-only", "REU_Plaine-des-Cafres_TMY-RUN_tmy3.csv", &length);
  steading_read_options options = {.has_utc_offset = true, .utc_offset_h = 4};
  steading_weather *weather = NULL;
  steading_error error = {0};
  double found[12], expected[12];
  if (bytes == NULL) return;
  ck_assert_int_eq(steading_weather_read_tmy3(bytes, length, "x", NULL, &weather, &error),
                   STEADING_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(error.text, "the time zone -4 h does not belong to longitude"));
  ck_assert_int_eq(steading_weather_read_tmy3(bytes, length, "x", &options, &weather, &error),
                   STEADING_OK);
  check_note(weather, "the light is centred 0.62 h after solar noon"); /* as its provenance says */
  sum_tmy3(bytes, expected);
  month_sums(weather, found);
  for (int m = 0; m < 12; m++) ck_assert_double_eq_tol(found[m], expected[m], 0.001 * expected[m]);
  steading_weather_release(weather);
  free(bytes);
}
END_TEST

/* Cosine of the zenith after Michalsky 1988, "The Astronomical Almanac's algorithm", Solar Energy
 * 40, 227-235 (constants from memory): an algorithm that the program does not have. */
static double cos_zenith(double latitude, double longitude, int64_t minute_ut) {
  const double degree = acos(-1) / 180;
  double n = (double)minute_ut / 1440 - (double)steading_day_number(2000, 1, 1) - 0.5;
  double hour = (double)(minute_ut % 1440) / 60;
  double g = (357.528 + 0.9856003 * n) * degree, mean = 280.460 + 0.9856474 * n;
  double along = (mean + 1.915 * sin(g) + 0.020 * sin(2 * g)) * degree;
  double tilt = (23.439 - 4e-7 * n) * degree;
  double ascension = atan2(cos(tilt) * sin(along), cos(along));
  double declination = asin(sin(tilt) * sin(along));
  double sidereal = 6.697375 + 0.0657098242 * n + hour;
  double angle = (15 * sidereal + longitude) * degree - ascension;
  return sin(latitude * degree) * sin(declination) +
         cos(latitude * degree) * cos(declination) * cos(angle);
}

/* It has no global: the sum of direct on the horizontal and diffuse, by the sun of Michalsky at the
 * instants of its stamps. */
START_TEST(a_real_keyed_file_keeps_its_months) {
  size_t length = 0;
  char *bytes = read_whole("weather", "nsrdb_psm_606672_29.25_-100.34_2016.csv", &length);
  steading_weather *weather = NULL;
  char *copy = NULL, *rest = NULL, *line = NULL;
  double found[12], expected[12] = {0};
  if (bytes == NULL) return;
  ck_assert_int_eq(steading_weather_read_keyed(bytes, length, "x", NULL, &weather, NULL),
                   STEADING_OK);
  check_note(weather, "29 February is absent in 1 leap year");
  rest = copy = strdup(bytes);
  ck_assert_ptr_nonnull(copy);
  while ((line = strsep(&rest, "\n")) != NULL) {
    int y = 0, m = 0, d = 0, hour = 0, minute = 0;
    double dhi = 0, dni = 0;
    if (sscanf(line, "%d,%d,%d,%d,%d,%lf,%lf", &y, &m, &d, &hour, &minute, &dhi, &dni) != 7)
      continue;
    expected[m - 1] += (dhi + dni * fmax(0, cos_zenith(29.25, -100.34,
                                                       steading_day_number(y, m, d) * 1440 +
                                                           (hour + 6) * 60 + minute))) /
                       2000;
  }
  free(copy);
  month_sums(weather, found);
  for (int m = 0; m < 12; m++) ck_assert_double_eq_tol(found[m], expected[m], 0.001 * expected[m]);
  steading_weather_release(weather);
  free(bytes);
}
END_TEST

START_TEST(a_real_table_of_fifteen_days_is_no_weather) {
  size_t length = 0;
  char *bytes = read_whole("measure-only", "reunion_campus_meteo_10min_2022-10-01_15.csv", &length);
  steading_table_layout layout = {.source = "table",
                                  .time = {"datetime"},
                                  .time_count = 1,
                                  .columns = {"DBT", "GHI", "BNI", "DHI"},
                                  .interval = STEADING_INTERVAL_ENDING,
                                  .place = {.latitude_deg = -21.33, .longitude_deg = 55.48}};
  steading_weather *weather = NULL;
  steading_error error = {0};
  if (bytes == NULL) return;
  ck_assert_int_eq(steading_table_weather(bytes, length, "x", &layout, &weather, &error),
                   STEADING_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(error.text, "15 days; a weather needs whole years"));
  free(bytes);
}
END_TEST

/* ---- a plane that looks to the equator ---- */

static double year_of(steading_weather *weather, double temp_coefficient, bool glass) {
  steading_yield_key key = {.plane = {.azimuth_deg = weather->place.latitude_deg > 0 ? 180 : 0,
                                      .sky_model = STEADING_SKY_PEREZ,
                                      .glass = {.model = STEADING_INCIDENCE_OFF}},
                            .temp_coefficient_per_c = temp_coefficient,
                            .heating = {.model = STEADING_CELL_NOCT, .noct_c = 45}};
  const double *yield = NULL;
  double sum = 0;
  for (int m = 0; m < 12; m++) {
    key.plane.tilt_deg[m] = fabs(weather->place.latitude_deg);
    key.plane.albedo[m] = 0.2;
  }
  if (glass)
    key.plane.glass =
        (steading_incidence_glass){.model = STEADING_INCIDENCE_MARTIN_RUIZ, .a_r = 0.16};
  yield = steading_yield_of(weather, &key);
  ck_assert_ptr_nonnull(yield);
  for (size_t i = 0; i < weather->steps; i++) sum += yield[i] * weather->step_minutes / 60;
  return sum / (double)weather->years;
}

/* Irradiation of a plane tilted by the latitude, kWh/m2 a day, yearly mean 1961-1990: Marion and
 * Wilcox 1994, "Solar radiation data manual for flat-plate and concentrating collectors",
 * NREL/TP-463-5607 (from memory): Tucson 6.5, Caribou 4.2. A typical year of a later period: within
 * 10 %. */
START_TEST(a_tilted_plane_gets_what_the_handbook_says) {
  static const struct {
    const char *name;
    double kwh_per_m2_day;
  } rows[] = {{"AZ-Tucson_International_Ap.tmy3.csv", 6.5},
              {"USA_ME_Caribou.Muni.AP.727120_TMY3.epw", 4.2}};
  for (size_t i = 0; i < 2; i++) {
    size_t length = 0;
    char *bytes = read_whole("weather", rows[i].name, &length);
    steading_weather *weather = NULL;
    if (bytes == NULL) continue;
    ck_assert_int_eq(read_any(bytes, length, &weather), STEADING_OK);
    ck_assert_double_eq_tol(year_of(weather, 0, false) / 365, rows[i].kwh_per_m2_day,
                            0.1 * rows[i].kwh_per_m2_day);
    steading_weather_release(weather);
    free(bytes);
  }
}
END_TEST

/* Common practice, no source: heat and reflection leave 0.85 to 1 of the plane's irradiation, and a
 * plane at latitude tilt gets 1 to 1.25 of the horizontal's. */
START_TEST(every_real_file_yields_within_the_band_of_the_manual) {
  const char *data = getenv("DATA");
  char pattern[1024];
  glob_t paths;
  if (data == NULL) {
    printf("SKIPPED resource/tables, yields: DATA is not set\n");
    return;
  }
  snprintf(pattern, sizeof pattern, "%s/weather/*", data);
  if (glob(pattern, 0, NULL, &paths) != 0) return;
  for (size_t k = 0; k < paths.gl_pathc; k++) {
    const char *name = strrchr(paths.gl_pathv[k], '/') + 1;
    size_t length = 0;
    char *bytes = read_whole("weather", name, &length);
    steading_weather *weather = NULL;
    double plane = 0, level = 0, months[12];
    ck_assert_msg(bytes != NULL && read_any(bytes, length, &weather) == STEADING_OK, "%s", name);
    month_sums(weather, months);
    for (int m = 0; m < 12; m++) level += months[m];
    plane = year_of(weather, 0, false);
    ck_assert_msg(plane >= level && plane <= 1.25 * level, "%s: %g of %g", name, plane, level);
    ck_assert_double_ge(year_of(weather, -0.0038, true), 0.85 * plane);
    ck_assert_double_le(year_of(weather, -0.0038, true), plane);
    steading_weather_release(weather);
    free(bytes);
  }
  globfree(&paths);
}
END_TEST

Suite *tables_suite(void) {
  Suite *suite = suite_create("resource/tables");
  TCase *stamps = tcase_create("stamps"), *tables = tcase_create("tables");
  TCase *real = tcase_create("real files");
  tcase_add_test(stamps, stamps_are_read_by_their_format);
  tcase_add_test(stamps, what_is_no_stamp_is_refused);
  tcase_add_checked_fixture(tables, NULL, clear_written);
  tcase_set_timeout(tables, 60);
  tcase_add_loop_test(tables, a_plain_table_is_read_in_every_step, 0, 6);
  tcase_add_test(tables, what_a_stamp_marks_is_what_is_said);
  tcase_add_test(tables, stamps_in_another_zone_are_moved);
  tcase_add_test(tables, means_that_begin_late_are_cut);
  tcase_add_test(tables, instants_are_joined_by_straight_lines);
  tcase_add_test(tables, rows_stand_by_their_dates);
  tcase_add_test(tables, a_leap_day_is_dropped_or_noted_as_absent);
  tcase_add_test(tables, units_are_those_of_the_column);
  tcase_add_test(tables, preambles_units_and_missing_words_are_understood);
  tcase_add_test(tables, a_table_without_some_light_is_completed);
  tcase_add_test(tables, what_cannot_be_a_weather_is_refused_with_its_reason);
  tcase_add_test(tables, a_tmy3_file_is_the_same_year);
  tcase_add_test(tables, a_keyed_file_keeps_its_light);
  tcase_set_timeout(real, 60);
  tcase_add_test(real, a_real_tmy3_file_keeps_its_months);
  tcase_add_test(real, a_real_file_with_the_zone_of_the_other_side_is_refused);
  tcase_add_test(real, a_real_keyed_file_keeps_its_months);
  tcase_add_test(real, a_real_table_of_fifteen_days_is_no_weather);
  tcase_add_test(real, a_tilted_plane_gets_what_the_handbook_says);
  tcase_add_test(real, every_real_file_yields_within_the_band_of_the_manual);
  suite_add_tcase(suite, stamps);
  suite_add_tcase(suite, tables);
  suite_add_tcase(suite, real);
  return suite;
}
