#include <map>

#include "compiler/resolve/work.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "lang/text/overloaded.h"

// Protect blocks.
namespace rampart::resolving {
namespace {

class Protecting {
 public:
  explicit Protecting(Work& work) : work_(work), frame_(work.top()) {}

  void block(const ast::Protect& protect, const Span& span) {
    // Being protected is no use of a rail: one that nothing drives is still reported.
    const auto definition = work_.scopes.main().names.find(protect.rail.text);
    const bool was_used = definition == work_.scopes.main().names.end() || definition->second->used;
    const std::optional<RailId> rail = work_.evaluator.rail(protect.rail, frame_);
    if (!was_used) definition->second->used = false;
    // What stands in a block of no rail is looked over all the same.
    Protection nowhere;
    Protection& protection = rail && is_first_block(*rail, protect)
                                 ? work_.profile.rails[static_cast<std::size_t>(*rail)].protection
                                 : nowhere;
    rail_ = rail;
    protection.span = span;
    settings_.clear();
    for (const ast::ProtectSetting& setting : protect.settings) {
      span_ = setting.span;
      std::visit([&](const auto& what) { set(what, protection); }, setting.what);
    }
  }

 private:
  bool is_first_block(RailId rail, const ast::Protect& protect) {
    const auto [place, is_new] = blocks_.try_emplace(rail, protect.rail.span);
    if (is_new) return true;
    work_.reporter.report(finding::ProtectedTwice, protect.rail.span, protect.rail.text)
        .note(finding::FirstDefinedHere, place->second)
        .hint("one `protect` block a rail: move these settings there");
    return false;
  }

  void set(const ast::CeilingSetting& ceiling, Protection& protection) {
    if (!is_first(protection.ceiling.has_value(), "ceiling")) return;
    if (const auto volts = voltage(ceiling.voltage)) {
      protection.ceiling = Placed<Volts>{Volts{*volts}, ceiling.voltage.span()};
    }
  }

  void set(const ast::OvervoltageSetting& overvoltage, Protection& protection) {
    if (!is_first(protection.overvoltage.has_value(), "overvoltage")) return;
    if (const auto volts = voltage(overvoltage.voltage)) {
      protection.overvoltage = Placed<Volts>{Volts{*volts}, overvoltage.voltage.span()};
    }
  }

  void set(const ast::FuseSetting& setting, Protection& protection) {
    if (!is_first(protection.fuse.has_value(), "fuse")) return;
    Fuse fuse;
    fuse.span = span_;
    const auto delay = work_.evaluator.nonnegative_time(setting.delay, frame_);
    if (setting.current) {
      const auto amps = positive(*setting.current, dimension::kCurrent);
      if (amps) fuse.current = Placed<Amps>{Amps{*amps}, setting.current->span()};
    }
    std::vector<std::pair<RailId, Span>> linked;
    for (const ast::Name& name : setting.linked) link(name, fuse, linked);
    if (!delay) return;
    fuse.delay = {*delay, setting.delay.span()};
    protection.fuse = std::move(fuse);
  }

  void link(const ast::Name& name, Fuse& fuse, std::vector<std::pair<RailId, Span>>& linked) {
    const std::optional<RailId> other = work_.evaluator.rail(name, frame_);
    if (!other) return;
    if (other == rail_) {
      work_.reporter.report(finding::LinkedWithItself, name.span, name.text)
          .hint("name the rails that switch off with it");
      return;
    }
    if (is_new_rail(work_, name, *other, linked)) fuse.linked.push_back(*other);
  }

  void set(const ast::OverpowerSetting& setting, Protection& protection) {
    if (!is_first(protection.overpower.has_value(), "overpower")) return;
    const auto power = positive(setting.power, dimension::kPower);
    Placed<Nanoseconds> delay{Nanoseconds{0}, setting.power.span()};
    if (setting.delay) {
      const auto time = work_.evaluator.nonnegative_time(*setting.delay, frame_);
      if (!time) return;
      delay = {*time, setting.delay->span()};
    }
    if (power) protection.overpower = Overpower{{Watts{*power}, setting.power.span()}, delay, span_};
  }

  // A voltage of a rail, which stands below 0 V only where it is reversed; there the sign may be left out.
  std::optional<Rational> voltage(const ast::Expression& expression) {
    const std::optional<Rational> value = work_.evaluator.quantity(expression, frame_, dimension::kVoltage);
    const bool reversed = !rail_ || work_.profile[*rail_].reversed;
    if (!value || value->sign() >= 0 || reversed) return value;
    work_.reporter.report(finding::NegativeProtection, expression.span(), Volts{*value}, work_.profile[*rail_].name)
        .hint("write " + to_text(Volts{-*value}) + ", or declare the rail `reversed` if it is negative");
    return std::nullopt;
  }

  std::optional<Rational> positive(const ast::Expression& expression, Dimension wanted) {
    const std::optional<Rational> value = work_.evaluator.quantity(expression, frame_, wanted);
    if (!value || value->sign() > 0) return value;
    work_.reporter.report(finding::NotPositive, expression.span(), Quantity{*value, wanted});
    return std::nullopt;
  }

  bool is_first(bool already, std::string_view what) {
    Span& first = settings_[what];
    if (already) {
      work_.reporter.report(finding::DuplicateName, span_, what)
          .note(finding::FirstDefinedHere, first)
          .hint("keep one of them");
      return false;
    }
    first = span_;
    return true;
  }

  Work& work_;
  const Frame frame_;
  std::optional<RailId> rail_;  // the one of this block
  Span span_;
  std::map<RailId, Span> blocks_;
  std::map<std::string_view, Span> settings_;  // of this block
};

}  // namespace

void resolve_protection(Work& work) {
  Protecting protecting(work);
  for (const ast::Declaration& declaration : work.file.declarations) {
    if (const auto* protect = std::get_if<ast::Protect>(&declaration.what)) {
      protecting.block(*protect, declaration.span);
    }
  }
}

}  // namespace rampart::resolving
