#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace rampart {

// A path as a URI reference (RFC 3986): what may not stand in a path, and a colon that would pass for a scheme, is
// percent-encoded. An absolute path is a `file` URI (RFC 8089).
[[nodiscard]] std::string file_uri(std::string_view path);

// The path that a `file` URI of this machine names. Empty for any other URI, and for one that is not well formed.
[[nodiscard]] std::optional<std::string> path_of_uri(std::string_view uri);

}  // namespace rampart
