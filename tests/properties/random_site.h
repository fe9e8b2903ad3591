/* Random sites for property tests: several hubs, meters, wells and tanks, all rules, lots that come
 * and go, planned outages and finer steps; and, where everything is asked for, generators and their
 * fuels, batteries of several kinds and cells, that age or stand in the cold, heaters, arrays that
 * turn, in strings, behind a skyline and with losses of their own, functions that decide, outages
 * by rota and at random, other curves and loads as well.
 *
 * A site is kept as the text of its parts, so that a test may add one. */
#ifndef STEADING_TESTS_RANDOM_SITE_H
#define STEADING_TESTS_RANDOM_SITE_H

#include <stdbool.h>

#include "build.h"
#include "dice.h"

enum { RANDOM_SITE_ROOM = 9000 };

/* The maps of a site's text; tests add a part to one of them. */
typedef struct random_site {
  bool everything;
  steading_weather *weather;
  char hubs[RANDOM_SITE_ROOM], meters[RANDOM_SITE_ROOM], buildings[RANDOM_SITE_ROOM],
      wells[RANDOM_SITE_ROOM], tanks[RANDOM_SITE_ROOM], users[RANDOM_SITE_ROOM],
      fuels[RANDOM_SITE_ROOM];
  char options[200];
  int hub_count, meter_count, well_count, fuel_count;
  int modules;          /* of batteries, from the start */
  int aged, heated;     /* hubs whose battery ages, whose battery's room is heated */
  int special, several; /* batteries of cells that are more than a store, hubs with several kinds */
  int decided;          /* hubs whose rules a function decides on */
  int tracked, wired, skylines; /* arrays that turn, on inputs, behind a skyline */
} random_site;

/* The weathers that the sites share: to be made before the first, dropped after the last. */
void random_site_weathers(void);
void random_site_drop_weathers(void);
steading_weather *random_site_weather(dice *d);

/* A site; freed by the caller. */
random_site *random_site_roll(dice *d, bool everything);

/* One with everything, but of one hub and one meter. */
random_site *random_site_roll_one_hub(dice *d);

/* One with everything and two to four hubs, most of which share the bus of one or two meters. */
random_site *random_site_roll_hubs(dice *d);

/* It, and its run. */
const steading_site *random_site_of(const random_site *p);
steading_run *random_site_run(const random_site *p);

/* Add to the text of a map. */
void random_site_add(char *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Where a building or a well stands, on a hub or a meter: "hub = ...". */
void random_site_place(dice *d, const random_site *p, char *text);

static inline bool often(dice *d, double share) { return roll(d) < share; }
static inline int below(dice *d, int count) { return (int)(count * roll(d)); }

#endif
