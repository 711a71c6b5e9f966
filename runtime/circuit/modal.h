#pragma once

#include <memory>
#include <vector>

#include "runtime/circuit/network.h"
#include "runtime/circuit/signal.h"

// The exact course of a linear network under one drive.
namespace rampart::circuit {

// The courses of the modes while they are made.
struct ModeCourses {
  // How a mode decays: the weights of its pole's functions.
  struct Decay {
    std::size_t mode = 0;
    std::size_t pole = 0;
    double cosine = 0;
    double sine = 0;
  };
  std::vector<double> start;                     // what the modes are at
  std::vector<std::vector<double>> polynomials;  // a row a mode
  std::vector<Basis::Pole> poles;
  std::vector<Decay> decays;
  std::vector<double> weights;  // of the basis, a row a mode
  std::size_t degree = 1;
};

// What every part does from now on for `length` seconds; signals run from 0 to 1 over it.
struct Piece {
  // Makes it end at a share of its length: the same courses.
  void shorten(double share);
  // Makes `part` what the terminals and the port do from `from` on for a `share` of its time.
  void make_part(double from, double share, Piece& part) const;

  double length = 0;
  Basis basis;
  std::vector<Signal> states;
  Signal terminal_voltage;
  Signal terminal_current;
  Signal regulator_current;
  Signal port_voltage;
  Signal port_current;
  Signal drive;
  ModeCourses modes;  // room to work in
};

// The value imposed at the start of a piece and its slope a second.
struct Driving {
  double value = 0;
  double slope = 0;
};

// The network's equations under one drive in their eigenbasis: there each mode goes its own way as p + q t + r
// exp(-kt).
//
// Where every mode is fast against the piece, quantities are split into what follows the drive and what is left of the
// past, so that nothing cancels. Modes that hardly move within a piece are given by their series.
class Propagator {
 public:
  Propagator(const Network& network, Drive drive);
  ~Propagator();
  Propagator(Propagator&&) noexcept;
  Propagator& operator=(Propagator&&) noexcept;

  // Fills `piece` for the given length. `piece` must stay in place as long as its signals are used.
  void solve(const std::vector<double>& state, const Driving& driving, double length, Piece& piece) const;
  // Makes a piece that it has filled end at a share of its length.
  void shorten(const std::vector<double>& state, const Driving& driving, double share, Piece& piece) const;

 private:
  struct Work;
  std::unique_ptr<Work> work_;
};

}  // namespace rampart::circuit
