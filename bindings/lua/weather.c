/* steading.weather: synthesize, read, and the weather object. */
#include "resource/weather.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "files/files.h"
#include "files/zone.h"
#include "resource/months.h"
#include "resource/refine.h"
#include "resource/stamp.h"
#include "resource/table_weather.h"
#include "script.h"
#include "site/fields.h"

static const char type_name[] = "steading.weather";

steading_weather *steading_lua_weather(lua_State *L, int index) {
  steading_weather **weather = luaL_testudata(L, index, type_name);
  return weather == NULL ? NULL : *weather;
}

static int weather_gc(lua_State *L) {
  steading_weather **weather = luaL_checkudata(L, 1, type_name);
  if (*weather != NULL) steading_weather_release(*weather);
  *weather = NULL;
  return 0;
}

static steading_weather **push_empty(lua_State *L) {
  steading_weather **weather = lua_newuserdatauv(L, sizeof *weather, 0);
  *weather = NULL;
  luaL_setmetatable(L, type_name);
  return weather;
}

/* Hours that a zone's standard time is ahead of UT; the zone must exist. */
static double zone_offset_h(lua_State *L, const char *name, const char *path) {
  steading_error error = {.status = STEADING_OK};
  steading_zone *zone = NULL;
  double offset_h = 0;
  steading_status status = steading_zone_load(name, &zone, &error);
  if (status == STEADING_OK) {
    offset_h = steading_zone_standard_offset_s(zone) / 3600.0;
    steading_zone_free(zone);
    if (strlen(name) >= sizeof((steading_weather *)NULL)->time_zone)
      status = steading_fail(&error, STEADING_BAD_INPUT, path, "the name is too long");
  }
  if (status != STEADING_OK) {
    snprintf(error.path, sizeof error.path, "%s", path);
    steading_lua_raise(L, &error);
  }
  return offset_h;
}

static void require_place(lua_State *L, const char *field, bool present) {
  steading_error error;
  if (present) return;
  steading_fail(&error, STEADING_BAD_INPUT, lua_pushfstring(L, "synthesize.place.%s", field),
                "required");
  steading_lua_raise(L, &error);
}

/* A synthetic weather has the hash of what it was made from, field by field. */
static void hash_climate(const steading_climate *c, char sha256[65]) {
  char text[2048];
  int used =
      snprintf(text, sizeof text, "%a %a %a %a %d %llu %d %d %d %a", c->place.latitude_deg,
               c->place.longitude_deg, c->place.elevation_m, c->place.utc_offset_h, c->years,
               (unsigned long long)c->seed, c->exact_months, c->days, c->has_wind, c->wind_shape);
  for (int m = 0; m < 12; m++)
    used +=
        snprintf(text + used, sizeof text - (size_t)used, " %a %a %a %a", c->ghi_kwh_per_m2_day[m],
                 c->temp_mean_c[m], c->temp_range_c[m], c->wind_m_per_s[m]);
  steading_sha256(text, (size_t)used, sha256);
}

static void tell_size(lua_State *L, const steading_weather *weather);

static void set_record_low(steading_weather *weather, const steading_place_fields *place) {
  if (place == NULL || !steading_record_given(place, "record_low_c")) return;
  weather->has_record_low = true;
  weather->record_low_c = place->record_low_c;
}

