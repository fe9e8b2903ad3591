#include "fuzz/targets.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "files/zone.h"
#include "resource/csv.h"
#include "resource/months.h"
#include "resource/stamp.h"
#include "resource/table_weather.h"

static void promise(bool kept, const char *what) {
  if (kept) return;
  fprintf(stderr, "broken: %s\n", what);
  abort();
}

/* ---- what every reader promises ---- */

static void check_weather(const steading_weather *w) {
  for (size_t i = 0; i < w->steps; i++) {
    const steading_sun_step *sun = &w->sun[i % w->steps_per_year];
    double ghi = w->ghi_w_per_m2[i], dhi = w->dhi_w_per_m2[i], dni = w->dni_w_per_m2[i];
    promise(isfinite(w->temp_c[i]) && w->temp_c[i] >= -90 && w->temp_c[i] <= 60, "temperature");
    promise(ghi >= 0 && ghi <= 4000 && dhi >= 0 && dhi <= ghi, "global and diffuse");
    promise(dni >= 0 && dni <= sun->extraterrestrial_w_per_m2 * sun->lit_share, "beam");
    promise(fabs(dhi + dni * sun->up - ghi) < 1e-6, "closure");
    if (w->wind_m_per_s != NULL)
      promise(w->wind_m_per_s[i] >= 0 && w->wind_m_per_s[i] <= 75, "wind");
  }
  for (size_t i = 0; i < w->note_count; i++)
    promise(strstr(w->notes[i], "nan") == NULL && strstr(w->notes[i], "inf") == NULL, "notes");
}

/* A refusal names its reason and leaves nothing. */
static void check_outcome(steading_status status, steading_weather *weather,
                          const steading_error *error) {
  if (status == STEADING_OK) {
    promise(weather != NULL, "a weather that is there");
    check_weather(weather);
    steading_weather_release(weather);
    return;
  }
  promise(status == STEADING_BAD_INPUT || status == STEADING_NO_MEMORY, "the status");
  promise(weather == NULL, "no weather beside an error");
  promise(error->text[0] != '\0' && error->path[0] != '\0', "the words of an error");
}

/* ---- readers of weather, fed the bytes themselves ---- */

typedef bool (*told)(const char *bytes, size_t length);
typedef steading_status (*reader)(const char *bytes, size_t length, const char *name,
                                  const steading_read_options *options, steading_weather **weather,
                                  steading_error *error);

static void read_as(told is, reader read, const char *bytes, size_t length,
                    const steading_read_options *options) {
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  steading_status status = STEADING_OK;
  is(bytes, length);
  status = read(bytes, length, "x", options, &weather, &error);
  check_outcome(status, weather, &error);
}

static void run_epw(const unsigned char *bytes, size_t length) {
  read_as(steading_weather_is_epw, steading_weather_read_epw, (const char *)bytes, length, NULL);
}

static void run_tmy3(const unsigned char *bytes, size_t length) {
  read_as(steading_weather_is_tmy3, steading_weather_read_tmy3, (const char *)bytes, length, NULL);
}

static void run_keyed(const unsigned char *bytes, size_t length) {
  read_as(steading_weather_is_keyed, steading_weather_read_keyed, (const char *)bytes, length,
          NULL);
}

static steading_table_layout layout_of(unsigned kind) {
  static const char *const formats[4] = {NULL, "%d.%m.%Y %H:%M", "%Y%j%H%M", "%m/%d/%y %I:%M %p"};
  steading_table_layout layout = {
      .source = "table",
      .time = {"t", "u"},
      .time_count = kind & 64 ? 2 : 1,
      .time_format = formats[kind & 3],
      .columns = {"a", "g", kind & 4 ? "n" : NULL, kind & 8 ? "d" : NULL, kind & 16 ? "w" : NULL},
      .units = {(int)(kind >> 8 & 3), (int)(kind >> 10) % 6, (int)(kind >> 10) % 6, 0,
                (int)(kind >> 8) % 5},
      .interval = (steading_interval)((kind >> 12) % 3),
      .place = {.latitude_deg = 35.1, .longitude_deg = -106.6, .elevation_m = 1620},
      .has_stamp_offset = (kind & 32) == 0,
      .stamp_offset_h = -7,
      .has_zone_offset = (kind & 128) != 0,
      .zone_offset_h = -7};
  return layout;
}

