#include "random_site.h"

#include <check.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PLACES = 3 };

static steading_weather *weathers[PLACES];

void random_site_weathers(void) {
  static const double latitudes[PLACES] = {48, 35, -30};
  for (int i = 0; i < PLACES; i++) weathers[i] = build_weather_at(latitudes[i], 3);
}

void random_site_drop_weathers(void) {
  for (int i = 0; i < PLACES; i++) steading_weather_release(weathers[i]);
}

steading_weather *random_site_weather(dice *d) { return weathers[below(d, PLACES)]; }

void random_site_add(char *text, const char *format, ...) {
  size_t used = strlen(text);
  int more = 0;
  va_list list;
  va_start(list, format);
  more = vsnprintf(text + used, RANDOM_SITE_ROOM - used, format, list);
  va_end(list);
  if (more < 0 || used + (size_t)more >= RANDOM_SITE_ROOM) ck_abort_msg("too long a text");
}

/* One to three lots; some come or go within the year. `charge`: of a battery. Returns the pieces
 * that are there from the start. */
static int add_lots(dice *d, char *text, int most, bool charge) {
  int count = often(d, 0.6) ? 1 : 1 + below(d, 3);
  int from_start = 0;
  random_site_add(text, "lots = { ");
  for (int i = 0; i < count; i++) {
    bool dated = count > 1 && often(d, 0.6), retires = count > 1 && often(d, 0.3);
    int pieces = (often(d, 0.1) ? 0 : 1) + below(d, most);
    random_site_add(text, "{ count = %d", pieces);
    if (!dated) from_start += pieces;
    if (dated)
      random_site_add(text, ", in_service = \"2027-%02d-%02d\"", 1 + below(d, 6), 1 + below(d, 28));
    if (dated && charge && often(d, 0.5))
      random_site_add(text, ", delivered_charge = %.3f", roll_between(d, 0.2, 0.8));
    if (retires)
      random_site_add(text, ", retired = \"2027-%02d-%02d\"", 7 + below(d, 6), 1 + below(d, 28));
    random_site_add(text, " }, ");
  }
  random_site_add(text, "}");
  return from_start;
}

static void add_rules(dice *d, char *text, bool on_grid) {
  static const char *const orders[] = {"\"water\", \"battery\"",
                                       "\"battery\", \"water\", \"export\"",
                                       "\"export\"",
                                       "\"export\", \"battery\", \"water\"",
                                       "\"battery\"",
                                       "\"water\", \"export\", \"battery\""};
  double floor = 0.3 * roll(d);
  random_site_add(text, "battery_floor = %.3f, ", floor);
  if (on_grid && often(d, 0.4))
    random_site_add(text, "resume_above = %.3f, ", floor + 0.001 + 0.5 * roll(d));
  if (often(d, 0.4)) random_site_add(text, "outage_floor = %.3f, ", 0.3 * roll(d));
  if (on_grid && often(d, 0.4)) {
    random_site_add(text, "reserve = { ");
    for (int m = 0; m < 12; m++) random_site_add(text, "%.2f, ", often(d, 0.3) ? 0 : 0.9 * roll(d));
    random_site_add(text, "}, ");
  }
  if (often(d, 0.4)) random_site_add(text, "surplus_order = { %s }, ", orders[below(d, 6)]);
}

/* Charging from the grid, hours of discharge, a battery for outages, a reserve ahead of dull days.
 */
static void add_hours(dice *d, char *text, bool charges) {
  int from = below(d, 24);
  if (charges)
    random_site_add(text,
                    "charge_from_grid = { window = { hours = \"%02d:00-%02d:00\", days = \"%s\" }, "
                    "charge_to = %.3f%s }, ",
                    from, (from + 1 + below(d, 22)) % 24, often(d, 0.5) ? "Mon-Sun" : "Mon-Fri",
                    roll_between(d, 0.25, 0.8), often(d, 0.3) ? ", kw = 0.9" : "");
  if (often(d, 0.3))
    random_site_add(text,
                    "discharge_windows = { \"05:00-09:00\", { hours = \"%02d:00-23:00\" } }, ",
                    10 + below(d, 12));
  if (often(d, 0.3)) random_site_add(text, "battery_use = \"outages\", ");
  if (often(d, 0.3))
    random_site_add(text,
                    "raise_reserve = { ahead_h = %d, below_kwh = %.2f, to = %.3f, skill = %.2f }, ",
                    1 + below(d, 72), 40 * roll(d), roll_between(d, 0.31, 0.84), roll(d));
}

