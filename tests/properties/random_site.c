#include "random_site.h"

#include <check.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dispatch/decide.h"
#include "site/function.h"

enum { PLACES = 3 };

static steading_weather *weathers[PLACES];

/* What a text of a site may name beside its weather, "@0": the loads of a year by the hour, "@1",
 * those of a year by the half hour, "@2", and functions that decide, "@3" and after, one for each
 * set of parts that a hub may have. */
enum {
  HOURS = 8760,
  HOURLY = 1,
  HALF_HOURLY,
  FIRST_DECIDE,
  HAS_BATTERY = 1,
  HAS_METER = 2,
  HAS_CHARGER = 4,
  HAS_GENERATOR = 8,
  DECIDES = 16,
  THINGS = FIRST_DECIDE + DECIDES
};

static double hourly_kw[HOURS], half_hourly_kw[2 * HOURS];

/* Answers follow from the step alone: a run that is repeated hears the same ones. */
static steading_status decide(steading_function *function, const steading_decide_step *step,
                              steading_decision *decision, steading_error *error) {
  const size_t has = function->number - FIRST_DECIDE;
  const bool on_grid = (has & HAS_METER) != 0 && (has & HAS_BATTERY) != 0;
  dice d = {.seed = 700000 + (uint64_t)step->step};
  (void)error;
  if ((has & HAS_BATTERY) != 0 && often(&d, 0.4)) decision->battery_floor = roll(&d);
  if (on_grid && often(&d, 0.4)) decision->discharge_kw = roll_size(&d, 6);
  if (on_grid && (has & HAS_CHARGER) != 0 && often(&d, 0.4)) {
    decision->charge_from_grid_kw = roll_size(&d, 6);
    if (often(&d, 0.5)) decision->charge_to = roll(&d);
  }
  if ((has & HAS_GENERATOR) != 0 && often(&d, 0.4))
    decision->generator = often(&d, 0.4) ? STEADING_GENERATOR_TO_RUN : STEADING_GENERATOR_TO_REST;
  if (often(&d, 0.3)) {
    decision->says_shed = true;
    for (int c = 0; c < STEADING_SHED_CLASSES; c++) decision->shed[c] = often(&d, 0.3);
  }
  return STEADING_OK;
}

static void never_gone(steading_function *function) { (void)function; }

static steading_function functions[DECIDES];

