#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>

namespace rampart {

class Player;

// A run as it stood at marks, for runs that differ from it only by what comes later. A mark inside a loop, in `safe` or
// behind passes that were added has no state.
class MarkStates {
 public:
  // States are kept at the first reaching of this mark.
  void want(const std::string& mark) { states_.try_emplace(mark); }
  [[nodiscard]] bool wants(std::string_view mark) const;
  void keep(std::string_view mark, std::shared_ptr<const Player> state);
  // Null where none was kept.
  [[nodiscard]] const Player* at(std::string_view mark) const;

 private:
  std::map<std::string, std::shared_ptr<const Player>, std::less<>> states_;
};

}  // namespace rampart
