/* Ageing in a run: closed forms for a battery at rest, a whole life worked out apart from the steps
 * that a run kept, and what is replaced. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "ledger/appraise.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR };

#define UNIT "inverter = { unit = { ac_kw = 9, efficiency = { at_10 = 1, at_100 = 1 } } }"
#define MODULE "module = { kwh = 5, charge_kw = 3, discharge_kw = 3, round_trip_efficiency = 0.81 }"

/* A battery of modules of 5 kWh without load, at full from the start: nothing happens but time. */
static steading_run *at_rest(steading_weather *weather, const char *battery, int years) {
  const steading_site *site = build_site(
      weather,
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", " UNIT
      ", battery = { " MODULE
      ", %s } } }, "
      "buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 0 } } } } }",
      battery);
  char options[128];
  snprintf(options, sizeof options,
           "{ start = \"2027-01\", years = %d, initial = { state_of_charge = 1 } }", years);
  steading_run *run = build_run(site, options);
  steading_record_release(site);
  return run;
}

static double health_of(const steading_run *run, int year) {
  double nominal = 0, left = 0;
  for (int m = 0; m < 12; m++) {
    const steading_hub_month *month = &run->hub_months[(12 * year + m) * (int)run->layout.hubs];
    nominal += month->nominal_kwh_steps;
    left += month->capacity_kwh_steps;
  }
  return left / nominal;
}

/* Naumann et al. 2018 at 25 C and full: 0.06773136 of the capacity in the first year, sqrt(n) times
 * that in n. What is stored above it is lost. */
static const double full_25_c = 0.06773136;

START_TEST(a_battery_at_rest_fades_by_the_closed_form) {
  steading_weather *weather = build_dark_weather();
  steading_run *run = at_rest(weather,
                              "ageing = { model = \"naumann\", replace_at_health = 0.2 }, "
                              "room = { temp_c = 25 }, lots = { { count = 2 } }",
                              12);
  double k = 1.2571e-5 * (2.8575 * 0.125 + 0.60225) * sqrt(365 * 86400.0);
  ck_assert_double_eq_tol(k, full_25_c, 1e-6 * full_25_c);
  ck_assert_double_eq(health_of(run, 0), 1);
  for (int year = 1; year < 12; year++) {
    build_month first = build_months(run, (size_t)year * 12, 1);
    double fade = 10 * k * (sqrt(year) - sqrt(year - 1));
    ck_assert_double_eq_tol(health_of(run, year), 1 - k * sqrt(year), 1e-12);
    ck_assert_double_eq_tol(first.fade_kwh, fade, 1e-11);
    ck_assert_double_eq(build_months(run, (size_t)year * 12 + 1, 11).fade_kwh, 0);
    ck_assert_double_eq_tol(first.lowest_charge, 1, 1e-12);
  }
  ck_assert_double_eq_tol(build_total(run).fade_kwh, 10 * k * sqrt(11), 1e-10);
  ck_assert_uint_eq(run->replacement_count, 0);
  steading_run_release(run);
  steading_weather_release(weather);
}
END_TEST

/* The air is at 20 C in every hour of that weather; and by the month. */
START_TEST(the_room_has_its_temperature) {
  steading_weather *weather = build_dark_weather();
  static const double temps[12] = {5, 6, 8, 12, 16, 20, 24, 23, 19, 14, 9, 6};
  char battery[512];
  double squares = 0;
  steading_run *out = at_rest(weather,
                              "ageing = { model = \"naumann\", replace_at_health = 0.2 }, "
                              "room = { temp_c = \"outdoors\" }, lots = { { count = 2 } }",
                              3);
  double at_20 = exp(-17126 / 8.3145 * (1 / 293.15 - 1 / 298.15));
  double k = 1.2571e-5 * (2.8575 * 0.125 + 0.60225);
  ck_assert_double_eq_tol(health_of(out, 2), 1 - k * at_20 * sqrt(2 * 365 * 86400.0), 1e-12);
  snprintf(
      battery, sizeof battery,
      "ageing = { model = \"naumann\", replace_at_health = 0.2 }, room = { temp_c = { 5, 6, 8, "
      "12, 16, 20, 24, 23, 19, 14, 9, 6 } }, lots = { { count = 2 } }");
  steading_run *rooms = at_rest(weather, battery, 3);
  for (int m = 0; m < 12; m++) {
    double days = steading_days_before_month[m + 1] - steading_days_before_month[m];
    double here = exp(-17126 / 8.3145 * (1 / (273.15 + temps[m]) - 1 / 298.15));
    squares += here * here * days * 86400;
  }
  ck_assert_double_eq_tol(health_of(rooms, 1), 1 - k * sqrt(squares), 1e-12);
  ck_assert_double_eq_tol(health_of(rooms, 2), 1 - k * sqrt(2 * squares), 1e-12);
  steading_run_release(out);
  steading_run_release(rooms);
  steading_weather_release(weather);
}
END_TEST

