/* Frames from a script: what each method gives, what it refuses, and how a frame comes back from a
 * file. Expected values are worked out by hand from the definitions, unless a source is named. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "files/folder.h"
#include "suites.h"

static char folder[FOLDER_SIZE];

static void setup(void) {
  folder_make(folder);
  command_fixture(folder, "base.lua");
}

static void teardown(void) { folder_remove(folder); }

/* Line 1 of every script: a frame `f` of five rows, and `text`, which shows one. */
static const char head[] =
    "local steading = require 'steading' local none, never = steading.none, steading.never "
    "local f = steading.frame { columns = { 'month', 'kwh', 'where' }, rows = { "
    "{ month = 1, kwh = 5, where = 'b' }, { month = 2, kwh = 7 }, "
    "{ month = 1, kwh = never, where = 'a' }, { month = 2, where = 'b' }, "
    "{ month = 1, kwh = 1, where = 'Z' } } } "
    "local function text(g) local t = { table.concat(g.columns, ',') } for r in g:rows() do "
    "local c = {} for i, n in ipairs(g.columns) do c[i] = tostring(r[n]) end "
    "t[#t + 1] = table.concat(c, ',') end return table.concat(t, ' ') end "
    "local used = { none, never, f, text }\n";

static command_said run_with_head(const char *script) {
  char text[8192];
  ck_assert_int_lt(snprintf(text, sizeof text, "%s%s", head, script), (int)sizeof text);
  return SCRIPT(folder, text);
}

typedef struct row {
  const char *script, *said;
} row;

static const row answers[] = {
    {"text(f:where(function(r) return r.month == 2 end))", "month,kwh,where 2,7,none 2,none,b"},
    {"text(f:where(function() return false end))", "month,kwh,where"},
    /* the row before is one of the new frame */
    {"text(f:add('sum', function(r, b) return (b and b.sum or 0) + r.month end))",
     "month,kwh,where,sum 1,5,b,1 2,7,none,3 1,never,a,4 2,none,b,6 1,1,Z,7"},
    {"text(f:add('x', function(r) return r.kwh end))",
     "month,kwh,where,x 1,5,b,5 2,7,none,7 1,never,a,never 2,none,b,none 1,1,Z,1"},
    {"text(f:add('x', function() end))",
     "month,kwh,where,x 1,5,b,none 2,7,none,none 1,never,a,none 2,none,b,none 1,1,Z,none"},
    {"text(f:add('x', function(r, b) if b then return r.month == b.month end end))",
     "month,kwh,where,x 1,5,b,none 2,7,none,false 1,never,a,false 2,none,b,false 1,1,Z,false"},
    /* a changed row reaches neither frame */
    {"text(f:add('x', function(r) r.kwh = 0 return 2.0 end):where(function(r) return r.x == 2 and "
     "r.month == 2 end))",
     "month,kwh,where,x 2,7,none,2 2,none,b,2"},
    {"text(f:group({ 'month' }, { kwh = 'sum', where = 'count' }))",
     "month,kwh,where 1,never,3 2,7,1"},
    {"text(f:group({ 'month' }, { where = 'count', kwh = 'least' }))",
     "month,kwh,where 1,1,3 2,7,1"},
    {"text(f:group({ 'where' }, { kwh = 'mean', month = 'most' }))",
     "where,kwh,month b,5,2 none,7,2 a,never,1 Z,1,1"},
    {"text(f:group({ 'where', 'month' }, {}))", "where,month b,1 none,2 a,1 b,2 Z,1"},
    {"text(f:group({}, { kwh = 'count', where = 'least', month = 'mean' }))",
     "kwh,month,where 4,1.4,Z"},
    {"text(f:group({ 'month' }, { kwh = 'last', where = 'first' }))",
     "month,kwh,where 1,1,b 2,7,b"},
    /* sums and counts of nothing are 0, everything else is no answer */
    {"text(f:where(function(r) return r.kwh == none end):group({ 'month' }, { kwh = 'sum' }))",
     "month,kwh 2,0"},
    {"text(f:where(function(r) return r.kwh == none end):group({ 'month' }, { kwh = 'mean' }))",
     "month,kwh 2,none"},
    {"text(f:where(function() return false end):group({ 'month' }, { kwh = 'sum' }))", "month,kwh"},
    {"text(f:sort('kwh'))", "month,kwh,where 1,1,Z 1,5,b 2,7,none 1,never,a 2,none,b"},
    {"text(f:sort('kwh', 'descending'))",
     "month,kwh,where 1,never,a 2,7,none 1,5,b 1,1,Z 2,none,b"},
    /* texts by bytes: capitals first; equal ones as they stood, in both directions */
    {"text(f:sort('where'))", "month,kwh,where 1,1,Z 1,never,a 1,5,b 2,none,b 2,7,none"},
    {"text(f:sort('where', 'descending'))",
     "month,kwh,where 1,5,b 2,none,b 1,never,a 1,1,Z 2,7,none"},
    {"text(f:top(2, 'kwh'))", "month,kwh,where 1,never,a 2,7,none"},
    {"text(f:top(9, 'month'))", "month,kwh,where 2,7,none 2,none,b 1,5,b 1,never,a 1,1,Z"},
    /* 1, 5, 7, never: the quarter point stands at 1 + 3 / 4 */
    {"f:quantile('kwh', 0.25)", "4.0"},
    {"f:quantile('kwh', 0.9)", "never"},
    {"f:where(function(r) return r.kwh == none end):quantile('kwh', 0.5)", "none"},
    {"text(steading.frame { columns = { 'a' }, rows = { f:group({}, { month = 'sum' })[1].month == "
     "7 "
     "and { a = true } or {} } })",
     "a true"},
    {"#steading.frame { columns = { 'a' }, rows = {} }", "0"},
    /* read-only tables are tables too */
    {"text(steading.frame { columns = { 'a' }, rows = { steading.args { a = 3 } } })", "a 3"},
};

