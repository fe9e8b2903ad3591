/* Changed copies of a site, the site written back to tables, its limits and its assumptions.
 * Expected values follow from the rules in the headers; nothing here comes from the program's
 * output. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "dice.h"
#include "site/assume.h"
#include "site/batteries.h"
#include "site/canonical.h"
#include "site/site.h"
#include "site/write.h"
#include "suites.h"

static steading_weather *weather;

static void setup(void) { weather = build_dark_weather(); }
static void teardown(void) { steading_weather_release(weather); }

#define INVERTER "inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } }"
#define MODULE                                                                                     \
  "module = { kwh = 5, charge_kw = 2, discharge_kw = 2, usable = { 0.1, 0.9 }, charge_efficiency " \
  "= "                                                                                             \
  "0.97, discharge_efficiency = 0.98 }"

/* Values of every form that a table can hold. */
static const char *const rich =
    "{ weather = @0, name = \"a plan\", currency = \"EUR\", grid_free_below_kw = 0.1,"
    " meters = { yard = { title = \"Yard\", export_limit_kw = 2, tariff = { fixed_per_day = 0.1,"
    " energy = { { price_per_kwh = 0.14 } } } }, road = {} },"
    " hubs = { barn = { meter = \"yard\", " INVERTER
    ","
    " arrays = { { tilt_deg = 30, azimuth_deg = 170, incidence = false, soiling = 0.02,"
    " sky_model = \"isotropic\", module = { watts = 400, temp_coefficient_per_c = -0.0034 } },"
    " { tilt_deg = 10, azimuth_deg = 180, soiling = { 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.01 },"
    " incidence = { model = \"ashrae\", b0 = 0.06 }, lots = { {} },"
    " module = { watts = 410, temp_coefficient_per_c = -0.003 } } },"
    " battery = { " MODULE
    ", lots = { { count = 1, price_each = 100 }, { count = 2,"
    " in_service = \"2028-03-05\", retired = \"2031-01\", delivered_charge = 0.5 }, { count = 4 } "
    "} },"
    " rules = { battery_floor = 0.2 } }, shed = { " INVERTER
    " } },"
    " buildings = { home = { hub = \"barn\", in_service = \"2028-01\", loads = {"
    " { kind = \"daily\", kwh_per_day = 9, shape = \"dwelling\", name = \"base\" },"
    " { kind = \"daily\", kwh_per_day = 1, shape = { 1, 2, 3, 4, 5, 6, 7, 8, 9, 1, 2, 3, 4, 5, 6, "
    "7,"
    " 8, 9, 1, 2, 3, 4, 5, 6 }, monthly = { 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2 } },"
    " { kind = \"timed\", kw = 1, name = \"pump\", window = { { hours = \"22:15-06:00\", days ="
    " \"Fri,Sun-Mon\" }, \"12:00-24:00\", { months = { 1, 3, 12 } } } },"
    " { kind = \"timed\", kw = 1, window = { days = \"Sat\", months = \"Nov-Feb\" } } } },"
    " office = { meter = \"road\", loads = { { kind = \"steady\", watts = 100, in_service ="
    " \"2029-02-28\" } } } },"
    " water = { wells = { deep = { hub = \"barn\", lift_m = 50, flow_l_per_min = 20, efficiency = "
    "0.4 },"
    " low = { meter = \"road\", lift_m = 5, flow_l_per_min = 20, efficiency = 0.4 } },"
    " tanks = { hill = { litres = 1000, fed_by = \"deep\" }, roof = { litres = 500, fed_by = "
    "\"deep\" },"
    " pond = { litres = 9000, fed_by = \"low\" } },"
    " users = { garden = { tank = \"pond\", litres_per_day = 300 } } },"
    " works = { { name = \"trench\", price = 10 }, { name = \"permit\", price = 20 } } }";

static const steading_site *rich_site(void) { return build_site(weather, "%s", rich); }

static bool same(const void *a, const void *b) {
  steading_bytes x = {.data = NULL}, y = {.data = NULL};
  bool equal = false;
  ck_assert_int_eq(steading_site_canonical(a, STEADING_CANONICAL_ALL, &x), STEADING_OK);
  ck_assert_int_eq(steading_site_canonical(b, STEADING_CANONICAL_ALL, &y), STEADING_OK);
  equal = x.length == y.length && memcmp(x.data, y.data, x.length) == 0;
  steading_bytes_free(&x);
  steading_bytes_free(&y);
  return equal;
}

