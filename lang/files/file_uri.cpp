#include "lang/files/file_uri.h"

#include <cstdint>

namespace rampart {
namespace {

constexpr std::string_view kDigits = "0123456789ABCDEF";

std::optional<unsigned> digit(char c) {
  if (c >= 'a' && c <= 'f') c = static_cast<char>(c - 'a' + 'A');
  const std::size_t value = kDigits.find(c);
  return value == std::string_view::npos ? std::nullopt : std::optional(static_cast<unsigned>(value));
}

}  // namespace

std::string file_uri(std::string_view path) {
  constexpr std::string_view kPlain = "-._~/!$&'()*+,;=@";
  std::string uri = path.starts_with('/') ? "file://" : "";
  for (const char c : path) {
    const auto byte = static_cast<unsigned char>(c);
    const bool is_letter = (byte >= 'a' && byte <= 'z') || (byte >= 'A' && byte <= 'Z');
    if (is_letter || (byte >= '0' && byte <= '9') || kPlain.find(c) != std::string_view::npos) {
      uri += c;
    } else {
      uri += {'%', kDigits[byte >> 4U], kDigits[byte & 15U]};
    }
  }
  return uri;
}

std::optional<std::string> path_of_uri(std::string_view uri) {
  constexpr std::string_view kScheme = "file://";
  constexpr std::string_view kThisMachine = "localhost";
  if (!uri.starts_with(kScheme)) return std::nullopt;
  uri.remove_prefix(kScheme.size());
  if (uri.starts_with(kThisMachine)) uri.remove_prefix(kThisMachine.size());
  if (!uri.starts_with('/')) return std::nullopt;
  uri = uri.substr(0, uri.find_first_of("?#"));
  std::string path;
  for (std::size_t i = 0; i < uri.size(); ++i) {
    if (uri[i] != '%') {
      path += uri[i];
      continue;
    }
    if (i + 2 >= uri.size()) return std::nullopt;
    const std::optional<unsigned> high = digit(uri[i + 1]);
    const std::optional<unsigned> low = digit(uri[i + 2]);
    if (!high || !low || *high * 16 + *low == 0) return std::nullopt;
    path += static_cast<char>(*high * 16 + *low);
    i += 2;
  }
  return path;
}

}  // namespace rampart
