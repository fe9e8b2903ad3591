-- The fuel truck is late: at which gauge must it be ordered, so that the lights stay on while the road is closed?
--
-- The site is invented: a workshop and two dwellings in northern woods, no grid, little sun in winter, a propane set
-- that charges the battery and carries the loads, one tank of 1200 l filled to 80 %. A truck comes six days after it is
-- ordered, or sixteen when it is late; from 10 March to 30 April, in mud season, there is no road at all. Every row is
-- the same site with another standing order, over five invented years of weather.
-- `late.csv` holds a row an order, `fuel.csv` the tank of the order at 30 % month by month.
-- The lesson of this site: what counts is the gauge on the day when the road closes. Ordered at 30 % the tank may be half
-- full then, which ends with the mud; ten days late it is a third full, and eight days a year are without fuel. Ordered
-- at 45 % it lasts, at 60 % it does so even when the truck is late: that costs three to six more trucks a year.
local steading = require "steading"
local args = steading.args { years = 5, price_per_l = 0.74 }

local weather = steading.weather.synthesize { years = args.years, seed = 9,
  place = { latitude_deg = 46.9, longitude_deg = -68, elevation_m = 190, time_zone = "America/New_York" },
  ghi_kwh_per_m2_day = { 1.5, 2.5, 3.7, 4.4, 5.1, 5.5, 5.5, 4.8, 3.6, 2.2, 1.3, 1.1 },
  temp_mean_c = { -12, -10, -4, 3, 10, 15, 18, 17, 12, 6, -1, -8 }, temp_range_c = 11 }

local function woods(order_below, lead_days, closed)
  return steading.site { name = "a workshop and two dwellings in the woods (invented)", weather = weather, currency = "USD",
    hubs = { shed = {
      inverter = { unit = { ac_kw = 8, efficiency = { at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } }, lots = { { count = 1, price_each = 0, life_years = 20 } } },
      arrays = { { tilt_deg = 60, azimuth_deg = 180, lots = { { count = 9, price_each = 0, life_years = 20 } },
                   module = { watts = 430, temp_coefficient_per_c = -0.0034 }, snow = { 0.3, 0.3, 0.15, 0, 0, 0, 0, 0, 0, 0, 0.05, 0.2 } } },
      battery = { module = { kwh = 5, charge_kw = 2.5, discharge_kw = 2.5, round_trip_efficiency = 0.94 }, lots = { { count = 5, price_each = 0, life_years = 20 } } },
      generator = { role = "both", charger_kw = 5, lots = { { count = 1, price_each = 0, life_years = 20 } },
                    unit = { kw = 8, fuel = "propane", no_load_l_per_h = 1.1, l_per_kwh = 0.5, least_load_share = 0.2 } },
      rules = { battery_floor = 0.1, generator = { start_below_charge = 0.2, stop_above_charge = 0.7,
        exercise = { window = { hours = "11:00-11:20", days = "Sat", months = "May-Sep" } } } } } },
    buildings = {
      dwellings = { hub = "shed", loads = { steading.load.daily { kwh_per_day = 21, shape = "dwelling" } } },
      workshop = { hub = "shed", loads = { steading.load.timed { kw = 1.8, window = { hours = "08:00-12:00", days = "Mon-Fri" } } } } },
    fuels = { propane = { price_per_l = args.price_per_l, fixed_per_year = 95, tank = { litres = 1200, litres_at_start = 700 },
      delivery = { order_below = order_below, lead_days = lead_days, least_l = 200, fee = 35, closed = closed } } } }
end

local mud = { "03-10..04-30" }
local standing = { "ordered at 30 %", 0.3, 6, mud }
local cases = { { "no road is ever closed", 0.3, 6, {} }, standing, { "ordered at 30 %, ten days late", 0.3, 16, mud },
                { "ordered at 45 %", 0.45, 6, mud }, { "ordered at 60 %", 0.6, 6, mud }, { "ordered at 60 %, ten days late", 0.6, 16, mud } }
local rows = {}
print("                                  litres   trucks   lowest gauge   end of February   days without   unserved   fuel, a year")
for _, case in ipairs(cases) do
  local run = woods(case[2], case[3], case[4]):simulate { start = "2027-01", years = args.years, keep = "steps", columns = { "time", "unserved_kwh", "reason" } }
  local lowest, february, dry, fuel = 1, 1, 0, run.fuel
  for r in fuel:rows() do
    lowest = math.min(lowest, r.lowest_share)
    if r.month == 2 then february = math.min(february, r.level_l / 1200) end
    dry = dry + r.hours_without_fuel
  end
  local spells = run:events { kind = "unserved", join_hours = 72 }
  local row = { case = case[1], litres = fuel:sum("used_l") / args.years, trucks = fuel:sum("deliveries") / args.years, lowest_gauge = lowest,
                lowest_at_end_of_february = february, hours_without_fuel = dry / args.years, unserved_kwh = run.per_year.unserved_kwh,
                cost_per_year = fuel:sum("cost") / args.years, first_dark = #spells > 0 and spells[1].start or "" }
  rows[#rows + 1] = row
  print(string.format("%-31s %8.0f %8.1f %12.0f %% %15.0f %% %14.1f %10.0f %14.0f", row.case, row.litres, row.trucks, 100 * lowest,
    100 * february, row.hours_without_fuel / 24, row.unserved_kwh, row.cost_per_year))
  if case == standing then fuel:write("fuel.csv") end
end
steading.frame { rows = rows, columns = { "case", "litres", "trucks", "lowest_gauge", "lowest_at_end_of_february", "hours_without_fuel",
  "unserved_kwh", "cost_per_year", "first_dark" } }:write("late.csv")

local best
for _, row in ipairs(rows) do
  if row.case ~= "no road is ever closed" and row.hours_without_fuel == 0 and not best then best = row end
end
print()
if best then
  print("answer: " .. best.case .. ", no hour is without fuel in these years; " .. standing[1] .. ", " ..
    (rows[2].first_dark ~= "" and "it is dark for the first time on " .. rows[2].first_dark:sub(1, 10) or "neither"))
else
  print("answer: none of these orders keeps the set running through mud season; a larger tank, or more sun")
end
print("gauge: share of the tank's volume, which is filled to 80 % of it; days without: in which the set was to run and could not, a year")
print("For screening and planning only: local codes and licensed people decide what is built. Carbon monoxide kills: a set runs")
print("outdoors, 6 m and more from doors, windows and vents, behind a transfer switch; fuel is stored as local code says.")