static const steading_hub *barn(const steading_site *site) {
  return steading_map_at(site->hubs, "barn");
}

/* --- there and back ----------------------------------------------------------------------------
 */

static void check_there_and_back(const steading_site *site) {
  steading_arena arena = {.blocks = NULL};
  steading_value tree;
  steading_error error = {.status = STEADING_OK};
  const steading_site *again = NULL;
  ck_assert_int_eq(steading_spec_write(site, &arena, &tree), STEADING_OK);
  steading_site_read(&tree, &again, &error);
  ck_assert_msg(again != NULL, "%s: %s", error.path, error.text);
  ck_assert(same(site, again));
  ck_assert_uint_eq(site->head.given, again->head.given); /* defaults stay defaults */
  ck_assert_uint_eq(barn(site)->head.given, barn(again)->head.given);
  steading_record_release(again);
  steading_arena_drop(&arena);
}

START_TEST(a_site_written_and_read_again_is_the_same) {
  const steading_site *site = rich_site();
  check_there_and_back(site);
  steading_record_release(site);
}
END_TEST

/* Shapes are divided by their sum when they are read: 1000 random ones keep their bits when they
 * come back. */
START_TEST(a_shape_read_again_keeps_its_bits) {
  dice d = {.seed = 3};
  for (int n = 0; n < 1000; n++) {
    char numbers[24 * 32] = "";
    steading_load_daily *load = NULL, *again = NULL;
    steading_arena arena = {.blocks = NULL};
    steading_value tree;
    steading_error error;
    for (int h = 0; h < 24; h++) {
      size_t used = strlen(numbers);
      snprintf(numbers + used, sizeof numbers - used, "%.17g,", roll_size(&d, 1000) + 0.001);
    }
    load = build(&steading_load_daily_spec, NULL, "{ kwh_per_day = 1, shape = { %s } }", numbers);
    ck_assert_int_eq(steading_spec_write(load, &arena, &tree), STEADING_OK);
    ck_assert_int_eq(
        steading_spec_read(&steading_load_daily_spec, &tree, "", (void **)&again, &error),
        STEADING_OK);
    if (memcmp(load->shape, again->shape, sizeof load->shape) != 0) ck_abort_msg("shape %d", n);
    steading_arena_drop(&arena);
    steading_record_release(load);
    steading_record_release(again);
  }
}
END_TEST

static const steading_value *at(const steading_value *tree, const char *key) {
  const steading_value *value = steading_value_at(tree, key);
  ck_assert_msg(value != NULL, "no %s", key);
  return value;
}

/* The forms that a person meets in with(function). */
START_TEST(what_is_written_is_what_a_person_would_write) {
  const steading_site *site = rich_site();
  steading_arena arena = {.blocks = NULL};
  steading_value tree;
  const steading_value *hub = NULL, *array = NULL, *lot = NULL, *loads = NULL;
  ck_assert_int_eq(steading_spec_write(site, &arena, &tree), STEADING_OK);
  ck_assert_ptr_eq(at(&tree, "weather")->handle, weather);
  hub = at(at(&tree, "hubs"), "barn");
  array = &at(hub, "arrays")->items[0];
  ck_assert_int_eq(at(array, "incidence")->kind, STEADING_VALUE_BOOLEAN);
  ck_assert_double_eq(at(array, "soiling")->number, 0.02);
  ck_assert_str_eq(at(array, "sky_model")->text, "isotropic");
  ck_assert_ptr_null(steading_value_at(array, "albedo")); /* a default is not written */
  ck_assert_ptr_null(steading_value_at(array, "lots"));
  array = &at(hub, "arrays")->items[1];
  ck_assert_uint_eq(at(array, "soiling")->item_count, 12);
  ck_assert_uint_eq(at(array, "lots")->item_count, 1);
  lot = &at(at(hub, "battery"), "lots")->items[1];
  ck_assert_str_eq(at(lot, "in_service")->text, "2028-03-05");
  ck_assert_str_eq(at(lot, "retired")->text, "2031-01-01");
  loads = at(at(at(&tree, "buildings"), "home"), "loads");
  ck_assert_str_eq(at(&loads->items[0], "kind")->text, "daily");
  ck_assert_str_eq(at(&loads->items[0], "shape")->text, "dwelling");
  ck_assert_uint_eq(at(&loads->items[1], "shape")->item_count, 24);
  ck_assert_str_eq(at(&at(&loads->items[2], "window")->items[0], "hours")->text, "22:15-06:00");
  ck_assert_str_eq(at(&at(&loads->items[2], "window")->items[0], "days")->text, "Mon,Fri,Sun");
  ck_assert_str_eq(at(&loads->items[2], "window")->items[1].text, "12:00-24:00");
  ck_assert_str_eq(at(at(&loads->items[3], "window"), "months")->text, "Jan-Feb,Nov-Dec");
  steading_arena_drop(&arena);
  steading_record_release(site);
}
END_TEST