/* A curve given by its losses. */
static void add_losses(dice *d, char *text) {
  double idle = roll_between(d, 0.001, 0.02);
  random_site_add(text,
                  "losses = { idle_share = %.4f, share_of_power = %.4f, share_at_rating = %.4f }, ",
                  idle, roll_between(d, 0, 0.04), roll_between(d, 0, 0.05));
  if (often(d, 0.4)) random_site_add(text, "night_w = 0.3, "); /* idle is 0.5 W or more */
}

static void add_shade(dice *d, char *text) {
  if (often(d, 0.2)) random_site_add(text, ", soiling = %.2f", 0.2 * roll(d));
}

static void add_ageing(dice *d, random_site *p) {
  static const char by_depth[] =
      "model = \"cycles_against_depth\", depths = { { depth = 0.2, cycles = 900 }, "
      "{ depth = 0.8, cycles = 120 } }, calendar_years = 4";
  const char *const models[] = {"model = \"naumann\"",
                                "model = \"wang\", throughput = \"both_ways\"", "model = \"wang\"",
                                by_depth};
  random_site_add(p->hubs, ", room = { temp_c = ");
  if (often(d, 0.5))
    random_site_add(p->hubs, "%.1f", roll_between(d, 5, 45));
  else
    random_site_add(p->hubs, "\"outdoors\"");
  random_site_add(p->hubs, " }, ageing = { %s, replace_at_health = %.2f }", models[below(d, 4)],
                  roll_between(d, 0.5, 0.99));
  p->aged++;
}

static const char *const fuel_names[] = {"diesel", "petrol", "propane"};

static void add_fuels(dice *d, random_site *p) {
  p->fuel_count = 1 + below(d, 3);
  for (int f = 0; f < p->fuel_count; f++) {
    double litres = roll_between(d, 50, 3000);
    random_site_add(p->fuels, "%s = { ", fuel_names[f]);
    if (often(d, 0.7)) {
      random_site_add(p->fuels, "tank = { litres = %.1f", litres);
      if (often(d, 0.5))
        random_site_add(p->fuels, ", litres_at_start = %.2f", 0.75 * litres * roll(d));
      if (often(d, 0.3)) random_site_add(p->fuels, ", full_to = 0.78");
      random_site_add(p->fuels, " }, ");
      if (often(d, 0.7)) {
        random_site_add(p->fuels, "delivery = { order_below = %.2f, lead_days = %d, least_l = %.1f",
                        roll_between(d, 0.05, 0.5), below(d, 20), 0.25 * litres * roll(d));
        if (often(d, 0.3)) random_site_add(p->fuels, ", closed = { \"02-10..04-30\", \"12-25\" }");
        random_site_add(p->fuels, " }, ");
      }
    }
    random_site_add(p->fuels, "}, ");
  }
}

static void add_generator(dice *d, random_site *p) {
  char *t = p->hubs;
  int role = below(d, 3);
  random_site_add(t,
                  "generator = { unit = { kw = %.3f, fuel = \"%s\", no_load_l_per_h = %.3f, "
                  "l_per_kwh = %.3f, ",
                  roll_between(d, 0.3, 8), fuel_names[below(d, p->fuel_count)], roll(d),
                  roll_between(d, 0.3, 0.6));
  if (often(d, 0.5)) random_site_add(t, "least_load_share = %.2f, ", 0.6 * roll(d));
  if (often(d, 0.3)) random_site_add(t, "derate_per_10_c = 0.2, derate_above_c = 5, ");
  random_site_add(t, "}, role = \"%s\", ", role == 0 ? "carries" : role == 1 ? "charges" : "both");
  if (role != 0) random_site_add(t, "charger_kw = %.3f, ", roll_between(d, 0.1, 6));
  if (role != 0 && often(d, 0.5))
    random_site_add(t, "charger_efficiency = %.3f, ", roll_between(d, 0.7, 1));
  if (often(d, 0.5)) add_lots(d, t, 2, false);
  random_site_add(t, " }, ");
}

static void add_generator_rules(dice *d, char *text) {
  bool by_charge = often(d, 0.5), exercise = often(d, 0.3), load = !by_charge || often(d, 0.6);
  double most = often(d, 0.3) ? roll_between(d, 2, 12) : 24;
  random_site_add(text, "generator = { start_if_unserved = %s, ", load ? "true" : "false");
  if (by_charge)
    random_site_add(text, "start_below_charge = %.3f, stop_above_charge = %.3f, ",
                    roll_between(d, 0.05, 0.45), roll_between(d, 0.46, 0.84));
  if (often(d, 0.3)) random_site_add(text, "quiet = \"20:40-07:15\", ");
  if (often(d, 0.4)) random_site_add(text, "least_hours = %.2f, ", 2 * roll(d));
  if (often(d, 0.3)) random_site_add(text, "least_rest_hours = %.2f, ", 5 * roll(d));
  if (most < 24) random_site_add(text, "most_hours_per_day = %.2f, ", most);
  if (often(d, 0.4)) random_site_add(text, "only_without_grid = false, ");
  if (exercise)
    random_site_add(text, "exercise = { window = { hours = \"10:00-10:20\", days = \"Wed\" }%s }, ",
                    often(d, 0.5) ? ", loaded = true" : "");
  random_site_add(text, "}, ");
}

