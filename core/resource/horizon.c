#include "resource/horizon.h"

#include <math.h>
#include <stdio.h>

static const double degree = M_PI / 180;

/* Sine and cosine of 0..360 degrees, exact at the quarters. */
static double sine_of(double deg) {
  if (deg > 180) return -sine_of(deg - 180);
  return deg > 90 ? cos((deg - 90) * degree) : sin(deg * degree);
}

static double cosine_of(double deg) {
  if (deg > 180) return -cosine_of(deg - 180);
  return deg > 90 ? -sin((deg - 90) * degree) : cos(deg * degree);
}

/* 0..4, rising with the azimuth of a direction. */
static double turn_of(double east, double north) {
  double sum = fabs(east) + fabs(north);
  double across = sum > 0 ? fabs(east) / sum : 0;
  double turn = east >= 0   ? (north >= 0 ? across : 2 - across)
                : north < 0 ? 2 + across
                            : 4 - across;
  return turn < 4 ? turn : 0; /* a west share below the last digit */
}

/* The point at or before an azimuth of 0..360; the last one where none is. */
static size_t point_before(const steading_horizon *h, double azimuth_deg) {
  size_t low = 0, high = h->count;
  if (azimuth_deg < h->points[0].azimuth_deg) return h->count - 1;
  while (high - low > 1) {
    size_t middle = (low + high) / 2;
    if (h->points[middle].azimuth_deg <= azimuth_deg)
      low = middle;
    else
      high = middle;
  }
  return low;
}

double steading_horizon_elevation_deg(const steading_horizon *horizon, double azimuth_deg) {
  double azimuth = azimuth_deg - 360 * floor(azimuth_deg / 360), span = 0, from = 0;
  const steading_horizon_point *a = NULL, *b = NULL;
  if (!(azimuth < 360)) azimuth = 0;
  a = &horizon->points[point_before(horizon, azimuth)];
  b = a + 1 < horizon->points + horizon->count ? a + 1 : horizon->points;
  span = b->azimuth_deg - a->azimuth_deg;
  from = azimuth - a->azimuth_deg;
  if (span <= 0) span += 360;
  if (from < 0) from += 360;
  return a->elevation_deg + (b->elevation_deg - a->elevation_deg) * (from / span);
}

static steading_status refuse(steading_error *error, const char *path, size_t point,
                              const char *field, double found, const char *expected) {
  char full[256];
  snprintf(full, sizeof full, "%.200s[%zu].%s", path, point + 1, field);
  return steading_fail(error, STEADING_BAD_INPUT, full, "%.6g: %s", found, expected);
}

static steading_status check_points(const steading_horizon_point *points, size_t count,
                                    const char *path, steading_error *error) {
  if (count == 0)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "an empty list, expected { { azimuth_deg = , elevation_deg = }, ... }");
  if (count > STEADING_HORIZON_POINTS_MOST)
    return steading_fail(error, STEADING_BAD_INPUT, path, "found %zu points, at most %d", count,
                         STEADING_HORIZON_POINTS_MOST);
  for (size_t i = 0; i < count; i++) {
    double azimuth = points[i].azimuth_deg, elevation = points[i].elevation_deg;
    if (!(azimuth >= 0 && azimuth < 360))
      return refuse(error, path, i, "azimuth_deg", azimuth,
                    "expected 0 to less than 360 (360 is 0: the profile goes on round)");
    if (!(elevation >= 0 && elevation < 90))
      return refuse(error, path, i, "elevation_deg", elevation, "expected 0 to less than 90");
    if (i > 0 && !(azimuth > points[i - 1].azimuth_deg))
      return refuse(error, path, i, "azimuth_deg", azimuth,
                    "expected more than that of the point before: points go clockwise from north");
  }
  return STEADING_OK;
}

static void add_node(steading_horizon *h, double azimuth_deg) {
  size_t i = h->node_count++;
  double turn = turn_of(sine_of(azimuth_deg), cosine_of(azimuth_deg));
  h->turn[i] = i > 0 && turn < h->turn[i - 1] ? h->turn[i - 1] : turn;
  h->tangent[i] = tan(steading_horizon_elevation_deg(h, azimuth_deg) * degree);
}

