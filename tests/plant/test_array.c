/* A PV array: hours worked out by hand, mirrored hemispheres, losses and age. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build.h"
#include "calendar.h"
#include "plant/array.h"
#include "suites.h"

/* Noon with the sun in the south at a height whose sine is 0.8, in hour 12 of the year. */
static steading_weather *one_hour_weather(void) {
  steading_weather *weather = build_dark_weather();
  memset(weather->sun, 0, STEADING_HOURS_PER_YEAR * sizeof *weather->sun);
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++)
    weather->sun[i].extraterrestrial_w_per_m2 = 1361;
  weather->sun[12] = (steading_sun_step){
      .north = -0.6, .up = 0.8, .extraterrestrial_w_per_m2 = 1361, .lit_share = 1};
  weather->ghi_w_per_m2[12] = 700;
  weather->dni_w_per_m2[12] = 700;
  weather->dhi_w_per_m2[12] = 140;
  return weather;
}

static const double *yield_of(steading_weather *weather, const char *array_text) {
  steading_array *array = build(&steading_array_spec, NULL, "%s", array_text);
  steading_yield_key key = steading_yield_key_of(array);
  const double *yield = steading_yield_of(weather, &key);
  ck_assert_ptr_nonnull(yield);
  steading_record_release(array);
  return yield;
}

/* Beam 700 W/m2, diffuse 140, global 700 x 0.8 + 140 = 700; tilt 30 to the south.
 *   cos incidence  0.6 sin 30 + 0.8 cos 30             = 0.99282032
 *   beam           700 x 0.99282032                    = 694.97423
 *   sky, even      140 (1 + cos 30) / 2                = 130.62178
 *   ground         700 x 0.2 (1 - cos 30) / 2          =   9.37822
 *   on the plane                                       = 834.97423
 *   cell           20 + 25 / 800 x 834.97423           =  46.092945 C
 *   kW per kW      0.83497423 (1 - 0.004 x 21.092945)  =   0.76452597 */
START_TEST(an_hour_under_an_even_sky_equals_the_hand_value) {
  steading_weather *weather = one_hour_weather();
  const double *yield = yield_of(weather,
                                 "{ tilt_deg = 30, azimuth_deg = 180, incidence = false, "
                                 "sky_model = \"isotropic\", module = { watts = 400, "
                                 "temp_coefficient_per_c = -0.004, noct_c = 45 } }");
  ck_assert_double_eq_tol(yield[12], 0.76452597, 5e-9);
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) ck_assert(i == 12 || yield[i] == 0);
  steading_weather_release(weather);
}
END_TEST

/* The same hour after Hay and Davies 1980: A = 700 / 1361 of the diffuse light comes from the sun's
 * place, where the plane gets 0.99282032 / 0.8 of it:
 *   sky            140 ((1 - A) 0.9330127 + A x 1.2410254) = 152.80050
 *   on the plane   694.97423 + 152.80050 + 9.37822         = 857.15295
 *   cell           20 + 25 / 800 x 857.15295               =  46.786030 C
 *   kW per kW      0.85715295 (1 - 0.004 x 21.786030)      =   0.78245711
 * and with glass of a_r 0.16 (Martin and Ruiz 2001, eqs. 3, 5 and 6 by hand: beam 0.99991123, sky
 * 0.95497959, ground 0.79445402), which warms the cell all the same:
 *   694.97423 x 0.99991123 + 152.80050 x 0.95497959 + 9.37822 x 0.79445402 = 848.28446
 *   kW per kW      0.84828446 (1 - 0.004 x 21.786030)      =   0.77436146 */
START_TEST(an_hour_after_hay_and_davies_equals_the_hand_value_without_and_with_glass) {
  steading_weather *weather = one_hour_weather();
  const double *bare = yield_of(
      weather,
      "{ tilt_deg = 30, azimuth_deg = 180, incidence = false, "
      "sky_model = \"hay_davies\", module = { watts = 400, temp_coefficient_per_c = -0.004 } }");
  const double *glazed = yield_of(
      weather,
      "{ tilt_deg = 30, azimuth_deg = 180, "
      "sky_model = \"hay_davies\", module = { watts = 400, temp_coefficient_per_c = -0.004 } }");
  ck_assert_double_eq_tol(bare[12], 0.78245711, 5e-9);
  ck_assert_double_eq_tol(glazed[12], 0.77436146, 5e-9);
  steading_weather_release(weather);
}
END_TEST

