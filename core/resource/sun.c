#include "resource/sun.h"

#include <math.h>

#include "calendar.h"

static const double pi = 3.14159265358979323846;
static const double degree = 3.14159265358979323846 / 180;

/* Earth's mean radius over the astronomical unit: the sine of the sun's horizontal parallax. Blanco
 * et al. 2001, "Computing the solar vector", section 3.6. */
static const double parallax = 6371.01 / 149597890.0;

/* The sun among the stars at an instant, and the sidereal time. */
typedef struct sky_instant {
  double right_ascension, sin_declination, cos_declination; /* radians; geocentric */
  double sidereal;                                          /* radians, Greenwich */
} sky_instant;

/* Angle into -pi..pi. */
static double wrapped(double angle) { return angle - 2 * pi * floor(angle / (2 * pi) + 0.5); }

/* UT of an instant in hours, 0..24. */
static double hour_of_day(double days_from_2000) {
  double days = days_from_2000 + 0.5;
  return 24 * (days - floor(days));
}

/* Sidereal time at Greenwich, of the same method, radians. */
static double sidereal_at(double n) {
  return (6.697096103 + 6.570984737e-2 * n + hour_of_day(n)) * 15 * degree;
}

/* PSA+: Blanco, Milidonis and Bonanos 2020, "Updating the PSA sun position algorithm", Solar Energy
 * 212, 339-341 (form of Blanco-Muriel et al. 2001). Within 0.008 degrees in 2020-2050, within 0.011
 * in 1990-2110. */
static sky_instant sky_at(double n) {
  double node = 2.267127827 - 9.300339267e-4 * n;
  double mean_longitude = 4.895036035 + 1.720279602e-2 * n;
  double anomaly = 6.239468336 + 1.720200135e-2 * n;
  /* The node is needed to 2e-5 in what follows, its sine and cosine are not worth more. */
  double longitude = mean_longitude + 3.338320972e-2 * sin(anomaly) +
                     3.497596876e-4 * sin(2 * anomaly) - 1.544353226e-4 -
                     8.689729360e-6 * sin(node);
  double obliquity = 4.090904909e-1 - 6.213605399e-9 * n + 4.418094944e-5 * cos(node);
  double sin_longitude = sin(longitude);
  sky_instant sky;
  sky.right_ascension = atan2(cos(obliquity) * sin_longitude, cos(longitude));
  sky.sin_declination = sin(obliquity) * sin_longitude;
  sky.cos_declination = sqrt(1 - sky.sin_declination * sky.sin_declination);
  sky.sidereal = sidereal_at(n);
  return sky;
}

/* The sun's local hour angle and declination through half a day, on straight lines between
 * its ends: off by less than 3e-4 degrees, where their change in a day bends by 1.2e-4 at most. */
typedef struct half_day {
  double hour_angle, hour_angle_change;
  double sin_declination, sin_declination_change;
} half_day;

static half_day half_between(const sky_instant *before, const sky_instant *after,
                             double longitude) {
  double change = wrapped(after->right_ascension - before->right_ascension);
  return (half_day){.hour_angle = wrapped(before->sidereal - before->right_ascension + longitude),
                    /* half the sidereal day, in UT, less what the sun moved among the stars */
                    .hour_angle_change = (6.570984737e-2 / 2 + 12) * 15 * degree - change,
                    .sin_declination = before->sin_declination,
                    .sin_declination_change = after->sin_declination - before->sin_declination};
}

/* Unit vector to the sun from a place on the ground: the geocentric direction less the place's own
 * distance from the Earth's centre, which lowers the sun by up to 0.0024 degrees. */
static void direction(double sin_latitude, double cos_latitude, const sky_instant *sky,
                      double cos_hour, double sin_hour, double *east, double *north, double *up) {
  double along = sky->cos_declination * cos_hour;
  double e = -sky->cos_declination * sin_hour;
  double n = sky->sin_declination * cos_latitude - along * sin_latitude;
  double u = sky->sin_declination * sin_latitude + along * cos_latitude - parallax;
  double scale = 1 / sqrt(e * e + n * n + u * u);
  *east = e * scale;
  *north = n * scale;
  *up = u * scale;
}

