#include "app/server/api/office.h"

#include <algorithm>

#include "teaching/drill/meaning.h"

namespace phren::app::server {
namespace {

Result<std::vector<teaching::Checklist>> load_checklists(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> files;
  std::error_code error;
  for (const auto& entry : std::filesystem::directory_iterator(folder, error)) {
    if (entry.path().extension() == ".toml") files.push_back(entry.path());
  }
  if (error) return fail(ErrorCode::kIo, folder.string() + ": " + error.message());
  std::sort(files.begin(), files.end());
  std::vector<teaching::Checklist> list;
  for (const auto& file : files) {
    auto loaded = TRY(teaching::load_checklist(file));
    list.push_back(std::move(loaded));
  }
  return list;
}

using MakeTask = Result<teaching::MeaningTask> (*)(const reasoning::Knowledge&, std::string_view,
                                                   Seed);

// The first of its words that a fair question can be made of.
std::string askable(const teaching::Skill& skill, const reasoning::Knowledge& knowledge,
                    MakeTask make) {
  for (const std::string& finding : skill.findings) {
    if (make(knowledge, finding, Seed{1})) return finding;
  }
  return {};
}

}  // namespace

Result<std::shared_ptr<Office>> Office::open(const std::filesystem::path& data,
                                             const OfficeOptions& options) {
  auto office = std::make_shared<Office>();
  office->options = options;
  office->data = data;
  office->sites = TRY(exam::SiteMap::load(data / "sites.toml"));
  auto shelf = TRY(CaseShelf::load(data));
  office->shelves = {std::make_shared<const CaseShelf>(std::move(shelf)),
                     std::make_shared<CasesInUse>()};
  office->checklists = TRY(load_checklists(data / "checklists"));
  office->statistics = TRY(teaching::StatisticCatalogue::load(data / "statistics.toml"));
  office->skills = TRY(teaching::load_skills(data / "drill_skills.toml"));
  auto lobes = TRY(teaching::load_skills(data / "drill_lobes.toml"));
  const std::size_t num_sounds = office->skills.size();
  for (teaching::Skill& lobe : lobes) {
    for (std::size_t& other : lobe.confusable) other += num_sounds;
    office->skills.push_back(std::move(lobe));
  }
  auto knowledge = TRY(reasoning::Knowledge::load(data));
  office->knowledge = std::make_shared<const reasoning::Knowledge>(std::move(knowledge));
  for (const auto& skill : office->skills) {
    office->meanings.push_back({askable(skill, *office->knowledge, teaching::weigh_task),
                                askable(skill, *office->knowledge, teaching::threat_task)});
  }
  office->specimens = TRY(Specimens::load(data / "acoustics_specimens.toml"));
  office->local_csrf = records::new_token();
  return office;
}

}  // namespace phren::app::server
