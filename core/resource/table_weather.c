#include "resource/table_weather.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "nearest.h"
#include "resource/csv.h"
#include "resource/stamp.h"

enum { HEADER_ROWS_MOST = 60, MOST_NAMES = STEADING_TIME_COLUMNS + STEADING_QUANTITIES };

/* Minutes of a year of 365 days. */
static const int64_t year_min = (int64_t)STEADING_DAYS_PER_YEAR * 1440;

typedef struct table_row {
  int64_t second; /* of its stamp, on the stamp's clock; later: where its step begins */
  int offset_min;
  size_t line;
  int64_t at_min; /* minutes in the calendar without 29 February, -1 on that day */
  int year;
  double values[STEADING_QUANTITIES];
} table_row;

typedef struct table_reader {
  steading_measured m;
  const steading_table_layout *layout;
  char delimiter;
  char called[STEADING_QUANTITIES][96];
  /* header */
  bool in_rows;
  size_t header_rows; /* looked at */
  size_t time_at[STEADING_TIME_COLUMNS], value_at[STEADING_QUANTITIES], least_cells;
  size_t header_line;
  size_t best_found; /* names in the row that has most of them */
  char missing[MOST_NAMES][64], nearest[64];
  size_t missing_count;
  size_t units_line; /* a line behind the header that holds units; 0: none */
  /* rows */
  table_row *rows;
  size_t count, room;
  bool offsets, no_offsets; /* stamps that carry one, that do not */
  int lowest_offset_min;
  int64_t step_s;
  bool rising; /* in time, over years; else one year whose dates rise */
  size_t years;
  size_t dropped_last; /* a last row that repeats the first one's place */
  size_t leap_days_absent;
} table_reader;

static steading_status no_memory(table_reader *t) {
  return steading_fail(t->m.error, STEADING_NO_MEMORY, t->m.name, "not enough memory");
}

/* ---- header ---- */

static bool find_cell(const steading_slice *cells, size_t count, const char *name, size_t *at) {
  size_t length = strlen(name);
  for (size_t i = 0; i < count; i++) {
    if ((size_t)(cells[i].end - cells[i].start) == length &&
        memcmp(cells[i].start, name, length) == 0) {
      *at = i;
      return true;
    }
  }
  return false;
}

/* Keeps what is missing in the row that is most like a header, for the message. */
static void keep_missing(table_reader *t, const char *name, const steading_slice *cells,
                         size_t count) {
  snprintf(t->missing[t->missing_count], sizeof t->missing[0], "%s", name);
  if (t->missing_count++ > 0) return;
  t->nearest[0] = '\0';
  for (size_t i = 0, best = steading_nearest_limit(name) + 1; i < count && best > 0; i++) {
    char cell[64];
    size_t distance = 0;
    snprintf(cell, sizeof cell, "%.*s", (int)(cells[i].end - cells[i].start), cells[i].start);
    distance = steading_edit_distance(name, cell, best - 1);
    if (distance >= best) continue;
    best = distance;
    snprintf(t->nearest, sizeof t->nearest, "%s", cell);
  }
}

static void look_for_header(table_reader *t, const steading_slice *cells, size_t count) {
  const steading_table_layout *l = t->layout;
  size_t found = 0, wanted = l->time_count, last = 0;
  for (size_t i = 0; i < l->time_count; i++)
    found += find_cell(cells, count, l->time[i], &t->time_at[i]);
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    if (l->columns[q] == NULL) continue;
    wanted++;
    found += find_cell(cells, count, l->columns[q], &t->value_at[q]);
  }
  t->header_rows++;
  if (found == wanted) {
    for (size_t i = 0; i < l->time_count; i++) last = t->time_at[i] > last ? t->time_at[i] : last;
    for (int q = 0; q < STEADING_QUANTITIES; q++)
      if (l->columns[q] != NULL && t->value_at[q] > last) last = t->value_at[q];
    t->least_cells = last + 1;
    t->in_rows = true;
    return;
  }
  if (t->header_rows > 1 && found <= t->best_found) return;
  t->best_found = found;
  t->missing_count = 0;
  for (size_t i = 0, at = 0; i < l->time_count; i++)
    if (!find_cell(cells, count, l->time[i], &at)) keep_missing(t, l->time[i], cells, count);
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    size_t at = 0;
    if (l->columns[q] != NULL && !find_cell(cells, count, l->columns[q], &at))
      keep_missing(t, l->columns[q], cells, count);
  }
}

