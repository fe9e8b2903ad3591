/* site:additions and run.buildings as a script meets them. The site is one load on a meter, so that
 * money can be worked out by hand: 1 kW all year is 8760 kWh, at 0.20 a kWh 1752 a year. */
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
}

static void teardown(void) { folder_remove(folder); }

/* Line 1 of every script. `home` wants 1 kW; its works cost nothing yet. */
static const char head[] =
    "local steading = require 'steading' local base = require 'base' () "
    "local w = steading.weather.synthesize(base.climate) "
    "local site = steading.site { weather = w, meters = { m = { tariff = { energy = { { "
    "price_per_kwh = 0.2 } } } } }, buildings = { home = { meter = 'm', loads = { "
    "steading.load.steady { watts = 1000 } } } }, works = { { name = 'change', price = 0 } } } "
    "local money = { horizon_years = 2, discount = 0 } "
    "local function change(name, watts, price, date) return { name = name, with = { "
    "['buildings.home.loads[1].watts'] = watts, ['works[1].price'] = price, "
    "['works[1].date'] = date } } end "
    "local function show(f) for r in f:rows() do local c = {} for i, n in ipairs(f.columns) do "
    "c[i] = type(r[n]) == 'number' and r[n] ~= steading.never and string.format('%.6g', r[n]) or "
    "tostring(r[n]) end print(table.concat(c, ' ')) end end "
    "local used = { money, change, show, site }\n";

static command_said run_with_head(const char *script) {
  char text[8192];
  ck_assert_int_lt(snprintf(text, sizeof text, "%s%s", head, script), (int)sizeof text);
  return SCRIPT(folder, text);
}

typedef struct row {
  const char *script, *said, *err;
} row;

#define COSTS_NOTHING(name)                                 \
  "steading: warning: additions: '" name                    \
  "' costs nothing: is it without a price, or paid before " \
  "the run starts?\n"

static const row answers[] = {
    {"print(table.concat(site:additions { options = { change('a', 1, 1) }, money = money "
     "}.columns, "
     "' '))",
     "option cost grid_free_hours_gain grid_free_energy_gain import_avoided_kwh_per_year "
     "net_present_value simple_payback_years\n",
     ""},
    /* half the load for 1000: 876 a year, 752 in two years, 0.752 for each unit; a fifth less for
     * 200: 350.4 a year, 500.8 in two, 2.5 for each: first, although it brings less */
    {"show(site:additions { options = { change('half', 500, 1000), change('fifth', 800, 200) }, "
     "money "
     "= money })",
     "fifth 200 0 0 1752 500.8 0.570776\nhalf 1000 0 0 4380 752 1.14155\n", ""},
    /* paid a year later, at 5 %: 1000 / 1.05; savings 876 / 1.05 + 876 / 1.1025 = 1628.84. Its
     * first year earns before it costs, so that nothing is paid back */
    {"money.discount = 0.05 show(site:additions { options = { change('later', 500, 1000, "
     "'2028-01') "
     "}, start = '2027-01', money = money })",
     "later 952.381 0 0 4380 676.463 1.14155\n", ""},
    /* 40 W are below 0.05 kW: every hour counts as grid-free; without load there is no share of it.
     * 1751 kWh stand for 8409.6 a year: (1000 - 40) W */
    {"show(site:additions { options = { change('little', 40, 2000), change('nothing', 0, 9000) }, "
     "money = money })",
     "little 2000 1 0 8409.6 1363.84 1.18912\nnothing 9000 1 none 8760 -5496 never\n", ""},
    /* what earns without money comes first, what loses without any last, equals as they stood */
    {"show(site:additions { options = { change('more', 1100), change('none', 1000), "
     "change('again', "
     "1000), change('dear', 500, 9999), change('free', 900) }, money = money })",
     "free 0 0 0 876 350.4 none\nnone 0 0 0 0 0 none\nagain 0 0 0 0 0 none\n"
     "dear 9999 0 0 4380 -8247 never\nmore 0 0 0 -876 -350.4 never\n",
     COSTS_NOTHING("more") COSTS_NOTHING("free")},
    /* leaving out is an option too: here the works, which the base has paid */
    {"local paid = site:with { ['works[1].price'] = 300 } show(paid:additions { options = { { name "
     "= "
     "'no works', without = { 'works[1]' } } }, money = money })",
     "no works -300 0 0 0 300 none\n", ""},
    /* against another plan, as a site and as a run: 300 dearer and 400 W less than that */
    {"local o = { change('half', 500, 300) } local before = site:with { "
     "['buildings.home.loads[1].watts'] = 900 } show(site:additions { options = o, against = "
     "before, "
     "money = money }) show(site:additions { options = o, against = before:simulate { years = 3 }, "
     "money = money })",
     "half 300 0 0 3504 1101.6 0.428082\nhalf 300 0 0 3504 1101.6 0.428082\n", ""},
    /* a function may do what paths cannot */
    {"show(site:additions { options = { { name = 'two', with = function(s) "
     "s.buildings.home.loads[1].watts = 500 s.works[2] = { name = 'more', price = 500 } end } }, "
     "money "
     "= money })",
     "two 500 0 0 4380 1252 0.570776\n", ""},
};

