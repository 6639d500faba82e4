#include "app/server/api/drill_view.h"

#include <cstdlib>

#include "base/json_fields.h"
#include "records/passwords.h"
#include "signal/audio_file.h"
#include "teaching/drill/learner.h"

namespace phren::app::server {

using nlohmann::json;

json question_json(const teaching::DrillQuestion& question, const std::string& path) {
  const auto* kind = teaching::find_drill_kind(question.kind);
  json sounds = json::array(), choices = json::array();
  for (std::size_t i = 0; i < question.sounds.size(); ++i) {
    sounds.push_back(path + "/" + std::to_string(i));
  }
  for (const auto& choice : question.choices) choices.push_back(json(json_of(choice)));
  return {{"mode", question.kind},
          {"question", kind->text(question)},
          {"sounds", std::move(sounds)},
          {"sound_labels", kind->sound_labels(question)},
          {"has_one_gain", question.has_one_gain},
          {"choices", std::move(choices)}};
}

// Other bodies are tried where none of the first ones sounds clearly enough.
teaching::DrillQuestion make_question(const Office& office, const teaching::DrillKind& kind,
                                      teaching::Asked asked) {
  constexpr int kTries = 3;
  for (int i = 0; i < kTries; ++i) {
    asked.seed = Seed{std::strtoull(records::random_id().substr(0, 15).c_str(), nullptr, 16)};
    auto made = kind.make(office.book, asked);
    if (made) return std::move(*made);
    if (made.error().code != ErrorCode::kUnsupported) refuse(made.error());
  }
  refuse(503, "no clear sound", "no patient sounded clearly enough for a question; ask again");
}

teaching::DrillQuestion kept_question(const std::string& detail) {
  auto question = read_record_text<teaching::DrillQuestion>(detail, "a kept question");
  if (!question || teaching::find_drill_kind(question->kind) == nullptr) {
    refuse(409, "changed", "this question was made by another version of the program; ask anew");
  }
  return std::move(*question);
}

Response sound_response(const Office& office, const std::vector<teaching::DrillSound>& sounds,
                        const std::string& number) {
  const bool is_digit = number.size() == 1 && number[0] >= '0' && number[0] <= '9';
  const auto index = is_digit ? static_cast<std::size_t>(number[0] - '0') : sounds.size();
  if (index >= sounds.size()) refuse(404, "not found", "this item has no such sound");
  const auto made = need(office.player->play(sounds[index]));
  Response response;
  response.content_type = "audio/wav";
  response.body = need(signal::wav_bytes(made->audio, signal::SampleFormat::kPcm16));
  response.headers = {{"Cache-Control", "no-store"}};
  return response;
}

json standing_json(const Office& office, const teaching::PastAnswers& answers,
                   std::int64_t now_ms) {
  json list = json::array();
  for (const auto& one : teaching::standings(office.book, answers, now_ms)) {
    list.push_back(json(json_of(one)));
  }
  return list;
}

json confusion_json(const Office& office, const teaching::PastAnswers& answers) {
  auto confusion = teaching::confusion_of(office.book, answers);
  return {{"labels", std::move(confusion.labels)}, {"counts", std::move(confusion.counts)}};
}

}  // namespace phren::app::server