static int weather_synthesize(lua_State *L) {
  const steading_climate_fields *fields = NULL;
  const steading_place_fields *place = NULL;
  steading_climate climate = {0};
  steading_error error = {.status = STEADING_OK};
  steading_weather **weather = NULL;
  steading_status status = STEADING_OK;
  double offset_h = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  steading_lua_no_more(L, 1, "weather.synthesize");
  fields = steading_lua_read(L, 1, &steading_climate_fields_spec, "synthesize");
  place = fields->place;
  require_place(L, "latitude_deg", steading_record_given(place, "latitude_deg"));
  require_place(L, "longitude_deg", steading_record_given(place, "longitude_deg"));
  require_place(L, "time_zone", steading_record_given(place, "time_zone"));
  offset_h = zone_offset_h(L, place->time_zone, "synthesize.place.time_zone");
  climate.place = (steading_place){.latitude_deg = place->latitude_deg,
                                   .longitude_deg = place->longitude_deg,
                                   .elevation_m = place->elevation_m,
                                   .utc_offset_h = offset_h};
  /* across the date line a zone may be a day ahead: the difference counts within the day */
  if (fabs(remainder(place->longitude_deg / 15 - offset_h, 24)) > 3) {
    steading_fail(&error, STEADING_BAD_INPUT, "synthesize.place.time_zone",
                  "%s is %+g h, longitude %g deg is near %+.1f h; is the sign of the longitude "
                  "right?",
                  place->time_zone, offset_h, place->longitude_deg, place->longitude_deg / 15);
    return steading_lua_raise(L, &error);
  }
  memcpy(climate.ghi_kwh_per_m2_day, fields->ghi_kwh_per_m2_day, sizeof climate.ghi_kwh_per_m2_day);
  memcpy(climate.temp_mean_c, fields->temp_mean_c, sizeof climate.temp_mean_c);
  memcpy(climate.temp_range_c, fields->temp_range_c, sizeof climate.temp_range_c);
  climate.has_wind = steading_record_given(fields, "wind_m_per_s");
  if (climate.has_wind)
    memcpy(climate.wind_m_per_s, fields->wind_m_per_s, sizeof climate.wind_m_per_s);
  climate.wind_shape = fields->wind_shape;
  climate.days = (steading_days)fields->days;
  climate.years = (int)fields->years;
  climate.seed = (uint64_t)fields->seed;
  climate.exact_months = fields->exact_months;
  weather = push_empty(L);
  steading_engine_enter(L);
  status = steading_weather_synthesize(&climate, weather, &error);
  steading_engine_leave();
  if (status != STEADING_OK) {
    const char *path = lua_pushfstring(L, "synthesize.%s", error.path);
    snprintf(error.path, sizeof error.path, "%s", path);
    return steading_lua_raise(L, &error);
  }
  strcpy((*weather)->time_zone, place->time_zone);
  set_record_low(*weather, place);
  hash_climate(&climate, (*weather)->sha256);
  tell_size(L, *weather);
  return 1;
}

/* A mapped file that the collector unmaps, whatever happens. */
typedef struct mapping {
  const char *bytes;
  size_t length;
} mapping;

static int unmap(lua_State *L) {
  mapping *file = lua_touserdata(L, 1);
  steading_file_unmap(file->bytes, file->length);
  file->bytes = NULL;
  return 0;
}

static mapping *push_mapping(lua_State *L) {
  mapping *file = lua_newuserdatauv(L, sizeof *file, 0);
  *file = (mapping){.bytes = NULL};
  steading_lua_set_gc(L, "steading.mapping", unmap);
  return file;
}

/* columns.ghi = { "global", unit = "W/m2" } is { name = "global", unit = "W/m2" }: pushes the
 * options with every column in that form; the script's own tables stay as they are. */
static void push_copy(lua_State *L, int index) {
  index = lua_absindex(L, index);
  lua_newtable(L);
  for (lua_pushnil(L); lua_next(L, index) != 0;) { /* copy key value */
    lua_pushvalue(L, -2);
    lua_insert(L, -2); /* copy key key value */
    lua_settable(L, -4);
  }
}

static void name_column(lua_State *L) { /* column -> named column */
  steading_lua_content(L);
  if (lua_type(L, -1) == LUA_TSTRING) {
    lua_newtable(L);
    lua_insert(L, -2);
    lua_setfield(L, -2, "name");
    return;
  }
  if (lua_type(L, -1) != LUA_TTABLE) return;
  push_copy(L, -1);
  lua_remove(L, -2);
  if (lua_getfield(L, -1, "name") == LUA_TNIL) {
    lua_rawgeti(L, -2, 1);
    lua_setfield(L, -3, "name");
    lua_pushnil(L);
    lua_rawseti(L, -3, 1);
  }
  lua_pop(L, 1);
}

