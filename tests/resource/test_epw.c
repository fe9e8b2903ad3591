#include <check.h>
#include <glob.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "readback.h"
#include "resource/weather.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR, HEADER = 8, MOST_ROWS = 2 * HOURS + 48 };

/* ---- a made file: invented numbers, well formed unless a test asks for something else ---- */

static const char *const plain_location =
    "LOCATION,Sample Ranch,NM,USA,invented,999999,35.10,-106.60,-7.0,1620.0";

typedef struct made_row {
  int month, day, hour, minute;
  double temp, ghi, dni, dhi;
  char text[4][24]; /* temp, ghi, dni, dhi as written; set by make_rows, changed by tests */
} made_row;

typedef struct made_file {
  const char *location, *holidays, *periods, *line_end;
  bool bom, no_last_end;
  size_t rows;
  char *bytes;
  size_t length;
} made_file;

static made_row rows[MOST_ROWS];
static steading_sun_step sun[HOURS];
static const double ranch_kt = 0.6, ranch_diffuse = 0.3;

static double outside(size_t step) {
  return sun[step].extraterrestrial_w_per_m2 * sun[step].up * sun[step].lit_share;
}

static double made_ghi(size_t step) { return ranch_kt * outside(step); }

static double made_temp(size_t step) {
  return 12 - 10 * cos(2 * acos(-1) * (double)step / HOURS) + (double)(step % 24) / 4;
}

/* Rows of a whole year with a constant clearness of 0.6, 0.3 of it diffuse, nine decimals. */
static void make_rows(size_t years, double latitude, double longitude, double zone) {
  steading_sun_year(latitude, longitude, zone, 60, sun);
  for (size_t i = 0; i < years * HOURS; i++) {
    made_row *row = &rows[i];
    size_t step = i % HOURS;
    *row = (made_row){.hour = (int)(step % 24) + 1};
    steading_month_of_day((int)(step / 24), &row->month, &row->day);
    snprintf(row->text[0], sizeof row->text[0], "%.9f", made_temp(step));
    snprintf(row->text[1], sizeof row->text[1], "%.9f", made_ghi(step));
    snprintf(row->text[2], sizeof row->text[2], "%.9f",
             sun[step].up > 0 ? (1 - ranch_diffuse) * made_ghi(step) / sun[step].up : 0);
    snprintf(row->text[3], sizeof row->text[3], "%.9f", ranch_diffuse * made_ghi(step));
  }
}

static void put(made_file *file, const char *text) {
  size_t length = strlen(text);
  memcpy(file->bytes + file->length, text, length);
  file->length += length;
}

static void put_line(made_file *file, const char *text, bool last) {
  put(file, text);
  if (!last || !file->no_last_end) put(file, file->line_end);
}

static made_file ranch(void) {
  make_rows(1, 35.10, -106.60, -7);
  return (made_file){.location = plain_location,
                     .holidays = "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
                     .periods = "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
                     .line_end = "\n",
                     .rows = HOURS};
}

static void write_file(made_file *file) {
  char line[512];
  file->bytes = malloc(4000 + file->rows * 300);
  ck_assert_ptr_nonnull(file->bytes);
  file->length = 0;
  if (file->bom) put(file, "\xEF\xBB\xBF");
  put_line(file, file->location, false);
  put_line(file, "DESIGN CONDITIONS,0", false);
  put_line(file, "TYPICAL/EXTREME PERIODS,0", false);
  put_line(file, "GROUND TEMPERATURES,0", false);
  put_line(file, file->holidays, false);
  put_line(file, "COMMENTS 1,\"invented, with commas, by a test, Universit\xE4t\"", false);
  put_line(file, "COMMENTS 2,COMMENTS 2", false);
  put_line(file, file->periods, false);
  for (size_t i = 0; i < file->rows; i++) {
    const made_row *row = &rows[i];
    snprintf(line, sizeof line,
             "%d,%d,%d,%d,%d,?9?9?9?9E0?9?9?9?9?9?9?9?9?9?9?9*9?9?9?9*9*9*9*9*9,%s,-2.0,60,83700,"
             "9999,9999,280,%s,%s,%s,999900,999900,999900,9999,270,2.1,4,4,777.7,77777,9,999999999,"
             "30,0.0160,0,88,999.000,999.0,99.0",
             1987 + row->month % 3, row->month, row->day, row->hour, row->minute, row->text[0],
             row->text[1], row->text[2], row->text[3]);
    put_line(file, line, i + 1 == file->rows);
  }
}

static steading_status read_made(made_file *file, steading_weather **weather,
                                 steading_error *error) {
  steading_status status = STEADING_OK;
  write_file(file);
  status = steading_weather_read_epw(file->bytes, file->length, "ranch.epw", NULL, weather, error);
  free(file->bytes);
  file->bytes = NULL;
  return status;
}