enum { ANSWERS = sizeof answers / sizeof answers[0] };

START_TEST(test_answers) {
  char script[1024], out[512];
  snprintf(script, sizeof script,
           "local before = text(f) print(%s) assert(text(f) == before, 'it changed')\n",
           answers[_i].script);
  snprintf(out, sizeof out, "%s\n", answers[_i].said);
  command_said run = run_with_head(script);
  command_check(&run, 0, out, NULL, answers[_i].script);
}
END_TEST

static const row refused[] = {
    {"f:where()", "frame:where: found nothing, expected a function"},
    {"f:where(print, 1)",
     "frame:where: found 3 arguments, expected at most 2 (with the object itself)"},
    {"f.where(print)", "frame:where: expected a frame; write frame:where(...)"},
    {"f:where(function(r) return r.kwh end)",
     "frame:where: row 1: the function returned 5, expected true or false"},
    {"f:where(function(r) if r.month == 1 then return true end end)",
     "frame:where: row 2: the function returned nothing, expected true or false"},
    {"f:where(function(r) return r.kwg end)", "row.kwg: unknown field (did you mean 'kwh'?)"},
    {"f:where(function(r) error('mine', 1) end)", "mine"},
    {"f:add('kwh', print)", "frame:add: there is a column 'kwh' already"},
    {"f:add('', print)", "frame:add: found \"\", expected the name of the new column"},
    {"f:add('x', 3)", "frame:add: found 3, expected a function"},
    {"f:add('x', function(r) return {} end)",
     "frame:add: row 1: 'x' is a table, expected a number, a text, true, false or nothing"},
    {"f:add('x', function(r) return r.month == 1 and 1 or 'two' end)",
     "frame:add: row 2: 'x' is a text, the rows before have a number there"},
    {"f:add('x', function(r) return 0 / 0 end)", "frame:add: row 1: 'x' is nan"},
    {"f:add('x', function(r) return -never end)", "frame:add: row 1: 'x' is -inf"},
    {"f:add('x', function(r) return 'a\\0b' end)",
     "frame:add: row 1: 'x' is a text with a zero byte"},
    {"f:group('month', { kwh = 'sum' })",
     "frame:group: found \"month\", expected a list of columns"},
    {"f:group({ 'month' })", "frame:group: found nothing, expected { column = aggregate, ... }"},
    {"f:group({ 'mnth' }, { kwh = 'sum' })", "frame.mnth: unknown field (did you mean 'month'?)"},
    {"f:group({ 'month' }, { kw = 'sum' })", "frame.kw: unknown field"},
    {"f:group({ 'month' }, { kwh = 'summ' })",
     "frame:group: kwh: unknown aggregate \"summ\" (did you mean 'sum'?)"},
    {"f:group({ 'month' }, { kwh = 'average' })",
     "frame:group: kwh: unknown aggregate \"average\", expected sum, mean, least, most, count, "
     "first, last"},
    {"f:group({ 'month' }, { month = 'sum' })", "frame:group: 'month' is a key"},
    {"f:group({ 'month', 'month' }, {})", "frame:group: the key 'month' stands there twice"},
    {"f:group({ 'month' }, { where = 'sum' })",
     "frame:group: sum of 'where', which holds text (row 1: \"b\")"},
    {"f:group({}, {})", "frame:group: expected keys or columns"},
    {"f:sort('kwg')", "frame.kwg: unknown field (did you mean 'kwh'?)"},
    {"f:sort('kwh', 'down')", "frame:sort: found \"down\", expected \"descending\" or nothing"},
    {"f:top(0, 'kwh')", "frame:top: found 0, expected a whole number, 1 or more"},
    {"f:top(1.5, 'kwh')", "frame:top: found 1.5, expected a whole number, 1 or more"},
    {"f:quantile('kwh', 25)", "frame:quantile: found 25, expected a share, 0 to 1"},
    {"f:quantile('where', 0.5)", "frame:quantile: 'where' holds text (row 1: \"b\")"},
    {"f:sum('where')", "frame:sum: 'where' holds text (row 1: \"b\")"},
    {"f:rows(1)", "frame:rows: found 2 arguments, expected at most 1 (with the object itself)"},
    {"f:column('kwh', 1)",
     "frame:column: found 3 arguments, expected at most 2 (with the object itself)"},
    {"local x = f.quantil", "frame.quantil: unknown field (did you mean 'quantile'?)"},
    {"steading.frame({ columns = { 'a' }, rows = {} }, 1)", "frame: found 2 arguments, expected 1"},
    {"steading.frame { columns = { 'kwh' }, rows = { { kwg = 1 } } }",
     "frame.rows[1].kwg: unknown field (did you mean 'kwh'?)"},
    {"steading.frame { columns = { 'a' }, rows = { { a = 1 }, { a = 'x' } } }",
     "frame: row 2: 'a' is a text, the rows before have a number there"},
    {"steading.frame { columns = { 'a' }, rows = { { a = {} } } }",
     "frame: row 1: 'a' is a table, expected a number, a text, true or false"},
    {"steading.frame { columns = { 'a' }, rows = { { a = -never } } }",
     "frame: row 1: 'a' is -inf"},
    {"steading.frame { columns = { 'a' }, rows = { { a = 'a\\0b' } } }",
     "frame: row 1: 'a' is a text with a zero byte"},
    {"steading.frame { columns = { 'a', 'a' }, rows = {} }",
     "frame.columns: 'a' stands there twice"},
    {"steading.frame { columns = { '' }, rows = {} }", "frame.columns[1]: expected a name"},
    /* reading */
    {"steading.read_frame()", "read_frame: found nothing, expected the path of a file"},
    {"steading.read_frame('in.csv', {}, 1)", "read_frame: found 3 arguments, expected at most 2"},
    {"steading.read_frame('on.csv')", "on.csv: there is no such file (did you mean 'in.csv'?)"},
    {"steading.read_frame('in.csv', { colums = {} })",
     "read_frame.colums: unknown field (did you mean 'columns'?)"},
    {"steading.read_frame('in.csv', { decimal = ';' })",
     "read_frame.decimal: found \";\", expected one of ,  ."},
    {"steading.read_frame('in.csv', { thousands = '.' })",
     "read_frame.thousands: give decimal too"},
    {"steading.read_frame('in.csv', { skip_rows = -1 })",
     "read_frame.skip_rows: found -1, expected a whole number, 0 to 1000000"},
    {"steading.read_frame('in.csv', { missing = 'x' })",
     "read_frame.missing: found \"x\", expected a list of texts"},
    {"steading.read_frame('in.csv', { columns = {} })",
     "read_frame.columns: expected at least one column"},
    {"steading.read_frame('in.csv', { columns = { kwh = 'used' } })",
     "in.csv: line 1: there is no heading \"used\" (did you mean \"Used\"?)"},
    {"steading.read_frame('in.csv', { columns = { kwh = { 'Used', kind = 'number' } } })",
     "in.csv: line 3, column \"Used\": found \"-\", expected a number"},
    {"steading.read_frame('in.csv', { columns = { kwh = { 'Used', unit = 'l' } } })",
     "read_frame.columns.kwh.unit: unknown unit \"l\", expected GJ, GWh, MJ, MWh, Wh, kJ, kWh"},
    {"steading.read_frame('in.csv', { columns = { price_per_kwh = { 'Used', unit = 'Wh' } } })",
     "read_frame.columns.price_per_kwh.unit: 'price_per_kwh' does not end in a unit that is "
     "converted"},
    {"steading.read_frame('in.csv', { columns = { kwh = { 'Used', unit = 'Wh', kind = 'text' } } "
     "})",
     "read_frame.columns.kwh.unit: a text has no unit"},
    {"steading.read_frame('in.csv', { columns = { kwh = { 'Used', unt = 'Wh' } } })",
     "read_frame.columns.kwh.unt: unknown field (did you mean 'unit'?)"},
    {"steading.read_frame('in.csv'):sum('Used')", "frame:sum: 'Used' holds text (row 2: \"-\")"},
};

