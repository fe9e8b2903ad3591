#include "plant/soiling.h"

/* Loss summed over the first `days` since clean. */
static double sum_since_clean(double per_day, double days, double most) {
  double full_day = per_day * days > most ? most / per_day : days; /* when the limit is reached */
  return per_day * full_day * full_day / 2 + most * (days - full_day);
}

double steading_soiling_dry_share(double per_day, double dry_before_days, double days,
                                  double most) {
  return (sum_since_clean(per_day, dry_before_days + days, most) -
          sum_since_clean(per_day, dry_before_days, most)) /
         days;
}

double steading_soiling_share(double per_day, double rain_free_days, double most) {
  if (!(rain_free_days > 0)) return 0;
  return steading_soiling_dry_share(per_day, 0, rain_free_days, most);
}
