// A configuration as a row of numbers and back.
#include <bit>

#include "patient/config.h"
#include "patient/hidden.h"
#include "patient/keyed_pack.h"
#include "patient/person.h"

namespace phren::patient {
namespace {

constexpr double kFormat = 1.0;
constexpr double kKeyedFormat = 2.0;
constexpr std::size_t kMostItems = 64;
constexpr std::size_t kKeyedPiece = 1024, kKeyedBegin = 3;

// The i-th word of a key's stream.
std::uint64_t stream(std::uint64_t key, std::size_t i) {
  return stirred(key + kSplitMixStep * (static_cast<std::uint64_t>(i) + 1));
}
double hidden(double number, std::uint64_t key, std::size_t i) {
  return std::bit_cast<double>(std::bit_cast<std::uint64_t>(number) ^ stream(key, i));
}

// Numbers that stand in turn; with a key each is shown only when it is asked for.
class Row {
 public:
  explicit Row(std::span<const double> numbers) : numbers_(numbers), end_(numbers.size()) {}
  // What pack_keyed() has made, from its third number on.
  Row(std::span<const double> numbers, std::uint64_t key, std::size_t end)
      : numbers_(numbers), at_(kKeyedBegin), end_(end), key_(key), is_keyed_(true) {}
  double next() {
    if (at_ >= end_) {
      is_short_ = true;
      return 0.0;
    }
    const std::size_t i = at_++;
    return is_keyed_ ? hidden(numbers_[i], key_, i) : numbers_[i];
  }
  std::size_t count(std::size_t most) {
    const double n = next();
    if (!(n >= 0.0 && n <= static_cast<double>(most))) {
      is_wrong_ = true;
      return 0;
    }
    return static_cast<std::size_t>(n);
  }
  // The next number goes where it is kept, under a salt of its own if the row has a key.
  template <class T>
  void read(Hidden<T>& to, T value) {
    if (is_keyed_) to.hide_under(stream(~key_, ++salts_ + numbers_.size()));
    to = value;
  }
  void read(Hidden<double>& to) { read(to, next()); }
  bool is_good() const { return !is_short_ && !is_wrong_; }
  std::size_t at() const { return at_; }
  bool is_done() const { return at_ == end_; }
  void spoil() { is_wrong_ = true; }