/* What the header of weather promises of every weather. */
static void check_promises(const steading_weather *weather) {
  for (size_t i = 0; i < weather->steps; i++) {
    const steading_sun_step *s = &weather->sun[i % HOURS];
    double ghi = weather->ghi_w_per_m2[i], dhi = weather->dhi_w_per_m2[i];
    double dni = weather->dni_w_per_m2[i];
    if (!(ghi >= 0 && dhi >= 0 && dni >= 0 && dhi <= ghi) || !isfinite(weather->temp_c[i]) ||
        fabs(dhi + dni * s->up - ghi) > 1e-9 || (s->lit_share <= 0 && dhi != ghi) ||
        dni > s->extraterrestrial_w_per_m2 * s->lit_share) {
      ck_abort_msg("step %zu: ghi %g dhi %g dni %g up %g", i, ghi, dhi, dni, s->up);
    }
  }
}

static steading_weather *accepted(made_file *file) {
  steading_weather *weather = NULL;
  steading_error error = {0};
  steading_status status = read_made(file, &weather, &error);
  ck_assert_msg(status == STEADING_OK, "%s: %s", error.path, error.text);
  check_promises(weather);
  return weather;
}

static void refused(made_file *file, const char *path, const char *text) {
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  ck_assert_int_eq(read_made(file, &weather, &error), STEADING_BAD_INPUT);
  ck_assert_ptr_null(weather);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, text) != NULL, "\"%s\" is not in \"%s\"", text, error.text);
}

static void check_note(const steading_weather *weather, const char *text, bool there) {
  bool found = false;
  for (size_t i = 0; i < weather->note_count; i++) {
    if (strstr(weather->notes[i], text) != NULL) found = true;
  }
  ck_assert_msg(found == there, "a note \"%s\" is %s", text, there ? "missing" : "not due");
}

/* Path of an error in the row of a step, when no row was added before it. */
static const char *path_of_row(size_t step) {
  static char path[64];
  snprintf(path, sizeof path, "ranch.epw: line %zu", step + HEADER + 1);
  return path;
}

static void set(size_t step, int column, const char *text) {
  snprintf(rows[step].text[column], sizeof rows[step].text[column], "%s", text);
}

enum { TEMP, GHI, DNI, DHI };

static const size_t noon = 100 * 24 + 11; /* 11 April, 11 to 12 h */

/* ---- well-formed files ---- */

START_TEST(a_plain_file_is_read_as_written) {
  made_file file = ranch();
  steading_weather *weather = accepted(&file);
  ck_assert_uint_eq(weather->years, 1);
  ck_assert_uint_eq(weather->steps, HOURS);
  ck_assert_double_eq(weather->place.latitude_deg, 35.1);
  ck_assert_double_eq(weather->place.longitude_deg, -106.6);
  ck_assert_double_eq(weather->place.utc_offset_h, -7);
  ck_assert_double_eq(weather->place.elevation_m, 1620);
  ck_assert_str_eq(weather->source, "epw");
  ck_assert_str_eq(weather->time_zone, "");
  for (size_t i = 0; i < HOURS; i++) {
    /* Nine decimals were written. */
    ck_assert_double_eq_tol(weather->ghi_w_per_m2[i], made_ghi(i), 0.6e-9);
    ck_assert_double_eq_tol(weather->dhi_w_per_m2[i], ranch_diffuse * made_ghi(i), 0.6e-9);
    ck_assert_double_eq_tol(weather->temp_c[i], made_temp(i), 0.6e-9);
    ck_assert_double_eq(weather->ghi_w_per_m2[i], strtod(rows[i].text[GHI], NULL));
  }
  ck_assert_uint_eq(weather->note_count, 7);
  check_note(weather, "8760 rows read, 8760 used; steps estimated: light 0, temperature 0, wind 0",
             true);
  check_note(weather, "rows come from 3 calendar years, 1987 to 1989", true);
  check_note(weather, "by 0.0 % (median of", true);
  check_note(weather, "by more than 5 % in 0.0 % of them", true);
  check_note(weather, "centre of the light: 0.0", true);
  /* -106.6 / 15 = -7.1 by hand */
  check_note(weather, "time zone -7 h; the sun of longitude -106.6 runs at -7.1 h", true);
  check_note(weather, "wind: 2.10 m/s on average", true);
  for (size_t i = 0; i < HOURS; i++) ck_assert_double_eq(weather->wind_m_per_s[i], 2.1);
  steading_weather_release(weather);
}
END_TEST

START_TEST(marks_line_ends_and_spaces_change_nothing) {
  made_file plain = ranch(), odd = plain;
  steading_weather *first = accepted(&plain), *second = NULL;
  odd.bom = odd.no_last_end = true;
  odd.line_end = "\r\n";
  odd.location = "LOCATION,\"Sample, Ranch\",NM,USA,invented,999999, 35.10,-106.60 ,-7.0,1620.0,,,";
  for (size_t i = 0; i < HOURS; i++) {
    rows[i].minute = 60;
    snprintf(rows[i].text[TEMP], sizeof rows[i].text[TEMP], " %.9f ", made_temp(i));
  }
  second = accepted(&odd);
  ck_assert_int_eq(memcmp(first->ghi_w_per_m2, second->ghi_w_per_m2, HOURS * sizeof(double)), 0);
  ck_assert_int_eq(memcmp(first->dni_w_per_m2, second->dni_w_per_m2, HOURS * sizeof(double)), 0);
  ck_assert_int_eq(memcmp(first->temp_c, second->temp_c, HOURS * sizeof(double)), 0);
  steading_weather_release(first);
  steading_weather_release(second);
  odd.line_end = "\r\n\r\n"; /* blank lines are no rows */
  second = accepted(&odd);
  steading_weather_release(second);
}
END_TEST

