/* Odd tables for the readers of structs, and runs of the sites that they accept.
 *
 * The bytes choose what a script would hand over, field by field, along the spec tables themselves:
 * mostly values of the right kind, within or at the ends of their range, now and then another kind,
 * NaN or what is too large. A site begins as one with every part and is changed in a few places. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "dispatch/decide.h"
#include "dispatch/result.h"
#include "fuzz/targets.h"
#include "table_text.h"

enum { HOURS = 8760, DEEPEST = 6, MOST_ITEMS = 3, MOST_FLOWS = 4096 };

static void promise(bool kept, const char *what) {
  if (kept) return;
  fprintf(stderr, "broken: %s\n", what);
  abort();
}

typedef struct maker {
  const unsigned char *at, *end; /* bytes that are left; 0 behind the end */
  steading_arena arena;
  size_t made; /* tables; a limit, so that no input takes for ever */
} maker;

static unsigned take(maker *m) { return m->at < m->end ? *m->at++ : 0; }

static void *room(maker *m, size_t count, size_t size) {
  void *memory = steading_arena_take(&m->arena, count * size + 1);
  promise(memory != NULL, "memory");
  return memory;
}

/* --- values --------------------------------------------------------------------------------------
 */

static steading_weather *weather;
static double loads_kw[HOURS];

static steading_status no_decision(steading_function *function, const steading_decide_step *step,
                                   steading_decision *decision, steading_error *error) {
  (void)function;
  (void)error;
  if (step->state_of_charge > 0 && (int)step->step % 5 == 0) decision->battery_floor = 0.4;
  return STEADING_OK;
}
static void never_gone(steading_function *function) { (void)function; }
static steading_function decides = {
    .references = 1, .number = 1, .decide = no_decision, .gone = never_gone};

static steading_value number(double value) {
  return (steading_value){.kind = STEADING_VALUE_NUMBER, .number = value};
}
static steading_value text(const char *words) {
  return (steading_value){.kind = STEADING_VALUE_TEXT, .text = words};
}
static steading_value flag(bool value) {
  return (steading_value){.kind = STEADING_VALUE_BOOLEAN, .boolean = value};
}

static steading_value items(maker *m, size_t count) {
  return (steading_value){.kind = STEADING_VALUE_TABLE,
                          .item_count = count,
                          .items = room(m, count, sizeof(steading_value))};
}

static int by_key(const void *a, const void *b) {
  return strcmp(((const steading_entry *)a)->key, ((const steading_entry *)b)->key);
}

/* Set the entry of a key, or take it away with NULL. */
static void set(maker *m, steading_value *table, const char *key, const steading_value *value) {
  steading_entry *entries = room(m, table->entry_count + 1, sizeof *entries);
  size_t count = 0;
  for (size_t i = 0; i < table->entry_count; i++)
    if (strcmp(table->entries[i].key, key) != 0) entries[count++] = table->entries[i];
  if (value != NULL) entries[count++] = (steading_entry){.key = key, .value = *value};
  qsort(entries, count, sizeof *entries, by_key);
  table->entries = entries;
  table->entry_count = count;
}

static double range(const steading_field *f, double share) {
  double low = f->lowest, high = isfinite(f->highest) ? f->highest : 1e6;
  double span = fmin(high - low, 1e3); /* large numbers seldom pass together */
  return low + span * share * share;
}

static double some_number(maker *m, const steading_field *f) {
  static const double odd[] = {0,    1,           -1,   0.5,  1e-300,   1e300,
                               8760, 1e-12,       24,   12,   0.9999,   100,
                               -0.0, (double)NAN, 2027, 1e17, 4.5e-324, (double)INFINITY};
  unsigned how = take(m);
  double value = range(f, how / 190.0);
  if (how < 190) return f->kind == STEADING_FIELD_count ? floor(value) : value;
  if (how < 205) return f->lowest;
  if (how < 215) return isfinite(f->highest) ? f->highest : f->standard;
  if (how < 225) return f->standard;
  return odd[take(m) % (sizeof odd / sizeof odd[0])];
}

static steading_value one_of(maker *m, const char *const *words, size_t count) {
  return text(words[take(m) % count]);
}
#define ONE_OF(m, ...)                          \
  one_of(m, (const char *const[]){__VA_ARGS__}, \
         sizeof((const char *const[]){__VA_ARGS__}) / sizeof(char *))

