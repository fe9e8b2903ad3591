#include "resource/refine.h"

#include <inttypes.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "random.h"
#include "resource/air.h"
#include "resource/clear_sky.h"
#include "resource/hours.h"
#include "resource/months.h"

enum { MOST_PARTS = 60 };

/* Some light comes through every cloud: no step within an hour has less than this share of the
 * hour's. Common practice, no source. */
static const double darkest = 0.1;

double steading_spread_within(double k, double s) {
  double of = fmin(fmax(k, 0), 1);
  return 0.87 * of * of * (1 - of) + 0.39 * sqrt(of) * s;
}

/* Variance of the mean of n minutes over that of a minute. */
static double mean_variance(int n) {
  double sum = n, r = STEADING_MINUTE_CORRELATION;
  for (int lag = 1; lag < n; lag++, r *= STEADING_MINUTE_CORRELATION) sum += 2 * (n - lag) * r;
  return sum / n / n;
}

double steading_minute_spread(void) { return 1 / sqrt(mean_variance(5) - mean_variance(60)); }

/* ---- light ---- */

/* What one coarse step is made into. */
typedef struct span {
  const steading_weather *from;
  steading_weather *to;
  const double *outside, *cloudless; /* of its fine steps */
  size_t coarse, fine;               /* index of the coarse step and of its first fine one */
  int parts;
} span;

static double sum_of(const double *values, int n) {
  double sum = 0;
  for (int i = 0; i < n; i++) sum += values[i];
  return sum;
}

/* Light of a coarse step over that of a cloudless sky, at most 1.5; negative without sun. */
static double index_of(const steading_weather *from, const double *cloudless, size_t coarse,
                       int parts) {
  size_t of_year = coarse % from->steps_per_year;
  double clear = sum_of(cloudless + of_year * (size_t)parts, parts) / parts;
  return clear > 0 ? fmin(from->ghi_w_per_m2[coarse] / clear, 1.5) : -1;
}

/* Index of the neighbour, or the own one where there is no sun or no weather. */
static double beside(const steading_weather *from, const double *cloudless, size_t coarse, int by,
                     int parts, double own) {
  double k = -1;
  if ((by < 0 && coarse > 0) || (by > 0 && coarse + 1 < from->steps))
    k = index_of(from, cloudless, by < 0 ? coarse - 1 : coarse + 1, parts);
  return k < 0 ? own : k;
}

/* Light in a coarse step in which a cloudless sky would give none: in proportion to the sun that
 * grazes the horizon, or held where no sun explains it (dusk, or a clock that is off). */
static void hold_light(const span *s) {
  double outside = sum_of(s->outside, s->parts);
  for (int i = 0; i < s->parts; i++) {
    double share = outside > 0 ? s->outside[i] / outside * s->parts : 1;
    s->to->ghi_w_per_m2[s->fine + (size_t)i] = share * s->from->ghi_w_per_m2[s->coarse];
    s->to->dhi_w_per_m2[s->fine + (size_t)i] = share * s->from->dhi_w_per_m2[s->coarse];
  }
}

/* Diffuse light as even as the sky outside the clouds, but no more than all light in any step, nor
 * so little that the beam would be stronger than outside the atmosphere. */
static void share_diffuse(const span *s, const double *ghi, double mean, double *dhi) {
  double weight[MOST_PARTS], most[MOST_PARTS], value[MOST_PARTS], floor_sum = 0, room = 0;
  double outside = sum_of(s->outside, s->parts);
  for (int i = 0; i < s->parts; i++) {
    dhi[i] = fmax(0, ghi[i] - s->outside[i]); /* at least */
    floor_sum += dhi[i];
    room += ghi[i] - dhi[i];
  }
  if (room <= 0) return;
  for (int i = 0; i < s->parts; i++) {
    weight[i] = 1;
    most[i] = (ghi[i] - dhi[i]) / room; /* all of them sum to 1: none is above it */
    value[i] = s->outside[i] / outside;
  }
  steading_share_out(s->parts, weight, most, fmax(0, (mean * s->parts - floor_sum) / room), value);
  for (int i = 0; i < s->parts; i++) dhi[i] = fmin(ghi[i], dhi[i] + value[i] * room);
}

