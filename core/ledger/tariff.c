#include "ledger/tariff.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "site/periods.h"

_Static_assert(STEADING_MOST_PERIODS == (int)STEADING_MOST_BUCKETS, "a bucket for each period");
_Static_assert(STEADING_HOLIDAY + 1 == (int)STEADING_DAY_CLASSES, "the classes of a plan");

int steading_days_of_month(int month) {
  return steading_days_before_month[month] - steading_days_before_month[month - 1];
}

/* --- what dispatch counts ----------------------------------------------------------------------
 */

static steading_status check_edge(int minute, int step_minutes, size_t period,
                                  steading_error *error) {
  static const int steps[] = {30, 15, 10, 5, 1};
  char where[64];
  size_t i = 0;
  if (minute % step_minutes == 0) return STEADING_OK;
  while (minute % steps[i] != 0 || steps[i] > step_minutes) i++;
  snprintf(where, sizeof where, "tariff.energy.periods[%zu]", period + 1);
  return steading_fail(
      error, STEADING_BAD_INPUT, where,
      "%02d:%02d lies inside a step of %d minutes; simulate with step_minutes = %d", minute / 60,
      minute % 60, step_minutes, steps[i]);
}

/* Writes a bucket over the steps of a window, on each kind of day on which it starts. */
static void fill(steading_meter_plan *plan, const steading_window *w, uint8_t bucket) {
  size_t slots = 1440u / (size_t)plan->step_minutes;
  size_t from = (size_t)(w->from_min / plan->step_minutes),
         to = (size_t)(w->to_min / plan->step_minutes);
  bool crosses = w->to_min <= w->from_min;
  for (int day_class = 0; day_class < STEADING_DAY_CLASSES; day_class++)
    for (int month = 1; month <= 12; month++) {
      size_t row = ((size_t)day_class * 12 + (size_t)month - 1) * slots;
      if (!steading_window_starts(w, day_class, month)) continue;
      memset(plan->own + row + from, bucket, (crosses ? slots : to) - from);
      if (crosses) memset(plan->before + row, bucket, to);
    }
}

steading_status steading_tariff_plan(const steading_tariff *tariff, int step_minutes,
                                     steading_meter_plan *plan, steading_error *error) {
  const steading_list *periods = tariff->energy->periods;
  size_t size = (size_t)STEADING_DAY_CLASSES * 12 * (1440u / (size_t)step_minutes);
  memset(plan, 0, sizeof *plan);
  plan->step_minutes = step_minutes;
  plan->buckets = 1;
  if (periods == NULL || periods->count == 1) return STEADING_OK; /* one that fits always */
  for (size_t p = 0; p < periods->count; p++) {
    steading_window own;
    size_t count = 0;
    const steading_window *windows =
        steading_period_windows((const void *)periods->items[p], &own, &count);
    for (size_t i = 0; i < count; i++) {
      steading_status status = check_edge(windows[i].from_min, step_minutes, p, error);
      if (status == STEADING_OK) status = check_edge(windows[i].to_min, step_minutes, p, error);
      if (status != STEADING_OK) return status;
    }
  }
  plan->own = malloc(2 * size);
  if (plan->own == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "tariff", "not enough memory");
  plan->before = plan->own + size;
  memset(plan->own, STEADING_NO_BUCKET, 2 * size);
  plan->buckets = periods->count;
  memcpy(plan->holiday, tariff->holidays, sizeof plan->holiday);
  for (size_t p = periods->count; p-- > 0;) { /* the first of the list is written last */
    steading_window own;
    size_t count = 0;
    const steading_window *windows =
        steading_period_windows((const void *)periods->items[p], &own, &count);
    for (size_t i = 0; i < count; i++) fill(plan, &windows[i], (uint8_t)p);
  }
  return STEADING_OK;
}

