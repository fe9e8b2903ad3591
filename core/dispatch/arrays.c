#include "dispatch/arrays.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "plant/array_check.h"
#include "plant/strings.h"
#include "series.h"

/* An input of a hub's units, and the arrays whose strings stand on it. */
typedef struct input_part {
  size_t hub;
  const steading_unit_input *limits;
  size_t members[STEADING_GROUPS_MOST], count; /* indices of arrays */
} input_part;

struct steading_arrays {
  const steading_program *program;
  const steading_weather *weather;
  steading_array_part *parts;
  steading_diode_module *diodes; /* [count], of arrays on inputs */
  size_t count;
  input_part *inputs;
  size_t input_count;
  double *taken, *held, *apart; /* [weather steps per year] of one input */
  bool ac_coupled;              /* any is */
  double *dc_kw;                /* [steps per year] of one that is AC-coupled */
};

/* --- preparing -----------------------------------------------------------------------------------
 */

static steading_status no_memory(steading_error *error) {
  return steading_fail(error, STEADING_NO_MEMORY, "site.hubs", "not enough memory");
}

static steading_status add_to_input(steading_arrays *a, size_t i, steading_error *error) {
  const steading_array_part *part = &a->parts[i];
  const steading_hub *hub = a->program->hubs[part->hub].hub;
  const steading_unit_input *limits =
      steading_map_at(hub->inverter->unit->inputs, part->array->strings->input);
  input_part *input = NULL;
  steading_diode_sheet sheet = steading_diode_sheet_of(part->array->module);
  char path[192];
  snprintf(path, sizeof path, "site.hubs.%s.arrays[%zu].module", a->program->hubs[part->hub].name,
           part->index + 1);
  for (size_t k = 0; k < a->input_count; k++)
    if (a->inputs[k].hub == part->hub && a->inputs[k].limits == limits) input = &a->inputs[k];
  if (input == NULL) {
    input = &a->inputs[a->input_count++];
    *input = (input_part){.hub = part->hub, .limits = limits};
  }
  input->members[input->count++] = i;
  return steading_diode_fit(&sheet, path, &a->diodes[i], error);
}

static steading_status add_array(steading_arrays *a, size_t hub, size_t index,
                                 steading_weather *weather, steading_error *error) {
  const steading_list *arrays = a->program->hubs[hub].hub->arrays;
  steading_array_part *part = &a->parts[a->count];
  steading_yield_key key;
  char path[192];
  *part = (steading_array_part){
      .array = (const void *)arrays->items[index], .hub = hub, .index = index};
  snprintf(path, sizeof path, "site.hubs.%s.arrays[%zu]", a->program->hubs[hub].name, index + 1);
  key = steading_yield_key_of(part->array);
  if (!steading_yield_series_of(weather, &key, &part->yield)) return no_memory(error);
  a->count++;
  if (part->array->coupled == STEADING_COUPLED_AC) {
    snprintf(path, sizeof path, "site.hubs.%s.arrays[%zu].own_inverter", a->program->hubs[hub].name,
             index + 1);
    part->ac_coupled = a->ac_coupled = true;
    return steading_inverter_own_curve_of(part->array->own_inverter, path, &part->own, error);
  }
  return part->array->strings == NULL ? STEADING_OK : add_to_input(a, a->count - 1, error);
}

static steading_status gather(steading_arrays *a, steading_weather *weather,
                              steading_error *error) {
  steading_status status = STEADING_OK;
  size_t count = 0;
  for (size_t i = 0; i < a->program->layout.hubs; i++)
    if (a->program->hubs[i].hub->arrays != NULL) count += a->program->hubs[i].hub->arrays->count;
  a->parts = calloc(count + 1, sizeof *a->parts);
  a->inputs = calloc(count + 1, sizeof *a->inputs);
  a->diodes = calloc(count + 1, sizeof *a->diodes);
  if (a->parts == NULL || a->inputs == NULL || a->diodes == NULL) return no_memory(error);
  steading_yields_trim(weather);
  for (size_t i = 0; i < a->program->layout.hubs && status == STEADING_OK; i++) {
    const steading_list *arrays = a->program->hubs[i].hub->arrays;
    status = steading_hub_arrays_check(a->program->hubs[i].hub, weather, a->program->hubs[i].name,
                                       error);
    for (size_t k = 0; arrays != NULL && k < arrays->count && status == STEADING_OK; k++)
      status = add_array(a, i, k, weather, error);
  }
  if (status == STEADING_OK && a->ac_coupled) {
    a->dc_kw = malloc(a->program->steps_per_year * sizeof *a->dc_kw);
    if (a->dc_kw == NULL) return no_memory(error);
  }
  if (status != STEADING_OK || a->input_count == 0) return status;
  a->taken = malloc(3 * weather->steps_per_year * sizeof *a->taken);
  if (a->taken == NULL) return no_memory(error);
  a->held = a->taken + weather->steps_per_year;
  a->apart = a->held + weather->steps_per_year;
  return STEADING_OK;
}

