#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <utility>

#include "compiler/table/state_key.h"
#include "compiler/table/table.h"

namespace rampart {

// Leaves out passes of a loop that give nothing, once two of them end as the one before did: a loop can have more of
// them than anyone waits for. Whoever goes through items says which of them give something; ends of passes do not.
class SilentPasses {
 public:
  void given() { ++given_; }

  // Right after `pass` was given by the cursor.
  void ended(const PassEnded& pass, RowCursor& cursor) {
    const auto [found, is_new] = ends_.try_emplace(pass.loop);
    End& end = found->second;
    const bool is_silent = !is_new && end.given == given_ && end.pass < pass.pass;
    if (!is_silent) {
      end = {given_, pass.pass, 0, std::nullopt};
      return;
    }
    if (end.state && (pass.pass - end.pass) % pass.unit != 0) return;
    StateKey state = cursor.state();
    const int alike = end.state == state ? end.alike + 1 : 0;
    const std::int64_t passes = alike > 1 ? pass.remaining / pass.unit * pass.unit : 0;
    end = {given_, pass.pass, alike, std::move(state)};
    if (passes > 0) cursor.skip_passes(passes);
  }

 private:
  // The last end of a loop's pass that was looked at.
  struct End {
    std::int64_t given = 0;
    std::int64_t pass = 0;
    int alike = 0;                  // so many ends before it had the same state
    std::optional<StateKey> state;  // none: something was given in the pass
  };
  std::int64_t given_ = 0;
  std::map<LoopId, End> ends_;
};

}  // namespace rampart
