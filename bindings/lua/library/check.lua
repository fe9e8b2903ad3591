-- How the other files of the library look at what a script handed over. A table of functions.
local host, none = ...
local type, ipairs, tostring, rawequal = type, ipairs, tostring, rawequal
local format, concat, sort, real_next = string.format, table.concat, table.sort, next

local check = { content = host.content }

-- Raises with the line of the script that called, not of the library's file.
function check.fail(text, ...)
  host.fail(format(text, ...))
end

-- What was found, for a message.
function check.shown(v)
  if type(v) == "string" then return format("%q", v) end
  if type(v) == "number" then return tostring(v) end
  if rawequal(v, none) then return "none" end
  return v == nil and "nothing" or type(v) == "boolean" and tostring(v) or "a " .. type(v)
end

function check.keys_of(t)
  local names = {}
  for k in real_next, t do names[#names + 1] = tostring(k) end
  sort(names)
  return names
end

-- A list has no gaps and no named values: what stands beside 1..n would be lost.
function check.list_of(t)
  if type(t) ~= "table" then return nil end
  t = host.content(t)
  local keys = 0
  for _ in real_next, t do keys = keys + 1 end
  return keys == #t and t or nil
end

-- The nearest of some names, or all of them, to stand behind a message.
function check.near(word, names)
  local best = type(word) == "string" and host.nearest(word, names)
  return best and format(" (did you mean '%s'?)", best) or ", expected " .. concat(names, ", ")
end

function check.known(where, t, names)
  for _, k in ipairs(check.keys_of(t)) do
    local found = false
    for _, name in ipairs(names) do found = found or name == k end
    if not found then check.fail("%s.%s: unknown field%s", where, k, check.near(k, names)) end
  end
end

return check
