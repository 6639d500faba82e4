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

#include "people.h"

namespace phren::patient {
namespace {

// Health and five illnesses as data/conditions has them, after a quarter of an hour of illness (the
// tension after a minute, while gas still pours into the pleural space) and at the end of a breath.
// The lung is taken from that patient: its parameters, volumes and pleural gas, its own breathing
// rate and effort; then the body's hand is off and only mechanics run.
struct Case {
  const char* condition;
  double severity;
  double before_min = 15.0;
};
const Case kCases[] = {{"healthy", 0.0},
                       {"asthma", 0.7},
                       {"copd_exacerbation", 0.6},
                       {"lobar_pneumonia", 0.8},
                       {"cardiogenic_oedema", 0.8},
                       {"tension_pneumothorax", 0.8, 1.0}};

struct Model {
  Mechanics lung;
  double effort_cmH2O, breath_s;

  // A smooth effort, so that the order of a method can be seen.
  Effort effort_at(double t) const {
    Effort e;
    const double s = std::sin(M_PI * t / breath_s);
    e.muscle_cmH2O = effort_cmH2O * s * s * s * s;
    return e;
  }
};

Model model_of(const Case& c) {
  Patient p = sick(c.condition, c.severity, {}, c.before_min);
  const std::uint64_t breath = p.breathing().breath_count();
  while (p.breathing().breath_count() == breath) p.step();
  return {p.mechanics(), p.breathing().effort_cmH2O(), 60.0 / p.breathing().rate_per_min()};
}

std::array<double, kLobes + 2> run(const Model& model, double dt, double until) {
  Mechanics lung = model.lung;
  const long steps = std::lround(until / dt);
  for (long n = 0; n < steps; ++n)
    lung.step(model.effort_at((static_cast<double>(n) + 0.5) * dt), dt);
  std::array<double, kLobes + 2> out{};
  for (std::size_t i = 0; i < kLobes; ++i) out[i] = lung.state().volume_L[i];
  for (std::size_t k = 0; k < 2; ++k) out[kLobes + k] = lung.state().pleural_gas_L[k];
  return out;
}

TEST(Mechanics, ErrorFallsWithSecondOrder) {
  for (const Case& c : kCases) {
    SCOPED_TRACE(c.condition);
    const Model model = model_of(c);
    // A valve that shuts in mid-step (tension) makes the error jump about from one step to the
    // next; the slope is taken over four halvings.
    const auto exact = run(model, 1.0 / 32768.0, 6.5);
    double error[5], order = 0.0;
    for (int k = 0; k < 5; ++k) {
      const auto v = run(model, 1.0 / (64 << k), 6.5);
      error[k] = 0.0;
      for (std::size_t i = 0; i < v.size(); ++i) error[k] += std::abs(v[i] - exact[i]);
      order -= (k - 2.0) * std::log2(error[k]) / 10.0;  // least squares
    }
    std::printf("    %-20s order %.2f, error at 1/128 s %.1e L\n", c.condition, order, error[1]);
    EXPECT_GT(order, 1.7);
  }
}

using State = std::array<double, kLobes + 2>;  // lobes, then pleural gas right and left

State derivative_of(const Model& model, const State& y, double t, Flows* flows = nullptr) {
  MechanicsState s;
  for (std::size_t i = 0; i < kLobes; ++i) s.volume_L[i] = y[i];
  for (std::size_t k = 0; k < 2; ++k) s.pleural_gas_L[k] = y[kLobes + k];
  const Flows f = model.lung.derivative(s, model.effort_at(t));
  State out{};
  for (std::size_t i = 0; i < kLobes; ++i) {
    out[i] = f.lobe_L_per_s[i] - f.leak_L_per_s[i];
    out[kLobes + side_index(i)] += f.leak_L_per_s[i];
  }
  for (std::size_t k = 0; k < 2; ++k) out[kLobes + k] += f.wound_L_per_s[k];
  if (flows) *flows = f;
  return out;
}

State state_of(const Mechanics& lung) {
  State y{};
  for (std::size_t i = 0; i < kLobes; ++i) y[i] = lung.state().volume_L[i];
  for (std::size_t k = 0; k < 2; ++k) y[kLobes + k] = lung.state().pleural_gas_L[k];
  return y;
}

TEST(Mechanics, AgreesWithRungeKutta) {  // Boost.odeint
  for (const Case& c : kCases) {
    SCOPED_TRACE(c.condition);
    const Model model = model_of(c);
    State y = state_of(model.lung);
    boost::numeric::odeint::integrate_const(
        boost::numeric::odeint::runge_kutta4<State>(),
        [&](const State& x, State& dxdt, double t) { dxdt = derivative_of(model, x, t); }, y, 0.0,
        6.5, 1.0 / 2048.0);
    const auto ours = run(model, 1.0 / 128.0, 6.5);
    for (std::size_t i = 0; i < y.size(); ++i) EXPECT_NEAR(ours[i], y[i], 5e-4);
  }
}

// SUNDIALS' CVODE (backward differences, relative tolerance 1e-9) on the same equations.
class Cvode {
 public:
  explicit Cvode(const Model& model) : model_(model) {
    SUNContext_Create(nullptr, &context_);
    y_ = N_VNew_Serial(kLobes + 2, context_);
    const State start = state_of(model.lung);
    for (std::size_t i = 0; i < start.size(); ++i) NV_Ith_S(y_, static_cast<int>(i)) = start[i];
    cvode_ = CVodeCreate(CV_BDF, context_);
    CVodeInit(cvode_, rhs, 0.0, y_);
    CVodeSStolerances(cvode_, 1e-9, 1e-11);
    CVodeSetUserData(cvode_, this);
    CVodeSetMaxNumSteps(cvode_, 100000);
    CVodeSetMaxStep(cvode_, 0.02);
    matrix_ = SUNDenseMatrix(kLobes + 2, kLobes + 2, context_);
    solver_ = SUNLinSol_Dense(y_, matrix_, context_);
    CVodeSetLinearSolver(cvode_, solver_, matrix_);
  }
  Cvode(const Cvode&) = delete;
  Cvode& operator=(const Cvode&) = delete;
  ~Cvode() {
    CVodeFree(&cvode_);
    N_VDestroy(y_);
    SUNLinSolFree(solver_);
    SUNMatDestroy(matrix_);
    SUNContext_Free(&context_);
  }
  bool advance(double t) {
    realtype reached = 0.0;
    return CVode(cvode_, t, y_, &reached, CV_NORMAL) >= 0;
  }
  State state() const { return from(y_); }