/* Reda and Andreas 2008, NREL/TP-560-34302, eq. 42, applied while the upper limb is above the
 * horizon; degrees. */
static double refraction_deg(double elevation_deg, double pressure_pa, double temp_c) {
  if (elevation_deg < -(0.26667 + 0.5667)) return 0;
  return pressure_pa / 101000 * 283 / (273 + temp_c) * 1.02 /
         (60 * tan((elevation_deg + 10.3 / (elevation_deg + 5.11)) * degree));
}

void steading_sun_position(const steading_sun_query *query, steading_sun *sun) {
  double latitude = query->latitude_deg * degree, longitude = query->longitude_deg * degree;
  sky_instant sky = sky_at(query->days_from_2000);
  double greenwich = sky.sidereal - sky.right_ascension;
  double hour_angle = wrapped(greenwich + longitude);
  double mean_sun = (hour_of_day(query->days_from_2000) - 12) * 15 * degree;
  double east = 0, north = 0, up = 0, azimuth = 0;
  direction(sin(latitude), cos(latitude), &sky, cos(hour_angle), sin(hour_angle), &east, &north,
            &up);
  azimuth = atan2(east, north) / degree;
  sun->zenith_deg = atan2(hypot(east, north), up) / degree;
  sun->elevation_deg = 90 - sun->zenith_deg;
  sun->apparent_elevation_deg =
      sun->elevation_deg + refraction_deg(sun->elevation_deg, query->pressure_pa, query->temp_c);
  sun->azimuth_deg = azimuth < 0 ? azimuth + 360 : azimuth;
  sun->declination_deg = atan2(sky.sin_declination, sky.cos_declination) / degree;
  sun->hour_angle_deg = hour_angle / degree;
  /* Apparent less mean solar time, 4 minutes a degree. */
  sun->equation_of_time_min = wrapped(greenwich - mean_sun) / degree * 4;
}

/* Hour angle of sunset, 0..pi, for a point (no radius, no refraction) on the true horizon: the
 * `up` of direction() is zero there, which is cos ws = -tan(latitude) tan(declination) with the
 * parallax in it. 0 is polar night, pi polar day. */
static double sunset_angle(double sin_latitude, double cos_latitude, const sky_instant *sky) {
  double above = sky->sin_declination * sin_latitude - parallax;
  double swing = sky->cos_declination * cos_latitude;
  if (above >= swing) return pi;
  if (above <= -swing) return 0;
  return acos(-above / swing);
}

/* Length and middle of the part of start..end in which the sun is up. A step around midnight can
 * hold the end of one day and the beginning of the next: the lengths add up and the middle is that
 * of the longer one. */
static double lit_part(double start, double end, double sunset, double *middle) {
  double length = 0, longest = 0;
  for (int turn = -1; turn <= 1; turn++) {
    double from = fmax(start, 2 * pi * turn - sunset);
    double to = fmin(end, 2 * pi * turn + sunset);
    if (to <= from) continue;
    length += to - from;
    if (to - from > longest) {
      longest = to - from;
      *middle = (from + to) / 2;
    }
  }
  return length;
}

/* Whether the sun is up all through a step, all below the horizon, or crosses it. Half a step is at
 * most 7.5 degrees. The ends of the step: the one nearer to noon has |hour angle| less half a step,
 * the other |hour angle| plus half a step, and between them the sun only sinks, but where the step
 * holds noon or midnight. */
typedef enum light { ALL_DARK, ALL_LIT, CROSSING } light;

static light light_of(double sin_latitude, double cos_latitude, const sky_instant *sky,
                      double cos_hour, double sin_hour, double cos_half, double sin_half) {
  double above = sky->sin_declination * sin_latitude - parallax;
  double swing = sky->cos_declination * cos_latitude, side = fabs(sin_hour);
  double farther = above + swing * (cos_hour * cos_half - side * sin_half);
  double nearer = above + swing * (cos_hour * cos_half + side * sin_half);
  bool turns = side <= sin_half; /* noon or midnight is in it */
  if (farther > 1e-9 && (!turns || cos_hour > 0)) return ALL_LIT;
  if (nearer < -1e-9 && (!turns || cos_hour < 0)) return ALL_DARK;
  return CROSSING;
}

