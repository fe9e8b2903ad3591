-- A site with two meters, periods and credit for export; prints what test_bills.c reads.
local steading = require "steading"
local base = require "base" ()
base.site.weather = steading.weather.synthesize(base.climate)
base.site.meters.yard.export_limit_kw = 5
base.site.meters.yard.tariff = {
  fixed_per_month = 12, holidays = { "12-25" },
  energy = { kind = "periods", periods = {
    { name = "peak", price_per_kwh = 0.31, hours = "17:00-21:00", days = "Mon-Fri" },
    { name = "night", price_per_kwh = 0.08, hours = "22:00-06:00" },
    { name = "rest", blocks = { { up_to_kwh = 20, price_per_kwh = 0.12 }, { price_per_kwh = 0.2 } } } } },
  riders = { { name = "power cost", price_per_kwh = 0.012 } },
  export = { kind = "net_metering", true_up_month = 4, cash_out_price_per_kwh = 0.03 },
  taxes = { { name = "sales", share = 0.06, on = { "energy", "fixed", "riders" } } } }
base.site.meters.road = { tariff = { fixed_per_day = 0.4, energy = { { price_per_kwh = 0.25 } } } }
base.site.buildings.shed.meter = "road"
local site = steading.site(base.site)
local run = site:simulate(base.simulate)
local function same(what, a, b) print(what, a == b or string.format("%a ~= %a", a, b)) end

local sums, all = {}, 0
for row in run.bills:rows() do
  local year = sums[row.year] or 0
  sums[row.year], all = year + row.amount, all + row.amount
  if row.amount ~= row.quantity * row.price then print("amount", row.line) end
end
same("totals", run.totals.bill, all)
for row in run.annual:rows() do same("annual " .. row.year, row.bill, sums[row.year]) end
for row in run.meters.monthly:rows() do
  local sum = 0
  for line in run.bills:rows() do
    if line.year == row.year and line.month == row.month and line.meter == row.meter then sum = sum + line.amount end
  end
  if sum ~= row.bill then print("monthly", row.meter, row.year, row.month) end
end
print(table.concat(run.bills.columns, " "))
print(table.concat(run.credits.columns, " "))

-- energy lines of the road's meter hold its import; those of the yard what is left after netting
local import, road, billed, added, used = 0, 0, 0, 0, 0
for row in run.meters.annual:rows() do if row.meter == "road" then import = import + row.grid_import_kwh end end
for row in run.bills:rows() do
  if row.line:sub(1, 6) == "energy" then
    if row.meter == "road" then road = road + row.quantity else billed = billed + row.quantity end
  end
end
print("road", math.abs(road - import) < 1e-6, import > 4000)
local last
for row in run.credits:rows() do
  added, used = added + row.added, used + row.used
  if last and last.closing ~= row.opening then print("opening", row.year, row.month) end
  last = row
end
local yard_import, yard_export = 0, 0
for row in run.meters.annual:rows() do
  if row.meter == "yard" then yard_import, yard_export = yard_import + row.grid_import_kwh, yard_export + row.grid_export_kwh end
end
-- import = billed + offset in the month + used later; export = offset in the month + added
print("yard", math.abs((yard_import - billed - used) - (yard_export - added)) < 1e-6, yard_export > 100)

-- a price axis: the same energy, another bill
local dearer = site:with { ["meters.yard.tariff.energy.periods[1].price_per_kwh"] = 0.62,
                           ["meters.yard.tariff.energy.periods[3].blocks[1].price_per_kwh"] = 0.13 }:simulate(base.simulate)
same("import", dearer.totals.grid_import_kwh, run.totals.grid_import_kwh)
print("bill", dearer.totals.bill > run.totals.bill)

local against = site:grid_only():simulate(base.simulate)
local verdict = run:appraise { against = against, money = base.money }
for row in verdict.escalations:rows() do print(row.lines, row.escalation, row.first_rise) end
print("warnings", #verdict.warnings, verdict.warnings[1].code) -- credit of the last months
print(verdict.why.lcoe_per_kwh == "", verdict.lcoe_per_kwh > 0, verdict.equivalent_annual_cost > 0)
local self = run:appraise { against = run, money = base.money }
print(self.net_present_value, self.first_cost, self.savings_to_investment == steading.none, self.why.savings_to_investment)
print(self.why.adjusted_internal_rate_of_return, self.why.internal_rate_of_return, self.why.simple_payback_years)
