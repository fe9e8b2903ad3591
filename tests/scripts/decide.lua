-- rules.decide on a small invented site: what decides as a rule does gives the numbers of the rule,
-- and no answer goes beyond what the site can do. Prints a line for each check.
local steading = require "steading"
local args = steading.args { what = "" }

local weather = steading.weather.synthesize { years = 1, seed = 11,
  place = { latitude_deg = 35, longitude_deg = -106, elevation_m = 1600, time_zone = "America/Denver" },
  ghi_kwh_per_m2_day = { 3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9 },
  temp_mean_c = 12, temp_range_c = 15 }

-- `kind`: "grid" with outages on Tuesday evenings, or "island" with a generator.
local function site(kind, rules, change)
  local island = kind == "island"
  local s = { weather = weather,
    meters = not island and { yard = { import_limit_kw = 5, outages = { windows = { hours = "18:00-22:00", days = "Tue" } } } } or nil,
    hubs = { barn = { meter = not island and "yard" or nil,
      inverter = { unit = { ac_kw = 3, idle_w = 33, battery_kw = 2, pv_kw = 2.8, charge_from_grid_kw = 1,
                            efficiency = { at_10 = 0.90, at_50 = 0.96, at_100 = 0.95 } } },
      arrays = { { tilt_deg = 35, azimuth_deg = 180, lots = { { count = 8 } },
                   module = { watts = 400, temp_coefficient_per_c = -0.0034 } } },
      battery = { module = { kwh = 4.8, usable = { 0.05, 0.95 }, charge_kw = 1.6, discharge_kw = 1.6, round_trip_efficiency = 0.94 } },
      generator = island and { unit = { kw = 2.5, fuel = "propane", no_load_l_per_h = 0.6, l_per_kwh = 0.5 }, role = "both", charger_kw = 1 } or nil,
      rules = rules } },
    fuels = island and { propane = { price_per_l = 0.8 } } or nil,
    buildings = { house = { hub = "barn", loads = { steading.load.daily { kwh_per_day = 9, shape = "dwelling", class = "sheddable" },
                                                    steading.load.steady { watts = 60, class = "essential" } } } } }
  if change then change(s) end
  return steading.site(s)
end

local function simulate(plan)
  return plan:simulate { start = "2027-01", keep = "steps", initial = { state_of_charge = 0.5 } }
end

-- Whether two runs have the same numbers, and reasons unless these may differ, in every step.
local function same(a, b)
  a, b = simulate(a).steps, simulate(b).steps
  for _, column in ipairs(a.columns) do
    if column ~= "reason" then
      local left, right = a:column(column), b:column(column)
      if #left ~= 8760 or #right ~= 8760 then return "steps are missing" end
      for i = 1, #left do
        if left[i] ~= right[i] and not (left[i] == steading.none and right[i] == steading.none) then
          return column .. " differs in step " .. i
        end
      end
    end
  end
  return "same"
end

local function most(plan, column, from, to)
  local best = 0
  for i, value in ipairs(simulate(plan).steps:column(column)) do
    local hour = (i - 1) % 24
    if hour >= (from or 0) and hour < (to or 24) then best = math.max(best, value) end
  end
  return best
end

local function always(answer) return function() return answer end end

local checks = {}

function checks.floor()
  print(same(site("grid", { battery_floor = 0.3, reserve = 0.2 }),
             site("grid", { reserve = 0.2, outage_floor = 0.3, decide = always { battery_floor = 0.3 } })))
  print(same(site("grid", { battery_floor = 0.3, resume_above = 0.5 }),
             site("grid", { outage_floor = 0.3, resume_above = 0.5, decide = always { battery_floor = 0.3 } })))
  -- what is left open stays with the rules
  print(same(site("grid", { battery_floor = 0.3 }), site("grid", { battery_floor = 0.3, decide = function() end })))
  -- the comparison can fail
  print(same(site("grid", { battery_floor = 0.3 }), site("grid", { outage_floor = 0.3, decide = always { battery_floor = 0.31 } })))