/* The first two bytes choose what is said of the table. */
static void run_table(const unsigned char *bytes, size_t length) {
  steading_table_layout layout;
  steading_weather *weather = (steading_weather *)1;
  steading_error error = {0};
  steading_status status = STEADING_OK;
  if (length < 2) return;
  layout = layout_of((unsigned)bytes[0] | (unsigned)bytes[1] << 8);
  status =
      steading_table_weather((const char *)bytes + 2, length - 2, "x", &layout, &weather, &error);
  check_outcome(status, weather, &error);
}

/* ---- whole years with faults, so that what follows the rows is reached ---- */

enum { HOURS = STEADING_HOURS_PER_YEAR, CELLS = 24, HEADS = 9, MOST_ROWS = HOURS + 400 };

typedef struct cell {
  char text[16];
} cell;

typedef struct year {
  const char *head[HEADS];
  char own_head[HEADS][256];
  size_t heads, cells;
  cell (*rows)[CELLS];
  size_t count;
} year;

/* Bytes of an input that are taken one by one; 0 behind the end. */
typedef struct script {
  const unsigned char *at, *end;
} script;

static unsigned take(script *s) { return s->at < s->end ? *s->at++ : 0; }

static unsigned take_two(script *s) {
  unsigned low = take(s);
  return low | take(s) << 8;
}

static void write_cell(cell *c, const char *format, double value) {
  snprintf(c->text, sizeof c->text, format, value);
}

enum { EPW, TMY3, KEYED, TABLE, KINDS };

/* An invented year of clearness 0.6 in one of the forms, made once. */
static void make_year(year *y, unsigned kind) {
  static cell made[KINDS][HOURS][CELLS];
  static size_t cells[KINDS];
  static const char *const heads[KINDS][HEADS] = {
      {"LOCATION,Ranch,NM,USA,x,999999,35.10,-106.60,-7.0,1620.0", "DESIGN CONDITIONS,0",
       "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"},
      {"999999,\"RANCH\",NM,-7.0,35.1,-106.6,1620",
       "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),Dry-bulb (C),Wspd "
       "(m/s)"},
      {"Latitude,Longitude,Time Zone,Elevation", "35.1,-106.6,-7,1620",
       "Year,Month,Day,Hour,Minute,GHI,DNI,DHI,Temperature,Wind Speed"},
      {"t,g,n,d,a,w"}};
  static steading_sun_step sun[HOURS];
  if (sun[12].lit_share <= 0) steading_sun_year(35.1, -106.6, -7, 60, sun);
  y->heads = 0;
  while (y->heads < HEADS && heads[kind][y->heads] != NULL) {
    y->head[y->heads] = heads[kind][y->heads];
    y->heads++;
  }
  y->count = HOURS;
  y->cells = cells[kind];
  for (int i = 0; cells[kind] == 0 && i < HOURS; i++) {
    double ghi = 0.6 * sun[i].extraterrestrial_w_per_m2 * sun[i].up * sun[i].lit_share;
    double values[5] = {ghi, sun[i].up > 0 ? 0.7 * ghi / sun[i].up : 0, 0.3 * ghi,
                        10 + i % 24 / 4.0, 1 + i % 5};
    int month = 0, day = 0, first = 0;
    cell *row = made[kind][i];
    steading_month_of_day(i / 24, &month, &day);
    if (kind == EPW) {
      static const int at[5] = {13, 14, 15, 6, 21};
      y->cells = 22;
      for (int c = 0; c < 22; c++) strcpy(row[c].text, "0");
      write_cell(&row[0], "%.0f", 1990 + month % 4);
      write_cell(&row[1], "%.0f", month);
      write_cell(&row[2], "%.0f", day);
      write_cell(&row[3], "%.0f", i % 24 + 1);
      for (int q = 0; q < 5; q++) write_cell(&row[at[q]], "%.1f", values[q]);
      continue;
    }
    if (kind == TMY3) {
      snprintf(row[0].text, sizeof row[0].text, "%02d/%02d/%d", month, day, 1990 + month % 4);
      snprintf(row[1].text, sizeof row[1].text, "%02d:00", i % 24 + 1);
      first = 2;
    } else if (kind == KEYED) {
      double stamp[5] = {2028, month, day, i % 24, 30};
      for (int c = 0; c < 5; c++) write_cell(&row[c], "%.0f", stamp[c]);
      first = 5;
    } else {
      snprintf(row[0].text, sizeof row[0].text, "%d%02d%02d %02d00", 2027, month, day, i % 24);
      first = 1;
    }
    for (int q = 0; q < 5; q++) write_cell(&row[first + q], "%.1f", values[q]);
    y->cells = (size_t)first + 5;
  }
  cells[kind] = y->cells;
  memcpy(y->rows, made[kind], sizeof made[kind]);
}