enum { REFUSED = sizeof refused / sizeof refused[0] };

static const char in_csv[] = "Day;Used;Note\n01;0,5;x\n02;-;y\n03;1500;\n";

START_TEST(test_refused) {
  char said[512];
  command_write(folder, "in.csv", in_csv);
  snprintf(said, sizeof said, "steading: scenario.lua:2: %s\n", refused[_i].said);
  command_said run = run_with_head(refused[_i].script);
  command_check(&run, 2, "", said, refused[_i].script);
}
END_TEST

/* Type 7 of Hyndman and Fan 1996: the quantile at (k - 1) / (n - 1) is the k-th smallest, linear
 * between. R (help of `quantile`) gives 3.25, 5.5 and 7.75 for the quartiles of 1:10. The miles per
 * gallon of Motor Trend 1974 (R's `mtcars`, M: quoted from memory) have the quartiles 15.425, 19.2
 * and 22.8 there; deciles by Python's statistics.quantiles(method="inclusive"). */
START_TEST(test_quantiles) {
  command_said run = run_with_head(
      "local function of(list) local rows = {} for i, v in ipairs(list) do rows[i] = { v = v } "
      "end\n"
      "  return steading.frame { columns = { 'v' }, rows = rows } end\n"
      "local function at(g, ...) local t = {} for i, p in ipairs { ... } do\n"
      "  t[i] = ('%.10g'):format(g:quantile('v', p)) end print(table.concat(t, ' ')) end\n"
      "at(of { 3, 1, 2, 10, 9, 8, 7, 6, 5, 4 }, 0, 0.25, 0.5, 0.75, 1)\n"
      "local mpg = of { 21, 21, 22.8, 21.4, 18.7, 18.1, 14.3, 24.4, 22.8, 19.2, 17.8, 16.4, 17.3,\n"
      "  15.2, 10.4, 10.4, 14.7, 32.4, 30.4, 33.9, 21.5, 15.5, 15.2, 13.3, 19.2, 27.3, 26, 30.4,\n"
      "  15.8, 19.7, 15, 21.4 }\n"
      "at(mpg, 0, 0.25, 0.5, 0.75, 1)\n"
      "at(mpg, 0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9)\n"
      "at(of { 42 }, 0, 0.3, 1)\n"
      "local sorted = mpg:sort('v'):column('v')\n"
      "for k = 1, 32 do assert(math.abs(mpg:quantile('v', (k - 1) / 31) - sorted[k]) < 1e-12) "
      "end\n");
  command_check(&run, 0,
                "1 3.25 5.5 7.75 10\n10.4 15.425 19.2 22.8 33.9\n"
                "14.34 15.2 15.98 17.92 21 21.47 24.08 30.09\n42 42 42\n",
                NULL, "quantiles");
}
END_TEST

