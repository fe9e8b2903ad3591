-- Sites whose written results must add up: `variant` names what is changed in the base.
local steading = require "steading"
local args = steading.args { variant = "whole" }
local base = require "base" ()
local s, barn = base.site, base.site.hubs.barn

local variants = {
  whole = function() end,
  no_battery = function() barn.battery = nil end,
  no_water = function() s.water = nil end,
  no_arrays = function() barn.arrays = nil end,
  no_export = function() s.meters.yard.export_limit_kw = 0 end,
  much_export = function()
    s.meters.yard.export_limit_kw = 10
    barn.arrays[1].lots[1].count = 20
    barn.inverter.lots[1].count = 3
  end,
  shed_takes_surplus = function()
    s.buildings.shed.loads = { steading.load.steady { watts = 900 } }
    barn.arrays[1].lots[1].count = 16
  end,
  scarce_grid = function() s.meters.yard.import_limit_kw = 0.4 end,
  off_grid = function() s.meters, barn.meter, s.buildings.shed = nil, nil, nil end,
  standby = function() barn.battery.module.standby_w = 60 barn.battery.lots[1].count = 3 end,
  no_hub = function()
    s.hubs = nil
    s.buildings.house.hub, s.buildings.house.meter = nil, "yard"
    s.water.wells.deep.hub, s.water.wells.deep.meter = nil, "yard"
  end,
  pump_on_meter = function() s.water.wells.deep.hub, s.water.wells.deep.meter = nil, "yard" end,
  charged_at_night = function()
    barn.inverter.unit.charge_from_grid_kw, barn.inverter.unit.charge_efficiency = 1.1, 0.9
    barn.battery.lots[1].count = 2
    barn.rules.charge_from_grid = { window = "22:00-05:00", charge_to = 0.9 }
    barn.rules.discharge_windows = { { hours = "06:00-11:00" }, { hours = "17:00-22:00", days = "Mon-Fri" } }
  end,
  charged_by_day = function()
    barn.inverter.unit.charge_from_grid_kw, barn.inverter.unit.night_w = 2, 5
    barn.battery.lots[1].count = 3
    barn.rules.charge_from_grid = { window = "08:00-16:00", charge_to = 0.6, kw = 0.7 }
    barn.rules.raise_reserve = { ahead_h = 48, below_kwh = 30, to = 0.8, skill = 0.5 }
    s.meters.yard.outages = { windows = { hours = "12:00-15:00", days = "Wed" } }
  end,
  ac_coupled = function() -- beside an array on DC, a grid that is down by day on Wednesdays
    barn.arrays[2] = { tilt_deg = 20, azimuth_deg = 250, module = barn.arrays[1].module, lots = { { count = 6 } },
                       coupled = "ac", own_inverter = { ac_kw = 1.7, efficiency = { at_10 = 0.9, at_50 = 0.96, at_100 = 0.955 } } }
    barn.inverter.unit.charge_from_grid_kw, barn.inverter.unit.charge_efficiency = 1.1, 0.9
    barn.inverter.unit.islanded_kw = 0.8
    s.meters.yard.outages = { windows = { hours = "11:00-15:00", days = "Wed" } }
  end,
  ac_coupled_off_grid = function()
    s.meters, barn.meter, s.buildings.shed = nil, nil, nil
    barn.arrays[1].coupled = "ac"
    barn.inverter.unit.charge_from_grid_kw, barn.inverter.unit.night_w = 3, 5
  end,
  generator = function() -- beside a grid that is up but for the evenings
    barn.generator = { unit = { kw = 2, fuel = "propane", no_load_l_per_h = 0.6, l_per_kwh = 0.5, least_load_share = 0.3 },
                       role = "both", charger_kw = 1, charger_efficiency = 0.9 }
    barn.rules.generator = { start_below_charge = 0.3, stop_above_charge = 0.7, only_without_grid = false,
                             quiet = "21:30-07:00", exercise = { window = { hours = "10:00-10:20", days = "Wed" }, loaded = true } }
    s.meters.yard.outages = { windows = "17:00-23:00" }
    s.fuels = { propane = { price_per_l = 0.8, fixed_per_year = 60, tank = { litres = 500, litres_at_start = 120 },
                            delivery = { order_below = 0.3, lead_days = 9, least_l = 100, fee = 20, closed = "03-10..04-30" } } }
  end,
  generator_off_grid = function() -- that charges the battery, and runs out of fuel in the second summer
    s.meters, barn.meter, s.buildings.shed = nil, nil, nil
    barn.generator = { unit = { kw = 2, fuel = "diesel", no_load_l_per_h = 0.4, l_per_kwh = 0.3 }, role = "charges",
                       charger_kw = 1.8, charger_efficiency = 0.9, lots = { { count = 1, price_each = 900 } } }
    barn.rules.generator = { start_below_charge = 0.3, stop_above_charge = 0.8, least_hours = 2, most_hours_per_day = 5.5 }
    s.fuels = { diesel = { price_per_l = 1.1, tank = { litres = 3000, litres_at_start = 2000 } } }
  end,
  sheds = function()
    s.meters.yard.outages = { windows = "14:00-23:00" }
    barn.rules.shed = { sheddable = 0.8, deferrable = 0.5, ordinary = 0.3, restore_above = 0.1 }
    local loads = s.buildings.house.loads
    loads[1].class, loads[2].class, loads[3].class = "sheddable", "essential", "deferrable"
  end,
  from_july = function() base.simulate.start = "2027-07" end,
}
if args.variant == "list" then
  for name in pairs(variants) do print(name) end
  return
end
variants[args.variant]()

s.weather = steading.weather.synthesize(base.climate)
base.simulate.keep = "steps"
local run = steading.site(s):simulate(base.simulate)
run.annual:write("annual.csv")
run.monthly:write("monthly.csv")
run.steps:write("steps.csv")
run.hubs.annual:write("hubs.csv")
run.hubs.monthly:write("hubs_monthly.csv")
run.meters.annual:write("meters.csv")
run.meters.monthly:write("meters_monthly.csv")
run.losses:write("losses.csv")
run.classes:write("classes.csv")
run.performance:write("performance.csv")
run.fuel:write("fuel.csv")
for name, value in pairs(run.totals) do print("totals", name, tostring(value)) end
for name, value in pairs(run.per_year) do print("per_year", name, tostring(value)) end
