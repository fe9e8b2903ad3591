-- What a run says of its steps is worked out again from run.steps, on random sites: `seed` chooses
-- the site. Offsets of standard time are whole, and the zone has one time all year, so that civil
-- time is what the labels say.
local steading = require "steading"
local args = steading.args { seed = 1 }
local base = require "base" ()
local s = base.site

local state = 7919 * args.seed + 17
local function random(low, high) -- Lehmer's generator, Park and Miller 1988
  state = 48271 * state % 2147483647
  return low + (high - low) * (state / 2147483647)
end
local function one_of(...) local list = { ... } return list[math.floor(random(1, #list + 0.999))] end
local function chance(p) return random(0, 1) < p end

-- a site with up to three hubs on up to two meters, off the grid now and then
s.name = "random " .. args.seed
s.meters.yard.import_limit_kw = one_of(nil, 1.5, 3, 6)
s.meters.yard.export_limit_kw = one_of(0, 0.5, 4)
if chance(0.5) then s.meters.yard.outages = { windows = { { hours = "17:00-21:00", months = "Jan-Mar" }, { hours = "02:00-05:00", days = "Mon" } } } end
if chance(0.6) then s.meters.lane = { export_limit_kw = one_of(0, 2), outages = chance(0.5) and { windows = "19:00-23:00" } or false } end
local barn = s.hubs.barn
barn.arrays[1].lots[1].count = math.floor(random(2, 30))
barn.battery.lots = { { count = math.floor(random(0, 4)), in_service = "2027-01" } }
if chance(0.5) then barn.battery.lots[2] = { count = 2, in_service = "2027-05-10", delivered_charge = 0.5 } end
if chance(0.3) then barn.battery.lots[1].retired = "2027-09-02" end
if chance(0.3) then barn.rules.resume_above = 0.4 end
s.buildings.house.loads[1].kwh_per_day = random(2, 25)
s.buildings.shed.loads[1].watts = one_of(0, 100, 600)
local function hub(name, meter)
  s.hubs[name] = { meter = meter, rules = { battery_floor = 0.2 },
    inverter = { unit = { ac_kw = 4, idle_w = 25, pass_through_kw = 8, efficiency = { at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } } },
    arrays = { { tilt_deg = 20, azimuth_deg = 120, lots = { { count = math.floor(random(1, 20)) } },
                 module = { watts = 400, temp_coefficient_per_c = -0.0034 } } },
    battery = chance(0.7) and { module = barn.battery.module, lots = { { count = 2 } } } or nil }
  s.buildings["home_of_" .. name] = { hub = name, loads = { steading.load.daily { kwh_per_day = random(1, 12), shape = "dwelling" } } }
end
local alone = true
if chance(0.6) then hub("mill", one_of("yard", s.meters.lane and "lane" or "yard", false) or nil) alone = false end
if chance(0.3) then hub("cabin", nil) alone = false end
if chance(0.3) then s.water.wells.deep.flow_l_per_min = 0.9 end -- users do not get enough
base.climate.place.time_zone = "America/Phoenix"
s.weather = steading.weather.synthesize(base.climate)

local minutes = one_of(60, 60, 30, 15)
local run = steading.site(s):simulate { start = one_of("2027-01", "2027-07"), years = 1, step_minutes = minutes, keep = "steps" }
local h = minutes / 60

local steps = {}
for r in run.steps:rows() do steps[#steps + 1] = r end

local function near(a, b, what)
  if a == b then return end
  assert(math.abs(a - b) <= 1e-9 * (math.abs(a) + math.abs(b) + 1), ("%s: %s and %s"):format(what, a, b))
end

local events_seen = 0
local function check_events(kind, column, join_hours, least)
  local water = kind == "water_short"
  local expected, at = {}, nil
  for i, r in ipairs(steps) do
    if r[column] > (water and 1e-9 or 1e-9 * h) then
      if at and i - at.last > 1 and not ((i - at.last - 1) * h < join_hours) then at = nil end
      if not at then
        at = { first = i, last = i, n = 0, sum = 0, peak = 0, shed = 0, charge = math.huge, tank = math.huge }
        expected[#expected + 1] = at
      end
      at.last, at.n, at.sum, at.peak = i, at.n + 1, at.sum + r[column], math.max(at.peak, r[column] / h)
      at.shed = at.shed + r.shed_kwh
      if r.state_of_charge ~= steading.none then at.charge = math.min(at.charge, r.state_of_charge) end
      if r.tank_share ~= steading.none then at.tank = math.min(at.tank, r.tank_share) end
    end
  end
  local kept = {}
  for _, e in ipairs(expected) do if e.sum >= least then kept[#kept + 1] = e end end
  local ask = { kind = kind, join_hours = join_hours }
  ask[water and "least_l" or "least_kwh"] = least
  local events = run:events(ask)
  assert(#events == #kept, ("%s: %d events, %d from the steps"):format(kind, #events, #kept))
  for i, e in ipairs(kept) do
    local got = events[i]
    assert(got.start == steps[e.first].time, kind)
    near(got.last_hours, (e.last - e.first + 1) * h, kind)
    near(got.hours, e.n * h, kind)
    near(water and got.litres or got.kwh, e.sum, kind)
    near(water and got.peak_l_per_h or got.peak_kw, e.peak, kind)
    if got.lowest_state_of_charge == steading.none then assert(e.charge == math.huge)
    elseif alone then near(got.lowest_state_of_charge, e.charge, kind)
    else assert(got.lowest_state_of_charge <= e.charge + 1e-12) end -- of any hub: below that of all
    if kind == "unserved" then near(got.shed_kwh, e.shed, kind) end
    if water then near(got.lowest_tank_share, e.tank, kind) end
    events_seen = events_seen + 1
  end
end
check_events("import", "grid_import_kwh", 0, 0)
check_events("import", "grid_import_kwh", 6, 1)
check_events("unserved", "unserved_kwh", one_of(0, 3, 24), 0)
check_events("water_short", "water_short_l", one_of(0, 12), one_of(0, 50))

-- outages: the hours of the windows, by the labels' own dates
local down = { yard = 0, lane = 0 }
for e in run:events({ kind = "outage" }):rows() do
  down[e.meter] = down[e.meter] + e.hours
  near(e.hours, e.last_hours, "outage")
  events_seen = events_seen + 1
end
near(down.yard, s.meters.yard.outages and 90 * 4 + 52 * 3 or 0, "outages of the yard") -- 2027 has 52 Mondays
near(down.lane, s.meters.lane and s.meters.lane.outages and 365 * 4 or 0, "outages of the lane")

-- the worst windows: day sums, and by brute force the highest one that touches none before
local a_day = math.tointeger(1440 // minutes)
local function check_worst(column, days, count)
  local by_day = {}
  for d = 1, 365 do
    by_day[d] = { sum = 0, load_kwh = 0, pv_available_kwh = 0, grid_import_kwh = 0 }
    for i = (d - 1) * a_day + 1, d * a_day do
      by_day[d].sum = by_day[d].sum + steps[i][column]
      for _, name in ipairs { "load_kwh", "pv_available_kwh", "grid_import_kwh" } do by_day[d][name] = by_day[d][name] + steps[i][name] end
    end
  end
  local function over(first, name) local sum = 0 for d = first, first + days - 1 do sum = sum + by_day[d][name] end return sum end
  local worst, taken = run:worst { column = column, days = days, count = count }, {}
  for rank = 1, count do
    local best
    for first = 1, 365 - days + 1 do
      local free = true
      for _, t in ipairs(taken) do if math.abs(t - first) < days then free = false end end
      if free and (not best or over(first, "sum") > over(best, "sum")) then best = first end
    end
    if not best then assert(#worst == rank - 1) return end
    taken[rank] = best
    assert(worst[rank].start == steps[(best - 1) * a_day + 1].time, column)
    assert(worst[rank].days == days)
    for _, name in ipairs { "sum", "load_kwh", "pv_available_kwh", "grid_import_kwh" } do near(worst[rank][name], over(best, name), "worst " .. name) end
  end
end
check_worst("grid_import_kwh", 7, 5)
check_worst(one_of("load_kwh", "pv_curtailed_kwh", "unserved_kwh", "water_short_l"), one_of(1, 3, 30), 14)

-- means: by the labels
local function weekday_of(time) -- Zeller's congruence, 1887, as ISO numbers
  local y, m, d = tonumber(time:sub(1, 4)), tonumber(time:sub(6, 7)), tonumber(time:sub(9, 10))
  if m < 3 then y, m = y - 1, m + 12 end
  local z = (d + 13 * (m + 1) // 5 + y + y // 4 - y // 100 + y // 400) % 7 -- 0 is Saturday
  return (z + 5) % 7 + 1
end
local parts = {
  year = function(r) return tonumber(r.time:sub(1, 4)) end, month = function(r) return tonumber(r.time:sub(6, 7)) end,
  weekday = function(r) return weekday_of(r.time) end, hour = function(r) return tonumber(r.time:sub(12, 13)) end }
local function check_means(columns, by)
  local sums, n, groups = {}, {}, 0
  for _, r in ipairs(steps) do
    local key = ""
    for _, part in ipairs(by) do key = key .. " " .. math.tointeger(parts[part](r)) end
    if not sums[key] then sums[key], n[key], groups = {}, 0, groups + 1 end
    n[key] = n[key] + 1
    for _, c in ipairs(columns) do
      local sum = sums[key][c] or { total = 0, n = 0 }
      if r[c] ~= steading.none then sum.total, sum.n = sum.total + r[c], sum.n + 1 end
      sums[key][c] = sum
    end
  end
  local profile, before = run:profile { columns = columns, by = by }, nil
  assert(#profile == groups)
  for row in profile:rows() do
    local key, order = "", 0
    for _, part in ipairs(by) do key, order = key .. " " .. math.tointeger(row[part]), order * 3000 + row[part] end
    assert(not before or order > before, "the rows are not in order")
    before = order
    near(row.hours, n[key] * h, "hours")
    for _, c in ipairs(columns) do
      local sum = sums[key][c]
      local each = (c == "state_of_charge" or c == "tank_share") and 1 or h -- hours for which a value stands
      if sum.n == 0 then assert(row[c] == steading.none) else near(row[c], sum.total / (sum.n * each), c) end
    end
  end
end
check_means({ "pv_curtailed_kwh", "state_of_charge", "water_short_l" }, { "month", "hour" })
check_means({ "load_kwh", "tank_share" }, one_of({ "year", "month" }, { "weekday" }, { "hour" }, { "year", "weekday", "hour" }))

-- the duration curve: the highest value that enough steps reach
local function check_duration(column, from, factor, points)
  local values = {}
  for _, r in ipairs(steps) do if r[from] ~= steading.none then values[#values + 1] = r[from] * factor end end
  table.sort(values, function(a, b) return a > b end)
  local curve = run:duration { column = column, points = points }
  assert(#curve == points)
  for i, row in ipairs(curve:column("value")) do
    local wanted = (i - 1) / (points - 1)
    near(curve[i].share_of_time, wanted, "share_of_time")
    near(curve[i].hours, wanted * #values * h, "hours")
    if #values == 0 then assert(row == steading.none)
    else
      local k = 1
      while k < #values and k / #values < wanted - 1e-12 do k = k + 1 end
      near(row, values[k], column)
    end
  end
end
check_duration("load_kw", "load_kwh", 1 / h, 8) -- a seventh of the hours is no whole number
check_duration("state_of_charge", "state_of_charge", 1, 5)

-- reasons: all that was imported or not served has one; each meter's rows are what passed it
local reasons = run:reasons()
near(reasons:sum("kwh"), run.totals.grid_import_kwh + run.totals.unserved_kwh, "kwh of all reasons")
for meter in run.meters.annual:rows() do
  local missing = meter.unserved_kwh
  for row in run.hubs.annual:rows() do if s.hubs[row.hub].meter == meter.meter then missing = missing + row.unserved_kwh end end
  near(reasons:where(function(r) return r.meter == meter.meter end):sum("kwh"), meter.grid_import_kwh + missing, "kwh of " .. meter.meter)
end
for row in run.hubs.annual:rows() do
  local of_hub = reasons:where(function(r) return r.hub == row.hub end)
  assert(of_hub:sum("kwh") <= row.from_bus_kwh + row.unserved_kwh + 1e-6, "more than the hub took")
  assert(of_hub:sum("hours") <= 8760)
end
-- with one hub and nothing else that takes power, they are those of the steps
if alone and s.buildings.shed.loads[1].watts == 0 then
  local hours, kwh = {}, {}
  for _, r in ipairs(steps) do
    if r.reason ~= steading.none then
      hours[r.reason] = (hours[r.reason] or 0) + h
      kwh[r.reason] = (kwh[r.reason] or 0) + r.grid_import_kwh + r.unserved_kwh
    end
  end
  local n = 0
  for _ in pairs(hours) do n = n + 1 end
  assert(#reasons == n, "reasons of the steps")
  for row in reasons:rows() do
    assert(row.hub == "barn" and row.meter == "yard")
    near(row.hours, hours[row.reason], row.reason)
    near(row.kwh, kwh[row.reason], row.reason)
  end
  print("compared reasons")
end
print("hubs", #run.hubs.annual, "meters", #run.meters.annual, "step", minutes, "events", events_seen)
