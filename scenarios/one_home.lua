-- What does a small array with a battery save one dwelling? (Invented; the sun is that of a weather file or of 12 means.)
local steading = require "steading"
local weather = steading.weather.synthesize { years = 10, seed = 1,
  place = { latitude_deg = 39.0, longitude_deg = -3.9, elevation_m = 628, time_zone = "Europe/Madrid" },
  ghi_kwh_per_m2_day = { 1.9, 2.8, 4.2, 5.2, 5.9, 6.6, 7.0, 6.4, 5.2, 3.5, 2.4, 1.8 },
  temp_mean_c = { 6, 8, 11, 13, 17, 23, 27, 26, 21, 15, 10, 7 }, temp_range_c = { 11, 12, 13, 13, 14, 16, 18, 17, 15, 12, 11, 10 } }
local site = steading.site { name = "one home (invented)", weather = weather, currency = "EUR",
  meters = { house = { tariff = { fixed_per_month = 9, energy = { { price_per_kwh = 0.29 } } } } },
  hubs = { roof = { meter = "house",
    inverter = { unit = { ac_kw = 5, efficiency = { at_10 = 0.92, at_50 = 0.965, at_100 = 0.955 } }, lots = { { price_each = 1600, life_years = 12 } } },
    arrays = { { tilt_deg = 20, azimuth_deg = 180, module = { watts = 450, temp_coefficient_per_c = -0.0034 }, lots = { { count = 10, price_each = 160, life_years = 30 } } } },
    battery = { module = { kwh = 5, charge_kw = 2.5, discharge_kw = 2.5, round_trip_efficiency = 0.93 }, lots = { { count = 2, price_each = 1300, life_years = 15 } } } } },
  buildings = { home = { hub = "roof", loads = { steading.load.daily { kwh_per_day = 11, shape = "dwelling" } } } } }
local run, today = site:simulate { years = 20 }, site:grid_only():simulate { years = 20 }
local verdict = run:appraise { against = today, money = { horizon_years = 20, discount = 0.03, hired_labour = 0.4 } }
run.annual:write("annual.csv")
print(string.format("grid-free energy %.1f %%, hours %.1f %%; bill %.0f instead of %.0f; payback %.1f years",
  100 * run.totals.grid_free_energy_share, 100 * run.totals.grid_free_hours_share, run.per_year.bill, today.per_year.bill, verdict.simple_payback_years))
