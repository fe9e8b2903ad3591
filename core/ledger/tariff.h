/* Tariffs: what dispatch must count for them, and the bills of what it counted.
 *
 * What dispatch counts is import and export by civil month and bucket, a bucket for each period of
 * the tariff. A bill is a list of lines; its total is the sum of their amounts in their order, and
 * nothing else. What exported energy earns can be carried from month to month, so that the bills of
 * a meter are made in order.
 *
 * Order of a month's lines: fixed charges, energy, riders, credit for export, what is missing to
 * the minimum bill, taxes, and what a true-up pays out. */
#ifndef STEADING_LEDGER_TARIFF_H
#define STEADING_LEDGER_TARIFF_H

#include "dispatch/run.h"
#include "site/fields.h"
#include "status.h"

/* --- what dispatch counts ----------------------------------------------------------------------
 */

/* Compile a tariff to the bucket of every step of `step_minutes` (60, 30, 15, 10, 5 or 1). A period
 * that begins or ends inside a step is BAD_INPUT with the longest step that fits; paths are below
 * "tariff". Free with steading_meter_plan_free. */
steading_status steading_tariff_plan(const steading_tariff *tariff, int step_minutes,
                                     steading_meter_plan *plan, steading_error *error);

/* The plans of all meters of a site, in the order of site.meters, one bucket where a meter has no
 * tariff; paths are those of the site. *plans has as many as there are meters (NULL: none); free
 * with steading_site_plans_free. */
steading_status steading_site_plans(const steading_site *site, int step_minutes,
                                    steading_meter_plan **plans, steading_error *error);
void steading_site_plans_free(const steading_site *site, steading_meter_plan *plans);

/* --- bills -------------------------------------------------------------------------------------
 */

typedef enum steading_bill_part {
  STEADING_BILL_ENERGY, /* the first five in the order of the words of taxes.on */
  STEADING_BILL_FIXED,
  STEADING_BILL_RIDER,
  STEADING_BILL_EXPORT,
  STEADING_BILL_MINIMUM,
  STEADING_BILL_TAX,
  STEADING_BILL_CASH_OUT
} steading_bill_part;

/* amount = quantity * price, in the tariff's currency. */
typedef struct steading_bill_line {
  size_t month, meter; /* as given to steading_bill_month */
  steading_bill_part part;
  const char *name; /* of the period, rider or tax, owned by the tariff; NULL where it has none */
  int block;        /* from 1; 0 without blocks */
  const char *unit;
  double quantity, price, amount;
} steading_bill_line;

/* Credit for export of a month: opening + added - used - expired - paid_out = closing. */
typedef struct steading_credit {
  size_t month, meter;
  const char *unit; /* "kWh" with net metering, "money" with net billing */
  double opening, added, used, expired, paid_out, closing;
} steading_credit;

/* Lines and credits, months in order and within a month meters in order. */
typedef struct steading_bills {
  size_t line_count, line_room, credit_count, credit_room;
  steading_bill_line *lines;
  steading_credit *credits;
} steading_bills;

/* What is carried to the next month of one meter; all zero at the start. */
typedef struct steading_carry {
  double kwh[STEADING_MOST_BUCKETS], money;
} steading_carry;

/* Factors on today's prices; a tax has none, it follows its lines. */
typedef struct steading_price_factors {
  double energy, riders, fixed, export;
} steading_price_factors;

/* One month of one meter. */
typedef struct steading_billed_month {
  size_t month, meter; /* kept in the lines */
  int of_year;         /* 1..12 */
  double days;         /* that daily charges and blocks count */
  const steading_bucket *buckets;
  size_t bucket_count; /* that of the tariff's plan; another number is BAD_INPUT */
} steading_billed_month;

/* Append the lines of a month. `factors` NULL: today's prices. */
steading_status steading_bill_month(const steading_tariff *tariff,
                                    const steading_billed_month *what,
                                    const steading_price_factors *factors, steading_carry *carry,
                                    steading_bills *bills, steading_error *error);

/* The bills of the first `months` months (at most those of the run) of all meters that have a
 * tariff; `meter` of a line is the place in run->meters. `factors`, where given, has one for each
 * year of the run; NULL: today's prices. On success the caller frees them. */
steading_status steading_run_bills(const steading_run *run, size_t months,
                                   const steading_price_factors *factors, steading_bills **bills,
                                   steading_error *error);
void steading_bills_clear(steading_bills *bills); /* its lists, not the struct */
void steading_bills_free(steading_bills *bills);

enum { STEADING_ALL_METERS = -1 };

/* The sum, in their order, of the lines of months first..first + count - 1. */
double steading_bills_sum(const steading_bills *bills, int meter, size_t first, size_t count);

/* "energy peak block 2", "rider power cost" ...: what the bill calls the line. */
const char *steading_bill_line_text(const steading_bill_line *line, char *text, size_t size);

/* Whether every meter of the run has a tariff (also when there is no meter). */
bool steading_run_is_billed(const steading_run *run);

/* Days of month 1..12: 28 in February. */
int steading_days_of_month(int month);

/* Things of a run that are usually a mistake: surplus that is thrown away although the tariff has a
 * price for export. Writes at most `most`; returns how many. */
size_t steading_bill_warnings(const steading_run *run, steading_warning *warnings, size_t most);

#endif