static void push_read_options(lua_State *L, int index) {
  static const char *const columns[] = {"ghi", "dni", "dhi", "temp", "wind"};
  lua_pushvalue(L, index);
  steading_lua_content(L);
  if (lua_type(L, -1) != LUA_TTABLE) return;
  push_copy(L, -1); /* options copy */
  lua_remove(L, -2);
  lua_getfield(L, -1, "columns"); /* copy columns */
  steading_lua_content(L);
  if (lua_type(L, -1) == LUA_TTABLE) {
    push_copy(L, -1); /* copy columns copied */
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
      if (lua_getfield(L, -1, columns[i]) != LUA_TNIL) {
        name_column(L);
        lua_setfield(L, -2, columns[i]);
      } else {
        lua_pop(L, 1);
      }
    }
    lua_setfield(L, -3, "columns");
  }
  lua_pop(L, 1);
}

static void lay_out(steading_table_layout *layout, steading_quantity quantity, const char *name,
                    int unit) {
  layout->columns[quantity] = name;
  layout->units[quantity] = unit;
}

/* What a person says of a plain table. */
static steading_table_layout layout_of(lua_State *L, const steading_read_fields *options) {
  const steading_table_columns *columns = options->columns;
  const steading_place_fields *place = options->place;
  steading_table_layout layout = {
      .source = "table",
      .time = {columns->date != NULL ? columns->date : columns->time, columns->time},
      .time_count = columns->date != NULL ? 2 : 1,
      .time_format = options->time_format,
      .interval = (steading_interval)options->interval,
      .has_stamp_offset = steading_record_given(options, "utc_offset_h"),
      .stamp_offset_h = options->utc_offset_h,
      .allow = options->allow,
      .shift_minutes = (int)options->shift_minutes};
  if (place == NULL || !steading_record_given(place, "latitude_deg"))
    steading_lua_fail(L, "read.place.latitude_deg: required with columns");
  if (!steading_record_given(place, "longitude_deg"))
    steading_lua_fail(L, "read.place.longitude_deg: required with columns");
  if (options->time_format != NULL && !steading_stamp_format_known(options->time_format))
    steading_lua_fail(L,
                      "read.time_format: found \"%s\", expected a date and an hour of %%Y %%y %%m "
                      "%%d %%j, %%H or %%I with %%p, and %%M %%S %%z",
                      options->time_format);
  lay_out(&layout, STEADING_TEMP, columns->temp->name, columns->temp->unit);
  if (columns->ghi != NULL) lay_out(&layout, STEADING_GHI, columns->ghi->name, columns->ghi->unit);
  if (columns->dni != NULL) lay_out(&layout, STEADING_DNI, columns->dni->name, columns->dni->unit);
  if (columns->dhi != NULL) lay_out(&layout, STEADING_DHI, columns->dhi->name, columns->dhi->unit);
  if (columns->wind != NULL)
    lay_out(&layout, STEADING_WIND, columns->wind->name, columns->wind->unit);
  layout.place = (steading_place){.latitude_deg = place->latitude_deg,
                                  .longitude_deg = place->longitude_deg,
                                  .elevation_m = place->elevation_m};
  if (place->time_zone != NULL) {
    layout.has_zone_offset = true;
    layout.zone_offset_h = zone_offset_h(L, place->time_zone, "read.place.time_zone");
  }
  return layout;
}

/* The formats that describe themselves. */
typedef struct format {
  bool (*is)(const char *bytes, size_t length);
  steading_status (*read)(const char *bytes, size_t length, const char *name,
                          const steading_read_options *options, steading_weather **weather,
                          steading_error *error);
} format;

static const format formats[] = {{steading_weather_is_epw, steading_weather_read_epw},
                                 {steading_weather_is_tmy3, steading_weather_read_tmy3},
                                 {steading_weather_is_keyed, steading_weather_read_keyed}};

