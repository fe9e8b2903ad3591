-- site:additions: each of some changes to a site is simulated and judged against one plan, so that it
-- shows what the next money would buy first. On top of the methods that a script has: the same
-- numbers, and what they call may yield.
local host, none, check = ...
local type, error, pcall, select, rawequal, ipairs = type, error, pcall, select, rawequal, ipairs
local math_type = math.type
local format, sort, real_next = string.format, table.sort, next

local fields = { "against", "money", "options", "start", "step_minutes", "years" }
local option_fields = { "name", "with", "without" }
local fail, shown, list_of = check.fail, check.shown, check.list_of

-- An option sets lots and works, which have prices of their own.
local function check_no_price(where, option)
  for _, k in ipairs(check.keys_of(option)) do
    if k:find("price", 1, true) or k:find("cost", 1, true) then
      fail("%s.%s: an option has no price: the lots and works that it sets have theirs", where, k)
    end
  end
end

local function check_options(given)
  local list, options, seen = list_of(given), {}, {}
  if not list or #list == 0 then
    fail("additions.options: found %s, expected a list of { name = ..., with = {...} }",
         type(given) == "table" and (real_next(given) == nil and "an empty table" or "other keys than 1, 2, ...") or
         shown(given))
  end
  for i, option in ipairs(list) do
    local where = format("additions.options[%d]", i)
    if type(option) ~= "table" then
      fail("%s: found %s, expected { name = ..., with = {...} }", where, shown(option))
    end
    option = check.content(option)
    check_no_price(where, option)
    check.known(where, option, option_fields)
    if type(option.name) ~= "string" or option.name == "" or option.name:find("%c") then
      fail("%s.name: found %s, expected a text", where, shown(option.name))
    end
    if seen[option.name] then fail("%s.name: '%s' stands twice", where, option.name) end
    seen[option.name] = true
    if (option.with == nil) == (option.without == nil) then
      fail("%s: expected with = {...} or without = {...}%s", where,
           option.with ~= nil and ", not both" or "")
    end
    if option.with ~= nil and type(option.with) ~= "table" and type(option.with) ~= "function" then
      fail("%s.with: found %s, expected { [\"path\"] = value } or a function", where, shown(option.with))
    end
    if option.without ~= nil and type(option.without) ~= "table" then
      fail("%s.without: found %s, expected { \"path\", ... }", where, shown(option.without))
    end
    options[i] = { name = option.name, with = option.with, without = option.without,
                   where = format("%s ('%s')", where, option.name) }
  end
  return options
end

-- The plan that options are judged against, simulated unless it is a run.
local function base_of(site, spec)
  local against = spec.against
  if host.is_run(against) then
    for _, name in ipairs { "start", "step_minutes", "years" } do
      if spec[name] ~= nil then
        fail("additions.%s: the run in `against` has it already", name)
      end
    end
    return against
  end
  if against ~= nil and not host.is_site(against) then
    fail("additions.against: found %s, expected a run or a site", shown(against))
  end
  local years = spec.years
  if years == nil then -- a horizon that is no number of years is refused where it is judged
    local horizon = check.content(spec.money).horizon_years
    if math_type(horizon) and horizon % 1 == 0 and horizon >= 1 and horizon <= 200 then years = horizon end
  end
  return (against or site):simulate { start = spec.start, years = years, step_minutes = spec.step_minutes,
                                      keep = "annual" }
end

local function gain(option, base, name)
  local now, before = option.per_year[name], base.per_year[name]
  if rawequal(now, none) or rawequal(before, none) then return none end
  return now - before
end

-- A row of the frame, with what it is ranked by.
local function judged(site, option, base, simulate, money)
  local changed
  if option.with ~= nil then
    changed = site:with(option.with)
  else
    changed = site:without(option.without)
  end
  local run = changed:simulate(simulate)
  local verdict, cost = run:appraise { against = base, money = money }, 0.0
  for year in verdict.cash_flow:rows() do
    cost = cost + year.purchases / (1 + money.discount) ^ year.plan_year
  end
  local worth = verdict.net_present_value
  local row = { option.name, cost, gain(run, base, "grid_free_hours_share"),
                gain(run, base, "grid_free_energy_share"),
                base.per_year.grid_import_kwh - run.per_year.grid_import_kwh, worth,
                verdict.simple_payback_years }
  -- what earns without money is before all that costs, what costs nothing and loses is after it
  if cost > 0 then
    row.class, row.rank = 2, worth / cost
  else
    row.class, row.rank = worth > 0 and 1 or worth == 0 and 2 or 3, worth
  end
  if cost == 0 and worth ~= 0 then
    host.warn(format("additions: '%s' costs nothing: is it without a price, or paid before the run starts?",
                     option.name))
  end
  return row
end

return function(site, spec, ...)
  if not host.is_site(site) then fail("additions: expected a site; write site:additions { ... }") end
  if select("#", ...) > 0 then
    fail("site:additions: found %d arguments, expected at most 2 (with the object itself)",
         2 + select("#", ...))
  end
  if type(spec) ~= "table" then
    fail("additions: found %s, expected a table with options and money", shown(spec))
  end
  spec = check.content(spec)
  check.known("additions", spec, fields)
  local options = check_options(spec.options)
  if type(spec.money) ~= "table" then
    fail("additions.money: found %s, expected a table", shown(spec.money))
  end
  local base, rows = base_of(site, spec), {}
  base:appraise { against = base, money = spec.money } -- refuses what is wrong with money or tariff
  local money, simulate = check.content(spec.money), host.options_of(base)
  simulate.keep, simulate.columns, simulate.from, simulate.to = "annual", nil, nil, nil
  for i, option in ipairs(options) do
    local ok, row = pcall(judged, site, option, base, simulate, money)
    if not ok then -- say in which option, behind the line of the script
      local _, line = pcall(fail, "")
      if type(row) ~= "string" then error(row, 0) end
      if row:sub(1, #line) == line then row = row:sub(#line + 1) end
      fail("%s: %s", option.where, row)
    end
    row.index, rows[i] = i, row
  end
  sort(rows, function(a, b)
    if a.class ~= b.class then return a.class < b.class end
    if a.rank ~= b.rank then return a.rank > b.rank end
    return a.index < b.index
  end)
  return host.frame(site, rows)
end