end

function checks.windows()
  print(same(site("grid", { discharge_windows = "16:00-22:00",
                            charge_from_grid = { window = "01:00-05:00", charge_to = 0.8, kw = 0.7 } }),
             site("grid", { decide = function(now)
               return { discharge = now.hour >= 16 and now.hour < 22, charge_to = 0.8,
                        charge_from_grid_kw = now.hour >= 1 and now.hour < 5 and 0.7 or 0 }
             end })))
  local weekend = { hours = "00:00-06:00", days = "Sat,Sun", months = "Nov-Feb" }
  print(same(site("grid", { charge_from_grid = { window = weekend, charge_to = 0.9 } }),
             site("grid", { decide = function(now)
               if now.hour < 6 and now.weekday >= 6 and (now.month <= 2 or now.month >= 11) then
                 return { charge_from_grid_kw = 1, charge_to = 0.9 }
               end
             end })))
end

function checks.shed()
  print(same(site("grid", { shed = { sheddable = 1, restore_above = 0 } }), site("grid", { decide = always { shed = { "sheddable" } } })))
  print(same(site("grid", {}), site("grid", { shed = { sheddable = 1 }, decide = always { shed = {} } })))
end

function checks.generator()
  print(same(site("island", { generator = { start_below_charge = 0.3, stop_above_charge = 0.6, start_if_unserved = false } }),
             site("island", { decide = function(now)
               local below = now.generator_on and 0.6 or 0.3
               return { generator = now.state_of_charge < below and "on" or "off" }
             end })))
  print(same(site("island", {}), site("island", { decide = always { generator = "auto" } })))
  local off = simulate(site("island", { decide = always { generator = "off" } })).totals
  print(off.generator_hours, off.unserved_kwh > 0)
  local function quiet(decide)
    return site("island", { generator = { quiet = "20:00-24:00", least_rest_hours = 2, most_hours_per_day = 6 }, decide = decide })
  end
  local on = simulate(quiet(always { generator = "on" }))
  print(most(quiet(always { generator = "on" }), "generator_kwh", 20, 24), on.totals.generator_hours <= 6 * 365, on.totals.generator_hours > 5 * 365)
  -- a run lasts its least hours, three of each four: 18 a day, but for the day without 02:00, on which
  -- the run of 00:00 is asked for again in its fourth hour and ends after that: 2 less
  local flips = site("island", { generator = { least_hours = 3 },
    decide = function(now) return { generator = now.hour % 4 == 0 and "on" or "off" } end })
  print(simulate(flips).totals.generator_hours)
end

function checks.limits()
  local function lowest(rules, change) return string.format("%.6f", simulate(site("grid", rules, change)).totals.lowest_state_of_charge) end
  print("usable", lowest { outage_floor = 0, decide = always { battery_floor = 0 } })
  print("reserve", lowest { outage_floor = 0.3, reserve = 0.4, decide = always { battery_floor = 0 } } >= "0.3")
  local function no_outages(s) s.meters.yard.outages = nil end
  print("reserve, grid up", lowest({ reserve = 0.4, decide = always { battery_floor = 0 } }, no_outages))
  -- a full floor with the grid up, the floor of an outage without
  local outage = site("grid", { outage_floor = 0.25, decide = function(now) return { battery_floor = now.grid_up and 1 or 0 } end })
  print("outage floor", simulate(outage).totals.lowest_state_of_charge >= 0.25 - 1e-12, simulate(outage).totals.battery_discharge_kwh > 10)
  print("discharge", same(site("grid", {}), site("grid", { decide = always { discharge = 1e9 } })))
  -- in an outage it gives what it can; these have none
  print("half a kW", string.format("%.6f", most(site("grid", { decide = always { discharge = 0.5 } }, no_outages), "battery_discharge_kwh")))
  print("no discharge", most(site("grid", { decide = always { discharge = false } }, no_outages), "battery_discharge_kwh"))
  print("charger", same(site("grid", { decide = always { charge_from_grid_kw = 1, charge_to = 0.95 } }),
                        site("grid", { decide = always { charge_from_grid_kw = 1e9, charge_to = 1 } })))
  local held = site("grid", { decide = always { generator = "on" } }, function(s)
    s.hubs.barn.generator = { unit = { kw = 2.5, fuel = "propane", no_load_l_per_h = 0.6, l_per_kwh = 0.5 }, role = "both", charger_kw = 1 }
    s.fuels = { propane = { price_per_l = 0.8 } }
  end)
  print("without grid", simulate(held).totals.generator_hours) -- 52 Tuesdays of four hours
