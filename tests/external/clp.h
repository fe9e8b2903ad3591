/* Linear programmes for tests, solved by Clp (package coinor-libclp-dev), and the suites that need
 * it: without the package these hold one test, which says so. */
#ifndef STEADING_TESTS_CLP_H
#define STEADING_TESTS_CLP_H

#include <check.h>

/* Columns are added one after the other, each with its entries after it. */
typedef struct clp_programme clp_programme;

clp_programme *clp_new(int rows);

/* Bounds of a row, without which it is any number; HUGE_VAL: none. */
void clp_row(clp_programme *p, int row, double at_least, double at_most);

void clp_column(clp_programme *p, double lowest, double highest, double cost);
void clp_entry(clp_programme *p, int row, double value); /* of the last column */

/* The least cost, which must exist; frees the programme. */
double clp_least_cost(clp_programme *p);

Suite *clp_suite_with(const char *name, void (*add_tests)(TCase *tests), double seconds);
Suite *clp_suite_skipped(const char *name);

#ifdef HAVE_CLP
#define CLP_SUITE(name, add_tests, seconds) clp_suite_with(name, add_tests, seconds)
#else
#define CLP_SUITE(name, add_tests, seconds) clp_suite_skipped(name)
#endif

#endif
