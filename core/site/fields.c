#include "site/fields.h"

#include <stdio.h>
#include <string.h>

#include "calendar.h"
#include "nearest.h"
#include "site/check_generator.h"
#include "site/check_pv.h"
#include "site/limits.h"
#include "site/periods.h"
#include "site/window.h"

const char *const steading_choices_with_grid[] = {"adds", "transfers", NULL};
const char *const steading_choices_class[] = {"ordinary", "deferrable", "sheddable", "essential",
                                              NULL};
const char *const steading_choices_battery_use[] = {"daily", "outages", NULL};
const char *const steading_choices_incidence[] = {"martin_ruiz", "ashrae", "fresnel", NULL};
const char *const steading_choices_cell_temperature[] = {"noct", "faiman", "king", NULL};
const char *const steading_choices_mounting[] = {"glass_back_open_rack",
                                                 "glass_back_close_to_roof",
                                                 "sheet_back_open_rack",
                                                 "sheet_back_insulated",
                                                 "thin_film_on_steel_open_rack",
                                                 "concentrator_on_tracker",
                                                 NULL};
const char *const steading_choices_pv_model[] = {"linear", "one_diode", NULL};
const char *const steading_choices_axes[] = {"one", "two", NULL};
const char *const steading_choices_clear_sky[] = {"ashrae", "haurwitz", NULL};
const char *const steading_choices_sky_model[] = {"perez", "hay_davies", "isotropic", NULL};
const char *const steading_choices_light_unit[] = {"W/m2",  "Wh/m2", "kWh/m2", "kJ/m2",
                                                   "MJ/m2", "J/cm2", NULL};
const char *const steading_choices_temp_unit[] = {"C", "K", "F", "0.1C", NULL};
const char *const steading_choices_wind_unit[] = {"m/s", "km/h", "knots", "mph", "tenth m/s", NULL};
const char *const steading_choices_days[] = {"markov", "gaussian", NULL};
const char *const steading_choices_interval[] = {"beginning", "ending", "instant", NULL};
const char *const steading_choices_weather_checks[] = {"zone_far_from_longitude",
                                                       "light_far_from_noon", NULL};
const char *const steading_choices_coupled[] = {"dc", "ac", NULL};
const char *const steading_choices_chemistry[] = {"lfp", "lead_acid", NULL};
const char *const steading_choices_role[] = {"carries", "charges", "both", NULL};
const char *const steading_choices_ageing[] = {"naumann", "wang", "cycles_against_depth", NULL};
const char *const steading_choices_throughput[] = {"discharge", "both_ways", NULL};
const char *const steading_choices_keep[] = {"annual", "monthly", "steps", NULL};
const char *const steading_choices_of_what[] = {"parts", "total", NULL};
const char *const steading_choices_prices[] = {"nominal", "real", NULL};
const char *const steading_choices_energy_prices[] = {"blocks", "periods", NULL};
const char *const steading_choices_export_price[] = {"none", "net_metering", "net_billing", NULL};
const char *const steading_choices_export_cap[] = {"energy_of_month", NULL};
const char *const steading_choices_taxed[] = {"energy", "fixed",   "riders",
                                              "export", "minimum", NULL};

const char *const steading_choices_outage_lengths[] = {"lognormal", "exponential", "equal", NULL};
const char *const steading_choices_keep_serving[] = {"all", "essential", "water", NULL};
const char *const steading_choices_event_kind[] = {"import", "unserved",  "water_short",
                                                   "outage", "generator", NULL};
const char *const steading_choices_profile_by[] = {"year", "month", "weekday", "hour", NULL};

const char *const steading_surplus_kinds[] = {"water", "hot_water", "battery", "vehicle", "export"};

static steading_status at(steading_error *error, const char *path, const char *field,
                          const char *text) {
  char where[256];
  snprintf(where, sizeof where, "%.180s%s%.70s", path,
           path[0] != '\0' && field[0] != '\0' ? "." : "", field);
  return steading_fail(error, STEADING_BAD_INPUT, where, "%s", text);
}

static bool given(const void *record, const char *field) {
  return steading_record_given(record, field);
}

static steading_status check_lot(const void *record, const char *path, steading_error *error) {
  const steading_lot *lot = record;
  bool priced = given(lot, "price_each") || given(lot, "price_lot");
  if (given(lot, "price_each") && given(lot, "price_lot"))
    return at(error, path, "price_lot", "price_each is given as well; write one of the two");
  if (given(lot, "labour_share") && given(lot, "labour_price"))
    return at(error, path, "labour_price", "labour_share is given as well; write one of the two");
  if (!priced && given(lot, "labour_share"))
    return at(error, path, "labour_share", "a share of a price that is not given");
  if (!priced && given(lot, "salvage_share"))
    return at(error, path, "salvage_share", "a share of a price that is not given");
  if (!priced && given(lot, "life_years") && !given(lot, "replacement_price_each"))
    return at(error, path, "life_years",
              "a replacement without a price; give price_each, price_lot or "
              "replacement_price_each");
  if (given(lot, "retired") && given(lot, "in_service") && lot->retired <= lot->in_service)
    return at(error, path, "retired", "expected a date after in_service");
  return STEADING_OK;
}

static steading_status check_works(const void *record, const char *path, steading_error *error) {
  if (given(record, "labour_share") && given(record, "labour_price"))
    return at(error, path, "labour_price", "labour_share is given as well; write one of the two");
  return STEADING_OK;
}

/* A coefficient beside the model that has it. */
static steading_status check_glass(const void *record, int model, const char *path,
                                   steading_error *error) {
  if (given(record, "a_r") && model != 0)
    return at(error, path, "a_r", "belongs to the model martin_ruiz");
  if (given(record, "b0") && model != 1)
    return at(error, path, "b0", "belongs to the model ashrae");
  return STEADING_OK;
}

static steading_status check_incidence(const void *record, const char *path,
                                       steading_error *error) {
  return check_glass(record, ((const steading_incidence *)record)->model, path, error);
}

static steading_status check_ask_incidence(const void *record, const char *path,
                                           steading_error *error) {
  return check_glass(record, ((const steading_ask_incidence *)record)->model, path, error);
}

/* A field of one model is refused beside another. */
static steading_status check_ask_clear(const void *record, const char *path,
                                       steading_error *error) {
  static const char *const of_tau[] = {"day_of_year", "tau_b", "tau_d", "edition"};
  const steading_ask_clear *ask = record;
  bool tau = ask->model == 0;
  for (size_t i = 0; i < sizeof of_tau / sizeof of_tau[0]; i++) {
    if (tau && !given(ask, of_tau[i]))
      return at(error, path, of_tau[i],
                i == 3
                    ? "required with the model ashrae: 2009 or 2013, as the table that tau_b and "
                      "tau_d are from"
                    : "required with the model ashrae");
    if (!tau && given(ask, of_tau[i]))
      return at(error, path, of_tau[i], "belongs to the model ashrae");
  }
  if (tau && ask->edition != 2009 && ask->edition != 2013)
    return at(error, path, "edition", "expected 2009 or 2013");
  return STEADING_OK;
}

