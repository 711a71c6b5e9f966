#pragma once

namespace rampart {

// A row for each change of a channel, or one row an instant with all channels side by side.
enum class RowForm { Changes, Instants };

}  // namespace rampart
