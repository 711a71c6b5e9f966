#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace rampart {

// Bounds of one look into folders: what lies deeper or comes later is left out.
inline constexpr std::size_t kMaxFolderDepth = 8;
inline constexpr std::size_t kMaxFolderEntries = 10'000;

// The files below a folder whose names end in `suffix`, sorted, as paths that begin with the folder's. `depth`: how
// many folders down; 0 is the folder alone. Hidden folders are left out, and so is what cannot be read.
[[nodiscard]] std::vector<std::string> files_below(const std::string& folder, std::string_view suffix,
                                                   std::size_t depth);

}  // namespace rampart
