/* Weather from CSV with a line of keys, a line of their values, a line of column names, then rows
 * whose stamps are instants: the form in which satellite data of the NSRDB kind come (Sengupta et
 * al. 2018, "The National Solar Radiation Data Base (NSRDB)", Renewable and Sustainable Energy
 * Reviews 89, 51-60). */
#include <stdio.h>
#include <string.h>

#include "resource/csv.h"
#include "resource/table_weather.h"

enum {
  LATITUDE,
  LONGITUDE,
  TIME_ZONE,
  ELEVATION,
  LOCAL_ZONE,
  GHI_UNIT,
  DNI_UNIT,
  DHI_UNIT,
  TEMP_UNIT,
  WIND_UNIT,
  WIND_UNITS, /* another name of it */
  KEYS
};

static const char *const key_names[KEYS] = {
    "Latitude",  "Longitude", "Time Zone",         "Elevation",  "Local Time Zone", "GHI Units",
    "DNI Units", "DHI Units", "Temperature Units", "Wind Speed", "Wind Speed Units"};

enum { COLUMN_MINUTE = 4, COLUMN_WIND = 9, COLUMNS = 10 };

static const char *const column_names[COLUMNS] = {
    "Year", "Month", "Day", "Hour", "Minute", "GHI", "DNI", "DHI", "Temperature", "Wind Speed"};

typedef struct head {
  size_t row;
  size_t at[KEYS]; /* cell of each key, from 1; 0: not there */
  bool has_number[KEYS];
  double numbers[KEYS];
  char units[KEYS][16];
  bool has_column[COLUMNS];
  bool whole;
} head;

static steading_status read_head(void *context, size_t line, const steading_slice *cells,
                                 size_t count) {
  head *h = context;
  (void)line;
  h->row++;
  for (size_t k = 0; k < KEYS; k++) {
    for (size_t i = 0; h->row == 1 && i < count; i++)
      if (steading_slice_is(cells[i], key_names[k])) h->at[k] = i + 1;
    if (h->row == 2 && h->at[k] > 0 && h->at[k] <= count) {
      steading_slice cell = cells[h->at[k] - 1];
      h->has_number[k] = steading_slice_number(cell, &h->numbers[k]);
      snprintf(h->units[k], sizeof h->units[k], "%.*s",
               (int)(cell.end - cell.start > 15 ? 15 : cell.end - cell.start), cell.start);
    }
  }
  for (size_t c = 0; h->row == 3 && c < COLUMNS; c++)
    for (size_t i = 0; i < count; i++)
      if (steading_slice_is(cells[i], column_names[c])) h->has_column[c] = true;
  h->whole = h->row == 3;
  return h->whole ? STEADING_FAULT : STEADING_OK; /* no further row is wanted */
}

bool steading_weather_is_keyed(const char *bytes, size_t length) {
  head h = {0};
  const char *end = bytes + length, *at = bytes;
  steading_slice line;
  for (int i = 0; i < 3; i++)
    if (!steading_next_line(&at, end, &line)) return false;
  steading_csv_rows(bytes, (size_t)(at - bytes), ',', read_head, &h);
  return h.whole && h.at[LATITUDE] > 0 && h.at[LONGITUDE] > 0 && h.at[TIME_ZONE] > 0 &&
         h.has_column[0] && h.has_column[1] && h.has_column[2] && h.has_column[3];
}

static steading_status check_key(const head *h, int key, double low, double high, bool needed,
                                 const char *name, steading_error *error) {
  if (h->at[key] == 0 && !needed) return STEADING_OK;
  if (h->has_number[key] && h->numbers[key] >= low && h->numbers[key] <= high) return STEADING_OK;
  return steading_fail(error, STEADING_BAD_INPUT, name,
                       "line 2, cell %zu (%s): found \"%s\", expected a number from %g to %g",
                       h->at[key], key_names[key], h->units[key], low, high);
}

