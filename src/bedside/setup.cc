// The packet: how many numbers (a double), the numbers of patient::pack(), then one JSON object with the rest.
#include "bedside/setup.h"

#include <cmath>
#include <cstring>
#include <nlohmann/json.hpp>

#include "base/random.h"
#include "bedside/words.h"
#include "patient/keyed_pack.h"

namespace phren::bedside {
namespace {

using Json = nlohmann::ordered_json;

Json finding_json(const exam::Finding& finding) {
  return {{"id", finding.id},
          {"presence", word_of(finding.presence)},
          {"basis", word_of(finding.basis)},
          {"side", word_of(finding.side)}};
}

template <class E>
Status read(const Json& json, const char* key, E& to) {
  to = TRY(read_word<E>(key, json.value(key, std::string())));
  return {};
}

Json at_hand_json(const AtHand& one) {
  return {{"id", one.id},
          {"name", one.name},
          {"other_side", one.other_side},
          {"numbers", acoustics::pack(one.instrument)}};
}

Result<AtHand> at_hand_of(const Json& json) {
  AtHand out;
  out.id = json.value("id", std::string());
  out.name = json.value("name", std::string());
  out.other_side = json.value("other_side", std::string());
  std::vector<double> numbers;
  for (const Json& one : json.value("numbers", Json::array())) {
    numbers.push_back(one.is_number() ? one.get<double>() : -1e300);
  }
  out.instrument = TRY(at("instrument " + out.id, acoustics::unpack_instrument(numbers)));
  return out;
}

Status read_rest(const Json& json, Setup& to) {
  TRY(read(json, "clothing", to.around.clothing));
  TRY(read(json, "room", to.around.room));
  for (const Json& id : json.value("treatments", Json::array())) {
    if (id.is_string()) to.treatment_ids.push_back(id.get<std::string>());
  }
  for (const Json& told : json.value("told", Json::array())) {
    exam::Finding finding;
    finding.id = told.value("id", std::string());
    TRY(read(told, "presence", finding.presence));
    TRY(read(told, "basis", finding.basis));
    TRY(read(told, "side", finding.side));
    to.told.push_back(std::move(finding));
  }
  for (const Json& one : json.value("instruments", Json::array())) {
    to.instruments.push_back(TRY(at_hand_of(one)));
  }
  return {};
}

}  // namespace

namespace {

constexpr double kKeyedFormat = 2.0;    // of patient/keyed_pack.h
constexpr std::size_t kPadding = 1024;  // so that the length tells nothing

std::string rest_of(const Setup& setup) {
  Json rest{{"clothing", word_of(setup.around.clothing)},
            {"room", word_of(setup.around.room)},
            {"treatments", setup.treatment_ids},
            {"told", Json::array()},
            {"instruments", Json::array()}};
  for (const exam::Finding& one : setup.told) rest["told"].push_back(finding_json(one));
  for (const AtHand& one : setup.instruments) rest["instruments"].push_back(at_hand_json(one));
  return rest.dump();
}

std::string join(std::vector<double> numbers, const std::string& rest) {
  numbers.insert(numbers.begin(), static_cast<double>(numbers.size()));
  std::string bytes(numbers.size() * sizeof(double), '\0');
  std::memcpy(bytes.data(), numbers.data(), bytes.size());
  return bytes + rest;
}

// Hides, or shows again, by a stream that grows from the number which carries the key.
std::string veiled(std::string text, double key) {
  std::uint64_t bits = 0;
  std::memcpy(&bits, &key, sizeof bits);
  RandomStream stream(Seed{bits}, "told");
  for (char& c : text) c = static_cast<char>(c ^ static_cast<char>(stream.bits() & 0xffU));
  return text;
}

}  // namespace

std::string pack(const Setup& setup) {
  return join(patient::pack(setup.patient), rest_of(setup));
}

std::string pack_keyed(const Setup& setup, std::uint64_t key) {
  std::vector<double> numbers = patient::pack_keyed(setup.patient, key);
  std::string rest = rest_of(setup);
  rest.resize((rest.size() / kPadding + 1) * kPadding, ' ');
  rest = veiled(std::move(rest), numbers[1]);
  return join(std::move(numbers), rest);
}

Result<Setup> unpack(std::string_view bytes) {
  const auto broken = [](const char* what) { return fail(ErrorCode::kMalformed, what); };
  double count = 0.0;
  if (bytes.size() < sizeof count) return broken("the packet of the patient is empty");
  std::memcpy(&count, bytes.data(), sizeof count);
  const double most = static_cast<double>(bytes.size() / sizeof(double)) - 1.0;
  if (!(count >= 0.0 && count <= most) || count != std::floor(count)) {
    return broken("the packet of the patient is cut short");
  }
  std::vector<double> numbers(static_cast<std::size_t>(count));
  std::memcpy(numbers.data(), bytes.data() + sizeof count, numbers.size() * sizeof(double));
  auto config = TRY(patient::unpack(numbers));
  std::string text(bytes.substr((numbers.size() + 1) * sizeof(double)));
  if (numbers.size() > 1 && numbers[0] == kKeyedFormat) text = veiled(std::move(text), numbers[1]);
  const Json rest = Json::parse(text, nullptr, false);
  if (!rest.is_object()) return broken("the packet of the patient ends without its words");
  Setup out{std::move(config), {}, {}, {}, {}};
  TRY(read_rest(rest, out));
  if (out.treatment_ids.size() != out.patient.treatments.size()) {
    return broken("the packet of the patient names other treatments than it holds");
  }
  return out;
}

}  // namespace phren::bedside
