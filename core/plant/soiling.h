/* What dirt takes, from how fast it settles and how often it rains.
 *
 * After a cleaning rain (or a wash) a module is clean; then it loses `per_day` of its light for
 * every dry day, up to `most`: a sawtooth. Kimber, Mitchell, Nogradi and Wenger 2006, "The effect
 * of soiling on large grid-connected photovoltaic systems in California and the southwest region of
 * the United States", IEEE WCPEC-4, 2391-2395 (from memory), who find about 0.002 a day in the dry
 * season. Their days of grace after a rain are left out. Loss is that of all light alike, and of
 * dirt alone: a share of snow is given by month. */
#ifndef STEADING_PLANT_SOILING_H
#define STEADING_PLANT_SOILING_H

/* Mean loss, share 0..most, over a month of equal dry spells of `rain_free_days` (>= 0) that each
 * begin clean: per_day rain_free_days / 2 while that is below the limit. per_day 0..1, most 0..1.
 * Where spells differ, the mean is that of a spell of (sum of their squares) / (sum of them). A dry
 * season of several months is not this: see the next. */
double steading_soiling_share(double per_day, double rain_free_days, double most);

/* Mean loss over `days` (> 0) dry days that begin `dry_before_days` (>= 0) after the last cleaning:
 * a month in the middle of a dry season. */
double steading_soiling_dry_share(double per_day, double dry_before_days, double days, double most);

#endif
