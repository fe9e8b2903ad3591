/* What a script can ask the engine's parts directly: the functions that the site uses inside. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>

#include "calendar.h"
#include "demand/water.h"
#include "plant/array.h"
#include "plant/incidence.h"
#include "plant/inverter.h"
#include "plant/inverter_weights.h"
#include "resource/sky.h"
#include "resource/sun.h"
#include "script.h"
#include "site/fields.h"

static const double degree = M_PI / 180;

static void set_number(lua_State *L, const char *name, double value) {
  lua_pushnumber(L, value);
  lua_setfield(L, -2, name);
}

/* "2003-10-17T19:30:30Z" as days from 2000-01-01 12:00 UT. */
static bool read_instant(const char *text, double *days) {
  int year = 0, month = 0, day = 0, hour = 0, minute = 0, end = 0;
  double second = 0;
  if (sscanf(text, "%4d-%2d-%2dT%2d:%2d:%lfZ%n", &year, &month, &day, &hour, &minute, &second,
             &end) != 6 ||
      end == 0 || text[end] != '\0')
    return false;
  if (!steading_date_exists(year, month, day) || hour > 23 || hour < 0 || minute < 0 ||
      minute > 59 || !(second >= 0 && second < 61))
    return false;
  *days = (double)(steading_day_number(year, month, day) - steading_day_number(2000, 1, 1)) - 0.5 +
          (hour + (minute + second / 60) / 60) / 24;
  return true;
}

static int sun_position(lua_State *L) {
  const steading_ask_sun *ask = NULL;
  steading_sun_query query = {0};
  steading_sun sun;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_sun_spec, "sun.position");
  if (!read_instant(ask->utc, &query.days_from_2000))
    return steading_lua_fail(L,
                             "sun.position.utc: found \"%s\", expected an instant such as "
                             "\"2003-10-17T19:30:30Z\"",
                             ask->utc);
  query.latitude_deg = ask->latitude_deg;
  query.longitude_deg = ask->longitude_deg;
  query.temp_c = ask->temp_c;
  /* ICAO standard atmosphere */
  query.pressure_pa = steading_record_given(ask, "pressure_pa")
                          ? ask->pressure_pa
                          : 101325 * pow(1 - 2.25577e-5 * ask->elevation_m, 5.25588);
  steading_sun_position(&query, &sun);
  lua_createtable(L, 0, 6);
  set_number(L, "zenith_deg", sun.zenith_deg);
  set_number(L, "elevation_deg", sun.elevation_deg);
  set_number(L, "apparent_elevation_deg", sun.apparent_elevation_deg);
  set_number(L, "azimuth_deg", sun.azimuth_deg);
  set_number(L, "declination_deg", sun.declination_deg);
  set_number(L, "equation_of_time_min", sun.equation_of_time_min);
  steading_lua_strict(L, "sun");
  return 1;
}

static int sky_on_plane(lua_State *L) {
  const steading_ask_plane *ask = NULL;
  steading_plane_light light;
  steading_sky_sun sun;
  double zenith = 0, tilt = 0, cos_incidence = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_plane_spec, "sky.on_plane");
  zenith = ask->zenith_deg * degree;
  tilt = ask->tilt_deg * degree;
  cos_incidence = cos(zenith) * cos(tilt) +
                  sin(zenith) * sin(tilt) * cos((ask->sun_azimuth_deg - ask->azimuth_deg) * degree);
  if (ask->tilt_deg == 0) cos_incidence = cos(zenith);
  sun = steading_sky_sun_of(cos(zenith), ask->extraterrestrial_w_per_m2);
  steading_sky_on_plane((steading_sky_model)ask->sky_model, ask->ghi_w_per_m2, ask->dni_w_per_m2,
                        ask->dhi_w_per_m2, &sun, cos_incidence, cos(tilt), sin(tilt), ask->albedo,
                        &light);
  lua_createtable(L, 0, 5);
  set_number(L, "beam_w_per_m2", light.beam_w_per_m2);
  set_number(L, "from_sky_w_per_m2", light.from_sky_w_per_m2);
  set_number(L, "from_ground_w_per_m2", light.from_ground_w_per_m2);
  set_number(L, "total_w_per_m2",
             light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2);
  set_number(L, "incidence_deg", acos(fmax(-1, fmin(1, cos_incidence))) / degree);
  steading_lua_strict(L, "light");
  return 1;
}

static int sky_diffuse_fraction(lua_State *L) {
  double kt = luaL_checknumber(L, 1);
  luaL_argcheck(L, kt >= 0 && kt <= 2, 1, "expected a clearness index, 0..2");
  lua_pushnumber(L, steading_sky_diffuse_fraction(kt));
  return 1;
}