static steading_status check_ask_cell(const void *record, const char *path, steading_error *error) {
  static const struct {
    const char *field, *said;
    int model;
  } owned[] = {{"noct_c", "belongs to the model noct", STEADING_ASK_CELL_NOCT},
               {"u0", "belongs to the model faiman", STEADING_ASK_CELL_FAIMAN},
               {"u1", "belongs to the model faiman", STEADING_ASK_CELL_FAIMAN},
               {"mounting", "belongs to the model king", STEADING_ASK_CELL_KING},
               {"a", "belongs to the model king", STEADING_ASK_CELL_KING},
               {"b", "belongs to the model king", STEADING_ASK_CELL_KING},
               {"above_back_c", "belongs to the model king", STEADING_ASK_CELL_KING}};
  const steading_ask_cell *ask = record;
  for (size_t i = 0; i < sizeof owned / sizeof owned[0]; i++)
    if (given(ask, owned[i].field) && ask->model != owned[i].model)
      return at(error, path, owned[i].field, owned[i].said);
  if (ask->model == STEADING_ASK_CELL_NOCT)
    return given(ask, "wind_m_per_s")
               ? at(error, path, "wind_m_per_s", "belongs to the models faiman and king")
               : STEADING_OK;
  if (!given(ask, "wind_m_per_s"))
    return at(error, path, "wind_m_per_s", "required with the models faiman and king");
  if (ask->model != STEADING_ASK_CELL_KING) return STEADING_OK;
  for (size_t i = 4; i < sizeof owned / sizeof owned[0]; i++) {
    if (given(ask, "mounting") && given(ask, owned[i].field))
      return at(error, path, owned[i].field, "mounting is given as well; write one of the two");
    if (!given(ask, "mounting") && !given(ask, owned[i].field))
      return at(error, path, i == 4 ? "mounting" : owned[i].field,
                "required with the model king: mounting, or a, b and above_back_c");
  }
  return STEADING_OK;
}

/* A sheet says how its module changes with temperature; five bare numbers do not. */
static steading_status check_curve(const void *record, const steading_ask_parameters *parameters,
                                   double cell_c, const char *path, steading_error *error) {
  if (given(record, "datasheet") == given(record, "parameters"))
    return at(error, path, "datasheet",
              given(record, "datasheet") ? "parameters are given as well; write one of the two"
                                         : "required: datasheet, or parameters");
  if (parameters == NULL) return STEADING_OK;
  if (given(parameters, "isc_a_per_c") && !given(record, "cell_c"))
    return at(error, path, "parameters.isc_a_per_c",
              "has no effect without cell_c: parameters hold at a temperature of their own");
  if (!given(parameters, "isc_a_per_c") && cell_c != 25)
    return at(error, path, "cell_c",
              "parameters are taken from 25 C to another temperature only with "
              "parameters.isc_a_per_c; those that hold at this one already go without cell_c");
  return STEADING_OK;
}

static steading_status check_ask_diode(const void *record, const char *path,
                                       steading_error *error) {
  const steading_ask_diode *ask = record;
  return check_curve(ask, ask->parameters, ask->cell_c, path, error);
}

static steading_status check_ask_string_group(const void *record, const char *path,
                                              steading_error *error) {
  const steading_ask_string_group *ask = record;
  return check_curve(ask, ask->parameters, ask->cell_c, path, error);
}

static steading_status check_ask_strings(const void *record, const char *path,
                                         steading_error *error) {
  const steading_ask_strings *ask = record;
  char text[64];
  if (ask->groups->count >= 1 && ask->groups->count <= STEADING_MOST_STRING_GROUPS)
    return STEADING_OK;
  snprintf(text, sizeof text, "found %zu groups, expected 1 to %d", ask->groups->count,
           (int)STEADING_MOST_STRING_GROUPS);
  return at(error, path, "groups", text);
}

static steading_status check_ask_sun(const void *record, const char *path, steading_error *error) {
  if (given(record, "elevation_m") && given(record, "pressure_pa"))
    return at(error, path, "elevation_m", "pressure_pa is given as well; write one of the two");
  return STEADING_OK;
}

static steading_status check_efficiency_point(const void *record, const char *path,
                                              steading_error *error) {
  if (given(record, "ac_share") && given(record, "ac_kw"))
    return at(error, path, "ac_kw", "ac_share is given as well; write one of the two");
  if (!given(record, "ac_share") && !given(record, "ac_kw"))
    return at(error, path, "ac_share", "required: ac_share or ac_kw");
  return STEADING_OK;
}

static steading_status check_efficiency(const void *record, const char *path,
                                        steading_error *error) {
  static const char *const at_shares[] = {"at_10", "at_50", "at_100"};
  const steading_efficiency *e = record;
  if (e->points != NULL && e->points->count == 0)
    return at(error, path, "points", "an empty list, expected { ac_share = , efficiency = } ...");
  for (size_t i = 0; i < 3; i++) {
    if (e->points != NULL && given(e, at_shares[i]))
      return at(error, path, at_shares[i],
                "a list of points is given as well; write one of the two");
    if (e->points == NULL && i != 1 && !given(e, at_shares[i]))
      return at(error, path, at_shares[i],
                "required: at_10 and at_100, or a list of { ac_share = , efficiency = }");
  }
  for (size_t i = 0; e->points != NULL && i < e->points->count; i++) {
    char where[256];
    if (given(e->points->items[i], "volts") == given(e->points->items[0], "volts")) continue;
    snprintf(where, sizeof where, "%.180s[%zu].volts", path, i + 1);
    return at(error, where, "", "points with and without volts; write it in all or in none");
  }
  return STEADING_OK;
}

static steading_status check_losses(const void *record, const char *path, steading_error *error) {
  if (given(record, "idle_w") && given(record, "idle_share"))
    return at(error, path, "idle_share", "idle_w is given as well; write one of the two");
  if (!given(record, "idle_w") && !given(record, "idle_share"))
    return at(error, path, "idle_w", "required: idle_w or idle_share");
  return STEADING_OK;
}

/* Derating begins at full power and never rises. */
static steading_status check_derate(const steading_list *points, const char *path,
                                    steading_error *error) {
  char field[48];
  if (points->count < 2)
    return at(error, path, "derate", "expected at least two points { temp_c = , share = }");
  for (size_t i = 0; i < points->count; i++) {
    const steading_derate_point *point = (const void *)points->items[i];
    const steading_derate_point *before = i == 0 ? NULL : (const void *)points->items[i - 1];
    snprintf(field, sizeof field, "derate[%zu].%s", i + 1,
             before != NULL && !(point->temp_c > before->temp_c) ? "temp_c" : "share");
    if (before == NULL && point->share != 1)
      return at(error, path, field, "expected 1: the first point is where derating begins");
    if (before != NULL && !(point->temp_c > before->temp_c))
      return at(error, path, field, "expected more than that of the point before");
    if (before != NULL && point->share > before->share)
      return at(error, path, field, "expected at most that of the point before");
  }
  return STEADING_OK;
}

