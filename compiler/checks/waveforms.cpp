#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/timeline.h"

// The first point of a waveform says where the rail stands; only the timeline knows whether it does.
namespace rampart::checks {

void check_waveform_start(const Context& context) {
  WorstOccurrences worst;
  for (const Table* table : context.tables()) {
    walk_moves(table->timeline(), [&](const MoveView& view) {
      const Motion* motion =
          view.move.kind == MoveKind::Voltage ? motion_of(*view.move.statement, view.move.rail) : nullptr;
      if (motion == nullptr || !motion->stands || motion->stands->value.si == view.move.from) return;
      worst.meet({view.move.rail, motion->stands->span, view.move.statement, view.pass, view.move.from,
                  abs(view.move.from - motion->stands->value.si)});
    });
  }
  worst.report([&](const Occurrence& found) {
    const Volts begins = motion_of(*found.statement, found.rail)->stands->value;
    const Volts stands{found.value};
    const std::string& name = context.profile[found.rail].name;
    context.report(finding::WaveformStart, found.place, found.statement, name, begins, stands, pass_text(found.pass))
        .hint(found.pass > 1
                  ? "the previous pass ended there: end each pass at " + to_text(begins)
                  : "bring the rail to " + to_text(begins) + " first, or begin the waveform at " + to_text(stands));
  });
}

}  // namespace rampart::checks