static steading_status read_bytes(const mapping *file, const char *path,
                                  const steading_read_options *options,
                                  const steading_table_layout *layout, steading_weather **weather,
                                  steading_error *error) {
  if (layout != NULL)
    return steading_table_weather(file->bytes, file->length, path, layout, weather, error);
  for (size_t i = 0; i < sizeof formats / sizeof formats[0]; i++)
    if (formats[i].is(file->bytes, file->length))
      return formats[i].read(file->bytes, file->length, path, options, weather, error);
  if (file->length > 0 &&
      memchr(file->bytes, '\0', file->length < 400 ? file->length : 400) != NULL)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "is no text in one byte a letter (an archive, or UTF-16); unpack it, or "
                         "save it as UTF-8");
  return steading_fail(error, STEADING_BAD_INPUT, path,
                       "is not a weather file whose content says what it is (EPW, TMY3, CSV with "
                       "keys and values); give columns = { ... } for a plain table");
}

/* Reads a file; the weather is pushed. */
static steading_weather **push_file(lua_State *L, const char *path,
                                    const steading_read_options *options,
                                    const steading_table_layout *layout) {
  steading_error error = {.status = STEADING_OK};
  mapping *file = push_mapping(L);
  steading_weather **weather = push_empty(L);
  steading_status status = STEADING_OK;
  steading_engine_enter(L);
  status = steading_file_map(path, &file->bytes, &file->length, &error);
  if (status == STEADING_OK) status = read_bytes(file, path, options, layout, weather, &error);
  steading_engine_leave();
  if (status != STEADING_OK) steading_lua_raise(L, &error);
  steading_sha256(file->bytes, file->length, (*weather)->sha256);
  steading_file_unmap(file->bytes, file->length);
  file->bytes = NULL;
  lua_remove(L, -2);
  if (!steading_script_input(steading_script_of(L), path, (*weather)->sha256))
    steading_lua_fail(L, "not enough memory");
  return weather;
}

/* Options that change what is read belong to the hash: the same bytes are then another weather. */
static void hash_options(lua_State *L, const steading_read_fields *options, char sha256[65]) {
  const steading_table_columns *c = options->columns;
  const char *text = NULL;
  size_t length = 0;
  if (c == NULL && options->shift_minutes == 0 && !steading_record_given(options, "utc_offset_h"))
    return;
  lua_pushfstring(L, "%s %d %d %f", sha256, (int)options->shift_minutes,
                  steading_record_given(options, "utc_offset_h"), options->utc_offset_h);
  if (c != NULL) {
    const steading_place_fields *place = options->place;
    lua_pushfstring(L, "\n%s\n%s\n%d %f %f %f\n%s\n%d\n%s\n", c->time,
                    options->time_format != NULL ? options->time_format : "", options->interval,
                    place->latitude_deg, place->longitude_deg, place->elevation_m, c->temp->name,
                    c->temp->unit, place->time_zone != NULL ? place->time_zone : "");
    lua_pushfstring(L, "%s %d\n%s %d\n%s %d", c->ghi != NULL ? c->ghi->name : "",
                    c->ghi != NULL ? c->ghi->unit : -1, c->dni != NULL ? c->dni->name : "",
                    c->dni != NULL ? c->dni->unit : -1, c->dhi != NULL ? c->dhi->name : "",
                    c->dhi != NULL ? c->dhi->unit : -1);
    lua_pushfstring(L, "\n%s\n%s %d", c->date != NULL ? c->date : "",
                    c->wind != NULL ? c->wind->name : "", c->wind != NULL ? c->wind->unit : -1);
    lua_concat(L, 4);
  }
  text = lua_tolstring(L, -1, &length);
  steading_sha256(text, length, sha256);
  lua_pop(L, 1);
}

