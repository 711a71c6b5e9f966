#pragma once

#include <set>
#include <tuple>
#include <vector>

#include "compiler/profile.h"
#include "lang/finding.h"
#include "lang/findings/timeline.h"

namespace rampart::resolving {

// Reports each finding once a place, however often the expansion comes by.
class Reporter {
 public:
  Reporter(FindingSink& findings, const std::vector<CallPlace>& calls) : findings_(findings), calls_(calls) {}

  template <class... Arguments>
  FindingSink::Addition report(const FindingKind<Arguments...>& kind, const Span& span,
                               const std::type_identity_t<Arguments>&... arguments) {
    failed_ = failed_ || kind.wording.severity == Severity::Error;
    is_new_ = reported_.insert({kind.wording.words.data(), span.file, span.begin, span.end}).second;
    if (!is_new_) return FindingSink::Addition(&discarded_);
    return findings_.report(kind, span, arguments...);
  }

  // The same for what depends on the values that a call hands over: notes say which call it was.
  template <class... Arguments>
  FindingSink::Addition report_value(const FindingKind<Arguments...>& kind, const Span& span,
                                     const std::type_identity_t<Arguments>&... arguments) {
    FindingSink::Addition addition = report(kind, span, arguments...);
    int shown = 0;
    for (CallId call = call_; call != kNoCall && shown < kMaxCallsShown; ++shown) {
      const CallPlace& place = calls_[call];
      addition.note(finding::CalledFromHere, place.span);
      call = place.caller;
    }
    return addition;
  }

  void enter_call(CallId call) { call_ = call; }
  [[nodiscard]] CallId call() const { return call_; }
  // True once an error was reported, or would have been but for an equal one.
  [[nodiscard]] bool failed() const { return failed_; }
  void fail() { failed_ = true; }
  // Whether the latest finding was the first of its kind at its place.
  [[nodiscard]] bool is_new() const { return is_new_; }

 private:
  static constexpr int kMaxCallsShown = 8;

  FindingSink& findings_;
  const std::vector<CallPlace>& calls_;
  CallId call_ = kNoCall;
  bool failed_ = false;
  bool is_new_ = false;
  std::set<std::tuple<const char*, FileId, std::uint32_t, std::uint32_t>> reported_;
  Finding discarded_;
};

}  // namespace rampart::resolving