/* Texts that files hold in place of a value, and a free one. */
static void take_text(script *s, char *text, size_t room) {
  static const char *const known[] = {"",     "9999", "99.9", "-9900", "-",  "NaN", "0", "-1",
                                      "1400", "999",  "60",   "30",    "24", "29",  "2", "1e9"};
  unsigned which = take(s);
  size_t length = 0;
  if (which < sizeof known / sizeof known[0]) {
    snprintf(text, room, "%s", known[which]);
    return;
  }
  for (which %= 16; length < which && length + 1 < room; length++) text[length] = (char)take(s);
  text[length] = '\0';
}

static void spoil(year *y, script *s) {
  unsigned what = take(s) % 6;
  size_t row = take_two(s) % y->count, column = take(s) % y->cells, n = 1;
  char text[16];
  switch (what) {
    case 0: /* a cell, or a run of them down the column */
    case 1:
      if (what == 1) n = take_two(s) % (HOURS + 1);
      take_text(s, text, sizeof text);
      for (size_t i = row; i < row + n && i < y->count; i++) strcpy(y->rows[i][column].text, text);
      break;
    case 2: /* rows that are not there */
      n = take(s);
      if (n >= y->count - row) n = y->count - row - 1;
      memmove(y->rows[row], y->rows[row + n], (y->count - row - n) * sizeof *y->rows);
      y->count -= n;
      break;
    case 3: /* rows twice */
      n = take(s) % 32;
      if (n > y->count - row) n = y->count - row;
      if (y->count + n > MOST_ROWS) break;
      memmove(y->rows[row + n], y->rows[row], (y->count - row) * sizeof *y->rows);
      y->count += n;
      break;
    case 4: { /* part of a header line */
      size_t line = row % y->heads, length = 0;
      snprintf(y->own_head[line], sizeof y->own_head[line], "%s", y->head[line]);
      length = strlen(y->own_head[line]);
      y->head[line] = y->own_head[line];
      take_text(s, text, sizeof text);
      for (size_t i = 0; text[i] != '\0' && i < length; i++)
        y->own_head[line][(column * 7 + i) % length] = text[i];
      break;
    }
    default: /* two columns change places */
      n = take(s) % y->cells;
      for (size_t i = 0; i < y->count; i++) {
        cell kept = y->rows[i][column];
        y->rows[i][column] = y->rows[i][n];
        y->rows[i][n] = kept;
      }
  }
}

static char *write_year(const year *y, char delimiter, size_t *length) {
  char *text = malloc(HEADS * 260 + y->count * y->cells * sizeof(cell)), *p = text;
  if (text == NULL) abort();
  for (size_t i = 0; i < y->heads; i++) p += sprintf(p, "%s\n", y->head[i]);
  for (size_t i = 0; i < y->count; i++)
    for (size_t c = 0; c < y->cells; c++) {
      size_t cell_length = strlen(y->rows[i][c].text);
      memcpy(p, y->rows[i][c].text, cell_length);
      p += cell_length;
      *p++ = c + 1 < y->cells ? delimiter : '\n';
    }
  *length = (size_t)(p - text);
  return text;
}

/* The first bytes choose the form and what is said beside it, the rest what is spoiled. */
static void run_year(const unsigned char *bytes, size_t length) {
  static const told is[3] = {steading_weather_is_epw, steading_weather_is_tmy3,
                             steading_weather_is_keyed};
  static const reader read[3] = {steading_weather_read_epw, steading_weather_read_tmy3,
                                 steading_weather_read_keyed};
  script s = {bytes, bytes + length};
  unsigned kind = take(&s) % KINDS, said = take(&s);
  steading_read_options options = {.allow = said & 3,
                                   .shift_minutes = (int)(take(&s) % 128) * 7 - 440,
                                   .has_utc_offset = (said & 4) != 0,
                                   .utc_offset_h = (double)(said >> 3) - 12};
  year y = {.rows = malloc(MOST_ROWS * sizeof *y.rows)};
  char *text = NULL;
  size_t size = 0;
  if (y.rows == NULL) abort();
  make_year(&y, kind);
  for (int i = 0; i < 8 && s.at < s.end; i++) spoil(&y, &s);
  text = write_year(&y, ',', &size);
  if (kind == TABLE) {
    steading_table_layout layout = layout_of(28);
    steading_weather *weather = (steading_weather *)1;
    steading_error error = {0};
    steading_status status = STEADING_OK;
    layout.time_format = "%Y%m%d %H%M";
    layout.allow = options.allow;
    layout.shift_minutes = options.shift_minutes;
    layout.interval = (steading_interval)((said >> 3) % 3);
    layout.units[STEADING_GHI] = said >> 5 == 1 ? STEADING_WH_PER_M2 : STEADING_W_PER_M2;
    status = steading_table_weather(text, size, "x", &layout, &weather, &error);
    check_outcome(status, weather, &error);
  } else {
    read_as(is[kind], read[kind], text, size, &options);
  }
  free(text);
  free(y.rows);
}

