/* A fuel tank and its truck, worked out by hand; and the balance of litres over random years. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "plant/fuel_tank.h"
#include "suites.h"

static steading_fuel *fuel_of(const char *text) {
  return build(&steading_fuel_spec, NULL, "%s", text);
}

static double morning_of(const steading_fuel_tank_rule *rule, int day_of_year,
                         steading_fuel_tank_state *state, int *trucks) {
  int month = 0, day = 0;
  bool came = false;
  double brought = 0;
  steading_month_of_day(day_of_year % 365, &month, &day);
  brought = steading_fuel_tank_morning(rule, month, day, state, &came);
  *trucks += came ? 1 : 0;
  if (!came) ck_assert_double_eq(brought, 0);
  return brought;
}

/* 1900 l filled to 80 %, 1520 l; half of that at the start. */
START_TEST(a_tank_of_propane_is_filled_to_80_percent) {
  steading_fuel *fuel = fuel_of("{ tank = { litres = 1900 } }");
  steading_fuel *given =
      fuel_of("{ tank = { litres = 1900, full_to = 0.9, litres_at_start = 5 } }");
  steading_fuel_tank_rule rule = steading_fuel_tank_rule_of("propane", fuel);
  ck_assert_double_eq_tol(rule.full_l, 1520, 1e-9);
  ck_assert_double_eq_tol(steading_fuel_tank_start_l("propane", fuel), 760, 1e-9);
  ck_assert_double_eq_tol(steading_fuel_tank_rule_of("diesel", fuel).full_l, 1805, 1e-9);
  ck_assert_double_eq_tol(steading_fuel_tank_rule_of("wood_gas", fuel).full_l, 1900, 1e-9);
  ck_assert_double_eq_tol(steading_fuel_tank_rule_of("propane", given).full_l, 1710, 1e-9);
  ck_assert_double_eq(steading_fuel_tank_start_l("propane", given), 5);
  ck_assert_double_lt(rule.order_l, 0);
  steading_record_release(fuel);
  steading_record_release(given);
}
END_TEST

/* 100 l a day out of 1000 l, ordered below 300 l: the level is 300 on the morning of day 7 (not
 * below), 200 on day 8: ordered; with six days of lead the truck comes on day 14. The tank is empty
 * from the end of day 9 on. 800 l then, of which a day takes 100. */
START_TEST(a_truck_comes_after_its_lead) {
  steading_fuel *fuel = fuel_of(
      "{ tank = { litres = 1000, full_to = 0.8, litres_at_start = 800 },"
      "  delivery = { order_below = 0.3, lead_days = 6, least_l = 400 } }");
  steading_fuel_tank_rule rule = steading_fuel_tank_rule_of("propane", fuel);
  steading_fuel_tank_state state = {.level_l = 1000, .days_left = -1};
  int trucks = 0;
  double short_l = 0;
  for (int day = 0; day < 14; day++) {
    ck_assert_double_eq(morning_of(&rule, day, &state, &trucks), 0);
    ck_assert_double_eq(state.days_left, day < 8 ? -1 : 14 - day);
    short_l += 100 - steading_fuel_tank_take(&state, 100);
  }
  ck_assert_double_eq(short_l, 400);
  ck_assert_double_eq(state.level_l, 0);
  ck_assert_int_eq(trucks, 0);
  ck_assert_double_eq(morning_of(&rule, 14, &state, &trucks), 800);
  ck_assert_int_eq(trucks, 1);
  ck_assert_double_eq(state.level_l, 800);
  ck_assert_double_eq(state.days_left, -1);
  steading_record_release(fuel);
}
END_TEST

/* Ordered on 5 March with six days of lead, it is due on 11 March; the road is closed from 10 March
 * to 30 April: it comes on 1 May. Days that do not exist may stand in a span. */
START_TEST(a_truck_that_is_due_on_a_closed_road_comes_on_the_first_open_day) {
  steading_fuel *fuel = fuel_of(
      "{ tank = { litres = 1000 }, delivery = { order_below = 0.3, lead_days = 6,"
      "  closed = { \"03-10..04-30\" } } }");
  steading_fuel_tank_rule rule = steading_fuel_tank_rule_of("propane", fuel);
  steading_fuel_tank_state state = {.level_l = 250, .days_left = -1};
  int trucks = 0, march_5 = 31 + 28 + 4, may_1 = 31 + 28 + 31 + 30;
  for (int day = march_5; day < may_1; day++)
    ck_assert_double_eq(morning_of(&rule, day, &state, &trucks), 0);
  ck_assert_double_eq(morning_of(&rule, may_1, &state, &trucks), 550);
  ck_assert_int_eq(trucks, 1);
  steading_record_release(fuel);
}
END_TEST

