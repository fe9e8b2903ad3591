/* run.batteries: what each kind of battery of each hub did, by month. */
#include "dispatch/batteries.h"

#include <math.h>

#include "script.h"
#include "site/batteries.h"

enum {
  YEAR,
  MONTH,
  HUB,
  BATTERY,
  CAPACITY,
  HEALTH,
  CHARGED,
  DISCHARGED,
  LOST,
  MEAN,
  LOWEST,
  COLUMNS
};

static const char *const names[COLUMNS] = {"year",
                                           "month",
                                           "hub",
                                           "battery",
                                           "capacity_kwh",
                                           "battery_health",
                                           "battery_charge_kwh",
                                           "battery_discharge_kwh",
                                           "battery_loss_kwh",
                                           "mean_state_of_charge",
                                           "lowest_state_of_charge"};

/* A month in which none of it is there has no shares. */
static double share(double of, double all) { return all > 0 ? of / all : (double)NAN; }

void steading_lua_push_batteries(lua_State *L, const steading_run *run) {
  static const bool is_text[COLUMNS] = {[HUB] = true};
  const steading_map *hubs = run->site->hubs;
  steading_table *table =
      steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (size_t k = 0; k < run->month_count; k++) {
    size_t battery = 0;
    for (size_t h = 0; hubs != NULL && h < hubs->count; h++)
      for (size_t i = 0; i < steading_batteries_of((const void *)hubs->entries[h].item); i++) {
        const steading_battery_month m = steading_battery_month_of(run, battery++, k);
        size_t row = table->rows;
        const double cells[COLUMNS] = {
            [YEAR] = run->months[k].year,
            [MONTH] = run->months[k].month,
            [BATTERY] = (double)(i + 1),
            [CAPACITY] = m.capacity_kwh_steps / (double)run->months[k].steps,
            [HEALTH] = share(m.capacity_kwh_steps, m.nominal_kwh_steps),
            [CHARGED] = m.in_kwh,
            [DISCHARGED] = m.out_kwh,
            [LOST] = m.loss_kwh,
            [MEAN] = share(m.stored_kwh_steps, m.capacity_kwh_steps),
            [LOWEST] = isinf(m.lowest_charge) ? (double)NAN : m.lowest_charge};
        if (steading_table_add_row(table) != STEADING_OK ||
            steading_table_set_text(table, row, HUB, hubs->entries[h].name) != STEADING_OK)
          steading_lua_fail(L, "not enough memory");
        for (size_t c = 0; c < COLUMNS; c++)
          if (!is_text[c]) table->columns[c].numbers[row] = cells[c];
      }
  }
}
