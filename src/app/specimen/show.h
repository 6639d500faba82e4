// What a teacher tells about a specimen on the projector, beside its mechanism: where and when it is heard,
// what it means, what it is taken for, what treats it; and the bodies it is compared on.
//
// Errors:  loading names file, line and field; a look-alike that is no specimen is one.
// Source:  data/show.toml, a source and a status with each entry.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "app/specimen/specimen.h"

namespace phren::app {

struct ShowWords {
  std::string id;  // of the specimen
  std::string where, means, look_alike, apart, source, status;
  std::string treatment;  // id; empty: none that changes it within an hour
  double treated_min = 0.0;
};

// The same person with another build.
struct ShowBuild {
  std::string id, label;
  double weight_factor = 1.0;
  std::optional<double> muscle;  // as the person is where not given
  bool is_compared = true;       // on the projector; else only offered where patients are built
};

class Show {
 public:
  static Result<Show> parse(std::string_view toml_text, std::string_view file_name,
                            const Specimens& specimens);
  static Result<Show> load(const std::filesystem::path& file, const Specimens& specimens);
  const std::vector<ShowWords>& words() const { return words_; }
  const std::vector<ShowBuild>& builds() const { return builds_; }

 private:
  std::vector<ShowWords> words_;
  std::vector<ShowBuild> builds_;
};

// The specimen's patient with that build.
patient::PatientSetup with_build(patient::PatientSetup setup, const ShowBuild& build);

}  // namespace phren::app