static steading_status check_unit(const void *record, const char *path, steading_error *error) {
  const steading_unit *unit = record;
  bool table = unit->efficiency != NULL && unit->efficiency->points != NULL;
  if (unit->efficiency != NULL && unit->losses != NULL)
    return at(error, path, "losses", "efficiency is given as well; write one of the two");
  if (unit->efficiency == NULL && unit->losses == NULL)
    return at(
        error, path, "efficiency",
        "required: efficiency = { at_10 = , at_50 = , at_100 = }, a list of points, or losses");
  if (unit->losses != NULL && given(unit, "idle_w"))
    return at(error, path, "idle_w", "losses have the idle draw; leave it out");
  if (given(unit, "islanded_kw") && unit->islanded_kw > unit->ac_kw) {
    char text[96];
    snprintf(text, sizeof text, "%.12g kW, expected at most ac_kw, %.12g", unit->islanded_kw,
             unit->ac_kw);
    return at(error, path, "islanded_kw", text);
  }
  if (given(unit, "dc_v") && !(table && given(unit->efficiency->points->items[0], "volts")))
    return at(error, path, "dc_v", "has no effect on efficiencies without volts; leave it out");
  if (given(unit, "charge_efficiency") && !(unit->charge_from_grid_kw > 0))
    return at(error, path, "charge_efficiency", "has no effect without charge_from_grid_kw");
  return unit->derate == NULL ? STEADING_OK : check_derate(unit->derate, path, error);
}

static steading_status check_inverter(const void *record, const char *path, steading_error *error) {
  const steading_inverter *inverter = record;
  if (given(inverter, "room_c") && inverter->unit->derate == NULL)
    return at(error, path, "room_c", "has no effect without unit.derate; leave it out");
  return STEADING_OK;
}

static steading_status check_ask_inverter(const void *record, const char *path,
                                          steading_error *error) {
  const steading_ask_inverter *ask = record;
  if (given(ask, "temp_c") && ask->unit->derate == NULL)
    return at(error, path, "temp_c", "has no effect without unit.derate; leave it out");
  return STEADING_OK;
}

static steading_status check_efficiencies(const void *record, const char *path,
                                          steading_error *error) {
  bool both = given(record, "round_trip_efficiency");
  bool in = given(record, "charge_efficiency"), out = given(record, "discharge_efficiency");
  if (both && (in || out))
    return at(error, path, "round_trip_efficiency",
              "charge_efficiency or discharge_efficiency is given as well");
  if (!both && !(in && out))
    return at(error, path, "round_trip_efficiency",
              "required: round_trip_efficiency, or charge_efficiency and discharge_efficiency");
  return STEADING_OK;
}

static steading_status check_rates(const steading_battery_module *m, const char *path,
                                   steading_error *error) {
  size_t count = m->rates->count;
  bool named = count < 3;
  if (given(m, "available_share") || given(m, "per_h"))
    return at(error, path, given(m, "per_h") ? "per_h" : "available_share",
              "rates are given as well; write one of the two");
  if (count != 2 && count != 3)
    return at(error, path, "rates", "expected two or three lines { hours = , kwh = }");
  for (size_t i = 0; i < count; i++)
    named = named || ((const steading_capacity_rate *)(void *)m->rates->items[i])->kwh == m->kwh;
  if (!named) return at(error, path, "kwh", "is none of the three rates; say of which it is");
  return STEADING_OK;
}

/* Fields of one kind of cell have no effect on the other. */
static steading_status check_battery_module(const void *record, const char *path,
                                            steading_error *error) {
  static const char *const of_lead[] = {"available_share", "per_h", "rates", "gassing"},
                           *const of_lfp[] = {"resistance", "taper"};
  const steading_battery_module *m = record;
  bool lead = m->chemistry == STEADING_CHEMISTRY_LEAD_ACID;
  for (size_t i = 0; i < 4 && !lead; i++)
    if (given(m, of_lead[i]))
      return at(error, path, of_lead[i], "belongs to the chemistry lead_acid");
  for (size_t i = 0; i < 2 && lead; i++)
    if (given(m, of_lfp[i])) return at(error, path, of_lfp[i], "belongs to the chemistry lfp");
  if (m->resistance != NULL) {
    if (given(m, "round_trip_efficiency") || given(m, "charge_efficiency") ||
        given(m, "discharge_efficiency"))
      return at(error, path, "resistance", "an efficiency is given as well; write one of the two");
  } else {
    steading_status status = check_efficiencies(record, path, error);
    if (status != STEADING_OK) return status;
  }
  if (!lead) return STEADING_OK;
  if (m->rates != NULL) return check_rates(m, path, error);
  for (size_t i = 0; i < 2; i++)
    if (!given(m, of_lead[i]))
      return at(error, path, of_lead[i],
                "required with lead_acid: available_share and per_h, or rates of its sheet");
  return STEADING_OK;
}

static steading_status check_start(const void *record, double share, const double usable[2],
                                   const char *path, steading_error *error) {
  char where[256];
  if (!given(record, "state_of_charge") || (share >= usable[0] && share <= usable[1]))
    return STEADING_OK;
  snprintf(where, sizeof where, "%.180s.state_of_charge", path);
  return steading_fail(error, STEADING_BAD_INPUT, where,
                       "%.12g is outside the usable %.12g to %.12g", share, usable[0], usable[1]);
}

static steading_status check_ask_energy(const void *record, const char *path,
                                        steading_error *error) {
  const steading_ask_energy *ask = record;
  bool tables = ask->charge_share_at_c != NULL || ask->usable_share_at_c != NULL;
  bool one = given(ask, "round_trip_efficiency"), in = given(ask, "charge_efficiency"),
       out = given(ask, "discharge_efficiency");
  steading_status status = STEADING_OK;
  if (ask->resistance != NULL && (one || in || out))
    return at(error, path, "resistance", "an efficiency is given as well; write one of the two");
  if (ask->resistance == NULL && !one && !(in && out))
    return at(error, path, "round_trip_efficiency",
              "required: round_trip_efficiency, charge_efficiency and discharge_efficiency, or "
              "resistance");
  if (ask->resistance == NULL) status = check_efficiencies(record, path, error);
  if (status != STEADING_OK) return status;
  if (tables && !given(ask, "temp_c"))
    return at(error, path, "temp_c", "required beside charge_share_at_c or usable_share_at_c");
  if (!tables && given(ask, "temp_c"))
    return at(error, path, "temp_c",
              "has no effect without charge_share_at_c or usable_share_at_c; leave it out");
  return check_start(record, ask->state_of_charge, ask->usable, path, error);
}

static steading_status check_ask_two_tank(const void *record, const char *path,
                                          steading_error *error) {
  static const char *const names[] = {"kwh", "available_share", "per_h"};
  const steading_ask_two_tank *ask = record;
  steading_status status = check_efficiencies(record, path, error);
  if (status != STEADING_OK) return status;
  for (size_t i = 1; i < 3 && ask->rates != NULL; i++)
    if (given(ask, names[i]))
      return at(error, path, names[i], "rates are given as well; write one of the two");
  for (size_t i = 0; i < 3 && ask->rates == NULL; i++)
    if (!given(ask, names[i]))
      return at(error, path, names[i], "required: kwh, available_share and per_h, or rates");
  if (ask->rates != NULL && ask->rates->count == 3 && given(ask, "kwh"))
    return at(error, path, "kwh", "follows from three rates; leave it out");
  return check_start(record, ask->state_of_charge, ask->usable, path, error);
}