static int pv_incidence_modifier(lua_State *L) {
  const steading_ask_incidence *ask = NULL;
  steading_incidence_glass glass;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_incidence_spec, "pv.incidence_modifier");
  glass = (steading_incidence_glass){.model = (steading_incidence_model)ask->model,
                                     .a_r = steading_record_given(ask, "a_r") ? ask->a_r : 0.16,
                                     .b0 = steading_record_given(ask, "b0") ? ask->b0 : 0.05};
  lua_pushnumber(
      L, ask->angle_deg >= 90 ? 0 : steading_incidence_beam(&glass, cos(ask->angle_deg * degree)));
  return 1;
}

static int pv_cell_temperature(lua_State *L) {
  const steading_ask_cell *ask = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_cell_spec, "pv.cell_temperature");
  lua_pushnumber(L,
                 steading_cell_temperature_c(
                     &(steading_cell_heating){.model = STEADING_CELL_NOCT, .noct_c = ask->noct_c},
                     ask->temp_c, ask->plane_w_per_m2, 0));
  return 1;
}

static int pv_inverter(lua_State *L) {
  static const double usual[] = {0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1};
  const steading_ask_inverter *ask = NULL;
  const double *shares = usual;
  size_t count = sizeof usual / sizeof usual[0];
  double left = 1;
  steading_inverter_curve curve;
  steading_inverter_miss miss;
  steading_error error = {.status = STEADING_OK};
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_inverter_spec, "pv.inverter");
  if (steading_inverter_curve_of(ask->unit, "pv.inverter.unit", &curve, &miss, &error) !=
      STEADING_OK)
    return steading_lua_raise(L, &error);
  if (ask->shares != NULL) {
    shares = ask->shares->values;
    count = ask->shares->count;
  }
  if (steading_record_given(ask, "temp_c"))
    left = steading_inverter_derated_share(ask->unit, ask->temp_c);
  lua_createtable(L, 0, 9);
  lua_createtable(L, (int)count, 0);
  for (size_t i = 0; i < count; i++) {
    lua_pushnumber(L, steading_inverter_efficiency(&curve, shares[i] * curve.rating_kw));
    lua_rawseti(L, -2, (lua_Integer)i + 1);
  }
  lua_setfield(L, -2, "efficiencies");
  set_number(L, "european_efficiency", steading_inverter_european_efficiency(&curve));
  set_number(L, "californian_efficiency", steading_inverter_californian_efficiency(&curve));
  set_number(L, "idle_w", 1000 * curve.idle_kw);
  set_number(L, "night_w",
             1000 * (curve.idle_kw - steading_inverter_night_saving_kw(ask->unit, &curve)));
  set_number(L, "share_of_power", curve.b);
  set_number(L, "share_at_rating", curve.c);
  set_number(L, "largest_miss", miss.share);
  set_number(L, "ac_kw", curve.rating_kw * left);
  steading_lua_strict(L, "inverter");
  return 1;
}

static int water_pump_kw(lua_State *L) {
  const steading_ask_pump *ask = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_pump_spec, "water.pump_kw");
  lua_pushnumber(L, steading_pump_kw(ask->flow_l_per_min, ask->head_m, ask->efficiency));
  return 1;
}

static void open_table(lua_State *L, const char *name, const char *title, const luaL_Reg *functions,
                       const char *const *later) {
  lua_newtable(L);
  luaL_setfuncs(L, functions, 0);
  steading_lua_strict_later(L, title, later);
  lua_setfield(L, -2, name);
}

void steading_open_primitives(lua_State *L) {
  static const luaL_Reg sun[] = {{"position", sun_position}, {NULL, NULL}};
  static const luaL_Reg sky[] = {
      {"on_plane", sky_on_plane}, {"diffuse_fraction", sky_diffuse_fraction}, {NULL, NULL}};
  static const luaL_Reg pv[] = {{"incidence_modifier", pv_incidence_modifier},
                                {"cell_temperature", pv_cell_temperature},
                                {"inverter", pv_inverter},
                                {NULL, NULL}};
  static const luaL_Reg water[] = {{"pump_kw", water_pump_kw}, {NULL, NULL}};
  static const char *const later_sky[] = {"clear", NULL};
  static const char *const later_pv[] = {"one_diode", NULL};
  static const char *const later_water[] = {"friction_head_m", NULL};
  open_table(L, "sun", "steading.sun", sun, NULL);
  open_table(L, "sky", "steading.sky", sky, later_sky);
  open_table(L, "pv", "steading.pv", pv, later_pv);
  open_table(L, "water", "steading.water", water, later_water);
}
