#include "resource/stamp.h"

#include <stddef.h>
#include <string.h>

#include "calendar.h"

typedef struct parts {
  int year, month, day, day_of_year, hour, minute, second, half; /* half of the day: 1 am, 2 pm */
  bool has_offset;
  int offset_min;
} parts;

/* At least `least` digits, at most `most`. */
static bool digits(const char **at, const char *end, int least, int most, int *value) {
  int count = 0;
  *value = 0;
  while (*at < end && count < most && **at >= '0' && **at <= '9') {
    *value = *value * 10 + (**at - '0');
    ++*at;
    count++;
  }
  return count >= least;
}

static void skip_fraction(const char **at, const char *end) {
  if (*at + 1 >= end || (**at != '.' && **at != ',')) return;
  for (++*at; *at < end && **at >= '0' && **at <= '9';) ++*at;
}

/* Z, +02, +0200 or +02:00. */
static bool read_offset(const char **at, const char *end, parts *p) {
  int hours = 0, minutes = 0;
  bool negative = false;
  if (*at >= end) return false;
  p->has_offset = true;
  if (**at == 'Z' || **at == 'z') {
    ++*at;
    p->offset_min = 0;
    return true;
  }
  if (**at != '+' && **at != '-') return false;
  negative = *(*at)++ == '-';
  if (!digits(at, end, 2, 2, &hours)) return false;
  if (*at < end && **at == ':') ++*at;
  if (*at < end && !digits(at, end, 2, 2, &minutes)) return false;
  p->offset_min = hours * 60 + minutes;
  if (negative) p->offset_min = -p->offset_min;
  return hours <= 15 && minutes < 60;
}

static bool whole(const parts *p, steading_stamp *stamp) {
  int64_t day = 0;
  int hour = p->hour;
  if (p->half != 0) {
    if (hour < 1 || hour > 12) return false;
    hour = hour % 12 + (p->half == 2 ? 12 : 0);
  }
  if (hour > 24 || p->minute > 59 || p->second > 59 ||
      (hour == 24 && (p->minute > 0 || p->second > 0)))
    return false;
  if (p->day_of_year > 0) {
    int year = 0, month = 0, day_of_month = 0;
    day = steading_day_number(p->year, 1, 1) + p->day_of_year - 1;
    steading_date_of_day(day, &year, &month, &day_of_month);
    if (year != p->year) return false;
  } else {
    if (!steading_date_exists(p->year, p->month, p->day)) return false;
    day = steading_day_number(p->year, p->month, p->day);
  }
  stamp->second = day * 86400 + hour * 3600 + p->minute * 60 + p->second;
  stamp->has_offset = p->has_offset;
  stamp->offset_min = p->offset_min;
  return true;
}

static bool read_half(const char **at, const char *end, parts *p) {
  if (end - *at < 2 || ((*at)[1] != 'm' && (*at)[1] != 'M')) return false;
  if (**at == 'a' || **at == 'A')
    p->half = 1;
  else if (**at == 'p' || **at == 'P')
    p->half = 2;
  *at += 2;
  return p->half != 0;
}

static bool read_part(char letter, const char **at, const char *end, parts *p) {
  bool fine = false;
  switch (letter) {
    case 'Y':
      return digits(at, end, 4, 4, &p->year);
    case 'y':
      fine = digits(at, end, 2, 2, &p->year);
      p->year += p->year < 69 ? 2000 : 1900; /* POSIX */
      return fine;
    case 'm':
      return digits(at, end, 1, 2, &p->month);
    case 'd':
      return digits(at, end, 1, 2, &p->day);
    case 'j':
      return digits(at, end, 1, 3, &p->day_of_year) && p->day_of_year > 0;
    case 'H':
    case 'I':
      return digits(at, end, 1, 2, &p->hour);
    case 'M':
      return digits(at, end, 1, 2, &p->minute);
    case 'S':
      fine = digits(at, end, 1, 2, &p->second);
      skip_fraction(at, end);
      return fine;
    case 'p':
      return read_half(at, end, p);
    case 'z':
      return read_offset(at, end, p);
    default:
      return false;
  }
}

static bool is_blank(char c) { return c == ' ' || c == '\t'; }

static bool read_by_format(const char *at, const char *end, const char *format, parts *p) {
  for (; *format != '\0'; format++) {
    if (is_blank(*format)) {
      while (at < end && is_blank(*at)) at++;
    } else if (*format == '%' && format[1] != '%') {
      if (!read_part(*++format, &at, end, p)) return false;
    } else {
      format += *format == '%';
      if (at >= end || *at++ != *format) return false;
    }
  }
  return at == end;
}

static bool read_iso(const char *at, const char *end, parts *p) {
  if (!digits(&at, end, 4, 4, &p->year) || at >= end || *at++ != '-' ||
      !digits(&at, end, 2, 2, &p->month) || at >= end || *at++ != '-' ||
      !digits(&at, end, 2, 2, &p->day) || at >= end || (*at != 'T' && *at != ' '))
    return false;
  at++;
  if (!digits(&at, end, 2, 2, &p->hour) || at >= end || *at++ != ':' ||
      !digits(&at, end, 2, 2, &p->minute))
    return false;
  if (at < end && *at == ':') {
    at++;
    if (!digits(&at, end, 2, 2, &p->second)) return false;
    skip_fraction(&at, end);
  }
  while (at < end && is_blank(*at)) at++;
  if (at < end && !read_offset(&at, end, p)) return false;
  return at == end;
}

bool steading_stamp_format_known(const char *format) {
  bool year = false, month = false, day = false, of_year = false, hour = false, half = false;
  bool twelve = false;
  for (; *format != '\0'; format++) {
    if (*format != '%') continue;
    format++;
    if (*format == '\0' || strchr("YymdjHIpMSz%", *format) == NULL) return false;
    year = year || *format == 'Y' || *format == 'y';
    month = month || *format == 'm';
    day = day || *format == 'd';
    of_year = of_year || *format == 'j';
    hour = hour || *format == 'H';
    twelve = twelve || *format == 'I';
    half = half || *format == 'p';
  }
  return year && ((month && day) || of_year) && hour != twelve && half == twelve;
}

bool steading_stamp_read(steading_slice text, const char *format, steading_stamp *stamp) {
  parts p = {0};
  bool read = format == NULL ? read_iso(text.start, text.end, &p)
                             : read_by_format(text.start, text.end, format, &p);
  return read && whole(&p, stamp);
}