/* Reads the files of the list at 1 and pushes the weather of all their years. */
static steading_weather **push_files(lua_State *L, const steading_read_options *options,
                                     const steading_table_layout *layout) {
  size_t count = (size_t)lua_rawlen(L, 1);
  steading_weather **joined = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  const char **names = NULL;
  steading_weather **parts = NULL;
  luaL_Buffer hashes;
  const char *text = NULL;
  size_t length = 0;
  if (count == 0 || count > 1000)
    steading_lua_fail(L, "weather.read: found a list of %d paths, expected 1 to 1000", (int)count);
  names = lua_newuserdatauv(L, count * sizeof *names, 0);
  parts = lua_newuserdatauv(L, count * sizeof *parts, 0);
  luaL_checkstack(L, (int)count + 16, "too many files");
  for (size_t i = 0; i < count; i++) {
    lua_rawgeti(L, 1, (lua_Integer)i + 1);
    if (lua_type(L, -1) != LUA_TSTRING)
      steading_lua_fail(L, "weather.read: item %d of the list is no path", (int)i + 1);
    names[i] = lua_tostring(L, -1); /* the list keeps it */
    lua_pop(L, 1);
    parts[i] = *push_file(L, names[i], options, layout);
  }
  joined = push_empty(L);
  steading_engine_enter(L);
  status = steading_weather_join(parts, names, count, joined, &error);
  steading_engine_leave();
  if (status != STEADING_OK) steading_lua_raise(L, &error);
  luaL_buffinit(L, &hashes);
  for (size_t i = 0; i < count; i++) luaL_addstring(&hashes, parts[i]->sha256);
  luaL_pushresult(&hashes);
  text = lua_tolstring(L, -1, &length);
  steading_sha256(text, length, (*joined)->sha256);
  lua_pop(L, 1);
  return joined;
}

/* The zone name that a file does not carry; its standard time has to be that of the file. */
static void set_zone(lua_State *L, const char *zone, steading_weather *weather) {
  steading_error error = {.status = STEADING_OK};
  double offset_h = 0;
  if (zone == NULL) {
    steading_weather_note(weather,
                          "no time_zone given: civil time is standard time (%+g h) all year",
                          weather->place.utc_offset_h);
    return;
  }
  offset_h = zone_offset_h(L, zone, "read.place.time_zone");
  if (fabs(offset_h - weather->place.utc_offset_h) > 1e-9) {
    steading_fail(&error, STEADING_BAD_INPUT, "read.place.time_zone",
                  "the standard time of %s is %+g h, that of the file %+g h", zone, offset_h,
                  weather->place.utc_offset_h);
    steading_lua_raise(L, &error);
  }
  strcpy(weather->time_zone, zone);
}

static int weather_read(lua_State *L) {
  const steading_read_fields *options = NULL;
  steading_read_options said = {0};
  steading_table_layout layout;
  const steading_table_layout *of_table = NULL;
  steading_weather **weather = NULL;
  if (lua_type(L, 1) != LUA_TTABLE) luaL_checkstring(L, 1);
  steading_lua_no_more(L, 2, "weather.read");
  lua_settop(L, 2);
  push_read_options(L, 2);
  options = steading_lua_read(L, -1, &steading_read_fields_spec, "read");
  if (options->columns != NULL) {
    layout = layout_of(L, options);
    of_table = &layout;
  } else if (options->place != NULL && (steading_record_given(options->place, "latitude_deg") ||
                                        steading_record_given(options->place, "longitude_deg") ||
                                        steading_record_given(options->place, "elevation_m"))) {
    return steading_lua_fail(
        L, "read.place: the file says where it is; only time_zone and record_low_c can be given");
  }
  said = (steading_read_options){.allow = options->allow,
                                 .shift_minutes = (int)options->shift_minutes,
                                 .has_utc_offset = steading_record_given(options, "utc_offset_h"),
                                 .utc_offset_h = options->utc_offset_h};
  weather = lua_type(L, 1) == LUA_TTABLE ? push_files(L, &said, of_table)
                                         : push_file(L, lua_tostring(L, 1), &said, of_table);
  hash_options(L, options, (*weather)->sha256);
  set_zone(L, options->place != NULL ? options->place->time_zone : NULL, *weather);
  set_record_low(*weather, options->place);
  tell_size(L, *weather);
  return 1;
}