START_TEST(several_years_follow_each_other) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  make_rows(2, 35.10, -106.60, -7);
  file.rows = 2 * HOURS;
  set(HOURS + noon, TEMP, "31.5");
  weather = accepted(&file);
  ck_assert_uint_eq(weather->years, 2);
  ck_assert_double_eq(weather->temp_c[HOURS + noon], 31.5);
  ck_assert_double_eq(weather->ghi_w_per_m2[HOURS + noon], weather->ghi_w_per_m2[noon]);
  steading_weather_release(weather);
}
END_TEST

/* Independent calculation: the C library's strtod, to the bit. */
START_TEST(numbers_are_read_to_the_bit) {
  static const char *const numbers[] = {
      "0.1",  "-0.3",    "21.123456789012345678",   "1.2e1",           "+5", ".5", "7.",
      "1E-3", "00012.3", "0.000000000000000000001", "-12.345678901234"};
  enum { COUNT = sizeof numbers / sizeof numbers[0] };
  made_file file = ranch();
  steading_weather *weather = NULL;
  for (size_t i = 0; i < COUNT; i++) set(i, TEMP, numbers[i]);
  weather = accepted(&file);
  for (size_t i = 0; i < COUNT; i++) {
    ck_assert_double_eq(weather->temp_c[i], strtod(numbers[i], NULL));
  }
  steading_weather_release(weather);
}
END_TEST

/* Hours end at their label: light in the row labelled 12 belongs to 11:00-12:00, step 11. A file
 * that is lit as the sun says has its centre at solar noon (no note); one whose rows come an hour
 * or more late has it there. Shifted rows have light an hour after sunset at most. */
START_TEST(a_shifted_file_is_noted_and_a_badly_shifted_one_refused) {
  made_file file = ranch();
  steading_weather *weather = accepted(&file);
  check_note(weather, "the light is centred", false);
  steading_weather_release(weather);
  for (int shift = 1; shift <= 3; shift++) {
    for (size_t i = 0; i < HOURS; i++) {
      size_t from = (i + HOURS - (size_t)shift) % HOURS;
      snprintf(rows[i].text[GHI], sizeof rows[i].text[GHI], "%.9f", made_ghi(from));
      snprintf(rows[i].text[DHI], sizeof rows[i].text[DHI], "%.9f", ranch_diffuse * made_ghi(from));
    }
    if (shift == 1) {
      weather = accepted(&file);
      check_note(weather, "the light is centred 1.0", true);
      check_note(weather, "after solar noon", true);
      steading_weather_release(weather);
    } else if (shift == 3) {
      refused(&file, "ranch.epw", "the light is centred 3.0 h after solar noon");
    }
  }
}
END_TEST

START_TEST(light_deep_in_the_night_is_counted) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  set(noon - 11, GHI, "5"); /* midnight */
  set(noon - 10, GHI, "5");
  weather = accepted(&file);
  check_note(weather, "2 hours with light while the sun is more than an hour below", true);
  ck_assert_double_eq(weather->dhi_w_per_m2[noon - 11], 5);
  ck_assert_double_eq(weather->dni_w_per_m2[noon - 11], 0);
  steading_weather_release(weather);
}
END_TEST

START_TEST(daylight_saving_in_the_header_is_noted) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  file.holidays = "HOLIDAYS/DAYLIGHT SAVINGS,Yes,4/ 1,10/28,0";
  weather = accepted(&file);
  check_note(weather, "daylight saving", true);
  check_note(weather, "the header tells of leap years, but no row is of 29 February", true);
  steading_weather_release(weather);
}
END_TEST

/* ---- light ---- */

/* Near the horizon a diffuse value a little too small would mean a beam stronger than outside the
 * atmosphere; global stays. */
START_TEST(a_beam_stronger_than_outside_becomes_diffuse) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  size_t low = noon;
  while (sun[low].lit_share >= 1) low++; /* the hour of sunset */
  ck_assert_double_gt(sun[low].lit_share, 0);
  set(low, GHI, "150");
  set(low, DHI, "2");
  weather = accepted(&file);
  check_note(weather, "1 hours in which the beam would be stronger than outside", true);
  ck_assert_double_eq(weather->ghi_w_per_m2[low], 150);
  ck_assert_double_eq_tol(weather->dni_w_per_m2[low],
                          sun[low].extraterrestrial_w_per_m2 * sun[low].lit_share, 1e-9);
  steading_weather_release(weather);
}
END_TEST

