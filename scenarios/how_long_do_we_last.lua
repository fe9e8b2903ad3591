-- How long do we last when the grid fails: on a January evening, at noon in July, and what does a reserve change?
--
-- The five homes with an unreliable line. An outage is started at every hour of twenty years of normal operation, with
-- the battery as it then is, and followed until a load goes without: exact, no dice. `last` says how long the worst
-- twentieth, the middle one and the best twentieth of the starts of a month and hour last; `never` is longer than the
-- week that is asked for. Then the same line's outages are drawn at random over twenty years, for what they cost in
-- hours without power. The site is invented, and so are the six outages a year of five hours on average;
-- five_homes_site.lua says what is sourced. Files: how_long.csv (a row for each month, start and length), lasting.csv
-- (the percentiles by month and start). Change first: --set outages=12 --set hours=3. Runs two seconds.
-- The lesson of this site: on most January evenings the battery is full and lasts till late at night, reserve or not;
-- a reserve lifts the worst evenings from nothing to five hours. It halves the hours without power of a year, and trebles
-- what is bought from the grid, every day of it. At noon in July the sun carries the site for days.
-- Screening, no promise: motor starts, cold batteries and what people do in an outage are not in it. Whoever depends on
-- power for life or water keeps a second way.
local steading = require "steading"
local args = steading.args { outages = 6, hours = 5, years = 20, weather = "", modules = 8 }

local homes = require "five_homes_site" { modules = args.modules, panels = 44, years = args.years, weather = args.weather,
  weather_years = args.years, bought = "at_once" }
local evening, noon, january, july = 18, 12, 1, 7

local function with_reserve(share)
  return homes.site:with { ["hubs.barn.rules.reserve"] = share, ["hubs.barn.rules.outage_floor"] = 0.05,
    ["meters.yard.outages"] = { saifi = args.outages, caidi_h = args.hours, seed = 3, in_dull_weather = 0.3 } }
end

local function lasts(row)
  return row.hours == steading.never and "over 168 h" or string.format("%.0f h", row.hours)
end

local function of(frame, month, hour)
  local found = {}
  for row in frame:rows() do
    if row.month == month and row.start_hour == hour then found[#found + 1] = lasts(row) end
  end
  return string.format("%s, %s, %s", found[1], found[2], found[3])
end

print(homes.site.name)
print("how long it lasts without the grid: the worst twentieth of the starts, the middle one, the best twentieth")
for _, share in ipairs { 0, 0.4, 0.7 } do
  local site = with_reserve(share)
  local ride = site:ride_through { start = homes.start, years = args.years, start_hours = { noon, evening },
                                   last_hours = { 4, 12, 24, 72, 168 } }
  local lasting = ride:percentiles { 0.05, 0.5, 0.95, by = { "month", "start_hour" } }
  local run = site:simulate { start = homes.start, years = args.years }
  if share == 0 then
    ride:write("how_long.csv")
    lasting:write("lasting.csv")
    local water = site:ride_through { start = homes.start, years = args.years, keep_serving = "water" }
    print(string.format("the grid is down %.1f h a year; the water lasts %s, %s, %s",
      run.per_year.outage_hours, lasts(water:percentiles { 0.05 }[1]), lasts(water:percentiles { 0.5 }[1]),
      lasts(water:percentiles { 0.95 }[1])))
  end
  print(string.format("reserve %.0f %%: a January evening lasts %s; noon in July %s", 100 * share,
    of(lasting, january, evening), of(lasting, july, noon)))
  print(string.format("  %.0f kWh a year from the grid; of %d outages, %.1f h a year without power",
    run.per_year.grid_import_kwh, #run:events { kind = "outage" }, run.per_year.loss_of_load_hours))
end
print("For screening and planning only: local codes and licensed people decide what is built. Whoever depends on power for")
print("life or water keeps a second way.")