/* --- several changes at once -------------------------------------------------------------------
 */

static steading_value number(double x) {
  return (steading_value){.kind = STEADING_VALUE_NUMBER, .number = x};
}

static const steading_value none = {.kind = STEADING_VALUE_NONE};

/* Every path means a place of the original: two lots go, and the third is changed. */
START_TEST(paths_mean_places_of_the_original) {
  const steading_site *site = rich_site(), *changed = NULL;
  const char *const paths[] = {"hubs.barn.battery.lots[1]", "hubs.barn.battery.lots[2]",
                               "hubs.barn.battery.lots[3].count"};
  const steading_value values[] = {none, none, number(9)};
  steading_error error = {.status = STEADING_OK};
  ck_assert_int_eq(steading_site_with(site, 3, paths, values, &changed, &error), STEADING_OK);
  ck_assert_uint_eq(steading_battery_at(barn(changed), 0)->lots->count, 1);
  ck_assert_double_eq(steading_lots_count(steading_battery_at(barn(changed), 0)->lots), 9);
  steading_record_release(changed);
  steading_record_release(site);
}
END_TEST

/* A price each becomes one of the lot, with its labour: neither change alone is allowed. */
START_TEST(changes_that_need_each_other_are_checked_together) {
  const steading_site *site =
      build_site(weather, "{ weather = @0, hubs = { barn = { " INVERTER ", battery = { " MODULE
                          ", lots = { { price_each = 5, labour_share = 0.5 } } } } } }");
  const steading_site *changed = NULL;
  const char *const paths[] = {"hubs.barn.battery.lots[1].price_each",
                               "hubs.barn.battery.lots[1].price_lot"};
  const steading_value values[] = {none, number(9)};
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_site_with(site, 2, paths, values, &changed, &error) == STEADING_OK,
                "%s: %s", error.path, error.text);
  steading_record_release(changed);
  for (int i = 0; i < 2; i++) {
    ck_assert_int_eq(steading_site_with(site, 1, &paths[i], &values[i], &changed, &error),
                     STEADING_BAD_INPUT);
    ck_assert_int_eq(strncmp(error.path, "site.hubs.barn.battery.lots[1].", 31), 0);
  }
  steading_record_release(site);
}
END_TEST

START_TEST(a_place_is_changed_once) {
  const steading_site *site = rich_site(), *changed = NULL;
  static const char *const twice[] = {"works[1]", "works[01]"};
  static const char *const inside[] = {"hubs.barn.battery", "hubs.barn.battery.lots[1].count"};
  const steading_value numbers[] = {none, number(9)};
  steading_error error;
  ck_assert_int_eq(
      steading_site_with(site, 2, twice, (const steading_value[]){none, none}, &changed, &error),
      STEADING_BAD_INPUT);
  ck_assert_str_eq(error.text, "\"works[1]\" is named twice");
  ck_assert_int_eq(steading_site_with(site, 2, inside, numbers, &changed, &error),
                   STEADING_BAD_INPUT);
  ck_assert_str_eq(error.text,
                   "\"hubs.barn.battery.lots[1].count\" lies in \"hubs.barn.battery\", which is "
                   "taken away as well");
  steading_record_release(site);
}
END_TEST

/* --- without -----------------------------------------------------------------------------------
 */

