// The packet: how many numbers (a double), the numbers of patient::pack(), then one JSON object with the rest.
#include "bedside/setup.h"

#include <cmath>
#include <cstring>
#include <nlohmann/json.hpp>

#include "bedside/words.h"

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
  return {};
}

}  // namespace

std::string pack(const Setup& setup) {
  std::vector<double> numbers = patient::pack(setup.patient);
  numbers.insert(numbers.begin(), static_cast<double>(numbers.size()));
  Json rest{{"clothing", word_of(setup.around.clothing)},
            {"room", word_of(setup.around.room)},
            {"treatments", setup.treatment_ids},
            {"told", Json::array()}};
  for (const exam::Finding& one : setup.told) rest["told"].push_back(finding_json(one));
  std::string bytes(numbers.size() * sizeof(double), '\0');
  std::memcpy(bytes.data(), numbers.data(), bytes.size());
  return bytes + rest.dump();
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
  const Json rest =
      Json::parse(bytes.substr((numbers.size() + 1) * sizeof(double)), nullptr, false);
  if (!rest.is_object()) return broken("the packet of the patient ends without its words");
  Setup out{std::move(config), {}, {}, {}};
  TRY(read_rest(rest, out));
  if (out.treatment_ids.size() != out.patient.treatments.size()) {
    return broken("the packet of the patient names other treatments than it holds");
  }
  return out;
}

}  // namespace phren::bedside
