// Specimens: short single sounds for teaching, each made by a body that has a reason to sound so,
// and each with its exact truth.
//
// Errors:  loading gives kMalformed or kInvalidArgument naming file, line, field and what would be
//          right; an unknown id gives kNotFound with the nearest one.
// Source:  data/acoustics_specimens.toml, a source with each entry.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acoustics/instruments.h"
#include "acoustics/layers.h"
#include "acoustics/types.h"
#include "base/random.h"
#include "base/result.h"
#include "bedside/heard.h"
#include "exam/sites.h"
#include "patient/conditions.h"
#include "patient/config.h"
#include "signal/audio.h"

namespace phren::app {

// As specimens are made where nobody says otherwise: on paper, on a page, on the projector.
inline constexpr Seed kSpecimenSeed{3};

struct Specimen {
  std::string id, name, mechanism, listen, source, status;
  std::optional<exam::Sound> sound;  // none: what matters is that little or nothing is heard
  std::optional<exam::Phase> phase;  // where most of it must lie
  std::vector<std::string>
      company;  // sounds that always come with it, plainer than it may be itself
  patient::PatientSetup setup;
  std::string site_id;
  patient::Manoeuvre manoeuvre = patient::Manoeuvre::kTidal;
  bool is_tapped = false;  // a finger taps there; no chestpiece
  double seconds = 8.0;
  acoustics::Realness realness = acoustics::Realness::kClean;  // of a chest that is listened to
};

class Specimens {
 public:
  static Result<Specimens> parse(std::string_view toml_text, std::string_view file_name);
  static Result<Specimens> load(const std::filesystem::path& file);
  const std::vector<Specimen>& all() const { return all_; }
  Result<Specimen> find(std::string_view id) const;

 private:
  std::vector<Specimen> all_;
};

struct SpecimenSound {
  signal::Audio audio;
  std::vector<acoustics::TruthEvent> truth;  // from the start of the sound
  bedside::HeardAt heard;                    // what can be heard in it; nothing of taps
};

// What bodies and places are made from. It must outlive the calls.
struct SpecimenData {
  const patient::Conditions& conditions;
  const patient::Treatments& treatments;
  const exam::SiteMap& sites;
  const acoustics::Instruments* instruments = nullptr;  // needed by a sound that is not clean
};
Result<SpecimenSound> make_specimen(const Specimen& specimen, Seed seed, double sample_rate_hz,
                                    const SpecimenData& data);
// `data` is the data folder: conditions, treatments and sites are read from it.
Result<SpecimenSound> make_specimen(const Specimen& specimen, Seed seed, double sample_rate_hz,
                                    const std::filesystem::path& data);

// The document of all specimens: DIR/sounds.md with pictures in DIR/sounds/.
Status write_sounds_document(const Specimens& specimens, const std::filesystem::path& data,
                             const std::filesystem::path& directory);

}  // namespace phren::app