/* The noise of the minutes, going on from step to step while there is sun. */
typedef struct noise {
  uint64_t seed;
  double spread, fresh, now; /* of a minute; share that is new in each; the last minute */
  bool night;                /* nothing to go on from */
} noise;

/* Mean of the noise over a fine step. */
static double noise_of_step(noise *of, const steading_weather *to, size_t year, size_t step) {
  double sum = 0;
  for (int m = 0; m < to->step_minutes; m++) {
    uint64_t minute = step * (uint64_t)to->step_minutes + (uint64_t)m;
    double normal =
        steading_random_normal(of->seed, (uint32_t)year, STEADING_DRAW_WITHIN_STEP, minute);
    of->now = of->night ? normal : STEADING_MINUTE_CORRELATION * of->now + of->fresh * normal;
    of->night = false;
    sum += of->now;
  }
  return of->spread * sum / to->step_minutes;
}

static void make_light(const span *s, noise *of) {
  double k[MOST_PARTS], weight[MOST_PARTS], most[MOST_PARTS];
  double own = 0, before = 0, after = 0, spread = 0, clear = 0, room = 0, mean_noise = 0;
  double *ghi = s->to->ghi_w_per_m2 + s->fine, *dhi = s->to->dhi_w_per_m2 + s->fine;
  size_t year = s->fine / s->to->steps_per_year, of_year = s->fine % s->to->steps_per_year;
  const double *year_cloudless = s->cloudless - of_year;
  double total = s->from->ghi_w_per_m2[s->coarse] * s->parts;
  own = index_of(s->from, year_cloudless, s->coarse, s->parts);
  if (own < 0) {
    of->night = true;
    hold_light(s);
    return;
  }
  before = beside(s->from, year_cloudless, s->coarse, -1, s->parts, own);
  after = beside(s->from, year_cloudless, s->coarse, 1, s->parts, own);
  spread = steading_spread_within(own, hypot(own - before, own - after) / sqrt(2));
  clear = sum_of(s->cloudless, s->parts);
  for (int i = 0; i < s->parts; i++) {
    weight[i] = s->cloudless[i] / clear;
    k[i] = s->cloudless[i] > 0 ? noise_of_step(of, s->to, year, of_year + (size_t)i) : 0;
    mean_noise += weight[i] * k[i];
  }
  for (int i = 0; i < s->parts; i++) {
    double along = (i + 0.5) / s->parts;
    double mean = steading_span_curve((before + own) / 2, own, (own + after) / 2, along);
    k[i] = fmax(mean + spread * (k[i] - mean_noise), darkest * own) / STEADING_CLOUD_EDGE;
    most[i] = 0;
    if (s->cloudless[i] > 0)
      most[i] = fmin(1, s->outside[i] / s->cloudless[i] / STEADING_CLOUD_EDGE);
    room += weight[i] * most[i];
  }
  if (total >= room * clear * STEADING_CLOUD_EDGE) {
    hold_light(s);
    share_diffuse(s, ghi, s->from->dhi_w_per_m2[s->coarse], dhi);
    return;
  }
  steading_share_out(s->parts, weight, most, total / clear / STEADING_CLOUD_EDGE, k);
  for (int i = 0; i < s->parts; i++) ghi[i] = k[i] * STEADING_CLOUD_EDGE * s->cloudless[i];
  share_diffuse(s, ghi, s->from->dhi_w_per_m2[s->coarse], dhi);
}

/* ---- air ---- */

static double neighbour(const double *values, size_t count, size_t at, int by) {
  if ((by < 0 && at == 0) || (by > 0 && at + 1 == count)) return values[at];
  return by < 0 ? values[at - 1] : values[at + 1];
}

/* Two straight lines through a coarse step that meet its neighbours half way; their mean is the
 * step's. */
static void make_line(const double *from, size_t count, size_t at, int parts, double *to) {
  double own = from[at], start = (neighbour(from, count, at, -1) + own) / 2;
  double end = (own + neighbour(from, count, at, 1)) / 2, sum = 0;
  for (int i = 0; i < parts; i++) {
    to[i] = steading_span_curve(start, own, end, (i + 0.5) / parts);
    sum += to[i];
  }
  for (int i = 0; i < parts; i++) to[i] += own - sum / parts;
}