steading_status steading_arrays_gather(const steading_program *program, steading_weather *weather,
                                       steading_arrays **arrays, steading_error *error) {
  steading_arrays *a = calloc(1, sizeof *a);
  steading_status status = STEADING_OK;
  *arrays = NULL;
  if (a == NULL) return no_memory(error);
  a->program = program;
  a->weather = weather;
  status = gather(a, weather, error);
  if (status != STEADING_OK) {
    steading_arrays_free(a);
    return status;
  }
  *arrays = a;
  return STEADING_OK;
}

void steading_arrays_free(steading_arrays *a) {
  if (a == NULL) return;
  free(a->parts);
  free(a->inputs);
  free(a->diodes);
  free(a->taken);
  free(a->dc_kw);
  free(a);
}

size_t steading_arrays_count(const steading_arrays *a) { return a->count; }

const steading_array_part *steading_arrays_part(const steading_arrays *a, size_t i) {
  return &a->parts[i];
}

bool steading_arrays_on_inputs(const steading_arrays *a) { return a->input_count > 0; }

bool steading_arrays_ac_coupled(const steading_arrays *a) { return a->ac_coupled; }

/* --- modules of a day ----------------------------------------------------------------------------
 */

static int64_t date_of(const steading_lot *lot, int64_t start_day) {
  return steading_record_given(lot, "in_service") ? lot->in_service : start_day;
}

/* Modules in service on a day, of the lots that came with lot `i`; 0 when an earlier lot has
 * counted them. Added as whole numbers, so that two lots of one day are the same as one bigger lot
 * to the bit. */
static double count_of_date(const steading_list *lots, size_t i, int64_t day, int64_t start_day) {
  int64_t date = date_of((const void *)lots->items[i], start_day);
  double count = 0;
  if (date > day) return 0;
  for (size_t k = 0; k < lots->count; k++) {
    const steading_lot *lot = (const void *)lots->items[k];
    if (date_of(lot, start_day) != date) continue;
    if (k < i) return 0;
    if (!steading_record_given(lot, "retired") || day < lot->retired) count += lot->count;
  }
  return count;
}

/* Age in years of a lot at the start of a year of the run. */
static double age_years(const steading_lot *lot, int64_t start_day, int run_year) {
  if (!steading_record_given(lot, "in_service")) return run_year;
  return run_year + steading_years_between(lot->in_service, start_day);
}

static void add_kw(const steading_array *array, double nominal_kw, int month, double age,
                   double kw[1 + STEADING_ARRAY_LOSSES]) {
  double left[STEADING_ARRAY_LOSSES];
  steading_array_shares_left(array, month, age, left);
  kw[0] += nominal_kw;
  for (int k = 0; k < STEADING_ARRAY_LOSSES; k++) {
    nominal_kw *= left[k];
    kw[k + 1] += nominal_kw;
  }
}

void steading_array_part_kw(const steading_array_part *part, int64_t day, int64_t start_day,
                            int month, int run_year, double kw[1 + STEADING_ARRAY_LOSSES]) {
  const steading_list *lots = part->array->lots;
  double each = part->array->module->watts / 1000;
  memset(kw, 0, (1 + STEADING_ARRAY_LOSSES) * sizeof *kw);
  if (lots == NULL) add_kw(part->array, each, month, run_year, kw);
  for (size_t l = 0; lots != NULL && l < lots->count; l++) {
    double count = count_of_date(lots, l, day, start_day);
    if (count > 0)
      add_kw(part->array, count * each, month,
             age_years((const void *)lots->items[l], start_day, run_year), kw);
  }
}

static double kw_in_section(const steading_arrays *a, const steading_array_part *part,
                            const steading_section *section, int run_year) {
  double kw[1 + STEADING_ARRAY_LOSSES];
  steading_array_part_kw(part, section->day, a->program->start_day, section->month, run_year, kw);
  return kw[STEADING_ARRAY_LOSSES];
}

/* --- a year --------------------------------------------------------------------------------------
 */

size_t steading_arrays_start_minute(const steading_program *program, int run_year) {
  int year = 0, month = 0, day = 0;
  steading_date_of_day(program->start_day, &year, &month, &day);
  return ((size_t)run_year * STEADING_HOURS_PER_YEAR +
          (size_t)steading_days_before_month[month - 1] * 24) *
         60;
}

