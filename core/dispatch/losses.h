/* Where the sun's energy goes: from the light on the arrays' planes to the AC energy that the
 * inverter gives, line by line, for each hub and year.
 *
 * The capture lines are those of the arrays: what each step of their chain (plant/array.h) leaves,
 * less what the one before leaves. The constant losses multiply what the chain gives, so that dirt
 * and snow can stand where they belong, before the cells. What remains is the sun's availability of
 * the results. The system lines follow from the nodes of the kernel (kernel.h), summed over steps:
 *
 *   pv_used = pv_available - pv_curtailed                        input_limits, not_taken
 *   pv_used = DC of arrays on DC + ac_sun + ac_sun_loss          inverter_loss (the last)
 *   DC of arrays on DC + battery_out + rectified = battery_in + inverted_in
 *   rectified = charger_in + charging - charger_loss             from_grid, from_generator,
 *               + sun_charging - its loss                        charger_loss; inverter_loss
 *   battery_in - battery_out = battery_loss + standby + change   battery_loss, _standby, stored
 *   inverted_in = inverted + (inverter_loss - idle_from_ac - (charger_in - rectified))
 *                                                                inverter_loss
 *
 * hence pv_available with these lines is `inverted` + ac_sun - sun_charging, less what the idle
 * draw takes of ac_sun, which is part of inverter_loss; and `battery_heater` is what the heater
 * drew of AC, whoever gave it. `from_grid` and `from_generator` are gains. Change is that of steps:
 * what lots brought and took is no part of it, so that `stored` = brought - taken - change of what
 * is stored.
 *
 * A run holds all but the capture lines and the inputs' limits in its months, so that the steps
 * need not be simulated again: the arrays are worked out once more, loads and batteries are not. */
#ifndef STEADING_DISPATCH_LOSSES_H
#define STEADING_DISPATCH_LOSSES_H

#include <stddef.h>

#include "dispatch/performance.h"
#include "dispatch/run.h"
#include "status.h"

/* X(enumerator, name, doc) in the order of the chain. Losses are negative, gains positive. */
#define STEADING_CAPTURE_LINE_LIST(X)                                                      \
  X(NOMINAL, "nominal", "light on the plane in the open / 1000 W/m2, times kW of modules") \
  X(HORIZON, "horizon", "what stands around the array hides sun and sky")                  \
  X(ROWS, "rows", "rows shade each other")                                                 \
  X(REFLECTION, "reflection", "reflected by the glass")                                    \
  X(SOILING, "soiling", "dirt")                                                            \
  X(SNOW, "snow", "snow")                                                                  \
  X(LOW_LIGHT, "low_light", "lower efficiency in low light, at 25 C")                      \
  X(TEMPERATURE, "temperature", "cells above or below 25 C")                               \
  X(SETTLING, "settling", "first weeks in the sun")                                        \
  X(AGEING, "ageing", "age of the modules")                                                \
  X(MISMATCH, "mismatch", "unequal modules in a string")                                   \
  X(WIRING, "wiring", "wires up to the inverter")                                          \
  X(DOWNTIME, "downtime", "out of service")                                                \
  X(UNEQUAL_STRINGS, "unequal_strings", "strings at the common voltage of an input")
#define STEADING_SYSTEM_LINE_LIST(X)                                                       \
  X(INPUT_LIMITS, "input_limits", "window and limits of the inputs")                       \
  X(NOT_TAKEN, "not_taken", "sun that nobody could take")                                  \
  X(FROM_GRID, "from_grid", "AC energy that the charger took from the bus")                \
  X(FROM_GENERATOR, "from_generator", "AC energy that the generator's charger took")       \
  X(CHARGER_LOSS, "charger_loss", "turning these two into DC")                             \
  X(BATTERY_LOSS, "battery_loss", "charging and discharging")                              \
  X(BATTERY_STANDBY, "battery_standby", "the battery's own electronics")                   \
  X(STORED, "stored", "brought by lots - taken by lots - change of what is stored")        \
  X(INVERTER_LOSS, "inverter_loss",                                                        \
    "idle draw from DC and AC-coupled sun, and conversion, also by arrays' own inverters") \
  X(BATTERY_HEATER, "battery_heater", "heater of the battery's room, AC")                  \
  X(DELIVERED, "delivered",                                                                \
    "the sum of all lines before it: AC energy that inverters gave, less the heater's")

typedef enum steading_loss_line {
#define STEADING_LOSS_LINE(id, name, doc) STEADING_LINE_##id,
  STEADING_CAPTURE_LINE_LIST(STEADING_LOSS_LINE) STEADING_SYSTEM_LINE_LIST(STEADING_LOSS_LINE)
#undef STEADING_LOSS_LINE
      STEADING_LOSS_LINES,
  STEADING_FIRST_SYSTEM_LINE = STEADING_LINE_INPUT_LIMITS
} steading_loss_line;

extern const char *const steading_loss_line_names[STEADING_LOSS_LINES];

/* A hub in a year of the run. */
typedef struct steading_losses_row {
  int year; /* the calendar year in which it begins */
  size_t hub;
  double kwh[STEADING_LOSS_LINES]; /* `delivered` is added up from the others, in order */
  double inverted_kwh;             /* what the kernel's flows say of `delivered` */
  steading_performance_sums sums;
} steading_losses_row;

typedef struct steading_losses {
  size_t count;
  steading_losses_row *rows; /* by year, then by hub; of hubs with arrays alone */
} steading_losses;

/* Work out the losses of a run. NO_MEMORY, or what a run can fail with; nothing is held then. Free
 * with steading_losses_free. */
steading_status steading_run_losses(const steading_run *run, steading_losses *losses,
                                    steading_error *error);
void steading_losses_free(steading_losses *losses);

#endif
