#pragma once

#include <vector>

#include "runtime/sweep/parameter_scan.h"

namespace rampart::sweep {

// Which values of two parameters a map tries, and what came of it.
class MapPlan {
 public:
  // With a step of its own, all values of a parameter have a column or row. Throws Refused where these are too many.
  MapPlan(ScanSubject across, ScanSubject upright, bool all_columns, bool all_rows);

  // A scan for each row.
  [[nodiscard]] std::vector<ScanSubject> take_rows() const;
  // Of these scans, after they were made.
  [[nodiscard]] Map result(const std::vector<ParameterScan>& rows, const Trial& present,
                           const Quantity& present_upright, const Job& job) const;

 private:
  ScanSubject across_;
  ScanSubject upright_;
  std::vector<Quantity> row_values_;
};

}  // namespace rampart::sweep
