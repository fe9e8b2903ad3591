#include "help.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "nearest.h"
#include "site/fields.h"

typedef struct topic {
  const char *name, *about;
  const steading_spec *spec;
} topic;

static const topic topics[] = {
    {"synthesize", "steading.weather.synthesize { ... }", &steading_climate_fields_spec},
    {"refine", "weather:refine { ... }", &steading_refine_fields_spec},
    {"read", "steading.weather.read(path, { ... })", &steading_read_fields_spec},
    {"columns", "read.columns", &steading_table_columns_spec},
    {"light_column", "read.columns.ghi, dni, dhi", &steading_light_column_spec},
    {"temp_column", "read.columns.temp", &steading_temp_column_spec},
    {"wind_column", "read.columns.wind", &steading_wind_column_spec},
    {"place", "place = { ... }", &steading_place_fields_spec},
    {"site", "steading.site { ... }", &steading_site_spec},
    {"meter", "meters.NAME", &steading_meter_spec},
    {"outages", "meters.NAME.outages", &steading_outages_spec},
    {"lengths", "meters.NAME.outages.lengths", &steading_outage_lengths_spec},
    {"rota", "meters.NAME.outages.rota", &steading_rota_spec},
    {"tariff", "meters.NAME.tariff", &steading_tariff_spec},
    {"energy", "meters.NAME.tariff.energy", &steading_energy_prices_spec},
    {"block", "meters.NAME.tariff.energy[i]", &steading_tariff_block_spec},
    {"period", "meters.NAME.tariff.energy.periods[i]", &steading_period_spec},
    {"blocks", "meters.NAME.tariff.energy.periods[i].blocks", &steading_price_blocks_spec},
    {"rider", "meters.NAME.tariff.riders[i]", &steading_rider_spec},
    {"export", "meters.NAME.tariff.export", &steading_export_price_spec},
    {"tax", "meters.NAME.tariff.taxes[i]", &steading_tax_spec},
    {"hub", "hubs.NAME", &steading_hub_spec},
    {"inverter", "hubs.NAME.inverter", &steading_inverter_spec},
    {"unit", "hubs.NAME.inverter.unit", &steading_unit_spec},
    {"efficiency", "hubs.NAME.inverter.unit.efficiency", &steading_efficiency_spec},
    {"efficiency_point", "hubs.NAME.inverter.unit.efficiency[i]", &steading_efficiency_point_spec},
    {"losses", "hubs.NAME.inverter.unit.losses", &steading_unit_losses_spec},
    {"derate", "hubs.NAME.inverter.unit.derate[i]", &steading_derate_point_spec},
    {"input", "hubs.NAME.inverter.unit.inputs.NAME", &steading_unit_input_spec},
    {"array", "hubs.NAME.arrays[i]", &steading_array_spec},
    {"pv_module", "hubs.NAME.arrays[i].module", &steading_pv_module_spec},
    {"incidence", "hubs.NAME.arrays[i].incidence", &steading_incidence_spec},
    {"cell_temperature", "hubs.NAME.arrays[i].cell_temperature", &steading_cell_temperature_spec},
    {"low_light", "hubs.NAME.arrays[i].low_light", &steading_low_light_spec},
    {"tracking", "hubs.NAME.arrays[i].tracking", &steading_tracking_spec},
    {"rows", "hubs.NAME.arrays[i].rows", &steading_array_rows_spec},
    {"horizon", "hubs.NAME.arrays[i].horizon[i]", &steading_skyline_point_spec},
    {"soiling_rate", "hubs.NAME.arrays[i].soiling_rate", &steading_soiling_rate_spec},
    {"own_inverter", "hubs.NAME.arrays[i].own_inverter", &steading_own_inverter_spec},
    {"strings", "hubs.NAME.arrays[i].strings", &steading_strings_spec},
    {"battery", "hubs.NAME.battery", &steading_battery_spec},
    {"battery_module", "hubs.NAME.battery.module", &steading_battery_module_spec},
    {"room", "hubs.NAME.battery.room", &steading_battery_room_spec},
    {"ageing", "hubs.NAME.battery.ageing", &steading_ageing_spec},
    {"depth", "hubs.NAME.battery.ageing.depths[i]", &steading_depth_point_spec},
    {"generator", "hubs.NAME.generator", &steading_generator_spec},
    {"generator_unit", "hubs.NAME.generator.unit", &steading_generator_unit_spec},
    {"service", "hubs.NAME.generator.service", &steading_service_spec},
    {"rules", "hubs.NAME.rules", &steading_rules_spec},
    {"generator_rules", "hubs.NAME.rules.generator", &steading_generator_rules_spec},
    {"exercise", "hubs.NAME.rules.generator.exercise", &steading_exercise_spec},
    {"shed", "hubs.NAME.rules.shed", &steading_shed_spec},
    {"charge_from_grid", "hubs.NAME.rules.charge_from_grid", &steading_charge_from_grid_spec},
    {"raise_reserve", "hubs.NAME.rules.raise_reserve", &steading_raise_reserve_spec},
    {"lot", "lots[i] of every component", &steading_lot_spec},
    {"works", "works[i]", &steading_works_spec},
    {"building", "buildings.NAME", &steading_building_spec},
    {"daily", "steading.load.daily { ... }", &steading_load_daily_spec},
    {"steady", "steading.load.steady { ... }", &steading_load_steady_spec},
    {"refrigerators", "steading.load.refrigerators { ... }", &steading_load_refrigerators_spec},
    {"timed", "steading.load.timed { ... }", &steading_load_timed_spec},
    {"series", "steading.load.series { ... }", &steading_load_series_spec},
    {"bills", "steading.load.bills { ... }", &steading_load_bills_spec},
    {"fuel", "fuels.NAME", &steading_fuel_spec},
    {"fuel_tank", "fuels.NAME.tank", &steading_fuel_store_spec},
    {"delivery", "fuels.NAME.delivery", &steading_delivery_spec},
    {"water", "water", &steading_water_spec},
    {"well", "water.wells.NAME", &steading_well_spec},
    {"tank", "water.tanks.NAME", &steading_tank_spec},
    {"user", "water.users.NAME", &steading_user_spec},
    {"simulate", "site:simulate { ... }", &steading_simulate_spec},
    {"initial", "simulate.initial", &steading_initial_spec},
    {"money", "run:appraise { money = { ... } }", &steading_money_spec},
    {"escalation", "money.escalation", &steading_escalation_spec},
    {"small_items", "money.small_items", &steading_small_items_spec},
    {"ride_through", "site:ride_through { ... }", &steading_ask_ride_spec},
    {"events", "run:events { ... }", &steading_ask_events_spec},
    {"worst", "run:worst { ... }", &steading_ask_worst_spec},
    {"profile", "run:profile { ... }", &steading_ask_profile_spec},
    {"duration", "run:duration { ... }", &steading_ask_duration_spec},
    {"sun.position", "steading.sun.position { ... }", &steading_ask_sun_spec},
    {"sky.on_plane", "steading.sky.on_plane { ... }", &steading_ask_plane_spec},
    {"sky.clear", "steading.sky.clear { ... }", &steading_ask_clear_spec},
    {"pv.incidence_modifier", "steading.pv.incidence_modifier { ... }",
     &steading_ask_incidence_spec},
    {"pv.cell_temperature", "steading.pv.cell_temperature { ... }", &steading_ask_cell_spec},
    {"pv.inverter", "steading.pv.inverter { ... }", &steading_ask_inverter_spec},
    {"pv.one_diode", "steading.pv.one_diode { ... }", &steading_ask_diode_spec},
    {"datasheet", "pv.one_diode.datasheet", &steading_ask_datasheet_spec},
    {"parameters", "pv.one_diode.parameters", &steading_ask_parameters_spec},
    {"pv.strings", "steading.pv.strings { ... }", &steading_ask_strings_spec},
    {"group", "pv.strings.groups[i]", &steading_ask_string_group_spec},
    {"battery.energy", "steading.battery.new { kind = \"energy\", ... }",
     &steading_ask_energy_spec},
    {"battery.two_tank", "steading.battery.new { kind = \"two_tank\", ... }",
     &steading_ask_two_tank_spec},
    {"resistance", "battery.energy.resistance", &steading_resistance_fields_spec},
    {"taper", "battery.energy.taper", &steading_taper_fields_spec},
    {"rate", "battery.two_tank.rates[i]", &steading_capacity_rate_spec},
    {"gassing", "battery.two_tank.gassing", &steading_gassing_fields_spec},
    {"fuel.amounts", "steading.fuel.amounts { ... }", &steading_ask_fuel_spec},
    {"fuel.curve", "steading.fuel.curve { ... }", &steading_ask_fuel_curve_spec},
    {"water.pump_kw", "steading.water.pump_kw { ... }", &steading_ask_pump_spec},
    {"outage.indices", "steading.outage.indices { ... }", &steading_ask_indices_spec},
    {"interruption", "outage.indices.events[i]", &steading_ask_interruption_spec},
    {"tariff.bill", "steading.tariff.bill { ... }", &steading_ask_bill_spec},
    {"tariff.bills", "steading.tariff.bills { ... }", &steading_ask_bills_spec},
};

