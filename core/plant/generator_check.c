#include "plant/generator_check.h"

#include <stdio.h>
#include <string.h>

#include "plant/fuel.h"
#include "plant/fuel_tank.h"
#include "site/batteries.h"

/* Gross efficiencies at full power beyond which a data sheet was misread (common practice, no
 * source; small gas sets reach 0.16 to 0.25, see tests/plant/test_fuel.c). */
static const double told_low = 0.08, told_high = 0.42;

static bool given(const void *record, const char *field) {
  return record != NULL && steading_record_given(record, field);
}

static const steading_hub *hub_at(const steading_site *site, size_t i) {
  return (const void *)site->hubs->entries[i].item;
}

static size_t count_of(const steading_map *map) { return map == NULL ? 0 : map->count; }

/* Electricity at full power over the gross energy of what is burnt. */
static double efficiency_of(const steading_site *site, const steading_generator_unit *unit) {
  const steading_fuel *fuel = steading_map_at(site->fuels, unit->fuel);
  double burnt_l = unit->no_load_l_per_h + unit->l_per_kwh * unit->kw;
  return unit->kw / (burnt_l * steading_fuel_kwh_per_l(unit->fuel, fuel));
}

static steading_status check_fuel(const char *name, const steading_fuel *fuel,
                                  steading_error *error) {
  char path[192];
  if (!given(fuel, "kwh_per_l") && steading_fuel_known(name) == NULL) {
    snprintf(path, sizeof path, "site.fuels.%s.kwh_per_l", name);
    return steading_fail(
        error, STEADING_BAD_INPUT, path,
        "required: only propane, natural_gas, petrol and diesel are known by name");
  }
  if (fuel->tank == NULL) return STEADING_OK;
  const steading_fuel_tank_rule rule = steading_fuel_tank_rule_of(name, fuel);
  if (given(fuel->tank, "litres_at_start") && fuel->tank->litres_at_start > rule.full_l) {
    snprintf(path, sizeof path, "site.fuels.%s.tank.litres_at_start", name);
    return steading_fail(error, STEADING_BAD_INPUT, path, "found %.12g, it may hold %.12g",
                         fuel->tank->litres_at_start, rule.full_l);
  }
  if (fuel->delivery == NULL) return STEADING_OK;
  if (!(rule.order_l < rule.full_l)) {
    snprintf(path, sizeof path, "site.fuels.%s.delivery.order_below", name);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "found %.12g, expected less than what the tank is filled to, %.12g",
                         fuel->delivery->order_below, rule.full_l / fuel->tank->litres);
  }
  if (rule.order_l + rule.least_l > rule.full_l * (1 + 1e-12)) {
    snprintf(path, sizeof path, "site.fuels.%s.delivery.least_l", name);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "found %.12g, when a truck is ordered there is room for %.12g",
                         rule.least_l, rule.full_l - rule.order_l);
  }
  return STEADING_OK;
}

static steading_status check_hub(const steading_site *site, const char *name,
                                 const steading_hub *hub, steading_error *error) {
  const steading_generator_rules *rules = hub->rules == NULL ? NULL : hub->rules->generator;
  double usable[2] = {0, 1};
  char path[192];
  if (hub->generator == NULL) return STEADING_OK;
  if (!(efficiency_of(site, hub->generator->unit) < 1)) {
    snprintf(path, sizeof path, "site.hubs.%s.generator.unit.l_per_kwh", name);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "with no_load_l_per_h it makes more electricity than the fuel holds; "
                         "litres, and not gallons?");
  }
  if (hub->battery != NULL) steading_batteries_usable(hub, usable);
  if (hub->battery != NULL && given(rules, "stop_above_charge") &&
      rules->stop_above_charge > usable[1]) {
    snprintf(path, sizeof path, "site.hubs.%s.rules.generator.stop_above_charge", name);
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "%.12g is above the highest usable charge, %.12g: it would never stop",
                         rules->stop_above_charge, usable[1]);
  }
  return STEADING_OK;
}

steading_status steading_generators_check(const steading_site *site, steading_error *error) {
  steading_status status = STEADING_OK;
  for (size_t f = 0; status == STEADING_OK && f < count_of(site->fuels); f++)
    status =
        check_fuel(site->fuels->entries[f].name, (const void *)site->fuels->entries[f].item, error);
  for (size_t i = 0; status == STEADING_OK && i < count_of(site->hubs); i++)
    status = check_hub(site, site->hubs->entries[i].name, hub_at(site, i), error);
  return status;
}

/* --- warnings ------------------------------------------------------------------------------------
 */

