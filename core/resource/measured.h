/* Values of a weather file on the way to a weather: what is missing is rebuilt, what cannot be
 * right is refused, and both are told. All readers end here; the rules are in
 * reference/manual/resource.md. */
#ifndef STEADING_RESOURCE_MEASURED_H
#define STEADING_RESOURCE_MEASURED_H

#include "resource/text.h"
#include "resource/weather.h"

typedef enum steading_quantity {
  STEADING_TEMP, /* air temperature, C */
  STEADING_GHI,  /* W/m2: global on the horizontal, */
  STEADING_DNI,  /* direct normal, */
  STEADING_DHI,  /* diffuse on the horizontal */
  STEADING_WIND, /* speed of the wind, m/s */
  STEADING_QUANTITIES
} steading_quantity;

typedef struct steading_measured {
  const char *name; /* of the file, for messages */
  steading_error *error;
  steading_place place;
  unsigned allow; /* checks that are waived, see steading_read_options */
  int step_minutes;
  size_t rows;                         /* whole years of steps, 29 February left out */
  double *values[STEADING_QUANTITIES]; /* [rows], NaN where missing */
  size_t *lines;                       /* [rows] line of each in the file */
  const char
      *called[STEADING_QUANTITIES]; /* what messages call the column; NULL: not in the file */
  double late;      /* 0..<1: share of a step by which values begin (or stand) behind their step */
  bool instant;     /* values belong to instants, not to steps */
  int *years;       /* [rows] calendar year of each value; only for instants */
  size_t negatives; /* irradiance below zero, set to zero */
  size_t leap_rows; /* rows of 29 February, dropped */
  size_t read;      /* rows of the file, those that were dropped included */
  size_t absent;    /* steps for which the file has no row */
  char where[320];
} steading_measured;

/* Room for `rows` rows, all missing. False when memory ends. */
bool steading_measured_allocate(steading_measured *m, size_t rows);
void steading_measured_free(steading_measured *m);

/* "name: line 12", in m->where. */
const char *steading_measured_at(steading_measured *m, size_t line);

/* Whether a value in C, W/m2 or m/s can be one, and its zero offset taken away: temperature
 * -90..60, irradiance -50..1500 (2000 in steps shorter than an hour: cloud edges; Gueymard 2017),
 * wind 0..75 (the plausible means over 10 min of Zahumensky 2004, "Guidelines on quality control
 * procedures for data from automatic weather stations", WMO; from memory). False when it cannot;
 * `expected` then says why. */
bool steading_measured_bound(steading_measured *m, steading_quantity quantity, double *value,
                             const char **expected);

/* BAD_INPUT when the sun of the longitude runs more than 1.5 h off the zone, unless allowed. `path`
 * says where the two stand. */
steading_status steading_check_zone(const steading_place *place, unsigned allow, const char *path,
                                    steading_error *error);

/* Moves all values by whole minutes, later when positive; the ends of the file go on into each
 * other. Call it once every row stands. NO_MEMORY or OK. */
steading_status steading_measured_shift(steading_measured *m, int minutes);

/* "C", "W/m2" or "m/s". */
const char *steading_quantity_unit(steading_quantity quantity);

/* The weather of the values; *weather is NULL on failure. `m->values` and `m->called` are changed:
 * a column of light or wind that is nowhere above 0 counts as one that the file does not have. A
 * weather whose file has no wind, or lacks it for more than six hours on end, has none. */
steading_status steading_measured_weather(steading_measured *m, const char *source,
                                          steading_weather **weather);

/* Notes of what `options` changed: the shift, and an offset other than the file's own. */
steading_status steading_weather_note_options(steading_weather *weather,
                                              const steading_read_options *options,
                                              double said_offset_h);

#endif
