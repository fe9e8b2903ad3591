#include "dispatch/losses.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "dispatch/arrays.h"
#include "dispatch/program.h"
#include "dispatch/sections.h"

const char *const steading_loss_line_names[STEADING_LOSS_LINES] = {
#define NAME(id, name, doc) name,
    STEADING_CAPTURE_LINE_LIST(NAME) STEADING_SYSTEM_LINE_LIST(NAME)
#undef NAME
};

/* Series of a weather's steps: the stages of a yield, and light times 1 + gamma (Tc - 25). */
enum { CORRECTED = STEADING_STAGES, SERIES };

typedef struct work {
  const steading_run *run;
  steading_losses *out;
  steading_program program;
  steading_arrays *arrays;
  int64_t *changes;
  size_t change_count;
  size_t hubs;                             /* with arrays */
  size_t place[STEADING_MOST_HUBS];        /* of a hub among them */
  double *series;                          /* [SERIES][weather steps], of one array */
  double *pv_kw, *held_kw, *apart_kw;      /* [all hubs][steps per year]; NULL without inputs */
  double held_sum[STEADING_MOST_HUBS][12]; /* of the year at hand, by month, kW times steps */
} work;

static steading_status no_memory(steading_error *error) {
  return steading_fail(error, STEADING_NO_MEMORY, "run.losses", "not enough memory");
}

static steading_losses_row *row_of(const work *w, size_t year, size_t hub) {
  return &w->out->rows[year * w->hubs + w->place[hub]];
}

static size_t sections_of(const work *w, size_t year, steading_section *sections) {
  return steading_sections_of_year(&w->program, w->changes, w->change_count, (int)year, sections);
}

/* --- preparing -----------------------------------------------------------------------------------
 */

static steading_status make_rows(work *w, steading_error *error) {
  const steading_run *run = w->run;
  size_t years = (size_t)run->years;
  for (size_t i = 0; i < w->program.layout.hubs; i++) {
    const steading_list *arrays = w->program.hubs[i].hub->arrays;
    w->place[i] = w->hubs;
    if (arrays != NULL && arrays->count > 0) w->hubs++;
  }
  w->out->rows = calloc(years * w->hubs + 1, sizeof *w->out->rows);
  if (w->out->rows == NULL) return no_memory(error);
  w->out->count = years * w->hubs;
  for (size_t i = 0; i < w->program.layout.hubs; i++) {
    const steading_list *arrays = w->program.hubs[i].hub->arrays;
    for (size_t y = 0; arrays != NULL && arrays->count > 0 && y < years; y++) {
      row_of(w, y, i)->year = run->months[12 * y].year;
      row_of(w, y, i)->hub = i;
    }
  }
  return STEADING_OK;
}

static steading_status prepare(work *w, steading_error *error) {
  const steading_run *run = w->run;
  size_t days = 0, n = 0;
  steading_status status =
      steading_program_compile(run->site, run->step_minutes, run->start_day, &w->program, error);
  if (status == STEADING_OK) status = make_rows(w, error);
  if (status != STEADING_OK || w->hubs == 0) return status;
  status = steading_arrays_gather(&w->program, run->site->weather, &w->arrays, error);
  if (status != STEADING_OK) return status;
  days = steading_program_changes(&w->program, NULL, 0);
  w->changes = calloc(days + 1, sizeof *w->changes);
  w->series = malloc(SERIES * run->site->weather->steps * sizeof *w->series);
  if (w->changes == NULL || w->series == NULL) return no_memory(error);
  w->change_count = steading_program_changes(&w->program, w->changes, days);
  if (!steading_arrays_on_inputs(w->arrays)) return STEADING_OK;
  n = w->program.layout.hubs * w->program.steps_per_year;
  w->pv_kw = malloc(3 * n * sizeof *w->pv_kw);
  if (w->pv_kw == NULL) return no_memory(error);
  w->held_kw = w->pv_kw + n;
  w->apart_kw = w->held_kw + n;
  return STEADING_OK;
}

