#include "runtime/play/reading_book.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace rampart {
namespace {

// Readings that differ by less of their size, or by less V or A, are alike.
constexpr double kSameShare = 1e-9;
constexpr double kSameValue = 1e-12;
// As many of the last ones are looked through for one that is alike.
constexpr std::size_t kMostCompared = 256;

bool alike(double a, double b) {
  return std::abs(a - b) <= kSameShare * std::max(std::abs(a), std::abs(b)) + kSameValue;
}

bool alike(const std::optional<RailReading>& a, const std::optional<RailReading>& b) {
  if (!a || !b) return a.has_value() == b.has_value();
  return alike(a->voltage_V, b->voltage_V) && alike(a->current_A, b->current_A) &&
         a->unsettled.has_value() == b->unsettled.has_value();
}

bool alike(const TakenReading& a, const TakenReading& b) {
  return a.name == b.name && std::equal(a.rails.begin(), a.rails.end(), b.rails.begin(), b.rails.end(),
                                        [](const auto& x, const auto& y) { return alike(x, y); });
}

}  // namespace

void ReadingBook::read(const MeasurementDue& due, const std::vector<std::unique_ptr<RailRun>>& rails,
                       const Instant& now, const Passes& passes) {
  const Nanoseconds over = due.measurement->over;
  const Instant from = now.plus(-over);
  TakenReading reading;
  reading.name = due.measurement->name;
  reading.over_s = to_seconds(over).to_double();
  reading.statement = due.statement;
  reading.time_s = now.seconds();
  reading.passes = passes;
  for (const auto& rail : rails) reading.rails.push_back(rail->reading(from, now));
  const auto compared = all_.rbegin() + static_cast<std::ptrdiff_t>(std::min(all_.size(), kMostCompared));
  const auto known = std::find_if(all_.rbegin(), compared,
                                  [&](const TakenReading& one) { return one.drifting == 0 && alike(one, reading); });
  if (known != compared) {
    ++known->count;
  } else if (all_.size() < kMaxReadings) {
    all_.push_back(std::move(reading));
  } else {
    ++left_out_;
  }
}

void ReadingBook::add(const ReadingBook& other, std::int64_t times) {
  for (const TakenReading& reading : other.all_) {
    const auto known =
        std::find_if(all_.begin(), all_.end(), [&](const TakenReading& mine) { return alike(mine, reading); });
    (known != all_.end() ? known->count : left_out_) += times * reading.count;
  }
}

void ReadingBook::repeat_since(const std::vector<std::int64_t>& then, std::int64_t times, bool drifting) {
  for (std::size_t i = 0; i < all_.size(); ++i) {
    const std::int64_t more = times * (all_[i].count - (i < then.size() ? then[i] : 0));
    (drifting ? all_[i].drifting : all_[i].count) += more;
  }
}

std::vector<std::int64_t> ReadingBook::counts() const {
  std::vector<std::int64_t> result;
  for (const TakenReading& reading : all_) result.push_back(reading.count);
  return result;
}

void ReadingBook::add_to(Simulation& result) {
  result.readings = std::move(all_);
  result.readings_left_out = left_out_;
}

}  // namespace rampart
