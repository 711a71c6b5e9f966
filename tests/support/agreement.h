#pragma once

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <string>

namespace rampart::test {

// The worst relative difference of one case against an outside source. With the variable RAMPART_AGREEMENT set, it goes
// into that file, from which tests/reference/agreement_table.py makes the table of docs/simulation.md.
class Agreement {
 public:
  Agreement(std::string source, std::string name) : source_(std::move(source)), name_(std::move(name)) {}
  Agreement(const Agreement&) = delete;
  Agreement& operator=(const Agreement&) = delete;
  ~Agreement() {
    const char* path = std::getenv("RAMPART_AGREEMENT");
    if (path == nullptr) return;
    std::ofstream(path, std::ios::app) << source_ << '\t' << name_ << '\t' << worst_ << "\t0\n";
  }

  // Relative to the larger of the outsider's value and `floor`.
  double add(double ours, double theirs, double floor = 0) {
    const double difference = std::abs(ours - theirs);
    const double relative = difference == 0 ? 0 : difference / std::max(std::abs(theirs), floor);
    worst_ = std::max(worst_, relative);
    return relative;
  }

 private:
  std::string source_;
  std::string name_;
  double worst_ = 0;
};

}  // namespace rampart::test
