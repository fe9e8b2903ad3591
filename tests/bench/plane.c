/* What the chain from weather to DC power costs for one plane and hour, and which stage takes it,
 * in sines of the C library.
 *
 *   plane          a table
 *   plane check    also fails where a limit is not met: 12 sines with the linear model, 50 with the
 *                  one-diode model
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#ifdef HAVE_ERFA
#include <erfa.h>
#endif

#include "plant/array.h"
#include "plant/strings.h"
#include "resource/synthesis.h"

enum { ROUNDS = 15, SINES = 1 << 20 };

static volatile double sink;

static double now_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

typedef struct bench {
  steading_weather *weather;
  steading_yield_key linear, diode;
  steading_plane_work *work;
  steading_plane_step *steps; /* [steps] */
} bench;

/* Least time of a round of `what`, in ns for each of `count`. */
static double time_of(void (*what)(bench *), bench *b, double count) {
  double best = 1e9;
  for (int i = 0; i < ROUNDS; i++) {
    double start = now_s();
    what(b);
    if (now_s() - start < best) best = now_s() - start;
  }
  return best * 1e9 / count;
}

static void sines(bench *b) {
  double sum = 0;
  (void)b;
  for (int i = 0; i < SINES; i++) sum += sin(6.283 * i / SINES);
  sink = sum;
}

static void suns(bench *b) {
  const steading_place *place = &b->weather->place;
  steading_sun_year(place->latitude_deg, place->longitude_deg, place->utc_offset_h, 60,
                    b->weather->sun);
}

static void geometry(bench *b) {
  double sum = 0;
  for (size_t first = 0; first < b->weather->steps_per_year; first += STEADING_PLANE_BLOCK) {
    size_t left = b->weather->steps_per_year - first;
    const steading_plane_geometry *g = steading_plane_block(
        b->work, first, left < STEADING_PLANE_BLOCK ? left : STEADING_PLANE_BLOCK);
    sum += g[0].cos_incidence;
  }
  sink = sum;
}

static void light(bench *b) {
  for (size_t first = 0; first < b->weather->steps_per_year; first += STEADING_PLANE_BLOCK) {
    size_t left = b->weather->steps_per_year - first;
    size_t count = left < STEADING_PLANE_BLOCK ? left : STEADING_PLANE_BLOCK;
    const steading_plane_geometry *g = steading_plane_block(b->work, first, count);
    for (size_t k = 0; k < count; k++)
      steading_plane_light_at(b->work, &g[k], first + k, &b->steps[first + k]);
  }
}

static void whole(bench *b, const steading_yield_key *key) {
  steading_yield_series series;
  if (b->weather->yields != NULL) b->weather->free_yields(b->weather->yields);
  b->weather->yields = NULL;
  if (!steading_yield_series_of(b->weather, key, &series)) exit(1);
  sink = series.kw_per_kw[12];
}

static void linear(bench *b) { whole(b, &b->linear); }
static void diode(bench *b) { whole(b, &b->diode); }

static void two_groups(bench *b) {
  steading_diode_module module;
  steading_mppt_input input = {.highest_v = HUGE_VAL, .most_a = HUGE_VAL, .most_w = HUGE_VAL};
  double sum = 0;
  if (steading_diode_fit(&b->diode.sheet, "", &module, NULL) != STEADING_OK) exit(1);
  for (size_t i = 0; i < b->weather->steps; i++) {
    steading_string_group groups[2] = {{.in_series = 10, .in_parallel = 2},
                                       {.in_series = 9, .in_parallel = 1}};
    steading_input_point point;
    if (!(b->steps[i].on_cells > 0)) continue;
    for (int g = 0; g < 2; g++)
      steading_diode_at(&module, b->steps[i].on_cells * (1 - 0.1 * g), 30, &groups[g].curve);
    steading_strings_on_input(groups, 2, &input, &point);
    sum += point.watts;
  }
  sink = sum;
}

#ifdef HAVE_ERFA
static void erfa_suns(bench *b) {
  double sum = 0;
  (void)b;
  for (int i = 0; i < 500; i++) {
    double pvh[2][3], pvb[2][3];
    eraEpv00(2451545.0, i / 3.0, pvh, pvb);
    sum += pvh[0][0];
  }
  sink = sum;
}
#endif