static steading_status check_depths(const steading_list *depths, const char *path,
                                    steading_error *error) {
  char field[48];
  if (depths->count == 0)
    return at(error, path, "depths", "expected at least one line { depth = , cycles = }");
  for (size_t i = 1; i < depths->count; i++) {
    const steading_depth_point *point = (const void *)depths->items[i];
    const steading_depth_point *before = (const void *)depths->items[i - 1];
    snprintf(field, sizeof field, "depths[%zu].%s", i + 1,
             point->depth > before->depth ? "cycles" : "depth");
    if (!(point->depth > before->depth))
      return at(error, path, field, "expected more than that of the line before");
    if (!(point->cycles < before->cycles))
      return at(error, path, field, "expected fewer than those of the line before");
  }
  return STEADING_OK;
}

static steading_status check_ageing(const void *record, const char *path, steading_error *error) {
  static const char *const of_depth[] = {"depths", "end_health", "calendar_years"};
  const steading_ageing *ageing = record;
  bool by_depth = ageing->model == STEADING_AGES_BY_DEPTH;
  for (size_t i = 0; i < 3; i++)
    if (!by_depth && given(ageing, of_depth[i]))
      return at(error, path, of_depth[i], "belongs to the model cycles_against_depth");
  if (ageing->model != STEADING_AGES_WANG && given(ageing, "throughput"))
    return at(error, path, "throughput", "belongs to the model wang");
  if (by_depth && ageing->depths == NULL)
    return at(error, path, "depths", "required with the model cycles_against_depth");
  return by_depth ? check_depths(ageing->depths, path, error) : STEADING_OK;
}

static steading_status check_battery_room(const void *record, const char *path,
                                          steading_error *error) {
  const steading_battery_room *room = record;
  if (room->heater_w > 0 && !given(room, "heat_below_c"))
    return at(error, path, "heat_below_c", "required beside heater_w");
  if (!(room->heater_w > 0) && given(room, "heat_below_c"))
    return at(error, path, "heat_below_c", "has no effect without heater_w");
  return STEADING_OK;
}

static steading_status check_battery(const void *record, const char *path, steading_error *error) {
  const steading_battery *battery = record;
  const steading_ageing *ageing = battery->ageing;
  if (battery->room != NULL) return STEADING_OK;
  if (battery->module->charge_share_at_c != NULL)
    return at(error, path, "room", "required by module.charge_share_at_c: room = { temp_c = ... }");
  if (battery->module->usable_share_at_c != NULL)
    return at(error, path, "room", "required by module.usable_share_at_c: room = { temp_c = ... }");
  if (ageing == NULL) return STEADING_OK;
  if (ageing->model != STEADING_AGES_BY_DEPTH)
    return at(error, path, "room", "required by ageing: room = { temp_c = ... }");
  if (given(ageing, "calendar_years"))
    return at(error, path, "room", "required by ageing.calendar_years: room = { temp_c = ... }");
  return STEADING_OK;
}

static steading_status check_block(const steading_list *blocks, size_t i, const char *path,
                                   steading_error *error) {
  const steading_tariff_block *block = (const void *)blocks->items[i];
  const steading_tariff_block *before = i == 0 ? NULL : (const void *)blocks->items[i - 1];
  bool month = given(block, "up_to_kwh"), day = given(block, "up_to_kwh_per_day");
  double edge = day ? block->up_to_kwh_per_day : block->up_to_kwh;
  const char *edge_name = day ? "up_to_kwh_per_day" : "up_to_kwh";
  if (i + 1 == blocks->count)
    return month || day
               ? at(error, path, edge_name,
                    "the last block has no upper edge; add one more, without up_to_kwh, for "
                    "what lies above")
               : STEADING_OK;
  if (month && day)
    return at(error, path, "up_to_kwh_per_day", "up_to_kwh is given as well; write one of the two");
  if (!month && !day)
    return at(error, path, "up_to_kwh",
              "required: every block but the last has an upper edge, up_to_kwh or "
              "up_to_kwh_per_day");
  if (before == NULL)
    return edge > 0 ? STEADING_OK : at(error, path, edge_name, "expected more than 0");
  if (given(before, edge_name) == false)
    return at(error, path, edge_name,
              "the block before has the other kind of edge; write all a month or all a day");
  if (!(edge > (day ? before->up_to_kwh_per_day : before->up_to_kwh)))
    return at(error, path, edge_name, "expected more than the edge of the block before");
  return STEADING_OK;
}

static steading_status check_blocks(const steading_list *blocks, bool all_at_last, const char *path,
                                    steading_error *error) {
  char where[256];
  if (blocks == NULL || blocks->count == 0)
    return at(error, path, "", "an empty list, expected { { price_per_kwh = ... } }");
  for (size_t i = 0; i < blocks->count; i++) {
    steading_status status = STEADING_OK;
    snprintf(where, sizeof where, "%.180s[%zu]", path, i + 1);
    status = check_block(blocks, i, where, error);
    if (status != STEADING_OK) return status;
    if (blocks->count == 1 &&
        ((const steading_tariff_block *)(void *)blocks->items[i])->all_at_last)
      return at(error, where, "all_at_last", "has no effect on one price; leave it out");
  }
  if (blocks->count == 1 && all_at_last)
    return at(error, path, "all_at_last", "has no effect on one price; leave it out");
  return STEADING_OK;
}

static steading_status check_price_blocks(const void *record, const char *path,
                                          steading_error *error) {
  const steading_price_blocks *blocks = record;
  return check_blocks(blocks->blocks, blocks->all_at_last, path, error);
}

static steading_status check_period(const void *record, const char *path, steading_error *error) {
  const steading_period *period = record;
  bool parts = given(period, "hours") || given(period, "days") || given(period, "months");
  if (period->name[0] == '\0') return at(error, path, "name", "an empty name");
  if (given(period, "price_per_kwh") == given(period, "blocks"))
    return at(error, path, given(period, "blocks") ? "blocks" : "price_per_kwh",
              given(period, "blocks") ? "price_per_kwh is given as well; write one of the two"
                                      : "required: price_per_kwh, or blocks = { ... }");
  if (given(period, "window") && parts)
    return at(error, path, "window",
              "hours, days or months are given as well; write one of the two");
  return STEADING_OK;
}

static steading_status check_energy_prices(const void *record, const char *path,
                                           steading_error *error) {
  const steading_energy_prices *energy = record;
  if (energy->kind == 0 && given(energy, "periods"))
    return at(error, path, "periods",
              "belong to the kind \"periods\"; write kind = \"periods\" too");
  if (energy->kind == 0) return check_blocks(energy->blocks, energy->all_at_last, path, error);
  if (given(energy, "blocks"))
    return at(error, path, "",
              "found a list beside kind = \"periods\"; its prices stand in periods");
  if (given(energy, "all_at_last"))
    return at(error, path, "all_at_last", "belongs to the blocks of a period");
  if (energy->periods == NULL || energy->periods->count == 0)
    return at(error, path, "periods", "required: a list of { name = , price_per_kwh = , hours = }");
  return STEADING_OK;
}

