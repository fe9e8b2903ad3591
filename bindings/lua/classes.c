/* run.classes: who goes short. */
#include "dispatch/classes.h"

#include "script.h"

static int classes_gc(lua_State *L) {
  steading_class_months **classes = lua_touserdata(L, 1);
  steading_class_months_free(*classes);
  *classes = NULL;
  return 0;
}

enum { YEAR, MONTH, HUB, METER, CLASS, LOAD, SERVED, SHED, UNSERVED, COLUMNS };

/* A side's name in the column of its kind; a hub's meter stands beside it. */
static void set_side(const steading_run *run, size_t side, const char **texts) {
  const steading_site *site = run->site;
  if (side >= run->layout.hubs) {
    texts[METER] = site->meters->entries[side - run->layout.hubs].name;
    return;
  }
  texts[HUB] = site->hubs->entries[side].name;
  texts[METER] = ((const steading_hub *)(void *)site->hubs->entries[side].item)->meter;
}

void steading_lua_push_classes(lua_State *L, const steading_run *run) {
  static const char *const names[COLUMNS] = {"year",       "month",    "hub",
                                             "meter",      "class",    "load_kwh",
                                             "served_kwh", "shed_kwh", "unserved_kwh"};
  static const bool is_text[COLUMNS] = {[HUB] = true, [METER] = true, [CLASS] = true};
  steading_class_months **held = lua_newuserdatauv(L, sizeof *held, 0);
  const steading_class_months *all = NULL;
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  steading_table *table = NULL;
  *held = NULL;
  steading_lua_set_gc(L, "steading.classes", classes_gc);
  steading_engine_enter(L);
  status = steading_run_classes(run, held, &error);
  steading_engine_leave();
  if (status != STEADING_OK) steading_lua_raise(L, &error);
  all = *held;
  table = steading_lua_push_frame(L, COLUMNS, names, is_text, run->site->name, run->site->currency);
  for (size_t k = 0; k < all->month_count; k++)
    for (size_t i = 0; i < all->sides * STEADING_CLASSES; i++) {
      const steading_class_month *m = &all->months[k * all->sides * STEADING_CLASSES + i];
      const double cells[COLUMNS] = {[YEAR] = run->months[k].year, [MONTH] = run->months[k].month,
                                     [LOAD] = m->load_kwh,         [SERVED] = m->served_kwh,
                                     [SHED] = m->shed_kwh,         [UNSERVED] = m->unserved_kwh};
      const char *texts[COLUMNS] = {[CLASS] = steading_choices_class[i % STEADING_CLASSES]};
      if (!all->there[i]) continue;
      set_side(run, i / STEADING_CLASSES, texts);
      steading_lua_add_row(L, table, cells, texts);
    }
  lua_remove(L, -2); /* what it was made with */
}
