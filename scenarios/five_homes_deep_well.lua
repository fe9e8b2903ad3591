-- What share of the year is free of the grid, and what does it cost, for five dwellings, a workshop and a deep well
-- behind one hub?
--
-- The site, its loads, people, tariff and prices are invented. The sun and the mean temperatures are the published
-- means of a semi-arid high plain (Marion and Wilcox 1994, NREL/TP-463-5607, 1961-90, quoted from memory); the daily
-- temperature ranges are invented.
--
-- Left out, because this version does not carry it out yet: outages and a reserve for them, the rider and the tax of
-- the tariff, heat pumps and water heaters that follow the weather (here they are daily loads by month), the pressure
-- pump, the well's recovery and its motor's start, the compressor, insurance, horizon and cables.
--
-- Change first: --set modules=8 (battery modules), --set panels=44, --set weather=FILE.epw.
-- Runs about a second. `annual.csv`, `monthly.csv`: energy in kWh, water in litres; `cash_flow.csv`: money by year.
local steading = require "steading"
local args = steading.args { modules = 8, panels = 44, rise = 0.03, years = 25, weather = "" }

local place = { latitude_deg = 35.05, longitude_deg = -106.6, elevation_m = 1619, time_zone = "America/Denver" }
local weather
if args.weather ~= "" then
  weather = steading.weather.read(args.weather)
else
  weather = steading.weather.synthesize { place = place, years = 20, seed = 11,
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
        lots = { lot(args.panels, 210 + 85, 40, 0.6) } },
      { tilt_deg = 18, azimuth_deg = south and 300 or 240, module = module, soiling = soiling,
        lots = { lot(16, 210 + 85, 40, 0.6) } } },
    battery = { module = { kwh = 4.8, charge_kw = 2.4, discharge_kw = 2.4, round_trip_efficiency = 0.94 },
                lots = { lot(args.modules, 1650, 15, 0.15) } },
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

local money = { horizon_years = args.years, prices = "nominal", discount = 0.05, inflation = 0.025,
                escalation = { energy = args.rise, fixed = 0.02 }, small_items = { share = 0.11, of = "parts" },
                hired_labour = 0.6 }

local run = site:simulate { start = start, years = args.years }
local today = site:grid_only():simulate { start = start, years = args.years }
local verdict = run:appraise { against = today, money = money }

run.annual:write("annual.csv")
run.monthly:write("monthly.csv")
verdict.cash_flow:write("cash_flow.csv")
verdict.purchases:write("purchases.csv")

local function say(text, ...) print(string.format(text, ...)) end
local function years_text(years, why)
  if years == steading.never then return "never (" .. why .. ")" end
  if years == steading.none then return "no answer (" .. why .. ")" end
  return string.format("%.1f years", years) .. (why ~= "" and " (" .. why .. ")" or "")
end
local year, before = run.per_year, today.per_year
say("%s", site.name)
say("  %d years from %s at latitude %.2f, on %d year%s of weather", args.years, start, weather.place.latitude_deg,
    weather.years, weather.years == 1 and "" or "s")
say("")
say("Free of the grid")
say("  by hours   %5.1f %%   hours with at most 0.05 kW of import and the whole load served, over all hours",
    100 * year.grid_free_hours_share)
say("  by energy  %5.1f %%   1 - import / load", 100 * year.grid_free_energy_share)
say("  a year: load %.0f kWh (pump %.0f), import %.0f, sun used %.0f of %.0f, not served %.0f", year.load_kwh,
    year.pump_kwh, year.grid_import_kwh, year.pv_used_kwh, year.pv_available_kwh, year.unserved_kwh)
say("  battery: %.1f kWh nominal, %.1f above the floor, %.0f cycles a year; water short %.0f l", args.modules * 4.8,
    args.modules * 4.8 * 0.85, year.equivalent_cycles, year.water_short_l)
say("")
say("Money (%s, nominal)", site.currency)
say("  bill a year at today's prices: before %.0f, after %.0f", before.bill, year.bill)
say("  first cost %.0f, with small items and hired labour", verdict.first_cost)
say("  energy price rising %.0f %% a year: simple payback %s", 100 * args.rise,
    years_text(verdict.simple_payback_years, verdict.why.simple_payback_years))
say("  discounted at 5 %%: payback %s, net present value %.0f",
    years_text(verdict.discounted_payback_years, verdict.why.discounted_payback_years), verdict.net_present_value)
for row in run.warnings:rows() do say("  note: %s: %s", row.path, row.text) end
say("")
say("Written: annual.csv, monthly.csv, cash_flow.csv, purchases.csv, each with a .meta.json beside it.")
say("For screening and planning only. Wiring, batteries, wells and fuel can injure and kill: local codes and licensed")
say("people decide what is built.")