enum { ANSWERS = sizeof answers / sizeof answers[0] };

START_TEST(test_answers) {
  command_said run = run_with_head(answers[_i].script);
  command_check(&run, 0, answers[_i].said, answers[_i].err, answers[_i].script);
}
END_TEST

/* On a site with every part the frame holds what the three methods give one by one. */
START_TEST(test_it_is_what_the_methods_give) {
  command_said run =
      SCRIPT(folder,
             "local steading = require 'steading'\n"
             "local base = require 'base' ()\n"
             "base.site.weather = steading.weather.synthesize(base.climate)\n"
             "local site = steading.site(base.site)\n"
             "local with = { ['hubs.barn.battery.lots[1].count'] = 4 }\n"
             "local f = site:additions { options = { { name = 'battery', with = with } }, money = "
             "base.money,\n"
             "  start = '2027-01', years = 3, step_minutes = 30 }\n"
             "local o = { start = '2027-01', years = 3, step_minutes = 30 }\n"
             "local now, new = site:simulate(o), site:with(with):simulate(o)\n"
             "local v = new:appraise { against = now, money = base.money }\n"
             "local r = f[1]\n"
             "print(r.net_present_value == v.net_present_value, r.simple_payback_years == "
             "v.simple_payback_years,\n"
             "  r.cost == v.first_cost, math.abs(r.cost - 3 * 1650 * (1 + 0.6 + 0.1)) < 1e-9,\n"
             "  r.import_avoided_kwh_per_year == now.per_year.grid_import_kwh - "
             "new.per_year.grid_import_kwh,\n"
             "  r.grid_free_hours_gain == new.totals.grid_free_hours_share - "
             "now.totals.grid_free_hours_share,\n"
             "  r.grid_free_energy_gain == new.totals.grid_free_energy_share - "
             "now.totals.grid_free_energy_share,\n"
             "  r.import_avoided_kwh_per_year > 1)\n");
  char *err = NULL;
  ck_assert_int_eq(run.status, 0);
  ck_assert_str_eq(run.out, "true\ttrue\ttrue\ttrue\ttrue\ttrue\ttrue\ttrue\n");
  err = strstr(run.err, "additions");
  ck_assert_ptr_null(err);
  command_free(&run);
}
END_TEST

static const row refused[] = {
    {"site:additions()", "additions: found nothing, expected a table with options and money", NULL},
    {"site.additions({})", "additions: expected a site; write site:additions { ... }", NULL},
    {"site:additions({}, 1)",
     "site:additions: found 3 arguments, expected at most 2 (with the object itself)", NULL},
    {"site:additions { optoins = {} }",
     "additions.optoins: unknown field (did you mean 'options'?)", NULL},
    {"site:additions { money = money }",
     "additions.options: found nothing, expected a list of { name = ..., with = {...} }", NULL},
    {"site:additions { options = {} }",
     "additions.options: found an empty table, expected a list of { name = ..., with = {...} }",
     NULL},
    {"site:additions { options = { a = {} } }",
     "additions.options: found other keys than 1, 2, ..., expected a list of { name = ..., with = "
     "{...} }",
     NULL},
    {"site:additions { options = { 3 } }",
     "additions.options[1]: found 3, expected { name = ..., with = {...} }", NULL},
    {"site:additions { options = { { with = {} } } }",
     "additions.options[1].name: found nothing, expected a text", NULL},
    {"site:additions { options = { { name = 'a' } } }",
     "additions.options[1]: expected with = {...} or without = {...}", NULL},
    {"site:additions { options = { { name = 'a', with = {}, without = {} } } }",
     "additions.options[1]: expected with = {...} or without = {...}, not both", NULL},
    {"site:additions { options = { { name = 'a', with = 3 } } }",
     "additions.options[1].with: found 3, expected { [\"path\"] = value } or a function", NULL},
    {"site:additions { options = { { name = 'a', without = 'x' } } }",
     "additions.options[1].without: found \"x\", expected { \"path\", ... }", NULL},
    {"site:additions { options = { { name = 'a', wiht = {} } } }",
     "additions.options[1].wiht: unknown field (did you mean 'with'?)", NULL},
    {"site:additions { options = { { name = 'a', with = {}, price = 3 } } }",
     "additions.options[1].price: an option has no price: the lots and works that it sets have "
     "theirs",
     NULL},
    {"site:additions { options = { { name = 'a', with = {}, cost = 3 } } }",
     "additions.options[1].cost: an option has no price: the lots and works that it sets have "
     "theirs",
     NULL},
    {"site:additions { options = { change('a', 1), change('a', 2) } }",
     "additions.options[2].name: 'a' stands twice", NULL},
    {"site:additions { options = { change('a', 1) } }",
     "additions.money: found nothing, expected a table", NULL},
    {"site:additions { options = { change('a', 1) }, money = {} }",
     "money.horizon_years: required (years that are judged, at most those of the run, years)",
     NULL},
    {"site:additions { options = { change('a', 1) }, money = money, years = 1 }",
     "money.horizon_years: 2 years are longer than the run (1)", NULL},
    {"site:additions { options = { change('a', 1) }, money = money, against = 3 }",
     "additions.against: found 3, expected a run or a site", NULL},
    {"site:additions { options = { change('a', 1) }, money = money, years = 2, against = "
     "site:simulate { years = 2 } }",
     "additions.years: the run in `against` has it already", NULL},
    /* a mistake of an option says which one it is */
    {"site:additions { options = { change('a', 1, 1), { name = 'b', with = { ['buildings.hom.hub'] "
     "= "
     "'x' "
     "} } }, money = money }",
     "additions.options[2] ('b'): site.buildings.hom: unknown name (did you mean 'home'?)", NULL},
    {"site:additions { options = { { name = 'a', with = function() error('mine', 1) end } }, money "
     "= "
     "money }",
     "additions.options[1] ('a'): mine", NULL},
};