/* --- what arrays lose ----------------------------------------------------------------------------
 */

/* Sum of `count` steps of the weather from `first` on; years repeat. */
static double sum_of(const double *series, size_t steps, size_t first, size_t count) {
  double sum = 0;
  for (size_t at = first % steps; count > 0; count--) {
    sum += series[at];
    at = at + 1 == steps ? 0 : at + 1;
  }
  return sum;
}

/* Add what each stage leaves in a section to the row's lines. */
static void add_section(const work *w, const steading_array_part *part, size_t year,
                        const steading_section *s, steading_losses_row *row) {
  const steading_weather *weather = w->run->site->weather;
  size_t ours = (size_t)w->run->step_minutes, its = (size_t)weather->step_minutes;
  size_t first = (steading_arrays_start_minute(&w->program, (int)year) + s->first * ours) / its;
  double kw[1 + STEADING_ARRAY_LOSSES], sums[SERIES], h = (double)its / 60;
  double *left = row->kwh;
  steading_array_part_kw(part, s->day, w->program.start_day, s->month, (int)year, kw);
  row->sums.kw += kw[0] * ((double)s->count / (double)w->program.steps_per_year);
  if (!(kw[0] > 0)) return;
  for (size_t k = 0; k < SERIES; k++)
    sums[k] =
        h * sum_of(w->series + k * weather->steps, weather->steps, first, s->count * ours / its);
  left[STEADING_LINE_NOMINAL] += kw[0] * sums[STEADING_STAGE_OPEN];
  left[STEADING_LINE_HORIZON] += kw[0] * sums[STEADING_STAGE_HORIZON];
  left[STEADING_LINE_ROWS] += kw[0] * sums[STEADING_STAGE_ROWS];
  left[STEADING_LINE_REFLECTION] += kw[0] * sums[STEADING_STAGE_CELLS];
  left[STEADING_LINE_SOILING] += kw[1 + STEADING_LOSS_SOILING] * sums[STEADING_STAGE_CELLS];
  left[STEADING_LINE_SNOW] += kw[1 + STEADING_LOSS_SNOW] * sums[STEADING_STAGE_CELLS];
  left[STEADING_LINE_LOW_LIGHT] += kw[1 + STEADING_LOSS_SNOW] * sums[STEADING_STAGE_LOW_LIGHT];
  left[STEADING_LINE_TEMPERATURE] += kw[1 + STEADING_LOSS_SNOW] * sums[STEADING_STAGE_DC];
  left[STEADING_LINE_SETTLING] += kw[1 + STEADING_LOSS_SETTLING] * sums[STEADING_STAGE_DC];
  left[STEADING_LINE_AGEING] += kw[1 + STEADING_LOSS_AGE] * sums[STEADING_STAGE_DC];
  left[STEADING_LINE_MISMATCH] += kw[1 + STEADING_LOSS_MISMATCH] * sums[STEADING_STAGE_DC];
  left[STEADING_LINE_WIRING] += kw[1 + STEADING_LOSS_WIRING] * sums[STEADING_STAGE_DC];
  left[STEADING_LINE_DOWNTIME] += kw[1 + STEADING_LOSS_DOWNTIME] * sums[STEADING_STAGE_DC];
  row->sums.nominal_kwh += kw[0] * sums[STEADING_STAGE_OPEN];
  row->sums.corrected_nominal_kwh += kw[0] * sums[CORRECTED];
}

