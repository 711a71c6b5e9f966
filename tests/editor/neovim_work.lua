-- Neovim's own client works on a profile; what it shows goes to a file, for neovim_test.py to look at.
-- Environment: RAMPART, FOLDER, RESULT, and SYNTAX for the folder of the highlighting.
local result = {}
local folder, program = os.getenv('FOLDER'), os.getenv('RAMPART')

local function wait(what, condition)
  if not vim.wait(20000, condition, 20) then
    result.failed = 'it never came: ' .. what
    error(result.failed)
  end
end

local function lines(buffer)
  return table.concat(vim.api.nvim_buf_get_lines(buffer, 0, -1, false), '\n') .. '\n'
end

-- The first place of a plain text, from 0.
local function find(buffer, text)
  for row, line in ipairs(vim.api.nvim_buf_get_lines(buffer, 0, -1, false)) do
    local column = line:find(text, 1, true)
    if column then return row - 1, column - 1 end
  end
  error('not in the text: ' .. text)
end

local function go_to(text, offset)
  local row, column = find(0, text)
  vim.api.nvim_win_set_cursor(0, { row + 1, column + (offset or 0) })
end

local function replace(text, by)
  local row, column = find(0, text)
  vim.api.nvim_buf_set_text(0, row, column, row, column + #text, { by })
end

local function findings()
  local found = {}
  for _, one in ipairs(vim.diagnostic.get(0)) do
    table.insert(found, { line = one.lnum + 1, code = one.code, message = one.message })
  end
  return found
end

local function has(code)
  for _, one in ipairs(findings()) do
    if one.code == code then return true end
  end
  return false
end

local function request(method, params)
  local answers = assert(vim.lsp.buf_request_sync(0, method, params, 20000))
  for _, answer in pairs(answers) do return answer.result end
end

-- What stands on the screen, row by row.
local function screen()
  vim.cmd('redraw!')
  local rows = {}
  for row = 1, vim.o.lines do
    local cells = {}
    for column = 1, vim.o.columns do
      table.insert(cells, vim.fn.screenstring(row, column))
    end
    table.insert(rows, cells)
  end
  return rows
end

local function work()
  vim.o.hidden = true
  vim.o.columns, vim.o.lines = 132, 36
  vim.cmd('edit ' .. folder .. '/board.ramp')
  vim.bo.filetype = 'rampart'
  local client = vim.lsp.start_client({ name = 'rampart', cmd = { program, 'language-server' }, root_dir = folder })
  vim.lsp.buf_attach_client(0, client)
  wait('the client', function() return vim.lsp.buf_get_clients(0)[client] ~= nil end)
  result.buffer = lines(0)

  -- Findings: of the text at once, of the simulation a little later.
  replace('to level over', 'to 7 V over')
  wait('above-ceiling', function() return has('above-ceiling') end)
  result.findings = findings()
  if os.getenv('PICTURE') then
    wait('what is predicted', function() return #findings() > 1 end)
    replace('to 7 V over', 'to level over')
    wait('no findings', function() return #findings() == 0 end)
    replace('repeat 10', 'repaet 10')
    wait('the finding', function() return has('syntax') end)
    go_to('ramp core to level')
    result.screen = screen()
    return vim.lsp.stop_client(client)
  end
  vim.cmd('undo')
  wait('no findings', function() return #findings() == 0 end)

  go_to('ramp core to level')
  result.hover = request('textDocument/hover', vim.lsp.util.make_position_params()).contents.value

  -- Completion, as its omnifunc asks for it.
  replace('on core', 'on ')
  go_to('  on ', 4)
  vim.cmd('startinsert!')
  local params = vim.lsp.util.make_position_params()
  params.position.character = 5
  local items = vim.lsp.util.text_document_completion_list_to_complete_items(
    request('textDocument/completion', params), '')
  result.completion = {}
  for _, item in ipairs(items) do table.insert(result.completion, item.word) end
  vim.cmd('stopinsert')
  vim.cmd('undo')

  -- Rename across the import: both texts change, and the load file.
  go_to('io on left')
  vim.lsp.buf.rename('radio')
  wait('the rename', function() return lines(0):find('rail radio on', 1, true) ~= nil end)
  result.renamed = {}
  for _, buffer in ipairs(vim.api.nvim_list_bufs()) do
    local name = vim.fn.fnamemodify(vim.api.nvim_buf_get_name(buffer), ':t')
    if name ~= '' then result.renamed[name] = lines(buffer) end
  end
  vim.cmd('silent wall')

  -- A code action, chosen in its menu.
  replace('to level over', 'to levle over')
  wait('unknown-name', function() return has('unknown-name') end)
  go_to('levle')
  vim.ui.select = function(choices, _, choose)
    result.actions = {}
    for _, choice in ipairs(choices) do table.insert(result.actions, choice[2].title) end
    choose(choices[1], 1)
  end
  vim.lsp.buf.code_action()
  wait('the code action', function() return lines(0):find('to level over', 1, true) ~= nil end)

  replace('  limit core to 1 A', '      limit core to 1A')
  vim.lsp.buf.formatting_sync({}, 20000)
  result.formatted = lines(0)

  vim.lsp.stop_client(client)
  wait('the end', function() return vim.lsp.get_client_by_id(client) == nil or vim.lsp.client_is_stopped(client) end)
end

local good, failure = pcall(work)
if not good then result.failed = result.failed or tostring(failure) end
local file = assert(io.open(os.getenv('RESULT'), 'w'))
file:write(vim.fn.json_encode(result))
file:close()
vim.cmd('qall!')