steading_status steading_horizon_make(const steading_horizon_point *points, size_t count,
                                      const char *path, steading_horizon *horizon,
                                      steading_error *error) {
  steading_horizon *h = horizon;
  size_t next = 0, node = 0;
  steading_status status = check_points(points, count, path, error);
  if (status != STEADING_OK) return status;
  h->count = count;
  h->node_count = 0;
  for (size_t i = 0; i < count; i++) h->points[i] = points[i];
  for (int k = 0; k < 360; k++) {
    add_node(h, k);
    if (next < count && points[next].azimuth_deg == k) next++;
    for (; next < count && points[next].azimuth_deg < k + 1; next++)
      add_node(h, points[next].azimuth_deg);
  }
  h->turn[h->node_count] = 4;
  h->tangent[h->node_count++] = h->tangent[0];
  for (int bin = 0; bin < STEADING_HORIZON_BINS; bin++) {
    double begin = 4.0 * bin / STEADING_HORIZON_BINS;
    while (node + 2 < h->node_count && h->turn[node + 1] <= begin) node++;
    h->first[bin] = (unsigned short)node;
  }
  return STEADING_OK;
}

double steading_horizon_tangent(const steading_horizon *horizon, double east, double north) {
  const steading_horizon *h = horizon;
  double turn = turn_of(east, north), span = 0;
  size_t i = h->first[(int)(turn * STEADING_HORIZON_BINS / 4)];
  while (i + 2 < h->node_count && h->turn[i + 1] <= turn) i++;
  span = h->turn[i + 1] - h->turn[i];
  if (!(span > 0)) return h->tangent[i];
  return h->tangent[i] + (h->tangent[i + 1] - h->tangent[i]) * ((turn - h->turn[i]) / span);
}

bool steading_horizon_blocks(const steading_horizon *horizon, double east, double north,
                             double up) {
  double tangent = 0;
  if (!(up > 0)) return true;
  tangent = steading_horizon_tangent(horizon, east, north);
  return up * up < tangent * tangent * (east * east + north * north);
}

/* --- the sky -------------------------------------------------------------------------------------
 */

/* Over the elevations from `low` (rad) to the zenith at one azimuth: cos incidence = cos tilt sin e
 * + across cos e, times the cos e of the solid angle. */
static double strip(double low, double cos_tilt, double across) {
  double s = sin(low), c = cos(low);
  return cos_tilt * c * c / 2 + across * (M_PI / 2 - low - s * c) / 2;
}

static double visible_strip(const steading_horizon *h, double azimuth_deg, double cos_tilt,
                            double sin_tilt, double facing_deg) {
  double across = sin_tilt * cos((azimuth_deg - facing_deg) * degree);
  double low = steading_horizon_elevation_deg(h, azimuth_deg) * degree;
  if (across < 0) low = fmax(low, atan2(-across, cos_tilt)); /* below that: behind the plane */
  return strip(low, cos_tilt, across);
}

static double between(const steading_horizon *h, double from_deg, double to_deg, double cos_tilt,
                      double sin_tilt, double facing_deg) {
  double middle = (from_deg + to_deg) / 2, half = (to_deg - from_deg) / 2;
  double out = half * 0.7745966692414834; /* sqrt(3/5) */
  if (!(half > 0)) return 0;
  return half * degree / 9 *
         (5 * visible_strip(h, middle - out, cos_tilt, sin_tilt, facing_deg) +
          8 * visible_strip(h, middle, cos_tilt, sin_tilt, facing_deg) +
          5 * visible_strip(h, middle + out, cos_tilt, sin_tilt, facing_deg));
}

double steading_horizon_sky_share(const steading_horizon *horizon, double tilt_deg,
                                  double azimuth_deg) {
  double cos_tilt = cosine_of(tilt_deg), sin_tilt = sine_of(tilt_deg), sum = 0;
  size_t next = 0;
  for (int k = 0; k < 360; k++) {
    double from = k;
    for (; next < horizon->count && horizon->points[next].azimuth_deg < k + 1; next++) {
      sum += between(horizon, from, horizon->points[next].azimuth_deg, cos_tilt, sin_tilt,
                     azimuth_deg);
      from = horizon->points[next].azimuth_deg;
    }
    sum += between(horizon, from, k + 1, cos_tilt, sin_tilt, azimuth_deg);
  }
  sum /= M_PI * (1 + cos_tilt) / 2;
  return sum < 0 ? 0 : sum > 1 ? 1 : sum;
}
