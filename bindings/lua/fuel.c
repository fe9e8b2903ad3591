/* run.fuel: what generators burnt, what it cost, and how far the tank was down; steading.fuel:
 * amounts in other units, and the line through a data sheet. */
#include "ledger/fuel.h"

#include <math.h>

#include "plant/fuel.h"
#include "script.h"

/* --- run.fuel ------------------------------------------------------------------------------------
 */

enum {
  YEAR,
  MONTH,
  FUEL,
  USED,
  USED_KWH,
  DELIVERED,
  DELIVERIES,
  PRICE,
  FUEL_COST,
  FEES,
  FIXED,
  COST,
  LEVEL,
  LOWEST,
  COVER,
  WITHOUT,
  STARTS,
  HOURS,
  GENERATOR,
  COLUMNS
};

static const char *const names[COLUMNS] = {
    "year",      "month",        "fuel",          "used_l",
    "used_kwh",  "delivered_l",  "deliveries",    "price_per_l",
    "fuel_cost", "fees",         "fixed_cost",    "cost",
    "level_l",   "lowest_share", "days_of_cover", "hours_without_fuel",
    "starts",    "hours",        "generator_kwh"};

void steading_lua_push_fuel(lua_State *L, const steading_run *run) {
  static const bool is_text[COLUMNS] = {[FUEL] = true};
  const steading_map *fuels = run->site->fuels;
  size_t count = fuels == NULL ? 0 : fuels->count;
  steading_table *table =
      steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (size_t k = 0; k < run->month_count; k++)
    for (size_t f = 0; f < count; f++) {
      const steading_fuel *fuel = (const void *)fuels->entries[f].item;
      const steading_fuel_bill bill = steading_fuel_bill_of(run, f, k, 1);
      double days = (double)run->months[k].steps * run->step_minutes / 1440;
      double litres = fuel->tank == NULL ? (double)NAN : fuel->tank->litres;
      const char *texts[COLUMNS] = {[FUEL] = fuels->entries[f].name};
      const double cells[COLUMNS] = {
          [YEAR] = run->months[k].year,
          [MONTH] = run->months[k].month,
          [USED] = bill.used_l,
          [USED_KWH] = bill.used_l * steading_fuel_kwh_per_l(fuels->entries[f].name, fuel),
          [DELIVERED] = bill.delivered_l,
          [DELIVERIES] = bill.trucks,
          [PRICE] = fuel->price_per_l,
          [FUEL_COST] = bill.fuel_cost,
          [FEES] = bill.fees,
          [FIXED] = bill.fixed_cost,
          [COST] = bill.fuel_cost + bill.fees + bill.fixed_cost,
          [LEVEL] = bill.end_l,
          [LOWEST] = bill.lowest_l / litres,
          [COVER] = bill.used_l > 0 ? bill.lowest_l / (bill.used_l / days) : (double)NAN,
          [WITHOUT] = bill.hours_without,
          [STARTS] = bill.starts,
          [HOURS] = bill.hours,
          [GENERATOR] = bill.generator_kwh};
      steading_lua_add_row(L, table, cells, texts);
    }
}

/* --- steading.fuel -------------------------------------------------------------------------------
 */

static void set_number(lua_State *L, const char *name, double value) {
  lua_pushnumber(L, value);
  lua_setfield(L, -2, name);
}

static int fuel_amounts(lua_State *L) {
  static const char *const known[] = {"propane", "natural_gas", "petrol", "diesel", NULL};
  const steading_ask_fuel *ask = NULL;
  const steading_fuel_content *fuel = NULL;
  double litres = 0;
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_fuel_spec, "fuel.amounts");
  fuel = steading_fuel_known(ask->fuel);
  if (fuel == NULL) return steading_lua_unknown(L, "fuel.amounts.fuel", ask->fuel, known);
  if (steading_record_given(ask, "cubic_feet") && !fuel->gas)
    return steading_lua_fail(L, "fuel.amounts.cubic_feet: belongs to natural_gas");
  if (steading_record_given(ask, "gallons") && fuel->gas)
    return steading_lua_fail(L, "fuel.amounts.gallons: belongs to liquids");
  if (steading_record_given(ask, "litres")) litres = ask->litres;
  if (steading_record_given(ask, "gallons")) litres = ask->gallons * STEADING_LITRES_PER_GALLON;
  if (steading_record_given(ask, "kg")) litres = ask->kg / fuel->kg_per_l;
  if (steading_record_given(ask, "pounds"))
    litres = ask->pounds * STEADING_KG_PER_POUND / fuel->kg_per_l;
  if (steading_record_given(ask, "cubic_feet"))
    litres = ask->cubic_feet * STEADING_LITRES_PER_CUBIC_FOOT;
  if (steading_record_given(ask, "kwh")) litres = ask->kwh / fuel->kwh_per_l;
  lua_createtable(L, 0, 5);
  set_number(L, "litres", litres);
  set_number(L, "kg", litres * fuel->kg_per_l);
  set_number(L, "pounds", litres * fuel->kg_per_l / STEADING_KG_PER_POUND);
  set_number(L, "kwh", litres * fuel->kwh_per_l);
  if (fuel->gas)
    set_number(L, "cubic_feet", litres / STEADING_LITRES_PER_CUBIC_FOOT);
  else
    set_number(L, "gallons", litres / STEADING_LITRES_PER_GALLON);
  steading_lua_strict(L, "fuel.amounts");
  return 1;
}

static int fuel_curve(lua_State *L) {
  const steading_ask_fuel_curve *ask = NULL;
  steading_fuel_curve curve = {0};
  luaL_checktype(L, 1, LUA_TTABLE);
  ask = steading_lua_read(L, 1, &steading_ask_fuel_curve_spec, "fuel.curve");
  if (!steading_fuel_curve_through(ask->kw->count, ask->kw->values, ask->l_per_h->values, &curve))
    return steading_lua_fail(
        L, "fuel.curve: no line that rises from above zero goes through these points");
  lua_createtable(L, 0, 2);
  set_number(L, "no_load_l_per_h", curve.no_load_l_per_h);
  set_number(L, "l_per_kwh", curve.l_per_kwh);
  steading_lua_strict(L, "fuel.curve");
  return 1;
}

void steading_open_fuel(lua_State *L) {
  static const luaL_Reg functions[] = {
      {"amounts", fuel_amounts}, {"curve", fuel_curve}, {NULL, NULL}};
  luaL_newlib(L, functions);
  steading_lua_strict(L, "steading.fuel");
  lua_setfield(L, -2, "fuel");
}
