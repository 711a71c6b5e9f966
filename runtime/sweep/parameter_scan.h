#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "runtime/sweep/sweep.h"
#include "runtime/sweep/trial.h"
#include "runtime/sweep/value_grid.h"

namespace rampart::sweep {

// What all scans of a sweep share.
struct ScanContext {
  const Trials& trials;
  const Results& known;    // from other machines
  const SourceSet& texts;  // in which places are told
};

// What is scanned: a parameter at the values of its grid, and what else is held.
struct ScanSubject {
  std::string name;
  ValueGrid grid;
  Range<Quantity> range;  // what the texts of its values depend on
  Quantity step;
  std::vector<Held> others{};
  std::int64_t scanned = 0;    // values of the first scan; the value that the parameter has comes on top
  bool borders_alone = false;  // follow what holds and what does not, whichever errors there are
};

// One parameter, tried at values of its grid: some at first, then wherever the errors change. Trials are kept by their
// place on the grid, so neither threads nor parts change anything.
class ParameterScan {
 public:
  // `number`: of the scan in its sweep.
  ParameterScan(const ScanContext& context, std::size_t number, ScanSubject subject);

  // The ways from one value of the first scan to the next, which parts share. There is one at least.
  [[nodiscard]] std::size_t gaps() const;
  // The values at both ends of each of these.
  [[nodiscard]] std::vector<std::int64_t> first_values(std::size_t first_gap, std::size_t end_gap) const;
  // Throws JobStopped, as all that follow.
  [[nodiscard]] Trial tried(std::int64_t index, const Job& job) const;
  void put(std::int64_t index, Trial trial) { trials_.insert_or_assign(index, std::move(trial)); }
  // Halves the way between neighbours until their errors agree or nothing is between them.
  void refine(const Job& job);
  const Trial& try_one(std::int64_t index, const Job& job);
  // Whether what is asked for beyond a plain run is met at a value that holds.
  [[nodiscard]] bool meets(std::int64_t index, const Demand& demand, const Job& job);
  [[nodiscard]] Weighed weighed(std::int64_t index, const Demand& demand, const Job& job) const;
  // The trial there with its first error in words. Throws PartMistake where only a part says that it has one.
  [[nodiscard]] Trial explained(const Trial& trial, const Job& job) const;
  // What is wrong with parts that say that this value fails.
  [[nodiscard]] PartMistake contradiction(const Quantity& value) const;

  [[nodiscard]] std::vector<Interval> intervals(const Job& job) const;
  [[nodiscard]] ParameterSweep result(const Trial& present, const Job& job) const;
  [[nodiscard]] const std::map<std::int64_t, Trial>& trials() const { return trials_; }
  [[nodiscard]] const std::vector<std::int64_t>& scanned() const { return scanned_; }
  [[nodiscard]] const ScanSubject& subject() const { return subject_; }
  [[nodiscard]] std::string setting_at(std::int64_t index) const;
  // All that was tried here, for other machines.
  [[nodiscard]] Results results() const;

 private:
  [[nodiscard]] std::vector<Held> held_at(const Quantity& value) const;
  void try_all(const std::vector<std::int64_t>& indices, const Job& job);
  [[nodiscard]] Quantity value_at(std::int64_t index) const;
  [[nodiscard]] std::string result_name(std::int64_t index) const;
  [[nodiscard]] bool differ(const Trial& a, const Trial& b) const;

  ScanContext context_;
  std::size_t number_;
  ScanSubject subject_;
  std::vector<std::int64_t> scanned_;  // in rising order
  std::map<std::int64_t, Trial> trials_;
  std::map<std::int64_t, bool> met_;
  bool refined_ = true;
};

}  // namespace rampart::sweep
