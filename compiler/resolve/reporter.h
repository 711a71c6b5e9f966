#pragma once

#include <set>
#include <tuple>
#include <utility>
#include <vector>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "lang/findings/timeline.h"

namespace rampart::resolving {

// Reports each finding once a place, however often the expansion comes by. What is wrong because of a value that a call
// hands over is reported once for each place where such a value was written.
class Reporter {
 public:
  Reporter(FindingSink& findings, const std::vector<CallPlace>& calls) : findings_(findings), calls_(calls) {}

  template <class... Arguments>
  FindingSink::Addition report(const FindingKind<Arguments...>& kind, const Span& span,
                               const std::type_identity_t<Arguments>&... arguments) {
    failed_ = failed_ || kind.wording.severity == Severity::Error;
    return report_once({}, kind, span, arguments...);
  }

  // A limit of the bench that is passed: the profile is whole all the same.
  template <class... Arguments>
  FindingSink::Addition report_beside(const FindingKind<Arguments...>& kind, const Span& span,
                                      const std::type_identity_t<Arguments>&... arguments) {
    return report_once({}, kind, span, arguments...);
  }

  // Likewise for what depends on the value looked at last: notes say which call it came from.
  template <class... Arguments>
  FindingSink::Addition report_value(const FindingKind<Arguments...>& kind, const Span& span,
                                     const std::type_identity_t<Arguments>&... arguments) {
    failed_ = failed_ || kind.wording.severity == Severity::Error;
    FindingSink::Addition addition = report_once(origins_, kind, span, arguments...);
    int shown = 0;
    for (CallId call = call_; call != kNoCall && shown < kMaxCallsShown; ++shown) {
      const CallPlace& place = calls_[call];
      addition.note(finding::CalledFromHere, place.span);
      call = place.caller;
    }
    return addition;
  }

  // Another value is looked at; `add_origins` says where what calls hand over to it was written.
  void begin_value() { origins_.clear(); }
  void add_origins(const std::vector<Span>& origins) {
    origins_.insert(origins_.end(), origins.begin(), origins.end());
  }
  [[nodiscard]] const std::vector<Span>& origins() const { return origins_; }

  void enter_call(CallId call) { call_ = call; }
  [[nodiscard]] CallId call() const { return call_; }
  // True once an error was reported, or would have been but for an equal one.
  [[nodiscard]] bool failed() const { return failed_; }
  void fail() { failed_ = true; }
  // Whether the latest finding was the first of its kind at its place.
  [[nodiscard]] bool is_new() const { return is_new_; }

 private:
  static constexpr int kMaxCallsShown = 8;

  template <class... Arguments>
  FindingSink::Addition report_once(const std::vector<Span>& origins, const FindingKind<Arguments...>& kind,
                                    const Span& span, const Arguments&... arguments) {
    std::vector<std::pair<FileId, std::uint32_t>> written;
    for (const Span& origin : origins) written.emplace_back(origin.file, origin.begin);
    is_new_ = reported_.insert({kind.wording.words.data(), span.file, span.begin, span.end, std::move(written)}).second;
    if (!is_new_) return FindingSink::Addition(&discarded_);
    return findings_.report(kind, span, arguments...);
  }

  FindingSink& findings_;
  const std::vector<CallPlace>& calls_;
  CallId call_ = kNoCall;
  bool failed_ = false;
  bool is_new_ = false;
  std::vector<Span> origins_;
  std::set<std::tuple<const char*, FileId, std::uint32_t, std::uint32_t, std::vector<std::pair<FileId, std::uint32_t>>>>
      reported_;
  Finding discarded_;
};

}  // namespace rampart::resolving
