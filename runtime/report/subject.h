#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/as_run/evaluate.h"
#include "runtime/predict/answer.h"
#include "runtime/predict/headline.h"
#include "runtime/report/markup.h"
#include "runtime/report/page.h"

namespace rampart::report {

// An answer that has a table, and the words and links for what it says.
class Subject {
 public:
  explicit Subject(const Answer& answer, const PageDetails& details, const as_run::Evaluated* evaluated = nullptr);

  const Answer& answer;
  const Profile& profile;
  PageDetails details;
  const Simulation* simulation;        // none without a load
  const as_run::Evaluated* evaluated;  // by logs; none without any
  Headline headline;
  std::vector<FileId> listed;  // files whose text is in the report, in its order
  std::vector<ExpectationResult> expectations;

  // What logs say of the run; none where there are none, or they cannot be read.
  [[nodiscard]] const as_run::AsRun* as_run() const;
  // The run that the charts show.
  [[nodiscard]] const Simulation* charted() const;
  // "line 47", linked to the source; with the file's name where it is not the profile. Empty for a span without text.
  [[nodiscard]] Markup line_of(const Span& span) const;
  // The line's number and text.
  [[nodiscard]] std::uint32_t line_number(const Span& span) const;
  [[nodiscard]] std::string line_text(const Span& span) const;
  // The element id of a line, "f0-47"; empty where the file is not listed.
  [[nodiscard]] std::string line_id(FileId file, std::uint32_t line) const;
  // A time, which a reader can follow into the charts: to a rail, where one is given, and as near as shows a spell of
  // `width_s` that ends there.
  [[nodiscard]] Markup at(double time_s, std::optional<RailId> rail = std::nullopt, double width_s = 0) const;
  // Where the protection that a margin speaks of is set; empty where it is none of the profile's.
  [[nodiscard]] Span threshold_of(const Margin& margin) const;
};

}  // namespace rampart::report
