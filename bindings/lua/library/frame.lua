-- The methods of frames that call back, and those whose work is words; the loops over numbers are in
-- frame.c. `where` and `add` are Lua, so that what they call may yield.
local host, none, check = ...
local type, select, ipairs, tostring, rawequal = type, select, ipairs, tostring, rawequal
local concat, sort, real_next = table.concat, table.sort, next
local math_type, tointeger, floor, abs = math.type, math.tointeger, math.floor, math.abs
local huge = math.huge

local fail, shown, keys_of, list_of, near = check.fail, check.shown, check.keys_of, check.list_of, check.near

local methods = {}

local function no_more(name, most, count)
  if count > 0 then
    fail("%s: found %d arguments, expected at most %d (with the object itself)", name, most + count,
         most)
  end
end

local function check_self(name, self)
  if not host.is_frame(self) then
    fail("frame:%s: expected a frame; write frame:%s(...)", name, name)
  end
end

local function check_function(name, f)
  if type(f) ~= "function" then fail("%s: found %s, expected a function", name, shown(f)) end
end

function methods.where(self, keep, ...)
  check_self("where", self)
  no_more("frame:where", 2, select("#", ...))
  check_function("frame:where", keep)
  local rows = {}
  for i = 1, #self do
    local answer = keep(self[i])
    if answer == true then
      rows[#rows + 1] = i
    elseif answer ~= false then
      fail("frame:where: row %d: the function returned %s, expected true or false", i, shown(answer))
    end
  end
  return host.select(self, rows)
end

-- What a frame hands out for a number or a flag that was put into it.
local function as_cell(v)
  if type(v) == "boolean" then return tostring(v) end
  if math_type(v) == nil then return v end
  v = v + 0.0
  return v == floor(v) and abs(v) < 2 ^ 53 and tointeger(v) or v
end

function methods.add(self, name, value, ...)
  check_self("add", self)
  no_more("frame:add", 3, select("#", ...))
  if type(name) ~= "string" or name == "" or name:find("\0", 1, true) then
    fail("frame:add: found %s, expected the name of the new column", shown(name))
  end
  for _, known in ipairs(self.columns) do
    if known == name then fail("frame:add: there is a column '%s' already", name) end
  end
  check_function("frame:add", value)
  local values, before, kind = {}, nil, nil
  for i = 1, #self do
    local v = value(self[i], before)
    if v == nil then v = none end
    if v ~= v or v == -huge then
      fail("frame:add: row %d: '%s' is %s", i, name, v ~= v and "nan" or "-inf")
    end
    if type(v) == "string" and v:find("\0", 1, true) then
      fail("frame:add: row %d: '%s' is a text with a zero byte", i, name)
    end
    if not rawequal(v, none) then
      local now = type(v) == "boolean" and "string" or type(v)
      if now ~= "number" and now ~= "string" then
        fail("frame:add: row %d: '%s' is %s, expected a number, a text, true, false or nothing", i,
             name, shown(v))
      end
      kind = kind or now
      if now ~= kind then
        fail("frame:add: row %d: '%s' is %s, the rows before have %s there", i, name,
             now == "number" and "a number" or "a text", kind == "number" and "a number" or "a text")
      end
    end
    values[i] = as_cell(v)
    before = self[i]
    before[name] = values[i]
  end
  return host.with_column(self, name, values)
end

-- Each takes what was gathered so far (nil before the first) and the next value that is not empty.
local folds = {
  sum = function(so_far, v) return (so_far or 0.0) + v end,
  count = function(so_far) return (so_far or 0) + 1 end,
  least = function(so_far, v) if so_far == nil or v < so_far then return v end return so_far end,
  most = function(so_far, v) if so_far == nil or v > so_far then return v end return so_far end,
  first = function(so_far, v) if so_far == nil then return v end return so_far end,
  last = function(_, v) return v end,
}
local aggregates = { "sum", "mean", "least", "most", "count", "first", "last" }
local needs_numbers = { sum = true, mean = true }
local of_nothing = { sum = 0, count = 0 }

local function aggregate(values, groups, group_count, how)
  local fold, results, counts = folds[how] or folds.sum, {}, {}
  for i, g in ipairs(groups) do
    local v = values[i]
    if not rawequal(v, none) then
      results[g] = fold(results[g], v)
      counts[g] = (counts[g] or 0) + 1
    end
  end
  for g = 1, group_count do
    if results[g] == nil then
      results[g] = of_nothing[how] or none
    elseif how == "mean" then
      results[g] = results[g] / counts[g]
    end
  end
  return results
end

-- The number of each row's group, in order of first appearance, and the first row of each group.
local function groups_of(columns, count)
  local groups, firsts, tree, alone = {}, {}, {}, {}
  for i = 1, count do
    local at, last = tree, alone
    for k = 1, #columns do
      last = columns[k][i]
      if k < #columns then
        local deeper = at[last]
        if deeper == nil then
          deeper = {}
          at[last] = deeper
        end
        at = deeper
      end
    end
    local g = at[last]
    if g == nil then
      g = #firsts + 1
      at[last], firsts[g] = g, i
    end
    groups[i] = g
  end
  return groups, firsts
end

local function check_wanted(self, wanted, seen)
  if type(wanted) ~= "table" then
    fail("frame:group: found %s, expected { column = aggregate, ... }", shown(wanted))
  end
  wanted = check.content(wanted)
  local names = {}
  for name in real_next, wanted do
    if type(name) ~= "string" then fail("frame:group: expected { column = aggregate, ... }") end
    names[#names + 1] = name
  end
  sort(names)
  for _, name in ipairs(names) do
    local how, is_text = wanted[name], host.is_text(self, name)
    if seen[name] then fail("frame:group: '%s' is a key", name) end
    if how ~= "mean" and not folds[how] then
      fail("frame:group: %s: unknown aggregate %s%s", name, shown(how), near(how, aggregates))
    end
    if is_text and needs_numbers[how] then
      fail("frame:group: %s of '%s', which holds text%s", how, name, host.why_text(self, name))
    end
  end
  return names, wanted
end

function methods.group(self, keys, wanted, ...)
  check_self("group", self)
  no_more("frame:group", 3, select("#", ...))
  local key_list = list_of(keys)
  if not key_list then fail("frame:group: found %s, expected a list of columns", shown(keys)) end
  local names, lists, texts, seen, columns = {}, {}, {}, {}, {}
  for i, name in ipairs(key_list) do
    if type(name) ~= "string" then fail("frame:group: key %d is %s, expected a column", i, shown(name)) end
    if seen[name] then fail("frame:group: the key '%s' stands there twice", name) end
    seen[name], names[i], texts[i] = true, name, host.is_text(self, name)
    columns[i] = self:column(name)
  end
  local order
  order, wanted = check_wanted(self, wanted, seen)
  if #names + #order == 0 then fail("frame:group: expected keys or columns") end
  local groups, firsts = groups_of(columns, #self)
  for k, column in ipairs(columns) do
    lists[k] = {}
    for g, i in ipairs(firsts) do lists[k][g] = column[i] end
  end
  for _, name in ipairs(order) do
    local how, k = wanted[name], #names + 1
    names[k], texts[k] = name, how ~= "count" and host.is_text(self, name)
    lists[k] = aggregate(self:column(name), groups, #firsts, how)
  end
  return host.make(self, names, texts, lists, #firsts)
end

-- --- reading -----------------------------------------------------------------------------------

-- What a unit in a file is in the unit in which the name of a column ends: by kind, in one of them.
local energy = { Wh = 1, kWh = 1e3, MWh = 1e6, GWh = 1e9, kJ = 1 / 3.6, MJ = 1e3 / 3.6, GJ = 1e6 / 3.6 }
local power = { W = 1, kW = 1e3, MW = 1e6 }
local length = { mm = 1e-3, cm = 1e-2, m = 1, km = 1e3, ["in"] = 0.0254, ft = 0.3048 }
local volume = { l = 1, m3 = 1e3, ["gal (US)"] = 3.785411784 }
local duration = { s = 1, min = 60, h = 3600, days = 86400 }
local flow = { ["l/s"] = 60, ["l/min"] = 1, ["l/h"] = 1 / 60, ["m3/h"] = 1e3 / 60,
               ["gal (US)/min"] = 3.785411784 }
local sunlight = { ["W/m2"] = 1, ["kW/m2"] = 1e3 }
local sunshine = { ["Wh/m2"] = 1, ["kWh/m2"] = 1e3, ["kJ/m2"] = 1 / 3.6, ["MJ/m2"] = 1e3 / 3.6 }
local speed = { ["m/s"] = 1, ["km/h"] = 1 / 3.6, mph = 0.44704, kn = 1852 / 3600 }
local pressure = { Pa = 1, hPa = 1e2, kPa = 1e3, mbar = 1e2, bar = 1e5 }
local part = { ["1"] = 1, ["%"] = 0.01 }
local warmth = { C = true, K = true, F = true }
local endings = {
  wh = { energy, "Wh" }, kwh = { energy, "kWh" }, mwh = { energy, "MWh" },
  w = { power, "W" }, kw = { power, "kW" }, mm = { length, "mm" }, m = { length, "m" },
  km = { length, "km" }, l = { volume, "l" }, litres = { volume, "l" }, m3 = { volume, "m3" },
  s = { duration, "s" }, min = { duration, "min" }, minutes = { duration, "min" },
  h = { duration, "h" }, hours = { duration, "h" }, days = { duration, "days" },
  l_per_min = { flow, "l/min" }, l_per_h = { flow, "l/h" }, m_per_s = { speed, "m/s" },
  w_per_m2 = { sunlight, "W/m2" }, wh_per_m2 = { sunshine, "Wh/m2" },
  kwh_per_m2 = { sunshine, "kWh/m2" }, pa = { pressure, "Pa" }, kpa = { pressure, "kPa" },
  share = { part, "1" }, c = { warmth, "C" },
}

-- The longest ending of a name that is a unit, unless 'per' stands before it.
local function ending_of(name)
  local at = 1
  while at do
    local ending = name:sub(at)
    if endings[ending] and not name:sub(1, at - 1):find("per_$") then return endings[ending] end
    at = name:find("_", at, true)
    at = at and at + 1
  end
end

local function conversion(where, name, unit)
  local ending = ending_of(name)
  if not ending then
    fail("%s.unit: '%s' does not end in a unit that is converted", where, name)
  end
  local kind, own = ending[1], ending[2]
  if type(unit) ~= "string" or not kind[unit] then
    local names = keys_of(kind)
    fail("%s.unit: unknown unit %s%s", where, shown(unit), near(unit, names))
  end
  if kind ~= warmth then return kind[unit] / kind[own], 0 end
  if unit == "F" then return 1 / 1.8, -32 / 1.8 end
  return 1, unit == "K" and -273.15 or 0
end

local function is_place(v)
  return (type(v) == "string" and v ~= "") or (math_type(v) == "integer" and v >= 1)
end

local function read_column(name, spec)
  local where = "read_frame.columns." .. name
  if is_place(spec) then spec = { spec } end
  if type(spec) ~= "table" then
    fail("%s: found %s, expected a heading or { heading, unit = ..., kind = ... }", where, shown(spec))
  end
  spec = check.content(spec)
  check.known(where, spec, { "1", "unit", "kind" })
  if not is_place(spec[1]) then
    fail("%s[1]: found %s, expected a heading or the number of a column", where, shown(spec[1]))
  end
  if spec.kind ~= nil and spec.kind ~= "number" and spec.kind ~= "text" then
    fail("%s.kind: found %s, expected \"number\" or \"text\"", where, shown(spec.kind))
  end
  local column = { name = name, at = spec[1], kind = spec.kind }
  if spec.unit ~= nil then
    if spec.kind == "text" then fail("%s.unit: a text has no unit", where) end
    column.kind = "number"
    column.factor, column.offset = conversion(where, name, spec.unit)
  end
  return column
end

local function read_columns(columns)
  if type(columns) ~= "table" then
    fail("read_frame.columns: found %s, expected { name = heading, ... }", shown(columns))
  end
  local list, names = {}, {}
  columns = check.content(columns)
  for name in real_next, columns do
    if type(name) ~= "string" or name == "" then
      fail("read_frame.columns: expected { name = heading, ... }")
    end
    names[#names + 1] = name
  end
  if #names == 0 then fail("read_frame.columns: expected at least one column") end
  sort(names)
  for i, name in ipairs(names) do list[i] = read_column(name, columns[name]) end
  return list
end

local marks = {
  delimiter = { [","] = true, [";"] = true, ["\t"] = true, ["|"] = true },
  decimal = { ["."] = true, [","] = true },
  thousands = { ["."] = true, [","] = true, [" "] = true, ["'"] = true },
}
local known = { "columns", "decimal", "delimiter", "missing", "skip_last_rows", "skip_rows", "thousands" }

local function check_marks(options)
  for _, name in ipairs { "delimiter", "decimal", "thousands" } do
    local v = options[name]
    if v ~= nil and not marks[name][v] then
      fail("read_frame.%s: found %s, expected one of %s", name, shown(v),
           (concat(keys_of(marks[name]), "  "):gsub("\t", "\\t")))
    end
  end
  if options.thousands ~= nil and options.decimal == nil then
    fail("read_frame.thousands: give decimal too")
  end
  if options.thousands ~= nil and options.thousands == options.decimal then
    fail("read_frame.thousands: the same mark as decimal")
  end
end

local function read_frame(path, options, ...)
  if select("#", ...) > 0 then fail("read_frame: found %d arguments, expected at most 2",
                                    2 + select("#", ...)) end
  if type(path) ~= "string" or path == "" or path:find("\0", 1, true) then
    fail("read_frame: found %s, expected the path of a file", shown(path))
  end
  if options == nil then options = {} end
  if type(options) ~= "table" then
    fail("read_frame: found %s, expected a table of options", shown(options))
  end
  options = check.content(options)
  check.known("read_frame", options, known)
  check_marks(options)
  local asked = { delimiter = options.delimiter, decimal = options.decimal,
                  thousands = options.thousands, missing = {} }
  for _, name in ipairs { "skip_rows", "skip_last_rows" } do
    local v = options[name]
    if v ~= nil and (math_type(v) == nil or v ~= floor(v) or v < 0 or v > 1e6) then
      fail("read_frame.%s: found %s, expected a whole number, 0 to 1000000", name, shown(v))
    end
    asked[name] = v and tointeger(v) or 0
  end
  if options.missing ~= nil then
    asked.missing = list_of(options.missing)
    if not asked.missing then
      fail("read_frame.missing: found %s, expected a list of texts", shown(options.missing))
    end
    for i, v in ipairs(asked.missing) do
      if type(v) ~= "string" or v == "" then
        fail("read_frame.missing[%d]: found %s, expected a text", i, shown(v))
      end
    end
  end
  if options.columns ~= nil then asked.columns = read_columns(options.columns) end
  return host.read(path, asked)
end

return methods, read_frame
