/* Indices of how reliable a supply is, as IEEE 1366 defines them. */
#ifndef STEADING_DEMAND_RELIABILITY_H
#define STEADING_DEMAND_RELIABILITY_H

#include <stddef.h>

typedef struct steading_interruption {
  double minutes;   /* how long, >= 0 */
  double customers; /* whom it hit, >= 0 */
} steading_interruption;

typedef struct steading_reliability {
  double saifi;   /* interruptions of a customer: sum of customers hit over customers served */
  double saidi_h; /* hours that a customer was without: sum of length times customers hit over
                     customers served */
  double caidi_h; /* hours of an interruption: saidi / saifi; NaN without any */
  double asai;    /* share of the time that a customer was served */
} steading_reliability;

/* IEEE 1366, section 3.2 (definitions as utilities and the EIA print them). Interruptions of at
 * most `longer_than_min` minutes do not count: 5 leaves the sustained ones, below 0 takes all.
 * `customers` and `hours` (of the time judged) are above 0. */
steading_reliability steading_reliability_of(const steading_interruption *interruptions,
                                             size_t count, double longer_than_min, double customers,
                                             double hours);

#endif