static steading_status no_header(table_reader *t) {
  char names[320] = "";
  for (size_t i = 0; i < t->missing_count; i++) {
    size_t used = strlen(names);
    snprintf(names + used, sizeof names - used, "%s\"%s\"", i == 0 ? "" : ", ", t->missing[i]);
  }
  return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                       "no row among the first %d has all the column names; the one that has most "
                       "lacks %s%s%s%s",
                       HEADER_ROWS_MOST, names, t->nearest[0] != '\0' ? " (did you mean \"" : "",
                       t->nearest, t->nearest[0] != '\0' ? "\"?)" : "");
}

/* ---- rows ---- */

static steading_status bad_cell(table_reader *t, size_t line, const char *column,
                                steading_slice found, const char *expected) {
  int length = found.end - found.start > 40 ? 40 : (int)(found.end - found.start);
  return steading_fail(t->m.error, STEADING_BAD_INPUT, steading_measured_at(&t->m, line),
                       "%s: found \"%.*s\", expected %s", column, length, found.start, expected);
}

static bool is_among(double value, const double *values, size_t count) {
  for (size_t i = 0; i < count; i++)
    if (value == values[i]) return true;
  return false;
}

#define IS_AMONG(value, values) is_among(value, values, sizeof values / sizeof values[0])

/* The words and numbers by which loggers and services say 'missing'. Some are none in every unit:
 * 99.9 is a wind in km/h and a summer day in F, -99 is a frost in tenths of a degree. */
static bool means_missing(steading_slice text, steading_quantity quantity, int unit, double value,
                          bool is_number) {
  static const char *const words[] = {"",   "-",   "--",   "///",  "nan",
                                      "na", "n/a", "null", "none", "missing"};
  static const double light[] = {9999, 99999, -99, -99.9, -99.99};
  static const double temp[] = {999, 999.9, 9999, 99999}, temp_c[] = {99.9, -99, -99.9, -99.99};
  static const double wind[] = {999, 999.9, 9999, 99999, -99, -99.9, -99.99};
  static const double wind_m_per_s[] = {99, 99.9, 99.99};
  for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
    if (steading_slice_is(text, words[i])) return true;
  if (!is_number) return false;
  if (value <= -900) return true;
  if (quantity == STEADING_TEMP)
    return IS_AMONG(value, temp) || (unit == STEADING_CELSIUS && IS_AMONG(value, temp_c));
  if (quantity == STEADING_WIND)
    return IS_AMONG(value, wind) || (unit == STEADING_M_PER_S && IS_AMONG(value, wind_m_per_s));
  return IS_AMONG(value, light);
}

/* With a decimal comma, where commas do not divide cells. */
static bool read_number(const table_reader *t, steading_slice text, double *value) {
  char copy[64];
  size_t length = (size_t)(text.end - text.start);
  char *comma = NULL;
  if (t->delimiter == ',' || length >= sizeof copy || memchr(text.start, '.', length) != NULL)
    return steading_slice_number(text, value);
  memcpy(copy, text.start, length);
  comma = memchr(copy, ',', length);
  if (comma != NULL) *comma = '.';
  return steading_slice_number((steading_slice){copy, copy + length}, value);
}

