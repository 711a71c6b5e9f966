#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lang/values/quantity.h"

namespace rampart {

struct OriginFile {
  std::string name;    // as it was given or named
  std::string sha256;  // of its bytes, 64 hexadecimal digits
};

struct OriginParameter {
  std::string name;
  Quantity value;
  bool set = false;  // by the caller, not the default
};

// What a table was made from. No time of day: the same input gives the same bytes.
struct Origin {
  std::string version;  // of the program
  OriginFile profile;
  std::vector<OriginFile> imports;
  std::vector<OriginFile> waveforms;
  std::optional<OriginFile> bench;
  std::optional<OriginFile> load;
  std::optional<OriginFile> template_file;  // that the table was poured into
  std::vector<OriginParameter> parameters;
};

}  // namespace rampart