/* 3 March plus six days is 9 March, the last day on which the road is open. */
START_TEST(a_truck_that_is_due_before_comes_before) {
  steading_fuel *fuel = fuel_of(
      "{ tank = { litres = 1000 }, delivery = { order_below = 0.3, lead_days = 6,"
      "  closed = { \"03-10..04-30\" } } }");
  steading_fuel_tank_rule rule = steading_fuel_tank_rule_of("propane", fuel);
  steading_fuel_tank_state state = {.level_l = 250, .days_left = -1};
  int trucks = 0, march_3 = 31 + 28 + 2;
  for (int day = march_3; day < march_3 + 6; day++) morning_of(&rule, day, &state, &trucks);
  ck_assert_int_eq(trucks, 0);
  ck_assert_double_eq(morning_of(&rule, march_3 + 6, &state, &trucks), 550);
  steading_record_release(fuel);
}
END_TEST

START_TEST(without_a_lead_it_comes_the_same_morning) {
  steading_fuel *fuel = fuel_of("{ tank = { litres = 1000 }, delivery = { order_below = 0.3 } }");
  steading_fuel_tank_rule rule = steading_fuel_tank_rule_of("diesel", fuel);
  steading_fuel_tank_state state = {.level_l = 300, .days_left = -1};
  int trucks = 0;
  ck_assert_double_eq(morning_of(&rule, 0, &state, &trucks), 0);
  state.level_l = 299;
  ck_assert_double_eq(morning_of(&rule, 1, &state, &trucks), 651);
  ck_assert_double_eq(state.level_l, 950);
  steading_record_release(fuel);
}
END_TEST

/* Litres are neither made nor lost, the tank is never above its limit nor below nothing, and each
 * truck brings at least what it comes for. */
START_TEST(litres_balance_over_random_years) {
  for (uint64_t seed = 1; seed <= 200; seed++) {
    dice d = {.seed = seed};
    bool closed[12][31] = {{false}};
    steading_fuel_tank_rule rule = {.full_l = 1000, .closed = closed};
    steading_fuel_tank_state state = {.days_left = -1};
    double start = 0, brought = 0, used = 0;
    int trucks = 0;
    rule.order_l = roll_between(&d, 100, 600);
    rule.least_l = roll_between(&d, 0, 1000 - rule.order_l);
    rule.lead_days = floor(roll_between(&d, 0, 20));
    for (int m = 2; m < 4; m++)
      for (int k = 0; k < 31; k++) closed[m][k] = roll(&d) < 0.9;
    start = state.level_l = roll_between(&d, 0, 1000);
    for (int day = 0; day < 730; day++) {
      double before = state.level_l, got = 0;
      int month = 0, date = 0;
      bool came = false;
      steading_month_of_day(day % 365, &month, &date);
      got = steading_fuel_tank_morning(&rule, month, date, &state, &came);
      trucks += came ? 1 : 0;
      if (came && got < rule.least_l * (1 - 1e-12)) ck_abort_msg("a truck brought %g l", got);
      if (came && closed[month - 1][date - 1]) ck_abort_msg("a truck on a closed road");
      if (fabs(state.level_l - before - got) > 1e-9 || state.level_l > rule.full_l)
        ck_abort_msg("%g l and %g l brought are %g l", before, got, state.level_l);
      brought += got;
      used += steading_fuel_tank_take(&state, roll_between(&d, 0, 60));
      if (state.level_l < 0) ck_abort_msg("%g l", state.level_l);
    }
    ck_assert_double_eq_tol(start + brought - used, state.level_l, 1e-7);
    ck_assert_int_gt(trucks, 0);
  }
}
END_TEST

static void refused(const char *text, const char *path, const char *said) {
  steading_error error = {.status = STEADING_OK};
  void *record = build_or_error(&steading_fuel_spec, NULL, &error, "%s", text);
  ck_assert_msg(record == NULL, "accepted: %s", text);
  ck_assert_str_eq(error.path, path);
  ck_assert_msg(strstr(error.text, said) != NULL, "%s: %s", error.path, error.text);
}

START_TEST(fuels_that_cannot_be_are_refused) {
  refused("{ delivery = { order_below = 0.3 } }", "delivery", "no tank");
  refused("{ tank = { litres = 100, full_to = 0.8, litres_at_start = 81 } }",
          "tank.litres_at_start", "may hold 80");
  refused(
      "{ tank = { litres = 100 }, delivery = { order_below = 0.3, closed = \"01-01..12-31\" } }",
      "delivery.closed", "no day");
  refused("{ tank = { litres = 100 }, delivery = { lead_days = 3 } }", "delivery.order_below",
          "required");
  refused("{ price_per_l = -1 }", "price_per_l", "outside");
  refused("{ price_per_gal = 3 }", "price_per_gal", "price_per_l");
}
END_TEST

Suite *fuel_tank_suite(void) {
  Suite *s = suite_create("fuel_tank");
  TCase *t = tcase_create("fuel_tank");
  tcase_add_test(t, a_tank_of_propane_is_filled_to_80_percent);
  tcase_add_test(t, a_truck_comes_after_its_lead);
  tcase_add_test(t, a_truck_that_is_due_on_a_closed_road_comes_on_the_first_open_day);
  tcase_add_test(t, a_truck_that_is_due_before_comes_before);
  tcase_add_test(t, without_a_lead_it_comes_the_same_morning);
  tcase_add_test(t, litres_balance_over_random_years);
  tcase_add_test(t, fuels_that_cannot_be_are_refused);
  suite_add_tcase(s, t);
  return s;
}