static bool join_time(const table_reader *t, const steading_slice *cells, char *text, size_t room,
                      steading_slice *joined) {
  size_t used = 0;
  for (size_t i = 0; i < t->layout->time_count; i++) {
    steading_slice cell = cells[t->time_at[i]];
    size_t length = (size_t)(cell.end - cell.start);
    if (used + length + 2 > room) return false;
    if (i > 0) text[used++] = ' ';
    memcpy(text + used, cell.start, length);
    used += length;
  }
  *joined = (steading_slice){text, text + used};
  return true;
}

static bool has_number(const table_reader *t, const steading_slice *cells, size_t count) {
  double value = 0;
  for (int q = 0; q < STEADING_QUANTITIES; q++)
    if (t->layout->columns[q] != NULL && t->value_at[q] < count &&
        read_number(t, cells[t->value_at[q]], &value))
      return true;
  return false;
}

static steading_status read_values(table_reader *t, const steading_slice *cells, table_row *row) {
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    steading_slice text;
    double value = (double)NAN;
    bool is_number = false;
    row->values[q] = (double)NAN;
    if (t->layout->columns[q] == NULL) continue;
    text = cells[t->value_at[q]];
    is_number = read_number(t, text, &value);
    if (means_missing(text, (steading_quantity)q, t->layout->units[q], value, is_number)) continue;
    if (!is_number) return bad_cell(t, row->line, t->called[q], text, "a number");
    row->values[q] = value;
  }
  return STEADING_OK;
}

static steading_status read_time(table_reader *t, const steading_slice *cells, table_row *row) {
  char text[128], expected[128];
  steading_slice joined = {text, text};
  steading_stamp stamp;
  bool first = t->count == 0;
  if (!join_time(t, cells, text, sizeof text, &joined) ||
      !steading_stamp_read(joined, t->layout->time_format, &stamp)) {
    snprintf(expected, sizeof expected, "a time such as %s",
             t->layout->time_format != NULL ? t->layout->time_format
                                            : "2027-06-01T12:30 (ISO 8601; or give time_format)");
    return bad_cell(t, row->line, "the time", joined, expected);
  }
  row->second = stamp.second;
  row->offset_min = stamp.offset_min;
  t->offsets = t->offsets || stamp.has_offset;
  t->no_offsets = t->no_offsets || !stamp.has_offset;
  if (first || stamp.offset_min < t->lowest_offset_min) t->lowest_offset_min = stamp.offset_min;
  return STEADING_OK;
}

static steading_status take_row(void *context, size_t line, const steading_slice *cells,
                                size_t count) {
  table_reader *t = context;
  table_row row = {.line = line};
  steading_status status = STEADING_OK;
  if (!t->in_rows) {
    look_for_header(t, cells, count);
    t->header_line = line;
    return t->in_rows || t->header_rows < HEADER_ROWS_MOST ? STEADING_OK : no_header(t);
  }
  if (t->count == 0 && t->units_line == 0 && !has_number(t, cells, count)) {
    char text[128];
    steading_slice joined;
    steading_stamp stamp;
    if (count < t->least_cells || !join_time(t, cells, text, sizeof text, &joined) ||
        !steading_stamp_read(joined, t->layout->time_format, &stamp)) {
      t->units_line = line;
      return STEADING_OK;
    }
  }
  if (count < t->least_cells)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, steading_measured_at(&t->m, line),
                         "the row has %zu cells, the last column that is read is number %zu", count,
                         t->least_cells);
  if ((status = read_time(t, cells, &row)) || (status = read_values(t, cells, &row))) return status;
  if (t->count == t->room) {
    size_t room = t->room == 0 ? 8784 : 2 * t->room;
    table_row *larger = realloc(t->rows, room * sizeof *larger);
    if (larger == NULL) return no_memory(t);
    t->rows = larger;
    t->room = room;
  }
  t->rows[t->count++] = row;
  return STEADING_OK;
}

/* ---- time ---- */

static void date_text(int64_t second, char text[32]) {
  int year = 0, month = 0, day = 0;
  int64_t days = (second - ((second % 86400) + 86400) % 86400) / 86400;
  steading_date_of_day(days, &year, &month, &day);
  snprintf(text, 32, "%04d-%02d-%02d", year, month, day);
}

