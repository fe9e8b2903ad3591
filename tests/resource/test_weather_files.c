/* One invented year, known in every minute, in every form in which weather files come: what is read
 * is the mean of the minutes, and an array yields the same. Then files with the faults that are
 * met, and real files of $DATA. */
#include <check.h>
#include <glob.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "plant/array.h"
#include "readback.h"
#include "resource/table_weather.h"
#include "resource/written.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR, MINUTES = 60 * HOURS };

static const steading_place ranch = {
    .latitude_deg = 35.1, .longitude_deg = -106.6, .elevation_m = 1620, .utc_offset_h = -7};

/* ---- the year ---- */

/* Global, direct, diffuse and air at an instant; the wind of a minute. */
typedef struct moment {
  double temp, ghi, dni, dhi, wind;
} moment;

static moment *minutes; /* in the middle of each, made once before the tests fork */
static steading_place minutes_at;

/* Clearness changes from day to day and within the day; the sun is that of 2030. `minute` counts
 * from the year's beginning and may lie between two. */
static moment at_minute(const steading_place *place, double minute) {
  static const double turn = 6.283185307179586;
  int day = (int)(minute / 1440);
  double hour = minute / 60 - 24.0 * day;
  double kt = 0.45 + 0.03 * (day % 9) + 0.05 * sin(turn * hour / 7);
  moment m;
  steading_sun_step sun;
  steading_sun_instant(place->latitude_deg, place->longitude_deg,
                       (double)(steading_day_number(2030, 1, 1) - steading_day_number(2000, 1, 1)) -
                           0.5 + minute / 1440 - place->utc_offset_h / 24,
                       day % 365, &sun);
  m.ghi = kt * sun.extraterrestrial_w_per_m2 * sun.up;
  m.dhi = (0.5 - 0.02 * (day % 9)) * m.ghi;
  m.dni = sun.up > 0 ? (m.ghi - m.dhi) / sun.up : 0;
  m.temp = 12 - 10 * cos(turn * minute / MINUTES) - 4 * cos(turn * hour / 24);
  m.wind = 3 + 2 * sin(turn * minute / 4000);
  return m;
}

static void make_minutes(const steading_place *place) {
  if (minutes == NULL) minutes = malloc(MINUTES * sizeof *minutes);
  ck_assert_ptr_nonnull(minutes);
  minutes_at = *place;
  for (int i = 0; i < MINUTES; i++) minutes[i] = at_minute(place, i + 0.5);
}

static void make_ranch(void) { make_minutes(&ranch); }

static void forget(void) {
  free(minutes);
  minutes = NULL;
}

static moment mean_of(int first, int count) {
  moment sum = {0};
  for (int i = first; i < first + count; i++) {
    sum.temp += minutes[i].temp / count;
    sum.ghi += minutes[i].ghi / count;
    sum.dni += minutes[i].dni / count;
    sum.dhi += minutes[i].dhi / count;
    sum.wind += minutes[i].wind / count;
  }
  return sum;
}

/* ---- files ---- */

/* How an EPW file is written; all zero is hourly, ends of hours at minute 0. */
typedef struct epw_style {
  int an_hour;        /* 0: 1 */
  bool begins, sixty; /* minutes of records */
  bool energy;        /* Wh/m2 of the record */
  bool leap_day;      /* with 29 February */
  int late;           /* records by which the light comes late */
  double zone_h;      /* added to that of the header */
} epw_style;

static void epw_row(const epw_style *style, int month, int day, int record, const moment *m) {
  int an_hour = style->an_hour, step = 60 / an_hour, in_hour = record % an_hour;
  int minute = style->begins ? in_hour * step : (in_hour + 1) * step;
  double factor = style->energy ? 1.0 / an_hour : 1;
  if (minute == 60 && !style->sixty) minute = 0;
  put("%d,%d,%d,%d,%d,?9,%.6f,0,50,84000,0,0,0,%.7f,%.7f,%.7f,0,0,0,0,180,%.6f,5,5\n",
      1990 + month % 5, month, day, record / an_hour + 1, minute, m->temp, m->ghi * factor,
      m->dni * factor, m->dhi * factor, m->wind);
}

