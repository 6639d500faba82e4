#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "records/handover/csv.h"
#include "records/handover/fhir.h"
#include "records/handover/nemsis.h"
#include "records/handover/report_pdf.h"
#include "records/handover/xapi.h"
#include "temporary_store.h"

namespace phren::records {
namespace {

using Json = nlohmann::json;

TEST(Csv, CellsThatCouldRunAreDisarmedAndComeBack) {
  const CsvRows rows{{"=1+1", "+cmd", "-2", "-2+3", "@sum", "\tx", "plain", "a,b", "say \"hi\"",
                      "two\nlines", "'quoted", ""}};
  const std::string text = to_csv(rows);
  EXPECT_EQ(text,
            "'=1+1,'+cmd,-2,'-2+3,'@sum,'\tx,plain,\"a,b\",\"say \"\"hi\"\"\",\"two\nlines\","
            "''quoted,\r\n");
  EXPECT_EQ(parse_csv(text).value(), rows);
}

// A spreadsheet set to another separator cuts our cells where it sees one, quotes or not.
TEST(Csv, CellsCutAtAnotherSeparatorCannotRunEitherAndComeBack) {
  const CsvRows rows{
      {"x;=1+cmd", "x; =1", "x;\"=1\"", "a;'b", "a;b", "x\t@sum", "x\n+1", "=1;-2", ";"}};
  const std::string text = to_csv(rows);
  EXPECT_EQ(text, "x;'=1+cmd,x;' =1,\"x;'\"\"=1\"\"\",a;''b,a;b,x\t'@sum,\"x\n'+1\",'=1;'-2,;\r\n");
  EXPECT_EQ(parse_csv(text).value(), rows);
}

// Windows-1252 writes e acute as one byte, E9 (from memory).
TEST(Csv, ARosterThatIsNotUtf8IsRefusedByRow) {
  const auto bad = parse_roster("login,name\na,Anna\nr,Ren\xE9\n");
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::kInvalidArgument);
  EXPECT_EQ(bad.error().message,
            "row 3: has letters that are not UTF-8; save the table as UTF-8 (CSV UTF-8)");
  EXPECT_TRUE(parse_roster("login,name\nr,Ren\xC3\xA9\n"));
}

TEST(Csv, RosterNamesRowAndColumnOfWhatIsWrong) {
  const auto good =
      parse_roster("\xEF\xBB\xBFname,login,extra_time_percent\nMaren,m1,25\nTor,t1,\n");
  ASSERT_TRUE(good) << good.error().message;
  EXPECT_DOUBLE_EQ((*good)[0].extra_time_share, 0.25);
  EXPECT_EQ((*good)[1].login, "t1");
  EXPECT_EQ(parse_roster("login,name,extra_time_percent\na,A,900\n").error().message,
            "row 2: extra_time_percent is '900'; it must be between 0 and 300");
  EXPECT_EQ(parse_roster("login,name\na,A\na,B\n").error().message,
            "row 3: login 'a' stands twice");
  EXPECT_FALSE(parse_roster("login,name\n\"open,A\n"));
  // Its size is looked at before anything in it.
  std::string people;
  for (int i = 0; i < 2000; ++i) people += "l" + std::to_string(i) + ",A\n";
  EXPECT_EQ(parse_roster("login,name\nr,Ren\xE9\n" + people).error().message,
            "a roster has at most 2000 rows; make two classes");
  EXPECT_EQ(parse_roster("login,name\n" + people).value().size(), 2000u);
}

teaching::MarkSheet sheet() {
  teaching::MarkSheet s;
  s.checklist_id = "asthma_station";
  s.items = {{"bases", "Listens to both bases", teaching::Verdict::kMet, 2, 2, true, "=cmd", {}},
             {"names", "Names sounds", teaching::Verdict::kNotJudged, 0, 0, false, "", {}}};
  s.points = s.max_points = 2;
  s.passed = true;
  return s;
}

TEST(Csv, MarksCarryReasonsThatCannotRun) {
  const auto rows = parse_csv(marks_csv({{"maren", sheet()}})).value();
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_NE(marks_csv({{"maren", sheet()}}).find("'=cmd"), std::string::npos);
}

TEST(Xapi, StatementsHaveWhatTheSpecificationAsksFor) {
  const XapiContext context{"https://school.example", "stu-017", "e1", "2026-11-25T08:00:00Z",
                            120.5};
  const auto text = xapi_statements(sheet(), context);
  ASSERT_TRUE(text) << text.error().message;
  EXPECT_EQ(*text, xapi_statements(sheet(), context).value());
  const Json all = Json::parse(*text);
  ASSERT_EQ(all.size(), 2u);  // the item that was not judged has no score to tell
  for (const Json& s : all) {
    EXPECT_EQ(s["id"].get<std::string>().size(), 36u);
    EXPECT_EQ(s["id"].get<std::string>()[14], '8');
    EXPECT_EQ(s["actor"]["account"]["name"], "stu-017");
    const double scaled = s["result"]["score"]["scaled"];
    EXPECT_GE(scaled, -1.0);
    EXPECT_LE(scaled, 1.0);
    EXPECT_LT(s["result"]["score"]["min"], s["result"]["score"]["max"]);
  }
  EXPECT_EQ(all[0]["result"]["duration"], "PT120.50S");
  EXPECT_FALSE(xapi_statements(
      sheet(), {"https://school.example", "a@b.example", "e1", "2026-11-25T08:00:00Z", 1.0}));
}

// Text of a PDF by an independent reader; empty when the reader is not installed.
std::string text_of(const std::filesystem::path& pdf) {
  std::string text;
  FILE* pipe = popen(("pdftotext -layout " + pdf.string() + " - 2>/dev/null").c_str(), "r");
  if (pipe == nullptr) return text;
  char buffer[512];
  while (std::fgets(buffer, sizeof buffer, pipe) != nullptr) text += buffer;
  pclose(pipe);
  return text;
}

TEST(Report, SaysVerdictReasonsAndCautionOnAsManyPagesAsItNeeds) {
  const auto folder = temporary_folder();
  auto marks = sheet();
  marks.passed = false;
  marks.critical_missed = {"bases"};
  for (int i = 0; i < 40; ++i) {
    marks.items.push_back({"i" + std::to_string(i),
                           "Item number " + std::to_string(i),
                           teaching::Verdict::kMissed,
                           0,
                           1,
                           false,
                           "Not listened long enough at P9 (2.0 s) and P10 (2.0 s); 4.0 s at each "
                           "is asked for, and this sentence goes on so that it must be wrapped.",
                           {}});
  }
  const auto file = folder / "report.pdf";
  const auto written =
      write_mark_report(file,
                        {"Tight chest", "maren", "3f2a9c1e77b04d55", "25 November 2026",
                         "ENGINEERING: our own", "asthma, severe"},
                        marks);
  ASSERT_TRUE(written) << written.error().message;
  EXPECT_GT(std::filesystem::file_size(file), 2000u);
  EXPECT_FALSE(
      write_mark_report(folder / "no" / "where.pdf", {"t", "l", "e", "d", "s", ""}, marks));
  const std::string text = text_of(file);
  std::filesystem::remove_all(folder);
  ASSERT_FALSE(text.empty()) << "pdftotext found no text, or is not installed (poppler-utils)";
  for (const char* words : {"Tight chest", "maren", "Not passed", "Critical items missed:",
                            "Item number 39", "Training aid", "not judged", "wrapped."}) {
    EXPECT_NE(text.find(words), std::string::npos) << words;
  }
  EXPECT_NE(text.find("The patient had: asthma, severe"), std::string::npos);
  // No word of the machine: neither the encounter's id nor a status word nor the checklist's file name.
  for (const char* words : {"3f2a9c1e77b04d55", "ENGINEERING", "asthma_station"}) {
    EXPECT_EQ(text.find(words), std::string::npos) << words;
  }
  EXPECT_GE(std::count(text.begin(), text.end(), '\f'), 3);  // pages
}

exam::Examination examination() {
  exam::Examination e;
  e.case_id = "asthma";
  e.sex = "female";
  e.vital_signs.spo2_percent = 93;
  e.vital_signs.respiratory_rate_per_min = 28;
  exam::Finding f;
  f.id = "wheeze";
  f.presence = exam::Presence::kPresent;
  f.phase = exam::Phase::kExpiration;
  e.findings.push_back(f);
  f.id = "fine_crackles";
  f.presence = exam::Presence::kAbsent;
  f.side = exam::Side::kLeft;
  f.site_ids = {"P10"};
  f.phase.reset();
  e.findings.push_back(f);
  f.id = "pleural_friction_rub";
  f.presence = exam::Presence::kPresent;
  e.findings.push_back(f);
  return e;
}

TEST(Fhir, EveryResourceIsMarkedAsTestDataAndEveryReferenceResolves) {
  const auto text = fhir_bundle(examination(), {"e1", "2026-11-25T08:00:00Z"});
  ASSERT_TRUE(text) << text.error().message;
  const Json bundle = Json::parse(*text);
  EXPECT_EQ(bundle["resourceType"], "Bundle");
  EXPECT_EQ(bundle["type"], "collection");
  std::vector<std::string> urls;
  for (const Json& entry : bundle["entry"]) urls.push_back(entry["fullUrl"]);
  EXPECT_EQ(urls.size(), 7u);  // patient, two vital signs, three findings, the chest
  const auto resolves = [&](const Json& reference) {
    return std::count(urls.begin(), urls.end(), reference["reference"].get<std::string>()) == 1;
  };
  for (const Json& entry : bundle["entry"]) {
    const Json& r = entry["resource"];
    EXPECT_EQ(r["meta"]["security"][0]["code"], "HTEST");
    if (r["resourceType"] != "Observation") continue;
    EXPECT_EQ(r["status"], "final");
    EXPECT_TRUE(r.contains("code"));
    EXPECT_TRUE(resolves(r["subject"]));
    for (const Json& member : r.value("hasMember", Json::array())) EXPECT_TRUE(resolves(member));
  }
  EXPECT_EQ(text->find("snomed"), std::string::npos);
  EXPECT_NE(fhir_bundle(examination(), {"e1", "2026-11-25T08:00:00Z", true})->find("56018004"),
            std::string::npos);
  EXPECT_FALSE(fhir_bundle(examination(), {"../e1", "2026-11-25T08:00:00Z"}));
}

TEST(Nemsis, SaysWhatIsLostAndNeverPicksANearCode) {
  const NemsisExport out = to_nemsis(examination());
  ASSERT_EQ(out.findings.size(), 2u);
  EXPECT_EQ(out.findings[0].finding_code, "3523029");
  EXPECT_EQ(out.findings[0].location_code, "3522005");
  EXPECT_EQ(out.findings[1].finding_code, "3523021");
  EXPECT_EQ(out.findings[1].location_code, "3522001");
  EXPECT_TRUE(out.findings[1].pertinent_negative);
  EXPECT_EQ(out.losses, (std::vector<std::string>{
                            "fine_crackles became Rales; lost: that the crackles are fine.",
                            "fine_crackles: the sites are lost, only the side is kept.",
                            "pleural_friction_rub has no NEMSIS lung code and is left out."}));
}

// Every code and label we can write stands in the dictionary's table.
TEST(Nemsis, CodesAndLabelsAreTheDictionarys) {
  std::ifstream file("tests/published/nemsis_v351_lung_chest_codes.csv");
  ASSERT_TRUE(file.good());
  const std::string table((std::istreambuf_iterator<char>(file)), {});
  exam::Examination e;
  for (const char* id :
       {"absent_breath_sounds", "silent_chest", "diminished_breath_sounds", "diminished_one_sided",
        "normal_breath_sounds", "accessory_muscle_use", "fine_crackles", "coarse_crackles",
        "crackles", "rhonchi", "stridor", "wheeze"}) {
    for (const auto side : {exam::Side::kRight, exam::Side::kLeft, exam::Side::kMidline}) {
      exam::Finding f;
      f.id = id;
      f.presence = exam::Presence::kPresent;
      f.side = side;
      e.findings.push_back(f);
    }
  }
  for (const auto phase : {exam::Phase::kInspiration, exam::Phase::kExpiration}) {
    exam::Finding f;
    f.id = "wheeze";
    f.presence = exam::Presence::kPresent;
    f.phase = phase;
    e.findings.push_back(f);
  }
  const NemsisExport out = to_nemsis(e);
  ASSERT_EQ(out.findings.size(), e.findings.size());
  for (const NemsisLung& row : out.findings) {
    EXPECT_NE(table.find("," + row.finding_code + "," + row.finding_label), std::string::npos)
        << row.finding_code;
    EXPECT_NE(table.find("," + row.location_code + "," + row.location_label), std::string::npos);
  }
}

}  // namespace
}  // namespace phren::records