static steading_status check_export_price(const void *record, const char *path,
                                          steading_error *error) {
  const steading_export_price *export = record;
  bool billing = export->kind == STEADING_EXPORT_NET_BILLING;
  static const char *const all[] = {"price_per_kwh", "cap", "true_up_month",
                                    "cash_out_price_per_kwh"};
  for (size_t i = 0; export->kind == STEADING_EXPORT_NONE && i < sizeof all / sizeof *all; i++)
    if (given(export, all[i])) return at(error, path, all[i], "has no effect with kind = \"none\"");
  if (billing && !given(export, "price_per_kwh"))
    return at(error, path, "price_per_kwh", "required with kind = \"net_billing\"");
  if (export->kind == STEADING_EXPORT_NET_METERING && given(export, "price_per_kwh"))
    return at(error, path, "price_per_kwh",
              "has no effect with kind = \"net_metering\": a kWh is worth the one that it offsets");
  if (export->kind == STEADING_EXPORT_NET_METERING && given(export, "cap"))
    return at(error, path, "cap", "has no effect with kind = \"net_metering\"");
  if (billing && given(export, "true_up_month") && !given(export, "cap"))
    return at(error, path, "true_up_month",
              "has no effect without cap: all credit is given in its month and nothing carried");
  if (given(export, "cash_out_price_per_kwh") && !given(export, "true_up_month"))
    return at(error, path, "true_up_month", "required with cash_out_price_per_kwh");
  return STEADING_OK;
}

/* Two lines of one name could not be told apart. */
static steading_status check_line_names(const steading_list *list, const char *what,
                                        size_t name_offset, const char *path,
                                        steading_error *error) {
  char field[64];
  for (size_t i = 0; list != NULL && i < list->count; i++)
    for (size_t k = 0; k < i; k++) {
      const char *a = *(char *const *)(const void *)((const char *)list->items[i] + name_offset);
      const char *b = *(char *const *)(const void *)((const char *)list->items[k] + name_offset);
      snprintf(field, sizeof field, "%s[%zu].name", what, i + 1);
      if (strcmp(a, b) == 0) return at(error, path, field, "the name is taken");
    }
  return STEADING_OK;
}

static steading_status check_tariff(const void *record, const char *path, steading_error *error) {
  const steading_tariff *tariff = record;
  char where[256];
  steading_status status =
      check_line_names(tariff->riders, "riders", offsetof(steading_rider, name), path, error);
  if (status == STEADING_OK)
    status = check_line_names(tariff->taxes, "taxes", offsetof(steading_tax, name), path, error);
  if (tariff->energy->kind == 0) return status;
  if (status == STEADING_OK)
    status = check_line_names(tariff->energy->periods, "energy.periods",
                              offsetof(steading_period, name), path, error);
  snprintf(where, sizeof where, "%.200s%senergy.periods", path, path[0] != '\0' ? "." : "");
  if (status == STEADING_OK)
    status = steading_periods_check(tariff->energy->periods, tariff->holidays, where, error);
  return status;
}

static steading_status check_ask_bill(const void *record, const char *path, steading_error *error) {
  const steading_ask_bill *ask = record;
  int year = 0, month = 0, day = 0;
  steading_date_of_day(ask->month, &year, &month, &day);
  return day == 1 ? STEADING_OK : at(error, path, "month", "expected a month such as \"2027-01\"");
}

static steading_status check_ask_bills(const void *record, const char *path,
                                       steading_error *error) {
  const steading_ask_bills *ask = record;
  static const int steps[] = {60, 30, 15, 10, 5, 1};
  for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
    if (ask->step_minutes == steps[i]) return STEADING_OK;
  return at(error, path, "step_minutes", "expected 60, 30, 15, 10, 5 or 1");
}

static bool is_step(double minutes) {
  return minutes == 60 || minutes == 30 || minutes == 15 || minutes == 10 || minutes == 5 ||
         minutes == 1;
}

static steading_status check_series(const void *record, const char *path, steading_error *error) {
  const steading_load_series *load = record;
  char text[128];
  size_t a_year = 0;
  if (!is_step(load->step_minutes))
    return at(error, path, "step_minutes", "expected 60, 30, 15, 10, 5 or 1");
  a_year = (size_t)(STEADING_HOURS_PER_YEAR * 60 / load->step_minutes);
  if (load->kw->count % a_year == 0) return STEADING_OK;
  snprintf(text, sizeof text, "found %zu numbers, expected whole years of %zu", load->kw->count,
           a_year);
  return at(error, path, "kw", text);
}

static steading_status check_shed(const void *record, const char *path, steading_error *error) {
  if (!given(record, "sheddable") && !given(record, "deferrable") && !given(record, "ordinary"))
    return at(error, path, "", "no class is given; expected sheddable, deferrable or ordinary");
  return STEADING_OK;
}

static steading_status check_rules(const void *record, const char *path, steading_error *error) {
  const steading_rules *rules = record;
  bool seen[STEADING_SURPLUS_KINDS] = {false};
  char text[192], field[48];
  if (given(rules, "resume_above") && rules->resume_above < rules->battery_floor)
    return at(error, path, "resume_above", "lies below battery_floor");
  if (rules->raise_reserve != NULL && !(rules->raise_reserve->to > rules->battery_floor))
    return at(error, path, "raise_reserve.to", "expected more than battery_floor");
  for (size_t i = 0; rules->surplus_order != NULL && i < rules->surplus_order->count; i++) {
    const char *word = rules->surplus_order->items[i];
    int kind = steading_nearest_name(word, steading_surplus_kinds, STEADING_SURPLUS_KINDS);
    snprintf(field, sizeof field, "surplus_order[%zu]", i + 1);
    if (kind < 0 || strcmp(steading_surplus_kinds[kind], word) != 0) {
      snprintf(text, sizeof text,
               "found \"%.40s\"%s%s%s, expected water, hot_water, battery, vehicle or export", word,
               kind < 0 ? "" : " (did you mean \"", kind < 0 ? "" : steading_surplus_kinds[kind],
               kind < 0 ? "" : "\"?)");
      return at(error, path, field, text);
    }
    if (seen[kind]) {
      snprintf(text, sizeof text, "\"%s\" stands twice", word);
      return at(error, path, field, text);
    }
    seen[kind] = true;
  }
  return STEADING_OK;
}

