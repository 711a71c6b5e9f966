#pragma once

#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace rampart::test {

// The texts of the example profiles and of one that uses every form of the language.
[[nodiscard]] inline std::vector<std::string> sample_profiles() {
  std::vector<std::string> texts;
  for (const char* path : {"profiles/tide-gauge/power-up.ramp", "profiles/tide-gauge/supply-margin.ramp",
                           "profiles/tide-gauge/burn-in.ramp", "tests/data/every_form.ramp"}) {
    std::ifstream file(std::string(RAMPART_SOURCE_DIR) + "/" + path);
    std::ostringstream text;
    text << file.rdbuf();
    if (!file || text.str().empty()) throw std::runtime_error(std::string("cannot read ") + path);
    texts.push_back(text.str());
  }
  return texts;
}

}  // namespace rampart::test