/* An array on the AC side. */
static void add_own_inverter(dice *d, char *text) {
  bool limit = often(d, 0.6), efficiency = often(d, 0.5);
  random_site_add(text, "coupled = \"ac\", ");
  if (!limit && !efficiency) return;
  random_site_add(text, "own_inverter = { ");
  if (limit) random_site_add(text, "ac_kw = %.3f, ", roll_between(d, 0.3, 6));
  if (efficiency)
    random_site_add(text, "efficiency = { at_10 = %.4f, at_100 = %.4f }, ",
                    roll_between(d, 0.85, 0.95), roll_between(d, 0.9, 0.97));
  random_site_add(text, "}, ");
}

static void add_hub(dice *d, random_site *p, int i) {
  char *t = p->hubs;
  int meter = often(d, 0.15) ? -1 : below(d, p->meter_count + 1) - 1;
  bool transfers = meter >= 0 && often(d, 0.25);
  double at_10 = roll_between(d, 0.85, 0.95), ac_kw = roll_between(d, 0.5, 8);
  bool curve = false, derates = often(d, 0.3), charges = meter >= 0 && often(d, 0.4);
  bool ac_coupled = often(d, 0.2);
  bool generator = false, hours = charges || (meter >= 0 && often(d, 0.3));
  random_site_add(t, "h%d = { ", i);
  if (meter >= 0) random_site_add(t, "meter = \"m%d\", ", meter);
  random_site_add(t, "inverter = { unit = { ac_kw = %.3f, ", ac_kw);
  if (p->everything && often(d, 0.4)) {
    add_losses(d, t);
  } else {
    random_site_add(t, "efficiency = { at_10 = %.4f, at_100 = %.4f }, ", at_10,
                    roll_between(d, 0.9, 0.97));
    curve = true;
  }
  if (curve && often(d, 0.4))
    random_site_add(t, "night_w = %.3f, ", 4 * ac_kw * roll(d)); /* idle is 4.2 W/kW or more */
  if (derates)
    random_site_add(t,
                    "derate = { { temp_c = %.1f, share = 1 }, { temp_c = %.1f, share = %.2f } }, ",
                    roll_between(d, -5, 15), roll_between(d, 16, 40), 0.9 * roll(d));
  if (often(d, 0.3)) random_site_add(t, "pass_through_kw = %.3f, ", roll_between(d, 0.1, 8));
  if (charges) random_site_add(t, "charge_from_grid_kw = %.3f, ", roll_between(d, 0.1, 8));
  if (ac_coupled && !charges && often(d, 0.8))
    random_site_add(t, "charge_from_grid_kw = %.3f, ", roll_between(d, 0.1, 8));
  if (often(d, 0.15)) random_site_add(t, "islanded_kw = %.3f, ", ac_kw * roll_between(d, 0.3, 1));
  if (charges && often(d, 0.5))
    random_site_add(t, "charge_efficiency = %.3f, ", roll_between(d, 0.8, 1));
  if (often(d, 0.3))
    random_site_add(t, "battery_kw = %.3f, pv_kw = %.3f, ", 6 * roll(d), 8 * roll(d));
  random_site_add(t, "}, ");
  if (derates && often(d, 0.3)) random_site_add(t, "room_c = %.1f, ", roll_between(d, 0, 40));
  if (transfers) random_site_add(t, "with_grid = \"transfers\", ");
  if (meter >= 0 && often(d, 0.2)) random_site_add(t, "import_margin_w = %.1f, ", 500 * roll(d));
  add_lots(d, t, 2, false);
  random_site_add(t, " }, ");
  if (often(d, 0.85)) {
    random_site_add(t, "arrays = { ");
    for (int a = 0; a <= below(d, 2); a++) {
      random_site_add(t,
                      "{ tilt_deg = %d, azimuth_deg = %d, module = { watts = 400, "
                      "temp_coefficient_per_c = -0.0035 }, ",
                      15 * below(d, 4), 45 * below(d, 8));
      add_lots(d, t, 15, false);
      if (p->everything) add_shade(d, t);
      if (ac_coupled && often(d, 0.7)) add_own_inverter(d, t);
      random_site_add(t, " }, ");
    }
    random_site_add(t, "}, ");
  }
  if (often(d, 0.85)) {
    random_site_add(t,
                    "battery = { module = { kwh = %.3f, usable = { %.3f, %.3f }, charge_kw = %.3f, "
                    "discharge_kw = %.3f, round_trip_efficiency = %.4f, standby_w = %.2f }, ",
                    roll_between(d, 1, 6), 0.2 * roll(d), roll_between(d, 0.85, 1), 4 * roll(d),
                    4 * roll(d), roll_between(d, 0.75, 1), roll_size(d, 20));
    p->modules += add_lots(d, t, 6, true);
    if (p->everything && often(d, 0.4)) add_ageing(d, p);
    random_site_add(t, " }, ");
  }
  if (p->everything && often(d, 0.15)) {
    add_generator(d, p);
    generator = true;
  }
  random_site_add(t, "rules = { ");
  if (generator && often(d, 0.8)) add_generator_rules(d, t);
  if (transfers)
    random_site_add(t, "battery_floor = 0.2, resume_above = %.3f, ", roll_between(d, 0.2, 0.9));
  else
    add_rules(d, t, meter >= 0);
  if (hours) add_hours(d, t, charges);
  if (often(d, 0.3))
    random_site_add(t, "shed = { sheddable = %.3f, %s = %.3f, restore_above = %.3f }, ", roll(d),
                    often(d, 0.5) ? "ordinary" : "deferrable", roll(d), 0.3 * roll(d));
  random_site_add(t, "} }, ");
}

