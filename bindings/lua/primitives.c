/* What a script can ask the engine's parts directly: the functions that the site uses inside. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>

#include "calendar.h"
#include "demand/reliability.h"
#include "demand/water.h"
#include "plant/cell_temperature.h"
#include "plant/incidence.h"
#include "plant/inverter.h"
#include "plant/inverter_weights.h"
#include "plant/one_diode.h"
#include "plant/strings.h"
#include "resource/clear_sky.h"
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

static int sky_clear(lua_State *L) {
  const steading_ask_clear *ask = NULL;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_clear_spec, "sky.clear");
  lua_createtable(L, 0, 3);
  if (ask->model == 0) {
    steading_clear_light light = steading_clear_tau(
        ask->edition < 2013 ? STEADING_TAU_2009 : STEADING_TAU_2013, ask->zenith_deg,
        steading_clear_extraterrestrial_w_per_m2((int)ask->day_of_year), ask->tau_b, ask->tau_d);
    set_number(L, "dni_w_per_m2", light.dni_w_per_m2);
    set_number(L, "dhi_w_per_m2", light.dhi_w_per_m2);
    set_number(L, "ghi_w_per_m2", light.ghi_w_per_m2);
  } else {
    set_number(
        L, "ghi_w_per_m2",
        steading_clear_haurwitz_w_per_m2(ask->zenith_deg < 90 ? cos(ask->zenith_deg * degree) : 0));
  }
  steading_lua_strict(L, "clear");
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
  steading_cell_heating heating = {.model = STEADING_CELL_NOCT};
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_cell_spec, "pv.cell_temperature");
  switch (ask->model) {
    case STEADING_ASK_CELL_FAIMAN:
      heating =
          (steading_cell_heating){.model = STEADING_CELL_FAIMAN, .u0 = ask->u0, .u1 = ask->u1};
      break;
    case STEADING_ASK_CELL_KING:
      heating = steading_record_given(ask, "mounting")
                    ? steading_cell_heating_king((steading_king_mounting)ask->mounting)
                    : (steading_cell_heating){.model = STEADING_CELL_KING,
                                              .a = ask->a,
                                              .b_per_m_s = ask->b,
                                              .above_back_c = ask->above_back_c};
      break;
    default:
      heating.noct_c = ask->noct_c;
  }
  lua_pushnumber(L, steading_cell_temperature_c(&heating, ask->temp_c, ask->plane_w_per_m2,
                                                ask->wind_m_per_s));
  return 1;
}

/* The curve that a sheet or five numbers give in a light at a temperature; raises where the sheet
 * has none. */
static void read_curve(lua_State *L, const char *path, const steading_ask_datasheet *sheet,
                       const steading_ask_parameters *five, double w_per_m2, double cell_c,
                       steading_diode_curve *curve) {
  steading_diode_module module;
  if (sheet != NULL) {
    const steading_diode_sheet said = {.isc_a = sheet->isc_a,
                                       .voc_v = sheet->voc_v,
                                       .imp_a = sheet->imp_a,
                                       .vmp_v = sheet->vmp_v,
                                       .isc_a_per_c = sheet->isc_a_per_c,
                                       .voc_v_per_c = sheet->voc_v_per_c,
                                       .cells = sheet->cells};
    steading_error error;
    char where[128];
    snprintf(where, sizeof where, "%s.datasheet", path);
    if (steading_diode_fit(&said, where, &module, &error) != STEADING_OK)
      steading_lua_raise(L, &error);
  } else {
    bool shunt = steading_record_given(five, "shunt_ohm");
    module.reference = (steading_diode_curve){.light_a = five->light_a,
                                              .dark_a = five->dark_a,
                                              .series_ohm = five->series_ohm,
                                              .shunt_s = shunt ? 1 / five->shunt_ohm : 0,
                                              .slope_v = five->slope_v};
    module.isc_a_per_c = five->isc_a_per_c;
  }
  steading_diode_at(&module, w_per_m2, cell_c, curve);
}

/* curve:current_a(volts); the curve is its upvalue. */
static int diode_current_a(lua_State *L) {
  const steading_diode_curve *curve = lua_touserdata(L, lua_upvalueindex(1));
  double volts = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  volts = luaL_checknumber(L, 2);
  luaL_argcheck(L, volts >= -1e4 && volts <= 1e4, 2, "expected volts, -10000..10000");
  steading_lua_no_more(L, 2, "current_a");
  lua_pushnumber(L, steading_diode_current_a(curve, volts));
  return 1;
}

static int pv_one_diode(lua_State *L) {
  const steading_ask_diode *ask = NULL;
  steading_diode_curve curve, *kept = NULL;
  steading_diode_peak peak;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_diode_spec, "pv.one_diode");
  read_curve(L, "pv.one_diode", ask->datasheet, ask->parameters, ask->plane_w_per_m2, ask->cell_c,
             &curve);
  steading_diode_peak_of(&curve, &peak);
  if (!(peak.pmp_w >= 0) || peak.imp_a > steading_diode_isc_a(&curve) * (1 + 1e-9) + 1e-12)
    return steading_lua_fail(L,
                             "pv.one_diode.parameters: no module's: the curve has no point of most "
                             "power below its short-circuit current");
  lua_createtable(L, 0, 11);
  set_number(L, "isc_a", steading_diode_isc_a(&curve));
  set_number(L, "voc_v", steading_diode_voc_v(&curve));
  set_number(L, "imp_a", peak.imp_a);
  set_number(L, "vmp_v", peak.vmp_v);
  set_number(L, "pmp_w", peak.pmp_w);
  set_number(L, "light_a", curve.light_a);
  set_number(L, "dark_a", curve.dark_a);
  set_number(L, "series_ohm", curve.series_ohm);
  steading_lua_push_answer(L, curve.shunt_s > 0 ? 1 / curve.shunt_s : (double)NAN); /* none */
  lua_setfield(L, -2, "shunt_ohm");
  set_number(L, "slope_v", curve.slope_v);
  kept = lua_newuserdatauv(L, sizeof *kept, 0);
  *kept = curve;
  lua_pushcclosure(L, diode_current_a, 1);
  lua_setfield(L, -2, "current_a");
  steading_lua_strict(L, "curve");
  return 1;
}

