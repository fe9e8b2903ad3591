-- What is timed beside the main job: one invented site of a hub, a meter and a well, asked one thing.
-- "nothing" reads it and asks nothing, so that what the asking costs is a difference.
local steading = require "steading"
local args = steading.args { what = "nothing", years = 5 }

local weather = steading.weather.synthesize { years = 1, seed = 11,
  place = { latitude_deg = 35, longitude_deg = -106, elevation_m = 1600, time_zone = "America/Denver" },
  ghi_kwh_per_m2_day = { 3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9 },
  temp_mean_c = 12, temp_range_c = 15 }

local rules = { battery_floor = 0.2 }
if args.what == "decide" then
  rules.decide = function(now)
    return { battery_floor = (now.hour >= 17 and now.hour < 21) and 0.1 or 0.2 }
  end
end

local function free(count) return { { count = count, price_each = 0, life_years = 99 } } end

local site = steading.site { weather = weather, meters = { yard = { tariff = { energy = { { price_per_kwh = 0.2 } } } } },
  hubs = { barn = { meter = "yard",
    inverter = { unit = { ac_kw = 6, efficiency = { at_10 = 0.92, at_50 = 0.96, at_100 = 0.95 } }, lots = free(1) },
    arrays = { { tilt_deg = 35, azimuth_deg = 180, lots = free(16),
                 module = { watts = 400, temp_coefficient_per_c = -0.0034 } } },
    battery = { module = { kwh = 4.8, charge_kw = 2.4, discharge_kw = 2.4, round_trip_efficiency = 0.94 },
                lots = free(2) },
    rules = rules } },
  buildings = { house = { hub = "barn", loads = { steading.load.daily { kwh_per_day = 14, shape = "dwelling" } } } },
  water = { wells = { deep = { hub = "barn", lift_m = 90, flow_l_per_min = 30, efficiency = 0.4, lots = free(1) } },
            tanks = { hill = { litres = 9000, fed_by = "deep", lots = free(1) } },
            users = { homes = { tank = "hill", litres_per_day = 1500 } } } }

if args.what == "ride" then
  print(#site:ride_through { last_hours = { 4, 24, 168 }, years = args.years })
elseif args.what ~= "nothing" then
  print(site:simulate { start = "2027-01", years = args.years }.totals.grid_import_kwh)
end