/* The same hour by Perez et al. 1990, the default, by hand: z = acos 0.8 = 0.6435011, 1.041 z^3 =
 * 0.2773950, clearness (840 / 140 + 0.2773950) / 1.2773950 = 4.914216: bin 7; air mass (Kasten and
 * Young 1989) 1.249007, Delta = 1.249007 x 140 / 1361 = 0.1284798;
 *   F1             1.060 - 1.600 Delta - 0.359 z           = 0.6234155
 *   F2             0.264 - 1.127 Delta + 0.131 z           = 0.2035020
 *   sky            140 ((1 - F1) 0.9330127 + F1 x 1.2410254 + F2 sin 30) = 171.74970
 *   on the plane   694.97423 + 171.74970 + 9.37822         = 876.10215
 *   cell           20 + 25 / 800 x 876.10215               =  47.378192 C
 *   kW per kW      0.87610215 (1 - 0.004 x 22.378192)      =   0.79767982 */
START_TEST(an_hour_after_perez_equals_the_hand_value) {
  steading_weather *weather = one_hour_weather();
  const double *yield = yield_of(weather,
                                 "{ tilt_deg = 30, azimuth_deg = 180, incidence = false, "
                                 "module = { watts = 400, temp_coefficient_per_c = -0.004 } }");
  ck_assert_double_eq_tol(yield[12], 0.79767982, 5e-9);
  steading_weather_release(weather);
}
END_TEST

/* What reaches a level plane is the global irradiation itself, whatever the sky model. */
START_TEST(a_level_array_gets_the_global_irradiation) {
  const steading_climate climate = {
      .place = {.latitude_deg = 35, .longitude_deg = -106, .utc_offset_h = -7},
      .ghi_kwh_per_m2_day = {3, 4, 5, 6, 7, 8, 7, 7, 6, 5, 3, 3},
      .temp_range_c = {14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 14},
      .years = 1,
      .seed = 3};
  steading_weather *weather = NULL;
  const double *yield = NULL;
  ck_assert_int_eq(steading_weather_synthesize(&climate, &weather, NULL), STEADING_OK);
  yield = yield_of(weather,
                   "{ tilt_deg = 0, azimuth_deg = 77, incidence = false, module = { watts = 1, "
                   "temp_coefficient_per_c = 0 } }");
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++)
    ck_assert_double_eq_tol(yield[i], weather->ghi_w_per_m2[i] / 1000, 1e-12);
  steading_weather_release(weather);
}
END_TEST

/* The other hemisphere half a year later: every sun of the year seen in a mirror from north to
 * south, with the same light. An array turned by the same mirror yields the same year. */
START_TEST(a_mirrored_hemisphere_half_a_year_later_yields_the_same) {
  const steading_climate climate = {
      .place = {.latitude_deg = 35, .longitude_deg = -106, .utc_offset_h = -7},
      .ghi_kwh_per_m2_day = {3, 4, 5, 6, 7, 8, 7, 7, 6, 5, 3, 3},
      .temp_mean_c = {0, 2, 5, 9, 15, 21, 24, 23, 18, 11, 5, 1},
      .temp_range_c = {14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 14, 14},
      .years = 1,
      .seed = 5};
  const steading_place south_of = {.latitude_deg = -35, .longitude_deg = -106, .utc_offset_h = -7};
  steading_weather *north = NULL, *south = NULL;
  double sums[2] = {0, 0};
  const double *a = NULL, *b = NULL;
  ck_assert_int_eq(steading_weather_synthesize(&climate, &north, NULL), STEADING_OK);
  south = steading_weather_new(&south_of, 1, 60, "made");
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) {
    int from = (i + STEADING_HOURS_PER_YEAR / 2) % STEADING_HOURS_PER_YEAR;
    south->ghi_w_per_m2[i] = north->ghi_w_per_m2[from];
    south->dni_w_per_m2[i] = north->dni_w_per_m2[from];
    south->dhi_w_per_m2[i] = north->dhi_w_per_m2[from];
    south->temp_c[i] = north->temp_c[from];
    south->sun[i] = north->sun[from];
    south->sun[i].north = -north->sun[from].north;
  }
  a = yield_of(north,
               "{ tilt_deg = 30, azimuth_deg = 150, module = { watts = 1, "
               "temp_coefficient_per_c = -0.004 } }");
  b = yield_of(south,
               "{ tilt_deg = 30, azimuth_deg = 30, module = { watts = 1, "
               "temp_coefficient_per_c = -0.004 } }");
  for (int i = 0; i < STEADING_HOURS_PER_YEAR; i++) {
    sums[0] += a[i];
    sums[1] += b[i];
  }
  ck_assert_double_gt(sums[0], 1000); /* hours of full sun: a plausible year */
  ck_assert_double_eq_tol(sums[0], sums[1], 1e-6 * sums[0]);
  steading_weather_release(north);
  steading_weather_release(south);
}
END_TEST

