-- How many battery modules are worth buying for the five homes, and does the answer change with the price of energy?
--
-- Two axes: the number of modules and the yearly rise of the price per kWh. Every case is the whole site for 20 years
-- against the same site without its hub. `battery_counts.csv` holds a row a case; the last column says whether the
-- case ran. If the study is stopped, --resume goes on where it was. Runs a second or two.
-- The lesson of this site: up to eight modules each one frees about six points of the year's hours, beyond twelve only
-- half a point, since what is left are the dull spells that no bank of this size bridges.
local steading = require "steading"
local args = steading.args { years = 20, weather = "", weather_years = 20 }
local make = require "five_homes_site"
local choice = { modules = 8, panels = 44, years = args.years, weather = args.weather,
                 weather_years = args.weather_years, bought = "at_once" }
local homes = make(choice)
local today = homes.site:grid_only():simulate { start = homes.start, years = args.years }

local study = steading.study {
  name = "battery_counts",
  axes = { { "modules", { 2, 4, 6, 8, 10, 12, 16 } }, { "rise", { 0.03, 0.10, 0.20 } } },
  columns = { "free_hours", "free_energy", "import_kwh", "first_cost", "net_present_value", "payback_years" },
  case = function(c)
    local plan = homes.site:with { ["hubs.barn.battery.lots[1].count"] = c.modules }
    local run = plan:simulate { start = homes.start, years = args.years }
    local verdict = run:appraise { against = today, money = homes.money(c.rise) }
    return { free_hours = run.per_year.grid_free_hours_share, free_energy = run.per_year.grid_free_energy_share,
             import_kwh = run.per_year.grid_import_kwh, first_cost = verdict.first_cost,
             net_present_value = verdict.net_present_value, payback_years = verdict.simple_payback_years }
  end,
}
study.rows:write("battery_counts.csv")

print("modules  rise   free of the grid: hours  energy   import kWh   net present value   simple payback")
for row in study.rows:rows() do
  print(string.format("%7d  %3.0f %%                  %5.1f %%  %5.1f %%   %10.0f   %17.0f   %s", row.modules, 100 * row.rise,
    100 * row.free_hours, 100 * row.free_energy, row.import_kwh, row.net_present_value,
    row.payback_years == steading.never and "never" or string.format("%.1f years", row.payback_years)))
end
print("hours: with at most 0.05 kW of import and the whole load served; energy: 1 - import / load")
print("For screening and planning only: local codes and licensed people decide what is built.")