START_TEST(diffuse_above_global_is_bounded_and_negative_light_is_nothing) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  set(noon, GHI, "300");
  set(noon, DHI, "301");
  set(noon + 12, GHI, "-2.7");
  set(noon + 12, DHI, "-2.7");
  set(noon + 13, DNI, "-0.5");
  weather = accepted(&file);
  check_note(weather, "1 sunlit hours with diffuse above global", true);
  check_note(weather, "3 negative values of irradiance set to 0", true);
  ck_assert_double_eq(weather->dhi_w_per_m2[noon], 300);
  ck_assert_double_eq(weather->dni_w_per_m2[noon], 0);
  ck_assert_double_eq(weather->ghi_w_per_m2[noon + 12], 0);
  steading_weather_release(weather);
}
END_TEST

/* Each kind of missing value, in an hour of its own. The file closes (ghi = dni cos z + dhi) to the
 * nine decimals written, so that a rebuilt value is the one left out. */
START_TEST(missing_light_is_rebuilt_from_what_is_there) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  set(noon, DNI, "9999");
  set(noon + 24, DHI, "9999");
  set(noon + 48, GHI, ""); /* empty is missing, too */
  set(noon + 72, DNI, "9999.0");
  set(noon + 72, DHI, "-9900"); /* the code of another format */
  set(noon + 96, GHI, "9999");
  set(noon + 96, DNI, "9999");
  set(noon + 96, DHI, "9999");
  set(noon + 12, GHI, "9999"); /* at night: nothing is missing */
  weather = accepted(&file);
  ck_assert_double_eq_tol(weather->dhi_w_per_m2[noon], ranch_diffuse * made_ghi(noon), 1e-8);
  ck_assert_double_eq_tol(weather->dhi_w_per_m2[noon + 24], ranch_diffuse * made_ghi(noon + 24),
                          1e-8);
  ck_assert_double_eq_tol(weather->ghi_w_per_m2[noon + 48], made_ghi(noon + 48), 1e-8);
  /* Clearness 0.6: Erbs 1982 gives 0.4395, to half of the last digit of at most 900 W/m2. */
  ck_assert_double_eq_tol(weather->dhi_w_per_m2[noon + 72], 0.4395 * made_ghi(noon + 72), 0.1);
  /* The clearness is constant, so that its interpolation is exact; Erbs gives the diffuse. */
  ck_assert_double_eq_tol(weather->ghi_w_per_m2[noon + 96], made_ghi(noon + 96), 1e-8);
  ck_assert_double_eq_tol(weather->dhi_w_per_m2[noon + 96], 0.4395 * made_ghi(noon + 96), 0.1);
  ck_assert_double_eq(weather->ghi_w_per_m2[noon + 12], 0);
  check_note(weather, "3 sunlit hours without direct normal irradiance", true);
  check_note(weather, "1 sunlit hours without diffuse", true);
  check_note(weather, "1 sunlit hours without global: direct", true);
  check_note(weather, "1 sunlit hours without direct and diffuse", true);
  check_note(weather, "1 sunlit hours without global and one more", true);
  steading_weather_release(weather);
}
END_TEST

/* Clearness 0.6 before and 0.3 behind a gap of three hours: 0.525, 0.45, 0.375 by hand. Diffuse is
 * given in the first, direct in the second hour. */
START_TEST(a_gap_of_three_hours_is_interpolated_and_of_four_refused) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  static const double kt[3] = {0.525, 0.45, 0.375};
  snprintf(rows[noon + 3].text[GHI], 24, "%.9f", 0.5 * made_ghi(noon + 3));
  for (size_t k = 0; k < 3; k++) {
    set(noon + k, GHI, "9999");
    set(noon + k, k == 1 ? DHI : DNI, "9999");
  }
  set(noon + 1, DNI, "100");
  weather = accepted(&file);
  for (size_t k = 0; k < 3; k++) {
    ck_assert_double_eq_tol(weather->ghi_w_per_m2[noon + k], kt[k] * outside(noon + k), 1e-8);
  }
  ck_assert_double_eq_tol(weather->dhi_w_per_m2[noon], ranch_diffuse * made_ghi(noon), 1e-8);
  ck_assert_double_eq_tol(weather->dni_w_per_m2[noon + 1], 100, 1e-9);
  check_note(weather, "3 sunlit hours without global and one more", true);
  steading_weather_release(weather);
  set(noon + 3, GHI, "9999");
  set(noon + 3, DNI, "9999");
  refused(&file, path_of_row(noon), "for 4 sunlit hours from here");
}
END_TEST

/* A gap goes on over the night: two hours before sunset and two after sunrise are four. */
START_TEST(a_gap_over_the_night_counts_its_sunlit_hours) {
  made_file file = ranch();
  size_t dusk = noon, dawn = 0;
  while (sun[dusk + 1].lit_share > 0) dusk++;
  dawn = dusk + 1;
  while (sun[dawn].lit_share <= 0) dawn++;
  for (size_t i = dusk - 1; i <= dawn + 1; i++) {
    set(i, GHI, "9999");
    set(i, DHI, "9999");
  }
  refused(&file, path_of_row(dusk - 1), "for 4 sunlit hours");
  snprintf(rows[dawn + 1].text[GHI], 24, "%.9f", made_ghi(dawn + 1));
  steading_weather_release(accepted(&file));
}
END_TEST

