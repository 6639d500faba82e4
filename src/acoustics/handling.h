// The hand and what lies under the chestpiece: clicks of skin, hair and cloth, soft knocks, rubs,
// slips, setting down and lifting; and the recorder's buttons.
//
// Shapes:  a control step once per chunk strikes what falls into it.
// Errors:  none; nothing allocates.
// Source:  rates, clusters, levels and shapes measured on recordings (data/instruments). Mostly
//          while breathing in and over the lower lung (Ye 2022: false crackles of healthy people);
//          what hair, cloth and pressure do to the rate: ENGINEERING after Kraman 2008.
#pragma once

#include "acoustics/bands.h"
#include "acoustics/contact.h"
#include "acoustics/layers.h"
#include "acoustics/scene.h"
#include "acoustics/transients.h"

namespace phren::acoustics {

// What the control step of handling and of the other body noises needs to know.
struct HandlingStep {
  const Scene& scene;
  const Instrument& as;
  const ContactState& contact;
  const LayerMix& mix;
  double breath = 0.0;  // reference level at the chestpiece
  double lower = 0.0;   // 1 over the lower lung .. 0 at the top
};

class Handling {
 public:
  Handling(Seed seed, double sample_rate_hz) noexcept;
  // A new placing: draws what differs from one to the next.
  void put_down(const Instrument& as, Seed placing) noexcept;
  void lift() noexcept;
  void start_recorder(const HandlingStep& at) noexcept;
  void update(const HandlingStep& at, Transients& to) noexcept;
  // Change of the breath's level by the hand's pressure and tremor.
  double pressure_db() const noexcept { return pressure_db_; }

 private:
  struct Cluster {
    double next_s = 0.0, level_db = 0.0, pitch_hz = 200.0;
    int left = 0;
    bool knock = false, slip = false;
  };
  struct Train {
    double next_s = 0.0;
    double rate = 1.0, level_db = 0.0, pitch_hz = 200.0;  // of this placing
  };
  void move_hand(const HandlingStep& at) noexcept;
  double busy(const HandlingStep& at, bool knock) const noexcept;
  void run_train(const HandlingStep& at, bool knock) noexcept;
  void begin_cluster(const Instrument& as, bool knock, double extra_db) noexcept;
  void run_clusters(const HandlingStep& at, Transients& to) noexcept;
  void strike(const HandlingStep& at, const Cluster& cluster, double delay_s,
              Transients& to) noexcept;
  void run_rubs(const HandlingStep& at, Transients& to) noexcept;
  void rub(const HandlingStep& at, double extra_db, Transients& to) noexcept;
  void run_recorder(const HandlingStep& at, Transients& to) noexcept;
  void tell(const HandlingStep& at, exam::Sound sound, double pitch_hz, double peak, double start_s,
            double length_s) const noexcept;

  static constexpr std::size_t kClusters = 8;
  RandomStream clicks_, knocks_, rubs_, hand_, recorder_;
  std::array<Train, 2> trains_;  // clicks, knocks
  std::array<Cluster, kClusters> clusters_;
  std::size_t next_cluster_ = 0;
  double rub_rate_ = 1.0, rub_level_db_ = 0.0, next_rub_s_ = 0.0;
  Walk pressure_;
  double pressure_db_ = 0.0, tremor_turn_ = 0.0, tremor_hz_ = 8.0;
  double still_s_ = 6.0, gate_left_s_ = 3.0, slip_rest_s_ = 0.0;
  bool is_moving_ = false, is_down_ = false, wants_knock_ = false, wants_start_ = false;
};

}  // namespace phren::acoustics
