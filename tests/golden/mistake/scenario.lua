-- A site with a mistake in its third lot: the first file is written, the second is not.
local steading = require "steading"
local months = { 3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9 }
local weather = steading.weather.synthesize {
  place = { latitude_deg = 35.05, longitude_deg = -106.6, time_zone = "America/Denver" }, years = 1, seed = 11,
  ghi_kwh_per_m2_day = months, temp_mean_c = 12, temp_range_c = 14 }
weather:monthly():write("weather.csv")
print("the weather is written")

local site = steading.site {
  name = "a mistake", weather = weather,
  hubs = { barn = {
    inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.93, at_100 = 0.95 } } },
    battery = {
      module = { kwh = 4.8, charge_kw = 2.4, discharge_kw = 2.4, round_trip_efficiency = 0.94 },
      lots = { { count = 2, price_each = 1650, life_years = 15 },
               { count = 2, price_each = 1650, life_year = 15 } } } } } }
site:simulate { years = 1 }.annual:write("annual.csv")
