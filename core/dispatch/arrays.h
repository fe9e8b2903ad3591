/* The arrays of a run: what the sun gives each hub in every step of a year. */
#ifndef STEADING_DISPATCH_ARRAYS_H
#define STEADING_DISPATCH_ARRAYS_H

#include "dispatch/program.h"
#include "dispatch/sections.h"
#include "plant/array.h"
#include "plant/inverter.h"
#include "resource/weather.h"
#include "status.h"

/* One array of a hub. */
typedef struct steading_array_part {
  const steading_array *array;
  size_t hub, index; /* which of the hub's arrays */
  steading_yield_series yield;
  bool ac_coupled;
  steading_inverter_curve own; /* of its own inverters, per kW of rating; where ac_coupled */
} steading_array_part;

typedef struct steading_arrays steading_arrays;

/* Work out the yields of all arrays. The program and its weather outlive it. BAD_INPUT where the
 * weather lacks what a model asks for, NO_MEMORY. */
steading_status steading_arrays_gather(const steading_program *program, steading_weather *weather,
                                       steading_arrays **arrays, steading_error *error);
void steading_arrays_free(steading_arrays *arrays);

size_t steading_arrays_count(const steading_arrays *arrays);
const steading_array_part *steading_arrays_part(const steading_arrays *arrays, size_t i);

/* Whether any array's strings stand on an input. */
bool steading_arrays_on_inputs(const steading_arrays *arrays);

/* Whether any array is AC-coupled. */
bool steading_arrays_ac_coupled(const steading_arrays *arrays);

/* What AC-coupled arrays give in year `run_year`, kW, each [hubs][steps per year]: AC power that
 * their own inverters could give, the DC power behind it, and what they could have given more, DC,
 * without the limit of these inverters and where these sleep. Not to be called without any. */
void steading_arrays_ac_year(const steading_arrays *arrays, int run_year,
                             const steading_section *sections, size_t count, double *ac_kw,
                             double *dc_kw, double *clipped_kw);

/* DC power of year `run_year`, kW, of all arrays that are not AC-coupled. pv_kw is [hubs][steps per
 * year]: what inputs take in, and all that arrays without strings give. held_kw, in the same form,
 * is what strings could have given more at their common voltage without the input's window and
 * limits; NULL when no array stands on an input. apart_kw, in the same form, may be NULL: what
 * unequal strings would give more, each at a voltage of its own. */
void steading_arrays_year(const steading_arrays *arrays, int run_year,
                          const steading_section *sections, size_t count, double *pv_kw,
                          double *held_kw, double *apart_kw);

/* kW of an array's modules on a day in month 0..11 of year `run_year`: kw[0] at standard test
 * conditions, kw[k + 1] what the losses up to k leave of it, by lots of different age. */
void steading_array_part_kw(const steading_array_part *part, int64_t day, int64_t start_day,
                            int month, int run_year, double kw[1 + STEADING_ARRAY_LOSSES]);

/* Minute of the weather at which year `run_year` of a program begins. */
size_t steading_arrays_start_minute(const steading_program *program, int run_year);

#endif
