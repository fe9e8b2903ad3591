/* Fuels of a generator, what it burns at part load, and what altitude and heat leave of its power.
 *
 * Fuel is counted in litres: of the liquid, or of gas at the conditions of the trade's cubic foot
 * (60 F, 1 atmosphere), a thousandth of a cubic metre. Energy contents are gross (higher heating
 * values), as fuel is sold.
 *
 * What a set burns in an hour is taken as linear in its power, with a part that is burnt at no
 * load:
 *
 *   l/h = no_load_l_per_h + l_per_kwh * kW
 *
 * the form of Skarstein and Uhlen 1989 (Wind Engineering 13; from memory), who gave 0.08415 l/h for
 * each kW of rating and 0.246 l/kWh for diesel sets. Below a least load a set is taken to burn as
 * much as there. */
#ifndef STEADING_PLANT_FUEL_H
#define STEADING_PLANT_FUEL_H

#include <stdbool.h>
#include <stddef.h>

#include "site/fields.h"

/* A fuel that is known by its name. */
typedef struct steading_fuel_content {
  const char *name; /* "propane", "natural_gas", "petrol", "diesel" */
  double kwh_per_l; /* gross */
  double kg_per_l;
  bool gas;       /* a litre is one of gas, and a pipe brings it */
  double full_to; /* share to which a tank of it is filled */
} steading_fuel_content;

/* The known fuel of this name, or NULL. */
const steading_fuel_content *steading_fuel_known(const char *name);

/* Gross energy of a litre of a site's fuel called `name`: what the record gives, else what is known
 * of the name; 0 where it is neither, which the site's checks refuse. */
double steading_fuel_kwh_per_l(const char *name, const steading_fuel *fuel);

/* Units of the trade. */
#define STEADING_LITRES_PER_GALLON 3.785411784       /* US gallon, exact */
#define STEADING_LITRES_PER_CUBIC_FOOT 28.316846592  /* exact */
#define STEADING_KG_PER_POUND 0.45359237             /* exact */
#define STEADING_KWH_PER_BTU (1055.05585262 / 3.6e6) /* international table */

/* What a set burns. Powers in kW >= 0. */
typedef struct steading_fuel_curve {
  double no_load_l_per_h; /* >= 0 */
  double l_per_kwh;       /* >= 0 */
  double least_kw;        /* at less it burns as at this */
} steading_fuel_curve;

/* Litres burnt in `hours` of running that give `kwh`. 0 for no hours. */
double steading_fuel_burnt_l(const steading_fuel_curve *curve, double hours, double kwh);

/* Least squares through `count` points of a data sheet (kW, litres an hour); false where they do
 * not fix a line: fewer than two powers, or a line that falls, or that begins below zero. */
bool steading_fuel_curve_through(size_t count, const double *kw, const double *l_per_h,
                                 steading_fuel_curve *curve);

/* Share of the rated power of a unit that is left at an altitude and an air temperature: the
 * product of what each leaves, each falling in a straight line beyond where its fall begins; never
 * below 0. Makers' manuals of sets without a turbocharger give 3 to 3.5 % per 1000 ft and 1 % per
 * 10 F above 77 F. */
double steading_generator_power_share(const steading_generator_unit *unit, double elevation_m,
                                      double temp_c);

#endif
