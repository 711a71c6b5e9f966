#pragma once

#include <set>
#include <string>
#include <vector>

namespace rampart::audit {

// Finds keys that are twice in one object of a JSON document: readers differ in which of the two they take. Fed with
// the events of a parser.
class KeyWatch {
 public:
  // More keys than any object of a table has; with more the document is none.
  static constexpr std::size_t kMostKeys = 10'000;

  void open() { levels_.emplace_back(); }
  void close() {
    if (!levels_.empty()) levels_.pop_back();
  }
  // What is wrong with a key, in words; empty if nothing is.
  [[nodiscard]] std::string take(const std::string& key) {
    if (levels_.empty()) return {};
    std::set<std::string>& keys = levels_.back();
    if (!keys.insert(key).second) return "key `" + key + "` occurs twice in one object";
    return keys.size() > kMostKeys ? "an object has more than " + std::to_string(kMostKeys) + " keys" : std::string();
  }

 private:
  std::vector<std::set<std::string>> levels_;
};

}  // namespace rampart::audit
