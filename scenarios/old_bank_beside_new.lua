-- An old lead-acid bank came with the place: is it worth keeping beside the new modules, and for how long?
--
-- The five homes with eight new modules, and with the old bank too: worked after the new modules (where it rests full
-- and helps in the evenings that they do not last), before them (where it works every day), or as the only battery.
-- The old bank wears by its cycles and by its years; a bank that is spent is not bought again. For each plan the kWh
-- off the meter, what the old bank gave and lost, and its health after some years; then how many more new modules
-- would do the same. `old_bank.csv` holds a row a plan and year. Everything of the old bank is invented: its rates are
-- of the shape of a flooded bank's sheet, its cycles against depth are within the wide bands of such sheets.
-- Change first: --set kwh=21.6. Runs a second or two.
-- The lesson of this site: the bank is worth two new modules as long as it lives. Worked after the new ones it lives
-- twice as long and gives the same; worked before them it is spent in some years. Two kinds on one direct-current bus
-- are mostly forbidden by their makers: see the caution.
local steading = require "steading"
local args = steading.args { years = 8, weather = "", weather_years = 8, modules = 8, kwh = 21.6 }

local homes = require "five_homes_site" { modules = args.modules, panels = 44, years = args.years,
  weather = args.weather, weather_years = args.weather_years, bought = "at_once" }

local new
homes.site:with(function(s) new = s.hubs.barn.battery end)
-- 21.6 kWh at the 20 h rate; half of it may be used
local old = {
  module = { kwh = args.kwh, charge_kw = args.kwh / 8, discharge_kw = args.kwh / 3, usable = { 0.5, 1 },
             charge_efficiency = 0.87, discharge_efficiency = 0.87, chemistry = "lead_acid",
             gassing = { above = 0.85, at_full = 0.5 },
             rates = { { hours = 20, kwh = args.kwh }, { hours = 5, kwh = 0.82 * args.kwh },
                       { hours = 1, kwh = 0.55 * args.kwh } } },
  room = { temp_c = 22 },
  ageing = { model = "cycles_against_depth", replace_at_health = 0, calendar_years = 9,
             depths = { { depth = 0.2, cycles = 2600 }, { depth = 0.5, cycles = 900 }, { depth = 0.8, cycles = 450 } } },
  lots = { { count = 1, in_service = homes.start, price_each = 0, delivered_charge = 1 } },
}

local plans = {
  { name = "new modules alone", battery = { new } },
  { name = "old bank after them", battery = { new, old } },
  { name = "old bank before them", battery = { old, new } },
  { name = "old bank alone", battery = { old } },
}
local rows = {}
local function say(text, ...) print(string.format(text, ...)) end
say("%s, %d new modules, an old bank of %.1f kWh", homes.site.name, args.modules, args.kwh)
say("                        off the meter       of the old bank, a year     its health")
say("                        first     last      given       lost            after %d years", args.years)
for _, plan in ipairs(plans) do
  local run = homes.site:with { ["hubs.barn.battery"] = plan.battery }:simulate { start = homes.start, years = args.years }
  local place
  for i, kind in ipairs(plan.battery) do if kind == old then place = i end end
  plan.import = {}
  for year = 1, args.years do
    local row = run.annual[year]
    local of_old = place and run.batteries:where(function(r) return r.battery == place and r.year == row.year end)
    plan.import[year] = row.grid_import_kwh
    rows[#rows + 1] = { plan = plan.name, year = row.year, grid_import_kwh = row.grid_import_kwh,
      free_energy = row.grid_free_energy_share, old_given_kwh = of_old and of_old:sum("battery_discharge_kwh") or 0,
      old_lost_kwh = of_old and of_old:sum("battery_loss_kwh") or 0,
      old_health = of_old and of_old[#of_old].battery_health or steading.none }
  end
  local first, last = plan.import[1], plan.import[args.years]
  local saved_first, saved_last = plans[1].import[1] - first, plans[1].import[args.years] - last
  local given, lost = 0, 0
  for i = #rows - args.years + 1, #rows do
    given, lost = given + rows[i].old_given_kwh / args.years, lost + rows[i].old_lost_kwh / args.years
  end
  plan.saved = { saved_first, saved_last }
  if place then
    say("%-20s  %+7.0f  %+7.0f kWh  %6.0f     %6.0f kWh    %17.0f %%", plan.name, saved_first, saved_last, given, lost,
        100 * rows[#rows].old_health)
  else
    say("%-20s  %7.0f  %7.0f kWh drawn from the grid", plan.name, first, last)
  end
end
steading.frame { columns = { "plan", "year", "grid_import_kwh", "free_energy", "old_given_kwh", "old_lost_kwh", "old_health" },
                 rows = rows }:write("old_bank.csv")

say("")
for more = 1, 4 do
  local run = homes.site:with { ["hubs.barn.battery.lots[1].count"] = args.modules + more }
      :simulate { start = homes.start, years = args.years }
  say("%d new module%s more: %+.0f kWh in the first year, %+.0f in the last", more, more > 1 and "s" or "",
      plans[1].import[1] - run.annual[1].grid_import_kwh, plans[1].import[args.years] - run.annual[args.years].grid_import_kwh)
end
say("off the meter: against the new modules alone; more is better")
say("Two kinds of battery need voltages of charge of their own, and makers forbid most mixtures on one bus. Lead-acid")
say("cells give off hydrogen: ventilate. For screening and planning only: local codes and licensed people decide.")