end

function checks.told()
  local seen, days = 0, {}
  local sun, run = {}, nil
  local plan = site("grid", { decide = function(now)
    seen = seen + 1
    if now.step ~= seen or now.hub ~= "barn" or now.step_hours ~= 1 or now.capacity_kwh ~= 4.8 then error("step") end
    if math.abs(now.state_of_charge * 4.8 - now.stored_kwh) > 1e-12 then error("charge") end
    if now.weekday == 2 and now.hour >= 18 and now.hour < 22 then days[now.month * 100 + now.day] = true end
    if now.grid_up == (now.weekday == 2 and now.hour >= 18 and now.hour < 22) then error("grid") end
    sun[now.step] = { now.pv_kw, now.sun_next_24h_kwh }
  end })
  run = simulate(plan)
  local count, sum = 0, 0
  for _ in pairs(days) do count = count + 1 end
  for i = 100, 123 do sum = sum + sun[i][1] end
  print(seen, count, math.abs(sum - sun[100][2]) < 1e-9, sum > 0)
  -- what repeats the simulation asks again and finds the same
  local imports = 0
  seen = 0
  local stored = simulate(site("grid", { decide = function(now) return { battery_floor = now.month / 20 } end }))
  for row in stored.classes:rows() do imports = imports + row.served_kwh end
  print(math.abs(imports - stored.totals.served_kwh) < 1e-6)
  local kept
  simulate(site("grid", { decide = function(now) kept = now end }))
  print(pcall(function() return kept.hour end))
  print(pcall(function() kept.hour = 1 end))
end

function checks.copies()
  local function floor(share) return always { battery_floor = share } end
  local plan = site("grid", { outage_floor = 0.3, decide = floor(0.4) })
  local other = plan:with { ["hubs.barn.rules.decide"] = floor(0.3) }
  print(same(other, site("grid", { battery_floor = 0.3 })))
  print(same(plan:with { ["hubs.barn.rules.decide"] = steading.none }, site("grid", { outage_floor = 0.3 })))
  print(same(plan:with { ["hubs.barn.rules.decide"] = false }, site("grid", { outage_floor = 0.3 })))
  -- an edited copy keeps the function, and may have another
  print(same(plan:with(function(s) s.name = "edited" end), plan))
  print(same(plan:with(function(s) s.hubs.barn.rules.decide = floor(0.3) end), other))
  -- thousands of functions come and go, those of a site that is held stay
  for i = 1, 20000 do plan:with { ["hubs.barn.rules.decide"] = floor(i / 40000) } end
  print(same(other, site("grid", { battery_floor = 0.3 })))
end

