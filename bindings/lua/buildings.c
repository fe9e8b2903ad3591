/* run.buildings: who used what. */
#include "dispatch/buildings.h"

#include <math.h>

#include "script.h"

static int buildings_gc(lua_State *L) {
  steading_buildings **buildings = lua_touserdata(L, 1);
  steading_buildings_free(*buildings);
  *buildings = NULL;
  return 0;
}

enum {
  YEAR,
  MONTH,
  BUILDING,
  LOAD,
  FROM_PV,
  FROM_BATTERY,
  FROM_GRID,
  FROM_GENERATOR,
  UNSERVED,
  SHED,
  PEAK,
  PEAK_AT,
  COINCIDENT,
  COLUMNS
};

static const char *const names[COLUMNS] = {"year",
                                           "month",
                                           "building",
                                           "load_kwh",
                                           "from_pv_kwh",
                                           "from_battery_kwh",
                                           "from_grid_kwh",
                                           "from_generator_kwh",
                                           "unserved_kwh",
                                           "shed_kwh",
                                           "peak_kw",
                                           "peak_at",
                                           "share_of_coincident_peak"};

void steading_lua_push_buildings(lua_State *L, const steading_run *run) {
  static const bool is_text[COLUMNS] = {[BUILDING] = true, [PEAK_AT] = true};
  steading_buildings **held = lua_newuserdatauv(L, sizeof *held, 0);
  const steading_buildings *all = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_table *table = NULL;
  *held = NULL;
  steading_lua_set_gc(L, "steading.buildings", buildings_gc);
  steading_engine_enter(L);
  status = steading_run_buildings(run, held, &error);
  steading_engine_leave();
  if (status != STEADING_OK) steading_lua_raise(L, &error);
  all = *held;
  table = steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (size_t k = 0; k < all->month_count; k++)
    for (size_t i = 0; i < all->count; i++) {
      const steading_building_month *m = &all->months[k * all->count + i];
      char time[48];
      const char *texts[COLUMNS] = {[BUILDING] = all->names[i]};
      double cells[COLUMNS] = {[YEAR] = run->months[k].year,
                               [MONTH] = run->months[k].month,
                               [LOAD] = m->load_kwh,
                               [FROM_PV] = m->from_pv_kwh,
                               [FROM_BATTERY] = m->from_battery_kwh,
                               [FROM_GRID] = m->from_grid_kwh,
                               [FROM_GENERATOR] = m->from_generator_kwh,
                               [UNSERVED] = m->unserved_kwh,
                               [SHED] = m->shed_kwh,
                               [PEAK] = m->peak_kw};
      cells[COINCIDENT] =
          all->site_peak_kw[k] > 0 ? m->coincident_kw / all->site_peak_kw[k] : (double)NAN;
      if (m->peak_kw > 0) { /* else it used nothing: there is no such step */
        steading_lua_time(run, m->peak_step, time, sizeof time);
        texts[PEAK_AT] = time;
      }
      steading_lua_add_row(L, table, cells, texts);
    }
  lua_remove(L, -2); /* what it was made with */
}