/* Turns of a rota and random outages, with planned ones or without. */
static void add_random_outages(dice *d, char *text) {
  bool rota = often(d, 0.5), random = !rota || often(d, 0.5);
  random_site_add(text, "outages = { ");
  if (often(d, 0.3))
    random_site_add(text, "windows = { hours = \"0%d:00-08:00\", days = \"Sat\" }, ", below(d, 7));
  if (rota)
    random_site_add(text,
                    "rota = { hours = %d, starts = \"%02d:00\", every_days = %d, first_day = %d, "
                    "moves_h = %d }, ",
                    1 + below(d, 10), below(d, 24), 1 + below(d, 5), below(d, 5), below(d, 7));
  if (random) {
    random_site_add(text, "saifi = %.1f, caidi_h = %.2f, seed = %d, ", 40 * roll(d),
                    roll_between(d, 0.1, 30), below(d, 3));
    if (often(d, 0.3)) random_site_add(text, "in_dull_weather = 0.3, in_extreme_weather = 0.4, ");
    if (often(d, 0.3)) random_site_add(text, "lengths = { model = \"exponential\" }, ");
    if (often(d, 0.3)) random_site_add(text, "by_month = { 3, 2, 1, 0, 0, 1, 1, 1, 1, 2, 4, 3 }, ");
  }
  random_site_add(text, "}, ");
}

static void add_meter(dice *d, random_site *p, int m) {
  random_site_add(p->meters, "m%d = { export_limit_kw = %.3f, ", m, roll_size(d, 10));
  if (often(d, 0.4)) random_site_add(p->meters, "import_limit_kw = %.3f, ", 8 * roll(d));
  if (p->everything && often(d, 0.5)) {
    add_random_outages(d, p->meters);
  } else if (often(d, 0.3)) {
    int from = below(d, 22);
    random_site_add(p->meters,
                    "outages = { windows = { { hours = \"%02d:00-%02d:00\", days = \"%s\" } } }, ",
                    from, from + 1 + below(d, 23 - from), often(d, 0.5) ? "Mon-Sun" : "Tue");
  }
  random_site_add(p->meters, "}, ");
}

/* Where a building or a well stands: on a hub or a meter. */
void random_site_place(dice *d, const random_site *p, char *text) {
  int at = below(d, p->hub_count + p->meter_count);
  if (at < p->hub_count)
    random_site_add(text, "hub = \"h%d\", ", at);
  else
    random_site_add(text, "meter = \"m%d\", ", at - p->hub_count);
}

static void add_other_loads(dice *d, char *text) {
  if (often(d, 0.3))
    random_site_add(text, "{ kind = \"steady\", watts = %.1f, class = \"sheddable\" }, ",
                    roll_size(d, 900));
  if (often(d, 0.3))
    random_site_add(text,
                    "{ kind = \"refrigerators\", count = %d, kwh_per_year_each = 400, "
                    "growth_per_year = 0.1, class = \"essential\" }, ",
                    1 + below(d, 4));
}

