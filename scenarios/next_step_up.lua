-- What is the next step up in the share that is free of the grid, and what is each further battery module worth?
--
-- The five homes with 44, 60 and 84 panels in the south array, and 4 to 16 battery modules with each. Every module is
-- judged by what it adds to the bank before it: the kWh that it keeps off the meter in a year, what such a kWh costs
-- over the module's life (its price with small items and labour, undiscounted, no wear), and what the same kWh costs
-- from the grid today (the difference of the two bills). `next_step_up.csv` holds a row a site. The site is invented;
-- five_homes_site.lua says what is sourced. Change first: --set target=0.95. Runs a second or two.
-- The lesson of this site: at today's price of energy seven modules pay for what they keep off the meter, the next
-- ones buy freedom, not money. Up to some 97 % of the energy modules are the cheaper step; there December is short of
-- sun, not of storage, and only more panels lift the share further.
local steading = require "steading"
local args = steading.args { years = 20, weather = "", weather_years = 20, target = 0.95 }
local life_years = 15 -- of a module, as five_homes_site.lua buys it
local panel_counts, fewest, most = { 44, 60, 84 }, 4, 16

local homes = require "five_homes_site" { modules = 8, panels = 44, years = args.years, weather = args.weather,
  weather_years = args.weather_years, bought = "at_once" }
local today = homes.site:grid_only():simulate { start = homes.start, years = args.years }
local module_counts = {}
for modules = fewest, most do module_counts[#module_counts + 1] = modules end

local study = steading.study {
  name = "next_step_up",
  axes = { { "panels", panel_counts }, { "modules", module_counts } },
  columns = { "free_hours", "free_energy", "import_kwh", "bill", "first_cost" },
  case = function(c)
    local plan = homes.site:with { ["hubs.barn.battery.lots[1].count"] = c.modules,
                                   ["hubs.barn.arrays[1].lots[1].count"] = c.panels }
    local run = plan:simulate { start = homes.start, years = args.years }
    local verdict = run:appraise { against = today, money = homes.money(0) }
    return { free_hours = run.per_year.grid_free_hours_share, free_energy = run.per_year.grid_free_energy_share,
             import_kwh = run.per_year.grid_import_kwh, bill = run.per_year.bill, first_cost = verdict.first_cost }
  end,
}

-- what a row's last module adds to the row before it, of the same panels
local function gain(row, before)
  if not before or before.panels ~= row.panels then return nil end
  local kwh = before.import_kwh - row.import_kwh
  return { kwh = kwh, hours = row.free_hours - before.free_hours,
           cost_per_kwh = kwh > 0 and (row.first_cost - before.first_cost) / (kwh * life_years) or steading.never,
           grid_per_kwh = kwh > 0 and (before.bill - row.bill) / kwh or 0 }
end
local function column(name)
  return function(row, before)
    local g = gain(row, before)
    if not g then return steading.none end
    return g[name]
  end
end
local rows = study.rows:add("import_avoided_kwh", column "kwh"):add("cost_per_kwh_avoided", column "cost_per_kwh")
    :add("grid_price_per_kwh", column "grid_per_kwh")
rows:write("next_step_up.csv")

local function say(text, ...) print(string.format(text, ...)) end
say("%s", homes.site.name)
say("                 free of the grid     the last module")
say("panels  modules  hours    energy      keeps off the meter   for such a kWh   the grid asks")
local before, reached, pays, cheapest = nil, {}, {}, nil
for row in rows:rows() do
  local g = gain(row, before)
  local text = string.format("%6d  %7d  %5.1f %%  %5.1f %%", row.panels, row.modules, 100 * row.free_hours,
                             100 * row.free_energy)
  if g then
    text = text .. string.format("   %10.0f kWh a year   %14s   %13.3f", g.kwh,
      g.cost_per_kwh == steading.never and "never" or string.format("%.2f", g.cost_per_kwh), g.grid_per_kwh)
    if g.cost_per_kwh <= g.grid_per_kwh then pays[row.panels] = row.modules end
  end
  print(text)
  if row.free_energy >= args.target and not reached[row.panels] then
    reached[row.panels] = row
    if not cheapest or row.first_cost < cheapest.first_cost then cheapest = row end
  end
  before = row
end
say("")
for _, panels in ipairs(panel_counts) do
  local row = reached[panels]
  say("With %d panels the last module that costs less than the energy it saves at today's price is number %s.", panels,
      pays[panels] or "none")
  if row then
    say("  %.0f %% of the energy: %d modules, first cost %.0f", 100 * args.target, row.modules, row.first_cost)
  else
    say("  %.0f %% of the energy: not with up to %d modules", 100 * args.target, most)
  end
end
if cheapest then
  say("The least first cost for %.0f %% of the energy: %d panels and %d modules.", 100 * args.target, cheapest.panels,
      cheapest.modules)
end
say("hours: with at most 0.05 kW of import and the whole load served; energy: 1 - import / load")
say("For screening and planning only: local codes and licensed people decide what is built.")
