#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/job/job.h"

// What the targets share.
namespace rampart::fuzz {

// Ends the process, with `what`, unless it holds.
void require(bool holds, const std::string& what);

// The texts between the lines of kCut.
[[nodiscard]] std::vector<std::string> parts_of(std::string_view texts);
// The part at `index`, or `other` where it is not there or empty.
[[nodiscard]] std::string part(const std::vector<std::string>& parts, std::size_t index, std::string_view other);

// Every finding lies inside its text, says something, and shows a terminal nothing but text.
void check_findings(const FindingSink& findings);
// Nothing in what the program prints or writes acts on a terminal or turns the direction of text.
void check_plain(std::string_view text, const std::string& what);

// Work that is stopped after 200 ms of processor time: what a user may well wait for is no mistake, and what does not
// stop when it is told to is one that the fuzzer's own time limit finds.
class Bounded {
 public:
  Bounded();
  ~Bounded();
  Bounded(const Bounded&) = delete;
  Bounded& operator=(const Bounded&) = delete;
  [[nodiscard]] Job job() const;

 private:
  std::stop_source stop_;
};

}  // namespace rampart::fuzz
