#pragma once

namespace rampart::cli {

// Makes the numbers 0 to 2 of standard input, output and error safe: where the caller closed one, no file opened later
// gets its number and with it what is meant for the stream. To read from or write to it fails as it would have. False
// if that cannot be had; nothing must be opened then.
[[nodiscard]] bool hold_standard_streams();

}  // namespace rampart::cli