static steading_value window(maker *m) {
  steading_value table = {.kind = STEADING_VALUE_TABLE}, hours, days, months;
  if (take(m) % 2 == 0)
    return ONE_OF(m, "22:00-06:00", "10:00-12:00", "00:00-24:00", "10:10-10:20", "12:00-12:00",
                  "25:00-1", "");
  hours = ONE_OF(m, "17:00-21:00", "23:00-01:00", "06:30-07:00", "x");
  days = ONE_OF(m, "Mon-Fri", "Sat", "Sun,Mon", "Fri-Mon", "Mo");
  months = ONE_OF(m, "Jun-Aug", "Nov-Feb", "Jan", "13");
  if (take(m) % 4 > 0) set(m, &table, "hours", &hours);
  if (take(m) % 2 > 0) set(m, &table, "days", &days);
  if (take(m) % 2 > 0) set(m, &table, "months", &months);
  return table;
}

static steading_value some_record(maker *m, const steading_spec *spec, int depth);

static steading_value repeated(maker *m, const steading_field *f, size_t count) {
  steading_value list = items(m, count);
  for (size_t i = 0; i < count; i++) list.items[i] = number(some_number(m, f));
  return list;
}

static size_t choices_of(const steading_field *f) {
  size_t count = 0;
  while (f->choices != NULL && f->choices[count] != NULL) count++;
  return count;
}

static steading_value some_word(maker *m, const steading_field *f) {
  size_t count = choices_of(f);
  const char *word = count == 0 ? "x" : f->choices[take(m) % count];
  return text(word[0] == '~' ? word + 1 : word);
}

static steading_value some_list(maker *m, const steading_field *f, const steading_spec *of,
                                int depth) {
  steading_value list = items(m, take(m) % (MOST_ITEMS + 1));
  for (size_t i = 0; i < list.item_count; i++) {
    const steading_spec *spec = of;
    size_t variants = 0;
    while (f->variants != NULL && f->variants[variants] != NULL) variants++;
    if (variants > 0) spec = f->variants[take(m) % variants];
    list.items[i] = some_record(m, spec, depth + 1);
  }
  return list;
}

static steading_value some_map(maker *m, const steading_field *f, int depth) {
  static const char *const names[] = {"a", "b", "c"};
  steading_value table = {.kind = STEADING_VALUE_TABLE};
  for (size_t i = 0, count = take(m) % 4; i < count; i++) {
    steading_value entry = some_record(m, f->of, depth + 1);
    set(m, &table, names[i], &entry);
  }
  return table;
}

static steading_value some_points(maker *m, const steading_field *f) {
  steading_value list = items(m, 1 + take(m) % 3);
  double temp_c = take(m) / 4.0 - 40;
  for (size_t i = 0; i < list.item_count; i++, temp_c += take(m) / 8.0) {
    list.items[i] = items(m, 2);
    list.items[i].items[0] = number(temp_c);
    list.items[i].items[1] = number(some_number(m, f));
  }
  return list;
}

