#include "runtime/part/part.h"

#include <charconv>
#include <nlohmann/json.hpp>
#include <set>

#include "compiler/export/sha256.h"
#include "runtime/support/json_levels.h"

namespace rampart {
namespace {

using Json = nlohmann::json;

// More shares than this are a slip of the keyboard.
constexpr std::int64_t kMostParts = 1'000'000;

std::optional<std::int64_t> whole(std::string_view text) {
  std::int64_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || value < 1 || value > kMostParts) return std::nullopt;
  return value;
}

constexpr const char* kDigest = "sha256";

// Of all that a document says: its compact text without the digest.
std::string digest_of(const Json& document) {
  Json rest = document;
  rest.erase(kDigest);
  return sha256_of(rest.dump(-1, ' ', false, Json::error_handler_t::replace));
}

std::optional<PartFile> read_document(const std::string& text) {
  if (nests_deeper(text, kMostJsonLevels)) return std::nullopt;
  const Json document = Json::parse(text, nullptr, false);
  if (!document.is_object() || document.value(kDigest, Json()) != digest_of(document)) return std::nullopt;
  static const Json kNothing;
  const auto member = [&](const char* key) -> const Json& { return document.contains(key) ? document[key] : kNothing; };
  const Json& part = member("part");
  const Json& asked = member("asked");
  const Json& results = member("results");
  if (!part.is_string() || !asked.is_array() || !results.is_object()) return std::nullopt;
  const std::optional<Part> read = read_part(part.get<std::string>());
  if (!read) return std::nullopt;
  PartFile file{*read, {}, {}};
  for (const Json& line : asked) {
    if (!line.is_string()) return std::nullopt;
    file.asked.push_back(line.get<std::string>());
  }
  for (const auto& [name, result] : results.items()) {
    if (!result.is_string()) return std::nullopt;
    file.results.emplace(name, result.get<std::string>());
  }
  return file;
}

// The first line in which they differ, as each has it.
std::string difference(const std::vector<std::string>& theirs, const std::vector<std::string>& ours) {
  std::size_t at = 0;
  while (at < theirs.size() && at < ours.size() && theirs[at] == ours[at]) ++at;
  const auto line = [at](const std::vector<std::string>& lines) {
    return at < lines.size() ? "`" + lines[at] + "`" : std::string("nothing more");
  };
  return line(theirs) + " there, " + line(ours) + " here";
}

}  // namespace

std::optional<Part> read_part(std::string_view text) {
  const std::size_t slash = text.find('/');
  if (slash == std::string_view::npos) return std::nullopt;
  const std::optional<std::int64_t> number = whole(text.substr(0, slash));
  const std::optional<std::int64_t> of = whole(text.substr(slash + 1));
  if (!number || !of || *number > *of) return std::nullopt;
  return Part{*number, *of};
}

std::string part_text(const Part& part) {
  return std::to_string(part.number) + "/" + std::to_string(part.of);
}

std::pair<std::size_t, std::size_t> share_of(const Part& part, std::size_t count) {
  const auto of = static_cast<std::size_t>(part.of);
  const auto number = static_cast<std::size_t>(part.number);
  return {count * (number - 1) / of, count * number / of};
}

std::string part_document(const PartFile& file) {
  Json results = Json::object();
  for (const auto& [name, result] : file.results) results[name] = result;
  Json document{{"part", part_text(file.part)}, {"asked", file.asked}, {"results", std::move(results)}};
  document[kDigest] = digest_of(document);
  return document.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

Results join_parts(const std::vector<NamedText>& files, const std::vector<std::string>& asked) {
  Results all;
  std::set<std::int64_t> numbers;
  std::int64_t of = 0;
  for (const NamedText& named : files) {
    std::optional<PartFile> file = read_document(named.text);
    if (!file) throw PartMistake{named.name + ": is not a file as --part wrote it, whole and unchanged"};
    if (file->asked != asked) {
      throw PartMistake{named.name + ": is a part of another job: " + difference(file->asked, asked)};
    }
    if (of != 0 && of != file->part.of) {
      throw PartMistake{named.name + ": is part " + part_text(file->part) + ", but the others are parts of " +
                        std::to_string(of)};
    }
    of = file->part.of;
    if (!numbers.insert(file->part.number).second) {
      throw PartMistake{named.name + ": part " + part_text(file->part) + " occurs twice"};
    }
    all.merge(file->results);
  }
  for (std::int64_t number = 1; number <= of; ++number) {
    if (!numbers.contains(number)) throw PartMistake{"part " + part_text({number, of}) + " is missing"};
  }
  return all;
}

}  // namespace rampart
