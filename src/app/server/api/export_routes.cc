// Results as files that other programs read.
#include <ctime>

#include "app/server/api/classroom.h"
#include "app/server/api/guard.h"
#include "app/server/api/results.h"
#include "exam/names.h"
#include "exam/record.h"
#include "records/drills.h"
#include "records/handover/fhir.h"
#include "records/handover/nemsis.h"
#include "records/handover/report_pdf.h"
#include "records/handover/xapi.h"
#include "teaching/marking/words.h"

namespace phren::app::server {
namespace {

using nlohmann::json;

std::string iso_text(std::int64_t ms) {
  const std::time_t seconds = static_cast<std::time_t>(ms / 1000);
  std::tm utc{};
  gmtime_r(&seconds, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

struct Exported {
  EncounterResult result;
  records::Person person;
  std::string station_title;
};

Response file(std::string content_type, std::string body, const std::string& name) {
  Response response;
  response.content_type = std::move(content_type);
  response.body = std::move(body);
  response.headers = {{"Cache-Control", "no-store"},
                      {"Content-Disposition", "attachment; filename=\"" + name + "\""}};
  return response;
}

// Of one station, or of the whole class.
std::vector<Exported> collect(const Office& office, Desk& desk, const Caller& caller,
                              const std::string& class_id, const std::string& station_id) {
  std::vector<records::Station> stations;
  if (station_id.empty()) {
    stations = need(records::Stations(desk.db).of_class(class_id));
  } else {
    stations.push_back(need_station(desk, caller, station_id));
    if (stations.front().class_id != class_id) {
      refuse(404, "not found", "this class has no such station", class_id);
    }
  }
  records::People people(desk.db);
  std::vector<Exported> list;
  for (const auto& station : stations) {
    for (auto& result : results_of_station(office, desk, station.id)) {
      auto person = people.find(result.info.person_id);
      if (person) list.push_back({std::move(result), std::move(*person), station.title});
    }
  }
  return list;
}

// "Simple pneumothorax, right": what the patient of a case had.
std::string patient_in_words(const Office& office, const std::string& case_id) {
  const auto prepared = office.library->get(case_id);
  if (!prepared) return "";
  std::string text;
  for (const auto& use : prepared->patient.conditions) {
    const auto condition = office.library->conditions.find(use.id);
    text += (text.empty() ? "" : "; ") + (condition ? condition->name : teaching::spaced(use.id));
    if (use.side != exam::Side::kMidline) text += ", " + std::string(exam::to_string(use.side));
  }
  return text.empty() ? "nothing: a healthy chest" : text;
}

Response as_csv(const std::vector<Exported>& all) {
  std::vector<records::MarkedLearner> marked;
  for (const auto& one : all) marked.push_back({one.person.login, one.result.joined.sheet});
  return file("text/csv; charset=utf-8", records::marks_csv(marked), "marks.csv");
}

Response as_xapi(const std::vector<Exported>& all, const Request& request) {
  json statements = json::array();
  for (const auto& one : all) {
    records::XapiContext context;
    context.home_page = (request.is_secure ? "https://" : "http://") + request.host;
    context.account_name = one.person.id;
    context.encounter_id = one.result.info.id;
    context.timestamp = iso_text(one.result.info.ended_ms);
    context.duration_s =
        static_cast<double>(one.result.info.ended_ms - one.result.info.created_ms) / 1000.0;
    const json part = json::parse(need(records::xapi_statements(one.result.joined.sheet, context)));
    statements.insert(statements.end(), part.begin(), part.end());
  }
  return file("application/json", statements.dump(1) + "\n", "statements.json");
}

// One Bundle a line, as FHIR's bulk data does.
Response as_fhir(const std::vector<Exported>& all) {
  std::string lines;
  for (const auto& one : all) {
    const auto examination =
        need(exam::examination_from_json(one.result.examination, one.result.info.id));
    const auto bundle = need(records::fhir_bundle(
        examination, {one.result.info.id, iso_text(one.result.info.ended_ms), false}));
    lines += json::parse(bundle).dump() + "\n";
  }
  return file("application/fhir+ndjson", std::move(lines), "examinations.ndjson");
}

Response as_pdf(const Office& office, const std::vector<Exported>& all) {
  std::vector<records::MarkReport> reports;
  for (const auto& one : all) {
    reports.push_back(
        {{one.station_title, one.person.name, one.result.info.id,
          iso_text(one.result.info.ended_ms).substr(0, 10), one.result.checklist.status,
          patient_in_words(office, one.result.info.case_id)},
         one.result.joined.sheet});
  }
  return file("application/pdf", need(records::mark_reports_pdf(reports)), "marks.pdf");
}

Response as_nemsis(const std::vector<Exported>& all) {
  records::CsvRows rows{{"learner", "encounter", "eExam.22", "location", "eExam.23", "finding",
                         "pertinent_negative", "lost"}};
  for (const auto& one : all) {
    const auto examination =
        need(exam::examination_from_json(one.result.examination, one.result.info.id));
    const auto codes = records::to_nemsis(examination);
    for (const auto& code : codes.findings) {
      rows.push_back({one.person.login, one.result.info.id, code.location_code, code.location_label,
                      code.finding_code, code.finding_label,
                      code.pertinent_negative ? "8801005" : "", ""});
    }
    for (const auto& loss : codes.losses) {
      rows.push_back({one.person.login, one.result.info.id, "", "", "", "", "", loss});
    }
  }
  return file("text/csv; charset=utf-8", records::to_csv(rows), "nemsis_lung_codes.csv");
}

Response as_answers(Desk& desk, const std::string& class_id) {
  records::CsvRows rows{{"learner", "mode", "skill", "answered", "slow", "at"}};
  for (const auto& member : need(records::Classes(desk.db).members(class_id))) {
    for (const auto& one : need(records::Drills(desk.db).answers(member.person.id))) {
      rows.push_back({member.person.login, one.mode, one.skill, one.answered,
                      one.slow ? "yes" : "no", iso_text(one.at_ms)});
    }
  }
  return file("text/csv; charset=utf-8", records::to_csv(rows), "drill_answers.csv");
}

Response export_class(const Office& office, Desk& desk, const Caller& caller,
                      const Request& request, const std::string& class_id) {
  need_staff(desk, caller, class_id);
  const std::string form = query_value(request, "form");
  records::note_audit(desk.db,
                      {desk.now_ms, caller.person().id, "exported", class_id, form, class_id});
  if (form == "answers") return as_answers(desk, class_id);
  const auto all = collect(office, desk, caller, class_id, query_value(request, "station"));
  if (form == "csv") return as_csv(all);
  if (form == "xapi") return as_xapi(all, request);
  if (form == "fhir") return as_fhir(all);
  if (form == "pdf") return as_pdf(office, all);
  if (form == "nemsis") return as_nemsis(all);
  refuse(422, "wrong value", "form must be one of csv, xapi, fhir, nemsis, pdf, answers", class_id);
}

}  // namespace

void add_export_routes(RouteTable& table, const OfficePtr& office) {
  table.add(for_callers(
      office, {"GET", "/api/v1/classes/{id}/export", Lane::kWork},
      [office](Desk& desk, const Caller& caller, const Request& request, const PathValues& values) {
        return export_class(*office, desk, caller, request, values.at("id"));
      }));
}

}  // namespace phren::app::server
