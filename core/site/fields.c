#include "site/fields.h"

#include <stdio.h>
#include <string.h>

#include "calendar.h"
#include "site/window.h"

const char *const steading_choices_with_grid[] = {"adds", "~transfers", NULL};
const char *const steading_choices_incidence[] = {"martin_ruiz", "ashrae", "fresnel", NULL};
const char *const steading_choices_cell_temperature[] = {"noct", "~faiman", "~king", NULL};
const char *const steading_choices_sky_model[] = {"hay_davies", "isotropic", "~perez", NULL};
const char *const steading_choices_coupled[] = {"dc", "~ac", NULL};
const char *const steading_choices_chemistry[] = {"lfp", "~lead_acid", NULL};
const char *const steading_choices_keep[] = {"annual", "monthly", "steps", NULL};
const char *const steading_choices_of_what[] = {"parts", "total", NULL};
const char *const steading_choices_prices[] = {"nominal", "real", NULL};

static steading_status at(steading_error *error, const char *path, const char *field,
                          const char *text) {
  char where[256];
  snprintf(where, sizeof where, "%s%s%s", path, path[0] != '\0' ? "." : "", field);
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
  if (!given(lot, "life_years") && given(lot, "replacement_price_each"))
    return at(error, path, "replacement_price_each", "without life_years nothing is replaced");
  if (!given(lot, "life_years") && given(lot, "price_trend_per_year"))
    return at(error, path, "price_trend_per_year", "without life_years nothing is replaced");
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

static steading_status check_ask_sun(const void *record, const char *path, steading_error *error) {
  if (given(record, "elevation_m") && given(record, "pressure_pa"))
    return at(error, path, "elevation_m", "pressure_pa is given as well; write one of the two");
  return STEADING_OK;
}

static steading_status check_battery_module(const void *record, const char *path,
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

static steading_status check_tariff(const void *record, const char *path, steading_error *error) {
  const steading_tariff *tariff = record;
  if (tariff->energy->count != 1)
    return at(error, path, "energy",
              tariff->energy->count == 0
                  ? "an empty list, expected { { price_per_kwh = ... } }"
                  : "several blocks are not yet carried out by this version; expected one");
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

static steading_status check_simulate(const void *record, const char *path, steading_error *error) {
  const steading_simulate *run = record;
  int year = 0, month = 0, day = 1;
  if (given(run, "start")) steading_date_of_day(run->start, &year, &month, &day);
  if (day != 1) return at(error, path, "start", "expected the first day of a month");
  return STEADING_OK;
}

STEADING_SPEC(lot, "lot", STEADING_LOT, false, check_lot)
STEADING_SPEC(works, "works", STEADING_WORKS, false, check_works)
STEADING_SPEC(efficiency, "efficiency", STEADING_EFFICIENCY, false, NULL)
STEADING_SPEC(unit, "unit", STEADING_UNIT, false, NULL)
STEADING_SPEC(inverter, "inverter", STEADING_INVERTER, false, NULL)
STEADING_SPEC(pv_module, "module", STEADING_PV_MODULE, false, NULL)
STEADING_SPEC(incidence, "incidence", STEADING_INCIDENCE, false, check_incidence)
STEADING_SPEC(cell_temperature, "cell_temperature", STEADING_CELL_TEMPERATURE, false, NULL)
STEADING_SPEC(array, "array", STEADING_ARRAY, false, NULL)
STEADING_SPEC(battery_module, "module", STEADING_BATTERY_MODULE, false, check_battery_module)
STEADING_SPEC(battery, "battery", STEADING_BATTERY, false, NULL)
STEADING_SPEC(rules, "rules", STEADING_RULES, false, NULL)
STEADING_SPEC(hub, "hub", STEADING_HUB, false, NULL)
STEADING_SPEC(tariff_block, "energy", STEADING_TARIFF_BLOCK, false, NULL)
STEADING_SPEC(tariff, "tariff", STEADING_TARIFF, false, check_tariff)
STEADING_SPEC(meter, "meter", STEADING_METER, false, NULL)
STEADING_SPEC(load_daily, "daily", STEADING_LOAD_DAILY, true, NULL)
STEADING_SPEC(load_steady, "steady", STEADING_LOAD_STEADY, true, NULL)
STEADING_SPEC(load_refrigerators, "refrigerators", STEADING_LOAD_REFRIGERATORS, true, NULL)
STEADING_SPEC(load_timed, "timed", STEADING_LOAD_TIMED, true, NULL)
STEADING_SPEC(load_series, "series", STEADING_LOAD_SERIES, true, NULL)
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
STEADING_SPEC(climate_fields, "synthesize", STEADING_CLIMATE_FIELDS, false, NULL)
STEADING_SPEC(read_fields, "read", STEADING_READ_FIELDS, false, NULL)
STEADING_SPEC(ask_sun, "sun.position", STEADING_ASK_SUN, false, check_ask_sun)
STEADING_SPEC(ask_plane, "sky.on_plane", STEADING_ASK_PLANE, false, NULL)
STEADING_SPEC(ask_incidence, "pv.incidence_modifier", STEADING_ASK_INCIDENCE, false,
              check_ask_incidence)
STEADING_SPEC(ask_cell, "pv.cell_temperature", STEADING_ASK_CELL, false, NULL)
STEADING_SPEC(ask_pump, "water.pump_kw", STEADING_ASK_PUMP, false, NULL)

const steading_spec *const steading_variants_loads[] = {
    &steading_load_daily_spec, &steading_load_steady_spec, &steading_load_refrigerators_spec,
    &steading_load_timed_spec, &steading_load_series_spec, NULL};