static void add_building(dice *d, random_site *p, int b) {
  static const char *const classes[] = {"essential", "ordinary", "deferrable", "sheddable"};
  char *t = p->buildings;
  random_site_add(t, "b%d = { ", b);
  random_site_place(d, p, t);
  if (often(d, 0.2)) random_site_add(t, "in_service = \"2027-%02d-11\", ", 1 + below(d, 12));
  random_site_add(t,
                  "loads = { { kind = \"daily\", kwh_per_day = %.3f, shape = \"dwelling\", "
                  "class = \"%s\" }, ",
                  roll_size(d, 50), classes[below(d, 4)]);
  random_site_add(t, "{ kind = \"timed\", kw = %.3f, window = \"%s\" }, ", roll_size(d, 3),
                  often(d, 0.5) ? "06:10-08:30" : "21:00-05:45");
  if (often(d, 0.3))
    random_site_add(t, "{ kind = \"bills\", kwh = %.2f, shape = \"even\" }, ", 300 * roll(d));
  if (p->everything) add_other_loads(d, t);
  random_site_add(t, "} }, ");
}

static void add_well(dice *d, random_site *p, int w) {
  int tanks = 1 + below(d, 2);
  random_site_add(p->wells, "w%d = { ", w);
  random_site_place(d, p, p->wells);
  random_site_add(p->wells, "lift_m = %.2f, flow_l_per_min = %.2f, efficiency = 0.4, ",
                  roll_between(d, 5, 200), roll_between(d, 5, 60));
  if (often(d, 0.3)) add_lots(d, p->wells, 2, false);
  random_site_add(p->wells, " }, ");
  for (int t = 0; t < tanks; t++) {
    random_site_add(p->tanks, "t%d%d = { litres = %.1f, fed_by = \"w%d\", surplus_to = %.2f, ", w,
                    t, roll_between(d, 200, 20000), w, often(d, 0.3) ? 1 : roll(d));
    if (often(d, 0.3)) add_lots(d, p->tanks, 2, false);
    random_site_add(p->tanks, " }, ");
    random_site_add(p->users, "u%d%d = { tank = \"t%d%d\", litres_per_day = %.2f }, ", w, t, w, t,
                    roll_size(d, 5000));
  }
}

static random_site *rolled(dice *d, bool everything, bool one_hub) {
  random_site *p = calloc(1, sizeof *p);
  char initial[RANDOM_SITE_ROOM] = "";
  int buildings = 0;
  ck_assert_ptr_nonnull(p);
  p->weather = random_site_weather(d);
  p->everything = everything;
  p->hub_count = below(d, 5);
  p->meter_count = below(d, 4);
  if (p->hub_count + p->meter_count == 0) p->meter_count = 1;
  if (one_hub) p->hub_count = p->meter_count = 1;
  if (everything) add_fuels(d, p);
  for (int m = 0; m < p->meter_count; m++) add_meter(d, p, m);
  for (int i = 0; i < p->hub_count; i++) add_hub(d, p, i);
  buildings = 1 + below(d, 4);
  for (int b = 0; b < buildings; b++) add_building(d, p, b);
  p->well_count = below(d, 4);
  for (int w = 0; w < p->well_count; w++) add_well(d, p, w);
  if (everything && often(d, 0.3)) {
    random_site_add(initial, ", initial = { ");
    if (p->modules > 0)
      random_site_add(initial, "state_of_charge = %.3f, ", roll_between(d, 0.25, 0.8));
    if (p->well_count > 0) random_site_add(initial, "tank_share = %.3f, ", roll(d));
    random_site_add(initial, "}");
  }
  snprintf(p->options, sizeof p->options, "{ start = \"2027-01\", step_minutes = %d%s%.100s }",
           often(d, 0.9) ? 60 : 30, p->aged > 0 && often(d, 0.25) ? ", years = 2" : "", initial);
  return p;
}

random_site *random_site_roll(dice *d, bool everything) { return rolled(d, everything, false); }

random_site *random_site_roll_one_hub(dice *d) { return rolled(d, true, true); }

const steading_site *random_site_of(const random_site *p) {
  return build_site(p->weather,
                    "{ weather = @0, meters = { %s }, hubs = { %s }, buildings = { %s }, "
                    "water = { wells = { %s }, tanks = { %s }, users = { %s } }, fuels = { %s } }",
                    p->meters, p->hubs, p->buildings, p->wells, p->tanks, p->users, p->fuels);
}

steading_run *random_site_run(const random_site *p) {
  const steading_site *site = random_site_of(p);
  steading_run *run = build_run(site, p->options);
  steading_record_release(site);
  return run;
}