START_TEST(without_takes_lots_by_their_place_in_the_original) {
  const steading_site *site = rich_site(), *changed = NULL;
  static const char *const first_two[] = {"hubs.barn.battery.lots[1]", "hubs.barn.battery.lots[2]"};
  static const char *const all[] = {"hubs.barn.battery.lots[2]", "hubs.barn.battery.lots[3]",
                                    "hubs.barn.battery.lots[1]"};
  steading_error error;
  ck_assert_int_eq(steading_site_without(site, 2, first_two, &changed, &error), STEADING_OK);
  ck_assert_double_eq(steading_lots_count(steading_battery_at(barn(changed), 0)->lots), 4);
  steading_record_release(changed);
  /* the last lot gone is nothing there, not the one piece of a battery that says no lots */
  ck_assert_int_eq(steading_site_without(site, 3, all, &changed, &error), STEADING_OK);
  ck_assert_ptr_nonnull(steading_battery_at(barn(changed), 0)->lots);
  ck_assert_double_eq(steading_lots_count(steading_battery_at(barn(changed), 0)->lots), 0);
  ck_assert_uint_eq(steading_battery_at(barn(site), 0)->lots->count, 3);
  steading_record_release(changed);
  steading_record_release(site);
}
END_TEST

START_TEST(without_takes_records_entries_and_lists) {
  const steading_site *site = rich_site(), *changed = NULL;
  static const char *const paths[] = {"hubs.barn.battery", "hubs.shed", "hubs.barn.arrays[2]",
                                      "works", "water.tanks.roof"};
  steading_error error;
  ck_assert_int_eq(steading_site_without(site, 5, paths, &changed, &error), STEADING_OK);
  ck_assert_ptr_null(barn(changed)->battery);
  ck_assert_ptr_null(steading_map_at(changed->hubs, "shed"));
  ck_assert_uint_eq(barn(changed)->arrays->count, 1);
  ck_assert_ptr_null(changed->works);
  ck_assert_uint_eq(changed->water->tanks->count, 2);
  ck_assert_ptr_eq(barn(changed)->inverter, barn(site)->inverter); /* shared */
  check_there_and_back(changed);
  steading_record_release(changed);
  steading_record_release(site);
}
END_TEST

START_TEST(without_says_what_is_not_there) {
  static const struct {
    const char *path, *where, *said;
  } cases[] = {
      {"hubs.barn.battery.lots[4]", "site.hubs.barn.battery.lots[4]", "the list has 3"},
      {"hubs.barm", "site.hubs.barm", "unknown name (did you mean 'barn'?)"},
      {"hubs.barn.batery", "site.hubs.barn.batery", "unknown field (did you mean 'battery'?)"},
      {"hubs.shed.battery", "site.hubs.shed.battery", "is not in this site"},
      {"hubs.shed.arrays[1]", "site.hubs.shed.arrays[1]", "the list has 0"},
      {"hubs.shed.battery.lots[1]", "site.hubs.shed.battery", "is not in this site"},
      {"hubs.barn.inverter", "site.hubs.barn.inverter", "required: it cannot be taken away"},
      {"hubs.barn.rules", "site.hubs.barn.rules",
       "has a default and is always there; site:with changes it"},
      {"hubs.barn.meter", "site.hubs.barn.meter",
       "is a value, no part of the plan; site:with changes it, or takes it away with "
       "steading.none"},
      {"hubs.barn.battery.lots", "site.hubs.barn.battery.lots",
       "without lots one piece is there; leave out the whole component, or each lot by its number"},
      {"hubs.barn", "site.buildings.home.hub", "there is no hub 'barn'; there is shed"},
      {"water.tanks.pond", "site.water.tanks", "the well 'low' fills no tank"}};
  const steading_site *site = rich_site(), *changed = NULL;
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    steading_error error = {.status = STEADING_OK};
    ck_assert_int_eq(steading_site_without(site, 1, &cases[i].path, &changed, &error),
                     STEADING_BAD_INPUT);
    ck_assert_ptr_null(changed);
    ck_assert_str_eq(error.path, cases[i].where);
    ck_assert_str_eq(error.text, cases[i].said);
  }
  steading_record_release(site);
}
END_TEST

START_TEST(grid_only_of_several_hubs_and_meters) {
  const steading_site *site =
      build_site(weather,
                 "{ weather = @0, meters = { a = {}, b = {} }, hubs = { one = { meter = "
                 "\"a\", " INVERTER " }, two = { meter = \"b\", " INVERTER
                 " } },"
                 " buildings = { x = { hub = \"one\" }, y = { hub = \"two\" } } }");
  const steading_site *today = NULL;
  steading_error error;
  ck_assert_int_eq(steading_site_grid_only(site, &today, &error), STEADING_OK);
  ck_assert_str_eq(((const steading_building *)steading_map_at(today->buildings, "x"))->meter, "a");
  ck_assert_str_eq(((const steading_building *)steading_map_at(today->buildings, "y"))->meter, "b");
  ck_assert_ptr_null(today->hubs);
  steading_record_release(today);
  steading_record_release(site);
}
END_TEST