static void put_epw(epw_style style) {
  int a_day = 0, step = 0;
  if (style.an_hour == 0) style.an_hour = 1;
  a_day = 24 * style.an_hour;
  step = 60 / style.an_hour;
  put("LOCATION,\"Ranch, invented\",NM,USA,x,999999,%.4f,%.4f,%.2f,%.1f,,,\n"
      "COMMENTS 1,\"with, commas, Universit\xE4t\"\nDATA PERIODS,1,%d,Data,Sunday, 1/ 1,12/31\n",
      minutes_at.latitude_deg, minutes_at.longitude_deg, minutes_at.utc_offset_h + style.zone_h,
      minutes_at.elevation_m, style.an_hour);
  for (int day = 0; day < 365; day++) {
    int month = 0, day_of_month = 0;
    steading_month_of_day(day, &month, &day_of_month);
    for (int i = 0; i < a_day; i++) {
      int at = (day * a_day + i - style.late + 365 * a_day) % (365 * a_day);
      moment m = mean_of(at * step, step);
      epw_row(&style, month, day_of_month, i, &m);
    }
    if (!style.leap_day || day != 58) continue;
    for (int i = 0; i < a_day; i++) {
      moment odd = {.temp = 50, .ghi = 3, .dni = 3, .dhi = 3, .wind = 70};
      epw_row(&style, 2, 29, i, &odd);
    }
  }
}

static void put_tmy3(void) {
  put("999999,\"RANCH, INVENTED\",NM,%.1f,%.3f,%.3f,%.0f\nDate (MM/DD/YYYY),Time (HH:MM),GHI "
      "(W/m^2),GHI source,DNI (W/m^2),DHI (W/m^2),Dry-bulb (C),Wspd (m/s),Wspd source\n",
      minutes_at.utc_offset_h, minutes_at.latitude_deg, minutes_at.longitude_deg,
      minutes_at.elevation_m);
  for (int i = 0; i < HOURS; i++) {
    moment m = mean_of(i * 60, 60);
    int month = 0, day = 0;
    steading_month_of_day(i / 24, &month, &day);
    put("%02d/%02d/%d,%02d:00,%.6f,1,%.6f,%.6f,%.6f,%.6f,A\n", month, day, 2010 - month % 5,
        i % 24 + 1, m.ghi, m.dni, m.dhi, m.temp, m.wind);
  }
}

/* Instants at the beginnings of steps. */
static void put_keyed(int step, const char *wind_unit) {
  put("Source,Latitude,Longitude,Time Zone,Elevation,GHI Units,Wind Speed\nx,%.2f,%.2f,%.0f,%.0f,"
      "w/m2,%s\nYear,Month,Day,Hour,Minute,GHI,DNI,DHI,Temperature,Wind Speed\n",
      minutes_at.latitude_deg, minutes_at.longitude_deg, minutes_at.utc_offset_h,
      minutes_at.elevation_m, wind_unit);
  for (int i = 0; i < MINUTES / step; i++) {
    moment m = at_minute(&minutes_at, i * step);
    int month = 0, day = 0;
    steading_month_of_day(i * step / 1440, &month, &day);
    put("2030,%d,%d,%d,%d,%.6f,%.6f,%.6f,%.6f,%.6f\n", month, day, i * step / 60 % 24,
        i * step % 60, m.ghi, m.dni, m.dhi, m.temp, m.wind);
  }
}

/* Date and clock in two columns, decimal commas, notes in front, wind as `format` of m/s times
 * `per_m_per_s`. */
static void put_table(const char *format, double per_m_per_s) {
  put("station;12\n\nday;clock;global;direct;diffuse;air;breeze\n;UTC-7;[W/m2];[W/m2];[W/"
      "m2];[C];\n");
  for (int i = 0; i < HOURS; i++) {
    moment m = mean_of(i * 60, 60);
    char row[200], wind[40];
    int month = 0, day = 0;
    steading_month_of_day(i / 24, &month, &day);
    snprintf(wind, sizeof wind, format, m.wind * per_m_per_s);
    snprintf(row, sizeof row, "%.6f;%.6f;%.6f;%.6f;%s", m.ghi, m.dni, m.dhi, m.temp, wind);
    for (char *p = row; *p != '\0'; p++)
      if (*p == '.') *p = ',';
    put("%02d.%02d.2031;%02d00 UTC;%s;;\r\n", day, month, i % 24, row);
  }
}

