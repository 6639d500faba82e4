#include "app/server/api/audited.h"

#include <array>

#include "records/audit.h"

namespace phren::app::server {
namespace {

struct Audited {
  std::string_view method, pattern, event;
  bool is_of_others = false;  // one's own needs no entry
};

constexpr std::array kAudited{
    Audited{"DELETE", "/api/v1/session", "logout"},
    Audited{"GET", "/api/v1/classes/{id}", "keys_read"},
    Audited{"GET", "/api/v1/classes/{id}/roster", "keys_read"},
    Audited{"GET", "/api/v1/classes/{id}/audit", "audit_read"},
    Audited{"GET", "/api/v1/classes/{id}/report", "report_read"},
    Audited{"GET", "/api/v1/people/{id}/export", "person_exported"},
    Audited{"POST", "/api/v1/encounters", "encounter_begun"},
    Audited{"POST", "/api/v1/encounters/{id}/end", "encounter_ended"},
    Audited{"GET", "/api/v1/encounters/{id}/log", "log_read", true},
    Audited{"GET", "/api/v1/rounds/{id}/log", "round_log_read"},
    // All who teach share one folder: who changed what another built is on record.
    Audited{"PUT", "/api/v1/patients/{id}", "patient_kept"},
    Audited{"DELETE", "/api/v1/patients/{id}", "patient_removed"},
    Audited{"GET", "/api/v1/encounters/{id}/mark", "mark_read", true},
    Audited{"GET", "/api/v1/encounters/{id}/debrief", "debrief_read", true},
};

const Audited* find_event(std::string_view event) {
  for (const Audited& one : kAudited) {
    if (one.event == event) return &one;
  }
  return nullptr;
}

// The subject and the class that a path names.
struct About {
  std::string subject, class_id, owner_id;
};
About about(Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
  About found;
  found.class_id = caller.session.class_id;
  const auto id = values.find("id");
  if (id == values.end()) return found;
  found.subject = id->second;
  if (request.path.starts_with("/api/v1/classes/")) found.class_id = id->second;
  if (request.path.starts_with("/api/v1/encounters/")) {
    if (const auto info = records::Encounters(desk.db).info(id->second)) {
      found.class_id = info->class_id;
      found.owner_id = info->person_id;
    }
  }
  return found;
}

}  // namespace

std::string_view event_of(std::string_view method, std::string_view pattern) {
  for (const Audited& one : kAudited) {
    if (one.method == method && one.pattern == pattern) return one.event;
  }
  return {};
}

void note_deed(Desk& desk, const Caller& caller, const Request& request, const PathValues& values,
               std::string_view event) {
  const About found = about(desk, caller, request, values);
  const Audited* audited = find_event(event);
  if (audited != nullptr && audited->is_of_others && found.owner_id == caller.person().id) return;
  records::AuditEntry entry{desk.now_ms, caller.person().id, std::string(event), found.subject,
                            "",          found.class_id};
  entry.address = request.remote;
  need(records::note_audit(desk.db, entry));
}

}  // namespace phren::app::server
