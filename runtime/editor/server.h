#pragma once

namespace rampart::editor {

// Answers the Language Server Protocol (LSP 3.17) on two file descriptors until the client ends it. Gives 0 where it
// did so with `shutdown` and `exit`, and 1 where the stream ended without.
[[nodiscard]] int serve(int input, int output);

}  // namespace rampart::editor
