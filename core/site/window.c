#include "site/window.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const day_names[7] = {"mon", "tue", "wed", "thu", "fri", "sat", "sun"};
static const char *const month_names[12] = {"jan", "feb", "mar", "apr", "may", "jun",
                                            "jul", "aug", "sep", "oct", "nov", "dec"};

static const steading_spec windows_spec = {.name = "windows"};

/* "hh:mm" up to 24:00; moves `*text` behind it. */
static bool read_clock(const char **text, int *minutes) {
  const char *t = *text;
  int hour = 0, minute = 0;
  if (!isdigit((unsigned char)t[0]) || !isdigit((unsigned char)t[1]) || t[2] != ':' ||
      !isdigit((unsigned char)t[3]) || !isdigit((unsigned char)t[4]))
    return false;
  hour = (t[0] - '0') * 10 + (t[1] - '0');
  minute = (t[3] - '0') * 10 + (t[4] - '0');
  if (hour > 24 || minute > 59 || (hour == 24 && minute != 0)) return false;
  *minutes = hour * 60 + minute;
  *text = t + 5;
  return true;
}

bool steading_read_clock(const char *text, int *minutes) {
  return read_clock(&text, minutes) && *text == '\0';
}

static bool read_hours(const char *text, steading_window *window) {
  if (!read_clock(&text, &window->from_min) || *text != '-') return false;
  text++;
  if (!read_clock(&text, &window->to_min) || *text != '\0') return false;
  return window->from_min != window->to_min && window->from_min < 1440;
}

static int find_word(const char *text, const char *const *words, int count) {
  for (int i = 0; i < count; i++)
    if (strncasecmp(text, words[i], 3) == 0) return i;
  return -1;
}

/* "Mon-Fri", "Sat,Sun", "Nov-Feb": words of three letters, spans that may wrap, commas. */
static bool read_span(const char *text, const char *const *words, int count, unsigned *bits) {
  *bits = 0;
  for (;;) {
    int first = find_word(text, words, count), last = 0;
    if (first < 0) return false;
    text += 3;
    last = first;
    if (*text == '-') {
      last = find_word(text + 1, words, count);
      if (last < 0) return false;
      text += 4;
    }
    for (int i = first;; i = (i + 1) % count) {
      *bits |= 1u << i;
      if (i == last) break;
    }
    if (*text == '\0') return true;
    if (*text != ',') return false;
    text++;
    while (*text == ' ') text++;
  }
}

static steading_status read_months(const steading_value *value, const char *path, uint16_t *months,
                                   steading_error *error) {
  unsigned bits = 0;
  const steading_value *items = value;
  size_t count = 1;
  if (value->kind == STEADING_VALUE_TEXT && read_span(value->text, month_names, 12, &bits)) {
    *months = (uint16_t)bits;
    return STEADING_OK;
  }
  if (value->kind == STEADING_VALUE_TABLE && value->entry_count == 0 && value->item_count > 0) {
    items = value->items;
    count = value->item_count;
  }
  for (size_t i = 0; i < count; i++) {
    double month = items[i].number;
    if (items[i].kind != STEADING_VALUE_NUMBER || !(month >= 1 && month <= 12) ||
        month != (int)month)
      return steading_fail(error, STEADING_BAD_INPUT, path,
                           "expected months such as \"Jun-Aug\", 6 or a list of 1..12");
    bits |= 1u << ((int)month - 1);
  }
  *months = (uint16_t)bits;
  return STEADING_OK;
}