static int pv_strings(lua_State *L) {
  static const char *const limits[] = {[STEADING_INPUT_FREE] = "free",
                                       [STEADING_INPUT_OFF] = "off",
                                       [STEADING_INPUT_CURRENT] = "current",
                                       [STEADING_INPUT_WINDOW] = "window",
                                       [STEADING_INPUT_POWER] = "power"};
  const steading_ask_strings *ask = NULL;
  steading_string_group groups[STEADING_GROUPS_MOST];
  steading_mppt_input input = {0, HUGE_VAL, HUGE_VAL, HUGE_VAL};
  steading_input_point point;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_strings_spec, "pv.strings");
  for (size_t i = 0; i < ask->groups->count; i++) {
    const steading_ask_string_group *one = (const void *)ask->groups->items[i];
    char path[64];
    snprintf(path, sizeof path, "pv.strings.groups[%zu]", i + 1);
    groups[i].in_series = one->in_series;
    groups[i].in_parallel = one->in_parallel;
    read_curve(L, path, one->datasheet, one->parameters, one->plane_w_per_m2, one->cell_c,
               &groups[i].curve);
  }
  if (steading_record_given(ask, "window_v")) {
    input.lowest_v = ask->window_v[0];
    input.highest_v = ask->window_v[1];
  }
  if (steading_record_given(ask, "most_a")) input.most_a = ask->most_a;
  if (steading_record_given(ask, "most_kw")) input.most_w = 1000 * ask->most_kw;
  steading_strings_on_input(groups, ask->groups->count, &input, &point);
  lua_createtable(L, 0, 6);
  set_number(L, "input_v", point.volts);
  set_number(L, "input_a", point.amps);
  set_number(L, "input_w", point.watts);
  set_number(L, "together_w", point.together_w);
  set_number(L, "apart_w", point.apart_w);
  lua_pushstring(L, limits[point.limit]);
  lua_setfield(L, -2, "limit");
  steading_lua_strict(L, "input");
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
  if (steading_inverter_curve_of(ask->unit, 0, "pv.inverter.unit", &curve, &miss, &error) !=
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

static int outage_indices(lua_State *L) {
  const steading_ask_indices *ask = NULL;
  steading_interruption *events = NULL;
  steading_reliability r;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_indices_spec, "outage.indices");
  events = lua_newuserdatauv(L, (ask->events->count + 1) * sizeof *events, 0);
  for (size_t i = 0; i < ask->events->count; i++) {
    const steading_ask_interruption *one = (const void *)ask->events->items[i];
    events[i] = (steading_interruption){.minutes = one->minutes, .customers = one->customers};
    if (one->customers > ask->customers)
      return steading_lua_fail(
          L, "outage.indices.events[%d].customers: more than the customers that are served",
          (int)i + 1);
    if (one->minutes > ask->hours * 60)
      return steading_lua_fail(
          L, "outage.indices.events[%d].minutes: longer than the hours that are judged",
          (int)i + 1);
  }
  r = steading_reliability_of(
      events, ask->events->count,
      steading_record_given(ask, "longer_than_min") ? ask->longer_than_min : -1, ask->customers,
      ask->hours);
  lua_createtable(L, 0, 4);
  set_number(L, "saifi", r.saifi);
  set_number(L, "saidi_h", r.saidi_h);
  steading_lua_push_answer(L, r.caidi_h);
  lua_setfield(L, -2, "caidi_h");
  set_number(L, "asai", r.asai);
  steading_lua_strict(L, "indices");
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
  static const luaL_Reg sky[] = {{"on_plane", sky_on_plane},
                                 {"diffuse_fraction", sky_diffuse_fraction},
                                 {"clear", sky_clear},
                                 {NULL, NULL}};
  static const luaL_Reg pv[] = {{"incidence_modifier", pv_incidence_modifier},
                                {"cell_temperature", pv_cell_temperature},
                                {"inverter", pv_inverter},
                                {"one_diode", pv_one_diode},
                                {"strings", pv_strings},
                                {NULL, NULL}};
  static const luaL_Reg water[] = {{"pump_kw", water_pump_kw}, {NULL, NULL}};
  static const luaL_Reg outage[] = {{"indices", outage_indices}, {NULL, NULL}};
  static const char *const later_water[] = {"friction_head_m", NULL};
  open_table(L, "sun", "steading.sun", sun, NULL);
  open_table(L, "sky", "steading.sky", sky, NULL);
  open_table(L, "pv", "steading.pv", pv, NULL);
  open_table(L, "outage", "steading.outage", outage, NULL);
  open_table(L, "water", "steading.water", water, later_water);
}