/* ---- stamps, rows of CSV, zone files ---- */

/* A line of the format (none: ISO 8601), then the text. */
static void run_stamp(const unsigned char *bytes, size_t length) {
  char format[64];
  const unsigned char *end = memchr(bytes, '\n', length);
  size_t size = end == NULL ? 0 : (size_t)(end - bytes);
  steading_slice text = {(const char *)bytes + (end == NULL ? 0 : size + 1),
                         (const char *)bytes + length};
  steading_stamp stamp = {0};
  if (size >= sizeof format || memchr(bytes, '\0', size) != NULL) return;
  memcpy(format, bytes, size);
  format[size] = '\0';
  if (size > 0 && !steading_stamp_format_known(format)) return;
  if (!steading_stamp_read(steading_slice_trimmed(text), size > 0 ? format : NULL, &stamp)) return;
  promise(stamp.second >= steading_day_number(0, 1, 1) * 86400 &&
              stamp.second <= steading_day_number(10000, 1, 1) * 86400,
          "the year of a stamp");
  promise(abs(stamp.offset_min) < 16 * 60, "the offset of a stamp");
}

static steading_status count_cells(void *context, size_t line, const steading_slice *cells,
                                   size_t count) {
  size_t *seen = context;
  promise(line > 0 && count > 0, "a row of cells");
  for (size_t i = 0; i < count; i++) {
    double value = 0;
    promise(cells[i].start <= cells[i].end, "a cell's ends");
    if (steading_slice_number(cells[i], &value)) promise(isfinite(value), "a number");
    *seen += (size_t)(cells[i].end - cells[i].start);
  }
  return STEADING_OK;
}

static void run_csv(const unsigned char *bytes, size_t length) {
  size_t seen = 0;
  char delimiter = steading_csv_delimiter((const char *)bytes, length);
  promise(
      steading_csv_rows((const char *)bytes, length, delimiter, count_cells, &seen) == STEADING_OK,
      "rows of any bytes");
  promise(seen <= length, "no more than there was");
}

static void run_zone(const unsigned char *bytes, size_t length) {
  static const int64_t instants[] = {INT64_MIN,  -62135596800, -1,           0,
                                     1750000000, 4102444800,   253402300800, INT64_MAX};
  steading_zone *zone = (steading_zone *)1;
  steading_error error = {0};
  steading_status status = steading_zone_read(bytes, length, "x", &zone, &error);
  if (status != STEADING_OK) {
    promise(zone == NULL && error.text[0] != '\0', "an error of a zone");
    return;
  }
  for (size_t i = 0; i < sizeof instants / sizeof instants[0]; i++) {
    int32_t offset = steading_zone_offset_s(zone, instants[i]);
    promise(offset > -8 * 86400 && offset < 8 * 86400, "an offset");
  }
  promise(abs(steading_zone_standard_offset_s(zone)) < 8 * 86400, "the standard offset");
  steading_zone_free(zone);
}

/* ---- seeds ---- */

#define SEED(text) \
  { text, sizeof text - 1 }

static const fuzz_seed epw_seeds[] = {
    SEED("LOCATION,\"A, b\",-,X,x,0,35.10,-106.60,-7.0,1620.0,,\r\nHOLIDAYS/DAYLIGHT "
         "SAVINGS,Yes,4/ 1,10/28,0\r\nDATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\r\n"
         "1990,1,1,1,0,?9,1.5,0,50,84000,0,0,0,0,0,0,0,0,0,0,180,2.0,5\r\n"
         "1990,1,1,2,60,?9,1.5,0,50,84000,0,0,0,9999,,-0.5,0,0,0,0,180,999,5\r\n"),
    SEED("\xEF\xBB\xBFLOCATION,A,-,X,x,0,-35,133.88,9.5,0\nDATA PERIODS,1,4,Data,Sunday,1/1,12/31\n"
         "1990,1,1,1,15,?9,1,0,50,84000,0,0,0,0,0,0\n1990,1,1,1,30,?9,1,0,50,84000,0,0,0,0,0,0\n"),
    {NULL, 0}};

