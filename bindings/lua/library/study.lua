-- steading.study: many cases of one question. The bookkeeping is here; what needs the process
-- (journal, random stream, fork) comes from the host.
local host, module_frame, none = ...
local type, error, pcall, rawequal = type, error, pcall, rawequal
local ipairs, format = ipairs, string.format
local concat, sort, real_next = table.concat, table.sort, next
local huge = math.huge

local most_cases = 10000000

local known = { name = true, axes = true, columns = true, case = true }
local later = { sample = true, around = true, cases = true }

-- Raises with the line of the script that called, not of this file.
local function fail(text, ...)
  host.fail(format(text, ...))
end

local function called(v)
  if v ~= v then return "nan" end
  if v == -huge then return "-inf" end
  if type(v) == "string" and v:find("\0", 1, true) then return "a text with a zero byte" end
  return "a " .. type(v)
end

local function check_keys(spec)
  local names = {}
  for k in real_next, spec do names[#names + 1] = tostring(k) end
  sort(names)
  for _, k in ipairs(names) do
    if later[k] then fail("study.%s: not yet carried out by this version", k) end
    if not known[k] then
      local near = host.nearest(k, { "name", "axes", "columns", "case" })
      fail("study.%s: unknown field%s", k, near and format(" (did you mean '%s'?)", near) or
           "; expected name, axes, columns and case")
    end
  end
end

local function is_scalar(v)
  local t = type(v)
  return (t == "string" and not v:find("\0", 1, true)) or t == "boolean" or
         (t == "number" and v == v and v ~= huge and v ~= -huge)
end

-- A list has no gaps and no named values: what stands beside 1..n would be lost.
local function is_list(t)
  local keys = 0
  for _ in real_next, t do keys = keys + 1 end
  return keys == #t
end

local function check_axes(axes)
  local seen = { case = true, status = true }
  if type(axes) ~= "table" or #axes == 0 or not is_list(axes) then
    fail("study.axes: expected a list of { name, { values } }")
  end
  for i, axis in ipairs(axes) do
    local name, values = type(axis) == "table" and axis[1], type(axis) == "table" and axis[2]
    if type(name) ~= "string" or type(values) ~= "table" or #values == 0 or #axis ~= 2 or
       not is_list(axis) then
      fail("study.axes[%d]: expected { name, { values } }", i)
    end
    if not is_list(values) then
      fail("study.axes[%d]: the values are a list without gaps and names", i)
    end
    if not name:find("^%a[%w_]*$") then fail("study.axes[%d]: '%s' is not a name", i, name) end
    if seen[name] then fail("study.axes[%d]: the name '%s' is used twice or reserved", i, name) end
    seen[name] = true
    for j, v in ipairs(values) do
      if not is_scalar(v) then
        fail("study.axes[%d]: value %d is %s; expected a number, a text, true or false", i, j,
             called(v))
      end
    end
  end
  return seen
end

local function check_columns(columns, seen)
  if type(columns) ~= "table" or #columns == 0 or not is_list(columns) then
    fail("study.columns: expected a list of the names that 'case' returns, in the order of the table")
  end
  for i, name in ipairs(columns) do
    if type(name) ~= "string" then fail("study.columns[%d]: expected a text", i) end
    if seen[name] then fail("study.columns[%d]: the name '%s' is used twice or reserved", i, name) end
    seen[name] = true
  end
end

-- The values of case `index` (from 1): every combination, the last axis fastest.
local function values_of(axes, index)
  local rest, values = index - 1, {}
  for i = #axes, 1, -1 do
    local list = axes[i][2]
    values[i] = list[rest % #list + 1]
    rest = rest // #list
  end
  return values
end

local function shown(v)
  return type(v) == "number" and format("%a", v) or format("%q", tostring(v))
end

-- One line that names everything a row depends on.
local function header_of(spec, axes, columns)
  local parts = { host.identity(), "name " .. shown(spec.name), "columns " .. concat(columns, ",") }
  for _, axis in ipairs(axes) do
    local list = {}
    for i, v in ipairs(axis[2]) do list[i] = shown(v) end
    parts[#parts + 1] = "axis " .. axis[1] .. "=" .. concat(list, ",")
  end
  return (concat(parts, "; "):gsub("%c", " "))
end

-- What `case` returned, as cells in the order of the columns; or nil and a message.
local function cells_of(columns, result)
  if type(result) ~= "table" then
    return nil, "case returned a " .. type(result) .. ", expected a table with the columns"
  end
  local cells, wanted = {}, {}
  for i, name in ipairs(columns) do
    local v = result[name]
    wanted[name] = true
    if v == nil then return nil, "case returned no '" .. name .. "', which is in columns" end
    if not (rawequal(v, none) or is_scalar(v) or v == huge) then
      return nil, format("case returned %s for '%s'", called(v), name)
    end
    cells[i] = v
  end
  local extra = {}
  for k in real_next, result do
    if not wanted[k] then extra[#extra + 1] = tostring(k) end
  end
  if #extra > 0 then
    sort(extra)
    return nil, "case returned '" .. extra[1] .. "', which is not in columns"
  end
  return cells
end

local function run_case(spec, axes, columns, index)
  local c, values = { case = index }, values_of(axes, index)
  for i, axis in ipairs(axes) do c[axis[1]] = values[i] end
  local before = host.outer_locals(spec.case)
  local ok, result = host.run_case(spec.case, host.strict(c, "c"), index)
  local changed = host.changed_local(spec.case, before)
  if changed then
    fail("study: case changes the outer local '%s': a case depends on its 'c' alone", changed)
  end
  if not ok then return nil, result end
  return cells_of(columns, result)
end

local function same(a, b)
  if a == nil or b == nil then return rawequal(a, b) end
  if rawequal(a, none) or rawequal(b, none) then return rawequal(a, b) end
  if type(a) == "number" and type(b) == "number" then return format("%a", a) == format("%a", b) end
  return a == b
end

-- Eight cases are run once more in a fresh process, the last first: a case that depends on what ran
-- before it answers differently.
local function check_again(spec, axes, columns, results, total)
  local chosen = host.choose(total, 8)
  return host.in_fork(function(report)
    for i = #chosen, 1, -1 do
      local index = chosen[i]
      local first = results[index]
      local ok, cells, message = pcall(run_case, spec, axes, columns, index)
      if not ok then cells, message = nil, cells end
      if (cells == nil) ~= (first.cells == nil) then
        report(format("case %d answers differently alone: %s", index,
                      cells == nil and "it fails: " .. tostring(message) or "it does not fail"))
      elseif cells then
        for j, name in ipairs(columns) do
          if not same(cells[j], first.cells[j]) then
            report(format("case %d answers differently alone (%s: %s in the study, %s alone)", index,
                          name, tostring(first.cells[j]), tostring(cells[j])))
            break
          end
        end
      end
    end
  end)
end

local function rows_of(axes, columns, results, total)
  local names, rows = { "case" }, {}
  for _, axis in ipairs(axes) do names[#names + 1] = axis[1] end
  for _, name in ipairs(columns) do names[#names + 1] = name end
  names[#names + 1] = "status"
  for index = 1, total do
    local result, row = results[index], { case = index }
    if result then
      for i, v in ipairs(values_of(axes, index)) do row[axes[i][1]] = v end
      for i, name in ipairs(columns) do
        if result.cells then row[name] = result.cells[i] end -- false is an answer too
      end
      row.status = result.cells and "ok" or "failed: " .. result.message
      rows[#rows + 1] = row
    end
  end
  return module_frame { columns = names, rows = rows }
end

local function not_yet(name)
  return function() error("study:" .. name .. " is not yet carried out by this version", 2) end
end

return function(spec)
  if type(spec) ~= "table" then fail("study: expected a table") end
  if host.in_case() then
    fail("a study inside a case of a study is not yet carried out by this version")
  end
  check_keys(spec)
  if type(spec.name) ~= "string" or not spec.name:find("^[^%c/.][^%c/]*$") then
    fail("study.name: expected a text without '/' that does not begin with a dot")
  end
  if type(spec.case) ~= "function" then fail("study.case: expected a function") end
  check_columns(spec.columns, check_axes(spec.axes))
  local axes, columns, total = spec.axes, spec.columns, 1
  for _, axis in ipairs(axes) do
    total = total * #axis[2]
    if total > most_cases then fail("study.axes: more than %d cases", most_cases) end
  end
  local journal = host.open_journal(spec.name, header_of(spec, axes, columns))
  local results, failed = {}, 0
  for index, status, cells in journal.records do
    if index >= 1 and index <= total then
      results[index] = status == "ok" and { cells = cells } or { message = cells[1] }
    end
  end
  local last = host.only_first_case() and 1 or total
  for index = 1, last do
    if not results[index] then
      local cells, message = run_case(spec, axes, columns, index)
      if not cells then message = tostring(message) end
      results[index] = { cells = cells, message = message }
      journal.append(index, cells == nil, cells or { message })
    end
    if not results[index].cells then
      failed = failed + 1
      host.warn(format("study '%s': case %d failed: %s", spec.name, index, results[index].message))
    end
  end
  journal.close()
  local different = 0
  if last == total then different = check_again(spec, axes, columns, results, total) end
  if failed > 0 or different > 0 then host.mark_failed() end
  return host.strict({ rows = rows_of(axes, columns, results, total), failed = failed,
                       different = different, best = not_yet("best"), pareto = not_yet("pareto"),
                       quantiles = not_yet("quantiles"), tornado = not_yet("tornado") }, "study")
end