enum { REFUSED = sizeof refused / sizeof refused[0] };

START_TEST(test_refused) {
  char err[1024];
  command_said run = run_with_head(refused[_i].script);
  snprintf(err, sizeof err, "steading: scenario.lua:2: %s\n", refused[_i].said);
  command_check(&run, 2, "", err, refused[_i].script);
}
END_TEST

/* The lot is in service since January: a run from April on has paid for it already. */
START_TEST(test_what_was_paid_before_is_told) {
  command_said run = SCRIPT(
      folder,
      "local steading = require 'steading'\n"
      "local base = require 'base' ()\n"
      "base.site.weather = steading.weather.synthesize(base.climate)\n"
      "local f = steading.site(base.site):additions { money = base.money, start = '2027-04',\n"
      "  options = { { name = 'more', with = { ['hubs.barn.battery.lots[1].count'] = 4 } } } }\n"
      "print(f[1].cost)\n");
  ck_assert_int_eq(run.status, 0);
  ck_assert_str_eq(run.out, "0\n");
  ck_assert_ptr_nonnull(strstr(run.err, COSTS_NOTHING("more")));
  command_free(&run);
}
END_TEST

/* --- run.buildings ------------------------------------------------------------------------------
 */

START_TEST(test_buildings_in_a_script) {
  command_said run = run_with_head(
      "local two = site:with(function(s) s.buildings.idle = { meter = 'm' } end)\n"
      "local b = two:simulate { start = '2027-02', years = 1, keep = 'annual' }.buildings\n"
      "print(table.concat(b.columns, ' '), #b)\n"
      "for i = 1, 2 do show(b:where(function(r) return r.month == 2 and r.building == ({ 'home', "
      "'idle' })[i] end)) end\n"
      "print(b:sum('load_kwh') == b:sum('from_grid_kwh'), b[24].year, b[24].month)\n");
  command_check(&run, 0,
                "year month building load_kwh from_pv_kwh from_battery_kwh from_grid_kwh "
                "from_generator_kwh unserved_kwh "
                "shed_kwh peak_kw peak_at share_of_coincident_peak\t24\n"
                "2027 2 home 672 0 0 672 0 0 0 1 2027-02-01T00:00:00-07:00 1\n"
                "2027 2 idle 0 0 0 0 0 0 0 0 none 0\n"
                "true\t2028\t1\n",
                NULL, "buildings");
}
END_TEST

Suite *additions_suite(void) {
  Suite *suite = suite_create("additions");
  TCase *all = tcase_create("all");
  tcase_add_checked_fixture(all, setup, teardown);
  tcase_set_timeout(all, COMMAND_TEST_SECONDS);
  tcase_add_loop_test(all, test_answers, 0, ANSWERS);
  tcase_add_test(all, test_it_is_what_the_methods_give);
  tcase_add_loop_test(all, test_refused, 0, REFUSED);
  tcase_add_test(all, test_what_was_paid_before_is_told);
  tcase_add_test(all, test_buildings_in_a_script);
  suite_add_tcase(suite, all);
  return suite;
}