/* Rules that only a grid gives a meaning. */
static steading_status check_hub(const void *record, const char *path, steading_error *error) {
  const steading_hub *hub = record;
  static const char *const of_grid[] = {"raise_reserve", "battery_use", "discharge_windows"};
  bool transfers = hub->inverter->with_grid == STEADING_WITH_GRID_TRANSFERS;
  const steading_rules *rules = hub->rules;
  if (hub->meter == NULL) {
    if (given(hub->inverter, "with_grid"))
      return at(error, path, "inverter.with_grid", "without a meter there is no grid");
    if (hub->inverter->import_margin_w > 0)
      return at(error, path, "inverter.import_margin_w", "without a meter there is no grid");
    if (rules != NULL && given(rules, "resume_above"))
      return at(error, path, "rules.resume_above", "without a meter no grid takes over");
    if (rules != NULL && given(rules, "reserve"))
      return at(error, path, "rules.reserve", "without a meter there is no grid to keep it for");
    for (size_t i = 0; rules != NULL && i < sizeof of_grid / sizeof of_grid[0]; i++) {
      char field[48];
      snprintf(field, sizeof field, "rules.%s", of_grid[i]);
      if (given(rules, of_grid[i]))
        return at(error, path, field, "without a meter there is no grid: nothing to keep it for");
    }
    if (rules != NULL && given(rules, "charge_from_grid"))
      return at(error, path, "rules.charge_from_grid", "without a meter there is no grid");
  }
  if (rules != NULL && rules->charge_from_grid != NULL &&
      !(hub->inverter->unit->charge_from_grid_kw > 0))
    return at(error, path, "rules.charge_from_grid",
              "the unit cannot charge from AC; give inverter.unit.charge_from_grid_kw");
  if (transfers && (rules == NULL || !given(rules, "resume_above")))
    return at(error, path, "rules.resume_above",
              "required with inverter.with_grid = \"transfers\": the charge from which the load "
              "comes back");
  return STEADING_OK;
}

/* Exactly one of hub and meter. */
static steading_status check_feed(const void *record, const char *path, steading_error *error) {
  if (given(record, "hub") == given(record, "meter"))
    return at(error, path, given(record, "hub") ? "meter" : "hub",
              given(record, "hub") ? "hub is given as well; it is fed by one of the two"
                                   : "required: hub, or meter when no hub stands between");
  return STEADING_OK;
}

static steading_status check_tank(const void *record, const char *path, steading_error *error) {
  const steading_tank *tank = record;
  if (!(tank->start_below < tank->stop_above))
    return at(error, path, "start_below", "expected less than stop_above");
  return STEADING_OK;
}

static steading_status check_user(const void *record, const char *path, steading_error *error) {
  bool people = given(record, "people"), each = given(record, "litres_per_person_day");
  bool daily = given(record, "litres_per_day");
  if (people != each)
    return at(error, path, people ? "litres_per_person_day" : "people",
              "required: people and litres_per_person_day go together");
  if (people == daily)
    return at(error, path, "litres_per_day",
              people ? "people are given as well; write one of the two"
                     : "required: litres_per_day, or people and litres_per_person_day");
  return STEADING_OK;
}

static steading_status check_money(const void *record, const char *path, steading_error *error) {
  const steading_money *money = record;
  if (given(money, "inflation") && !given(money, "prices"))
    return at(error, path, "prices",
              "required with inflation: say whether discount and escalation are \"nominal\" or "
              "\"real\"");
  if (given(money, "inflation") && money->prices == 1)
    return at(error, path, "inflation", "has no effect with prices = \"real\"; leave it out");
  return STEADING_OK;
}

static steading_status check_climate_fields(const void *record, const char *path,
                                            steading_error *error) {
  if (given(record, "wind_shape") && !given(record, "wind_m_per_s"))
    return at(error, path, "wind_shape", "belongs to wind_m_per_s, which is absent");
  return STEADING_OK;
}

static steading_status check_table_columns(const void *record, const char *path,
                                           steading_error *error) {
  const steading_table_columns *columns = record;
  if (columns->ghi == NULL && (columns->dni == NULL || columns->dhi == NULL))
    return at(error, path, "ghi", "required: ghi, or dni and dhi");
  return STEADING_OK;
}

static steading_status check_read(const void *record, const char *path, steading_error *error) {
  const steading_read_fields *read = record;
  if (read->columns == NULL && given(read, "time_format"))
    return at(error, path, "time_format", "belongs to a plain table; give columns as well");
  if (read->columns != NULL && read->columns->date != NULL && !given(read, "time_format"))
    return at(error, path, "time_format", "required with columns.date, such as \"%d.%m.%Y %H:%M\"");
  if (read->columns == NULL && given(read, "interval"))
    return at(error, path, "interval", "belongs to a plain table; give columns as well");
  if (read->columns != NULL && !given(read, "interval"))
    return at(error, path, "interval",
              "required with columns: does a stamp mark the \"beginning\" or the \"ending\" of its "
              "step, or an \"instant\"?");
  return STEADING_OK;
}

static steading_status check_simulate(const void *record, const char *path, steading_error *error) {
  const steading_simulate *run = record;
  int year = 0, month = 0, day = 1;
  if (given(run, "start")) steading_date_of_day(run->start, &year, &month, &day);
  if (day != 1) return at(error, path, "start", "expected the first day of a month");
  if (!is_step(run->step_minutes))
    return at(error, path, "step_minutes", "expected 60, 30, 15, 10, 5 or 1");
  if (run->keep != STEADING_KEEP_STEPS) {
    static const char *const of_steps[] = {"columns", "from", "to"};
    for (size_t i = 0; i < 3; i++)
      if (given(run, of_steps[i]))
        return at(error, path, of_steps[i], "without keep = \"steps\" no steps are kept");
  }
  if (given(run, "from") && given(run, "to") && run->to < run->from)
    return at(error, path, "to", "lies before `from`");
  return STEADING_OK;
}

static steading_status check_outage_lengths(const void *record, const char *path,
                                            steading_error *error) {
  const steading_outage_lengths *lengths = record;
  if (given(lengths, "spread") && lengths->model != STEADING_LENGTHS_LOGNORMAL)
    return at(error, path, "spread", "belongs to the model lognormal");
  return STEADING_OK;
}

static steading_status check_rota(const void *record, const char *path, steading_error *error) {
  const steading_rota *rota = record;
  int minutes = 0;
  if (!steading_read_clock(rota->starts, &minutes) || minutes == 24 * 60)
    return at(error, path, "starts", "expected a time of the day such as \"18:00\"");
  return STEADING_OK;
}

static steading_status check_outages(const void *record, const char *path, steading_error *error) {
  static const char *const of_random[] = {
      "caidi_h", "seed", "by_month", "lengths", "in_dull_weather", "in_extreme_weather"};
  const steading_outages *outages = record;
  double weight = 0;
  if (outages->windows == NULL && outages->rota == NULL && !given(outages, "saifi"))
    return at(error, path, "", "expected windows, a rota, or saifi and caidi_h; false for none");
  for (size_t i = 0; i < sizeof of_random / sizeof of_random[0]; i++)
    if (!given(outages, "saifi") && given(outages, of_random[i]))
      return at(error, path, of_random[i], "belongs to random outages: saifi is absent");
  if (given(outages, "saifi") && !given(outages, "caidi_h"))
    return at(error, path, "caidi_h", "required with saifi: how long does an outage last?");
  for (int m = 0; m < 12; m++) weight += outages->by_month[m];
  if (!(weight > 0)) return at(error, path, "by_month", "expected one month at least above 0");
  if (outages->in_dull_weather + outages->in_extreme_weather > 1)
    return at(error, path, "in_extreme_weather",
              "together with in_dull_weather more than all of them");
  return STEADING_OK;
}

/* Numbers of a list that must be whole and stand there once; `per` is what they are multiples of.
 */
