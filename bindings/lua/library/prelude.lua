-- The environment of scripts: a short standard library whose order and randomness do not change
-- from run to run, and in which a misspelt name raises.
local host = ...
local type, error, rawget, real_next = type, error, rawget, next
local getmetatable, setmetatable, select, pcall = getmetatable, setmetatable, select, pcall
local sort, concat = table.sort, table.concat
local math_type = math.type

-- Keys are visited 1..n first, then the others by type and value.
local rank = { boolean = 1, number = 2, string = 3 }

local function before(a, b)
  local ta, tb = type(a), type(b)
  if ta ~= tb then return rank[ta] < rank[tb] end
  if ta == "boolean" then return not a and b end
  return a < b
end

local function border(t)
  local n = 0
  while rawget(t, n + 1) ~= nil do n = n + 1 end
  return n
end

local function check_key(k)
  if not rank[type(k)] then
    error("the keys of this table include a " .. type(k) ..
          ", which has no order that stays the same from run to run", 3)
  end
end

local function ordered_next(t, key)
  if type(t) ~= "table" then
    error("bad argument #1 to 'next' (table expected, got " .. type(t) .. ")", 2)
  end
  t = host.content(t) -- what a read-only table holds
  local n = border(t)
  if key == nil then
    if n > 0 then return 1, t[1] end
  elseif math_type(key) == "integer" and key >= 1 and key < n then
    return key + 1, t[key + 1]
  end
  local in_list = key == nil or (math_type(key) == "integer" and key >= 1 and key <= n)
  local best
  for k in real_next, t do
    check_key(k)
    if not (math_type(k) == "integer" and k >= 1 and k <= n) and
       (in_list or before(key, k)) and (best == nil or before(k, best)) then
      best = k
    end
  end
  if best == nil then return nil end
  return best, rawget(t, best)
end

local function ordered_pairs(t)
  local meta = getmetatable(t)
  if type(meta) == "table" and meta.__pairs then return meta.__pairs(t) end
  local own = host.pairs_of(t) -- the __pairs of an object whose metatable is hidden
  if own then return own(t) end
  if type(t) ~= "table" then
    error("bad argument #1 to 'pairs' (table expected, got " .. type(t) .. ")", 2)
  end
  local keys, n = {}, border(t)
  for i = 1, n do keys[i] = i end
  local rest = {}
  for k in real_next, t do
    if not (math_type(k) == "integer" and k >= 1 and k <= n) then
      check_key(k)
      rest[#rest + 1] = k
    end
  end
  sort(rest, before)
  for i = 1, #rest do keys[n + i] = rest[i] end
  local i = 0
  return function()
    while true do
      i = i + 1
      local k = keys[i]
      if k == nil then return nil end
      local v = rawget(t, k)
      if v ~= nil then return k, v end
    end
  end, t, nil
end
host.set_pairs(ordered_pairs)

local function guarded_setmetatable(t, meta)
  if type(meta) == "table" and rawget(meta, "__gc") ~= nil then
    error("setmetatable: __gc is not available to scripts", 2)
  end
  return setmetatable(t, meta)
end

-- Text without the addresses that differ from run to run.
local real_tostring = tostring
local function plain_tostring(v)
  local t = type(v)
  if v == math.huge then return "never" end -- what never comes is infinite
  if t == "table" or t == "function" or t == "thread" or t == "userdata" then
    local text = real_tostring(v)
    return (text:gsub(": 0x%x+$", ""))
  end
  return real_tostring(v)
end

local function plain_print(...)
  local words = {}
  for i = 1, select("#", ...) do words[i] = plain_tostring((select(i, ...))) end
  host.write(concat(words, "\t") .. "\n")
end

local function copy(from, names)
  local to = {}
  for name in names:gmatch("%S+") do to[name] = from[name] end
  return to
end

local environment = copy(_G, "assert error ipairs pcall rawequal rawlen select tonumber type")
environment._VERSION = _VERSION
environment.pairs, environment.next = ordered_pairs, ordered_next
environment.setmetatable, environment.tostring = guarded_setmetatable, plain_tostring
environment.print = plain_print

-- The methods of texts: no way to compiled code, and no address in a formatted value.
local has_address = { table = true, ["function"] = true, thread = true, userdata = true }
local real_format, pack, unpack = string.format, table.pack, table.unpack
local safe_string = copy(string, [[byte char find gmatch gsub len lower match pack packsize rep
  reverse sub unpack upper]])
function safe_string.format(text, ...)
  if type(text) == "string" and text:gsub("%%%%", ""):find("%%[%-+ #0-9.]*p") then
    error("string.format: %p is not available: an address differs from run to run", 2)
  end
  local values = pack(...)
  for i = 1, values.n do
    if has_address[type(values[i])] then values[i] = plain_tostring(values[i]) end
  end
  return real_format(text, unpack(values, 1, values.n))
end
host.set_methods(setmetatable(copy(safe_string, [[byte char find format gmatch gsub len lower match
  pack packsize rep reverse sub unpack upper]]), {
  __index = function(_, name)
    local names = {}
    for k in real_next, safe_string do names[#names + 1] = k end
    sort(names)
    local best = host.nearest(plain_tostring(name), names)
    error("string." .. plain_tostring(name) .. ": unknown field" ..
          (best and " (did you mean '" .. best .. "'?)" or ""), 2)
  end,
}))

local safe_math = copy(math, [[abs acos asin atan ceil cos deg exp floor fmod huge log max
  maxinteger min mininteger modf pi rad sin sqrt tan tointeger type ult]])
safe_math.random, safe_math.randomseed = host.random, host.randomseed
environment.math = host.strict(safe_math, "math")
environment.string = host.strict(safe_string, "string")
environment.table = host.strict(copy(table, "concat insert move pack remove sort unpack"), "table")
environment.utf8 = host.strict(copy(utf8, "char charpattern codepoint codes len offset"), "utf8")
environment.coroutine = host.strict(copy(coroutine,
  "close create isyieldable resume running status wrap yield"), "coroutine")
environment.os = host.strict({ time = host.time, clock = host.clock, date = host.date }, "os")

-- require finds plain names beside the script; each module is loaded once.
local loaded = {}
function environment.require(name)
  if type(name) ~= "string" or not name:find("^%a[%w_]*$") then
    error("require: expected a plain name of a file beside the script", 2)
  end
  local found = loaded[name]
  if found == false then error("require: '" .. name .. "' requires itself", 2) end
  if found ~= nil then return found end
  local chunk, message = host.load_module(name)
  if not chunk then error(message, 2) end
  loaded[name] = false
  local ok, result = pcall(chunk, name)
  if not ok then
    loaded[name] = nil
    error(result, 0)
  end
  if result == nil then result = true end
  loaded[name] = result
  return result
end

local function nearest(name)
  local names = {}
  for k in real_next, environment do names[#names + 1] = k end
  sort(names)
  local best = host.nearest(name, names)
  return best and " (did you mean '" .. best .. "'?)" or ""
end

setmetatable(environment, {
  __index = function(_, name)
    error("the name '" .. plain_tostring(name) .. "' is not declared" .. nearest(plain_tostring(name)), 2)
  end,
})
local globals = setmetatable({}, {
  __index = environment,
  __newindex = function(_, name)
    error("the name '" .. plain_tostring(name) .. "' is not declared: write 'local' before it", 2)
  end,
  __metatable = "read-only",
})
return globals, function(module) loaded.steading = module end
