#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <utility>

#include "compiler/table/state_key.h"
#include "compiler/table/table.h"

namespace rampart {

// Leaves out passes of a loop that give no row, once they end as one of them began: a loop can have more of them than
// anyone waits for. Whoever goes through rows tells of each item but the ends of passes, and of these.
class SilentPasses {
 public:
  void given() { ++given_; }

  // Right after `pass` was given by the cursor.
  void ended(const PassEnded& pass, RowCursor& cursor) {
    const auto [found, is_new] = ends_.try_emplace(pass.loop);
    End& end = found->second;
    const bool is_silent = !is_new && end.given == given_ && end.pass < pass.pass;
    if (!is_silent) {
      end = {given_, pass.pass, std::nullopt};
      return;
    }
    if (end.state && (pass.pass - end.pass) % pass.unit != 0) return;
    StateKey state = cursor.state();
    const std::int64_t passes = end.state == state ? pass.remaining / pass.unit * pass.unit : 0;
    end = {given_, pass.pass, std::move(state)};
    if (passes > 0) cursor.skip_passes(passes);
  }

 private:
  // The last end of a loop's pass that was looked at.
  struct End {
    std::int64_t given = 0;
    std::int64_t pass = 0;
    std::optional<StateKey> state;  // none: something was given in the pass
  };
  std::int64_t given_ = 0;
  std::map<LoopId, End> ends_;
};

}  // namespace rampart