/* The same, without negative speeds. */
static void make_wind(const double *from, size_t count, size_t at, int parts, double *to) {
  double sum = 0;
  make_line(from, count, at, parts, to);
  for (int i = 0; i < parts; i++) sum += to[i] = fmax(0, to[i]);
  for (int i = 0; i < parts && sum > 0; i++) to[i] *= from[at] * parts / sum;
}

/* ---- the whole ---- */

static void fill(const steading_weather *from, const double *outside, const double *cloudless,
                 uint64_t seed, steading_weather *to) {
  const double r = STEADING_MINUTE_CORRELATION;
  int parts = from->step_minutes / to->step_minutes;
  noise of = {.seed = seed, .spread = steading_minute_spread(), .fresh = sqrt(1 - r * r)};
  for (size_t i = 0; i < from->steps; i++) {
    span s = {.from = from, .to = to, .coarse = i, .fine = i * (size_t)parts, .parts = parts};
    s.outside = outside + s.fine % to->steps_per_year;
    s.cloudless = cloudless + s.fine % to->steps_per_year;
    if (i % from->steps_per_year == 0) of.night = true; /* a year's draws are its own */
    make_light(&s, &of);
    make_line(from->temp_c, from->steps, i, parts, to->temp_c + s.fine);
    if (to->wind_m_per_s != NULL)
      make_wind(from->wind_m_per_s, from->steps, i, parts, to->wind_m_per_s + s.fine);
  }
}

static steading_status make(const steading_weather *from, uint64_t seed, double *sky,
                            steading_weather *to, steading_error *error) {
  double *outside = sky, *cloudless = sky + to->steps_per_year;
  steading_status status = STEADING_OK;
  size_t moved = 0;
  for (size_t i = 0; i < to->steps_per_year; i++) {
    const steading_sun_step *sun = &to->sun[i];
    outside[i] = sun->extraterrestrial_w_per_m2 * sun->up * sun->lit_share;
    cloudless[i] = sun->up > 0 ? steading_clear_haurwitz_w_per_m2(sun->up) * sun->lit_share : 0;
  }
  fill(from, outside, cloudless, seed, to);
  moved = steading_weather_split_light(to);
  status = steading_weather_note(to,
                                 "steps of %d min made from steps of %d min (seed %" PRIu64
                                 "): what happens within those is invented",
                                 to->step_minutes, from->step_minutes, seed);
  if (status == STEADING_OK && moved > 0)
    status = steading_weather_note(to,
                                   "%zu steps have a weaker beam than asked for: it would be "
                                   "stronger than outside the atmosphere",
                                   moved);
  if (status != STEADING_OK)
    return steading_fail(error, STEADING_NO_MEMORY, "weather.refine", "not enough memory");
  return STEADING_OK;
}

steading_status steading_weather_refine(const steading_weather *from, int step_minutes,
                                        uint64_t seed, steading_weather **refined,
                                        steading_error *error) {
  steading_status status = STEADING_OK;
  steading_weather *made = NULL;
  double *sky = NULL;
  *refined = NULL;
  if (!steading_step_minutes_known(step_minutes) || step_minutes >= from->step_minutes ||
      from->step_minutes % step_minutes != 0)
    return steading_fail(error, STEADING_BAD_INPUT, "step_minutes",
                         "%d, expected 30, 15, 10, 5 or 1 that divides the weather's %d and is "
                         "less",
                         step_minutes, from->step_minutes);
  made = steading_weather_like(from, from->years, step_minutes);
  if (made != NULL) sky = malloc(2 * made->steps_per_year * sizeof *sky);
  if (sky == NULL || !steading_weather_copy_notes(from, NULL, made))
    status = steading_fail(error, STEADING_NO_MEMORY, "weather.refine", "not enough memory");
  if (status == STEADING_OK) status = make(from, seed, sky, made, error);
  free(sky);
  if (status != STEADING_OK) {
    steading_weather_release(made);
    return status;
  }
  *refined = made;
  return STEADING_OK;
}