/* --- limits and checks -------------------------------------------------------------------------
 */

/* `count` entries "NAMEi = BODY" of a map. */
static char *many(const char *name, const char *body, int count) {
  size_t size = (size_t)count * (strlen(body) + 32) + 1;
  char *text = calloc(1, size);
  ck_assert_ptr_nonnull(text);
  for (int i = 0; i < count; i++) {
    size_t used = strlen(text);
    snprintf(text + used, size - used, "%s%d = %s,", name, i, body);
  }
  return text;
}

START_TEST(more_parts_than_a_site_can_have_are_counted) {
  static const struct {
    const char *name, *body, *format, *path, *said;
    int most;
  } cases[] = {{"m", "{}", "{ weather = @0, meters = { %s } }", "site.meters",
                "found 17 meters, at most 16", 16},
               {"h", "{ " INVERTER " }", "{ weather = @0, hubs = { %s } }", "site.hubs",
                "found 17 hubs, at most 16", 16},
               {"t", "{ litres = 1, fed_by = \"deep\" }",
                "{ weather = @0, meters = { m = {} }, water = { wells = { deep = { meter = \"m\", "
                "lift_m = 5, "
                "flow_l_per_min = 9, efficiency = 0.4 } }, tanks = { %s } } }",
                "site.water.tanks", "found 33 tanks, at most 32", 32},
               {"w", "{ meter = \"m\", lift_m = 5, flow_l_per_min = 9, efficiency = 0.4 }",
                "{ weather = @0, meters = { m = {} }, water = { wells = { %s } } }",
                "site.water.wells", "found 17 wells, at most 16", 16}};
  const build_thing things[] = {{.weather = weather}};
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
    for (int more = 0; more < 2; more++) {
      char *text = many(cases[i].name, cases[i].body, cases[i].most + more);
      char *table = NULL;
      steading_error error = {.status = STEADING_OK};
      void *site = NULL;
      ck_assert_int_ge(asprintf(&table, cases[i].format, text), 0);
      site = build_or_error(&steading_site_spec, things, &error, "%s", table);
      if (more == 0 && cases[i].name[0] == 'w')
        ck_assert_str_eq(error.path, "site.water.tanks"); /* they fill no tank */
      else if (more == 0)
        ck_assert_msg(site != NULL, "%s: %s", error.path, error.text);
      else
        ck_assert_str_eq(error.text, cases[i].said);
      if (more == 1) ck_assert_str_eq(error.path, cases[i].path);
      steading_record_release(site);
      free(table);
      free(text);
    }
}
END_TEST

/* An array is appended again and again. */
START_TEST(a_hub_has_at_most_64_arrays) {
  const steading_site *site = rich_site();
  steading_arena arena = {.blocks = NULL};
  steading_value tree;
  steading_error error = {.status = STEADING_OK};
  ck_assert_int_eq(steading_spec_write(barn(site)->arrays->items[0], &arena, &tree), STEADING_OK);
  for (int i = 3; i <= 65; i++) {
    char path[64];
    const char *const paths[] = {path};
    const steading_site *more = NULL;
    snprintf(path, sizeof path, "hubs.barn.arrays[%d]", i);
    if (steading_site_with(site, 1, paths, &tree, &more, &error) != STEADING_OK) {
      ck_assert_int_eq(i, 65);
      break;
    }
    steading_record_release(site);
    site = more;
  }
  ck_assert_str_eq(error.path, "site.hubs.barn.arrays");
  ck_assert_str_eq(error.text, "found 65 arrays, at most 64");
  steading_arena_drop(&arena);
  steading_record_release(site);
}
END_TEST

START_TEST(what_does_not_fit_together_is_refused) {
  static const struct {
    const char *lots, *path, *said;
  } cases[] = {
      {"battery = { " MODULE ", lots = { { in_service = \"2028-01\", retired = \"2028-01\" } } }",
       "site.hubs.barn.battery.lots[1].retired", "expected a date after in_service"},
      {"arrays = { { tilt_deg = 1, azimuth_deg = 1, module = { watts = 1, temp_coefficient_per_c = "
       "0 "
       "}, lots = { {}, { delivered_charge = 0.5 } } } }",
       "site.hubs.barn.arrays[1].lots[2].delivered_charge",
       "only the lots of a battery arrive with a charge"}};
  const build_thing things[] = {{.weather = weather}};
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    steading_error error = {.status = STEADING_OK};
    ck_assert_ptr_null(build_or_error(&steading_site_spec, things, &error,
                                      "{ weather = @0, hubs = { barn = { " INVERTER ", %s } } }",
                                      cases[i].lots));
    ck_assert_str_eq(error.path, cases[i].path);
    ck_assert_str_eq(error.text, cases[i].said);
  }
}
END_TEST

