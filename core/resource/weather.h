/* Weather: means of sun and temperature over steps at a place, in local standard time.
 *
 * A weather holds whole years of 365 days in equal steps, labelled by their beginning. It is
 * immutable once made. Readers parse bytes that they are given: nothing here opens a file. */
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
  double utc_offset_h; /* local standard time minus UT */
} steading_place;

typedef struct steading_weather {
  size_t references; /* how many owners; see steading_weather_keep and _release */
  steading_place place;
  char time_zone[64]; /* zone name, or empty: then standard time all year */
  bool has_record_low;
  double record_low_c;
  int step_minutes;       /* 60, 30, 15, 10, 5 or 1 */
  size_t steps_per_year;  /* 525600 / step_minutes */
  size_t years, steps;    /* steps = years * steps_per_year */
  double *ghi_w_per_m2;   /* [steps] global on the horizontal, mean over the step */
  double *dhi_w_per_m2;   /* [steps] diffuse on the horizontal, <= ghi */
  double *dni_w_per_m2;   /* [steps] beam normal to the sun: (ghi - dhi) / cos zenith of the
                             same step of `sun`, so that a level plane gets ghi exactly; 0
                             when the sun is down (then dhi = ghi); never above the
                             extraterrestrial times the step's lit_share: what is more there
                             (the sun near the horizon) is counted as diffuse */
  double *temp_c;         /* [steps] air temperature */
  double *wind_m_per_s;   /* [steps] wind at 10 m, >= 0; NULL when nobody says */
  steading_sun_step *sun; /* [steps_per_year] the sun of every weather year */
  char source[32];        /* "epw", "tmy3", "keyed csv", "table", "synthesized" */
  char sha256[65];        /* of the bytes read, hex; set by the caller */
  char **notes;           /* [note_count] what was repaired, dropped or assumed, with counts */
  size_t note_count;
  struct steading_yield *yields; /* array yields that plant worked out for this weather */
  void (*free_yields)(struct steading_yield *yields); /* set by who fills the cache; called when the
                                                         last owner releases the weather */
} steading_weather;

/* How days follow each other, in the order of the words of `days` (site/fields.c). */
typedef enum steading_days { STEADING_DAYS_MARKOV, STEADING_DAYS_GAUSSIAN } steading_days;

/* Twelve means, January first. */
typedef struct steading_climate {
  steading_place place;
  double ghi_kwh_per_m2_day[12]; /* 0.05..12 */
  double temp_mean_c[12];        /* -60..50 */
  double temp_range_c[12];       /* mean daily range, 0..40 */
  bool has_wind;
  double wind_m_per_s[12]; /* 0..30, at 10 m */
  double wind_shape;       /* 1..5, of the Weibull distribution; 2 is Rayleigh's */
  steading_days days;
  int years; /* 1..200 */
  uint64_t seed;
  bool
      exact_months; /* each month of each year has its means of global, temperature, wind exactly */
} steading_climate;

/* Years of hours from twelve means; what each step does and its source is in synthesis.h and
 * reference/manual/resource.md. Days: Markov chains of Aguiar, Collares-Pereira and Conde 1988, or
 * a first-order Gaussian process (lag-1 0.29, Graham, Hollands and Huget 1988) through the
 * distribution of Bendt, Collares-Pereira and Rabl 1981. Hours: Aguiar and Collares-Pereira 1992;
 * diffuse: Erbs 1982; temperature: Erbs 1983 and 1984. In the long run every month's mean is the
 * one given. A month whose mean clearness is outside 0.05..0.80 is BAD_INPUT with the path of the
 * month ("ghi_kwh_per_m2_day[12]"); so is any other value outside its range. *weather is NULL on
 * failure. */
steading_status steading_weather_synthesize(const steading_climate *climate,
                                            steading_weather **weather, steading_error *error);

/* Checks of a file that a person can waive, as bits. */
enum {
  STEADING_ALLOW_ZONE = 1, /* zone_far_from_longitude: beyond 1.5 h */
  STEADING_ALLOW_LIGHT = 2 /* light_far_from_noon: centre of the light beyond 2 h of solar noon */
};

/* What a person says beside a file that describes itself. All zero: nothing. */
typedef struct steading_read_options {
  unsigned allow;
  int shift_minutes;   /* added to every stamp, -1440..1440 */
  bool has_utc_offset; /* utc_offset_h stands instead of the file's own, -12..14 */
  double utc_offset_h;
} steading_read_options;

/* The readers. The format is told by content (is_). `name` (a file name) is used in messages;
 * `options` may be NULL. What is missing in the file is repaired and noted, or the file is refused:
 * the rules are in reference/manual/resource.md. The path of an error is 'name' or 'name: line
 * 1234'. *weather is NULL on failure.
 *   epw    eight header lines, 35 fields a row
 *   tmy3   CSV: a line of the station, a line of column names, hours of a typical year that end at
 *          their label
 *   keyed  CSV: keys, their values, column names; stamps are instants */
bool steading_weather_is_epw(const char *bytes, size_t length);
steading_status steading_weather_read_epw(const char *bytes, size_t length, const char *name,
                                          const steading_read_options *options,
                                          steading_weather **weather, steading_error *error);
bool steading_weather_is_tmy3(const char *bytes, size_t length);
steading_status steading_weather_read_tmy3(const char *bytes, size_t length, const char *name,
                                           const steading_read_options *options,
                                           steading_weather **weather, steading_error *error);
bool steading_weather_is_keyed(const char *bytes, size_t length);
steading_status steading_weather_read_keyed(const char *bytes, size_t length, const char *name,
                                            const steading_read_options *options,
                                            steading_weather **weather, steading_error *error);

/* Whether a weather, and a run, can have steps of so many minutes: 60, 30, 15, 10, 5 or 1. */
bool steading_step_minutes_known(int step_minutes);

/* For readers: a weather of `years` years of steps of step_minutes at a place with its sun worked
 * out, everything else zero or empty, one owner. NULL when memory ends. years is at least 1,
 * step_minutes a known one; the place is not checked. */
steading_weather *steading_weather_new(const steading_place *place, size_t years, int step_minutes,
                                       const char *source);

/* For readers: room for the wind, all calm. NO_MEMORY or OK. */
steading_status steading_weather_add_wind(steading_weather *weather);

/* For readers, once ghi and dhi (both >= 0) stand in every step: bounds dhi by ghi and fills dni by
 * the rule above. Returns in how many steps light was moved from beam to diffuse because the beam
 * would have been stronger than outside the atmosphere. */
size_t steading_weather_split_light(steading_weather *weather);

/* A further note, copied (at most 511 characters). NO_MEMORY or OK. */
steading_status steading_weather_note(steading_weather *weather, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* One owner more; one owner fewer (the last one frees it). */
steading_weather *steading_weather_keep(steading_weather *weather);
void steading_weather_release(steading_weather *weather);

#endif