/* Over random frames: groups add up to the whole, where and its opposite too, sort is an ordered
 * permutation that keeps equal rows in order, top is the head of the descending sort. Whole
 * numbers: sums are exact. */
START_TEST(test_properties) {
  command_said run = run_with_head(
      "local function random(n) local rows = {}\n"
      "  for i = 1, n do rows[i] = { id = i, key = 'k' .. math.random(4),\n"
      "    v = math.random(5) > 1 and math.random(-9, 9) or none,\n"
      "    t = math.random(5) > 1 and string.char(math.random(65, 70)) or none } end\n"
      "  return steading.frame { columns = { 'id', 'key', 'v', 't' }, rows = rows } end\n"
      "local function ordered(g, name, descending)\n"
      "  local list, ids = g:column(name), g:column('id')\n"
      "  for i = 2, #list do local a, b = list[i - 1], list[i]\n"
      "    if b == none then assert(a ~= none or ids[i - 1] < ids[i])\n"
      "    else assert(a ~= none) if descending then a, b = b, a end\n"
      "      assert(a < b or (a == b and ids[i - 1] < ids[i])) end end end\n"
      "local total = 0\n"
      "for n = 0, 60 do\n"
      "  local g = random(n)\n"
      "  total = total + g:sum('v')\n"
      "  local parts = g:group({ 'key' }, { v = 'sum', id = 'count', t = 'count' })\n"
      "  assert(parts:sum('v') == g:sum('v') and parts:sum('id') == n)\n"
      "  local few = g:group({ 'key', 't' }, { id = 'least' })\n"
      "  ordered(few, 'id') assert(n == 0 or few[1].id == 1) -- first appearance\n"
      "  local yes = g:where(function(r) return r.v ~= none and r.v > 0 end)\n"
      "  local no = g:where(function(r) return not (r.v ~= none and r.v > 0) end)\n"
      "  assert(#yes + #no == n and yes:sum('v') + no:sum('v') == g:sum('v'))\n"
      "  for _, name in ipairs { 'v', 't' } do\n"
      "    local up, down = g:sort(name), g:sort(name, 'descending')\n"
      "    ordered(up, name) ordered(down, name, true)\n"
      "    assert(text(up:sort('id')) == text(g) and text(down:sort('id')) == text(g))\n"
      "    for k = 1, n + 1, 7 do\n"
      "      local ids, top = down:column('id'), g:top(k, name)\n"
      "      assert(#top == math.min(k, n))\n"
      "      for i, id in ipairs(top:column('id')) do assert(id == ids[i]) end end\n"
      "  end\n"
      "  local more = g:add('w', function(r) return r.v end)\n"
      "  assert(more:sum('w') == g:sum('v') and #more == n)\n"
      "end\n"
      "print(total ~= 0)\n");
  command_check(&run, 0, "true\n", NULL, "properties");
}
END_TEST

