#include "plant/ageing.h"

#include <math.h>

static const double zero_c = 273.15, room_c = 25;

/* --- Naumann -------------------------------------------------------------------------------------
 */

/* exp(-energy / R (1/T - 1/298.15)) */
static double arrhenius(double energy_j_per_mol, double cell_c) {
  return exp(-energy_j_per_mol / 8.3145 * (1 / (cell_c + zero_c) - 1 / (room_c + zero_c)));
}

static double cube(double x) { return x * x * x; }
static double square(double x) { return x * x; }

/* What the temperature and what the charge has to do with K. */
static double k_of_temp(double cell_c) { return 1.2571e-5 * arrhenius(17126, cell_c); }
static double k_of_charge(double charge) { return 2.8575 * cube(charge - 0.5) + 0.60225; }
static double resistance_k_of_temp(double cell_c) { return 3.419e-10 * arrhenius(71827, cell_c); }
static double resistance_k_of_charge(double charge) {
  return 3.3903 * square(charge - 0.5) + 1.56040;
}

double steading_naumann_calendar_k(double cell_c, double state_of_charge) {
  return k_of_temp(cell_c) * k_of_charge(state_of_charge);
}

double steading_naumann_calendar_resistance_k(double cell_c, double state_of_charge) {
  return resistance_k_of_temp(cell_c) * resistance_k_of_charge(state_of_charge);
}

double steading_naumann_cycle_k(double rate_per_h, double depth) {
  return (0.0630 * rate_per_h + 0.0971) * (4.0253 * cube(depth - 0.6) + 1.0923) / 100;
}

double steading_naumann_cycle_resistance_k(double rate_per_h, double depth) {
  return fmax(0, -0.0020 * rate_per_h + 0.0021) * (6.8477 * cube(depth - 0.5) + 0.9182) / 100;
}

/* --- Wang ----------------------------------------------------------------------------------------
 */

static const double wang_z = 0.55, gas_constant = 8.314;

double steading_wang_k(double rate_per_h, double cell_c) {
  static const double rates[] = {0.5, 2, 6, 10}, b[] = {31630, 21681, 12934, 15512};
  double rate = fmin(fmax(rate_per_h, rates[0]), rates[3]), factor = b[3];
  for (int i = 0; i < 3; i++)
    if (rate < rates[i + 1]) {
      double share = (rate - rates[i]) / (rates[i + 1] - rates[i]);
      factor = share > 0 ? exp(log(b[i]) + (log(b[i + 1]) - log(b[i])) * share) : b[i];
      break;
    }
  return factor * exp((-31700 + 370.3 * rate) / (gas_constant * (cell_c + zero_c))) / 100;
}

double steading_wang_half_rate_loss(double cell_c, double ah) {
  return 30330 * exp(-31500 / (gas_constant * (cell_c + zero_c))) * pow(ah, 0.552) / 100;
}

/* --- cycles against depth ------------------------------------------------------------------------
 */

/* d log(cycles) / d log(depth) between two lines. */
static double slope(const steading_depth_cycles *low, const steading_depth_cycles *high) {
  return log(high->cycles / low->cycles) / log(high->depth / low->depth);
}

double steading_cycles_at_depth(const steading_depth_cycles *depths, size_t count, double depth) {
  const steading_depth_cycles *first = &depths[0], *last = &depths[count - 1];
  const steading_depth_cycles *from = last;
  double power = -1;
  if (depth <= first->depth) {
    from = first; /* shallower: fewer cycles is a flatter line */
    if (count > 1) power = fmax(-1, slope(first, first + 1));
  } else if (depth >= last->depth) {
    if (count > 1) power = fmin(-1, slope(last - 1, last));
  } else {
    for (from = first; depth >= from[1].depth;) from++;
    power = slope(from, from + 1);
  }
  if (depth == from->depth) return from->cycles;
  return from->cycles * pow(depth / from->depth, power);
}

/* Time at rest wears twice as fast for every 10 K more (common practice, no source). */
static double rest_factor(double cell_c) { return exp2((cell_c - room_c) / 10); }

/* --- an age --------------------------------------------------------------------------------------
 */

void steading_age_rest_steps(const steading_ageing_law *law, double step_h, size_t count,
                             const double *cell_c, const double *state_of_charge,
                             steading_age *age) {
  double seconds = 3600 * step_h, before_c = (double)NAN, k = 0, r = 0, damage = 0;
  if (law->model == STEADING_AGEING_WANG) return;
  for (size_t i = 0; i < count; i++) {
    double charge = state_of_charge[i];
    if (charge < 0) continue;
    if (!(cell_c[i] == before_c)) {
      before_c = cell_c[i];
      if (law->model == STEADING_AGEING_NAUMANN) {
        k = k_of_temp(before_c);
        r = resistance_k_of_temp(before_c);
      } else {
        damage = step_h / (8760 * law->calendar_years) * rest_factor(before_c);
      }
    }
    if (law->model == STEADING_AGEING_NAUMANN) {
      age->calendar += square(k * k_of_charge(charge)) * seconds;
      age->calendar_resistance += r * resistance_k_of_charge(charge) * seconds;
    } else {
      age->calendar += damage;
    }
  }
}

void steading_age_rest(const steading_ageing_law *law, double hours, double cell_c,
                       double state_of_charge, steading_age *age) {
  steading_age_rest_steps(law, hours, 1, &cell_c, &state_of_charge, age);
}

void steading_age_cycle(const steading_ageing_law *law, double depth, double count,
                        double rate_per_h, double cell_c, steading_age *age) {
  double full = depth * count; /* equivalent full cycles */
  switch (law->model) {
    case STEADING_AGEING_NAUMANN:
      age->cycles += square(steading_naumann_cycle_k(rate_per_h, depth)) * full;
      age->cycle_resistance += steading_naumann_cycle_resistance_k(rate_per_h, depth) * full;
      break;
    case STEADING_AGEING_WANG:
      age->cycles += pow(steading_wang_k(rate_per_h, cell_c), 1 / wang_z) *
                     law->throughput_ah_per_cycle * full;
      break;
    case STEADING_AGEING_DEPTH:
      age->cycles += count / steading_cycles_at_depth(law->depths, law->depth_count, depth);
      break;
  }
}

void steading_age_add(const steading_age *more, steading_age *age) {
  age->calendar += more->calendar;
  age->cycles += more->cycles;
  age->calendar_resistance += more->calendar_resistance;
  age->cycle_resistance += more->cycle_resistance;
}

void steading_age_take_away(const steading_age *less, steading_age *age) {
  age->calendar -= less->calendar;
  age->cycles -= less->cycles;
  age->calendar_resistance -= less->calendar_resistance;
  age->cycle_resistance -= less->cycle_resistance;
}

double steading_age_health(const steading_ageing_law *law, const steading_age *age) {
  double loss = 0;
  switch (law->model) {
    case STEADING_AGEING_NAUMANN:
      loss = sqrt(age->calendar) + sqrt(age->cycles);
      break;
    case STEADING_AGEING_WANG:
      loss = pow(age->cycles, wang_z);
      break;
    case STEADING_AGEING_DEPTH:
      loss = (age->calendar + age->cycles) * (1 - law->end_health);
      break;
  }
  return fmax(0, 1 - loss);
}

double steading_age_resistance(const steading_age *age) {
  return 1 + age->calendar_resistance + age->cycle_resistance;
}
