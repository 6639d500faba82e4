#include "state_bits.h"

#include <array>
#include <bit>
#include <cstdint>

namespace phren::patient {
namespace {

void put(std::uint64_t bits, std::string& out) {
  for (int shift = 60; shift >= 0; shift -= 4) out += "0123456789abcdef"[(bits >> shift) & 15u];
}
void put(double x, std::string& out) {
  put(std::bit_cast<std::uint64_t>(x), out);
}

// A structure that holds nothing but doubles.
template <class T>
void put_all(const char* name, const T& value, std::string& out) {
  static_assert(sizeof(T) % sizeof(double) == 0);
  out += ' ';
  out += name;
  out += '=';
  for (double x : std::bit_cast<std::array<double, sizeof(T) / sizeof(double)>>(value)) put(x, out);
}

void put_circulation(const Circulation& c, std::string& out) {
  const std::array<double, 13> values{
      c.output_L_per_s(), c.lung_flow_L_per_s(), c.mean_arterial_mmHg(),
      c.systolic_mmHg(),  c.diastolic_mmHg(),    c.right_atrial_mmHg(),
      c.wedge_mmHg(),     c.lung_artery_mmHg(),  c.rate_per_min(),
      c.sympathetic(),    c.blood_L(),           c.lost_L(),
      c.since_beat_s()};
  put_all("circulation", values, out);
  put(c.beat_count(), out);
}

void put_breathing(const Breathing& b, double time_s, std::string& out) {
  const std::array<double, 10> values{b.drive(),
                                      b.effort_cmH2O(),
                                      b.fatigue(),
                                      b.rate_per_min(),
                                      b.tidal_L(),
                                      b.breath_start_s(),
                                      b.inspiration_s(),
                                      b.expiration_s(),
                                      b.muscle_cmH2O(time_s),
                                      b.most_effort_cmH2O()};
  put_all("breathing", values, out);
  put(b.breath_count(), out);
}

void put_seen(const Patient& p, std::string& out) {
  const Monitor m = p.monitor();
  const Signs s = p.signs();
  const std::array<double, 27> values{m.respiratory_rate_per_min,
                                      m.spo2_percent,
                                      m.etco2_mmHg,
                                      m.co2_mmHg,
                                      m.heart_rate_per_min,
                                      m.systolic_mmHg,
                                      m.diastolic_mmHg,
                                      m.temperature_C,
                                      m.plateau_slope_mmHg_per_s,
                                      s.work_of_breathing,
                                      s.accessory_muscles,
                                      s.retractions,
                                      s.nasal_flaring,
                                      s.exhaustion,
                                      s.anxiety,
                                      s.cyanosis,
                                      s.pallor,
                                      s.diaphoresis,
                                      s.urticaria,
                                      s.angioedema,
                                      s.jugular_venous_mmHg,
                                      s.tracheal_deviation,
                                      s.chest_rise[0],
                                      s.chest_rise[1],
                                      s.subcutaneous_air,
                                      s.frothy_sputum,
                                      s.capillary_refill_s};
  put_all("seen", values, out);
  put(s.facts, out);
}

void put_snapshot(const Snapshot& s, std::string& out) {
  const std::array<double, 4> whole{s.since_phase_s, s.trachea_flow_L_per_s,
                                    s.muscle_pressure_cmH2O, s.total_volume_L};
  put_all("snapshot", whole, out);
  put(s.breath_count, out);
  for (const LobeState& l : s.lobe) {
    const std::array<double, 16> lobe{l.flow_L_per_s,
                                      l.volume_L,
                                      l.volume_fraction,
                                      l.breath_fraction,
                                      l.airway_radius_ratio,
                                      l.resistance_cmH2O_s_per_L,
                                      l.flow_limitation,
                                      l.choke_speed_m_per_s,
                                      l.choke_half_gap_mm,
                                      l.limited_volume_mL,
                                      l.secretions,
                                      l.lung_water,
                                      l.reopening.fine_count,
                                      l.reopening.coarse_count,
                                      l.reopening.opening_mean,
                                      l.pleural_pressure_cmH2O};
    put_all("lobe", lobe, out);
  }
  const std::array<double, 3> upper{s.upper_airway.area_mm2, s.upper_airway.jet_speed_m_per_s,
                                    s.upper_airway.grunting};
  put_all("upper", upper, out);
}

}  // namespace

void write(const Script& script, std::ostream& out) {
  out << script.seed.value << ' ' << std::bit_cast<std::uint64_t>(script.minutes) << '\n'
      << script.acts.size() << '\n';
  for (const Act& a : script.acts) {
    out << std::bit_cast<std::uint64_t>(a.minute) << ' ' << static_cast<int>(a.action.kind) << ' '
        << a.action.index << ' ' << static_cast<int>(a.action.side) << ' '
        << std::bit_cast<std::uint64_t>(a.action.seconds) << ' '
        << std::bit_cast<std::uint64_t>(a.action.amount) << '\n';
  }
  out << script.config.size();
  for (double x : script.config) out << ' ' << std::bit_cast<std::uint64_t>(x);
  out << '\n';
}

Script read(std::istream& in) {
  const auto number = [&in] {
    std::uint64_t bits = 0;
    in >> bits;
    return std::bit_cast<double>(bits);
  };
  Script script;
  std::size_t count = 0;
  in >> script.seed.value;
  script.minutes = number();
  in >> count;
  for (std::size_t n = 0; n < count && in; ++n) {
    Act a;
    int kind = 0, side = 0;
    a.minute = number();
    in >> kind >> a.action.index >> side;
    a.action.kind = static_cast<ActionKind>(kind);
    a.action.side = static_cast<exam::Side>(side);
    a.action.seconds = number();
    a.action.amount = number();
    script.acts.push_back(a);
  }
  in >> count;
  for (std::size_t n = 0; n < count && in; ++n) script.config.push_back(number());
  if (!in) script.config.clear();
  return script;
}

std::string play(const Script& script) {
  const auto config = unpack(script.config);
  if (!config) return "cannot be read: " + config.error().message + "\n";
  auto made = Patient::make(*config, script.seed);
  if (!made) return "cannot be made: " + made.error().message + "\n";
  Patient& p = *made;
  std::string out;
  std::size_t next = 0;
  for (double minute = 0.0; minute <= script.minutes; minute += 1.0) {
    for (; next < script.acts.size() && script.acts[next].minute <= minute; ++next) {
      p.advance_to(60.0 * script.acts[next].minute);
      p.act(script.acts[next].action);
    }
    p.advance_to(60.0 * minute);
    out += "minute " + std::to_string(static_cast<int>(minute));
    put_all("lung", p.mechanics().state(), out);
    put_all("flows", p.mechanics().flows(), out);
    put_all("gas", p.gas().state(), out);
    put_all("ledger", p.gas().ledger(), out);
    put_circulation(p.circulation(), out);
    put_breathing(p.breathing(), p.time_s(), out);
    put_all("load", p.load(), out);
    put_all("inside", p.inside(), out);
    put_seen(p, out);
    put_snapshot(p.snapshot(), out);
    out += '\n';
  }
  return out;
}

}  // namespace phren::patient