/* 0.9 is passed in the third year (0.0677 sqrt(3) = 0.117), so that the fourth begins with a new
 * battery: 0.3 of 10 kWh come, all that was stored goes. It then rests at 0.3. */
START_TEST(a_lot_below_its_health_is_replaced_by_an_equal_one) {
  steading_weather *weather = build_dark_weather();
  steading_run *run = at_rest(weather,
                              "ageing = { model = \"naumann\", replace_at_health = 0.9 }, "
                              "room = { temp_c = 25 }, lots = { { count = 2 } }",
                              6);
  double k = 1.2571e-5 * (2.8575 * 0.125 + 0.60225) * sqrt(365 * 86400.0);
  double rested = 1.2571e-5 * (2.8575 * -0.008 + 0.60225) * sqrt(365 * 86400.0);
  build_month turn = build_months(run, 36, 1);
  ck_assert_uint_eq(run->replacement_count, 1);
  ck_assert_int_eq(run->replacements[0].year, 3);
  ck_assert_double_eq_tol(run->replacements[0].health, 1 - k * sqrt(3), 1e-12);
  ck_assert(!run->replacements[0].by_life);
  ck_assert_double_eq_tol(turn.removed_kwh, 10 * (1 - k * sqrt(2)), 1e-11);
  ck_assert_double_eq_tol(turn.delivered_kwh, 3, 1e-12);
  ck_assert_double_eq(turn.fade_kwh, 0);
  ck_assert_double_eq(health_of(run, 3), 1);
  ck_assert_double_eq_tol(health_of(run, 4), 1 - rested, 1e-12);
  steading_run_release(run);
  steading_weather_release(weather);
}
END_TEST

START_TEST(a_life_in_years_is_the_cap) {
  steading_weather *weather = build_dark_weather();
  steading_run *run =
      at_rest(weather,
              "ageing = { model = \"naumann\", replace_at_health = 0.2 }, room = { temp_c = 25 }, "
              "lots = { { count = 1, price_each = 5, life_years = 2, in_service = \"2027-01\", "
              "delivered_charge = 1 }, { count = 1, price_each = 5, life_years = 2.5, in_service = "
              "\"2024-01\", delivered_charge = 1 } }",
              6);
  /* the first at 2 and 4 years; the second was over before the run (bought at once, no energy),
   * then 2.5 years after that, hence at the beginning of the fourth year; then at 3 + 2.5, after
   * the run */
  static const int years[] = {0, 2, 3, 4};
  static const size_t lots[] = {1, 0, 1, 0};
  ck_assert_uint_eq(run->replacement_count, 4);
  for (size_t i = 0; i < 4; i++) {
    ck_assert_int_eq(run->replacements[i].year, years[i]);
    ck_assert_uint_eq(run->replacements[i].index, lots[i]);
    ck_assert(run->replacements[i].by_life);
  }
  double k = 1.2571e-5 * (2.8575 * 0.125 + 0.60225) * sqrt(365 * 86400.0);
  /* the year 2029: one new, one two years old */
  ck_assert_double_eq_tol(health_of(run, 2), 1 - k * sqrt(2) / 2, 1e-12);
  /* its share went by what it still held: both had faded alike */
  ck_assert_double_eq_tol(build_months(run, 24, 1).removed_kwh, 10 * (1 - k) / 2, 1e-11);
  ck_assert_double_eq_tol(build_months(run, 24, 1).delivered_kwh, 5, 1e-12);
  steading_run_release(run);
  steading_weather_release(weather);
}
END_TEST