void random_site_weathers(void) {
  static const double latitudes[PLACES] = {48, 35, -30};
  dice d = {.seed = 31};
  for (int i = 0; i < PLACES; i++) weathers[i] = build_weather_at(latitudes[i], 3);
  for (int i = 0; i < HOURS; i++) hourly_kw[i] = roll_size(&d, 3);
  for (int i = 0; i < 2 * HOURS; i++) half_hourly_kw[i] = roll_size(&d, 3);
  for (size_t i = 0; i < DECIDES; i++)
    functions[i] = (steading_function){
        .references = 1, .number = FIRST_DECIDE + i, .decide = decide, .gone = never_gone};
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

/* A day of the half year from a month on. */
static void add_date(dice *d, char *text, const char *field, int month) {
  random_site_add(text, ", %s = \"2027-%02d", field, month + below(d, 6));
  random_site_add(text, "-%02d\"", 1 + below(d, 28));
}

/* One to three lots of `each` pieces at a time; some come or go within the year. `charge`: of a
 * battery. Returns the pieces that are there from the start. */
static int add_lots_of(dice *d, char *text, int most, int each, bool charge) {
  int count = often(d, 0.6) ? 1 : 1 + below(d, 3);
  int from_start = 0;
  random_site_add(text, "lots = { ");
  for (int i = 0; i < count; i++) {
    bool dated = count > 1 && often(d, 0.6), retires = count > 1 && often(d, 0.3);
    int least = often(d, 0.1) ? 0 : 1, pieces = least + below(d, most);
    random_site_add(text, "{ count = %d", pieces * each);
    if (!dated) from_start += pieces * each;
    if (dated) add_date(d, text, "in_service", 1);
    if (dated && charge && often(d, 0.5))
      random_site_add(text, ", delivered_charge = %.3f", roll_between(d, 0.2, 0.8));
    if (retires) add_date(d, text, "retired", 7);
    random_site_add(text, " }, ");
  }
  random_site_add(text, "}");
  return from_start;
}

static int add_lots(dice *d, char *text, int most, bool charge) {
  return add_lots_of(d, text, most, 1, charge);
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
  if (charges) {
    int to = (from + 1 + below(d, 22)) % 24;
    random_site_add(text, "charge_from_grid = { window = { hours = \"%02d:00-%02d:00\", ", from,
                    to);
    random_site_add(text, "days = \"%s\" }, ", often(d, 0.5) ? "Mon-Sun" : "Mon-Fri");
    random_site_add(text, "charge_to = %.3f", roll_between(d, 0.25, 0.8));
    random_site_add(text, "%s }, ", often(d, 0.3) ? ", kw = 0.9" : "");
  }
  if (often(d, 0.3))
    random_site_add(text,
                    "discharge_windows = { \"05:00-09:00\", { hours = \"%02d:00-23:00\" } }, ",
                    10 + below(d, 12));
  if (often(d, 0.3)) random_site_add(text, "battery_use = \"outages\", ");
  if (often(d, 0.3)) {
    random_site_add(text, "raise_reserve = { ahead_h = %d, ", 1 + below(d, 72));
    random_site_add(text, "below_kwh = %.2f, ", 40 * roll(d));
    random_site_add(text, "to = %.3f, ", roll_between(d, 0.31, 0.84));
    random_site_add(text, "skill = %.2f }, ", roll(d));
  }
}

/* A curve given by its losses. */
static void add_losses(dice *d, char *text) {
  random_site_add(text, "losses = { idle_share = %.4f, ", roll_between(d, 0.001, 0.02));
  random_site_add(text, "share_of_power = %.4f, ", roll_between(d, 0, 0.04));
  random_site_add(text, "share_at_rating = %.4f }, ", roll_between(d, 0, 0.05));
  if (often(d, 0.4)) random_site_add(text, "night_w = 0.3, "); /* idle is 0.5 W or more */
}

/* What an array loses, sees and is warmed by, each with a value of its own. */
static void add_array_losses(dice *d, char *text) {
  static const char *const losses[] = {"settling_loss", "mismatch_loss", "dc_wiring_loss",
                                       "downtime_share"};
  static const char *const others[] = {
      "incidence = false",
      "incidence = { model = \"ashrae\", b0 = 0.07 }",
      "incidence = { model = \"fresnel\" }",
      "cell_temperature = { model = \"faiman\", wind_m_per_s = 3 }",
      "cell_temperature = { model = \"king\", mounting = \"sheet_back_open_rack\", "
      "wind_m_per_s = 1 }",
      "sky_model = \"isotropic\"",
      "sky_model = \"hay_davies\", albedo = { 0.6, 0.6, 0.4, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, "
      "0.3, 0.5 }",
      "snow = { 0.4, 0.3, 0.1, 0, 0, 0, 0, 0, 0, 0, 0.1, 0.3 }",
      "soiling_rate = { per_day = 0.002, rain_free_days = 20, most = 0.1 }"};
  int other = often(d, 0.3) ? below(d, sizeof others / sizeof others[0]) : -1;
  for (size_t k = 0; k < sizeof losses / sizeof losses[0]; k++)
    if (often(d, 0.2)) random_site_add(text, ", %s = %.3f", losses[k], roll_size(d, 0.4));
  if (other >= 0) random_site_add(text, ", %s", others[other]);
  if (often(d, 0.2) && (other < 0 || strncmp(others[other], "soiling_rate", 12) != 0))
    random_site_add(text, ", soiling = %.2f", 0.2 * roll(d));
}

/* A hill, or a house nearby. */
static void add_skyline(dice *d, char *text) {
  int azimuth = below(d, 90);
  random_site_add(text, ", horizon = { ");
  for (int points = 1 + below(d, 5); points > 0; points--) {
    random_site_add(text, "{ azimuth_deg = %d, ", azimuth);
    random_site_add(text, "elevation_deg = %.1f }, ", roll_size(d, 60));
    azimuth += 1 + below(d, 50);
  }
  random_site_add(text, "}");
}

static void add_tracking(dice *d, char *text) {
  static const char *const kinds[] = {
      "axes = \"two\"", "axes = \"two\", most_deg = 50", "axes = \"one\"",
      "axes = \"one\", axis_azimuth_deg = 150, axis_tilt_deg = 20, most_deg = 45",
      "axes = \"one\", backtracks = true"};
  int kind = below(d, 5);
  random_site_add(text, "tracking = { %s }", kinds[kind]);
  if (kind == 4)
    random_site_add(text, ", rows = { pitch_m = 6, slant_m = 2.2, count = %d }", 2 + below(d, 9));
}

/* Modules by their sheet, that of the 200 W module of Villalva, Gazoli and Ruppert 2009, in strings
 * on one of the inputs of add_inputs. */
static void add_strings(dice *d, char *text) {
  int in_series = 2 + below(d, 12);
  random_site_add(text,
                  ", module = { watts = 200.143, temp_coefficient_per_c = -0.0048, noct_c = 47, "
                  "model = \"one_diode\", isc_a = 8.21, voc_v = 32.9, imp_a = 7.61, vmp_v = 26.3, "
                  "isc_a_per_c = 0.00318, voc_v_per_c = -0.123, cells = 54 }, strings = { "
                  "in_series = %d, input = \"%s\" }, ",
                  in_series, often(d, 0.6) ? "a" : "b");
  add_lots_of(d, text, 3, in_series, false);
}

/* Of the unit: a window that strings may miss, limits that may bind. */
static void add_inputs(dice *d, char *text) {
  random_site_add(text, "inputs = { a = { window_v = { %.1f, 600 }, ", roll_between(d, 40, 250));
  if (often(d, 0.5)) random_site_add(text, "most_kw = %.3f, ", roll_between(d, 0.3, 6));
  random_site_add(text, "}, b = { window_v = { 90, %.1f }, ", roll_between(d, 150, 500));
  if (often(d, 0.5)) random_site_add(text, "most_a = %.2f, ", roll_between(d, 3, 20));
  random_site_add(text, "} }, ");
}

/* An array on the AC side. */
static void add_own_inverter(dice *d, char *text) {
  bool limit = often(d, 0.6), efficiency = often(d, 0.5);
  random_site_add(text, ", coupled = \"ac\"");
  if (!limit && !efficiency) return;
  random_site_add(text, ", own_inverter = { ");
  if (limit) random_site_add(text, "ac_kw = %.3f, ", roll_between(d, 0.3, 6));
  if (efficiency) {
    random_site_add(text, "efficiency = { at_10 = %.4f, ", roll_between(d, 0.85, 0.95));
    random_site_add(text, "at_100 = %.4f }, ", roll_between(d, 0.9, 0.97));
  }
  random_site_add(text, "}");
}

/* `inputs`: the unit has some; `ac_coupled`: it may have inverters of its own. */
static void add_array(dice *d, random_site *p, bool inputs, bool ac_coupled) {
  char *t = p->hubs;
  bool tracks = p->everything && often(d, 0.04), wired = inputs && often(d, 0.6);
  random_site_add(t, "{ ");
  if (tracks) {
    add_tracking(d, t);
  } else {
    random_site_add(t, "tilt_deg = %d, ", 15 * below(d, 4));
    random_site_add(t, "azimuth_deg = %d", 45 * below(d, 8));
  }
  if (wired) {
    add_strings(d, t);
  } else {
    random_site_add(t, ", module = { watts = 400, temp_coefficient_per_c = -0.0035 }, ");
    add_lots(d, t, 15, false);
  }
  if (p->everything && often(d, 0.4)) add_array_losses(d, t);
  if (p->everything && !wired && often(d, 0.1))
    random_site_add(t, ", low_light = { at_200_w_per_m2 = 0.9 }");
  if (p->everything && often(d, 0.04)) {
    add_skyline(d, t);
    p->skylines++;
  }
  if (ac_coupled && !wired && often(d, 0.7)) add_own_inverter(d, t);
  p->tracked += tracks;
  p->wired += wired;
  random_site_add(t, " }, ");
}

/* Where a battery stands: a heater or none. */
static void add_room(dice *d, random_site *p, bool heater) {
  random_site_add(p->hubs, ", room = { temp_c = ");
  if (often(d, 0.5))
    random_site_add(p->hubs, "%.1f", roll_between(d, heater ? -5 : 5, heater ? 15 : 45));
  else
    random_site_add(p->hubs, "\"outdoors\"");
  if (heater) {
    random_site_add(p->hubs, ", heater_w = %.1f, ", 1 + roll_size(d, 900));
    random_site_add(p->hubs, "heat_below_c = %.1f", roll_between(d, -5, 12));
    p->heated++;
  }
  random_site_add(p->hubs, " }");
}

static void add_ageing(dice *d, random_site *p) {
  static const char by_depth[] =
      "model = \"cycles_against_depth\", depths = { { depth = 0.2, cycles = 900 }, "
      "{ depth = 0.8, cycles = 120 } }, calendar_years = 4";
  const char *const models[] = {"model = \"naumann\"",
                                "model = \"wang\", throughput = \"both_ways\"", "model = \"wang\"",
                                by_depth};
  random_site_add(p->hubs, ", ageing = { %s, ", models[below(d, 4)]);
  random_site_add(p->hubs, "replace_at_health = %.2f }", roll_between(d, 0.5, 0.99));
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
        random_site_add(p->fuels, "delivery = { order_below = %.2f, ", roll_between(d, 0.05, 0.5));
        random_site_add(p->fuels, "lead_days = %d, ", below(d, 20));
        random_site_add(p->fuels, "least_l = %.1f", 0.25 * litres * roll(d));
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
  random_site_add(t, "generator = { unit = { kw = %.3f, ", roll_between(d, 0.3, 8));
  random_site_add(t, "fuel = \"%s\", ", fuel_names[below(d, p->fuel_count)]);
  random_site_add(t, "no_load_l_per_h = %.3f, ", roll(d));
  random_site_add(t, "l_per_kwh = %.3f, ", roll_between(d, 0.3, 0.6));
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
  if (by_charge) {
    random_site_add(text, "start_below_charge = %.3f, ", roll_between(d, 0.05, 0.45));
    random_site_add(text, "stop_above_charge = %.3f, ", roll_between(d, 0.46, 0.84));
  }
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

static void add_unit(dice *d, random_site *p, bool derates, bool charges, bool inputs,
                     bool ac_coupled) {
  char *t = p->hubs;
  double ac_kw = roll_between(d, 0.5, 8);
  bool curve = false;
  random_site_add(t, "unit = { ac_kw = %.3f, ", ac_kw);
  if (p->everything && often(d, 0.4)) {
    add_losses(d, t);
  } else {
    random_site_add(t, "efficiency = { at_10 = %.4f, ", roll_between(d, 0.85, 0.95));
    random_site_add(t, "at_100 = %.4f }, ", roll_between(d, 0.9, 0.97));
    curve = true;
  }
  if (curve && often(d, 0.4))
    random_site_add(t, "night_w = %.3f, ", 4 * ac_kw * roll(d)); /* idle is 4.2 W/kW or more */
  if (derates) {
    random_site_add(t, "derate = { { temp_c = %.1f, share = 1 }, ", roll_between(d, -5, 15));
    random_site_add(t, "{ temp_c = %.1f, ", roll_between(d, 16, 40));
    random_site_add(t, "share = %.2f } }, ", 0.9 * roll(d));
  }
  if (often(d, 0.3)) random_site_add(t, "pass_through_kw = %.3f, ", roll_between(d, 0.1, 8));
  if (charges || (ac_coupled && often(d, 0.8)))
    random_site_add(t, "charge_from_grid_kw = %.3f, ", roll_between(d, 0.1, 8));
  if (often(d, 0.15)) random_site_add(t, "islanded_kw = %.3f, ", ac_kw * roll_between(d, 0.3, 1));
  if (ac_coupled && !charges && often(d, 0.8))
    random_site_add(t, "charge_from_grid_kw = %.3f, ", roll_between(d, 0.1, 8));
  if (often(d, 0.15)) random_site_add(t, "islanded_kw = %.3f, ", ac_kw * roll_between(d, 0.3, 1));
  if (charges && often(d, 0.5))
    random_site_add(t, "charge_efficiency = %.3f, ", roll_between(d, 0.8, 1));
  if (often(d, 0.3)) {
    random_site_add(t, "battery_kw = %.3f, ", 6 * roll(d));
    random_site_add(t, "pv_kw = %.3f, ", 8 * roll(d));
  }
  if (inputs) add_inputs(d, t);
  random_site_add(t, "}, ");
}

/* Cells that are more than constant efficiencies; `room`: their temperature is known. */
static void add_cells(dice *d, char *t, double kwh, bool room) {
  bool lead = often(d, 0.5), ohmic = !lead && often(d, 0.5);
  if (room && often(d, 0.6))
    random_site_add(t, "usable_share_at_c = { { -10, %.2f }, { 15, 1 } }, ", roll(d));
  if (lead) {
    random_site_add(t, "chemistry = \"lead_acid\", ");
    if (often(d, 0.3)) {
      random_site_add(t, "rates = { { hours = 20, kwh = %.4f }, ", 0.9 * kwh);
      random_site_add(t, "{ hours = 2, kwh = %.4f } }, ", roll_between(d, 0.55, 0.85) * kwh);
    } else {
      random_site_add(t, "available_share = %.3f, ", roll_between(d, 0.05, 0.9));
      random_site_add(t, "per_h = %.4f, ", roll_between(d, 0.01, 3));
    }
    if (often(d, 0.5)) {
      random_site_add(t, "gassing = { above = %.3f, ", roll_between(d, 0.5, 0.95));
      random_site_add(t, "at_full = %.3f }, ", roll(d));
    }
  }
  if (ohmic) random_site_add(t, "resistance = { volts = 48, ohm = %.4f }, ", roll_size(d, 0.3));
  if (!lead && (!ohmic || often(d, 0.5))) {
    random_site_add(t, "taper = { above = %.3f, ", roll_between(d, 0.4, 0.95));
    random_site_add(t, "at_full = %.3f }, ", roll_between(d, 0.01, 1));
  }
  if (!ohmic) random_site_add(t, "round_trip_efficiency = %.4f, ", roll_between(d, 0.6, 1));
}

/* Modules of one kind. */
static void add_kind(dice *d, random_site *p) {
  char *t = p->hubs;
  bool cold = p->everything && often(d, 0.1), ages = p->everything && often(d, 0.4);
  bool heater = cold && often(d, 0.6), special = p->everything && often(d, 0.15);
  double kwh = roll_between(d, 1, 6);
  random_site_add(t, "module = { kwh = %.3f, ", kwh);
  random_site_add(t, "usable = { %.3f, ", 0.2 * roll(d));
  random_site_add(t, "%.3f }, ", roll_between(d, 0.85, 1));
  random_site_add(t, "charge_kw = %.3f, ", 4 * roll(d));
  random_site_add(t, "discharge_kw = %.3f, ", 4 * roll(d));
  if (special)
    add_cells(d, t, kwh, cold || ages);
  else
    random_site_add(t, "round_trip_efficiency = %.4f, ", roll_between(d, 0.75, 1));
  random_site_add(t, "standby_w = %.2f, ", roll_size(d, 20));
  if (cold && (!heater || often(d, 0.8)))
    random_site_add(t, "charge_share_at_c = { { 0, 0 }, { 5, %.2f }, { 18, 1 } }, ", roll(d));
  random_site_add(t, "}, ");
  p->modules += add_lots(d, t, 6, true);
  if (cold || ages) add_room(d, p, heater);
  if (ages) add_ageing(d, p);
  p->special += special;
}

static void add_battery(dice *d, random_site *p) {
  int kinds = p->everything && often(d, 0.1) ? 2 + below(d, 2) : 1;
  random_site_add(p->hubs, "battery = { ");
  for (int k = 0; k < kinds; k++) {
    if (kinds > 1) random_site_add(p->hubs, "{ ");
    add_kind(d, p);
    if (kinds > 1) random_site_add(p->hubs, "}, ");
  }
  random_site_add(p->hubs, " }, ");
  p->several += kinds > 1;
}

static void add_shedding(dice *d, char *text) {
  random_site_add(text, "shed = { sheddable = %.3f, ", roll(d));
  random_site_add(text, "%s = ", often(d, 0.5) ? "ordinary" : "deferrable");
  random_site_add(text, "%.3f, ", roll(d));
  random_site_add(text, "restore_above = %.3f }, ", 0.3 * roll(d));
}

static void add_hub(dice *d, random_site *p, int i) {
  char *t = p->hubs;
  bool off_grid = often(d, 0.15);
  int meter = off_grid ? -1 : below(d, p->meter_count + 1) - 1;
  bool transfers = meter >= 0 && often(d, 0.25);
  bool derates = often(d, 0.3), charges = meter >= 0 && often(d, 0.4);
  bool generator = false, battery = false, inputs = p->everything && often(d, 0.1);
  bool ac_coupled = often(d, 0.2);
  bool hours = charges || (meter >= 0 && often(d, 0.3));
  random_site_add(t, "h%d = { ", i);
  if (meter >= 0) random_site_add(t, "meter = \"m%d\", ", meter);
  random_site_add(t, "inverter = { ");
  add_unit(d, p, derates, charges, inputs, ac_coupled);
  if (derates && often(d, 0.3)) random_site_add(t, "room_c = %.1f, ", roll_between(d, 0, 40));
  if (transfers) random_site_add(t, "with_grid = \"transfers\", ");
  if (meter >= 0 && often(d, 0.2)) random_site_add(t, "import_margin_w = %.1f, ", 500 * roll(d));
  add_lots(d, t, 2, false);
  random_site_add(t, " }, ");
  if (often(d, 0.85)) {
    random_site_add(t, "arrays = { ");
    for (int a = below(d, p->everything && often(d, 0.2) ? 3 : 2); a >= 0; a--)
      add_array(d, p, inputs, ac_coupled);
    random_site_add(t, "}, ");
  }
  if (often(d, 0.85)) {
    add_battery(d, p);
    battery = true;
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
  if (often(d, 0.3)) add_shedding(d, t);
  if (p->everything && often(d, 0.015)) {
    random_site_add(t, "decide = @%d, ",
                    FIRST_DECIDE + (battery ? HAS_BATTERY : 0) + (meter >= 0 ? HAS_METER : 0) +
                        (charges ? HAS_CHARGER : 0) + (generator ? HAS_GENERATOR : 0));
    p->decided++;
  }
  random_site_add(t, "} }, ");
}

/* Turns of a rota and random outages, with planned ones or without. */
static void add_random_outages(dice *d, char *text) {
  bool rota = often(d, 0.5), random = !rota || often(d, 0.5);
  random_site_add(text, "outages = { ");
  if (often(d, 0.3))
    random_site_add(text, "windows = { hours = \"0%d:00-08:00\", days = \"Sat\" }, ", below(d, 7));
  if (rota) {
    random_site_add(text, "rota = { hours = %d, ", 1 + below(d, 10));
    random_site_add(text, "starts = \"%02d:00\", ", below(d, 24));
    random_site_add(text, "every_days = %d, ", 1 + below(d, 5));
    random_site_add(text, "first_day = %d, ", below(d, 5));
    random_site_add(text, "moves_h = %d }, ", below(d, 7));
  }
  if (random) {
    random_site_add(text, "saifi = %.1f, ", 40 * roll(d));
    random_site_add(text, "caidi_h = %.2f, ", roll_between(d, 0.1, 30));
    random_site_add(text, "seed = %d, ", below(d, 3));
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
    int from = below(d, 22), to = from + 1 + below(d, 23 - from);
    random_site_add(p->meters, "outages = { windows = { { hours = \"%02d:00-%02d:00\", ", from, to);
    random_site_add(p->meters, "days = \"%s\" } } }, ", often(d, 0.5) ? "Mon-Sun" : "Tue");
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
  if (often(d, 0.08))
    random_site_add(text, "{ kind = \"series\", %s }, ",
                    often(d, 0.5) ? "kw = @1" : "kw = @2, step_minutes = 30");
}

static void add_building(dice *d, random_site *p, int b) {
  static const char *const classes[] = {"essential", "ordinary", "deferrable", "sheddable"};
  char *t = p->buildings;
  random_site_add(t, "b%d = { ", b);
  random_site_place(d, p, t);
  if (often(d, 0.2)) random_site_add(t, "in_service = \"2027-%02d-11\", ", 1 + below(d, 12));
  random_site_add(t, "loads = { { kind = \"daily\", kwh_per_day = %.3f, ", roll_size(d, 50));
  random_site_add(t, "shape = \"dwelling\", class = \"%s\" }, ", classes[below(d, 4)]);
  random_site_add(t, "{ kind = \"timed\", kw = %.3f, ", roll_size(d, 3));
  random_site_add(t, "window = \"%s\" }, ", often(d, 0.5) ? "06:10-08:30" : "21:00-05:45");
  if (often(d, 0.3))
    random_site_add(t, "{ kind = \"bills\", kwh = %.2f, shape = \"even\" }, ", 300 * roll(d));
  if (p->everything) add_other_loads(d, t);
  random_site_add(t, "} }, ");
}

static void add_well(dice *d, random_site *p, int w) {
  int tanks = 1 + below(d, 2);
  random_site_add(p->wells, "w%d = { ", w);
  random_site_place(d, p, p->wells);
  random_site_add(p->wells, "lift_m = %.2f, ", roll_between(d, 5, 200));
  random_site_add(p->wells, "flow_l_per_min = %.2f, efficiency = 0.4, ", roll_between(d, 5, 60));
  if (often(d, 0.3)) add_lots(d, p->wells, 2, false);
  random_site_add(p->wells, " }, ");
  for (int t = 0; t < tanks; t++) {
    random_site_add(p->tanks, "t%d%d = { litres = %.1f, fed_by = \"w%d\", ", w, t,
                    roll_between(d, 200, 20000), w);
    random_site_add(p->tanks, "surplus_to = %.2f, ", often(d, 0.3) ? 1 : roll(d));
    if (often(d, 0.3)) add_lots(d, p->tanks, 2, false);
    random_site_add(p->tanks, " }, ");
    random_site_add(p->users, "u%d%d = { tank = \"t%d%d\", litres_per_day = %.2f }, ", w, t, w, t,
                    roll_size(d, 5000));
  }
}

static random_site *rolled(dice *d, bool everything, int least_hubs, int most_hubs) {
  random_site *p = calloc(1, sizeof *p);
  char initial[RANDOM_SITE_ROOM] = "";
  int buildings = 0, step_minutes = 60;
  ck_assert_ptr_nonnull(p);
  p->weather = random_site_weather(d);
  p->everything = everything;
  p->hub_count = least_hubs + below(d, most_hubs - least_hubs + 1);
  p->meter_count = below(d, 4);
  if (p->hub_count + p->meter_count == 0) p->meter_count = 1;
  if (most_hubs == 1) p->meter_count = 1;
  if (least_hubs > 1 && p->meter_count > 1) p->meter_count = 1 + below(d, 2); /* they share buses */
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
  if (often(d, 0.1)) step_minutes = 30;
  snprintf(p->options, sizeof p->options, "{ start = \"2027-01\", step_minutes = %d%s%.100s }",
           step_minutes, p->aged > 0 && often(d, 0.25) ? ", years = 2" : "", initial);
  return p;
}

random_site *random_site_roll(dice *d, bool everything) { return rolled(d, everything, 0, 4); }

random_site *random_site_roll_one_hub(dice *d) { return rolled(d, true, 1, 1); }

random_site *random_site_roll_hubs(dice *d) { return rolled(d, true, 2, 4); }

const steading_site *random_site_of(const random_site *p) {
  build_thing things[THINGS] = {{.weather = p->weather},
                                {.numbers = hourly_kw, .count = HOURS},
                                {.numbers = half_hourly_kw, .count = 2 * HOURS}};
  for (int i = 0; i < DECIDES; i++) things[FIRST_DECIDE + i].function = &functions[i];
  return build(&steading_site_spec, things,
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
