#include "resource/weather.h"

#include <assert.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"

bool steading_step_minutes_known(int step_minutes) {
  return step_minutes == 60 || step_minutes == 30 || step_minutes == 15 || step_minutes == 10 ||
         step_minutes == 5 || step_minutes == 1;
}

steading_weather *steading_weather_new(const steading_place *place, size_t years, int step_minutes,
                                       const char *source) {
  steading_weather *weather = calloc(1, sizeof *weather);
  assert(years >= 1 && steading_step_minutes_known(step_minutes));
  if (weather == NULL) return NULL;
  weather->references = 1;
  weather->place = *place;
  weather->years = years;
  weather->step_minutes = step_minutes;
  weather->steps_per_year = (size_t)(STEADING_HOURS_PER_YEAR * 60 / step_minutes);
  weather->steps = years * weather->steps_per_year;
  snprintf(weather->source, sizeof weather->source, "%s", source);
  weather->ghi_w_per_m2 = calloc(weather->steps, sizeof(double));
  weather->dhi_w_per_m2 = calloc(weather->steps, sizeof(double));
  weather->dni_w_per_m2 = calloc(weather->steps, sizeof(double));
  weather->temp_c = calloc(weather->steps, sizeof(double));
  weather->sun = calloc(weather->steps_per_year, sizeof *weather->sun);
  if (weather->ghi_w_per_m2 == NULL || weather->dhi_w_per_m2 == NULL ||
      weather->dni_w_per_m2 == NULL || weather->temp_c == NULL || weather->sun == NULL) {
    steading_weather_release(weather);
    return NULL;
  }
  steading_sun_year(place->latitude_deg, place->longitude_deg, place->utc_offset_h, step_minutes,
                    weather->sun);
  return weather;
}

steading_status steading_weather_add_wind(steading_weather *weather) {
  if (weather->wind_m_per_s == NULL) weather->wind_m_per_s = calloc(weather->steps, sizeof(double));
  return weather->wind_m_per_s == NULL ? STEADING_NO_MEMORY : STEADING_OK;
}

size_t steading_weather_split_light(steading_weather *weather) {
  size_t moved = 0;
  for (size_t year = 0; year < weather->years; year++) {
    size_t first = year * weather->steps_per_year;
    const double *ghi = weather->ghi_w_per_m2 + first;
    double *dhi = weather->dhi_w_per_m2 + first, *dni = weather->dni_w_per_m2 + first;
    for (size_t i = 0; i < weather->steps_per_year; i++) {
      const steading_sun_step *sun = &weather->sun[i];
      double most = sun->extraterrestrial_w_per_m2 * sun->lit_share;
      double beam = 0;
      if (sun->lit_share > 0) beam = fmax(0, ghi[i] - dhi[i]) / sun->up;
      if (beam > most) {
        beam = most;
        moved++;
      }
      dni[i] = beam;
      dhi[i] = fmax(0, ghi[i] - beam * sun->up);
    }
  }
  return moved;
}

steading_status steading_weather_note(steading_weather *weather, const char *format, ...) {
  char text[512];
  char **notes = NULL;
  char *copy = NULL;
  va_list list;
  va_start(list, format);
  vsnprintf(text, sizeof text, format, list);
  va_end(list);
  copy = strdup(text);
  if (copy == NULL) return STEADING_NO_MEMORY;
  notes = realloc(weather->notes, (weather->note_count + 1) * sizeof *notes);
  if (notes == NULL) {
    free(copy);
    return STEADING_NO_MEMORY;
  }
  notes[weather->note_count++] = copy;
  weather->notes = notes;
  return STEADING_OK;
}

steading_weather *steading_weather_keep(steading_weather *weather) {
  if (weather != NULL) weather->references++;
  return weather;
}

void steading_weather_release(steading_weather *weather) {
  if (weather == NULL || --weather->references > 0) return;
  if (weather->yields != NULL && weather->free_yields != NULL) {
    weather->free_yields(weather->yields);
  }
  for (size_t i = 0; i < weather->note_count; i++) free(weather->notes[i]);
  free(weather->notes);
  free(weather->ghi_w_per_m2);
  free(weather->dhi_w_per_m2);
  free(weather->dni_w_per_m2);
  free(weather->temp_c);
  free(weather->wind_m_per_s);
  free(weather->sun);
  free(weather);
}