/* -2 %/K at 1000 W/m2 and NOCT 80: the cell is 80 K above the air, the formula below zero. */
START_TEST(power_never_falls_below_zero) {
  steading_weather *weather = one_hour_weather();
  const double *yield = yield_of(weather,
                                 "{ tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
                                 "temp_coefficient_per_c = -0.02, noct_c = 80 } }");
  ck_assert_double_eq(yield[12], 0);
  steading_weather_release(weather);
}
END_TEST

START_TEST(equal_arrays_share_one_series_and_different_ones_do_not) {
  steading_weather *weather = one_hour_weather();
  const char *south =
      "{ tilt_deg = 30, azimuth_deg = 180, soiling = 0.1, module = { watts = 400, "
      "temp_coefficient_per_c = -0.004 } }";
  const char *dirty =
      "{ tilt_deg = 30, azimuth_deg = 180, soiling = 0.2, module = { watts = 300, "
      "temp_coefficient_per_c = -0.004 } }";
  const char *east =
      "{ tilt_deg = 30, azimuth_deg = 90, module = { watts = 400, "
      "temp_coefficient_per_c = -0.004 } }";
  const char *greyer =
      "{ tilt_deg = 30, azimuth_deg = 180, albedo = 0.3, module = { watts = 400, "
      "temp_coefficient_per_c = -0.004 } }";
  const double *first = yield_of(weather, south);
  ck_assert_ptr_eq(yield_of(weather, south), first);
  ck_assert_ptr_eq(yield_of(weather, dirty), first); /* constant losses are no part of it */
  ck_assert_ptr_ne(yield_of(weather, east), first);
  ck_assert_double_gt(yield_of(weather, greyer)[12], first[12]);
  ck_assert_ptr_eq(yield_of(weather, south), first);
  steading_weather_release(weather);
}
END_TEST

/* Shares that are left multiply: 0.9 x 0.98 x 0.97 x 0.96 x 0.95 x 0.99^10. */
START_TEST(losses_multiply_and_age_compounds) {
  steading_array *array = build(
      &steading_array_spec, NULL,
      "{ tilt_deg = 30, azimuth_deg = 180, settling_loss = 0.02, mismatch_loss = 0.03, "
      "dc_wiring_loss = 0.04, downtime_share = 0.05, "
      "soiling = { 0.1, 0, 0, 0, 0, 0, 0.5, 0, 0, 0, 0, 0 }, "
      "module = { watts = 400, temp_coefficient_per_c = -0.004, degradation_per_year = 0.01 } }");
  double others = 0.98 * 0.97 * 0.96 * 0.95;
  ck_assert_double_eq_tol(steading_array_left(array, 0, 0), 0.9 * others, 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 1, 0), others, 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 6, 0), 0.5 * others, 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 0, 10), 0.9 * others * 0.904382075, 1e-9);
  ck_assert_double_eq(steading_array_left(array, 0, -1), steading_array_left(array, 0, 0));
  steading_record_release(array);
}
END_TEST

/* Each loss alone takes its share. */
START_TEST(every_loss_counts) {
  static const char *const losses[] = {"settling_loss", "mismatch_loss", "dc_wiring_loss",
                                       "downtime_share", "soiling"};
  for (size_t i = 0; i < sizeof losses / sizeof *losses; i++) {
    char zeros[200] = "";
    steading_array *array = NULL;
    for (size_t k = 0; k < sizeof losses / sizeof *losses; k++) {
      strcat(zeros, losses[k]);
      strcat(zeros, k == i ? " = 0.25, " : " = 0, ");
    }
    array = build(&steading_array_spec, NULL,
                  "{ %s tilt_deg = 30, azimuth_deg = 180, module = { watts = 400, "
                  "temp_coefficient_per_c = -0.004 } }",
                  zeros);
    ck_assert_double_eq_tol(steading_array_left(array, 4, 0), 0.75, 1e-15);
    steading_record_release(array);
  }
}
END_TEST

/* Half a spell of 40 dry days at 0.2 % a day: 4 % (Kimber et al. 2006 give about that rate); snow
 * on top; 2 % in the first year and 0.5 % in later ones, evenly through each. */