steading_status steading_site_plans(const steading_site *site, int step_minutes,
                                    steading_meter_plan **plans, steading_error *error) {
  size_t count = site->meters == NULL ? 0 : site->meters->count;
  steading_status status = STEADING_OK;
  *plans = NULL;
  if (count == 0) return STEADING_OK;
  *plans = calloc(count, sizeof **plans);
  if (*plans == NULL)
    return steading_fail(error, STEADING_NO_MEMORY, "simulate", "not enough memory");
  for (size_t m = 0; status == STEADING_OK && m < count; m++) {
    const steading_meter *meter = (const void *)site->meters->entries[m].item;
    (*plans)[m].step_minutes = step_minutes;
    (*plans)[m].buckets = 1;
    if (meter->tariff == NULL) continue;
    status = steading_tariff_plan(meter->tariff, step_minutes, &(*plans)[m], error);
    if (status != STEADING_OK && error != NULL) {
      char path[256];
      snprintf(path, sizeof path, "site.meters.%.96s.%.140s", site->meters->entries[m].name,
               error->path);
      memcpy(error->path, path, sizeof error->path);
    }
  }
  if (status != STEADING_OK) {
    steading_site_plans_free(site, *plans);
    *plans = NULL;
  }
  return status;
}

void steading_site_plans_free(const steading_site *site, steading_meter_plan *plans) {
  if (plans == NULL) return;
  for (size_t m = 0; m < site->meters->count; m++) steading_meter_plan_free(&plans[m]);
  free(plans);
}

/* --- bills -------------------------------------------------------------------------------------
 */

/* A month's bill under way. */
typedef struct billing {
  const steading_tariff *tariff;
  const steading_billed_month *what;
  const steading_price_factors *factors;
  steading_bills *bills;
  size_t first; /* line of this month */
  double billed_kwh, energy;
  bool no_memory;
} billing;

static void add_line(billing *b, steading_bill_part part, const char *name, int block,
                     const char *unit, double quantity, double price) {
  steading_bills *bills = b->bills;
  if (bills->line_count == bills->line_room) {
    size_t room = bills->line_room == 0 ? 64 : bills->line_room * 2;
    steading_bill_line *lines = realloc(bills->lines, room * sizeof *lines);
    if (lines == NULL) {
      b->no_memory = true;
      return;
    }
    bills->lines = lines;
    bills->line_room = room;
  }
  bills->lines[bills->line_count++] = (steading_bill_line){.month = b->what->month,
                                                           .meter = b->what->meter,
                                                           .part = part,
                                                           .name = name,
                                                           .block = block,
                                                           .unit = unit,
                                                           .quantity = quantity,
                                                           .price = price,
                                                           .amount = quantity * price};
}

static void add_credit(billing *b, const steading_credit *credit) {
  steading_bills *bills = b->bills;
  if (bills->credit_count == bills->credit_room) {
    size_t room = bills->credit_room == 0 ? 16 : bills->credit_room * 2;
    steading_credit *credits = realloc(bills->credits, room * sizeof *credits);
    if (credits == NULL) {
      b->no_memory = true;
      return;
    }
    bills->credits = credits;
    bills->credit_room = room;
  }
  bills->credits[bills->credit_count] = *credit;
  bills->credits[bills->credit_count].month = b->what->month;
  bills->credits[bills->credit_count++].meter = b->what->meter;
}

/* Sum of this month's lines so far, of the parts whose bits are set. */
static double sum_of_parts(const billing *b, unsigned parts) {
  double sum = 0;
  for (size_t i = b->first; i < b->bills->line_count; i++)
    if (parts >> b->bills->lines[i].part & 1) sum += b->bills->lines[i].amount;
  return sum;
}

static double edge_of(const steading_list *blocks, size_t i, double days) {
  const steading_tariff_block *block = (const void *)blocks->items[i];
  if (i + 1 == blocks->count) return (double)INFINITY;
  return steading_record_given(block, "up_to_kwh") ? block->up_to_kwh
                                                   : block->up_to_kwh_per_day * days;
}

static double block_price(const billing *b, const steading_list *blocks, size_t i) {
  return ((const steading_tariff_block *)(void *)blocks->items[i])->price_per_kwh *
         b->factors->energy;
}

static bool is_at_last(const steading_list *blocks, bool of_list) {
  for (size_t i = 0; i < blocks->count && !of_list; i++)
    of_list = ((const steading_tariff_block *)(void *)blocks->items[i])->all_at_last;
  return of_list;
}