static steading_status check_numbers(const steading_series *numbers, double per, const char *path,
                                     const char *field, const char *expected,
                                     steading_error *error) {
  char where[48];
  for (size_t i = 0; numbers != NULL && i < numbers->count; i++) {
    double steps = numbers->values[i] / per;
    snprintf(where, sizeof where, "%s[%zu]", field, i + 1);
    if (!(fabs(steps - round(steps)) < 1e-9)) return at(error, path, where, expected);
    for (size_t k = 0; k < i; k++)
      if (numbers->values[k] == numbers->values[i])
        return at(error, path, where, "stands there twice");
  }
  return STEADING_OK;
}

static steading_status check_ask_ride(const void *record, const char *path, steading_error *error) {
  const steading_ask_ride *ask = record;
  int year = 0, month = 0, day = 1;
  steading_status status = STEADING_OK;
  if (given(ask, "start")) steading_date_of_day(ask->start, &year, &month, &day);
  if (day != 1) return at(error, path, "start", "expected the first day of a month");
  if (!is_step(ask->step_minutes))
    return at(error, path, "step_minutes", "expected 60, 30, 15, 10, 5 or 1");
  status = check_numbers(ask->last_hours, ask->step_minutes / 60, path, "last_hours",
                         "expected whole steps; ask with finer step_minutes", error);
  if (status != STEADING_OK) return status;
  return check_numbers(ask->start_hours, 1, path, "start_hours",
                       "expected an hour of the day, 0 to 23", error);
}

static steading_status check_ask_events(const void *record, const char *path,
                                        steading_error *error) {
  const steading_ask_events *ask = record;
  const char *kind = steading_choices_event_kind[ask->kind];
  bool water = strcmp(kind, "water_short") == 0;
  if (water && given(ask, "least_kwh"))
    return at(error, path, "least_kwh", "water is counted in litres; write least_l");
  if (!water && given(ask, "least_l"))
    return at(error, path, "least_l", "belongs to the kind water_short; write least_kwh");
  if (given(ask, "above_kw") && strcmp(kind, "import") != 0 && strcmp(kind, "unserved") != 0)
    return at(error, path, "above_kw", "belongs to the kinds import and unserved");
  return STEADING_OK;
}

static steading_status check_ask_profile(const void *record, const char *path,
                                         steading_error *error) {
  const steading_ask_profile *ask = record;
  if (ask->columns->count == 0)
    return at(error, path, "columns", "an empty list, expected columns of run.steps");
  return STEADING_OK;
}

STEADING_SPEC(lot, "lot", STEADING_LOT, false, check_lot)
STEADING_SPEC(works, "works", STEADING_WORKS, false, check_works)
STEADING_SPEC(efficiency_point, "point", STEADING_EFFICIENCY_POINT, false, check_efficiency_point)
STEADING_SPEC(efficiency, "efficiency", STEADING_EFFICIENCY, false, check_efficiency)
STEADING_SPEC(unit_losses, "losses", STEADING_UNIT_LOSSES, false, check_losses)
STEADING_SPEC(derate_point, "derate", STEADING_DERATE_POINT, false, NULL)
STEADING_SPEC(unit_input, "input", STEADING_UNIT_INPUT, false, NULL)
STEADING_SPEC(unit, "unit", STEADING_UNIT, false, check_unit)
STEADING_SPEC(inverter, "inverter", STEADING_INVERTER, false, check_inverter)
STEADING_SPEC(pv_module, "module", STEADING_PV_MODULE, false, steading_check_pv_module)
STEADING_SPEC(incidence, "incidence", STEADING_INCIDENCE, false, check_incidence)
STEADING_SPEC(cell_temperature, "cell_temperature", STEADING_CELL_TEMPERATURE, false,
              steading_check_cell_temperature)
STEADING_SPEC(low_light, "low_light", STEADING_LOW_LIGHT, false, NULL)
STEADING_SPEC(skyline_point, "horizon", STEADING_SKYLINE_POINT, false, NULL)
STEADING_SPEC(array_rows, "rows", STEADING_ARRAY_ROWS, false, NULL)
STEADING_SPEC(tracking, "tracking", STEADING_TRACKING, false, steading_check_tracking)
STEADING_SPEC(strings, "strings", STEADING_STRINGS, false, NULL)
STEADING_SPEC(soiling_rate, "soiling_rate", STEADING_SOILING_RATE, false, NULL)
STEADING_SPEC(own_inverter, "own_inverter", STEADING_OWN_INVERTER, false,
              steading_check_own_inverter)
STEADING_SPEC(array, "array", STEADING_ARRAY, false, steading_check_array)
STEADING_SPEC(resistance_fields, "resistance", STEADING_RESISTANCE, false, NULL)
STEADING_SPEC(taper_fields, "taper", STEADING_TAPER, false, NULL)
STEADING_SPEC(capacity_rate, "rate", STEADING_CAPACITY_RATE, false, NULL)
STEADING_SPEC(gassing_fields, "gassing", STEADING_GASSING, false, NULL)
STEADING_SPEC(battery_module, "module", STEADING_BATTERY_MODULE, false, check_battery_module)
STEADING_SPEC(generator_unit, "generator unit", STEADING_GENERATOR_UNIT, false, NULL)
STEADING_SPEC(service, "service", STEADING_SERVICE, false, NULL)
STEADING_SPEC(generator, "generator", STEADING_GENERATOR, false, steading_check_generator)
STEADING_SPEC(exercise, "exercise", STEADING_EXERCISE, false, NULL)
STEADING_SPEC(generator_rules, "generator rules", STEADING_GENERATOR_RULES, false,
              steading_check_generator_rules)