START_TEST(a_file_with_more_than_a_tenth_rebuilt_is_refused) {
  made_file file = ranch();
  size_t lit = 0, count = 0, i = 0;
  for (i = 0; i < HOURS; i++) lit += sun[i].lit_share > 0;
  for (i = 0; count < lit / 10; i++) {
    if (sun[i].lit_share <= 0) continue;
    set(i, DHI, "9999");
    count++;
  }
  steading_weather_release(accepted(&file));
  while (sun[i].lit_share <= 0) i++;
  set(i, DHI, "9999");
  refused(&file, "ranch.epw", "at most a tenth is filled");
}
END_TEST

/* A file without any direct normal loses nothing: it is always derived. */
START_TEST(a_file_without_direct_normal_is_whole) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  for (size_t i = 0; i < HOURS; i++) set(i, DNI, "9999");
  weather = accepted(&file);
  check_note(weather, "sunlit hours without direct normal irradiance", true);
  check_note(weather, "closure", false);
  steading_weather_release(weather);
}
END_TEST

/* A file in which direct and diffuse do not add up to global is read by global and diffuse. */
START_TEST(the_miss_of_closure_is_told) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  for (size_t i = 0; i < HOURS; i++) {
    if (sun[i].up > 0) {
      snprintf(rows[i].text[DNI], 24, "%.9f", 0.5 * (1 - ranch_diffuse) * made_ghi(i) / sun[i].up);
    }
  }
  weather = accepted(&file);
  check_note(weather, "by 35.0 %", true); /* half of 0.7 */
  ck_assert_double_eq_tol(weather->dni_w_per_m2[noon],
                          (1 - ranch_diffuse) * made_ghi(noon) / sun[noon].up, 1e-8);
  steading_weather_release(weather);
}
END_TEST

/* ---- temperature ---- */

START_TEST(six_missing_temperatures_are_filled_and_seven_refused) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  set(999, TEMP, "10");
  for (size_t i = 1000; i < 1006; i++) set(i, TEMP, i % 2 ? "99.9" : "");
  set(1006, TEMP, "17");
  weather = accepted(&file);
  for (size_t k = 0; k < 6; k++) {
    ck_assert_double_eq_tol(weather->temp_c[1000 + k], 11.0 + (double)k, 1e-12);
  }
  check_note(weather, "6 hours without air temperature", true);
  steading_weather_release(weather);
  set(1006, TEMP, "99.9");
  refused(&file, path_of_row(1000), "field 7 (dry-bulb temperature) is missing for 7 hours");
}
END_TEST

START_TEST(a_temperature_gap_goes_on_from_december_into_january) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  set(HOURS - 2, TEMP, "4");
  set(HOURS - 1, TEMP, "99.9");
  set(0, TEMP, "99.9");
  set(1, TEMP, "1");
  weather = accepted(&file);
  ck_assert_double_eq_tol(weather->temp_c[HOURS - 1], 3, 1e-12);
  ck_assert_double_eq_tol(weather->temp_c[0], 2, 1e-12);
  steading_weather_release(weather);
  for (size_t i = 0; i < 6; i++) set(i, TEMP, "99.9");
  refused(&file, path_of_row(HOURS - 1), "7 hours");
  for (size_t i = 0; i < HOURS; i++) set(i, TEMP, "99.9");
  refused(&file, "ranch.epw", "missing in every hour");
}
END_TEST

/* ---- dates ---- */

/* Insert the 24 hours of 29 February (or fewer) behind 28 February. */
static void insert_leap_day(made_file *file, int hours) {
  size_t at = (size_t)steading_days_before_month[2] * 24;
  memmove(&rows[at + (size_t)hours], &rows[at], (file->rows - at) * sizeof rows[0]);
  for (int h = 0; h < hours; h++) {
    rows[at + (size_t)h] = rows[at - 24 + (size_t)h];
    rows[at + (size_t)h].day = 29;
    set(at + (size_t)h, TEMP, "55");
  }
  file->rows += (size_t)hours;
}

START_TEST(the_29th_of_february_is_dropped) {
  made_file file = ranch();
  steading_weather *plain = accepted(&file), *weather = NULL;
  insert_leap_day(&file, 24);
  weather = accepted(&file);
  check_note(weather, "24 hours of 29 February dropped", true);
  ck_assert_int_eq(memcmp(plain->temp_c, weather->temp_c, HOURS * sizeof(double)), 0);
  ck_assert_int_eq(memcmp(plain->ghi_w_per_m2, weather->ghi_w_per_m2, HOURS * sizeof(double)), 0);
  steading_weather_release(plain);
  steading_weather_release(weather);
  /* An error behind it is told with its line. */
  set(5000 + 24, TEMP, "abc");
  refused(&file, path_of_row(5000 + 24), "found \"abc\"");
}
END_TEST

