#pragma once

#include <optional>
#include <string>

// The files of the disk that this process has read, whatever for: no output may take the place of one.
namespace rampart {

// `name`: what messages call the file that is open there. Files alone are kept, no pipes or devices.
void note_opened(int descriptor, const std::string& name);

// The name under which the file at `path` was read, by any of its names and through links; none where it was not. `-`
// is the file that standard output goes to.
[[nodiscard]] std::optional<std::string> opened_as(const std::string& path);

}  // namespace rampart
