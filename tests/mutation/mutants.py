"""Small ways in which the program could be wrong, by the file that they change; mutate.py tries them.

A mutant has a name, a text that stands once in its file, what stands there instead, and the tests that should see it,
the likeliest first: `compiler_tests/shares_test` is tests/compiler/shares_test.cpp in its program, `golden/limits` the
goldens with `limits` in their path. `lives` says why no test can see one; `few` marks those that run with all tests.
"""
import dataclasses


@dataclasses.dataclass(frozen=True)
class Mutant:
    name: str
    old: str
    new: str
    seen_by: list
    lives: str = ""
    few: bool = False



SHARES = "compiler_tests/shares_test"
TABLE = "compiler_tests/table_test"
RULES = "compiler_tests/rules_test"
TOTAL_POWER = "compiler_tests/total_power_test"
LIST = "compiler_tests/list_test"
PRACTICE = "compiler_tests/practice_test"
SIGNALS = "compiler_tests/signals_test"
AUDIT = "runtime_tests/audit_test"
HEAT = "nonlinear_tests/heat_test"
MARGINS = "nonlinear_tests/margins_test"
REPEAT = "nonlinear_tests/repeat_test"
PULSES = "nonlinear_tests/pulses_test"
NONLINEAR = "nonlinear_tests/nonlinear_test"
SIMULATE = "simulation_tests/simulate_test"
OUTPUT = "simulation_tests/output_test"
SENSE = "simulation_tests/sense_test"
FAULT = "simulation_tests/fault_test"
DRIFT = "simulation_tests/drift_test"
SPREAD = "simulation_tests/spread_test"
SWITCH_DELAY = "simulation_tests/switch_delay_test"

