#include "random.h"

#include <assert.h>
#include <math.h>

void steading_philox(const uint32_t counter[4], const uint32_t key[2], uint32_t out[4]) {
  uint32_t c0 = counter[0], c1 = counter[1], c2 = counter[2], c3 = counter[3];
  uint32_t k0 = key[0], k1 = key[1];
  /* Multipliers and key increments of Salmon et al. 2011, section 4.3 and table 2. */
  for (int round = 0; round < 10; round++) {
    uint64_t p0 = UINT64_C(0xD2511F53) * c0;
    uint64_t p1 = UINT64_C(0xCD9E8D57) * c2;
    c0 = (uint32_t)(p1 >> 32) ^ c1 ^ k0;
    c2 = (uint32_t)(p0 >> 32) ^ c3 ^ k1;
    c1 = (uint32_t)p1;
    c3 = (uint32_t)p0;
    k0 += UINT32_C(0x9E3779B9);
    k1 += UINT32_C(0xBB67AE85);
  }
  out[0] = c0;
  out[1] = c1;
  out[2] = c2;
  out[3] = c3;
}

uint64_t steading_random_bits(uint64_t seed, uint32_t year, uint32_t purpose, uint64_t index) {
  const uint32_t counter[4] = {(uint32_t)index, (uint32_t)(index >> 32), year, purpose};
  const uint32_t key[2] = {(uint32_t)seed, (uint32_t)(seed >> 32)};
  uint32_t out[4];
  steading_philox(counter, key, out);
  return ((uint64_t)out[1] << 32) | out[0];
}

double steading_random_uniform(uint64_t seed, uint32_t year, uint32_t purpose, uint64_t index) {
  uint64_t bits = steading_random_bits(seed, year, purpose, index);
  /* The half keeps 0 out; with 53 bits and a half the largest would round to 1. */
  return ((double)(bits >> 12) + 0.5) * 0x1p-52;
}

/* a[0] + a[1] x + ... + a[7] x^7. */
static double polynomial(const double a[8], double x) {
  double sum = a[7];
  for (int i = 6; i >= 0; i--) sum = sum * x + a[i];
  return sum;
}

/* Wichura 1988, "Algorithm AS 241: The Percentage Points of the Normal Distribution", Applied
 * Statistics 37, 477-484, routine PPND16. */
double steading_normal_quantile(double p) {
  static const double a[8] = {3.3871328727963666080e0,  1.3314166789178437745e+2,
                              1.9715909503065514427e+3, 1.3731693765509461125e+4,
                              4.5921953931549871457e+4, 6.7265770927008700853e+4,
                              3.3430575583588128105e+4, 2.5090809287301226727e+3};
  static const double b[8] = {1.0,
                              4.2313330701600911252e+1,
                              6.8718700749205790830e+2,
                              5.3941960214247511077e+3,
                              2.1213794301586595867e+4,
                              3.9307895800092710610e+4,
                              2.8729085735721942674e+4,
                              5.2264952788528545610e+3};
  static const double c[8] = {1.42343711074968357734e0,  4.63033784615654529590e0,
                              5.76949722146069140550e0,  3.64784832476320460504e0,
                              1.27045825245236838258e0,  2.41780725177450611770e-1,
                              2.27238449892691845833e-2, 7.74545014278341407640e-4};
  static const double d[8] = {1.0,
                              2.05319162663775882187e0,
                              1.67638483018380384940e0,
                              6.89767334985100004550e-1,
                              1.48103976427480074590e-1,
                              1.51986665636164571966e-2,
                              5.47593808499534494600e-4,
                              1.05075007164441684324e-9};
  static const double e[8] = {6.65790464350110377720e0,  5.46378491116411436990e0,
                              1.78482653991729133580e0,  2.96560571828504891230e-1,
                              2.65321895265761230930e-2, 1.24266094738807843860e-3,
                              2.71155556874348757815e-5, 2.01033439929228813265e-7};
  static const double f[8] = {1.0,
                              5.99832206555887937690e-1,
                              1.36929880922735805310e-1,
                              1.48753612908506148525e-2,
                              7.86869131145613259100e-4,
                              1.84631831751005468180e-5,
                              1.42151175831644588870e-7,
                              2.04426310338993978564e-15};
  double q = p - 0.5, r = 0, tail = 0;
  assert(p > 0 && p < 1);
  if (fabs(q) <= 0.425) {
    r = 0.180625 - q * q;
    return q * polynomial(a, r) / polynomial(b, r);
  }
  r = sqrt(-log(q < 0 ? p : 1 - p));
  if (r <= 5) {
    tail = polynomial(c, r - 1.6) / polynomial(d, r - 1.6);
  } else {
    tail = polynomial(e, r - 5) / polynomial(f, r - 5);
  }
  return q < 0 ? -tail : tail;
}

double steading_random_normal(uint64_t seed, uint32_t year, uint32_t purpose, uint64_t index) {
  return steading_normal_quantile(steading_random_uniform(seed, year, purpose, index));
}