START_TEST(dirt_by_rate_snow_and_a_first_year_multiply) {
  steading_array *array =
      build(&steading_array_spec, NULL,
            "{ tilt_deg = 30, azimuth_deg = 180, mismatch_loss = 0, dc_wiring_loss = 0, "
            "soiling_rate = { per_day = 0.002, rain_free_days = 40 }, "
            "snow = { 0.3, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.1 }, module = { watts = 400, "
            "temp_coefficient_per_c = -0.004, first_year_degradation = 0.02 } }");
  ck_assert_double_eq_tol(steading_array_left(array, 5, 0), 0.96, 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 0, 0), 0.96 * 0.7, 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 5, 0.5), 0.96 * sqrt(0.98), 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 5, 1), 0.96 * 0.98, 1e-15);
  ck_assert_double_eq_tol(steading_array_left(array, 5, 3), 0.96 * 0.98 * 0.995 * 0.995, 1e-15);
  steading_record_release(array);
}
END_TEST

/* The hour of 834.97423 W/m2 on the plane (even sky, no glass) with a wind of 3 m/s at 20 C:
 *   Faiman 2008   20 + 834.97423 / (25 + 6.84 x 3)                    = 38.343019 C
 *   King 2004     20 + 834.97423 [exp(-3.56 - 0.075 x 3) + 3 / 1000]  = 41.466238 C
 * from the weather's wind and from one given beside the model alike. */
START_TEST(the_wind_cools_the_cells) {
  static const char *const how =
      "{ tilt_deg = 30, azimuth_deg = 180, incidence = false, sky_model = \"isotropic\", "
      "cell_temperature = { %s }, module = { watts = 400, temp_coefficient_per_c = -0.004 } }";
  static const char *const models[2] = {"model = \"faiman\"",
                                        "model = \"king\", mounting = \"sheet_back_open_rack\""};
  double cells[2] = {20 + 834.97423 / (25 + 6.84 * 3),
                     20 + 834.97423 * (exp(-3.56 - 0.075 * 3) + 3.0 / 1000)};
  steading_weather *windy = one_hour_weather(), *calm = one_hour_weather();
  ck_assert_int_eq(steading_weather_add_wind(windy), STEADING_OK);
  windy->wind_m_per_s[12] = 3;
  for (int k = 0; k < 2; k++) {
    double expected = 0.83497423 * (1 - 0.004 * (cells[k] - 25));
    char text[512], given[512], beside[128];
    snprintf(text, sizeof text, how, models[k]);
    snprintf(beside, sizeof beside, "%s, wind_m_per_s = 3", models[k]);
    snprintf(given, sizeof given, how, beside);
    ck_assert_double_eq_tol(yield_of(windy, text)[12], expected, 1e-8);
    ck_assert_double_eq_tol(yield_of(calm, given)[12], expected, 1e-8);
  }
  steading_weather_release(windy);
  steading_weather_release(calm);
}
END_TEST

/* The words of a mounting stand twice: for scripts, and beside their numbers. */
START_TEST(the_words_of_mountings_are_those_of_their_rows) {
  for (int k = 0; k < STEADING_KING_MOUNTINGS; k++)
    ck_assert_str_eq(steading_choices_mounting[k], steading_king_rows[k].name);
  ck_assert_ptr_null(steading_choices_mounting[STEADING_KING_MOUNTINGS]);
}
END_TEST

/* Huld et al. 2011 with the coefficients of crystalline silicon (from memory): at G' = 0.83497423,
 * L = ln G' = -0.18035443, 1 - 0.017162 L - 0.040289 L^2 = 1.0017848. */
START_TEST(low_light_is_a_factor_of_huld) {
  steading_weather *weather = one_hour_weather();
  double l = log(0.83497423), factor = 1 - 0.017162 * l - 0.040289 * l * l;
  const double *yield =
      yield_of(weather,
               "{ tilt_deg = 30, azimuth_deg = 180, incidence = false, sky_model = \"isotropic\", "
               "low_light = {}, module = { watts = 400, temp_coefficient_per_c = 0 } }");
  ck_assert_double_eq_tol(factor, 1.0017848, 1e-6);
  ck_assert_double_eq_tol(yield[12], 0.83497423 * factor, 1e-8);
  steading_weather_release(weather);
}
END_TEST

/* The 200 W module of Villalva, Gazoli and Ruppert 2009 fitted to its sheet after De Soto et al.
 * 2006: 144.46 W at 800 W/m2 and 47 C of the cells (an independent fit and solution; the sheet says
 * 142 W). A level plane gets 800 W/m2 of even light; NOCT 47 and 20 C make the cells 47 C. */