/* Offsets of stamps without their own, and that of the weather. */
static steading_status settle_offsets(table_reader *t) {
  const steading_table_layout *l = t->layout;
  double stamps_h = 0;
  if (t->offsets && t->no_offsets)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "some stamps carry an offset from UT, others do not");
  if (t->offsets && l->has_stamp_offset)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "the stamps carry their own offset (%+g h); leave utc_offset_h out",
                         t->lowest_offset_min / 60.0);
  if (!t->offsets && !l->has_stamp_offset)
    return steading_fail(
        t->m.error, STEADING_BAD_INPUT, t->m.name,
        "the stamps carry no offset from UT: give utc_offset_h (standard time less "
        "UT, in hours)");
  for (size_t i = 0; !t->offsets && i < t->count; i++)
    t->rows[i].offset_min = (int)lround(l->stamp_offset_h * 60);
  stamps_h = t->offsets ? t->lowest_offset_min / 60.0 : l->stamp_offset_h;
  t->m.place.utc_offset_h = l->has_zone_offset ? l->zone_offset_h : stamps_h;
  return STEADING_OK;
}

static int64_t universal_s(const table_row *row) { return row->second - row->offset_min * 60; }

static steading_status out_of_order(table_reader *t, size_t i) {
  char now[32], before[32];
  date_text(t->rows[i].second, now);
  date_text(t->rows[i - 1].second, before);
  return steading_fail(t->m.error, STEADING_BAD_INPUT, steading_measured_at(&t->m, t->rows[i].line),
                       "the row (%s) is not later than the one before (%s): rows rise in time, or, "
                       "in a typical year, from January to December",
                       now, before);
}

static steading_status find_step(table_reader *t) {
  int64_t step = 0;
  for (size_t i = 1; i < t->count; i++) {
    int64_t apart = universal_s(&t->rows[i]) - universal_s(&t->rows[i - 1]);
    if (apart > 0 && (step == 0 || apart < step)) step = apart;
  }
  t->step_s = step;
  if (step == 0) return out_of_order(t, 1);
  if (step % 60 != 0 || !steading_step_minutes_known((int)(step < 7200 ? step / 60 : 0)))
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "the rows are %g min apart, expected 60, 30, 15, 10, 5 or 1",
                         (double)step / 60);
  t->m.step_minutes = (int)(step / 60);
  return STEADING_OK;
}

/* Where each row begins, and its place in the calendar without 29 February. */
static void place_in_calendar(table_reader *t) {
  for (size_t i = 0; i < t->count; i++) {
    table_row *row = &t->rows[i];
    int month = 0, day = 0;
    int64_t minute = 0, days = 0;
    if (t->layout->interval == STEADING_INTERVAL_ENDING) row->second -= t->step_s;
    minute = (row->second - ((row->second % 60) + 60) % 60) / 60;
    days = (minute - ((minute % 1440) + 1440) % 1440) / 1440;
    steading_date_of_day(days, &row->year, &month, &day);
    row->at_min =
        month == 2 && day == 29
            ? -1
            : (steading_days_before_month[month - 1] + day - 1) * 1440 + minute - days * 1440;
  }
}

/* Drops the rows of 29 February. */
static void drop_leap_days(table_reader *t) {
  size_t kept = 0;
  t->m.read = t->count;
  for (size_t i = 0; i < t->count; i++)
    if (t->rows[i].at_min >= 0) t->rows[kept++] = t->rows[i];
  t->m.leap_rows = t->count - kept;
  t->count = kept;
}