static void add_blocks(billing *b, const char *name, const steading_list *blocks, bool at_last,
                       double kwh) {
  double from = 0;
  if (blocks->count == 1) {
    add_line(b, STEADING_BILL_ENERGY, name, 0, "kWh", kwh, block_price(b, blocks, 0));
    return;
  }
  for (size_t i = 0; i < blocks->count; i++) {
    double edge = edge_of(blocks, i, b->what->days);
    bool last = kwh <= edge;
    if (at_last ? last : (i == 0 || kwh > from))
      add_line(b, STEADING_BILL_ENERGY, name, (int)i + 1, "kWh",
               at_last ? kwh : fmin(kwh, edge) - from, block_price(b, blocks, i));
    if (last) return;
    from = edge;
  }
}

static void add_energy(billing *b, const double *kwh) {
  const steading_energy_prices *energy = b->tariff->energy;
  if (energy->kind == 0) {
    add_blocks(b, NULL, energy->blocks, is_at_last(energy->blocks, energy->all_at_last), kwh[0]);
    return;
  }
  for (size_t p = 0; p < energy->periods->count; p++) {
    const steading_period *period = (const void *)energy->periods->items[p];
    if (kwh[p] == 0 && energy->periods->count > 1) continue; /* not in season, or not used */
    if (period->blocks == NULL)
      add_line(b, STEADING_BILL_ENERGY, period->name, 0, "kWh", kwh[p],
               period->price_per_kwh * b->factors->energy);
    else
      add_blocks(b, period->name, period->blocks->blocks,
                 is_at_last(period->blocks->blocks, period->blocks->all_at_last), kwh[p]);
  }
}

/* Net metering: within a bucket exported kWh of this and of earlier months offset imported ones;
 * what is left of them is carried. */
static void offset_kwh(billing *b, steading_carry *carry, double *billed, steading_credit *credit) {
  *credit = (steading_credit){.unit = "kWh"};
  for (size_t i = 0; i < b->what->bucket_count; i++) {
    double net = b->what->buckets[i].import_kwh - b->what->buckets[i].export_kwh;
    double used = fmin(carry->kwh[i], fmax(net, 0));
    credit->opening += carry->kwh[i];
    credit->added += fmax(-net, 0);
    credit->used += used;
    billed[i] = fmax(net, 0) - used;
    carry->kwh[i] += fmax(-net, 0) - used;
    credit->closing += carry->kwh[i];
  }
}

/* The month's credit for exported energy: all of it, or what the month's energy can take. */
static void credit_money(billing *b, steading_carry *carry, steading_credit *credit) {
  const steading_export_price *export = b->tariff->export;
  double price = export->price_per_kwh * b->factors->export, kwh = 0;
  *credit = (steading_credit){.unit = "money", .opening = carry->money};
  for (size_t i = 0; i < b->what->bucket_count; i++) kwh += b->what->buckets[i].export_kwh;
  credit->added = kwh * price;
  if (!steading_record_given(export, "cap")) {
    credit->used = credit->added;
    if (kwh > 0) add_line(b, STEADING_BILL_EXPORT, NULL, 0, "kWh", kwh, -price);
    return;
  }
  credit->used = fmin(carry->money + credit->added, fmax(b->energy, 0));
  if (credit->used > 0) add_line(b, STEADING_BILL_EXPORT, NULL, 0, "money", credit->used, -1);
  carry->money = carry->money + credit->added - credit->used;
  credit->closing = carry->money;
}

/* At the end of the true-up month what is carried is paid out at the cash-out price, or expires. */
static void true_up(billing *b, steading_carry *carry, steading_credit *credit) {
  const steading_export_price *export = b->tariff->export;
  double price = export->cash_out_price_per_kwh * b->factors->export, kwh = credit->closing;
  if (!steading_record_given(export, "true_up_month") ||
      b->what->of_year != (int)export->true_up_month)
    return;
  if (steading_record_given(export, "cash_out_price_per_kwh")) {
    if (export->kind == STEADING_EXPORT_NET_BILLING) { /* the kWh that the money stands for */
      double each = export->price_per_kwh * b->factors->export;
      kwh = each > 0 ? credit->closing / each : 0;
    }
    credit->paid_out = credit->closing;
    if (kwh > 0) add_line(b, STEADING_BILL_CASH_OUT, NULL, 0, "kWh", kwh, -price);
  } else {
    credit->expired = credit->closing;
  }
  credit->closing = 0;
  memset(carry, 0, sizeof *carry);
}

