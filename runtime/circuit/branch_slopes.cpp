#include <algorithm>

#include "runtime/circuit/branch_network.h"

// The derivatives of the equations in branch_network.cpp. Differences of rates would not do: behind a few mOhm a
// current keeps half its digits in them, and steps that rely on it are off by as much.
namespace rampart::circuit {

BranchNetwork::PointSlopes BranchNetwork::point_slopes(Drive kind, const NetworkPoint& at, const double* state) const {
  const double wire = parts_.wire;
  const bool off = kind == Drive::Off;
  const double off_conductance = off && parts_.off_resistance ? 1 / *parts_.off_resistance : 0;
  PointSlopes result;
  result.port.assign(count_ + 1, 0.0);
  result.wire_current.assign(count_ + 1, 0.0);
  result.port_flow.assign(count_ + 1, 0.0);
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (parts_.branches[i]->state_count() == 0) continue;
    result.port_flow[offsets_[i]] = parts_.branches[i]->slopes(at.port, own(state, i)).flow_by_state;
  }
  const double conductance = flow(at.port, state).slope;
  const bool compensated = kind == Drive::SensedVoltage && compensates();
  const bool imposed = !compensated && (kind == Drive::SensedVoltage || (kind == Drive::Voltage && wire == 0));
  const bool through_wire = kind == Drive::WireCurrent;
  const bool behind_wire = !imposed && !through_wire && (kind == Drive::Voltage || terminal_index_);
  const bool by_drive = kind == Drive::Voltage || through_wire || compensated;
  const std::size_t source = by_drive ? count_ : terminal_index_.value_or(count_);
  const double back = behind_wire ? 1 / wire : off_conductance / (1 + off_conductance * wire);
  // What a unit of the voltage behind the wire, or of the imposed current, brings to the port.
  const double brought = behind_wire ? 1 / wire : off ? 0 : 1;
  if (imposed) {
    result.port[count_] = 1;
  } else if (port_index_) {
    result.port[*port_index_] = 1;
  } else if (conductance + back > 0) {
    for (std::size_t i = 0; i <= count_; ++i) result.port[i] = -result.port_flow[i] / (conductance + back);
    result.port[source] += brought / (conductance + back);
  }
  for (std::size_t i = 0; i <= count_; ++i) {
    result.port_flow[i] += conductance * result.port[i];
    result.wire_current[i] = (compensated ? result.port_flow[i] : 0) - back * result.port[i];
  }
  result.wire_current[source] += brought;
  return result;
}

void BranchNetwork::rate_slopes(const Imposed& imposed, const double* state, StateSlopes& slopes, double& guess) const {
  const Drive kind = imposed.kind;
  const std::size_t count = count_ + 1;
  slopes.reset(count);
  const NetworkPoint at = point(imposed, state, guess);
  const bool shorted = kind == Drive::OffShorted;
  PointSlopes by;
  if (!shorted) by = point_slopes(kind, at, state);
  if (!shorted) slopes.port = by.port;
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (parts_.branches[i]->state_count() == 0) continue;
    const Slopes own_slopes = parts_.branches[i]->slopes(at.port, own(state, i));
    slopes.own[offsets_[i]] = own_slopes.rate_by_state;
    slopes.by_port[offsets_[i]] = own_slopes.rate_by_volts;
  }
  const bool held = (kind == Drive::SensedVoltage && !compensates()) || (kind == Drive::Voltage && parts_.wire == 0);
  if (port_index_ && !held && !shorted) {
    const double capacitance = port_capacitance_ + (parts_.wire == 0 ? parts_.output_capacitance : 0);
    std::vector<double>& rate = slopes.add_row(*port_index_);
    for (std::size_t j = 0; j < count; ++j) rate[j] = (by.wire_current[j] - by.port_flow[j]) / capacitance;
  }
  if (!terminal_index_ || kind == Drive::SensedVoltage || kind == Drive::Voltage || kind == Drive::WireCurrent) return;
  const bool off = shorted || kind == Drive::Off;
  const double off_conductance = off && parts_.off_resistance ? 1 / *parts_.off_resistance : 0;
  std::vector<double>& rate = slopes.add_row(*terminal_index_);
  if (shorted) {
    rate[*terminal_index_] = -(off_conductance + 1 / parts_.wire) / parts_.output_capacitance;
    return;
  }
  for (std::size_t j = 0; j < count; ++j) rate[j] = -by.wire_current[j] / parts_.output_capacitance;
  rate[*terminal_index_] -= off_conductance / parts_.output_capacitance;
  if (!off) rate[count_] += 1 / parts_.output_capacitance;
}

}  // namespace rampart::circuit