/* --- from files ------------------------------------------------------------------------------ */

START_TEST(test_read) {
  command_write(folder, "in.csv", in_csv);
  command_said run = run_with_head(
      "local function read(options) print(text(steading.read_frame('in.csv', options))) end\n"
      "read() read { missing = { '-' } } read { missing = { '-' }, columns = { used_kwh = { "
      "'Used', "
      "unit = 'Wh' }, day = { 1, kind = 'number' }, note = 'Note' } }\n"
      "read { missing = { '-' }, skip_last_rows = 1, columns = { used_wh = { 'Used', unit = 'kWh' "
      "} } }\n");
  command_check(&run, 0,
                "Day,Used,Note 01,0,5,x 02,-,y 03,1500,none\n"
                "Day,Used,Note 01,0.5,x 02,none,y 03,1500,none\n"
                "day,note,used_kwh 1,x,0.0005 2,y,none 3,none,1.5\n"
                "used_wh 500 none\n",
                NULL, "read_frame");
}
END_TEST

/* Definitions: 1 kWh = 3.6 MJ, 1 ft = 0.3048 m, 1 m/s = 3.6 km/h, 212 F = 100 C = 373.15 K. */
START_TEST(test_units) {
  command_write(folder, "in.csv", "x\n212\n");
  command_said run = run_with_head(
      "for _, pair in ipairs { { 'a_kwh', 'MJ' }, { 'lift_m', 'ft' }, { 'wind_m_per_s', 'km/h' },\n"
      "    { 'air_temp_c', 'F' }, { 'c', 'K' }, { 'share', '%' }, { 'flow_l_per_min', 'm3/h' },\n"
      "    { 'kw', 'W' }, { 'day_kwh_per_m2', 'MJ/m2' } } do\n"
      "  local g = steading.read_frame('in.csv', { columns = { [pair[1]] = { 'x', unit = pair[2] } "
      "} })\n"
      "  print(('%.9g'):format(g[1][pair[1]]))\n"
      "end\n");
  command_check(&run, 0,
                "58.8888889\n64.6176\n58.8888889\n100\n-61.15\n2.12\n3533.33333\n0.212\n"
                "58.8888889\n",
                NULL, "units");
}
END_TEST

