-- What share of the year is free of the grid, and what does it cost, for five dwellings, a workshop and a deep well
-- behind one hub? (The site is invented; five_homes_site.lua says what is sourced and what is left out.)
--
-- Change first: --set modules=8 (battery modules), --set panels=44, --set weather=FILE.epw.
-- Runs in a tenth of a second. `annual.csv`, `monthly.csv`: energy in kWh, water in litres; `cash_flow.csv`: money by
-- year; `purchases.csv`: what is bought and when. --set judge=false leaves the money out.
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
end
say("")
for row in run.warnings:rows() do say("  note: %s: %s", row.path, row.text) end
say("")
say("Written: annual.csv, monthly.csv%s, each with a .meta.json beside it.",
    args.judge and ", cash_flow.csv, purchases.csv" or "")
say("For screening and planning only. Wiring, batteries, wells and fuel can injure and kill: local codes and licensed")
say("people decide what is built.")
