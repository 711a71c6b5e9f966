-- Writes the lines of PROFILE with the syntax group of each stretch, as Neovim's own highlighter sees them, to RESULT.
local lines = {}
vim.cmd('edit ' .. os.getenv('PROFILE'))
vim.cmd('source ' .. os.getenv('SYNTAX'))
for row, line in ipairs(vim.api.nvim_buf_get_lines(0, 0, -1, false)) do
  local last, text = '', ''
  for column = 1, #line do
    local group = vim.fn.synIDattr(vim.fn.synID(row, column, 1), 'name')
    if group ~= last then text = text .. '<' .. group:gsub('rampart', '') .. '>' end
    last, text = group, text .. line:sub(column, column)
  end
  table.insert(lines, text)
end
local file = assert(io.open(os.getenv('RESULT'), 'w'))
file:write(table.concat(lines, '\n'))
file:close()
vim.cmd('qall!')
