// The trained models from their folder; the browser, which has no folders, gets them as bytes.
#include <cstdlib>

#include "base/files.h"
#include "measurement/measure.h"

namespace phren::measurement {

std::filesystem::path model_directory() {
  if (const char* folder = std::getenv("PHREN_MODEL"); folder != nullptr && *folder != '\0')
    return folder;
  return data_directory().parent_path() / "model";
}

Result<Measurer> Measurer::load(const std::filesystem::path& folder) {
  const std::string events = TRY(read_file(folder / kEventsFile));
  const std::string poor = TRY(read_file(folder / kPoorFile));
  const std::string decision = TRY(read_file(folder / kDecisionFile));
  std::string network;
  if (const auto path = folder / kNetworkFile; std::filesystem::exists(path))
    network = TRY(read_file(path));
  return read({events, poor, decision, network, (folder / "").string()});
}

}  // namespace phren::measurement
