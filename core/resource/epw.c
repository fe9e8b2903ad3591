/* Weather from EPW: eight header lines, then one row a record (1, 2, 4, 6, 12 or 60 an hour) with
 * 35 comma-separated fields. The rules by which values are repaired or a file is refused are in
 * reference/manual/resource.md. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/measured.h"

enum {
  HOURS = STEADING_HOURS_PER_YEAR,
  FIELDS_NEEDED = 16, /* up to the diffuse irradiance */
  FIELDS_READ = 22,   /* up to the wind, which a row may lack */
  FIRST_YEAR = 1800,  /* calendar years that are counted */
  YEARS = 400,
  HEADER_LINES_MOST = 30, /* eight by the format; a few more comments do no harm */
};

typedef steading_slice slice;

typedef struct column {
  int field; /* counted from 1 */
  const char *name;
  double low, high;    /* outside this a value is an error */
  double missing_from; /* from here on a value means 'missing' */
  const char *expected;
} column;

/* Below this a number is the code for 'missing' of another format (-999, -9900, -9999). */
static const double missing_below = -900;

static const column columns[STEADING_QUANTITIES] = {
    [STEADING_TEMP] = {7, "dry-bulb temperature", -90, 60, 99.9,
                       "-90 to 60 C, or 99.9 for missing"},
    [STEADING_GHI] = {14, "global horizontal", -50, 1500, 9999,
                      "0 to 1500 Wh/m2, or 9999 for missing"},
    [STEADING_DNI] = {15, "direct normal", -50, 1500, 9999, "0 to 1500 Wh/m2, or 9999 for missing"},
    [STEADING_DHI] = {16, "diffuse horizontal", -50, 1500, 9999,
                      "0 to 1500 Wh/m2, or 9999 for missing"},
    [STEADING_WIND] = {22, "wind speed", 0, 75, 999, "0 to 75 m/s, or 999 for missing"},
};

static bool is_light(int quantity) {
  return quantity == STEADING_GHI || quantity == STEADING_DNI || quantity == STEADING_DHI;
}

typedef struct reader {
  steading_measured m;
  const char *at, *end; /* what is not read yet */
  size_t line;          /* number of the line read last */
  bool daylight_saving; /* the header names dates of it */
  bool leap_years;      /* the header says that there are */
  double said_offset_h; /* by the header */
  const steading_read_options *options;
  int an_hour;          /* records */
  bool begins;          /* minutes of records below an hour mark their beginning */
  double energy_factor; /* W/m2 for what a record holds; 0: an hour, where it is 1 */
  double clear;         /* clearness by which that was told */
  int fields_a_row;     /* of the first row; all others have as many */
  size_t rows;          /* records read, 29 February not counted */
  size_t all_rows;      /* those as well */
  int leap_record;      /* record of 29 February read last, from 1; 0 outside it */
  bool has_year[YEARS];
  int first_year, last_year, year_count;
} reader;

/* ---- errors ---- */

static const char *at_line(reader *r, size_t line) { return steading_measured_at(&r->m, line); }

static steading_status no_memory(reader *r) {
  return steading_fail(r->m.error, STEADING_NO_MEMORY, r->m.name, "not enough memory");
}

static bool next_line(reader *r, slice *line) {
  if (!steading_next_line(&r->at, r->end, line)) return false;
  r->line++;
  return true;
}

static steading_status bad_field(reader *r, int field, const char *what, slice found,
                                 const char *expected) {
  int length = found.end - found.start > 40 ? 40 : (int)(found.end - found.start);
  return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "field %d (%s): found \"%.*s\", expected %s", field, what, length,
                       found.start, expected);
}

/* ---- header ---- */

/* Fields of a header line, with quotes taken off; a comma inside quotes does not divide. Returns
 * how many there are, at most `most`. */
static int split_header(slice line, slice *fields, int most) {
  const char *p = line.start;
  int count = 0;
  while (count < most) {
    slice field = {p, p};
    bool quoted = false;
    for (; p < line.end && (quoted || *p != ','); p++) {
      if (*p == '"') quoted = !quoted;
    }
    field.end = p;
    field = steading_slice_trimmed(field);
    if (field.end - field.start >= 2 && *field.start == '"' && field.end[-1] == '"') {
      field.start++;
      field.end--;
    }
    fields[count++] = field;
    if (p >= line.end) break;
    p++;
  }
  return count;
}