MUTANTS = {
    # Checks.
    "compiler/checks/pace.cpp": [
        Mutant("a statement in a loop off the grid is told too", " || is_in_reported_loop(statement)) return;", ") return;",
               ["golden/limits/off_grid"]),
        Mutant("two passes that are alike are no finding", "if (alike <= 1 ||", "if (alike <= 2 ||",
               ["golden/limits/off_grid"]),
        Mutant("a ramp as steep as the slew is too steep", "if (excess.sign() <= 0) return;",
               "if (excess.sign() < 0) return;", ["golden/limits"]),
        Mutant("up and down of a slew are mixed up", "(up ? abilities.slew->up : abilities.slew->down)",
               "(up ? abilities.slew->down : abilities.slew->up)", ["golden/limits/slew"]),
        Mutant("ten stairs are too few", "stairs == 0 || stairs >= kFewestStairs", "stairs == 0 || stairs > kFewestStairs",
               ["golden/practice", "golden/limits"]),
    ],
    "compiler/checks/setpoints.cpp": [
        Mutant("what a setpoint is rounded to may leave the range", "std::max(value, set) - high", "value - high",
               [PRACTICE]),
        Mutant("a volt above the ceiling is let through", "const Rational highest = abs(ceiling->value.si);",
               "const Rational highest = abs(ceiling->value.si) + Rational(1);", ["golden/limits"]),
        Mutant("a limit that becomes none is let through", "return c.current == 0;", "return c.current < 0;",
               ["golden/limits", "golden/corners"]),
        Mutant("values that are rounded up are not told", "return abs(set - view.move.to);", "return view.move.to - set;",
               ["golden/limits/below_resolution", "golden/limits"]),
    ],
    "compiler/checks/people.cpp": [
        Mutant("61 V can be touched", "kTouchable{Rational(60)}", "kTouchable{Rational(61)}", ["golden/practice"]),
        Mutant("rails of both signs are judged each by itself", "plain.sign() == 0 || reversed.sign() == 0 || ",
               "plain.sign() != 0 || ", ["golden/practice"]),
        Mutant("somebody is there for nine hours", "std::chrono::hours(8)", "std::chrono::hours(9)", ["golden/practice"]),
        Mutant("two rails need no stop", "if (used < 2 ||", "if (used < 3 ||", ["golden/practice"]),
    ],
    "compiler/checks/power.cpp": [
        Mutant("an output may not give what it can", "peak.power <= abilities.power->value.si", "peak.power < abilities.power->value.si",
               ["golden/limits"]),
        Mutant("a supply's power is compared with twice as much", "if (peak.power <= supply.power->value.si) continue;",
               "if (peak.power <= supply.power->value.si * Rational(2)) continue;", [TOTAL_POWER], few=True),
    ],
    "compiler/checks/power_course.cpp": [
        Mutant("power is highest at an end of a ramp", "if (c.sign() >= 0) return best;", "if (c.sign() != 0) return best;",
               ["golden/limits"]),
        Mutant("each supply of a combination gives all of its power",
               "share = share + abilities[i].shares.of_power(member);", "share = Rational(1);", [TOTAL_POWER]),
        Mutant("resting rails are added again and again", "const Rational change = power - last_resting_[rail];",
               "const Rational change = power;", ["golden/limits", TOTAL_POWER]),
        Mutant("an output that is off takes part in the sum", "way.on ? product(way.to, way.to).a : Rational(0)",
               "product(way.to, way.to).a", [PRACTICE]),
    ],
    "compiler/checks/protection_practice.cpp": [
        Mutant("a threshold that is just met is far enough", "return reaches >= acts_at;", "return reaches > acts_at;",
               [PRACTICE]),
        Mutant("an error of the threshold raises it", "distance.threshold - error.at(", "distance.threshold + error.at(",
               ["golden/practice"]),
        Mutant("overpower at the highest power acts", "overpower->power.value.si < usage.highest_power",
               "overpower->power.value.si <= usage.highest_power", [PRACTICE]),
        Mutant("a fuse at the limit never acts", "fuse.current->value.si > usage.highest_limit",
               "fuse.current->value.si >= usage.highest_limit", [PRACTICE]),
        Mutant("a fuse as long as the run may act", "if (fuse.delay.value < duration) return;",
               "if (fuse.delay.value <= duration) return;", [PRACTICE]),
    ],
    "compiler/checks/switching.cpp": [
        Mutant("an output that is on is switched on again", "view.move.to.sign() > 0 && !view.before.on;",
               "view.move.to.sign() > 0;", [PRACTICE]),
        Mutant("a switch closes later after passes that are left out", "shift((clock_ - began) * skipped, began);",
               "shift((clock_ - began) * skipped, Nanoseconds{0});", [PRACTICE]),
        Mutant("a ramp is at its end when the switch closes", "if (left < move.length) {", "if (left > move.length) {",
               ["golden/practice"]),
        Mutant("the stop switches off what it switches on", "is_off[view.move.rail] = view.move.to.sign() == 0;",
               "is_off[view.move.rail] = true;", [PRACTICE]),
    ],
    "compiler/checks/rail_course.cpp": [
        Mutant("a straight supply jumps at once", "landing_ = now_ + minimum_step_;", "landing_ = now_ + minimum_step_ / 2;",
               [PRACTICE]),
    ],
    # Lowering: from the syntax tree to the timeline and its rows.
    "compiler/timeline/setpoints.cpp": [
        Mutant("a follower of a follower stays", "      shift_followers(track.follower, followed, length);\n", "", [TABLE],
               few=True),
        Mutant("steps by a value go the other way", "? level(motion.rail, motion.drive) + motion.value",
               "? level(motion.rail, motion.drive) - motion.value", [TABLE]),
        Mutant("a statement lasts as long as its last move", "block_.length = std::max(block_.length, length);",
               "block_.length = length;", [TABLE]),
    ],
    "compiler/timeline/loop_measure.cpp": [
        Mutant("all passes of a repeat for a time are as long as the first",
               "1 + static_cast<std::int64_t>((time - first_length) / later_length)",
               "static_cast<std::int64_t>(time / first_length)", [TABLE], few=True),
        Mutant("the first pass of a repeat for a time counts as a later one",
               "(time - first_length) / later_length", "(time - later_length) / later_length", [TABLE]),
        Mutant("a shifting loop shifts once more", "first.exit[i], loop.passes - 2)", "first.exit[i], loop.passes - 1)",
               [TABLE]),
        Mutant("a repeat lasts a pass longer", "append(loop.all, later, loop.passes - 1);",
               "append(loop.all, later, loop.passes);", [TABLE]),
    ],
    "compiler/timeline/cursor.cpp": [
        Mutant("parts of a branch all begin with it", "        item.start += part.start;\n", "", ["golden/statements", TABLE]),
        Mutant("a rail follows after its block", "    setpoints_.tracks.resize(frames_.back().tracks);\n", "",
               [TABLE]),
        Mutant("passes that are left out take no time", "now_ += last_pass_ * count;", "now_ += last_pass_ * (count - 1);",
               [TABLE]),
    ],
    # Table.
    "compiler/table/rail_motion.cpp": [
        Mutant("what changes nothing cuts a ramp", "!before.overflowed() && before == after", "false", [TABLE]),
        Mutant("a ramp runs to what it started from", "move.from + (move.to - move.from) * Rational",
               "move.to - (move.to - move.from) * Rational", [TABLE]),
    ],
    "compiler/table/stair_player.cpp": [
        Mutant("stairs are a step early", "Int128{stairs_.next} * length().count()", "Int128{stairs_.next - 1} * length().count()",
               [TABLE], few=True),
    ],
    "compiler/table/line_player.cpp": [
        Mutant("a jump lands at once", "on_grid(jump_->time) + output_.grid().minimum_step",
               "on_grid(jump_->time) + output_.grid().resolution", [TABLE]),
        Mutant("a jump before a ramp lands where that begins",
               "from.after.voltage + (to.voltage_before - from.after.voltage) * part", "from.after.voltage", [TABLE]),
        Mutant("two jumps at one instant are two", "jump_ && jump_->time == instant.time", "false", [TABLE]),
    ],
    "compiler/table/cursor.cpp": [
        Mutant("a row that changes nothing is given", "last && same(*last, row) && !entry.forced", "false", [TABLE]),
        Mutant("passes are alike when all grids fit at once", "own / std::gcd(unit, own)", "1", [TABLE, "golden/limits"]),
    ],
    "compiler/shares.cpp": [
        Mutant("one limit in series is rounded up", "series_ ? steps.floor()", "series_ ? -(-steps).floor()", [SHARES],
               few=True),
        Mutant("a leftover share goes beyond a member's range",
               "count = std::min(count, (scale.tops[member] / width).floor());", "static_cast<void>(member);", [SHARES]),
        Mutant("what a coarse member leaves over is lost", "due = due - times(given, group.width);", "due = Rational(0);",
               [SHARES]),
        Mutant("members share alike whatever their ranges", "arrangement ? top / all : Rational(1)",
               "arrangement ? Rational(1) / Rational(static_cast<std::int64_t>(tops.size())) : Rational(1)",
               [SHARES, TOTAL_POWER]),
        Mutant("a member never gets its share rounded up", "Int128 most = ceiling(share);", "Int128 most = share.floor();",
               [SHARES]),
    ],
    "compiler/switch_delay.cpp": [
        Mutant("a switch closes with the fastest member", "longest = std::max(longest, time_in(", "longest = std::min(longest, time_in(",
               [SWITCH_DELAY, RULES]),
        Mutant("the plain run takes the shortest delay", "return range.low + width / 2;", "return range.low;",
               [SWITCH_DELAY, RULES]),
        Mutant("passes are added beyond a closing", "std::floor(after.due->since(after.now) / length) - 1",
               "std::floor(after.due->since(after.now) / length) + 2", [SWITCH_DELAY]),
    ],
    # Exports.
    "compiler/export/decimal.cpp": [
        Mutant("negative numbers lose their sign", "  if (number < 0) digits[--at] = '-';\n", "", [SIGNALS]),
        Mutant("zeros before the point go too", "decimals > 0 && number % 10 == 0", "number != 0 && number % 10 == 0",
               ["golden/build"]),
    ],
    "compiler/export/list.cpp": [
        Mutant("a ceiling in series is a count too low", "return std::max(abs(ceiling.si) * abilities.share_of_voltage(channel),",
               "return std::min(abs(ceiling.si) * abilities.share_of_voltage(channel),", ["golden/build", LIST]),
        Mutant("a value that stands for all is not written out", "i < list.points.size() && !all_equal", "i < list.points.size() && all_equal",
               [LIST]),
    ],
    "compiler/export/list_fold.cpp": [
        Mutant("a list may not be played as often as it can", "count_ / period > passes", "count_ / period >= passes", [LIST]),
        Mutant("a straight run leads from the end to the start", "return !runs_straight_ ||", "return true ||", [LIST]),
    ],
    "compiler/export/list_plan.cpp": [
        Mutant("stairs are left out below the error alone", "std::abs(row.voltage - point_.voltage) <= *error_",
               "std::abs(row.voltage - point_.voltage) < *error_", [LIST]),
        Mutant("an output may go off before the end of a list", "first_off && first_off->time != end->time", "false", [LIST]),
        Mutant("a straight list never arrives", "if (runs_straight) maker.arrive(timing.minimum_step);",
               "static_cast<void>(runs_straight);", [LIST]),
    ],
    "compiler/export/spice.cpp": [
        Mutant("an edge is wider than the time to the next", "edge = std::min(edge, (*next - one.time).count() * kPicoseconds / 2)",
               "edge = std::max(edge, (*next - one.time).count() * kPicoseconds / 2)", ["golden/build"]),
        Mutant("a ramp goes on through a wait", "const bool runs = runs_straight() && !has_waited_;",
               "const bool runs = runs_straight();", [SIGNALS]),
    ],
    "compiler/export/vcd.cpp": [
        Mutant("the time scale is that of the last instant", "divisor_ = std::gcd(divisor_, time.count());",
               "if (time.count() != 0) divisor_ = time.count();", [SIGNALS]),
    ],
    "compiler/export/rail_values.cpp": [
        Mutant("a reversed rail is shown as its channel", "value.is_reversed ? -sum : sum", "sum", [SIGNALS]),
        Mutant("a wait takes no time in a course", "start_ += *end.await->assume;", "start_ += Nanoseconds{0};",
               [SIGNALS]),
        Mutant("voltages in series are the last member's", "setup->arrangement == Arrangement::Series, &Member::voltage",
               "setup->arrangement == Arrangement::Parallel, &Member::voltage", [SIGNALS]),
    ],
    # Rules.
    "compiler/rules/rule_plan.cpp": [
        Mutant("errors in series count by the largest",
               "      whole->fraction = whole->fraction + part->fraction * shares.of_voltage(i);\n"
               "      whole->offset = whole->offset + part->offset;\n",
               "      take_larger(*whole, *part);\n", [RULES]),
    ],
    "compiler/rules/time_monitors.cpp": [
        Mutant("skew brings an order nearer", "by_ + allowance(at_worst)", "by_ - allowance(at_worst)", [RULES]),
        Mutant("an answer is judged by its last call", "if (calls && !follow.open) follow.open = turn.at;",
               "if (calls) follow.open = turn.at;", [RULES]),
    ],
    # Protections.
    "runtime/protection.cpp": [
        Mutant("overvoltage acts at its threshold", "*overvoltage_ * (1 + kStrictly) + 2 * noise",
               "*overvoltage_ * (1 - kStrictly) - 2 * noise", [SIMULATE]),
        Mutant("overpower is told before overvoltage",
               "  if (over_voltage_) return TripCause::Overvoltage;\n"
               "  if (overpower_ && overpower_->due(now)) return TripCause::Overpower;\n",
               "  if (overpower_ && overpower_->due(now)) return TripCause::Overpower;\n"
               "  if (over_voltage_) return TripCause::Overvoltage;\n", [SIMULATE]),
        Mutant("the fuse is told before overpower",
               "  if (overpower_ && overpower_->due(now)) return TripCause::Overpower;\n"
               "  if (fuse_ && fuse_->due(now)) return TripCause::Fuse;\n",
               "  if (fuse_ && fuse_->due(now)) return TripCause::Fuse;\n"
               "  if (overpower_ && overpower_->due(now)) return TripCause::Overpower;\n", [SIMULATE]),
        Mutant("a clamped coil does not blow the fuse", " || mode == Mode::Clamped", "",
               [SIMULATE]),
        Mutant("a condition that ends as the delay does trips", "if (left < quiet - same_time(trip->delay()))",
               "if (left <= quiet + same_time(trip->delay()))", [SIMULATE]),
        Mutant("overpower watches the terminals' current",
               "std::make_unique<ProductCurve>(piece.terminal_voltage, piece.regulator_current, 1, level)",
               "std::make_unique<ProductCurve>(piece.terminal_voltage, piece.terminal_current, 1, level)",
               [OUTPUT, "simulation_tests/reference_test", "golden/simulate"]),
        Mutant("a fuse goes on counting while the output is off", "    clear(now, doing);\n    return;", "    return;",
               [SIMULATE]),
    ],
    "runtime/rail_run.cpp": [
        Mutant("overtemperature is told before the fuse",
               "if (const std::optional<TripCause> cause = protection_.acts(now)) return cause;",
               "if (const std::optional<TripCause> cause = protection_.acts(now)) {\n"
               "    for (const OutputHeat& heat : heat_) {\n"
               "      if (heat.too_hot()) return TripCause::Overtemperature;\n"
               "    }\n"
               "    return cause;\n"
               "  }", [SIMULATE]),
    ],
    "runtime/player.cpp": [
        Mutant("any trip takes linked rails along", "if (!protection.fuse || cause != TripCause::Fuse) return;",
               "if (!protection.fuse) return;", [FAULT, SIMULATE, "golden/simulate"]),
        Mutant("a trip leads nowhere", "if (!rails_[other]->tripped()) trip(other, TripCause::Linked);",
               "static_cast<void>(other);", [FAULT, SIMULATE]),
    ],
    "runtime/deviation.cpp": [
        Mutant("an error takes a setting below zero", "std::clamp(set * error.fraction + error.offset, -most, most)",
               "std::clamp(set * error.fraction + error.offset, -2 * most - 1, 2 * most + 1)", [SPREAD]),
    ],
    # Margins and figures.
    "runtime/limit_room.cpp": [
        Mutant("a limit on its way counts as where it began", "setting.limit + rise * found->time;", "setting.limit;", [MARGINS]),
    ],
    "runtime/margin_findings.cpp": [
        Mutant("three percent are thin", "kThinShare = 0.02", "kThinShare = 0.03", [MARGINS]),
        Mutant("a limit that is just touched is exceeded", "margin.margin < -kNothing * margin.limit", "margin.margin <= 0",
               [MARGINS, "golden/simulate"]),
    ],
    "runtime/settling.cpp": [
        Mutant("at 0 V nothing may be left", "setpoint == 0 ? std::max(off, kChargedVolts) : setpoint + off", "setpoint + off",
               [MARGINS]),
        Mutant("the most time to settle is told", "share(spare) < share(*least_)", "share(spare) > share(*least_)", [MARGINS]),
    ],
    "runtime/rail_run_figures.cpp": [
        Mutant("a balance has no error", "balance.relative_error = std::abs(rest) / std::max(given, kLeastEnergy);",
               "balance.relative_error = 0 * std::abs(rest) / std::max(given, kLeastEnergy);", [NONLINEAR]),
        Mutant("what was stored at the start counts as stored by the run", "figures.stored_J - stored_at_start_", "figures.stored_J",
               [SIMULATE, FAULT, "simulation_tests/simulation_property_test"]),
    ],
    "runtime/rail_run_watch.cpp": [
        Mutant("a lack of headroom is told at its start", "setpoint - piece.port_voltage.value(1),", "setpoint - piece.port_voltage.value(0),",
               [MARGINS]),
    ],
    "runtime/total_power.cpp": [
        Mutant("each supply of a rail gives all of its power", "if (is_its) share +=", "share +=", [MARGINS]),
        Mutant("a supply gives what its output capacitance gives",
               "shares.empty() ? piece.terminal_current : piece.regulator_current", "piece.terminal_current",
               [MARGINS]),
    ],
    "runtime/output_traits.cpp": [
        Mutant("sinks in series add", "whole.sink = std::min(whole.sink, part.sink);", "whole.sink += part.sink;",
               [OUTPUT]),
        Mutant("capacitances in series add", "both ? 1 / (1 / whole.capacitance + 1 / part.capacitance) : 0",
               "both ? whole.capacitance + part.capacitance : 0", [OUTPUT]),
        Mutant("off resistances in parallel add", "1 / (1 / *whole.off_resistance + 1 / *part.off_resistance)",
               "*whole.off_resistance + *part.off_resistance", [OUTPUT]),
    ],
    "runtime/stored_charge.cpp": [
        Mutant("a bleeder leaves the output capacitance charged", "StoredCharge result{{}, output, circuit.terminal_voltage()};",
               "StoredCharge result{{}, output, circuit.terminal_voltage()};\n  result.output.capacitance = 0;", [MARGINS]),
    ],
    "runtime/slewed_voltage.cpp": [
        Mutant("a pair in parallel is as slow as its slowest", "} else if (leads(next, result)) {",
               "} else if (!leads(next, result)) {", [OUTPUT]),
    ],
    "runtime/circuit/network.cpp": [
        Mutant("an output capacitance takes tenfold", "parts_.output_capacitance * rate;", "10 * parts_.output_capacitance * rate;",
               [SENSE]),
    ],
    "runtime/fuse_delays.cpp": [
        Mutant("the longest delay is rounded up", "std::floor(time / step + kRounding) * step", "std::ceil(time / step - kRounding) * step",
               [MARGINS]),
        Mutant("a member heats with the current of all", "share * current;", "current;", [MARGINS]),
        Mutant("overpower acts on what it lets through", "overload.power_W > protection.overpower->power.value.to_double()",
               "overload.power_W < protection.overpower->power.value.to_double()", [MARGINS]),
    ],
    # Heat.
    "runtime/heat.cpp": [
        Mutant("a member in parallel heats with all of the current",
               "parallel ? channel.limits.current.value.high.to_double() / amps : 1", "1", [HEAT]),
        Mutant("a member in series heats with all of the voltage",
               "series ? channel.limits.voltage.value.high.to_double() / volts : 1", "1", [HEAT]),
        Mutant("passes warm once less", "std::expm1(-memory * static_cast<double>(times))", "std::expm1(-memory * static_cast<double>(times - 1))",
               [HEAT]),
        Mutant("passes are added up to twice the limit", "limit_ * (1 - kRoom) - hottest_.value", "2 * limit_ * (1 - kRoom) - hottest_.value",
               [HEAT]),
    ],
    # Spread.
    "runtime/spread/tolerances.cpp": [
        Mutant("offsets of thresholds in series count by the largest",
               "arrangement == Arrangement::Series ? a.offset + b.offset : std::max(a.offset, b.offset)",
               "std::max(a.offset, b.offset) + (arrangement ? 0 : 0)", [SPREAD]),
        Mutant("each channel in parallel has its error of voltage", "limits.voltage_accuracy && (member == 0 || setup.arrangement == Arrangement::Series)",
               "limits.voltage_accuracy", [SPREAD]),
        Mutant("what may be low is as low as it may be high", "value.nominal + position * (value.nominal - value.low)",
               "value.nominal + position * (value.high - value.nominal)", [SPREAD]),
        Mutant("a fuse is off by the sum of its members", "if (able.fuse_delay_accuracy) delay = joined(delay, error_from(*able.fuse_delay_accuracy), std::nullopt);",
               "if (able.fuse_delay_accuracy) delay = joined(delay, error_from(*able.fuse_delay_accuracy), Arrangement::Series);", [SPREAD]),
    ],
    "runtime/spread/corners.cpp": [
        Mutant("corners are counted with the single ends", "for (std::size_t i = singles_; i < outcomes_.size(); ++i) result_.failing",
               "for (std::size_t i = 0; i < outcomes_.size(); ++i) result_.failing", [SPREAD]),
        Mutant("the last corner is left out", "bits < (std::size_t{1} << count)", "bits + 1 < (std::size_t{1} << count)", [SPREAD]),
        Mutant("what makes no difference is named", "if (same(low, nominal) && same(high, nominal)) fewer[i] = 0;",
               "static_cast<void>(low + high + nominal);", [SPREAD, "golden/corners"]),
    ],
    "runtime/spread/sample.cpp": [
        Mutant("quantiles are those below", "sorted[below] + (place - std::floor(place)) *", "sorted[below] + 0 *", [SPREAD]),
        Mutant("an interval leaves out twice as much", "find_lower_bound_on_p(trials, successes, kOutside / 2)",
               "find_lower_bound_on_p(trials, successes, kOutside)", [SPREAD]),
        Mutant("values are drawn from one side alone", "position = 2 * even(random) - 1;", "position = even(random);", [SPREAD]),
    ],
    # Folding.
    "runtime/fold.cpp": [
        Mutant("passes in different modes are alike", "if (a.rest != b.rest || ", "if (", [SIMULATE, REPEAT, SWITCH_DELAY], lives="known loads in two modes differ in a voltage, a current or a timer too"),
        Mutant("a limit that lasts longer each pass is alike", "return b.limited_for >= between ||", "return b.limited_for >= 0 ||",
               [SIMULATE, "simulation_tests/simulation_property_test", "golden/simulate"]),
        Mutant("a pass too few is added up", "rails[i]->sums().repeat_since(before.sums[i], static_cast<double>(times));",
               "rails[i]->sums().repeat_since(before.sums[i], static_cast<double>(times - 1));", [SIMULATE]),
        Mutant("added passes do not age the rules", "  rules.shift(added, before.time);\n  return added;", "  return added;",
               [SWITCH_DELAY, "simulation_tests/simulated_rules_test"]),
        Mutant("added passes do not warm", "    rails[i]->repeat_heat(before.rails[i], after.time.since(before.time), times);\n", "",
               [HEAT]),
    ],
    "runtime/player_passes.cpp": [
        Mutant("passes are added beyond a fault", "std::floor(next->since(now_) / length) - 1", "std::floor(next->since(now_) / length) + 1",
               [FAULT]),
        Mutant("the clock of a segment moves twice", "if (new_segments) base_ = base_.plus(added);", "base_ = base_.plus(added);",
               [SIMULATE]),
        Mutant("an inner loop is alike in all passes of the outer", "known->second.outer != state.outer || ", "", [SIMULATE, REPEAT], lives="passes are counted from 1 in each pass of the outer loop, which tells too"),
    ],
    "runtime/player_pulses.cpp": [
        Mutant("periods are added past the next row", "target.since(now_) / length) - 1;", "target.since(now_) / length) + 1;", [PULSES]),
    ],
    # Drift.
    "runtime/drift.cpp": [
        Mutant("squares of two stretches lose their product", "2 * a.distance * kept * b.sum", "a.distance * kept * b.sum", [DRIFT]),
        Mutant("the middle weighs half", "middle(4 * (sum - squares))", "middle(2 * (sum - squares))", [DRIFT]),
        Mutant("steps do not fade", "result.distance = a.distance + kept * b.distance;", "result.distance = a.distance + b.distance;",
               [DRIFT]),
        Mutant("a drift is as exact as one pass", "4 * (std::max(off_, noise) * sums_.distance", "4 * (std::max(off_, noise)",
               [DRIFT], lives="known maps fit to rounding, which stays below the least error that is told over all passes"),
        Mutant("passes that go another way count as alike", "return ways == other.ways &&", "return", [DRIFT, "simulation_tests/simulation_property_test"]),
        Mutant("peaks in between are not looked at",
               "if (pass->peaks[i] > std::max(first_->peaks[i], last_->peaks[i]) * (1 + 1e-9)) return false;",
               "static_cast<void>(pass);", [DRIFT], lives="no load is known whose peaks are higher between two passes that go through the same steps"),
    ],
    # Audit.
    "runtime/audit/auditor.cpp": [
        Mutant("a segment may last ten steps longer", "abs(end - *duration) > slack", "abs(end - *duration) > slack * Rational(10)",
               [AUDIT], few=True),
        Mutant("a change after just the minimum step is too soon", "since < to_seconds(supply.timing.minimum_step)",
               "since <= to_seconds(supply.timing.minimum_step)", [AUDIT]),
        Mutant("outputs that are off take part in the power", "if (state.seen && state.output) sum", "if (state.seen) sum", [AUDIT]),
        Mutant("rows may lie off the grid", "if ((row.time / resolution).is_whole()) return;", "if (resolution.sign() > 0) return;",
               [AUDIT]),
        Mutant("members in series stand each by themselves", "watch.in_series ? voltage + abs(state.voltage)",
               "watch.in_series ? abs(state.voltage)", [AUDIT]),
        Mutant("an output may be on without a limit", "row.current->sign() == 0 && row.output == true", "row.current->sign() < 0",
               [AUDIT]),
        Mutant("rows of one instant come in any order", "row.time == last_time_ && order >= last_order_", "row.time == last_time_",
               [AUDIT]),
    ],
    "runtime/audit/recorded_setup.cpp": [
        Mutant("a setting may lie between steps", "abs(steps - Rational::fraction(steps.rounded(), 1)) <= kSlack",
               "abs(steps - Rational::fraction(steps.rounded(), 1)) <= Rational(1)", [AUDIT]),
    ],
    # Diff.
    "runtime/diff/segment_player.cpp": [
        Mutant("a straight run is where it leads", "if (row.until <= row.time || from == to) return from;",
               "if (row.until <= row.time || from == to) return from;\n  return to;", ["cli/diff_test"]),
    ],
    "runtime/diff/table_difference.cpp": [
        Mutant("passes that are left out differ in nothing", "result_.total += passes * (result_.total - total);", "result_.total = total;",
               ["golden/diff"]),
        Mutant("the first difference is the largest", "if (size > open_->largest) {", "if (open_->largest.sign() == 0) {",
               ["golden/diff"]),
        Mutant("what differs through a wait is not told", "if (!differed_ || waits) {", "if (!differed_) {", ["cli/diff_test"]),
        Mutant("a stretch in passes is in one", "stretch.passes += passes;", "stretch.passes += 0 * passes;", ["golden/diff"]),
    ],
    "runtime/diff/wait_comparison.cpp": [
        Mutant("all lines are one", "line->high == other.high &&", "line->high == other.high ||", ["cli/diff_test"]),
        Mutant("what a condition compares with does not matter", "before.constant == after.constant &&", "", ["cli/diff_test"]),
    ],
    "runtime/diff/profile_difference.cpp": [
        Mutant("a rail by another name has other findings", "(name != names.end() ? name->second : quoted)", "quoted", ["cli/diff_test"]),
        Mutant("what differs by rounding is told", "std::abs(margin.margin) < kNoMargin * std::abs(margin.limit) ? 0.0 : margin.margin",
               "margin.margin", ["cli/diff_test"]),
        Mutant("a line for other rails has its old role", "if (same_rails && old_line.is_output", "if (old_line.is_output", ["cli/diff_test"]),
    ],
}
