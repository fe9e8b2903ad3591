/* Weather: hourly means of sun and temperature at a place, in local standard time.
 *
 * A weather holds whole years of 8760 steps, labelled by their beginning. It is immutable once
 * made. Readers parse bytes that they are given: nothing here opens a file. */
#ifndef STEADING_RESOURCE_WEATHER_H
#define STEADING_RESOURCE_WEATHER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "resource/sun.h"
#include "status.h"

typedef struct steading_place {
  double latitude_deg, longitude_deg; /* east positive */
  double elevation_m;
  double utc_offset_h;                /* local standard time minus UT */
} steading_place;

typedef struct steading_weather {
  size_t references;          /* how many owners; see steading_weather_keep and _release */
  steading_place place;
  char time_zone[64];         /* zone name, or empty: then standard time all year */
  bool has_record_low;
  double record_low_c;
  size_t years, steps;        /* steps = years * 8760, 60 minutes each */
  double *ghi_w_per_m2;       /* [steps] global on the horizontal, mean over the step */
  double *dhi_w_per_m2;       /* [steps] diffuse on the horizontal, <= ghi */
  double *dni_w_per_m2;       /* [steps] beam normal to the sun: (ghi - dhi) / cos zenith of the
                                 same step of `sun`, so that a level plane gets ghi exactly; 0
                                 when the sun is down (then dhi = ghi) */
  double *temp_c;             /* [steps] air temperature */
  steading_sun_step *sun;     /* [8760] the sun of every weather year */
  char source[32];            /* "epw", "synthesized" */
  char sha256[65];            /* of the bytes read, hex; set by the caller */
  char **notes;               /* [note_count] what was repaired, dropped or assumed, with counts */
  size_t note_count;
  struct steading_yield *yields; /* cache of array yields that belong to this weather, see plant */
} steading_weather;

/* Twelve means, January first. */
typedef struct steading_climate {
  steading_place place;
  double ghi_kwh_per_m2_day[12]; /* 0.05..12 */
  double temp_mean_c[12];        /* -60..50 */
  double temp_range_c[12];       /* mean daily range, 0..40 */
  int years;                     /* 1..200 */
  uint64_t seed;
  bool exact_months; /* each month of each year has its mean of global and of temperature exactly */
} steading_climate;

/* Years of hours from twelve means. Daily clearness: first-order Gaussian process (lag-1 0.29,
 * Graham, Hollands and Huget 1988) through the distribution of Bendt, Collares-Pereira and Rabl
 * 1981 with the constants of Herzog 1985 (Hollands and Huget 1983). Hours: Collares-Pereira and
 * Rabl 1979; diffuse: Erbs 1982; temperature: Erbs 1984 shape. *weather is NULL on failure. */
steading_status steading_weather_synthesize(const steading_climate *climate,
                                            steading_weather **weather, steading_error *error);

/* EPW, told by its first header line. `name` (a file name) is used in messages. */
bool steading_weather_is_epw(const char *bytes, size_t length);
steading_status steading_weather_read_epw(const char *bytes, size_t length, const char *name,
                                          steading_weather **weather, steading_error *error);

/* A further note, copied. */
steading_status steading_weather_note(steading_weather *weather, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* One owner more; one owner fewer (the last one frees it). */
steading_weather *steading_weather_keep(steading_weather *weather);
void steading_weather_release(steading_weather *weather);

#endif
