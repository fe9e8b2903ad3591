-- How much of the year is free of the grid, for three batteries and two tilts? One case fails.
local steading = require "steading"
local weather = steading.weather.synthesize {
  place = { latitude_deg = -33.9, longitude_deg = 18.5, time_zone = "Africa/Johannesburg" }, years = 1, seed = 3,
  ghi_kwh_per_m2_day = { 7.9, 7.0, 5.7, 4.1, 2.9, 2.4, 2.6, 3.4, 4.6, 6.2, 7.5, 8.1 },
  temp_mean_c = { 21, 21, 20, 17, 15, 13, 12, 13, 14, 16, 18, 20 }, temp_range_c = 10 }

local site = steading.site {
  name = "three batteries", weather = weather, currency = "ZAR",
  meters = { road = { import_limit_kw = 10, tariff = { fixed_per_month = 200, energy = { { price_per_kwh = 3.1 } } } } },
  hubs = { barn = {
    meter = "road",
    inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.93, at_100 = 0.95 } },
                 lots = { { count = 1, price_each = 30000, life_years = 12 } } },
    arrays = { { tilt_deg = 30, azimuth_deg = 0, module = { watts = 450, temp_coefficient_per_c = -0.0035 },
                 lots = { { count = 12, price_each = 2500, life_years = 30 } } } },
    battery = {
      module = { kwh = 5.1, charge_kw = 2.5, discharge_kw = 2.5, round_trip_efficiency = 0.94 },
      lots = { { count = 1, price_each = 24000, life_years = 12 } } } } },
  buildings = { house = { hub = "barn", loads = { steading.load.daily { kwh_per_day = 16, shape = "dwelling" } } } } }

local study = steading.study {
  name = "batteries", axes = { { "modules", { 1, 2, 4 } }, { "tilt", { 15, 35 } } },
  columns = { "free_hours_share", "import_kwh", "bill" },
  case = function(c)
    if c.modules == 4 and c.tilt == 35 then error("four modules do not fit beside that array", 0) end
    local year = site:with { ["hubs.barn.battery.lots[1].count"] = c.modules,
                             ["hubs.barn.arrays[1].tilt_deg"] = c.tilt }:simulate { years = 1 }.per_year
    return { free_hours_share = year.grid_free_hours_share, import_kwh = year.grid_import_kwh, bill = year.bill }
  end }
study.rows:write("batteries.csv")
print(string.format("%d of %d cases failed", study.failed, #study.rows))
