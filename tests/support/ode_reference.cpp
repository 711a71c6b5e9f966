#include "tests/support/ode_reference.h"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <stdexcept>

namespace rampart::test {

struct OdeReference::Solver {
  const Rates* rates;
  const Roots* roots;
  std::size_t root_count;
  Values state;
  Values result;

  static int rate_function(realtype t, N_Vector y, N_Vector rate, void* data) {
    auto& self = *static_cast<Solver*>(data);
    const double* from = N_VGetArrayPointer(y);
    self.state.assign(from, from + self.state.size());
    self.result.assign(self.state.size(), 0.0);
    (*self.rates)(t, self.state, self.result);
    std::copy(self.result.begin(), self.result.end(), N_VGetArrayPointer(rate));
    return 0;
  }
  static int root_function(realtype t, N_Vector y, realtype* values, void* data) {
    auto& self = *static_cast<Solver*>(data);
    const double* from = N_VGetArrayPointer(y);
    self.state.assign(from, from + self.state.size());
    self.result.assign(self.root_count, 0.0);
    (*self.roots)(t, self.state, self.result);
    std::copy(self.result.begin(), self.result.end(), values);
    return 0;
  }
};

OdeReference::OdeReference(Values state, double relative, double absolute)
    : state_(std::move(state)), relative_(relative), absolute_(absolute) {}

OdeReference::~OdeReference() = default;

int OdeReference::advance(double until, const Rates& rates, const Roots& roots, std::size_t root_count) {
  if (until <= time_) return -1;
  Solver solver{&rates, &roots, root_count, state_, {}};
  SUNContext context = nullptr;
  SUNContext_Create(nullptr, &context);
  const auto count = static_cast<sunindextype>(state_.size());
  N_Vector y = N_VMake_Serial(count, state_.data(), context);
  void* memory = CVodeCreate(CV_BDF, context);
  CVodeInit(memory, Solver::rate_function, time_, y);
  CVodeSStolerances(memory, relative_, absolute_);
  CVodeSetUserData(memory, &solver);
  CVodeSetMaxNumSteps(memory, 10'000'000);
  CVodeSetStopTime(memory, until);
  SUNMatrix matrix = SUNDenseMatrix(count, count, context);
  SUNLinearSolver linear = SUNLinSol_Dense(y, matrix, context);
  CVodeSetLinearSolver(memory, linear, matrix);
  if (root_count > 0) CVodeRootInit(memory, static_cast<int>(root_count), Solver::root_function);
  double reached = time_;
  const int status = CVode(memory, until, y, &reached, CV_NORMAL);
  int root = -1;
  if (status == CV_ROOT_RETURN) {
    std::vector<int> found(root_count);
    CVodeGetRootInfo(memory, found.data());
    for (std::size_t i = 0; i < root_count; ++i) {
      if (found[i] != 0) root = static_cast<int>(i);
    }
  }
  time_ = reached;
  CVodeFree(&memory);
  SUNLinSolFree(linear);
  SUNMatDestroy(matrix);
  N_VDestroy(y);
  SUNContext_Free(&context);
  if (status < 0) throw std::runtime_error("CVODE failed: " + std::to_string(status));
  return root;
}

}  // namespace rampart::test
