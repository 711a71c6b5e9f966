#include "lang/files/folder.h"

#include <algorithm>
#include <filesystem>
#include <system_error>

namespace rampart {

std::vector<std::string> files_below(const std::string& folder, std::string_view suffix, std::size_t depth) {
  namespace fs = std::filesystem;
  std::vector<std::string> found;
  std::vector<std::pair<fs::path, std::size_t>> open{{folder.empty() ? "." : folder, 0}};
  std::size_t entries = 0;
  while (!open.empty()) {
    const auto [path, level] = open.back();
    open.pop_back();
    std::error_code failure;
    fs::directory_iterator next(path, fs::directory_options::skip_permission_denied, failure);
    for (; !failure && next != fs::directory_iterator() && entries < kMaxFolderEntries; next.increment(failure)) {
      ++entries;
      std::error_code unknown;
      const std::string name = next->path().filename().string();
      const bool is_folder = next->is_directory(unknown) && !next->is_symlink(unknown);
      if (is_folder && level < std::min(depth, kMaxFolderDepth) && !name.starts_with(".")) {
        open.emplace_back(next->path(), level + 1);
      } else if (name.ends_with(suffix) && next->is_regular_file(unknown)) {
        found.push_back(folder.empty() ? name : next->path().string());
      }
    }
  }
  std::sort(found.begin(), found.end());
  return found;
}

}  // namespace rampart
