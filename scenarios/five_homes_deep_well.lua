-- What share of the year is free of the grid and why is the rest not, what does it cost, and what would the next money
-- buy first, for five dwellings, a workshop and a deep well behind one hub? (The site is invented; five_homes_site.lua
-- says what is sourced and what is left out.)
--
-- Change first: --set modules=8 (battery modules), --set panels=44, --set weather=FILE (EPW, TMY3 or keyed CSV).
-- Runs in half a second. `annual.csv`, `monthly.csv`: energy in kWh, water in litres; `buildings.csv`: who used what;
-- `worst_weeks.csv`; `bills.csv`: every line of every month's bill; `cash_flow.csv`: money by year; `purchases.csv`: what
-- is bought and when; `next.csv`: what the next money would buy. --set judge=false leaves out all but the energy.
local steading = require "steading"
local args = steading.args { modules = 8, panels = 44, rise = 0.03, years = 25, judge = true,
                             weather = "", weather_years = 20 }
local homes = require "five_homes_site" { modules = args.modules, panels = args.panels, years = args.years,
  weather = args.weather, weather_years = args.weather_years, bought = "at_once" }
local site, money, weather, start = homes.site, homes.money(args.rise), homes.weather, homes.start

local run = site:simulate { start = start, years = args.years }
run.annual:write("annual.csv")
run.monthly:write("monthly.csv")

local function say(text, ...) print(string.format(text, ...)) end
local function years_text(years, why)
  if years == steading.never then return "never (" .. why .. ")" end
  if years == steading.none then return "no answer (" .. why .. ")" end
  return string.format("%.1f years", years) .. (why ~= "" and " (" .. why .. ")" or "")
end
local year = run.per_year
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
if args.judge then
  say("")
  say("Why energy was imported, kWh a year")
  local reasons = run:reasons():group({ "reason" }, { kwh = "sum", hours = "sum" }):sort("kwh", "descending")
  for row in reasons:rows() do say("  %-16s %7.0f  in %.0f hours", row.reason, row.kwh / args.years, row.hours / args.years) end
  local worst = run:worst { days = 7, column = "grid_import_kwh", count = 5 }
  worst:write("worst_weeks.csv")
  say("  the worst week begins %s: %.0f kWh of import, %.0f kWh of sun for %.0f kWh of load", worst[1].start:sub(1, 10),
      worst[1].grid_import_kwh, worst[1].pv_available_kwh, worst[1].load_kwh)
  run.buildings:write("buildings.csv")
  run.bills:write("bills.csv")
  local today = site:grid_only():simulate { start = start, years = args.years }
  local verdict = run:appraise { against = today, money = money }
  verdict.cash_flow:write("cash_flow.csv")
  verdict.purchases:write("purchases.csv")
  say("")
  say("Money (%s, nominal)", site.currency)
  say("  bill a year at today's prices: before %.0f, after %.0f", today.per_year.bill, year.bill)
  say("  first cost %.0f, with small items and hired labour", verdict.first_cost)
  say("  energy price rising %.0f %% a year: simple payback %s", 100 * args.rise,
      years_text(verdict.simple_payback_years, verdict.why.simple_payback_years))
  say("  discounted at 5 %%: payback %s, net present value %.0f",
      years_text(verdict.discounted_payback_years, verdict.why.discounted_payback_years), verdict.net_present_value)
  local battery, panels = "hubs.barn.battery.lots[1].count", "hubs.barn.arrays[1].lots[1].count"
  local options = {
    { name = "two battery modules more", with = { [battery] = args.modules + 2 } },
    { name = "eight panels more", with = { [panels] = args.panels + 8 } },
    { name = "both", with = { [battery] = args.modules + 2, [panels] = args.panels + 8 } } }
  local next_buys = site:additions { options = options, against = run, money = money }
  next_buys:write("next.csv")
  say("")
  say("What the next money would buy, best first (net present value per unit of money)")
  for row in next_buys:rows() do
    say("  %-26s for %5.0f: %+5.2f points of the hours, %+5.2f of the energy, net present value %6.0f", row.option, row.cost,
        100 * row.grid_free_hours_gain, 100 * row.grid_free_energy_gain, row.net_present_value)
  end
end
say("")
for row in run.warnings:rows() do say("  note: %s: %s", row.path, row.text) end
say("")
say("Written: annual.csv, monthly.csv%s, each with", args.judge
  and ", worst_weeks.csv, buildings.csv, bills.csv, cash_flow.csv, purchases.csv, next.csv" or "")
say("a .meta.json beside it.")
say("For screening and planning only. Wiring, batteries, wells and fuel can injure and kill: local codes and licensed")
say("people decide what is built.")