static const fuzz_seed tmy3_seeds[] = {
    SEED("9,\"A, B\",AZ,-7.0,32.1,-110.95,777\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI "
         "(W/m^2),DHI (W/m^2),Dry-bulb (C),Wspd (m/s)\n"
         "01/01/2002,01:00,0,0,0,7.2,2.1\n01/01/2002,24:00,-9900,0,,99.9,-9900\n"),
    {NULL, 0}};

static const fuzz_seed keyed_seeds[] = {
    SEED("Source,Latitude,Longitude,Time Zone,Elevation,Local Time Zone,DHI Units,Wind Speed\n"
         "x,29.25,-100.34,-6,341,-6,w/m2,m/s\nYear,Month,Day,Hour,Minute,DHI,DNI,GHI,Wind "
         "Speed,Temperature\n2016,1,1,0,0,0,0,0,3.1,12.5\n2016,1,1,0,30,0,0,0,3.0,12.0\n"),
    {NULL, 0}};

static const fuzz_seed table_seeds[] = {
    SEED("\x1c\x00t,g,n,d,a,w\n2027-01-01T00:00,0,0,0,1,2\n2027-01-01T01:00,0,0,0,1,2\n"),
    SEED("\x51\x04key;x\n\nt;u;g;a;w\n;;[Wh/m2];[C];[m/s]\n01.01.2027;00:00;0,5;-;3\n"
         "01.01.2027;00:30;1,5;2,0;3;\n"),
    {NULL, 0}};

static const fuzz_seed stamp_seeds[] = {SEED("\n2027-06-01T12:30:15.250+02:00"),
                                        SEED("%d.%m.%Y  %H:%M\n01.04.2031   0:15"),
                                        SEED("%I:%M %p %d/%m/%y\n12:00 am 1/1/69"),
                                        SEED("%Y %j %H%z\n2028 60 7-0330"),
                                        {NULL, 0}};

static const fuzz_seed csv_seeds[] = {
    SEED("\xEF\xBB\xBF# a comment\r\n\"a, \"\"b\"\"\",2;3\t4\r\n\r\n1.5e3,-.5,+7.,0x10,nan\n"
         "\"open\nline\",1\n!x\n"),
    SEED("a;b;c;\n1,5;2.5;\"\";\n"),
    {NULL, 0}};

static const fuzz_seed zone_seeds[] = {
    /* version 2: one kind of local time, one change, the footer's rule */
    SEED("TZif2\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\1\0\0\0\4"
         "\0\0\0\0\0\0UTC\0"
         "TZif2\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\1\0\0\0\2\0\0\0\4"
         "\0\0\0\0\1\0\0\0\1\0\0\0\0\0\0\0\0\16\20\1\0CET\0\nCET-1CEST,M3.5.0,M10.5.0/3\n"),
    {NULL, 0}};

static const fuzz_seed year_seeds[] = {
    SEED("\0\3\77"),
    SEED("\1\3\77"),
    SEED("\2\3\77"),
    SEED("\3\3\77"),
    SEED("\0\3\77\1\0\10\15\6\0\1"), /* global missing for six hours */
    SEED("\1\3\77\2\100\0\0\1"),     /* a row is not there */
    SEED("\2\3\77\1\0\0\5\70\42\1"), /* a column is missing throughout */
    SEED("\3\3\77\1\0\0\2\70\42\1"),
    SEED("\0\3\100\1\0\1\25\5\0\11"), /* wind missing for five hours, an odd shift */
    {NULL, 0}};

/* Nothing changed, one change after the other, and structs made of nothing. */
static const fuzz_seed site_seeds[] = {
    SEED("\0"),
    SEED("\61\5\0\0\2\0\100\100"),
    SEED("\63\5\0\1\6\0\200\300\5\0\1\7\0\40\40\5\0\1\3\0\50\60\70\100\110\120"),
    SEED("\161\5\1\0\2\1\60\60\60\60\60\60"),
    SEED("\200\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40\40"),
    {NULL, 0}};

const fuzz_target fuzz_targets[] = {
    {"epw", run_epw, epw_seeds},       {"tmy3", run_tmy3, tmy3_seeds},
    {"keyed", run_keyed, keyed_seeds}, {"table", run_table, table_seeds},
    {"stamp", run_stamp, stamp_seeds}, {"csv", run_csv, csv_seeds},
    {"zone", run_zone, zone_seeds},    {"year", run_year, year_seeds},
    {"site", fuzz_site, site_seeds},   {NULL, NULL, NULL}};

const fuzz_target *fuzz_target_named(const char *name) {
  for (const fuzz_target *t = fuzz_targets; t->name != NULL; t++)
    if (strcmp(t->name, name) == 0) return t;
  return NULL;
}
