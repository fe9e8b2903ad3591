/* Where the sun is.
 *
 * Angles are in degrees, azimuth clockwise from north, longitude positive to the east. Positions
 * are topocentric and without refraction unless a name says 'apparent'. */
#ifndef STEADING_RESOURCE_SUN_H
#define STEADING_RESOURCE_SUN_H

#include "status.h"

typedef struct steading_sun_query {
  double latitude_deg;   /* -90..90 */
  double longitude_deg;  /* -180..180, east positive */
  double days_from_2000; /* days from 2000-01-01 12:00 UT, fraction included (JD - 2451545.0) */
  double pressure_pa;    /* for refraction only; 101325 */
  double temp_c;         /* for refraction only; 12 */
} steading_sun_query;

typedef struct steading_sun {
  double zenith_deg, elevation_deg; /* true, without refraction */
  double apparent_elevation_deg;    /* refracted */
  double azimuth_deg;               /* 0..360 from north, clockwise */
  double declination_deg;
  double hour_angle_deg; /* -180..180, afternoon positive */
  double equation_of_time_min;
} steading_sun;

void steading_sun_position(const steading_sun_query *query, steading_sun *sun);

/* One step of the year of 365 days, as yield needs it: the sun in the middle of that part of the
 * step in which it is above the horizon (true horizon, no refraction). */
typedef struct steading_sun_step {
  double east, north, up;           /* unit vector to the sun; up is the cosine of the zenith */
  double extraterrestrial_w_per_m2; /* on a plane normal to the sun */
  double lit_share;                 /* share of the step in which the sun is up; 0 at night,
                                       and then east, north and up are 0 */
} steading_sun_step;

/* Solar constant, W/m2 (Kopp and Lean 2011). */
#define STEADING_SOLAR_CONSTANT_W_PER_M2 1361.0

/* The steps of a year at a place, of step_minutes (a divisor of 1440), in local standard time,
 * labelled by their beginning. The calendar year of the geometry is fixed (2030, mid-way between
 * leap years), because the months of typical-year files come from many years. `steps` holds
 * 525600 / step_minutes elements. */
void steading_sun_year(double latitude_deg, double longitude_deg, double utc_offset_h,
                       int step_minutes, steading_sun_step *steps);

/* The sun at one instant in the same form: lit_share is 1 while the centre of its disc is above the
 * true horizon, else 0 and the direction 0. `days_from_2000` as in steading_sun_query;
 * `day_of_year` 0..364 is that of the extraterrestrial irradiance. */
void steading_sun_instant(double latitude_deg, double longitude_deg, double days_from_2000,
                          int day_of_year, steading_sun_step *step);

#endif
