#pragma once

#include <string>

#include "runtime/link/link.h"

namespace rampart::link {

// Keeps other players on this computer from one instrument while it lives. It knows nothing of other computers.
class LinkLock {
 public:
  explicit LinkLock(const Place& place);
  ~LinkLock();
  LinkLock(const LinkLock&) = delete;
  LinkLock& operator=(const LinkLock&) = delete;

  [[nodiscard]] bool is_held() const { return descriptor_ >= 0; }
  // Why it is not: another player has it, or the file could not be made.
  [[nodiscard]] const std::string& why() const { return why_; }

 private:
  [[nodiscard]] bool take();

  std::string path_;
  std::string why_;
  int descriptor_ = -1;
};

}  // namespace rampart::link