 private:
  std::span<const double> numbers_;
  std::size_t at_ = 0, end_ = 0, salts_ = 0;
  std::uint64_t key_ = 0;
  bool is_keyed_ = false, is_short_ = false, is_wrong_ = false;
};

std::uint8_t small(Row& row, std::size_t most) {
  return static_cast<std::uint8_t>(row.count(most));
}

ConditionEffect read_condition_effect(Row& row) {
  ConditionEffect e;
  row.read(e.mechanism, static_cast<Mechanism>(small(row, kNumMechanisms - 1)));
  const MechanismInfo& info = info_of(e.mechanism);
  for (Hidden<double>& v : e.curve.at) {
    row.read(v);
    if (!(v >= info.low && v <= info.high)) row.spoil();
  }
  row.read(e.lobes, small(row, 0x1f));
  row.read(e.sides, small(row, 0x3));
  row.read(e.spread);
  if (!(e.spread >= 0.0 && e.spread <= 1.0)) row.spoil();
  return e;
}

TreatmentEffect read_treatment_effect(Row& row) {
  TreatmentEffect e;
  e.mechanism = static_cast<Mechanism>(small(row, kNumMechanisms - 1));
  e.operation = static_cast<Operation>(small(row, 1));
  e.size = row.next();
  e.is_held = row.next() != 0.0;
  e.lag_s = row.next();
  e.rise_s = row.next();
  e.fade_s = row.next();
  e.chance = row.next();
  e.reach_cm = row.next();
  const MechanismInfo& info = info_of(e.mechanism);
  const double low = info.low < 0.0 ? info.low : 0.0, high = info.high > 1.0 ? info.high : 1.0;
  if (!(e.size >= low && e.size <= high && e.lag_s >= 0.0 && e.rise_s > 0.0 && e.fade_s >= 0.0 &&
        e.chance >= 0.0 && e.chance <= 1.0 && e.reach_cm >= 0.0)) {
    row.spoil();
  }
  return e;
}

}  // namespace

std::vector<double> pack(const PatientConfig& c) {
  std::vector<double> out{kFormat,
                          c.person.age_years,
                          c.person.sex == Sex::kMale ? 1.0 : 0.0,
                          c.person.height_cm,
                          c.person.weight_kg,
                          c.person.muscle,
                          static_cast<double>(c.posture),
                          c.before_s,
                          c.step_s,
                          static_cast<double>(c.conditions.size())};
  for (const ActiveCondition& a : c.conditions) {
    out.insert(out.end(),
               {a.severity, a.severity_later, a.change_over_s, a.begins_s,
                static_cast<double>(a.effects.size()), static_cast<double>(a.facts.size())});
    for (const ConditionEffect& e : a.effects) {
      out.push_back(static_cast<double>(e.mechanism.get()));
      out.insert(out.end(), e.curve.at.begin(), e.curve.at.end());
      out.insert(out.end(), {static_cast<double>(e.lobes), static_cast<double>(e.sides), e.spread});
    }
    for (const ConditionFact& f : a.facts) {
      out.insert(out.end(), {static_cast<double>(f.fact.get()), f.from_severity,
                             static_cast<double>(f.side.get())});
    }
  }
  out.push_back(static_cast<double>(c.treatments.size()));
  for (const TreatmentCourse& t : c.treatments) {
    out.push_back(static_cast<double>(t.effects.size()));
    for (const TreatmentEffect& e : t.effects) {
      out.insert(out.end(),
                 {static_cast<double>(e.mechanism), static_cast<double>(e.operation), e.size,
                  e.is_held ? 1.0 : 0.0, e.lag_s, e.rise_s, e.fade_s, e.chance, e.reach_cm});
    }
  }
  // Left out where nothing was given before, as in packets of earlier days.
  if (!c.begun.empty()) out.push_back(static_cast<double>(c.begun.size()));
  for (const BegunTreatment& b : c.begun) {
    out.insert(out.end(), {static_cast<double>(b.index), static_cast<double>(b.side), b.at_s});
  }
  return out;
}

std::vector<double> pack_keyed(const PatientConfig& config, std::uint64_t key) {
  const std::vector<double> plain = pack(config);
  const std::size_t size = (plain.size() + 3 + kKeyedPiece - 1) / kKeyedPiece * kKeyedPiece;
  std::vector<double> out{kKeyedFormat, std::bit_cast<double>(key),
                          hidden(static_cast<double>(plain.size()), key, 2)};
  out.reserve(size);
  for (const double number : plain) out.push_back(hidden(number, key, out.size()));
  while (out.size() < size) out.push_back(std::bit_cast<double>(stream(~key, out.size())));
  return out;
}

namespace {

Result<Row> begin_row(std::span<const double> numbers) {
  if (numbers.empty() || numbers[0] != kKeyedFormat) return Row(numbers);
  if (numbers.size() < kKeyedBegin) return fail(ErrorCode::kMalformed, "packed patient: cut short");
  const auto key = std::bit_cast<std::uint64_t>(numbers[1]);
  const double count = hidden(numbers[2], key, 2);
  if (!(count >= 0.0 && count <= static_cast<double>(numbers.size() - kKeyedBegin))) {
    return fail(ErrorCode::kMalformed, "packed patient: its key does not fit");
  }
  return Row(numbers, key, kKeyedBegin + static_cast<std::size_t>(count));
}

}  // namespace

Result<PatientConfig> unpack(std::span<const double> numbers) {
  Row row = TRY(begin_row(numbers));
  PatientConfig c;
  if (const double format = row.next(); format != kFormat) {
    return fail(out_of_range("packed patient, number 0 (format)", format, "1"));
  }
  c.person.age_years = row.next();
  c.person.sex = row.next() != 0.0 ? Sex::kMale : Sex::kFemale;
  c.person.height_cm = row.next();
  c.person.weight_kg = row.next();
  c.person.muscle = row.next();
  c.posture = static_cast<Posture>(small(row, kNumPostures - 1));
  c.before_s = row.next();
  c.step_s = row.next();
  const std::size_t conditions = row.count(kMostItems);
  for (std::size_t i = 0; i < conditions && row.is_good(); ++i) {
    ActiveCondition a;
    row.read(a.severity);
    row.read(a.severity_later);
    row.read(a.change_over_s);
    row.read(a.begins_s);
    if (!(a.change_over_s >= 0.0)) row.spoil();
    const std::size_t effects = row.count(kMostItems);
    const std::size_t facts = row.count(kMostItems);
    for (std::size_t k = 0; k < effects && row.is_good(); ++k)
      a.effects.push_back(read_condition_effect(row));
    for (std::size_t k = 0; k < facts && row.is_good(); ++k) {
      ConditionFact f;
      row.read(f.fact, static_cast<Fact>(small(row, static_cast<std::size_t>(Fact::kCount) - 1)));
      row.read(f.from_severity);
      row.read(f.side, static_cast<exam::Side>(small(row, 2)));
      a.facts.push_back(f);
    }
    c.conditions.push_back(std::move(a));
  }
  const std::size_t treatments = row.count(kMostItems);
  for (std::size_t i = 0; i < treatments && row.is_good(); ++i) {
    TreatmentCourse t;
    const std::size_t effects = row.count(kMostItems);
    for (std::size_t k = 0; k < effects && row.is_good(); ++k)
      t.effects.push_back(read_treatment_effect(row));
    c.treatments.push_back(std::move(t));
  }
  if (row.is_good() && !row.is_done()) {
    const std::size_t begun = row.count(kMostItems);
    if (begun == 0) row.spoil();
    for (std::size_t i = 0; i < begun && row.is_good(); ++i) {
      BegunTreatment b;
      b.index = small(row, kMostItems);
      b.side = static_cast<exam::Side>(small(row, 2));
      b.at_s = row.next();
      if (static_cast<std::size_t>(b.index) >= c.treatments.size() || !(b.at_s <= 0.0)) row.spoil();
      c.begun.push_back(b);
    }
  }
  if (!row.is_good() || !row.is_done()) {
    return fail(ErrorCode::kMalformed, "packed patient: number " + std::to_string(row.at()) +
                                           " of " + std::to_string(numbers.size()) +
                                           " is not what pack() writes there");
  }
  c.person = TRY(complete(c.person));
  return c;
}

}  // namespace phren::patient
