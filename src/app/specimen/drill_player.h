// The drill's sounds, made from the specimens: the same illness in another body, on the other side, at the place
// opposite, or of the same body in health.
//
// Errors:  those of making a specimen.
// Threads: any. The sounds made last are remembered, for each is asked for several times: when the
//          question is made, when it is played, and when the picture is shown.
#pragma once

#include <list>
#include <memory>
#include <mutex>

#include "app/specimen/specimen.h"
#include "teaching/drill/kind.h"

namespace phren::app {

class DrillPlayer : public teaching::DrillSounds {
 public:
  DrillPlayer(std::shared_ptr<const teaching::Library> library, Specimens specimens);

  std::vector<std::string> specimen_ids() const override;
  Result<teaching::SpecimenFacts> facts(std::string_view specimen_id) const override;
  Result<teaching::Listened> listen(const teaching::DrillSound& sound) const override;

  using SoundPtr = std::shared_ptr<const SpecimenSound>;
  Result<SoundPtr> play(const teaching::DrillSound& sound) const;
  const Specimens& specimens() const { return specimens_; }

 private:
  static constexpr std::size_t kRemembered = 48;  // about 40 MB
  Result<Specimen> variant_of(const teaching::DrillSound& sound) const;

  std::shared_ptr<const teaching::Library> library_;
  Specimens specimens_;
  mutable std::mutex mutex_;
  mutable std::list<std::pair<teaching::DrillSound, SoundPtr>> made_;  // the newest first
};

}  // namespace phren::app