static steading_value some_value(maker *m, const steading_field *f, int depth) {
  unsigned odd = take(m);
  steading_value value = {.kind = STEADING_VALUE_NONE};
  if (odd < 4) return value;
  if (odd < 8) return flag(odd % 2 == 0);
  if (odd < 10) return number((double)NAN);
  if (odd < 12) return text("a");
  if (odd < 14) return items(m, 0);
  switch (f->kind) {
    case STEADING_FIELD_number:
    case STEADING_FIELD_count:
      return number(some_number(m, f));
    case STEADING_FIELD_flag:
      return flag(take(m) % 2 == 0);
    case STEADING_FIELD_text:
    case STEADING_FIELD_name:
      return ONE_OF(m, "a", "b", "a", "c", "A b");
    case STEADING_FIELD_texts:
      value = items(m, take(m) % 4);
      for (size_t i = 0; i < value.item_count; i++)
        value.items[i] = ONE_OF(m, "water", "battery", "export", "load_kwh", "x");
      return value;
    case STEADING_FIELD_choice:
      return some_word(m, f);
    case STEADING_FIELD_words:
      value = items(m, 1 + take(m) % 2);
      for (size_t i = 0; i < value.item_count; i++) value.items[i] = some_word(m, f);
      return value;
    case STEADING_FIELD_date:
      return ONE_OF(m, "2027-01", "2027-06-15", "2027-12-31", "2028-02", "2026-03", "2027-02-29");
    case STEADING_FIELD_year_days:
      return ONE_OF(m, "12-25", "03-10..04-30", "11-01..02-28", "02-29");
    case STEADING_FIELD_monthly:
    case STEADING_FIELD_temps:
      if (f->kind == STEADING_FIELD_temps && take(m) % 3 == 0) return text("outdoors");
      return take(m) % 2 == 0 ? number(some_number(m, f)) : repeated(m, f, 12);
    case STEADING_FIELD_hours:
      return take(m) % 2 == 0 ? ONE_OF(m, "dwelling", "even", "x") : repeated(m, f, 24);
    case STEADING_FIELD_pair:
      return repeated(m, f, 2);
    case STEADING_FIELD_windows:
      if (take(m) % 3 > 0) return window(m);
      value = items(m, take(m) % 3);
      for (size_t i = 0; i < value.item_count; i++) value.items[i] = window(m);
      return value;
    case STEADING_FIELD_window_part:
      return ONE_OF(m, "17:00-21:00", "Mon-Fri", "Jun-Aug", "22:00-06:00", "Sat");
    case STEADING_FIELD_series:
      value = items(m, HOURS);
      for (size_t i = 0; i < HOURS; i++) value.items[i] = number(loads_kw[i]);
      return value;
    case STEADING_FIELD_weather:
      return (steading_value){.kind = STEADING_VALUE_WEATHER, .handle = weather};
    case STEADING_FIELD_function:
      return (steading_value){.kind = STEADING_VALUE_FUNCTION, .handle = &decides};
    case STEADING_FIELD_record:
      return some_record(m, f->of, depth + 1);
    case STEADING_FIELD_several:
      return take(m) % 2 == 0 ? some_record(m, f->of, depth + 1) : some_list(m, f, f->of, depth);
    case STEADING_FIELD_list:
    case STEADING_FIELD_variants:
      return some_list(m, f, f->of, depth);
    case STEADING_FIELD_listed:
      return take(m) % 2 == 0 ? some_record(m, f->of, depth + 1)
                              : some_list(m, f, f->of->fields[0].of, depth);
    case STEADING_FIELD_map:
      return some_map(m, f, depth);
    case STEADING_FIELD_numbers:
      return take(m) % 2 == 0 ? number(some_number(m, f)) : repeated(m, f, 1 + take(m) % 4);
    case STEADING_FIELD_amounts:
      if (take(m) % 2 == 0) return number(some_number(m, f));
      value.kind = STEADING_VALUE_TABLE;
      {
        steading_value one = number(some_number(m, f));
        set(m, &value, "a", &one);
      }
      return value;
    case STEADING_FIELD_points:
      return some_points(m, f);
    case STEADING_FIELD_later:
      return flag(false);
    case STEADING_FIELD_refused:
      return number(1);
  }
  return value;
}

static steading_value some_record(maker *m, const steading_spec *spec, int depth) {
  steading_value table = {.kind = STEADING_VALUE_TABLE};
  if (depth > DEEPEST || ++m->made > 300) return table;
  if (spec->says_kind) {
    const steading_value kind = text(spec->name);
    set(m, &table, "kind", &kind);
  }
  for (size_t i = 0; i < spec->field_count; i++) {
    const steading_field *f = &spec->fields[i];
    const bool required = f->need == STEADING_NEED_required;
    if (take(m) % 8 >= (required ? 8U : 2U)) continue;
    if (!required && f->kind == STEADING_FIELD_refused) continue;
    steading_value value = some_value(m, f, depth);
    set(m, &table, f->name, &value);
  }
  return table;
}

/* --- changes of a table that a reader accepts ---------------------------------------------------
 */

static const steading_spec *variant_of(const steading_field *f, const steading_value *item) {
  const steading_value *kind =
      item->kind == STEADING_VALUE_TABLE ? steading_value_at(item, "kind") : NULL;
  for (size_t i = 0; kind != NULL && kind->kind == STEADING_VALUE_TEXT && f->variants[i] != NULL;
       i++)
    if (strcmp(f->variants[i]->name, kind->text) == 0) return f->variants[i];
  return NULL;
}

static void change(maker *m, steading_value *table, const steading_spec *spec, int depth);

