#pragma once

#include <optional>
#include <string>

#include "runtime/as_run/evaluate.h"
#include "runtime/predict/answer.h"
#include "runtime/report/sweep_picture.h"

namespace rampart::report {

// What a reader of the page is told beside what the profile says; empty fields leave a line to write on.
struct PageDetails {
  bool strict = false;                  // warnings count as errors
  std::string revision;                 // of the procedure under review
  std::string device;                   // part, serial number, revision of the unit under test
  std::optional<SweepPicture> sweep{};  // of the same files
};

// A report as one HTML page that asks nothing of a network. The answer has a table and its waveforms. The same
// answer gives the same bytes.
// With `as_run`, what logs say of the run: the waveforms are then of the run as it was.
[[nodiscard]] std::string report_page(const Answer& answer, const PageDetails& details,
                                      const as_run::Evaluated* as_run = nullptr);

}  // namespace rampart::report
