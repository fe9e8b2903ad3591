/* The loop that the main job is measured against: sun, load, battery and grid, nothing else.
 *
 *   bare loop YEARS   best time of the loop alone, in seconds, over years of the reference year
 *   bare epw FILE     write a weather file with an invented sky, for timing the reader
 *   bare time N COMMAND ARGUMENT ...   least wall time of N runs of a command, in seconds, from the
 *                     start of its process to its end; its output is thrown away
 */
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "reference_year.h"

extern char **environ;

enum { HOURS = 8760 };

static double now_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Sun, then battery down to a floor of 0.2, then grid; sun and battery lose a little every year. */
static double bare_loop(const double *pv, const double *load, int years, double *first_import) {
  double stored = 6.75, total = 0, sun = 1, health = 1;
  for (int year = 0; year < years; year++) {
    double capacity = 13.5 * health, floor = 0.2 * capacity, import = 0;
    if (stored > capacity) stored = capacity;
    for (int h = 0; h < HOURS; h++) {
      double net = pv[h] * sun - load[h];
      if (net >= 0) {
        double charge = net < 5 ? net : 5, room = (capacity - stored) / 0.95;
        if (room < charge) charge = room;
        stored += charge * 0.95;
      } else {
        double need = -net, give = need < 5 ? need : 5, have = (stored - floor) * 0.95;
        if (have < give) give = have;
        if (give < 0) give = 0;
        stored -= give / 0.95;
        import += need - give;
      }
    }
    if (year == 0) *first_import = import;
    total += import;
    sun *= 0.995;
    health *= 0.99;
  }
  return total;
}

static int time_loop(int years) {
  static double pv[HOURS], load[HOURS];
  double best = 1e9, first = 0, total = 0;
  reference_year(pv, load);
  for (int i = 0; i < 50; i++) {
    double start = now_s();
    total = bare_loop(pv, load, years, &first);
    if (now_s() - start < best) best = now_s() - start;
  }
  fprintf(stderr, "bare loop: first year %.6f kWh, %d years %.3f kWh\n", first, years, total);
  printf("%.9f\n", best);
  return 0;
}

static int write_epw(const char *path) {
  static const int days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  FILE *f = fopen(path, "w");
  int day_of_year = 0;
  if (f == NULL) return 1;
  fputs("LOCATION,INVENTED PLAIN,-,-,invented,000000,35.00,-106.00,-7.0,1600.0\n"
        "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,invented\n"
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n",
        f);
  for (int m = 0; m < 12; m++)
    for (int d = 1; d <= days[m]; d++, day_of_year++)
      for (int h = 1; h <= 24; h++) {
        double declination = -0.409 * cos(2 * M_PI * (day_of_year + 10) / 365);
        double angle = M_PI * (h - 0.5 - 12) / 12, latitude = 0.611;
        double up = sin(latitude) * sin(declination) +
                    cos(latitude) * cos(declination) * cos(angle);
        double ghi = up > 0 ? 1000 * up * (0.4 + 0.35 * (day_of_year % 4 != 0)) : 0;
        fprintf(f,
                "2031,%d,%d,%d,60,?9?9?9?9E0?9?9?9?9?9?9?9?9?9?9?9?9?9?9?9*9*9?9?9?9,%.1f,2.0,40,"
                "83000,0,0,300,%.0f,%.0f,%.0f,0,0,0,0,180,2.0,5,5,16.1,77777,9,999999999,10,0.0,"
                "0,88,0.2,0.0,1.0\n",
                m + 1, d, h, 12 - 10 * cos(2 * M_PI * (day_of_year - 15) / 365) - 6 * cos(angle),
                ghi, 0.0, ghi * 0.4);
      }
  return fclose(f);
}

static int time_command(int runs, char **command) {
  posix_spawn_file_actions_t actions;
  double best = 1e9;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  for (int i = 0; i < runs; i++) {
    double start = now_s();
    pid_t child = 0;
    int status = 0;
    if (posix_spawnp(&child, command[0], &actions, NULL, command, environ) != 0 ||
        waitpid(child, &status, 0) < 0 || status != 0) {
      fprintf(stderr, "bare: %s did not run\n", command[0]);
      return 1;
    }
    if (now_s() - start < best) best = now_s() - start;
  }
  posix_spawn_file_actions_destroy(&actions);
  printf("%.9f\n", best);
  return 0;
}

int main(int argc, char **argv) {
  if (argc >= 4 && strcmp(argv[1], "time") == 0) return time_command(atoi(argv[2]), argv + 3);
  if (argc == 3 && strcmp(argv[1], "loop") == 0) return time_loop(atoi(argv[2]));
  if (argc == 3 && strcmp(argv[1], "epw") == 0) return write_epw(argv[2]);
  fputs("usage: bare loop YEARS | bare epw FILE | bare time N COMMAND ...\n", stderr);
  return 2;
}