enum { TOPICS = sizeof topics / sizeof topics[0] };

static const char *kind_text(const steading_field *field) {
  switch (field->kind) {
    case STEADING_FIELD_number:
      return "number";
    case STEADING_FIELD_count:
      return "whole number";
    case STEADING_FIELD_flag:
      return "true or false";
    case STEADING_FIELD_text:
      return "text";
    case STEADING_FIELD_name:
      return "name";
    case STEADING_FIELD_choice:
      return "choice";
    case STEADING_FIELD_date:
      return "date";
    case STEADING_FIELD_monthly:
      return "number or 12";
    case STEADING_FIELD_hours:
      return "shape or 24 numbers";
    case STEADING_FIELD_pair:
      return "2 numbers";
    case STEADING_FIELD_windows:
      return "window";
    case STEADING_FIELD_series:
      return "list of numbers";
    case STEADING_FIELD_texts:
      return "list of texts";
    case STEADING_FIELD_weather:
      return "weather";
    case STEADING_FIELD_function:
      return "function";
    case STEADING_FIELD_record:
      return field->need == STEADING_NEED_optional || field->highest > 0 ? "table or false"
                                                                         : "table";
    case STEADING_FIELD_list:
      return "list of tables";
    case STEADING_FIELD_several:
      return "table, list of tables, or false";
    case STEADING_FIELD_variants:
      return "list of loads";
    case STEADING_FIELD_map:
      return "named tables";
    case STEADING_FIELD_listed:
      return "list of tables, or table";
    case STEADING_FIELD_window_part:
      return "part of a window";
    case STEADING_FIELD_words:
      return "list of words";
    case STEADING_FIELD_year_days:
      return "list of days";
    case STEADING_FIELD_numbers:
      return "number or list";
    case STEADING_FIELD_amounts:
      return "number, or numbers by name";
    case STEADING_FIELD_points:
      return "list of pairs by temperature";
    case STEADING_FIELD_temps:
      return "number, 12 or \"outdoors\"";
    case STEADING_FIELD_later:
      return "not yet";
    case STEADING_FIELD_refused:
      return "refused";
  }
  return "";
}

