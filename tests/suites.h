/* The suites of tests/suites.list, one line each; tests/run.c runs them all under one runner. */
#ifndef STEADING_TESTS_SUITES_H
#define STEADING_TESTS_SUITES_H

#include <check.h>

#define SUITE(name) Suite *name##_suite(void);
#include "suites.list"
#undef SUITE

#endif