static void add_fixed(billing *b) {
  const steading_tariff *t = b->tariff;
  double factor = b->factors->fixed;
  if (t->fixed_per_month > 0)
    add_line(b, STEADING_BILL_FIXED, "month", 0, "month", 1, t->fixed_per_month * factor);
  if (t->fixed_per_day > 0)
    add_line(b, STEADING_BILL_FIXED, "day", 0, "day", b->what->days, t->fixed_per_day * factor);
}

static void add_riders(billing *b) {
  const steading_list *riders = b->tariff->riders;
  for (size_t i = 0; riders != NULL && i < riders->count; i++) {
    const steading_rider *rider = (const void *)riders->items[i];
    add_line(b, STEADING_BILL_RIDER, rider->name, 0, "kWh", b->billed_kwh,
             rider->price_per_kwh[b->what->of_year - 1] * b->factors->riders);
  }
}

static void add_minimum(billing *b) {
  double least = b->tariff->minimum_bill_per_month * b->factors->fixed, sum = 0;
  if (!(least > 0)) return;
  sum = sum_of_parts(b, ~0u);
  if (sum < least) add_line(b, STEADING_BILL_MINIMUM, NULL, 0, "month", 1, least - sum);
}

static void add_taxes(billing *b) {
  const steading_list *taxes = b->tariff->taxes;
  for (size_t i = 0; taxes != NULL && i < taxes->count; i++) {
    const steading_tax *tax = (const void *)taxes->items[i];
    add_line(b, STEADING_BILL_TAX, tax->name, 0, "money", sum_of_parts(b, tax->on), tax->share);
  }
}

steading_status steading_bill_month(const steading_tariff *tariff,
                                    const steading_billed_month *what,
                                    const steading_price_factors *factors, steading_carry *carry,
                                    steading_bills *bills, steading_error *error) {
  static const steading_price_factors today = {1, 1, 1, 1};
  billing b = {.tariff = tariff,
               .what = what,
               .factors = factors != NULL ? factors : &today,
               .bills = bills,
               .first = bills->line_count};
  const steading_list *periods = tariff->energy->periods;
  size_t buckets = periods == NULL ? 1 : periods->count;
  int kind = tariff->export == NULL ? STEADING_EXPORT_NONE : tariff->export->kind;
  double kwh[STEADING_MOST_BUCKETS];
  steading_credit credit = {.unit = NULL};
  if (what->bucket_count != buckets)
    return steading_fail(error, STEADING_BAD_INPUT, "tariff.energy",
                         "%zu periods, but the run counted %zu", buckets, what->bucket_count);
  for (size_t i = 0; i < buckets; i++) kwh[i] = what->buckets[i].import_kwh;
  if (kind == STEADING_EXPORT_NET_METERING) offset_kwh(&b, carry, kwh, &credit);
  for (size_t i = 0; i < buckets; i++) b.billed_kwh += kwh[i];
  add_fixed(&b);
  add_energy(&b, kwh);
  b.energy = sum_of_parts(&b, 1u << STEADING_BILL_ENERGY);
  add_riders(&b);
  if (kind == STEADING_EXPORT_NET_BILLING) credit_money(&b, carry, &credit);
  add_minimum(&b);
  add_taxes(&b);
  if (kind != STEADING_EXPORT_NONE) {
    true_up(&b, carry, &credit);
    add_credit(&b, &credit);
  }
  if (b.no_memory) return steading_fail(error, STEADING_NO_MEMORY, "bills", "not enough memory");
  return STEADING_OK;
}

/* --- the bills of a run ------------------------------------------------------------------------
 */

static const steading_tariff *tariff_of(const steading_run *run, size_t meter) {
  const steading_meter *found = steading_map_at(run->site->meters, run->meters[meter].name);
  return found == NULL ? NULL : found->tariff;
}

