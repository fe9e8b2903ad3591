#include "dispatch/sections.h"

#include "calendar.h"

size_t steading_sections_of_year(const steading_program *program, const int64_t *changes,
                                 size_t change_count, int run_year, steading_section *sections) {
  size_t a_day = program->steps_per_year / STEADING_DAYS_PER_YEAR, count = 0, next = 0;
  int64_t start = program->start_day, before = (int64_t)run_year * STEADING_DAYS_PER_YEAR;
  int start_year = 0, start_month = 0, start_day = 0;
  steading_date_of_day(start, &start_year, &start_month, &start_day);
  while (next < change_count && steading_days_between(start, changes[next]) < before) next++;
  for (int k = 0; k < 12; k++) {
    int month = (start_month - 1 + k) % 12;
    int year = start_year + run_year + (start_month - 1 + k) / 12;
    int64_t day = steading_day_number(year, month + 1, 1);
    int64_t in_year = steading_days_between(start, day) - before;
    int64_t end =
        in_year + steading_days_before_month[month + 1] - steading_days_before_month[month];
    sections[count] =
        (steading_section){.first = (size_t)in_year * a_day, .day = day, .month = month};
    for (; next < change_count; next++) {
      int64_t at = steading_days_between(start, changes[next]) - before;
      if (at >= end) break;
      if (at > in_year) {
        sections[count].count = (size_t)at * a_day - sections[count].first;
        sections[++count] =
            (steading_section){.first = (size_t)at * a_day, .day = changes[next], .month = month};
      }
      sections[count].lots_change = true;
    }
    sections[count].count = (size_t)end * a_day - sections[count].first;
    count++;
  }
  return count;
}