/* "0.01 to 100 kWh" and the default, or what must be given. */
static void range_text(const steading_field *f, char *text, size_t size) {
  size_t used = 0;
  text[0] = '\0';
  if (f->kind == STEADING_FIELD_choice || f->kind == STEADING_FIELD_words) {
    for (int i = 0; f->choices[i] != NULL; i++)
      if (f->choices[i][0] != '~') {
        snprintf(text + used, size - used, "%s\"%s\"", used > 0 ? ", " : "", f->choices[i]);
        used = strlen(text);
      }
  } else if (f->highest > f->lowest && f->kind != STEADING_FIELD_record) {
    snprintf(text, size, "%.12g to %.12g%s%s", f->lowest, f->highest, f->unit[0] != '\0' ? " " : "",
             f->unit);
  }
  used = strlen(text);
  if (f->need == STEADING_NEED_required) {
    snprintf(text + used, size - used, "%srequired", used > 0 ? "; " : "");
  } else if (f->need == STEADING_NEED_standard) {
    if (f->kind == STEADING_FIELD_number || f->kind == STEADING_FIELD_count ||
        f->kind == STEADING_FIELD_monthly) {
      if (isfinite(f->standard))
        snprintf(text + used, size - used, "; default %.12g", f->standard);
      else
        snprintf(text + used, size - used, "; default none");
    } else if (f->kind == STEADING_FIELD_choice) {
      snprintf(text + used, size - used, "; default \"%s\"", f->choices[(int)f->standard]);
    } else if (f->kind == STEADING_FIELD_pair) {
      snprintf(text + used, size - used, "; default { %.12g, %.12g }", f->lowest, f->highest);
    } else if (f->kind == STEADING_FIELD_flag) {
      snprintf(text + used, size - used, "default %s", f->standard > 0 ? "true" : "false");
    }
  }
}