/* A lot that comes in the middle of a year has its own age, and the share of what is stored that
 * goes with a lot is that of its capacity then. */
START_TEST(each_lot_has_its_own_age) {
  steading_weather *weather = build_dark_weather();
  steading_run *run =
      at_rest(weather,
              "ageing = { model = \"naumann\", replace_at_health = 0.2 }, room = { temp_c = 25 }, "
              "lots = { { count = 1, retired = \"2030-01\" }, { count = 3, in_service = "
              "\"2028-07\", delivered_charge = 1 } }",
              5);
  double k = 1.2571e-5 * (2.8575 * 0.125 + 0.60225), year = 365 * 86400.0;
  double second = 184 * 86400.0; /* from 1 July to the end of 2028, at full as the pool is */
  double first = 5 * (1 - k * sqrt(year)), before = 0;
  /* the pool is full but for nothing: it was full and the second lot came full */
  double in_2029 = 5 * (1 - k * sqrt(2 * year)) + 15 * (1 - k * sqrt(second));
  ck_assert_double_eq_tol(health_of(run, 2), in_2029 / 20, 1e-12);
  ck_assert_double_eq_tol(build_months(run, 24, 1).fade_kwh, first + 15 - in_2029, 1e-11);
  /* at 2030 the first has three years; it takes its share of the 2029 store */
  before = 5 * (1 - k * sqrt(3 * year)) + 15 * (1 - k * sqrt(second + year));
  ck_assert_double_eq_tol(build_months(run, 36, 1).removed_kwh,
                          in_2029 * 5 * (1 - k * sqrt(3 * year)) / before, 1e-11);
  ck_assert_double_eq_tol(health_of(run, 3), 1 - k * sqrt(second + year), 1e-12);
  steading_run_release(run);
  steading_weather_release(weather);
}
END_TEST

/* --- a life worked out apart
 * -----------------------------------------------------------------------
 */

static const char cycled[] =
    "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
    "ac_kw = 9, idle_w = 40, efficiency = { at_10 = 0.93, at_50 = 0.96, at_100 = 0.95 } } }, "
    "arrays = { { module = { watts = 400, temp_coefficient_per_c = -0.0035 }, lots = { { count = "
    "20 "
    "} }, tilt_deg = 35, azimuth_deg = 180 } }, battery = { module = { kwh = 5, usable = { 0.05, "
    "0.95 }, charge_kw = 3, discharge_kw = 3, charge_efficiency = 0.97, discharge_efficiency = "
    "0.95 "
    "}, room = { temp_c = 18 }, lots = { { count = 3 } }, ageing = %s }, rules = { battery_floor = "
    "0.1 } } }, buildings = { a = { hub = \"h\", loads = { { kind = \"steady\", watts = 700 } } } "
    "} "
    "}";

/* Peaks and valleys of a whole history, read as the standard is written: X the newest range, Y the
 * one before. */
typedef struct history {
  double points[20000];
  size_t count;
} history;

typedef struct wear {
  double calendar, cycles, resistance; /* sums of K^2 and of K for the resistance */
} wear;

static void wear_of(double depth, double count, double rate, wear *w) {
  double k = (0.0630 * rate + 0.0971) * (4.0253 * pow(depth - 0.6, 3) + 1.0923) / 100;
  w->cycles += k * k * depth * count;
  w->resistance +=
      (-0.0020 * rate + 0.0021) * (6.8477 * pow(depth - 0.5, 3) + 0.9182) / 100 * depth * count;
}

static void add_peak(history *h, double value, double rate, wear *w) {
  h->points[h->count++] = value;
  while (h->count >= 3) {
    double *p = h->points + h->count;
    double x = fabs(p[-1] - p[-2]), y = fabs(p[-2] - p[-3]);
    if (x < y) break;
    if (h->count == 3) {
      wear_of(y, 0.5, rate, w);
      h->points[0] = h->points[1];
      h->points[1] = h->points[2];
      h->count = 2;
    } else {
      wear_of(y, 1, rate, w);
      p[-3] = p[-1];
      h->count -= 2;
    }
  }
}

