// The mechanics against other integrators and against itself at smaller steps.
#include "patient/mechanics.h"

#include <cvode/cvode.h>
#include <gtest/gtest.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <cstdio>

#include "patient/body.h"

namespace phren::patient {
namespace {

constexpr double kBreath_s = 4.0;

// A smooth effort, so that the order of a method can be seen.
Effort effort_at(double t, double size) {
  Effort e;
  const double s = std::sin(M_PI * t / kBreath_s);
  e.muscle_cmH2O = size * s * s * s * s;
  return e;
}

struct Case {
  const char* name;
  Mechanism mechanism;
  double value, effort;
};
const Case kCases[] = {{"healthy", Mechanism::kBronchospasm, 0.0, 8.0},
                       {"constricted", Mechanism::kBronchospasm, 0.7, 18.0},
                       {"wet", Mechanism::kLungWater, 0.5, 14.0},
                       {"consolidated", Mechanism::kConsolidation, 0.8, 10.0},
                       {"worn", Mechanism::kEmphysema, 0.6, 10.0}};

Mechanics lung_of(const Case& c) {
  Load load;
  for (double& v : load.lobe[static_cast<std::size_t>(c.mechanism)]) v = c.value;
  if (c.mechanism == Mechanism::kConsolidation) {  // one lobe, as in the disease
    for (double& v : load.lobe[static_cast<std::size_t>(c.mechanism)]) v = 0.0;
    load.lobe[static_cast<std::size_t>(c.mechanism)][2] = c.value;
  }
  const Person person = *complete(Person{});
  Mechanics lung(body_of(person, reference_of(person), Posture::kSitting, load, {}).mechanics);
  lung.settle();
  return lung;
}

std::array<double, kLobes> run(const Case& c, double dt, double until) {
  Mechanics lung = lung_of(c);
  const long steps = std::lround(until / dt);
  for (long n = 0; n < steps; ++n)
    lung.step(effort_at((static_cast<double>(n) + 0.5) * dt, c.effort), dt);
  return lung.state().volume_L;
}

TEST(Mechanics, ErrorFallsWithSecondOrder) {
  for (const Case& c : kCases) {
    SCOPED_TRACE(c.name);
    const auto exact = run(c, 1.0 / 8192.0, 6.5);
    double error[3];
    for (int k = 0; k < 3; ++k) {
      const auto v = run(c, 1.0 / (64 << k), 6.5);
      error[k] = 0.0;
      for (std::size_t i = 0; i < kLobes; ++i) error[k] += std::abs(v[i] - exact[i]);
    }
    const double order = std::log2(error[0] / error[2]) / 2.0;
    std::printf("    %-14s order %.2f, error at 1/128 s %.1e L\n", c.name, order, error[1]);
    EXPECT_GT(order, 1.7);
  }
}

TEST(Mechanics, AgreesWithRungeKutta) {  // Boost.odeint
  using State = std::array<double, kLobes>;
  for (const Case& c : kCases) {
    SCOPED_TRACE(c.name);
    const Mechanics lung = lung_of(c);
    State v = lung.state().volume_L;
    const auto rhs = [&](const State& x, State& dxdt, double t) {
      MechanicsState s;
      s.volume_L = x;
      dxdt = lung.derivative(s, effort_at(t, c.effort)).lobe_L_per_s;
    };
    boost::numeric::odeint::integrate_const(boost::numeric::odeint::runge_kutta4<State>(), rhs, v,
                                            0.0, 6.5, 1.0 / 2048.0);
    const auto ours = run(c, 1.0 / 128.0, 6.5);
    for (std::size_t i = 0; i < kLobes; ++i) EXPECT_NEAR(ours[i], v[i], 5e-4);
  }
}

struct Reference {
  const Mechanics* lung;
  double effort;
};
int cvode_rhs(realtype t, N_Vector y, N_Vector ydot, void* data) {
  const auto& ref = *static_cast<const Reference*>(data);
  MechanicsState s;
  for (std::size_t i = 0; i < kLobes; ++i) s.volume_L[i] = NV_Ith_S(y, static_cast<int>(i));
  const Flows f = ref.lung->derivative(s, effort_at(t, ref.effort));
  for (std::size_t i = 0; i < kLobes; ++i) NV_Ith_S(ydot, static_cast<int>(i)) = f.lobe_L_per_s[i];
  return 0;
}

// Lobar volumes and flows of five conditions within 0.5 % of range, over three breaths.
TEST(Mechanics, AgreesWithCvode) {
  for (const Case& c : kCases) {
    SCOPED_TRACE(c.name);
    Mechanics lung = lung_of(c);
    const Mechanics frozen = lung;
    Reference ref{&frozen, c.effort};
    SUNContext context;
    ASSERT_EQ(0, SUNContext_Create(nullptr, &context));
    N_Vector y = N_VNew_Serial(static_cast<sunindextype>(kLobes), context);
    for (std::size_t i = 0; i < kLobes; ++i)
      NV_Ith_S(y, static_cast<int>(i)) = lung.state().volume_L[i];
    void* cvode = CVodeCreate(CV_BDF, context);
    CVodeInit(cvode, cvode_rhs, 0.0, y);
    CVodeSStolerances(cvode, 1e-9, 1e-11);
    CVodeSetUserData(cvode, &ref);
    CVodeSetMaxNumSteps(cvode, 100000);
    CVodeSetMaxStep(cvode, 0.02);
    SUNMatrix matrix = SUNDenseMatrix(kLobes, kLobes, context);
    SUNLinearSolver solver = SUNLinSol_Dense(y, matrix, context);
    CVodeSetLinearSolver(cvode, solver, matrix);
    std::array<double, kLobes> low_v{}, high_v{}, low_q{}, high_q{}, worst_v{}, worst_q{};
    low_v.fill(1e9);
    low_q.fill(1e9);
    high_v.fill(-1e9);
    high_q.fill(-1e9);
    const double dt = 1.0 / 128.0;
    for (int n = 0; n < 128 * 12; ++n) {
      lung.step(effort_at((n + 0.5) * dt, c.effort), dt);
      realtype reached = 0.0;
      ASSERT_GE(CVode(cvode, (n + 0.5) * dt, y, &reached, CV_NORMAL), 0);
      MechanicsState at_middle;
      for (std::size_t i = 0; i < kLobes; ++i)
        at_middle.volume_L[i] = NV_Ith_S(y, static_cast<int>(i));
      const Flows f = frozen.derivative(at_middle, effort_at((n + 0.5) * dt, c.effort));
      ASSERT_GE(CVode(cvode, (n + 1.0) * dt, y, &reached, CV_NORMAL), 0);
      for (std::size_t i = 0; i < kLobes; ++i) {
        const double v = NV_Ith_S(y, static_cast<int>(i)), q = f.lobe_L_per_s[i];
        low_v[i] = std::min(low_v[i], v);
        high_v[i] = std::max(high_v[i], v);
        low_q[i] = std::min(low_q[i], q);
        high_q[i] = std::max(high_q[i], q);
        worst_v[i] = std::max(worst_v[i], std::abs(v - lung.state().volume_L[i]));
        worst_q[i] = std::max(worst_q[i], std::abs(q - lung.flows().lobe_L_per_s[i]));
      }
    }
    double share_v = 0.0, share_q = 0.0;
    for (std::size_t i = 0; i < kLobes; ++i) {
      share_v = std::max(share_v, worst_v[i] / (high_v[i] - low_v[i]));
      share_q = std::max(share_q, worst_q[i] / (high_q[i] - low_q[i]));
    }
    std::printf("    %-14s worst volume %.3f %%, flow %.3f %% of range\n", c.name, 100.0 * share_v,
                100.0 * share_q);
    EXPECT_LT(share_v, 0.005);
    EXPECT_LT(share_q, 0.005);
    N_VDestroy(y);
    CVodeFree(&cvode);
    SUNLinSolFree(solver);
    SUNMatDestroy(matrix);
    SUNContext_Free(&context);
  }
}

TEST(Mechanics, RestsWhenNobodyBreathes) {
  Mechanics lung = lung_of(kCases[0]);
  const double before = lung.gas_L();
  for (int n = 0; n < 1280; ++n) lung.step({}, 1.0 / 128.0);
  EXPECT_NEAR(lung.gas_L(), before, 1e-6);
}

}  // namespace
}  // namespace phren::patient