/* The file and its hash (SHA-256 of "a\n1\n" by coreutils' sha256sum) stand beside the result. */
START_TEST(test_input_is_recorded) {
  char *meta = NULL;
  command_write(folder, "in.csv", "a\n1\n");
  command_said run = run_with_head(
      "local g = steading.read_frame 'in.csv' g:write('out.csv')\n"
      "print(text(steading.read_frame 'out.csv'))\n");
  command_check(&run, 0, "a 1\n", NULL, "inputs");
  meta = command_read(folder, "out.meta.json");
  ck_assert_msg(
      strstr(meta,
             "\"path\": \"in.csv\", \"sha256\": "
             "\"309b0e45a73d3fc5325e2b6ed0a01ef8b9cde6b05a5633c1f893f970d52bfddc\"") != NULL,
      "%s", meta);
  free(meta);
}
END_TEST

/* What a spreadsheet would run, quotes, never, true and nothing, through a file and back. */
START_TEST(test_round_trip) {
  command_said run = run_with_head(
      "local texts = { '=1+1', \"'=1\", \"''\", '-3', '007', '3', 'a,b;c', 'x\\ny', ' x ', '\"', "
      "none, true, 'NaN', 'inf' }\n"
      "local numbers = { 1, 0.1, 1 / 3, -2.5e-7, 1e15, never, none, 2^53, 0, -1, 12, 3, 4, 5 }\n"
      "local rows = {}\n"
      "for i = 1, 14 do rows[i] = { ['=t;'] = texts[i], n = numbers[i] } end\n"
      "local g = steading.frame { columns = { '=t;', 'n' }, rows = rows }\n"
      "g:write('x.csv')\n"
      "local back = steading.read_frame('x.csv')\n"
      "assert(table.concat(back.columns, '|') == '=t;|n' and #back == 14)\n"
      "for i = 1, 14 do\n"
      "  assert(back[i]['=t;'] == g[i]['=t;'], i)\n"
      "  local a, b = g[i].n, back[i].n\n"
      "  if a == never then a = none end\n"
      "  assert(a == b or math.abs(a - b) <= 5e-12 * math.abs(a), i)\n"
      "end\n"
      "back:write('y.csv')\n");
  char *x = NULL, *y = NULL;
  command_check(&run, 0, "", NULL, "round trip");
  x = command_read(folder, "x.csv");
  y = command_read(folder, "y.csv");
  ck_assert_str_eq(x, y);
  free(x);
  free(y);
}
END_TEST

/* --- where they are used --------------------------------------------------------------------- */