static void warn_fuels(const steading_site *site, steading_warning_list *to) {
  for (size_t f = 0; f < count_of(site->fuels); f++) {
    const steading_fuel *fuel = (const void *)site->fuels->entries[f].item;
    const char *name = site->fuels->entries[f].name;
    char path[128];
    bool burnt = false;
    for (size_t i = 0; i < count_of(site->hubs); i++) {
      const steading_generator *generator = hub_at(site, i)->generator;
      burnt = burnt || (generator != NULL && strcmp(generator->unit->fuel, name) == 0);
    }
    snprintf(path, sizeof path, "fuels.%.64s", name);
    if (!burnt)
      steading_warn(to, "fuel_unused", path, "nothing burns it; its fixed_per_year counts");
    if (burnt && !given(fuel, "price_per_l"))
      steading_warn(to, "no_price", path, "no price_per_l: what is burnt costs nothing");
    if (burnt && fuel->tank == NULL && steading_fuel_known(name) != NULL &&
        !steading_fuel_known(name)->gas)
      steading_warn(to, "endless_fuel", path, "no tank: it never runs out");
    if (burnt && fuel->tank != NULL && fuel->delivery == NULL)
      steading_warn(to, "no_delivery", path, "no delivery: the tank is never filled again");
  }
}

/* Rules that do nothing on this hub. */
static void warn_rules(const steading_site *site, const char *name, const steading_hub *hub,
                       steading_warning_list *to) {
  static const char *const of_charge[] = {"start_below_charge", "stop_above_charge"};
  const steading_generator_rules *rules = hub->rules->generator;
  const steading_meter *meter =
      hub->meter == NULL ? NULL : steading_map_at(site->meters, hub->meter);
  double floor = hub->rules->battery_floor;
  char path[160];
  for (size_t k = 0; k < 2 && hub->battery == NULL; k++) {
    if (!given(rules, of_charge[k])) continue;
    snprintf(path, sizeof path, "hubs.%.64s.rules.generator.%s", name, of_charge[k]);
    steading_warn(to, "no_effect", path, "has no effect: the hub has no battery");
  }
  snprintf(path, sizeof path, "hubs.%.64s.rules.generator.start_below_charge", name);
  if (meter == NULL && given(hub->rules, "outage_floor")) floor = hub->rules->outage_floor;
  if (meter == NULL && hub->battery != NULL && given(rules, "start_below_charge") &&
      rules->start_below_charge < floor)
    steading_warn(to, "no_effect", path,
                  "the battery is never so low: its floor is %.4g; only what starts by unserved "
                  "load starts",
                  floor);
  if (meter != NULL && given(rules, "start_below_charge") && !rules->only_without_grid &&
      rules->start_below_charge >= floor)
    steading_warn(to, "starts_beside_grid", path,
                  "it may start at %.4g while the grid is up: the floor is %.4g",
                  rules->start_below_charge, floor);
}

void steading_generators_warn(const steading_site *site, steading_warning_list *to) {
  warn_fuels(site, to);
  for (size_t i = 0; i < count_of(site->hubs); i++) {
    const steading_hub *hub = hub_at(site, i);
    const char *name = site->hubs->entries[i].name;
    const steading_generator *generator = hub->generator;
    const steading_generator_rules *rules = hub->rules == NULL ? NULL : hub->rules->generator;
    char path[128];
    double efficiency = 0;
    if (rules != NULL && generator == NULL) {
      snprintf(path, sizeof path, "hubs.%.64s.rules.generator", name);
      steading_warn(to, "no_effect", path, "has no effect: the hub has no generator");
    }
    if (generator == NULL) continue;
    if (rules != NULL) warn_rules(site, name, hub, to);
    snprintf(path, sizeof path, "hubs.%.64s.generator", name);
    if (hub->battery == NULL && generator->role != STEADING_ROLE_CARRIES)
      steading_warn(to, "no_effect", path, "charger_kw has no effect: the hub has no battery");
    if (hub->meter != NULL && (rules == NULL || rules->only_without_grid) &&
        (rules == NULL || rules->exercise == NULL) &&
        !steading_record_has(steading_map_at(site->meters, hub->meter), "outages"))
      steading_warn(to, "no_outages", path,
                    "never runs: it waits for the grid to be down, and the meter '%s' has no "
                    "outages",
                    hub->meter);
    efficiency = efficiency_of(site, generator->unit);
    if (efficiency < told_low || efficiency > told_high)
      steading_warn(to, "odd_consumption", path,
                    "at full power it turns %.3g %% of the fuel's gross energy into electricity; "
                    "small sets reach 15 to 30",
                    100 * efficiency);
  }
}
