#pragma once

#include <cstdint>
#include <vector>

#include "compiler/table/table.h"
#include "lang/values/instant.h"
#include "runtime/answer/simulation.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// The readings that a run has taken. Those of one name that are alike are one with a count.
class ReadingBook {
 public:
  void read(const MeasurementDue& due, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now,
            const Passes& passes);
  // Readings that another book has too, each `times` as often as there.
  void add(const ReadingBook& other, std::int64_t times);
  // Those taken since `then` come so many times more; in passes of a slow drift they are not alike.
  void repeat_since(const std::vector<std::int64_t>& then, std::int64_t times, bool drifting);
  // How often each was taken so far.
  [[nodiscard]] std::vector<std::int64_t> counts() const;
  void add_to(Simulation& result);

 private:
  std::vector<TakenReading> all_;
  std::int64_t left_out_ = 0;
};

}  // namespace rampart
