#include "runtime/audit/recorded_origin.h"

#include <nlohmann/json.hpp>

#include "runtime/audit/json_source.h"
#include "runtime/sha256.h"

namespace rampart::audit {
namespace {

using Json = nlohmann::json;

constexpr std::size_t kMaxDepth = 64;

// Inside "origin" every object with a name and a digest is a file. Everything but that and the digest of the table
// passes by.
class OriginEvents {
 public:
  explicit OriginEvents(RecordedOrigin& origin) : origin_(origin) {}

  bool null() { return true; }
  bool boolean(bool) { return true; }
  bool number_integer(Json::number_integer_t) { return true; }
  bool number_unsigned(Json::number_unsigned_t) { return true; }
  bool number_float(Json::number_float_t, const std::string&) { return true; }
  bool binary(Json::binary_t&) { return true; }
  bool string(std::string& value) {
    if (depth_ == 1 && key_ == "table_sha256") origin_.table_sha256 = value;
    if (inside_ && key_ == "name") file_.name = value;
    if (inside_ && key_ == "sha256") file_.sha256 = value;
    return true;
  }
  // The rows of a table come last, and there is nothing to be found in them.
  bool key(std::string& value) {
    key_ = std::move(value);
    return depth_ > 1 || key_ != "segments";
  }
  bool start_object(std::size_t) {
    file_ = {};
    return open();
  }
  bool start_array(std::size_t) { return open(); }
  bool end_object() {
    if (inside_ && !file_.name.empty() && !file_.sha256.empty() && origin_.files.size() < kMaxOriginFiles) {
      origin_.files.push_back(file_);
    }
    file_ = {};
    return close();
  }
  bool end_array() { return close(); }
  bool parse_error(std::size_t, const std::string&, const Json::exception&) { return false; }

 private:
  bool open() {
    if (depth_ == 1 && key_ == "origin") inside_ = true;
    return ++depth_ <= kMaxDepth;
  }
  bool close() {
    if (--depth_ == 1) inside_ = false;
    return true;
  }

  RecordedOrigin& origin_;
  OriginFile file_;
  std::string key_;
  std::size_t depth_ = 0;
  bool inside_ = false;
};

}  // namespace

RecordedOrigin read_origin(std::FILE* stream) {
  RecordedOrigin origin;
  JsonSource source(stream);
  OriginEvents events(origin);
  static_cast<void>(Json::sax_parse(source.begin(), JsonSource::end(), &events));
  return origin;
}

std::string sha256_of(std::FILE* stream) {
  Sha256 digest;
  char piece[1 << 16];
  std::size_t got = 0;
  while ((got = std::fread(piece, 1, sizeof piece, stream)) > 0) digest.add({piece, got});
  return digest.finish();
}

}  // namespace rampart::audit
