-- The site that the other five_homes scripts, next_step_up.lua, how_long_do_we_last.lua and old_bank_beside_new.lua ask
-- questions about: five dwellings, a workshop and a deep well behind one hub. It answers nothing by itself:
-- `require "five_homes_site"` gives a function that makes it.
--
-- The site, its loads, people, tariff and prices are invented. The sun and the mean temperatures are the published
-- means of a semi-arid high plain (Marion and Wilcox 1994, NREL/TP-463-5607, 1961-90, quoted from memory); the daily
-- temperature ranges are invented.
--
-- Left out, because this version does not carry it out yet: heat pumps and water heaters that follow
-- the weather (here they are daily loads by month), the pressure pump, the well's recovery and its motor's start, the
-- compressor, insurance, horizon and cables.
local steading = require "steading"

-- choice: modules, panels, years, weather ("" for the synthetic one), weather_years; `bought` "at_once" or "in_stages"
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
  -- no two households keep the same hours: up early, out all day, home all day, many people, late to bed
  local early = { 2, 2, 2, 2, 3, 7, 9, 7, 4, 3, 3, 4, 5, 4, 3, 3, 4, 6, 8, 7, 4, 3, 2, 2 }
  local out_all_day = { 2, 2, 2, 2, 2, 3, 7, 8, 3, 2, 2, 2, 2, 2, 2, 2, 3, 6, 9, 9, 8, 6, 4, 3 }
  local many = { 3, 2, 2, 2, 2, 3, 5, 7, 6, 4, 4, 5, 7, 5, 4, 4, 5, 7, 9, 9, 8, 7, 5, 4 }
  local late = { 6, 5, 3, 2, 2, 2, 2, 2, 3, 4, 5, 5, 5, 5, 4, 4, 5, 6, 7, 8, 9, 9, 9, 8 }

  local function dwelling(kwh_per_day, shape, people, heat_kwh_per_day)
    return { hub = "barn", loads = {
      steading.load.daily { kwh_per_day = kwh_per_day, shape = shape },
      steading.load.daily { kwh_per_day = 0.75 * people, shape = midday },
      steading.load.daily { kwh_per_day = heat_kwh_per_day, shape = "even", monthly = heat_by_month } } }
  end

  local start = "2027-01"
  local function lot(count, price_each, life_years, labour_share, in_service)
    return { count = count, in_service = in_service or start, price_each = price_each, life_years = life_years,
             labour_share = labour_share }
  end
  -- what is bought later costs what it will cost then: prices of modules and panels fall, money loses value
  local inflation = 0.025
  local function price_then(price, trend, years) return price * (1 + trend) ^ years * (1 + inflation) ^ years end
  local batteries, more_panels = { lot(choice.modules, 1650, 15, 0.15) }, { lot(16, 210 + 85, 40, 0.6) }
  if choice.bought == "in_stages" then
    batteries = { lot(choice.modules // 2, 1650, 15, 0.15),
                  lot(choice.modules - choice.modules // 2, price_then(1650, -0.04, 2), 15, 0.15, "2029-01") }
    more_panels = { lot(16, price_then(210 + 85, -0.02, 4), 40, 0.6, "2031-01") }
  end
  local module = { watts = 455, temp_coefficient_per_c = -0.0034, noct_c = 44, degradation_per_year = 0.005 }
  local soiling = { 0.02, 0.02, 0.03, 0.04, 0.05, 0.05, 0.03, 0.03, 0.03, 0.03, 0.02, 0.02 }

  local site = steading.site {
    name = "five dwellings, a workshop and a deep well (invented)", weather = weather, currency = "USD",
    meters = { yard = { import_limit_kw = 24, export_limit_kw = 0,
                        tariff = { fixed_per_month = 34, energy = { { price_per_kwh = 0.138 } },
                                   riders = { { name = "power cost", price_per_kwh = 0.012 } },
                                   taxes = { { name = "sales", share = 0.06, on = { "energy", "fixed", "riders" } } } } } },
    hubs = { barn = {
      meter = "yard",
      inverter = { unit = { ac_kw = 9, idle_w = 60, pass_through_kw = 19, battery_kw = 12.5,
                            efficiency = { at_10 = 0.93, at_50 = 0.965, at_100 = 0.95 } },
                   lots = { lot(2, 2900, 12, 0.6) } },
      arrays = {
        { tilt_deg = 35, azimuth_deg = equator, module = module, soiling = soiling,
          lots = { lot(choice.panels, 210 + 85, 40, 0.6) } },
        { tilt_deg = 18, azimuth_deg = south and 300 or 240, module = module, soiling = soiling, lots = more_panels } },
      battery = { module = { kwh = 4.8, charge_kw = 2.4, discharge_kw = 2.4, round_trip_efficiency = 0.94 },
                  lots = batteries },
      rules = { battery_floor = 0.15, resume_above = 0.20 } } },
    buildings = {
      main = dwelling(11, "dwelling", 4, 6), east = dwelling(7, early, 2, 4), west = dwelling(7, out_all_day, 3, 4),
      bunkhouse = dwelling(8, many, 4, 4.5), studio = dwelling(4, late, 1, 3),
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

  -- the money of the plan when electricity rises by `rise` a year: one number, or one for each year
  local function money(rise)
    return { horizon_years = choice.years, prices = "nominal", discount = 0.05, inflation = inflation,
             escalation = { energy = rise, fixed = 0.02 }, small_items = { share = 0.11, of = "parts" },
             hired_labour = 0.6 }
  end
  return { site = site, money = money, weather = weather, start = start }
end
