#pragma once

#include <string>
#include <vector>

namespace rampart::cli {

// Aligned columns: the first to the left, the others to the right, two blanks between them. Widths count code points.
class TextTable {
 public:
  explicit TextTable(std::vector<std::string> header) { rows_.push_back(std::move(header)); }
  void add(std::vector<std::string> row) { rows_.push_back(std::move(row)); }
  [[nodiscard]] bool empty() const { return rows_.size() < 2; }
  [[nodiscard]] std::string text() const;

 private:
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace rampart::cli