static steading_status header_number(reader *r, const slice *fields, int count, int field,
                                     const char *what, double low, double high, double *value) {
  slice text = {"", ""};
  char expected[64];
  if (field <= count) text = fields[field - 1];
  if (steading_slice_number(text, value) && *value >= low && *value <= high) return STEADING_OK;
  snprintf(expected, sizeof expected, "a number from %g to %g", low, high);
  return bad_field(r, field, what, text, expected);
}

static steading_status read_location(reader *r, slice line) {
  slice fields[10];
  int count = split_header(line, fields, 10);
  steading_place *place = &r->m.place;
  steading_status status = STEADING_OK;
  if ((status = header_number(r, fields, count, 7, "latitude", -90, 90, &place->latitude_deg)) ||
      (status = header_number(r, fields, count, 8, "longitude, east positive", -180, 180,
                              &place->longitude_deg)) ||
      (status = header_number(r, fields, count, 9, "time zone", -12, 14, &place->utc_offset_h)) ||
      (status =
           header_number(r, fields, count, 10, "elevation", -500, 9000, &place->elevation_m))) {
    return status;
  }
  r->said_offset_h = place->utc_offset_h;
  if (r->options->has_utc_offset) place->utc_offset_h = r->options->utc_offset_h;
  return steading_check_zone(place, r->options->allow, at_line(r, r->line), r->m.error);
}

static steading_status read_periods(reader *r, slice line) {
  slice fields[3];
  int count = split_header(line, fields, 3);
  double an_hour = 0;
  steading_status status = header_number(r, fields, count, 3, "records per hour", 1, 60, &an_hour);
  if (status != STEADING_OK) return status;
  r->an_hour = (int)an_hour;
  if (an_hour != r->an_hour || 60 % r->an_hour != 0 ||
      !steading_step_minutes_known(60 / r->an_hour))
    return bad_field(r, 3, "records per hour", fields[2], "1, 2, 4, 6, 12 or 60");
  r->m.step_minutes = 60 / r->an_hour;
  return STEADING_OK;
}

static void read_calendar(reader *r, slice line) {
  slice fields[3];
  double number = 1;
  int count = split_header(line, fields, 3);
  r->leap_years = count > 1 && steading_slice_is(fields[1], "yes");
  if (count < 3 || fields[2].start == fields[2].end) return;
  r->daylight_saving = !steading_slice_number(fields[2], &number) || number > 0;
}

static steading_status read_header(reader *r) {
  slice line;
  steading_status status = STEADING_OK;
  if (!steading_weather_is_epw(r->at, (size_t)(r->end - r->at))) {
    return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, 1),
                         "an EPW file begins with \"LOCATION,\"; this %s",
                         r->at >= r->end ? "file is empty" : "one does not");
  }
  r->at = steading_behind_mark(r->at, r->end);
  next_line(r, &line);
  status = read_location(r, line);
  while (status == STEADING_OK && r->line < HEADER_LINES_MOST && next_line(r, &line)) {
    if (steading_slice_starts(line, "DATA PERIODS")) return read_periods(r, line);
    if (steading_slice_starts(line, "HOLIDAYS")) read_calendar(r, line);
  }
  if (status != STEADING_OK) return status;
  return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "the header has no line \"DATA PERIODS\"");
}

/* ---- rows ---- */

static steading_status read_value(reader *r, slice text, int quantity, double *value) {
  const column *c = &columns[quantity];
  bool light = is_light(quantity);
  /* shorter means may be brighter (cloud edges); checked again once their unit is known */
  double high = light && r->an_hour > 1 ? 2000 : c->high;
  if (text.start == text.end) {
    *value = (double)NAN;
    return STEADING_OK;
  }
  if (!steading_slice_number(text, value)) return bad_field(r, c->field, c->name, text, "a number");
  if (*value >= c->missing_from || *value <= missing_below) {
    *value = (double)NAN;
  } else if (*value < c->low || *value > high) {
    return bad_field(r, c->field, c->name, text,
                     high > c->high ? "0 to 2000, or 9999 for missing" : c->expected);
  } else if (light && *value < 0) { /* the zero offset of a sensor at night */
    r->m.negatives++;
    *value = 0;
  }
  return STEADING_OK;
}

