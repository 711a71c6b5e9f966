#pragma once

#include <optional>
#include <string_view>
#include <utility>
#include <vector>

#include "compiler/yaml/file_values.h"

namespace rampart {

// Fills a struct from the keys of one map, and hands it out only when the map had every key that the struct needs, no
// key that is unknown, and no value that is wrong. Until then nobody sees it, so no check uses what a file did not
// give.
//
// What reads a value is called with its field and gives an optional: nothing after a finding.
template <class Out>
class FieldCollector {
 public:
  // `start` holds what members are where their keys are absent.
  explicit FieldCollector(const Section& section, Out start = {})
      : section_(section), out_(std::move(start)), is_complete_(section.is_sound()) {}

  template <class Member, class Read>
  FieldCollector& required(std::string_view key, Member Out::*member, const Read& read) {
    required_.push_back(key);
    if (!section_.has(key)) is_complete_ = false;
    return optional(key, member, read);
  }

  template <class Member, class Read>
  FieldCollector& optional(std::string_view key, Member Out::*member, const Read& read) {
    section_.read(key, [&](const Field& field) {
      if (auto value = read(field)) {
        out_.*member = *std::move(value);
      } else {
        is_complete_ = false;
      }
    });
    return *this;
  }

  // `check` sees the whole struct, or is not called.
  template <class Check>
  FieldCollector& check(const Check& check) {
    if (is_complete_) check(std::as_const(out_));
    return *this;
  }

  // `example` is for the finding that says which keys are missing; see Section::require().
  [[nodiscard]] std::optional<Out> result(std::string_view example = {}) {
    section_.require(required_, example);
    if (!is_complete_) return std::nullopt;
    return std::move(out_);
  }

 private:
  const Section& section_;
  Out out_;
  bool is_complete_;
  std::vector<std::string_view> required_;
};

}  // namespace rampart