START_TEST(a_one_diode_module_in_800_w_per_m2_gives_what_its_fit_does) {
  steading_weather *weather = one_hour_weather();
  const double *yield = NULL;
  weather->ghi_w_per_m2[12] = weather->dhi_w_per_m2[12] = 800;
  weather->dni_w_per_m2[12] = 0;
  yield = yield_of(weather,
                   "{ tilt_deg = 0, azimuth_deg = 180, incidence = false, module = { watts = "
                   "200.143, temp_coefficient_per_c = -0.0048, noct_c = 47, model = \"one_diode\", "
                   "isc_a = 8.21, voc_v = 32.9, imp_a = 7.61, vmp_v = 26.3, isc_a_per_c = 0.00318, "
                   "voc_v_per_c = -0.123, cells = 54 } }");
  ck_assert_double_eq_tol(yield[12] * 200.143, 144.46, 0.005);
  steading_weather_release(weather);
}
END_TEST

/* Through a run: 10 modules of 400 W bought at the start and 5 bought four years before it (1461
 * days of the calendar, 4 x 365.25), in the hour of 0.77436146 kW per kW:
 *   (4 + 2 x 0.99^4) x 0.9 x 0.77436146 in the first year, each a year older in the second. */
START_TEST(lots_of_different_age_add_up_and_grow_old) {
  steading_weather *weather = one_hour_weather();
  const steading_site *site =
      build_site(weather,
                 "{ weather = @0, meters = { m = {} }, hubs = { h = { meter = \"m\", "
                 "inverter = { unit = { ac_kw = 50, efficiency = { at_10 = 1, at_100 = 1 } } }, "
                 "arrays = { { tilt_deg = 30, azimuth_deg = 180, sky_model = \"hay_davies\", "
                 "soiling = 0.1, mismatch_loss = 0, "
                 "dc_wiring_loss = 0, module = { watts = 400, temp_coefficient_per_c = -0.004, "
                 "degradation_per_year = 0.01 }, lots = { { count = 10 }, "
                 "{ count = 5, in_service = \"2023-01\" } } } } } } }");
  steading_run *run = build_run(site, "{ start = \"2027-01\", years = 2, keep = \"steps\" }");
  double young = 4 * 0.9 * 0.77436146, old = 2 * 0.9 * 0.77436146 * pow(0.99, 4);
  size_t hours = STEADING_HOURS_PER_YEAR, width = run->layout.width;
  const steading_hub_flow *first = steading_hub_flow_of(&run->layout, run->steps + 12 * width, 0);
  const steading_hub_flow *next =
      steading_hub_flow_of(&run->layout, run->steps + (hours + 12) * width, 0);
  double sum = 0;
  for (size_t i = 0; i < run->step_count; i++)
    sum += steading_hub_flow_of(&run->layout, run->steps + i * width, 0)->pv_available;
  ck_assert_double_eq_tol(first->pv_available, young + old, 1e-7);
  ck_assert_double_eq_tol(next->pv_available, 0.99 * (young + old), 1e-7);
  ck_assert_double_eq_tol(sum, 1.99 * (young + old), 2e-7);
  steading_run_release(run);
  steading_record_release(site);
  steading_weather_release(weather);
}
END_TEST

Suite *array_suite(void) {
  Suite *suite = suite_create("array");
  TCase *tests = tcase_create("array");
  tcase_add_test(tests, an_hour_under_an_even_sky_equals_the_hand_value);
  tcase_add_test(tests, an_hour_after_hay_and_davies_equals_the_hand_value_without_and_with_glass);
  tcase_add_test(tests, an_hour_after_perez_equals_the_hand_value);
  tcase_add_test(tests, a_level_array_gets_the_global_irradiation);
  tcase_add_test(tests, a_mirrored_hemisphere_half_a_year_later_yields_the_same);
  tcase_add_test(tests, power_never_falls_below_zero);
  tcase_add_test(tests, equal_arrays_share_one_series_and_different_ones_do_not);
  tcase_add_test(tests, losses_multiply_and_age_compounds);
  tcase_add_test(tests, every_loss_counts);
  tcase_add_test(tests, dirt_by_rate_snow_and_a_first_year_multiply);
  tcase_add_test(tests, the_wind_cools_the_cells);
  tcase_add_test(tests, the_words_of_mountings_are_those_of_their_rows);
  tcase_add_test(tests, low_light_is_a_factor_of_huld);
  tcase_add_test(tests, a_one_diode_module_in_800_w_per_m2_gives_what_its_fit_does);
  tcase_add_test(tests, lots_of_different_age_add_up_and_grow_old);
  suite_add_tcase(suite, tests);
  return suite;
}
