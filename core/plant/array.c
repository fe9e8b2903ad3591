#include "plant/array.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"

/* A weather keeps the yields that were worked out for it: a study that varies counts and prices
 * asks for the same ones again and again. */
struct steading_yield {
  struct steading_yield *next;
  steading_yield_key key;
  double kw_per_kw[];
};

static void free_yields(struct steading_yield *yields) {
  while (yields != NULL) {
    struct steading_yield *next = yields->next;
    free(yields);
    yields = next;
  }
}

static bool same_key(const steading_yield_key *a, const steading_yield_key *b) {
  return a->tilt_deg == b->tilt_deg && a->azimuth_deg == b->azimuth_deg && a->albedo == b->albedo &&
         a->temp_coefficient_per_c == b->temp_coefficient_per_c && a->noct_c == b->noct_c &&
         a->sky_model == b->sky_model && a->glass.model == b->glass.model &&
         a->glass.a_r == b->glass.a_r && a->glass.b0 == b->glass.b0;
}

double steading_cell_temperature_noct_c(double temp_c, double plane_w_per_m2, double noct_c) {
  return temp_c + (noct_c - 20) / 800 * plane_w_per_m2;
}

steading_yield_key steading_yield_key_of(const steading_array *array) {
  const steading_incidence *incidence = array->incidence;
  steading_yield_key key = {.tilt_deg = array->tilt_deg,
                            .azimuth_deg = array->azimuth_deg,
                            .albedo = array->albedo,
                            .temp_coefficient_per_c = array->module->temp_coefficient_per_c,
                            .noct_c = array->module->noct_c,
                            .sky_model = (steading_sky_model)array->sky_model,
                            .glass = {.model = STEADING_INCIDENCE_OFF}};
  if (incidence != NULL) {
    key.glass.model = (steading_incidence_model)incidence->model;
    if (incidence->model == STEADING_INCIDENCE_MARTIN_RUIZ)
      key.glass.a_r = steading_record_given(incidence, "a_r") ? incidence->a_r : 0.16;
    if (incidence->model == STEADING_INCIDENCE_ASHRAE)
      key.glass.b0 = steading_record_given(incidence, "b0") ? incidence->b0 : 0.05;
  }
  return key;
}

/* What a step has in common in all years. */
typedef struct step_geometry {
  steading_sky_sun sun;
  double cos_incidence, beam_modifier;
} step_geometry;

/* Steps of the year whose geometry is worked out at once: it stays in the cache while all weather
 * years use it, and a year's whole table would cost more to touch than to work out. */
enum { GEOMETRY_BLOCK = 512 };

static double yield_of_step(const steading_weather *weather, const steading_yield_key *key,
                            const step_geometry *g, size_t i, double up, double sin_tilt,
                            double sky_modifier, double ground_modifier) {
  steading_plane_light light;
  double plane = 0, effective = 0, cell_c = 0, power = 0;
  if (!(weather->ghi_w_per_m2[i] > 0)) return 0;
  steading_sky_on_plane(key->sky_model, weather->ghi_w_per_m2[i], weather->dni_w_per_m2[i],
                        weather->dhi_w_per_m2[i], &g->sun, g->cos_incidence, up, sin_tilt,
                        key->albedo, &light);
  plane = light.beam_w_per_m2 + light.from_sky_w_per_m2 + light.from_ground_w_per_m2;
  effective = light.beam_w_per_m2 * g->beam_modifier + light.from_sky_w_per_m2 * sky_modifier +
              light.from_ground_w_per_m2 * ground_modifier;
  cell_c = steading_cell_temperature_noct_c(weather->temp_c[i], plane, key->noct_c);
  power = effective / 1000 * (1 + key->temp_coefficient_per_c * (cell_c - 25));
  return power > 0 ? power : 0;
}

static void work_out(const steading_weather *weather, const steading_yield_key *key,
                     double *kw_per_kw) {
  const double degree = M_PI / 180;
  double tilt = key->tilt_deg * degree, azimuth = key->azimuth_deg * degree;
  double east = sin(tilt) * sin(azimuth), north = sin(tilt) * cos(azimuth), up = cos(tilt);
  double sky_modifier = steading_incidence_sky(&key->glass, key->tilt_deg);
  double ground_modifier = steading_incidence_ground(&key->glass, key->tilt_deg);
  double sin_tilt = sin(tilt);
  size_t year = weather->steps_per_year;
  step_geometry geometry[GEOMETRY_BLOCK];
  for (size_t first = 0; first < year; first += GEOMETRY_BLOCK) {
    size_t count = year - first < GEOMETRY_BLOCK ? year - first : GEOMETRY_BLOCK;
    for (size_t k = 0; k < count; k++) {
      const steading_sun_step *sun = &weather->sun[first + k];
      step_geometry *g = &geometry[k];
      g->sun = steading_sky_sun_of(sun->up, sun->extraterrestrial_w_per_m2);
      g->cos_incidence = sun->east * east + sun->north * north + sun->up * up;
      if (key->tilt_deg == 0) g->cos_incidence = sun->up;
      g->beam_modifier = 0; /* no beam without the sun */
      if (sun->up > 0) g->beam_modifier = steading_incidence_beam(&key->glass, g->cos_incidence);
    }
    for (size_t y = 0; y < weather->years; y++)
      for (size_t k = 0; k < count; k++) {
        size_t i = y * year + first + k;
        kw_per_kw[i] = yield_of_step(weather, key, &geometry[k], i, up, sin_tilt, sky_modifier,
                                     ground_modifier);
      }
  }
}

const double *steading_yield_of(steading_weather *weather, const steading_yield_key *key) {
  struct steading_yield *yield = NULL;
  for (struct steading_yield **link = &weather->yields; *link != NULL; link = &(*link)->next) {
    if (!same_key(&(*link)->key, key)) continue;
    yield = *link; /* the one used last stands first */
    *link = yield->next;
    yield->next = weather->yields;
    weather->yields = yield;
    return yield->kw_per_kw;
  }
  yield = malloc(sizeof *yield + weather->steps * sizeof yield->kw_per_kw[0]);
  if (yield == NULL) return NULL;
  yield->key = *key;
  work_out(weather, key, yield->kw_per_kw);
  yield->next = weather->yields;
  weather->yields = yield;
  weather->free_yields = free_yields;
  return yield->kw_per_kw;
}

void steading_yields_trim(steading_weather *weather) {
  struct steading_yield **link = &weather->yields;
  for (int kept = 0; *link != NULL && kept < STEADING_YIELDS_KEPT; kept++) link = &(*link)->next;
  if (*link != NULL) weather->free_yields(*link);
  *link = NULL;
}

double steading_array_left(const steading_array *array, int month, double age_years) {
  return (1 - array->soiling[month]) * (1 - array->settling_loss) * (1 - array->mismatch_loss) *
         (1 - array->dc_wiring_loss) * (1 - array->downtime_share) *
         pow(1 - array->module->degradation_per_year, age_years > 0 ? age_years : 0);
}
