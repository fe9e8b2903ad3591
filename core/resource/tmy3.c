/* Weather from TMY3 in its own form: a line of the station, a line of column names, then one row an
 * hour. Wilcox and Marion 2008, "Users manual for TMY3 data sets", NREL/TP-581-43156: hours end at
 * their label, 01:00 to 24:00, in local standard time. */
#include <string.h>

#include "resource/csv.h"
#include "resource/table_weather.h"

static const char date_column[] = "Date (MM/DD/YYYY)";

/* By name: a file may lack what can be had from the others. */
static const char *const columns[STEADING_QUANTITIES] = {[STEADING_TEMP] = "Dry-bulb (C)",
                                                         [STEADING_GHI] = "GHI (W/m^2)",
                                                         [STEADING_DNI] = "DNI (W/m^2)",
                                                         [STEADING_DHI] = "DHI (W/m^2)",
                                                         [STEADING_WIND] = "Wspd (m/s)"};

typedef struct station {
  double numbers[4]; /* time zone, latitude, longitude, elevation */
  bool read, has_names;
  bool has_column[STEADING_QUANTITIES];
  const char *name; /* of the file */
  steading_error *error;
} station;

bool steading_weather_is_tmy3(const char *bytes, size_t length) {
  const char *end = bytes + length, *at = steading_behind_mark(bytes, end);
  steading_slice line;
  for (int i = 0; i < 2; i++)
    if (!steading_next_line(&at, end, &line)) return false;
  if (line.start < line.end && *line.start == '"') line.start++;
  return steading_slice_starts(line, date_column);
}

static steading_status read_station(void *context, size_t line, const steading_slice *cells,
                                    size_t count) {
  static const struct {
    const char *name;
    double low, high;
  } fields[4] = {{"time zone", -12, 14},
                 {"latitude", -90, 90},
                 {"longitude", -180, 180},
                 {"elevation", -500, 9000}};
  station *s = context;
  (void)line;
  if (s->read) { /* the names */
    for (int q = 0; q < STEADING_QUANTITIES; q++)
      for (size_t i = 0; i < count; i++)
        if (steading_slice_equals(cells[i], columns[q])) s->has_column[q] = true;
    s->has_names = true;
    return STEADING_FAULT; /* no further row is wanted */
  }
  for (size_t i = 0; i < 4; i++) {
    steading_slice text = {"", ""};
    if (3 + i < count) text = cells[3 + i];
    if (!steading_slice_number(text, &s->numbers[i]) || s->numbers[i] < fields[i].low ||
        s->numbers[i] > fields[i].high)
      return steading_fail(s->error, STEADING_BAD_INPUT, s->name,
                           "line 1, cell %zu (%s): found \"%.*s\", expected a number from %g to %g",
                           4 + i, fields[i].name,
                           (int)(text.end - text.start > 40 ? 40 : text.end - text.start),
                           text.start, fields[i].low, fields[i].high);
  }
  s->read = true;
  return STEADING_OK;
}

steading_status steading_weather_read_tmy3(const char *bytes, size_t length, const char *name,
                                           const steading_read_options *options,
                                           steading_weather **weather, steading_error *error) {
  static const steading_read_options nothing_said = {0};
  const steading_read_options *said = options != NULL ? options : &nothing_said;
  station s = {.name = name, .error = error};
  steading_table_layout layout = {.source = "tmy3",
                                  .time = {date_column, "Time (HH:MM)"},
                                  .time_count = 2,
                                  .time_format = "%m/%d/%Y %H:%M",
                                  .interval = STEADING_INTERVAL_ENDING,
                                  .has_stamp_offset = true,
                                  .has_zone_offset = true,
                                  .allow = said->allow,
                                  .shift_minutes = said->shift_minutes};
  steading_status status = steading_csv_rows(bytes, length, ',', read_station, &s);
  *weather = NULL;
  if (!s.has_names) {
    if (status == STEADING_NO_MEMORY)
      return steading_fail(error, status, name, "not enough memory");
    return status != STEADING_OK ? status
                                 : steading_fail(error, STEADING_BAD_INPUT, name,
                                                 "the file ends before its second line");
  }
  for (int q = 0; q < STEADING_QUANTITIES; q++)
    if (s.has_column[q]) layout.columns[q] = columns[q];
  layout.place = (steading_place){.utc_offset_h = s.numbers[0],
                                  .latitude_deg = s.numbers[1],
                                  .longitude_deg = s.numbers[2],
                                  .elevation_m = s.numbers[3]};
  layout.zone_offset_h = said->has_utc_offset ? said->utc_offset_h : s.numbers[0];
  layout.stamp_offset_h = layout.zone_offset_h;
  status = steading_table_weather(bytes, length, name, &layout, weather, error);
  if (status == STEADING_OK && said->has_utc_offset && said->utc_offset_h != s.numbers[0])
    status =
        steading_weather_note(*weather, "the file says %+g h from UT; utc_offset_h = %g stands",
                              s.numbers[0], said->utc_offset_h);
  return status;
}
