/* The batteries of a program: what is there of each on a day, what lots bring and take, what is
 * stored.
 *
 * A site whose batteries are plain, one kind to a hub, has one store to a hub, which the kernel
 * works as such. Where any hub has a second kind, or any module is more than constant efficiencies,
 * all batteries of the site are pools (pools.h); what a hub has stored is then the sum. */
#ifndef STEADING_DISPATCH_BATTERIES_H
#define STEADING_DISPATCH_BATTERIES_H

#include <stdint.h>

#include "dispatch/kernel.h"
#include "dispatch/program.h"
#include "dispatch/run.h"

/* Whether the batteries of a site are pools. */
bool steading_site_has_pools(const steading_site *site);

/* Fill in the batteries of a program, whose hubs are there. BAD_INPUT with the path of what cannot
 * be run. */
steading_status steading_batteries_compile(steading_program *program, steading_error *error);

/* Capacity of one on a day, kWh: nominal, and what its age leaves of it. */
double steading_battery_nominal_kwh(const steading_program *program, size_t battery, int64_t day);
double steading_battery_capacity_kwh(const steading_program *program, size_t battery, int64_t day);

/* Energy that the lots of one which arrive on a day bring, and the share of what is stored that
 * those which leave take. */
double steading_battery_delivered_kwh(const steading_program *program, size_t battery, int64_t day);
double steading_battery_removed_share(const steading_program *program, size_t battery, int64_t day);

/* What one does in a step: a row of flows of the program's layout. */
steading_pool_flow steading_battery_flow_of(const steading_program *program, const double *row,
                                            size_t battery);

/* Battery `battery` (of all of the site's, hub by hub) in month `month` of a run. */
steading_battery_month steading_battery_month_of(const steading_run *run, size_t battery,
                                                 size_t month);

/* The pools of a stretch, on a day; and what of the hub is their sum. */
void steading_batteries_set(const steading_program *program, size_t hub, int64_t day,
                            steading_stretch *stretch);

/* What a hub has stored at a share of charge, each battery within what it lets be used;
 * capacity_kwh is that of all. */
double steading_batteries_kwh_at(const steading_stretch *stretch, size_t hub, double capacity_kwh,
                                 double share);

/* Put a floor in force, a share of charge; once at it the battery serves again from resume_share
 * on, or, NAN, without delay. */
void steading_batteries_set_floor(steading_stretch *stretch, size_t hub, double capacity_kwh,
                                  double share, double resume_share);

/* Charge at the start of a run: half way between floor and full, or a share of the capacity. */
void steading_batteries_begin(const steading_program *program, size_t hub,
                              const steading_stretch *stretch, const double *share,
                              steading_state *state);

#endif