static steading_yield_key linear_key(void) {
  steading_yield_key key = {
      .plane = {.azimuth_deg = 170,
                .sky_model = STEADING_SKY_PEREZ,
                .glass = {.model = STEADING_INCIDENCE_MARTIN_RUIZ, .a_r = 0.16}},
      .heating = {.model = STEADING_CELL_NOCT, .noct_c = 45},
      .temp_coefficient_per_c = -0.0035};
  for (int m = 0; m < 12; m++) {
    key.plane.tilt_deg[m] = 30;
    key.plane.albedo[m] = 0.2;
  }
  return key;
}

static steading_weather *invented_weather(void) {
  steading_climate climate = {
      .place = {.latitude_deg = 35, .longitude_deg = -106, .utc_offset_h = -7},
      .years = 1,
      .seed = 1};
  steading_weather *weather = NULL;
  for (int m = 0; m < 12; m++) {
    climate.ghi_kwh_per_m2_day[m] = 5.2 - 2.4 * cos(2 * M_PI * (m + 0.5) / 12);
    climate.temp_range_c[m] = 14;
    climate.temp_mean_c[m] = 12;
  }
  if (steading_weather_synthesize(&climate, &weather, NULL) != STEADING_OK) exit(1);
  return weather;
}

static void row(const char *name, double ns, double sine_ns, double whole_ns) {
  printf("%-46s %8.1f ns %7.2f sines", name, ns, ns / sine_ns);
  if (whole_ns > 0) printf(" %5.0f %%", 100 * ns / whole_ns);
  printf("\n");
}

/* A whole chain against its limit; returns whether it is kept. */
static int limit(const char *name, double ns, double sine_ns, double most) {
  printf("%-46s %8.1f ns %7.2f sines  (at most %.0f)%s\n", name, ns, ns / sine_ns, most,
         ns <= most * sine_ns ? "" : "  EXCEEDED");
  return ns <= most * sine_ns;
}

int main(int argc, char **argv) {
  bench b = {.weather = invented_weather(), .linear = linear_key()};
  double hours = (double)b.weather->steps, sine = 0, sun = 0, lin = 0, one = 0, place = 0, both = 0,
         two = 0;
  int kept = 0;
  b.diode = b.linear;
  b.diode.one_diode = b.diode.keeps_curves = true;
  /* a module of Villalva, Gazoli and Ruppert 2009 */
  b.diode.sheet = (steading_diode_sheet){8.21, 32.9, 7.61, 26.3, 3.18e-3, -0.123, 54};
  b.diode.watts = 200.143;
  b.work = steading_plane_work_new(&b.linear.plane, b.weather);
  b.steps = calloc(b.weather->steps, sizeof *b.steps);
  if (b.work == NULL || b.steps == NULL) return 1;
  sine = time_of(sines, &b, SINES);
  sun = time_of(suns, &b, hours);
  place = time_of(geometry, &b, hours);
  both = time_of(light, &b, hours);
  lin = time_of(linear, &b, hours);
  one = time_of(diode, &b, hours);
  two = time_of(two_groups, &b, hours);
  printf("one plane and hour of a year (nights included), in sines of libm and as a share\n");
  row("a sine of libm", sine, sine, 0);
#ifdef HAVE_ERFA
  row("ERFA: the earth about the sun, once", time_of(erfa_suns, &b, 500), sine, 0);
#endif
  row("the sun (once for all planes of a weather)", sun, sine, sun + lin);
  row("geometry of the plane (once for all years)", place, sine, sun + lin);
  row("light on the plane", both - place, sine, sun + lin);
  row("linear module", lin - both, sine, sun + lin);
  kept = limit("whole chain, linear", sun + lin, sine, 12);
  row("one-diode module", one - both, sine, sun + one);
  kept = limit("whole chain, one-diode", sun + one, sine, 50) && kept;
  row("two unequal strings on an input, for each", two / 2, sine, 0);
  row("whole chain of each, one-diode, with that", sun + one + two / 2, sine, 0);
  steading_plane_work_free(b.work);
  steading_weather_release(b.weather);
  free(b.steps);
  return argc == 2 && strcmp(argv[1], "check") == 0 ? !kept : 0;
}