static void push_place(lua_State *L, const steading_weather *weather) {
  lua_createtable(L, 0, 5);
  lua_pushnumber(L, weather->place.latitude_deg);
  lua_setfield(L, -2, "latitude_deg");
  lua_pushnumber(L, weather->place.longitude_deg);
  lua_setfield(L, -2, "longitude_deg");
  lua_pushnumber(L, weather->place.elevation_m);
  lua_setfield(L, -2, "elevation_m");
  lua_pushnumber(L, weather->place.utc_offset_h);
  lua_setfield(L, -2, "utc_offset_h");
  lua_pushstring(L, weather->time_zone);
  lua_setfield(L, -2, "time_zone");
  if (weather->has_record_low) {
    lua_pushnumber(L, weather->record_low_c);
    lua_setfield(L, -2, "record_low_c");
  }
  steading_lua_strict(L, "place");
}

static steading_weather *check_weather(lua_State *L, const char *method) {
  steading_weather *weather = steading_lua_weather(L, 1);
  if (weather == NULL) steading_lua_fail(L, "expected a weather; write weather:%s", method);
  return weather;
}

/* Frame: a row for each month of each year. */
static int weather_monthly(lua_State *L) {
  enum { COLUMNS = 9 };
  static const char *const names[COLUMNS] = {
      "year",        "month",         "ghi_kwh_per_m2", "dni_kwh_per_m2",   "dhi_kwh_per_m2",
      "temp_mean_c", "temp_lowest_c", "temp_highest_c", "wind_mean_m_per_s"};
  static const bool is_text[COLUMNS] = {false};
  const steading_weather *weather = check_weather(L, "monthly()");
  const size_t columns = weather->wind_m_per_s != NULL ? COLUMNS : COLUMNS - 1;
  steading_table *table = NULL;
  steading_lua_no_more(L, 1, "weather:monthly");
  table = steading_lua_push_frame(L, columns, names, is_text, NULL, NULL);
  for (size_t y = 0, row = 0; y < weather->years; y++)
    for (int m = 0; m < 12; m++, row++) {
      steading_weather_month month = steading_weather_month_of(weather, y, m);
      double cells[COLUMNS] = {(double)y + 1,          m + 1,
                               month.ghi_kwh_per_m2,   month.dni_kwh_per_m2,
                               month.dhi_kwh_per_m2,   month.temp_mean_c,
                               month.temp_lowest_c,    month.temp_highest_c,
                               month.wind_mean_m_per_s};
      if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
      for (size_t c = 0; c < columns; c++) table->columns[c].numbers[row] = cells[c];
    }
  return 1;
}

/* Pushes the weather of these years' months. */
static int push_months(lua_State *L, const steading_weather *from, const size_t years_of[12]) {
  steading_weather **made = push_empty(L);
  char text[65 + 12 * 24];
  size_t used = 0;
  steading_engine_enter(L);
  *made = steading_weather_of_months(from, years_of);
  steading_engine_leave();
  if (*made == NULL) return steading_lua_fail(L, "not enough memory");
  used = (size_t)snprintf(text, sizeof text, "%s", from->sha256);
  for (int m = 0; m < 12; m++)
    used += (size_t)snprintf(text + used, sizeof text - used, " %zu", years_of[m]);
  steading_sha256(text, used, (*made)->sha256);
  tell_size(L, *made);
  return 1;
}

static int weather_year(lua_State *L) {
  const steading_weather *weather = check_weather(L, "year(n)");
  lua_Integer year = luaL_checkinteger(L, 2);
  size_t years_of[12];
  steading_lua_no_more(L, 2, "weather:year");
  if (year < 1 || year > (lua_Integer)weather->years)
    return steading_lua_fail(L, "weather:year: found %d, expected 1 to %d", (int)year,
                             (int)weather->years);
  for (int m = 0; m < 12; m++) years_of[m] = (size_t)year - 1;
  return push_months(L, weather, years_of);
}

static int weather_typical(lua_State *L) {
  const steading_weather *weather = check_weather(L, "typical()");
  size_t years_of[12];
  steading_lua_no_more(L, 1, "weather:typical");
  if (steading_weather_typical(weather, years_of) != STEADING_OK)
    return steading_lua_fail(L, "not enough memory");
  return push_months(L, weather, years_of);
}

