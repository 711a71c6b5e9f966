#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/plan.h"

namespace rampart::bench_run {

// Turns rows into messages. What the supply has acknowledged already is not sent again.
class RowWriter {
 public:
  // What is known of no channel any more, as at the start of a segment: its next row is sent as a whole.
  void forget() { last_.clear(); }

  // In the order in which they are sent: an output that goes off comes first; otherwise limit, voltage, output. Empty
  // where a format cannot write a value.
  [[nodiscard]] std::optional<std::vector<std::string>> messages(const PlanChannel& channel,
                                                                 const link::SupplyLink& link, const TableRow& row);
  [[nodiscard]] static std::optional<std::vector<std::string>> messages(const PlanLine& line,
                                                                        const link::SupplyLink& link,
                                                                        const TableRow& row);
  // The part of a row that is news.
  [[nodiscard]] TableRow news(const TableRow& row) const;

 private:
  std::map<std::string, TableRow> last_;  // by channel
};

}  // namespace rampart::bench_run
