-- Off the grid: a generator, or more battery? How many hours, starts and litres a year does each bank leave to it?
--
-- The site is invented: two dwellings and a shop on a prairie at 49 degrees north, no grid, wood heat, 26 kWh a day and
-- a third more in winter, 24 panels, a battery, a propane set of 9 kW with a charger of 6 kW. Every row is the same site
-- with another number of battery modules, with the set and without it, over ten invented years of weather.
-- `banks.csv` holds a row a bank, `fuel_by_month.csv` the litres of each month of the bank that is the answer: that of
-- least cost among those that leave the farm dark for at most ten hours a year (the set is quiet at night).
-- The lesson of this site: no bank here does without the set, which works in the dull weeks of winter. Beside it the
-- smallest bank is cheapest; more modules buy quiet nights and fewer starts, and beyond a dozen hardly save a litre.
local steading = require "steading"
local args = steading.args { years = 10, price_per_l = 0.85, most_dark_hours = 10 }

local weather = steading.weather.synthesize { years = args.years, seed = 4,
  place = { latitude_deg = 49.6, longitude_deg = -112.8, elevation_m = 920, time_zone = "America/Edmonton" },
  ghi_kwh_per_m2_day = { 1.3, 2.3, 3.7, 4.9, 5.8, 6.5, 6.9, 5.8, 4.1, 2.6, 1.5, 1.0 },
  temp_mean_c = { -8, -6, -1, 6, 12, 16, 19, 18, 13, 7, -1, -7 }, temp_range_c = 13 }

local winter = { 1.3, 1.25, 1.1, 1, 0.9, 0.85, 0.85, 0.85, 0.9, 1, 1.15, 1.3 }
local early = { 1, 1, 1, 1, 2, 4, 5, 4, 3, 2, 2, 3, 3, 2, 2, 2, 3, 4, 4, 4, 3, 2, 1, 1 }
local function dwelling(kwh, shape) return { steading.load.daily { kwh_per_day = kwh, shape = shape, monthly = winter } } end
local function once(count, price) return { { count = count, in_service = "2027-01", price_each = price, life_years = 20 } } end

local function farm(modules, with_set)
  local hub = {
    inverter = { unit = { ac_kw = 9, efficiency = { at_10 = 0.93, at_50 = 0.965, at_100 = 0.95 } }, lots = once(1, 4200) },
    arrays = { { tilt_deg = 65, azimuth_deg = 180, lots = once(24, 210), module = { watts = 440, temp_coefficient_per_c = -0.0034 } } },
    battery = { module = { kwh = 5.1, charge_kw = 2.5, discharge_kw = 2.5, round_trip_efficiency = 0.94, standby_w = 3 },
                lots = once(modules, 1700) },
    rules = { battery_floor = 0.1 } }
  if with_set then
    hub.generator = { role = "both", charger_kw = 6, service = { every_hours = 150, price = 240 }, lots = once(1, 7800),
                      unit = { kw = 9, fuel = "propane", no_load_l_per_h = 1.3, l_per_kwh = 0.48, least_load_share = 0.2 } }
    hub.rules.generator = { start_below_charge = 0.2, stop_above_charge = 0.6, quiet = "22:00-07:00", least_hours = 1 }
  end
  return steading.site { name = "two dwellings and a shop (invented)", weather = weather, currency = "CAD", hubs = { yard = hub },
    buildings = {
      house = { hub = "yard", loads = dwelling(11, "dwelling") }, cabin = { hub = "yard", loads = dwelling(7, early) },
      shop = { hub = "yard", loads = { steading.load.timed { kw = 1.6, window = { hours = "09:00-16:00", days = "Mon-Fri" } } } } },
    fuels = with_set and { propane = { price_per_l = args.price_per_l, fixed_per_year = 95, tank = { litres = 1900 },
      delivery = { order_below = 0.3, lead_days = 6, least_l = 400, fee = 35 } } } or nil }
end

local rows, least = {}, nil
local money = { horizon_years = args.years, prices = "real", discount = 0.04 }
print("the propane set beside a bank of        hours   starts   litres   fuel and service   all costs   hours without power")
print("                                       a year   a year   a year             a year      a year   with it, without it")
for _, modules in ipairs { 4, 6, 8, 12, 16, 24 } do
  local run = farm(modules, true):simulate { start = "2027-01", years = args.years }
  local bare = farm(modules, false):simulate { start = "2027-01", years = args.years }
  local verdict, year = run:appraise { against = bare, money = money }, run.per_year
  local running = (run.fuel:sum("cost") + verdict.cash_flow:sum("upkeep")) / args.years
  local row = { modules = modules, hours = year.generator_hours, starts = year.generator_starts,
                litres = run.fuel:sum("used_l") / args.years, fuel_and_service = running,
                cost_per_year = verdict.equivalent_annual_cost, dark_hours = year.loss_of_load_hours,
                dark_hours_without_set = bare.per_year.loss_of_load_hours }
  rows[#rows + 1] = row
  local may = row.dark_hours <= args.most_dark_hours
  if may and (not least or row.cost_per_year < least.row.cost_per_year) then least = { row = row, run = run } end
  print(string.format("%2d modules, %5.1f kWh %25.0f %8.0f %8.0f %18.0f %11.0f %13.0f %11.0f", modules, 5.1 * modules,
    row.hours, row.starts, row.litres, row.fuel_and_service, row.cost_per_year, row.dark_hours, row.dark_hours_without_set))
end
steading.frame { rows = rows, columns = { "modules", "hours", "starts", "litres", "fuel_and_service", "cost_per_year",
  "dark_hours", "dark_hours_without_set" } }:write("banks.csv")

if least then
  print(string.format("\nanswer: %d modules and the set, %.0f a year, %.0f of it fuel and service; at most %g dark hours a year",
    least.row.modules, least.row.cost_per_year, least.row.fuel_and_service, args.most_dark_hours))
  local text = {}
  for r in least.run.fuel:group({ "month" }, { used_l = "sum" }):rows() do
    text[#text + 1] = string.format("%.0f", r.used_l / args.years)
  end
  print("its litres from January to December: " .. table.concat(text, " "))
  least.run.fuel:write("fuel_by_month.csv")
else
  print(string.format("\nanswer: none of these leaves the farm dark for %g hours a year or less", args.most_dark_hours))
end
print("costs: equal yearly payments over " .. args.years .. " years, at 4 % real, all purchases included")
print("For screening and planning only: local codes and licensed people decide what is built. Carbon monoxide kills: a set runs")
print("outdoors, 6 m and more from doors, windows and vents, behind a transfer switch; fuel is stored as local code says.")