STEADING_SPEC(fuel_store, "fuel tank", STEADING_FUEL_STORE, false, steading_check_fuel_store)
STEADING_SPEC(delivery, "delivery", STEADING_DELIVERY, false, steading_check_delivery)
STEADING_SPEC(fuel, "fuel", STEADING_FUEL, false, steading_check_fuel)
STEADING_SPEC(shed, "shed", STEADING_SHED, false, check_shed)
STEADING_SPEC(charge_from_grid, "charge_from_grid", STEADING_CHARGE_FROM_GRID, false, NULL)
STEADING_SPEC(raise_reserve, "raise_reserve", STEADING_RAISE_RESERVE, false, NULL)
STEADING_SPEC(battery_room, "room", STEADING_BATTERY_ROOM, false, check_battery_room)
STEADING_SPEC(depth_point, "depth", STEADING_DEPTH_POINT, false, NULL)
STEADING_SPEC(ageing, "ageing", STEADING_AGEING, false, check_ageing)
STEADING_SPEC(battery, "battery", STEADING_BATTERY, false, check_battery)
STEADING_SPEC(rules, "rules", STEADING_RULES, false, check_rules)
STEADING_SPEC(hub, "hub", STEADING_HUB, false, check_hub)
STEADING_SPEC(tariff_block, "energy", STEADING_TARIFF_BLOCK, false, NULL)
STEADING_SPEC(price_blocks, "blocks", STEADING_PRICE_BLOCKS, false, check_price_blocks)
STEADING_SPEC(period, "period", STEADING_PERIOD, false, check_period)
STEADING_SPEC(energy_prices, "energy", STEADING_ENERGY_PRICES, false, check_energy_prices)
STEADING_SPEC(rider, "rider", STEADING_RIDER, false, NULL)
STEADING_SPEC(export_price, "export", STEADING_EXPORT_PRICE, false, check_export_price)
STEADING_SPEC(tax, "tax", STEADING_TAX, false, NULL)
STEADING_SPEC(tariff, "tariff", STEADING_TARIFF, false, check_tariff)
STEADING_SPEC(outage_lengths, "lengths", STEADING_OUTAGE_LENGTHS, false, check_outage_lengths)
STEADING_SPEC(rota, "rota", STEADING_ROTA, false, check_rota)
STEADING_SPEC(outages, "outages", STEADING_OUTAGES, false, check_outages)
STEADING_SPEC(meter, "meter", STEADING_METER, false, NULL)
STEADING_SPEC(load_daily, "daily", STEADING_LOAD_DAILY, true, NULL)
STEADING_SPEC(load_steady, "steady", STEADING_LOAD_STEADY, true, NULL)
STEADING_SPEC(load_refrigerators, "refrigerators", STEADING_LOAD_REFRIGERATORS, true, NULL)
STEADING_SPEC(load_timed, "timed", STEADING_LOAD_TIMED, true, NULL)
STEADING_SPEC(load_series, "series", STEADING_LOAD_SERIES, true, check_series)
STEADING_SPEC(load_bills, "bills", STEADING_LOAD_BILLS, true, NULL)
STEADING_SPEC(building, "building", STEADING_BUILDING, false, check_feed)
STEADING_SPEC(well, "well", STEADING_WELL, false, check_feed)
STEADING_SPEC(tank, "tank", STEADING_TANK, false, check_tank)
STEADING_SPEC(user, "user", STEADING_USER, false, check_user)
STEADING_SPEC(water, "water", STEADING_WATER, false, NULL)
STEADING_SPEC(site, "site", STEADING_SITE, false, NULL)
STEADING_SPEC(initial, "initial", STEADING_INITIAL, false, NULL)
STEADING_SPEC(simulate, "simulate", STEADING_SIMULATE, false, check_simulate)
STEADING_SPEC(escalation, "escalation", STEADING_ESCALATION, false, NULL)
STEADING_SPEC(small_items, "small_items", STEADING_SMALL_ITEMS, false, NULL)
STEADING_SPEC(money, "money", STEADING_MONEY, false, check_money)
STEADING_SPEC(place_fields, "place", STEADING_PLACE_FIELDS, false, NULL)
STEADING_SPEC(climate_fields, "synthesize", STEADING_CLIMATE_FIELDS, false, check_climate_fields)
STEADING_SPEC(refine_fields, "refine", STEADING_REFINE_FIELDS, false, NULL)
STEADING_SPEC(light_column, "light column", STEADING_LIGHT_COLUMN, false, NULL)
STEADING_SPEC(temp_column, "temperature column", STEADING_TEMP_COLUMN, false, NULL)
STEADING_SPEC(wind_column, "wind column", STEADING_WIND_COLUMN, false, NULL)
STEADING_SPEC(table_columns, "columns", STEADING_TABLE_COLUMNS, false, check_table_columns)
STEADING_SPEC(read_fields, "read", STEADING_READ_FIELDS, false, check_read)
STEADING_SPEC(ask_sun, "sun.position", STEADING_ASK_SUN, false, check_ask_sun)
STEADING_SPEC(ask_plane, "sky.on_plane", STEADING_ASK_PLANE, false, NULL)
STEADING_SPEC(ask_incidence, "pv.incidence_modifier", STEADING_ASK_INCIDENCE, false,
              check_ask_incidence)
STEADING_SPEC(ask_clear, "sky.clear", STEADING_ASK_CLEAR, false, check_ask_clear)
STEADING_SPEC(ask_cell, "pv.cell_temperature", STEADING_ASK_CELL, false, check_ask_cell)
STEADING_SPEC(ask_inverter, "pv.inverter", STEADING_ASK_INVERTER, false, check_ask_inverter)
STEADING_SPEC(ask_datasheet, "datasheet", STEADING_ASK_DATASHEET, false, NULL)
STEADING_SPEC(ask_parameters, "parameters", STEADING_ASK_PARAMETERS, false, NULL)
STEADING_SPEC(ask_diode, "pv.one_diode", STEADING_ASK_CURVE, false, check_ask_diode)
STEADING_SPEC(ask_string_group, "group", STEADING_ASK_STRING_GROUP, false, check_ask_string_group)
STEADING_SPEC(ask_strings, "pv.strings", STEADING_ASK_STRINGS, false, check_ask_strings)
STEADING_SPEC(ask_energy, "energy", STEADING_ASK_ENERGY, true, check_ask_energy)
STEADING_SPEC(ask_two_tank, "two_tank", STEADING_ASK_TWO_TANK, true, check_ask_two_tank)
STEADING_SPEC(ask_bill, "tariff.bill", STEADING_ASK_BILL, false, check_ask_bill)
STEADING_SPEC(ask_bills, "tariff.bills", STEADING_ASK_BILLS, false, check_ask_bills)
STEADING_SPEC(ask_fuel, "fuel.amounts", STEADING_ASK_FUEL, false, steading_check_ask_fuel)
STEADING_SPEC(ask_fuel_curve, "fuel.curve", STEADING_ASK_FUEL_CURVE, false,
              steading_check_ask_fuel_curve)
STEADING_SPEC(ask_pump, "water.pump_kw", STEADING_ASK_PUMP, false, NULL)
STEADING_SPEC(ask_interruption, "interruption", STEADING_ASK_INTERRUPTION, false, NULL)
STEADING_SPEC(ask_indices, "outage.indices", STEADING_ASK_INDICES, false, NULL)
STEADING_SPEC(ask_ride, "ride_through", STEADING_ASK_RIDE, false, check_ask_ride)
STEADING_SPEC(ask_events, "events", STEADING_ASK_EVENTS, false, check_ask_events)
STEADING_SPEC(ask_worst, "worst", STEADING_ASK_WORST, false, NULL)
STEADING_SPEC(ask_profile, "profile", STEADING_ASK_PROFILE, false, check_ask_profile)
STEADING_SPEC(ask_duration, "duration", STEADING_ASK_DURATION, false, NULL)

const steading_spec *const steading_variants_loads[] = {&steading_load_daily_spec,
                                                        &steading_load_steady_spec,
                                                        &steading_load_refrigerators_spec,
                                                        &steading_load_timed_spec,
                                                        &steading_load_series_spec,
                                                        &steading_load_bills_spec,
                                                        NULL};

int steading_load_class(const steading_record *load) {
#define CLASS(tag)                               \
  if (load->spec == &steading_load_##tag##_spec) \
    return ((const steading_load_##tag *)(const void *)load)->class;
  CLASS(daily)
  CLASS(steady)
  CLASS(refrigerators)
  CLASS(timed)
  CLASS(series)
  CLASS(bills)
#undef CLASS
  return STEADING_CLASS_ORDINARY;
}