static steading_status add_array(work *w, const steading_array_part *part, steading_error *error) {
  const steading_weather *weather = w->run->site->weather;
  steading_yield_key key = steading_yield_key_of(part->array);
  double *stages[STEADING_STAGES], *open = w->series + STEADING_STAGE_OPEN * weather->steps;
  double *corrected = w->series + CORRECTED * weather->steps;
  for (size_t k = 0; k < STEADING_STAGES; k++) stages[k] = w->series + k * weather->steps;
  if (!steading_yield_stages(weather, &key, stages, corrected)) return no_memory(error);
  for (size_t i = 0; i < weather->steps; i++) corrected[i] *= open[i];
  for (size_t y = 0; y < (size_t)w->run->years; y++) {
    steading_section sections[STEADING_MOST_SECTIONS];
    size_t count = sections_of(w, y, sections);
    for (size_t s = 0; s < count; s++)
      add_section(w, part, y, &sections[s], row_of(w, y, part->hub));
  }
  return STEADING_OK;
}

/* --- what inputs hold back -----------------------------------------------------------------------
 */

/* By month and in order, as the months of the run add up: where all that is not taken was held
 * back, nothing remains between the two, to the bit. */
static void set_inputs(work *w, size_t year) {
  steading_section sections[STEADING_MOST_SECTIONS];
  size_t count = sections_of(w, year, sections), n = w->program.steps_per_year;
  for (size_t i = 0; i < w->program.layout.hubs; i++)
    for (size_t m = 0; m < 12; m++) w->held_sum[i][m] = 0;
  if (w->pv_kw == NULL) return;
  steading_arrays_year(w->arrays, (int)year, sections, count, w->pv_kw, w->held_kw, w->apart_kw);
  for (size_t i = 0; i < w->program.layout.hubs; i++) {
    const steading_list *arrays = w->program.hubs[i].hub->arrays;
    double apart = 0;
    if (arrays == NULL || arrays->count == 0) continue;
    for (size_t s = 0; s < count; s++) {
      size_t month = (size_t)(sections[s].month - (w->run->start_month - 1) + 12) % 12;
      for (size_t k = sections[s].first; k < sections[s].first + sections[s].count; k++) {
        w->held_sum[i][month] += w->held_kw[i * n + k];
        apart += w->apart_kw[i * n + k];
      }
    }
    row_of(w, year, i)->kwh[STEADING_LINE_UNEQUAL_STRINGS] = apart * (w->run->step_minutes / 60.0);
  }
}

/* --- the lines -----------------------------------------------------------------------------------
 */

/* What is left after each becomes what each takes; 0 - x, so that nothing is 0, not -0. */
static void close_capture(double *kwh) {
  for (int k = STEADING_LINE_DOWNTIME; k > STEADING_LINE_NOMINAL; k--) kwh[k] -= kwh[k - 1];
  kwh[STEADING_LINE_UNEQUAL_STRINGS] = 0 - kwh[STEADING_LINE_UNEQUAL_STRINGS];
}

