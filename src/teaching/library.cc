#include "teaching/library.h"

#include <algorithm>

#include "patient/person.h"
#include "teaching/drill/meaning.h"

namespace phren::teaching {
namespace {

namespace fs = std::filesystem;

Result<std::vector<Case>> load_cases(const fs::path& folder, const CaseVocabulary& vocabulary) {
  std::vector<Case> cases;
  for (ListedCase& one : TRY(list_cases(folder, vocabulary))) {
    Case prepared = TRY(std::move(one.loaded));
    prepared.patient.person =
        TRY(at(one.file.string(), patient::complete(prepared.patient.person)));
    cases.push_back(std::move(prepared));
  }
  return cases;
}

Result<std::vector<Checklist>> load_checklists(const fs::path& folder) {
  std::vector<fs::path> files;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    if (entry.path().extension() == ".toml") files.push_back(entry.path());
  }
  if (error) return fail(ErrorCode::kIo, folder.string() + ": " + error.message());
  std::sort(files.begin(), files.end());
  std::vector<Checklist> list;
  for (const auto& file : files) list.push_back(TRY(load_checklist(file)));
  return list;
}

Result<std::vector<Skill>> load_all_skills(const fs::path& data) {
  auto skills = TRY(load_skills(data / "drill_skills.toml"));
  const std::size_t num_sounds = skills.size();
  for (Skill& lobe : TRY(load_skills(data / "drill_lobes.toml"))) {
    for (std::size_t& other : lobe.confusable) other += num_sounds;
    skills.push_back(std::move(lobe));
  }
  return skills;
}

using MakeTask = Result<MeaningTask> (*)(const reasoning::Knowledge&, std::string_view, Seed);

// The first of its words that a fair question can be made of.
std::string askable(const Skill& skill, const reasoning::Knowledge& knowledge, MakeTask make) {
  for (const std::string& finding : skill.findings) {
    if (make(knowledge, finding, Seed{1})) return finding;
  }
  return {};
}

}  // namespace

Result<std::shared_ptr<const Library>> Library::load(const fs::path& data,
                                                     const fs::path& own_folder) {
  auto library = std::make_shared<Library>();
  library->conditions = TRY(patient::Conditions::load(data / "conditions"));
  library->treatments = TRY(patient::Treatments::load(data / "treatments"));
  library->sites = TRY(exam::SiteMap::load(data / "sites.toml"));
  library->instruments = TRY(acoustics::Instruments::load(data / "instruments"));
  library->knowledge = TRY(reasoning::Knowledge::load(data));
  library->drawing = TRY(DrawData::load(data, library->conditions));
  CaseVocabulary& words = library->case_words;
  for (const auto& one : library->conditions.all()) words.condition_ids.push_back(one.id);
  for (const auto& one : library->treatments.all()) words.treatment_ids.push_back(one.id);
  for (const auto& one : library->knowledge.findings.all()) words.finding_ids.push_back(one.id);
  library->cases = TRY(load_cases(data / "cases", words));
  library->own = std::make_shared<const OwnCases>(own_folder, words);
  library->checklists = TRY(load_checklists(data / "checklists"));
  library->statistics = TRY(StatisticCatalogue::load(data / "statistics.toml"));
  library->skills = TRY(load_all_skills(data));
  for (const Skill& skill : library->skills) {
    library->meanings.push_back({askable(skill, library->knowledge, weigh_task),
                                 askable(skill, library->knowledge, threat_task)});
  }
  return library;
}

const Case* Library::find(std::string_view id) const {
  const auto found = std::find_if(cases.begin(), cases.end(),
                                  [&](const Case& prepared) { return prepared.id == id; });
  return found == cases.end() ? nullptr : &*found;
}

Result<Case> Library::get(std::string_view id) const {
  if (const Case* prepared = find(id)) return *prepared;
  if (const auto parts = split_case_id(id); !parts.possible.empty()) {
    return with_possible(TRY(get(parts.base_id)), parts);
  }
  if (!is_draw_id(id)) {
    if (own->has(id)) return own->find(id);
    return fail(ErrorCode::kNotFound, "there is no case '" + std::string(id) + "'");
  }
  const auto draw = TRY(parse_draw_id(id, drawing, conditions));
  auto made = TRY(draw_case(draw, drawing, conditions));
  made.patient.person = TRY(patient::complete(made.patient.person));
  return made;
}

Result<Case> Library::open_case(std::string_view path_or_id) const {
  std::error_code ignored;
  if (fs::is_regular_file(fs::path(path_or_id), ignored)) {
    return load_case(fs::path(path_or_id), case_words);
  }
  if (find(path_or_id) != nullptr || is_draw_id(path_or_id)) return get(path_or_id);
  std::vector<std::string_view> ids;
  for (const Case& one : cases) ids.push_back(one.id);
  return fail(ErrorCode::kNotFound,
              "case '" + std::string(path_or_id) + "' is neither a file nor a prepared case." +
                  did_you_mean(path_or_id, ids) + " `phren cases` lists the prepared ones.");
}

const Skill* Library::skill(std::string_view id) const {
  const auto found =
      std::find_if(skills.begin(), skills.end(), [&](const Skill& one) { return one.id == id; });
  return found == skills.end() ? nullptr : &*found;
}

}  // namespace phren::teaching