START_TEST(two_loads_of_a_building_need_two_names) {
  static const char format[] =
      "{ weather = @0, meters = { m = {} }, buildings = { a = { meter = \"m\", loads = {"
      " { kind = \"steady\", watts = 1, name = \"pump\" }, { kind = \"steady\", watts = 1 },"
      " { kind = \"timed\", kw = 1, window = \"01:00-02:00\", name = \"%s\" } } },"
      " b = { meter = \"m\", loads = { { kind = \"steady\", watts = 1, name = \"pump\" } } } } }";
  const build_thing things[] = {{.weather = weather}};
  steading_error error = {.status = STEADING_OK};
  void *site = build_or_error(&steading_site_spec, things, &error, format, "heater");
  ck_assert_msg(site != NULL, "%s: %s", error.path, error.text);
  steading_record_release(site);
  ck_assert_ptr_null(build_or_error(&steading_site_spec, things, &error, format, "pump"));
  ck_assert_str_eq(error.path, "site.buildings.a.loads[3].name");
}
END_TEST

/* --- assumptions -------------------------------------------------------------------------------
 */

typedef struct sought {
  const char *path;
  bool found, given;
  char value[128], unit[32], source[128];
} sought;

static steading_status seek(void *context, const steading_assumption *a) {
  sought *s = context;
  if (strcmp(a->path, s->path) != 0) return STEADING_OK;
  ck_assert(!s->found); /* once */
  s->found = true;
  s->given = a->given;
  snprintf(s->value, sizeof s->value, "%s", a->value);
  snprintf(s->unit, sizeof s->unit, "%s", a->unit);
  snprintf(s->source, sizeof s->source, "%s", a->source);
  return STEADING_OK;
}

START_TEST(assumptions_say_what_was_given_and_where_defaults_come_from) {
  static const struct {
    const char *path, *value, *unit;
    bool given;
    const char *source;
  } cases[] = {
      {"grid_free_below_kw", "0.1", "kW", true, ""},
      {"meters.yard.export_limit_kw", "2", "kW", true, ""},
      {"meters.yard.import_limit_kw", "none", "kW", false, ""},
      {"meters.yard.tariff.energy[1].price_per_kwh", "0.14", "money/kWh", true, ""},
      {"hubs.barn.arrays[1].albedo", "0.2", "share", false, "Liu and Jordan 1963"},
      {"hubs.barn.arrays[1].incidence", "false", "", true, ""},
      {"hubs.barn.arrays[1].mismatch_loss", "0.01", "share", false, "common practice, no source"},
      {"hubs.barn.arrays[1].sky_model", "isotropic", "", true, ""},
      {"hubs.barn.arrays[2].soiling", "0 0 0 0 0 0 0 0 0 0 0 0.01", "share", true, ""},
      {"hubs.barn.arrays[2].module.degradation_per_year", "0.005", "share", false,
       "Jordan and Kurtz 2013, median"},
      {"hubs.barn.battery.module.usable", "0.1 0.9", "share", true, ""},
      {"hubs.barn.battery.lots[2].in_service", "2028-03-05", "", true, ""},
      {"hubs.barn.battery.lots[1].delivered_charge", "0.3", "share", false,
       "common practice, no source"},
      {"hubs.shed.rules.battery_floor", "0.1", "share", false, ""},
      {"buildings.home.loads[1].shape", "dwelling", "", true, ""},
      {"buildings.home.loads[4].window", "days Sat hours 00:00-24:00 months Jan-Feb,Nov-Dec", "",
       true, ""}};
  static const char *const absent[] = {"name", "weather", "hubs.barn.meter",
                                       "hubs.barn.arrays[2].lots[1].delivered_charge",
                                       "hubs.barn.battery.lots[1].life_years"};
  const steading_site *site = rich_site();
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    sought s = {.path = cases[i].path};
    ck_assert_int_eq(steading_site_assumptions(site, seek, &s), STEADING_OK);
    ck_assert_msg(s.found, "%s", s.path);
    ck_assert_str_eq(s.value, cases[i].value);
    ck_assert_str_eq(s.unit, cases[i].unit);
    ck_assert_msg(s.given == cases[i].given, "%s", s.path);
    ck_assert_str_eq(s.source, cases[i].source);
  }
  for (size_t i = 0; i < sizeof absent / sizeof absent[0]; i++) {
    sought s = {.path = absent[i]};
    steading_site_assumptions(site, seek, &s);
    ck_assert_msg(!s.found, "%s", s.path);
  }
  steading_record_release(site);
}
END_TEST