static int weather_refine(lua_State *L) {
  const steading_weather *from = check_weather(L, "refine { ... }");
  const steading_refine_fields *fields = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_weather **made = NULL;
  steading_status status = STEADING_OK;
  char text[65 + 64];
  int used = 0;
  luaL_checktype(L, 2, LUA_TTABLE);
  steading_lua_no_more(L, 2, "weather:refine");
  fields = steading_lua_read(L, 2, &steading_refine_fields_spec, "refine");
  made = push_empty(L);
  steading_engine_enter(L);
  status = steading_weather_refine(from, (int)fields->step_minutes, (uint64_t)fields->seed, made,
                                   &error);
  steading_engine_leave();
  if (status != STEADING_OK) {
    const char *path = lua_pushfstring(L, "refine.%s", error.path);
    snprintf(error.path, sizeof error.path, "%s", path);
    return steading_lua_raise(L, &error);
  }
  used = snprintf(text, sizeof text, "refine %s %d %llu", from->sha256, (int)fields->step_minutes,
                  (unsigned long long)fields->seed);
  steading_sha256(text, (size_t)used, (*made)->sha256);
  tell_size(L, *made);
  return 1;
}

static int weather_index(lua_State *L) {
  static const char *const names[] = {
      "place",   "years",  "step_minutes",      "sha256", "notes", "monthly", "year",
      "typical", "refine", "longest_dull_days", NULL};
  const steading_weather *weather = *(steading_weather **)luaL_checkudata(L, 1, type_name);
  const char *name = luaL_checkstring(L, 2);
  if (strcmp(name, "place") == 0) {
    push_place(L, weather);
  } else if (strcmp(name, "years") == 0) {
    lua_pushinteger(L, (lua_Integer)weather->years);
  } else if (strcmp(name, "step_minutes") == 0) {
    lua_pushinteger(L, weather->step_minutes);
  } else if (strcmp(name, "sha256") == 0) {
    lua_pushstring(L, weather->sha256);
  } else if (strcmp(name, "notes") == 0) {
    lua_createtable(L, (int)weather->note_count, 0);
    for (size_t i = 0; i < weather->note_count; i++) {
      lua_pushstring(L, weather->notes[i]);
      lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
  } else if (strcmp(name, "monthly") == 0) {
    lua_pushcfunction(L, weather_monthly);
  } else if (strcmp(name, "year") == 0) {
    lua_pushcfunction(L, weather_year);
  } else if (strcmp(name, "typical") == 0) {
    lua_pushcfunction(L, weather_typical);
  } else if (strcmp(name, "refine") == 0) {
    lua_pushcfunction(L, weather_refine);
  } else if (strcmp(name, "longest_dull_days") == 0) {
    lua_pushinteger(L, (lua_Integer)steading_weather_dull_run(weather).days);
  } else {
    return steading_lua_unknown(L, "weather", name, names);
  }
  return 1;
}

/* Lua does not see the size of a weather: let its collector go on by as much. */
static void tell_size(lua_State *L, const steading_weather *weather) {
  size_t series = weather->wind_m_per_s != NULL ? 5 : 4;
  lua_gc(L, LUA_GCSTEP, (int)(weather->steps * series * sizeof(double) / 1024));
}

void steading_open_weather(lua_State *L) {
  static const luaL_Reg functions[] = {
      {"synthesize", weather_synthesize}, {"read", weather_read}, {NULL, NULL}};
  static const luaL_Reg events[] = {{"__gc", weather_gc}, {"__index", weather_index}, {NULL, NULL}};
  luaL_newmetatable(L, type_name);
  luaL_setfuncs(L, events, 0);
  lua_pushliteral(L, "protected");
  lua_setfield(L, -2, "__metatable");
  lua_pop(L, 1);
  luaL_newlib(L, functions);
  steading_lua_strict(L, "steading.weather");
  lua_setfield(L, -2, "weather");
}