static steading_status check_order(table_reader *t) {
  size_t first_miss = 0;
  for (size_t i = 1; i < t->count && first_miss == 0; i++)
    if (t->rows[i].at_min <= t->rows[i - 1].at_min) first_miss = i;
  t->rising = false;
  if (first_miss == 0) return STEADING_OK; /* one year, whatever the years of its months */
  t->rising = true;
  for (size_t i = 1; i < t->count; i++)
    if (universal_s(&t->rows[i]) <= universal_s(&t->rows[i - 1])) return out_of_order(t, i);
  for (size_t i = 0; i < t->count; i++)
    t->rows[i].at_min += (t->rows[i].year - t->rows[0].year) * year_min;
  /* clocks that are set back: by the offsets, not by the dates */
  for (size_t i = 0; i < t->count; i++)
    t->rows[i].at_min -= t->rows[i].offset_min - t->rows[0].offset_min;
  for (size_t i = 1; i < t->count; i++)
    if (t->rows[i].at_min <= t->rows[i - 1].at_min) return out_of_order(t, i);
  return STEADING_OK;
}

/* Years between the first and the last row that should have had a 29 February and have none. */
static void count_absent_leap_days(table_reader *t) {
  size_t had = t->m.leap_rows * (size_t)t->m.step_minutes / 1440, due = 0;
  const table_row *first = &t->rows[0], *last = &t->rows[t->count - 1];
  if (universal_s(last) - universal_s(first) > ((int64_t)t->years * 366 + 2) * 86400) return;
  for (int year = first->year; year <= last->year; year++) {
    int64_t day = steading_day_number(year, 2, 28);
    if (steading_date_exists(year, 2, 29) && day * 86400 >= first->second &&
        (day + 2) * 86400 <= last->second)
      due++;
  }
  t->leap_days_absent = due > had ? due - had : 0;
}

/* Whole years of rows, from any day on. */
static steading_status check_coverage(table_reader *t) {
  int64_t a_year = year_min / t->m.step_minutes;
  int64_t span = (t->rows[t->count - 1].at_min - t->rows[0].at_min) / t->m.step_minutes + 1,
          whole = 0;
  char first[32], last[32];
  t->years = (size_t)((span + a_year / 2) / a_year);
  if (t->years == 0) t->years = 1;
  whole = (int64_t)t->years * a_year;
  if (span == whole + 1) { /* the instant or step that closes the year opens the next one */
    t->dropped_last = 1;
    t->count--;
    span--;
  }
  date_text(t->rows[0].second, first);
  date_text(t->rows[t->count - 1].second, last);
  /* room is made for every step: stamps of far years must not ask for it without rows */
  if (span <= whole && (int64_t)t->count < span / 2)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "the table has %zu rows for the %lld steps of %d min from %s to %s: more "
                         "than half are missing",
                         t->count, (long long)span, t->m.step_minutes, first, last);
  if (span <= whole && span >= whole - a_year / 100) return STEADING_OK;
  return steading_fail(
      t->m.error, STEADING_BAD_INPUT, t->m.name,
      "the table covers %s to %s, %.4g days; a weather needs whole years (%d days, "
      "or several times as many)",
      first, last, (double)span * t->m.step_minutes / 1440, STEADING_DAYS_PER_YEAR);
}

/* ---- values into steps ---- */

static double to_watts(const table_reader *t, int unit, double value) {
  double step_s = (double)t->step_s;
  switch (unit) {
    case STEADING_WH_PER_M2:
      return value * 3600 / step_s;
    case STEADING_KWH_PER_M2:
      return value * 3.6e6 / step_s;
    case STEADING_KJ_PER_M2:
      return value * 1e3 / step_s;
    case STEADING_MJ_PER_M2:
      return value * 1e6 / step_s;
    case STEADING_J_PER_CM2:
      return value * 1e4 / step_s;
    default:
      return value;
  }
}

static double to_celsius(int unit, double value) {
  switch (unit) {
    case STEADING_KELVIN:
      return value - 273.15;
    case STEADING_FAHRENHEIT:
      return (value - 32) / 1.8;
    case STEADING_TENTH_CELSIUS:
      return value / 10;
    default:
      return value;
  }
}