static steading_status read_label(reader *r, slice text, int field, const char *what, int *value) {
  double number = 0;
  if (!steading_slice_number(text, &number) || number != floor(number) || fabs(number) > 1e6) {
    return bad_field(r, field, what, text, "a whole number");
  }
  *value = (int)number;
  return STEADING_OK;
}

/* When a record is. */
typedef struct label {
  int month, day, hour, minute;
} label;

/* Minutes of an hour's record 0..an_hour - 1 as they are expected; the hour's end is 60. */
static int minute_of(const reader *r, int record) {
  return (record + (r->begins ? 0 : 1)) * r->m.step_minutes;
}

static steading_status out_of_order(reader *r, const label *found) {
  int in_day = r->leap_record;
  label next = {.month = 2, .day = 29};
  char found_minute[32] = "", next_minute[32] = "";
  if (r->leap_record == 0 || r->leap_record == 24 * r->an_hour) {
    size_t day = r->rows / (24 * (size_t)r->an_hour) % STEADING_DAYS_PER_YEAR;
    steading_month_of_day((int)day, &next.month, &next.day);
    in_day = (int)(r->rows % (24 * (size_t)r->an_hour));
  }
  if (r->an_hour > 1) {
    snprintf(found_minute, sizeof found_minute, " minute %d", found->minute);
    snprintf(next_minute, sizeof next_minute, " minute %d", minute_of(r, in_day % r->an_hour));
  }
  return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "fields 2 to %d (month, day, hour%s): found %d/%d hour %d%s, expected %d/%d "
                       "hour %d%s: rows follow each other from 1 January, hour 1 to 24 each day",
                       r->an_hour > 1 ? 5 : 4, r->an_hour > 1 ? ", minute" : "", found->month,
                       found->day, found->hour, found_minute, next.month, next.day,
                       in_day / r->an_hour + 1, next_minute);
}

/* Records below an hour end at their minute, or begin there if the first one says 0. The end of an
 * hour is 60 or 0. */
static bool minute_fits(const reader *r, int record, int minute) {
  int expected = minute_of(r, record);
  return minute == expected || (minute == 0 && expected == 60);
}

/* Whether the row's date is the next one; a row of 29 February is told by *leap. */
static steading_status check_label(reader *r, const slice *fields, bool *leap) {
  label found = {0};
  int next_month = 0, next_day = 0, in_day = 0, a_day = 24 * r->an_hour;
  size_t next = r->rows % ((size_t)STEADING_DAYS_PER_YEAR * (size_t)a_day);
  bool in_place = false;
  steading_status status = STEADING_OK;
  if ((status = read_label(r, fields[1], 2, "month", &found.month)) ||
      (status = read_label(r, fields[2], 3, "day", &found.day)) ||
      (status = read_label(r, fields[3], 4, "hour", &found.hour)) ||
      (status = read_label(r, fields[4], 5, "minute", &found.minute))) {
    return status;
  }
  if (r->an_hour == 1 && found.minute != 0 && found.minute != 60)
    return bad_field(r, 5, "minute", fields[4], "0 or 60: hours end at their label");
  if (r->all_rows == 0) r->begins = r->an_hour > 1 && found.minute == 0;
  *leap = found.month == 2 && found.day == 29;
  steading_month_of_day((int)(next / (size_t)a_day), &next_month, &next_day);
  if (*leap) {
    in_day = r->leap_record;
    in_place = next == (size_t)steading_days_before_month[2] * (size_t)a_day && r->rows > 0 &&
               in_day < a_day;
  } else {
    in_day = (int)(next % (size_t)a_day);
    in_place = (r->leap_record == 0 || r->leap_record == a_day) && found.month == next_month &&
               found.day == next_day;
  }
  if (!in_place || found.hour != in_day / r->an_hour + 1 ||
      !minute_fits(r, in_day % r->an_hour, found.minute))
    return out_of_order(r, &found);
  r->leap_record = *leap ? in_day + 1 : 0;
  if (*leap) r->m.leap_rows++;
  r->all_rows++;
  return STEADING_OK;
}

/* Which calendar years the months come from is told, not used. */
static void count_year(reader *r, slice text) {
  double number = 0;
  int year = 0;
  if (!steading_slice_number(text, &number) || number < FIRST_YEAR ||
      number >= FIRST_YEAR + YEARS || number != floor(number))
    return;
  year = (int)number;
  if (r->has_year[year - FIRST_YEAR]) return;
  r->has_year[year - FIRST_YEAR] = true;
  if (r->year_count == 0 || year < r->first_year) r->first_year = year;
  if (r->year_count == 0 || year > r->last_year) r->last_year = year;
  r->year_count++;
}

