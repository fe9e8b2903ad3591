/* A year of sun and load that is made by a few lines of arithmetic, so that anybody can make it
 * again in any language: for comparisons with other programs. Nothing in it is measured. */
#ifndef STEADING_TESTS_REFERENCE_YEAR_H
#define STEADING_TESTS_REFERENCE_YEAR_H

enum { REFERENCE_HOURS = 8760 };

/* Mean power in kW of every hour, rounded to three decimals as it would stand in a table: a 5 kW
 * array at latitude 33.4 under changing cloud, and a load with peaks at 7 h, 14 h and 19 h. */
void reference_year(double pv_kw[REFERENCE_HOURS], double load_kw[REFERENCE_HOURS]);

#endif