static steading_status read_window(const steading_value *value, const char *path,
                                   steading_window *window, steading_error *error) {
  const char *expected = "expected hours such as \"22:00-06:00\"";
  const steading_value *hours = NULL;
  char where[256];
  *window = (steading_window){.from_min = 0, .to_min = 1440, .days = 0x7f, .months = 0xfff};
  if (value->kind == STEADING_VALUE_TEXT) {
    if (read_hours(value->text, window)) return STEADING_OK;
    return steading_fail(error, STEADING_BAD_INPUT, path, "found \"%s\", %s", value->text,
                         expected);
  }
  if (value->kind != STEADING_VALUE_TABLE || value->item_count > 0)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "found %s, expected a window: \"22:00-06:00\" or { hours = , days = , "
                         "months = }",
                         steading_value_called(value));
  for (size_t i = 0; i < value->entry_count; i++) {
    const steading_entry *entry = &value->entries[i];
    snprintf(where, sizeof where, "%.127s.%.127s", path, entry->key);
    if (strcmp(entry->key, "hours") == 0) {
      hours = &entry->value;
      if (hours->kind != STEADING_VALUE_TEXT || !read_hours(hours->text, window))
        return steading_fail(error, STEADING_BAD_INPUT, where, "%s", expected);
    } else if (strcmp(entry->key, "days") == 0) {
      unsigned bits = 0;
      if (entry->value.kind != STEADING_VALUE_TEXT ||
          !read_span(entry->value.text, day_names, 7, &bits))
        return steading_fail(error, STEADING_BAD_INPUT, where,
                             "expected days such as \"Mon-Fri\" or \"Sat,Sun\"");
      window->days = (uint8_t)bits;
    } else if (strcmp(entry->key, "months") == 0) {
      steading_status status = read_months(&entry->value, where, &window->months, error);
      if (status != STEADING_OK) return status;
    } else {
      return steading_fail(error, STEADING_BAD_INPUT, where,
                           "unknown field; a window has hours, days and months");
    }
  }
  if (value->entry_count == 0)
    return steading_fail(error, STEADING_BAD_INPUT, path,
                         "an empty window; expected hours, days or months");
  return STEADING_OK;
}

steading_status steading_windows_read(const steading_value *value, const char *path,
                                      const steading_windows **windows, steading_error *error) {
  bool is_list = value->kind == STEADING_VALUE_TABLE && value->item_count > 0;
  size_t count = is_list ? value->item_count : 1;
  steading_windows *made = NULL;
  if (is_list && value->entry_count > 0)
    return steading_fail(error, STEADING_BAD_INPUT, path, "a list of windows with named fields");
  made = calloc(1, sizeof *made + count * sizeof made->items[0]);
  if (made == NULL) return steading_fail(error, STEADING_NO_MEMORY, path, "not enough memory");
  made->head = (steading_record){.spec = &windows_spec, .references = 1};
  made->count = count;
  for (size_t i = 0; i < count; i++) {
    char where[256];
    steading_status status = STEADING_OK;
    if (is_list)
      snprintf(where, sizeof where, "%.200s[%zu]", path, i + 1);
    else
      snprintf(where, sizeof where, "%.255s", path);
    status = read_window(is_list ? &value->items[i] : value, where, &made->items[i], error);
    if (status != STEADING_OK) {
      free(made);
      return status;
    }
  }
  *windows = made;
  return STEADING_OK;
}

double steading_windows_share(const steading_windows *windows, int month, int weekday,
                              int month_before, int from_min, int length_min) {
  uint64_t minutes = 0; /* one bit a minute, so that overlapping windows count once */
  int weekday_before = (weekday + 6) % 7, set = 0;
  for (size_t i = 0; i < windows->count; i++) {
    const steading_window *w = &windows->items[i];
    for (int back = 0; back < 2; back++) {
      int day = back ? weekday_before : weekday, of_month = back ? month_before : month;
      int from = w->from_min - back * 1440, to = w->to_min - back * 1440;
      int a = 0, b = 0;
      if (w->to_min <= w->from_min)
        to += 1440;
      else if (back)
        continue;
      if (!(w->days >> day & 1) || !(w->months >> (of_month - 1) & 1)) continue;
      a = from > from_min ? from - from_min : 0;
      b = to < from_min + length_min ? to - from_min : length_min;
      if (a < b) minutes |= ((UINT64_C(1) << (b - a)) - 1) << a;
    }
  }
  for (; minutes != 0; minutes &= minutes - 1) set++;
  return (double)set / length_min;
}

bool steading_windows_hold_in_month(const steading_windows *windows, int month) {
  for (size_t i = 0; i < windows->count; i++)
    if (windows->items[i].months >> (month - 1) & 1) return true;
  return false;
}