/* Go on inside the value of a field, where it has an inside. */
static bool descend(maker *m, steading_value *value, const steading_field *f, int depth) {
  const steading_spec *of = f->of;
  steading_value *inner = value;
  if (value->kind != STEADING_VALUE_TABLE || depth > 12) return false;
  if (f->kind == STEADING_FIELD_map && value->entry_count > 0) {
    inner = &value->entries[take(m) % value->entry_count].value;
  } else if (f->kind == STEADING_FIELD_list || f->kind == STEADING_FIELD_variants) {
    if (value->item_count == 0) return false;
    inner = &value->items[take(m) % value->item_count];
    if (f->variants != NULL) of = variant_of(f, inner);
  } else if (f->kind == STEADING_FIELD_listed && value->item_count > 0) {
    inner = &value->items[take(m) % value->item_count];
    of = of->fields[0].of;
  } else if (f->kind == STEADING_FIELD_several && value->item_count > 0) {
    inner = &value->items[take(m) % value->item_count];
  } else if (f->kind != STEADING_FIELD_record && f->kind != STEADING_FIELD_listed &&
             f->kind != STEADING_FIELD_several) {
    return false;
  }
  if (of == NULL || inner->kind != STEADING_VALUE_TABLE) return false;
  change(m, inner, of, depth + 1);
  return true;
}

static void change(maker *m, steading_value *table, const steading_spec *spec, int depth) {
  const steading_field *f = &spec->fields[take(m) % spec->field_count];
  steading_value value;
  unsigned how = take(m);
  for (size_t i = 0; i < table->entry_count; i++)
    if (how % 8 < 6 && strcmp(table->entries[i].key, f->name) == 0 &&
        descend(m, &table->entries[i].value, f, depth))
      return;
  if (how % 8 == 7) {
    set(m, table, f->name, NULL);
    return;
  }
  value = some_value(m, f, depth + 3);
  set(m, table, f->name, &value);
}

/* --- the target ----------------------------------------------------------------------------------
 */

