#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "runtime/rail/rail_run.h"

namespace rampart {

// Raises the peak of the power of all rails together by what their planned pieces, all `length` s long and beginning at
// `from`, bring. Of each rail the given share counts; none given: all of each.
void raise_total_power(Peak& peak, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from,
                       double length, const Passes& passes, const std::vector<double>& shares = {});

// What each supply that has a power for all its channels together is asked for.
class SupplyPowers {
 public:
  explicit SupplyPowers(const Table& table);
  // The planned pieces, as for raise_total_power().
  void take(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from, double length,
            const Passes& passes);
  void add_margins(std::vector<Margin>& margins) const;

 private:
  struct One {
    std::string supply;
    double power = 0;
    RailId rail{};               // the first that draws from it
    std::vector<double> shares;  // of each rail's power
    Peak peak;
  };
  std::vector<One> supplies_;
};

}  // namespace rampart