/* The first fields of a row; returns how many fields it has in all. */
static int split_row(slice line, slice *fields) {
  const char *p = line.start;
  int count = 0, commas = 0;
  for (bool more = true; more && count < FIELDS_READ; count++, p++) {
    slice field = {p, p};
    while (p < line.end && *p != ',') p++;
    field.end = p;
    fields[count] = steading_slice_trimmed(field);
    more = p < line.end;
  }
  if (p > line.end) return count; /* the line ended within the first fields */
  for (; p < line.end; p++) commas += *p == ',';
  return count + commas + 1;
}

static steading_status read_row(reader *r, slice line) {
  slice fields[FIELDS_READ];
  int count = split_row(line, fields);
  bool leap = false;
  steading_status status = STEADING_OK;
  if (r->all_rows == 0) r->fields_a_row = count;
  if (count < FIELDS_NEEDED || count != r->fields_a_row) { /* a lost comma shifts the columns */
    return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                         "the row has %d fields, expected %d%s", count,
                         r->all_rows == 0 ? 35 : r->fields_a_row,
                         r->all_rows == 0 ? "" : " as in the first row");
  }
  status = check_label(r, fields, &leap);
  if (status != STEADING_OK || leap) return status;
  count_year(r, fields[0]);
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    if (columns[q].field > count) continue; /* a short row without wind */
    status = read_value(r, fields[columns[q].field - 1], q, &r->m.values[q][r->rows]);
    if (status != STEADING_OK) return status;
  }
  r->m.lines[r->rows++] = r->line;
  return STEADING_OK;
}

static size_t lines_left(const reader *r) {
  size_t count = 1;
  for (const char *p = r->at; p < r->end; count++) {
    p = memchr(p, '\n', (size_t)(r->end - p));
    if (p == NULL) break;
    p++;
  }
  return count;
}

/* ---- energy or power ---- */

static int ascending(const void *left, const void *right) {
  double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

/* Clearness (global over that outside the atmosphere, sun above 17 degrees) that 2 % of the steps
 * exceed, as the numbers stand; 0 where nothing tells. */
static double clearest(const steading_measured *m, const steading_sun_step *sun, double *scratch) {
  size_t count = 0, a_year = (size_t)(HOURS * 60 / m->step_minutes);
  for (size_t i = 0; i < m->rows; i++) {
    const steading_sun_step *s = &sun[i % a_year];
    double ghi = m->values[STEADING_GHI][i];
    if (s->up < 0.3) continue;
    if (isnan(ghi)) ghi = m->values[STEADING_DNI][i] * s->up + m->values[STEADING_DHI][i];
    if (!isnan(ghi)) scratch[count++] = ghi / (s->extraterrestrial_w_per_m2 * s->up);
  }
  if (count == 0) return 0;
  qsort(scratch, count, sizeof *scratch, ascending);
  return scratch[count - 1 - count / 50];
}

static steading_status scale(reader *r, double factor) {
  for (int q = STEADING_GHI; q <= STEADING_DHI; q++) {
    for (size_t i = 0; i < r->m.rows; i++) {
      double *value = &r->m.values[q][i], found = *value;
      const char *expected = NULL;
      *value *= factor;
      if (!isnan(found) && !steading_measured_bound(&r->m, (steading_quantity)q, value, &expected))
        return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->m.lines[i]),
                             "field %d (%s): found %.6g Wh/m2 of a record, which is %.6g W/m2, "
                             "expected %s",
                             columns[q].field, columns[q].name, found, *value, expected);
    }
  }
  return STEADING_OK;
}

/* Files of more than one record an hour hold the energy of each record, as the fields' Wh/m2 says,
 * or mean powers: both are found. The brightest steps of a year come near clearness 0.75 anywhere
 * (common practice, no source), so that the nearer one is told on a scale of ratios. */