START_TEST(a_29th_of_february_in_pieces_is_refused) {
  made_file file = ranch();
  insert_leap_day(&file, 23);
  refused(&file, path_of_row(59 * 24 + 23), "found 3/1 hour 1, expected 2/29 hour 24");
}
END_TEST

START_TEST(rows_out_of_order_are_refused_with_their_line) {
  made_file file = ranch();
  made_row kept = rows[40];
  rows[40] = rows[41];
  rows[41] = kept;
  refused(&file, path_of_row(40), "found 1/2 hour 18, expected 1/2 hour 17");
  file = ranch();
  rows[200].hour = 0;
  refused(&file, path_of_row(200), "hour 0, expected 1/9 hour 9");
  file = ranch();
  rows[200].minute = 30;
  refused(&file, path_of_row(200), "field 5 (minute): found \"30\", expected 0 or 60");
  file = ranch();
  rows[0].day = 2;
  refused(&file, path_of_row(0), "found 1/2 hour 1, expected 1/1 hour 1");
}
END_TEST

START_TEST(a_file_of_the_wrong_length_is_refused) {
  made_file file = ranch();
  file.rows = HOURS - 1;
  refused(&file, path_of_row(HOURS - 2), "the file ends after 8759 hours, expected 8760");
  file.rows = 0;
  refused(&file, "ranch.epw: line 8", "ends after 0 hours");
  file.rows = HOURS;
  file.periods = "DATA PERIODS,1,3,Data,Sunday, 1/ 1,12/31";
  refused(&file, "ranch.epw: line 8",
          "field 3 (records per hour): found \"3\", expected 1, 2, 4, 6, 12 or 60");
  file.periods = "DATA PERIODS,1,1.5,Data,Sunday, 1/ 1,12/31";
  refused(&file, "ranch.epw: line 8", "field 3 (records per hour): found \"1.5\"");
  file.periods = "DATA PERIODS,1,2,Data,Sunday, 1/ 1,12/31";
  refused(&file, "ranch.epw: line 10", "found 1/1 hour 2 minute 0, expected 1/1 hour 1 minute 30");
  file.periods = "SOMETHING ELSE";
  refused(&file, "ranch.epw: line 30", "no line \"DATA PERIODS\"");
}
END_TEST

/* ---- refusals by field ---- */

START_TEST(a_field_that_is_no_number_is_named_with_its_line) {
  static const char *const bad[] = {"abc", "nan",  "inf", "0x10", "1.2.3", "--5",
                                    "5 5", "1.5e", "-",   ".",    "1e999"};
  made_file file = ranch();
  set(1225, GHI, "abc");
  refused(&file, "ranch.epw: line 1234",
          "field 14 (global horizontal): found \"abc\", expected a number");
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    set(1225, GHI, bad[i]);
    refused(&file, "ranch.epw: line 1234", "field 14 (global horizontal): found");
  }
}
END_TEST

/* A lost or added comma would shift the columns behind it in silence. */
START_TEST(a_row_with_another_number_of_fields_is_refused) {
  made_file file = ranch();
  set(noon, DHI, "100,100");
  refused(&file, path_of_row(noon), "the row has 36 fields, expected 35 as in the first row");
}
END_TEST

START_TEST(values_beyond_physics_are_refused) {
  made_file file = ranch();
  set(10, TEMP, "75");
  refused(&file, path_of_row(10), "field 7 (dry-bulb temperature): found \"75\"");
  set(10, TEMP, "-95");
  refused(&file, path_of_row(10), "field 7 (dry-bulb temperature): found \"-95\"");
  set(10, TEMP, "5");
  set(noon, GHI, "1501");
  refused(&file, path_of_row(noon), "field 14 (global horizontal): found \"1501\"");
  set(noon, GHI, "500");
  set(noon, DHI, "-51");
  refused(&file, path_of_row(noon), "field 16 (diffuse horizontal): found \"-51\"");
}
END_TEST

START_TEST(a_zone_that_contradicts_the_longitude_is_refused) {
  made_file file = ranch();
  file.location = "LOCATION,Sample Ranch,NM,USA,invented,999999,35.10,-106.60,7.0,1620.0";
  refused(&file, "ranch.epw: line 1", "the time zone +7 h does not belong to longitude -106.6");
  file.location = "LOCATION,Sample Ranch,NM,USA,invented,999999,35.10,106.60,-7.0,1620.0";
  refused(&file, "ranch.epw: line 1", "the time zone -7 h does not belong to longitude 106.6");
}
END_TEST

/* Line Islands, Kiribati: longitude -157.4 and UT+14 (from memory) are a whole day from UT-10. */
START_TEST(a_zone_across_the_date_line_is_accepted) {
  made_file file = ranch();
  steading_weather *weather = NULL;
  make_rows(1, 2.0, -157.4, 14);
  file.location = "LOCATION,Atoll,-,KIR,invented,999999,2.00,-157.40,14.0,3.0";
  weather = accepted(&file);
  check_note(weather, "the light is centred", false);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_bad_header_is_refused) {
  made_file file = ranch();
  file.location = "LOCATION,Sample Ranch,NM,USA,invented,999999,north,-106.60,-7.0,1620.0";
  refused(&file, "ranch.epw: line 1",
          "field 7 (latitude): found \"north\", expected a number from -90 to 90");
  file.location = "LOCATION,Sample Ranch,NM,USA,invented,999999,35.10,-106.60,-7.0";
  refused(&file, "ranch.epw: line 1", "field 10 (elevation): found \"\"");
  file.location = "location of the station";
  refused(&file, "ranch.epw: line 1", "an EPW file begins with \"LOCATION,\"");
}
END_TEST

