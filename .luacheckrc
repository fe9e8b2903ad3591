-- Lua 5.4 as a scenario sees it. Tables of numbers are as wide as they are.
std = "lua54"
max_line_length = false