static steading_table_layout table_layout(void) {
  return (steading_table_layout){.source = "table",
                                 .time = {"day", "clock"},
                                 .time_count = 2,
                                 .time_format = "%d.%m.%Y %H%M UTC",
                                 .columns = {"air", "global", "direct", "diffuse", "breeze"},
                                 .place = ranch,
                                 .has_stamp_offset = true,
                                 .stamp_offset_h = -7};
}

/* Put `cell` in place of field `field` (from 1) of the rows of `count` lines from line `first`. */
static void set_cells(size_t first, size_t count, int field, const char *cell) {
  written_text old = written;
  const char *p = old.bytes, *end = old.bytes + old.length;
  written = (written_text){NULL, 0, 0};
  for (size_t line = 1; p < end; line++) {
    const char *next = memchr(p, '\n', (size_t)(end - p)), *from = p, *to = NULL;
    next = next == NULL ? end : next + 1;
    if (line < first || line >= first + count) {
      put("%.*s", (int)(next - p), p);
      p = next;
      continue;
    }
    for (int i = 1; i < field; i++) from = strchr(from, ',') + 1;
    to = from + strcspn(from, ",\n");
    put("%.*s%s%.*s", (int)(from - p), p, cell, (int)(next - to), to);
    p = next;
  }
  free(old.bytes);
}

/* ---- what is read ---- */

typedef steading_status (*reader)(const char *bytes, size_t length, const char *name,
                                  const steading_read_options *options, steading_weather **weather,
                                  steading_error *error);

static steading_weather *accepted(reader read) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  ck_assert_msg(read(written.bytes, written.length, "x", NULL, &weather, &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  return weather;
}

static void refused(reader read, const char *path, const char *said) {
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  ck_assert_int_eq(read(written.bytes, written.length, "x", NULL, &weather, &error),
                   STEADING_BAD_INPUT);
  ck_assert_ptr_null(weather);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, said) != NULL, "\"%s\" is not in \"%s\"", said, error.text);
}

