#include "compiler/profile/approach_words.h"

#include <cmath>

#include "lang/values/quantity.h"

namespace rampart {
namespace {

// What calculating leaves of 0.
constexpr double kNothing = 1e-12;

std::string quantity_words(const Profile& profile, const Term& term) {
  const std::string& rail = profile[term.rail].name;
  switch (term.signal) {
    case Signal::Voltage:
      return "`" + rail + "`";
    case Signal::Current:
      return "`current(" + rail + ")`";
    case Signal::Power:
      return "`power(" + rail + ")`";
    case Signal::Slew:
      return "`slew(" + rail + ")`";
  }
  return {};
}

}  // namespace

std::string approach_words(const Profile& profile, const LinearForm& form, double nearest) {
  const std::string unit = unit_text(form.unit);
  if (form.terms.size() != 1) return "it misses by at least " + to_text(-nearest, unit);
  const Term& term = form.terms.front();
  const double value = (nearest - form.constant.to_double()) / term.coefficient.to_double();
  const std::string shown = to_text(std::abs(value) < kNothing ? 0.0 : value, unit);
  const bool from_below = term.coefficient.sign() > 0;
  return quantity_words(profile, term) + (from_below ? " reaches at most " : " falls only to ") + shown;
}

}  // namespace rampart
