/* Single steps of one hub without losses, for rules that are worked out by hand. */
#ifndef STEADING_TESTS_ONE_HUB_H
#define STEADING_TESTS_ONE_HUB_H

#include <check.h>
#include <string.h>

#include "dispatch/kernel.h"

#define IS(found, expected) ck_assert_double_eq_tol(found, expected, 1e-12)

/* The row of the step that one_hub_step ran last. */
static double one_hub_row[128];

/* A hub off the grid with 10 kWh that takes charge_kw, and an inverter without losses. */
static inline steading_stretch one_hub_off_grid(double charge_kw) {
  steading_stretch p = {.step_h = 1, .hub_count = 1};
  p.hubs[0] =
      (steading_hub_stretch){.ac_kw = 1000,
                             .pv_kw = 1000,
                             .highest_kwh = 10,
                             .charge_kw = charge_kw,
                             .discharge_kw = 10,
                             .efficiency_in = 1,
                             .efficiency_out = 1,
                             .exports = 1,
                             .meter = -1,
                             .order = {STEADING_TO_WATER, STEADING_TO_BATTERY, STEADING_TO_BUS}};
  return p;
}

static inline const steading_hub_flow *one_hub_step(const steading_stretch *p, steading_state *s,
                                                    const steading_step_rows *rows) {
  const steading_layout at = steading_layout_with(steading_layout_of(1, p->meter_count, 0, 0),
                                                  p->generator_count, 0, p->pool_count);
  ck_assert_uint_le(at.width, sizeof one_hub_row / sizeof one_hub_row[0]);
  memset(one_hub_row, 0xff, sizeof one_hub_row);
  steading_kernel_run(p, s, 1, rows, one_hub_row);
  return steading_hub_flow_of(&at, one_hub_row, 0);
}

#endif