START_TEST(content_tells_an_epw_file) {
  ck_assert(steading_weather_is_epw("LOCATION,x", 10));
  ck_assert(steading_weather_is_epw("\xEF\xBB\xBFLOCATION,x", 13));
  ck_assert(!steading_weather_is_epw("LOCATION", 8));
  ck_assert(!steading_weather_is_epw("", 0));
  ck_assert(!steading_weather_is_epw("L\0O\0C\0A\0T\0I\0O\0N\0,\0", 18));
  ck_assert(!steading_weather_is_epw("time,ghi,temp\n", 14));
}
END_TEST

START_TEST(an_empty_file_is_refused) {
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  ck_assert_int_eq(steading_weather_read_epw("", 0, "none.epw", NULL, &weather, &error),
                   STEADING_BAD_INPUT);
  ck_assert_ptr_null(weather);
  ck_assert_str_eq(error.path, "none.epw: line 1");
  ck_assert_ptr_nonnull(strstr(error.text, "empty"));
}
END_TEST

/* A file that was cut anywhere is an error and never more (run under the sanitizers, too: the bytes
 * end exactly where the block does). */
START_TEST(a_file_cut_anywhere_is_refused) {
  made_file file = ranch();
  write_file(&file);
  for (size_t length = 0; length + 16 < file.length; length += 1 + length / 40) {
    char *cut = malloc(length + 1);
    steading_weather *weather = NULL;
    steading_error error = {0};
    ck_assert_ptr_nonnull(cut);
    memcpy(cut + 1, file.bytes, length);
    ck_assert_int_eq(steading_weather_read_epw(cut + 1, length, "cut.epw", NULL, &weather, &error),
                     STEADING_BAD_INPUT);
    ck_assert_ptr_null(weather);
    ck_assert(strlen(error.text) > 0);
    free(cut);
  }
  free(file.bytes);
}
END_TEST

/* ---- real files, outside the project: $DATA/weather and $DATA/measure-only ---- */

/* Independent sum of field 14 by month, kWh/m2, with the C library's own splitting. */
static void sum_by_hand(const char *bytes, double months[12]) {
  char *copy = strdup(bytes), *rest = copy, *line = NULL;
  int number = 0;
  ck_assert_ptr_nonnull(copy);
  memset(months, 0, 12 * sizeof *months);
  while ((line = strsep(&rest, "\n")) != NULL) {
    char *field = NULL;
    int month = 0;
    if (++number <= 8 || strlen(line) < 10) continue;
    for (int i = 1; i <= 14; i++) {
      field = strsep(&line, ",");
      if (i == 2) month = atoi(field);
    }
    if (atof(field) < 9999 && atof(field) > 0) months[month - 1] += atof(field) / 1000;
  }
  free(copy);
}

static void check_real_file(const char *path) {
  const char *name = strrchr(path, '/') + 1;
  size_t length = 0;
  char *bytes = read_bytes(path, &length);
  steading_weather *weather = NULL;
  steading_error error = {0};
  double months[12];
  ck_assert_ptr_nonnull(bytes);
  if (steading_weather_read_epw(bytes, length, name, NULL, &weather, &error) != STEADING_OK) {
    printf("resource/epw: refused: %s: %s\n", error.path, error.text);
    ck_assert(strlen(error.text) > 20);
    free(bytes);
    return;
  }
  check_promises(weather);
  sum_by_hand(bytes, months);
  for (int m = 0; m < 12; m++) {
    double sum = 0;
    for (size_t y = 0; y < weather->years; y++) {
      for (int h = steading_days_before_month[m] * 24; h < steading_days_before_month[m + 1] * 24;
           h++) {
        sum += weather->ghi_w_per_m2[y * HOURS + (size_t)h] / 1000;
      }
    }
    ck_assert_double_eq_tol(sum, months[m], 0.001 * months[m]);
  }
  steading_weather_release(weather);
  free(bytes);
}

START_TEST(every_real_file_is_read_to_a_tenth_of_a_percent_or_refused_with_a_reason) {
  static const char *const folders[] = {"weather", "measure-only"};
  const char *data = getenv("DATA");
  size_t found = 0;
  if (data == NULL) {
    printf("SKIPPED resource/epw, real files: DATA is not set\n");
    return;
  }
  for (int i = 0; i < 2; i++) {
    char pattern[1024];
    glob_t paths;
    snprintf(pattern, sizeof pattern, "%s/%s/*.epw", data, folders[i]);
    if (glob(pattern, 0, NULL, &paths) != 0) continue;
    for (size_t k = 0; k < paths.gl_pathc; k++) check_real_file(paths.gl_pathv[k]);
    found += paths.gl_pathc;
    globfree(&paths);
  }
  if (found == 0) printf("SKIPPED resource/epw, real files: no *.epw under DATA\n");
}
END_TEST