/* Twelve years of charge and power as the run kept them; ageing by the printed laws, written here a
 * second time. Charges that differ by rounding alone are one: 2^-30 is. The capacity of each year,
 * its losses and the lost energy follow. */
START_TEST(twelve_years_worked_out_apart) {
  enum { YEARS = 12 };
  steading_weather *weather = build_sunny_weather(3);
  const steading_site *site =
      build_site(weather, cycled, "{ model = \"naumann\", replace_at_health = 0.3 }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", years = 12, keep = \"steps\" }");
  history *h = calloc(1, sizeof *h);
  wear w = {0};
  double left = 1, grown = 1, last = (double)NAN, before = (double)NAN;
  ck_assert_ptr_nonnull(h);
  for (int year = 0; year < YEARS; year++) {
    double moved = 0, rated = 0, in = 0, out = 0, lost = 0, rate = 0;
    double eff_in = 1 / (1 + (1 / 0.97 - 1) * grown), eff_out = 1 / (1 + (1 / 0.95 - 1) * grown);
    ck_assert_double_eq_tol(health_of(run, year), left, 1e-10);
    for (size_t i = (size_t)year * HOURS; i < (size_t)(year + 1) * HOURS; i++) {
      build_flow f = build_step(run, i);
      double kw = f.battery_in + f.battery_out, charge = f.stored_kwh / (15 * left);
      double k = 1.2571e-5 * exp(-17126 / 8.3145 * (1 / 291.15 - 1 / 298.15)) *
                 (2.8575 * pow(charge - 0.5, 3) + 0.60225);
      double r = 3.419e-10 * exp(-71827 / 8.3145 * (1 / 291.15 - 1 / 298.15)) *
                 (3.3903 * pow(charge - 0.5, 2) + 1.56040);
      w.calendar += k * k * 3600;
      w.resistance += r * 3600;
      moved += kw;
      rated += kw * kw / 15;
      in += f.battery_in;
      out += f.battery_out;
      lost += f.battery_loss;
      ck_assert_double_le(charge, 0.95 + 1e-12);
      ck_assert_double_ge(charge, 0.05 - 1e-12);
    }
    ck_assert_double_eq_tol(lost, (1 - eff_in) * in + (1 / eff_out - 1) * out, 1e-7);
    rate = rated / moved;
    for (size_t i = (size_t)year * HOURS; i < (size_t)(year + 1) * HOURS; i++) {
      double charge = rint(build_step(run, i).stored_kwh / (15 * left) * 0x1p30) / 0x1p30;
      if (isnan(last)) {
        add_peak(h, charge, rate, &w);
        last = before = charge;
      } else if (charge != last) {
        if (last != before && (charge > last) != (last > before)) {
          add_peak(h, last, rate, &w);
          before = last;
        }
        last = charge;
      }
    }
    ck_assert_double_gt(moved, 1000);
    left = 1 - sqrt(w.calendar) - sqrt(w.cycles);
    grown = 1 + w.resistance;
  }
  ck_assert_double_lt(health_of(run, YEARS - 1), 0.9); /* there was something to see */
  ck_assert_double_gt(grown, 1.05);
  for (size_t m = 0; m < run->month_count; m++)
    ck_assert_double_lt(run->months[m].closure_error_kwh, 1e-9);
  free(h);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* What enters less what leaves, is lost with capacity and stays. */
START_TEST(the_balance_holds_with_fade_and_replacements) {
  static const char *const laws[] = {"{ model = \"naumann\", replace_at_health = 0.85 }",
                                     "{ model = \"wang\" }",
                                     "{ model = \"cycles_against_depth\", depths = { { depth = "
                                     "0.3, cycles = 1500 }, { depth = 0.8, "
                                     "cycles = 500 } }, calendar_years = 6 }"};
  steading_weather *weather = build_sunny_weather(2);
  for (size_t l = 0; l < 3; l++) {
    const steading_site *site = build_site(weather, cycled, laws[l]);
    steading_run *run = build_run(site, "{ start = \"2027-01\", years = 9, keep = \"steps\" }");
    build_month t = build_total(run);
    double start = 15 * (0.1 + 0.95) / 2;
    double end = build_step(run, run->step_count - 1).stored_kwh;
    ck_assert_double_eq_tol(t.sum.pv_used + t.sum.import + t.delivered_kwh - t.sum.hub_served -
                                t.sum.export - t.sum.inverter_loss - t.sum.battery_loss -
                                t.sum.standby - t.removed_kwh - t.fade_kwh - (end - start),
                            0, 1e-6);
    if (l != 1) ck_assert_uint_gt(run->replacement_count, 0);
    ck_assert_double_lt(health_of(run, 1), 1);
    steading_run_release(run);
    steading_record_release(site);
  }
  steading_weather_release(weather);
}
END_TEST

/* Wang's loss goes with throughput^0.55: twice the Ah a cycle, 2^0.55 of the loss. */
START_TEST(what_wang_counts) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *one = build_site(weather, cycled, "{ model = \"wang\" }");
  const steading_site *two =
      build_site(weather, cycled, "{ model = \"wang\", throughput = \"both_ways\" }");
  steading_run *a = build_run(one, "{ years = 2 }"), *b = build_run(two, "{ years = 2 }");
  ck_assert_double_lt(health_of(a, 1), 0.99);
  ck_assert_double_eq_tol((1 - health_of(b, 1)) / (1 - health_of(a, 1)), pow(2, 0.55), 1e-9);
  steading_run_release(a);
  steading_run_release(b);
  steading_record_release(one);
  steading_record_release(two);
  steading_weather_release(weather);
}
END_TEST

