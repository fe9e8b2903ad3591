#include "build.h"

#include <check.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "dispatch/result.h"

/* Failures go through `if` and ck_abort_msg: every assertion of Check that holds writes to a file,
 * which is slow where thousands of records are built. */
static void *from_text(const steading_spec *spec, const build_thing *things, steading_error *error,
                       const char *format, va_list list) {
  char *text = NULL;
  void *record = NULL;
  steading_arena arena = {NULL};
  steading_status status = STEADING_OK;
  steading_value value;
  const char *mistake = NULL;
  if (vasprintf(&text, format, list) < 0) ck_abort_msg("not enough memory");
  mistake = table_text_read(text, things, &arena, &value);
  if (mistake != NULL) ck_abort_msg("%s in: %s", mistake, text);
  if (spec == &steading_site_spec) {
    const steading_site *site = NULL;
    status = steading_site_read(&value, &site, error);
    record = (void *)(size_t)site;
  } else {
    status = steading_spec_read(spec, &value, "", &record, error);
  }
  steading_arena_drop(&arena);
  free(text);
  return status == STEADING_OK ? record : NULL;
}

void *build_or_error(const steading_spec *spec, const build_thing *things, steading_error *error,
                     const char *format, ...) {
  va_list list;
  void *record = NULL;
  va_start(list, format);
  record = from_text(spec, things, error, format, list);
  va_end(list);
  return record;
}

void *build(const steading_spec *spec, const build_thing *things, const char *format, ...) {
  steading_error error = {.status = STEADING_OK};
  va_list list;
  void *record = NULL;
  va_start(list, format);
  record = from_text(spec, things, &error, format, list);
  va_end(list);
  if (record == NULL) ck_abort_msg("%s: %s", error.path, error.text);
  return record;
}

const steading_site *build_site(steading_weather *weather, const char *format, ...) {
  const build_thing things[] = {{.weather = weather}};
  steading_error error = {.status = STEADING_OK};
  va_list list;
  void *record = NULL;
  va_start(list, format);
  record = from_text(&steading_site_spec, things, &error, format, list);
  va_end(list);
  if (record == NULL) ck_abort_msg("%s: %s", error.path, error.text);
  return record;
}

steading_run *build_run(const steading_site *site, const char *options) {
  steading_simulate *simulate = build(&steading_simulate_spec, NULL, "%s", options);
  steading_error error = {.status = STEADING_OK};
  steading_run *run = NULL;
  steading_run_simulate(site, simulate, NULL, NULL, &run, &error);
  if (run == NULL) ck_abort_msg("%s: %s", error.path, error.text);
  steading_record_release(simulate);
  return run;
}

static steading_weather *even_weather(size_t years, double light_w_per_m2) {
  const steading_place place = {.latitude_deg = 35, .longitude_deg = -105, .utc_offset_h = -7};
  steading_weather *weather = steading_weather_new(&place, years, 60, "made");
  ck_assert_ptr_nonnull(weather);
  for (size_t i = 0; i < weather->steps; i++) {
    weather->ghi_w_per_m2[i] = weather->dhi_w_per_m2[i] = light_w_per_m2;
    weather->temp_c[i] = 20;
  }
  return weather;
}

steading_weather *build_dark_weather(void) { return even_weather(1, 0); }

steading_weather *build_grey_weather(size_t years) { return even_weather(years, 500); }

static steading_weather *synthesized(const steading_climate *climate) {
  steading_weather *weather = NULL;
  ck_assert_int_eq(steading_weather_synthesize(climate, &weather, NULL), STEADING_OK);
  return weather;
}

steading_weather *build_sunny_weather(int years) {
  const steading_climate climate = {
      .place = {.latitude_deg = 35, .longitude_deg = -106.6, .utc_offset_h = -7},
      .ghi_kwh_per_m2_day = {3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9},
      .temp_mean_c = {1, 4, 8, 13, 18, 23, 26, 24, 20, 14, 7, 2},
      .temp_range_c = {14, 14, 15, 16, 16, 16, 15, 14, 15, 16, 15, 14},
      .years = years,
      .seed = 4};
  return synthesized(&climate);
}