static void add_free_array(const steading_arrays *a, const steading_array_part *part, int run_year,
                           const steading_section *sections, size_t count, double *pv_kw) {
  const steading_weather *weather = a->weather;
  const double *yield = part->yield.kw_per_kw;
  size_t ours = (size_t)a->program->step_minutes, its = (size_t)weather->step_minutes;
  size_t start = steading_arrays_start_minute(a->program, run_year);
  for (size_t s = 0; s < count; s++) {
    double kw = kw_in_section(a, part, &sections[s], run_year);
    size_t end = sections[s].first + sections[s].count;
    if (its == ours) {
      size_t at = (start / its + sections[s].first) % weather->steps;
      for (size_t i = sections[s].first; i < end; i++) {
        pv_kw[i] += kw * yield[at];
        at = at + 1 == weather->steps ? 0 : at + 1;
      }
    } else {
      for (size_t i = sections[s].first; i < end; i++)
        pv_kw[i] += kw * steading_series_mean(yield, weather->steps, its, start + i * ours, ours);
    }
  }
}

/* --- strings on an input -------------------------------------------------------------------------
 */

/* The strings of an input in a section. Age and constant losses count as fewer strings: they take
 * current, at any voltage alike. */
typedef struct input_section {
  double units;
  double strings[STEADING_GROUPS_MOST]; /* of each member, on one unit; all, without any */
  steading_mppt_input limits;           /* of one unit */
} input_section;

static input_section input_of_section(const steading_arrays *a, const input_part *input,
                                      const steading_section *section, int run_year) {
  input_section s = {
      .units = steading_lots_on(a->program->hubs[input->hub].hub->inverter->lots, section->day),
      .limits = {.lowest_v = input->limits->window_v[0],
                 .highest_v = input->limits->window_v[1],
                 .most_a = input->limits->most_a,
                 .most_w = input->limits->most_kw * 1000}};
  for (size_t g = 0; g < input->count; g++) {
    const steading_array_part *part = &a->parts[input->members[g]];
    double modules =
        kw_in_section(a, part, section, run_year) / (part->array->module->watts / 1000);
    s.strings[g] = modules / part->array->strings->in_series / (s.units > 0 ? s.units : 1);
  }
  return s;
}

/* Whether a single group works at its own best point, so that no curve is needed. */
static bool unhindered(const steading_arrays *a, const input_part *input, const input_section *s,
                       size_t at, double *watts) {
  const steading_array_part *part = &a->parts[input->members[0]];
  const steading_pv_module *module = part->array->module;
  double in_series = part->array->strings->in_series;
  double module_w = part->yield.kw_per_kw[at] * module->watts;
  double vmp_v = part->yield.vmp_v[at], volts = vmp_v * in_series;
  if (input->count > 1) return false;
  *watts = s->strings[0] * in_series * module_w;
  if (!(module_w > 0)) return true;
  return volts >= s->limits.lowest_v && volts <= s->limits.highest_v &&
         s->strings[0] * module_w / vmp_v <= s->limits.most_a && *watts <= s->limits.most_w;
}

static steading_input_point point_at(const steading_arrays *a, const input_part *input,
                                     const input_section *s, size_t at) {
  steading_input_point point = {0};
  steading_string_group groups[STEADING_GROUPS_MOST];
  double watts = 0;
  bool lit = false;
  if (unhindered(a, input, s, at, &watts)) {
    point.watts = point.together_w = point.apart_w = watts;
    return point;
  }
  for (size_t g = 0; g < input->count; g++) {
    size_t i = input->members[g];
    const steading_array_part *part = &a->parts[i];
    groups[g] = (steading_string_group){.in_series = part->array->strings->in_series,
                                        .in_parallel = s->strings[g]};
    lit = lit || part->yield.on_cells[at] > 0;
    steading_diode_at(&a->diodes[i], part->yield.on_cells[at], part->yield.cell_c[at],
                      &groups[g].curve);
  }
  if (lit) steading_strings_on_input(groups, input->count, &s->limits, &point);
  return point;
}

/* What the strings could give while there is no unit for them. */
static double unconnected_kw(const steading_arrays *a, const input_part *input,
                             const input_section *s, size_t at) {
  double kw = 0;
  for (size_t g = 0; g < input->count; g++) {
    const steading_array_part *part = &a->parts[input->members[g]];
    kw += s->strings[g] * part->array->strings->in_series * part->yield.kw_per_kw[at] *
          (part->array->module->watts / 1000);
  }
  return kw;
}

