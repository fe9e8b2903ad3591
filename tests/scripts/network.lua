-- A site of several hubs, meters, wells and tanks whose parts come and go, for test_network_files.
local steading = require "steading"
local args = steading.args { minutes = 60, piece = "" }

local function unit(kw, count)
  return { unit = { ac_kw = kw, idle_w = 6 * kw, efficiency = { at_10 = 0.91, at_50 = 0.96, at_100 = 0.95 } },
           lots = { { count = count } } }
end
local function array(azimuth, ...)
  return { tilt_deg = 25, azimuth_deg = azimuth, module = { watts = 420, temp_coefficient_per_c = -0.0036 }, lots = { ... } }
end
local module = { kwh = 5.1, usable = { 0.05, 0.95 }, charge_kw = 2.5, discharge_kw = 2.5, round_trip_efficiency = 0.9, standby_w = 3 }

local site = steading.site {
  weather = steading.weather.synthesize { years = 1, seed = 2,
    place = { latitude_deg = 35, longitude_deg = -106.6, time_zone = "America/Denver" },
    ghi_kwh_per_m2_day = { 3.2, 4.2, 5.4, 6.8, 7.7, 8.1, 7.5, 6.9, 5.9, 4.7, 3.5, 2.9 }, temp_mean_c = 13, temp_range_c = 15 },
  meters = {
    yard = { import_limit_kw = 7, export_limit_kw = 1.5, outages = { windows = { hours = "10:00-15:00", days = "Wed" } } },
    road = { export_limit_kw = 4 },
  },
  hubs = {
    barn = { meter = "yard", inverter = unit(4, 2), arrays = { array(180, { count = 14 }, { count = 6, in_service = "2027-05-12" }) },
             battery = { module = module, lots = { { count = 2, retired = "2027-10-20" },
                                                   { count = 2, in_service = "2027-03-09", delivered_charge = 0.6 } } },
             rules = { battery_floor = 0.2, outage_floor = 0.1, resume_above = 0.35,
                       reserve = { 0.5, 0.5, 0.3, 0, 0, 0, 0, 0, 0, 0.3, 0.5, 0.5 } } },
    mill = { meter = "yard", inverter = unit(3, 1), rules = { surplus_order = { "battery", "export" } },
             battery = { module = module, lots = { { count = 1, in_service = "2027-07-03" } } },
             arrays = { array(90, { count = 5 }) } },
    lodge = { meter = "road", inverter = unit(5, 1), arrays = { array(230, { count = 12, retired = "2027-09-30" }, { count = 9, in_service = "2027-09-30" }) } },
    cabin = { inverter = unit(2, 1), arrays = { array(180, { count = 6 }) }, battery = { module = module, lots = { { count = 3 } } } },
  },
  buildings = {
    house = { hub = "barn", loads = { steading.load.daily { kwh_per_day = 17, shape = "dwelling" } } },
    press = { hub = "mill", loads = { steading.load.timed { kw = 2.2, window = { hours = "07:40-16:10", days = "Mon-Fri" } } } },
    guests = { hub = "lodge", loads = { steading.load.bills { kwh = { 410, 380, 300, 260, 240, 300, 420, 430, 300, 250, 300, 400 }, shape = "dwelling" } } },
    hut = { hub = "cabin", loads = { steading.load.steady { watts = 190 } } },
    gate = { meter = "yard", in_service = "2027-02-02", loads = { steading.load.steady { watts = 120 } } },
  },
  water = {
    wells = { deep = { hub = "barn", lift_m = 90, flow_l_per_min = 24, efficiency = 0.4 },
              low = { meter = "road", lift_m = 30, flow_l_per_min = 40, efficiency = 0.4 } },
    tanks = { hill = { litres = 9000, fed_by = "deep" }, spur = { litres = 3000, fed_by = "deep", lots = { { count = 1, in_service = "2027-04-04" } } },
              pond = { litres = 20000, fed_by = "low", start_below = 0.5, stop_above = 0.8 } },
    users = { homes = { tank = "hill", people = 8, litres_per_person_day = 180 }, stock = { tank = "spur", litres_per_day = 900 },
              field = { tank = "pond", litres_per_day = { 0, 0, 0, 3000, 7000, 9000, 9000, 8000, 5000, 1000, 0, 0 } } },
  },
}
local options = { start = "2027-01", step_minutes = args.minutes, keep = "steps" }
if args.piece ~= "" then
  options.columns = { "served_kwh", "grid_import_kwh", "time" }
  options.from, options.to = "2027-03-14", "2027-03-15"
end
local run = site:simulate(options)
run.steps:write("steps.csv")
run.monthly:write("monthly.csv")
run.hubs.monthly:write("hubs.csv")
run.meters.monthly:write("meters.csv")
