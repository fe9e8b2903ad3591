/* Records for tests, from a short text (table_text.h): the same table that a script would hand
 * over.
 *
 *   steading_unit *unit = build(&steading_unit_spec, NULL,
 *                               "{ ac_kw = 5, efficiency = { at_10 = %g, at_100 = 0.9 } }", 0.8);
 *
 * The text is a printf format (write numbers with %.17g when bits matter). "@0" stands for the
 * first of `things`, "@1" for the second: a weather, a function that decides or a list of many
 * numbers. */
#ifndef STEADING_TESTS_BUILD_H
#define STEADING_TESTS_BUILD_H

#include <stddef.h>

#include "dispatch/run.h"
#include "resource/weather.h"
#include "site/site.h"
#include "table_text.h"

/* A checked record with one owner; a text that the spec refuses fails the test with its message. */
void *build(const steading_spec *spec, const build_thing *things, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* The same for a text that may be refused: NULL then, with the reason in `error`. */
void *build_or_error(const steading_spec *spec, const build_thing *things, steading_error *error,
                     const char *format, ...) __attribute__((format(printf, 4, 5)));

/* A site whose names are checked too; "@0" is the weather. */
const steading_site *build_site(steading_weather *weather, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Simulate; the options are such a text ("{ years = 2 }"). Fails the test when the run fails. */
steading_run *build_run(const steading_site *site, const char *options);

/* Weather at 35 N at 20 C: without sun, one year; and of grey light around the clock, 500 W/m2, all
 * of it diffuse, so that a level array without losses gives half its rated power in every hour. */
steading_weather *build_dark_weather(void);
steading_weather *build_grey_weather(size_t years);

/* Weather from twelve means: a high plain at 35 N, 7 h behind UT, invented but for its sun; and a
 * year with a summer and a winter at any latitude, for random sites. */
steading_weather *build_sunny_weather(int years);
steading_weather *build_weather_at(double latitude_deg, uint64_t seed);

/* The flows of a whole site: hubs, meters, wells and tanks added up, in the units of the kernel's
 * rows. */
#define BUILD_FLOW_LIST(X)                                                                         \
  X(pv_available)                                                                                  \
  X(pv_used)                                                                                       \
  X(pv_curtailed)                                                                                  \
  X(battery_in)                                                                                    \
  X(battery_out)                                                                                   \
  X(battery_loss)                                                                                  \
  X(standby) X(stored_change) X(inverted_in) X(inverted) X(idle_from_dc) X(idle_from_ac)           \
      X(inverter_loss) X(from_bus) X(to_bus) X(hub_load) X(hub_served) X(hub_unserved)             \
          X(meter_load) X(meter_served) X(meter_unserved) X(import) X(export) X(pump) X(pump_duty) \
              X(pumped_l) X(delivered_l) X(short_l) X(grid_free) X(loss_of_load) X(hub_grid_free)  \
                  X(hub_loss_of_load) X(stored_kwh) X(tank_level_l) X(charger_in) X(shed)

typedef struct build_flow {
#define BUILD_FLOW_MEMBER(name) double name;
  BUILD_FLOW_LIST(BUILD_FLOW_MEMBER)
#undef BUILD_FLOW_MEMBER
} build_flow;

enum { BUILD_FLOW_COUNT = sizeof(build_flow) / sizeof(double) };

build_flow build_flow_of(const steading_layout *layout, const double *row);

/* A step that a run kept, from 0. */
build_flow build_step(const steading_run *run, size_t step);

/* Months of a run together; `sum` adds up the flows of their steps. */
typedef struct build_month {
  int year, month;
  size_t steps;
  build_flow sum;
  double peak_import_kw, peak_load_kw, hub_peak_load_kw;
  double lowest_charge, lowest_tank; /* shares; INFINITY where there is none */
  double delivered_kwh, removed_kwh, fade_kwh, closure_error_kwh;
} build_month;
build_month build_months(const steading_run *run, size_t first, size_t count);
build_month build_total(const steading_run *run);

#endif
