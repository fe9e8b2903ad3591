/* One step of dispatch, written a second time from the manual: plain `if`s, no care for speed, the
 * inverter's curve turned round by Newton's steps. Tests compare the kernel with it. */
#ifndef STEADING_TESTS_REFERENCE_STEP_H
#define STEADING_TESTS_REFERENCE_STEP_H

#include "dispatch/kernel.h"

typedef struct reference_row {
  steading_hub_flow hubs[STEADING_MOST_HUBS];
  steading_meter_flow meters[STEADING_MOST_METERS];
  steading_well_flow wells[STEADING_MOST_WELLS];
  steading_tank_flow tanks[STEADING_MOST_TANKS];
  steading_generator_flow generators[STEADING_MOST_HUBS];
} reference_row;

/* Of a hub: shares of its charging power, and what the heater of its battery's room wants. */
typedef struct reference_cold {
  double heated_share, cold_share, heater_kw;
} reference_cold;

/* Of a hub: what AC-coupled arrays' own inverters could give, and the DC power behind it. */
typedef struct reference_ac_sun {
  double ac_kw, dc_kw;
} reference_ac_sun;

/* What a step does to `state`; pv_kw, hub_load_kw and ac_share (NULL: 1) by hub, meter_load_kw by
 * meter; shed_kw, by hub and class, what of hub_load_kw can be shed (NULL: none); cold by hub
 * (NULL: none), ac_sun likewise. The flows grid_free, loss_of_load and charge_blocked are left 0.
 */
void reference_step(const steading_stretch *stretch, steading_state *state, const double *pv_kw,
                    const double *hub_load_kw, const double *meter_load_kw, const double *ac_share,
                    const double *shed_kw, const reference_cold *cold,
                    const reference_ac_sun *ac_sun, reference_row *row);

#endif
