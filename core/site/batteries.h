/* The batteries of a hub: none, one kind of module, or several kinds in the order of their work. */
#ifndef STEADING_SITE_BATTERIES_H
#define STEADING_SITE_BATTERIES_H

#include <stddef.h>

#include "site/fields.h"

/* How many kinds; a battery with lots of which none is there counts. */
static inline size_t steading_batteries_of(const steading_hub *hub) {
  return hub->battery == NULL ? 0 : hub->battery->count;
}

static inline const steading_battery *steading_battery_at(const steading_hub *hub, size_t i) {
  return (const void *)hub->battery->items[i];
}

/* The path of one below its hub, as the script wrote it: "battery" or "battery[2]". */
typedef struct steading_battery_path {
  char text[32];
} steading_battery_path;
steading_battery_path steading_battery_path_of(const steading_hub *hub, size_t i);

/* How many all hubs of a site have. */
size_t steading_site_batteries(const struct steading_site *site);

/* Lowest and highest charge that any of them lets be used; of a hub with a battery. */
void steading_batteries_usable(const steading_hub *hub, double usable[2]);

/* Pieces of all of them in all lots, whenever they come. */
double steading_batteries_bought(const steading_hub *hub);

#endif
