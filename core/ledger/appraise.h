/* The judgement of one plan against another: purchases, bills and what is left, year by year.
 *
 * Money falls due at the end of a year of the run: flow 0 is now, flow k the end of year k. Each
 * flow is the plan's minus the other's. Definitions: NIST Handbook 135 (1995), ASTM E917 and E1121.
 *
 *   purchases      lots and works at their date, with small items and labour; what was in service
 *                  before the run is paid already
 *   replacements   at the end of each life that falls before the horizon, price and labour changed
 *                  by the trend; without small items. A battery that ages is bought again at
 *                  the beginning of the year in which the run replaced it
 *   bill saving    the other's bill minus the plan's; prices of year k are today's times
 *                  (1 + escalation)^(k - 1), each line by its own escalation, before the bill is
 *                  made: caps, credits and taxes follow from that year's prices
 *   upkeep         a generator's services, in the year in which they fall due (fuel.h)
 *   fuel saving    the other's fuel, fees and fixed costs of fuels minus the plan's, each fuel by
 *                  its escalation
 *   salvage        when the lot retires or at the end of the horizon, a share of the last price
 *                  paid */
#ifndef STEADING_LEDGER_APPRAISE_H
#define STEADING_LEDGER_APPRAISE_H

#include "dispatch/run.h"
#include "ledger/money.h"
#include "site/fields.h"
#include "site/site.h"
#include "status.h"

/* One thing bought by the plan. */
typedef struct steading_purchase {
  char item[128];
  int plan_year; /* 0 at the start, k at the end of year k */
  bool replacement;
  double parts, small_items, labour;
} steading_purchase;

typedef struct steading_cash_year {
  double purchases, replacements, upkeep, bill_saving, fuel_saving, salvage, net, cumulative,
      discounted_cumulative;
} steading_cash_year;

/* A number, or NaN and the reason why there is none. */
typedef struct steading_answer {
  double value;
  const char *why; /* NULL where there is a value */
} steading_answer;

/* Which rise of prices went to which lines of the bill. */
typedef struct steading_escalation_use {
  const char *lines, *escalation; /* "riders", "energy" ... */
  double first;                   /* from the first year to the second; NaN: follows other lines */
  double last_factor;             /* prices of the last year of the horizon over today's */
} steading_escalation_use;

enum {
  STEADING_ESCALATION_USES = 7 + STEADING_MOST_FUELS,
  STEADING_MOST_NOTES = 24
};

typedef struct steading_verdict {
  int horizon_years;
  steading_cash_year *years; /* [horizon_years + 1] */
  steading_purchase *bought; /* by the plan, in order of time and path */
  size_t bought_count;
  double first_cost; /* what the plan costs at the start beyond the other */
  double net_present_value;
  double life_cycle_cost;        /* present value of all the plan's own costs */
  double equivalent_annual_cost; /* the level yearly payment worth as much */
  steading_answer savings_to_investment, adjusted_internal_rate_of_return;
  steading_answer lcoe_per_kwh; /* life_cycle_cost over the present value of the energy served */
  double internal_rate_of_return, simple_payback_years, discounted_payback_years;
  steading_money_answer irr_answer, simple_answer, discounted_answer;
  bool simple_again_below, discounted_again_below; /* falls below zero again later */
  /* the names of fuels are those of the plan's site */
  steading_escalation_use escalations[STEADING_ESCALATION_USES];
  size_t escalation_count;
  steading_warning warnings[STEADING_MOST_NOTES];
  size_t warning_count;
} steading_verdict;

/* Both runs must start in the same month and be at least horizon_years long. On success the caller
 * frees the verdict with steading_verdict_clear. */
steading_status steading_appraise(const steading_run *plan, const steading_run *against,
                                  const steading_money *money, steading_verdict *verdict,
                                  steading_error *error);
void steading_verdict_clear(steading_verdict *verdict);

#endif
