#pragma once

#include <vector>

#include "compiler/export/list_plan.h"
#include "compiler/export/text_sink.h"

namespace rampart {

// Messages are no longer than this, the line end included, except a list: the standard takes it in one command.
inline constexpr std::size_t kMessageBytes = 255;

// Writes the program messages that make one supply play its lists, one a line: SCPI-1999 subsystems OUTPut, SOURce
// (with LIST, MODE, PROTection, LIMit), TRIGger and INITiate, numbers after IEEE 488.2 (NR1, NR2). Channels are
// numbered as the bench lists them. Protection that the standard has no words for, delays and links, is not in it.
// `lists` are those of plan_lists; those of other supplies are left out.
void write_list(const Table& run, const std::vector<ChannelList>& lists, SupplyId supply, TextSink& sink);

}  // namespace rampart