 private:
  static State from(N_Vector y) {
    State out{};
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = NV_Ith_S(y, static_cast<int>(i));
    return out;
  }
  static int rhs(realtype t, N_Vector y, N_Vector ydot, void* data) {
    const State d = derivative_of(static_cast<const Cvode*>(data)->model_, from(y), t);
    for (std::size_t i = 0; i < d.size(); ++i) NV_Ith_S(ydot, static_cast<int>(i)) = d[i];
    return 0;
  }

  const Model& model_;
  SUNContext context_ = nullptr;
  N_Vector y_ = nullptr;
  void* cvode_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver solver_ = nullptr;
};

struct Range {
  double low = 1e9, high = -1e9, worst = 0.0;
  void see(double reference, double ours) {
    low = std::min(low, reference);
    high = std::max(high, reference);
    worst = std::max(worst, std::abs(reference - ours));
  }
  double share() const { return worst / (high - low); }
};

// Lobar volumes and flows (and pleural gas where there is any) within 0.5 % of their range, over
// three breaths.
TEST(Mechanics, AgreesWithCvode) {
  for (const Case& c : kCases) {
    SCOPED_TRACE(c.condition);
    const Model model = model_of(c);
    Mechanics lung = model.lung;
    Cvode cvode(model);
    std::array<Range, kLobes + 2> volume{};
    std::array<Range, kLobes> flow{};
    const double dt = 1.0 / 128.0;
    const int steps = static_cast<int>(3.0 * model.breath_s / dt);
    for (int n = 0; n < steps; ++n) {
      const double middle = (n + 0.5) * dt;
      lung.step(model.effort_at(middle), dt);
      ASSERT_TRUE(cvode.advance(middle));
      Flows f;
      derivative_of(model, cvode.state(), middle, &f);
      ASSERT_TRUE(cvode.advance((n + 1.0) * dt));
      const State reference = cvode.state(), ours = state_of(lung);
      for (std::size_t i = 0; i < reference.size(); ++i) volume[i].see(reference[i], ours[i]);
      for (std::size_t i = 0; i < kLobes; ++i)
        flow[i].see(f.lobe_L_per_s[i], lung.flows().lobe_L_per_s[i]);
    }
    double worst_volume = 0.0, worst_flow = 0.0;
    for (std::size_t i = 0; i < kLobes; ++i) {
      worst_volume = std::max(worst_volume, volume[i].share());
      worst_flow = std::max(worst_flow, flow[i].share());
    }
    std::printf("    %-20s worst volume %.4f %%, flow %.4f %% of range\n", c.condition,
                100.0 * worst_volume, 100.0 * worst_flow);
    EXPECT_LT(worst_volume, 0.005);
    EXPECT_LT(worst_flow, 0.005);
    for (std::size_t k = 0; k < 2; ++k) {
      if (volume[kLobes + k].high > 1e-3) {
        std::printf("    %-20s pleural gas %.4f %% of range\n", c.condition,
                    100.0 * volume[kLobes + k].share());
        EXPECT_LT(volume[kLobes + k].share(), 0.005);
      }
    }
  }
}

TEST(Mechanics, RestsWhenNobodyBreathes) {
  const Person person = *complete(Person{});
  Mechanics lung(body_of(person, reference_of(person), Posture::kSitting, Load{}, {}).mechanics);
  lung.settle();
  const double before = lung.gas_L();
  for (int n = 0; n < 1280; ++n) lung.step({}, 1.0 / 128.0);
  EXPECT_NEAR(lung.gas_L(), before, 1e-6);
}

}  // namespace
}  // namespace phren::patient
