#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace rampart {

// The longest name of a job, in bytes: file systems take 255 for a file with its ending.
inline constexpr std::size_t kLongestJobName = 200;

struct StarterFile {
  std::string name;
  std::string text;
};

// Why `name` cannot name the files of a job; empty if it can. Letters, digits, `-`, `_` and `.` are taken, and no `-`
// or
// `.` at its beginning.
[[nodiscard]] std::string job_name_fault(std::string_view name);

// A complete small job to change: NAME.ramp, NAME.bench.yaml and NAME.load.yaml, with comments. `name` has no fault.
[[nodiscard]] std::vector<StarterFile> starter_files(std::string_view name);

}  // namespace rampart
