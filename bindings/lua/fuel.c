/* run.fuel: what generators burnt, what it cost, and how far the tank was down. */
#include "ledger/fuel.h"

#include <math.h>

#include "plant/fuel.h"
#include "script.h"

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
      size_t row = table->rows;
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
      if (steading_table_add_row(table) != STEADING_OK ||
          steading_table_set_text(table, row, FUEL, fuels->entries[f].name) != STEADING_OK)
        steading_lua_fail(L, "not enough memory");
      for (size_t c = 0; c < COLUMNS; c++)
        if (!is_text[c]) table->columns[c].numbers[row] = cells[c];
    }
}
