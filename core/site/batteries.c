#include "site/batteries.h"

#include <math.h>
#include <stdio.h>

#include "site/site.h"

steading_battery_path steading_battery_path_of(const steading_hub *hub, size_t i) {
  steading_battery_path path = {"battery"};
  if (!steading_list_is_one(hub->battery))
    snprintf(path.text, sizeof path.text, "battery[%zu]", i + 1);
  return path;
}

size_t steading_site_batteries(const steading_site *site) {
  size_t count = 0;
  for (size_t i = 0; site->hubs != NULL && i < site->hubs->count; i++)
    count += steading_batteries_of((const void *)site->hubs->entries[i].item);
  return count;
}

void steading_batteries_usable(const steading_hub *hub, double usable[2]) {
  usable[0] = 1;
  usable[1] = 0;
  for (size_t i = 0; i < steading_batteries_of(hub); i++) {
    const double *of_one = steading_battery_at(hub, i)->module->usable;
    usable[0] = fmin(usable[0], of_one[0]);
    usable[1] = fmax(usable[1], of_one[1]);
  }
}

double steading_batteries_bought(const steading_hub *hub) {
  double count = 0;
  for (size_t i = 0; i < steading_batteries_of(hub); i++)
    count += steading_lots_count(steading_battery_at(hub, i)->lots);
  return count;
}
