#include "app/server/net/refusals.h"

#include <nlohmann/json.hpp>

#include "records/audit.h"
#include "records/people.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

bool is_refusal(const Response& response) {
  return response.status >= 400 && response.status < 500;
}

// A login is a name: it would stay in the log after its person is forgotten.
std::string without_login(std::string text) {
  constexpr std::string_view kStands = "login '", kIs = "login is '";
  for (const std::string_view before : {kStands, kIs}) {
    const std::size_t start = text.find(before);
    const std::size_t end = text.rfind('\'');
    if (start == std::string::npos || end < start + before.size()) continue;
    text.replace(start + before.size(), end - start - before.size(), "...");
  }
  return text;
}

std::string detail_of(const Response& response, RefusalMeter::Verdict verdict) {
  const json body = json::parse(response.bytes(), nullptr, false);
  std::string detail = std::to_string(response.status) + " " +
                       (body.is_object() ? without_login(body.value("detail", "")) : "");
  if (verdict == RefusalMeter::Verdict::kWriteLast) {
    detail += " (further refusals of this address are not listed this minute)";
  }
  return detail;
}

}  // namespace

RefusalMeter::Verdict RefusalMeter::count(const std::string& remote, std::int64_t now_ms) {
  const std::lock_guard lock(mutex_);
  const std::int64_t minute = now_ms / 60'000;
  if (counts_.size() > 10'000) counts_.clear();
  Count& one = counts_[remote];
  if (one.minute != minute) one = {minute, 0};
  ++one.refusals;
  return one.refusals < kMostPerMinute    ? Verdict::kWrite
         : one.refusals == kMostPerMinute ? Verdict::kWriteLast
                                          : Verdict::kSkip;
}

bool RefusalMeter::is_spent(const std::string& remote, std::int64_t now_ms) const {
  const std::lock_guard lock(mutex_);
  const auto found = counts_.find(remote);
  return found != counts_.end() && found->second.minute == now_ms / 60'000 &&
         found->second.refusals >= kMostPerMinute;
}

bool RefusalLog::wants(const Request& request, const Response& response,
                       std::int64_t now_ms) const {
  return is_refusal(response) && !response.is_noted && !meter_.is_spent(request.remote, now_ms);
}

void RefusalLog::note(Desk& desk, const Request& request, Response& response) {
  if (!is_refusal(response) || response.is_noted) return;
  response.is_noted = true;
  const auto verdict = meter_.count(request.remote, desk.now_ms);
  if (verdict == RefusalMeter::Verdict::kSkip) return;
  records::SessionOwner who{response.actor_id, response.class_id};
  if (const std::string token = session_token(request);
      !token.empty() && (who.person_id.empty() || who.class_id.empty())) {
    if (const auto owner = records::People(desk.db).owner(token)) {
      if (who.person_id.empty()) who.person_id = owner->person_id;
      if (who.class_id.empty()) who.class_id = owner->class_id;
    }
  }
  const std::string asked = request.method.empty() ? "a request that cannot be read"
                                                   : request.method + " " + request.path;
  records::AuditEntry entry{
      desk.now_ms, who.person_id, "refused", asked, detail_of(response, verdict), who.class_id};
  entry.address = request.remote;
  records::note_audit(desk.db, entry);
}

}  // namespace phren::app::server