static steading_status settle_unit(reader *r) {
  size_t a_year = (size_t)HOURS * (size_t)r->an_hour;
  steading_sun_step *sun = NULL;
  double *scratch = NULL;
  if (r->an_hour == 1) return STEADING_OK;
  sun = malloc(a_year * sizeof *sun);
  scratch = malloc(r->m.rows * sizeof *scratch);
  if (sun != NULL && scratch != NULL) {
    /* rows are still in the file's places: the sun is that of the shifted clock */
    steading_sun_year(r->m.place.latitude_deg, r->m.place.longitude_deg,
                      r->m.place.utc_offset_h - r->options->shift_minutes / 60.0, r->m.step_minutes,
                      sun);
    r->clear = clearest(&r->m, sun, scratch);
    r->energy_factor = r->clear < 0.75 / sqrt(r->an_hour) ? r->an_hour : 1;
  }
  free(sun);
  free(scratch);
  if (r->energy_factor == 0) return no_memory(r);
  return r->energy_factor > 1 ? scale(r, r->energy_factor) : STEADING_OK;
}

static steading_status read_rows(reader *r) {
  slice line;
  steading_status status = STEADING_OK;
  if (!steading_measured_allocate(&r->m, lines_left(r))) return no_memory(r);
  while (next_line(r, &line)) {
    slice text = steading_slice_trimmed(line);
    if (text.start == text.end) continue;
    status = read_row(r, line);
    if (status != STEADING_OK) return status;
  }
  if (r->rows == 0 || r->rows % ((size_t)HOURS * (size_t)r->an_hour) != 0) {
    return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                         "the file ends after %zu %s, expected %d or a whole multiple of it",
                         r->rows, r->an_hour > 1 ? "records" : "hours", HOURS * r->an_hour);
  }
  r->m.rows = r->rows;
  r->m.read = r->all_rows;
  status = settle_unit(r);
  return status != STEADING_OK ? status : steading_measured_shift(&r->m, r->options->shift_minutes);
}

/* ---- the whole ---- */

bool steading_weather_is_epw(const char *bytes, size_t length) {
  const char *end = bytes + length;
  return steading_slice_starts((slice){steading_behind_mark(bytes, end), end}, "LOCATION,");
}

static steading_status write_notes(const reader *r, steading_weather *weather) {
  steading_status status = STEADING_OK;
  if (r->year_count > 1)
    status = steading_weather_note(weather, "rows come from %d calendar years, %d to %d",
                                   r->year_count, r->first_year, r->last_year);
  if (status == STEADING_OK && r->an_hour > 1)
    status =
        steading_weather_note(weather,
                              "%d records an hour, which %s their minute; irradiance is %s (2 %% "
                              "of the steps are clearer "
                              "than %.2f)",
                              r->an_hour, r->begins ? "begin at" : "end at",
                              r->energy_factor > 1 ? "the energy of a record" : "a mean in W/m2",
                              r->clear * r->energy_factor);
  if (status == STEADING_OK && r->leap_years && r->m.leap_rows == 0)
    status = steading_weather_note(weather,
                                   "the header tells of leap years, but no row is of 29 February");
  if (status == STEADING_OK && r->daylight_saving)
    status = steading_weather_note(weather,
                                   "the header names dates of daylight saving; rows are read as "
                                   "standard time");
  return status != STEADING_OK
             ? status
             : steading_weather_note_options(weather, r->options, r->said_offset_h);
}

steading_status steading_weather_read_epw(const char *bytes, size_t length, const char *name,
                                          const steading_read_options *options,
                                          steading_weather **weather, steading_error *error) {
  static const steading_read_options nothing_said = {0};
  reader r = {.m = {.name = name,
                    .error = error,
                    .step_minutes = 60,
                    .called = {[STEADING_TEMP] = "field 7 (dry-bulb temperature)",
                               [STEADING_GHI] = "field 14 (global horizontal)",
                               [STEADING_DNI] = "field 15 (direct normal)",
                               [STEADING_DHI] = "field 16 (diffuse horizontal)",
                               [STEADING_WIND] = "field 22 (wind speed)"}},
              .an_hour = 1,
              .at = bytes,
              .end = bytes + length,
              .options = options != NULL ? options : &nothing_said};
  steading_status status = STEADING_OK;
  *weather = NULL;
  r.m.allow = r.options->allow;
  status = read_header(&r);
  if (status == STEADING_OK) status = read_rows(&r);
  if (status == STEADING_OK) status = steading_measured_weather(&r.m, "epw", weather);
  if (status == STEADING_OK && write_notes(&r, *weather) != STEADING_OK) {
    steading_weather_release(*weather);
    *weather = NULL;
    status = no_memory(&r);
  }
  steading_measured_free(&r.m);
  return status;
}
