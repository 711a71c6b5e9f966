#pragma once

#include <string>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "runtime/fit/fit.h"
#include "runtime/fit/fit_parameters.h"

namespace rampart::fit {

// The text of a load file with other values where they were determined, each with two standard errors as its tolerance
// and the design beside it in a comment. `logs`: their names, for the comment at the head.
[[nodiscard]] std::string fitted_file(const TextPtr& text, const SourceSet& sources, const Load& load,
                                      const std::vector<LoadValue>& places, const std::vector<FittedValue>& values,
                                      const std::string& logs);

// What such a file says of one value: as many digits as its error leaves.
struct WrittenValue {
  std::string text;  // "11.883 Ohm +- 12 mOhm"
  double nominal = 0;
};
[[nodiscard]] WrittenValue written(const FittedValue& value);

}  // namespace rampart::fit
