/* Weather from EPW: eight header lines, then one row an hour with 35 comma-separated fields. The
 * rules by which values are repaired or a file is refused are in reference/manual/resource.md. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "resource/measured.h"

enum {
  HOURS = STEADING_HOURS_PER_YEAR,
  FIELDS_READ = 16,       /* nothing behind the diffuse irradiance is used */
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
};

typedef struct reader {
  steading_measured m;
  const char *at, *end; /* what is not read yet */
  size_t line;          /* number of the line read last */
  bool daylight_saving; /* the header names dates of it */
  double said_offset_h; /* by the header */
  const steading_read_options *options;
  int fields_a_row; /* of the first row; all others have as many */
  size_t rows;      /* hours read, 29 February not counted */
  int leap_hour;    /* hour 1..24 of 29 February read last, 0 outside it */
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
  if (an_hour > 1) {
    return steading_fail(r->m.error, STEADING_NOT_YET, at_line(r, r->line),
                         "the file has %g records an hour; only hourly files are read", an_hour);
  }
  return STEADING_OK;
}

static void read_daylight_saving(reader *r, slice line) {
  slice fields[3];
  double number = 1;
  if (split_header(line, fields, 3) < 3 || fields[2].start == fields[2].end) return;
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
    if (steading_slice_starts(line, "HOLIDAYS")) read_daylight_saving(r, line);
  }
  if (status != STEADING_OK) return status;
  return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "the header has no line \"DATA PERIODS\"");
}

/* ---- rows ---- */

static steading_status read_value(reader *r, slice text, const column *c, double *value) {
  if (text.start == text.end) {
    *value = (double)NAN;
    return STEADING_OK;
  }
  if (!steading_slice_number(text, value)) return bad_field(r, c->field, c->name, text, "a number");
  if (*value >= c->missing_from || *value <= missing_below) {
    *value = (double)NAN;
  } else if (*value < c->low || *value > c->high) {
    return bad_field(r, c->field, c->name, text, c->expected);
  } else if (c != &columns[STEADING_TEMP] &&
             *value < 0) { /* the zero offset of a sensor at night */
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

static steading_status out_of_order(reader *r, int month, int day, int hour) {
  int next_month = 2, next_day = 29, next_hour = r->leap_hour + 1;
  if (r->leap_hour == 0 || r->leap_hour == 24) {
    size_t next = r->rows % HOURS;
    steading_month_of_day((int)(next / 24), &next_month, &next_day);
    next_hour = (int)(next % 24) + 1;
  }
  return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                       "fields 2 to 4 (month, day, hour): found %d/%d hour %d, expected %d/%d hour "
                       "%d: rows follow each other from 1 January, hour 1 to 24 each day",
                       month, day, hour, next_month, next_day, next_hour);
}

/* Whether the row's date is the next one; a row of 29 February is told by *leap. */
static steading_status check_label(reader *r, const slice *fields, bool *leap) {
  int month = 0, day = 0, hour = 0, minute = 0, next_month = 0, next_day = 0;
  size_t next = r->rows % HOURS;
  steading_status status = STEADING_OK;
  if ((status = read_label(r, fields[1], 2, "month", &month)) ||
      (status = read_label(r, fields[2], 3, "day", &day)) ||
      (status = read_label(r, fields[3], 4, "hour", &hour)) ||
      (status = read_label(r, fields[4], 5, "minute", &minute))) {
    return status;
  }
  if (minute != 0 && minute != 60) {
    return bad_field(r, 5, "minute", fields[4], "0 or 60: hours end at their label");
  }
  *leap = month == 2 && day == 29;
  steading_month_of_day((int)(next / 24), &next_month, &next_day);
  if (*leap) {
    bool in_place = next == (size_t)steading_days_before_month[2] * 24 && r->rows > 0;
    if (!in_place || hour != r->leap_hour + 1) return out_of_order(r, month, day, hour);
    r->leap_hour = hour;
    r->m.leap_rows++;
    return STEADING_OK;
  }
  if ((r->leap_hour != 0 && r->leap_hour != 24) || month != next_month || day != next_day ||
      hour != (int)(next % 24) + 1) {
    return out_of_order(r, month, day, hour);
  }
  r->leap_hour = 0;
  return STEADING_OK;
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
  if (r->rows == 0) r->fields_a_row = count;
  if (count < FIELDS_READ || count != r->fields_a_row) { /* a lost comma shifts the columns */
    return steading_fail(
        r->m.error, STEADING_BAD_INPUT, at_line(r, r->line), "the row has %d fields, expected %d%s",
        count, r->rows == 0 ? 35 : r->fields_a_row, r->rows == 0 ? "" : " as in the first row");
  }
  status = check_label(r, fields, &leap);
  if (status != STEADING_OK || leap) return status;
  for (int c = 0; c < STEADING_QUANTITIES; c++) {
    status = read_value(r, fields[columns[c].field - 1], &columns[c], &r->m.values[c][r->rows]);
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

static steading_status read_rows(reader *r) {
  slice line;
  if (!steading_measured_allocate(&r->m, lines_left(r))) return no_memory(r);
  while (next_line(r, &line)) {
    slice text = steading_slice_trimmed(line);
    steading_status status = STEADING_OK;
    if (text.start == text.end) continue;
    status = read_row(r, line);
    if (status != STEADING_OK) return status;
  }
  if (r->rows == 0 || r->rows % HOURS != 0) {
    return steading_fail(r->m.error, STEADING_BAD_INPUT, at_line(r, r->line),
                         "the file ends after %zu hours, expected %d or a whole multiple of it",
                         r->rows, HOURS);
  }
  r->m.rows = r->rows;
  return steading_measured_shift(&r->m, r->options->shift_minutes);
}

/* ---- the whole ---- */

bool steading_weather_is_epw(const char *bytes, size_t length) {
  const char *end = bytes + length;
  return steading_slice_starts((slice){steading_behind_mark(bytes, end), end}, "LOCATION,");
}

static steading_status write_notes(const reader *r, steading_weather *weather) {
  steading_status status = STEADING_OK;
  if (r->daylight_saving)
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
                               [STEADING_DHI] = "field 16 (diffuse horizontal)"}},
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