/* A unit that is said has to be the one that is read. */
static steading_status check_unit(const head *h, int key, const char *expected, const char *name,
                                  steading_error *error) {
  steading_slice said = {h->units[key], h->units[key] + strlen(h->units[key])};
  if (h->at[key] == 0 || said.start == said.end || steading_slice_is(said, expected))
    return STEADING_OK;
  return steading_fail(error, STEADING_BAD_INPUT, name,
                       "line 2, cell %zu (%s): found \"%s\", expected \"%s\"; give columns = {...} "
                       "to read it as a table",
                       h->at[key], key_names[key], h->units[key], expected);
}

static steading_status check_head(const head *h, const char *name, steading_error *error) {
  steading_status status = STEADING_OK;
  if ((status = check_key(h, LATITUDE, -90, 90, true, name, error)) ||
      (status = check_key(h, LONGITUDE, -180, 180, true, name, error)) ||
      (status = check_key(h, TIME_ZONE, -12, 14, true, name, error)) ||
      (status = check_key(h, LOCAL_ZONE, -12, 14, false, name, error)) ||
      (status = check_key(h, ELEVATION, -500, 9000, false, name, error)) ||
      (status = check_unit(h, GHI_UNIT, "w/m2", name, error)) ||
      (status = check_unit(h, DNI_UNIT, "w/m2", name, error)) ||
      (status = check_unit(h, DHI_UNIT, "w/m2", name, error))) {
    return status;
  }
  if (h->has_column[COLUMN_WIND] && ((status = check_unit(h, WIND_UNIT, "m/s", name, error)) ||
                                     (status = check_unit(h, WIND_UNITS, "m/s", name, error))))
    return status;
  return check_unit(h, TEMP_UNIT, "c", name, error);
}

steading_status steading_weather_read_keyed(const char *bytes, size_t length, const char *name,
                                            const steading_read_options *options,
                                            steading_weather **weather, steading_error *error) {
  static const steading_read_options nothing_said = {0};
  const steading_read_options *said = options != NULL ? options : &nothing_said;
  head h = {0};
  steading_table_layout layout = {.source = "keyed csv",
                                  .time = {"Year", "Month", "Day", "Hour", "Minute"},
                                  .interval = STEADING_INTERVAL_INSTANT,
                                  .has_stamp_offset = true,
                                  .has_zone_offset = true,
                                  .allow = said->allow,
                                  .shift_minutes = said->shift_minutes};
  steading_status status = steading_csv_rows(bytes, length, ',', read_head, &h);
  *weather = NULL;
  if (!h.whole)
    return steading_fail(error, status == STEADING_NO_MEMORY ? status : STEADING_BAD_INPUT, name,
                         "the file ends before its third line");
  status = check_head(&h, name, error);
  if (status != STEADING_OK) return status;
  layout.time_count = h.has_column[COLUMN_MINUTE] ? 5 : 4;
  layout.time_format = h.has_column[COLUMN_MINUTE] ? "%Y %m %d %H %M" : "%Y %m %d %H";
  layout.columns[STEADING_GHI] = h.has_column[5] ? column_names[5] : NULL;
  layout.columns[STEADING_DNI] = h.has_column[6] ? column_names[6] : NULL;
  layout.columns[STEADING_DHI] = h.has_column[7] ? column_names[7] : NULL;
  layout.columns[STEADING_TEMP] = h.has_column[8] ? column_names[8] : NULL;
  layout.columns[STEADING_WIND] = h.has_column[COLUMN_WIND] ? column_names[COLUMN_WIND] : NULL;
  layout.place = (steading_place){.latitude_deg = h.numbers[LATITUDE],
                                  .longitude_deg = h.numbers[LONGITUDE],
                                  .elevation_m = h.numbers[ELEVATION]};
  layout.stamp_offset_h = said->has_utc_offset ? said->utc_offset_h : h.numbers[TIME_ZONE];
  layout.zone_offset_h = h.at[LOCAL_ZONE] > 0 ? h.numbers[LOCAL_ZONE] : layout.stamp_offset_h;
  status = steading_table_weather(bytes, length, name, &layout, weather, error);
  if (status == STEADING_OK && said->has_utc_offset && said->utc_offset_h != h.numbers[TIME_ZONE])
    status =
        steading_weather_note(*weather, "the file says %+g h from UT; utc_offset_h = %g stands",
                              h.numbers[TIME_ZONE], said->utc_offset_h);
  return status;
}
