/* Dates of the real calendar, and the year of 8760 hours that runs and weather use.
 *
 * A day is a count of days from 1970-01-01 in the proleptic Gregorian calendar. A year of a run
 * has 365 days: 29 February does not exist in it, 28 February is followed by 1 March, and both
 * keep the weekday that the real calendar gives them. */
#ifndef STEADING_CALENDAR_H
#define STEADING_CALENDAR_H

#include <stdbool.h>
#include <stdint.h>

enum { STEADING_HOURS_PER_YEAR = 8760, STEADING_DAYS_PER_YEAR = 365 };

/* Days before the first of each month in a year of 365 days; [12] is 365. */
extern const int steading_days_before_month[13];

/* Day number of a date; month 1..12, day 1..31 (not checked: 2027-02-30 counts on into March). */
int64_t steading_day_number(int year, int month, int day);

/* The date of a day number. */
void steading_date_of_day(int64_t day_number, int *year, int *month, int *day);

/* Whether such a date exists. */
bool steading_date_exists(int year, int month, int day);

/* Weekday of a day number: 0 Monday .. 6 Sunday. */
int steading_weekday(int64_t day_number);

/* Years from one day to another, in years of 365 days: whole from a date to the same date of another
 * year, whatever leap days lie between; negative when `to` is before `from`. */
double steading_years_between(int64_t from, int64_t to);

/* Days from one day to another in years of 365 days; 29 February counts as the 28th. */
int64_t steading_days_between(int64_t from, int64_t to);

/* Month 1..12 and day of month of day 0..364 in a year of 365 days. */
void steading_month_of_day(int day_of_year, int *month, int *day);

#endif
