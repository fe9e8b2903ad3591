-- Buy at once, or in stages as money comes in, and what does each stage bring if electricity rises 0, 3, 10 or 20 % a year?
--
-- The five homes of five_homes_site.lua (invented). In stages: in 2027 the south array, the inverters and half the
-- battery, in 2029 the other half, in 2031 the west array, at the prices of their years. A stage is judged against
-- the plan without it and what comes after it, so that the verdicts of all stages add up to that of the whole.
-- `stages.csv` holds a row for each rise and stage, `stages_annual.csv` the energy of each year. Runs under a second.
local steading = require "steading"
local args = steading.args { modules = 8, panels = 44, years = 25, weather = "", weather_years = 20 }
local function make(bought)
  return require "five_homes_site" { modules = args.modules, panels = args.panels, years = args.years,
    weather = args.weather, weather_years = args.weather_years, bought = bought }
end
local homes, at_once = make "in_stages", make "at_once"
local span = { start = homes.start, years = args.years }
local function run_of(site) return site:simulate { start = span.start, years = span.years } end

-- the plans, each with one stage more than the one before
local array, battery = "hubs.barn.arrays[2]", "hubs.barn.battery.lots[2]"
local plans = {
  { stage = "2027: south array, inverters, half the battery", run = run_of(homes.site:without { array, battery }) },
  { stage = "2029: the other half of the battery", run = run_of(homes.site:without { array }) },
  { stage = "2031: the west array", run = run_of(homes.site) } }
local today, whole, now = run_of(homes.site:grid_only()), plans[#plans].run, run_of(at_once.site)
whole.annual:write("stages_annual.csv")

local function say(text, ...) print(string.format(text, ...)) end
local function years_text(years)
  if years == steading.never then return "never" elseif years == steading.none then return "no answer" end
  return string.format("%.1f years", years) -- from the start of the run, also for what is bought later
end
say("%s", homes.site.name)
say("  free of the grid (energy, 1 - import / load) in 2028 %.1f %%, in 2030 %.1f %%, in 2032 %.1f %%",
    100 * whole.annual[2].grid_free_energy_share, 100 * whole.annual[4].grid_free_energy_share,
    100 * whole.annual[6].grid_free_energy_share)

-- a rise that holds for all years, or for eight years and 3 % after that
local function for_eight_years(rise)
  local list = {}
  for year = 1, args.years do list[year] = year <= 8 and rise or 0.03 end
  return list
end
local rises = { { "0 % a year", 0 }, { "3 % a year", 0.03 }, { "10 % a year", 0.10 }, { "20 % a year", 0.20 },
                { "10 % a year for 8 years, then 3 %", for_eight_years(0.10) },
                { "20 % a year for 8 years, then 3 %", for_eight_years(0.20) } }
local rows = {}
for _, rise in ipairs(rises) do
  local money = homes.money(rise[2])
  local all = whole:appraise { against = today, money = money }
  local sum, before = 0, today
  say("")
  say("Electricity rising %s", rise[1])
  for _, plan in ipairs(plans) do
    local verdict = plan.run:appraise { against = before, money = money }
    sum, before = sum + verdict.net_present_value, plan.run
    rows[#rows + 1] = { rise = rise[1], stage = plan.stage, first_cost = verdict.first_cost,
                        net_present_value = verdict.net_present_value, payback_years = verdict.simple_payback_years }
    say("  %-50s net present value %9.0f, simple payback %s", plan.stage, verdict.net_present_value,
        years_text(verdict.simple_payback_years))
  end
  rows[#rows + 1] = { rise = rise[1], stage = "all stages", first_cost = all.first_cost,
                      net_present_value = all.net_present_value, payback_years = all.simple_payback_years }
  say("  %-50s net present value %9.0f, simple payback %s", "all stages", all.net_present_value,
      years_text(all.simple_payback_years))
  say("  %-50s net present value %9.0f", "all at once in 2027", now:appraise { against = today,
      money = at_once.money(rise[2]) }.net_present_value)
  say("  the stages together: %.0f (differs by %.0e)", sum, math.abs(sum - all.net_present_value))
end
steading.frame { columns = { "rise", "stage", "first_cost", "net_present_value", "payback_years" }, rows = rows }
  :write("stages.csv")
say("")
say("Paybacks count from 2027, also those of later stages. Nominal money, discounted at 5 %%. At 20 %% a year a kWh costs")
say("%.0f times today's price in the last year: a limit, not a forecast.", 1.20 ^ (args.years - 1))
say("For screening and planning only: local codes and licensed people decide what is built.")