/* Global of the year as the collection that the files come from states it, kWh/m2. */
START_TEST(four_stations_have_the_global_that_is_stated_for_them) {
  static const struct {
    const char *name;
    double ghi_kwh_per_m2;
  } stations[] = {{"USA_ME_Caribou.Muni.AP.727120_TMY3.epw", 1217},
                  {"USA_CO_Alamosa.Muni.AP.724620_TMY3.epw", 1956},
                  {"USA_OR_Redmond-Roberts.Field.726835_TMY3.epw", 1591},
                  {"USA_HI_Hilo.Intl.AP.912850_TMY3.epw", 1646}};
  const char *data = getenv("DATA");
  for (size_t i = 0; i < sizeof stations / sizeof stations[0]; i++) {
    char path[1024];
    size_t length = 0;
    char *bytes = NULL;
    steading_weather *weather = NULL;
    steading_error error = {0};
    double sum = 0;
    snprintf(path, sizeof path, "%s/weather/%s", data == NULL ? "" : data, stations[i].name);
    if (data != NULL) bytes = read_bytes(path, &length);
    if (bytes == NULL) {
      printf("SKIPPED resource/epw, %s: not under DATA\n", stations[i].name);
      continue;
    }
    ck_assert_int_eq(
        steading_weather_read_epw(bytes, length, stations[i].name, NULL, &weather, &error),
        STEADING_OK);
    for (size_t k = 0; k < weather->steps; k++) sum += weather->ghi_w_per_m2[k] / 1000;
    ck_assert_double_eq_tol(sum, stations[i].ghi_kwh_per_m2, 1);
    steading_weather_release(weather);
    free(bytes);
  }
}
END_TEST

Suite *epw_suite(void) {
  Suite *suite = suite_create("resource/epw");
  TCase *good = tcase_create("good"), *repaired = tcase_create("repaired");
  TCase *bad = tcase_create("bad"), *real = tcase_create("real");
  tcase_add_test(good, a_plain_file_is_read_as_written);
  tcase_add_test(good, marks_line_ends_and_spaces_change_nothing);
  tcase_add_test(good, several_years_follow_each_other);
  tcase_add_test(good, numbers_are_read_to_the_bit);
  tcase_add_test(good, content_tells_an_epw_file);
  tcase_add_test(good, a_zone_across_the_date_line_is_accepted);
  tcase_add_test(repaired, a_shifted_file_is_noted_and_a_badly_shifted_one_refused);
  tcase_add_test(repaired, light_deep_in_the_night_is_counted);
  tcase_add_test(repaired, daylight_saving_in_the_header_is_noted);
  tcase_add_test(repaired, a_beam_stronger_than_outside_becomes_diffuse);
  tcase_add_test(repaired, diffuse_above_global_is_bounded_and_negative_light_is_nothing);
  tcase_add_test(repaired, missing_light_is_rebuilt_from_what_is_there);
  tcase_add_test(repaired, a_gap_of_three_hours_is_interpolated_and_of_four_refused);
  tcase_add_test(repaired, a_gap_over_the_night_counts_its_sunlit_hours);
  tcase_add_test(repaired, a_file_with_more_than_a_tenth_rebuilt_is_refused);
  tcase_add_test(repaired, a_file_without_direct_normal_is_whole);
  tcase_add_test(repaired, the_miss_of_closure_is_told);
  tcase_add_test(repaired, six_missing_temperatures_are_filled_and_seven_refused);
  tcase_add_test(repaired, a_temperature_gap_goes_on_from_december_into_january);
  tcase_add_test(repaired, the_29th_of_february_is_dropped);
  tcase_add_test(bad, a_29th_of_february_in_pieces_is_refused);
  tcase_add_test(bad, rows_out_of_order_are_refused_with_their_line);
  tcase_add_test(bad, a_file_of_the_wrong_length_is_refused);
  tcase_add_test(bad, a_field_that_is_no_number_is_named_with_its_line);
  tcase_add_test(bad, a_row_with_another_number_of_fields_is_refused);
  tcase_add_test(bad, values_beyond_physics_are_refused);
  tcase_add_test(bad, a_zone_that_contradicts_the_longitude_is_refused);
  tcase_add_test(bad, a_bad_header_is_refused);
  tcase_add_test(bad, an_empty_file_is_refused);
  tcase_add_test(bad, a_file_cut_anywhere_is_refused);
  tcase_add_test(real, every_real_file_is_read_to_a_tenth_of_a_percent_or_refused_with_a_reason);
  tcase_add_test(real, four_stations_have_the_global_that_is_stated_for_them);
  suite_add_tcase(suite, good);
  suite_add_tcase(suite, repaired);
  suite_add_tcase(suite, bad);
  suite_add_tcase(suite, real);
  return suite;
}