static steading_weather *table_with(const steading_table_layout *layout) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  ck_assert_msg(steading_table_weather(written.bytes, written.length, "x", layout, &weather,
                                       &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  return weather;
}

static bool has_note(const steading_weather *weather, const char *said) {
  for (size_t i = 0; i < weather->note_count; i++)
    if (strstr(weather->notes[i], said) != NULL) return true;
  return false;
}

static void check_note(const steading_weather *weather, const char *said) {
  ck_assert_msg(has_note(weather, said), "no note \"%s\"", said);
}

/* Global, air and wind are the means of the minutes; so is diffuse, but where the sun is low. */
static void check_year(const steading_weather *weather, double tolerance) {
  int step = weather->step_minutes;
  ck_assert_ptr_nonnull(weather->wind_m_per_s);
  for (size_t i = 0; i < weather->steps; i++) {
    moment m = mean_of((int)i * step, step);
    ck_assert_double_eq_tol(weather->ghi_w_per_m2[i], m.ghi, tolerance);
    ck_assert_double_eq_tol(weather->temp_c[i], m.temp, tolerance);
    ck_assert_double_eq_tol(weather->wind_m_per_s[i], m.wind, tolerance);
    if (weather->sun[i % weather->steps_per_year].up > 0.1)
      ck_assert_double_eq_tol(weather->dhi_w_per_m2[i], m.dhi, tolerance);
  }
}

/* ---- EPW of several records an hour ---- */

START_TEST(records_below_an_hour_are_read_in_every_style) {
  static const int known[] = {1, 2, 4, 6, 12, 60};
  int an_hour = known[_i];
  for (int style = 0; style < 4; style++) {
    epw_style s = {.an_hour = an_hour,
                   .begins = an_hour > 1 && style == 1,
                   .sixty = style == 2,
                   .energy = an_hour > 1 && style >= 2};
    steading_weather *weather = NULL;
    if (an_hour == 60 && style != 2) continue; /* 40 MB */
    put_epw(s);
    weather = accepted(steading_weather_read_epw);
    ck_assert_int_eq(weather->step_minutes, 60 / an_hour);
    check_year(weather, 1e-4);
    if (an_hour > 1) {
      check_note(weather, s.begins ? "which begin at their minute" : "which end at their minute");
      check_note(weather, s.energy ? "irradiance is the energy of a record"
                                   : "irradiance is a mean in W/m2");
    }
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

/* Seven hours late on a clock that is said to be: the energy of a record is told all the same. */
START_TEST(energies_of_a_shifted_clock_are_energies) {
  static const int known[] = {2, 4};
  for (int k = 0; k < 2; k++) {
    const steading_read_options options = {.shift_minutes = -420};
    steading_weather *weather = NULL;
    steading_error error = {0};
    put_epw((epw_style){.an_hour = known[k], .energy = true, .late = 7 * known[k]});
    ck_assert_msg(steading_weather_read_epw(written.bytes, written.length, "x", &options, &weather,
                                            &error) == STEADING_OK,
                  "%s: %s", error.path, error.text);
    check_note(weather, "irradiance is the energy of a record");
    check_year(weather, 1e-4);
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

START_TEST(a_leap_day_of_half_hours_is_dropped) {
  steading_weather *weather = NULL;
  put_epw((epw_style){.an_hour = 2, .leap_day = true});
  weather = accepted(steading_weather_read_epw);
  check_year(weather, 1e-4);
  check_note(weather, "17568 rows read, 17520 used");
  check_note(weather, "48 steps of 30 min of 29 February dropped");
  steading_weather_release(weather);
}
END_TEST

START_TEST(records_out_of_place_are_refused) {
  put_epw((epw_style){.an_hour = 4});
  set_cells(4 + 4 * 24 * 31 + 2, 1, 5, "30"); /* 1 February, 0:45 */
  refused(steading_weather_read_epw, "x: line 2982",
          "found 2/1 hour 1 minute 30, expected 2/1 hour 1 minute 45");
  clear_written();
  put_epw((epw_style){.an_hour = 2, .energy = true});
  set_cells(4 + 24, 1, 14, "1100"); /* Wh/m2 in half an hour */
  refused(steading_weather_read_epw, "x: line 28",
          "field 14 (global horizontal): found 1100 Wh/m2 of a record, which is 2200 W/m2");
}
END_TEST

/* ---- the same energy from every form ---- */

static double year_of(steading_weather *weather) {
  steading_array *array = build(&steading_array_spec, NULL,
                                "{ tilt_deg = 35, azimuth_deg = 180, module = { watts = 400, "
                                "temp_coefficient_per_c = -0.0038, noct_c = 45 } }");
  steading_yield_key key = steading_yield_key_of(array);
  const double *yield = steading_yield_of(weather, &key);
  double sum = 0;
  ck_assert_ptr_nonnull(yield);
  for (size_t i = 0; i < weather->steps; i++) sum += yield[i] * weather->step_minutes / 60;
  steading_record_release(array);
  steading_weather_release(weather);
  return sum;
}

/* 0.5 %: what an hour's mean loses against its course, by the sizes of the manual (the middle of an
 * hour overstates the mean of the cosine by up to 0.29 %) and as much for the corners of dawn. */
START_TEST(an_array_yields_the_same_from_every_form) {
  steading_table_layout layout = table_layout();
  double fine = 0, kwh[7];
  put_epw((epw_style){.an_hour = 12});
  fine = year_of(accepted(steading_weather_read_epw));
  clear_written();
  put_epw((epw_style){.sixty = true});
  kwh[0] = year_of(accepted(steading_weather_read_epw));
  clear_written();
  put_epw((epw_style){.an_hour = 2, .energy = true});
  kwh[1] = year_of(accepted(steading_weather_read_epw));
  clear_written();
  put_tmy3();
  kwh[2] = year_of(accepted(steading_weather_read_tmy3));
  clear_written();
  put_keyed(30, "m/s");
  kwh[3] = year_of(accepted(steading_weather_read_keyed));
  clear_written();
  put_keyed(60, "m/s");
  kwh[4] = year_of(accepted(steading_weather_read_keyed));
  clear_written();
  put_keyed(10, "m/s");
  kwh[5] = year_of(accepted(steading_weather_read_keyed));
  clear_written();
  put_table("%.6f", 1);
  kwh[6] = year_of(table_with(&layout));
  for (int i = 0; i < 7; i++)
    ck_assert_msg(fabs(kwh[i] - fine) <= 0.005 * fine, "form %d: %.1f kWh, in steps of 5 min %.1f",
                  i, kwh[i], fine);
}
END_TEST

/* ---- wind ---- */

START_TEST(wind_is_read_from_every_form) {
  steading_weather *weather = NULL;
  put_tmy3();
  weather = accepted(steading_weather_read_tmy3);
  check_year(weather, 1e-5);
  check_note(weather, "wind: 3.0");
  steading_weather_release(weather);
  clear_written();
  put_keyed(30, "m/s");
  weather = accepted(steading_weather_read_keyed);
  /* slow against the step: its middle; behind the last instant comes the first */
  for (size_t i = 0; i + 1 < weather->steps; i++)
    ck_assert_double_eq_tol(weather->wind_m_per_s[i], at_minute(&ranch, 30.0 * (double)i + 15).wind,
                            2e-3);
  steading_weather_release(weather);
  clear_written();
  put_keyed(30, "knots");
  refused(steading_weather_read_keyed, "x",
          "line 2, cell 7 (Wind Speed): found \"knots\", expected \"m/s\"");
}
END_TEST

/* 1 m/s is 3.6 km/h, 3600/1852 knots, 3600/1609.344 miles an hour (definitions). */
START_TEST(wind_has_the_unit_of_its_column) {
  static const double per_m_per_s[] = {1, 3.6, 3600 / 1852.0, 3600 / 1609.344, 10};
  for (int unit = 0; unit < 5; unit++) {
    steading_table_layout layout = table_layout();
    steading_weather *weather = NULL;
    layout.units[STEADING_WIND] = unit;
    put_table("%.8f", per_m_per_s[unit]);
    weather = table_with(&layout);
    check_year(weather, 1e-5);
    check_note(weather,
               "header in line 3, cells divided by semicolons; rows of 2031-01-01 to "
               "2031-12-31");
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

/* Rows of the file stand behind three header lines. */
START_TEST(a_short_gap_of_the_wind_is_filled_and_a_long_one_leaves_none) {
  steading_weather *weather = NULL;
  put_epw((epw_style){0});
  set_cells(4 + 999, 1, 22, "10");
  set_cells(4 + 1000, 5, 22, "999");
  set_cells(4 + 1005, 1, 22, "");
  set_cells(4 + 1006, 1, 22, "17");
  weather = accepted(steading_weather_read_epw);
  for (size_t k = 0; k < 6; k++) /* a straight line by hand */
    ck_assert_double_eq_tol(weather->wind_m_per_s[1000 + k], 11.0 + (double)k, 1e-12);
  check_note(weather, "6 hours without wind filled by straight lines");
  check_note(weather, "wind 6");
  steading_weather_release(weather);
  set_cells(4 + 1006, 1, 22, "-9900");
  weather = accepted(steading_weather_read_epw);
  ck_assert_ptr_null(weather->wind_m_per_s);
  check_note(weather, "no wind: it is missing for 7 hours from line 1004");
  steading_weather_release(weather);
  set_cells(4, HOURS, 22, "0");
  weather = accepted(steading_weather_read_epw);
  ck_assert_ptr_null(weather->wind_m_per_s);
  check_note(weather, "wind is 0 in every row: taken as missing");
  steading_weather_release(weather);
  set_cells(4 + 7, 1, 22, "76");
  refused(steading_weather_read_epw, "x: line 11", "field 22 (wind speed): found \"76\"");
  set_cells(4 + 7, 1, 22, "-0.5");
  refused(steading_weather_read_epw, "x: line 11", "field 22 (wind speed): found \"-0.5\"");
}
END_TEST

START_TEST(numbers_are_no_codes_where_the_unit_has_them) {
  steading_table_layout layout = table_layout();
  steading_weather *weather = NULL;
  put_table("%.6f", 0); /* the wind is set below */
  clear_written();
  put("day,clock,global,direct,diffuse,air,breeze\n");
  for (int i = 0; i < HOURS; i++) {
    moment m = mean_of(i * 60, 60);
    int month = 0, day = 0;
    steading_month_of_day(i / 24, &month, &day);
    put("%02d.%02d.2031,%02d00 UTC,%.6f,%.6f,%.6f,%s,%s\n", day, month, i % 24, m.ghi, m.dni, m.dhi,
        i == 500 ? "99.9" : "70",
        i == 500   ? "99.9"
        : i == 501 ? "999.9"
                   : "18");
  }
  layout.units[STEADING_TEMP] = STEADING_FAHRENHEIT;
  layout.units[STEADING_WIND] = STEADING_KM_PER_H;
  weather = table_with(&layout);
  /* 99.9 F are 67.9 / 1.8 C, 99.9 km/h are 27.75 m/s; behind it a gap between 27.75 and 5 */
  ck_assert_double_eq_tol(weather->temp_c[500], 67.9 / 1.8, 1e-9);
  ck_assert_double_eq_tol(weather->wind_m_per_s[500], 27.75, 1e-9);
  ck_assert_double_eq_tol(weather->wind_m_per_s[501], (27.75 + 5) / 2, 1e-9);
  steading_weather_release(weather);
  layout.units[STEADING_WIND] = STEADING_M_PER_S;
  weather = table_with(&layout);
  ck_assert_double_eq_tol(weather->wind_m_per_s[500], 18, 1e-9);
  steading_weather_release(weather);
}
END_TEST

/* ---- files with faults ---- */

/* Erbs 1982 by hand for clearness above 0.22 and at most 0.8. */
static double erbs(double kt) {
  return 0.9511 - 0.1604 * kt + 4.388 * kt * kt - 16.638 * kt * kt * kt +
         12.336 * kt * kt * kt * kt;
}

START_TEST(global_alone_is_split_by_its_clearness) {
  static const char *const ways[] = {"9999", "0", ""};
  for (int way = 0; way < 3; way++) {
    steading_weather *weather = NULL;
    put_epw((epw_style){0});
    set_cells(4, HOURS, 15, ways[way]);
    set_cells(4, HOURS, 16, ways[way]);
    weather = accepted(steading_weather_read_epw);
    check_note(weather, "without direct and diffuse: diffuse from global (Erbs 1982)");
    ck_assert_int_eq(has_note(weather, "diffuse irradiance is 0 in every row: taken as missing"),
                     way == 1);
    for (size_t i = 0; i < HOURS; i++) {
      const steading_sun_step *sun = &weather->sun[i];
      double ghi = mean_of((int)i * 60, 60).ghi;
      ck_assert_double_eq_tol(weather->ghi_w_per_m2[i], ghi, 1e-6);
      if (sun->up > 0.2)
        ck_assert_double_eq_tol(weather->dhi_w_per_m2[i],
                                ghi * erbs(ghi / (sun->extraterrestrial_w_per_m2 * sun->up)), 1e-5);
    }
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

START_TEST(a_file_without_light_is_refused) {
  put_epw((epw_style){0});
  for (int field = 14; field <= 16; field++) set_cells(4, HOURS, field, "0");
  refused(steading_weather_read_epw, "x", "there is no light");
  clear_written();
  put_epw((epw_style){0});
  set_cells(4, HOURS, 14, "9999");
  set_cells(4, HOURS, 16, "9999");
  refused(steading_weather_read_epw, "x", "there is too little light");
}
END_TEST

START_TEST(a_column_blank_from_some_row_on) {
  steading_weather *weather = NULL;
  put_epw((epw_style){0});
  set_cells(5000, 4000, 10, ""); /* pressure: not used */
  weather = accepted(steading_weather_read_epw);
  check_year(weather, 1e-5);
  steading_weather_release(weather);
  set_cells(5000, 4000, 22, "");
  weather = accepted(steading_weather_read_epw);
  ck_assert_ptr_null(weather->wind_m_per_s);
  steading_weather_release(weather);
  set_cells(5000, 4000, 7, "");
  refused(steading_weather_read_epw, "x: line 5000",
          "field 7 (dry-bulb temperature) is missing for");
}
END_TEST

START_TEST(a_zone_of_the_other_sign_is_refused) {
  put_epw((epw_style){.zone_h = 14});
  refused(steading_weather_read_epw, "x: line 1", "the time zone +7 h does not belong");
}
END_TEST

/* An hour late, and half an hour; on time, the light of this year is within 0.1 h of noon. */
START_TEST(light_that_comes_late_is_told) {
  for (int late = 0; late < 3; late++) {
    steading_weather *weather = NULL;
    double hours = 0;
    const char *note = NULL;
    put_epw((epw_style){.an_hour = 2, .late = late});
    weather = accepted(steading_weather_read_epw);
    for (size_t i = 0; i < weather->note_count; i++)
      if (sscanf(weather->notes[i], "the light is centred %lf h after solar noon", &hours) == 1 ||
          sscanf(weather->notes[i], "centre of the light: %lf", &hours) == 1)
        note = weather->notes[i];
    ck_assert_ptr_nonnull(note);
    ck_assert_int_eq(strstr(note, "nothing was corrected") != NULL, late > 0);
    ck_assert_double_eq_tol(hours, late / 2.0, 0.1);
    steading_weather_release(weather);
    clear_written();
  }
}
END_TEST

/* Zones of half an hour: Darwin, 9.5 h at 130.8 east. A zone taken as 9 or 10 would put the light
 * half an hour off noon. */
static void make_darwin(void) {
  make_minutes(&(steading_place){
      .latitude_deg = -12.4, .longitude_deg = 130.8, .elevation_m = 30, .utc_offset_h = 9.5});
}

START_TEST(a_zone_of_half_an_hour_is_kept) {
  steading_weather *weather = NULL;
  put_epw((epw_style){0});
  weather = accepted(steading_weather_read_epw);
  ck_assert_double_eq(weather->place.utc_offset_h, 9.5);
  check_year(weather, 1e-5);
  check_note(weather, "centre of the light: 0.0");
  check_note(weather, "time zone +9.5 h; the sun of longitude 130.8 runs at +8.7 h");
  steading_weather_release(weather);
}
END_TEST

/* Half of the beam: the miss is 0.5 (1 - diffuse share), with the shares 0.5 to 0.34 of the days
 * 0.25 to 0.33, all beyond 5 %. */
START_TEST(columns_that_do_not_belong_together_are_told) {
  steading_weather *weather = NULL;
  put_epw((epw_style){0});
  weather = accepted(steading_weather_read_epw);
  ck_assert(!has_note(weather, "closure is poor"));
  steading_weather_release(weather);
  clear_written();
  for (int i = 0; i < MINUTES; i++) minutes[i].dni /= 2;
  put_epw((epw_style){0});
  weather = accepted(steading_weather_read_epw);
  check_note(weather, "by more than 5 % in 100.0 % of them");
  check_note(weather, "closure is poor");
  steading_weather_release(weather);
}
END_TEST

/* ---- real files, outside the project: $DATA/weather and $DATA/measure-only ---- */

/* Mean of a numbered field of rows behind `head` lines, with the C library's own splitting; NaN
 * when a row lacks it. */
static double mean_by_hand(const char *bytes, int head, int field) {
  char *copy = strdup(bytes), *rest = copy, *line = NULL;
  double sum = 0;
  size_t count = 0;
  ck_assert_ptr_nonnull(copy);
  for (int number = 1; (line = strsep(&rest, "\n")) != NULL; number++) {
    char *cell = NULL;
    if (number <= head || strlen(line) < 10) continue;
    for (int i = 1; i <= field; i++) cell = strsep(&line, ",");
    ck_assert_ptr_nonnull(cell);
    sum += cell[0] == '\0' || atof(cell) < -900 || atof(cell) >= 99 ? (double)NAN : atof(cell);
    count++;
  }
  free(copy);
  return sum / (double)count;
}

static int field_named(const char *bytes, int line, const char *name) {
  char *copy = NULL, *rest = NULL, *cell = NULL;
  for (; line > 1; line--) bytes = strchr(bytes, '\n') + 1;
  rest = copy = strndup(bytes, strcspn(bytes, "\r\n"));
  ck_assert_ptr_nonnull(copy);
  for (int i = 1; (cell = strsep(&rest, ",")) != NULL; i++)
    if (strcmp(cell, name) == 0) {
      free(copy);
      return i;
    }
  ck_abort_msg("no field %s", name);
}

static void check_real(const char *path) {
  const char *name = strrchr(path, '/') + 1;
  size_t length = 0;
  char *bytes = read_bytes(path, &length);
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_status status = STEADING_BAD_INPUT;
  double mean = (double)NAN, found = 0;
  ck_assert_ptr_nonnull(bytes);
  if (steading_weather_is_epw(bytes, length)) {
    status = steading_weather_read_epw(bytes, length, name, NULL, &weather, &error);
    mean = mean_by_hand(bytes, 8, 22);
  } else if (steading_weather_is_tmy3(bytes, length)) {
    steading_read_options zone = {.has_utc_offset = true, .utc_offset_h = 4};
    status = steading_weather_read_tmy3(bytes, length, name, NULL, &weather, &error);
    if (status != STEADING_OK) { /* one file has its zone with the wrong sign */
      ck_assert_ptr_nonnull(strstr(error.text, "does not belong to longitude"));
      status = steading_weather_read_tmy3(bytes, length, name, &zone, &weather, &error);
    }
    mean = mean_by_hand(bytes, 2, field_named(bytes, 2, "Wspd (m/s)"));
  } else {
    ck_assert_msg(steading_weather_is_keyed(bytes, length), "%s", name);
    status = steading_weather_read_keyed(bytes, length, name, NULL, &weather, &error);
    mean = mean_by_hand(bytes, 3, field_named(bytes, 3, "Wind Speed"));
  }
  ck_assert_msg(status == STEADING_OK, "%s: %s", error.path, error.text);
  ck_assert_msg(!isnan(mean) && weather->wind_m_per_s != NULL, "%s: the wind", name);
  for (size_t i = 0; i < weather->steps; i++) found += weather->wind_m_per_s[i];
  ck_assert_double_eq_tol(found / (double)weather->steps, mean, 1e-4 * mean);
  /* measured or modelled, the three columns of published files belong together: common practice,
   * no source */
  ck_assert_msg(!has_note(weather, "closure is poor"), "%s: closure", name);
  steading_weather_release(weather);
  free(bytes);
}

START_TEST(every_real_file_keeps_its_wind_and_closes) {
  static const char *const patterns[] = {"weather/*", "measure-only/*.epw",
                                         "measure-only/*tmy3.csv"};
  const char *data = getenv("DATA");
  size_t found = 0;
  for (size_t i = 0; data != NULL && i < sizeof patterns / sizeof patterns[0]; i++) {
    char pattern[1024];
    glob_t paths;
    snprintf(pattern, sizeof pattern, "%s/%s", data, patterns[i]);
    if (glob(pattern, 0, NULL, &paths) != 0) continue;
    for (size_t k = 0; k < paths.gl_pathc; k++) check_real(paths.gl_pathv[k]);
    found += paths.gl_pathc;
    globfree(&paths);
  }
  if (found == 0) printf("SKIPPED resource/weather_files, real files: none under DATA\n");
}
END_TEST

Suite *weather_files_suite(void) {
  Suite *suite = suite_create("resource/weather_files");
  TCase *forms = tcase_create("forms"), *faults = tcase_create("faults");
  TCase *darwin = tcase_create("half-hour zone"), *real = tcase_create("real files");
  tcase_add_unchecked_fixture(forms, make_ranch, forget);
  tcase_add_unchecked_fixture(faults, make_ranch, forget);
  tcase_add_unchecked_fixture(darwin, make_darwin, forget);
  tcase_add_checked_fixture(forms, NULL, clear_written);
  tcase_add_checked_fixture(faults, NULL, clear_written);
  tcase_add_checked_fixture(darwin, NULL, clear_written);
  tcase_set_timeout(forms, 120);
  tcase_set_timeout(faults, 60);
  tcase_set_timeout(real, 60);
  tcase_add_loop_test(forms, records_below_an_hour_are_read_in_every_style, 0, 6);
  tcase_add_test(forms, energies_of_a_shifted_clock_are_energies);
  tcase_add_test(forms, a_leap_day_of_half_hours_is_dropped);
  tcase_add_test(forms, an_array_yields_the_same_from_every_form);
  tcase_add_test(forms, wind_is_read_from_every_form);
  tcase_add_test(forms, wind_has_the_unit_of_its_column);
  tcase_add_test(faults, records_out_of_place_are_refused);
  tcase_add_test(faults, a_short_gap_of_the_wind_is_filled_and_a_long_one_leaves_none);
  tcase_add_test(faults, numbers_are_no_codes_where_the_unit_has_them);
  tcase_add_test(faults, global_alone_is_split_by_its_clearness);
  tcase_add_test(faults, a_file_without_light_is_refused);
  tcase_add_test(faults, a_column_blank_from_some_row_on);
  tcase_add_test(faults, a_zone_of_the_other_sign_is_refused);
  tcase_add_test(faults, light_that_comes_late_is_told);
  tcase_add_test(faults, columns_that_do_not_belong_together_are_told);
  tcase_add_test(darwin, a_zone_of_half_an_hour_is_kept);
  tcase_add_test(real, every_real_file_keeps_its_wind_and_closes);
  suite_add_tcase(suite, forms);
  suite_add_tcase(suite, faults);
  suite_add_tcase(suite, darwin);
  suite_add_tcase(suite, real);
  return suite;
}
