/* The parts of a year between which parameters change: months, and days on which lots arrive or
 * leave. */
#ifndef STEADING_DISPATCH_SECTIONS_H
#define STEADING_DISPATCH_SECTIONS_H

#include "dispatch/program.h"

typedef struct steading_section {
  size_t first, count; /* steps of the year of the run */
  int64_t day;         /* the real date of its beginning */
  int month;           /* 0..11 */
  bool lots_change;    /* lots arrive or leave at its beginning */
} steading_section;

enum { STEADING_MOST_SECTIONS = 12 + 366 };

/* The sections of year `run_year` (0..) of a run, at most STEADING_MOST_SECTIONS; returns how many.
 * `changes` are the days of steading_program_changes. */
size_t steading_sections_of_year(const steading_program *program, const int64_t *changes,
                                 size_t change_count, int run_year, steading_section *sections);

#endif