static const char site_text[] =
    "{ weather = @0, meters = { a = { import_limit_kw = 6, export_limit_kw = 3, outages = { "
    "windows = { hours = \"12:00-15:00\", days = \"Sat\" }, saifi = 4, caidi_h = 5, rota = { hours "
    "= 4, starts = \"18:00\", every_days = 3 } }, tariff = { fixed_per_month = 9, energy = { { "
    "price_per_kwh = 0.2 } } } }, b = { export_limit_kw = 1 } }, hubs = { a = { meter = \"a\", "
    "inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_50 = 0.95, at_100 = 0.94 }, "
    "night_w = 10, charge_from_grid_kw = 3, charge_efficiency = 0.96, battery_kw = 4, pv_kw = 6, "
    "pass_through_kw = 8, derate = { { temp_c = 30, share = 1 }, { temp_c = 60, share = 0.5 } }, "
    "inputs = { a = { window_v = { 90, 500 }, most_kw = 5 } } }, lots = { { count = 1, price_each "
    "= 900 } } }, arrays = { { tilt_deg = 30, azimuth_deg = 180, lots = { { count = 12 }, { count "
    "= 12, in_service = \"2027-06-15\" } }, strings = { in_series = 12, input = \"a\" }, horizon = "
    "{ { azimuth_deg = 90, elevation_deg = 10 }, { azimuth_deg = 200, elevation_deg = 2 } }, "
    "module "
    "= { watts = 200.143, temp_coefficient_per_c = -0.0048, noct_c = 47, model = \"one_diode\", "
    "isc_a = 8.21, voc_v = 32.9, imp_a = 7.61, vmp_v = 26.3, isc_a_per_c = 0.00318, voc_v_per_c = "
    "-0.123, cells = 54 } }, { tracking = { axes = \"one\", backtracks = true }, rows = { pitch_m "
    "= "
    "5, slant_m = 2, count = 4 }, module = { watts = 400, temp_coefficient_per_c = -0.0035 }, lots "
    "= { { count = 6 } } } }, battery = { module = { kwh = 4, usable = { 0.1, 0.95 }, charge_kw = "
    "2, "
    "discharge_kw = 2, round_trip_efficiency = 0.9, standby_w = 5, charge_share_at_c = { { 0, 0 }, "
    "{ 10, 1 } } }, room = { temp_c = \"outdoors\", heater_w = 100, heat_below_c = 5 }, ageing = { "
    "model = \"naumann\", replace_at_health = 0.8 }, lots = { { count = 2, price_each = 900, "
    "life_years = 10 }, { "
    "count = 1, in_service = \"2027-06-15\", delivered_charge = 0.5 } } }, rules = { battery_floor "
    "= "
    "0.2, resume_above = 0.3, outage_floor = 0.1, reserve = 0.3, raise_reserve = { ahead_h = 24, "
    "below_kwh = 9, to = 0.6, skill = 0.5 }, charge_from_grid = { window = \"01:00-05:00\", "
    "charge_to = 0.8 }, discharge_windows = \"06:00-23:00\", surplus_order = { \"water\", "
    "\"battery\", \"export\" }, shed = { sheddable = 0.4, restore_above = 0.1 } } }, b = { "
    "inverter "
    "= { unit = { ac_kw = 3, losses = { idle_w = 20, share_of_power = 0.02, share_at_rating = 0.03 "
    "} "
    "}, lots = { { count = 2 } } }, arrays = { { tilt_deg = 15, azimuth_deg = 150, module = { "
    "watts "
    "= 400, temp_coefficient_per_c = -0.0035 }, lots = { { count = 5 } } } }, battery = { module = "
    "{ "
    "kwh = 3, charge_kw = 1, discharge_kw = 2, charge_efficiency = 0.95, discharge_efficiency = "
    "0.95 } }, generator = { unit = { kw = 2, fuel = \"a\", no_load_l_per_h = 0.4, l_per_kwh = "
    "0.4, "
    "least_load_share = 0.2 }, role = \"both\", charger_kw = 1, service = { every_hours = 150, "
    "price "
    "= 100 } }, rules = { generator = { start_below_charge = 0.3, stop_above_charge = 0.7, quiet = "
    "\"22:00-06:00\", least_hours = 1, most_hours_per_day = 6, exercise = { window = { hours = "
    "\"10:00-10:20\", days = \"Wed\" } } } } } }, buildings = { a = { hub = \"a\", loads = { { "
    "kind "
    "= \"daily\", kwh_per_day = 9, shape = \"dwelling\", class = \"sheddable\" }, { kind = "
    "\"refrigerators\", count = 2, kwh_per_year_each = 300, class = \"essential\" } } }, b = { "
    "meter "
    "= \"a\", loads = { { kind = \"timed\", kw = 1, window = \"21:00-05:45\" } } }, c = { hub = "
    "\"b\", in_service = \"2027-03-11\", loads = { { kind = \"bills\", kwh = 90, shape = \"even\" "
    "} "
    "} } }, water = { wells = { a = { hub = \"a\", lift_m = 60, flow_l_per_min = 20, efficiency = "
    "0.4 } }, tanks = { a = { litres = 5000, fed_by = \"a\", surplus_to = 1 } }, users = { a = { "
    "tank = \"a\", litres_per_day = 900 } } }, fuels = { a = { kwh_per_l = 7, price_per_l = 0.8, "
    "tank = { litres = 500, full_to = 0.8 }, delivery = { order_below = 0.3, lead_days = 6, closed "
    "= "
    "\"03-10..04-30\" } } } }";
static const char options_text[] = "{ start = \"2027-01\", initial = { state_of_charge = 0.4 } }";

/* What is read beside a site. */
static const steading_spec *const roots[] = {
    &steading_money_spec,         &steading_climate_fields_spec, &steading_refine_fields_spec,
    &steading_read_fields_spec,   &steading_ask_sun_spec,        &steading_ask_plane_spec,
    &steading_ask_incidence_spec, &steading_ask_clear_spec,      &steading_ask_cell_spec,
    &steading_ask_inverter_spec,  &steading_ask_diode_spec,      &steading_ask_strings_spec,
    &steading_ask_energy_spec,    &steading_ask_two_tank_spec,   &steading_ask_bill_spec,
    &steading_ask_bills_spec,     &steading_ask_fuel_curve_spec, &steading_ask_pump_spec,
    &steading_ask_indices_spec,   &steading_ask_ride_spec,       &steading_ask_events_spec,
    &steading_ask_worst_spec,     &steading_ask_profile_spec,    &steading_ask_duration_spec,
    &steading_site_spec,          &steading_simulate_spec};
enum { ROOTS = sizeof roots / sizeof roots[0] };

static void check_error(steading_status status, const steading_error *error) {
  promise(status == STEADING_BAD_INPUT || status == STEADING_NOT_YET, "the status");
  promise(error->text[0] != '\0', "the words of an error");
}