steading_status steading_run_bills(const steading_run *run, size_t months,
                                   const steading_price_factors *factors, steading_bills **out,
                                   steading_error *error) {
  steading_bills *bills = calloc(1, sizeof *bills);
  steading_carry *carry = calloc(run->meter_count + 1, sizeof *carry);
  steading_status status = STEADING_OK;
  *out = NULL;
  if (bills == NULL || carry == NULL) {
    free(bills);
    free(carry);
    return steading_fail(error, STEADING_NO_MEMORY, "bills", "not enough memory");
  }
  if (months > run->month_count) months = run->month_count;
  for (size_t i = 0; i < months * run->meter_count && status == STEADING_OK; i++) {
    size_t month = i / run->meter_count, meter = i % run->meter_count;
    const steading_metered *metered = &run->meters[meter];
    const steading_tariff *tariff = tariff_of(run, meter);
    const steading_billed_month what = {.month = month,
                                        .meter = meter,
                                        .of_year = run->months[month].month,
                                        .days = steading_days_of_month(run->months[month].month),
                                        .buckets = &metered->by_month[month * metered->buckets],
                                        .bucket_count = metered->buckets};
    if (tariff == NULL) continue;
    status = steading_bill_month(tariff, &what, factors == NULL ? NULL : &factors[month / 12],
                                 &carry[meter], bills, error);
  }
  free(carry);
  if (status != STEADING_OK) {
    steading_bills_free(bills);
    return status;
  }
  *out = bills;
  return STEADING_OK;
}

void steading_bills_clear(steading_bills *bills) {
  free(bills->lines);
  free(bills->credits);
  memset(bills, 0, sizeof *bills);
}

void steading_bills_free(steading_bills *bills) {
  if (bills == NULL) return;
  steading_bills_clear(bills);
  free(bills);
}

/* The first line of a month or a later one. */
static size_t line_of_month(const steading_bills *bills, size_t month) {
  size_t low = 0, high = bills->line_count;
  while (low < high) {
    size_t middle = low + (high - low) / 2;
    if (bills->lines[middle].month < month)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

double steading_bills_sum(const steading_bills *bills, int meter, size_t first, size_t count) {
  double sum = 0;
  for (size_t i = line_of_month(bills, first);
       i < bills->line_count && bills->lines[i].month < first + count; i++)
    if (meter == STEADING_ALL_METERS || bills->lines[i].meter == (size_t)meter)
      sum += bills->lines[i].amount;
  return sum;
}

const char *steading_bill_line_text(const steading_bill_line *line, char *text, size_t size) {
  static const char *const words[] = {"energy",  "fixed_per", "rider",   "export credit",
                                      "minimum", "tax",       "cash_out"};
  const char *between = line->part == STEADING_BILL_FIXED ? "_" : " ";
  size_t used = 0;
  snprintf(text, size, "%s%s%s", words[line->part], line->name == NULL ? "" : between,
           line->name == NULL ? "" : line->name);
  used = strlen(text);
  if (line->block > 0) snprintf(text + used, size - used, " block %d", line->block);
  return text;
}

bool steading_run_is_billed(const steading_run *run) {
  for (size_t m = 0; m < run->meter_count; m++)
    if (tariff_of(run, m) == NULL) return false;
  return true;
}

/* What the hubs of a meter curtail in a year. */
static double curtailed_kwh(const steading_run *run, const char *meter) {
  const steading_map *hubs = run->site->hubs;
  double kwh = 0;
  for (size_t i = 0; hubs != NULL && i < hubs->count; i++) {
    const steading_hub *hub = (const void *)hubs->entries[i].item;
    if (hub->meter == NULL || strcmp(hub->meter, meter) != 0) continue;
    for (size_t k = 0; k < run->month_count; k++)
      kwh +=
          steading_hub_flow_of(&run->layout, run->sums + k * run->layout.width, i)->pv_curtailed *
          run->step_minutes / 60.0;
  }
  return kwh / run->years;
}

size_t steading_bill_warnings(const steading_run *run, steading_warning *warnings, size_t most) {
  steading_warning_list to = {.items = warnings, .room = most};
  for (size_t m = 0; m < run->meter_count; m++) {
    const steading_meter *meter = steading_map_at(run->site->meters, run->meters[m].name);
    const steading_export_price *export = meter->tariff == NULL ? NULL : meter->tariff->export;
    double lost = curtailed_kwh(run, run->meters[m].name);
    char path[128];
    if (!(lost > 0) || meter->export_limit_kw > 0 || export == NULL ||
        export->kind == STEADING_EXPORT_NONE)
      continue;
    snprintf(path, sizeof path, "meters.%.64s.export_limit_kw", run->meters[m].name);
    steading_warn(&to, "surplus_unsold", path,
                  "surplus of the site is thrown away, %.6g kWh a year: 0 kW may be exported "
                  "although the tariff has a price for it",
                  lost);
  }
  return steading_warnings_written(&to);
}
