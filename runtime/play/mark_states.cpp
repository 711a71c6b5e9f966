#include "runtime/play/mark_states.h"

#include <utility>

namespace rampart {

bool MarkStates::wants(std::string_view mark) const {
  const auto found = states_.find(mark);
  return found != states_.end() && found->second == nullptr;
}

void MarkStates::keep(std::string_view mark, std::shared_ptr<const Player> state) {
  states_.find(mark)->second = std::move(state);
}

const Player* MarkStates::at(std::string_view mark) const {
  const auto found = states_.find(mark);
  return found == states_.end() ? nullptr : found->second.get();
}

}  // namespace rampart