static double to_m_per_s(int unit, double value) {
  switch (unit) {
    case STEADING_KM_PER_H:
      return value / 3.6;
    case STEADING_KNOTS:
      return value * 1852 / 3600;
    case STEADING_MPH:
      return value * 0.44704;
    case STEADING_TENTH_M_PER_S:
      return value / 10;
    default:
      return value;
  }
}

static double to_unit(const table_reader *t, int quantity, double value) {
  int unit = t->layout->units[quantity];
  if (quantity == STEADING_TEMP) return to_celsius(unit, value);
  if (quantity == STEADING_WIND) return to_m_per_s(unit, value);
  return to_watts(t, unit, value);
}

static steading_status store_row(table_reader *t, const table_row *row, size_t at) {
  t->m.lines[at] = row->line;
  if (t->m.years != NULL) t->m.years[at] = row->year;
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    double value = row->values[q];
    const char *expected = NULL;
    if (isnan(value)) continue;
    value = to_unit(t, q, value);
    if (!steading_measured_bound(&t->m, (steading_quantity)q, &value, &expected))
      return steading_fail(t->m.error, STEADING_BAD_INPUT, steading_measured_at(&t->m, row->line),
                           "%s: found %.6g, which is %.6g %s, expected %s", t->called[q],
                           row->values[q], value, steading_quantity_unit((steading_quantity)q),
                           expected);
    t->m.values[q][at] = value;
  }
  return STEADING_OK;
}

static steading_status store(table_reader *t) {
  int64_t step = t->m.step_minutes, total = (int64_t)t->years * year_min;
  int64_t rest = ((t->rows[0].at_min % step) + step) % step;
  int moved =
      t->layout->shift_minutes + (int)lround(t->m.place.utc_offset_h * 60 - t->rows[0].offset_min);
  size_t last = 0;
  t->m.late = (double)rest / (double)step;
  t->m.instant = t->layout->interval == STEADING_INTERVAL_INSTANT;
  if (!steading_measured_allocate(&t->m, (size_t)(total / step))) return no_memory(t);
  for (size_t i = 0; i < t->count; i++) {
    const table_row *row = &t->rows[i];
    int64_t at = (((row->at_min - rest) % total) + total) % total;
    steading_status status = STEADING_OK;
    if (at % step != 0)
      return steading_fail(t->m.error, STEADING_BAD_INPUT, steading_measured_at(&t->m, row->line),
                           "the row is not a whole number of steps of %d min from the first one",
                           t->m.step_minutes);
    status = store_row(t, row, (size_t)(at / step));
    if (status != STEADING_OK) return status;
  }
  /* a step without a row stands behind the one before it */
  last = t->rows[t->count - 1].line;
  for (size_t i = 0; i < t->m.rows; i++) {
    if (t->m.lines[i] == 0) {
      t->m.absent++;
      t->m.lines[i] = last;
      if (t->m.years != NULL) t->m.years[i] = i == 0 ? t->rows[0].year : t->m.years[i - 1];
    }
    last = t->m.lines[i];
  }
  return steading_measured_shift(&t->m, moved);
}

static steading_status write_notes(const table_reader *t, steading_weather *weather) {
  const steading_table_layout *l = t->layout;
  double moved_h = t->m.place.utc_offset_h - t->rows[0].offset_min / 60.0;
  char first[32], last[32];
  steading_status status = STEADING_OK;
  date_text(t->rows[0].second, first);
  date_text(t->rows[t->count - 1].second, last);
  status = steading_weather_note(
      weather, "header in line %zu, cells divided by %s; rows of %s to %s", t->header_line,
      t->delimiter == ','   ? "commas"
      : t->delimiter == ';' ? "semicolons"
                            : "tabs",
      first, last);
  if (status == STEADING_OK && t->units_line > 0)
    status =
        steading_weather_note(weather, "line %zu holds no numbers: taken as units", t->units_line);
  if (status == STEADING_OK && t->leap_days_absent > 0)
    status = steading_weather_note(weather,
                                   "29 February is absent in %zu leap year%s: rows stand by their "
                                   "dates",
                                   t->leap_days_absent, t->leap_days_absent > 1 ? "s" : "");
  if (status == STEADING_OK && t->dropped_last > 0)
    status = steading_weather_note(weather, "the last row closes the year and is dropped");
  if (status == STEADING_OK && moved_h != 0)
    status = steading_weather_note(weather,
                                   "stamps at %+g h from UT moved to standard time at %+g h; the "
                                   "ends of the file go on into each other",
                                   t->rows[0].offset_min / 60.0, t->m.place.utc_offset_h);
  if (status == STEADING_OK && l->shift_minutes != 0)
    status = steading_weather_note(weather, "all stamps moved by %+d min (shift_minutes)",
                                   l->shift_minutes);
  return status;
}