steading_weather *build_weather_at(double latitude_deg, uint64_t seed) {
  steading_climate climate = {.place = {.latitude_deg = latitude_deg}, .years = 1, .seed = seed};
  for (int m = 0; m < 12; m++) {
    double summer = cos(2 * M_PI * (m - (latitude_deg > 0 ? 5.5 : 11.5)) / 12);
    climate.ghi_kwh_per_m2_day[m] = 3.8 + 2 * summer;
    climate.temp_mean_c[m] = 12 + 9 * summer;
    climate.temp_range_c[m] = 12;
  }
  return synthesized(&climate);
}

build_flow build_flow_of(const steading_layout *at, const double *row) {
  const steading_site_flow *site = steading_site_flow_of(row);
  build_flow f = {.grid_free = site->grid_free, .loss_of_load = site->loss_of_load};
  for (size_t i = 0; i < at->hubs; i++) {
    const steading_hub_flow *hub = steading_hub_flow_of(at, row, i);
#define ADD(name) f.name += hub->name;
    ADD(pv_available)
    ADD(pv_used)
    ADD(pv_curtailed)
    ADD(battery_in)
    ADD(battery_out) ADD(battery_loss) ADD(standby) ADD(stored_change) ADD(inverted_in)
        ADD(inverted) ADD(idle_from_dc) ADD(idle_from_ac) ADD(inverter_loss) ADD(from_bus)
            ADD(to_bus) ADD(stored_kwh) ADD(charger_in) ADD(shed)
#undef ADD
                f.hub_load += hub->load;
    f.hub_served += hub->served;
    f.hub_unserved += hub->unserved;
    f.hub_grid_free += hub->grid_free;
    f.hub_loss_of_load += hub->loss_of_load;
  }
  for (size_t m = 0; m < at->meters; m++) {
    const steading_meter_flow *meter = steading_meter_flow_of(at, row, m);
    f.meter_load += meter->load;
    f.meter_served += meter->served;
    f.meter_unserved += meter->unserved;
    f.import += meter->import;
    f.export += meter->export;
  }
  for (size_t w = 0; w < at->wells; w++) {
    const steading_well_flow *well = steading_well_flow_of(at, row, w);
    f.pump += well->pump;
    f.pump_duty += well->duty_h;
    f.pumped_l += well->pumped_l;
  }
  for (size_t t = 0; t < at->tanks; t++) {
    const steading_tank_flow *tank = steading_tank_flow_of(at, row, t);
    f.delivered_l += tank->delivered_l;
    f.short_l += tank->short_l;
    f.tank_level_l += tank->level_l;
  }
  return f;
}

build_flow build_step(const steading_run *run, size_t step) {
  if (step >= run->step_count) ck_abort_msg("step %zu was not kept", step);
  return build_flow_of(&run->layout, run->steps + step * run->layout.width);
}

build_month build_months(const steading_run *run, size_t first, size_t count) {
  build_month total;
  steading_span *span = malloc(sizeof *span);
  if (span == NULL) ck_abort_msg("not enough memory");
  steading_span_of(run, first, count, span);
  memset(&total, 0, sizeof total); /* to be compared byte for byte */
  total.year = span->site.year;
  total.month = span->site.month;
  total.steps = span->site.steps;
  total.sum = build_flow_of(&run->layout, span->sum);
  total.peak_import_kw = span->site.peak_import_kw;
  total.peak_load_kw = span->site.peak_load_kw;
  total.closure_error_kwh = span->site.closure_error_kwh;
  total.lowest_charge = total.lowest_tank = (double)INFINITY;
  for (size_t i = 0; i < run->layout.hubs; i++) {
    total.hub_peak_load_kw += span->hubs[i].peak_load_kw;
    total.lowest_charge = fmin(total.lowest_charge, span->hubs[i].lowest_charge);
    total.delivered_kwh += span->hubs[i].delivered_kwh;
    total.removed_kwh += span->hubs[i].removed_kwh;
    total.fade_kwh += span->hubs[i].fade_kwh;
  }
  for (size_t t = 0; t < run->layout.tanks; t++)
    total.lowest_tank = fmin(total.lowest_tank, span->tank_lowest[t]);
  free(span);
  return total;
}

build_month build_total(const steading_run *run) { return build_months(run, 0, run->month_count); }
