/* What a hub may expect of its arrays in the hours that come: for a reserve that is raised ahead of
 * dull days.
 *
 * True future and climatology in one number: with the power P of a step and M, the mean of P over
 * the steps of the same month and hour of the day in the same year,
 *
 *   expected = sum over the next steps of (skill P + (1 - skill) M) x length of a step
 *
 * so that skill 1 is perfect foresight and skill 0 knows no more than the season. Nothing is drawn:
 * the forecast is the same in every run. It is no model of a weather service; a real one errs by
 * more on some days than on others (common practice, no source). */
#ifndef STEADING_DISPATCH_FORECAST_H
#define STEADING_DISPATCH_FORECAST_H

#include <stddef.h>

#include "demand/clock.h"

/* Energy expected of the `ahead` steps that begin with each step of a year of 8760 hours. Beyond
 * the year's end its first steps follow again.
 * pv_kw: mean power of each of the `steps` of the year, at least 0; step_minutes divides 60;
 * `civil` has the month (of standard time) of each step; ahead 1..steps; skill 0..1; `sums`: room
 * for steps + 1 numbers; kwh [steps] is the result. */
void steading_forecast_year(const double *pv_kw, size_t steps, int step_minutes,
                            const steading_civil_step *civil, size_t ahead, double skill,
                            double *sums, double *kwh);

#endif