START_TEST(test_in_a_case) {
  command_said run = run_with_head(
      "local study = steading.study { name = 's', axes = { { 'm', { 1, 2 } } }, columns = { 'kwh' "
      "},\n"
      "  case = function(c) return { kwh = f:where(function(r) return r.month == c.m end)\n"
      "    :add('x', function(r, b) return 1 + (b and b.x or 0) end):group({}, { x = 'most' "
      "})[1].x }\n"
      "  end }\n"
      "print(text(study.rows:sort('kwh')))\n");
  command_check(&run, 0, "case,m,kwh,status 2,2,2,ok 1,1,3,ok\n", NULL, "case");
}
END_TEST

START_TEST(test_yields) {
  command_said run = run_with_head(
      "local next_row = coroutine.wrap(function()\n"
      "  return #f:where(function(r) coroutine.yield(r.month) return true end) +\n"
      "         f:add('x', function(r) return coroutine.yield('add') end):sum('x') end)\n"
      "print(next_row(), next_row(), next_row(), next_row(), next_row())\n"
      "next_row() for i = 1, 4 do next_row(10) end print(next_row(10))\n"
      "steading.study { name = 's', axes = { { 'm', { 1 } } }, columns = { 'x' },\n"
      "  case = function(c) f:where(function() coroutine.yield() end) return { x = 1 } end }\n");
  ck_assert_int_eq(run.status, 1);
  ck_assert_str_eq(run.out, "1\t2\t1\t2\t1\n55.0\n");
  ck_assert_msg(
      strstr(run.err, "case called coroutine.yield() outside a coroutine of its own") != NULL, "%s",
      run.err);
  command_free(&run);
  run = run_with_head("f:where(function() coroutine.yield() end)\n");
  ck_assert_int_eq(run.status, 2);
  ck_assert_msg(strstr(run.err, "attempt to yield from outside a coroutine") != NULL, "%s",
                run.err);
  command_free(&run);
}
END_TEST

/* The name of the site and its currency go with what is made of a result. */
START_TEST(test_site_stays) {
  static const char *const files[] = {"where", "add", "group", "sort", "top"};
  command_said run = run_with_head(
      "local base = require 'base' ()\n"
      "base.climate.years = 1\n"
      "base.site.weather = steading.weather.synthesize(base.climate)\n"
      "local m = steading.site(base.site):simulate { start = '2027-01', years = 1 }.monthly\n"
      "m:where(function(r) return r.month < 4 end):write('where.csv')\n"
      "m:add('x', function(r) return r.month end):write('add.csv')\n"
      "m:group({ 'year' }, { load_kwh = 'sum' }):write('group.csv')\n"
      "m:sort('load_kwh'):write('sort.csv')\n"
      "m:top(1, 'load_kwh'):write('top.csv')\n");
  ck_assert_msg(run.status == 0, "%s", run.err);
  command_free(&run);
  for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
    char name[64], *meta = NULL;
    snprintf(name, sizeof name, "%s.meta.json", files[i]);
    meta = command_read(folder, name);
    ck_assert_msg(
        strstr(meta, "\"site\": \"test\"") != NULL && strstr(meta, "\"currency\": \"USD\"") != NULL,
        "%s: %s", name, meta);
    free(meta);
  }
}
END_TEST

static void add_rows(Suite *suite, const char *name, const TTest *test, int rows) {
  command_case(suite, setup, teardown, name, test, rows);
}

static void add(Suite *suite, const char *name, const TTest *test) {
  add_rows(suite, name, test, 1);
}

Suite *frames_suite(void) {
  Suite *suite = suite_create("frames");
  add_rows(suite, "methods give new frames and leave the old one", test_answers, ANSWERS);
  add_rows(suite, "mistakes are said with their row, name or place", test_refused, REFUSED);
  add(suite, "quantiles against published ones", test_quantiles);
  add(suite, "properties over random frames", test_properties);
  add(suite, "a file is read by its headings", test_read);
  add(suite, "units are converted", test_units);
  add(suite, "a file that was read stands beside the result", test_input_is_recorded);
  add(suite, "what is written is read back", test_round_trip);
  add(suite, "methods work in a case", test_in_a_case);
  add(suite, "callbacks may yield in a coroutine of their own", test_yields);
  add(suite, "the site's name and currency stay", test_site_stays);
  return suite;
}