static void close_system(const work *w, size_t year, steading_losses_row *row) {
  const steading_layout *at = &w->run->layout;
  const steading_unit *unit = w->program.hubs[row->hub].hub->inverter->unit;
  double h = w->run->step_minutes / 60.0, held = 0, not_taken = 0, used = 0;
  double charging = 0; /* of the generator's charger */
  steading_hub_flow sum = {0};
  for (size_t m = 0; m < 12; m++) {
    const double *month = w->run->sums + (12 * year + m) * at->width;
    const steading_hub_flow *f = steading_hub_flow_of(at, month, row->hub);
    held += w->held_sum[row->hub][m];
    not_taken += f->pv_curtailed - w->held_sum[row->hub][m];
    used += f->pv_used;
    sum.battery_loss += f->battery_loss;
    sum.standby += f->standby;
    sum.stored_change += f->stored_change;
    sum.inverter_loss += f->inverter_loss;
    sum.idle_from_ac += f->idle_from_ac;
    sum.inverted += f->inverted;
    sum.heater += f->heater;
    sum.charger_in += f->charger_in;
    sum.rectified += f->rectified;
    sum.ac_sun += f->ac_sun;
    sum.sun_charging += f->sun_charging;
    sum.sun_idle += f->sun_idle;
    if (at->generators > 0) charging += steading_generator_flow_of(at, month, row->hub)->charging;
  }
  row->kwh[STEADING_LINE_INPUT_LIMITS] = 0 - held * h;
  row->kwh[STEADING_LINE_NOT_TAKEN] = 0 - not_taken * h;
  row->kwh[STEADING_LINE_FROM_GRID] = sum.charger_in * h;
  row->kwh[STEADING_LINE_FROM_GENERATOR] = charging * h;
  double sun_rectified = sum.sun_charging * unit->charge_efficiency;
  row->kwh[STEADING_LINE_CHARGER_LOSS] =
      (sum.rectified - sun_rectified - sum.charger_in - charging) * h;
  row->kwh[STEADING_LINE_BATTERY_LOSS] = 0 - sum.battery_loss * h;
  row->kwh[STEADING_LINE_BATTERY_STANDBY] = 0 - sum.standby * h;
  row->kwh[STEADING_LINE_STORED] = 0 - sum.stored_change * h;
  row->kwh[STEADING_LINE_INVERTER_LOSS] =
      (sum.idle_from_ac - sum.sun_idle + (sum.charger_in + charging - sum.rectified) -
       sum.inverter_loss + sun_rectified) *
      h;
  row->kwh[STEADING_LINE_BATTERY_HEATER] = 0 - sum.heater * h;
  row->inverted_kwh =
      (sum.inverted + sum.ac_sun - sum.sun_charging - sum.sun_idle - sum.heater) * h;
  row->sums.array_kwh = used * h;
}

static void close_row(const work *w, size_t year, steading_losses_row *row) {
  double sum = 0, size = 1;
  close_capture(row->kwh);
  close_system(w, year, row);
  for (int k = 0; k < STEADING_LINE_DELIVERED; k++) {
    sum += row->kwh[k];
    size += fabs(row->kwh[k]);
  }
  row->kwh[STEADING_LINE_DELIVERED] = sum;
  /* the plant's figures are of its sun: less what chargers brought, as DC; a heater is a use */
  row->sums.ac_kwh =
      sum - (row->kwh[STEADING_LINE_FROM_GRID] + row->kwh[STEADING_LINE_FROM_GENERATOR] +
             row->kwh[STEADING_LINE_CHARGER_LOSS] + row->kwh[STEADING_LINE_BATTERY_HEATER]);
  row->sums.hours = STEADING_HOURS_PER_YEAR;
  assert(fabs(sum - row->inverted_kwh) <= 1e-9 * size);
  (void)size;
}

static steading_status fill(work *w, steading_error *error) {
  steading_status status = prepare(w, error);
  if (status != STEADING_OK || w->hubs == 0) return status;
  for (size_t i = 0; i < steading_arrays_count(w->arrays); i++) {
    status = add_array(w, steading_arrays_part(w->arrays, i), error);
    if (status != STEADING_OK) return status;
  }
  for (size_t y = 0; y < (size_t)w->run->years; y++) {
    set_inputs(w, y);
    for (size_t i = 0; i < w->hubs; i++) close_row(w, y, &w->out->rows[y * w->hubs + i]);
  }
  return STEADING_OK;
}

steading_status steading_run_losses(const steading_run *run, steading_losses *losses,
                                    steading_error *error) {
  work *w = calloc(1, sizeof *w);
  steading_status status = STEADING_OK;
  *losses = (steading_losses){.count = 0};
  if (w == NULL) return no_memory(error);
  w->run = run;
  w->out = losses;
  status = fill(w, error);
  steading_arrays_free(w->arrays);
  free(w->changes);
  free(w->series);
  free(w->pv_kw);
  free(w);
  if (status != STEADING_OK) steading_losses_free(losses);
  return status;
}

void steading_losses_free(steading_losses *losses) {
  free(losses->rows);
  *losses = (steading_losses){.count = 0};
}
