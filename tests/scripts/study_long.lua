-- A study of forty cases whose length in seconds is set by `work`: one case simulates, draws from its
-- own stream and counts. Every seventh case fails, so that failed rows take part.
local steading = require "steading"
local args = steading.args { work = 1000 }
local base = require "base" ()
base.site.weather = steading.weather.synthesize(base.climate)
base.site.meters.yard.export_limit_kw = 0
local site = steading.site(base.site)

local function busy(rounds)
  local x = 0.5
  for _ = 1, rounds do x = 3.7 * x * (1 - x) end
  return x
end

local study = steading.study {
  name = "long",
  axes = { { "modules", { 1, 2, 3, 4 } }, { "tilt", { 5, 15, 25, 35, 45, 55, 65, 75, 85, 90 } } },
  columns = { "import_kwh", "drawn", "text", "never", "nothing" },
  case = function(c)
    print("case " .. c.case)
    if c.case % 7 == 0 then error("every seventh case fails, with a \"quote\", a comma and\na line") end
    local run = site:with { ["hubs.barn.battery.lots[1].count"] = c.modules,
                            ["hubs.barn.arrays[1].tilt_deg"] = c.tilt }:simulate { years = 1 }
    busy(args.work)
    return { import_kwh = run.totals.grid_import_kwh, drawn = math.random(), text = "=" .. c.tilt .. " \\ \t",
             never = steading.never, nothing = steading.none }
  end,
}
study.rows:write("long.csv")
