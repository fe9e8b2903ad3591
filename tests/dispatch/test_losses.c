/* Losses and yields: an hour worked out by hand from light to AC energy, what each field touches,
 * what must add up on random sites, and the standard's definitions as arithmetic. */
#include <check.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "dice.h"
#include "dispatch/losses.h"
#include "dispatch/result.h"
#include "suites.h"

enum { HOURS = STEADING_HOURS_PER_YEAR, DELIVERED = STEADING_LINE_DELIVERED };

static steading_losses losses_of(const steading_run *run) {
  steading_losses losses;
  steading_error error = {.status = STEADING_OK};
  ck_assert_msg(steading_run_losses(run, &losses, &error) == STEADING_OK, "%s: %s", error.path,
                error.text);
  return losses;
}

/* The losses of a site, which is made, run and dropped. */
static steading_losses losses_of_text(steading_weather *weather, const char *options,
                                      const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static steading_losses losses_of_text(steading_weather *weather, const char *options,
                                      const char *format, ...) {
  char text[4000];
  va_list list;
  const steading_site *site = NULL;
  steading_run *run = NULL;
  steading_losses losses;
  int length = 0;
  va_start(list, format);
  length = vsnprintf(text, sizeof text, format, list);
  va_end(list);
  ck_assert(length >= 0 && (size_t)length < sizeof text);
  site = build_site(weather, "%s", text);
  run = build_run(site, options);
  losses = losses_of(run);
  steading_run_release(run);
  steading_record_release(site);
  return losses;
}

static void check_line(const steading_losses_row *row, steading_loss_line line, double expected,
                       double within) {
  ck_assert_msg(fabs(row->kwh[line] - expected) <= within, "%s: %.12g, expected %.12g",
                steading_loss_line_names[line], row->kwh[line], expected);
}

/* --- an hour by hand -----------------------------------------------------------------------------
 */

/* Noon with the sun in the south at a height whose sine is 0.8, in hour 12 of the year: beam
 * 700 W/m2, diffuse 140, global 700, at 20 C; the rest of the year is dark. */
static steading_weather *one_hour_weather(void) {
  steading_weather *weather = build_dark_weather();
  memset(weather->sun, 0, HOURS * sizeof *weather->sun);
  for (int i = 0; i < HOURS; i++) weather->sun[i].extraterrestrial_w_per_m2 = 1361;
  weather->sun[12] = (steading_sun_step){
      .north = -0.6, .up = 0.8, .extraterrestrial_w_per_m2 = 1361, .lit_share = 1};
  weather->ghi_w_per_m2[12] = 700;
  weather->dni_w_per_m2[12] = 700;
  weather->dhi_w_per_m2[12] = 140;
  return weather;
}

/* An array with everything that takes light, on the hub of the last example of the manual. */
static const char *const whole_chain =
    "{ weather = @0, meters = { m = { export_limit_kw = 5 } }, hubs = { h = { meter = \"m\", "
    "inverter = { unit = { ac_kw = 5, pv_kw = 2, efficiency = { at_10 = 0.8, at_50 = 0.8, "
    "at_100 = 0.8 } } }, arrays = { { tilt_deg = 30, azimuth_deg = 180, sky_model = \"isotropic\", "
    "horizon = { { azimuth_deg = 0, elevation_deg = 30 } }, "
    "rows = { pitch_m = 3.5, slant_m = 2, count = 2 }, soiling = 0.1, snow = 0.05, "
    "low_light = { at_200_w_per_m2 = 0.95 }, settling_loss = 0.02, mismatch_loss = 0.03, "
    "dc_wiring_loss = 0.04, downtime_share = 0.05, module = { watts = 400, "
    "temp_coefficient_per_c = -0.004, noct_c = 45, degradation_per_year = 0.01 }, "
    "lots = { { count = 10, in_service = \"2023-01\" } } } }, "
    "battery = { module = { kwh = 10, charge_kw = 0.5, discharge_kw = 3, "
    "round_trip_efficiency = 0.81 }, lots = { { count = 1 }, { count = 1, "
    "in_service = \"2027-06\", delivered_charge = 0.3 } } }, rules = { battery_floor = 0.1 } } }, "
    "buildings = { b = { hub = \"h\", loads = { { kind = \"steady\", watts = 100 } } } } }";

/* Light, W/m2 (the open plane as in test_array.c):
 *   open        beam 694.974226 + sky 130.621778 + ground 9.378222           = 834.974226
 *   horizon     30 degrees all round leaves cos 30 cos^2 30 / ((1 + cos 30) / 2) = 0.69615242 of
 *               the sky, and the sun at 53 degrees: 694.974226 + 90.932667 + 9.378222
 *                                                                            = 795.285115
 *   rows        pitch 1.75 slants: no shade (1 - 1.75 x 0.8 / 0.99282 < 0); by crossed strings
 *               (Hottel 1954) the second row sees 0.86720794 of the sky against 0.93301270,
 * 0.04331039 of a ground that is lit over 1 - 0.99282 / (0.8 x 1.75) = 0.29084263 and sees
 *               0.47970381 of the sky: 1.992541; means of two rows           = 788.385565
 *   reflection  Martin and Ruiz 2001: 0.99991123, 0.95497959, 0.79445402     = 783.205806
 *   low light   Huld et al. 2011 with measure (0.95 - 1) / -0.0767389 = 0.65155887: the polynomial
 * is above 1 here, a gain                                         = 784.118220 cell        20 + 25
 * / 800 x 788.385565 = 44.637049 C: 0.92145180 times 4 kW, 0.9, 0.95, then 0.98, 0.99^4 (1461 days,
 * four years of 365.25), 0.97, 0.96, 0.95. */
static const double capture_by_hand[] = {
    3.339896904,  -0.158756443, -0.027598201, -0.020719035, -0.313282323, -0.140977045, 0.003120454,
    -0.210641464, -0.049420857, -0.095421569, -0.069786013, -0.090256576, -0.108307892, 0};

/* The unit takes 2 of 2.057849941 kW. The load's 0.1 kW take 0.125 of it, the battery 0.5, the rest
 * is exported. It stores 0.45 kWh and gives 0.405 back by the night. In June a second module brings
 * 3 kWh; above the floor of 2 kWh are then 1 + 3 - 2 = 2, which become 1.8 at the terminals.
 *   battery loss  0.5 - 0.45 + 0.45 - 0.405 + 2 - 1.8        = 0.295
 *   stored        brought 3 - change of stored (2 - 1)       = 2
 *   inverter      a fifth of 2 - 0.5 + 0.405 + 1.8 = 3.705   = 0.741 */
START_TEST(an_hour_equals_the_hand_values_from_light_to_ac) {
  steading_weather *weather = one_hour_weather();
  steading_losses losses = losses_of_text(
      weather, "{ start = \"2027-01\", initial = { state_of_charge = 0.1 } }", "%s", whole_chain);
  const steading_losses_row *row = losses.rows;
  steading_performance p;
  ck_assert_uint_eq(losses.count, 1);
  ck_assert_int_eq(row->year, 2027);
  for (int k = 0; k < STEADING_FIRST_SYSTEM_LINE; k++)
    check_line(row, (steading_loss_line)k, capture_by_hand[k], 2e-9);
  check_line(row, STEADING_LINE_INPUT_LIMITS, 0, 0);
  check_line(row, STEADING_LINE_NOT_TAKEN, -0.057849941, 2e-9);
  check_line(row, STEADING_LINE_BATTERY_LOSS, -0.295, 1e-9);
  check_line(row, STEADING_LINE_BATTERY_STANDBY, 0, 0);
  check_line(row, STEADING_LINE_STORED, 2, 1e-9);
  check_line(row, STEADING_LINE_INVERTER_LOSS, -0.741, 1e-9);
  check_line(row, STEADING_LINE_DELIVERED, 2.964, 1e-9);
  /* 4 kW: 0.834974226 h of light, 2 kWh taken, 2.964 kWh AC */
  p = steading_performance_of(&row->sums);
  ck_assert_double_eq_tol(p.reference_yield_h, 0.834974226, 1e-9);
  ck_assert_double_eq_tol(p.array_yield_h, 0.5, 1e-9);
  ck_assert_double_eq_tol(p.final_yield_h, 0.741, 1e-9);
  ck_assert_double_eq_tol(p.performance_ratio, 2.964 / 3.339896904, 1e-8);
  ck_assert_double_eq_tol(p.temperature_corrected_performance_ratio,
                          2.964 / (3.339896904 * 0.9214518044), 1e-8);
  ck_assert_double_eq_tol(p.capture_loss_h, 0.334974226, 1e-9);
  ck_assert_double_eq_tol(p.system_loss_h, -0.241, 1e-9);
  ck_assert_double_eq_tol(p.capacity_factor, 2.964 / (4 * 8760), 1e-12);
  steading_losses_free(&losses);
  steading_weather_release(weather);
}
END_TEST

/* 40 W whatever the unit carries (1 / 1.04 and 10 / 10.04 at 1 and 10 kW): in the hour of sun they
 * come from it, in the other 8759 from the grid, which is no loss of the sun. 5 W of standby over
 * 8760 hours come out of what was stored at the start: 1 kWh at first. */
START_TEST(idle_draw_from_the_grid_is_no_loss_of_the_sun) {
  steading_weather *weather = one_hour_weather();
  const char *text =
      "{ weather = @0, meters = { m = { export_limit_kw = 5 } }, hubs = { h = { meter = \"m\", "
      "inverter = { unit = { ac_kw = 10, idle_w = 40, efficiency = { at_10 = %.17g, "
      "at_100 = %.17g } } }, arrays = { { tilt_deg = 30, azimuth_deg = 180, "
      "module = { watts = 400, temp_coefficient_per_c = -0.004 } } }, "
      "battery = { module = { kwh = 10, charge_kw = 0, discharge_kw = 0, standby_w = 5, "
      "round_trip_efficiency = 0.9 } } } } }";
  steading_losses losses =
      losses_of_text(weather, "{ start = \"2027-01\", initial = { state_of_charge = 0.1 } }", text,
                     1 / 1.04, 10 / 10.04);
  check_line(losses.rows, STEADING_LINE_INVERTER_LOSS, -0.04, 1e-9);
  check_line(losses.rows, STEADING_LINE_BATTERY_STANDBY, -1, 1e-9);
  check_line(losses.rows, STEADING_LINE_STORED, 1, 1e-9);
  check_line(losses.rows, STEADING_LINE_BATTERY_LOSS, 0, 0);
  ck_assert_double_gt(losses.rows->kwh[DELIVERED], 0.2);
  ck_assert_double_eq_tol(losses.rows->kwh[DELIVERED], losses.rows->inverted_kwh, 1e-9);
  steading_losses_free(&losses);
  steading_weather_release(weather);
}
END_TEST

/* Grey light of 500 W/m2 around the clock on level modules without losses; 4 kW from the start,
 * 4 more from 1 July on, 184 of 365 days: mean 4 + 4 x 184 / 365 kW, and each kW had 4380 h. */
START_TEST(kw_in_service_are_the_mean_over_the_year) {
  steading_weather *weather = build_grey_weather(1);
  steading_losses losses = losses_of_text(
      weather, "{ start = \"2027-01\", years = 2 }",
      "{ weather = @0, meters = { m = { export_limit_kw = 9 } }, hubs = { h = { meter = \"m\", "
      "inverter = { unit = { ac_kw = 9, efficiency = { at_10 = 1, at_100 = 1 } } }, "
      "arrays = { { tilt_deg = 0, azimuth_deg = 180, sky_model = \"isotropic\", "
      "incidence = false, soiling = 0, mismatch_loss = 0, dc_wiring_loss = 0, "
      "module = { watts = 400, temp_coefficient_per_c = 0, degradation_per_year = 0 }, "
      "lots = { { count = 10 }, { count = 10, in_service = \"2027-07-01\" } } } } } } }");
  const double kw[] = {4 + 4 * 184 / 365.0, 8};
  ck_assert_uint_eq(losses.count, 2);
  for (size_t y = 0; y < 2; y++) {
    steading_performance p = steading_performance_of(&losses.rows[y].sums);
    ck_assert_double_eq_tol(losses.rows[y].sums.kw, kw[y], 1e-12);
    ck_assert_double_eq_tol(p.reference_yield_h, 4380, 1e-8);
    ck_assert_double_eq_tol(p.array_yield_h, 4380, 1e-8);
    ck_assert_double_eq_tol(p.final_yield_h, 4380, 1e-8);
    ck_assert_double_eq_tol(p.capacity_factor, 0.5, 1e-12);
  }
  steading_losses_free(&losses);
  steading_weather_release(weather);
}
END_TEST

/* --- each line and its field ---------------------------------------------------------------------
 */

static const struct {
  const char *field;
  steading_loss_line line;
} fields[] = {{"horizon = { { azimuth_deg = 0, elevation_deg = 12 } }, ", STEADING_LINE_HORIZON},
              {"rows = { pitch_m = 3, slant_m = 2, count = 3 }, ", STEADING_LINE_ROWS},
              {"incidence = { model = \"martin_ruiz\", a_r = 0.2 }, ", STEADING_LINE_REFLECTION},
              {"soiling = 0.2, ", STEADING_LINE_SOILING},
              {"snow = 0.2, ", STEADING_LINE_SNOW},
              {"low_light = {}, ", STEADING_LINE_LOW_LIGHT},
              {"cell_temperature = { model = \"faiman\", u0 = 20, wind_m_per_s = 0 }, ",
               STEADING_LINE_TEMPERATURE},
              {"settling_loss = 0.2, ", STEADING_LINE_SETTLING},
              {"lots = { { count = 1, in_service = \"2007-01\" } }, ", STEADING_LINE_AGEING},
              {"mismatch_loss = 0.2, ", STEADING_LINE_MISMATCH},
              {"dc_wiring_loss = 0.2, ", STEADING_LINE_WIRING},
              {"downtime_share = 0.2, ", STEADING_LINE_DOWNTIME}};
enum { FIELDS = sizeof fields / sizeof fields[0] };

static steading_losses losses_with(steading_weather *weather, const char *field) {
  return losses_of_text(
      weather, "{ start = \"2027-01\" }",
      "{ weather = @0, meters = { m = { export_limit_kw = 1 } }, hubs = { h = { meter = \"m\", "
      "inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } }, "
      "arrays = { { %s tilt_deg = 30, azimuth_deg = 180, module = { watts = 2000, "
      "temp_coefficient_per_c = -0.004 } } } } } }",
      field);
}

/* What stands before a loss in the chain does not feel it, to the bit; it takes at least 0.5 % more
 * of the nominal energy. */
START_TEST(a_field_changes_its_line_and_what_follows) {
  steading_weather *weather = build_sunny_weather(1);
  steading_losses before = losses_with(weather, ""), after = losses_with(weather, fields[_i].field);
  const double *a = before.rows->kwh, *b = after.rows->kwh;
  steading_loss_line line = fields[_i].line;
  for (int k = 0; k < (int)line; k++)
    ck_assert_msg(a[k] == b[k], "%s changed by %g", steading_loss_line_names[k], b[k] - a[k]);
  ck_assert_msg(b[line] < a[line] - 0.005 * a[0], "%s: %g, before %g",
                steading_loss_line_names[line], b[line], a[line]);
  ck_assert_double_lt(b[DELIVERED], a[DELIVERED]);
  steading_losses_free(&before);
  steading_losses_free(&after);
  steading_weather_release(weather);
}
END_TEST

/* --- strings on inputs ---------------------------------------------------------------------------
 */

/* Data sheet of KC200GT (Villalva, Gazoli and Ruppert 2009): 200 W. */
#define DIODE                                                                                 \
  "module = { watts = 200, temp_coefficient_per_c = -0.0045, model = \"one_diode\", isc_a = " \
  "8.21, voc_v = 32.9, imp_a = 7.61, vmp_v = 26.3, isc_a_per_c = 0.00318, voc_v_per_c = "     \
  "-0.123, cells = 54 }"
#define STRUNG(azimuth, in_series, modules, input)                                 \
  "{ tilt_deg = 30, sky_model = \"isotropic\", azimuth_deg = " #azimuth ", " DIODE \
  ", lots = { { count = " #modules " } }, strings = { in_series = " #in_series     \
  ", input = \"" input "\" } }"

static steading_losses on_inputs(steading_weather *weather, const char *inputs, const char *arrays,
                                 const char *lots) {
  return losses_of_text(weather, "{ start = \"2027-01\" }",
                        "{ weather = @0, meters = { m = { export_limit_kw = 20 } }, hubs = { h = { "
                        "meter = \"m\", inverter = { unit = { ac_kw = 20, inputs = { %s }, "
                        "efficiency = { at_10 = 0.9, at_100 = 0.95 } }, lots = { { count = 1%s } } "
                        "}, arrays = { %s } } } }",
                        inputs, lots, arrays);
}

/* What unequal strings lose on one input is what the same strings give more on two. */
START_TEST(unequal_strings_lose_what_two_inputs_would_give_more) {
  steading_weather *weather = build_sunny_weather(1);
  const char *inputs = "a = { window_v = { 1, 900 } }, b = { window_v = { 1, 900 } }";
  steading_losses one =
      on_inputs(weather, inputs, STRUNG(120, 10, 10, "a") ", " STRUNG(240, 8, 8, "a"), "");
  steading_losses two =
      on_inputs(weather, inputs, STRUNG(120, 10, 10, "a") ", " STRUNG(240, 8, 8, "b"), "");
  double size = one.rows->kwh[0], available[2] = {0, 0};
  for (int k = 0; k < STEADING_LINE_UNEQUAL_STRINGS; k++)
    ck_assert_double_eq(one.rows->kwh[k], two.rows->kwh[k]);
  check_line(two.rows, STEADING_LINE_UNEQUAL_STRINGS, 0, 1e-9 * size);
  ck_assert_double_lt(one.rows->kwh[STEADING_LINE_UNEQUAL_STRINGS], -0.01 * size);
  /* no limit binds: what is available is what is taken */
  available[0] = one.rows->sums.array_kwh;
  available[1] = two.rows->sums.array_kwh;
  check_line(one.rows, STEADING_LINE_UNEQUAL_STRINGS, available[0] - available[1], 1e-9 * size);
  check_line(one.rows, STEADING_LINE_NOT_TAKEN, 0, 1e-9 * size);
  steading_losses_free(&one);
  steading_losses_free(&two);
  steading_weather_release(weather);
}
END_TEST

/* An input that takes 1 kW holds back what it takes less than one without a limit; all the rest is
 * taken, and not a rounding of it remains. */
START_TEST(an_input_holds_back_what_it_takes_less) {
  steading_weather *weather = build_sunny_weather(1);
  steading_losses tight = on_inputs(weather, "a = { window_v = { 1, 900 }, most_kw = 1 }",
                                    STRUNG(180, 10, 10, "a"), "");
  steading_losses wide =
      on_inputs(weather, "a = { window_v = { 1, 900 } }", STRUNG(180, 10, 10, "a"), "");
  double size = tight.rows->kwh[0];
  for (int k = 0; k < STEADING_FIRST_SYSTEM_LINE; k++)
    ck_assert_double_eq_tol(tight.rows->kwh[k], wide.rows->kwh[k], 1e-9 * size);
  ck_assert_double_lt(tight.rows->kwh[STEADING_LINE_INPUT_LIMITS], -0.05 * size);
  check_line(tight.rows, STEADING_LINE_INPUT_LIMITS,
             tight.rows->sums.array_kwh - wide.rows->sums.array_kwh, 1e-9 * size);
  check_line(tight.rows, STEADING_LINE_NOT_TAKEN, 0, 1e-12 * size); /* a difference of two sums */
  steading_losses_free(&tight);
  steading_losses_free(&wide);
  steading_weather_release(weather);
}
END_TEST

/* Without a unit until 1 July strings have no input: what the sun gives until then, in grey light
 * that is the same in every hour 181 / 365 of the year's, is held back. */
START_TEST(strings_without_a_unit_are_held_back) {
  steading_weather *weather = build_grey_weather(1);
  steading_losses losses = on_inputs(weather, "a = { window_v = { 1, 900 } }",
                                     STRUNG(120, 10, 10, "a") ", " STRUNG(240, 10, 10, "a"),
                                     ", in_service = \"2027-07-01\"");
  double available = 0;
  for (int k = 0; k < STEADING_FIRST_SYSTEM_LINE; k++) available += losses.rows->kwh[k];
  ck_assert_double_gt(available, 1000);
  check_line(losses.rows, STEADING_LINE_INPUT_LIMITS, -available * 181 / 365, 1e-9 * available);
  check_line(losses.rows, STEADING_LINE_NOT_TAKEN, 0, 0);
  steading_losses_free(&losses);
  steading_weather_release(weather);
}
END_TEST

/* --- what adds up --------------------------------------------------------------------------------
 */

static void check_rows(const steading_run *run, const char *site) {
  steading_losses losses = losses_of(run);
  size_t hubs = run->layout.hubs;
  ck_assert_uint_eq(losses.count, hubs * (size_t)run->years); /* each has an array */
  for (size_t i = 0; i < losses.count; i++) {
    const steading_losses_row *row = &losses.rows[i];
    static steading_span span;
    double capture = 0, sum = 0, size = 1;
    double h = run->step_minutes / 60.0;
    steading_performance p = steading_performance_of(&row->sums);
    steading_span_of(run, i / hubs * 12, 12, &span);
    ck_assert_int_eq(row->year, span.site.year);
    ck_assert_uint_eq(row->hub, i % hubs);
    for (int k = 0; k < DELIVERED; k++) {
      sum += row->kwh[k];
      size += fabs(row->kwh[k]);
      if (k < STEADING_FIRST_SYSTEM_LINE) capture += row->kwh[k];
      if (!isfinite(row->kwh[k])) ck_abort_msg("%g in %s", row->kwh[k], site);
    }
    const steading_hub_flow *f = steading_hub_flow_of(&run->layout, span.sum, row->hub);
    ck_assert_double_eq(row->kwh[DELIVERED], sum);
    ck_assert_msg(fabs(sum - f->inverted * h) <= 1e-9 * size, "delivered %.15g, inverted %.15g: %s",
                  sum, f->inverted * h, site);
    ck_assert_msg(fabs(capture - f->pv_available * h) <= 1e-9 * size,
                  "captured %.15g, available %.15g: %s", capture, f->pv_available * h, site);
    /* array yield is what remains when inputs and the hub have taken what they could */
    if (row->sums.kw > 0)
      ck_assert_msg(
          fabs(p.array_yield_h * row->sums.kw - capture - row->kwh[STEADING_LINE_INPUT_LIMITS] -
               row->kwh[STEADING_LINE_NOT_TAKEN]) <= 1e-9 * size,
          "array yield of %s", site);
  }
  steading_losses_free(&losses);
}

/* Light of any size in steps of `minutes`, all of it diffuse: no light of a real sky, so that
 * arrays under it take it as even. */
static steading_weather *dice_weather(dice *d, size_t years, int minutes) {
  const steading_place place = {.latitude_deg = 35, .longitude_deg = -105, .utc_offset_h = -7};
  steading_weather *weather = steading_weather_new(&place, years, minutes, "made");
  ck_assert_ptr_nonnull(weather);
  for (size_t i = 0; i < weather->steps; i++) {
    weather->ghi_w_per_m2[i] = weather->dhi_w_per_m2[i] = roll(d) < 0.4 ? 0 : 900 * roll(d);
    weather->temp_c[i] = roll_between(d, -20, 35);
  }
  return weather;
}

typedef struct text {
  char bytes[6000];
  size_t length;
} text;

static void add(text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(text *t, const char *format, ...) {
  va_list list;
  va_start(list, format);
  t->length += (size_t)vsnprintf(t->bytes + t->length, sizeof t->bytes - t->length, format, list);
  va_end(list);
  ck_assert_uint_lt(t->length, sizeof t->bytes);
}

static void add_array(text *t, dice *d, bool strung, bool even) {
  int tilt = (int)(60 * roll(d)), azimuth = (int)(359 * roll(d)), more = (int)(9 * roll(d));
  double soiling = 0.2 * roll(d), snow = 0.1 * roll(d), downtime = 0.1 * roll(d);
  int in_series = 1;
  add(t, "{ tilt_deg = %d, azimuth_deg = %d, soiling = %.2f, snow = %.2f, downtime_share = %.2f, ",
      tilt, azimuth, soiling, snow, downtime);
  if (even) add(t, "sky_model = \"isotropic\", ");
  if (roll(d) < 0.5)
    add(t,
        "horizon = { { azimuth_deg = 90, elevation_deg = 8 }, { azimuth_deg = 270, elevation_deg = "
        "19 } }, ");
  if (roll(d) < 0.5) add(t, "rows = { pitch_m = 3, slant_m = 2, count = 4 }, ");
  if (strung) {
    in_series = 5 + (int)(5 * roll(d));
    add(t, "strings = { in_series = %d, input = \"%c\" }, " DIODE ", ", in_series,
        roll(d) < 0.5 ? 'a' : 'b');
  } else {
    add(t,
        "low_light = {}, module = { watts = 400, temp_coefficient_per_c = -0.0035, "
        "first_year_degradation = 0.02 }, ");
  }
  add(t,
      "lots = { { count = %d, in_service = \"2019-03-09\" }, { count = %d, in_service = "
      "\"2028-05-20\" }, { count = %d, retired = \"2027-11-03\" } } }, ",
      4 * in_series, more * in_series, 6 * in_series); /* whole strings */
}

/* A hub of the site; `even`: its arrays take the sky as even. */
static void add_hub(text *t, dice *d, int i, bool even) {
  bool strung = roll(d) < 0.4;
  double pv_kw = roll_between(d, 1, 8), at_10 = roll_between(d, 0.8, 0.94);
  add(t, "h%d = { ", i);
  if (roll(d) < 0.7) add(t, "meter = \"m\", ");
  add(t,
      "inverter = { unit = { ac_kw = 3, pv_kw = %.2f, efficiency = { at_10 = %.4f, at_100 = 0.95 "
      "}, inputs = { a = { window_v = { 80, 400 }, most_a = 9 }, b = { window_v = { 150, 300 }, "
      "most_kw = 1 } } }, lots = { { count = 1%s } } }, arrays = { ",
      pv_kw, at_10, roll(d) < 0.2 ? ", in_service = \"2027-09-15\"" : "");
  add_array(t, d, strung, even);
  if (roll(d) < 0.6) add_array(t, d, strung, even);
  add(t, "}, ");
  if (roll(d) < 0.7)
    add(t,
        "battery = { module = { kwh = 4, charge_kw = 2, discharge_kw = 2, standby_w = 9, "
        "round_trip_efficiency = 0.9 }, lots = { { count = 2, retired = \"2028-02-02\" }, { "
        "count = 1, in_service = \"2027-08-08\" } } }, ");
  add(t, "}, ");
}

static void roll_site(dice *d, bool even, text *t) {
  int hubs = 1 + (int)(3 * roll(d));
  t->length = 0;
  add(t,
      "{ weather = @0, meters = { m = { export_limit_kw = %.2f, import_limit_kw = 5 } }, hubs = { ",
      4 * roll(d));
  for (int i = 0; i < hubs; i++) add_hub(t, d, i, even);
  add(t,
      "}, buildings = { b = { hub = \"h0\", loads = { { kind = \"daily\", kwh_per_day = %.2f, "
      "shape = \"dwelling\" } } } } }",
      30 * roll(d));
}

/* Whatever the steps of run and weather, the month in which the run begins, and with two years of
 * weather for three of the run. */
START_TEST(lines_add_up_on_random_sites) {
  static const int steps[] = {60, 30, 15, 10};
  static const char *const starts[] = {"2027-01", "2027-07", "2026-12"};
  dice d = {.seed = 61};
  for (int i = 0; i < 24; i++) {
    bool sunny = i % 2 == 0;
    int minutes = steps[(int)(4 * roll(&d))];
    steading_weather *weather = sunny ? build_sunny_weather(2) : dice_weather(&d, 2, minutes);
    text site_text, options;
    const steading_site *site = NULL;
    steading_run *run = NULL;
    roll_site(&d, !sunny, &site_text);
    options.length = 0;
    add(&options, "{ start = \"%s\", years = 3, step_minutes = %d }", starts[i % 3],
        steps[(int)(3 * roll(&d))]);
    site = build_site(weather, "%s", site_text.bytes);
    run = build_run(site, options.bytes);
    check_rows(run, site_text.bytes);
    steading_run_release(run);
    steading_record_release(site);
    steading_weather_release(weather);
  }
}
END_TEST

/* The third year of two of weather is the first again; a finer step of the run changes nothing in
 * what the arrays lose. */
START_TEST(years_repeat_and_the_step_does_not_matter) {
  steading_weather *weather = build_sunny_weather(2);
  const char *site =
      "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } }, arrays = { { tilt_deg = 30, "
      "azimuth_deg = 180, module = { watts = 400, temp_coefficient_per_c = -0.004 } } } } } }";
  steading_losses hourly =
      losses_of_text(weather, "{ start = \"2027-07\", years = 3 }", "%s", site);
  steading_losses finer =
      losses_of_text(weather, "{ start = \"2027-07\", years = 3, step_minutes = 15 }", "%s", site);
  for (size_t y = 0; y < 3; y++) {
    ck_assert_int_eq(hourly.rows[y].year, 2027 + (int)y);
    for (int k = 0; k < STEADING_FIRST_SYSTEM_LINE; k++)
      ck_assert_double_eq(hourly.rows[y].kwh[k], finer.rows[y].kwh[k]);
  }
  ck_assert_double_ne(hourly.rows[0].kwh[0], hourly.rows[1].kwh[0]);
  for (int k = 0; k <= STEADING_LINE_TEMPERATURE; k++)
    ck_assert_double_eq(hourly.rows[0].kwh[k], hourly.rows[2].kwh[k]);
  steading_losses_free(&hourly);
  steading_losses_free(&finer);
  steading_weather_release(weather);
}
END_TEST

/* A hub without arrays has no row, and one whose modules come in the second year no yield in the
 * first. */
START_TEST(without_arrays_there_are_no_rows) {
  steading_weather *weather = build_grey_weather(1);
  steading_losses none = losses_of_text(
      weather, "{}",
      "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } } } }, buildings = { b = { meter = "
      "\"m\" } } }");
  steading_losses later = losses_of_text(
      weather, "{ start = \"2027-01\", years = 2 }",
      "{ weather = @0, meters = { m = {} }, hubs = { a = { meter = \"m\", inverter = { unit = { "
      "ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } } }, b = { meter = \"m\", inverter "
      "= { unit = { ac_kw = 5, efficiency = { at_10 = 0.9, at_100 = 0.95 } } }, arrays = { { "
      "tilt_deg = 0, azimuth_deg = 0, module = { watts = 400, temp_coefficient_per_c = 0 }, lots = "
      "{ { count = 1, in_service = \"2028-01\" } } } } } } }");
  steading_performance p;
  ck_assert_uint_eq(none.count, 0);
  ck_assert_uint_eq(later.count, 2);
  for (int k = 0; k < STEADING_LOSS_LINES; k++) ck_assert_double_eq(later.rows[0].kwh[k], 0);
  ck_assert_uint_eq(later.rows[1].hub, 1);
  p = steading_performance_of(&later.rows[0].sums);
  for (size_t k = 0; k < sizeof p / sizeof(double); k++) ck_assert(isnan(((double *)&p)[k]));
  p = steading_performance_of(&later.rows[1].sums);
  ck_assert_double_eq_tol(p.reference_yield_h, 4380, 1e-8);
  steading_losses_free(&none);
  steading_losses_free(&later);
  steading_weather_release(weather);
}
END_TEST

/* --- the definitions -----------------------------------------------------------------------------
 */

/* Arithmetic on the definitions of IEC 61724-1 (no published numbers are known): 10 kW, 2000 kWh/m2
 * of light, 17200 kWh DC, 15600 kWh AC in 8760 hours. */
START_TEST(yields_follow_their_definitions) {
  const steading_performance_sums sums = {.kw = 10,
                                          .hours = 8760,
                                          .nominal_kwh = 20000,
                                          .corrected_nominal_kwh = 19500,
                                          .array_kwh = 17200,
                                          .ac_kwh = 15600};
  steading_performance p = steading_performance_of(&sums);
  ck_assert_double_eq_tol(p.reference_yield_h, 2000, 1e-9);
  ck_assert_double_eq_tol(p.array_yield_h, 1720, 1e-9);
  ck_assert_double_eq_tol(p.final_yield_h, 1560, 1e-9);
  ck_assert_double_eq_tol(p.performance_ratio, 0.78, 1e-12);
  ck_assert_double_eq_tol(p.temperature_corrected_performance_ratio, 0.8, 1e-12);
  ck_assert_double_eq_tol(p.capture_loss_h, 280, 1e-9);
  ck_assert_double_eq_tol(p.system_loss_h, 160, 1e-9);
  ck_assert_double_eq_tol(p.capacity_factor, 0.1781, 5e-5); /* 15600 / 87600 */
}
END_TEST

/* Five hours of 5 kW with -0.35 %/K and another efficiency of 0.86: the corrected ratio is that. */
START_TEST(the_corrected_ratio_is_what_heat_leaves_out) {
  static const double light[] = {200, 500, 900, 1000, 600}, cell_c[] = {20, 35, 52, 58, 45};
  steading_performance_sums sums = {.kw = 5, .hours = 5};
  steading_performance p;
  for (int i = 0; i < 5; i++) {
    double corrected = 5 * light[i] / 1000 * (1 - 0.0035 * (cell_c[i] - 25));
    sums.nominal_kwh += 5 * light[i] / 1000;
    sums.corrected_nominal_kwh += corrected;
    sums.ac_kwh += 0.86 * corrected;
  }
  p = steading_performance_of(&sums);
  ck_assert_double_eq_tol(p.reference_yield_h, 3.2, 1e-12);
  ck_assert_double_eq_tol(sums.ac_kwh, 12.65683, 5e-6);
  ck_assert_double_eq_tol(p.performance_ratio, 0.79105, 5e-6);
  ck_assert_double_eq_tol(p.temperature_corrected_performance_ratio, 0.86, 1e-12);
}
END_TEST

Suite *losses_suite(void) {
  Suite *suite = suite_create("losses");
  TCase *tests = tcase_create("losses");
  tcase_set_timeout(tests, 240);
  tcase_add_test(tests, an_hour_equals_the_hand_values_from_light_to_ac);
  tcase_add_test(tests, idle_draw_from_the_grid_is_no_loss_of_the_sun);
  tcase_add_test(tests, kw_in_service_are_the_mean_over_the_year);
  tcase_add_loop_test(tests, a_field_changes_its_line_and_what_follows, 0, FIELDS);
  tcase_add_test(tests, unequal_strings_lose_what_two_inputs_would_give_more);
  tcase_add_test(tests, an_input_holds_back_what_it_takes_less);
  tcase_add_test(tests, strings_without_a_unit_are_held_back);
  tcase_add_test(tests, lines_add_up_on_random_sites);
  tcase_add_test(tests, years_repeat_and_the_step_does_not_matter);
  tcase_add_test(tests, without_arrays_there_are_no_rows);
  tcase_add_test(tests, yields_follow_their_definitions);
  tcase_add_test(tests, the_corrected_ratio_is_what_heat_leaves_out);
  suite_add_tcase(suite, tests);
  return suite;
}
