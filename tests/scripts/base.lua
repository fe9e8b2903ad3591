-- The tables of a small invented site in which every part exists; tests change one field of it.
-- A test is given fresh tables, so that one change does not meet another.
local steading = require "steading"

local function lot(count, price_each)
  return { count = count, in_service = "2027-01", price_each = price_each, life_years = 1 }
end

return function()
  local base = {}
  base.climate = {
    place = { latitude_deg = 35.05, longitude_deg = -106.6, elevation_m = 1619, time_zone = "America/Denver" },
    years = 1, seed = 11,
    ghi_kwh_per_m2_day = { 3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9 },
    temp_mean_c = { 1.2, 4.4, 8.3, 12.9, 17.9, 23.4, 25.8, 24.4, 20.3, 13.9, 6.8, 1.8 },
    temp_range_c = { 14, 14, 15, 16, 16, 16, 15, 14, 15, 16, 15, 14 } }
  base.site = {
    name = "test", currency = "USD",
    meters = { yard = { import_limit_kw = 1.5, export_limit_kw = 0.5,
                        tariff = { fixed_per_month = 30, fixed_per_day = 0.2,
                                   energy = { { price_per_kwh = 0.14 } } } } },
    hubs = { barn = {
      meter = "yard",
      inverter = { unit = { ac_kw = 3, idle_w = 33, pass_through_kw = 1.2, battery_kw = 2, pv_kw = 2.8,
                            efficiency = { at_10 = 0.90, at_50 = 0.96, at_100 = 0.95 } },
                   lots = { lot(1, 1900) } },
      arrays = { { tilt_deg = 35, azimuth_deg = 180, lots = { lot(8, 210) },
                   module = { watts = 400, temp_coefficient_per_c = -0.0034, noct_c = 44,
                              degradation_per_year = 0.005 },
                   soiling = { 0.02, 0.02, 0.03, 0.04, 0.05, 0.05, 0.03, 0.03, 0.03, 0.03, 0.02, 0.02 },
                   incidence = { model = "martin_ruiz", a_r = 0.16 },
                   cell_temperature = { model = "noct" } } },
      battery = { module = { kwh = 4.8, usable = { 0.05, 0.95 }, charge_kw = 1.6, discharge_kw = 1.6,
                             round_trip_efficiency = 0.94, standby_w = 5 },
                  lots = { lot(1, 1650) } },
      rules = { battery_floor = 0.15 } } },
    buildings = {
      house = { hub = "barn", loads = {
        steading.load.daily { kwh_per_day = 9, shape = "dwelling" },
        steading.load.steady { watts = 60 },
        steading.load.refrigerators { count = 2, kwh_per_year_each = 400 },
        steading.load.timed { kw = 1.5, window = { hours = "09:00-13:00", days = "Mon-Fri" } } } },
      shed = { meter = "yard", loads = { steading.load.steady { watts = 300 } } } },
    water = {
      wells = { deep = { hub = "barn", lift_m = 60, flow_l_per_min = 20, efficiency = 0.4,
                         lots = { lot(1, 2400) } } },
      tanks = { hill = { litres = 2500, fed_by = "deep", start_below = 0.45, stop_above = 0.8,
                         surplus_to = 0.95, lots = { lot(1, 1200) } } },
      users = { homes = { tank = "hill", people = 4, litres_per_person_day = 250 },
                garden = { tank = "hill", litres_per_day = 300 } } },
    works = { { name = "trench", price = 900, labour_share = 0.5, life_years = 1 } } }
  base.simulate = { start = "2027-01", years = 2 }
  base.money = { horizon_years = 2, prices = "nominal", discount = 0.05, inflation = 0.025,
                 escalation = { energy = 0.03, fixed = 0.02 }, small_items = { share = 0.1, of = "parts" },
                 hired_labour = 0.6 }
  return base
end