static steading_status check_layout(table_reader *t) {
  const steading_table_layout *l = t->layout;
  if (l->columns[STEADING_TEMP] == NULL)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "there is no column of air temperature");
  if (l->columns[STEADING_GHI] == NULL &&
      (l->columns[STEADING_DNI] == NULL || l->columns[STEADING_DHI] == NULL))
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "there is no column of global irradiance; without it direct normal and "
                         "diffuse are needed");
  for (int q = STEADING_GHI; q <= STEADING_DHI; q++)
    if (l->columns[q] != NULL && l->interval == STEADING_INTERVAL_INSTANT &&
        l->units[q] != STEADING_W_PER_M2)
      return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                           "column \"%s\": an instant has a power (W/m2), no energy",
                           l->columns[q]);
  return STEADING_OK;
}

static steading_status read_table(table_reader *t, const char *bytes, size_t length) {
  steading_status status = check_layout(t);
  if (status != STEADING_OK) return status;
  if (memchr(bytes, '\0', length < 400 ? length : 400) != NULL)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "is no text in one byte a letter; save it as UTF-8");
  t->delimiter = steading_csv_delimiter(bytes, length);
  status = steading_csv_rows(bytes, length, t->delimiter, take_row, t);
  if (status == STEADING_NO_MEMORY) return no_memory(t);
  if (status != STEADING_OK) return status;
  if (!t->in_rows) return no_header(t);
  if (t->count < 2)
    return steading_fail(t->m.error, STEADING_BAD_INPUT, t->m.name,
                         "the table has %zu rows; a weather needs whole years", t->count);
  if ((status = settle_offsets(t)) || (status = find_step(t))) return status;
  place_in_calendar(t);
  drop_leap_days(t);
  if ((status = check_order(t)) || (status = check_coverage(t))) return status;
  count_absent_leap_days(t);
  status = steading_check_zone(&t->m.place, t->layout->allow, t->m.name, t->m.error);
  return status != STEADING_OK ? status : store(t);
}

steading_status steading_table_weather(const char *bytes, size_t length, const char *name,
                                       const steading_table_layout *layout,
                                       steading_weather **weather, steading_error *error) {
  table_reader *t = calloc(1, sizeof *t);
  steading_status status = STEADING_OK;
  *weather = NULL;
  if (t == NULL) return steading_fail(error, STEADING_NO_MEMORY, name, "not enough memory");
  t->layout = layout;
  t->m = (steading_measured){
      .name = name, .error = error, .place = layout->place, .allow = layout->allow};
  for (int q = 0; q < STEADING_QUANTITIES; q++) {
    if (layout->columns[q] == NULL) continue;
    snprintf(t->called[q], sizeof t->called[q], "column \"%s\"", layout->columns[q]);
    t->m.called[q] = t->called[q];
  }
  status = read_table(t, bytes, length);
  if (status == STEADING_OK) status = steading_measured_weather(&t->m, layout->source, weather);
  if (status == STEADING_OK && write_notes(t, *weather) != STEADING_OK) {
    steading_weather_release(*weather);
    *weather = NULL;
    status = no_memory(t);
  }
  steading_measured_free(&t->m);
  free(t->rows);
  free(t);
  return status;
}
