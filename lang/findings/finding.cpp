#include "lang/findings/finding.h"

#include <algorithm>
#include <tuple>

#include "lang/findings/practice.h"

namespace rampart {

std::string_view severity_name(Severity severity) {
  switch (severity) {
    case Severity::Note:
      return "note";
    case Severity::Warning:
      return "warning";
    case Severity::Error:
      return "error";
  }
  return "";
}

std::span<const Wording> finding_registry() {
  static constexpr Wording kRows[] = {
#define RAMPART_FINDING(identifier, name, severity, family, words, ...) \
  {name, Severity::severity, Family::family, words},
#define RAMPART_NOTE(identifier, words, ...)
#include "lang/findings/all.def"
#undef RAMPART_FINDING
#undef RAMPART_NOTE
  };
  return kRows;
}

std::string fill_words(std::string_view words, std::span<const std::string> arguments) {
  std::string text;
  std::size_t next = 0;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] == '{' && i + 1 < words.size() && words[i + 1] == '}') {
      text += arguments[next++];
      ++i;
    } else {
      text += words[i];
    }
  }
  return text;
}

const std::vector<Finding>& FindingSink::findings() const {
  const auto key = [this](const Finding& finding) {
    const Span& span = finding.span;
    // Those of texts that nobody added come last, by the order of their making.
    return std::tuple(finding.family, texts_.place_of(span.file), span.file, span.begin, span.end, finding.name);
  };
  if (!in_order_) {
    std::stable_sort(findings_.begin(), findings_.end(),
                     [&](const Finding& left, const Finding& right) { return key(left) < key(right); });
  }
  in_order_ = true;
  return findings_;
}

bool FindingSink::has(const Wording& wording) const {
  return std::any_of(findings_.begin(), findings_.end(),
                     [&](const Finding& finding) { return finding.name == wording.name; });
}

std::vector<Finding> FindingSink::take() {
  std::vector<Finding> taken = findings();
  findings_.clear();
  errors_ = 0;
  return taken;
}

FindingSink::Addition FindingSink::add(const Wording& wording, const Span& span, std::vector<std::string> arguments) {
  if (wording.severity == Severity::Error) ++errors_;
  in_order_ = false;
  findings_.push_back(
      {wording.name, wording.severity, wording.family, span, fill_words(wording.words, arguments), {}, {}, {}, {}});
  return Addition(&findings_.back(), this);
}

void FindingSink::append(std::vector<Finding> findings) {
  in_order_ = false;
  for (Finding& finding : findings) {
    if (finding.severity == Severity::Error) ++errors_;
    findings_.push_back(std::move(finding));
  }
}

FindingSink::Addition& FindingSink::Addition::add_note(const Wording& wording, const Span& span,
                                                       std::vector<std::string> arguments) {
  finding_->notes.push_back({span, fill_words(wording.words, arguments)});
  return *this;
}

FindingSink::Addition& FindingSink::Addition::hint(std::string text) {
  finding_->hint = std::move(text);
  return *this;
}

FindingSink::Addition& FindingSink::Addition::hint(std::string text, std::string_view instead) {
  finding_->instead = std::string(instead);
  return hint(std::move(text));
}

FindingSink::Addition& FindingSink::Addition::hint_name(std::string_view name) {
  return hint("did you mean `" + std::string(name) + "`?", name);
}

FindingSink::Addition& FindingSink::Addition::accept(const Span& span, std::string_view reason) {
  if (sink_ != nullptr && finding_->severity == Severity::Error) --sink_->errors_;
  finding_->severity = Severity::Note;
  finding_->accepted = std::string(reason);
  return note(finding::AcceptedHere, span, reason);
}

namespace {

// Letters to change, insert, leave out or swap with their neighbour.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before(b.size() + 1);
  std::vector<std::size_t> above(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::swap(before, above);
    std::swap(above, row);
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t substituted = above[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      row[j] = std::min({above[j] + 1, row[j - 1] + 1, substituted});
      const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
      if (swapped) row[j] = std::min(row[j], before[j - 2] + 1);
    }
  }
  return row[b.size()];
}

}  // namespace

std::string nearest_name(std::string_view word, std::span<const std::string> candidates) {
  constexpr std::size_t kLongestCompared = 64;
  std::string best;
  std::size_t best_distance = std::max<std::size_t>(1, word.size() / 3) + 1;
  if (word.size() > kLongestCompared) return best;
  for (const std::string& candidate : candidates) {
    if (candidate.size() > kLongestCompared) continue;
    // With one of two letters changed nothing is left that could have been meant.
    const bool is_other = word.size() <= 2 && candidate.size() == word.size() &&
                          !std::is_permutation(word.begin(), word.end(), candidate.begin());
    if (is_other) continue;
    const std::size_t distance = edit_distance(word, candidate);
    if (distance < best_distance) {
      best = candidate;
      best_distance = distance;
    }
  }
  return best;
}

}  // namespace rampart