/* What stands behind parts that are not written, and places in a list of several kinds. */
START_TEST(assumptions_of_ac_coupled_arrays_and_several_kinds) {
  static const struct {
    const char *path, *value;
    bool given;
  } cases[] = {{"hubs.barn.arrays[1].own_inverter.efficiency", "0.96", false},
               {"hubs.barn.arrays[1].coupled", "ac", true},
               {"hubs.barn.battery[1].lots[2].in_service", "2028-03-05", true},
               {"hubs.barn.battery[2].module.kwh", "7", true},
               {"hubs.barn.battery[2].lots[1].delivered_charge", "0.3", false}};
  const steading_site *site = rich_site(), *changed = NULL;
  const char *const paths[] = {"hubs.barn.arrays[1].coupled", "hubs.barn.battery[2]"};
  steading_entry of_module[] = {{"charge_kw", number(2)},
                                {"discharge_kw", number(2)},
                                {"kwh", number(7)},
                                {"round_trip_efficiency", number(0.9)}};
  steading_entry of_lot[] = {{"count", number(1)}};
  steading_value lots[] = {{.kind = STEADING_VALUE_TABLE, .entries = of_lot, .entry_count = 1}};
  steading_entry of_battery[] = {
      {"lots", {.kind = STEADING_VALUE_TABLE, .items = lots, .item_count = 1}},
      {"module", {.kind = STEADING_VALUE_TABLE, .entries = of_module, .entry_count = 4}}};
  const steading_value values[] = {
      {.kind = STEADING_VALUE_TEXT, .text = "ac"},
      {.kind = STEADING_VALUE_TABLE, .entries = of_battery, .entry_count = 2}};
  steading_error error = {.status = STEADING_OK};
  if (steading_site_with(site, 2, paths, values, &changed, &error) != STEADING_OK)
    ck_abort_msg("%s: %s", error.path, error.text);
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    sought s = {.path = cases[i].path};
    ck_assert_int_eq(steading_site_assumptions(changed, seek, &s), STEADING_OK);
    ck_assert_msg(s.found, "%s", s.path);
    ck_assert_str_eq(s.value, cases[i].value);
    ck_assert_msg(s.given == cases[i].given, "%s", s.path);
  }
  steading_record_release(changed);
  steading_record_release(site);
}
END_TEST

Suite *change_suite(void) {
  Suite *suite = suite_create("change");
  TCase *tcase = tcase_create("changed copies");
  tcase_add_checked_fixture(tcase, setup, teardown);
  tcase_add_test(tcase, a_site_written_and_read_again_is_the_same);
  tcase_add_test(tcase, a_shape_read_again_keeps_its_bits);
  tcase_add_test(tcase, what_is_written_is_what_a_person_would_write);
  tcase_add_test(tcase, paths_mean_places_of_the_original);
  tcase_add_test(tcase, changes_that_need_each_other_are_checked_together);
  tcase_add_test(tcase, a_place_is_changed_once);
  tcase_add_test(tcase, without_takes_lots_by_their_place_in_the_original);
  tcase_add_test(tcase, without_takes_records_entries_and_lists);
  tcase_add_test(tcase, without_says_what_is_not_there);
  tcase_add_test(tcase, grid_only_of_several_hubs_and_meters);
  tcase_add_test(tcase, assumptions_of_ac_coupled_arrays_and_several_kinds);
  tcase_add_test(tcase, more_parts_than_a_site_can_have_are_counted);
  tcase_add_test(tcase, a_hub_has_at_most_64_arrays);
  tcase_add_test(tcase, what_does_not_fit_together_is_refused);
  tcase_add_test(tcase, two_loads_of_a_building_need_two_names);
  tcase_add_test(tcase, assumptions_say_what_was_given_and_where_defaults_come_from);
  suite_add_tcase(suite, tcase);
  return suite;
}