static bool same(const steading_run *a, const steading_run *b) {
  return memcmp(a->sums, b->sums, a->month_count * a->layout.width * sizeof *a->sums) == 0;
}

/* Off is off: the same bits as without a word of it; and a battery without a module ages not. */
START_TEST(no_ageing_and_no_battery_change_no_bit) {
  steading_weather *weather = build_sunny_weather(1);
  static const char none[] =
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", " UNIT
      ", arrays = { { module = { watts = 400, temp_coefficient_per_c = -0.0035 }, lots = { { count "
      "= 20 } }, tilt_deg = 35, azimuth_deg = 180 } } %s } }, buildings = { a = { hub = \"h\", "
      "loads "
      "= { { kind = \"steady\", watts = 700 } } } } }";
  static const char *const batteries[] = {
      ", battery = { " MODULE ", lots = { { count = 3 } } }",
      ", battery = { " MODULE ", lots = { { count = 3 } }, ageing = false }",
      ", battery = { " MODULE
      ", lots = { { count = 3 } }, ageing = false, room = { temp_c = 40 } }",
      "",
      ", battery = { " MODULE
      ", lots = { { count = 0 } }, ageing = { model = \"naumann\" }, room = { "
      "temp_c = 25 } }"};
  steading_run *runs[5];
  for (int i = 0; i < 5; i++) {
    const steading_site *site = build_site(weather, none, batteries[i]);
    runs[i] = build_run(site, "{ years = 3 }");
    steading_record_release(site);
  }
  ck_assert(same(runs[0], runs[1]));
  ck_assert(same(runs[0], runs[2]));
  ck_assert(!same(runs[0], runs[3]));
  ck_assert(same(runs[3], runs[4]));
  ck_assert_uint_eq(runs[4]->replacement_count, 0);
  for (int i = 0; i < 5; i++) steading_run_release(runs[i]);
  steading_weather_release(weather);
}
END_TEST

typedef struct again {
  const steading_run *run;
  double *sums;
} again;

static steading_status add_again(void *context, const steading_block *b, steading_error *error) {
  again *a = context;
  (void)error;
  for (size_t s = 0; s < b->count; s++)
    for (size_t k = 0; k < b->layout->width; k++)
      a->sums[b->month_index * b->layout->width + k] += b->flows[s * b->layout->width + k];
  return STEADING_OK;
}