static void make_weather(void) {
  steading_climate climate = {.place = {.latitude_deg = 35, .utc_offset_h = -7}, .years = 1};
  for (int i = 0; i < 12; i++) {
    climate.ghi_kwh_per_m2_day[i] = 3;
    climate.temp_mean_c[i] = 3 * (i < 6 ? i : 11 - i) - 2;
    climate.temp_range_c[i] = 12;
  }
  for (int i = 0; i < HOURS; i++) loads_kw[i] = i % 24 < 12 ? 0.3 : 1.1;
  promise(steading_weather_synthesize(&climate, &weather, NULL) == STEADING_OK, "a weather");
}

/* Every number that the months keep is one, and what comes in goes out. */
static void check_run(const steading_run *run) {
  steading_span *span = malloc(sizeof *span);
  double throughput = 1;
  promise(span != NULL, "memory");
  for (size_t k = 0; k < run->month_count * run->layout.width; k++) {
    promise(isfinite(run->sums[k]), "a number in the months");
    throughput += fabs(run->sums[k]);
  }
  steading_span_of(run, 0, run->month_count, span);
  promise(isfinite(span->site.closure_error_kwh) &&
              fabs(span->site.closure_error_kwh) <= 1e-9 * throughput,
          "closure");
  for (size_t c = 0; c < steading_result_column_count; c++) {
    const steading_result_column *column = &steading_result_columns[c];
    const steading_view view = {.of = STEADING_OF_SITE, .index = 0};
    if ((column->of & STEADING_OF_SITE) != 0)
      promise(!isinf(column->value(span, &view)), "a column");
  }
  free(span);
}

static bool simulate(maker *m, const steading_site *site, const steading_value *options) {
  steading_error error = {.status = STEADING_OK};
  void *asked = NULL;
  steading_status status =
      steading_spec_read(&steading_simulate_spec, options, "simulate", &asked, &error);
  steading_warning *warnings = room(m, STEADING_MOST_WARNINGS, sizeof *warnings);
  steading_run *run = NULL;
  steading_site_warnings(site, warnings);
  if (status != STEADING_OK) {
    check_error(status, &error);
    return false;
  }
  if (((const steading_simulate *)asked)->years <= 2 &&
      ((const steading_simulate *)asked)->step_minutes >= 30) {
    status = steading_run_simulate(site, asked, NULL, NULL, &run, &error);
    promise((status == STEADING_OK) == (run != NULL), "a run or an error");
    if (run == NULL) check_error(status, &error);
    if (run != NULL) check_run(run);
    steading_run_release(run);
  }
  steading_record_release(asked);
  return run != NULL;
}

/* The first byte: a site that is changed, or a struct of the list made of nothing; of a site, how
 * many changes and whether it is run as well. */
void fuzz_site(const unsigned char *bytes, size_t length) {
  maker m = {.at = bytes, .end = bytes + length};
  steading_error error = {.status = STEADING_OK};
  steading_status status = STEADING_OK;
  unsigned what = take(&m);
  if (weather == NULL) make_weather();
  if (what >= 128) {
    const steading_spec *spec = roots[what % ROOTS];
    const steading_value value = some_record(&m, spec, 0);
    void *record = NULL;
    status = steading_spec_read(spec, &value, "x", &record, &error);
    promise((status == STEADING_OK) == (record != NULL), "a record or an error");
    if (status != STEADING_OK) check_error(status, &error);
    steading_record_release(record);
  } else {
    const build_thing things[] = {{.weather = weather}};
    const steading_site *site = NULL;
    steading_value table, options;
    bool runs = false;
    promise(table_text_read(site_text, things, &m.arena, &table) == NULL, "the site's text");
    promise(table_text_read(options_text, things, &m.arena, &options) == NULL, "the options");
    for (unsigned k = what % 8; k > 0; k--) change(&m, &table, &steading_site_spec, 0);
    if (what & 64) change(&m, &options, &steading_simulate_spec, 0);
    status = steading_site_read(&table, &site, &error);
    promise((status == STEADING_OK) == (site != NULL), "a site or an error");
    if (status != STEADING_OK) check_error(status, &error);
    /* a quarter is run: a year is dear beside the reading */
    if (site != NULL && (what == 0 || (what & 48) == 48)) runs = simulate(&m, site, &options);
    if (what == 0) promise(runs, "the site itself"); /* else the changes are in vain */
    steading_record_release(site);
  }
  steading_arena_drop(&m.arena);
}
