#pragma once

#include <cstdio>
#include <string>
#include <vector>

#include "compiler/export/origin.h"

namespace rampart::audit {

// More files than any table is made from; the rest is not compared.
inline constexpr std::size_t kMaxOriginFiles = 10'000;

// What a table, or the file beside it, says of where the table comes from.
struct RecordedOrigin {
  std::vector<OriginFile> files;  // empty: nothing is said
  std::string table_sha256;       // empty where it is not given
};

// Reads the origin from a JSON table or from the set-up file beside a table. Text that is no JSON ends it.
[[nodiscard]] RecordedOrigin read_origin(std::FILE* stream);

// The SHA-256 digest of what is left of a stream.
[[nodiscard]] std::string sha256_of(std::FILE* stream);

}  // namespace rampart::audit
