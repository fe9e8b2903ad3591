-- The site that the other five_homes scripts ask questions about: five dwellings, a workshop and a deep well behind one
-- hub. It answers nothing by itself: `require "five_homes_site"` gives a function that makes it.
--
-- The site, its loads, people, tariff and prices are invented. The sun and the mean temperatures are the published
-- means of a semi-arid high plain (Marion and Wilcox 1994, NREL/TP-463-5607, 1961-90, quoted from memory); the daily
-- temperature ranges are invented.
--
-- Left out, because this version does not carry it out yet: outages and a reserve for them, the rider and the tax of
-- the tariff, heat pumps and water heaters that follow the weather (here they are daily loads by month), the pressure
-- pump, the well's recovery and its motor's start, the compressor, insurance, horizon and cables.
local steading = require "steading"

-- choice: modules, panels, rise, years, weather ("" for the synthetic one), weather_years
return function(choice)
  local place = { latitude_deg = 35.05, longitude_deg = -106.6, elevation_m = 1619, time_zone = "America/Denver" }
  local weather
  if choice.weather ~= "" then
    weather = steading.weather.read(choice.weather)
  else
    weather = steading.weather.synthesize { place = place, years = choice.weather_years, seed = 11,
      ghi_kwh_per_m2_day = { 3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9 },
      temp_mean_c = { 1.2, 4.4, 8.3, 12.9, 17.9, 23.4, 25.8, 24.4, 20.3, 13.9, 6.8, 1.8 },
      temp_range_c = { 14, 14, 15, 16, 16, 16, 15, 14, 15, 16, 15, 14 } }
  end
  local south = weather.place.latitude_deg < 0
  local equator = south and 0 or 180

  -- a heat pump works most in the cold months and in the warmest ones; a heat-pump water heater runs in the middle of the day
  local heat_by_month = { 1.9, 1.5, 1.0, 0.5, 0.3, 0.6, 1.0, 0.8, 0.4, 0.5, 1.2, 1.9 }
  if south then
    local turned = {}
    for m = 1, 12 do turned[m] = heat_by_month[(m + 5) % 12 + 1] end
    heat_by_month = turned
  end
  local midday = { 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 2, 3, 3, 3, 2, 1, 0, 0, 0, 0, 0, 0, 0, 0 }

  local function dwelling(kwh_per_day, people, heat_kwh_per_day)
    return { hub = "barn", loads = {
      steading.load.daily { kwh_per_day = kwh_per_day, shape = "dwelling" },
      steading.load.daily { kwh_per_day = 0.75 * people, shape = midday },
      steading.load.daily { kwh_per_day = heat_kwh_per_day, shape = "even", monthly = heat_by_month } } }
  end

  local start = "2027-01"
  local function lot(count, price_each, life_years, labour_share)
    return { count = count, in_service = start, price_each = price_each, life_years = life_years,
             labour_share = labour_share }
  end
  local module = { watts = 455, temp_coefficient_per_c = -0.0034, noct_c = 44, degradation_per_year = 0.005 }
  local soiling = { 0.02, 0.02, 0.03, 0.04, 0.05, 0.05, 0.03, 0.03, 0.03, 0.03, 0.02, 0.02 }

  local site = steading.site {
    name = "five dwellings, a workshop and a deep well (invented)", weather = weather, currency = "USD",
    meters = { yard = { import_limit_kw = 24, export_limit_kw = 0,
                        tariff = { fixed_per_month = 34, energy = { { price_per_kwh = 0.138 } } } } },
    hubs = { barn = {
      meter = "yard",
      inverter = { unit = { ac_kw = 9, idle_w = 60, pass_through_kw = 19, battery_kw = 12.5,
                            efficiency = { at_10 = 0.93, at_50 = 0.965, at_100 = 0.95 } },
                   lots = { lot(2, 2900, 12, 0.6) } },
      arrays = {
        { tilt_deg = 35, azimuth_deg = equator, module = module, soiling = soiling,
          lots = { lot(choice.panels, 210 + 85, 40, 0.6) } },
        { tilt_deg = 18, azimuth_deg = south and 300 or 240, module = module, soiling = soiling,
          lots = { lot(16, 210 + 85, 40, 0.6) } } },
      battery = { module = { kwh = 4.8, charge_kw = 2.4, discharge_kw = 2.4, round_trip_efficiency = 0.94 },
                  lots = { lot(choice.modules, 1650, 15, 0.15) } },
      rules = { battery_floor = 0.15 } } },
    buildings = {
      main = dwelling(11, 4, 6), east = dwelling(7, 2, 4), west = dwelling(7, 3, 4),
      bunkhouse = dwelling(8, 4, 4.5), studio = dwelling(4, 1, 3),
      workshop = { hub = "barn", loads = {
        steading.load.timed { kw = 1.6, window = { hours = "09:00-13:00", days = "Mon-Fri" } },
        steading.load.refrigerators { count = 3, kwh_per_year_each = 420 },
        steading.load.steady { watts = 60 } } } },
    water = {
      wells = { deep = { hub = "barn", lift_m = 128, flow_l_per_min = 34, efficiency = 0.43,
                         lots = { { in_service = "2019-05", price_each = 2400, life_years = 18 } } } },
      tanks = { hill = { litres = 19000, fed_by = "deep", start_below = 0.45, stop_above = 0.95, surplus_to = 1.0,
                         lots = { { in_service = "2019-05", price_each = 5200, life_years = 40 } } } },
      users = { homes = { tank = "hill", people = 14, litres_per_person_day = 210 },
                garden = { tank = "hill", litres_per_day = south
                  and { 1100, 900, 700, 300, 0, 0, 0, 0, 300, 700, 1100, 1400 }
                  or { 0, 0, 300, 700, 1100, 1400, 1100, 900, 700, 300, 0, 0 } } } },
    works = {
      { name = "wiring and disconnects", price = 2600, life_years = 40 },
      { name = "trench and conduit, 140 m", price = 1900, labour_price = 2600, life_years = 40 },
      { name = "permit and inspection", price = 650, labour_share = 0 } },
  }

  local money = { horizon_years = choice.years, prices = "nominal", discount = 0.05, inflation = 0.025,
                  escalation = { energy = choice.rise, fixed = 0.02 }, small_items = { share = 0.11, of = "parts" },
                  hired_labour = 0.6 }

  return { site = site, money = money, weather = weather, start = start }
end
