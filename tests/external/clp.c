#include "external/clp.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const char *skipped = "";

START_TEST(skipped_without_clp) {
  printf("SKIPPED external/%s: package coinor-libclp-dev is not installed\n", skipped);
  fflush(stdout);
}
END_TEST

Suite *clp_suite_skipped(const char *name) {
  Suite *suite = suite_create(name);
  TCase *tests = tcase_create(name);
  skipped = name;
  tcase_add_test(tests, skipped_without_clp);
  suite_add_tcase(suite, tests);
  return suite;
}

Suite *clp_suite_with(const char *name, void (*add_tests)(TCase *tests), double seconds) {
  Suite *suite = suite_create(name);
  TCase *tests = tcase_create(name);
  add_tests(tests);
  tcase_set_timeout(tests, seconds);
  suite_add_tcase(suite, tests);
  return suite;
}

#ifdef HAVE_CLP

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wstrict-prototypes"
#pragma GCC diagnostic ignored "-Wundef"
#include <Clp_C_Interface.h>
#pragma GCC diagnostic pop

struct clp_programme {
  int rows, columns, entries, column_room, entry_room;
  int *start, *row;
  double *value, *cost, *lowest, *highest, *at_least, *at_most;
};

static void *grown(void *array, int count, size_t size) {
  void *more = realloc(array, (size_t)count * size);
  if (more == NULL) ck_abort_msg("not enough memory");
  return more;
}

clp_programme *clp_new(int rows) {
  clp_programme *p = calloc(1, sizeof *p);
  if (p == NULL) ck_abort_msg("not enough memory");
  p->rows = rows;
  p->at_least = grown(NULL, rows, sizeof *p->at_least);
  p->at_most = grown(NULL, rows, sizeof *p->at_most);
  for (int r = 0; r < rows; r++) clp_row(p, r, -HUGE_VAL, HUGE_VAL);
  return p;
}

void clp_row(clp_programme *p, int row, double at_least, double at_most) {
  p->at_least[row] = at_least;
  p->at_most[row] = at_most;
}

void clp_column(clp_programme *p, double lowest, double highest, double cost) {
  if (p->columns + 1 >= p->column_room) {
    p->column_room = 2 * p->column_room + 64;
    p->start = grown(p->start, p->column_room, sizeof *p->start);
    p->cost = grown(p->cost, p->column_room, sizeof *p->cost);
    p->lowest = grown(p->lowest, p->column_room, sizeof *p->lowest);
    p->highest = grown(p->highest, p->column_room, sizeof *p->highest);
  }
  p->start[p->columns] = p->entries;
  p->cost[p->columns] = cost;
  p->lowest[p->columns] = lowest;
  p->highest[p->columns++] = highest;
}

void clp_entry(clp_programme *p, int row, double value) {
  if (row < 0 || row >= p->rows || p->columns == 0) ck_abort_msg("no row %d", row);
  if (p->entries == p->entry_room) {
    p->entry_room = 2 * p->entry_room + 64;
    p->row = grown(p->row, p->entry_room, sizeof *p->row);
    p->value = grown(p->value, p->entry_room, sizeof *p->value);
  }
  p->row[p->entries] = row;
  p->value[p->entries++] = value;
}

double clp_least_cost(clp_programme *p) {
  Clp_Simplex *model = Clp_newModel();
  double cost = 0;
  if (p->columns == 0) ck_abort_msg("no column");
  p->start[p->columns] = p->entries;
  Clp_setLogLevel(model, 0);
  Clp_loadProblem(model, p->columns, p->rows, p->start, p->row, p->value, p->lowest, p->highest,
                  p->cost, p->at_least, p->at_most);
  Clp_initialDualSolve(model);
  if (Clp_status(model) != 0) ck_abort_msg("the programme has status %d", Clp_status(model));
  cost = Clp_objectiveValue(model);
  Clp_deleteModel(model);
  free(p->start);
  free(p->row);
  free(p->value);
  free(p->cost);
  free(p->lowest);
  free(p->highest);
  free(p->at_least);
  free(p->at_most);
  free(p);
  return cost;
}

#endif
