/* Weather from a table of rows that carry their time: what the CSV readers have in common. */
#ifndef STEADING_RESOURCE_TABLE_WEATHER_H
#define STEADING_RESOURCE_TABLE_WEATHER_H

#include "resource/measured.h"

/* What a stamp says of its row: the step begins or ends there, or the values are of that instant.
 * In the order of the words of `interval`. */
typedef enum steading_interval {
  STEADING_INTERVAL_BEGINNING,
  STEADING_INTERVAL_ENDING,
  STEADING_INTERVAL_INSTANT
} steading_interval;

/* In the order of the words of the columns' `unit`. An energy is that of the row's step. */
typedef enum steading_light_unit {
  STEADING_W_PER_M2,
  STEADING_WH_PER_M2,
  STEADING_KWH_PER_M2,
  STEADING_KJ_PER_M2,
  STEADING_MJ_PER_M2,
  STEADING_J_PER_CM2
} steading_light_unit;

typedef enum steading_temp_unit {
  STEADING_CELSIUS,
  STEADING_KELVIN,
  STEADING_FAHRENHEIT,
  STEADING_TENTH_CELSIUS
} steading_temp_unit;

typedef enum steading_wind_unit {
  STEADING_M_PER_S,
  STEADING_KM_PER_H,
  STEADING_KNOTS, /* nautical miles of 1852 m an hour */
  STEADING_MPH,   /* miles of 1609.344 m an hour */
  STEADING_TENTH_M_PER_S
} steading_wind_unit;

enum { STEADING_TIME_COLUMNS = 5 };

typedef struct steading_table_layout {
  const char *source;                      /* what the weather's source is called */
  const char *time[STEADING_TIME_COLUMNS]; /* columns whose cells, joined by blanks, are the time */
  size_t time_count;
  const char *time_format;                  /* of stamp.h; NULL: ISO 8601 */
  const char *columns[STEADING_QUANTITIES]; /* names of columns; NULL: not in the table */
  int units[STEADING_QUANTITIES];           /* steading_temp_unit, _light_unit, _wind_unit */
  steading_interval interval;
  steading_place place;  /* its utc_offset_h is worked out */
  bool has_stamp_offset; /* of stamps without their own */
  double stamp_offset_h;
  bool has_zone_offset; /* standard time of the place, when it is known */
  double zone_offset_h;
  unsigned allow;
  int shift_minutes;
} steading_table_layout;

/* The weather of a table whose header is the first row that holds all the names. Temperature, and
 * global or direct with diffuse, have to be among the columns. Steps are the smallest distance of
 * two rows. Rows are placed by their dates: one year of any years whose dates rise from January to
 * December, or rows that rise in time over whole years from any day on. *weather is NULL on
 * failure. The path of an error is 'name' or 'name: line 1234'. */
steading_status steading_table_weather(const char *bytes, size_t length, const char *name,
                                       const steading_table_layout *layout,
                                       steading_weather **weather, steading_error *error);

#endif
