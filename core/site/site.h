/* The checked site: a tree of records whose names all lead somewhere.
 *
 * A site is immutable. A change makes a new site that shares all parts beside the path. */
#ifndef STEADING_SITE_SITE_H
#define STEADING_SITE_SITE_H

#include "site/fields.h"
#include "site/limits.h"
#include "site/value.h"
#include "site/warning.h"
#include "status.h"

/* Read and check a site from what a script handed over. The caller owns *site and gives it back
 * with steading_record_release. */
steading_status steading_site_read(const steading_value *value, const steading_site **site,
                                   steading_error *error);

/* A changed copy: the fields at `count` paths are read anew from `values`, see
 * steading_spec_change, and the names are checked afterwards. Changing nothing is an error. */
steading_status steading_site_with(const steading_site *site, size_t count,
                                   const char *const *paths, const steading_value *values,
                                   const steading_site **changed, steading_error *error);

/* The site without the parts at `count` paths ("hubs.barn.battery.lots[2]"), see
 * steading_spec_without; an index means the place in `site`. Of a component whose last lot is left
 * out not a single piece is there. Leaving out nothing is an error. */
steading_status steading_site_without(const steading_site *site, size_t count,
                                      const char *const *paths, const steading_site **changed,
                                      steading_error *error);

/* The site without its hubs, works and fuels: their buildings and pumps straight on the hub's meter. What
 * a plan is usually judged against. A hub without a meter is an error. */
steading_status steading_site_grid_only(const steading_site *site, const steading_site **changed,
                                        steading_error *error);

/* What can be said of the site alone, before the first step. Write at most STEADING_MOST_WARNINGS
 * (the last one says how many more there are); returns how many were written. */
size_t steading_site_warnings(const steading_site *site, steading_warning *warnings);

/* What can be said of steps of `step_minutes` on this weather and these loads. Write at most
 * `room`; returns how many were written. */
size_t steading_step_warnings(const steading_site *site, double step_minutes,
                              steading_warning *warnings, size_t room);

/* The start of a run that gives none: the first day of the month of the earliest lot or works with
 * a date; false when there is none. */
bool steading_site_earliest(const steading_site *site, int64_t *day_number);

/* A thing that is bought by lots: an inverter, an array, a battery, a generator, a well's pump, a tank. */
typedef struct steading_component {
  const char *kind;          /* "inverter", "array", "battery", "generator", "well", "tank" */
  const char *path;          /* "hubs.barn.arrays[2]" */
  const steading_list *lots; /* NULL: one piece is there from the start */
} steading_component;

/* Every component of the site in turn, hub by hub in the order of names, then wells and tanks.
 * Stops at the first visit that does not return OK, with its status. */
typedef steading_status (*steading_component_visit)(void *context,
                                                    const steading_component *component,
                                                    steading_error *error);
steading_status steading_site_each_component(const steading_site *site,
                                             steading_component_visit visit, void *context,
                                             steading_error *error);

/* Every lot of the site in turn, with its path. Components without lots are passed over. */
typedef steading_status (*steading_lot_visit)(void *context, const steading_lot *lot,
                                              const char *path, steading_error *error);
steading_status steading_site_each_lot(const steading_site *site, steading_lot_visit visit,
                                       void *context, steading_error *error);

/* The ageing of the battery that a lot belongs to; NULL: of none that ages. */
const steading_ageing *steading_site_ageing_of(const steading_site *site, const steading_lot *lot);

/* Pieces in the lots of a component: their sum, or 1 when it has no lots. */
double steading_lots_count(const steading_list *lots);

#endif
