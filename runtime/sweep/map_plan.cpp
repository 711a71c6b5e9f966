#include "runtime/sweep/map_plan.h"

#include <set>
#include <utility>

namespace rampart::sweep {
namespace {

// Some at even distances and the value that the parameter has, in rising order.
std::vector<Quantity> values_of(const ScanSubject& subject) {
  std::set<std::int64_t> indices;
  const std::int64_t last = subject.grid.count() - 1;
  const std::int64_t parts = std::min(last, subject.scanned - 1);
  for (std::int64_t i = 0; i <= parts; ++i) {
    indices.insert(parts == 0 ? 0 : static_cast<std::int64_t>(Int128{i} * last / parts));
  }
  if (subject.grid.present()) indices.insert(*subject.grid.present());
  std::vector<Quantity> values;
  for (const std::int64_t index : indices) values.push_back({subject.grid.at(index), subject.step.dimension});
  return values;
}

MapAxis axis_of(const ScanSubject& subject, std::vector<Quantity> values) {
  return {subject.name, subject.range, subject.step, std::move(values)};
}

}  // namespace

MapPlan::MapPlan(ScanSubject across, ScanSubject upright, bool all_columns, bool all_rows)
    : across_(std::move(across)), upright_(std::move(upright)) {
  across_.scanned = all_columns ? across_.grid.count() : kMapColumns;
  upright_.scanned = all_rows ? upright_.grid.count() : kMapRows;
  across_.borders_alone = true;
  if (Int128{across_.scanned} * upright_.scanned > kMostCells) {
    throw Refused{"--vary", "a map of more than " + std::to_string(kMostCells) + " cells: give larger steps"};
  }
  row_values_ = values_of(upright_);
}

std::vector<ScanSubject> MapPlan::take_rows() const {
  std::vector<ScanSubject> rows;
  for (const Quantity& value : row_values_) {
    rows.push_back(across_);
    rows.back().others.push_back({upright_.name, value});
  }
  return rows;
}

Map MapPlan::result(const std::vector<ParameterScan>& rows, const Trial& present, const Quantity& present_upright,
                    const Job& job) const {
  Map map;
  map.across = axis_of(across_, values_of(across_));
  map.upright = axis_of(upright_, row_values_);
  map.present = present;
  map.present_upright = present_upright;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    MapRow& row = map.rows.emplace_back();
    row.value = row_values_[i];
    for (const std::int64_t index : rows[i].scanned()) row.cells.push_back(rows[i].trials().at(index));
    row.intervals = rows[i].intervals(job);
    map.tried += static_cast<std::int64_t>(rows[i].trials().size());
  }
  return map;
}

}  // namespace rampart::sweep
