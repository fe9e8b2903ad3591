#include "demand/reliability.h"

#include <math.h>

steading_reliability steading_reliability_of(const steading_interruption *interruptions,
                                             size_t count, double longer_than_min, double customers,
                                             double hours) {
  double hit = 0, customer_minutes = 0;
  for (size_t i = 0; i < count; i++) {
    if (!(interruptions[i].minutes > longer_than_min)) continue;
    hit += interruptions[i].customers;
    customer_minutes += interruptions[i].minutes * interruptions[i].customers;
  }
  return (steading_reliability){
      .saifi = hit / customers,
      .saidi_h = customer_minutes / customers / 60,
      .caidi_h = hit > 0 ? customer_minutes / hit / 60 : (double)NAN,
      .asai = (hours * customers - customer_minutes / 60) / (hours * customers)};
}