function checks.study()
  local study = steading.study { name = "floors", axes = { { "floor", { 0.1, 0.3 } } }, columns = { "import" }, case = function(c)
    local run = site("grid", { outage_floor = 0.3, decide = function() return { battery_floor = c.floor } end }):simulate { start = "2027-01" }
    return { import = run.totals.grid_import_kwh }
  end }
  local rows = study.rows
  print(#rows, rows[2].import > rows[1].import, study.failed, study.different)
  local in_thread = coroutine.wrap(function() return same(site("grid", { decide = function() end }), site("grid", {})) end)
  print(in_thread())
end

-- All of the frames of two plans, number by number.
local function same_ride(a, b)
  local ask = { start = "2027-01", years = 1, last_hours = { 3, 6, 12, 24 }, initial = { state_of_charge = 0.5 } }
  local left, right, held = a:ride_through(ask), b:ride_through(ask), 0
  for i = 1, #left do
    if left[i].starts ~= right[i].starts or left[i].held ~= right[i].held then return "row " .. i .. " differs" end
    held = held + left[i].held
  end
  return #left == #right and held > 1000 and held < 3 * left:sum("starts") / 4 and "same" or "nothing is seen"
end

function checks.ride()
  local function without_grid(answer) return function(now) return not now.grid_up and answer or nil end end
  print(same_ride(site("grid", { battery_floor = 0.4, outage_floor = 0.3 }),
                  site("grid", { battery_floor = 0.4, outage_floor = 0.1, decide = without_grid { battery_floor = 0.3 } })))
  -- all of a class is left out below a charge that is above all charges
  print(same_ride(site("grid", { battery_floor = 0.4, shed = { sheddable = 1, restore_above = 0 } }),
                  site("grid", { battery_floor = 0.4, decide = without_grid { shed = { "sheddable" } } })))
  -- the comparison can fail
  print(same_ride(site("grid", { battery_floor = 0.4, outage_floor = 0.3 }),
                  site("grid", { battery_floor = 0.4, outage_floor = 0.1, decide = without_grid { battery_floor = 0.35 } })))
  -- what an outage asks about: the state of the outage, and its sun to the end of the years
  local seen, lowest = 0, 1
  site("grid", { battery_floor = 0.4, outage_floor = 0.1, decide = function(now)
    if now.grid_up then return end
    seen, lowest = math.max(seen, now.step), math.min(lowest, now.state_of_charge)
  end }):ride_through { start = "2027-01", years = 1, last_hours = 48 }
  print(seen > 8760, lowest < 0.15)
  -- what remembers is told apart: by counting, and by an on and off with a gap between
  local count, on = 0, false
  for _, remembers in ipairs {
    function() count = count + 1 return { battery_floor = count % 7 / 100 } end,
    function(now)
      if now.state_of_charge < 0.5 then on = true elseif now.state_of_charge > 0.8 then on = false end
      return { battery_floor = on and 0.3 or 0.2 }
    end } do
    local plan = site("grid", { battery_floor = 0.4, outage_floor = 0.1, decide = remembers })
    local fine, said = pcall(plan.ride_through, plan, { start = "2027-01", years = 1 })
    print(fine, (said:gsub("in 20%d%d, step %d+ of the run %b()", "STEP")))
  end
  -- an error of an outage names where it is
  local plan = site("grid", { decide = function(now) return now.step == 30 and not now.grid_up and 3 or nil end })
  print(pcall(plan.ride_through, plan, { start = "2027-01", years = 1 }))
end

-- the sun of AC-coupled arrays is told with the others, before what their own inverters clip
function checks.ac_coupled()
  local sum, ahead, first = 0, 0, 0
  local run = simulate(site("grid", { decide = function(now)
    sum = sum + now.pv_kw
    if now.step == 1 then ahead = now.sun_next_24h_kwh end
    if now.step <= 24 then first = first + now.pv_kw end
  end }, function(s)
    s.hubs.barn.arrays[2] = { tilt_deg = 10, azimuth_deg = 90, lots = { { count = 5 } }, coupled = "ac", own_inverter = { ac_kw = 1 },
                              module = { watts = 400, temp_coefficient_per_c = -0.0034 } }
  end))
  print(math.abs(sum - run.totals.pv_available_kwh) < 1e-6, math.abs(first - ahead) < 1e-9, run.totals.pv_curtailed_kwh > 100)
end

checks[args.what]()