int steading_help_topics(void) {
  puts("\nsteading help TOPIC shows the fields of one of these, with units, range and default:");
  for (size_t i = 0; i < TOPICS; i++) printf("  %-22s %s\n", topics[i].name, topics[i].about);
  return 0;
}

static void print_topic(const topic *t) {
  char range[256];
  printf("%s: %s\n", t->name, t->about);
  for (size_t i = 0; i < t->spec->field_count; i++) {
    const steading_field *f = &t->spec->fields[i];
    if (f->kind == STEADING_FIELD_later || f->kind == STEADING_FIELD_refused) continue;
    range_text(f, range, sizeof range);
    printf("  %-24s %s\n  %-24s %s%s%s\n", f->name, f->doc, "", kind_text(f),
           range[0] != '\0' ? "; " : "", range);
  }
}

static void print_manual_page(void) {
  char range[256];
  puts(
      "# Fields of the tables of a script\n\n"
      "Made by `make manual` from core/site/fields.h. 'touches' says what changes with the field: "
      "energy, money, or a label.");
  for (size_t i = 0; i < TOPICS; i++) {
    const topic *t = &topics[i];
    bool waits = false;
    printf(
        "\n## %s\n\n`%s`\n\n| field | what | kind | range and default | touches |\n"
        "| --- | --- | --- | --- | --- |\n",
        t->name, t->about);
    for (size_t k = 0; k < t->spec->field_count; k++) {
      const steading_field *f = &t->spec->fields[k];
      static const char *const touches[] = {"energy", "money", "label"};
      if (f->kind == STEADING_FIELD_refused) continue;
      if (f->kind == STEADING_FIELD_later) {
        waits = true;
        continue;
      }
      range_text(f, range, sizeof range);
      printf("| `%s` | %s | %s | %s | %s |\n", f->name, f->doc, kind_text(f), range,
             touches[f->touches]);
    }
    if (!waits) continue;
    printf("\nKnown and not yet carried out (refused):");
    for (size_t k = 0; k < t->spec->field_count; k++)
      if (t->spec->fields[k].kind == STEADING_FIELD_later) printf(" `%s`", t->spec->fields[k].name);
    puts("");
  }
}

int steading_help_topic(const char *name) {
  const char *names[TOPICS];
  int nearest = -1;
  if (strcmp(name, "manual") == 0) {
    print_manual_page();
    return 0;
  }
  for (size_t i = 0; i < TOPICS; i++) {
    if (strcmp(topics[i].name, name) == 0) {
      print_topic(&topics[i]);
      return 0;
    }
    names[i] = topics[i].name;
  }
  nearest = steading_nearest_name(name, names, TOPICS);
  fprintf(stderr, "steading: there is no help on '%s'%s%s%s\n", name,
          nearest >= 0 ? " (did you mean '" : "", nearest >= 0 ? names[nearest] : "",
          nearest >= 0 ? "'?)" : "; 'steading help' lists the topics");
  return 2;
}