/* Duffie and Beckman, "Solar Engineering of Thermal Processes", eq. 1.4.1a; W/m2. */
static double extraterrestrial(int day_of_year) {
  return STEADING_SOLAR_CONSTANT_W_PER_M2 * (1 + 0.033 * cos(2 * pi * (day_of_year + 1) / 365));
}

void steading_sun_instant(double latitude_deg, double longitude_deg, double days_from_2000,
                          int day_of_year, steading_sun_step *step) {
  double latitude = latitude_deg * degree;
  sky_instant sky = sky_at(days_from_2000);
  double hour_angle = wrapped(sky.sidereal - sky.right_ascension + longitude_deg * degree);
  *step = (steading_sun_step){0};
  step->extraterrestrial_w_per_m2 = extraterrestrial(day_of_year);
  direction(sin(latitude), cos(latitude), &sky, cos(hour_angle), sin(hour_angle), &step->east,
            &step->north, &step->up);
  step->lit_share = step->up > 0;
  if (step->up <= 0) step->east = step->north = step->up = 0;
}

void steading_sun_year(double latitude_deg, double longitude_deg, double utc_offset_h,
                       int step_minutes, steading_sun_step *steps) {
  const double half_step = step_minutes / 60.0 * 7.5 * degree;
  /* A lit part of less than 0.01 s is night: its sun would stand on the horizon. */
  const double shortest = 0.01 / (60.0 * step_minutes);
  double sin_latitude = sin(latitude_deg * degree), cos_latitude = cos(latitude_deg * degree);
  double longitude = longitude_deg * degree;
  double first = (double)(steading_day_number(2030, 1, 1) - steading_day_number(2000, 1, 1)) - 0.5;
  int per_day = 1440 / step_minutes, count = per_day * STEADING_DAYS_PER_YEAR;
  double start = first - utc_offset_h / 24;
  double cos_half = cos(half_step), sin_half = sin(half_step), outside = 0;
  /* the halves of a day are those of UT: a zone moves labels, not the sun */
  double half = floor(2 * start);
  sky_instant before = sky_at(half / 2), after = sky_at((half + 1) / 2);
  half_day now = half_between(&before, &after, longitude);
  for (int i = 0; i < count; i++) {
    steading_sun_step *step = &steps[i];
    double n = start + (i + 0.5) * (step_minutes / 1440.0);
    double hour_angle = 0, length = 2 * half_step, cos_hour = 0, sin_hour = 0;
    sky_instant sky;
    light lit = CROSSING;
    double share = 2 * n - half;
    if (share >= 1) {
      half += 1;
      share -= 1;
      before = after;
      after = sky_at((half + 1) / 2);
      now = half_between(&before, &after, longitude);
    }
    if (i % per_day == 0) outside = extraterrestrial(i / per_day);
    *step = (steading_sun_step){.extraterrestrial_w_per_m2 = outside};
    sky.sin_declination = now.sin_declination + share * now.sin_declination_change;
    sky.cos_declination = sqrt(1 - sky.sin_declination * sky.sin_declination);
    hour_angle = now.hour_angle + share * now.hour_angle_change;
    if (hour_angle > pi) hour_angle -= 2 * pi;
    cos_hour = cos(hour_angle);
    sin_hour = sin(hour_angle);
    lit = light_of(sin_latitude, cos_latitude, &sky, cos_hour, sin_hour, cos_half, sin_half);
    if (lit == ALL_DARK) continue;
    if (lit == CROSSING) {
      double sunset = sunset_angle(sin_latitude, cos_latitude, &sky), middle = hour_angle;
      if (sunset < pi)
        length = lit_part(hour_angle - half_step, hour_angle + half_step, sunset, &middle);
      if (length < shortest * 2 * half_step) continue;
      cos_hour = cos(middle);
      sin_hour = sin(middle);
    }
    direction(sin_latitude, cos_latitude, &sky, cos_hour, sin_hour, &step->east, &step->north,
              &step->up);
    if (step->up <= 0) { /* rounding, where the sun only grazes the horizon */
      step->east = step->north = step->up = 0;
      continue;
    }
    step->lit_share = length / (2 * half_step);
    if (step->lit_share > 1 - 1e-9) step->lit_share = 1; /* rounding: a whole step is exactly 1 */
  }
}