static void solve_input(const steading_arrays *a, const input_part *input, int run_year,
                        const steading_section *sections, size_t count) {
  const steading_weather *weather = a->weather;
  size_t ours = (size_t)a->program->step_minutes, its = (size_t)weather->step_minutes;
  size_t start = steading_arrays_start_minute(a->program, run_year) / its;
  for (size_t s = 0; s < count; s++) {
    input_section section = input_of_section(a, input, &sections[s], run_year);
    size_t first = sections[s].first * ours / its;
    size_t end = (sections[s].first + sections[s].count) * ours / its;
    for (size_t i = first; i < end; i++) {
      size_t at = (start + i) % weather->steps;
      steading_input_point p = {0};
      if (!(section.units > 0)) {
        a->taken[i] = a->apart[i] = 0;
        a->held[i] = unconnected_kw(a, input, &section, at);
        continue;
      }
      p = point_at(a, input, &section, at);
      a->taken[i] = section.units * p.watts / 1000;
      a->held[i] = section.units * (p.together_w - p.watts) / 1000;
      a->apart[i] = section.units * (p.apart_w - p.together_w) / 1000;
    }
  }
}

static void add_input(const steading_arrays *a, double *to, const double *from) {
  size_t n = a->program->steps_per_year, ours = (size_t)a->program->step_minutes;
  size_t its = (size_t)a->weather->step_minutes;
  for (size_t i = 0; i < n; i++)
    to[i] += its == ours
                 ? from[i]
                 : steading_series_mean(from, a->weather->steps_per_year, its, i * ours, ours);
}

void steading_arrays_year(const steading_arrays *a, int run_year, const steading_section *sections,
                          size_t count, double *pv_kw, double *held_kw, double *apart_kw) {
  size_t n = a->program->steps_per_year, all = a->program->layout.hubs * n;
  memset(pv_kw, 0, all * sizeof *pv_kw);
  if (held_kw != NULL) memset(held_kw, 0, all * sizeof *held_kw);
  if (apart_kw != NULL) memset(apart_kw, 0, all * sizeof *apart_kw);
  for (size_t i = 0; i < a->count; i++)
    if (a->parts[i].array->strings == NULL && !a->parts[i].ac_coupled)
      add_free_array(a, &a->parts[i], run_year, sections, count, pv_kw + a->parts[i].hub * n);
  for (size_t k = 0; k < a->input_count; k++) {
    const input_part *input = &a->inputs[k];
    solve_input(a, input, run_year, sections, count);
    add_input(a, pv_kw + input->hub * n, a->taken);
    add_input(a, held_kw + input->hub * n, a->held);
    if (apart_kw != NULL) add_input(a, apart_kw + input->hub * n, a->apart);
  }
}

/* --- AC-coupled ----------------------------------------------------------------------------------
 */

/* Its own inverters in a section: of the ratings that ac_kw says, else of the modules' power. */
static steading_inverter_curve own_curve_of(const steading_arrays *a,
                                            const steading_array_part *part,
                                            const steading_section *section, int run_year,
                                            double *limit_kw) {
  const steading_own_inverter *own = part->array->own_inverter;
  bool limited = own != NULL && steading_record_given(own, "ac_kw");
  double kw[1 + STEADING_ARRAY_LOSSES];
  steading_array_part_kw(part, section->day, a->program->start_day, section->month, run_year, kw);
  *limit_kw = limited ? own->ac_kw : (double)INFINITY;
  if (!limited && !(kw[0] > 0)) return part->own; /* no module, and nothing to turn into AC */
  return steading_inverter_parallel(&part->own, limited ? own->ac_kw : kw[0]);
}

void steading_arrays_ac_year(const steading_arrays *a, int run_year,
                             const steading_section *sections, size_t count, double *ac_kw,
                             double *dc_kw, double *clipped_kw) {
  size_t n = a->program->steps_per_year, all = a->program->layout.hubs * n;
  memset(ac_kw, 0, all * sizeof *ac_kw);
  memset(dc_kw, 0, all * sizeof *dc_kw);
  memset(clipped_kw, 0, all * sizeof *clipped_kw);
  for (size_t i = 0; i < a->count; i++) {
    const steading_array_part *part = &a->parts[i];
    size_t hub = part->hub * n;
    if (!part->ac_coupled) continue;
    memset(a->dc_kw, 0, n * sizeof *a->dc_kw);
    add_free_array(a, part, run_year, sections, count, a->dc_kw);
    for (size_t s = 0; s < count; s++) {
      double limit_kw = 0;
      steading_inverter_curve curve = own_curve_of(a, part, &sections[s], run_year, &limit_kw);
      for (size_t k = sections[s].first; k < sections[s].first + sections[s].count; k++) {
        steading_inverter_made made = steading_inverter_follow(&curve, limit_kw, a->dc_kw[k]);
        ac_kw[hub + k] += made.ac_kw;
        dc_kw[hub + k] += made.dc_kw;
        clipped_kw[hub + k] += a->dc_kw[k] - made.dc_kw;
      }
    }
  }
}
