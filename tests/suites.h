/* One line a suite; tests/run.c runs them all under one runner. */
#ifndef STEADING_TESTS_SUITES_H
#define STEADING_TESTS_SUITES_H

#include <check.h>

Suite *calendar_suite(void);
Suite *random_suite(void);
Suite *sun_suite(void);
Suite *sky_suite(void);
Suite *epw_suite(void);
Suite *synthesis_suite(void);
Suite *erfa_suite(void);
Suite *money_suite(void);
Suite *files_suite(void);
Suite *table_suite(void);
Suite *zone_suite(void);
Suite *journal_suite(void);

#endif