START_TEST(a_run_repeated_ages_the_same) {
  steading_weather *weather = build_sunny_weather(1);
  const steading_site *site =
      build_site(weather, cycled, "{ model = \"naumann\", replace_at_health = 0.9 }");
  steading_run *run = build_run(site, "{ years = 5 }");
  again a = {.run = run, .sums = calloc(run->month_count * run->layout.width, sizeof(double))};
  const steading_sink sink = {.take = add_again, .context = &a};
  steading_error error = {.status = STEADING_OK};
  ck_assert_ptr_nonnull(a.sums);
  ck_assert_uint_gt(run->replacement_count, 0);
  ck_assert_int_eq(steading_run_repeat(run, &sink, &error), STEADING_OK);
  ck_assert_mem_eq(a.sums, run->sums, run->month_count * run->layout.width * sizeof(double));
  free(a.sums);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

/* --- money
 * -----------------------------------------------------------------------------------------
 */

/* The battery of rest that is replaced at the beginning of the fourth year, and by its life at that
 * of the third: 2 modules at 300 then, 2 % a year. */
static void check_paid(const char *lot, int year, double parts) {
  steading_weather *weather = build_dark_weather();
  static const char text[] =
      "{ weather = @0, meters = { m = { tariff = { energy = { { price_per_kwh = 0.1 } } } } }, "
      "hubs = "
      "{ h = { meter = \"m\", " UNIT ", battery = { " MODULE
      ", ageing = { model = \"naumann\", replace_at_health = 0.9 }, room = { temp_c = 25 }, lots = "
      "{ "
      "{ count = 2, in_service = \"2027-01\", price_each = 1000, replacement_price_each = 300, "
      "price_trend_per_year = 0.02 %s } } } } }, buildings = { a = { hub = \"h\", loads = { { kind "
      "= "
      "\"steady\", watts = 0 } } } } }";
  const steading_site *site = build_site(weather, text, lot);
  steading_run *run =
      build_run(site, "{ start = \"2027-01\", years = 5, initial = { state_of_charge = 1 } }");
  steading_money *money =
      build(&steading_money_spec, NULL, "{ horizon_years = 4, discount = 0.04 }");
  steading_verdict v;
  steading_error error = {.status = STEADING_OK};
  ck_assert_int_eq(steading_appraise(run, run, money, &v, &error), STEADING_OK);
  ck_assert_uint_eq(v.bought_count, 2);
  ck_assert_int_eq(v.bought[0].plan_year, 0);
  ck_assert_double_eq_tol(v.bought[0].parts, 2000, 1e-9);
  ck_assert_int_eq(v.bought[1].plan_year, year);
  ck_assert(v.bought[1].replacement);
  ck_assert_double_eq_tol(v.bought[1].parts, parts, 1e-9);
  steading_verdict_clear(&v);
  steading_record_release(money);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}

START_TEST(a_replacement_is_paid_when_it_happens) {
  check_paid("", 3, 600 * pow(1.02, 3));
  check_paid(", life_years = 4", 3, 600 * pow(1.02, 3)); /* by health before the life is over */
  check_paid(", life_years = 2", 2,
             600 * pow(1.02, 2)); /* by life; again at the horizon, which counts no more */
}
END_TEST

Suite *health_suite(void) {
  Suite *suite = suite_create("health");
  TCase *tests = tcase_create("health");
  tcase_set_timeout(tests, 120);
  tcase_add_test(tests, a_battery_at_rest_fades_by_the_closed_form);
  tcase_add_test(tests, the_room_has_its_temperature);
  tcase_add_test(tests, a_lot_below_its_health_is_replaced_by_an_equal_one);
  tcase_add_test(tests, a_life_in_years_is_the_cap);
  tcase_add_test(tests, each_lot_has_its_own_age);
  tcase_add_test(tests, twelve_years_worked_out_apart);
  tcase_add_test(tests, the_balance_holds_with_fade_and_replacements);
  tcase_add_test(tests, what_wang_counts);
  tcase_add_test(tests, no_ageing_and_no_battery_change_no_bit);
  tcase_add_test(tests, a_run_repeated_ages_the_same);
  tcase_add_test(tests, a_replacement_is_paid_when_it_happens);
  suite_add_tcase(suite, tests);
  return suite;
}
