/* steading.weather: synthesize, read, and the weather object. */
#include "resource/weather.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "files/files.h"
#include "files/zone.h"
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
  int used = snprintf(text, sizeof text, "%a %a %a %a %d %llu %d", c->place.latitude_deg,
                      c->place.longitude_deg, c->place.elevation_m, c->place.utc_offset_h, c->years,
                      (unsigned long long)c->seed, c->exact_months);
  for (int m = 0; m < 12; m++)
    used += snprintf(text + used, sizeof text - (size_t)used, " %a %a %a", c->ghi_kwh_per_m2_day[m],
                     c->temp_mean_c[m], c->temp_range_c[m]);
  steading_sha256(text, (size_t)used, sha256);
}

static void tell_size(lua_State *L, const steading_weather *weather);

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
  climate.years = (int)fields->years;
  climate.seed = (uint64_t)fields->seed;
  climate.exact_months = fields->exact_months;
  weather = push_empty(L);
  steading_engine_enter();
  status = steading_weather_synthesize(&climate, weather, &error);
  steading_engine_leave();
  if (status != STEADING_OK) {
    const char *path = lua_pushfstring(L, "synthesize.%s", error.path);
    snprintf(error.path, sizeof error.path, "%s", path);
    return steading_lua_raise(L, &error);
  }
  strcpy((*weather)->time_zone, place->time_zone);
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

static int weather_read(lua_State *L) {
  const char *path = NULL;
  const steading_read_fields *options = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_weather **weather = NULL;
  mapping *file = NULL;
  steading_status status = STEADING_OK;
  if (lua_type(L, 1) == LUA_TTABLE)
    return steading_lua_fail(
        L, "weather.read: a list of files is not yet carried out by this version");
  path = luaL_checkstring(L, 1);
  steading_lua_no_more(L, 2, "weather.read");
  options = steading_lua_read(L, 2, &steading_read_fields_spec, "read");
  if (options->place != NULL && (steading_record_given(options->place, "latitude_deg") ||
                                 steading_record_given(options->place, "longitude_deg") ||
                                 steading_record_given(options->place, "elevation_m")))
    return steading_lua_fail(L,
                             "read.place: the file says where it is; only time_zone can be given");
  file = push_mapping(L);
  weather = push_empty(L);
  steading_engine_enter();
  status = steading_file_map(path, &file->bytes, &file->length, &error);
  if (status == STEADING_OK) {
    if (steading_weather_is_epw(file->bytes, file->length))
      status = steading_weather_read_epw(file->bytes, file->length, path, weather, &error);
    else
      status = steading_fail(&error, STEADING_BAD_INPUT, path,
                             "is not a weather file that this version reads (EPW, which begins "
                             "with LOCATION)");
  }
  steading_engine_leave();
  if (status != STEADING_OK) return steading_lua_raise(L, &error);
  steading_sha256(file->bytes, file->length, (*weather)->sha256);
  steading_file_unmap(file->bytes, file->length);
  file->bytes = NULL;
  if (!steading_script_input(steading_script_of(L), path, (*weather)->sha256))
    return steading_lua_fail(L, "not enough memory");
  if (options->place != NULL && options->place->time_zone != NULL) {
    const char *zone = options->place->time_zone;
    double offset_h = zone_offset_h(L, zone, "read.place.time_zone");
    if (fabs(offset_h - (*weather)->place.utc_offset_h) > 1e-9) {
      steading_fail(&error, STEADING_BAD_INPUT, "read.place.time_zone",
                    "the standard time of %s is %+g h, that of the file %+g h", zone, offset_h,
                    (*weather)->place.utc_offset_h);
      return steading_lua_raise(L, &error);
    }
    strcpy((*weather)->time_zone, zone);
  } else
    steading_weather_note(*weather,
                          "no time_zone given: civil time is standard time (%+g h) all year",
                          (*weather)->place.utc_offset_h);
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
  steading_lua_strict(L, "place");
}

/* Frame: month, ghi_kwh_per_m2_day, temp_mean_c: means over all years. */
static int weather_monthly(lua_State *L) {
  static const char *const names[] = {"month", "ghi_kwh_per_m2_day", "temp_mean_c"};
  static const bool is_text[] = {false, false, false};
  const steading_weather *weather = steading_lua_weather(L, 1);
  steading_table *table = NULL;
  luaL_argcheck(L, weather != NULL, 1, "expected a weather; write weather:monthly()");
  table = steading_lua_push_frame(L, 3, names, is_text, NULL, NULL);
  for (int m = 0; m < 12; m++) {
    const int *first = &steading_days_before_month[m];
    double ghi = 0, temp = 0, days = first[1] - first[0];
    if (steading_table_add_row(table) != STEADING_OK) steading_lua_fail(L, "not enough memory");
    for (size_t y = 0; y < weather->years; y++)
      for (int h = first[0] * 24; h < first[1] * 24; h++) {
        ghi += weather->ghi_w_per_m2[y * STEADING_HOURS_PER_YEAR + (size_t)h];
        temp += weather->temp_c[y * STEADING_HOURS_PER_YEAR + (size_t)h];
      }
    table->columns[0].numbers[m] = m + 1;
    table->columns[1].numbers[m] = ghi / 1000 / days / (double)weather->years;
    table->columns[2].numbers[m] = temp / 24 / days / (double)weather->years;
  }
  return 1;
}

static int not_yet(lua_State *L) {
  return steading_lua_fail(L, "not yet carried out by this version");
}

static int weather_index(lua_State *L) {
  static const char *const names[] = {"place",   "years", "step_minutes", "sha256", "notes",
                                      "monthly", "year",  "typical",      "refine", NULL};
  const steading_weather *weather = *(steading_weather **)luaL_checkudata(L, 1, type_name);
  const char *name = luaL_checkstring(L, 2);
  if (strcmp(name, "place") == 0) {
    push_place(L, weather);
  } else if (strcmp(name, "years") == 0) {
    lua_pushinteger(L, (lua_Integer)weather->years);
  } else if (strcmp(name, "step_minutes") == 0) {
    lua_pushinteger(L, 60);
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
  } else if (strcmp(name, "year") == 0 || strcmp(name, "typical") == 0 ||
             strcmp(name, "refine") == 0) {
    lua_pushcfunction(L, not_yet);
  } else {
    return steading_lua_unknown(L, "weather", name, names);
  }
  return 1;
}

/* Lua does not see the size of a weather: let its collector go on by as much. */
static void tell_size(lua_State *L, const steading_weather *weather) {
  lua_gc(L, LUA_GCSTEP, (int)(weather->steps * 4 * sizeof(double) / 1024));
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
